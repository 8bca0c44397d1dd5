"""No failure is hidden by honest-looking edits, and no verdict is lost by honest logging.

A short form of ``tests/benchmarks/hidden_failures.py``: small random logs with one failure and one
edit or several, and small random logs without a failure.
"""

import hidden
import hidden_edits
import numpy as np
import pytest
from judged import Log, lines

from candlelab.claim.claims import claim_label
from candlelab.compare.ask import compare_batches
from candlelab.judge.decision import all_lines
from candlelab.judge.margins import margins
from candlelab.judge.together import side_by_side, together
from candlelab.judge.words import RULED_OUT
from candlelab.size.sizing import size_wicks

NAMES = ("one", "two")

SEED, EACH = 20261126, 2
ALONE = [kind for kind in hidden_edits.EDITS if kind not in hidden_edits.BOTH]


def _hidden(seed, i, kinds, folder):
    """What a page says of a wick whose failure the files hold and no page names; else nothing."""
    log, made = hidden_edits.edited(seed, i, kinds)
    found = hidden.outcome(log, folder)
    assert found.word != hidden.BROKEN, (made, found.said)
    silent = found.word == hidden.SILENT and hidden.knowable(log)
    return f"log {i}, {' + '.join(made)}: {found.said}" if silent else ""


@pytest.mark.slow
@pytest.mark.parametrize("kind", list(hidden_edits.EDITS))
def test_no_edit_hides_a_failure(kind, tmp_path):
    said = [_hidden(SEED, i, (kind,), tmp_path) for i in range(EACH)]
    assert not any(said), said


@pytest.mark.slow
@pytest.mark.parametrize("part", range(2))
def test_several_edits_together_hide_no_failure(part, tmp_path):
    said = []
    for i in range(8):
        kinds = hidden_edits.drawn(np.random.default_rng([SEED, part, i]), ALONE)
        said.append(_hidden(SEED, 1000 * (part + 1) + i, kinds, tmp_path))
    assert not any(said), said


# Logs of the long search in which a failure was silent once, or an error was not caught.
ONCE = (210, 220, 221, 1924, 1951, 2706, 2787, 2990, 3115, 4089)


@pytest.mark.slow
@pytest.mark.parametrize("i", ONCE)
def test_what_was_silent_once_is_not_silent_again(i, tmp_path):
    kinds = hidden_edits.drawn(np.random.default_rng([SEED, i, 0]))
    assert not _hidden(SEED, i, kinds, tmp_path)


@pytest.mark.slow
def test_a_gap_and_a_second_batch_hide_no_failure(tmp_path):
    both = sorted(hidden_edits.BOTH)
    said = [
        _hidden(SEED, 5000 + i, ("blank the failing cell", both[i % len(both)]), tmp_path)
        for i in range(4)
    ]
    assert not any(said), said


@pytest.mark.slow
@pytest.mark.parametrize("part", range(5))
def test_no_verdict_is_lost_in_a_log_without_a_failure(part, tmp_path):
    for i in range(8):
        rng = np.random.default_rng([SEED, part, i])
        log = hidden.random_log(rng, failing=False, many=bool(rng.integers(2)))
        assert not hidden.lost(hidden_edits.harmless(log, rng), tmp_path), f"part {part}, log {i}"


@pytest.mark.slow
def test_the_search_sees_a_failure_that_nobody_names(tmp_path):
    """A reading that failed is overwritten with a good one: there is nothing left to find."""
    readings = (*hidden.READINGS, *hidden.FLAGS)
    logs = (hidden.random_log(np.random.default_rng([SEED, i]), many=True) for i in range(50))
    log = next(
        one
        for one in logs
        if one.failure.column in readings
        and one.of("burns", one.failure.candle)[-1]["ended_by"] == "self"
    )
    assert hidden.outcome(log, tmp_path).word == hidden.NAMED
    other = log.of("checks", "B1")[0]
    for row in log.of("checks", log.failure.candle):
        row |= {name: other[name] for name in readings} if row.get("fails") else {}
    found = hidden.outcome(log, tmp_path)
    assert (found.word, hidden.knowable(log)) == (hidden.SILENT, True), found.said


def _holes(log, *names):
    """Candles that are not fully checked."""
    for name in names:
        log.missed(name, 2, 120)
    return log


@pytest.mark.slow
def test_wicks_that_are_level_are_told_with_their_gaps():
    log = Log(A="flat braid 1", B="flat braid 1", C="flat braid 2", D="flat braid 2")
    told = lines(_holes(log, "B").worked())
    assert told[0].startswith("Pick flat braid 2")
    told = lines(_holes(log, "D").worked())
    assert "level" in told[0]
    assert any(line.startswith("flat braid 1: ") and "B is not fully" in line for line in told)
    assert any(line.startswith("flat braid 2: ") and "D is not fully" in line for line in told)


def test_a_wick_that_is_only_also_safe_is_told_with_its_gaps():
    wicks = {n: f"flat braid {n}" for n in "123"}
    log = Log(**{f"{letter}{n}": wick for n, wick in wicks.items() for letter in "ABC"})
    told = lines(_holes(log, "A2", "A3", "B3").worked())
    assert any(line.startswith("Also safe so far: flat braid 3. ") for line in told)
    assert any("B3 is not fully checked" in line for line in told)


def another_month(log):
    """The log of a later batch with candles of the same names."""
    for row in log.burns:
        row |= {name: row[name].replace("-06-", "-07-") for name in ("lit_at", "out_at")}
        row["used"] += 0.3
    return log


@pytest.mark.slow
@pytest.mark.parametrize("failed", ["one", "two", "both", "none"])
def test_of_batches_with_the_same_names_those_that_failed_are_never_said_not_to_have(failed):
    logs = {name: Log(A="flat braid 2", B="flat braid 2", C="flat braid 2") for name in NAMES}
    another_month(logs["two"])
    for name, log in logs.items():
        log.aside("B")
        if failed in (name, "both"):
            log.check("B", 2, 120, flame_height_mm=90)
    told = all_lines(together({name: log.worked() for name, log in logs.items()}).decisions)
    aside = " ".join(line for line in told if line.startswith("You set aside"))
    for name in NAMES:
        assert (f"B in “{name}” (draft)" in aside) == (failed not in (name, "both")), told
        assert any(f"B in “{name}”" in line for line in told)
    assert bool(aside) == (failed != "both")


def test_a_candle_that_two_logs_have_has_failed_when_it_did_in_one():
    logs = {name: Log(A="flat braid 2", B="flat braid 2", C="flat braid 2") for name in NAMES}
    logs["one"].check("B", 2, 120, flame_height_mm=90)
    one, two = side_by_side([log.worked() for log in logs.values()])
    told = all_lines(together({"one": one, "two": two}).decisions)
    assert any("flame was too tall" in line for line in told)
    assert not any("set aside B" in line or "B in two (" in line for line in told), told


@pytest.mark.slow
@pytest.mark.parametrize("order", [1, -1])
def test_a_limit_that_one_of_two_batches_has_rules_out_in_both_and_in_the_picture(order):
    """A deep pool fails where there is a limit of 13 mm; another batch has one of 20 mm or none,
    and a deeper pool inside it."""
    strict = Log(A="flat braid 2", B="flat braid 2", C="flat braid 1", D="flat braid 1")
    strict.check("A", 2, 120, pool_depth_mm=14)
    for other in ("pool_depth_mm = 20\n", ""):
        loose = another_month(Log(E="flat braid 2", F="flat braid 1"))
        loose.toml = loose.toml.replace("pool_depth_mm = 13\n", other)
        loose.check("E", 2, 120, pool_depth_mm=15)
        worked = together([strict.worked(), loose.worked()][::order])
        (decision,) = worked.decisions
        assert decision.pick == "flat braid 1"
        assert "melt pool too deep" in decision.others
        shown = margins(worked).set_index(["candidate", "limit_of"])["share_pct"]
        assert shown["flat braid 2", "melt pool"] == pytest.approx(100 * 14 / 13)


@pytest.mark.slow
@pytest.mark.slow
@pytest.mark.parametrize("order", [1, -1])
def test_a_reading_over_the_limit_of_another_batch_fails_on_every_page(order, tmp_path):
    """E has a pool of 15 mm where the limit is 20 mm or none; a batch beside it says 13 mm."""
    strict = Log(A="flat braid 2", B="flat braid 2", C="flat braid 1", D="flat braid 1")
    for n, other in enumerate(("pool_depth_mm = 20\n", "")):
        loose = another_month(Log(E="flat braid 2", F="flat braid 1"))
        loose.toml = loose.toml.replace("pool_depth_mm = 13\n", other)
        loose.check("E", 2, 120, pool_depth_mm=15)
        both = [strict.worked(tmp_path / f"strict{n}"), loose.worked(tmp_path / f"loose{n}")][
            ::order
        ]
        asked, sizing = compare_batches(both, by="wick"), size_wicks(both)
        claim = claim_label(both, "flat braid 2")
        assert {p.judged.fates.set_index("candidate").at["flat braid 2", "fate"]
                for p in (asked.pooled, sizing.pooled, claim.pooled)} == {RULED_OUT}  # fmt: skip
        assert claim.outcome == "not yet"
        for told in (asked.answer, sizing.answer, claim.answer):
            assert any("All are judged by the stricter, 13 mm" in line for line in told), told


@pytest.mark.slow
def test_batches_with_other_targets_go_by_those_of_the_first_on_every_page(tmp_path):
    """4.85 g/h is on target in the first batch and off in the second, or the other way round."""
    wicks = {"A": "flat braid 1", "B": "flat braid 1", "C": "flat braid 1"}
    logs = [Log(**wicks), another_month(Log(**wicks))]
    for log, ends in zip(logs, ("low = 4, high = 6", "low = 6, high = 9"), strict=True):
        log.toml += f"[targets]\nburn_rate_g_per_h = {{{ends}}}\n"
    both = [log.worked(tmp_path / str(n)) for n, log in enumerate(logs)]
    for order, hit in ((1, 6), (-1, 0)):
        asked, sizing = compare_batches(both[::order], by="wick"), size_wicks(both[::order])
        for page in (asked, sizing):
            (row,) = page.pooled.judged.targets.groupby("target")[["n_inside", "n_candles"]].sum(
            ).itertuples(index=False)  # fmt: skip
            assert tuple(row) == (hit, 6)
            assert any("different targets: those of the first are" in one for one in page.answer)


@pytest.mark.slow
def test_a_vessel_that_is_not_as_wide_in_all_batches_is_told_on_every_page(tmp_path):
    wicks = dict.fromkeys("ABC", "flat braid 1")
    both = [Log(**wicks), another_month(Log(**wicks))]
    both[1].toml = both[1].toml.replace("inner_diameter_mm = 70", "inner_diameter_mm = 80")
    both = [log.worked(tmp_path / name) for log, name in zip(both, NAMES, strict=True)]
    told = (
        "The jar has an inner diameter of 70 mm in one and 80 mm in two. Its candles are taken "
        "together: give it two names if these are two vessels."
    )
    assert told in compare_batches(both, by="wick").answer
    assert told in size_wicks(both).answer
    assert told in claim_label(both, "flat braid 1").answer


@pytest.mark.slow
def test_a_wick_that_was_only_screened_is_to_be_confirmed_beside_a_confirmation_of_another():
    screened = Log(**dict.fromkeys("ABC", "flat braid 1"), **dict.fromkeys("DEF", "flat braid 2"))
    again = another_month(Log(G="flat braid 2").check("G", 1, 60, tipped="yes"))
    again.settings('stage = "confirmation"\n')
    both = [screened.worked(), again.worked()]
    worked = together(side_by_side(both))
    told = lines(worked)
    assert any(line.startswith("Next: Confirm flat braid 1 on ") for line in told), told
    assert any(line.startswith("Next: To confirm, burn them") for line in told)
    assert not any("with its screening" in line for line in told)
    claim = claim_label(both, "flat braid 1")
    assert "confirm flat braid 1 on " in " ".join(claim.answer).lower()


@pytest.mark.slow
def test_a_claim_knows_what_failed_in_a_batch_without_its_wick(tmp_path):
    """The next size up failed in a folder of its own."""
    wicks = dict.fromkeys("ABC", "flat braid 1") | dict.fromkeys("DEF", "flat braid 2")
    log = Log(**wicks)
    for name in "ABC":
        log.every_check(name, pool_diameter_mm=[30, 40, 50, 55][0])
    other = another_month(Log(G="flat braid 2").check("G", 2, 60, pool_depth_mm=15))
    both = [log.worked(tmp_path / "one"), other.worked(tmp_path / "two")]
    claim = claim_label(both, "flat braid 1")
    said = " ".join(claim.answer)
    assert "It burns on the small side" in said
    assert "flat braid 2, one size up, is safe so far" not in said
    judged = together(side_by_side(both)).fates.set_index("candidate")
    assert claim.evidence.fate["next_step"] == judged.at["flat braid 1", "next_step"]


@pytest.mark.slow
def test_every_mean_that_fails_in_a_batch_rules_out_in_several():
    """Both wicks of one batch smoke too long; each has a mean of its own."""
    smoky, calm = (Log(A="flat braid 1", B="flat braid 2") for _ in range(2))
    for name in "AB":
        for n in range(1, 6):
            smoky.burn(name, n, aftersmoke_s=40)
    worked = together({"one": smoky.worked(), "two": another_month(calm).worked()})
    assert set(worked.fates["fate"]) == {RULED_OUT}
    assert worked.fates["because"].tolist() == [
        f"Its wicks smoked too long after the flame was out (40 s on average, the EN 15493 limit "
        f"is 30 s): {name}, in one."
        for name in "AB"
    ]


@pytest.mark.slow
def test_means_that_fail_in_two_batches_are_both_told():
    logs = {"one": Log(A="flat braid 1"), "two": another_month(Log(B="flat braid 1"))}
    for name, log in zip("AB", logs.values(), strict=True):
        for n in range(1, 6):
            log.burn(name, n, aftersmoke_s=40 if name == "A" else 50)
    because = together({k: log.worked() for k, log in logs.items()}).fates.at[0, "because"]
    assert "(40 s" in because
    assert "(50 s" in because


def test_candles_that_were_set_aside_are_told_and_those_that_failed_with_their_failure():
    log = Log(A="flat braid 2", B="flat braid 2", C="flat braid 1")
    told = lines(log.aside("B", reason="wick off center").worked())
    assert (
        "You set aside B (wick off center). It did not fail and counts neither as a pass nor a "
        "failure."
    ) in told
    told = lines(log.check("B", 3, 120, vessel_damaged="yes").worked())
    assert not any(line.startswith("You set aside") for line in told)
    assert told[0].startswith("Stop burning B")

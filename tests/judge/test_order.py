"""Properties of judging over random logs: what evidence may do, and what no edit may hide."""

import copy

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from judged import Log

WICKS = ("flat braid 1", "flat braid 2")
TARGETS = "[targets]\nwall_max_c = {high = 44}\nlife_h = {low = 10}\nflame_max_mm = {high = 40}\n"
# A reading over a limit: 75 mm and 10 s by EN 15493, grade 3 and broken vessels by ASTM F2417, all
# read second-hand; the rest are the studio's own, common practice, no source.
FAILING = (
    {"flame_height_mm": 76}, {"soot": 3}, {"secondary_ignition_s": 11}, {"vessel_damaged": "yes"},
    {"tipped": "yes"}, {"reignited": "yes"}, {"surface_damaged": "yes"}, {"wall_c": 66},
    {"flame_on_vessel": "yes"}, {"pool_depth_mm": 13.5},
)  # fmt: skip
SEEN = sorted({name for seen in FAILING for name in seen})
MINUTES = (60, 120, 180, 240)
few = settings(max_examples=5, suppress_health_check=[HealthCheck.too_slow])
# What may have happened to a candle, drawn by name.
BURNS = st.integers(1, 5)
CHECKS = st.tuples(BURNS, st.sampled_from(MINUTES))


@st.composite
def events(draw, log, name):
    """Let something happen to a candle, or nothing."""
    kind = draw(st.sampled_from(
        ("nothing", "nothing", "missed", "blank", "failed", "early", "running", "stopped",
         "aside", "burn aside", "changed", "smoky")
    ))  # fmt: skip
    burn, minute = draw(CHECKS)
    if kind == "missed":
        log.missed(name, burn, minute)
    elif kind == "blank":
        log.check(name, burn, minute, **{draw(st.sampled_from(SEEN)): None})
    elif kind == "failed":
        log.check(name, burn, minute, **draw(st.sampled_from(FAILING)))
    elif kind in ("early", "running", "stopped"):
        ended = {"early": "self", "running": "timer", "stopped": "stopped"}[kind]
        log.until(name, min(burn, 4), ended_by=ended)
    elif kind == "aside":
        log.aside(name)
    elif kind == "burn aside":
        log.aside(name, burn)
    elif kind == "changed":
        log.wick(name, max(burn, 2), draw(st.sampled_from(WICKS)))
    elif kind == "smoky":
        for n in range(1, 5):
            log.burn(name, n, aftersmoke_s=draw(st.sampled_from((20, 50))))
    return kind


@st.composite
def logs(draw):
    """Three to five candles of two wicks, to each of which something may have happened."""
    log = Log().settings(TARGETS)
    for name in "ABCDE"[: draw(st.integers(3, 5))]:
        log.add(name, draw(st.sampled_from(WICKS)))
        log.every_check(name, wall_c=draw(st.sampled_from((43, 46))))
        draw(events(log, name))
    return log


def rank(log, wick):
    """Rank of a wick; one behind all others where it was not burned."""
    ranking = log.worked().ranking.set_index("candidate")["rank"]
    return ranking.get(wick, len(ranking) + 1)


@pytest.mark.slow
@few
@given(logs(), st.sampled_from(WICKS), st.sampled_from((43, 60)), st.integers(0, 30))
def test_a_fully_checked_passing_candle_never_lowers_its_wick(log, wick, wall_c, smoke):
    before = rank(log, wick)
    log.add("Z", wick).every_check("Z", wall_c=wall_c)
    for burn in range(1, 5):
        log.burn("Z", burn, aftersmoke_s=smoke)
    assert rank(log, wick) <= before


@pytest.mark.slow
@few
@given(logs(), st.sampled_from(WICKS), st.sampled_from(FAILING), CHECKS, st.booleans())
def test_a_failing_candle_never_raises_its_wick(log, wick, seen, where, aside):
    before = rank(log, wick)
    log.add("Z", wick).every_check("Z", wall_c=43).check("Z", *where, **seen)
    if aside:
        log.aside("Z")
    after = log.worked().ranking.set_index("candidate")
    assert after.at[wick, "fate"] == "ruled out"
    assert after.at[wick, "rank"] >= before or before > len(after)


@pytest.mark.slow
@few
@given(logs(), st.sampled_from("ABC"), st.sampled_from(FAILING), CHECKS, st.sampled_from((0, 1, 5)))
def test_setting_aside_never_undoes_a_failure(log, name, seen, where, how):
    log.check(name, *where, **seen)
    before = log.worked()
    failed = set(before.failures["candidate"])
    for burn in {0: [None], 1: [where[0]], 5: range(1, 6)}[how]:
        if any(row["candle"] == name and burn in (None, row["burn"]) for row in log.burns):
            log.aside(name, burn)
    after = log.worked()
    fates = after.fates.set_index("candidate")["fate"]
    assert failed <= set(fates.index[fates == "ruled out"])
    columns = ["candle", "burn", "criterion", "value"]
    was, now = (
        {tuple(row) for row in w.failures.loc[w.failures["candle"] != "", columns].astype(str)
         .to_numpy()}
        for w in (before, after)
    )  # fmt: skip
    assert was <= now


@pytest.mark.slow
@few
@given(logs(), st.sampled_from("ABC"), st.sampled_from(FAILING), CHECKS, st.booleans())
def test_what_was_dropped_or_blanked_leaves_a_gap_with_a_name(log, name, seen, where, blank):
    """The check that failed is taken out, or its cell is emptied. A burn may end unchecked in its
    last hour: there a dropped check was not due, and nothing in the log can show it."""
    burn, minute = where
    log = copy.deepcopy(log).check(name, burn, minute, **seen)
    before = log.worked()
    hit = before.failures[before.failures["candle"] == name]
    if blank:
        log.check(name, burn, minute, **dict.fromkeys(seen))
    elif minute < 240:
        log.missed(name, burn, minute)
    after = log.worked()
    fates = after.fates.set_index("candidate")["fate"]
    aside = after.burns.groupby("candle")["excluded"].all()
    for candidate in set(hit["candidate"]):
        fresh = set(hit.loc[hit["candidate"] == candidate, "run"]) == {1}
        if fates[candidate] != "ruled out" and fresh and not aside[name]:
            assert name in set(after.gaps["candle"])
        if fates[candidate] == "safe so far":
            told = after.fates.set_index("candidate").at[candidate, "because"]
            assert not fresh or aside[name] or name in told


@pytest.mark.slow
@few
@given(logs(), st.sampled_from(WICKS), st.integers(1, 59), st.sampled_from(("end", 2, 3, 4)))
def test_a_burn_too_short_for_a_check_never_costs_a_verdict(log, wick, minutes, place):
    log.add("Z", wick)
    before = log.worked()
    if place == "end":
        log.short("Z", minutes)
    else:
        out_at = f"2026-06-{place:02d} 09:{minutes:02d}"
        log.missed("Z", place).burn("Z", place, out_at=out_at, used=0.5).burn("Z", 5, used=38)
    after = log.worked()
    columns = ["candidate", "fate", "n_passed", "n_failed", "n_gaps"]
    assert after.fates[columns].equals(before.fates[columns])
    assert after.gaps["candle"].tolist() == before.gaps["candle"].tolist()


@pytest.mark.slow
@few
@given(logs())
def test_nothing_is_open_or_ruled_out_without_a_word(log):
    worked = log.worked()
    counts = worked.verdicts.candidates.set_index("candidate")
    told = worked.gaps.groupby("candidate")["candle"].nunique()
    assert told.reindex(counts.index, fill_value=0).to_dict() == counts["n_open"].to_dict()
    kinds = ["standard_verdict", "studio_verdict"]
    failed = counts.index[(counts[kinds] == "fail").any(axis=1)]
    assert set(worked.failures["candidate"]) == set(failed)
    fates = worked.fates.set_index("candidate")
    assert set(fates.index[fates["fate"] == "ruled out"]) == set(failed)
    assert (fates["next_step"] != "").all()
    text = " ".join(line for decision in worked.decisions for line in decision.lines)
    assert all(candidate in text for candidate in fates.index)


@pytest.mark.slow
@few
@given(logs(), st.sampled_from(FAILING), CHECKS)
def test_a_reading_over_a_limit_anywhere_in_the_log_rules_its_wick_out(log, seen, where):
    """Told from the rows of the log themselves, whatever the tables say."""
    log.check("A", *where, **seen)
    over = {}
    for row in log.checks:
        for one in FAILING:
            ((name, limit),) = one.items()
            value = row[name]
            if value == "yes" or (isinstance(limit, float | int) and value and value >= limit):
                over.setdefault(row["candle"], []).append(row["burn"])
    first = {row["candle"]: f"{row['wick_series']} {row['wick_size']}" for row in log.candles}
    changes = {
        row["candle"]: (row["before_burn"], f"{row['wick_series']} {row['wick_size']}")
        for row in log.wick_changes
    }
    burned = {(row["candle"], row["burn"]) for row in log.burns}
    failed = set()
    for candle, burns in over.items():
        for burn in burns:
            since, wick = changes.get(candle, (99, ""))
            if (candle, burn) in burned:
                failed.add(wick if burn >= since else first[candle])
    fates = log.worked().fates.set_index("candidate")["fate"]
    assert failed <= set(fates.index[fates == "ruled out"])


@pytest.mark.parametrize("wick", WICKS)
def test_the_builder_of_logs_gives_candles_that_pass(wick):
    worked = Log(A=wick, B=wick).worked()
    assert worked.verdicts.candidates["n_passed"].tolist() == [2]
    assert not len(worked.batch.problems)

"""Safety criteria: met, not met, not recorded, at every level; what was not seen is never a
pass."""

import batches
import numpy as np
import pandas as pd
import pytest
from batches import burn, candle, checks, life, read
from places import DEMO

from candlelab.burns.burns import burn_cycles
from candlelab.judge.criteria import criteria_of
from candlelab.judge.safety import FAIL, NOT_CHECKED, PASS
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.settings import Limits, Settings
from candlelab.pages.glossary import GLOSSARY

OWN_LIMITS = "[limits]\nflame_mm = 60\npool_depth_mm = 13\n"

AT_CHECKS = [
    # criterion, column, just met, just not met
    ("flame height", "flame_height_mm", 75, 75.1),
    ("soot", "soot", 2, 3),
    ("secondary ignition", "secondary_ignition_s", 10, 10.5),
    ("re-ignition", "reignited", "no", "yes"),
    ("vessel", "vessel_damaged", "no", "yes"),
    ("surface", "surface_damaged", "no", "yes"),
    ("stability", "tipped", "no", "yes"),
    ("wall caution", "wall_c", 60.0, 60.1),
    ("wall stop", "wall_c", 65.0, 65.1),
    ("flame on vessel", "flame_on_vessel", "no", "yes"),
    ("your flame limit", "flame_height_mm", 60, 60.5),
    ("melt pool depth", "pool_depth_mm", 13, 13.5),
]
OF_STANDARDS = [
    "flame height",
    "soot",
    "secondary ignition",
    "re-ignition",
    "vessel",
    "surface",
    "stability",
    "end of life",
    "aftersmoke",
]


def lives(names, wick="flat braid 2", **seen):
    """Candles, burns and checks of candles burned to their end with nothing wrong."""
    burns, rows = zip(*(life(name, **seen) for name in names), strict=True)
    return (
        [candle(name, wick) for name in names],
        [row for part in burns for row in part],
        [row for part in rows for row in part],
    )


def change_check(rows, name, number, minute, **seen):
    """The checks with one of them changed, or taken out when nothing is given."""
    new = []
    for row in rows:
        here = (row["candle"], row["burn"], row["elapsed_min"]) == (name, number, minute)
        if not here or seen:
            new.append(row | seen if here else row)
    return new


def change_burn(rows, name, number, **more):
    return [row | more if (row["candle"], row["burn"]) == (name, number) else row for row in rows]


def judged(folder, candles, burns, rows, **more):
    return WorkedBatch(batches.batch(folder, candles, burns, rows, **more)).verdicts


def outcomes(verdicts, criterion, name="A", number=2, minute=120):
    """Outcome of one criterion for a check, its burn, its candle and its candidate."""
    found = []
    for table in (verdicts.checks, verdicts.burns, verdicts.candles):
        part = table[(table["criterion"] == criterion) & (table["candle"] == name)]
        part = part[part["burn"] == number] if "burn" in part else part
        part = part[part["elapsed_min"] == minute] if "elapsed_min" in part else part
        found += part["outcome"].tolist()
    candidate = verdicts.candle_verdicts.set_index("candle").loc[name, "candidate"]
    part = verdicts.candidate_criteria
    return (
        found
        + part.loc[
            (part["criterion"] == criterion) & (part["candidate"] == candidate), "outcome"
        ].tolist()
    )


def of(table, **key):
    """The one row of a table with these values."""
    part = table[np.logical_and.reduce([table[name] == value for name, value in key.items()])]
    assert len(part) == 1
    return part.iloc[0]


# ---------------------------------------------------------------- criteria and their sources


def test_every_criterion_has_a_source_and_a_statement(tmp_path):
    criteria = judged(tmp_path, *lives("A"), toml=batches.TOML + OWN_LIMITS).criteria
    assert criteria["criterion"].is_unique
    assert (criteria[["statement", "unit", "source"]] != "").all(axis=None)
    standard = criteria[criteria["kind"] == "standard"]
    assert standard["criterion"].tolist() == OF_STANDARDS
    assert standard["source"].str.contains("ASTM F2417|EN 15493").all()
    assert standard["source"].str.contains("second-hand").all()
    assert standard["decides"].all()
    own = criteria[criteria["kind"] == "studio"]
    assert own["source"].str.endswith("common practice, no source").all()
    # No standard sets a wall temperature (Product Safety Letter, 22 August 2016).
    assert own["criterion"].tolist() == [
        "wall caution",
        "wall stop",
        "flame on vessel",
        "your flame limit",
        "melt pool depth",
        "keeps burning",
    ]
    assert own.set_index("criterion")["decides"].to_dict()["wall caution"] is False


def test_limits_of_the_standards():
    limit = {c.criterion: c.limit for c in criteria_of(Settings("a batch"))}
    # 75 mm, EN 15493, second-hand: stricter than the 3 in of ASTM F2417.
    assert limit["flame height"] == 75
    assert limit["secondary ignition"] == 10  # EN 15493, second-hand
    assert (
        limit["aftersmoke"] == 30
    )  # EN 15493:2019, second-hand (TUEV SUED E-ssentials 16/2019); 20 s in 2007
    assert limit["soot"] == 2  # ASTM F2417: no steady black smoke, here grade 3
    assert all(
        limit[name] == 0
        for name in ("re-ignition", "vessel", "surface", "stability", "end of life")
    )
    # The studio's own: 140 and 150 °F are 60 and 65.56 °C (NIST SP 811), kept as 60 and 65 (common
    # practice, no source).
    assert (Limits().wall_caution_c, Limits().wall_stop_c) == (60, 65)


@pytest.mark.parametrize(
    ("standard", "limit", "named"),
    [
        (
            "",
            75.0,
            "EN 15493, read second-hand, the stricter of the two; ASTM F2417 has 76.2 mm (3 in)",
        ),
        ("EN 15493", 75.0, "EN 15493, read second-hand, named in batch.toml; ASTM F2417 has 76.2"),
        # 3 in, ASTM F2417, second-hand; an inch is 25.4 mm (NIST SP 811)
        ("ASTM F2417", 3 * 25.4, "ASTM F2417, read second-hand, named in batch.toml; EN 15493 has"),
    ],
)
def test_the_stricter_flame_limit_unless_the_studio_names_its_standard(
    tmp_path, standard, limit, named
):
    toml = f'standard = "{standard}"\n{batches.TOML}' if standard else batches.TOML
    candles, burns, rows = lives("A")
    rows = change_check(rows, "A", 2, 120, flame_height_mm=76)
    verdicts = judged(tmp_path, candles, burns, rows, toml=toml)
    row = of(verdicts.criteria, criterion="flame height")
    assert row["limit"] == pytest.approx(limit)
    assert row["source"].startswith(named)
    assert outcomes(verdicts, "flame height") == [FAIL if limit < 76 else PASS] * 4


# ---------------------------------------------------------------- every criterion, at every level


def three_candidates():
    """Candles A, B and C, each of its own wick size."""
    candles, burns, rows = lives("ABC")
    sizes = {"A": "1", "B": "2", "C": "3"}
    return [row | {"wick_size": sizes[row["candle"]]} for row in candles], burns, rows


@pytest.mark.slow
@pytest.mark.parametrize(("criterion", "column", "good", "bad"), AT_CHECKS)
def test_at_the_limit_over_it_and_not_seen(tmp_path, criterion, column, good, bad):
    candles, burns, rows = three_candidates()
    values = {"A": good, "B": bad, "C": None}
    for name, value in values.items():
        rows = change_check(rows, name, 2, 120, **{column: value})
    verdicts = judged(tmp_path, candles, burns, rows, toml=batches.TOML + OWN_LIMITS)
    kind, decides = of(verdicts.criteria, criterion=criterion)[["kind", "decides"]]
    for name, outcome in {"A": PASS, "B": FAIL, "C": NOT_CHECKED}.items():
        assert outcomes(verdicts, criterion, name) == [outcome] * 4
        assert outcomes(verdicts, criterion, name, number=3)[:2] == [
            PASS,
            PASS,
        ]  # the other burns are their own
        verdict = of(verdicts.candle_verdicts, candle=name)[f"{kind}_verdict"]
        # A caution does not decide; that its wall was not read leaves the stop limit open.
        assert verdict == (outcome if decides or outcome == NOT_CHECKED else PASS)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("criterion", "column", "bad"), [(c, n, bad) for c, n, _, bad in AT_CHECKS]
)
def test_a_missed_check_is_never_a_pass_and_a_failure_seen_stands(tmp_path, criterion, column, bad):
    candles, burns, rows = three_candidates()
    for name in "ABC":
        rows = change_check(rows, name, 2, 180)
    rows = change_check(rows, "B", 2, 120, **{column: bad})
    rows = change_check(
        change_check(rows, "C", 2, 120, **{column: bad}), "C", 3, 60, **{column: None}
    )
    verdicts = judged(tmp_path, candles, burns, rows, toml=batches.TOML + OWN_LIMITS)
    assert outcomes(verdicts, criterion, "A") == [PASS, NOT_CHECKED, NOT_CHECKED, NOT_CHECKED]
    assert outcomes(verdicts, criterion, "B") == [FAIL] * 4
    assert outcomes(verdicts, criterion, "C") == [FAIL] * 4
    assert outcomes(verdicts, criterion, "C", number=3, minute=60)[:2] == [NOT_CHECKED, NOT_CHECKED]


def test_no_checks_at_all_is_not_recorded(tmp_path):
    candles, burns, _ = lives("A")
    verdicts = judged(tmp_path, candles, burns, [])
    assert len(verdicts.checks) == 0
    of_no_check = verdicts.candles["criterion"].isin(["aftersmoke", "keeps burning"])
    assert (verdicts.candles.loc[~of_no_check, "outcome"] == NOT_CHECKED).all()
    row = verdicts.candidates.iloc[0]
    assert (row["standard_verdict"], row["studio_verdict"]) == (NOT_CHECKED, NOT_CHECKED)
    assert (row["n_passed"], row["n_failed"], row["n_open"]) == (0, 0, 1)
    assert np.isnan(row["failure_rate_up_to_pct"])


@pytest.mark.parametrize(
    ("column", "text", "usual", "criterion"),
    [
        ("wall_f", "136.4", "136.4", "wall stop"),  # 58 °C, and a little more in floating point
        ("wall_f", "122.0", "122.0", "wall caution"),  # 50 °C
        ("flame_height_in", "3.0", "1.2", "flame height"),  # 76.2 mm, by ASTM F2417
        ("flame_height_cm", "7.62", "3", "flame height"),
        ("secondary_ignition_min", "0.16666666666666666", "0", "secondary ignition"),
    ],
)
def test_exactly_at_the_limit_in_other_units(tmp_path, column, text, usual, criterion):
    toml = 'standard = "ASTM F2417"\n' + batches.TOML
    toml += "[limits]\nwall_caution_c = 50\nwall_stop_c = 58\n"
    folder = batches.write(tmp_path, *lives("A"), toml=toml)
    path = folder / "checks.csv"
    own = next(name for name in batches.SEEN if name.rsplit("_", 1)[0] == column.rsplit("_", 1)[0])
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    place = head.split(",").index(own)
    lines = [head.replace(own, column)]
    for n, row in enumerate(rows):
        cells = row.split(",")
        cells[place] = usual if n % 3 else text
        lines.append(",".join(cells))
    path.write_text("\n".join(lines), encoding="utf-8")
    assert outcomes(WorkedBatch(read(folder)).verdicts, criterion) == [PASS] * 4


def test_limits_in_the_units_of_the_log(tmp_path):
    toml = (
        batches.TOML
        + "[limits]\nwall_caution_f = 122\nwall_stop_f = 131\nflame_in = 2\npool_depth_in = 0.5\n"
    )
    candles, burns, rows = lives("A", wall_c=52)
    verdicts = judged(
        tmp_path, candles, burns, change_check(rows, "A", 1, 60, flame_height_mm=51), toml=toml
    )
    limits = verdicts.criteria.set_index("criterion")["limit"]
    # 122 and 131 °F are 50 and 55 °C, an inch 25.4 mm (NIST SP 811).
    assert limits[
        ["wall caution", "wall stop", "your flame limit", "melt pool depth"]
    ].tolist() == pytest.approx([50, 55, 50.8, 12.7])
    assert outcomes(verdicts, "wall caution")[-1] == FAIL
    assert outcomes(verdicts, "wall stop")[-1] == PASS
    assert of(verdicts.candidate_criteria, criterion="your flame limit")["outcome"] == FAIL
    assert (
        of(verdicts.criteria, criterion="wall stop")["statement"]
        == "the wall stays at or under 55 °C (131 °F)"
    )


# ---------------------------------------------------------------- end of life, aftersmoke


@pytest.mark.slow
@pytest.mark.parametrize(
    ("last_burn", "used", "outcome"),
    [
        ({"ended_by": "self"}, 19.4, PASS),  # 3 % of the wax left
        ({"ended_by": "self"}, 15.0, PASS),  # 25 % left: just the end
        ({"ended_by": "self"}, 14.9, NOT_CHECKED),  # went out with much wax left
        ({"ended_by": "timer"}, 19.4, NOT_CHECKED),
        ({"ended_by": "stopped"}, 19.4, NOT_CHECKED),
        ({"ended_by": None}, 19.4, NOT_CHECKED),
    ],
)
def test_end_of_life(tmp_path, last_burn, used, outcome):
    burns, rows = life("A", used=used)
    verdicts = judged(tmp_path, [candle("A")], change_burn(burns, "A", 5, **last_burn), rows)
    assert of(verdicts.candles, candle="A", criterion="end of life")["outcome"] == outcome
    assert of(verdicts.candidates, candidate="flat braid 2")["standard_verdict"] == outcome


@pytest.mark.slow
@pytest.mark.parametrize("column", ["vessel_damaged", "surface_damaged"])
def test_damage_at_the_end(tmp_path, column):
    candles, burns, rows = lives("A")

    def end(folder, number, value, burns=burns):
        verdicts = judged(
            tmp_path / folder,
            candles,
            burns,
            change_check(rows, "A", number, 240, **{column: value}),
        )
        return of(verdicts.candles, candle="A", criterion="end of life")["outcome"]

    assert end("last", 5, "yes") == FAIL
    assert end("unseen", 5, None) == NOT_CHECKED
    assert end("earlier", 3, "yes") == PASS  # that is another criterion's
    assert end("stopped", 5, "yes", change_burn(burns, "A", 5, ended_by="stopped")) == FAIL


def test_end_of_life_needs_eyes_on_the_last_burn(tmp_path):
    candles, burns, rows = lives("A")
    verdicts = judged(tmp_path / "missed", candles, burns, change_check(rows, "A", 5, 180))
    assert of(verdicts.candles, candle="A", criterion="end of life")["outcome"] == NOT_CHECKED
    verdicts = judged(tmp_path / "none", candles, burns, [row for row in rows if row["burn"] < 5])
    assert of(verdicts.candles, candle="A", criterion="end of life")["outcome"] == NOT_CHECKED


def smoked(folder, seconds, **more):
    """Verdicts on candles A and B, all of whose burns smoked for so many seconds."""
    candles, burns, rows = lives("AB")
    burns = [row | {"aftersmoke_s": seconds[row["candle"]]} for row in burns]
    for name, number in more.pop("unread", ()):
        burns = change_burn(burns, name, number, aftersmoke_s=None)
    return judged(folder, candles, burns, rows, **more)


def test_aftersmoke_is_a_mean_over_the_candidate(tmp_path):
    verdicts = smoked(tmp_path / "at", {"A": 40, "B": 20})
    assert of(verdicts.candles, candle="A", criterion="aftersmoke")["outcome"] == FAIL
    assert (
        of(verdicts.candle_verdicts, candle="A")["standard_verdict"] == PASS
    )  # judged on all candles together
    row = of(verdicts.candidate_criteria, criterion="aftersmoke")
    assert (row["value"], row["outcome"]) == (30, PASS)
    assert of(verdicts.candidates, candidate="flat braid 2")["standard_verdict"] == PASS
    verdicts = smoked(tmp_path / "over", {"A": 41, "B": 20})
    row = of(verdicts.candidate_criteria, criterion="aftersmoke")
    assert (row["value"], row["outcome"]) == (30.5, FAIL)
    assert of(verdicts.candidates, candidate="flat braid 2")["standard_verdict"] == FAIL


@pytest.mark.slow
def test_aftersmoke_not_read(tmp_path):
    verdicts = smoked(tmp_path / "timer", {"A": 5, "B": 5}, unread=[("A", 2)])
    assert of(verdicts.candidate_criteria, criterion="aftersmoke")["outcome"] == NOT_CHECKED
    assert of(verdicts.candle_verdicts, candle="A")["standard_verdict"] == NOT_CHECKED
    assert of(verdicts.candle_verdicts, candle="B")["standard_verdict"] == PASS
    verdicts = smoked(
        tmp_path / "self", {"A": 5, "B": 5}, unread=[("A", 5), ("B", 5)]
    )  # nobody puts out a spent candle
    assert of(verdicts.candidate_criteria, criterion="aftersmoke")["outcome"] == PASS
    assert verdicts.candle_verdicts["standard_verdict"].tolist() == [PASS, PASS]
    verdicts = smoked(
        tmp_path / "over", {"A": 41, "B": 20}, unread=[("B", 2)]
    )  # 345 / 9 = 31.7 s all the same
    assert of(verdicts.candidate_criteria, criterion="aftersmoke")["outcome"] == FAIL


ASIDE = [{"candle": "A", "reason": "wick off center"}]


def test_aftersmoke_of_a_candle_set_aside_stays_out_of_the_mean(tmp_path):
    row = of(smoked(tmp_path, {"A": 45, "B": 5}, exclusions=ASIDE).candidate_criteria,
             criterion="aftersmoke")  # fmt: skip
    assert (row["value"], row["outcome"]) == (5, PASS)


def test_setting_a_candle_aside_does_not_heal_the_mean(tmp_path):
    row = of(smoked(tmp_path, {"A": 90, "B": 5}, exclusions=ASIDE).candidate_criteria,
             criterion="aftersmoke")  # fmt: skip
    assert (row["value"], row["outcome"]) == (47.5, FAIL)


def test_a_fresh_candle_that_smokes_is_not_saved_by_one_set_aside(tmp_path):
    row = of(smoked(tmp_path, {"A": 5, "B": 45}, exclusions=ASIDE).candidate_criteria,
             criterion="aftersmoke")  # fmt: skip
    assert (row["value"], row["outcome"]) == (45, FAIL)


def test_aftersmoke_is_a_mean_over_candles_and_not_over_burns(tmp_path):
    """A: one burn of 50 s. B: five burns of 5 s. Over burns 12.5 s, over candles 27.5 s."""
    burns, rows = life("B")
    verdicts = judged(
        tmp_path,
        [candle("A"), candle("B")],
        [burn("A", 1, 20, aftersmoke_s=50), *burns],
        [*checks("A", 1), *rows],
    )
    row = of(verdicts.candidate_criteria, criterion="aftersmoke")
    assert (row["value"], row["outcome"]) == (27.5, PASS)


def re_wicked(folder, first_s, second_s):
    """B and C fresh on flat braid 2; A on flat braid 1, and from its third burn on flat braid 2."""
    candles, burns, rows = lives("A", "flat braid 1")
    more = lives("BC")
    burns = [
        row | {"aftersmoke_s": second_s} if row["burn"] > 2 and row["ended_by"] == "timer" else row
        for row in burns
    ]
    fresh = [
        row | {"aftersmoke_s": first_s} if row["ended_by"] == "timer" else row for row in more[1]
    ]
    fresh = [row | {"aftersmoke_s": None} if row["ended_by"] == "self" else row for row in fresh]
    burns = [row | {"aftersmoke_s": None} if row["ended_by"] == "self" else row for row in burns]
    change = [{"candle": "A", "before_burn": 3, "wick_series": "flat braid", "wick_size": "2"}]
    verdicts = judged(folder, candles + more[0], burns + fresh, rows + more[2], wick_changes=change)
    return of(verdicts.candidate_criteria, candidate="flat braid 2", criterion="aftersmoke")


@pytest.mark.parametrize(
    ("fresh", "part_used", "value", "outcome"),
    [
        (38, 2, 38, FAIL),  # part-used candles cannot make a pass
        (2, 38, 38, FAIL),  # and they can show a failure
        (29, 3, 29, PASS),
        (3, 30, 3, PASS),
    ],
)
def test_part_used_candles_do_not_pool_with_fresh_ones(tmp_path, fresh, part_used, value, outcome):
    row = re_wicked(tmp_path, fresh, part_used)
    assert (row["value"], row["outcome"], row["n_candles"]) == (value, outcome, 2)


# ---------------------------------------------------------------- candidates


def test_what_three_passes_show(tmp_path):
    row = judged(tmp_path, *lives("ABC")).candidates.iloc[0]
    assert (row["standard_verdict"], row["studio_verdict"]) == (PASS, PASS)
    assert (
        row["n_candles"],
        row["n_part_used"],
        row["n_passed"],
        row["n_failed"],
        row["n_open"],
    ) == (3, 0, 3, 0, 0)
    assert row["failure_rate_up_to_pct"] == pytest.approx(
        63.2, abs=0.05
    )  # 1 - 0.05 ** (1 / 3), other software


def test_passed_failed_and_open_candles_are_counted(tmp_path):
    candles, burns, rows = lives("ABC")
    rows = change_check(change_check(rows, "B", 1, 60, tipped="yes"), "C", 4, 120)
    verdicts = judged(tmp_path, candles, burns, rows)
    row = verdicts.candidates.iloc[0]
    assert (row["n_candles"], row["n_passed"], row["n_failed"], row["n_open"]) == (3, 1, 1, 1)
    assert row["standard_verdict"] == FAIL
    assert row["studio_verdict"] == NOT_CHECKED
    # One of two: the p with P(none or one fails) = 1 - p ** 2 = 0.05.
    assert row["failure_rate_up_to_pct"] == pytest.approx(100 * np.sqrt(0.95))
    tipped = of(verdicts.candidate_criteria, criterion="stability")
    assert (tipped["n_met"], tipped["n_not_met"], tipped["n_not_recorded"]) == (1, 1, 1)
    flame = of(verdicts.candidate_criteria, criterion="flame height")
    assert (flame["n_met"], flame["n_not_met"], flame["n_not_recorded"]) == (2, 0, 1)


def test_the_studios_limits_never_touch_the_standards_verdict(tmp_path):
    toml = batches.TOML + OWN_LIMITS
    verdicts = judged(
        tmp_path,
        *lives("A", wall_c=80, flame_height_mm=61, pool_depth_mm=15, flame_on_vessel="yes"),
        toml=toml,
    )
    for table in (verdicts.candidates, verdicts.candle_verdicts):
        assert table["standard_verdict"].tolist() == [PASS]
        assert table["studio_verdict"].tolist() == [FAIL]
    assert verdicts.candidates["n_failed"].tolist() == [1]
    verdicts = judged(tmp_path / "caution", *lives("A", wall_c=62))
    assert verdicts.candidates["studio_verdict"].tolist() == [
        PASS
    ]  # the caution limit does not decide
    assert of(verdicts.candidate_criteria, criterion="wall caution")["outcome"] == FAIL


def test_a_wall_not_measured_leaves_the_standards_verdict_alone(tmp_path):
    row = judged(tmp_path, *lives("A", wall_c=None)).candidates.iloc[0]
    assert (row["standard_verdict"], row["studio_verdict"], row["n_open"]) == (PASS, NOT_CHECKED, 1)


def test_a_burn_left_out_is_judged_all_the_same(tmp_path):
    candles, burns, rows = lives("A")
    rows = change_check(rows, "A", 2, 120, flame_height_mm=80)
    verdicts = judged(
        tmp_path, candles, burns, rows, exclusions=[{"candle": "A", "burn": 2, "reason": "draft"}]
    )
    assert outcomes(verdicts, "flame height") == [FAIL] * 4
    assert verdicts.candidates["standard_verdict"].tolist() == [FAIL]


def test_a_failure_is_not_hidden_by_leaving_out_the_only_burn_of_a_wick(tmp_path):
    candles, burns, rows = lives("A")
    rows = change_check(rows, "A", 1, 120, flame_height_mm=80)
    burns = [row | {"aftersmoke_s": 12} for row in burns]
    verdicts = judged(
        tmp_path,
        candles,
        burns,
        rows,
        exclusions=[{"candle": "A", "burn": 1, "reason": "draft"}],
        wick_changes=[
            {"candle": "A", "before_burn": 2, "wick_series": "flat braid", "wick_size": "3"}
        ],
    )
    row = of(verdicts.candidates, candidate="flat braid 2")
    assert (row["standard_verdict"], row["n_candles"], row["n_failed"]) == (FAIL, 1, 1)
    assert (
        of(verdicts.candidate_criteria, candidate="flat braid 3", criterion="aftersmoke")["value"]
        == 12
    )


def test_a_candle_set_aside_is_no_evidence_for_and_stays_one_against(tmp_path):
    candles, burns, rows = lives("AB")
    rows = change_check(rows, "A", 2, 120, flame_height_mm=80)
    verdicts = judged(
        tmp_path, candles, burns, rows, exclusions=[{"candle": "A", "reason": "wick off center"}]
    )
    assert of(verdicts.candles, candle="A", criterion="flame height")["outcome"] == FAIL
    assert of(verdicts.candle_verdicts, candle="A")["excluded"]
    row = verdicts.candidates.iloc[0]
    assert (row["standard_verdict"], row["n_candles"], row["n_passed"], row["n_failed"]) == (
        FAIL,
        1,
        1,
        1,
    )
    assert of(verdicts.candidate_criteria, criterion="flame height")["n_not_met"] == 1


def replaced_wick(folder, last_flame, fresh=()):
    """Candle A burns two burns on flat braid 1 and three on flat braid 2."""
    candles, burns, rows = lives("A", "flat braid 1")
    for name in fresh:
        more = lives(name)
        candles, burns, rows = candles + more[0], burns + more[1], rows + more[2]
    rows = change_check(rows, "A", 4, 120, flame_height_mm=last_flame)
    change = [
        {
            "candle": "A",
            "before_burn": 3,
            "wick_series": "flat braid",
            "wick_size": "2",
            "reason": "left wax",
        }
    ]
    return judged(folder, candles, burns, rows, wick_changes=change)


@pytest.mark.slow
def test_a_part_used_candle_shows_failures_and_no_passes(tmp_path):
    verdicts = replaced_wick(tmp_path / "good", 30)
    row = of(verdicts.candidates, candidate="flat braid 2")
    assert (
        row["n_candles"],
        row["n_part_used"],
        row["n_passed"],
        row["n_failed"],
        row["n_open"],
    ) == (0, 1, 0, 0, 0)
    assert row["standard_verdict"] == NOT_CHECKED
    assert np.isnan(row["failure_rate_up_to_pct"])
    verdicts = replaced_wick(tmp_path / "bad", 80)
    row = of(verdicts.candidates, candidate="flat braid 2")
    assert (row["standard_verdict"], row["n_failed"], row["failure_rate_up_to_pct"]) == (
        FAIL,
        1,
        100,
    )
    verdicts = replaced_wick(tmp_path / "fresh", 80, fresh=["B", "C"])
    row = of(verdicts.candidates, candidate="flat braid 2")
    assert (row["standard_verdict"], row["n_candles"], row["n_passed"], row["n_failed"]) == (
        FAIL,
        2,
        2,
        1,
    )
    assert of(verdicts.candidates, candidate="flat braid 1")["n_failed"] == 0


def test_a_wick_taken_out_never_came_to_its_end(tmp_path):
    verdicts = replaced_wick(tmp_path, 30)
    assert (
        of(verdicts.candles, candle="A", run=1, criterion="end of life")["outcome"] == NOT_CHECKED
    )
    assert of(verdicts.candles, candle="A", run=2, criterion="end of life")["outcome"] == PASS
    assert of(verdicts.candidates, candidate="flat braid 1")["standard_verdict"] == NOT_CHECKED
    candles, burns, rows = lives("A", "flat braid 1")
    burns = change_burn(
        burns, "A", 4, ended_by="self", used=30
    )  # 11.8 % left, and then another wick
    burns = change_burn(burns, "A", 5, used=9)
    change = [
        {
            "candle": "A",
            "before_burn": 5,
            "wick_series": "flat braid",
            "wick_size": "2",
            "reason": "left wax",
        }
    ]
    verdicts = judged(tmp_path / "late", candles, burns, rows, wick_changes=change)
    assert (
        of(verdicts.candles, candle="A", run=1, criterion="end of life")["outcome"] == NOT_CHECKED
    )
    assert of(verdicts.candles, candle="A", run=2, criterion="end of life")["outcome"] == PASS


# ---------------------------------------------------------------- tables


@pytest.mark.parametrize("name", ["screening", "confirmation"])
def test_tables_of_the_demo(name):
    batch = read(DEMO / name)
    burns = burn_cycles(batch)
    before, checks_before = burns.copy(deep=True), batch.checks.copy(deep=True)
    verdicts = WorkedBatch(batch).verdicts
    pd.testing.assert_frame_equal(burns, before)
    pd.testing.assert_frame_equal(batch.checks, checks_before)
    at_check = [name for name, *_ in AT_CHECKS if name != "your flame limit"]
    assert len(verdicts.checks) == len(batch.checks) * len(at_check)
    assert len(verdicts.burns) == len(burns) * len(at_check)
    for table in (v for v in vars(verdicts).values() if isinstance(v, pd.DataFrame)):
        assert set(table) <= set(GLOSSARY)
        for column in set(table) & {"outcome", "standard_verdict", "studio_verdict"}:
            assert set(table[column]) <= {PASS, FAIL, NOT_CHECKED}


def test_one_burn_of_one_candle(tmp_path):
    verdicts = judged(tmp_path, [candle("A")], [burn("A", 1, 20)], checks("A", 1))
    assert verdicts.candidates["standard_verdict"].tolist() == [NOT_CHECKED]  # its end was not seen
    assert verdicts.candidates["studio_verdict"].tolist() == [PASS]

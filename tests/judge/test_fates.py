"""What becomes of each candidate, and the one next step that every page repeats."""

import batches
import pytest
from batches import read
from judged import FEW, TWO_VESSELS, Log, because, fates, step
from places import DEMO

from candlelab.judge.worked import WorkedBatch

FOUR = FEW.replace("three", "four, one in place of A (no check in the first 2 h of burn 1)")
FIVE = FEW.replace("three", "five, two in place of A and C")
SMALL = {"flame_height_mm": 12}  # a flame that never rose above 13 mm; common practice, no source
LARGE = {"soot": 2}  # repeated wisps: a sign, no failure
DEEP = {"pool_depth_mm": 14}  # over the studio's 13 mm: a failure, no incident


def three(wick="flat braid 2"):
    return Log(A=wick, B=wick, C=wick)


# ---------------------------------------------------------------- the four fates


@pytest.mark.slow
@pytest.mark.parametrize(
    ("log", "fate"),
    [
        (three(), "safe so far"),
        (three().missed("A", 1, 60).missed("B", 1, 60), "safe so far"),  # C passed
        (three().until("A", 3).until("B", 3), "safe so far"),
        (three().until("A", 3).until("B", 3).until("C", 1), "still burning"),
        (three().until("A", 3).missed("B", 1, 60).missed("C", 1, 60), "still burning"),
        (three().missed("A", 1, 60).missed("B", 2, 60).missed("C", 3, 60), "not fully checked"),
        (three().aside("A").aside("B").aside("C"), "not fully checked"),
        (three().until("A", 3, ended_by="stopped").aside("B").aside("C"), "not fully checked"),
        (three().check("C", 4, 120, **DEEP), "ruled out"),
        (three().check("C", 4, 120, **DEEP).aside("C"), "ruled out"),
        (three().until("A", 2).check("A", 2, 60, tipped="yes"), "ruled out"),
        (three().until("B", 1, ended_by="self"), "ruled out"),
    ],
)
def test_the_fate_of_a_candidate(tmp_path, log, fate):
    assert fates(log.worked(tmp_path)) == {"flat braid 2": fate}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("log", "why"),
    [
        (Log(A="flat braid 2"), "The one candle passed every safety check."),
        (Log(A="flat braid 2", B="flat braid 2"), "Both candles passed every safety check."),
        (three(), "All three candles passed every safety check."),
        (three().until("B", 3),
         "Two of three candles passed every safety check. B is still burning."),
        (three().until("B", 3).until("C", 2),
         "One of three candles passed every safety check. B and C are still burning."),
        (three().until("A", 3).until("B", 3).until("C", 1),
         "A, B and C have burned without a failure so far."),
        (Log(A="flat braid 2").until("A", 1), "A has burned without a failure so far."),
        (three().aside("A").aside("B").aside("C"), "Every candle of it was set aside."),
    ],
)  # fmt: skip
def test_why_it_has_its_fate(tmp_path, log, why):
    assert because(log.worked(tmp_path), "flat braid 2") == why


@pytest.mark.slow
def test_only_part_used_candles_are_no_pass(tmp_path):
    worked = Log(A="flat braid 1").wick("A", 3, "flat braid 2").worked(tmp_path)
    assert fates(worked)["flat braid 2"] == "not fully checked"
    assert because(worked, "flat braid 2") == (
        "It was only tried in part-used candles, which can fail but never pass."
    )


def test_counts_of_a_candidate(tmp_path):
    log = Log(**dict.fromkeys("ABCDE", "flat braid 2"))
    log.until("B", 3).missed("C", 1, 60).check("D", 1, 60, **DEEP).aside("E")
    row = log.worked(tmp_path).fates.iloc[0]
    assert row[["n_passed", "n_failed", "n_gaps", "n_burning"]].tolist() == [1, 1, 2, 1]


def test_a_candidate_that_only_failed_in_a_part_used_candle_is_ruled_out(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2", C="flat braid 2").wick("A", 3, "flat braid 2")
    worked = log.check("A", 5, 240, **DEEP).worked(tmp_path)
    assert fates(worked)["flat braid 2"] == "ruled out"
    assert because(worked, "flat braid 2").endswith(
        "A was part-used on this wick. A failure still counts."
    )


# ---------------------------------------------------------------- next steps: safe so far


@pytest.mark.slow
@pytest.mark.parametrize(
    ("log", "told"),
    [
        (three(), f"Confirm flat braid 2 on {FEW}"),
        (three().missed("A", 1, 60),
         f"Confirm flat braid 2 on {FOUR}"),
        (three().missed("A", 1, 60).check("C", 2, 60, tipped=None),
         f"Confirm flat braid 2 on {FIVE}"),
        (three().settings('stage = "confirmation"\n'),
         "Compare flat braid 2 with its screening: did they burn the same?"),
        (three().until("A", 4),
         "Keep burning A (about 1 more burn). At this pace the last burn is on 5 June 2026. "
         "Miss no check: late burns run hottest. Then confirm flat braid 2 on "
         f"{FEW}"),
        (three().until("A", 4).settings('stage = "confirmation"\n'),
         "Keep burning A (about 1 more burn). At this pace the last burn is on 5 June 2026. "
         "Miss no check: late burns run hottest. Then compare flat braid 2 with its screening: "
         "did they burn the same?"),
    ],
)  # fmt: skip
def test_next_step_of_a_safe_candidate(tmp_path, log, told):
    assert step(log.worked(tmp_path), "flat braid 2") == told


@pytest.mark.slow
@pytest.mark.parametrize(
    ("wick", "seen", "more"),
    [
        ("flat braid 1", SMALL,
         "It burns on the small side: try flat braid 2, one size up, as well."),
        ("flat braid 3", SMALL,
         "It burns on the small side, and wicks.csv has no larger size."),
        ("square braid 3", LARGE,
         "It burns on the large side: try square braid 2, one size down, as well."),
        ("flat braid 1", LARGE,
         "It burns on the large side, and wicks.csv has no smaller size."),
    ],
)  # fmt: skip
def test_a_safe_wick_may_burn_on_one_side(tmp_path, wick, seen, more):
    log = three(wick)
    for name in "ABC":
        log.every_check(name, **seen)
    worked = log.worked(tmp_path)
    assert fates(worked) == {wick: "safe so far"}
    assert step(worked, wick) == f"Confirm {wick} on {FEW} {more}"


def test_one_sign_on_few_candles_moves_nobody_to_another_wick(tmp_path):
    worked = three().every_check("A", **SMALL).worked(tmp_path)
    assert step(worked, "flat braid 2") == (
        f"Confirm flat braid 2 on {FEW} "
        "Watch for a sign of a small wick, on few candles so far: the flame never "
        "rose above 12 mm (A)."
    )


def neighbors(of_2, of_3):
    """Two candles each of flat braid 2 and 3, all of whose checks saw this."""
    log = Log(A="flat braid 2", B="flat braid 2", C="flat braid 3", D="flat braid 3")
    for name, seen in zip("ABCD", (of_2, of_2, of_3, of_3), strict=True):
        log.every_check(name, **seen)
    return log


def test_a_safe_wick_beside_a_safe_one(tmp_path):
    worked = neighbors(SMALL, {}).worked(tmp_path)
    assert step(worked, "flat braid 2") == (
        "Confirm flat braid 2 on at least three fresh candles. "
        "It burns on the small side; flat braid 3, one size up, is safe so far."
    )
    assert step(worked, "flat braid 3") == "Confirm flat braid 3 on at least three fresh candles."


# ---------------------------------------------------------------- between two sizes


def test_one_too_small_and_the_next_too_large_are_between_two_sizes(tmp_path):
    """Both safe: "try 3" beside "try 2" is no advice."""
    worked = neighbors(SMALL, LARGE).worked(tmp_path)
    between = "the right size lies between them. Use this one with that reservation, or try another"
    assert step(worked, "flat braid 2").endswith(
        f"It burns on the small side, and flat braid 3 burns on the other side: {between} series."
    )
    assert step(worked, "flat braid 3").endswith(
        f"It burns on the large side, and flat braid 2 burns on the other side: {between} series."
    )


def test_between_a_safe_size_and_one_that_was_ruled_out(tmp_path):
    worked = neighbors(SMALL, DEEP).worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "safe so far", "flat braid 3": "ruled out"}
    assert step(worked, "flat braid 2").endswith(
        "It burns on the small side, and flat braid 3 burns on the other side: the right size "
        "lies between them. Use this one with that reservation, or try another series."
    )
    assert step(worked, "flat braid 3") == (
        "Try another series: the right size lies between flat braid 2 and flat braid 3. "
        "Or use flat braid 2 with that reservation."
    )


def test_between_two_sizes_that_were_both_ruled_out(tmp_path):
    log = neighbors({}, DEEP).until("A", 3, ended_by="self")
    worked = log.worked(tmp_path)
    both = "Try another series: the right size lies between flat braid 2 and flat braid 3."
    assert step(worked, "flat braid 2") == step(worked, "flat braid 3") == both


# ---------------------------------------------------------------- next steps: ruled out


def ruled_out(wick="flat braid 2", seen=DEEP):
    return three(wick).check("A", 3, 240, **seen)


def test_too_large_and_a_smaller_size_that_nobody_burned(tmp_path):
    worked = ruled_out().worked(tmp_path)
    assert worked.fates[["next_step", "next_wick"]].to_numpy().tolist() == [
        ["Pour three candles of flat braid 1, one size down: size 2 ran too deep.", "flat braid 1"]
    ]


def test_too_large_and_a_smaller_size_that_stands_there_unlit(tmp_path):
    log = ruled_out().poured("X", "flat braid 1").poured("Y", "flat braid 1")
    assert step(log.worked(tmp_path), "flat braid 2") == (
        "Light X and Y (flat braid 1), one size down, poured and not lit yet."
    )


def test_too_large_and_no_smaller_size(tmp_path):
    worked = ruled_out("flat braid 1").worked(tmp_path)
    assert worked.fates[["next_step", "next_wick"]].to_numpy().tolist() == [
        ["Try another series: wicks.csv has no smaller size of flat braid.", ""]
    ]


@pytest.mark.slow
def test_too_small_and_a_larger_size_that_is_safe(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2").until("A", 2, ended_by="self")
    worked = log.worked(tmp_path)
    row = worked.fates.set_index("candidate").loc["flat braid 1"]
    assert (row["next_step"], row["next_wick"]) == (
        "Use flat braid 2 instead: it is safe so far.", "flat braid 2"
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(
    "log",
    [
        Log(A="flat braid 1", B="flat braid 2").until("B", 3),
        Log(A="flat braid 1", B="flat braid 2").missed("B", 3, 60),
    ],
)
def test_too_small_and_a_larger_size_that_is_not_settled(tmp_path, log):
    worked = log.until("A", 2, ended_by="self").worked(tmp_path)
    assert step(worked, "flat braid 1") == "Finish the test of flat braid 2 first, one size up."


def test_too_large_and_the_smaller_size_failed_in_the_same_way(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2")
    worked = log.check("A", 3, 60, **DEEP).check("B", 3, 60, **DEEP).worked(tmp_path)
    assert step(worked, "flat braid 2") == (
        "Try another series: flat braid 1 was ruled out as well."
    )


def test_signs_in_both_directions_lead_to_another_series(tmp_path):
    log = three()
    for name in "ABC":
        log.every_check(name, **SMALL, **LARGE)
    assert step(log.check("A", 1, 60, **DEEP).worked(tmp_path), "flat braid 2") == (
        "Try another series."
    )


def test_smoke_alone_points_nowhere(tmp_path):
    log = three()
    for name in "ABC":
        for burn in range(1, 5):
            log.burn(name, burn, aftersmoke_s=45)
    assert step(log.worked(tmp_path), "flat braid 2") == "Try another series."


# ---------------------------------------------------------------- next steps: not fully checked


def test_not_fully_checked_asks_for_fresh_candles(tmp_path):
    worked = three().missed("A", 1, 60).aside("B").aside("C").worked(tmp_path)
    assert worked.fates[["next_step", "next_wick"]].to_numpy().tolist() == [
        ["Burn three fresh candles of flat braid 2 to the end, with every check.", "flat braid 2"]
    ]


def test_a_wick_that_was_taken_out_for_wax_left_is_not_asked_for_again(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 1").wick("A", 3, "flat braid 2")
    worked = log.wick("B", 3, "flat braid 2").worked(tmp_path)
    assert step(worked, "flat braid 1") == (
        "Finish the test of flat braid 2 first, one size up. Flat braid 1 looks too small."
    )


# ---------------------------------------------------------------- incidents override


INCIDENTS = [
    {"vessel_damaged": "yes"}, {"secondary_ignition_s": 12}, {"reignited": "yes"},
    {"tipped": "yes"}, {"flame_height_mm": 110}, {"wall_c": 66}, {"soot": 3},
    {"flame_on_vessel": "yes"},
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("seen", INCIDENTS, ids=lambda seen: next(iter(seen)))
@pytest.mark.parametrize("signs", [SMALL, LARGE, {}], ids=["small", "large", "well"])
def test_an_incident_overrides_every_advice_on_wicks(tmp_path, seen, signs):
    log = three()
    for name in "ABC":
        log.every_check(name, **signs)
    worked = log.check("B", 3, 120, **seen).worked(tmp_path)
    ((fate, step, wick),) = worked.fates[["fate", "next_step", "next_wick"]].to_numpy()
    assert (fate, wick) == ("ruled out", "")
    first = "Stop testing flat braid 2 in the jar until you know what went wrong"
    assert step in (f"{first}.", f"{first}: it looks too large.")
    if signs == SMALL:  # nobody is sent to a larger wick after an incident
        assert step == f"{first}."


def test_nobody_is_sent_to_a_wick_with_an_incident(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2").until("A", 2, ended_by="self")
    worked = log.check("B", 3, 120, vessel_damaged="yes").worked(tmp_path)
    assert step(worked, "flat braid 1") == (
        "Try another series: flat braid 2 was ruled out as well."
    )


@pytest.mark.slow
@pytest.mark.parametrize("seen", [DEEP, {"aftersmoke": 90}])
def test_a_failure_without_danger_stops_nobody(tmp_path, seen):
    log = three()
    if seen == DEEP:
        log.check("A", 3, 120, **DEEP)
    else:
        for name in "ABC":
            log.burn(name, 1, aftersmoke_s=150)
    worked = log.worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "ruled out"}
    assert not step(worked, "flat braid 2").startswith("Stop")


# ---------------------------------------------------------------- recipes and vessels


def test_a_candidate_with_a_recipe_is_named_in_quotes(tmp_path):
    log = Log()
    for name, load in (("A", 6), ("B", 8)):
        log.add(name, fragrance="fig", fragrance_load_pct=load)
    worked = log.check("B", 1, 60, **DEEP).worked(tmp_path)
    assert step(worked, "flat braid 2, fig 6 %") == (f"Confirm “flat braid 2, fig 6 %” on {FEW}")
    assert step(worked, "flat braid 2, fig 8 %") == (
        "Pour three candles of “flat braid 1, fig 8 %”, one size down, if you still want that "
        "series: size 2 ran too deep."
    )


def test_sizes_of_another_vessel_are_not_neighbors(tmp_path):
    log = Log()
    log.toml = TWO_VESSELS + "[limits]\npool_depth_mm = 13\n"
    log.add("A", "flat braid 2", vessel="jar").add("B", "flat braid 1", vessel="tin")
    worked = log.check("A", 1, 60, **DEEP).worked(tmp_path)
    assert step(worked, "flat braid 2, jar") == (
        "Pour three candles of “flat braid 1, jar”, one size down: size 2 ran too deep."
    )


def test_two_wicks_in_one_vessel_stay_two(tmp_path):
    log = Log()
    log.add("A", wick_count=2)
    worked = log.check("A", 1, 60, **DEEP).worked(tmp_path)
    assert worked.fates[["next_step", "next_wick"]].to_numpy().tolist() == [
        [
            "Pour three candles of flat braid 1 x2, one size down: size 2 ran too deep.",
            "flat braid 1 x2",
        ]
    ]


# ---------------------------------------------------------------- the demo


@pytest.mark.slow
def test_fates_of_the_screening_demo():
    worked = WorkedBatch(read(DEMO / "screening"))
    assert fates(worked) == {
        "flat braid 3": "ruled out", "flat braid 4": "safe so far",
        "paper-cored 4": "ruled out", "paper-cored 5": "ruled out",
        "square braid 2": "safe so far", "square braid 3": "ruled out",
    }  # fmt: skip
    assert worked.fates["candidate"].tolist() == list(fates(worked))


def test_a_batch_of_one_burn(tmp_path):
    log = Log()
    log.poured("A")
    log.burns, log.checks = [batches.burn("A", 1, 20)], batches.checks("A", 1)
    assert fates(log.worked(tmp_path)) == {"flat braid 2": "still burning"}


def test_a_batch_without_a_check(tmp_path):
    log = Log(A="flat braid 2")
    log.checks = []
    worked = log.worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "not fully checked"}
    assert len(worked.gaps) == 5

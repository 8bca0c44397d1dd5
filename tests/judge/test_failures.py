"""The table of failures: which candle, burn and minute, in words, whoever set it aside."""

import numpy as np
import pandas as pd
import pytest
from batches import read
from judged import Log, because, fates
from places import DEMO

from candlelab.judge.worked import WorkedBatch
from candlelab.pages.glossary import column

OWN = "flame_mm = 60\n"  # beside the pool depth of 13 mm


def three():
    return Log(A="flat braid 2", B="flat braid 2", C="flat braid 2")


def told(log, folder, *columns):
    """The columns of the table of failures, row by row."""
    return log.worked(folder).failures[list(columns)].to_numpy().tolist()


WORDS = [
    ({"flame_height_mm": 80}, "Its flame was too tall (80 mm, the EN 15493 limit is 75 mm)", True),
    ({"flame_height_mm": 75.5},
     "Its flame was too tall (75.5 mm, the EN 15493 limit is 75 mm)", True),
    ({"soot": 3}, "It gave off steady black smoke", True),
    ({"secondary_ignition_s": 14}, "Something other than the wick burned for 14 s", True),
    ({"reignited": "yes"}, "It lit again by itself after it was put out", True),
    ({"vessel_damaged": "yes"}, "Its vessel cracked or broke", True),
    ({"surface_damaged": "yes"}, "It damaged the surface under it", True),
    ({"tipped": "yes"}, "It tipped over", True),
    ({"flame_on_vessel": "yes"}, "Its flame touched the vessel", True),
    ({"wall_c": 67.3}, "Its wall got too hot (67.3 °C, your limit is 65 °C/149 °F)", True),
    ({"wall_c": 65.02}, "Its wall got too hot (65.02 °C, your limit is 65 °C/149 °F)", True),
    ({"pool_depth_mm": 14.5}, "Its melt pool was too deep (14.5 mm, your limit is 13 mm)", False),
    ({"pool_depth_mm": 13.04},
     "Its melt pool was too deep (13.04 mm, your limit is 13 mm)", False),
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("seen", "words", "incident"), WORDS)
def test_what_happened_in_words_and_whether_it_is_an_incident(tmp_path, seen, words, incident):
    log = three().check("B", 3, 180, **seen)
    columns = ("candidate", "candle", "run", "burn", "elapsed_min", "words", "incident")
    assert told(log, tmp_path, *columns) == [
        ["flat braid 2", "B", 1, 3, 180, words, incident]
    ]  # fmt: skip


def test_own_flame_limit_is_yours_and_the_standards_is_not(tmp_path):
    log = three().check("A", 1, 60, flame_height_mm=77)
    log.toml += OWN
    assert [row[0] for row in told(log, tmp_path, "words")] == [
        "Its flame was too tall (77 mm, the EN 15493 limit is 75 mm)",
        "Its flame was too tall (77 mm, your limit is 60 mm)",
    ]


def test_a_caution_limit_is_no_failure(tmp_path):
    worked = three().every_check("A", wall_c=63).worked(tmp_path)
    assert worked.failures.empty
    assert fates(worked) == {"flat braid 2": "safe so far"}


@pytest.mark.slow
@pytest.mark.parametrize("standard", ["EN 15493", "ASTM F2417"])
def test_the_standard_that_the_studio_names_decides(tmp_path, standard):
    log = three().check("A", 1, 60, flame_height_mm=76)
    worked = log.settings(f'standard = "{standard}"\n').worked(tmp_path)
    passes = standard == "ASTM F2417"  # 76.2 mm, read second-hand
    assert fates(worked)["flat braid 2"] == ("safe so far" if passes else "ruled out")


def test_the_limit_of_the_standard_is_named_where_it_is_failed(tmp_path):
    log = three().check("A", 1, 60, flame_height_mm=77).settings('standard = "ASTM F2417"\n')
    assert told(log, tmp_path, "words") == [
        ["Its flame was too tall (77 mm, the ASTM F2417 limit is 76.2 mm)"]
    ]


# ---------------------------------------------------------------- one row for each burn


def test_the_worst_check_of_a_burn_and_how_many_were_like_it(tmp_path):
    log = (
        three().check("A", 2, wall_c=66).check("A", 2, 180, wall_c=69).check("A", 2, 60, wall_c=50)
    )
    assert told(log, tmp_path, "burn", "elapsed_min", "value", "n_readings") == [[2, 180, 69, 3]]


def test_of_equal_readings_the_first(tmp_path):
    log = three().check("A", 2, vessel_damaged="yes").check("A", 2, 60, vessel_damaged="no")
    assert told(log, tmp_path, "elapsed_min", "n_readings") == [[120, 3]]


def test_each_burn_and_each_candle_has_its_row(tmp_path):
    log = three().check("C", 4, 60, soot=3).check("A", 2, 60, soot=3).check("A", 1, 120, soot=3)
    assert told(log, tmp_path, "candle", "burn") == [["A", 1], ["A", 2], ["C", 4]]


def test_incidents_stand_first(tmp_path):
    log = three().check("A", 1, 60, pool_depth_mm=15).check("C", 5, 60, tipped="yes")
    assert told(log, tmp_path, "candle", "incident") == [["C", True], ["A", False]]


def test_notes_of_the_checks_and_of_the_burn_are_kept(tmp_path):
    log = three().check("A", 2, 120, soot=3, note="black plume").check("A", 2, 180, soot=3)
    log.check("A", 2, 60, note="calm").burn("A", 2, note="lid put on")
    assert told(log, tmp_path, "note") == [["black plume; lid put on"]]


def test_a_note_that_was_written_twice_is_told_once(tmp_path):
    log = three().check("A", 2, 120, soot=3, note="plume").check("A", 2, 180, soot=3, note="plume")
    assert told(log.burn("A", 2, note="plume"), tmp_path, "note") == [["plume"]]


# ---------------------------------------------------------------- set aside


def test_a_candle_set_aside_fails_all_the_same(tmp_path):
    log = three().check("B", 2, 120, tipped="yes").aside("B", reason="knocked by a sleeve")
    worked = log.worked(tmp_path)
    (row,) = worked.failures.itertuples()
    assert (row.excluded, row.whole, row.exclusion_reason) == (True, True, "knocked by a sleeve")
    assert because(worked, "flat braid 2") == (
        "It tipped over: B, burn 2, 2 h after lighting. You set aside B (knocked by a sleeve). "
        "That does not undo a safety failure."
    )


def test_a_burn_set_aside_fails_all_the_same(tmp_path):
    log = three().check("B", 2, 120, pool_depth_mm=14).aside("B", 2, "window open")
    worked = log.worked(tmp_path)
    (row,) = worked.failures.itertuples()
    assert (row.excluded, row.whole) == (True, False)
    assert because(worked, "flat braid 2").endswith(
        "You set aside burn 2 of B (window open). That does not undo a safety failure."
    )


def test_setting_aside_every_burn_one_by_one_is_setting_the_candle_aside(tmp_path):
    log = three().check("B", 2, 120, wall_c=70)
    for burn in range(1, 6):
        log.aside("B", burn, f"reason {burn}")
    worked = log.worked(tmp_path)
    (row,) = worked.failures.itertuples()
    assert (row.whole, row.exclusion_reason) == (True, "reason 2")
    assert worked.verdicts.candidates[
        ["n_candles", "n_passed", "n_failed"]
    ].to_numpy().tolist() == [[2, 2, 1]]
    assert fates(worked) == {"flat braid 2": "ruled out"}


def test_setting_another_burn_aside_leaves_a_failure_as_it_is(tmp_path):
    log = three().check("B", 2, 120, wall_c=70).aside("B", 3, "draft")
    assert told(log, tmp_path, "excluded", "whole", "exclusion_reason") == [[False, False, ""]]


# ---------------------------------------------------------------- part-used candles


def re_wicked():
    """A on flat braid 1, from burn 3 on flat braid 2; B fresh on flat braid 2."""
    return Log(A="flat braid 1", B="flat braid 2").wick("A", 3, "flat braid 2")


def test_a_part_used_candle_can_fail(tmp_path):
    worked = re_wicked().check("A", 4, 120, flame_on_vessel="yes").worked(tmp_path)
    assert fates(worked) == {"flat braid 1": "not fully checked", "flat braid 2": "ruled out"}
    assert because(worked, "flat braid 2") == (
        "Its flame touched the vessel: A, burn 4, 2 h after lighting. "
        "A was part-used on this wick. A failure still counts."
    )


def test_a_part_used_candle_that_fails_beside_a_fresh_one_needs_no_excuse(tmp_path):
    log = re_wicked().check("A", 4, 120, pool_depth_mm=14).check("B", 4, 120, pool_depth_mm=15)
    assert because(log.worked(tmp_path), "flat braid 2") == (
        "Its melt pool was too deep (14 mm, your limit is 13 mm): A, burn 4, 2 h after lighting; "
        "also B."
    )


def test_a_failure_belongs_to_the_wick_that_was_in_the_candle(tmp_path):
    worked = re_wicked().check("A", 2, 120, pool_depth_mm=14).worked(tmp_path)
    assert fates(worked) == {"flat braid 1": "ruled out", "flat braid 2": "safe so far"}


def test_one_wick_twice_in_one_candle_is_one_failed_candle(tmp_path):
    """A wick taken out and the same size put in again: fresh and part-used in one candle."""
    log = three().wick("A", 3, "flat braid 2", "bent")
    log.check("A", 1, 60, pool_depth_mm=14).check("A", 5, 60, pool_depth_mm=14)
    worked = log.worked(tmp_path)
    assert worked.failures[["candle", "run"]].to_numpy().tolist() == [["A", 1], ["A", 2]]
    row = worked.verdicts.candidates.iloc[0]
    assert (row["n_failed"], row["n_passed"], row["n_candles"]) == (1, 2, 3)


# ---------------------------------------------------------------- went out, smoked on


def test_going_out_early_is_a_recorded_failure_to_burn(tmp_path):
    """Out by itself in its second burn, with 86 % of its wax left: no longer not recorded."""
    log = three().until("A", 2, ended_by="self").burn("A", 1, used=8).burn("A", 2, used=6)
    log.burn("A", 2, note="drowned")
    worked = log.worked(tmp_path)
    assert because(worked, "flat braid 2") == (
        "It went out by itself with 86 % of its wax left: A, burn 2, 4 h after lighting. "
        "Note: “drowned”."
    )
    assert worked.gaps.empty


def test_a_candle_that_went_out_and_was_lit_again_has_not_gone_out_for_good(tmp_path):
    worked = three().burn("A", 2, ended_by="self").worked(tmp_path)
    assert worked.failures.empty


@pytest.mark.parametrize(("left", "failed"), [(25, False), (25.5, True), (3, False)])
def test_how_much_wax_an_end_may_leave(tmp_path, left, failed):
    """25 % of the fill: common practice, no source."""
    log = three().burn("A", 5, used=100 - 4 * 19.4 - left)
    if left > 22:
        log.burn("A", 4, used=10).burn("A", 5, used=100 - 3 * 19.4 - 10 - left)
    assert len(log.worked(tmp_path).failures) == failed


@pytest.mark.slow
def test_a_wick_that_went_out_before_it_was_changed(tmp_path):
    log = re_wicked().burn("A", 2, ended_by="self")
    worked = log.worked(tmp_path)
    assert fates(worked)["flat braid 1"] == "ruled out"
    assert because(worked, "flat braid 1").startswith(
        "It went out by itself with 61 % of its wax left: A, burn 2"
    )


def smoking(seconds, log=None):
    log = log or three()
    for name, value in seconds.items():
        for burn in range(1, 5):
            log.burn(name, burn, aftersmoke_s=value)
        log.burn(name, 5, aftersmoke_s=None)
    return log


def test_a_mean_that_failed_names_its_candles_and_no_burn(tmp_path):
    (row,) = smoking({"A": 50, "B": 40, "C": 6}).worked(tmp_path).failures.itertuples()
    assert row.words == (
        "Its wicks smoked too long after the flame was out "
        "(32 s on average, the EN 15493 limit is 30 s): A, B and C"
    )
    assert (row.candle, row.incident) == ("", False)
    assert pd.isna(row.burn)
    assert np.isnan(row.elapsed_min)


def test_setting_the_smoky_candle_aside_does_not_heal_the_mean(tmp_path):
    log = smoking({"A": 80, "B": 10, "C": 6}).aside("A", reason="wick off center")
    assert because(log.worked(tmp_path), "flat braid 2") == (
        "Its wicks smoked too long after the flame was out "
        "(32 s on average, the EN 15493 limit is 30 s): A, B and C, with what you set aside."
    )


def test_part_used_candles_do_not_smoke_a_fresh_one_clean(tmp_path):
    """Fresh ones smoke for 38 s, the re-wicked one for 2 s: the pooled mean of 26 s is nobody's."""
    log = Log(A="flat braid 1", B="flat braid 2", C="flat braid 2").wick("A", 2, "flat braid 2")
    worked = smoking({"A": 2, "B": 38, "C": 38}, log).worked(tmp_path)
    assert because(worked, "flat braid 2") == (
        "Its wicks smoked too long after the flame was out "
        "(38 s on average, the EN 15493 limit is 30 s): B and C."
    )


def test_part_used_candles_may_fail_by_their_smoke(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2").wick("A", 2, "flat braid 2")
    worked = smoking({"A": 45, "B": 3}, log).worked(tmp_path)
    assert because(worked, "flat braid 2").endswith(
        "(45 s on average, the EN 15493 limit is 30 s): A, part-used on this wick."
    )


# ---------------------------------------------------------------- the whole table


def test_a_log_without_a_failure_has_an_empty_table_of_the_same_kind(tmp_path):
    none, some = three().worked(tmp_path / "a"), three().check("A", 1, 60, tipped="yes")
    some = some.worked(tmp_path / "b")
    assert none.failures.empty
    assert none.failures.dtypes.to_dict() == some.failures.dtypes.to_dict()


@pytest.mark.slow
def test_every_candidate_with_a_failure_is_ruled_out_and_no_other():
    for name in ("screening", "confirmation", "waxes", "loads"):
        worked = WorkedBatch(read(DEMO / name))
        failed = set(worked.failures["candidate"])
        verdicts = worked.verdicts.candidates.set_index("candidate")
        kinds = ["standard_verdict", "studio_verdict"]
        by_verdict = verdicts.index[(verdicts[kinds] == "fail").any(axis=1)]
        assert failed == set(by_verdict)
        assert failed == {c for c, fate in fates(worked).items() if fate == "ruled out"}


def test_the_glossary_knows_every_column():
    worked = WorkedBatch(read(DEMO / "screening"))
    for table in ("failures", "gaps", "fates", "ranking", "remaining"):
        for name in getattr(worked, table):
            assert column(name, table).meaning

"""What keeps a fresh candle from a pass: named with burn and minute, and what would settle it."""

import pytest
from batches import read
from judged import Log, because, fates
from places import DEMO

from candlelab.judge.worked import WorkedBatch

FRESH = "Burn a fresh candle with every check."
OR_WRITE = "Write it in if your sheet has it. Else: burn a fresh candle with every check."


def three():
    return Log(A="flat braid 2", B="flat braid 2", C="flat braid 2")


def test_a_gap_names_candle_burn_minute_its_cost_and_its_cure(tmp_path):
    gaps = three().missed("B", 3, 120).worked(tmp_path).gaps
    assert gaps.to_dict("records") == [
        {
            "candidate": "flat braid 2", "candle": "B", "burn": 3, "elapsed_min": 180.0,
            "criteria": "everything that is looked at",
            "why": "no check from minute 60 to 180 of burn 3",
            "cost": "2 of 3 fresh candles passed so far", "to_settle": FRESH, "burning": False,
        }
    ]  # fmt: skip


def test_a_gap_in_one_candle_leaves_the_passes_of_the_others(tmp_path):
    worked = three().missed("B", 3, 120).worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "safe so far"}
    assert because(worked, "flat braid 2") == (
        "Two of three candles passed every safety check. "
        "B is not fully checked: no check from minute 60 to 180 of burn 3."
    )


def test_cells_left_blank_are_told_together(tmp_path):
    gaps = three().check("C", 2, 180, tipped=None, reignited=None, soot=None).worked(tmp_path).gaps
    assert gaps[["candle", "burn", "elapsed_min"]].to_numpy().tolist() == [["C", 2, 180]]
    assert gaps["why"].tolist() == [
        "soot, re-ignited and tipped not written down in burn 2 at minute 180"
    ]
    assert gaps["to_settle"].tolist() == [OR_WRITE]


def test_a_column_nobody_filled_in_is_one_row(tmp_path):
    gaps = three().every_check("C", surface_damaged=None).worked(tmp_path).gaps
    assert gaps["why"].tolist() == [
        "surface damaged not written down in burn 1 at minute 60 and at 19 more checks"
    ]


@pytest.mark.parametrize("column", ["mushroom_mm", "pool_diameter_mm"])
def test_what_no_criterion_needs_is_no_gap(tmp_path, column):
    worked = three().every_check("A", **{column: None}).worked(tmp_path)
    assert worked.gaps.empty


@pytest.mark.slow
def test_the_melt_pool_is_needed_only_where_the_studio_has_a_limit_for_it(tmp_path):
    log = three().every_check("A", pool_depth_mm=None)
    assert log.worked(tmp_path / "with").gaps["criteria"].tolist() == ["pool depth"]
    log.toml = log.toml.replace("pool_depth_mm = 13\n", "")
    assert log.worked(tmp_path / "without").gaps.empty


def test_smoke_that_was_not_timed(tmp_path):
    gaps = three().burn("A", 2, aftersmoke_s=None).burn("A", 4, aftersmoke_s=None)
    gaps = gaps.worked(tmp_path).gaps
    assert gaps["why"].tolist() == ["aftersmoke not written down in burns 2 and 4"]
    assert gaps["burn"].tolist() == [2]


def test_smoke_of_a_candle_that_nobody_ever_put_out(tmp_path):
    """A tealight burns once: its smoke was never timed, and a gap says how it can be."""
    log = Log()
    log.add("A").until("A", 1, ended_by="self").burn("A", 1, used=95, aftersmoke_s=None)
    worked = log.worked(tmp_path)
    assert worked.gaps[["why", "to_settle"]].to_numpy().tolist() == [
        ["aftersmoke never timed, because it always went out by itself",
         "Put out one burn of a fresh candle by hand and time its smoke."]
    ]  # fmt: skip


def test_a_burn_that_went_out_by_itself_owes_no_time_of_smoke(tmp_path):
    assert three().burn("A", 5, aftersmoke_s=None).worked(tmp_path).gaps.empty


def test_a_wick_that_was_changed_never_got_to_its_end(tmp_path):
    gaps = three().wick("A", 3, "flat braid 3").worked(tmp_path).gaps
    assert gaps[["criteria", "why", "to_settle"]].to_numpy().tolist() == [
        ["end of life", "its wick was changed after burn 2 with 61 % of its wax left",
         "Burn a fresh candle to its end."]
    ]  # fmt: skip


def test_a_candle_that_was_stopped_never_got_to_its_end(tmp_path):
    gaps = three().until("A", 4, ended_by="stopped").worked(tmp_path).gaps
    assert gaps["why"].tolist() == ["stopped in burn 4 with 22 % of its wax left"]


def test_of_many_candles_that_burn_the_first_are_named(tmp_path):
    names = [f"C{n:02d}" for n in range(25)]
    log = Log(**dict.fromkeys(names, "flat braid 2"))
    for name in names:
        log = log.until(name, 1)
    worked = log.worked(tmp_path)
    first = f"{', '.join(names[:19])} and 6 more"
    assert because(worked, "flat braid 2") == f"{first} have burned without a failure so far."
    headline = worked.decisions[0].headline
    assert headline == f"No wick can be picked yet: {first} are still burning."
    assert worked.gaps["candle"].tolist() == names


def test_a_candle_that_burns_on_is_marked_so(tmp_path):
    gaps = three().until("A", 4).worked(tmp_path).gaps
    assert gaps[["why", "burning", "to_settle"]].to_numpy().tolist() == [
        ["still burning", True, "Burn it to its end: about 1 more burn at this rate."]
    ]


def test_a_gap_of_a_candle_that_burns_on_is_told_before_its_end(tmp_path):
    worked = three().until("A", 4).missed("A", 2, 60, 120).worked(tmp_path)
    assert worked.gaps["burning"].tolist() == [False, True]
    assert because(worked, "flat braid 2").endswith(
        "A is not fully checked: no check in the first 3 h of burn 2."
    )


def test_a_candle_that_failed_has_no_gap_that_could_be_settled(tmp_path):
    worked = three().missed("A", 2, 120).check("A", 3, 60, tipped="yes").worked(tmp_path)
    assert worked.gaps.empty


@pytest.mark.slow
@pytest.mark.parametrize("burn", [None, 3])
def test_only_candles_that_count_have_gaps(tmp_path, burn):
    """A candle set aside owes nothing; one burn set aside does not free its candle."""
    gaps = three().missed("A", 3, 120).aside("A", burn).worked(tmp_path).gaps
    assert gaps["candle"].tolist() == ([] if burn is None else ["A"])


def test_many_gaps_are_told_in_three_and_the_rest_by_name(tmp_path):
    log = Log(**dict.fromkeys("ABCDEF", "flat braid 2"))
    for name in "ABCDE":
        log.missed(name, 1, 60, 120)
    assert because(log.worked(tmp_path), "flat braid 2") == (
        "One of six candles passed every safety check. "
        "A is not fully checked: no check in the first 3 h of burn 1. "
        "B is not fully checked: no check in the first 3 h of burn 1. "
        "C is not fully checked: no check in the first 3 h of burn 1. "
        "D and E are not fully checked either."
    )


def test_more_than_three_gaps_of_one_candle_are_counted(tmp_path):
    log = three()
    for burn in range(1, 6):
        log.missed("A", burn)
    assert because(log.worked(tmp_path), "flat braid 2").endswith(
        "A is not fully checked: no check in burn 1 (4 h); no check in burn 2 (4 h); "
        "no check in burn 3 (4 h); and 2 more."
    )


@pytest.mark.slow
def test_every_fresh_candle_without_a_pass_or_a_failure_has_a_gap():
    for name in ("screening", "confirmation", "waxes", "loads"):
        worked = WorkedBatch(read(DEMO / name))
        counts = worked.verdicts.candidates.set_index("candidate")["n_open"]
        told = worked.gaps.groupby("candidate")["candle"].nunique()
        assert told.reindex(counts.index, fill_value=0).to_dict() == counts.to_dict()

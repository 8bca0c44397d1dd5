"""Candles that still burn: how many burns are left, when the last one ends, what to look at."""

import pandas as pd
import pytest
from judged import Log, lines, step


def rows(log, folder):
    return log.worked(folder).remaining


def test_burns_left_at_the_rate_so_far(tmp_path):
    """19.4 g of 100 g a burn: 80.6 g left after one burn are five burns, 41.8 g after three are
    three, the last of them short."""
    log = Log(A="flat braid 2", B="flat braid 2").until("A", 1).until("B", 3)
    table = rows(log, tmp_path)
    assert table[["candle", "burns_left"]].to_numpy().tolist() == [["A", 5], ["B", 3]]
    assert table["hours_left_h"].tolist() == pytest.approx([80.6 / 4.85, 41.8 / 4.85])


def test_what_ended_candles_leave_is_not_counted_as_burns(tmp_path):
    """C ended with 22.4 % left, so that A, which has as much to burn less, has fewer burns left."""
    log = Log(A="flat braid 2", C="flat braid 2").until("A", 3).until("C", 4, ended_by="self")
    table = rows(log, tmp_path)
    assert table[["candle", "burns_left"]].to_numpy().tolist() == [["A", 1]]


@pytest.mark.slow
def test_the_day_of_the_last_burn_by_how_often_candles_are_lit(tmp_path):
    daily = Log(A="flat braid 2").until("A", 3)
    assert rows(daily, tmp_path / "daily")["ends_on"].tolist() == [pd.Timestamp("2026-06-06")]
    other = Log(A="flat braid 2").until("A", 3)
    for burn, day in ((2, 3), (3, 5)):
        other.burn("A", burn, lit_at=f"2026-06-0{day} 09:00", out_at=f"2026-06-0{day} 13:00")
    assert rows(other, tmp_path / "other")["ends_on"].tolist() == [pd.Timestamp("2026-06-11")]


def test_after_one_burn_of_one_candle_no_day_is_known(tmp_path):
    worked = Log(A="flat braid 2").until("A", 1).worked(tmp_path)
    assert worked.remaining["ends_on"].isna().all()
    assert step(worked, "flat braid 2") == (
        "Keep burning A (about 5 more burns). Miss no check: late burns run hottest."
    )


@pytest.mark.parametrize("over", [{"ended_by": "self"}, {"ended_by": "stopped"}])
def test_what_went_out_or_was_stopped_does_not_burn_on(tmp_path, over):
    assert rows(Log(A="flat braid 2").until("A", 3, **over), tmp_path).empty


def test_a_candle_that_failed_is_not_lit_again(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 2").until("A", 3).until("B", 3)
    log.check("A", 2, 60, pool_depth_mm=15)
    assert rows(log, tmp_path)["candle"].tolist() == ["B"]


def test_a_candle_set_aside_is_not_asked_for(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 2").until("A", 3).until("B", 3).aside("B")
    assert rows(log, tmp_path)["candle"].tolist() == ["A"]


def test_a_re_wicked_candle_burns_on_for_its_new_wick(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2").wick("A", 2, "flat braid 2").until("A", 3)
    table = rows(log, tmp_path)
    assert table[["candidate", "candle", "run"]].to_numpy().tolist() == [["flat braid 2", "A", 2]]


NEAR = [
    ({"wall_c": 62}, "the wall", "62 °C, your limit is 65 °C/149 °F"),
    ({"flame_height_mm": 68}, "the flame", "68 mm, the EN 15493 limit is 75 mm"),
    ({"pool_depth_mm": 12.5}, "the melt pool", "12.5 mm, your limit is 13 mm"),
    ({"wall_c": 51}, "", ""),  # under four fifths of the limit
]


@pytest.mark.slow
@pytest.mark.parametrize(("seen", "thing", "reading"), NEAR)
def test_what_to_look_at_tomorrow(tmp_path, seen, thing, reading):
    log = Log(A="flat braid 2").until("A", 2).check("A", 2, 180, **seen)
    table = rows(log, tmp_path)
    assert table[["look_at", "reading"]].to_numpy().tolist() == [[thing, reading]]


def test_of_two_readings_the_one_nearer_to_its_limit(tmp_path):
    log = Log(A="flat braid 2").until("A", 2).check("A", 2, 180, wall_c=64, flame_height_mm=72)
    assert rows(log, tmp_path)["look_at"].tolist() == ["the wall"]  # 98 against 96 %


@pytest.mark.slow
def test_a_running_batch_says_what_burns_on(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 2", C="flat braid 3")
    log.until("A", 3).until("B", 2).until("C", 2).every_check("C", wall_c=62)
    assert lines(log.worked(tmp_path)) == (
        "No wick can be picked yet: A, B and C are still burning.",
        "This is screening evidence, not a certificate.",
        "Still burning: flat braid 2. A and B have burned without a failure so far.",
        "Still burning: flat braid 3. C has burned without a failure so far.",
        "Next: Keep burning A (flat braid 2, about 3 more burns), B (flat braid 2, about 4 more "
        "burns) and C (flat braid 3, about 4 more burns). At this pace the last burn is on 6 June "
        "2026. Watch the wall of C (62 °C, your limit is 65 °C/149 °F).",
    )


@pytest.mark.slow
def test_no_candle_of_a_wick_that_is_stopped_burns_on(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 2", C="flat braid 1")
    log.until("A", 2).until("B", 2).until("C", 2).check("A", 1, 60, vessel_damaged="yes")
    told = lines(log.worked(tmp_path / "one"))
    assert any("until you know what went wrong" in line for line in told)
    (burn_on,) = [line for line in told if "Keep burning" in line]
    assert "C (" in burn_on
    assert "B (" not in burn_on
    assert "No wick can be picked yet: C is still burning." in told


def test_nothing_burns_on_in_a_batch_at_its_end(tmp_path):
    table = rows(Log(A="flat braid 2"), tmp_path)
    assert table.empty
    assert list(table) == [
        "candidate", "candle", "run", "burns_left", "hours_left_h", "ends_on", "look_at", "reading"
    ]  # fmt: skip

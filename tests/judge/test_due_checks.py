"""Checks that were due: one rule for the log, for safety and for the pages.

A check every hour: the hourly record of ASTM F2417, read second-hand. Tolerance of 15 min, that a
stopped burn owes the reading for which it was stopped, and that a candle has to be watched for half
of its time: common practice, no source.
"""

import batches
import numpy as np
import pytest
from judged import Log, because, fates

from candlelab.candle_formulas import unchecked

HOURS = [60, 120, 180, 240]


@pytest.mark.parametrize(
    ("minutes", "checks", "stopped", "gap"),
    [
        (240, HOURS, False, None),
        (240, [60, 120, 180], False, None),  # the last interval may end unchecked
        (240, [60, 120], False, (120, 240)),
        (240, [75, 150, 225], False, None),  # each a quarter of an hour late
        (240, [76, 120, 180], False, (0, 76)),
        (240, [60, 120, 196], False, (120, 196)),
        (240, [60, 240], False, (60, 240)),
        (240, [5, 10, 15], False, (15, 240)),
        (255, [60, 120, 180], False, None),
        (256, [60, 120, 180], False, (180, 256)),
        (11, [], False, None),
        (59, [], False, None),
        (60, [], False, (0, 60)),  # a check was due when it was put out
        (60, [1], False, (1, 60)),
        (60, [45], False, None),
        (70, [2], False, (2, 70)),
        (70, [2], True, (2, 70)),  # the reading for which it was stopped is missing
        (70, [60], True, None),
        (40, [], True, (0, 40)),
        (40, [38], True, None),
        (12, [], True, None),  # within the tolerance of its lighting
        (100, [60], True, (60, 100)),
    ],
)
def test_the_first_stretch_in_which_a_check_was_due(minutes, checks, stopped, gap):
    start, end = unchecked(
        np.zeros(len(checks), int), checks, [minutes], [stopped], every=60, tolerance=15
    )
    assert (start[0], end[0]) == (gap or (pytest.approx(np.nan, nan_ok=True),) * 2)


def test_burns_are_told_apart_and_checks_may_come_in_any_order():
    burn, elapsed = [1, 0, 1, 0, 1], [180, 60, 60, 120, 120]
    start, end = unchecked(burn, elapsed, [240, 240, 30], [False] * 3, every=60, tolerance=15)
    np.testing.assert_array_equal(start, [120, np.nan, np.nan])
    np.testing.assert_array_equal(end, [240, np.nan, np.nan])


# ---------------------------------------------------------------- what it means for a candle


@pytest.mark.slow
@pytest.mark.parametrize("minutes", [5, 11, 37, 59])
def test_a_burn_too_short_for_a_check_costs_no_verdict(tmp_path, minutes):
    worked = Log(A="flat braid 2", B="flat braid 2").short("A", minutes).worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "safe so far"}
    assert worked.gaps.empty
    assert worked.verdicts.candidates["n_passed"].tolist() == [2]


def test_several_short_burns_in_between_cost_no_verdict(tmp_path):
    log = Log(A="flat braid 2")
    for burn in (2, 4):
        log.missed("A", burn).burn("A", burn, out_at=f"2026-06-{burn:02d} 09:30", used=2.5)
    log.burn("A", 5, used=36)
    worked = log.worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "safe so far"}
    assert worked.gaps.empty


@pytest.mark.slow
def test_the_last_hour_of_a_burn_may_end_unchecked(tmp_path):
    log = Log(A="flat braid 2")
    for burn in range(1, 6):
        log.missed("A", burn, 240)
    assert fates(log.worked(tmp_path)) == {"flat braid 2": "safe so far"}


def test_burns_that_are_all_too_short_for_a_check_are_no_pass(tmp_path):
    """40 burns of half an hour: no check was ever due, and nobody ever looked."""
    log = Log()
    log.poured("A")
    log.burns = [
        batches.burn("A", 1, 2.4, h=0.5)
        | {"burn": n, "lit_at": f"2026-0{6 + (n > 20)}-{1 + (n - 1) % 20:02d} 09:00",
           "out_at": f"2026-0{6 + (n > 20)}-{1 + (n - 1) % 20:02d} 09:30",
           "ended_by": "self" if n == 40 else "timer"}
        for n in range(1, 41)
    ]  # fmt: skip
    assert because(log.worked(tmp_path), "flat braid 2") == (
        "A is not fully checked: 20.0 of its 20.0 h were in burns too short for a check."
    )


def test_one_look_does_not_make_up_for_hours_without_any(tmp_path):
    """12 h in burns of 50 min without a look, 8 h with every check."""
    log = Log(A="flat braid 2")
    log.burns, log.checks = log.burns[3:], [r for r in log.checks if r["burn"] > 3]
    short = [
        batches.burn("A", n, 4.0, h=50 / 60) | {"lit_at": f"2026-05-{n:02d} 09:00",
                                               "out_at": f"2026-05-{n:02d} 09:50"}
        for n in range(1, 15)
    ]  # fmt: skip
    log.burns = short + [row | {"burn": row["burn"] + 11} for row in log.burns]
    log.checks = [row | {"burn": row["burn"] + 11} for row in log.checks]
    worked = log.worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "not fully checked"}
    assert worked.gaps["why"].tolist() == ["11.7 of its 19.7 h were in burns too short for a check"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("burn", "minutes", "why"),
    [
        (2, (120,), "no check from minute 60 to 180 of burn 2"),
        (3, (60,), "no check in the first 2 h of burn 3"),
        (4, (60, 120, 180, 240), "no check in burn 4 (4 h)"),
        (1, (180, 240), "no check from minute 120 to 240 of burn 1"),
    ],
)
def test_a_check_that_was_due_and_not_made_costs_the_pass(tmp_path, burn, minutes, why):
    worked = Log(A="flat braid 2").missed("A", burn, *minutes).worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "not fully checked"}
    assert because(worked, "flat braid 2") == f"A is not fully checked: {why}."


def stopped_after_70_min(check_at):
    log = Log(A="flat braid 2", B="flat braid 2").until("A", 2, 70, ended_by="stopped")
    log.missed("A", 2)
    log.checks.append(batches.check("A", 2, check_at))
    return log


def test_a_stopped_burn_owes_the_reading_for_which_it_was_stopped(tmp_path):
    worked = stopped_after_70_min(2).worked(tmp_path)
    assert worked.gaps[["candle", "burn", "elapsed_min"]].to_numpy().tolist()[0] == ["A", 2, 70]
    assert worked.gaps["why"].tolist() == [
        "no check from minute 2 to 70 of burn 2, which was stopped without a reading",
        "stopped in burn 2 with 75 % of its wax left",
    ]


def test_a_stopped_burn_with_its_reading_lacks_only_the_end(tmp_path):
    worked = stopped_after_70_min(68).worked(tmp_path)
    assert worked.gaps["why"].tolist() == ["stopped in burn 2 with 75 % of its wax left"]
    assert fates(worked) == {"flat braid 2": "safe so far"}  # by B


def test_a_studio_may_check_more_often(tmp_path):
    log = Log(A="flat braid 2").settings("[protocol]\ncheck_every_min = 30\n")
    worked = log.worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "not fully checked"}
    assert worked.gaps["why"].iat[0] == "no check in the first hour of burn 1"


def test_hourly_burns_with_a_look_at_the_first_minute_are_no_pass(tmp_path):
    """A protocol of one-hour burns does not loosen the hourly record."""
    log = Log()
    log.poured("A")
    log.settings("[protocol]\nburn_h = 1\n")
    log.burns = [
        batches.burn("A", n, 4.85, h=1, ended_by="self" if n == 20 else "timer")
        for n in range(1, 21)
    ]
    log.checks = [batches.check("A", n, 1) for n in range(1, 21)]
    worked = log.worked(tmp_path)
    assert fates(worked) == {"flat braid 2": "not fully checked"}
    assert len(worked.gaps) == 20


@pytest.mark.slow
def test_a_check_with_a_blank_cell_is_no_check_of_that_criterion(tmp_path):
    worked = Log(A="flat braid 2").short("A").worked(tmp_path / "none")
    assert worked.gaps.empty
    log = Log(A="flat braid 2").short("A")
    log.checks.append(batches.check("A", 6, 5, wall_c=None))
    worked = log.worked(tmp_path / "blank")
    assert worked.gaps["why"].tolist() == [
        "wall temperature not written down in burn 6 at minute 5"
    ]

"""Rules on the burns of a log: their order, their weights, and what left the protocol.

Each function gives the rows of the log that break a rule, by the name of the fault.
"""

from __future__ import annotations

import numpy as np

from candlelab.logs.burn_log import Log
from candlelab.logs.columns import BURN_RATE
from candlelab.logs.groups import any_of, running
from candlelab.logs.read_table import ReadTable
from candlelab.logs.settings import Protocol, Settings

Broken = dict[str, np.ndarray]


def broken_order(log: Log) -> Broken:
    """Out before lit, overlaps, burns out of order, numbers with gaps, burns after the last."""
    follows = (log["burn"] > log["burn_before"]) & ~log["twice"]
    early = log["trusted_lit"] < log["trusted_lit_before"]
    overlap = follows & ~early & (log["trusted_lit"] < log["trusted_out_before"])
    again = np.append((follows & ~log["new_wick"])[1:], False)
    return {
        "out before lit": (log["raw_hours"] <= 0) & ~log["clock_changed"],
        "burn longer than a day": log["raw_hours"] > 24,
        "burns of one candle overlap": overlap,
        "burns out of order": follows & early,
        "burn numbers with a gap": (log["burn"] > log["due"]) & ~log["doubted"],
        "went out by itself before its end": (log["ended_by"] == "self") & again,
    }


def broken_weights(log: Log, settings: Settings | None) -> Broken:
    """Weights within a burn, from one burn to the next, and over the whole candle."""
    code, gained = log["code"], log["used"] < 0
    topped_up = any_of(log["said"], code)
    over = (log["total"] > 1.02 * log["fill_mass_g"]) & ~topped_up & ~log["doubted"]
    first_over = over & (running(over, code) <= 1)
    low, high = BURN_RATE.low, BURN_RATE.high
    wicks = np.fmax(np.nan_to_num(log["wick_count"], nan=1), 1)
    odd = ~gained & ((log["rate"] < low) | (log["rate"] > high * wicks))
    bad = gained | odd | over
    bad |= np.append(False, bad[:-1])
    judged = (log["burn"] == log["burn_before"] + 1) & ~log["twice"] & ~log["known_change"]
    step = np.where(judged, log["start"] - log["end_before"], np.nan)
    slack = max(0.5, 5 * settings.instruments.scale_resolution_g) if settings else 0.5
    wrong = gained | odd | over | (step > slack) | (step < -3 * slack)
    wrong &= any_of(over, code)
    earlier = wrong & (running(wrong, code) <= 1) & ~over
    first_over &= ~any_of(earlier, code)
    step = np.where(bad, np.nan, step)
    return {
        "weights that do not add up": earlier,
        "weight gained in a burn": gained,
        "more wax used than filled": first_over,
        "implausible burn rate": odd & ~first_over & ~earlier,
        "weight gained between burns": step > slack,
        "weight lost between burns": step < -3 * slack,
    }


def off_protocol(burns: ReadTable, log: Log, protocol: Protocol) -> Broken:
    """Deviations from the protocol: listed, never a reason to fail a candle."""
    p = protocol
    weighed = {"mass_before_g", "mass_after_g"} <= set(burns.found)
    untaken = (np.isnan(log["start"]) | np.isnan(log["end"])) & weighed
    by_timer = (log["ended_by"] != "self") & (log["ended_by"] != "stopped")
    off_length = np.abs(log["hours"] - p.burn_h) * 60 > p.burn_tolerance_min
    return {
        "burn too long or too short": off_length & by_timer,
        "room outside the range": (log["room"] < p.room_low_c) | (log["room"] > p.room_high_c),
        "no room temperature": np.isnan(log["room"]) & ("room_c" in burns.found),
        "wick longer than the trim length": log["wick"] > p.wick_length_max_mm,
        "weight not taken": untaken & ~log["twice"],
        "rest too short": (log["rest"] >= 0) & (log["rest"] < p.rest_h),
    }

"""Rules on the burns of a log: their order, their weights, and what left the protocol.

Each function gives the rows of the log that break a rule, by the name of the fault.
"""

from __future__ import annotations

import pandas as pd

from candlelab.logs.columns import BURN_RATE
from candlelab.logs.csv_table import ReadTable
from candlelab.logs.settings import Protocol, Settings

Broken = dict[str, pd.Series]


def broken_order(log: pd.DataFrame) -> Broken:
    """Out before lit, overlaps, burns out of order, numbers with gaps, burns after the last."""
    follows = (log["burn"] > log["burn_before"]) & ~log["twice"]
    early = log["trusted_lit"] < log["trusted_lit_before"]
    overlap = follows & ~early & (log["trusted_lit"] < log["trusted_out_before"])
    again = (follows & ~log["new_wick"]).shift(-1, fill_value=False)
    return {
        "out before lit": (log["raw_hours"] <= 0) & ~log["clock_changed"],
        "burn longer than a day": log["raw_hours"] > 24,
        "burns of one candle overlap": overlap,
        "burns out of order": follows & early,
        "burn numbers with a gap": (log["burn"] > log["due"]) & ~log["doubted"],
        "went out by itself before its end": (log["ended_by"] == "self") & again,
    }


def broken_weights(log: pd.DataFrame, settings: Settings | None) -> Broken:
    """Weights within a burn, from one burn to the next, and over the whole candle."""
    gained = log["used"] < 0
    topped_up = log["said"].groupby(log["code"]).transform("any")
    over = (log["total"] > 1.02 * log["fill_mass_g"]) & ~topped_up & ~log["doubted"]
    first_over = over & _first(over, log)
    low, high = BURN_RATE.low, BURN_RATE.high
    wicks = log["wick_count"].fillna(1).clip(lower=1)
    odd = ~gained & ((log["rate"] < low) | (log["rate"] > high * wicks))
    bad = gained | odd | over
    bad |= bad.shift(fill_value=False)
    judged = (log["burn"] == log["burn_before"] + 1) & ~log["twice"] & ~log["known_change"]
    step = (log["start"] - log["end_before"]).where(judged)
    slack = max(0.5, 5 * settings.instruments.scale_resolution_g) if settings else 0.5
    wrong = gained | odd | over | (step > slack) | (step < -3 * slack)
    wrong &= over.groupby(log["code"]).transform("any")
    earlier = wrong & _first(wrong, log) & ~over
    first_over &= ~earlier.groupby(log["code"]).transform("any")
    step = step.where(~bad)
    return {
        "weights that do not add up": earlier,
        "weight gained in a burn": gained,
        "more wax used than filled": first_over,
        "implausible burn rate": odd & ~first_over & ~earlier,
        "weight gained between burns": step > slack,
        "weight lost between burns": step < -3 * slack,
    }


def _first(mask: pd.Series, log: pd.DataFrame) -> pd.Series:
    """The rows up to the first one of each candle that the mask holds, itself among them."""
    return mask.groupby(log["code"]).cumsum() <= 1


def off_protocol(burns: ReadTable, log: pd.DataFrame, protocol: Protocol) -> Broken:
    """Deviations from the protocol: listed, never a reason to fail a candle."""
    p = protocol
    weighed = {"mass_before_g", "mass_after_g"} <= set(burns.found)
    untaken = (log["start"].isna() | log["end"].isna()) & weighed
    by_timer = ~log["ended_by"].isin(["self", "stopped"])
    off_length = (log["hours"] - p.burn_h).abs() * 60 > p.burn_tolerance_min
    return {
        "burn of another length": off_length & by_timer,
        "room outside the range": (log["room"] < p.room_low_c) | (log["room"] > p.room_high_c),
        "no room temperature": log["room"].isna() & ("room_c" in burns.found),
        "wick longer than the trim length": log["wick"] > p.wick_length_max_mm,
        "weight not taken": untaken & ~log["twice"],
        "rest too short": (log["rest"] >= 0) & (log["rest"] < p.rest_h),
    }

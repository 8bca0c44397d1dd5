"""Which targets a candidate missed, and by how much, in the reader's units."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.groups import as_rows
from candlelab.judge.words import apart
from candlelab.logs.columns import TARGETS
from candlelab.text import counted
from candlelab.units import Display

OFF = "Off target:"
_OF_A_POOL = ("full_pool_h", "burns_to_full_pool")
_TOGETHER = {
    "n_inside": "sum", "n_candles": "sum", "smallest": "min", "largest": "max", "low": "first",
    "high": "first",
}  # fmt: skip
_OF_THE_END = ("life_h", "wax_left_pct")


def missed_label(one) -> str:
    """What a candidate missed, in a few words; ``one`` is a row of `target_results`."""
    if one.target in _OF_A_POOL and not (one.smallest < one.low or one.largest > one.high):
        return "melt pool not full"
    return TARGETS[one.target].label


def target_words(worked, row) -> str:
    """That a candidate was on target, or what it missed; empty where nothing was asked.

    Parameters
    ----------
    worked : WorkedBatch or Together
        A batch, or several, worked out.
    row : tuple
        The candidate's row of ``fates``.
    """
    asked = [one for one in worked.own("targets", row.candidate) if one.n_candles > 0]
    if not asked:
        return ""
    if len({one.target for one in asked}) < len(asked):  # of several batches
        table = pd.DataFrame(map(vars, asked)).groupby("target", sort=False)
        asked = as_rows(table.agg(_TOGETHER).reset_index())
    missed = [one for one in asked if one.n_inside < one.n_candles]
    they = "They were" if row.n_passed > 1 else "It was"
    they = "Every candle of this wick was" if row.n_gaps else they
    if not missed:
        return f" {they} on target for everything you asked for."
    told = [_missed(worked, row.candidate, one) for one in missed]
    return f" {OFF} {'; '.join(told)}."


def _missed(worked, candidate: str, one) -> str:
    """One target that was missed: the reading farthest off, the target, in how many candles."""
    display, own = worked.batch.settings.display, TARGETS[one.target]
    missing = one.n_candles - one.n_inside
    many = f" ({missing} of {counted(one.n_candles, 'candle')})" if one.n_candles > 1 else ""
    under, over = one.smallest < one.low, one.largest > one.high
    if under and over:
        least = apart(one.smallest, one.low, own.unit, display)
        read = f" {least} and {apart(one.largest, one.high, own.unit, display)}"
    elif under or over:
        to = "" if missing == 1 else "down to " if under else "up to "
        ends = (one.smallest, one.low) if under else (one.largest, one.high)
        read = f" {to}{apart(*ends, own.unit, display)}"
    elif one.target in _OF_A_POOL:
        return f"{_pool_words(worked, candidate, display)}{many}"
    else:
        read = " unknown, not burned to the end" if one.target in _OF_THE_END else " not measured"
    return f"{own.label}{read}, target {asked_words(one.low, one.high, own.unit, display)}{many}"


def asked_words(low: float, high: float, unit: str, display: Display) -> str:
    """What was asked for: "5 to 6.5 g/h", "at most 8 %"."""
    if np.isfinite(low) and np.isfinite(high):
        return f"{display.bare(low, unit)} to {display.written(high, unit)}"
    return f"at {'least' if np.isfinite(low) else 'most'} " + display.written(
        low if np.isfinite(low) else high, unit
    )


def _pool_words(worked, candidate: str, display: Display) -> str:
    """In how many burns the pool of the slowest candle did not get there, and by how much."""
    burns, names = worked.burns, ["candle", "vessel", "full_pool_h", "pool_share_max_pct"]
    counts = (burns["candidate"] == candidate) & (burns["run"] == 1) & ~burns["excluded"]
    own = burns.loc[counts & burns["pool_watched_h"].notna(), names]
    never = own["full_pool_h"].isna()
    share = never.groupby(own["candle"], sort=False).mean()
    if share.empty or not share.max():
        return "melt pool not full"
    name = share.idxmax()
    short = own[never & (own["candle"] == name)]
    gap = (1.0 - short["pool_share_max_pct"].median() / 100.0) * _inner_mm(worked, short) / 2.0
    by = "" if pd.isna(gap) else f", usually {display.amount(gap, 'mm')} short of the wall"
    burned = counted(int((own["candle"] == name).sum()), "burn")
    return f"melt pool of {name} not full in {len(short)} of {burned}{by}"


def _inner_mm(worked, burns: pd.DataFrame) -> float:
    """Inner diameter of the vessel of some burns [mm]; NaN where no batch says it."""
    vessel = burns["vessel"].iat[0]
    known = (batch.settings.vessels.get(vessel) for batch in worked.batches)
    return next((one.inner_diameter_mm for one in known if one and one.inner_diameter_mm), np.nan)

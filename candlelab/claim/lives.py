"""How long each candle of a candidate burned: to its last flame, and to the wax that is left."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.candle_formulas import wax_of_depth
from candlelab.compare.pooled import UNIT, Pooled
from candlelab.text import amount

LEAVE_MM = (
    12.7  # half an inch, as labels of container candles often say; common practice, no source
)
WAX_G_PER_ML = 0.9  # common practice, no source
ENDED, ASIDE, REPLACED = "burned to its end", "set aside", "its wick was changed"
STOPPED, WENT_OUT, BURNING = "put out for good", "went out by itself early", "still burning"
_PROJECTED = ("life_projected_h", "life_low_h", "life_high_h")
_OF_CANDLE = [
    "candle", "fill_mass_g", "life_h", "hours_h", "wax_left_pct", *_PROJECTED, "excluded",
    "exclusion_reason", "replaced", "ended",
]  # fmt: skip
_OF_BURN = [
    *UNIT, "run", "burn", "vessel", "fill_mass_g", "burn_time_h", "fill_used_start_pct",
    "fill_used_pct", "ended_by",
]  # fmt: skip
COLUMNS = [
    "batch", "candle", "fill_mass_g", "life_h", "depth_h", "hours_h", "wax_left_pct",
    "life_projected_h", "life_low_h", "life_high_h", "counts", "how", "why",
]  # fmt: skip


def lives_of(pooled: Pooled, own: pd.DataFrame, leave_mm: float) -> pd.DataFrame:
    """One row per candle that was lit: its life, or why it has none that counts.

    Parameters
    ----------
    pooled : Pooled
        The batches.
    own : pandas.DataFrame
        ``batch`` and ``candle`` of the candle of one candidate, those set aside as well.
    leave_mm : float
        Depth of wax [mm] that the label says to leave; 0 for none.

    Returns
    -------
    pandas.DataFrame
        ``life_h`` where it burned to its end by itself on the wick that it was poured with and was
        not set aside (``counts``); ``depth_h`` when ``leave_mm`` of wax were left; ``how`` it
        ended, and ``why`` in words.
    """
    tables = [one.candles[_OF_CANDLE].assign(batch=name) for name, one in pooled.worked.items()]
    rows = own[UNIT].merge(pd.concat(tables, ignore_index=True), on=UNIT, how="left")
    keys = [*zip(rows["batch"], rows["candle"], strict=True)]
    wanted = pd.MultiIndex.from_frame(pooled.burns[UNIT]).isin(keys)
    burns = dict(list(pooled.burns[_OF_BURN][wanted].groupby(UNIT, sort=False)))
    how = [_how(row, burns[key]) for row, key in zip(rows.itertuples(), keys, strict=True)]
    each = list(zip(rows.itertuples(), how, keys, strict=True))
    ahead = pd.Series([kind == BURNING for kind in how], index=rows.index, dtype=bool)
    counts = pd.Series([kind == ENDED for kind in how], index=rows.index, dtype=bool)
    projected = {n: rows[n].where(ahead).astype(float) for n in _PROJECTED}
    return rows.assign(
        life_h=rows["life_h"].where(counts).astype(float),
        depth_h=[_to_depth(pooled, burns[key], kind, leave_mm) for _, kind, key in each],
        **projected,
        counts=counts,
        how=pd.Series(how, index=rows.index, dtype="str"),
        why=pd.Series([_why(row, kind, burns[key]) for row, kind, key in each], dtype="str"),
    )[COLUMNS]


def _how(row, burns: pd.DataFrame) -> str:
    if row.excluded:
        return ASIDE
    if row.replaced:
        return REPLACED
    if row.ended:
        return ENDED
    return {"self": WENT_OUT, "stopped": STOPPED}.get(burns["ended_by"].iat[-1], BURNING)


def _why(row, how: str, burns: pd.DataFrame) -> str:
    left = f"{amount(row.wax_left_pct, '%', 0)} of its wax left"
    burned = f"after {amount(row.hours_h, 'h')}, with {left}"
    if how == ASIDE:
        return f"set aside ({row.exclusion_reason}); it burned {amount(row.hours_h, 'h')}"
    if how == BURNING:
        return f"still burning {burned}: its life is projected"
    if how in (STOPPED, WENT_OUT):
        return f"{how} in burn {burns['burn'].iat[-1]}, {burned}"
    return how


def _to_depth(pooled: Pooled, burns: pd.DataFrame, how: str, leave_mm: float) -> float:
    """Hours until so much wax was left; missing where the candle did not get there, or was level
    with it from the start.

    One that ended by itself above it was over then.
    """
    first = burns.iloc[0]
    burns = burns[burns["run"] == 1]
    if leave_mm <= 0.0 or how == ASIDE:
        return np.nan
    vessel = pooled.batches[first["batch"]].settings.vessels[first["vessel"]]
    leave = wax_of_depth(leave_mm, vessel.inner_diameter_mm, WAX_G_PER_ML)
    goal = 100.0 * (1.0 - leave / first["fill_mass_g"])
    if goal <= 0.0:
        return np.nan
    hours = burns["burn_time_h"].cumsum().to_numpy()
    start, used = burns["fill_used_start_pct"].to_numpy(), burns["fill_used_pct"].to_numpy()
    over = np.flatnonzero(used >= goal)
    if not len(over):
        return float(hours[-1]) if how == ENDED else np.nan
    n = over[0]
    share = (goal - start[n]) / (used[n] - start[n]) if used[n] > start[n] else 1.0
    return float(hours[n] - burns["burn_time_h"].to_numpy()[n] * (1.0 - np.clip(share, 0.0, 1.0)))

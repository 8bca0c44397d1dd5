"""The one value that each candle has for a metric: every page that compares reads it here.

A candle counts once, with the wick that it was poured with: a second wick met a part-used candle.
A rate is all the wax by all the time, so a burn of three minutes weighs three minutes. A candle
that was not watched through its whole life stands at another depth: its rate is carried to the
depth of the others, along the curve that rates follow from a full candle to an empty one. A largest
reading cannot be carried: such a candle is kept out, because it was not seen in its hottest
burns.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.compare.pooled import UNIT, Pooled
from candlelab.text import capital, counted, listed, of_folder

MEANS = ("burn_rate_g_per_h", "heat_release_w", "fragrance_release_g_per_h")
LARGEST = (
    "wall_max_c", "wall_max_warm_room_c", "flame_max_mm", "pool_depth_max_mm",
    "pool_share_max_pct", "mushroom_max_mm", "soot_max",
)  # fmt: skip
# Depths that differ by less are one depth [% of the fill]; common practice, no source.
ONE_DEPTH_PCT = 2.0
_BEND_BURNS = 8  # burns beyond one of each candle at which a bend is fitted
CARRIED = "moved to the depth of the others"


def candle_values(pooled: Pooled, metric: str) -> pd.DataFrame:
    """One row per fresh candle: its value, whether it counts, and what has to be said of it.

    Parameters
    ----------
    pooled : Pooled
        The batches.
    metric : str
        A column of numbers of its fresh candles.

    Returns
    -------
    pandas.DataFrame
        The fresh candles with ``value``, ``counts``, ``carried`` and ``why``, which says why a
        candle does not count or was carried.
    """
    ends = {name: b.settings.protocol.end_wax_left_pct for name, b in pooled.batches.items()}
    whole_at = 100.0 - pooled.fresh["batch"].map(ends)
    return values_of(pooled.fresh, pooled.burns, metric, whole_at)


def values_of(fresh: pd.DataFrame, burns: pd.DataFrame, metric: str, whole_at) -> pd.DataFrame:
    """As `candle_values`; ``whole_at`` is the share of the fill [%] that a whole life uses."""
    value = fresh[metric].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    known = ~np.isnan(value)
    used = fresh["fill_used_pct"].to_numpy(dtype=float)
    short = used < np.asarray(whole_at, dtype=float)
    cut = np.array([f"cut short at {share:.0f} % of the fill" for share in used], dtype=object)
    why = np.where(known, "", _no_value(metric)).astype(object)
    carried = np.zeros(len(fresh), dtype=bool)
    if metric in MEANS:
        step, own = _to_one_depth(fresh, burns, metric, short)
        carried = known & own
        value = np.where(carried, value + step, value)
        told = np.where(short, cut, "not all of its burns count")
        why = np.where(carried, told + f": {CARRIED}", why)
    elif metric in LARGEST and short.any() and (~short).any():
        why = np.where(short & known, cut + ", before its last burns: at least this", why)
    return fresh.assign(
        value=value,
        counts=known & ((why == "") | carried),
        carried=carried,
        why=pd.Series(why, index=fresh.index, dtype="str"),
        excluded=False,
    )


def said_of(table: pd.DataFrame, what: str) -> list[str]:
    """In words, which candles of `candle_values` were carried, and which do not count and why."""
    several, said = table["batch"].nunique() > 1, []
    reason = table["why"].str.replace(r" at \d+ % of the fill", "", regex=True)
    for so, part in table[table["why"] != ""].groupby(reason, sort=False):
        where = " in " + part["batch"].map(of_folder) if several else ""
        names = part["candle"] + where
        who = f"{counted(len(part), 'candle')} ({listed(list(names), 6)})"
        counts = "" if part["counts"].any() else ", set aside"
        said.append(capital(f"{what} of {who}{counts}: {so}."))
    return said


def _no_value(metric: str) -> str:
    if metric in ("full_pool_h", "burns_to_full_pool"):
        return "no value: the pool was not full in most burns"
    if metric in ("life_h", "wax_left_pct"):
        return "no value: not burned to its end on this wick"
    return "no value: not measured"


def _to_one_depth(fresh, burns, metric, short) -> tuple[np.ndarray, np.ndarray]:
    """What carries each candle's mean to the depth of the others, and for which it is needed."""
    first = burns[burns["run"] == 1]
    rows = first[~first["excluded"] & first[metric].notna()]
    code = pd.MultiIndex.from_frame(fresh[UNIT]).get_indexer(pd.MultiIndex.from_frame(rows[UNIT]))
    rows, code = rows[code >= 0], code[code >= 0]
    weight = rows["burn_time_h"].to_numpy(dtype=float)
    hours = np.bincount(code, weight, minlength=len(fresh))

    def mean(values):
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.bincount(code, weight * values, minlength=len(fresh)) / hours

    depth = rows["depth_pct"].to_numpy(dtype=float) / 100.0
    middle = mean(depth)
    burned = first.groupby(UNIT)["burn_time_h"].sum()
    burned = burned.reindex(pd.MultiIndex.from_frame(fresh[UNIT])).to_numpy(dtype=float)
    whole = ~short & (hours > burned - 1e-9) & np.isfinite(middle)
    usual = whole if whole.any() else np.isfinite(middle)
    if not usual.any():
        return np.zeros(len(fresh)), np.zeros(len(fresh), dtype=bool)
    apart = 100.0 * np.abs(middle - middle[usual].mean()) > ONE_DEPTH_PCT
    y = rows[metric].to_numpy(dtype=float)
    curve = mean(_curve(depth, y, weight, code, mean))
    step = curve[usual].mean() - curve
    return np.where(np.isfinite(step), step, 0.0), ~whole & apart


def _curve(depth, y, weight, code, mean) -> np.ndarray:
    """What depth does to each burn: a parabola within candles, all together, weighted by time.

    A straight line where there are few burns, nothing where candles have one each.
    """
    spare = len(depth) - len(np.unique(code))
    degree = 2 if spare >= _BEND_BURNS else min(spare, 1)
    if degree < 1:
        return np.zeros(len(depth))
    powers = np.column_stack([depth ** (n + 1) for n in range(degree)])
    root = np.sqrt(weight)
    x = np.column_stack([p - mean(p)[code] for p in powers.T]) * root[:, None]
    return powers @ np.linalg.lstsq(x, (y - mean(y)[code]) * root, rcond=1e-6)[0]

"""What a candle, an hour and a step of scent cost, and what the next load buys.

Costs never choose: they stand beside candidates that safety, targets and noses have put in order.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.candle_formulas import fragrance_fraction
from candlelab.judge.scent import LOAD, Strength
from candlelab.logs.settings import Prices


def candle_cost(
    prices: Prices, *, fill_g, load_pct, basis: str, wicks=1.0
) -> tuple[float, float, float]:
    """Cost of one candle's wax, of its fragrance, and of the whole; what has no price counts 0.

    Parameters
    ----------
    prices : Prices
    fill_g, load_pct : float
        Mass poured, and load on the basis that ``basis`` names.
    basis : {"wax", "total"}
    wicks : float
        Wicks in the candle.
    """
    oil = fill_g * float(fragrance_fraction(load_pct, basis))
    wax = _each(prices.wax_price, prices.wax_bought_g) * (fill_g - oil)
    fragrance = _each(prices.fragrance_price, prices.fragrance_bought_g) * oil
    pieces = (
        _each(prices.wick_price, prices.wicks_bought) * wicks
        + _each(prices.vessel_price, prices.vessels_bought)
        + _each(prices.label_price, prices.labels_bought)
    )
    return wax, fragrance, wax + fragrance + pieces


def _each(price: float | None, bought: float) -> float:
    return 0.0 if price is None else price / bought


def has_prices(prices: Prices) -> bool:
    """Whether anything has a price."""
    return any(getattr(prices, f"{what}_price") is not None for what in _PRICED)


def unpriced(prices: Prices) -> list[str]:
    """What has no price, and is left out of the cost."""
    return [what for what in _PRICED if getattr(prices, f"{what}_price") is None]


_PRICED = ("wax", "fragrance", "wick", "vessel", "label")


def worth_table(worked, strength: Strength) -> pd.DataFrame:
    """One row per candidate that was smelled, the lowest load first.

    Parameters
    ----------
    worked : WorkedBatch
    strength : Strength
        What its panel says.

    Returns
    -------
    pandas.DataFrame
        ``candidate, fate, scent, cost_wax, cost_fragrance, cost_candle, life_h, cost_of_hour,
        cost_step, cost_more, gain, gain_low, gain_high, kept, kept_pct``; empty without a price.
    """
    prices, basis = worked.batch.settings.prices, worked.batch.settings.load_basis
    if not has_prices(prices):
        return pd.DataFrame(columns=_COLUMNS)
    own = strength.scores.drop_duplicates("candidate").sort_values([LOAD, "candidate"])
    candles = worked.candles.groupby("candidate")
    fates = worked.fates.set_index("candidate")["fate"]
    lives = worked.fresh.groupby("candidate")["life_h"].mean()
    rows: list[dict] = []
    blank = blank_mean(strength)
    for level, name, load in own[[strength.by, "candidate", LOAD]].itertuples(index=False):
        if name not in candles.groups:
            continue
        poured = candles.get_group(name)
        wicks = poured["wick_count"].mean() if "wick_count" in poured else 1.0
        costs = candle_cost(
            prices, fill_g=poured["fill_mass_g"].mean(), load_pct=load, basis=basis,
            wicks=1.0 if np.isnan(wicks) else wicks,
        )  # fmt: skip
        row = dict(zip(("cost_wax", "cost_fragrance", "cost_candle"), costs, strict=True))
        row |= {"candidate": name, "fate": fates.get(name, ""), "life_h": lives.get(name, np.nan)}
        row["cost_of_hour"] = row["cost_candle"] / row["life_h"]
        row |= _scent(level_mean(strength, level), blank, row["cost_fragrance"])
        row |= _sold(prices, row["cost_candle"])
        lower = [one for one in rows if strength.by == LOAD and one["_l"] < level]
        below = lower[-1] if lower else None
        rows.append(row | _next_load(strength, below, level, row["cost_candle"]) | {"_l": level})
    return pd.DataFrame(rows).reindex(columns=_COLUMNS)


_COLUMNS = [
    "candidate", "fate", "scent", "cost_wax", "cost_fragrance", "cost_candle", "life_h",
    "cost_of_hour", "cost_step", "cost_more", "gain", "gain_low", "gain_high", "kept", "kept_pct",
]  # fmt: skip


def _scent(value: float, blank: float, oil: float) -> dict:
    """The strength of a candidate, and what one step of it above the blank costs in fragrance."""
    above = value - blank
    return {"scent": value, "cost_step": oil / above if above > 0 and oil > 0 else np.nan}


def level_mean(strength: Strength, level) -> float:
    """Mean hot throw of one level; that of its scores for the blank."""
    if strength.hot is not None and level in strength.hot.levels:
        means = strength.hot.estimates
        return float(means.loc[[x == level for x in means["candidate"]], "estimate"].iloc[0])
    own = strength.scores[(strength.scores[strength.by] == level)]
    return float(own.loc[own["state"] == "hot", "score"].mean())


def blank_mean(strength: Strength) -> float:
    """Mean hot throw of the candles without fragrance; missing without them."""
    own = strength.scores[(strength.scores[LOAD] == 0) & (strength.scores["state"] == "hot")]
    return float(own["score"].mean())


def _sold(prices: Prices, cost: float) -> dict:
    left = np.nan if prices.sold_at is None else prices.sold_at - cost
    return {"kept": left, "kept_pct": 100 * left / prices.sold_at if prices.sold_at else np.nan}


def _next_load(strength: Strength, below: dict | None, level, cost: float) -> dict:
    """What a load costs and gains beside the one below it."""
    none = dict.fromkeys(("cost_more", "gain", "gain_low", "gain_high"), np.nan)
    if below is None:
        return none
    found = none | {"cost_more": cost - below["cost_candle"]}
    hot = strength.hot
    if hot is None or level not in hot.levels or below["_l"] not in hot.levels:
        return found
    pairs = hot.differences
    row = pairs[(pairs["candidate"] == level) & (pairs["reference"] == below["_l"])].iloc[0]
    return found | {
        "gain": row["estimate"], "gain_low": row["conf_low"], "gain_high": row["conf_high"],
    }  # fmt: skip

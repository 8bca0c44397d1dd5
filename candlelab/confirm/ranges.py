"""Fresh candles held against what their screening predicted.

A candle falls inside or outside of a range; a time that ends between two checks may leave that
untold.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.confirm.rounds import Round
from candlelab.judge.predicted import LEFT, POOL, WALL, WALL_WARM, Predicted, ranges
from candlelab.pages.glossary import GLOSSARY, column
from candlelab.text import amount
from candlelab.units import Display

INSIDE, BELOW, ABOVE, OUTSIDE = "inside", "below", "above", "outside"
UNTOLD, UNMEASURED = "ends between two checks", "not measured"
RANGE_COLUMNS = [
    "candidate", "metric", "quantity", "n_screened", "middle", "range_low", "range_high",
    "n_measured", "fresh_mean", "mean_low", "mean_high", "n_outside", "held", "candle_sd", "df",
    "spread_from",
]  # fmt: skip
CANDLE_COLUMNS = [
    "candle", "candidate", "metric", "quantity", "value", "after", "until", "range_low",
    "range_high", "fell",
]  # fmt: skip


def label(metric: str) -> str:
    """The measurement in words."""
    return {WALL: "wall temperature", WALL_WARM: "wall temperature (warm room)"}.get(
        metric, GLOSSARY[metric].label
    )


def hold(f: Predicted, second: Round, own: str, error: float) -> tuple[dict, list[dict]]:
    """One row for the range, and one for each fresh candle of the candidate."""
    values = second.values[second.values["candidate"] == own]
    names = (POOL, "pool_low", "pool_high") if f.metric == POOL else (f.metric,) * 3
    value, low, high = (values[name].where(values["whole"]).to_numpy(dtype=float) for name in names)
    measured = ~np.isnan(low) & ~np.isnan(high)
    m, mean = int(measured.sum()), _mean(value[measured], f)
    ends = (np.nan,) * 4 if f.why_not else ranges(f, max(m, 1), error)
    places = [
        _place(a, b, *ends[:2]) if ok else UNMEASURED
        for a, b, ok in zip(low, high, measured, strict=True)
    ]
    bracket = (mean, mean)
    if f.metric == POOL and m:
        bracket = (low[measured].mean(), high[measured].mean())
    known = m and not f.why_not
    of_all = [*places, _place(*bracket, *ends[2:]) if known else UNMEASURED]
    told = second.batch.settings.display.heading(column(f.metric))
    any_out = any(place in (BELOW, ABOVE) for place in of_all)
    same = {"candidate": f.candidate, "metric": f.metric, "quantity": told}
    row: dict[str, object] = same | {
        "range_low": ends[0],
        "range_high": _finite(ends[1]),
        "n_screened": f.n,
        "middle": f.value,
        "n_measured": m,
        "fresh_mean": mean,
        "mean_low": ends[2],
        "mean_high": _finite(ends[3]),
        "n_outside": sum(place in (BELOW, ABOVE) for place in places),
        "held": f.why_not or (UNMEASURED if not m else OUTSIDE if any_out else INSIDE),
        "candle_sd": f.value * (np.exp(f.sd) - 1.0) if f.by_ratio else f.sd,
        "df": f.df,
        "spread_from": _spread_from(f),
    }
    between = f.metric == POOL
    return row, [
        same
        | {
            "candle": candle,
            "value": v,
            "after": a if between else np.nan,
            "until": _finite(b) if between else np.nan,
            "fell": "no range" if f.why_not else place,
        }
        for candle, v, a, b, place in zip(values["candle"], value, low, high, places, strict=True)
    ]


def _spread_from(f: Predicted) -> str:
    if f.groups == (f.candidate,):
        return "its own candles"
    return f"{len(f.groups)} candidates" if f.groups else ""


def _finite(value: float) -> float:
    return value if np.isfinite(value) else np.nan


def _mean(values: np.ndarray, f: Predicted) -> float:
    values = values[~np.isnan(values)]
    if not len(values):
        return np.nan
    if f.by_ratio:
        return float(np.exp(np.log(np.maximum(values, 1e-3)).mean()))
    return float(values.mean())


def _place(a: float, b: float, low: float, high: float) -> str:
    """Where a value between ``a`` and ``b`` lies; outside only when all of it does."""
    slack = 1e-9 * max(1.0, abs(low))
    if b < low - slack:
        return BELOW
    if a > high + slack:
        return ABOVE
    return INSIDE if a >= low - slack and b <= high + slack else UNTOLD


def screened_values(first: Round, predicted: list[Predicted]) -> pd.DataFrame:
    """One row per whole screening candle of a candidate and measurement."""
    rows, display = [], first.batch.settings.display
    whole = first.values[first.values["whole"]]
    for f in predicted:
        values = whole[f.metric][whole["candidate"] == f.candidate].dropna()
        rows += [
            (candle, f.candidate, f.metric, display.heading(column(f.metric)), value)
            for candle, value in zip(whole["candle"][values.index], values, strict=True)
        ]
    return pd.DataFrame(rows, columns=["candle", "candidate", "metric", "quantity", "value"])


def quantity(metric: str, value: float, display: Display) -> str:
    """A value with its unit, for a sentence."""
    unit = GLOSSARY[metric].unit
    return amount(display.value(value, unit), display.symbol(unit))


def span(metric: str, low: float, high: float, display: Display) -> str:
    """A range with its unit, for a sentence."""
    if np.isnan(high):
        return f"{quantity(metric, low, display)} or more"
    if metric == LEFT and low <= 0.0:
        return f"at most {quantity(metric, high, display)}"
    return f"{quantity(metric, low, display).split(' ')[0]} to {quantity(metric, high, display)}"

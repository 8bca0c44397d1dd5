"""Fresh candles held against what the screening predicted: inside, outside, or not to be told."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.columns import heading
from candlelab.predicting import Predicted, ranges
from candlelab.rounds import LEFT, POOL, Round

INSIDE, BELOW, ABOVE, UNTOLD, UNMEASURED = "inside", "below", "above", "ends between two checks", "not measured"
OUTSIDE = "outside"
RANGE_COLUMNS = ["candidate", "metric", "quantity", "n_screened", "middle", "range_low", "range_high", "n_measured", "fresh_mean", "mean_low",
                  "mean_high", "n_outside", "held", "candle_sd", "df", "spread_from"]  # fmt: skip
CANDLE_COLUMNS = [
    "candle",
    "candidate",
    "metric",
    "quantity",
    "value",
    "after",
    "until",
    "range_low",
    "range_high",
    "fell",
]


def hold(f: Predicted, second: Round, own: str, error: float) -> tuple[tuple, list[tuple]]:
    """One row for the range, and one for each fresh candle of the candidate."""
    values = second.values[second.values["candidate"] == own]
    value = values[f.metric].where(values["whole"]).to_numpy(dtype=float)
    low, high = value, value
    if f.metric == POOL:
        low, high = (values[name].where(values["whole"]).to_numpy(dtype=float) for name in ("pool_low", "pool_high"))
    measured = ~np.isnan(low) & ~np.isnan(high)
    m, quantity = int(measured.sum()), heading(f.metric)
    ends = (np.nan,) * 4 if f.why_not else ranges(f, max(m, 1), error)
    places = [_place(a, b, *ends[:2]) if ok else UNMEASURED for a, b, ok in zip(low, high, measured)]
    mean = _mean(value[measured], f)
    bracket = (low[measured].mean(), high[measured].mean()) if f.metric == POOL and m else (mean, mean)
    outside = sum(place in (BELOW, ABOVE) for place in places)
    mean_place = UNMEASURED if f.why_not or not m else _place(*bracket, *ends[2:])
    held = f.why_not or (UNMEASURED if not m else OUTSIDE if outside or mean_place in (BELOW, ABOVE) else INSIDE)
    shares = "its own candles" if f.groups == (f.candidate,) else f"{len(f.groups)} candidates" if f.groups else ""
    sd = f.sd if not f.by_ratio else f.value * (np.exp(f.sd) - 1.0)
    row = (
        f.candidate,
        f.metric,
        quantity,
        f.n,
        f.value,
        ends[0],
        _finite(ends[1]),
        m,
        mean,
        ends[2],
        _finite(ends[3]),
        outside,
        held,
        sd,
        f.df,
        shares,
    )
    checked = f.metric == POOL
    return row, [
        (candle, f.candidate, f.metric, quantity, v, a if checked else np.nan, _finite(b) if checked else np.nan,
        ends[0], _finite(ends[1]),
         place if not f.why_not else "no range")
        for candle, v, a, b, place in zip(values["candle"], value, low, high, places)
    ]  # fmt: skip


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
    rows = []
    for f in predicted:
        own = first.values[(first.values["candidate"] == f.candidate) & first.values["whole"]]
        rows += [
            (candle, f.candidate, f.metric, heading(f.metric), value)
            for candle, value in zip(own["candle"], own[f.metric])
            if not np.isnan(value)
        ]
    return pd.DataFrame(rows, columns=["candle", "candidate", "metric", "quantity", "value"])


def quantity(metric: str, value: float) -> str:
    """A value with its unit, for a sentence."""
    unit = heading(metric).rpartition("(")[2].rstrip(")")
    return f"{value:.2f} {unit}" if unit in ("g/h", "h") else f"{value:.1f} {unit}"


def span(metric: str, low: float, high: float) -> str:
    """A range with its unit, for a sentence."""
    if np.isnan(high):
        return f"{quantity(metric, low)} or more"
    if metric == LEFT and low <= 0.0:
        return f"at most {quantity(metric, high)}"
    return f"{quantity(metric, low).split(' ')[0]} to {quantity(metric, high)}"

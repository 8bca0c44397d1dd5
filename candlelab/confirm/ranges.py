"""What a screening predicts of fresh candles, and fresh candles held against it.

For each candidate and measurement there is a range, or why there is none. A fresh candle falls
inside or outside of it; a time that ends between two checks may leave that untold.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from candlelab.confirm.rounds import LEFT, POOL, RATE, WALL, WALL_WARM, Round
from candlelab.pages.glossary import GLOSSARY, column
from candlelab.stats.intervals import candles_to_notice, chance_to_notice, reaches, spreads
from candlelab.text import amount
from candlelab.units import Display

# No fewer fresh candles confirm anything, however large the change looked for; common practice, no
# source.
LEAST_CANDLES = 3
# How much pours of one recipe differ: standard deviation from pour to pour, in % of a measurement
# (of a wall's rise over the room). An assumption, where no history says better; no source.
BATCH_SD_PCT = 3.0
_ROOM_C = {WALL_WARM: 30.0, WALL: 25.0}
NO_CANDLE = "no candle of it burned to its end on its first wick in the screening"
NO_RECORD = "not measured in the screening"
NO_POOL = "no full pool was seen in the screening"
NO_SPREAD = (
    "no candidate of the screening has two whole candles with it, so nothing says how far candles "
    "differ"
)
NO_DIFFERENCE = (
    "all candles of the screening are alike in it, and without any variation there is no range"
)


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


@dataclass(frozen=True)
class Predicted:
    """What the screening says of one measurement of one candidate.

    ``middle`` and ``sd`` are logarithms where ``by_ratio``. ``n`` candles of its own gave the
    middle, ``groups`` are the candidates that gave the spread. ``reading_sd`` is what the checks
    leave open of a time, ``batch_sd`` by how much two pours may differ. With ``open_above`` some
    candle never had a full pool, so the range has no upper end. ``why_not`` says why there is no
    range; it is empty when there is one.
    """

    candidate: str
    metric: str
    n: int = 0
    middle: float = np.nan
    sd: float = np.nan
    df: float = np.nan
    groups: tuple[str, ...] = ()
    by_ratio: bool = False
    reading_sd: float = 0.0
    batch_sd: float = 0.0
    open_above: bool = False
    why_not: str = ""

    @property
    def value(self) -> float:
        """The middle in the unit of the metric."""
        return float(np.exp(self.middle)) if self.by_ratio else self.middle

    @property
    def known(self) -> float:
        """The variance that is not from candle to candle, in squares of the spread."""
        extra = self.reading_sd**2 + self.batch_sd**2
        return extra / max(self.sd**2, 1e-6 * extra) if extra > 0.0 else 0.0


def wall_metric(values: pd.DataFrame) -> str:
    """The wall in a 30 degC room where the room is known for every whole candle, else as read."""
    whole = values[values["whole"]]
    known = len(whole) and (whole[WALL_WARM].notna() | whole[WALL].isna()).all()
    return WALL_WARM if known else WALL


def predict(
    one: Round, candidates: list[str], wall: str, batch_sd_pct: float = BATCH_SD_PCT
) -> list[Predicted]:
    """What a round says of rate, wall, time to full pool and wax left of each candidate."""
    whole = one.values[one.values["whole"]]
    found = [
        _predicted(whole, candidate, metric, _values(whole, metric), _spreads(whole, metric))
        for candidate in candidates
        for metric in (RATE, wall, POOL, LEFT)
    ]
    return [f if f.why_not else replace(f, batch_sd=_of_batches(f, batch_sd_pct)) for f in found]


def _of_batches(f: Predicted, batch_sd_pct: float) -> float:
    """By how much two pours may differ: each has its own level, so the root of two times that."""
    size = 1.0 if f.by_ratio else abs(f.middle - _ROOM_C.get(f.metric, 0.0))
    return float(np.sqrt(2.0)) * batch_sd_pct / 100.0 * size


def _by_ratio(whole: pd.DataFrame, metric: str) -> bool:
    """Times and what is left spread in proportion to their size: by logarithms if all have one."""
    return metric in (POOL, LEFT) and bool((whole[metric].dropna() > 0).all())


def _values(whole: pd.DataFrame, metric: str) -> pd.Series:
    """Values to average; without a full pool, the time that a candle was watched without one."""
    values = whole[metric].astype(float)
    if metric == POOL:
        values = values.mask(np.isinf(whole["pool_high"]), whole["pool_low"])
    return np.log(values.mask(values <= 0)) if _by_ratio(whole, metric) else values


def _spreads(whole: pd.DataFrame, metric: str) -> dict:
    values = _values(whole, metric)
    never = set(whole.loc[np.isinf(whole["pool_high"]), "candidate"]) if metric == POOL else set()
    groups = {}
    for name, own in values.dropna().groupby(whole["candidate"], sort=False):
        groups[name] = own.to_numpy()[:1] if name in never else own.to_numpy()
    return spreads(groups)


def _predicted(
    whole: pd.DataFrame, candidate: str, metric: str, values: pd.Series, found: dict
) -> Predicted:
    own = whole["candidate"] == candidate
    values = values[own].dropna()
    if not len(values):
        return Predicted(candidate, metric, why_not=NO_CANDLE if not own.any() else NO_RECORD)
    reading, open_above = 0.0, False
    if metric == POOL:
        width = (whole["pool_high"] - whole["pool_low"])[own].replace(np.inf, np.nan).dropna()
        if width.empty:
            return Predicted(candidate, metric, why_not=NO_POOL)
        width = width / whole.loc[width.index, POOL] if _by_ratio(whole, metric) else width
        # rectangular, JCGM 100:2008, 4.3.7
        reading = float(np.sqrt(np.square(width).mean() / 12.0))
        open_above = bool(np.isinf(whole.loc[own, "pool_high"]).any())
    if candidate not in found:
        return Predicted(candidate, metric, n=len(values), why_not=NO_SPREAD)
    spread = found[candidate]
    if spread.sd <= 1e-9 * max(1.0, abs(float(values.mean()))) and reading == 0.0:
        return Predicted(candidate, metric, n=len(values), why_not=NO_DIFFERENCE)
    return Predicted(
        candidate,
        metric,
        n=len(values),
        middle=float(values.mean()),
        sd=spread.sd,
        df=float(spread.df),
        groups=spread.groups,
        by_ratio=_by_ratio(whole, metric),
        reading_sd=reading,
        open_above=open_above,
    )


def ranges(f: Predicted, m: int, error: float) -> tuple[float, ...]:
    """Range of each of ``m`` fresh candles, and of their mean; together they miss by ``error``.

    ``error`` is the largest chance that any of them lies outside. What the checks leave open, and
    what two pours differ by, are added as variances that are known and that no mean makes smaller.
    Rates and times are not below zero.
    """
    sd = max(f.sd, 1e-3 * float(np.hypot(f.reading_sd, f.batch_sd)))
    ends = []
    for reach in reaches(f.n, m, f.df, error, f.known):
        ends += [f.middle - reach * sd, np.inf if f.open_above else f.middle + reach * sd]
    if f.by_ratio:
        return tuple(float(e) for e in np.exp(ends))
    least = 0.0 if f.metric in (RATE, POOL) else -np.inf
    return tuple(float(max(e, least)) for e in ends)


def error_each(predicted: list[Predicted], confidence: float) -> float:
    """The chance of a false alarm that each range may take, so that all together stay within."""
    return (1.0 - confidence) / max(1, sum(not f.why_not for f in predicted))


def candles_needed(f: Predicted, *, shift_pct: float, error: float, power: float) -> int | None:
    """Fresh candles at which a change of the burn rate by ``shift_pct`` would be noticed.

    The chance of that is ``power``. None when no number does, or when there is no range.
    """
    if f.why_not:
        return None
    shift = _in_spreads(f, shift_pct)
    found = candles_to_notice(shift, f.n, f.df, error, power, f.known)
    return None if found is None else max(found, LEAST_CANDLES)


def _in_spreads(f: Predicted, shift_pct: float) -> float:
    return abs(f.middle) * shift_pct / 100.0 / f.sd


def chance_to_pass(f: Predicted, m: int, *, shift_pct: float, error: float) -> float:
    """The chance that ``m`` fresh candles would have passed with a burn rate so much changed."""
    shift = _in_spreads(f, shift_pct)
    return 1.0 - chance_to_notice(shift, f.n, max(m, 1), f.df, error, f.known)


def screening_needed(
    f: Predicted, *, shift_pct: float, error: float, power: float, most: int = 30
) -> int | None:
    """Candles in a larger screening at which as many fresh ones would notice a change.

    The spread is taken to stay as it is. None for more than ``most``.
    """
    shift = _in_spreads(f, shift_pct)
    for n in range(f.n + 1, most + 1):
        enough = candles_to_notice(shift, n, f.df + n - f.n, error, power, f.known)
        if enough is not None and enough <= n:
            return n
    return None


def label(metric: str) -> str:
    """The measurement in words."""
    return {WALL: "wall temperature", WALL_WARM: "wall temperature (warm room)"}.get(
        metric, GLOSSARY[metric].label
    )


def hold(f: Predicted, second: Round, own: str, error: float) -> tuple[dict, list[dict]]:
    """One row for the range, and one for each fresh candle of the candidate."""
    values = second.values[second.values["candidate"] == own]
    value, low, high = (
        values[name].where(values["whole"]).to_numpy(dtype=float)
        for name in (f.metric, *(("pool_low", "pool_high") if f.metric == POOL else [f.metric] * 2))
    )
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
    for f in predicted:
        own = first.values[(first.values["candidate"] == f.candidate) & first.values["whole"]]
        rows += [
            (candle, f.candidate, f.metric, display.heading(column(f.metric)), value)
            for candle, value in own[["candle", f.metric]].dropna().itertuples(index=False)
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

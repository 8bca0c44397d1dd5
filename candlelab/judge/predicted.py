"""What a screening predicts of fresh candles, and how many of them would settle a pick.

For each candidate and measurement there is a range, or why there is none.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from candlelab.stats.intervals import candles_to_notice, chance_to_notice, reaches, spreads

RATE, POOL, LEFT = "burn_rate_g_per_h", "full_pool_h", "wax_left_pct"
WALL, WALL_WARM = "wall_max_c", "wall_max_warm_room_c"
# No fewer fresh candles confirm anything, however large the change looked for; common practice, no
# source.
LEAST_CANDLES = 3
# How much pours of one recipe differ: standard deviation from pour to pour, in % of a measurement
# (of a wall's rise over the room). An assumption, where no history says better; no source.
BATCH_SD_PCT = 3.0
SHIFT_PCT = 20.0  # a change of the burn rate that matters; common practice, no source
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


def fresh_values(burns: pd.DataFrame, values: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts; ``values`` as `WorkedBatch.fresh`.

    ``pool_low`` and ``pool_high`` in h: ``pool_high`` is infinite where the pool was watched and
    never full, both are empty where it was not watched. A candle is ``whole`` when it burned to its
    end on the wick it was poured with; only then do its values stand for a life.
    """
    whole = values["wax_left_pct"].notna()
    kept = ~burns["excluded"] & (burns["run"] == 1) & burns["pool_watched_h"].notna()
    kept = burns.loc[kept, ["candle", "full_pool_after_h", "full_pool_by_h"]]
    kept = kept.fillna({"full_pool_by_h": np.inf}).groupby("candle")
    low, high = (
        values["candle"].map(kept[name].median()).astype(float)
        for name in ("full_pool_after_h", "full_pool_by_h")
    )
    return values[["candle", "candidate", RATE, WALL, WALL_WARM, POOL, LEFT]].assign(
        whole=whole, pool_low=low, pool_high=high
    )


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
    values: pd.DataFrame, candidates: Iterable[str], wall: str, batch_sd_pct: float = BATCH_SD_PCT
) -> list[Predicted]:
    """What a screening says of rate, wall, time to full pool and wax left of each candidate.

    ``values`` as `fresh_values` gives them, ``wall`` the wall temperature to hold them by.
    """
    whole = values[values["whole"]]
    of = {metric: _values(whole, metric) for metric in (RATE, wall, POOL, LEFT)}
    spread = {metric: _spreads(whole, metric, own) for metric, own in of.items()}
    found = [
        _predicted(whole, candidate, metric, own, spread[metric])
        for candidate in candidates
        for metric, own in of.items()
    ]
    return [f if f.why_not else replace(f, batch_sd=_of_batches(f, batch_sd_pct)) for f in found]


def _of_batches(f: Predicted, batch_sd_pct: float) -> float:
    """By how much two pours may differ: each has its own level, so the root of two times that."""
    size = 1.0 if f.by_ratio else abs(f.middle - _ROOM_C.get(f.metric, 0.0))
    return float(np.sqrt(2.0)) * batch_sd_pct / 100.0 * size


def _by_ratio(whole: pd.DataFrame, metric: str) -> bool:
    """Times and what is left spread in proportion to their size: by logarithms if all have one."""
    return metric in (POOL, LEFT) and not (whole[metric] <= 0).any()


def _values(whole: pd.DataFrame, metric: str) -> np.ndarray:
    """Values to average; without a full pool, the time that a candle was watched without one."""
    values = whole[metric].to_numpy(dtype=float)
    if metric == POOL:
        values = np.where(np.isinf(whole["pool_high"]), whole["pool_low"], values)
    return np.log(np.where(values > 0, values, np.nan)) if _by_ratio(whole, metric) else values


def _spreads(whole: pd.DataFrame, metric: str, values: np.ndarray) -> dict:
    never = set(whole.loc[np.isinf(whole["pool_high"]), "candidate"]) if metric == POOL else set()
    known = ~np.isnan(values)
    of, names = pd.factorize(whole["candidate"][known])
    groups = {name: values[known][of == n] for n, name in enumerate(names)}
    return spreads({name: own[:1] if name in never else own for name, own in groups.items()})


def _predicted(
    whole: pd.DataFrame, candidate: str, metric: str, values: np.ndarray, found: dict
) -> Predicted:
    own = (whole["candidate"] == candidate).to_numpy()
    values = values[own & ~np.isnan(values)]
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


class Needed(NamedTuple):
    """Fresh candles that settle a candidate; where no number does, the candles of a larger
    screening with which as many fresh ones would, or None."""

    fresh: int | None
    screened: int | None = None


def candles_to_settle(
    values: pd.DataFrame,
    candidates: Iterable[str],
    *,
    confidence: float = 0.95,
    shift_pct: float = SHIFT_PCT,
    power: float = 0.8,
    batch_sd_pct: float = BATCH_SD_PCT,
) -> dict[str, Needed]:
    """How many fresh candles of each would settle it.

    ``values`` as `fresh_values` gives them, the rest as in `confirm_pick`.
    """
    names = list(dict.fromkeys(candidates))
    wall = wall_metric(values[values["candidate"].isin(names)])
    predicted = predict(values, names, wall, batch_sd_pct)
    error = error_each(predicted, confidence)
    asked: dict[str, Any] = {"shift_pct": shift_pct, "error": error, "power": power}
    found = {}
    for f in predicted:
        if f.metric == RATE:
            fresh = candles_needed(f, **asked)
            known = fresh is None and not f.why_not
            found[f.candidate] = Needed(fresh, screening_needed(f, **asked) if known else None)
    return found


def screening_needed(
    f: Predicted, *, shift_pct: float, error: float, power: float, most: int = 30
) -> int | None:
    """Candles in a larger screening at which as many fresh ones would notice a change.

    The spread is taken to stay as it is. None for more than ``most``.
    """
    shift = _in_spreads(f, shift_pct)

    def noticed(n: int) -> float:
        return chance_to_notice(shift, n, n, f.df + n - f.n, error, f.known)

    found = bisect_left(range(f.n + 1, most + 1), power, key=noticed) + f.n + 1
    return found if found <= most else None

"""One-sided bounds over candles: what a share of all candles will reach, and what the next one will."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import stats


def tolerance_factor(n: int, coverage: float, confidence: float) -> float:
    """Factor k of a one-sided normal tolerance bound, mean - k s or mean + k s, from ``n`` candles.

    Exact: a quantile of the noncentral t (ISO 16269-6; NIST/SEMATECH e-Handbook 7.2.6.3). Raises ValueError for
    fewer than two candles and for shares outside 0 to 1.
    """
    if n < 2 or not (0.0 < coverage < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError("a tolerance factor needs two candles at least, and coverage and confidence between 0 and 1")
    return float(stats.nct.ppf(confidence, n - 1, stats.norm.ppf(coverage) * math.sqrt(n)) / math.sqrt(n))


def prediction_factor(n: int, confidence: float) -> float:
    """Factor of a one-sided bound for one further candle, mean - factor * s: t sqrt(1 + 1/n). Raises ValueError."""
    if n < 2 or not 0.0 < confidence < 1.0:
        raise ValueError("a prediction needs two candles at least, and a confidence between 0 and 1")
    return float(stats.t.ppf(confidence, n - 1) * math.sqrt(1.0 + 1.0 / n))


def share_above_smallest(n: int, confidence: float) -> float:
    """Share of all candles that reach the smallest of ``n`` at least, without any assumption on their spread
    (Wilks 1941)."""
    return (1.0 - confidence) ** (1.0 / n)


@dataclass(frozen=True)
class LowerBounds:
    """Lower one-sided bounds of a quantity, in its unit, from so many candles."""

    n: int
    mean: float
    sd: float
    smallest: float
    tolerance: float
    tolerance_factor: float
    prediction: float
    prediction_factor: float
    smallest_share: float
    coverage: float
    confidence: float


def lower_bounds(values, *, coverage: float = 0.90, confidence: float = 0.95) -> LowerBounds:
    """Tolerance bound (a share ``coverage`` of all candles reaches it) and prediction bound (the next one does)."""
    values = np.asarray(values, dtype=float)
    n, mean, sd = len(values), float(values.mean()), float(values.std(ddof=1))
    k, r = tolerance_factor(n, coverage, confidence), prediction_factor(n, confidence)
    return LowerBounds(
        n,
        mean,
        sd,
        float(values.min()),
        mean - k * sd,
        k,
        mean - r * sd,
        r,
        share_above_smallest(n, confidence),
        coverage,
        confidence,
    )

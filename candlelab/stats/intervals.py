"""Where fresh candles should fall, from candles burned before: prediction intervals over candles,
for small samples.

All of ``m`` fresh values at once: |fresh - mean| <= t * s * sqrt(1 + 1/n), where t is the quantile
of the largest of m equally correlated |t| (Dunnett 1955, JASA 50:1096; Hahn 1970, JASA 65:1668).
The mean of the fresh values: Student's t with s * sqrt(1/m + 1/n) (Hahn and Meeker, Statistical
Intervals, 1991, from memory).
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
import scipy
from scipy import special

from candlelab.stats.roots import rising_root
from candlelab.stats.tails import f_above, t_above_which, t_below_which

APART = 0.01  # level of Cochran's test for an outlying spread, as in ISO 5725-2 (from memory)
MOST_CANDLES = 60  # a studio burns no more to confirm one candidate; common practice, no source
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)
_FAR = 8.5
_ALL_KNOWN = 1000.0  # squares of the spread, beside which that of candles is nothing


@dataclass(frozen=True)
class Spread:
    """Standard deviation between candles, its degrees of freedom, and the groups that it was taken
    from."""

    sd: float
    df: int
    groups: tuple[Any, ...]


def spreads(values: Mapping[Any, np.ndarray], level: float = APART) -> dict[Any, Spread]:
    """The spread to use for each group of values; a group without any is left out.

    One spread is shared by all groups that are alike in it. A group whose variance is larger than
    that of the others by more than luck (Cochran's test at ``level``, one group after another)
    stands apart and keeps its own.
    """
    together, apart = standing_apart(values, level)
    found = {
        name: Spread(float(np.sqrt(variance)), df, (name,))
        for name, (variance, df) in apart.items()
    }
    if together:
        variance, df = _pool(list(together.values()))
        shared = Spread(float(np.sqrt(variance)), df, tuple(together))
        found |= {name: shared for name in values if name not in apart}
    return {name: found[name] for name in values if name in found}


def standing_apart(values: Mapping[Any, np.ndarray], level: float = APART) -> tuple[dict, dict]:
    """Variance and degrees of freedom of the groups that are alike in spread, and of those that
    stand apart, as `spreads` tells them."""
    together = {
        name: (float(np.var(v, ddof=1)), len(v) - 1) for name, v in values.items() if len(v) > 1
    }
    apart = {}
    while len(together) > 1:
        name = max(together, key=lambda n: together[n][0])
        variance, df = together[name]
        rest, rest_df = _pool([v for n, v in together.items() if n != name])
        if rest <= 0.0 or len(together) * f_above(variance / rest, df, rest_df) >= level:
            break
        apart[name] = together.pop(name)
    return together, apart


def _pool(parts: list[tuple[float, int]]) -> tuple[float, int]:
    df = sum(d for _, d in parts)
    return sum(v * d for v, d in parts) / df, df


@lru_cache(maxsize=4096)
def mean_reach(n: int, m: int, df: float, error: float, known: float = 0.0) -> float:
    """How far the mean of ``m`` fresh values may lie from the mean of ``n``, in spreads, but for a
    chance of ``error``; ``known`` as in `reaches`.
    """
    share = 1.0 / m + 1.0 / n
    if known <= 0.0:
        return float(t_above_which(error / 2.0, df) * np.sqrt(share))
    return _solve(lambda r: _mean_outside(r, 0.0, share, df, known), error, df, 1, share + known)


@lru_cache(maxsize=4096)
def each_reach(n: int, m: int, df: float, error: float, known: float = 0.0) -> float:
    """How far any of ``m`` fresh values may lie from the mean of ``n``, in spreads, but for a
    chance of ``error``; ``known`` as in `reaches`.
    """
    share = 1.0 + 1.0 / n
    if m == 1 or known > _ALL_KNOWN:
        return mean_reach(n, 1, df, error, known)
    return _solve(lambda r: _any_outside(r, 0.0, n, m, df, known), error, df, m, share + known)


def _solve(outside, error: float, df: float, m: int, variance: float) -> float:
    """The reach at which ``outside`` is ``error``, between a normal one and Bonferroni's."""
    low, high = -special.ndtri(error / 2.0), t_above_which(error / (2.0 * m), df)
    low, high = math.sqrt(variance) * 0.99 * low, math.sqrt(variance) * 1.01 * high
    ends = np.array([[low], [high]])
    return float(rising_root(lambda r: np.array([error - outside(float(r[0]))]), *ends)[0])


def reaches(n: int, m: int, df: float, error: float, known: float = 0.0) -> tuple[float, float]:
    """Reach of each fresh value and of their mean, in spreads, so that together they miss with a
    chance of ``error`` at most.

    Half of the chance for each; one fresh value is its own mean. ``known`` is a further variance
    that is not estimated and that no mean makes smaller, such as that from batch to batch, in
    squares of the spread found. As with Behrens and Fisher, the true spread is drawn from what the
    found one says of it.
    """
    if m == 1:
        return (each_reach(n, 1, df, error, known),) * 2
    half = error / 2.0
    return each_reach(n, m, df, half, known), mean_reach(n, m, df, half, known)


@lru_cache(maxsize=4096)
def chance_to_notice(
    shift: float, n: int, m: int, df: float, error: float, known: float = 0.0
) -> float:
    """Chance that ``m`` fresh values, all shifted by ``shift`` spreads, fall outside: at least
    that of the better of both rules.

    The true spread is as uncertain as ``df`` says; ``known`` as in `reaches`.
    """
    each, mean = reaches(n, m, df, error, known)
    by_mean = _mean_outside(mean, shift, 1.0 / m + 1.0 / n, df, known)
    return max(by_mean, _any_outside(each, shift, n, m, df, known))


def candles_to_notice(
    shift: float, n: int, df: float, error: float, power: float, known: float = 0.0
) -> int | None:
    """The fewest fresh values with a chance of ``power`` to notice a shift of ``shift`` spreads;
    None when MOST_CANDLES are too few."""

    def chance(m: int) -> float:
        return chance_to_notice(shift, n, m, df, error, known)

    if chance(1) >= power:
        return 1
    if chance(MOST_CANDLES) < power:
        return None
    # it grows from two on; one value is its own mean and need not share the error
    return bisect_left(range(2, MOST_CANDLES), power, key=chance) + 2


@lru_cache(maxsize=256)
def _found_spreads(df: float) -> np.ndarray:
    """The found spread as a multiple of the true one, at the nodes of its distribution."""
    return np.sqrt(special.chdtri(df, 1.0 - (_NODES + 1.0) / 2.0) / df)


def _mean_outside(reach: float, shift: float, share: float, df: float, known: float) -> float:
    """P(the mean of shifted values is further than ``reach`` spreads from the old mean).

    ``share`` is the variance of their difference in squares of the true spread.
    """
    found = _found_spreads(df)
    sd = np.sqrt(share + known * found**2)
    out = special.ndtr((shift - reach) * found / sd) + special.ndtr((-shift - reach) * found / sd)
    return float((_WEIGHTS / 2.0) @ out)


def _any_outside(
    reach: float, shift: float, n: int, m: int, df: float, known: float = 0.0
) -> float:
    """P(any of m shifted values is further than ``reach`` spreads from the mean of n):
    multivariate t, shifted.

    Given the old mean, what the batches differ by, and the ratio of true to found spread the values
    are independent; all are integrated over.
    """
    found = _found_spreads(df)[:, None]
    z, weight = _grid(math.sqrt(1.0 / n + known * float(found.max()) ** 2))
    weight = weight * np.exp(-(z**2) / 2.0) / np.sqrt(2.0 * np.pi)
    centre = z[None, :] * np.sqrt(1.0 / n + known * found**2) - shift * found
    inside = special.ndtr(centre + reach * found) - special.ndtr(centre - reach * found)
    return float(1.0 - (_WEIGHTS / 2.0) @ (inside**m @ weight))


def _grid(scale: float) -> tuple[np.ndarray, np.ndarray]:
    """Places and weights for what changes within a spread, where the middle varies by ``scale``."""
    if scale <= 2.0:
        return _NODES * _FAR, _WEIGHTS * _FAR
    z = np.linspace(-_FAR, _FAR, math.ceil(6.0 * _FAR * scale))
    return z, np.full(len(z), z[1] - z[0])


@dataclass(frozen=True)
class Inverse:
    """An x with its interval. ``std_error`` is the usual approximate one (delta method).

    The interval is exact for normal errors; it has no end (infinite) where the slope is not told
    from zero.
    ``g`` says how near that is: below 0.05 the interval is as good as symmetrical, from 1 on it is
    open.
    """

    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    g: float

    @property
    def bounded(self) -> bool:
        """Whether the interval has two ends."""
        return self.g < 1.0


def inverse_prediction(
    intercept: float, slope: float, cov, y: float, t: float, *, extra_variance: float = 0.0
) -> Inverse:
    """The x at which ``intercept + slope * x`` is ``y``.

    Parameters
    ----------
    intercept, slope : float
        The fitted line.
    cov : array_like of shape (2, 2)
        Covariance of intercept and slope.
    y : float
        The value that is wanted.
    t : float
        The t quantile of the interval.
    extra_variance : float
        Variance of ``y`` itself: 0 when the mean should be ``y``, the residual variance divided by
        m when ``y`` is the mean of m new observations.

    Returns
    -------
    Inverse
        The x, and its limits by Fieller's theorem.

    Raises
    ------
    ZeroDivisionError
        For a slope of zero.
    """
    cov = np.asarray(cov, dtype=float)
    x = (y - intercept) / slope
    g = t**2 * cov[1, 1] / slope**2
    error = np.sqrt(cov[0, 0] + 2.0 * x * cov[0, 1] + x**2 * cov[1, 1] + extra_variance) / abs(
        slope
    )
    if g >= 1.0:
        return Inverse(float(x), float(error), -np.inf, np.inf, float(g))
    a = slope**2 - t**2 * cov[1, 1]
    b = slope * (intercept - y) - t**2 * cov[0, 1]
    c = (intercept - y) ** 2 - t**2 * (cov[0, 0] + extra_variance)
    root = np.sqrt(max(b**2 - a * c, 0.0))
    return Inverse(float(x), float(error), float((-b - root) / a), float((-b + root) / a), float(g))


def tolerance_factor(n: int, coverage: float, confidence: float) -> float:
    """Factor k of a one-sided normal tolerance bound, mean - k s or mean + k s, from ``n`` candles.

    Exact: a quantile of the noncentral t (ISO 16269-6; NIST/SEMATECH e-Handbook 7.2.6.3). Raises
    ValueError for
    fewer than two candles and for shares outside 0 to 1.
    """
    if n < 2 or not (0.0 < coverage < 1.0 and 0.0 < confidence < 1.0):
        raise ValueError(
            "a tolerance factor needs two candles at least, and coverage and confidence between "
            "0 and 1"
        )
    return float(
        scipy.stats.nct.ppf(confidence, n - 1, special.ndtri(coverage) * math.sqrt(n))
        / math.sqrt(n)
    )


def prediction_factor(n: int, confidence: float) -> float:
    """Factor of a one-sided bound for one further candle, mean - factor * s: t sqrt(1 + 1/n).
    Raises ValueError."""
    if n < 2 or not 0.0 < confidence < 1.0:
        raise ValueError(
            "a prediction needs two candles at least, and a confidence between 0 and 1"
        )
    return float(t_below_which(confidence, n - 1) * math.sqrt(1.0 + 1.0 / n))


def share_above_smallest(n: int, confidence: float) -> float:
    """Share of all candles that reach the smallest of ``n`` at least, whatever their spread (Wilks
    1941)."""
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
    """What a share of all candles reaches, and what the next one does.

    Parameters
    ----------
    values : array_like
        One value per candle, two at least; taken as normal.
    coverage : float
        Share of all candles for the tolerance bound, from 0 to 1.
    confidence : float
        How often each bound holds, from 0 to 1.

    Returns
    -------
    LowerBounds
        One-sided tolerance bound and prediction bound, in the unit of ``values``.
    """
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


def other_pours_bound(
    values, pour, *, pour_sd: float, coverage: float = 0.90, confidence: float = 0.95
) -> float:
    """Tolerance bound over candles of other pours, from candles of one or a few.

    Parameters
    ----------
    values, pour : array_like
        One value for each candle, two at least, and the pour that it comes from.
    pour_sd : float
        Standard deviation from pour to pour, in the unit of the values; where the pours at hand
        differ more, what they show (the method of moments) takes its place.
    coverage, confidence : float
        The share of all candles of all pours that reaches the bound, and how sure that is.

    Returns
    -------
    float
        Mean less so much that both the mean, off by candles and by pours, and the spread within a
        pour are allowed for; the true spread is drawn from what the found one says of it.
    """
    values = np.asarray(values, dtype=float)
    _, at = np.unique(np.asarray(pour), return_inverse=True)
    n = np.bincount(at)
    means = np.bincount(at, values) / n
    df = len(values) - len(n)
    if df < 1:  # one candle of each pour: what they differ by is all there is
        at, n = np.zeros_like(at), np.array([len(values)])
        means, df = values.mean(keepdims=True), len(values) - 1
    inside = values - means[at]
    sd = math.sqrt(float(inside @ inside) / df)
    found = float(np.var(means, ddof=1)) - sd**2 * float(np.mean(1.0 / n)) if len(n) > 1 else 0.0
    between = max(pour_sd**2, found)
    true = np.square(sd / _found_spreads(df))
    reach = np.sqrt(true / len(values) + between * float(n @ n) / len(values) ** 2)
    below = special.ndtri(coverage) * np.sqrt(true + between)
    if reach.max() <= 0.0:
        return float(values.mean())

    def short(t: float) -> float:
        return float((_WEIGHTS / 2.0) @ special.ndtr((t - below) / reach)) - confidence

    most = 2.0 * float((below + 10.0 * reach).max())
    return float(values.mean() - scipy.optimize.brentq(short, -most, most))

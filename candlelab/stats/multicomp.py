"""Looking at many pairs at once: how far the largest of several t values reaches by chance.

Tukey-Kramer (Kramer 1956; Hayter 1984) for all pairs, Dunnett 1955 (JASA 50:1096) against one
reference. All pairs use the distribution of the studentized range, worked out here for many degrees
of freedom at once: pairs of an unbalanced plan each have their own, and scipy takes a second for
twelve of them. Held to scipy's by the tests.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import scipy
from numpy.polynomial import Chebyshev
from scipy import special

from candlelab.stats.roots import rising_root
from candlelab.stats.tails import t_above, t_below_which

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(120)
_FAR, _DEGREE = 14.0, 120  # further out nothing is left
# scipy's multivariate t draws points: the same digits each time, right to 1e-5
_SEED, _POINTS = 20251125, 40_000


@lru_cache
def _range_curve(k):
    """P(range of k standard normals <= w) on 0 .. _FAR, as a polynomial that differs from it by
    less than rounding does."""

    def share(w):
        z = _NODES * 8.5
        within = np.clip(special.ndtr(z) - special.ndtr(z - w[:, None]), 0.0, 1.0) ** (k - 1)
        return 8.5 * k * within @ (_WEIGHTS * np.exp(-(z**2) / 2.0) / np.sqrt(2.0 * np.pi))

    return Chebyshev.interpolate(share, _DEGREE, domain=[0.0, _FAR])


def _scales(df):
    """Nodes and weights for the spread estimate as a share of the true spread, one row per df."""
    df = np.minimum(df, 1e7)[:, None]
    low, high = (np.sqrt(special.chdtri(df, p) / df) for p in (1.0 - 1e-14, 1e-14))
    s = low + (high - low) * (_NODES + 1.0) / 2.0
    log = (
        df / 2.0 * np.log(df / 2.0)
        - special.gammaln(df / 2.0)
        + np.log(2.0)
        + (df - 1.0) * np.log(s)
        - df * s**2 / 2.0
    )
    weight = np.exp(log) * _WEIGHTS * (high - low) / 2.0
    return s, weight / weight.sum(axis=1, keepdims=True)


def all_pairs_p(t, k: int, df) -> np.ndarray:
    """Probability that the largest of all pairs of ``k`` means has |t| beyond each ``t``."""
    t, df = np.broadcast_arrays(np.abs(np.asarray(t, dtype=float)), np.asarray(df, dtype=float))
    if k == 2:
        return 2.0 * t_above(t, df)
    curve, (s, weight) = _range_curve(k), _scales(df)
    return np.clip(1.0 - _share_within(curve, t, s, weight), 0.0, 1.0)


def all_pairs_t(confidence: float, k: int, df) -> np.ndarray:
    """The |t| that the largest of all pairs of ``k`` means stays below with probability
    ``confidence``."""
    df = np.asarray(df, dtype=float)
    if k == 2:
        return t_below_which((1.0 + confidence) / 2.0, df)
    df, place = np.unique(df, return_inverse=True)
    curve, (s, weight) = _range_curve(k), _scales(df)
    # one pair alone is never more, Bonferroni never less
    ends = (t_below_which(p, df) for p in _surely(confidence, k))
    return rising_root(lambda t: _share_within(curve, t, s, weight) - confidence, *ends)[place]


def _surely(confidence: float, k: int) -> tuple[float, float]:
    return (1.0 + confidence) / 2.0, 1.0 - (1.0 - confidence) / (k * (k - 1.0))


def _share_within(curve, t, s, weight) -> np.ndarray:
    w = np.minimum(t[:, None] * np.sqrt(2.0) * s, _FAR)
    return (curve(w) * weight).sum(axis=1)


def _inside(t, correlation, df):
    if len(correlation) == 1:
        return 1.0 - 2.0 * t_above(t, df)
    ends = np.full(len(correlation), t)
    return scipy.stats.multivariate_t.cdf(
        ends, shape=correlation, df=df, lower_limit=-ends, random_state=_SEED, maxpts=_POINTS
    )


def against_reference_p(t, correlation, df) -> np.ndarray:
    """Probability that the largest of these correlated |t| is beyond each ``t``, each at its own
    df."""
    pairs = zip(np.abs(np.asarray(t, dtype=float)), np.asarray(df, dtype=float), strict=True)
    return np.clip([1.0 - _inside(value, correlation, own) for value, own in pairs], 0.0, 1.0)


def against_reference_t(confidence: float, correlation, df) -> np.ndarray:
    """The |t| that the largest of these correlated |t| stays below with probability
    ``confidence``, at each df."""
    df = np.asarray(df, dtype=float)
    different, place = np.unique(df.round(3), return_inverse=True)
    tails = (1.0 - confidence) / (2.0 * np.array([1.0, len(correlation)]))
    found = []
    for own in different:
        ends = t_below_which(1.0 - tails, own) * [0.99, 1.01]

        def missing(t, own=own):
            return _inside(t, correlation, own) - confidence

        found.append(scipy.optimize.brentq(missing, *ends, xtol=1e-5))
    return np.array(found)[place]

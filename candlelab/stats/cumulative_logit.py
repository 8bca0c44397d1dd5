"""Scores in words: a cumulative logit with crossed random levels, for pictures and probabilities.

Maximum likelihood with the Laplace approximation, as R's ``ordinal::clmm`` has it (Christensen).
Its z test is too sure with few noses (18 % false alarms with four): no decision rests on it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
from scipy import special

_LEAST_SD = 1e-3  # a random level below it is none


@dataclass(frozen=True, eq=False)
class CumulativeLogit:
    """Thresholds, effects, the variance of each random level (0 at the boundary) and log
    likelihood."""

    thresholds: np.ndarray
    effects: np.ndarray
    variances: np.ndarray
    log_likelihood: float


def fit_cumulative_logit(category, effects, levels=()) -> CumulativeLogit:
    """Fit P(score <= j) = logistic(threshold j - effects - random levels).

    Parameters
    ----------
    category : array_like of int, shape (scores,)
        Numbered from 0, each of them used.
    effects : array_like, shape (scores, effects)
        Columns of the fixed part, without a constant.
    levels : sequence of array_like of int
        Each random factor, numbered from 0.
    """
    y, x = np.asarray(category), np.asarray(effects, dtype=float).reshape(len(category), -1)
    n_cut = int(y.max())
    z = [np.eye(int(np.max(codes)) + 1)[np.asarray(codes)] for codes in levels]
    sizes = [part.shape[1] for part in z]
    z_all = np.hstack(z) if z else np.zeros((len(y), 0))
    share = np.cumsum(np.bincount(y))[:-1] / len(y)
    cuts = special.logit(share)
    start = np.r_[cuts[0], np.log(np.maximum(np.diff(cuts), 0.05)), np.zeros(x.shape[1] + len(z))]
    mode = np.zeros(z_all.shape[1])

    def negative(parameters):
        cut = _rising(parameters[:n_cut])
        fixed = x @ parameters[n_cut : n_cut + x.shape[1]]
        sd = np.repeat(np.exp(parameters[n_cut + x.shape[1] :]), sizes)
        value, mode[:] = _laplace(y, cut, fixed, z_all * sd, mode)
        return -value

    free = [(None, None)] * (n_cut + x.shape[1])
    bounds = free + [(np.log(_LEAST_SD) - 1, 4.0)] * len(z)
    fit = scipy.optimize.minimize(negative, start, method="L-BFGS-B", bounds=bounds,
                            options={"ftol": 1e-13, "gtol": 1e-7, "maxiter": 500})  # fmt: skip
    sd = np.exp(fit.x[n_cut + x.shape[1] :])
    return CumulativeLogit(
        _rising(fit.x[:n_cut]),
        fit.x[n_cut : n_cut + x.shape[1]],
        np.where(sd > _LEAST_SD, sd**2, 0.0),
        -float(fit.fun),
    )


def _rising(parts) -> np.ndarray:
    """Thresholds out of the first of them and the logarithms of the steps between them."""
    return np.cumsum(np.concatenate((parts[:1], np.exp(parts[1:]))))


def _laplace(y, cut, fixed, z, mode):
    """Log likelihood with the random levels integrated out, and where they are most likely."""
    u = mode.copy()
    value, slope, bend = _terms(y, cut, fixed + z @ u)
    best = value.sum() - u @ u / 2
    for _ in range(50):
        hessian = np.eye(len(u)) - (z * bend[:, None]).T @ z
        step = np.linalg.solve(hessian, z.T @ slope - u)
        size = 1.0
        while True:
            value, slope, bend = _terms(y, cut, fixed + z @ (u + size * step))
            now = value.sum() - np.square(u + size * step).sum() / 2
            if now >= best - 1e-12 or size < 1e-6:
                break
            size /= 2
        u, gain, best = u + size * step, now - best, now
        if abs(gain) < 1e-11:
            break
    hessian = np.eye(len(u)) - (z * bend[:, None]).T @ z
    return best - np.linalg.slogdet(hessian)[1] / 2, u


def _terms(y, cut, linear):
    """Log probability of each score, and its first and second derivative by the linear part."""
    ends = np.concatenate(([-np.inf], cut, [np.inf]))
    high, low = special.expit(ends[y + 1] - linear), special.expit(ends[y] - linear)
    p = np.maximum(high - low, 1e-300)
    f_high, f_low = high * (1 - high), low * (1 - low)
    first = -(f_high - f_low) / p
    second = (f_high * (1 - 2 * high) - f_low * (1 - 2 * low)) / p - first**2
    return np.log(p), first, np.minimum(second, 0.0)

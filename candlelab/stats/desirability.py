"""True means of candidates, drawn again and again as uncertain as a few candles leave them.

Two things are easily forgotten. Three candles show less spread than there is, so their deviations
are widened, and the spread itself is drawn as well. And the highest of six measured means is partly
luck, so every mean is drawn toward the mean of all candidates, as far as the candles' own spread
can explain how far the candidates lie apart. (2,000 simulated batches of each of twelve designs,
two seeds: of those called 70-90 % the best, 71-87 % were; of six candidates that are one and the
same one was called so in 0.4 % of batches. Without minding luck, the first is 66 % where candidates
lie closest together. tests/benchmarks/best_calibration.py.)
"""

from __future__ import annotations

import numpy as np

_STEPS = (np.arange(400) + 0.5) / 400.0
_SHARES = _STEPS**4  # close together near zero, where candidates lie far apart


def draw_means(values, code, *, seed: int, draws: int) -> np.ndarray | None:
    """True means: draws x candidates x quantities; None where nothing shows how much candles
    differ.

    ``values`` has a row per candle and a column per quantity, NaN where there is none; ``code``
    numbers the candidate of each row from 0. Candidates vary about a common mean and candles vary
    about their candidate's, both by an unknown amount: the share of luck, the variance of a
    candidate's measured mean that candles alone make, is taken to be anything from 0 to 1
    beforehand (the uniform shrinkage prior: Strawderman 1971, Ann. Math. Stat. 42:385; Daniels
    1999, Can. J. Stat. 27:567). The deviations of the means are those of resampled candles, whole
    rows at a time, so that quantities which go together stay together. A candidate without a number
    in a quantity gets NaN there.
    """
    values, code = np.asarray(values, dtype=float), np.asarray(code)
    seen = np.isfinite(values)
    k, size = code.max() + 1, np.bincount(code)
    count = np.stack([np.bincount(code, own, minlength=k) for own in seen.T], axis=1)
    filled = np.where(seen, values, 0.0)
    total = np.stack([np.bincount(code, own, minlength=k) for own in filled.T], axis=1)
    with np.errstate(invalid="ignore"):
        means = total / count
    left = np.where(seen, values - means[code], 0.0)
    df = seen.sum(axis=0) - (count > 0).sum(axis=0)
    if (df[seen.any(axis=0)] < 1).any():
        return None
    random = np.random.default_rng(seed)
    deviations = _resampled(left * np.sqrt(len(left) / np.maximum(df, 1)), size, random, draws)
    out = np.full((draws, k, values.shape[1]), np.nan)
    for j in np.flatnonzero(seen.any(axis=0)):
        own = count[:, j] > 0
        noise = deviations[:, own, j] * np.sqrt(size[own] / count[own, j])
        out[:, own, j] = _drawn(
            means[own, j], count[own, j], np.square(left[:, j]).sum(), int(df[j]), noise, random
        )
    return out


def _resampled(left, size, random, draws) -> np.ndarray:
    """Mean deviation of each candidate: of as many candles as it has, taken from all candles with
    replacement."""
    return np.stack(
        [left[random.integers(len(left), size=(draws, n))].mean(axis=1) for n in size], axis=1
    )


def _drawn(means, n, within, df, noise, random) -> np.ndarray:
    """Draws of the true means of one quantity; ``noise`` has the spread of such means, ``within``
    is the candles' sum of squares about their means, with ``df`` degrees of freedom."""
    k, draws = len(means), len(noise)
    if within <= 1e-20 * np.square(means).max() or k == 1:
        spread = np.sqrt(df / random.chisquare(df, size=(draws, 1)))
        return means + spread * noise
    typical = k / (1.0 / n).sum()
    # variance of candidates to that of candles, for each share of luck
    ratio = (1.0 / _SHARES - 1.0) / typical
    weight = 1.0 / (1.0 / n + ratio[:, None])
    centre = weight @ means / weight.sum(axis=1)
    between = (weight * np.square(means - centre[:, None])).sum(axis=1)
    log = (
        0.5 * (np.log(weight).sum(axis=1) - np.log(weight.sum(axis=1)))
        - 0.5 * (df + k - 1) * np.log(within + between)
        + 3.0 * np.log(_STEPS)
    )
    chance = np.exp(log - log.max())
    at = random.choice(len(_SHARES), size=draws, p=chance / chance.sum())
    variance = (within + between[at]) / random.chisquare(df + k - 1, size=draws)
    common = centre[at] + np.sqrt(variance / weight[at].sum(axis=1)) * random.standard_normal(draws)
    kept = ratio[at, None] * weight[at]  # how much of its own measured mean each candidate keeps
    return (
        common[:, None]
        + kept * (means - common[:, None])
        + np.sqrt(kept * variance[:, None] * df / within) * noise
    )


def desirability(value, low: float, high: float, best: float | None = None):
    """Satisfaction with a value or an array of values, from 0 to 1 (Derringer and Suich 1980,
    exponents 1).

    With ``best``: a straight line from 0 at an end to 1 at ``best``, and 1 beyond ``best`` on a
    side that has no end. Without: 1 inside, 0 outside. A missing value satisfies nobody.
    """
    value = np.asarray(value, dtype=float)
    inside = (value >= low) & (value <= high)
    if best is None:
        return inside.astype(float)
    up = np.ones_like(value) if np.isinf(low) else (value - low) / (best - low)
    down = np.ones_like(value) if np.isinf(high) else (high - value) / (high - best)
    return np.where(np.isnan(value), 0.0, np.clip(np.minimum(up, down), 0.0, 1.0))


def together(satisfactions, weights):
    """Weighted geometric mean over the last axis; 0 as soon as one of them is 0."""
    weights = np.asarray(weights, dtype=float)
    with np.errstate(divide="ignore"):
        logs = np.log(np.asarray(satisfactions, dtype=float))
        return np.exp((logs * weights).sum(axis=-1) / weights.sum())

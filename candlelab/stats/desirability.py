"""True means of candidates, drawn again and again as uncertain as a few candles leave them.

Two things are easily forgotten. Three candles show less spread than there is, so their deviations
are widened, and the spread itself is drawn as well. And the highest of six measured means is partly
luck, so every mean is drawn toward the mean of all candidates, as far as the candles' own spread
can explain how far the candidates lie apart. (1,500 simulated batches of each of 20 designs: of
those called 75 % the best 66 to 85 % were, of those called 85 % 75 to 94 %; the fewest where
candidates are nearly alike, the most where they lie far apart. See "best of" in
tests/benchmarks/evidence.py.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_STEPS = (np.arange(400) + 0.5) / 400.0
_SHARES = _STEPS**4  # close together near zero, where candidates lie far apart


def draw_means(values, code, *, seed: int, draws: int, blocks=None) -> np.ndarray | None:
    """True means: draws x candidates x quantities; None where nothing shows how much candles
    differ, or where blocks and candidates cannot be told apart.

    ``values`` has a row per candle and a column per quantity, NaN where there is none; ``code``
    numbers the candidate of each row from 0, and so does each column of ``blocks``. Candidates vary
    about a common mean and candles vary about their candidate's, both by an unknown amount: the
    share of luck, the variance of a candidate's measured mean that candles alone make, is taken to
    be anything from 0 to 1 beforehand, and a small one to be likelier (with a density of one over
    its root: Strawderman 1971, Ann. Math. Stat. 42:385, a = 1/2; where all are as likely, as in
    Daniels 1999, Can. J. Stat. 27:567, the best was called too cautiously, by up to 14 points). The
    deviations of the means are those of resampled candles, whole rows at a time, so that quantities
    which go together stay together. A candidate without a number in a quantity gets NaN there.
    """
    values, code = np.asarray(values, dtype=float), np.asarray(code)
    tried = [_least_squares(own, code, blocks) for own in values.T]
    fits = [fit for fit in tried if fit is _NOTHING or (fit is not None and fit.df > 0)]
    if len(fits) < len(tried):
        return None
    random = np.random.default_rng(seed)
    order = np.argsort(code, kind="stable")
    drawn = [random.integers(len(code), size=(draws, n)) for n in np.bincount(code)]
    out = np.full((draws, code.max() + 1, values.shape[1]), np.nan)
    again = np.concatenate(drawn, axis=1)[:, np.argsort(order)]
    for j, fit in enumerate(fits):
        if fit is not _NOTHING:
            left = fit.left * np.sqrt(len(code) / fit.df)
            noise = np.concatenate(
                [
                    left[part] @ fit.weights.T
                    for part in np.array_split(again, 1 + len(again) // 2000)
                ]
            )
            out[:, fit.own, j] = _drawn(fit, noise, random)
    return out


@dataclass(frozen=True, eq=False)
class _Fit:
    """Candidates' means of one quantity as weighted sums of candles, blocks leveled out."""

    own: np.ndarray
    weights: np.ndarray
    means: np.ndarray
    left: np.ndarray
    df: int
    level: np.ndarray


_NOTHING = _Fit(*(np.empty(0),) * 4, df=0, level=np.empty(0))


def _least_squares(values, code, blocks) -> _Fit | None:
    """Means and what is left; None where candidates and blocks cannot be told apart."""
    seen = np.isfinite(values)
    if not seen.any():
        return _NOTHING
    own = np.unique(code[seen])
    cells = (code[seen][:, None] == own).astype(float)
    more = _block_columns(blocks, seen)
    x = np.column_stack((cells, more))
    if more.shape[1]:
        rank = np.linalg.matrix_rank(x)
        if rank < cells.shape[1] + np.linalg.matrix_rank(more):
            return None
        inverse = np.linalg.pinv(x)
        coef = inverse @ values[seen]
    else:
        rank, count = cells.shape[1], cells.sum(axis=0)
        inverse, coef = (cells / count).T, values[seen] @ cells / count
    weights, left, level = (
        np.zeros((len(own), len(values))),
        np.zeros(len(values)),
        np.zeros(len(values)),
    )
    weights[:, seen] = inverse[: len(own)]
    left[seen] = values[seen] - x @ coef
    level[seen] = more @ coef[len(own) :]
    return _Fit(own, weights, coef[: len(own)], left, len(x) - int(rank), level)


def _block_columns(blocks, seen) -> np.ndarray:
    """Columns of a sum of zero for each block that changes in the rows seen."""
    columns = [np.empty((int(seen.sum()), 0))]
    for block in () if blocks is None else np.asarray(blocks).T:
        levels, at = np.unique(block[seen], return_inverse=True)
        indicator = (at[:, None] == np.arange(len(levels))).astype(float)
        columns.append(indicator[:, :-1] - indicator[:, -1:])
    return np.column_stack(columns)


def leveled(values, code, blocks) -> np.ndarray:
    """The values with the level of each block taken off; as they are where that cannot be told."""
    values = np.asarray(values, dtype=float)
    fits = [_least_squares(own, np.asarray(code), blocks) for own in values.T]
    off = [np.zeros(len(values)) if f is None or f is _NOTHING else f.level for f in fits]
    return values - np.column_stack(off)


def _drawn(fit: _Fit, noise, random) -> np.ndarray:
    """Draws of the true means of one quantity; ``noise`` has the spread of such means. All of it is
    done along the axes on which the measured means are independent."""
    k, draws, df, means = len(fit.means), len(noise), fit.df, fit.means
    within = float(np.square(fit.left).sum())
    if within <= 1e-20 * np.square(means).max() or k == 1:
        spread = np.sqrt(df / random.chisquare(df, size=(draws, 1)))
        return means + spread * noise
    luck, axes = np.linalg.eigh(fit.weights @ fit.weights.T)
    means, one, noise = axes.T @ means, axes.sum(axis=0), noise @ axes
    # variance of candidates to that of candles, for each share of luck
    ratio = (1.0 / _SHARES - 1.0) * luck.mean()
    weight = 1.0 / (luck + ratio[:, None])
    sums = weight @ one**2
    centre = weight @ (one * means) / sums
    between = (weight * np.square(means - centre[:, None] * one)).sum(axis=1)
    log = (
        0.5 * (np.log(weight).sum(axis=1) - np.log(sums))
        - 0.5 * (df + k - 1) * np.log(within + between)
        + np.log(_STEPS)  # the density of the share, and how far the steps lie apart
    )
    chance = np.exp(log - log.max())
    at = random.choice(len(_SHARES), size=draws, p=chance / chance.sum())
    variance = (within + between[at]) / random.chisquare(df + k - 1, size=draws)
    common = centre[at] + np.sqrt(variance / sums[at]) * random.standard_normal(draws)
    kept = ratio[at, None] * weight[at]  # how much of its own measured mean each candidate keeps
    common = common[:, None] * one
    rest = np.sqrt(kept * variance[:, None] * df / within) * noise
    return (common + kept * (means - common) + rest) @ axes.T


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

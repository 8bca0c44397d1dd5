"""Times that are known only to lie in a bracket: where they lie (Turnbull 1976), and how early each
is (Sun 1996)."""

from __future__ import annotations

import itertools

import numpy as np

_MOST_STEPS = 200
_STILL = 1e-12  # neither shares nor the log likelihood move


def turnbull(after, until) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Share of the times in each of the brackets that the data can tell apart: low end, high end,
    share.

    A time is above ``after`` and at most ``until`` (infinite when never seen); equal ends are an
    exact time. The self-consistent shares (Turnbull 1976), which are the likeliest ones.
    """
    low, high, holds = _innermost(np.asarray(after, dtype=float), np.asarray(until, dtype=float))
    return low, high, _shares(holds)


def _shares(holds: np.ndarray) -> np.ndarray:
    """The shares of the brackets, given which of them each observation holds.

    Each step takes the best shares of the likelihood's second-order shape (Wang 2007, JRSS-B
    69:185; their sum held to 1 as by Dax 1990), or part of the way there. Turnbull's own steps
    come to the same shares, but take more than 100,000 where a share is 0 and nearly could be more.
    """
    from scipy.optimize import nnls

    n, m = holds.shape
    share = np.full(m, 1.0 / m)
    for _ in range(_MOST_STEPS):
        weight = holds / (holds @ share)[:, None]
        gain = weight.sum(axis=0)
        aim, _ = nnls(np.vstack([weight - 2.0, np.ones(m)]), np.append(np.zeros(n), 1.0))
        way = aim / aim.sum() - share
        share = share + _length(holds, share, way, gain @ way) * way
        if np.abs(way).max() < _STILL:
            break
    return share


def _length(holds, share, way, slope: float) -> float:
    """The part of the way, halved until it gains a third of what its start promises."""
    before, length = holds @ share, 1.0
    with np.errstate(divide="ignore"):
        while np.log(1.0 + length * (holds @ way) / before).sum() < length * slope / 3.0 - _STILL:
            length /= 2.0
    return length


def _innermost(low, high):
    """The brackets in which any mass can lie, and which of them each observation holds."""
    # at one value an exact time begins first, then brackets end, then brackets begin
    begin = np.where(low == high, 0, 2)
    ends = sorted(
        {
            *zip(low, begin, [False] * len(low), strict=True),
            *zip(high, [1] * len(high), [True] * len(high), strict=True),
        }
    )
    inner = [(a, b) for a, b in itertools.pairwise(ends) if not a[2] and b[2]]
    keys = np.array([[a[0], a[1], b[0]] for a, b in inner])
    starts_in = (low[:, None] < keys[:, 0]) | (
        (low[:, None] == keys[:, 0]) & (begin[:, None] <= keys[:, 1])
    )
    return keys[:, 0], keys[:, 2], (starts_in & (keys[:, 2] <= high[:, None])).astype(float)


def logrank_scores(after, until) -> np.ndarray:
    """Log-rank score of each time: 1 minus the hazard it has lived through, averaged over its
    bracket (Sun 1996).

    For exact and open times their sum over a group is observed minus expected.
    """
    low, high = np.asarray(after, dtype=float), np.asarray(until, dtype=float)
    _, _, holds = _innermost(low, high)
    share = _shares(holds)
    where = holds * share / (holds @ share)[:, None]
    ahead = np.cumsum(share[::-1])[::-1]
    hazard = np.divide(share, ahead, out=np.zeros_like(share), where=ahead > 0)
    at_risk = np.cumsum(where[:, ::-1], axis=1)[:, ::-1]
    return (where - hazard * at_risk).sum(axis=1)

"""Scores of a panel: candidates compared with candle and assessor both random.

A score is not a replicate: the same noses smell the same candles again and again. What a candidate
is said to be must hold for other candles made alike and for other noses, so the spread of candles
within a candidate and the spread of noses over candidates both count::

    score = block + candidate + candle + assessor x candidate + assessor x candle

The block (an assessor in a session) takes off how high somebody scores. The three variances come
from mean squares and what these are expected to be (Henderson's third method: Henderson 1953,
Biometrics 9:226; Searle 1971), which is the analysis of variance where nothing is missing. The
variance of a difference is a sum of mean squares with degrees of freedom after Satterthwaite (1946,
Biometrics Bulletin 2:110). It is never less than what candles alone or assessors alone would give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_TINY = 1e-9
REST = 2  # place of the mean square that is taken off the sum of the others


def _orthonormal(columns: np.ndarray, without: np.ndarray) -> np.ndarray:
    """An orthonormal basis of the columns, less what ``without`` (orthonormal) spans."""
    left = columns - without @ (without.T @ columns)
    u, size, _ = np.linalg.svd(left, full_matrices=False)
    return u[:, size > _TINY * max(1.0, size.max(initial=0.0)) * len(left)]


def _dummies(codes: np.ndarray) -> np.ndarray:
    return (codes[:, None] == np.unique(codes)[None, :]).astype(float)


def _pairs(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.unique(a * (b.max() + 1) + b, return_inverse=True)[1]


@dataclass(frozen=True, eq=False)
class Means:
    """Means of the candidates, and the mean squares that tell how well they are known.

    Attributes
    ----------
    estimate : numpy.ndarray, shape (candidates,)
        At the middle of the blocks.
    mean_squares, degrees : numpy.ndarray, shape (3,)
        Of candles within candidates, of assessors over candidates, and of the rest.
    variances : numpy.ndarray, shape (3,)
        What they come from: candle, assessor x candidate, rest. Zero where an estimate is below.
    weights : numpy.ndarray, shape (candidates, candidates, 3)
        How much of each mean square is in the covariance of two means.
    """

    estimate: np.ndarray
    mean_squares: np.ndarray
    degrees: np.ndarray
    variances: np.ndarray
    weights: np.ndarray

    def contrast(self, row) -> tuple[float, float, float]:
        """Estimate, standard error and degrees of freedom of a weighted sum of the means."""
        row = np.asarray(row, dtype=float)
        parts = np.einsum("i,ijq,j->q", row, self.weights, row) * self.mean_squares
        whole, least = parts.sum(), parts[:REST].max()
        added = parts if whole >= least else parts[:REST]
        known = self.degrees[: len(added)]
        own = added[known > 0] ** 2 / known[known > 0]
        freedom = max(added.sum() ** 2 / own.sum(), 1.0) if own.sum() > 0 else 1.0
        return float(row @ self.estimate), float(np.sqrt(max(whole, least))), float(freedom)


class Panel:
    """Who scored which candle in which block: what can be worked out before a score is known.

    Parameters
    ----------
    block, assessor, candle : numpy.ndarray of int, shape (scores,)
        Numbered from 0.
    candidate_of : numpy.ndarray of int, shape (candles,)
        The candidate of each candle.
    """

    def __init__(self, block, assessor, candle, candidate_of) -> None:
        candidate = np.asarray(candidate_of)[candle]
        blocks = _orthonormal(_dummies(block), np.zeros((len(block), 0)))
        z_candle, z_pair = _dummies(candle), _dummies(_pairs(assessor, candidate))
        z_cell = _dummies(_pairs(assessor, candle))
        own = _orthonormal(z_candle, blocks)
        with_pair = np.hstack([blocks, _orthonormal(z_pair, blocks)])
        with_candle = np.hstack([blocks, own])
        of_pair = _orthonormal(z_pair, with_candle)
        full = np.hstack([with_candle, of_pair])
        self.bases = [_orthonormal(z_candle, with_pair), of_pair, _orthonormal(z_cell, full)]
        self.degrees = np.array([basis.shape[1] for basis in self.bases], dtype=float)
        together = _orthonormal(_dummies(candidate), blocks)
        self.connected = together.shape[1] == len(np.unique(candidate)) - 1
        levels = z_candle, z_pair, z_cell
        expected = np.array(
            [[np.square(b.T @ z).sum() / max(b.shape[1], 1) for z in levels] for b in self.bases]
        )
        seen = np.ix_(self.degrees > 0, self.degrees > 0)
        self.solve = np.zeros((3, 3))
        self.solve[seen] = np.linalg.pinv(expected[seen])
        self.means = self._means(block, candidate)
        spread = np.array([self.means @ z @ z.T @ self.means.T for z in levels])
        self.weights = np.einsum("vij,vq->ijq", spread, self.solve)

    def _means(self, block, candidate) -> np.ndarray:
        """The mean of each candidate at the middle of the blocks, as weights of the scores."""
        z_block, z_candidate = _dummies(block), _dummies(candidate)
        solve = np.linalg.pinv(np.hstack([z_block, z_candidate]))
        n, k = z_block.shape[1], z_candidate.shape[1]
        wanted = np.hstack([np.full((k, n), 1.0 / n), np.eye(k)])
        return wanted @ solve

    def fit(self, scores: np.ndarray) -> Means:
        """The means and their spread, for one set of scores."""
        squares = np.array(
            [np.square(basis.T @ scores).sum() / max(basis.shape[1], 1) for basis in self.bases]
        )
        parts = np.maximum(self.solve @ squares, 0.0)
        return Means(self.means @ scores, squares, self.degrees, parts, self.weights)


def with_scale_use(scores, block, assessor, share: float = 1 / 3) -> np.ndarray:
    """Scores with part of what assessors differ in their use of the scale taken off.

    Within each block an assessor's scores are drawn together or apart toward the usual spread of
    the panel. ``share`` is how far, on a log scale: a third, because with a dozen scores most of
    what spreads differ in is luck (tests/benchmarks/scent_coverage.py).
    """
    middle = np.bincount(block, scores) / np.bincount(block)
    off = scores - middle[block]
    spread = np.sqrt(np.bincount(assessor, off**2) / np.maximum(np.bincount(assessor), 1))
    usual = spread[spread > 0]
    if len(usual) < 2:
        return np.asarray(scores, dtype=float)
    factor = np.maximum(spread, 0.3 * np.median(usual)) ** -share
    factor *= spread.mean() / (factor * spread).mean()
    return middle[block] + off * factor[assessor]

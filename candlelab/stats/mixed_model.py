"""Several burns of each candle: a linear model with a random level per candle.

REML (Patterson and Thompson 1971) from cross-products within candles, and one more for each number
of burns that candles have, so 150,000 burns cost little more than 150. Standard errors and degrees
of freedom after Kenward and Roger 1997 (Biometrics 53:983), or after Satterthwaite (Giesbrecht and
Burns 1985, Biometrics 41:477; Fai and Cornelius 1996). It is here because statsmodels' mixed model
has only normal-theory intervals, far too sure of themselves with three candles, and stops short
near zero candle variance.

Zero candle variance is an answer, not a fault. The degrees of freedom come from the expected
information on the two *variances*, as in Kenward and Roger. It keeps the candle in the sum even
when its variance is estimated as zero, so that the number of candles still decides: 4 x 3 candles
give 8 in a balanced plan, whatever the number of burns. (An information on *standard deviations*
has no slope at zero and counts burns there: 91 in place of 8.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

_PIECE = 128
_RATIOS = np.concatenate(([0.0], np.logspace(-4, 9, 40)))


class NotConverged(ArithmeticError):
    """The search for the two variances found no resting place, or none that can be trusted."""


@dataclass(frozen=True, eq=False)
class MixedFit:
    """A fitted model.

    Attributes
    ----------
    coef : numpy.ndarray, shape (p,)
        Coefficients.
    cov, cov_kr : numpy.ndarray, shape (p, p)
        Their covariance: ``cov`` takes the variances as known, ``cov_kr`` adds what estimating
        them costs.
    variances : numpy.ndarray, shape (2,)
        Variance of burns and of candles.
    variance_cov, variance_cov_observed : numpy.ndarray, shape (2, 2)
        Covariance of the two variances from the expected information, and from the observed one
        (None at zero candle variance, where there is none).
    criterion : float
        Minus twice the restricted log-likelihood.
    slopes : numpy.ndarray, shape (2, p, p)
        Change of ``cov`` with each variance.
    """

    coef: np.ndarray
    cov: np.ndarray
    cov_kr: np.ndarray
    variances: np.ndarray
    variance_cov: np.ndarray
    variance_cov_observed: np.ndarray | None
    criterion: float
    slopes: np.ndarray

    def contrasts(
        self, weights, method: str = "kenward-roger"
    ) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Estimate, standard error and degrees of freedom of each row of ``weights`` times the
        coefficients.

        ``method`` is kenward-roger or satterthwaite; at zero candle variance both use the expected
        information.
        """
        weights = np.atleast_2d(np.asarray(weights, dtype=float))
        kenward_roger = method == "kenward-roger"
        spread = (
            self.variance_cov
            if kenward_roger or self.variance_cov_observed is None
            else self.variance_cov_observed
        )
        variance = np.einsum("qp,pr,qr->q", weights, self.cov, weights)
        slope = np.einsum("qp,ipr,qr->qi", weights, self.slopes, weights)
        df = 2.0 * variance**2 / np.einsum("qi,ij,qj->q", slope, spread, slope)
        if kenward_roger:
            variance = np.einsum("qp,pr,qr->q", weights, self.cov_kr, weights)
        return weights @ self.coef, np.sqrt(variance), df

    def f_test(self, weights) -> tuple[float, int, float, float]:
        """F, its two degrees of freedom and p for all rows of ``weights`` being zero (Kenward and
        Roger 1997). Raises NotConverged where candles are too few for it.

        The rows must not repeat each other.
        """
        weights = np.atleast_2d(np.asarray(weights, dtype=float))
        q, (estimate, error, dfs) = len(weights), self.contrasts(weights)
        if q == 1:
            f, df = float(estimate[0] / error[0]) ** 2, float(dfs[0])
            return f, 1, df, float(special.fdtrc(1, df, f))
        theta = _inverse(weights @ self.cov @ weights.T)
        inner = theta @ (weights @ self.slopes @ weights.T)
        a1 = np.einsum("ij,iaa,jbb->", self.variance_cov, inner, inner)
        a2 = np.einsum("ij,iab,jba->", self.variance_cov, inner, inner)
        b = (a1 + 6.0 * a2) / (2.0 * q)
        g = ((q + 1.0) * a1 - (q + 4.0) * a2) / ((q + 2.0) * a2)
        c1, c2, c3 = np.array([g, q - g, q + 2.0 - g]) / (3.0 * q + 2.0 * (1.0 - g)) * b
        mean, near_two = 1.0 - a2 / q, abs(1.0 - a2 / q) < 1e-6  # one over the mean of F
        ratio = 1.0 if near_two else mean / (1.0 - c2)  # both are zero at two df
        with np.errstate(divide="ignore"):  # endless at four df
            df = float(4.0 + (q + 2.0) / (ratio**2 * (1.0 + c1) / (1.0 - c3) - 1.0))
        scale = 1.0 if abs(df - 2.0) < 0.01 else df * mean / (df - 2.0)  # as R's pbkrtest does
        f = float(scale * estimate @ _inverse(weights @ self.cov_kr @ weights.T) @ estimate / q)
        if not (f >= 0.0 and 0.0 < df < np.inf):
            raise NotConverged
        return f, q, df, float(special.fdtrc(q, df, f))


def fit_mixed(y, x, candle) -> MixedFit:
    """Fit y = x @ coef + level of the candle + error of the burn by REML.

    ``candle`` holds whole numbers. ``x`` needs full rank, and there must be more rows and more
    candles than it takes to fit them without error. Cross-products of ``x`` are taken, so columns
    that are nearly alike are made orthonormal by the caller (see ``models``). Raises NotConverged.
    """
    sums = _Sums(np.asarray(y, dtype=float), np.asarray(x, dtype=float), np.asarray(candle))
    starts = [start for ratio in _RATIOS if (start := sums.at_ratio(ratio))[0] > 0.0]
    if not starts:
        raise NotConverged
    return _finish(sums, _climb(sums, min(starts, key=sums.criterion)))


def triangle(x) -> np.ndarray:
    """R of the QR decomposition of ``x``, by decomposing pieces of its rows and then what they
    give.

    The pieces are too small to be shared between cores. A large matrix is, and waits for each of
    them: beside other work 0.7 s in place of 0.06 s for 100,000 rows of 36 columns.
    """
    p = x.shape[1]
    size = max(_PIECE, 2 * p)
    while len(x) > size:
        x = np.concatenate((x, np.zeros((-len(x) % size, p))))
        x = _r(x.reshape(-1, size, p)).reshape(-1, p)
    return _r(x)


def _r(x) -> np.ndarray:
    return np.asarray(np.linalg.qr(x, mode="r"))


def _squares(x) -> np.ndarray:
    root = triangle(x)
    return root.T @ root


class _Sums:
    """All that the model needs of the rows: cross-products within candles, and between candles one
    for each number of burns."""

    def __init__(self, y, x, candle):
        table = np.column_stack((x, y))
        table = table[np.argsort(candle, kind="stable")]
        burns = np.unique(candle, return_counts=True)[1]
        mean = np.add.reduceat(table, np.cumsum(burns) - burns, axis=0) / burns[:, None]
        left = table - np.repeat(mean, burns, axis=0)
        self.within = _squares(left)
        sizes, group = np.unique(burns, return_inverse=True)
        between = np.array([n * _squares(mean[group == g]) for g, n in enumerate(sizes)])
        self.between = between.reshape(len(sizes), -1)
        self.candles = np.bincount(group).astype(float)
        self.sizes = np.stack((np.ones(len(sizes)), sizes.astype(float)))
        self.n, self.p = table.shape[0], x.shape[1]
        self.df_within = self.n - len(burns)

    def weighted(self, weight):
        """Cross-products of the candles' means, a weight for each number of burns."""
        return (weight @ self.between).reshape(self.within.shape)

    def cross(self, variances):
        """Cross-products of x and y weighted with the inverse of the covariance."""
        return self.within / variances[0] + self.weighted(1.0 / (variances @ self.sizes))

    def criterion(self, variances):
        """Minus twice the restricted log-likelihood."""
        cross, p = self.cross(variances), self.p
        log = self.df_within * np.log(variances[0]) + self.candles @ np.log(variances @ self.sizes)
        log += np.linalg.slogdet(cross[:p, :p])[1] + (self.n - p) * np.log(2.0 * np.pi)
        return log + _residual(cross, p)

    def at_ratio(self, ratio):
        """The two variances that suit best among those of one ratio, candle to burn."""
        shape = np.array([1.0, ratio])
        return shape * _residual(self.cross(shape), self.p) / (self.n - self.p)


def _residual(cross, p):
    return cross[p, p] - cross[:p, p] @ _inverse(cross[:p, :p]) @ cross[:p, p]


def _inverse(matrix):
    """Inverse of a symmetric matrix, its diagonal brought to ones first. Raises NotConverged."""
    diagonal = matrix.diagonal()
    if not (diagonal > 0.0).all():
        raise NotConverged
    scale = 1.0 / np.sqrt(diagonal)
    both = scale[:, None] * scale
    return np.linalg.inv(matrix * both) * both


def _is_positive(matrix):
    diagonal = np.diag(matrix)
    return (
        bool((diagonal > 0).all())
        and np.linalg.eigvalsh(matrix / np.sqrt(np.outer(diagonal, diagonal))).min() > 0.0
    )


def _climb(sums, variances):
    """Fisher scoring from a start, with the candle variance kept at or above zero; a step that does
    not help is halved."""
    here, last = sums.criterion(variances), np.inf
    for _ in range(200):
        d = _derivatives(sums, variances)
        step = _inverse(d["information"]) @ d["score"]
        if variances[1] == 0.0 and step[1] <= 0.0:
            step = np.array([d["score"][0] / d["information"][0, 0], 0.0])
        gain = float(step @ d["score"])
        if gain < 1e-20 * sums.n or last <= gain < 1e-8:
            return variances
        if gain < 1e-8:  # below the rounding of the criterion: only the score can tell
            variances, last = np.maximum(variances + step, [variances[0] / 10.0, 0.0]), gain
            continue
        for factor in 0.5 ** np.arange(40):
            there = np.maximum(variances + factor * step, [variances[0] / 10.0, 0.0])
            value = sums.criterion(there)
            if value < here:
                variances, here = there, value
                break
        else:
            break
    raise NotConverged


def _derivatives(sums, variances):
    """Score and information of the two variances, and the pieces of Kenward and Roger's
    correction."""
    p, sizes, burn = sums.p, sums.sizes, variances[0]
    inverse = 1.0 / (variances @ sizes)
    cross = sums.cross(variances)
    cov = _inverse(cross[:p, :p])
    coef = cov @ cross[:p, p]
    first = np.array([sums.weighted(s * inverse**2) for s in sizes])
    first[0] += sums.within / burn**2
    second = np.array([[sums.weighted(s * t * inverse**3) for t in sizes] for s in sizes])
    second[0, 0] += sums.within / burn**3
    trace = sizes @ (sums.candles * inverse) + np.array([sums.df_within / burn, 0.0])
    traces = (sizes * sums.candles * inverse**2) @ sizes.T + np.diag(
        [sums.df_within / burn**2, 0.0]
    )
    turn = cov @ first[:, :p, :p]
    information = (
        traces
        - 2.0 * np.einsum("pq,ijqp->ij", cov, second[:, :, :p, :p])
        + np.einsum("ipq,jqp->ij", turn, turn)
    )
    information = information / 2.0
    ends = np.append(-coef, 1.0)
    toward = first[:, :p, :] @ ends
    score = (np.einsum("p,ipq,q->i", ends, first, ends) - trace + np.einsum("ipp->i", turn)) / 2.0
    observed = np.einsum("p,ijpq,q->ij", ends, second, ends) - toward @ cov @ toward.T - information
    return {
        "coef": coef,
        "cov": cov,
        "first": first[:, :p, :p],
        "second": second[:, :, :p, :p],
        "score": score,
        "information": information,
        "observed": observed,
    }


def _finish(sums, variances):
    d = _derivatives(sums, variances)
    if not _is_positive(d["information"]):
        raise NotConverged
    cov, first, spread = d["cov"], d["first"], _inverse(d["information"])
    gap = d["second"] - (first @ cov)[:, None] @ first
    more = cov @ np.einsum("ij,ijpq->pq", spread, gap) @ cov
    if not _is_positive(cov + more + more.T):
        raise NotConverged
    inside = variances[1] > 0.0 and _is_positive(d["observed"])
    return MixedFit(
        coef=d["coef"],
        cov=cov,
        cov_kr=cov + more + more.T,
        variances=variances,
        variance_cov=spread,
        variance_cov_observed=_inverse(d["observed"]) if inside else None,
        criterion=float(sums.criterion(variances)),
        slopes=cov @ first @ cov,
    )

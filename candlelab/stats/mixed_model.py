"""Several burns of each candle: a linear model with a random level per candle.

REML (Patterson and Thompson 1971) from sums per candle only, so 150,000 burns cost little more
than 150. Standard
errors and degrees of freedom after Kenward and Roger 1997 (Biometrics 53:983), or after
Satterthwaite (Giesbrecht and
Burns 1985, Biometrics 41:477; Fai and Cornelius 1996). It is here because statsmodels' mixed model
has only
normal-theory intervals, far too sure of themselves with three candles, and stops short near zero
candle variance.

Zero candle variance is an answer, not a fault. The degrees of freedom come from the expected
information on the two
*variances*, as in Kenward and Roger. It keeps the candle in the sum even when its variance is
estimated as zero, so
that the number of candles still decides: 4 x 3 candles give 8 in a balanced plan, whatever the
number of burns. (An
information on *standard deviations* has no slope at zero and counts burns there: 91 in place of 8.)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import special

_RATIOS = np.concatenate(([0.0], np.logspace(-4, 9, 40)))


class NotConverged(ArithmeticError):
    """The search for the two variances found no resting place, or none that can be trusted."""


@dataclass(frozen=True, eq=False)
class MixedFit:
    """A fitted model.

    ``variances`` are those of burns and of candles; ``cov`` takes them as known, ``cov_kr`` adds
    what estimating them
    costs. ``criterion`` is minus twice the restricted log-likelihood. ``variance_cov`` is the
    covariance of the two
    variances from the expected information, ``variance_cov_observed`` from the observed one (None
    at zero candle
    variance, where there is none). ``slopes`` is the change of ``cov`` with each variance.
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
        Roger 1997).

        The rows must not repeat each other.
        """
        weights = np.atleast_2d(np.asarray(weights, dtype=float))
        q, estimate = len(weights), weights @ self.coef
        theta = _inverse(weights @ self.cov @ weights.T)
        inner = theta @ (weights @ self.slopes @ weights.T)
        a1 = np.einsum("ij,iaa,jbb->", self.variance_cov, inner, inner)
        a2 = np.einsum("ij,iab,jba->", self.variance_cov, inner, inner)
        b = (a1 + 6.0 * a2) / (2.0 * q)
        g = ((q + 1.0) * a1 - (q + 4.0) * a2) / ((q + 2.0) * a2)
        c1, c2, c3 = np.array([g, q - g, q + 2.0 - g]) / (3.0 * q + 2.0 * (1.0 - g))
        mean = 1.0 / (1.0 - a2 / q)
        variance = 2.0 / q * (1.0 + c1 * b) / ((1.0 - c2 * b) ** 2 * (1.0 - c3 * b))
        df = 4.0 + (q + 2.0) / (q * variance / (2.0 * mean**2) - 1.0)
        scale = df / (mean * (df - 2.0))
        f = scale * estimate @ _inverse(weights @ self.cov_kr @ weights.T) @ estimate / q
        return float(f), q, float(df), float(special.fdtrc(q, df, f))


def fit_mixed(y, x, candle) -> MixedFit:
    """Fit y = x @ coef + level of the candle + error of the burn by REML.

    ``candle`` holds whole numbers. ``x`` needs full rank, and there must be more rows and more
    candles than it takes
    to fit them without error. Raises NotConverged.
    """
    sums = _Sums(np.asarray(y, dtype=float), np.asarray(x, dtype=float), np.asarray(candle))
    starts = [sums.at_ratio(ratio) for ratio in _RATIOS]
    best = min(starts, key=sums.criterion)
    return _finish(sums, _climb(sums, best))


class _Sums:
    """All that the model needs of the rows: cross-products within candles, and one row of sums per
    candle."""

    def __init__(self, y, x, candle):
        table = np.column_stack((x, y))
        order = np.argsort(candle, kind="stable")
        table, candle = table[order], candle[order]
        start = np.flatnonzero(np.concatenate(([True], candle[1:] != candle[:-1])))
        count = np.diff(np.append(start, len(candle)))
        mean = np.add.reduceat(table, start, axis=0) / count[:, None]
        left = table - np.repeat(mean, count, axis=0)
        self.within = left.T @ left
        self.between = mean * np.sqrt(count)[:, None]
        self.n, self.p = table.shape[0], x.shape[1]
        self.df_within = self.n - len(count)
        self.sizes = np.stack((np.ones(len(count)), count.astype(float)))

    def cross(self, variances):
        """Cross-products of x and y weighted with the inverse of the covariance."""
        weight = 1.0 / (variances @ self.sizes)
        return self.within / variances[0] + (self.between * weight[:, None]).T @ self.between

    def criterion(self, variances):
        """Minus twice the restricted log-likelihood."""
        cross, p = self.cross(variances), self.p
        log = self.df_within * np.log(variances[0]) + np.log(variances @ self.sizes).sum()
        log += np.linalg.slogdet(cross[:p, :p])[1] + (self.n - p) * np.log(2.0 * np.pi)
        return log + _residual(cross, p)

    def at_ratio(self, ratio):
        """The two variances that suit best among those of one ratio, candle to burn."""
        shape = np.array([1.0, ratio])
        return shape * _residual(self.cross(shape), self.p) / (self.n - self.p)


def _residual(cross, p):
    return cross[p, p] - cross[:p, p] @ _inverse(cross[:p, :p]) @ cross[:p, p]


def _inverse(matrix):
    """Inverse of a symmetric matrix with a positive diagonal, brought to ones there first."""
    scale = 1.0 / np.sqrt(np.diag(matrix))
    return np.linalg.inv(matrix * np.outer(scale, scale)) * np.outer(scale, scale)


def _is_positive(matrix):
    diagonal = np.diag(matrix)
    return (
        bool((diagonal > 0).all())
        and np.linalg.eigvalsh(matrix / np.sqrt(np.outer(diagonal, diagonal))).min() > 0.0
    )


def _climb(sums, variances):
    """Fisher scoring from a start, with the candle variance kept at or above zero; a step that
    does not help is halved."""
    here = sums.criterion(variances)
    for _ in range(200):
        d = _derivatives(sums, variances)
        step = _inverse(d["information"]) @ d["score"]
        if variances[1] == 0.0 and step[1] <= 0.0:
            step = np.array([d["score"][0] / d["information"][0, 0], 0.0])
        gain = float(step @ d["score"])
        if gain < 1e-20 * sums.n:
            return variances
        for factor in 0.5 ** np.arange(40):
            there = np.maximum(variances + factor * step, [variances[0] / 10.0, 0.0])
            value = sums.criterion(there)
            if value < here:
                variances, here = there, value
                break
        else:  # as good as the arithmetic gets: the promised gain is below the rounding of the criterion
            if gain < 1e-8:
                return variances
            break
    raise NotConverged


def _derivatives(sums, variances):
    """Score and information of the two variances, and the pieces of Kenward and Roger's
    correction."""
    p, sizes, between, burn = sums.p, sums.sizes, sums.between, variances[0]
    inverse = 1.0 / (variances @ sizes)
    cross = sums.cross(variances)
    cov = _inverse(cross[:p, :p])
    coef = cov @ cross[:p, p]
    first = np.array([(between * (s * inverse**2)[:, None]).T @ between for s in sizes])
    first[0] += sums.within / burn**2
    second = np.array(
        [[(between * (s * t * inverse**3)[:, None]).T @ between for t in sizes] for s in sizes]
    )
    second[0, 0] += sums.within / burn**3
    trace = sizes @ inverse + np.array([sums.df_within / burn, 0.0])
    traces = (sizes * inverse**2) @ sizes.T + np.diag([sums.df_within / burn**2, 0.0])
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
    cov, first, spread = d["cov"], d["first"], _inverse(d["information"])
    gap = d["second"] - np.einsum("ipq,qr,jrs->ijps", first, cov, first)
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

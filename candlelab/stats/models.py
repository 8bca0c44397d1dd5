"""From rows to a model that can be asked about differences, or a sentence why these rows cannot
carry it.

Columns are brought to one size and made orthonormal (QR) before anything is fitted, and what least
squares explains is taken off first. Covariates that nearly say the same, a spread far below the
values and units of any size then cost no digits. A column of which less than 1e-7 is left beside
those before it says nothing of its own (the limit of R's ``lm``) and is refused.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from candlelab.stats.columns import CannotCompare
from candlelab.stats.designs import Rows
from candlelab.stats.mixed_model import MixedFit, NotConverged, fit_mixed, triangle
from candlelab.stats.tails import f_above
from candlelab.text import capital, counted, listed

_TIED = 1e-7  # least share of a column that the columns before it do not explain
_ROUNDING = 1e-8  # least part of a column within candles that is more than rounding


@dataclass(frozen=True, eq=False)
class LinearFit:
    """Coefficients of one value per candle, their covariance, and its degrees of freedom: one
    number, or one for each coefficient where each has a variation of its own (Welch). ``spread``
    numbers the spread of each coefficient then: those that share one are known together."""

    coef: np.ndarray
    cov: np.ndarray
    df: float | np.ndarray
    spread: np.ndarray | None = None

    def contrasts(self, weights) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Estimate, standard error and degrees of freedom of each row of ``weights``."""
        variance = np.einsum("qp,pr,qr->q", weights, self.cov, weights)
        if np.ndim(self.df):
            each, own_df = weights**2 * np.diag(self.cov), np.asarray(self.df)
            if self.spread is not None:
                of_spread = self.spread[:, None] == np.unique(self.spread)
                first = of_spread.argmax(axis=0)
                each, own_df = each @ of_spread, own_df[first]
            df = variance**2 / (each**2 / own_df).sum(axis=1)
        else:
            df = np.full(len(weights), self.df)
        return weights @ self.coef, np.sqrt(variance), df

    def f_test(self, weights) -> tuple[float, int, float, float]:
        """F, its two degrees of freedom and p that all rows of ``weights`` are zero."""
        estimate, q = weights @ self.coef, len(weights)
        f = float(estimate @ np.linalg.solve(weights @ self.cov @ weights.T, estimate)) / q
        return f, q, float(self.df), float(f_above(f, q, self.df))


@dataclass(frozen=True, eq=False)
class Model:
    """A fitted model, asked with weights for its columns: first the cells, or what the caller put
    in their place, then the covariates.

    Attributes
    ----------
    rows : Rows
        What it was fitted to.
    fitted : LinearFit or MixedFit
        The fit in orthonormal columns, in units of ``scale`` and about ``centre``.
    turn : numpy.ndarray, shape (p, p)
        Turns weights of columns into weights of orthonormal columns.
    centre : numpy.ndarray, shape (p,)
        What was taken off each coefficient before the fit.
    scale : float
        What the metric was divided by.
    candle_sd, burn_sd : float
        Spread between candles and between burns; NaN where the method has none.
    """

    rows: Rows
    fitted: LinearFit | MixedFit
    turn: np.ndarray
    centre: np.ndarray
    scale: float
    candle_sd: float
    burn_sd: float

    @property
    def coef(self) -> np.ndarray:
        """Coefficients of the columns."""
        return self.centre + self.scale * (self.turn @ self.fitted.coef)

    @property
    def cov(self) -> np.ndarray:
        """Their covariance."""
        return self.scale**2 * self.turn @ self._cov @ self.turn.T

    @property
    def df(self) -> float:
        """Degrees of freedom of every contrast; NaN where each has its own."""
        fitted = self.fitted
        if isinstance(fitted, LinearFit) and not np.ndim(fitted.df):
            return float(fitted.df)
        return np.nan

    def contrasts(self, weights) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Estimate, standard error and degrees of freedom of each row of ``weights``, given for the
        first columns. Raises CannotCompare where the rows leave no answer."""
        weights, turned, size = self._turned(weights)
        estimate, error, df = self.fitted.contrasts(turned)
        estimate = weights @ self.centre + self.scale * size * estimate
        error = self.scale * size * error
        if not (np.isfinite([estimate, error, df]).all() and (error > 0).all() and (df > 0).all()):
            raise CannotCompare(_unstable(self.rows))
        return estimate, error, df

    def correlation(self, weights) -> np.ndarray:
        """Correlation of the estimates of the rows of ``weights``."""
        _, turned, _ = self._turned(weights)
        cov = turned @ self._cov @ turned.T
        sd = np.sqrt(np.diag(cov))
        return cov / np.outer(sd, sd)

    def f_test(self, weights) -> tuple[float, int, float, float]:
        """F, its two degrees of freedom and p that all rows of ``weights`` are zero. Raises
        CannotCompare where the rows leave no answer."""
        try:
            return self.fitted.f_test(self._turned(weights)[1])
        except NotConverged:
            raise CannotCompare(_unstable(self.rows)) from None

    @property
    def _cov(self):
        return self.fitted.cov_kr if isinstance(self.fitted, MixedFit) else self.fitted.cov

    def _turned(self, weights):
        """Weights for all columns, for the orthonormal ones with a length of 1, and that length."""
        weights = np.atleast_2d(np.asarray(weights, dtype=float))
        weights = np.pad(weights, ((0, 0), (0, len(self.centre) - weights.shape[1])))
        turned = weights @ self.turn
        size = np.linalg.norm(turned, axis=1)
        return weights, turned / size[:, None], size


def fit(rows: Rows, first: np.ndarray, *, what: str) -> Model:
    """Fit the first columns and the covariates. ``what`` names the first columns in messages.
    Raises CannotCompare."""
    x, turn = _orthonormal(rows, first, what)
    n, p, units = len(rows.y), x.shape[1], rows.unit.max() + 1
    middle = rows.y.mean()
    y = rows.y - middle
    rank_within, spread_within = _within(x, y, rows.unit) if rows.repeated else (0, 0.0)
    if units + rank_within - p < 1:
        raise CannotCompare(_too_few(rows, what))
    if np.ptp(rows.y) <= _rounding(rows.y):
        raise CannotCompare(
            f"Every value of {rows.metric} is {rows.y[0] + 0.0:g}: without any variation no "
            "difference can be judged."
        )
    level = x.T @ y
    left = y - x @ level
    df = n - p if not rows.repeated else n - units - rank_within
    spread = np.linalg.norm(left) if not rows.repeated else spread_within
    if faults := _without_spread(rows, spread, df):
        raise CannotCompare(faults)
    scale = float(np.abs(left).max())
    fitted, candle_sd, burn_sd = _fitted(rows, x, level / scale, left / scale)
    centre = np.append(middle * _weights_of_one(first), np.zeros(p - first.shape[1]))
    return Model(rows, fitted, turn, centre, scale, scale * candle_sd, scale * burn_sd)


def _orthonormal(rows, first, what) -> tuple[np.ndarray, np.ndarray]:
    """The first columns, then numbers about their mean and blocks with a sum of zero, all of it
    orthonormal, and what turns weights accordingly; refuses what is confounded."""
    parts = [first]
    for values in rows.numbers.values():
        parts.append(((values - values.mean()) / values.std())[:, None])
    for codes, levels in rows.blocks.values():
        indicator = (codes[:, None] == np.arange(len(levels))).astype(float)
        parts.append(indicator[:, :-1] - indicator[:, -1:])
    q, turn, tied = _qr(np.column_stack(parts))
    if not tied:
        return q, turn
    ends = np.cumsum([part.shape[1] for part in parts])
    place = int(np.searchsorted(ends, tied[0], side="right"))
    if not place:
        raise CannotCompare(f"{capital(what)} cannot be told apart in this table.")
    *before, name = [*rows.numbers, *rows.blocks][:place]
    alone = _qr(np.column_stack((first, parts[place])))[2]
    raise CannotCompare(
        f"{capital(what) if alone else listed(before)} and {name} cannot be told apart in this "
        f"table: where one changes the other changes with it. Leave out {name}, or burn candles "
        "that break the tie."
    )


def _qr(x) -> tuple[np.ndarray, np.ndarray, list[int]]:
    """Orthonormal columns, what turns weights for ``x`` into weights for them, and the columns that
    are tied to those before them."""
    size = np.linalg.norm(x, axis=0)
    size[size == 0.0] = 1.0
    x, turn = x / size, np.diag(1.0 / size)
    for _ in range(2):  # the second time takes off what rounding left in nearly tied columns
        r = triangle(x)
        own = np.pad(np.abs(np.diag(r)), (0, x.shape[1] - len(r)))
        if tied := np.flatnonzero(own < _TIED).tolist():
            return x, turn, tied
        back = np.linalg.solve(r, np.eye(len(r)))
        x, turn = x @ back, turn @ back
    return x, turn, []


def _within(x, y, unit) -> tuple[int, float]:
    """How many directions of ``x`` change within units, and the norm of what is left of ``y``
    within them."""
    table = np.column_stack((x, y))
    root = triangle(table - _unit_means(table, unit)[unit])
    own, other = root[:, :-1], root[:, -1]
    slopes = np.linalg.lstsq(own, other, rcond=_ROUNDING)[0]
    rank = int(np.linalg.matrix_rank(own, tol=_ROUNDING))
    return rank, float(np.linalg.norm(other - own @ slopes))


def _without_spread(rows, norm, df) -> str:
    """Why the rows show no spread to judge by; empty where they do."""
    if rows.repeated and df < 1:
        return (
            "Too few candles have more than one row to tell the variation between burns from the "
            f"variation between candles. Give one row per candle: the mean of its {rows.metric}."
        )
    if norm / np.sqrt(df) > _rounding(rows.y):
        return ""
    if rows.repeated:
        return (
            f"{rows.metric} is the same in all rows of a candle: these rows repeat one number per "
            "candle. Give one row per candle."
        )
    return (
        f"{rows.metric} does not differ between candles of one candidate: without any variation no "
        "difference can be judged."
    )


def _fitted(rows, x, level, left) -> tuple[LinearFit | MixedFit, float, float]:
    """The fit, given what least squares explains and what it leaves; spread of candles and of
    burns."""
    n, p = x.shape
    if not rows.repeated:
        variance = float(np.square(left).sum()) / (n - p)
        fitted = LinearFit(level, variance * np.eye(p), float(n - p))
        return fitted, float(np.sqrt(variance)), np.nan
    try:
        found = fit_mixed(left, x, rows.unit)
    except (NotConverged, np.linalg.LinAlgError):
        raise CannotCompare(_unstable(rows)) from None
    burn_sd, candle_sd = np.sqrt(found.variances)
    return replace(found, coef=level + found.coef), float(candle_sd), float(burn_sd)


def _weights_of_one(first) -> np.ndarray:
    """Coefficients of the first columns that give 1 in every row."""
    size = np.abs(first).max(axis=0)
    return np.linalg.lstsq(first / size, np.ones(len(first)), rcond=None)[0].round(9) / size


def _rounding(values) -> float:
    """A spread that is nothing but the rounding of such numbers."""
    return 16.0 * np.finfo(float).eps * np.abs(values).max()


def fit_separate(rows: Rows) -> Model:
    """Means of the candles' means, each candidate with a variation of its own (Welch). Raises
    CannotCompare."""
    if rows.numbers or rows.blocks:
        raise CannotCompare(
            'spread="separate" cannot be combined with covariates. Leave out the covariates, or '
            'use spread="pooled".'
        )
    if rows.n_shared:
        raise CannotCompare(
            f'spread="separate" needs candles that carry one candidate each; {rows.n_shared} carry '
            'more than one. Keep only the first wick of each candle, or use spread="pooled".'
        )
    value, cell = unit_values(rows)
    count = np.bincount(cell)
    if few := np.flatnonzero(count < 2).tolist():
        raise CannotCompare(
            'spread="separate" needs two candles of each candidate at least; there is one of '
            f'{listed(map(rows.name, few))}. Use spread="pooled", or burn another candle.'
        )
    mean = np.bincount(cell, value) / count
    left = value - mean[cell]
    spread = np.sqrt(np.bincount(cell, np.square(left)) / (count - 1))
    if flat := np.flatnonzero(spread <= _rounding(value)).tolist():
        raise CannotCompare(
            f"{rows.metric} does not differ between the candles of {listed(map(rows.name, flat))}: "
            'a variation of its own cannot be taken from them. Use spread="pooled".'
        )
    scale = float(spread.max())
    cov = np.diag((spread / scale) ** 2 / count)
    fitted = LinearFit(np.zeros(len(mean)), cov, count - 1.0)
    return Model(rows, fitted, np.eye(len(mean)), mean, scale, np.nan, np.nan)


def fit_apart(rows: Rows, apart: frozenset[int]) -> Model:
    """Means of the candles' means; those in ``apart`` vary each by itself, the others
    together."""
    value, cell = unit_values(rows)
    count = np.bincount(cell)
    mean = np.bincount(cell, value) / count
    squares = np.bincount(cell, np.square(value - mean[cell]))
    own = np.array([n + 1 if n in apart else 0 for n in range(len(count))])
    df = np.bincount(own, count - 1.0)[own]
    variance = np.bincount(own, squares)[own] / df
    scale = float(np.sqrt(variance.max()))
    cov = np.diag(variance / scale**2 / count)
    fitted = LinearFit(np.zeros(len(mean)), cov, df, own)
    rest = variance[own == 0]
    sd = float(np.sqrt(rest[0])) if len(rest) else np.nan
    return Model(rows, fitted, np.eye(len(mean)), mean, scale, sd, np.nan)


def unit_values(rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    """The mean of each unit's rows, and its candidate."""
    first = np.unique(rows.unit, return_index=True)[1]
    return _unit_means(rows.y, rows.unit), rows.cell[first]


def _unit_means(values, unit) -> np.ndarray:
    count = np.bincount(unit)
    if values.ndim == 1:
        return np.bincount(unit, values) / count
    return np.column_stack([np.bincount(unit, column) / count for column in values.T])


def _unstable(rows) -> str:
    return (
        f"No stable answer for {rows.metric} with these rows. Give one row per candle, the mean of "
        f"its {rows.metric}, and compare again."
    )


def _too_few(rows, what) -> str:
    one_each = all(rows.candles_of(i) == 1 for i in range(len(rows.cells)))
    if len(rows.cells) > 1 and not what.startswith("the ") and one_each:
        return (
            "There is one candle of each candidate: nothing shows how much candles of one "
            "candidate differ, so no difference between candidates can be judged. Burn a second "
            "candle of at least one of them."
        )
    n = rows.candle.max() + 1
    candles = "One candle" if n == 1 else counted(n, "candle")
    return (
        f"{candles} cannot carry this comparison: {what} and covariates use up all of them, and "
        "nothing is left to show how much candles differ. Leave out a covariate, or burn more "
        "candles."
    )

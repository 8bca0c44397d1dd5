"""From a tidy table to a model that can be asked about differences: which rows count, what is a
unit, what is confounded.

The rule for choosing the method stands here once, and every result says it in words:

- One row per candle: ordinary linear model of the candles, one spread for all candidates (the
default,
  ``spread="pooled"``), or a spread for each candidate when the user asks for it
  (``spread="separate"``, Welch).
- Several rows per candle: the candle is a random level (``mixed``), Kenward-Roger degrees of
freedom. With
  ``spread="separate"`` the mean of each candle's rows takes their place.
- A candle that carries more than one candidate (a wick change): each wick run of a candle is a
unit of its own. The
  treatment is the wick, and a new wick is put in once per run, however many burns follow; a level
  per candle alone
  would count those burns as wicks. Where runs share a candle this makes intervals of differences
  wider, never
  narrower: what the two runs have in common is not taken off. (Half of the candles re-wicked,
  2,000 simulated
  batches, wick runs that differ by 0.1 g/h: a level per candle alone held the truth in 80.4 % in
  place of 95 %, this
  rule in 97.8 %; tests/benchmarks/coverage.py.)
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from pandas.api import types
from scipy import stats

from candlelab.stats.mixed_model import MixedFit, NotConverged, fit_mixed
from candlelab.text import closest, listed, name_of


class CannotCompare(ValueError):
    """The table does not carry the comparison that was asked for; the message says why and what to
    do."""


@dataclass(frozen=True, eq=False)
class Rows:
    """The rows that count. ``cell`` numbers the candidate of each row, ``unit`` its unit,
    ``candle`` its candle."""

    metric: str
    y: np.ndarray
    cell: np.ndarray
    cells: list
    unit: np.ndarray
    candle: np.ndarray
    numbers: dict[str, np.ndarray]
    blocks: dict[str, tuple[np.ndarray, list]]
    n_shared: int
    n_left_out: int
    notes: tuple[str, ...]

    @property
    def repeated(self) -> bool:
        """Whether any unit has more than one row."""
        return len(self.y) > self.unit.max() + 1

    def candles_of(self, *cells: int) -> int:
        """Number of candles that carry one of these candidates."""
        return len(np.unique(self.candle[np.isin(self.cell, cells)]))


def as_columns(names) -> tuple[str, ...]:
    """One name or several, as a tuple."""
    return (names,) if isinstance(names, str) else tuple(names)


def check_confidence(confidence) -> None:
    """Raise CannotCompare for a confidence that is no share between a half and one."""
    if (
        isinstance(confidence, bool)
        or not isinstance(confidence, int | float)
        or not 0.5 <= confidence < 1.0
    ):
        raise CannotCompare(
            f"confidence must be a number from 0.5 to below 1, such as 0.95, not {confidence!r}."
        )


def check_columns(table, columns) -> None:
    """Raise CannotCompare when the table is none, is empty, or lacks a column."""
    if not isinstance(table, pd.DataFrame):
        raise CannotCompare(
            f"The comparison needs a table (a pandas DataFrame), not {type(table).__name__}."
        )
    for column in columns:
        if column not in table.columns:
            close = closest(str(column), table.columns)
            hint = f"Did you mean {close!r}?" if close else f"It has {listed(table.columns, 12)}."
            raise CannotCompare(f"The table has no column {column!r}. {hint}")
    if table.empty:
        raise CannotCompare("The table has no rows.")


def marked_rows(table) -> np.ndarray:
    """Rows marked in a column ``excluded``, where there is one. Raises CannotCompare when it is no
    yes and no."""
    if "excluded" not in table.columns:
        return np.zeros(len(table), dtype=bool)
    marks = table["excluded"]
    if not marks.dropna().isin([True, False]).all():
        raise CannotCompare(
            "The column excluded must hold True and False only: it says which rows are left out."
        )
    return marks.isin([True]).to_numpy(dtype=bool)


def check_number(table, column) -> np.ndarray:
    """The column as floats, missing as NaN. Raises CannotCompare for text, yes/no and infinite
    values."""
    values = table[column]
    seen = values.dropna()
    if types.is_bool_dtype(values) or (
        values.dtype == object and len(seen) and seen.isin([True, False]).all()
    ):
        raise CannotCompare(
            f"{column} holds yes and no. Use compare_proportions for outcomes that are yes or no."
        )
    if not types.is_numeric_dtype(values) and values.dtype != object:
        raise CannotCompare(
            f"{column} holds {'times' if types.is_datetime64_any_dtype(values) else 'text'}; a "
            "comparison needs numbers."
        )
    try:
        numbers = values.astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    except (TypeError, ValueError):
        raise CannotCompare(f"{column} holds text; a comparison needs numbers.") from None
    if np.isinf(numbers).any():
        where = table.index[np.isinf(numbers)][0]
        n = np.isinf(numbers).sum()
        them = "it" if n == 1 else "them"
        raise CannotCompare(
            f"{column} is infinite in {_rows(n)}, the first at {where}. Mend {them} or leave "
            f"{them} out."
        )
    return numbers


def levels_of(values: pd.Series) -> list:
    """Levels in use: in the order of a categorical, by size for numbers, else as they first
    appear."""
    used = list(values.dropna().unique())
    if isinstance(values.dtype, pd.CategoricalDtype):
        return [c for c in values.cat.categories if c in set(used)]
    return sorted(used) if types.is_numeric_dtype(values) else used


def codes_of(values: pd.Series, levels: list) -> np.ndarray:
    """Place of each value among the levels."""
    return pd.Index(levels, dtype=object).get_indexer(values.astype(object))


def read_rows(table, *, metric: str, by, unit, covariates=(), split=True) -> Rows:
    """The rows of the table that count, coded. Raises CannotCompare.

    Rows marked in a column ``excluded``, and rows without the metric, candidate, unit or a
    covariate are left out
    and counted. Covariates that are numbers enter as straight lines, others as blocks. With
    ``split`` a candle that
    carries two candidates is two units.
    """
    by, unit, covariates = as_columns(by), as_columns(unit), as_columns(covariates)
    check_columns(table, (metric, *by, *unit, *covariates))
    twice = [c for c in (*by, *covariates) if c == metric or (*by, *covariates).count(c) > 1]
    if twice:
        raise CannotCompare(
            f"{twice[0]} is asked for twice: as what is compared and as what it is compared by "
            "or corrected for."
        )
    marked = marked_rows(table)
    if marked.all():
        raise CannotCompare("Every row is marked as left out.")
    y = check_number(table[~marked], metric)
    kept = table[~marked]
    lost, missing = [], np.isnan(y)
    if missing.any():
        lost.append(f"{missing.sum()} without {metric}")
    for column in (*by, *unit, *covariates):
        empty = kept[column].isna().to_numpy() & ~missing
        if types.is_object_dtype(kept[column]) or types.is_string_dtype(kept[column]):
            empty |= (kept[column] == "").fillna(False).to_numpy(dtype=bool) & ~missing
        if empty.any():
            lost.append(f"{empty.sum()} without {column}")
        missing = missing | empty
    if missing.all():
        raise CannotCompare(
            f"No row has {listed(dict.fromkeys((metric, *by, *unit, *covariates)))} all filled in."
        )
    if marked.any():
        lost.insert(0, f"{marked.sum()} marked to be left out")
    kept, y = kept[~missing], y[~missing]
    notes = (
        [f"Left out: {_rows(marked.sum() + missing.sum())} of {len(table)} ({', '.join(lost)})."]
        if lost
        else []
    )
    cells, cell = _cells(kept, by)
    candle = kept.groupby(list(unit), sort=False, observed=True).ngroup().to_numpy()
    pair = pd.DataFrame({"candle": candle, "cell": cell})
    n_shared = int((pair.groupby("candle")["cell"].nunique() > 1).sum()) if split else 0
    numbers, blocks = {}, {}
    for column in covariates:
        levels = levels_of(kept[column])
        if len(levels) == 1:
            notes.append(
                f"{column} is the same in every row ({name_of(levels[0])}) and changes nothing."
            )
        elif types.is_numeric_dtype(kept[column]) and not types.is_bool_dtype(kept[column]):
            numbers[column] = check_number(kept, column)
        else:
            blocks[column] = (codes_of(kept[column], levels), levels)
    return Rows(
        metric=metric,
        y=y,
        cell=cell,
        cells=cells,
        unit=pair.groupby(["candle", "cell"], sort=False).ngroup().to_numpy()
        if n_shared
        else candle,
        candle=candle,
        numbers=numbers,
        blocks=blocks,
        n_shared=n_shared,
        n_left_out=int(marked.sum() + missing.sum()),
        notes=tuple(notes),
    )


def _rows(n) -> str:
    return f"{n} row" + ("" if n == 1 else "s")


def _cells(kept, by):
    """The cells in use, as tuples in the order of their levels, and the number of each row's
    cell."""
    levels = [levels_of(kept[column]) for column in by]
    codes = np.column_stack([codes_of(kept[c], v) for c, v in zip(by, levels, strict=True)])
    used, cell = np.unique(codes, axis=0, return_inverse=True)
    return [tuple(v[i] for v, i in zip(levels, row, strict=True)) for row in used], np.ravel(cell)


@dataclass(frozen=True, eq=False)
class Model:
    """A fitted model. The first columns of ``x`` are the cells, or what the caller put in their
    place."""

    rows: Rows
    coef: np.ndarray
    cov: np.ndarray
    candle_sd: float
    burn_sd: float
    mixed: MixedFit | None = None
    cell_df: np.ndarray | None = None
    df: float = np.nan

    def contrasts(self, weights) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Estimate, standard error and degrees of freedom of each row of ``weights``, given for
        the first columns."""
        weights = self._wide(weights)
        if self.mixed is not None:
            return self.mixed.contrasts(weights)
        variance = np.einsum("qp,pr,qr->q", weights, self.cov, weights)
        if self.cell_df is None:
            return weights @ self.coef, np.sqrt(variance), np.full(len(weights), self.df)
        each = weights**2 * np.diag(self.cov)
        return (
            weights @ self.coef,
            np.sqrt(variance),
            variance**2 / (each**2 / self.cell_df).sum(axis=1),
        )

    def correlation(self, weights) -> np.ndarray:
        """Correlation of the estimates of the rows of ``weights``."""
        weights = self._wide(weights)
        cov = weights @ (self.cov if self.mixed is None else self.mixed.cov_kr) @ weights.T
        sd = np.sqrt(np.diag(cov))
        return cov / np.outer(sd, sd)

    def f_test(self, weights) -> tuple[float, int, float, float]:
        """F, its two degrees of freedom and p that all rows of ``weights`` are zero."""
        weights = self._wide(weights)
        if self.mixed is not None:
            return self.mixed.f_test(weights)
        estimate, q = weights @ self.coef, len(weights)
        f = float(estimate @ np.linalg.solve(weights @ self.cov @ weights.T, estimate)) / q
        return f, q, float(self.df), float(stats.f.sf(f, q, self.df))

    def _wide(self, weights):
        weights = np.atleast_2d(np.asarray(weights, dtype=float))
        return np.pad(weights, ((0, 0), (0, len(self.coef) - weights.shape[1])))


def cell_columns(rows: Rows) -> np.ndarray:
    """One column per cell: its coefficient is the cell's mean, at the mean of the numbers and over
    all blocks alike."""
    return (rows.cell[:, None] == np.arange(len(rows.cells))).astype(float)


def fit(rows: Rows, first: np.ndarray, *, what: str) -> Model:
    """Fit the first columns and the covariates. ``what`` names the first columns in messages.
    Raises CannotCompare."""
    x = _with_covariates(rows, first, what)
    n, p, units = len(rows.y), x.shape[1], rows.unit.max() + 1
    within = x - _unit_means(x, rows.unit)[rows.unit]
    rank_within = _rank(within, np.linalg.norm(x, axis=0)) if rows.repeated else 0
    if units + rank_within - p < 1:
        raise CannotCompare(_too_few(rows, what))
    if np.ptp(rows.y) <= _rounding(rows.y):
        raise CannotCompare(
            f"Every value of {rows.metric} is {rows.y[0] + 0.0:g}: without any spread no "
            "difference can be judged."
        )
    centre = rows.y.mean()
    shift = np.zeros(p)  # puts the mean back: on to every cell, or on to a column of ones
    shift[: first.shape[1]] = centre * np.linalg.lstsq(first, np.ones(n), rcond=None)[0].round(9)
    if rows.repeated:
        return _fit_burns(rows, x, rows.y - centre, shift, within, n - units - rank_within)
    y = rows.y - centre
    coef = np.linalg.lstsq(x, y, rcond=None)[0]
    variance = float(np.square(y - x @ coef).sum()) / (n - p)
    if np.sqrt(variance) <= _rounding(rows.y):
        raise CannotCompare(
            f"{rows.metric} does not differ between candles of one candidate: without any spread "
            "no difference can be judged."
        )
    return Model(
        rows,
        coef + shift,
        variance * np.linalg.inv(x.T @ x),
        float(np.sqrt(variance)),
        np.nan,
        df=float(n - p),
    )


def _fit_burns(rows, x, y, shift, within, df_within):
    if df_within < 1:
        raise CannotCompare(
            "Too few candles have more than one row to tell the spread between burns from the "
            "spread between candles. "
            f"Give one row per candle: the mean of its {rows.metric}."
        )
    y_within = y - _unit_means(y, rows.unit)[rows.unit]
    left = y_within - within @ np.linalg.lstsq(within, y_within, rcond=None)[0]
    if np.sqrt(np.square(left).sum() / df_within) <= _rounding(rows.y):
        raise CannotCompare(
            f"{rows.metric} is the same in all rows of a candle: these rows repeat one number "
            "per candle. Give one row per candle."
        )
    try:
        found = fit_mixed(y, x, rows.unit)
    except (NotConverged, np.linalg.LinAlgError):
        raise CannotCompare(
            f"No stable answer for {rows.metric} with these rows. Give one row per candle, the "
            f"mean of its {rows.metric}, and compare again."
        ) from None
    burn_sd, candle_sd = np.sqrt(found.variances)
    moved = replace(found, coef=found.coef + shift)
    return Model(rows, moved.coef, found.cov_kr, float(candle_sd), float(burn_sd), mixed=moved)


def _rounding(values):
    """A spread that is nothing but the rounding of such numbers."""
    return 16.0 * np.finfo(float).eps * np.abs(values).max()


def fit_separate(rows: Rows) -> Model:
    """Means of the candles' means, each candidate with a spread of its own (Welch). Raises
    CannotCompare."""
    if rows.numbers or rows.blocks:
        raise CannotCompare(
            'spread="separate" cannot be combined with covariates. Leave out the covariates, or '
            'use spread="pooled".'
        )
    if rows.n_shared:
        raise CannotCompare(
            f'spread="separate" needs candles that carry one candidate each; {rows.n_shared} '
            "carry more than one. "
            'Keep only the first wick of each candle, or use spread="pooled".'
        )
    value = _unit_means(rows.y, rows.unit)
    cell = rows.cell[np.unique(rows.unit, return_index=True)[1]]
    count = np.bincount(cell)
    few = [rows.cells[i] for i in np.flatnonzero(count < 2)]
    if few:
        names = listed(" ".join(map(name_of, c)) for c in few)
        raise CannotCompare(
            'spread="separate" needs two candles of each candidate at least; there is one of '
            f'{names}. Use spread="pooled", or burn another candle.'
        )
    mean = np.bincount(cell, value) / count
    variance = np.bincount(cell, np.square(value - mean[cell])) / (count - 1)
    flat = [rows.cells[i] for i in np.flatnonzero(np.sqrt(variance) <= _rounding(value))]
    if flat:
        names = listed(" ".join(map(name_of, c)) for c in flat)
        raise CannotCompare(
            f"{rows.metric} does not differ between the candles of {names}: a spread of its own "
            'cannot be taken from them. Use spread="pooled".'
        )
    return Model(rows, mean, np.diag(variance / count), np.nan, np.nan, cell_df=count - 1.0)


def _with_covariates(rows, first, what):
    """The first columns, then numbers about their mean and blocks with a sum of zero; refuses what
    is confounded."""
    if _rank(first) < first.shape[1]:
        raise CannotCompare(f"{what[0].upper() + what[1:]} cannot be told apart in this table.")
    x = first
    for name, values in rows.numbers.items():
        x = _add(x, ((values - values.mean()) / values.std())[:, None], name, what)
    for name, (codes, levels) in rows.blocks.items():
        indicator = (codes[:, None] == np.arange(len(levels))).astype(float)
        x = _add(x, indicator[:, :-1] - indicator[:, -1:], name, what)
    return x


def _add(x, more, name, what):
    wide = np.column_stack((x, more))
    if _rank(wide) < wide.shape[1]:
        raise CannotCompare(
            f"{what[0].upper() + what[1:]} and {name} cannot be told apart in this table: where "
            "one changes the other changes with it. "
            f"Leave out {name}, or burn candles that break the tie."
        )
    return wide


def _rank(x, scale=None):
    """Rank; a column smaller than a billionth of its scale is nothing but rounding."""
    size = np.linalg.norm(x, axis=0)
    scale = size if scale is None else scale
    return int(np.linalg.matrix_rank(x / np.where(size > 1e-9 * scale, size, np.inf), tol=1e-8))


def _unit_means(values, unit):
    count = np.bincount(unit)
    if values.ndim == 1:
        return np.bincount(unit, values) / count
    return np.column_stack([np.bincount(unit, column) / count for column in values.T])


def _too_few(rows, what):
    if (
        len(rows.cells) > 1
        and not what.startswith("the ")
        and all(rows.candles_of(i) == 1 for i in range(len(rows.cells)))
    ):
        return (
            "There is one candle of each candidate: nothing shows how much candles of one "
            "candidate differ, so no difference "
            "between candidates can be judged. Burn a second candle of at least one of them."
        )
    n = rows.candle.max() + 1
    candles = "one candle" if n == 1 else f"{n} candles"
    return (
        f"{candles[0].upper() + candles[1:]} cannot carry this comparison: {what} and covariates "
        "use up all of them, and nothing is left "
        "to show how much candles differ. Leave out a covariate, or burn more candles."
    )

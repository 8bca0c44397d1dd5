"""Two things varied at once (wick and wax, wick and load), and a quantity varied in steps
(fragrance load as a number).

The candle is the unit, as in ``comparison``. Blocks (vessel, burn day, bench position) and depth
are covariates.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from candlelab.stats import multicomp as simultaneous
from candlelab.stats.designs import (
    CannotCompare,
    cell_columns,
    check_columns,
    check_confidence,
    check_number,
    fit,
    read_rows,
)
from candlelab.stats.pairwise import POOLED, estimates_table, few_candidates, how, limits
from candlelab.text import listed, name_of


@dataclass(frozen=True, eq=False)
class CrossedComparison:
    """Answer to two things varied at once.

    ``estimates``: one row per combination. ``interaction``: one row, the F test that the
    differences between the
    levels of the one are the same in every level of the other. ``interaction_differences``: by how
    much they are
    not: the difference ``candidate`` minus ``reference`` in ``within``, less the same difference in
    ``within_reference``. ``differences``: ``candidate`` minus ``reference`` of ``factor``,
    averaged over the other
    (``within`` is empty) and within each level of the other.
    """

    metric: str
    by: tuple[str, str]
    estimates: pd.DataFrame
    interaction: pd.DataFrame
    interaction_differences: pd.DataFrame
    differences: pd.DataFrame
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int


@dataclass(frozen=True, eq=False)
class Trend:
    """Answer to a quantity varied in steps, in units of the metric per unit of ``against``.

    ``slope``: one row, of the straight line. ``curvature``: one row, the coefficient of the
    square; below zero, more
    adds less and less. ``ends``: slope of the curve at the lowest and highest value tested.
    ``levels``: the line at
    each value tested. ``curvature`` and ``ends`` are empty with fewer than three values.
    ``answer`` is in words.
    """

    metric: str
    against: str
    slope: pd.DataFrame
    curvature: pd.DataFrame
    ends: pd.DataFrame
    levels: pd.DataFrame
    answer: str
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int


def compare_crossed(
    table, *, metric, by, unit="candle", covariates=(), confidence=0.95
) -> CrossedComparison:
    """Compare two columns at once, ``by=(a, b)``, every combination of which has candles.

    Raises CannotCompare, among others for combinations without a candle. Other arguments as in
    `compare_candidates`.
    """
    check_confidence(confidence)
    if isinstance(by, str) or len(tuple(by)) != 2:
        raise CannotCompare(f'by must name two columns, such as ("wick", "wax"), not {by!r}.')
    by = tuple(by)
    rows = read_rows(table, metric=metric, by=by, unit=unit, covariates=covariates)
    levels = [list(dict.fromkeys(cell[i] for cell in rows.cells)) for i in (0, 1)]
    for column, found in zip(by, levels, strict=True):
        if len(found) == 1:
            other = by[1 - by.index(column)]
            raise CannotCompare(
                f"{column} is {name_of(found[0])} in every row: compare by {other} alone, with "
                "compare_candidates."
            )
    _no_empty_cells(rows, by, levels)
    if rows.n_shared:  # averaging over one column would count such a candle twice in the other
        n = "One candle carries" if rows.n_shared == 1 else f"{rows.n_shared} candles carry"
        raise CannotCompare(
            f"{n} more than one combination of {by[0]} and {by[1]}. After a wick change keep the "
            "rows of the first wick only; what changes from "
            "burn to burn, such as the day, belongs among the covariates."
        )
    order = {cell: i for i, cell in enumerate(rows.cells)}
    place = np.array([[order[a, b] for b in levels[1]] for a in levels[0]])
    model = fit(rows, cell_columns(rows), what="combinations")
    f, df_num, df, p = model.f_test(
        _interaction_weights(
            place,
            [(i, 0) for i in range(1, len(levels[0]))],
            [(j, 0) for j in range(1, len(levels[1]))],
        )
    )
    estimates = estimates_table(rows, model, confidence).drop(columns="candidate")
    for i in (1, 0):
        estimates.insert(0, by[i], [name_of(cell[i]) for cell in rows.cells])
    return CrossedComparison(
        metric,
        by,
        estimates,
        interaction=pd.DataFrame(
            {
                "statistic": [f],
                "df_num": [df_num],
                "df": [df],
                "p_value": [p],
                "n_candles": [rows.candle.max() + 1],
            }
        ),
        interaction_differences=_interaction_differences(rows, model, place, levels, confidence),
        differences=_crossed_differences(rows, model, by, place, levels, confidence),
        method=how(rows, POOLED)
        + f" Differences averaged over {by[1]} give each {by[1]} the same weight, and the "
        "other way round. Within one "
        "level the intervals allow for looking at all its pairs (Tukey-Kramer), and for all "
        "levels (Bonferroni).",
        notes=(*rows.notes, *few_candidates(rows), *limits(rows, model, POOLED)),
        confidence=confidence,
        n_left_out=rows.n_left_out,
    )


def trend(table, *, metric, against, unit="candle", covariates=(), confidence=0.95) -> Trend:
    """Slope of the metric against a number, such as fragrance load, and whether more is still more.

    Arguments as in `compare_candidates`. Raises CannotCompare.
    """
    check_confidence(confidence)
    check_columns(table, (against,))
    check_number(table, against)
    rows = read_rows(
        table, metric=metric, by=against, unit=unit, covariates=covariates, split=False
    )
    tested = np.array([cell[0] for cell in rows.cells], dtype=float)
    if len(tested) < 2:
        raise CannotCompare(
            f"{against} is {name_of(rows.cells[0][0])} in every row: a trend needs two different "
            "values at least."
        )
    middle = tested[rows.cell].mean()
    x = (tested - middle)[rows.cell]
    line = fit(rows, np.column_stack((np.ones_like(x), x)), what=f"the trend in {against}")
    slope = _answers(line, [[0.0, 1.0]], confidence, rows)
    levels = _answers(
        line, np.column_stack((np.ones_like(tested), tested - middle)), confidence, rows
    )
    levels.insert(0, against, tested)
    levels["n_candles"] = [rows.candles_of(i) for i in range(len(tested))]
    levels[["p_value", "p_adjusted"]] = np.nan
    curvature, ends = slope.iloc[:0], levels.iloc[:0]
    notes = [*rows.notes, *limits(rows, line, POOLED)]
    if len(tested) == 2:
        notes.append(
            f"Two values of {against} show no shape: whether more is still more takes three."
        )
    else:
        try:
            curve = fit(
                rows, np.column_stack((np.ones_like(x), x, x**2)), what=f"the curve in {against}"
            )
        except CannotCompare:  # the line could be fitted, so only candles are wanting
            notes.append("Too few candles to show a shape: whether more is still more stays open.")
        else:
            edge = tested[[0, -1]]
            curvature = _answers(curve, [[0.0, 0.0, 1.0]], confidence, rows)
            ends = _answers(curve, [[0.0, 1.0, 2.0 * (e - middle)] for e in edge], confidence, rows)
            ends.insert(0, against, edge)
    if len(np.unique(rows.candle)) < len(
        np.unique(np.column_stack((rows.candle, rows.cell)), axis=0)
    ):
        notes.append(
            f"{against} changes within a candle: the slope is taken to be the same in every candle."
        )
    notes.append(f"Nothing is said outside {tested[0]:g} to {tested[-1]:g}.")
    return Trend(
        metric,
        against,
        slope,
        curvature,
        ends,
        levels,
        answer=_trend_words(metric, against, slope, ends),
        method=how(rows, POOLED)
        + f" A straight line through {against} as a number, and a curve (a square added) to "
        "see its shape.",
        notes=tuple(notes),
        confidence=confidence,
        n_left_out=rows.n_left_out,
    )


def _no_empty_cells(rows, by, levels):
    empty = [
        f"{name_of(a)} with {name_of(b)}"
        for a, b in itertools.product(*levels)
        if (a, b) not in set(rows.cells)
    ]
    if empty:
        raise CannotCompare(
            f"No candle has {listed(empty)}. Burn these combinations; or leave out a level so "
            "that every combination is there; or compare "
            f"{by[0]} with {by[1]} as a covariate, which takes the differences in {by[0]} to be "
            f"the same in every {by[1]}."
        )


def _interaction_weights(place, pairs_a, pairs_b):
    weights = np.zeros((len(pairs_a) * len(pairs_b), place.size))
    for row, ((a, a0), (b, b0)) in enumerate(itertools.product(pairs_a, pairs_b)):
        weights[row, place[[a, a0], [b, b0]]] = 1.0
        weights[row, place[[a0, a], [b, b0]]] = -1.0
    return weights


def _interaction_differences(rows, model, place, levels, confidence):
    pairs_a, pairs_b = (
        [(j, i) for i, j in itertools.combinations(range(len(v)), 2)] for v in levels
    )
    table = _answers(
        model,
        _interaction_weights(place, pairs_a, pairs_b),
        confidence,
        rows,
        share=len(pairs_a) * len(pairs_b),
    )
    names = [
        (
            name_of(levels[0][a]),
            name_of(levels[0][a0]),
            name_of(levels[1][b]),
            name_of(levels[1][b0]),
        )
        for (a, a0), (b, b0) in itertools.product(pairs_a, pairs_b)
    ]
    table["n_candles"] = [
        rows.candles_of(*place[np.ix_(a, b)].ravel())
        for a, b in itertools.product(pairs_a, pairs_b)
    ]
    return pd.concat(
        [
            pd.DataFrame(names, columns=["candidate", "reference", "within", "within_reference"]),
            table,
        ],
        axis=1,
    )


def _crossed_differences(rows, model, by, place, levels, confidence):
    parts = []
    for factor in (0, 1):
        cells, own, other = (
            (place, levels[0], levels[1]) if factor == 0 else (place.T, levels[1], levels[0])
        )
        for within in [None, *range(len(other))]:
            used = cells if within is None else cells[:, [within]]
            share = 1 if within is None else len(other)
            parts.append(
                _family(
                    rows,
                    model,
                    by[factor],
                    own,
                    used,
                    "" if within is None else name_of(other[within]),
                    share,
                    confidence,
                )
            )
    return pd.concat(parts, ignore_index=True)


def _family(rows, model, factor, own, cells, within, share, confidence):
    """All pairs of one factor, averaged over the columns of ``cells``."""
    pairs = [(j, i) for i, j in itertools.combinations(range(len(own)), 2)]
    weights = np.zeros((len(pairs), len(rows.cells)))
    for row, (a, a0) in enumerate(pairs):
        weights[row, cells[a]], weights[row, cells[a0]] = (
            1.0 / cells.shape[1],
            -1.0 / cells.shape[1],
        )
    estimate, error, df = model.contrasts(weights)
    t = estimate / error
    reach = simultaneous.all_pairs_t(1.0 - (1.0 - confidence) / share, len(own), df) * error
    return pd.DataFrame(
        {
            "factor": factor,
            "candidate": [name_of(own[a]) for a, _ in pairs],
            "reference": [name_of(own[a0]) for _, a0 in pairs],
            "within": within,
            "estimate": estimate,
            "std_error": error,
            "df": df,
            "conf_low": estimate - reach,
            "conf_high": estimate + reach,
            "p_value": 2.0 * stats.t.sf(np.abs(t), df),
            "p_adjusted": np.minimum(simultaneous.all_pairs_p(t, len(own), df) * share, 1.0),
            "n_candles": [rows.candles_of(*cells[a], *cells[a0]) for a, a0 in pairs],
        }
    )


def _answers(model, weights, confidence, rows, share=1):
    """Estimates with intervals; ``share`` questions share the error (Bonferroni)."""
    estimate, error, df = model.contrasts(weights)
    reach = stats.t.isf((1.0 - confidence) / (2.0 * share), df) * error
    p = 2.0 * stats.t.sf(np.abs(estimate / error), df)
    return pd.DataFrame(
        {
            "estimate": estimate,
            "std_error": error,
            "df": df,
            "conf_low": estimate - reach,
            "conf_high": estimate + reach,
            "p_value": p,
            "p_adjusted": np.minimum(p * share, 1.0),
            "n_candles": int(rows.candle.max() + 1),
        }
    )


def _trend_words(metric, against, slope, ends):
    row = slope.iloc[0]
    reach = (
        f"{row['estimate']:.2g} ({row['conf_low']:.2g} to {row['conf_high']:.2g}) per unit of "
        f"{against}"
    )
    if row["conf_low"] > 0 or row["conf_high"] < 0:
        text = f"{metric} {'rises' if row['estimate'] > 0 else 'falls'} with {against}: {reach}."
    else:
        text = f"The data cannot tell whether {metric} rises or falls with {against}: {reach}."
    if not len(ends):
        return text
    top = ends.iloc[-1]
    at = (
        f"at {top[against]:g} one more unit changes it by {top['estimate']:.2g} "
        f"({top['conf_low']:.2g} to {top['conf_high']:.2g})"
    )
    if top["conf_low"] > 0:
        return f"{text} More is still more: {at}."
    if top["conf_high"] < 0:
        return f"{text} More has become less: {at}."
    return f"{text} Whether more is still more at the top, the data cannot tell: {at}."

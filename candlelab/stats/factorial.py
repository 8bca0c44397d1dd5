"""Two things varied at once (wick and wax, wick and load), and a quantity varied in steps
(fragrance load as a number).
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.stats import multicomp
from candlelab.stats.answers import all_pairs, answer_table, estimates_table
from candlelab.stats.columns import CannotCompare, as_columns, check_columns, check_number
from candlelab.stats.designs import POOLED, cell_columns, check_confidence, read_rows
from candlelab.stats.models import fit
from candlelab.stats.power import t_power
from candlelab.stats.tails import t_above, t_above_which
from candlelab.stats.words import few_candidates, how, limits, sharing
from candlelab.text import listed, name_of


@dataclass(frozen=True, eq=False)
class CrossedComparison:
    """Answer to two things varied at once, in the unit of the metric.

    Attributes
    ----------
    metric : str
        What was compared.
    by : tuple of str
        The two columns that it was compared by.
    estimates : pandas.DataFrame
        One row per combination: a column for each of ``by``, then ``estimate``, ``std_error``,
        ``df``, ``conf_low``, ``conf_high``, ``p_value``, ``p_adjusted`` and ``n_candles``.
    interaction : pandas.DataFrame
        One row, the F test that the differences between the levels of the one are the same in every
        level of the other: ``statistic``, ``df_num``, ``df``, ``p_value``, ``n_candles``.
    interaction_differences : pandas.DataFrame
        By how much they are not: the difference ``candidate`` minus ``reference`` in ``within``,
        less the same difference in ``within_reference``.
    differences : pandas.DataFrame
        ``candidate`` minus ``reference`` of ``factor``, averaged over the other (``within`` is
        empty) and within each level of the other.
    method, notes, confidence, n_left_out
        As in `Comparison`.
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

    Attributes
    ----------
    metric, against : str
        What was compared, and the number that it was compared against.
    slope : pandas.DataFrame
        One row, the slope of the straight line, with the columns of `Comparison.estimates`.
    curvature : pandas.DataFrame
        One row, the coefficient of the square; below zero, more adds less and less. Empty with
        fewer than three values.
    ends : pandas.DataFrame
        Slope of the curve at the lowest and the highest value tested. Empty like ``curvature``.
    levels : pandas.DataFrame
        The line at each value tested.
    bend_power : float
        Chance that the test of the curvature notices an effect of the size found that stops at the
        highest value tested; missing where there is no curvature.
    answer : str
        The answer in words.
    method, notes, confidence, n_left_out
        As in `Comparison`.
    """

    metric: str
    against: str
    slope: pd.DataFrame
    curvature: pd.DataFrame
    ends: pd.DataFrame
    levels: pd.DataFrame
    bend_power: float
    answer: str
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int


def compare_crossed(
    table, *, metric, by, unit="candle", covariates=(), confidence=0.95
) -> CrossedComparison:
    """Compare two columns at once, every combination of which has candles.

    Parameters
    ----------
    table, metric, unit, covariates, confidence
        As in `compare_candidates`.
    by : pair of str
        The two columns, such as ``("wick", "wax")``.

    Returns
    -------
    CrossedComparison
        Tables ``estimates``, ``interaction``, ``interaction_differences`` and ``differences``.

    Raises
    ------
    CannotCompare
        As in `compare_candidates`; for a combination without a candle, and a candle in two.

    Examples
    --------
    >>> from candlelab import compare_crossed
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AABBAABB"), "wax": list("ssssrrrr")})
    >>> table["candle"] = range(8)
    >>> table["rate"] = [5.1, 5.3, 5.9, 6.1, 5.6, 5.8, 6.4, 6.8]
    >>> result = compare_crossed(table, metric="rate", by=("wick", "wax"))
    >>> result.interaction[["statistic", "df_num", "df"]].round(2)
       statistic  df_num   df
    0       0.14       1  4.0
    """
    check_confidence(confidence)
    asked, by = by, as_columns(by)
    if len(by) != 2:
        raise CannotCompare(f'by must name two columns, such as ("wick", "wax"), not {asked!r}.')
    rows = read_rows(table, metric=metric, by=by, unit=unit, covariates=covariates)
    levels = [list(dict.fromkeys(cell[i] for cell in rows.cells)) for i in (0, 1)]
    _check_crossed(rows, by, levels)
    order = {cell: i for i, cell in enumerate(rows.cells)}
    place = np.array([[order[a, b] for b in levels[1]] for a in levels[0]])
    model = fit(rows, cell_columns(rows), what="combinations")
    return CrossedComparison(
        metric,
        by,
        _crossed_estimates(rows, model, by, confidence),
        _interaction(rows, model, place),
        _interaction_differences(rows, model, place, levels, confidence),
        _crossed_differences(rows, model, by, place, levels, confidence),
        method=f"{how(rows, POOLED)} Differences averaged over {by[1]} give each {by[1]} the same "
        "weight, and the other way round. Within one level the intervals allow for looking at all "
        "its pairs (Tukey-Kramer), and for all levels (Bonferroni).",
        notes=(*rows.notes, *few_candidates(rows), *limits(rows, model, POOLED)),
        confidence=confidence,
        n_left_out=rows.n_left_out,
    )


def trend(table, *, metric, against, unit="candle", covariates=(), confidence=0.95) -> Trend:
    """Slope of the metric against a number, such as fragrance load, and whether more is still more.

    Parameters
    ----------
    table, metric, unit, covariates, confidence
        As in `compare_candidates`.
    against : str
        Column of numbers with two different values at least.

    Returns
    -------
    Trend
        Tables ``slope``, ``curvature``, ``ends`` and ``levels``, and an answer in words.

    Raises
    ------
    CannotCompare
        As in `compare_candidates`, and when ``against`` never changes.

    Examples
    --------
    >>> from candlelab import trend
    >>> import pandas as pd
    >>> table = pd.DataFrame({"load": [4, 4, 6, 6, 8, 8], "candle": range(6)})
    >>> table["throw"] = [2.1, 2.3, 3.0, 3.2, 3.4, 3.7]
    >>> result = trend(table, metric="throw", against="load")
    >>> result.slope[["estimate", "conf_low", "conf_high"]].round(2)
       estimate  conf_low  conf_high
    0      0.34       0.2       0.47
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
    line, slope, levels = _line(rows, tested, confidence)
    curvature, ends, shape = _curve(rows, tested, confidence, slope, levels)
    return Trend(
        metric,
        against,
        slope,
        curvature,
        ends,
        levels,
        _bend_power(rows, tested, slope, curvature, confidence),
        answer=_trend_words(metric, against, slope, ends),
        method=f"{how(rows, POOLED)} A straight line through {against} as a number, and a curve (a "
        "square added) to see its shape.",
        notes=(*rows.notes, *limits(rows, line, POOLED), *shape, *_trend_notes(rows, tested)),
        confidence=confidence,
        n_left_out=rows.n_left_out,
    )


def _check_crossed(rows, by, levels) -> None:
    for column, found, other in zip(by, levels, reversed(by), strict=True):
        if len(found) == 1:
            raise CannotCompare(
                f"{column} is {name_of(found[0])} in every row: compare by {other} alone, with "
                "compare_candidates."
            )
    there = set(rows.cells)
    empty = [
        f"{name_of(a)} with {name_of(b)}"
        for a, b in itertools.product(*levels)
        if (a, b) not in there
    ]
    if empty:
        raise CannotCompare(
            f"No candle has {listed(empty)}. Burn these combinations; or leave out a level so that "
            f"every combination is there; or compare {by[0]} with {by[1]} as a covariate, which "
            f"takes the differences in {by[0]} to be the same in every {by[1]}."
        )
    if rows.n_shared:  # averaging over one column would count such a candle twice in the other
        raise CannotCompare(
            f"{sharing(rows)} more than one combination of {by[0]} and {by[1]}. After a wick "
            "change keep the rows of the first wick only; what changes from burn to burn, such as "
            "the day, belongs among the covariates."
        )


def _crossed_estimates(rows, model, by, confidence) -> pd.DataFrame:
    table = estimates_table(rows, model, confidence).drop(columns="candidate")
    for i in (1, 0):
        table.insert(0, by[i], [name_of(cell[i]) for cell in rows.cells])
    return table


def _interaction(rows, model, place) -> pd.DataFrame:
    against_first = [[(i, 0) for i in range(1, n)] for n in place.shape]
    f, df_num, df, p = model.f_test(_interaction_weights(place, *against_first))
    names = ("statistic", "df_num", "df", "p_value", "n_candles")
    return pd.DataFrame([dict(zip(names, (f, df_num, df, p, rows.candle.max() + 1), strict=True))])


def _interaction_weights(place, pairs_a, pairs_b) -> np.ndarray:
    weights = np.zeros((len(pairs_a) * len(pairs_b), place.size))
    for row, ((a, a0), (b, b0)) in enumerate(itertools.product(pairs_a, pairs_b)):
        weights[row, place[[a, a0], [b, b0]]] = 1.0
        weights[row, place[[a0, a], [b, b0]]] = -1.0
    return weights


def _interaction_differences(rows, model, place, levels, confidence) -> pd.DataFrame:
    pairs = [all_pairs(len(found)) for found in levels]
    both = list(itertools.product(*pairs))
    table = _answers(model, _interaction_weights(place, *pairs), confidence, rows, share=len(both))
    table["n_candles"] = [rows.candles_of(*place[np.ix_(a, b)].ravel()) for a, b in both]
    names = [[name_of(levels[i][j]) for i in (0, 1) for j in pair[i]] for pair in both]
    columns = ["candidate", "reference", "within", "within_reference"]
    return pd.concat([pd.DataFrame(names, columns=columns), table], axis=1)


def _crossed_differences(rows, model, by, place, levels, confidence) -> pd.DataFrame:
    parts = []
    for factor, cells in enumerate((place, place.T)):
        own, other = levels[factor], levels[1 - factor]
        parts.append(_family(rows, model, by[factor], own, cells, confidence))
        for within, name in enumerate(other):
            used = cells[:, [within]]
            share = {"within": name_of(name), "share": len(other)}
            parts.append(_family(rows, model, by[factor], own, used, confidence, **share))
    return pd.concat(parts, ignore_index=True)


def _family(rows, model, factor, own, cells, confidence, within="", share=1) -> pd.DataFrame:
    """All pairs of one factor, averaged over the columns of ``cells``; ``share`` such families
    share the error (Bonferroni)."""
    pairs, each = all_pairs(len(own)), 1.0 / cells.shape[1]
    weights = np.zeros((len(pairs), len(rows.cells)))
    for row, (a, a0) in enumerate(pairs):
        weights[row, cells[a]], weights[row, cells[a0]] = each, -each
    estimate, error, df = model.contrasts(weights)
    t = estimate / error
    far = multicomp.all_pairs_t(1.0 - (1.0 - confidence) / share, len(own), df)
    p = 2.0 * t_above(np.abs(t), df)
    adjusted = np.minimum(multicomp.all_pairs_p(t, len(own), df) * share, 1.0)
    n_candles = [rows.candles_of(*cells[a], *cells[a0]) for a, a0 in pairs]
    names = {
        "factor": factor,
        "candidate": [name_of(own[a]) for a, _ in pairs],
        "reference": [name_of(own[a0]) for _, a0 in pairs],
        "within": within,
    }
    answer = answer_table(estimate, error, df, far, p, adjusted, n_candles)
    return pd.concat([pd.DataFrame(names), answer], axis=1)


def _line(rows, tested, confidence):
    """The fitted line, its slope, and its level at each value tested."""
    middle = tested[rows.cell].mean()
    one = np.ones_like(tested)
    columns = np.column_stack((one, tested - middle))
    line = fit(rows, columns[rows.cell], what=f"the trend in {rows.by}")
    slope = _answers(line, [[0.0, 1.0]], confidence, rows)
    levels = _answers(line, columns, confidence, rows)
    levels.insert(0, rows.by, tested)
    levels["n_candles"] = [rows.candles_of(i) for i in range(len(tested))]
    levels[["p_value", "p_adjusted"]] = np.nan
    return line, slope, levels


def _curve(rows, tested, confidence, slope, levels):
    """Curvature and slopes at both ends, and a note where there is none to show."""
    nothing = slope.iloc[:0], levels.iloc[:0]
    if len(tested) == 2:
        few = f"Two values of {rows.by} show no shape: whether more is still more takes three."
        return *nothing, [few]
    x = tested - tested[rows.cell].mean()
    columns = np.column_stack((np.ones_like(x), x, x**2))
    try:
        curve = fit(rows, columns[rows.cell], what=f"the curve in {rows.by}")
    except CannotCompare:  # the line could be fitted, so only candles are wanting
        few = "Too few candles to show a shape: whether more is still more stays open."
        return *nothing, [few]
    curvature = _answers(curve, [[0.0, 0.0, 1.0]], confidence, rows)
    ends = _answers(curve, [[0.0, 1.0, 2.0 * end] for end in x[[0, -1]]], confidence, rows)
    ends.insert(0, rows.by, tested[[0, -1]])
    return curvature, ends, []


def _bend_power(rows, tested, slope, curvature, confidence) -> float:
    """For the slope found, falling to nothing at the highest value."""
    if curvature.empty:
        return np.nan
    row, top = curvature.iloc[0], tested[-1] - tested[rows.cell].mean()
    away = abs(float(slope["estimate"].iloc[0])) / (2.0 * top) / row["std_error"]
    return t_power(away, row["df"], confidence)


def _trend_notes(rows, tested) -> list[str]:
    notes = []
    both = np.unique(np.column_stack((rows.candle, rows.cell)), axis=0)
    if len(np.unique(rows.candle)) < len(both):
        notes.append(
            f"{rows.by} changes within a candle: the slope is taken to be the same in every candle."
        )
    return [*notes, f"Nothing is said outside {tested[0]:g} to {tested[-1]:g}."]


def _answers(model, weights, confidence, rows, share=1) -> pd.DataFrame:
    """Estimates with intervals; ``share`` questions share the error (Bonferroni)."""
    estimate, error, df = model.contrasts(weights)
    far = t_above_which((1.0 - confidence) / (2.0 * share), df)
    p = 2.0 * t_above(np.abs(estimate / error), df)
    n_candles = int(rows.candle.max() + 1)
    return answer_table(estimate, error, df, far, p, np.minimum(p * share, 1.0), n_candles)


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

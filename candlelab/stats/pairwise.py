"""Candidate against candidate: how far apart, and is that more than luck?

The candle is the unit: ten burns of one candle are not ten candles. ``designs`` holds the rule for
choosing the
method; each result says in ``method`` what was done and in ``notes`` what that cannot show.
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
    Model,
    Rows,
    cell_columns,
    check_confidence,
    fit,
    fit_separate,
    read_rows,
)
from candlelab.text import listed, name_of

POOLED, SEPARATE = "pooled", "separate"
SHOWN, NOT_SHOWN = "shown", "not shown"
ANSWER = [
    "estimate",
    "std_error",
    "df",
    "conf_low",
    "conf_high",
    "p_value",
    "p_adjusted",
    "n_candles",
]


@dataclass(frozen=True, eq=False)
class Comparison:
    """Answer to a comparison, in the unit of the metric.

    ``estimates``: one row per ``candidate``; its interval stands alone, and no question is put to
    it, so p is empty.
    ``differences``: one row per pair, ``candidate`` minus ``reference``; ``conf_low`` to
    ``conf_high`` and
    ``p_adjusted`` allow for looking at all pairs, ``p_value`` does not. ``candle_sd`` and
    ``burn_sd`` are the spread
    between candles of one candidate and between burns of one candle (NaN where the method has
    none).
    """

    metric: str
    by: str
    estimates: pd.DataFrame
    differences: pd.DataFrame
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int
    candle_sd: float
    burn_sd: float


@dataclass(frozen=True, eq=False)
class Equivalence:
    """Answer to the question whether candidates differ by less than ``margin``, in the unit of the
    metric.

    ``differences`` has an interval that is inside the margin exactly where ``equivalence`` says
    shown.
    """

    metric: str
    by: str
    margin: float
    differences: pd.DataFrame
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int


def compare_candidates(
    table, *, metric, by, unit="candle", covariates=(), confidence=0.95, spread=POOLED
) -> Comparison:
    """Estimates per candidate and all pairwise differences with simultaneous intervals.

    ``table`` has one row per burn, wick run or candle; ``by`` names the column of candidates and
    ``unit`` the column
    (or columns, such as batch and candle) that names the candle. ``covariates`` that are numbers
    are corrected for
    as straight lines, others are blocks. Tukey-Kramer intervals, Games-Howell with
    ``spread="separate"``. Raises
    CannotCompare with a sentence that says why and what to do.
    """
    rows, model = _model(table, metric, by, unit, covariates, confidence, spread)
    k = len(rows.cells)
    weights, pairs = _all_pairs(k)
    if pairs:
        estimate, error, df = model.contrasts(weights)
        t = estimate / error
        p = 2.0 * stats.t.sf(np.abs(t), df), simultaneous.all_pairs_p(t, k, df)
        differences = _differences(
            rows, pairs, estimate, error, df, simultaneous.all_pairs_t(confidence, k, df), p
        )
    else:
        differences = _differences(rows, [], *[np.empty(0)] * 4, [np.empty(0)] * 2)
    allowing = {SEPARATE: "Games-Howell", POOLED: "Tukey-Kramer"}[spread]
    many = (
        f" Intervals of the differences allow for looking at all {len(pairs)} pairs ({allowing})."
        if len(pairs) > 1
        else ""
    )
    return Comparison(
        metric,
        _label(by),
        estimates_table(rows, model, confidence),
        differences,
        method=how(rows, spread) + many,
        notes=(
            *rows.notes,
            *few_candidates(rows),
            *limits(rows, model, spread),
            *_reach(metric, differences),
        ),
        confidence=confidence,
        n_left_out=rows.n_left_out,
        candle_sd=model.candle_sd,
        burn_sd=model.burn_sd,
    )


def compare_with_reference(
    table, *, metric, by, reference, unit="candle", covariates=(), confidence=0.95
) -> Comparison:
    """Each candidate against one ``reference`` candidate, with simultaneous intervals after
    Dunnett 1955.

    Sharper than all pairs, when only the reference matters. Arguments as in `compare_candidates`.
    """
    rows, model = _model(table, metric, by, unit, covariates, confidence, POOLED)
    at = _position(rows, reference)
    others = [i for i in range(len(rows.cells)) if i != at]
    if not others:
        raise CannotCompare(
            f"{_cell_name(rows, at)} is the only candidate: there is nothing to compare it with."
        )
    weights, pairs = _weights(len(rows.cells), [(i, at) for i in others])
    estimate, error, df = model.contrasts(weights)
    t, correlation = estimate / error, model.correlation(weights)
    p = 2.0 * stats.t.sf(np.abs(t), df), simultaneous.against_reference_p(t, correlation, df)
    reach = simultaneous.against_reference_t(confidence, correlation, df)
    differences = _differences(rows, pairs, estimate, error, df, reach, p)
    many = (
        f" Intervals allow for comparing {len(pairs)} candidates with {_cell_name(rows, at)} "
        "(Dunnett)."
        if len(pairs) > 1
        else ""
    )
    return Comparison(
        metric,
        _label(by),
        estimates_table(rows, model, confidence),
        differences,
        method=how(rows, POOLED) + many,
        notes=(
            *rows.notes,
            *few_candidates(rows),
            *limits(rows, model, POOLED),
            *_reach(metric, differences),
        ),
        confidence=confidence,
        n_left_out=rows.n_left_out,
        candle_sd=model.candle_sd,
        burn_sd=model.burn_sd,
    )


def equivalence_test(
    table, *, metric, by, margin, unit="candle", covariates=(), confidence=0.95, spread=POOLED
) -> Equivalence:
    """Whether each pair differs by less than ``margin``, which the studio names before it looks at
    the data.

    Two one-sided tests (Schuirmann 1987; Lakens 2017); with several pairs Bonferroni's share of
    the error for each.
    Arguments as in `compare_candidates`.
    """
    if (
        isinstance(margin, bool)
        or not isinstance(margin, int | float | np.number)
        or not 0.0 < margin < np.inf
    ):
        raise CannotCompare(
            f"margin must be a number above zero in the unit of {metric}: the largest difference "
            f"that does not matter, not {margin!r}."
        )
    rows, model = _model(table, metric, by, unit, covariates, confidence, spread)
    weights, pairs = _all_pairs(len(rows.cells))
    if not pairs:
        raise CannotCompare(
            f"{_cell_name(rows, 0)} is the only candidate: there is nothing to compare it with."
        )
    estimate, error, df = model.contrasts(weights)
    p = stats.t.sf((margin - np.abs(estimate)) / error, df)
    share = (1.0 - confidence) / len(pairs)
    adjusted = np.minimum(p * len(pairs), 1.0)
    differences = _differences(
        rows, pairs, estimate, error, df, stats.t.isf(share, df), (p, adjusted)
    )
    words = f"equivalent within ±{margin:g}"
    differences["equivalence"] = [
        f"{words} {SHOWN if value <= 1.0 - confidence else NOT_SHOWN}" for value in adjusted
    ]
    inside = f"{100 * (1 - 2 * share):.4g} % interval"
    several = f", {len(pairs)} pairs allowed for (Bonferroni)" if len(pairs) > 1 else ""
    return Equivalence(
        metric,
        _label(by),
        float(margin),
        differences,
        method=f"{how(rows, spread)} Equivalence is shown where the whole {inside} of the "
        f"difference is within ±{margin:g} "
        f"(two one-sided tests{several}).",
        notes=(
            *rows.notes,
            *few_candidates(rows),
            *limits(rows, model, spread),
            "Not shown does not mean different: the candles may be too few to tell.",
        ),
        confidence=confidence,
        n_left_out=rows.n_left_out,
    )


# ---------------------------------------------------------------- used by the other comparisons too


def how(rows: Rows, spread: str) -> str:
    """What was done, for a candle maker."""
    if spread == SEPARATE:
        first = (
            "The mean of each candle's rows stands for the candle. "
            if rows.repeated
            else "One value per candle. "
        )
        return first + "Each candidate has a spread of its own (Welch)."
    if rows.repeated:
        text = (
            "The candle is the unit: its burns tell about that candle and are not counted as "
            "candles (a level of its own for each "
            "candle, REML, degrees of freedom after Kenward and Roger). Candles of all "
            "candidates are taken to differ equally much."
        )
    else:
        text = (
            "One value per candle. Candles of all candidates are taken to differ equally much, "
            "and all of them tell how much."
        )
    if rows.n_shared:
        text += (
            " A new wick in a used candle is a unit of its own: the burns on one wick in one "
            "candle count once."
        )
    if rows.numbers:
        lines = "a straight line" if len(rows.numbers) == 1 else "straight lines"
        text += (
            f" Corrected for {listed(rows.numbers)} as {lines}; estimates stand for the mean "
            "over all rows."
        )
    if rows.blocks:
        text += f" Compared within {listed(rows.blocks)}; estimates give each the same weight."
    return text


def limits(rows: Rows, model: Model, spread: str) -> list[str]:
    """What a candle maker should know before trusting the numbers."""
    notes = []
    if rows.n_shared:
        candles = "One candle carries" if rows.n_shared == 1 else f"{rows.n_shared} candles carry"
        notes.append(
            f"{candles} more than one candidate. What two wicks in one candle have in common is "
            "not taken off, so intervals are "
            "rather too wide than too narrow."
        )
    if rows.repeated and model.candle_sd == 0.0:
        notes.append(
            "Candles differed no more than their burns did, so the spread between candles is "
            "estimated as zero. With few candles that "
            "is often luck; the certainty is still that of the number of candles, not of burns."
        )
    if spread == SEPARATE and min(rows.candles_of(i) for i in range(len(rows.cells))) < 5:
        notes.append(
            "With fewer than five candles a spread of its own is poorly known: among six "
            "candidates of three candles luck passed for a "
            "difference in 6.4 % of simulated batches, in place of 5 %."
        )
    odd = (
        _unequal_spread(rows)
        if spread == POOLED and not rows.n_shared and not rows.numbers and not rows.blocks
        else None
    )
    if odd is not None:
        notes.append(
            "The spread differs between candidates by more than luck would do (Brown-Forsythe "
            f"test, p = {odd:.2g}). "
            'Compare again with spread="separate".'
        )
    return notes


def few_candidates(rows: Rows) -> list[str]:
    """What a single candidate, or a single candle of one, cannot show."""
    if len(rows.cells) == 1:
        return [
            f"{_cell_name(rows, 0)} is the only candidate: there is nothing to compare it with."
        ]
    single = [_cell_name(rows, i) for i in range(len(rows.cells)) if rows.candles_of(i) == 1]
    return (
        [
            f"One candle only of {listed(single)}: how much its candles differ is taken from the "
            "others."
        ]
        if single
        else []
    )


def estimates_table(rows: Rows, model: Model, confidence: float) -> pd.DataFrame:
    """One row per candidate with an interval that stands alone."""
    estimate, error, df = model.contrasts(np.eye(len(rows.cells)))
    reach = stats.t.ppf((1.0 + confidence) / 2.0, df) * error
    return pd.DataFrame(
        {
            "candidate": [_cell_name(rows, i) for i in range(len(rows.cells))],
            "estimate": estimate,
            "std_error": error,
            "df": df,
            "conf_low": estimate - reach,
            "conf_high": estimate + reach,
            "p_value": np.nan,
            "p_adjusted": np.nan,
            "n_candles": [rows.candles_of(i) for i in range(len(rows.cells))],
        }
    )


def _model(table, metric, by, unit, covariates, confidence, spread):
    check_confidence(confidence)
    if spread not in (POOLED, SEPARATE):
        raise CannotCompare(f'spread must be "pooled" or "separate", not {spread!r}.')
    rows = read_rows(table, metric=metric, by=by, unit=unit, covariates=covariates)
    return rows, fit_separate(rows) if spread == SEPARATE else fit(
        rows, cell_columns(rows), what="candidates"
    )


def _label(by):
    return by if isinstance(by, str) else " ".join(by)


def _cell_name(rows, i):
    return " ".join(map(name_of, rows.cells[i]))


def _position(rows, reference):
    wanted = reference if isinstance(reference, str) else name_of(reference)
    names = [_cell_name(rows, i) for i in range(len(rows.cells))]
    if wanted not in names:
        raise CannotCompare(f"There is no candidate {wanted}. There are {listed(names, 12)}.")
    return names.index(wanted)


def _all_pairs(k):
    return _weights(k, [(j, i) for i, j in itertools.combinations(range(k), 2)])


def _weights(k, pairs):
    weights = np.zeros((len(pairs), k))
    for row, (candidate, reference) in enumerate(pairs):
        weights[row, candidate], weights[row, reference] = 1.0, -1.0
    return weights, pairs


def _differences(rows, pairs, estimate, error, df, reach, p):
    return pd.DataFrame(
        {
            "candidate": pd.Series([_cell_name(rows, i) for i, _ in pairs], dtype="str"),
            "reference": pd.Series([_cell_name(rows, j) for _, j in pairs], dtype="str"),
            "estimate": estimate,
            "std_error": error,
            "df": df,
            "conf_low": estimate - reach * error,
            "conf_high": estimate + reach * error,
            "p_value": p[0],
            "p_adjusted": p[1],
            "n_candles": pd.Series([rows.candles_of(i, j) for i, j in pairs], dtype="int64"),
        }
    )


def _reach(metric, differences):
    if not len(differences):
        return []
    if differences["df"].min() < 1.0:
        return [
            "There are hardly enough candles for this comparison: where degrees of freedom are "
            "below 1 an interval says no more than that."
        ]
    half = (differences["conf_high"] - differences["conf_low"]) / 2.0
    low, high = half.min(), half.max()
    width = f"±{high:.2g}" if f"{low:.2g}" == f"{high:.2g}" else f"±{low:.2g} to ±{high:.2g}"
    return [
        f"A difference in {metric} is known to {width} with these candles; no difference found "
        "does not mean that there is none."
    ]


def _unequal_spread(rows):
    """p of the Brown-Forsythe test on the candles' means where it is below 0.05, else None."""
    first = np.unique(rows.unit, return_index=True)[1]
    means = np.bincount(rows.unit, rows.y) / np.bincount(rows.unit)
    groups = [means[rows.cell[first] == i] for i in range(len(rows.cells))]
    groups = [g for g in groups if len(g) > 2]
    if len(groups) < 2 or all(np.ptp(g) == 0.0 for g in groups):
        return None
    p = float(stats.levene(*groups, center="median").pvalue)
    return p if p < 0.05 else None

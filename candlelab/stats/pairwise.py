"""Candidate against candidate: how far apart, and is that more than luck?

The candle is the unit: ten burns of one candle are not ten candles. ``designs`` holds the rule for
choosing the method; each result says in ``method`` what was done and in ``notes`` what that cannot
show.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.stats import multicomp
from candlelab.stats.answers import all_pairs, answer_table, estimates_table
from candlelab.stats.columns import CannotCompare
from candlelab.stats.designs import (
    POOLED,
    SEPARATE,
    Rows,
    cell_columns,
    check_confidence,
    read_rows,
)
from candlelab.stats.models import Model, fit, fit_separate
from candlelab.stats.tails import t_above, t_above_which
from candlelab.stats.words import few_candidates, how, limits, only_candidate, reach
from candlelab.text import listed, name_of

SHOWN, NOT_SHOWN = "shown", "not shown"
NOT_DIFFERENT = "Not shown does not mean different: the candles may be too few to tell."


@dataclass(frozen=True, eq=False)
class Comparison:
    """Answer to a comparison, in the unit of the metric.

    Attributes
    ----------
    metric, by : str
        What was compared, and by which column or columns.
    estimates : pandas.DataFrame
        One row per ``candidate``: ``estimate``, ``std_error``, ``df``, ``conf_low``, ``conf_high``,
        ``p_value``, ``p_adjusted`` and ``n_candles``. Each interval stands alone, and no question
        is put to it, so both p are empty.
    differences : pandas.DataFrame
        One row per pair, ``candidate`` minus ``reference``, with the same columns. ``conf_low`` to
        ``conf_high`` and ``p_adjusted`` allow for looking at all pairs, ``p_value`` does not.
    method : str
        What was done, in words.
    notes : tuple of str
        What to know before trusting the numbers.
    confidence : float
        Confidence of every interval.
    n_left_out : int
        Rows of the table that do not count.
    candle_sd, burn_sd : float
        Spread (standard deviation) between candles of one candidate, and between burns of one
        candle; NaN where the method has none.
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
    """Answer to the question whether candidates differ by less than a margin, in the unit of the
    metric.

    Attributes
    ----------
    metric, by : str
        What was compared, and by which column or columns.
    margin : float
        The largest difference that does not matter.
    differences : pandas.DataFrame
        One row per pair, with the columns of `Comparison.differences` and ``equivalence``, which
        says whether it is shown in words. It is shown exactly where ``conf_low`` to ``conf_high``
        lies inside the margin.
    method, notes, confidence, n_left_out
        As in `Comparison`.
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

    Parameters
    ----------
    table : pandas.DataFrame
        One row per burn, wick run or candle. Rows marked in a column ``excluded``, and rows that
        lack something, are left out and counted.
    metric : str
        Column of numbers to compare, in any unit.
    by : str or sequence of str
        Column or columns of candidates.
    unit : str or sequence of str
        Column or columns that name a candle, such as ``("batch", "candle")``.
    covariates : str or sequence of str
        Columns to correct for: numbers as straight lines, others as blocks.
    confidence : float
        Confidence of the intervals, from 0.5 to below 1.
    spread : {"pooled", "separate"}
        One spread of candles for all candidates (Tukey-Kramer intervals), or one for each
        (Games-Howell intervals; no covariates).

    Returns
    -------
    Comparison
        Tables ``estimates`` and ``differences``, method and notes in words.

    Raises
    ------
    CannotCompare
        With a sentence that says why the table does not carry the comparison, and what to do.

    References
    ----------
    Kramer 1956, Biometrics 12:307; Hayter 1984, Ann. Stat. 12:61; Games and Howell 1976, J. Educ.
    Stat. 1:113; Kenward and Roger 1997, Biometrics 53:983.

    Examples
    --------
    >>> from candlelab import compare_candidates
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AAABBB"), "candle": range(6)})
    >>> table["rate"] = [5.1, 5.3, 5.2, 5.9, 6.1, 6.0]
    >>> result = compare_candidates(table, metric="rate", by="wick")
    >>> result.differences[["candidate", "reference", "estimate", "conf_low", "conf_high"]].round(2)
      candidate reference  estimate  conf_low  conf_high
    0         B         A       0.8      0.57       1.03
    """
    rows, model = model_of(table, metric, by, unit, covariates, confidence, spread)
    return compare_all(rows, model, confidence, spread)


def compare_all(rows: Rows, model: Model, confidence: float, spread: str) -> Comparison:
    """`compare_candidates`, given the model that was fitted."""
    differences = all_differences(rows, model, confidence)
    method, n = how(rows, spread), len(differences)
    if n > 1:
        allowing = {SEPARATE: "Games-Howell", POOLED: "Tukey-Kramer"}[spread]
        method += f" Intervals of the differences allow for looking at all {n} pairs ({allowing})."
    return comparison_of(rows, model, differences, method, confidence, spread)


def compare_with_reference(
    table, *, metric, by, reference, unit="candle", covariates=(), confidence=0.95
) -> Comparison:
    """Each candidate against one reference candidate, with simultaneous intervals.

    Sharper than all pairs, when only the reference matters.

    Parameters
    ----------
    table, metric, by, unit, covariates, confidence
        As in `compare_candidates`.
    reference : str or level of ``by``
        The candidate that the others are compared with.

    Returns
    -------
    Comparison
        As from `compare_candidates`; ``differences`` has one row for each other candidate.

    Raises
    ------
    CannotCompare
        As in `compare_candidates`, and when there is no such reference or nothing beside it.

    References
    ----------
    Dunnett 1955, J. Am. Stat. Assoc. 50:1096.

    Examples
    --------
    >>> from candlelab import compare_with_reference
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AAABBBCCC"), "candle": range(9)})
    >>> table["rate"] = [5.1, 5.3, 5.2, 5.9, 6.1, 6.0, 5.2, 5.4, 5.3]
    >>> result = compare_with_reference(table, metric="rate", by="wick", reference="A")
    >>> result.differences[["candidate", "reference", "estimate", "conf_low", "conf_high"]].round(2)
      candidate reference  estimate  conf_low  conf_high
    0         B         A       0.8      0.57       1.03
    1         C         A       0.1     -0.13       0.33
    """
    rows, model = model_of(table, metric, by, unit, covariates, confidence, POOLED)
    at = _position(rows, reference)
    pairs = [(i, at) for i in range(len(rows.cells)) if i != at]
    if not pairs:
        raise CannotCompare(only_candidate(rows.name(at)))
    weights = _weights(len(rows.cells), pairs)
    estimate, error, df = model.contrasts(weights)
    t, correlation = estimate / error, model.correlation(weights)
    p = 2.0 * t_above(np.abs(t), df)
    adjusted = multicomp.against_reference_p(t, correlation, df)
    far = multicomp.against_reference_t(confidence, correlation, df)
    differences = _pairs_table(rows, pairs, estimate, error, df, far, p, adjusted)
    method, n = how(rows, POOLED), len(pairs)
    if n > 1:
        method += f" Intervals allow for comparing {n} candidates with {rows.name(at)} (Dunnett)."
    return comparison_of(rows, model, differences, method, confidence, POOLED)


def equivalence_test(
    table, *, metric, by, margin, unit="candle", covariates=(), confidence=0.95, spread=POOLED
) -> Equivalence:
    """Whether each pair differs by less than a margin that was named before looking at the data.

    Two one-sided tests; with several pairs each has its share of the error (Bonferroni).

    Parameters
    ----------
    table, metric, by, unit, covariates, confidence, spread
        As in `compare_candidates`.
    margin : float
        The largest difference that does not matter, above zero, in the unit of ``metric``.

    Returns
    -------
    Equivalence
        Table ``differences`` with the columns of `compare_candidates` and ``equivalence``.

    Raises
    ------
    CannotCompare
        As in `compare_candidates`, for a margin that is none, and for a single candidate.

    References
    ----------
    Schuirmann 1987, J. Pharmacokin. Biopharm. 15:657; Lakens 2017, Soc. Psychol. Personal. Sci.
    8:355.

    Examples
    --------
    >>> from candlelab import equivalence_test
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AAABBB"), "candle": range(6)})
    >>> table["rate"] = [5.1, 5.3, 5.2, 5.2, 5.4, 5.3]
    >>> equivalence_test(table, metric="rate", by="wick", margin=0.5).differences["equivalence"][0]
    'equivalent within ±0.5 shown'
    """
    _check_margin(margin, metric)
    rows, model = model_of(table, metric, by, unit, covariates, confidence, spread)
    differences, inside = _margin_differences(rows, model, margin, confidence)
    n = len(differences)
    several = f", {n} pairs allowed for (Bonferroni)" if n > 1 else ""
    return Equivalence(
        metric,
        rows.by,
        float(margin),
        differences,
        method=f"{how(rows, spread)} Equivalence is shown where the whole {inside:.4g} % interval "
        f"of the difference is within ±{margin:g} (two one-sided tests{several}).",
        notes=(*_notes(rows, model, spread), NOT_DIFFERENT),
        confidence=confidence,
        n_left_out=rows.n_left_out,
    )


def _check_margin(margin, metric) -> None:
    if (
        isinstance(margin, bool)
        or not isinstance(margin, int | float | np.number)
        or not 0.0 < margin < np.inf
    ):
        raise CannotCompare(
            f"margin must be a number above zero in the unit of {metric}: the largest difference "
            f"that does not matter, not {margin!r}."
        )


def model_of(table, metric, by, unit, covariates, confidence, spread) -> tuple[Rows, Model]:
    """The rows that count and the model of `compare_candidates`. Raises CannotCompare."""
    check_confidence(confidence)
    if spread not in (POOLED, SEPARATE):
        raise CannotCompare(f'spread="pooled" or spread="separate" is asked for, not {spread!r}.')
    rows = read_rows(table, metric=metric, by=by, unit=unit, covariates=covariates)
    if spread == SEPARATE:
        return rows, fit_separate(rows)
    return rows, fit(rows, cell_columns(rows), what="candidates")


def comparison_of(rows: Rows, model, differences, method, confidence, spread) -> Comparison:
    """A comparison, given the model that was fitted and its differences."""
    return Comparison(
        rows.metric,
        rows.by,
        estimates_table(rows, model, confidence),
        differences,
        method=method,
        notes=(*_notes(rows, model, spread), *reach(rows.metric, differences)),
        confidence=confidence,
        n_left_out=rows.n_left_out,
        candle_sd=model.candle_sd,
        burn_sd=model.burn_sd,
    )


def _notes(rows, model, spread) -> tuple[str, ...]:
    return (*rows.notes, *few_candidates(rows), *limits(rows, model, spread))


def _position(rows, reference) -> int:
    wanted = reference if isinstance(reference, str) else name_of(reference)
    names = [rows.name(i) for i in range(len(rows.cells))]
    if wanted not in names:
        raise CannotCompare(f"There is no candidate {wanted}. There are {listed(names, 12)}.")
    return names.index(wanted)


def all_differences(rows: Rows, model: Model, confidence: float) -> pd.DataFrame:
    """All pairs, with intervals that allow for all of them (Tukey-Kramer, Games-Howell)."""
    k = len(rows.cells)
    pairs = all_pairs(k)
    if not pairs:
        return _pairs_table(rows, [], *[np.empty(0)] * 6)
    estimate, error, df = model.contrasts(_weights(k, pairs))
    t = estimate / error
    p, adjusted = 2.0 * t_above(np.abs(t), df), multicomp.all_pairs_p(t, k, df)
    far = multicomp.all_pairs_t(confidence, k, df)
    return _pairs_table(rows, pairs, estimate, error, df, far, p, adjusted)


def _margin_differences(rows, model, margin, confidence) -> tuple[pd.DataFrame, float]:
    """All pairs with whether they differ by less than the margin, and the confidence of their
    intervals in %."""
    pairs = all_pairs(len(rows.cells))
    if not pairs:
        raise CannotCompare(only_candidate(rows.name(0)))
    estimate, error, df = model.contrasts(_weights(len(rows.cells), pairs))
    p = t_above((margin - np.abs(estimate)) / error, df)
    share = (1.0 - confidence) / len(pairs)
    adjusted = np.minimum(p * len(pairs), 1.0)
    far = t_above_which(share, df)
    differences = _pairs_table(rows, pairs, estimate, error, df, far, p, adjusted)
    differences["equivalence"] = [
        f"equivalent within ±{margin:g} {SHOWN if value <= 1.0 - confidence else NOT_SHOWN}"
        for value in adjusted
    ]
    return differences, 100 * (1 - 2 * share)


def _weights(k, pairs) -> np.ndarray:
    weights = np.zeros((len(pairs), k))
    for row, (candidate, reference) in enumerate(pairs):
        weights[row, candidate], weights[row, reference] = 1.0, -1.0
    return weights


def _pairs_table(rows, pairs, *answer) -> pd.DataFrame:
    n_candles = pd.Series([rows.candles_of(*pair) for pair in pairs], dtype="int64")
    table = answer_table(*(*answer, n_candles))
    for place, name in enumerate(("candidate", "reference")):
        table.insert(place, name, pd.Series([rows.name(p[place]) for p in pairs], dtype="str"))
    return table

"""Outcomes that are yes or no, one per candle: passed, sooted, full pool by burn 3.

Exact intervals (Clopper and Pearson 1934) for claims, score intervals (Wilson 1927) for figures,
differences after Newcombe 1998 (Stat. Med. 17:873, method 10), and how many candles a claim needs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import pandas as pd
import scipy
from pandas.api import types

from candlelab.stats.answers import all_pairs
from candlelab.stats.columns import (
    CannotCompare,
    as_columns,
    check_one_each,
    check_question,
    codes_of,
    levels_of,
    marked_rows,
)
from candlelab.stats.designs import check_confidence
from candlelab.stats.words import only_candidate
from candlelab.text import clip, counted, listed, name_of

_OF_A_PAIR = [
    "candidate", "reference", "estimate", "conf_low", "conf_high", "p_value", "p_adjusted",
    "n_candles",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class ProportionComparison:
    """Answer for a yes/no outcome, as shares from 0 to 1.

    Attributes
    ----------
    outcome, by : str
        What was compared, and by which column.
    estimates : pandas.DataFrame
        One row per ``candidate``: ``n_yes`` of ``n_candles``, the share ``estimate``, its exact
        interval (``conf_low``, ``conf_high``) and its score interval (``score_low``,
        ``score_high``). Each interval stands alone.
    differences : pandas.DataFrame
        One row per pair, ``candidate`` minus ``reference``: ``estimate``, ``conf_low``,
        ``conf_high``, ``p_value``, ``p_adjusted``, ``n_candles``. Interval and ``p_adjusted`` allow
        for all pairs.
    method, notes, confidence, n_left_out
        As in `Comparison`.
    """

    outcome: str
    by: str
    estimates: pd.DataFrame
    differences: pd.DataFrame
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int


def compare_proportions(
    table, *, outcome, by, unit="candle", confidence=0.95
) -> ProportionComparison:
    """Share of candles with a yes, per candidate, and all differences.

    Parameters
    ----------
    table : pandas.DataFrame
        One row per candle. Rows marked in ``excluded``, and rows that lack something, do not count.
    outcome : str
        Column of True and False, or 1 and 0.
    by, unit, confidence
        As in `compare_candidates`; ``by`` is one column.

    Returns
    -------
    ProportionComparison
        Tables ``estimates`` and ``differences``, method and notes in words.

    Raises
    ------
    CannotCompare
        With a sentence that says why the table does not carry the comparison, and what to do.

    References
    ----------
    Clopper and Pearson 1934, Biometrika 26:404; Wilson 1927, JASA 22:209; Newcombe 1998, Stat. Med.
    17:873; Boschloo 1970, Stat. Neerl. 24:1.

    Examples
    --------
    >>> from candlelab import compare_proportions
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AAAABBBB"), "candle": range(8)})
    >>> table["passed"] = [True, True, True, True, False, False, True, False]
    >>> result = compare_proportions(table, outcome="passed", by="wick")
    >>> result.differences[["candidate", "reference", "estimate", "conf_low", "conf_high"]].round(2)
      candidate reference  estimate  conf_low  conf_high
    0         B         A     -0.75     -0.95      -0.09
    """
    check_confidence(confidence)
    unit = as_columns(unit)
    check_question(table, (outcome,), (by,), unit)
    kept, yes, notes = _counted_rows(table, outcome, by, unit)
    candidates = levels_of(kept[by])
    code, names = codes_of(kept[by], candidates), [name_of(c) for c in candidates]
    n = np.bincount(code, minlength=len(names))
    k = np.bincount(code, yes, minlength=len(names)).astype(int)
    if len(names) == 1:
        notes.append(only_candidate(names[0]))
    differences = _differences(names, k, n, confidence)
    return ProportionComparison(
        outcome,
        by,
        _estimates(names, k, n, confidence),
        differences,
        _how(len(differences)),
        (*notes, *_few(n)),
        confidence,
        n_left_out=len(table) - len(kept),
    )


def candles_needed(reliability: float, confidence: float = 0.95, failures: int = 0) -> int:
    """Candles to burn so that at most so many failures show what share of candles would pass.

    Success run: the smallest n with P(at most ``failures`` failures) <= 1 - confidence; without a
    failure it is ceil(ln(1 - confidence) / ln(reliability)).

    Parameters
    ----------
    reliability : float
        Share of candles that would pass, between 0 and 1.
    confidence : float
        Confidence with which that is to be shown, between 0 and 1.
    failures : int
        Failures that the claim survives.

    Returns
    -------
    int
        Number of candles.

    Raises
    ------
    ValueError
        For shares outside 0 to 1 and for failures that are no count.

    References
    ----------
    Clopper and Pearson 1934, Biometrika 26:404.

    Examples
    --------
    >>> from candlelab import candles_needed
    >>> candles_needed(0.90), candles_needed(0.90, failures=1)
    (29, 46)
    """
    if (
        not (0.0 < reliability < 1.0 and 0.0 < confidence < 1.0)
        or failures < 0
        or failures != int(failures)
    ):
        raise ValueError("reliability and confidence lie between 0 and 1, failures is 0, 1, 2 ...")
    most = (1.0 - confidence) * (1.0 + 1e-12)

    def shown(n):
        return scipy.stats.binom.cdf(failures, n, 1.0 - reliability) <= most

    low, high = int(failures), int(failures) + 1
    while not shown(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if shown(middle) else (middle, high)
    return high


def candles_still_needed(
    passed: int, failed: int, *, reliability: float, confidence: float = 0.95
) -> int:
    """How many more candles must pass, with no further failure, for the claim of `candles_needed`;
    0 when it is shown."""
    return max(candles_needed(reliability, confidence, failed) - passed - failed, 0)


def reliability_shown(passed: int, failed: int, confidence: float = 0.95) -> float:
    """Share of candles that would pass at least, as so many passes and failures show it.

    Parameters
    ----------
    passed, failed : int
        Number of candles.
    confidence : float
        One-sided confidence, between 0 and 1.

    Returns
    -------
    float
        Share from 0 to 1; 0 without a pass.

    References
    ----------
    Clopper and Pearson 1934, Biometrika 26:404.

    Examples
    --------
    >>> from candlelab import reliability_shown
    >>> round(reliability_shown(29, 0), 3)
    0.902
    """
    return float(scipy.stats.beta.ppf(1.0 - confidence, passed, failed + 1)) if passed else 0.0


def claim_words(passed: int, failed: int, *, reliability: float, confidence: float = 0.95) -> str:
    """What so many passes show, and how many more a claim needs, in a sentence."""
    n, shown = passed + failed, reliability_shown(passed, failed, confidence)
    if not passed:
        return f"None of {n} passed: nothing can be claimed."
    more = candles_still_needed(passed, failed, reliability=reliability, confidence=confidence)
    first = (
        f"{passed} of {n} passed: with {100 * confidence:g} % confidence at least "
        f"{math.floor(1000 * shown) / 10:g} % of such candles would pass."
    )
    claim = f"{100 * reliability:g} %"
    if not more:
        return f"{first} That supports a claim of {claim}."
    if failed:
        return (
            f"{first} After a failure a claim of {claim} takes a new count from zero, with its "
            "number of candles fixed beforehand."
        )
    return f"{first} A claim of {claim} needs {counted(more, 'more candle')}, all passing."


def _counted_rows(table, outcome, by, unit) -> tuple[pd.DataFrame, np.ndarray, list[str]]:
    """The rows that count, whether each is a yes, and a note on the others."""
    marked = marked_rows(table)
    missing = table[[outcome, by, *unit]].isna().any(axis=1).to_numpy()
    kept = table[~(marked | missing)]
    if kept.empty:
        raise CannotCompare(f"No row has {listed((outcome, by, *unit))} all filled in.")
    yes = _yes(kept[outcome], outcome)
    check_one_each(
        kept,
        unit,
        "A yes or no is counted once per candle: give one row per candle, for example whether it "
        "ever happened in any of its burns.",
    )
    lost, unknown = len(table) - len(kept), (missing & ~marked).sum()
    words = f"Set aside: {lost} of {len(table)} rows ({marked.sum()} marked, {unknown} not known)."
    return kept, yes, [words] if lost else []


def _how(n_pairs) -> str:
    text = (
        "One yes or no per candle. Exact intervals per candidate (Clopper-Pearson), score "
        "intervals beside them (Wilson); differences with hybrid score intervals (Newcombe) and "
        "the exact test of Boschloo."
    )
    if n_pairs > 1:
        text += f" Intervals and p allow for looking at all {n_pairs} pairs (Bonferroni)."
    return text


def _yes(values, outcome) -> np.ndarray:
    real = types.is_numeric_dtype(values) and not types.is_complex_dtype(values)
    if real or types.is_bool_dtype(values) or values.isin([True, False]).all():
        numbers = values.astype(float).to_numpy()
        if np.isin(numbers, (0.0, 1.0)).all():
            return numbers
    found = next((v for v in values if v not in (0, 1)), values.iloc[0])
    raise CannotCompare(
        f"{outcome} must be yes or no (True and False, or 1 and 0); found {clip(name_of(found))}."
    )


def _estimates(names, k, n, confidence) -> pd.DataFrame:
    from statsmodels.stats.proportion import proportion_confint

    def ends(method):
        pairs = zip(k, n, strict=True)
        found = [proportion_confint(*pair, alpha=1.0 - confidence, method=method) for pair in pairs]
        return np.array(found).T

    exact, score = ends("beta"), np.clip(ends("wilson"), 0.0, 1.0)
    return pd.DataFrame(
        {
            "candidate": names,
            "n_yes": k,
            "n_candles": n,
            "estimate": k / n,
            "conf_low": exact[0],
            "conf_high": exact[1],
            "score_low": score[0],
            "score_high": score[1],
        }
    )


def _differences(names, k, n, confidence) -> pd.DataFrame:
    from statsmodels.stats.proportion import confint_proportions_2indep

    pairs = all_pairs(len(names))
    rows = []
    for a, b in pairs:
        low, high = confint_proportions_2indep(
            k[a],
            n[a],
            k[b],
            n[b],
            method="newcomb",
            compare="diff",
            alpha=(1.0 - confidence) / len(pairs),
        )
        p = _boschloo(int(k[a]), int(n[a]), int(k[b]), int(n[b]))
        ends = max(low, -1.0), min(high, 1.0)
        share = k[a] / n[a] - k[b] / n[b]
        rows.append((names[a], names[b], share, *ends, p, min(p * len(pairs), 1.0), n[a] + n[b]))
    return pd.DataFrame(rows, columns=_OF_A_PAIR)


@cache
def _boschloo(k1, n1, k2, n2):
    """Two-sided p of Boschloo's exact test (1970); 1 where both are all yes or all no."""
    if k1 + k2 in (0, n1 + n2):
        return 1.0
    return min(float(scipy.stats.boschloo_exact([[k1, k2], [n1 - k1, n2 - k2]]).pvalue), 1.0)


def _few(n) -> list[str]:
    if n.min() >= 10:
        return []
    return [
        f"With {counted(n.min(), 'candle')} of a candidate only very large differences show; no "
        "difference found does not mean that there is none."
    ]

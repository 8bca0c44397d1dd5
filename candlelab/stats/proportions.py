"""Outcomes that are yes or no, one per candle: passed, sooted, full pool by burn 3.

Exact intervals (Clopper and Pearson 1934) for claims, score intervals (Wilson 1927) for figures,
differences after
Newcombe 1998 (Stat. Med. 17:873, method 10), and how many candles a claim needs.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from pandas.api import types
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from candlelab.stats.designs import (
    CannotCompare,
    as_columns,
    check_columns,
    check_confidence,
    codes_of,
    levels_of,
    marked_rows,
)
from candlelab.text import listed, name_of


@dataclass(frozen=True, eq=False)
class ProportionComparison:
    """Answer for a yes/no outcome, as shares from 0 to 1.

    ``estimates``: one row per ``candidate`` with ``n_yes`` of ``n_candles``, the exact interval
    (``conf_low``,
    ``conf_high``) and the score interval (``score_low``, ``score_high``). ``differences``: one row
    per pair,
    ``candidate`` minus ``reference``; interval and ``p_adjusted`` allow for all pairs.
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

    ``table`` has one row per candle; ``outcome`` is a column of True and False (or 1 and 0).
    Raises CannotCompare.
    """
    check_confidence(confidence)
    unit = as_columns(unit)
    check_columns(table, (outcome, by, *unit))
    marked = marked_rows(table)
    missing = table[[outcome, by, *unit]].isna().any(axis=1).to_numpy()
    kept = table[~(marked | missing)]
    if kept.empty:
        raise CannotCompare(f"No row has {listed((outcome, by, *unit))} all filled in.")
    yes = _yes(kept[outcome], outcome)
    again = kept.duplicated(list(unit))
    if again.any():
        name = " ".join(map(name_of, kept.loc[again, list(unit)].iloc[0]))
        raise CannotCompare(
            f"{name} has more than one row. A yes or no is counted once per candle: give one row "
            "per candle, for example whether it ever "
            f"happened in any of its burns."
        )
    candidates = levels_of(kept[by])
    code = codes_of(kept[by], candidates)
    n, k = (
        np.bincount(code, minlength=len(candidates)),
        np.bincount(code, yes, minlength=len(candidates)).astype(int),
    )
    names, lost = [name_of(c) for c in candidates], int((marked | missing).sum())
    notes = (
        [
            f"Left out: {lost} of {len(table)} rows ({marked.sum()} marked, "
            f"{(missing & ~marked).sum()} not recorded)."
        ]
        if lost
        else []
    )
    if len(names) == 1:
        notes.append(f"{names[0]} is the only candidate: there is nothing to compare it with.")
    differences = _differences(names, k, n, confidence)
    many = (
        f" Intervals and p allow for looking at all {len(differences)} pairs (Bonferroni)."
        if len(differences) > 1
        else ""
    )
    return ProportionComparison(
        outcome,
        by,
        _estimates(names, k, n, confidence),
        differences,
        method="One yes or no per candle. Exact intervals per candidate (Clopper-Pearson), score "
        "intervals beside them (Wilson); differences "
        f"with hybrid score intervals (Newcombe) and the exact test of Boschloo.{many}",
        notes=(*notes, *_few(n)),
        confidence=confidence,
        n_left_out=lost,
    )


def candles_needed(reliability: float, confidence: float = 0.95, failures: int = 0) -> int:
    """Candles to burn so that at most ``failures`` of them show that a share ``reliability`` would
    pass.

    Success run: the smallest n with P(at most ``failures`` failures) <= 1 - confidence; without a
    failure it is
    ceil(ln(1 - confidence) / ln(reliability)). Raises ValueError for shares outside 0 to 1.
    """
    if (
        not (0.0 < reliability < 1.0 and 0.0 < confidence < 1.0)
        or failures < 0
        or failures != int(failures)
    ):
        raise ValueError("reliability and confidence lie between 0 and 1, failures is 0, 1, 2 ...")
    low, high = int(failures), int(failures) + 1
    while stats.binom.cdf(failures, high, 1.0 - reliability) > (1.0 - confidence) * (1.0 + 1e-12):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        enough = stats.binom.cdf(failures, middle, 1.0 - reliability) <= (1.0 - confidence) * (
            1.0 + 1e-12
        )
        low, high = (low, middle) if enough else (middle, high)
    return high


def candles_still_needed(
    passed: int, failed: int, *, reliability: float, confidence: float = 0.95
) -> int:
    """How many more candles must pass, with no further failure, for the claim of `candles_needed`;
    0 when it is shown."""
    return max(candles_needed(reliability, confidence, failed) - passed - failed, 0)


def reliability_shown(passed: int, failed: int, confidence: float = 0.95) -> float:
    """Share of candles that would pass at least, shown with one-sided ``confidence`` (Clopper and
    Pearson 1934); 0 without a pass."""
    return float(stats.beta.ppf(1.0 - confidence, passed, failed + 1)) if passed else 0.0


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
    return (
        f"{first} A claim of {claim} needs {more} more candle{'' if more == 1 else 's'}, all of "
        "them passed."
    )


def _yes(values, outcome):
    if (
        types.is_numeric_dtype(values)
        or types.is_bool_dtype(values)
        or values.isin([True, False]).all()
    ):
        numbers = values.astype(float).to_numpy()
        if np.isin(numbers, (0.0, 1.0)).all():
            return numbers
    raise CannotCompare(
        f"{outcome} must be yes or no (True and False, or 1 and 0); found "
        f"{name_of(next(v for v in values if v not in (0, 1)))}."
    )


def _estimates(names, k, n, confidence):
    exact = [
        proportion_confint(a, b, alpha=1.0 - confidence, method="beta")
        for a, b in zip(k, n, strict=True)
    ]
    score = [
        proportion_confint(a, b, alpha=1.0 - confidence, method="wilson")
        for a, b in zip(k, n, strict=True)
    ]
    return pd.DataFrame(
        {
            "candidate": names,
            "n_yes": k,
            "n_candles": n,
            "estimate": k / n,
            "conf_low": [e[0] for e in exact],
            "conf_high": [e[1] for e in exact],
            "score_low": np.clip([s[0] for s in score], 0.0, 1.0),
            "score_high": np.clip([s[1] for s in score], 0.0, 1.0),
        }
    )


def _differences(names, k, n, confidence):
    pairs = [(j, i) for i, j in itertools.combinations(range(len(names)), 2)]
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
        rows.append(
            (
                names[a],
                names[b],
                k[a] / n[a] - k[b] / n[b],
                max(low, -1.0),
                min(high, 1.0),
                p,
                min(p * len(pairs), 1.0),
                n[a] + n[b],
            )
        )
    columns = [
        "candidate",
        "reference",
        "estimate",
        "conf_low",
        "conf_high",
        "p_value",
        "p_adjusted",
        "n_candles",
    ]
    return pd.DataFrame(rows, columns=columns)


def _boschloo(k1, n1, k2, n2):
    """Two-sided p of Boschloo's exact test (1970); 1 where both are all yes or all no."""
    if k1 + k2 in (0, n1 + n2):
        return 1.0
    return min(float(stats.boschloo_exact([[k1, k2], [n1 - k1, n2 - k2]]).pvalue), 1.0)


def _few(n):
    if n.min() >= 10:
        return []
    return [
        (
            f"With {n.min()} candle{'' if n.min() == 1 else 's'} of a candidate only very large "
            "differences show; no difference found does not mean "
            "that there is none."
        )
    ]

"""Times until something happens, seen only by checks: time to full pool, burns to the first
failure.

A time lies between the last check at which it had not happened and the first at which it had; it
stays open when it never was seen. Curves are Kaplan and Meier's where times are exact or open, else
Turnbull's (1976, JRSS-B 38:290), which is the same estimate with brackets allowed. Candidates are
compared by the log-rank test, averaged over where in its bracket each time may lie (Sun 1996, Stat.
Med. 15:1387); with few candles every way of dealing them out to the two candidates is counted, so
that p is exact.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from candlelab.stats.answers import all_pairs
from candlelab.stats.columns import (
    CannotCompare,
    as_columns,
    check_number,
    check_one_each,
    check_question,
    codes_of,
    levels_of,
    marked_rows,
)
from candlelab.stats.designs import check_confidence
from candlelab.stats.turnbull import logrank_scores, turnbull
from candlelab.stats.words import only_candidate
from candlelab.text import listed, name_of

COUNT_AT_MOST = 20_000
_OF_A_CURVE = ["after", "until", "share", "conf_low", "conf_high"]
_OF_A_PAIR = [
    "candidate", "reference", "earlier", "p_value", "p_adjusted", "smallest_p", "counted_out",
    "n_candles",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class TimeComparison:
    """Answer for a time, in the unit of its columns.

    Attributes
    ----------
    after, until, by : str
        The columns that were compared, and by which.
    estimates : pandas.DataFrame
        One row per ``candidate``: ``n_candles``, ``n_seen``, the median as a bracket
        (``median_low`` to ``median_high``, empty where half never got there) and its interval
        (``conf_low``, ``conf_high``), which has no upper end (infinite) where the candles are too
        few.
    curves : pandas.DataFrame
        ``share`` of a ``candidate``'s candles in which it has not happened after ``until``, with
        its interval; it falls somewhere between ``after`` and ``until``.
    differences : pandas.DataFrame
        One row per pair of ``candidate`` and ``reference``: ``earlier`` names the one in which it
        tends to come first, ``p_value``, ``p_adjusted`` for all pairs, ``smallest_p`` that so many
        candles can give, ``counted_out`` where p is exact, ``n_candles``.
    method, notes, confidence, n_left_out
        As in `Comparison`.
    """

    after: str
    until: str
    by: str
    estimates: pd.DataFrame
    curves: pd.DataFrame
    differences: pd.DataFrame
    method: str
    notes: tuple[str, ...]
    confidence: float
    n_left_out: int


def compare_times(table, *, after, until, by, unit="candle", confidence=0.95) -> TimeComparison:
    """Times until something happens, per candidate, and all comparisons.

    Parameters
    ----------
    table : pandas.DataFrame
        One row per candle, as in `compare_proportions`.
    after : str
        Column of the last time at which it had not happened; empty: from the start.
    until : str
        Column of the first time at which it had; empty: never seen. Equal: an exact time.
    by, unit, confidence
        As in `compare_candidates`; ``by`` is one column.

    Returns
    -------
    TimeComparison
        Tables ``estimates``, ``curves`` and ``differences``, method and notes in words.

    Raises
    ------
    CannotCompare
        As in `compare_candidates`, and for times that cannot be.

    References
    ----------
    Kaplan and Meier 1958, JASA 53:457; Turnbull 1976, JRSS-B 38:290; Sun 1996, Stat. Med. 15:1387.

    Examples
    --------
    >>> from candlelab import compare_times
    >>> import pandas as pd
    >>> table = pd.DataFrame({"wick": list("AAABBB"), "candle": range(6)})
    >>> table["not_yet"] = [1.0, 1.5, 1.0, 2.0, 2.5, 3.0]
    >>> table["full"] = [1.5, 2.0, 1.5, 2.5, 3.0, None]
    >>> result = compare_times(table, after="not_yet", until="full", by="wick")
    >>> result.differences[["candidate", "reference", "earlier", "p_value"]].round(2)
      candidate reference earlier  p_value
    0         B         A       A      0.1
    """
    check_confidence(confidence)
    unit = as_columns(unit)
    check_question(table, (after, until), (by,), unit)
    low, high, kept, notes = _brackets(table, after, until, by, unit)
    candidates = levels_of(kept[by])
    code, names = codes_of(kept[by], candidates), [name_of(c) for c in candidates]
    exact = bool(((low == high) | np.isinf(high)).all())
    estimates, curves = _each(names, code, low, high, confidence, exact)
    differences = _differences(names, code, low, high, exact)
    return TimeComparison(
        after,
        until,
        by,
        estimates,
        curves,
        differences,
        _how(exact, differences),
        (*notes, *_limits(differences, estimates, confidence)),
        confidence,
        len(table) - len(kept),
    )


def _brackets(table, after, until, by, unit):
    """The two ends of each time that counts, its row, and a note on the others; refuses what cannot
    be a time."""
    low, high = check_number(table, after), check_number(table, until)
    marked = marked_rows(table)
    missing = (np.isnan(low) & np.isnan(high)) | table[[by, *unit]].isna().any(axis=1).to_numpy()
    use = ~(marked | missing)
    if not use.any():
        raise CannotCompare(f"No row has {listed((by, *unit))} and a time in {after} or {until}.")
    kept, low = table[use], np.nan_to_num(low[use])
    high = np.where(np.isnan(high[use]), np.inf, high[use])
    wrong = (low > high) | (low < 0)
    if wrong.any():
        name = " ".join(map(name_of, kept.loc[wrong, list(unit)].iloc[0]))
        raise CannotCompare(
            f"{name}: {after} is {low[wrong][0]:g} and {until} is {high[wrong][0]:g}. The first "
            "cannot be the later one, nor below zero."
        )
    check_one_each(
        kept,
        unit,
        "A time is counted once per candle: keep one burn of each, for example the third.",
    )
    unseen = (missing & ~marked).sum()
    notes = [
        f"Set aside: {(~use).sum()} of {len(table)} rows ({marked.sum()} marked, {unseen} never "
        "watched)."
    ]
    return low, high, kept, [] if use.all() else notes


def _each(names, code, low, high, confidence, exact) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Estimates and curves of the candidates."""
    estimates, curves = [], []
    for i, name in enumerate(names):
        own = low[code == i], high[code == i]
        curve = _curve(*own, confidence, exact)
        estimates.append({"candidate": name, **_median(curve, *own, confidence)})
        curve.insert(0, "candidate", name)
        curves.append(curve)
    return pd.DataFrame(estimates), pd.concat(curves, ignore_index=True)


def _curve(low, high, confidence, exact) -> pd.DataFrame:
    if exact:
        return _kaplan_meier(low, high, confidence)
    start, end, share = turnbull(low, high)
    left = np.clip(1.0 - np.cumsum(share), 0.0, 1.0)
    rows = [
        (s, e, v, *_counted(low, high, e, confidence))
        for s, e, v in zip(start, end, left, strict=True)
        if np.isfinite(e)
    ]
    return pd.DataFrame(rows, columns=_OF_A_CURVE, dtype=float)


def _kaplan_meier(low, high, confidence) -> pd.DataFrame:
    """With log-log intervals from Greenwood's variance (Kalbfleisch and Prentice); empty where the
    curve is at 0."""
    from statsmodels.duration.survfunc import SurvfuncRight

    if np.isinf(high).all():
        return pd.DataFrame(columns=_OF_A_CURVE, dtype=float)
    found = SurvfuncRight(low, np.isfinite(high).astype(int))
    time, share = found.surv_times, found.surv_prob
    inside = (share > 0) & (share < 1)
    log = np.log(np.where(inside, share, 0.5))
    error = np.where(inside, found.surv_prob_se, np.nan) / np.abs(share * log + ~inside)
    far = scipy.stats.norm.ppf((1.0 + confidence) / 2.0) * error
    ends = [np.exp(log * np.exp(sign * far)) for sign in (1.0, -1.0)]
    return pd.DataFrame(dict(zip(_OF_A_CURVE, (time, time, share, *ends), strict=True)))


def _counted(low, high, time, confidence):
    """Clopper-Pearson limits from the candles whose state at ``time`` is certain; the others may be
    either."""
    n, alpha = len(low), (1.0 - confidence) / 2.0
    still, gone = int(((low >= time) & (low < high)).sum()), int((high <= time).sum())
    lower = scipy.special.betaincinv(still, n - still + 1, alpha) if still else 0.0
    upper = scipy.special.betainccinv(n - gone + 1, gone, alpha) if gone else 1.0
    return lower, upper


@functools.cache
def _rank(n: int, alpha: float) -> int:
    """How many of n candles lie outside the interval of a median, at either end."""
    rank = int(scipy.stats.binom.ppf(alpha, n, 0.5))
    return rank if scipy.stats.binom.cdf(rank - 1, n, 0.5) <= alpha else rank - 1


def _median(curve, low, high, confidence) -> dict:
    """Candles, those seen, the median from the curve, and its interval from ranks: exact for any
    curve, never too short with brackets."""
    n = len(low)
    rank = _rank(n, (1.0 - confidence) / 2.0)
    reached = curve[curve["share"] <= 0.5 + 1e-9]
    ends = reached[["after", "until"]].iloc[0] if len(reached) else (np.nan, np.nan)
    interval = (np.sort(low)[rank - 1], np.sort(high)[n - rank]) if rank > 0 else (0.0, np.inf)
    names = ("n_candles", "n_seen", "median_low", "median_high", "conf_low", "conf_high")
    return dict(zip(names, (n, int(np.isfinite(high).sum()), *ends, *interval), strict=True))


def _differences(names, code, low, high, exact) -> pd.DataFrame:
    pairs = all_pairs(len(names))
    rows = []
    for a, b in pairs:
        use = (code == a) | (code == b)
        first = code[use] == a
        score = logrank_scores(low[use], high[use])
        p, smallest, all_counted = _p_value(score, first, low[use], high[use], exact)
        sum_first = score[first].sum()
        earlier = "" if abs(sum_first) < 1e-9 else names[a] if sum_first > 0 else names[b]
        adjusted, n = min(p * len(pairs), 1.0), int(use.sum())
        rows.append((names[a], names[b], earlier, p, adjusted, smallest, all_counted, n))
    return pd.DataFrame(rows, columns=_OF_A_PAIR)


@functools.lru_cache(maxsize=4)
def _dealt(n: int, n1: int) -> np.ndarray:
    """Every way of dealing n1 of n candles out to the first candidate, one a row."""
    return np.array(list(itertools.combinations(range(n), n1)), dtype=int).reshape(-1, n1)


def _p_value(score, first, low, high, exact) -> tuple[float, float, bool]:
    """p, the smallest p possible, and whether every arrangement was counted."""
    n, n1 = len(score), int(first.sum())
    sum_first = score[first].sum()
    if math.comb(n, n1) <= COUNT_AT_MOST:
        sums = np.abs(score[_dealt(n, n1)].sum(axis=1))
        p = float((sums >= abs(sum_first) - 1e-9).mean())
        return p, float((sums >= sums.max() - 1e-9).mean()), True
    spread = np.square(score - score.mean()).sum() * n1 * (n - n1) / (n * (n - 1.0))
    if spread <= 1e-12:
        return 1.0, 1.0, False
    if exact:
        seen = (
            scipy.stats.CensoredData.right_censored(low[g], np.isinf(high[g]))
            for g in (first, ~first)
        )
        return float(scipy.stats.logrank(*seen).pvalue), 0.0, False
    away = abs(sum_first - n1 * score.mean()) / np.sqrt(spread)
    return float(2.0 * scipy.stats.norm.sf(away)), 0.0, False


def _how(exact, differences) -> str:
    if exact:
        text = "Curves after Kaplan and Meier: times are exact or still open."
    else:
        text = (
            "Times lie between two checks; curves after Turnbull, which puts no time more exactly "
            "than the checks did."
        )
    if not len(differences):
        return text
    text += " Candidates compared by the log-rank test"
    if differences["counted_out"].all():
        text += ", every way of dealing out the candles counted (exact)"
    elif differences["counted_out"].any():
        text += ", every way of dealing out the candles counted where they are few (exact)"
    if len(differences) == 1:
        return f"{text}."
    return f"{text}; p_adjusted allows for all {len(differences)} pairs (Bonferroni)."


def _limits(differences, estimates, confidence) -> list[str]:
    notes = [
        f"Half or more of the candles of {r.candidate} never got there: no median."
        for r in estimates.itertuples()
        if np.isnan(r.median_low)
    ]
    if np.isinf(estimates["conf_high"]).any():
        notes.append(
            "A median whose interval has no upper end: too few candles, or too few of them seen."
        )
    if not len(differences):
        return [*notes, only_candidate(estimates["candidate"].iloc[0])]
    hopeless = differences["smallest_p"] * len(differences) > 1.0 - confidence
    if hopeless.all():
        notes.append(
            "So few candles, or times so much alike, cannot show a difference: the smallest p "
            f"possible is {differences['smallest_p'].min():.2g}."
        )
    elif hopeless.any():
        notes.append(
            f"{hopeless.sum()} of {len(hopeless)} pairs could not show a difference in time "
            "whatever had come out: too few candles, or times too much alike."
        )
    return notes

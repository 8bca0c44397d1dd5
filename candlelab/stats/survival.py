"""Times until something happens, seen only by checks: time to full pool, burns to the first
failure.

A time lies between the last check at which it had not happened and the first at which it had; it
stays open when
it never was seen. Curves are Kaplan and Meier's where times are exact or open, else Turnbull's
(1976, JRSS-B 38:290),
which is the same estimate with brackets allowed. Candidates are compared by the log-rank test,
averaged over where
in its bracket each time may lie (Sun 1996, Stat. Med. 15:1387); with few candles every way of
dealing them out to
the two candidates is counted, so that p is exact.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight

from candlelab.stats.designs import (
    CannotCompare,
    as_columns,
    check_columns,
    check_confidence,
    check_number,
    codes_of,
    levels_of,
    marked_rows,
)
from candlelab.text import listed, name_of

COUNT_AT_MOST = 20_000


@dataclass(frozen=True, eq=False)
class TimeComparison:
    """Answer for a time, in the unit of its columns.

    ``estimates``: one row per ``candidate``: candles, how many were seen, the median as a bracket
    (``median_low`` to
    ``median_high``, empty where half never got there) and its interval, which has no upper end
    (infinite) where the
    candles are too few. ``curves``: ``share`` of candles in which it has not happened after
    ``until``, with interval.
    ``differences``: one row per pair; ``earlier`` names the one in which it tends to come first,
    ``smallest_p`` is the
    smallest p that so many candles can give.
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
    """Times per candidate and all comparisons.

    ``table`` has one row per candle. ``after`` is the column of the last time at which it had not
    happened (empty:
    from the start), ``until`` of the first at which it had (empty: never seen). Equal numbers are
    an exact time.
    Raises CannotCompare.
    """
    check_confidence(confidence)
    unit = as_columns(unit)
    check_columns(table, (after, until, by, *unit))
    low, high, kept, notes, lost = _brackets(table, after, until, by, unit)
    candidates = levels_of(kept[by])
    code = codes_of(kept[by], candidates)
    names = [name_of(c) for c in candidates]
    exact = bool(np.all((low == high) | np.isinf(high)))
    curves = [_curve(low[code == i], high[code == i], confidence, exact) for i in range(len(names))]
    for name, curve in zip(names, curves, strict=True):
        curve.insert(0, "candidate", name)
    estimates = pd.DataFrame(
        [
            {
                "candidate": name,
                "n_candles": int((code == i).sum()),
                "n_seen": int(np.isfinite(high[code == i]).sum()),
                **_median(curves[i], low[code == i], high[code == i], confidence),
            }
            for i, name in enumerate(names)
        ]
    )
    differences = _differences(names, code, low, high, exact)
    return TimeComparison(
        after,
        until,
        by,
        estimates,
        pd.concat(curves, ignore_index=True),
        differences,
        method=_how(exact, differences),
        notes=(*notes, *_limits(differences, estimates, confidence)),
        confidence=confidence,
        n_left_out=lost,
    )


def turnbull(after, until) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Share of the times in each of the brackets that the data can tell apart: low end, high end,
    share.

    A time is above ``after`` and at most ``until`` (infinite when never seen); equal ends are an
    exact time.
    Self-consistent estimate (Turnbull 1976), started even and repeated until no share moves by
    1e-10.
    """
    low, high, holds = _innermost(np.asarray(after, dtype=float), np.asarray(until, dtype=float))
    share = np.full(len(low), 1.0 / len(low))
    for _ in range(100_000):
        new = share * (holds / (holds @ share)[:, None]).mean(axis=0)
        moved = np.abs(new - share).max()
        share = new
        if moved < 1e-10:
            break
    return low, high, share / share.sum()


def _innermost(low, high):
    """The brackets in which any mass can lie, and which of them each observation holds."""
    # at one value an exact time begins first, then brackets end, then brackets begin
    begin = np.where(low == high, 0, 2)
    ends = sorted(
        {
            *zip(low, begin, [False] * len(low), strict=True),
            *zip(high, [1] * len(high), [True] * len(high), strict=True),
        }
    )
    inner = [(a, b) for a, b in itertools.pairwise(ends) if not a[2] and b[2]]
    keys = np.array([[a[0], a[1], b[0]] for a, b in inner])
    starts_in = (low[:, None] < keys[:, 0]) | (
        (low[:, None] == keys[:, 0]) & (begin[:, None] <= keys[:, 1])
    )
    return keys[:, 0], keys[:, 2], (starts_in & (keys[:, 2] <= high[:, None])).astype(float)


def logrank_scores(after, until) -> np.ndarray:
    """Log-rank score of each time: 1 minus the hazard it has lived through, averaged over its
    bracket (Sun 1996).

    For exact and open times their sum over a group is observed minus expected.
    """
    low, high = np.asarray(after, dtype=float), np.asarray(until, dtype=float)
    _, _, holds = _innermost(low, high)
    share = turnbull(low, high)[2]
    where = holds * share / (holds @ share)[:, None]
    ahead = np.cumsum(share[::-1])[::-1]
    hazard = np.divide(share, ahead, out=np.zeros_like(share), where=ahead > 0)
    at_risk = np.cumsum(where[:, ::-1], axis=1)[:, ::-1]
    return (where - hazard * at_risk).sum(axis=1)


def _brackets(table, after, until, by, unit):
    """The two ends of each time that counts; refuses what cannot be one."""
    low, high = check_number(table, after), check_number(table, until)
    marked = marked_rows(table)
    missing = (np.isnan(low) & np.isnan(high)) | table[[by, *unit]].isna().any(axis=1).to_numpy()
    use, lost = ~(marked | missing), int((marked | missing).sum())
    if not use.any():
        raise CannotCompare(f"No row has {listed((by, *unit))} and a time in {after} or {until}.")
    kept, low, high = (
        table[use],
        np.nan_to_num(low[use]),
        np.where(np.isnan(high[use]), np.inf, high[use]),
    )
    wrong = (low > high) | (low < 0)
    if wrong.any():
        name = " ".join(map(name_of, kept.loc[wrong, list(unit)].iloc[0]))
        raise CannotCompare(
            f"{name}: {after} is {low[wrong][0]:g} and {until} is {high[wrong][0]:g}. The first "
            "cannot be the later one, nor below zero."
        )
    again = kept.duplicated(list(unit))
    if again.any():
        name = " ".join(map(name_of, kept.loc[again, list(unit)].iloc[0]))
        raise CannotCompare(
            f"{name} has more than one row. A time is counted once per candle: keep one burn of "
            "each, for example the third."
        )
    notes = (
        [
            f"Left out: {lost} of {len(table)} rows ({marked.sum()} marked, "
            f"{(missing & ~marked).sum()} never watched)."
        ]
        if lost
        else []
    )
    return low, high, kept, notes, lost


def _curve(low, high, confidence, exact):
    if exact:
        return _kaplan_meier(low, high, confidence)
    start, end, share = turnbull(low, high)
    left = np.clip(1.0 - np.cumsum(share), 0.0, 1.0)
    rows = [
        (s, e, v, *_counted(low, high, e, confidence))
        for s, e, v in zip(start, end, left, strict=True)
        if np.isfinite(e)
    ]
    return pd.DataFrame(
        rows, columns=["after", "until", "share", "conf_low", "conf_high"], dtype=float
    )


def _kaplan_meier(low, high, confidence):
    """With log-log intervals from Greenwood's variance (Kalbfleisch and Prentice); empty where the
    curve is at 0."""
    columns = ["after", "until", "share", "conf_low", "conf_high"]
    if np.isinf(high).all():
        return pd.DataFrame(columns=columns, dtype=float)
    found = SurvfuncRight(low, np.isfinite(high).astype(int))
    share = found.surv_prob
    inside = (share > 0) & (share < 1)
    log = np.log(np.where(inside, share, 0.5))
    reach = (
        stats.norm.ppf((1.0 + confidence) / 2.0)
        * np.where(inside, found.surv_prob_se, np.nan)
        / np.abs(share * log + ~inside)
    )
    ends = [np.exp(log * np.exp(sign * reach)) for sign in (1.0, -1.0)]
    return pd.DataFrame(
        dict(zip(columns, (found.surv_times, found.surv_times, share, *ends), strict=True))
    )


def _counted(low, high, time, confidence):
    """Clopper-Pearson limits from the candles whose state at ``time`` is certain; the others may
    be either."""
    n, alpha = len(low), (1.0 - confidence) / 2.0
    still, gone = int(((low >= time) & (low < high)).sum()), int((high <= time).sum())
    lower = stats.beta.ppf(alpha, still, n - still + 1) if still else 0.0
    upper = stats.beta.isf(alpha, n - gone + 1, gone) if gone else 1.0
    return lower, upper


def _median(curve, low, high, confidence):
    """Median from the curve, and its interval from ranks: exact for any curve, never too short
    with brackets."""
    n, alpha = len(low), (1.0 - confidence) / 2.0
    rank = int(stats.binom.ppf(alpha, n, 0.5))
    rank = rank if stats.binom.cdf(rank - 1, n, 0.5) <= alpha else rank - 1
    reached = curve[curve["share"] <= 0.5 + 1e-9]
    ends = (
        (reached["after"].iloc[0], reached["until"].iloc[0]) if len(reached) else (np.nan, np.nan)
    )
    interval = (np.sort(low)[rank - 1], np.sort(high)[n - rank]) if rank > 0 else (0.0, np.inf)
    return {
        "median_low": ends[0],
        "median_high": ends[1],
        "conf_low": interval[0],
        "conf_high": interval[1],
    }


def _differences(names, code, low, high, exact):
    pairs = [(j, i) for i, j in itertools.combinations(range(len(names)), 2)]
    rows = []
    for a, b in pairs:
        use = (code == a) | (code == b)
        first = code[use] == a
        score = logrank_scores(low[use], high[use])
        p, smallest, counted = _p_value(score, first, low[use], high[use], exact)
        sum_first = score[first].sum()
        earlier = "" if abs(sum_first) < 1e-9 else names[a] if sum_first > 0 else names[b]
        rows.append(
            (
                names[a],
                names[b],
                earlier,
                p,
                min(p * len(pairs), 1.0),
                smallest,
                counted,
                int(use.sum()),
            )
        )
    columns = [
        "candidate",
        "reference",
        "earlier",
        "p_value",
        "p_adjusted",
        "smallest_p",
        "counted_out",
        "n_candles",
    ]
    return pd.DataFrame(rows, columns=columns)


def _p_value(score, first, low, high, exact):
    """p, the smallest p possible, and whether every arrangement was counted."""
    n, n1 = len(score), int(first.sum())
    sum_first = score[first].sum()
    if math.comb(n, n1) <= COUNT_AT_MOST:
        sums = np.abs(
            [score[list(chosen)].sum() for chosen in itertools.combinations(range(n), n1)]
        )
        return (
            float((sums >= abs(sum_first) - 1e-9).mean()),
            float((sums >= sums.max() - 1e-9).mean()),
            True,
        )
    spread = np.square(score - score.mean()).sum() * n1 * (n - n1) / (n * (n - 1.0))
    if spread <= 1e-12:
        return 1.0, 1.0, False
    if exact:
        a, b = (
            stats.CensoredData.right_censored(low[g], np.isinf(high[g])) for g in (first, ~first)
        )
        return float(stats.logrank(a, b).pvalue), 0.0, False
    return (
        float(2.0 * stats.norm.sf(abs(sum_first - n1 * score.mean()) / np.sqrt(spread))),
        0.0,
        False,
    )


def _how(exact, differences):
    text = (
        "Curves after Kaplan and Meier: times are exact or still open."
        if exact
        else (
            "Times lie between two checks; curves after Turnbull, which puts no time more "
            "exactly than the checks did."
        )
    )
    if not len(differences):
        return text
    text += " Candidates compared by the log-rank test"
    if differences["counted_out"].all():
        text += ", every way of dealing out the candles counted (exact)"
    elif differences["counted_out"].any():
        text += ", every way of dealing out the candles counted where they are few (exact)"
    return text + (
        f"; p_adjusted allows for all {len(differences)} pairs (Bonferroni)."
        if len(differences) > 1
        else "."
    )


def _limits(differences, estimates, confidence):
    notes = [
        f"Half or more of the candles of {r.candidate} never got there: no median."
        for r in estimates.itertuples()
        if np.isnan(r.median_low)
    ]
    if np.isinf(estimates["conf_high"]).any():
        notes.append(
            "A median whose interval has no upper end: too few candles, or too few of them seen."
        )
    if len(differences):
        hopeless = differences["smallest_p"] * len(differences) > 1.0 - confidence
        if hopeless.all():
            least = differences["smallest_p"].min()
            notes.append(
                "So few candles, or times so much alike, cannot show a difference: the smallest "
                f"p possible is {least:.2g}."
            )
        elif hopeless.any():
            notes.append(
                f"{hopeless.sum()} of {len(hopeless)} pairs could not show a difference in time "
                "whatever had come out: too few candles, or times too much alike."
            )
    else:
        notes.append(
            f"{estimates['candidate'].iloc[0]} is the only candidate: there is nothing to "
            "compare it with."
        )
    return notes

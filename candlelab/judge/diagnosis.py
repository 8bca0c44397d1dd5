"""Too small, too large, neither or mixed: what the signs mean together, with their evidence.

A finding is no verdict. What to do about it is decided in `fates`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from candlelab.burns.groups import as_rows, rows_by
from candlelab.judge.hints import hints_of
from candlelab.judge.signs import LARGE, NEITHER, RULES, SMALL, features, signs_of
from candlelab.judge.words import MOST_IN_ROW
from candlelab.logs.batch import Batch
from candlelab.text import counted, listed
from candlelab.units import Display

MIXED, UNSEEN = "mixed", "not enough seen"
_POINT_TO = {
    SMALL: [SMALL], LARGE: [LARGE], MIXED: [SMALL, LARGE], NEITHER: [NEITHER],
    UNSEEN: [SMALL, LARGE],
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """What the signs say, from each sign up to each candidate.

    ``signs``: one row per wick run and sign seen; ``runs``: a finding per wick run;
    ``candidates``: a finding per candidate, its evidence, whether it is ``weak`` (one kind of sign
    on half of the candles at most), and ``hints``; ``rules``: the rules with their sources.
    """

    rules: pd.DataFrame
    signs: pd.DataFrame
    runs: pd.DataFrame
    candidates: pd.DataFrame


def diagnose(
    batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame, candles: pd.DataFrame
) -> Diagnosis:
    """Look for the signs of each rule and say what they mean together.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    burns, runs, candles : pandas.DataFrame
        The tables of `burn_cycles`, `wick_runs` and `candle_summary`.
    """
    seen = features(batch, burns, runs, candles)
    signs = signs_of(seen, batch.settings.display)
    shown = as_rows(signs)
    found = _run_findings(seen, shown)
    candidates = pd.DataFrame(_candidate_findings(found, shown, batch.settings.display))
    hints = hints_of(candidates, burns, batch.settings)
    rules = pd.DataFrame(
        [(r.rule, r.points_to, r.threshold(batch.settings.display), r.source) for r in RULES],
        columns=["rule", "points_to", "threshold", "source"],
    )
    return Diagnosis(rules, signs, found, candidates.drop(columns="mushroom").assign(hints=hints))


def _finding(small: int, large: int, enough: bool) -> str:
    if small and large:
        return MIXED
    if small or large:
        return SMALL if small else LARGE
    return NEITHER if enough else UNSEEN


def _run_findings(seen: pd.DataFrame, signs: list[Any]) -> pd.DataFrame:
    """One row per wick run: a finding, what speaks for it, and what speaks against it."""
    rows: list[tuple] = []
    of_run = rows_by(signs, "candle", "run")
    for candle, run, enough in zip(seen["candle"], seen["run"], seen["seen_enough"], strict=True):
        own = of_run.get((candle, run), [])
        by = {
            way: [sign.words for sign in own if sign.points_to == way]
            for way in (SMALL, LARGE, NEITHER)
        }
        strong = any(sign.points_to == LARGE and not sign.weak for sign in own)
        finding = _finding(len(by[SMALL]), len(by[LARGE]) if strong else 0, enough)
        against = by[LARGE] if finding == NEITHER else by[NEITHER]
        evidence = by.get(finding, [sign.words for sign in own if sign.points_to != NEITHER])
        rows.append((finding, "; ".join(evidence), "; ".join(against)))
    names = [
        "candle", "run", "candidate", "wick", "wick_series", "wick_size", "excluded", "n_burns",
    ]  # fmt: skip
    found = pd.DataFrame(rows, columns=["finding", "evidence", "counter_evidence"])
    return pd.concat([seen[names].reset_index(drop=True), found], axis=1)


def _candidate_findings(runs: pd.DataFrame, signs: list[Any], display: Display) -> list[dict]:
    """A finding for each candidate, from its wick runs and signs that count."""
    own, of = (
        rows_by((row for row in rows if not row.excluded), "candidate")
        for rows in (as_rows(runs), signs)
    )
    return [
        _candidate_finding(own.get(name, []), of.get(name, []), name, display)
        for name in runs["candidate"].unique()
    ]


def _candidate_finding(own: list, of: list, candidate: str, display: Display) -> dict:
    """What the candles of a candidate that count say together, from its runs and signs."""
    finding = _together(own, of)
    fresh = [row for row in own if row.run == 1]
    if finding == NEITHER and fresh:
        own = fresh  # that all is well is shown by fresh candles only
    everybody = {row.candle for row in own}
    n = len(everybody)
    agreeing = [SMALL, LARGE, MIXED] if finding == MIXED else [finding]
    agree = len({row.candle for row in own if row.finding in agreeing})
    runs = {(row.candle, row.run) for row in own}
    of = [sign for sign in of if (sign.candle, sign.run) in runs]
    evidence = [sign for sign in of if sign.points_to in _POINT_TO[finding]]
    against = [sign for sign in of if sign.points_to not in _POINT_TO[finding]]
    kinds = len({sign.rule for sign in evidence})
    return {
        "candidate": candidate,
        "n_candles": n,
        "finding": finding,
        "weak": 2 * agree <= n and kinds == 1,
        "evidence": _told(evidence, everybody, display),
        "counter_evidence": _told(against, everybody, display),
        "how_sure": _how_sure(agree, n, finding, kinds),
        "mushroom": finding == NEITHER and any(s.rule == "mushroom returns" for s in against),
    }


def _together(own: list, signs: list) -> str:
    """The finding of a candidate: a third of its candles is enough, more where signs are weak."""
    seen: dict[str, set] = {}
    for row in own:
        seen.setdefault(row.finding, set()).add(row.candle)
    n = len({row.candle for row in own})
    small, large = (len(seen.get(way, ())) for way in (SMALL, LARGE))
    if MIXED in seen or (small and large):
        return MIXED
    only_weak = all(sign.weak for sign in signs if sign.points_to == SMALL)
    if small and (2 * small > n if only_weak else 3 * small >= n):
        return SMALL
    if large and 3 * large >= n:
        return LARGE
    return NEITHER if NEITHER in seen else UNSEEN


def _told(signs: list, everybody: set[str], display: Display) -> str:
    """Each sign once, with the range of the readings and the candles that showed it."""
    parts = []
    seen = rows_by(signs, "rule")
    for rule in RULES:
        if rule.rule in seen:
            candles = list(dict.fromkeys(sign.candle for sign in seen[rule.rule]))
            who = (
                ", ".join(candles) if len(candles) <= MOST_IN_ROW else listed(candles, MOST_IN_ROW)
            )
            who = "all" if set(candles) == everybody and len(candles) > 1 else who
            values = [sign.value for sign in seen[rule.rule]]
            parts.append(f"{rule.say(values, display)} ({who})")
    return "; ".join(parts)


def _how_sure(agree: int, n: int, finding: str, signs: int) -> str:
    if finding == UNSEEN:
        return "not at all: too few burns, or less than half of the wax"
    if agree == n and n >= 3 and signs >= 2:
        word = "good"
    else:
        word = "fair" if 2 * agree > n and n >= 2 else "weak"
    return f"{word}: seen on {agree} of {n}, by {counted(signs, 'kind')} of sign"


def next_size(wicks: pd.DataFrame, series: str, size: str, step: int) -> str | None:
    """The size ``step`` places up or down its series by rank; None when the series ends there."""
    ranked = wicks[wicks["wick_series"] == series].sort_values("size_rank")["wick_size"].tolist()
    at = ranked.index(size) + step
    return ranked[at] if 0 <= at < len(ranked) else None

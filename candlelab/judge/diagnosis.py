"""Too small, too large, neither or mixed: what the signs mean together, with their evidence.

A finding is no verdict. What to do about it is decided in `fates`.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from candlelab.judge.hints import hints_of
from candlelab.judge.signs import LARGE, NEITHER, RULES, SMALL, features, signs_of
from candlelab.logs.batch import Batch
from candlelab.text import counted
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
    found = _run_findings(seen, signs)
    candidates = pd.DataFrame(_candidate_findings(found, signs, batch.settings.display))
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


def _run_findings(seen: pd.DataFrame, signs: pd.DataFrame) -> pd.DataFrame:
    """One row per wick run: a finding, what speaks for it, and what speaks against it."""
    rows: list[tuple] = []
    of_run: dict[tuple, list] = {}
    columns = ["candle", "run", "points_to", "words", "weak"]
    for candle, run, *sign in signs[columns].itertuples(index=False, name=None):
        of_run.setdefault((candle, run), []).append(sign)
    for run in seen.itertuples():
        own = of_run.get((run.candle, run.run), [])
        by = {
            way: [words for points_to, words, _ in own if points_to == way]
            for way in (SMALL, LARGE, NEITHER)
        }
        strong = any(points_to == LARGE and not weak for points_to, _, weak in own)
        finding = _finding(len(by[SMALL]), len(by[LARGE]) if strong else 0, run.seen_enough)
        against = by[LARGE] if finding == NEITHER else by[NEITHER]
        evidence = by.get(finding, [words for way, words, _ in own if way != NEITHER])
        rows.append((finding, "; ".join(evidence), "; ".join(against)))
    names = [
        "candle",
        "run",
        "candidate",
        "wick",
        "wick_series",
        "wick_size",
        "excluded",
        "n_burns",
    ]
    found = pd.DataFrame(rows, columns=["finding", "evidence", "counter_evidence"])
    return pd.concat([seen[names].reset_index(drop=True), found], axis=1)


def _candidate_findings(runs: pd.DataFrame, signs: pd.DataFrame, display: Display) -> list[dict]:
    """A finding for each candidate, from its wick runs and signs that count."""
    counted_runs, counted_signs = runs[~runs["excluded"]], signs[~signs["excluded"]]
    own, of = (dict(list(t.groupby("candidate"))) for t in (counted_runs, counted_signs))
    return [
        _candidate_finding(own.get(name, runs[:0]), of.get(name, signs[:0]), name, display)
        for name in dict.fromkeys(runs["candidate"])
    ]


def _candidate_finding(
    own: pd.DataFrame, of: pd.DataFrame, candidate: str, display: Display
) -> dict:
    """What the candles of a candidate that count say together."""
    finding = _together(own, of)
    if finding == NEITHER and (own["run"] == 1).any():
        own = own[own["run"] == 1]  # that all is well is shown by fresh candles only
    n = own["candle"].nunique()
    agreeing = [SMALL, LARGE, MIXED] if finding == MIXED else [finding]
    agree = own.loc[own["finding"].isin(agreeing), "candle"].nunique()
    of = of.merge(own[["candle", "run"]], on=["candle", "run"])
    speaks = of["points_to"].isin(_POINT_TO[finding])
    evidence, against = of[speaks], of[~speaks]
    return {
        "candidate": candidate,
        "n_candles": n,
        "finding": finding,
        "weak": bool(2 * agree <= n and evidence["rule"].nunique() == 1),
        "evidence": _told(evidence, own, display),
        "counter_evidence": _told(against, own, display),
        "how_sure": _how_sure(agree, n, finding, evidence),
        "mushroom": finding == NEITHER and bool((against["rule"] == "mushroom returns").any()),
    }


def _together(own: pd.DataFrame, signs: pd.DataFrame) -> str:
    """The finding of a candidate: a third of its candles is enough, more where signs are weak."""
    seen = own.groupby("finding")["candle"].nunique()
    n, small, large = own["candle"].nunique(), int(seen.get(SMALL, 0)), int(seen.get(LARGE, 0))
    if seen.get(MIXED, 0) or (small and large):
        return MIXED
    only_weak = signs.loc[signs["points_to"] == SMALL, "weak"].all()
    if small and (2 * small > n if only_weak else 3 * small >= n):
        return SMALL
    if large and 3 * large >= n:
        return LARGE
    return NEITHER if seen.get(NEITHER, 0) else UNSEEN


def _told(signs: pd.DataFrame, own: pd.DataFrame, display: Display) -> str:
    """Each sign once, with the range of the readings and the candles that showed it."""
    parts, everybody = [], set(own["candle"])
    seen: dict[str, list[tuple]] = {}
    for rule, candle, value in zip(signs["rule"], signs["candle"], signs["value"], strict=True):
        seen.setdefault(rule, []).append((candle, value))
    for rule in RULES:
        if rule.rule in seen:
            candles = list(dict.fromkeys(candle for candle, _ in seen[rule.rule]))
            who = "all" if set(candles) == everybody and len(candles) > 1 else ", ".join(candles)
            values = [value for _, value in seen[rule.rule]]
            parts.append(f"{rule.say(values, display)} ({who})")
    return "; ".join(parts)


def _how_sure(agree: int, n: int, finding: str, evidence: pd.DataFrame) -> str:
    if finding == UNSEEN:
        return "not at all: too few burns, or less than half of the wax"
    signs = evidence["rule"].nunique()
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

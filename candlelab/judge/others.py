"""Why not the others: in one line, each candidate that was not picked and its reason in a few
words."""

from __future__ import annotations

from typing import Any

from candlelab.judge.criteria import criteria_of
from candlelab.judge.scent import beside_words
from candlelab.judge.target_words import missed_label
from candlelab.judge.words import RULED_OUT, SAFE, in_row, number_of

_MOST = 6  # named for one reason; the reasons below name all


def others_words(worked, ranked: list[Any], best: list[Any], hot: set[str]) -> str:
    """The candidates of a vessel that were not picked, those with one reason together; empty where
    there is no pick, or nothing else was burned. ``hot`` are those too hot for a warm room."""
    if not best:
        return ""
    criteria = (one for batch in worked.batches for one in criteria_of(batch.settings))
    short = {one.criterion: one.in_short for one in criteria}
    by_why: dict[str, list[str]] = {}
    for row in (row for row in ranked if row not in best):
        ruled_out = row.fate == RULED_OUT
        why = _failed(worked, row, short) if ruled_out else _why(worked, row, best, hot)
        by_why.setdefault(why, []).append(row.candidate)
    told = [f"{in_row(names, _MOST)} ({why})" for why, names in by_why.items()]
    return f"{'; '.join(told)}." if told else ""


def _failed(worked, row, short: dict[str, str]) -> str:
    """What a candidate failed by."""
    failed = worked.own("failures", row.candidate)
    return f"ruled out: {', '.join(dict.fromkeys(short[one.criterion] for one in failed))}"


def _why(worked, row, best: list[Any], hot: set[str]) -> str:
    """What keeps a candidate that has not failed from being the pick."""
    if row.fate != SAFE:
        return row.fate
    why = []
    targets = worked.own("targets", row.candidate)
    missed = [missed_label(one) for one in targets if one.n_inside < one.n_candles]
    why += [f"off target: {', '.join(dict.fromkeys(missed))}"] if missed else []
    if row.n_passed < max(one.n_passed for one in best):
        why.append(f"only {number_of(row.n_passed, 'good candle')}")
    if len(best) == 1:
        smells = beside_words(worked.scent, best[0].candidate, row.candidate)
        smells = smells.partition(" (")[0].strip().rstrip(".")
        why.append(smells.removeprefix("It "))
    why += ["too hot for a warm room"] if row.candidate in hot else []
    return "; ".join(filter(None, why)) or "as good"

"""Why not the others: in one line, each candidate that was not picked and its reason in a few
words."""

from __future__ import annotations

import pandas as pd

from candlelab.judge.criteria import criteria_of
from candlelab.judge.scent import beside_words
from candlelab.judge.target_words import missed_label
from candlelab.judge.words import RULED_OUT, SAFE, in_row, number_word

_MOST = 6  # named for one reason; the reasons below name all


def others_words(worked, ranked: pd.DataFrame, best: pd.DataFrame, hot: set[str]) -> str:
    """The candidates of a vessel that were not picked, those with one reason together; empty where
    there is no pick, or nothing else was burned. ``hot`` are those too hot for a warm room."""
    if best.empty:
        return ""
    by_why: dict[str, list[str]] = {}
    for row in ranked[~ranked["candidate"].isin(best["candidate"])].itertuples():
        by_why.setdefault(_why(worked, row, best, row.candidate in hot), []).append(row.candidate)
    told = [f"{in_row(names, _MOST)} ({why})" for why, names in by_why.items()]
    return f"{'; '.join(told)}." if told else ""


def _why(worked, row, best: pd.DataFrame, hot: bool) -> str:
    """What keeps a candidate from being the pick."""
    if row.fate == RULED_OUT:
        failed = worked.failures
        failed = failed.loc[failed["candidate"] == row.candidate, "criterion"]
        short = {c.criterion: c.in_short for c in criteria_of(worked.batch.settings)}
        return f"ruled out: {', '.join(dict.fromkeys(short[one] for one in failed))}"
    if row.fate != SAFE:
        return row.fate
    why = []
    table = worked.targets
    table = table[(table["candidate"] == row.candidate) & (table["n_inside"] < table["n_candles"])]
    if missed := list(dict.fromkeys(missed_label(one) for one in table.itertuples())):
        why.append(f"off target: {', '.join(missed)}")
    if row.n_passed < best["n_passed"].max():
        good = "good candle" if row.n_passed == 1 else "good candles"
        why.append(f"only {number_word(row.n_passed)} {good}")
    if len(best) == 1:
        smells = beside_words(worked.scent, best["candidate"].iat[0], row.candidate)
        smells = smells.partition(" (")[0].strip().rstrip(".")
        why += [smells.removeprefix("It ").removeprefix("is ")]
    why += ["too hot for a warm room"] if hot else []
    return "; ".join(filter(None, why)) or "as good"

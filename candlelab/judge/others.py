"""Why not the others: in one line, each candidate that was not picked and its reason in a few
words."""

from __future__ import annotations

import pandas as pd

from candlelab.judge.criteria import criteria_of
from candlelab.judge.scent import beside_words
from candlelab.judge.words import RULED_OUT, SAFE, in_row
from candlelab.logs.columns import TARGETS
from candlelab.text import small

_MOST = 6  # named for one reason; the reasons below name all


def others_words(worked, ranked: pd.DataFrame, best: pd.DataFrame) -> str:
    """The candidates of a vessel that were not picked, those with one reason together; empty where
    there is no pick, or nothing else was burned."""
    if best.empty:
        return ""
    by_why: dict[str, list[str]] = {}
    for row in ranked[~ranked["candidate"].isin(best["candidate"])].itertuples():
        by_why.setdefault(_why(worked, row, best), []).append(row.candidate)
    told = [f"{in_row(names, _MOST)} ({why})" for why, names in by_why.items()]
    return f"{'; '.join(told)}." if told else ""


def _why(worked, row, best: pd.DataFrame) -> str:
    """What keeps a candidate from being the pick."""
    if row.fate == RULED_OUT:
        failed = worked.failures
        failed = failed.loc[failed["candidate"] == row.candidate, "criterion"]
        short = {c.criterion: c.in_short for c in criteria_of(worked.batch.settings)}
        return f"ruled out: {', '.join(dict.fromkeys(short[one] for one in failed))}"
    if row.fate != SAFE:
        return row.fate
    if row.n_gaps:
        return "not fully checked"
    fewer = ["fewer candles passed"] if row.n_passed < best["n_passed"].max() else []
    table = worked.targets
    table = table[(table["candidate"] == row.candidate) & (table["n_inside"] < table["n_candles"])]
    if missed := list(dict.fromkeys(TARGETS[one].label for one in table["target"])):
        return "; ".join([f"off target: {', '.join(missed)}", *fewer])
    if fewer:
        return fewer[0]
    if len(best) == 1 and row.rank == best["rank"].min():
        smells = beside_words(worked.scent, best["candidate"].iat[0], row.candidate)
        return small(smells.strip().removeprefix("It ")).rstrip(".") or "as good"
    return "as good"

"""What becomes of each candidate, and what to do next: the one place that decides.

Safety decides before taste, evidence before order. Every page asks here, so that no two of them can
give a candidate two fates.
"""

from __future__ import annotations

from typing import Any

import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.burns.groups import as_rows
from candlelab.judge.failures import named_alike
from candlelab.judge.words import (
    BURNING,
    MOST_IN_ROW,
    RULED_OUT,
    SAFE,
    UNCHECKED,
    alike_words,
    failure_words,
    gap_words,
    in_row,
    number_word,
)
from candlelab.text import capital

FATES = (SAFE, BURNING, UNCHECKED, RULED_OUT)
TOLD = ["next_step", "next_wick"]
COLUMNS = [
    "candidate", "vessel", "wick", "fate", "because", *TOLD, "n_passed", "n_failed", "n_gaps",
    "n_burning",
]  # fmt: skip


def standing(worked) -> pd.DataFrame:
    """One row per candidate: its fate, why, and its counts of candles, as in `decide`."""
    counts = {row.candidate: row for row in as_rows(worked.verdicts.candidates)}
    about = worked.burns[["candidate", "vessel", "wick"]].drop_duplicates("candidate")
    named = {row.candidate: row for row in as_rows(about)}
    rows = []
    for name in natural_order(counts):
        failed, gaps, of = worked.own("failures", name), worked.own("gaps", name), counts[name]
        burning = len({gap.candle for gap in gaps if gap.burning})
        fate = _fate(failed, of, burning)
        rows.append({
            "candidate": name, "vessel": named[name].vessel, "wick": named[name].wick,
            "fate": fate,
            "because": " ".join([_because(fate, failed, gaps, of), *_alike(worked, fate, name)]),
            "n_passed": of.n_passed, "n_failed": of.n_failed, "n_gaps": of.n_open,
            "n_burning": burning,
        })  # fmt: skip
    return pd.DataFrame(rows)


def decide(worked) -> pd.DataFrame:
    """One row per candidate: its fate, why, what to do next and on which wick.

    Parameters
    ----------
    worked : WorkedBatch
        A batch, worked out.

    Returns
    -------
    pandas.DataFrame
        ``candidate, vessel, wick, fate, because, next_step, next_wick`` and the counts of candles:
        ``n_passed, n_failed, n_gaps`` (not fully checked, with those that still burn),
        ``n_burning``. In natural order.
    """
    table = worked.standing
    told = [worked.steps.of(row) for row in as_rows(table)]
    table = table.assign(next_step=[t for t, _ in told], next_wick=[w for _, w in told])
    return table[COLUMNS]


def _fate(failed: list[Any], counts, burning: int) -> str:
    if failed:
        return RULED_OUT
    if counts.n_passed:
        return SAFE
    return BURNING if burning else UNCHECKED


def _because(fate: str, failed: list[Any], gaps: list[Any], counts) -> str:
    """Why, in sentences: each failure once, or what is missing."""
    if fate == RULED_OUT:
        return " ".join(failure_words(failed))
    said = []
    if fate == BURNING and all(gap.burning for gap in gaps):
        candles = list(dict.fromkeys(gap.candle for gap in gaps))
        has = "has" if len(candles) == 1 else "have"
        return f"{in_row(candles, MOST_IN_ROW)} {has} burned without a failure so far."
    if fate == SAFE:
        said.append(_passed(counts.n_passed, counts.n_candles))
    elif not counts.n_candles and counts.n_part_used:
        said.append("It was only tried in part-used candles, which can fail but never pass.")
    elif not counts.n_candles:
        said.append("Every candle of it was set aside.")
    return " ".join([*said, *gap_words(gaps)])


def _alike(worked, fate: str, name: str) -> list[str]:
    """That a wick whose name is a letter off has failed, where this one has not, or has a gap."""
    if fate == RULED_OUT:
        return []
    failed = named_alike(worked.failures, name)
    open_ = [one for one in named_alike(worked.gaps, name) if one not in failed]
    return [
        *alike_words(failed, _candles(worked.failures, failed)),
        *alike_words(open_, _candles(worked.gaps, open_), gap=True),
    ]


def _candles(table, names: list[str]) -> list[str]:
    """The candles of some candidates in a table, each once."""
    if not names:
        return []
    return [c for c in table.loc[table["candidate"].isin(names), "candle"].unique() if c]


def _passed(n: int, of: int) -> str:
    """How many candles passed, in words."""
    if n == of:
        who = {1: "The one candle", 2: "Both candles"}.get(n, f"All {number_word(n)} candles")
    else:
        who = f"{capital(number_word(n))} of {number_word(of)} candles"
    return f"{who} passed every safety check."

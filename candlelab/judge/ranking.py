"""Candidates in order, vessel by vessel: safety first, then evidence, then the studio's targets.

No inference here: every number is a count of candles or a plain mean over candles.
"""

from __future__ import annotations

from bisect import bisect_left
from typing import Any

import numpy as np
import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.burns.candles import that_count, wax_left
from candlelab.burns.groups import as_rows
from candlelab.judge.fates import FATES, RULED_OUT, SAFE
from candlelab.judge.safety import Verdicts
from candlelab.judge.scent import Strength, decided_by_scent


def first_wick_values(runs: pd.DataFrame, candles: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts, measured on the wick it was poured with.

    Life and wax left belong to that wick only when the candle got to its end on it.
    """
    first = runs[(runs["run"] == 1) & ~runs["excluded"]].reset_index(drop=True)
    at = pd.Index(candles["candle"]).get_indexer(first["candle"])
    own_end = (candles["ended"] & ~candles["replaced"]).to_numpy()
    whole = {name: np.where(own_end, candles[name], np.nan) for name in ("life_h", "wax_left_pct")}
    return first.assign(**{name: values[at] for name, values in whole.items()})


def open_ends(values: pd.DataFrame, burns: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What each missing number of `first_wick_values` is known to be above, and below.

    A pool that was watched and never full takes longer than it was watched; a candle that was not
    burned to its end on that wick lives longer than it was burned, and leaves less than it holds.
    NaN where nothing is known.
    """
    used = burns[that_count(burns) & (burns["run"] == 1)]
    at_least = used["full_pool_h"].fillna(used["pool_watched_h"]).groupby(used["candle"]).median()
    unseen = used["pool_watched_h"].isna()
    turn = used.groupby("candle").cumcount()  # burns before this one
    first_unseen = turn.where(unseen).groupby(used["candle"]).min()
    without_a_gap = first_unseen.fillna(used.groupby("candle").size())
    above = {
        "full_pool_h": values["candle"].map(at_least),
        "burns_to_full_pool": values["candle"].map(without_a_gap),
        "life_h": values["hours_h"],
    }
    below = {"wax_left_pct": wax_left(values["fill_used_pct"])}
    tables = (pd.DataFrame(above), pd.DataFrame(below))
    return tuple(ends.where(values[list(ends)].isna()).astype(float) for ends in tables)


def leading(scent: Strength | None, ranked: list[Any]) -> tuple[list[Any], list[Any], str]:
    """Of one vessel's candidates, in order: those that lead, those of them that the panel leaves,
    and why it does."""
    safe = [row for row in ranked if row.fate == SAFE]
    level = [row for row in safe if row.rank == safe[0].rank]
    if len(level) < 2:
        return level, level, ""
    chosen, why = decided_by_scent(scent, [row.candidate for row in level])
    return level, [row for row in level if row.candidate == chosen] if chosen else level, why


def rank_candidates(verdicts: Verdicts, fates: pd.DataFrame, targets: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate, vessel by vessel, the best first.

    Parameters
    ----------
    verdicts : Verdicts
        What `judge_safety` found.
    fates, targets : pandas.DataFrame
        The tables of `decide` and `target_results`.

    Returns
    -------
    pandas.DataFrame
        What failed comes last, most failed candles at the end. Of the others comes first the one
        with the most candles that passed everything, then the one that hits the larger share of
        its targets. Candidates equal in all of it share a rank; targets order nothing ruled out.
    """
    at = pd.Index(verdicts.candidates["candidate"]).get_indexer(fates["candidate"])
    more = verdicts.candidates.drop(columns=["candidate", "n_passed", "n_failed"]).iloc[at]
    of = pd.Index(fates["candidate"]).get_indexer(targets["candidate"])
    hit, asked = (
        np.bincount(of, targets[name], minlength=len(fates)).astype(int)
        for name in ("n_inside", "n_candles")
    )
    share = np.divide(hit, asked, out=np.zeros(len(fates)), where=asked > 0)
    vessels = natural_order(fates["vessel"].unique())
    out = (fates["fate"] == RULED_OUT).to_numpy()
    failed, missed = np.where(out, fates["n_failed"].clip(lower=1), 0), np.where(out, 0.0, -share)
    keys = [
        (vessels.index(row.vessel), lost, -row.n_passed, FATES.index(row.fate), off)
        for row, lost, off in zip(as_rows(fates), failed, missed, strict=True)
    ]
    ranked = sorted(keys)
    rank = [1 + bisect_left(ranked, key) - bisect_left(ranked, key[:1]) for key in keys]
    table = pd.concat([fates, more.reset_index(drop=True)], axis=1)
    table = table.assign(targets_hit=hit, targets_asked=asked)
    table.insert(0, "rank", rank)
    order = sorted(range(len(keys)), key=keys.__getitem__)
    return table.iloc[order].reset_index(drop=True)

"""Candidates in order, vessel by vessel: safety first, then evidence, then the studio's targets.

No inference here: every number is a count of candles or a plain mean over candles.
"""

from __future__ import annotations

from bisect import bisect_left

import numpy as np
import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.burns.candles import that_count, wax_left
from candlelab.judge.fates import FATES, RULED_OUT, SAFE
from candlelab.judge.safety import Verdicts
from candlelab.judge.scent import Strength, decided_by_scent


def first_wick_values(runs: pd.DataFrame, candles: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts, measured on the wick it was poured with.

    Life and wax left belong to that wick only when the candle got to its end on it.
    """
    first = runs[(runs["run"] == 1) & ~runs["excluded"]].reset_index(drop=True)
    at = pd.Index(candles["candle"]).get_indexer(first["candle"])
    whole = candles[["ended", "replaced", "life_h", "wax_left_pct"]].iloc[at]
    whole = whole.reset_index(drop=True)
    own_end = whole["ended"] & ~whole["replaced"]
    return first.assign(
        life_h=whole["life_h"].where(own_end), wax_left_pct=whole["wax_left_pct"].where(own_end)
    )


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


def leading(scent: Strength | None, ranked: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame, str]:
    """Of one vessel's candidates, in order: those that lead, those of them that the panel leaves,
    and why it does."""
    safe = ranked[ranked["fate"] == SAFE]
    level = safe[safe["rank"] == safe["rank"].min()]
    if len(level) < 2:
        return level, level, ""
    chosen, why = decided_by_scent(scent, list(level["candidate"]))
    return level, level[level["candidate"] == chosen] if chosen else level, why


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
    more = verdicts.candidates.drop(columns=["n_passed", "n_failed"])
    table = fates.merge(more, on="candidate", validate="one_to_one")
    sums = targets.groupby("candidate")[["n_inside", "n_candles"]].sum()
    sums = sums.reindex(table["candidate"], fill_value=0)
    hit, asked = (sums[name].to_numpy(dtype=int) for name in ("n_inside", "n_candles"))
    share = np.divide(hit, asked, out=np.zeros(len(table)), where=asked > 0)
    out = (table["fate"] == RULED_OUT).to_numpy()
    failed = np.where(out, table["n_failed"].clip(lower=1), 0)
    place = table["fate"].map(FATES.index)
    orders = zip(failed, -table["n_passed"], place, np.where(out, 0.0, -share), strict=True)
    keys = pd.Series(list(orders), index=table.index)
    sorted_keys = {v: sorted(keys[at]) for v, at in table.groupby("vessel").groups.items()}
    rank = [
        1 + bisect_left(sorted_keys[vessel], key)
        for vessel, key in zip(table["vessel"], keys, strict=True)
    ]
    vessels = natural_order(table["vessel"].unique())
    table.insert(0, "rank", rank)
    table = table.assign(targets_hit=hit, targets_asked=asked)
    order = np.lexsort((table["rank"], table["vessel"].map(vessels.index)))
    return table.iloc[order].reset_index(drop=True)

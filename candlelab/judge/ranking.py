"""Candidates in order, vessel by vessel: safety first, then evidence, then the studio's targets.

No inference here: every number is a count of candles or a plain mean over candles.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.candles import counted as that_count
from candlelab.judge.fates import FATES, RULED_OUT
from candlelab.judge.safety import Verdicts
from candlelab.logs.batch import Batch
from candlelab.logs.settings import Target

# What a candle has only when it is burned to its end: one that still burns misses nothing yet.
_AT_THE_END = ("life_h", "wax_left_pct")


def first_wick_values(runs: pd.DataFrame, candles: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts, measured on the wick it was poured with.

    Life and wax left belong to that wick only when the candle got to its end on it.
    """
    first = runs[(runs["run"] == 1) & ~runs["excluded"]].reset_index(drop=True)
    whole = candles.set_index("candle").loc[first["candle"]].reset_index(drop=True)
    own_end = whole["ended"] & ~whole["replaced"]
    return first.assign(
        life_h=whole["life_h"].where(own_end), wax_left_pct=whole["wax_left_pct"].where(own_end)
    )


def open_ends(values: pd.DataFrame, burns: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What each missing number of the table of ``first_wick_values`` is known to be above, and below.

    A pool that was watched and never full takes longer than it was watched; a candle that was not
    burned to its end on that wick lives longer than it was burned, and leaves less than it holds. NaN
    where nothing is known.
    """
    used = burns[that_count(burns) & (burns["run"] == 1)]
    at_least = used["full_pool_h"].fillna(used["pool_watched_h"]).groupby(used["candle"]).median()
    unseen = used["pool_watched_h"].isna()
    turn = used.groupby("candle").cumcount()  # burns before this one
    first_unseen = turn.where(unseen).groupby(used["candle"]).min()
    without_a_gap = first_unseen.fillna(used.groupby("candle").size())
    above = pd.DataFrame(
        {
            "full_pool_h": values["candle"].map(at_least),
            "burns_to_full_pool": values["candle"].map(without_a_gap),
            "life_h": values["hours_h"],
        }
    )
    below = pd.DataFrame({"wax_left_pct": 100.0 - values["fill_used_pct"]})
    return tuple(ends.where(values[list(ends)].isna()).astype(float) for ends in (above, below))


def targets_of(batch: Batch, vessel: str) -> tuple[Target, ...]:
    """The targets that hold for a vessel: its own, and those of every vessel that it has none for."""
    every = {t.quantity: t for t in batch.settings.targets if not t.vessel}
    own = {t.quantity: t for t in batch.settings.targets if t.vessel == vessel}
    return tuple((every | own).values())


def target_results(
    batch: Batch, values: pd.DataFrame, burning: frozenset[str] = frozenset()
) -> pd.DataFrame:
    """One row per candidate and target of ``batch.toml``: mean, range, and how many candles are inside.

    ``values`` as in `first_wick_values`. A candle without the number (never a full pool, not burned to
    its end) is not inside; what only an ended candle has is not asked of one in ``burning``.
    """
    rows = []
    for candidate, every in values.groupby("candidate", sort=False):
        for target in targets_of(batch, every["vessel"].iat[0]):
            own = every
            if target.quantity in _AT_THE_END:
                own = every[~every["candle"].isin(burning)]
            seen = own[target.quantity].astype(float)
            low, high = (end if np.isfinite(end) else np.nan for end in (target.low, target.high))
            rows.append({
                "candidate": candidate, "target": target.quantity, "low": low, "high": high,
                "mean": seen.mean(), "smallest": seen.min(), "largest": seen.max(),
                "n_inside": int(seen.between(target.low, target.high).sum()), "n_candles": len(own),
            })  # fmt: skip
    columns = [
        "candidate",
        "target",
        "low",
        "high",
        "mean",
        "smallest",
        "largest",
        "n_inside",
        "n_candles",
    ]
    return pd.DataFrame(rows, columns=columns)


def rank_candidates(verdicts: Verdicts, fates: pd.DataFrame, targets: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate, vessel by vessel, the best first.

    What failed comes last; then the candidate with the most candles that passed everything comes
    first, then the one that hits the larger share of its targets. Candidates equal in all of it share
    a rank.
    """
    table = fates.merge(verdicts.candidates.drop(columns=["n_passed", "n_failed"]), on="candidate")
    counts = targets.groupby("candidate")[["n_inside", "n_candles"]].sum()
    counts = counts.reindex(table["candidate"], fill_value=0).astype(int)
    hit, asked = counts["n_inside"].to_numpy(), counts["n_candles"].to_numpy()
    table = table.assign(targets_hit=hit, targets_asked=asked)
    share = np.divide(hit, asked, out=np.zeros(len(table)), where=asked > 0)
    out = (table["fate"] == RULED_OUT).to_numpy()
    failed = np.where(out, np.maximum(table["n_failed"], 1), 0)
    place = table["fate"].map(FATES.index)
    keys = list(zip(failed, -table["n_passed"], place, -share, strict=True))
    vessels = list(dict.fromkeys(table["vessel"]))
    ranks = []
    for key, vessel in zip(keys, table["vessel"], strict=True):
        others = [k for k, v in zip(keys, table["vessel"], strict=True) if v == vessel]
        ranks.append(1 + sum(other < key for other in others))
    table.insert(0, "rank", ranks)
    table["place"] = table["vessel"].map(vessels.index)
    ordered = table.sort_values(["place", "rank"], kind="stable").drop(columns="place")
    return ordered.reset_index(drop=True)

"""How near each candidate came to its limits: its worst reading as a share of each."""

from __future__ import annotations

import pandas as pd

from candlelab.judge.criteria import MELT_POOL, OWN_FLAME, criteria_of
from candlelab.judge.words import RULED_OUT
from candlelab.logs.settings import Settings

# What the picture of the decision shows, by criterion.
SHOWN = {
    "flame height": "flame", OWN_FLAME: "flame", "soot": "soot", "wall stop": "wall",
    MELT_POOL: "melt pool",
}  # fmt: skip
_READINGS = {"flame": "flame_max_mm", "wall": "wall_max_c", "melt pool": "pool_depth_max_mm"}
COLUMNS = ["candidate", "rank", "fate", "limit_of", "worst", "limit", "unit", "share_pct"]


def reading_limits(settings: Settings) -> dict[str, float]:
    """The strictest limit of each reading of a burn that has one, by its column.

    Parameters
    ----------
    settings : Settings
        What ``batch.toml`` says.
    """
    found: dict[str, float] = {}
    for c in criteria_of(settings):
        name = _READINGS.get(SHOWN.get(c.criterion, ""))
        if name:
            found[name] = min(c.limit, found.get(name, c.limit))
    return found


def margins(worked) -> pd.DataFrame:
    """One row per candidate and limit that its readings are held against, in rank order.

    Parameters
    ----------
    worked : WorkedBatch
        A batch, worked out.

    Returns
    -------
    pandas.DataFrame
        ``worst`` is the worst reading of all its candles, those set aside as well; ``share_pct`` is
        that as a share of ``limit`` [%], over 100 where the limit was broken. Where two limits are
        on one thing, the one that it came nearer to.
    """
    table = worked.verdicts.candidate_criteria
    table = table[table["criterion"].isin(SHOWN) & table["value"].notna() & (table["limit"] > 0)]
    table = table.assign(
        limit_of=table["criterion"].map(SHOWN), share_pct=100.0 * table["value"] / table["limit"]
    )
    table = table.sort_values("share_pct").drop_duplicates(["candidate", "limit_of"], keep="last")
    place = {name: n for n, name in enumerate(dict.fromkeys(SHOWN.values()))}
    ranked = worked.ranking[["candidate", "rank", "fate"]].assign(
        row=range(len(worked.ranking)), out=worked.ranking["fate"] == RULED_OUT
    )
    merged = ranked.merge(table, on="candidate").rename(columns={"value": "worst"})
    merged = merged.assign(place=merged["limit_of"].map(place))
    return merged.sort_values(["row", "place"])[COLUMNS].reset_index(drop=True)

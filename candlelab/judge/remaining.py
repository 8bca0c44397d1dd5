"""Candles that still burn: how many burns are left, when the last one ends, what to look at."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.judge.criteria import CHECK
from candlelab.judge.safety import NOT_MET, Verdicts
from candlelab.judge.words import against

COLUMNS = [
    "candidate",
    "candle",
    "run",
    "burns_left",
    "hours_left_h",
    "ends_on",
    "look_at",
    "reading",
]
_NEAR = 0.8  # share of a limit from which a reading is worth a look; common practice, no source
_THINGS = {
    "flame_height_mm": "the flame", "wall_c": "the wall", "pool_depth_mm": "the melt pool",
}  # fmt: skip


def still_burning(burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """The last burn of each candle that can be lit again: not at its end, not stopped, not failed.

    A candle that was set aside as a whole is not among them.
    """
    last = burns.groupby("candle").tail(1)
    both = verdicts.candle_verdicts
    failed = both.loc[(both[["standard_verdict", "studio_verdict"]] == NOT_MET).any(axis=1)]
    aside = burns.groupby("candle")["excluded"].all()
    over = last["ended_by"].isin(["self", "stopped"]) | last["candle"].isin(failed["candle"])
    return last[~over & ~last["candle"].map(aside).astype(bool)]


def remaining(burns: pd.DataFrame, candles: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """One row per candle that still burns: the burns and hours left at its rate so far.

    Parameters
    ----------
    burns, candles : pandas.DataFrame
        The tables of `burn_cycles` and `candle_summary` [g, h].
    verdicts : Verdicts
        What `judge_safety` found.

    Returns
    -------
    pandas.DataFrame
        ``burns_left`` is empty where no rate is known; ``ends_on`` is the day of the last burn if
        the candle is lit as often as the candles so far; ``look_at`` names what is nearest to its
        limit, ``reading`` how near.
    """
    last = still_burning(burns, verdicts)
    whole = candles.set_index("candle").loc[last["candle"]].reset_index()
    rate = whole["burn_rate_g_per_h"].where(whole["burn_rate_g_per_h"] > 0)
    hours = (whole["life_projected_h"] - whole["hours_h"]).fillna(whole["wax_left_g"] / rate)
    usual = burns.groupby("candle")["burn_time_h"].median().reindex(whole["candle"]).to_numpy()
    left = np.ceil(hours.to_numpy() / usual - 0.05)
    left = np.where(np.isfinite(left), np.maximum(left, 1), np.nan)
    lit = burns["lit_at"].groupby(burns["candle"]).diff().median()
    ends = last["lit_at"].dt.tz_localize(None).to_numpy() + lit * pd.Series(left)
    near = _nearest(verdicts).reindex(whole["candle"]).fillna("").reset_index(drop=True)
    return pd.DataFrame(
        {
            "candidate": last["candidate"].to_numpy(),
            "candle": last["candle"].to_numpy(),
            "run": last["run"].to_numpy(),
            "burns_left": pd.array(left, dtype="Int64"),
            "hours_left_h": hours.to_numpy(),
            "ends_on": pd.to_datetime(ends).dt.normalize(),
            "look_at": near["look_at"],
            "reading": near["reading"],
        },
        columns=COLUMNS,
    )


def _nearest(verdicts: Verdicts) -> pd.DataFrame:
    """For each candle the reading nearest to a limit of a number, where it comes near."""
    seen = {
        c: verdicts.burns[verdicts.burns["criterion"] == c.criterion]
        .groupby("candle")["value"]
        .max()
        for c in verdicts.used
        if c.level == CHECK and c.decides and c.column in _THINGS
    }
    criteria = list(seen)
    shares = pd.DataFrame({n: seen[c] / c.limit for n, c in enumerate(criteria)})
    shares = shares.where(shares >= _NEAR).dropna(how="all")
    nearest = shares.idxmax(axis=1) if len(shares) else pd.Series(dtype=int)
    found = [(criteria[n], seen[criteria[n]][name]) for name, n in nearest.items()]
    return pd.DataFrame(
        {
            "look_at": [_THINGS[c.column] for c, _ in found],
            "reading": [against(value, c.limit, c.unit, c.whose) for c, value in found],
        },
        index=nearest.index,
        dtype="str",
    )

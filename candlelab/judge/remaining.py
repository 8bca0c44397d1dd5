"""Candles that still burn: how many burns are left, when the last one ends, what to look at."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.groups import first_rows, set_aside_whole, table_of
from candlelab.judge.criteria import CHECK
from candlelab.judge.safety import FAIL, Verdicts
from candlelab.judge.words import against
from candlelab.logs.groups import medians
from candlelab.units import SI, Display

COLUMNS = {
    "candidate": "str", "candle": "str", "run": "int64", "burns_left": "Int64",
    "hours_left_h": "float64", "ends_on": "datetime64[us]", "look_at": "str", "reading": "str",
}  # fmt: skip
_NEAR = 0.8  # share of a limit from which a reading is worth a look; common practice, no source
_THINGS = {
    "flame_height_mm": "the flame", "wall_c": "the wall", "pool_depth_mm": "the melt pool",
}  # fmt: skip


def still_burning(burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """The last burn of each candle that can be lit again: not at its end, not stopped, not failed.

    A candle that was set aside as a whole is not among them.
    """
    last = burns[["candidate", "candle", "run", "lit_at", "ended_by"]]
    last = last.iloc[np.append(first_rows(burns, ["candle"])[1:], len(burns)) - 1]
    both = verdicts.candle_verdicts
    lost = (both["standard_verdict"] == FAIL) | (both["studio_verdict"] == FAIL)
    over = last["ended_by"].isin(["self", "stopped"]) | last["candle"].isin(both["candle"][lost])
    return last[~over & ~set_aside_whole(burns)[last.index]]


def remaining(
    burns: pd.DataFrame, candles: pd.DataFrame, verdicts: Verdicts, display: Display = SI
) -> pd.DataFrame:
    """One row per candle that still burns: the burns and hours left at its rate so far.

    Parameters
    ----------
    burns, candles : pandas.DataFrame
        The tables of `burn_cycles` and `candle_summary` [g, h].
    verdicts : Verdicts
        What `judge_safety` found.
    display : Display
        The reader's units, for the words.

    Returns
    -------
    pandas.DataFrame
        ``burns_left`` is empty where no rate is known; ``ends_on`` is the day of the last burn if
        the candle is lit as often as the candles so far; ``look_at`` names what is nearest to its
        limit, ``reading`` how near.
    """
    last = still_burning(burns, verdicts)
    if last.empty:
        return table_of([], COLUMNS)
    at = pd.Index(candles["candle"]).get_indexer(last["candle"])
    whole = candles.iloc[at].reset_index(drop=True)
    rate = whole["burn_rate_g_per_h"].where(whole["burn_rate_g_per_h"] > 0)
    hours = (whole["life_projected_h"] - whole["hours_h"]).fillna(whole["wax_left_g"] / rate)
    candle = pd.Index(candles["candle"]).get_indexer(burns["candle"])
    usual = medians(burns["burn_time_h"].to_numpy(), candle)[at]
    left = np.ceil(hours / usual - 0.05).clip(lower=1)  # a few minutes more are no burn more
    pace = burns["lit_at"].groupby(burns["candle"]).diff().median() / pd.Timedelta(days=1)
    lit = last["lit_at"].dt.tz_localize(None).reset_index(drop=True)
    look_at, reading = _nearest(verdicts, list(whole["candle"]), display)
    return (
        last[["candidate", "candle", "run"]]
        .assign(
            burns_left=pd.array(left, dtype="Int64"),
            hours_left_h=hours.to_numpy(),
            ends_on=(lit + pd.to_timedelta(left * pace, unit="D")).dt.normalize().to_numpy(),
            look_at=look_at,
            reading=reading,
        )[list(COLUMNS)]
        .reset_index(drop=True)
    )


def _nearest(verdicts: Verdicts, names: list[str], display: Display) -> tuple[list[str], list[str]]:
    """For each candle what is nearest to a limit of a number, and the reading beside it.

    Both are empty where nothing comes near.
    """
    criteria = [c for c in verdicts.used if c.level == CHECK and c.decides and c.column in _THINGS]
    table, look_at, reading = verdicts.burns, [], []
    told = table["criterion"].isin([c.criterion for c in criteria])
    table = table[told & table["candle"].isin(names)]
    worst = table.groupby(["criterion", "candle"])["value"].max().to_dict()
    for name in names:
        values = [(worst[c.criterion, name], c) for c in criteria]
        near = [(value / c.limit, value, c) for value, c in values if value >= _NEAR * c.limit]
        _, value, c = max(near, default=(0.0, 0.0, None), key=lambda one: one[0])
        look_at.append(_THINGS[c.column] if c else "")
        reading.append(against(value, c.limit, c.unit, c.whose, display) if c else "")
    return look_at, reading

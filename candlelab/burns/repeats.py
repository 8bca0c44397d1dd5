"""The same candle in two folders, known by what was logged of it and not by its name or a date.

A burn is the same when it was lit in the same minute and weighed the same before and after; a
candle is, when half of its burns are, and nearly all that were lit in the same minutes. A copy with
other dates is known by its weights, the lengths of its burns and its readings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from candlelab.logs.batch import Batch
from candlelab.text import of_folder

SAME_CANDLE = "the same candle as"  # begins the reason for which a repeat is set aside
COLUMNS = ["batch", "candle", "of_batch", "of_candle"]
_WITHIN_G = 0.15  # two logs of one weight, rounded in other units (0.01 oz is 0.28 g)
_BURNS, _READINGS, _ALIKE = 3, 8, 0.8  # what a copy with other dates has to share
_SEEN = ("flame_height_mm", "wall_c", "pool_diameter_mm", "pool_depth_mm")


def repeats(batches: Sequence[Batch]) -> pd.DataFrame:
    """Candles that are in one of the batches before, one row for each.

    Parameters
    ----------
    batches : sequence of Batch
        The batches in order.

    Returns
    -------
    pandas.DataFrame
        ``batch`` and ``of_batch`` are places in the sequence, ``candle`` and ``of_candle`` names
        there. Of two logs of a candle the earlier one in the sequence is the candle.
    """
    if len(batches) < 2:
        return pd.DataFrame(columns=COLUMNS)
    burns = pd.concat([_burns(n, batch) for n, batch in enumerate(batches)], ignore_index=True)
    many = burns.groupby(["batch", "candle"]).size()
    owner: dict[tuple, tuple] = {}
    for one, other in _lit_together(burns, many):
        _join(owner, one, other)
    for one, other in _copied(burns, many.drop(list(owner)), batches):
        _join(owner, one, other)
    rows = [(*candle, *of) for candle, of in sorted(owner.items())]
    return pd.DataFrame(rows, columns=COLUMNS)


def _join(owner: dict[tuple, tuple], one: tuple, other: tuple) -> None:
    """Note that two logs are of one candle: the earlier one is it."""
    keep, gone = sorted((owner.get(one, one), owner.get(other, other)))
    if keep != gone:
        owner |= {gone: keep} | {c: keep for c, of in owner.items() if of == gone}


def _burns(n: int, batch: Batch) -> pd.DataFrame:
    """Candle, burn, when lit by the clock on the wall, how long, and the weights."""
    b = batch.burns
    minutes = ((b["out_at"] - b["lit_at"]) / pd.Timedelta(minutes=1)).round()
    table = b[["candle", "burn", "mass_before_g", "mass_after_g"]]
    lit = b["lit_at"].dt.tz_localize(None).dt.round("min").astype("datetime64[s]")
    return table.assign(batch=n, lit=lit, minutes=minutes).sort_values(["candle", "burn"])


def _near(pairs: pd.DataFrame) -> pd.Series:
    gaps = [(pairs[f"{m}_x"] - pairs[f"{m}_y"]).abs() for m in ("mass_before_g", "mass_after_g")]
    return (gaps[0] <= _WITHIN_G) & (gaps[1] <= _WITHIN_G)


def _lit_together(burns: pd.DataFrame, many: pd.Series) -> list[tuple]:
    """Pairs of candles whose burns were lit in one minute at one weight."""
    keyed = pd.concat(
        [burns.assign(about=np.floor(burns["mass_before_g"] + half)) for half in (0.0, 0.5)]
    )
    keyed = keyed.dropna(subset=["about", "mass_after_g"])
    shared = keyed[keyed.groupby(["lit", "about"])["batch"].transform("nunique") > 1]
    pairs = shared.merge(shared, on=["lit", "about"])
    pairs = pairs[(pairs["batch_x"] < pairs["batch_y"]) & _near(pairs)]
    of = ["batch_x", "candle_x", "batch_y", "candle_y"]
    same = pairs.drop_duplicates([*of, "lit"]).groupby(of).size()
    weighed = burns.dropna(subset=["mass_before_g", "mass_after_g"])
    minutes = weighed.groupby(["batch", "candle"])["lit"].agg(set)
    found = []
    for (a, b, c, d), n in same.items():
        shared = len(minutes[a, b] & minutes[c, d])
        if n >= max(_ALIKE * shared, min(many[a, b], many[c, d]) / 2.0):
            found.append(((a, b), (c, d)))
    return found


def _copied(burns: pd.DataFrame, many: pd.Series, batches: Sequence[Batch]) -> list[tuple]:
    """Pairs of candles that weighed the same in every burn and looked the same at most checks."""
    first = burns[burns.groupby(["batch", "candle"]).cumcount() < _BURNS]
    of = pd.MultiIndex.from_frame(first[["batch", "candle"]])
    first = first[of.isin(many.index[many >= _BURNS])]  # of each candle so many rows, in order
    weights = first[["mass_before_g", "mass_after_g", "minutes"]].fillna(0.0).round(1).to_numpy()
    keys = zip(first["batch"][::_BURNS], first["candle"][::_BURNS], strict=True)
    kinds: dict[tuple, list[tuple]] = {}
    for key, own in zip(keys, weights.reshape(-1, 3 * _BURNS).tolist(), strict=True):
        kinds.setdefault(tuple(own), []).append(key)
    found: list[tuple] = []
    for alike in kinds.values():
        known: list[tuple] = []
        for key in alike:
            same = next((one for one in known if _look_alike(batches, one, key)), None)
            known, found = (
                ([*known, key], found) if same is None else (known, [*found, (same, key)])
            )
    return found


def _look_alike(batches: Sequence[Batch], *keys: tuple) -> bool:
    """Whether two candles of two batches weighed and looked the same nearly everywhere."""
    if keys[0][0] == keys[1][0]:
        return False
    weights, readings = [], []
    for n, candle in keys:
        tables = batches[n].burns, batches[n].checks
        burns, checks = (table[table["candle"] == candle] for table in tables)
        weights.append(burns.set_index("burn")[["mass_before_g", "mass_after_g"]].fillna(0.0))
        readings.append(checks.set_index(["burn", "elapsed_min"])[[*_SEEN]])
    return _same(weights, 2 * _BURNS) and _same(readings, _READINGS)


def _same(tables: list[pd.DataFrame], at_least: int) -> bool:
    a, b = (table[~table.index.duplicated()].astype(float) for table in tables)
    a, b = a.align(b, join="inner", axis=0)
    known = (a.notna() & b.notna()).to_numpy()
    same = (a - b).abs().to_numpy() < 0.05
    return bool(known.sum() >= at_least and same[known].mean() >= _ALIKE)


def set_aside_repeats(batches: Sequence[Batch]) -> list[Batch]:
    """The batches, with candles that one of the others has as well marked as set aside in them.

    Nothing is deleted: what failed in a copy counts all the same. A batch without any is handed
    back as it is.
    """
    found = repeats(batches)
    marked = list(batches)
    for n, own in found.groupby("batch"):
        known = batches[n].exclusions
        again = known["reason"].str.startswith(SAME_CANDLE)
        own = own[~own["candle"].isin(known.loc[again, "candle"])]
        if own.empty:
            continue
        rows = pd.DataFrame({"candle": own["candle"], "burn": np.nan})
        names = zip(own["of_batch"], own["of_candle"], strict=True)
        rows["reason"] = [
            f"{SAME_CANDLE} {name} in {of_folder(batches[m].folder.resolve().name)}"
            for m, name in names
        ]
        more = rows.astype(known.dtypes.to_dict())
        marked[n] = replace(batches[n], exclusions=pd.concat([known, more], ignore_index=True))
    return marked

"""The burns of a log by candle and number, each beside the one before: what the rules look at."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs.csv_table import ReadTable
from candlelab.logs.names import MOST_HINTS
from candlelab.text import closest

_MOST_BURNS = 100_000
_HOUR = pd.Timedelta("1h")
_COLUMNS = {
    "burn": "burn", "lit": "lit_at", "out": "out_at", "start": "mass_before_g",
    "end": "mass_after_g", "ended_by": "ended_by", "room": "room_c", "wick": "wick_length_mm",
}  # fmt: skip


def burn_places(burns: pd.DataFrame, table: pd.DataFrame, burn_column: str = "burn") -> np.ndarray:
    """For each row of ``table`` the place of its burn in ``burns``, -1 where there is none."""
    names = pd.Index(burns["candle"].unique())

    def code(frame, number):
        candle = names.get_indexer(frame["candle"])
        number = frame[number].to_numpy(dtype=float)
        usable = (candle >= 0) & (number >= 0) & (number < _MOST_BURNS)
        number = np.where(usable, number, 0).astype(np.int64)
        return np.where(usable, candle * _MOST_BURNS + number, -1)

    keys = code(burns, "burn")
    order = np.argsort(keys, kind="stable")
    wanted = code(table, burn_column)
    at = np.minimum(np.searchsorted(keys[order], wanted), max(len(order) - 1, 0))
    if not len(order):
        return np.full(len(table), -1)
    return np.where((keys[order][at] == wanted) & (wanted >= 0), order[at], -1)


_WAX = (
    "level", "topped up", "top up", "wax added", "wax taken", "wax removed", "took wax", "scooped",
    "poured off",
)  # fmt: skip
_LID = ("with lid", "with a lid", "with its lid", "with the lid", "lid on")
_NOBODY = ("not logged", "nobody logged", "unlogged")


def tells_of_wax(notes: pd.Series) -> pd.Series:
    """Notes that say why a weight is another than after the burn before."""
    return _tells(notes, (*_WAX, *_LID))


def tells_of_a_lid(notes: pd.Series) -> pd.Series:
    """Notes that say that the candle was weighed with its lid."""
    return _tells(notes, _LID)


def tells_of_a_burn(notes: pd.Series) -> pd.Series:
    """Notes that say that a burn before was not logged."""
    return _tells(notes, _NOBODY)


def _tells(notes: pd.Series, words: tuple[str, ...]) -> pd.Series:
    return notes.str.contains("|".join(words), case=False)


def burn_column(table: ReadTable) -> str:
    """The column that names the burn to which a row of the table belongs."""
    return "before_burn" if table.spec.name == "wick_changes" else "burn"


def doubted_candles(table: ReadTable, candles: ReadTable | None) -> set[str]:
    """Candles with a row that another problem covers: a number missing or twice, a misspelt name.

    All candles, if a row has no name or a great many names are unknown.
    """
    names = table.frame["candle"]
    given = set(names.unique())
    known = given if candles is None else set(candles.frame["candle"])
    unknown = given - known
    if "" in unknown or set(names[table.muted]) & unknown or len(unknown) > MOST_HINTS:
        return given | known
    meant = {near for name in unknown if (near := closest(name, known))}
    return set(names[table.unsure]) | unknown | meant


def burn_log(
    burns: ReadTable, changes: ReadTable | None, candles: ReadTable | None, doubted: set[str]
) -> pd.DataFrame:
    """The burns by candle and number, beside each what the burn before it (``*_before``) left.

    ``place`` is the row in the table. ``lit``, ``out`` and ``hours`` are missing where the times
    cannot be right; ``next`` is the number in the row below, ``due`` the one that should follow.
    """
    frame = burns.frame
    code = pd.factorize(frame["candle"])[0]
    place = np.lexsort((frame["burn"].to_numpy(dtype=float), code))
    burn = frame.iloc[place]
    log = pd.DataFrame({name: burn[column].array for name, column in _COLUMNS.items()})
    log.insert(0, "candle", burn["candle"].to_numpy(dtype=object))
    log["place"], log["code"] = place, code[place]
    log["doubted"] = log["candle"].isin(doubted)
    log["twice"] = log["candle"].isin(set(frame["candle"][burns.unsure]))
    changed = np.zeros(len(frame), dtype=bool)
    if changes is not None:
        at = burn_places(frame, changes.frame, "before_burn")
        changed[at[at >= 0]] = True
    log["new_wick"] = changed[place]
    log["said"] = tells_of_wax(burn["note"]).array
    log["unlogged"] = tells_of_a_burn(burn["note"]).array
    log = _looked_back(_measured(log, burns.offsets[place]))
    for name in ("fill_mass_g", "wick_count"):
        of_candle = pd.Series(dtype=float)
        if candles:
            of_candle = candles.frame.drop_duplicates("candle").set_index("candle")[name]
        log[name] = log["candle"].map(of_candle).astype(float)
    return log


def _measured(log: pd.DataFrame, offsets: np.ndarray) -> pd.DataFrame:
    """With what each burn used, its length and rate, and what its candle has used so far."""
    used = log["start"] - log["end"]
    raw_hours = (log["out"] - log["lit"]) / _HOUR
    clock_changed = (utc_offset(log["lit"]) != utc_offset(log["out"])) & ~offsets
    hours = raw_hours.where((raw_hours > 0) & (raw_hours <= 24) & ~clock_changed)
    return log.assign(
        used=used,
        total=used.clip(lower=0).fillna(0).groupby(log["code"]).cumsum(),
        all_used=used.clip(lower=0).fillna(0).groupby(log["code"]).transform("sum"),
        raw_hours=raw_hours,
        clock_changed=clock_changed,
        hours=hours,
        rate=used / hours,
        trusted_lit=log["lit"].where(hours.notna()),
        trusted_out=log["out"].where(hours.notna()),
    )


def _looked_back(log: pd.DataFrame) -> pd.DataFrame:
    """With what the burn before of the same candle says of each."""
    same = (log["code"] == log["code"].shift()) & (log["candle"] != "")
    carried = ("burn", "end", "trusted_lit", "trusted_out")
    log = log.assign(**{f"{name}_before": log[name].shift().where(same) for name in carried})
    told_before = log["said"].shift(fill_value=False) & same
    return log.assign(
        first=~same,
        next=log["burn"].shift(-1),
        due=log["burn_before"].fillna(0) + 1,
        rest=(log["trusted_lit"] - log["trusted_out_before"]) / _HOUR,
        known_change=log["new_wick"] | log["said"] | told_before | log["unlogged"],
    )


def utc_offset(times: pd.Series) -> pd.Series:
    """The zone's distance from UTC at each time; zero where there is no time."""
    utc = times.dt.tz_convert("UTC").dt.tz_localize(None)
    return (times.dt.tz_localize(None) - utc).fillna(pd.Timedelta(0))

"""The burns of a log by candle and number, each beside the one before: what the rules look at."""

from __future__ import annotations

import re
from collections.abc import Iterable, Set
from typing import Any

import numpy as np
import pandas as pd

from candlelab.logs.groups import asked_once, begins
from candlelab.logs.names import MOST_HINTS
from candlelab.logs.read_table import ReadTable
from candlelab.text import closest

# Columns by name, each an array with one value for each burn, candle by candle.
Log = dict[str, Any]

_MOST_BURNS = 100_000
_HOUR = np.timedelta64(1, "h")
_NUMBERS = {
    "burn": "burn", "start": "mass_before_g", "end": "mass_after_g", "room": "room_c",
    "wick": "wick_length_mm",
}  # fmt: skip
_NO_TIME = np.datetime64("NaT", "us")
_CARRIED: dict[str, Any] = {
    "burn": np.nan,
    "end": np.nan,
    "trusted_lit": _NO_TIME,
    "trusted_out": _NO_TIME,
}


def burn_places(burns, table, burn_column: str = "burn") -> np.ndarray:
    """For each row of ``table`` the place of its burn in ``burns``, -1 where there is none.

    Both are tables, or the columns of a table by name.
    """
    names = {name: n for n, name in enumerate(dict.fromkeys(burns["candle"].tolist()))}

    def code(frame, number):
        candle = np.array([names.get(name, -1) for name in frame["candle"].tolist()], dtype=int)
        number = np.asarray(frame[number], dtype=float)
        usable = (candle >= 0) & (number >= 0) & (number < _MOST_BURNS)
        number = np.where(usable, number, 0).astype(np.int64)
        return np.where(usable, candle * _MOST_BURNS + number, -1)

    keys = code(burns, "burn")
    order = np.argsort(keys, kind="stable")
    wanted = code(table, burn_column)
    at = np.minimum(np.searchsorted(keys[order], wanted), max(len(order) - 1, 0))
    if not len(order):
        return np.full(len(wanted), -1)
    known = (keys[order][at] == wanted) & (wanted >= 0)
    return np.where(known, order[at], -1).astype(np.int32)


_WAX = (
    "level", "topped up", "top up", "wax added", "wax taken", "wax removed", "took wax", "scooped",
    "poured off",
)  # fmt: skip
_LID = ("with lid", "with a lid", "with its lid", "with the lid", "lid on")
_NOBODY = ("not logged", "nobody logged", "unlogged")
_OF_WAX, _OF_A_LID, _OF_A_BURN = (
    re.compile("|".join(words), re.IGNORECASE) for words in ((*_WAX, *_LID), _LID, _NOBODY)
)


def tells_of_wax(notes: pd.Series) -> pd.Series:
    """Notes that say why a weight is another than after the burn before."""
    return _tells(notes, _OF_WAX)


def tells_of_a_lid(notes: pd.Series) -> pd.Series:
    """Notes that say that the candle was weighed with its lid."""
    return _tells(notes, _OF_A_LID)


def tells_of_a_burn(notes: pd.Series) -> pd.Series:
    """Notes that say that a burn before was not logged."""
    return _tells(notes, _OF_A_BURN)


def _tells(notes: pd.Series, said: re.Pattern[str]) -> pd.Series:
    return pd.Series(asked_once(notes, said.search), index=notes.index)


def burn_column(table: ReadTable) -> str:
    """The column that names the burn to which a row of the table belongs."""
    return "before_burn" if table.spec.name == "wick_changes" else "burn"


def doubted_candles(table: ReadTable, candles: ReadTable | None) -> set[str]:
    """Candles with a row that another problem covers: a number missing or twice, a misspelt name.

    All candles, if a row has no name or a great many names are unknown.
    """
    names = np.asarray(table.columns["candle"])
    given = set(names)
    known = given if candles is None else set(candles.texts("candle"))
    unknown = given - known
    if "" in unknown or set(names[table.muted]) & unknown or len(unknown) > MOST_HINTS:
        return given | known
    meant = {near for name in unknown if (near := closest(name, known))}
    return set(names[table.unsure]) | unknown | meant


def first_of_candle(table: ReadTable, column: str) -> dict[str, Any]:
    """The value in the first row of each candle."""
    rows = list(zip(table.texts("candle"), table.columns[column].tolist(), strict=True))
    return dict(reversed(rows))


def burn_log(
    burns: ReadTable, changed: np.ndarray, candles: ReadTable | None, doubted: set[str]
) -> Log:
    """The burns by candle and number, beside each what the burn before it (``*_before``) left.

    ``place`` is the row in the table; ``changed`` are the rows before which a wick was changed.
    ``hours`` and the ``trusted`` times are missing where the times cannot be right; ``next`` is the
    number in the row below, ``due`` the one that should follow.
    """
    names, ended_by = (np.asarray(burns.columns[name]) for name in ("candle", "ended_by"))
    code, each = pd.factorize(names)
    place = np.lexsort((burns.numbers("burn"), code))
    code = code[place]
    log: Log = {"candle": names[place], "place": place, "code": code}
    log |= {name: burns.numbers(column)[place] for name, column in _NUMBERS.items()}
    log["ended_by"] = ended_by[place]
    log["doubted"] = among(each, doubted)[code]
    log["twice"] = among(each, set(names[burns.unsure]))[code]
    log["new_wick"] = np.zeros(len(names), dtype=bool)
    log["new_wick"][np.isin(place, changed)] = True
    log["said"] = asked_once(burns.columns["note"], _OF_WAX.search)[place]
    log["unlogged"] = asked_once(burns.columns["note"], _OF_A_BURN.search)[place]
    log |= _times(burns, place)
    log |= _measured(log)
    log |= _looked_back(log)
    for name in ("fill_mass_g", "wick_count"):
        known = first_of_candle(candles, name) if candles else {}
        log[name] = np.array([known.get(one, np.nan) for one in each], dtype=float)[code]
    return log


def among(names: Iterable[str], wanted: Set[str]) -> np.ndarray:
    """Which of the names are wanted."""
    return np.array([name in wanted for name in names], dtype=bool)


def _times(burns: ReadTable, place: np.ndarray) -> Log:
    """When each burn began and ended, in UTC, and its length; ``clock`` is what the clock said."""
    lit, out = (utc(burns.columns[name])[place] for name in ("lit_at", "out_at"))
    raw_hours = (out - lit) / _HOUR
    clock_changed = over_a_clock_change(burns)[place]
    right = (raw_hours > 0) & (raw_hours <= 24) & ~clock_changed
    clock = np.asarray(burns.columns["lit_at"].tz_localize(None))[place]
    trusted = {"trusted_lit": lit, "trusted_out": out, "clock": clock}
    return {
        "lit": lit,
        "out": out,
        "raw_hours": raw_hours,
        "clock_changed": clock_changed,
        "hours": np.where(right, raw_hours, np.nan),
        **{name: np.where(right, times, _NO_TIME) for name, times in trusted.items()},
    }


def _measured(log: Log) -> Log:
    """What each burn used, its rate, and what its candle has used so far."""
    used, code = log["start"] - log["end"], log["code"]
    total = pd.Series(np.where(used > 0, used, 0.0)).groupby(code).cumsum().to_numpy()
    last = np.append(begins(code)[1:], len(code)) - 1  # of each candle
    return {
        "used": used,
        "total": total,
        "all_used": total[last][code],
        "rate": used / log["hours"],
    }


def _looked_back(log: Log) -> Log:
    """What the burn before of the same candle says of each."""
    same = np.append(False, np.diff(log["code"]) == 0) & (log["candle"] != "")
    before = {
        f"{name}_before": np.where(same, np.roll(log[name], 1), missing)
        for name, missing in _CARRIED.items()
    }
    told_before = np.roll(log["said"], 1) & same
    return before | {
        "first": ~same,
        "next": np.append(log["burn"][1:], np.nan),
        "due": np.nan_to_num(before["burn_before"]) + 1,
        "rest": (log["trusted_lit"] - before["trusted_out_before"]) / _HOUR,
        "known_change": log["new_wick"] | log["said"] | told_before | log["unlogged"],
    }


def in_rows(log: Log, name: str) -> np.ndarray:
    """A column of the log in the order of the rows of its table."""
    values = np.empty_like(log[name])
    values[log["place"]] = log[name]
    return values


def over_a_clock_change(burns: ReadTable) -> np.ndarray:
    """Burns between whose times the clocks changed, where they are without an offset from UTC."""
    lit, out = (_offset(burns.columns[name]) for name in ("lit_at", "out_at"))
    return (lit != out) & ~np.isnat(lit) & ~np.isnat(out) & ~burns.offsets


def _offset(times: pd.DatetimeIndex) -> np.ndarray:
    """The zone's distance from UTC at each time."""
    return np.asarray(times.tz_localize(None)) - utc(times)


def utc(times: pd.DatetimeIndex) -> np.ndarray:
    """Times with a zone as they are in UTC."""
    return np.asarray(times, dtype="datetime64[us]")

"""What a reader sees, where the settings do not say: the log's own units, and the digits in it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np

from candlelab.logs.settings import Instruments, Settings
from candlelab.units import UNITS, Display, convert, normalise_header, split_unit

_OF_SYSTEM = {
    "us": {"mass": "oz", "length": "in", "temperature": "F"},
    "si": {"mass": "g", "length": "mm", "temperature": "C"},
}
_SYSTEM = {
    "g": "si", "kg": "si", "mm": "si", "cm": "si", "m": "si", "c": "si",
    "oz": "us", "lb": "us", "in": "us", "ft": "us", "f": "us", "floz": "us",
}  # fmt: skip
_KEYS = {unit.symbol: key for key, unit in UNITS.items()}
# The most decimals that are shown, however fine a log is: common practice, no source.
_MOST = {"g": 2, "oz": 3, "mm": 1, "in": 2, "c": 1, "f": 1}
_READINGS = {
    "g": ("burns mass_before_g", "burns mass_after_g"),
    "mm": (
        "checks flame_height_mm",
        "checks pool_diameter_mm",
        "checks pool_depth_mm",
        "checks mushroom_mm",
        "burns wick_length_mm",
    ),
    "c": ("checks wall_c", "burns room_c"),
}


def as_written(settings: Settings, data: dict) -> Settings:
    """The settings with the display of a file that has no log: the units of its own keys."""
    display = _resolved(settings.display, _keys(data), settings.slash_dates)
    to = display.symbol("g")
    decimals = ((to, _of_scale(settings.instruments, _KEYS[to])),)
    return replace(settings, display=replace(display, decimals=decimals))


def _keys(data: dict) -> list[str]:
    """The unit of every key of a settings file that has one, but for the targets."""
    units = []
    for key, value in data.items():
        if isinstance(value, dict) and key != "targets":
            units += _keys(value)
        elif isinstance(value, list):
            units += [unit for one in value if isinstance(one, dict) for unit in _keys(one)]
        else:
            units += filter(None, [split_unit(normalise_header(str(key)))[1]])
    return units


def _resolved(choice: Display, units: Iterable[str], slash_dates: str) -> Display:
    """A display with nothing left open: by the choice, else as most units of a kind are."""
    by_kind: dict[str, Counter] = {}
    for unit in units:
        if unit in _SYSTEM:
            kind = {"volume": "mass"}.get(UNITS[unit].dimension, UNITS[unit].dimension)
            by_kind.setdefault(kind, Counter())[_SYSTEM[unit]] += 1
    usual = _most(sum(by_kind.values(), Counter()))
    own: dict[str, Any] = {}
    for kind in _OF_SYSTEM["si"]:
        system = choice.units or _most(by_kind.get(kind, Counter())) or usual or "si"
        own[kind] = getattr(choice, kind) or _OF_SYSTEM[system][kind]
    paper = choice.paper or ("Letter" if own["mass"] == "oz" else "A4")
    month_first = slash_dates == "month/day/year"
    dates = choice.dates or ("month day year" if month_first else "day month year")
    return replace(choice, paper=paper, dates=dates, **own)


def _most(systems: Counter) -> str:
    return max(systems, key=systems.__getitem__, default="")


def as_logged(settings: Settings, tables: dict) -> Settings:
    """The settings with the display of the log: its units where none is chosen, and its digits.

    Parameters
    ----------
    settings : Settings
        What ``batch.toml`` says.
    tables : dict
        The typed tables, by their names.
    """
    found = {(name, c): match for name, t in tables.items() for c, match in t.found.items()}
    units = [match.unit for match in found.values() if match.unit]
    display = _resolved(settings.display, units, settings.slash_dates)
    decimals = {}
    for own, columns in _READINGS.items():
        to = _KEYS[display.symbol(UNITS[own].symbol)]
        seen = [
            _decimals(tables[name].numbers(c), own, found[name, c].unit, to)
            for name, c in (column.split() for column in columns)
            if (name, c) in found
        ]
        if own == "g" and settings.instruments != Instruments():
            seen = [_of_scale(settings.instruments, to)]
        known = [n for n in seen if n is not None]
        if known:
            decimals[UNITS[to].symbol] = max(known)
    return replace(settings, display=replace(display, decimals=tuple(decimals.items())))


def _of_scale(tools: Instruments, to: str) -> int:
    return _decimals(np.array([tools.scale_resolution_g]), "g", "g", to) or 0


def _decimals(values: np.ndarray, own: str, logged: str | None, to: str) -> int | None:
    """Decimals in the reader's unit that tell apart what the log tells apart; None of nothing."""
    values = values[np.isfinite(values)]
    if not len(values):
        return None
    logged = logged or own
    shown = _exact(convert(values, own, to), _MOST[to])
    if shown is not None or logged == to:
        return _MOST[to] if shown is None else shown
    if (fine := _exact(convert(values, own, logged), 6)) is None:
        return _MOST[to]
    step = 10.0**-fine * UNITS[logged].factor / UNITS[to].factor
    return min(max(0, math.ceil(-math.log10(step) - 1e-9)), _MOST[to])


def _exact(values: np.ndarray, most: int) -> int | None:
    """The fewest decimals that lose nothing of any value; None when ``most`` are not enough."""
    for n in range(most + 1):
        scaled = values * 10.0**n
        if (np.abs(scaled - np.rint(scaled)) <= 0.01 * np.minimum(1.0, np.abs(scaled))).all():
            return n
    return None

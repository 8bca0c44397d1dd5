"""What stops a burn: each limit in the reader's units, and what to do when a reading passes it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.judge.criteria import CHECK, criteria_of
from candlelab.logs.journal import Entry, column_of
from candlelab.logs.settings import Settings
from candlelab.units import Display, convert, split_unit

# Put it out and do not light it again; put it out; it has failed; look again.
STOP, ASK, FAIL, CAUTION = "stop", "ask", "fail", "caution"
_OUT = "Put it out now, with a lid."
# What has happened when a reading passes its limit, and what to do at once.
_SAYS = {
    "flame_height_mm": ("The flame is over {limit}.", _OUT),
    "wall_c": ("The wall is over your stop limit of {limit}.", f"{_OUT} Do not move the vessel."),
    "soot": ("It gives off steady black smoke.", f"{_OUT} Then air the room."),
    "secondary_ignition_s": ("Something other than the wick burned.", f"{_OUT} Never use water."),
    "reignited": ("It lit again by itself.", "Keep the lid on until it is cold."),
    "vessel_damaged": ("The vessel is damaged.", f"{_OUT} Keep clear of the hot wax."),
    "surface_damaged": ("The surface under it is damaged.", _OUT),
    "tipped": ("It tipped over.", f"{_OUT} Keep clear of the hot wax."),
    "flame_on_vessel": ("The flame touches the vessel.", _OUT),
}
_SOFTER = {
    ("pool_depth_mm", FAIL): (
        "The melt pool is deeper than your limit of {limit}.",
        "This candle has failed. It may burn on if nothing else is wrong.",
    ),
    ("wall_c", CAUTION): (
        "The wall is over your caution of {limit}.",
        "Look again within a few minutes.",
    ),
}


@dataclass(frozen=True)
class Limit:
    """A reading of ``column`` above ``limit``, in the glossary's unit, has this ``level``."""

    column: str
    limit: float
    level: str
    happened: str
    do: str


def limits_of(settings: Settings) -> list[Limit]:
    """What is looked for at every check; the strictest limit of each column and level."""
    found: dict[tuple[str, str], Limit] = {}
    for c in criteria_of(settings):
        level = CAUTION if not c.decides else STOP if c.incident else FAIL
        words = _SOFTER.get((c.column, level)) or _SAYS.get(c.column)
        before = found.get((c.column, level))
        if c.level == CHECK and words and (before is None or c.limit < before.limit):
            happened = words[0].format(limit=_said(c.limit, c.unit, settings.display))
            found[(c.column, level)] = Limit(c.column, c.limit, level, happened, words[1])
    words = _SAYS["secondary_ignition_s"]
    return [*found.values(), Limit("secondary_ignition_s", 0.0, ASK, *words)]


def _said(limit: float, unit: str, display: Display) -> str:
    """A limit in the units of both systems: ``65 °C (149 °F)``, ``3 in (76.2 mm)``."""
    both = unit in ("°C", "mm")
    return display.both(limit, unit) if both else display.amount(limit, unit)


def stop_words(settings: Settings) -> str:
    """When a candle is put out at once, for the strip beside the flames."""
    by = {(one.column, one.level): one for one in limits_of(settings)}
    flame, wall = by["flame_height_mm", STOP], by["wall_c", STOP]
    show = settings.display
    return (
        f"Put out at once: flame over {show.both(flame.limit, 'mm')}, wall over "
        f"{show.both(wall.limit, '°C')}, flame on the vessel, anything but the wick on fire, "
        "steady black smoke, a vessel that cracks or tips."
    )


def passed(entry: Entry, limits: list[Limit]) -> list[Limit]:
    """The limits that a check passes."""
    return [one for one in limits if _over(_value(entry, one.column), one.limit)]


def passed_in(checks: pd.DataFrame, limits: list[Limit]) -> pd.DataFrame:
    """Candle, burn, minute and limit of every reading in a table that is over a ``stop`` limit."""
    rows = []
    for one in (limit for limit in limits if limit.level == STOP):
        values = checks[one.column].to_numpy(dtype=float, na_value=np.nan)
        at = np.flatnonzero(np.nan_to_num(values, nan=-np.inf) > one.limit + 1e-9)
        part = checks.iloc[at]
        places = zip(part["candle"], part["burn"], part["elapsed_min"], strict=True)
        rows += [(*place, one.happened) for place in places]
    return pd.DataFrame(rows, columns=["candle", "burn", "elapsed_min", "happened"])


def _over(value: float | None, limit: float) -> bool:
    return value is not None and value > limit + 1e-9


def _value(entry: Entry, column: str) -> float | None:
    """A reading in the glossary's unit; None where there is none."""
    for name, text in entry.values.items():
        meant = column_of(entry.table, name)
        if meant is None or meant[0].name != column:
            continue
        own, unit = split_unit(column)[1], meant[1]
        if meant[0].kind == "flag":
            return {"yes": 1.0, "no": 0.0}.get(text)
        try:
            number = float(text)
        except ValueError:
            return None
        return convert(number, unit, own) if unit and own else number
    return None

"""Units of columns: a name ends in its unit, and any unit of its dimension can be converted.

Inside, everything is g, mm, degC and h. `Display` is the edge: what a reader sees of it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from candlelab.days import day_words
from candlelab.text import NONE, rounded


@dataclass(frozen=True)
class Unit:
    """One unit: ``canonical value = (value + offset) * factor`` within its dimension."""

    symbol: str
    dimension: str
    factor: float
    offset: float = 0.0


# Exact by definition (NIST SP 811, appendix B; ISO 1144 for tex).
UNITS = {
    "g": Unit("g", "mass", 1.0),
    "kg": Unit("kg", "mass", 1000.0),
    "oz": Unit("oz", "mass", 28.349523125),
    "lb": Unit("lb", "mass", 453.59237),
    "mm": Unit("mm", "length", 1.0),
    "cm": Unit("cm", "length", 10.0),
    "m": Unit("m", "length", 1000.0),
    "in": Unit("in", "length", 25.4),
    "ft": Unit("ft", "length", 304.8),
    "c": Unit("°C", "temperature", 1.0),
    "f": Unit("°F", "temperature", 5.0 / 9.0, -32.0),
    "h": Unit("h", "time", 1.0),
    "min": Unit("min", "time", 1.0 / 60.0),
    "s": Unit("s", "time", 1.0 / 3600.0),
    "days": Unit("days", "time", 24.0),
    "pct": Unit("%", "share", 1.0),
    "tex": Unit("tex", "linear density", 1.0),
    "w": Unit("W", "power", 1.0),
    "g_per_h": Unit("g/h", "rate", 1.0),
    "oz_per_h": Unit("oz/h", "rate", 28.349523125),
    "ml": Unit("ml", "volume", 1.0),
    "floz": Unit("fl oz", "volume", 29.5735295625),
    "g_per_ml": Unit("g/ml", "density", 1.0),
    "kj_per_g": Unit("kJ/g", "heat of combustion", 1.0),
}
_SUFFIXES = sorted(UNITS, key=len, reverse=True)
_SPELLINGS = {
    "gram": "g", "grams": "g", "ounce": "oz", "ounces": "oz", "pound": "lb", "pounds": "lb",
    "lbs": "lb", "inch": "in", "inches": "in", "degc": "c", "degf": "f", "celsius": "c",
    "fahrenheit": "f", "hour": "h", "hours": "h", "hr": "h", "hrs": "h", "minute": "min",
    "minutes": "min", "mins": "min", "sec": "s", "secs": "s", "second": "s", "seconds": "s",
    "day": "days", "d": "days", "percent": "pct",
}  # fmt: skip


@lru_cache(1024)
def split_unit(name: str) -> tuple[str, str | None]:
    """Split ``mass_before_oz`` into ``("mass_before", "oz")``; None where there is no unit."""
    for suffix in _SUFFIXES:
        if name.endswith("_" + suffix):
            return name[: -len(suffix) - 1], suffix
    return name, None


def unit_symbol(name: str) -> str:
    """Symbol of the unit in a column's name, or an empty string."""
    unit = split_unit(name)[1]
    return UNITS[unit].symbol if unit else ""


def convert(values, from_unit: str, to_unit: str):
    """Convert numbers or arrays between two units of one dimension (factors: NIST SP 811).

    Raises
    ------
    ValueError
        When the dimensions differ.
    """
    source, target = UNITS[from_unit], UNITS[to_unit]
    if source.dimension != target.dimension:
        raise ValueError(
            f"{source.symbol} is a {source.dimension}, {target.symbol} a {target.dimension}"
        )
    if from_unit == to_unit:
        return values
    return (values + source.offset) * source.factor / target.factor - target.offset


def normalise_header(text: str) -> str:
    """Bring a header cell to the house spelling: ``Mass before [oz]`` to ``mass_before_oz``."""
    name = text.strip().lower().replace("°", "deg").replace("%", "pct")
    name = re.sub(r"[^\w]+", "_", name).strip("_")
    stem, _, last = name.rpartition("_")
    return f"{stem}_{_SPELLINGS[last]}" if stem and last in _SPELLINGS else name


# The same in the units of the other system, and whose choice it follows.
_CUSTOMARY = {
    "g": "oz", "kg": "lb", "ml": "fl oz", "g/h": "oz/h", "mm": "in", "cm": "in", "m": "ft",
    "°C": "°F",
}  # fmt: skip
_CHOICE = {"mm": "length", "cm": "length", "m": "length", "°C": "temperature"}
_CUSTOMARY_CHOICES = {"mass": "oz", "length": "in", "temperature": "F"}
_KEYS = {unit.symbol: key for key, unit in UNITS.items()}
_OF_MEAN = {"g/h": 2, "h": 2, "oz/h": 3, "oz": 2, "lb": 2, "in": 2}
# Decimals of a limit or a setting, as somebody would write it; zeros at the end go.
_WRITTEN = {
    "g": 3,
    "oz": 3,
    "ml": 1,
    "fl oz": 1,
    "mm": 2,
    "in": 2,
    "°C": 1,
    "°F": 1,
    "g/h": 2,
    "oz/h": 3,
}


@dataclass(frozen=True)
class DisplayChoice:
    """What ``[display]`` asks for; an empty one follows ``units``, or else the log's own units."""

    units: str = ""
    mass: str = ""
    length: str = ""
    temperature: str = ""
    paper: str = ""
    dates: str = ""
    date_language: str = ""


@dataclass(frozen=True)
class Display(DisplayChoice):
    """How a reader sees quantities and days: the only place that turns a number into text.

    ``decimals`` are those that the instruments show, by the symbol of the reader's unit; a quantity
    without has those of `candlelab.text.rounded`. Units are given and asked for by their symbols,
    as `Column.unit` has them ("g/h"). A ``span`` is a difference of two values, which for
    temperatures is not converted as a temperature.
    """

    decimals: tuple[tuple[str, int], ...] = ()

    def symbol(self, unit: str) -> str:
        """The reader's unit for one of ours."""
        choice = _CHOICE.get(unit, "mass")
        customary = getattr(self, choice) == _CUSTOMARY_CHOICES[choice]
        return _CUSTOMARY.get(unit, unit) if customary else unit

    def value(self, value, unit: str, *, span: bool = False):
        """A number or an array in the reader's unit."""
        to = self.symbol(unit)
        if to == unit:
            return value
        if span:
            return value * UNITS[_KEYS[unit]].factor / UNITS[_KEYS[to]].factor
        return convert(value, _KEYS[unit], _KEYS[to])

    def number(self, value: float, unit: str, *, mean: bool = False, span: bool = False) -> str:
        """A reading as the instrument shows it, or the ``mean`` of some with what it is worth.

        A mean has one decimal more than a reading where that has none, so that a small difference
        and the ends of its interval are told from zero.
        """
        to = self.symbol(unit)
        digits = _OF_MEAN.get(to, 1) if mean else dict(self.decimals).get(to)
        return rounded(self.value(value, unit, span=span), to, digits)

    def amount(self, value: float, unit: str, *, mean: bool = False, span: bool = False) -> str:
        """A number with its unit: "5.72 g/h", "0.202 oz/h"."""
        text, to = self.number(value, unit, mean=mean, span=span), self.symbol(unit)
        return text if text == NONE or not to else f"{text} {to}"

    def bare(self, value: float, unit: str) -> str:
        """A limit, a target or a setting without its unit, as somebody would write it: "6.35"."""
        to = self.symbol(unit)
        number = float(self.value(value, unit))
        text = f"{number:.{_WRITTEN.get(to, 4)}f}".rstrip("0").rstrip(".")
        return text if float(text or 0) or not number else f"{number:.2g}"

    def written(self, value: float, unit: str) -> str:
        """A limit, a target or a setting with its unit: "13 mm", "150 °F"."""
        return f"{self.bare(value, unit)} {self.symbol(unit)}".strip()

    def both(self, value: float, unit: str) -> str:
        """A limit of safety in both systems, the reader's first: "65 °C (149 °F)"."""
        return f"{self.written(value, unit)} ({self.elsewhere(value, unit)})"

    def elsewhere(self, value: float, unit: str) -> str:
        """A value in the units of the other system."""
        to = _CUSTOMARY[unit]
        other = unit if self.symbol(unit) == to else to
        there = value if other == unit else convert(value, _KEYS[unit], _KEYS[to])
        return f"{there:.0f} {other}" if unit == "°C" else f"{there:.3g} {other}"

    def heading(self, column) -> str:
        """Label of a column with the reader's unit, for an axis or a table head."""
        unit = self.symbol(column.unit)
        return f"{column.label} ({unit})" if unit else column.label

    def day(self, day, *, weekday: bool = False, year: bool = True) -> str:
        """A day in a sentence: "21 September 2026", "September 21, 2026", "21. September 2026"."""
        return day_words(day, self.date_language, self.dates, weekday=weekday, year=year)


SI = Display()

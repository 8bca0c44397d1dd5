"""Units of columns: a name ends in its unit, and any unit of its dimension can be converted."""

from __future__ import annotations

import re
from dataclasses import dataclass


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

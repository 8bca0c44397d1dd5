"""A value of a table as text, in the reader's unit."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs.column import Column
from candlelab.pages.glossary import GLOSSARY, column
from candlelab.text import NONE, rounded
from candlelab.units import SI, Display

_CHANCES = {"p_value", "p_adjusted", "smallest_p"}
_SHARES = {"satisfaction", "probability_best"}
_SLOPES = {"slope", "slopes", "curvature", "ends"}
# Somebody wrote these numbers down, or would.
_WRITTEN = {"limit", "low", "high", "aim"}
# Sentences round these down: with one decimal the table would promise more than they do.
_PROMISED = {"bound_h"}


def format_value(
    name: str, value, *, display: Display = SI, table: str = "", unit: str = ""
) -> str:
    """One value of a column as text, in the reader's unit; a dash where there is none.

    Parameters
    ----------
    name : str
        Name of the column, which ends in its unit.
    value : object
        A number, a truth value, a moment, a text, or a missing one.
    display : Display
        The reader's units.
    table : str
        Name of the table that it stands in.
    unit : str
        Symbol of the unit of a column that follows what its row is about.
    """
    if value is None or value is pd.NA or value is pd.NaT or value == "":
        return NONE
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}" if name.endswith("_on") else f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, float | np.floating):
        return _number(name, float(value), display, table, unit)
    if name == "unit":
        return display.symbol(str(value))
    return display.heading(column(value)) if name == "target" else str(value)


def _number(name: str, value: float, display: Display, table: str, unit: str) -> str:
    if np.isinf(value):
        return "no end"
    if np.isnan(value):
        return NONE
    if name.endswith("_u_g_per_h"):
        return rounded(display.value(value, "g/h"), digits=3)
    if name in _CHANCES:
        return "under 0.001" if value < 0.001 else rounded(value, digits=3)
    if name == "probability_best" and not 0.005 <= value < 0.995:
        return "under 0.01" if value < 0.5 else "over 0.99"
    if name in _SHARES or name in _PROMISED:
        return rounded(value, digits=2)
    if name not in GLOSSARY or column(name).kind == "whole":
        return f"{value:z.4g}"
    own = column(name, table)
    if not own.follows:
        return display.number(value, own.unit, span=own.span)
    if name in _WRITTEN:
        return display.bare(value, unit)
    if table in _SLOPES:
        return f"{display.value(value, unit, span=True):z.2g}"
    if own.span and unit:
        return display.number(value, unit, mean=True, span=True)
    return rounded(display.value(value, unit), display.symbol(unit))


def units_of(table: pd.DataFrame, own: Column, metric: str) -> list[str]:
    """The unit of each row of a column, by its symbol."""
    if not own.follows:
        return [own.unit] * len(table)
    if "unit" in table:
        return list(table["unit"])
    about = next((table[key] for key in ("metric", "target") if key in table), None)
    names = [metric] * len(table) if about is None else list(about)
    return [GLOSSARY[name].unit if name in GLOSSARY else "" for name in names]

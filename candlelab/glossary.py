"""The glossary: every table and every column, with its unit, its plausible range and its meaning.

Axis labels, problem messages, the report's glossary and the table schemas all come from here, so a
quantity is named once. A quantity's name ends in its unit (``mass_before_g``); a log may use any
other unit of the same dimension (``mass_before_oz``) and is converted on reading. The columns
themselves are data, in ``columns/``.
"""

from __future__ import annotations

import re
from dataclasses import replace

from candlelab.columns import report, scent, steps
from candlelab.columns.column import Column, Table
from candlelab.columns.logs import PLANNED, TABLES, TARGET_QUANTITIES
from candlelab.columns.of_table import OWN

__all__ = [
    "GLOSSARY",
    "PLANNED",
    "TABLES",
    "TARGET_QUANTITIES",
    "Column",
    "Table",
    "column",
    "heading",
]
__all__ += ["in_words"]

# What a column means where its table says nothing of its own.
GLOSSARY = {c.name: c for table in reversed(TABLES.values()) for c in table.columns} | {
    c.name: c for c in (*report.COLUMNS, *steps.COLUMNS, *scent.COLUMNS)
}
# In the unit of the estimate beside them.
_OF_ESTIMATE = ("conf_low", "conf_high", "std_error")
_OF_TABLE = {(table.name, c.name): c for table in TABLES.values() for c in table.columns} | {
    (table, c.name): c for tables, *columns in OWN for table in tables.split() for c in columns
}


def column(name: str, table: str = "") -> Column:
    """The column as a table means it.

    Parameters
    ----------
    name : str
        Name of the column.
    table : str
        Name of a table of ``results.json`` or of a log. Without one, and where the table says
        nothing of its own, the column means what it means everywhere.

    Raises
    ------
    KeyError
        When no table has a column of that name.
    """
    found = _OF_TABLE.get((table, name)) or GLOSSARY[name]
    estimate = _OF_TABLE.get((table, "estimate"))
    if estimate is None or name not in _OF_ESTIMATE:
        return found
    span = estimate.span or name == "std_error"
    return replace(found, follows=estimate.follows, span=span)


def heading(name: str, table: str = "") -> str:
    """Label and unit of a column, for an axis or a table head.

    Parameters
    ----------
    name : str
        Name of the column.
    table : str
        Table that it stands in, where one name means different things in different tables.

    Returns
    -------
    str
        Such as ``burn rate (g/h)``; KeyError for a column that nobody described.
    """
    return column(name, table).heading


def in_words(text: str) -> str:
    """A sentence in which the names of columns are turned into their labels.

    Parameters
    ----------
    text : str
        The sentence.

    Returns
    -------
    str
        The same sentence for a reader.
    """
    return re.sub(
        r"\b[a-z]+(?:_[a-z0-9]+)+\b",
        lambda m: GLOSSARY[m[0]].label if m[0] in GLOSSARY else m[0],
        text,
    )

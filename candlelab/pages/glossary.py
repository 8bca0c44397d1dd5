"""The glossary: every column of a log or of a result, with its unit, its range and its meaning.

Axis labels, table heads and the schemas of a pack come from here, so that a quantity is named once.
Columns of logs are data of ``logs/columns``, those of results of the ``columns_*`` beside this.
"""

from __future__ import annotations

import re
from dataclasses import replace

from candlelab.logs.column import Column
from candlelab.logs.columns import LOGGED, TABLES, TARGETS
from candlelab.pages import columns_report, columns_scent, columns_steps
from candlelab.pages.columns_of_table import OWN

# What a column means where its table says nothing of its own.
GLOSSARY = (
    LOGGED
    | TARGETS
    | {c.name: c for c in (*columns_report.COLUMNS, *columns_steps.COLUMNS, *columns_scent.COLUMNS)}
)
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

"""Reads ``[columns]`` of ``batch.toml``: the studio's own headings, and what they stand for."""

from __future__ import annotations

from candlelab.logs.columns import TABLES
from candlelab.logs.moments_apart import PARTS
from candlelab.text import suggest
from candlelab.units import UNITS, split_unit


def read_columns(data, reader) -> dict[str, dict[str, str]]:
    """For each table the column that each heading stands for; an empty text for one not read.

    ``reader`` is the ``settings_reader.Reader`` of the file.
    """
    read: dict[str, dict[str, str]] = {}
    for table, headings in data.items() if isinstance(data, dict) else ():
        section = f"columns.{table}"
        if table not in TABLES:
            do = suggest(table, list(TABLES), "use the name of a table.")
            reader.fault(
                "unknown table", table, "columns", found=table, known=", ".join(TABLES), do=do
            )
            continue
        if not isinstance(headings, dict):
            texts = {
                "expected": f"a section [{section}]",
                "do": 'Write "Heading" = "column" in it.',
            }
            reader.fault("wrong type of value", table, "columns", found=headings, **texts)
            continue
        read[table] = {}
        for heading, name in headings.items():
            if not isinstance(name, str):
                texts = {"expected": "the name of a column in quotes", "do": "Put it in quotes."}
                reader.fault("wrong type of value", heading, section, found=name, **texts)
            elif name and not _is_column(table, name):
                known = [column.name for column in TABLES[table].columns]
                texts = {"known": ", ".join(known), "do": suggest(name, known, "use one of these.")}
                reader.fault("unknown column", heading, section, found=name, **texts)
            elif name and name in read[table].values():
                reader.fault(
                    "two settings for one quantity", heading, section, found=name, name=name
                )
            else:
                read[table][heading] = name
    return read


def _is_column(table: str, name: str) -> bool:
    """Whether a table has a column of that name, in its own unit or in another of its kind."""
    names = {column.name for column in TABLES[table].columns} | set(PARTS.get(table, ()))
    stem, unit = split_unit(name)
    own = next((u for s, u in map(split_unit, names) if s == stem), None)
    same = unit and own and UNITS[unit].dimension == UNITS[own].dimension
    return name in names or bool(same)

"""The table in a sheet: its row of headings, its rows, and what is neither.

Titles above the headings, comments and totals are left out.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from candlelab.logs.column import Table
from candlelab.logs.csv_text import Cells, Records
from candlelab.logs.faults import said
from candlelab.logs.header import Header
from candlelab.logs.headings import guess
from candlelab.logs.moments_apart import PARTS
from candlelab.logs.problems import InWorkbook, ProblemList
from candlelab.logs.sheet import MERGED, Sheet, letters
from candlelab.units import normalise_header

_SEARCHED = 40  # rows among which the headings are looked for
_TOTALS = {"total", "totals", "sum", "subtotal", "grand total", "average", "mean"}
_NONE = np.zeros(0, dtype=int)


def names_in(sheet: Sheet, spec: Table, headings: Mapping[str, str]) -> tuple[int, int]:
    """The row that most looks like the headings of a table, and how many columns it names."""
    known = Header(spec, _no_records(), ProblemList(), headings)
    free = {column.name for column in spec.columns}
    rows: dict[int, set] = {
        row: set() for row in sorted({row for row, _ in sheet.cells})[:_SEARCHED]
    }
    for (row, _), text in sheet.cells.items():
        if row in rows:
            rows[row].add(text)
    meant = {text: _meant(text, known, spec, free) for text in set().union(*rows.values())}
    counts = {row: len({meant[text] for text in texts} - {None}) for row, texts in rows.items()}
    best = max(counts, key=counts.__getitem__, default=0)
    return best, counts.get(best, 0)


def _meant(text: str, known: Header, spec: Table, free: set[str]) -> str | None:
    if len(text) > 80:
        return None
    column, _ = known.meaning(text)
    name = normalise_header(text)
    if column is None and name in PARTS.get(spec.name, ()):
        return name
    return column.name if column else guess(name, spec.name, free)


def _no_records() -> Records:
    return Records("", [], 0, 0, [], _NONE, _NONE, _NONE, {})


def records_of(
    sheet: Sheet, file: str, spec: Table, headings: Mapping[str, str], problems: ProblemList
) -> Records | None:
    """The rows below the headings of a sheet; None, with a problem, for one without a cell."""
    if not sheet.cells:
        if spec.required:
            problems.sheets[spec.file] = InWorkbook(file, sheet.name, {})
            problems.add(file=spec.file, **said("empty sheet"))
        return None
    head, _ = names_in(sheet, spec, headings)
    named = {column for row, column in sheet.cells if row == head}
    used = {column for row, column in sheet.cells if row >= head}
    columns = range(min(named), max(used) + 1)
    header = [sheet.cells.get((head, column), "") for column in columns]
    places: dict[str, str] = {}
    for column, text in zip(columns, header, strict=True):
        if text:
            places.setdefault(text, letters(column))
    problems.sheets[spec.file] = InWorkbook(file, sheet.name, places)
    below = {row for row, _ in sheet.cells if row > head} | {r for r, _ in sheet.odd if r > head}
    rows = [row for row in sorted(below) if not _is_aside(sheet, row, columns)]
    broken = _second_heading(sheet, rows, head, columns, header, Header(
        spec, _no_records(), problems, headings))  # fmt: skip
    numbers = np.array(rows, dtype=int)
    records = Records(
        "",
        header,
        head,
        head,
        [_cells(sheet, rows, column) for column in columns],
        numbers,
        numbers,
        np.full(len(rows), len(header)),
        broken,
        columns.start,
        _odd(sheet, rows, columns),
    )
    _tell_hidden(sheet, rows, spec, problems)
    return records


def _cells(sheet: Sheet, rows: list[int], column: int) -> Cells:
    """One column; a cell without a reading is empty."""
    texts = [
        "" if (row, column) in sheet.odd else sheet.cells.get((row, column), "") for row in rows
    ]
    codes, distinct = pd.factorize(np.array(texts, dtype=object))
    return Cells(codes, [str(text) for text in distinct])


def _is_aside(sheet: Sheet, row: int, columns: range) -> bool:
    """Whether a row is a comment or a total."""
    texts = [sheet.cells[row, column] for column in columns if (row, column) in sheet.cells]
    if not texts:
        return not any((row, column) in sheet.odd for column in columns)
    first = texts[0].casefold().rstrip(" :.")
    alone = len(texts) == 1 and (" " in first or first.endswith(":"))
    return first.startswith("#") or first in _TOTALS or alone


def _second_heading(
    sheet: Sheet, rows: list[int], head: int, columns: range, header: list[str], known: Header
) -> dict[int, tuple[str, str]]:
    """The row below the headings where it holds words alone, as a row of units does."""
    if not rows or rows[0] != head + 1:
        return {}
    texts = {c: sheet.cells[rows[0], c] for c in columns if (rows[0], c) in sheet.cells}
    kinds = {c: column.kind for c, text in zip(columns, header, strict=True)
             if (column := known.meaning(text)[0])}  # fmt: skip
    measured = [text for c, text in texts.items() if kinds.get(c) in ("number", "whole", "time")]
    if len(measured) < 2 or any(sign.isdigit() for text in texts.values() for sign in text):
        return {}
    return {0: ("second heading row", ", ".join(texts.values()))}


def _odd(sheet: Sheet, rows: list[int], columns: range) -> dict[tuple[int, int], tuple[str, str]]:
    """Cells that hold no reading, by row and column place: formulas, and parts of merged cells."""
    place = {row: n for n, row in enumerate(rows)}
    odd = {
        (place[row], column - columns.start): fault
        for (row, column), fault in sheet.odd.items()
        if row in place and column in columns
    }
    for top, left, bottom, right in sheet.merged:
        inside = [row for row in rows if top <= row <= bottom]
        across = range(max(left, columns.start), min(right, columns.stop - 1) + 1)
        shown = f"{letters(left)}{top}:{letters(right)}{bottom}"
        for row in inside:
            for column in across:
                if (row, column) != (top, left):
                    odd[place[row], column - columns.start] = MERGED, shown
    return odd


def _tell_hidden(sheet: Sheet, rows: list[int], spec: Table, problems: ProblemList) -> None:
    hidden = [row for row in rows if row in sheet.hidden]
    if hidden:
        found = f"rows {hidden[0]} to {hidden[-1]}" if len(hidden) > 1 else f"row {hidden[0]}"
        place = {"line": hidden[0], "row": hidden[0]}
        problems.add(file=spec.file, **place, **said("hidden rows", found=found))

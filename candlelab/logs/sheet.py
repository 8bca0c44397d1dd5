"""One sheet of a workbook as text, cell by cell: what its program shows, whatever wrote it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

MOST_COLUMNS = 500  # cells further to the right belong to no table
MOST_CELLS = 2_000_000

# What a cell can be that has no reading in it.
FORMULA_ERROR, NO_VALUE, MERGED = "formula with an error", "formula without a value", "merged cells"


class TooLarge(ValueError):
    """A sheet with more cells than a log has, or with cells far to the right."""


@dataclass
class Sheet:
    """Cells by row and column, both from 1: only those with something in them.

    ``odd`` holds cells without a reading, with what is wrong and what stands there; ``merged`` the
    corners of merged ranges (first row, first column, last row, last column).
    """

    name: str
    cells: dict[tuple[int, int], str] = field(default_factory=dict)
    odd: dict[tuple[int, int], tuple[str, str]] = field(default_factory=dict)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden: set[int] = field(default_factory=set)

    def put(self, row: int, column: int, text: str) -> None:
        """Keep a cell that has a text."""
        if not text:
            return
        if column > MOST_COLUMNS:
            raise TooLarge(f"a cell in column {letters(column)} of the sheet {self.name}")
        if len(self.cells) >= MOST_CELLS:
            raise TooLarge(f"more than {MOST_CELLS:,} cells in the sheet {self.name}")
        self.cells[row, column] = text


def letters(column: int) -> str:
    """The letters of a column, as spreadsheets have them: 1 is A, 28 is AB."""
    name = ""
    while column > 0:
        column, place = divmod(column - 1, 26)
        name = chr(ord("A") + place) + name
    return name


def text_of(value, *, percent: bool = False, clock: bool = False) -> str:
    """A value of a cell as a CSV file would have it.

    ``percent`` says that the cell shows a percentage, ``clock`` that it shows the time of a day.
    """
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, int | float):
        return f"{value * 100:.12g}%" if percent else f"{value:.15g}"
    if isinstance(value, datetime):
        value = _to_the_second(value)
        if value.time() == time() and not clock:
            return f"{value:%Y-%m-%d}"
        return f"{value:%Y-%m-%d} {_clock(value.hour, value.minute, value.second)}"
    if isinstance(value, date):
        return f"{value:%Y-%m-%d}"
    if isinstance(value, time):
        value = _to_the_second(datetime.combine(date(2000, 1, 1), value))
        return _clock(value.hour, value.minute, value.second)
    if isinstance(value, timedelta):
        seconds = round(value.total_seconds())
        sign = "-" if seconds < 0 else ""
        minutes, second = divmod(abs(seconds), 60)
        return sign + _clock(*divmod(minutes, 60), second)
    return "" if value is None else str(value).strip()


def _to_the_second(value: datetime) -> datetime:
    """A moment without the fractions that a day number with a fraction leaves."""
    return (value + timedelta(milliseconds=500)).replace(microsecond=0)


def _clock(hour: int, minute: int, second: int) -> str:
    return f"{hour:02d}:{minute:02d}" + (f":{second:02d}" if second else "")

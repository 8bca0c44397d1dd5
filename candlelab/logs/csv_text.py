"""Bytes of a CSV file into columns of text, each row with its line; every fault of form listed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd

from candlelab.logs.csv_rows import BREAK, CELL, Broken, first_filled, rows_of, tell, text_of
from candlelab.logs.faults import said
from candlelab.logs.problems import ProblemList

FEW = 32_768  # bytes of a piece of rows, below which a dictionary is quicker
_KINDS: dict[int, np.dtype] = {1 << 8 * n - 1: np.dtype(f"i{n}") for n in (1, 2, 4)}


@dataclass(frozen=True, eq=False)
class Cells:
    """One column of text.

    ``texts`` holds each distinct text once, stripped; row ``i`` is ``texts[codes[i]]``.
    """

    codes: np.ndarray
    texts: list[str]

    def at(self, n: int) -> str:
        """Text of row place ``n``."""
        return self.texts[self.codes[n]]

    def blank(self) -> np.ndarray:
        """One bool for each row: whether its cell is empty."""
        return self._blank

    @cached_property
    def _blank(self) -> np.ndarray:
        return self.where(lambda text: not text)

    def where(self, true_of) -> np.ndarray:
        """For each row whether ``true_of(text)`` is true; asked once for each distinct text."""
        return np.array([bool(true_of(text)) for text in self.texts], dtype=bool)[self.codes]


@dataclass(frozen=True, eq=False)
class Records:
    """Columns of one file, in the order of its header; blank rows are left out.

    Row ``i`` begins on physical line ``lines[i]``, is spreadsheet row ``row_numbers[i]`` and had
    ``widths[i]`` cells. ``broken`` holds the places of rows whose quoting is wrong, each with the
    kind of fault and the text of its line; their cells are a guess, good enough to know the candle
    and burn. Of a workbook's sheet, ``first_column`` is the place of the first column in it, and
    ``odd`` holds cells without a reading by row and column place, with the fault and what is there.
    """

    delimiter: str
    header: list[str]
    header_line: int
    header_row: int
    columns: list[Cells]
    lines: np.ndarray
    row_numbers: np.ndarray
    widths: np.ndarray
    broken: Broken
    first_column: int = 1
    odd: dict[tuple[int, int], tuple[str, str]] = field(default_factory=dict)

    def odd_in(self, place: int) -> dict[int, tuple[str, str]]:
        """The cells of a column that hold no reading, by row place."""
        return {n: fault for (n, column), fault in self.odd.items() if column == place}

    def only(self, keep: np.ndarray) -> Records:
        """The rows that a mask holds."""
        place = np.cumsum(keep) - 1
        return replace(
            self,
            columns=[Cells(column.codes[keep], column.texts) for column in self.columns],
            lines=self.lines[keep],
            row_numbers=self.row_numbers[keep],
            widths=self.widths[keep],
            broken={int(place[n]): fault for n, fault in self.broken.items() if keep[n]},
            odd={(int(place[n]), c): fault for (n, c), fault in self.odd.items() if keep[n]},
        )


def read_records(data: bytes, file: str, problems: ProblemList) -> Records | None:
    """Columns of a CSV file from its bytes; None when it is empty or cannot be read as text.

    The delimiter is named by a first line ``sep=;`` or is the comma, semicolon
    or tab that the header line has most of. A row whose quoting is broken is
    listed, and reading goes on with the next line.
    """
    made = rows_of(data, file, problems)
    if made is None:
        return None
    delimiter, pieces = made
    head = begun = 0
    names: list[str] = []
    broken: Broken = {}
    most = data.count(b"\n") + data.count(b"\r") + 1
    all_lines, all_widths = _Growing(most), _Growing(most)
    columns: list[_Column] = []
    for rows, begins, faults in pieces:
        if not names and (found := first_filled(rows, f"\n{CELL}{BREAK} \t\xa0")):
            head, rows = begun + found[0], rows[found[2] :]
            names = found[1].replace(BREAK, " ").split(CELL)
            columns = [_Column(_Growing(most)) for _ in names]
        broken |= {begun + n: fault for n, fault in faults.items()}
        begun += len(begins)
        all_lines.add(begins, begins.dtype)
        if names:
            widths = _tell_apart(rows, columns)
            all_widths.add(widths, widths.dtype)
    if not names:
        tell("empty file", file, 1, problems)
        return None
    lines = all_lines.values()
    if head in broken:
        kind, text = broken[head]
        texts = said(kind, found=text)
        problems.add(file=file, line=int(lines[head]), row=head + 1, **texts)
    cells, filled = _filled([column.cells() for column in columns])
    place = filled + head + 1
    if broken:
        broken = {n: broken[at] for n, at in enumerate(place.tolist()) if at in broken}
    where = delimiter, names, int(lines[head]), head + 1
    lines, numbers = lines[place], place + 1
    lines = numbers if np.array_equal(lines, numbers) else lines  # as in most files: kept once
    return Records(*where, cells, lines, numbers, all_widths.values()[filled], broken)


def _filled(columns: list[Cells]) -> tuple[list[Cells], np.ndarray]:
    """The columns without the rows that are blank, and the places of the others."""
    blank = columns[0].blank()
    for column in columns[1:]:
        if not blank.any():
            break
        blank = blank & column.blank()
    filled = np.flatnonzero(~blank).astype(np.int32)
    if len(filled) < len(blank):
        columns = [Cells(column.codes[filled], column.texts) for column in columns]
    return columns, filled


def _least(n: int) -> np.dtype:
    """The smallest kind of whole number that holds the places of so many texts."""
    return next(kind for most, kind in _KINDS.items() if n <= most)


class _Growing:
    """Whole numbers that more are added to, ``most`` at most, in one array."""

    def __init__(self, most: int) -> None:
        self._most, self._used, self._room = most, 0, np.zeros(0, dtype=int)

    def add(self, more: np.ndarray, kind: np.dtype) -> None:
        """More numbers; with those before they are of this kind."""
        before, self._used = self._used, self._used + len(more)
        if not before:  # all there are, of a small file
            self._room = more
            return
        if len(self._room) < self._used or self._room.dtype != kind:
            room = np.empty(self._most, dtype=kind)
            room[:before] = self._room[:before]
            self._room = room
        self._room[before : self._used] = more

    def values(self) -> np.ndarray:
        return self._room[: self._used]


@dataclass(eq=False)
class _Column:
    """A column as its pieces are read: each distinct text's number, and the codes so far."""

    codes: _Growing
    seen: dict[bytes, int] = field(default_factory=dict)

    def add(self, codes: np.ndarray, texts: list[bytes]) -> None:
        """One piece: its cells as places in ``texts``, which are distinct."""
        if self.seen:
            numbers = [self.seen.setdefault(text, len(self.seen)) for text in texts]
            codes = np.array(numbers, dtype=np.int32)[codes]
        else:
            self.seen = {text: n for n, text in enumerate(texts)}
        self.codes.add(codes, _least(len(self.seen)))

    def cells(self) -> Cells:
        """The whole column; its texts are not kept here."""
        whole = text_of(b"\n".join(self.seen))
        texts = [text.strip() for text in whole.split("\n")] if self.seen else []
        if BREAK in whole:
            texts = [text.replace(BREAK, "\n").strip() for text in texts]
        self.seen = {}
        return Cells(self.codes.values(), texts)


def _tell_apart(rows: bytes, columns: list[_Column]) -> np.ndarray:
    """Add rows to columns, each brought to as many cells; gives how many each row had.

    No cell becomes a Python string before it is known to differ from those above it: cells are told
    apart by their bytes, eight at a time, as numbers; where there are few, in a dictionary.
    """
    return (_few_apart if len(rows) <= FEW else _many_apart)(rows, columns)


def _few_apart(rows: bytes, columns: list[_Column]) -> np.ndarray:
    width, cell = len(columns), CELL.encode()
    each = [row.split(cell) for row in rows.split(b"\n")[:-1]]
    widths = np.array([len(row) for row in each], dtype=np.int32)
    if (widths != width).any():
        each = [(row + [b""] * width)[:width] for row in each]
    for n, column in enumerate(columns):
        seen: dict[bytes, int] = {}
        codes = [seen.setdefault(row[n], len(seen)) for row in each]
        column.add(np.array(codes, dtype=int), list(seen))
    return widths


def _many_apart(rows: bytes, columns: list[_Column]) -> np.ndarray:
    width = len(columns)
    marks, ends = _marked(rows)
    widths = np.diff(np.flatnonzero(marks[ends] == ord("\n")), prepend=-1).astype(np.int32)
    odd = np.flatnonzero(widths != width)
    if len(odd):
        cell, each = CELL.encode(), rows.split(b"\n")
        for n in odd:
            each[n] = cell.join((each[n].split(cell) + [b""] * width)[:width])
        rows = b"\n".join(each)
        marks, ends = _marked(rows)
    eights = np.ndarray(len(rows), dtype="<u8", buffer=marks, strides=(1,))
    ends = ends.astype(np.int32)
    starts = np.concatenate(([0], ends[:-1] + 1), dtype=np.int32) if len(ends) else ends
    starts, ends = (places.reshape(-1, width).T.copy() for places in (starts, ends))
    for column, start, end in zip(columns, starts, ends, strict=True):
        codes = _told_apart(eights, start, end - start)
        first = np.zeros(codes.max(initial=-1) + 1, dtype=int)
        first[codes[::-1]] = np.arange(len(codes))[::-1]
        spans = zip(start[first].tolist(), end[first].tolist(), strict=True)
        column.add(codes, [rows[a:z] for a, z in spans])
    return widths


def _marked(rows: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Rows as numbers with eight to spare, and where each cell ends."""
    marks = np.frombuffer(rows + bytes(8), dtype=np.uint8)
    control = np.flatnonzero(marks[: len(rows)] < ord(" "))
    return marks, control[(marks[control] == ord(CELL)) | (marks[control] == ord("\n"))]


def _told_apart(eights: np.ndarray, start: np.ndarray, length: np.ndarray) -> np.ndarray:
    """A number for each cell, the same for the same bytes, counted up as they appear."""
    keep = np.array([(1 << 8 * n) - 1 for n in range(9)], dtype="<u8")
    codes = pd.factorize(eights[start] & keep[np.minimum(length, 8)])[0]
    rows, at = np.flatnonzero(length > 8), 8
    while len(rows):  # the rows whose cell is longer than what has been compared
        word = pd.factorize(eights[start[rows] + at] & keep[np.clip(length[rows] - at, 0, 8)])[0]
        codes[rows] = codes.max() + 1 + pd.factorize(codes[rows] * len(rows) + word)[0]
        at += 8
        rows = rows[length[rows] > at]
    return codes if at == 8 else pd.factorize(codes)[0]

"""Bytes of a CSV file into columns of text, each row with its line; every fault of form listed."""

from __future__ import annotations

import codecs
import csv
import re
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pandas as pd

from candlelab.logs.faults import said
from candlelab.logs.problems import ProblemList

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
# Stand in for the delimiter and for a line break inside a cell, once the quotes have been read.
_CELL, _BREAK = "\x1f", "\x1e"
_MARKS = {
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}


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
    broken: dict[int, tuple[str, str]]
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


def line_of_byte(data: bytes, place: int) -> int:
    """Line on which a byte stands; lines end with CR LF, LF or CR."""
    return len(re.findall(rb"\r\n|\r|\n", data[:place])) + 1


def decode(data: bytes, file: str, problems: ProblemList) -> str | None:
    """Text of a file, or None when it cannot be read as text.

    UTF-8 and UTF-16 with a byte-order mark, UTF-8 without, else Windows-1252 with a note.
    """
    if not data.strip():
        _tell("empty file", file, 1, problems)
        return None
    encoding = next((name for mark, name in _MARKS.items() if data.startswith(mark)), "utf-8")
    if b"\0" in data and encoding != "utf-16":
        if b"\0" in (data[0:1], data[1:2]):  # every second byte of a Latin letter in UTF-16
            found = "UTF-16 without a byte-order mark"
            _tell("wrong encoding", file, 1, problems, found=found)
        else:
            _tell("NUL byte", file, line_of_byte(data, data.index(b"\0")), problems)
        return None
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line, found = line_of_byte(data, error.start), f"byte {error.object[error.start]:#04x}"
    text = _as_windows_1252(data) if encoding == "utf-8" else None
    problem = "wrong encoding" if text is None else "not UTF-8"
    _tell(problem, file, line, problems, found=found)
    return text


def _as_windows_1252(data: bytes) -> str | None:
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return None


def _tell(problem: str, file: str, line: int, problems: ProblemList, **values) -> None:
    """Note one of ``FAULTS`` on a line that no quoted line break stands above."""
    problems.add(file=file, line=line, row=line, **said(problem, **values))


# Lines of a comment above the header; a spreadsheet program may have filled them with delimiters.
_COMMENTS = re.compile(r'\A(?:"?# [^\n,;\t]*[,;\t]*\n)+')


def read_records(data: bytes, file: str, problems: ProblemList) -> Records | None:
    """Columns of a CSV file from its bytes; None when it is empty or cannot be read as text.

    The delimiter is named by a first line ``sep=;`` or is the comma, semicolon
    or tab that the header line has most of. A row whose quoting is broken is
    listed, and reading goes on with the next line.
    """
    text = decode(data, file, problems)
    if text is None:
        return None
    for ours in (_CELL, _BREAK, "\0"):
        text = text.replace(ours, "\ufffd")
    text = text.replace("\r\n", "\n").replace("\r", "\n").removesuffix("\n")
    text = _COMMENTS.sub(lambda comments: "\n" * comments[0].count("\n"), text + "\n")[:-1]
    named = re.match(r'"?sep=(.)"?[^\S\n]*(?:\n|$)', text)
    skip = 1 if named else 0
    first = re.compile(r"[^\n]*\S[^\n]*").search(text, named.end() if named else 0)
    if first is None:
        _tell("empty file", file, 1, problems)
        return None
    bare = re.sub(r'"[^"]*"', "", first[0])
    delimiter = named.group(1) if named else max(DELIMITERS, key=bare.count)
    rows, lines, broken = _rows(text, skip, delimiter, bare.count(delimiter) + 1)
    header = re.compile(f"[^\n]*[^\n{_CELL}{_BREAK} \t\xa0][^\n]*").search(rows)
    if header is None:
        _tell("empty file", file, 1, problems)
        return None
    head = rows.count("\n", 0, header.start())
    numbers = np.arange(len(lines)) + 1 + skip
    if head in broken:
        kind, found = broken[head]
        texts = said(kind, found=found)
        problems.add(file=file, line=int(lines[head]), row=int(numbers[head]), **texts)
    names = header[0].replace(_BREAK, " ").split(_CELL)
    below = rows[header.end() + 1 :] + "\n" if header.end() < len(rows) else ""
    widths, columns, filled = _filled_rows(below, len(names))
    place = filled + head + 1
    if broken:
        broken = {n: broken[at] for n, at in enumerate(place.tolist()) if at in broken}
    where = int(lines[head]), int(numbers[head])
    return Records(delimiter, names, *where, columns, lines[place], numbers[place], widths, broken)


def _filled_rows(rows: str, width: int) -> tuple[np.ndarray, list[Cells], np.ndarray]:
    """The rows that are not blank: how many cells they have, their columns, and their places."""
    widths, columns = _columns(rows, width)
    filled = np.flatnonzero(~np.all([column.blank() for column in columns], axis=0))
    if len(filled) < len(widths):
        columns = [Cells(column.codes[filled], column.texts) for column in columns]
    return widths[filled], columns, filled


def _rows(
    text: str, skip: int, delimiter: str, width: int
) -> tuple[str, np.ndarray, dict[int, tuple[str, str]]]:
    """Rows, parted by line ends and their cells by ``_CELL``; their lines; the broken ones.

    A line without a quote is a row as it stands; a row with quotes is read by the csv module.
    """
    rows: list[str] = []
    begins: list[int] = []
    broken: dict[int, tuple[str, str]] = {}
    at, whole = skip, text.replace(delimiter, _CELL)
    if '"' not in text:
        whole = whole.split("\n", skip)[skip]
        return whole, np.arange(skip + 1, skip + 2 + whole.count("\n")), broken
    physical, plain = text.split("\n"), whole.split("\n")
    for n in [n for n, line in enumerate(physical) if '"' in line] + [len(physical)]:
        if n < at:
            continue  # inside a quoted cell that has been read already
        rows += plain[at:n]
        begins += range(at + 1, n + 1)
        if n == len(physical):
            break
        cells, after, kind = _quoted_row(physical, n, delimiter, width)
        if kind:
            broken[len(rows)] = kind, physical[n].strip()
        rows.append(_CELL.join(cells).replace("\n", _BREAK))
        begins.append(n + 1)
        at = after
    return "\n".join(rows), np.array(begins, dtype=int), broken


def _quoted_row(physical, n, delimiter, width) -> tuple[list[str], int, str]:
    """Cells of the row at place ``n``, the place after it, and what is wrong with its quotes.

    A quote that is closed only rows later would swallow those rows; it is taken for unclosed.
    """
    below = (physical[at] + "\n" for at in range(n, len(physical)))
    reader = csv.reader(below, delimiter=delimiter, strict=True)
    kind = "unclosed quote"
    try:
        cells = next(reader)
        after = n + reader.line_num
        swallowed = physical[n + 1 : after]
        full = all(line.count(delimiter) >= width - 1 for line in swallowed)
        if not swallowed or width <= 4 or not full:
            return cells, after, ""
    except csv.Error as error:
        if "unexpected end" not in str(error) and "limit" not in str(error):
            kind = "broken quoting"
    return physical[n].replace('"', "").split(delimiter), n + 1, kind


def _columns(rows: str, width: int) -> tuple[np.ndarray, list[Cells]]:
    """The number of cells of each row, and the rows in columns, each brought to ``width`` cells.

    No cell becomes a Python string before it is known to differ from those above it: cells are told
    apart by their bytes, eight at a time, as numbers.
    """
    data, marks, ends = _marked(rows)
    widths = np.diff(np.flatnonzero(marks[ends] == ord("\n")), prepend=-1)
    odd = np.flatnonzero(widths != width)
    if len(odd):
        each = rows.split("\n")
        for n in odd:
            each[n] = _CELL.join((each[n].split(_CELL) + [""] * width)[:width])
        data, marks, ends = _marked("\n".join(each))
    eights = np.ndarray(len(data), dtype="<u8", buffer=marks, strides=(1,))
    ends = ends.astype(np.int32)
    starts = np.concatenate(([0], ends[:-1] + 1), dtype=np.int32) if len(ends) else ends
    columns, has_breaks = [], _BREAK.encode() in data
    starts, ends = (places.reshape(-1, width).T.copy() for places in (starts, ends))
    for start, end in zip(starts, ends, strict=True):
        codes = _told_apart(eights, start, end - start)
        first = np.zeros(codes.max(initial=-1) + 1, dtype=int)
        first[codes[::-1]] = np.arange(len(codes))[::-1]
        spans = zip(start[first].tolist(), end[first].tolist(), strict=True)
        texts = [data[a:z].decode("utf-8", "surrogatepass").strip() for a, z in spans]
        if has_breaks:
            texts = [text.replace(_BREAK, "\n").strip() for text in texts]
        columns.append(Cells(codes, texts))
    return widths, columns


def _marked(rows: str) -> tuple[bytes, np.ndarray, np.ndarray]:
    """Rows as UTF-8, the same as numbers with eight to spare, and where each cell ends."""
    data = rows.encode("utf-8", "surrogatepass")
    marks = np.frombuffer(data + bytes(8), dtype=np.uint8)
    control = np.flatnonzero(marks[: len(data)] < ord(" "))
    return data, marks, control[(marks[control] == ord(_CELL)) | (marks[control] == ord("\n"))]


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

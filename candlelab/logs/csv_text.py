"""The bytes of a CSV file into columns of text, each row with
its line; every fault of form is listed."""

from __future__ import annotations

import codecs
import csv
import re
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from candlelab.logs.problems import LOOK, MUST_FIX, ProblemList

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
# Stand in for the delimiter and for a line break inside a cell, once the quotes have been read.
_CELL, _BREAK = "\x1f", "\x1e"
# What is expected of quotes, and what to do.
QUOTES = (
    'quotes in pairs, as in "a note"',
    "Close the quote, or take the quotes out; the row was not read.",
)


@dataclass(frozen=True, eq=False)
class Cells:
    """One column of text: ``texts`` holds each distinct text once,
    stripped; row ``i`` is ``texts[codes[i]]``."""

    codes: np.ndarray
    texts: list[str]

    def at(self, n: int) -> str:
        """Text of row place ``n``."""
        return self.texts[self.codes[n]]

    def blank(self) -> np.ndarray:
        """One bool for each row: whether its cell is empty."""
        return np.isin(self.codes, self._blank_codes)

    @cached_property
    def _blank_codes(self) -> list[int]:
        return [code for code, text in enumerate(self.texts) if not text]

    def where(self, true_of) -> np.ndarray:
        """One bool for each row: whether ``true_of(text)`` is true;
        asked once for each distinct text."""
        return np.array([bool(true_of(text)) for text in self.texts], dtype=bool)[self.codes]


@dataclass(frozen=True, eq=False)
class Records:
    """Columns of one file, in the order of its header; blank rows are left out.

    Row ``i`` begins on physical line ``lines[i]``, is spreadsheet row ``row_numbers[i]`` and had
    ``widths[i]`` cells. ``broken`` holds the places of rows whose quoting is wrong, each with the
    kind of fault and the text of its line; their cells are a guess, good enough to know the candle
    and burn.
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


def line_of_byte(data: bytes, place: int) -> int:
    """Line on which a byte stands; lines end with CR LF, LF or CR."""
    return len(re.findall(rb"\r\n|\r|\n", data[:place])) + 1


def decode(data: bytes, file: str, problems: ProblemList) -> str | None:
    """Text of a file, or None when it cannot be read as text.

    UTF-8 and UTF-16 with a byte-order mark, UTF-8 without, else Windows-1252 with a note.
    """
    if not data.strip():
        _empty(file, problems)
        return None
    encoding = "utf-8"
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if data.startswith(mark):
            encoding = name
    if b"\0" in data and encoding != "utf-16":
        wide = b"\0" in (data[0:1], data[1:2])  # every second byte of a Latin letter in UTF-16
        line = 1 if wide else line_of_byte(data, data.index(b"\0"))
        problems.add(
            MUST_FIX,
            "wrong encoding" if wide else "NUL byte",
            file,
            line=line,
            row=line,
            found="UTF-16 without a byte-order mark" if wide else "a byte of value 0",
            expected="UTF-8 text",
            do="Save the table again as CSV UTF-8."
            if wide
            else "Save the table again as CSV UTF-8; the file is damaged or is not a CSV file.",
        )
        return None
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line, found = line_of_byte(data, error.start), f"byte {error.object[error.start]:#04x}"
        try:
            text = data.decode("cp1252") if encoding == "utf-8" else None
        except UnicodeDecodeError:
            text = None
        if text is None:
            problems.add(
                MUST_FIX,
                "wrong encoding",
                file,
                line=line,
                row=line,
                found=found,
                expected="UTF-8 text",
                do="Save the table again as CSV UTF-8.",
            )
        else:
            problems.add(
                LOOK,
                "not UTF-8",
                file,
                line=line,
                row=line,
                found=found,
                expected="UTF-8 text",
                do="Read as Windows-1252: check the accented letters, or save the table as CSV "
                "UTF-8.",
            )
        return text


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
    named = re.match(r'"?sep=(.)"?[^\S\n]*(?:\n|$)', text)
    skip = 1 if named else 0
    first = re.compile(r"[^\n]*\S[^\n]*").search(text, named.end() if named else 0)
    if first is None:
        _empty(file, problems)
        return None
    first = re.sub(r'"[^"]*"', "", first[0])
    delimiter = named.group(1) if named else max(DELIMITERS, key=first.count)
    rows, lines, broken = _rows(text, skip, delimiter, first.count(delimiter) + 1)
    filled_row = re.compile(f"[^\n]*[^\n{_CELL}{_BREAK} \t\xa0][^\n]*").search(rows)
    if filled_row is None:
        _empty(file, problems)
        return None
    head = rows.count("\n", 0, filled_row.start())
    header = filled_row[0].replace(_BREAK, " ").split(_CELL)
    numbers = np.arange(len(lines)) + 1 + skip
    if head in broken:
        problems.add(
            MUST_FIX,
            broken[head][0],
            file,
            line=int(lines[head]),
            row=int(numbers[head]),
            found=broken[head][1],
            expected=QUOTES[0],
            do=QUOTES[1],
        )
    widths, columns = _columns(
        rows[filled_row.end() + 1 :] + "\n" if filled_row.end() < len(rows) else "", len(header)
    )
    filled = np.flatnonzero(~np.all([column.blank() for column in columns], axis=0))
    if len(filled) < len(widths):
        columns = [Cells(column.codes[filled], column.texts) for column in columns]
    place = filled + head + 1
    broken = (
        {n: broken[at] for n, at in enumerate(place.tolist()) if at in broken} if broken else {}
    )
    return Records(
        delimiter,
        header,
        int(lines[head]),
        int(numbers[head]),
        columns,
        lines[place],
        numbers[place],
        widths[filled],
        broken,
    )


def _rows(
    text: str, skip: int, delimiter: str, width: int
) -> tuple[str, np.ndarray, dict[int, tuple[str, str]]]:
    """Rows, parted by line ends and their cells by ``_CELL``; the line each
    begins on; the broken ones by their place.

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
    """Cells of the row that begins at place ``n``, the place after
    it, and what is wrong with its quotes.

    A quote that is closed only rows later would swallow those rows; it is taken for unclosed.
    """
    reader = csv.reader(
        (line + "\n" for line in map(physical.__getitem__, range(n, len(physical)))),
        delimiter=delimiter,
        strict=True,
    )
    kind = ""
    try:
        cells = next(reader)
        after = n + reader.line_num
        swallowed = physical[n + 1 : after]
        if (
            swallowed
            and width > 4
            and all(line.count(delimiter) >= width - 1 for line in swallowed)
        ):
            kind = "unclosed quote"
    except csv.Error as error:
        kind = (
            "unclosed quote"
            if "unexpected end" in str(error) or "limit" in str(error)
            else "broken quoting"
        )
    if kind:
        return physical[n].replace('"', "").split(delimiter), n + 1, kind
    return cells, after, ""


def _columns(rows: str, width: int) -> tuple[np.ndarray, list[Cells]]:
    """The number of cells of each row, and the rows, each brought
    to ``width`` cells, cut into columns.

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
    for start, end in zip(starts.reshape(-1, width).T.copy(), ends.reshape(-1, width).T.copy()):
        codes = _told_apart(eights, start, end - start)
        first = np.zeros(codes.max(initial=-1) + 1, dtype=int)
        first[codes[::-1]] = np.arange(len(codes))[::-1]
        texts = [
            data[a:z].decode("utf-8", "surrogatepass").strip()
            for a, z in zip(start[first].tolist(), end[first].tolist())
        ]
        columns.append(
            Cells(
                codes,
                [text.replace(_BREAK, "\n").strip() for text in texts] if has_breaks else texts,
            )
        )
    return widths, columns


def _marked(rows: str) -> tuple[bytes, np.ndarray, np.ndarray]:
    """Rows as UTF-8, the same as numbers with eight to spare,
    and the places at which a cell ends."""
    data = rows.encode("utf-8", "surrogatepass")
    marks = np.frombuffer(data + bytes(8), dtype=np.uint8)
    control = np.flatnonzero(marks[: len(data)] < ord(" "))
    return data, marks, control[(marks[control] == ord(_CELL)) | (marks[control] == ord("\n"))]


def _told_apart(eights: np.ndarray, start: np.ndarray, length: np.ndarray) -> np.ndarray:
    """A number for each cell, the same for cells of the same
    bytes, counted up in order of appearance."""
    keep = np.array([(1 << 8 * n) - 1 for n in range(9)], dtype="<u8")
    codes = pd.factorize(eights[start] & keep[np.minimum(length, 8)])[0]
    rows, at = np.flatnonzero(length > 8), 8
    while len(rows):  # the rows whose cell is longer than what has been compared
        word = pd.factorize(eights[start[rows] + at] & keep[np.clip(length[rows] - at, 0, 8)])[0]
        codes[rows] = codes.max() + 1 + pd.factorize(codes[rows] * len(rows) + word)[0]
        at += 8
        rows = rows[length[rows] > at]
    return codes if at == 8 else pd.factorize(codes)[0]


def _empty(file: str, problems: ProblemList) -> None:
    problems.add(
        MUST_FIX,
        "empty file",
        file,
        line=1,
        row=1,
        expected="a header line and rows",
        do="Put the table back, or delete the file if the batch has no such table.",
    )

"""The bytes of a CSV file into rows of text, each with its line; every fault of form is listed."""

from __future__ import annotations

import codecs
import csv
import io
import re
from dataclasses import dataclass

from candlelab.problems import LOOK, MUST_FIX, ProblemList

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True)
class Records:
    """Rows of one file: ``rows[i]`` begins on physical line ``lines[i]`` and is spreadsheet row ``row_numbers[i]``.

    ``broken`` holds the places of rows whose quoting is wrong; their cells are a guess, good enough
    to know which candle and burn they belong to.
    """

    delimiter: str
    header: list[str]
    header_line: int
    rows: list[list[str]]
    lines: list[int]
    row_numbers: list[int]
    broken: frozenset[int]


def decode(data: bytes, file: str, problems: ProblemList) -> str | None:
    """Text of a file, or None when it cannot be read as text.

    UTF-8 and UTF-16 with a byte-order mark, UTF-8 without, else Windows-1252 with a note.
    """
    if not data.strip():
        problems.add(MUST_FIX, "empty file", file, line=1, row=1, expected="a header line and rows",
                     do="Put the table back, or delete the file if the batch has no such table.")  # fmt: skip
        return None
    encoding = "utf-8"
    for mark, name in ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16")):
        if data.startswith(mark):
            encoding = name
    if b"\0" in data and encoding != "utf-16":
        line = data[: data.index(b"\0")].count(b"\n") + 1
        problems.add(MUST_FIX, "NUL byte", file, line=line, row=line, found="a byte of value 0", expected="plain text",
                     do="Save the table again as CSV UTF-8; the file is damaged or is not a CSV file.")  # fmt: skip
        return None
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        try:
            text = data.decode("cp1252") if encoding == "utf-8" else None
        except UnicodeDecodeError:
            text = None
        if text is None:
            problems.add(MUST_FIX, "wrong encoding", file, line=line, row=line,
                         found=f"byte {data[error.start]:#04x}", expected="UTF-8 text",
                         do="Save the table again as CSV UTF-8.")  # fmt: skip
            return None
        problems.add(LOOK, "not UTF-8", file, line=line, row=line, found=f"byte {data[error.start]:#04x}",
                     expected="UTF-8 text",
                     do="Read as Windows-1252: check the accented letters, or save the table as CSV UTF-8.")  # fmt: skip
        return text


def read_records(data: bytes, file: str, problems: ProblemList) -> Records | None:
    """Rows of a CSV file from its bytes; None when there is no usable header.

    The delimiter is the comma, semicolon or tab that the header line has most of. A row whose
    quoting is broken is listed and skipped, and reading goes on with the next line.
    """
    text = decode(data, file, problems)
    if text is None:
        return None
    physical = io.StringIO(text, newline="").readlines()
    skip, named = 0, re.fullmatch(r"sep=(.)\s*", physical[0])
    if named:
        skip, delimiter = 1, named.group(1)
    else:
        delimiter = max(DELIMITERS, key=re.sub(r'"[^"]*"', "", physical[0]).count)
    rows: list[list[str]] = []
    lines: list[int] = []
    broken: set[int] = set()
    start = skip
    while start < len(physical):
        reader = csv.reader(physical[start:] if start else physical, delimiter=delimiter, strict=True)
        begins, offset = start + 1, start
        try:
            for row in reader:
                rows.append(row)
                lines.append(begins)
                begins = offset + reader.line_num + 1
            break
        except csv.Error as error:
            _report_broken_row(str(error), begins, len(rows) + 1 + skip, physical[begins - 1], file, problems)
            broken.add(len(rows))
            rows.append(physical[begins - 1].replace('"', "").rstrip("\r\n").split(delimiter))
            lines.append(begins)
            start = begins
    return _with_header(rows, lines, broken, skip, delimiter, file, problems)


def _report_broken_row(error: str, line: int, row: int, text: str, file: str, problems: ProblemList) -> None:
    unclosed = "unexpected end" in error
    kind = "unclosed quote" if unclosed else "field too long" if "limit" in error else "broken quoting"
    problems.add(MUST_FIX, kind, file, line=line, row=row, found=text.strip(), expected='quotes in pairs, as in "a note"',
                 do="Close the quote, or take the quotes out; the row was not read.")  # fmt: skip


def _with_header(rows, lines, broken, skip, delimiter, file, problems) -> Records | None:
    filled = [n for n, row in enumerate(rows) if any(map(str.strip, row))]
    if not filled:
        problems.add(MUST_FIX, "empty file", file, line=1, row=1, expected="a header line and rows",
                     do="Put the table back, or delete the file if the batch has no such table.")  # fmt: skip
        return None
    first, *rest = filled
    return Records(
        delimiter,
        rows[first],
        lines[first],
        [rows[n] for n in rest],
        [lines[n] for n in rest],
        [n + 1 + skip for n in rest],
        frozenset(place for place, n in enumerate(rest) if n in broken),
    )

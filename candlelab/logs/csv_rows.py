"""Bytes of a CSV file into rows, some lines at a time; every fault of form listed."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Iterator
from itertools import chain

import numpy as np

from candlelab.logs.faults import said
from candlelab.logs.problems import ProblemList

DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}
# Stand in for the delimiter and for a line break inside a cell, once the quotes have been read.
CELL, BREAK = "\x1f", "\x1e"
PIECE = 1 << 21  # bytes of a file that are worked on at a time
_MARKS = {
    codecs.BOM_UTF8: "utf-8-sig",
    codecs.BOM_UTF16_LE: "utf-16",
    codecs.BOM_UTF16_BE: "utf-16",
}
Broken = dict[int, tuple[str, str]]  # kind of fault and text of the line, by place of the row
# Rows, each ended by a line feed and their cells parted by CELL; the line of each; the broken ones.
Rows = tuple[bytes, np.ndarray, Broken]


def line_of_byte(data: bytes, place: int) -> int:
    """Line on which a byte stands; lines end with CR LF, LF or CR."""
    return len(re.findall(rb"\r\n|\r|\n", data[:place])) + 1


def decode(data: bytes, file: str, problems: ProblemList) -> str | None:
    """Text of a file, or None when it cannot be read as text.

    UTF-8 and UTF-16 with a byte-order mark, UTF-8 without, else Windows-1252 with a note.
    """
    encoding = _encoding(data, file, problems)
    return data.decode(encoding) if encoding else None


def _encoding(data: bytes, file: str, problems: ProblemList) -> str:
    """The encoding of a file that can be read as text, empty for another one."""
    if not data.strip():
        tell("empty file", file, 1, problems)
        return ""
    encoding = next((name for mark, name in _MARKS.items() if data.startswith(mark)), "utf-8")
    if b"\0" in data and encoding != "utf-16":
        if b"\0" in (data[0:1], data[1:2]):  # every second byte of a Latin letter in UTF-16
            found = "UTF-16 without a byte-order mark"
            tell("wrong encoding", file, 1, problems, found=found)
        else:
            tell("NUL byte", file, line_of_byte(data, data.index(b"\0")), problems)
        return ""
    error = undecoded(data, encoding)
    if error is None:
        return encoding
    line, found = line_of_byte(data, error.start), f"byte {error.object[error.start]:#04x}"
    other = "cp1252" if encoding == "utf-8" and not undecoded(data, "cp1252") else ""
    tell("not UTF-8" if other else "wrong encoding", file, line, problems, found=found)
    return other


def undecoded(data: bytes, encoding: str) -> UnicodeDecodeError | None:
    """Why bytes are not of an encoding; nothing of a large file's text is kept for that."""
    if data.isascii() and encoding != "utf-16":
        return None
    decoder = codecs.getincrementaldecoder(encoding)()
    try:
        for at in range(0, len(data), PIECE):
            decoder.decode(data[at : at + PIECE], at + PIECE >= len(data))
    except UnicodeDecodeError:
        try:
            data.decode(encoding)
        except UnicodeDecodeError as error:  # it names the place in the whole
            return error
    return None


def tell(problem: str, file: str, line: int, problems: ProblemList, **values) -> None:
    """Note one of ``FAULTS`` on a line that no quoted line break stands above."""
    problems.add(file=file, line=line, row=line, **said(problem, **values))


# Lines of a comment above the header; a spreadsheet program may have filled them with delimiters.
_COMMENTS = re.compile(rb'(?:"?# [^\n,;\t]*[,;\t]*\n)+')
_DELIMITER_NAMED = re.compile(r'"?sep=(.)"?[^\S\n]*\n')
_LINE, _LINE_END = re.compile(rb"[^\n]*\n"), re.compile(rb"\r\n|\r|\n")


def rows_of(data: bytes, file: str, problems: ProblemList) -> tuple[str, Iterator[Rows]] | None:
    """The delimiter of a file and its rows; None when it is empty or cannot be read as text."""
    encoding = _encoding(data, file, problems)
    if not encoding:
        return None
    if encoding in ("utf-16", "cp1252"):
        data = _bytes(data.decode(encoding))
    pieces = _pieces(data, len(codecs.BOM_UTF8) if encoding == "utf-8-sig" else 0)
    top = next(pieces, b"")
    named = _DELIMITER_NAMED.match(text_of(top[: top.find(b"\n") + 1]))
    above = [_LINE.sub(b"\n", top, 1) if named else top]
    while (first := first_filled(above[-1])) is None:
        if not (more := next(pieces, b"")):
            tell("empty file", file, 1, problems)
            return None
        above.append(more)
    bare = re.sub(r'"[^"]*"', "", first[1])
    delimiter = named.group(1) if named else max(DELIMITERS, key=bare.count)
    rows = _rows(chain(above, pieces), delimiter, bare.count(delimiter) + 1)
    return delimiter, rows


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def text_of(data: bytes) -> str:
    return data.decode("utf-8", "surrogatepass")


def _pieces(data: bytes, at: int) -> Iterator[bytes]:
    """The lines from a place on, each ended by a line feed, some at a time; comments blanked."""
    top = True
    while at < len(data):
        ends = _LINE_END.search(data, at + PIECE)
        end = ends.end() if ends else len(data)
        piece, at = data[at:end], end
        for ours in (CELL, BREAK, "\0"):
            piece = piece.replace(ours.encode(), "\ufffd".encode())
        piece = piece.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        piece += b"" if piece.endswith(b"\n") else b"\n"
        comments = _COMMENTS.match(piece) if top else None
        top = comments is not None and comments.end() == len(piece)
        if comments:
            piece = b"\n" * comments[0].count(b"\n") + piece[comments.end() :]
        yield piece


def first_filled(rows: bytes, blank: str | None = None) -> tuple[int, str, int] | None:
    """Place, text and end of the first line that has more in it than ``blank``."""
    for n, line in enumerate(_LINE.finditer(rows)):
        text = text_of(line[0])
        if text.strip(blank):
            return n, text.removesuffix("\n"), line.end()
    return None


def _rows(pieces: Iterator[bytes], delimiter: str, width: int) -> Iterator[Rows]:
    """The rows of each piece, or of so many of them as end with a row.

    A line without a quote is a row as it stands; a row with quotes is read by the csv module.
    """
    line, piece = 1, next(pieces)
    while piece:
        more, rest = next(pieces, b""), b""
        if b'"' in piece:
            texts, places, broken, rest = _quoted_rows(text_of(piece), delimiter, width, not more)
            rows = _bytes("\n".join([*texts, ""]))
            yield rows, np.array(places, dtype=np.int32) + line, broken
        else:
            rows = piece.replace(delimiter.encode(), CELL.encode())
            yield rows, np.arange(line, line + rows.count(b"\n"), dtype=np.int32), {}
        line += piece.count(b"\n") - rest.count(b"\n")
        while len(more) < len(rest) and (further := next(pieces, b"")):
            more += further
        piece = rest + more


def _quoted_rows(
    text: str, delimiter: str, width: int, is_last: bool
) -> tuple[list[str], list[int], Broken, bytes]:
    """The rows of lines with quotes, the places of their first lines, the broken ones.

    Lines at the end that begin a row which the next lines may end come back.
    """
    physical, plain = text.split("\n"), text.replace(delimiter, CELL).split("\n")
    del physical[-1], plain[-1]
    rows: list[str] = []
    places: list[int] = []
    broken: Broken = {}
    at = 0
    for n in [n for n, line in enumerate(physical) if '"' in line] + [len(physical)]:
        if n < at:
            continue  # inside a quoted cell that has been read already
        rows += plain[at:n]
        places += range(at, n)
        if n == len(physical):
            break
        row = _quoted_row(physical, n, delimiter, width, is_last)
        if row is None:
            return rows, places, broken, _bytes("\n".join([*physical[n:], ""]))
        cells, at, kind = row
        if kind:
            broken[len(rows)] = kind, physical[n].strip()
        rows.append(CELL.join(cells).replace("\n", BREAK))
        places.append(n)
    return rows, places, broken, b""


def _quoted_row(physical, n, delimiter, width, is_last) -> tuple[list[str], int, str] | None:
    """Cells of the row at place ``n``, the place after it, and what is wrong with its quotes.

    None where it does not end in these lines, and they are not the last ones of the file.
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
        if "unexpected end" in str(error):
            if not is_last:
                return None
        elif "limit" not in str(error):
            kind = "broken quoting"
    return physical[n].replace('"', "").split(delimiter), n + 1, kind

"""How a table of a folder is written, told from its own bytes, and rows written alike."""

from __future__ import annotations

import codecs
import csv
import io
import re
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo
from pathlib import Path

import numpy as np

from candlelab.logs.cells import Style
from candlelab.logs.column import Table
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_rows import decode
from candlelab.logs.csv_table import uses_comma
from candlelab.logs.csv_text import Records, read_records
from candlelab.logs.header import Header, Match
from candlelab.logs.moments_apart import together
from candlelab.logs.problems import ProblemList
from candlelab.logs.writer import guarded
from candlelab.text import capital
from candlelab.units import convert, split_unit

_PLAIN = Style()
_YES_NO = {
    "yes": ("yes", "no"), "no": ("yes", "no"), "y": ("y", "n"), "n": ("y", "n"),
    "true": ("true", "false"), "false": ("true", "false"), "1": ("1", "0"), "0": ("1", "0"),
    "x": ("x", "no"),
}  # fmt: skip


class CannotAdd(ValueError):
    """Nothing can be added to a table; the message says why and what to do."""


@dataclass(frozen=True)
class Times:
    """How moments are written: a form for day and clock, seconds or not, the offset or not."""

    form: str = "%Y-%m-%d %H:%M"
    offset: bool = False


@dataclass(frozen=True, eq=False)
class TableForm:
    """How one table is written: its columns in order, and the look of every kind of cell."""

    spec: Table
    records: Records | None
    found: dict[str, Match]
    width: int
    delimiter: str = ","
    line_end: str = "\n"
    encoding: str = "utf-8"
    comma: bool = False
    times: Times = Times()
    yes_no: tuple[str, str] = ("yes", "no")

    @property
    def has_rows(self) -> bool:
        """Whether the table has a row to take after."""
        return self.records is not None and len(self.records.lines) > 0

    def unit(self, column: str) -> str | None:
        """The unit in which the file has a column."""
        return self.found[column].unit if column in self.found else split_unit(column)[1]

    def column(self, name: str) -> str:
        """A column named with the unit in which the file has it: ``wall_f`` for ``wall_c``."""
        unit = self.unit(name)
        return f"{split_unit(name)[0]}_{unit}" if unit else name

    def number(self, text: str) -> str:
        """A plain number as the file writes it."""
        return text.replace(".", ",") if self.comma else text

    def last(self, column: str, lines) -> str:
        """The text of a column in the last of some lines that has one, with a decimal point."""
        match = self.found.get(column)
        if not match or self.records is None:
            return ""
        cells = self.records.columns[match.place]
        texts = [cells.at(n) for n in np.searchsorted(self.records.lines, lines)]
        return next((text.replace(",", ".") for text in reversed(texts) if text), "")

    def row(self, values: dict[str, str]) -> bytes:
        """One row with its line end; ``values`` by column in the glossary's name.

        Raises CannotAdd when a letter is not in the file's own alphabet.
        """
        cells = [""] * self.width
        for name, match in self.found.items():
            cells[match.place] = self._cell(match, values.get(name, ""))
        return self.line(cells)

    def line(self, cells: list[str]) -> bytes:
        """Cells as a line of the file."""
        text = io.StringIO()
        csv.writer(text, delimiter=self.delimiter, lineterminator=self.line_end).writerow(cells)
        try:
            return text.getvalue().encode(self.encoding.removesuffix("-sig"))
        except UnicodeEncodeError as error:
            letter = error.object[error.start]
            raise CannotAdd(
                f"{self.spec.file} is in the older Windows text, which has no {letter!r}. Take it "
                "out, or save the table once as CSV UTF-8."
            ) from error

    def _cell(self, match: Match, text: str) -> str:
        kind = match.column.kind
        if kind in ("number", "whole"):
            return self.number(text)
        if kind == "flag":
            return {"yes": self.yes_no[0], "no": self.yes_no[1]}.get(text, text)
        return guarded(text) if kind == "text" else text

    def moment(self, at: datetime, zone: tzinfo | None, *, exact: bool, offset: bool) -> str:
        """A moment as the file writes it, to the minute or, if ``exact``, to the second."""
        form = "%Y-%m-%d %H:%M" if offset else self.times.form
        exact |= "%S" in form
        if not exact:
            at = at + timedelta(seconds=30)
        elif "%S" not in form:
            form = form.replace("%M", "%M:%S")
        local = at.astimezone(zone)
        shown = local.strftime("%z") if offset or self.times.offset else ""
        return local.strftime(form) + (f"{shown[:3]}:{shown[3:5]}" if shown else "")


def converted(text: str, unit: str | None, to: str | None) -> str:
    """A number in another unit; the text itself when the unit is the same or it is no number."""
    if not unit or not to or unit == to:
        return text
    try:
        return f"{convert(float(text), unit, to):.6g}"
    except ValueError:
        return text


def form_of(spec: Table, data: bytes, *, style: Style = _PLAIN) -> TableForm:
    """How a table is written, from the bytes of its file and what ``batch.toml`` says.

    Raises
    ------
    CannotAdd
        When rows cannot be added to it: UTF-16, no text, no header.
    """
    encoding, text = _decoded(spec.file, data)
    problems = ProblemList()
    records = read_records(data, spec.file, problems)
    if text is None or records is None:
        raise CannotAdd(f"{spec.file} cannot be read as a table. “candlelab check” says why.")
    headings = style.headings.get(spec.name, {})
    if together(spec, records, style, problems)[1] != headings:
        raise CannotAdd(
            f"{spec.file} has day and clock in two columns. The bench adds rows only where both "
            "stand in one: lit_at and out_at."
        )
    found, _ = Header(spec, records, problems, headings).match()
    if not found:
        raise CannotAdd(f"{spec.file} has no header line that can be read.")
    line_end = re.search(r"\r\n|\n|\r", text)
    return TableForm(
        spec,
        records,
        found,
        len(records.header),
        delimiter=records.delimiter,
        line_end=line_end[0] if line_end else "\n",
        encoding=encoding,
        comma=uses_comma(records, found),
        times=_times(records, found, style.slash_dates),
        yes_no=_flags(records, found),
    )


def forms_of(folder: Path, *, style: Style = _PLAIN) -> dict[str, TableForm]:
    """How every table of a folder is written; one without rows takes after the others.

    Raises CannotAdd, as `form_of` does.
    """
    forms = {
        spec.name: form_of(spec, (folder / spec.file).read_bytes(), style=style)
        for spec in TABLES.values()
        if (folder / spec.file).is_file()
    }
    full = [form for form in forms.values() if form.has_rows]
    for name, form in forms.items():
        if not form.has_rows and full:
            comma = form.delimiter != "," and any(other.comma for other in full)
            yes_no = next((other.yes_no for other in full if other.yes_no != _YES_NO["yes"]), None)
            times = next((other.times for other in full if other.times != Times()), form.times)
            forms[name] = replace(form, comma=comma, times=times, yes_no=yes_no or form.yes_no)
    return forms


def form_like(spec: Table, other: TableForm) -> TableForm:
    """How a table that is not there yet is written: like another one of its folder."""
    names = [column.name for column in spec.columns]
    found = {
        column.name: Match(n, column.name, column, split_unit(column.name)[1])
        for n, column in enumerate(spec.columns)
    }
    return replace(other, spec=spec, records=None, found=found, width=len(names))


def header_line(form: TableForm, like: TableForm) -> bytes:
    """The first line of a new table, its names spelled as those of another one are."""
    names = [match.header for match in form.found.values()]
    first = like.found["candle"].header if "candle" in like.found else ""
    if first[:1].isupper():
        names = [capital(name.replace("_", " ")) for name in names]
    mark = codecs.BOM_UTF8 if form.encoding == "utf-8-sig" else b""
    return mark + form.line(names)


def _decoded(file: str, data: bytes) -> tuple[str, str | None]:
    """The encoding to write in, and the text."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or b"\0" in data[:4]:
        raise CannotAdd(
            f"{file} is UTF-16 text. The bench adds lines to UTF-8 only, and changes no file. Save "
            "it once as CSV UTF-8."
        )
    text = decode(data, file, ProblemList())
    if data.startswith(codecs.BOM_UTF8):
        return "utf-8-sig", text
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252", text
    return "utf-8", text


def _texts(records: Records, found: dict[str, Match], kind: str) -> list[str]:
    """The last text of each column of a kind."""
    texts = []
    for match in found.values():
        if match.column.kind == kind:
            cells = records.columns[match.place]
            given = (cells.at(n) for n in range(len(records.lines) - 1, -1, -1))
            texts += [text for text in [next((t for t in given if t), "")] if text]
    return texts


_DAY = {
    r"\d{4}-": "%Y-%m-%d", r"\d+\.\d+\.": "%d.%m.%Y", r"\d+/\d+/": "%d/%m/%Y",
}  # fmt: skip


def _times(records: Records, found: dict[str, Match], slash_dates: str) -> Times:
    """The form of the last moment in a table; ISO 8601 where there is none."""
    texts = _texts(records, found, "time")
    if not texts:
        return Times()
    text = texts[0]
    day = next((form for start, form in _DAY.items() if re.match(start, text)), "%Y-%m-%d")
    if "/" in text and slash_dates.startswith("month"):
        day = "%m/%d/%Y"
    between = "T" if re.match(r"\d{4}-\d\d-\d\dT", text) else " "
    clock = "%H:%M:%S" if re.search(r"\d:\d\d:\d\d", text) else "%H:%M"
    if re.search(r"[AaPp]\.?[Mm]", text):
        clock = clock.replace("%H", "%I") + " %p"
    return Times(f"{day}{between}{clock}", bool(re.search(r"(Z|[+-]\d\d:?\d\d)$", text)))


def _flags(records: Records, found: dict[str, Match]) -> tuple[str, str]:
    """How a table writes yes and no."""
    texts = _texts(records, found, "flag")
    if not texts or texts[0].casefold() not in _YES_NO:
        return "yes", "no"
    yes, no = _YES_NO[texts[0].casefold()]
    if len(texts[0]) > 1 and texts[0].isupper():
        return yes.upper(), no.upper()
    return (capital(yes), capital(no)) if texts[0][0].isupper() else (yes, no)

"""The workbook of a batch folder, and which of its tables are read from it."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from candlelab.logs.cells import Style
from candlelab.logs.column import Table
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_table import read_table, table_of
from candlelab.logs.csv_text import read_records
from candlelab.logs.faults import said
from candlelab.logs.files import content_of
from candlelab.logs.problems import LOOK, MUST_FIX, ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.sheet import Sheet
from candlelab.logs.sheet_table import names_in, records_of
from candlelab.logs.workbook import OTHER_SUFFIXES, SUFFIXES, CannotOpen, read_sheets
from candlelab.text import clip, listed
from candlelab.units import normalise_header

# What a plan leaves beside the logs: its record, with the SHA-256 of every file as it was written,
# and the sheet of its workbook that is no table.
PLAN_RECORD, PLAN_DIGESTS, PLAN_SHEET = "plan.json", "files", "sessions"
_LIKE_A_TABLE = 3  # columns that a sheet of another name must have to be taken for a table


@dataclass(frozen=True, eq=False)
class Book:
    """The workbook of a folder: its name, its bytes, and the sheet of each table that it has.

    ``unread`` has the tables that may be in a workbook that is not read.
    """

    name: str = ""
    data: bytes = b""
    sheets: dict[str, Sheet] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()

    @property
    def tables(self) -> frozenset[str]:
        """The tables that are not missing, for they are in it or may be."""
        return self.unread.union(self.sheets)


def workbooks(folder: Path) -> list[str]:
    """The workbooks in a folder, those that can be read if there are any.

    The lock files of programs that have one open are none.
    """
    names = sorted(
        path.name
        for path in folder.iterdir()
        if path.is_file() and not path.name.startswith(("~$", "."))
    )
    of_kind = [
        [name for name in names if name.lower().endswith(kind)]
        for kind in (SUFFIXES, OTHER_SUFFIXES)
    ]
    return of_kind[0] or of_kind[1]


def book_of(folder: Path, style: Style, problems: ProblemList) -> Book:
    """The workbook of a folder; one as a plan left it is not read where the CSV tables are."""
    names = workbooks(folder)
    csv = {spec.name for spec in TABLES.values() if (folder / spec.file).is_file()}
    if csv:
        names = [name for name in names if not _as_planned(folder, name)]
    if not names:
        return Book()
    lacks = frozenset(spec.name for spec in TABLES.values() if spec.required) - csv
    if len(names) > 1:
        if lacks:
            found = listed(names)
            problems.add(file=names[0], **said("more than one workbook", found=found))
        return Book(unread=lacks)
    data = content_of(folder / names[0], problems)
    if data is None:
        return Book(unread=lacks)
    try:
        sheets = read_sheets(data)
    except CannotOpen as error:
        if not lacks:  # it may be anything
            return Book()
        problems.add(file=names[0], **said(error.problem, found=error.found))
        return Book(names[0], unread=lacks)
    by_table, unread = _by_table(names[0], sheets, csv, style, problems)
    return Book(names[0], data, by_table, unread)


def _as_planned(folder: Path, name: str) -> bool:
    """Whether a file is byte for byte as the plan of this folder wrote it."""
    try:
        known = json.loads((folder / PLAN_RECORD).read_text(encoding="utf-8"))[PLAN_DIGESTS]
        digest = hashlib.sha256((folder / name).read_bytes()).hexdigest()
        return isinstance(known, dict) and known.get(name) == digest
    except (OSError, ValueError, KeyError, TypeError):
        return False


def _by_table(
    book: str, sheets: list[Sheet], csv: set[str], style: Style, problems: ProblemList
) -> tuple[dict[str, Sheet], frozenset[str]]:
    """The sheet of each table, by its name; the tables that sheets of other names may hold."""
    found: dict[str, Sheet] = {}
    others = []
    for sheet in sheets:
        name = normalise_header(sheet.name)
        if len(sheets) == 1 and name not in TABLES:
            stem = normalise_header(Path(book).stem)
            name = stem if stem in TABLES else name
        if name in found:
            texts = said(
                "two sheets for one table", found=f"{found[name].name}, {sheet.name}", name=name
            )
            problems.add(file=book, **texts)
        elif name in TABLES:
            found[name] = sheet
        elif name != PLAN_SHEET:
            others.append(sheet)
    told = {_tell_like(book, sheet, found, csv, style, problems) for sheet in others} - {""}
    needed = [spec.name for spec in TABLES.values() if spec.required and spec.name not in csv]
    if not found and not told and needed:
        texts = {"found": listed(clip(sheet.name) for sheet in sheets), "names": listed(needed)}
        problems.add(file=book, **said("workbook without a table", None, **texts))
    return found, frozenset(told) if found or told else frozenset(needed)


def _tell_like(
    book: str, sheet: Sheet, found: dict, csv: set[str], style: Style, problems: ProblemList
) -> str:
    """Point out a sheet whose columns are those of a table, and whose name is not; the table."""
    counts = {
        name: names_in(sheet, spec, style.headings.get(name, {}))[1]
        for name, spec in TABLES.items()
    }
    name = max(counts, key=counts.__getitem__)
    if counts[name] < _LIKE_A_TABLE:
        return ""
    needed = TABLES[name].required and name not in {*found, *csv}
    texts = {"found": f"the sheet {clip(sheet.name)}", "name": name}
    level = MUST_FIX if needed else LOOK
    problems.add(file=book, **said("sheet of another name", None, level=level, **texts))
    return name


def read_tables(
    folder: Path, data: dict[str, bytes], book: Book, style: Style, problems: ProblemList
) -> dict[str, ReadTable]:
    """Every table that can be read, from its CSV file or from its sheet.

    ``data`` holds the bytes of the CSV files, until they have been read; one that a sheet stands
    for is taken out of it, and the workbook is added to it when it was read.
    """
    tables = {}
    for spec in TABLES.values():
        sheet = book.sheets.get(spec.name)
        if sheet and spec.file in data:
            where = _in_force(folder, spec, data[spec.file], book, style)
            if where != "csv":
                del data[spec.file]
            if where == "neither":
                names = {"sheet": sheet.name, "file": spec.file}
                problems.add(file=book.name, **said("table in two places", None, **names))
            sheet = sheet if where == "sheet" else None
        table = None
        if sheet:
            headings = style.headings.get(spec.name, {})
            records = records_of(sheet, book.name, spec, headings, problems)
            if records is not None and (spec.required or len(records.lines)):
                table = table_of(spec, records, style, problems)
            elif not spec.required:  # a sheet that waits for a first row
                problems.sheets.pop(spec.file, None)
        elif spec.file in data:
            table = table_of(  # which alone has the bytes and the records
                spec, read_records(data.pop(spec.file), spec.file, problems), style, problems
            )
            data[spec.file] = b""
        if table is not None:
            tables[spec.name] = table
    if book.sheets:
        data[book.name] = book.data
    return tables


def _in_force(folder: Path, spec: Table, csv: bytes, book: Book, style: Style) -> str:
    """Which of two places of a table counts: ``csv``, ``sheet``, or ``neither`` of them.

    One that nobody has filled in since it was planned does not count beside the other.
    """
    scratch = ProblemList()
    headings = style.headings.get(spec.name, {})
    records = records_of(book.sheets[spec.name], book.name, spec, headings, scratch)
    one = read_table(spec, csv, style, scratch)
    other = None if records is None else table_of(spec, records, style, scratch)
    if other is None or (len(other.waiting) and not len(other.lines)):
        return "csv"
    if one is None or (len(one.waiting) and not len(one.lines)):
        return "sheet"
    if _same(one.frame, other.frame):
        return "csv"
    return "sheet" if _as_planned(folder, spec.file) else "neither"


def _same(one: pd.DataFrame, other: pd.DataFrame) -> bool:
    """Whether two tables hold the same, but for the rounding of units."""
    try:
        pd.testing.assert_frame_equal(one, other, rtol=1e-9)
    except AssertionError:
        return False
    return True

"""What ``candlelab check`` would say of an entry: it is asked of a copy of the folder."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pandas as pd

from candlelab.bench.reading import FILES, Reading
from candlelab.bench.rows import burn_row, check_rows, other_row
from candlelab.bench.table_form import CannotAdd, header_line
from candlelab.logs.batch import check_batch
from candlelab.logs.cells import Style
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_table import read_table
from candlelab.logs.journal import (
    AT,
    CHECK,
    CORRECT,
    LIGHT,
    NOTE,
    OUT,
    PHOTO,
    SET_ASIDE,
    WEIGH,
    WICK_CHANGE,
    Entry,
    Logbook,
    LoggedBurn,
    column_of,
    moment_of,
)
from candlelab.logs.problems import MUST_FIX, PROBLEM_COLUMNS, ProblemList
from candlelab.pages.leftovers import own_folder

# Cells that are empty until the burn goes on.
_LATER = {
    LIGHT: ("out_at", "mass_after_g"),
    OUT: ("mass_after_g",),
    NOTE: ("mass_after_g",),
    PHOTO: ("mass_after_g",),
}
_OWN = {
    OUT: ("out_at", "ended_by", "aftersmoke_s", "note"),
    WEIGH: ("mass_after_g", "aftersmoke_s", "note"),
    NOTE: ("note",),
    PHOTO: ("note",),
}


def problems_of(folder: Path, reading: Reading, book: Logbook, entry: Entry) -> pd.DataFrame:
    """Problems that the row of an entry has, as ``check_batch`` lists them.

    ``line`` and ``row`` are where the row would stand. Corrections are asked as the entry that they
    correct.
    """
    if entry.kind == CORRECT:
        return _of_correction(folder, reading, book, entry)
    if entry.kind not in (LIGHT, CHECK, OUT, WEIGH, WICK_CHANGE, SET_ASIDE, NOTE, PHOTO):
        return _none()
    burn = _with(book.burns.get((entry.candle, entry.burn)), entry)
    if burn is None and entry.kind not in (WICK_CHANGE, SET_ASIDE):
        return _none()
    with own_folder("bench") as shadow:
        for name in FILES:
            if (folder / name).is_file():
                shutil.copyfile(folder / name, shadow / name)
        try:
            line = _write_rows(shadow, reading, burn, entry)
        except CannotAdd as error:
            return _told(error, entry)
        found = check_batch(shadow)
    here = found[(found["file"] == TABLES[entry.table].file) & (found["line"] == line)]
    waits = here["column"].isin(_headers(reading, _LATER.get(entry.kind, ())))
    here = here[~(waits & (here["problem"] == "empty cell"))]
    if entry.kind == CHECK:  # the form asks for each of them
        here = here[here["problem"] != "not written down"]
    if entry.kind in _OWN:  # what was said when it was lit is not said again
        own = ["", *_headers(reading, _OWN[entry.kind])]
        here = here[here["column"].isin(own) | (here["level"] == MUST_FIX)]
    return here.reset_index(drop=True)


def _headers(reading: Reading, columns: tuple[str, ...]) -> list[str]:
    """Columns of ``burns.csv`` as the file spells them."""
    found = reading.form("burns").found
    return [found[name].header for name in columns if name in found]


def _with(burn: LoggedBurn | None, entry: Entry) -> LoggedBurn | None:
    """The burn with one more entry, which comes last."""
    if entry.kind == LIGHT:
        return replace(burn, light=entry) if burn else LoggedBurn(entry)
    if burn is None:
        return None
    if entry.kind == CHECK:
        others = [check for check in burn.checks if check.id != entry.id]
        return replace(burn, checks=[*others, entry])
    if entry.kind == OUT:
        return replace(burn, out=entry)
    if entry.kind == WEIGH:
        return replace(burn, weigh=entry)
    return replace(burn, notes=[*burn.notes, entry])


def _write_rows(shadow: Path, reading: Reading, burn: LoggedBurn | None, entry: Entry) -> int:
    """Add the rows that the entry's row needs beside it; returns the line of its row."""
    lines = {}
    if burn:
        lasting = burn if burn.out or entry.kind == LIGHT else _until(burn, entry, reading)
        row = burn_row(lasting, reading.form("burns"), reading.zone)
        lines["burns"] = _add(shadow, reading, "burns", row)
        for row in check_rows(burn, reading.form("checks")).values():
            lines["checks"] = _add(shadow, reading, "checks", row)
    elif entry.burn:
        form = reading.form("burns")
        lit = form.moment(entry.at, reading.zone, exact=False, offset=False)
        row = {"candle": entry.candle, "burn": str(entry.burn), "lit_at": lit}
        _add(shadow, reading, "burns", row)
    if entry.kind in (WICK_CHANGE, SET_ASIDE):
        row = other_row(entry, reading.form(entry.table))
        lines[entry.table] = _add(shadow, reading, entry.table, row)
    return lines[entry.table]


def _until(burn: LoggedBurn, entry: Entry, reading: Reading) -> LoggedBurn:
    """A burn that is alight, as if it went on to its end."""
    end = burn.light.at + timedelta(hours=reading.settings.protocol.burn_h)
    last = max([end, entry.at, *(check.at for check in burn.checks)])
    return replace(burn, out=replace(burn.light, kind=OUT, at=last, values={}))


def _add(shadow: Path, reading: Reading, table: str, row: dict[str, str]) -> int:
    """Add a row to a table of the copy; returns its line."""
    form, path = reading.form(table), shadow / TABLES[table].file
    data = path.read_bytes() if path.is_file() else header_line(form, reading.form("burns"))
    end = form.line_end.encode()
    data += b"" if data.endswith((b"\n", b"\r")) else end
    path.write_bytes(data + form.row(row))
    return data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").count(b"\n") + 1


def _of_correction(folder: Path, reading: Reading, book: Logbook, entry: Entry) -> pd.DataFrame:
    old = next((book.entries[one] for one in entry.of if one in book.entries), None)
    if old is None:
        return _none()
    values = {name: text for name, text in entry.values.items() if name != AT}
    at = moment_of(entry.values.get(AT)) or old.at
    corrected = replace(old, values=old.values | values, at=at)
    if book.in_table(old):
        return _of_cells(reading, corrected, values)
    return problems_of(folder, reading, book, corrected)


def _of_cells(reading: Reading, entry: Entry, values: dict[str, str]) -> pd.DataFrame:
    """Problems of single cells, for a correction that no row will show."""
    form, problems = reading.form(entry.table), ProblemList()
    row = {meant[0].name: text for name, text in values.items()
           if (meant := column_of(entry.table, name))}  # fmt: skip
    row |= {"candle": entry.candle, "burn": str(entry.burn or "")}
    data = form.line([match.header for match in form.found.values()])
    places = {name: n for n, name in enumerate(form.found)}
    cells = ["" for _ in places]
    for name, text in row.items():
        if name in places:
            cells[places[name]] = form.number(text)
    style = Style(headings=reading.settings.columns)
    read_table(form.spec, data + form.line(cells), style, problems)
    found = problems.table()
    return found[found["problem"] != "empty cell"].reset_index(drop=True)


def _told(error: CannotAdd, entry: Entry) -> pd.DataFrame:
    problems = ProblemList()
    place = {"file": TABLES[entry.table].file, "candle": entry.candle}
    problems.add(level=MUST_FIX, problem="cannot be written", do=str(error), **place)
    return problems.table()


def _none() -> pd.DataFrame:
    return pd.DataFrame([], columns=list(PROBLEM_COLUMNS)).astype(PROBLEM_COLUMNS)

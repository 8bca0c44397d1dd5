"""What the bench's journal knows and the tables do not show: open burns, corrections, lost rows."""

from __future__ import annotations

from datetime import datetime, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from candlelab.logs.cells import Style, read_column
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_text import Cells
from candlelab.logs.faults import said
from candlelab.logs.journal import (
    AT,
    CHECK,
    JOURNAL,
    LIGHT,
    OUT,
    WITHDRAW,
    Entry,
    Logbook,
    LoggedBurn,
    column_of,
    moment_of,
)
from candlelab.logs.problems import ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.settings import Settings
from candlelab.text import counted

_SAME_MIN = 1.0  # tables hold moments to the minute
_MOMENT_COLUMN = {LIGHT: "lit_at", OUT: "out_at", CHECK: "elapsed_min"}


def check_journal(
    book: Logbook, tables: dict[str, ReadTable], settings: Settings | None, problems: ProblemList
) -> None:
    """Note what the journal knows beyond the tables."""
    zone = bench_zone(settings)
    for burn in book.open_burns():
        _tell_open(burn, zone, problems)
    for (table, n, column), value in _late(book, tables).items():
        if not _same(table.frame[column].iat[n], value, column, zone):
            texts = {"found": _shown(table, n, column), "text": _words(table, column, value)}
            table.tell(problems, "corrected at the bench", n, column=column, **texts)
    _tell_withdrawn(book, tables, problems)
    _tell_gone(book, tables, problems)


def bench_zone(settings: Settings | None) -> tzinfo | None:
    """The zone of the bench's clock: the batch's, or None for the computer's own."""
    return ZoneInfo(settings.time_zone) if settings and settings.time_zone else None


def on_the_clock(value: pd.Timestamp, zone: tzinfo | None) -> datetime | None:
    """The moment of a time as a table gives it; without a zone it is the computer's own time."""
    if pd.isna(value):
        return None
    at = value.to_pydatetime()
    return at if zone else at.replace(tzinfo=None).astimezone()


def _tell_open(burn: LoggedBurn, zone: tzinfo | None, problems: ProblemList) -> None:
    """Note a burn whose row is not in the table yet."""
    light, out = burn.light, burn.out
    state = "still alight"
    if out:
        how = {"self": "went out by itself", "stopped": "stopped"}
        ended = how.get(out.values.get("ended_by", ""), "put out")
        lacks = "not in burns.csv" if burn.weigh else "not weighed"
        state = f"{ended} after {(out.at - light.at).total_seconds() / 3600:.2f} h, {lacks}"
    texts = said(
        "burn not finished",
        found=f"burn {light.burn}, lit {light.at.astimezone(zone):%Y-%m-%d %H:%M}, {state}",
        seen=f"Seen: {', '.join(seen)}. " if (seen := _seen(burn)) else "",
        do="Weigh it" if out else "Put it out and weigh it",
        checks=counted(len(burn.checks), "check"),
    )
    place = {"line": light.line, "row": light.line, "candle": light.candle}
    problems.add(file=JOURNAL, **place, **texts)


def _seen(burn: LoggedBurn) -> list[str]:
    """What was answered with yes at a check of an open burn: it shall not wait unseen."""
    labels = {column.name: column.label for column in TABLES["checks"].columns}
    yes = (name for check in burn.checks for name, text in check.values.items() if text == "yes")
    return [labels.get(name, name) for name in dict.fromkeys(yes)]


def _late(book: Logbook, tables: dict[str, ReadTable]) -> dict[tuple[ReadTable, int, str], object]:
    """Cells that a correction came too late for, by table, row and column, and the last value."""
    values = {}
    for old, entry in book.late:
        row = _row(book, tables, old) if entry.kind != WITHDRAW else None
        if row is None:
            continue
        for name, text in entry.values.items():
            if name == AT and old.kind in _MOMENT_COLUMN:
                values[(*row, _MOMENT_COLUMN[old.kind])] = _moment(book, old, text)
            elif meant := column_of(old.table, name):
                cells = Cells(np.zeros(1, dtype=int), [text])
                read, wrong = read_column(cells, *meant, Style())
                values |= {} if wrong else {(*row, meant[0].name): read.iat[0]}
    return values


def _row(book: Logbook, tables: dict[str, ReadTable], old: Entry) -> tuple[ReadTable, int] | None:
    """The table and the row place of an entry; None where there is none."""
    table = tables.get(old.table)
    if table is None:
        return None
    frame = table.frame
    number = "before_burn" if "before_burn" in frame else "burn"
    there = (frame["candle"] == old.candle) & (frame[number].fillna(0) == old.burn)
    if old.kind == CHECK:
        there &= _near(frame["elapsed_min"], book.written.get(old.id, ""))
    rows = np.flatnonzero(there)
    return (table, int(rows[0])) if len(rows) else None


def _near(minutes: pd.Series, text: str) -> pd.Series:
    """Where minutes are those that were written, however the file rounds hours."""
    try:
        return (minutes - float(text)).abs() < 0.1
    except ValueError:
        return minutes.isna()


def _moment(book: Logbook, old: Entry, text: str) -> pd.Timestamp | float:
    """A corrected moment as the table holds it: itself, or minutes since lighting."""
    at = moment_of(text) or old.at
    burn = book.burns.get((old.candle, old.burn))
    if old.kind == CHECK:
        return round((at - burn.light.at).total_seconds() / 60) if burn else float("nan")
    return pd.Timestamp(at)


def _same(value, corrected, column: str, zone: tzinfo | None) -> bool:
    """Whether a cell holds what a correction says."""
    if pd.isna(value) or pd.isna(corrected):
        return pd.isna(value) and pd.isna(corrected)
    if isinstance(value, pd.Timestamp):
        apart = on_the_clock(value, zone) - corrected
        return abs(apart.total_seconds()) < 60 * _SAME_MIN
    if isinstance(value, str):
        return corrected in value
    near = _SAME_MIN if column == "elapsed_min" else 1e-6 * max(1.0, abs(corrected))
    return abs(float(value) - float(corrected)) <= near


def _shown(table: ReadTable, n: int, column: str) -> str:
    return _words(table, column, table.frame[column].iat[n])


def _words(table: ReadTable, column: str, value) -> str:
    """A value as its table shows it."""
    kind = table.spec.column(column).kind
    if pd.isna(value) or value == "":
        return "an empty cell"
    if kind == "time":
        return f"{value.tz_convert(table.frame[column].dt.tz):%Y-%m-%d %H:%M}"
    if kind in ("number", "whole"):
        return table.show(column, float(value))
    return {True: "yes", False: "no"}[bool(value)] if kind == "flag" else str(value)


def _tell_withdrawn(book: Logbook, tables: dict[str, ReadTable], problems: ProblemList) -> None:
    for old, entry in book.late:
        if entry.kind == WITHDRAW and (row := _row(book, tables, old)):
            table, n = row
            table.tell(problems, "withdrawn at the bench", n)


def _tell_gone(book: Logbook, tables: dict[str, ReadTable], problems: ProblemList) -> None:
    """Rows that the bench wrote and that are in their table no more."""
    withdrawn = {old.id for old, entry in book.late if entry.kind == WITHDRAW}
    for burn in book.burns.values():
        rows = [burn.light, *burn.checks] if burn.written else []
        gone = [e for e in rows if e.id not in withdrawn and not _row(book, tables, e)]
        for table in dict.fromkeys(e.table for e in gone):
            missing = [e for e in gone if e.table == table]
            count = counted(len(missing), "row") if table == "checks" else "its row"
            found = f"burn {burn.light.burn}: {count} missing"
            texts = said("row gone from its table", found=found)
            problems.add(file=TABLES[table].file, candle=burn.light.candle, **texts)

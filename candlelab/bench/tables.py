"""Brings the tables of a folder up to its journal, by adding rows at their ends."""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from candlelab.bench.append import append, contents, locked
from candlelab.bench.rows import burn_row, check_rows, elapsed_minutes, other_row
from candlelab.bench.table_form import CannotAdd, TableForm, form_like, forms_of, header_line
from candlelab.logs.batch import Logs
from candlelab.logs.cells import style_of
from candlelab.logs.columns import TABLES
from candlelab.logs.journal import CHECK, IN_TABLE, SET_ASIDE, Entry, Logbook, LoggedBurn
from candlelab.logs.journal_rules import bench_zone, on_the_clock
from candlelab.logs.settings import Settings

ORDER = ("burns", "checks", "wick_changes", "exclusions")


@dataclass
class BroughtUp:
    """Entries whose row is in its table now, a check with its minutes; what stood in the way."""

    marks: dict[str, str] = field(default_factory=dict)
    reasons: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class _Row:
    """A row that its table has not, with its entry and the minutes of a check."""

    id: str
    table: str
    text: bytes
    mark: str = ""


def bring_up(folder: Path, logs: Logs) -> Iterator[BroughtUp]:
    """Add to the tables what the journal has and they have not, table by table.

    Each answer is to be marked in the journal before the next is asked for: rows that are there and
    not marked were added just before a stop, and are not added again.
    """
    due = list(_due(logs.book, logs))
    if not due:
        return
    try:
        forms = forms_of(folder, style=style_of(logs.settings))
    except (CannotAdd, OSError) as error:
        yield BroughtUp(reasons=[_reason(error)])
        return
    for table in ORDER:
        own = [entry for entry in due if entry[0] == table]
        if own:
            done = _bring_up_table(folder, table, own, forms, logs)
            yield done
            if done.reasons:
                return  # a check without its burn belongs nowhere


def _reason(error: Exception) -> str:
    if isinstance(error, OSError):
        name = Path(error.filename).name if error.filename else "a table"
        return f"{name} cannot be added to: {error.strerror or error}. Close it in other programs."
    return str(error)


def _due(book: Logbook, logs: Logs) -> Iterator[tuple[str, LoggedBurn | None, Entry]]:
    """Table, burn and entry of every row that is not marked as written."""
    there = _burns_there(logs)
    for key, burn in book.burns.items():
        if burn.whole:
            there.add(key)
            rows = [burn.light, *burn.checks]
            yield from ((e.table, burn, e) for e in rows if e.id not in book.written)
    for entry in book.others.values():
        known = (entry.candle, entry.burn) in there or (entry.kind == SET_ASIDE and not entry.burn)
        if known and entry.id not in book.written:
            yield entry.table, None, entry


def _burns_there(logs: Logs) -> set[tuple[str, int]]:
    if "burns" not in logs.tables:
        return set()
    frame = logs.tables["burns"].frame.dropna(subset="burn")
    return set(zip(frame["candle"], frame["burn"].astype(int), strict=True))


def _bring_up_table(folder: Path, table: str, due, forms: dict[str, TableForm], logs: Logs):
    """Add the rows of one table that are not in it."""
    done, spec = BroughtUp(), TABLES[table]
    form = forms.get(table) or form_like(spec, forms["burns"])
    rows = []
    try:
        for _, burn, entry in due:
            row = _row(entry, burn, form, logs.settings)
            found = _in_table(entry, burn, row.mark, logs)
            if found == "ours":
                done.marks[row.id] = row.mark
            elif found:
                done.reasons.append(found)
            else:
                rows.append(row)
        if rows:
            _add(folder / spec.file, rows, form, forms["burns"])
            done.marks |= {row.id: row.mark for row in rows}
    except (CannotAdd, OSError) as error:
        done.reasons.append(_reason(error))
    return done


def _row(entry: Entry, burn: LoggedBurn | None, form: TableForm, settings: Settings | None) -> _Row:
    table = form.spec.name
    if burn and entry.kind == CHECK:
        mark = f"{elapsed_minutes(burn)[entry.id]:g}"
        return _Row(entry.id, table, form.row(check_rows(burn, form)[entry.id]), mark)
    if burn:
        return _Row(entry.id, table, form.row(burn_row(burn, form, bench_zone(settings))))
    return _Row(entry.id, table, form.row(other_row(entry, form)))


def _in_table(entry: Entry, burn: LoggedBurn | None, mark: str, logs: Logs) -> str:
    """``ours`` when the row of an entry is in its table, a sentence when somebody else's is."""
    table = logs.tables.get(entry.table)
    if table is None:
        return ""
    frame = table.frame[~table.muted]
    number = "before_burn" if "before_burn" in frame else "burn"
    there = (frame["candle"] == entry.candle) & (frame[number].fillna(0) == entry.burn)
    if entry.kind == CHECK:
        there &= (frame["elapsed_min"] - float(mark)).abs() < 0.1
    if not there.any():
        return ""
    if burn and entry.kind != CHECK:
        lit = on_the_clock(frame.loc[there, "lit_at"].iloc[0], bench_zone(logs.settings))
        if lit is None or abs((lit - burn.light.at).total_seconds()) > 60:
            return (
                f"{table.spec.file} has a burn {entry.burn} of {entry.candle} already, lit at "
                "another time. Correct its number there; the bench's stays in bench.jsonl."
            )
    return "ours"


def _add(path: Path, rows: list[_Row], form: TableForm, like: TableForm) -> None:
    """Add rows at the end of a table; a row that a stop cut short is carried on."""
    text, line_end = b"".join(row.text for row in rows), form.line_end.encode()
    with locked(path) as descriptor:
        data = contents(descriptor)
        if not data:
            append(descriptor, header_line(form, like) + text, line_end=line_end)
            return
        torn = data[max(data.rfind(b"\n"), data.rfind(b"\r")) + 1 :]
        if torn and text.startswith(torn):
            append(descriptor, text[len(torn) :], line_end=b"")
        else:
            append(descriptor, text, line_end=line_end)


def mark_line(marks: dict[str, str], now: datetime) -> bytes:
    """The line of the journal that says which entries have their row in a table."""
    values = {one: mark for one, mark in marks.items() if mark}
    mark = {"id": uuid.uuid4().hex, "kind": IN_TABLE, "at": now.astimezone(UTC).isoformat()}
    return line_of(mark | {"of": list(marks)} | ({"values": values} if values else {}))


def line_of(data: dict) -> bytes:
    """One line of the journal."""
    return json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"

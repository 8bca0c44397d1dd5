"""What the bench page wrote down, entry by entry, and the burns that the entries make.

``bench.jsonl`` holds one JSON object a line and is only ever added to. A burn is *open* from
lighting until it has been weighed; its rows go to the tables when it is whole. This module reads.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from candlelab.logs.column import Column
from candlelab.logs.columns import TABLES
from candlelab.logs.faults import said
from candlelab.logs.problems import ProblemList
from candlelab.units import UNITS, split_unit

JOURNAL = "bench.jsonl"
LIGHT, CHECK, OUT, WEIGH, NOTE, PHOTO = "light", "check", "out", "weigh", "note", "photo"
WICK_CHANGE, SET_ASIDE = "wick_change", "set_aside"
CORRECT, WITHDRAW, IN_TABLE, AGAIN = "correct", "withdraw", "in_table", "again"
# The table that the values of each kind of entry go to.
TABLE_OF = {
    LIGHT: "burns", OUT: "burns", WEIGH: "burns", NOTE: "burns", PHOTO: "burns", CHECK: "checks",
    WICK_CHANGE: "wick_changes", SET_ASIDE: "exclusions",
}  # fmt: skip
KINDS = (*TABLE_OF, CORRECT, WITHDRAW, IN_TABLE, AGAIN)
AT = "at"  # among the values of a correction: the moment itself


@dataclass(frozen=True)
class Entry:
    """One line of the journal.

    ``values`` holds texts by column, each named with the unit it was read in (``wall_f``), numbers
    with a decimal point. ``of`` names the entries that a correction or a mark speaks of.
    """

    id: str
    kind: str
    at: datetime
    candle: str = ""
    burn: int = 0
    values: dict[str, str] = field(default_factory=dict)
    of: tuple[str, ...] = ()
    line: int = 0

    @property
    def table(self) -> str:
        """The table that its values go to."""
        return TABLE_OF[self.kind]


@dataclass
class LoggedBurn:
    """A burn as the journal tells it; ``written`` says that its row is in the table."""

    light: Entry
    out: Entry | None = None
    weigh: Entry | None = None
    checks: list[Entry] = field(default_factory=list)
    notes: list[Entry] = field(default_factory=list)
    written: bool = False

    @property
    def whole(self) -> bool:
        """Whether it was lit, put out and weighed."""
        return self.out is not None and self.weigh is not None

    @property
    def entries(self) -> list[Entry]:
        """Everything that was written down of it, in order."""
        some = [self.light, *self.checks, *self.notes, self.out, self.weigh]
        return sorted((entry for entry in some if entry), key=lambda entry: entry.line)


@dataclass
class Logbook:
    """The journal read to its end.

    ``entries`` has every entry with values, as it was last corrected; ``burns`` by candle and
    number; ``others`` are wick changes and what was set aside. ``written`` has the entries whose
    row is in its table, a check with its minutes there; ``late`` the corrections and withdrawals of
    such entries, which no table shows.
    """

    ids: set[str] = field(default_factory=set)
    entries: dict[str, Entry] = field(default_factory=dict)
    burns: dict[tuple[str, int], LoggedBurn] = field(default_factory=dict)
    others: dict[str, Entry] = field(default_factory=dict)
    written: dict[str, str] = field(default_factory=dict)
    late: list[tuple[Entry, Entry]] = field(default_factory=list)

    def in_table(self, entry: Entry) -> bool:
        """Whether the row that an entry belongs to is in its table."""
        burn = self.burns.get((entry.candle, entry.burn))
        return entry.id in self.written or (
            entry.table == "burns" and burn is not None and burn.light.id in self.written
        )

    def open_burns(self) -> list[LoggedBurn]:
        """Burns whose row is not in the table yet, in the order in which they were lit."""
        return [burn for burn in self.burns.values() if not burn.written]

    def open_burn(self, candle: str) -> LoggedBurn | None:
        """The open burn of a candle."""
        return next((burn for burn in self.open_burns() if burn.light.candle == candle), None)


def column_of(table: str, name: str) -> tuple[Column, str | None] | None:
    """The column that a name means, and the unit it names; None when it means none."""
    columns = {column.name: column for column in TABLES[table].columns}
    stem, unit = split_unit(name)
    if name in columns:
        return columns[name], unit
    for column in columns.values():
        own_stem, own = split_unit(column.name)
        same_kind = unit and own and UNITS[unit].dimension == UNITS[own].dimension
        if same_kind and own_stem == stem:
            return column, unit
    return None


def moment_of(text: object) -> datetime | None:
    """A moment in UTC from its text in ISO 8601 with an offset; None when it is none."""
    try:
        read = datetime.fromisoformat(text) if isinstance(text, str) else None
        return read.astimezone(UTC) if read and read.tzinfo and 1900 < read.year < 2200 else None
    except (ValueError, OverflowError):
        return None


def entry_of(data: object, line: int = 0) -> Entry | None:
    """An entry from what a line of JSON holds; None when it is none."""
    if not isinstance(data, dict):
        return None
    at, burn, values, of = (data.get(name) for name in ("at", "burn", "values", "of"))
    burn, values, of = burn or 0, values or {}, of or []
    texts = [data.get("id"), data.get("kind"), data.get("candle", "")]
    right = (
        all(isinstance(text, str) for text in texts)
        and isinstance(burn, int)
        and 0 <= burn < 10_000
        and isinstance(values, dict)
        and all(isinstance(value, str) for value in values.values())
        and isinstance(of, list)
        and all(isinstance(one, str) for one in of)
    )
    moment = moment_of(at)
    if not right or not texts[0] or texts[1] not in KINDS or moment is None:
        return None
    return Entry(texts[0], texts[1], moment, texts[2], int(burn), values, tuple(of), line)


def read_entries(data: bytes, problems: ProblemList | None = None) -> Iterator[Entry]:
    """The entries of a journal, each id once; a line that is none is told and passed over."""
    seen = set()
    lines = data.split(b"\n")
    for n, text in enumerate(lines, start=1):
        if not text.strip():
            continue
        try:
            entry = entry_of(json.loads(text.decode("utf-8")), n) if n < len(lines) else None
        except (ValueError, RecursionError):
            entry = None
        if entry is None:
            if problems is not None:
                found = text[:200].decode("utf-8", "replace")
                texts = said("line of the journal that cannot be read", found=found)
                problems.add(file=JOURNAL, line=n, row=n, **texts)
        elif entry.id not in seen:
            seen.add(entry.id)
            yield entry


def logbook(entries: Iterator[Entry]) -> Logbook:
    """The burns, wick changes and set-asides that entries make."""
    book = Logbook()
    for entry in entries:
        book.ids.add(entry.id)
        if entry.kind == IN_TABLE:
            book.written |= {one: entry.values.get(one, "") for one in entry.of}
        elif entry.kind == AGAIN:
            book.written = {k: v for k, v in book.written.items() if k not in entry.of}
        elif entry.kind in (CORRECT, WITHDRAW):
            _change(book, entry)
        else:
            book.entries[entry.id] = entry
            if entry.kind == LIGHT:
                book.burns.setdefault((entry.candle, entry.burn), LoggedBurn(entry))
    book.burns = {}
    for entry in book.entries.values():
        _put(book, entry)
    for burn in book.burns.values():
        burn.written = burn.light.id in book.written
    return book


def _change(book: Logbook, entry: Entry) -> None:
    """Correct or withdraw an entry; late, where its row is in a table already."""
    for old in [book.entries[one] for one in entry.of if one in book.entries]:
        if book.in_table(old):
            book.late.append((old, entry))
        elif entry.kind == WITHDRAW:
            del book.entries[old.id]
        else:
            values = {name: text for name, text in entry.values.items() if name != AT}
            at = moment_of(entry.values.get(AT)) or old.at
            book.entries[old.id] = replace(old, values=old.values | values, at=at)


def _put(book: Logbook, entry: Entry) -> None:
    """Put an entry where it belongs; what belongs to a burn that was withdrawn is left out."""
    key = (entry.candle, entry.burn)
    if entry.kind in (WICK_CHANGE, SET_ASIDE):
        book.others[entry.id] = entry
    elif entry.kind == LIGHT:
        book.burns.setdefault(key, LoggedBurn(entry))
    elif burn := book.burns.get(key):
        if entry.kind == CHECK:
            burn.checks.append(entry)
        elif entry.kind in (NOTE, PHOTO):
            burn.notes.append(entry)
        elif entry.kind == OUT:
            burn.out = burn.out or entry
        else:
            burn.weigh = burn.weigh or entry


def read_logbook(data: bytes, problems: ProblemList | None = None) -> Logbook:
    """The logbook of a journal's bytes."""
    return logbook(read_entries(data, problems))

"""The desk of one batch: takes entries, and answers only when the disk has them.

Journal first, then the tables. Every door of the bench page, and every process, goes through here.
"""

from __future__ import annotations

import os
import re
import threading
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pandas as pd

from candlelab.bench.append import append, contents, locked
from candlelab.bench.drafts import problems_of
from candlelab.bench.reading import Reader, Reading
from candlelab.bench.rows import plain_values
from candlelab.bench.scale import ScaleReader
from candlelab.bench.tables import bring_up, line_of, mark_line
from candlelab.bench.transitions import why_not
from candlelab.logs.journal import (
    AGAIN,
    CORRECT,
    IN_TABLE,
    JOURNAL,
    KINDS,
    OUT,
    TABLE_OF,
    WITHDRAW,
    Entry,
    Logbook,
    entry_of,
    read_logbook,
)
from candlelab.logs.problems import MUST_FIX

SAVED, REFUSED, NOT_WRITTEN = "saved", "refused", "not written"
_ID = re.compile(r"[A-Za-z0-9-]{8,64}")
_AHEAD = timedelta(minutes=2)  # how far a moment may lie ahead of the server's clock
_LONGEST = 2000  # letters of a text
_KEPT = ("id", "kind", "candle", "burn", "at", "values", "of", "scale")


@dataclass(frozen=True)
class Answer:
    """What became of an entry: ``status``, why, and the problems of its row.

    ``tables`` says what stood in the way of a table; the entry itself is safe in the journal.
    """

    id: str
    status: str
    why: str = ""
    problems: list[dict] = field(default_factory=list)
    tables: list[str] = field(default_factory=list)


class Desk:
    """One batch folder, to which entries are added.

    Parameters
    ----------
    folder : pathlib.Path
        The batch folder.
    clock : callable, optional
        Gives the moment; the computer's clock when not given.
    """

    def __init__(self, folder: Path, clock: Callable[[], datetime] | None = None) -> None:
        self.folder = folder
        self.reader = Reader(folder)
        self.now = clock or (lambda: datetime.now(UTC))
        self.lock = threading.Lock()  # a lock on a file does not hold off one's own threads
        self.behind: list[str] = []
        self._scale: ScaleReader | None = None

    def catch_up(self) -> list[str]:
        """Bring the tables up to the journal; returns what stood in the way."""
        with self.lock:
            if (self.folder / JOURNAL).is_file():
                try:
                    with locked(self.folder / JOURNAL) as journal:
                        self._bring_up(journal)
                except OSError as error:
                    self.behind = [f"{JOURNAL} cannot be added to: {error.strerror or error}."]
            return self.behind

    def scale(self) -> ScaleReader:
        """The scale that batch.toml names; opened anew when that has changed."""
        settings = self.reader.reading().settings.scale
        if self._scale is None or self._scale.settings != settings:
            if self._scale:
                self._scale.close()
            self._scale = ScaleReader(settings)
        return self._scale

    def draft(self, data: object) -> list[dict]:
        """The problems that an entry's row would have, as ``candlelab check`` words them."""
        entry = self._entry(data)
        if entry is None or self._unfit(entry):
            return []
        return self._asked(self.reader.reading(), self.reader.book(), entry)

    def record(self, data: dict, device_at: datetime | None = None) -> Answer:
        """Write an entry down. It is saved when the answer says so, and only then."""
        entry = self._entry(data)
        if entry is None:
            return Answer(str(data.get("id", ""))[:64], REFUSED, "This is no entry of the bench.")
        if why := self._unfit(entry):
            return Answer(entry.id, REFUSED, why)
        with self.lock:
            try:
                with locked(self.folder / JOURNAL) as journal:
                    return self._record(journal, entry, data, device_at)
            except OSError as error:
                return Answer(entry.id, NOT_WRITTEN, f"Not written: {error.strerror or error}.")

    def _record(self, journal: int, entry: Entry, data: dict, device_at: datetime | None) -> Answer:
        book = read_logbook(contents(journal))
        if entry.id in book.ids:
            os.fsync(journal)
            return Answer(entry.id, SAVED, tables=self._bring_up(journal, book))
        reading = self.reader.reading()
        if why := why_not(entry, book, reading):
            return Answer(entry.id, REFUSED, why)
        problems = self._asked(reading, book, entry)
        must_fix = any(one["level"] == MUST_FIX for one in problems)
        if must_fix and entry.kind != OUT:  # a flame that is out is out
            why = "Something must be fixed before it can be saved."
            return Answer(entry.id, REFUSED, why, problems)
        append(journal, line_of(self._line(data | {"values": entry.values}, device_at)))
        return Answer(entry.id, SAVED, problems=problems, tables=self._bring_up(journal))

    def _asked(self, reading: Reading, book: Logbook, entry: Entry) -> list[dict]:
        """The problems of an entry's row; none where the question itself fails."""
        try:
            return _plain(problems_of(self.folder, reading, book, entry))
        except Exception:  # no room for the copy, a fault of ours: the entry is kept all the same
            return []

    def _line(self, data: dict, device_at: datetime | None) -> dict:
        """What is kept of an entry, with how far the device's clock was off, where it was."""
        kept = {name: data[name] for name in _KEPT if data.get(name) not in (None, "", {}, [])}
        now = self.now()
        off = round((device_at - now).total_seconds()) if device_at else 0
        return kept | {"written": now.isoformat()} | ({"device_s": off} if abs(off) > 60 else {})

    def _bring_up(self, journal: int, book: Logbook | None = None) -> list[str]:
        """Bring the tables up, marking in the journal what they have."""
        book = book or read_logbook(contents(journal))
        self.behind = []
        try:
            logs = self.reader.reading().logs._replace(book=book)
            for done in bring_up(self.folder, logs):
                if done.marks:
                    append(journal, mark_line(done.marks, self.now()))
                self.behind += done.reasons
        except Exception as error:  # the entry is safe in the journal; the tables follow later
            self.behind.append(f"The tables were not added to: {error}")
        return self.behind

    def _entry(self, data: object) -> Entry | None:
        """An entry from what a page sent, its numbers with a decimal point."""
        entry = entry_of(data)
        if entry is None or not entry.values:
            return entry
        kind, reading = entry.kind, self.reader.reading()
        if kind == CORRECT:
            known = self.reader.book().entries
            kind = next((known[one].kind for one in entry.of if one in known), kind)
        if kind not in TABLE_OF:
            return entry
        form = reading.form(TABLE_OF[kind])
        return replace(entry, values=plain_values(replace(entry, kind=kind), form))

    def _unfit(self, entry: Entry) -> str:
        """Why an entry cannot be one of this batch, whatever the journal holds."""
        if not _ID.fullmatch(entry.id) or entry.kind not in KINDS or entry.kind == IN_TABLE:
            return "This is no entry of the bench."
        if entry.at > self.now() + _AHEAD:
            return "Its time has not come yet: a clock is wrong."
        if any(len(text) > _LONGEST for text in entry.values.values()):
            return f"A text is longer than {_LONGEST:,} letters."
        candles = self.reader.reading().tables
        if entry.kind not in (CORRECT, WITHDRAW, AGAIN) and entry.candle not in candles:
            return f"There is no candle {entry.candle} in candles.csv."
        return ""


def _plain(problems: pd.DataFrame) -> list[dict]:
    """Problems as plain data."""
    return problems.astype(object).where(problems.notna(), None).to_dict("records")

"""A batch folder as the bench sees it, read again only when one of its files has changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from candlelab.bench.candle_status import Standing, from_tables, with_journal
from candlelab.bench.limits import Limit, limits_of
from candlelab.bench.table_form import CannotAdd, TableForm, form_like, forms_of
from candlelab.logs.batch import Logs, read_logs
from candlelab.logs.book import workbooks
from candlelab.logs.cells import style_of
from candlelab.logs.columns import TABLES
from candlelab.logs.journal import JOURNAL, Logbook, read_logbook
from candlelab.logs.journal_rules import bench_zone
from candlelab.logs.problems import MUST_FIX, SETTINGS_FILE
from candlelab.logs.settings import Settings

if TYPE_CHECKING:
    from candlelab.plan.planned import PlannedBatch

PLAN_FILE = "plan.toml"  # the room of plans takes a second to import, and is asked only for a plan
FILES = (SETTINGS_FILE, *(spec.file for spec in TABLES.values()))
_NEEDED = ("candles", "burns", "checks")


@dataclass(frozen=True, eq=False)
class Reading:
    """A folder, read: its logs, how its tables are written, its limits, where candles stand."""

    logs: Logs
    settings: Settings
    forms: dict[str, TableForm]
    limits: list[Limit]
    tables: dict[str, Standing]
    must_fix: pd.DataFrame

    @property
    def zone(self) -> tzinfo | None:
        """The zone of the bench's clock; None for the computer's own."""
        return bench_zone(self.settings)

    def standings(self, book: Logbook) -> dict[str, Standing]:
        """Where every candle stands, with what the journal says."""
        return with_journal(self.tables, book, self.limits)

    def form(self, table: str) -> TableForm:
        """How a table is written, or would be if it were there."""
        return self.forms.get(table) or form_like(TABLES[table], self.forms["burns"])


class Reader:
    """Reads a folder, and keeps what it read for as long as the files stay as they are.

    ``to_add`` says that rows will be added, which takes tables that are CSV files.
    """

    def __init__(self, folder: Path, *, to_add: bool = True) -> None:
        self.folder, self._to_add = folder, to_add
        self._kept: tuple[tuple, Reading] | None = None
        self._book: tuple[tuple, Logbook] | None = None
        self._plan: tuple[tuple, PlannedBatch | None] | None = None

    def reading(self) -> Reading:
        """The folder as it is now.

        Raises
        ------
        CannotAdd
            When the bench has nothing to go by: no settings, no candles, a table in UTF-16.
        NotADirectoryError
            When there is no such folder.
        """
        now = self.signature(*FILES, *workbooks(self.folder) if self.folder.is_dir() else ())
        if self._kept is None or self._kept[0] != now:
            self._kept = now, _read(self.folder, to_add=self._to_add)
        return self._kept[1]

    def book(self) -> Logbook:
        """The journal as it is now."""
        now = self.signature(JOURNAL)
        if self._book is None or self._book[0] != now:
            path = self.folder / JOURNAL
            self._book = now, read_logbook(path.read_bytes() if path.is_file() else b"")
        return self._book[1]

    def plan(self) -> PlannedBatch | None:
        """The plan that the folder was made of; None where there is none that can be read."""
        now = self.signature(PLAN_FILE, TABLES["wicks"].file)
        if self._plan is None or self._plan[0] != now:
            self._plan = now, _planned(self.folder / PLAN_FILE)
        return self._plan[1]

    def signature(self, *names: str) -> tuple:
        """Size and time of the files of that name, to see whether one has changed."""
        found = []
        for name in names:
            try:
                stat = (self.folder / name).stat()
            except OSError:
                continue
            found.append((name, stat.st_size, stat.st_mtime_ns, stat.st_ino))
        return tuple(found)


def _read(folder: Path, *, to_add: bool) -> Reading:
    logs = read_logs(folder)
    if logs.in_book and to_add:
        raise CannotAdd(
            f"This batch is logged in {logs.in_book}, and the bench adds rows to CSV files only. "
            "Go on in the workbook, or save each of its sheets as a CSV file and move it away."
        )
    problems = logs.problems.table()
    must_fix = problems[problems["level"] == MUST_FIX]
    lacks = [
        TABLES[name].file
        for name in _NEEDED
        if not (logs.in_book or (folder / TABLES[name].file).is_file())
    ]
    settings = logs.settings
    lacks += [] if settings else [SETTINGS_FILE]
    if lacks or settings is None or "candles" not in logs.tables:
        what = ", ".join(lacks) or TABLES["candles"].file
        raise CannotAdd(f"The bench needs {what}. “candlelab check” says what is wrong with it.")
    forms = {} if logs.in_book else forms_of(folder, style=style_of(settings))
    limits = limits_of(settings)
    tables = from_tables(logs, settings, forms, limits)
    return Reading(logs, settings, forms, limits, tables, must_fix)


def _planned(file: Path) -> PlannedBatch | None:
    if not file.is_file():
        return None
    from candlelab.plan.planned import PlanError, read_plan

    try:
        return read_plan(file)
    except (PlanError, OSError):
        return None


def rested_at(standing: Standing, settings: Settings) -> datetime | None:
    """When a candle has cooled from its last burn; None when it has not been lit."""
    return standing.out_at and standing.out_at + timedelta(hours=settings.protocol.rest_h)

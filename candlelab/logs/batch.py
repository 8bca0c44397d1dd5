"""Reads a batch folder. Nothing is ever written here."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from candlelab.logs.book import book_of, read_tables
from candlelab.logs.cells import Style, read_values, style_of
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_text import Cells
from candlelab.logs.display import as_logged
from candlelab.logs.faults import said
from candlelab.logs.files import content_of, files_of
from candlelab.logs.journal import JOURNAL, Logbook, read_logbook
from candlelab.logs.journal_rules import check_journal
from candlelab.logs.oddities import Doubts
from candlelab.logs.problems import MUST_FIX, SETTINGS_FILE, BurnLogError, ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.rules import cross_check
from candlelab.logs.settings import Settings
from candlelab.logs.settings_reader import read_settings
from candlelab.logs.throw_rules import open_codes
from candlelab.logs.toml_text import decode_settings


@dataclass(frozen=True, eq=False)
class Batch:
    """A batch folder, read: one typed table for each CSV file.

    Columns are named with their unit (g, mm, °C, min, s, h), whatever unit the file is kept in; the
    glossary says what each means. A table that the folder has not is empty. A batch with something
    that must be fixed is never made.

    Attributes
    ----------
    folder : pathlib.Path
    settings : candlelab.logs.settings.Settings
        What ``batch.toml`` says.
    candles, burns, checks, wicks, wick_changes, exclusions, throw, pairs, codes : pandas.DataFrame
        One row per row of the file of that name, in its order.
    problems : pandas.DataFrame
        What to look at and what left the protocol, as :func:`check_batch` gives it.
    files : pandas.DataFrame
        ``file``, ``bytes`` and ``sha256`` of every file that was read.
    lines : dict of str to numpy.ndarray
        For each table the line of its file on which each row begins.
    doubts : dict of str to numpy.ndarray
        Columns with readings that most likely are in another unit or another thing, and the rows.
        They are never a pass.
    how_read : tuple of str
        Sentences on tables whose headings do not stand on top, or whose moments are in two columns.
    """

    folder: Path
    settings: Settings
    candles: pd.DataFrame
    burns: pd.DataFrame
    checks: pd.DataFrame
    wicks: pd.DataFrame
    wick_changes: pd.DataFrame
    exclusions: pd.DataFrame
    throw: pd.DataFrame
    pairs: pd.DataFrame
    codes: pd.DataFrame
    problems: pd.DataFrame
    files: pd.DataFrame
    lines: dict[str, np.ndarray]
    doubts: Doubts = field(default_factory=dict)
    how_read: tuple[str, ...] = ()

    def __repr__(self) -> str:
        counts = f"{len(self.candles)} candles, {len(self.burns)} burns, {len(self.checks)} checks"
        return f"Batch({self.settings.title!r}: {counts}, {len(self.problems)} problems)"


def read_batch(folder: str | Path) -> Batch:
    """Read a batch folder. Nothing in it is changed.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder that holds ``batch.toml``, ``candles.csv``, ``burns.csv`` and the other tables.

    Returns
    -------
    Batch

    Raises
    ------
    BurnLogError
        When something must be fixed first; it names every problem at once.
    NotADirectoryError
        When there is no such folder.

    Examples
    --------
    >>> from candlelab import demo_folder, read_batch
    >>> batch = read_batch(demo_folder("screening"))
    >>> len(batch.candles), len(batch.burns), len(batch.checks)
    (18, 141, 530)
    >>> batch.burns.groupby("candle").size().head(3).to_dict()
    {'S01': 11, 'S02': 11, 'S03': 3}
    """
    folder = Path(folder)
    logs = read_logs(folder)
    tables, found = logs.tables, logs.problems.table()
    if (found["level"] == MUST_FIX).any():
        raise BurnLogError(str(folder), found)
    frames = {n: tables[n].frame if n in tables else _empty(n).copy() for n in TABLES}
    none = np.zeros(0, dtype=int)
    lines = {name: tables[name].lines if name in tables else none for name in TABLES}
    record = {"folder": folder, "settings": logs.settings, "files": logs.files, "lines": lines}
    record |= {"doubts": logs.doubts, "how_read": tuple(logs.problems.how_read)}
    return Batch(**record, problems=found, **frames)


def refuse_unburnt(batch: Batch) -> None:
    """Raise BurnLogError for a batch in which nothing has been burned yet.

    It can be read, but nothing can be said of it.
    """
    if not len(batch.burns):
        problems = ProblemList()
        problems.add(file=TABLES["burns"].file, **said("nothing burned yet"))
        raise BurnLogError(str(batch.folder), problems.table())


def check_batch(folder: str | Path) -> pd.DataFrame:
    """Every problem of a batch folder as a table, an empty one when there is none.

    Parameters
    ----------
    folder : str or pathlib.Path
        The folder that holds ``batch.toml``, ``candles.csv``, ``burns.csv`` and the other tables.

    Returns
    -------
    pandas.DataFrame
        One row per problem, the worst first: ``level``, ``problem``, ``file``, ``line`` (of the
        text file), ``row`` (that a spreadsheet shows), ``candle``, ``column``, ``found``,
        ``expected``, ``what_to_do``.

    Raises
    ------
    NotADirectoryError
        When there is no such folder.

    Examples
    --------
    >>> from candlelab import check_batch, demo_folder
    >>> problems = check_batch(demo_folder("screening"))
    >>> problems.loc[0, ["problem", "file", "candle"]].tolist()
    ['failure set aside', 'exclusions.csv', 'S14']
    """
    return read_logs(Path(folder)).problems.table()


class Logs(NamedTuple):
    """What a folder holds, whatever must be fixed in it: typed tables, and the bench's logbook.

    ``in_book`` is the name of the workbook that tables were read from, if there was one.
    """

    settings: Settings | None
    tables: dict[str, ReadTable]
    files: pd.DataFrame
    book: Logbook
    problems: ProblemList
    doubts: Doubts
    in_book: str = ""


def read_logs(folder: Path) -> Logs:
    """Read a batch folder as far as it can be read; NotADirectoryError when there is none."""
    if not folder.is_dir():
        raise NotADirectoryError(
            f"{folder} is not a folder. Give the folder that holds batch.toml and burns.csv."
        )
    problems = ProblemList()
    content = content_of(folder / SETTINGS_FILE, problems)
    settings = None if content is None else _settings(content, problems)
    style = style_of(settings)
    book = book_of(folder, style, problems)
    data = files_of(folder, problems, book=book.name, in_book=book.tables)
    data |= {} if content is None else {SETTINGS_FILE: content}
    known = _known(data)
    tables = read_tables(folder, data, book, style, problems)
    open_codes(tables, problems)
    problems.lighten("table without rows", [t.file for t in TABLES.values() if t.required])
    settings = as_logged(settings, tables) if settings else None
    if (folder / JOURNAL).is_file() and (written := content_of(folder / JOURNAL, problems)):
        data[JOURNAL] = written
    logbook = read_logbook(data.get(JOURNAL, b""), problems)
    lit = {burn.light.candle for burn in logbook.open_burns()}
    doubts = cross_check(tables, settings, problems, lit=lit)
    check_journal(logbook, tables, settings, problems)
    known |= _known({name: text for name, text in data.items() if name not in known})
    rows = [(name, *of) for name, of in known.items() if name in data]
    files = pd.DataFrame(rows, columns=["file", "bytes", "sha256"])
    in_book = book.name if problems.sheets else ""
    return Logs(settings, tables, files, logbook, problems, doubts, in_book)


def _known(data: dict[str, bytes]) -> dict[str, tuple[int, str]]:
    """What a record says of files: their size and their SHA-256."""
    return {name: (len(text), hashlib.sha256(text).hexdigest()) for name, text in data.items()}


def _settings(content: bytes, problems: ProblemList) -> Settings | None:
    text = decode_settings(content, SETTINGS_FILE, problems)
    return None if text is None else read_settings(text, problems)


@cache
def _empty(name: str) -> pd.DataFrame:
    """The table as it is read from a file without rows."""
    cells = Cells(np.zeros(0, dtype=int), [])
    columns = TABLES[name].columns
    return pd.DataFrame({c.name: read_values(cells, c, None, Style())[0] for c in columns})

"""Reads a batch folder; the only module that opens data files. Nothing is ever written here."""

from __future__ import annotations

import hashlib
import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pandas as pd

from candlelab.glossary import TABLES
from candlelab.logs.cells import Style, read_column
from candlelab.logs.csv_table import ReadTable, read_table
from candlelab.logs.csv_text import Cells
from candlelab.logs.faults import said
from candlelab.logs.journal import JOURNAL, Logbook, read_logbook
from candlelab.logs.journal_rules import check_journal
from candlelab.logs.oddities import Doubts
from candlelab.logs.problems import MUST_FIX, SETTINGS_FILE, BurnLogError, ProblemList
from candlelab.logs.rules import cross_check
from candlelab.logs.settings import Settings
from candlelab.logs.settings_reader import decode_settings, read_settings
from candlelab.logs.throw_rules import open_codes
from candlelab.text import closest

# Common practice, no source: a year of a busy studio is some 10 MB, and a
# table of this size takes minutes and gigabytes.
_TABLES = (".csv", ".tsv", ".xlsx", ".xls", ".xlsm", ".ods", ".numbers")
MOST_BYTES, MOST_BYTES_OF_SETTINGS = 200_000_000, 1_000_000


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
    settings, tables, files, _, problems, doubts = read_logs(folder)
    found = problems.table()
    if (found["level"] == MUST_FIX).any():
        raise BurnLogError(str(folder), found)
    frames = {name: tables[name].frame if name in tables else _empty(name) for name in TABLES}
    none = np.zeros(0, dtype=int)
    lines = {name: tables[name].lines if name in tables else none for name in TABLES}
    record = {"folder": folder, "settings": settings, "files": files, "lines": lines}
    record["doubts"] = doubts
    return Batch(**record, problems=found, **frames)


def refuse_unburnt(batch: Batch) -> None:
    """Raise BurnLogError for a batch in which nothing has been burnt yet.

    It can be read, but nothing can be said of it.
    """
    if not len(batch.burns):
        problems = ProblemList()
        problems.add(file=TABLES["burns"].file, **said("nothing burnt yet"))
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
    ['wick longer than the trim length', 'burns.csv', 'S04']
    """
    return read_logs(Path(folder)).problems.table()


class Logs(NamedTuple):
    """What a folder holds, whatever must be fixed in it: typed tables, and the bench's logbook."""

    settings: Settings | None
    tables: dict[str, ReadTable]
    files: pd.DataFrame
    book: Logbook
    problems: ProblemList
    doubts: Doubts


def read_logs(folder: Path) -> Logs:
    """Read a batch folder as far as it can be read; NotADirectoryError when there is none."""
    if not folder.is_dir():
        raise NotADirectoryError(
            f"{folder} is not a folder. Give the folder that holds batch.toml and burns.csv."
        )
    problems = ProblemList()
    data = _files(folder, problems)
    settings = _settings(data[SETTINGS_FILE], problems) if SETTINGS_FILE in data else None
    style = Style()
    if settings:
        style = Style(
            slash_dates=settings.slash_dates,
            time_zone=settings.time_zone,
            words=settings.scent.words if settings.scent else (),
        )
    here = [spec for spec in TABLES.values() if spec.file in data]
    read = {spec.name: read_table(spec, data[spec.file], style, problems) for spec in here}
    tables = {name: table for name, table in read.items() if table is not None}
    open_codes(tables, problems)
    if (folder / JOURNAL).is_file() and (written := _content(folder / JOURNAL, problems)):
        data[JOURNAL] = written
    book = read_logbook(data.get(JOURNAL, b""), problems)
    lit = {burn.light.candle for burn in book.open_burns()}
    doubts = cross_check(tables, settings, problems, lit=lit)
    check_journal(book, tables, settings, problems)
    rows = [(name, len(text), hashlib.sha256(text).hexdigest()) for name, text in data.items()]
    files = pd.DataFrame(rows, columns=["file", "bytes", "sha256"])
    return Logs(settings, tables, files, book, problems, doubts)


def _files(folder: Path, problems: ProblemList) -> dict[str, bytes]:
    """Bytes of the batch's files; missing, misnamed and unknown ones are noted."""
    known = {SETTINGS_FILE: True} | {spec.file: spec.required for spec in TABLES.values()}
    present = {path.name: path for path in sorted(folder.iterdir()) if path.is_file()}
    if not known.keys() & present.keys():
        needed = ", ".join(name for name, required in known.items() if required)
        _no_batch(folder, ", ".join(present), needed, problems)
        return {}
    data: dict[str, bytes] = {}
    strays = [name for name in present if name not in known]
    for name, required in known.items():
        if name in present:
            content = _content(present[name], problems)
            data |= {} if content is None else {name: content}
            continue
        stem = closest(Path(name).stem, [Path(stray).stem for stray in strays])
        stray = next((stray for stray in strays if Path(stray).stem == stem), "")
        if required or stray.lower().endswith(_TABLES):
            _missing_file(name, stray, required, problems)
        if stray:
            strays.remove(stray)
    for name in strays:
        if not name.lower().endswith(_TABLES):
            continue
        if meant := _table_meant(Path(name).stem):
            problems.add(file=name, **said("file was not read", found=name, name=meant))
        elif name.lower().endswith(".csv"):
            problems.add(file=name, **said("table not known", expected=", ".join(known)))
    return data


def _table_meant(stem: str) -> str:
    """The file of the table that a stray file's name is like, as ``burns (1)``; empty for none."""
    begun = (name for name in TABLES if re.match(rf"{name}\b", stem, re.IGNORECASE))
    name = next(begun, None) or closest(stem, TABLES)
    return TABLES[name].file if name else ""


def _no_batch(folder: Path, present: str, needed: str, problems: ProblemList) -> None:
    """A folder without any file of a batch; it may be the one above."""
    inside = [
        path.name for path in sorted(folder.iterdir()) if os.path.isfile(path / SETTINGS_FILE)
    ]
    hint = f"batches are in: {', '.join(inside)}." if inside else "the demo batch shows their form."
    found = present or ("no table" if inside else "an empty folder")
    texts = said("no batch in this folder", found=found, expected=needed, hint=hint)
    problems.add(file=SETTINGS_FILE, **texts)


def _content(path: Path, problems: ProblemList) -> bytes | None:
    """Bytes of a file that can be opened and is no larger than a log can be."""
    most = MOST_BYTES_OF_SETTINGS if path.name == SETTINGS_FILE else MOST_BYTES
    try:
        if (size := path.stat().st_size) <= most:
            return path.read_bytes()
        problems.add(file=path.name, **said("file too large", size=size, most=most))
    except OSError as error:
        found = error.strerror or "no access"
        problems.add(file=path.name, **said("file cannot be opened", found=found))
    return None


def _missing_file(name: str, stray: str, required: bool, problems: ProblemList) -> None:
    """A file that is not there; ``stray`` is one whose name is much like it."""
    do = f"Put {name} into the folder; the demo batch shows its form."
    if stray:
        same_kind = Path(stray).suffix.lower() == Path(name).suffix
        do = f"Rename {stray} to {name}."
        if not same_kind:
            do = f"Save {stray} as {name}, in the form CSV UTF-8."
    problem = "missing file" if required else "misnamed file"
    problems.add(file=name, **said(problem, found=stray, name=name, do=do))


def _settings(content: bytes, problems: ProblemList) -> Settings | None:
    text = decode_settings(content, SETTINGS_FILE, problems)
    return None if text is None else read_settings(text, problems)


def _empty(name: str) -> pd.DataFrame:
    """The table as it is read from a file without rows."""
    cells = Cells(np.zeros(0, dtype=int), [])
    columns = TABLES[name].columns
    return pd.DataFrame({c.name: read_column(cells, c, None, Style())[0] for c in columns})

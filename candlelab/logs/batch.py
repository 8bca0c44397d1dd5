"""Reads a batch folder; the only module that opens data files. Nothing is ever written here."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd

from candlelab.glossary import TABLES
from candlelab.logs.cells import Style, read_column
from candlelab.logs.csv_table import ReadTable, read_table
from candlelab.logs.csv_text import Cells, line_of_byte
from candlelab.logs.problems import LOOK, MUST_FIX, SETTINGS_FILE, BurnLogError, ProblemList
from candlelab.logs.rules import cross_check
from candlelab.logs.settings import Settings, read_settings
from candlelab.text import closest

# Common practice, no source: a year of a busy studio is some 10 MB, and a
# table of this size takes minutes and gigabytes.
MOST_BYTES, MOST_BYTES_OF_SETTINGS = 200_000_000, 1_000_000


@dataclass(frozen=True, eq=False)
class Batch:
    """A batch folder, read: typed tables in g, mm, degC, min, s and h, with unit-suffixed names.

    ``problems`` holds what to look at and what left the protocol (a batch with something that must
    be fixed is never made); ``files`` gives name, bytes and SHA-256 of every file that was read;
    ``lines`` gives for each table the line of its file on which each row begins, in the rows'
    order. A table that the folder has not is empty.
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
    problems: pd.DataFrame
    files: pd.DataFrame
    lines: dict[str, np.ndarray]

    def __repr__(self) -> str:
        counts = f"{len(self.candles)} candles, {len(self.burns)} burns, {len(self.checks)} checks"
        return f"Batch({self.settings.title!r}: {counts}, {len(self.problems)} problems)"


def read_batch(folder: str | Path) -> Batch:
    """Read a batch folder into a Batch.

    Raises BurnLogError, with every problem at once, when something must be fixed first, and
    NotADirectoryError when there is no such folder.
    """
    folder = Path(folder)
    settings, tables, files, problems = _read(folder)
    found = problems.table()
    if (found["level"] == MUST_FIX).any():
        raise BurnLogError(str(folder), found)
    frames = {name: tables[name].frame if name in tables else _empty(name) for name in TABLES}
    lines = {
        name: tables[name].lines if name in tables else np.zeros(0, dtype=int) for name in TABLES
    }
    return Batch(
        folder=folder, settings=settings, problems=found, files=files, lines=lines, **frames
    )


def refuse_unburnt(batch: Batch) -> None:
    """Raise BurnLogError for a batch in which nothing has been burnt yet: it
    can be read, but nothing can be said of it."""
    if not len(batch.burns):
        problems = ProblemList()
        file = TABLES["burns"].file
        problems.add(
            MUST_FIX,
            "nothing burnt yet",
            file,
            expected="a row for each burn",
            do="Log the first burns, then ask again.",
        )
        raise BurnLogError(str(batch.folder), problems.table())


def check_batch(folder: str | Path) -> pd.DataFrame:
    """Every problem of a batch folder as a table, an empty one for none.

    Columns as in ``problems.PROBLEM_COLUMNS``. Raises
    NotADirectoryError when there is no such folder.
    """
    return _read(Path(folder))[3].table()


def _read(folder: Path) -> tuple[Settings | None, dict[str, ReadTable], pd.DataFrame, ProblemList]:
    if not folder.is_dir():
        raise NotADirectoryError(
            f"{folder} is not a folder. Give the folder that holds batch.toml and burns.csv."
        )
    problems = ProblemList()
    data = _files(folder, problems)
    settings = None
    if SETTINGS_FILE in data:
        settings = _settings(data[SETTINGS_FILE], problems)
    style = (
        Style(slash_dates=settings.slash_dates, time_zone=settings.time_zone)
        if settings
        else Style()
    )
    tables = {}
    for spec in TABLES.values():
        if spec.file in data:
            table = read_table(spec, data[spec.file], style, problems)
            if table is not None:
                tables[spec.name] = table
    cross_check(tables, settings, problems)
    files = pd.DataFrame(
        [
            (name, len(content), hashlib.sha256(content).hexdigest())
            for name, content in data.items()
        ],
        columns=["file", "bytes", "sha256"],
    )
    return settings, tables, files, problems


def _files(folder: Path, problems: ProblemList) -> dict[str, bytes]:
    """Bytes of the batch's files; missing, misnamed and unknown ones are noted."""
    known = {SETTINGS_FILE: True} | {spec.file: spec.required for spec in TABLES.values()}
    present = {path.name: path for path in sorted(folder.iterdir()) if path.is_file()}
    if not known.keys() & present.keys():
        needed = ", ".join(name for name, required in known.items() if required)
        inside = ", ".join(
            path.name for path in sorted(folder.iterdir()) if os.path.isfile(path / SETTINGS_FILE)
        )
        found = ", ".join(present) or ("no table" if inside else "an empty folder")
        do = f"batches are in: {inside}." if inside else "the demo batch shows their form."
        problems.add(
            MUST_FIX,
            "no batch in this folder",
            SETTINGS_FILE,
            found=found,
            expected=needed,
            do=f"Give the folder that holds these files; {do}",
        )
        return {}
    data = {}
    strays = [name for name in present if name not in known]
    for name, required in known.items():
        if name in present:
            try:
                size, most = (
                    present[name].stat().st_size,
                    MOST_BYTES_OF_SETTINGS if name == SETTINGS_FILE else MOST_BYTES,
                )
                if size > most:
                    problems.add(
                        MUST_FIX,
                        "file too large",
                        name,
                        found=f"{size:,} bytes",
                        expected=f"at most {most:,} bytes",
                        do="Part the batch into several, or look whether it is another file. It "
                        "was not read.",
                    )
                    continue
                data[name] = present[name].read_bytes()
            except OSError as error:
                problems.add(
                    MUST_FIX,
                    "file cannot be opened",
                    name,
                    found=error.strerror or "no access",
                    expected="a file that can be read",
                    do="Close it in other programs, or mend its permissions.",
                )
            continue
        stem = closest(Path(name).stem, {Path(stray).stem: None for stray in strays})
        stray = next((stray for stray in strays if Path(stray).stem == stem), "")
        if required or stray.lower().endswith(".csv"):
            _missing_file(name, stray, required, problems)
        if stray:
            strays.remove(stray)
    for name in strays:
        if name.lower().endswith(".csv"):
            problems.add(
                LOOK,
                "table not known",
                name,
                expected=", ".join(known),
                do="It was not read; keep it if it is your own.",
            )
    return data


def _missing_file(name: str, stray: str, required: bool, problems: ProblemList) -> None:
    """A file that is not there; ``stray`` is one whose name is much like it."""
    do = f"Put {name} into the folder; the demo batch shows its form."
    if stray:
        same_kind = Path(stray).suffix.lower() == Path(name).suffix
        do = (
            f"Rename {stray} to {name}."
            if same_kind
            else f"Save {stray} as {name}, in the form CSV UTF-8."
        )
    problems.add(
        MUST_FIX if required else LOOK,
        "missing file" if required else "misnamed file",
        name,
        found=stray,
        expected=f"a file {name}",
        do=do,
    )


def _settings(content: bytes, problems: ProblemList) -> Settings | None:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = line_of_byte(content, error.start)
        problems.add(
            MUST_FIX,
            "wrong encoding",
            SETTINGS_FILE,
            line=line,
            row=line,
            found=f"byte {error.object[error.start]:#04x}",
            expected="UTF-8 text",
            do="Save the file again as UTF-8.",
        )
        return None
    return read_settings(text, problems)


def _empty(name: str) -> pd.DataFrame:
    """The table as it is read from a file without rows."""
    cells = Cells(np.zeros(0, dtype=int), [])
    return pd.DataFrame(
        {
            column.name: read_column(cells, column, None, Style())[0]
            for column in TABLES[name].columns
        }
    )

"""The files of a batch folder: which are there, which are missing, and what is in them."""

from __future__ import annotations

import os
import re
from collections.abc import Collection
from pathlib import Path

from candlelab.logs.columns import TABLES
from candlelab.logs.faults import said
from candlelab.logs.problems import SETTINGS_FILE, ProblemList
from candlelab.logs.workbook import OTHER_SUFFIXES, SUFFIXES
from candlelab.text import closest

_TABLES = (".csv", ".tsv", *SUFFIXES, *OTHER_SUFFIXES)
# Common practice, no source: a year of a busy studio is some 10 MB, and a
# table of this size takes minutes and gigabytes.
MOST_BYTES, MOST_BYTES_OF_SETTINGS = 200_000_000, 1_000_000


def files_of(
    folder: Path, problems: ProblemList, *, book: str = "", in_book: Collection[str] = ()
) -> dict[str, bytes]:
    """Bytes of the batch's CSV tables; missing, misnamed and unknown files are noted.

    ``in_book`` names the tables that the workbook ``book`` holds.
    """
    known = {SETTINGS_FILE: True} | {spec.file: spec.required for spec in TABLES.values()}
    present = {path.name: path for path in sorted(folder.iterdir()) if path.is_file()}
    if not known.keys() & present.keys() and not in_book:
        needed = ", ".join(name for name, required in known.items() if required)
        _no_batch(folder, ", ".join(present), needed, problems)
        return {}
    data: dict[str, bytes] = {}
    strays = [name for name in present if name not in known and name != book]
    for name, required in known.items():
        if name in present:
            if name != SETTINGS_FILE:
                content = content_of(present[name], problems)
                data |= {} if content is None else {name: content}
            continue
        if Path(name).stem in in_book:
            continue
        stem = closest(Path(name).stem, [Path(stray).stem for stray in strays])
        stray = next((stray for stray in strays if Path(stray).stem == stem), "")
        if required or stray.lower().endswith(_TABLES):
            _missing_file(name, stray, required, book if in_book else "", problems)
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


def content_of(path: Path, problems: ProblemList) -> bytes | None:
    """Bytes of a file that is there, can be opened, and is no larger than a log can be."""
    if not path.is_file():
        return None
    most = MOST_BYTES_OF_SETTINGS if path.name == SETTINGS_FILE else MOST_BYTES
    try:
        if (size := path.stat().st_size) <= most:
            return path.read_bytes()
        problems.add(file=path.name, **said("file too large", size=size, most=most))
    except OSError as error:
        found = error.strerror or "no access"
        problems.add(file=path.name, **said("file cannot be opened", found=found))
    return None


def _missing_file(name: str, stray: str, required: bool, book: str, problems: ProblemList) -> None:
    """A file that is not there; ``stray`` is one whose name is much like it."""
    do = f"Put {name} into the folder; the demo batch shows its form."
    if book and name != SETTINGS_FILE:
        do = f"Add a sheet named {Path(name).stem} to {book}, or put {name} into the folder."
    if stray:
        same_kind = Path(stray).suffix.lower() == Path(name).suffix
        do = f"Rename {stray} to {name}."
        if not same_kind:
            do = f"Save {stray} as {name}, in the form CSV UTF-8."
    problem = "missing file" if required else "misnamed file"
    problems.add(file=name, **said(problem, found=stray, name=name, do=do))

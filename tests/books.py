"""Workbooks for tests: a batch's tables as sheets, typed as a spreadsheet program has them."""

import csv
import re
import shutil
import subprocess
from datetime import datetime
from pathlib import Path

import openpyxl

from candlelab.logs.columns import TABLES

SOFFICE = shutil.which("soffice")
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_MOMENT = re.compile(r"\d{4}-\d\d-\d\d( \d\d:\d\d)?")


def typed(text):
    """What a person who types this text into a spreadsheet gets."""
    if _NUMBER.fullmatch(text):
        return float(text)
    if _MOMENT.fullmatch(text):
        return datetime.fromisoformat(text)
    return text or None


def book_of(folder, **sheets) -> openpyxl.Workbook:
    """The CSV tables of a folder as sheets of one workbook; other rows for a sheet if given."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, spec in TABLES.items():
        path = Path(folder) / spec.file
        if path.is_file() or name in sheets:
            sheet = book.create_sheet(name)
            for row in sheets.get(name) or rows_of(path):
                sheet.append(row)
    return book


def rows_of(path) -> list[list]:
    """The rows of a CSV table, typed; names stay text."""
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    names = ("candle", "wick_size", "wick_series", "soot")
    as_text = {n for n, head in enumerate(rows[0]) if head in names}
    return [rows[0]] + [
        [cell or None if n in as_text else typed(cell) for n, cell in enumerate(row)]
        for row in rows[1:]
    ]


def in_book(source, folder, name="log.xlsx", change=None, **sheets) -> Path:
    """A copy of a batch whose tables are in a workbook; ``change`` is called with it before."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    shutil.copy(Path(source) / "batch.toml", folder)
    book = book_of(source, **sheets)
    if change:
        change(book)
    book.save(folder / name)
    return folder


def by_libreoffice(path, kind, out, home) -> Path:
    """A workbook opened, worked out and saved by LibreOffice as another kind."""
    command = [SOFFICE, "--headless", f"-env:UserInstallation=file://{home}", "--convert-to", kind]
    run = subprocess.run(
        [*command, "--outdir", str(out), str(path)], capture_output=True, text=True, timeout=180
    )
    made = Path(out) / f"{Path(path).stem}.{kind}"
    assert made.is_file(), run.stdout + run.stderr
    return made

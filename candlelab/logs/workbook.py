"""The sheets of a workbook from its bytes; what cannot be opened says why. Nothing in it is run.

Macros, links to other files, pictures and charts are not looked at.
"""

from __future__ import annotations

import io
import warnings

from candlelab.logs.sheet import FORMULA_ERROR, Sheet, TooLarge, text_of
from candlelab.text import clip

SUFFIXES = (".xlsx", ".xlsm", ".ods")
OTHER_SUFFIXES = (".xls", ".xlsb", ".numbers")  # told apart from no workbook, and not read
# A year of a busy studio; what is larger takes minutes and gigabytes, and is a CSV file's job.
MOST_BYTES = 60_000_000
_OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"  # a compound file: an .xls, or a locked .xlsx in it
_LOCKED = "EncryptedPackage".encode("utf-16-le")


class CannotOpen(ValueError):
    """A workbook that is not read: the fault, and what was found."""

    def __init__(self, problem: str, found: str = "") -> None:
        self.problem, self.found = problem, found
        super().__init__(problem)


def read_sheets(data: bytes) -> list[Sheet]:
    """Every sheet of a workbook, by what it is and not by its name; raises CannotOpen."""
    from candlelab.archive import UnsafePack, unpacked
    from candlelab.logs.sheet_xml import ods_sheets

    if data.startswith(_OLD):
        locked = _LOCKED in data
        raise CannotOpen("workbook with a password" if locked else "workbook of an older kind")
    if not data.startswith(b"PK"):
        raise CannotOpen("no workbook", clip(data[:24].decode("latin-1")))
    try:
        files = unpacked(io.BytesIO(data), most_bytes=MOST_BYTES)
    except UnsafePack as error:
        raise CannotOpen("workbook that is not opened", str(error)) from error
    try:
        if "content.xml" in files and b"opendocument.spreadsheet" in files.get("mimetype", b""):
            if b"encryption-data" in files.get("META-INF/manifest.xml", b""):
                raise CannotOpen("workbook with a password")
            return ods_sheets(files["content.xml"])
        if "xl/workbook.bin" in files:
            raise CannotOpen("workbook of an older kind")
        if not any(name.startswith("xl/") for name in files):
            raise CannotOpen("no workbook", clip(", ".join(sorted(files)[:3])))
        return _xlsx_sheets(data, files)
    except CannotOpen:
        raise
    except TooLarge as error:
        raise CannotOpen("workbook too large", str(error)) from error
    except Exception as error:  # whatever a library says of a damaged or a hostile file
        raise CannotOpen("damaged workbook", clip(error)) from error


def _xlsx_sheets(data: bytes, files: dict[str, bytes]) -> list[Sheet]:
    import openpyxl

    from candlelab.logs.sheet_xml import add_facts

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # parts that it does not know; dates that cannot be
        how = {"read_only": True, "data_only": True, "keep_links": False}
        book = openpyxl.load_workbook(io.BytesIO(data), **how)
        sheets = []
        for one in book.worksheets:
            one.reset_dimensions()  # a program may have written a smaller range than there is
            sheet = Sheet(one.title)
            for row in one.iter_rows():
                _add_cells(sheet, row)
            add_facts(sheet, files[one._worksheet_path.lstrip("/")])
            sheets.append(sheet)
        return sheets


def _add_cells(sheet: Sheet, row) -> None:
    for cell in row:
        if cell.value is None:
            continue
        shown = cell.number_format or ""
        if cell.data_type == "e":
            sheet.odd[cell.row, cell.column] = FORMULA_ERROR, str(cell.value)
        text = text_of(cell.value, percent="%" in shown, clock="h" in shown.lower())
        sheet.put(cell.row, cell.column, text)

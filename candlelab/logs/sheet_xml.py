"""The parts of a workbook's XML for which no library has a reading that can be trusted.

Of an ``.xlsx`` the merged cells, the hidden rows and the formulas that were never worked out (ECMA-
376, part 1, 18.3). Of an ``.ods`` the cells (OASIS OpenDocument 1.3, part 3, 9.1 and 19.385): the
libraries that read those lose what is a percentage, and read an error as an empty cell.
"""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import datetime
from xml.etree.ElementTree import Element

from defusedxml.ElementTree import iterparse

from candlelab.logs.sheet import FORMULA_ERROR, NO_VALUE, Sheet, TooLarge, letters, text_of

_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?(\d{1,7})(?::\$?([A-Z]{1,3})\$?(\d{1,7}))?")
_DURATION = re.compile(r"(-?)P(?:(\d+)D)?T(?:(\d+)H)?(?:(\d+)M)?(?:(\d+)(?:[.,]\d+)?S)?")
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_TEXT = "{urn:oasis:names:tc:opendocument:xmlns:text:1.0}"
_CALC = "{urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0}"
_CELLS = (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell")
_MOST_REPEATED = 10_000  # cells with something in them that one cell may stand for


def add_facts(sheet: Sheet, part: bytes) -> None:
    """Add to a sheet of an ``.xlsx`` what its XML says beside the values."""
    if not re.search(rb"<(?:\w+:)?(?:mergeCell|f)\b|\bhidden=.(?:1|true)", part):
        return
    for element in _ends(part):
        name = element.tag.rpartition("}")[2]
        if name == "c" and (formula := _child(element, "f")) is not None:
            value = _child(element, "v")
            empty = value is None or not value.text
            if empty and element.get("t") != "str" and (at := _corners(element.get("r", ""))):
                sheet.odd[at[0], at[1]] = NO_VALUE, f"={formula.text or ''}"
        elif name == "row":
            if element.get("hidden") in ("1", "true"):
                sheet.hidden.add(int(element.get("r", 0)))
            element.clear()
        elif name == "mergeCell" and (at := _corners(element.get("ref", ""))):
            sheet.merged.append(at)


def _ends(part: bytes) -> Iterator[Element]:
    for _, element in iterparse(io.BytesIO(part), events=("end",)):
        yield element


def _child(element: Element, name: str) -> Element | None:
    return next((one for one in element if one.tag.rpartition("}")[2] == name), None)


def _corners(ref: str) -> tuple[int, int, int, int] | None:
    """First row and column, last row and column of a range such as ``A2:A11``."""
    found = _RANGE.fullmatch(ref)
    if not found:
        return None
    first, last = _number(found[1]), _number(found[3] or found[1])
    return int(found[2]), first, int(found[4] or found[2]), last


def _number(name: str) -> int:
    number = 0
    for letter in name:
        number = 26 * number + ord(letter) - ord("A") + 1
    return number


def ods_sheets(content: bytes) -> list[Sheet]:
    """The sheets of an ``.ods`` from its ``content.xml``."""
    sheets: list[Sheet] = []
    row = 0
    for event, element in iterparse(io.BytesIO(content), events=("start", "end")):
        if event == "start" and element.tag == f"{_TABLE}table":
            sheets.append(Sheet(element.get(f"{_TABLE}name", "")))
            row = 1
        elif event == "end" and element.tag == f"{_TABLE}table-row" and sheets:
            times = _times(element, "rows")
            _add_row(sheets[-1], element, row, times)
            row += times
            element.clear()
    return sheets


def _times(element: Element, what: str) -> int:
    """How often a row or a cell stands there."""
    text = element.get(f"{_TABLE}number-{what}-repeated", "1")
    return max(1, int(text)) if text.isascii() and text.isdigit() and len(text) < 9 else 1


def _add_row(sheet: Sheet, element: Element, row: int, times: int) -> None:
    """Add the cells of a row that stands there so many times."""
    if element.get(f"{_TABLE}visibility") in ("collapse", "filter"):
        sheet.hidden |= {row + n for n in range(min(times, _MOST_REPEATED))}
    column = 1
    for cell in element:
        if cell.tag not in _CELLS:
            continue
        width = _times(cell, "columns")
        text, odd = _ods_cell(cell) if cell.tag == _CELLS[0] else ("", None)
        if text or odd:
            if width * times > _MOST_REPEATED:
                raise TooLarge(f"{letters(column)}{row} of {sheet.name}, repeated many times")
            places = [(row + n, column + m) for n in range(times) for m in range(width)]
            for place in places:
                sheet.put(*place, text)
            sheet.odd |= dict.fromkeys(places, odd) if odd else {}
        wide, high = (int(cell.get(f"{_TABLE}number-{what}-spanned", "1"))
                      for what in ("columns", "rows"))  # fmt: skip
        if wide > 1 or high > 1:
            sheet.merged.append((row, column, row + high - 1, column + wide - 1))
        column += width


def _ods_cell(cell: Element) -> tuple[str, tuple[str, str] | None]:
    """The text of a cell, and what is wrong with it where it holds no reading."""
    kind, formula = cell.get(f"{_OFFICE}value-type"), cell.get(f"{_TABLE}formula")
    shown = "\n".join(_paragraph(one) for one in cell if one.tag == f"{_TEXT}p").strip()
    if cell.get(f"{_CALC}value-type") == "error" or (
        formula and kind == "string" and re.fullmatch(r"#[A-Z/0]+[!?]|#N/A|Err:\d+", shown)
    ):
        return shown, (FORMULA_ERROR, shown)
    if kind in ("float", "currency", "percentage"):
        return text_of(
            float(cell.get(f"{_OFFICE}value", "nan")), percent=kind == "percentage"
        ), None
    if kind == "date":
        written = cell.get(f"{_OFFICE}date-value", "")
        return text_of(datetime.fromisoformat(written), clock="T" in written), None
    if kind == "time":
        return _duration(cell.get(f"{_OFFICE}time-value", "")) or shown, None
    if kind == "boolean":
        return cell.get(f"{_OFFICE}boolean-value", "").upper(), None
    if kind is None and formula and cell.find(f"{_TEXT}p") is None:
        return "", (NO_VALUE, formula)
    return shown or (cell.get(f"{_OFFICE}string-value") or "").strip(), None


def _paragraph(element: Element) -> str:
    """The text of a paragraph; a run of blanks, a tab and a line end are elements there."""
    parts = [element.text or ""]
    for one in element:
        name = one.tag.rpartition("}")[2]
        inside = {"s": " ", "tab": "\t", "line-break": "\n"}.get(name)
        parts += [_paragraph(one) if inside is None else inside, one.tail or ""]
    return "".join(parts)


def _duration(text: str) -> str:
    """A time such as ``PT28H00M00S`` as hours and minutes."""
    found = _DURATION.fullmatch(text)
    if not found:
        return ""
    days, hours, minutes, seconds = (int(part or 0) for part in found.groups()[1:])
    clock = f"{24 * days + hours:02d}:{minutes:02d}" + (f":{seconds:02d}" if seconds else "")
    return found[1] + clock

"""The workbook of a plan: a sheet for each table with all that the plan knows, ready to fill in.

A session's answers stand once, in the first sheet; formulas put them into the rows of its burns and
checks. A row fills itself in only when its own reading is there: a burn when its weight after is,
a check when its flame is. What nobody saw stays empty.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass
from datetime import datetime

import openpyxl
import pandas as pd
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.hyperlink import Hyperlink

from candlelab.archive import unpacked, write_zip
from candlelab.logs.book import PLAN_SHEET
from candlelab.logs.column import Column, Table
from candlelab.logs.columns import PLANNED, TABLES
from candlelab.logs.writer import WritingStyle, cells_of, header_of, written_name
from candlelab.plan.panel import smelled_rows, wants_panel
from candlelab.plan.planned import PlannedBatch
from candlelab.plan.schedule import stagger_min
from candlelab.plan.sheet_look import Look

BOOK = "log.xlsx"
_ORDER = ("burns", "checks", "candles", "wicks", "wick_changes", "exclusions")
# The list of wicks is the studio's own: every digit of it, in candlelab's units.
_AS_READ = WritingStyle(decimals={"tex": 6, "mm": 6}, spoken_headers=True)
_FREE_ROWS = 200  # below the planned ones, for what the plan does not know
_CLOCK, _DAY = "yyyy-mm-dd hh:mm", "yyyy-mm-dd"
# What one answer for a round of checks stands for, where a check's own cells say nothing else.
NOTHING_UNUSUAL = {
    "soot": "0", "secondary_ignition_s": "0", "flame_on_vessel": "no", "vessel_damaged": "no",
    "surface_damaged": "no", "tipped": "no", "reignited": "no",
}  # fmt: skip
_FIRST_ROUND = 11  # column of the first round's answer in the sheet of sessions
_HEAD = 4  # row of the headings there


@dataclass(frozen=True)
class _Form:
    """Columns of a table in its sheet: their letters, by the glossary's name."""

    spec: Table
    letters: dict[str, str]

    def cell(self, name: str, row: int) -> str:
        return f"{self.letters[name]}{row}"


def workbook_bytes(planned: PlannedBatch, *, style: WritingStyle) -> bytes:
    """The workbook of a plan; the same plan gives the same bytes.

    ``style`` says in which units it is kept, and with how many decimals.
    """
    book = openpyxl.Workbook()
    book.remove(book.active)
    tables = {"burns": planned.burns, "checks": planned.checks, "candles": planned.candles}
    tables |= {"wicks": planned.wicks}
    order: tuple[str, ...] = _ORDER
    if wants_panel(planned.plan.settings):
        order, tables = (*_ORDER, "throw", "pairs"), tables | smelled_rows(planned)
    sheets = {name: book.create_sheet(name) for name in (PLAN_SHEET, *order)}
    looks = dict.fromkeys(order, look := Look(planned.plan.settings, style))
    looks["wicks"] = Look(planned.plan.settings, _AS_READ)
    forms = {}
    for name in order:
        spec, own = TABLES[name], looks[name]
        forms[name] = _head(sheets[name], spec, own)
        rows = tables.get(name, pd.DataFrame())
        _rows(sheets[name], forms[name], rows, own)
        own.finish(sheets[name], spec, forms[name].letters, len(rows), _FREE_ROWS)
    _sessions(sheets[PLAN_SHEET], planned, look)
    _fill_in(sheets, forms, planned, look)
    return _plain_bytes(book, planned)


def _head(sheet, spec: Table, look: Look) -> _Form:
    """The row of headings, each with a note."""
    letters = {}
    for n, column in enumerate(spec.columns, start=1):
        name = written_name(column, look.style)
        look.heading(sheet.cell(1, n), header_of(name, look.style), look.note(column))
        letters[column.name] = get_column_letter(n)
    return _Form(spec, letters)


def _rows(sheet, form: _Form, rows: pd.DataFrame, look: Look) -> None:
    """The planned rows; what the plan knows is locked, but for the fills, which are weighed."""
    for column in (column for column in form.spec.columns if column.name in rows):
        locked = column.name in PLANNED.get(form.spec.name, form.spec.key)
        texts = cells_of(rows[column.name], column, look.style)
        for n, text in enumerate(texts, start=2):
            if text:
                cell = sheet[form.cell(column.name, n)]
                cell.value = _value(text, column)
                if locked:
                    look.planned(cell)
                else:
                    look.open(cell)


def _value(text: str, column: Column):
    """What a CSV table would have, as a number or a day of a cell: both read as the same."""
    if column.kind in ("number", "whole"):
        return float(text)
    return datetime.fromisoformat(text) if column.kind in ("time", "date") else text


def _sessions(sheet, planned: PlannedBatch, look: Look) -> None:
    """One row for each session: when it is due, what to answer once, and where its rows are."""
    step, protocol = stagger_min(planned.plan.timetable), planned.plan.settings.protocol
    sheet["A1"] = planned.plan.settings.title
    sheet["A2"] = (
        "One row for each session. Answer for the whole session here; type over a cell of burns or "
        "checks where a candle differs. Today's session is marked."
    )
    look.title(sheet)
    room, wick = (
        header_of(written_name(TABLES["burns"].column(name), look.style), look.style)
        for name in ("room_c", "wick_length_mm")
    )
    heads = [
        ("(today)", "TODAY stands beside the session of this day."),
        ("Session", "Number of the session in the plan."),
        ("Burn", "Number of the burn of these candles."),
        ("Due", "When the plan has the first candle lit."),
        ("Candles", "How many candles, unless one has ended."),
        ("First lit at", f"Day and time. The others follow every {step} min, in the order of the "
                         "rows in burns: type over the time of one that did not."),
        (room, "At the bench."),
        (wick, "To which all wicks were trimmed."),
        ("Weights as last time", "yes: every candle weighs what it weighed after its last burn. "
                                 "Weigh again and type over the weight of one that may not."),
        ("Put out on time", f"yes: each was put out {protocol.burn_h:g} h after it was lit. Type "
                            "over the time of one that was not."),
    ]  # fmt: skip
    says = "; ".join(
        f"{TABLES['checks'].column(name).label}: {said}" for name, said in NOTHING_UNUSUAL.items()
    )
    for minute in _minutes(planned):
        note = f"yes, when the round is done: nothing unusual at any candle of it ({says}). Where "
        note += "something was, write it into the check itself: that cell counts."
        heads.append((f"{minute:g} min: nothing unusual", note))
    for n, (text, note) in enumerate(heads, start=1):
        look.heading(sheet.cell(_HEAD, n), text, note)
    first = _first_rows(planned)
    for n, session in enumerate(planned.sessions.itertuples(), start=_HEAD + 1):
        sheet.cell(n, 1, f'=IF(INT(D{n})=TODAY(),"TODAY","")')
        sheet.cell(n, 2, session.session)
        sheet.cell(n, 3, session.burn)
        sheet.cell(
            n, 4, session.lit_from.to_pydatetime().replace(tzinfo=None)
        ).number_format = _CLOCK
        sheet.cell(n, 5, session.n_candles)
        sheet.cell(n, 6).number_format = _CLOCK
        for column, name in ((2, "burns"), (3, "checks")):
            cell = sheet.cell(n, column)
            place = f"{name}!A{first[name][session.session]}"
            cell.hyperlink = Hyperlink(cell.coordinate, location=place, tooltip=f"to {place}")
        for column in range(1, 6):
            look.planned(sheet.cell(n, column))
        for column in range(6, len(heads) + 1):
            look.open(sheet.cell(n, column))
    look.finish_sessions(sheet, _HEAD, len(planned.sessions), len(heads))


def _minutes(planned: PlannedBatch) -> list[float]:
    return sorted(planned.rounds["elapsed_min"].unique())


def _first_rows(planned: PlannedBatch) -> dict[str, dict[int, int]]:
    """The first row of each session in the sheets of burns and checks."""
    burns = planned.due["session"]
    of_checks = planned.due_checks["session"]
    return {
        name: {int(s): int(own.index[0]) + 2 for s, own in values.groupby(values)}
        for name, values in (("burns", burns), ("checks", of_checks))
    }


def _fill_in(sheets: dict, forms: dict[str, _Form], planned: PlannedBatch, look: Look) -> None:
    """The formulas that put a session's answers into its rows."""
    burns, checks = forms["burns"], forms["checks"]
    step = stagger_min(planned.plan.timetable)
    protocol = planned.plan.settings.protocol
    last: dict[str, int] = {}
    order = planned.due.groupby("session").cumcount()
    for n, (due, place) in enumerate(zip(planned.due.itertuples(), order, strict=True), start=2):
        answer = f"{PLAN_SHEET}!${{}}${_HEAD + due.session}".format
        weighed, lit, out = (burns.cell(c, n) for c in ("mass_after_g", "lit_at", "out_at"))
        before = last.get(due.candle)
        filled = {
            "lit_at": f'=IF(OR({weighed}="",{answer("F")}=""),"",'
            f"{answer('F')}+{place * step}/1440)",
            "out_at": f'=IF(OR({lit}="",{answer("J")}<>"yes"),"",{lit}+{protocol.burn_h:g}/24)',
            "room_c": f'=IF(OR({weighed}="",{answer("G")}=""),"",{answer("G")})',
            "wick_length_mm": f'=IF(OR({weighed}="",{answer("H")}=""),"",{answer("H")})',
            "ended_by": f'=IF(OR({lit}="",{out}=""),"",IF(ABS(({out}-{lit})*1440-'
            f'{60 * protocol.burn_h:g})<={protocol.burn_tolerance_min:g},"timer",""))',
        }
        if before:
            after = burns.cell("mass_after_g", before)
            filled["mass_before_g"] = (
                f'=IF(OR({weighed}="",{answer("I")}<>"yes",{after}=""),"",{after})'
            )
        for name, formula in filled.items():
            look.offered(sheets["burns"][burns.cell(name, n)], formula)
        for name in ("lit_at", "out_at"):
            sheets["burns"][burns.cell(name, n)].number_format = _CLOCK
        last[due.candle] = n
    rounds = {m: get_column_letter(_FIRST_ROUND + k) for k, m in enumerate(_minutes(planned))}
    for n, due in enumerate(planned.due_checks.itertuples(), start=2):
        seen = checks.cell("flame_height_mm", n)
        said_for_all = f"{PLAN_SHEET}!${rounds[due.elapsed_min]}${_HEAD + due.session}"
        for name, said in NOTHING_UNUSUAL.items():
            text = said if said.isdigit() else f'"{said}"'
            formula = f'=IF(OR({seen}="",{said_for_all}<>"yes"),"",{text})'
            look.offered(sheets["checks"][checks.cell(name, n)], formula)


def _plain_bytes(book, planned: PlannedBatch) -> bytes:
    """The bytes of a book without the moment at which it was made, or by whom."""
    stamp = datetime.combine(planned.plan.pour.poured_on or planned.first_day, datetime.min.time())
    book.properties.creator = "candlelab"
    book.properties.created = stamp
    made, plain = io.BytesIO(), io.BytesIO()
    book.save(made)
    files = unpacked(made)
    modified = rb"(<dcterms:modified[^>]*>)[^<]*"
    core = "docProps/core.xml"
    files[core] = re.sub(modified, rb"\g<1>" + f"{stamp:%Y-%m-%dT%H:%M:%SZ}".encode(), files[core])
    write_zip(plain, files)
    return plain.getvalue()

"""How the sheets of a plan's workbook look: headings with notes, lists, ranges, limits, locks."""

from __future__ import annotations

from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Font, PatternFill, Protection
from openpyxl.styles.differential import DifferentialStyle
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from candlelab.judge.criteria import CHECK, criteria_of
from candlelab.logs.column import Column, Table
from candlelab.logs.settings import Settings
from candlelab.logs.writer import WritingStyle, written_name
from candlelab.units import convert, split_unit, unit_symbol

_HEAD, _KNOWN = PatternFill("solid", "FFE8E2D6"), PatternFill("solid", "FFF3F1EC")
_STOP, _CAUTION = PatternFill(bgColor="FFF4B8B0"), PatternFill(bgColor="FFFBE3A6")
_TODAY = PatternFill(bgColor="FFCFE6D4")
_OFFERED = Font(italic=True, color="FF6B6457")  # a session's answer, until it is typed over
_OPEN = Protection(locked=False)
_WIDE = {"text": 16, "time": 17, "date": 12, "note": 40}
_FORMATS = {"time": "yyyy-mm-dd hh:mm", "date": "yyyy-mm-dd"}
_YES_NO = ("yes", "no")
_HEAD_HIGH = 45  # points: three lines


class Look:
    """The look of one workbook, by the limits of its plan and the units that it is kept in."""

    def __init__(self, settings: Settings, style: WritingStyle) -> None:
        self.style = style
        self._limits: dict[str, dict[bool, float]] = {}
        for c in criteria_of(settings):
            if c.level == CHECK:
                own = self._limits.setdefault(c.column, {})
                own[c.decides] = min(c.limit, own.get(c.decides, c.limit))

    def note(self, column: Column) -> str:
        """What a column means, what is usual in it, and its limit."""
        parts = [column.meaning[:1].upper() + column.meaning[1:] + "."]
        if column.choices:
            parts.append(f"One of: {', '.join(column.choices)}.")
        if column.kind == "flag":
            parts.append("yes or no; empty if nobody looked.")
        if column.low is not None and column.high is not None:
            low, high = self._shown(column, column.low), self._shown(column, column.high)
            parts.append(f"Usually {low:.4g} to {high:.4g} {self._unit(column)}".strip() + ".")
        if column.kind not in ("flag", "choice") and column.name in self._limits:
            limit = min(self._limits[column.name].values())
            parts.append(f"Marked above {self._shown(column, limit):.4g} {self._unit(column)}.")
        if column.name == "pool_diameter_mm":
            parts.append("Until it is full: later checks of the same burn may stay empty.")
        return " ".join(parts)

    def _shown(self, column: Column, value: float) -> float:
        own, unit = split_unit(column.name)[1], split_unit(written_name(column, self.style))[1]
        return float(convert(value, own, unit)) if own and unit else value

    def _unit(self, column: Column) -> str:
        return unit_symbol(written_name(column, self.style))

    def heading(self, cell, text: str, note: str) -> None:
        """A heading with its note."""
        cell.value, cell.fill, cell.font = text, _HEAD, Font(bold=True)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.comment = Comment(note, "candlelab", height=120, width=260)

    def planned(self, cell) -> None:
        """A cell that the plan has filled in; it stays locked."""
        cell.fill = _KNOWN

    def open(self, cell) -> None:
        """A cell to type into."""
        cell.protection = _OPEN

    def offered(self, cell, formula: str) -> None:
        """A cell that a session's answer fills in, until it is typed over."""
        cell.value, cell.font, cell.protection = formula, _OFFERED, _OPEN

    def title(self, sheet) -> None:
        sheet["A1"].font = Font(bold=True, size=14)

    def finish(self, sheet, spec: Table, letters: dict[str, str], planned: int, free: int) -> None:
        """Formats, open cells, lists, ranges and colors of a table's sheet, frozen and locked."""
        last = 1 + planned + free
        key = len(spec.key)
        for column in spec.columns:
            letter = letters[column.name]
            wide = _WIDE.get(column.name) or _WIDE.get(column.kind, 11)
            sheet.column_dimensions[letter].width = wide
            for row in range(2, last + 1):
                cell = sheet[f"{letter}{row}"]
                if cell.value is None:
                    cell.protection = _OPEN
                if column.kind in _FORMATS:
                    cell.number_format = _FORMATS[column.kind]
            self._answers(sheet, column, f"{letter}2:{letter}{last}")
            self._colors(sheet, column, letter, last)
        sheet.row_dimensions[1].height = _HEAD_HIGH
        sheet.freeze_panes = sheet.cell(2, key + 1)
        _lock(sheet)

    def _answers(self, sheet, column: Column, cells: str) -> None:
        """A list where there are choices; a warning outside the usual range."""
        choices = column.choices or (_YES_NO if column.kind == "flag" else ())
        if choices:
            _list(sheet, choices, cells)
        elif column.low is not None and column.high is not None:
            low, high = (self._shown(column, value) for value in (column.low, column.high))
            rule = DataValidation(
                type="decimal", operator="between", formula1=f"{low:.6g}", formula2=f"{high:.6g}",
                errorStyle="warning", errorTitle="Unusual", allow_blank=True, sqref=cells,
                error=f"Usually {low:.4g} to {high:.4g} {self._unit(column)}. Keep it if right.",
            )  # fmt: skip
            sheet.add_data_validation(rule)

    def _colors(self, sheet, column: Column, letter: str, last: int) -> None:
        """Bold, marked with an exclamation mark and colored where a reading passes a limit."""
        limits = self._limits.get(column.name, {})
        for decides, limit in sorted(limits.items(), reverse=True):  # what is worst comes first
            over = f"{self._shown(column, limit):.6g}"
            first, cells = f"{letter}2", f"{letter}2:{letter}{last}"
            if column.kind == "flag":
                formula = f'{first}="yes"'
            else:
                formula = f'AND({first}<>"",IFERROR(VALUE({first}),0)>{over})'
            fill = _STOP if decides else _CAUTION
            rule = FormulaRule(formula=[formula], fill=fill, font=Font(bold=True))
            mark = "!! " if decides else "! "
            rule.dxf = DifferentialStyle(
                font=Font(bold=True, color="FF8A1C10"), fill=fill, numFmt=_marked(mark)
            )
            rule.stopIfTrue = decides
            sheet.conditional_formatting.add(cells, rule)

    def finish_sessions(self, sheet, head: int, rows: int, width: int) -> None:
        """The look of the sheet of sessions."""
        for n in range(1, width + 1):
            sheet.column_dimensions[get_column_letter(n)].width = 17 if n in (4, 6) else 12
        sheet.row_dimensions[head].height = _HEAD_HIGH
        first, last = head + 1, head + rows
        end = get_column_letter(width)
        rule = FormulaRule(formula=[f"INT($D{first})=TODAY()"], font=Font(bold=True), fill=_TODAY)
        sheet.conditional_formatting.add(f"A{first}:{end}{last}", rule)
        _list(sheet, ("yes",), f"I{first}:{end}{last}")
        sheet.freeze_panes = sheet.cell(first, 6)
        _lock(sheet)


def _marked(mark: str):
    from openpyxl.styles.numbers import NumberFormat

    shown = f'"{mark}"General'
    return NumberFormat(numFmtId=200 + len(mark), formatCode=f'{shown};{shown};{shown};"{mark}"@')


def _list(sheet, choices: tuple[str, ...], cells: str) -> None:
    rule = DataValidation(
        type="list", formula1=f'"{",".join(choices)}"', allow_blank=True, sqref=cells,
        errorTitle="Not in the list", error=f"Choose one of: {', '.join(choices)}.",
    )  # fmt: skip
    sheet.add_data_validation(rule)


def _lock(sheet) -> None:
    """Locked without a password: what the plan knows is not typed over by a slip."""
    sheet.protection.sheet = True
    for freedom in (
        "formatColumns",
        "formatRows",
        "formatCells",
        "autoFilter",
        "sort",
        "insertRows",
    ):
        setattr(sheet.protection, freedom, False)

"""Columns of text into one typed table in canonical units, each row with its place in the file."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.glossary import Column, Table
from candlelab.logs.cells import HAS_OFFSET, Fault, Style, comma_or_dot, read_column
from candlelab.logs.csv_text import DELIMITERS, QUOTES, Cells, Records, read_records
from candlelab.logs.problems import LOOK, MUST_FIX, ProblemList
from candlelab.text import closest
from candlelab.units import UNITS, convert, normalise_header, split_unit, unit_symbol

# Tables that may be without rows: a batch that is planned and not burnt yet has such ones.
_WITHOUT_ROWS = {
    "burns": "Log the burns here; there is nothing to report before the first. If burns were "
    "logged, the table was saved without them.",
    "checks": "What was not seen counts as not recorded.",
}


@dataclass(frozen=True)
class Match:
    """A column found in the file: its place, its header as the
    file spells it, and its unit there."""

    place: int
    header: str
    column: Column
    unit: str | None


@dataclass(frozen=True, eq=False)
class ReadTable:
    """A typed table with the place of each row.

    ``found`` holds the columns that the file has; another column is in the frame, all missing, and
    if a problem already explains why, its name is in ``excused``. ``muted`` marks rows already
    reported as broken, ``unsure`` rows whose key has a gap or is given twice, ``offsets`` rows in
    which no time lacks its offset from UTC.
    """

    spec: Table
    frame: pd.DataFrame
    lines: np.ndarray
    rows: np.ndarray
    found: dict[str, Match]
    excused: frozenset[str]
    muted: np.ndarray
    unsure: np.ndarray
    offsets: np.ndarray

    def add(
        self,
        problems: ProblemList,
        level: str,
        problem: str,
        n: int,
        column: str,
        *,
        found="",
        expected="",
        do="",
    ) -> None:
        """Note a problem in row place ``n``."""
        candle = self.frame["candle"].iat[n] if "candle" in self.frame else ""
        header = self.found[column].header if column in self.found else column
        problems.add(
            level,
            problem,
            self.spec.file,
            line=int(self.lines[n]),
            row=int(self.rows[n]),
            candle=candle,
            column=header,
            found=found,
            expected=expected,
            do=do,
        )

    def where(self, mask) -> np.ndarray:
        """Places of the rows that the mask holds, those already reported as broken left out."""
        return np.flatnonzero(np.asarray(mask, dtype=bool) & ~self.muted)

    def first_of_each(self, values: pd.Series, mask) -> list[tuple[int, str]]:
        """Place of the first row with each value that the mask holds,
        and `` (3 rows)`` where there are more."""
        rows = self.where(mask)
        first, count = np.unique(
            values.iloc[rows].to_numpy(dtype=str), return_index=True, return_counts=True
        )[1:]
        return [
            (int(rows[n]), f" ({times} rows)" if times > 1 else "")
            for n, times in sorted(zip(first, count))
        ]

    def show(self, column: str, *values: float) -> str:
        """Canonical values of a column in the unit that the file uses,
        as in ``17.8 oz`` or ``3 to 100 mm``."""
        return _in_unit(
            column,
            self.found[column].unit if column in self.found else split_unit(column)[1],
            *values,
        )


def _in_unit(column: str, unit: str | None, *values: float) -> str:
    own = split_unit(column)[1]
    if own and unit:
        values = [convert(value, own, unit) for value in values]
    text = " to ".join(f"{value:.4g}" if len(values) > 1 else f"{value:.6g}" for value in values)
    return f"{text} {unit_symbol('_' + unit)}" if unit else text


def read_table(spec: Table, data: bytes, style: Style, problems: ProblemList) -> ReadTable | None:
    """Read one table from the bytes of its file; None when it has no
    usable header, or no row and needs one."""
    records = read_records(data, spec.file, problems)
    if records is None:
        return None
    found, excused = _match_headers(spec, records, problems)
    if not found and not excused:
        return None
    for column in spec.columns:
        if column.required and column.name not in found and column.name not in excused:
            _at_header(
                spec,
                records,
                problems,
                MUST_FIX,
                "missing column",
                column.name,
                expected=f"a column {column.name}: {column.meaning}",
                do=f"Add the column {column.name}.",
            )
    if spec.required and not len(records.lines):
        do = _WITHOUT_ROWS.get(spec.name, "Fill the table in.")
        _at_header(
            spec,
            records,
            problems,
            LOOK if spec.name in _WITHOUT_ROWS else MUST_FIX,
            "table without rows",
            "",
            expected="a row below the header",
            do=do,
        )
        if (
            spec.name != "burns"
        ):  # no burn is an answer: a check, a score or a wick change then has no burn to belong to
            return None
    muted = _check_widths(spec, records, found, problems)
    style = dataclasses.replace(style, decimal_comma=uses_comma(records, found))
    columns, faults = {}, []
    offsets = np.ones(len(muted), dtype=bool)
    for column in spec.columns:
        match = found.get(column.name)
        cells = (
            records.columns[match.place] if match else Cells(np.zeros(len(muted), dtype=int), [""])
        )
        values, wrong = read_column(cells, column, match.unit if match else None, style)
        columns[column.name] = values
        if match:
            values, impossible = _without_impossible(values, match)
            columns[column.name], wrong = values, wrong | impossible
        faults += [(n, column.name, cells.at(n), fault) for n, fault in wrong.items()]
        if match and column.required:
            blank = Fault("empty cell", column.meaning, "Fill the cell in.")
            faults += [(n, column.name, "", blank) for n in np.flatnonzero(cells.blank())]
        if match and column.kind == "time":
            offsets &= (
                cells.blank()
                if max(map(len, cells.texts), default=0) <= 16
                else cells.where(lambda text: not text or HAS_OFFSET.search(text))
            )
    frame = pd.DataFrame(columns)
    twice, unsure = _repeated(spec, frame, found)
    table = ReadTable(
        spec,
        frame,
        records.lines,
        records.row_numbers,
        found,
        frozenset(excused),
        muted,
        unsure,
        offsets,
    )
    for n, name, text, fault in faults:
        if not muted[n]:
            table.add(
                problems,
                MUST_FIX,
                fault.problem,
                n,
                name,
                found=text,
                expected=fault.expected,
                do=fault.do,
            )
    _check_ranges(table, problems)
    if (twice & ~muted).any():
        _report_repeated(table, twice & ~muted, problems)
    return table


def _at_header(
    spec: Table,
    records: Records,
    problems: ProblemList,
    level,
    problem,
    column,
    *,
    found="",
    expected="",
    do="",
) -> None:
    problems.add(
        level,
        problem,
        spec.file,
        line=records.header_line,
        row=records.header_row,
        column=column,
        found=found,
        expected=expected,
        do=do,
    )


def _match_headers(
    spec: Table, records: Records, problems: ProblemList
) -> tuple[dict[str, Match], set[str]]:
    """Columns found in the header, and those whose absence another problem
    already explains; none if it is no header."""
    by_name = {c.name: c for c in spec.columns}
    quantities = {split_unit(c.name)[0]: c for c in spec.columns if split_unit(c.name)[1]}
    found: dict[str, Match] = {}
    excused: set[str] = set()
    unknown, nameless = [], []
    for place, raw in enumerate(map(str.strip, records.header)):
        name = normalise_header(raw)
        stem, unit = split_unit(name)
        column = by_name.get(name) or (quantities.get(stem) if unit else None)
        own = split_unit(column.name)[1] if column else None
        if not name:
            nameless.append(place)
        elif column is None:
            unknown.append((raw, name))
        elif own and UNITS[unit].dimension != UNITS[own].dimension:
            _at_header(
                spec,
                records,
                problems,
                MUST_FIX,
                "unit of another kind",
                raw,
                found=raw,
                expected=f"a unit of {UNITS[own].dimension}, as in {column.name}",
                do="Check the unit at the end of the column's name.",
            )
            excused.add(column.name)
        elif column.name in found:
            _at_header(
                spec,
                records,
                problems,
                MUST_FIX,
                "two columns for one quantity",
                raw,
                found=f"{found[column.name].header} and {raw}",
                expected=f"one column for {column.label}",
                do="Keep one of the two columns.",
            )
        else:
            found[column.name] = Match(place, raw, column, unit if own else None)
    if not found and not excused:
        names = [c.name for c in spec.columns if c.required]
        _at_header(
            spec,
            records,
            problems,
            MUST_FIX,
            "header line not recognised",
            "",
            found=" ".join(records.header),
            expected="the names of the columns, such as " + ", ".join(names),
            do="Name the columns in the first line, parted by commas, semicolons or tabs.",
        )
        return {}, set()
    for place in nameless:
        if not records.columns[place].blank().all():
            _at_header(
                spec,
                records,
                problems,
                LOOK,
                "column without a name",
                "",
                found=f"column {place + 1}",
                expected="a name in the header line",
                do="Name the column, or empty it; it was not read.",
            )
    for raw, name in unknown:
        free = {n: c for n, c in by_name.items() if n not in found and n not in excused}
        column, level, problem, expected, do = _explain_unknown(name, quantities, free)
        _at_header(
            spec, records, problems, level, problem, raw, found=raw, expected=expected, do=do
        )
        if column:
            excused.add(column.name)
    return found, excused


def _explain_unknown(
    name: str, quantities: dict[str, Column], free: dict[str, Column]
) -> tuple[Column | None, str, str, str, str]:
    """What a header that names no column may have meant: the column,
    level, problem, expected and what to do."""
    for stem in sorted(quantities, key=len, reverse=True):
        column = quantities[stem]
        if column.name in free and (name == stem or name.rpartition("_")[0] == stem):
            own = split_unit(column.name)[1]
            units = ", ".join(
                f"_{u}" for u, spec in UNITS.items() if spec.dimension == UNITS[own].dimension
            )
            return (
                column,
                MUST_FIX,
                "unit missing" if name == stem else "unknown unit",
                f"a name that ends in one of {units}",
                f"Name the column {column.name}, or with the unit that you used.",
            )
    stems = {split_unit(n)[0]: n for n in free if split_unit(n)[1]}
    meant = closest(name, free) or stems.get(closest(split_unit(name)[0], stems))
    if meant is None:
        return None, LOOK, "column not known", "", "It was not read; keep it if it is your own."
    column = free[meant]
    (stem, own), unit = split_unit(meant), split_unit(name)[1]
    if own and unit and UNITS[unit].dimension == UNITS[own].dimension:
        meant = f"{stem}_{unit}"
    return (
        column,
        MUST_FIX if column.required else LOOK,
        "misspelt column",
        meant,
        f"Did you mean {meant}? Rename the column."
        + ("" if column.required else " It was not read."),
    )


def _check_widths(
    spec: Table, records: Records, found_columns: dict[str, Match], problems: ProblemList
) -> np.ndarray:
    """Rows that cannot be trusted: broken quotes, too many or too few cells."""
    width = len(records.header)
    broken = np.zeros(len(records.lines), dtype=bool)
    broken[list(records.broken)] = True
    wrong = (records.widths != width) | broken
    for n in np.flatnonzero(wrong):
        cells, part = int(records.widths[n]), DELIMITERS.get(records.delimiter, "delimiter")
        hint = (
            ", such as a decimal comma or a comma in a note without quotes"
            if cells > width and part == "comma"
            else ""
        )
        kind, found, expected = (
            "row of another width",
            f"{cells} cell{'' if cells == 1 else 's'}",
            f"{width} cells, as in the header",
        )
        do = (
            f"Look for {'an extra' if cells > width else 'a missing'} {part}{hint}; the row was "
            "not read."
        )
        if broken[n]:
            (kind, found), (expected, do) = records.broken[n], QUOTES
        problems.add(
            MUST_FIX,
            kind,
            spec.file,
            line=int(records.lines[n]),
            row=int(records.row_numbers[n]),
            candle=records.columns[found_columns["candle"].place].at(n)
            if "candle" in found_columns
            else "",
            found=found,
            expected=expected,
            do=do,
        )
    return wrong


def uses_comma(records: Records, found: dict[str, Match]) -> bool:
    """Whether the comma is this file's decimal mark: never where it parts
    the cells, else if most marks are commas."""
    if records.delimiter == ",":
        return False
    numeric = [
        records.columns[m.place].texts
        for m in found.values()
        if m.column.kind in ("number", "whole")
    ]
    marks = [comma_or_dot(text) for texts in numeric for text in texts]
    return marks.count(",") > 0 and marks.count(",") >= marks.count(".")


def _without_impossible(values: pd.Series, match: Match) -> tuple[pd.Series, dict[int, Fault]]:
    """Numbers that cannot be (below zero, over 100 %) made missing, and the faults by row place."""
    column = match.column
    if column.kind not in ("number", "whole"):
        return values, {}
    unit = split_unit(column.name)[1]
    least = (
        -273.15
        if unit and UNITS[unit].dimension == "temperature"
        else column.low
        if column.kind == "whole"
        else 0
    )
    impossible = (values < least) | (values > (100 if unit == "pct" else np.inf))
    if not impossible.any():
        return values, {}
    fault = Fault(
        "impossible value",
        _in_unit(column.name, match.unit, column.low, column.high),
        "Check the number and the unit in the column's name.",
    )
    return values.mask(impossible), dict.fromkeys(np.flatnonzero(impossible).tolist(), fault)


def _check_ranges(table: ReadTable, problems: ProblemList) -> None:
    """Implausible numbers are pointed out; where most of a
    column is implausible, its unit is, once."""
    for name, match in table.found.items():
        column = match.column
        if column.kind not in ("number", "whole"):
            continue
        values = table.frame[name].to_numpy(dtype=float)
        read = np.isfinite(values) & ~table.muted
        odd = np.flatnonzero(((values < column.low) | (values > column.high)) & read)
        expected = table.show(name, column.low, column.high)
        if match.unit and len(odd) > 5 and 2 * len(odd) > read.sum():
            table.add(
                problems,
                LOOK,
                "implausible column",
                odd[0],
                name,
                expected=expected,
                found=f"{len(odd)} of {read.sum()} readings, the first "
                f"{table.show(name, values[odd[0]])}",
                do="Check the unit in the column's name; keep it if it is right.",
            )
            continue
        for n in odd:
            table.add(
                problems,
                LOOK,
                "implausible value",
                n,
                name,
                found=table.show(name, values[n]),
                expected=expected,
                do="Check the number and the unit in the column's name; keep it if it is right.",
            )


def _repeated(
    spec: Table, frame: pd.DataFrame, found: dict[str, Match]
) -> tuple[np.ndarray, np.ndarray]:
    """Rows whose key an earlier row has, and rows whose key is given twice or has a gap.

    The key is what the file has of it, if it has the first two columns.
    """
    key = [name for name in spec.key if name in found]
    gap = np.zeros(len(frame), dtype=bool)
    for name in spec.key:
        if spec.column(name).required:
            gap |= (
                (frame[name] == "").to_numpy()
                if spec.column(name).kind == "text"
                else frame[name].isna().to_numpy()
            )
    if not set(spec.key[:2]) <= set(key):
        return np.zeros(len(frame), dtype=bool), gap
    keys = pd.DataFrame(
        {
            name: pd.factorize(frame[name])[0] if frame[name].dtype == "str" else frame[name]
            for name in key
        }
    )
    twice = keys.duplicated().to_numpy()
    return twice & ~gap, (keys.duplicated(keep=False).to_numpy() if twice.any() else twice) | gap


def _report_repeated(table: ReadTable, twice: np.ndarray, problems: ProblemList) -> None:
    key = [name for name in table.spec.key if name in table.found]
    keys = table.frame[key]
    group = keys.groupby(key, dropna=False, sort=False).ngroup().to_numpy()
    first = dict(zip(group[::-1], table.lines[::-1]))
    left_out = (
        _left_out(keys[keys["candle"].isin(keys["candle"][twice])])
        if table.spec.name == "burns"
        else {}
    )
    for n in np.flatnonzero(twice):
        what = ", ".join(
            f"{name} {_plain(keys[name].iat[n])}" for name in key if _plain(keys[name].iat[n])
        )
        gap = left_out.get(keys["candle"].iat[n]) if left_out else None
        table.add(
            problems,
            MUST_FIX,
            "row given twice",
            n,
            key[-1],
            found=what,
            expected="each only once",
            do=f"Remove one of the two rows (the first is on line {first[group[n]]}), or correct "
            "its number" + (f": burn {gap} is missing." if gap else "."),
        )


def _left_out(burns: pd.DataFrame) -> dict[str, int]:
    """The lowest burn number that each candle leaves out below
    its last, where it leaves one out."""
    numbers = burns.groupby("candle")["burn"].agg(lambda burn: set(burn.dropna()))
    gaps = {
        name: next((n for n in range(1, len(given) + 1) if n not in given), None)
        for name, given in numbers.items()
    }
    return {name: gap for name, gap in gaps.items() if gap}


def _plain(value) -> str:
    if pd.isna(value):
        return ""
    return f"{value:g}" if isinstance(value, float) else str(value)

"""Rows of text into one typed table in canonical units, each row with its place in the file."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.cells import HAS_OFFSET, Style, read_column
from candlelab.columns import UNITS, Column, Table, convert, normalise_header, split_unit, unit_symbol
from candlelab.csvtext import DELIMITERS, Records, read_records
from candlelab.problems import LOOK, MUST_FIX, ProblemList, clip, suggest


@dataclass(frozen=True, eq=False)
class ReadTable:
    """A typed table with the place of each row.

    ``headers`` maps a column's name to the file's own spelling; a column that the file has not is in
    the frame, all missing, and not in ``headers``. ``muted`` marks rows already reported as broken,
    ``offsets`` rows whose times all carry an offset from UTC.
    """

    spec: Table
    frame: pd.DataFrame
    lines: np.ndarray
    rows: np.ndarray
    headers: dict[str, str]
    muted: np.ndarray
    offsets: np.ndarray

    def add(self, problems: ProblemList, level: str, problem: str, n: int, column: str, *, found="", expected="", do="") -> None:
        """Note a problem in row place ``n``."""
        candle = self.frame["candle"].iat[n] if "candle" in self.frame else ""
        problems.add(level, problem, self.spec.file, line=int(self.lines[n]), row=int(self.rows[n]), candle=candle,
                     column=self.headers.get(column, column), found=found, expected=expected, do=do)  # fmt: skip


@dataclass(frozen=True)
class _Match:
    place: int
    header: str
    column: Column
    unit: str | None


def read_table(spec: Table, data: bytes, style: Style, problems: ProblemList) -> ReadTable | None:
    """Read one table from the bytes of its file; None when it has no usable header."""
    records = read_records(data, spec.file, problems)
    if records is None:
        return None
    matches, excused = _match_headers(spec, records, problems)
    for column in spec.columns:
        if column.required and column.name not in matches and column.name not in excused:
            problems.add(MUST_FIX, "missing column", spec.file, line=records.header_line, row=records.header_line,
                         column=column.name, expected=f"a column {column.name}: {column.meaning}",
                         do=f"Add the column {column.name}.")  # fmt: skip
    muted = _check_widths(spec, records, matches, problems)
    width = len(records.header)
    rows = [row if len(row) == width else (row + [""] * width)[:width] for row in records.rows]
    texts = list(map(list, zip(*rows))) if rows else [[] for _ in range(width)]
    style = Style(decimal_comma=_uses_comma(records, texts, matches), slash_dates=style.slash_dates, time_zone=style.time_zone)
    columns, faults, blanks = {}, [], []
    for column in spec.columns:
        match = matches.get(column.name)
        cells = texts[match.place] if match else [""] * len(rows)
        values, wrong = read_column(cells, column, match.unit if match else None, style)
        columns[column.name] = values
        faults += [(n, column.name, cells[n].strip(), fault) for n, fault in wrong.items()]
        if match and column.required:
            blanks += [(n, column.name) for n, text in enumerate(cells) if not text.strip()]
    times = [m.place for m in matches.values() if m.column.kind == "time"]
    offsets = np.array([all(HAS_OFFSET.search(row[place]) for place in times) for row in rows] if times else muted, dtype=bool)
    table = ReadTable(spec, pd.DataFrame(columns), np.array(records.lines), np.array(records.row_numbers),
                      {name: m.header for name, m in matches.items()}, muted, offsets)  # fmt: skip
    for n, name, text, fault in faults:
        if not muted[n]:
            table.add(problems, MUST_FIX, fault.problem, n, name, found=text, expected=fault.expected, do=fault.do)
    for n, name in blanks:
        if not muted[n]:
            meaning = spec.column(name).meaning
            table.add(problems, MUST_FIX, "empty cell", n, name, expected=meaning, do="Fill the cell in.")
    _check_ranges(table, matches, problems)
    _check_keys(table, problems)
    return table


def _match_headers(spec: Table, records: Records, problems: ProblemList) -> tuple[dict[str, _Match], set[str]]:
    """Columns found in the header, and those whose absence another problem already explains."""
    by_name = {c.name: c for c in spec.columns}
    quantities = {split_unit(c.name)[0]: c for c in spec.columns if split_unit(c.name)[1]}
    matches: dict[str, _Match] = {}
    excused: set[str] = set()
    unknown = []

    def fault(problem, raw, level=MUST_FIX, found=None, expected="", do=""):
        line = records.header_line
        problems.add(level, problem, spec.file, line=line, row=line, column=raw.strip(), found=raw if found is None else found,
                     expected=expected, do=do)  # fmt: skip

    for place, raw in enumerate(records.header):
        name = normalise_header(raw)
        stem, unit = split_unit(name)
        column = by_name.get(name)
        if not name:
            if any(place < len(row) and row[place].strip() for row in records.rows):
                fault("column without a name", f"column {place + 1}", LOOK, do="Name the column, or empty it; it was not read.")
            continue
        if column is None and unit and stem in quantities:
            column = quantities[stem]
            own = split_unit(column.name)[1]
            if UNITS[unit].dimension != UNITS[own].dimension:
                fault("unit of another kind", raw, expected=f"a unit of {UNITS[own].dimension}, as in {column.name}",
                      do="Check the unit at the end of the column's name.")  # fmt: skip
                excused.add(column.name)
                continue
        if column is None:
            unknown.append((raw, name))
        elif column.name in matches:
            fault("two columns for one quantity", raw, found=f"{matches[column.name].header.strip()} and {raw.strip()}",
                  expected=f"one column for {column.label}", do="Keep one of the two columns.")  # fmt: skip
        else:
            matches[column.name] = _Match(place, raw.strip(), column, unit if split_unit(column.name)[1] else None)
    for raw, name in unknown:
        _unknown_header(raw, name, quantities, by_name, matches, excused, fault)
    return matches, excused


def _unknown_header(raw, name, quantities, by_name, matches, excused, fault) -> None:
    for stem in sorted(quantities, key=len, reverse=True):
        column = quantities[stem]
        if name == stem or (name.startswith(stem + "_") and "_" not in name[len(stem) + 1 :]):
            own = split_unit(column.name)[1]
            units = ", ".join(f"_{u}" for u, spec in UNITS.items() if spec.dimension == UNITS[own].dimension)
            fault("unit missing" if name == stem else "unknown unit", raw, expected=f"a name that ends in one of {units}",
                  do=f"Name the column {column.name}, or with the unit that you used.")  # fmt: skip
            excused.add(column.name)
            return
    free = {n: c for n, c in by_name.items() if n not in matches and n not in excused}
    stems = {split_unit(n)[0]: n for n in free if split_unit(n)[1]}
    close = re.search("'(.*)'", suggest(name, free) or suggest(split_unit(name)[0], stems))
    meant = close and stems.get(close[1], close[1])
    if meant is None:
        fault("column not known", raw, LOOK, do="It was not read; keep it if it is your own.")
        return
    column = free[meant]
    excused.add(column.name)
    fault("misspelt column", raw, MUST_FIX if column.required else LOOK, expected=column.name,
          do=f"Did you mean {column.name}? Rename the column." + ("" if column.required else " It was not read."))  # fmt: skip


def _check_widths(spec: Table, records: Records, matches: dict[str, _Match], problems: ProblemList) -> np.ndarray:
    width = len(records.header)
    muted = np.zeros(len(records.rows), dtype=bool)
    muted[list(records.broken)] = True
    candle = matches.get("candle")
    odd = [n for n, row in enumerate(records.rows) if len(row) != width and n not in records.broken]
    for n in odd:
        row = records.rows[n]
        if len(row) > width and not any(map(str.strip, row[width:])):
            continue
        muted[n] = True
        who = row[candle.place].strip() if candle and candle.place < len(row) else ""
        problems.add(
            MUST_FIX, "row of another width", spec.file, line=records.lines[n], row=records.row_numbers[n], candle=who,
            found=f"{len(row)} cells", expected=f"{width} cells, as in the header",
            do=f"Look for a missing or extra {DELIMITERS.get(records.delimiter, 'delimiter')}"
               + (", such as a decimal comma or a comma in a note without quotes." if len(row) > width and records.delimiter == "," else "."),
        )  # fmt: skip
    return muted


def _uses_comma(records: Records, texts: list[list[str]], matches: dict[str, _Match]) -> bool:
    """Whether the comma is this file's decimal mark: never where the comma parts the cells."""
    if records.delimiter == ",":
        return False
    numeric = [m.place for m in matches.values() if m.column.kind == "number"]
    return any("," in text for place in numeric for text in dict.fromkeys(texts[place]))


def _check_ranges(table: ReadTable, matches: dict[str, _Match], problems: ProblemList) -> None:
    """Impossible numbers must be fixed; implausible ones are pointed out."""
    for column in table.spec.columns:
        if column.kind not in ("number", "whole") or column.name not in matches:
            continue
        values = table.frame[column.name].to_numpy(dtype=float)
        own, unit = split_unit(column.name)[1], matches[column.name].unit
        impossible = np.zeros(len(values), dtype=bool)
        if own and UNITS[own].dimension != "temperature":
            impossible = values < 0
        if own == "pct":
            impossible |= values > 100
        low = -np.inf if column.low is None else column.low
        high = np.inf if column.high is None else column.high
        odd = ((values < low) | (values > high)) & ~impossible
        for n in np.flatnonzero((impossible | odd) & ~table.muted):
            shown = convert(values[n], own, unit) if unit else values[n]
            ends = [convert(end, own, unit) if unit else end for end in (low, high)]
            symbol = unit_symbol("_" + unit) if unit else ""
            expected = f"{ends[0]:.4g} to {ends[1]:.4g} {symbol}".strip()
            if impossible[n]:
                table.add(problems, MUST_FIX, "impossible value", n, column.name, found=f"{shown:.6g}", expected=expected,
                          do="Check the number and the unit in the column's name.")  # fmt: skip
            else:
                table.add(problems, LOOK, "implausible value", n, column.name, found=f"{shown:.6g}", expected=expected,
                          do="Check the number and the unit in the column's name; keep it if it is right.")  # fmt: skip


def _check_keys(table: ReadTable, problems: ProblemList) -> None:
    key = [name for name in table.spec.key if name in table.headers]
    if not set(table.spec.key[:2]) <= set(key) or table.frame.empty:
        return
    keys = table.frame[key]
    usable = ~(keys.isna() | (keys == "")).any(axis=1) if table.spec.name != "exclusions" else keys["candle"] != ""
    for n in np.flatnonzero((keys.duplicated() & usable).to_numpy()):
        same = np.flatnonzero((keys == keys.iloc[n]).all(axis=1).to_numpy())
        first = int(table.lines[same[0]]) if len(same) else None
        what = ", ".join(f"{name} {_plain(keys[name].iat[n])}" for name in key)
        table.add(problems, MUST_FIX, "row given twice", n, key[-1], found=clip(what), expected="each only once",
                  do=f"Remove one of the two rows{f' (the first is on line {first})' if first else ''}, or correct its number.")  # fmt: skip


def _plain(value) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)

"""Columns of text into one typed table in canonical units, each row with its place in the file."""

from __future__ import annotations

import dataclasses
import re
from typing import Any

import numpy as np
import pandas as pd

from candlelab.logs.cells import NO_NUMBER, NOT_TAKEN, Style, comma_or_dot, read_values
from candlelab.logs.column import Column, Table
from candlelab.logs.columns import PLANNED
from candlelab.logs.csv_rows import DELIMITERS
from candlelab.logs.csv_text import Cells, Records, read_records
from candlelab.logs.faults import said
from candlelab.logs.groups import numbered
from candlelab.logs.header import Header, Match
from candlelab.logs.moments import HAS_OFFSET
from candlelab.logs.moments_apart import together
from candlelab.logs.problems import LOOK, MUST_FIX, Fault, ProblemList
from candlelab.logs.read_table import ReadTable, in_unit
from candlelab.logs.sheet import FORMULA_ERROR
from candlelab.text import counted
from candlelab.units import UNITS, split_unit

# Tables that may be without rows: a batch that is planned and not burned yet has such ones.
_WITHOUT_ROWS = {
    "burns": "Log the burns here; there is nothing to report before the first. If burns were "
    "logged, the table was saved without them.",
    "checks": "What was not seen counts as not checked.",
}
_WITH_SUMS = ("candles", "burns", "checks")
_SUMS = ("total", "totals", "sum", "average", "mean", "all")
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_NONE_WAITING = pd.DataFrame(columns=["candle", "burn"])
_NOT_WEIGHED = " If nobody weighed it, write: not taken."
_PLAIN_TIME = len("2026-03-02 09:10")  # no longer text has an offset from UTC


def read_table(spec: Table, data: bytes, style: Style, problems: ProblemList) -> ReadTable | None:
    """One table from the bytes of its file; None without a usable header, or a row it needs."""
    return table_of(spec, read_records(data, spec.file, problems), style, problems)


def table_of(
    spec: Table, records: Records | None, style: Style, problems: ProblemList
) -> ReadTable | None:
    """The typed table of records, as `read_table` gives it; they are let go on the way."""
    matched = _matched(spec, records, style, problems) if records else None
    if matched is None:
        return None
    records, waiting, found, excused = matched
    del matched
    muted = _check_widths(spec, records, found, problems)
    style = dataclasses.replace(style, decimal_comma=uses_comma(records, found))
    columns, faults = _read_cells(spec, records, found, style)
    places = records.lines, records.row_numbers
    offsets = _with_offsets(records, found)
    del records
    twice, unsure = _repeated(spec, columns, found)
    table = ReadTable(spec, columns, *places, found, excused, muted, unsure, offsets, waiting)
    _tell_sums(table, problems)
    for n, name, text, fault in faults:
        if not muted[n]:
            table.add(problems, n, level=MUST_FIX, column=name, found=text, **vars(fault))
    _check_ranges(table, problems)
    if (twice & ~muted).any():
        _tell_repeated(table, twice & ~muted, problems)
    return table


def columns_of(spec: Table, records: Records, style: Style) -> dict[str, Match] | None:
    """The columns that `table_of` would find; None where it gives no table."""
    matched = _matched(spec, records, style, ProblemList())
    return None if matched is None else matched[2]


def _matched(
    spec: Table, records: Records, style: Style, problems: ProblemList
) -> tuple[Records, pd.DataFrame, dict[str, Match], frozenset[str]] | None:
    """The rows to be read, those that wait, the columns found and excused; None for no table."""
    records, headings = together(spec, records, style, problems)
    header = Header(spec, records, problems, headings)
    found, excused = header.match()
    if not found and not excused:
        return None
    for c in spec.columns:
        if c.required and c.name not in found and c.name not in excused:
            header.tell("missing column", column=c.name, meaning=c.meaning)
    if not records.delimiter:
        records = _with_dots(records, found)
    records, waiting = _not_filled_in(spec, records, found, style)
    if spec.required and not len(records.lines) and not len(waiting):
        level = LOOK if spec.name in _WITHOUT_ROWS else MUST_FIX
        do = _WITHOUT_ROWS.get(spec.name, "Fill the table in.")
        header.tell("table without rows", level=level, do=do)
        if spec.name != "burns":  # no burn is an answer; a check without one belongs nowhere
            return None
    return records, waiting, found, excused


def _not_filled_in(
    spec: Table, records: Records, found: dict[str, Match], style: Style
) -> tuple[Records, pd.DataFrame]:
    """The rows with something in them, and candle and burn of those that only say what is due."""
    planned = PLANNED.get(spec.name, ())
    seen = [match.place for name, match in found.items() if planned and name not in planned]
    needed = [c.name for c in spec.columns if c.required and c.name in planned]
    if not seen or not set(needed) <= found.keys():
        return records, _NONE_WAITING
    waits = records.widths == len(records.header)
    waits[list(records.broken)] = False
    for place in seen:
        waits &= records.columns[place].blank()
        for n, (problem, _) in records.odd_in(place).items():
            waits[n] &= problem != FORMULA_ERROR
    for name in needed:
        waits &= ~records.columns[found[name].place].blank()
    if not waits.any():
        return records, _NONE_WAITING
    if not set(_NONE_WAITING) <= found.keys():
        return records.only(~waits), _NONE_WAITING
    keys = {name: found[name] for name in _NONE_WAITING}
    due = _read_cells(spec, records.only(waits), keys, style)[0]
    return records.only(~waits), pd.DataFrame({name: due[name] for name in keys}).dropna()


def _check_widths(
    spec: Table, records: Records, found: dict[str, Match], problems: ProblemList
) -> np.ndarray:
    """Rows that cannot be trusted: broken quotes, too many or too few cells."""
    width, part = len(records.header), DELIMITERS.get(records.delimiter, "delimiter")
    broken = np.zeros(len(records.lines), dtype=bool)
    broken[list(records.broken)] = True
    wrong = (records.widths != width) | broken
    candles = records.columns[found["candle"].place] if "candle" in found else None
    for n in np.flatnonzero(wrong).tolist():
        cells = int(records.widths[n])
        problem, text = records.broken.get(n, ("wrong number of cells", ""))
        more = cells > width
        hint = ", such as a decimal comma or a comma in a note without quotes"
        values = {"found": text, "cells": counted(cells, "cell"), "width": width, "part": part}
        values["what"] = "an extra" if more else "a missing"
        texts = said(problem, None, **values, hint=hint if more and part == "comma" else "")
        place = {"line": int(records.lines[n]), "row": int(records.row_numbers[n])}
        candle = candles.at(n) if candles else ""
        problems.add(file=spec.file, candle=candle, **place, **texts)
    return wrong


def uses_comma(records: Records, found: dict[str, Match]) -> bool:
    """Whether the comma is this file's decimal mark.

    Never where it parts the cells or a workbook has numbers, else if most marks are commas.
    """
    if records.delimiter in (",", ""):
        return False
    numeric = [records.columns[m.place].texts for m in found.values() if _is_number(m.column)]
    marks = [comma_or_dot(text) for texts in numeric for text in texts]
    return marks.count(",") > 0 and marks.count(",") >= marks.count(".")


def _with_dots(records: Records, found: dict[str, Match]) -> Records:
    """A sheet whose numbers with a decimal comma, which stand there as text, have a dot.

    A comma that may part thousands stays, and is told.
    """
    columns = list(records.columns)
    for match in found.values():
        if _is_number(match.column):
            cells = columns[match.place]
            texts = [
                text.replace(",", ".")
                if comma_or_dot(text) == "," and not _THOUSANDS.fullmatch(text)
                else text
                for text in cells.texts
            ]
            columns[match.place] = Cells(cells.codes, texts)
    return dataclasses.replace(records, columns=columns)


def _is_number(column: Column) -> bool:
    return column.kind in ("number", "whole")


def _read_cells(
    spec: Table, records: Records, found: dict[str, Match], style: Style
) -> tuple[dict[str, Any], list[tuple[int, str, str, Fault]]]:
    """The typed columns by name, and every fault with its row place, column and text."""
    columns: dict[str, Any] = {}
    faults, rows = [], len(records.lines)
    for column in spec.columns:
        name, match = column.name, found.get(column.name)
        absent = Cells(np.zeros(rows, dtype=int), [""])
        cells = records.columns[match.place] if match else absent
        values, wrong = read_values(cells, column, match.unit if match else None, style)
        if match and _is_number(column):
            values, impossible = _without_impossible(values, match)
            wrong |= impossible
        if column.may_lack:
            untaken = dataclasses.replace(NO_NUMBER, do=NO_NUMBER.do + _NOT_WEIGHED)
            wrong = {n: untaken if one == NO_NUMBER else one for n, one in wrong.items()}
        columns[name] = values
        faults += [(n, name, cells.at(n), fault) for n, fault in wrong.items()]
        odd = records.odd_in(match.place) if match else {}
        for n, (problem, text) in odd.items():
            texts = said(problem, found=text)
            fault = Fault(problem, texts["expected"], texts["do"])
            faults.append((n, name, text, fault))
        if match and column.required:
            empty, do = cells.blank(), "Fill the cell in."
            if column.may_lack and "note" in found:
                empty = empty & ~records.columns[found["note"].place].where(NOT_TAKEN.search)
                do += _NOT_WEIGHED
            blank = Fault("empty cell", column.meaning, do)
            at = np.flatnonzero(empty).tolist()
            faults += [(n, name, "", blank) for n in at if n not in odd]
    return columns, faults


def _with_offsets(records: Records, found: dict[str, Match]) -> np.ndarray:
    """Rows in which no time lacks its offset from UTC."""
    offsets = np.ones(len(records.lines), dtype=bool)
    for match in found.values():
        if match.column.kind == "time":
            cells = records.columns[match.place]
            if max(map(len, cells.texts), default=0) <= _PLAIN_TIME:
                offsets &= cells.blank()
            else:
                offsets &= cells.where(lambda text: not text or HAS_OFFSET.search(text))
    return offsets


def _without_impossible(values: np.ndarray, match: Match) -> tuple[np.ndarray, dict[int, Fault]]:
    """Numbers that cannot be (below zero, over 100 %) made missing, and the faults by row place."""
    column = match.column
    unit = split_unit(column.name)[1]
    least = column.low if column.kind == "whole" else 0
    if unit and UNITS[unit].dimension == "temperature":
        least = -273.15
    impossible = (values < least) | (values > (100 if unit == "pct" else np.inf))
    if not impossible.any():
        return values, {}
    usual = in_unit(column.name, match.unit, column.low, column.high)
    do = "Check the number and the unit in the column's name."
    fault = Fault("impossible value", usual, do)
    return np.where(impossible, np.nan, values), dict.fromkeys(
        np.flatnonzero(impossible).tolist(), fault
    )


def _tell_sums(table: ReadTable, problems: ProblemList) -> None:
    """Point out rows of totals, and mute them."""
    if table.spec.name not in _WITH_SUMS or "candle" not in table.found:
        return
    names = table.texts("candle")
    sums = {name for name in set(names) if name.rstrip(" :.").casefold() in _SUMS}
    for n in table.where([name in sums for name in names]) if sums else ():
        table.tell(problems, "row of totals", n, found=names[n])
        table.muted[n] = True


def _check_ranges(table: ReadTable, problems: ProblemList) -> None:
    """Point out implausible numbers; where most of a column is, point out its unit, once."""
    for name, match in table.found.items():
        column = match.column
        if not _is_number(column):
            continue
        values = table.numbers(name)
        read = np.isfinite(values) & ~table.muted
        odd = np.flatnonzero(((values < column.low) | (values > column.high)) & read)
        if not len(odd):
            continue
        most = match.unit and len(odd) > 5 and 2 * len(odd) > read.sum()
        counts = {"odd": len(odd), "read": read.sum()}
        expected = table.show(name, column.low, column.high)
        for n in odd[:1] if most else odd:
            texts = {"column": name, "found": table.show(name, values[n]), "expected": expected}
            problem = "implausible column" if most else "implausible value"
            table.tell(problems, problem, n, **texts, **counts)


def _repeated(
    spec: Table, columns: dict[str, Any], found: dict[str, Match]
) -> tuple[np.ndarray, np.ndarray]:
    """Rows whose key an earlier row has, and rows whose key is given twice or has a gap.

    The key is what the file has of it, if it has the first two columns.
    """
    values = {name: np.asarray(columns[name]) for name in spec.key}
    gap = np.zeros(len(values[spec.key[0]]), dtype=bool)
    for column in spec.columns:
        if column.required and column.name in values:
            own = values[column.name]
            gap |= own == "" if column.kind == "text" else pd.isna(own)
    if not set(spec.key[:2]) <= set(found):
        return np.zeros(len(gap), dtype=bool), gap
    keys = np.zeros(len(gap), dtype=int)
    for name in (name for name in spec.key if name in found):
        codes, each = pd.factorize(values[name], use_na_sentinel=False)
        if keys.any():
            keys *= len(each)
            codes += keys
            codes = numbered(codes)
        keys = codes
    twice = np.append(-1, np.maximum.accumulate(keys))[:-1] >= keys
    return twice & ~gap, (np.bincount(keys)[keys] > 1) | gap


def _tell_repeated(table: ReadTable, twice: np.ndarray, problems: ProblemList) -> None:
    key = [name for name in table.spec.key if name in table.found]
    keys = table.frame[key]
    group = keys.groupby(key, dropna=False, sort=False).ngroup().to_numpy()
    first = dict(zip(group[::-1], table.lines[::-1], strict=True))
    left_out: dict[str, int] = {}
    if table.spec.name == "burns":
        left_out = _left_out(keys[keys["candle"].isin(keys["candle"][twice])])
    for n in np.flatnonzero(twice).tolist():
        parts = ((name, _plain(keys[name].iat[n])) for name in key)
        found = ", ".join(f"{name} {value}" for name, value in parts if value)
        missing = left_out.get(keys["candle"].iat[n]) if left_out else None
        gap = f": burn {missing} is missing" if missing else ""
        texts = {"column": key[-1], "found": found, "first": first[group[n]], "gap": gap}
        table.tell(problems, "row given twice", n, **texts)


def _left_out(burns: pd.DataFrame) -> dict[str, int]:
    """The lowest burn number that each candle leaves out below its last, where it leaves one."""
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

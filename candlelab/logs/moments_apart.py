"""Moments whose day and clock stand in two columns, put together into one."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from candlelab.logs.cells import Style
from candlelab.logs.column import Table
from candlelab.logs.csv_text import Cells, Records
from candlelab.logs.header import NOT_READ, heading_key
from candlelab.logs.moments import day, moment
from candlelab.logs.problems import Fault, ProblemList
from candlelab.units import normalise_header

# The headings of a day, of a day that both moments share, and of the clock.
_DAYS = {"lit_at": ("lit_date", "date_lit", "lit_on"), "out_at": ("out_date", "date_out", "out_on")}
_CLOCK = re.compile(r"\d{1,2}[:.h]\d\d", re.ASCII)
_SHARED = ("date", "day", "burn_date")
_CLOCKS = {"lit_at": ("lit_time", "time_lit", "lit"), "out_at": ("out_time", "time_out", "out")}
PARTS = {"burns": (*_DAYS["lit_at"], *_DAYS["out_at"], *_SHARED,
                   *_CLOCKS["lit_at"], *_CLOCKS["out_at"])}  # fmt: skip


def together(
    spec: Table, records: Records, style: Style, problems: ProblemList
) -> tuple[Records, dict[str, str]]:
    """The records with each moment in the column of its clock, and the headings that say so.

    A flame that is out at an earlier time of day than it was lit went out on the next day. What a
    maker may want to know of it is noted, as is a header that does not stand on top.
    """
    if records.header_line > 2:
        problems.tell_how(spec.file, f"headings found in line {records.header_line}")
    headings = style.headings.get(spec.name, {})
    if spec.name not in PARTS:
        return records, dict(headings)
    own = {heading_key(heading): name for heading, name in headings.items()}
    names = [own.get(heading_key(h)) or normalise_header(h) for h in records.header]
    columns, said, lit = list(records.columns), dict(headings), None
    for name, clocks in _CLOCKS.items():
        clock = next((names.index(n) for n in clocks if n in names), None)
        days = next((names.index(n) for n in (*_DAYS[name], *_SHARED) if n in names), None)
        if name in names or clock is None or days is None:
            continue
        times = [records.columns[clock].at(n) for n in range(len(records.lines))]
        dates = [records.columns[days].at(n) for n in range(len(records.lines))]
        if name == "out_at" and lit and names[days] in _SHARED:
            dates = [
                _next_day(one, style.slash_dates) if _earlier(out, begun) else one
                for one, out, begun in zip(dates, times, lit, strict=True)
            ]
        lit = times
        codes, texts = pd.factorize(
            np.array([_joined(*both) for both in zip(dates, times, strict=True)], dtype=object)
        )
        columns[clock] = Cells(codes, list(texts))
        apart = f"{name} put together of “{records.header[days]}” and “{records.header[clock]}”"
        problems.tell_how(spec.file, apart)
        said |= {records.header[days]: NOT_READ, records.header[clock]: name}
    return replace(records, columns=columns), said


def _joined(date: str, clock: str) -> str:
    """Day and clock as one moment; a clock that has a day of its own stays."""
    return f"{date} {clock}".strip() if _CLOCK.match(clock) else clock


def _earlier(clock: str, other: str) -> bool:
    """Whether both are times of a day, and the first is the earlier one."""
    first, second = (moment(f"2000-01-01 {text}", "") for text in (clock, other))
    return isinstance(first, datetime) and isinstance(second, datetime) and first < second


def _next_day(date: str, slash_dates: str) -> str:
    value = day(date, slash_dates)
    return date if isinstance(value, Fault) else f"{value + timedelta(days=1):%Y-%m-%d}"

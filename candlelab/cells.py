"""Cells of text into numbers, times, dates, flags and choices; each distinct text is read once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from candlelab.columns import Column, convert, split_unit
from candlelab.problems import suggest


@dataclass(frozen=True)
class Fault:
    """Why a cell could not be read."""

    problem: str
    expected: str
    do: str


@dataclass(frozen=True)
class Style:
    """How one file writes its cells."""

    decimal_comma: bool = False
    slash_dates: str = ""
    time_zone: str = ""


_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,'\u2019 ]\d{3})+([.,]\d+)?", re.ASCII)
_ISO = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:?\d\d)?", re.ASCII)
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?:[T ]+(\d{1,2}:\d\d(?::\d\d)?))?", re.ASCII)
_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(?:[T ,]+(\d{1,2}:\d\d(?::\d\d)?)\s*([AaPp]\.?[Mm]\.?)?)?", re.ASCII)
HAS_OFFSET = re.compile(r"(Z|[+-]\d\d:?\d\d)\s*$", re.ASCII)
_ISO_DATE = re.compile(r"\d{4}-\d\d-\d\d([T ]00:00(:00)?)?", re.ASCII)
_FLAGS = {"yes": True, "y": True, "true": True, "1": True, "x": True, "no": False, "n": False, "false": False, "0": False}


def number(text: str, decimal_comma: bool) -> float | Fault:
    """A number from its text; ``decimal_comma`` says that the file's comma is a decimal mark."""
    if _NUMBER.fullmatch(text):
        if decimal_comma and _GROUPED.fullmatch(text):
            return Fault("dot in a file with decimal commas", "a number with a decimal comma, as in 1,234",
                         "Write the number without a thousands mark and with the comma as decimal mark.")  # fmt: skip
        return float(text)
    if _COMMA_NUMBER.fullmatch(text):
        if decimal_comma:
            return float(text.replace(",", "."))
        return Fault("decimal comma in a comma-separated file", "a number with a dot, as in 12.5",
                     "Write the dot, or save the table with semicolons between its cells.")  # fmt: skip
    if _GROUPED.fullmatch(text):
        return Fault("thousands mark in a number", "a number without a thousands mark, as in 1234.5",
                     "Take the thousands mark out.")  # fmt: skip
    return Fault("text where a number belongs", "a number, or an empty cell for no reading",
                 "Write the number only; its unit stands in the column's name, remarks go to the note.")  # fmt: skip


def _clock_text(year, month, day, clock, half="") -> str:
    hour, minute, *second = (clock or "00:00").split(":")
    hour = int(hour)
    if half:
        hour = hour % 12 + (12 if half[0] in "pP" else 0)
    return f"{int(year):04}-{int(month):02}-{int(day):02} {hour:02}:{minute}:{second[0] if second else '00'}"


def moment(text: str, slash_dates: str) -> datetime | Fault:
    """A date and time from its text, with or without an offset from UTC."""
    iso = text if _ISO.fullmatch(text) else None
    if iso is None and (m := _DOTTED.fullmatch(text)) and m[4]:
        iso = _clock_text(m[3], m[2], m[1], m[4])
    if iso is None and (m := _SLASHED.fullmatch(text)) and m[4]:
        if not slash_dates:
            return Fault("ambiguous date", "a date as in 2026-03-02 09:10",
                         'Write the year first, or add slash_dates = "day/month/year" (or "month/day/year") to batch.toml.')  # fmt: skip
        day, month = (m[1], m[2]) if slash_dates.startswith("day") else (m[2], m[1])
        iso = _clock_text(m[3], month, day, m[4], m[5] or "")
    try:
        return datetime.fromisoformat(iso)
    except (TypeError, ValueError):
        return Fault("not a date and time", "a date and time as in 2026-03-02 09:10",
                     "Write the date with the year first, a space, and the time on a 24-hour clock.")  # fmt: skip


def day(text: str, slash_dates: str) -> datetime | Fault:
    """A calendar day from its text."""
    if _ISO_DATE.fullmatch(text):
        text = text[:10] + " 00:00"
    elif _DOTTED.fullmatch(text) or _SLASHED.fullmatch(text):
        text += "" if ":" in text else " 00:00"
    read = moment(text, slash_dates)
    if isinstance(read, Fault):
        return Fault(read.problem.replace(" and time", ""), "a date as in 2026-03-02", read.do.split(", a space")[0].rstrip(".") + ".")
    return read.replace(hour=0, minute=0, second=0, tzinfo=None)


def flag(text: str) -> bool | Fault:
    """Yes or no from its text."""
    value = _FLAGS.get(text.casefold())
    return Fault("neither yes nor no", "yes or no", "Write yes or no; leave the cell empty if nobody looked.") if value is None else value


def choice(text: str, choices: tuple[str, ...]) -> str | Fault:
    """One of the choices, in any case."""
    folded = text.casefold()
    if folded in choices:
        return folded
    if folded.endswith(".0") and folded[:-2] in choices:
        return folded[:-2]
    return Fault("not one of the choices", " or ".join([", ".join(choices[:-1]), choices[-1]]),
                 suggest(text, choices) or "Use one of these.")  # fmt: skip


def whole(text: str, decimal_comma: bool) -> float | Fault:
    """A whole number from its text."""
    value = number(text, decimal_comma)
    if isinstance(value, float) and not value.is_integer():
        return Fault("not a whole number", "a whole number", "Write a whole number.")
    return value


def read_column(texts: list[str], column: Column, unit: str | None, style: Style) -> tuple[pd.Series, dict[int, Fault]]:
    """Typed values of one column, canonical unit, and the faults by row place.

    ``unit`` is the unit of the file's column, None where the column has none. A faulty or empty cell
    is missing; empty text stays empty text.
    """
    if column.kind == "text":
        return pd.Series([t.strip() for t in texts], dtype="str"), {}
    readers = {
        "number": lambda t: number(t, style.decimal_comma),
        "whole": lambda t: whole(t, style.decimal_comma),
        "time": lambda t: moment(t, style.slash_dates),
        "date": lambda t: day(t, style.slash_dates),
        "flag": flag,
        "choice": lambda t: choice(t, column.choices),
    }
    read_one = readers[column.kind]
    known, wrong = {}, {}
    for text in dict.fromkeys(texts):
        bare = text.strip()
        value = read_one(bare) if bare else None
        if isinstance(value, Fault):
            wrong[text], value = value, None
        known[text] = value
    faults = {n: wrong[t] for n, t in enumerate(texts) if t in wrong} if wrong else {}
    if column.kind == "time":
        values, clock_faults = _in_zone(texts, known, style.time_zone)
        return values, faults | clock_faults
    values = list(map(known.__getitem__, texts))
    if column.kind == "date":
        return pd.Series(np.array(values, dtype="datetime64[us]")), faults
    if column.kind == "flag":
        return pd.Series(values, dtype="boolean"), faults
    if column.kind == "choice" and not column.choices[0].isdigit():
        return pd.Series([v or "" for v in values], dtype="str"), faults
    numbers = np.array(values, dtype=float)
    canonical = split_unit(column.name)[1]
    if unit is not None and unit != canonical:
        numbers = convert(numbers, unit, canonical)
    return pd.Series(numbers), faults


def _in_zone(texts: list[str], known: dict, time_zone: str) -> tuple[pd.Series, dict[int, Fault]]:
    """Times in the batch's zone. A naive time that the zone's clock skipped or showed twice is a fault."""
    zone = time_zone or "UTC"
    values = list(map(known.__getitem__, texts))
    aware = np.array([v is not None and v.tzinfo is not None for v in values], dtype=bool)
    naive = pd.DatetimeIndex(np.array([None if a else v for v, a in zip(values, aware)], dtype="datetime64[us]"))
    local = naive.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    faults = {}
    for n in np.flatnonzero(local.isna() & ~naive.isna()):
        skipped = values[n].replace(tzinfo=ZoneInfo(zone)).astimezone(UTC).astimezone(ZoneInfo(zone))
        twice = skipped.replace(tzinfo=None) == values[n]
        faults[int(n)] = Fault(
            "time that the clock showed twice" if twice else "time that the clock skipped",
            "a time with its offset from UTC, as in 2026-03-29 03:10+01:00",
            f"The clocks in {zone} change at that hour: write the time with its offset.",
        )
    moments = local.tz_convert(None).to_numpy().copy()
    if aware.any():
        in_utc = [values[n].astimezone(UTC).replace(tzinfo=None) for n in np.flatnonzero(aware)]
        moments[aware] = np.array(in_utc, dtype="datetime64[us]")
    return pd.Series(pd.DatetimeIndex(moments).tz_localize("UTC").tz_convert(zone)), faults

"""Cells of text into numbers, times, dates, flags and choices; each distinct text is read once."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from candlelab.glossary import Column
from candlelab.logs.csv_text import Cells
from candlelab.text import suggest
from candlelab.units import convert, normalise_header, split_unit


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
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,'\u2019 \u00a0\u202f]\d{3})+([.,]\d+)?", re.ASCII)
_HALF = r"(?:\s*([AaPp]\.?[Mm]\.?))?"
_ISO = re.compile(
    rf"(\d{{4}})-(\d\d)-(\d\d)(?:[T ]+(\d{{1,2}}:\d\d(?::\d\d(?:\.\d{{1,6}})?)?){_HALF}(Z|[+-]\d\d:?\d\d)?)?",
    re.ASCII,
)
_DOTTED = re.compile(
    rf"(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}})(?:[T ,]+(\d{{1,2}}:\d\d(?::\d\d)?){_HALF})?", re.ASCII
)
_SLASHED = re.compile(
    rf"(\d{{1,2}})/(\d{{1,2}})/(\d{{4}})(?:[T ,]+(\d{{1,2}}:\d\d(?::\d\d)?){_HALF})?", re.ASCII
)
_SHORT_YEAR = re.compile(r"\d{1,2}([./-])\d{1,2}\1\d\d(?!\d).*", re.ASCII)
_SERIAL = re.compile(r"[2-7]\d{4}([.,]\d+)?", re.ASCII)  # days from 1900: 1954 to 2119
_PERCENT = re.compile(r"(?<=\d)\s*%$", re.ASCII)
_WITH_UNIT = re.compile(r"(.*?\d[.,]?)\s*([^\d\s.,/]\D*)", re.ASCII)
_FRACTION = re.compile(r"(?:(\d+) )?(\d+)/(\d+)", re.ASCII)
HAS_OFFSET = re.compile(r"(Z|[+-]\d\d:?\d\d)$", re.ASCII)
_YEARS = range(1900, 2200)
_FIRST, _END = np.datetime64("1900-01-01"), np.datetime64("2200-01-01")
_FLAGS = {
    "yes": True,
    "y": True,
    "true": True,
    "1": True,
    "x": True,
    "no": False,
    "n": False,
    "false": False,
    "0": False,
}

_AMBIGUOUS = Fault(
    "ambiguous date",
    "a date with the year first, as in 2026-03-02",
    'Write the year first, or add the line slash_dates = "day/month/year" (or "month/day/year") '
    "as the first line of batch.toml.",
)
_NOT_A_MOMENT = Fault(
    "not a date and time",
    "a date and time as in 2026-03-02 09:10",
    "Write the date with the year first, a space, and the time on a 24-hour clock.",
)
_NO_TIME = replace(
    _NOT_A_MOMENT,
    problem="time of day missing",
    do="Write the time after the date; a spreadsheet's cells need a format that shows it.",
)
_OTHERS = {
    _SHORT_YEAR: replace(
        _NOT_A_MOMENT, problem="two-digit year", do="Write the year first, with four digits."
    ),
    _SERIAL: replace(
        _NOT_A_MOMENT,
        problem="a spreadsheet's number for a date",
        do="Format the cells as yyyy-mm-dd hh:mm and save the table again; cells formatted as text "
        "beforehand keep what is typed.",
    ),
}
# What a cell of a spreadsheet holds at most (from memory); a longer one
# is a quote gone wrong or no log at all.
MOST_CHARACTERS = 32_767
_TOO_LONG = Fault(
    "text too long for a cell",
    f"at most {MOST_CHARACTERS:,} characters",
    "Shorten the text, or look for a quote that is not closed.",
)
_NOT_A_DAY = Fault("not a date", "a date as in 2026-03-02", "Write the date with the year first.")


def comma_or_dot(text: str) -> str:
    """The decimal mark that a number is written with: ``,`` or ``.``, or an empty string."""
    text = _PERCENT.sub("", text)
    if _COMMA_NUMBER.fullmatch(text):
        return ","
    return "." if "." in text and _NUMBER.fullmatch(text) else ""


def number(text: str, decimal_comma: bool) -> float | Fault:
    """A number from its text; ``decimal_comma`` says that the file's comma is a decimal mark."""
    example = "1234,5" if decimal_comma else "1234.5"
    if decimal_comma and _COMMA_NUMBER.fullmatch(text):
        return float(text.replace(",", "."))
    if _NUMBER.fullmatch(text) and not (decimal_comma and _GROUPED.fullmatch(text)):
        value = float(text)
        if np.isfinite(value):
            return value
    elif _COMMA_NUMBER.fullmatch(text):
        return Fault(
            "decimal comma among decimal dots",
            "a number with a dot, as in 12.5",
            "Write the number with a dot and no thousands mark. Decimal commas are read where "
            "semicolons part the cells and the whole file keeps to them.",
        )
    elif _GROUPED.fullmatch(text):
        return Fault(
            "thousands mark in a number",
            f"a number without a thousands mark, as in {example}",
            "Take the thousands mark out; only the decimal mark stays.",
        )
    return Fault(
        "text where a number belongs",
        "a number, or an empty cell for no reading",
        "Write the number only; its unit stands in the column's name, remarks go to the note.",
    )


def _iso(year: str, month: str, day: str, clock: str, half: str | None) -> str:
    """A date and time in the form of ISO 8601; nothing when the hour
    does not go with ``half``, am or pm."""
    hour, minute, *second = clock.split(":")
    hour = int(hour)
    if half and hour > 12:
        return ""
    if half:
        hour = hour % 12 + (12 if half[0] in "pP" else 0)
    return (
        f"{year}-{int(month):02}-{int(day):02} {hour:02}:{minute}:{second[0] if second else '00'}"
    )


def moment(text: str, slash_dates: str) -> datetime | Fault:
    """A date and time from its text, with or without an offset from UTC."""
    if m := _ISO.fullmatch(text):
        year, month, date, offset = m[1], m[2], m[3], m[6] or ""
    elif m := _DOTTED.fullmatch(text) or _SLASHED.fullmatch(text):
        year, month, date, offset = m[3], m[2], m[1], ""
    else:
        return next(
            (fault for form, fault in _OTHERS.items() if form.fullmatch(text)), _NOT_A_MOMENT
        )
    if not m[4]:
        return _NO_TIME
    if "/" in text:
        if not slash_dates:
            return _AMBIGUOUS
        if slash_dates.startswith("month"):
            month, date = date, month
    try:
        read = datetime.fromisoformat(_iso(year, month, date, m[4], m[5]) + offset)
    except ValueError:
        return _NOT_A_MOMENT
    return read if read.year in _YEARS else _NOT_A_MOMENT


def day(text: str, slash_dates: str) -> datetime | Fault:
    """A calendar day from its text; a time of day beside it is left out."""
    read = moment(text, slash_dates)
    if read is _NO_TIME:
        read = moment(f"{text} 00:00", slash_dates)
    if isinstance(read, Fault):
        return (
            read
            if read is _AMBIGUOUS
            else _NOT_A_DAY
            if read is _NOT_A_MOMENT
            else replace(read, expected=_NOT_A_DAY.expected)
        )
    return read.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)


def _with_order(wrong: dict[int, Fault], texts: list[str]) -> dict[int, Fault]:
    """Ambiguous dates with the one line that settles them, where a number
    above 12 in the column shows the order."""
    if not any(fault is _AMBIGUOUS for fault in wrong.values()):
        return wrong
    dates = [m for m in map(_SLASHED.fullmatch, texts) if m]
    shown = {
        order
        for m in dates
        for order, n in (("day/month/year", m[1]), ("month/day/year", m[2]))
        if 12 < int(n) <= 31
    }
    if len(shown) != 1:
        return wrong
    line = f'slash_dates = "{shown.pop()}"'
    told = replace(
        _AMBIGUOUS,
        do=f"Add the line {line} as the first line of batch.toml: days above 12 in this column "
        "show the order.",
    )
    return {n: told if fault is _AMBIGUOUS else fault for n, fault in wrong.items()}


def _with_number(fault: Fault, text: str, unit: str | None, decimal_comma: bool) -> Fault:
    """The fault with the number to write, where the text is a number
    with the column's own unit, or a fraction."""
    if fault.problem != "text where a number belongs":
        return fault
    m = _WITH_UNIT.fullmatch(text)
    own = m and unit and split_unit(normalise_header(f"x {m[2]}"))[1] == unit
    bare = m[1] if own else text
    if (m := _FRACTION.fullmatch(bare)) and int(m[3]):
        bare = f"{int(m[1] or 0) + int(m[2]) / int(m[3]):.6g}".replace(
            ".", "," if decimal_comma else "."
        )
    if bare == text or isinstance(number(bare, decimal_comma), Fault):
        return fault
    return replace(
        fault,
        do=f"Write {bare}; the unit stands in the column's name." if own else f"Write {bare}.",
    )


def flag(text: str) -> bool | Fault:
    """Yes or no from its text."""
    value = _FLAGS.get(text.casefold())
    return (
        Fault(
            "neither yes nor no",
            "yes or no",
            "Write yes or no; leave the cell empty if nobody looked.",
        )
        if value is None
        else value
    )


def choice(text: str, choices: tuple[str, ...]) -> str | Fault:
    """One of the choices, in any case."""
    folded = text.casefold()
    if folded in choices:
        return folded
    if folded.endswith(".0") and folded[:-2] in choices:
        return folded[:-2]
    return Fault(
        "not one of the choices",
        " or ".join([", ".join(choices[:-1]), choices[-1]]),
        suggest(text, choices, "use one of these."),
    )


def whole(text: str, decimal_comma: bool) -> float | Fault:
    """A whole number from its text."""
    value = number(text, decimal_comma)
    if isinstance(value, float) and not value.is_integer():
        return Fault("not a whole number", "a whole number", "Write a whole number.")
    return value


def read_column(
    cells: Cells, column: Column, unit: str | None, style: Style
) -> tuple[pd.Series, dict[int, Fault]]:
    """Typed values of one column, canonical unit, and the faults by row place.

    ``unit`` is the unit of the file's column, None where the column has none. A faulty or
    empty cell is missing; empty text stays empty text.
    """
    codes, texts = cells.codes, cells.texts
    if column.kind == "text":
        long = {code: _TOO_LONG for code, text in enumerate(texts) if len(text) > MOST_CHARACTERS}
        return pd.Series(_taken(texts, codes), dtype="str"), _by_row(long, codes)
    readers = {
        "number": lambda t: number(t, style.decimal_comma),
        "whole": lambda t: whole(t, style.decimal_comma),
        "date": lambda t: day(t, style.slash_dates),
        "flag": flag,
        "choice": lambda t: choice(t, column.choices),
    }
    if column.kind == "time":
        values, wrong = _in_zone(*_moments(texts, style.slash_dates), style.time_zone)
        return pd.Series(values[codes]), _by_row(_with_order(wrong, texts), codes)
    if unit == "pct":
        texts = [_PERCENT.sub("", text) for text in texts]
    read = [readers[column.kind](text) if text else None for text in texts]
    wrong = {code: value for code, value in enumerate(read) if isinstance(value, Fault)}
    if column.kind == "date":
        wrong = _with_order(wrong, texts)
    if column.kind == "number":
        wrong = {
            code: _with_number(fault, texts[code], unit, style.decimal_comma)
            for code, fault in wrong.items()
        }
    faults = _by_row(wrong, codes)
    values_of = [None if isinstance(value, Fault) else value for value in read]
    if column.kind == "date":
        return pd.Series(np.array(values_of, dtype="datetime64[us]")[codes]), faults
    if column.kind == "flag":
        missing = np.array([value is None for value in values_of], dtype=bool)[codes]
        return pd.Series(
            pd.arrays.BooleanArray(np.array(values_of, dtype=bool)[codes], missing)
        ), faults
    if column.kind == "choice" and not column.choices[0].isdigit():
        return pd.Series(_taken([value or "" for value in values_of], codes), dtype="str"), faults
    numbers = np.array(values_of, dtype=float)
    canonical = split_unit(column.name)[1]
    if unit is not None and unit != canonical:
        numbers = convert(numbers, unit, canonical)
    return pd.Series(numbers[codes]), faults


def _by_row(wrong: dict[int, Fault], codes: np.ndarray) -> dict[int, Fault]:
    return (
        {int(n): wrong[codes[n]] for n in np.flatnonzero(np.isin(codes, list(wrong)))}
        if wrong
        else {}
    )


def _taken(texts: list[str], codes: np.ndarray) -> np.ndarray:
    return np.array([*texts, ""], dtype=object)[codes]


def _moments(texts: list[str], slash_dates: str) -> tuple[np.ndarray, dict]:
    """Naive times, and by place what is no naive time: a fault, or a time with its offset.

    A column of plain ISO times, the common case, is read at once.
    """
    if _all_plain_iso(texts):
        try:
            times = np.array([text or "NaT" for text in texts], dtype="datetime64[us]")
            if not ((times < _FIRST) | (times >= _END)).any():
                return times, {}
        except ValueError:
            pass  # one of them is no date: read one by one to find it
    read = [moment(text, slash_dates) if text else None for text in texts]
    naive = [
        value if isinstance(value, datetime) and value.tzinfo is None else None for value in read
    ]
    other = {n: value for n, value in enumerate(read) if value is not None and naive[n] is None}
    return np.array(naive, dtype="datetime64[us]"), other


def _all_plain_iso(texts: list[str]) -> bool:
    """Whether every text is empty or of the form ``2026-03-02 09:10``, with a space or a T."""
    if not set(map(len, texts)) <= {0, 16}:
        return False
    joined = "".join(texts)
    if not joined.isascii():
        return False
    letters = np.frombuffer(joined.encode(), dtype=np.uint8).reshape(-1, 16)
    digits = letters[:, [0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15]]
    marks = letters[:, [4, 7, 13]] == np.frombuffer(b"--:", dtype=np.uint8)
    between = np.isin(letters[:, 10], np.frombuffer(b" T", dtype=np.uint8))
    return bool(
        ((digits >= ord("0")) & (digits <= ord("9"))).all() and marks.all() and between.all()
    )


def _in_zone(
    times: np.ndarray, other: dict, time_zone: str
) -> tuple[pd.DatetimeIndex, dict[int, Fault]]:
    """Times in the batch's zone, and the faults by place.

    ``other`` has the faults so far and the times with their offset. A naive time that the
    zone's clock skipped or showed twice is a fault.
    """
    zone = time_zone or "UTC"
    naive = pd.DatetimeIndex(times)
    local = naive.tz_localize(zone, ambiguous="NaT", nonexistent="NaT")
    faults = {n: value for n, value in other.items() if isinstance(value, Fault)}
    for n in np.flatnonzero(local.isna() & ~naive.isna()):
        shown = naive[n].to_pydatetime()
        there_and_back = (
            shown.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC).astimezone(ZoneInfo(zone))
        )
        twice = there_and_back.replace(tzinfo=None) == shown
        faults[int(n)] = Fault(
            "time that the clock showed twice" if twice else "time that the clock skipped",
            "a time with its offset from UTC, as in 2026-03-29 03:10+01:00",
            f"The clocks in {zone} change at that hour: write the time with its offset.",
        )
    moments = local.tz_convert(None).to_numpy().copy()
    aware = [n for n in other if n not in faults]
    if aware:
        moments[aware] = np.array(
            [other[n].astimezone(UTC).replace(tzinfo=None) for n in aware], dtype="datetime64[us]"
        )
    return pd.DatetimeIndex(moments).tz_localize("UTC").tz_convert(zone), faults

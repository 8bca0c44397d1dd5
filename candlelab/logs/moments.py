"""Texts of dates and times into moments; every form that spreadsheets write, and none guessed."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from candlelab.logs.problems import Fault

_HALF = r"(?:\s*([AaPp]\.?[Mm]\.?))?"
_CLOCK = rf"(?:[T ,]+(\d{{1,2}}:\d\d(?::\d\d)?){_HALF})?"
_ISO_CLOCK = rf"(\d{{1,2}}:\d\d(?::\d\d(?:\.\d{{1,6}})?)?){_HALF}"
_ISO = re.compile(rf"(\d{{4}})-(\d\d)-(\d\d)(?:[T ]+{_ISO_CLOCK}(Z|[+-]\d\d:?\d\d)?)?", re.ASCII)
_DOTTED = re.compile(rf"(\d{{1,2}})\.(\d{{1,2}})\.(\d{{4}}){_CLOCK}", re.ASCII)
_SLASHED = re.compile(rf"(\d{{1,2}})/(\d{{1,2}})/(\d{{4}}){_CLOCK}", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}([./-])\d{1,2}\1\d\d(?!\d).*", re.ASCII)
_SERIAL = re.compile(r"[2-7]\d{4}([.,]\d+)?", re.ASCII)  # days from 1900: 1954 to 2119
HAS_OFFSET = re.compile(r"(Z|[+-]\d\d:?\d\d)$", re.ASCII)
_YEARS = range(1900, 2200)
_FIRST, _END = np.datetime64("1900-01-01"), np.datetime64("2200-01-01")

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
_NOT_A_DAY = Fault("not a date", "a date as in 2026-03-02", "Write the date with the year first.")


def _iso(year: str, month: str, day: str, clock: str, half: str | None) -> str:
    """A date and time as in ISO 8601; nothing when the hour does not go with am or pm."""
    written, minute, *second = clock.split(":")
    hour = int(written)
    if half and hour > 12:
        return ""
    if half:
        hour = hour % 12 + (12 if half[0] in "pP" else 0)
    seconds = second[0] if second else "00"
    return f"{year}-{int(month):02}-{int(day):02} {hour:02}:{minute}:{seconds}"


def moment(text: str, slash_dates: str) -> datetime | Fault:
    """A date and time from its text, with or without an offset from UTC."""
    if m := _ISO.fullmatch(text):
        year, month, date, offset = m[1], m[2], m[3], m[6] or ""
    elif m := _DOTTED.fullmatch(text) or _SLASHED.fullmatch(text):
        year, month, date, offset = m[3], m[2], m[1], ""
    else:
        others = (fault for form, fault in _OTHERS.items() if form.fullmatch(text))
        return next(others, _NOT_A_MOMENT)
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
    if read is _NOT_A_MOMENT:
        return _NOT_A_DAY
    if isinstance(read, Fault):
        return read if read is _AMBIGUOUS else replace(read, expected=_NOT_A_DAY.expected)
    return read.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=None)


def with_order(wrong: dict[int, Fault], texts: list[str]) -> dict[int, Fault]:
    """Ambiguous dates with the one line that settles them.

    A number above 12 in the column shows the order.
    """
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


def moments(texts: list[str], slash_dates: str) -> tuple[np.ndarray, dict]:
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
    are_digits = (digits >= ord("0")) & (digits <= ord("9"))
    marks = letters[:, [4, 7, 13]] == np.frombuffer(b"--:", dtype=np.uint8)
    between = (letters[:, 10] == ord(" ")) | (letters[:, 10] == ord("T"))
    return bool(are_digits.all() and marks.all() and between.all())


def in_zone(
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
        faults[int(n)] = _not_on_the_clock(naive[n].to_pydatetime(), zone)
    if placed := other.keys() - faults.keys():
        times = local.tz_convert(None).to_numpy().copy()
        for n in placed:
            times[n] = np.datetime64(other[n].astimezone(UTC).replace(tzinfo=None), "us")
        local = pd.DatetimeIndex(times).tz_localize("UTC").tz_convert(zone)
    return local, faults


def _not_on_the_clock(shown: datetime, zone: str) -> Fault:
    """A time of the hour that the clock of the zone skips, or shows twice."""
    there = shown.replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)
    twice = there.astimezone(ZoneInfo(zone)).replace(tzinfo=None) == shown
    return Fault(
        "time that the clock showed twice" if twice else "time that the clock skipped",
        "a time with its offset from UTC, as in 2026-03-29 03:10+01:00",
        f"The clocks in {zone} change at that hour: write the time with its offset.",
    )

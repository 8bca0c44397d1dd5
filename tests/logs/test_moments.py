"""Texts into moments and days, and a whole column of times in the zone of the bench."""

from datetime import UTC, datetime, timedelta, timezone

import pandas as pd
import pytest

from candlelab.logs.cells import Style, read_column
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_text import Cells
from candlelab.logs.moments import day, moment
from candlelab.logs.problems import Fault


def cells(*texts):
    codes, distinct = pd.factorize(pd.array(texts, dtype=object))
    return Cells(codes, list(distinct))


@pytest.mark.parametrize(
    ("text", "slash_dates", "value"),
    [
        ("2026-03-02 09:10", "", datetime(2026, 3, 2, 9, 10)),
        ("2026-03-02 9:10", "", datetime(2026, 3, 2, 9, 10)),
        ("2026-03-02T09:10:05", "", datetime(2026, 3, 2, 9, 10, 5)),
        ("2026-03-02 09:10:05.25", "", datetime(2026, 3, 2, 9, 10, 5, 250000)),
        ("2026-03-02 09:10Z", "", datetime(2026, 3, 2, 9, 10, tzinfo=UTC)),
        (
            "2026-03-02 09:10+01:00",
            "",
            datetime(2026, 3, 2, 9, 10, tzinfo=timezone(timedelta(hours=1))),
        ),
        (
            "2026-03-02 09:10-0330",
            "",
            datetime(2026, 3, 2, 9, 10, tzinfo=timezone(-timedelta(hours=3, minutes=30))),
        ),
        ("02.03.2026 09:10", "", datetime(2026, 3, 2, 9, 10)),
        ("2.3.2026 9:10", "", datetime(2026, 3, 2, 9, 10)),
        ("3/4/2026 9:10", "day/month/year", datetime(2026, 4, 3, 9, 10)),
        ("3/4/2026 9:10", "month/day/year", datetime(2026, 3, 4, 9, 10)),
        ("03/04/2026, 12:05 AM", "month/day/year", datetime(2026, 3, 4, 0, 5)),
        ("03/04/2026 12:05 p.m.", "month/day/year", datetime(2026, 3, 4, 12, 5)),
        ("03/04/2026 9:05:30 pm", "day/month/year", datetime(2026, 4, 3, 21, 5, 30)),
        ("2026-03-02 9:10 PM", "", datetime(2026, 3, 2, 21, 10)),
        (
            "2026-03-02T12:10am+01:00",
            "",
            datetime(2026, 3, 2, 0, 10, tzinfo=timezone(timedelta(hours=1))),
        ),
        ("02.03.2026 12:10 p.m.", "", datetime(2026, 3, 2, 12, 10)),
    ],
)
def test_times(text, slash_dates, value):
    assert moment(text, slash_dates) == value


@pytest.mark.parametrize("text", ["03/04/2026 09:00", "13/04/2026 09:00"])
def test_slashed_dates_are_not_guessed(text):
    assert moment(text, "") == Fault(
        "ambiguous date",
        "a date with the year first, as in 2026-03-02",
        'Write the year first, or add the line slash_dates = "day/month/year" (or '
        '"month/day/year") as the first line of batch.toml.',
    )


@pytest.mark.parametrize(
    "text",
    ["2026-02-30 09:00", "2026-03-02 25:00", "09:10", "2 March 2026 09:10", "2026-03-02 09:10 h",
     "2026-3-2 09:10", "2026-03-02 13:10 AM", "0001-01-01 00:00+14:00", "9999-12-31 23:59", "12.5",
     "146083", "٢٠٢٦-03-02 09:10", "2026-03-02 09:10+25:00"],
)  # fmt: skip
def test_texts_that_are_no_time(text):
    assert moment(text, "") == Fault(
        "not a date and time",
        "a date and time as in 2026-03-02 09:10",
        "Write the date with the year first, a space, and the time on a 24-hour clock.",
    )


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("2026-03-02", "time of day missing"),
        ("2.3.2026", "time of day missing"),
        ("2/3/2026", "time of day missing"),
        ("02.03.26 09:10", "two-digit year"),
        ("2/3/26", "two-digit year"),
        ("02-03-26", "two-digit year"),
        ("46083.5", "a spreadsheet's number for a date"),
        ("46083,375", "a spreadsheet's number for a date"),
        ("46083", "a spreadsheet's number for a date"),
    ],
)
def test_what_a_time_lacks(text, problem):
    assert moment(text, "").problem == problem


def test_numbers_above_12_show_the_order_of_a_column():
    column = TABLES["burns"].column("lit_at")
    told = "Add the line slash_dates = {} as the first line"
    for other, order in (
        ("3/17/2026 9:00", '"month/day/year"'),
        ("17/3/2026 9:00", '"day/month/year"'),
    ):
        faults = read_column(cells("3/4/2026 9:00", other, "2026-03-05"), column, None, Style())[1]
        assert [f.do.startswith(told.format(order)) for f in faults.values()] == [True, True, False]
    for others in (("3/17/2026 9:00", "17/3/2026 9:00"), ("3/99/2026 9:00",), ()):
        faults = read_column(cells("3/4/2026 9:00", *others), column, None, Style())[1]
        assert "or add the line" in faults[0].do


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-02",
        "2026-03-02 00:00",
        "2026-03-02T17:45:10",
        "02.03.2026",
        "2.3.2026 08:00",
        "2026-03-02 09:10+01:00",
    ],
)
def test_days(text):
    assert day(text, "") == datetime(2026, 3, 2)


def test_days_that_are_none():
    assert day("2/3/2026", "day/month/year") == datetime(2026, 3, 2)
    assert day("2/3/2026", "month/day/year") == datetime(2026, 2, 3)
    assert day("2/3/2026", "").problem == "ambiguous date"
    for text in ("2026-02-30", "soon", "March", "31.02.2026"):
        assert day(text, "") == Fault(
            "not a date", "a date as in 2026-03-02", "Write the date with the year first."
        )


def test_times_come_in_the_zone_of_the_bench():
    column = TABLES["burns"].column("lit_at")
    texts = (
        "2026-03-28 23:30",
        "2026-03-29 00:30Z",
        "2026-03-29 03:30+02:00",
        "",
        "2026-10-25 01:30+01:00",
        "2026-10-25 01:30+00:00",
    )
    values, faults = read_column(cells(*texts), column, None, Style(time_zone="Europe/Lisbon"))
    assert not faults
    assert str(values.dtype) == "datetime64[us, Europe/Lisbon]"
    utc = [
        "2026-03-28 23:30",
        "2026-03-29 00:30",
        "2026-03-29 01:30",
        None,
        "2026-10-25 00:30",
        "2026-10-25 01:30",
    ]
    assert list(values.dt.tz_convert(None)) == list(pd.to_datetime(pd.Series(utc)))
    assert str(values[2]) == "2026-03-29 02:30:00+01:00"


def test_times_that_the_clock_skipped_or_showed_twice():
    # Europe/Lisbon: 2026-03-29 01:00 becomes 02:00, 2026-10-25 02:00
    # becomes 01:00 (IANA time zone data)
    column = TABLES["burns"].column("lit_at")
    style = Style(time_zone="Europe/Lisbon")
    values, faults = read_column(
        cells("2026-03-29 01:30", "2026-10-25 01:30", "2026-10-25 02:00", "2026-03-29 00:59"),
        column,
        None,
        style,
    )
    do = "The clocks in Europe/Lisbon change at that hour: write the time with its offset."
    expected = "a time with its offset from UTC, as in 2026-03-29 03:10+01:00"
    assert faults == {
        0: Fault("time that the clock skipped", expected, do),
        1: Fault("time that the clock showed twice", expected, do),
    }
    assert list(values.isna()) == [True, True, False, False]


def test_without_a_zone_times_are_taken_as_utc():
    values, faults = read_column(
        cells("2026-03-29 01:30", "nonsense"), TABLES["burns"].column("lit_at"), None, Style()
    )
    assert str(values[0]) == "2026-03-29 01:30:00+00:00"
    assert list(faults) == [1]

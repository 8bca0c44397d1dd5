"""One cell at a time: numbers, times, days, flags, choices, and a whole column of them."""

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest

from candlelab.glossary import TABLES, Column
from candlelab.logs.cells import (
    Fault,
    Style,
    choice,
    comma_or_dot,
    day,
    flag,
    moment,
    number,
    read_column,
    whole,
)
from candlelab.logs.csv_text import Cells


def cells(*texts):
    codes, distinct = pd.factorize(np.array(texts, dtype=object))
    return Cells(codes, list(distinct))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12.5", 12.5),
        ("-3", -3),
        ("+4.", 4),
        (".5", 0.5),
        ("1e3", 1000),
        ("007", 7),
        ("1.234", 1.234),
        ("12345.678", 12345.678),
    ],
)
def test_numbers(text, value):
    assert number(text, False) == value


@pytest.mark.parametrize(
    ("text", "value"),
    [("12,5", 12.5), ("-0,25", -0.25), ("17,785", 17.785), ("12.5", 12.5), ("12", 12)],
)
def test_numbers_with_a_decimal_comma(text, value):
    assert number(text, True) == value


@pytest.mark.parametrize(
    "text",
    ["12.5 g", "nan", "NaN", "inf", "-inf", "1e999", "1_000", "１２", "٣", "½", "0x10", "1.2.3", "--5", "−5", "e5", "1 2", "12,5,6", "n/a", "about 5", "5%"],
)  # fmt: skip
@pytest.mark.parametrize("decimal_comma", [False, True])
def test_texts_that_are_no_numbers(text, decimal_comma):
    assert number(text, decimal_comma) == Fault(
        "text where a number belongs",
        "a number, or an empty cell for no reading",
        "Write the number only; its unit stands in the column's name, remarks go to the note.",
    )


@pytest.mark.parametrize(
    "text",
    [
        "1,234.5",
        "1 234.5",
        "1\u00a0234,5",
        "1\u202f234",
        "1'234",
        "1\u2019234.5",
        "1.234.567",
        "12,345,678",
    ],
)
@pytest.mark.parametrize("decimal_comma", [False, True])
def test_thousands_marks(text, decimal_comma):
    example = "1234,5" if decimal_comma else "1234.5"
    assert number(text, decimal_comma) == Fault(
        "thousands mark in a number",
        f"a number without a thousands mark, as in {example}",
        "Take the thousands mark out; only the decimal mark stays.",
    )


def test_a_dot_before_three_digits_is_a_thousands_mark_among_decimal_commas():
    assert number("1.234", True).problem == "thousands mark in a number"


@pytest.mark.parametrize("text", ["12,5", "1,234", "0,25"])
def test_a_comma_among_decimal_dots(text):
    assert number(text, False) == Fault(
        "decimal comma among decimal dots",
        "a number with a dot, as in 12.5",
        "Write the number with a dot and no thousands mark. Decimal commas are read where "
        "semicolons part the cells and the whole file keeps to them.",
    )


def test_decimal_marks_are_told_apart():
    assert [comma_or_dot(t) for t in ("1,5", "1.5", "15", "", "a.b", "1.5,6", "1,234.5")] == [
        ",",
        ".",
        "",
        "",
        "",
        "",
        "",
    ]


def test_whole_numbers():
    assert whole("3", False) == 3
    assert whole("3.0", False) == 3
    assert whole("3,0", True) == 3
    assert whole("2.5", False) == Fault(
        "not a whole number", "a whole number", "Write a whole number."
    )
    assert whole("two", False).problem == "text where a number belongs"
    assert whole("1e999", False).problem == "text where a number belongs"


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
    ["2026-02-30 09:00", "2026-03-02 25:00", "09:10", "2 March 2026 09:10", "2026-03-02 09:10 h", "2026-3-2 09:10", "2026-03-02 13:10 AM",
     "0001-01-01 00:00+14:00", "9999-12-31 23:59", "12.5", "146083", "٢٠٢٦-03-02 09:10", "2026-03-02 09:10+25:00"],
)  # fmt: skip
def test_texts_that_are_no_time(text):
    assert moment(text, "") == Fault(
        "not a date and time",
        "a date and time as in 2026-03-02 09:10",
        "Write the date with the year first, a space, and the time on a 24-hour clock.",
    )


@pytest.mark.parametrize(
    ("text", "problem"),
    [("2026-03-02", "time of day missing"), ("2.3.2026", "time of day missing"), ("2/3/2026", "time of day missing"),
     ("02.03.26 09:10", "two-digit year"), ("2/3/26", "two-digit year"), ("02-03-26", "two-digit year"),
     ("46083.5", "a spreadsheet's number for a date"), ("46083,375", "a spreadsheet's number for a date"), ("46083", "a spreadsheet's number for a date")],
)  # fmt: skip
def test_what_a_time_lacks(text, problem):
    assert moment(text, "").problem == problem


def test_numbers_above_12_show_the_order_of_a_column():
    column, told = (
        TABLES["burns"].column("lit_at"),
        "Add the line slash_dates = {} as the first line",
    )
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
    ("text", "unit", "comma", "do"),
    [
        ("22 mm", "mm", False, "Write 22; the unit stands in the column's name."),
        ("22,5mm", "mm", True, "Write 22,5; the unit stands in the column's name."),
        ("-3.5 °F", "f", False, "Write -3.5; the unit stands in the column's name."),
        ("1/4", "in", False, "Write 0.25."),
        ("1 1/2 inches", "in", True, "Write 1,5; the unit stands in the column's name."),
        ("1/0", "in", False, "Write the number only; its unit"),
        ("22 mm", "in", False, "Write the number only; its unit"),
        ("22 mm", None, False, "Write the number only; its unit"),
        ("mm", "mm", False, "Write the number only; its unit"),
    ],
)
def test_the_number_to_write(text, unit, comma, do):
    column = TABLES["burns"].column("wick_length_mm" if unit != "f" else "room_c")
    _, faults = read_column(cells("5", text), column, unit, Style(decimal_comma=comma))
    assert faults[1].problem == "text where a number belongs"
    assert faults[1].do.startswith(do)


def test_a_percent_sign_in_a_column_of_percent():
    column = TABLES["candles"].column("fragrance_load_pct")
    values, faults = read_column(cells("8.0%", "8 %", "", "%", "8.0.%"), column, "pct", Style())
    np.testing.assert_array_equal(values, [8, 8, np.nan, np.nan, np.nan])
    assert list(faults) == [3, 4]
    assert comma_or_dot("8,0 %") == ","


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


def test_flags():
    assert [flag(t) for t in ("yes", "Y", "TRUE", "1", "x")] == [True] * 5
    assert [flag(t) for t in ("no", "N", "False", "0")] == [False] * 4
    assert flag("maybe") == Fault(
        "neither yes nor no", "yes or no", "Write yes or no; leave the cell empty if nobody looked."
    )


def test_choices():
    assert choice("Self", ("timer", "self")) == "self"
    assert choice("3.0", ("0", "3")) == "3"
    assert choice("tymer", ("timer", "self", "stopped")) == Fault(
        "not one of the choices",
        "timer, self or stopped",
        "Did you mean 'timer'? Else use one of these.",
    )
    assert choice("7", ("0", "3")) == Fault("not one of the choices", "0 or 3", "Use one of these.")


def test_a_column_of_numbers_in_another_unit():
    column = TABLES["burns"].column("mass_before_g")
    values, faults = read_column(cells("1", "", "x", "2", "x"), column, "oz", Style())
    np.testing.assert_allclose(
        values, [28.349523125, np.nan, np.nan, 56.69904625, np.nan]
    )  # NIST SP 811
    assert values.dtype == "float64"
    assert {n: f.problem for n, f in faults.items()} == {
        2: "text where a number belongs",
        4: "text where a number belongs",
    }


@pytest.mark.parametrize(
    ("column", "texts", "expected", "dtype"),
    [
        (Column("note", "text", "", ""), ("a", "", "a"), ["a", "", "a"], "str"),
        (Column("burn", "whole", "", ""), ("1", "", "3"), [1.0, None, 3.0], "float64"),
        (
            Column("soot", "choice", "", "", choices=("0", "1", "2", "3")),
            ("0", "", "3"),
            [0.0, None, 3.0],
            "float64",
        ),
        (
            Column("ended_by", "choice", "", "", choices=("timer", "self")),
            ("Timer", "", "self"),
            ["timer", "", "self"],
            "str",
        ),
        (Column("tipped", "flag", "", ""), ("yes", "", "no"), [True, None, False], "boolean"),
        (
            Column("poured_on", "date", "", ""),
            ("2026-03-02", "", "2026-03-03"),
            ["2026-03-02", None, "2026-03-03"],
            "datetime64[us]",
        ),
    ],
)
def test_columns_and_their_types(column, texts, expected, dtype):
    values, faults = read_column(cells(*texts), column, None, Style())
    pd.testing.assert_series_equal(
        values,
        pd.Series(pd.array(expected, dtype=dtype))
        if dtype != "str"
        else pd.Series(expected, dtype="str"),
    )
    assert not faults
    empty, faults = read_column(Cells(np.zeros(0, dtype=int), []), column, None, Style())
    assert empty.dtype == values.dtype
    assert len(empty) == len(faults) == 0


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

"""One cell at a time: numbers, flags, choices, and a whole column of them."""

import numpy as np
import pandas as pd
import pytest

from candlelab.logs.cells import Style, choice, comma_or_dot, flag, number, read_column, whole
from candlelab.logs.column import Column
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_text import Cells
from candlelab.logs.problems import Fault


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
    ["12.5 g", "nan", "NaN", "inf", "-inf", "1e999", "1_000", "１２", "٣", "½", "0x10", "1.2.3",
     "--5", "−5", "e5", "1 2", "12,5,6", "n/a", "about 5", "5%"],
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

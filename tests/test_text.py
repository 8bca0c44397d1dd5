"""Numbers with units, plurals and lists, as a sentence has them (English usage, no source)."""

import numpy as np
import pytest
from markupsafe import Markup

from candlelab.text import amount, counted, listed, rounded, unbroken


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (5.7234, "g/h", "5.72 g/h"),
        (34.4, "h", "34.4 h"),
        (53.77, "°C", "53.8 °C"),
        (12.0, "mm", "12.0 mm"),
        (63.2, "%", "63.2 %"),
        (64.6, "W", "65 W"),
        (59.6, "min", "60 min"),
        (200.13, "g", "200.1 g"),
        (637.5685, "tex", "637.6 tex"),
        (0.123456, "", "0.123"),
        (-0.001, "g/h", "0.00 g/h"),
        (-1.5, "g/h", "-1.50 g/h"),
        (np.float64(2.0), "h", "2.0 h"),
    ],
)
def test_a_value_has_its_unit_and_the_digits_it_is_worth(value, unit, text):
    assert amount(value, unit) == text
    assert rounded(value, unit) == text.removesuffix(unit).rstrip()


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("5.72 g/h in burn 5", ["5.72_g/h", "in", "burn_5"]),
        ("150 °F (66 °C), 3 h 10 min", ["150_°F", "(66_°C),", "3_h", "10_min"]),
        ("80 % of 3 fresh candles", ["80_%", "of", "3_fresh", "candles"]),
        ("14.5 mm: 12 candles", ["14.5_mm:", "12_candles"]),
        ("braid 2 good", ["braid", "2", "good"]),
        ("as many as 6 in 10", ["as", "many", "as", "6_in", "10"]),
    ],
)
def test_a_number_is_not_parted_from_its_unit(text, parts):
    assert unbroken(text).replace("\u00a0", "_").split(" ") == parts


def test_markup_and_numbers_stay_as_they_are():
    markup = Markup("<b>5 g</b>")
    assert unbroken(markup) is markup
    assert unbroken(5) == 5


def test_digits_may_be_asked_for():
    assert amount(5.7234, "g/h", 1) == "5.7 g/h"
    assert amount(63.2, "%", 0) == "63 %"
    assert rounded(5.7234, digits=2) == "5.72"


def test_a_missing_value_is_a_dash():
    assert rounded(np.nan, "g/h") == "–"
    assert amount(np.nan, "g/h") == "–"


@pytest.mark.parametrize(
    ("n", "what", "text"),
    [
        (1, "candle", "1 candle"),
        (0, "candle", "0 candles"),
        (3, "fresh candle", "3 fresh candles"),
        (1, "batch", "1 batch"),
        (2, "batch", "2 batches"),
        (2, "pass", "2 passes"),
        (2, "box", "2 boxes"),
        (2, "study", "2 studies"),
        (2, "day", "2 days"),
        (np.int64(1), "burn", "1 burn"),
    ],
)
def test_a_number_stands_with_its_noun(n, what, text):
    assert counted(n, what) == text


@pytest.mark.parametrize(
    ("names", "text"),
    [
        ([], ""),
        (["a"], "a"),
        (["a", "b"], "a and b"),
        (["a", "b", "c"], "a, b and c"),
        (range(1, 8), "1, 2, 3, 4, 5 and 2 more"),
    ],
)
def test_names_stand_in_a_row(names, text):
    assert listed(names) == text


def test_a_row_may_be_cut_and_end_with_another_word():
    assert listed("abcd", 3, "or") == "a, b or 2 more"
    assert listed("ab", last="or") == "a or b"

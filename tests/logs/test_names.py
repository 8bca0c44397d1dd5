"""Names that may be one name; what is known where. Messages are in tests/broken."""

import unicodedata

import pytest

from candlelab.logs.cells import Style
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_table import read_table
from candlelab.logs.names import _LOOKS, bare, one_name_each, one_spelling
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings import Settings, Wax


def pairs(*values, column="fragrance", settings=None):
    """What is said of candles with these values: (line, found, expected) of each problem."""
    problems = ProblemList()
    text = f"candle,{column}\n" + "".join(f"A{n},{value}\n" for n, value in enumerate(values))
    table = read_table(TABLES["candles"], text.encode(), Style(), ProblemList())
    one_spelling(table, settings, problems)
    return list(problems.table()[["line", "found", "expected"]].itertuples(index=False, name=None))


@pytest.mark.parametrize(
    ("first", "second"),
    [("fig leaf", "Fig Leaf"), ("fig leaf", "fig-leaf"), ("fig leaf", "figleaf"),
     ("fig leaf", "fig  leaf"), ("oak", "Oak"), ("beech\u2013oak", "beech oak"),
     ("fig leaf", "fig leav"), ("fig leaf", "fig leafs"), ("fig leaf", "fi leaf"),
     ("lavender", "lavander"), ("blend 1.0", "blend 1.0 ")],
)  # fmt: skip
def test_one_name_in_two_spellings(first, second):
    told = (
        []
        if first.strip() == second.strip()
        else [(3, f"{second} (1 candle)", f"one spelling; there is also {first} (1 candle)")]
    )
    assert pairs(first, second) == told


@pytest.mark.parametrize(
    ("first", "second"),
    [("fig leaf", "fir leave"), ("blend 1", "blend 2"), ("wax A", "wax B"), ("blend I", "blend II"),
     ("blend V", "blend IX"), ("sage", "sago"), ("wax", "wax B"), ("C-12", "C-13"),
     ("fig leaf", ""), ("fig leaf", "gif leaf"), ("blend", "blend 2")],
)  # fmt: skip
def test_two_names(first, second):
    assert pairs(first, second) == []


def test_the_rarer_spelling_is_told_at_its_first_row():
    assert pairs("Fig leaf", "fig leaf", "fig leaf", "Fig leaf", "fig leaf") == [
        (2, "Fig leaf (2 candles)", "one spelling; there is also fig leaf (3 candles)")
    ]
    wax = {"column": "wax", "settings": Settings(title="t", waxes={"soft wax": Wax()})}
    assert pairs("Soft wax", "Soft wax", "soft wax", **wax) == [
        (2, "Soft wax (2 candles)", "one spelling; there is also soft wax (1 candle)")
    ]


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("Fig-Leaf", "figleaf"),
        ("fig leaf", "figleaf"),
        ("fig_leaf", "figleaf"),
        ("03", "3"),
        ("3.0", "3"),
        ("3.5", "3.5"),
        ("3,5", "3.5"),
        ("A3", "a3"),
        ("alpha braid 02", "alphabraid2"),
        ("44-24-18 Z", "44-24-18z"),
        ("44 24 18 z", "44-24-18z"),
        ("4424-18", "4424-18"),
        ("Caf\u00e9", "caf\u00e9"),  # one letter, and a letter with its accent after it
        ("Cafe\u0301", "caf\u00e9"),
        ("\u0430lpha br\u0430id", "alphabraid"),  # CYRILLIC SMALL LETTER A
        ("\u0391LPHA BRAID", "alphabraid"),  # GREEK CAPITAL LETTER ALPHA
        ("\uff13", "3"),  # FULLWIDTH DIGIT THREE
        ("alpha\u00adbraid\u200b", "alphabraid"),  # soft hyphen, zero width space
    ],
)
def test_names_to_the_bare_bones(text, left):
    """Characters by their names in the Unicode Character Database."""
    assert bare(text) == left


def test_letters_that_look_latin_are_what_the_unicode_names_say():
    for letter, latin in zip(_LOOKS[::2], _LOOKS[1::2], strict=True):
        assert unicodedata.name(letter).startswith(("CYRILLIC SMALL", "GREEK SMALL", "LATIN SMALL"))
        assert unicodedata.name(latin).startswith("LATIN SMALL LETTER")


def test_the_most_frequent_spelling_stands_for_all():
    names = ["alpha-braid", "alpha braid", "Alpha braid", "alpha braid", "beta"]
    assert one_name_each(names) == {
        "alpha-braid": "alpha braid",
        "alpha braid": "alpha braid",
        "Alpha braid": "alpha braid",
        "beta": "beta",
    }
    assert one_name_each(["1", "01", "1.0"]) == {"1": "1", "01": "1", "1.0": "1"}
    assert one_name_each([]) == {}

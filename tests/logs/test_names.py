"""Names that may be one name; what is known where. Messages are in tests/broken."""

import pytest

from candlelab.glossary import TABLES
from candlelab.logs.cells import Style
from candlelab.logs.csv_table import read_table
from candlelab.logs.names import bare, one_spelling
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


def test_names_to_the_bare_bones():
    assert [bare(t) for t in ("Fig-Leaf", "fig leaf", "03", "3.0", "3", "3.5", "A3")] == [
        "figleaf",
        "figleaf",
        "3.0",
        "3.0",
        "3.0",
        "3.5",
        "a3",
    ]

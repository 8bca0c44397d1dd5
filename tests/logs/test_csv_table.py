"""One table from its bytes: headers, units, widths, decimal marks, keys.

Messages are in tests/broken.
"""

import numpy as np
import pytest

from candlelab.logs.cells import Style
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_table import read_table
from candlelab.logs.problems import ProblemList

HEAD = "candle,burn,elapsed_min,pool_diameter_mm,note\n"


def read(text, table="checks", **style):
    problems = ProblemList()
    read_one = read_table(TABLES[table], text.encode(), Style(**style), problems)
    return read_one, problems.table()


def test_every_column_of_the_table_is_there_with_its_type():
    table, problems = read(HEAD + "A1,1,60,30,\n")
    assert list(table.frame.columns) == [c.name for c in TABLES["checks"].columns]
    assert list(table.found) == ["candle", "burn", "elapsed_min", "pool_diameter_mm", "note"]
    assert str(table.frame.dtypes["candle"]) == "str"
    assert str(table.frame.dtypes["tipped"]) == "boolean"
    assert str(table.frame.dtypes["soot"]) == str(table.frame.dtypes["burn"]) == "float64"
    assert table.frame["wall_c"].isna().all()
    assert problems.empty


def test_columns_in_any_order_and_unit():
    table, problems = read("Note;Pool diameter [in];Elapsed (hours);Burn;CANDLE\n;1,5;0,5;2;A1\n")
    assert problems.empty
    row = table.frame.iloc[0]
    assert (row["candle"], row["burn"]) == ("A1", 2)
    assert row["pool_diameter_mm"] == pytest.approx(38.1)  # 1.5 in, NIST SP 811
    assert row["elapsed_min"] == pytest.approx(30)
    assert table.show("pool_diameter_mm", row["pool_diameter_mm"]) == "1.5 in"
    assert table.show("elapsed_min", 90) == "1.5 h"
    assert (
        table.show("wall_c", 20, 30) == "20 to 30 °C"
    )  # a column that the file has not: the house unit
    assert table.show("burn", 2) == "2"


@pytest.mark.parametrize(
    ("cells", "expected"),
    [
        (("1,5", "22"), (1.5, 22)),
        (("1.5", "22.25"), (1.5, 22.25)),
        (("1,5", "22,25"), (1.5, 22.25)),
        (("1,500", "22,25"), (1.5, 22.25)),
    ],
)
def test_the_decimal_mark_of_a_semicolon_file(cells, expected):
    table, problems = read("candle;burn;elapsed_min;pool_diameter_mm\nA1;1;{};{}\n".format(*cells))
    assert tuple(table.frame[["elapsed_min", "pool_diameter_mm"]].iloc[0]) == expected
    assert problems.empty


def test_a_single_comma_among_dots_is_not_guessed():
    table, problems = read(
        "candle;burn;elapsed_min;pool_diameter_mm\nA1;1;1,234;22.5\nA1;1;60;23.5\n"
    )
    assert list(problems["problem"]) == ["decimal comma among decimal dots"]
    assert np.isnan(table.frame["elapsed_min"][0])


def test_rows_keep_their_order_and_place():
    table, _ = read(HEAD + 'B,1,60,30,"two\nlines"\nA,1,60,31,\n')
    assert list(table.frame["candle"]) == ["B", "A"]
    assert table.lines.tolist() == [2, 4]
    assert table.rows.tolist() == [2, 3]


def test_rows_in_doubt_are_marked():
    rows = ["A1,1,60,30,", "A1,1,60,30,", "A1,,120,30,", "A1,2,60", 'A1,2,120,30,"x']
    text = HEAD + "\n".join([*rows, "A1,3,-60,30,", "A1,3,60,30,", ""])
    table, problems = read(text)
    assert table.muted.tolist() == [False, False, False, True, True, False, False]
    assert table.unsure.tolist() == [True, True, True, False, False, True, False]
    assert list(problems["problem"]) == [
        "row given twice",
        "empty cell",
        "wrong number of cells",
        "unclosed quote",
        "impossible value",
    ]
    assert np.isnan(table.frame["elapsed_min"][5]), "a number that cannot be is taken for missing"


def test_a_broken_row_is_told_once():
    _, problems = read(HEAD + "A1,1,sixty,wide,x,y\n")
    assert list(problems["problem"]) == ["wrong number of cells"]


def test_two_misspelt_columns_are_not_taken_for_one():
    _, problems = read("candel,burn,elapsed_min,candl\nA1,1,60,x\n")
    assert list(problems["problem"]) == ["misspelt column", "column not known"]
    assert list(problems["column"]) == ["candel", "candl"]


def test_a_column_of_ones_own_is_let_be():
    _, problems = read(HEAD.strip() + ",wall_note,wall_c\nA1,1,60,30,,warm,40\n")
    assert list(problems[["level", "problem", "column"]].iloc[0]) == [
        "look at this",
        "column not known",
        "wall_note",
    ]


def test_a_key_may_leave_out_its_optional_part():
    rows = [f"A1,1,P1,4,hall,{lit}\n" for lit in ("yes", "no", "", "")]
    text = "candle,burn,assessor,score,place,lit\n" + "".join(rows)
    _, problems = read(text, "throw")
    assert list(problems["line"]) == [5]
    assert problems["found"][0] == "candle A1, burn 1, assessor P1, place hall"


def test_times_without_an_offset_are_known():
    head = "candle,burn,lit_at,out_at,mass_before_g,mass_after_g\n"
    rows = [
        "2026-03-02 09:00Z,2026-03-02 11:00+00:00",
        "2026-03-02 09:00Z,2026-03-02 11:00",
        "2026-03-02 09:00Z,",
    ]
    table, _ = read(
        head + "".join(f"A1,{n},{times},200,190\n" for n, times in enumerate(rows)), "burns"
    )
    assert table.offsets.tolist() == [True, False, True]


def test_the_bytes_decide_and_nothing_else():
    first, _ = read(HEAD + "A1,1,60,30,\n")
    second, _ = read(HEAD + "A1,1,60,30,\n")
    assert first.frame.equals(second.frame)


def test_a_column_in_the_wrong_unit_is_told_once():
    rows = "".join(f"A1,1,{60 * n},{120 + n}\n" for n in range(1, 8))
    _, problems = read("candle,burn,elapsed_min,wall_c\nA1,1,0,25\n" + rows)
    (row,) = problems.to_dict("records")
    assert (row["level"], row["problem"], row["line"], row["column"]) == (
        "look at this",
        "implausible column",
        3,
        "wall_c",
    )
    assert (row["found"], row["expected"]) == ("7 of 8 readings, the first 121 °C", "15 to 110 °C")
    assert row["what_to_do"] == "Check the unit in the column's name; keep it if it is right."

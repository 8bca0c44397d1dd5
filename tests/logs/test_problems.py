"""The problem list, its table, and the exact texts a user meets."""

import pandas as pd
import pytest

from candlelab.logs.problems import (
    LOOK,
    MUST_FIX,
    PROBLEM_COLUMNS,
    PROTOCOL,
    BurnLogError,
    ProblemList,
    problem_lines,
)
from candlelab.text import clip, closest, suggest


def some_problems():
    problems = ProblemList()
    problems.add(
        PROTOCOL,
        "cure too short",
        "candles.csv",
        line=3,
        row=3,
        candle="A2",
        column="poured_on",
        found="6 days",
        expected="at least 10 days",
        do="Its numbers count; cure longer next time.",
    )
    problems.add(
        MUST_FIX,
        "out before lit",
        "burns.csv",
        line=9,
        row=8,
        candle="A1",
        column="out_at",
        found="2026-03-17 01:00",
        expected="a time after 2026-03-17 23:00",
        do="Correct one of the two times.",
    )
    problems.add(
        MUST_FIX,
        "missing file",
        "wicks.csv",
        expected="a file wicks.csv",
        do="Put wicks.csv into the folder.",
    )
    problems.add(
        LOOK,
        "column not known",
        "checks.csv",
        line=1,
        row=1,
        column="colour",
        do="It was not read.",
    )
    return problems


def test_table_is_sorted_and_typed():
    table = some_problems().table()
    assert list(table.columns) == list(PROBLEM_COLUMNS)
    assert list(table["problem"]) == [
        "out before lit",
        "missing file",
        "column not known",
        "cure too short",
    ]
    assert {c: str(t) for c, t in table.dtypes.items()} == PROBLEM_COLUMNS
    empty = ProblemList().table()
    assert len(empty) == 0
    assert {c: str(t) for c, t in empty.dtypes.items()} == PROBLEM_COLUMNS


def test_lines_for_a_terminal():
    assert problem_lines(some_problems().table()) == [
        (
            "must fix: burns.csv, row 8 in a spreadsheet (line 9 of the text), candle A1, column "
            "out_at: out "
            "before lit. Found 2026-03-17 01:00. Expected a time after 2026-03-17 23:00. Correct "
            "one of the two times."
        ),
        "must fix: wicks.csv: missing file. Expected a file wicks.csv. Put wicks.csv into the "
        "folder.",
        "look at this: checks.csv, line 1, column colour: column not known. It was not read.",
        (
            "off plan: candles.csv, line 3, candle A2, column poured_on: cure too short. Found 6 "
            "days. Expected at least 10 days. Its numbers count; cure longer next time."
        ),
    ]
    assert problem_lines(some_problems().table(), at_most=3)[3:] == ["... and 1 more."]
    assert problem_lines(ProblemList().table()) == []


def many_problems(n, first_line=2, gap=0, **more):
    problems = ProblemList()
    for line in range(first_line, first_line + n):
        problems.add(
            MUST_FIX,
            "ambiguous date",
            "burns.csv",
            line=line,
            row=line - gap,
            column="Lit at",
            found=f"{line}/2/2026 9:12 AM",
            expected="a date with the year first",
            do="Write the year first.",
            **more,
        )
    return problems


def test_rows_with_one_problem_share_a_line():
    text = (
        "ambiguous date in 51 rows, lines 2 to 52. The first has 2/2/2026 9:12 AM. Expected a date "
        "with the year first. Write the year first."
    )
    assert problem_lines(many_problems(51).table()) == [
        f"must fix: burns.csv, column Lit at: {text}"
    ]
    assert len(many_problems(51).table()) == 51
    assert problem_lines(many_problems(51, candle="A1").table()) == [
        f"must fix: burns.csv, candle A1, column Lit at: {text}"
    ]
    assert (
        "in 4 rows, rows 6 to 9 in a spreadsheet (lines 7 to 10 of the text). The first has"
        in problem_lines(many_problems(4, 7, gap=1).table())[0]
    )
    assert len(problem_lines(many_problems(3).table())) == 3


def test_a_line_may_stand_for_many():
    problems = many_problems(6)
    for line in (1, 9):
        problems.add(
            MUST_FIX, "burn longer than a day", "burns.csv", line=line, row=line, column="Out at"
        )
    lines = problem_lines(problems.table(), at_most=2)
    assert [line.split(": ")[2].split(".")[0] for line in lines[:2]] == [
        "burn longer than a day",
        "ambiguous date in 6 rows, lines 2 to 7",
    ]
    assert lines[2:] == ["... and 1 more."]


def test_batch_toml_has_settings():
    problems = ProblemList()
    problems.add(
        LOOK,
        "unknown setting",
        "batch.toml",
        line=3,
        row=3,
        column="limits.wall",
        do="Take it out.",
    )
    assert problem_lines(problems.table()) == [
        "look at this: batch.toml, line 3, setting limits.wall: unknown setting. Take it out."
    ]


def test_the_error_lists_what_must_be_fixed():
    error = BurnLogError("my batch", some_problems().table())
    assert str(error) == (
        "my batch: 2 problems to fix before the numbers can be trusted\n"
        "must fix: burns.csv, row 8 in a spreadsheet (line 9 of the text), candle A1, column "
        "out_at: out "
        "before lit. Found 2026-03-17 01:00. Expected a time after 2026-03-17 23:00. Correct one "
        "of the two times.\n"
        "must fix: wicks.csv: missing file. Expected a file wicks.csv. Put wicks.csv into the "
        "folder."
    )
    assert len(error.problems) == 4
    assert isinstance(error, ValueError)


def test_the_error_is_short_even_when_the_list_is_long():
    problems = ProblemList()
    for n in range(1000):
        problems.add(
            MUST_FIX,
            "empty cell",
            "burns.csv",
            line=n + 2,
            row=n + 2,
            column=f"c{n}",
            do="Fill the cell in.",
        )
    lines = str(BurnLogError("b", problems.table())).splitlines()
    assert lines[0] == "b: 1000 problems to fix before the numbers can be trusted"
    assert lines[1] == "must fix: burns.csv, line 2, column c0: empty cell. Fill the cell in."
    assert lines[-1] == "... and 980 more."
    assert len(lines) == 22
    one = problems.table().head(1)
    assert str(BurnLogError("b", one)).startswith("b: 1 problem to fix before")


def test_a_cell_is_told_once_with_the_worst():
    problems = ProblemList()
    for level, problem in (
        (LOOK, "implausible value"),
        (MUST_FIX, "check outside its burn"),
        (PROTOCOL, "late"),
        (MUST_FIX, "second"),
    ):
        problems.add(level, problem, "checks.csv", line=4, row=4, column="elapsed_min")
    problems.add(LOOK, "elsewhere", "checks.csv", line=5, row=5, column="elapsed_min")
    problems.add(PROTOCOL, "of the whole row", "checks.csv", line=4, row=4)
    problems.add(PROTOCOL, "of the whole row, too", "checks.csv", line=4, row=4)
    assert list(problems.table()["problem"]) == [
        "check outside its burn",
        "elsewhere",
        "of the whole row",
        "of the whole row, too",
    ]


def test_noted_knows_settings_by_section():
    problems = ProblemList()
    problems.add(MUST_FIX, "unknown setting", "batch.toml", column="protocol.rest")
    assert problems.noted("batch.toml", "protocol")
    assert problems.noted("batch.toml", "protocol.rest")
    assert not problems.noted("batch.toml", "prot")
    assert not problems.noted("burns.csv", "protocol")


def test_control_characters_are_shown_and_long_texts_cut():
    assert clip("two\nlines\x1b[31m\t\xa0end") == r"two\nlines\x1b[31m\t\xa0end"
    assert clip("é°–ü") == "é°–ü"
    assert clip("x" * 80) == "x" * 80
    assert clip("x" * 81) == "x" * 79 + "…"
    problems = ProblemList()
    problems.add(
        LOOK, "p", "f", candle="A\n1", column="b\x07", found="c\x00", expected="d\r", do="e\x1b"
    )
    assert problems.table().iloc[0, 6:].tolist() == [r"A\n1", r"b\x07", r"c\x00", r"d\r", r"e\x1b"]


@pytest.mark.parametrize(
    ("word", "close"),
    [("s01", "S01"), ("S1", "S01"), ("flat brade", "flat braid"), ("jar", None), ("", None)],
)
def test_closest(word, close):
    assert closest(word, ["S01", "S02", "flat braid"]) == close


def test_suggest():
    assert suggest("s01", ["S01"], "add it.") == "Did you mean 'S01'? Else add it."
    assert suggest("jar", ["S01"], "add it.") == "Add it."
    assert suggest("jar", [], "add it.") == "Add it."


def test_an_unknown_row_number_is_not_printed():
    table = pd.DataFrame(
        [(LOOK, "p", "f.csv", 3, 3, "", "", "", "", "", "Do.")], columns=list(PROBLEM_COLUMNS)
    ).astype(PROBLEM_COLUMNS)
    assert problem_lines(table) == ["look at this: f.csv, line 3: p. Do."]


def test_a_name_without_its_zeros_is_meant_before_one_that_looks_like_it():
    assert closest("S1", [f"S{n:02d}" for n in range(1, 19)]) == "S01"
    assert closest("s018", ["S01", "S18"]) == "S18"

"""What the form shows while somebody types is what ``candlelab check`` says of the same row."""

from dataclasses import replace

import pytest
from batches import burn, candle, checks, write
from benches import SEEN, START, Bench, Clock, folder_of
from hypothesis import given, settings
from hypothesis import strategies as st

from candlelab.bench.rows import burn_row, check_rows, plain_values
from candlelab.logs.batch import check_batch
from candlelab.logs.journal import LoggedBurn, entry_of

CELLS = ["", "x", "30", "1,5", "12.5", "1,234", "999", "-3", "1e9", "5 mm", "40 g", "1/2", "yes",
         "maybe", "0", "3", "nan", "inf", "½", "300.5", "70", "6000", "0.01"]  # fmt: skip
OF_CHECK = st.dictionaries(
    st.sampled_from([*SEEN, "note"]), st.sampled_from(CELLS) | st.text(max_size=6), max_size=5
)
OF_LIGHT = st.dictionaries(
    st.sampled_from(["mass_before_g", "room_c", "wick_length_mm", "note"]),
    st.sampled_from(CELLS) | st.text(max_size=6),
)
CANDLES = [candle("A1"), candle("A2")]
SHOWN = ["level", "problem", "file", "line", "candle", "column", "found", "expected", "what_to_do"]


@pytest.fixture(scope="module")
def burning(tmp_path_factory):
    """A batch with a burn in its tables and one that is alight, an hour old."""
    folder = folder_of(
        tmp_path_factory.mktemp("batch") / "batch",
        burns=[burn("A1", 1, 20)],
        checks=checks("A1", 1),
    )
    bench = Bench(folder, START.replace(day=2))
    bench.saved("light", "A1", 2, mass_before_g="380", room_c="22", wick_length_mm="5")
    bench.clock.move(60)
    return bench


def asked(bench, entry):
    return [{name: row[name] for name in SHOWN} for row in bench.desk.draft(entry)]


def checked(folder, table, line, without=()):
    found = check_batch(folder)
    found = found[(found["file"] == f"{table}.csv") & (found["line"] == line)]
    blank = (found["problem"] == "empty cell") & found["column"].isin(without)
    return found.loc[~blank, SHOWN].to_dict("records")


def same(messages, others):
    key = [tuple(str(one[name]) for name in SHOWN) for one in messages]
    return sorted(key) == sorted(tuple(str(one[name]) for name in SHOWN) for one in others)


def add(folder, bench, table, row):
    """A row at the end of a table, as the bench writes it."""
    with open(folder / f"{table}.csv", "ab") as file:
        file.write(bench.desk.reader.reading().form(table).row(row))


@pytest.mark.slow
@settings(max_examples=12)
@given(OF_CHECK)
def test_a_check_is_told_what_check_says_of_its_row(burning, tmp_path_factory, values):
    entry = burning.entry("check", "A1", 2, **values)
    reading, book = burning.desk.reader.reading(), burning.desk.reader.book()
    # the same row in a folder whose burn is whole, as it will be
    folder = tmp_path_factory.mktemp("whole") / "batch"
    write(folder, CANDLES, [burn("A1", 1, 20), burn("A1", 2, 20)], checks("A1", 1))
    burns = LoggedBurn(book.burns["A1", 2].light, checks=[typed(reading, entry)])
    (row,) = check_rows(burns, reading.form("checks")).values()
    add(folder, burning, "checks", row)
    # the form asks for each answer, so that a blank one is no news
    told = [one for one in checked(folder, "checks", 6) if one["problem"] != "not written down"]
    assert same(asked(burning, entry), told)


@pytest.mark.slow
@settings(max_examples=12)
@given(OF_LIGHT)
def test_lighting_is_told_what_check_says_of_its_row(burning, tmp_path_factory, values):
    entry = burning.entry("light", "A2", 1, **values)
    reading = burning.desk.reader.reading()
    folder = tmp_path_factory.mktemp("lit") / "batch"
    write(folder, CANDLES, [burn("A1", 1, 20)], checks("A1", 1))
    row = burn_row(LoggedBurn(typed(reading, entry)), reading.form("burns"), reading.zone)
    add(folder, burning, "burns", row)
    expected = checked(folder, "burns", 3, without=("out_at", "mass_after_g"))
    assert same(asked(burning, entry), expected)


def typed(reading, data):
    """An entry with its numbers as they are written."""
    entry = entry_of(data)
    return replace(entry, values=plain_values(entry, reading.form(entry.table)))


@pytest.mark.parametrize(
    ("values", "problem"),
    [
        ({"wall_c": "x"}, "text where a number belongs"),
        ({"wall_c": "1,234"}, "decimal comma among decimal dots"),
        ({"wall_c": "400"}, "implausible value"),
        ({"pool_diameter_mm": "90"}, "pool wider than the vessel"),
        ({"tipped": "perhaps"}, "neither yes nor no"),
        ({"soot": "4"}, "not one of the choices"),
    ],
)
def test_each_kind_of_slip_has_its_message(burning, values, problem):
    assert problem in [one["problem"] for one in burning.desk.draft(
        burning.entry("check", "A1", 2, **values)
    )]  # fmt: skip


def test_a_decimal_comma_is_a_decimal_mark(burning):
    assert burning.desk.draft(burning.entry("check", "A1", 2, wall_c="45,5")) == []


def test_the_moment_counts_too(burning):
    late = burning.entry("check", "A1", 2, at=Clock(START.replace(day=2))(), **SEEN)
    assert burning.desk.draft(late) == []  # at the moment of lighting: minute 0


def test_a_good_entry_has_no_message(burning):
    assert burning.desk.draft(burning.entry("check", "A1", 2, **SEEN)) == []


@pytest.mark.parametrize("data", [{}, {"id": 3}, "text", None, {"id": "entry-1", "kind": "sing"}])
def test_what_is_no_entry_has_no_message(burning, data):
    assert burning.desk.draft(data) == []


def test_nothing_is_left_of_the_question(burning):
    before = {path.name: path.read_bytes() for path in burning.folder.iterdir()}
    burning.desk.draft(burning.entry("check", "A1", 2, wall_c="x"))
    assert {path.name: path.read_bytes() for path in burning.folder.iterdir()} == before

"""The bench's journal as it is read: any bytes, torn lines, corrections, and what check says."""

import json
from unittest import mock

import pytest
from batches import burn, candle, checks, write
from hypothesis import given
from hypothesis import strategies as st

from candlelab.logs import batch as reading
from candlelab.logs.batch import check_batch
from candlelab.logs.journal import KINDS, column_of, read_logbook
from candlelab.logs.problems import ProblemList


def line(id_, kind="light", candle="A1", burn=1, at="2026-06-01T09:00:00+00:00", **more):
    data = {"id": id_, "kind": kind, "candle": candle, "burn": burn, "at": at, **more}
    return json.dumps(data).encode() + b"\n"


def test_an_id_counts_once():
    book = read_logbook(line("a") + line("b", "check") + line("b", "check"))
    assert len(book.burns["A1", 1].checks) == 1


def test_a_torn_last_line_is_told_and_passed_over():
    problems = ProblemList()
    book = read_logbook(line("a") + line("b", "check")[:-20], problems)
    assert book.burns["A1", 1].checks == []
    (row,) = problems.table().to_dict("records")
    assert (row["level"], row["problem"], row["line"]) == (
        "look at this", "line of the journal that cannot be read", 2
    )  # fmt: skip


def test_what_follows_a_torn_line_is_read():
    data = line("a") + line("b", "check")[:-20] + b"\n" + line("c", "out")
    assert read_logbook(data).burns["A1", 1].out.id == "c"


def test_an_entry_of_a_burn_that_was_withdrawn_is_nobodys():
    book = read_logbook(line("a") + line("b", "check") + line("c", "withdraw", of=["a"]))
    assert book.burns == {}


@pytest.mark.parametrize(
    ("name", "column", "unit"),
    [("wall_f", "wall_c", "f"), ("wall_c", "wall_c", "c"), ("soot", "soot", None)],
)
def test_columns_by_their_names_in_any_unit(name, column, unit):
    found = column_of("checks", name)
    assert (found[0].name, found[1]) == (column, unit)


@pytest.mark.parametrize("name", ["wall_g", "wall", "nothing", "", "mass_before_g"])
def test_other_names_are_no_columns(name):
    assert column_of("checks", name) is None


def small(folder):
    rows = [burn("A1", n, 20) for n in (1, 2)]
    seen = [row for n in (1, 2) for row in checks("A1", n)]
    return write(folder, [candle("A1")], rows, seen)


JUNK = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=20)
    | st.sampled_from([*KINDS, "A1", "2026-06-01T09:00:00+00:00", "9999-12-31T23:59:59-14:00"]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=4,
)  # fmt: skip
ENTRIES = st.fixed_dictionaries(
    {
        "id": st.sampled_from(["a", "b", "c"]) | JUNK,
        "kind": st.sampled_from(KINDS) | JUNK,
        "at": st.sampled_from(["2026-06-01T09:00:00+00:00", "2026-06-03T09:00:00Z"]) | JUNK,
    },
    optional={
        "candle": st.sampled_from(["A1", "A2"]) | JUNK,
        "burn": st.sampled_from([0, 1, 2, 3]) | JUNK,
        "of": st.lists(st.sampled_from(["a", "b", "c"]), max_size=2) | JUNK,
        "values": st.dictionaries(
            st.sampled_from(
                ["wall_f", "mass_after_g", "note", "soot", "tipped", "at", "a", "burn"]
            ),
            st.sampled_from(["", "x", "1e999", "140", "nan", "yes", "2026-06-01T10:00:00Z"]),
        )
        | JUNK,
    },
)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A small batch whose tables are read once; what any journal changes is not in them."""
    folder = small(tmp_path_factory.mktemp("batch") / "batch")
    with mock.patch.object(reading, "read_tables", wraps=reading.read_tables) as read:
        logs = reading.read_logs(folder)
    assert logs.problems.table().empty

    def same_tables(_, data, *rest):
        data |= read.call_args.args[1]
        return dict(logs.tables)

    with mock.patch.object(reading, "read_tables", same_tables):
        yield folder


@pytest.mark.slow
@given(
    entries=st.lists(st.one_of(ENTRIES, JUNK).map(json.dumps) | st.text(max_size=30), max_size=8)
)
def test_any_journal_gives_problems_and_no_error(folder, entries):
    data = "\n".join(entries).encode("utf-8", "surrogatepass")
    (folder / "bench.jsonl").write_bytes(data)
    found = check_batch(folder)
    assert set(found["level"]) <= {"look at this", "off plan"}  # the tables stand as they are


def test_bytes_that_are_no_text(tmp_path):
    folder = small(tmp_path / "batch")
    (folder / "bench.jsonl").write_bytes(b"\xff\xfe\0" * 40 + b"\n" + line("a", burn=3))
    assert check_batch(folder)["problem"].tolist() == [
        "line of the journal that cannot be read", "burn not finished"
    ]  # fmt: skip


def test_a_batch_without_a_journal_says_nothing_of_it(tmp_path):
    assert check_batch(small(tmp_path / "batch")).empty

"""Logs that a plan has filled in as far as it can: a row nobody burned is no burn and no fault."""

import csv

import pytest
from batches import burn, candle, checks, write
from benches import LIT, SEEN, Bench

from candlelab.bench.today import today
from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.problems import MUST_FIX, PROTOCOL

MINUTES = (60, 120, 180, 240)


def due(folder, *rows, minutes=MINUTES):
    """Add the rows that a plan would have written for burns (candle, number) that are to come."""
    for table in ("burns", "checks"):
        path = folder / f"{table}.csv"
        width = len(path.read_text("utf-8").splitlines()[0].split(","))
        keys = [
            [name, number, *key]
            for name, number in rows
            for key in ([[]] if table == "burns" else [[minute] for minute in minutes])
        ]
        with open(path, "a", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(key + [""] * (width - len(key)) for key in keys)
    return folder


def burned(folder, name="A1", seen=MINUTES):
    """A batch of two candles in which one burn was logged, and the next ones are to come."""
    rows = [candle("A1"), candle("A2")]
    write(folder, rows, [burn(name, 1, 19)], checks(name, 1, seen) if seen else ())
    return due(folder, ("A2" if name == "A1" else "A1", 1), ("A1", 2), ("A2", 2))


def told(folder):
    return [(p.level, p.problem, p.file, p.line) for p in check_batch(folder).itertuples()]


def test_rows_that_are_to_come_are_no_burns_no_checks_and_no_problem(tmp_path):
    folder = burned(tmp_path)
    assert told(folder) == []
    batch = read_batch(folder)
    assert batch.burns[["candle", "burn"]].values.tolist() == [["A1", 1]]
    assert batch.checks["burn"].tolist() == [1] * 4
    assert batch.lines["checks"].tolist() == [2, 3, 4, 5]


def test_a_check_that_was_not_made_in_a_burn_that_was_is_missed(tmp_path):
    folder = burned(tmp_path, seen=MINUTES[:2])
    due(folder, ("A1", 1), minutes=MINUTES[2:])
    lines = (folder / "burns.csv").read_text("utf-8").splitlines()
    (folder / "burns.csv").write_text("\n".join(lines[:-1]) + "\n", "utf-8")  # A1 1 is there
    assert told(folder) == [(PROTOCOL, "check missed", "burns.csv", 2)]


@pytest.mark.parametrize(
    ("cells", "empty"),
    [
        ({"mass_before_g": "400.0"}, ["lit_at", "mass_after_g", "out_at"]),
        ({"lit_at": "2026-06-02 09:00", "mass_before_g": "400"}, ["mass_after_g", "out_at"]),
        ({"note": "smells of nothing"}, ["lit_at", "mass_after_g", "mass_before_g", "out_at"]),
    ],
)
def test_a_row_that_is_partly_filled_in_gets_its_message(tmp_path, cells, empty):
    folder = burned(tmp_path)
    path = folder / "burns.csv"
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    rows[2] |= cells
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    problems = check_batch(folder)
    own = problems[problems["problem"] == "empty cell"]
    assert own["line"].tolist() == [4] * len(empty)
    assert own["column"].tolist() == empty
    assert set(problems.loc[problems["level"] == MUST_FIX, "problem"]) == {"empty cell"}


def test_checks_of_a_burn_that_is_not_filled_in_say_so(tmp_path):
    write(
        tmp_path, [candle("A1")], [burn("A1", 1, 19)], [*checks("A1", 1), *checks("A1", 2, (60,))]
    )
    due(tmp_path, ("A1", 2), minutes=MINUTES[1:])
    (problem,) = check_batch(tmp_path).to_dict("records")
    assert (problem["level"], problem["problem"]) == (MUST_FIX, "burn that is not filled in")
    assert (problem["file"], problem["line"], problem["found"]) == ("checks.csv", 6, "2")
    assert problem["what_to_do"].startswith("Fill in the row of this burn in burns.csv")


def test_a_wick_may_be_changed_before_a_burn_that_is_to_come(tmp_path):
    change = {"candle": "A1", "before_burn": 2, "wick_series": "flat braid", "wick_size": "3"}
    rows, seen = [candle("A1")], checks("A1", 1)
    write(tmp_path, rows, [burn("A1", 1, 19)], seen, wick_changes=[change])
    problem = "wick change before a burn that does not exist"
    assert told(tmp_path) == [(MUST_FIX, problem, "wick_changes.csv", 2)]
    due(tmp_path, ("A1", 2))
    assert told(tmp_path) == []


def test_a_total_and_a_row_without_its_burn_are_not_taken_for_rows_to_come(tmp_path):
    folder = burned(tmp_path)
    with open(folder / "burns.csv", "a", encoding="utf-8") as file:
        file.write("Total" + "," * 10 + "\n" + "A1" + "," * 10 + "\n")
    problems = check_batch(folder)
    assert {"row of totals", "empty cell"} <= set(problems["problem"])


@pytest.mark.slow
def test_the_bench_adds_its_row_and_the_one_that_was_to_come_stays_untouched(tmp_path):
    plain, prefilled = burned(tmp_path / "plain"), burned(tmp_path / "prefilled")
    for path in (
        plain / "burns.csv",
        plain / "checks.csv",
    ):  # the same batch without the rows that are to come
        kept = [line for line in path.read_text("utf-8").splitlines() if ",,,,,," not in line]
        path.write_text("\n".join(kept) + "\n", "utf-8")
    days = []
    for folder in (plain, prefilled):
        before = {path.name: path.read_bytes() for path in folder.glob("*.csv")}
        bench = Bench(folder)
        bench.clock.move(60 * 24)
        assert [one.candle for one in today(folder, bench.clock()).missed] == []
        bench.whole_burn("A2", 1)
        bench.clock.move(60 * 24)
        bench.saved("light", "A1", 2, **LIT | {"mass_before_g": "381.0"})
        bench.clock.move(60)
        bench.saved("check", "A1", 2, **SEEN)
        assert set(check_batch(folder)["problem"]) == {"burn not finished"}
        batch = read_batch(folder)
        assert sorted(batch.burns[["candle", "burn"]].values.tolist()) == [["A1", 1], ["A2", 1]]
        assert len(batch.checks) == 8
        for name, text in before.items():
            assert (folder / name).read_bytes().startswith(text)
        days.append(today(folder, bench.clock()).as_json())
    assert days[0] == days[1]


def test_the_weight_that_the_bench_offers_is_the_last_one_of_a_row_that_was_burned(tmp_path):
    folder = burned(tmp_path)
    bench = Bench(folder)
    state = bench.desk.reader.reading().tables
    assert (state["A1"].burn, state["A1"].mass) == (2, "381.0")
    assert (state["A2"].burn, state["A2"].mass) == (1, "")

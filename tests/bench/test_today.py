"""What to burn next, what was missed, what is over: in the tables, in the journal, in a plan."""

import json
import shutil
from datetime import UTC, datetime, timedelta

import pytest
from batches import burn, candle, checks, write
from benches import LIT, SEEN, Bench, folder_of
from commands import run
from places import DEMO
from plans import plan_file, without_page

from candlelab.bench.table_form import CannotAdd
from candlelab.bench.today import today, words_of
from candlelab.plan.folder import make_plan

MARCH = datetime(2026, 3, 3, 12, tzinfo=UTC)


@pytest.mark.parametrize("name", ["confirmation", "waxes", "loads"])
def test_a_demo_batch_that_was_burned_to_its_end_is_over(name):
    day = today(DEMO / name, MARCH)
    assert (day.burning, day.weigh, day.burn_next, day.missed) == ([], [], [], [])
    assert {one.words.split(".")[0] for one in day.over} == {"Burned to the end"}


def test_the_screening_demo_says_what_failed_and_what_was_missed():
    day = today(DEMO / "screening", MARCH)
    over = {one.candle: one.words for one in day.over}
    assert len(over) + len(day.burn_next) == 18
    stopped = [name for name, words in over.items() if words.startswith("Do not light it again")]
    assert stopped == ["S16", "S17", "S18"]  # as tests/simulate plants them
    assert over["S06"].startswith("Set aside: wick off centre")
    assert [one.candle for one in day.missed] == ["S13", "S13", "S14", "S15"]
    text = words_of(day)
    assert (
        text[0] == "Tuesday 3 March 2026: Stoneware tumbler, coconut and rapeseed wax: which wick?"
    )
    assert any(line.startswith("  S01, S02") and "Burned to the end." in line for line in text)


@pytest.mark.slow
@pytest.mark.parametrize("name", ["screening", "kitchen"])
def test_a_batch_in_a_workbook_has_the_same_day(tmp_path, name):
    from books import in_book

    folder = in_book(DEMO / name, tmp_path)
    assert today(folder, MARCH).as_json() == today(DEMO / name, MARCH).as_json()


@pytest.mark.slow
def test_the_bench_page_says_that_a_batch_is_kept_in_a_workbook(tmp_path):
    from books import in_book

    folder = in_book(DEMO / "screening", tmp_path)
    with pytest.raises(CannotAdd, match=r"This batch is logged in log\.xlsx"):
        Bench(folder).desk.reader.reading()


@pytest.mark.slow
def test_a_burn_in_the_journal_counts(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch", "A1", "A2", "A3"))
    bench.saved("light", **LIT)
    bench.saved("light", "A2", **LIT)
    bench.clock.move(70)
    bench.saved("check", **SEEN)
    bench.saved("out", "A2", ended_by="stopped")
    bench.clock.move(20)
    day = today(bench.folder, bench.clock())
    assert [(one.candle, one.words) for one in day.burning] == [
        ("A1", "lit at 09:00; check it at 11:00.")
    ]
    assert [one.candle for one in day.weigh] == ["A2"]
    assert [one.candle for one in day.burn_next] == ["A3"]
    bench.clock.move(60)
    assert today(bench.folder, bench.clock()).burning[0].words.endswith("11:00, overdue.")
    assert [one.words for one in today(bench.folder, bench.clock()).missed] == [
        "80 min without a check."
    ]


def test_a_failure_in_the_journal_is_said_before_it_is_weighed(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    bench.clock.move(30)
    bench.saved("check", **SEEN | {"wall_c": "70"})
    words = today(bench.folder, bench.clock()).burning[0].words
    assert words.startswith("Put it out now. The wall is over your stop limit of 65 °C (149 °F).")


@pytest.mark.slow
def test_after_an_incident_the_other_candles_of_that_wick_are_not_just_lit(tmp_path):
    candles = [candle("A1"), candle("A2"), candle("A3", "flat braid 3"), candle("A4", dye="blue")]
    bench = Bench(write(tmp_path / "batch", candles, []))
    bench.saved("light", **LIT)
    bench.clock.move(30)
    bench.saved("check", **SEEN | {"wall_c": "70"})
    words = {one.candle: one.words for one in today(bench.folder, bench.clock()).burn_next}
    assert words == {
        "A2": "A1 has the same wick and must not be lit again. "
        "Find out why before you light this one.",
        "A3": "",
        "A4": "",
    }


def test_an_incident_on_a_second_wick_speaks_of_that_wick(tmp_path):
    candles = [candle("A1", "flat braid 1"), candle("A2", "flat braid 1"), candle("A3")]
    burns = [burn("A1", 1, 19.0), burn("A1", 2, 19.0)]
    seen = [*checks("A1", 1), *checks("A1", 2, vessel_damaged="yes")]
    change = {"candle": "A1", "before_burn": 2, "wick_series": "flat braid", "wick_size": "2"}
    folder = write(tmp_path / "batch", candles, burns, seen, wick_changes=[change])
    words = {one.candle: one.words for one in today(folder, MARCH).burn_next}
    assert words["A2"] == ""
    assert words["A3"].startswith("A1 has the same wick")


@pytest.mark.slow
def test_a_candle_cools_before_it_is_lit_again(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.whole_burn()
    bench.clock.move(-60)
    day = today(bench.folder, bench.clock())
    first = next(one for one in day.burn_next if one.candle == "A1")
    assert (first.burn, first.words) == (2, "Cooling until 16:00.")


@pytest.mark.slow
def test_a_candle_that_went_out_early_says_so(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    bench.clock.move(60)
    bench.saved("check", **SEEN)
    bench.saved("out", ended_by="self")
    bench.clock.move(200)
    bench.saved("weigh", mass_after_g="395")
    day = today(bench.folder, bench.clock())
    assert next(one.words for one in day.burn_next if one.candle == "A1") == (
        "It went out by itself in burn 1 with 95 % of its wax left. "
        "That failure stays: you need not light it again."
    )
    bench.saved("wick_change", burn=2, wick_series="flat braid", wick_size="3")
    assert next(one.words for one in today(bench.folder, bench.clock()).burn_next) == ""


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan")
    with without_page():
        make_plan(plan_file(folder / "in", ("candles = 4", "candles = 2")), folder / "batch")
    return folder / "batch"


@pytest.mark.slow
def test_a_plan_says_whose_turn_it_is_and_what_was_missed(planned):
    from candlelab.plan.planned import read_plan

    sessions = read_plan(planned / "plan.toml").sessions
    first = sessions["lit_from"].iloc[0].to_pydatetime()
    day = today(planned, first - timedelta(hours=1))
    due = [one for one in day.burn_next if one.at == first]
    assert len(due) == sessions["n_candles"].iloc[0]
    assert day.burn_next[: len(due)] == due  # those that are due stand in front
    assert due[0].words == f"Planned for {first:%H:%M}."
    assert day.missed == []
    late = today(planned, sessions["over_at"].iloc[0].to_pydatetime() + timedelta(hours=1))
    assert {one.candle for one in late.missed} == {one.candle for one in due}
    assert late.missed[0].words == f"planned for {first:%H:%M}, not burned."


@pytest.mark.slow
def test_a_planned_folder_that_the_bench_has_begun_is_not_planned_over(planned, tmp_path):
    shutil.copytree(planned, tmp_path / "batch")
    bench = Bench(tmp_path / "batch", datetime(2026, 9, 28, 8, tzinfo=UTC))
    name = next(iter(bench.desk.reader.reading().tables))
    bench.saved("light", name, 1, mass_before_g="500", room_c="22", wick_length_mm="5")
    result = run("plan", tmp_path / "batch" / "plan.toml", "--out", tmp_path / "batch")
    assert result.exit_code != 0
    assert (tmp_path / "batch" / "bench.jsonl").exists()


def test_the_command_prints_words_or_plain_data(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"), datetime.now(UTC).replace(microsecond=0))
    bench.saved("light", **LIT)
    result = run("today", bench.folder)
    assert result.exit_code == 0
    lines = result.output.splitlines()
    assert lines[1:3] == ["", "Burning"]
    assert lines[3].startswith("  A1 (burn 1): lit at ")
    data = json.loads(run("today", bench.folder, "--json").output)
    assert [one["candle"] for one in data["burning"]] == ["A1"]
    assert set(data) == {"now", "title", "burning", "weigh", "burn_next", "missed", "over"}


def test_the_command_on_no_batch(tmp_path):
    assert run("today", tmp_path / "nothing").exit_code == 2
    (tmp_path / "empty").mkdir()
    result = run("today", tmp_path / "empty")
    assert result.exit_code == 2
    assert "The bench needs candles.csv, burns.csv, checks.csv, batch.toml." in result.output

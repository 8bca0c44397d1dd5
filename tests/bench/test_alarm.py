"""The computer rings from the due time on, once a minute, with no page open."""

import pytest
from benches import LIT, SEEN, Bench, folder_of

from candlelab.bench.alarm import Alarm


def rung(bench, minutes, step=0.5):
    """What is rung for while time passes: minutes since now, and the words behind the clock."""
    heard, passed = [], 0.0
    alarm = Alarm(bench.desk, lambda words: heard.append((passed, words.partition("  ")[2])))
    while passed < minutes:
        alarm.look()
        bench.clock.move(step)
        passed += step
    return heard


def test_a_check_is_rung_for_each_minute_from_the_moment_it_is_due(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    heard = rung(bench, 63.5)
    assert [minutes for minutes, _ in heard] == [60, 61, 62, 63]
    assert heard[0][1] == "A1: check it; due for 0 min."
    assert heard[3][1] == "A1: check it; due for 3 min."
    bench.saved("check", **SEEN)
    assert rung(bench, 50) == []


@pytest.mark.slow
def test_each_check_and_the_end_of_four_hours(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    due = []
    for _ in range(4):
        alarm_at = rung(bench, 60.5)
        due.append(alarm_at[0][1] if alarm_at else "")
        bench.clock.move(-0.5)
        bench.saved("check", **SEEN)
    assert due == ["A1: check it; due for 0 min."] * 4
    assert rung(bench, 2)[0][1].startswith("A1: put it out, its time is up; due for 0 min.")
    bench.saved("out", ended_by="timer")
    assert rung(bench, 10) == []


def test_a_check_a_little_early_counts(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    bench.clock.move(46)
    bench.saved("check", **SEEN)
    assert next(minutes for minutes, _ in rung(bench, 75)) == 74  # at 120 min


def test_a_check_far_too_early_does_not(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    bench.clock.move(44)
    bench.saved("check", **SEEN)
    assert [minutes for minutes, _ in rung(bench, 17)] == [16]


def test_a_reading_over_a_limit_rings_until_the_candle_is_out(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    bench.clock.move(60)
    bench.saved("check", **SEEN | {"flame_on_vessel": "yes"})
    heard = rung(bench, 2.5)
    assert len(heard) == 3
    assert heard[0][1] == (
        "A1: PUT IT OUT. The flame touches the vessel. Put it out now, with a lid."
    )
    bench.saved("out", ended_by="stopped")
    assert rung(bench, 3) == []


def test_something_else_burning_rings_below_the_limit_of_the_standard(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    bench.saved("light", **LIT)
    bench.clock.move(60)
    bench.saved("check", **SEEN | {"secondary_ignition_s": "3"})
    assert "Something other than the wick burned." in rung(bench, 1)[0][1]
    one = bench.desk.reader.reading().standings(bench.desk.reader.book())["A1"]
    assert one.stop == ""  # up to 10 s is no failure (EN 15493, read second-hand)


def test_a_folder_that_cannot_be_read_rings_too(tmp_path):
    bench = Bench(folder_of(tmp_path / "batch"))
    (bench.folder / "batch.toml").unlink()
    heard = []
    Alarm(bench.desk, heard.append).look()
    assert heard[0].startswith("The bench cannot read its folder: The bench needs batch.toml")

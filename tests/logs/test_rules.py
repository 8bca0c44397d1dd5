"""Rules across tables: where they hold, where they keep quiet. Messages are in tests/broken."""

import pandas as pd
import pytest
from places import BROKEN

from candlelab.logs.batch import check_batch

GOOD = BROKEN / "nothing_wrong" / "batch"
OF_ALL = ("burns shorter than the standards'", "never written down")


@pytest.fixture
def changed(tmp_path):
    """Problems of the good small batch with texts in its files replaced, or
    whole files: (problem, file, line) tuples, but for what is told of the good one."""

    def check(**edits):
        for path in GOOD.iterdir():
            text = path.read_text("utf-8")
            edit = edits.get(path.stem, [])
            for old, new in [] if isinstance(edit, str) else edit:
                assert old in text
                text = text.replace(old, new)
            (tmp_path / path.name).write_text(edit if isinstance(edit, str) else text, "utf-8")
        problems = check_batch(tmp_path)
        problems = problems[~problems["problem"].isin(OF_ALL)]
        return list(problems[["problem", "file", "line"]].itertuples(index=False, name=None))

    return check


def test_the_good_batch_is_good(changed):
    assert changed() == []


@pytest.mark.parametrize("word", ["levelled", "Topped up with 4 g", "top up", "re-levelling"])
def test_a_note_explains_a_weight(changed, word):
    edit = [("209.0,198.5,22.5,5.0,timer,", f"214.0,203.5,22.5,5.0,timer,{word}")]
    assert changed(burns=edit) == []
    before = [
        ("209.0,22.0,5.0,timer,", f"209.0,22.0,5.0,timer,{word}"),
        ("209.0,198.5", "214.0,203.5"),
    ]
    assert changed(burns=before) == []


def test_weights_within_the_slack_of_the_scale(changed):
    assert changed(burns=[("209.0,198.5", "209.4,198.5")]) == []
    assert changed(burns=[("209.0,198.5", "209.6,198.5")]) == [
        ("weight gained between burns", "burns.csv", 3)
    ]
    assert changed(burns=[("209.0,198.5", "207.6,198.0")]) == []
    assert changed(burns=[("209.0,198.5", "207.4,198.0")]) == [
        ("weight lost between burns", "burns.csv", 3)
    ]
    coarse = [("burn_h = 2.0", "burn_h = 2.0\n[instruments]\nscale_resolution_g = 1")]
    assert changed(burns=[("209.0,198.5", "213.0,198.5")], batch=coarse) == []


def test_a_mistyped_weight_gives_one_problem(changed):
    assert changed(burns=[("220.0,209.0", "220.0,90.0")]) == [
        ("more wax used than filled", "burns.csv", 2)
    ]
    assert changed(burns=[("220.0,209.0", "220.0,2090.0")]) == [
        ("weight gained in a burn", "burns.csv", 2)
    ]
    assert changed(burns=[("220.0,209.0", "220.0,120.0")]) == [
        ("implausible burn rate", "burns.csv", 2)
    ]


def test_candles_with_several_wicks_may_burn_faster(changed):
    burns = [("220.0,209.0", "253.0,209.0")]  # 22 g/h
    assert changed(burns=burns) == [("implausible burn rate", "burns.csv", 2)]
    head, first, second = (GOOD / "candles.csv").read_text().splitlines()
    candles = f"{head},wick_count\n{first},2\n{second},\n"
    assert changed(burns=burns, candles=candles) == []


def test_a_mistyped_time_gives_one_problem(changed):
    assert changed(burns=[("2026-03-16 09:00", "2026-03-26 09:00")]) == [
        ("out before lit", "burns.csv", 2)
    ]
    assert changed(burns=[("2026-03-16 11:00", "2026-03-26 11:00")]) == [
        ("burn longer than a day", "burns.csv", 2)
    ]
    assert changed(burns=[("2026-03-16 11:00", "2026-03-16 25:00")]) == [
        ("not a date and time", "burns.csv", 2)
    ]


@pytest.mark.slow
def test_a_mistyped_burn_number_gives_one_problem(changed):
    for number in ("2.5", "two", ""):
        assert len(changed(burns=[("A1,1,", f"A1,{number},")])) == 1
        assert len(changed(checks=[("A1,1,60", f"A1,{number},60")])) == 1
    assert changed(burns=[("A1,1,", "A1,2,")]) == [("row given twice", "burns.csv", 3)]
    assert changed(burns=[("A1,2,", "A1,1,")]) == [("row given twice", "burns.csv", 3)]


def test_a_burn_that_went_out_by_itself_is_the_last(changed):
    first, last = (
        ("209.0,22.0,5.0,timer", "209.0,22.0,5.0,self"),
        ("198.5,22.5,5.0,timer", "198.5,22.5,5.0,self"),
    )
    assert changed(burns=[first]) == [("went out by itself before its end", "burns.csv", 2)]
    assert changed(burns=[last]) == []
    assert changed(burns=[first, ("A1,2,", "A1,1,")]) == [("row given twice", "burns.csv", 3)]


def test_a_load_below_half_a_percent(changed):
    for load, told in (("0.08", True), ("0.49", True), ("0.5", False), ("0", False), ("8%", False)):
        found = changed(candles=[("fig leaf,6.0", f"fig leaf,{load}")])
        assert found == ([("load below half a percent", "candles.csv", 2)] if told else []), load


def test_a_mistyped_candle_gives_one_problem(changed):
    assert changed(burns=[("A1,1,", "a1,1,")]) == [("unknown candle", "burns.csv", 2)]
    assert changed(burns=[("A1,2,", ",2,")]) == [("empty cell", "burns.csv", 3)]
    assert changed(checks=[("A1,1,60", "a1,1,60")]) == [("unknown candle", "checks.csv", 2)]
    assert changed(candles=[("A2,small", "A1,small")]) == [("row given twice", "candles.csv", 3)]
    assert changed(candles=[("A2,small", ",small")]) == [("empty cell", "candles.csv", 3)]


@pytest.mark.slow
def test_a_missing_column_gives_one_problem(changed):
    for table, header in (
        ("burns", "candle"),
        ("burns", "burn"),
        ("burns", "lit_at"),
        ("burns", "out_at"),
        ("burns", "mass_before_g"),
        ("checks", "candle"),
        ("checks", "burn"),
        ("checks", "elapsed_min"),
        ("candles", "candle"),
        ("candles", "vessel"),
        ("candles", "wick_series"),
        ("candles", "wick_size"),
        ("candles", "fill_mass_g"),
        ("wicks", "wick_series"),
        ("wicks", "wick_size"),
    ):
        frame = pd.read_csv(GOOD / f"{table}.csv", dtype="str", keep_default_na=False).drop(
            columns=header
        )
        assert changed(**{table: frame.to_csv(index=False)}) == [
            ("missing column", f"{table}.csv", 1)
        ], (table, header)


def test_a_mistyped_check_time_gives_one_problem(changed):
    for elapsed in ("6", "600", "-60", "sixty", ""):
        found = changed(checks=[("A1,1,60", f"A1,1,{elapsed}")])
        assert len(found) == 1, (elapsed, found)
    assert changed(checks=[("A1,1,60", "A1,1,120")]) == [("row given twice", "checks.csv", 3)]


def test_a_check_may_be_minutes_late(changed):
    assert changed(checks=[("A1,1,120", "A1,1,125")]) == []
    assert changed(checks=[("A1,1,120", "A1,1,126")]) == [
        ("check outside its burn", "checks.csv", 3)
    ]


def test_a_candle_without_burns_may_not_have_checks(changed):
    lines = (GOOD / "burns.csv").read_text().splitlines(keepends=True)
    found = changed(burns="".join(lines[:3]))
    assert found == [
        ("burn that does not exist", "checks.csv", 6),
        ("burn that does not exist", "checks.csv", 8),
    ]


def test_a_burn_that_ended_by_itself_may_be_short(changed):
    edit = [
        ("2026-03-17 11:00,209.0,198.5,22.5,5.0,timer", "2026-03-17 10:05,209.0,204.0,22.5,5.0,{}")
    ]
    late = [("A1,2,120,25,40.5,47,0,no,\n", "")]
    by_itself = [(old, new.format("self")) for old, new in edit]
    assert changed(burns=by_itself, checks=late) == []
    by_timer = [(old, new.format("timer")) for old, new in edit]
    assert changed(burns=by_timer, checks=late) == [("burn too long or too short", "burns.csv", 3)]


def test_a_faulty_protocol_is_not_held_against_the_burns(changed):
    assert changed(batch=[("burn_h = 2.0", 'burn_h = "2"')]) == [
        ("text where a number belongs", "batch.toml", 11)
    ]


def test_clock_changes_in_another_zone(changed):
    # Europe/Lisbon changes on 2026-03-29, America/New_York on 2026-03-08 (IANA time zone data)
    times = [("2026-03-17 09:00,2026-03-17 11:00", "2026-03-29 00:30,2026-03-29 02:30")]
    assert changed(burns=times, batch=[("Europe/Lisbon", "America/New_York")]) == []
    assert changed(burns=times) == [("burn over a clock change", "burns.csv", 3)]
    elsewhere = [("2026-03-17 09:00,2026-03-17 11:00", "2026-11-01 00:30,2026-11-01 02:30")]
    assert changed(burns=elsewhere, batch=[("Europe/Lisbon", "America/New_York")]) == [
        ("burn over a clock change", "burns.csv", 3)
    ]


def test_cure_of_the_wax_comes_before_the_protocols(changed):
    assert changed(batch=[("cure_days = 10", "cure_days = 16")]) == [
        ("cure too short", "candles.csv", n) for n in (2, 3)
    ]
    assert changed(batch=[("burn_h = 2.0", "burn_h = 2.0\ncure_days = 30")]) == []
    without = [("cure_days = 10", ""), ("burn_h = 2.0", "burn_h = 2.0\ncure_days = 30")]
    assert changed(batch=without) == [("cure too short", "candles.csv", n) for n in (2, 3)]

"""A plan in the reader's units: its messages, its sentences, the logs that it leaves."""

import pytest
from batches import read
from places import DEMO

from candlelab.plan import folder as planning
from candlelab.plan import words
from candlelab.plan.planned import read_plan

IN_US = '[display]\nunits = "us"\n'


@pytest.fixture
def plan_of(tmp_path):
    def of(more, *changes):
        text = (DEMO / "plan" / "plan.toml").read_text(encoding="utf-8")
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        (tmp_path / "plan.toml").write_text(f"{text}\n{more}", encoding="utf-8")
        wicks = (DEMO / "plan" / "wicks.csv").read_text(encoding="utf-8")
        (tmp_path / "wicks.csv").write_text(wicks, encoding="utf-8")
        return read_plan(tmp_path / "plan.toml")

    return of


def test_messages_and_sentences_follow(plan_of):
    ours = plan_of("", ("spacing_mm = 200", "spacing_mm = 120"))
    row = ours.problems.set_index("problem").loc["candles close together"]
    # 150 mm are 5.91 in (an inch is 25.4 mm, NIST SP 811)
    assert (row["found"], row["expected"]) == ("120 mm", "at least 150 mm")
    theirs = plan_of(IN_US, ("spacing_mm = 200", "spacing_mm = 120"))
    row = theirs.problems.set_index("problem").loc["candles close together"]
    assert (row["found"], row["expected"]) == ("4.72 in", "at least 5.91 in")
    said = " ".join(words.answer(theirs) + words.assumptions(theirs))
    assert " oz of " in said
    assert " g of " not in said
    assert " mm" not in said
    # the same masses: stored numbers stay in g
    assert ours.pours["wax_g"].tolist() == theirs.pours["wax_g"].tolist()


def test_the_logs_are_kept_in_the_readers_units_and_read_back(plan_of, tmp_path):
    planned = plan_of(IN_US + 'paper = "A4"\ndates = "day month year"')
    planning._write_batch(planned, tmp_path / "batch")
    wicks = (DEMO / "plan" / "wicks.csv").read_text(encoding="utf-8")
    (tmp_path / "batch" / "wicks.csv").write_text(wicks, encoding="utf-8")
    head = (tmp_path / "batch" / "burns.csv").read_text(encoding="utf-8").splitlines()[0]
    assert {"mass_before_oz", "room_f", "wick_length_in"} <= set(head.split(","))
    batch = read(tmp_path / "batch")
    display = batch.settings.display
    assert (display.mass, display.length, display.temperature) == ("oz", "in", "F")
    assert (display.paper, display.dates) == ("A4", "day month year")
    fills = planned.candles["fill_mass_g"]
    assert batch.candles["fill_mass_g"].tolist() == pytest.approx(fills.tolist(), abs=0.05)

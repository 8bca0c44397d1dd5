"""Why not the others: each with its reason, in one line."""

import re
from dataclasses import replace

import pytest
from batches import read
from judged import Log, in_two_vessels, three
from places import DEMO

from candlelab.judge.criteria import criteria_of
from candlelab.judge.in_short import in_short
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.settings import Settings

DEEP = {"pool_depth_mm": 14}  # over the studio's 13 mm
TARGETS = "[targets]\nlife_h = {low = 30}\nwax_left_pct = {high = 1}\n"


def others(log, tmp_path):
    return log.worked(tmp_path).decisions[0].others


@pytest.mark.slow
def test_those_with_one_reason_stand_together_and_none_is_missing(tmp_path):
    log = three().add("D", "flat braid 3").add("E", "flat braid 1").add("F", "square braid 2")
    log.check("D", 2, 60, **DEEP).check("E", 2, 60, **DEEP).check("E", 2, 120, tipped="yes")
    log.missed("F", 1, 60)
    assert others(log, tmp_path) == (
        "square braid 2 (not fully checked); flat braid 1 (ruled out: tipped over, melt pool too "
        "deep); flat braid 3 (ruled out: melt pool too deep)."
    )


@pytest.mark.slow
def test_what_it_missed_and_that_fewer_passed(tmp_path):
    log = three().add("D", "flat braid 3").settings(TARGETS)
    assert others(log, tmp_path) == (
        "flat braid 3 (off target: life, wax left; only one good candle)."
    )


@pytest.mark.slow
def test_nothing_is_said_without_a_pick_or_without_others(tmp_path):
    assert others(three(), tmp_path / "a") == ""
    assert others(Log(A="flat braid 2").check("A", 1, 60, **DEEP), tmp_path / "b") == ""


@pytest.mark.slow
def test_two_that_are_level_are_not_among_the_others(tmp_path):
    log = three().add("D", "flat braid 3").add("E", "flat braid 3").add("F", "flat braid 3")
    assert others(log.add("G", "flat braid 1"), tmp_path) == "flat braid 1 (only one good candle)."


@pytest.mark.slow
def test_beside_other_vessels_it_stands_without_the_vessel(tmp_path):
    jar, tin = in_short(
        in_two_vessels().check("J1", 2, 60, tipped="yes").worked(tmp_path).decisions
    )
    assert jar.others == "flat braid 2 (ruled out: tipped over)."
    assert tin.others == ""
    assert "Not the others: flat braid 2" in jar.line


@pytest.mark.slow
@pytest.mark.parametrize(
    ("missed", "pick", "smells"),
    [
        (("F02", "F03", "F04"), "no fragrance", {}),
        (("F01", "F03", "F04"), "fig leaf 3 %", {}),
        (("F01", "F02", "F04"), "fig leaf 6 %", {"9 %": "no stronger", "3 %": "weaker"}),
    ],
)
def test_a_smell_is_told_only_where_the_panel_shows_it(missed, pick, smells):
    """The pick is another one where a check is missing: 6 % smells stronger than 3 % and none."""
    batch = read(DEMO / "loads")
    checks = batch.checks
    gap = checks["candle"].isin(missed) & (checks["burn"] == 2) & (checks["elapsed_min"] == 120)
    assert gap.sum() == 3
    worked = WorkedBatch(replace(batch, checks=checks[~gap].reset_index(drop=True)))
    (decision,) = worked.decisions
    assert decision.pick.endswith(pick)
    for load in ("3 %", "6 %", "9 %"):
        told = re.findall(rf"{load}”[^(]*\([^)]*smells ([^;)]*)", decision.others)
        assert told == ([smells[load]] if load in smells else [])


def test_every_criterion_says_in_short_what_has_happened():
    for one in criteria_of(Settings(title="a")):
        assert 1 < len(one.in_short.split()) < 11
        assert not one.in_short.startswith("It")

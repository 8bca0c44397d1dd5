"""What stands above the boxes, a pick too hot for a warm room, and what a confirmation lacks."""

import pytest
from batches import read
from judged import FEW, Log, in_two_vessels, lines, three
from places import DEMO

from candlelab.judge.decision import all_lines
from candlelab.judge.in_short import first_sentence, in_box, in_short
from candlelab.judge.together import together
from candlelab.judge.worked import WorkedBatch

HOW = "To confirm, burn them to the end with every check, and log them in a new folder."
HOT = (
    "Too hot for a warm room of 30 °C (86 °F): its wall would be about 67 °C (153 °F), your stop "
    "limit is 65 °C (149 °F). You measured 59 °C (138 °F)."
)
DOWN = (
    "Next: To sell flat braid 2 for warm rooms, first burn one more candle in a room of 30 °C (86 "
    "°F). Put it out, and wick it down, only if its wall goes over 65 °C (149 °F) there."
)


@pytest.mark.slow
def test_what_failed_in_any_vessel_stands_above_the_picks_and_they_above_the_boxes(tmp_path):
    log = in_two_vessels().check("J1", 2, 60, tipped="yes").check("T2", 3, 60, tipped="yes")
    jar, tin = log.worked(tmp_path).decisions
    told = all_lines([jar, tin])
    assert told[:2] == (*jar.incidents, *tin.incidents)
    sure = "One good candle: as many as 9 in 10 could still fail a safety check."
    short = (
        "Jar: flat braid 3. Not the others: flat braid 2 (ruled out: tipped over). Stop testing "
        f"flat braid 2 until you know what went wrong. "
        f"Confirm flat braid 3 on {FEW} {HOW} {sure}",
        "Tin: flat braid 2. Not the others: flat braid 3 (ruled out: tipped over). Stop testing "
        f"flat braid 3 until you know what went wrong. "
        f"Confirm flat braid 2 on {FEW} {HOW} {sure}",
    )
    assert told[2:5] == (*short, jar.headline)
    assert sorted(told) == sorted([*jar.lines, *tin.lines, *short])
    assert all_lines([jar]) == jar.lines


@pytest.mark.slow
def test_no_pick_a_pick_so_far_and_two_that_are_level_in_short(tmp_path):
    log = in_two_vessels().until("T2", 3).check("J1", 2, 60, tipped="yes")
    log.check("J2", 2, 60, tipped="yes")
    jar, tin = in_short(log.worked(tmp_path / "a").decisions)
    assert (jar.pick, tin.pick) == ("Jar: no pick.", "Tin: flat braid 2 leads so far.")
    assert jar.steps.startswith("Stop testing flat braid 2 until you know what went wrong. Stop")
    assert tin.steps == (
        f"Keep burning T2 (flat braid 3, about 2 more burns). Confirm flat braid 2 on {FEW} {HOW}"
    )
    log = in_two_vessels().missed("T1", 1, 60).missed("T2", 1, 60)
    jar, tin = in_short(log.worked(tmp_path / "b").decisions)
    assert jar.pick == "Jar: no single pick, flat braid 2 and flat braid 3 are level."
    assert tin.pick == "Tin: no pick yet."


def test_one_vessel_needs_no_pick_in_short(tmp_path):
    assert in_short(three().worked(tmp_path).decisions) == ()


def test_the_box_of_a_vessel_leaves_its_name_to_its_title(tmp_path):
    jar, tin = in_two_vessels().worked(tmp_path).decisions
    assert tin.candidates == ("flat braid 2, tin", "flat braid 3, tin")
    assert in_box(tin.headline, tin).startswith("No single pick: flat braid 2 and flat braid 3 are")
    assert in_box("A note: “bent, tin cold”.", tin) == "A note: “bent, tin cold”."
    assert in_box("Pick “flat braid 2, tin”.", jar) == "Pick “flat braid 2, tin”."


def test_the_first_sentence():
    assert first_sentence("Pick A. Its wall was 65.2 °C.") == ("Pick A.", "Its wall was 65.2 °C.")
    assert first_sentence("Pick “No. 4”.") == ("Pick “No. 4”.", "")


@pytest.mark.slow
def test_a_pick_whose_wall_would_be_too_hot_in_a_warm_room_says_so(tmp_path):
    """59 degC in a room of 22 degC is 67 degC in one of 30 degC; the limit is 65 degC."""
    told = lines(three().every_check("B", wall_c=59).worked(tmp_path / "hot"))
    assert told[0] == f"Pick flat braid 2. {HOT} All three candles passed every safety check."
    assert told[-1] == DOWN
    assert told[-2].startswith("Next: To confirm, ")
    told = lines(three().every_check("B", wall_c=57).worked(tmp_path / "cool"))
    assert not [line for line in told if "warm room" in line]


@pytest.mark.slow
def test_a_runner_up_and_wicks_that_are_level_say_so_too(tmp_path):
    log = three().add("D", "flat braid 3").every_check("D", wall_c=59)
    told = lines(log.worked(tmp_path / "second"))
    assert f"Runner-up: flat braid 3. The one candle passed every safety check. {HOT}" in told
    assert DOWN not in told
    log = Log(A="flat braid 2", B="flat braid 3").every_check("A", wall_c=59)
    told = lines(log.worked(tmp_path / "level"))
    assert f"flat braid 2: The one candle passed every safety check. {HOT}" in told
    assert DOWN in told


@pytest.mark.slow
def test_a_candle_set_aside_and_the_strictest_limit_count_for_the_wall(tmp_path):
    told = lines(three().every_check("B", wall_c=59).aside("B").worked(tmp_path / "aside"))
    assert HOT in " ".join(told)
    stricter = three(names="DEF")
    stricter.toml += "wall_stop_c = 62\n"
    two = {
        "a": three().every_check("B", wall_c=55).worked(tmp_path / "a"),
        "b": stricter.worked(tmp_path / "b"),
    }
    assert "your stop limit is 62 °C (144 °F)" in " ".join(
        line for decision in together(two).decisions for line in decision.lines
    )


@pytest.mark.slow
def test_what_is_safe_and_behind_says_why(tmp_path):
    wicks = ["flat braid 1", "flat braid 2", "flat braid 3", "square braid 1"]
    log = Log(**dict(zip("ABCDEFGH", sorted(2 * wicks), strict=True)))
    log.check("C", 1, 60, wall_c=55).check("E", 1, 60, wall_c=55).check("F", 1, 60, wall_c=55)
    log.check("G", 1, 60, wall_c=55).settings("[targets]\nwall_max_c = {high = 50}\n")
    told = [line for line in lines(log.worked(tmp_path)) if line.startswith("Also")]
    assert told == [
        "Also safe so far: square braid 1. Off target: highest wall temperature 55 °C, target at "
        "most 50 °C (1 of 2 candles).",
        "Also safe so far: flat braid 3. Off target: highest wall temperature up to 55 °C, target "
        "at most 50 °C (2 of 2 candles).",
    ]


def test_a_confirmation_by_itself_does_not_know_what_failed_in_its_screening():
    say = (
        "Next: Compare paper-cored 4 with the screening as well: if it failed there, it is out, "
        "even if it burned well here."
    )
    screening, confirmation = (WorkedBatch(read(DEMO / n)) for n in ("screening", "confirmation"))
    assert say in lines(confirmation)
    (runner_up,) = (line for line in lines(confirmation) if line.startswith("Runner-up: "))
    assert runner_up.endswith(" It is out if it failed in the screening.")
    both = together({"screening": screening, "confirmation": confirmation})
    assert "as well" not in " ".join(line for d in both.decisions for line in d.lines)

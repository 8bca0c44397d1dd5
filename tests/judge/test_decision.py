"""The decision of each vessel, word for word: incidents, pick, reasons, next steps, how sure."""

import pytest
from batches import read
from judged import FEW, Log, in_two_vessels, lines, three
from places import DEMO

from candlelab.judge.decision import fate_lines, gaps_in_words
from candlelab.judge.worked import WorkedBatch

NO_CERTIFICATE = "This is screening evidence, not a certificate."
# 1 - 0.05^(1/n), Clopper and Pearson 1934: 95, 78, 63, 53, 39 and 9.8 % for 1, 2, 3, 4, 6 and 29.
ONE = "One good candle is not proof: as many as 9 in 10 like it could still fail a safety check. "
TWO = "Two good candles are not proof: as many as 8 in 10 like them could still fail a "
TWO += "safety check. "
THREE = TWO.replace("Two", "Three").replace("8 in", "6 in")
ONE, TWO, THREE = ONE + NO_CERTIFICATE, TWO + NO_CERTIFICATE, THREE + NO_CERTIFICATE
HOW = (
    "Next: To confirm, burn them to the end with every check, and log them in a new folder. Then "
    "run “candlelab confirm screening-folder new-folder” in the terminal, with the names of your "
    "two folders."
)
TARGETS = "[targets]\nwall_max_c = {high = 50}\nlife_h = {low = 10}\n"


# ---------------------------------------------------------------- the pick


@pytest.mark.slow
def test_the_pick_stands_first(tmp_path):
    worked = three().settings(TARGETS).worked(tmp_path)
    assert lines(worked) == (
        "Pick flat braid 2. All three candles passed every safety check. "
        "They were on target for everything you asked for.",
        THREE,
        f"Next: Confirm flat braid 2 on {FEW}",
        HOW,
    )
    assert worked.decisions[0].pick == "flat braid 2"


def test_targets_that_were_missed_are_named(tmp_path):
    log = three().check("B", 2, 60, wall_c=55).settings(TARGETS)
    log.toml += "full_pool_h = {high = 2}\n"
    assert lines(log.worked(tmp_path), 1) == (
        "Pick flat braid 2. All three candles passed every safety check. "
        "Off target: highest wall temperature 55 °C, target at most 50 °C (1 of 3 candles); "
        "time to full pool up to 3 h, target at most 2 h (3 of 3 candles).",
    )


def test_the_target_of_one_candle_needs_no_count(tmp_path):
    log = Log(A="flat braid 2").settings("[targets]\nlife_h = {low = 30}\n")
    assert lines(log.worked(tmp_path)) == (
        "Pick flat braid 2. The one candle passed every safety check. Off target: "
        "life 20 h, target at least 30 h.",
        ONE,
        f"Next: Confirm flat braid 2 on {FEW}",
        HOW,
    )


@pytest.mark.slow
def test_the_runner_up_and_what_else_is_safe(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 2", C="flat braid 2", D="square braid 1",
              E="square braid 2", F="square braid 2", G="square braid 2")  # fmt: skip
    assert lines(log.worked(tmp_path), 5) == (
        "Pick square braid 2. All three candles passed every safety check.",
        "Not the others: flat braid 2 (only two good candles); flat braid 1 and square braid 1 "
        "(only one good candle).",
        THREE,
        "Runner-up: flat braid 2. Both candles passed every safety check.",
        "Also safe so far: flat braid 1 and square braid 1. Fewer candles passed: only one.",
    )


@pytest.mark.slow
def test_evidence_comes_before_targets(tmp_path):
    """One forgotten check of one of three candles does not put a wick below one tried once."""
    log = three().add("D", "flat braid 3").missed("B", 2, 120).settings(TARGETS)
    log.check("A", 1, 60, wall_c=55).check("C", 1, 60, wall_c=55)
    assert lines(log.worked(tmp_path), 4) == (
        "Pick flat braid 2. Two of three candles passed every safety check. B is not fully "
        "checked: no check from minute 60 to 180 of burn 2. "
        "Off target: highest wall temperature up to 55 °C, target at most 50 °C (2 of 3 candles).",
        "Not the others: flat braid 3 (only one good candle).",
        TWO,
        "Runner-up: flat braid 3. The one candle passed every safety check. "
        "It was on target for everything you asked for.",
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("n", "words"),
    [
        (
            2,
            "Two good candles are not proof: as many as 8 in 10 like them could "
            "still fail a safety check.",
        ),
        (
            4,
            "Four good candles are not proof: as many as 5 in 10 like them could "
            "still fail a safety check.",
        ),
        (
            6,
            "Six good candles are not proof: as many as 4 in 10 like them could "
            "still fail a safety check.",
        ),
    ],
)
def test_how_sure(tmp_path, n, words):
    assert lines(three(names="ABCDEF"[:n]).worked(tmp_path))[1] == f"{words} {NO_CERTIFICATE}"


def test_the_most_candles_with_failures_come_last(tmp_path):
    log = Log(A="flat braid 1", B="flat braid 1", C="flat braid 2", D="flat braid 2")
    for name in "ACD":
        log.check(name, 1, 60, pool_depth_mm=14)
    assert lines(log.worked(tmp_path), 4) == (
        "No wick can be picked: every one tested was ruled out.",
        NO_CERTIFICATE,
        "Ruled out: flat braid 1. Its melt pool was too deep (14 mm, your limit is 13 mm): "
        "A, burn 1, 1 h after lighting.",
        "Ruled out: flat braid 2. Its melt pool was too deep (14 mm, your limit is 13 mm): "
        "C, burn 1, 1 h after lighting; also D.",
    )


# ---------------------------------------------------------------- level, or no pick


@pytest.mark.slow
def test_two_that_are_level(tmp_path):
    log = three().add("D", "flat braid 3").add("E", "flat braid 3").add("F", "flat braid 3")
    worked = log.worked(tmp_path)
    assert worked.decisions[0].pick == ""
    assert lines(worked) == (
        "No single pick: flat braid 2 and flat braid 3 are level. "
        "Fresh candles of each have to tell.",
        THREE,
        "flat braid 2: All three candles passed every safety check.",
        "flat braid 3: All three candles passed every safety check.",
        "Next: Confirm flat braid 2 on at least three fresh candles.",
        "Next: Confirm flat braid 3 on at least three fresh candles.",
        HOW,
    )


def test_two_that_are_level_while_candles_burn(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 3", C="flat braid 3").until("C", 4)
    assert lines(log.worked(tmp_path), 1) == (
        "No single pick yet: flat braid 2 and flat braid 3 are level, and C is still burning.",
    )


@pytest.mark.slow
def test_a_pick_while_candles_burn_is_one_so_far(tmp_path):
    log = three().add("D", "flat braid 3").until("C", 3).until("D", 3)
    worked = log.worked(tmp_path)
    assert worked.decisions[0].pick == "flat braid 2"
    assert lines(worked, 4) == (
        "So far flat braid 2 leads. Two of three candles passed every safety check. "
        "C is still burning.",
        "Not the others: flat braid 3 (still burning).",
        TWO,
        "Still burning: flat braid 3. D has burned without a failure so far.",
    )
    assert [line for line in lines(worked) if line.startswith("Next")] == [
        "Next: Keep burning D (flat braid 3, about 2 more burns). At "
        "this pace the last burn is on 5 June 2026. "
        "Miss no check: late burns run hottest.",
        "Next: Keep burning C (about 2 more burns). At this pace the last burn is on 5 June 2026. "
        "Miss no check: late burns run hottest. Then confirm flat braid 2 on "
        f"{FEW}",
        HOW,
    ]


def test_nothing_passed_and_nothing_burns(tmp_path):
    worked = three().missed("A", 1, 60).aside("B").aside("C").worked(tmp_path)
    assert lines(worked) == (
        "No wick can be picked yet: no candle has passed every safety check.",
        NO_CERTIFICATE,
        "Not fully checked: flat braid 2. A is not fully checked: "
        "no check in the first 2 h of burn 1.",
        "You set aside B (draft) and C (draft). None of them failed. They count neither as a pass "
        "nor a failure.",
        "Next: Burn three fresh candles of flat braid 2 to the end, with every check.",
    )


def test_the_only_one_was_ruled_out(tmp_path):
    worked = Log(A="flat braid 2").until("A", 2, ended_by="self").worked(tmp_path)
    assert lines(worked) == (
        "No wick can be picked: the only one tested was ruled out.",
        NO_CERTIFICATE,
        "Ruled out: flat braid 2. It went out by itself with 61 % of its wax left: "
        "A, burn 2, 4 h after lighting.",
        "Next: Pour three candles of flat braid 3, one size up: size 2 went out too early.",
    )


def test_every_candle_was_set_aside(tmp_path):
    worked = three().aside("A").aside("B").aside("C").worked(tmp_path)
    assert lines(worked, 3) == (
        "No wick can be picked yet: no candle has passed every safety check.",
        NO_CERTIFICATE,
        "Not fully checked: flat braid 2. Every candle of it was set aside.",
    )


def test_what_was_poured_and_not_lit_is_named(tmp_path):
    worked = three().poured("X", "flat braid 3").poured("Y", "flat braid 3").worked(tmp_path)
    assert "Next: Light what is not burned yet: X and Y." in lines(worked)


def test_what_was_poured_and_is_the_next_step_is_named_once(tmp_path):
    log = three("flat braid 3").check("A", 1, 60, pool_depth_mm=14).poured("X", "flat braid 2")
    assert [line for line in lines(log.worked(tmp_path)) if "X" in line] == [
        "Next: Light X (flat braid 2), one size down, poured and not lit yet."
    ]


# ---------------------------------------------------------------- incidents above everything


def test_a_crack_stands_above_everything_with_candle_burn_time_and_note(tmp_path):
    log = (
        three()
        .add("D", "flat braid 3")
        .check("D", 4, 180, vessel_damaged="yes", note="hairline from the rim down")
    )
    assert lines(log.worked(tmp_path)) == (
        "Stop burning D (flat braid 3). Its vessel cracked or broke in burn 4, 3 h after "
        "lighting. Note: “hairline from the rim down”.",
        "Pick flat braid 2. All three candles passed every safety check.",
        "Not the others: flat braid 3 (ruled out: vessel cracked or broke).",
        THREE,
        "Ruled out: flat braid 3, as told above.",
        "Next: Stop testing flat braid 3 in the jar until you know what went wrong.",
        f"Next: Confirm flat braid 2 on {FEW}",
        HOW,
    )


def test_an_incident_in_a_candle_set_aside(tmp_path):
    log = three().check("B", 2, 120, vessel_damaged="yes").aside("B", reason="vessel had a flaw")
    assert lines(log.worked(tmp_path)) == (
        "Stop burning B (flat braid 2). Its vessel cracked or broke in burn 2, 2 h after "
        "lighting. You set it aside (vessel had a flaw). That does not undo a safety failure.",
        "No wick can be picked: the only one tested was ruled out.",
        NO_CERTIFICATE,
        "Ruled out: flat braid 2, as told above.",
        "Next: Stop testing flat braid 2 in the jar until you know what went wrong.",
    )


def test_each_kind_of_incident_of_a_candle_is_told_and_how_often(tmp_path):
    log = three().check("A", 2, soot=3).check("A", 3, 60, soot=3, wall_c=70, note="hot to touch")
    assert lines(log.worked(tmp_path), 1) == (
        "Stop burning A (flat braid 2). It gave off steady black smoke in burn 2, 1 h after "
        "lighting, and at 4 more checks. Note: “hot to touch”. "
        "Its wall got too hot (70 °C, your limit is 65 °C/149 °F) in burn 3, 1 h after lighting. "
        "Note: “hot to touch”.",
    )


def test_an_incident_hides_no_other_failure_of_its_wick(tmp_path):
    log = three().check("A", 2, 60, tipped="yes").check("B", 3, 240, pool_depth_mm=14)
    assert "Ruled out: flat braid 2, as told above. Its melt pool was too deep " \
           "(14 mm, your limit is 13 mm): B, burn 3, 4 h after lighting." in lines(
               log.worked(tmp_path))  # fmt: skip


def test_a_long_note_is_cut_and_a_control_code_is_shown(tmp_path):
    log = three().check("A", 2, 60, tipped="yes", note="fell \x1b[31m" + "over " * 60)
    line = lines(log.worked(tmp_path))[0]
    assert "“fell \\x1b[31mover over" in line
    assert line.endswith("…”.")
    assert len(line) < 300


@pytest.mark.slow
def test_many_incidents_name_every_candle(tmp_path):
    names = [f"C{n:02d}" for n in range(1, 16)]
    log = Log(**dict.fromkeys(names, "flat braid 2"))
    for name in names:
        log.check(name, 1, 60, tipped="yes")
    found = lines(log.worked(tmp_path))
    assert [line.split()[2] for line in found[:12]] == names[:12]
    assert found[12] == "Stop burning C13, C14 and C15 for the same kind of reason."


# ---------------------------------------------------------------- vessels apart


@pytest.mark.slow
def test_each_vessel_has_its_own_decision(tmp_path):
    log = in_two_vessels().check("J1", 2, 60, tipped="yes").until("T2", 2, ended_by="self")
    jar, tin = log.worked(tmp_path).decisions
    assert (jar.vessel, jar.pick) == ("jar", "flat braid 3, jar")
    assert jar.lines == (
        "Stop burning J1 (“flat braid 2, jar”). It tipped over in burn 2, 1 h after lighting.",
        "Pick “flat braid 3, jar”. The one candle passed every safety check.",
        "Not the others: “flat braid 2, jar” (ruled out: tipped over).",
        ONE,
        "Ruled out: “flat braid 2, jar”, as told above.",
        "Next: Stop testing “flat braid 2, jar” until you know what went wrong.",
        f"Next: Confirm “flat braid 3, jar” on {FEW}",
        HOW,
    )
    assert (tin.vessel, tin.pick) == ("tin", "flat braid 2, tin")
    assert tin.incidents == ()


@pytest.mark.slow
def test_what_burns_on_and_what_is_unlit_stay_in_their_vessel(tmp_path):
    log = in_two_vessels().until("J1", 2).poured("X", "flat braid 1", vessel="tin")
    jar, tin = log.worked(tmp_path).decisions
    assert [line for line in jar.lines if "J1" in line]
    assert not [line for line in tin.lines if "J1" in line]
    assert "Light what is not burned yet: X." in tin.next_steps
    assert not [line for line in jar.lines if "X" in line]


# ---------------------------------------------------------------- the demo, and other pages


def test_the_box_of_the_screening_demo():
    found = lines(WorkedBatch(read(DEMO / "screening")))
    assert "Pick square braid 2. All three candles passed every safety check. " \
           "They were on target for everything you asked for." in found  # fmt: skip
    ruled_out = {line.split(". ")[0].split(", as")[0] for line in found if "Ruled out" in line}
    assert ruled_out == {
        "Ruled out: flat braid 3", "Ruled out: square braid 3", "Ruled out: paper-cored 4",
        "Ruled out: paper-cored 5",
    }  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", ["screening", "confirmation", "waxes", "loads"])
def test_every_candidate_is_named_in_the_decision(name):
    worked = WorkedBatch(read(DEMO / name))
    (decision,) = worked.decisions
    for candidate in worked.fates["candidate"]:
        assert any(candidate in line for line in (decision.headline, *decision.reasons))


@pytest.mark.slow
def test_other_pages_say_the_same_of_a_candidate(tmp_path):
    log = three().missed("A", 1, 60).add("D", "flat braid 3").check("D", 1, 60, pool_depth_mm=14)
    worked = log.worked(tmp_path)
    assert fate_lines(worked, ["flat braid 3"]) == [
        "flat braid 3: ruled out. Its melt pool was too deep (14 mm, your limit is 13 mm): "
        "D, burn 1, 1 h after lighting. Use flat braid 2 instead: it is safe so far."
    ]
    assert gaps_in_words(worked, ["flat braid 2"]) == [
        "A is not fully checked: no check in the first 2 h of burn 1."
    ]
    assert gaps_in_words(worked, ["flat braid 3"]) == []

"""Cases of real logs: what was logged, what is decided, the words of the first box, of `check`.

Each case belongs to a point: a failure that is set aside, an incident, a burn after one, a
standard named, readings that cannot be so, gaps, short burns, evidence, blank cells, running
batches, weights, notes, one voice, the pick first, vessels apart. Limits:
EN 15493 and ASTM F2417, read second-hand; those of the studio: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from judged import TWO_VESSELS, Log

A, BC = "flat braid 2", "flat braid 3"
SAFE, OUT, OPEN, LIT = "safe so far", "ruled out", "not fully checked", "still burning"
STOP = "Stop burning A (flat braid 2). "
TARGETS = "[targets]\nlife_h = {low = 18}\n"


@dataclass(frozen=True)
class Case:
    """One log: point, name, builder; fate of A's wick, what the box says, what `check` is about."""

    point: int
    name: str
    log: Callable[[], Log]
    fate: str
    says: str
    check: str = ""


def log(**more) -> Log:
    """A on one wick; B and C on another, which both pass."""
    return Log(A=A, B=BC, C=BC, **more)


def whole_aside(made: Log) -> Log:
    for burn in range(1, 6):
        made.aside("A", burn, reason="a test run")
    return made


def limits(text: str) -> Log:
    made = log()
    made.toml = made.toml.replace("[limits]", f"[limits]\n{text}")
    return made


def two_vessels() -> Log:
    made = Log(A=A).add("T", BC, vessel="tin").every_check("T", pool_diameter_mm=50)
    made.toml = TWO_VESSELS
    return made


CASES = (
    # 1: setting aside changes averages only
    Case(
        1,
        "a candle that tipped was set aside",
        lambda: log().check("A", 5, 180, tipped="yes").aside("A", reason="bumped"),
        OUT,
        STOP + "It tipped over in burn 5, 3 h after lighting. You set it aside (bumped). "
        "That does not undo a safety failure.",
        "failure set aside",
    ),
    Case(
        1,
        "the burn with the hot wall was set aside",
        lambda: log().check("A", 5, 240, wall_c=71).aside("A", 5, "a hot day"),
        OUT,
        STOP + "Its wall got too hot (71 °C, your limit is 65 °C/149 °F)",
        "failure set aside",
    ),
    Case(
        1,
        "a deep pool in a candle set aside",
        lambda: log().check("A", 2, 240, pool_depth_mm=16).aside("A", reason="poured too hot"),
        OUT,
        "You set aside A (poured too hot). That does not undo a safety failure.",
        "failure set aside",
    ),
    Case(
        1,
        "every burn set aside, one of them scorched the table",
        lambda: whole_aside(log().check("A", 5, 60, surface_damaged="yes")),
        OUT,
        STOP + "It damaged the surface under it",
        "every burn set aside",
    ),
    # 2: incidents come first, and no wick advice walks past them
    Case(
        2,
        "it lit again by itself",
        lambda: log().check("A", 5, 240, reignited="yes"),
        OUT,
        STOP + "It lit again by itself after it was put out in burn 5, 4 h after lighting.",
    ),
    Case(
        2,
        "the mushroom fell and burned",
        lambda: log().check("A", 5, 120, secondary_ignition_s=14, note="mushroom in the pool"),
        OUT,
        STOP + "Something other than the wick burned for 14 s in burn 5, 2 h after lighting. "
        "Note: “mushroom in the pool”.",
    ),
    Case(
        2,
        "soot to the ceiling",
        lambda: log().check("A", 5, 60, soot=3),
        OUT,
        "Next: Stop testing flat braid 2 in the jar until you know what went wrong: it "
        "looks too large.",
    ),
    Case(
        2,
        "the flame licked the glass",
        lambda: log().check("A", 5, 180, flame_on_vessel="yes"),
        OUT,
        STOP + "Its flame touched the vessel in burn 5, 3 h after lighting.",
    ),
    # 3: lit again
    Case(
        3,
        "lit again after a crack",
        lambda: log().check("A", 2, 120, vessel_damaged="yes"),
        OUT,
        STOP + "Its vessel cracked or broke in burn 2",
        "candle lit again after a failure",
    ),
    Case(
        3,
        "lit again after the wall",
        lambda: log().check("A", 3, 240, wall_c=66),
        OUT,
        STOP + "Its wall got too hot (66 °C",
        "candle lit again after a failure",
    ),
    Case(
        3,
        "a wall of 130 °C, and lit again",
        lambda: log().check("A", 2, 60, wall_c=130),
        OUT,
        STOP + "Its wall got too hot (130 °C",
        "candle lit again after a failure",
    ),
    Case(
        3,
        "ended where it failed",
        lambda: (
            log()
            .check("A", 3, 120, tipped="yes")
            .until("A", 3, 122, ended_by="stopped")
            .missed("A", 3, 180, 240)
        ),
        OUT,
        STOP + "It tipped over in burn 3",
    ),
    # 4: the standard
    Case(
        4,
        "75.6 mm, and no standard is named",
        lambda: log().check("A", 5, 60, flame_height_mm=75.6),
        OUT,
        "Its flame was too tall (75.6 mm, the EN 15493 limit is 75 mm)",
    ),
    Case(
        4,
        "75.6 mm, and ASTM F2417 is named",
        lambda: log().settings('standard = "ASTM F2417"\n').check("A", 5, 60, flame_height_mm=75.6),
        SAFE,
        "",
    ),
    Case(
        4,
        "76.4 mm, and ASTM F2417 is named",
        lambda: log().settings('standard = "ASTM F2417"\n').check("A", 5, 60, flame_height_mm=76.4),
        OUT,
        "Its flame was too tall (76.4 mm, the ASTM F2417 limit is 76.2 mm)",
    ),
    # 8: what cannot be what it says
    Case(
        8,
        "a flame of 8.5 among flames of 30",
        lambda: log().check("A", 2, 180, flame_height_mm=8.5),
        OPEN,
        "A is not fully checked: flame height of burn 2 at minute 180 cannot be what it says",
        "reading in another unit",
    ),
    Case(
        8,
        "a pool of 1.7 after one of 8",
        lambda: log().check("A", 4, 240, pool_depth_mm=1.7),
        OPEN,
        "pool depth of burn 4 at minute 240 cannot be what it says",
        "reading in another unit",
    ),
    Case(
        8,
        "something burned for 0.4 s",
        lambda: log().check("A", 4, 60, secondary_ignition_s=0.4),
        OPEN,
        "secondary ignition of burn 4 at minute 60 cannot be",
        "reading in another unit",
    ),
    Case(
        8,
        "one candle in inches",
        lambda: log().every_check("A", flame_height_mm=1.2).check("A", 1, 60, flame_height_mm=3.1),
        OPEN,
        "flame height of burn 1 at minute 60 cannot",
        "candle in another unit",
    ),
    Case(
        8,
        "the probe lay on the table",
        lambda: log().check("A", 3, wall_c=22),
        OPEN,
        "wall temperature of burn 3 at minute 60 and of 3 more checks cannot be what it says",
        "wall as cold as the room",
    ),
    Case(
        8,
        "a wall of 18 °C in a room of 22",
        lambda: log().check("A", 3, 120, wall_c=18),
        OPEN,
        "wall temperature of burn 3 at minute 120 cannot be",
        "wall colder than the room",
    ),
    Case(
        8,
        "no flame, and it burned on",
        lambda: log().check("A", 3, 120, flame_height_mm=0),
        OPEN,
        "flame height of burn 3 at minute 120 cannot be what it says",
        "no flame while it burned",
    ),
    Case(
        8,
        "71 mm of flame at 32 °C of wall",
        lambda: log().check("A", 3, 120, flame_height_mm=71, wall_c=32),
        OPEN,
        "wall temperature of burn 3 at minute 120 cannot be",
        "flame and wall swapped",
    ),
    Case(
        8,
        "a burn whose checks are in hours",
        lambda: hours(log()),
        OPEN,
        "A is not fully checked: no check from minute 4 to 240 of burn 2",
        "checks in another unit",
    ),
    Case(
        8,
        "a burn's wax went between two burns",
        lambda: log().burn("A", 4, mass_before_g=322.4, used=10).burn("A", 5, used=9.4),
        OPEN,
        "19.4 g of wax went before burn 4, as much as in a burn that is not in the log",
        "weight lost between burns",
    ),
    Case(
        8,
        "a new wick that is the old one",
        lambda: log().wick("A", 4, A),
        OPEN,
        "A is not fully checked: its wick was changed after burn 3",
        "wick changed to the same one",
    ),
    Case(
        8,
        "the note says that it broke",
        lambda: log().burn("A", 5, note="glass broke when cool"),
        SAFE,
        "",
        "note of an incident",
    ),
    Case(
        8,
        "stopped after 70 minutes, looked at once",
        lambda: log().until("A", 3, 70, ended_by="stopped").missed("A", 3),
        OPEN,
        "no check in burn 3 (1 h 10 min), which was stopped without a reading",
        "check missed",
    ),
    Case(
        8,
        "a stop limit of 80 °C",
        lambda: limits("wall_stop_c = 80"),
        SAFE,
        "",
        "stop limit too hot",
    ),
    Case(
        8,
        "the caution comes after the stop",
        lambda: limits("wall_stop_c = 60\nwall_caution_c = 64"),
        SAFE,
        "",
        "caution above stop",
    ),
    # 9: every gap is named, and nothing else is said to be whole
    Case(
        9,
        "one check was forgotten",
        lambda: log().missed("A", 4, 120),
        OPEN,
        "Not fully checked: flat braid 2. A is not fully checked: no check from minute 60 to 180 "
        "of burn 4.",
        "check missed",
    ),
    Case(
        9,
        "nobody timed the smoke",
        lambda: log().burn("A", 2, aftersmoke_s=""),
        OPEN,
        "A is not fully checked: aftersmoke not written down in burn 2.",
    ),
    Case(
        9,
        "nothing is missing",
        log,
        SAFE,
        "Runner-up: flat braid 2. The one candle passed every safety check.",
    ),
    # 10: what was due
    Case(
        10,
        "a last burn of 11 minutes",
        lambda: log().short("A"),
        SAFE,
        "Runner-up: flat braid 2. The one candle passed every safety check.",
    ),
    Case(
        10,
        "a last burn of 25 minutes",
        lambda: log().short("A", 25),
        SAFE,
        "Runner-up: flat braid 2. The one candle passed every safety check.",
    ),
    Case(
        10,
        "a last burn of 80 minutes",
        lambda: log().short("A", 80),
        OPEN,
        "no check in burn 6 (1 h 20 min)",
        "check missed",
    ),
    # 11: evidence before order
    Case(
        11,
        "a gap in one of three",
        lambda: Log(A=A, A2=A, A3=A, B=BC).missed("A3", 2, 120),
        SAFE,
        "Pick flat braid 2. Two of three candles passed every safety check. A3 is not fully",
        "check missed",
    ),
    Case(
        11,
        "what would settle it",
        lambda: Log(A=A, A2=A, B=BC).missed("A2", 2, 120),
        SAFE,
        "on at least four fresh candles: one in place of ",
        "check missed",
    ),
    # 12: blank cells
    Case(
        12,
        "nobody wrote whether it tipped",
        lambda: log().every_check("A", tipped=""),
        OPEN,
        "A is not fully checked: tipped not written down in burn 1 at minute 60 and at 19 more",
        "not written down",
    ),
    Case(
        12,
        "soot left blank once",
        lambda: log().check("A", 3, 60, soot=""),
        OPEN,
        "soot not written down in burn 3 at minute 60",
        "not written down",
    ),
    Case(
        12,
        "drowned with most of its wax",
        lambda: log().until("A", 1, ended_by="self"),
        OUT,
        "It went out by itself with 81 % of its wax left: A, burn 1",
    ),
    # 13: a running batch
    Case(
        13,
        "two burns are left",
        lambda: log().until("A", 3).settings(TARGETS),
        LIT,
        "Still burning: flat braid 2. A has burned without a failure so far.",
    ),
    Case(
        13,
        "what to do tomorrow",
        lambda: log().until("A", 4),
        LIT,
        "Next: Keep burning A (flat braid 2, about 1 more burn).",
    ),
    # 14: weights
    Case(
        14,
        "a weight was not taken",
        lambda: (
            log().burn("A", 2, mass_after_g="not taken").burn("A", 3, mass_before_g="not taken")
        ),
        SAFE,
        "",
        "weight not taken",
    ),
    Case(
        14,
        "the last weight was not taken",
        lambda: log().burn("A", 5, mass_after_g="not weighed"),
        OPEN,
        "it went out by itself in burn 5 with an unknown share of its wax left",
        "weight not taken",
    ),
    Case(
        14,
        "weighed with its lid",
        lambda: (
            log()
            .burn("A", 3, mass_before_g=399, mass_after_g=379.6, note="with lid")
            .burn("A", 4, mass_before_g=341.8)
        ),
        SAFE,
        "",
    ),
    Case(
        14,
        "wax was scooped out",
        lambda: log().burn("A", 4, mass_before_g=330, note="scooped out").burn("A", 5, used=10),
        SAFE,
        "",
    ),
    Case(
        14,
        "a burn that nobody logged",
        lambda: (
            log()
            .burn("A", 4, mass_before_g=336, note="one evening not logged")
            .burn("A", 5, used=14)
        ),
        OPEN,
        "5.8 g of wax went before burn 4",
    ),
    # 15: notes stand where they belong
    Case(
        15,
        "the note of the check",
        lambda: log().check("A", 5, 60, soot=3, note="black to the lid"),
        OUT,
        "Note: “black to the lid”.",
    ),
    Case(
        15,
        "the note of the burn",
        lambda: log().check("A", 5, 60, tipped="yes").burn("A", 5, note="cat on the bench"),
        OUT,
        "Note: “cat on the bench”.",
    ),
    # 16: one voice
    Case(
        16,
        "the other wick instead",
        lambda: log().until("A", 3, ended_by="self"),
        OUT,
        "Pick flat braid 3. Both candles passed every safety check.",
    ),
    Case(
        16,
        "nothing safe in between",
        lambda: Log(A=A, B=BC).until("A", 3, ended_by="self").check("B", 3, 180, pool_depth_mm=15),
        OUT,
        "Try another series: the right size lies between flat braid 2 and flat braid 3",
    ),
    # 17: the pick comes first
    Case(
        17,
        "a pick",
        lambda: log().check("A", 5, 240, pool_depth_mm=14),
        OUT,
        "Pick flat braid 3. Both candles passed every safety check.",
    ),
    Case(
        17,
        "no pick",
        lambda: Log(A=A, B=BC).check("A", 5, 60, soot=3).check("B", 5, 60, soot=3),
        OUT,
        "No wick can be picked: every one tested was ruled out.",
    ),
    Case(
        17,
        "no pick yet",
        lambda: Log(A=A).missed("A", 1, 60),
        OPEN,
        "No wick can be picked yet: no candle has passed every safety check.",
        "check missed",
    ),
    # 18: vessels apart
    Case(
        18,
        "two vessels are two decisions",
        two_vessels,
        SAFE,
        "Pick “flat braid 3, tin”, on the small side. The one candle passed every safety check.",
    ),
    Case(
        18,
        "a failure in the tin says nothing of the jar",
        lambda: two_vessels().check("T", 5, 60, tipped="yes"),
        SAFE,
        "Stop burning T (“flat braid 3, tin”). It tipped over in burn 5",
    ),
)


def hours(made: Log) -> Log:
    """The checks of A's second burn, logged in hours."""
    for row in made.checks:
        if (row["candle"], row["burn"]) == ("A", 2):
            row["elapsed_min"] /= 60
    return made

"""Readings that make more sense in another unit, and what they cost.

The bounds are common practice, no source; the factors are those of NIST SP 811.
"""

import pytest
from judged import Log, fates

from candlelab.judge.fates import SAFE, UNCHECKED
from candlelab.logs.batch import check_batch
from candlelab.logs.problems import LOOK, MUST_FIX, BurnLogError
from tests.batches import write


def log():
    """Two wicks, of which A is the only candle on the first."""
    return Log(A="flat braid 2", B="flat braid 3", C="flat braid 3")


def told(made, problem):
    """Level and column of each problem of that name, and what to do about the first."""
    found = made.batch.problems
    rows = found[found["problem"] == problem]
    return list(zip(rows["level"], rows["column"], strict=True)), "".join(rows["what_to_do"][:1])


ONE = {
    "8 cm": ("flame_height_mm", 8, "reading in another unit", "If it was 8 cm, write 80 mm."),
    "3.2 inches": ("flame_height_mm", 3.2, "reading in another unit", "If it was 3.2 in, write 81"),
    "a pool of 1.6 cm": ("pool_depth_mm", 1.6, "reading in another unit", "If it was 1.6 cm"),
    "half a minute": ("secondary_ignition_s", 0.5, "reading in another unit", "write 30 s."),
    "hours": ("secondary_ignition_s", 0.01, "reading in another unit", "write 36 s."),
    "no flame": ("flame_height_mm", 0, "no flame while it burned", "Leave the cell empty"),
    "a cold wall": ("wall_c", 20, "wall colder than the room", "Check the two temperatures"),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", ONE)
def test_one_reading_that_would_fail_otherwise_is_asked_about_and_no_pass(case):
    column, value, problem, do = ONE[case]
    made = log().check("A", 3, 180, **{column: value}).worked()
    (place,), advice = told(made, problem)
    assert place in [(LOOK, column), (LOOK, "")]
    assert do in advice
    assert fates(made) == {"flat braid 2": UNCHECKED, "flat braid 3": SAFE}
    (why,) = made.gaps["why"]
    assert why.endswith("of burn 3 at minute 180 cannot be what it says")


@pytest.mark.slow
@pytest.mark.parametrize("case", ONE)
def test_a_note_that_it_is_right_settles_it(case):
    column, value, problem, _ = ONE[case]
    made = log().check("A", 3, 180, note="It IS RIGHT, seen twice", **{column: value}).worked()
    assert not told(made, problem)[0]
    assert set(fates(made).values()) == {SAFE}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("column", "value"),
    [("flame_height_mm", 12), ("pool_depth_mm", 4), ("wall_c", 40), ("secondary_ignition_s", 2)],
)
def test_a_low_reading_that_is_no_slip_is_left_alone(column, value):
    made = log().check("A", 3, 180, **{column: value}).worked()
    assert made.batch.problems.empty
    assert set(fates(made).values()) == {SAFE}


def fahrenheit(made, column="wall_c"):
    """The log with walls in °F, but for those given in °C."""
    for row in made.checks:
        row[column] = round(row[column] * 1.8 + 32, 1)
    return made


def in_units(folder, made, **headings):
    """Problems of a log whose columns have other headings."""
    path = write(folder, made.candles, made.burns, made.checks, toml=made.toml)
    text = (path / "checks.csv").read_text("utf-8")
    for old, new in headings.items():
        text = text.replace(old, new, 1)
    (path / "checks.csv").write_text(text, "utf-8")
    return check_batch(path)


def of(problems, problem):
    rows = problems[problems["problem"] == problem]
    return list(rows[["level", "candle", "column"]].itertuples(index=False, name=None))


@pytest.mark.parametrize(("minute", "value"), [(120, 75), (240, 70), (60, 80)])
def test_one_wall_in_celsius_among_fahrenheit(tmp_path, minute, value):
    made = fahrenheit(log())
    made.check("A", 2, minute, wall_c=value)
    problems = in_units(tmp_path, made, wall_c="wall_f")
    assert of(problems, "reading in another unit") == [(LOOK, "A", "wall_f")]
    assert f"If it was {value} °C" in problems["what_to_do"].iat[0]


def test_one_wall_in_fahrenheit_among_celsius_is_a_failure_that_is_asked_about():
    made = log().check("A", 2, 120, wall_c=104).worked()
    assert told(made, "reading too high for its burn")[0] == [(LOOK, "wall_c")]
    assert fates(made)["flat braid 2"] == "ruled out"


WHOLE = {
    "walls in °C under °F": ("wall_c", lambda v: v, {"wall_c": "wall_f"}, "°C", "wall_c"),
    "walls in °F under °C": ("wall_c", lambda v: v * 1.8 + 32, {}, "°F", "wall_f"),
    "flames in cm": ("flame_height_mm", lambda v: v / 10, {}, "cm", "flame_height_cm"),
    "flames in inches": ("flame_height_mm", lambda v: v / 25.4, {}, "in", "flame_height_in"),
    "flames in mm under inches": (
        "flame_height_mm", lambda v: v, {"flame_height_mm": "flame_height_in"}, "mm",
        "flame_height_mm",
    ),
    "pools in inches": ("pool_depth_mm", lambda v: v / 25.4, {}, "in", "pool_depth_in"),
    "widths of pools in cm": (
        "pool_diameter_mm", lambda v: v / 10, {}, "cm", "pool_diameter_cm",
    ),
    "widths of pools in inches": (
        "pool_diameter_mm", lambda v: v / 25.4, {}, "in", "pool_diameter_in",
    ),
    "checks in hours": ("elapsed_min", lambda v: v / 60, {}, "h", "elapsed_h"),
    "checks in minutes under seconds": (
        "elapsed_min", lambda v: v, {"elapsed_min": "elapsed_s"}, "min", "elapsed_min",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", WHOLE)
def test_a_whole_column_of_another_unit_must_be_fixed(tmp_path, case):
    column, change, headings, unit, name = WHOLE[case]
    made = log()
    for row in made.checks:
        row[column] = round(change(row[column]), 3)
    problems = in_units(tmp_path, made, **headings)
    ((level, _, _),) = of(problems, "column in another unit")
    assert level == MUST_FIX
    assert problems["what_to_do"].iat[0].startswith(f"The numbers look like {unit}: name the ")
    assert f"column {name}," in problems["what_to_do"].iat[0]


def test_a_whole_column_that_is_right_after_all():
    made = log()
    for row in made.checks:
        row["flame_height_mm"] = 6
    with pytest.raises(BurnLogError, match="column in another unit"):
        made.worked()
    made.checks[0]["note"] = "a tiny wick: is right"
    assert set(fates(made.worked()).values()) == {SAFE}


@pytest.mark.slow
def test_one_candle_of_another_unit():
    made = log().every_check("A", flame_height_mm=3).check("A", 4, 120, flame_height_mm=7.8)
    made = made.worked()
    assert told(made, "candle in another unit")[0] == [(LOOK, "flame_height_mm")]
    assert made.gaps["why"].tolist() == [
        "flame height of burn 4 at minute 120 cannot be what it says"
    ]
    fine = log().every_check("A", flame_height_mm=3).worked()
    assert told(fine, "candle in another unit")[0] == [(LOOK, "flame_height_mm")]
    assert set(fates(fine).values()) == {SAFE}


def test_checks_of_one_burn_in_hours_are_asked_about():
    made = log()
    for row in made.checks:
        if (row["candle"], row["burn"]) == ("A", 2):
            row["elapsed_min"] /= 60
    made = made.worked()
    assert told(made, "checks in another unit")[0] == [(LOOK, "elapsed_min")]
    assert fates(made)["flat braid 2"] == UNCHECKED


@pytest.mark.slow
@pytest.mark.parametrize(
    ("smoke", "fate"), [((0.6, 0.9, 0.5, 0.8), UNCHECKED), ((1, 2, 1, 1), SAFE)]
)
def test_aftersmoke_of_one_candle_in_minutes(smoke, fate):
    made = log()
    for n, value in enumerate(smoke, start=1):
        made.burn("A", n, aftersmoke_s=value)
    made.burn("A", 5, aftersmoke_s="")
    made = made.worked()
    assert fates(made)["flat braid 2"] == fate
    asked = [(LOOK, "aftersmoke_s")] if fate == UNCHECKED else []
    assert told(made, "candle in another unit")[0] == asked


@pytest.mark.slow
def test_flame_and_wall_in_each_others_column():
    made = log().check("A", 3, 180, flame_height_mm=72, wall_c=31).worked()
    assert told(made, "flame and wall swapped")[0] == [(LOOK, "flame_height_mm")]
    assert fates(made)["flat braid 2"] == UNCHECKED
    made = log()
    for row in made.checks:
        row["flame_height_mm"], row["wall_c"] = 48, 31
    made = made.worked()
    assert len(told(made, "flame and wall swapped")[0]) == 3
    assert set(fates(made).values()) == {SAFE}
    tall = log().check("A", 3, 180, flame_height_mm=72, wall_c=60).worked()
    assert tall.batch.problems.empty


def test_a_wick_change_to_the_wick_that_is_in_it():
    made = log().wick("A", 3, "flat braid 2").wick("B", 2, "flat braid 1").worked()
    assert told(made, "wick changed to the same one")[0] == [(LOOK, "wick_size")]
    twice = log().wick("A", 3, "flat braid 1").wick("A", 4, "flat braid 1").worked()
    assert twice.batch.problems["line"].tolist() == [3]


@pytest.mark.slow
def test_every_burn_set_aside_one_by_one_is_the_candle_set_aside():
    made = log()
    for burn in range(1, 6):
        made.aside("A", burn)
    made = made.worked()
    assert told(made, "every burn set aside")[0] == [(LOOK, "burn")]
    whole = log().aside("A").worked()
    assert whole.batch.problems.empty
    assert [d.lines for d in made.decisions] == [d.lines for d in whole.decisions]
    assert not told(log().aside("A", 1).aside("A", 2).worked(), "every burn set aside")[0]


def test_a_pool_in_the_column_of_the_flame_is_asked_about_and_no_pass():
    """In inches it fits both; a flame does not grow at every check."""
    made = log()
    for name in "ABC":
        for burn in range(1, 6):
            for minute, pool in zip((60, 120, 180, 240), (30, 42, 55, 62), strict=True):
                made.check(name, burn, minute, flame_height_mm=pool, pool_diameter_mm="")
    worked = made.worked()
    assert told(worked, "flames that grow like a pool")[0] == [(LOOK, "flame_height_mm")]
    assert set(fates(worked).values()) == {UNCHECKED}


@pytest.mark.slow
@pytest.mark.parametrize("smoke", [2.167, 1.35])
def test_smoke_in_minutes_tells_by_its_parts_of_a_second(smoke):
    made = log()
    for burn in range(1, 6):
        made.burn("A", burn, aftersmoke_s=smoke)
    worked = made.worked()
    assert told(worked, "candle in another unit")[0]
    assert fates(worked)["flat braid 2"] == UNCHECKED

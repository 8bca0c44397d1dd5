"""Edits of a small log as honest makers make them, each of which could hide a failure.

An edit changes a log in place and says whether it could; ``EDITS`` names them all.
"""

from __future__ import annotations

import numpy as np
from hidden import FLAGS, Log, copied, cut, put_out, random_log

from candlelab.units import convert, split_unit

NUMBERS = (
    "flame_height_mm", "wall_c", "pool_diameter_mm", "pool_depth_mm", "mushroom_mm",
    "secondary_ignition_s",
)  # fmt: skip
REASONS = ("draft", "wick off center", "vessel had a flaw", "poured badly", "a test burn")
LETTERS = str.maketrans({"a": "\u0430", "e": "\u0435", "o": "\u043e", "p": "\u0440"})
EDITS = {}
# Edits that need a second batch, and a first one with candles enough for a claim.
BOTH = set()


def edit(function):
    EDITS[function.__name__.replace("_", " ")] = function
    return function


def both(function):
    BOTH.add(function.__name__.replace("_", " "))
    return edit(function)


def _failing(log: Log) -> list[dict]:
    table = "burns" if log.failure.column in ("aftersmoke_s", "ended_by") else "checks"
    return [row for row in log.of(table, log.failure.candle) if row.get("fails")]


def _reason(rng) -> str:
    return str(rng.choice(REASONS))


# ---------------------------------------------------------------- set aside


@edit
def set_the_candle_aside(log, rng):
    log.exclusions.append({"candle": log.failure.candle, "burn": "", "reason": _reason(rng)})
    return True


@edit
def set_the_burn_aside(log, rng):
    burn = log.failure.burn or 1
    log.exclusions.append({"candle": log.failure.candle, "burn": burn, "reason": _reason(rng)})
    return True


@edit
def set_every_burn_aside(log, rng):
    for burn in {row["burn"] for row in log.of("burns", log.failure.candle)}:
        log.exclusions.append({"candle": log.failure.candle, "burn": burn, "reason": _reason(rng)})
    return True


@edit
def set_aside_without_a_burn_column(log, rng):
    set_the_burn_aside(log, rng)
    log.dropped.add("exclusions.burn")
    return True


@edit
def set_aside_with_the_burn_column_misspelled(log, rng):
    set_the_burn_aside(log, rng)
    log.heads["exclusions.burn"] = str(rng.choice(["brun", "Burn no.", "burns"]))
    return True


# ---------------------------------------------------------------- rows that go


@edit
def leave_the_burn_out_and_renumber(log, _rng):
    """The burn is not in the log; those after it are numbered as if it had not been."""
    name, gone = log.failure.candle, log.failure.burn or 1
    if len(log.of("burns", name)) < 2:
        return False
    log.touched |= {"burn", "mass_before_g"}
    for table in ("burns", "checks"):
        rows = getattr(log, table)
        rows[:] = [r for r in rows if (r["candle"], r["burn"]) != (name, gone)]
        for row in log.of(table, name):
            row["burn"] -= row["burn"] > gone
    return True


@edit
def drop_the_failing_check(log, _rng):
    rows = _failing(log)
    if not rows or rows[0] not in log.checks:
        return False
    log.checks[:] = [r for r in log.checks if r not in rows]
    return True


@edit
def drop_another_check(log, rng):
    rows = [r for r in log.of("checks", log.failure.candle) if not r.get("fails")]
    if not rows:
        return False
    gone = rows[rng.integers(len(rows))]
    log.checks[:] = [r for r in log.checks if r is not gone]
    return True


@edit
def end_early(log, _rng):
    """The log of the candle stops before the burn in which it failed."""
    if log.failure.burn < 2:
        return False
    cut(log, log.failure.candle, after=log.failure.burn - 1)
    return True


@edit
def end_early_and_say_it_went_out(log, rng):
    if not end_early(log, rng):
        return False
    log.of("burns", log.failure.candle)[-1]["ended_by"] = "self"
    return True


@edit
def stop_the_burn_at_once(log, _rng):
    """The candle is put out at the reading, and the reading itself is not written down."""
    rows = _failing(log)
    if not rows or rows[0] not in log.checks:
        return False
    put_out(log, rows[0])
    log.checks[:] = [r for r in log.checks if r not in rows]
    return True


# ---------------------------------------------------------------- cells and columns


@edit
def swap_two_columns(log, rng):
    column = log.failure.column
    group = NUMBERS if column in NUMBERS else FLAGS if column in FLAGS else ()
    others = [name for name in group if name != column]
    if not others:
        return False
    other = str(rng.choice(others))
    names = [_heading(log, name) for name in (column, other)]
    log.heads |= {f"checks.{column}": names[1], f"checks.{other}": names[0]}
    log.touched |= {column, other}
    return True


def _heading(log, column):
    return f"{split_unit(column)[0]}_{log.units[column][0]}" if column in log.units else column


@edit
def blank_the_failing_cell(log, _rng):
    for row in _failing(log):
        row[log.failure.column] = ""
    log.touched.add(log.failure.column)
    return bool(_failing(log))


@edit
def blank_the_column_for_that_candle(log, _rng):
    column = log.failure.column
    for row in (*log.of("checks", log.failure.candle), *log.of("burns", log.failure.candle)):
        if column in row:
            row[column] = ""
    log.touched.add(column)
    return True


@edit
def blank_a_whole_column(log, _rng):
    column = log.failure.column
    for row in (*log.checks, *log.burns):
        if column in row:
            row[column] = ""
    log.touched.add(column)
    return True


@edit
def leave_a_column_out(log, _rng):
    for table in ("checks", "burns"):
        log.dropped.add(f"{table}.{log.failure.column}")
    log.touched.add(log.failure.column)
    return True


@edit
def say_that_the_timer_ended_it(log, _rng):
    rows = [r for r in log.of("burns", log.failure.candle) if r["ended_by"] in ("stopped", "self")]
    if not rows:
        return False
    rows[-1]["ended_by"] = "timer"
    return True


# ---------------------------------------------------------------- units


@edit
def write_other_units(log, rng):
    """Another unit, and the numbers go with it."""
    for name, units in {
        "mass_before_g": ("oz", "kg"), "mass_after_g": ("oz", "kg"), "fill_mass_g": ("oz", "kg"),
        "flame_height_mm": ("in", "cm"), "wall_c": ("f", "c"), "room_c": ("f", "c"),
        "pool_depth_mm": ("in", "cm"), "elapsed_min": ("h", "s"), "aftersmoke_s": ("min", "s"),
        "secondary_ignition_s": ("min", "s"),
    }.items():  # fmt: skip
        if rng.random() < 0.5:
            unit = units[rng.integers(2)]
            log.units[name] = (unit, unit)
    return True


WRONG = {
    # column: unit of the heading, unit of the numbers
    "wall_c": (("f", "c"),),
    "flame_height_mm": (("mm", "in"), ("mm", "cm")),
    "pool_depth_mm": (("mm", "in"), ("mm", "cm")),
    "secondary_ignition_s": (("s", "min"),),
    "aftersmoke_s": (("s", "min"),),
    "elapsed_min": (("min", "h"),),
}


@edit
def write_numbers_of_another_unit(log, rng):
    """The heading says one unit, the numbers are in another."""
    column = log.failure.column
    if column not in WRONG:
        column = "elapsed_min"
    units = WRONG[column]
    log.units[column] = units[rng.integers(len(units))]
    log.touched.add(column)
    return True


def _misread(value, column, heading, unit):
    """What a number in one unit is under a heading of another, in the column's own unit."""
    own = split_unit(column)[1]
    return convert(convert(value, own, unit), heading, own)


@edit
def write_the_candle_in_another_unit(log, rng):
    column = log.failure.column
    if column not in WRONG or log.units.get(column, ("", ""))[0] in ("in", "h"):
        return False
    heading, unit = WRONG[column][rng.integers(len(WRONG[column]))]
    log.units[column] = (heading, heading)
    log.touched.add(column)
    for row in (*log.of("checks", log.failure.candle), *log.of("burns", log.failure.candle)):
        if row.get(column, "") != "":
            row[column] = round(_misread(row[column], column, heading, unit), 3)
    return True


@edit
def write_the_failing_reading_in_another_unit(log, rng):
    column = log.failure.column
    if column not in ("flame_height_mm", "secondary_ignition_s"):
        return False
    heading, unit = WRONG[column][rng.integers(len(WRONG[column]))]
    rows = [row for row in _failing(log) if row.get(column, "") != ""]
    if not rows:  # it was blanked before
        return False
    log.units.pop(column, None)
    log.touched.add(column)
    for row in rows:
        row[column] = round(_misread(row[column], column, heading, unit), 2)
    return True


@edit
def swap_wall_and_flame_of_the_failing_check(log, _rng):
    if log.failure.column not in ("flame_height_mm", "wall_c"):
        return False
    log.touched |= {"flame_height_mm", "wall_c"}
    for row in _failing(log):
        row["flame_height_mm"], row["wall_c"] = row["wall_c"], row["flame_height_mm"]
    return True


@edit
def change_the_wick_to_the_same_one(log, rng):
    """Before the burn in which it failed, or any other."""
    name, burn = log.failure.candle, max(log.failure.burn, 2)
    if len(log.of("burns", name)) < burn:
        return False
    log.wick_changes.append({
        "candle": name, "before_burn": burn, "wick_series": log.failure.series,
        "wick_size": log.failure.size, "reason": _reason(rng), "rest_days": 1,
    })  # fmt: skip
    return True


@edit
def loosen_the_stop_limit(log, rng):
    at = log.toml.index("wall_stop_c = 65") if "wall_stop_c = 65" in log.toml else -1
    if at < 0 or log.failure.column != "wall_c":
        return False
    log.toml[at] = str(rng.choice(["wall_stop_c = 80", "wall_stop_c = 149", "wall_stop_c = 96"]))
    log.touched.add("limits.wall_stop_c")
    return True


@edit
def misspell_the_limits(log, rng):
    at = log.toml.index("[limits]")
    log.toml[at] = str(rng.choice(["[limit]", "[Limits]", "[limts]"]))
    log.touched |= {log.toml[at].strip("[]"), "limits"}
    return True


# ---------------------------------------------------------------- names


def _respell(log, column, spelling) -> bool:
    """Another spelling in the candle's row, with a row of its own in wicks.csv."""
    row = next((r for r in log.candles if r["candle"] == log.failure.candle), None)
    if row is None:
        return False
    new = spelling(str(row[column]))
    if new == str(row[column]):
        return False
    row[column] = new
    if column.startswith("wick"):
        sizes = [w for w in log.wicks if w["wick_series"] == log.failure.series]
        given = [w | {column: spelling(str(w[column]))} for w in sizes]
        known = {(w["wick_series"], w["wick_size"]) for w in log.wicks}
        if column == "wick_size":
            given = [w | {"size_rank": w["size_rank"] + 10} for w in given]
        log.wicks += [w for w in given if (w["wick_series"], w["wick_size"]) not in known]
    log.touched.add(column)
    return True


@edit
def spell_the_series_otherwise(log, rng):
    ways = (
        lambda s: s.replace("-", "_") if "-" in s else s.replace(" ", "-"),
        lambda s: s.replace(" ", "  ").replace("-", "\u2011"),
        lambda s: s.replace(" ", "").replace("-", ""),
        str.capitalize,
    )
    return _respell(log, "wick_series", ways[rng.integers(4)])


@edit
def spell_the_series_with_a_letter_more(log, _rng):
    return _respell(log, "wick_series", lambda s: s + "s")


@edit
def spell_the_series_with_letters_of_another_script(log, _rng):
    return _respell(log, "wick_series", lambda s: s.translate(LETTERS))


@edit
def spell_the_size_otherwise(log, rng):
    form = str(rng.choice(["0{}", "{}.0", "00{}", "no. {}"]))
    return _respell(log, "wick_size", form.format)


@edit
def write_the_load_a_little_otherwise(log, rng):
    return _respell(log, "fragrance_load_pct", lambda s: str(rng.choice(["8.01", "7.99", "8.001"])))


@edit
def spell_the_wax_or_fragrance_otherwise(log, rng):
    column = str(rng.choice(["wax", "fragrance"]))
    return _respell(log, column, lambda s: str(rng.choice([s.capitalize(), s.upper(), s + " "])))


# ---------------------------------------------------------------- other candles


@edit
def pool_a_part_used_candle(log, _rng):
    """A candle of the other wick gets the failed one's in its second burn, and burns well on it."""
    failure = log.failure
    others = {r["candle"] for r in log.candles if r["wick_size"] != failure.size}
    named = sorted(name for name in others if len(log.of("burns", name)) > 1)
    if not named:
        return False
    log.wick_changes.append({
        "candle": named[0], "before_burn": 2, "wick_series": failure.series,
        "wick_size": failure.size, "reason": "left wax", "rest_days": 1,
    })  # fmt: skip
    for row in log.of("burns", named[0]):
        row["aftersmoke_s"] = 2
    return True


# ---------------------------------------------------------------- a second batch


def _second(log, _rng) -> Log:
    second = copied(log)
    second.name, second.more = "two", None
    second.toml = [*log.toml[:1], 'stage = "confirmation"', *log.toml[1:]]
    return second


def _keep(log, names) -> None:
    for table in ("candles", "burns", "checks", "wick_changes", "exclusions"):
        rows = getattr(log, table)
        rows[:] = [row for row in rows if row["candle"] in names]


@both
def move_the_candle_into_a_second_batch(log, rng):
    second, name = _second(log, rng), log.failure.candle
    _keep(second, {name})
    _keep(log, {row["candle"] for row in log.candles} - {name})
    log.more = second
    return bool(log.candles)


@both
def move_the_others_into_a_second_batch(log, rng):
    second, name = _second(log, rng), log.failure.candle
    _keep(second, {row["candle"] for row in log.candles} - {name})
    _keep(log, {name})
    log.more = second
    return bool(second.candles)


@both
def give_a_copy_with_the_candle_set_aside(log, rng):
    second = _second(log, rng)
    for row in second.candles:
        row["poured_on"] = str(rng.choice(["", "2026-05-02", "2026-05-01"]))
    second.exclusions.append({"candle": log.failure.candle, "burn": "", "reason": _reason(rng)})
    log.more = second
    return True


@both
def give_a_copy_without_the_candle(log, rng):
    second, name = _second(log, rng), log.failure.candle
    day = str(rng.choice(["", "2026-05-02"]))
    for row in second.candles:
        row["poured_on"] = day
    _keep(second, {row["candle"] for row in log.candles} - {name})
    log.more = second
    return bool(second.candles)


# ---------------------------------------------------------------- nothing to hide


def _notes(log, rng):
    for rows in (log.checks, log.burns):
        rows[rng.integers(len(rows))]["note"] = str(
            rng.choice(["window open", "nice scent", "late"])
        )


def _aside(log, rng):
    """A candle whose wick has another one is set aside."""
    wicks = [row["wick_size"] for row in log.candles]
    rows = [r for r in log.candles if wicks.count(r["wick_size"]) > 1]
    if rows:
        name = rows[rng.integers(len(rows))]["candle"]
        log.exclusions.append({"candle": name, "burn": "", "reason": _reason(rng)})


def _burn_aside(log, rng):
    row = log.burns[rng.integers(len(log.burns))]
    if len(log.of("burns", row["candle"])) > 1:
        gone = {"candle": row["candle"], "burn": row["burn"], "reason": _reason(rng)}
        log.exclusions.append(gone)


def _new_wick(log, _rng):
    """One candle of two on a wick gets the next size."""
    wicks = [row["wick_size"] for row in log.candles]
    rows = [r for r in log.candles if wicks.count(r["wick_size"]) > 1]
    if rows:
        row = rows[0]
        log.wick_changes.append({
            "candle": row["candle"], "before_burn": 2, "wick_series": row["wick_series"],
            "wick_size": "3", "reason": "left wax", "rest_days": 1,
        })  # fmt: skip


def _no_aftersmoke_at_the_end(log, _rng):
    """A candle that went out by itself owes no aftersmoke."""
    for row in log.burns:
        if row["ended_by"] == "self":
            row["aftersmoke_s"] = ""


HARMLESS = (
    _notes, _aside, _burn_aside, _new_wick, _no_aftersmoke_at_the_end,
    lambda log, rng: write_other_units(log, rng),
)  # fmt: skip


def harmless(log: Log, rng) -> Log:
    """A log after some of what honest makers do that takes nothing from a verdict."""
    for one in HARMLESS:
        if rng.random() < 0.4:
            one(log, rng)
    return log


# ---------------------------------------------------------------- drawing


def drawn(rng, kinds=()) -> tuple[str, ...]:
    """One to three kinds of edit; one with a second batch comes last, and alone of its kind."""
    names = [str(name) for name in rng.permutation(kinds or list(EDITS))]
    names = names[: int(rng.integers(1, 4))]
    second = [name for name in names if name in BOTH][:1]
    return tuple([name for name in names if name not in BOTH] + second)


def edited(seed: int, i: int, kinds) -> tuple[Log, tuple[str, ...]]:
    """A log of its own number after these edits, and those of them that could be made.

    An edit draws the same numbers whatever other edits are made. A log is drawn anew until one
    of the edits can be made.
    """
    order, many = list(EDITS), any(kind in BOTH for kind in kinds)
    for again in range(1000):
        log = random_log(np.random.default_rng([seed, i, 2, again, many]), many=many)
        made = tuple(
            kind
            for kind in kinds
            if EDITS[kind](log, np.random.default_rng([seed, i, 3, again, order.index(kind)]))
        )
        if made:
            return log, made
    raise AssertionError(f"no log can be edited by {kinds}")

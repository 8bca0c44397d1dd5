"""Rules on the bench and the timetable: a place, a cure, a time and a watcher for every candle."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from datetime import time, timedelta

from candlelab.logs.settings_reader import Reader
from candlelab.plan.fills import fill_of
from candlelab.plan.layout import bench_positions
from candlelab.plan.limits import LEAST_CHECK_MIN, MOST_CURE_DAYS, MOST_MM
from candlelab.plan.schedule import (
    MOST_BURNS,
    clock,
    cured_on,
    planned_life,
    session_length,
    stagger_min,
    watchable,
)
from candlelab.plan.settings import WEEK, Plan, where_stands

# Common practice, no source.
EDGE_MM, MOST_LIT, LEAST_MINUTES = 300.0, 12, 1.0
MOST_CANDLES = 1000  # more is no bench test of a studio
CLEAR_MM = 150.0  # between candles, by standard, read second-hand
_MINUTE = timedelta(minutes=1)


def places_enough(plan: Plan, reader: Reader) -> None:
    """More candles than places, a bench without a place, a distance below the standard's."""
    spacing, n = plan.layout.spacing_mm, plan.n_candles
    if spacing < CLEAR_MM and not reader.noted("spacing_mm", "layout"):
        values = {"found": reader.display.written(spacing, "mm"), "least": CLEAR_MM}
        reader.fault("candles close together", "spacing_mm", "layout", **values)
    if n > MOST_CANDLES:
        reader.fault("too many candles", "candles", "recipe", found=n, most=MOST_CANDLES)
    benches = {
        name: bench
        for name, bench in plan.benches.items()
        if 0 < bench.length_mm <= MOST_MM and 0 < bench.depth_mm <= MOST_MM
    }
    width = max((vessel.width_mm for _, _, vessel in plan.in_vessels), default=None)
    doubted = any(reader.noted(key, "layout") for key in ("spacing_mm", "edge_mm"))
    if width is None or not benches or doubted:
        return
    places = Counter(bench_positions(benches, plan.layout, width)["bench"])
    if n > places.total():
        of_each = ", ".join(f"{name} {places[name]}" for name in benches)
        values = {"of_each": of_each, "spacing": spacing, "width": width}
        problem, found = "more candles than places", f"{n} candles"
        reader.fault(problem, "", "benches", found=found, most=places.total(), **values)


def check_times(plan: Plan, reader: Reader) -> None:
    """Apply every rule on days, times and life; faults go to the reader's problems."""
    _cure(plan, reader)
    if not plan.settings.time_zone and not reader.noted("time_zone", ""):
        texts = {
            "expected": 'time_zone = "Europe/Lisbon", say',
            "do": "Name the zone of the bench, for the calendar.",
        }
        reader.fault("missing setting", "time_zone", **texts)
    _slots(plan, reader)
    _life(plan, reader)
    _flames(plan, reader)


def _cure(plan: Plan, reader: Reader) -> None:
    """Day of pouring, cure, first burn."""
    poured, first, days = plan.pour.poured_on, plan.timetable.first_burn_on, plan.cure_days
    if poured is None:
        if not reader.noted("poured_on", "pour"):
            texts = {"expected": "poured_on = 2026-09-07", "do": "Give the day of pouring."}
            reader.fault("missing setting", "poured_on", "pour", **texts)
        return
    if first is None or days > MOST_CURE_DAYS or poured.year >= 2200:
        return
    cured = cured_on(poured, days)
    if first < cured:
        values = {"found": first.isoformat(), "cured": cured, "poured": poured, "days": days}
        reader.fault("cure too short", "first_burn_on", "schedule", **values)


def _flames(plan: Plan, reader: Reader) -> None:
    """What a bench of lit candles asks for: room, reach, eyes, time, a wall that stays cool."""
    layout, timetable = plan.layout, plan.timetable
    if layout.edge_mm < EDGE_MM and not reader.noted("edge_mm", "layout"):
        found = reader.display.written(layout.edge_mm, "mm")
        reader.fault("candles near an edge", "edge_mm", "layout", found=found, least=EDGE_MM)
    width = max((vessel.width_mm or 0.0 for _, _, vessel in plan.in_vessels), default=0.0)
    for name, bench in plan.benches.items() if width else ():
        fits = 0 < bench.length_mm <= MOST_MM and 0 < bench.depth_mm <= MOST_MM
        rows = bench_positions({name: bench}, layout, width)["y_mm"].nunique() if fits else 0
        if rows > 1:
            where = "depth_mm", f"benches.{name}"
            reader.fault("reaching over a flame", *where, found=f"{rows} rows of candles")
    if timetable.minutes_per_check > 0 and timetable.spare_pct < 100 and timetable.people > 0:
        lit = min(watchable(plan.settings.protocol, timetable), plan.n_candles) / timetable.people
        if lit > MOST_LIT:
            values = {"found": f"{math.ceil(lit)} lit candles for each person", "most": MOST_LIT}
            reader.fault("many flames for one person", "people", "schedule", **values)
        if timetable.minutes_per_check < LEAST_MINUTES or timetable.spare_pct == 0:
            spare = f"{timetable.minutes_per_check:g} min a check, {timetable.spare_pct:g} % spare"
            where = "minutes_per_check", "schedule"
            reader.fault("no time for the check itself", *where, found=spare)


def _slots(plan: Plan, reader: Reader) -> None:
    """Days of the week, times of day, and whether anybody can watch."""
    timetable, protocol = plan.timetable, plan.settings.protocol
    for day in timetable.burn_days:
        if day not in WEEK:
            values = {"found": day, "week": ", ".join(WEEK)}
            reader.fault("not a day of the week", "burn_days", "schedule", **values)
    for text in timetable.lit_at:
        if clock(text) is None:
            reader.fault("not a time of day", "lit_at", "schedule", found=text)
    possible = 0 < protocol.burn_h <= 24 and protocol.check_every_min >= LEAST_CHECK_MIN
    watched = timetable.minutes_per_check > 0 and timetable.spare_pct < 100
    if not possible or not watched or plan.n_candles > MOST_CANDLES:
        return
    most = watchable(protocol, timetable)
    if most < 1:
        found = f"{timetable.minutes_per_check:g} min for a check"
        usable = protocol.check_every_min * (1.0 - timetable.spare_pct / 100.0)
        where = "minutes_per_check", "schedule"
        reader.fault("nobody can watch a candle", *where, found=found, usable=usable)
        return
    groups = max(1, math.ceil(plan.n_candles / most))
    in_group = max(1, math.ceil(plan.n_candles / groups))
    _sessions(plan, session_length(in_group, protocol, timetable), reader)


def _sessions(plan: Plan, length: timedelta, reader: Reader) -> None:
    """Times of lighting that leave too little time until the next, or until midnight."""
    timetable, burn_h = plan.timetable, plan.settings.protocol.burn_h
    starts = sorted({t for t in map(clock, timetable.lit_at) if t})
    minutes = length / _MINUTE
    for before, after in itertools.pairwise(starts):
        if _since_midnight(after) - _since_midnight(before) < length:
            reader.fault(
                "sessions overlap",
                "lit_at",
                "schedule",
                found=f"{after:%H:%M}",
                length=minutes,
                stagger=stagger_min(timetable),
                burn_h=burn_h,
            )
    if starts and _since_midnight(starts[-1]) + length >= timedelta(days=1):
        found = f"{starts[-1]:%H:%M}"
        reader.fault("session past midnight", "lit_at", "schedule", found=found, length=minutes)


def _since_midnight(moment: time) -> timedelta:
    return timedelta(hours=moment.hour, minutes=moment.minute)


def _life(plan: Plan, reader: Reader) -> None:
    """Burns until the end of life, more than anybody logs."""
    key, burn_h = "burn_rate_g_per_h", plan.settings.protocol.burn_h
    margin, written = 1.0 + plan.timetable.margin_pct / 100.0, reader.display.written
    for n, c, vessel in plan.in_vessels:
        fill, rate = fill_of(vessel, c, plan), c.burn_rate_g_per_h
        if not burn_h or not rate or not fill > 0:
            continue
        if planned_life(fill, rate) * margin > MOST_BURNS * burn_h:
            values = {
                "found": f"{written(rate, 'g/h')} for {written(fill, 'g')}",
                "most": MOST_BURNS,
            }
            where = where_stands(n, key, reader)
            reader.fault("more burns than anybody logs", key, where, burn_h=burn_h, **values)

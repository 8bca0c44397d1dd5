"""What cannot be in a plan: loads without wax, fills over the brim, wicks
that do not exist, candles without a place.

Every rule looks at what could be read and keeps away from what another problem already puts in
doubt, so that all faults are told at once and each of them once.
"""

from __future__ import annotations

import math
from collections import Counter
from datetime import timedelta

from candlelab.formulas import fragrance_fraction
from candlelab.logs.problems import LOOK, PROTOCOL
from candlelab.logs.settings_reader import Reader
from candlelab.logs.writer import runs_as_formula
from candlelab.plan.layout import bench_positions
from candlelab.plan.schedule import (
    MOST_BURNS,
    clock,
    cured_on,
    planned_life,
    session_length,
    stagger_min,
    watchable,
)
from candlelab.plan.settings import WEEK, Plan, PlannedCandidate, PlannedVessel
from candlelab.plan.weighing import fill_density, pour_total
from candlelab.text import suggest

MOST_CANDLES, MOST_MM, MOST_CURE_DAYS = 1000, 20_000.0, 365.0  # more is no bench test of a studio
CLEAR_MM = 150.0  # between candles, by standard, read second-hand


def check_plan(plan: Plan, wicks: set[tuple[str, str]] | None, reader: Reader) -> None:
    """Apply every rule; faults go to the reader's problems.

    ``wicks`` is None when wicks.csv could not be read.
    """
    _numbers_above_zero(plan, reader)
    _within_reason(plan, reader)
    _complete(plan, reader)
    for n, candidate in enumerate(plan.candidates, start=1):
        _known(candidate, n, plan, wicks, reader)
        _load(candidate, n, plan, reader)
    _twice(plan, reader)
    for name, vessel in plan.vessels.items():
        _vessel(name, vessel, plan, reader)
    _fits_the_jug(plan, reader)
    _places(plan, reader)
    _days(plan, reader)
    _slots(plan, reader)
    _life(plan, reader)


def fill_of(vessel: PlannedVessel, candidate: PlannedCandidate, plan: Plan) -> float:
    """Fill [g]: as measured, or what the volume up to the fill line holds of the mix
    once it has set. NaN where something is missing."""
    wax = plan.waxes.get(candidate.wax)
    load = candidate.fragrance_load_pct or 0.0
    if (
        vessel.fill_mass_g is not None
        or vessel.fill_volume_ml is None
        or not wax
        or not wax.density_g_per_ml
        or not 0.0 <= _share(load, plan) < 1.0
    ):
        return vessel.fill_mass_g if vessel.fill_mass_g is not None else math.nan
    density = fill_density(
        load, plan.settings.load_basis, wax.density_g_per_ml, candidate.fragrance_density_g_per_ml
    )
    return vessel.fill_volume_ml * density


def liquid_volume(fill_g: float, candidate: PlannedCandidate, plan: Plan) -> float:
    """Room [ml] that a fill takes when it takes most: liquid, where the
    wax's liquid density is given, else set."""
    wax, load = plan.waxes[candidate.wax], candidate.fragrance_load_pct or 0.0
    lightest = min(wax.density_g_per_ml, wax.liquid_density_g_per_ml or math.inf)
    return fill_g / fill_density(
        load, plan.settings.load_basis, lightest, candidate.fragrance_density_g_per_ml
    )


def _share(load_pct: float, plan: Plan) -> float:
    return float(fragrance_fraction(load_pct, plan.settings.load_basis))


def _numbers_above_zero(plan: Plan, reader: Reader) -> None:
    """Lengths, densities, rates and times of which nothing is left at zero."""
    timetable, protocol = plan.timetable, plan.settings.protocol
    rows = [
        ("pour", "jug_g", plan.pour.jug_g),
        ("schedule", "minutes_per_check", timetable.minutes_per_check),
        ("protocol", "burn_h", protocol.burn_h),
        ("protocol", "check_every_min", protocol.check_every_min),
    ]
    rows += [
        (f"benches.{name}", key, getattr(bench, key))
        for name, bench in plan.benches.items()
        for key in ("length_mm", "depth_mm")
    ]
    for name, wax in plan.waxes.items():
        rows += [
            (f"waxes.{name}", key, getattr(wax, key))
            for key in ("density_g_per_ml", "liquid_density_g_per_ml")
        ]
    for n, candidate in enumerate(plan.candidates, start=1):
        rows += [
            (_where(candidate, n, key, reader), key, getattr(candidate, key))
            for key in ("burn_rate_g_per_h", "fragrance_density_g_per_ml")
        ]
    rows.append(("instruments", "scale_resolution_g", plan.settings.instruments.scale_resolution_g))
    rows += [
        ("aim", key, getattr(plan.aim, key))
        for key in ("difference_g_per_h", "reliability_pct", "candle_sd_g_per_h")
    ]
    for section, key in dict.fromkeys((section, key) for section, key, value in rows if value == 0):
        reader.fault(
            "impossible value",
            key,
            section,
            found=0,
            expected="a number above 0",
            do="Check the number.",
        )
    for section, key, value in (
        ("pour", "losses_pct", plan.pour.losses_pct),
        ("schedule", "spare_pct", timetable.spare_pct),
        ("aim", "reliability_pct", plan.aim.reliability_pct),
    ):
        if value >= 100.0:
            reader.fault(
                "impossible value",
                key,
                section,
                found=f"{value:g}",
                expected="less than 100",
                do="Check the number.",
            )
    for key in ("difference_g_per_h", "candle_sd_g_per_h", "burn_sd_g_per_h"):
        if (value := getattr(plan.aim, key)) is not None and value > 1000.0:
            reader.fault(
                "impossible value",
                key,
                "aim",
                found=f"{value:g}",
                expected="at most 1000 g/h",
                do="Check the number.",
            )
    if (plan.aim.candle_sd_g_per_h is None) != (plan.aim.burn_sd_g_per_h is None):
        reader.fault(
            "half of a pair",
            "",
            "aim",
            expected="candle_sd_g_per_h and burn_sd_g_per_h",
            do="Give both, or neither.",
        )


def _where(candidate: PlannedCandidate, n: int, key: str, reader: Reader) -> str:
    """The section in which a candidate's value stands: its own, or ``[recipe]``."""
    return (
        f"candidates {n}"
        if reader.has(key, f"candidates {n}") or not reader.has(key, "recipe")
        else "recipe"
    )


def _within_reason(plan: Plan, reader: Reader) -> None:
    """Numbers so large or small that nothing can be planned with them."""
    protocol, poured = plan.settings.protocol, plan.pour.poured_on
    if 0 < protocol.check_every_min < 5:
        reader.fault(
            "checks too close together",
            "check_every_min",
            "protocol",
            found=f"{protocol.check_every_min:g} min",
            expected="at least 5 min",
            do="Check every hour, as the standard's record does.",
        )
    rows = [
        ("protocol", "burn_h", protocol.burn_h, 24.0, "h"),
        ("protocol", "rest_h", protocol.rest_h, 168.0, "h"),
        ("protocol", "burn_tolerance_min", protocol.burn_tolerance_min, 1440.0, "min"),
        ("pour", "reserve_pct", plan.pour.reserve_pct, 1000.0, "%"),
        ("schedule", "margin_pct", plan.timetable.margin_pct, 1000.0, "%"),
    ]
    for section, key, value, most, unit in rows:
        if value > most:
            reader.fault(
                "implausible value",
                key,
                section,
                found=f"{value:g} {unit}",
                expected=f"at most {most:g} {unit}",
                do="Check the number.",
            )
    for name, bench in plan.benches.items():
        for key in ("length_mm", "depth_mm"):
            if getattr(bench, key) > MOST_MM:
                reader.fault(
                    "implausible bench",
                    key,
                    f"benches.{name}",
                    found=f"{getattr(bench, key):g} mm",
                    expected=f"at most {MOST_MM:g} mm",
                    do="Check the number and its unit.",
                )
    if cure_days(plan) > MOST_CURE_DAYS:
        reader.fault(
            "implausible cure",
            "cure_days",
            "protocol",
            found=f"{cure_days(plan):g} days",
            expected=f"at most {MOST_CURE_DAYS:g} days",
            do="Check cure_days of the protocol and of each wax.",
        )
    for key, section, day in (
        ("poured_on", "pour", poured),
        ("first_burn_on", "schedule", plan.timetable.first_burn_on),
    ):
        if day is not None and not 2000 <= day.year < 2200:
            reader.fault(
                "implausible day",
                key,
                section,
                found=day.isoformat(),
                expected="a day from 2000 to 2199",
                do="Check the year.",
            )
    if runs_as_formula(plan.layout.candle_prefix):
        reader.fault(
            "text that a spreadsheet runs as a formula",
            "candle_prefix",
            "layout",
            found=plan.layout.candle_prefix,
            expected="a text that does not begin with = + - or @",
            do="Begin it with a letter.",
        )
    for key, section, name, most in [("", f"benches.{name}", name, 24) for name in plan.benches] + [
        ("candle_prefix", "layout", plan.layout.candle_prefix, 6)
    ]:
        if len(name) > most:
            reader.fault(
                "name too long for a log sheet",
                key,
                section,
                found=name,
                expected=f"at most {most} characters",
                do="Shorten the name.",
            )
    step = plan.settings.instruments.scale_resolution_g
    for name, vessel in plan.vessels.items():
        fills = [fill_of(vessel, c, plan) for c in plan.candidates if c.vessel == name]
        if fills and min(fills) < 10.0 * step:
            reader.fault(
                "scale too coarse",
                "scale_resolution_g",
                "instruments",
                found=f"steps of {step:g} g for a fill of {min(fills):.4g} g",
                expected="steps of a tenth of the fill at most",
                do="Check the scale's resolution and the fill.",
            )


def _complete(plan: Plan, reader: Reader) -> None:
    """What a candidate must have, itself or from [recipe]; told once when none has it."""
    for key, example in (
        ("vessel", '"tumbler"'),
        ("wax", '"rapeseed"'),
        ("burn_rate_g_per_h", "5.5"),
        ("candles", "3"),
    ):
        lacking = [
            n
            for n, c in enumerate(plan.candidates, start=1)
            if getattr(c, key) is None and not reader.noted(key, f"candidates {n}")
        ]
        if not lacking or reader.noted(key, "recipe"):
            continue
        advice = (
            " Take it from an earlier batch; the first time guess, and plan anew after some burns."
            if key == "burn_rate_g_per_h"
            else ""
        )
        if len(lacking) == len(plan.candidates):
            reader.fault(
                "missing setting",
                key,
                "recipe",
                expected=f"{key} = {example}",
                do=f"Add {key} to [recipe], or to each candidate.{advice}",
            )
            continue
        for n in lacking:
            reader.fault(
                "missing setting",
                key,
                f"candidates {n}",
                expected=f"{key} = {example}",
                do=f"Add {key} to this candidate, or to [recipe] for all of them.{advice}",
            )


def _known(
    candidate: PlannedCandidate,
    n: int,
    plan: Plan,
    wicks: set[tuple[str, str]] | None,
    reader: Reader,
) -> None:
    """Vessel, wax and wick by name; texts that a spreadsheet would run."""
    section = f"candidates {n}"
    for key, kind in (("vessel", plan.settings.vessels), ("wax", plan.settings.waxes)):
        name = getattr(candidate, key)
        if name is not None and name not in kind:
            reader.fault(
                f"unknown {key}",
                key,
                _where(candidate, n, key, reader),
                found=name,
                expected=f"a {key} of this file: " + (", ".join(kind) or "there is none"),
                do=suggest(name, kind, f'add [{key if key != "wax" else "waxe"}s."{name}"].'),
            )
    for key in ("wick_series", "wick_size", "vessel", "wax", "fragrance", "dye", "wax_lot"):
        if runs_as_formula(getattr(candidate, key) or ""):
            reader.fault(
                "text that a spreadsheet runs as a formula",
                key,
                section,
                found=getattr(candidate, key),
                expected="a text that does not begin with = + - or @",
                do="Begin it with a letter or a digit.",
            )
    series, size = candidate.wick_series, candidate.wick_size
    if not wicks or not series or not size or (series, size) in wicks:
        return
    of_series = [b for a, b in sorted(wicks) if a == series]
    if not of_series:
        every = sorted({a for a, _ in wicks})
        reader.fault(
            "unknown wick series",
            "wick_series",
            section,
            found=series,
            expected="a series of wicks.csv: " + ", ".join(every),
            do=suggest(series, every, "add the series to wicks.csv."),
        )
    else:
        reader.fault(
            "unknown wick size",
            "wick_size",
            section,
            found=f"{series} {size}",
            expected=f"a size of {series} in wicks.csv: " + ", ".join(of_series),
            do="Add the size to wicks.csv, or correct it.",
        )


def _load(candidate: PlannedCandidate, n: int, plan: Plan, reader: Reader) -> None:
    load, basis, key = candidate.fragrance_load_pct, plan.settings.load_basis, "fragrance_load_pct"
    where = _where(candidate, n, key, reader)
    if reader.noted(key, where):
        return
    if load is not None and (load > 100.0 or _share(load, plan) >= 1.0):
        reader.fault(
            "impossible load",
            key,
            where,
            found=f"{load:g} % of {'the wax' if basis == 'wax' else 'the total'}",
            expected="at most 100 %" if basis == "wax" else "less than 100 %, so that wax is left",
            do="Write percent, as in 8; load_basis says of what.",
        )
    elif load is not None and load > 15.0:
        reader.fault(
            "implausible load",
            key,
            where,
            found=f"{load:g} %",
            expected="0 to 15 %",
            do="Check it; keep it if it is right.",
            level=LOOK,
        )
    elif load and not candidate.fragrance:
        reader.fault(
            "load without a fragrance",
            key,
            where,
            found=f"{load:g} %",
            expected='fragrance = "..." beside it',
            do="Name the fragrance, or set the load to 0.",
        )
    elif candidate.fragrance and load is None:
        reader.fault(
            "fragrance without a load",
            "fragrance",
            _where(candidate, n, "fragrance", reader),
            found=candidate.fragrance,
            expected="fragrance_load_pct beside it",
            do="Give the load in percent.",
        )


def _twice(plan: Plan, reader: Reader) -> None:
    """Candidates that are the same in all that a log tells apart."""
    seen: dict[tuple, int] = {}
    for n, c in enumerate(plan.candidates, start=1):
        key = (
            c.wick_series,
            c.wick_size,
            c.wick_count or 1,
            c.vessel,
            c.wax,
            c.fragrance or "",
            c.fragrance_load_pct or 0.0,
            c.dye or "",
        )
        if seen.setdefault(key, n) != n and c.wick_series and c.wick_size:
            reader.fault(
                "candidate given twice",
                "",
                f"candidates {n}",
                found=f"{c.wick_series} {c.wick_size}",
                expected=f"each candidate once; it is also candidates {seen[key]}",
                do="Take one out, and give its number of candles.",
            )


def _vessel(name: str, vessel: PlannedVessel, plan: Plan, reader: Reader) -> None:
    section = f"vessels.{name}"
    if vessel.outer_diameter_mm is not None and vessel.outer_diameter_mm < vessel.inner_diameter_mm:
        reader.fault(
            "outer diameter below inner",
            "outer_diameter_mm",
            section,
            found=f"{vessel.outer_diameter_mm:g} mm",
            expected=f"more than {vessel.inner_diameter_mm:g} mm",
            do="Correct one of the two diameters.",
        )
    if (vessel.fill_mass_g is None) == (vessel.fill_volume_ml is None):
        if not any(reader.noted(key, section) for key in ("fill_mass", "fill_volume")):
            both = vessel.fill_mass_g is not None
            reader.fault(
                "two settings for one quantity" if both else "missing setting",
                "fill_mass_g" if both else "",
                section,
                found="fill_mass_g and fill_volume_ml" if both else "",
                expected="one of fill_mass_g and fill_volume_ml",
                do="Give the fill that was weighed, or the volume up to the fill line.",
            )
        return
    brim, fullest = vessel.brim_ml, []
    for c in plan.candidates:
        fill = fill_of(vessel, c, plan)
        load, wax = _share(c.fragrance_load_pct or 0.0, plan), plan.waxes.get(c.wax)
        if c.vessel == name and fill > 0 and load < 1.0 and wax and wax.density_g_per_ml > 0:
            fullest.append((liquid_volume(fill, c, plan), fill))
    if vessel.fill_volume_ml is not None and not fullest:
        fullest = [(vessel.fill_volume_ml, math.nan)]
    if brim is None or not fullest:
        return
    volume, fill = max(fullest)
    if volume > brim + 1e-9:
        key = "fill_mass_g" if vessel.fill_mass_g is not None else "fill_volume_ml"
        grams = f"{fill:.4g} g take " if math.isfinite(fill) else ""
        measured = (
            "as measured"
            if vessel.brimful_volume_ml is not None
            else "as a cylinder of its inner diameter and height"
        )
        reader.fault(
            "fill over the brim",
            key,
            section,
            found=f"{grams}{volume:.4g} ml",
            expected=f"at most {brim:.4g} ml, {measured}",
            do="Fill less, or correct the volume or the density.",
        )


def _fits_the_jug(plan: Plan, reader: Reader) -> None:
    fills = [
        (fill_of(plan.vessels[c.vessel], c, plan), c)
        for c in plan.candidates
        if c.vessel in plan.vessels
    ]
    largest = max((fill for fill, _ in fills if fill > 0), default=0.0)
    if (
        0 <= plan.pour.losses_pct < 100
        and plan.pour.jug_g > 0
        and largest
        and pour_total([largest], plan.pour.losses_pct) > plan.pour.jug_g
    ):
        reader.fault(
            "jug smaller than a candle",
            "jug_g",
            "pour",
            found=f"{plan.pour.jug_g:g} g",
            expected=f"at least {pour_total([largest], plan.pour.losses_pct):.4g} g, one candle "
            "and what stays in the jug",
            do="Take a larger jug, or correct the fill.",
        )


def _places(plan: Plan, reader: Reader) -> None:
    """More candles than places, a bench without a place, a distance below the standard's."""
    spacing, used = (
        plan.layout.spacing_mm,
        [plan.vessels[c.vessel].width_mm for c in plan.candidates if c.vessel in plan.vessels],
    )
    if spacing < CLEAR_MM and not reader.noted("spacing_mm", "layout"):
        reader.fault(
            "candles close together",
            "spacing_mm",
            "layout",
            found=f"{spacing:g} mm",
            expected=f"at least {CLEAR_MM:g} mm",
            do="Candles that warm each other burn otherwise than alone; give them room.",
            level=PROTOCOL,
        )
    n = sum(c.candles or 0 for c in plan.candidates)
    if n > MOST_CANDLES:
        reader.fault(
            "too many candles",
            "candles",
            "recipe",
            found=n,
            expected=f"at most {MOST_CANDLES:,}",
            do="Part the plan into several.",
        )
    benches = {
        name: b
        for name, b in plan.benches.items()
        if 0 < b.length_mm <= MOST_MM and 0 < b.depth_mm <= MOST_MM
    }
    if (
        not used
        or not benches
        or any(reader.noted(key, "layout") for key in ("spacing_mm", "edge_mm"))
    ):
        return
    places = Counter(bench_positions(benches, plan.layout, max(used))["bench"])
    if n > sum(places.values()):
        of_each = ", ".join(f"{name} {places[name]}" for name in benches)
        reader.fault(
            "more candles than places",
            "",
            "benches",
            found=f"{n} candles",
            expected=f"at most {sum(places.values())} ({of_each}) at {spacing:g} mm between "
            f"vessels of {max(used):g} mm",
            do="Plan fewer candles, add a bench, or part the plan into two.",
        )


def _days(plan: Plan, reader: Reader) -> None:
    """Day of pouring, cure, first burn."""
    poured, first = plan.pour.poured_on, plan.timetable.first_burn_on
    if poured is None:
        if not reader.noted("poured_on", "pour"):
            reader.fault(
                "missing setting",
                "poured_on",
                "pour",
                expected="poured_on = 2026-09-07",
                do="Give the day of pouring.",
            )
    elif (
        first is not None
        and cure_days(plan) <= MOST_CURE_DAYS
        and poured.year < 2200
        and first < (cured := cured_on(poured, cure_days(plan)))
    ):
        reader.fault(
            "cure too short",
            "first_burn_on",
            "schedule",
            found=first.isoformat(),
            expected=f"{cured.isoformat()} or later: poured {poured.isoformat()}, "
            f"{cure_days(plan):g} days of cure",
            do="Burn later, or pour earlier.",
        )
    if not plan.settings.time_zone and not reader.noted("time_zone", ""):
        reader.fault(
            "missing setting",
            "time_zone",
            expected='time_zone = "Europe/Lisbon", say',
            do="Name the zone of the bench, for the calendar.",
        )


def cure_days(plan: Plan) -> float:
    """Longest cure of the waxes that are poured [days]; the
    protocol's for a wax that names none."""
    usual = plan.settings.protocol.cure_days or 0.0
    own = [plan.waxes[c.wax].cure_days for c in plan.candidates if c.wax in plan.waxes]
    return max((usual if days is None else days for days in own), default=usual)


def _slots(plan: Plan, reader: Reader) -> None:
    """Days of the week, times of day, and whether anybody can watch."""
    timetable, protocol = plan.timetable, plan.settings.protocol
    for day in timetable.burn_days:
        if day not in WEEK:
            reader.fault(
                "not a day of the week",
                "burn_days",
                "schedule",
                found=day,
                expected=", ".join(WEEK),
                do="Use these short names.",
            )
    for text in timetable.lit_at:
        if clock(text) is None:
            reader.fault(
                "not a time of day",
                "lit_at",
                "schedule",
                found=text,
                expected="a time as in 09:00",
                do="Use the 24-hour clock.",
            )
    n = sum(c.candles or 0 for c in plan.candidates)
    if (
        timetable.minutes_per_check == 0
        or not 0 < protocol.burn_h <= 24
        or timetable.spare_pct >= 100
        or protocol.check_every_min < 5
        or n > MOST_CANDLES
    ):
        return
    most, usable = (
        watchable(protocol, timetable),
        protocol.check_every_min * (1.0 - timetable.spare_pct / 100.0),
    )
    if most < 1:
        reader.fault(
            "nobody can watch a candle",
            "minutes_per_check",
            "schedule",
            found=f"{timetable.minutes_per_check:g} min for a check",
            expected=f"at most {usable:g} min, the time between checks less the spare time",
            do="Check faster, or keep less time spare.",
        )
        return
    length = session_length(max(1, math.ceil(n / max(1, math.ceil(n / most)))), protocol, timetable)
    starts = sorted({t for t in map(clock, timetable.lit_at) if t})
    minutes = [60 * t.hour + t.minute for t in starts]
    for before, after, text in zip(minutes, minutes[1:], starts[1:]):
        if timedelta(minutes=after - before) < length:
            reader.fault(
                "sessions overlap",
                "lit_at",
                "schedule",
                found=f"{text:%H:%M}",
                expected=f"at least {length / timedelta(minutes=1):g} min after the time before: "
                f"lighting one candle every {stagger_min(protocol, timetable)} min, a burn of "
                f"{protocol.burn_h:g} h and the last check",
                do="Light later, or burn one session a day.",
            )
    if minutes and timedelta(minutes=minutes[-1]) + length >= timedelta(days=1):
        reader.fault(
            "session past midnight",
            "lit_at",
            "schedule",
            found=f"{starts[-1]:%H:%M}",
            expected=f"a time that leaves {length / timedelta(minutes=1):g} min of the day",
            do="Light earlier.",
        )


def _life(plan: Plan, reader: Reader) -> None:
    """Burns until the end of life, more than anybody logs."""
    timetable, burn_h = plan.timetable, plan.settings.protocol.burn_h
    for n, c in enumerate(plan.candidates, start=1):
        fill = fill_of(plan.vessels[c.vessel], c, plan) if c.vessel in plan.vessels else math.nan
        if not burn_h or not c.burn_rate_g_per_h or not fill > 0:
            continue
        if (
            planned_life(fill, c.burn_rate_g_per_h) * (1.0 + timetable.margin_pct / 100.0)
            > MOST_BURNS * burn_h
        ):
            reader.fault(
                "more burns than anybody logs",
                "burn_rate_g_per_h",
                _where(c, n, "burn_rate_g_per_h", reader),
                found=f"{c.burn_rate_g_per_h:g} g/h for {fill:.4g} g",
                expected=f"at most {MOST_BURNS} burns of {burn_h:g} h",
                do="Check the expected burn rate.",
            )

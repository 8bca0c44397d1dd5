"""Numbers, days and names with which nothing can be planned."""

from __future__ import annotations

from candlelab.logs.problems import MUST_FIX
from candlelab.logs.settings_reader import Reader
from candlelab.logs.writer import runs_as_formula
from candlelab.plan.settings import Plan, where_stands

# More is no bench test of a studio.
MOST_MM, MOST_CURE_DAYS, _MOST_G_PER_H = 20_000.0, 365.0, 1000.0
LEAST_CHECK_MIN = 5.0
_MOST_NAME, _MOST_PREFIX = 24, 6  # characters that a log sheet has room for
_YEARS = range(2000, 2200)


def check_numbers(plan: Plan, reader: Reader) -> None:
    """Apply every rule on a single value; faults go to the reader's problems."""
    _above_zero(plan, reader)
    _below(plan, reader)
    if (plan.aim.candle_sd_g_per_h is None) != (plan.aim.burn_sd_g_per_h is None):
        reader.fault("half of a pair", "", "aim")
    _within_reason(plan, reader)
    _days(plan, reader)
    _names(plan, reader)


def _above_zero(plan: Plan, reader: Reader) -> None:
    """Lengths, densities, rates and times of which nothing is left at zero."""
    rows = [
        ("pour", plan.pour, ("jug_g",)),
        ("schedule", plan.timetable, ("minutes_per_check",)),
        ("protocol", plan.settings.protocol, ("burn_h", "check_every_min")),
    ]
    sides, densities = ("length_mm", "depth_mm"), ("density_g_per_ml", "liquid_density_g_per_ml")
    rows += [(f"benches.{name}", bench, sides) for name, bench in plan.benches.items()]
    rows += [(f"waxes.{name}", wax, densities) for name, wax in plan.waxes.items()]
    of_candidate = ("burn_rate_g_per_h", "fragrance_density_g_per_ml")
    for n, candidate in enumerate(plan.candidates, start=1):
        rows += [(where_stands(n, key, reader), candidate, (key,)) for key in of_candidate]
    rows.append(("instruments", plan.settings.instruments, ("scale_resolution_g",)))
    rows.append(("aim", plan.aim, ("difference_g_per_h", "reliability_pct", "candle_sd_g_per_h")))
    at_zero = [
        (section, key)
        for section, record, keys in rows
        for key in keys
        if getattr(record, key) == 0
    ]
    for section, key in dict.fromkeys(at_zero):
        expected = "a number above 0"
        reader.fault("impossible value", key, section, found=0, expected=expected)


def _below(plan: Plan, reader: Reader) -> None:
    """Shares that leave nothing, spreads that no burn rate has."""
    shares = (
        ("pour", "losses_pct", plan.pour.losses_pct),
        ("schedule", "spare_pct", plan.timetable.spare_pct),
        ("aim", "reliability_pct", plan.aim.reliability_pct),
    )
    for section, key, value in shares:
        if value >= 100.0:
            values = {"found": f"{value:g}", "expected": "less than 100"}
            reader.fault("impossible value", key, section, **values)
    for key in ("difference_g_per_h", "candle_sd_g_per_h", "burn_sd_g_per_h"):
        value = getattr(plan.aim, key)
        if value is not None and value > _MOST_G_PER_H:
            values = {"found": f"{value:g}", "expected": f"at most {_MOST_G_PER_H:g} g/h"}
            reader.fault("impossible value", key, "aim", **values)


def _within_reason(plan: Plan, reader: Reader) -> None:
    """Numbers so large or small that nothing can be planned with them."""
    protocol = plan.settings.protocol
    if 0 < protocol.check_every_min < LEAST_CHECK_MIN:
        found = f"{protocol.check_every_min:g} min"
        reader.fault("checks too close together", "check_every_min", "protocol", found=found)
    rows = (
        ("protocol", "burn_h", protocol.burn_h, 24.0, "h"),
        ("protocol", "rest_h", protocol.rest_h, 168.0, "h"),
        ("protocol", "burn_tolerance_min", protocol.burn_tolerance_min, 1440.0, "min"),
        ("pour", "reserve_pct", plan.pour.reserve_pct, 1000.0, "%"),
        ("schedule", "margin_pct", plan.timetable.margin_pct, 1000.0, "%"),
        ("scent", "blank_checks", plan.settings.scent.blank_checks, 40.0, "checks"),
    )
    for section, key, value, most, unit in rows:
        if value > most:
            texts = {"found": f"{value:g} {unit}", "expected": f"at most {most:g} {unit}"}
            usual = {"level": MUST_FIX, "do": "Check the number."}
            reader.fault("implausible value", key, section, **texts, **usual)
    for name, bench in plan.benches.items():
        for key in ("length_mm", "depth_mm"):
            if (value := getattr(bench, key)) > MOST_MM:
                values = {"found": reader.display.written(value, "mm"), "most": MOST_MM}
                reader.fault("implausible bench", key, f"benches.{name}", **values)
    if plan.cure_days > MOST_CURE_DAYS:
        values = {"found": f"{plan.cure_days:g} days", "most": MOST_CURE_DAYS}
        reader.fault("implausible cure", "cure_days", "protocol", **values)


def _days(plan: Plan, reader: Reader) -> None:
    """Days of another century."""
    days = (
        ("poured_on", "pour", plan.pour.poured_on),
        ("first_burn_on", "schedule", plan.timetable.first_burn_on),
    )
    for key, section, day in days:
        if day is not None and day.year not in _YEARS:
            reader.fault("implausible day", key, section, found=day.isoformat())


def _names(plan: Plan, reader: Reader) -> None:
    """Names that a spreadsheet would run, or that a log sheet has no room for."""
    prefix = plan.layout.candle_prefix
    if runs_as_formula(prefix):
        problem = "text that a spreadsheet runs as a formula"
        do = "Begin it with a letter."
        reader.fault(problem, "candle_prefix", "layout", found=prefix, do=do)
    rows = [("", f"benches.{name}", name, _MOST_NAME) for name in plan.benches]
    rows.append(("candle_prefix", "layout", prefix, _MOST_PREFIX))
    for key, section, name, most in rows:
        if len(name) > most:
            values = {"found": name, "most": most}
            reader.fault("name too long for a log sheet", key, section, **values)

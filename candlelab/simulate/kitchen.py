"""A demo batch as a hobby maker logs it at the kitchen table: two vessels, wicks singly and in
threes, ounces, inches and °F, and the accidents of a real log."""

from __future__ import annotations

import dataclasses

import pandas as pd

from candlelab.logs.writer import WritingStyle
from candlelab.simulate.batch import SimulatedBatch, simulate_batch
from candlelab.simulate.model import BatchPlan, Bench, Event, Model, WickChange, WickTruth
from candlelab.units import UNITS

SEED = 20260907
STYLE = WritingStyle(
    units={"g": "oz", "mm": "in", "c": "f"},
    decimals={"oz": 2, "in": 2, "f": 0},
    date_format="%-m/%-d/%Y",
)
TOML = """# Invented demonstration data: no such maker, vessel, wax or wick. See ../README.md.
title = "Kitchen table: a small tin and a stoneware tumbler"
question = "Which wick for the tin, and one wick or three for the tumbler?"
stage = "screening"
studio = "A friend of Saltmarsh Lane Candles (an invented hobby maker)"
time_zone = "America/Chicago"
slash_dates = "month/day/year"
load_basis = "wax"

[vessels."tin"]
inner_diameter_in = 2.6
description = "small tin with a lid"

[vessels."stoneware tumbler"]
inner_diameter_in = 3.6
description = "wide stoneware tumbler"

[waxes."soy and coconut"]
heat_of_combustion_kj_per_g = 40.0
cure_days = 14
description = "invented blend of soy and coconut wax"

[limits]
wall_caution_f = 140
wall_stop_f = 150

[protocol]
burn_h = 4.0
check_every_min = 60

# Targets are in g, mm, degrees Celsius and hours, whatever the log is kept in.
[targets]
full_pool_h = {high = 4}
wax_left_pct = {high = 8}
life_h = {low = 30}

# The tin holds half as much.
[targets."tin"]
burn_rate_g_per_h = {low = 4, high = 5.5}
life_h = {low = 24}

[instruments]
scale_resolution_oz = 0.01
scale_repeatability_oz = 0.005
clock_resolution_min = 1.0
"""
OZ, INCH = UNITS["oz"].factor, UNITS["in"].factor
# The thermometer shows whole degrees: 150 °F is put down up to 150.5 °F.
_USUAL = {
    "wax": "soy and coconut", "fragrance": "orange peel", "fragrance_load_pct": 7.0,
    "first_lit": "17:40", "cure_days": 16, "check_min": (60, 120, 180), "spare_min": 0,
    "wax_lot": "B3", "scale_resolution_g": 0.01 * OZ, "wall_stop_c": (150.5 - 32) / 1.8,
}  # fmt: skip
TIN = Bench("tin", 2.6 * INCH, 45.0, 5.2 * OZ, first_day="2026-09-08", **_USUAL)
TUMBLER = Bench("stoneware tumbler", 3.6 * INCH, 400.0, 11.3 * OZ, first_day="2026-09-21", **_USUAL)
# Poured later; it is still being burned when the log is read.
LATE = dataclasses.replace(TUMBLER, first_day="2026-10-12", max_burns=7)
# Three small flames instead of one: each shorter, and the heat spread over the pool [invented].
SINGLE = Model(scale_sd_g=0.08)
TRIPLE = Model(scale_sd_g=0.08, flame_mm_per_g_h=2.7, width_per_w=0.94, wall_per_w=0.34)

TIN_WICKS = (
    WickTruth("flat braid", "1", 1, 3.2, 40, character="far too small: drowns"),
    WickTruth("flat braid", "2", 2, 5.0, 4, character="right"),
    WickTruth("flat braid", "3", 3, 5.9, 3, character="not burned"),
    WickTruth("square braid", "1", 1, 5.1, 3, character="right; one tin has a flaw"),
    WickTruth("square braid", "2", 2, 6.1, 3, character="not burned"),
    WickTruth("paper-cored", "2", 1, 4.9, 4, character="right"),
)
TUMBLER_WICKS = (
    WickTruth("flat braid", "4", 4, 5.2, 20, character="too small: leaves wax standing"),
    WickTruth("flat braid", "5", 5, 6.6, 5, character="right"),
    WickTruth(
        "paper-cored", "5", 2, 7.4, 3, character="a little large, and its flame once far too tall"
    ),
    WickTruth("wooden", "10", 1, 5.4, 9, character="not burned"),
    WickTruth("wooden", "13", 2, 7.0, 4, character="right"),
)
TRIPLE_WICKS = (
    WickTruth("flat braid", "2", 2, 9.0, 4, character="right"),
    WickTruth("square braid", "1", 1, 9.6, 3, character="right"),
)
LATE_WICKS = (WickTruth("paper-cored", "2", 1, 9.2, 3, character="right"),)


def _candles(first, *picks):
    names = [wick for wick, count in picks for _ in range(count)]
    return tuple((f"K{first + i:02d}", *wick) for i, wick in enumerate(names))


_PLANS = (
    # wicks, candles, wicks in each candle, bench, model
    (
        TIN_WICKS,
        _candles(
            1, (("flat braid", "2"), 3), (("square braid", "1"), 3), (("paper-cored", "2"), 1),
            (("flat braid", "1"), 1),
        ),
        1, TIN, SINGLE,
    ),
    (
        TUMBLER_WICKS,
        _candles(9, (("flat braid", "4"), 1), (("paper-cored", "5"), 1), (("wooden", "13"), 1)),
        1, TUMBLER, SINGLE,
    ),
    (
        TRIPLE_WICKS,
        _candles(12, (("flat braid", "2"), 3), (("square braid", "1"), 3)),
        3, TUMBLER, TRIPLE,
    ),
    (LATE_WICKS, _candles(18, (("paper-cored", "2"), 1)), 3, LATE, TRIPLE),
)  # fmt: skip
EVENTS = (
    Event("note", "K02", 3, at_min=120, note="flickering"),
    Event("crack", "K05", 6, at_min=180, note="thin crack under the rim, put out"),
    Event("stopped", "K05", 6, 182),
    Event("note", "K05", 6, note="not lit again"),
    Event("set aside", "K05", 0, note="vessel had a flaw"),
    Event("short end", "K06", 8, 11),
    Event("short end", "K07", 8, 11),
    Event("drowned", "K08", 2, 205, note="drowned in its pool, would not light again"),
    Event("stopped", "K10", 8, 182),
    Event("tall flame", "K10", 8, 82, at_min=180, note="flame over the limit, put out"),
    Event("note", "K10", 8, note="not lit again"),
    Event("note", "K12", 2, at_min=60, note="window open"),
    Event("missed check", "K13", 3, at_min=120, note="phone call"),
    Event("short end", "K13", 9, 11),
    Event("no aftersmoke", "K16", 2),
    Event("note", "K18", 1, note="poured later than the others"),
)
_IN_THE_LOG = ("crack", "set aside", "no aftersmoke")
CHANGES = (WickChange("K09", 4, "flat braid", "5", "wax left standing all round", 2),)


def plans() -> list[tuple[BatchPlan, int]]:
    """The plan of each vessel and number of wicks, and that number."""
    made = []
    for wicks, candles, count, bench, model in _PLANS:
        own = {candle[0] for candle in candles}
        changes = tuple(change for change in CHANGES if change.candle in own)
        events = tuple(e for e in EVENTS if e.candle in own and e.kind not in _IN_THE_LOG)
        made.append((BatchPlan(wicks, candles, bench, changes, events, model), count))
    return made


def demo_kitchen() -> SimulatedBatch:
    """The kitchen batch of the demo, all its vessels in one log."""
    parts = []
    for n, (plan, count) in enumerate(plans()):
        made = simulate_batch(plan, seed=SEED + n)
        made.tables["candles"]["wick_count"] = count
        parts.append(made)
    names = list(dict.fromkeys(name for made in parts for name in made.tables))
    tables = {
        name: pd.concat([m.tables[name] for m in parts if name in m.tables], ignore_index=True)
        for name in names
    }
    sizes = tables["wicks"][["wick_series", "wick_size", "size_rank"]].drop_duplicates()
    tables["wicks"] = sizes.sort_values(["wick_series", "size_rank"], ignore_index=True)
    truth = pd.concat([made.candle_truth for made in parts], ignore_index=True)
    return SimulatedBatch(_as_kept(tables), truth)


def _as_kept(tables):
    """New tables as the maker kept them: nobody looks before the first check is due, and what is
    planted in the log alone."""
    burns, checks, aside = tables["burns"].copy(), tables["checks"], []
    checks = checks[checks["elapsed_min"] >= min(_USUAL["check_min"])].reset_index(drop=True)
    for event in EVENTS:
        at = (checks["candle"] == event.candle) & (checks["burn"] == event.burn)
        at &= checks["elapsed_min"] == event.at_min
        if event.kind == "crack":
            checks.loc[at, "vessel_damaged"], checks.loc[at, "note"] = True, event.note
        elif event.kind == "set aside":
            aside.append({"candle": event.candle, "burn": None, "reason": event.note})
        elif event.kind == "no aftersmoke":
            own = (burns["candle"] == event.candle) & (burns["burn"] == event.burn)
            burns.loc[own, "aftersmoke_s"] = float("nan")
    aside = pd.DataFrame(aside).astype({"burn": "Int64"})
    return tables | {"burns": burns, "checks": checks, "exclusions": aside}

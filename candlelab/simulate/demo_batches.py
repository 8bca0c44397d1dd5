"""What the four demo batches are: settings, wicks, planted events, recipes and seeds.

``demo`` writes them.
"""

from __future__ import annotations

from candlelab.simulate.batch import SimulatedBatch, simulate_batch
from candlelab.simulate.model import BatchPlan, Bench, Event, Recipe, WickChange, WickTruth
from candlelab.simulate.panel import Nose, PanelPlan, panel_tables
from candlelab.units import UNITS

SCREENING_SEED, CONFIRMATION_SEED = 20260241, 20260183
WAXES_SEED, LOADS_SEED, PANEL_SEED = 20260413, 20260518, 20260516

_STUDIO = """\
# Invented demonstration data: no such studio, vessel, wax or wick exists. See ../README.md.
studio = "Saltmarsh Lane Candles (an invented studio)"
time_zone = "Europe/Lisbon"
load_basis = "wax"

[waxes."coconut and rapeseed"]
heat_of_combustion_kj_per_g = 40.0
cure_days = 14
description = "invented blend of coconut and rapeseed wax"

"""
_SECOND_WAX = """[waxes."rapeseed and beeswax"]
heat_of_combustion_kj_per_g = 41.0
cure_days = 10
description = "invented blend of rapeseed wax and beeswax"

"""
_PROTOCOL = """[protocol]
burn_h = 4.0
check_every_min = 60
cure_days = 14

# Targets are in g, mm, degrees Celsius and hours, whatever the log is kept in.
[targets]
burn_rate_g_per_h = {low = 5.0, best = 5.7, high = 6.5}
wall_max_c = {best = 50, high = 60}
full_pool_h = {low = 1.5, high = 4}
wax_left_pct = {best = 0, high = 5}
life_h = {low = 32, best = 40}

"""
_METRIC = """[vessels."stoneware tumbler"]
inner_diameter_mm = 74.0
inner_height_mm = 78.0
brimful_volume_ml = 325.0
description = "glazed stoneware, straight wall"

[limits]
wall_caution_c = 60.0
wall_stop_c = 65.0
pool_depth_mm = 13.0

[instruments]
scale_resolution_g = 0.1
scale_repeatability_g = 0.04
clock_resolution_min = 1.0
"""
SCREENING_TOML = f"""\
title = "Stoneware tumbler, coconut and rapeseed wax: which wick?"
question = "Which of three wick series, and which size, suits the stoneware tumbler?"
stage = "screening"
{_STUDIO}{_PROTOCOL}{_METRIC}"""
WAXES_TOML = f"""\
title = "Stoneware tumbler: coconut and rapeseed, or rapeseed and beeswax?"
question = "Which of two waxes burns better, and with which of two wicks?"
stage = "screening"
{_STUDIO}{_SECOND_WAX}{_PROTOCOL}{_METRIC}"""
LOADS_TOML = f"""\
title = "Stoneware tumbler, square braid 2: how much fig leaf?"
question = "What does more fragrance do to the burn rate and to the scent?"
stage = "screening"
{_STUDIO}{_PROTOCOL}{_METRIC}
[scent]
words = ["nothing", "faint", "clear", "strong", "very strong", "overpowering"]
margin = 0.5

[prices]
currency = "EUR"
wax_price = 58.0
wax_bought_kg = 10
fragrance_price = 47.0
fragrance_bought_kg = 1
wick_price = 9.5
wicks_bought = 50
vessel_price = 31.2
vessels_bought = 12
label_price = 18.0
labels_bought = 100
sold_at = 24.0
"""
CONFIRMATION_TOML = f"""\
title = "Stoneware tumbler, coconut and rapeseed wax: the pick on fresh candles"
question = "Does the picked wick do it again on fresh candles, and better than the next choice?"
stage = "confirmation"
confirms = "screening"
{_STUDIO}{_PROTOCOL}# From here on in the units of this log.
[vessels."stoneware tumbler"]
inner_diameter_in = 2.913
inner_height_in = 3.07
brimful_volume_floz = 11.0
description = "glazed stoneware, straight wall"

[limits]
wall_caution_f = 140.0
wall_stop_f = 149.0
pool_depth_in = 0.512

[instruments]
scale_resolution_oz = 0.005
scale_repeatability_oz = 0.0015
clock_resolution_min = 1.0
"""
DEMO_WICKS = (
    WickTruth("flat braid", "2", 1, 3.4, 50, 380, 1.7, "not burned"),
    WickTruth("flat braid", "3", 2, 4.1, 34, 460, 1.9, "too small: leaves wax standing"),
    WickTruth("flat braid", "4", 3, 5.15, 6, 560, 2.1, "a little small"),
    WickTruth("flat braid", "5", 4, 6.1, 3, 670, 2.3, "not burned"),
    WickTruth("square braid", "1", 1, 4.7, 14, 520, 1.8, "not burned"),
    WickTruth("square braid", "2", 2, 5.6, 3, 640, 2.0, "right"),
    WickTruth("square braid", "3", 3, 6.5, 2.2, 780, 2.2, "a little large"),
    WickTruth("square braid", "4", 4, 7.5, 2, 950, 2.4, "not burned"),
    WickTruth("paper-cored", "3", 1, 5.0, 8, 700, 2.2, "not burned"),
    WickTruth(
        "paper-cored", "4", 2, 6.0, 3.2, 840, 2.4, "right, a little warm; its log has missed checks"
    ),
    WickTruth("paper-cored", "5", 3, 7.9, 1.8, 1010, 2.7, "too large: hot wall, soot, tall flame"),
    WickTruth("paper-cored", "6", 4, 8.8, 1.5, 1200, 3.0, "not burned"),
    WickTruth("wooden", "8", 1, 4.4, 15, None, 8.0, "not burned"),
    WickTruth("wooden", "10", 2, 5.3, 8, None, 10.0, "not burned"),
    WickTruth("wooden", "13", 3, 6.4, 4, None, 13.0, "not burned"),
)
SCREENED = (
    ("flat braid", "3"), ("flat braid", "4"), ("square braid", "2"), ("square braid", "3"),
    ("paper-cored", "4"), ("paper-cored", "5"),
)  # fmt: skip
SCREENING_EVENTS = (
    Event("drowned", "S03", 3, 142,
          note="small flame drowned in the pool, wax standing all round, not lit again"),
    Event("note", "S01", 4, note="wall of wax about 9 mm thick, growing"),
    Event("long wick", "S04", 4, 8.0, note="trimmer not at hand, wick left long"),
    Event("cold room", "S05", 2, 18.5, note="yard door left open"),
    Event("off centre", "S06", 0, 5.0, note="wick off centre, nearer the wall on one side"),
    Event("note", "S06", 1, note="wick seen to be off centre once the wax was clear"),
    Event("note", "S07", 2, note='<b>soot?</b> $5 scale, "new" =SUM(A1)'),
    Event("note", "S08", 5,
          note="flame leaned to the window,\nstraight again after the blind was closed"),
    Event("short rest", "S10", 4, 2.0, note="lit again too soon"),
    Event("long burn", "S11", 3, 310, note="timer set wrong"),
    Event("missed check", "S13", 3, at_min=120),
    Event("missed check", "S13", 6, at_min=180),
    Event("missed check", "S14", 2, at_min=180),
    Event("missed check", "S15", 4, at_min=120),
    Event("draught", "S14", 5, 0.9, note="draught from an open window"),
    Event("note", "S14", 5, note="window found open at the second check"),
    Event("stopped", "S17", 4, 184),
    Event("tall flame", "S17", 4, 79, at_min=180, note="flame over the limit, put out"),
    Event("note", "S17", 4, note="put out at once, test of this candle ended"),
    Event("note", "S16", 2, note="pool over the whole width at the first check"),
)  # fmt: skip
CONFIRMATION_EVENTS = (
    Event("note", "C02", 1, note="first burn, pool near the wall at the end"),
    Event("note", "C08", 3, note="wisp when the door was opened"),
)
SCREENING_CHANGES = (
    WickChange("S01", 6, "flat braid", "4", "left wax standing", 1,
               "old wick pulled while the wax was warm"),
    WickChange("S02", 5, "flat braid", "4", "left wax standing", 2),
)  # fmt: skip
# Twelve candles, poured and lit in turn so that no candidate has a
# corner of the bench or an hour of its own.
WAX_CELLS = (
    (("square braid", "2"), "coconut and rapeseed"), (("paper-cored", "4"), "coconut and rapeseed"),
    (("square braid", "2"), "rapeseed and beeswax"), (("paper-cored", "4"), "rapeseed and beeswax"),
)  # fmt: skip
# Slower by 0.7 g/h in the mean of the wicks; 0.1 g/h more on one
# wick than on the other is the interaction.
WAX_RECIPES = (
    Recipe(("W03", "W07", "W11"), -0.65, "rapeseed and beeswax", 41.0, "L12"),
    Recipe(("W04", "W08", "W12"), -0.75, "rapeseed and beeswax", 41.0, "L12"),
)
WAX_EVENTS = (
    Event("note", "W01", 2, note="pool over the whole width at the third check"),
    Event("draught", "W08", 5, 0.9, note="fan left on beside the bench"),
    Event("note", "W08", 5, note="fan found on at the third check, switched off"),
)
# The wick's mean burn rate of 5.6 g/h is that at the 8 % of the other
# batches; the line goes through that point.
LOADS, LOAD_SLOPE_G_PER_H = (0.0, 3.0, 6.0, 9.0), -0.06
LOAD_RECIPES = tuple(
    Recipe(
        tuple(f"F{i + 1:02d}" for i in range(place, 16, 4)),
        round(LOAD_SLOPE_G_PER_H * (load - 8), 2),
        fragrance_load_pct=load,
    )
    for place, load in enumerate(LOADS)
)
_SITTINGS = tuple(tuple(f"F{i + j + 1:02d}" for j in range(4)) for i in range(0, 16, 4))
# Six noses, untrained; one smells nothing and guesses. Each sitting has one candle of each load,
# one of them twice. Before that, blank checks: every candle without fragrance beside two of 9 %.
_CHECKS = tuple(
    (f"F{4 * i + 1:02d}", f"F{4 * ((i + more) % 4) + 4:02d}") for more in (0, 1) for i in range(4)
)
LOAD_PANEL = PanelPlan(
    noses=(
        Nose("P1", 0.2, 1.0), Nose("P2", -0.2, 1.2), Nose("P3", 0.5, 0.8),
        Nose("P4", 2.0, 0.0, 0.9), Nose("P5", -0.3, 1.0), Nose("P6", 0.1, 1.1),
    ),
    hot=((2, _SITTINGS[:2]), (3, _SITTINGS[2:]), (4, _SITTINGS[:2]), (5, _SITTINGS[2:])),
    cold=_SITTINGS,
    pairs=((6, "F03", "F04"), (6, "F07", "F08"), (6, "F02", "F03"), (6, "F06", "F07")),
    checks=_CHECKS,
    blocked=(("P2", "burn 4, sitting 2"),),
)  # fmt: skip
LOAD_EVENTS = (
    Event("note", "F04", 2, note="scent strong at the door"),
    Event("draught", "F11", 4, 0.8, note="door stood open during the burn"),
    Event("note", "F13", 3, note="hardly any scent, as poured without oil"),
)
EVENTS = {
    "screening": SCREENING_EVENTS,
    "confirmation": CONFIRMATION_EVENTS,
    "waxes": WAX_EVENTS,
    "loads": LOAD_EVENTS,
}


def demo_screening() -> SimulatedBatch:
    """The screening batch: six candidates, three candles each, burned to their end."""
    candles = tuple(
        (f"S{3 * i + j + 1:02d}", *wick) for i, wick in enumerate(SCREENED) for j in range(3)
    )
    bench = Bench(wall_stop_c=65.0)
    plan = BatchPlan(
        DEMO_WICKS, candles, bench, SCREENING_CHANGES, SCREENING_EVENTS, throw_burns=(2, 5)
    )
    return simulate_batch(plan, seed=SCREENING_SEED)


def demo_confirmation() -> SimulatedBatch:
    """The confirmation batch: six fresh candles of the pick, three of the next choice."""
    picks = [("square braid", "2")] * 6 + [("paper-cored", "4")] * 3
    candles = tuple((f"C{i + 1:02d}", *wick) for i, wick in enumerate(picks))
    bench = Bench(
        first_day="2026-03-02",
        first_lit="09:10",
        cure_days=14,
        wall_stop_c=65.0,
        scale_resolution_g=0.005 * UNITS["oz"].factor,
        wax_lot="L09",
    )
    plan = BatchPlan(DEMO_WICKS, candles, bench, events=CONFIRMATION_EVENTS)
    return simulate_batch(plan, seed=CONFIRMATION_SEED)


def demo_waxes() -> SimulatedBatch:
    """The waxes batch: two waxes on two wicks, three candles each, burned to their end."""
    candles = tuple((f"W{i + 1:02d}", *WAX_CELLS[i % 4][0]) for i in range(12))
    bench = Bench(first_day="2026-04-13", wall_stop_c=65.0, wax_lot="L11")
    plan = BatchPlan(DEMO_WICKS, candles, bench, events=WAX_EVENTS, recipes=WAX_RECIPES)
    return simulate_batch(plan, seed=WAXES_SEED)


def demo_loads() -> SimulatedBatch:
    """The loads batch: one wick at four loads, four candles each, smelled by six noses."""
    candles = tuple((f"F{i + 1:02d}", "square braid", "2") for i in range(16))
    bench = Bench(first_day="2026-05-18", wall_stop_c=65.0, wax_lot="L13")
    plan = BatchPlan(DEMO_WICKS, candles, bench, events=LOAD_EVENTS, recipes=LOAD_RECIPES)
    made = simulate_batch(plan, seed=LOADS_SEED)
    smelled = panel_tables(LOAD_PANEL, made.tables, seed=PANEL_SEED)
    return SimulatedBatch(made.tables | smelled, made.candle_truth)

"""The demo batches of an invented studio, and their README. ``python -m candlelab.demo FOLDER`` writes them."""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path

from candlelab import simulate
from candlelab.bench import EVENT_KINDS, BatchPlan, Bench, Event, Model, WickChange, WickTruth
from candlelab.columns import UNITS
from candlelab.logwriter import SPREADSHEET, write_batch
from candlelab.simulate import SimulatedBatch, simulate_batch, suited_rate

SCREENING_SEED, CONFIRMATION_SEED = 20260241, 20260183

_TOML = """# Invented demonstration data: no such studio, vessel, wax or wick exists. See ../README.md.
studio = "Saltmarsh Lane Candles"
time_zone = "Europe/Lisbon"
load_basis = "wax"

[waxes."coconut and rapeseed"]
heat_of_combustion_kj_per_g = 40.0
cure_days = 14
description = "invented blend of coconut and rapeseed wax"

[protocol]
burn_h = 4.0
check_every_min = 60
cure_days = 14

# Targets are in g, mm, degrees Celsius and hours, whatever the log is kept in.
[targets]
burn_rate_g_per_h = {low = 5.0, high = 6.5}
wall_max_c = {high = 60}
full_pool_h = {low = 2, high = 4}
wax_left_pct = {high = 5}
life_h = {low = 32}

"""
SCREENING_TOML = f"""title = "Stoneware tumbler, coconut and rapeseed wax: which wick?"
question = "Which of three wick series, and which size, suits the stoneware tumbler?"
stage = "screening"
{_TOML}[vessels."stoneware tumbler"]
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
CONFIRMATION_TOML = f"""title = "Stoneware tumbler, coconut and rapeseed wax: the pick on fresh candles"
question = "Does the picked wick do it again on fresh candles, and better than the runner-up?"
stage = "confirmation"
confirms = "screening"
{_TOML}# From here on in the units of this log.
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
    WickTruth("flat braid", "2", 1, 3.4, 50, 380, 1.7, "not burnt"),
    WickTruth("flat braid", "3", 2, 4.1, 34, 460, 1.9, "too small: leaves wax standing"),
    WickTruth("flat braid", "4", 3, 5.15, 6, 560, 2.1, "a little small"),
    WickTruth("flat braid", "5", 4, 6.1, 3, 670, 2.3, "not burnt"),
    WickTruth("square braid", "1", 1, 4.7, 14, 520, 1.8, "not burnt"),
    WickTruth("square braid", "2", 2, 5.6, 3, 640, 2.0, "right"),
    WickTruth("square braid", "3", 3, 6.5, 2.2, 780, 2.2, "a little large"),
    WickTruth("square braid", "4", 4, 7.5, 2, 950, 2.4, "not burnt"),
    WickTruth("paper-cored", "3", 1, 5.0, 8, 700, 2.2, "not burnt"),
    WickTruth("paper-cored", "4", 2, 6.0, 3.2, 840, 2.4, "right, a little warm; its log has missed checks"),
    WickTruth("paper-cored", "5", 3, 7.9, 1.8, 1010, 2.7, "too large: hot wall, soot, tall flame"),
    WickTruth("paper-cored", "6", 4, 8.8, 1.5, 1200, 3.0, "not burnt"),
    WickTruth("wooden", "8", 1, 4.4, 15, None, 8.0, "not burnt"),
    WickTruth("wooden", "10", 2, 5.3, 8, None, 10.0, "not burnt"),
    WickTruth("wooden", "13", 3, 6.4, 4, None, 13.0, "not burnt"),
)
SCREENED = (
    ("flat braid", "3"), ("flat braid", "4"), ("square braid", "2"), ("square braid", "3"),
    ("paper-cored", "4"), ("paper-cored", "5"),
)  # fmt: skip
SCREENING_EVENTS = (
    Event("drowned", "S03", 3, 142, note="small flame drowned in the pool, wax standing all round, not lit again"),
    Event("note", "S01", 4, note="wall of wax about 9 mm thick, growing"),
    Event("long wick", "S04", 4, 8.0, note="trimmer not at hand, wick left long"),
    Event("cold room", "S05", 2, 18.5, note="yard door left open"),
    Event("off centre", "S06", 0, 5.0, note="wick off centre, nearer the wall on one side"),
    Event("note", "S06", 1, note="wick seen to be off centre once the wax was clear"),
    Event("note", "S07", 2, note='<b>soot?</b> $5 scale, "new" =SUM(A1)'),
    Event("note", "S08", 5, note="flame leaned to the window,\nstraight again after the blind was closed"),
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
)
CONFIRMATION_EVENTS = (
    Event("note", "C02", 1, note="first burn, pool near the wall at the end"),
    Event("note", "C08", 3, note="wisp when the door was opened"),
)
SCREENING_CHANGES = (
    WickChange("S01", 6, "flat braid", "4", "left wax standing", 1, "old wick pulled while the wax was warm"),
    WickChange("S02", 5, "flat braid", "4", "left wax standing", 2),
)
_README = """# Demonstration data

**Invented.** Saltmarsh Lane Candles does not exist, nor do its wicks, its vessel, its wax and its fragrance.
Nothing here was measured; no conclusion about any real candle may be drawn from it.

An invented studio looks for a wick for a stoneware tumbler (inner diameter 74 mm) with about 200 g of a
coconut and rapeseed wax, in two batches:

- `screening/`: six candidates (three wick series, two sizes each), three candles each, burnt to the end in burns
  of 4 h with a check every hour. In grams, millimetres and degrees Celsius.
- `confirmation/`: fresh candles, six of the pick (square braid 2) and three of the runner-up (paper-cored 4).
  Kept another way on purpose: ounces, inches, degrees Fahrenheit and hours, semicolons, decimal commas, dates as
  day.month.year, headers such as `Mass before [oz]`, and a byte order mark, as some spreadsheets write them.

## How it was made

    python -m candlelab.demo data/demo

writes this folder again, byte for byte: screening with seed {seed}, confirmation with seed {second_seed}
(`numpy.random.default_rng`). This page is written by the same command.

**The two seeds were picked**, each out of 300 tried, so that every candidate shows its character on so few candles:
2 of 300 screening batches and 19 of 300 confirmation batches were as tidy as was asked for. So these batches teach the
steps; how often such a test is right must be learnt from other seeds, as `tests/test_recovery.py` does.

## What is true of every wick

The suited burn rate of this vessel in the model is {suited:.2f} g/h. The mean burn rate is that of a half-used
candle. A wick may be listed and not burnt, so that a next size exists.

{wicks}

## What was planted

{planted}

## What became of every candle

A last burn "self" with little wax left is a candle burnt to its end.

{candles}

## The model

{formulas}

Soot is the whole part of a hidden normal scale, held to 0-3; the mushroom is its mean times a gamma variable of mean 1
and relative standard deviation 0.29; aftersmoke is lognormal (0.3 on the log scale). Share-used part of the wall:
0.85 + 0.15 times the share used; pool part: 0.55 + 0.45 times the pool share. A flame shrinks as wax gathers around
a wick whose reach is under 95 % of the inner diameter. With an old wick 0.3-1 g of wax leaves the candle. A candle
with less than half an hour of wax in reach goes out shortly before the timer. A burn is put out two minutes after a
wall reading over 65 °C. Secondary ignition, damage and tipping never happen. All of this paragraph is invented, as are
the numbers below, save those tagged otherwise: [lit] a paper, [practice] common practice with no source.

Heat of combustion is 40 kJ/g, recalled for vegetable waxes (37-42) and not looked up; paraffin has 43.8 kJ/g (Hamins,
Bundy, Dillon, J. Fire Prot. Eng. 15(4), 2005) [lit]. Burn rates stay near the 4.4-7.3 g/h reported for single-wick
pillar candles (Indoor Air, ultrafine particles from five candle types, abstract) [lit].

{model}

What the model leaves out: no wick, wax or fragrance chemistry; candles do not warm each other; a room changes only
burn rate and wall; readings miss nothing but what was planted.
"""


def demo_screening() -> SimulatedBatch:
    """The screening batch of the demo: six candidates, three candles each, burnt to their end."""
    candles = tuple((f"S{3 * i + j + 1:02d}", *wick) for i, wick in enumerate(SCREENED) for j in range(3))
    bench = Bench(wall_stop_c=65.0)
    plan = BatchPlan(DEMO_WICKS, candles, bench, SCREENING_CHANGES, SCREENING_EVENTS, throw_burns=(2, 5))
    return simulate_batch(plan, seed=SCREENING_SEED)


def demo_confirmation() -> SimulatedBatch:
    """The confirmation batch of the demo: six fresh candles of the pick, three of the runner-up."""
    picks = [("square braid", "2")] * 6 + [("paper-cored", "4")] * 3
    candles = tuple((f"C{i + 1:02d}", *wick) for i, wick in enumerate(picks))
    bench = Bench(
        first_day="2026-03-02", first_lit="09:10", cure_days=14, wall_stop_c=65.0,
        scale_resolution_g=0.005 * UNITS["oz"].factor, wax_lot="L09",
    )  # fmt: skip
    plan = BatchPlan(DEMO_WICKS, candles, bench, events=CONFIRMATION_EVENTS)
    return simulate_batch(plan, seed=CONFIRMATION_SEED)


def write_demo(folder) -> None:
    """Write both demo batches and their README into a folder; the same bytes every time."""
    folder = Path(folder)
    screening, confirmation = demo_screening(), demo_confirmation()
    write_batch(screening.tables, SCREENING_TOML, folder / "screening")
    write_batch(confirmation.tables, CONFIRMATION_TOML, folder / "confirmation", style=SPREADSHEET)
    (folder / "README.md").write_text(_readme(screening, confirmation), encoding="utf-8", newline="\n")


def _readme(screening, confirmation):
    """Text of the demo's README, from the plans and from what happened, so that it is always true."""
    suited = suited_rate(BatchPlan(DEMO_WICKS, ()))
    wicks = [(f"{w.wick_series} {w.wick_size}", w.rate_g_per_h, f"{w.rate_g_per_h / suited:.2f}", w.left_pct, w.character) for w in DEMO_WICKS]
    lists = (("screening", SCREENING_EVENTS), ("confirmation", CONFIRMATION_EVENTS))
    planted = [_planted(event, batch) for batch, events in lists for event in events]
    for c in SCREENING_CHANGES:
        what = f"before this burn: wick changed to {c.wick_series} {c.wick_size}, {c.reason}, rest {c.rest_days} d"
        planted.append(("screening", c.candle, c.before_burn, what, _plain(c.note)))
    planted += _wall_stops(screening)
    planted.sort(key=lambda row: (row[0] != "screening", row[1], 0 if row[2] == "all" else row[2]))
    lines = simulate.__doc__.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("    rate "))
    numbers = [(f.name, f"{f.default:.4g}", *f.metadata.values()) for f in dataclasses.fields(Model)]
    outcomes = _outcomes("screening", screening) + _outcomes("confirmation", confirmation)
    head = "batch|candle|first wick|burns|rate effect of the candle (g/h)|wax truly left (%)|last burn ended by"
    return _README.format(
        seed=SCREENING_SEED, second_seed=CONFIRMATION_SEED, suited=suited, formulas="\n".join(lines[start : start + 6]),
        wicks=_markdown("wick|mean burn rate (g/h)|rate / suited rate|wax out of reach (%)|character", wicks),
        planted=_markdown("batch|candle|burn|what|note in the log", planted),
        candles=_markdown(head, outcomes), model=_markdown("name|value|unit|tag|meaning", numbers),
    )  # fmt: skip


def _planted(event, batch):
    what = EVENT_KINDS[event.kind].format(value=event.value, at_min=event.at_min)
    return batch, event.candle, event.burn or "all", what, _plain(event.note)


def _wall_stops(simulated):
    """Screening burns that the bench ended because the wall read more than its stop limit: nobody planted these."""
    burns = simulated.tables["burns"]
    rows = burns[(burns["ended_by"] == "stopped") & burns["note"].eq("")]
    what = "put out: wall over 65 °C (follows from the model)"
    return [("screening", c, b, what, "") for c, b in zip(rows["candle"], rows["burn"], strict=True)]


def _outcomes(batch, simulated):
    table = simulated.tables["candles"].merge(simulated.candle_truth, on="candle")
    table = table.merge(simulated.tables["burns"].groupby("candle", as_index=False).last(), on="candle")
    return [
        (batch, c.candle, f"{c.wick_series} {c.wick_size}", c.burn, f"{c.candle_effect_g_per_h:+.2f}",
         f"{100 * c.left_g / c.fill_mass_g:.1f}", c.ended_by)
        for c in table.itertuples()
    ]  # fmt: skip


def _plain(text):
    """Text for a cell of a Markdown table: as code, on one line."""
    return f"`{text}`".replace("\n", " (new line) ").replace("|", "/") if text else ""


def _markdown(head, rows):
    lines = [f"| {' | '.join(head.split('|'))} |", f"|{'---|' * (head.count('|') + 1)}"]
    return "\n".join(lines + [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows])


if __name__ == "__main__":
    write_demo(sys.argv[1] if len(sys.argv) > 1 else "data/demo")

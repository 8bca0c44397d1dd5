"""The demo batches of an invented studio, and their README. ``python -m candlelab.simulate.demo
FOLDER`` writes them."""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path

from candlelab.logs.writer import PLAIN, SPREADSHEET, write_batch
from candlelab.simulate import batch as simulate
from candlelab.simulate import kitchen
from candlelab.simulate.batch import suited_rate
from candlelab.simulate.demo_batches import (
    CONFIRMATION_EVENTS,
    CONFIRMATION_SEED,
    CONFIRMATION_TOML,
    DEMO_WICKS,
    LOAD_EVENTS,
    LOAD_RECIPES,
    LOAD_SLOPE_G_PER_H,
    LOAD_THROW,
    LOADS_SEED,
    LOADS_TOML,
    SCREENING_CHANGES,
    SCREENING_EVENTS,
    SCREENING_SEED,
    SCREENING_TOML,
    WAX_EVENTS,
    WAX_RECIPES,
    WAXES_SEED,
    WAXES_TOML,
    demo_confirmation,
    demo_loads,
    demo_screening,
    demo_waxes,
)
from candlelab.simulate.model import EVENT_KINDS, BatchPlan, Model

TOMLS = {
    "screening": SCREENING_TOML,
    "confirmation": CONFIRMATION_TOML,
    "waxes": WAXES_TOML,
    "loads": LOADS_TOML,
    "kitchen": kitchen.TOML,
}
STYLES = {"confirmation": SPREADSHEET, "kitchen": kitchen.STYLE}
EVENTS = {
    "screening": SCREENING_EVENTS,
    "confirmation": CONFIRMATION_EVENTS,
    "waxes": WAX_EVENTS,
    "loads": LOAD_EVENTS,
    "kitchen": kitchen.EVENTS,
}
_README = """# Demonstration data

**Invented.** Saltmarsh Lane Candles does not exist, nor do its wicks, its vessel, its waxes and its fragrance.
Nothing here was measured; no conclusion about any real candle may be drawn from it.

An invented studio looks for a wick for a stoneware tumbler (inner diameter 74 mm) with about 200 g of a
coconut and rapeseed wax, in two batches, and asks about wax and fragrance in two more. A friend of the studio makes
candles at the kitchen table and logs as most people do:

- `screening/`: six candidates (three wick series, two sizes each), three candles each, burnt to the end in burns
  of 4 h with a check every hour. In grams, millimetres and degrees Celsius.
- `confirmation/`: fresh candles, six of the pick (square braid 2) and three of the next choice by burn rate (paper-cored 4).
  Kept another way on purpose: ounces, inches, degrees Fahrenheit and hours, semicolons, decimal commas, dates as
  day.month.year, headers such as `Mass before [oz]`, and a byte order mark, as some spreadsheets write them.
- `waxes/`: two waxes (coconut and rapeseed; rapeseed and beeswax) on each of two wicks (square braid 2, paper-cored 4),
  three candles each, burnt to the end.
- `loads/`: one wick (square braid 2) with fig leaf at 0, 3, 6 and 9 % of the wax, four candles each, burnt to the end.
  Two assessors, by code, scored the scent of every candle in its second and fifth burn.
- `kitchen/`: the friend's log. 18 candles in a small tin and a stoneware tumbler, with one wick or three, some wicks on
  three candles and some on one. Ounces, inches, degrees Fahrenheit, dates as month/day/year. With the accidents of a real
  log: a cracked tin, a drowned wick, a flame far too tall, last burns of a few minutes, a forgotten check, a wick change,
  a candle that still burns.

In `plan/` lies the plan of a batch that has not been poured: `plan.toml` and the `wicks.csv` beside it. They were written by hand, and
`candlelab plan plan.toml --out next-batch` makes a batch folder of them.

## How it was made

    python -m candlelab.simulate.demo data/demo

writes this folder again, byte for byte: screening with seed {seed}, confirmation with seed {second_seed},
waxes with seed {third_seed}, loads with seed {fourth_seed}, kitchen with seeds from {kitchen_seed} on, one for each
vessel and number of wicks (`numpy.random.default_rng`). This page is written by the same command.

**The seeds of screening and confirmation were picked**, each out of 300 tried, so that every candidate shows its
character on so few candles: 2 of 300 screening batches and 19 of 300 confirmation batches were as tidy as was asked for.
So these batches teach the steps; how often such a test is right must be learnt from other seeds, as
`tests/test_recovery.py` does. The seeds of waxes, loads and kitchen were not picked: each is a date, and what came out
was kept. The scale of soot was set so that the candles on the largest wick of screening do not smoke before their sixth
burn; fills and wicks of kitchen so that some last burns take a few minutes.

## What is true of every wick

The suited burn rate of this vessel in the model is {suited:.2f} g/h. The mean burn rate is that of a half-used
candle. A wick may be listed and not burnt, so that a next size exists.

{wicks}

In kitchen, the vessels have suited burn rates of their own. What is true of a wick holds for all wicks of a candle
together.

{kitchen_wicks}

## What is true of the waxes and loads

Wax and load change the mean burn rate and, through it, what follows from it; the wax also changes the heat of
combustion (40 kJ/g; 41 kJ/g with beeswax). Wax out of reach stays that of the wick.

{recipes}

- Rapeseed and beeswax truly burns {wax_effect:.2f} g/h slower than coconut and rapeseed in the mean of the two wicks. It
  does so by {wax_more:.2f} g/h more on paper-cored 4 than on square braid 2: a true interaction, too small for twelve candles
  to show, so what these candles seem to say about it is luck.
- Each % of fig leaf truly takes {slope:.2f} g/h off the burn rate, along a straight line without a bend.
- The scent score has the mean 1 + {throw_slope:g} x / (1 + x / {throw_half:g}) for x g/h of fragrance: it rises and flattens. In
  screening it is 1 + 12 x. An assessor adds 0.3 or takes 0.3 off, and each score scatters by 0.7 (all invented).

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
with less than half an hour of wax in reach goes out shortly before the timer; in kitchen it burns on, and its last burn
may take a few minutes. Whoever watches puts a candle out two minutes after a wall reading over 65 °C (in kitchen over
150 °F) or steady black smoke, and does not light it again. Secondary ignition, damage and tipping never happen unless
planted. Three wicks in kitchen have 2.7 mm of flame per g/h, a pool of 0.94 mm/W and a wall of 0.34 °C/W. All of this
paragraph is invented, as are the numbers below, save those tagged otherwise: [lit] a paper, [practice] common practice
with no source.

Heat of combustion is 40 kJ/g, recalled for vegetable waxes (37-42) and not looked up; paraffin has 43.8 kJ/g (Hamins,
Bundy, Dillon, J. Fire Prot. Eng. 15(4), 2005) [lit]. Burn rates stay near the 4.4-7.3 g/h reported for single-wick
pillar candles (Indoor Air, ultrafine particles from five candle types, abstract) [lit].

{model}

What the model leaves out: no wick, wax or fragrance chemistry; candles do not warm each other; a room changes only
burn rate and wall; readings miss nothing but what was planted.
"""


def write_demo(folder) -> None:
    """Write the five demo batches and their README into a folder; the same bytes every time."""
    folder = Path(folder)
    made = {
        "screening": demo_screening(),
        "confirmation": demo_confirmation(),
        "waxes": demo_waxes(),
        "loads": demo_loads(),
        "kitchen": kitchen.demo_kitchen(),
    }
    for name, toml in TOMLS.items():
        write_batch(made[name].tables, toml, folder / name, style=STYLES.get(name, PLAIN))
    (folder / "README.md").write_text(_readme(made), encoding="utf-8", newline="\n")


def _readme(made):
    """Text of the demo's README, from the plans and from what happened, so that it is always
    true."""
    suited = suited_rate(BatchPlan(DEMO_WICKS, ()))
    wicks = [
        (
            f"{w.wick_series} {w.wick_size}",
            w.rate_g_per_h,
            f"{w.rate_g_per_h / suited:.2f}",
            w.left_pct,
            w.character,
        )
        for w in DEMO_WICKS
    ]
    lines = simulate.__doc__.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("    rate "))
    numbers = [
        (f.name, f"{f.default:.4g}", *f.metadata.values()) for f in dataclasses.fields(Model)
    ]
    outcomes = [row for batch, simulated in made.items() for row in _outcomes(batch, simulated)]
    head = (
        "batch|candle|first wick|burns|rate effect of the candle (g/h)|wax truly left (%)|last "
        "burn ended by"
    )
    square, paper = (-recipe.rate_effect_g_per_h for recipe in WAX_RECIPES)
    return _README.format(
        seed=SCREENING_SEED,
        second_seed=CONFIRMATION_SEED,
        third_seed=WAXES_SEED,
        fourth_seed=LOADS_SEED,
        kitchen_seed=kitchen.SEED,
        suited=suited,
        formulas="\n".join(lines[start : start + 6]),
        wax_effect=(square + paper) / 2,
        wax_more=paper - square,
        slope=-LOAD_SLOPE_G_PER_H,
        throw_slope=LOAD_THROW["throw_slope"],
        throw_half=LOAD_THROW["throw_half_g_per_h"],
        wicks=_markdown(
            "wick|mean burn rate (g/h)|rate / suited rate|wax out of reach (%)|character", wicks
        ),
        kitchen_wicks=_markdown(
            "vessel|wick|mean burn rate (g/h)|rate / suited rate|wax out of reach (%)|character",
            _kitchen_wicks(),
        ),
        recipes=_markdown(
            "batch|wick|wax|fig leaf (%)|candles|true mean burn rate (g/h)", _recipes(made)
        ),
        planted=_markdown("batch|candle|burn|what|note in the log", _all_planted(made)),
        candles=_markdown(head, outcomes),
        model=_markdown("name|value|unit|tag|meaning", numbers),
    )


def _kitchen_wicks():
    """A row for each wick of the kitchen batch in its vessel, with its true burn rate."""
    rows = []
    for plan, count in kitchen.plans():
        suited = suited_rate(plan)
        rows += [
            (
                plan.bench.vessel,
                _wick_name(w.wick_series, w.wick_size, count),
                w.rate_g_per_h,
                f"{w.rate_g_per_h / suited:.2f}",
                w.left_pct,
                w.character,
            )
            for w in plan.wicks
        ]
    return rows


def _wick_name(series, size, count):
    return f"{series} {size}" + (f" x{count}" if count > 1 else "")


def _recipes(made):
    """A row for each wick and recipe of the batches about waxes and loads, with its true burn
    rate."""
    rate = {(w.wick_series, w.wick_size): w.rate_g_per_h for w in DEMO_WICKS}
    rows = []
    for batch, recipes in (("waxes", WAX_RECIPES), ("loads", LOAD_RECIPES)):
        effect = {
            candle: recipe.rate_effect_g_per_h for recipe in recipes for candle in recipe.candles
        }
        same = ["wick_series", "wick_size", "wax", "fragrance_load_pct"]
        for (series, size, wax, load), own in (
            made[batch].tables["candles"].groupby(same, sort=False)
        ):
            true = rate[series, size] + effect.get(own["candle"].iloc[0], 0.0)
            rows.append(
                (
                    batch,
                    f"{series} {size}",
                    wax,
                    f"{load:g}",
                    ", ".join(own["candle"]),
                    f"{true:.2f}",
                )
            )
    return rows


def _all_planted(made):
    """A row for each planted event, wick change and stop at the wall's limit, in the order of
    batches and candles."""
    rows = [_planted(event, batch) for batch, events in EVENTS.items() for event in events]
    changes = {"screening": SCREENING_CHANGES, "kitchen": kitchen.CHANGES}
    for batch, c in ((name, one) for name, own in changes.items() for one in own):
        what = (
            f"before this burn: wick changed to {c.wick_series} {c.wick_size}, {c.reason}, rest "
            f"{c.rest_days} d"
        )
        rows.append((batch, c.candle, c.before_burn, what, _plain(c.note)))
    rows += [row for batch, simulated in made.items() for row in _put_out(batch, simulated)]
    order = list(EVENTS)
    return sorted(
        rows, key=lambda row: (order.index(row[0]), row[1], 0 if row[2] == "all" else row[2])
    )


def _planted(event, batch):
    what = EVENT_KINDS[event.kind].format(value=event.value, at_min=event.at_min)
    return batch, event.candle, event.burn or "all", what, _plain(event.note)


def _put_out(batch, simulated):
    """Candles put out at a reading that nobody planted: a hot wall, steady black smoke."""
    burns = simulated.tables["burns"]
    burns = burns[(burns["ended_by"] == "stopped") & burns["note"].eq("")]
    read = simulated.tables["checks"].groupby(["candle", "burn"]).last()
    rows = []
    for candle, burn in zip(burns["candle"], burns["burn"], strict=True):
        smoke = read.at[(candle, burn), "soot"] == "3"
        why = "steady black smoke" if smoke else "wall over 65 °C"
        what = f"put out: {why} (follows from the model); the test of this candle ends here"
        rows.append((batch, candle, burn, what, ""))
    return rows


def _outcomes(batch, simulated):
    table = simulated.tables["candles"].merge(simulated.candle_truth, on="candle")
    table = table.merge(
        simulated.tables["burns"].groupby("candle", as_index=False).last(), on="candle"
    )
    return [
        (
            batch,
            c.candle,
            _wick_name(c.wick_series, c.wick_size, c.wick_count),
            c.burn,
            f"{c.candle_effect_g_per_h:+.2f}",
            f"{100 * c.left_g / c.fill_mass_g:.1f}",
            c.ended_by,
        )
        for c in table.itertuples()
    ]


def _plain(text):
    """Text for a cell of a Markdown table: as code, on one line."""
    return f"`{text}`".replace("\n", " (new line) ").replace("|", "/") if text else ""


def _markdown(head, rows):
    lines = [f"| {' | '.join(head.split('|'))} |", f"|{'---|' * (head.count('|') + 1)}"]
    return "\n".join(lines + [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows])


if __name__ == "__main__":
    write_demo(sys.argv[1] if len(sys.argv) > 1 else "data/demo")

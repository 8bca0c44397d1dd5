"""The README of the demo: how it was made, what is true of it, and what was planted.

Its text stands in ``demo_readme.md``; its tables follow from the plans and
from what happened, so that it is always true.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from candlelab.simulate import batch as simulate
from candlelab.simulate.demo_batches import (
    CONFIRMATION_SEED,
    DEMO_WICKS,
    EVENTS,
    LOAD_RECIPES,
    LOAD_SLOPE_G_PER_H,
    LOAD_THROW,
    LOADS_SEED,
    SCREENING_CHANGES,
    SCREENING_SEED,
    WAX_RECIPES,
    WAXES_SEED,
)
from candlelab.simulate.model import EVENT_KINDS, BatchPlan, Model
from candlelab.simulate.state import suited_rate

_TEXT = Path(__file__).with_name("demo_readme.md")
_WICKS = "wick|mean burn rate (g/h)|rate / suited rate|wax out of reach (%)|character"
_RECIPES = "batch|wick|wax|fig leaf (%)|candles|true mean burn rate (g/h)"
_PLANTED = "batch|candle|burn|what|note in the log"
_CANDLES = (
    "batch|candle|first wick|burns|rate effect of the candle (g/h)|wax truly left (%)|last burn "
    "ended by"
)
_MODEL = "name|value|unit|tag|meaning"
_FORMULAS = 6  # lines of the model, from the one of the burn rate


def readme(made: dict[str, simulate.SimulatedBatch]) -> str:
    """Text of the README of the batches that were made, by their names."""
    suited = suited_rate(BatchPlan(DEMO_WICKS, ()))
    lines = simulate.__doc__.splitlines()
    start = next(i for i, line in enumerate(lines) if line.startswith("    rate "))
    outcomes = [row for batch, simulated in made.items() for row in _outcomes(batch, simulated)]
    square, paper = (-recipe.rate_effect_g_per_h for recipe in WAX_RECIPES)
    return _TEXT.read_text(encoding="utf-8").format(
        seed=SCREENING_SEED,
        second_seed=CONFIRMATION_SEED,
        third_seed=WAXES_SEED,
        fourth_seed=LOADS_SEED,
        suited=suited,
        formulas="\n".join(lines[start : start + _FORMULAS]),
        wax_effect=(square + paper) / 2,
        wax_more=paper - square,
        slope=-LOAD_SLOPE_G_PER_H,
        throw_slope=LOAD_THROW["throw_slope"],
        throw_half=LOAD_THROW["throw_half_g_per_h"],
        wicks=_markdown(_WICKS, _wicks(suited)),
        recipes=_markdown(_RECIPES, _recipes(made)),
        planted=_markdown(_PLANTED, _all_planted(made)),
        candles=_markdown(_CANDLES, outcomes),
        model=_markdown(_MODEL, _model()),
    )


def _wicks(suited):
    rows = []
    for w in DEMO_WICKS:
        name, rate = f"{w.wick_series} {w.wick_size}", w.rate_g_per_h
        rows.append((name, rate, f"{rate / suited:.2f}", w.left_pct, w.character))
    return rows


def _model():
    return [(f.name, f"{f.default:.4g}", *f.metadata.values()) for f in dataclasses.fields(Model)]


def _recipes(made):
    """A row for each wick and recipe of the batches about waxes and loads, with its true rate."""
    rate = {(w.wick_series, w.wick_size): w.rate_g_per_h for w in DEMO_WICKS}
    same, rows = ["wick_series", "wick_size", "wax", "fragrance_load_pct"], []
    for batch, recipes in (("waxes", WAX_RECIPES), ("loads", LOAD_RECIPES)):
        effect = {candle: r.rate_effect_g_per_h for r in recipes for candle in r.candles}
        candles = made[batch].tables["candles"]
        for (series, size, wax, load), own in candles.groupby(same, sort=False):
            true = rate[series, size] + effect.get(own["candle"].iloc[0], 0.0)
            wick, names = f"{series} {size}", ", ".join(own["candle"])
            rows.append((batch, wick, wax, f"{load:g}", names, f"{true:.2f}"))
    return rows


def _all_planted(made):
    """A row for each planted event, wick change and stop at the wall's limit.

    In the order of batches and candles.
    """
    rows = [_planted(event, batch) for batch, events in EVENTS.items() for event in events]
    for c in SCREENING_CHANGES:
        to = f"{c.wick_series} {c.wick_size}, {c.reason}, rest {c.rest_days} d"
        what = f"before this burn: wick changed to {to}"
        rows.append(("screening", c.candle, c.before_burn, what, _plain(c.note)))
    rows += [row for batch, simulated in made.items() for row in _wall_stops(batch, simulated)]
    order = list(EVENTS)
    return sorted(
        rows, key=lambda row: (order.index(row[0]), row[1], 0 if row[2] == "all" else row[2])
    )


def _planted(event, batch):
    what = EVENT_KINDS[event.kind].format(value=event.value, at_min=event.at_min)
    return batch, event.candle, event.burn or "all", what, _plain(event.note)


def _wall_stops(batch, simulated):
    """Burns that the bench ended because the wall read more than its stop limit.

    Nobody planted these.
    """
    burns = simulated.tables["burns"]
    rows = burns[(burns["ended_by"] == "stopped") & burns["note"].eq("")]
    what = "put out: wall over 65 °C (follows from the model)"
    return [(batch, c, b, what, "") for c, b in zip(rows["candle"], rows["burn"], strict=True)]


def _outcomes(batch, simulated):
    last = simulated.tables["burns"].groupby("candle", as_index=False).last()
    table = simulated.tables["candles"].merge(simulated.candle_truth, on="candle")
    rows = []
    for c in table.merge(last, on="candle").itertuples():
        wick, left = f"{c.wick_series} {c.wick_size}", 100 * c.left_g / c.fill_mass_g
        effect = f"{c.candle_effect_g_per_h:+.2f}"
        rows.append((batch, c.candle, wick, c.burn, effect, f"{left:.1f}", c.ended_by))
    return rows


def _plain(text):
    """Text for a cell of a Markdown table: as code, on one line."""
    return f"`{text}`".replace("\n", " (new line) ").replace("|", "/") if text else ""


def _markdown(head, rows):
    lines = [f"| {' | '.join(head.split('|'))} |", f"|{'---|' * (head.count('|') + 1)}"]
    return "\n".join(lines + [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows])

"""The README of the demo: how it was made, what is true of it, and what was planted.

Its text stands in ``demo_readme.md``; its tables follow from the plans and
from what happened, so that it is always true.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path

from candlelab.simulate import batch as simulate
from candlelab.simulate import kitchen
from candlelab.simulate.demo_batches import (
    CONFIRMATION_SEED,
    DEMO_WICKS,
    EVENTS,
    LOAD_PANEL,
    LOAD_RECIPES,
    LOAD_SLOPE_G_PER_H,
    LOADS_SEED,
    PANEL_SEED,
    SCREENING_CHANGES,
    SCREENING_SEED,
    WAX_RECIPES,
    WAXES_SEED,
)
from candlelab.simulate.model import EVENT_KINDS, BatchPlan, Model
from candlelab.simulate.panel import strength
from candlelab.simulate.state import suited_rate

_TEXT = Path(__file__).with_name("demo_readme.md")
_WICKS = "wick|mean burn rate (g/h)|rate / suited rate|wax out of reach (%)|character"
_KITCHEN_WICKS = f"vessel|{_WICKS}"
_RECIPES = "batch|wick|wax|fig leaf (%)|candles|true mean burn rate (g/h)"
_PLANTED = "batch|candle|burn|what|note in the log"
_CANDLES = (
    "batch|candle|first wick|burns|rate effect of the candle (g/h)|wax truly left (%)|last burn "
    "ended by"
)
_MODEL = "name|value|unit|tag|meaning"
_NOSES = "nose|level|use of the scale|noise"
_STRENGTHS = "load %|fragrance released g/h|hot throw|cold throw"
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
        kitchen_seed=kitchen.SEED,
        suited=suited,
        formulas="\n".join(lines[start : start + _FORMULAS]),
        wax_effect=(square + paper) / 2,
        wax_more=paper - square,
        slope=-LOAD_SLOPE_G_PER_H,
        panel=LOAD_PANEL,
        panel_seed=PANEL_SEED,
        noses=_markdown(_NOSES, [dataclasses.astuple(nose) for nose in LOAD_PANEL.noses]),
        strengths=_markdown(_STRENGTHS, _strengths(made["loads"].tables)),
        wicks=_markdown(_WICKS, _wicks(suited)),
        kitchen_wicks=_markdown(_KITCHEN_WICKS, _kitchen_wicks()),
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


def _kitchen_wicks():
    """A row for each wick of the kitchen batch in its vessel, with its true burn rate."""
    rows = []
    for plan, count in kitchen.plans():
        suited = suited_rate(plan)
        for w in plan.wicks:
            name, rate = _wick(w.wick_series, w.wick_size, count), w.rate_g_per_h
            share = f"{rate / suited:.2f}"
            rows.append((plan.bench.vessel, name, rate, share, w.left_pct, w.character))
    return rows


def _wick(series, size, count):
    return f"{series} {size}" + (f" x{count}" if count > 1 else "")


def _model():
    return [(f.name, f"{f.default:.4g}", *f.metadata.values()) for f in dataclasses.fields(Model)]


def _strengths(tables):
    """A row for each load: what it releases, and how strong it truly smells, hot and cold."""
    burns = tables["burns"].merge(tables["candles"][["candle", "fragrance_load_pct"]])
    burns = burns[burns["burn"].isin([burn for burn, _ in LOAD_PANEL.hot])]
    used = burns["mass_before_g"] - burns["mass_after_g"]
    hours = (burns["out_at"] - burns["lit_at"]).dt.total_seconds() / 3600
    load = burns["fragrance_load_pct"]
    released = (used / hours * load / (100 + load)).groupby(load).mean()
    return [
        (f"{pct:g}", f"{x:.2f}", f"{strength(LOAD_PANEL, released_g_per_h=x):.2f}",
         f"{strength(LOAD_PANEL, load_pct=pct):.2f}")
        for pct, x in released.items()
    ]  # fmt: skip


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
    """A row for each planted event, wick change and candle put out at a reading.

    In the order of batches and candles.
    """
    planted = EVENTS | {"kitchen": kitchen.EVENTS}
    rows = [_planted(event, batch) for batch, events in planted.items() for event in events]
    changes = [("screening", c) for c in SCREENING_CHANGES]
    for batch, c in changes + [("kitchen", c) for c in kitchen.CHANGES]:
        to = f"{c.wick_series} {c.wick_size}, {c.reason}, rest {c.rest_days} d"
        what = f"before this burn: wick changed to {to}"
        rows.append((batch, c.candle, c.before_burn, what, _plain(c.note)))
    rows += [row for batch, simulated in made.items() for row in _put_out(batch, simulated)]
    order = list(planted)
    return sorted(
        rows, key=lambda row: (order.index(row[0]), row[1], 0 if row[2] == "all" else row[2])
    )


def _planted(event, batch):
    what = EVENT_KINDS[event.kind].format(value=event.value, at_min=event.at_min)
    return batch, event.candle, event.burn or "all", what, _plain(event.note)


def _put_out(batch, simulated):
    """Candles that were put out at a reading which nobody planted."""
    burns = simulated.tables["burns"]
    burns = burns[(burns["ended_by"] == "stopped") & burns["note"].eq("")]
    last = simulated.tables["checks"].groupby(["candle", "burn"])["soot"].last()
    rows = []
    for key in zip(burns["candle"], burns["burn"], strict=True):
        why = "steady black smoke" if last[key] == "3" else "wall over 65 °C"
        what = f"put out: {why} (follows from the model); the test of this candle ends here"
        rows.append((batch, *key, what, ""))
    return rows


def _outcomes(batch, simulated):
    last = simulated.tables["burns"].groupby("candle", as_index=False).last()
    table = simulated.tables["candles"].merge(simulated.candle_truth, on="candle")
    rows = []
    for c in table.merge(last, on="candle").itertuples():
        wick, left = _wick(c.wick_series, c.wick_size, c.wick_count), 100 * c.left_g / c.fill_mass_g
        effect = f"{c.candle_effect_g_per_h:+.2f}"
        rows.append((batch, c.candle, wick, c.burn, effect, f"{left:.1f}", c.ended_by))
    return rows


def _plain(text):
    """Text for a cell of a Markdown table: as code, on one line."""
    return f"`{text}`".replace("\n", " (new line) ").replace("|", "/") if text else ""


def _markdown(head, rows):
    lines = [f"| {' | '.join(head.split('|'))} |", f"|{'---|' * (head.count('|') + 1)}"]
    return "\n".join(lines + [f"| {' | '.join(str(cell) for cell in row)} |" for row in rows])

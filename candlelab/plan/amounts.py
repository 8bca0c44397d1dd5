"""What goes into the candles of a plan: recipes, pours, and what to have at hand, each a table."""

from __future__ import annotations

import math

import pandas as pd

from candlelab.burns.candidates import RECIPE, recipe_words, wick_names
from candlelab.plan import schedule, weighing
from candlelab.plan.fills import fill_of, liquid_volume
from candlelab.plan.settings import Plan, PlannedCandidate

_MIX = [name for name in RECIPE if name != "vessel"]  # what is poured from one jug
_CANDIDATE = [
    *("wick_series", "wick_size", "wick_count", *RECIPE, "wax_lot", "n_candles", "fill_mass_g"),
    *("burn_rate_g_per_h", "life_planned_h", "burns_planned"),
]


def candidate_table(plan: Plan) -> pd.DataFrame:
    """One row per candidate: its name, recipe, candles, expected burn rate and life."""
    rows, burn_h, margin = [], plan.settings.protocol.burn_h, plan.timetable.margin_pct
    for c in plan.candidates:
        fill, rate = weighed(c, plan).total_g, c.burn_rate_g_per_h
        life = schedule.planned_life(fill, rate or math.nan)
        wick = (c.wick_series, c.wick_size, c.wick_count or 1)
        load = c.fragrance_load_pct if c.fragrance else math.nan
        recipe = (c.vessel, c.wax, c.fragrance or "", load, c.dye or "")
        burns = schedule.planned_burns(life, burn_h, margin)
        rows.append((*wick, *recipe, c.wax_lot or "", c.candles, fill, rate, life, burns))
    table = pd.DataFrame(rows, columns=_CANDIDATE).astype({"fragrance_load_pct": float})
    names = wick_names(table["wick_series"], table["wick_size"], table["wick_count"])
    table.insert(0, "candidate", names + recipe_words(table))
    return table


def weighed(candidate: PlannedCandidate, plan: Plan) -> weighing.Weighed:
    """Wax and fragrance of one candle, in steps of the scale."""
    settings = plan.settings
    fill = fill_of(plan.vessels[candidate.vessel], candidate, plan)
    load, step = candidate.fragrance_load_pct or 0.0, settings.instruments.scale_resolution_g
    return weighing.weigh(fill, load, settings.load_basis, step)


def recipe_table(plan: Plan) -> pd.DataFrame:
    """One row per recipe: wax and fragrance of a candle, and how full its vessel is."""
    rows: dict[tuple, tuple] = {}
    for c in plan.candidates:
        one = weighed(c, plan)
        volume, brim = liquid_volume(one.total_g, c, plan), plan.vessels[c.vessel].brim_ml
        recipe = (c.vessel, c.wax, c.fragrance or "", c.fragrance_load_pct or 0.0, c.dye or "")
        masses = (one.total_g, one.wax_g, one.fragrance_g, one.load_pct(plan.settings.load_basis))
        n = c.candles + (rows[recipe][-1] if recipe in rows else 0)
        full = 100 * volume / brim if brim else math.nan
        rows[recipe] = (*recipe, *masses, volume, full, n)
    weights = ["fill_mass_g", "wax_g", "fragrance_g", "load_weighed_pct"]
    columns = [*RECIPE, *weights, "room_ml", "brim_pct", "n_candles"]
    return pd.DataFrame(list(rows.values()), columns=columns)


def pour_table(candles: pd.DataFrame, layout: pd.DataFrame, plan: Plan) -> pd.DataFrame:
    """One row per jug: what to weigh out and which candles it fills.

    Every jug has its share of every candidate: the first candle of each, then the second.
    """
    turn = layout.groupby("candidate", sort=False).cumcount()
    order = ["turn", "wick_series", "wick_size"]
    table = candles.assign(turn=turn).sort_values(order, kind="stable")
    mixes = table.groupby(_MIX, sort=False, dropna=False)
    pours = [
        (*mix, part)
        for mix, own in mixes
        for part in _jugs(own, plan.pour.losses_pct, plan.pour.jug_g)
    ]
    rows = [_pour(n, *(*pour, plan)) for n, pour in enumerate(pours, start=1)]
    columns = ["pour", *_MIX, "n_candles", "poured_g", "losses_g", "weighed_out_g"]
    return pd.DataFrame(rows, columns=[*columns, "wax_g", "fragrance_g", "candles"])


def _jugs(candles: pd.DataFrame, losses_pct: float, jug_g: float) -> list[pd.DataFrame]:
    """The candles of one mix, in parts that a jug holds."""
    parts, start = [], 0
    for size in weighing.share_out(list(candles["fill_mass_g"]), losses_pct, jug_g):
        parts.append(candles.iloc[start : start + size])
        start += size
    return parts


def _pour(n: int, wax, fragrance, load, dye, part: pd.DataFrame, plan: Plan) -> tuple:
    load, fills = 0.0 if math.isnan(load) else load, list(part["fill_mass_g"])
    poured, settings = math.fsum(fills), plan.settings
    total = weighing.pour_total(fills, plan.pour.losses_pct)
    step = settings.instruments.scale_resolution_g
    out = weighing.weigh(total, load, settings.load_basis, step, up=True)
    losses = round(out.total_g - poured, 9)
    names = ", ".join(sorted(part["candle"]))
    masses = (poured, losses, out.total_g, out.wax_g, out.fragrance_g)
    return (n, wax, fragrance, load, dye, len(part), *masses, names)


def material_table(pours: pd.DataFrame, plan: Plan) -> pd.DataFrame:
    """What to have in grams: every wax and fragrance, needed and with the reserve."""
    needed = [(name, own["wax_g"].sum()) for name, own in pours.groupby("wax", sort=False)]
    of_fragrance = pours.groupby("fragrance", sort=False)
    needed += [(name, own["fragrance_g"].sum()) for name, own in of_fragrance if name]
    reserve = plan.pour.reserve_pct
    rows = [(item, g, float(weighing.to_order(g, reserve))) for item, g in needed]
    return pd.DataFrame(rows, columns=["item", "needed_g", "to_order_g"])


def piece_table(candidates: pd.DataFrame, plan: Plan) -> pd.DataFrame:
    """What to have in pieces: vessels and wicks, needed and with the reserve."""
    n, wicks = candidates["n_candles"], candidates["n_candles"] * candidates["wick_count"]
    names = wick_names(candidates["wick_series"], candidates["wick_size"])
    rows = [(name, own.sum()) for name, own in n.groupby(candidates["vessel"], sort=False)]
    rows += [(f"wick {name}", own.sum()) for name, own in wicks.groupby(names, sort=False)]
    reserve = plan.pour.reserve_pct
    return pd.DataFrame(
        [(item, int(n), weighing.to_order(n, reserve)) for item, n in rows],
        columns=["item", "n_needed", "n_to_order"],
    )

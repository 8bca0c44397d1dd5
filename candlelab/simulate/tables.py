"""The tables of a simulated batch, from the columns of its burns and its plan."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs.columns import TABLES
from candlelab.simulate.state import of_each_candle

_PLACES = [f"{row}{n}" for row in "ABCDEF" for n in range(1, 7)]
_ASSESSORS = (("P1", 0.3), ("P2", -0.3))  # and what each adds to a score [invented]
_THROW = ["candle", "burn", "assessor", "score", "place", "distance_m", "lit"]
_RECIPE = ["wick_series", "wick_size", "wax", "fragrance_load_pct"]


def stacked(parts, names):
    """Columns of all burns as one table in order of candle and burn."""
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    table = pd.DataFrame(columns).sort_values(["row", "burn"], kind="stable", ignore_index=True)
    table.insert(0, "candle", np.array(names, dtype=object)[table["row"]])
    return table.drop(columns="row")


def candle_table(plan, state):
    """The candles as they are poured."""
    bench, n = plan.bench, len(plan.candles)
    names, series, sizes = zip(*plan.candles, strict=True)
    load = of_each_candle(plan, "fragrance_load_pct", bench.fragrance_load_pct)
    return pd.DataFrame(
        {
            "candle": names,
            "vessel": bench.vessel,
            "wax": of_each_candle(plan, "wax", bench.wax),
            "wick_series": series,
            "wick_size": sizes,
            "fill_mass_g": state.fill,
            "fragrance": [bench.fragrance if pct else "" for pct in load],
            "fragrance_load_pct": load,
            "dye": "",
            "wick_count": 1,
            "poured_on": state.poured.astype("datetime64[s]"),
            "bench_position": [_PLACES[i % len(_PLACES)] for i in range(n)],
            "wax_lot": of_each_candle(plan, "wax_lot", bench.wax_lot),
        }
    )


def wick_table(plan):
    """The wicks of the plan as they are listed."""
    listed = pd.DataFrame(list(plan.wicks))[[column.name for column in TABLES["wicks"].columns]]
    return listed.astype({"linear_density_tex": float, "width_mm": float})


def with_events(tables, events):
    """New tables with the events that are made in the log.

    Notes, missed checks, tall flames, exclusions.
    """
    burns, checks, left_out = tables["burns"].copy(), tables["checks"].copy(), []
    for event in events:
        rows = (checks["candle"] == event.candle) & (checks["burn"] == event.burn)
        rows &= checks["elapsed_min"] == event.at_min
        if event.kind == "missed check":
            checks = checks[~rows].reset_index(drop=True)
        elif event.kind == "tall flame":
            checks.loc[rows, "flame_height_mm"] = event.value
        elif event.kind in ("off centre", "draught"):
            burn = event.burn if event.burn else None
            left_out.append({"candle": event.candle, "burn": burn, "reason": event.note})
            continue
        if event.note and event.at_min and event.kind != "missed check":
            checks.loc[rows, "note"] = event.note
        elif event.note:
            own = (burns["candle"] == event.candle) & (burns["burn"] == event.burn)
            burns.loc[own, "note"] = event.note
    new = tables | {"burns": burns, "checks": checks}
    if left_out:
        new["exclusions"] = pd.DataFrame(left_out).astype({"burn": "Int64"})
    return new


def throw_table(plan, candles, burns, rng):
    """Two assessors score the first candles of every candidate.

    On the plan's scale with sd 0.7 [invented].
    """
    turn = candles.groupby(_RECIPE, sort=False).cumcount()
    scored = candles[turn < plan.throw_candles].sort_values("candle")
    used = burns["mass_before_g"] - burns["mass_after_g"]
    rates = used / ((burns["out_at"] - burns["lit_at"]).dt.total_seconds() / 3600)
    rows = []
    for name, pct in zip(scored["candle"], scored["fragrance_load_pct"], strict=True):
        for burn in plan.throw_burns:
            own = rates[(burns["candle"] == name) & (burns["burn"] == burn)]
            for assessor, offset in _ASSESSORS if len(own) else ():
                released = own.iloc[0] * pct / (100 + pct)
                mean = 1 + plan.throw_slope * released / (1 + released / plan.throw_half_g_per_h)
                score = np.clip(np.round(mean + offset + rng.normal(0, 0.7)), 0, 10)
                score += 0.0  # no minus zero
                place = "test room, chair by the door", 2.5, True
                rows.append((name, burn, assessor, score, *place))
    return pd.DataFrame(rows, columns=_THROW)

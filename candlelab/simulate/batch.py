"""Batches with known truth: the demo, recovery tests and scale tests. Seeded; nothing is random on
import.

What is burnt, and the numbers of the model, stand in ``model``. All candles of a plan burn side by
side, burn after
burn::

    rate  = mean of the wick + candle + burn + drift * (share used - 1/2) + room effect        g/h
    heat  = rate * heat of combustion / 3.6                                                    W
    reach = width_per_w * heat, the width the pool would take without a wall                   mm
    pool  = min(inner diameter, reach * (1 - exp(-t / tau))), tau longer for a small flame     mm
    depth = depth_per_root_h * sqrt(t) * (rate / suited rate) ** 1.5, at most the wax left     mm
    wall  = room + wall_per_w * heat * pool part * share-used part * (1 - exp(-t / wall_tau))  degC

The suited rate is the one whose reach is `reach_share` times the inner diameter. Soot, mushroom and
aftersmoke are random and rise with rate / suited rate.
"""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.glossary import TABLES
from candlelab.simulate.model import EVENT_KINDS, BatchPlan, Bench, WickTruth


@dataclass(frozen=True, eq=False)
class SimulatedBatch:
    """Tables as in `columns.TABLES`, and the truth behind each candle."""

    tables: dict[str, pd.DataFrame]
    candle_truth: pd.DataFrame


def simulate_batch(plan: BatchPlan, *, seed: int) -> SimulatedBatch:
    """Burn every candle of a plan to its end, or to ``max_burns``. The same seed gives the same
    tables.

    Times are naive local times, masses g, lengths mm, temperatures °C; flags are True and False.
    Raises ValueError
    for a plan that contradicts itself.
    """
    _check_plan(plan)
    rng = np.random.default_rng(seed)
    names = [c[0] for c in plan.candles]
    state = _State(plan, rng)
    burns, checks = [], []
    for number in range(1, plan.bench.max_burns + 1):
        state.change_wicks(number)
        here = np.flatnonzero(state.burning)
        if not here.size:
            break
        lit = ~state.put_out[here]
        burn, check = _burn(state, number, here)
        burn, check = _logged(burn, here[lit]), _logged(check, here[lit])
        burns.append(burn)
        checks.append(check)
    tables = {
        "candles": _candles(plan, state),
        "burns": _stack(burns, names),
        "checks": _stack(checks, names),
    }
    wicks = pd.DataFrame([dataclasses.asdict(w) for w in plan.wicks])[
        [c.name for c in TABLES["wicks"].columns]
    ]
    tables["wicks"] = wicks.astype({"linear_density_tex": float, "width_mm": float})
    if plan.changes:
        tables["wick_changes"] = pd.DataFrame([dataclasses.asdict(c) for c in plan.changes])
    tables = _log_events(tables, plan.events)
    if plan.throw_burns:
        tables["throw"] = _throw(plan, tables["candles"], tables["burns"], rng)
    candle_truth = pd.DataFrame(
        {"candle": names, "candle_effect_g_per_h": state.effect, "used_g": state.used_lit}
    )
    candle_truth["left_g"] = state.fill - state.used_lit
    return SimulatedBatch(tables, candle_truth)


def _check_plan(plan):
    names, sizes = {c[0] for c in plan.candles}, {(w.wick_series, w.wick_size) for w in plan.wicks}
    wanted = {tuple(c[1:]) for c in plan.candles} | {
        (c.wick_series, c.wick_size) for c in plan.changes
    }
    faults = [
        f"wick {series} {size} is not among the wicks" for series, size in sorted(wanted - sizes)
    ]
    poured = [candle for recipe in plan.recipes for candle in recipe.candles]
    named = [e.candle for e in (*plan.events, *plan.changes)] + poured
    faults += [f"candle {candle} is not in the plan" for candle in named if candle not in names]
    faults += [
        f"candle {candle} has two recipes"
        for candle in sorted(set(poured))
        if poured.count(candle) > 1
    ]
    faults += [
        f"no event is called {e.kind!r}: use {', '.join(EVENT_KINDS)}"
        for e in plan.events
        if e.kind not in EVENT_KINDS
    ]
    if len(names) < len(plan.candles):
        faults.append("two candles have the same name")
    if faults:
        raise ValueError("The plan contradicts itself: " + "; ".join(faults) + ".")


def _of_each_candle(plan, name, usual):
    """One value of the recipe for each candle of a plan, `usual` where its recipe does not say."""
    own = {candle: getattr(recipe, name) for recipe in plan.recipes for candle in recipe.candles}
    values = [own.get(candle[0]) for candle in plan.candles]
    return [usual if value is None else value for value in values]


class _State:
    """Where each candle of a plan stands between two burns; private to one call of
    `simulate_batch`."""

    def __init__(self, plan, rng):
        self.plan, self.rng = plan, rng
        self.row = {c[0]: i for i, c in enumerate(plan.candles)}
        self.size = {(w.wick_series, w.wick_size): i for i, w in enumerate(plan.wicks)}
        n, bench = len(plan.candles), plan.bench
        self.wick = np.array([self.size[c[1:]] for c in plan.candles])
        self.rate = np.array([w.rate_g_per_h for w in plan.wicks])
        self.left = np.array([w.left_pct for w in plan.wicks]) / 100
        self.recipe_effect = np.array(_of_each_candle(plan, "rate_effect_g_per_h", 0.0))
        kj_per_g = _of_each_candle(
            plan, "heat_of_combustion_kj_per_g", bench.heat_of_combustion_kj_per_g
        )
        self.kj_per_g = np.array(kj_per_g)
        self.suited = suited_rate(plan, self.kj_per_g)
        self.effect = rng.normal(0, plan.model.candle_sd_g_per_h, n)
        self.left_factor = np.clip(rng.normal(1, plan.model.left_sd, n), 0.6, 1.4)
        grid = bench.scale_resolution_g
        self.fill = (
            np.round(rng.normal(bench.fill_g, bench.fill_g * 0.004, n) / grid) * grid
        ).round(8)
        self.mass = (
            rng.normal(bench.vessel_mass_g, bench.vessel_mass_g * 0.015, n) + 1.2 + self.fill
        )
        self.used, self.used_lit = np.zeros(n), np.zeros(n)
        self.shift = np.arange(n) // bench.group * bench.group_gap_days
        self.last_out = np.full(n, np.datetime64("NaT", "m"))
        self.burning, self.put_out = np.ones(n, bool), np.zeros(n, bool)
        self.first = np.datetime64(bench.first_day)
        first_burn = np.busday_offset(self.first, self.shift, roll="forward", weekmask="1111110")
        self.poured = first_burn - np.timedelta64(bench.cure_days, "D")

    def change_wicks(self, number):
        """Put in the new wicks that come before this burn: 0.3-1 g leaves with the old wick
        [practice]."""
        for change in self.plan.changes:
            if change.before_burn == number:
                i = self.row[change.candle]
                self.wick[i] = self.size[change.wick_series, change.wick_size]
                self.mass[i] -= self.rng.uniform(0.3, 1.0)
                self.shift[i] += change.rest_days - 1

    def planted(self, kind, number, here, default):
        """Values of one kind of event for these candles at this burn, `default` where none is
        planted."""
        values = np.full(len(here), default, float)
        place = {i: p for p, i in enumerate(here)}
        for event in self.plan.events:
            if event.kind == kind and event.burn in (0, number) and self.row[event.candle] in place:
                values[place[self.row[event.candle]]] = event.value
        return values

    def weigh(self, here):
        """Readings of the scale, g."""
        grid = self.plan.bench.scale_resolution_g
        noise = self.rng.normal(0, self.plan.model.scale_sd_g, len(here))
        return (np.round((self.mass[here] + noise) / grid) * grid).round(8)

    def light(self, number, here):
        """Times of lighting: one burn a day, Monday to Saturday, candles a few minutes apart."""
        bench = self.plan.bench
        day = np.busday_offset(
            self.first, number - 1 + self.shift[here], roll="forward", weekmask="1111110"
        )
        start = pd.Timedelta(bench.first_lit + ":00").to_timedelta64().astype("timedelta64[m]")
        jitter = self.rng.integers(0, 3, len(here))
        late = (here % bench.group * bench.stagger_min + jitter).astype("timedelta64[m]")
        lit = day.astype("datetime64[m]") + start + late
        rest = self.planted("short rest", number, here, np.nan)
        minutes = np.nan_to_num(rest * 60).astype(int).astype("timedelta64[m]")
        return np.where(np.isnan(rest), lit, self.last_out[here] + minutes)


def _burn(state, number, here):
    """One burn of every candle that still burns: columns of burns and of checks."""
    rng, model, bench, n = state.rng, state.plan.model, state.plan.bench, len(here)
    lit, before = state.light(number, here), state.weigh(here)
    usual_room = np.clip(rng.normal(model.room_c, model.room_sd_c, n), 20.5, 26)
    cold = state.planted("cold room", number, here, np.nan)
    room = np.where(np.isnan(cold), usual_room, cold).round(1)
    mean, fill = state.rate[state.wick[here]] + state.recipe_effect[here], state.fill[here]
    share = np.minimum((state.used[here] + 0.5 * mean * bench.burn_min / 60) / fill, 1)
    rate = (
        mean
        + state.effect[here]
        + rng.normal(0, model.burn_sd_g_per_h, n)
        + model.drift_g_per_h * (share - 0.5)
    )
    rate += model.room_effect_g_per_h * (room - model.room_c) + state.planted(
        "draught", number, here, 0
    )
    left = state.left[state.wick[here]] * state.left_factor[here] * fill
    minutes, ended_by, over = _ending(
        state, number, here, (fill - left - state.used[here]) / rate * 60
    )
    times = np.tile(np.array(bench.check_min), (n, 1))
    times[:, 0] = np.where(minutes < times[:, 0], minutes // 2, times[:, 0])
    seen = _readings(state, number, here, rate, share, room, times)
    danger = _dangers(state, seen, here) & (times <= minutes[:, None])
    stop = np.where(danger.any(1), times[np.arange(n), danger.argmax(1)] + 2, 10**6)
    stopped = danger.any(1) & ((stop < minutes) | (ended_by == "timer"))
    minutes, over = np.minimum(stop, minutes), over & ~stopped
    ended_by = np.where(stopped, "stopped", ended_by)
    used = (
        rate * np.maximum(minutes + rng.uniform(-0.5, 0.5, n) + rng.uniform(-0.5, 0.5, n), 1) / 60
    )
    state.used[here] += used
    logged = here[~state.put_out[here]]
    state.used_lit[logged] = state.used[logged]
    state.put_out[here[stopped]] = True
    state.mass[here] -= used
    after = state.weigh(here)
    state.mass[here] -= model.trim_g
    state.last_out[here] = lit + minutes.astype("timedelta64[m]")
    state.burning[here[over]] = False
    ratio = mean / state.suited[here]
    smoke = model.aftersmoke_s * np.exp(rng.normal(1.5 * np.maximum(ratio - 1, 0), 0.3, n))
    long_wick = state.planted("long wick", number, here, np.nan)
    burn = {
        "row": here,
        "burn": np.full(n, number),
        "lit_at": lit,
        "out_at": state.last_out[here],
        "mass_before_g": before,
        "mass_after_g": after,
        "room_c": room,
        "wick_length_mm": np.where(np.isnan(long_wick), rng.choice([5.0, 5.5, 6.0], n), long_wick),
        "ended_by": ended_by,
        "aftersmoke_s": np.clip(smoke, 3, 25).round(),
        "note": np.full(n, "", object),
    }
    made = times <= minutes[:, None]
    check = {
        "row": np.repeat(here, made.sum(1)),
        "burn": np.full(made.sum(), number),
        "elapsed_min": times[made] * 1.0,
    }
    return burn, check | {name: values[made] for name, values in seen.items()}


def _dangers(state, seen, here):
    """Readings at which whoever watches puts a candle out; a bench without a stop limit has nobody.

    A candle that was put out is not lit again: it is in the log no more. The draw of random numbers
    goes on as if it were, so that the readings of the other candles stay what they were.
    """
    limit = state.plan.bench.wall_stop_c
    smoke = (seen["soot"] == "3") & np.isfinite(limit)
    return ((seen["wall_c"] > limit) | smoke) & ~state.put_out[here][:, None]


def _logged(columns, lit):
    """The rows of the candles that were truly lit."""
    rows = np.isin(columns["row"], lit)
    return {name: values[rows] for name, values in columns.items()}


def _ending(state, number, here, reach_min):
    """Minutes, what ended the burn, and whether the candle is over; ``reach_min`` is how long its
    wax lasts.

    A candle with less than ``spare_min`` of wax in reach goes out shortly before the timer
    [invented].
    """
    usual = state.plan.bench.burn_min + state.rng.integers(0, 6, len(here))
    minutes = state.planted("long burn", number, here, np.nan)
    minutes = np.where(np.isnan(minutes), usual, minutes).astype(int)
    early = minutes - state.rng.integers(6, 12, len(here))
    out = reach_min < minutes + state.plan.bench.spare_min
    minutes = np.where(out, np.maximum(np.minimum(early, reach_min), 2), minutes).astype(int)
    ended_by = np.where(out, "self", "timer")
    for kind, word in (("drowned", "self"), ("short end", "self"), ("stopped", "stopped")):
        value = state.planted(kind, number, here, np.nan)
        planted = ~np.isnan(value)
        minutes = np.where(planted, np.nan_to_num(value), minutes).astype(int)
        ended_by, out = np.where(planted, word, ended_by), out | planted
    return minutes, ended_by, out


def suited_rate(plan, kj_per_g=None):
    """Burn rate, g/h, whose pool would reach ``reach_share`` times the inner diameter, for the
    bench's wax or another's kJ/g."""
    heat = plan.model.reach_share * plan.bench.inner_diameter_mm / plan.model.width_per_w
    return heat * 3.6 / (plan.bench.heat_of_combustion_kj_per_g if kj_per_g is None else kj_per_g)


def _readings(state, number, here, rate, share, room, times):
    """What is read at the checks, one row per candle and one column per check."""
    rng, model, bench, shape = state.rng, state.plan.model, state.plan.bench, times.shape
    hours = np.maximum(times, 1) / 60
    rate, share, room = rate[:, None], share[:, None], room[:, None]
    suited, inner = state.suited[here][:, None], bench.inner_diameter_mm
    heat = rate * state.kj_per_g[here][:, None] / 3.6
    reach = model.width_per_w * heat
    tau = model.pool_tau_h * suited / rate * (model.first_burn_factor if number == 1 else 1.0)
    pool = reach * (1 - np.exp(-hours / tau)) + rng.normal(0, 0.7, shape)
    pool = np.clip(np.maximum.accumulate(np.round(pool), axis=1), 5, inner)
    wax_mm = (
        (state.fill - state.used)[here][:, None]
        / model.wax_g_per_ml
        / (np.pi * (inner / 20) ** 2)
        * 10
    )
    depth = (
        model.depth_per_root_h
        * np.sqrt(hours)
        * (rate / suited) ** 1.5
        * (1 + model.depth_drift * share)
    )
    depth = np.clip(depth + rng.normal(0, 0.3, shape), 0.5, np.maximum(wax_mm, 0.5))
    rise = model.wall_per_w * heat * (0.55 + 0.45 * pool / inner) * (0.85 + 0.15 * share)
    wall = (
        room
        + rise * (1 - np.exp(-hours / model.wall_tau_h))
        + rng.normal(0, model.wall_sd_c, shape)
    )
    wall += state.planted("off centre", number, here, 0)[:, None]
    drowning = 1 - 2 * np.clip(0.95 - reach / inner, 0, 0.4) * share
    flame = np.clip(
        model.flame_mm_per_g_h * rate * drowning + rng.normal(0, model.flame_sd_mm, shape), 8, 74
    )
    soot = np.floor(
        model.soot_slope * (rate / suited - model.soot_onset) + rng.normal(0, model.soot_sd, shape)
    )
    cap = (
        model.mushroom_mm + 0.3 * hours + model.mushroom_slope_mm * np.maximum(rate / suited - 1, 0)
    )
    no = np.zeros(shape, bool)
    return {
        "flame_height_mm": flame.round(),
        "wall_c": wall.round(1),
        "pool_diameter_mm": pool,
        "pool_depth_mm": (depth * 2).round() / 2,
        "soot": np.clip(soot, 0, 3).astype(int).astype(str).astype(object),
        "mushroom_mm": (cap * rng.gamma(12, 1 / 12, shape) * 2).round() / 2,
        "secondary_ignition_s": np.zeros(shape),
        "flame_on_vessel": no,
        "vessel_damaged": no,
        "surface_damaged": no,
        "tipped": no,
        "reignited": no,
        "note": np.full(shape, "", object),
    }


def _stack(parts, names):
    """Columns of all burns as one table in order of candle and burn."""
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    table = pd.DataFrame(columns).sort_values(["row", "burn"], kind="stable", ignore_index=True)
    table.insert(0, "candle", np.array(names, dtype=object)[table["row"]])
    return table.drop(columns="row")


def _candles(plan, state):
    bench, n = plan.bench, len(plan.candles)
    load = _of_each_candle(plan, "fragrance_load_pct", bench.fragrance_load_pct)
    return pd.DataFrame(
        {
            "candle": [c[0] for c in plan.candles],
            "vessel": bench.vessel,
            "wax": _of_each_candle(plan, "wax", bench.wax),
            "wick_series": [c[1] for c in plan.candles],
            "wick_size": [c[2] for c in plan.candles],
            "fill_mass_g": state.fill,
            "fragrance": [bench.fragrance if pct else "" for pct in load],
            "fragrance_load_pct": load,
            "dye": "",
            "wick_count": 1,
            "poured_on": state.poured.astype("datetime64[s]"),
            "bench_position": [f"{'ABCDEF'[i // 6 % 6]}{i % 6 + 1}" for i in range(n)],
            "wax_lot": _of_each_candle(plan, "wax_lot", bench.wax_lot),
        }
    )


def _log_events(tables, events):
    """New tables with the events that are made in the log: notes, missed checks, tall flames,
    exclusions."""
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
            burns.loc[(burns["candle"] == event.candle) & (burns["burn"] == event.burn), "note"] = (
                event.note
            )
    new = tables | {"burns": burns, "checks": checks}
    if left_out:
        new["exclusions"] = pd.DataFrame(left_out).astype({"burn": "Int64"})
    return new


def _throw(plan, candles, burns, rng):
    """Two assessors score the first candles of every candidate, on the plan's scale with sd 0.7
    [invented]."""
    of_one = candles.groupby(["wick_series", "wick_size", "wax", "fragrance_load_pct"], sort=False)
    scored = candles[of_one.cumcount() < plan.throw_candles].sort_values("candle")
    rows = []
    for name, pct in zip(scored["candle"], scored["fragrance_load_pct"], strict=True):
        for burn in plan.throw_burns:
            row = burns[(burns["candle"] == name) & (burns["burn"] == burn)]
            for assessor, offset in (("P1", 0.3), ("P2", -0.3)) if len(row) else ():
                hours = (row["out_at"] - row["lit_at"]).dt.total_seconds().iloc[0] / 3600
                rate = (row["mass_before_g"] - row["mass_after_g"]).iloc[0] / hours
                released = rate * pct / (100 + pct)
                mean = 1 + plan.throw_slope * released / (1 + released / plan.throw_half_g_per_h)
                score = (
                    np.clip(np.round(mean + offset + rng.normal(0, 0.7)), 0, 10) + 0.0
                )  # no minus zero
                rows.append(
                    (name, burn, assessor, score, "test room, chair by the door", 2.5, True)
                )
    return pd.DataFrame(rows, columns=[c.name for c in TABLES["throw"].columns])


def simulate_many(n_candles: int, *, seed: int, burns_per_candle: int = 13) -> SimulatedBatch:
    """A large year for scale tests: 40 candidates in tall tumblers, five checks a burn, no candle
    burnt to its end."""
    series = ("flat braid", "square braid", "paper-cored", "twisted", "wooden")
    wicks = tuple(
        WickTruth(name, str(rank), rank, 4.4 + 0.3 * rank + 0.05 * s, 3.0, 300.0 + 60 * rank)
        for s, name in enumerate(series)
        for rank in range(1, 9)
    )
    picks = [wicks[i % len(wicks)] for i in range(n_candles)]
    candles = tuple((f"M{i + 1:05d}", w.wick_series, w.wick_size) for i, w in enumerate(picks))
    bench = Bench(
        fill_g=38.0 * burns_per_candle,
        check_min=(15, 60, 120, 180, 235),
        max_burns=burns_per_candle,
        stagger_min=2,
        first_lit="08:00",
        first_day="2025-01-06",
    )
    return simulate_batch(BatchPlan(wicks, candles, bench), seed=seed)

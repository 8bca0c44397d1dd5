"""Batches with known truth: the demo, recovery tests and scale tests. Seeded; nothing is random on import.

The bench is a model, not a record. Its numbers stand in `Model`, each tagged [lit] a paper, [practice]
common practice with no source, or [invented] chosen so that the picture is plausible. One engine burns
all candles of a plan side by side, burn after burn::

    rate      = mean of the wick + candle + burn + drift * (share used - 1/2) + room effect          g/h
    heat      = rate * heat of combustion / 3.6                                                      W
    reach     = width_per_w * heat, the width the pool would take without a wall                     mm
    pool      = min(inner diameter, reach * (1 - exp(-t / tau))), tau longer for a small flame       mm
    depth     = depth_per_root_h * sqrt(t) * (rate / suited rate) ** 1.5, at most the wax left       mm
    wall      = room + wall_per_w * heat * pool part * share-used part * (1 - exp(-t / wall_tau))    degC

The suited rate is the one whose reach is `reach_share` times the inner diameter. Soot, mushroom and
aftersmoke are random and rise with rate / suited rate. Run ``python -m candlelab.simulate FOLDER`` to write
the demo again.
"""

from __future__ import annotations

import csv
import dataclasses
import sys
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from candlelab.columns import TABLES, UNITS, convert, split_unit

SCREENING_SEED, CONFIRMATION_SEED = 20260241, 20260183


def _number(value, unit, tag, meaning):
    return field(default=value, metadata={"unit": unit, "tag": tag, "meaning": meaning})


@dataclass(frozen=True)
class Model:
    """The assumptions of the bench with their numbers; `metadata` of each field has unit, tag and meaning."""

    candle_sd_g_per_h: float = _number(0.25, "g/h", "invented", "burn rate, candle to candle of a wick, sd")
    burn_sd_g_per_h: float = _number(0.20, "g/h", "invented", "burn rate, burn to burn of a candle, sd")
    drift_g_per_h: float = _number(0.6, "g/h", "practice", "burn rate, full to empty candle: late burns run hotter")
    room_effect_g_per_h: float = _number(0.02, "g/h per °C", "invented", "burn rate for each °C of room above room_c")
    room_c: float = _number(22.5, "°C", "practice", "room temperature, mean")
    room_sd_c: float = _number(0.6, "°C", "practice", "room temperature, burn to burn, sd")
    width_per_w: float = _number(4 / 3, "mm/W", "invented", "width of the pool for each watt, where no wall stops it")
    reach_share: float = _number(1.12, "", "invented", "reach of a suited wick as a share of the inner diameter")
    pool_tau_h: float = _number(1.15, "h", "invented", "time constant of the pool, times suited rate / rate")
    first_burn_factor: float = _number(1.3, "", "practice", "time constant of the pool in the first burn, times that")
    depth_per_root_h: float = _number(4.4, "mm/√h", "practice", "pool depth at the suited rate: 8.8 mm after 4 h")
    depth_drift: float = _number(0.12, "", "invented", "pool depth from a full to an empty candle, share added")
    wax_g_per_ml: float = _number(0.9, "g/ml", "practice", "density of the wax: no pool is deeper than the wax left")
    wall_per_w: float = _number(0.49, "°C/W", "invented", "rise of the wall over the room, full pool, end of life")
    wall_tau_h: float = _number(0.7, "h", "invented", "time constant of the wall")
    wall_sd_c: float = _number(0.5, "°C", "practice", "reading of the wall, sd")
    flame_mm_per_g_h: float = _number(6.2, "mm per g/h", "practice", "flame height: 35 mm at 5.6 g/h")
    flame_sd_mm: float = _number(1.8, "mm", "practice", "flame height from check to check, sd")
    soot_slope: float = _number(9.0, "grades", "invented", "hidden soot scale for each unit of rate / suited rate")
    soot_onset: float = _number(1.12, "", "invented", "rate / suited rate where the hidden soot scale is at 0")
    soot_sd: float = _number(0.5, "grades", "invented", "hidden soot scale, sd; the grade is its whole part")
    mushroom_mm: float = _number(0.5, "mm", "practice", "carbon cap at lighting, mean; +0.3 mm each hour")
    mushroom_slope_mm: float = _number(7.0, "mm", "invented", "carbon cap for each unit of rate / suited rate above 1")
    aftersmoke_s: float = _number(6.0, "s", "practice", "aftersmoke at the suited rate, middle value; held to 3-25 s")
    scale_sd_g: float = _number(0.04, "g", "practice", "repeatability of the scale, sd")
    trim_g: float = _number(0.02, "g", "practice", "wick and soot trimmed off between two burns")
    left_sd: float = _number(
        0.15, "", "invented", "wax out of reach, candle to candle, sd as a share of the wick's mean"
    )


@dataclass(frozen=True)
class WickTruth:
    """One wick size and what is true of it in the bench's vessel.

    ``rate_g_per_h`` is the mean burn rate of a half-used candle, ``left_pct`` the share of the fill it cannot reach.
    """

    wick_series: str
    wick_size: str
    size_rank: int
    rate_g_per_h: float
    left_pct: float
    linear_density_tex: float | None = None
    width_mm: float | None = None
    character: str = ""


@dataclass(frozen=True)
class Bench:
    """Vessel, recipe, calendar and instruments of a batch; times are local wall-clock times."""

    vessel: str = "stoneware tumbler"
    inner_diameter_mm: float = 74.0
    vessel_mass_g: float = 300.0
    fill_g: float = 200.0
    wax: str = "coconut and rapeseed"
    heat_of_combustion_kj_per_g: float = 40.0
    fragrance: str = "fig leaf"
    fragrance_load_pct: float = 8.0
    cure_days: int = 18
    first_day: str = "2026-02-02"
    first_lit: str = "09:00"
    stagger_min: int = 4
    group: int = 60
    group_gap_days: int = 7
    burn_min: int = 240
    check_min: tuple[int, ...] = (60, 120, 180, 240)
    scale_resolution_g: float = 0.1
    wall_stop_c: float = np.inf
    max_burns: int = 20
    wax_lot: str = "L07"


@dataclass(frozen=True)
class WickChange:
    """A new wick before a burn."""

    candle: str
    before_burn: int
    wick_series: str
    wick_size: str
    reason: str
    rest_days: int = 1
    note: str = ""


@dataclass(frozen=True)
class Event:
    """Something planted. ``kind`` is a key of `EVENT_KINDS`; burn 0 is the whole candle; ``note`` goes into the log."""

    kind: str
    candle: str
    burn: int
    value: float = 0.0
    at_min: int = 0
    note: str = ""


EVENT_KINDS = {
    "long burn": "burn of {value:g} min",
    "cold room": "room at {value:g} °C",
    "short rest": "lit {value:g} h after the burn before",
    "long wick": "wick left at {value:g} mm",
    "drowned": "went out by itself after {value:g} min with wax standing; the test of this candle ends here",
    "stopped": "put out after {value:g} min; the test of this candle ends here",
    "tall flame": "flame of {value:g} mm at {at_min} min",
    "missed check": "check at {at_min} min missed",
    "off centre": "wick off centre, hottest wall {value:g} °C higher; the candle is left out (exclusions.csv)",
    "draught": "draught, burn rate {value:g} g/h higher; the burn is left out (exclusions.csv)",
    "note": "a note in the log",
}


@dataclass(frozen=True)
class BatchPlan:
    """What is burnt: ``candles`` holds (candle, wick series, wick size)."""

    wicks: tuple[WickTruth, ...]
    candles: tuple[tuple[str, str, str], ...]
    bench: Bench = Bench()
    changes: tuple[WickChange, ...] = ()
    events: tuple[Event, ...] = ()
    model: Model = Model()
    throw_burns: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class SimulatedBatch:
    """Tables as in `columns.TABLES`, and the truth behind them: one row per wick size, one per candle."""

    tables: dict[str, pd.DataFrame]
    wick_truth: pd.DataFrame
    candle_truth: pd.DataFrame


def simulate_batch(plan: BatchPlan, *, seed: int) -> SimulatedBatch:
    """Burn every candle of a plan to its end, or to ``max_burns``. The same seed gives the same tables.

    Times are naive local times, masses g, lengths mm, temperatures °C; flags are True and False. Raises ValueError
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
        burn, check = _burn(state, number, here)
        burns.append(burn)
        checks.append(check)
    tables = {"candles": _candles(plan, state), "burns": _stack(burns, names), "checks": _stack(checks, names)}
    wick_truth = pd.DataFrame([dataclasses.asdict(w) for w in plan.wicks])
    wick_truth = wick_truth.astype({"linear_density_tex": float, "width_mm": float})
    tables["wicks"] = wick_truth[[c.name for c in TABLES["wicks"].columns]]
    if plan.changes:
        tables["wick_changes"] = pd.DataFrame([dataclasses.asdict(c) for c in plan.changes])
    tables = _log_events(tables, plan.events)
    if plan.throw_burns:
        tables["throw"] = _throw(plan, tables["burns"], rng)
    candle_truth = pd.DataFrame({"candle": names, "candle_effect_g_per_h": state.effect, "used_g": state.used})
    candle_truth["left_g"] = state.fill - state.used
    return SimulatedBatch(tables, wick_truth, candle_truth)


def _check_plan(plan):
    names, sizes = {c[0] for c in plan.candles}, {(w.wick_series, w.wick_size) for w in plan.wicks}
    wanted = {tuple(c[1:]) for c in plan.candles} | {(c.wick_series, c.wick_size) for c in plan.changes}
    faults = [f"wick {series} {size} is not among the wicks" for series, size in sorted(wanted - sizes)]
    faults += [f"candle {e.candle} is not in the plan" for e in (*plan.events, *plan.changes) if e.candle not in names]
    faults += [
        f"no event is called {e.kind!r}: use {', '.join(EVENT_KINDS)}" for e in plan.events if e.kind not in EVENT_KINDS
    ]
    if len(names) < len(plan.candles):
        faults.append("two candles have the same name")
    if faults:
        raise ValueError("The plan contradicts itself: " + "; ".join(faults) + ".")


class _State:
    """Where each candle of a plan stands between two burns; private to one call of `simulate_batch`."""

    def __init__(self, plan, rng):
        self.plan, self.rng = plan, rng
        self.row = {c[0]: i for i, c in enumerate(plan.candles)}
        self.size = {(w.wick_series, w.wick_size): i for i, w in enumerate(plan.wicks)}
        n, bench = len(plan.candles), plan.bench
        self.wick = np.array([self.size[c[1:]] for c in plan.candles])
        self.rate = np.array([w.rate_g_per_h for w in plan.wicks])
        self.left = np.array([w.left_pct for w in plan.wicks]) / 100
        self.effect = rng.normal(0, plan.model.candle_sd_g_per_h, n)
        self.left_factor = np.clip(rng.normal(1, plan.model.left_sd, n), 0.6, 1.4)
        grid = bench.scale_resolution_g
        self.fill = (np.round(rng.normal(bench.fill_g, bench.fill_g * 0.004, n) / grid) * grid).round(8)
        self.mass = rng.normal(bench.vessel_mass_g, bench.vessel_mass_g * 0.015, n) + 1.2 + self.fill
        self.used = np.zeros(n)
        self.shift = np.arange(n) // bench.group * bench.group_gap_days
        self.last_out = np.full(n, np.datetime64("NaT", "m"))
        self.burning = np.ones(n, bool)
        self.first = np.datetime64(bench.first_day)
        first_burn = np.busday_offset(self.first, self.shift, roll="forward", weekmask="1111110")
        self.poured = first_burn - np.timedelta64(bench.cure_days, "D")

    def change_wicks(self, number):
        """Put in the new wicks that come before this burn: 0.3-1 g leaves with the old wick [practice]."""
        for change in self.plan.changes:
            if change.before_burn == number:
                i = self.row[change.candle]
                self.wick[i] = self.size[change.wick_series, change.wick_size]
                self.mass[i] -= self.rng.uniform(0.3, 1.0)
                self.shift[i] += change.rest_days - 1

    def planted(self, kind, number, here, default):
        """Values of one kind of event for these candles at this burn, `default` where none is planted."""
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
        day = np.busday_offset(self.first, number - 1 + self.shift[here], roll="forward", weekmask="1111110")
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
    mean, fill = state.rate[state.wick[here]], state.fill[here]
    share = np.minimum((state.used[here] + 0.5 * mean * bench.burn_min / 60) / fill, 1)
    rate = mean + state.effect[here] + rng.normal(0, model.burn_sd_g_per_h, n) + model.drift_g_per_h * (share - 0.5)
    rate += model.room_effect_g_per_h * (room - model.room_c) + state.planted("draught", number, here, 0)
    left = state.left[state.wick[here]] * state.left_factor[here] * fill
    minutes, ended_by, over = _ending(state, number, here, (fill - left - state.used[here]) / rate * 60)
    times = np.tile(np.array(bench.check_min), (n, 1))
    times[:, 0] = np.where(minutes < times[:, 0], minutes // 2, times[:, 0])
    seen = _readings(state, number, here, rate, share, room, times)
    hot = (seen["wall_c"] > bench.wall_stop_c) & (times <= minutes[:, None])
    stop = np.where(hot.any(1), times[np.arange(n), hot.argmax(1)] + 2, 10**6)
    stopped = stop < minutes
    minutes, over = np.where(stopped, stop, minutes), over & ~stopped
    ended_by = np.where(stopped, "stopped", ended_by)
    used = rate * np.maximum(minutes + rng.uniform(-0.5, 0.5, n) + rng.uniform(-0.5, 0.5, n), 1) / 60
    state.used[here] += used
    state.mass[here] -= used
    after = state.weigh(here)
    state.mass[here] -= model.trim_g
    state.last_out[here] = lit + minutes.astype("timedelta64[m]")
    state.burning[here[over]] = False
    ratio = mean / _suited_rate(state.plan)
    smoke = model.aftersmoke_s * np.exp(rng.normal(1.5 * np.maximum(ratio - 1, 0), 0.3, n))
    long_wick = state.planted("long wick", number, here, np.nan)
    burn = {
        "row": here, "burn": np.full(n, number), "lit_at": lit, "out_at": state.last_out[here],
        "mass_before_g": before, "mass_after_g": after, "room_c": room,
        "wick_length_mm": np.where(np.isnan(long_wick), rng.choice([5.0, 5.5, 6.0], n), long_wick),
        "ended_by": ended_by, "aftersmoke_s": np.clip(smoke, 3, 25).round(), "note": np.full(n, "", object),
    }  # fmt: skip
    made = times <= minutes[:, None]
    check = {"row": np.repeat(here, made.sum(1)), "burn": np.full(made.sum(), number), "elapsed_min": times[made] * 1.0}
    return burn, check | {name: values[made] for name, values in seen.items()}


def _ending(state, number, here, reach_min):
    """Minutes, what ended the burn, and whether the candle is over; ``reach_min`` is how long its wax lasts.

    A candle with less than half an hour of wax in reach goes out shortly before the timer [invented].
    """
    usual = state.plan.bench.burn_min + state.rng.integers(0, 6, len(here))
    minutes = state.planted("long burn", number, here, np.nan)
    minutes = np.where(np.isnan(minutes), usual, minutes).astype(int)
    early = minutes - state.rng.integers(6, 12, len(here))
    out = reach_min < minutes + 30
    minutes = np.where(out, np.maximum(np.minimum(early, reach_min), 2), minutes).astype(int)
    ended_by = np.where(out, "self", "timer")
    for kind, word in (("drowned", "self"), ("stopped", "stopped")):
        value = state.planted(kind, number, here, np.nan)
        planted = ~np.isnan(value)
        minutes = np.where(planted, np.nan_to_num(value), minutes).astype(int)
        ended_by, out = np.where(planted, word, ended_by), out | planted
    return minutes, ended_by, out


def _suited_rate(plan):
    """Burn rate, g/h, whose pool would reach ``reach_share`` times the inner diameter."""
    heat = plan.model.reach_share * plan.bench.inner_diameter_mm / plan.model.width_per_w
    return heat * 3.6 / plan.bench.heat_of_combustion_kj_per_g


def _readings(state, number, here, rate, share, room, times):
    """What is read at the checks, one row per candle and one column per check."""
    rng, model, bench, shape = state.rng, state.plan.model, state.plan.bench, times.shape
    hours = np.maximum(times, 1) / 60
    rate, share, room = rate[:, None], share[:, None], room[:, None]
    suited, inner = _suited_rate(state.plan), bench.inner_diameter_mm
    heat = rate * bench.heat_of_combustion_kj_per_g / 3.6
    reach = model.width_per_w * heat
    tau = model.pool_tau_h * suited / rate * (model.first_burn_factor if number == 1 else 1.0)
    pool = reach * (1 - np.exp(-hours / tau)) + rng.normal(0, 0.7, shape)
    pool = np.clip(np.maximum.accumulate(np.round(pool), axis=1), 5, inner)
    wax_mm = (state.fill - state.used)[here][:, None] / model.wax_g_per_ml / (np.pi * (inner / 20) ** 2) * 10
    depth = model.depth_per_root_h * np.sqrt(hours) * (rate / suited) ** 1.5 * (1 + model.depth_drift * share)
    depth = np.clip(depth + rng.normal(0, 0.3, shape), 0.5, np.maximum(wax_mm, 0.5))
    rise = model.wall_per_w * heat * (0.55 + 0.45 * pool / inner) * (0.85 + 0.15 * share)
    wall = room + rise * (1 - np.exp(-hours / model.wall_tau_h)) + rng.normal(0, model.wall_sd_c, shape)
    wall += state.planted("off centre", number, here, 0)[:, None]
    drowning = 1 - 2 * np.clip(0.95 - reach / inner, 0, 0.4) * share
    flame = np.clip(model.flame_mm_per_g_h * rate * drowning + rng.normal(0, model.flame_sd_mm, shape), 8, 74)
    soot = np.floor(model.soot_slope * (rate / suited - model.soot_onset) + rng.normal(0, model.soot_sd, shape))
    cap = model.mushroom_mm + 0.3 * hours + model.mushroom_slope_mm * np.maximum(rate / suited - 1, 0)
    no = np.zeros(shape, bool)
    return {
        "flame_height_mm": flame.round(), "wall_c": wall.round(1), "pool_diameter_mm": pool,
        "pool_depth_mm": (depth * 2).round() / 2, "soot": np.clip(soot, 0, 3).astype(int).astype(str).astype(object),
        "mushroom_mm": (cap * rng.gamma(12, 1 / 12, shape) * 2).round() / 2, "secondary_ignition_s": np.zeros(shape),
        "flame_on_vessel": no, "vessel_damaged": no, "surface_damaged": no, "tipped": no, "reignited": no,
        "note": np.full(shape, "", object),
    }  # fmt: skip


def _stack(parts, names):
    """Columns of all burns as one table in order of candle and burn."""
    columns = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    table = pd.DataFrame(columns).sort_values(["row", "burn"], kind="stable", ignore_index=True)
    table.insert(0, "candle", np.array(names, dtype=object)[table["row"]])
    return table.drop(columns="row")


def _candles(plan, state):
    bench, n = plan.bench, len(plan.candles)
    return pd.DataFrame({
        "candle": [c[0] for c in plan.candles], "vessel": bench.vessel, "wax": bench.wax,
        "wick_series": [c[1] for c in plan.candles], "wick_size": [c[2] for c in plan.candles],
        "fill_mass_g": state.fill, "fragrance": bench.fragrance, "fragrance_load_pct": bench.fragrance_load_pct,
        "dye": "", "wick_count": 1, "poured_on": state.poured.astype("datetime64[s]"),
        "bench_position": [f"{'ABCDEF'[i // 6 % 6]}{i % 6 + 1}" for i in range(n)], "wax_lot": bench.wax_lot,
    })  # fmt: skip


def _log_events(tables, events):
    """New tables with the events that are made in the log: notes, missed checks, tall flames, exclusions."""
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
            burns.loc[(burns["candle"] == event.candle) & (burns["burn"] == event.burn), "note"] = event.note
    new = tables | {"burns": burns, "checks": checks}
    if left_out:
        new["exclusions"] = pd.DataFrame(left_out).astype({"burn": "Int64"})
    return new


def _throw(plan, burns, rng):
    """Two assessors score the first candle of every candidate: 1 + 12 per g/h of fragrance, sd 0.7 [invented]."""
    share = plan.bench.fragrance_load_pct / (100 + plan.bench.fragrance_load_pct)
    first = {wick: name for name, *wick in reversed(plan.candles) for wick in [tuple(wick)]}
    rows = []
    for name in sorted(first.values()):
        for burn in plan.throw_burns:
            row = burns[(burns["candle"] == name) & (burns["burn"] == burn)]
            for assessor, offset in (("P1", 0.3), ("P2", -0.3)) if len(row) else ():
                hours = (row["out_at"] - row["lit_at"]).dt.total_seconds().iloc[0] / 3600
                rate = (row["mass_before_g"] - row["mass_after_g"]).iloc[0] / hours
                score = np.clip(np.round(1 + 12 * rate * share + offset + rng.normal(0, 0.7)), 0, 10)
                rows.append((name, burn, assessor, score, "test room, chair by the door", 2.5, True))
    return pd.DataFrame(rows, columns=[c.name for c in TABLES["throw"].columns])


def simulate_many(n_candles: int, *, seed: int, burns_per_candle: int = 13) -> SimulatedBatch:
    """A large year for scale tests: 40 candidates in tall tumblers, five checks a burn, no candle burnt to its end."""
    series = ("flat braid", "square braid", "paper-cored", "twisted", "wooden")
    wicks = tuple(
        WickTruth(name, str(rank), rank, 4.4 + 0.3 * rank + 0.05 * s, 3.0, 300.0 + 60 * rank)
        for s, name in enumerate(series)
        for rank in range(1, 9)
    )
    picks = [wicks[i % len(wicks)] for i in range(n_candles)]
    candles = tuple((f"M{i + 1:05d}", w.wick_series, w.wick_size) for i, w in enumerate(picks))
    bench = Bench(
        fill_g=38.0 * burns_per_candle, check_min=(15, 60, 120, 180, 235), max_burns=burns_per_candle,
        stagger_min=2, first_lit="08:00", first_day="2025-01-06",
    )  # fmt: skip
    return simulate_batch(BatchPlan(wicks, candles, bench), seed=seed)


@dataclass(frozen=True)
class Style:
    """How a log is written. ``units`` maps a canonical unit to the one written, ``decimals`` a unit to its decimals."""

    units: dict = field(default_factory=dict)
    decimals: dict = field(default_factory=dict)
    delimiter: str = ","
    decimal_mark: str = "."
    encoding: str = "utf-8"
    date_format: str = "%Y-%m-%d"
    spoken_headers: bool = False


PLAIN = Style()
SPREADSHEET = Style(
    units={"g": "oz", "mm": "in", "c": "f", "min": "h"}, decimals={"oz": 3, "in": 2, "f": 1, "h": 2},
    delimiter=";", decimal_mark=",", encoding="utf-8-sig", date_format="%d.%m.%Y", spoken_headers=True,
)  # fmt: skip
_PLAIN_DECIMALS = {"g": 1, "mm": 1, "c": 1, "pct": 1, "m": 1}


def write_batch(tables: dict, batch_toml: str, folder, *, style: Style = PLAIN) -> None:
    """Write a batch folder: ``batch.toml`` as it is given and one CSV for each table, in a style."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "batch.toml").write_text(batch_toml, encoding="utf-8", newline="\n")
    for name, table in tables.items():
        columns = [c for c in TABLES[name].columns if c.name in table]
        cells = [_cells(table[c.name], c, style) for c in columns]
        with open(folder / f"{name}.csv", "w", encoding=style.encoding, newline="") as file:
            writer = csv.writer(file, delimiter=style.delimiter, lineterminator="\n")
            writer.writerow([_header(_written_name(c, style), style) for c in columns])
            writer.writerows(zip(*cells, strict=True))


def _written_name(column, style):
    stem, unit = split_unit(column.name)
    return f"{stem}_{style.units[unit]}" if unit in style.units else column.name


def _header(name, style):
    if not style.spoken_headers:
        return name
    stem, unit = split_unit(name)
    words = stem.replace("_", " ").capitalize()
    return f"{words} [{UNITS[unit].symbol}]" if unit else words


def _cells(values, column, style):
    """One column as text; an empty cell for a missing value."""
    unit, written = split_unit(column.name)[1], split_unit(_written_name(column, style))[1]
    blank = values.isna()
    if column.kind == "number":
        numbers = convert(values.astype(float), unit, written) if written != unit else values.astype(float)
        places = style.decimals.get(written, _PLAIN_DECIMALS.get(written, 0))
        if column.name in ("pool_diameter_mm", "flame_height_mm") and written == "mm":
            places = 0
        text = [f"{v:.{places}f}".replace(".", style.decimal_mark) for v in numbers]
    elif column.kind in ("time", "date"):
        text = values.dt.strftime(style.date_format + (" %H:%M" if column.kind == "time" else ""))
    elif column.kind == "flag":
        text = ["yes" if v else "no" for v in values]
    else:
        text = [str(v) for v in values]
    return ["" if empty else t for t, empty in zip(text, blank, strict=True)]


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

    python -m candlelab.simulate data/demo

writes this folder again, byte for byte: screening with seed {seed}, confirmation with seed {second_seed}
(`numpy.random.default_rng`). This page is written by the same command.

**The two seeds were picked**, each out of 300 tried, so that every candidate shows its character on so few candles:
2 of 300 screening batches and 19 of 300 confirmation batches were as tidy as was asked for. So these batches teach the
steps; how often such a test is right must be learnt from other seeds, as `tests/test_simulate.py` does for the model.

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
    suited = _suited_rate(BatchPlan(DEMO_WICKS, ()))
    wicks = [
        (f"{w.wick_series} {w.wick_size}", w.rate_g_per_h, f"{w.rate_g_per_h / suited:.2f}", w.left_pct, w.character)
        for w in DEMO_WICKS
    ]
    lists = (("screening", SCREENING_EVENTS), ("confirmation", CONFIRMATION_EVENTS))
    planted = [_planted(event, batch) for batch, events in lists for event in events]
    for c in SCREENING_CHANGES:
        what = f"before this burn: wick changed to {c.wick_series} {c.wick_size}, {c.reason}, rest {c.rest_days} d"
        planted.append(("screening", c.candle, c.before_burn, what, _plain(c.note)))
    planted += _wall_stops(screening)
    planted.sort(key=lambda row: (row[0] != "screening", row[1], 0 if row[2] == "all" else row[2]))
    lines = __doc__.splitlines()
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

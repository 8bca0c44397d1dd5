"""One burn of every candle that still burns: when it ends, what it uses, what is read meanwhile."""

from __future__ import annotations

import numpy as np

_NEVER = ("flame_on_vessel", "vessel_damaged", "surface_damaged", "tipped", "reignited")


def burn_once(state, number, here):
    """One burn of every candle that still burns: columns of burns and of checks."""
    rng, model, bench, n = state.rng, state.plan.model, state.plan.bench, len(here)
    lit, before = state.light(number, here), state.weigh(here)
    usual_room = np.clip(rng.normal(model.room_c, model.room_sd_c, n), 20.5, 26)
    cold = state.planted("cold room", number, here, np.nan)
    room = np.where(np.isnan(cold), usual_room, cold).round(1)
    mean, fill = state.rate[state.wick[here]] + state.recipe_effect[here], state.fill[here]
    share = np.minimum((state.used[here] + 0.5 * mean * bench.burn_min / 60) / fill, 1)
    rate = _rate(state, number, here, mean, share, room)
    left = state.left[state.wick[here]] * state.left_factor[here] * fill
    reach_min = (fill - left - state.used[here]) / rate * 60
    minutes, ended_by, over = _ending(state, number, here, reach_min)
    times = np.tile(np.array(bench.check_min), (n, 1))
    times[:, 0] = np.where(minutes < times[:, 0], minutes // 2, times[:, 0])
    seen = _readings(state, number, here, rate, share, room, times)
    hot = (seen["wall_c"] > bench.wall_stop_c) & (times <= minutes[:, None])
    stop = np.where(hot.any(1), times[np.arange(n), hot.argmax(1)] + 2, 10**6)
    stopped = stop < minutes
    minutes, over = np.where(stopped, stop, minutes), over & ~stopped
    after = _use(state, here, rate, minutes)
    smoke = _aftersmoke(state, here, mean)
    burn = {
        "row": here,
        "burn": np.full(n, number),
        "lit_at": lit,
        "out_at": lit + minutes.astype("timedelta64[m]"),
        "mass_before_g": before,
        "mass_after_g": after,
        "room_c": room,
        "wick_length_mm": _trimmed(state, number, here),
        "ended_by": np.where(stopped, "stopped", ended_by),
        "aftersmoke_s": smoke,
        "note": np.full(n, "", object),
    }
    state.last_out[here] = burn["out_at"]
    state.burning[here[over]] = False
    made = times <= minutes[:, None]
    check = {
        "row": np.repeat(here, made.sum(1)),
        "burn": np.full(made.sum(), number),
        "elapsed_min": times[made] * 1.0,
    }
    return burn, check | {name: values[made] for name, values in seen.items()}


def _rate(state, number, here, mean, share, room):
    """Burn rates [g/h] of one burn."""
    model = state.plan.model
    noise = state.rng.normal(0, model.burn_sd_g_per_h, len(here))
    rate = mean + state.effect[here] + noise + model.drift_g_per_h * (share - 0.5)
    draught = state.planted("draught", number, here, 0)
    return rate + (model.room_effect_g_per_h * (room - model.room_c) + draught)


def _use(state, here, rate, minutes):
    """Take what a burn uses off the candles; what the scale says afterwards [g]."""
    rng, n = state.rng, len(here)
    timed = minutes + rng.uniform(-0.5, 0.5, n) + rng.uniform(-0.5, 0.5, n)
    used = rate * np.maximum(timed, 1) / 60
    state.used[here] += used
    state.mass[here] -= used
    after = state.weigh(here)
    state.mass[here] -= state.plan.model.trim_g
    return after


def _aftersmoke(state, here, mean):
    """How long the wicks smoke after the flame is out [s]."""
    ratio = mean / state.suited[here]
    scatter = state.rng.normal(1.5 * np.maximum(ratio - 1, 0), 0.3, len(here))
    return np.clip(state.plan.model.aftersmoke_s * np.exp(scatter), 3, 25).round()


def _trimmed(state, number, here):
    """How long the wicks were left [mm]."""
    planted = state.planted("long wick", number, here, np.nan)
    return np.where(np.isnan(planted), state.rng.choice([5.0, 5.5, 6.0], len(here)), planted)


def _ending(state, number, here, reach_min):
    """Minutes, what ended the burn, and whether the candle is over.

    ``reach_min`` is how long its wax lasts. A candle with less than half an hour of wax in
    reach goes out shortly before the timer [invented].
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


def _readings(state, number, here, rate, share, room, times):
    """What is read at the checks, one row per candle and one column per check."""
    rng, model, shape = state.rng, state.plan.model, times.shape
    hours, inner = np.maximum(times, 1) / 60, state.plan.bench.inner_diameter_mm
    rate, share, room = rate[:, None], share[:, None], room[:, None]
    suited = state.suited[here][:, None]
    ratio = rate / suited
    heat = rate * state.kj_per_g[here][:, None] / 3.6
    reach = model.width_per_w * heat
    pool = _pool_width(state, number, reach, rate, suited, hours)
    depth = _pool_depth(state, here, ratio, share, hours)
    rise = model.wall_per_w * heat * (0.55 + 0.45 * pool / inner) * (0.85 + 0.15 * share)
    wall = room + rise * (1 - np.exp(-hours / model.wall_tau_h))
    wall = wall + rng.normal(0, model.wall_sd_c, shape)
    wall += state.planted("off centre", number, here, 0)[:, None]
    drowning = 1 - 2 * np.clip(0.95 - reach / inner, 0, 0.4) * share
    flame = model.flame_mm_per_g_h * rate * drowning + rng.normal(0, model.flame_sd_mm, shape)
    soot = model.soot_slope * (ratio - model.soot_onset) + rng.normal(0, model.soot_sd, shape)
    cap = model.mushroom_mm + 0.3 * hours + model.mushroom_slope_mm * np.maximum(ratio - 1, 0)
    no = np.zeros(shape, bool)
    return {
        "flame_height_mm": np.clip(flame, 8, 74).round(),
        "wall_c": wall.round(1),
        "pool_diameter_mm": pool,
        "pool_depth_mm": (depth * 2).round() / 2,
        "soot": np.clip(np.floor(soot), 0, 3).astype(int).astype(str).astype(object),
        "mushroom_mm": (cap * rng.gamma(12, 1 / 12, shape) * 2).round() / 2,
        "secondary_ignition_s": np.zeros(shape),
        **dict.fromkeys(_NEVER, no),
        "note": np.full(shape, "", object),
    }


def _pool_width(state, number, reach, rate, suited, hours):
    """Width of the pool after some hours [mm]; the first burn melts more slowly."""
    model, first = state.plan.model, number == 1
    tau = model.pool_tau_h * suited / rate * (model.first_burn_factor if first else 1.0)
    width = reach * (1 - np.exp(-hours / tau)) + state.rng.normal(0, 0.7, hours.shape)
    width = np.maximum.accumulate(np.round(width), axis=1)
    return np.clip(width, 5, state.plan.bench.inner_diameter_mm)


def _pool_depth(state, here, ratio, share, hours):
    """Depth of the pool after some hours [mm], at most the wax that is left."""
    model, inner = state.plan.model, state.plan.bench.inner_diameter_mm
    wax_ml = (state.fill - state.used)[here][:, None] / model.wax_g_per_ml
    wax_mm = wax_ml / (np.pi * (inner / 20) ** 2) * 10
    depth = model.depth_per_root_h * np.sqrt(hours) * ratio**1.5 * (1 + model.depth_drift * share)
    noise = state.rng.normal(0, 0.3, hours.shape)
    return np.clip(depth + noise, 0.5, np.maximum(wax_mm, 0.5))

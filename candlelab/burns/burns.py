"""A batch into one row per burn. Burns are marked, never deleted."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab import candle_formulas as formulas
from candlelab.burns.candidates import RECIPE, natural_order, recipe_words, wick_names
from candlelab.logs.batch import Batch, refuse_unburnt
from candlelab.logs.burn_log import burn_places, tells_of_a_lid
from candlelab.logs.settings import Instruments

_READINGS = (
    "elapsed_min", "flame_height_mm", "wall_c", "pool_diameter_mm", "pool_depth_mm", "soot",
    "mushroom_mm",
)  # fmt: skip


def burn_cycles(batch: Batch) -> pd.DataFrame:
    """One row per burn, in candle and burn order, as ``burns.csv`` and ``checks.csv`` tell it.

    Excluded burns and candles stay in the table, with their reason.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.

    Returns
    -------
    pandas.DataFrame
        Who: ``candle``, ``burn``, ``run`` (1 for the wick that the candle was poured with),
        ``candidate``, ``wick`` and the recipe. What was weighed and timed: ``burn_time_h``,
        ``wax_used_g``, ``burn_rate_g_per_h``, ``heat_release_w``, ``fragrance_release_g_per_h``,
        with ``_u_`` the standard uncertainty, and ``fill_used_pct`` at the end of the burn. What
        the checks saw: largest ``wall_max_c``, ``flame_max_mm``, ``pool_share_max_pct``,
        ``soot_max`` and others. ``full_pool_after_h`` and ``full_pool_by_h`` are the checks between
        which the pool became full, empty when it was never seen full. ``excluded`` and
        ``exclusion_reason`` mark what is left out. `GLOSSARY` has every column.

    Raises
    ------
    BurnLogError
        When nothing has been burned yet.

    Examples
    --------
    >>> from candlelab import burn_cycles, demo_folder, read_batch
    >>> burns = burn_cycles(read_batch(demo_folder("screening")))
    >>> first = burns.iloc[0]
    >>> first["candle"], f"{first['wax_used_g'] / first['burn_time_h']:.2f} g/h"
    ('S01', '3.97 g/h')
    """
    refuse_unburnt(batch)
    place_of = {name: n for n, name in enumerate(natural_order(batch.candles["candle"]))}
    place = batch.burns["candle"].map(place_of).to_numpy()
    burns = batch.burns.iloc[np.lexsort((batch.burns["burn"].to_numpy(), place))]
    burns = burns.reset_index(drop=True)
    at = pd.Index(batch.candles["candle"]).get_indexer(burns["candle"])
    candles = batch.candles.iloc[at].reset_index(drop=True)
    table = pd.DataFrame({"candle": burns["candle"], "burn": burns["burn"].astype("int64")})
    recipe = candles[[*RECIPE, "fill_mass_g"]]
    table = pd.concat([_name_wicks(table, batch, candles), recipe], axis=1)
    table = _measure(table, burns, batch)
    # as a copy its columns lie together: rows are taken of it all the time
    return _mark(_observe(table, burns, batch), batch).copy()


def _name_wicks(table: pd.DataFrame, batch: Batch, candles: pd.DataFrame) -> pd.DataFrame:
    """Run number, wick and candidate of each burn; a wick change starts the next run."""
    series = candles["wick_series"].to_numpy(dtype=object)
    size = candles["wick_size"].to_numpy(dtype=object)
    code, names = pd.factorize(table["candle"])
    changes = batch.wick_changes
    far = 1 + int(max([*table["burn"], *changes["before_burn"]], default=0))
    of_candle = pd.Index(names).get_indexer(changes["candle"])
    change_key = of_candle * far + changes["before_burn"].to_numpy(dtype=float)
    changes, change_key = changes.iloc[np.argsort(change_key)], np.sort(change_key)
    until = np.searchsorted(change_key, code * far + table["burn"].to_numpy(), side="right")
    run = 1 + until - np.searchsorted(change_key, code * far)
    later = run > 1
    series[later] = changes["wick_series"].to_numpy(dtype=object)[until[later] - 1]
    size[later] = changes["wick_size"].to_numpy(dtype=object)[until[later] - 1]
    wick = wick_names(series, size, candles["wick_count"])
    words = dict(zip(batch.candles["candle"], recipe_words(batch.candles), strict=True))
    candidate = wick + table["candle"].map(words).to_numpy(dtype=object)
    names = {"candidate": candidate, "wick": wick, "wick_series": series, "wick_size": size}
    return table.assign(run=run, **{k: pd.Series(v, dtype="str") for k, v in names.items()})


def _measure(table: pd.DataFrame, burns: pd.DataFrame, batch: Batch) -> pd.DataFrame:
    """Time, wax, rate, heat, fragrance and share of the fill."""
    settings, same = batch.settings, (table["candle"] == table["candle"].shift()).to_numpy()
    hours = ((burns["out_at"] - burns["lit_at"]) / pd.Timedelta(hours=1)).to_numpy()
    before, after, group = _weights(table, burns, hours)
    used = formulas.wax_used(before, after)
    shared = np.bincount(group)[group] > 1
    weighed = used.copy(), hours.copy()
    for n in np.unique(group[shared]):
        for values, together in zip((used, hours), weighed, strict=True):
            together[group == n] = values[group == n].sum()
    rate = formulas.burn_rate(*weighed)
    tools = settings.instruments
    u_mass = formulas.reading_uncertainty(tools.scale_resolution_g, tools.scale_repeatability_g)
    u_min = formulas.reading_uncertainty(tools.clock_resolution_min, tools.clock_repeatability_min)
    heat = {name: wax.heat_of_combustion_kj_per_g for name, wax in settings.waxes.items()}
    kj_per_g = table["wax"].map(heat).astype(float).fillna(formulas.PARAFFIN_KJ_PER_G).to_numpy()
    no_scent = table["fragrance_load_pct"].isna() & (table["fragrance"] == "")
    load = table["fragrance_load_pct"].mask(no_scent, 0.0).to_numpy()
    net = pd.Series(used - _given_between(burns, before, after, same, tools))
    code = pd.factorize(table["candle"])[0]
    gone = net.groupby(code).cumsum().to_numpy()
    if np.isnan(used).any():
        unknown = pd.Series(np.isnan(used)).groupby(code).cummax().to_numpy()
        gone = np.where(unknown, np.nan, gone)
    fill = table["fill_mass_g"].to_numpy()
    rest = (burns["lit_at"] - burns["out_at"].shift()) / pd.Timedelta(hours=1)
    more = {
        "lit_at": burns["lit_at"],
        "out_at": burns["out_at"],
        "ended_by": burns["ended_by"],
        "burn_time_h": hours,
        "rest_h": np.where(same, rest, np.nan),
        "mass_before_g": burns["mass_before_g"],
        "mass_after_g": burns["mass_after_g"],
        "wax_used_g": used,
        "burn_rate_g_per_h": rate,
        "burn_rate_u_g_per_h": formulas.burn_rate_uncertainty(*weighed, u_mass, u_min / 60.0),
        "wax_shared": shared,
        "heat_release_w": formulas.heat_release(rate, kj_per_g),
        "fragrance_release_g_per_h": formulas.fragrance_release(rate, load, settings.load_basis),
        "fill_used_start_pct": 100.0 * (gone - used) / fill,
        "fill_used_pct": 100.0 * gone / fill,
        "room_c": burns["room_c"],
        "wick_length_mm": burns["wick_length_mm"],
        "aftersmoke_s": burns["aftersmoke_s"],
        "note": burns["note"],
    }
    return pd.concat([table, pd.DataFrame(more)], axis=1)


def _weights(
    table: pd.DataFrame, burns: pd.DataFrame, hours: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Weights before and after each burn, and which burns share their wax.

    A weight that was not taken is that of the moment before or after it, when nothing burned; where
    that was not taken either, the burns around it share their wax by their hours. The first and the
    last weight of a candle cannot be filled in.
    """
    weights = burns[["mass_before_g", "mass_after_g"]].to_numpy(dtype=float, copy=True)
    group = np.arange(len(weights))
    lacking = np.isnan(weights).any(axis=1)
    for candle in table["candle"][lacking].unique():
        rows = np.flatnonzero(table["candle"] == candle)
        own = weights[rows]
        last, first = own[:-1, 1].copy(), own[1:, 0].copy()
        own[:-1, 1] = np.where(np.isnan(last), first, last)
        own[1:, 0] = np.where(np.isnan(first), last, first)
        joined = np.isnan(own[1:, 0])
        clock = np.concatenate(([0.0], np.cumsum(hours[rows])))
        at = np.column_stack((clock[:-1], clock[1:]))
        known = ~np.isnan(own)
        if known.any():
            inside = ~known & (at > at[known].min()) & (at < at[known].max())
            own[inside] = np.interp(at[inside], at[known], own[known])
        weights[rows] = own
        group[rows[1:][joined]] = -1
    starts = np.where(group >= 0, group, 0)
    return weights[:, 0], weights[:, 1], np.maximum.accumulate(starts)


def _given_between(
    burns: pd.DataFrame, before: np.ndarray, after: np.ndarray, same: np.ndarray, tools: Instruments
) -> np.ndarray:
    """Wax given before each burn [g], less than zero when wax was taken: topped up, levelled.

    Steps as small as scale and trimming make them count as nothing; larger ones are those that the
    check of the log points out (gained: five times the scale's resolution, 0.5 g at least; lost:
    three times that). A lid is no wax.
    """
    lid = tells_of_a_lid(burns["note"])
    same = same & ~(lid | lid.shift(fill_value=False)).to_numpy()
    step = np.where(same, before - np.concatenate(([np.nan], after[:-1])), 0.0)
    slack = max(0.5, 5.0 * tools.scale_resolution_g)
    return np.where((step > slack) | (step < -3.0 * slack), step, 0.0)


def _observe(table: pd.DataFrame, burns: pd.DataFrame, batch: Batch) -> pd.DataFrame:
    """What the checks of each burn saw."""
    protocol, n_burns = batch.settings.protocol, len(table)
    place = burn_places(burns, batch.checks)
    order = np.lexsort((batch.checks["elapsed_min"].to_numpy(), place))
    place = place[order]
    checks = {name: batch.checks[name].to_numpy(dtype=float)[order] for name in _READINGS}
    starts = np.flatnonzero(np.diff(place, prepend=-1))
    ends = np.flatnonzero(np.diff(place, append=n_burns))

    def per_burn(values, pick=np.fmax):
        out = np.full(n_burns, np.nan)
        if len(starts):
            out[place[starts]] = pick.reduceat(values, starts)
        return out

    widths = {name: v.inner_diameter_mm for name, v in batch.settings.vessels.items()}
    inner = table["vessel"].map(widths).to_numpy(dtype=float)
    wanted = formulas.full_pool_width(inner[place], protocol.full_pool_margin_mm)
    share = formulas.pool_share(checks["pool_diameter_mm"], inner[place])
    share_last, flame_last = np.full(n_burns, np.nan), np.full(n_burns, np.nan)
    share_last[place[ends]], flame_last[place[ends]] = share[ends], checks["flame_height_mm"][ends]
    wall = per_burn(checks["wall_c"])
    warm = formulas.warm_room_wall(wall, table["room_c"].to_numpy())
    minutes, stopped = 60.0 * table["burn_time_h"].to_numpy(), table["ended_by"] == "stopped"
    longest = formulas.longest_gap(place, checks["elapsed_min"], minutes)
    every, tolerance = protocol.check_every_min, protocol.check_tolerance_min
    gap_from, gap_to = formulas.unchecked(
        place, checks["elapsed_min"], minutes, stopped, every=every, tolerance=tolerance
    )
    more = {
        "n_checks": np.bincount(place, minlength=n_burns),
        "longest_gap_min": longest,
        "gap": np.isfinite(gap_to),
        "gap_from_min": gap_from,
        "gap_to_min": gap_to,
        "wall_max_c": wall,
        "wall_margin_c": batch.settings.limits.wall_stop_c - wall,
        "wall_max_warm_room_c": warm,
        "wall_margin_warm_room_c": batch.settings.limits.wall_stop_c - warm,
        "flame_max_mm": per_burn(checks["flame_height_mm"]),
        "flame_last_mm": flame_last,
        "pool_share_max_pct": per_burn(share),
        "pool_share_last_pct": share_last,
        "pool_depth_max_mm": per_burn(checks["pool_depth_mm"]),
        **_pool_bracket(checks, place, wanted, per_burn),
        "soot_max": per_burn(checks["soot"]),
        "mushroom_max_mm": per_burn(checks["mushroom_mm"]),
    }
    return pd.concat([table, pd.DataFrame(more)], axis=1)


def _pool_bracket(
    checks: dict, place: np.ndarray, wanted: np.ndarray, per_burn
) -> dict[str, np.ndarray]:
    """When the pool became full: between which two checks, and interpolated between them.

    Lighting counts as a look at a pool of no width. The check pattern makes this interval-censored.
    """
    hours, width = checks["elapsed_min"] / 60.0, checks["pool_diameter_mm"]
    seen = np.isfinite(width)
    full = seen & (width >= wanted)
    by = per_burn(np.where(full, hours, np.nan), np.fmin)
    before = seen & ~(hours >= by[place])
    after = per_burn(np.where(before, hours, np.nan))
    watched = per_burn(np.where(seen, hours, np.nan))
    after = np.where(np.isnan(after) & np.isfinite(watched), 0.0, after)
    width_by = per_burn(np.where(full & (hours == by[place]), width, np.nan))
    width_after = np.nan_to_num(per_burn(np.where(before & (hours == after[place]), width, np.nan)))
    target = per_burn(wanted)
    step = width_by - width_after
    with np.errstate(invalid="ignore", divide="ignore"):
        along = np.where(step > 0, (target - width_after) / step, 1.0)
    return {
        "full_pool_after_h": after,
        "full_pool_by_h": by,
        "full_pool_h": after + np.clip(along, 0.0, 1.0) * (by - after),
        "pool_watched_h": watched,
    }


def _mark(table: pd.DataFrame, batch: Batch) -> pd.DataFrame:
    """Exclusions with their reasons; one without a burn leaves out the whole candle."""
    reasons = np.full(len(table), "", dtype=object)
    for row in batch.exclusions.itertuples():
        rows = table["candle"] == row.candle
        if not np.isnan(row.burn):
            rows &= table["burn"] == row.burn
        for n in np.flatnonzero(rows):
            reasons[n] += ("; " if reasons[n] else "") + row.reason
    return table.assign(excluded=reasons != "", exclusion_reason=pd.Series(reasons, dtype="str"))

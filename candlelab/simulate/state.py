"""Where each candle of a plan stands between two burns."""

from __future__ import annotations

import numpy as np
import pandas as pd

_DAYS = "1111110"  # burned on, Monday to Saturday
_MINUTE = "timedelta64[m]"


def of_each_candle(plan, name, usual):
    """One value of the recipe for each candle of a plan, `usual` where its recipe does not say."""
    own = {candle: getattr(recipe, name) for recipe in plan.recipes for candle in recipe.candles}
    values = [own.get(candle[0]) for candle in plan.candles]
    return [usual if value is None else value for value in values]


def suited_rate(plan, kj_per_g=None):
    """Burn rate [g/h] whose pool would reach ``reach_share`` times the inner diameter.

    For the wax of the bench, or another's heat of combustion [kJ/g].
    """
    heat = plan.model.reach_share * plan.bench.inner_diameter_mm / plan.model.width_per_w
    return heat * 3.6 / (plan.bench.heat_of_combustion_kj_per_g if kj_per_g is None else kj_per_g)


class BenchState:
    """The candles of a plan; private to one call of `simulate_batch`, which burns them."""

    def __init__(self, plan, rng):
        self.plan, self.rng = plan, rng
        self.row = {c[0]: i for i, c in enumerate(plan.candles)}
        self.size = {(w.wick_series, w.wick_size): i for i, w in enumerate(plan.wicks)}
        n, bench = len(plan.candles), plan.bench
        self.wick = np.array([self.size[c[1:]] for c in plan.candles])
        self.rate = np.array([w.rate_g_per_h for w in plan.wicks])
        self.left = np.array([w.left_pct for w in plan.wicks]) / 100
        self.recipe_effect = np.array(of_each_candle(plan, "rate_effect_g_per_h", 0.0))
        usual = bench.heat_of_combustion_kj_per_g
        self.kj_per_g = np.array(of_each_candle(plan, "heat_of_combustion_kj_per_g", usual))
        self.suited = suited_rate(plan, self.kj_per_g)
        self.effect = rng.normal(0, plan.model.candle_sd_g_per_h, n)
        self.left_factor = np.clip(rng.normal(1, plan.model.left_sd, n), 0.6, 1.4)
        self.fill = self._on_the_scale(rng.normal(bench.fill_g, bench.fill_g * 0.004, n))
        vessel = rng.normal(bench.vessel_mass_g, bench.vessel_mass_g * 0.015, n)
        self.mass = vessel + 1.2 + self.fill
        self.used, self.used_lit = np.zeros(n), np.zeros(n)
        self.shift = np.arange(n) // bench.group * bench.group_gap_days
        self.last_out = np.full(n, np.datetime64("NaT", "m"))
        self.burning, self.put_out = np.ones(n, bool), np.zeros(n, bool)
        self.first = np.datetime64(bench.first_day)
        first_burn = np.busday_offset(self.first, self.shift, roll="forward", weekmask=_DAYS)
        self.poured = first_burn - np.timedelta64(bench.cure_days, "D")

    def change_wicks(self, number):
        """Put in the new wicks that come before this burn.

        0.3-1 g leaves with the old wick [practice].
        """
        for change in self.plan.changes:
            if change.before_burn == number:
                i = self.row[change.candle]
                self.wick[i] = self.size[change.wick_series, change.wick_size]
                self.mass[i] -= self.rng.uniform(0.3, 1.0)
                self.shift[i] += change.rest_days - 1

    def planted(self, kind, number, here, default):
        """Values of one kind of event for these candles at this burn, `default` where none is."""
        values = np.full(len(here), default, float)
        place = {i: p for p, i in enumerate(here)}
        for event in self.plan.events:
            if event.kind == kind and event.burn in (0, number) and self.row[event.candle] in place:
                values[place[self.row[event.candle]]] = event.value
        return values

    def weigh(self, here):
        """Readings of the scale, g."""
        noise = self.rng.normal(0, self.plan.model.scale_sd_g, len(here))
        return self._on_the_scale(self.mass[here] + noise)

    def _on_the_scale(self, masses):
        """Masses in steps of the scale, g."""
        step = self.plan.bench.scale_resolution_g
        return (np.round(masses / step) * step).round(8)

    def light(self, number, here):
        """Times of lighting: one burn a day, Monday to Saturday, candles a few minutes apart."""
        bench, days = self.plan.bench, number - 1 + self.shift[here]
        day = np.busday_offset(self.first, days, roll="forward", weekmask=_DAYS)
        start = pd.Timedelta(bench.first_lit + ":00").to_timedelta64().astype(_MINUTE)
        jitter = self.rng.integers(0, 3, len(here))
        late = (here % bench.group * bench.stagger_min + jitter).astype(_MINUTE)
        lit = day.astype("datetime64[m]") + start + late
        rest = self.planted("short rest", number, here, np.nan)
        minutes = np.nan_to_num(rest * 60).astype(int).astype(_MINUTE)
        return np.where(np.isnan(rest), lit, self.last_out[here] + minutes)

"""How much of the mix a vessel of the plan takes, and the room that it takes there."""

from __future__ import annotations

import math

from candlelab.candle_formulas import fragrance_fraction
from candlelab.plan.settings import Plan, PlannedCandidate, PlannedVessel
from candlelab.plan.weighing import fill_density


def fragrance_share(load_pct: float, plan: Plan) -> float:
    """Fragrance as a share of the mix."""
    return float(fragrance_fraction(load_pct, plan.settings.load_basis))


def fill_of(vessel: PlannedVessel, candidate: PlannedCandidate, plan: Plan) -> float:
    """Fill [g]: as measured, or what the volume up to the fill line holds of the mix once set.

    NaN where something is missing.
    """
    if vessel.fill_mass_g is not None:
        return vessel.fill_mass_g
    wax = plan.waxes.get(candidate.wax)
    load = candidate.fragrance_load_pct or 0.0
    if vessel.fill_volume_ml is None or wax is None or not wax.density_g_per_ml:
        return math.nan
    if not 0.0 <= fragrance_share(load, plan) < 1.0:
        return math.nan
    return vessel.fill_volume_ml * _density(wax.density_g_per_ml, candidate, plan)


def liquid_volume(fill_g: float, candidate: PlannedCandidate, plan: Plan) -> float:
    """Room [ml] that a fill takes when it takes most.

    That is liquid, where the wax's liquid density is given, else set.
    """
    wax = plan.waxes[candidate.wax]
    lightest = min(wax.density_g_per_ml, wax.liquid_density_g_per_ml or math.inf)
    return fill_g / _density(lightest, candidate, plan)


def _density(wax_g_per_ml: float, candidate: PlannedCandidate, plan: Plan) -> float:
    load, fragrance = candidate.fragrance_load_pct or 0.0, candidate.fragrance_density_g_per_ml
    return fill_density(load, plan.settings.load_basis, wax_g_per_ml, fragrance)

"""Rules on fills: that they are given once, fit their vessel, the jug and the scale."""

from __future__ import annotations

import math

from candlelab.logs.settings_reader import Reader
from candlelab.plan.fills import fill_of, fragrance_share, liquid_volume
from candlelab.plan.settings import Plan, PlannedVessel
from candlelab.plan.weighing import pour_total


def check_fills(plan: Plan, reader: Reader) -> None:
    """Apply every rule on vessels, jug and scale; faults go to the reader's problems."""
    for name, vessel in plan.vessels.items():
        _on_the_scale(name, vessel, plan, reader)
        _diameters(name, vessel, reader)
        if _given_once(name, vessel, reader):
            _under_the_brim(name, vessel, plan, reader)
    _in_the_jug(plan, reader)


def _on_the_scale(name: str, vessel: PlannedVessel, plan: Plan, reader: Reader) -> None:
    step = plan.settings.instruments.scale_resolution_g
    fills = [fill_of(vessel, c, plan) for c in plan.candidates if c.vessel == name]
    if fills and min(fills) < 10.0 * step:
        written = reader.display.written
        found = f"steps of {written(step, 'g')} for a fill of {written(min(fills), 'g')}"
        reader.fault("scale too coarse", "scale_resolution_g", "instruments", found=found)


def _diameters(name: str, vessel: PlannedVessel, reader: Reader) -> None:
    outer, inner = vessel.outer_diameter_mm, vessel.inner_diameter_mm
    if outer is not None and outer < inner:
        values = {"found": reader.display.written(outer, "mm"), "inner": inner}
        problem = "outer diameter below inner"
        reader.fault(problem, "outer_diameter_mm", f"vessels.{name}", **values)


def _given_once(name: str, vessel: PlannedVessel, reader: Reader) -> bool:
    """Whether the fill is given either as a mass or as a volume."""
    mass, volume = vessel.fill_mass_g, vessel.fill_volume_ml
    if (mass is None) != (volume is None):
        return True
    section, both = f"vessels.{name}", mass is not None
    if not any(reader.noted(key, section) for key in ("fill_mass", "fill_volume")):
        texts = {
            "found": "fill_mass_g and fill_volume_ml" if both else "",
            "expected": "one of fill_mass_g and fill_volume_ml",
            "do": "Give the fill that was weighed, or the volume up to the fill line.",
        }
        problem = "two settings for one quantity" if both else "missing setting"
        reader.fault(problem, "fill_mass_g" if both else "", section, **texts)
    return False


def _under_the_brim(name: str, vessel: PlannedVessel, plan: Plan, reader: Reader) -> None:
    brim, fullest = vessel.brim_ml, []
    for c in plan.candidates:
        fill, wax = fill_of(vessel, c, plan), plan.waxes.get(c.wax)
        share = fragrance_share(c.fragrance_load_pct or 0.0, plan)
        if c.vessel == name and fill > 0 and share < 1.0 and wax and wax.density_g_per_ml > 0:
            fullest.append((liquid_volume(fill, c, plan), fill))
    if vessel.fill_volume_ml is not None and not fullest:
        fullest = [(vessel.fill_volume_ml, math.nan)]
    if brim is None or not fullest:
        return
    volume, fill = max(fullest)
    if volume > brim + 1e-9:
        key = "fill_mass_g" if vessel.fill_mass_g is not None else "fill_volume_ml"
        written = reader.display.written
        grams = f"{written(fill, 'g')} take " if math.isfinite(fill) else ""
        measured = "as a cylinder of its inner diameter and height"
        if vessel.brimful_volume_ml is not None:
            measured = "as measured"
        values = {"found": f"{grams}{written(volume, 'ml')}", "brim": brim, "measured": measured}
        reader.fault("fill over the brim", key, f"vessels.{name}", **values)


def _in_the_jug(plan: Plan, reader: Reader) -> None:
    fills = [fill_of(vessel, c, plan) for _, c, vessel in plan.in_vessels]
    largest = max((fill for fill in fills if fill > 0), default=0.0)
    pour = plan.pour
    if not 0 <= pour.losses_pct < 100 or pour.jug_g <= 0 or not largest:
        return
    least = pour_total([largest], pour.losses_pct)
    if least > pour.jug_g:
        up = math.ceil(10.0 * least) / 10.0
        values = {"found": reader.display.written(pour.jug_g, "g"), "least": up}
        reader.fault("jug smaller than a candle", "jug_g", "pour", **values)

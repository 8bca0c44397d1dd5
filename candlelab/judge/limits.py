"""Batches with different limits and targets: what differs, and all of them by one set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

from candlelab.burns.candidates import WIDTH_WITHIN
from candlelab.logs.batch import Batch
from candlelab.logs.settings import FLAME_LIMITS_MM, Limits
from candlelab.text import listed, of_folder
from candlelab.units import Display

_WITHIN = 0.002  # rounding of a limit that was written in other units
_NAMES = {
    "wall_caution_c": ("wall caution limit", "°C"),
    "wall_stop_c": ("wall stop limit", "°C"),
    "flame_mm": ("flame limit", "mm"),
    "pool_depth_mm": ("melt pool limit", "mm"),
    "end_wax_left_pct": ("limit of wax left at the end", "%"),
    "full_pool_margin_mm": ("margin of a full pool", "mm"),
}
_OF_PROTOCOL = ("end_wax_left_pct", "full_pool_margin_mm")


def by_the_stricter(batches: Sequence[Batch]) -> tuple[list[Batch], list[str]]:
    """Batches with the stricter of their limits, and a sentence for each limit that differed.

    Parameters
    ----------
    batches : sequence of Batch
        Rounds of one candidate; none of them is changed.

    Returns
    -------
    list of Batch, list of str
        A limit that only one round has holds in all. A batch that has them already is handed back
        as it is.
    """
    settings = [batch.settings for batch in batches]
    limits: dict[str, float | None] = {}
    said = []
    for name in _NAMES:
        of = [getattr(s.protocol if name in _OF_PROTOCOL else s.limits, name) for s in settings]
        known = [value for value in of if value is not None]
        limits[name] = min(known, default=None)
        apart = bool(known) and max(known) > min(known) * (1.0 + _WITHIN)
        if apart or 0 < len(known) < len(of):
            said.append(_differs(name, batches, of))
    strictest = min(FLAME_LIMITS_MM.values())
    flames = {s.standard: FLAME_LIMITS_MM.get(s.standard, strictest) for s in settings}
    apart = len(set(flames.values())) > 1
    if apart:
        named = listed([_standard(name) for name in flames])
        stricter = settings[0].display.written(min(flames.values()), "mm")
        said.append(f"Flames go by {named}: all are judged by the stricter, {stricter}.")
    return [_judged_by(batch, limits, "" if apart else None) for batch in batches], said


def by_the_first_targets(batches: Sequence[Batch]) -> tuple[list[Batch], list[str]]:
    """Batches with the targets of the first that names any, and a sentence where they differed.

    Parameters
    ----------
    batches : sequence of Batch
        Batches that are taken together; none of them is changed.

    Returns
    -------
    list of Batch, list of str
        A batch that has these targets already is handed back as it is.
    """
    of = [batch.settings.targets for batch in batches]
    used = next((targets for targets in of if targets), ())
    whose = "the first" if of and of[0] else "the first that names any"
    said = f"The batches have different targets: those of {whose} are used."
    ready = [
        b if own == used else replace(b, settings=replace(b.settings, targets=used))
        for b, own in zip(batches, of, strict=True)
    ]
    return ready, [said] if any(own != used for own in of) else []


def widths_told(batches: Sequence[Batch]) -> list[str]:
    """A sentence for each vessel that is not as wide in all batches: its candles are taken for one
    candidate, so that what failed in either counts."""
    widths: dict[str, list[tuple[float, str]]] = {}
    for batch in batches:
        for name in batch.candles["vessel"].unique():
            wide = batch.settings.vessels[name].inner_diameter_mm
            widths.setdefault(name, []).append((wide, batch.folder.resolve().name))
    apart = {
        name: of for name, of in widths.items() if max(of)[0] > min(of)[0] * (1.0 + WIDTH_WITHIN)
    }
    display, said = batches[0].settings.display, []
    for name, of in apart.items():
        each = listed([f"{display.written(wide, 'mm')} in {where}" for wide, where in of])
        said.append(
            f"The {name} has an inner diameter of {each}. Its candles are taken together: give it "
            "two names if these are two vessels."
        )
    return said


def _standard(name: str) -> str:
    return name or "the stricter of the two standards"


def _judged_by(batch: Batch, limits: dict[str, Any], standard: str | None) -> Batch:
    old = batch.settings
    new = replace(
        old,
        limits=Limits(**{f.name: limits[f.name] for f in fields(Limits)}),
        protocol=replace(old.protocol, **{name: limits[name] for name in _OF_PROTOCOL}),
        standard=old.standard if standard is None else standard,
    )
    return batch if new == old else replace(batch, settings=new)


def _differs(name: str, batches: Sequence[Batch], of: list[float | None]) -> str:
    (label, unit), display = _NAMES[name], batches[0].settings.display
    rounds: dict[str, list[str]] = {}
    for batch, value in zip(batches, of, strict=True):
        rounds.setdefault(_value(value, unit, display), []).append(
            of_folder(batch.folder.resolve().name)
        )
    each = "; ".join(f"{listed(names)} {value}" for value, names in rounds.items())
    stricter = _value(min(v for v in of if v is not None), unit, display)
    return f"Your {label} differs: {each}. All are judged by the stricter, {stricter}."


def _value(value: float | None, unit: str, display: Display) -> str:
    if value is None:
        return "not set"
    return display.both(value, unit) if unit == "°C" else display.written(value, unit)

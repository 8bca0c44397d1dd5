"""Limits that would not be read, limits that guard nothing, and burns too short to show much."""

from __future__ import annotations

import dataclasses
import difflib

from candlelab.logs.problems import LOOK, MUST_FIX
from candlelab.logs.settings import Limits, Protocol
from candlelab.text import closest
from candlelab.units import SI, normalise_header, split_unit

# Settings that would loosen what a standard asks for: the highest value that is taken, and why.
AT_MOST = {
    "check_every_min": (
        60.0,
        "Standards ask for an hourly record: write 60; a burn with fewer checks then shows as not "
        "checked.",
    ),
    "check_tolerance_min": (30.0, "A longer delay would let a missed hourly check pass."),
    "end_wax_left_pct": (
        40.0,
        "A flame that dies with more wax left went out early; that is no end of life.",
    ),
}
# What a value of a studio most likely is; outside of it a digit or a unit
# may have slipped. Common practice, no source.
PLAUSIBLE = {
    "wall_caution_c": (35.0, 90.0), "wall_stop_c": (35.0, 90.0), "pool_depth_mm": (3.0, 30.0),
    "flame_mm": (10.0, 76.2), "inner_diameter_mm": (20.0, 250.0),
    "burn_rate_g_per_h": (1.0, 20.0), "heat_of_combustion_kj_per_g": (30.0, 50.0),
}  # fmt: skip

_NAMES = [field.name for field in dataclasses.fields(Limits)]
_STEMS = {split_unit(name)[0] for name in _NAMES}
_ALIKE = 0.8  # "limtis" is so much like "limits", "units" is not; common practice, no source
_HOTTEST_STOP_C = 70.0  # common practice, no source
_NO_STOP_C = 90.0  # no hand and few glasses bear that: a slip; common practice, no source
_STANDARD_H = 4.0  # ASTM F2417, read second-hand
_NOT_THERE = "a limit that is not read is not there."


def meant_limit(key: str) -> str:
    """What to do about an unknown name at the top that means limits; empty for another name."""
    name = normalise_header(key)
    like = difflib.SequenceMatcher(None, name, "limits").ratio() >= _ALIKE
    if like or {"limit", "limits"} & set(name.split("_")):
        return f"Name the section [limits]: {_NOT_THERE}"
    meant = closest(name, _NAMES)
    alike = meant and difflib.SequenceMatcher(None, name, meant).ratio() >= _ALIKE
    if split_unit(name)[0] in _STEMS or alike:
        return f"Write {meant or key} below [limits]: {_NOT_THERE}"
    return ""


def check_limits(limits: Limits, reader) -> None:
    """Point out a caution limit above the stop limit, and a stop limit that is too hot."""
    caution, stop = limits.wall_caution_c, limits.wall_stop_c
    if caution > stop:
        found = f"caution at {SI.both(caution, '°C')}, stop at {SI.both(stop, '°C')}"
        reader.fault("caution above stop", _key(reader, "wall_caution"), "limits", found=found)
    if stop > _HOTTEST_STOP_C:
        values = {"found": SI.both(stop, "°C"), "most": SI.both(_HOTTEST_STOP_C, "°C")}
        values["level"] = MUST_FIX if stop > _NO_STOP_C else LOOK
        reader.fault("stop limit too hot", _key(reader, "wall_stop"), "limits", **values)


def check_length(protocol: Protocol, reader) -> None:
    """Point out burns that are shorter than those of the standards."""
    if protocol.burn_h < _STANDARD_H:
        key = next((k for k in ("burn_h", "burn_min") if reader.has(k, "protocol")), "burn_h")
        values = {"found": f"{protocol.burn_h:g} h", "least": _STANDARD_H}
        reader.fault("burns shorter than the standards'", key, "protocol", **values)


def _key(reader, stem: str) -> str:
    """The name of a limit as the file has it, in whatever unit."""
    return next((k for k in (f"{stem}_c", f"{stem}_f") if reader.has(k, "limits")), f"{stem}_c")

"""The simulated bench as data: its model, its wicks, its vessel and calendar, and the plan of a
batch.

The bench is a model, not a record. Each number of the model is tagged [lit] a paper, [practice]
common practice with
no source, or [invented] chosen so that the picture is plausible. ``simulate`` burns a plan.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


def _number(value, unit, tag, meaning):
    return field(default=value, metadata={"unit": unit, "tag": tag, "meaning": meaning})


@dataclass(frozen=True)
class Model:
    """The assumptions of the bench with their numbers; `metadata` of each field has unit, tag and
    meaning."""

    candle_sd_g_per_h: float = _number(
        0.25, "g/h", "invented", "burn rate, candle to candle of a wick, sd"
    )
    burn_sd_g_per_h: float = _number(
        0.20, "g/h", "invented", "burn rate, burn to burn of a candle, sd"
    )
    drift_g_per_h: float = _number(
        0.6, "g/h", "practice", "burn rate, full to empty candle: late burns run hotter"
    )
    room_effect_g_per_h: float = _number(
        0.02, "g/h per °C", "invented", "burn rate for each °C of room above room_c"
    )
    room_c: float = _number(22.5, "°C", "practice", "room temperature, mean")
    room_sd_c: float = _number(0.6, "°C", "practice", "room temperature, burn to burn, sd")
    width_per_w: float = _number(
        4 / 3, "mm/W", "invented", "width of the pool for each watt, where no wall stops it"
    )
    reach_share: float = _number(
        1.12, "", "invented", "reach of a suited wick as a share of the inner diameter"
    )
    pool_tau_h: float = _number(
        1.15, "h", "invented", "time constant of the pool, times suited rate / rate"
    )
    first_burn_factor: float = _number(
        1.3, "", "practice", "time constant of the pool in the first burn, times that"
    )
    depth_per_root_h: float = _number(
        4.4, "mm/√h", "practice", "pool depth at the suited rate: 8.8 mm after 4 h"
    )
    depth_drift: float = _number(
        0.12, "", "invented", "pool depth from a full to an empty candle, share added"
    )
    wax_g_per_ml: float = _number(
        0.9, "g/ml", "practice", "density of the wax: no pool is deeper than the wax left"
    )
    wall_per_w: float = _number(
        0.49, "°C/W", "invented", "rise of the wall over the room, full pool, end of life"
    )
    wall_tau_h: float = _number(0.7, "h", "invented", "time constant of the wall")
    wall_sd_c: float = _number(0.5, "°C", "practice", "reading of the wall, sd")
    flame_mm_per_g_h: float = _number(
        6.2, "mm per g/h", "practice", "flame height: 35 mm at 5.6 g/h"
    )
    flame_sd_mm: float = _number(1.8, "mm", "practice", "flame height from check to check, sd")
    soot_slope: float = _number(
        8.0, "grades", "invented", "hidden soot scale for each unit of rate / suited rate"
    )
    soot_onset: float = _number(
        1.12, "", "invented", "rate / suited rate where the hidden soot scale is at 0"
    )
    soot_sd: float = _number(
        0.22, "grades", "invented", "hidden soot scale, sd; the grade is its whole part"
    )
    mushroom_mm: float = _number(
        0.5, "mm", "practice", "carbon cap at lighting, mean; +0.3 mm each hour"
    )
    mushroom_slope_mm: float = _number(
        7.0, "mm", "invented", "carbon cap for each unit of rate / suited rate above 1"
    )
    aftersmoke_s: float = _number(
        6.0, "s", "practice", "aftersmoke at the suited rate, middle value; held to 3-25 s"
    )
    scale_sd_g: float = _number(0.04, "g", "practice", "repeatability of the scale, sd")
    trim_g: float = _number(0.02, "g", "practice", "wick and soot trimmed off between two burns")
    left_sd: float = _number(
        0.15, "", "invented", "wax out of reach, candle to candle, sd as a share of the wick's mean"
    )


@dataclass(frozen=True)
class WickTruth:
    """One wick size and what is true of it in the bench's vessel.

    ``rate_g_per_h`` is the mean burn rate of a half-used candle, ``left_pct`` the share of the
    fill it cannot reach.
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
    spare_min: int = 30
    scale_resolution_g: float = 0.1
    wall_stop_c: float = np.inf
    max_burns: int = 20
    wax_lot: str = "L07"


@dataclass(frozen=True)
class Recipe:
    """What some candles are poured of when it is not what the bench says, and what that does to
    the burn rate.

    ``rate_effect_g_per_h`` is added to the mean burn rate of the wick; None leaves a value as the
    bench has it.
    A load of 0 is a candle without a fragrance.
    """

    candles: tuple[str, ...]
    rate_effect_g_per_h: float = 0.0
    wax: str | None = None
    heat_of_combustion_kj_per_g: float | None = None
    wax_lot: str | None = None
    fragrance_load_pct: float | None = None


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
    """Something planted. ``kind`` is a key of `EVENT_KINDS`; burn 0 is the whole candle; ``note``
    goes into the log."""

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
    "drowned": "went out by itself after {value:g} min with wax standing; the test of this candle ends "
    "here",
    "short end": "went out by itself at its end, after {value:g} min",
    "stopped": "put out after {value:g} min; the test of this candle ends here",
    "tall flame": "flame of {value:g} mm at {at_min} min",
    "missed check": "check at {at_min} min missed",
    "off centre": "wick off centre, hottest wall {value:g} °C higher; the candle is left out "
    "(exclusions.csv)",
    "draught": "draught, burn rate {value:g} g/h higher; the burn is left out (exclusions.csv)",
    "crack": "vessel cracked, seen at {at_min} min",
    "set aside": "the whole candle is left out (exclusions.csv)",
    "no aftersmoke": "aftersmoke not written down",
    "note": "a note in the log",
}


@dataclass(frozen=True)
class BatchPlan:
    """What is burnt: ``candles`` holds (candle, wick series, wick size); ``recipes`` the candles
    poured otherwise.

    Of every candidate the first ``throw_candles`` candles are scored at ``throw_burns``: 1 +
    ``throw_slope`` * x /
    (1 + x / ``throw_half_g_per_h``) for x g/h of fragrance, so that the score at first rises and
    then flattens.
    """

    wicks: tuple[WickTruth, ...]
    candles: tuple[tuple[str, str, str], ...]
    bench: Bench = Bench()
    changes: tuple[WickChange, ...] = ()
    events: tuple[Event, ...] = ()
    model: Model = Model()
    throw_burns: tuple[int, ...] = ()
    throw_candles: int = 1
    throw_slope: float = 12.0
    throw_half_g_per_h: float = np.inf
    recipes: tuple[Recipe, ...] = ()

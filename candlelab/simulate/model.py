"""The simulated bench as data: its model, wicks, vessel, calendar, and the plan of a batch.

The bench is a model, not a record. Each number of the model is tagged [lit] a
paper, [practice] common practice with no source, or [invented] chosen so that the
picture is plausible. ``simulate`` burns a plan.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np


def _number(value, unit, tag, meaning):
    return field(default=value, metadata={"unit": unit, "tag": tag, "meaning": meaning})


@dataclass(frozen=True)
class Model:
    """The assumptions of the bench with their numbers.

    `metadata` of each field has unit, tag and meaning.
    """

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

    Parameters
    ----------
    wick_series, wick_size : str
    size_rank : int
        Place in the order of sizes of its series, from 1.
    rate_g_per_h : float
        Mean burn rate of a half-used candle.
    left_pct : float
        Share of the fill that it cannot reach.
    linear_density_tex, width_mm : float, optional
        As listed in ``wicks.csv``.
    character : str, optional
        What it is like, in words.
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
    """Vessel, recipe, calendar and instruments of a batch; times are local wall-clock times.

    Parameters
    ----------
    vessel, inner_diameter_mm, vessel_mass_g, fill_g
        What is filled, and how far.
    wax, heat_of_combustion_kj_per_g, wax_lot, fragrance, fragrance_load_pct
        What it is filled with; the load is a share of the wax.
    cure_days : int, default 18
        Days from pouring to the first burn.
    first_day, first_lit : str
        Day and time of the first lighting, as in "2026-02-02" and "09:00".
    stagger_min : int, default 4
        Minutes between lighting two candles.
    group, group_gap_days : int
        Candles that are lit on one day, and days until the next group begins.
    burn_min : int, default 240
        Minutes of a burn.
    check_min : tuple of int, default (60, 120, 180, 240)
        Minutes after lighting at which a candle is checked.
    spare_min : int, default 30
        A candle with less wax than for so many minutes goes out shortly before the timer.
    scale_resolution_g : float, default 0.1
        Steps of the scale.
    wall_stop_c : float, default inf
        A candle is put out two minutes after a wall reading over this, or steady black smoke,
        and is not lit again.
    max_burns : int, default 20
        Burns after which nobody burns on.
    """

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
    """What some candles are poured of instead of what the bench says, and what that does.

    ``rate_effect_g_per_h`` is added to the mean burn rate of the wick; None leaves a value as the
    bench has it. A load of 0 is a candle without a fragrance.
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
    """Something planted.

    ``kind`` is a key of `EVENT_KINDS`; burn 0 is the whole candle; ``note`` goes into the log.
    """

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
    "drowned": "went out by itself after {value:g} min with wax standing; the test of this candle "
    "ends here",
    "short end": "went out by itself at its end, after {value:g} min",
    "stopped": "put out after {value:g} min; the test of this candle ends here",
    "tall flame": "flame of {value:g} mm at {at_min} min",
    "missed check": "check at {at_min} min missed",
    "off centre": "wick off centre, hottest wall {value:g} °C higher; the candle is set aside "
    "(exclusions.csv)",
    "draught": "draught, burn rate {value:g} g/h higher; the burn is set aside (exclusions.csv)",
    "crack": "vessel cracked, seen at {at_min} min",
    "set aside": "the whole candle is set aside (exclusions.csv)",
    "no aftersmoke": "aftersmoke not written down",
    "note": "a note in the log",
}


@dataclass(frozen=True)
class BatchPlan:
    """What is burned.

    Parameters
    ----------
    wicks : tuple of WickTruth
        Every wick that is listed, burned or not.
    candles : tuple of (str, str, str)
        Name, wick series and wick size of every candle.
    bench : Bench, optional
    changes : tuple of WickChange, optional
        New wicks before a burn.
    events : tuple of Event, optional
        What is planted.
    model : Model, optional
        The assumptions with their numbers.
    throw_burns : tuple of int, optional
        Burns at which scent is scored.
    throw_candles : int, default 1
        Candles of every candidate that are scored.
    throw_slope, throw_half_g_per_h : float
        The score is 1 + slope * x / (1 + x / half) for x g/h of fragrance: at first it rises, then
        it flattens.
    recipes : tuple of Recipe, optional
        The candles that are poured otherwise.
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

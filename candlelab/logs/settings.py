"""What ``batch.toml`` says: the batch, its vessels, waxes, limits, protocol and targets.

Each section is a frozen record whose fields carry their unit in the name and whose defaults stand
here. A file may use another unit of the same dimension (``inner_diameter_in``).
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass, field

from candlelab.days import LANGUAGES, MONTH_FIRST
from candlelab.units import SI, Display, DisplayChoice

Count = int  # a whole number that may be 0


@dataclass(frozen=True)
class Vessel:
    """A vessel. ``inner_diameter_mm`` is measured at the height of the wax."""

    inner_diameter_mm: float
    inner_height_mm: float | None = None
    brimful_volume_ml: float | None = None
    description: str = ""


@dataclass(frozen=True)
class Wax:
    """A wax or blend. Heat of combustion defaults to paraffin, 43.8 kJ/g (Hamins et al. 2005)."""

    heat_of_combustion_kj_per_g: float = 43.8
    cure_days: float | None = None
    description: str = ""


@dataclass(frozen=True)
class Limits:
    """The studio's own limits; common practice, no source. An empty one is not judged."""

    wall_caution_c: float = 60.0
    wall_stop_c: float = 65.0
    flame_mm: float | None = None
    pool_depth_mm: float | None = None


@dataclass(frozen=True)
class Protocol:
    """How the burns are meant to be done.

    4 h burns, hourly checks, 20-30 degC, 3 h of rest and a wick of at most 1/4 in: ASTM F2417, read
    second-hand. Tolerances, cure, the pool margin and the two figures of wax left: common practice,
    no source. A candle has ended when its last burn went out by itself with at most
    ``end_wax_left_pct`` left; more than ``hang_up_pct`` then is hang-up.
    """

    burn_h: float = 4.0
    burn_tolerance_min: float = 15.0
    check_every_min: float = 60.0
    check_tolerance_min: float = 15.0
    room_low_c: float = 20.0
    room_high_c: float = 30.0
    rest_h: float = 3.0
    wick_length_max_mm: float = 6.35
    cure_days: float | None = None
    full_pool_margin_mm: float = 3.0
    end_wax_left_pct: float = 25.0
    hang_up_pct: float = 5.0


@dataclass(frozen=True)
class Instruments:
    """Resolution and repeatability of scale and clock, for the uncertainty of the burn rate."""

    scale_resolution_g: float = 0.1
    scale_repeatability_g: float = 0.1
    clock_resolution_min: float = 1.0
    clock_repeatability_min: float = 0.0


@dataclass(frozen=True)
class Scale:
    """A scale on a cable, for the bench page.

    ``kind`` says whether it ``asks`` (answers when asked for a weight) or ``talks`` (sends lines by
    itself); ``unit`` is taken where a line names none. ``port`` may hold a star for what changes.
    """

    port: str = ""
    baud: int = 9600
    kind: str = ""
    unit: str = ""


@dataclass(frozen=True)
class Scent:
    """How a panel scores scent, and how it is to be planned.

    ``words`` name the steps of the scale from nothing up; without them scores are numbers from 0 to
    ``highest``. ``margin`` is the largest difference that does not matter, ``step`` one that does,
    both in steps of the scale. The rest is for a plan: noses, sessions, candles that a nose smells
    in a session before it tires (practice, no source), hidden repeats, rest between candles, blank
    checks of each nose before the first session, and where and how far away they sit.
    """

    words: tuple[str, ...] = ()
    highest: float = 10.0
    margin: float | None = None
    step: float = 1.0
    noses: int = 4
    sessions: int = 2
    candles_a_session: int = 6
    repeats: int = 1
    blank_checks: Count = 8
    rest_min: float = 3.0
    place: str = ""
    distance_m: float = 2.0

    @property
    def top(self) -> float:
        """The highest score of the scale."""
        return len(self.words) - 1.0 if self.words else self.highest

    @property
    def alike(self) -> float:
        """The largest difference that does not matter: half a step of words, a twentieth of the
        scale in numbers, where no margin is set."""
        if self.margin is not None:
            return self.margin
        return 0.5 if self.words else self.highest / 20.0


@dataclass(frozen=True)
class Prices:
    """What is paid, for how much of it, and what a candle is sold at; in one currency.

    ``wax_price`` is what ``wax_bought_g`` costs, and so on. What has no price is left out.
    """

    currency: str = ""
    wax_price: float | None = None
    wax_bought_g: float = 1000.0
    fragrance_price: float | None = None
    fragrance_bought_g: float = 1000.0
    wick_price: float | None = None
    wicks_bought: float = 1.0
    vessel_price: float | None = None
    vessels_bought: float = 1.0
    label_price: float | None = None
    labels_bought: float = 1.0
    sold_at: float | None = None


@dataclass(frozen=True)
class Target:
    """What the studio wants of one quantity; either end may be open.

    A candle is inside from ``low`` to ``high``. ``best`` is the value that satisfies fully;
    satisfaction falls to nothing at the ends. Without it everything inside satisfies. ``weight``
    says how much the quantity counts beside the others.
    """

    quantity: str
    low: float = -math.inf
    high: float = math.inf
    best: float | None = None
    weight: float = 1.0
    vessel: str = ""


@dataclass(frozen=True)
class Settings:
    """One ``batch.toml``, read."""

    title: str
    question: str = ""
    stage: str = "screening"
    confirms: str = ""
    studio: str = ""
    time_zone: str = ""
    slash_dates: str = ""
    standard: str = ""
    load_basis: str = "wax"
    vessels: dict = field(default_factory=dict)
    waxes: dict = field(default_factory=dict)
    limits: Limits = Limits()
    protocol: Protocol = Protocol()
    instruments: Instruments = Instruments()
    scale: Scale = Scale()
    scent: Scent = Scent()
    prices: Prices = Prices()
    display: Display = SI
    targets: tuple = ()
    columns: dict = field(default_factory=dict)


# The tallest flame that a standard allows.
FLAME_LIMITS_MM = {"EN 15493": 75.0, "ASTM F2417": 76.2}

CHOICES = {
    "stage": ("screening", "confirmation"),
    "load_basis": ("wax", "total"),
    "standard": ("EN 15493", "ASTM F2417"),
    "slash_dates": ("day/month/year", "month/day/year"),
    "scale.kind": ("asks", "talks"),
    "scale.unit": ("g", "kg", "oz", "lb"),
    "display.units": ("si", "us"),
    "display.mass": ("g", "oz"),
    "display.length": ("mm", "in"),
    "display.temperature": ("C", "F"),
    "display.paper": ("A4", "Letter"),
    "display.dates": ("day month year", MONTH_FIRST),
    "display.date_language": LANGUAGES,
}

PLAIN_SECTIONS = {
    "limits": Limits, "protocol": Protocol, "instruments": Instruments, "scale": Scale,
    "scent": Scent, "prices": Prices,
    "display": DisplayChoice,
}  # fmt: skip
NAMED_SECTIONS = {"vessels": Vessel, "waxes": Wax}
SECTIONS = {f"{name}.NAME": kind for name, kind in NAMED_SECTIONS.items()} | PLAIN_SECTIONS
ALL = [f.name for f in dataclasses.fields(Settings)]
TOP = [name for name in ALL if name not in (*PLAIN_SECTIONS, *NAMED_SECTIONS, "targets", "columns")]

"""What ``plan.toml`` says: what is poured, on which bench it burns, and when.

A plan has the sections of ``batch.toml`` (vessels, waxes, limits, protocol, instruments,
targets), which pass into the batch, and those of this module. Defaults are common
practice, no source, unless a docstring says otherwise.
"""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from datetime import date

from candlelab.logs.display import as_written
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings import Settings, Vessel, Wax
from candlelab.logs.settings_reader import Reader, read_sections
from candlelab.logs.toml_text import parse_settings
from candlelab.plan.faults import PLAN_FAULTS

WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WALL_MM = 5.0  # of a vessel whose outer diameter is not given; common practice, no source


@dataclass(frozen=True)
class PlannedVessel(Vessel):
    """A vessel, and how far it is filled: by a mass, or by the volume up to the fill line."""

    outer_diameter_mm: float | None = None
    fill_mass_g: float | None = None
    fill_volume_ml: float | None = None

    @property
    def width_mm(self) -> float:
        """Outer diameter [mm]; inner diameter and two walls of 5 mm where it is not given."""
        return self.outer_diameter_mm or self.inner_diameter_mm + 2.0 * WALL_MM

    @property
    def brim_ml(self) -> float | None:
        """What it holds to the brim [ml]: as measured, else as a cylinder, else None."""
        if self.brimful_volume_ml is not None or self.inner_height_mm is None:
            return self.brimful_volume_ml
        return math.pi / 4.0 * self.inner_diameter_mm**2 * self.inner_height_mm / 1000.0


@dataclass(frozen=True)
class PlannedWax(Wax):
    """A wax, with its density once it has set and, where known, while it is poured.

    Liquid wax takes more room.
    """

    density_g_per_ml: float = 0.9
    liquid_density_g_per_ml: float | None = None


@dataclass(frozen=True)
class CandleRecipe:
    """What candles are made of; a None is filled in from ``[recipe]``.

    Load on the basis that ``load_basis`` names.

    ``burn_rate_g_per_h`` is what the studio expects, from an earlier batch or a
    guess: it sets how many burns are planned.
    """

    vessel: str = None  # type: ignore[assignment]  # filled in once read
    wax: str = None  # type: ignore[assignment]  # filled in once read
    fragrance: str = None  # type: ignore[assignment]  # filled in once read
    fragrance_load_pct: float | None = None
    fragrance_density_g_per_ml: float | None = None
    dye: str = None  # type: ignore[assignment]  # filled in once read
    wax_lot: str = None  # type: ignore[assignment]  # filled in once read
    burn_rate_g_per_h: float | None = None
    candles: int = None  # type: ignore[assignment]  # filled in once read
    wick_count: int = None  # type: ignore[assignment]  # filled in once read


@dataclass(frozen=True)
class PlannedCandidate(CandleRecipe):
    """A wick and its recipe; ``control`` says that it is poured in other batches as well."""

    wick_series: str = ""
    wick_size: str = ""
    control: bool = False


@dataclass(frozen=True)
class Pour:
    """The day of pouring, what the jug holds, and what share of the weighed out stays in it."""

    poured_on: date | None = None
    jug_g: float = 1500.0
    losses_pct: float = 3.0
    reserve_pct: float = 10.0


@dataclass(frozen=True)
class Layout:
    """Seed of the draw, clear distance between candles, and from the edge of the bench.

    150 mm between candles is read second-hand from a standard, 200 mm is common practice.
    """

    seed: int = 1
    spacing_mm: float = 200.0
    edge_mm: float = 50.0
    candle_prefix: str = "C"


@dataclass(frozen=True)
class BenchTop:
    """The part of a bench on which candles stand."""

    length_mm: float
    depth_mm: float
    description: str = ""


@dataclass(frozen=True)
class Timetable:
    """When candles are lit and who watches them.

    A check of one candle takes ``minutes_per_check``, ``spare_pct`` of the time between checks
    stays free, and ``margin_pct`` is added to the life that the expected burn rate gives.
    """

    first_burn_on: date | None = None
    burn_days: tuple[str, ...] = WEEK[:6]
    lit_at: tuple[str, ...] = ("09:00",)
    people: int = 1
    minutes_per_check: float = 3.0
    spare_pct: float = 25.0
    margin_pct: float = 10.0


@dataclass(frozen=True)
class Aim:
    """What the candles should show: a difference that matters, and the share that should pass.

    The spread between candles of one candidate, and between burns of one
    candle, as standard deviations; "candlelab candles" prints those of earlier
    batches. Without both an assumption stands in.
    """

    difference_g_per_h: float = 0.5
    reliability_pct: float = 90.0
    candle_sd_g_per_h: float | None = None
    burn_sd_g_per_h: float | None = None


@dataclass(frozen=True)
class Plan:
    """One plan, read. ``settings`` is what passes into ``batch.toml``."""

    settings: Settings
    candidates: tuple[PlannedCandidate, ...]
    pour: Pour
    layout: Layout
    benches: dict[str, BenchTop]
    timetable: Timetable
    aim: Aim

    @property
    def vessels(self) -> dict[str, PlannedVessel]:
        """The vessels that could be read."""
        return {name: vessel for name, vessel in self.settings.vessels.items() if vessel}

    @property
    def waxes(self) -> dict[str, PlannedWax]:
        """The waxes that could be read."""
        return {name: wax for name, wax in self.settings.waxes.items() if wax}

    @property
    def in_vessels(self) -> list[tuple[int, PlannedCandidate, PlannedVessel]]:
        """The candidates whose vessel could be read, each with its number and its vessel."""
        numbered, vessels = enumerate(self.candidates, start=1), self.vessels
        return [(n, c, vessels[c.vessel]) for n, c in numbered if c.vessel in vessels]

    @property
    def n_candles(self) -> int:
        """Candles that are poured, all candidates together."""
        return sum(c.candles or 0 for c in self.candidates)

    @property
    def of_wax(self) -> bool:
        """Whether loads are given in percent of the wax, not of the total."""
        return self.settings.load_basis == "wax"

    @property
    def cure_days(self) -> float:
        """Longest cure of the waxes that are poured [days].

        The protocol's for a wax that names none.
        """
        usual = self.settings.protocol.cure_days or 0.0
        own = [self.waxes[c.wax].cure_days for c in self.candidates if c.wax in self.waxes]
        return max((usual if days is None else days for days in own), default=usual)


_OWN = {"recipe": CandleRecipe, "pour": Pour, "layout": Layout, "schedule": Timetable, "aim": Aim}
SECTIONS = (*_OWN, "candidates", "benches")
# Those that a plan has beside the ones of batch.toml, and what they say more of a vessel and a wax.
OF_A_PLAN = {
    "vessels.NAME": PlannedVessel, "waxes.NAME": PlannedWax, **_OWN,
    "[candidates]": PlannedCandidate, "benches.NAME": BenchTop,
}  # fmt: skip


def where_stands(n: int, key: str, reader: Reader) -> str:
    """The section in which the value of the n-th candidate stands: its own, or ``[recipe]``."""
    own = f"candidates {n}"
    return own if reader.has(key, own) or not reader.has(key, "recipe") else "recipe"


def read_plan_text(
    text: str, file: str, problems: ProblemList
) -> tuple[Plan | None, Reader | None]:
    """A plan from the text of its file, and the reader that finds lines in it.

    Faults go to ``problems``. A part that could not be read is left at its default, so that the
    others can still be judged. The plan is None only when the text is no TOML.
    """
    data = parse_settings(text, problems, file)
    if data is None:
        return None, None
    reader = Reader(text, problems, file, PLAN_FAULTS)
    known = [*(f.name for f in dataclasses.fields(Settings)), *SECTIONS]
    for key in data.keys() - known:
        reader.unknown("unknown setting", key, "", known, "take it out.")
    shared = {key: value for key, value in data.items() if key in known and key not in SECTIONS}
    values = read_sections(shared, reader, {"vessels": PlannedVessel, "waxes": PlannedWax})
    values.setdefault("title", "untitled")
    settings = as_written(Settings(**values), data)
    reader.display = settings.display
    own = {name: _section(data, name, kind, reader) for name, kind in _OWN.items()}
    plan = Plan(
        settings=settings,
        candidates=_candidates(data, own["recipe"], reader),
        pour=own["pour"],
        layout=own["layout"],
        benches=_benches(data, reader),
        timetable=own["schedule"],
        aim=own["aim"],
    )
    return plan, reader


def _section(data: dict, name: str, kind: type, reader: Reader):
    """One section of the plan into its record; the defaults where it is missing."""
    section = data.get(name, {})
    if not isinstance(section, dict):
        texts = {"expected": f"a section [{name}]", "do": reader.see_example}
        reader.fault("wrong type of value", name, found=section, **texts)
        section = {}
    return reader.section(kind, section, name)


def _candidates(data: dict, recipe: CandleRecipe, reader: Reader) -> tuple[PlannedCandidate, ...]:
    """Every ``[[candidates]]``, completed from ``[recipe]``."""
    entries = data.get("candidates", [])
    is_list = isinstance(entries, list) and all(isinstance(entry, dict) for entry in entries)
    if not is_list or not entries:
        found = "none" if entries == [] else type(entries).__name__
        texts = {
            "found": found if "candidates" in data else "",
            "expected": "[[candidates]] with wick_series and wick_size, once for each wick",
            "do": reader.see_example,
        }
        reader.fault("missing setting", "candidates", **texts)
        return ()
    read = []
    for n, entry in enumerate(entries, start=1):
        section = f"candidates {n}"
        own = reader.section(PlannedCandidate, entry, section)
        for name in ("wick_series", "wick_size"):
            if name not in entry:
                texts = {"expected": f'{name} = "..."', "do": f"Add {name}, as in wicks.csv."}
                reader.fault("missing setting", name, section, **texts)
        of_recipe = [f.name for f in dataclasses.fields(CandleRecipe)]
        usual = {name: getattr(recipe, name) for name in of_recipe if getattr(own, name) is None}
        read.append(dataclasses.replace(own, **usual))
    return tuple(read)


def _benches(data: dict, reader: Reader) -> dict[str, BenchTop]:
    entries = data.get("benches", {})
    is_dict = isinstance(entries, dict)
    if not is_dict or not entries or not all(isinstance(one, dict) for one in entries.values()):
        problem = "wrong type of value" if "benches" in data else "missing setting"
        texts = {
            "expected": "[benches.NAME] with length_mm and depth_mm",
            "do": "Name each bench with its length and depth.",
        }
        reader.fault(problem, "benches", **texts)
        return {}
    benches = {
        name: reader.section(BenchTop, entry, f"benches.{name}") for name, entry in entries.items()
    }
    return {name: bench for name, bench in benches.items() if bench}

"""Safety criteria as data: what must not happen, its limit, and who says so.

The limits of standards are read second-hand, from pages that quote them; the purchased standard
decides. Where two standards give a limit for one thing the stricter decides, unless the studio
names the standard that it tests to.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import partial

from candlelab.logs.settings import FLAME_LIMITS_MM, Limits, Settings
from candlelab.units import SI, Display

STANDARD, STUDIO = "standard", "studio"
CHECK, CANDLE, CANDIDATE = "check", "candle", "candidate"
EN, ASTM = "EN 15493", "ASTM F2417"
PRACTICE = "your own limit; common practice, no source"
AFTERSMOKE, KEEPS_BURNING = "aftersmoke", "keeps burning"
MELT_POOL, OWN_FLAME = "melt pool depth", "your flame limit"


@dataclass(frozen=True)
class Criterion:
    """One criterion. A reading of ``column`` above ``limit`` fails it.

    ``level`` says what it is judged on: every check, a candle to its end, or a candidate's mean.
    One that does not decide is shown and leaves the verdict alone. ``failed`` says in words what
    has happened when it is failed; ``whose`` says whose limit it is where there is a number to
    hold against. An ``incident`` is a danger by itself: the candle is not lit again.
    """

    criterion: str
    statement: str
    column: str
    limit: float
    unit: str
    source: str
    failed: str
    kind: str = STANDARD
    level: str = CHECK
    decides: bool = True
    incident: bool = True
    whose: str = ""

    @property
    def in_short(self) -> str:
        """What has happened, in a few words: "melt pool too deep"."""
        return re.sub(" (was|got) too ", " too ", re.sub("^Its? ", "", self.failed))


STANDARDS = (
    Criterion("soot", "no steady black smoke", "soot", 2, "grade",
              "ASTM F2417, hourly record, read second-hand", "It gave off steady black smoke"),
    Criterion("secondary ignition", "nothing but the wick burns for longer than 10 s",
              "secondary_ignition_s", 10, "s",
              "EN 15493, read second-hand; ASTM F2417 the same, from memory",
              "Something other than the wick burned"),
    Criterion("re-ignition", "it does not light again after it was put out", "reignited", 0,
              "times", "EN 15493, read second-hand",
              "It lit again by itself after it was put out"),
    Criterion("vessel", "the vessel does not crack or break", "vessel_damaged", 0, "times",
              "ASTM F2417, read second-hand", "Its vessel cracked or broke"),
    Criterion("surface", "the surface under the candle is not damaged", "surface_damaged", 0,
              "times", "EN 15493 and ASTM F2417, read second-hand",
              "It damaged the surface under it"),
    Criterion("stability", "the candle does not tip (the tilt test is a separate test)", "tipped",
              0, "times", "EN 15493 and ASTM F2417, read second-hand", "It tipped over"),
    Criterion("end of life",
              "it goes out by itself at its end and damages neither vessel nor surface",
              "end_damage", 0, "times", "EN 15493, read second-hand",
              "It did damage at its end", level=CANDLE),
    Criterion(AFTERSMOKE, "the wick smokes for at most 30 s on average after the flame is out",
              "aftersmoke_s", 30, "s",
              "EN 15493:2019, read second-hand (20 s in the 2007 edition)",
              "Its wicks smoked too long after the flame was out", level=CANDIDATE, incident=False,
              whose=f"the {EN} limit"),
)  # fmt: skip


def criteria_of(settings: Settings) -> tuple[Criterion, ...]:
    """The criteria that a batch is judged by: those of the standards, then the studio's own."""
    display = settings.display
    own = studio_criteria(settings.limits, display)
    return (_flame(settings.standard, display), *STANDARDS, *own)


def _flame(standard: str, display: Display) -> Criterion:
    """The flame limit of the standard that is named, or else the stricter one."""
    name = standard or min(FLAME_LIMITS_MM, key=FLAME_LIMITS_MM.__getitem__)
    limit = FLAME_LIMITS_MM[name]
    others = [f"{n} has {display.both(v, 'mm')}" for n, v in FLAME_LIMITS_MM.items() if n != name]
    why = "named in batch.toml" if standard else "the stricter of the two"
    source = f"{name}, read second-hand, {why}; {'; '.join(others)}"
    statement = f"the flame is at most {display.both(limit, 'mm')} tall"
    return Criterion(
        "flame height", statement, "flame_height_mm", limit, "mm", source,
        "Its flame was too tall", whose=f"the {name} limit",
    )  # fmt: skip


_SAYS = {
    "wall_c": "the wall stays at or under {limit}",
    "flame_on_vessel": "the flame does not touch the vessel",
    "flame_height_mm": "the flame is at most {limit}",
    "pool_depth_mm": "the pool is at most {limit}",
}


def studio_criteria(limits: Limits, display: Display = SI) -> tuple[Criterion, ...]:
    """The studio's own limits as criteria; common practice, no source, whatever their numbers."""
    own = partial(_own, display)
    rows = [
        *own("wall caution", "wall_c", limits.wall_caution_c, "°C", "Its wall got hot",
             decides=False, incident=False),
        *own("wall stop", "wall_c", limits.wall_stop_c, "°C", "Its wall got too hot"),
        *own("flame on vessel", "flame_on_vessel", 0, "times", "Its flame touched the vessel"),
        *own(OWN_FLAME, "flame_height_mm", limits.flame_mm, "mm",
             "Its flame was too tall"),
        *own(MELT_POOL, "pool_depth_mm", limits.pool_depth_mm, "mm",
             "Its melt pool was too deep", incident=False),
        Criterion(KEEPS_BURNING, "it does not go out for good with wax left to burn",
                  "early_out_pct", 0, "%", "common practice, no source", "It went out by itself",
                  kind=STUDIO, level=CANDLE, incident=False),
    ]  # fmt: skip
    return tuple(rows)


def _own(
    display: Display, name: str, column: str, limit: float | None, unit: str, failed: str, **more
):
    """The criterion of one limit of the studio, or none where it set none."""
    if limit is None:
        return
    said = display.both(limit, unit) if unit == "°C" else display.written(limit, unit)
    statement, whose = _SAYS[column].format(limit=said), "your limit" if limit else ""
    yield Criterion(
        name, statement, column, limit, unit, PRACTICE, failed, kind=STUDIO, whose=whose, **more
    )

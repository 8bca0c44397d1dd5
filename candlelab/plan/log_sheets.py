"""Log sheets for the bench: tick boxes and fields for everything that a log has to hold.

Every sheet is one printed page, laid out in millimetres. The columns are those of ``burns.csv`` and
``checks.csv``, so that nothing that a criterion needs is forgotten. The sheets do not name the
wick: whoever looks at a flame should not know it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import jinja2
import pandas as pd

from candlelab.judge.criteria import criteria_of
from candlelab.logs.column import Column
from candlelab.logs.columns import TABLES
from candlelab.pages.words import CAUTIONS_LIT, CAUTIONS_POUR
from candlelab.plan.planned import PlannedBatch
from candlelab.plan.schedule import stagger_min
from candlelab.text import clip, unbroken
from candlelab.units import Display

# Name for a printer, width and height [mm], landscape.
PAPERS = {"a4": ("A4", 297.0, 210.0), "letter": ("letter", 279.4, 215.9)}
_KEYS = {"candle", "burn", "due_at"}  # on the sheet already
# Of a burn, in the order in which it is done; a column that is not named here comes last.
_FIRST = (
    "wick_length_mm", "mass_before_g", "room_c", "lit_at",
    "out_at", "ended_by", "mass_after_g", "aftersmoke_s",
)  # fmt: skip
_ROW_MM = 8.1  # takes a pencil
_OVER_TO_A_SPARE_ROW = 6  # candles whose burns should be over, for each empty row
_MOST_NAMED = 60  # candles of a pour that a row names
_POURS, _POURED = 7, 16  # rows of a sheet for pours, and for poured candles
# From the top of the paper: where the foot begins on the lower paper, where a sheet's
# first block begins, where the rows of the burns begin.
_FOOT_MM, _BLOCKS_MM, _BURNS_MM, _BLOCK_HEAD_MM = 196.0, 28.0, 61.0, 11.0
_POUR_NOTES = (
    "Write the weighed fill into candles.csv, where the planned one stands until then.",
    "Write the number of the candle on its vessel, underneath: the log sheets know it by this "
    "number only.",
)
_BURN_NOTES = (
    "Nothing written is “not checked”, which is never a pass: tick “none” where all five were "
    "looked at and fine. Strike out the row of a candle whose test has ended. A candle that burns "
    "longer than planned goes into an empty row.",
)
# What is looked at and should not be there: a letter each, to circle.
LETTERS = {
    "flame_on_vessel": "F", "vessel_damaged": "V", "surface_damaged": "S", "tipped": "T",
    "reignited": "R",
}  # fmt: skip


@dataclass(frozen=True)
class Sheet:
    """One printed page: its kind, its heading, and what it lists."""

    kind: str
    title: str
    under: str
    cautions: tuple[str, ...] = ()
    blocks: tuple[dict, ...] = ()
    stop: str = ""
    notes: tuple[str, ...] = ()


def sheets_html(planned: PlannedBatch, paper: str) -> str:
    """All log sheets of a plan as one HTML page: pouring, then every burn session.

    ``paper`` is one of ``PAPERS``.
    """
    size, width, height = PAPERS[paper]
    return _template().render(
        title=clip(planned.plan.settings.title, 90),
        sheets=_sheets(planned),
        size=size,
        width=width,
        height=height,
        row=_ROW_MM,
        burns=_burn_columns(),
        checks=_check_columns(),
        letters=LETTERS,
        display=planned.plan.settings.display,
    )


@lru_cache(maxsize=1)
def _sheets(planned: PlannedBatch) -> list[Sheet]:
    """The sheets of a plan, the same on every paper."""
    sheets = [*_pour_sheets(planned)]
    for _, own in planned.sessions.groupby(planned.sessions["lit_from"].dt.date):
        sheets += _day_sheets(planned, own)
    return sheets


@lru_cache
def _template():
    loader = jinja2.PackageLoader("candlelab", "pages/templates")
    how = {"autoescape": True, "finalize": unbroken}
    env = jinja2.Environment(loader=loader, trim_blocks=True, lstrip_blocks=True, **how)
    return env.get_template("log_sheets.html.j2")


def _burn_columns() -> list[Column]:
    """What is logged once for each burn, in the order in which it is done."""
    columns = [c for c in TABLES["burns"].columns if c.name not in _KEYS]
    place = {name: n for n, name in enumerate(_FIRST)}
    return sorted(columns, key=lambda c: place.get(c.name, len(place)))


def _check_columns() -> list[Column]:
    """What is logged at every check, the minute first; notes have the sheet of the burns."""
    return [c for c in TABLES["checks"].columns if c.name not in {*_KEYS, "note"}]


def _pour_sheets(planned: PlannedBatch) -> list[Sheet]:
    """Sheets for the day of pouring: what to weigh out, then a row for each candle."""
    show = planned.plan.settings.display
    pours = [_pour_row(pour, show) for pour in planned.pours.itertuples()]
    of = {
        name: f"Pour {p.pour}" for p in planned.pours.itertuples() for name in p.candles.split(", ")
    }
    table = planned.candles.assign(wick=planned.layout["candidate"])
    rows = [
        {
            "candle": c.candle,
            "wick": clip(c.wick, 60),
            "vessel": clip(c.vessel, 50),
            "pour": of[c.candle],
            "planned": show.number(c.fill_mass_g, "g"),
        }
        for c in table.itertuples()
    ]
    days = (planned.plan.pour.poured_on, planned.cured)
    poured, cured = (show.day(day, weekday=True) for day in days)
    under = f"Pour on {poured}. Cured, and ready to be lit, from {cured}."
    sheets = [
        Sheet(
            "weighing",
            "Weighing out",
            under,
            cautions=CAUTIONS_POUR,
            blocks=({"rows": part},),
            notes=_POUR_NOTES,
        )
        for part in _parts(pours, _POURS)
    ]
    return sheets + [
        Sheet(
            "pouring",
            "Pouring",
            under,
            cautions=CAUTIONS_POUR,
            blocks=({"rows": part},),
            notes=_POUR_NOTES,
        )
        for part in _parts(rows, _POURED)
    ]


def _pour_row(pour, show: Display) -> dict[str, str]:
    """What to weigh out for a jug, and which candles it fills."""
    fragrance = "none"
    if pour.fragrance:
        fragrance = f"{show.amount(pour.fragrance_g, 'g')} {clip(pour.fragrance, 60)}"
    many = f"{pour.n_candles} candles, see the sheets for pouring"
    return {
        "name": f"Pour {pour.pour}",
        "wax": f"{show.amount(pour.wax_g, 'g')} {clip(pour.wax, 60)}",
        "fragrance": fragrance,
        "total": show.amount(pour.weighed_out_g, "g"),
        "candles": pour.candles if pour.n_candles <= _MOST_NAMED else many,
    }


def _day_sheets(planned: PlannedBatch, sessions: pd.DataFrame) -> list[Sheet]:
    """Sheets of one day: before and after every burn, then the checks, two rounds side by side."""
    show = planned.plan.settings.display
    several = "Session" if len(sessions) == 1 else "Sessions"
    title = f"{several} {', '.join(f'{n}' for n in sessions['session'])}"
    common: dict[str, Any] = {
        "title": f"{title}: {show.day(sessions['lit_from'].iloc[0], weekday=True)}",
        "under": "; ".join(_session_words(planned, s) for s in sessions.itertuples()),
        "stop": _stop_words(planned),
        "notes": _BURN_NOTES,
    }
    lit = [_places(planned, session) for session in sessions.itertuples()]
    rows = [{**p, "due": _time(p["lit"])} for places in lit for p in places]
    sheets = [
        Sheet("burns", cautions=CAUTIONS_LIT, blocks=({"rows": part},), **common)
        for part in _parts(rows, math.floor((_FOOT_MM - _BURNS_MM) / _ROW_MM))
    ]
    blocks = [
        block
        for session, places in zip(sessions.itertuples(), lit, strict=True)
        for block in _check_blocks(planned, session, places)
    ]
    pages = _filled(blocks)
    return sheets + [Sheet("checks", blocks=tuple(page), **common) for page in pages]


def _session_words(planned: PlannedBatch, session) -> str:
    step, hours = stagger_min(planned.plan.timetable), planned.plan.settings.protocol.burn_h
    return (
        f"Session {session.session}, burn {session.burn} of group {session.day_group}: first "
        f"candle lit at {session.lit_from:%H:%M}, then one every {step} min, for {hours:g} h, all "
        f"over at {session.over_at:%H:%M}"
    )


def _places(planned: PlannedBatch, session) -> list[dict]:
    """The candles that are lit in a session, each with its place and its time.

    Not those whose planned burns are over: empty rows wait for one that still burns.
    """
    own = planned.layout[planned.layout["day_group"] == session.day_group]
    step = stagger_min(planned.plan.timetable)
    known = planned.candidates
    lit = [session.lit_from + pd.Timedelta(minutes=step * n) for n in range(len(own))]
    burns = dict(zip(known["candidate"], known["burns_planned"], strict=True))
    rows = [
        {"candle": row.candle, "place": row.bench_position, "lit": lit[n]}
        for n, row in enumerate(own.itertuples())
        if burns[row.candidate] >= session.burn
    ]
    spare = math.ceil((len(own) - len(rows)) / _OVER_TO_A_SPARE_ROW)
    return rows + [{"candle": "", "place": "", "lit": pd.NaT}] * spare


def _check_blocks(planned: PlannedBatch, session, places: list[dict]) -> list[dict]:
    """The rounds of checks of a session, two in a block; many candles are parted."""
    rounds = planned.rounds.loc[planned.rounds["session"] == session.session, "elapsed_min"]
    most = math.floor((_FOOT_MM - _BLOCKS_MM - _BLOCK_HEAD_MM) / _ROW_MM)
    blocks = []
    for first in range(0, len(places), most):
        for n in range(0, len(rounds), 2):
            minutes = list(rounds.iloc[n : n + 2])
            after = [pd.Timedelta(minutes=minute) for minute in minutes]
            rows = [
                {**p, "dues": [_time(p["lit"] + late) for late in after]}
                for p in places[first : first + most]
            ]
            blocks.append({"rows": rows, "session": session.session, "minutes": minutes})
    return blocks


def _time(moment) -> str:
    return "" if pd.isna(moment) else f"{moment:%H:%M}"


def _filled(blocks: list[dict]) -> list[list[dict]]:
    """Blocks in their order on as few pages as take them."""
    pages: list[list[dict]] = []
    room = 0.0
    for block in blocks:
        takes = _BLOCK_HEAD_MM + _ROW_MM * len(block["rows"])
        if takes > room:
            pages.append([])
            room = _FOOT_MM - _BLOCKS_MM
        pages[-1].append(block)
        room -= takes
    return pages


def _parts(rows: list, most: int) -> list[list]:
    """A list in parts of about one size, none with more than ``most``."""
    pages = max(1, math.ceil(len(rows) / most))
    size = math.ceil(len(rows) / pages)
    return [rows[n : n + size] for n in range(0, len(rows), size)]


def _stop_words(planned: PlannedBatch) -> str:
    """When to put a candle out at once, with the limits of the standards and of the studio."""
    criteria = criteria_of(planned.plan.settings)
    flame = next(c.limit for c in criteria if c.criterion == "flame height")
    show, wall = planned.plan.settings.display, planned.plan.settings.limits.wall_stop_c
    return (
        f"Put out at once: flame over {show.both(flame, 'mm')}, wall over "
        f"{show.both(wall, '°C')}, anything but the wick burning, a crack, tipping, steady black "
        "smoke. Write the check, tick “stopped”. Do not light "
        "that candle again: cross it out on the next sheets."
    )

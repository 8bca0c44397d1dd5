"""Log sheets for the bench, as a page for each paper size: tick boxes and
fields for everything that a log has to hold.

Every sheet is one printed page, laid out in millimetres. The columns are those of ``burns.csv`` and
``checks.csv``, so that nothing that a criterion needs is forgotten. The sheets do not name the
wick: whoever looks at a flame should not know it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import jinja2
import pandas as pd

from candlelab.glossary import TABLES, Column
from candlelab.judge.safety import STANDARDS
from candlelab.pages.words import CAUTIONS
from candlelab.plan.planned import PlannedBatch
from candlelab.plan.schedule import stagger_min
from candlelab.text import clip

PAPERS = {
    "a4": ("A4", 297.0, 210.0),
    "letter": ("letter", 279.4, 215.9),
}  # name for a printer, width and height [mm], landscape
_KEYS = {"candle", "burn"}  # on the sheet already
_FIRST = {
    "lit_at": 0,
    "wick_length_mm": 1,
    "mass_before_g": 2,
    "room_c": 3,
    "out_at": 4,
    "ended_by": 5,
    "mass_after_g": 6,
    "aftersmoke_s": 7,
}
_ROW_MM = 8.6  # takes a pencil
_MOST_NAMED = 60  # candles of a pour that a row names
# From the top of the paper: where the foot begins on the lower paper, where a sheet's
# first block begins, where the rows of the burns begin.
_FOOT_MM, _BLOCKS_MM, _BURNS_MM, _BLOCK_HEAD_MM = 197.0, 25.5, 61.5, 16.0


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
    """All log sheets of a plan as one HTML page for a paper size of
    ``PAPERS``: pouring, then every burn session."""
    sheets = [*_pour_sheets(planned)]
    for session in planned.sessions.itertuples():
        sheets += _session_sheets(planned, session)
    size, width, height = PAPERS[paper]
    return _template().render(
        title=clip(planned.plan.settings.title, 90),
        sheets=sheets,
        size=size,
        width=width,
        height=height,
        row=_ROW_MM,
        burns=_burn_columns(),
        checks=_check_columns(),
    )


@lru_cache
def _template():
    loader = jinja2.PackageLoader("candlelab", "pages/templates")
    return jinja2.Environment(
        loader=loader, autoescape=True, trim_blocks=True, lstrip_blocks=True
    ).get_template("log_sheets.html.j2")


def _burn_columns() -> list[Column]:
    """What is logged once for each burn, in the order in which it is done."""
    columns = [c for c in TABLES["burns"].columns if c.name not in _KEYS]
    return sorted(columns, key=lambda c: _FIRST.get(c.name, 99))


def _check_columns() -> list[Column]:
    """What is logged at every check."""
    return [c for c in TABLES["checks"].columns if c.name not in _KEYS]


def _pour_sheets(planned: PlannedBatch) -> list[Sheet]:
    """Sheets for the day of pouring: what to weigh out, then a row for each candle."""
    pours = []
    for p in planned.pours.itertuples():
        fragrance = f"{p.fragrance_g:.9g} g {clip(p.fragrance, 60)}" if p.fragrance else "none"
        pours.append(
            {
                "name": f"Pour {p.pour}",
                "wax": f"{p.wax_g:.9g} g {clip(p.wax, 60)}",
                "fragrance": fragrance,
                "total": f"{p.weighed_out_g:.9g} g",
                "candles": p.candles
                if p.n_candles <= _MOST_NAMED
                else f"{p.n_candles} candles, see the sheets for pouring",
            }
        )
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
            "planned": f"{c.fill_mass_g:.9g}",
        }
        for c in table.itertuples()
    ]
    under = (
        f"Pour on {_day(planned.plan.pour.poured_on)}. Cured, and ready to be lit, from "
        f"{_day(planned.cured)}."
    )
    notes = (
        "Write the weighed fill into candles.csv, where the planned one stands until then.",
        "Write the number of the candle on its vessel, underneath: the log sheets know it by this "
        "number only.",
    )
    sheets = [
        Sheet(
            "weighing",
            "Weighing out",
            under,
            blocks=tuple({"rows": part} for part in [one]),
            notes=notes,
        )
        for one in _parts(pours, 7)
    ]
    return sheets + [
        Sheet("pouring", "Pouring", under, blocks=({"rows": part},), notes=notes)
        for part in _parts(rows, 16)
    ]


def _session_sheets(planned: PlannedBatch, session) -> list[Sheet]:
    """Sheets of one burn session: before and after the burn, then every check round in turn."""
    settings = planned.plan.settings
    own = planned.layout[planned.layout["day_group"] == session.day_group]
    step, names = (
        stagger_min(settings.protocol, planned.plan.timetable),
        zip(own["candle"], own["bench_position"]),
    )
    places = [
        {"candle": candle, "place": place, "lit": session.lit_from + pd.Timedelta(minutes=step * n)}
        for n, (candle, place) in enumerate(names)
    ]
    title = f"Session {session.session}: burn {session.burn} of group {session.day_group}"
    under = (
        f"{_day(session.lit_from)}, first candle lit at {session.lit_from:%H:%M}, then one every "
        f"{step} min; burn {settings.protocol.burn_h:g} h; all over at {session.over_at:%H:%M}"
    )
    notes = (
        "Nothing written is “not recorded”, which is never a pass: tick “no” where it was looked "
        "at and fine. Strike out the row of a candle whose test has ended.",
    )
    common = {"title": title, "under": under, "stop": _stop_words(planned), "notes": notes}
    rows = [{**p, "due": f"{p['lit']:%H:%M}"} for p in places]
    fits = math.floor((_FOOT_MM - _BURNS_MM) / _ROW_MM)
    sheets = [
        Sheet("burns", cautions=CAUTIONS, blocks=({"rows": part},), **common)
        for part in _parts(rows, fits)
    ]
    blocks = [
        (r.elapsed_min, part)
        for r in planned.rounds[planned.rounds["session"] == session.session].itertuples()
        for part in _parts(places, math.floor((_FOOT_MM - _BLOCKS_MM - _BLOCK_HEAD_MM) / _ROW_MM))
    ]
    page, room = [], 0.0
    for minute, part in blocks:
        rows = [{**p, "due": f"{p['lit'] + pd.Timedelta(minutes=minute):%H:%M}"} for p in part]
        takes = _BLOCK_HEAD_MM + _ROW_MM * len(rows)
        if page and takes > room:
            sheets.append(Sheet("checks", blocks=tuple(page), **common))
            page = []
        room = room - takes if page else _FOOT_MM - _BLOCKS_MM - takes
        page.append({"rows": rows, "head": f"Check {minute:g} min after lighting"})
    return [*sheets, Sheet("checks", blocks=tuple(page), **common)]


def _day(day) -> str:
    """A day in words, as in Monday 7 September 2026."""
    return f"{day:%A} {day.day} {day:%B %Y}"


def _parts(rows: list, most: int) -> list[list]:
    """A list in parts of about one size, none with more than ``most``."""
    pages = max(1, math.ceil(len(rows) / most))
    size = math.ceil(len(rows) / pages)
    return [rows[n : n + size] for n in range(0, len(rows), size)]


def _stop_words(planned: PlannedBatch) -> str:
    """When to put a candle out at once, with the limits of the standards and of the studio."""
    flame = next(c.limit for c in STANDARDS if c.column == "flame_height_mm")
    return (
        f"Put out at once: flame over {flame:g} mm, wall over "
        f"{planned.plan.settings.limits.wall_stop_c:g} °C, anything but the wick on fire, a vessel "
        "that cracks. Write the check, tick “stopped”."
    )

"""What to burn next, what was missed, and what is over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from candlelab.bench.candle_status import (
    ALIGHT,
    ENDED,
    OUT,
    OVER,
    READY,
    Standing,
    next_due,
    unseen_from,
)
from candlelab.bench.reading import Reader, Reading, rested_at
from candlelab.logs.journal import LoggedBurn
from candlelab.text import capital, counted, listed
from candlelab.units import SI, Display

if TYPE_CHECKING:
    from candlelab.plan.planned import PlannedBatch


@dataclass(frozen=True)
class Item:
    """One candle, and what is to be said of it."""

    candle: str
    burn: int
    words: str
    at: datetime | None = None


@dataclass(frozen=True)
class Today:
    """The day at the bench: each list in the order of the candles."""

    now: datetime
    title: str
    burning: list[Item]
    weigh: list[Item]
    burn_next: list[Item]
    missed: list[Item]
    over: list[Item]
    display: Display = SI

    def as_json(self) -> dict:
        """Plain data; moments in ISO 8601."""
        lists = ("burning", "weigh", "burn_next", "missed", "over")
        return {"now": self.now.isoformat(), "title": self.title} | {
            name: [
                {"candle": one.candle, "burn": one.burn, "words": one.words}
                | ({"at": one.at.isoformat()} if one.at else {})
                for one in getattr(self, name)
            ]
            for name in lists
        }


def today(folder: Path, now: datetime) -> Today:
    """The day at the bench of a folder; errors as `Reader.reading` raises them."""
    reader = Reader(folder, to_add=False)
    reading, book, plan = reader.reading(), reader.book(), reader.plan()
    return day_of(reading, reading.standings(book), plan, now)


def day_of(
    reading: Reading, standings: dict[str, Standing], plan: PlannedBatch | None, now: datetime
) -> Today:
    """The day at the bench, of a folder that has been read."""
    of: dict[str, list[Standing]] = {status: [] for status in (READY, ALIGHT, OUT, OVER)}
    for one in standings.values():
        of[one.status].append(one)
    planned = sessions_due(plan, standings)
    return Today(
        now.astimezone(reading.zone),
        reading.settings.title,
        burning=[_burning(one, one.alight, reading, now) for one in of[ALIGHT] if one.alight],
        weigh=[_to_weigh(one) for one in of[OUT]],
        burn_next=_burn_next(of[READY], planned, reading, now),
        missed=_missed(of, planned, reading, now),
        over=[Item(one.candle, one.burn - 1, one.stop or one.over) for one in of[OVER]],
        display=reading.settings.display,
    )


def sessions_due(
    plan: PlannedBatch | None, standings: dict[str, Standing]
) -> dict[str, pd.DataFrame]:
    """For each candle of a plan the sessions that it has not burned yet, in order."""
    if plan is None:
        return {}
    group = dict(zip(plan.layout["candle"], plan.layout["day_group"], strict=True))
    sessions = plan.sessions
    return {
        name: sessions[(sessions["day_group"] == group[name]) & (sessions["burn"] >= one.burn)]
        for name, one in standings.items()
        if name in group
    }


def _clock(moment: datetime, reading: Reading, now: datetime) -> str:
    """A time of day; with its day where that is not today."""
    local, today = moment.astimezone(reading.zone), now.astimezone(reading.zone)
    if local.date() == today.date():
        return f"{local:%H:%M}"
    return f"{reading.settings.display.day(local, year=False)}, {local:%H:%M}"


def _burning(one: Standing, burn: LoggedBurn, reading: Reading, now: datetime) -> Item:
    due = next_due(burn, reading.settings.protocol)
    what = "put it out" if due.end else "check it"
    late = "" if due.at > now else ", overdue"
    words = f"lit at {_clock(burn.light.at, reading, now)}; {what} at "
    words += f"{_clock(due.at, reading, now)}{late}."
    stop = one.stop.removeprefix("Do not light it again. ")
    return Item(one.candle, one.burn, f"Put it out now. {stop}" if stop else words, due.at)


def _to_weigh(one: Standing) -> Item:
    at = one.open.out.at if one.open and one.open.out else None
    return Item(one.candle, one.burn, "weigh it when it has cooled.", at)


def _burn_next(
    ready: list[Standing], planned: dict[str, pd.DataFrame], reading: Reading, now: datetime
) -> list[Item]:
    """Candles to light, those that are due first in front."""
    items = []
    for one in ready:
        own = planned.get(one.candle)
        at = own["lit_from"].iloc[0].to_pydatetime() if own is not None and len(own) else None
        rested = rested_at(one, reading.settings)
        words = f"planned for {_clock(at, reading, now)}" if at else ""
        if rested and rested > now and not (at and at > rested):
            words = f"cooling until {_clock(rested, reading, now)}"
        said = [capital(words) + "." if words else "", one.remark]
        items.append(Item(one.candle, one.burn, " ".join(filter(None, said)), at))
    first = min((item.burn for item in items), default=0)
    return sorted(items, key=lambda item: (item.at or now, item.burn - first))


def _missed(
    of: dict[str, list[Standing]], planned: dict[str, pd.DataFrame], reading: Reading, now: datetime
) -> list[Item]:
    """Sessions that passed, checks that were not made, burns that were not logged whole."""
    items = []
    for one in of[READY]:
        own = planned.get(one.candle)
        past = None if own is None else own[own["over_at"] <= now]
        if past is not None and len(past):
            lit = past["lit_from"].iloc[0].to_pydatetime()
            more = f", and {counted(len(past) - 1, 'more burn')}" if len(past) > 1 else ""
            words = f"planned for {_clock(lit, reading, now)}, not burned{more}."
            items.append(Item(one.candle, one.burn, words, lit))
    for one, burn in ((one, one.open) for one in (*of[ALIGHT], *of[OUT]) if one.open):
        until = burn.out.at if burn.out else now
        if unseen_from(burn, reading.settings.protocol) < until:
            seen = max([burn.light.at, *(check.at for check in burn.checks)])
            words = f"{(until - seen).total_seconds() / 60:.0f} min without a check."
            items.append(Item(one.candle, one.burn, words))
    problems = reading.logs.problems.table()
    lost = problems[problems["problem"] == "check missed"]
    burns = reading.logs.tables["burns"]
    number = dict(zip(burns.lines, burns.frame["burn"], strict=True))
    for row in lost.itertuples():
        items.append(Item(row.candle, int(number.get(row.line, 0)), f"{row.found}."))
    return items


def words_of(day: Today) -> list[str]:
    """The day in lines of text."""
    lines = [f"{day.display.day(day.now, weekday=True)}: {day.title}"]
    for head, items in (
        ("Burning", day.burning),
        ("Weigh", day.weigh),
        ("Burn next", day.burn_next),
        ("Missed", day.missed),
        ("Over", day.over),
    ):
        if items or head == "Burn next":
            lines += ["", head, *(_grouped(items) or ["  Nothing is left to burn."])]
    return lines


def _grouped(items: list[Item]) -> list[str]:
    """One line for all candles of which the same is said."""
    groups: dict[tuple[int, str], list[str]] = {}
    for item in items:
        ended = item.words.startswith(ENDED)
        key = (0, f"{ENDED}.") if ended else (item.burn, item.words)
        groups.setdefault(key, []).append(item.candle)
    lines = []
    for (burn, words), candles in groups.items():
        number = f" (burn {burn})" if burn else ""
        names = listed(dict.fromkeys(candles), at_most=1000)
        lines.append(f"  {names}{number}{': ' + words if words else ''}")
    return lines

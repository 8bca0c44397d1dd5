"""When candles are lit, checked and put out: a timetable and its calendar (iCalendar, RFC 5545).

Times are aware of the bench's time zone; differences are taken in UTC,
so a change of the clocks shortens no rest.
"""

from __future__ import annotations

import math
import uuid
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pandas as pd

from candlelab.logs.settings import Protocol
from candlelab.plan.settings import WEEK, Timetable

MOST_BURNS = 200  # as many as a log is thought to hold of one candle
_CALENDAR = {"prodid": "-//candlelab//plan//EN", "version": "2.0", "calscale": "GREGORIAN"}
_NEVER = "Never leave a test burn unattended."
_NAMESPACE = uuid.uuid5(uuid.NAMESPACE_URL, "urn:candlelab:plan")


def watchable(protocol: Protocol, timetable: Timetable) -> int:
    """How many candles can be watched at once.

    As many as are checked between two rounds, with the spare time kept free.

    An assumption of the plan (minutes for one check), not a rule of a standard.
    """
    usable = protocol.check_every_min * (1.0 - timetable.spare_pct / 100.0)
    return max(0, math.floor(usable / timetable.minutes_per_check + 1e-9)) * timetable.people


def stagger_min(timetable: Timetable) -> int:
    """Whole minutes between lighting two candles, so that every check falls on its own time."""
    return max(1, math.ceil(timetable.minutes_per_check / timetable.people - 1e-9))


def planned_life(fill_g: float, burn_rate_g_per_h: float) -> float:
    """Life [h] if all of the fill burns at the expected rate; wax left over makes it shorter."""
    return fill_g / burn_rate_g_per_h


def planned_burns(life_h: float, burn_h: float, margin_pct: float) -> int:
    """Burns to plan until the end of life, with a margin for a candle that burns slower."""
    return max(1, math.ceil(life_h * (1.0 + margin_pct / 100.0) / burn_h - 1e-9))


def check_minutes(protocol: Protocol) -> list[float]:
    """Minutes after lighting at which a candle is checked, the last at the end of the burn."""
    end, every = 60.0 * protocol.burn_h, protocol.check_every_min
    times = [every * n for n in range(1, math.floor(end / every + 1e-9) + 1)]
    return times if times and end - times[-1] <= protocol.check_tolerance_min else [*times, end]


def round_min(candles: int, timetable: Timetable) -> int:
    """Whole minutes from the first candle of a round of checks until the last one is done."""
    return max(0, candles - 1) * stagger_min(timetable) + math.ceil(timetable.minutes_per_check)


def session_length(candles: int, protocol: Protocol, timetable: Timetable) -> timedelta:
    """From the first lighting to the last flame out, and the last check made."""
    return timedelta(minutes=60.0 * protocol.burn_h + round_min(candles, timetable))


def clock(text: str) -> time | None:
    """A time of day from ``09:00``; None when it is none."""
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError:
        return None


def cured_on(poured_on: date, cure_days: float) -> date:
    """First day on which a candle poured on a day may be lit."""
    return poured_on + timedelta(days=math.ceil(cure_days))


def burn_sessions(
    groups: dict[int, int],
    burns: dict[int, int],
    first_day: date,
    zone: str,
    protocol: Protocol,
    timetable: Timetable,
) -> pd.DataFrame:
    """Every burn session: one row for each burn of each group.

    ``groups`` gives its candles and ``burns`` its number of burns.

    A slot is a time of ``lit_at`` on a burn day. It goes to the group with the fewest burns so far
    that has rested: the protocol's rest, and the tolerance of a burn's length, since the burn
    before may have run over. Slots over a change of the clocks, or before the session before has
    ended, stay free.
    """
    starts, days = sorted(t for t in map(clock, timetable.lit_at) if t), set(timetable.burn_days)
    rest = timedelta(hours=protocol.rest_h, minutes=protocol.burn_tolerance_min)
    done, ready = dict.fromkeys(groups, 0), dict.fromkeys(groups, datetime.min.replace(tzinfo=UTC))
    rows: list[tuple] = []
    day, free = first_day, datetime.min.replace(tzinfo=UTC)
    while any(done[group] < burns[group] for group in groups):
        for start in starts if WEEK[day.weekday()] in days else ():
            lit = datetime.combine(day, start, ZoneInfo(zone))
            begun = lit.astimezone(UTC)
            waiting = [g for g in groups if done[g] < burns[g] and ready[g] <= begun]
            if begun < free or not waiting:
                continue
            group = min(waiting, key=lambda name: (done[name], name))
            length = session_length(groups[group], protocol, timetable)
            over = (begun + length).astimezone(ZoneInfo(zone))
            if lit.utcoffset() != over.utcoffset():
                continue
            done[group] += 1
            # of each candle: they keep their order of lighting
            ready[group] = begun + timedelta(hours=protocol.burn_h) + rest
            free = begun + length
            rows.append((len(rows) + 1, group, done[group], lit, over, groups[group]))
        day += timedelta(days=1)
    columns = ["session", "day_group", "burn", "lit_from", "over_at", "n_candles"]
    table = pd.DataFrame(rows, columns=columns)
    times = {name: pd.DatetimeIndex(table[name]) for name in ("lit_from", "over_at")}
    return table.assign(**times)


def check_rounds(sessions: pd.DataFrame, protocol: Protocol, timetable: Timetable) -> pd.DataFrame:
    """Every round of checks: when it begins with the first candle and when the last one is done."""
    rows = []
    for s in sessions.itertuples():
        takes = pd.Timedelta(minutes=round_min(s.n_candles, timetable))
        for minute in check_minutes(protocol):
            begins = s.lit_from + pd.Timedelta(minutes=minute)
            rows.append((s.session, s.day_group, s.burn, minute, begins, begins + takes))
    columns = ["session", "day_group", "burn", "elapsed_min", "check_from", "check_to"]
    return pd.DataFrame(rows, columns=columns)


def calendar(
    title: str,
    poured_on: date,
    cured: date,
    sessions: pd.DataFrame,
    rounds: pd.DataFrame,
    names: dict[int, str],
) -> bytes:
    """A calendar file: pouring, end of the cure, sessions and rounds of checks, with reminders.

    Times are written in UTC, which every calendar program shows in its own zone.
    ``names`` says for each group which candles it is. The same plan gives the same bytes;
    an event keeps its identity when the plan is made again.
    """
    from icalendar import Calendar, vText

    title = " ".join(title.split())
    book = Calendar()
    for name, value in _CALENDAR.items():
        book.add(name, value)
    book.add("x-wr-calname", vText(title))
    stamp, day = datetime.combine(poured_on, time(), UTC), timedelta(days=1)
    recipe, cure = (
        "Recipe and amounts are in plan_batch.html.",
        "From today the candles may be lit.",
    )
    events = [
        (f"Pour: {title}", poured_on, poured_on + day, recipe, None),
        (f"Cured: {title}", cured, cured + day, cure, None),
    ]
    for s in sessions.itertuples():
        own = rounds[rounds["session"] == s.session]
        events += _session_events(title, s, own, names[s.day_group])
    for n, event in enumerate(events):
        book.add_component(_event(f"{title} {n}", stamp, *event))
    return book.to_ical()


def _session_events(title: str, s, rounds: pd.DataFrame, names: str) -> list[tuple]:
    """A session ``s`` and its rounds of checks: what, from, to, text, reminder."""
    burn = f"Burn {s.burn}, group {s.day_group}: {title}"
    text = f"{s.n_candles} candles: {names}. Log sheet of session {s.session}. {_NEVER}"
    events = [(burn, s.lit_from, s.over_at, text, "Trim, weigh and light")]
    for r in rounds.itertuples():
        check = f"Check at {r.elapsed_min:g} min, burn {r.burn}, group {r.day_group}"
        text = f"Every candle of the group, {r.elapsed_min:g} min after it was lit. {_NEVER}"
        events.append((check, r.check_from, r.check_to, text, "Check"))
    return events


def _event(key: str, stamp: datetime, summary: str, start, end, text: str, remind: str | None):
    """One event; a day stays a day, a time is given in UTC.

    ``remind`` is the text of a reminder at its start.
    """
    from icalendar import Alarm, Event

    event = Event()
    event.add("uid", f"{uuid.uuid5(_NAMESPACE, key)}@candlelab")
    event.add("dtstamp", stamp)
    for name, moment in (("dtstart", start), ("dtend", end)):
        if isinstance(moment, pd.Timestamp):
            moment = moment.to_pydatetime().astimezone(UTC)
        event.add(name, moment)
    event.add("summary", summary)
    event.add("description", text)
    if remind:
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", remind)
        alarm.add("trigger", timedelta(0))
        event.add_component(alarm)
    else:
        event.add("transp", "TRANSPARENT")
    return event

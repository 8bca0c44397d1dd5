"""Everything that the page shows, as plain data."""

from __future__ import annotations

from datetime import datetime

from candlelab.bench.candle_status import READY, Standing
from candlelab.bench.desk import Desk
from candlelab.bench.fields import fields_of, lacking
from candlelab.bench.limits import ASK, STOP, Limit, passed, stop_words
from candlelab.bench.reading import Reading, rested_at
from candlelab.bench.table_form import converted
from candlelab.bench.today import day_of, sessions_due
from candlelab.logs.columns import TABLES
from candlelab.logs.journal import CHECK, LIGHT, TABLE_OF, Entry, Logbook, LoggedBurn, column_of
from candlelab.logs.problems import problem_lines
from candlelab.pages.words import CAUTIONS
from candlelab.plan.schedule import check_minutes
from candlelab.units import split_unit, unit_symbol

CANNOT_PROMISE = (
    "A browser slows a page that is not in front, and a locked phone stops it: then this page does "
    "not ring. The computer that runs the bench rings too. Set a timer of your own as well."
)
_BRIEF = {"flame_height_mm": "flame", "wall_c": "wall", "pool_diameter_mm": "pool"}
_ROOM_LASTS_H = 3.0  # a room reading of this session, offered again
_WORDS = {
    "light": "lit", "check": "check", "out": "out", "weigh": "weighed", "note": "note",
    "photo": "photo", "wick_change": "wick change", "set_aside": "set aside",
}  # fmt: skip


def state_of(desk: Desk) -> dict:
    """The state of the bench at this moment."""
    reading, book, now = desk.reader.reading(), desk.reader.book(), desk.now()
    standings, protocol = reading.standings(book), reading.settings.protocol
    plan = desk.reader.plan()
    planned = sessions_due(plan, standings)
    day = day_of(reading, standings, plan, now)
    today = day.now.date()
    session = {
        name
        for name, own in planned.items()
        if len(own) and own["lit_from"].iloc[0].date() <= today
    }
    offers = _Offers(reading, book, now)
    return {
        "now": now.isoformat(),
        "title": reading.settings.title,
        "zone": reading.settings.time_zone,
        "comma": reading.form("burns").comma,
        "protocol": {
            "checks_min": check_minutes(protocol),
            "tolerance_min": protocol.check_tolerance_min,
            "unseen_min": protocol.check_every_min + protocol.check_tolerance_min,
            "burn_min": 60 * protocol.burn_h,
            "burn_tolerance_min": protocol.burn_tolerance_min,
        },
        "stop_words": stop_words(reading.settings),
        "cautions": list(CAUTIONS),
        "cannot_promise": CANNOT_PROMISE,
        "fields": fields_of(reading),
        "wicks": _wicks(reading),
        "scale": bool(reading.settings.scale.port),
        "candles": [
            _candle(one, reading, offers, one.candle in session or not planned)
            for one in standings.values()
        ],
        "today": day.as_json(),
        "problems": [*problem_lines(reading.must_fix, 5), *lacking(reading), *desk.behind],
        "gone": _gone(reading, book),
        "late": [words for old, _ in book.late if (words := _late(old, reading))],
    }


def _candle(one: Standing, reading: Reading, offers: _Offers, session: bool) -> dict:
    rested = rested_at(one, reading.settings)
    data = {
        "candle": one.candle,
        "place": one.place,
        "burn": one.burn,
        "status": one.status,
        "stop": one.stop,
        "over": one.over,
        "remark": one.remark,
        "session": session or one.status in ("alight", "out"),
        "rested_at": rested.isoformat() if rested else None,
        "new_wick": _wick_words(one.wick),
        "offers": offers.of(one),
        "entries": _entries(one, reading),
    }
    if one.open:
        data |= _burning(one.open, reading)
    return data


def _burning(burn: LoggedBurn, reading: Reading) -> dict:
    last, out = max((check.at for check in burn.checks), default=None), burn.out
    alarm = alarm_of(burn, reading)
    return {
        "lit_at": burn.light.at.isoformat(),
        "out_at": out.at.isoformat() if out else None,
        "smoke": bool(out and any(name.startswith("aftersmoke") for name in out.values)),
        "last_check_at": last.isoformat() if last else None,
        "alarm": alarm.happened if alarm else "",
        "alarm_do": alarm.do if alarm else "",
    }


def alarm_of(burn: LoggedBurn, reading: Reading) -> Limit | None:
    """The limit that a reading of this burn passed, so that it is to be put out; None when it is
    out."""
    if burn.out:
        return None
    found = (one for check in burn.checks for one in passed(check, reading.limits))
    return next((one for one in found if one.level in (STOP, ASK)), None)


def _entries(one: Standing, reading: Reading) -> list[dict]:
    """What was written down of the open burn, or of the last one."""
    burn = one.open or one.last
    entries = burn.entries if burn else []
    return [
        {
            "id": entry.id,
            "kind": entry.kind,
            "burn": entry.burn,
            "at": entry.at.isoformat(),
            "values": entry.values,
            "words": f"{_WORDS[entry.kind]}: {_values(entry, reading)}".removesuffix(": "),
            "brief": _values(entry, reading, _BRIEF) if entry.kind == CHECK else "",
        }
        for entry in ([*entries, one.wick] if one.wick else entries)
    ]


def _values(entry: Entry, reading: Reading, brief: dict[str, str] | None = None) -> str:
    """The readings of an entry in words, with their units; of all, or those of some columns."""
    words = []
    for name, text in entry.values.items():
        meant = column_of(entry.table, name)
        if brief and (meant is None or meant[0].name not in brief):
            continue
        unit = unit_symbol(name)
        label = (brief or {}).get(meant[0].name, meant[0].label) if meant else name
        if meant and meant[0].kind == "number":
            text = reading.form(entry.table).number(text)
        words.append(f"{label} {text}{f' {unit}' if unit else ''}" if name != "note" else text)
    return ", ".join(words)


def _wick_words(entry: Entry | None) -> str:
    if entry is None:
        return ""
    return f"New wick from burn {entry.burn}."


def _wicks(reading: Reading) -> list[dict]:
    """Every wick of wicks.csv, for the form of a wick change."""
    table = reading.logs.tables.get("wicks")
    if table is None:
        return []
    rows = zip(table.frame["wick_series"], table.frame["wick_size"], strict=True)
    return [{"series": series, "size": size} for series, size in rows]


def _gone(reading: Reading, book: Logbook) -> list[str]:
    """Entries whose row was in a table and is there no more."""
    burns = reading.logs.tables.get("burns")
    if burns is None:
        return []
    keys = burns.frame.dropna(subset="burn")
    there = set(zip(keys["candle"], keys["burn"].astype(int), strict=True))
    lost = [burn for key, burn in book.burns.items() if burn.written and key not in there]
    return [entry.id for burn in lost for entry in (burn.light, *burn.checks)]


def _late(old: Entry, reading: Reading) -> str:
    file = TABLES[TABLE_OF[old.kind]].file
    at = old.at.astimezone(reading.zone)
    return (
        f"{old.candle}, burn {old.burn}, {_WORDS[old.kind]} at {at:%H:%M}: the row in {file} was "
        "written before the correction and stays as it is. Change it there yourself."
    )


class _Offers:
    """Values that a tap fills in, such as the last weight: to be confirmed, and no reading."""

    def __init__(self, reading: Reading, book: Logbook, now: datetime) -> None:
        self._reading = reading
        lights = [burn.light for burn in book.burns.values()]
        self._last = max(lights, key=lambda entry: entry.at, default=None)
        recent = self._last and (now - self._last.at).total_seconds() < 3600 * _ROOM_LASTS_H
        self._room = self._last if recent else None

    def of(self, one: Standing) -> dict[str, dict[str, str]]:
        """For each column a text, and what it is."""
        form, offers = self._reading.form("burns"), {}
        if one.status == READY and one.mass:
            says = f"as after burn {one.burn - 1}"
            offers["mass_before_g"] = {"text": form.number(one.mass), "says": says}
        for column, entry in (("room_c", self._room), ("wick_length_mm", self._last)):
            if entry and (text := self._reading_of(entry, column)):
                offers[column] = {"text": form.number(text), "says": f"as for {entry.candle}"}
        offers["aftersmoke_s"] = {"text": "0", "says": "no smoke"}
        checks = self._reading.form("checks")
        offers["mushroom_mm"] = {"text": "0", "says": "none"}
        offers["secondary_ignition_s"] = {"text": "0", "says": "nothing else burned"}
        vessel = self._reading.settings.vessels.get(one.vessel)
        if vessel:
            width = converted(
                f"{vessel.inner_diameter_mm:g}", "mm", checks.unit("pool_diameter_mm")
            )
            says = "the whole width"
            offers["pool_diameter_mm"] = {"text": checks.number(width), "says": says}
        return offers

    def _reading_of(self, entry: Entry, column: str) -> str:
        """A reading of an entry in the unit of its table."""
        for name, text in entry.values.items():
            meant = column_of(TABLE_OF[LIGHT], name)
            if meant and meant[0].name == column:
                return converted(
                    text, split_unit(name)[1], self._reading.form("burns").unit(column)
                )
        return ""

"""The computer rings as well: from the moment something is due, once a minute, page or no page."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from candlelab.bench.candle_status import next_due
from candlelab.bench.desk import Desk
from candlelab.bench.rows import hours_words
from candlelab.bench.state import alarm_of
from candlelab.bench.table_form import CannotAdd

BELL = "\a"
AGAIN = timedelta(minutes=1)
LOOK_EVERY_MS = 2_000


class Alarm:
    """Rings for the candles of a desk; ``ring`` gets each line of text."""

    def __init__(self, desk: Desk, ring: Callable[[str], object]) -> None:
        self._desk, self._ring = desk, ring
        self._rung: dict[tuple[str, int], datetime] = {}

    def look(self) -> None:
        """Ring for what is due and has not been rung for in the last minute."""
        now = self._desk.now()
        try:
            calls = calls_of(self._desk, now)
        except (CannotAdd, OSError, ValueError) as error:
            calls = {("", 0): f"The bench cannot read its folder: {error}"}
        self._rung = {key: at for key, at in self._rung.items() if key in calls}
        for key, words in calls.items():
            if key not in self._rung or now - self._rung[key] >= AGAIN:
                self._rung[key] = now
                self._ring(words)


def calls_of(desk: Desk, now: datetime) -> dict[tuple[str, int], str]:
    """What each candle asks for now, by candle and burn."""
    reading, calls = desk.reader.reading(), {}
    for one in reading.standings(desk.reader.book()).values():
        burn = one.alight
        if burn is None:
            continue
        due = next_due(burn, reading.settings.protocol)
        late = hours_words((now - due.at).total_seconds() / 60)
        place = f"{one.candle}{f' ({one.place})' if one.place else ''}"
        clock = f"{now.astimezone(reading.zone):%H:%M}"
        if stop := alarm_of(burn, reading):
            calls[one.candle, one.burn] = f"{clock}  {place}: PUT IT OUT. {stop.happened} {stop.do}"
        elif due.at <= now:
            what = "put it out, its time is up" if due.end else "check it"
            calls[one.candle, one.burn] = f"{clock}  {place}: {what}; due for {late}."
    return calls

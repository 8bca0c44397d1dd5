"""What can happen to a candle next: an entry that cannot be is refused, with a sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from candlelab.bench.candle_status import OUT, Standing
from candlelab.bench.reading import Reading
from candlelab.logs import journal
from candlelab.logs.journal import Entry, Logbook, LoggedBurn


@dataclass(frozen=True)
class _Case:
    """An entry, and what it meets."""

    entry: Entry
    book: Logbook
    one: Standing
    reading: Reading

    @property
    def burn(self) -> LoggedBurn | None:
        """The burn that the entry names."""
        return self.book.burns.get((self.entry.candle, self.entry.burn))

    def clock(self, moment: datetime) -> str:
        return f"{moment.astimezone(self.reading.zone):%H:%M}"


def why_not(entry: Entry, book: Logbook, reading: Reading) -> str:
    """Why an entry cannot be written down; nothing when it can."""
    if entry.kind == journal.AGAIN:
        return "" if set(entry.of) <= set(book.written) else "These rows were never in a table."
    if entry.kind in (journal.CORRECT, journal.WITHDRAW):
        return _why_no_change(entry, book)
    rule = _RULES.get(entry.kind)
    standing = reading.standings(book)[entry.candle]
    return rule(_Case(entry, book, standing, reading)) if rule else ""


def _why_no_change(entry: Entry, book: Logbook) -> str:
    if len(entry.of) != 1 or entry.of[0] not in book.entries:
        return "There is no such entry to change. It may have been withdrawn."
    old = book.entries[entry.of[0]]
    burn = book.burns.get((old.candle, old.burn))
    more = burn and (burn.checks or burn.out)
    if entry.kind == journal.WITHDRAW and old.kind == journal.LIGHT and more:
        return "This burn has gone on since. Withdraw its other entries first."
    return ""


def _light(case: _Case) -> str:
    one = case.one
    if burn := one.alight:
        return f"{one.candle} is burning already, since {case.clock(burn.light.at)}."
    if one.status == OUT:
        return f"Weigh {one.candle} first: its burn {one.burn} is not weighed."
    if one.stop or one.over:
        return f"{one.candle}: {one.stop or one.over}"
    if case.entry.burn != one.burn:
        return f"{one.candle} is at burn {one.burn}, not {case.entry.burn}. Reload the page."
    return ""


def _check(case: _Case) -> str:
    if case.burn is None:
        return f"Burn {case.entry.burn} of {case.one.candle} was not lit at the bench."
    if case.entry.at < case.burn.light.at:
        return f"{case.one.candle} was lit later than that, at {case.clock(case.burn.light.at)}."
    return ""


def _out(case: _Case) -> str:
    if problem := _check(case):
        return problem
    out = case.burn and case.burn.out
    return f"{case.one.candle} is out already, since {case.clock(out.at)}." if out else ""


def _weigh(case: _Case) -> str:
    burn, one = case.burn, case.one
    if burn is None or burn.out is None:
        return f"{one.candle} has no burn that is out and not weighed."
    return f"Burn {case.entry.burn} of {one.candle} is weighed already." if burn.weigh else ""


def _wick_change(case: _Case) -> str:
    one = case.one
    if one.open:
        return f"{one.candle} has a burn that is not finished: put it out and weigh it first."
    if one.stop:
        return f"{one.candle}: {one.stop}"
    if case.entry.burn != one.burn:
        return f"The next burn of {one.candle} is {one.burn}. Reload the page."
    return f"The wick of {one.candle} was changed already." if one.wick else ""


def _set_aside(case: _Case) -> str:
    entry = case.entry
    if not entry.values.get("reason", "").strip():
        return "Say why it is set aside."
    table = case.reading.logs.tables.get("burns")
    there = not entry.burn or case.burn is not None
    if table is not None and not there:
        frame = table.frame
        there = ((frame["candle"] == entry.candle) & (frame["burn"] == entry.burn)).any()
    return "" if there else f"{entry.candle} has no burn {entry.burn}."


_RULES: dict[str, Callable[[_Case], str]] = {
    journal.LIGHT: _light,
    journal.CHECK: _check,
    journal.OUT: _out,
    journal.WEIGH: _weigh,
    journal.WICK_CHANGE: _wick_change,
    journal.SET_ASIDE: _set_aside,
}

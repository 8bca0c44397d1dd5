"""What to do next with each candidate, beginning with the verb."""

from __future__ import annotations

from typing import Any

import pandas as pd

from candlelab.burns.candidates import candidate_names
from candlelab.burns.groups import as_rows
from candlelab.judge.criteria import KEEPS_BURNING, MELT_POOL
from candlelab.judge.diagnosis import LARGE, MIXED, SMALL, next_size
from candlelab.judge.predicted import SHIFT_PCT, Needed
from candlelab.judge.words import (
    BURNING,
    MOST_IN_ROW,
    RULED_OUT,
    SAFE,
    UNCHECKED,
    in_row,
    named,
    number_word,
)
from candlelab.text import capital, counted, listed
from candlelab.units import Display

FRESH = 3  # candles for a first look at a wick; common practice, no source
STOP, POUR = "Stop testing", "Pour "
HOW_TO = "To compare", "To confirm"
_POINTS = {MELT_POOL: -1, KEEPS_BURNING: 1}
_RAN = {MELT_POOL: "ran too deep", KEEPS_BURNING: "went out too early"}
_WAYS = {SMALL: 1, LARGE: -1}


class Steps:
    """The next step of each candidate of a worked batch.

    Parameters
    ----------
    worked : WorkedBatch
        A batch, worked out but for its fates.
    fates : pandas.DataFrame
        Fate and counts of each candidate, as `decide` gathers them.
    """

    def __init__(self, worked, fates: pd.DataFrame) -> None:
        self._worked = worked
        about = worked.burns[["candidate", "wick_series", "wick_size"]]
        about = about.drop_duplicates("candidate")
        self._fates, self._about, self._found = (
            {row.candidate: row for row in as_rows(table)}
            for table in (fates, about, worked.diagnosis.candidates)
        )
        self._ways: dict[str, int] = {}

    def of(self, row) -> tuple[str, str]:
        """What to do next, and the wick that it is done with; empty for none."""
        failed = self._failed(row.candidate)
        if any(one.incident for one in failed):
            where = "" if f", {row.vessel}" in row.candidate else f" in the {row.vessel}"
            looks = ": it looks too large" if self.way(row.candidate) < 0 else ""
            stop = f"{STOP} {named(row.candidate)}{where}"
            return f"{stop} until you know what went wrong{looks}.", ""
        if row.fate == RULED_OUT:
            return self._elsewhere(row)
        if row.fate == BURNING:
            return self._burn_on(row), row.wick
        if row.fate == UNCHECKED:
            return self._once_more(row)
        return self._settle(row), row.wick

    def _once_more(self, row) -> tuple[str, str]:
        """Fresh candles of a wick that is not fully checked, unless it looks wrong already."""
        way = self.way(row.candidate)
        if way and not self._found[row.candidate].weak:
            step, wick = self._elsewhere(row)
            return f"{step} {capital(row.wick)} looks too {_side(way)}.", wick
        fresh = f"Burn {number_word(FRESH)} fresh candles of {named(row.candidate)} to the end"
        return f"{fresh}, with every check.", row.wick

    def _failed(self, candidate: str) -> list[Any]:
        return self._worked.own("failures", candidate)

    def way(self, candidate: str) -> int:
        """1 for a larger wick, -1 for a smaller one, 0 where the signs do not say or contradict."""
        if candidate not in self._ways:
            self._ways[candidate] = self._way(candidate)
        return self._ways[candidate]

    def _way(self, candidate: str) -> int:
        kinds = {one.criterion for one in self._failed(candidate)}
        ways = {way for kind, way in _POINTS.items() if kind in kinds}
        found = self._found[candidate].finding if candidate in self._found else ""
        if found == MIXED:
            return 0
        if not ways and found in _WAYS:
            ways = {_WAYS[found]}
        if not ways:
            ways = self._off_target(candidate)
        return ways.pop() if len(ways) == 1 else 0

    def _off_target(self, candidate: str) -> set[int]:
        """Which way a burn rate lies that misses its target."""
        own = self._worked.own("targets", candidate)
        own = [row for row in own if row.target == "burn_rate_g_per_h"]
        return {1 for row in own if row.mean < row.low} | {-1 for row in own if row.mean > row.high}

    def _burn_on(self, row) -> str:
        """Which candles to burn on, and about how long."""
        left = [one for one in self._worked.own("remaining", row.candidate) if one.run == 1]
        return burn_on_words(left, self._worked.batch.settings.display)

    def _settle(self, row) -> str:
        """What a candidate that is safe so far still needs."""
        name = named(row.candidate)
        confirm = self._confirm(row)
        if row.candidate in self._worked.tested:
            confirm = f"compare {name} with its screening: did they burn the same?"
        if row.n_burning:
            return f"{self._burn_on(row)} Then {confirm}"
        return " ".join([capital(confirm), *self._reservation(row)])

    def _confirm(self, row) -> str:
        """On how many fresh candles to confirm: what settles it, and one for each with a gap."""
        lost: dict[str, str] = {}
        for gap in self._worked.own("gaps", row.candidate):
            if not gap.burning:
                lost.setdefault(gap.candle, gap.why)
        return confirm_words(row.candidate, lost, self._worked.fresh_needed)

    def side(self, candidate: str) -> str:
        """On which side of the right size a candidate burns, in a few words; empty for neither."""
        way = self.way(candidate)
        if not way:
            return ""
        weak = self._found[candidate].weak
        return f"perhaps a little {_side(way)}" if weak else f"on the {_side(way)} side"

    def _reservation(self, row) -> list[str]:
        """That a safe candidate burns on the small or the large side, and what lies there."""
        way = self.way(row.candidate)
        if not way:
            return []
        if self._found[row.candidate].weak:
            seen = self._found[row.candidate].evidence
            return [f"Watch for a sign of a {_side(way)} wick, on few candles so far: {seen}."]
        side = f"It burns on the {_side(way)} side"
        name, wick, other = self._next(row, way)
        if not name:
            return [f"{side}, and wicks.csv has no {_larger(way)} size."]
        if other is None:
            return [f"{side}: try {wick}, {_one_size(way)}, as well."]
        back = self.way(other.candidate) == -way
        if other.fate == RULED_OUT or back:
            why = "burns on the other side" if back else "was ruled out"
            return [
                f"{side}, and {named(other.candidate)} {why}: the right size lies between them. "
                "Use this one with that reservation, or try another series."
            ]
        return [f"{side}; {named(other.candidate)}, {_one_size(way)}, is {other.fate}."]

    def wick(self, candidate: str) -> tuple[str, str]:
        """Series and size of a candidate's wick."""
        return self._about[candidate].wick_series, self._about[candidate].wick_size

    def _next(self, row, way: int):
        """The next size as a candidate and as a wick, and its fate; empty where there is none."""
        series, size = self.wick(row.candidate)
        beyond = next_size(self._worked.batch.wicks, series, size, way)
        if beyond is None:
            return "", series, None
        old, new = f"{series} {size}", f"{series} {beyond}"
        name = row.candidate.replace(old, new, 1)
        return name, row.wick.replace(old, new, 1), self._fates.get(name)

    def _elsewhere(self, row) -> tuple[str, str]:
        """Where to go from a candidate that was ruled out without an incident."""
        way = self.way(row.candidate)
        if not way:
            return "Try another series.", ""
        name, wick, other = self._next(row, way)
        if not name:
            return f"Try another series: wicks.csv has no {_larger(way)} size of {wick}.", ""
        if other is None:
            return self._pour(row, name, way), wick
        name = named(name)
        if self.way(other.candidate) == -way:
            ends = (row.wick, other.wick)[::way]
            between = f"Try another series: the right size lies between {ends[0]} and {ends[1]}"
            rest = f". Or use {name} with that reservation" if other.fate == SAFE else ""
            return f"{between}{rest}.", ""
        if other.fate == RULED_OUT:
            return f"Try another series: {name} was ruled out as well.", ""
        if other.fate == SAFE:
            return f"Use {name} instead: it is safe so far.", other.wick
        return f"Finish the test of {name} first, {_one_size(way)}.", other.wick

    def _pour(self, row, candidate: str, way: int) -> str:
        """A size that nobody burned yet; its candles may stand there already."""
        names, lit = candidate_names(self._worked.batch), set(self._worked.batch.burns["candle"])
        poured = [candle for candle in names.index[names == candidate] if candle not in lit]
        if poured:
            return (
                f"Light {in_row(poured)} ({candidate}), {_one_size(way)}, poured and not lit yet."
            )
        pour = f"{POUR}{number_word(FRESH)} candles of {named(candidate)}, {_one_size(way)}"
        return f"{pour}{self._reason(row, way) if row.fate == RULED_OUT else ''}."

    def _reason(self, row, way: int) -> str:
        """Why the sizes burned of this series are out; that it is of use only who wants it."""
        series, size = self.wick(row.candidate)
        out, others = [], False
        for one in self._fates.values():
            kind, other = self.wick(one.candidate)
            name = f"{kind} {other}"
            alike = row.candidate.replace(f"{series} {size}", name, 1) == one.candidate
            if alike and kind == series:
                out += [one.candidate] * (one.fate == RULED_OUT and self.way(one.candidate) == way)
            else:
                others |= one.fate == SAFE and one.vessel == row.vessel
        wish = ", if you still want that series" if others else ""
        sizes = listed([self._about[name].wick_size for name in out], 6)
        what = f"sizes {sizes}" if len(out) > 1 else f"size {sizes}"
        kinds = [{one.criterion for one in self._failed(name)} for name in out]
        common = next((kind for kind in _POINTS if all(kind in own for own in kinds)), "")
        looks = f"look{'s' if len(out) == 1 else ''} too {_side(way)}"
        return f"{wish}: {what} {_RAN.get(common, looks)}"


def confirm_words(candidate: str, lost: dict[str, str], asked: dict[str, Needed]) -> str:
    """On how many fresh candles to confirm: as many as were ``asked`` of a pick to settle it, and
    one in place of each candle that was ``lost`` to a gap, and why."""
    needed, screened = asked.get(candidate, Needed(None))
    n = number_word((needed or FRESH) + len(lost))
    change = f"a {SHIFT_PCT:g} % change in burn rate"
    place = f"{number_word(len(lost))} in place of {in_row(lost, MOST_IN_ROW)}" if lost else ""
    place += f" ({lost[next(iter(lost))]})" if len(lost) == 1 else ""
    what = f"confirm {named(candidate)} on"
    if candidate in asked and needed is None:
        many = f"as many fresh candles as you can, at least {n}{f', {place}' if lost else ''}"
        larger = f" A new screening of {screened} candles of it, and as many fresh ones, would."
        return (
            f"{what} {many}: its candles differ too much to show {change}."
            f"{larger if screened else ''}"
        )
    if needed is not None and needed > FRESH:
        fewer = f"{number_word(needed)} because fewer would miss {change}"
        return f"{what} {n} fresh candles: {f'{place}, and ' if lost else ''}{fewer}."
    return f"{what} at least {n} fresh candles{f': {place}' if lost else ''}."


def burn_on_words(left: list[Any], display: Display, *, wicks: bool = False) -> str:
    """Which candles to burn on, about how many burns each, and what to look at.

    ``wicks`` names the candidate as well, where the sentence stands beside another one.
    """
    if not left:
        return "Keep burning to the end."
    names = [
        row.candle + _about(named(row.candidate) if wicks else "", row.burns_left) for row in left
    ]
    last = max((row.ends_on for row in left if not pd.isna(row.ends_on)), default=None)
    when = f" At this pace the last burn is on {display.day(last)}." if last else ""
    looks = [f"{r.look_at} of {r.candle} ({r.reading})" for r in left if r.look_at]
    look = f"Watch {listed(looks)}." if looks else "Miss no check: late burns run hottest."
    return f"Keep burning {listed(names, 20)}.{when} {look}"


def how_to_confirm(*, tested: bool) -> str:
    """With which command fresh candles are held against their screening; those of a confirmation
    (``tested``) can be at once."""
    run = "in the terminal, with the names of your two folders."
    if tested:
        return f"{HOW_TO[0]}, run “candlelab confirm screening-folder new-folder” {run}"
    return (
        f"{HOW_TO[1]}, burn them to the end with every check, and log them in a new folder. Then "
        f"run “candlelab confirm screening-folder new-folder” {run}"
    )


def _about(wick: str, burns) -> str:
    """In brackets the wick of a candle, and about how many burns are left."""
    left = "" if pd.isna(burns) else f"about {counted(int(burns), 'more burn')}"
    told = ", ".join(filter(None, [wick, left]))
    return f" ({told})" if told else ""


def _side(way: int) -> str:
    return "small" if way > 0 else "large"


def _one_size(way: int) -> str:
    return "one size up" if way > 0 else "one size down"


def _larger(way: int) -> str:
    return "larger" if way > 0 else "smaller"

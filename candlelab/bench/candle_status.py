"""Where every candle stands: what its tables say, and what the journal says beyond them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta, tzinfo

import pandas as pd

from candlelab.bench.limits import Limit, passed, passed_in
from candlelab.bench.rows import hours_words
from candlelab.bench.table_form import TableForm
from candlelab.burns.candidates import RECIPE, natural_order
from candlelab.logs.batch import Logs
from candlelab.logs.journal import SET_ASIDE, WICK_CHANGE, Entry, Logbook, LoggedBurn
from candlelab.logs.journal_rules import bench_zone, on_the_clock
from candlelab.logs.names import bare
from candlelab.logs.settings import Protocol, Settings
from candlelab.plan.schedule import check_minutes
from candlelab.text import listed

READY, ALIGHT, OUT, OVER = "ready", "alight", "out", "over"
ENDED = "Burned to the end"


@dataclass
class Standing:
    """One candle. ``burn`` is the number of its open burn, or else of the next one.

    ``mass`` is the last weight, in the unit of ``burns.csv`` and as it was written there; ``stop``
    says why it is not lit again (``stop_burn`` in which burn), ``over`` why its test has ended for
    another reason, ``remark`` what to know before it is lit. ``recipe`` is all but the wick;
    ``wicks`` are the wicks that it had, each with its first burn.
    """

    candle: str
    place: str = ""
    vessel: str = ""
    burn: int = 1
    mass: str = ""
    out_at: datetime | None = None
    stop: str = ""
    over: str = ""
    remark: str = ""
    open: LoggedBurn | None = None
    last: LoggedBurn | None = None
    wick: Entry | None = None
    stop_burn: int = 0
    recipe: tuple[str, ...] = ()
    wicks: tuple[tuple[int, str, str], ...] = ()

    def kind_in(self, burn: int) -> tuple:
        """Its recipe with the wick that was in it in a burn."""
        had = [wick for wick in self.wicks if wick[0] <= burn]
        return tuple(bare(name) for name in (*self.recipe, *(max(had)[1:] if had else ())))

    @property
    def alight(self) -> LoggedBurn | None:
        """Its burn, as long as the flame is not out."""
        return self.open if self.open and not self.open.out else None

    @property
    def status(self) -> str:
        if self.open:
            return OUT if self.open.out else ALIGHT
        return OVER if self.stop or self.over else READY


def from_tables(
    logs: Logs, settings: Settings, forms: dict[str, TableForm], limits: list[Limit]
) -> dict[str, Standing]:
    """Where every candle of ``candles.csv`` stands after the burns that the tables hold."""
    candles = logs.tables["candles"].frame.drop_duplicates("candle").set_index("candle")
    names = natural_order(name for name in candles.index if name)
    place = candles["bench_position"]
    standings = {n: Standing(n, place[n], candles.at[n, "vessel"]) for n in names}
    for one in standings.values():
        row = candles.loc[one.candle]
        one.recipe = tuple(str(row[name]) for name in (*RECIPE, "wick_count"))
        one.wicks = ((1, row["wick_series"], row["wick_size"]),)
    if "wick_changes" in logs.tables:
        changes = logs.tables["wick_changes"].frame.dropna(subset=["before_burn"])
        for row in changes[changes["candle"].isin(names)].itertuples():
            new = (int(row.before_burn), row.wick_series, row.wick_size)
            standings[row.candle].wicks += (new,)
    burns = logs.tables.get("burns")
    if burns is not None:
        frame = burns.frame[burns.frame[["burn", "lit_at"]].notna().all(axis=1) & ~burns.muted]
        for name, own in frame.groupby("candle", sort=False):
            if name in standings:
                fill = float(candles.at[name, "fill_mass_g"])
                in_order = own.sort_values("burn")
                form, lines = forms.get("burns"), burns.lines[in_order.index]
                mass = form.last("mass_after_g", lines) if form else ""
                _after_burns(standings[name], in_order, mass, bench_zone(settings))
                if in_order["ended_by"].iloc[-1] == "self":
                    _after_its_end(standings[name], in_order, fill, logs, settings)
    if "checks" in logs.tables:
        for one in passed_in(logs.tables["checks"].frame, limits).itertuples():
            if one.candle in standings and not standings[one.candle].stop:
                standings[one.candle].stop = stop_sentence(one.happened, one.burn, one.elapsed_min)
                standings[one.candle].stop_burn = int(one.burn)
    if "exclusions" in logs.tables:
        aside = logs.tables["exclusions"].frame
        for one in aside[aside["burn"].isna()].itertuples():
            if one.candle in standings:
                standings[one.candle].over = f"Set aside: {one.reason}"
    return standings


def stop_sentence(happened: str, burn: float, minutes: float) -> str:
    """Why a candle is not lit again."""
    place = f"Burn {burn:.0f}, {hours_words(minutes)} after lighting."
    return f"Do not light it again. {happened} ({place})"


def _after_burns(standing: Standing, own: pd.DataFrame, mass: str, zone: tzinfo | None) -> None:
    last = own.iloc[-1]
    standing.burn = int(last["burn"]) + 1
    standing.mass = mass
    standing.out_at = on_the_clock(last["out_at"], zone)


def _after_its_end(
    standing: Standing, own: pd.DataFrame, fill: float, logs: Logs, settings: Settings
) -> None:
    """What a candle that went out by itself is: burned to its end, or a failure to burn."""
    last = own.iloc[-1]
    if "wick_changes" in logs.tables:
        changed = logs.tables["wick_changes"].frame
        later = changed["before_burn"] > last["burn"]
        if (later & (changed["candle"] == standing.candle)).any():
            return
    used = (own["mass_before_g"] - own["mass_after_g"]).sum(min_count=1)
    left = 100 * (1 - used / fill)
    words = f"It went out by itself in burn {last['burn']:.0f}"
    words += "." if pd.isna(left) else f" with {left:.0f} % of its wax left."
    if left <= settings.protocol.end_wax_left_pct:
        standing.over = f"{ENDED}. {words}"
    else:
        standing.remark = f"{words} That failure stays: you need not light it again."


def with_journal(
    tables: dict[str, Standing], book: Logbook, limits: list[Limit]
) -> dict[str, Standing]:
    """Where every candle stands now."""
    now = {name: replace(one) for name, one in tables.items()}
    for (name, number), burn in book.burns.items():
        if name not in now:
            continue
        one = now[name]
        one.last = burn
        if not burn.written:
            one.open, one.burn = burn, number
        for check in burn.checks:
            wrong = [limit for limit in passed(check, limits) if limit.level == "stop"]
            if wrong and not one.stop:
                minutes = (check.at - burn.light.at).total_seconds() / 60
                one.stop = stop_sentence(wrong[0].happened, number, minutes)
                one.stop_burn = number
    for entry in (entry for entry in book.others.values() if entry.candle in now):
        one = now[entry.candle]
        if entry.kind == SET_ASIDE and not entry.burn:
            one.over = f"Set aside: {entry.values.get('reason', '')}"
        elif entry.kind == WICK_CHANGE and entry.burn == one.burn:
            one.wick, one.remark = entry, ""
            new = (entry.values.get("wick_series", ""), entry.values.get("wick_size", ""))
            one.wicks += ((entry.burn, *new),)
            one.over = "" if one.over.startswith(ENDED) else one.over
    return _warned(now)


def _warned(standings: dict[str, Standing]) -> dict[str, Standing]:
    """A word at each candle that may be lit, where one of its wick and recipe was stopped."""
    stopped: dict[tuple, list[str]] = {}
    for one in standings.values():
        if one.stop:
            stopped.setdefault(one.kind_in(one.stop_burn), []).append(one.candle)
    for one in standings.values():
        others = stopped.get(one.kind_in(one.burn), [])
        if others and one.status == READY:
            have = "has" if len(others) == 1 else "have"
            why = f"{listed(others, 6)} {have} the same wick and must not be lit again."
            one.remark = f"{one.remark} {why} Find out why before you light this one.".strip()
    return standings


@dataclass(frozen=True)
class Due:
    """A check that may be made from ``since`` on, or the end of a burn."""

    at: datetime
    since: datetime
    end: bool = False


def dues(burn: LoggedBurn, protocol: Protocol) -> list[Due]:
    """Every check of a burn, and its end."""
    lit, tolerance = burn.light.at, timedelta(minutes=protocol.check_tolerance_min)
    at = [lit + timedelta(minutes=minutes) for minutes in check_minutes(protocol)]
    end = lit + timedelta(hours=protocol.burn_h)
    return [*(Due(one, one - tolerance) for one in at), Due(end, end, end=True)]


def next_due(burn: LoggedBurn, protocol: Protocol) -> Due:
    """The first check that was not made; the end of the burn when all were made."""
    seen = max((check.at for check in burn.checks), default=burn.light.at)
    return next(due for due in dues(burn, protocol) if due.end or seen < due.since)


def unseen_from(burn: LoggedBurn, protocol: Protocol) -> datetime:
    """The moment after which a stretch without a check is too long."""
    seen = max((check.at for check in burn.checks), default=burn.light.at)
    return seen + timedelta(minutes=protocol.check_every_min + protocol.check_tolerance_min)

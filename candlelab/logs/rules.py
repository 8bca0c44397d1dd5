"""Rules across rows and tables: what contradicts itself, what looks odd, what left the protocol.

One fault should give one problem. A rule therefore keeps away from what
another problem already puts in doubt: a burn with impossible times has no
length, a candle with a burn number missing no gap.
"""

from __future__ import annotations

from collections.abc import Set

import numpy as np
import pandas as pd

from candlelab.logs.burn_log import (
    Log,
    among,
    burn_column,
    burn_log,
    burn_places,
    doubted_candles,
    over_a_clock_change,
)
from candlelab.logs.burn_rules import Broken, broken_order, broken_weights, off_protocol
from candlelab.logs.check_rules import checks_inside, checks_missed, known_burns, pool_inside
from candlelab.logs.columns import BURN_RATE
from candlelab.logs.doubts import doubted_readings
from candlelab.logs.faults import said
from candlelab.logs.names import (
    known_candles,
    known_vessels,
    known_waxes,
    known_wicks,
    one_spelling,
)
from candlelab.logs.oddities import Doubts, all_set_aside, notes_say_more, same_wick_again
from candlelab.logs.problems import MUST_FIX, SETTINGS_FILE, ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.safety_rules import failures, failures_set_aside, lit_again, not_written_down
from candlelab.logs.settings import Settings
from candlelab.logs.throw_rules import check_pairs, check_throw

_TIMES = ("lit", "out", "trusted_out_before")  # that are told
# What the rules on checks look at of the burns.
_OF_BURNS = ("candle", "burn", "place", "code", "hours", "ended_by", "new_wick")
_OF_CANDLES = ("burns", "checks", "wick_changes", "exclusions", "throw", "codes")


def cross_check(
    tables: dict[str, ReadTable],
    settings: Settings | None,
    problems: ProblemList,
    *,
    lit: Set[str] = frozenset(),
) -> Doubts:
    """Apply every rule whose tables, columns and settings could be read; gives readings in doubt.

    Missing cells are left to the reader. ``lit`` has the candles with an open burn, which
    ``burns.csv`` does not show yet.
    """

    def with_columns(name: str, *columns: str) -> ReadTable | None:
        table = tables.get(name)
        return table if table and set(columns) <= set(table.found) else None

    candles = with_columns("candles", "candle")
    wicks = with_columns("wicks", "wick_series", "wick_size")
    _check_names(tables, candles, wicks, settings, problems)
    if "throw" in tables:
        check_throw(tables["throw"], settings, problems)
    if "pairs" in tables:
        check_pairs(tables["pairs"], candles, problems)
    if "burns" in tables:
        _watch_the_clock(tables["burns"], settings, problems)
    checks = with_columns("checks", "candle", "burn", "elapsed_min")
    if checks and candles and settings:
        pool_inside(checks, candles, settings, problems)
    burns = with_columns("burns", "candle", "burn")
    if not burns:
        return {}
    return _check_burns(tables, burns, candles, checks, settings, problems, lit)


def _check_names(
    tables: dict[str, ReadTable],
    candles: ReadTable | None,
    wicks: ReadTable | None,
    settings: Settings | None,
    problems: ProblemList,
) -> None:
    if candles:
        for table in (tables[name] for name in _OF_CANDLES if name in tables):
            known_candles(table, candles, problems)
        _loads(candles, problems)
        one_spelling(candles, settings, problems)
        if settings and settings.vessels:
            known_vessels(candles, settings, problems)
        if settings and settings.waxes:
            known_waxes(candles, settings, problems)
    if wicks:
        for name in {"candles", "wick_changes"} & tables.keys():
            known_wicks(tables[name], wicks, problems)


def _check_burns(
    tables: dict[str, ReadTable],
    burns: ReadTable,
    candles: ReadTable | None,
    checks: ReadTable | None,
    settings: Settings | None,
    problems: ProblemList,
    lit: Set[str],
) -> Doubts:
    """The rules that need the numbers of the burns; gives readings in doubt."""
    doubted = doubted_candles(burns, candles)
    places: dict[str, np.ndarray] = {}
    for table in (tables[name] for name in _OF_CANDLES[1:-1] if name in tables):
        at = burn_places(burns.columns, table.columns, burn_column(table))
        places[table.spec.name] = at
        known_burns(table, at, burns, candles, doubted, problems)
    if not len(burns.lines):
        return {}
    if "exclusions" in places:
        all_set_aside(tables["exclusions"], burns, problems)
    if "wick_changes" in places and candles:
        same_wick_again(tables["wick_changes"], candles, problems)
    log = burn_log(burns, places.get("wick_changes", np.zeros(0, dtype=int)), candles, doubted)
    if candles:
        logged = [
            part["candle"].tolist() for t in (burns, checks) if t for part in (t.columns, t.waiting)
        ]
        _unburnt(candles, doubted.union(lit, *logged), problems)
    _tell(burns, log, broken_order(log), problems)
    _tell(burns, log, broken_weights(log, settings), problems, plausible=BURN_RATE)
    planned = settings if settings and _has_protocol(problems) else None
    if planned:
        _tell_off_protocol(burns, log, planned, problems)
    if planned and candles:
        _cure(log, candles, planned, problems)
    log = {name: log[name] for name in _OF_BURNS}  # the rest is let go
    if checks:
        at = places["checks"]
        doubted |= checks_inside(checks, at, log, problems) | doubted_candles(checks, candles)
        not_written_down(checks, problems)
        failed = failures(checks, at, settings)
        if "exclusions" in places:
            aside = tables["exclusions"]
            failures_set_aside(aside, checks, at, burns, failed, settings, problems)
        _tell(burns, *lit_again(checks, at, log, failed), problems)
        for table, its in ((burns, np.arange(len(burns.lines))), (checks, at)):
            notes_say_more(table, its, checks, at, problems)
    if checks and planned:
        log, missed = checks_missed(checks, at, log, doubted, planned.protocol)
        _tell(burns, log, missed, problems, protocol=planned.protocol)
    return doubted_readings(checks, places.get("checks"), burns, log, settings, problems)


def _has_protocol(problems: ProblemList) -> bool:
    return not problems.noted(SETTINGS_FILE, "protocol", [MUST_FIX])


def _tell(burns: ReadTable, log: Log, broken: Broken, problems: ProblemList, **values) -> None:
    """Note each broken rule at its burns, those already reported as broken left out."""
    zone, muted = burns.columns["lit_at"].tz, burns.muted[log["place"]]
    for problem, rows in broken.items():
        for n in np.flatnonzero(rows & ~muted):
            row = {name: column[n] for name, column in log.items()}
            for name in row.keys() & _TIMES:
                row[name] = pd.Timestamp(row[name], tz="UTC").tz_convert(zone)
            burns.tell(problems, problem, row["place"], **row | values)


def _tell_off_protocol(
    burns: ReadTable, log: Log, settings: Settings, problems: ProblemList
) -> None:
    protocol = settings.protocol
    comfort = burns.show("room_c", protocol.room_low_c, protocol.room_high_c)
    broken = off_protocol(burns, log, protocol)
    weights = [burns.found[c].header for c in ("mass_before_g", "mass_after_g") if c in burns.found]
    if any(problems.noted(burns.spec.file, name, [MUST_FIX]) for name in weights):
        del broken["weight not taken"]  # an empty cell is told already
    _tell(burns, log, broken, problems, protocol=protocol, comfort=comfort, found="")
    if "room_c" not in burns.found and "room_c" not in burns.excused:
        column = said("no room temperature", found="no such column")
        problems.add(file=burns.spec.file, **column)


def _loads(candles: ReadTable, problems: ProblemList) -> None:
    """A fragrance without a load, and a load that is a fraction where percent belong."""
    if "fragrance_load_pct" not in candles.found:
        return
    load = candles.numbers("fragrance_load_pct")
    scented = [name != "" for name in candles.texts("fragrance")]
    for n in candles.where(scented & np.isnan(load)):
        candles.tell(problems, "fragrance without a load", n)
    for n, times in candles.first_of_each(load, (load > 0) & (load < 0.5)):
        shown = {"load": load[n], "pct": 100 * load[n], "times": times}
        candles.tell(problems, "load below half a percent", n, **shown)


def _unburnt(candles: ReadTable, burned: set[str], problems: ProblemList) -> None:
    """Candles that no burn names, once burning has begun."""
    names = candles.texts("candle")
    rows = candles.where(~among(names, burned))
    for n in rows[:1]:
        more = f" and {len(rows) - 1} more" if len(rows) > 1 else ""
        found = names[n] + more
        candles.tell(problems, "candle without a burn", n, found=found)


def _watch_the_clock(burns: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """Burns over a clock change, and times that nobody can place."""
    unplaced = settings is not None and not settings.time_zone
    if unplaced and not problems.noted(SETTINGS_FILE, "time_zone") and not burns.offsets.all():
        problems.add(file=SETTINGS_FILE, **said("no time zone given"))
    lit, out = burns.columns["lit_at"], burns.columns["out_at"]
    for n in burns.where(over_a_clock_change(burns)):
        times = {"lit": lit[n], "out": out[n], "zone": lit.tz}
        burns.tell(problems, "burn over a clock change", n, **times)


def _cure(log: Log, candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    """Days from pouring to the first burn."""
    names, clock = log["candle"][log["first"]], log["clock"][log["first"]]
    first = dict(zip(names[::-1], clock[::-1], strict=True))
    never = np.datetime64("NaT", "us")
    lit = np.array([first.get(name, never) for name in candles.texts("candle")], dtype=never.dtype)
    poured = candles.columns["poured_on"]
    stood = (lit.astype("datetime64[D]") - poured) / np.timedelta64(1, "D")
    usual = settings.protocol.cure_days
    waxes = {name: wax.cure_days for name, wax in settings.waxes.items() if wax}
    days = [waxes.get(wax) for wax in candles.texts("wax")]
    wanted = np.array([usual if own is None else own for own in days], dtype=float)
    for n in candles.where(stood < 0):
        times = {"poured": pd.Timestamp(poured[n]), "lit": pd.Timestamp(lit[n])}
        candles.tell(problems, "burned before it was poured", n, **times)
    for n in candles.where((stood >= 0) & (stood < wanted)):
        candles.tell(problems, "cure too short", n, stood=stood[n], wanted=wanted[n])

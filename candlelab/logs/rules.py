"""Rules across rows and tables: what contradicts itself, what looks odd, what left the protocol.

One fault should give one problem. A rule therefore keeps away from what
another problem already puts in doubt: a burn with impossible times has no
length, a candle with a burn number missing no gap.
"""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from candlelab import formulas
from candlelab.glossary import GLOSSARY
from candlelab.logs.csv_table import ReadTable
from candlelab.logs.names import (
    MOST_HINTS,
    known_candles,
    known_vessels,
    known_waxes,
    known_wicks,
    one_spelling,
)
from candlelab.logs.problems import LOOK, MUST_FIX, PROTOCOL, SETTINGS_FILE, ProblemList
from candlelab.logs.settings import Settings
from candlelab.text import closest

_MOST_BURNS = 100_000


def burn_places(burns: pd.DataFrame, table: pd.DataFrame, burn_column: str = "burn") -> np.ndarray:
    """For each row of ``table`` the place of its burn in ``burns``, -1 where there is none."""
    names = pd.Index(burns["candle"].unique())

    def code(frame, number):
        candle = names.get_indexer(frame["candle"])
        number = frame[number].to_numpy(dtype=float)
        usable = (candle >= 0) & (number >= 0) & (number < _MOST_BURNS)
        return np.where(
            usable, candle * _MOST_BURNS + np.where(usable, number, 0).astype(np.int64), -1
        )

    keys = code(burns, "burn")
    order = np.argsort(keys, kind="stable")
    wanted = code(table, burn_column)
    at = np.minimum(np.searchsorted(keys[order], wanted), max(len(order) - 1, 0))
    if not len(order):
        return np.full(len(table), -1)
    return np.where((keys[order][at] == wanted) & (wanted >= 0), order[at], -1)


def cross_check(
    tables: dict[str, ReadTable], settings: Settings | None, problems: ProblemList
) -> None:
    """Apply every rule whose tables, columns and settings could be read.

    Missing cells are left to the reader.
    """

    def with_columns(name: str, *columns: str) -> ReadTable | None:
        table = tables.get(name)
        return table if table and set(columns) <= set(table.found) else None

    candles, wicks = (
        with_columns("candles", "candle"),
        with_columns("wicks", "wick_series", "wick_size"),
    )
    burns, checks = (
        with_columns("burns", "candle", "burn"),
        with_columns("checks", "candle", "burn", "elapsed_min"),
    )
    others = [
        tables[name]
        for name in ("burns", "checks", "wick_changes", "exclusions", "throw")
        if name in tables
    ]
    if candles:
        for table in others:
            known_candles(table, candles, problems)
        _loads(candles, problems)
        one_spelling(candles, settings, problems)
        if settings and settings.vessels:
            known_vessels(candles, settings, problems)
        if settings and settings.waxes:
            known_waxes(candles, settings, problems)
    if wicks:
        for name in ("candles", "wick_changes"):
            if name in tables:
                known_wicks(tables[name], wicks, problems)
    if "burns" in tables:
        _watch_the_clock(tables["burns"], settings, problems)
    if checks and candles and settings:
        _pool_inside(checks, candles, settings, problems)
    if not burns:
        return
    doubted = _doubted(burns, candles)
    places = {}
    for table in others[1:]:
        places[table.spec.name] = burn_places(
            burns.frame, table.frame, "before_burn" if table.spec.name == "wick_changes" else "burn"
        )
        _known_burns(table, places[table.spec.name], burns, candles, doubted, problems)
    if not len(burns.frame):
        return
    log = _burn_log(burns, tables.get("wick_changes"), candles, doubted)
    if candles and len(burns.frame):
        _unburnt(
            candles,
            doubted.union(*(table.frame["candle"].unique() for table in (burns, checks) if table)),
            problems,
        )
    _order(burns, log, problems)
    _weights(burns, log, settings, problems)
    at = places.get("checks", np.zeros(0, dtype=int))
    outside = _checks_inside(checks, at, log, problems) if checks else set()
    if settings and not problems.noted(SETTINGS_FILE, "protocol"):
        _protocol(burns, log, settings, problems)
        if checks:
            _checks_missed(
                checks,
                at,
                burns,
                log,
                _doubted(checks, candles) | outside | doubted,
                settings,
                problems,
            )
        if candles:
            _cure(log, candles, settings, problems)


def _loads(candles: ReadTable, problems: ProblemList) -> None:
    """A fragrance without a load, and a load that is a fraction where percent belong."""
    if "fragrance_load_pct" not in candles.found:
        return
    for n in candles.where(
        (candles.frame["fragrance"] != "") & candles.frame["fragrance_load_pct"].isna()
    ):
        candles.add(
            problems,
            LOOK,
            "fragrance without a load",
            n,
            "fragrance_load_pct",
            expected="the load in percent",
            do="Fill in the load; without it no fragrance release is worked out.",
        )
    load = candles.frame["fragrance_load_pct"]
    for n, times in candles.first_of_each(load, (load > 0) & (load < 0.5)):
        candles.add(
            problems,
            LOOK,
            "load below half a percent",
            n,
            "fragrance_load_pct",
            found=f"{load.iat[n]:g} %{times}",
            expected="percent, as in 8",
            do=f"{100 * load.iat[n]:g} % may have been saved as {load.iat[n]:g}; keep it if it is "
            "right.",
        )


def _unburnt(candles: ReadTable, burnt: set[str], problems: ProblemList) -> None:
    """Candles that no burn names, once burning has begun."""
    rows = candles.where(~candles.frame["candle"].isin(burnt))
    for n in rows[:1]:
        more = f" and {len(rows) - 1} more" if len(rows) > 1 else ""
        candles.add(
            problems,
            LOOK,
            "candle without a burn",
            n,
            "candle",
            found=candles.frame["candle"].iat[n] + more,
            expected="its burns in burns.csv",
            do="Nothing if it is still to be burnt; else add its burns.",
        )


def _doubted(table: ReadTable, candles: ReadTable | None) -> set[str]:
    """Candles with a row that another problem covers: a number
    missing, a row given twice, a name misspelt.

    All candles, if a row has no name or a great many names are unknown.
    """
    names = table.frame["candle"]
    given = set(names.unique())
    known = given if candles is None else set(candles.frame["candle"])
    unknown = given - known
    if "" in unknown or set(names[table.muted]) & unknown or len(unknown) > MOST_HINTS:
        return given | known
    meant = {closest(name, known) for name in unknown}
    return set(names[table.unsure]) | unknown | (meant - {None})


def _burn_log(
    burns: ReadTable, changes: ReadTable | None, candles: ReadTable | None, doubted: set[str]
) -> pd.DataFrame:
    """The burns by candle and number, beside each what the burn before it (``*_before``) left.

    ``place`` is the row in the table. ``lit``, ``out`` and ``hours`` are missing where the times
    cannot be right; ``next`` says that the row before is the burn before of the same candle.
    """
    frame = burns.frame
    code = pd.factorize(frame["candle"])[0]
    place = np.lexsort((frame["burn"].to_numpy(dtype=float), code))
    burn = frame.iloc[place]
    log = pd.DataFrame(
        {"place": place, "candle": burn["candle"].to_numpy(dtype=object), "code": code[place]}
    )
    for name, column in {
        "burn": "burn",
        "lit": "lit_at",
        "out": "out_at",
        "start": "mass_before_g",
        "end": "mass_after_g",
        "ended_by": "ended_by",
        "room": "room_c",
        "wick": "wick_length_mm",
    }.items():
        log[name] = burn[column].array
    changed = np.zeros(len(frame), dtype=bool)
    if changes is not None:
        at = burn_places(frame, changes.frame, "before_burn")
        changed[at[at >= 0]] = True
    log["doubted"] = log["candle"].isin(doubted)
    log["twice"] = log["candle"].isin(set(frame["candle"][burns.unsure]))
    log["new_wick"] = changed[place]
    notes = frame["note"].unique()
    told = [note for note in notes if re.search("level|topped up|top up", note, re.IGNORECASE)]
    log["said"] = burn["note"].isin(told).array
    log["used"] = log["start"] - log["end"]
    log["raw_hours"] = (log["out"] - log["lit"]) / pd.Timedelta("1h")
    log["clock_changed"] = (_offset(log["lit"]) != _offset(log["out"])) & ~burns.offsets[place]
    log["hours"] = log["raw_hours"].where(
        (log["raw_hours"] > 0) & (log["raw_hours"] <= 24) & ~log["clock_changed"]
    )
    for name in ("lit", "out"):
        log[f"trusted_{name}"] = log[name].where(log["hours"].notna())
    same = (log["code"] == log["code"].shift()) & (log["candle"] != "")
    for name in ("burn", "end", "trusted_lit", "trusted_out"):
        log[f"{name}_before"] = log[name].shift().where(same)
    log["first"] = ~same
    log["known_change"] = (
        log["new_wick"] | log["said"] | (log["said"].shift(fill_value=False) & same)
    )
    for name in ("fill_mass_g", "wick_count"):
        of_candle = (
            candles.frame.drop_duplicates("candle").set_index("candle")[name]
            if candles
            else pd.Series(dtype=float)
        )
        log[name] = log["candle"].map(of_candle).astype(float)
    return log


def _offset(times: pd.Series) -> pd.Series:
    """The zone's distance from UTC at each time; zero where there is no time."""
    return (times.dt.tz_localize(None) - times.dt.tz_convert("UTC").dt.tz_localize(None)).fillna(
        pd.Timedelta(0)
    )


def _report(
    burns: ReadTable,
    log: pd.DataFrame,
    mask,
    problems: ProblemList,
    level,
    problem,
    column,
    found,
    expected,
    do,
) -> None:
    """Note a problem at every burn of the mask; ``found`` and
    ``expected`` make their text from a row of the log."""
    at = np.flatnonzero(np.asarray(mask, dtype=bool) & ~burns.muted[log["place"]])
    for row in log.iloc[at].itertuples() if len(at) else ():
        burns.add(
            problems,
            level,
            problem,
            row.place,
            column,
            found=found(row),
            expected=expected(row),
            do=do,
        )


def _clock(moment) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _order(burns: ReadTable, log: pd.DataFrame, problems: ProblemList) -> None:
    """Out before lit, overlaps, burns out of order, numbers with gaps, burns after the last."""

    def after_the_one_before(row):
        return f"a time after burn {row.burn_before:g} ended, {_clock(row.trusted_out_before)}"

    _report(
        burns,
        log,
        (log["raw_hours"] <= 0) & ~log["clock_changed"],
        problems,
        MUST_FIX,
        "out before lit",
        "out_at",
        lambda row: _clock(row.out),
        lambda row: f"a time after {_clock(row.lit)}",
        "Correct one of the two times; mind the date when a burn passes midnight.",
    )
    _report(
        burns,
        log,
        log["raw_hours"] > 24,
        problems,
        MUST_FIX,
        "burn longer than a day",
        "out_at",
        lambda row: _clock(row.out),
        lambda row: f"a time a few hours after {_clock(row.lit)}",
        "Correct the date of one of the two times.",
    )
    follows = (log["burn"] > log["burn_before"]) & ~log["twice"]
    early = log["trusted_lit"] < log["trusted_lit_before"]
    overlap = follows & ~early & (log["trusted_lit"] < log["trusted_out_before"])
    _report(
        burns,
        log,
        overlap,
        problems,
        MUST_FIX,
        "burns of one candle overlap",
        "lit_at",
        lambda row: _clock(row.lit),
        after_the_one_before,
        "Correct the times of the two burns.",
    )
    _report(
        burns,
        log,
        follows & early,
        problems,
        MUST_FIX,
        "burns out of order",
        "lit_at",
        lambda row: _clock(row.lit),
        after_the_one_before,
        "Correct the times, or number the burns in the order in which they were done.",
    )
    gap = (log["burn"] - log["burn_before"].fillna(0) > 1) & ~log["doubted"]
    _report(
        burns,
        log,
        gap,
        problems,
        MUST_FIX,
        "burn numbers with a gap",
        "burn",
        lambda row: f"{row.burn:g}",
        lambda row: f"{1 if row.first else row.burn_before + 1:g}",
        "Add the missing burn, or number the burns again; the checks have to follow.",
    )
    again = (follows & ~log["new_wick"]).shift(-1, fill_value=False)
    log = log.assign(next=log["burn"].shift(-1))
    _report(
        burns,
        log,
        (log["ended_by"] == "self") & again,
        problems,
        LOOK,
        "went out by itself before its end",
        "ended_by",
        lambda row: f"went out by itself, yet burn {row.next:g} follows",
        lambda row: "self only at the end of a candle or wick",
        "Correct ended_by if it was the timer; else it is a sign of drowning.",
    )


def _weights(
    burns: ReadTable, log: pd.DataFrame, settings: Settings | None, problems: ProblemList
) -> None:
    """Weights within a burn, from one burn to the next, and over the whole candle."""

    def shown(row, value):
        return burns.show("mass_after_g", value)

    def as_left(row):
        return (
            f"about {burns.show('mass_before_g', row.end_before)}, as after burn "
            f"{row.burn_before:g}"
        )

    gained = log["used"] < 0
    _report(
        burns,
        log,
        gained,
        problems,
        MUST_FIX,
        "weight gained in a burn",
        "mass_after_g",
        lambda row: shown(row, row.end),
        lambda row: f"at most {shown(row, row.start)}",
        "Correct one of the two weights.",
    )
    log = log.assign(total=log["used"].clip(lower=0).fillna(0).groupby(log["code"]).cumsum())
    topped_up = log["said"].groupby(log["code"]).transform("any")
    over = (log["total"] > 1.02 * log["fill_mass_g"]) & ~topped_up & ~log["doubted"]
    first = over & (over.groupby(log["code"]).cumsum() == 1)
    _report(
        burns,
        log,
        first,
        problems,
        MUST_FIX,
        "more wax used than filled",
        "mass_after_g",
        lambda row: f"{shown(row, row.total)} used so far",
        lambda row: f"at most the fill of {shown(row, row.fill_mass_g)}",
        "Check the weights of this candle and its fill in candles.csv.",
    )
    low, high = GLOSSARY["burn_rate_g_per_h"].low, GLOSSARY["burn_rate_g_per_h"].high
    log = log.assign(rate=log["used"] / log["hours"])
    odd = ~gained & (
        (log["rate"] < low) | (log["rate"] > high * log["wick_count"].fillna(1).clip(lower=1))
    )
    _report(
        burns,
        log,
        odd & ~first,
        problems,
        LOOK,
        "implausible burn rate",
        "mass_after_g",
        lambda row: f"{row.rate:.1f} g/h",
        lambda row: f"{low:g} to {high:g} g/h for each wick",
        "Check the two weights and the two times; keep them if they are right.",
    )
    step = log["start"] - log["end_before"]
    slack = max(0.5, 5 * settings.instruments.scale_resolution_g) if settings else 0.5
    bad = gained | odd | over
    judged = (
        (log["burn"] == log["burn_before"] + 1)
        & ~log["twice"]
        & ~log["known_change"]
        & ~bad
        & ~bad.shift(fill_value=False)
    )
    _report(
        burns,
        log,
        judged & (step > slack),
        problems,
        LOOK,
        "weight gained between burns",
        "mass_before_g",
        lambda row: burns.show("mass_before_g", row.start),
        as_left,
        "Check the weights; if wax was added or the top levelled, say so in the note with the "
        'word "topped up" or "levelled".',
    )
    _report(
        burns,
        log,
        judged & (step < -3 * slack),
        problems,
        LOOK,
        "weight lost between burns",
        "mass_before_g",
        lambda row: burns.show("mass_before_g", row.start),
        as_left,
        'Check the weights; if the top was levelled, say so in the note with the word "levelled"; '
        "if the wick was changed, log it in wick_changes.csv.",
    )


def _watch_the_clock(burns: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """Burns over a clock change, and times that nobody can place."""
    lit, out = burns.frame["lit_at"], burns.frame["out_at"]
    unplaced = (
        settings is not None
        and not settings.time_zone
        and not problems.noted(SETTINGS_FILE, "time_zone")
    )
    if unplaced and not burns.offsets.all():
        problems.add(
            LOOK,
            "no time zone given",
            SETTINGS_FILE,
            column="time_zone",
            expected='time_zone = "Europe/Lisbon", say',
            do="Name the zone of the bench; without it a clock change during a burn goes unseen.",
        )
    for n in burns.where(
        (_offset(lit) != _offset(out)) & lit.notna() & out.notna() & ~burns.offsets
    ):
        burns.add(
            problems,
            MUST_FIX,
            "burn over a clock change",
            n,
            "out_at",
            found=f"{_clock(lit.iat[n])} to {_clock(out.iat[n])}",
            expected="both times with their offset from UTC, as in 2026-03-29 03:10+01:00",
            do=f"The clocks in {lit.dt.tz} changed during this burn: write both times with their "
            "offset.",
        )


def _known_burns(
    table: ReadTable,
    at: np.ndarray,
    burns: ReadTable,
    candles: ReadTable | None,
    doubted: set[str],
    problems: ProblemList,
) -> None:
    """Rows of burns that are not in burns.csv (at place -1).

    A number below the candle's last is a gap there, reported there.
    """
    column = "before_burn" if table.spec.name == "wick_changes" else "burn"
    if (at >= 0).all():
        return
    names, number = table.frame["candle"], table.frame[column]
    last = names.map(burns.frame.groupby("candle")["burn"].max()).fillna(0).to_numpy(dtype=float)
    missing = (number > last) & (names != "") & ~names.isin(doubted)
    if candles:
        missing &= names.isin(candles.frame["candle"])
    if not missing.any():
        return
    change = column == "before_burn"
    for n, times in table.first_of_each(names + "\n" + number.astype(str), missing):
        table.add(
            problems,
            MUST_FIX,
            "wick change before a burn that does not exist"
            if change
            else "burn that does not exist",
            n,
            column,
            found=f"{number.iat[n]:g}{times}",
            expected=f"at most {last[n]:g}, the candle's last burn in burns.csv",
            do="Correct the number, or add the burn to burns.csv.",
        )


def _checks_inside(
    checks: ReadTable, at: np.ndarray, log: pd.DataFrame, problems: ProblemList
) -> set[str]:
    """Checks later than the end of their burn (at place ``at``); the
    candles that have one, or one of no burn at all."""
    minutes = log.set_index("place")["hours"].reindex(range(len(log))).to_numpy() * 60
    elapsed = checks.frame["elapsed_min"].to_numpy(dtype=float)
    lasted = np.where(at >= 0, minutes[at], np.nan)
    outside = elapsed > lasted + 5
    for n in checks.where(outside):
        checks.add(
            problems,
            MUST_FIX,
            "check outside its burn",
            n,
            "elapsed_min",
            found=checks.show("elapsed_min", elapsed[n]),
            expected=f"at most {checks.show('elapsed_min', lasted[n])}, when the burn ended",
            do="Correct the time of the check, its burn, or the end of the burn.",
        )
    return set(checks.frame["candle"][outside | (at < 0)])


def _pool_inside(
    checks: ReadTable, candles: ReadTable, settings: Settings, problems: ProblemList
) -> None:
    inner = {name: v.inner_diameter_mm for name, v in settings.vessels.items() if v}
    pool = checks.frame["pool_diameter_mm"].to_numpy(dtype=float)
    if not inner or not (pool > min(inner.values()) + 2).any():
        return
    vessel = candles.frame.drop_duplicates("candle").set_index("candle")["vessel"]
    width = checks.frame["candle"].map(vessel.map(inner)).to_numpy(dtype=float)
    for n in checks.where(pool > width + 2):
        checks.add(
            problems,
            LOOK,
            "pool wider than the vessel",
            n,
            "pool_diameter_mm",
            found=checks.show("pool_diameter_mm", pool[n]),
            expected=f"at most the inner diameter of {checks.show('pool_diameter_mm', width[n])}",
            do="Check the reading, its unit, and the inner diameter in batch.toml.",
        )


def _protocol(
    burns: ReadTable, log: pd.DataFrame, settings: Settings, problems: ProblemList
) -> None:
    """Deviations from the protocol: listed, never a reason to fail a candle."""
    p = settings.protocol
    by_timer = ~log["ended_by"].isin(["self", "stopped"])
    long_or_short = (log["hours"] - p.burn_h).abs() * 60 > p.burn_tolerance_min
    _report(
        burns,
        log,
        long_or_short & by_timer,
        problems,
        PROTOCOL,
        "burn of another length",
        "out_at",
        lambda row: f"{row.hours:.2f} h",
        lambda row: f"{p.burn_h:g} h, give or take {p.burn_tolerance_min:g} min",
        "Its numbers count; keep the length next time.",
    )
    _report(
        burns,
        log,
        (log["room"] < p.room_low_c) | (log["room"] > p.room_high_c),
        problems,
        PROTOCOL,
        "room outside the range",
        "room_c",
        lambda row: burns.show("room_c", row.room),
        lambda row: burns.show("room_c", p.room_low_c, p.room_high_c),
        "Its numbers count; wall temperatures are also given for a 30 °C room.",
    )
    do = "Note it next time; the wall cannot be carried over to a warm room without it."
    if "room_c" in burns.found:
        _report(
            burns,
            log,
            log["room"].isna(),
            problems,
            PROTOCOL,
            "room temperature not recorded",
            "room_c",
            lambda row: "",
            lambda row: "the room's temperature at every burn",
            do,
        )
    elif "room_c" not in burns.excused:
        problems.add(
            PROTOCOL,
            "room temperature not recorded",
            burns.spec.file,
            column="room_c",
            found="no such column",
            expected="the room's temperature at every burn",
            do=do,
        )
    _report(
        burns,
        log,
        log["wick"] > p.wick_length_max_mm,
        problems,
        PROTOCOL,
        "wick longer than the trim length",
        "wick_length_mm",
        lambda row: burns.show("wick_length_mm", row.wick),
        lambda row: f"at most {burns.show('wick_length_mm', p.wick_length_max_mm)}",
        "Trim before each burn.",
    )
    log = log.assign(rest=(log["trusted_lit"] - log["trusted_out_before"]) / pd.Timedelta("1h"))
    _report(
        burns,
        log,
        (log["rest"] >= 0) & (log["rest"] < p.rest_h),
        problems,
        PROTOCOL,
        "rest too short",
        "lit_at",
        lambda row: f"{row.rest:.1f} h",
        lambda row: f"at least {p.rest_h:g} h",
        "Let the candle cool to room temperature between burns.",
    )


def _checks_missed(
    checks: ReadTable,
    at: np.ndarray,
    burns: ReadTable,
    log: pd.DataFrame,
    doubted: set[str],
    settings,
    problems,
) -> None:
    elapsed = checks.frame["elapsed_min"].to_numpy(dtype=float)
    inside = (at >= 0) & np.isfinite(elapsed)
    minutes = log.set_index("place")["hours"].reindex(range(len(log))).fillna(0).to_numpy() * 60
    longest = formulas.longest_gap(at[inside], elapsed[inside], minutes)
    log = log.assign(gap=longest[log["place"]])
    every, tolerance = settings.protocol.check_every_min, settings.protocol.check_tolerance_min
    missed = (log["gap"] > every + tolerance) & (log["hours"] > 0) & ~log["candle"].isin(doubted)
    _report(
        burns,
        log,
        missed,
        problems,
        PROTOCOL,
        "check missed",
        "",
        lambda row: f"{row.gap:.0f} min without a check",
        lambda row: f"a check every {every:g} min",
        "What was not seen counts as not recorded.",
    )


def _cure(log: pd.DataFrame, candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    """Days from pouring to the first burn."""
    first = log[log["first"]].drop_duplicates("candle").set_index("candle")["trusted_lit"]
    lit = candles.frame["candle"].map(first.dt.tz_localize(None))
    stood = (lit.dt.normalize() - candles.frame["poured_on"]).dt.days
    of_wax = {
        name: w.cure_days for name, w in settings.waxes.items() if w and w.cure_days is not None
    }
    wanted = candles.frame["wax"].map(of_wax).astype(float)
    if settings.protocol.cure_days is not None:
        wanted = wanted.fillna(settings.protocol.cure_days)
    for n in candles.where(stood < 0):
        candles.add(
            problems,
            LOOK,
            "burnt before it was poured",
            n,
            "poured_on",
            found=f"{candles.frame['poured_on'].iat[n]:%Y-%m-%d}",
            expected=f"a day before the first burn, {lit.iat[n]:%Y-%m-%d}",
            do="Correct the day of pouring or the dates of the burns.",
        )
    for n in candles.where((stood >= 0) & (stood < wanted)):
        candles.add(
            problems,
            PROTOCOL,
            "cure too short",
            n,
            "poured_on",
            found=f"{stood.iat[n]:g} days",
            expected=f"at least {wanted.iat[n]:g} days",
            do="Its numbers count; cure longer next time.",
        )

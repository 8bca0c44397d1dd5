"""Rules across rows and tables: what contradicts itself, what looks odd, what left the protocol."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab import formulas
from candlelab.csvtable import ReadTable
from candlelab.problems import LOOK, MUST_FIX, PROTOCOL, ProblemList, suggest
from candlelab.settings import Settings

_MOST_BURNS = 100_000


def burn_places(burns: pd.DataFrame, table: pd.DataFrame, burn_column: str = "burn") -> np.ndarray:
    """For each row of ``table`` the place of its burn in ``burns``, -1 where there is none."""
    names = pd.Index(burns["candle"].unique())

    def code(frame, number):
        candle = names.get_indexer(frame["candle"])
        whole = np.nan_to_num(frame[number].to_numpy(dtype=float), nan=-1.0).astype(np.int64)
        return np.where((candle < 0) | (whole < 0) | (whole >= _MOST_BURNS), -1, candle * _MOST_BURNS + whole)

    keys = code(burns, "burn")
    order = np.argsort(keys, kind="stable")
    wanted = code(table, burn_column)
    at = np.minimum(np.searchsorted(keys[order], wanted), max(len(order) - 1, 0))
    if not len(order):
        return np.full(len(table), -1)
    return np.where((keys[order][at] == wanted) & (wanted >= 0), order[at], -1)


def cross_check(tables: dict[str, ReadTable], settings: Settings | None, problems: ProblemList) -> None:
    """Apply every rule whose tables and settings could be read. Missing cells are left to the reader."""
    settings_known = settings is not None
    candles, burns, wicks = tables.get("candles"), tables.get("burns"), tables.get("wicks")
    if candles:
        for name in ("burns", "checks", "wick_changes", "exclusions", "throw"):
            if name in tables:
                _known_candles(tables[name], candles, problems)
        if settings_known and settings.vessels:
            _known_vessels(candles, settings, problems)
    if wicks:
        for name in ("candles", "wick_changes"):
            if name in tables:
                _known_wicks(tables[name], wicks, problems)
    if candles and "fragrance_load_pct" in candles.headers:
        _fragrance_has_load(candles, problems)
    if burns is None:
        return
    facts = _burn_facts(burns, tables.get("wick_changes"))
    _burn_order(burns, facts, problems)
    _weights(burns, facts, candles, settings, problems)
    _watch_the_clock(burns, settings, problems)
    for name in ("checks", "exclusions", "throw"):
        if name in tables:
            _known_burns(tables[name], burns, problems)
    if "wick_changes" in tables:
        _wick_changes(tables["wick_changes"], burns, problems)
    if "checks" in tables:
        _checks_inside(tables["checks"], burns, facts, problems)
        if candles and settings_known:
            _pool_inside(tables["checks"], candles, settings, problems)
    if settings_known:
        _protocol(burns, facts, candles, tables.get("checks"), settings, problems)


def _rows(mask, table: ReadTable) -> np.ndarray:
    return np.flatnonzero(np.asarray(mask, dtype=bool) & ~table.muted)


def _known_candles(table: ReadTable, candles: ReadTable, problems: ProblemList) -> None:
    known = candles.frame["candle"]
    missing = ~table.frame["candle"].isin(known) & (table.frame["candle"] != "")
    for n in _rows(missing, table):
        name = table.frame["candle"].iat[n]
        table.add(problems, MUST_FIX, "unknown candle", n, "candle", found=name, expected="a candle of candles.csv",
                  do=suggest(name, known[known != ""]) or "Add the candle to candles.csv, or correct its name.")  # fmt: skip


def _known_vessels(candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    vessel = candles.frame["vessel"]
    for n in _rows(~vessel.isin(list(settings.vessels)) & (vessel != ""), candles):
        candles.add(problems, MUST_FIX, "unknown vessel", n, "vessel", found=vessel.iat[n],
                    expected="a vessel of batch.toml: " + ", ".join(settings.vessels),
                    do=suggest(vessel.iat[n], settings.vessels) or f"Add [vessels.{vessel.iat[n]}] to batch.toml.")  # fmt: skip


def _known_wicks(table: ReadTable, wicks: ReadTable, problems: ProblemList) -> None:
    known = set(zip(wicks.frame["wick_series"], wicks.frame["wick_size"]))
    series, size = table.frame["wick_series"], table.frame["wick_size"]
    pairs = pd.Series(list(zip(series, size)))
    for n in _rows(~pairs.isin(known) & (series != "") & (size != ""), table):
        of_series = [s for name, s in known if name == series.iat[n]]
        if of_series:
            table.add(problems, MUST_FIX, "unknown wick size", n, "wick_size", found=f"{series.iat[n]} {size.iat[n]}",
                      expected=f"a size of {series.iat[n]} in wicks.csv: " + ", ".join(sorted(of_series)),
                      do="Add the size to wicks.csv, or correct it.")  # fmt: skip
        else:
            names = sorted({name for name, _ in known})
            table.add(problems, MUST_FIX, "unknown wick series", n, "wick_series", found=series.iat[n],
                      expected="a series of wicks.csv: " + ", ".join(names),
                      do=suggest(series.iat[n], names) or "Add the series to wicks.csv, or correct it.")  # fmt: skip


def _fragrance_has_load(candles: ReadTable, problems: ProblemList) -> None:
    named = candles.frame["fragrance"] != ""
    for n in _rows(named & candles.frame["fragrance_load_pct"].isna(), candles):
        candles.add(problems, LOOK, "fragrance without a load", n, "fragrance_load_pct", expected="the load in percent",
                    do="Fill in the load; without it no fragrance release is worked out.")  # fmt: skip


def _burn_facts(burns: ReadTable, changes: ReadTable | None) -> dict[str, np.ndarray]:
    """Arrays over the burns in candle and burn order: what the rules below compare.

    ``place`` is the row in the table; ``*_previous`` holds the burn before of the same candle.
    """
    frame = burns.frame
    code = pd.factorize(frame["candle"])[0]
    place = np.lexsort((frame["burn"].to_numpy(dtype=float), code))
    ordered = frame.iloc[place]
    code = code[place]
    same = np.concatenate(([False], code[1:] == code[:-1]))[: len(code)] & (ordered["candle"] != "").to_numpy()
    lit, out = (ordered[c].to_numpy(dtype="datetime64[us]") for c in ("lit_at", "out_at"))
    hours = np.where(np.isnat(lit) | np.isnat(out), np.nan, (out - lit) / np.timedelta64(1, "h"))
    changed = np.zeros(len(frame), dtype=bool)
    if changes is not None:
        at = burn_places(frame, changes.frame, "before_burn")
        changed[at[at >= 0]] = True
    levelled = ordered["note"].str.contains("level|topped up|top up", case=False).to_numpy(dtype=bool)

    def previous(values, empty):
        return np.where(same, np.concatenate((values[:1], values[:-1])), empty)

    facts = {
        "place": place, "candle": code, "burn": ordered["burn"].to_numpy(dtype=float), "lit": lit, "out": out, "hours": hours,
        "before": ordered["mass_before_g"].to_numpy(dtype=float), "after": ordered["mass_after_g"].to_numpy(dtype=float),
        "changed": changed[place], "levelled": levelled | previous(levelled, False), "same": same,
    }  # fmt: skip
    return facts | {
        "burn_previous": previous(facts["burn"], np.nan),
        "after_previous": previous(facts["after"], np.nan),
        "out_previous": previous(out, np.datetime64("NaT")),
        "lit_previous": previous(lit, np.datetime64("NaT")),
    }


def _burn_order(burns: ReadTable, facts: dict, problems: ProblemList) -> None:
    """Out before lit, overlaps, burns out of order, numbers with gaps."""

    def each(mask, problem, column, found, expected, do):
        for i in np.flatnonzero(mask):
            n = facts["place"][i]
            if not burns.muted[n]:
                burns.add(problems, MUST_FIX, problem, n, column, found=found(i, n), expected=expected(i), do=do)

    def clock(column):
        return lambda i, n: _clock(burns.frame[column].iat[n])

    each(facts["hours"] <= 0, "out before lit", "out_at", clock("out_at"),
         lambda i: f"a time after {_clock(burns.frame['lit_at'].iat[facts['place'][i]])}",
         "Correct one of the two times; mind the date when a burn passes midnight.")  # fmt: skip
    each(facts["hours"] > 24, "burn longer than a day", "out_at", clock("out_at"), lambda i: "a burn of hours",
         "Correct the date of one of the two times.")  # fmt: skip
    follows = facts["burn"] > facts["burn_previous"]
    early = facts["lit"] < facts["lit_previous"]
    each(follows & ~early & (facts["lit"] < facts["out_previous"]), "burns of one candle overlap", "lit_at", clock("lit_at"),
         lambda i: f"a time after burn {facts['burn_previous'][i]:g} ended, {_clock(_local(facts['out_previous'][i], burns))}",
         "Correct the times of the two burns.")  # fmt: skip
    each(follows & early, "burns out of order", "lit_at", clock("lit_at"),
         lambda i: f"a time after burn {facts['burn_previous'][i]:g} ended, {_clock(_local(facts['out_previous'][i], burns))}",
         "Correct the times, or number the burns in the order in which they were done.")  # fmt: skip
    gap = np.where(facts["same"], facts["burn"] - facts["burn_previous"] > 1, facts["burn"] > 1) & (facts["candle"] >= 0)
    each(gap, "burn numbers with a gap", "burn", lambda i, n: f"{facts['burn'][i]:g}",
         lambda i: f"{facts['burn_previous'][i] + 1 if facts['same'][i] else 1:g}",
         "Add the missing burn, or number the burns again; the checks have to follow.")  # fmt: skip


def _local(moment, burns: ReadTable):
    return pd.Timestamp(moment, tz="UTC").tz_convert(burns.frame["lit_at"].dt.tz)


def _clock(moment) -> str:
    return f"{moment:%Y-%m-%d %H:%M}"


def _weights(burns: ReadTable, facts: dict, candles: ReadTable | None, settings: Settings | None, problems: ProblemList) -> None:
    used = facts["before"] - facts["after"]

    def each(mask, level, problem, column, found, expected, do):
        for i in np.flatnonzero(mask):
            if not burns.muted[facts["place"][i]]:
                burns.add(problems, level, problem, facts["place"][i], column, found=found(i), expected=expected(i), do=do)

    each(used < 0, MUST_FIX, "weight gained in a burn", "mass_after_g", lambda i: f"{facts['after'][i]:.2f} g",
         lambda i: f"at most {facts['before'][i]:.2f} g", "Correct one of the two weights.")  # fmt: skip
    rate = formulas.burn_rate(used, facts["hours"])
    each((used >= 0) & ((rate < 1.5) | (rate > 15)), LOOK, "implausible burn rate", "mass_after_g",
         lambda i: f"{rate[i]:.1f} g/h", lambda i: "1.5 to 15 g/h",
         "Check the two weights and the two times; keep them if they are right.")  # fmt: skip
    step = facts["before"] - facts["after_previous"]
    slack = max(0.5, 5 * settings.instruments.scale_resolution_g) if settings else 0.5
    known = facts["changed"] | facts["levelled"]
    each((step > slack) & ~known, LOOK, "weight gained between burns", "mass_before_g", lambda i: f"{facts['before'][i]:.2f} g",
         lambda i: f"about {facts['after_previous'][i]:.2f} g, as after burn {facts['burn_previous'][i]:g}",
         "Check the weights; if wax was added or the top levelled, say so in the note (levelled, topped up).")  # fmt: skip
    each((step < -3 * slack) & ~known, LOOK, "weight lost between burns", "mass_before_g", lambda i: f"{facts['before'][i]:.2f} g",
         lambda i: f"about {facts['after_previous'][i]:.2f} g, as after burn {facts['burn_previous'][i]:g}",
         "Check the weights; if wax was taken out or the wick changed, log it.")  # fmt: skip
    if candles is None or candles.frame["candle"].duplicated().any():
        return
    fill = candles.frame.set_index("candle")["fill_mass_g"].reindex(burns.frame["candle"].iloc[facts["place"]]).to_numpy(dtype=float)
    total = pd.Series(np.nan_to_num(used)).groupby(facts["candle"]).cumsum().to_numpy()
    over = total > 1.02 * fill
    first = over & ~np.where(facts["same"], np.concatenate((over[:1], over[:-1])), False)
    each(first, MUST_FIX, "more wax used than filled", "mass_after_g", lambda i: f"{total[i]:.1f} g used so far",
         lambda i: f"at most the fill of {fill[i]:.1f} g", "Check the weights of this candle and its fill in candles.csv.")  # fmt: skip


def _watch_the_clock(burns: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """Burns over a clock change, and times that nobody can place."""
    lit, out = burns.frame["lit_at"], burns.frame["out_at"]
    zone = lit.dt.tz
    if settings is not None and not settings.time_zone and not burns.offsets.all():
        problems.add(LOOK, "no time zone given", "batch.toml", column="time_zone", expected='time_zone = "Europe/Lisbon", say',
                     do="Name the zone of the bench; without it a clock change during a burn goes unseen.")  # fmt: skip
    if str(zone) == "UTC" or burns.frame.empty:
        return
    shift = lit.dt.tz_localize(None) - lit.dt.tz_convert("UTC").dt.tz_localize(None)
    shift_out = out.dt.tz_localize(None) - out.dt.tz_convert("UTC").dt.tz_localize(None)
    for n in _rows((shift != shift_out) & lit.notna() & out.notna(), burns):
        if not burns.offsets[n]:
            burns.add(problems, MUST_FIX, "burn over a clock change", n, "out_at", found=f"{_clock(lit.iat[n])} to {_clock(out.iat[n])}",
                      expected="both times with their offset from UTC, as in 2026-03-29 03:10+01:00",
                      do=f"The clocks in {zone} changed during this burn: write both times with their offset.")  # fmt: skip


def _known_burns(table: ReadTable, burns: ReadTable, problems: ProblemList) -> None:
    given = table.frame["burn"].notna() & table.frame["candle"].isin(burns.frame["candle"])
    for n in _rows((burn_places(burns.frame, table.frame) < 0) & given, table):
        table.add(problems, MUST_FIX, "burn that does not exist", n, "burn", found=f"{table.frame['burn'].iat[n]:g}",
                  expected="a burn of burns.csv", do="Add the burn to burns.csv, or correct the number.")  # fmt: skip


def _wick_changes(changes: ReadTable, burns: ReadTable, problems: ProblemList) -> None:
    given = changes.frame["before_burn"].notna() & changes.frame["candle"].isin(burns.frame["candle"])
    for n in _rows((burn_places(burns.frame, changes.frame, "before_burn") < 0) & given, changes):
        changes.add(problems, MUST_FIX, "wick change before a burn that does not exist", n, "before_burn",
                    found=f"{changes.frame['before_burn'].iat[n]:g}", expected="the number of the first burn on the new wick",
                    do="Correct the number, or log the burn.")  # fmt: skip


def _checks_inside(checks: ReadTable, burns: ReadTable, facts: dict, problems: ProblemList) -> None:
    minutes = np.full(len(burns.frame), np.nan)
    minutes[facts["place"]] = facts["hours"] * 60
    at = burn_places(burns.frame, checks.frame)
    elapsed = checks.frame["elapsed_min"].to_numpy(dtype=float)
    lasted = np.where(at >= 0, minutes[at] if len(minutes) else np.nan, np.nan)
    for n in _rows((elapsed > lasted + 5) & (lasted > 0), checks):
        checks.add(problems, MUST_FIX, "check outside its burn", n, "elapsed_min", found=f"{elapsed[n]:g} min",
                   expected=f"at most {lasted[n]:g} min, when the burn ended",
                   do="Correct the time of the check, its burn, or the end of the burn.")  # fmt: skip


def _pool_inside(checks: ReadTable, candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    if candles.frame["candle"].duplicated().any():
        return
    inner = {name: v.inner_diameter_mm for name, v in settings.vessels.items() if v}
    vessel = candles.frame.set_index("candle")["vessel"].reindex(checks.frame["candle"])
    width = vessel.map(inner).to_numpy(dtype=float)
    pool = checks.frame["pool_diameter_mm"].to_numpy(dtype=float)
    for n in _rows(pool > width + 2, checks):
        checks.add(problems, LOOK, "pool wider than the vessel", n, "pool_diameter_mm", found=f"{pool[n]:.1f} mm",
                   expected=f"at most the inner diameter of {width[n]:g} mm",
                   do="Check the reading, its unit, and the inner diameter in batch.toml.")  # fmt: skip


def _protocol(burns: ReadTable, facts: dict, candles, checks, settings: Settings, problems: ProblemList) -> None:
    """Deviations from the protocol: listed, never a reason to fail a candle."""
    p, frame = settings.protocol, burns.frame.iloc[facts["place"]]

    def each(mask, problem, column, found, expected, do):
        for i in np.flatnonzero(mask):
            n = facts["place"][i]
            if not burns.muted[n]:
                burns.add(problems, PROTOCOL, problem, n, column, found=found(i), expected=expected, do=do)

    hours = np.where(facts["hours"] > 24, np.nan, facts["hours"])
    by_timer = ~frame["ended_by"].isin(["self", "stopped"]).to_numpy()
    each((np.abs(hours - p.burn_h) * 60 > p.burn_tolerance_min) & (hours > 0) & by_timer, "burn of another length", "out_at",
         lambda i: f"{hours[i]:.2f} h", f"{p.burn_h:g} h, give or take {p.burn_tolerance_min:g} min",
         "Its numbers count; keep the length next time.")  # fmt: skip
    room = frame["room_c"].to_numpy(dtype=float)
    each((room < p.room_low_c) | (room > p.room_high_c), "room outside the range", "room_c", lambda i: f"{room[i]:.1f} °C",
         f"{p.room_low_c:g} to {p.room_high_c:g} °C", "Its numbers count; wall temperatures are also given for a 30 °C room.")  # fmt: skip
    each(np.isnan(room), "room temperature not recorded", "room_c", lambda i: "", "the room's temperature at every burn",
         "Note it next time; the wall cannot be carried over to a warm room without it.")  # fmt: skip
    wick = frame["wick_length_mm"].to_numpy(dtype=float)
    each(wick > p.wick_length_max_mm, "wick longer than the trim length", "wick_length_mm", lambda i: f"{wick[i]:.1f} mm",
         f"at most {p.wick_length_max_mm:g} mm", "Trim before each burn.")  # fmt: skip
    rest = (facts["lit"] - facts["out_previous"]) / np.timedelta64(1, "h")
    each((rest >= 0) & (rest < p.rest_h), "rest too short", "lit_at", lambda i: f"{rest[i]:.1f} h", f"at least {p.rest_h:g} h",
         "Let the candle cool to room temperature between burns.")  # fmt: skip
    if checks is not None and "elapsed_min" in checks.headers:
        at = burn_places(burns.frame, checks.frame)
        minutes = np.zeros(len(frame))
        minutes[facts["place"]] = np.nan_to_num(hours * 60)
        inside = (at >= 0) & np.isfinite(checks.frame["elapsed_min"].to_numpy(dtype=float))
        gap = formulas.longest_gap(at[inside], checks.frame["elapsed_min"].to_numpy(dtype=float)[inside], minutes)[facts["place"]]
        each(gap > p.check_every_min + p.check_tolerance_min, "check missed", "out_at", lambda i: f"{gap[i]:.0f} min without a check",
             f"a check every {p.check_every_min:g} min", "What was not seen counts as not recorded.")  # fmt: skip
    if candles is not None and "poured_on" in candles.headers and not candles.frame["candle"].duplicated().any():
        _cure(burns, facts, candles, settings, problems)


def _cure(burns: ReadTable, facts: dict, candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    first = facts["place"][~facts["same"]]
    lit = burns.frame.iloc[first].set_index("candle")["lit_at"].dt.tz_localize(None)
    lit = lit[~lit.index.duplicated()].reindex(candles.frame["candle"]).reset_index(drop=True)
    stood = (lit.dt.normalize() - candles.frame["poured_on"]).dt.days
    of_wax = {name: w.cure_days for name, w in settings.waxes.items() if w and w.cure_days is not None}
    wanted = candles.frame["wax"].map(of_wax).astype(float)
    if settings.protocol.cure_days is not None:
        wanted = wanted.fillna(settings.protocol.cure_days)
    for n in _rows(stood < 0, candles):
        candles.add(problems, LOOK, "burnt before it was poured", n, "poured_on", found=f"{candles.frame['poured_on'].iat[n]:%Y-%m-%d}",
                    expected="a day before the first burn", do="Correct the day of pouring or the dates of the burns.")  # fmt: skip
    for n in _rows((stood >= 0) & (stood < wanted), candles):
        candles.add(problems, PROTOCOL, "cure too short", n, "poured_on", found=f"{stood.iat[n]:g} days",
                    expected=f"at least {wanted.iat[n]:g} days", do="Its numbers count; cure longer next time.")  # fmt: skip

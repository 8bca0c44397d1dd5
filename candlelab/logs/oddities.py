"""Readings that no burning candle gives, and notes that say more than the checks."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from candlelab.candle_formulas import in_order
from candlelab.logs.burn_log import Log, in_rows
from candlelab.logs.groups import any_of, asked_once, beside, firsts, medians
from candlelab.logs.names import bare
from candlelab.logs.problems import ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.safety_rules import yes
from candlelab.text import counted
from candlelab.units import split_unit

Rows = dict[str, np.ndarray]  # columns by name, each with one value for each row
Doubts = dict[str, list[int] | np.ndarray]  # places of rows in their table, by column
SURE = "is right"  # in the note of a row whose odd reading is meant
_LOOKED_AT = (
    "burn", "elapsed_min", "wall_c", "flame_height_mm", "pool_depth_mm", "secondary_ignition_s",
    "pool_diameter_mm",
)  # fmt: skip
# A flame goes up and down; a pool grows by a third or more from hour to hour until it is full.
_GROWN_PAIRS, _GROWN_SHARE, _GROWN_BY = 6, 0.95, 1.15
_WARM_MIN = 30  # a wall before that may be as cool as it likes
_SLACK_C = 1.0  # two thermometers may differ so much; common practice, no source
_SAME_C = 0.05  # a reading carried over from °F is the same within this
_NOT_SO = r"(?<!\bno )(?<!\bnot )(?<!\bwithout )(?<!\bnever )(?<!n't )(?<!n’t )"
_VESSEL, _SOOT = "vessel_damaged = yes", "soot = 3"
_FIRE, _TIPPED = "secondary_ignition_s or a yes", "tipped = yes"
_SURFACE, _LIT = "surface_damaged = yes", "reignited = yes"
_TOUCHED, _TALL = "flame_on_vessel = yes", "the flame at its tallest"
_TALL_MM = 50.0  # a flame that a note calls tall is as tall as that; common practice, no source
# What notes say, word by word or in a phrase, and what the columns then have.
_TELLS = {
    _VESSEL: "crack cracks cracked shatter shattered exploded burst broke broken fractured leaked "
             "leaking|split open|glass split|jar split|vessel split|tin split",
    _FIRE: "fire flare flares flared flaring flare-up|flare up|second flame",
    _SOOT: "smoke smokes smoked smoking",
    _TIPPED: "tipped toppled|tip over|fell over|fall over|fallen over|knocked over|knocked it over",
    _SURFACE: "scorched singed|burn mark|burn marks",
    _LIT: "reignited re-ignited|relit itself|relit by itself|relit on its own|lit itself|"
          "lit by itself|lit again by itself|flamed again",
    _TOUCHED: "|flame touched|flame touches|flame touching|flame against|flame licked",
    _TALL: "|flame shot|flame jumped|flame leaped|flame too tall|flame too high|flame was too tall|"
           "flame was too high|huge flame|tall flame|big flame|high flame",
}  # fmt: skip
_SAYS = {
    said: wanted
    for wanted, told in _TELLS.items()
    for said in [*told.partition("|")[0].split(), *filter(None, told.split("|")[1:])]
}
_LONGEST_FIRST = "|".join(sorted(_SAYS, key=len, reverse=True))
_WORD = re.compile(rf"{_NOT_SO}\b({_LONGEST_FIRST})\b", re.IGNORECASE)
_YES = ["vessel_damaged", "surface_damaged", "flame_on_vessel", "reignited", "tipped"]


def is_sure(table: ReadTable) -> np.ndarray:
    """Rows whose note says that an odd reading is right."""
    return asked_once(table.columns["note"], lambda note: SURE in note.lower())


def only(rows: Rows, mask: np.ndarray) -> Rows:
    """The rows that the mask holds."""
    return rows if mask.all() else {name: values[mask] for name, values in rows.items()}


def coded(table: ReadTable) -> np.ndarray:
    """A number for the candle of each row."""
    return pd.factorize(np.asarray(table.columns["candle"]))[0].astype(np.int32)


def rooms_and_minutes(burns: ReadTable, log: Log) -> tuple[np.ndarray, np.ndarray]:
    """For each row of the burns its room temperature and how long it burned."""
    room = burns.numbers("room_c").copy()
    usual = burns.spec.column("room_c")
    room[burns.muted | (room < usual.low) | (room > usual.high)] = np.nan  # reported already
    return room, in_rows(log, "hours") * 60


def looked(checks: ReadTable, at: np.ndarray, burns: ReadTable) -> Rows:
    """The sound checks of known burns in their order.

    ``place`` is the burn, ``row`` the row of ``checks``, ``candle`` a number for each; ``sure``
    says that its note bears the reading out.
    """
    elapsed, sound = checks.numbers("elapsed_min"), (at >= 0) & ~checks.muted
    if sound.all() and in_order(at, elapsed):  # as most logs are
        row, which = np.arange(len(at), dtype=np.int32), slice(None)
    else:
        row = np.lexsort((elapsed, at)).astype(np.int32)
        row = which = row[sound[row]]
    place = at[which]
    rows = {"row": row, "place": place, "candle": coded(burns)[place]}
    rows |= {name: checks.numbers(name)[which] for name in _LOOKED_AT}
    return rows | {"sure": is_sure(checks)[which]}


def cold_readings(
    checks: ReadTable, rows: Rows, room: np.ndarray, lasted: np.ndarray, problems: ProblemList
) -> Doubts:
    """Walls as cold as the room or colder, and flames of no height, once for each candle.

    ``room`` and ``lasted`` are those of the burns.
    """
    rows = only(rows, ~rows["sure"])
    place = rows["place"]
    above = rows["wall_c"] - room[place]
    read = np.bincount(place, weights=~np.isnan(above))[place]
    same = np.bincount(place, weights=np.abs(above) < _SAME_C)[place]
    equal = ~np.isnan(above) & (same == read) & (read >= 2)
    colder = above < -_SLACK_C
    out = (rows["flame_height_mm"] == 0) & (rows["elapsed_min"] < lasted[place])
    told = {"wall as cold as the room": equal, "wall colder than the room": colder}
    for problem, mask in (told | {"no flame while it burned": out}).items():
        what = "burn" if mask is equal else "check"
        shown = only(rows, mask)
        _tell(checks, problem, shown | {"room": room[shown["place"]]}, what, problems)
    return {"wall_c": rows["row"][equal | colder], "flame_height_mm": rows["row"][out]}


def swapped(
    checks: ReadTable, rows: Rows, limits: dict[str, float], problems: ProblemList
) -> Doubts:
    """Walls that stand where the flame belongs, and flames where the wall belongs.

    Most walls have more degC than their flame has mm. In doubt is a flame that passes as one and
    would fail as a wall. Where the units differ, the ranges of the columns tell.
    """
    names = ("flame_height_mm", "wall_c")
    known = all(
        n in checks.found and checks.found[n].unit in (None, split_unit(n)[1]) for n in names
    )
    read = ~np.isnan(rows["flame_height_mm"]) & ~np.isnan(rows["wall_c"])
    read &= ~rows["sure"] & (rows["elapsed_min"] >= _WARM_MIN)
    odd = read & (rows["flame_height_mm"] > rows["wall_c"])
    if not known or not odd.any():
        return {}
    rows = only(rows, read & any_of(odd, rows["candle"]))
    flame, wall, candle = rows["flame_height_mm"], rows["wall_c"], rows["candle"]
    over = flame > wall
    size = np.bincount(candle)
    most = (np.bincount(candle, weights=over)[candle] / size[candle] > 0.8) & (size[candle] >= 3)
    usual_flame, usual_wall = (medians(values, candle)[candle] for values in (flame, wall))
    odd = over & (flame > 1.6 * usual_flame) & (wall < usual_wall - 3)
    odd |= over & (flame > 2 * usual_flame) & (wall < usual_wall)
    fails = (flame > limits["wall_c"]) & (flame <= limits["flame_height_mm"])
    _tell(checks, "flame and wall swapped", only(rows, most & over), "check", problems)
    _tell(checks, "flame and wall swapped", only(rows, odd & fails & ~most), "check", problems)
    return {"wall_c": rows["row"][over & fails & (most | odd)]}


def pool_as_flame(checks: ReadTable, rows: Rows, problems: ProblemList) -> Doubts:
    """Flames that grow from check to check, as melt pools do, where no pool was written down."""
    if not np.isnan(checks.numbers("pool_diameter_mm")).all():
        return {}
    flame = rows["flame_height_mm"]
    before = beside(flame, rows["place"], -1)
    both = ~np.isnan(flame) & ~np.isnan(before) & (before > 0)
    if both.sum() < _GROWN_PAIRS:
        return {}
    grown = flame[both] / before[both]
    if (grown > 1).mean() < _GROWN_SHARE or np.median(grown) < _GROWN_BY or rows["sure"].any():
        return {}
    first = int(np.flatnonzero(~np.isnan(flame))[0])
    row, shown = rows["row"], {"flame": flame[first], "burn": rows["burn"][first]}
    checks.tell(problems, "flames that grow like a pool", row[first], **shown)
    return {"flame_height_mm": row[~np.isnan(flame)]}


def _tell(checks: ReadTable, problem: str, rows: Rows, what: str, problems: ProblemList) -> None:
    """Note the first of the rows of each candle, and how many burns or checks are like it."""
    for first, times in firsts(rows["candle"]):
        if what == "burn":
            own = rows["candle"] == rows["candle"][first]
            times = len(np.unique(rows["place"][own]))
        shown = {"burn": "burn", "wall": "wall_c", "flame": "flame_height_mm", "room": "room"}
        values = {name: rows[own][first] for name, own in shown.items() if own in rows}
        checks.tell(problems, problem, rows["row"][first], times=counted(times, what), **values)


def notes_say_more(
    table: ReadTable, at: np.ndarray, checks: ReadTable, of_checks: np.ndarray, problems
) -> None:
    """Notes of an incident that no check of their burn has; ``at`` are the burns of the rows."""
    notes = table.texts("note")
    words = {note: [m[1].lower() for m in _WORD.finditer(note)] for note in dict.fromkeys(notes)}
    rows = table.where([bool(words[note]) for note in notes]) if any(words.values()) else ()
    seen = _seen(checks) if len(rows) else {}
    for n in rows:
        wanted = dict.fromkeys(_SAYS[word] for word in words[notes[n]])
        here = of_checks == at[n]
        missing = [text for text in wanted if at[n] >= 0 and not (seen[text] & here).any()]
        if missing:
            values = {"note": notes[n], "wanted": " and ".join(missing)}
            table.tell(problems, "note of an incident", n, **values)


def _seen(checks: ReadTable) -> dict[str, np.ndarray]:
    """The checks that have what a note may tell of, by what they should have."""
    said_yes = {name: yes(checks, name) for name in _YES}
    lasted = checks.numbers("secondary_ignition_s")
    return {
        _VESSEL: said_yes["vessel_damaged"],
        _SOOT: checks.numbers("soot") >= 3,
        _FIRE: (lasted > 0) | np.any(list(said_yes.values()), axis=0),
        _TIPPED: said_yes["tipped"],
        _SURFACE: said_yes["surface_damaged"],
        _LIT: said_yes["reignited"],
        _TOUCHED: said_yes["flame_on_vessel"],
        _TALL: checks.numbers("flame_height_mm") >= _TALL_MM,
    }


def same_wick_again(changes: ReadTable, candles: ReadTable, problems: ProblemList) -> None:
    """Wick changes to the wick that is in the candle already."""
    inside = dict(reversed(list(zip(candles.texts("candle"), _wicks(candles), strict=True))))
    of_changes, names = _wicks(changes), changes.texts("candle")
    same = np.zeros(len(names), dtype=bool)
    for n in np.argsort(changes.numbers("before_burn")):
        wick, before = of_changes[n], inside.get(names[n], ("", ""))
        same[n] = wick[1] != "" and list(map(bare, wick)) == list(map(bare, before))
        inside[names[n]] = wick
    for n in changes.where(same):
        changes.tell(problems, "wick changed to the same one", n, wick=" ".join(of_changes[n]))


def _wicks(table: ReadTable) -> list[tuple[str, str]]:
    """Series and size in each row."""
    return list(zip(table.texts("wick_series"), table.texts("wick_size"), strict=True))


def all_set_aside(aside: ReadTable, burns: ReadTable, problems: ProblemList) -> None:
    """Candles all of whose burns are set aside, one by one."""
    rows = _burns_of_candles(aside, ~aside.muted)
    burned = _burns_of_candles(burns, True) if rows else {}
    for candle, its in rows.items():
        known = burned.get(candle, {})
        if len(known) > 1 and known.keys() <= its.keys():
            n = max(its.values())
            aside.tell(problems, "every burn set aside", n, found=f"all {len(known)} burns")


def _burns_of_candles(table: ReadTable, rows: np.ndarray | bool) -> dict[str, dict[float, int]]:
    """The numbers of the burns of each candle in some rows, each with the last row that has it."""
    found: dict[str, dict[float, int]] = {}
    names, burns = table.texts("candle"), table.numbers("burn")
    for n in np.flatnonzero(rows & ~np.isnan(burns)).tolist():
        found.setdefault(names[n], {})[float(burns[n])] = n
    return found

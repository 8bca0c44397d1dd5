"""Readings that no burning candle gives, and notes that say more than the checks."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from candlelab.logs.csv_table import ReadTable
from candlelab.logs.names import bare
from candlelab.logs.problems import ProblemList
from candlelab.text import counted
from candlelab.units import split_unit

Doubts = dict[str, list[int] | np.ndarray]  # places of rows in their table, by column
SURE = "is right"  # in the note of a row whose odd reading is meant
_LOOKED_AT = [
    "candle", "burn", "elapsed_min", "wall_c", "flame_height_mm", "pool_depth_mm",
    "secondary_ignition_s",
]  # fmt: skip
_WARM_MIN = 30  # a wall before that may be as cool as it likes
_SLACK_C = 1.0  # two thermometers may differ so much; common practice, no source
_SAME_C = 0.05  # a reading carried over from °F is the same within this
_NOT_SO = r"(?<!\bno )(?<!\bnot )(?<!\bwithout )"
_VESSEL, _SOOT = "vessel_damaged = yes", "soot = 3"
_FIRE, _TIPPED = "secondary_ignition_s or a yes", "tipped = yes"
_SURFACE, _LIT = "surface_damaged = yes", "reignited = yes"
_SAYS = {
    "crack": _VESSEL, "cracks": _VESSEL, "cracked": _VESSEL, "shattered": _VESSEL,
    "exploded": _VESSEL, "burst": _VESSEL, "broke": _VESSEL, "broken": _VESSEL,
    "fire": _FIRE, "flared": _FIRE, "flare-up": _FIRE, "smoke": _SOOT, "smoked": _SOOT,
    "tipped": _TIPPED, "toppled": _TIPPED, "fell over": _TIPPED, "knocked over": _TIPPED,
    "scorched": _SURFACE, "burn mark": _SURFACE, "reignited": _LIT, "re-ignited": _LIT,
    "relit itself": _LIT, "lit itself": _LIT,
}  # fmt: skip
_WORD = re.compile(rf"{_NOT_SO}\b({'|'.join(_SAYS)})\b", re.IGNORECASE)
_YES = ["vessel_damaged", "surface_damaged", "flame_on_vessel", "reignited", "tipped"]


def is_sure(notes: pd.Series) -> np.ndarray:
    """Rows whose note says that an odd reading is right."""
    return notes.str.contains(SURE, case=False, regex=False).to_numpy(dtype=bool)


def looked(checks: ReadTable, at: np.ndarray, burns: ReadTable, log: pd.DataFrame) -> pd.DataFrame:
    """The sound checks of known burns in their order, each with its room and its burn's minutes.

    ``place`` is the burn, the index the row of ``checks``; ``sure`` says that its note bears the
    reading out.
    """
    frame = checks.frame[[*_LOOKED_AT, "note"]].copy()
    lasted = log.set_index("place")["hours"].reindex(range(len(log))).to_numpy(dtype=float) * 60
    room = burns.frame["room_c"].to_numpy(dtype=float, copy=True)
    usual = burns.spec.column("room_c")
    room[burns.muted | (room < usual.low) | (room > usual.high)] = np.nan  # reported already
    frame["place"], frame["sure"] = at, is_sure(frame["note"])
    frame = frame[(at >= 0) & ~checks.muted]
    frame["room"], frame["lasted"] = room[frame["place"]], lasted[frame["place"]]
    return frame.sort_values(["place", "elapsed_min"], kind="stable")


def cold_readings(checks: ReadTable, frame: pd.DataFrame, problems: ProblemList) -> Doubts:
    """Walls as cold as the room or colder, and flames of no height, once for each candle."""
    frame = frame[~frame["sure"]]
    above = frame["wall_c"] - frame["room"]
    of_burn = (above.abs() < _SAME_C).astype(float).where(above.notna()).groupby(frame["place"])
    read = of_burn.transform("count")
    equal = above.notna() & (of_burn.transform("sum") == read) & (read >= 2)
    colder = above < -_SLACK_C
    out = (frame["flame_height_mm"] == 0) & (frame["elapsed_min"] < frame["lasted"])
    _tell(checks, "wall as cold as the room", frame[equal], "burn", problems)
    _tell(checks, "wall colder than the room", frame[colder], "check", problems)
    _tell(checks, "no flame while it burned", frame[out], "check", problems)
    rows = frame.index
    return {"wall_c": [*rows[equal | colder]], "flame_height_mm": [*rows[out]]}


def swapped(
    checks: ReadTable, frame: pd.DataFrame, limits: dict[str, float], problems: ProblemList
) -> Doubts:
    """Walls that stand where the flame belongs, and flames where the wall belongs.

    Most walls have more degC than their flame has mm. In doubt is a flame that passes as one and
    would fail as a wall. Where the units differ, the ranges of the columns tell.
    """
    names = ("flame_height_mm", "wall_c")
    known = all(
        n in checks.found and checks.found[n].unit in (None, split_unit(n)[1]) for n in names
    )
    frame = frame[~frame["sure"] & (frame["elapsed_min"] >= _WARM_MIN)].dropna(subset=list(names))
    if not known or frame.empty:
        return {}
    flame, wall = frame["flame_height_mm"], frame["wall_c"]
    of_candle = frame.groupby("candle")
    usual = {n: of_candle[n].transform("median") for n in names}
    over = flame > wall
    most = (over.groupby(frame["candle"]).transform("mean") > 0.8) & (
        of_candle["wall_c"].transform("size") >= 3
    )
    odd = over & (flame > 1.6 * usual["flame_height_mm"]) & (wall < usual["wall_c"] - 3)
    fails = (flame > limits["wall_c"]) & (flame <= limits["flame_height_mm"])
    _tell(checks, "flame and wall swapped", frame[most & over], "check", problems)
    _tell(checks, "flame and wall swapped", frame[odd & fails & ~most], "check", problems)
    return {"wall_c": [*frame.index[over & fails & (most | odd)]]}


def _tell(
    checks: ReadTable, problem: str, rows: pd.DataFrame, what: str, problems: ProblemList
) -> None:
    """Note the first of the rows of each candle, and how many burns or checks are like it."""
    for _, own in rows.groupby("candle", sort=False):
        first = own.iloc[0]
        times = own["place"].nunique() if what == "burn" else len(own)
        values = {name: first[name] for name in ("room", "burn")}
        values |= {"wall": first["wall_c"], "flame": first["flame_height_mm"]}
        checks.tell(problems, problem, own.index[0], times=counted(times, what), **values)


def notes_say_more(
    table: ReadTable, at: np.ndarray, checks: ReadTable, of_checks: np.ndarray, problems
) -> None:
    """Notes of an incident that no check of their burn has; ``at`` are the burns of the rows."""
    frame = checks.frame
    yes = {name: frame[name].fillna(False).to_numpy(dtype=bool) for name in _YES}
    seen = {
        _VESSEL: yes["vessel_damaged"],
        _SOOT: (frame["soot"] >= 3).to_numpy(),
        _FIRE: (frame["secondary_ignition_s"] > 0).to_numpy() | np.any(list(yes.values()), axis=0),
        _TIPPED: yes["tipped"],
        _SURFACE: yes["surface_damaged"],
        _LIT: yes["reignited"],
    }
    notes = table.frame["note"]
    words = {note: [m[1].lower() for m in _WORD.finditer(note)] for note in notes.unique()}
    for n in table.where(notes.map(lambda note: bool(words[note]))):
        wanted = dict.fromkeys(_SAYS[word] for word in words[notes.iat[n]])
        here = of_checks == at[n]
        missing = [text for text in wanted if at[n] >= 0 and not (seen[text] & here).any()]
        if missing:
            values = {"note": notes.iat[n], "wanted": " and ".join(missing)}
            table.tell(problems, "note of an incident", n, **values)


def same_wick_again(changes: ReadTable, candles: ReadTable, problems: ProblemList) -> None:
    """Wick changes to the wick that is in the candle already."""
    names = ["wick_series", "wick_size"]
    poured = candles.frame.drop_duplicates("candle").set_index("candle")[names]
    frame = changes.frame[["candle", "before_burn", *names]].sort_values("before_burn")
    first = poured.reindex(frame["candle"]).set_axis(frame.index)
    before = frame.groupby("candle")[names].shift().fillna(first)
    same = pd.Series(True, index=frame.index)
    for name in names:
        same &= frame[name].map(bare) == before[name].fillna("").map(bare)
    for n in changes.where((same & (frame["wick_size"] != "")).sort_index()):
        wick = " ".join(changes.frame.loc[n, names])
        changes.tell(problems, "wick changed to the same one", n, wick=wick)


def all_set_aside(aside: ReadTable, burns: ReadTable, problems: ProblemList) -> None:
    """Candles all of whose burns are set aside, one by one."""
    rows = aside.frame[aside.frame["burn"].notna() & ~aside.muted]
    known = burns.frame[burns.frame["candle"].isin(rows["candle"])].dropna(subset="burn")
    of_candle = {candle: set(burn) for candle, burn in known.groupby("candle")["burn"]}
    for candle, part in rows.groupby("candle", sort=False):
        its = of_candle.get(candle, set())
        if len(its) > 1 and its <= set(part["burn"]):
            n = part.index[-1]
            aside.tell(problems, "every burn set aside", n, found=f"all {len(its)} burns")

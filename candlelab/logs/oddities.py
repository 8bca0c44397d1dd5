"""Readings that no burning candle gives, and notes that say more than the checks."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from candlelab.logs.csv_table import ReadTable
from candlelab.logs.problems import ProblemList
from candlelab.text import counted

_SLACK_C = 1.0  # two thermometers may differ so much; common practice, no source
_SAME_C = 0.05  # a reading carried over from °F is the same within this
_NOT_SO = r"(?<!\bno )(?<!\bnot )(?<!\bwithout )"
_VESSEL, _SOOT = "vessel_damaged = yes", "soot = 3"
_FIRE, _TIPPED = "secondary_ignition_s or a yes", "tipped = yes"
_SAYS = {
    "crack": _VESSEL, "cracks": _VESSEL, "cracked": _VESSEL, "shattered": _VESSEL,
    "exploded": _VESSEL, "fire": _FIRE, "smoke": _SOOT, "smoked": _SOOT, "tipped": _TIPPED,
}  # fmt: skip
_WORD = re.compile(rf"{_NOT_SO}\b({'|'.join(_SAYS)})\b", re.IGNORECASE)
_YES = ["vessel_damaged", "surface_damaged", "flame_on_vessel", "reignited", "tipped"]


def cold_readings(
    checks: ReadTable, at: np.ndarray, burns: ReadTable, log: pd.DataFrame, problems: ProblemList
) -> None:
    """Walls as cold as the room or colder, and flames of no height, once for each candle."""
    known = at >= 0
    frame = checks.frame[["candle", "burn", "elapsed_min", "wall_c", "flame_height_mm"]].copy()
    lasted = log.set_index("place")["hours"].reindex(range(len(log))).to_numpy(dtype=float) * 60
    room = burns.frame["room_c"].to_numpy(dtype=float, copy=True)
    usual = burns.spec.column("room_c")
    room[burns.muted | (room < usual.low) | (room > usual.high)] = np.nan  # reported already
    none = np.full(len(frame), np.nan)
    frame["room"] = np.where(known, room[at], none)
    frame["lasted"] = np.where(known, lasted[at], none)
    frame["place"] = at
    frame = frame[known & ~checks.muted]
    above = frame["wall_c"] - frame["room"]
    of_burn = (above.abs() < _SAME_C).astype(float).where(above.notna()).groupby(frame["place"])
    read = of_burn.transform("count")
    equal = above.notna() & (of_burn.transform("sum") == read) & (read >= 2)
    out = (frame["flame_height_mm"] == 0) & (frame["elapsed_min"] < frame["lasted"])
    _tell(checks, "wall as cold as the room", frame[equal], "burn", problems)
    _tell(checks, "wall colder than the room", frame[above < -_SLACK_C], "check", problems)
    _tell(checks, "no flame while it burned", frame[out], "check", problems)


def _tell(
    checks: ReadTable, problem: str, rows: pd.DataFrame, what: str, problems: ProblemList
) -> None:
    """Note the first of the rows of each candle, and how many burns or checks are like it."""
    for _, own in rows.groupby("candle", sort=False):
        first = own.iloc[0]
        times = own["place"].nunique() if what == "burn" else len(own)
        values = {"wall": first["wall_c"], "room": first["room"], "burn": first["burn"]}
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

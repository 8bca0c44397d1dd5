"""Rules on what the checks of a burn say of safety: what was seen, and what followed from it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs.burn_rules import Broken
from candlelab.logs.csv_table import ReadTable
from candlelab.logs.faults import said
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings import FLAME_LIMITS_MM, Limits, Settings
from candlelab.text import listed

_SEEN = {
    "vessel_damaged": "the vessel was damaged",
    "surface_damaged": "the surface was damaged",
    "tipped": "the candle tipped",
    "reignited": "it lit again by itself",
    "flame_on_vessel": "the flame touched the vessel",
}
_STAYS = "vessel_damaged"  # what no new wick mends
SECONDARY_S, SMOKE_S = 10, 30  # ASTM F2417 and EN 15493, as candlelab.judge.criteria has them


def limits_of(settings: Settings | None) -> dict[str, float]:
    """The highest wall, flame and pool depth that pass, by column; infinite where none is set."""
    limits = settings.limits if settings else Limits()
    named = FLAME_LIMITS_MM.get(settings.standard if settings else "")
    flame = named or min(FLAME_LIMITS_MM.values())
    return {
        "wall_c": limits.wall_stop_c,
        "flame_height_mm": min(flame, limits.flame_mm or np.inf),
        "pool_depth_mm": limits.pool_depth_mm or np.inf,
    }


def failures(checks: ReadTable, settings: Settings | None) -> dict[str, np.ndarray]:
    """Which checks saw what ends the test of a candle, by what is said of it."""
    frame, limits = checks.frame, limits_of(settings)
    seen = {text: frame[name].fillna(False) for name, text in _SEEN.items()}
    seen["steady black smoke"] = frame["soot"] >= 3
    seen["something other than the wick burned"] = frame["secondary_ignition_s"] > SECONDARY_S
    for name, what in (("flame_height_mm", "a flame"), ("wall_c", "a wall")):
        odd = frame[name] > checks.spec.column(name).high
        trusted = 2 * odd.sum() <= frame[name].notna().sum()  # else the unit of all is in doubt
        over = f"{what} over {checks.show(name, limits[name])}"
        seen[over] = (frame[name] > limits[name]) & trusted
    sound = ~checks.muted
    return {text: mask.to_numpy(dtype=bool) & sound for text, mask in seen.items()}


def not_written_down(checks: ReadTable, problems: ProblemList) -> None:
    """Columns of what mostly does not happen that are blank: nobody wrote "no"."""
    names = [*_SEEN, "soot", "secondary_ignition_s"]
    for name in (name for name in names if name in checks.found):
        blank = checks.where(checks.frame[name].isna())
        if len(blank):
            values = {"name": name, "blank": len(blank), "checks": int((~checks.muted).sum())}
            checks.tell(problems, "not written down", blank[0], **values)
    missing = [name for name in names if name not in {*checks.found, *checks.excused}]
    if missing and len(checks.frame):
        problems.add(file=checks.spec.file, **said("never written down", names=listed(missing, 9)))


def lit_again(
    checks: ReadTable, at: np.ndarray, log: pd.DataFrame, settings: Settings | None
) -> tuple[pd.DataFrame, Broken]:
    """The log with what ``failed`` before each burn, and each candle's first burn after it.

    A new wick begins a new test, but for a vessel that is damaged.
    """
    failed = failures(checks, settings)
    told = [(n, text) for text, mask in failed.items() for n in np.flatnonzero(mask & (at >= 0))]
    rows = pd.DataFrame(told, columns=["row", "text"])
    rows["minute"] = checks.frame["elapsed_min"].to_numpy(dtype=float)[rows["row"].astype(int)]
    rows["place"] = at[rows["row"].astype(int)]
    first = rows.sort_values("minute", kind="stable").drop_duplicates("place").set_index("place")
    burn = log.set_index("place")["burn"]
    texts = {
        place: f"{one.text} in burn {burn[place]:g}"
        + (f" at {one.minute:g} min" if np.isfinite(one.minute) else "")
        for place, one in zip(first.index, first.itertuples(), strict=True)
    }
    hurt = log["place"].map(texts).astype(object)
    stays = log["place"].isin(at[failed[_SEEN[_STAYS]] & (at >= 0)])
    test = log["new_wick"].groupby(log["code"]).cumsum()
    again = _seen_before(hurt.notna(), [log["code"], test]) | _seen_before(stays, [log["code"]])
    before = hurt.groupby(log["code"]).ffill().groupby(log["code"]).shift()
    first_again = again & (again.groupby(log["code"]).cumsum() == 1)
    return log.assign(failed=before), {"candle lit again after a failure": first_again}


def _seen_before(mask: pd.Series, groups: list[pd.Series]) -> pd.Series:
    """Rows above which a row of the same group holds."""
    mask = mask.astype(int)
    return mask.groupby(groups).cumsum() > mask

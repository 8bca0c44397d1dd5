"""Rules on what the checks of a burn say of safety: what was seen, and what followed from it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs.burn_log import Log, in_rows
from candlelab.logs.burn_rules import Broken
from candlelab.logs.faults import said
from candlelab.logs.groups import running
from candlelab.logs.problems import ProblemList
from candlelab.logs.read_table import ReadTable
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
_NUMBERS = ("soot", "secondary_ignition_s", "flame_height_mm", "wall_c")
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


def failures(checks: ReadTable, at: np.ndarray, settings: Settings | None) -> dict[str, np.ndarray]:
    """Which checks of known burns saw what ends the test of a candle, by what is said of it."""
    read = {name: checks.numbers(name) for name in _NUMBERS}
    seen = {text: yes(checks, name) for name, text in _SEEN.items()}
    seen["steady black smoke"] = read["soot"] >= 3
    seen["something other than the wick burned"] = read["secondary_ignition_s"] > SECONDARY_S
    limits = limits_of(settings)
    for name, what in (("flame_height_mm", "a flame"), ("wall_c", "a wall")):
        odd = read[name] > checks.spec.column(name).high
        trusted = 2 * odd.sum() <= (~np.isnan(read[name])).sum()  # else their unit is in doubt
        over = f"{what} over {checks.show(name, limits[name])}"
        seen[over] = (read[name] > limits[name]) & trusted
    sound = (at >= 0) & ~checks.muted
    return {text: mask & sound for text, mask in seen.items()}


def yes(checks: ReadTable, name: str) -> np.ndarray:
    """Checks that answer a question with yes."""
    return checks.columns[name].to_numpy(dtype=bool, na_value=False)


def not_written_down(checks: ReadTable, problems: ProblemList) -> None:
    """Columns of what mostly does not happen that are blank: nobody wrote "no"."""
    names = [*_SEEN, "soot", "secondary_ignition_s"]
    for name in (name for name in names if name in checks.found):
        blank = checks.where(pd.isna(checks.columns[name]))
        if len(blank):
            values = {"name": name, "blank": len(blank), "checks": int((~checks.muted).sum())}
            checks.tell(problems, "not written down", blank[0], **values)
    missing = [name for name in names if name not in {*checks.found, *checks.excused}]
    if missing and len(checks.lines):
        problems.add(file=checks.spec.file, **said("never written down", names=listed(missing, 9)))


def lit_again(
    checks: ReadTable, at: np.ndarray, log: Log, failed: dict[str, np.ndarray]
) -> tuple[Log, Broken]:
    """The log with what ``failed`` before each burn, and each candle's first burn after it.

    A new wick begins a new test, but for a vessel that is damaged.
    """
    texts = _first_failures(checks, at, failed, in_rows(log, "burn"))
    if not texts:
        return log, {}
    hurt, stays = (np.isin(log["place"], of) for of in (list(texts), at[failed[_SEEN[_STAYS]]]))
    code = log["code"]
    test = np.cumsum(log["new_wick"] | (np.diff(code, prepend=-1) > 0))
    again = _seen_before(hurt, test) | _seen_before(stays, code)
    first_again = again & (running(again, code) == 1)
    last = np.maximum.accumulate(np.where(hurt, np.arange(len(hurt)), -1))
    rows = log["place"][np.append(-1, last[:-1])].tolist()
    before = np.array([texts.get(n, "") for n in rows], dtype=object)
    return log | {"failed": before}, {"candle lit again after a failure": first_again}


def failures_set_aside(
    aside: ReadTable,
    checks: ReadTable,
    at: np.ndarray,
    burns: ReadTable,
    failed: dict[str, np.ndarray],
    settings: Settings | None,
    problems: ProblemList,
) -> None:
    """Candles and burns that are set aside and failed: that counts all the same."""
    if not len(aside.lines):
        return
    depth = limits_of(settings)["pool_depth_mm"]
    deep = (checks.numbers("pool_depth_mm") > depth) & (at >= 0) & ~checks.muted
    failed = failed | {f"a melt pool over {checks.show('pool_depth_mm', depth)}": deep}
    number = burns.numbers("burn")
    texts = _first_failures(checks, at, failed, number)
    names, of_candle, of_burn = burns.texts("candle"), aside.texts("candle"), aside.numbers("burn")
    for n in np.flatnonzero(~aside.muted).tolist():
        whole = np.isnan(of_burn[n])
        for place, text in sorted(texts.items()):
            if names[place] == of_candle[n] and (whole or number[place] == of_burn[n]):
                aside.tell(problems, "failure set aside", n, failed=text)
                break


def _first_failures(
    checks: ReadTable, at: np.ndarray, failed: dict[str, np.ndarray], burn: np.ndarray
) -> dict[int, str]:
    """What is said of the first failure in a burn, by the place of the burn."""
    told = [(n, text) for text, mask in failed.items() for n in np.flatnonzero(mask)]
    minute = checks.numbers("elapsed_min")
    texts: dict[int, str] = {}
    for n, text in sorted(told, key=lambda one: np.nan_to_num(minute[one[0]], nan=np.inf)):
        when = f" at {minute[n]:g} min" if np.isfinite(minute[n]) else ""
        texts.setdefault(int(at[n]), f"{text} in burn {burn[at[n]]:g}{when}")
    return texts


def _seen_before(mask: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Rows above which a row of the same group holds."""
    return running(mask, code) > mask

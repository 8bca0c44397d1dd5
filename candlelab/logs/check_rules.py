"""Rules on rows that belong to a burn: each has its burn, lies inside it, and none is missed."""

from __future__ import annotations

import numpy as np

from candlelab import candle_formulas as formulas
from candlelab.logs.burn_log import Log, among, burn_column, first_of_candle, in_rows
from candlelab.logs.burn_rules import Broken
from candlelab.logs.problems import ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.settings import Protocol, Settings

_AFTER_MIN = 5  # a check may be logged so long after its burn ended
_OVER_MM = 2  # a pool may be read so much wider than its vessel


def known_burns(
    table: ReadTable,
    at: np.ndarray,
    burns: ReadTable,
    candles: ReadTable | None,
    doubted: set[str],
    problems: ProblemList,
) -> None:
    """Rows of burns that are not in burns.csv (at place -1).

    A number below the candle's last is a gap there, reported there. A wick may be changed before a
    burn that is due.
    """
    if (at >= 0).all():
        return
    column = burn_column(table)
    names, number = table.texts("candle"), table.numbers(column)
    numbered = zip(burns.texts("candle"), burns.numbers("burn").tolist(), strict=True)
    highest = dict(sorted(numbered))  # a candle without some number is in doubt
    last = [highest.get(name, 0.0) for name in names]
    known = set(candles.texts("candle") if candles else names)
    missing = (number > last) & among(names, known - doubted - {""})
    if not missing.any():
        return
    due = set(burns.waiting.itertuples(index=False, name=None))
    rows = [f"{name}\n{burn}" for name, burn in zip(names, number, strict=True)]
    for n, times in table.first_of_each(rows, missing):
        problem = "burn that does not exist"
        if column == "before_burn":
            problem = f"wick change before a {problem}"
        if (names[n], number[n]) in due:
            if column == "before_burn":
                continue  # the wick is changed, and the candle not lit again yet
            problem = "burn that is not filled in"
        values = {"column": column, "number": number[n], "times": times, "last": last[n]}
        table.tell(problems, problem, n, **values)


def checks_inside(checks: ReadTable, at: np.ndarray, log: Log, problems: ProblemList) -> set[str]:
    """Checks later than the end of their burn (at place ``at``).

    Returns the candles that have one, or one of no burn at all.
    """
    elapsed = checks.numbers("elapsed_min")
    lasted = np.where(at >= 0, in_rows(log, "hours")[at] * 60, np.nan)
    outside = elapsed > lasted + _AFTER_MIN
    for n in checks.where(outside):
        times = {"elapsed": elapsed[n], "lasted": lasted[n]}
        checks.tell(problems, "check outside its burn", n, **times)
    return set(checks.columns["candle"][outside | (at < 0)])


def pool_inside(
    checks: ReadTable, candles: ReadTable, settings: Settings, problems: ProblemList
) -> None:
    """Pools that are wider than the vessel of their candle."""
    inner = {name: v.inner_diameter_mm for name, v in settings.vessels.items() if v}
    pool = checks.numbers("pool_diameter_mm")
    if not inner or not (pool > min(inner.values()) + _OVER_MM).any():
        return
    vessel = first_of_candle(candles, "vessel")
    width = np.array([inner.get(vessel.get(c), np.nan) for c in checks.texts("candle")])
    for n in checks.where(pool > width + _OVER_MM):
        widths = {"pool": pool[n], "inner": width[n]}
        checks.tell(problems, "pool wider than the vessel", n, **widths)


def checks_missed(
    checks: ReadTable, at: np.ndarray, log: Log, doubted: set[str], protocol: Protocol
) -> tuple[Log, Broken]:
    """The log with the first stretch in which a check was due and not made (``gap``), and where."""
    elapsed = checks.numbers("elapsed_min")
    inside = (at >= 0) & np.isfinite(elapsed)
    rows = slice(None) if inside.all() else inside
    start, end = formulas.unchecked(
        at[rows],
        elapsed[rows],
        np.nan_to_num(in_rows(log, "hours") * 60),
        in_rows(log, "ended_by") == "stopped",
        every=protocol.check_every_min,
        tolerance=protocol.check_tolerance_min,
    )
    gap = (end - start)[log["place"]]
    missed = (gap > 0) & (log["hours"] > 0) & ~among(log["candle"], doubted)
    return log | {"gap": gap}, {"check missed": missed}

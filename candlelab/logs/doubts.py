"""Readings that make more sense in another unit than in that of their column.

One that passes as it stands and would fail in the other unit is in doubt: it counts as not checked
until it is corrected, or its note says that it is right. A column that makes no sense as it stands
must be fixed. All bounds here are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.logs.burn_log import Log
from candlelab.logs.groups import begins, beside, firsts, medians, medians_of_others
from candlelab.logs.oddities import (
    Doubts,
    Rows,
    coded,
    cold_readings,
    is_sure,
    looked,
    only,
    pool_as_flame,
    rooms_and_minutes,
    swapped,
)
from candlelab.logs.problems import ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.safety_rules import SECONDARY_S, SMOKE_S, limits_of
from candlelab.logs.settings import Settings
from candlelab.text import counted
from candlelab.units import convert, split_unit, unit_symbol

_OTHER_UNITS = {
    "mm": ("cm", "in"), "cm": ("mm", "in"), "in": ("mm", "cm"), "c": ("f",), "f": ("c",),
    "s": ("min", "h"), "min": ("h", "s"), "h": ("min", "s"),
}  # fmt: skip
_NEEDED = ("row", "candle", "place", "sure")
_MANY = 3  # readings that show what is usual
_SMALL = 0.25  # a candle's median as a share of that of the others
_DIP_C, _JUMP_C, _BACK_C = 5.0, 25.0, 12.0
_ROOM_C = 22.0  # where the room was not read


@dataclass(frozen=True)
class Usual:
    """What the median of a column may be, what it most likely is, and the most of any candle.

    ``alike`` is what a candle's median may be as a share of that of the others.
    """

    column: str
    low: float
    middle: float
    high: float
    most: float
    alike: tuple[float, float] = (0.4, 2.5)


FLAME = Usual("flame_height_mm", 7.5, 30, 62, 120)
WALL = Usual("wall_c", 3, 20, 60, 110)  # above the room, but for the most
DEPTH = Usual("pool_depth_mm", 1.5, 7, 25, 40)
POOL = Usual("pool_diameter_mm", 12, 60, 250, 500)  # no limit: a wrong unit misleads, hides nothing
SMOKE = Usual("aftersmoke_s", 1, 8, 90, 600, (0.4, 30))


@dataclass(frozen=True, eq=False)
class _Column:
    """The readings of one column: ``value`` above its ``base``, and what each may not go over."""

    table: ReadTable
    usual: Usual
    rows: Rows  # row, candle, place and value of each reading, and its base where it has one
    limit: float
    problems: ProblemList

    @property
    def name(self) -> str:
        return self.usual.column

    @property
    def unit(self) -> str:
        """The unit of the file's column."""
        return self.table.found[self.name].unit or self.own

    @property
    def own(self) -> str:
        """The unit of the readings as they are worked with."""
        return split_unit(self.name)[1] or ""

    @property
    def above(self) -> np.ndarray:
        return self.over_base(self.rows["value"])

    def over_base(self, values: np.ndarray) -> np.ndarray:
        """How far readings lie above what they start from."""
        return values - self.rows["base"] if "base" in self.rows else values

    @property
    def others(self) -> tuple[str, ...]:
        """The units in which the file's numbers may be meant."""
        return _OTHER_UNITS[self.unit]

    def as_if(self, unit: str, at=slice(None)):
        """Readings as they would be if the file's numbers were in another unit."""
        return convert(convert(self.rows["value"][at], self.own, self.unit), unit, self.own)

    def tell(self, problem: str, mask: np.ndarray, unit: str) -> None:
        """Note the first of the rows of each candle, and how many of its readings are like it."""
        at = np.flatnonzero(mask)
        for first, times in firsts(self.rows["candle"][at]):
            n = at[first]
            value, burn = self.rows["value"][n], self.table.numbers("burn")[self.rows["row"][n]]
            stem = split_unit(self.table.found[self.name].header)[0]
            self.table.tell(
                self.problems, problem, self.rows["row"][n], name=self.name, read=value, burn=burn,
                other=self._written(self.as_if(unit, n)), unit=unit_symbol("_" + unit),
                raw=self._written(value, unit), header=f"{stem}_{unit}",
                times=counted(times, "reading"),
            )  # fmt: skip

    def _written(self, value: float, unit: str = "") -> str:
        """A reading as the file's number, with the file's unit or another one."""
        number = convert(value, self.own, self.unit)
        return f"{number:.3g} {unit_symbol('_' + (unit or self.unit))}"


def doubted_readings(
    checks: ReadTable | None,
    at: np.ndarray | None,
    burns: ReadTable,
    log: Log,
    settings: Settings | None,
    problems: ProblemList,
) -> Doubts:
    """Places of the rows in doubt in their table, by column; each told to the user.

    ``at`` are the burns of the checks, ``log`` the burns as `burn_log` gives them.
    """
    doubts: Doubts = {SMOKE.column: _smoke(burns, problems)}
    if checks and at is not None:
        rows, limits = looked(checks, at, burns), limits_of(settings)
        room, lasted = rooms_and_minutes(burns, log)
        usual_room = np.where(np.isnan(room), _ROOM_C, room)
        for usual in (FLAME, WALL, DEPTH, POOL):
            base = {"base": usual_room[rows["place"]]} if usual is WALL else {}
            limit = limits.get(usual.column, np.inf)
            doubts[usual.column] = _doubted(checks, usual, rows | base, limit, problems)
        doubts["secondary_ignition_s"] = _short_ignition(checks, rows, problems)
        _early_checks(checks, rows, lasted, problems)
        cold = cold_readings(checks, rows, room, lasted, problems)
        grown = pool_as_flame(checks, rows, problems)
        for more in (cold, grown, swapped(checks, rows, limits, problems)):
            doubts |= {name: [*doubts[name], *rows] for name, rows in more.items()}
    return {name: np.unique(np.asarray(rows, dtype=int)) for name, rows in doubts.items()}


def _doubted(
    table: ReadTable, usual: Usual, rows: Rows, limit: float, problems: ProblemList
) -> list[int]:
    """Rows whose reading is in doubt; nothing where the whole column must be fixed.

    ``rows`` has ``row, candle, place, sure``, the column itself, and its ``base`` if it has one.
    """
    if usual.column not in table.found:
        return []
    value = rows[usual.column]
    rows = {name: rows[name] for name in (*_NEEDED, "base") if name in rows} | {"value": value}
    rows = only(rows, ~np.isnan(value))
    del value
    if not len(rows["row"]) or _whole_column(_Column(table, usual, rows, limit, problems)):
        return []
    column = _Column(table, usual, only(rows, ~rows["sure"]), limit, problems)
    if usual is WALL:
        _jumps(column)
    alien = _of_candles(column)
    return alien + (_single(column, alien) if usual is not SMOKE else [])


def _whole_column(column: _Column) -> bool:
    """Whether the readings make sense in another unit only, told as what must be fixed."""
    usual, rows, high = column.usual, column.rows, column.above
    if len(high) < _MANY or usual.low <= np.median(high) <= usual.high or rows["sure"][0]:
        return False
    fits = {}
    for unit in column.others:
        middle = np.median(column.over_base(column.as_if(unit)))
        if usual.low <= middle <= usual.high:
            fits[unit] = abs(np.log(middle / usual.middle))
    if fits:
        unit = min(fits, key=fits.__getitem__)
        column.tell("column in another unit", np.arange(len(high)) == 0, unit)
    return bool(fits)


def _of_candles(column: _Column) -> list[int]:
    """Rows in doubt of candles that lie as far from the others as a unit from another."""
    rows, high, code = column.rows, column.above, column.rows["candle"]
    own, size = medians(high, code), np.bincount(code)
    # no median of the other candles' readings lies above this reading of all
    least = np.sort(high)[np.minimum((len(high) + size) // 2, len(high) - 1)]
    small = 1.0 if column.usual is SMOKE else _SMALL  # parts of a second tell more than its size
    low = (own <= small * least) & (size >= 2) & (len(code) - size >= _MANY)
    if column.usual is SMOKE:
        low &= _in_parts(rows["value"], code)
    if not low.any():
        return []
    rest = medians_of_others(high, code)
    low &= (rest > 0) & (own <= small * rest)
    found = np.zeros(len(code), dtype=bool)
    best, far = np.full(len(size), -1), np.full(len(size), np.inf)
    for n, unit in enumerate(column.others):
        other = column.as_if(unit)
        share = np.where(low, medians(column.over_base(other), code), np.nan) / rest
        fits = (share >= column.usual.alike[0]) & (share <= column.usual.alike[1])
        found |= fits[code] & _fails(column, other)
        nearer = np.flatnonzero(fits)
        nearer = nearer[np.abs(np.log(share[nearer])) < far[nearer]]
        best[nearer], far[nearer] = n, np.abs(np.log(share[nearer]))
    for n, unit in enumerate(column.others):
        column.tell("candle in another unit", (best == n)[code], unit)
    return rows["row"][found].tolist()


def _in_parts(value: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Candles whose times are less than a second, or all have parts that nobody reads off a clock
    where the others have none."""
    size, parts = np.bincount(code), np.abs(value * 2 - np.round(value * 2)) > 1e-6
    own = np.bincount(code, weights=parts)
    others = (own.sum() - own) / np.maximum(len(value) - size, 1)
    return (medians(value, code) < 1) | ((own == size) & (others < 0.1))


def _fails(column: _Column, other: np.ndarray) -> np.ndarray:
    """Readings that pass as they stand and would fail; of aftersmoke the mean is judged."""
    if column.usual is SMOKE:
        candle = column.rows["candle"]
        other = pd.Series(other).groupby(candle).transform("mean").to_numpy()
    return (other > column.limit) & (column.rows["value"] <= column.limit)


def _single(column: _Column, known: list[int]) -> list[int]:
    """Readings far below the others of their candle or burn, that would fail in another unit."""
    row = column.rows["row"]
    falls = _falls_short(column) & ~np.isin(row, known)
    found: list[int] = []
    for unit in column.others if falls.any() else ():
        other = column.as_if(unit)
        odd = falls & _fails(column, other) & (other <= column.usual.most)
        column.tell("reading in another unit", odd, unit)
        found += row[odd].tolist()
        falls &= ~odd
    return found


def _falls_short(column: _Column) -> np.ndarray:
    """Readings far below the others of their candle or burn: no wall cools while its candle burns,
    and no pool gets half as deep."""
    rows, value = column.rows, column.rows["value"]
    if column.usual is DEPTH:
        return value < beside(value, rows["place"], -1) / 2
    usually = medians(column.above, rows["candle"])
    if column.usual is FLAME:
        return value <= (usually / 3)[rows["candle"]]
    after = beside(value, rows["place"], 1)
    dips = (value < after - _DIP_C) | np.isnan(after)
    del after
    before = beside(value, rows["place"], -1)
    dips &= value < before - _DIP_C
    first = np.flatnonzero(np.isnan(before))
    late = column.table.numbers("elapsed_min")[rows["row"][first]] >= 30
    dips[first] = late & (column.above[first] < (usually / 3)[rows["candle"][first]])
    return dips


def _jumps(column: _Column) -> None:
    """Walls over the stop limit, for one check, that would be like the others in °F."""
    rows, value = column.rows, column.rows["value"]
    odd = value > column.limit
    if "f" not in column.others or not odd.any():
        return
    high = np.flatnonzero(odd)
    usually = medians(value, rows["candle"])[rows["candle"][high]]
    other, after = column.as_if("f", high), beside(value, rows["place"], 1)[high]
    like = (np.abs(other - usually) < _BACK_C) & (np.abs(after - usually) < _BACK_C)
    odd[high] = like & (value[high] > usually + _JUMP_C)
    column.tell("reading too high for its burn", odd, "f")


def _short_ignition(checks: ReadTable, rows: Rows, problems: ProblemList) -> list[int]:
    """Parts of a second for which something else burned: nobody times those, they are minutes or
    hours."""
    usual = Usual("secondary_ignition_s", 0, 0, 0, 0)
    if usual.column not in checks.found:
        return []
    rows = only(rows | {"value": rows[usual.column]}, ~rows["sure"])
    column = _Column(checks, usual, rows, SECONDARY_S, problems)
    part = (rows["value"] > 0) & (rows["value"] < 1)
    found = np.zeros(len(part), dtype=bool)
    for unit in column.others if part.any() else ():
        odd = part & (column.as_if(unit) > SECONDARY_S) & ~found
        column.tell("reading in another unit", odd, unit)
        found |= odd
    return rows["row"][found].tolist()


def _early_checks(checks: ReadTable, rows: Rows, lasted: np.ndarray, problems: ProblemList) -> None:
    """Checks that all lie in the first minutes of long burns: hours or minutes in the wrong column.

    Nothing is in doubt: what was not looked at later is missing already.
    """
    starts, elapsed, lasted = begins(rows["place"]), rows["elapsed_min"], lasted[rows["place"]]
    size = np.diff(starts, append=len(elapsed))
    last = np.repeat(np.fmax.reduceat(elapsed, starts), size) if len(starts) else elapsed
    long = (lasted >= 100) & (np.repeat(size, size) >= 2)
    early = long & (last > 0) & (last <= lasted / 25)
    if not early.any():
        return
    usual = Usual("elapsed_min", 0, 0, 0, 0)
    column = _Column(checks, usual, rows | {"value": elapsed}, np.inf, problems)
    for unit in column.others:
        last = np.repeat(np.fmax.reduceat(column.as_if(unit), starts), size)
        fits = early & (last <= lasted + 15) & (last > lasted / 3)
        if fits.sum() > 0.5 * long.sum():
            column.tell("column in another unit", fits & (fits.cumsum() == 1), unit)
        else:
            column.tell("checks in another unit", fits, unit)


def _smoke(burns: ReadTable, problems: ProblemList) -> list[int]:
    """Burns whose aftersmoke is in doubt; the mean of a candle is judged."""
    value = burns.numbers(SMOKE.column)
    row = np.flatnonzero((value > 0) & ~burns.muted)
    if not len(row):
        return []
    rows = {"row": row, "candle": coded(burns)[row], "sure": is_sure(burns)[row]}
    return _doubted(burns, SMOKE, rows | {SMOKE.column: value[row]}, SMOKE_S, problems)

"""Readings that make more sense in another unit than in that of their column.

One that passes as it stands and would fail in the other unit is in doubt: it counts as not checked
until it is corrected, or its note says that it is right. A column that makes no sense as it stands
must be fixed. All bounds here are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.logs.csv_table import ReadTable
from candlelab.logs.oddities import Doubts, cold_readings, is_sure, looked, swapped
from candlelab.logs.problems import ProblemList
from candlelab.logs.safety_rules import SECONDARY_S, SMOKE_S, limits_of
from candlelab.logs.settings import Settings
from candlelab.text import counted
from candlelab.units import convert, split_unit, unit_symbol

_OTHER_UNITS = {
    "mm": ("cm", "in"), "cm": ("mm", "in"), "in": ("mm", "cm"), "c": ("f",), "f": ("c",),
    "s": ("min", "h"), "min": ("h", "s"), "h": ("min", "s"),
}  # fmt: skip
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
SMOKE = Usual("aftersmoke_s", 1, 8, 90, 600, (0.4, 30))


@dataclass(frozen=True, eq=False)
class _Column:
    """The readings of one column: ``value`` above its ``base``, and what each may not go over."""

    table: ReadTable
    usual: Usual
    rows: pd.DataFrame  # candle, place, elapsed_min, value and base of each reading
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
    def above(self) -> pd.Series:
        return self.rows["value"] - self.rows["base"]

    def others(self) -> dict[str, pd.Series]:
        """The readings as they would be if the file's numbers were in another unit, by unit."""
        raw = convert(self.rows["value"], self.own, self.unit)
        return {unit: convert(raw, unit, self.own) for unit in _OTHER_UNITS[self.unit]}

    def tell(self, problem: str, mask: pd.Series, unit: str, other: pd.Series) -> None:
        """Note the first of the rows of each candle, and how many of its readings are like it."""
        for _, own in self.rows[mask].groupby("candle", sort=False):
            first = own.index[0]
            stem = split_unit(self.table.found[self.name].header)[0]
            self.table.tell(
                self.problems, problem, first, name=self.name, read=own["value"].iat[0],
                other=self._written(other[first]), unit=unit_symbol("_" + unit),
                raw=self._written(own["value"].iat[0], unit), header=f"{stem}_{unit}",
                burn=own["burn"].iat[0], times=counted(len(own), "reading"),
            )  # fmt: skip

    def _written(self, value: float, unit: str = "") -> str:
        """A reading as the file's number, with the file's unit or another one."""
        number = convert(value, self.own, self.unit)
        return f"{number:.3g} {unit_symbol('_' + (unit or self.unit))}"


def doubted_readings(
    checks: ReadTable | None,
    at: np.ndarray | None,
    burns: ReadTable,
    log: pd.DataFrame,
    settings: Settings | None,
    problems: ProblemList,
) -> Doubts:
    """Places of the rows in doubt in their table, by column; each told to the user.

    ``at`` are the burns of the checks, ``log`` the burns as `burn_log` gives them.
    """
    doubts: Doubts = {SMOKE.column: _smoke(burns, problems)}
    if checks and at is not None:
        frame, limits = looked(checks, at, burns, log), limits_of(settings)
        room = frame["room"].fillna(_ROOM_C)
        for usual, base in ((FLAME, 0.0), (WALL, room), (DEPTH, 0.0)):
            limit = limits[usual.column]
            doubts[usual.column] = _doubted(checks, usual, frame, limit, problems, base)
        doubts["secondary_ignition_s"] = _short_ignition(checks, frame, problems)
        _early_checks(checks, frame, problems)
        cold = cold_readings(checks, frame, problems)
        for more in (cold, swapped(checks, frame, limits, problems)):
            doubts |= {name: [*doubts[name], *rows] for name, rows in more.items()}
    return {name: np.unique(np.asarray(rows, dtype=int)) for name, rows in doubts.items()}


def _doubted(
    table: ReadTable,
    usual: Usual,
    frame: pd.DataFrame,
    limit: float,
    problems: ProblemList,
    base: pd.Series | float = 0.0,
) -> list[int]:
    """Rows whose reading is in doubt; nothing where the whole column must be fixed.

    ``frame`` has ``candle, burn, place, elapsed_min, sure`` and the column itself for each row.
    """
    if usual.column not in table.found:
        return []
    rows = frame.assign(value=frame[usual.column], base=base)
    rows = rows[rows["value"].notna()]
    if rows.empty or _whole_column(_Column(table, usual, rows, limit, problems)):
        return []
    column = _Column(table, usual, rows[~rows["sure"]], limit, problems)
    if usual is WALL:
        _jumps(column)
    alien = _of_candles(column)
    return alien + (_single(column, alien) if usual is not SMOKE else [])


def _whole_column(column: _Column) -> bool:
    """Whether the readings make sense in another unit only, told as what must be fixed."""
    usual, rows = column.usual, column.rows
    if len(rows) < _MANY or usual.low <= column.above.median() <= usual.high or rows["sure"].iat[0]:
        return False
    fits = {}
    for unit, other in column.others().items():
        middle = (other - rows["base"]).median()
        if usual.low <= middle <= usual.high:
            fits[unit] = abs(np.log(middle / usual.middle))
    if fits:
        unit = min(fits, key=fits.__getitem__)
        first = pd.Series(rows.index == rows.index[0], index=rows.index)
        column.tell("column in another unit", first, unit, column.others()[unit])
    return bool(fits)


def _of_candles(column: _Column) -> list[int]:
    """Rows in doubt of candles that lie as far from the others as a unit from another."""
    rows, high, found = column.rows, column.above, []
    of_candle = high.groupby(rows["candle"])
    own = of_candle.median()
    # no median of the other candles' readings lies above this reading of all
    inner = np.sort(high.to_numpy())
    least = inner[np.minimum((len(inner) + of_candle.size()) // 2, len(inner) - 1)]
    for candle in own.index[own <= _SMALL * least]:
        mine = rows["candle"] == candle
        rest = high[~mine].median()
        few = mine.sum() < 2 or (~mine).sum() < _MANY
        if few or not rest > 0 or own[candle] > _SMALL * rest:
            continue
        if column.usual is SMOKE and not _in_parts(rows["value"], mine):
            continue
        fits = {}
        for unit, other in column.others().items():
            share = (other - rows["base"])[mine].median() / rest
            if column.usual.alike[0] <= share <= column.usual.alike[1]:
                fits[abs(np.log(share))] = unit, other
                found += rows.index[mine & _fails(column, other)].tolist()
        if fits:
            column.tell("candle in another unit", mine, *fits[min(fits)])
    return found


def _in_parts(value: pd.Series, mine: pd.Series) -> bool:
    """Whether a candle's times are parts of a second, or have such where the others have none."""
    parts = value % 1 > 0
    return value[mine].median() < 1 or (parts[mine].any() and parts[~mine].mean() < 0.1)


def _fails(column: _Column, other: pd.Series) -> pd.Series:
    """Readings that pass as they stand and would fail; of aftersmoke the mean is judged."""
    value = column.rows["value"]
    if column.usual is SMOKE:
        other = other.groupby(column.rows["candle"]).transform("mean")
    return (other > column.limit) & (value <= column.limit)


def _single(column: _Column, known: list[int]) -> list[int]:
    """Readings far below the others of their candle or burn, that would fail in another unit."""
    falls = _falls_short(column) & ~column.rows.index.isin(known)
    found = []
    for unit, other in column.others().items():
        odd = falls & _fails(column, other) & (other <= column.usual.most)
        column.tell("reading in another unit", odd, unit, other)
        found += column.rows.index[odd].tolist()
        falls &= ~odd
    return found


def _falls_short(column: _Column) -> pd.Series:
    """Readings far below the others of their candle or burn: no wall cools while its candle burns,
    and no pool gets half as deep."""
    rows, value = column.rows, column.rows["value"]
    before, after = (value.groupby(rows["place"]).shift(n) for n in (1, -1))
    usually = column.above.groupby(rows["candle"]).transform("median")
    if column.usual is FLAME:
        return value <= usually / 3
    if column.usual is DEPTH:
        return value < before / 2
    dips = (value < before - _DIP_C) & ((value < after - _DIP_C) | after.isna())
    cold = before.isna() & (rows["elapsed_min"] >= 30) & (column.above < usually / 3)
    return dips | cold


def _jumps(column: _Column) -> None:
    """Walls over the stop limit, for one check, that would be like the others in °F."""
    rows, value = column.rows, column.rows["value"]
    usually = value.groupby(rows["candle"]).transform("median")
    after = value.groupby(rows["place"]).shift(-1)
    for unit, other in column.others().items():
        like = ((other - usually).abs() < _BACK_C) & ((after - usually).abs() < _BACK_C)
        odd = like & (value > column.limit) & (value > usually + _JUMP_C) & (unit == "f")
        column.tell("reading too high for its burn", odd, unit, other)


def _short_ignition(checks: ReadTable, frame: pd.DataFrame, problems: ProblemList) -> list[int]:
    """Parts of a second for which something else burned: nobody times those, they are minutes."""
    if "secondary_ignition_s" not in checks.found:
        return []
    usual = Usual("secondary_ignition_s", 0, 0, 0, 0)
    rows = frame.assign(value=frame[usual.column], base=0.0)[~frame["sure"]]
    column = _Column(checks, usual, rows, SECONDARY_S, problems)
    if column.unit != "s":
        return []
    other = column.others()["min"]
    odd = (rows["value"] < 1) & (other > SECONDARY_S)
    column.tell("reading in another unit", odd, "min", other)
    return rows.index[odd].tolist()


def _early_checks(checks: ReadTable, frame: pd.DataFrame, problems: ProblemList) -> None:
    """Checks that all lie in the first minutes of long burns: hours or minutes in the wrong column.

    Nothing is in doubt: what was not looked at later is missing already.
    """
    usual = Usual("elapsed_min", 0, 0, 0, 0)
    rows = frame.assign(value=frame["elapsed_min"], base=0.0)
    by = rows.groupby("place")["value"]
    long = (rows["lasted"] >= 100) & (by.transform("size") >= 2)
    early = long & (by.transform("max") > 0) & (by.transform("max") <= rows["lasted"] / 25)
    column = _Column(checks, usual, rows, np.inf, problems)
    for unit, other in column.others().items():
        last = other.groupby(rows["place"]).transform("max")
        fits = early & (last <= rows["lasted"] + 15) & (last > rows["lasted"] / 3)
        if fits.sum() > 0.5 * long.sum():
            column.tell("column in another unit", fits & (fits.cumsum() == 1), unit, other)
        else:
            column.tell("checks in another unit", fits, unit, other)


def _smoke(burns: ReadTable, problems: ProblemList) -> list[int]:
    """Burns whose aftersmoke is in doubt; the mean of a candle is judged."""
    frame = burns.frame[["candle", "burn", SMOKE.column]].assign(
        place=range(len(burns.frame)), elapsed_min=0.0, sure=is_sure(burns.frame["note"])
    )
    frame = frame[(frame[SMOKE.column] > 0) & ~burns.muted]
    return _doubted(burns, SMOKE, frame, SMOKE_S, problems)

"""What sizing works from: one value per candle, the line through them, which sizes were safe.

A series is sized within one recipe: another vessel, wax or load is another question. A candle
counts once, with the wick that it was poured with: a second wick met a part-used candle, so what it
measured there is no value of its size. A straight line is put through these values against the size
of the wick, and read elsewhere on it with its error.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from candlelab.compare.blocks import Design, design_of, shared_within, with_levels
from candlelab.compare.metrics import SHARED
from candlelab.compare.parts import blocks_of, compare_parts, rows_of
from candlelab.compare.pooled import UNIT, Pooled
from candlelab.compare.values import candle_values
from candlelab.judge.criteria import KEEPS_BURNING
from candlelab.pages.glossary import GLOSSARY
from candlelab.stats.designs import CannotCompare, Rows, read_rows
from candlelab.stats.intervals import Inverse, inverse_prediction
from candlelab.stats.models import Model, fit
from candlelab.stats.tails import t_below_which
from candlelab.text import listed, small

DECIDED = ["fate", "because", "next_step", "next_wick", "n_passed", "n_failed"]


@dataclass(frozen=True, eq=False)
class SizeLine:
    """A line through the candles of a series, with the spread of candles about it; ``leveled`` are
    the blocks whose levels were taken off."""

    model: Model
    middle: float
    df: float
    t: float
    candle_variance: float
    leveled: tuple[str, ...] = ()

    def at(self, x) -> tuple[np.ndarray, np.ndarray]:
        """Mean and its standard error at x."""
        x = np.atleast_1d(np.asarray(x, dtype=float)) - self.middle
        estimate, error, _ = self.model.contrasts(np.column_stack((np.ones_like(x), x)))
        return estimate, error

    def reach(self, error):
        """How far one fresh candle of the same pour may lie from the line; missing where levels of
        batches were taken off."""
        half = self.t * np.sqrt(np.square(error) + self.candle_variance)
        return half * np.nan if self.leveled else half

    @property
    def slope(self) -> tuple[float, float]:
        """Slope and its standard error."""
        estimate, error, _ = self.model.contrasts([[0.0, 1.0]])
        return float(estimate[0]), float(error[0])

    def meets(self, aim: float) -> Inverse | None:
        """The x at which the mean is ``aim``; None without an aim, or for a level line."""
        if not np.isfinite(aim) or self.slope[0] == 0.0:
            return None
        level, slope = self.model.coef[:2]
        found = inverse_prediction(level, slope, self.model.cov[:2, :2], aim, self.t)
        ends = (found.conf_low + self.middle, found.conf_high + self.middle)
        return Inverse(found.estimate + self.middle, found.std_error, *ends, found.g)

    @property
    def shown(self) -> bool:
        """Whether the slope is told from zero."""
        slope, error = self.slope
        return abs(slope) > self.t * error


def fit_line(points: pd.DataFrame, confidence: float) -> tuple[SizeLine | None, list[str], Design]:
    """The line through the candles in ``points`` (columns x, value), or why there is none, and what
    they can tell apart."""
    table = points[points["in_line"]]
    notes: list[str] = []
    design = design_of(table, "wick_size", SHARED)
    if table["x"].nunique() < 2:
        return None, [], design
    blocks = tuple(dict.fromkeys((*design.blocks, *design.tied[:1])))
    try:
        model, middle = _fitted(table, blocks)
    except CannotCompare as error:  # one candle of each size: the sentences say so
        if table["batch"].nunique() > 1:
            notes.append(f"no line: {small(str(error))}")
        return None, notes, design
    t = float(t_below_which((1.0 + confidence) / 2.0, model.df))
    line = SizeLine(model, middle, float(model.df), t, model.candle_sd**2, blocks)
    if table["x"].nunique() > 2:
        notes += _bend(model.rows, middle, confidence)
    return line, notes, design


def _fitted(table: pd.DataFrame, covariates: tuple[str, ...]) -> tuple[Model, float]:
    rows = read_rows(table, metric="value", by="x", unit=UNIT, covariates=covariates)
    x = np.array([cell[0] for cell in rows.cells], dtype=float)[rows.cell]
    middle = float(x.mean())
    return fit(rows, np.column_stack((np.ones_like(x), x - middle)), what="the line"), middle


def _bend(rows: Rows, middle: float, confidence: float) -> list[str]:
    rows = replace(rows, numbers={}, blocks={})
    x = np.array([cell[0] for cell in rows.cells], dtype=float)[rows.cell] - middle
    try:
        curve = fit(rows, np.column_stack((np.ones_like(x), x, x**2)), what="the curve")
    except CannotCompare:
        return []
    estimate, error, df = curve.contrasts([[0.0, 0.0, 1.0]])
    if abs(estimate[0]) > t_below_which((1.0 + confidence) / 2.0, df[0]) * error[0]:
        return [
            "the line is shown to be bent: what it says between and beyond the sizes burned is "
            "rough"
        ]
    return []


def band_of(table: pd.DataFrame, line: SizeLine) -> pd.DataFrame:
    """The line, its interval and the range of one fresh candle, over the sizes predicted."""
    over = table.loc[table["predicted"].notna(), "x"]
    x = np.linspace(over.min(), over.max(), 50)
    mean, error = line.at(x)
    candle = line.reach(error)
    return pd.DataFrame(
        {
            "x": x,
            "predicted": mean,
            "conf_low": mean - line.t * error,
            "conf_high": mean + line.t * error,
            "candle_low": mean - candle,
            "candle_high": mean + candle,
        }
    )


def with_group(table: pd.DataFrame, pooled: Pooled) -> pd.DataFrame:
    """Add ``wick_count``, and ``series``: the series with what differs in the candles' recipes, in
    the words of their candidates."""
    counts = {
        (name, candle): count
        for name, batch in pooled.batches.items()
        for candle, count in zip(batch.candles["candle"], batch.candles["wick_count"], strict=True)
    }
    burned = _judged_burns(pooled).drop_duplicates(UNIT)
    named = zip(*(burned[name] for name in (*UNIT, "candidate", "wick")), strict=True)
    recipe = {(batch, candle): name.removeprefix(wick) for batch, candle, name, wick in named}
    each = list(zip(table["batch"], table["candle"], strict=True))
    count = np.nan_to_num([counts.get(of, np.nan) for of in each], nan=1.0)
    series = [
        name + (f" x{n:g}" if n != 1 else "") + recipe[of]
        for name, n, of in zip(table["wick_series"], count, each, strict=True)
    ]
    return table.assign(wick_count=count, series=pd.Series(series, table.index, dtype="str"))


def _judged_burns(pooled: Pooled) -> pd.DataFrame:
    """The burns of all batches with their candidates, each with its ``batch``."""
    burns = pooled.judged.burns
    return burns if "batch" in burns else burns.assign(batch=next(iter(pooled.worked)))


def sizes_of(pooled: Pooled) -> tuple[pd.DataFrame, list[str]]:
    """Every size that the batches' wicks.csv name, smallest first, and where they disagree."""
    numbers = ["size_rank", "linear_density_tex", "width_mm"]
    columns = ["wick_series", "wick_size", *numbers]
    tables = [batch.wicks.reindex(columns=columns) for batch in pooled.batches.values()]
    every = pd.concat(tables, ignore_index=True).astype(dict.fromkeys(numbers, float))
    faults = []
    for name in ("size_rank", "linear_density_tex"):
        differ = every.dropna(subset=[name]).groupby(["wick_series", "wick_size"])[name].nunique()
        wrong = [f"{series} {size}" for series, size in differ.index[differ > 1]]
        if wrong:
            faults.append(
                f"The batches' wicks.csv give different {GLOSSARY[name].label} for "
                f"{listed(wrong)}: those of the first batch are used."
            )
    sizes = every.groupby(["wick_series", "wick_size"], sort=False).first().reset_index()
    return sizes.sort_values(["wick_series", "size_rank"], kind="stable", ignore_index=True), faults


def in_series(pooled: Pooled) -> Pooled:
    """The batches, with ``series``, ``cell`` (series and size) and levels of each fresh candle."""
    fresh = with_levels(with_group(pooled.fresh, pooled))
    return replace(
        pooled, fresh=fresh.assign(cell=fresh["series"] + ", size " + fresh["wick_size"])
    )


def size_values(pooled: Pooled, metric: str) -> pd.DataFrame:
    """One row per fresh candle of batches that are `in_series`, with its value as every page has it
    (`candle_values`) and whether it is ``in_line``."""
    table = candle_values(pooled, metric)
    return table.assign(in_line=table["counts"])


@dataclass(frozen=True, eq=False)
class SizeMeans:
    """The mean of each size, as the comparison of the same candles gives it.

    ``estimates`` by cell (series and size); ``candle_sd`` is the spread of candles; ``leveled`` are
    the cells of which levels of batches were taken off: a fresh candle comes from a batch whose
    level nobody knows.
    """

    estimates: pd.DataFrame
    candle_sd: float
    leveled: frozenset[str]


def size_means(points: pd.DataFrame) -> SizeMeans:
    """The mean of each size over all series, by the rule of every page."""
    counts = points[points["in_line"]]
    design = design_of(counts, "cell", shared_within(counts))
    columns = list(dict.fromkeys((*UNIT, "cell", *design.blocks)))
    table = points[columns].assign(value=points["value"].where(points["in_line"]))
    try:
        found = compare_parts(table, design, metric="value", unit=UNIT)
    except CannotCompare:
        plain = counts.groupby("cell", sort=False)["value"].agg(estimate="mean")
        return SizeMeans(plain, np.nan, frozenset())
    leveled = [
        part
        for part in design.parts
        if len(part) > 1 and blocks_of(rows_of(table, design, part), design, "value")
    ]
    estimates = found.estimates.set_index("candidate")
    names = frozenset(name for part in leveled for name in part)
    return SizeMeans(estimates, float(found.candle_sd), names)


def fates_of_sizes(pooled: Pooled) -> pd.DataFrame:
    """One row per series and size that was burned: what the judge decided over all batches.

    ``bars_larger`` says why a larger size must not be advised.
    """
    judged, first = pooled.judged, _judged_burns(pooled).drop_duplicates("candidate")
    place = with_group(first, pooled).set_index("candidate")[["series", "wick_size"]]
    table = judged.fates.join(place, on="candidate")
    bars = _bars_larger(judged.failures)
    table["bars_larger"] = [bars.get(name, "") for name in table["candidate"]]
    return table[["series", "wick_size", *DECIDED, "bars_larger"]]


def _bars_larger(failures: pd.DataFrame) -> dict[str, str]:
    """For each candidate that failed, why a larger wick is not to be tried unseen.

    One that only went out was too small, and that is no reason against a larger one.
    """
    bars = failures[failures["criterion"] != KEEPS_BURNING]
    once = bars.drop_duplicates(["candidate", "criterion"])
    return {
        name: "; ".join(small(words.partition(" (")[0]) for words in own["words"])
        for name, own in once.groupby("candidate", sort=False)
    }

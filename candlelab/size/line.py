"""What sizing works from: one value per candle, the line through them, which sizes were safe.

A series is sized within one recipe: another vessel, wax or load is another question. A candle
counts once, with the wick that it was poured with: a second wick met a part-used candle, so what it
measured there is no value of its size. A straight line is put through these values against the size
of the wick, and read elsewhere on it with its error.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from candlelab.burns.candidates import RECIPE
from candlelab.compare.metrics import BURN_METRICS
from candlelab.compare.pooled import UNIT, Pooled, with_load
from candlelab.glossary import GLOSSARY
from candlelab.stats.designs import CannotCompare, read_rows
from candlelab.stats.intervals import Inverse, inverse_prediction
from candlelab.stats.models import Model, fit
from candlelab.text import listed

# Means over the burns of a candle, and its largest readings: what a candle cut short leaves out of
# them differs.
_MEANS = ("burn_rate_g_per_h", "heat_release_w", "fragrance_release_g_per_h")
_LARGEST = (
    "wall_max_c", "wall_max_warm_room_c", "flame_max_mm", "pool_depth_max_mm",
    "pool_share_max_pct", "mushroom_max_mm", "soot_max",
)  # fmt: skip
_DECIDED = ["fate", "because", "next_step", "next_wick", "n_passed", "n_failed"]
GROUP = ["wick_series", "wick_count", *RECIPE]


@dataclass(frozen=True, eq=False)
class SizeLine:
    """A line through the candles of a series, with the spread of candles about it."""

    model: Model
    middle: float
    df: float
    t: float
    candle_variance: float

    def at(self, x) -> tuple[np.ndarray, np.ndarray]:
        """Mean and its standard error at x."""
        x = np.atleast_1d(np.asarray(x, dtype=float)) - self.middle
        estimate, error, _ = self.model.contrasts(np.column_stack((np.ones_like(x), x)))
        return estimate, error

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


def fit_line(points: pd.DataFrame, confidence: float) -> tuple[SizeLine | None, list[str]]:
    """The line through the candles in ``points`` (columns x, value), or why there is none."""
    table = points[points["in_line"]]
    notes: list[str] = []
    if table["x"].nunique() < 2:
        return None, []
    covariates = ("batch",) if table["batch"].nunique() > 1 else ()
    try:
        try:
            model, middle = _fitted(table, covariates)
        except CannotCompare:
            if not covariates:
                raise
            model, middle = _fitted(table, ())
            notes.append(
                "sizes and batches cannot be told apart, so what differs between batches (days, "
                "room, lots) is in the line"
            )
    except CannotCompare:  # one candle of each size: the sentences say so
        return None, []
    t = float(stats.t.ppf((1.0 + confidence) / 2.0, model.df))
    line = SizeLine(model, middle, float(model.df), t, model.candle_sd**2)
    if table["x"].nunique() > 2:
        notes += _bend(table, middle, confidence)
    return line, notes


def _fitted(table: pd.DataFrame, covariates: tuple[str, ...]) -> tuple[Model, float]:
    rows = read_rows(table, metric="value", by="x", unit=UNIT, covariates=covariates)
    x = np.array([cell[0] for cell in rows.cells], dtype=float)[rows.cell]
    middle = float(x.mean())
    return fit(rows, np.column_stack((np.ones_like(x), x - middle)), what="the line"), middle


def _bend(table: pd.DataFrame, middle: float, confidence: float) -> list[str]:
    rows = read_rows(table, metric="value", by="x", unit=UNIT)
    x = np.array([cell[0] for cell in rows.cells], dtype=float)[rows.cell] - middle
    try:
        curve = fit(rows, np.column_stack((np.ones_like(x), x, x**2)), what="the curve")
    except CannotCompare:
        return []
    estimate, error, df = curve.contrasts([[0.0, 0.0, 1.0]])
    if abs(estimate[0]) > stats.t.ppf((1.0 + confidence) / 2.0, df[0]) * error[0]:
        return [
            "the line is shown to be bent: what it says between and beyond the sizes burnt is rough"
        ]
    return []


def band_of(table: pd.DataFrame, line: SizeLine) -> pd.DataFrame:
    """The line, its interval and the range of one fresh candle, over the sizes predicted."""
    over = table.loc[table["predicted"].notna(), "x"]
    x = np.linspace(over.min(), over.max(), 50)
    mean, error = line.at(x)
    candle = line.t * np.sqrt(error**2 + line.candle_variance)
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
    """Add ``wick_count``, and ``series``: the series with what differs in the candles' recipes."""
    counts = pd.concat(
        [batch.candles.assign(batch=name) for name, batch in pooled.batches.items()]
    ).set_index(UNIT)["wick_count"]
    count = counts.reindex(pd.MultiIndex.from_frame(table[UNIT])).astype("Float64").fillna(1.0)
    table = table.assign(wick_count=count.to_numpy(dtype=float))
    varying = [name for name in RECIPE if pooled.fresh[name].nunique(dropna=False) > 1]
    scented = any(name.startswith("fragrance") for name in varying)
    names = []
    for row in table[GROUP].itertuples(index=False):
        parts = [row.wick_series + (f" x{row.wick_count:g}" if row.wick_count != 1 else "")]
        parts += [str(getattr(row, name)) for name in varying if not name.startswith("fragrance")]
        if scented:
            scent = f"{row.fragrance} {row.fragrance_load_pct:g} %"
            parts.append("no fragrance" if row.fragrance == "none" else scent)
        names.append(", ".join(parts))
    return table.assign(series=pd.Series(names, index=table.index, dtype="str"))


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


def candle_values(pooled: Pooled, metric: str) -> pd.DataFrame:
    """One row per fresh candle: its value, whether it counts in the line, and if not, why.

    The mean of a candle that was cut short (its wick changed, or put out for good) stands at
    another depth: it is carried to the depth of the others along the pooled rate drift. A largest
    reading cannot be: that candle is kept out of the line, because it was not seen in its hottest
    burns.
    """
    table = with_group(pooled.fresh, pooled)
    ends = {name: b.settings.protocol.end_wax_left_pct for name, b in pooled.batches.items()}
    short = (table["fill_used_pct"] < 100.0 - table["batch"].map(ends)).to_numpy()
    cut = [f"cut short at {used:.0f} % of the fill" for used in table["fill_used_pct"]]
    value = table[metric].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    why = np.where(np.isnan(value), _no_value(metric), "").astype(object)
    moved = np.zeros(len(table), dtype=bool)
    if metric in _MEANS and short.any():
        middle = table["fill_used_pct"].to_numpy() / 2.0
        usual = float(np.median(middle[~short])) if (~short).any() else float(np.median(middle))
        slope = _drift(pooled.burns, metric)
        moved = short & (np.abs(middle - usual) > 5.0) & ~np.isnan(value)
        value = np.where(moved, value + slope * (usual - middle), value)
        why = np.where(moved, [f"{so}: carried to the depth of the others" for so in cut], why)
    elif metric in _LARGEST and short.any() and (~short).any():
        out = short & ~np.isnan(value)
        why = np.where(out, [f"{so}, before its last burns: at least this" for so in cut], why)
    in_line = ~np.isnan(value) & ((why == "") | moved)
    return table.assign(
        value=value,
        in_line=in_line,
        why=pd.Series(why, index=table.index, dtype="str"),
        excluded=False,
    )


def _no_value(metric: str) -> str:
    if metric in ("full_pool_h", "burns_to_full_pool"):
        return "no value: the pool was not full in most burns"
    if metric in ("life_h", "wax_left_pct"):
        return "no value: not burnt to its end on this wick"
    return "no value: not recorded"


def _drift(burns: pd.DataFrame, metric: str) -> float:
    """Slope of the metric on depth [per %] within candles on their first wick, all together."""
    rows = burns[(burns["run"] == 1) & ~burns["excluded"] & burns[metric].notna()]
    if metric not in BURN_METRICS or rows.empty:
        return 0.0
    code = rows.groupby(UNIT).ngroup().to_numpy()
    x, y = rows["depth_pct"].to_numpy(dtype=float), rows[metric].to_numpy(dtype=float)
    n = np.bincount(code)
    x, y = x - (np.bincount(code, x) / n)[code], y - (np.bincount(code, y) / n)[code]
    return float(x @ y / (x @ x)) if x @ x > 0 else 0.0


def fates_of_sizes(pooled: Pooled) -> pd.DataFrame:
    """One row per series and size that was burned: what the judge decided over all batches."""
    judged = pooled.judged
    burns = judged.burns
    if "batch" not in burns:
        burns = burns.assign(batch=next(iter(pooled.worked)))
    first = burns.drop_duplicates("candidate")
    place = with_group(with_load(first), pooled).set_index("candidate")[["series", "wick_size"]]
    return judged.fates.join(place, on="candidate")[["series", "wick_size", *_DECIDED]]

"""One series in one recipe: its line, its sizes, and which of them to advise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.compare.blocks import tied_words
from candlelab.judge.words import RULED_OUT
from candlelab.logs.settings import Target
from candlelab.pages.glossary import column
from candlelab.size.advice import advise, aim_of, details, verdict
from candlelab.size.line import DECIDED, SizeLine, SizeMeans, band_of, fit_line
from candlelab.stats.intervals import Inverse
from candlelab.stats.tails import t_below_which
from candlelab.text import counted, small

# What a larger wick does in one vessel [practice]; what is not named here the data alone decide.
DIRECTION = {
    "burn_rate_g_per_h": 1, "heat_release_w": 1, "fragrance_release_g_per_h": 1, "wall_max_c": 1,
    "wall_max_warm_room_c": 1, "flame_max_mm": 1, "pool_depth_max_mm": 1, "pool_share_max_pct": 1,
    "soot_max": 1, "mushroom_max_mm": 1, "life_h": -1, "wax_left_pct": -1, "full_pool_h": -1,
    "burns_to_full_pool": -1,
}  # fmt: skip
BURNT, BETWEEN, ONE_BEYOND, FURTHER = "burned", "between", "one size beyond", "further off"
INSIDE, MEAN_INSIDE, OUTSIDE = "inside", "mean inside", "outside"
_UNJUDGED = {"fate": "", "because": "", "next_step": "", "next_wick": "", "n_passed": 0,
             "n_failed": 0, "bars_larger": ""}  # fmt: skip
_PREDICTED = ("predicted", "conf_low", "conf_high", "candle_low", "candle_high")


@dataclass(frozen=True, eq=False)
class SeriesLine:
    """One series in one recipe: its candles, its sizes, the line and what follows from it.

    ``sizes`` has one row per size of wicks.csv with the predicted mean (``predicted``,
    ``conf_low``, ``conf_high``) and the range for one fresh candle (``candle_low``,
    ``candle_high``). ``slope`` has a row when a line could be drawn. ``meets`` is the size, on the
    axis ``column`` (linear density or rank), at which the mean is ``aim``. ``target`` is that
    of its vessel. ``pick`` is the size
    advised, ``next_test`` says what to burn. ``tied`` says what cannot be told from the size.
    """

    series: str
    column: str
    points: pd.DataFrame
    sizes: pd.DataFrame
    slope: pd.DataFrame
    band: pd.DataFrame
    meets: Inverse | None
    target: Target | None
    aim: float
    pick: str
    next_test: str
    verdict: str
    details: tuple[str, ...]
    notes: tuple[str, ...]
    tied: tuple[str, ...]


def series_line(
    name, points, sizes, decided, means, metric, target, confidence, display
) -> SeriesLine:
    """The line of one series through its ``points``, and what follows from it."""
    own, against, points = _on_axis(points, sizes)
    line, more, design = fit_line(points, confidence)
    notes = [*_not_in_line(points), *more, *_level_words(points, means)]
    tied = [f"{name}: {small(text)}" for text in tied_words(design, "size")]
    if against == "size_rank" and own["linear_density_tex"].notna().any():
        notes.append(
            "wicks.csv does not give every size a linear density that rises with its rank, so the "
            "rank stands in"
        )
    own, asked = own.assign(x=own[against]), (metric, target, confidence)
    table = _size_table(name, points, own, decided, means, line, *asked)
    aim, way = aim_of(target), DIRECTION.get(metric, 0)
    pick, next_test = advise(table, target, aim)
    shown = line is not None and line.shown
    slope = pd.DataFrame() if line is None else _slope_row(name, against, line, points)
    meets = None if line is None else line.meets(aim)
    said = details(
        name, table, metric, target, against, shown, slope, meets, confidence, way, display
    )
    return SeriesLine(
        series=name,
        column=against,
        points=points,
        sizes=table.drop(columns="x"),
        slope=slope,
        band=pd.DataFrame() if line is None else band_of(table, line),
        meets=meets,
        target=target,
        aim=aim,
        pick=pick,
        next_test=next_test,
        verdict=verdict(name, table, metric, target, pick, next_test, display),
        details=tuple(said),
        notes=tuple(notes),
        tied=tuple(tied),
    )


def _on_axis(points: pd.DataFrame, sizes: pd.DataFrame) -> tuple[pd.DataFrame, str, pd.DataFrame]:
    """The sizes of a series, the axis on which its line is drawn, and its points with their x."""
    own = sizes[sizes["wick_series"] == points["wick_series"].iloc[0]].reset_index(drop=True)
    density = own["linear_density_tex"]
    usable = density.notna().all() and density.is_monotonic_increasing
    against = "linear_density_tex" if usable else "size_rank"
    x_of = dict(zip(own["wick_size"], own[against], strict=True))
    return own, against, points.assign(x=points["wick_size"].map(x_of))


def density_slope(name: str, points, sizes, confidence: float) -> pd.DataFrame:
    """The ``slope`` of a series against linear density, as its `series_line` has it; no row where
    it has none."""
    _, against, points = _on_axis(points, sizes)
    line = fit_line(points, confidence)[0] if against == "linear_density_tex" else None
    return pd.DataFrame() if line is None else _slope_row(name, against, line, points)


def _level_words(points: pd.DataFrame, means: SizeMeans) -> list[str]:
    """That levels of batches were taken off, and what that leaves open."""
    if not means.leveled & set(points["cell"]):
        return []
    return [
        "levels of batches, lots or days were taken off: means and line stand for the middle of "
        "them. No range is given for a fresh candle, because a new batch has a level of its own"
    ]


def _not_in_line(points: pd.DataFrame) -> list[str]:
    out = points[~points["in_line"]]
    reason = out["why"].str.replace(r" at \d+ %", "", regex=True)
    return [
        f"{counted(len(part), 'candle')} of size {', '.join(part['wick_size'].unique())} not in "
        f"the line: {why}"
        for why, part in out.groupby(reason, sort=False)
    ]


def _slope_row(name: str, against: str, line: SizeLine, points: pd.DataFrame) -> pd.DataFrame:
    estimate, error = line.slope
    return pd.DataFrame(
        {
            "series": [name],
            "against": [column(against).heading],
            "estimate": [estimate],
            "std_error": [error],
            "df": [line.df],
            "conf_low": [estimate - line.t * error],
            "conf_high": [estimate + line.t * error],
            "n_candles": [int(points["in_line"].sum())],
        }
    )


def _where(own: pd.DataFrame, points: pd.DataFrame) -> list[str]:
    """For each size whether it was burned, lies between sizes that were, or one or more beyond."""
    burned = own["wick_size"].isin(points["wick_size"]).to_numpy()
    at = np.flatnonzero(own["wick_size"].isin(points.loc[points["in_line"], "wick_size"]))
    if not len(at):
        return [BURNT if was else FURTHER for was in burned]
    first, last = at[0], at[-1]
    words = []
    for n, was in enumerate(burned):
        off = max(first - n, n - last, 0)
        words.append(BURNT if was else {0: BETWEEN, 1: ONE_BEYOND}.get(off, FURTHER))
    return words


@dataclass(frozen=True, eq=False)
class _Expectation:
    """What is expected of a size: its own candles where it was burned, the line elsewhere."""

    means: SizeMeans
    line: SizeLine | None

    def of(self, cell: str, x: float, seen: pd.Series, confidence: float) -> tuple[float, ...]:
        """Mean with its interval, and range of one fresh candle of the same pour."""
        sd = np.nan if cell in self.means.leveled else self.means.candle_sd
        if cell in self.means.estimates.index:
            row = self.means.estimates.loc[cell]
            if "std_error" not in row:
                return (float(row["estimate"]), *(np.nan,) * 4)
            t = t_below_which((1.0 + confidence) / 2.0, row["df"])
            reach = t * np.hypot(row["std_error"], sd)
            low, high = row["estimate"] - reach, row["estimate"] + reach
            return (
                *row[["estimate", "conf_low", "conf_high"]],
                min(low, seen.min()),
                max(high, seen.max()),
            )
        if self.line is None:
            return (np.nan,) * 5
        (mean,), (error,) = self.line.at(x)
        half = self.line.t * error
        reach = self.line.reach(error)
        return mean, mean - half, mean + half, mean - reach, mean + reach


def _size_table(name, points, own, decided, means, line, metric, target, confidence):
    judged = decided[decided["series"] == name].set_index("wick_size").to_dict("index")
    told = {size: judged.get(size, _UNJUDGED) for size in own["wick_size"]}
    value, seen = points["value"].to_numpy(), points["wick_size"].where(points["in_line"])
    each = [value[seen.to_numpy() == size] for size in told]
    cells = [f"{name}, size {size}" for size in told]
    expected, where = _Expectation(means, line), _where(own, points)
    nothing = (np.nan,) * len(_PREDICTED)
    rows = [
        nothing if so == FURTHER else expected.of(cell, x, values, confidence)
        for cell, x, so, values in zip(cells, own["x"], where, each, strict=True)
    ]
    trusted = _trusted(line, metric)
    return pd.DataFrame(
        {
            "series": name,
            "wick_size": own["wick_size"],
            "size_rank": own["size_rank"],
            "linear_density_tex": own["linear_density_tex"],
            "where": where,
            "n_candles": [len(values) for values in each],
            "mean": means.estimates["estimate"].reindex(cells).to_numpy(dtype=float),
            **dict(zip(_PREDICTED, np.array(rows, dtype=float).T, strict=True)),
            **{about: [so[about] for so in told.values()] for about in DECIDED},
            "in_target": [
                _in_target(mean if len(values) or trusted else np.nan, low, high, target)
                for values, (mean, _, _, low, high) in zip(each, rows, strict=True)
            ],
            "barred": _barred(told),
            "x": own["x"],
        }
    )


def at_size(size: str, points, sizes, means, metric, target, confidence) -> dict:
    """What a size that was burned does to a metric, as its row of ``sizes`` has it."""
    of_size = points["wick_size"] == size
    values, line, x = points["value"][of_size & points["in_line"]], None, np.nan
    if values.empty:  # nothing but the line tells of it
        points = _on_axis(points, sizes)[2]
        line, x = fit_line(points, confidence)[0], points.loc[of_size, "x"].iat[0]
    cell = points.loc[of_size, "cell"].iat[0]
    mean, _, _, low, high = _Expectation(means, line).of(cell, x, values, confidence)
    known = mean if len(values) or _trusted(line, metric) else np.nan
    found = {"predicted": mean, "candle_low": low, "candle_high": high, "n_candles": len(values)}
    return found | {"in_target": _in_target(known, low, high, target)}


def _trusted(line: SizeLine | None, metric: str) -> bool:
    """Whether a line is shown, and does what wicks do."""
    if line is None or not line.shown:
        return False
    return DIRECTION.get(metric, 0) in (0, np.sign(line.slope[0]))


def _barred(told: dict[str, dict]) -> list[str]:
    """Why a size must not be advised: it was ruled out, or a smaller one was that bars it."""
    words, smaller = [], ""
    for size, so in told.items():
        if so["fate"] == RULED_OUT:
            words.append(f"ruled out: {so['because']}")
            if so["bars_larger"]:
                smaller = f"larger than {size}, which was ruled out: {so['bars_larger']}"
        elif smaller and not so["fate"]:
            words.append(smaller)
        else:
            words.append("")
    return words


def _in_target(mean: float, low: float, high: float, target: Target | None) -> str:
    if target is None or not np.isfinite(mean):
        return ""
    if not target.low <= mean <= target.high:
        return OUTSIDE
    return INSIDE if np.isfinite(low) and target.low <= low and high <= target.high else MEAN_INSIDE

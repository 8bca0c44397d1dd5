"""One series in one recipe: its line, its sizes, and which of them to advise."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.glossary import heading
from candlelab.judge.words import RULED_OUT
from candlelab.logs.settings import Target
from candlelab.size.advice import advise, aim_of, details, verdict
from candlelab.size.line import SizeLine, band_of, fit_line
from candlelab.stats.intervals import Inverse
from candlelab.text import counted

# What a larger wick does in one vessel [practice]; what is not named here the data alone decide.
DIRECTION = {
    "burn_rate_g_per_h": 1, "heat_release_w": 1, "fragrance_release_g_per_h": 1, "wall_max_c": 1,
    "wall_max_warm_room_c": 1, "flame_max_mm": 1, "pool_depth_max_mm": 1, "pool_share_max_pct": 1,
    "soot_max": 1, "mushroom_max_mm": 1, "life_h": -1, "wax_left_pct": -1, "full_pool_h": -1,
    "burns_to_full_pool": -1,
}  # fmt: skip
BURNT, BETWEEN, ONE_BEYOND, FURTHER = "burnt", "between", "one size beyond", "further off"
INSIDE, MEAN_INSIDE, OUTSIDE = "inside", "mean inside", "outside"
_PREDICTED = ("predicted", "conf_low", "conf_high", "candle_low", "candle_high")


@dataclass(frozen=True, eq=False)
class SeriesLine:
    """One series in one recipe: its candles, its sizes, the line and what follows from it.

    ``sizes`` has one row per size of wicks.csv with the predicted mean (``predicted``,
    ``conf_low``, ``conf_high``) and the range for one fresh candle (``candle_low``,
    ``candle_high``). ``slope`` has a row when a line could be drawn. ``meets`` is the size, on the
    axis ``column`` (linear density or rank), at which the mean is ``aim``. ``pick`` is the size
    advised, ``next_test`` says what to burn.
    """

    series: str
    column: str
    points: pd.DataFrame
    sizes: pd.DataFrame
    slope: pd.DataFrame
    band: pd.DataFrame
    meets: Inverse | None
    aim: float
    pick: str
    next_test: str
    verdict: str
    details: tuple[str, ...]
    notes: tuple[str, ...]


def series_line(name, points, sizes, decided, metric, target, confidence) -> SeriesLine:
    """The line of one series through its ``points``, and what follows from it."""
    own = sizes[sizes["wick_series"] == points["wick_series"].iloc[0]].reset_index(drop=True)
    density = own["linear_density_tex"]
    usable = density.notna().all() and density.is_monotonic_increasing
    against = "linear_density_tex" if usable else "size_rank"
    x_of = dict(zip(own["wick_size"], own[against], strict=True))
    points = points.assign(x=points["wick_size"].map(x_of))
    line, more = fit_line(points, confidence)
    notes = [*_not_in_line(points), *more]
    if against == "size_rank" and density.notna().any():
        notes.append(
            "wicks.csv does not give every size a linear density that rises with its rank, so the "
            "rank stands in"
        )
    table = _size_table(name, points, own.assign(x=own[against]), decided, line, metric, target)
    aim, way = aim_of(target), DIRECTION.get(metric, 0)
    pick, next_test = advise(table, target, aim)
    shown = line is not None and line.shown
    slope = pd.DataFrame() if line is None else _slope_row(name, against, line, points)
    meets = None if line is None else line.meets(aim)
    trusted = line is not None and shown and _expected(line, metric)
    said = details(name, table, metric, target, against, shown, slope, meets, confidence, way)
    return SeriesLine(
        series=name,
        column=against,
        points=points,
        sizes=table.drop(columns="x"),
        slope=slope,
        band=pd.DataFrame() if line is None else band_of(table, line),
        meets=meets,
        aim=aim,
        pick=pick,
        next_test=next_test,
        verdict=verdict(name, table, metric, target, trusted, pick, next_test),
        details=tuple(said),
        notes=tuple(notes),
    )


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
            "against": [heading(against)],
            "estimate": [estimate],
            "std_error": [error],
            "df": [line.df],
            "conf_low": [estimate - line.t * error],
            "conf_high": [estimate + line.t * error],
            "n_candles": [int(points["in_line"].sum())],
        }
    )


def _where(own: pd.DataFrame, points: pd.DataFrame) -> list[str]:
    """For each size whether it was burnt, lies between sizes that were, or one or more beyond."""
    burnt = own["wick_size"].isin(points["wick_size"]).to_numpy()
    at = np.flatnonzero(own["wick_size"].isin(points.loc[points["in_line"], "wick_size"]))
    if not len(at):
        return [BURNT if was else FURTHER for was in burnt]
    first, last = at[0], at[-1]
    words = []
    for n, was in enumerate(burnt):
        off = max(first - n, n - last, 0)
        words.append(BURNT if was else {0: BETWEEN, 1: ONE_BEYOND}.get(off, FURTHER))
    return words


def _size_table(name, points, own, decided, line, metric, target) -> pd.DataFrame:
    seen = points[points["in_line"]].groupby("wick_size")["value"]
    judged = decided[decided["series"] == name].set_index("wick_size")
    where = _where(own, points)
    known = np.array([word != FURTHER for word in where])
    table = pd.DataFrame(
        {
            "series": name,
            "wick_size": own["wick_size"],
            "size_rank": own["size_rank"],
            "linear_density_tex": own["linear_density_tex"],
            "where": where,
            "n_candles": own["wick_size"].map(seen.size()).fillna(0).astype(int),
            "mean": own["wick_size"].map(seen.mean()).astype(float),
            **_predicted(own["x"], known, line),
        }
    )
    absent_of = {"fate": "", "because": "", "next_step": "", "next_wick": ""}
    for column, absent in {**absent_of, "n_passed": 0, "n_failed": 0}.items():
        table[column] = [judged[column].get(size, absent) for size in own["wick_size"]]
    trusted = line is not None and line.shown and _expected(line, metric)
    ends = table[["predicted" if trusted else "mean", "candle_low", "candle_high"]]
    return table.assign(
        in_target=[_in_target(*(*row, target)) for row in ends.itertuples(index=False)],
        barred=_barred(table),
        x=own["x"],
    )


def _predicted(x: pd.Series, known: np.ndarray, line: SizeLine | None) -> dict[str, np.ndarray]:
    """Mean with its interval, and range of one fresh candle, at each size that is ``known``."""
    if line is None:
        return dict.fromkeys(_PREDICTED, np.full(len(x), np.nan))
    mean, error = (np.where(known, part, np.nan) for part in line.at(x))
    reach = line.t * np.sqrt(error**2 + line.candle_variance)
    ends = (mean - line.t * error, mean + line.t * error, mean - reach, mean + reach)
    return dict(zip(_PREDICTED, (mean, *ends), strict=True))


def _expected(line: SizeLine, metric: str) -> bool:
    return DIRECTION.get(metric, 0) in (0, np.sign(line.slope[0]))


def _barred(table: pd.DataFrame) -> list[str]:
    """Why a size must not be advised: it was ruled out, or it is larger than one that was."""
    words, broken = [], ""
    for row in table.itertuples():
        if row.fate == RULED_OUT:
            words.append(f"ruled out: {row.because}")
            broken = row.wick_size
        elif broken and not row.fate:
            words.append(f"larger than {broken}, which was ruled out")
        else:
            words.append("")
    return words


def _in_target(mean: float, low: float, high: float, target: Target | None) -> str:
    if target is None or not np.isfinite(mean):
        return ""
    if not target.low <= mean <= target.high:
        return OUTSIDE
    return INSIDE if np.isfinite(low) and target.low <= low and high <= target.high else MEAN_INSIDE

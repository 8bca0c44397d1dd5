"""Which size of a series meets the target: a line through the candles, read backwards, and what to
burn next.

Within one series and recipe a straight line is put through one value per candle against linear
density, or against
the size's rank where a density is missing. Read backwards it gives the size that meets the target,
with its interval
(``calibration``). Only sizes that exist are advised, none whose candles broke a criterion, none
more than one size
beyond what was burnt.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.compare.pooled import Pooled, pool
from candlelab.glossary import GLOSSARY, heading, in_words
from candlelab.judge.safety import NOT_MET
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.logs.settings import Target
from candlelab.pages.page import Page, inputs_of
from candlelab.size.advice import advise, details, method, quantity, verdict
from candlelab.size.line import (
    SizeLine,
    band_of,
    candle_values,
    fit_line,
    safety_of_sizes,
    sizes_of,
)
from candlelab.size.metrics import SIZE_METRICS
from candlelab.stats.designs import check_confidence
from candlelab.stats.intervals import Inverse
from candlelab.text import listed

RISES, FALLS = 1, -1
# What a larger wick does in one vessel [practice]; for what is not named here the data alone
# decide.
DIRECTION = {
    "burn_rate_g_per_h": RISES,
    "heat_release_w": RISES,
    "fragrance_release_g_per_h": RISES,
    "wall_max_c": RISES,
    "wall_max_warm_room_c": RISES,
    "flame_max_mm": RISES,
    "pool_depth_max_mm": RISES,
    "pool_share_max_pct": RISES,
    "soot_max": RISES,
    "mushroom_max_mm": RISES,
    "life_h": FALLS,
    "wax_left_pct": FALLS,
    "full_pool_h": FALLS,
    "burns_to_full_pool": FALLS,
}
BURNT, BETWEEN, ONE_BEYOND, FURTHER = "burnt", "between", "one size beyond", "further off"
INSIDE, MEAN_INSIDE, OUTSIDE = "inside", "mean inside", "outside"


@dataclass(frozen=True, eq=False)
class SeriesLine:
    """One series in one recipe: its candles, its sizes, the line and what follows from it.

    ``sizes`` has one row per size of wicks.csv with the predicted mean (``predicted``,
    ``conf_low``, ``conf_high``) and
    the range for one fresh candle (``candle_low``, ``candle_high``). ``slope`` has a row when a
    line could be drawn.
    ``meets`` is the size, on the axis ``column`` (linear density or rank), at which the mean is
    ``aim``.
    ``pick`` is the size advised, ``next_test`` says
    what to burn.
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


@dataclass(frozen=True, eq=False)
class Sizing:
    """Answer to the question which size meets the target for ``metric``. ``also`` shows what the
    sizes advised
    do to the other targets."""

    metric: str
    target: Target | None
    series: tuple[SeriesLine, ...]
    also: pd.DataFrame
    answer: tuple[str, ...]
    details: tuple[str, ...]
    method: tuple[str, ...]
    notes: tuple[str, ...]
    confidence: float
    points: pd.DataFrame
    pooled: Pooled

    @property
    def target_words(self) -> str:
        """The target in words."""
        if self.target is None:
            return f"No target for {GLOSSARY[self.metric].label}"
        ends = [
            f"{word} {quantity(self.metric, end)}"
            for word, end in (("at least", self.target.low), ("at most", self.target.high))
            if np.isfinite(end)
        ]
        best = (
            [] if self.target.best is None else [f"best {quantity(self.metric, self.target.best)}"]
        )
        return f"Target for {GLOSSARY[self.metric].label}: {', '.join(ends + best)}"

    @property
    def sizes(self) -> pd.DataFrame:
        """All sizes of all series under each other."""
        return pd.concat([line.sizes for line in self.series], ignore_index=True)

    @property
    def picks(self) -> pd.DataFrame:
        """One row per series: where the line meets the target, the size advised, what to burn
        next."""
        rows = []
        for line in self.series:
            found = line.meets
            low, high = (
                (found.conf_low, found.conf_high)
                if found is not None and found.bounded
                else (np.nan, np.nan)
            )
            rows.append(
                (
                    line.series,
                    heading(line.column),
                    line.aim,
                    found.estimate if found is not None else np.nan,
                    low,
                    high,
                    line.pick,
                    line.next_test,
                )
            )
        return pd.DataFrame(
            rows,
            columns=[
                "series",
                "against",
                "aim",
                "size_at",
                "size_low",
                "size_high",
                "pick",
                "next_test",
            ],
        )

    @property
    def slopes(self) -> pd.DataFrame:
        """One row per series with a line: change of the metric for each unit of the axis."""
        return pd.concat([line.slope for line in self.series], ignore_index=True)

    def tables(self) -> dict[str, tuple[str, pd.DataFrame]]:
        """Each table by its name, with what one row of it is."""
        points = self.points.rename(columns={"value": "of_candle"})[
            ["series", "wick_size", "batch", "candle", "of_candle", "in_line", "why"]
        ]
        found = {
            "picks": ("a series", self.picks),
            "sizes": ("a size", self.sizes),
            "slopes": ("a series", self.slopes),
            "other_targets": ("a size advised and a target", self.also),
            "candles": ("a candle", points),
        }
        return {name: table for name, table in found.items() if len(table[1])}


def size_wicks(
    batches: Iterable[Batch | WorkedBatch],
    *,
    metric: str = "burn_rate_g_per_h",
    confidence: float = 0.95,
) -> Sizing:
    """Which size of each series meets the first batch's target for ``metric``, and what the next
    test should be.

    Raises ValueError for a metric that is none of SIZE_METRICS, and CannotCompare for a confidence
    that is no share.
    What the candles do not carry is told in the series' sentences.
    """
    if metric not in SIZE_METRICS:
        raise ValueError(f"metric must be one of {', '.join(SIZE_METRICS)}, not {metric!r}")
    check_confidence(confidence)
    pooled = pool(batches)
    sizes, faults = sizes_of(pooled)
    targets = {target.quantity: target for target in pooled.first.settings.targets}
    target = targets.get(metric)
    points, safety = candle_values(pooled, metric), safety_of_sizes(pooled)
    lines = tuple(
        _series_line(name, own, sizes, safety, metric, target, confidence)
        for name, own in points.groupby("series", sort=False)
    )
    also = _other_targets(
        pooled, lines, sizes, safety, {q: t for q, t in targets.items() if q != metric}, confidence
    )
    notes = [*faults, *(f"{line.series}: {note}" for line in lines for note in line.notes)]
    if any(
        (batch.settings.targets or ()) != (pooled.first.settings.targets or ())
        for batch in pooled.batches.values()
    ):
        notes.append("The batches have different targets: those of the first are used.")
    answer = [" ".join([line.verdict, *_missed(also, line)]) for line in lines if line.verdict]
    if target is None:
        answer.insert(
            0,
            f"batch.toml names no target for {GLOSSARY[metric].label}, so no size can be "
            "advised: add it under"
            " [targets].",
        )
    return Sizing(
        metric,
        target,
        lines,
        also,
        tuple(answer),
        tuple(say for line in lines for say in line.details),
        method(metric, {line.column for line in lines}, confidence),
        tuple(in_words(n) for n in notes),
        confidence,
        points,
        pooled,
    )


def _missed(also: pd.DataFrame, line: SeriesLine) -> list[str]:
    """A sentence on the other targets that the size advised would miss."""
    rows = also[(also["series"] == line.series) & (also["in_target"] == OUTSIDE)]
    named = [
        f"{GLOSSARY[row.target].label} ({quantity(row.target, row.predicted)})"
        for row in rows.itertuples()
    ]
    return [f"It would miss another target: {listed(named)}."] if named else []


def aim_of(target: Target | None) -> float:
    """The value to read backwards: the best one, else the middle of the target, else its only
    end."""
    if target is None:
        return np.nan
    if target.best is not None:
        return float(target.best)
    ends = [end for end in (target.low, target.high) if np.isfinite(end)]
    return float(np.mean(ends)) if ends else np.nan


def _series_line(name, points, sizes, safety, metric, target, confidence) -> SeriesLine:
    own = sizes[sizes["wick_series"] == points["wick_series"].iloc[0]].reset_index(drop=True)
    against = (
        "linear_density_tex"
        if own["linear_density_tex"].notna().all()
        and own["linear_density_tex"].is_monotonic_increasing
        else "size_rank"
    )
    notes = _not_in_line(points)
    points = points.assign(x=points["wick_size"].map(dict(zip(own["wick_size"], own[against]))))
    line, more = fit_line(points, confidence)
    notes += more
    if against == "size_rank" and own["linear_density_tex"].notna().any():
        notes.append(
            "wicks.csv does not give every size a linear density that rises with its rank, so "
            "the rank stands in"
        )
    table = _size_table(name, points, own.assign(x=own[against]), safety, line, metric, target)
    aim, meets, slope = aim_of(target), None, pd.DataFrame()
    band = pd.DataFrame()
    if line is not None:
        slope = _slope_row(name, against, line, points)
        band = band_of(table, line)
        meets = line.meets(aim)
    pick, next_test = advise(
        table,
        metric,
        target,
        aim,
        None if line is None else (line.slope[0], line.shown),
        DIRECTION.get(metric, 0),
    )
    shown = line is not None and line.shown
    say = verdict(name, table, metric, target, shown and _expected(line, metric), pick, next_test)
    more = details(
        name,
        table,
        metric,
        target,
        against,
        shown,
        slope,
        meets,
        confidence,
        DIRECTION.get(metric, 0),
    )
    return SeriesLine(
        name,
        against,
        points,
        table.drop(columns="x"),
        slope,
        band,
        meets,
        aim,
        pick,
        next_test,
        say,
        tuple(more),
        tuple(notes),
    )


def _not_in_line(points: pd.DataFrame) -> list[str]:
    return [
        f"{len(part)} candle{'' if len(part) == 1 else 's'} of size "
        f"{', '.join(part['wick_size'].unique())} not in the"
        f" line: {why}"
        for why, part in (
            points[~points["in_line"]]
            .assign(reason=lambda t: t["why"].str.replace(r" at \d+ %", "", regex=True))
            .groupby("reason", sort=False)
        )
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
    for n in range(len(own)):
        off = max(first - n, n - last, 0)
        words.append(
            BURNT if burnt[n] else BETWEEN if off == 0 else ONE_BEYOND if off == 1 else FURTHER
        )
    return words


def _size_table(name, points, own, safety, line, metric, target) -> pd.DataFrame:
    seen = points[points["in_line"]].groupby("wick_size")["value"]
    judged = safety[safety["series"] == name].set_index("wick_size")
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
        }
    )
    if line is None:
        blank = np.full(len(own), np.nan)
        mean = low = high = candle_low = candle_high = blank
    else:
        mean, error = (np.where(known, part, np.nan) for part in line.at(own["x"]))
        low, high = mean - line.t * error, mean + line.t * error
        reach = line.t * np.sqrt(error**2 + line.candle_variance)
        candle_low, candle_high = mean - reach, mean + reach
    table = table.assign(
        predicted=mean, conf_low=low, conf_high=high, candle_low=candle_low, candle_high=candle_high
    )
    for column, word, absent in (
        ("safety", "verdict", ""),
        ("n_passed", "n_passed", 0),
        ("n_failed", "n_failed", 0),
        ("not_met", "not_met", ""),
    ):
        table[column] = [judged[word].get(size, absent) for size in own["wick_size"]]
    usable = (
        table["predicted"]
        if line is not None and line.shown and _expected(line, metric)
        else table["mean"]
    )
    return table.assign(
        in_target=[
            _in_target(m, lo, hi, target) for m, lo, hi in zip(usable, candle_low, candle_high)
        ],
        barred=_barred(table),
        x=own["x"],
    )


def _expected(line: SizeLine, metric: str) -> bool:
    return DIRECTION.get(metric, 0) in (0, np.sign(line.slope[0]))


def _barred(table: pd.DataFrame) -> list[str]:
    """Why a size must not be advised: its candles broke a criterion, or those of a smaller one did
    and it was
    not burnt itself."""
    words, broken = [], ""
    for row in table.itertuples():
        if row.safety == NOT_MET:
            words.append(f"its candles did not meet: {row.not_met}")
            broken = row.wick_size
        elif broken and not row.safety:
            words.append(f"larger than {broken}, which did not meet a criterion")
        else:
            words.append("")
    return words


def _in_target(mean: float, low: float, high: float, target: Target | None) -> str:
    if target is None or not np.isfinite(mean):
        return ""
    if not target.low <= mean <= target.high:
        return OUTSIDE
    return INSIDE if np.isfinite(low) and target.low <= low and high <= target.high else MEAN_INSIDE


def _other_targets(pooled: Pooled, lines, sizes, safety, targets, confidence) -> pd.DataFrame:
    """What each size advised is predicted to do to the other targets."""
    rows = []
    for name, target in targets.items():
        points = candle_values(pooled, name)
        for line in lines:
            if not line.pick:
                continue
            other = _series_line(
                line.series,
                points[points["series"] == line.series],
                sizes,
                safety,
                name,
                target,
                confidence,
            )
            row = other.sizes[other.sizes["wick_size"] == line.pick].iloc[0]
            expected = np.isfinite(row["predicted"])
            low, high = (end if np.isfinite(end) else np.nan for end in (target.low, target.high))
            rows.append(
                (
                    line.series,
                    line.pick,
                    name,
                    low,
                    high,
                    row["predicted"] if expected else row["mean"],
                    row["candle_low"],
                    row["candle_high"],
                    row["in_target"] or "not known",
                    int(row["n_candles"]),
                )
            )
    return pd.DataFrame(
        rows,
        columns=[
            "series",
            "pick",
            "target",
            "low",
            "high",
            "predicted",
            "candle_low",
            "candle_high",
            "in_target",
            "n_candles",
        ],
    )


def size_page(found: Sizing) -> Page:
    """The page of a sizing."""
    batches = found.pooled.batches
    return Page(
        "sizing",
        "Which size of wick?",
        ("; ".join(batch.settings.title for batch in batches.values()), found.target_words),
        found.answer,
        found.tables(),
        inputs_of(batches),
        {"batch_folders": list(batches), "metric": found.metric},
        {"notes": list(found.notes), "details": list(found.details), "methods": list(found.method)},
    )

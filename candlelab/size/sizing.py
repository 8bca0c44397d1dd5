"""Which size of a series meets the target, and what to burn next.

Within one series and recipe a straight line is put through one value per candle against linear
density, or against the size's rank where a density is missing. Read backwards it gives the size
that meets the target, with its interval (`inverse_prediction`). Only sizes that exist are advised,
none whose candles broke a criterion, none more than one size beyond what was burned.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.compare.pooled import Pooled, pool
from candlelab.judge.target_words import asked_words
from candlelab.judge.targets import targets_of
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.logs.settings import Target
from candlelab.pages.glossary import GLOSSARY, column, in_words
from candlelab.pages.quantity import quantity
from candlelab.size.advice import NO_CANDLE, method
from candlelab.size.line import fates_of_sizes, in_series, size_means, size_values, sizes_of
from candlelab.size.metrics import SIZE_METRICS
from candlelab.size.series import OUTSIDE, SeriesLine, at_size, series_line
from candlelab.stats.designs import check_confidence
from candlelab.text import capital, listed
from candlelab.units import Display

_OTHER_COLUMNS = [
    "series", "pick", "target", "low", "high", "predicted", "candle_low", "candle_high",
    "in_target", "n_candles",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Sizing:
    """Answer to the question which size meets the target for ``metric``.

    ``also`` shows what the sizes advised do to the other targets.
    """

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
        """The target in words, that of each vessel where they differ."""
        label = GLOSSARY[self.metric].label
        by_target: dict[Target | None, dict[str, None]] = {}
        for line in self.series:
            of = by_target.setdefault(line.target, {})
            of |= dict.fromkeys(line.points["vessel"])
        if len(by_target) < 2:
            return capital(self._asked(next(iter(by_target), self.target), label))
        told = [f"{capital(listed(of))}: {self._asked(t, label)}" for t, of in
                by_target.items()]  # fmt: skip
        return ". ".join(told)

    def _asked(self, target: Target | None, label: str) -> str:
        """One target in words: "burn rate target 5 to 6.5 g/h, ideally 5.7 g/h"."""
        if target is None:
            return f"no {label} target yet"
        unit = GLOSSARY[self.metric].unit
        said = []
        if np.isfinite(target.low) or np.isfinite(target.high):
            said.append(asked_words(target.low, target.high, unit, self.display))
        if target.best is not None:
            said.append(f"ideally {self.display.written(target.best, unit)}")
        return f"{label} target {', '.join(said)}"

    @property
    def display(self) -> Display:
        """The reader's units, those of the first batch."""
        return self.pooled.first.settings.display

    @property
    def sizes(self) -> pd.DataFrame:
        """All sizes of all series under each other."""
        return _stacked(line.sizes for line in self.series)

    @property
    def picks(self) -> pd.DataFrame:
        """One row per series: where the line meets the target, the size advised, what to burn."""
        rows = []
        for line in self.series:
            at, low, high = (np.nan,) * 3
            if line.meets is not None and line.meets.bounded:
                at, low, high = line.meets.estimate, line.meets.conf_low, line.meets.conf_high
            elif line.meets is not None:
                low, high = line.sizes[line.column].agg(["min", "max"])
            about = (line.series, column(line.column).heading, line.aim)
            rows.append((*about, at, low, high, line.pick, line.next_test))
        columns = ["series", "against", "aim", "size_at", "size_low", "size_high", "pick"]
        return pd.DataFrame(rows, columns=[*columns, "next_test"])

    @property
    def slopes(self) -> pd.DataFrame:
        """One row per series with a line: change of the metric for each unit of the axis."""
        return _stacked(line.slope for line in self.series)

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


def _stacked(tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """Tables under each other; without a series there is none."""
    parts = list(tables)
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def size_wicks(
    batches: Iterable[Batch | WorkedBatch],
    *,
    metric: str = "burn_rate_g_per_h",
    confidence: float = 0.95,
) -> Sizing:
    """Which size of each series meets the first batch's target, and what should be burned next?

    Parameters
    ----------
    batches : iterable of Batch or WorkedBatch
        The batches; candles of several are taken together. The first one names the target.
    metric : str
        One of `SIZE_METRICS`, in the unit that its name ends in.
    confidence : float
        Of the intervals.

    Returns
    -------
    Sizing
        ``answer`` in sentences; ``series`` has the line of each series in one recipe; ``sizes`` one
        row per size of wicks.csv. What the candles do not carry is told in the sentences.

    Raises
    ------
    ValueError
        For a metric that is none of `SIZE_METRICS`.
    CannotCompare
        For a confidence that is no share.

    References
    ----------
    Reading a line backwards: E. C. Fieller, J. R. Stat. Soc. B 16:175, 1954.

    Examples
    --------
    >>> from candlelab import demo_folder, read_batch, size_wicks
    >>> sizing = size_wicks([read_batch(demo_folder("screening"))])
    >>> sizing.picks[["series", "pick"]].values.tolist()
    [['flat braid', '4'], ['square braid', '2'], ['paper-cored', '']]
    """
    if metric not in SIZE_METRICS:
        raise ValueError(f"metric must be one of {', '.join(SIZE_METRICS)}, not {metric!r}")
    check_confidence(confidence)
    return _sizing(pool(batches), metric, confidence)


def _sizing(pooled: Pooled, metric: str, confidence: float) -> Sizing:
    sizes, faults = sizes_of(pooled)
    general = _targets(pooled, list(pooled.fresh["vessel"].unique()))
    target, display = general.get(metric), pooled.first.settings.display
    grouped, decided = in_series(pooled), fates_of_sizes(pooled)
    points = size_values(grouped, metric)
    means = size_means(points)
    lines = tuple(
        series_line(
            name,
            own,
            sizes,
            decided,
            means,
            metric,
            _of(pooled, own).get(metric),
            confidence,
            display,
        )
        for name, own in points.groupby("series", sort=False)
    )
    also = _other_targets(grouped, lines, sizes, metric, confidence)
    notes = [*faults, *(f"{line.series}: {note}" for line in lines for note in line.notes)]
    return Sizing(
        metric=metric,
        target=target,
        series=lines,
        also=also,
        answer=(*_answer(lines, also, metric, display), *pooled.settings_told),
        details=tuple(say for line in lines for say in line.details),
        method=method(metric, {line.column for line in lines}, confidence),
        notes=tuple(in_words(note) for note in notes),
        confidence=confidence,
        points=points,
        pooled=pooled,
    )


def _targets(pooled: Pooled, vessels: list[str]) -> dict[str, Target]:
    """The first batch's targets of one vessel; the general ones where there are several."""
    vessel = vessels[0] if len(vessels) == 1 else ""
    return {t.quantity: t for t in targets_of(pooled.first.settings, vessel)}


def _of(pooled: Pooled, points: pd.DataFrame) -> dict[str, Target]:
    """The targets of the vessel that a series was poured in."""
    return _targets(pooled, list(points["vessel"].unique()))


def _answer(lines, also: pd.DataFrame, metric: str, display: Display) -> tuple[str, ...]:
    said = [say for line in lines for say in line.tied]
    said += [
        " ".join([line.verdict, *_missed(also, line, display)]) for line in lines if line.verdict
    ]
    if not lines:
        said.append(f"{NO_CANDLE} What failed counts all the same.")
    without = [line for line in lines if line.target is None]
    if without:
        where = listed(
            dict.fromkeys(vessel for line in without for vessel in line.points["vessel"])
        )
        where = f" in the {where}" if len(without) < len(lines) else ""
        none = f"batch.toml names no target for {GLOSSARY[metric].label}{where}, so no size can be"
        said.append(f"{none} advised{where and ' there'}: add it under [targets].")
    return tuple(said)


def _missed(also: pd.DataFrame, line: SeriesLine, display: Display) -> list[str]:
    """A sentence on the other targets that the size advised would miss."""
    rows = also[(also["series"] == line.series) & (also["in_target"] == OUTSIDE)]
    named = [
        f"{GLOSSARY[row.target].label} {quantity(row.target, row.predicted, display)}, target "
        f"{asked_words(row.low, row.high, GLOSSARY[row.target].unit, display)}"
        for row in rows.itertuples()
    ]
    return [f"It would miss another target: {'; '.join(named)}."] if named else []


def _other_targets(pooled: Pooled, lines, sizes, metric, confidence) -> pd.DataFrame:
    """What each size advised is predicted to do to the other targets of its vessel."""
    rows = []
    targets = {line.series: _of(pooled, line.points) for line in lines if line.pick}
    for name in dict.fromkeys(name for own in targets.values() for name in own if name != metric):
        points = size_values(pooled, name)
        means = size_means(points)
        for line in (one for one in lines if one.pick and name in targets[one.series]):
            target = targets[line.series][name]
            own = points[points["series"] == line.series]
            about = {"series": line.series, "pick": line.pick, "target": name}
            ends = {"low": target.low, "high": target.high}
            about |= {at: end if np.isfinite(end) else np.nan for at, end in ends.items()}
            about |= at_size(line.pick, own, sizes, means, name, target, confidence)
            rows.append(about | {"in_target": about["in_target"] or "not known"})
    return pd.DataFrame(rows, columns=_OTHER_COLUMNS)

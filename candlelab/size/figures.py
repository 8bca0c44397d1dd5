"""Drawings of sizing: every candle, the line, its band, the target.

Computes nothing; carries its words.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

from candlelab.pages.figure_style import BLUE, INK, MARKERS, ORANGE, SAND, WIDTH, blank, styled
from candlelab.pages.glossary import GLOSSARY, column
from candlelab.size.advice import NO_CANDLE
from candlelab.text import capital, rounded


@styled
def draw_sizing(sizing):
    """Each series in a panel: its candles, the line with its interval, and the target.

    Parameters
    ----------
    sizing : candlelab.size.sizing.Sizing
        What `size_wicks` found.

    Returns
    -------
    matplotlib.figure.Figure
    """
    lines, display = sizing.series, sizing.display
    if not lines:
        return blank(NO_CANDLE)
    unit = GLOSSARY[sizing.metric].unit
    across = min(3, len(lines))
    down = -(-len(lines) // across)
    size = (WIDTH, 3.1 * down + 0.7)
    figure, axes = plt.subplots(
        down, across, figsize=size, sharey=True, squeeze=False, layout="constrained"
    )
    for ax in axes.flat[len(lines) :]:
        ax.remove()
    for ax, line in zip(axes.flat[: len(lines)], lines, strict=True):
        _panel(ax, line, lambda value: display.value(value, unit))
    for row in axes:
        row[0].set_ylabel(display.heading(column(sizing.metric)))
    shown = {
        label: handle
        for ax in axes.flat[: len(lines)]
        for handle, label in zip(*ax.get_legend_handles_labels(), strict=True)
    }
    first = sorted(shown, key=lambda label: not label.startswith("a candle"))
    barred = any((line.sizes["barred"] != "").any() for line in lines)
    figure.legend(
        [shown[label] for label in first],
        first,
        loc="outside lower center",
        ncols=2,
        title="✗ not to be used" if barred else None,
    )
    figure.set_label(_sizing_words(sizing))
    return figure


def _panel(ax, line, shown) -> None:
    target = line.target
    low, high = (target.low, target.high) if target is not None else (np.nan, np.nan)
    points = line.points[line.points["value"].notna()]
    if len(line.band):
        _draw_line(ax, line.band, points, shown)
    for end in (low, high):
        if np.isfinite(end):
            ax.axhline(
                shown(end), color=ORANGE, linestyle="--", linewidth=1.1, label="end of the target"
            )
    if np.isfinite(line.aim):
        ax.axhline(shown(line.aim), color=ORANGE, linewidth=1.1, label="aim")
    _draw_candles(ax, points.assign(value=shown(points["value"])), line)
    known = line.sizes[line.sizes["where"] != "further off"]
    at = known[line.column]
    ax.set_xticks(
        at,
        [
            ("✗ " if barred else "") + f"{size}\n{x:g}"
            for size, x, barred in zip(known["wick_size"], at, known["barred"], strict=True)
        ],
    )
    pad = 0.12 * max(np.ptp(at), 1e-9) if len(at) > 1 else 1.0
    ax.set_xlim(at.min() - pad, at.max() + pad)
    ax.tick_params(axis="x", labelsize=8)
    ax.set_xlabel(f"size,\n{column(line.column).heading}")
    ax.set_title(line.series)
    if line.pick:
        row = known[known["wick_size"] == line.pick].iloc[0]
        ax.axvline(row[line.column], color=SAND, linewidth=9, zorder=0, label="size advised")


def _draw_line(ax, band: pd.DataFrame, points: pd.DataFrame, shown) -> None:
    of_metric = [name for name in band if name != "x"]
    band = band.assign(**{name: shown(band[name]) for name in of_metric})
    for ends, alpha, label in (
        ("candle", 0.08, "range of one fresh candle"),
        ("conf", 0.20, "interval of the mean"),
    ):
        low, high = band[f"{ends}_low"], band[f"{ends}_high"]
        ax.fill_between(band["x"], low, high, color=INK, alpha=alpha, linewidth=0, label=label)
    counting = points.loc[points["in_line"], "x"]
    own = band[band["x"].between(counting.min(), counting.max())]
    beyond = "line beyond what was burned"
    ax.plot(band["x"], band["predicted"], color=INK, linestyle=":", label=beyond)
    ax.plot(own["x"], own["predicted"], color=INK, linewidth=1.6, label="line")


def _draw_candles(ax, points: pd.DataFrame, line) -> None:
    for n, (batch, own) in enumerate(points.groupby("batch", sort=False)):
        for counts, face, words in (
            (True, BLUE, f"a candle, {batch}"),
            (False, "white", f"a candle not in the line, {batch}"),
        ):
            part = own[own["in_line"] == counts]
            if len(part):
                ax.scatter(
                    _aside(part["x"], part.index, line.points),
                    part["value"],
                    s=20,
                    marker=MARKERS[n % len(MARKERS)],
                    facecolor=face,
                    edgecolor=BLUE,
                    linewidth=0.9,
                    zorder=3,
                    label=words,
                )


def _aside(x: pd.Series, index: pd.Index, points: pd.DataFrame) -> pd.Series:
    """Candles of one size a little beside each other, so that none hides another."""
    of_size = points.groupby("x")
    place = of_size.cumcount() - (of_size["x"].transform("size") - 1) / 2.0
    width = max(np.ptp(points["x"]), 1e-9)
    step = 0.035 * width if points["x"].nunique() > 1 else 0.0
    return x + place.reindex(index) * min(step, 0.15 * width / max(place.max(), 1.0))


def _sizing_words(sizing) -> str:
    parts, display = [], sizing.display
    unit = GLOSSARY[sizing.metric].unit
    for line in sizing.series:
        means = line.sizes[line.sizes["mean"].notna()]
        values = zip(means["wick_size"], display.value(means["mean"], unit), strict=True)
        seen = ", ".join(f"size {size} {rounded(mean)}" for size, mean in values)
        parts.append(
            f"{line.series}, mean of the candles burned: {seen or 'none'}; "
            + (f"size {line.pick} is advised" if line.pick else "no size is advised")
        )
    return (
        f"{capital(GLOSSARY[sizing.metric].label)} of every candle against the size of its "
        "wick. " + ". ".join(parts) + "."
    )

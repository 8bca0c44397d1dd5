"""Drawings of comparisons: every candle, the estimate, its interval.

Computes nothing; carries its words.
"""

from __future__ import annotations

from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

from candlelab.judge.words import RULED_OUT, SAFE
from candlelab.pages.figure_style import (
    BLUE,
    INK,
    MARKERS,
    WIDTH,
    colour,
    in_units,
    rows_axes,
    styled,
)
from candlelab.pages.glossary import GLOSSARY, column
from candlelab.text import capital, rounded
from candlelab.units import SI, Display

_MOST_PAIRS = 40  # more rows are a table


def _reach(rows: pd.DataFrame) -> np.ndarray:
    """How far each interval reaches below and above its estimate."""
    return np.abs(rows[["conf_low", "conf_high"]].to_numpy().T - rows["estimate"].to_numpy())


def _said(row, unit: str) -> str:
    """An estimate with its interval, in the unit of its table."""
    ends = (row.estimate, row.conf_low, row.conf_high)
    value, low, high = (rounded(end, digits=3 if unit == "oz/h" else 2) for end in ends)
    return f"{value} ({low} to {high})"


def _in_units(points: pd.DataFrame, estimates: pd.DataFrame, metric: str, display: Display):
    """Candles and estimates in the reader's units."""
    return in_units(points, display), in_units(estimates, display, name="estimates", metric=metric)


def _scatter_in_rows(ax, points: pd.DataFrame, column: str, names: list[str], metric: str) -> None:
    """A dot for each candle in the row of its candidate, spread so that none hides another."""
    look = {"color": BLUE, "alpha": 0.85, "linewidth": 0}
    for row, name in enumerate(names):
        own = points[points[column].astype(str) == name].sort_values(metric)
        offset = np.linspace(-0.06, 0.12, len(own)) if len(own) > 1 else np.full(len(own), 0.05)
        label = "a candle" if row == 0 else None
        ax.scatter(own[metric], row + offset, s=20, label=label, **look)


def _with_fate(name: str, fate: str) -> str:
    mark = {SAFE: "✓ ", RULED_OUT: "✗ "}.get(fate, "")
    return f"{mark}{name}: {fate}" if fate else name


@styled
def draw_estimates(
    points: pd.DataFrame,
    estimates: pd.DataFrame,
    *,
    by: str,
    metric: str,
    fates: dict[str, str] | None = None,
    display: Display = SI,
):
    """Each candle as a dot, each candidate's estimate with its interval below them.

    Parameters
    ----------
    points : DataFrame
        One row for each candle: what it is compared by, and what was measured.
    estimates : DataFrame
        The table ``estimates`` of the comparison.
    by, metric : str
        Columns of ``points``: what is compared, and what was measured.
    fates : dict of str to str, optional
        What the judge says of each candidate; one that is safe so far or ruled out is marked.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    points, estimates = _in_units(points, estimates, metric, display)
    unit = display.symbol(GLOSSARY[metric].unit)
    table = estimates.sort_values("estimate").reset_index(drop=True)
    names = [str(name) for name in table["candidate"]]
    told = [_with_fate(name, (fates or {}).get(name, "")) for name in names]
    figure, ax = rows_axes(told, above=0.1, each=0.56, below=0.85)
    _scatter_in_rows(ax, points, by, names, metric)
    ax.errorbar(
        table["estimate"],
        np.arange(len(names)) + 0.26,
        xerr=_reach(table),
        fmt="D",
        color=INK,
        markersize=5,
        capsize=4,
        linewidth=1.4,
        label="estimate with its 95 % interval",
    )
    ax.margins(x=0.06)
    ax.set_xlabel(display.heading(column(metric)))
    figure.legend(loc="lower center", ncols=2)
    figure.set_label(
        f"{capital(GLOSSARY[metric].label)} of every candle and the estimate of each "
        "candidate with its 95 % interval: "
        + ", ".join(
            f"{name} {_said(row, unit)}" for name, row in zip(told, table.itertuples(), strict=True)
        )
        + "."
    )
    return figure


@styled
def draw_differences(differences: pd.DataFrame, *, metric: str, display: Display = SI):
    """The difference of every pair with its interval.

    One whose interval does not reach zero is more than luck.

    Parameters
    ----------
    differences : DataFrame
        The table ``differences`` of the comparison.
    metric : str
        What was measured, by its column.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    table = in_units(differences, display, name="differences", metric=metric)
    largest = table["estimate"].abs().nlargest(_MOST_PAIRS, keep="first").index
    more = "" if len(largest) == len(table) else f" The {_MOST_PAIRS} largest of {len(table)}."
    table = table.loc[table.index.isin(largest)].reset_index(drop=True)
    names = [
        f"{r.candidate} minus {r.reference}" + (f", {r.within}" if getattr(r, "within", "") else "")
        for r in table.itertuples()
    ]
    shown = (table["conf_low"] > 0) | (table["conf_high"] < 0)
    figure, ax = rows_axes(names, above=0.1, each=0.36, below=0.85)
    for mark, label, part in (("s", "more than luck", shown), ("o", "may be luck", ~shown)):
        rows = table[part]
        if len(rows):
            ax.errorbar(
                rows["estimate"],
                rows.index + 0.12,
                xerr=_reach(rows),
                fmt=mark,
                color=INK,
                markersize=5,
                capsize=3,
                linewidth=1.2,
                label=label,
                markerfacecolor=INK if mark == "s" else "white",
            )
    ax.axvline(0, color=INK, linewidth=1, linestyle="--")
    unit = display.symbol(GLOSSARY[metric].unit)
    ax.set_xlabel(f"difference in {GLOSSARY[metric].label}" + (f" ({unit})" if unit else ""))
    figure.legend(loc="lower center", ncols=2)
    figure.set_label(
        f"Differences in {GLOSSARY[metric].label} with intervals that allow for all pairs.{more} "
        + "; ".join(
            f"{n} {_said(row, unit)}" for n, row in zip(names, table.itertuples(), strict=True)
        )
        + "."
    )
    return figure


@styled
def draw_crossed(
    points: pd.DataFrame,
    estimates: pd.DataFrame,
    *,
    lines: str,
    across: str,
    metric: str,
    display: Display = SI,
):
    """Two things varied at once: a line for each value of one, over the values of the other.

    Parameters
    ----------
    points : DataFrame
        One row for each candle: the two columns, and what was measured.
    estimates : DataFrame
        The table ``estimates`` of the comparison.
    lines, across : str
        Columns of both tables: a line for each value, and what stands along the axis.
    metric : str
        What was measured, by its column of ``points``.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    points, estimates = _in_units(points, estimates, metric, display)
    figure, ax = plt.subplots(figsize=(WIDTH, 3.2), layout="constrained")
    places = {name: n for n, name in enumerate(dict.fromkeys(estimates[across]))}
    for n, (name, own) in enumerate(estimates.groupby(lines, sort=False)):
        shift = 0.06 * (n - (estimates[lines].nunique() - 1) / 2)
        x = own[across].map(places) + shift
        ax.errorbar(
            x,
            own["estimate"],
            yerr=_reach(own),
            color=colour(n),
            marker=MARKERS[n % len(MARKERS)],
            markersize=7,
            capsize=4,
            linestyle=("-", "--", ":")[n % 3],
            label=name,
        )
        dots = points[points[lines] == name]
        beside = dots[across].map(places) + shift + 0.03
        look: dict[str, Any] = {"color": colour(n), "alpha": 0.7, "linewidth": 0}
        ax.scatter(beside, dots[metric], s=18, **look)
    ax.set_xticks(list(places.values()), list(places))
    ax.set_xlim(-0.4, len(places) - 0.6)
    ax.set_ylabel(display.heading(column(metric)))
    figure.legend(loc="outside lower center", ncols=2)
    figure.set_label(
        f"{capital(GLOSSARY[metric].label)} of every candle and the estimate of each "
        "combination with its 95 % interval: "
        + ", ".join(
            f"{a} with {b} {rounded(e)}"
            for a, b, e in estimates[[lines, across, "estimate"]].itertuples(index=False)
        )
        + "."
    )
    return figure


@styled
def draw_trend(
    points: pd.DataFrame, levels: pd.DataFrame, *, against: str, metric: str, display: Display = SI
):
    """Each candle against a number, with the straight line and its interval.

    Parameters
    ----------
    points : DataFrame
        One row for each candle: the number, and what was measured.
    levels : DataFrame
        The table ``levels`` of the trend: the line at the values tested.
    against, metric : str
        Columns of ``points``: the number, and what was measured.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    points, levels = _in_units(points, levels, metric, display)
    figure, ax = plt.subplots(figsize=(WIDTH, 3.2), layout="constrained")
    line = levels.sort_values(against)
    step = 0.02 * (np.ptp(line[against]) or 1.0)
    place = points.groupby(against)[metric].rank(method="first")
    place -= points.groupby(against)[metric].transform("size") / 2.0 + 0.5
    ax.scatter(
        points[against] + step * place, points[metric], s=24, color=BLUE, linewidth=0, zorder=3,
        label="a candle",
    )  # fmt: skip
    ax.set_xticks(line[against])
    ax.plot(line[against], line["estimate"], color=INK, linewidth=1.4, label="straight line")
    ax.fill_between(
        line[against],
        line["conf_low"],
        line["conf_high"],
        color=INK,
        alpha=0.12,
        linewidth=0,
        label="its 95 % interval",
    )
    xlabel, ylabel = (display.heading(column(name)) for name in (against, metric))
    ax.set(xlabel=xlabel, ylabel=ylabel)
    figure.legend(loc="outside lower center", ncols=3)
    figure.set_label(
        f"{capital(GLOSSARY[metric].label)} of every candle against "
        f"{GLOSSARY[against].label}, with a straight line: "
        + ", ".join(
            f"{x:g} {GLOSSARY[against].unit}: {rounded(e)}"
            for x, e in line[[against, "estimate"]].itertuples(index=False)
        )
        + "."
    )
    return figure

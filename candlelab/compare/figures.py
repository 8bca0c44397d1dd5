"""Drawings of comparisons: every candle, the estimate, its interval.

Computes nothing; carries its words.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import seaborn as sns

from candlelab.glossary import GLOSSARY, heading
from candlelab.pages.figure_style import INK, MARKERS, rows_axes, styled
from candlelab.text import capital, rounded


def _reach(rows: pd.DataFrame) -> np.ndarray:
    """How far each interval reaches below and above its estimate."""
    return np.abs(rows[["conf_low", "conf_high"]].to_numpy().T - rows["estimate"].to_numpy())


def _said(row) -> str:
    """An estimate with its interval."""
    low, high = rounded(row.conf_low, digits=2), rounded(row.conf_high, digits=2)
    return f"{rounded(row.estimate, digits=2)} ({low} to {high})"


def _scatter_in_rows(ax, points: pd.DataFrame, column: str, names: list[str], metric: str) -> None:
    """A dot for each candle in the row of its candidate, spread so that none hides another."""
    look = {"color": sns.color_palette("colorblind")[0], "alpha": 0.85, "linewidth": 0}
    for row, name in enumerate(names):
        own = points[points[column].astype(str) == name].sort_values(metric)
        offset = np.linspace(-0.22, 0.0, len(own)) if len(own) > 1 else np.zeros(len(own))
        label = "a candle" if row == 0 else None
        ax.scatter(own[metric], row + offset - 0.05, s=20, label=label, **look)


@styled
def draw_estimates(points: pd.DataFrame, estimates: pd.DataFrame, *, by: str, metric: str):
    """Each candle as a dot, each candidate's estimate with its interval below them.

    Parameters
    ----------
    points : DataFrame
        One row for each candle: what it is compared by, and what was measured.
    estimates : DataFrame
        The table ``estimates`` of the comparison.
    by, metric : str
        Columns of ``points``: what is compared, and what was measured.

    Returns
    -------
    matplotlib.figure.Figure
    """
    table = estimates.sort_values("estimate").reset_index(drop=True)
    names = [str(name) for name in table["candidate"]]
    figure, ax = plt.subplots(figsize=(8.6, 0.48 * len(names) + 1.1), layout="constrained")
    _scatter_in_rows(ax, points, by, names, metric)
    ax.errorbar(
        table["estimate"],
        np.arange(len(names)) + 0.14,
        xerr=_reach(table),
        fmt="D",
        color=INK,
        markersize=5,
        capsize=4,
        linewidth=1.4,
        label="estimate with its 95 % interval",
    )
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.4, -0.6)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(heading(metric))
    figure.legend(loc="outside lower center", ncols=2)
    figure.set_label(
        f"{capital(GLOSSARY[metric].label)} of every candle and the estimate of each "
        "candidate with its 95 % interval: "
        + ", ".join(f"{row.candidate} {_said(row)}" for row in table.itertuples())
        + "."
    )
    return figure


@styled
def draw_differences(differences: pd.DataFrame, *, metric: str):
    """The difference of every pair with its interval.

    One whose interval does not reach zero is more than luck.

    Parameters
    ----------
    differences : DataFrame
        The table ``differences`` of the comparison.
    metric : str
        What was measured, by its column.

    Returns
    -------
    matplotlib.figure.Figure
    """
    table = differences.reset_index(drop=True)
    names = [
        f"{r.candidate} minus {r.reference}" + (f", {r.within}" if getattr(r, "within", "") else "")
        for r in table.itertuples()
    ]
    shown = (table["conf_low"] > 0) | (table["conf_high"] < 0)
    figure, ax = rows_axes(names, above=0.1)
    for mark, label, part in (("s", "more than luck", shown), ("o", "may be luck", ~shown)):
        rows = table[part]
        if len(rows):
            ax.errorbar(
                rows["estimate"],
                rows.index,
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
    unit = GLOSSARY[metric].unit
    ax.set_xlabel(f"difference in {GLOSSARY[metric].label}" + (f" ({unit})" if unit else ""))
    figure.legend(loc="lower center", ncols=2)
    figure.set_label(
        f"Differences in {GLOSSARY[metric].label} with intervals that allow for all pairs: "
        + "; ".join(f"{n} {_said(row)}" for n, row in zip(names, table.itertuples(), strict=True))
        + "."
    )
    return figure


@styled
def draw_crossed(
    points: pd.DataFrame, estimates: pd.DataFrame, *, lines: str, across: str, metric: str
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

    Returns
    -------
    matplotlib.figure.Figure
    """
    figure, ax = plt.subplots(figsize=(8.6, 3.4), layout="constrained")
    places = {name: n for n, name in enumerate(dict.fromkeys(estimates[across]))}
    colours = sns.color_palette("colorblind")
    for n, (name, own) in enumerate(estimates.groupby(lines, sort=False)):
        shift = 0.06 * (n - (estimates[lines].nunique() - 1) / 2)
        x = own[across].map(places) + shift
        ax.errorbar(
            x,
            own["estimate"],
            yerr=_reach(own),
            color=colours[n % len(colours)],
            marker=MARKERS[n % len(MARKERS)],
            markersize=7,
            capsize=4,
            linestyle=("-", "--", ":")[n % 3],
            label=name,
        )
        dots = points[points[lines] == name]
        beside = dots[across].map(places) + shift + 0.03
        look = {"color": colours[n % len(colours)], "alpha": 0.7, "linewidth": 0}
        ax.scatter(beside, dots[metric], s=18, **look)
    ax.set_xticks(list(places.values()), list(places))
    ax.set_xlim(-0.4, len(places) - 0.6)
    ax.set_ylabel(heading(metric))
    figure.legend(loc="outside lower center", ncols=2)
    figure.set_label(
        f"{capital(GLOSSARY[metric].label)} of every candle and the estimate of each "
        "combination with its 95 % interval: "
        + ", ".join(
            f"{a} with {b} {rounded(e, digits=2)}"
            for a, b, e in estimates[[lines, across, "estimate"]].itertuples(index=False)
        )
        + "."
    )
    return figure


@styled
def draw_trend(points: pd.DataFrame, levels: pd.DataFrame, *, against: str, metric: str):
    """Each candle against a number, with the straight line and its interval.

    Parameters
    ----------
    points : DataFrame
        One row for each candle: the number, and what was measured.
    levels : DataFrame
        The table ``levels`` of the trend: the line at the values tested.
    against, metric : str
        Columns of ``points``: the number, and what was measured.

    Returns
    -------
    matplotlib.figure.Figure
    """
    figure, ax = plt.subplots(figsize=(8.6, 3.4), layout="constrained")
    blue = sns.color_palette("colorblind")[0]
    ax.scatter(
        points[against], points[metric], s=24, color=blue, alpha=0.85, linewidth=0, label="a candle"
    )
    line = levels.sort_values(against)
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
    ax.set(xlabel=heading(against), ylabel=heading(metric))
    figure.legend(loc="outside lower center", ncols=3)
    figure.set_label(
        f"{capital(GLOSSARY[metric].label)} of every candle against "
        f"{GLOSSARY[against].label}, with a straight line: "
        + ", ".join(
            f"{x:g} {GLOSSARY[against].unit}: {rounded(e, digits=2)}"
            for x, e in line[[against, "estimate"]].itertuples(index=False)
        )
        + "."
    )
    return figure

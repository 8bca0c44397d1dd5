"""Lives of the candles of one wick, drawn."""

from __future__ import annotations

import matplotlib.pyplot as plt
import pandas as pd

from candlelab.glossary import heading
from candlelab.pages.figure_style import BLUE, INK, ORANGE, SAND, styled


@styled
def draw_lives(lives: pd.DataFrame, bounds, declared: pd.DataFrame):
<<<<<<< HEAD
    """The life of every candle, the mean, both lower bounds, and 10 % about the time to print.

    Parameters
    ----------
    lives, declared : DataFrame
        The tables ``lives`` and ``declared`` of a claim.
    bounds : candlelab.stats.intervals.LowerBounds or None
        The mean and the bounds [h]; None where too few candles were burned to their end.
=======
    """The life of every candle on one axis, with mean, lower bounds and the time to print.

    Parameters
    ----------
    lives : pandas.DataFrame
        One row per candle, the table of that name of what `claim_label` gives.
    bounds : LowerBounds or None
        Mean and lower bounds [h], where there are any.
    declared : pandas.DataFrame
        Times that might be printed, the first of them with its 10 % either way; may be empty.
>>>>>>> h-p1

    Returns
    -------
    matplotlib.figure.Figure
<<<<<<< HEAD
=======
        Its label is its text for a reader who cannot see it.

    Examples
    --------
    >>> from candlelab import claim_label, demo_folder, draw_lives, read_batch
    >>> claims = claim_label([read_batch(demo_folder("confirmation"))], "square braid 2")
    >>> figure = draw_lives(claims.lives, claims.bounds, claims.declared)
    >>> figure.get_label()[:21]
    'Life of every candle:'
>>>>>>> h-p1
    """
    figure, ax = plt.subplots(figsize=(8.6, 0.3 * len(lives) + 1.6), layout="constrained")
    table = lives.reset_index(drop=True)
    rows = table[table["counts"]]
    ax.scatter(rows["life_h"], rows.index, s=30, color=BLUE, label="burnt to its end", zorder=3)
    ahead = table[table["life_projected_h"].notna()]
    if len(ahead):
<<<<<<< HEAD
        life = ahead["life_projected_h"]
        reach = [(life - ahead["life_low_h"]).fillna(0), (ahead["life_high_h"] - life).fillna(0)]
        look = {"fmt": "o", "markerfacecolor": "white", "color": INK, "capsize": 3}
        ax.errorbar(life, ahead.index, xerr=reach, label="projected: does not count", **look)
=======
        reach = [
            (ahead["life_projected_h"] - ahead["life_low_h"]).fillna(0),
            (ahead["life_high_h"] - ahead["life_projected_h"]).fillna(0),
        ]
        ax.errorbar(
            ahead["life_projected_h"],
            ahead.index,
            xerr=reach,
            fmt="o",
            markerfacecolor="white",
            color=INK,
            capsize=3,
            label="projected: does not count",
        )
    _mark(ax, bounds, declared)
    ax.set_yticks(table.index, table["batch"] + ", " + table["candle"])
    ax.set_ylim(len(table) - 0.5, -0.5)
    ax.set_xlabel(heading("life_h"))
    figure.legend(loc="outside lower center", ncols=3)
    seen = ", ".join(f"{row.candle} {row.life_h:.1f} h" for row in rows.itertuples())
    ends = ""
    if bounds is not None:
        ends = (
            f"; mean {bounds.mean:.1f} h, prediction bound {bounds.prediction:.1f} h, tolerance "
            f"bound {bounds.tolerance:.1f} h"
        )
    figure.set_label(f"Life of every candle: {seen or 'none was burnt to its end'}{ends}.")
    return figure


def _mark(ax, bounds, declared: pd.DataFrame) -> None:
    """The time to print with its 10 % either way, the mean and the bounds."""
>>>>>>> h-p1
    if len(declared):
        row = declared.iloc[0]
        ax.axvspan(
            row["band_low_h"],
            row["band_high_h"],
            color=SAND,
            alpha=0.6,
            linewidth=0,
            zorder=0,
            label=f"{row['declared_h']:.0f} h, 10 % either way",
        )
    if bounds is not None:
        for value, style, words in (
            (bounds.mean, "-", "mean"),
            (bounds.prediction, "--", "prediction bound"),
            (bounds.tolerance, ":", "tolerance bound"),
        ):
            ax.axvline(value, color=ORANGE, linestyle=style, linewidth=1.6, label=words)
<<<<<<< HEAD
    ax.set_yticks(table.index, table["batch"] + ", " + table["candle"])
    ax.set_ylim(len(table) - 0.5, -0.5)
    ax.set_xlabel(heading("life_h"))
    figure.legend(loc="outside lower center", ncols=3)
    seen = ", ".join(f"{row.candle} {amount(row.life_h, 'h')}" for row in rows.itertuples())
    said = [f"Life of every candle: {seen or 'none was burnt to its end'}"]
    if bounds is not None:
        said.append(
            f"mean {amount(bounds.mean, 'h')}, prediction bound {amount(bounds.prediction, 'h')}, "
            f"tolerance bound {amount(bounds.tolerance, 'h')}"
        )
    figure.set_label("; ".join(said) + ".")
    return figure
=======
>>>>>>> h-p1

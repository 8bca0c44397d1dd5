"""Lives of the candles of one wick, drawn."""

from __future__ import annotations

from typing import Any

import matplotlib.pyplot as plt
import pandas as pd

from candlelab.claim.tables import hours_at_least, printed
from candlelab.pages.figure_style import BLUE, INK, ORANGE, SAND, WIDTH, styled
from candlelab.pages.glossary import column
from candlelab.text import amount


@styled
def draw_lives(lives: pd.DataFrame, bounds, declared: pd.DataFrame):
    """The life of every candle, the mean, both lower bounds, and 10 % about the time to print.

    Parameters
    ----------
    lives, declared : DataFrame
        The tables ``lives`` and ``declared`` of a claim.
    bounds : candlelab.stats.intervals.LowerBounds or None
        The mean and the bounds [h]; None where too few candles were burned to their end.

    Returns
    -------
    matplotlib.figure.Figure
    """
    figure, ax = plt.subplots(figsize=(WIDTH, 0.3 * len(lives) + 1.6), layout="constrained")
    table = lives.reset_index(drop=True)
    rows = table[table["counts"]]
    ax.scatter(rows["life_h"], rows.index, s=30, color=BLUE, label="burned to its end", zorder=3)
    ahead = table[table["life_projected_h"].notna()]
    if len(ahead):
        life = ahead["life_projected_h"]
        reach = [(life - ahead["life_low_h"]).fillna(0), (ahead["life_high_h"] - life).fillna(0)]
        look: dict[str, Any] = {"fmt": "o", "markerfacecolor": "white", "color": INK, "capsize": 3}
        ax.errorbar(life, ahead.index, xerr=reach, label="projected: does not count", **look)
    if len(declared):
        row = printed(declared)
        words = f"{amount(row['declared_h'], 'h', 0)}, 10 % either way"
        band = row["band_low_h"], row["band_high_h"]
        ax.axvspan(*band, label=words, color=SAND, alpha=0.6, linewidth=0, zorder=0)
        ax.axvline(row["declared_h"], color=INK, linewidth=2.2, zorder=1)
        at = row["declared_h"], 1.0
        most = f"at most {amount(row['declared_h'], 'h', 0)}"
        ax.annotate(most, at, (0, 3), ax.get_xaxis_transform(), "offset points", ha="center")
    if bounds is not None:
        sure = f"({100 * bounds.confidence:g} in 100 sure)"
        next_one, most_of = f"next candle {sure}", f"{10 * bounds.coverage:g} in 10 candles {sure}"
        for value, style, words in (
            (bounds.mean, "-", "mean"),
            (bounds.prediction, "--", next_one),
            (bounds.tolerance, ":", most_of),
        ):
            ax.axvline(value, color=ORANGE, linestyle=style, linewidth=1.6, label=words)
    ax.set_yticks(table.index, table["batch"] + ", " + table["candle"])
    ax.set_ylim(len(table) - 0.5, -0.5)
    ax.set_xlabel(column("life_h").heading)
    figure.legend(loc="outside lower center", ncols=2)
    seen = ", ".join(f"{row.candle} {amount(row.life_h, 'h')}" for row in rows.itertuples())
    said = [f"Life of every candle: {seen or 'none was burned to its end'}"]
    if bounds is not None:
        said.append(
            f"mean {amount(bounds.mean, 'h')}, {next_one}: "
            f"{hours_at_least(bounds.prediction)}, {most_of}: "
            f"{hours_at_least(bounds.tolerance)}"
        )
    figure.set_label("; ".join(said) + ".")
    return figure

"""Draws tables; computes nothing. Every figure carries its words for a reader who cannot see it.

A figure's label (``figure.get_label()``) is its alternative text. Candles differ by marker and line
as well as by color, so a page printed in black and white can be read.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

from candlelab.pages.figure_style import INK, WIDTH, in_units, label_ends, rows_axes, short, styled
from candlelab.pages.glossary import column
from candlelab.report.panels import first_of, look, said
from candlelab.text import rounded
from candlelab.units import SI, Display

_MOST_KEYS = 12  # a longer key covers the lines, and nobody can tell so many apart
_MOST_NAMED = 3  # candles of a candidate that are named beside their dots


@styled
def draw_wax_left(candles: pd.DataFrame, *, hang_up_pct: float, order: list[str] | None = None):
    """Wax left of each candle, as a share of its fill: a row per candidate, a dot per candle.

    Parameters
    ----------
    candles : DataFrame
        The table ``candles`` of a report.
    hang_up_pct : float
        Share of the fill over which wax that is left counts as hang-up [%].
    order : list of str, optional
        The candidates from above; of many the first.

    Returns
    -------
    matplotlib.figure.Figure
        Hollow dots were not burned to their end; crosses were set aside.
    """
    poured = set(candles["candidate"])
    names, more = first_of([c for c in order or candles["candidate"] if c in poured])
    figure, ax = rows_axes(names, above=0.3, below=0.85)
    most = max(10.0, candles["wax_left_pct"].max() * 1.2)
    ax.set_xlim(min(0.0, candles["wax_left_pct"].min() * 1.2), most)
    row_of = {name: n + 0.14 for n, name in enumerate(names)}
    _left(ax, candles.assign(row=candles["candidate"].map(row_of)), hang_up_pct)
    ax.axvline(hang_up_pct, color=INK, linestyle="--", linewidth=1)
    ax.annotate(
        f"hang-up over {hang_up_pct:g} %", (hang_up_pct, 1.0), xycoords=("data", "axes fraction"),
        xytext=(2, 3), textcoords="offset points", fontsize=9,
    )  # fmt: skip
    ax.set_xlabel(column("wax_left_pct").heading + " of the fill")
    looks = (("o", INK), ("o", "white"), ("x", INK))
    keys = [
        plt.Line2D([], [], color=INK, linestyle="", marker=marker, markerfacecolor=face)
        for marker, face in looks
    ]
    words = ["burned to the end", "not burned to the end", "set aside"]
    figure.legend(keys, words, loc="lower center", ncols=3, columnspacing=1.0, handletextpad=0.1)
    left = candles.set_index("candle")["wax_left_pct"]
    each = f"{said(left, 1, ' %')}" if len(left) <= 60 else f"middle {left.median():.1f} %"
    figure.set_label(f"Wax left of each candle as a share of its fill: {each}.{more}")
    return figure


def _left(ax, candles: pd.DataFrame, hang_up_pct: float) -> None:
    """The candles in their rows; the few of a candidate with much wax left are named."""
    ended, out = candles["ended"].astype(bool), candles["excluded"].astype(bool)
    for marker, face, which in (
        ("o", INK, ended & ~out),
        ("o", "white", ~ended & ~out),
        ("x", INK, out),
    ):
        look = {"marker": marker, "s": 26, "color": INK, "linewidth": 1.0, "zorder": 3}
        look |= {"facecolor": face} if marker == "o" else {}
        ax.scatter(candles["wax_left_pct"][which], candles["row"][which], **look)
    much = candles[candles["wax_left_pct"] > max(hang_up_pct, ax.get_xlim()[1] / 10)]
    most = much.sort_values("wax_left_pct", ascending=False, kind="stable")
    for one in most.groupby("row").head(_MOST_NAMED).itertuples():
        then = f", then {one.replaced_by}" if one.replaced else ""
        ax.annotate(f"{short(one.candle, 24)}{then}", (one.wax_left_pct, one.row), xytext=(5, 0),
                    textcoords="offset points", va="center", fontsize=8.5)  # fmt: skip


@styled
def draw_wick_changes(changes: pd.DataFrame, *, display: Display = SI):
    """Burn rate, pool and wall before and after each wick change, a line per candle.

    Parameters
    ----------
    changes : DataFrame
        The table ``wick_changes`` of a report.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    changes = in_units(changes, display)
    rate, wall = (display.heading(column(name)) for name in ("burn_rate_g_per_h", "wall_max_c"))
    pairs = (
        ("burn_rate_before_g_per_h", "burn_rate_after_g_per_h", _two(rate)),
        ("pool_before_pct", "pool_after_pct", "widest pool\n(%)"),
        ("wall_before_c", "wall_after_c", _two(wall.replace(" temperature", ""))),
    )
    few = len(changes) <= _MOST_KEYS
    keys = 0.19 * len(changes) if few else 0.0
    height = 2.3 + keys
    figure, axes = plt.subplots(1, 3, figsize=(WIDTH, height))
    figure.subplots_adjust(
        left=0.42 / WIDTH,
        right=1 - 0.45 / WIDTH,
        bottom=(0.4 + keys) / height,
        top=1 - 0.45 / height,
        wspace=0.75,
    )
    for ax, (before, after, words) in zip(axes, pairs, strict=True):
        for n, row in changes.reset_index(drop=True).iterrows():
            label = short(f"{row['candle']}: {row['wick_before']} to {row['wick_after']}", 70)
            ax.plot([0, 1], [row[before], row[after]], label=label, **look(n))
        ax.set_xlim(-0.2, 1.2)
        ax.set_xticks([0, 1], ["before", "after"])
        ax.set_title(words, fontsize=9, pad=8)
        named = zip(changes[after], changes["candle"], strict=True)
        places = [(height, short(name, 8)) for height, name in named if np.isfinite(height)]
        label_ends(ax, places if few else [])
    if few:
        figure.legend(*axes[0].get_legend_handles_labels(), loc="lower left", fontsize=9)
    told, unit = [], display.symbol("g/h")
    for row in changes.itertuples():
        ends = [
            rounded(value, unit) if np.isfinite(value) else "set aside"
            for value in (row.burn_rate_before_g_per_h, row.burn_rate_after_g_per_h)
        ]
        told.append(
            f"{row.candle}, {row.wick_before} to {row.wick_after}: {ends[0]} to {ends[1]} {unit}."
        )
    figure.set_label(
        "Burn rate, widest pool and highest wall temperature before and after each wick change. "
        + " ".join(told)
    )
    return figure


def _two(heading: str) -> str:
    """A heading in two lines, its unit below."""
    return heading.replace(" (", "\n(")

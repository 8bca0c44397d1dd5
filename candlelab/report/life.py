"""Wall, flame and melt pool through the life of each candle, against their limits.

Computes nothing; carries its words.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

from candlelab.pages.figure_style import INK, WIDTH, blank, in_units, short, styled
from candlelab.pages.glossary import column
from candlelab.report.panels import MOST_LINES, draw_range, first_of, look
from candlelab.units import SI, Display

_SHOWN = {"wall_max_c": "wall", "flame_max_mm": "flame", "pool_depth_max_mm": "melt pool depth"}


@styled
def draw_life(
    burns: pd.DataFrame, *, limits: dict[str, float], order: list[str], display: Display = SI
):
    """The worst wall, flame and melt pool of every burn: a row per candidate, a line per candle.

    Parameters
    ----------
    burns : DataFrame
        The table ``burns`` of a report.
    limits : dict of str to float
        Limits by column of ``burns``, as `reading_limits` gives them.
    order : list of str
        The candidates from above.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
        A dashed line is the limit; a cross, with the reading beside it, is over it. Crosses without
        a reading are burns that were set aside.
    """
    columns = [name for name in _SHOWN if burns[name].notna().any()]
    if not columns:
        return blank("No wall, flame or melt pool was measured.")
    table, (names, more) = in_units(burns, display), first_of(order)
    ends = {name: display.value(limits[name], column(name).unit) for name in limits}
    height = 0.92 * len(names) + 1.05
    figure, axes = plt.subplots(
        len(names), len(columns), figsize=(WIDTH, height), sharex=True, squeeze=False
    )
    figure.subplots_adjust(
        left=0.42 / WIDTH, right=1 - 0.1 / WIDTH, bottom=0.48 / height, top=1 - 0.6 / height,
        wspace=0.3, hspace=0.55,
    )  # fmt: skip
    for c, name in enumerate(columns):
        low, high = _reach(table[name], ends.get(name, np.nan))
        for r, candidate in enumerate(names):
            ax = axes[r, c]
            ax.set_ylim(low, high)
            ax.tick_params(labelsize=8, length=2)
            ax.locator_params(axis="y", nbins=3)
            ax.xaxis.get_major_locator().set_params(integer=True)
            own = table[table["candidate"] == candidate]
            _life(ax, own, name, ends.get(name, np.nan))
        axes[-1, c].set_xlabel("burn", fontsize=9)
        unit = display.symbol(column(name).unit)
        head = f"{_SHOWN[name]} ({unit})"
        if name in limits:
            head += f"\nlimit {display.bare(limits[name], column(name).unit)}"
        axes[0, c].annotate(head, (0.0, 1.0), xycoords="axes fraction", xytext=(0, 17),
                            textcoords="offset points", fontsize=9)  # fmt: skip
    for r, candidate in enumerate(names):
        axes[r, 0].set_title(short(candidate, 60), fontsize=9.5, pad=2)
    figure.set_label(_words(burns, columns, limits, display) + more)
    return figure


def _reach(values: pd.Series, limit: float) -> tuple[float, float]:
    low, high = np.nanmin([*values, limit]), np.nanmax([*values, limit])
    room = 0.12 * (high - low or 1.0)
    return low - room, high + room


def _life(ax, burns: pd.DataFrame, name: str, limit: float) -> None:
    """One candidate in one quantity."""
    if np.isfinite(limit):
        ax.axhline(limit, color=INK, linewidth=1.0, linestyle="--")
    if burns["candle"].nunique() > MOST_LINES:
        draw_range(ax, burns, name, burns["candle"].nunique())
        return
    for n, (_, line) in enumerate(burns.groupby(["candle", "run"], sort=False)):
        kept, out = line[~line["excluded"]], line[line["excluded"]]
        ax.plot(kept["burn"], kept[name], **look(n) | {"markersize": 2.5, "linewidth": 1.0})
        ax.plot(out["burn"], out[name], "x", color=INK, markersize=4)
    over = burns[burns[name] > limit + 1e-9]
    if len(over):
        worst = over.loc[over.groupby("candle")[name].idxmax()]
        ax.plot(worst["burn"], worst[name], "X", color=INK, markersize=7)
        row = worst.loc[worst[name].idxmax()]
        ax.annotate(
            short(row["candle"], 10), (row["burn"], row[name]), xytext=(-5, 0), ha="right",
            va="center", fontsize=8, textcoords="offset points",
        )  # fmt: skip


def _words(
    burns: pd.DataFrame, columns: list[str], limits: dict[str, float], display: Display
) -> str:
    said = []
    for name in columns:
        unit, highest = column(name).unit, burns.groupby("candidate", sort=False)[name].max()
        each = ", ".join(
            f"{candidate} {display.amount(value, unit)}"
            for candidate, value in highest.items()
            if np.isfinite(value)
        )
        limit, over = "", ""
        if name in limits:
            both = display.both if unit == "°C" else display.written
            limit = f", limit {both(limits[name], unit)}"
            n = burns.loc[burns[name] > limits[name] + 1e-9, "candle"].nunique()
            over = f"; candles over it: {n}"
        said.append(f"{_SHOWN[name].capitalize()}{limit}: highest {each}{over}.")
    return "Worst readings of every burn through each candle's life. " + " ".join(said)

"""Wall, flame and melt pool through the life of each candle, against their limits.

Computes nothing; carries its words.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.patheffects import withStroke

from candlelab.pages.figure_style import INK, WIDTH, blank, in_units, short, styled
from candlelab.pages.glossary import column
from candlelab.pages.small_panels import Panel, Sheet, ends_with_room, ticks
from candlelab.report.panels import MOST_LINES, draw_range, first_of, look
from candlelab.units import SI, Display

_SHOWN = {"wall_max_c": "wall", "flame_max_mm": "flame", "pool_depth_max_mm": "melt pool depth"}
_LETTER = 5.5  # width of a letter of 8 points [points]


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
        A dashed line is the limit; a thick cross is a candle's worst reading over it, and the
        worst of all has the candle's name beside it. Thin crosses are burns that were set aside.
    """
    columns = [name for name in _SHOWN if burns[name].notna().any()]
    if not columns:
        return blank("No wall, flame or melt pool was measured.")
    table, (names, more) = in_units(burns, display), first_of(order)
    height = 0.92 * len(names) + 1.05
    sheet = Sheet(
        (WIDTH, height), len(names), len(columns),
        left=0.42, right=0.1, bottom=0.48, top=0.6, beside=0.3, between=0.55,
    )  # fmt: skip
    own = [_of_one(table, candidate, columns) for candidate in names]
    x_ends = ends_with_room(np.concatenate([one["burn"] for one in own]))
    x_ticks = ticks(x_ends, 5, whole=True)
    for c, name in enumerate(columns):
        unit, limit = column(name).unit, np.nan
        head = f"{_SHOWN[name]} ({display.symbol(unit)})"
        if name in limits:
            limit = display.value(limits[name], unit)
            head += f"\nlimit {display.bare(limits[name], unit)}"
        y_ends = _reach(table[name], limit)
        y_ticks = ticks(y_ends, 3)
        for r, one in enumerate(own):
            panel = sheet.panel(r, c, x_ends, y_ends)
            panel.frame(x_ticks, y_ticks, length=2.0)
            panel.scale_beside(y_ticks, "", size=8, length=2.0, letters=9)
            if r == len(names) - 1:
                panel.scale_below(x_ticks, "burn", size=8, length=2.0, letters=9)
            _life(panel, one, name, limit)
        sheet.panel(0, c, x_ends, y_ends).above(head, size=9, pad=17.0)
    for r, candidate in enumerate(names):
        sheet.panel(r, 0, x_ends, x_ends).title(short(candidate, 60), size=9.5, pad=2.0)
    figure = sheet.drawn()
    figure.set_label(_words(burns, columns, limits, display) + more)
    return figure


def _reach(values: pd.Series, limit: float) -> tuple[float, float]:
    low, high = np.nanmin([*values, limit]), np.nanmax([*values, limit])
    room = 0.12 * (high - low or 1.0)
    return low - room, high + room


def _of_one(table: pd.DataFrame, candidate: str, columns: list[str]) -> pd.DataFrame:
    """The burns of one candidate, with the number of the line that each stands on."""
    kept = table[["candle", "run", "burn", "excluded", *columns]]
    burns = kept[table["candidate"] == candidate]
    return burns.assign(line=burns.groupby(["candle", "run"], sort=False).ngroup())


def _life(panel: Panel, burns: pd.DataFrame, name: str, limit: float) -> None:
    """One candidate in one quantity."""
    if np.isfinite(limit):
        panel.level(limit, color=INK, linewidth=1.0, linestyle="--")
    candles = len(set(burns["candle"]))
    if candles > MOST_LINES:
        draw_range(panel, burns, name, candles)
        return
    line = burns["line"].to_numpy()
    burn, value = burns["burn"].to_numpy(), burns[name].to_numpy(dtype=float)
    out = burns["excluded"].to_numpy(dtype=bool)
    for n in np.unique(line):
        own = (line == n) & ~out
        panel.line(burn[own], value[own], **look(n) | {"markersize": 2.5, "linewidth": 1.0})
    if out.any():
        panel.line(burn[out], value[out], color=INK, marker="x", markersize=4, linestyle="")
    is_over = value > limit + 1e-9
    if is_over.any():
        over = burns[is_over]
        worst = over.loc[over.groupby("candle")[name].idxmax()]
        panel.line(
            worst["burn"], worst[name], color=INK, marker="X", markersize=7, linestyle="",
            zorder=2.1,
        )  # fmt: skip
        row = worst.loc[worst[name].idxmax()]
        words, x = short(row["candle"], 10), float(row["burn"])
        room = (6.0 + _LETTER * len(words)) * np.ptp(panel.x_ends) / panel.wide
        near = (worst["burn"] > x) & (worst["burn"] < x + room)
        left = x + room > panel.x_ends[1] or near.any()
        panel.text(x, row[name], words, right=-5.0 if left else 5.0, ha="right" if left else "left",
                   va="center", fontsize=8, path_effects=[withStroke(linewidth=2, foreground="w")],
                   zorder=4)  # fmt: skip


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

"""Figures with a small panel for each candidate: burn rates and pools, burn by burn.

Compute nothing; a figure's label (``figure.get_label()``) is its text for a reader who cannot see
it. Candles differ by marker and line as well as by color, so that a page printed in black and white
can be read.
"""

from __future__ import annotations

import textwrap

import numpy as np
import pandas as pd

from candlelab.pages.figure_style import (
    INK,
    MARKERS,
    SOFT,
    WIDTH,
    blank,
    colour,
    in_units,
    short,
    styled,
)
from candlelab.pages.glossary import column
from candlelab.pages.small_panels import Panel, Sheet, ends_with_room, ticks
from candlelab.units import SI, Display

_LINES = ("-", "--", ":", "-.")
MOST_LINES = 8  # more candles of a candidate are drawn as their middle and their range
MOST_PANELS = 12
_BAND = "#c9c9c9"
_NTH = {2: "2nd", 3: "3rd"}  # wick of its candle


def first_of(names) -> tuple[list[str], str]:
    """The names that are drawn, each once, and what is said of those that are not."""
    names = list(dict.fromkeys(names))
    if len(names) <= MOST_PANELS:
        return names, ""
    return names[:MOST_PANELS], f" The first {MOST_PANELS} of {len(names)} candidates are drawn."


def _panels(names: list[str], x_ends, y_ends, words: tuple[str, str], *, whole=False):
    """A sheet and its small panels, one per name, with room for names at their right."""
    across = min(2, max(1, len(names)))
    down = -(-len(names) // across)
    letters = 30 if across == 2 else 74
    titles = [textwrap.fill(short(name, 2 * letters - 8), letters) for name in names]
    more = 0.16 if any("\n" in title for title in titles) else 0.0
    sheet = Sheet(
        (WIDTH, (1.75 + more) * down + 0.6), down, across, left=0.58, right=0.56, bottom=0.5,
        top=0.25 + more, beside=0.36, between=0.22 + more / 1.7,
    )  # fmt: skip
    panels = {}
    x_ticks = ticks(x_ends, 5 if across == 2 else 9, whole=whole)
    y_ticks = ticks(y_ends, 5)
    for n, (name, title) in enumerate(zip(names, titles, strict=True)):
        panel = panels[name] = sheet.panel(n // across, n % across, x_ends, y_ends)
        panel.frame(x_ticks, y_ticks, length=3.5)
        if n % across == 0:
            panel.scale_beside(y_ticks, words[1], size=9.5, length=3.5, letters=10)
        if n + across >= len(names):
            panel.scale_below(x_ticks, words[0], size=9.5, length=3.5, letters=10)
        panel.title(title, size=9.5)
    return sheet, panels


def said(values: pd.Series, digits: int, unit: str) -> str:
    """Each name with its number and unit, for the words of a figure."""
    said = (
        f"{name} {value:z.{digits}f}{unit}" if np.isfinite(value) else f"{name} not measured"
        for name, value in values.items()
    )
    return ", ".join(said) or "nothing was measured"


@styled
def draw_burn_rates(burns: pd.DataFrame, *, order: list[str] | None = None, display: Display = SI):
    """Burn rate of every burn against its number: a panel per candidate, a line per candle.

    A line ends at the name of its candle; "2nd" is its second wick. Burns that were set aside are
    crosses. Many candles are drawn as their middle and their range.

    Parameters
    ----------
    burns : pandas.DataFrame
        The table of `burn_cycles`.
    order : list of str, optional
        The candidates in the order in which they are drawn; of many the first.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is its text for a reader who cannot see it.

    Examples
    --------
    >>> from candlelab import burn_cycles, demo_folder, draw_burn_rates, read_batch
    >>> figure = draw_burn_rates(burn_cycles(read_batch(demo_folder("waxes"))))
    >>> figure.get_label()[:16]
    'Burn rate in g/h'
    """
    burns, unit = in_units(burns, display), display.symbol("g/h")
    names, more = first_of(order or burns["candidate"])
    kept = burns[["candidate", "candle", "run", "burn", "burn_rate_g_per_h", "excluded"]]
    drawn = kept[kept["candidate"].isin(names)]
    words = "burn of the candle", display.heading(column("burn_rate_g_per_h"))
    y_ends = 0.0, burns["burn_rate_g_per_h"].max() * 1.08 or 1.0
    sheet, panels = _panels(names, ends_with_room(drawn["burn"]), y_ends, words, whole=True)
    for name, of_candidate in drawn.groupby("candidate"):
        _rate_lines(panels[name], of_candidate)
    figure = sheet.drawn()
    means = burns[~burns["excluded"]].groupby("candidate", sort=False)["burn_rate_g_per_h"].mean()
    figure.set_label(
        f"Burn rate in {unit} of every burn against the number of the burn, a panel for each "
        f"candidate and a line for each candle.{more} Means over the burns that count: "
        f"{said(means.loc[means.index.isin(names)], 1 if unit == 'g/h' else 3, f' {unit}')}."
    )
    return figure


def _rate_lines(panel: Panel, burns: pd.DataFrame) -> None:
    """The burns of one candidate, each line with the name of its candle at its end."""
    lines = list(burns.groupby(["candle", "run"], sort=False))
    if len(lines) > MOST_LINES:
        draw_range(panel, burns[~burns["excluded"]], "burn_rate_g_per_h", burns["candle"].nunique())
        return
    ends = []
    for n, ((candle, run), line) in enumerate(lines):
        burn, rate = line["burn"].to_numpy(), line["burn_rate_g_per_h"].to_numpy(dtype=float)
        out = line["excluded"].to_numpy(dtype=bool)
        if not out.all():
            panel.line(burn[~out], rate[~out], **look(n) | {"markersize": 4})
        if out.any():
            panel.line(burn[out], rate[out], color=INK, marker="x", markersize=5, linestyle="")
        measured = rate[~np.isnan(rate)]
        if len(measured):
            note = " ×" if out.all() else f" {_NTH.get(run, run)}" if run > 1 else ""
            ends.append((measured[-1], f"{short(candle, 8)}{note}"))
    panel.name_ends(ends, size=8)


def draw_range(panel: Panel, burns: pd.DataFrame, name: str, candles: int) -> None:
    """Middle and range over candles, burn by burn, where there are too many for lines."""
    by = burns.groupby("burn")[name]
    low, middle, high = by.min(), by.median(), by.max()
    panel.band(low.index, low, high, _BAND)
    panel.line(middle.index, middle, color=INK, linewidth=1.6)
    panel.corner(0.98, 0.04, f"{candles} candles:\nmiddle and range", ha="right", va="bottom",
                 fontsize=8)  # fmt: skip


def look(n: int) -> dict:
    """Colour, marker and line of the n-th candle, which differ in all three."""
    return {
        "color": colour(n),
        "marker": MARKERS[n % len(MARKERS)],
        "linestyle": _LINES[n % len(_LINES)],
    }


@styled
def draw_pool_growth(checks: pd.DataFrame, *, full_pct: float, order: list[str] | None = None):
    """Pool width against time since lighting: a panel per candidate, a line per burn.

    The first burn of each candle is dashed with dots, its last one solid, those between are thin.
    Of many candles the range of all burns is drawn, with the middle of first and last ones.

    Parameters
    ----------
    checks : pandas.DataFrame
        One row per check that measured the pool: ``candidate``, ``candle``, ``burn``,
        ``elapsed_h``, ``pool_share_pct``.
    full_pct : float
        Share of the width at which the pool counts as full [%].
    order : list of str, optional
        The candidates in the order in which they are drawn; of many the first.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is its text for a reader who cannot see it.
    """
    if checks.empty:
        return blank("No melt pool was measured.")
    measured = set(checks["candidate"])
    names, more = first_of([c for c in order or checks["candidate"] if c in measured])
    x_ends = 0.0, checks["elapsed_h"].max() * 1.03 or 1.0
    y_ends = 0.0, max(108.0, checks["pool_share_pct"].max() * 1.03)
    words = "time since lighting (h)", "pool (% of the width)"
    sheet, panels = _panels(names, x_ends, y_ends, words)
    for name, of_candidate in checks[checks["candidate"].isin(names)].groupby("candidate"):
        panels[name].level(full_pct, color=INK, linewidth=0.9, linestyle=":")
        _pool_lines(panels[name], of_candidate)
    panels[names[0]].name_ends([(full_pct, "full")], size=8)
    figure = sheet.drawn()
    widest = checks.groupby("candidate", sort=False)["pool_share_pct"].max()
    figure.set_label(
        "Pool width as a share of the inner diameter against time since lighting, a panel for each "
        "candidate, a line for each burn; first burns are dashed with dots, last ones are solid, "
        f"and a dotted line marks the full pool at {full_pct:.0f} %.{more} "
        f"Widest pool: {said(widest.loc[widest.index.isin(names)], 0, ' %')}."
    )
    return figure


_DASHED = {"color": INK, "linestyle": "--", "linewidth": 1.4}
_DOTS = {"color": INK, "marker": "o", "markersize": 3.5, "linestyle": ""}
_SOLID = {"color": INK, "linewidth": 1.4}


def _pool_lines(panel: Panel, checks: pd.DataFrame) -> None:
    last = checks.groupby("candle")["burn"].transform("max")
    first, final = checks[checks["burn"] == 1], checks[(checks["burn"] == last) & (last > 1)]
    if checks["candle"].nunique() > MOST_LINES:
        by = checks.groupby((4.0 * checks["elapsed_h"]).round() / 4.0)["pool_share_pct"]
        panel.band([0, *by.min().index], [0, *by.min()], [0, *by.max()], _BAND)
        first, final = (_middle(part) for part in (first, final))
    else:
        between = checks.drop(index=[*first.index, *final.index])
        _from_lighting(panel, between, ["candle", "burn"], color=SOFT, linewidth=0.5)
    _from_lighting(panel, first, ["candle"], **_DASHED)
    panel.line(first["elapsed_h"], first["pool_share_pct"], **_DOTS)
    _from_lighting(panel, final, ["candle"], **_SOLID)
    panel.key(0.53, 0.2, "first burn", _DASHED, _DOTS)
    panel.key(0.53, 0.09, "last burn", _SOLID)


def _from_lighting(panel: Panel, checks: pd.DataFrame, by: list[str], **how) -> None:
    """A line for each group, from no pool at the time of lighting."""
    hours, share = checks["elapsed_h"].to_numpy(), checks["pool_share_pct"].to_numpy()
    line = checks.groupby(by, sort=False).ngroup().to_numpy()
    for n in np.unique(line):
        panel.line(np.r_[0.0, hours[line == n]], np.r_[0.0, share[line == n]], **how)


def _middle(checks: pd.DataFrame) -> pd.DataFrame:
    """The middle over candles at each quarter of an hour."""
    hours = (4.0 * checks["elapsed_h"]).round() / 4.0
    return (
        checks.assign(elapsed_h=hours)
        .groupby("elapsed_h", as_index=False)["pool_share_pct"]
        .median()
        .assign(candle="all")
    )

"""Figures with a small panel for each candidate: burn rates and pools, burn by burn.

Compute nothing; a figure's label (``figure.get_label()``) is its text for a reader who cannot see
it. Candles differ by marker and line as well as by color, so that a page printed in black and white
can be read.
"""

from __future__ import annotations

import textwrap

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from matplotlib.collections import LineCollection

from candlelab.pages.figure_style import (
    INK,
    MARKERS,
    SOFT,
    WIDTH,
    blank,
    colour,
    in_units,
    label_ends,
    short,
    styled,
)
from candlelab.pages.glossary import column
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


def _panels(names: list[str]):
    """Small panels that share their axes, one per name, with room for names at their right.

    Margins are set by hand: working them out takes longer than drawing.
    """
    across = min(2, max(1, len(names)))
    down = -(-len(names) // across)
    letters = 30 if across == 2 else 74
    titles = [textwrap.fill(short(name, 2 * letters - 8), letters) for name in names]
    more = 0.16 if any("\n" in title for title in titles) else 0.0
    height = (1.75 + more) * down + 0.6
    figure, axes = plt.subplots(
        down, across, figsize=(WIDTH, height), sharex=True, sharey=True, squeeze=False
    )
    figure.subplots_adjust(
        left=0.58 / WIDTH,
        right=1 - 0.56 / WIDTH,
        bottom=0.5 / height,
        top=1 - (0.25 + more) / height,
        wspace=0.36,
        hspace=0.22 + more / 1.7,
    )
    for ax in axes.flat[len(names) :]:
        ax.remove()
    for ax, title in zip(axes.flat, titles, strict=False):
        ax.set_title(title, fontsize=9.5)
    below = [
        axes[max(r for r in range(down) if r * across + c < len(names)), c]
        for c in range(min(across, len(names)))
    ]
    for ax in below:
        ax.tick_params(labelbottom=True)
    return figure, dict(zip(names, axes.flat, strict=False)), below, list(axes[:, 0])


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
    figure, axes, below, left = _panels(names)
    top = burns["burn_rate_g_per_h"].max() * 1.08 or 1.0
    for ax in axes.values():
        ax.set_ylim(0, top)
        ax.xaxis.get_major_locator().set_params(integer=True)
    for name, of_candidate in burns[burns["candidate"].isin(names)].groupby("candidate"):
        _rate_lines(axes[name], of_candidate)
    for ax in below:
        ax.set_xlabel("burn of the candle")
    for ax in left:
        ax.set_ylabel(display.heading(column("burn_rate_g_per_h")))
    means = burns[~burns["excluded"]].groupby("candidate", sort=False)["burn_rate_g_per_h"].mean()
    figure.set_label(
        f"Burn rate in {unit} of every burn against the number of the burn, a panel for each "
        f"candidate and a line for each candle.{more} Means over the burns that count: "
        f"{said(means.loc[means.index.isin(names)], 1 if unit == 'g/h' else 3, f' {unit}')}."
    )
    return figure


def _rate_lines(ax, burns: pd.DataFrame) -> None:
    """The burns of one candidate, each line with the name of its candle at its end."""
    lines = list(burns.groupby(["candle", "run"], sort=False))
    if len(lines) > MOST_LINES:
        draw_range(ax, burns[~burns["excluded"]], "burn_rate_g_per_h", burns["candle"].nunique())
        return
    ends = []
    for n, ((candle, run), line) in enumerate(lines):
        kept, out = line[~line["excluded"]], line[line["excluded"]]
        if len(kept):
            rates = kept["burn_rate_g_per_h"]
            ax.plot(kept["burn"], rates, markersize=4, **look(n))
        if len(out):
            ax.plot(out["burn"], out["burn_rate_g_per_h"], "x", color=INK, markersize=5)
        rates = line["burn_rate_g_per_h"].dropna()
        if len(rates):
            note = " ×" if kept.empty else f" {_NTH.get(run, run)}" if run > 1 else ""
            ends.append((rates.iloc[-1], f"{short(candle, 8)}{note}"))
    label_ends(ax, ends, size=8)


def draw_range(ax, burns: pd.DataFrame, name: str, candles: int) -> None:
    """Middle and range over candles, burn by burn, where there are too many for lines."""
    by = burns.groupby("burn")[name]
    low, middle, high = by.min(), by.median(), by.max()
    ax.fill_between(low.index, low, high, color=_BAND, linewidth=0)
    ax.plot(middle.index, middle, color=INK, linewidth=1.6)
    ax.annotate(f"{candles} candles:\nmiddle and range", (0.98, 0.04), xycoords="axes fraction",
                ha="right", va="bottom", fontsize=8)  # fmt: skip


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
    figure, axes, below, left = _panels(names)
    for ax in axes.values():
        ax.set(
            xlim=(0, checks["elapsed_h"].max() * 1.03 or 1.0),
            ylim=(0, max(108.0, checks["pool_share_pct"].max() * 1.03)),
        )
        ax.axhline(full_pct, color=INK, linewidth=0.9, linestyle=":")
    for name, of_candidate in checks[checks["candidate"].isin(names)].groupby("candidate"):
        _pool_lines(axes[name], of_candidate)
    for ax in below:
        ax.set_xlabel("time since lighting (h)")
    for ax in left:
        ax.set_ylabel("pool (% of the width)")
    label_ends(axes[names[0]], [(full_pct, "full")], size=8)
    widest = checks.groupby("candidate", sort=False)["pool_share_pct"].max()
    figure.set_label(
        "Pool width as a share of the inner diameter against time since lighting, a panel for each "
        "candidate, a line for each burn; first burns are dashed with dots, last ones are solid, "
        f"and a dotted line marks the full pool at {full_pct:.0f} %.{more} "
        f"Widest pool: {said(widest.loc[widest.index.isin(names)], 0, ' %')}."
    )
    return figure


def _pool_lines(ax, checks: pd.DataFrame) -> None:
    last = checks.groupby("candle")["burn"].transform("max")
    first, final = checks[checks["burn"] == 1], checks[(checks["burn"] == last) & (last > 1)]
    if checks["candle"].nunique() > MOST_LINES:
        by = checks.groupby((4.0 * checks["elapsed_h"]).round() / 4.0)["pool_share_pct"]
        ax.fill_between([0, *by.min().index], [0, *by.min()], [0, *by.max()], color=_BAND,
                        linewidth=0)  # fmt: skip
        first, final = (_middle(part) for part in (first, final))
    else:
        between = checks.drop(index=[*first.index, *final.index])
        lines = [
            np.column_stack((np.r_[0, line["elapsed_h"]], np.r_[0, line["pool_share_pct"]]))
            for _, line in between.groupby(["candle", "burn"], sort=False)
        ]
        ax.add_collection(LineCollection(lines, colors=SOFT, linewidths=0.5))
    for part, style in ((first, "o--"), (final, "-")):
        for _, line in part.groupby("candle", sort=False):
            hours, share = np.r_[0, line["elapsed_h"]], np.r_[0, line["pool_share_pct"]]
            ax.plot(hours, share, style, color=INK, markersize=3.5, linewidth=1.4)
    keys = [plt.Line2D([], [], color=INK, linestyle="--", marker="o", markersize=3.5),
            plt.Line2D([], [], color=INK)]  # fmt: skip
    ax.legend(keys, ["first burn", "last burn"], loc="lower right", fontsize=8, handlelength=2)


def _middle(checks: pd.DataFrame) -> pd.DataFrame:
    """The middle over candles at each quarter of an hour."""
    hours = (4.0 * checks["elapsed_h"]).round() / 4.0
    return (
        checks.assign(elapsed_h=hours)
        .groupby("elapsed_h", as_index=False)["pool_share_pct"]
        .median()
        .assign(candle="all")
    )

"""Figures with a small panel for each candidate: burn rates and pools, burn by burn.

Compute nothing; carry their words as `candlelab.report.figures` does.
"""

from __future__ import annotations

import textwrap

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import seaborn as sns
from matplotlib.collections import LineCollection

from candlelab.burns.candidates import wick_turn
from candlelab.glossary import heading
from candlelab.pages.figure_style import INK, MARKERS, blank, styled

_LINES = ("-", "--", ":", "-.")
MOST_KEYS = 12  # a longer key covers the lines, and nobody can tell so many apart


def _panels(names: list[str], *, right: float = 0.1):
    """Small panels that share their axes, one per name; ``right`` is the margin kept free [in].

    Margins are set by hand: working them out takes longer than drawing.
    """
    across = min(3, max(1, len(names)))
    down = -(-len(names) // across)
    letters = int(11 * (8.0 - right) / across)
    titles = [textwrap.fill(short(name, 2 * letters - 8), letters) for name in names]
    more = 0.16 if any("\n" in title for title in titles) else 0.0
    width, height = 8.6, (2.5 + more) * down + 0.5
    figure, axes = plt.subplots(
        down, across, figsize=(width, height), sharex=True, sharey=True, squeeze=False
    )
    figure.subplots_adjust(
        left=0.6 / width,
        right=1 - right / width,
        bottom=0.5 / height,
        top=1 - (0.3 + more) / height,
        wspace=0.08,
        hspace=0.2 + more / 2.0,
    )
    for ax in axes.flat[len(names) :]:
        ax.remove()
    for ax, title in zip(axes.flat, titles, strict=False):
        ax.set_title(title)
    below = [
        axes[max(r for r in range(down) if r * across + c < len(names)), c]
        for c in range(min(across, len(names)))
    ]
    for ax in below:
        ax.tick_params(labelbottom=True)
    return figure, dict(zip(names, axes.flat, strict=False)), below, list(axes[:, 0])


def short(name: str, at_most: int) -> str:
    """A long name without its middle, where two names are most often alike."""
    if len(name) <= at_most:
        return name
    return name[: at_most // 2] + "…" + name[len(name) - (at_most - at_most // 2 - 1) :]


def said(values: pd.Series, digits: int, unit: str) -> str:
    """Each name with its number and unit, for the words of a figure."""
    said = (
        f"{name} {value:z.{digits}f}{unit}" if np.isfinite(value) else f"{name} not measured"
        for name, value in values.items()
    )
    return ", ".join(said) or "nothing was measured"


@styled
def draw_burn_rates(burns: pd.DataFrame):
    """Burn rate of every burn against its number: a panel per candidate, a line per candle.

    Burns on a second wick are joined by dots to nothing before them and named with the wick change;
    burns set aside are crosses.

    Parameters
    ----------
    burns : pandas.DataFrame
        The table of `burn_cycles`.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is its text for a reader who cannot see it.

    Examples
    --------
    >>> from candlelab import burn_cycles, demo_folder, draw_burn_rates, read_batch
    >>> figure = draw_burn_rates(burn_cycles(read_batch(demo_folder("confirmation"))))
    >>> figure.get_label()[:16]
    'Burn rate in g/h'
    """
    names = list(dict.fromkeys(burns["candidate"]))
    figure, axes, below, left = _panels(names)
    for name, of_candidate in burns.groupby("candidate", sort=False):
        _rate_lines(axes[name], of_candidate)
    top = burns["burn_rate_g_per_h"].max() * 1.08 or 1.0
    for ax in axes.values():
        ax.set_ylim(0, top)
        ax.xaxis.get_major_locator().set_params(integer=True)
    for ax in below:
        ax.set_xlabel("burn of the candle")
    for ax in left:
        ax.set_ylabel(heading("burn_rate_g_per_h"))
    means = burns[~burns["excluded"]].groupby("candidate", sort=False)["burn_rate_g_per_h"].mean()
    figure.set_label(
        "Burn rate in g/h of every burn against the number of the burn, a panel for each candidate "
        f"and a line for each candle. Means over the burns that count: {said(means, 1, ' g/h')}."
    )
    return figure


def _rate_lines(ax, burns: pd.DataFrame) -> None:
    """The burns of one candidate, with a key where it is short enough."""
    for n, ((candle, run), line) in enumerate(burns.groupby(["candle", "run"], sort=False)):
        kept, out = line[~line["excluded"]], line[line["excluded"]]
        key, note = short(candle, 16), f" ({wick_turn(run)})" if run > 1 else ""
        if len(kept):
            rates = kept["burn_rate_g_per_h"]
            ax.plot(kept["burn"], rates, markersize=4, label=key + note, **look(n))
        if len(out):
            cross = {"color": INK, "markersize": 6, "label": f"{key} set aside"}
            ax.plot(out["burn"], out["burn_rate_g_per_h"], "x", **cross)
    if len(ax.lines) <= MOST_KEYS:
        tight = {"handlelength": 1.8, "borderpad": 0.1, "columnspacing": 0.8}
        ax.legend(fontsize=7.5, loc="lower right", ncols=2, **tight)
    else:
        ax.annotate(
            f"{burns['candle'].nunique()} candles",
            (1.0, 0.0),
            xycoords="axes fraction",
            xytext=(-4, 4),
            textcoords="offset points",
            ha="right",
            fontsize=8,
        )


def look(n: int) -> dict:
    """Colour, marker and line of the n-th candle, which differ in all three."""
    colours = sns.color_palette("colorblind")
    return {
        "color": colours[n % len(colours)],
        "marker": MARKERS[n % len(MARKERS)],
        "linestyle": _LINES[n % len(_LINES)],
    }


@styled
def draw_pool_growth(checks: pd.DataFrame, *, full_pct: float):
    """Pool width against time since lighting: a panel per candidate, a line per burn.

    Early burns are dark.

    Parameters
    ----------
    checks : pandas.DataFrame
        One row per check that measured the pool: ``candidate``, ``candle``, ``burn``,
        ``elapsed_h``, ``pool_share_pct``.
    full_pct : float
        Share of the width at which the pool counts as full [%].

    Returns
    -------
    matplotlib.figure.Figure
        Its label is its text for a reader who cannot see it.
    """
    if checks.empty:
        return blank("No melt pool was measured.")
    names = list(dict.fromkeys(checks["candidate"]))
    figure, axes, below, left = _panels(names, right=0.95)
    last = max(2, int(checks["burn"].max()))
    shades = sns.color_palette("viridis", as_cmap=True)
    for name, of_candidate in checks.groupby("candidate", sort=False):
        lines, colours = [], []
        for (_, burn), line in of_candidate.groupby(["candle", "burn"], sort=False):
            hours, share = np.r_[0, line["elapsed_h"]], np.r_[0, line["pool_share_pct"]]
            if burn == 1:
                axes[name].plot(hours, share, "o--", color=shades(0.0), markersize=4, linewidth=1.4)
            else:
                lines.append(np.column_stack((hours, share)))
                colours.append(shades(0.9 * (burn - 1) / (last - 1)))
        axes[name].add_collection(LineCollection(lines, colors=colours, linewidths=0.9, alpha=0.85))
        axes[name].axhline(full_pct, color=INK, linewidth=0.9, linestyle=":")
    for ax in axes.values():
        ax.set(
            xlim=(0, checks["elapsed_h"].max() * 1.03 or 1.0),
            ylim=(0, max(108.0, checks["pool_share_pct"].max() * 1.03)),
        )
    for ax in below:
        ax.set_xlabel("time since lighting (h)")
    for ax in left:
        ax.set_ylabel("pool (% of the width)")
    _pool_keys(figure, shades, last, full_pct)
    widest = checks.groupby("candidate", sort=False)["pool_share_pct"].max()
    figure.set_label(
        "Pool width as a share of the inner diameter against time since lighting, a panel for each "
        "candidate, a line for each burn; first burns are dashed with dots, and a dotted line "
        f"marks the full pool at {full_pct:.0f} %. Widest pool: {said(widest, 0, ' %')}."
    )
    return figure


def _pool_keys(figure, shades, last: int, full_pct: float) -> None:
    """What the lines mean, and which shade is which burn."""
    width, height = figure.get_size_inches()
    keys = [
        plt.Line2D([], [], color=shades(0.0), linestyle="--", marker="o", markersize=4),
        plt.Line2D([], [], color=INK, linewidth=0.9, linestyle=":"),
    ]
    figure.legend(
        keys,
        ["first burn", f"full: {full_pct:.0f} %"],
        loc="upper right",
        borderaxespad=0.2,
        fontsize=7.5,
        handlelength=1.7,
        handletextpad=0.4,
    )
    key = figure.add_axes(
        (1 - 0.8 / width, 0.5 / height, 0.13 / width, min(2.6, height - 0.8) / height)
    )
    figure.colorbar(
        plt.cm.ScalarMappable(plt.Normalize(1, 1 + (last - 1) / 0.9), shades),
        cax=key,
        label="burn of the candle",
        boundaries=np.arange(0.5, last + 1),
        ticks=range(1, last + 1, max(1, last // 6)),
    )

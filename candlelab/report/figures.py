"""Draws tables; computes nothing. Every figure carries its words for a reader who cannot see it.

A figure's label (``figure.get_label()``) is its alternative text. Candles differ by marker and line
as well as by colour, so a page printed in black and white can be read.
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
from candlelab.pages.figure_style import INK, MARKERS, blank, rows_axes, styled
from candlelab.text import amount, counted, rounded

_LINES = ("-", "--", ":", "-.")
_MOST_KEYS = 12  # a longer key covers the lines, and nobody can tell so many apart


def _panels(names: list[str], *, right: float = 0.1):
    """Small panels that share their axes, one per name, three in a row.

    Gives the figure, the panels by name, the lowest of each column and the first of each row;
    ``right`` is the margin kept free [in]. Margins are set by hand: working them out takes longer
    than drawing.
    """
    across = min(3, max(1, len(names)))
    down = -(-len(names) // across)
    letters = int(11 * (8.0 - right) / across)
    titles = [textwrap.fill(_short(name, 2 * letters - 8), letters) for name in names]
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
    panels = dict(zip(names, axes.flat[: len(names)], strict=True))
    for ax, title in zip(panels.values(), titles, strict=True):
        ax.set_title(title)
    below = [
        axes[max(r for r in range(down) if r * across + c < len(names)), c]
        for c in range(min(across, len(names)))
    ]
    for ax in below:
        ax.tick_params(labelbottom=True)
    return figure, panels, below, list(axes[:, 0])


def _short(name: str, at_most: int) -> str:
    """A long name without its middle, where two names are most often alike."""
    if len(name) <= at_most:
        return name
    return name[: at_most // 2] + "…" + name[len(name) - (at_most - at_most // 2 - 1) :]


def _said(values: pd.Series, unit: str, digits: int) -> str:
    """Each name with its number and unit, for the words of a figure."""
    said = (
        f"{name} {amount(value, unit, digits) if np.isfinite(value) else 'not measured'}"
        for name, value in values.items()
    )
    return ", ".join(said) or "nothing was measured"


def _look(n: int) -> dict:
    """Colour, marker and line of the n-th candle: no two near each other are alike in any."""
    colours = sns.color_palette("colorblind")
    return {
        "color": colours[n % len(colours)],
        "marker": MARKERS[n % len(MARKERS)],
        "linestyle": _LINES[n % len(_LINES)],
    }


def _limit(ax, at: float, words: str, *, rotation: float = 0.0, **line) -> None:
    """An upright line with its words over it."""
    ax.axvline(at, color=INK, **line)
    over = {"xycoords": ("data", "axes fraction"), "xytext": (2, 3), "textcoords": "offset points"}
    ax.annotate(words, (at, 1.0), fontsize=8.5, rotation=rotation, **over)


@styled
def draw_burn_rates(burns: pd.DataFrame):
    """Burn rate of every burn against its number: a panel per candidate, a line per candle.

    Burns on a second wick are joined by dots to nothing before them and named with the wick change;
    burns left out are crosses.

    Parameters
    ----------
    burns : DataFrame
        The table ``burns`` of a report.

    Returns
    -------
    matplotlib.figure.Figure
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
    kept = burns[~burns["excluded"]].groupby("candidate", sort=False)["burn_rate_g_per_h"]
    figure.set_label(
        "Burn rate in g/h of every burn against the number of the burn, a panel for each "
        "candidate and a line for each candle. Means over the burns that count: "
        f"{_said(kept.mean(), 'g/h', 1)}."
    )
    return figure


def _rate_lines(ax, burns: pd.DataFrame) -> None:
    """A line for each candle on one wick, and the key, or how many candles where that is long."""
    rate = "burn_rate_g_per_h"
    for n, ((candle, run), line) in enumerate(burns.groupby(["candle", "run"], sort=False)):
        kept, out = line[~line["excluded"]], line[line["excluded"]]
        key = _short(candle, 16)
        if len(kept):
            label = key + (f" ({wick_turn(run)})" if run > 1 else "")
            ax.plot(kept["burn"], kept[rate], markersize=4, label=label, **_look(n))
        if len(out):
            label = f"{key} left out"
            ax.plot(out["burn"], out[rate], "x", color=INK, markersize=6, label=label)
    if len(ax.lines) <= _MOST_KEYS:
        room = {"handlelength": 1.8, "borderpad": 0.1, "columnspacing": 0.8}
        ax.legend(fontsize=7.5, loc="lower right", ncols=2, **room)
    else:
        words = counted(burns["candle"].nunique(), "candle")
        corner = {"xycoords": "axes fraction", "xytext": (-4, 4), "textcoords": "offset points"}
        ax.annotate(words, (1.0, 0.0), ha="right", fontsize=8, **corner)


@styled
def draw_wall_temperatures(burns: pd.DataFrame, *, caution_c: float, stop_c: float):
    """Highest wall reading of every burn, a row per candle and wick, against the studio's limits.

    Parameters
    ----------
    burns : DataFrame
        The table ``burns`` of a report.
    caution_c, stop_c : float
        The studio's limits [°C].

    Returns
    -------
    matplotlib.figure.Figure
    """
    if burns["wall_max_c"].isna().all():
        return blank("No wall temperature was measured.")
    names, place = _wall_rows(burns)
    blue = sns.color_palette("colorblind")[0]
    figure, ax = rows_axes(names, above=0.5)
    read = {"color": blue, "alpha": 0.8, "linewidth": 0, "label": "as read"}
    ax.scatter(burns["wall_max_c"], place, s=20, **read)
    warm = {"facecolor": "none", "edgecolor": INK, "linewidth": 0.7}
    warm |= {"label": "carried over to a 30 °C room"}
    ax.scatter(burns["wall_max_warm_room_c"], place, s=20, **warm)
    for limit, words, line in ((caution_c, "caution", "--"), (stop_c, "stop", "-")):
        _limit(ax, limit, f"{words} {limit:g} °C", rotation=30, linestyle=line, linewidth=1.1)
    ax.set_xlabel(heading("wall_max_c") + ", a dot for each burn")
    figure.legend(loc="lower center", ncols=2)
    over = burns[burns["wall_max_c"] > stop_c]["candle"].nunique()
    highest = burns.groupby("candidate", sort=False)["wall_max_c"]
    figure.set_label(
        "Highest wall temperature of every burn, a row for each candle, against the studio's "
        f"caution limit of {caution_c:g} degrees Celsius and its stop limit of {stop_c:g}. "
        f"Highest reading by candidate: {_said(highest.max(), '', 1)}. Candles over the stop "
        f"limit: {over}."
    )
    return figure


def _wall_rows(burns: pd.DataFrame) -> tuple[list[str], pd.Series]:
    """A row for each candle of each candidate: what stands beside it, and the row of each burn."""
    by_candidate = burns.groupby("candidate", sort=False)["candle"]
    sizes = by_candidate.nunique()
    place = by_candidate.transform(lambda names: pd.factorize(names)[0])
    place += burns["candidate"].map(sizes.cumsum() - sizes)
    whole = burns.groupby("candle")["excluded"].transform("all")
    rows = burns.assign(place=place, out=np.where(whole, " (left out)", ""))
    first = rows.drop_duplicates("place").sort_values("place")
    names = [
        f"{_short(row.candle, 24)}{row.out}  {_short(row.candidate, 40)}"
        for row in first.itertuples()
    ]
    return names, place


@styled
def draw_pool_growth(checks: pd.DataFrame, *, full_pct: float):
    """Pool width against time since lighting: a panel per candidate, a line per burn.

    Early burns are dark.

    Parameters
    ----------
    checks : DataFrame
        Has candidate, candle, burn, elapsed_h and pool_share_pct.
    full_pct : float
        Share of the inner diameter at which a pool counts as full [%].

    Returns
    -------
    matplotlib.figure.Figure
    """
    if checks.empty:
        return blank("No melt pool was measured.")
    names = list(dict.fromkeys(checks["candidate"]))
    figure, axes, below, left = _panels(names, right=0.95)
    last = max(2, int(checks["burn"].max()))
    shades = sns.color_palette("viridis", as_cmap=True)
    for name, of_candidate in checks.groupby("candidate", sort=False):
        _pool_lines(axes[name], of_candidate, shades, last)
        axes[name].axhline(full_pct, color=INK, linewidth=0.9, linestyle=":")
    for ax in axes.values():
        ax.set_xlim(0, checks["elapsed_h"].max() * 1.03 or 1.0)
        ax.set_ylim(0, max(108.0, checks["pool_share_pct"].max() * 1.03))
    for ax in below:
        ax.set_xlabel("time since lighting (h)")
    for ax in left:
        ax.set_ylabel("pool (% of the width)")
    _pool_keys(figure, shades, last, full_pct)
    widest = checks.groupby("candidate", sort=False)["pool_share_pct"].max()
    figure.set_label(
        "Pool width as a share of the inner diameter against time since lighting, a panel for "
        "each candidate, a line for each burn; first burns are dashed with dots, and a dotted line "
        f"marks the full pool at {amount(full_pct, '%', 0)}. Widest pool: {_said(widest, '%', 0)}."
    )
    return figure


def _pool_lines(ax, checks: pd.DataFrame, shades, last: int) -> None:
    """A line for each burn of each candle, from nothing at lighting."""
    lines, colours = [], []
    for (_, burn), line in checks.groupby(["candle", "burn"], sort=False):
        hours, share = np.r_[0, line["elapsed_h"]], np.r_[0, line["pool_share_pct"]]
        if burn == 1:
            ax.plot(hours, share, "o--", color=shades(0.0), markersize=4, linewidth=1.4)
        else:
            lines.append(np.column_stack((hours, share)))
            colours.append(shades(0.9 * (burn - 1) / (last - 1)))
    ax.add_collection(LineCollection(lines, colors=colours, linewidths=0.9, alpha=0.85))


def _pool_keys(figure, shades, last: int, full_pct: float) -> None:
    """Two keys right of the panels: kinds of line, and shades by burn."""
    width, height = figure.get_size_inches()
    keys = [
        plt.Line2D([], [], color=shades(0.0), linestyle="--", marker="o", markersize=4),
        plt.Line2D([], [], color=INK, linewidth=0.9, linestyle=":"),
    ]
    words = ["first burn", f"full: {amount(full_pct, '%', 0)}"]
    room = {"borderaxespad": 0.2, "handlelength": 1.7, "handletextpad": 0.4}
    figure.legend(keys, words, loc="upper right", fontsize=7.5, **room)
    place = (1 - 0.8 / width, 0.5 / height, 0.13 / width, min(2.6, height - 0.8) / height)
    figure.colorbar(
        plt.cm.ScalarMappable(plt.Normalize(1, 1 + (last - 1) / 0.9), shades),
        cax=figure.add_axes(place),
        label="burn of the candle",
        boundaries=np.arange(0.5, last + 1),
        ticks=range(1, last + 1, max(1, last // 6)),
    )


@styled
def draw_wax_left(candles: pd.DataFrame, *, hang_up_pct: float):
    """Wax left of each candle, as a share of its fill; hatched where it was not burned to its end.

    Parameters
    ----------
    candles : DataFrame
        The table ``candles`` of a report.
    hang_up_pct : float
        Share of the fill over which wax that is left counts as hang-up [%].

    Returns
    -------
    matplotlib.figure.Figure
    """
    rows = candles.reset_index(drop=True)
    then = np.where(rows["replaced"], ", then " + rows["replaced_by"], "")
    names = [
        f"{_short(candle, 24)}  {_short(rest, 48)}"
        for candle, rest in zip(rows["candle"], rows["candidate"] + then, strict=True)
    ]
    sand, grey = sns.color_palette("colorblind")[1], "#d9d9d9"
    figure, ax = rows_axes(names, above=0.25)
    for ended, colour, hatch, words in (
        (True, sand, None, "burnt to the end"),
        (False, grey, "////", "not burnt to the end"),
    ):
        part = rows[rows["ended"] == ended]
        if len(part):
            look = {"color": colour, "edgecolor": INK, "linewidth": 0.5, "hatch": hatch}
            ax.barh(part.index, part["wax_left_pct"], height=0.68, label=words, **look)
    for n, row in rows.iterrows():
        out = ", left out" if row["excluded"] else ""
        ax.annotate(
            rounded(row["wax_left_pct"], "%") + out,
            (max(0.0, row["wax_left_pct"]), n),
            xytext=(3, 0),
            textcoords="offset points",
            va="center",
            fontsize=8,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )
    _limit(ax, hang_up_pct, f"hang-up over {hang_up_pct:g} %", linestyle="--", linewidth=1)
    ax.grid(axis="y", visible=False)
    ax.set_xlim(
        min(0.0, rows["wax_left_pct"].min() * 1.12), max(10.0, rows["wax_left_pct"].max() * 1.12)
    )
    ax.set_xlabel(heading("wax_left_pct") + " of the fill")
    figure.legend(loc="lower center", ncols=2)
    left = rows.set_index("candle")["wax_left_pct"]
    figure.set_label(f"Wax left of each candle as a share of its fill: {_said(left, '%', 1)}.")
    return figure


@styled
def draw_wick_changes(changes: pd.DataFrame):
    """Burn rate, pool and wall before and after each wick change, a line per candle.

    Parameters
    ----------
    changes : DataFrame
        The table ``wick_changes`` of a report.

    Returns
    -------
    matplotlib.figure.Figure
    """
    pairs = (
        ("burn_rate_before_g_per_h", "burn_rate_after_g_per_h", heading("burn_rate_g_per_h")),
        ("pool_before_pct", "pool_after_pct", "widest pool (%)"),
        ("wall_before_c", "wall_after_c", heading("wall_max_c")),
    )
    keys = -(-len(changes) // 2) if len(changes) <= _MOST_KEYS else 0
    width, height = 8.6, 2.6 + 0.2 * keys
    figure, axes = plt.subplots(1, 3, figsize=(width, height))
    figure.subplots_adjust(
        left=0.6 / width,
        right=1 - 0.1 / width,
        bottom=(0.35 + 0.2 * keys) / height,
        top=1 - 0.1 / height,
        wspace=0.36,
    )
    for ax, (before, after, words) in zip(axes, pairs, strict=True):
        for n, row in changes.reset_index(drop=True).iterrows():
            label = _short(f"{row['candle']}: {row['wick_before']} to {row['wick_after']}", 56)
            ax.plot([0, 1], [row[before], row[after]], label=label, **_look(n))
        ax.set_xlim(-0.25, 1.25)
        ax.set_xticks([0, 1], ["wick before", "wick after"])
        ax.set_ylabel(words)
    if keys:
        figure.legend(
            *axes[0].get_legend_handles_labels(), loc="lower center", ncols=2, fontsize=8.5
        )
    told = []
    for row in changes.itertuples():
        ends = [
            rounded(rate, digits=1) if np.isfinite(rate) else "left out"
            for rate in (row.burn_rate_before_g_per_h, row.burn_rate_after_g_per_h)
        ]
        told.append(
            f"{row.candle}, {row.wick_before} to {row.wick_after}: {ends[0]} to {ends[1]} g/h."
        )
    figure.set_label(
        "Burn rate, widest pool and highest wall temperature before and after each wick change. "
        + " ".join(told)
    )
    return figure

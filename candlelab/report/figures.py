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

_LINES = ("-", "--", ":", "-.")
_MOST_KEYS = 12  # a longer key covers the lines, and nobody can tell so many apart


def _panels(names: list[str], *, right: float = 0.1):
    """Small panels that share their axes, one per name, three in a row; ``right`` is the margin
    kept free [in].

    Margins are set by hand: working them out takes longer than drawing.
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
    for ax, title in zip(axes.flat, titles):
        ax.set_title(title)
    below = [
        axes[max(r for r in range(down) if r * across + c < len(names)), c]
        for c in range(min(across, len(names)))
    ]
    for ax in below:
        ax.tick_params(labelbottom=True)
    return figure, dict(zip(names, axes.flat)), below, list(axes[:, 0])


def _short(name: str, at_most: int) -> str:
    """A long name without its middle, where two names are most often alike."""
    if len(name) <= at_most:
        return name
    return name[: at_most // 2] + "…" + name[len(name) - (at_most - at_most // 2 - 1) :]


def _said(values: pd.Series, digits: int, unit: str) -> str:
    """Each name with its number and unit, for the words of a figure."""
    said = (
        f"{name} {value:z.{digits}f}{unit}" if np.isfinite(value) else f"{name} not measured"
        for name, value in values.items()
    )
    return ", ".join(said) or "nothing was measured"


@styled
def draw_burn_rates(burns: pd.DataFrame):
    """Burn rate of every burn against burn number: a panel per candidate, a line per candle.

    Burns on a second wick are joined by dots to nothing before them and named with the wick change;
    burns left out are crosses.
    """
    names = list(dict.fromkeys(burns["candidate"]))
    figure, axes, below, left = _panels(names)
    colours = sns.color_palette("colorblind")
    for name, of_candidate in burns.groupby("candidate", sort=False):
        ax = axes[name]
        for n, ((candle, run), line) in enumerate(
            of_candidate.groupby(["candle", "run"], sort=False)
        ):
            kept, out = line[~line["excluded"]], line[line["excluded"]]
            look = {
                "color": colours[n % len(colours)],
                "marker": MARKERS[n % len(MARKERS)],
                "linestyle": _LINES[n % len(_LINES)],
            }
            note = f" ({wick_turn(run)})" if run > 1 else ""
            key = _short(candle, 16)
            if len(kept):
                ax.plot(
                    kept["burn"], kept["burn_rate_g_per_h"], markersize=4, label=key + note, **look
                )
            if len(out):
                ax.plot(
                    out["burn"],
                    out["burn_rate_g_per_h"],
                    "x",
                    color=INK,
                    markersize=6,
                    label=f"{key} left out",
                )
        if len(ax.lines) <= _MOST_KEYS:
            ax.legend(
                fontsize=7.5,
                loc="lower right",
                ncols=2,
                handlelength=1.8,
                borderpad=0.1,
                columnspacing=0.8,
            )
        else:
            ax.annotate(
                f"{of_candidate['candle'].nunique()} candles",
                (1.0, 0.0),
                xycoords="axes fraction",
                xytext=(-4, 4),
                textcoords="offset points",
                ha="right",
                fontsize=8,
            )
    top = burns["burn_rate_g_per_h"].max() * 1.08 or 1.0
    for ax in axes.values():
        ax.set_ylim(0, top)
        ax.xaxis.get_major_locator().set_params(integer=True)
    for ax in below:
        ax.set_xlabel("burn of the candle")
    for ax in left:
        ax.set_ylabel(heading("burn_rate_g_per_h"))
    kept = burns[~burns["excluded"]]
    figure.set_label(
        "Burn rate in g/h of every burn against the number of the burn, a panel for each candidate "
        "and a line for each candle. Means over the burns that count: "
        f"{_said(kept.groupby('candidate', sort=False)['burn_rate_g_per_h'].mean(), 1, ' g/h')}."
    )
    return figure


@styled
def draw_wall_temperatures(burns: pd.DataFrame, *, caution_c: float, stop_c: float):
    """Highest wall reading of every burn, a row per candle and wick, against the studio's limits."""
    if burns["wall_max_c"].isna().all():
        return blank("No wall temperature was measured.")
    whole = burns.groupby("candle")["excluded"].transform("all")
    rows = burns.assign(out=np.where(whole, " (left out)", ""))
    place = rows.groupby("candidate", sort=False)["candle"].transform(
        lambda names: pd.factorize(names)[0]
    )
    sizes = rows.groupby("candidate", sort=False)["candle"].nunique()
    place += rows["candidate"].map(sizes.cumsum() - sizes)
    first = rows[~place.duplicated()].iloc[np.argsort(place[~place.duplicated()].to_numpy())]
    names = [
        f"{_short(row.candle, 24)}{row.out}  {_short(row.candidate, 40)}"
        for row in first.itertuples()
    ]
    blue = sns.color_palette("colorblind")[0]
    figure, ax = rows_axes(names, above=0.5)
    ax.scatter(rows["wall_max_c"], place, s=20, color=blue, alpha=0.8, linewidth=0, label="as read")
    ax.scatter(
        rows["wall_max_warm_room_c"],
        place,
        s=20,
        facecolor="none",
        edgecolor=INK,
        linewidth=0.7,
        label="carried over to a 30 °C room",
    )
    for limit, words, line in ((caution_c, "caution", "--"), (stop_c, "stop", "-")):
        ax.axvline(limit, color=INK, linestyle=line, linewidth=1.1)
        ax.annotate(
            f"{words} {limit:g} °C",
            (limit, 1.0),
            xycoords=("data", "axes fraction"),
            xytext=(2, 3),
            textcoords="offset points",
            fontsize=8.5,
            rotation=30,
        )
    ax.set_xlabel(heading("wall_max_c") + ", a dot for each burn")
    figure.legend(loc="lower center", ncols=2)
    over = rows[rows["wall_max_c"] > stop_c]["candle"].nunique()
    figure.set_label(
        "Highest wall temperature of every burn, a row for each candle, against the studio's "
        f"caution limit of {caution_c:g} degrees Celsius and its stop limit of {stop_c:g}. Highest "
        "reading by candidate: "
        + _said(rows.groupby("candidate", sort=False)["wall_max_c"].max(), 1, "")
        + f". Candles over the stop limit: {over}."
    )
    return figure


@styled
def draw_pool_growth(checks: pd.DataFrame, *, full_pct: float):
    """Pool width against time since lighting, a panel per candidate, a line per burn, early burns
    dark.

    ``checks`` has candidate, candle, burn, elapsed_h and pool_share_pct.
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
    widest = checks.groupby("candidate", sort=False)["pool_share_pct"].max()
    figure.set_label(
        "Pool width as a share of the inner diameter against time since lighting, a panel for each "
        "candidate, a line for each burn; first burns are dashed with dots, and a dotted line "
        f"marks the full pool at {full_pct:.0f} %. Widest pool: " + _said(widest, 0, " %") + "."
    )
    return figure


@styled
def draw_wax_left(candles: pd.DataFrame, *, hang_up_pct: float):
    """Wax left of each candle, as a share of its fill; hatched where the candle was not burnt to
    its end.
    """
    rows = candles.reset_index(drop=True)
    then = np.where(rows["replaced"], ", then " + rows["replaced_by"], "")
    names = [
        f"{_short(candle, 24)}  {_short(rest, 48)}"
        for candle, rest in zip(rows["candle"], rows["candidate"] + then)
    ]
    sand, grey = sns.color_palette("colorblind")[1], "#d9d9d9"
    figure, ax = rows_axes(names, above=0.25)
    for ended, colour, hatch, words in (
        (True, sand, None, "burnt to the end"),
        (False, grey, "////", "not burnt to the end"),
    ):
        part = rows[rows["ended"] == ended]
        if len(part):
            ax.barh(
                part.index,
                part["wax_left_pct"],
                height=0.68,
                color=colour,
                edgecolor=INK,
                linewidth=0.5,
                hatch=hatch,
                label=words,
            )
    for n, row in rows.iterrows():
        out = ", left out" if row["excluded"] else ""
        ax.annotate(
            f"{row['wax_left_pct']:z.1f}{out}",
            (max(0.0, row["wax_left_pct"]), n),
            xytext=(3, 0),
            textcoords="offset points",
            va="center",
            fontsize=8,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )
    ax.axvline(hang_up_pct, color=INK, linewidth=1, linestyle="--")
    ax.annotate(
        f"hang-up over {hang_up_pct:g} %",
        (hang_up_pct, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(2, 3),
        textcoords="offset points",
        fontsize=8.5,
    )
    ax.grid(axis="y", visible=False)
    ax.set_xlim(
        min(0.0, rows["wax_left_pct"].min() * 1.12), max(10.0, rows["wax_left_pct"].max() * 1.12)
    )
    ax.set_xlabel(heading("wax_left_pct") + " of the fill")
    figure.legend(loc="lower center", ncols=2)
    figure.set_label(
        "Wax left of each candle as a share of its fill: "
        + ", ".join(f"{c} {v:z.1f} %" for c, v in zip(rows["candle"], rows["wax_left_pct"]))
        + "."
    )
    return figure


@styled
def draw_wick_changes(changes: pd.DataFrame):
    """Burn rate, pool and wall before and after each wick change, a line per candle."""
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
    colours = sns.color_palette("colorblind")
    for ax, (before, after, words) in zip(axes, pairs):
        for n, row in changes.reset_index(drop=True).iterrows():
            ax.plot(
                [0, 1],
                [row[before], row[after]],
                color=colours[n % len(colours)],
                marker=MARKERS[n % len(MARKERS)],
                linestyle=_LINES[n % len(_LINES)],
                label=_short(f"{row['candle']}: {row['wick_before']} to {row['wick_after']}", 56),
            )
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
            f"{rate:.1f}" if np.isfinite(rate) else "left out"
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

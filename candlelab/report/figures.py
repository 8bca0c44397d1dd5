"""Draws tables; computes nothing. Every figure carries its words for a reader who cannot see it.

A figure's label (``figure.get_label()``) is its alternative text. Candles differ by marker and line
as well as by colour, so a page printed in black and white can be read.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
import seaborn as sns

from candlelab.glossary import heading
from candlelab.pages.figure_style import INK, blank, rows_axes, styled
from candlelab.report.panels import look, said, short
from candlelab.text import rounded

_MOST_KEYS = 12  # a longer key covers the lines, and nobody can tell so many apart


def _limit(ax, at: float, words: str, *, rotation: float = 0.0, **line) -> None:
    """An upright line with its words over it."""
    ax.axvline(at, color=INK, **line)
    over = {"xycoords": ("data", "axes fraction"), "xytext": (2, 3), "textcoords": "offset points"}
    ax.annotate(words, (at, 1.0), fontsize=8.5, rotation=rotation, **over)


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
    warm |= {"label": "worked out for a 30 °C (86 °F) room"}
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
        f"Highest reading by candidate: {said(highest.max(), 1, '')}. Candles over the stop "
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
    rows = burns.assign(place=place, out=np.where(whole, " (set aside)", ""))
    first = rows.drop_duplicates("place").sort_values("place")
    names = [
        f"{short(row.candle, 24)}{row.out}  {short(row.candidate, 40)}"
        for row in first.itertuples()
    ]
    return names, place


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
        f"{short(candle, 24)}  {short(rest, 48)}"
        for candle, rest in zip(rows["candle"], rows["candidate"] + then, strict=True)
    ]
    sand, grey = sns.color_palette("colorblind")[1], "#d9d9d9"
    figure, ax = rows_axes(names, above=0.25)
    for ended, colour, hatch, words in (
        (True, sand, None, "burned to the end"),
        (False, grey, "////", "not burned to the end"),
    ):
        part = rows[rows["ended"] == ended]
        if len(part):
            look = {"color": colour, "edgecolor": INK, "linewidth": 0.5, "hatch": hatch}
            ax.barh(part.index, part["wax_left_pct"], height=0.68, label=words, **look)
    for n, row in rows.iterrows():
        out = ", set aside" if row["excluded"] else ""
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
    figure.set_label(f"Wax left of each candle as a share of its fill: {said(left, 1, ' %')}.")
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
            label = short(f"{row['candle']}: {row['wick_before']} to {row['wick_after']}", 56)
            ax.plot([0, 1], [row[before], row[after]], label=label, **look(n))
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
            rounded(rate, digits=1) if np.isfinite(rate) else "set aside"
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

"""Drawings of a plan: the benches seen from above, and the sessions of each day.

Computes nothing; carries its words.
"""

from __future__ import annotations

import matplotlib.dates as mdates
import matplotlib.pyplot as plt
import pandas as pd
import seaborn as sns
from matplotlib.patches import Circle, Rectangle

from candlelab.pages.figure_style import INK, SOFT, styled
from candlelab.plan.layout import letters
from candlelab.plan.settings import BenchTop

_WIDTH_IN, _MARGIN_IN = 8.6, 0.15
_EDGES = ("-", "--", ":", "-.")


def _ink_on(colour) -> str:
    """Black or white, whichever can be read on a colour (relative
    luminance as in WCAG, without its gamma)."""
    return (
        "black" if 0.2126 * colour[0] + 0.7152 * colour[1] + 0.0722 * colour[2] > 0.45 else "white"
    )


@styled
def draw_benches(
    layout: pd.DataFrame, places: pd.DataFrame, benches: dict[str, BenchTop], *, width_mm: float
):
    """Every bench to scale, seen from above, its front below: a circle for each
    candle, with its letter for the candidate.

    Circles have the vessel's outer diameter; places that stay free are dots.
    Groups differ by the line around the circle.
    """
    names = list(dict.fromkeys(layout["candidate"]))
    scale = (_WIDTH_IN - 2 * _MARGIN_IN) / max(bench.length_mm for bench in benches.values())
    heights = [max(bench.depth_mm * scale, 0.9) + 0.45 for bench in benches.values()]
    keys = 0.22 * len(names) + 0.45
    total = sum(heights) + keys
    figure = plt.figure(figsize=(_WIDTH_IN, total))
    colours, top = sns.color_palette("colorblind", max(len(names), 1)), total
    for (name, bench), height in zip(benches.items(), heights):
        top -= height
        deep = height - 0.45
        ax = figure.add_axes(
            (
                _MARGIN_IN / _WIDTH_IN,
                (top + 0.05) / total,
                bench.length_mm * scale / _WIDTH_IN,
                deep / total,
            )
        )
        _bench(
            ax,
            name,
            bench,
            layout[layout["bench"] == name],
            places[places["bench"] == name],
            names,
            colours,
            width_mm,
            deep / scale,
        )
    ax = figure.add_axes(
        (_MARGIN_IN / _WIDTH_IN, 0.0, 1.0 - 2 * _MARGIN_IN / _WIDTH_IN, keys / total)
    )
    ax.set(xlim=(0, 1), ylim=(-len(names) - 0.9, 0.6))
    ax.set_axis_off()
    for n, candidate in enumerate(names):
        own = ", ".join(layout.loc[layout["candidate"] == candidate, "candle"])
        ax.text(
            0.0,
            -n,
            letters(n),
            color=_ink_on(colours[n % len(colours)]),
            weight="bold",
            size=8,
            va="center",
            ha="left",
            bbox={
                "facecolor": colours[n % len(colours)],
                "edgecolor": "none",
                "boxstyle": "round,pad=0.22",
            },
        )
        ax.text(0.035, -n, f"{candidate}: {own}", va="center", size=8)
    groups = sorted(layout["day_group"].unique())
    words = {"-": "solid", "--": "dashed", ":": "dotted", "-.": "dash-dotted"}
    ax.text(
        0.0,
        -len(names),
        "Line: "
        + ", ".join(f"group {g} {words[_EDGES[(g - 1) % 4]]}" for g in groups)
        + ". Dots: places that stay free.",
        va="center",
        size=8,
        color=SOFT,
    )
    spots = "; ".join(
        f"{candle} {candidate} at {place}, group {group}"
        for candle, candidate, place, group in zip(
            layout["candle"], layout["candidate"], layout["bench_position"], layout["day_group"]
        )
    )
    figure.set_label(
        f"Plan of {len(benches)} bench{'' if len(benches) == 1 else 'es'} from above: {spots}."
    )
    return figure


def _bench(
    ax,
    name: str,
    bench: BenchTop,
    own: pd.DataFrame,
    places: pd.DataFrame,
    names: list[str],
    colours,
    width_mm: float,
    deep_mm: float,
) -> None:
    """One bench in millimetres, with its candles."""
    ax.add_patch(
        Rectangle(
            (0, 0),
            bench.length_mm,
            bench.depth_mm,
            facecolor="#f4f0e8",
            edgecolor=SOFT,
            linewidth=1.0,
        )
    )
    taken = set(own["bench_position"])
    free = places[~places["bench_position"].isin(taken)]
    ax.plot(free["x_mm"], free["y_mm"], ".", color=SOFT, markersize=4)
    for c in own.itertuples():
        n = names.index(c.candidate)
        line = _EDGES[(c.day_group - 1) % len(_EDGES)]
        ax.add_patch(
            Circle(
                (c.x_mm, c.y_mm),
                width_mm / 2,
                facecolor=colours[n % len(colours)],
                edgecolor=INK,
                linewidth=1.6,
                linestyle=line,
            )
        )
        ax.text(
            c.x_mm,
            c.y_mm,
            letters(n),
            ha="center",
            va="center",
            size=8,
            weight="bold",
            color=_ink_on(colours[n % len(colours)]),
        )
        place = c.bench_position.removeprefix(f"{name} ")
        ax.annotate(
            f"{c.candle} · {place}",
            (c.x_mm, c.y_mm + width_mm / 2),
            (0, 2),
            textcoords="offset points",
            ha="center",
            va="bottom",
            size=7,
        )
    ax.set(xlim=(-2, bench.length_mm + 2), ylim=(-2, deep_mm))
    ax.set_title(f"{name}: {bench.length_mm:g} mm by {bench.depth_mm:g} mm, front below", size=9)
    ax.set_axis_off()


@styled
def draw_sessions(sessions: pd.DataFrame):
    """Every session as a bar from its first lighting to its end, by day; groups
    differ by colour, and by the number beside."""
    groups = sorted(sessions["day_group"].unique())
    colours = sns.color_palette("colorblind", max(len(groups), 1))
    lit, over = (sessions[name].dt.tz_localize(None) for name in ("lit_from", "over_at"))
    days = (lit.max().normalize() - lit.min().normalize()).days + 1
    figure, ax = plt.subplots(figsize=(_WIDTH_IN, 3.4), layout="constrained")
    for s, start, end in zip(sessions.itertuples(), lit, over):
        low, long = start.hour + start.minute / 60.0, (end - start) / pd.Timedelta(hours=1)
        ax.bar(
            start.normalize(),
            long,
            bottom=low,
            width=0.8,
            color=colours[groups.index(s.day_group)],
            edgecolor="white",
            linewidth=0.5,
        )
        if days <= 45:
            ax.annotate(
                f"{s.day_group}.{s.burn}",
                (start.normalize(), low + long / 2),
                ha="center",
                va="center",
                size=6.5,
                rotation=90,
                weight="bold",
                color=_ink_on(colours[groups.index(s.day_group)]),
            )
    low, high = lit.dt.hour.min(), min(24, over.dt.hour.max() + 1)
    ax.set(ylim=(high, low), ylabel="time of day (h)", xlabel="")
    ax.yaxis.set_major_locator(plt.MultipleLocator(2))
    ax.xaxis.set_major_locator(mdates.AutoDateLocator(minticks=3, maxticks=9))
    ax.xaxis.set_major_formatter(mdates.ConciseDateFormatter(ax.xaxis.get_major_locator()))
    ax.set_title(
        "A bar is a session; its numbers are group and burn"
        if days <= 45
        else "A bar is a session; a colour is a group"
    )
    first, last = lit.min(), lit.max()
    of = f"{len(sessions)} burn sessions of {len(groups)} group{'' if len(groups) == 1 else 's'}"
    figure.set_label(
        f"{of} from {first:%Y-%m-%d} to {last:%Y-%m-%d}, by day and time of day; the table lists "
        "them."
    )
    return figure

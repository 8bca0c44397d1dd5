"""Drawings of a plan: the benches seen from above, and the sessions of each day.

Computes nothing; carries its words.
"""

from __future__ import annotations

import math
from typing import Any

import matplotlib.dates as mdates
import matplotlib.pyplot as plt
import pandas as pd
from matplotlib.colors import to_rgb
from matplotlib.patches import Circle, Rectangle

from candlelab.pages.figure_style import INK, SOFT, WIDTH, colour, rows_axes, styled
from candlelab.plan.layout import letters
from candlelab.plan.settings import BenchTop
from candlelab.text import counted
from candlelab.units import SI, Display

_WIDTH_IN, _MARGIN_IN, _HEAD_IN = WIDTH, 0.12, 0.45
_LINES = (("-", "solid"), ("--", "dashed"), (":", "dotted"), ("-.", "dash-dotted"))  # of groups
_MOST_NUMBERED = 45  # days that leave room for a number in each bar


def _ink_on(fill: str) -> str:
    """Black or white, whichever can be read on a colour.

    Relative luminance as in WCAG, without its gamma.
    """
    red, green, blue = to_rgb(fill)
    light = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    return "black" if light > 0.45 else "white"


@styled
def draw_benches(
    layout: pd.DataFrame,
    places: pd.DataFrame,
    benches: dict[str, BenchTop],
    *,
    width_mm: float,
    display: Display = SI,
):
    """Every bench to scale, seen from above, its front below.

    A circle for each candle, of the vessel's outer diameter, with its letter for the candidate.
    Groups differ by the line around the circle; dots are places that stay free.

    Parameters
    ----------
    layout, places : pandas.DataFrame
        One row per candle and per place, as a planned batch has them.
    benches : dict of str to BenchTop
        The benches of the plan, by name.
    width_mm : float
        Outer diameter of the widest vessel [mm].
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    names = list(dict.fromkeys(layout["candidate"]))
    scale = (_WIDTH_IN - 2 * _MARGIN_IN) / max(bench.length_mm for bench in benches.values())
    heights = [max(bench.depth_mm * scale, 0.9) + _HEAD_IN for bench in benches.values()]
    keys = 0.22 * len(names) + 0.45
    total = sum(heights) + keys
    figure, top = plt.figure(figsize=(_WIDTH_IN, total)), total
    left = _MARGIN_IN / _WIDTH_IN
    for (name, bench), height in zip(benches.items(), heights, strict=True):
        top -= height
        deep, width = height - _HEAD_IN, bench.length_mm * scale / _WIDTH_IN
        ax = figure.add_axes((left, (top + 0.05) / total, width, deep / total))
        ax.set(xlim=(-2, bench.length_mm + 2), ylim=(-2, deep / scale))
        taken = layout[layout["bench"] == name]
        free = places[places["bench"] == name]
        free = free[~free["bench_position"].isin(set(taken["bench_position"]))]
        _draw_top(ax, name, bench, free, display)
        _draw_candles(ax, taken, names, width_mm)
    ax = figure.add_axes((left, 0.0, 1.0 - 2 * left, keys / total))
    _draw_key(ax, layout, names)
    spots = "; ".join(
        f"{c.candle} {c.candidate} at {c.bench_position}, group {c.day_group}"
        for c in layout.itertuples()
    )
    figure.set_label(f"Plan of {counted(len(benches), 'bench')} from above: {spots}.")
    return figure


def _draw_top(ax, name: str, bench: BenchTop, free: pd.DataFrame, display: Display) -> None:
    """The top of a bench to scale, with the places that stay free."""
    size = bench.length_mm, bench.depth_mm
    ax.add_patch(Rectangle((0, 0), *size, facecolor="#f4f0e8", edgecolor=SOFT, linewidth=1.0))
    ax.plot(free["x_mm"], free["y_mm"], ".", color=SOFT, markersize=4)
    long, deep = (display.written(side, "mm") for side in size)
    ax.set_title(f"{name}: {long} by {deep}, front below", size=9)
    ax.set_axis_off()


def _draw_candles(ax, taken: pd.DataFrame, names: list[str], width_mm: float) -> None:
    """A circle for each candle of a bench, with the letter of its candidate, name and place."""
    for c in taken.itertuples():
        n, middle = names.index(c.candidate), (c.x_mm, c.y_mm)
        fill, line = colour(n), _LINES[(c.day_group - 1) % len(_LINES)][0]
        how = {"facecolor": fill, "edgecolor": INK, "linewidth": 1.6, "linestyle": line}
        ax.add_patch(Circle(middle, width_mm / 2, **how))
        how = {"ha": "center", "va": "center", "size": 8, "weight": "bold"}
        ax.text(*middle, letters(n), color=_ink_on(fill), **how)
        place = c.bench_position.removeprefix(f"{c.bench} ")
        above, how = (c.x_mm, c.y_mm + width_mm / 2), {"ha": "center", "va": "bottom", "size": 8}
        ax.annotate(f"{c.candle}\n{place}", above, (0, 2), textcoords="offset points", **how)


def _draw_key(ax, layout: pd.DataFrame, names: list[str]) -> None:
    """What letters, lines and dots mean, and the candles of each candidate."""
    ax.set(xlim=(0, 1), ylim=(-len(names) - 0.9, 0.6))
    ax.set_axis_off()
    for n, candidate in enumerate(names):
        fill = colour(n)
        box = {"facecolor": fill, "edgecolor": "none", "boxstyle": "round,pad=0.22"}
        how = {"weight": "bold", "size": 8, "va": "center", "ha": "left"}
        ax.text(0.0, -n, letters(n), color=_ink_on(fill), bbox=box, **how)
        own = ", ".join(layout.loc[layout["candidate"] == candidate, "candle"])
        ax.text(0.055, -n, f"{candidate}: {own}", va="center", size=9)
    groups = sorted(layout["day_group"].unique())
    lines = ", ".join(f"group {g} {_LINES[(g - 1) % len(_LINES)][1]}" for g in groups)
    text = f"Line: {lines}. Dots: places that stay free."
    ax.text(0.0, -len(names), text, va="center", size=9, color=SOFT)


@styled
def draw_day(sessions: pd.DataFrame, rounds: pd.DataFrame):
    """The first day as a strip: a row for each session, a block for each round of work.

    Parameters
    ----------
    sessions, rounds : pandas.DataFrame
        One row per burn session, and per round of checks, as a planned batch has them.

    Returns
    -------
    matplotlib.figure.Figure
    """
    lit = sessions["lit_from"]
    own = sessions[lit.dt.date == lit.min().date()]
    names = [f"Group {s.day_group}: {counted(s.n_candles, 'candle')}" for s in own.itertuples()]
    figure, ax = rows_axes(names, above=0.1, each=0.78, below=0.5)
    told = []
    for row, session in enumerate(own.itertuples()):
        start, over = _hour(session.lit_from), _hour(session.over_at)
        ax.barh(row + 0.14, over - start, left=start, height=0.3, color="#e3dccd", edgecolor=SOFT)
        checks = rounds[rounds["session"] == session.session]
        long = _hour(checks["check_to"].iat[0]) - _hour(checks["check_from"].iat[0])
        blocks = [("light", start), *(("check", _hour(at)) for at in checks["check_from"])]
        blocks[-1] = ("put out", blocks[-1][1])
        for words, at in blocks:
            ax.barh(row + 0.14, max(long, 0.08), left=at, height=0.3, color=INK)
            ax.annotate(words, (at, row + 0.31), va="top", fontsize=8.5)
        told.append(f"{names[row]}, {session.lit_from:%H:%M} to {session.over_at:%H:%M}")
    ax.set_xlim(math.floor(ax.get_xlim()[0]), math.ceil(ax.get_xlim()[1]))
    ax.xaxis.set_major_locator(plt.MultipleLocator(2))
    ax.set_xlabel("time of day (h)")
    figure.set_label(f"The first day. {'; '.join(told)}. Black: somebody is at the candles.")
    return figure


def _hour(moment: pd.Timestamp) -> float:
    return moment.hour + moment.minute / 60.0


@styled
def draw_sessions(sessions: pd.DataFrame):
    """Every session as a bar from its first lighting to its end, by day.

    Groups differ by colour, and by the number beside.

    Parameters
    ----------
    sessions : pandas.DataFrame
        One row per burn session, as a planned batch has them.

    Returns
    -------
    matplotlib.figure.Figure
    """
    groups = sorted(sessions["day_group"].unique())
    lit, over = (sessions[name].dt.tz_localize(None) for name in ("lit_from", "over_at"))
    days = (lit.max().normalize() - lit.min().normalize()).days + 1
    figure, ax = plt.subplots(figsize=(_WIDTH_IN, 3.4), layout="constrained")
    for s, start, end in zip(sessions.itertuples(), lit, over, strict=True):
        low, long = start.hour + start.minute / 60.0, (end - start) / pd.Timedelta(hours=1)
        fill, day = colour(groups.index(s.day_group)), start.normalize()
        ax.bar(day, long, bottom=low, width=0.8, color=fill, edgecolor="white", linewidth=0.5)
        if days <= _MOST_NUMBERED:
            how: dict[str, Any] = {
                "ha": "center",
                "va": "center",
                "size": 8,
                "rotation": 90,
                "weight": "bold",
            }
            middle, text = (day, low + long / 2), f"{s.day_group}.{s.burn}"
            ax.annotate(text, middle, color=_ink_on(fill), **how)
    low, high = lit.dt.hour.min(), min(24, over.dt.hour.max() + 1)
    ax.set(ylim=(high, low), ylabel="time of day (h)", xlabel="")
    ax.yaxis.set_major_locator(plt.MultipleLocator(2))
    ax.xaxis.set_major_locator(mdates.AutoDateLocator(minticks=3, maxticks=9))
    ax.xaxis.set_major_formatter(mdates.ConciseDateFormatter(ax.xaxis.get_major_locator()))
    each = "its numbers are group and burn" if days <= _MOST_NUMBERED else "a colour is a group"
    ax.set_title(f"A bar is a session; {each}")
    first, last = lit.min(), lit.max()
    of = f"{len(sessions)} burn sessions of {counted(len(groups), 'group')}"
    span = f"from {first:%Y-%m-%d} to {last:%Y-%m-%d}"
    figure.set_label(f"{of} {span}, by day and time of day; the table lists them.")
    return figure

"""The house style of every figure: colours, markers, type, and a decorator that draws in it."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib
import matplotlib.pyplot as plt
import pandas as pd
from matplotlib import font_manager

from candlelab.pages.glossary import GLOSSARY, column
from candlelab.units import Display

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "<", ">")
INK, SOFT = "#222222", "#767676"
# the palette that seaborn calls "colorblind"
_COLOURS = (
    "#0173b2", "#de8f05", "#029e73", "#d55e00", "#cc78bc", "#ca9161", "#fbafe4", "#949494",
    "#ece133", "#56b4e9",
)  # fmt: skip
BLUE, ORANGE, SAND = "#0173b2", "#b25c00", "#e9dfc9"
# As wide as a column of text. Letters of 10 points can be read on a phone, at 62 % of that.
WIDTH = 5.8
STYLE = {
    "figure.dpi": 180, "savefig.dpi": 180, "svg.hashsalt": "candlelab",
    "font.size": 10, "xtick.labelsize": 9.5, "ytick.labelsize": 9.5, "legend.fontsize": 9.5,
    "text.parse_math": False, "text.hinting": "none", "legend.frameon": False,
    "lines.linewidth": 1.2,
    "axes.titlesize": 10, "axes.titleweight": "bold", "axes.titlelocation": "left",
    "axes.titley": 1.0,
    "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": SOFT,
    "axes.grid": True, "axes.axisbelow": True, "grid.color": "#e4e4e4", "grid.linewidth": 0.7,
}  # fmt: skip
# For the signs that the first font has not; those that are installed are asked in this order.
_MORE_FONTS = (
    "Noto Sans CJK JP", "Noto Sans CJK SC", "Noto Sans", "Hiragino Sans", "PingFang SC",
    "Yu Gothic", "Microsoft YaHei", "Malgun Gothic", "WenQuanYi Zen Hei", "Arial Unicode MS",
    "Segoe UI", "Noto Emoji", "Segoe UI Emoji",
)  # fmt: skip


@contextmanager
def house_style() -> Iterator[None]:
    """The house style, whatever the session's own style is and whatever files of it are found."""
    installed = set(font_manager.get_font_names())
    fonts = ["DejaVu Sans", *(name for name in _MORE_FONTS if name in installed)]
    style: Any = STYLE | {"font.family": fonts}
    with plt.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(style)
        yield


def styled(draw):
    """Draw in the house style."""

    @functools.wraps(draw)
    def drawn(*args, **kwargs):
        with house_style():
            return draw(*args, **kwargs)

    return drawn


def rows_axes(names: list[str], *, above: float, each: float = 0.4, below: float = 0.75):
    """A figure and its axes, with a row for each name, which stands over its row.

    Margins are set by hand: working them out takes longer than drawing.

    Parameters
    ----------
    names : list of str
        What stands over the rows, from above; each cut in its middle where it is too long.
    above, below : float
        Height kept free over the rows, and under them for the axis and a key [in].
    each : float
        Height of a row [in].
    """
    height = each * len(names) + below + above
    figure, ax = plt.subplots(figsize=(WIDTH, height))
    figure.subplots_adjust(
        left=0.12 / WIDTH, right=1 - 0.12 / WIDTH, bottom=below / height, top=1 - above / height
    )
    for n, name in enumerate(names):
        ax.annotate(
            short(name, 62), (0.0, n - 0.26), xycoords=("axes fraction", "data"), va="center",
            fontsize=9.5, annotation_clip=False,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 0.6},
        )  # fmt: skip
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    ax.set_ylim(len(names) - 0.5, -0.5)
    return figure, ax


def colour(n: int) -> str:
    """The n-th color, told from its neighbors by color-blind readers too."""
    return _COLOURS[n % len(_COLOURS)]


def short(name: str, at_most: int) -> str:
    """A long name without its middle, where two names are most often alike."""
    if len(name) <= at_most:
        return name
    return name[: at_most // 2] + "…" + name[len(name) - (at_most - at_most // 2 - 1) :]


def apart(ends: Iterable[tuple[float, str]], gap: float, top: float) -> list[tuple[float, str]]:
    """Names, each at the height nearest to its own that is ``gap`` from others, under ``top``."""
    ends = sorted(ends)
    at: list[float] = []
    for height, _ in ends:
        at.append(max([height, *(lower + gap for lower in at[-1:])]))
    top -= gap / 2.0
    for n in reversed(range(len(at))):
        at[n] = min(at[n], top)
        top = at[n] - gap
    return [(height, name) for height, (_, name) in zip(at, ends, strict=True)]


def label_ends(ax, ends: list[tuple[float, str]], *, size: float = 8.5) -> None:
    """Names at the right end of lines, moved apart where they would cover each other.

    Parameters
    ----------
    ax : Axes
        Its limits are set already.
    ends : list of (float, str)
        The height at which each line ends, and its name.
    size : float
        Of the letters [points].
    """
    low, high = ax.get_ylim()
    tall = ax.get_position().height * ax.figure.get_figheight() * 72.0
    for height, name in apart(ends, 1.12 * size * (high - low) / tall, high):
        ax.annotate(
            name, (1.0, height), xycoords=("axes fraction", "data"), xytext=(3, 0), va="center",
            textcoords="offset points", fontsize=size, annotation_clip=False,
        )  # fmt: skip


def in_units(
    table: pd.DataFrame, display: Display, *, name: str = "", metric: str = ""
) -> pd.DataFrame:
    """A table with its numbers in the reader's units, to be drawn; its columns keep their names.

    Parameters
    ----------
    table : DataFrame
        In g, mm, degC and h.
    display : Display
        The reader's units.
    name : str
        The table's own name, by which the glossary knows its columns.
    metric : str
        What is measured in the columns that do not name a unit.
    """
    new = {}
    for own in table.columns:
        c = column(own, name) if own in GLOSSARY else None
        if c is None or not pd.api.types.is_float_dtype(table[own].dtype):
            continue
        unit = GLOSSARY[metric].unit if c.follows and metric else c.unit
        if display.symbol(unit) != unit:
            new[own] = display.value(table[own], unit, span=c.span)
    return table.assign(**new)


def blank(words: str):
    """A figure that says why it shows nothing."""
    figure, ax = plt.subplots(figsize=(WIDTH, 0.6))
    ax.set_axis_off()
    ax.text(0.0, 0.5, words, transform=ax.transAxes, va="center")
    figure.set_label(words)
    return figure

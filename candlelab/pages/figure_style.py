"""The house style of every figure: colours, markers, type, and a decorator that draws in it."""

from __future__ import annotations

import functools
import warnings
from typing import cast

import matplotlib.pyplot as plt
from matplotlib import font_manager
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.font_manager import FontProperties

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "<", ">")
INK, SOFT = "#222222", "#767676"
BLUE, ORANGE, SAND = "#0173b2", "#b25c00", "#e9dfc9"
STYLE = {
    "figure.dpi": 130, "savefig.dpi": 130, "svg.hashsalt": "candlelab",
    "font.size": 9.5, "text.parse_math": False, "legend.frameon": False, "lines.linewidth": 1.2,
    "axes.titlesize": 10, "axes.titleweight": "bold", "axes.titlelocation": "left",
    "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": SOFT,
    "axes.grid": True, "axes.axisbelow": True, "grid.color": "#e4e4e4", "grid.linewidth": 0.7,
}  # fmt: skip
# For the signs that the first font has not; those that are installed are asked in this order.
_MORE_FONTS = (
    "Noto Sans CJK JP", "Noto Sans CJK SC", "Noto Sans", "Hiragino Sans", "PingFang SC",
    "Yu Gothic", "Microsoft YaHei", "Malgun Gothic", "WenQuanYi Zen Hei", "Arial Unicode MS",
    "Segoe UI", "Noto Emoji", "Segoe UI Emoji",
)  # fmt: skip


def styled(draw):
    """Draw in the house style, whatever the session's own style is."""

    @functools.wraps(draw)
    def drawn(*args, **kwargs):
        installed = set(font_manager.get_font_names())
        fonts = ["DejaVu Sans", *(name for name in _MORE_FONTS if name in installed)]
        with plt.rc_context(STYLE | {"font.family": fonts}):
            return draw(*args, **kwargs)

    return drawn


def rows_axes(names: list[str], *, above: float, each: float = 0.27):
    """A figure and its axes, with a row for each name and a key below.

    Margins are set by hand: working them out takes longer than drawing.

    Parameters
    ----------
    names : list of str
        What stands beside the rows, from above.
    above : float
        Height kept free over the rows [in].
    each : float
        Height of a row [in].
    """
    width, height = 8.6, each * len(names) + 0.85 + above
    figure, ax = plt.subplots(figsize=(width, height))
    family, size = plt.rcParams["font.family"], plt.rcParams["ytick.labelsize"]
    font = FontProperties(family=family, size=size)
    pen = cast(FigureCanvasAgg, figure.canvas).get_renderer()
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from")  # drawn as a box, as wide as any
        widths = [pen.get_text_width_height_descent(name, font, False)[0] for name in names]
    figure.subplots_adjust(
        left=min(max(widths, default=0.0) / figure.dpi + 0.15, 6.0) / width,
        right=1 - 0.1 / width,
        bottom=0.75 / height,
        top=1 - above / height,
    )
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.4, -0.6)
    return figure, ax


def blank(words: str):
    """A figure that says why it shows nothing."""
    figure, ax = plt.subplots(figsize=(8.6, 0.7))
    ax.set_axis_off()
    ax.text(0.0, 0.5, words, transform=ax.transAxes, va="center")
    figure.set_label(words)
    return figure

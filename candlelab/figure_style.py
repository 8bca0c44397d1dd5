"""The house style of every figure: colours, markers, type, and a decorator that draws in it."""

from __future__ import annotations

import matplotlib.pyplot as plt
from matplotlib import font_manager

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "<", ">")
INK, SOFT = "#222222", "#767676"
STYLE = {
    "figure.dpi": 130, "savefig.dpi": 130, "font.size": 9.5, "axes.titlesize": 10, "axes.titleweight": "bold", "axes.titlelocation": "left",
    "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": SOFT, "axes.grid": True, "grid.color": "#e4e4e4",
    "grid.linewidth": 0.7, "axes.axisbelow": True, "text.parse_math": False, "legend.frameon": False, "lines.linewidth": 1.2,
    "svg.hashsalt": "candlelab",
}  # fmt: skip
# For the signs that the first font has not; those that are installed are asked in this order.
_MORE_FONTS = (
    "Noto Sans CJK JP", "Noto Sans CJK SC", "Noto Sans", "Hiragino Sans", "PingFang SC", "Yu Gothic", "Microsoft YaHei", "Malgun Gothic",
    "WenQuanYi Zen Hei", "Arial Unicode MS", "Segoe UI", "Noto Emoji", "Segoe UI Emoji",
)  # fmt: skip


def styled(draw):
    """Draw in the house style, whatever the session's own style is."""

    def drawn(*args, **kwargs):
        installed = set(font_manager.get_font_names())
        fonts = ["DejaVu Sans", *(name for name in _MORE_FONTS if name in installed)]
        with plt.rc_context(STYLE | {"font.family": fonts}):
            return draw(*args, **kwargs)

    drawn.__doc__, drawn.__name__ = draw.__doc__, draw.__name__
    return drawn


def blank(words: str):
    """A figure that says why it shows nothing."""
    figure, ax = plt.subplots(figsize=(8.6, 0.7))
    ax.set_axis_off()
    ax.text(0.0, 0.5, words, transform=ax.transAxes, va="center")
    figure.set_label(words)
    return figure

"""Small drawings side by side, each with its own frame and scales, all in one Axes.

An Axes of matplotlib takes longer to make and to lay out than what is drawn in a small panel.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator, ScalarFormatter

from candlelab.pages.figure_style import SOFT, STYLE, apart

_IN = 72.0  # points
_PAD, _STEPS = 3.5, [1, 2, 2.5, 5, 10]
_DIGIT = 0.636  # width of a digit, as a share of the size of its letters


def ticks(ends: tuple[float, float], most: int, *, whole: bool = False) -> np.ndarray:
    """Round values between two ends, few enough to be told apart."""
    low, high = ends
    locator = MaxNLocator(most, steps=_STEPS, integer=whole, min_n_ticks=2)
    found = np.asarray(locator.tick_values(low, high))
    return found[(found >= low - 1e-9) & (found <= high + 1e-9)]


def ends_with_room(values) -> tuple[float, float]:
    """The ends of a scale on which these values do not touch the frame."""
    low, high = np.nanmin(values), np.nanmax(values)
    room = 0.05 * (high - low) or 0.5
    return low - room, high + room


class Sheet:
    """A figure of equal panels in rows and columns; lengths in inches.

    Parameters
    ----------
    size : (float, float)
        Width and height of the figure.
    down, across : int
        Rows and columns of panels.
    left, right, bottom, top : float
        Margins around all panels.
    beside, between : float
        Room between columns and between rows, as shares of a panel.
    """

    def __init__(
        self, size, down: int, across: int, *, left, right, bottom, top, beside, between
    ) -> None:  # fmt: skip
        self.figure = plt.figure(figsize=size)
        self.ax = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.ax.set_axis_off()
        self.ax.set(xlim=(0.0, _IN * size[0]), ylim=(0.0, _IN * size[1]))
        self._left, self._top = _IN * left, _IN * (size[1] - top)
        self._wide = _IN * (size[0] - left - right) / (across + beside * (across - 1))
        self._high = _IN * (size[1] - bottom - top) / (down + between * (down - 1))
        self._right, self._down = (1.0 + beside) * self._wide, (1.0 + between) * self._high
        self._lines: dict[tuple, list[np.ndarray]] = {}

    def panel(self, row: int, column: int, x_ends, y_ends) -> Panel:
        """The panel of that place, with the ends of its scales."""
        x, y = self._left + column * self._right, self._top - row * self._down - self._high
        return Panel(self, x, y, self._wide, self._high, x_ends, y_ends)

    def line(self, x, y, **look) -> None:
        """A line in points from the lower left corner; lines of one look are drawn as one."""
        points = np.column_stack([*np.broadcast_arrays(x, y)]).astype(float)
        self._lines.setdefault(tuple(look.items()), []).extend((points, np.full((1, 2), np.nan)))

    def drawn(self):
        """The figure with all its lines."""
        for look, parts in self._lines.items():
            self.ax.add_artist(Line2D(*np.concatenate(parts)[:-1].T, **dict(look)))
        return self.figure


@dataclass(frozen=True)
class Panel:
    """One panel of a sheet; its place in points, its scales in what is drawn."""

    sheet: Sheet
    left: float
    bottom: float
    wide: float
    high: float
    x_ends: tuple[float, float]
    y_ends: tuple[float, float]

    def _x(self, x):
        return self.left + self.wide * (np.asarray(x) - self.x_ends[0]) / np.ptp(self.x_ends)

    def _y(self, y):
        return self.bottom + self.high * (np.asarray(y) - self.y_ends[0]) / np.ptp(self.y_ends)

    def line(self, x, y, **look) -> None:
        """A line, or signs without one."""
        self.sheet.line(self._x(x), self._y(y), **look)

    def level(self, y: float, **look) -> None:
        """A line from side to side."""
        self.line(self.x_ends, [y, y], **look)

    def band(self, x, low, high, colour: str) -> None:
        """What lies between two lines, filled."""
        ends = self._y(low), self._y(high)
        self.sheet.ax.fill_between(self._x(x), *ends, color=colour, linewidth=0)

    def text(self, x: float, y: float, words: str, *, right: float = 0.0, **how: Any) -> None:
        """Words at a point, some points to its right."""
        self.sheet.ax.text(float(self._x(x)) + right, float(self._y(y)), words, **how)

    def corner(self, right: float, up: float, words: str, **how: Any) -> None:
        """Words at a share of the width and of the height."""
        x, y = self.left + right * self.wide, self.bottom + up * self.high
        self.sheet.ax.text(x, y, words, **how)

    def key(self, right: float, up: float, words: str, *looks: dict) -> None:
        """Words beside a line of each look, or a sign where that is no line, in a corner."""
        x, y = self.left + right * self.wide, self.bottom + up * self.high
        for look in looks:
            self.sheet.line([x + 8.0] if "marker" in look else [x, x + 16.0], y, **look)
        self.sheet.ax.text(x + 21.5, y, words, va="center", fontsize=8)

    def above(self, words: str, *, size: float, pad: float, **how: Any) -> None:
        """Words over the panel, from its left side on."""
        self.sheet.ax.text(self.left, self.bottom + self.high + pad, words, fontsize=size, **how)

    def title(self, words: str, *, size: float, pad: float = 6.0) -> None:
        """The panel's name over it."""
        self.above(words, size=size, pad=pad, fontweight=STYLE["axes.titleweight"])

    def frame(self, x_ticks, y_ticks, *, length: float) -> None:
        """Left and lower side, marks, and grid; marks of so many points."""
        x0, y0, x1, y1 = self.left, self.bottom, self.left + self.wide, self.bottom + self.high
        grid = {
            "color": STYLE["grid.color"], "linewidth": STYLE["grid.linewidth"], "zorder": 0.5,
        }  # fmt: skip
        mark = {"color": "black", "linewidth": 0.8, "zorder": 0.6, "solid_capstyle": "butt"}
        for x in self._x(x_ticks):
            self.sheet.line([x, x], [y0, y1], **grid)
            self.sheet.line([x, x], [y0 - length, y0], **mark)
        for y in self._y(y_ticks):
            self.sheet.line([x0, x1], [y, y], **grid)
            self.sheet.line([x0 - length, x0], [y, y], **mark)
        self.sheet.line([x0, x0, x1], [y1, y0, y0], color=SOFT, linewidth=0.8, zorder=2.5)

    def scale_below(self, values, name: str, *, size: float, length: float, letters: float) -> None:
        """Numbers of ``size`` points under the marks, and what they are, in letters of theirs."""
        low = self.bottom - length - _PAD
        for x, words in zip(self._x(values), _numbers(values, self.x_ends), strict=True):
            self.sheet.ax.text(x, low, words, ha="center", va="top", fontsize=size)
        middle = self.left + self.wide / 2.0
        self.sheet.ax.text(middle, low - size - 4.0, name, ha="center", va="top", fontsize=letters)

    def scale_beside(
        self, values, name: str, *, size: float, length: float, letters: float
    ) -> None:  # fmt: skip
        """Numbers left of the marks, and left of the longest what they are."""
        left, numbers = self.left - length - _PAD, _numbers(values, self.y_ends)
        for y, words in zip(self._y(values), numbers, strict=True):
            self.sheet.ax.text(left, y, words, ha="right", va="center_baseline", fontsize=size)
        left -= _DIGIT * size * max(map(len, numbers), default=0) + 4.0
        middle = self.bottom + self.high / 2.0
        self.sheet.ax.text(
            left, middle, name, ha="right", va="center", rotation=90, fontsize=letters
        )

    def name_ends(self, ends: Iterable[tuple[float, str]], *, size: float) -> None:
        """Names at the right end of lines, moved apart where they would cover each other."""
        per_point = np.ptp(self.y_ends) / self.high
        for height, name in apart(ends, 1.12 * size * per_point, self.y_ends[1]):
            self.text(self.x_ends[1], height, name, right=3.0, va="center", fontsize=size)


def _numbers(values, ends) -> list[str]:
    """The numbers of a scale."""
    formatter: Any = ScalarFormatter(useOffset=False)
    formatter.create_dummy_axis()
    formatter.axis.set_view_interval(*ends)
    return formatter.format_ticks(values)

"""A drawn figure as the bytes of a PNG file.

Most figures are in black, gray and white: one byte for each of their dots in place of four makes
pages a third smaller, and takes less time.
"""

from __future__ import annotations

import io

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from candlelab.pages.figure_style import STYLE

_LEVEL = 4  # 6 takes a quarter longer for 5 % less


def png_of(figure) -> bytes:
    """The figure drawn, as a PNG file in gray or in red, green and blue."""
    figure.set_dpi(STYLE["savefig.dpi"])
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    dots = np.asarray(canvas.buffer_rgba())
    gray = dots[:, :, 0]
    is_gray = np.array_equal(gray, dots[:, :, 1]) and np.array_equal(gray, dots[:, :, 2])
    file = io.BytesIO()
    picture = Image.fromarray(gray if is_gray else dots[:, :, :3])
    picture.save(file, "PNG", compress_level=_LEVEL, dpi=(figure.get_dpi(), figure.get_dpi()))
    return file.getvalue()

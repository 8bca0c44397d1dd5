"""A drawn figure as the bytes of a PNG file.

Most figures are in black, gray and white: one byte for each of their dots in place of four makes
pages a third smaller, and takes half the time. Lines without a filter pack best.
"""

from __future__ import annotations

import struct
import zlib

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg

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
    rows = gray if is_gray else dots[:, :, :3].reshape(len(dots), -1)
    unfiltered = np.pad(rows, ((0, 0), (1, 0)))  # each line begins with the number of its filter
    height, width = gray.shape
    header = struct.pack(">2I5B", width, height, 8, 0 if is_gray else 2, 0, 0, 0)
    per_meter = round(figure.get_dpi() / 0.0254)
    parts = (
        (b"IHDR", header),
        (b"pHYs", struct.pack(">2IB", per_meter, per_meter, 1)),
        (b"IDAT", zlib.compress(unfiltered.tobytes(), _LEVEL)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in parts
    )

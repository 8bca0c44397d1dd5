"""Compares pictures by what they show: pixel by pixel, whatever their bytes are."""

from __future__ import annotations

import io
import struct

import numpy as np

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
# What the figures are made of. A chunk of another kind (colors, animation) may show something else.
_CHUNKS = {b"IHDR", b"pHYs", b"tEXt", b"IDAT", b"IEND"}
# Eight bits of gray, of red, green and blue, of these and how solid; not interlaced.
_KINDS = {bytes((8, color, 0, 0, 0)) for color in (0, 2, 6)}
# Another machine may draw the edges of letters otherwise; a mark that is moved changes whole blocks
# of pixels. Common practice, no source: a block of 4 by 4 may differ by a tenth of white.
_BLOCK, _TOLERANCE = 4, 25.5


def same_picture(one: bytes, other: bytes) -> bool:
    """Whether two PNG files show the same."""
    if one == other:
        return True
    if _size(one) is None or _size(one) != _size(other):
        return False
    try:
        a, b = _pixels(one), _pixels(other)
    except (OSError, ValueError, SyntaxError):
        return False
    difference = a.astype(np.int16) - b
    height, width = (-(-n // _BLOCK) * _BLOCK for n in difference.shape[:2])
    padded = np.zeros((height, width, difference.shape[2]), dtype=np.int16)
    padded[: difference.shape[0], : difference.shape[1]] = difference
    blocks = padded.reshape(height // _BLOCK, _BLOCK, width // _BLOCK, _BLOCK, -1)
    return bool((np.abs(blocks.mean(axis=(1, 3))) <= _TOLERANCE).all())


def _size(data: bytes) -> bytes | None:
    """Width and height in a PNG file of plain chunks and a plain kind; None for any other file."""
    if not data.startswith(_SIGNATURE):
        return None
    at, header = len(_SIGNATURE), None
    while at + 12 <= len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        if kind not in _CHUNKS:
            return None
        if kind == b"IHDR":
            header = data[at + 8 : at + 8 + length] if header is None else b""
        at += 12 + length
        if kind == b"IEND":
            break
    return header[:8] if at == len(data) and header and header[8:] in _KINDS else None


def _pixels(data: bytes) -> np.ndarray:
    from PIL import Image

    with Image.open(io.BytesIO(data), formats=["PNG"]) as picture:
        return np.asarray(picture.convert("RGBA"))

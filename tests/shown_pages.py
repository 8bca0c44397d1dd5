"""Pages made in this process: all that a notebook shows, without a kernel of its own."""

import html
import json
import re
from unittest import mock

import batches

from candlelab.pages import show
from candlelab.pages.run import shipped

_SHOWN = {}


def shown(notebook, **parameters):
    """What the notebook of that name shows, piece by piece: HTML, and the words of figures."""
    key = notebook, repr(parameters)
    if key not in _SHOWN:
        _SHOWN[key] = _shown(notebook, parameters)
    return list(_SHOWN[key])


def _shown(notebook, parameters):
    pieces, keep, draw = [], show.display, show.png_of
    show.png_of = lambda _: b""  # words are asked for: figures are made, and not painted
    show.display = lambda item, **_: pieces.append(
        html.escape(item["text/plain"]) if isinstance(item, dict) else item.data
    )
    try:
        names = {}
        book = json.loads((shipped("notebooks") / f"{notebook}.ipynb").read_text(encoding="utf-8"))
        for cell in book["cells"]:
            if cell["cell_type"] != "code":
                continue
            with mock.patch("candlelab.logs.batch.read_batch", batches.read):
                exec("".join(cell["source"]), names)
            if "parameters" in cell["metadata"].get("tags", []):
                names |= parameters
    finally:
        show.display, show.png_of = keep, draw
    return pieces


def text_of(pieces):
    """What a reader reads and hears."""
    titles = re.findall(r'title="([^"]*)"', "".join(pieces))
    text = "\n".join([*(re.sub(r"<[^>]+>", " | ", p) for p in pieces), *titles])
    return html.unescape(text).replace("\u00a0", " ")

"""A dollar sign of a log is a dollar sign: in JupyterLab, which typesets formulas, and in figures.

MathJax leaves alone what stands in an element of the class ``mathjax_ignore`` (its documentation,
"ignoreHtmlClass").
"""

import io
from html.parser import HTMLParser

import matplotlib
import numpy as np
import pandas as pd
import pytest
from matplotlib import pyplot as plt
from PIL import Image

from candlelab.pages import show
from candlelab.pages.figure_style import house_style, styled

PRICE = "$5 wax_1$ and $x^2$"


class _Ignored(HTMLParser):
    """Collects the texts of markup that MathJax would look at."""

    def __init__(self):
        super().__init__()
        self.open, self.seen, self.hidden = [], [], []

    def handle_starttag(self, tag, attrs):
        if tag not in ("br", "img", "hr", "meta", "wbr"):
            self.open.append("mathjax_ignore" in (dict(attrs).get("class") or "").split())

    def handle_endtag(self, tag):
        if tag not in ("br", "img", "hr", "meta", "wbr"):
            self.open.pop()

    def handle_data(self, data):
        (self.hidden if any(self.open) else self.seen).append(data)


SHOWN = {
    "a table": lambda: show.show_table(pd.DataFrame({"candidate": [PRICE]}), PRICE, name="ranking"),
    "a title": lambda: show.show_heading(PRICE, PRICE),
    "an answer": lambda: show.show_answer([PRICE]),
    "sentences": lambda: show.show_sentences(PRICE),
    "a list": lambda: show.show_list([PRICE]),
    "results": lambda: show.show_results({"tables": {}}, PRICE),
}


@pytest.mark.parametrize("what", SHOWN)
def test_a_notebook_shows_it_as_it_is(what, monkeypatch):
    pages = []

    def display(item, **_):
        pages.append(item["text/html"] if isinstance(item, dict) else item.data)

    monkeypatch.setattr(show, "display", display)
    SHOWN[what]()
    parser = _Ignored()
    for page in pages:
        parser.feed(page)
    assert any("$5 wax_1$" in text for text in parser.hidden)
    assert not any("$" in text for text in parser.seen)


def _drawn(text, settings):
    """The pixels of a figure with that text everywhere, in a session with these settings."""

    @styled
    def draw():
        figure, ax = plt.subplots(figsize=(4, 2))
        ax.plot([0, 1], [0, 1], label=text)
        ax.set_title(text)
        ax.set_xlabel(text)
        ax.set_xticks([0, 1], [text, text])
        ax.legend(title=text)
        ax.text(0.2, 0.5, text)
        return figure

    with matplotlib.rc_context(settings):
        figure = draw()
        file = io.BytesIO()
        with house_style():
            figure.savefig(file, format="png")
        plt.close(figure)
    return np.asarray(Image.open(file))


@pytest.mark.slow
@pytest.mark.parametrize(
    "settings",
    [
        {"text.parse_math": True},
        {"text.usetex": True},
        {"font.size": 30, "axes.facecolor": "red", "savefig.bbox": "tight", "savefig.dpi": 30},
        {"axes.formatter.use_mathtext": True, "mathtext.default": "it", "figure.autolayout": True},
    ],
)
def test_a_figure_shows_it_as_it_is_whatever_the_session_wants(settings):
    plain, other = _drawn(PRICE, {}), _drawn(PRICE, settings)
    assert plain.shape == other.shape
    assert (plain == other).all()


def test_a_figure_with_it_is_not_a_formula():
    """The signs themselves are drawn: with them a text is wider than without."""
    with house_style():
        figure, ax = plt.subplots()
        widths = [
            ax.text(0, 0, text).get_window_extent(figure.canvas.get_renderer()).width
            for text in ("$x$", "x")
        ]
        plt.close(figure)
    assert widths[0] > 2 * widths[1]

"""The picture of a decision: what is over its limit is named, and no name covers a sign."""

import pandas as pd
import pytest
from batches import read
from places import DEMO

from candlelab.judge.margins import margins
from candlelab.judge.worked import WorkedBatch
from candlelab.pages.decision_figure import draw_margins

LIMITS = {"flame": (75.0, "mm"), "soot": (2.0, "grade"), "wall": (65.0, "°C"),
          "melt pool": (13.0, "mm")}  # fmt: skip


def readings(**shares):
    """Margins of wicks, each with its shares of the four limits [%]."""
    rows = [
        {"candidate": name, "fate": "ruled out", "limit_of": of, "worst": share * limit / 100.0,
         "share_pct": share, "unit": unit}
        for name, each in shares.items()
        for share, (of, (limit, unit)) in zip(each, LIMITS.items(), strict=True)
    ]  # fmt: skip
    return pd.DataFrame(rows)


def told_and_signs(table):
    """The words right of the signs with their boxes, all signs, and the figure's own box; dots."""
    figure = draw_margins(table)
    figure.canvas.draw()
    (ax,) = figure.axes
    kinds = tuple(LIMITS)
    told = {
        text.get_text(): text.get_window_extent()
        for text in ax.texts
        if text.get_text().startswith(kinds)
    }
    signs = [ax.transData.transform(at) for c in ax.collections for at in c.get_offsets()]
    return told, signs, figure.bbox


def holds(table):
    told, signs, whole = told_and_signs(table)
    for words, box in told.items():
        assert not any(box.contains(*at) for at in signs), words
        assert box.x1 <= whole.x1, words
    assert not any(
        a.overlaps(b) for name, a in told.items() for other, b in told.items() if name < other
    )
    return told


@pytest.mark.slow
@pytest.mark.parametrize("shares", [
    (106, 150, 101, 123), (101, 101, 101, 101), (160, 900, 101, 102), (40, 150, 101, 20),
    (104, 100, 90, 103), (20, 0, 101, 30),
])  # fmt: skip
def test_no_name_of_what_is_over_covers_a_sign(shares):
    told = holds(readings(**{"flat braid 2": shares, "flat braid 3": shares, "wooden 4": shares}))
    said = " ".join(told)
    for share, kind in zip(shares, LIMITS, strict=True):
        assert (kind in said) == (share > 100)


@pytest.mark.slow
def test_pictures_of_the_demo_batches():
    for name in ("screening", "kitchen"):
        holds(margins(WorkedBatch(read(DEMO / name))))

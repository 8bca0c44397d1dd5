"""The picture that carries the decision: how near each wick came to its limits."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.pages.figure_style import INK, SOFT, blank, rows_axes, styled
from candlelab.units import SI, Display

# Shape and filling tell the limits apart without color.
_LOOKS = {
    "flame": {"marker": "^", "facecolor": INK},
    "soot": {"marker": "s", "facecolor": "white"},
    "wall": {"marker": "o", "facecolor": SOFT},
    "melt pool": {"marker": "D", "facecolor": "white"},
}
_MOST_PCT = 160.0
_MOST_ROWS = 24
_WIDE, _LETTER = 400.0, 5.2  # the picture, and a letter of 9 points on average [points]


@styled
def draw_margins(margins: pd.DataFrame, *, display: Display = SI):
    """Worst reading of each candidate as a share of its limits, the best candidate first.

    Parameters
    ----------
    margins : DataFrame
        What ``margins`` of a worked batch gives.
    display : Display
        The reader's units.

    Returns
    -------
    Figure
        A row for each candidate, those that were ruled out marked with a cross; a sign for each
        limit; the line at 100 % is the limit.
    """
    if margins.empty:
        return blank("No reading stands against a limit yet.")
    table = margins.drop_duplicates("candidate")
    many, table = len(table), table.head(_MOST_ROWS)
    margins = margins[margins["candidate"].isin(table["candidate"])]
    names = [
        f"✗ {row.candidate}: ruled out" if row.fate == "ruled out" else row.candidate
        for row in table.itertuples()
    ]
    figure, ax = rows_axes(names, above=0.62, each=0.52, below=0.55)
    row_of = {name: n for n, name in enumerate(table["candidate"])}
    kinds = [kind for kind in _LOOKS if kind in set(margins["limit_of"])]
    for n, kind in enumerate(kinds):
        own = margins[margins["limit_of"] == kind]
        y = own["candidate"].map(row_of) + _row(n, len(kinds))
        x = np.minimum(own["share_pct"], _MOST_PCT)
        ax.scatter(
            x, y, s=46, label=kind, edgecolor=INK, linewidth=1.1, zorder=3, clip_on=False,
            **_LOOKS[kind],
        )  # fmt: skip
    ends = [135.0]
    for name, over in margins[margins["share_pct"] > 100.0 + 1e-6].groupby("candidate"):
        told = _told([f"{r.limit_of} {_reading(r, display)}" for r in over.itertuples()])
        at = min(over["share_pct"].max(), _MOST_PCT)
        y = row_of[name] + np.mean([_row(kinds.index(one), len(kinds)) for one in over["limit_of"]])
        ax.annotate(
            told, (at, y), xytext=(8, 0), va="center", fontsize=9, linespacing=1.1,
            textcoords="offset points",
        )  # fmt: skip
        ends.append(at / (1.0 - (8.0 + _LETTER * max(map(len, told.split("\n")))) / _WIDE))
    ax.axvline(100.0, color=INK, linewidth=1.6)
    ax.annotate("the limit", (100.0, 1.0), xycoords=("data", "axes fraction"), xytext=(0, 3),
                textcoords="offset points", ha="center", fontsize=9.5)  # fmt: skip
    ax.set_xlim(0.0, max(ends))
    ax.set_xlabel("worst reading as a share of the limit (%)")
    figure.legend(loc="upper left", bbox_to_anchor=(0.0, 1.0), ncols=4, borderaxespad=0.2,
                  handletextpad=0.2, columnspacing=1.2)  # fmt: skip
    more = "" if many == len(table) else f" The first {len(table)} of {many} candidates."
    figure.set_label(_words(margins) + more)
    return figure


def _row(n: int, kinds: int) -> float:
    """How far below the middle of its row a sign stands, so that none hides another."""
    return 0.21 + 0.1 * (n - (kinds - 1) / 2.0)


def _told(labels: list[str]) -> str:
    """What is over its limit, right of the signs: in lines of one each, of two where many are."""
    each = 1 if len(labels) < 3 else 2
    return ",\n".join(", ".join(labels[n : n + each]) for n in range(0, len(labels), each))


def _reading(row, display: Display) -> str:
    return display.amount(row.worst, row.unit) if row.unit != "grade" else f"grade {row.worst:.0f}"


def _words(margins: pd.DataFrame) -> str:
    said = []
    for name, own in margins.groupby("candidate", sort=False):
        parts = [f"{r.limit_of} {r.share_pct:.0f} %" for r in own.itertuples()]
        out = ", ruled out" if own["fate"].iat[0] == "ruled out" else ""
        said.append(f"{name}{out}: {', '.join(parts)}")
    return "Worst reading as a share of the limit. " + "; ".join(said) + "."

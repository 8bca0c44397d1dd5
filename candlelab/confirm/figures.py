"""Drawings of a confirmation: every fresh candle against the range predicted.

Computes nothing; carries its words.
"""

from __future__ import annotations

from collections.abc import Mapping

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

from candlelab.pages.figure_style import BLUE, INK, WIDTH, blank, styled
from candlelab.pages.glossary import GLOSSARY, column
from candlelab.text import counted, rounded
from candlelab.units import SI, Display

_MEASURED = ("range_low", "range_high", "middle", "value", "after", "until")
_RED, _BAND = "#b2391f", "#d7dfe6"
_PLACES = (
    ("inside", "o", BLUE, "fresh candle, inside"),
    ("ends between two checks", "o", "white", "fresh candle, the checks do not tell"),
    ("outside", "X", _RED, "fresh candle, outside"),
)


@styled
def draw_confirmation(
    ranges: pd.DataFrame,
    candles: pd.DataFrame,
    screened: pd.DataFrame,
    *,
    limits: Mapping[str, float] | None = None,
    display: Display = SI,
):
    """Every fresh candle against its range: a panel per measurement, a row per candidate.

    The range predicted is a band, with screening candles above it and fresh ones in it.

    Parameters
    ----------
    ranges, candles, screened : DataFrame
        The tables ``ranges``, ``fresh_candles`` and ``screened_candles`` of a confirmation.
    limits : mapping
        What a measurement is held to, in its own unit, by its column: a line in its panel.
    display : Display
        The reader's units.

    Returns
    -------
    matplotlib.figure.Figure
    """
    ranges, candles, screened = (_in_units(t, display) for t in (ranges, candles, screened))
    shown = ranges[ranges["range_low"].notna()]
    if shown.empty:
        return blank("No range could be predicted, so there is nothing to draw.")
    metrics, names = list(dict.fromkeys(shown["metric"])), list(dict.fromkeys(shown["candidate"]))
    down = -(-len(metrics) // 2)
    size = (WIDTH, down * (0.72 * len(names) + 0.75) + 0.5)
    figure, axes = plt.subplots(
        down, 2, figsize=size, layout="constrained", squeeze=False, sharey=True
    )
    for ax, metric in zip(axes.flat[: len(metrics)], metrics, strict=True):
        limit = display.value((limits or {}).get(metric, np.nan), GLOSSARY[metric].unit)
        _panel(ax, metric, names, shown, candles, screened, limit)
        ax.set_xlabel(display.heading(column(metric)))
    for ax in list(axes.flat)[len(metrics) :]:
        ax.set_axis_off()
    handles: dict = {}
    for ax in axes.flat:
        handles |= dict(zip(*reversed(ax.get_legend_handles_labels()), strict=True))
    figure.legend(list(handles.values()), list(handles), loc="outside lower center", ncols=2)
    held = [m for m in metrics if m in (limits or {})]
    figure.set_label(_words(shown) + _limit_words(held, limits or {}, display))
    return figure


def _limit_words(metrics: list[str], limits: Mapping[str, float], display: Display) -> str:
    units = {metric: GLOSSARY[metric].unit for metric in metrics}
    return "".join(f" Your stop limit: {display.both(limits[m], units[m])}." for m in metrics)


def _in_units(table: pd.DataFrame, display: Display) -> pd.DataFrame:
    """A table whose rows measure different things, each in the reader's unit."""
    own = [name for name in _MEASURED if name in table]
    parts = [
        rows.assign(**{n: display.value(rows[n], GLOSSARY[metric].unit) for n in own})
        for metric, rows in table.groupby("metric", sort=False)
    ]
    return pd.concat(parts) if parts else table


def _panel(ax, metric: str, names: list[str], ranges, candles, screened, limit: float) -> None:
    own = ranges[ranges["metric"] == metric].set_index("candidate")
    fresh, before = candles[candles["metric"] == metric], screened[screened["metric"] == metric]
    values = [
        *(own[name] for name in ("range_low", "range_high", "middle")),
        *(fresh[name] for name in ("value", "after", "until")),
        before["value"],
        pd.Series([limit]),
    ]
    span = pd.concat(values).dropna()
    room = 0.06 * (span.max() - span.min() or 1.0)
    ax.set_xlim(span.min() - room, span.max() + room)
    for row, name in enumerate(names):
        if name in own.index:
            _band(ax, row, own.loc[name])
            old = before[before["candidate"] == name].sort_values("value")
            look = {"marker": "|", "color": INK, "linewidth": 1.2, "label": "screening candle"}
            ax.scatter(old["value"], np.full(len(old), row - 0.2), s=60, **look)
            _dots(ax, row, fresh[fresh["candidate"] == name].sort_values("value"))
    if not np.isnan(limit):
        ax.axvline(limit, color=_RED, linestyle="--", linewidth=1.6, label="your stop limit")
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.45, -0.55)
    ax.grid(axis="y", visible=False)


def _band(ax, row: int, own: pd.Series) -> None:
    """The range predicted, to the end of the panel where it is open, and its middle."""
    low, high = own["range_low"], own["range_high"]
    high = ax.get_xlim()[1] if np.isnan(high) else high
    look = {"color": _BAND, "linewidth": 0, "label": "range predicted for each fresh candle"}
    ax.barh(row, high - low, left=low, height=0.62, **look)
    look = {"color": INK, "linewidth": 1.0, "linestyle": ":", "label": "middle of the screening"}
    ax.plot([own["middle"]] * 2, [row - 0.31, row + 0.31], **look)


def _dots(ax, row: int, own: pd.DataFrame) -> None:
    """Fresh candles one below the other within their row; a line from check to check for a time."""
    places = row + (np.array([0.08]) if len(own) == 1 else np.linspace(-0.08, 0.25, len(own)))
    end = ax.get_xlim()[1]
    look = {"color": BLUE, "linewidth": 0.8, "alpha": 0.7, "label": "between two checks"}
    for place, one in zip(places, own.itertuples(), strict=True):
        if not np.isnan(one.after):
            until = end if np.isnan(one.until) else one.until
            ax.plot([one.after, until], [place] * 2, **look)
    kind = own["fell"].where(~own["fell"].isin(["below", "above"]), "outside").to_numpy()
    for name, marker, colour, words in _PLACES:
        part = kind == name
        at = own["value"].fillna(own["after"]).to_numpy()[part]
        if part.any():
            ax.scatter(
                at,
                places[part],
                marker=marker,
                s=34,
                facecolor=colour,
                edgecolor=_RED if name == "outside" else BLUE,
                linewidth=1.0,
                zorder=3,
                label=words,
            )


def _words(ranges: pd.DataFrame) -> str:
    said = []
    for r in ranges.itertuples():
        end = "or more" if np.isnan(r.range_high) else f"to {rounded(r.range_high)}"
        fell = f"{counted(r.n_measured, 'fresh candle')}, {r.n_outside} outside"
        said.append(
            f"{r.candidate}, {r.quantity}: {rounded(r.range_low)} {end}, "
            + (fell if r.n_measured else "none measured")
        )
    told = "; ".join(said)
    return f"Every fresh candle against the range that the screening predicted. {told}."

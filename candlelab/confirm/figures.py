"""Drawings of a confirmation: every fresh candle against the range predicted.

Computes nothing; carries its words.
"""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

from candlelab.glossary import heading
from candlelab.pages.figure_style import INK, blank, styled

_BLUE, _RED, _BAND = "#0173b2", "#b2391f", "#d7dfe6"
_PLACES = (
    ("inside", "o", _BLUE, "fresh candle, inside"),
    ("ends between two checks", "o", "white", "fresh candle, the checks do not tell"),
    ("outside", "X", _RED, "fresh candle, outside"),
)


@styled
def draw_confirmation(ranges: pd.DataFrame, candles: pd.DataFrame, screened: pd.DataFrame):
    """A panel per measurement, a row per candidate: the range predicted, and every candle in it.

    Parameters
    ----------
    ranges, candles, screened : pandas.DataFrame
        The tables of that name of what `confirm_pick` gives.

    Returns
    -------
    matplotlib.figure.Figure
        Its label is its text for a reader who cannot see it.

    Examples
    --------
    >>> from candlelab import confirm_pick, demo_folder, draw_confirmation, read_batch
    >>> rounds = [read_batch(demo_folder(name)) for name in ("screening", "confirmation")]
    >>> result = confirm_pick(*rounds)
    >>> figure = draw_confirmation(result.ranges, result.candles, result.screened)
    >>> figure.get_label()[:27]
    'Every fresh candle against '
    """
    shown = ranges[ranges["range_low"].notna()]
    if shown.empty:
        return blank("No range could be predicted, so there is nothing to draw.")
    metrics, names = list(dict.fromkeys(shown["metric"])), list(dict.fromkeys(shown["candidate"]))
    down = -(-len(metrics) // 2)
    figure, axes = plt.subplots(
        down,
        2,
        figsize=(8.6, down * (0.72 * len(names) + 0.75) + 0.5),
        layout="constrained",
        squeeze=False,
        sharey=True,
    )
    for ax, metric in zip(axes.flat, metrics, strict=False):
        _panel(ax, metric, names, shown, candles, screened)
    for ax in list(axes.flat)[len(metrics) :]:
        ax.set_axis_off()
    handles = {}
    for ax in axes.flat:
        handles |= dict(zip(*reversed(ax.get_legend_handles_labels()), strict=True))
    figure.legend(handles.values(), handles.keys(), loc="outside lower center", ncols=3)
    figure.set_label(_words(shown))
    return figure


def _panel(ax, metric: str, names: list[str], ranges, candles, screened) -> None:
    own = ranges[ranges["metric"] == metric].set_index("candidate")
    fresh, before = candles[candles["metric"] == metric], screened[screened["metric"] == metric]
    of_range = own[["range_low", "range_high", "middle"]].stack()
    of_candles = fresh[["value", "after", "until"]].stack()
    span = pd.concat([of_range, of_candles, before["value"]]).dropna()
    room = 0.06 * (span.max() - span.min() or 1.0)
    ax.set_xlim(span.min() - room, span.max() + room)
    for row, name in enumerate(names):
        if name not in own.index:
            continue
        low, high = own.at[name, "range_low"], own.at[name, "range_high"]
        high = ax.get_xlim()[1] if np.isnan(high) else high
        ax.barh(
            row,
            high - low,
            left=low,
            height=0.62,
            color=_BAND,
            linewidth=0,
            label="range predicted for each fresh candle",
        )
        ax.plot(
            [own.at[name, "middle"]] * 2,
            [row - 0.31, row + 0.31],
            color=INK,
            linewidth=1.0,
            linestyle=":",
            label="middle of the screening",
        )
        old = before[before["candidate"] == name].sort_values("value")
        ax.scatter(
            old["value"],
            np.full(len(old), row - 0.2),
            marker="|",
            s=60,
            color=INK,
            linewidth=1.2,
            label="screening candle",
        )
        _dots(ax, row, fresh[fresh["candidate"] == name].sort_values("value"))
    ax.set_yticks(range(len(names)), names)
    ax.set_ylim(len(names) - 0.45, -0.55)
    ax.grid(axis="y", visible=False)
    ax.set_xlabel(heading(metric))


def _dots(ax, row: int, own: pd.DataFrame) -> None:
    """Fresh candles one below the other within their row; a line from check to check for a time."""
    places = row + (np.array([0.08]) if len(own) == 1 else np.linspace(-0.08, 0.25, len(own)))
    end = ax.get_xlim()[1]
    for place, one in zip(places, own.itertuples(), strict=True):
        if not np.isnan(one.after):
            ax.plot(
                [one.after, end if np.isnan(one.until) else one.until],
                [place] * 2,
                color=_BLUE,
                linewidth=0.8,
                alpha=0.7,
                label="between two checks",
            )
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
                edgecolor=_RED if name == "outside" else _BLUE,
                linewidth=1.0,
                zorder=3,
                label=words,
            )


def _words(ranges: pd.DataFrame) -> str:
    said = []
    for r in ranges.itertuples():
        end = "or more" if np.isnan(r.range_high) else f"to {r.range_high:.3g}"
        fell = (
            "none measured"
            if not r.n_measured
            else f"{r.n_measured} fresh candles, {r.n_outside} outside"
        )
        said.append(f"{r.candidate}, {r.quantity}: {r.range_low:.3g} {end}, {fell}")
    return f"Every fresh candle against the range that the screening predicted. {'; '.join(said)}."

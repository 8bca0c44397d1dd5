"""Figures of scent: legible in grey, each with its numbers in words."""

from __future__ import annotations

import matplotlib.pyplot as plt
import numpy as np

from candlelab.burns.scents import HOT
from candlelab.judge.scent import LOAD
from candlelab.pages.figure_style import (
    BLUE,
    INK,
    MARKERS,
    ORANGE,
    SAND,
    SOFT,
    WIDTH,
    blank,
    styled,
)
from candlelab.pages.glossary import column
from candlelab.scent.judged import Scent
from candlelab.text import rounded
from candlelab.units import Display


@styled
def draw_scent(scent: Scent):
    """Hot throw of each candidate with its interval, each nose's mean, and what is enough.

    Parameters
    ----------
    scent : Scent
        What `judge_scent` gives.

    Returns
    -------
    matplotlib.figure.Figure
    """
    strength, hot = scent.strength, scent.strength.hot
    if hot is None:
        return blank("No picture: the scores cannot tell the candidates apart.")
    figure, ax = plt.subplots(figsize=(WIDTH, 4.2), layout="constrained")
    own = strength.scores[strength.scores["state"] == HOT]
    levels = sorted(own[strength.by].unique()) if strength.by == LOAD else hot.levels
    place = {level: n for n, level in enumerate(levels)}
    _noses(ax, own, strength.by, place)
    means = hot.estimates
    x = [place[level] for level in means["candidate"]]
    reach = [means["estimate"] - means["conf_low"], means["conf_high"] - means["estimate"]]
    ax.errorbar(x, means["estimate"], yerr=reach, color=INK, marker="o", markersize=7, capsize=4,
                linestyle="none", label="the panel, with its 95 % interval")  # fmt: skip
    if strength.enough is not None:
        top = float(means["estimate"].iloc[-1])
        ax.axhspan(top - strength.margin, top, color=SAND, zorder=0,
                   label=f"as strong as {strength.enough.top:g} %")  # fmt: skip
    _scale(ax, scent)
    names = [f"{level:g} %" if strength.by == LOAD else str(level) for level in levels]
    ax.set_xticks(range(len(levels)), names)
    ax.set_xlim(-0.5, len(levels) - 0.3)
    ax.set_xlabel("fragrance load" if strength.by == LOAD else "")
    figure.legend(loc="outside lower center", ncols=1)
    told = ", ".join(
        f"{names[place[level]]} {rounded(mean, digits=1)}"
        for level, mean in means[["candidate", "estimate"]].itertuples(index=False)
    )
    figure.set_label(f"Hot throw on the panel's scale, mean of the noses: {told}.")
    return figure


def _noses(ax, own, by: str, place: dict) -> None:
    """The means of each nose, with a marker and a line of its own, and its name at the end."""
    ends: dict[str, tuple[float, float]] = {}
    for n, (name, scores) in enumerate(own.groupby("assessor", sort=True)):
        means = scores.groupby(by)["score"].mean()
        at = [place[level] for level in means.index if level in place]
        ax.plot(at, [means[level] for level in means.index if level in place], color=SOFT,
                linewidth=1.1, marker=MARKERS[n % len(MARKERS)], markersize=5,
                linestyle=("-", "--", ":", "-.")[n % 4])  # fmt: skip
        if at:
            ends[str(name)] = (at[-1], float(means[means.index.isin(list(place))].iloc[-1]))
    under = -np.inf
    for name, (x, y) in sorted(ends.items(), key=lambda one: one[1][1]):
        under = max(y, under + 0.24)  # a line of text apart
        ax.annotate(name, (x, y), (x + 0.12, under), va="center", fontsize="small")


def _scale(ax, scent: Scent) -> None:
    settings = scent.worked.batch.settings.scent
    ax.set_ylim(-0.2, settings.top + 0.2)
    if settings.words:
        ax.set_yticks(range(len(settings.words)), settings.words)
    ax.set_ylabel("hot throw")


@styled
def draw_throw(scent: Scent):
    """Hot throw of every candle against the fragrance that it releases in an hour.

    Parameters
    ----------
    scent : Scent
        What `judge_scent` gives.

    Returns
    -------
    matplotlib.figure.Figure
    """
    table = scent.tables["throw_and_burn"]
    if table.empty:
        return blank("No picture: nobody smelled a burning candle.")
    figure, axes = plt.subplots(1, 2, figsize=(8.6, 3.2), layout="constrained", sharey=True)
    display = scent.worked.batch.settings.display
    for ax, name_x in zip(axes, ("fragrance_release_g_per_h", "burn_rate_g_per_h"), strict=True):
        for n, (name, own) in enumerate(table.groupby("candidate", sort=False)):
            x = display.value(own[name_x], "g/h")
            ax.scatter(x, own["scent"], s=30, marker=MARKERS[n % len(MARKERS)],
                       facecolor=(BLUE, "white", ORANGE, SAND)[n % 4], edgecolor=INK,
                       linewidth=0.8, label=str(name) if ax is axes[0] else None)  # fmt: skip
        ax.set_xlabel(display.heading(column(name_x)))
    axes[0].set_ylabel("hot throw of a candle")
    figure.legend(loc="outside lower center", ncols=2)
    told = _told(table, display)
    figure.set_label(f"Hot throw of every candle against what it releases: {told}.")
    return figure


def _told(table, display: Display) -> str:
    means = table.groupby("candidate", sort=False)[["fragrance_release_g_per_h", "scent"]].mean()
    return ", ".join(
        f"{name} {display.amount(row[0], 'g/h')}, {rounded(row[1], digits=1)}"
        for name, row in zip(means.index, means.to_numpy(), strict=True)
    )


@styled
def draw_worth(scent: Scent):
    """Hot throw of each candidate against what a candle of it costs.

    Parameters
    ----------
    scent : Scent
        What `judge_scent` gives.

    Returns
    -------
    matplotlib.figure.Figure
    """
    table = scent.tables["worth"]
    if table.empty:
        return blank("No picture: batch.toml has no [prices].")
    figure, ax = plt.subplots(figsize=(8.6, 2.8), layout="constrained")
    hot, names = scent.strength.hot, scent.strength.name_of
    ends = {} if hot is None else {names[r.candidate]: r for r in hot.estimates.itertuples()}
    for n, row in enumerate(table.itertuples()):
        end = ends.get(row.candidate)
        far = np.zeros((2, 1))
        if end is not None:
            far = np.array([[end.estimate - end.conf_low], [end.conf_high - end.estimate]])
        ax.errorbar([row.cost_candle], [row.scent], yerr=far, color=INK, capsize=4,
                    marker=MARKERS[n % len(MARKERS)], markersize=7, linestyle="none",
                    label=row.candidate)  # fmt: skip
    currency = scent.worked.batch.settings.prices.currency
    ax.set_xlabel(f"cost of a candle ({currency})" if currency else "cost of a candle")
    ax.set_ylabel("hot throw")
    figure.legend(loc="outside lower center", ncols=2)
    figure.set_label(
        "Hot throw against the cost of a candle: "
        + ", ".join(f"{r.candidate} {r.cost_candle:.2f}" for r in table.itertuples())
        + "."
    )
    return figure

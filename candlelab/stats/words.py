"""What was done and what it cannot show, in a candle maker's words."""

from __future__ import annotations

import numpy as np
from scipy import stats

from candlelab.stats.designs import POOLED, SEPARATE, Rows
from candlelab.stats.models import Model
from candlelab.text import counted, listed


def how(rows: Rows, spread: str) -> str:
    """What was done."""
    if spread == SEPARATE:
        first = (
            "The mean of each candle's rows stands for the candle."
            if rows.repeated
            else "One value per candle."
        )
        return f"{first} Each candidate has a spread of its own (Welch)."
    if rows.repeated:
        text = (
            "The candle is the unit: its burns tell about that candle and are not counted as "
            "candles (a level of its own for each candle, REML, degrees of freedom after Kenward "
            "and Roger). Candles of all candidates are taken to differ equally much."
        )
    else:
        text = (
            "One value per candle. Candles of all candidates are taken to differ equally much, and "
            "all of them tell how much."
        )
    if rows.n_shared:
        text += (
            " A new wick in a used candle is a unit of its own: the burns on one wick in one "
            "candle count once."
        )
    if rows.numbers:
        lines = "a straight line" if len(rows.numbers) == 1 else "straight lines"
        text += (
            f" Corrected for {listed(rows.numbers)} as {lines}; estimates stand for the mean over "
            "all rows."
        )
    if rows.blocks:
        text += f" Compared within {listed(rows.blocks)}; estimates give each the same weight."
    return text


def limits(rows: Rows, model: Model, spread: str) -> list[str]:
    """What to know before trusting the numbers."""
    notes = []
    if rows.n_shared:
        notes.append(
            f"{sharing(rows)} more than one candidate. What two wicks in one candle have in common "
            "is not taken off, so intervals are rather too wide than too narrow."
        )
    if rows.repeated and model.candle_sd == 0.0:
        notes.append(
            "Candles differed no more than their burns did, so the spread between candles is "
            "estimated as zero. With few candles that is often luck; the certainty is still that "
            "of the number of candles, not of burns."
        )
    if spread == SEPARATE and min(map(rows.candles_of, range(len(rows.cells)))) < 5:
        notes.append(
            "With fewer than five candles a spread of its own is poorly known: among six "
            "candidates of three candles luck passed for a difference in 6.4 % of simulated "
            "batches, in place of 5 %."
        )
    plain = not (rows.n_shared or rows.numbers or rows.blocks)
    if spread == POOLED and plain and (p := _unequal_spread(rows)) < 0.05:
        notes.append(
            "The spread differs between candidates by more than luck would do (Brown-Forsythe "
            f'test, p = {p:.2g}). Compare again with spread="separate".'
        )
    return notes


def sharing(rows: Rows) -> str:
    """How many candles carry more than one candidate, as the begin of a sentence."""
    if rows.n_shared == 1:
        return "One candle carries"
    return f"{counted(rows.n_shared, 'candle')} carry"


def only_candidate(name: str) -> str:
    """What a single candidate cannot show."""
    return f"{name} is the only candidate: there is nothing to compare it with."


def few_candidates(rows: Rows) -> list[str]:
    """What a single candidate, or a single candle of one, cannot show."""
    places = range(len(rows.cells))
    if len(places) == 1:
        return [only_candidate(rows.name(0))]
    single = [rows.name(i) for i in places if rows.candles_of(i) == 1]
    if not single:
        return []
    return [
        f"One candle only of {listed(single)}: how much its candles differ is taken from the "
        "others."
    ]


def reach(metric: str, differences) -> list[str]:
    """How far a difference is known with these candles."""
    if not len(differences):
        return []
    if differences["df"].min() < 1.0:
        return [
            "There are hardly enough candles for this comparison: where degrees of freedom are "
            "below 1 an interval says no more than that."
        ]
    half = (differences["conf_high"] - differences["conf_low"]) / 2.0
    low, high = half.min(), half.max()
    width = f"±{high:.2g}" if f"{low:.2g}" == f"{high:.2g}" else f"±{low:.2g} to ±{high:.2g}"
    return [
        f"A difference in {metric} is known to {width} with these candles; no difference found "
        "does not mean that there is none."
    ]


def _unequal_spread(rows: Rows) -> float:
    """p of the Brown-Forsythe test on the candles' means; 1 where too few tell."""
    first = np.unique(rows.unit, return_index=True)[1]
    means = np.bincount(rows.unit, rows.y) / np.bincount(rows.unit)
    groups = [means[rows.cell[first] == i] for i in range(len(rows.cells))]
    groups = [g for g in groups if len(g) > 2]
    if len(groups) < 2 or all(np.ptp(g) == 0.0 for g in groups):
        return 1.0
    return float(stats.levene(*groups, center="median").pvalue)

"""What was done and what it cannot show, in a candle maker's words."""

from __future__ import annotations

from candlelab.stats.designs import POOLED, SEPARATE, Rows
from candlelab.stats.intervals import standing_apart
from candlelab.stats.models import Model, unit_values
from candlelab.text import counted, listed

_APART = 0.05  # level of Cochran's test for a candidate that varies more than the others


def how(rows: Rows, spread: str) -> str:
    """What was done."""
    if spread == SEPARATE:
        first = (
            "The mean of each candle's rows stands for the candle."
            if rows.repeated
            else "One value per candle."
        )
        return f"{first} Each candidate has a variation of its own (Welch)."
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
            "Candles differed no more than their burns did, so the variation between candles is "
            "estimated as zero. With few candles that is often luck; the certainty is still that "
            "of the number of candles, not of burns."
        )
    if spread == SEPARATE and min(map(rows.candles_of, range(len(rows.cells)))) < 5:
        notes.append(
            "With fewer than five candles a variation of its own is poorly known: among six "
            "candidates of three candles luck passed for a difference in 6.4 % of simulated "
            "batches, in place of 5 %."
        )
    if spread == POOLED and (outlying := apart(rows)):
        notes.append(
            f"{apart_words(rows, outlying)} Here all candidates are taken to vary alike. Compare "
            'again with spread="separate".'
        )
    return notes


def apart(rows: Rows) -> tuple[int, ...]:
    """The candidates whose candles vary more than those of the others by more than luck would do:
    Cochran's test at 5 %, one after another, on the candles' means. It can ring with three candles;
    where one of three candidates varies four times as much it does in about half of batches."""
    if rows.n_shared or rows.numbers or rows.blocks:
        return ()
    value, cell = unit_values(rows)
    groups = {i: value[cell == i] for i in range(len(rows.cells))}
    found = tuple(sorted(standing_apart(groups, _APART)[1]))
    return found if 2 * len(found) <= len(groups) else ()


def apart_words(rows: Rows, outlying) -> str:
    """Which candidates stand apart."""
    names = listed(map(rows.name, outlying))
    return (
        f"Candles of {names} vary more than those of the others by more than luck would do "
        "(Cochran's test at 5 %)."
    )


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

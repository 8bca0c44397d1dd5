"""The answer of a comparison in sentences."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.compare.blocks import tied_words
from candlelab.compare.record import Asked
from candlelab.glossary import GLOSSARY, heading
from candlelab.pages.quantity import quantity
from candlelab.text import capital, counted, listed

NO_CHOICE = (
    "Candidates are put in order only when they are compared by wick and batch.toml names targets."
)


def answer_words(asked: Asked) -> tuple[str, ...]:
    lines = {"fragrance_load_pct": _load_words, "wax": _wax_words}.get(asked.by, _wick_words)(asked)
    if lines:
        lines = [*tied_words(asked.design), *lines]
    else:
        lines = ["These candles cannot be compared: " + " ".join(asked.refused)]
    lines.append(
        "A difference that is not shown may still be there; these are numbers of candles burnt "
        "here, and screening evidence, not a certificate."
    )
    return tuple(map(capital, lines))


def _number(asked: Asked, value: float) -> str:
    return quantity(asked.metric, value)


def _wick_words(asked: Asked) -> list[str]:
    if asked.comparison is None:
        return []
    means, pairs = asked.comparison.estimates.sort_values("estimate"), asked.comparison.differences
    low, high = means.iloc[0], means.iloc[-1]
    shown = int((pairs["p_adjusted"] < 1 - asked.comparison.confidence).sum())
    label = GLOSSARY[asked.metric].label
    if len(means) == 1:
        first = (
            f"there is only one candidate, {low['candidate']}, with "
            f"{_number(asked, low['estimate'])}: nothing to compare it with."
        )
    elif not shown:
        first = (
            f"no two of the {len(means)} candidates are shown to differ in {label}: what was "
            f"found, from {_number(asked, low['estimate'])} ({low['candidate']}) to "
            f"{_number(asked, high['estimate'])} ({high['candidate']}), may be luck."
        )
    else:
        differ = f"{counted(len(pairs), 'pair')} differ{'s' if shown == 1 else ''}"
        first = (
            f"{label} is highest with {high['candidate']}, {_number(asked, high['estimate'])}, and "
            f"lowest with {low['candidate']}, {_number(asked, low['estimate'])}; {shown} of "
            f"{differ} by more than luck."
        )
    return [first, *_equivalence_words(asked), *_choice_words(asked)]


def _equivalence_words(asked: Asked) -> list[str]:
    """How many pairs are shown to burn alike, within the margin that was named."""
    if asked.equivalence is None:
        return []
    pairs, margin = asked.equivalence.differences, _number(asked, asked.equivalence.margin)
    alike = pairs[pairs["p_adjusted"] <= 1.0 - asked.equivalence.confidence]
    if alike.empty:
        return [f"no pair is shown to be alike within {margin}; that does not mean they differ."]
    named = "; ".join(f"{row.candidate} and {row.reference}" for row in alike.itertuples())
    return [f"alike within {margin}: {named} ({len(alike)} of {counted(len(pairs), 'pair')})."]


def _choice_words(asked: Asked) -> list[str]:
    """How well the wicks that are safe so far fit the targets, and how sure that is."""
    if asked.choice is None:
        return []
    table, unknown = asked.choice.candidates, asked.choice.unknown
    open_ = [f"{listed(unknown)} cannot be held against every target yet."] if unknown else []
    if table.empty:
        return ["no wick is safe so far and known in every target, so none is chosen.", *open_]
    best = table.iloc[0]
    name, chance = best["candidate"], best["probability_best"]
    if best["satisfaction"] == 0:
        return ["every wick that is safe so far misses a target altogether.", *open_]
    if len(table) == 1:
        return [f"only {name} is safe so far and known in every target.", *open_]
    said = f"of the {len(table)} that are safe so far, {name} fits your targets best"
    if np.isnan(chance):
        return [f"{said}; how sure that is cannot be said from one candle of each.", *open_]
    if chance < 0.8:
        said += f", but only {_percent(chance)} of 100 repeats would put it first: that is open"
    else:
        said += f", and would most likely ({_percent(chance)} in 100) come out best again"
    picks = {d.pick for d in asked.pooled.judged.decisions}
    if len(picks) == 1 and "" not in picks and not any(p.startswith(name) for p in picks):
        pick = next(iter(picks))
        said += f". The pick is {pick}, because more of its candles passed everything"
    return [said + ".", *open_]


def _percent(share: float) -> str:
    """A share of draws, of a hundred; it is never said to be everything."""
    return "over 99" if share >= 0.995 else f"{100 * share:.0f}"


def _pair_words(asked: Asked, row) -> str:
    label = GLOSSARY[asked.metric].label
    if row["conf_low"] > 0 or row["conf_high"] < 0:
        ends = sorted(abs(row[end]) for end in ("conf_low", "conf_high"))
        return (
            f"{label} is {'higher' if row['estimate'] > 0 else 'lower'} with {row['candidate']} "
            f"than with {row['reference']}, by {_number(asked, abs(row['estimate']))} "
            f"({_number(asked, ends[0])} to {_number(asked, ends[1])})"
        )
    return (
        f"no difference in {label} is shown between {row['candidate']} and {row['reference']}: it "
        f"lies between {_number(asked, row['conf_low'])} and {_number(asked, row['conf_high'])}"
    )


def _pairs_words(asked: Asked, pairs: pd.DataFrame) -> str:
    return "; ".join(_pair_words(asked, row) for _, row in pairs.iterrows()) + "."


def _wax_words(asked: Asked) -> list[str]:
    if asked.crossed is None:
        alone = asked.comparison
        return [] if alone is None else [_pairs_words(asked, alone.differences)]
    pairs = asked.crossed.differences
    main = pairs[(pairs["factor"] == "wax") & (pairs["within"] == "")]
    first = f"averaged over the wicks, {_pairs_words(asked, main)}"
    p = float(asked.crossed.interaction["p_value"].iloc[0])
    same = p >= 1 - asked.crossed.confidence
    second = (
        "That the difference depends on the wick is not shown."
        if same
        else "The difference depends on the wick: read the wicks one by one in the table."
    )
    return [first, second]


def _load_words(asked: Asked) -> list[str]:
    if asked.trend is None:
        return []
    label, slope = GLOSSARY[asked.metric].label, asked.trend.slope.iloc[0]
    ends = sorted(abs(slope[end]) for end in ("conf_low", "conf_high"))
    if slope["conf_low"] > 0 or slope["conf_high"] < 0:
        lines = [
            f"{label} {'rises' if slope['estimate'] > 0 else 'falls'} by "
            f"{_step(asked, abs(slope['estimate']))} for each % of fragrance load "
            f"({_step(asked, ends[0])} to {_step(asked, ends[1])})."
        ]
    else:
        lines = [
            f"that {label} rises or falls with fragrance load is not shown: for each % of load it "
            f"changes by something between {_step(asked, slope['conf_low'])} and "
            f"{_step(asked, slope['conf_high'])}."
        ]
    if not len(asked.trend.ends):
        return lines
    bend, top = asked.trend.curvature.iloc[0], asked.trend.ends.iloc[-1]
    if bend["conf_low"] <= 0 <= bend["conf_high"]:
        return [
            *lines,
            "that the effect weakens or grows as the load rises is not shown: nothing speaks "
            "against a straight line.",
        ]
    at = (
        f"near {top[asked.by]:g} % one % changes it by something between "
        f"{_step(asked, top['conf_low'])} and {_step(asked, top['conf_high'])}"
    )
    if not lines[0].startswith("that "):
        lines[0] = f"over all loads taken together {lines[0]}"
    return [*lines, f"the effect is not the same at every load: {at}."]


def _step(asked: Asked, value: float) -> str:
    return f"{value:.2g} {GLOSSARY[asked.metric].unit}".strip()


def under_title(asked: Asked) -> tuple[str, str]:
    """What stands under the title: the batches, and what was compared in how many candles."""
    n = len(asked.points)
    titles = "; ".join(batch.settings.title for batch in asked.pooled.batches.values())
    return titles, f"{heading(asked.metric)} of {counted(n, 'candle')}"

"""The answer of a comparison in sentences."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.compare.blocks import compare_all_words, more_batches_words, tied_words
from candlelab.compare.choice import Choice
from candlelab.compare.record import Asked
from candlelab.judge.words import in_row, number_of, without_vessel
from candlelab.pages.glossary import GLOSSARY
from candlelab.pages.page import titles_of
from candlelab.pages.quantity import quantity
from candlelab.stats.pairwise import Comparison
from candlelab.text import capital, counted, listed

NO_CHOICE = (
    "Wicks are put in order only when they are compared by wick, all in one vessel, and batch.toml "
    "names targets. Each vessel's pick stands in its box above."
)


def answer_words(asked: Asked) -> tuple[str, ...]:
    lines = {"fragrance_load_pct": _load_words, "wax": _wax_words}.get(asked.by, _wick_words)(asked)
    if lines:
        n = asked.points["batch"].nunique()
        more = [more_batches_words(n)] if "batch" in asked.design.blocks else []
        lines = [*tied_words(asked.design), *lines, *more]
    else:
        lines = ["These candles cannot be compared: " + " ".join(asked.refused)]
    if not _found(asked):
        lines.append("No difference found does not mean no difference: more candles may show one.")
    return tuple(map(capital, lines))


def _told(found, pairs: pd.DataFrame | None = None) -> pd.DataFrame:
    """The pairs of a comparison, or those given, that differ by more than luck."""
    pairs = found.differences if pairs is None else pairs
    return pairs[pairs["p_adjusted"] < 1 - found.confidence]


def _found(asked: Asked) -> bool:
    """Whether any difference is more than luck."""
    if asked.trend is not None:
        slope = asked.trend.slope.iloc[0]
        return bool(slope["conf_low"] > 0 or slope["conf_high"] < 0)
    found = asked.crossed or asked.comparison
    if found is None:
        return False
    pairs = found.differences
    if asked.crossed is not None:
        pairs = pairs[(pairs["factor"] == "wax") & (pairs["within"] == "")]
    return len(_told(found, pairs)) > 0


def _number(asked: Asked, value: float, *, span: bool = False) -> str:
    return quantity(asked.metric, value, asked.display, span=span)


def _wick_words(asked: Asked) -> list[str]:
    if asked.comparison is None:
        return []
    means, pairs = asked.comparison.estimates.sort_values("estimate"), asked.comparison.differences
    low, high = means.iloc[0], means.iloc[-1]
    shown = len(_told(asked.comparison))
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
        ends = _ends_words(asked, asked.comparison, low, high)
        first = " ".join([*ends, _shown_words(shown, len(pairs))])
    return [first, *_equivalence_words(asked), *_choice_words(asked)]


def _ends_words(asked: Asked, found: Comparison, low, high) -> list[str]:
    """The highest and the lowest mean as measured, and what each cannot be told from."""
    told = _told(found)
    said = []
    for row, end, side in ((high, "highest", "over"), (low, "lowest", "under")):
        own = told[(told[["candidate", "reference"]] == row["candidate"]).any(axis=1)]
        others = {row["candidate"], *own["candidate"], *own["reference"]}
        alike = [name for name in found.estimates["candidate"] if name not in others]
        luck = f", though perhaps by luck {side} {listed(alike, 6)}" if alike else ""
        number = _number(asked, row["estimate"])
        said.append(f"{row['candidate']} is {end} ({number}){luck}.")
    return [f"{GLOSSARY[asked.metric].label}: {said[0]}", capital(said[1])]


def _shown_words(shown: int, n: int) -> str:
    if shown == n:
        return "No difference among them is luck alone." if n > 1 else "That is more than luck."
    return f"In {shown} of {counted(n, 'pair')} the difference is more than luck."


def _equivalence_words(asked: Asked) -> list[str]:
    """How many pairs are shown to burn alike, within the margin that was named."""
    if asked.equivalence is None:
        return []
    pairs, margin = (
        asked.equivalence.differences,
        _number(asked, asked.equivalence.margin, span=True),
    )
    alike = pairs[pairs["p_adjusted"] <= 1.0 - asked.equivalence.confidence]
    if alike.empty:
        return [f"no pair is shown to be alike within {margin}; that does not mean they differ."]
    named = "; ".join(f"{row.candidate} and {row.reference}" for row in alike.itertuples())
    return [f"alike within {margin}: {named} ({len(alike)} of {counted(len(pairs), 'pair')})."]


def _choice_words(asked: Asked) -> list[str]:
    """How well the wicks that are safe so far fit the targets, and how sure that is."""
    if asked.choice is None:
        return []
    return choice_words(asked.choice, asked.pooled.judged)


def choice_words(choice: Choice, judged) -> list[str]:
    """How well the wicks that are safe so far fit the targets, how far luck goes in that, and why
    the pick of ``judged`` is another one."""
    table, unknown = choice.candidates, choice.unknown
    do = "does" if len(unknown) == 1 else "do"
    open_ = [f"it is not known yet how {listed(unknown)} {do} on every target."] if unknown else []
    if table.empty:
        return ["no wick is safe so far and known in every target, so none is chosen.", *open_]
    best = table.iloc[0]
    name, chance = best["candidate"], best["probability_best"]
    if best["satisfaction"] == 0:
        return ["every wick that is safe so far misses a target altogether.", *open_]
    if len(table) == 1:
        return [f"only {name} is safe so far and known in every target.", *open_]
    said = f"of the {len(table)} that are safe so far, {name} fits your targets best"
    pick = _not_the_pick(name, judged)
    if choice.apart:
        return [f"{said} as measured. Whether the wick does that is not known yet.{pick}", *open_]
    if np.isnan(chance):
        return [f"{said}; how sure that is cannot be said from one candle of each.{pick}", *open_]
    if chance < 0.8:
        said += (
            f" as measured. That may be luck: {_percent(chance)} of 100 repeats would put it first"
        )
    else:
        said += f", and would most likely ({_percent(chance)} in 100) do so again"
    return [f"{said}. That speaks of targets, not of safety.{pick}", *open_]


def _not_the_pick(name: str, judged) -> str:
    """That the wick that fits best is not the pick of its vessel, and why; empty where it is."""
    fates = judged.fates.set_index("candidate")
    own = fates[fates["wick"] == name]
    picks = [d.pick for d in judged.decisions if d.pick and own.index.isin(d.candidates).any()]
    if not picks or set(picks) & set(own.index):
        return ""
    n, least = int(own["n_passed"].max()), int(fates.loc[picks, "n_passed"].min())
    pick = f"the pick is {in_row(picks)}"
    if n < least:
        few = number_of(n, "candle")
        return f" Only {few} of {name} passed every safety check, so {pick}."
    return f" By candles on target, {pick}."


def _percent(share: float) -> str:
    """A share of draws, of a hundred; it is never said to be everything."""
    return "over 99" if share >= 0.995 else f"{100 * share:.0f}"


def _pair_words(asked: Asked, row) -> str:
    label = GLOSSARY[asked.metric].label
    if row["conf_low"] > 0 or row["conf_high"] < 0:
        ends = sorted(abs(row[end]) for end in ("conf_low", "conf_high"))
        likely = _likely(asked.crossed or asked.comparison)
        return (
            f"{label} is {'higher' if row['estimate'] > 0 else 'lower'} with {row['candidate']} "
            f"than with {row['reference']}, by {_number(asked, abs(row['estimate']), span=True)} "
            f"({likely} {_number(asked, ends[0], span=True)} to "
            f"{_number(asked, ends[1], span=True)})"
        )
    return (
        f"no difference in {label} is shown between {row['candidate']} and {row['reference']}: it "
        f"lies between {_number(asked, row['conf_low'], span=True)} and "
        f"{_number(asked, row['conf_high'], span=True)}"
    )


def _likely(found) -> str:
    """How sure the ranges of an answer are."""
    return f"{100 * found.confidence:g} in 100 sure:"


def _pairs_words(asked: Asked, pairs: pd.DataFrame) -> str:
    return "; ".join(_pair_words(asked, row) for _, row in pairs.iterrows()) + "."


def _wax_words(asked: Asked) -> list[str]:
    if asked.crossed is None:
        alone = asked.comparison
        if alone is None or len(alone.estimates) == 1:
            return _wick_words(asked)
        told = len(alone.differences)
        return [_pairs_words(asked, alone.differences)] if told else _wick_words(asked)
    pairs = asked.crossed.differences
    main = pairs[(pairs["factor"] == "wax") & (pairs["within"] == "")]
    first = f"averaged over the wicks, {_pairs_words(asked, main)}"
    p = float(asked.crossed.interaction["p_value"].iloc[0])
    same = p >= 1 - asked.crossed.confidence
    second = (
        "Whether the difference is the same with every wick is not known yet."
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
            f"({_likely(asked.trend)} {_step(asked, ends[0])} to {_step(asked, ends[1])})."
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
            "whether the last few % of load still do as much "
            f"{_bend_words(asked.trend.bend_power)}",
        ]
    at = (
        f"near {top[asked.by]:g} % one % changes it by something between "
        f"{_step(asked, top['conf_low'])} and {_step(asked, top['conf_high'])}"
    )
    if not lines[0].startswith("that "):
        lines[0] = f"over all loads taken together {lines[0]}"
    return [*lines, f"the effect is not the same at every load: {at}."]


def _bend_words(chance: float) -> str:
    """How well these candles could have shown an effect that stops at the top load."""
    if np.isnan(chance):
        return "is not known yet."
    seen = "fewer than 1" if chance < 0.005 else _percent(chance)
    return f"is not known yet: {seen} in 100 such tests would show that they do nothing."


def _step(asked: Asked, value: float) -> str:
    unit = GLOSSARY[asked.metric].unit
    number = asked.display.value(value, unit, span=True)
    return f"{number:.2g} {asked.display.symbol(unit)}".strip()


def lead(asked: Asked) -> str:
    """What the comparison itself says, in one line; empty where nothing can be compared."""
    if asked.by in ("wick", "wick_series") and _found(asked) and asked.comparison is not None:
        means, pairs = asked.comparison.estimates, asked.comparison.differences
        shown, n = len(_told(asked.comparison)), len(pairs)
        if asked.design.whole or n == len(means) * (len(means) - 1) / 2:
            luck = _shown_words(shown, n)
        else:
            luck = f"{shown} of the {n} pairs that can be compared differ by more than luck. "
            luck += compare_all_words(asked.design)
        label = capital(GLOSSARY[asked.metric].label)
        return f"{label} as measured: {_ends(asked, means)}. {luck}"
    if asked.trend is asked.crossed is asked.comparison is None:
        return ""
    return next(iter(asked.answer[len(tied_words(asked.design)) :]), "")


def _ends(asked: Asked, means: pd.DataFrame) -> str:
    """The lowest and the highest mean, in each vessel where there are several."""
    burned_in = asked.pooled.fresh.groupby(asked.by)["vessel"].agg(["first", "nunique"])
    burned_in = burned_in.loc[burned_in["nunique"] == 1, "first"]
    vessel = means["candidate"].map(burned_in).fillna("")
    told = []
    for name, own in means.groupby(vessel, sort=False):
        ends = (own.loc[own["estimate"].agg(way)] for way in ("idxmin", "idxmax"))
        said = " to ".join(
            f"{_number(asked, one['estimate'])} ({without_vessel(one['candidate'], name)})"
            for one in ends
        )
        told.append(f"{name} {said}" if vessel.nunique() > 1 else said)
    return "; ".join(told)


def under_title(asked: Asked) -> tuple[str, str]:
    """What stands under the title: the batches, and what was compared in how many candles."""
    n = len(asked.points)
    titles = titles_of(asked.pooled.batches)
    return titles, f"{asked.heading} of {counted(n, 'candle')}"

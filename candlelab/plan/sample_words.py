"""What a number of candles shows, in sentences: the answer, what it does not show, the method."""

from __future__ import annotations

import math

import scipy

from candlelab.compare.metrics import BURN_METRICS
from candlelab.pages.glossary import GLOSSARY, in_words
from candlelab.pages.quantity import quantity
from candlelab.plan.sample_tables import MOST, Wanted, candles_for, given, good_truth, plan_of
from candlelab.stats import power, proportions
from candlelab.stats.power import Plan, Spread
from candlelab.text import counted
from candlelab.units import SI, Display

CAPTIONS = {
    "candles_for_difference": "Candles needed to see a difference",
    "candles_for_equivalence": "Candles needed to show that two are alike",
    "candles_for_claim": "Candles needed for a claim",
}
_RARE = (
    "A rare fault, such as one cracked vessel in fifty, is not seen with so few candles, and no "
    "number of candles of one pouring shows what another lot of wax or wick does."
)
_TAKEN = (
    "We assume that every wick varies about as much, that candles are burned equally often, and "
    "that each is a pouring of its own."
)
_NO_SPREAD = (
    "Candles of one candidate differed no more than their burns did, so the variation between "
    "candles came out as zero. With few candles that is often luck: count on more than is "
    "planned here."
)


def _quantity(metric: str, value: float, display: Display) -> str:
    return quantity(metric, value, display, span=True)


def _given(metric: str, value: float | None, display: Display) -> str:
    unit = GLOSSARY[metric].unit
    if display.symbol(unit) == unit:
        return f"{given(value):g} {unit}".strip()
    return _quantity(metric, given(value), display)


def _share(value: float) -> str:
    return "under 1 %" if value < 0.01 else "over 99 %" if value > 0.99 else f"{100 * value:.0f} %"


def _candles(n: int | None, wanted: Wanted) -> str:
    if n is None:
        return f"more than {MOST} candles of each candidate"
    return f"{n} candles of each candidate ({n * wanted.candidates} in all)"


def answer(
    metric: str, wanted: Wanted, spread: Spread, burns: int, needed: dict, display: Display = SI
) -> list[str]:
    """How many candles show what is wanted."""
    label, lines = GLOSSARY[metric].label, []
    often = f"{100 * wanted.power:g} of 100 such batches"
    if "difference" in needed:
        lines.append(
            f"To find a difference in {label} of "
            f"{_given(metric, wanted.difference, display)} in "
            f"{often}, burn {_candles(needed['difference'], wanted)}."
        )
    if "equivalence" in needed:
        lines.append(
            f"To show that two burn alike, to within {_given(metric, wanted.margin, display)} in "
            f"{label}, in {often}, burn {_candles(needed['equivalence'], wanted)}."
        )
    if "claim" in needed:
        lines.append(
            f"To claim that at least {100 * given(wanted.reliability):g} % of such candles pass "
            f"({100 * wanted.confidence:g} in 100 sure), burn {needed['claim']} candles of the "
            "candidate: all must pass. To allow for a failure takes more."
        )
    if "difference" in needed and spread.df:
        lines += _if_wider(wanted, spread, burns, needed["difference"])
    return lines


def _if_wider(wanted: Wanted, spread: Spread, burns: int, needed: int | None) -> list[str]:
    """What it would take were the spread as large as it may be.

    One-sided 80 % limit (chi-squared).
    """
    worst = math.sqrt(spread.df / scipy.stats.chi2.ppf(0.2, spread.df))
    wide = Spread(spread.candle_sd * worst, spread.burn_sd * worst, spread.source)
    n = candles_for("difference", wanted, burns, wide)
    if n == needed:
        return []
    return [
        "The variation is itself known from few candles: were it as large as its upper 80 % limit "
        f"({worst:.2f} times what was found), that difference would take {_candles(n, wanted)}."
    ]


def cannot(
    metric: str, wanted: Wanted, spread: Spread, burns: int, display: Display = SI
) -> list[str]:
    """What the affordable number shows and what it does not."""
    lines = []
    if wanted.difference is not None:
        lines.append(_difference_shown(metric, wanted, spread, burns, display))
    if wanted.margin is not None:
        lines.append(_equivalence_shown(metric, wanted, spread, burns, display))
    if wanted.reliability is not None:
        lines.append(_claim_shown(wanted))
    if spread.burn_sd and spread.candle_sd == 0.0:
        lines.append(_NO_SPREAD)
    elif spread.burn_sd and spread.candle_sd > 0.7 * spread.of_candle_means(burns):
        lines.append(
            "More burns of each candle would hardly help: however many there are, the variation of "
            "a candle's mean only falls from "
            f"{_quantity(metric, spread.of_candle_means(burns), display)} to "
            f"{_quantity(metric, spread.candle_sd, display)}. More candles would."
        )
    return [*lines, _RARE]


def _difference_shown(
    metric: str, wanted: Wanted, spread: Spread, burns: int, display: Display
) -> str:
    n = wanted.affordable
    plan = plan_of(wanted, burns, n)
    found = power.difference_found(plan, spread, given(wanted.difference))
    smallest = power.smallest_difference(plan, spread, wanted.power)
    return (
        f"With {n} candles of each, a true difference of "
        f"{_given(metric, wanted.difference, display)} is found in {_share(found)} of such "
        "batches; the smallest that is found in "
        f"{100 * wanted.power:g} of 100 is {_quantity(metric, smallest, display)}. No difference "
        "found does not mean no difference: it is known only to about "
        f"±{_quantity(metric, plan.critical_t() * plan.std_error(spread), display)}."
    )


def _equivalence_shown(
    metric: str, wanted: Wanted, spread: Spread, burns: int, display: Display
) -> str:
    n = wanted.affordable
    plan = plan_of(wanted, burns, n)
    shown = power.equivalence_shown(plan, spread, given(wanted.margin))
    return (
        f"With {n} candles of each, two that are truly alike are shown to be so, to within "
        f"±{_given(metric, wanted.margin, display)}, in {_share(shown)} of such batches; the "
        f"narrowest margin that {n} can show in {100 * wanted.power:g} of 100 is "
        f"±{_quantity(metric, power.smallest_margin(plan, spread, wanted.power), display)}."
    )


def _claim_shown(wanted: Wanted) -> str:
    n, claim = wanted.affordable, 100 * given(wanted.reliability)
    shown = math.floor(1000 * proportions.reliability_shown(n, 0, wanted.confidence)) / 10
    supports = "supports" if shown >= claim else "does not support"
    return (
        f"If all {n} candles of a candidate pass, at least {shown:g} % of such candles would "
        f"({100 * wanted.confidence:g} in 100 sure). That {supports} a claim of {claim:g} %."
    )


def method(
    metric: str, wanted: Wanted, spread: Spread, burns: int, display: Display = SI
) -> list[str]:
    """How this was worked out, and from which variation."""
    unit, between, each = GLOSSARY[metric].unit, "", ""
    of_candles, of_burns = (
        display.value(sd, unit, span=True) for sd in (spread.candle_sd, spread.burn_sd)
    )
    unit = display.symbol(unit)
    if metric in BURN_METRICS:
        between = f", between burns of one candle {of_burns:.3g} {unit}"
        each = f", {counted(burns, 'burn')} of each"
    lines = [
        f"Variation (standard deviation) between candles of one candidate {of_candles:.3g} "
        f"{unit}{between}{each}. It comes from {spread.source}."
    ]
    if wanted.difference is not None or wanted.margin is not None:
        lines.append(
            f"Simulated: {power.BATCHES:,} batches are drawn and analysed as the comparison would, "
            f"with the candle as the unit{_pairs(wanted)}. By formula: noncentral t for a "
            "difference, an integral over the estimated variation for two one-sided tests; both "
            "know the means of candles only. A percentage is good to about half a point."
        )
    if wanted.reliability is not None:
        lines.append(
            "Claim: success run, exact binomial. Found: how often such a batch supports the claim "
            f"when {100 * good_truth(wanted):.4g} % of all candles would pass, which is far better "
            "than claimed."
        )
    return [in_words(line) for line in [*lines, _TAKEN]]


def _pairs(wanted: Wanted) -> str:
    if wanted.candidates == 2:
        return ""
    pairs = Plan(2, wanted.candidates).pairs
    return f" and all {pairs} pairs of {wanted.candidates} candidates allowed for"

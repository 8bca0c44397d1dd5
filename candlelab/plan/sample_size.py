"""How many candles: for a difference that matters, for two that burn
alike, and for a claim that candles pass.

`plan_candles` answers all that is asked for with a table each and sentences. ``power`` holds the
simulation and the formulas; this module knows the studio's batches and words.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from candlelab.compare.metrics import BURN_METRICS, METRICS
from candlelab.compare.pooled import pool
from candlelab.glossary import GLOSSARY, in_words
from candlelab.logs.batch import Batch
from candlelab.plan.sample_tables import (
    MOST,
    Wanted,
    candles_wanted,
    claim_table,
    difference_table,
    equivalence_table,
    good_truth,
    plan_of,
)
from candlelab.stats import power, proportions
from candlelab.stats.designs import CannotCompare
from candlelab.stats.pairwise import compare_candidates
from candlelab.stats.power import Plan, Spread

# An assumption, for the first batch of a studio. 0.20 g/h between burns and 0.6 g/h from a full to
# an empty candle make 0.27 g/h between burns of one candle. What all candles share, such as that
# drift, averages out over a life; so the default errs a little on the safe side.
DEFAULT_SPREAD = Spread(
    0.25,
    0.27,
    "an assumption with no source, the one of candlelab's simulated bench, because no earlier "
    "batch was given",
)
_UNIT = ("batch", "candle")


class CannotPlan(ValueError):
    """What was asked for is no plan; the message names every fault and says what to do."""


@dataclass(frozen=True, eq=False)
class CandlePlan:
    """How many candles, with a table for each question (empty where it was not asked).

    ``difference`` and ``equivalence``: one row per number of candles of each candidate. ``claim``:
    one row per number of failures allowed. ``answer`` are sentences for a page, ``cannot`` what the
    affordable number does not show. ``needed`` holds the number of candles of each candidate for
    ``difference``, ``equivalence`` and ``claim``; None where more than 400 would be needed.
    """

    metric: str
    wanted: Wanted
    spread: Spread
    burns: int
    needed: dict[str, int | None]
    difference: pd.DataFrame
    equivalence: pd.DataFrame
    claim: pd.DataFrame
    answer: tuple[str, ...]
    cannot: tuple[str, ...]
    method: tuple[str, ...]

    def tables(self) -> dict[str, tuple[str, pd.DataFrame]]:
        """Each table by its name, with what one row of it is."""
        found = {
            "candles_for_difference": ("a number of candles of each candidate", self.difference),
            "candles_for_equivalence": ("a number of candles of each candidate", self.equivalence),
            "candles_for_claim": ("a number of failures allowed", self.claim),
        }
        return {name: table for name, table in found.items() if len(table[1])}


def spread_of(batches: Sequence[Batch], metric: str = "burn_rate_g_per_h") -> tuple[Spread, int]:
    """Spread between candles and between burns in earlier batches, and
    the usual number of burns of a candle.

    The variance components of the mixed model that compares candidates, each within its
    batch, over the burns on the wick that a candle was poured with. Raises
    CannotCompare when no candidate has two candles.
    """
    pooled = pool(list(batches))
    repeated = metric in BURN_METRICS
    table = pooled.burns if repeated else pooled.fresh
    table = table[(table["run"] == 1) & ~table["excluded"] & table[metric].notna()]
    found = compare_candidates(table, metric=metric, by=("batch", "candidate"), unit=_UNIT)
    candles = table.groupby(list(_UNIT)).size()
    df = len(candles) - table.groupby(["batch", "candidate"]).ngroups
    names = ", ".join(dict.fromkeys(table["batch"]))
    each = (
        f"{len(candles)} candles of {len(candles) - df} "
        f"candidate{'' if len(candles) - df == 1 else 's'} in {names}"
    )
    burn_sd = found.burn_sd if repeated and np.isfinite(found.burn_sd) else 0.0
    return Spread(float(found.candle_sd), float(burn_sd), each, df), (
        max(round(float(candles.median())), 1) if repeated else 1
    )


def plan_candles(
    batches: Sequence[Batch] = (),
    *,
    wanted: Wanted,
    metric: str = "burn_rate_g_per_h",
    spread: Spread | None = None,
) -> CandlePlan:
    """How many candles of each candidate show what is ``wanted``,
    and what the affordable number shows.

    ``batches`` are earlier ones, which give the spread; ``spread`` takes its place when given.
    Without either the default stands in, for burn rate only. Raises CannotPlan, which names every
    fault at once, and CannotCompare when the earlier batches do not carry a spread.
    """
    _check(wanted, metric, bool(batches) or spread is not None)
    usual = 10 if metric in BURN_METRICS else 1
    if spread is None:
        spread, usual = spread_of(batches, metric) if batches else (DEFAULT_SPREAD, usual)
    burns = wanted.burns if wanted.burns is not None and metric in BURN_METRICS else usual
    needed: dict[str, int | None] = {}
    difference, equivalence, claim = (pd.DataFrame() for _ in range(3))
    if wanted.difference is not None:
        needed["difference"] = candles_wanted(
            wanted,
            burns,
            spread,
            power.difference_found_formula,
            power.difference_found,
            wanted.difference,
        )
        difference = difference_table(wanted, burns, spread, needed["difference"])
    if wanted.margin is not None:
        needed["equivalence"] = candles_wanted(
            wanted,
            burns,
            spread,
            power.equivalence_shown_formula,
            power.equivalence_shown,
            wanted.margin,
        )
        equivalence = equivalence_table(wanted, burns, spread, needed["equivalence"])
    if wanted.reliability is not None:
        needed["claim"] = proportions.candles_needed(wanted.reliability, wanted.confidence)
        claim = claim_table(wanted)
    return CandlePlan(
        metric,
        wanted,
        spread,
        burns,
        needed,
        difference,
        equivalence,
        claim,
        answer=tuple(_answer(metric, wanted, spread, burns, needed)),
        cannot=tuple(_cannot(metric, wanted, spread, burns)),
        method=tuple(_method(metric, wanted, spread, burns)),
    )


def _check(wanted: Wanted, metric: str, has_spread: bool) -> None:
    faults = []
    if metric not in METRICS:
        raise CannotPlan(f"metric must be one of {', '.join(METRICS)}, not {metric!r}.")
    if not has_spread and metric != "burn_rate_g_per_h":
        faults.append(
            f"there is no assumption for the spread of {GLOSSARY[metric].label}: give an earlier "
            "batch that measured it"
        )
    for name in ("difference", "margin"):
        value = getattr(wanted, name)
        if value is not None and not (np.isfinite(value) and value > 0):
            faults.append(
                f"{name} must be a number above zero in the unit of {GLOSSARY[metric].label}, not "
                f"{value!r}"
            )
    for name, low in (("reliability", 0.0), ("power", 0.0), ("confidence", 0.5)):
        value = getattr(wanted, name)
        if value is not None and not low < value < 1.0:
            faults.append(
                f"{name} must be a share between {low:g} and 1, such as 0.9, not {value!r}"
            )
    for name, low in (("candidates", 2), ("affordable", 2), ("burns", 1)):
        value = getattr(wanted, name)
        if value is not None and (value != int(value) or not low <= value <= 1000):
            faults.append(f"{name} must be a whole number from {low} to 1000, not {value!r}")
    if wanted.difference is wanted.margin is wanted.reliability is None:
        faults.append("nothing is asked for: give a difference, a margin or a reliability")
    if faults:
        raise CannotPlan("; ".join(faults)[0].upper() + "; ".join(faults)[1:] + ".")


def _quantity(metric: str, value: float) -> str:
    unit = GLOSSARY[metric].unit
    return f"{value:.{2 if unit in ('g/h', 'h') else 1}f} {unit}".strip()


def _given(metric: str, value: float) -> str:
    return f"{value:g} {GLOSSARY[metric].unit}".strip()


def _share(value: float) -> str:
    return "under 1 %" if value < 0.01 else "over 99 %" if value > 0.99 else f"{100 * value:.0f} %"


def _candles(n: int | None, wanted: Wanted) -> str:
    if n is None:
        return f"more than {MOST} candles of each candidate"
    return f"{n} candles of each candidate ({n * wanted.candidates} in all)"


def _answer(metric: str, wanted: Wanted, spread: Spread, burns: int, needed: dict) -> list[str]:
    label, lines = GLOSSARY[metric].label, []
    often = f"{100 * wanted.power:g} of 100 such batches"
    if "difference" in needed:
        lines.append(
            f"To find a difference in {label} of {_given(metric, wanted.difference)} in {often}, "
            f"burn {_candles(needed['difference'], wanted)}."
        )
    if "equivalence" in needed:
        lines.append(
            f"To show in {often} that two which burn alike differ by less than "
            f"{_given(metric, wanted.margin)} in {label}, burn "
            f"{_candles(needed['equivalence'], wanted)}."
        )
    if "claim" in needed:
        lines.append(
            f"To claim with {100 * wanted.confidence:g} % confidence that at least "
            f"{100 * wanted.reliability:g} % of such candles pass, {needed['claim']} candles of "
            "the candidate must all pass; each failure that is allowed for costs more."
        )
    worst = _upper(spread)
    if worst is not None and "difference" in needed:
        wide = Spread(spread.candle_sd * worst, spread.burn_sd * worst, spread.source)
        n = candles_wanted(
            wanted,
            burns,
            wide,
            power.difference_found_formula,
            power.difference_found,
            wanted.difference,
        )
        if n != needed["difference"]:
            lines.append(
                "The spread is itself known from few candles: were it as large as its upper 80 % "
                f"limit ({worst:.2f} times what was found), that difference would take "
                f"{_candles(n, wanted)}."
            )
    return lines


def _upper(spread: Spread) -> float | None:
    """How many times the spread found the true one may be: one-sided 80 % limit (chi-squared)."""
    return math.sqrt(spread.df / stats.chi2.ppf(0.2, spread.df)) if spread.df else None


def _cannot(metric: str, wanted: Wanted, spread: Spread, burns: int) -> list[str]:
    """What the affordable number shows and what it does not."""
    n = wanted.affordable
    plan = plan_of(wanted, burns, n)
    lines = []
    if wanted.difference is not None:
        found = power.difference_found(plan, spread, wanted.difference)
        lines.append(
            f"With {n} candles of each, a true difference of {_given(metric, wanted.difference)} "
            f"is found in {_share(found)} of such batches; the smallest that is found in "
            f"{100 * wanted.power:g} of 100 is "
            f"{_quantity(metric, power.smallest_difference(plan, spread, wanted.power))}. If none "
            "is found, that is not the same as none: a difference is known only to about "
            f"±{_quantity(metric, plan.critical_t() * plan.std_error(spread))}."
        )
    if wanted.margin is not None:
        shown = power.equivalence_shown(plan, spread, wanted.margin)
        lines.append(
            f"With {n} candles of each, that two burn alike within "
            f"±{_given(metric, wanted.margin)} is shown in {_share(shown)} of such batches even "
            f"when they are truly alike; the narrowest margin that {n} can show in "
            f"{100 * wanted.power:g} of 100 is "
            f"±{_quantity(metric, power.smallest_margin(plan, spread, wanted.power))}."
        )
    if wanted.reliability is not None:
        shown = math.floor(1000 * proportions.reliability_shown(n, 0, wanted.confidence)) / 10
        claim = 100 * wanted.reliability
        end = (
            f"That carries a claim of {claim:g} %."
            if shown >= claim
            else f"They do not carry a claim of {claim:g} %."
        )
        lines.append(
            f"If all {n} candles of a candidate pass, that shows with {100 * wanted.confidence:g} "
            f"% confidence that at least {shown:g} % of such candles would. {end}"
        )
    if spread.burn_sd and spread.candle_sd == 0.0:
        lines.append(
            "Candles of one candidate differed no more than their burns did, so the spread between "
            "candles came out as zero. With few candles that is often luck: count on more than is "
            "planned here."
        )
    elif spread.burn_sd and spread.candle_sd > 0.7 * spread.of_candle_means(burns):
        lines.append(
            "More burns of each candle would hardly help: however many there are, the spread of a "
            f"candle's mean only falls from {_quantity(metric, spread.of_candle_means(burns))} to "
            f"{_quantity(metric, spread.candle_sd)}. More candles would."
        )
    lines.append(
        "A rare fault, such as one cracked vessel in fifty, is not seen with so few candles, and "
        "no number of candles of one pouring shows what another lot of wax or wick does."
    )
    return lines


def _pairs(wanted: Wanted) -> str:
    return (
        ""
        if wanted.candidates == 2
        else f" and all {Plan(2, wanted.candidates).pairs} pairs of {wanted.candidates} candidates "
        "allowed for"
    )


def _method(metric: str, wanted: Wanted, spread: Spread, burns: int) -> list[str]:
    unit, each = (
        GLOSSARY[metric].unit,
        (f", {burns} burn{'' if burns == 1 else 's'} of each" if metric in BURN_METRICS else ""),
    )
    between = (
        f", between burns of one candle {spread.burn_sd:.3g} {unit}"
        if metric in BURN_METRICS
        else ""
    )
    lines = [
        (
            f"Spread (standard deviation) between candles of one candidate {spread.candle_sd:.3g} "
            f"{unit}{between}{each}. It comes from {spread.source}."
        )
    ]
    if wanted.difference is not None or wanted.margin is not None:
        lines.append(
            f"Simulated: {power.BATCHES:,} batches are drawn and analysed as the comparison would, "
            f"with the candle as the unit{_pairs(wanted)}. By formula: noncentral t for a "
            "difference, an integral over the estimated spread for two one-sided tests; both know "
            "the means of candles only. A percentage is good to about half a point."
        )
    if wanted.reliability is not None:
        lines.append(
            "Claim: success run, exact binomial. Found: how often such a batch carries the claim "
            f"when {100 * good_truth(wanted):.4g} % of all candles would pass, which is far better "
            "than claimed."
        )
    lines.append(
        "It is taken that all candidates spread alike, that candles are burnt equally often, and "
        "that each is a pouring of its own."
    )
    return [in_words(line) for line in lines]


__all__ = [
    "DEFAULT_SPREAD",
    "CandlePlan",
    "CannotCompare",
    "CannotPlan",
    "Plan",
    "Spread",
    "Wanted",
    "plan_candles",
    "spread_of",
]

"""Tables of how many candles: for each number of them, how often the plan succeeds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pandas as pd

from candlelab.stats import power, proportions
from candlelab.stats.power import Plan, Spread

MOST = 400
_NOISE = 0.005  # of the simulation
_FOUND = ("found_simulated_pct", "found_formula_pct")
_SHOWN = (2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30)


_POWER: dict[str, tuple[Callable[..., float], Callable[..., float]]] = {
    "difference": (power.difference_found_formula, power.difference_found),
    "equivalence": (power.equivalence_shown_formula, power.equivalence_shown),
}


@dataclass(frozen=True)
class Wanted:
    """What the candles should show. What is None is not asked for.

    Parameters
    ----------
    difference, margin : float, optional
        In the unit of the metric: the difference between two candidates that matters, and the
        largest that does not.
    reliability : float, optional
        Share of candles that should pass, such as 0.90.
    candidates : int, default 2
        Candidates that are compared.
    affordable : int, default 3
        Candles of each candidate that the studio can burn.
    burns : int, optional
        Burns of a candle; as in the earlier batches, else 10.
    power : float, default 0.8
        How often the plan should succeed.
    confidence : float, default 0.95
        Of the comparison, and of the claim.
    """

    difference: float | None = None
    margin: float | None = None
    reliability: float | None = None
    candidates: int = 2
    affordable: int = 3
    burns: int | None = None
    power: float = 0.8
    confidence: float = 0.95


def given(value: float | None) -> float:
    """What was asked for. A table and its words are made of nothing else."""
    if value is None:
        raise ValueError("This was not asked for.")
    return value


def plan_of(wanted: Wanted, burns: int, candles: int) -> Plan:
    """The balanced batch that is planned."""
    return Plan(candles, wanted.candidates, burns, wanted.confidence)


def candles_for(what: str, wanted: Wanted, burns: int, spread: Spread) -> int | None:
    """Smallest number of candles of each candidate that shows ``what`` with the wanted power.

    Found by the formula, settled by simulation.
    """
    formula, simulated = _POWER[what]
    size = given(wanted.difference if what == "difference" else wanted.margin)

    def by_formula(n: int) -> bool:
        return formula(plan_of(wanted, burns, n), spread, size) >= wanted.power

    def enough(n: int) -> bool:
        return simulated(plan_of(wanted, burns, n), spread, size) >= wanted.power - _NOISE

    low, high = 1, 2
    while not by_formula(high):
        low, high = high, high * 2
        if low >= MOST:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if by_formula(middle) else (middle, high)
    while not enough(high):
        high += 1
    while high > 2 and enough(high - 1):
        high -= 1
    return high if high <= MOST else None


def _rows(wanted: Wanted, needed: int | None) -> list[int]:
    shown = {n for n in _SHOWN if needed is None or n <= max(needed, wanted.affordable)}
    return sorted(shown | {wanted.affordable} | ({needed} if needed else set()))


def difference_table(
    wanted: Wanted, burns: int, spread: Spread, needed: int | None
) -> pd.DataFrame:
    """One row per number of candles: how often the difference is found, the smallest that is."""
    rows = []
    for n in _rows(wanted, needed):
        plan = plan_of(wanted, burns, n)
        found = 100 * power.difference_found(plan, spread, given(wanted.difference))
        formula = 100 * power.difference_found_formula(plan, spread, given(wanted.difference))
        smallest = power.smallest_difference(plan, spread, wanted.power)
        known_to = plan.critical_t() * plan.std_error(spread)
        rows.append((n, n * wanted.candidates, found, formula, smallest, known_to))
    return pd.DataFrame(
        rows, columns=["n_each", "n_in_all", *_FOUND, "smallest_difference", "known_to"]
    )


def equivalence_table(
    wanted: Wanted, burns: int, spread: Spread, needed: int | None
) -> pd.DataFrame:
    """One row per number of candles: how often two alike are shown to be, the narrowest margin."""
    rows = []
    for n in _rows(wanted, needed):
        plan = plan_of(wanted, burns, n)
        shown = 100 * power.equivalence_shown(plan, spread, given(wanted.margin))
        formula = 100 * power.equivalence_shown_formula(plan, spread, given(wanted.margin))
        smallest = power.smallest_margin(plan, spread, wanted.power)
        rows.append((n, n * wanted.candidates, shown, formula, smallest))
    return pd.DataFrame(rows, columns=["n_each", "n_in_all", *_FOUND, "smallest_margin"])


def good_truth(wanted: Wanted) -> float:
    """A candle far better than claimed: a tenth of the failures that the claim allows."""
    return 1.0 - (1.0 - given(wanted.reliability)) / 10.0


def claim_table(wanted: Wanted) -> pd.DataFrame:
    """One row per number of failures allowed: candles, and how often they carry the claim."""
    rows, truth = [], good_truth(wanted)
    for failures in range(4):
        n = proportions.candles_needed(given(wanted.reliability), wanted.confidence, failures)
        carried = power.claim_carried(n, given(wanted.reliability), wanted.confidence, truth=truth)
        formula = power.claim_carried_formula(n, failures, truth=truth)
        rows.append((failures, n, 100 * carried, 100 * formula))
    return pd.DataFrame(rows, columns=["failures_allowed", "n_each", *_FOUND])

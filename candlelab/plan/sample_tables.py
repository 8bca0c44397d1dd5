"""Tables of how many candles: for each number of them, how often the plan succeeds."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from candlelab.stats import power, proportions
from candlelab.stats.power import Plan, Spread

MOST = 400
_SHOWN = (2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30)


@dataclass(frozen=True)
class Wanted:
    """What the candles should show. What is None is not asked for.

    ``difference`` and ``margin`` are in the metric's unit: the difference between two candidates
    that matters, and the largest that does not. ``reliability`` is the share of candles that should
    pass, such as 0.90. ``affordable`` is the number of candles of each candidate that the studio
    can burn, ``burns`` the number of burns of a candle (None: as in the earlier batches, else 10).
    ``power`` is how often the plan should succeed.
    """

    difference: float | None = None
    margin: float | None = None
    reliability: float | None = None
    candidates: int = 2
    affordable: int = 3
    burns: int | None = None
    power: float = 0.8
    confidence: float = 0.95


def plan_of(wanted: Wanted, burns: int, candles: int) -> Plan:
    """The balanced batch that is planned."""
    return Plan(candles, wanted.candidates, burns, wanted.confidence)


def candles_wanted(
    wanted: Wanted, burns: int, spread: Spread, formula, simulated, size: float
) -> int | None:
    """Smallest number of candles of each candidate with the wanted power:
    found by the formula, settled by simulation."""
    low, high = 1, 2
    while formula(plan_of(wanted, burns, high), spread, size) < wanted.power:
        low, high = high, high * 2
        if low >= MOST:
            return None
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (
            (low, middle)
            if formula(plan_of(wanted, burns, middle), spread, size) >= wanted.power
            else (middle, high)
        )

    def enough(n: int) -> bool:
        return (
            simulated(plan_of(wanted, burns, n), spread, size) >= wanted.power - 0.005
        )  # the noise of the simulation

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
    """One row per number of candles: how often the difference
    is found, and the smallest that is."""
    rows = []
    for n in _rows(wanted, needed):
        plan = plan_of(wanted, burns, n)
        rows.append(
            (
                n,
                n * wanted.candidates,
                100 * power.difference_found(plan, spread, wanted.difference),
                100 * power.difference_found_formula(plan, spread, wanted.difference),
                power.smallest_difference(plan, spread, wanted.power),
                plan.critical_t() * plan.std_error(spread),
            )
        )
    return pd.DataFrame(
        rows,
        columns=[
            "n_each",
            "n_in_all",
            "found_simulated_pct",
            "found_formula_pct",
            "smallest_difference",
            "known_to",
        ],
    )


def equivalence_table(
    wanted: Wanted, burns: int, spread: Spread, needed: int | None
) -> pd.DataFrame:
    """One row per number of candles: how often two alike are
    shown to be, and the narrowest margin."""
    rows = []
    for n in _rows(wanted, needed):
        plan = plan_of(wanted, burns, n)
        rows.append(
            (
                n,
                n * wanted.candidates,
                100 * power.equivalence_shown(plan, spread, wanted.margin),
                100 * power.equivalence_shown_formula(plan, spread, wanted.margin),
                power.smallest_margin(plan, spread, wanted.power),
            )
        )
    return pd.DataFrame(
        rows,
        columns=[
            "n_each",
            "n_in_all",
            "found_simulated_pct",
            "found_formula_pct",
            "smallest_margin",
        ],
    )


def good_truth(wanted: Wanted) -> float:
    """A candle far better than claimed: a tenth of the failures that the claim allows."""
    return 1.0 - (1.0 - wanted.reliability) / 10.0


def claim_table(wanted: Wanted) -> pd.DataFrame:
    """One row per number of failures allowed: candles, and how often they carry the claim."""
    rows = []
    for failures in range(4):
        n = proportions.candles_needed(wanted.reliability, wanted.confidence, failures)
        rows.append(
            (
                failures,
                n,
                100
                * power.claim_carried(
                    n, wanted.reliability, wanted.confidence, truth=good_truth(wanted)
                ),
                100 * power.claim_carried_formula(n, failures, truth=good_truth(wanted)),
            )
        )
    return pd.DataFrame(
        rows, columns=["failures_allowed", "n_each", "found_simulated_pct", "found_formula_pct"]
    )

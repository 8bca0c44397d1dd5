"""How many candles: for a difference that matters, for two that burn alike, and for a claim.

``power`` holds the simulation and the formulas; this room knows the studio's batches and words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.compare.metrics import BURN_METRICS, METRICS
from candlelab.compare.pooled import pool
from candlelab.logs.batch import Batch
from candlelab.pages.glossary import GLOSSARY
from candlelab.plan import sample_words
from candlelab.plan.sample_tables import (
    Wanted,
    candles_for,
    claim_table,
    difference_table,
    equivalence_table,
)
from candlelab.stats import proportions
from candlelab.stats.designs import CannotCompare
from candlelab.stats.pairwise import compare_candidates
from candlelab.stats.power import Plan, Spread
from candlelab.text import capital, counted
from candlelab.units import SI, Display

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

    Attributes
    ----------
    metric : str
    wanted : Wanted
    spread : Spread
    burns : int
        Burns of each candle.
    needed : dict of str to int or None
        Candles of each candidate for ``difference``, ``equivalence`` and ``claim``; None where more
        than 400 would be needed.
    difference, equivalence : pandas.DataFrame
        One row per number of candles of each candidate: ``n_each``, ``n_in_all``,
        ``found_simulated_pct``, ``found_formula_pct``, and ``smallest_difference`` with
        ``known_to``, or ``smallest_margin``.
    claim : pandas.DataFrame
        One row per number of failures allowed: ``failures_allowed``, ``n_each``,
        ``found_simulated_pct``, ``found_formula_pct``.
    answer, cannot, method : tuple of str
        Sentences for a page; ``cannot`` says what the affordable number does not show.
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
    """Spread between candles and between burns in earlier batches, and the usual number of burns.

    The variance components of the mixed model that compares candidates, each within its batch, over
    the burns on the wick that a candle was poured with.

    Parameters
    ----------
    batches : sequence of Batch
        Earlier batches.
    metric : str, default "burn_rate_g_per_h"
        One of ``METRICS``.

    Returns
    -------
    spread : Spread
        Standard deviations in the unit of the metric.
    burns : int
        Burns of a candle, the median.

    Raises
    ------
    CannotCompare
        When no candidate has two candles.

    Examples
    --------
    >>> from candlelab import demo_folder, read_batch
    >>> from candlelab.plan.sample_size import spread_of
    >>> spread, burns = spread_of([read_batch(demo_folder("screening"))])
    >>> round(spread.candle_sd, 2), round(spread.burn_sd, 2), spread.df, burns
    (0.09, 0.25, 11, 7)
    """
    pooled = pool(list(batches))
    repeated = metric in BURN_METRICS
    table = pooled.burns if repeated else pooled.fresh
    table = table[(table["run"] == 1) & ~table["excluded"] & table[metric].notna()]
    found = compare_candidates(table, metric=metric, by=("batch", "candidate"), unit=_UNIT)
    candles = table.groupby(list(_UNIT)).size()
    candidates = table.groupby(["batch", "candidate"]).ngroups
    names = ", ".join(dict.fromkeys(table["batch"]))
    source = f"{len(candles)} candles of {counted(candidates, 'candidate')} in {names}"
    burn_sd = float(found.burn_sd) if repeated and np.isfinite(found.burn_sd) else 0.0
    spread = Spread(float(found.candle_sd), burn_sd, source, len(candles) - candidates)
    return spread, max(round(float(candles.median())), 1) if repeated else 1


def plan_candles(
    batches: Sequence[Batch] = (),
    *,
    wanted: Wanted,
    metric: str = "burn_rate_g_per_h",
    spread: Spread | None = None,
    display: Display | None = None,
) -> CandlePlan:
    """How many candles of each candidate show what is wanted, and what the affordable number shows.

    Parameters
    ----------
    batches : sequence of Batch, optional
        Earlier batches, which give the spread.
    wanted : Wanted
        What the candles should show.
    metric : str, default "burn_rate_g_per_h"
        One of ``METRICS``.
    spread : Spread, optional
        Takes the place of the one of ``batches``. Without either a default stands in, for burn
        rate only.
    display : Display, optional
        The reader's units, for the sentences; those of the first batch when not given.

    Returns
    -------
    CandlePlan

    Raises
    ------
    CannotPlan
        When what was asked for is no plan; it names every fault at once.
    CannotCompare
        When the earlier batches do not carry a spread.

    References
    ----------
    Noncentral t for a difference; two one-sided tests for two that burn alike (Phillips 1990,
    J. Pharmacokin. Biopharm. 18:137); the success run (binomial) for a claim. See
    ``candlelab.stats.power``.

    Examples
    --------
    >>> from candlelab import Wanted, plan_candles
    >>> plan = plan_candles(wanted=Wanted(difference=0.5, reliability=0.9, candidates=3))
    >>> plan.needed
    {'difference': 7, 'claim': 29}
    >>> plan.claim["n_each"].tolist()
    [29, 46, 61, 76]
    """
    _check(wanted, metric, bool(batches) or spread is not None)
    spread, burns = _usual(batches, wanted, metric, spread)
    needed, tables = _worked_out(wanted, burns, spread)
    asked = metric, wanted, spread, burns
    display = display or (batches[0].settings.display if len(batches) else SI)
    return CandlePlan(
        *asked,
        needed,
        **tables,
        answer=tuple(sample_words.answer(*asked, needed, display)),
        cannot=tuple(sample_words.cannot(*asked, display)),
        method=tuple(sample_words.method(*asked, display)),
    )


def _usual(
    batches: Sequence[Batch], wanted: Wanted, metric: str, spread: Spread | None
) -> tuple[Spread, int]:
    """The spread to plan with, and the burns of a candle."""
    usual = 10 if metric in BURN_METRICS else 1
    if spread is None:
        spread, usual = spread_of(batches, metric) if batches else (DEFAULT_SPREAD, usual)
    asked = wanted.burns if metric in BURN_METRICS else None
    return spread, usual if asked is None else asked


def _worked_out(
    wanted: Wanted, burns: int, spread: Spread
) -> tuple[dict[str, int | None], dict[str, pd.DataFrame]]:
    """The number of candles for each question, and its table; an empty one where none is asked."""
    needed: dict[str, int | None] = {}
    tables = {name: pd.DataFrame() for name in ("difference", "equivalence", "claim")}
    if wanted.difference is not None:
        n = needed["difference"] = candles_for("difference", wanted, burns, spread)
        tables["difference"] = difference_table(wanted, burns, spread, n)
    if wanted.margin is not None:
        n = needed["equivalence"] = candles_for("equivalence", wanted, burns, spread)
        tables["equivalence"] = equivalence_table(wanted, burns, spread, n)
    if wanted.reliability is not None:
        needed["claim"] = proportions.candles_needed(wanted.reliability, wanted.confidence)
        tables["claim"] = claim_table(wanted)
    return needed, tables


def _check(wanted: Wanted, metric: str, has_spread: bool) -> None:
    if metric not in METRICS:
        raise CannotPlan(f"metric must be one of {', '.join(METRICS)}, not {metric!r}.")
    label, faults = GLOSSARY[metric].label, []
    if not has_spread and metric != "burn_rate_g_per_h":
        faults.append(
            f"there is no assumption for the variation of {label}: give an earlier batch that "
            "measured it"
        )
    for name in ("difference", "margin"):
        value = getattr(wanted, name)
        if value is not None and not (np.isfinite(value) and value > 0):
            above = f"a number above zero in the unit of {label}"
            faults.append(f"{name} must be {above}, not {value!r}")
    for name, low in (("reliability", 0.0), ("power", 0.0), ("confidence", 0.5)):
        value = getattr(wanted, name)
        if value is not None and not low < value < 1.0:
            between = f"a share between {low:g} and 1, such as 0.9"
            faults.append(f"{name} must be {between}, not {value!r}")
    for name, low in (("candidates", 2), ("affordable", 2), ("burns", 1)):
        value = getattr(wanted, name)
        if value is not None and (value != int(value) or not low <= value <= 1000):
            faults.append(f"{name} must be a whole number from {low} to 1000, not {value!r}")
    if wanted.difference is wanted.margin is wanted.reliability is None:
        faults.append("nothing is asked for: give a difference, a margin or a reliability")
    if faults:
        text = "; ".join(faults)
        raise CannotPlan(f"{capital(text)}.")

"""Control candles: one recipe poured in every batch, so that candles of two batches can be told
apart from their batches."""

from __future__ import annotations

import math

from candlelab.judge.words import in_row
from candlelab.pages.quantity import quantity
from candlelab.plan.planned import PlannedBatch
from candlelab.plan.sample_tables import plan_of
from candlelab.stats import power
from candlelab.text import counted

_METRIC = "burn_rate_g_per_h"


def across_batches(within: float, candles: int, controls: int) -> float:
    """The difference between candidates of two batches found as often as one within a batch.

    The difference of each from its batch's control candles is known from both, so its variance is
    that of ``candles`` and of ``controls`` together.

    Parameters
    ----------
    within : float
        The smallest difference that is found between two candidates of one batch.
    candles, controls : int
        Candles of each candidate, and control candles in each batch.

    Returns
    -------
    float
        In the unit of ``within``.
    """
    return within * math.sqrt(1.0 + candles / controls)


def control_words(planned: PlannedBatch) -> list[str]:
    """What the control candles of a plan are for, or how to plan one."""
    plan, table = planned.plan, planned.candidates
    if plan.settings.stage != "screening":
        return []
    own = table[[c.control for c in plan.candidates]]
    if own.empty:
        return [
            "No control candle is planned, so its candidates can be compared with one another and "
            "not with those of another batch. If that is wanted, pour one recipe in both batches "
            "and write control = true beside it in both plans."
        ]
    n = int(own["n_candles"].sum())
    said = (
        f"{counted(n, 'control candle')}: {in_row(own['candidate'])}. Pour this recipe in every "
        "batch that you want to compare, as many candles each time: it shows what the batches "
        "differ by."
    )
    showing, display = planned.showing, plan.settings.display
    wanted = showing.wanted
    if len(table) < 2 or showing.spread.of_candle_means(showing.burns) == 0.0:
        return [said]
    here = plan_of(wanted, showing.burns, wanted.affordable)
    within = power.smallest_difference(here, showing.spread, wanted.power)
    apart = across_batches(within, wanted.affordable, n)
    told, less = (quantity(_METRIC, value, display, span=True) for value in (apart, within))
    return [
        f"{said} Between a wick of one such batch and a wick of another, a difference in burn rate "
        f"of about {told} or more shows {100 * wanted.power:g} times in 100; within one batch, "
        f"{less}."
    ]

"""Batches with known truth: the demo, recovery tests and scale tests.

Seeded; nothing is random on import.

What is burned, and the numbers of the model, stand in ``model``. All candles
of a plan burn side by side, burn after burn::

    rate  = mean of the wick + candle + burn + drift * (share used - 1/2) + room effect        g/h
    heat  = rate * heat of combustion / 3.6                                                    W
    reach = width_per_w * heat, the width the pool would take without a wall                   mm
    pool  = min(inner diameter, reach * (1 - exp(-t / tau))), tau longer for a small flame     mm
    depth = depth_per_root_h * sqrt(t) * (rate / suited rate) ** 1.5, at most the wax left     mm
    wall  = room + wall_per_w * heat * pool part * share-used part * (1 - exp(-t / wall_tau))  degC

The suited rate is the one whose reach is `reach_share` times the inner diameter. Soot, mushroom and
aftersmoke are random and rise with rate / suited rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.simulate import tables
from candlelab.simulate.burning import burn_once
from candlelab.simulate.model import EVENT_KINDS, BatchPlan, Bench, WickTruth
from candlelab.simulate.state import BenchState


@dataclass(frozen=True, eq=False)
class SimulatedBatch:
    """The tables of a batch folder, and the truth behind each candle.

    Attributes
    ----------
    tables : dict of str to pandas.DataFrame
        Tables by their name in the glossary, as ``write_batch`` takes them: naive local times,
        masses [g], lengths [mm], temperatures [°C], flags True and False.
    candle_truth : pandas.DataFrame
        One row per candle: ``candle``, ``candle_effect_g_per_h``, ``used_g``, ``left_g``.
    """

    tables: dict[str, pd.DataFrame]
    candle_truth: pd.DataFrame


def simulate_batch(plan: BatchPlan, *, seed: int) -> SimulatedBatch:
    """Burn every candle of a plan to its end, or to ``max_burns``.

    Parameters
    ----------
    plan : BatchPlan
        Wicks with what is true of them, candles, bench, model, and what is planted.
    seed : int
        The same seed gives the same tables.

    Returns
    -------
    SimulatedBatch

    Raises
    ------
    ValueError
        For a plan that contradicts itself; it names every contradiction.

    Examples
    --------
    >>> from candlelab import BatchPlan, WickTruth, simulate_batch
    >>> wick = WickTruth("flat braid", "4", 1, rate_g_per_h=5.6, left_pct=3.0)
    >>> plan = BatchPlan((wick,), (("T1", "flat braid", "4"), ("T2", "flat braid", "4")))
    >>> batch = simulate_batch(plan, seed=1)
    >>> batch.tables["burns"].groupby("candle").size().to_dict()
    {'T1': 9, 'T2': 9}
    """
    _check_plan(plan)
    rng = np.random.default_rng(seed)
    names = [candle[0] for candle in plan.candles]
    state = BenchState(plan, rng)
    burns, checks = [], []
    for number in range(1, plan.bench.max_burns + 1):
        state.change_wicks(number)
        here = np.flatnonzero(state.burning)
        if not here.size:
            break
        burn, check = burn_once(state, number, here)
        burns.append(burn)
        checks.append(check)
    made = {
        "candles": tables.candle_table(plan, state),
        "burns": tables.stacked(burns, names),
        "checks": tables.stacked(checks, names),
        "wicks": tables.wick_table(plan),
    }
    if plan.changes:
        made["wick_changes"] = pd.DataFrame(list(plan.changes))
    made = tables.with_events(made, plan.events)
    if plan.throw_burns:
        made["throw"] = tables.throw_table(plan, made["candles"], made["burns"], rng)
    truth = {"candle": names, "candle_effect_g_per_h": state.effect, "used_g": state.used_lit}
    return SimulatedBatch(made, pd.DataFrame(truth).assign(left_g=state.fill - state.used_lit))


def _check_plan(plan):
    names, sizes = {c[0] for c in plan.candles}, {(w.wick_series, w.wick_size) for w in plan.wicks}
    wanted = {tuple(c[1:]) for c in plan.candles}
    wanted |= {(c.wick_series, c.wick_size) for c in plan.changes}
    faults = [f"wick {a} {b} is not among the wicks" for a, b in sorted(wanted - sizes)]
    poured = [candle for recipe in plan.recipes for candle in recipe.candles]
    named = [event.candle for event in (*plan.events, *plan.changes)] + poured
    faults += [f"candle {candle} is not in the plan" for candle in named if candle not in names]
    twice = sorted(candle for candle in set(poured) if poured.count(candle) > 1)
    faults += [f"candle {candle} has two recipes" for candle in twice]
    known = ", ".join(EVENT_KINDS)
    unknown = [event.kind for event in plan.events if event.kind not in EVENT_KINDS]
    faults += [f"no event is called {kind!r}: use {known}" for kind in unknown]
    if len(names) < len(plan.candles):
        faults.append("two candles have the same name")
    if faults:
        raise ValueError("The plan contradicts itself: " + "; ".join(faults) + ".")


def simulate_many(n_candles: int, *, seed: int, burns_per_candle: int = 13) -> SimulatedBatch:
    """A large year for scale tests: 40 candidates in tall tumblers, five checks a burn.

    Parameters
    ----------
    n_candles : int
    seed : int
        The same seed gives the same tables.
    burns_per_candle : int, default 13
        The vessel is so tall that no candle comes to its end.

    Returns
    -------
    SimulatedBatch

    Examples
    --------
    >>> from candlelab import simulate_many
    >>> year = simulate_many(80, seed=1, burns_per_candle=3)
    >>> len(year.tables["burns"]), len(year.tables["checks"])
    (240, 1200)
    """
    series = ("flat braid", "square braid", "paper-cored", "twisted", "wooden")
    wicks = tuple(
        WickTruth(name, str(rank), rank, 4.4 + 0.3 * rank + 0.05 * s, 3.0, 300.0 + 60 * rank)
        for s, name in enumerate(series)
        for rank in range(1, 9)
    )
    picks = [wicks[i % len(wicks)] for i in range(n_candles)]
    candles = tuple((f"M{i + 1:05d}", w.wick_series, w.wick_size) for i, w in enumerate(picks))
    bench = Bench(
        fill_g=38.0 * burns_per_candle,
        check_min=(15, 60, 120, 180, 235),
        max_burns=burns_per_candle,
        stagger_min=2,
        first_lit="08:00",
        first_day="2025-01-06",
    )
    return simulate_batch(BatchPlan(wicks, candles, bench), seed=seed)

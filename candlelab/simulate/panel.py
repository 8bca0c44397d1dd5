"""A panel of noses that smells a simulated batch, with what is true of each nose beside it.

A candle gives ``top * (1 - exp(-x / bend))`` for x g/h of fragrance released (hot) or x % of load
(cold): it rises and flattens. What a nose writes down is::

    level + use * (strength + candle + taste) - carry * strength before - tire * place + noise

rounded to a step of the scale and held to it; ``taste`` is a nose's own for a load, a nose with
``use`` 0 smells nothing. Every number is invented.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

_CHECKS_A_SITTING = 3  # pairs before a nose tires


@dataclass(frozen=True)
class Nose:
    """One assessor: how high he scores, how much of the scale he uses, and how he wavers."""

    name: str
    level: float = 0.0
    use: float = 1.0
    noise: float = 0.5


@dataclass(frozen=True)
class PanelPlan:
    """Who smells what, when, and what is true.

    Parameters
    ----------
    noses : tuple of Nose
    hot : tuple of (int, tuple of tuple of str)
        Burns in which candles are smelled, each with its sittings: the candles of one session.
    cold : tuple of tuple of str
        Sittings before the first burn.
    pairs : tuple of (int, str, str)
        Burn and two candles that every nose smells side by side.
    checks : tuple of (str, str)
        A candle with fragrance and one without that every nose smells cold, side by side, before
        the first sitting.
    blocked : tuple of (str, str)
        Noses that were blocked, each with the session.
    top : float
        Highest score of the scale.
    hot_top, hot_bend, cold_top, cold_bend : float
        Of the two curves; g/h and percent.
    candle_sd, taste_sd, carry, tire : float
    """

    noses: tuple[Nose, ...]
    hot: tuple = ()
    cold: tuple = ()
    pairs: tuple = ()
    checks: tuple[tuple[str, str], ...] = ()
    blocked: tuple[tuple[str, str], ...] = ()
    top: float = 5.0
    hot_top: float = 3.9
    hot_bend: float = 0.1
    cold_top: float = 2.6
    cold_bend: float = 3.0
    candle_sd: float = 0.12
    taste_sd: float = 0.15
    carry: float = 0.06
    tire: float = 0.04
    place: str = "test room, chair by the door"
    distance_m: float = 2.5
    smelled_on: str = "2026-05-16"


def panel_tables(plan: PanelPlan, tables: dict, *, seed: int) -> dict[str, pd.DataFrame]:
    """The tables ``throw``, ``pairs`` and ``codes`` of a batch whose candles are smelled.

    Parameters
    ----------
    plan : PanelPlan
    tables : dict of str to pandas.DataFrame
        Of the batch: ``candles`` and ``burns``.
    seed : int
        The same seed gives the same tables.
    """
    panel = _Panel(plan, tables, np.random.default_rng(seed))
    throw = [row for names in enumerate(plan.cold, 1) for row in panel.sitting(None, *names)]
    for burn, sittings in plan.hot:
        for names in enumerate(sittings, 1):
            throw += panel.sitting(burn, *names)
    columns = ["code", "burn", "assessor", "score", "session", "order", "since_lit_min", "place",
               "distance_m", "lit", "smelled_on", "blocked_nose"]  # fmt: skip
    types = {"burn": "Int64", "smelled_on": "datetime64[us]"}
    scores = pd.DataFrame(throw, columns=columns).astype(types)
    pairs = [
        row
        for burn, *two in plan.pairs
        for row in panel.side_by_side(f"burn {burn}, pairs", burn, *two)
    ]
    panel.rng = np.random.default_rng([seed, 1])  # so that checks change no score
    for n, two in enumerate(plan.checks):
        pairs += panel.side_by_side(f"blank checks {1 + n // _CHECKS_A_SITTING}", None, *two)
    head = ["session", "assessor", "first", "second", "stronger", "burn", "lit"]
    made = {"throw": scores, "codes": panel.key()}
    beside = pd.DataFrame(pairs, columns=head).astype({"burn": "Int64"})
    return made | ({"pairs": beside} if pairs else {})


def strength(plan: PanelPlan, *, released_g_per_h=None, load_pct=None):
    """The true strength: hot by what is released, cold by load."""
    if released_g_per_h is not None:
        return plan.hot_top * (1 - np.exp(-np.asarray(released_g_per_h) / plan.hot_bend))
    return plan.cold_top * (1 - np.exp(-np.asarray(load_pct) / plan.cold_bend))


class _Panel:
    """The panel while it smells: its tastes, the codes given out so far."""

    def __init__(self, plan: PanelPlan, tables: dict, rng) -> None:
        self.plan, self.rng = plan, rng
        candles, burns = tables["candles"], tables["burns"]
        self.load = dict(zip(candles["candle"], candles["fragrance_load_pct"], strict=True))
        hours = (burns["out_at"] - burns["lit_at"]).dt.total_seconds() / 3600
        rate = (burns["mass_before_g"] - burns["mass_after_g"]) / hours
        self.rate = dict(zip(zip(burns["candle"], burns["burn"], strict=True), rate, strict=True))
        self.own = dict(zip(self.load, rng.normal(0, plan.candle_sd, len(self.load)), strict=True))
        self.taste = {
            (nose.name, load): rng.normal(0, plan.taste_sd)
            for nose in plan.noses
            for load in dict.fromkeys(self.load.values())
        }
        self._codes = iter(rng.permutation(np.arange(101, 1000)))
        self._given: dict[str, str] = {}

    def strength(self, candle: str, burn: int | None) -> float:
        """How strong a candle is, its own part with it; none without fragrance."""
        load = self.load[candle]
        if not load:
            return 0.0
        if burn is None:
            return float(strength(self.plan, load_pct=load)) + self.own[candle]
        released = self.rate[candle, burn] * load / (100 + load)
        return float(strength(self.plan, released_g_per_h=released)) + self.own[candle]

    def sitting(self, burn: int | None, number: int, candles: tuple[str, ...]) -> list[tuple]:
        """One session of every nose: the candles in an order of its own, one of them twice."""
        plan, rows = self.plan, []
        here = tuple(name for name in candles if burn is None or (name, burn) in self.rate)
        codes = {place: self._code(name) for place, name in enumerate(here)}
        again = int(self.rng.integers(len(here)))
        twice = {len(here): self._code(here[again])}
        smelled = (*here, here[again])
        session = f"cold {number}" if burn is None else f"burn {burn}, sitting {number}"
        for nose in plan.noses:
            before = 0.0
            for place, at in enumerate(self._order(len(here), again), 1):
                name = smelled[at]
                true = self.strength(name, burn)
                blocked = (nose.name, session) in plan.blocked
                felt = 0.0 if blocked else true
                score = self._score(nose, name, felt, before, place)
                before = true * (nose.use > 0)
                lit = (60 * (number + 1) + 4 * place) if burn else np.nan
                code = (codes | twice)[at]
                day = pd.Timestamp(plan.smelled_on) if burn is None else pd.NaT
                rows.append((code, burn, nose.name, score, session, place, lit, plan.place,
                             plan.distance_m, burn is not None, day, blocked))  # fmt: skip
        return rows

    def _order(self, n: int, again: int) -> np.ndarray:
        """A drawn order in which the repeat does not stand beside its first."""
        while True:
            order = self.rng.permutation(n + 1)
            places = {int(at): place for place, at in enumerate(order)}
            if abs(places[n] - places[again]) > 1:
                return order

    def _score(self, nose: Nose, candle: str, true: float, before: float, place: int) -> float:
        plan = self.plan
        felt = nose.use * (true + self.taste[nose.name, self.load[candle]] * (true > 0))
        felt += nose.level - plan.carry * before * nose.use - plan.tire * (place - 1) * nose.use
        return float(np.clip(np.round(felt + self.rng.normal(0, nose.noise)), 0, plan.top)) + 0.0

    def side_by_side(self, session: str, burn: int | None, one: str, other: str) -> list[tuple]:
        """Two candles that every nose smells side by side in a drawn order, cold if in no burn."""
        rows, codes = [], {one: self._code(one), other: self._code(other)}
        for nose in self.plan.noses:
            first, second = (one, other) if self.rng.random() < 0.5 else (other, one)
            ahead = nose.use * (self.strength(first, burn) - self.strength(second, burn))
            ahead += self.rng.normal(0, nose.noise * 2**0.5)
            won = first if ahead > 0 else second
            two = codes[first], codes[second]
            rows.append((session, nose.name, *two, codes[won], burn, burn is not None))
        return rows

    def _code(self, candle: str) -> str:
        code = str(next(self._codes))
        self._given[code] = candle
        return code

    def key(self) -> pd.DataFrame:
        """Which code is which candle."""
        return pd.DataFrame(list(self._given.items()), columns=["code", "candle"])

"""The answer of the panel in sentences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from candlelab.burns.scents import HOT
from candlelab.judge.decision import Decision
from candlelab.judge.scent import LOAD, failed_words, steps, weaker_words
from candlelab.judge.words import in_row, named, number_word
from candlelab.scent.judged import Scent
from candlelab.scent.worth import unpriced
from candlelab.stats.panel import ENOUGH_AT_FIRST, FLATTENS, RISES, noses_needed, panel_words
from candlelab.text import capital, counted, listed, rounded

SCREENING = "Untrained noses are screening evidence: more noses, or customers, decide."
HOW = (
    "A score is not a replicate: the same noses smell the same candles again. Candle and nose are "
    "both taken as drawn by lot (mean squares, Henderson's third method; Satterthwaite's degrees "
    "of freedom), so an interval speaks of other candles and other noses.",
    "Which load is enough is asked from the top down, each with a one-sided 95 % bound; the first "
    "that does not hold ends it. No difference found is never taken for no difference.",
    "A nose's level is taken off within each sitting, and a third of what noses differ in their "
    "use of the scale. Candles without fragrance stand apart as a check.",
    "How often one is scored higher comes from a cumulative logit with a random level for nose and "
    "candle (Laplace). It is for the picture: its own test is too sure with few noses.",
    "A nose smells it when its scores follow the others more than 85 of 100 shuffles of its own "
    "would. Nobody is set aside because of scores.",
    "A nose is set aside by its blank checks alone: a candle with fragrance beside one without, "
    "five pairs or more. It has to be right more often than luck is in 5 of 100 (binomial). To "
    "screen noses so before they judge is common practice (ISO 8586, from memory). Such pairs do "
    "not count for the candles.",
    "Fragrance released is an upper bound: as if oil left in proportion to wax.",
)


def answer_words(scent: Scent) -> tuple[str, ...]:
    """What the panel says: whose scores do not count, then the answer."""
    failed = failed_words(scent.strength)
    if scent.strength.hot is None:
        refused = scent.strength.refused.get(HOT, "Nobody smelled a burning candle.")
        return (*failed, f"The panel cannot tell yet. {refused}", *_panel(scent), SCREENING)
    first = _load_words(scent) if scent.strength.enough else _candidate_words(scent)
    return tuple([*failed, *first, *_sure(scent), *_costs(scent), *_panel(scent), SCREENING])


def _load_words(scent: Scent) -> list[str]:
    found, hot = scent.strength.enough, scent.strength.hot
    assert found is not None
    assert hot is not None
    alike = steps(scent.strength.margin)
    if found.kind == RISES:
        return [
            f"{found.top:g} % smells strongest, and stronger than {hot.levels[-2]:g} % "
            f"({scent.strength.score(found.top, hot.levels[-2])}). More than {found.top:g} % was "
            "not tested, and may smell stronger still."
        ]
    if found.kind in (FLATTENS, ENOUGH_AT_FIRST):
        said = [
            f"{found.level:g} % smells as strong as {found.top:g} % "
            f"({scent.strength.score(found.level, found.top)}). {weaker_words(found)}"
        ]
        if found.kind == ENOUGH_AT_FIRST:
            return [*said, f"Less than {found.level:g} % was not tested, and may do as well."]
        return said + _below(scent)
    return [
        f"It is not known yet how much is enough. No load is shown to come within {alike} of "
        f"{found.top:g} %, and {found.top:g} % is not shown to smell stronger."
    ]


def _below(scent: Scent) -> list[str]:
    """Whether the next lower load is shown to be weaker, or not known to be enough."""
    found, hot = scent.strength.enough, scent.strength.hot
    assert found is not None
    assert hot is not None
    lower = [level for level in hot.levels if level < found.level]
    if not lower:
        return []
    if hot.at_least(found.level, lower[-1]) > 0:
        both = scent.strength.score(lower[-1], found.level)
        return [f"{lower[-1]:g} % smells weaker than {found.level:g} % ({both})."]
    score = scent.strength.score(lower[-1])
    return [f"Whether {lower[-1]:g} % ({score}) is enough is not known yet."]


def _candidate_words(scent: Scent) -> list[str]:
    hot, names = scent.strength.hot, scent.strength.name_of
    assert hot is not None
    means = hot.estimates.sort_values("estimate", ascending=False)
    best, worst = means.iloc[0], means.iloc[-1]
    shown = hot.differences[hot.differences["p_adjusted"] < 1 - hot.confidence]
    measured = (
        f"{named(str(names[best['candidate']]))} was scored highest, "
        f"{scent.strength.score(best['candidate'])}, and {named(str(names[worst['candidate']]))} "
        f"lowest, {scent.strength.score(worst['candidate'])}"
    )
    if shown.empty:
        return [f"We cannot tell yet which smells strongest: {measured}; that may be luck."]
    pairs = [
        f"{named(str(names[row.candidate if row.estimate > 0 else row.reference]))} smells "
        f"stronger than {named(str(names[row.reference if row.estimate > 0 else row.candidate]))}"
        for row in shown.itertuples()
    ]
    return [f"{capital(measured)}.", f"More than luck: {listed(pairs, 4)}."]


def _sure(scent: Scent) -> list[str]:
    """How many noses and candles, how well a difference is known, and how many would do."""
    hot = scent.strength.hot
    assert hot is not None
    n = hot.estimates["n_candles"]
    each = f"{n.min()}" if n.min() == n.max() else f"{n.min()} to {n.max()}"
    said = [f"{capital(number_word(hot.n_assessors))} noses smelled {each} candles of each."]
    step = scent.worked.batch.settings.scent.step
    if hot.half_width <= step:
        return said
    need = noses_needed(
        hot.means.variances, n_candles=int(n.min()), n_candidates=len(hot.levels), step=step
    )
    if need is None:
        return [*said, "More candles of each are needed to see a step: more noses will not do."]
    return [*said, f"To see {steps(step)} in 80 of 100 panels takes about {need} noses."]


def _costs(scent: Scent) -> list[str]:
    """What the candle costs that is picked or enough, and what the next load would buy."""
    worth, prices = scent.tables["worth"], scent.worked.batch.settings.prices
    if worth.empty:
        return []
    picks = [decision.pick for decision in scent.worked.decisions if decision.pick]
    rows = worth[worth["candidate"].isin(picks)]
    said = []
    for row in rows.itertuples():
        hour = (
            f", {_money(row.cost_of_hour, prices)} an hour"
            if not np.isnan(row.cost_of_hour)
            else ""
        )
        said.append(
            f"A candle of {named(row.candidate)} costs {_money(row.cost_candle, prices)}{hour}."
        )
        said += _next_load(worth, row.Index, prices)
        if not np.isnan(row.kept):
            left = f"{_money(row.kept, prices)} ({row.kept_pct:.0f} %)"
            said.append(f"At your price of {_money(prices.sold_at, prices)}, {left} is left.")
    if missing := unpriced(prices):
        said.append(f"Without a price, and not in the cost: {listed(missing)}.")
    return said


def _next_load(worth: pd.DataFrame, place: int, prices) -> list[str]:
    if place + 1 >= len(worth):
        return []
    row = worth.iloc[place + 1]
    if np.isnan(row["gain"]):
        return []
    ends = f"{_signed(row['gain_low'])} to {_signed(row['gain_high'])}"
    gain = f"{_signed(row['gain'])} steps ({ends})"
    costs = f"{capital(named(row['candidate']))} costs {_money(row['cost_more'], prices)} more"
    if row["gain_low"] > 0:
        step = _money(row["cost_more"] / row["gain"], prices)
        return [f"{costs}. It gains {gain}: {step} a step."]
    return [f"{costs} a candle, and is not shown to smell stronger."]


def _signed(value: float) -> str:
    """A gain in steps, with a true minus sign, which no line end parts from its number."""
    return rounded(value, digits=1).replace("-", "−")


def _money(value: float | None, prices) -> str:
    return f"{value:.2f} {prices.currency}".strip()


def _deaf(scent: Scent) -> list[str]:
    """The noses whose scores do not match the others."""
    table = scent.tables["noses"]
    return list(table.loc[~table["hears"].astype(bool), "assessor"])


def boxes(scent: Scent) -> tuple[Decision, ...]:
    """The decisions, with what the panel has to do before the pick is confirmed."""
    first, *others = scent.worked.decisions
    steps, deaf = [], _deaf(scent)
    if lost := sorted(set(scent.strength.not_counted["assessor"])):
        steps.append(
            f"{in_row(lost)} did no better than guessing in the blank checks: check again, or ask "
            "another nose."
        )
    if 0 < len(deaf) < len(scent.tables["noses"]):
        steps.append(f"Have {in_row(deaf)} smell again: the scores do not match the others.")
    checks = scent.tables["panel_checks"]
    told = checks[checks["check"].str.startswith(("Drift", "Carry")) & (checks["p_value"] < 0.05)]
    return (replace(first, next_steps=(*steps, *told["says"], *first.next_steps)), *others)


def _panel(scent: Scent) -> list[str]:
    """Who smells nothing, who does not count, what came before, whether it tires."""
    deaf, said = _deaf(scent), []
    if deaf and len(deaf) < len(scent.tables["noses"]):
        said.append(
            f"The scores of {in_row(deaf)} match the others no better than luck, and count all the "
            "same. So the ranges are wider than they need to be for these noses: another panel may "
            "have more such noses, or none."
        )
    elif deaf:
        said.append("No nose follows the others better than luck: this panel does not agree.")
    if lost := scent.strength.set_aside:
        parts = [f"{counted(n, 'score')} ({reason})" for reason, n in lost.items()]
        said.append(f"Set aside: {listed(parts)}.")
    return said


def unit_words(scent: Scent) -> str:
    """The steps of the scale, in words."""
    words = scent.worked.batch.settings.scent.words
    if not words:
        return f"Scores from 0 to {scent.worked.batch.settings.scent.highest:g}."
    return "Steps: " + ", ".join(f"{n} {word}" for n, word in enumerate(words)) + "."


def method_words(scent: Scent) -> tuple[str, ...]:
    """How it was worked out."""
    hot = scent.strength.hot
    told = [] if hot is None else [panel_words(hot), _within(hot)]
    return (*told, *HOW)


def _within(hot) -> str:
    return f"Differences are known to within {rounded(hot.half_width, digits=1)} steps."


def by_load(scent: Scent) -> bool:
    """Whether loads are compared."""
    return scent.strength.by == LOAD

"""The decision, one for each vessel, in words: what to pick, why not the others, what to do next.

What has failed stands first, whoever set it aside. Every page shows the decisions of the candidates
that it speaks of.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.formulas import failure_rate_upper
from candlelab.glossary import column
from candlelab.judge.steps import STOP, burn_on_words
from candlelab.judge.words import (
    BURNING,
    RULED_OUT,
    SAFE,
    UNCHECKED,
    clock_words,
    gap_words,
    in_row,
    named,
    note_words,
    number_word,
)
from candlelab.text import counted, listed

_MOST_INCIDENTS = 12  # candles told one by one
_NO_CERTIFICATE = "This is screening evidence, not a certificate."


@dataclass(frozen=True)
class Decision:
    """What one vessel's candles say. ``pick`` is a candidate, or empty when none can be picked.

    ``incidents`` are sentences that stand above everything; ``headline`` names the pick;
    ``reasons`` say what comes next and what is ruled out; ``next_steps`` begin with the verb;
    ``how_sure`` is one line.
    """

    vessel: str
    pick: str
    incidents: tuple[str, ...]
    headline: str
    reasons: tuple[str, ...]
    next_steps: tuple[str, ...]
    how_sure: str

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it, in order."""
        steps = [f"Next: {step}" for step in self.next_steps]
        return (*self.incidents, self.headline, *self.reasons, *steps, self.how_sure)


def decisions(worked) -> tuple[Decision, ...]:
    """A decision for each vessel of a worked batch, in the order of the ranking."""
    ranking = worked.ranking
    return tuple(
        _decision(worked, vessel, own.reset_index(drop=True))
        for vessel, own in ranking.groupby("vessel", sort=False)
    )


def incident_words(failed: pd.DataFrame) -> list[str]:
    """For each candle that met with an incident: stop, what happened and when, and its note."""
    said = []
    parts = list(failed[failed["incident"]].groupby("candle", sort=False))
    for candle, part in parts[:_MOST_INCIDENTS]:
        whose = in_row(dict.fromkeys(part["candidate"]))
        told = [f"Stop burning {candle} ({whose})."]
        told += [_incident(own) for _, own in part.groupby("criterion", sort=False)]
        if part["excluded"].any():
            told.append("It was set aside; that does not undo it.")
        said.append(" ".join(told))
    if rest := [candle for candle, _ in parts[_MOST_INCIDENTS:]]:
        said.append(f"Stop burning {in_row(rest)} for the same kind of reason.")
    return said


def _incident(part: pd.DataFrame) -> str:
    """What happened to one candle by one criterion, in its first burn, and how often after."""
    row = next(part.itertuples())
    more = int(part["n_readings"].sum()) - 1
    again = f", and at {counted(more, 'more check')}" if more else ""
    when = f"in burn {row.burn}, {clock_words(row.elapsed_min)} after lighting"
    return f"{row.words} {when}{again}.{note_words(row.note)}"


def _decision(worked, vessel: str, ranked: pd.DataFrame) -> Decision:
    failed = worked.failures[worked.failures["candidate"].isin(ranked["candidate"])]
    safe = ranked[ranked["fate"] == SAFE]
    best = safe[safe["rank"] == safe["rank"].min()]
    candles = worked.batch.candles
    unlit = candles[~candles["candle"].isin(worked.batch.burns["candle"])]
    unlit = unlit.loc[unlit["vessel"] == vessel, "candle"]
    return Decision(
        vessel,
        best["candidate"].iat[0] if len(best) == 1 else "",
        tuple(incident_words(failed)),
        _headline(worked, ranked, best),
        tuple(_reasons(worked, ranked, best)),
        tuple(_next_steps(worked, ranked, best, unlit)),
        _how_sure(best),
    )


def _headline(worked, ranked: pd.DataFrame, best: pd.DataFrame) -> str:
    burning = worked.gaps[
        worked.gaps["burning"] & worked.gaps["candidate"].isin(ranked["candidate"])
    ]
    alight = in_row(dict.fromkeys(burning["candle"]))
    are = "is" if burning["candle"].nunique() == 1 else "are"
    if best.empty:
        if set(ranked["fate"]) == {RULED_OUT}:
            only = "the only one tested was" if len(ranked) == 1 else "every one tested was"
            return f"No wick can be picked: {only} ruled out."
        if alight:
            return f"No wick can be picked yet: {alight} {are} still burning."
        return "No wick can be picked yet: no candle has passed every safety check."
    so_far = f" so far: {alight} {are} still burning" if alight else ""
    if len(best) > 1:
        level = in_row(best["candidate"])
        return f"No single pick: {level} are level{so_far}. Fresh candles of each have to tell."
    row = next(best.itertuples())
    return f"Pick {named(row.candidate)}{so_far}. {row.because}{_on_target(worked, row)}"


def _on_target(worked, row) -> str:
    """Which targets were missed, by how many candles."""
    table = worked.targets
    table = table[(table["candidate"] == row.candidate) & (table["n_candles"] > 0)]
    if table.empty:
        return ""
    missed = table[table["n_inside"] < table["n_candles"]]
    they = "They were" if row.n_passed > 1 else "It was"
    if missed.empty:
        return f" {they} on target for everything you asked for."
    what = [
        f"{column(one.target).label} ({one.n_candles - one.n_inside} of "
        f"{counted(one.n_candles, 'candle')})"
        for one in missed.itertuples()
    ]
    return f" Off target: {listed(what)}."


def _reasons(worked, ranked: pd.DataFrame, best: pd.DataFrame) -> list[str]:
    said = []
    others = ranked[(ranked["fate"] == SAFE) & ~ranked["candidate"].isin(best["candidate"])]
    if len(others):
        row = next(others.itertuples())
        said.append(f"Runner-up: {named(row.candidate)}. {row.because}{_on_target(worked, row)}")
        rest = others["candidate"].iloc[1:]
        if len(rest):
            said.append(f"Also safe so far: {in_row(rest)}.")
    for fate in (RULED_OUT, UNCHECKED, BURNING):
        own = ranked[ranked["fate"] == fate]
        said += [f"{fate.capitalize()}: {r.candidate}. {r.because}" for r in own.itertuples()]
    return said


def _next_steps(worked, ranked: pd.DataFrame, best: pd.DataFrame, unlit: pd.Series) -> list[str]:
    """What to do tomorrow: what to stop, what to burn on, then the pick or what could be one."""
    steps = list(ranked.loc[ranked["next_step"].str.startswith(STOP), "next_step"])
    burning = worked.remaining
    burning = burning[burning["candidate"].isin(ranked["candidate"])]
    if len(burning):
        steps.append(burn_on_words(burning))
    if len(unlit):
        steps.append(f"Light what is not burned yet: {in_row(unlit)}.")
    if len(best):
        steps += list(best["next_step"])
    elif set(ranked["fate"]) == {RULED_OUT}:
        steps += list(ranked["next_step"])
    else:
        steps += list(ranked.loc[ranked["fate"] == UNCHECKED, "next_step"])
    return list(dict.fromkeys(steps))


def _how_sure(best: pd.DataFrame) -> str:
    return proof_words(int(best["n_passed"].min()) if len(best) else 0)


def proof_words(n: int) -> str:
    """How much so many good candles prove; nothing is said of none."""
    if n < 1:
        return _NO_CERTIFICATE
    share = float(failure_rate_upper(0, n))
    tens = min(round(10 * share), 9)
    room = f"{tens} in 10" if tens >= 1 else f"{max(int(np.ceil(100 * share)), 1)} in 100"
    good = number_word(n).capitalize()
    proof, them = ("One good candle is", "it") if n == 1 else (f"{good} good candles are", "them")
    return f"{proof} not proof: as many as {room} like {them} could still fail. {_NO_CERTIFICATE}"


def gaps_in_words(worked, candidates) -> list[str]:
    """What keeps these candidates' candles from a pass."""
    return gap_words(worked.gaps[worked.gaps["candidate"].isin(list(candidates))])


def fate_lines(worked, candidates) -> list[str]:
    """Fate, reason and next step of each of these candidates, for a page that speaks of them."""
    table = worked.fates[worked.fates["candidate"].isin(list(candidates))]
    return [
        f"{named(r.candidate)}: {r.fate}. {r.because} {r.next_step}".strip()
        for r in table.itertuples()
    ]

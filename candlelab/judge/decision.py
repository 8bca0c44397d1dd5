"""The decision, one for each vessel, in words: what to pick, why not the others, what to do next.

What has failed stands first, whoever set it aside. Every page shows the decisions of the candidates
that it speaks of.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from candlelab.formulas import failure_rate_upper
from candlelab.judge.fates import BURNING, RULED_OUT, SAFE, UNCHECKED, gap_words, place_words
from candlelab.text import counted, listed


@dataclass(frozen=True)
class Decision:
    """What one vessel's candles say. ``pick`` is a candidate, or empty when none can be picked.

    ``incidents`` are sentences that stand above everything; ``headline`` names the pick; ``reasons``
    say why, what comes next and what is ruled out; ``next_steps`` begin with the verb; ``how_sure`` is
    one line.
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
        parts = (*self.incidents, self.headline, *self.reasons, *self.next_steps, self.how_sure)
        return tuple(part for part in parts if part)


def decisions(worked) -> tuple[Decision, ...]:
    """A decision for each vessel of a worked batch, in the order of the batch."""
    ranking = worked.ranking
    return tuple(
        _decision(worked, vessel, own.reset_index(drop=True))
        for vessel, own in ranking.groupby("vessel", sort=False)
    )


def incident_words(failed: pd.DataFrame) -> list[str]:
    """For each candle that met with an incident: what happened, and what to do."""
    said = []
    for candle, part in failed[failed["incident"]].groupby("candle", sort=False):
        row = next(part.itertuples())
        minutes = round(row.elapsed_min)
        after = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
        note = f" Note: “{row.note}”." if row.note else ""
        more = len(part) - 1
        again = f" {counted(more, 'more such reading')} followed." if more else ""
        aside = " It was set aside; that does not undo it." if part["excluded"].any() else ""
        said.append(
            f"Stop burning {candle} ({row.candidate}). {row.words} in burn {row.burn}, {after} after "
            f"lighting.{note}{again}{aside}"
        )
    return said


def _decision(worked, vessel: str, ranked: pd.DataFrame) -> Decision:
    failed = worked.failures[worked.failures["candidate"].isin(ranked["candidate"])]
    safe = ranked[ranked["fate"] == SAFE]
    best = safe[safe["rank"] == safe["rank"].min()] if len(safe) else safe
    pick = best["candidate"].iat[0] if len(best) == 1 else ""
    return Decision(
        vessel,
        pick,
        tuple(incident_words(failed)),
        _headline(ranked, best),
        tuple(_reasons(worked, ranked, safe, best)),
        tuple(_next_steps(ranked, best)),
        _how_sure(worked, best),
    )


def _headline(ranked: pd.DataFrame, best: pd.DataFrame) -> str:
    if best.empty:
        fates = set(ranked["fate"])
        if fates == {RULED_OUT}:
            return "No wick can be picked: every one tested was ruled out."
        if BURNING in fates:
            return "No wick can be picked yet: candles are still burning."
        return "No wick can be picked yet: no candle has passed every safety check."
    if len(best) > 1:
        return f"{listed(best['candidate'])} are level: more fresh candles have to tell."
    row = next(best.itertuples())
    return f"Pick {row.candidate}. {row.because}{_on_target(row)}"


def _on_target(row) -> str:
    if not row.targets_asked:
        return ""
    if row.targets_hit == row.targets_asked:
        return " It was on target for everything you asked for."
    return f" It hit {row.targets_hit} of {counted(row.targets_asked, 'target')}."


def _reasons(worked, ranked: pd.DataFrame, safe: pd.DataFrame, best: pd.DataFrame) -> list[str]:
    said = []
    others = safe[~safe["candidate"].isin(best["candidate"])]
    if len(others):
        row = next(others.itertuples())
        said.append(f"Runner-up: {row.candidate}. {row.because}{_on_target(row)}")
        rest = others["candidate"].iloc[1:]
        if len(rest):
            said.append(f"Also safe so far: {listed(rest)}.")
    for fate, lead in (
        (RULED_OUT, "Ruled out"),
        (UNCHECKED, "Not fully checked"),
        (BURNING, "Still burning"),
    ):
        own = ranked[ranked["fate"] == fate]
        said += [f"{lead}: {row.candidate}. {row.because}" for row in own.itertuples()]
    unlit = worked.batch.candles
    unlit = unlit.loc[~unlit["candle"].isin(worked.batch.burns["candle"]), "candle"]
    if len(unlit):
        said.append(f"Not burned yet: {listed(unlit)}.")
    return said


def _next_steps(ranked: pd.DataFrame, best: pd.DataFrame) -> list[str]:
    """What to do tomorrow: for the pick, or for what could still be picked."""
    first = best if len(best) else ranked[ranked["fate"] != RULED_OUT]
    stop = ranked[ranked["next_step"].str.startswith("Stop testing")]
    chosen = pd.concat([stop, first]) if len(first) else ranked
    return list(dict.fromkeys(f"Next: {step}" for step in chosen["next_step"]))


def _how_sure(worked, best: pd.DataFrame) -> str:
    if best.empty:
        return "This is screening evidence, not a certificate."
    n = int(best["n_passed"].min())
    share = 10.0 * float(failure_rate_upper(0, n))
    proof = "One good candle is" if n == 1 else f"{_number(n)} good candles are"
    room = f"as many as {share:.0f} in 10 like {'it' if n == 1 else 'them'} could still fail"
    return f"{proof} not proof: {room}. This is screening evidence, not a certificate."


def _number(n: int) -> str:
    words = ("Zero", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine")
    return words[n] if n < len(words) else str(n)


def gaps_in_words(worked, candidates) -> list[str]:
    """What keeps these candidates' candles from a pass."""
    return gap_words(worked.gaps[worked.gaps["candidate"].isin(list(candidates))])


def fate_lines(worked, candidates) -> list[str]:
    """Fate and reason of each of these candidates, for a page that speaks of them."""
    table = worked.fates[worked.fates["candidate"].isin(list(candidates))]
    return [
        f"{r.candidate}: {r.fate}. {r.because} {r.next_step}".strip() for r in table.itertuples()
    ]


__all__ = ["Decision", "decisions", "fate_lines", "gaps_in_words", "incident_words", "place_words"]

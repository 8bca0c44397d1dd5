"""The decision, one for each vessel, in words: what to pick, why not the others, what to do next.

What has failed stands first, whoever set it aside. Every page shows the decisions of the candidates
that it speaks of.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from candlelab.burns.groups import as_rows, rows_by
from candlelab.candle_formulas import failure_rate_upper
from candlelab.judge.in_short import first_sentence, in_short, not_the_others
from candlelab.judge.others import others_words
from candlelab.judge.ranking import leading
from candlelab.judge.scent import beside_words, scent_line
from candlelab.judge.steps import POUR, STOP, burn_on_words, how_to_confirm
from candlelab.judge.target_words import OFF, target_words
from candlelab.judge.warm_room import (
    hottest_wall,
    over_in_warm_room,
    warm_room_short,
    warm_room_step,
    warm_room_words,
)
from candlelab.judge.words import (
    BURNING,
    MOST_IN_ROW,
    RULED_OUT,
    SAFE,
    UNCHECKED,
    clock_words,
    failure_words,
    gap_words,
    in_row,
    named,
    note_words,
    number_word,
    without_vessel,
)
from candlelab.text import capital, clip, counted, listed
from candlelab.units import Display

_SEVERAL = re.compile(r" x(\d+)\b")  # as candidates are named
_MOST_INCIDENTS = 12  # candles told one by one
_SCREENED = "This is screening evidence, not a certificate."
_TESTED = "This is your own test, not a certificate."


@dataclass(frozen=True)
class Decision:
    """What one vessel's candles say. ``pick`` is a candidate, or empty when none can be picked.

    ``incidents`` are sentences that stand above everything; ``headline`` names the pick;
    ``reasons`` say what comes next and what is ruled out; ``next_steps`` begin with the verb;
    ``how_sure`` is one line. ``in_short`` is the headline in a few words, to stand beside those of
    other vessels; ``candidates`` are all of this one, ``others`` says in a line why not they.
    """

    vessel: str
    pick: str
    incidents: tuple[str, ...]
    headline: str
    reasons: tuple[str, ...]
    next_steps: tuple[str, ...]
    how_sure: str
    in_short: str = ""
    candidates: tuple[str, ...] = ()
    others: str = ""

    @property
    def lines(self) -> tuple[str, ...]:
        """All of it, in order."""
        steps = [f"Next: {step}" for step in self.next_steps]
        others = not_the_others(self.others)
        return (*self.incidents, self.headline, *others, self.how_sure, *self.reasons, *steps)


def all_incidents(decisions: Iterable[Decision]) -> tuple[str, ...]:
    """What failed in any vessel: it stands above all boxes."""
    return tuple(line for decision in decisions for line in decision.incidents)


def all_lines(decisions: Sequence[Decision]) -> tuple[str, ...]:
    """All decisions of a page, in order: what failed, all vessels in short, then box for box."""
    boxes = (line for d in decisions for line in d.lines[len(d.incidents) :])
    short = (one.line for one in in_short(decisions))
    return (*all_incidents(decisions), *short, *boxes)


def decisions(worked) -> tuple[Decision, ...]:
    """A decision for each vessel of a worked batch, in the order of the ranking."""
    of_vessel = rows_by(as_rows(worked.ranking), "vessel")
    return tuple(_decision(worked, vessel, ranked) for vessel, ranked in of_vessel.items())


def incident_words(failed: pd.DataFrame | list[Any]) -> list[str]:
    """For each candle that met with an incident: stop, what happened and when, and its note."""
    said = []
    parts = list(rows_by((row for row in as_rows(failed) if row.incident), "candle").items())
    for candle, part in parts[:_MOST_INCIDENTS]:
        whose = in_row(dict.fromkeys(row.candidate for row in part))
        told = [f"Stop burning {candle} ({whose})."]
        told += [_incident(own) for own in rows_by(part, "criterion").values()]
        if any(row.excluded for row in part):
            reasons = dict.fromkeys(row.exclusion_reason for row in part if row.exclusion_reason)
            why = f" ({clip('; '.join(reasons))})" if reasons else ""
            told.append(f"You set it aside{why}. That does not undo a safety failure.")
        said.append(" ".join(told))
    if rest := [candle for candle, _ in parts[_MOST_INCIDENTS:]]:
        said.append(f"Stop burning {in_row(rest)} for the same kind of reason.")
    return said


def _incident(part: list[Any]) -> str:
    """What happened to one candle by one criterion, in its first burn, and how often after."""
    row = part[0]
    more = sum(one.n_readings for one in part) - 1
    again = f", and at {counted(more, 'more check')}" if more else ""
    when = f"in burn {row.burn}, {clock_words(row.elapsed_min)} after lighting"
    return f"{row.words} {when}{again}.{note_words(one.note for one in part)}"


def _decision(worked, vessel: str, ranked: list[Any]) -> Decision:
    level, best, why = leading(worked.scent, ranked)
    walls = {row.candidate: hottest_wall(worked, row.candidate) for row in _of_fate(ranked, SAFE)}
    hot = {name for name, wall in walls.items() if over_in_warm_room(wall)}
    warm = warm_room_words(walls[best[0].candidate], _display(worked)) if best else ""
    candles, lit = worked.batch.candles, set(worked.batch.burns["candle"])
    unlit = [name for name in candles["candle"][candles["vessel"] == vessel] if name not in lit]
    names = tuple(row.candidate for row in ranked)
    lit_again = _not_stopped(ranked)
    alight = list(dict.fromkeys(g.candle for g in _own(worked.gaps, lit_again) if g.burning))
    headline = _headline(worked, ranked, best, warm, alight) + _by_scent(level, best, why)
    headline, *reasons = _wicks_explained([headline, *_reasons(worked, ranked, best, walls)])
    return Decision(
        vessel,
        best[0].candidate if len(best) == 1 else "",
        tuple(incident_words(_own(worked.failures, names))),
        headline,
        tuple(reasons),
        tuple(dict.fromkeys(_next_steps(worked, ranked, best, unlit, walls))),
        _how_sure(worked, ranked, best),
        _in_short(worked, ranked, best, walls, alight),
        names,
        others_words(worked, ranked, best, hot),
    )


def _of_fate(ranked: list[Any], fate: str) -> list[Any]:
    return [row for row in ranked if row.fate == fate]


def _own(table: pd.DataFrame, candidates) -> list[Any]:
    """The rows of a table that are of these candidates, in its order."""
    names = set(candidates)
    return [row for row in as_rows(table) if row.candidate in names]


def _wicks_explained(texts: list[str]) -> list[str]:
    """What "x3" means, where it first stands."""
    for at, text in enumerate(texts):
        if found := _SEVERAL.search(text):
            first, rest = first_sentence(text)
            n = int(found[1])
            first = f"{first.removesuffix('.')} (x{n}: {number_word(n)} wicks)."
            return [*texts[:at], f"{first} {rest}".strip(), *texts[at + 1 :]]
    return texts


def _in_short(worked, ranked: list[Any], best: list[Any], walls: dict, alight: list[str]) -> str:
    """The pick by its wick with what speaks against it, or that there is none."""
    if len(best) == 1:
        name = without_vessel(best[0].candidate, best[0].vessel)
        told = f"{name}{' leads so far' if alight else ''}{_side(worked, best)}"
        warm = warm_room_short(walls[best[0].candidate], _display(worked))
        return f"{told}. {warm}" if warm else told
    if len(best) > 1:
        level = [without_vessel(r.candidate, r.vessel) for r in best]
        return f"no single pick{' yet' if alight else ''}, {in_row(level)} are level"
    return "no pick" if _of_fate(ranked, RULED_OUT) == ranked else "no pick yet"


def _side(worked, best: list[Any]) -> str:
    """That the pick burns on the small or the large side, where it does."""
    side = worked.steps.side(best[0].candidate)
    return f", {side}" if side else ""


def _headline(worked, ranked: list[Any], best: list[Any], warm: str, burning: list[str]) -> str:
    alight, are = in_row(burning, MOST_IN_ROW), "is" if len(burning) == 1 else "are"
    if not best:
        if _of_fate(ranked, RULED_OUT) == ranked:
            only = "the only one tested was" if len(ranked) == 1 else "every one tested was"
            return f"No wick can be picked: {only} ruled out."
        if alight:
            return f"No wick can be picked yet: {alight} {are} still burning."
        return "No wick can be picked yet: no candle has passed every safety check."
    if len(best) > 1:
        level = in_row(row.candidate for row in best)
        if alight:
            return f"No single pick yet: {level} are level, and {alight} {are} still burning."
        return f"No single pick: {level} are level. Fresh candles of each have to tell."
    row = best[0]
    pick = f"{named(row.candidate)} leads" if alight else f"{named(row.candidate)}"
    told = f"{'So far' if alight else 'Pick'} {pick}{_side(worked, best)}."
    return " ".join(filter(None, [told, warm, f"{row.because}{target_words(worked, row)}"]))


def _by_scent(level: list[Any], best: list[Any], why: str) -> str:
    """That several were level until the panel told them apart."""
    if not why:
        return ""
    others = [row.candidate for row in level if row not in best]
    return f" It is level with {in_row(others)} in safety and targets.{why}"


def _reasons(worked, ranked: list[Any], best: list[Any], walls: dict) -> list[str]:
    warm = {name: warm_room_words(wall, _display(worked)) for name, wall in walls.items()}
    level = best if len(best) > 1 else []
    said = [
        f"{named(row.candidate)}: {row.because} {warm[row.candidate]}".rstrip() for row in level
    ]
    others = [row for row in _of_fate(ranked, SAFE) if row not in best]
    if others:
        row = others[0]
        told = f"Runner-up: {named(row.candidate)}. {row.because}{target_words(worked, row)}"
        if row.rank == best[0].rank and len(best) == 1:
            told += beside_words(worked.scent, best[0].candidate, row.candidate)
        if _alone(worked):
            told += " It is out if it failed in the screening."
        said.append(f"{told} {warm[row.candidate]}".rstrip())
        said += _also_safe(worked, best, others, warm)
    for fate in (RULED_OUT, UNCHECKED, BURNING):
        own = _of_fate(ranked, fate)
        said += [f"{capital(fate)}: {named(r.candidate)}{_why(worked, r)}" for r in own]
    if worked.scent is not None and len(best) == 1:
        said += list(filter(None, [scent_line(worked.scent, best[0].candidate)]))
    return said + _set_aside(worked, ranked)


def _also_safe(worked, best: list[Any], others: list[Any], warm: dict) -> list[str]:
    """The candidates behind the runner-up, those with one reason in one line."""
    by_why: dict[str, list[str]] = {}
    for row in others[1:]:
        why = _behind(worked, row, best)
        by_why.setdefault(f"{why} {warm[row.candidate]}".strip(), []).append(row.candidate)
    return [f"Also safe so far: {in_row(names)}. {why}" for why, names in by_why.items()]


def _behind(worked, row, best: list[Any]) -> str:
    """Why a safe candidate is behind: not all was checked, fewer candles, or what it missed."""
    if row.n_gaps:
        return f"{row.because}{target_words(worked, row)}"
    missed = target_words(worked, row).strip()
    off = missed if missed.startswith(OFF) else ""
    if row.n_passed < max(one.n_passed for one in best):
        return f"Fewer candles passed: only {number_word(row.n_passed)}. {off}".strip()
    return off or "As good as the runner-up."


def _display(worked) -> Display:
    return worked.batch.settings.display


def _set_aside(worked, ranked: list[Any]) -> list[str]:
    """The candles that were set aside as a whole and have not failed: they count neither way."""
    own = _own(worked.set_aside, (row.candidate for row in ranked))
    names = [f"{row.candle} ({row.exclusion_reason})" for row in own]
    if not names:
        return []
    they = "It did not fail and counts" if len(names) == 1 else "None of them failed. They count"
    return [f"You set aside {listed(names, MOST_IN_ROW)}. {they} neither as a pass nor a failure."]


def _why(worked, row) -> str:
    """Why a candidate has its fate; an incident is told above."""
    failed = worked.own("failures", row.candidate)
    if not any(one.incident for one in failed):
        return f". {row.because}"
    calm = [one for one in failed if not one.incident]
    return " ".join([", as told above.", *failure_words(calm)])


def _next_steps(worked, ranked: list[Any], best: list[Any], unlit, walls) -> list[str]:
    """What to do tomorrow: what to stop, what to burn on, then the pick or what could be one."""
    steps = [row.next_step for row in ranked if row.next_step.startswith(STOP)]
    picked = [row.candidate for row in best]
    burning = _own(worked.remaining, _not_stopped(ranked))
    burning = [row for row in burning if row.candidate not in picked or row.run > 1]
    if burning:
        steps.append(burn_on_words(burning, _display(worked), wicks=len(ranked) > 1))
    if best:
        steps += [row.next_step for row in best]
        steps += _with_screening(worked, ranked, best)
        tested = dict.fromkeys(row.candidate in worked.tested for row in best)
        steps += [how_to_confirm(tested=each) for each in tested]
        steps += [
            warm_room_step(c, walls[c], _display(worked))
            for c in picked
            if over_in_warm_room(walls[c])
        ]
        steps += _other_series(worked, ranked)
    elif _of_fate(ranked, RULED_OUT) == ranked:
        steps += [row.next_step for row in ranked]
    else:
        steps += [row.next_step for row in _of_fate(ranked, UNCHECKED)]
    if unlit and not any(step.startswith("Light ") for step in steps):
        steps.append(f"Light what is not burned yet: {in_row(unlit, MOST_IN_ROW)}.")
    return steps


def _not_stopped(ranked: list[Any]) -> list[str]:
    """The candidates of which candles may be lit again: not those stopped by an incident."""
    return [row.candidate for row in ranked if not row.next_step.startswith(STOP)]


def _with_screening(worked, ranked: list[Any], best: list[Any]) -> list[str]:
    """A confirmation by itself does not know what failed in its screening."""
    others = [row.candidate for row in _of_fate(ranked, SAFE) if row not in best]
    if not others or not _alone(worked):
        return []
    return [
        f"Compare {in_row(others)} with the screening as well: if it failed there, "
        "it is out, even if it burned well here."
    ]


def _alone(worked) -> bool:
    """Whether it is a confirmation without its screening."""
    return all(batch.settings.stage == "confirmation" for batch in worked.batches)


def _other_series(worked, ranked: list[Any]) -> list[str]:
    """The next size of each series of which nothing is safe, where it was not burned."""
    safe = {worked.steps.wick(row.candidate)[0] for row in _of_fate(ranked, SAFE)}
    return [
        row.next_step
        for row in _of_fate(ranked, RULED_OUT)
        if row.next_step.startswith(POUR) and worked.steps.wick(row.candidate)[0] not in safe
    ]


def _how_sure(worked, ranked: list[Any], best: list[Any]) -> str:
    n = min((row.n_passed for row in best), default=0)
    return proof_words(n, tested=any(r.candidate in worked.tested for r in best or ranked))


def proof_words(n: int, *, tested: bool) -> str:
    """How much so many good candles prove; nothing is said of none.

    ``tested``: candles of a confirmation are among them.
    """
    certificate = _TESTED if tested else _SCREENED
    if n < 1:
        return certificate
    share = float(failure_rate_upper(0, n))
    tens = min(round(10 * share), 9)
    room = f"{tens} in 10" if tens >= 1 else f"{max(int(np.ceil(100 * share)), 1)} in 100"
    good = capital(number_word(n))
    proof, them = ("One good candle is", "it") if n == 1 else (f"{good} good candles are", "them")
    return (
        f"{proof} not proof: as many as {room} like {them} could still fail a safety check. "
        f"{certificate}"
    )


def gaps_in_words(worked, candidates) -> list[str]:
    """What keeps these candidates' candles from a pass."""
    return gap_words(_own(worked.gaps, candidates))


def fate_lines(worked, candidates) -> list[str]:
    """Fate, reason and next step of each of these candidates, for a page that speaks of them."""
    return [
        f"{named(r.candidate)}: {r.fate}. {r.because} {r.next_step}".strip()
        for r in _own(worked.fates, candidates)
    ]

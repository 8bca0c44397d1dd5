"""The decision, one for each vessel, in words: what to pick, why not the others, what to do next.

What has failed stands first, whoever set it aside. Every page shows the decisions of the candidates
that it speaks of.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

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
from candlelab.text import capital, counted, listed
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
            told.append("You set it aside. That does not undo a safety failure.")
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
    return f"{row.words} {when}{again}.{note_words(part['note'])}"


def _decision(worked, vessel: str, ranked: pd.DataFrame) -> Decision:
    failed = worked.failures[worked.failures["candidate"].isin(ranked["candidate"])]
    level, best, why = leading(worked.scent, ranked)
    safe = ranked.loc[ranked["fate"] == SAFE, "candidate"]
    walls = {name: hottest_wall(worked, name) for name in safe}
    warm = warm_room_words(walls[best["candidate"].iat[0]], _display(worked)) if len(best) else ""
    candles = worked.batch.candles
    unlit = candles[~candles["candle"].isin(worked.batch.burns["candle"])]
    unlit = unlit.loc[unlit["vessel"] == vessel, "candle"]
    headline = _headline(worked, ranked, best, warm) + _by_scent(level, best, why)
    headline, *reasons = _wicks_explained([headline, *_reasons(worked, ranked, best, walls)])
    return Decision(
        vessel,
        best["candidate"].iat[0] if len(best) == 1 else "",
        tuple(incident_words(failed)),
        headline,
        tuple(reasons),
        tuple(dict.fromkeys(_next_steps(worked, ranked, best, unlit, walls))),
        _how_sure(worked, best),
        _in_short(worked, ranked, best, walls),
        tuple(ranked["candidate"]),
        others_words(worked, ranked, best, {c for c in safe if over_in_warm_room(walls[c])}),
    )


def _wicks_explained(texts: list[str]) -> list[str]:
    """What "x3" means, where it first stands."""
    for at, text in enumerate(texts):
        if found := _SEVERAL.search(text):
            first, rest = first_sentence(text)
            n = int(found[1])
            first = f"{first.removesuffix('.')} (x{n}: {number_word(n)} wicks)."
            return [*texts[:at], f"{first} {rest}".strip(), *texts[at + 1 :]]
    return texts


def _in_short(worked, ranked: pd.DataFrame, best: pd.DataFrame, walls: dict) -> str:
    """The pick by its wick with what speaks against it, or that there is none."""
    alight = _alight(worked, ranked)
    if len(best) == 1:
        name = without_vessel(best["candidate"].iat[0], best["vessel"].iat[0])
        told = f"{name}{' leads so far' if alight else ''}{_side(worked, best)}"
        warm = warm_room_short(walls[best["candidate"].iat[0]], _display(worked))
        return f"{told}. {warm}" if warm else told
    if len(best) > 1:
        level = [without_vessel(r.candidate, r.vessel) for r in best.itertuples()]
        return f"no single pick{' yet' if alight else ''}, {in_row(level)} are level"
    return "no pick" if set(ranked["fate"]) == {RULED_OUT} else "no pick yet"


def _alight(worked, ranked: pd.DataFrame) -> list[str]:
    """The candles of these candidates that still burn."""
    gaps = worked.gaps
    burning = gaps[gaps["burning"] & gaps["candidate"].isin(ranked["candidate"])]
    return list(dict.fromkeys(burning["candle"]))


def _side(worked, best: pd.DataFrame) -> str:
    """That the pick burns on the small or the large side, where it does."""
    side = worked.steps.side(best["candidate"].iat[0])
    return f", {side}" if side else ""


def _headline(worked, ranked: pd.DataFrame, best: pd.DataFrame, warm: str) -> str:
    burning = _alight(worked, ranked)
    alight, are = in_row(burning, MOST_IN_ROW), "is" if len(burning) == 1 else "are"
    if best.empty:
        if set(ranked["fate"]) == {RULED_OUT}:
            only = "the only one tested was" if len(ranked) == 1 else "every one tested was"
            return f"No wick can be picked: {only} ruled out."
        if alight:
            return f"No wick can be picked yet: {alight} {are} still burning."
        return "No wick can be picked yet: no candle has passed every safety check."
    if len(best) > 1:
        level = in_row(best["candidate"])
        if alight:
            return f"No single pick yet: {level} are level, and {alight} {are} still burning."
        return f"No single pick: {level} are level. Fresh candles of each have to tell."
    row = next(best.itertuples())
    pick = f"{named(row.candidate)} leads" if alight else f"{named(row.candidate)}"
    told = f"{'So far' if alight else 'Pick'} {pick}{_side(worked, best)}."
    return " ".join(filter(None, [told, warm, f"{row.because}{target_words(worked, row)}"]))


def _by_scent(level: pd.DataFrame, best: pd.DataFrame, why: str) -> str:
    """That several were level until the panel told them apart."""
    if not why:
        return ""
    others = level.loc[~level["candidate"].isin(best["candidate"]), "candidate"]
    return f" It is level with {in_row(others)} in safety and targets.{why}"


def _reasons(worked, ranked: pd.DataFrame, best: pd.DataFrame, walls: dict) -> list[str]:
    warm = {name: warm_room_words(wall, _display(worked)) for name, wall in walls.items()}
    level = best if len(best) > 1 else best.head(0)
    said = [
        f"{named(row.candidate)}: {row.because} {warm[row.candidate]}".rstrip()
        for row in level.itertuples()
    ]
    others = ranked[(ranked["fate"] == SAFE) & ~ranked["candidate"].isin(best["candidate"])]
    if len(others):
        row = next(others.itertuples())
        told = f"Runner-up: {named(row.candidate)}. {row.because}{target_words(worked, row)}"
        if row.rank == best["rank"].min() and len(best) == 1:
            told += beside_words(worked.scent, best["candidate"].iat[0], row.candidate)
        if _alone(worked):
            told += " It is out if it failed in the screening."
        said.append(f"{told} {warm[row.candidate]}".rstrip())
        said += _also_safe(worked, best, others, warm)
    for fate in (RULED_OUT, UNCHECKED, BURNING):
        own = ranked[ranked["fate"] == fate]
        said += [f"{capital(fate)}: {r.candidate}{_why(worked, r)}" for r in own.itertuples()]
    if worked.scent is not None and len(best) == 1:
        said += list(filter(None, [scent_line(worked.scent, best["candidate"].iat[0])]))
    return said + _set_aside(worked, ranked)


def _also_safe(worked, best: pd.DataFrame, others: pd.DataFrame, warm: dict) -> list[str]:
    """The candidates behind the runner-up, those with one reason in one line."""
    by_why: dict[str, list[str]] = {}
    for row in others.iloc[1:].itertuples():
        why = _behind(worked, row, best)
        by_why.setdefault(f"{why} {warm[row.candidate]}".strip(), []).append(row.candidate)
    return [f"Also safe so far: {in_row(names)}. {why}" for why, names in by_why.items()]


def _behind(worked, row, best: pd.DataFrame) -> str:
    """Why a safe candidate is behind: not all was checked, fewer candles, or what it missed."""
    if row.n_gaps:
        return f"{row.because}{target_words(worked, row)}"
    if row.n_passed < best["n_passed"].max():
        return f"Fewer candles passed: only {number_word(row.n_passed)}."
    missed = target_words(worked, row).strip()
    return missed if missed.startswith(OFF) else "As good as the runner-up."


def _display(worked) -> Display:
    return worked.batch.settings.display


def _set_aside(worked, ranked: pd.DataFrame) -> list[str]:
    """The candles that were set aside as a whole and have not failed: they count neither way."""
    if not worked.burns["excluded"].any():
        return []
    burns = worked.burns[worked.burns["candidate"].isin(ranked["candidate"])]
    key = [name for name in ("batch", "candle") if name in burns]
    failed = set(worked.failures[key].itertuples(index=False, name=None))
    aside = burns.groupby(key, sort=False)["excluded"].transform("all")
    first = burns.loc[aside, [*key, "exclusion_reason"]].drop_duplicates(key)
    names = [
        f"{candle} ({reason})"
        for *batch, candle, reason in first.itertuples(index=False, name=None)
        if (*batch, candle) not in failed
    ]
    if not names:
        return []
    they = "It did not fail and counts" if len(names) == 1 else "None of them failed. They count"
    return [f"You set aside {listed(names, MOST_IN_ROW)}. {they} neither as a pass nor a failure."]


def _why(worked, row) -> str:
    """Why a candidate has its fate; an incident is told above."""
    failed = worked.own("failures", row.candidate)
    if not failed["incident"].any():
        return f". {row.because}"
    return " ".join([", as told above.", *failure_words(failed[~failed["incident"]])])


def _next_steps(worked, ranked: pd.DataFrame, best: pd.DataFrame, unlit, walls) -> list[str]:
    """What to do tomorrow: what to stop, what to burn on, then the pick or what could be one."""
    steps = list(ranked.loc[ranked["next_step"].str.startswith(STOP), "next_step"])
    burning = worked.remaining
    burning = burning[burning["candidate"].isin(ranked["candidate"])]
    burning = burning[~burning["candidate"].isin(best["candidate"]) | (burning["run"] > 1)]
    if len(burning):
        steps.append(burn_on_words(burning, _display(worked), wicks=len(ranked) > 1))
    if len(best):
        steps += list(best["next_step"])
        steps += _with_screening(worked, ranked, best)
        steps.append(how_to_confirm(worked))
        steps += [
            warm_room_step(c, walls[c], _display(worked))
            for c in best["candidate"]
            if over_in_warm_room(walls[c])
        ]
        steps += _other_series(worked, ranked)
    elif set(ranked["fate"]) == {RULED_OUT}:
        steps += list(ranked["next_step"])
    else:
        steps += list(ranked.loc[ranked["fate"] == UNCHECKED, "next_step"])
    if len(unlit) and not any(step.startswith("Light ") for step in steps):
        steps.append(f"Light what is not burned yet: {in_row(unlit, MOST_IN_ROW)}.")
    return steps


def _with_screening(worked, ranked: pd.DataFrame, best: pd.DataFrame) -> list[str]:
    """A confirmation by itself does not know what failed in its screening."""
    if not _alone(worked):
        return []
    others = ranked[(ranked["fate"] == SAFE) & ~ranked["candidate"].isin(best["candidate"])]
    if others.empty:
        return []
    return [
        f"Compare {in_row(others['candidate'])} with the screening as well: if it failed there, "
        "it is out, even if it burned well here."
    ]


def _alone(worked) -> bool:
    """Whether it is a confirmation without its screening."""
    return all(batch.settings.stage == "confirmation" for batch in worked.batches)


def _other_series(worked, ranked: pd.DataFrame) -> list[str]:
    """The next size of each series of which nothing is safe, where it was not burned."""
    about = worked.burns[["candidate", "wick_series"]].drop_duplicates("candidate")
    series = about.set_index("candidate")["wick_series"]
    series = ranked["candidate"].map(series)
    safe = series[ranked["fate"] == SAFE]
    lost = ranked[~series.isin(safe) & (ranked["fate"] == RULED_OUT)]
    return list(lost.loc[lost["next_step"].str.startswith(POUR), "next_step"])


def _how_sure(worked, best: pd.DataFrame) -> str:
    n = int(best["n_passed"].min()) if len(best) else 0
    return proof_words(n, tested=worked.batch.settings.stage == "confirmation")


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
    return gap_words(worked.gaps[worked.gaps["candidate"].isin(list(candidates))])


def fate_lines(worked, candidates) -> list[str]:
    """Fate, reason and next step of each of these candidates, for a page that speaks of them."""
    table = worked.fates[worked.fates["candidate"].isin(list(candidates))]
    return [
        f"{named(r.candidate)}: {r.fate}. {r.because} {r.next_step}".strip()
        for r in table.itertuples()
    ]

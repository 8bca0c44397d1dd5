"""How far a claim goes: supported, supported with a condition, or not yet, and why no further."""

from __future__ import annotations

from dataclasses import dataclass

from candlelab.claim.evidence import LEAST, Evidence
from candlelab.claim.tables import DECLARED_TOLERANCE, in_hours, whole_hours
from candlelab.confirm.verdict import FALLS, STANDS
from candlelab.confirm.words import decisions
from candlelab.judge.warm_room import over_in_warm_room, warm_room_step, warm_room_words
from candlelab.judge.words import (
    MOST_IN_ROW,
    SAFE,
    alike_step,
    alike_words,
    failure_words,
    gap_words,
    in_row,
    named,
    number_of,
    number_word,
)
from candlelab.text import amount, capital, counted

SUPPORTED, CONDITION, NOT_YET = "supported", "supported with a condition", "not yet"
_OTHERWISE = "Its fresh candles did not burn as the screening said."
_AGAIN = (
    "Burn them to the end with every check, log them in a new folder, and make this page again "
    "with both folders."
)


@dataclass(frozen=True)
class Outcome:
    """``why`` are sentences: what bars the claim, or the conditions; ``steps`` what to do first
    where nothing is to be printed yet (``print_now``)."""

    outcome: str
    why: tuple[str, ...] = ()
    steps: tuple[str, ...] = ()
    print_now: bool = True


def decide(e: Evidence) -> Outcome:
    """How far the evidence goes: what failed anywhere first, then the rounds, then how many."""
    for barred in (_failed, _fell, _alike, _too_few):
        why, steps = barred(e)
        if why:
            return Outcome(NOT_YET, tuple(why), tuple(dict.fromkeys(steps)))
    why, steps, now = [], [], True
    for condition in (_not_confirmed, _open, _uneven, _warm_room):
        said, step = condition(e)
        why += said
        steps += step
        now &= not said or condition in (_uneven, _warm_room)
    steps = list(dict.fromkeys(steps))
    return Outcome(CONDITION if why else SUPPORTED, tuple(why), tuple(steps), now)


Told = tuple[list[str], list[str]]


def _failed(e: Evidence) -> Told:
    return failure_words(e.failed), [str(e.fate["next_step"])]


def _fell(e: Evidence) -> Told:
    """A confirmation in which the candles burned otherwise."""
    for result in e.rounds.results:
        if (result.verdicts["verdict"] == FALLS).any():
            box = decisions(result)[0]
            return [_OTHERWISE, box.headline, *box.reasons], list(box.next_steps)
    return [], []


def _alike(e: Evidence) -> Told:
    """A wick that failed and whose name differs by one letter: it may be this one."""
    others = list(e.alike)
    return alike_words(others), [alike_step(e.name, others)] if others else []


def _too_few(e: Evidence) -> Told:
    n, name = int(e.lives["counts"].sum()), named(e.name)
    if n < LEAST:
        who = f"Only {number_of(n, 'candle')}" if n else "No candle"
        counts = "their end count" if n > 1 else "its end counts"
        why = [
            f"{who} that burned to {counts}.",
            f"It takes at least {number_word(LEAST)} to say how much candles differ.",
        ]
        if not e.rounds.confirmations:
            return why, _next(e)
        fresh = number_of(LEAST - n, "fresh candle")
        return why, [f"Burn {fresh} of {name} to the end, with every check."]
    if e.bounds is None or e.bounds.tolerance < 1.0:
        sd = 0.0 if e.bounds is None else e.bounds.sd
        why = [
            f"{n} candles differ so much (standard deviation {amount(sd, 'h')}) that no time above "
            "zero can be promised."
        ]
        return why, [f"Find out why candles of {name} differ so much."]
    return [], []


def _not_confirmed(e: Evidence) -> Told:
    name = named(e.name)
    if not e.rounds.confirmations:
        return ["It was screened, and not yet confirmed on fresh candles."], _next(e)
    if not e.rounds.screenings:
        return ["No screening of it is among the folders, and what failed there is not known."], [
            f"Give the folder of the screening that picked {name} as well."
        ]
    said: list[str] = []
    steps: list[str] = []
    for result in e.rounds.results:
        if (result.verdicts["verdict"] != STANDS).any():
            box = decisions(result)[0]
            said.append(box.headline)
            steps += box.next_steps
    return said, steps


def _next(e: Evidence) -> list[str]:
    """What the report says is next for a candidate that was not confirmed yet."""
    return [str(e.fate["next_step"]), *([_AGAIN] if e.fate["fate"] == SAFE else [])]


def settled(e: Evidence) -> bool:
    """Whether fresh candles made up for those that are not fully checked.

    As many passed as the confirmation needs, and one more for each of them.
    """
    lost = e.gaps.loc[~e.gaps["burning"], "candle"].nunique()
    rows = e.rounds.verdicts()
    if not len(rows) or (rows["verdict"] != STANDS).any():
        return lost == 0
    return int(rows["n_passed"].sum()) >= int(rows["n_needed"].max()) + lost


def _open(e: Evidence) -> Told:
    """Candles that are not fully checked and were not made up for, and those that still burn."""
    said, steps = [], []
    burning = in_row(dict.fromkeys(e.gaps.loc[e.gaps["burning"], "candle"]), MOST_IN_ROW)
    if burning:
        said += gap_words(e.gaps[e.gaps["burning"]])
        if e.rounds.confirmations:  # else it is the next step already
            steps.append(f"Wait for the end of {burning}.")
    if not settled(e):
        lost = e.gaps[~e.gaps["burning"]]
        said += gap_words(lost)
        if not e.rounds.confirmations:  # they are asked for with those that confirm
            return said, steps
        n = _still_wanting(e, lost["candle"].nunique())
        steps.append(
            f"Burn {counted(n, 'fresh candle')} of {named(e.name)} to the end, with every check, "
            "in place of what was not fully checked."
        )
    return said, steps


def _still_wanting(e: Evidence, lost: int) -> int:
    rows = e.rounds.verdicts()
    if not len(rows) or (rows["verdict"] != STANDS).any():
        return lost
    return int(rows["n_needed"].max()) + lost - int(rows["n_passed"].sum())


def _uneven(e: Evidence) -> Told:
    if e.bounds is None or e.bounds.tolerance >= e.bounds.mean * (1.0 - DECLARED_TOLERANCE):
        return [], []
    b, n = e.bounds, capital(number_word(e.bounds.n))
    least = whole_hours(e.to_print)
    return [
        f"{n} candles burned {in_hours(b.mean)} on average and the shortest "
        f"{in_hours(b.smallest)}, yet only {least} h can be promised. So few candles, or such "
        "uneven ones, allow no more."
    ], [
        f"If {least} h is too short, burn more candles to the end, fresh ones among them: more "
        "allow a longer time."
    ]


def _warm_room(e: Evidence) -> Told:
    if not over_in_warm_room(e.walls):
        return [], []
    return [warm_room_words(e.walls, e.display)], [warm_room_step(e.name, e.walls, e.display)]

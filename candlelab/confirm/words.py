"""The answer of a confirmation in sentences, how far to trust it, and its record."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from candlelab.confirm.confirmation import Confirmation
from candlelab.confirm.ranges import label
from candlelab.confirm.rounds import Round
from candlelab.confirm.tables import TOGETHER
from candlelab.confirm.verdict import BURN_MORE, FALLS, STANDS
from candlelab.judge.decision import Decision, incident_words, proof_words
from candlelab.judge.failures import named_alike
from candlelab.judge.predicted import POOL, RATE, WALL, candles_needed
from candlelab.judge.words import alike_step, failure_words, named, without_vessel
from candlelab.text import capital, counted, listed, small

_MOST = 6
MEASURED = ""


def decisions(result: Confirmation) -> tuple[Decision, ...]:
    """A box for each vessel: what failed, the verdict on the screening's best, then the others."""
    fates = result.judged.fates.set_index("candidate")
    place = {name: fates["vessel"].get(name, "") for name in result.others}
    told = {name: result.named.get(name, name) for name in result.verdicts["candidate"]}
    vessels = {name: fates["vessel"].get(told[name], "") for name in told}
    known, boxes = list(dict.fromkeys(vessels.values())), []
    for vessel in known:
        rows = result.verdicts[result.verdicts["candidate"].map(vessels) == vessel]
        of_it = set(rows["candidate"].map(told))
        # what failed stands above all boxes, also of a vessel that has none
        of_it |= {name for name, of in place.items() if of == vessel}
        of_it |= {name for name, of in place.items() if vessel == known[0] and of not in known}
        failed = result.failed[result.failed["candidate"].isin(of_it)]
        boxes.append(_box(result, vessel, rows.itertuples(), failed, fates, told))
    return tuple(boxes)


def _box(result: Confirmation, vessel: str, rows, failed: pd.DataFrame, fates, told) -> Decision:
    first, *others = rows
    headline, rest = _verdict_words(first, result.reasons[first.candidate])
    for row in others[: _MOST - 1]:
        rest += [
            " ".join([words, *more])
            for words, more in [_verdict_words(row, result.reasons[row.candidate])]
        ]
    if len(others) >= _MOST:
        rest.append(f"{len(others) - _MOST + 1} more candidates are in the table of verdicts.")
    every = [first, *others]
    steps = dict.fromkeys(
        _next_step(row, fates, told[row.candidate], failed, result.failed) for row in every[:_MOST]
    )
    stands = [row.candidate for row in every if row.verdict == STANDS]
    return Decision(
        vessel,
        stands[0] if stands[:1] == [first.candidate] else "",
        tuple(incident_words(failed)),
        headline,
        tuple(rest),
        tuple(steps),
        proof_words(_passes(result, stands[0]) if stands else 0, tested=True),
        _in_short(first, vessel),
    )


def _in_short(row, vessel: str) -> str:
    """The verdict on the screening's best, in a few words."""
    name = without_vessel(row.candidate, vessel)
    if row.verdict == BURN_MORE:
        return f"{name} is not settled yet"
    return f"{name} {'stands' if row.verdict == STANDS else 'does not stand'}"


def _passes(result: Confirmation, candidate: str) -> int:
    """How many candles of it passed in both rounds."""
    rows = result.passes[result.passes["round"] == TOGETHER].set_index("candidate")
    return int(rows.at[candidate, "n_passed"]) if candidate in rows.index else 0


def _verdict_words(row, reasons: tuple[str, ...]) -> tuple[str, list[str]]:
    """The verdict as a sentence, and the sentences that it rests on."""
    name = named(row.candidate)
    if row.verdict == STANDS:
        told = f"{capital(name)} stands: its fresh candles burned as the screening said."
        return told, list(reasons)
    why, rest = reasons[0], list(reasons[1:])
    if row.verdict == FALLS:
        return f"{capital(name)} does not stand: {small(why)}", rest
    if pd.isna(row.n_more):
        return f"Fresh candles alone cannot settle {name}: {small(why)}", rest
    return f"Burn {counted(int(row.n_more), 'more candle')} of {name}: {small(why)}", rest


def _next_step(row, fates: pd.DataFrame, told: str, failed: pd.DataFrame, anywhere) -> str:
    name = named(row.candidate)
    alike = named_alike(anywhere, told)
    if row.verdict == STANDS:
        return (
            f"Keep {name} as it was tested, and work out its burn time for the label next "
            "(“candlelab claim”). A new lot of wax or wicks must be confirmed again."
        )
    if row.verdict == BURN_MORE and not pd.isna(row.n_more):
        fresh = counted(int(row.n_more), "fresh candle")
        return f"Burn {fresh} of {name} to the end, with every check."
    if row.verdict == BURN_MORE and alike:
        return alike_step(row.candidate, alike)
    if row.verdict == BURN_MORE:
        return f"Screen {name} again, with more candles."
    if (failed["candidate"] == told).any():
        return str(fates["next_step"].get(told, ""))
    return (
        f"Find out what changed with {name}: the lot of wax or wicks, the room, the hand. Then "
        "screen it again, with the number of candles fixed beforehand."
    )


def answer(result: Confirmation) -> tuple[str, ...]:
    """What stands beside the verdicts: that nothing was burned again, and what is new."""
    lines = []
    if not (result.passes["round"] == TOGETHER).any():
        lines.append(
            "No candidate of the screening was burned again as it was, so nothing is confirmed."
        )
    if len(result.new_evidence):
        lines.append(_new_words(result.new_evidence))
    lines += _other_failures(result)
    return (*lines, *_scent_words(result), *result.notes)


def _scent_words(result: Confirmation) -> list[str]:
    """Hot throw in both rounds, by the noses that scored in both; no verdict rests on it."""
    names, rounds = result.judged.names, []
    for batch, worked in result.judged.worked.items():
        if worked.scent is None:
            return []
        hot = worked.scent.scores.query("state == 'hot'")
        told = [names.get((batch, candle, 1), "") for candle in hot["candle"]]
        rounds.append(hot.groupby(["assessor", pd.Series(told, hot.index)])["score"].mean())
    top = result.screening.batch.settings.scent.top
    both = pd.concat(rounds, axis=1, join="inner", keys=["before", "again"])
    return [
        f"Hot throw of {named(str(name))}: {own['before'].mean():.1f} of {top:g} in the screening, "
        f"{own['again'].mean():.1f} on fresh candles, by {counted(len(own), 'nose')} of both. "
        "Levels shift from day to day: smell old and new side by side to know."
        for name, own in both.groupby(level=1)
        if name
    ]


def _new_words(new: pd.DataFrame) -> str:
    said = []
    for row in new.head(_MOST).itertuples():
        count = f"{row.n_passed} of {counted(row.n_candles, 'fresh candle')} passed"
        count += f", {row.n_failed} failed" if row.n_failed else ""
        count += f", {row.n_open} not fully checked" if row.n_open else ""
        near = f"; nearest is {row.near}" if row.near else ""
        said.append(f"{row.candidate} ({row.changed}{near}): {count}")
    many = f", and {len(new) - _MOST} more in their table" if len(new) > _MOST else ""
    return (
        "New evidence, counted on its own, because it is not what was screened: "
        f"{'; '.join(said)}{many}. It confirms nothing yet; it is a screening of its own."
    )


def _other_failures(result: Confirmation) -> list[str]:
    """What failed in candles of the confirmation that no verdict speaks of."""
    said = []
    for name in result.others:
        own = result.failed[result.failed["candidate"] == name]
        if len(own):
            above = ", as told above" if own["incident"].any() else ""
            told = failure_words(own[~own["incident"]])
            said.append(" ".join([f"Ruled out: {named(name)}{above}.", *told]))
    return said


def trust(result: Confirmation) -> list[str]:
    """How the ranges were made, what they cannot show, and what differs between the rounds."""
    made = [f for f in result.predicted if not f.why_not]
    lines = [*_meanings(result, len(made)), *_spread_words(made), *_scale_words(result, made)]
    lines += [
        f"{f.candidate}: {label(f.metric)} is not held against anything: {f.why_not}."
        for f in result.predicted
        if f.why_not
    ]
    return [*lines, *round_notes(result.screening, result.confirmation)]


def _meanings(result: Confirmation, n_ranges: int) -> list[str]:
    """What stands, a range, the allowance for pours and enough candles mean."""
    alarm = 100.0 * (1.0 - result.confidence)
    return [
        (
            "Stands means: nothing of it failed in either round, no fresh candle and no mean of "
            "them fell outside of what the screening predicted, and enough fresh candles passed "
            "every safety check to have noticed a change that matters. Burn more candles is not a "
            "failure, and not a pass."
        ),
        (
            "Each range shows where fresh candles should land if nothing has changed (a prediction "
            "interval, Student's t), with the variation between candles, the few candles screened "
            f"and the allowance for pours in it. All {n_ranges} ranges on this page together, for "
            "every candle and for the mean, are meant to give a false alarm in at most "
            f"{alarm:.3g} of 100 confirmations{MEASURED if result.confidence == 0.95 else ''}."
        ),
        _pours(result),
        (
            f"Enough candles: a change of the burn rate by {result.shift_pct:g} % would be noticed "
            f"with a chance of {100 * result.power:g} % at least, and never fewer than 3 (common "
            "practice, no source). A smaller change may go unnoticed: stands is not the same as "
            "identical."
        ),
    ]


def _pours(result: Confirmation) -> str:
    """The allowance from pour to pour, and what it costs in candles."""
    asked = {"shift_pct": result.shift_pct, "error": result.error, "power": result.power}
    cost = []
    for f in result.predicted:
        if f.metric == RATE and not f.why_not:
            with_it, without = (
                candles_needed(one, **asked) for one in (f, replace(f, batch_sd=0.0))
            )
            cost.append(f"{f.candidate} {_many(with_it)}, without it {_many(without)}")
    costs = f" Candles that it takes: {'; '.join(cost)}." if cost else ""
    return (
        f"Allowance for pours: pours of one recipe are taken to differ by {result.batch_sd_pct:g} "
        "% (standard deviation, of a wall the rise over the room). It is an assumption with "
        "no source; where your own pours show another number, set it (--batch-sd-pct)."
        f"{costs}"
    )


def _many(n: int | None) -> str:
    return "no number" if n is None else f"{n}"


def _scale_words(result: Confirmation, made) -> list[str]:
    """How times, what is left and walls are compared."""
    lines = []
    if any(f.metric == POOL for f in made):
        lines.append(
            "Time to full pool is known only to lie between two checks. The range allows for that, "
            "and a fresh candle counts as outside only when all of the time between its two checks "
            "lies outside; one whose checks do not tell is not held against it."
        )
    if any(f.metric in (POOL, "wax_left_pct") and f.by_ratio for f in made):
        lines.append(
            "Time to full pool and wax left are taken to vary in proportion to their size (by "
            "logarithms), so their ranges reach further up than down."
        )
    wall = next(f.metric for f in result.predicted if f.metric.startswith("wall"))
    lines.append(
        "Wall temperatures are compared as read, because the room was not written down for every "
        "candle: a warmer room shows as a warmer wall."
        if wall == WALL
        else "Wall temperatures are compared as worked out for a 30 °C (86 °F) room, an "
        "approximation, so that the season does not count; limits are judged as read."
    )
    return lines


def _spread_words(made) -> list[str]:
    shared = [f for f in made if len(f.groups) > 1]
    alone = [f for f in made if f.groups == (f.candidate,)]
    borrowed = [f for f in made if len(f.groups) == 1 and f.groups != (f.candidate,)]
    lines = []
    if shared:
        lines.append(
            "How far candles differ is taken from all candidates of the screening that are alike "
            "in it; one whose candles differ more than luck allows (Cochran's test at 1 %) keeps a "
            "variation of its own. The tables say from how many candidates."
        )
    if alone:
        what = listed([f"{label(f.metric)} of {f.candidate}" for f in alone], 8)
        lines.append(
            f"The variation of {what} is from its own few candles alone, which makes its range "
            "wide."
        )
    lines += [
        f"{f.candidate}: how far candles differ in {label(f.metric)} is taken from {f.groups[0]}, "
        "the only one with two candles."
        for f in borrowed
    ]
    single = list(dict.fromkeys(f.candidate for f in made if f.n == 1 and f.metric == RATE))
    if single:
        lines.append(
            f"One candle only of {listed(single)} was screened to its end: its range rests on that "
            "one and on the variation of others."
        )
    return lines


def round_notes(first: Round, second: Round) -> list[str]:
    """What makes the two folders an odd pair of rounds."""
    old, new, lines = first.batch, second.batch, []
    if new.settings.stage != "confirmation":
        lines.append(
            f'batch.toml of the second folder says stage = "{new.settings.stage}", not '
            '"confirmation".'
        )
    if old.settings.stage != "screening":
        lines.append(
            f'batch.toml of the first folder says stage = "{old.settings.stage}", not "screening".'
        )
    name = old.folder.resolve().name
    if new.settings.confirms and new.settings.confirms != name:
        lines.append(
            f'The confirmation says that it confirms "{new.settings.confirms}"; it was held '
            f'against "{name}".'
        )
    if _lit_earlier(first, second):
        lines.append(
            "The confirmation was lit before the screening had ended: are the two folders the "
            "right way round?"
        )
    every = [batch.settings.protocol.check_every_min for batch in (old, new)]
    if every[0] != every[1]:
        lines.append(
            f"Checks were due every {every[0]:g} min in the screening and every {every[1]:g} min "
            "in the confirmation; each round is judged by its own."
        )
    return lines


def _lit_earlier(first: Round, second: Round) -> bool:
    """Whether the second round was lit before the first had ended."""
    if first.burns.empty or second.burns.empty:
        return False
    try:
        return bool(second.burns["lit_at"].min() < first.burns["out_at"].max())
    except TypeError:  # one log has a time zone, the other none
        return False

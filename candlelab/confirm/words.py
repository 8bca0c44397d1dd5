"""The answer of a confirmation in sentences, how far to trust it, and its record."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd

from candlelab.confirm.confirmation import SCREENING, TOGETHER, Confirmation
from candlelab.confirm.ranges import label
from candlelab.confirm.rounds import POOL, RATE, WALL, Round, limit_changes, round_facts
from candlelab.confirm.verdict import FALLS, STANDS, TOO_FEW
from candlelab.pages.page import Page, inputs_of
from candlelab.text import counted, listed

_MOST = 6


def answer(result: Confirmation) -> tuple[str, ...]:
    """A sentence on each candidate, the screening's best first; what is new; what it shows."""
    lines = [_verdict_words(row) for row in result.verdicts.head(_MOST).itertuples()]
    if len(result.verdicts) > _MOST:
        lines.append(
            f"{len(result.verdicts) - _MOST} more candidates stand in the table of verdicts."
        )
    carried = result.verdicts["candidate"].isin(
        result.passes.loc[result.passes["round"] != SCREENING, "candidate"]
    )
    if not carried.any():
        lines.insert(
            0, "No candidate of the screening was burnt again as it was, so nothing is confirmed."
        )
    if len(result.new_evidence):
        lines.append(_new_words(result.new_evidence))
    lines.append(_shown(result))
    return tuple(line[0].upper() + line[1:] for line in lines)


def _verdict_words(row) -> str:
    verdict = {
        STANDS: "stands",
        FALLS: "does not stand",
        TOO_FEW: "is not settled: not enough candles",
    }[row.verdict]
    text = f"{row.candidate} {verdict}. {row.because[0].upper()}{row.because[1:]}."
    if row.verdict == TOO_FEW and not pd.isna(row.n_more) and row.n_more > 0:
        text += (
            f" To settle it takes {counted(row.n_more, 'more fresh candle')}, watched at every "
            "check to the end."
        )
    return text


def _new_words(new: pd.DataFrame) -> str:
    said = []
    for row in new.head(_MOST).itertuples():
        count = f"{row.n_passed} of {counted(row.n_candles, 'fresh candle')} passed"
        count += f", {row.n_failed} failed" if row.n_failed else ""
        count += f", {row.n_open} with a gap" if row.n_open else ""
        near = f"; nearest is {row.near}" if row.near else ""
        said.append(f"{row.candidate} ({row.changed}{near}): {count}")
    many = f", and {len(new) - _MOST} more in their table" if len(new) > _MOST else ""
    return (
        "New evidence, counted on its own, because it is not what was screened: "
        f"{'; '.join(said)}{many}. It confirms nothing yet; it is a screening of its own."
    )


def _shown(result: Confirmation) -> str:
    """What the passes of the first candidate that stands leave room for."""
    tail = "this is screening evidence, not a certificate."
    stands = result.verdicts.loc[result.verdicts["verdict"] == STANDS, "candidate"]
    if stands.empty:
        return f"Nothing is proved by what did not stand or is not settled; {tail}"
    rows = result.passes[result.passes["candidate"] == stands.iloc[0]]
    row = rows.iloc[-1]  # both together, where they count together
    both = ", screening and confirmation together," if row["round"] == TOGETHER else ""
    failed = "without a failure" if not row["n_failed"] else f"with {row['n_failed']} failed"
    return (
        f"{row['n_passed']} candles of {stands.iloc[0]}{both} {failed} still leave room for a "
        f"failure rate of up to {row['failure_rate_up_to_pct']:.0f} % (one-sided, 95 % "
        f"confidence): {tail}"
    )


def trust(result: Confirmation) -> list[str]:
    """How the ranges were made, what they cannot show, and what differs between the rounds."""
    made = [f for f in result.predicted if not f.why_not]
    lines = [*_meanings(result, len(made)), *_spread_words(made), *_scale_words(result, made)]
    lines += [
        f"{f.candidate}: {label(f.metric)} is not held against anything: {f.why_not}."
        for f in result.predicted
        if f.why_not
    ]
    lines += round_notes(result.screening, result.confirmation)
    lines.append(
        "The ranges know how candles of one round differ. They do not know what a new lot, another "
        "season or another hand does: an alarm may come from those as well, and the table of the "
        "two rounds shows what changed."
    )
    return lines


def _meanings(result: Confirmation, n_ranges: int) -> list[str]:
    """What stands, a range and enough candles mean."""
    alarm = 100.0 * (1.0 - result.confidence)
    # tests/benchmarks/verdict_calibration.py: 101 of 2,335 pairs, four ranges each
    measured = "; in 2,335 simulated ones in which nothing had changed it was 4.3 of 100"
    measured = measured if result.confidence == 0.95 else ""
    return [
        (
            "Stands means: every fresh candle met every deciding criterion, none of them and no "
            "mean of them fell outside of what the screening predicted, and they are enough to "
            "have noticed a change that matters. Not enough candles is not a failure, and not a "
            "pass."
        ),
        (
            "A range is where fresh candles should fall if nothing has changed, with the spread "
            "between candles and the few candles screened both allowed for (a prediction interval, "
            f"Student's t), as if candles scattered like a bell curve. All {n_ranges} ranges on "
            "this page together, for every candle and for the mean, are meant to give a false "
            f"alarm in at most {alarm:.3g} of 100 confirmations{measured}."
        ),
        (
            f"Enough candles: a change of the burn rate by {result.shift_pct:g} % would be noticed "
            f"with a chance of {100 * result.power:g} % at least, and never fewer than 3 (common "
            "practice, no source). A smaller change may go unnoticed: stands is not the same as "
            "identical."
        ),
    ]


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
            "Time to full pool and wax left are taken to spread in proportion to their size (by "
            "logarithms), so their ranges reach further up than down."
        )
    wall = next(f.metric for f in result.predicted if f.metric.startswith("wall"))
    lines.append(
        "Wall temperatures are compared as read, because the room is not recorded for every "
        "candle: a warmer room shows as a warmer wall."
        if wall == WALL
        else "Wall temperatures are compared as carried over to a 30 °C room, an approximation, so "
        "that the season does not count; limits are judged as read."
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
            "spread of its own. The tables say from how many candidates."
        )
    if alone:
        what = listed([f"{label(f.metric)} of {f.candidate}" for f in alone], 8)
        lines.append(
            f"The spread of {what} is from its own few candles alone, which makes its range wide."
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
            "one and on the spread of others."
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
    changes = limit_changes(old, new)
    if changes:
        lines.append(
            "The two rounds were judged by limits that differ, so their passes are not counted "
            f"together: {'; '.join(changes)}."
        )
    poured = [batch.candles.set_index("candle")["poured_on"] for batch in (old, new)]
    both = set(poured[0].index) & set(poured[1].index)
    undated = [name for name in both if any(pd.isna(days[name]) for days in poured)]
    if undated:
        lines.append(
            f"{listed(sorted(undated), 4)}: the same name in both rounds, and no pouring day that "
            "tells them apart. They are taken for fresh candles."
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


def tables(result: Confirmation) -> dict[str, tuple[str, pd.DataFrame]]:
    """Each table by its name, with what one row of it is."""
    facts = round_facts(result.screening, result.confirmation)
    not_again = "a candidate of the screening that was not burnt again"
    no_life = "a candle that is no fresh evidence, or measured no whole life"
    return {
        "verdicts": ("a candidate carried forward", result.verdicts),
        "ranges": ("a candidate and a measurement", result.ranges),
        "fresh_candles": ("a fresh candle and a measurement", result.candles),
        "screened_candles": ("a screening candle and a measurement", result.screened),
        "passes": ("a candidate and a round", result.passes),
        "new_evidence": ("a candidate that is not what was screened", result.new_evidence),
        "recipes": ("a candidate and a part of its recipe", result.recipes),
        "rounds": ("something that may differ between the rounds", facts),
        "not_carried": (not_again, result.not_carried),
        "not_counted": (no_life, result.not_counted),
    }


def confirm_page(result: Confirmation, candidates: Iterable[str] = ()) -> Page:
    """The page of a confirmation: title, answer, tables, how far to trust it.

    Parameters
    ----------
    result : Confirmation
        What `confirm_pick` gives.
    candidates : iterable of str
        Those that were asked for.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import confirm_page, confirm_pick, demo_folder, read_batch
    >>> rounds = [read_batch(demo_folder(name)) for name in ("screening", "confirmation")]
    >>> confirm_page(confirm_pick(*rounds)).title
    'Does the pick stand?'
    """
    rounds = {"screening": result.screening.batch, "confirmation": result.confirmation.batch}
    named = {f"{name}_folder": b.folder.resolve().name for name, b in rounds.items()}
    more = {
        "trust": trust(result),
        "false_alarm_of_all": float(np.round(1.0 - result.confidence, 9)),
        "false_alarm_of_one_range": float(result.error),
    }
    return Page(
        "confirmation",
        "Does the pick stand?",
        (rounds["confirmation"].settings.title,),
        answer(result),
        tables(result),
        tuple(row for name, b in rounds.items() for row in inputs_of([b], round=name)),
        named | {"candidates": list(candidates)},
        more,
    )

"""The verdict on one candidate, its reason in words, and how many more candles would settle it."""

from __future__ import annotations

import pandas as pd

from candlelab.confirm.ranges import (
    ABOVE,
    BELOW,
    OUTSIDE,
    Predicted,
    candles_needed,
    label,
    screening_needed,
    span,
)
from candlelab.confirm.rounds import (
    POOL,
    RATE,
    Round,
    not_met,
    not_recorded,
    only_left_out,
    pass_counts,
    same_limits,
)
from candlelab.formulas import failure_rate_upper
from candlelab.pages.quantity import quantity
from candlelab.text import counted, listed

STANDS, FALLS, TOO_FEW = "stands", "does not stand", "not enough candles"
VERDICT_COLUMNS = ["candidate", "verdict", "because", "n_fresh", "n_passed", "n_needed", "n_more"]


def verdict(
    name: str,
    own: str,
    first: Round,
    second: Round,
    predicted: list[Predicted],
    table,
    fresh,
    asked,
) -> tuple:
    """One candidate's row: verdict and reason, fresh candles, how many passed, are needed, lack."""
    counts = pass_counts(second, own)
    rate = next(f for f in predicted if f.candidate == name and f.metric == RATE)
    needed = candles_needed(rate, **asked)
    old, excused = _failures(first, name, "in the screening ")
    failed = [line for lines in _failures(second, own, "") for line in lines]
    against = [
        *failed,
        *(f"{line}, and passes afterwards do not undo that" for line in old),
        *_outside(name, table, fresh),
    ]
    seen = (counts["n_candles"], counts["n_passed"], needed)
    if against:
        return name, FALLS, "; ".join(against), *seen, 0
    of_it = table[table["candidate"] == name]
    wanting, more = _wanting(own, second, counts, of_it, rate, needed, asked)
    if excused and needed is not None:
        said, outweigh = _outweighed(excused, first, name, counts, needed, second)
        wanting, more = (wanting + said, max(more, outweigh)) if outweigh else (wanting, more)
    if wanting:
        return name, TOO_FEW, "; ".join(wanting), *seen, more
    held = [label(f.metric) for f in predicted if f.candidate == name and not f.why_not]
    n = counts["n_candles"]
    because = (
        f"{'all ' if n > 1 else ''}{counted(n, 'fresh candle')} met every deciding criterion, and "
        f"{listed(held)} fell where the screening predicted; {counted(needed, 'candle')} "
        f"{'was' if needed == 1 else 'were'} needed"
    )
    because += "".join(f"; {line}, which is outweighed" for line in excused)
    return name, STANDS, because, *seen, 0


def _failures(one: Round, candidate: str, where: str) -> tuple[list[str], list[str]]:
    """Criteria not met, in words: in burns that count, and only in burns that are left out."""
    hard, excused = [], []
    for criterion, candles in not_met(one, candidate):
        whom = f"by {listed(candles)}" if candles else "in the mean"
        text = f"{where}{criterion} was not met {whom}"
        if only_left_out(one, candidate, criterion):
            excused.append(f"{text}, only in burns that are left out of the averages")
        else:
            hard.append(text)
    return hard, excused


def _outweighed(
    excused: list[str], first: Round, name: str, counts, needed: int, second: Round
) -> tuple[list[str], int]:
    """How many more passes outweigh screening failures in burns left out.

    They are outweighed when the bound is that of as many passes as are needed and no failure.
    """
    old = pass_counts(first, name)
    passed = counts["n_passed"] + (old["n_passed"] if same_limits(first.batch, second.batch) else 0)
    wanted = old["n_failed"] + needed
    while failure_rate_upper(old["n_failed"], wanted) > failure_rate_upper(0, needed) + 1e-12:
        wanted += 1
    judged = passed + old["n_failed"]
    failures = "one failure" if old["n_failed"] == 1 else counted(old["n_failed"], "failure")
    said = (
        f"{'; '.join(excused)}: {wanted} candles judged with {failures} among them say as much as "
        f"{needed} without, and there are {judged} so far"
    )
    return [said], max(wanted - judged, 0)


def _outside(name: str, table: pd.DataFrame, fresh: pd.DataFrame) -> list[str]:
    said = []
    for row in table[(table["candidate"] == name) & (table["held"] == OUTSIDE)].itertuples():
        own = fresh[(fresh["candidate"] == name) & (fresh["metric"] == row.metric)]
        for place in (BELOW, ABOVE):
            out = own.loc[own["fell"] == place, "candle"]
            if len(out):
                verb = "is" if len(out) == 1 else "are"
                said.append(
                    f"{label(row.metric)} of {listed(out)} {verb} {place} the range predicted, "
                    f"{span(row.metric, row.range_low, row.range_high)}"
                )
        if not row.n_outside:
            place = BELOW if row.fresh_mean < row.mean_low else ABOVE
            known = "" if row.metric == POOL else f", {quantity(row.metric, row.fresh_mean)},"
            said.append(
                f"mean {label(row.metric)} of its fresh candles{known} is {place} the range "
                f"predicted for it, {span(row.metric, row.mean_low, row.mean_high)}"
            )
    return said


def _wanting(own, second, counts, table, rate, needed, asked) -> tuple[list[str], int | None]:
    """What keeps a candidate from standing, and how many more candles would settle it, if any."""
    said, more = [], 0
    if not own or not counts["n_candles"]:
        said.append(
            "no candle of it was burnt in the confirmation"
            if not own
            else "none of its candles in the confirmation counts as fresh"
        )
    if counts["n_open"]:
        gaps = listed([criterion for criterion, _ in not_recorded(second, own)], 4)
        have = "has" if counts["n_open"] == 1 else "have"
        said.append(
            f"{counts['n_open']} of {counts['n_candles']} fresh candles {have} a gap ({gaps}), and "
            "a gap is never a pass: burn others in their place, watched at every check, and leave "
            "these out with the reason"
        )
        more = counts["n_open"]
    if needed is None:
        return [*said, _no_number(rate, asked)], None
    for row in table.itertuples():
        if row.middle == row.middle and row.n_measured < min(needed, max(counts["n_candles"], 1)):
            if counts["n_candles"]:
                of_all = f"{row.n_measured} of {counts['n_candles']} fresh candles"
                said.append(f"{label(row.metric)} was measured on {of_all}")
            more = max(more, needed - row.n_measured)
    if counts["n_passed"] < needed and counts["n_candles"] < needed:
        said.append(
            f"{counted(counts['n_candles'], 'fresh candle')} of the {needed} that are needed to "
            f"notice a change of the burn rate by {asked['shift_pct']:g} % with a chance of "
            f"{100 * asked['power']:g} %"
        )
    more = max(more, needed - counts["n_passed"]) if said else 0
    return said, more


def _no_number(rate: Predicted, asked) -> str:
    if rate.why_not:
        return f"its burn rate cannot be predicted: {rate.why_not}"
    text = (
        f"no number of fresh candles would settle it: {counted(rate.n, 'candle')} of it in the "
        "screening say too little"
    )
    each = screening_needed(rate, **asked)
    if each:
        text += f"; {each} in a new screening and as many fresh ones after it would"
    return text

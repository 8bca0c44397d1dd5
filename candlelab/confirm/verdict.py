"""The verdict on one candidate, its reason in words, and how many more candles would settle it.

What failed anywhere decides first, whoever set it aside; then what fell outside of the ranges; then
whether enough fresh candles passed everything. A gap in one candle leaves the others standing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from candlelab.confirm.ranges import ABOVE, BELOW, OUTSIDE, label, quantity, span
from candlelab.confirm.rounds import Round, pass_counts
from candlelab.judge.predicted import (
    POOL,
    RATE,
    Predicted,
    candles_needed,
    chance_to_pass,
    screening_needed,
)
from candlelab.judge.words import alike_words, failure_words, gap_words, number_word
from candlelab.text import capital, counted, listed

STANDS, FALLS, BURN_MORE = "stands", "does not stand", "burn more candles"
VERDICT_COLUMNS = ["candidate", "verdict", "because", "n_fresh", "n_passed", "n_needed", "n_more"]
SMALL_SHIFT_PCT = 10.0  # a change worth a word, though it may pass


@dataclass(frozen=True, eq=False)
class Held:
    """One candidate of the screening, as it was held against its fresh candles.

    ``own`` is its name in the confirmation, empty when it was not burned again as it was.
    ``failed`` and ``gaps`` are those of both rounds, ``alike`` names a letter off that failed.
    ``ranges`` and ``fresh`` are its rows of these tables; ``asked`` is shift_pct, error and power.
    """

    name: str
    own: str
    second: Round
    failed: pd.DataFrame
    gaps: pd.DataFrame
    alike: list[str]
    predicted: list[Predicted]
    ranges: pd.DataFrame
    fresh: pd.DataFrame
    asked: dict[str, Any]

    @property
    def rate(self) -> Predicted:
        """What was predicted of its burn rate."""
        return next(f for f in self.predicted if f.metric == RATE)


def verdict(held: Held) -> tuple[tuple, list[str]]:
    """One candidate's row of `VERDICT_COLUMNS`, and what it rests on, sentence by sentence."""
    counts = pass_counts(held.second, held.own)
    needed = candles_needed(held.rate, **held.asked)
    more: int | None = 0
    said = [*failure_words(held.failed), *_outside(held)]
    outcome = FALLS
    if not said:
        said, more = _wanting(held, counts, needed)
        asked = alike_words(held.alike)
        if asked and not said:
            more = None
        said = [*said, *asked]
        outcome = BURN_MORE if said else STANDS
        said = said or _passed(held, counts, needed)
        said += gap_words(held.gaps)
    seen = (counts["n_candles"], counts["n_passed"], needed, more)
    return (held.name, outcome, " ".join(said), *seen), said


def _passed(held: Held, counts: dict[str, int], needed: int | None) -> list[str]:
    """What speaks for a candidate that stands, and what would have passed as well."""
    n, of, least = counts["n_passed"], counts["n_candles"], needed or 0
    who = f"All {number_word(n)}" if n == of else f"{capital(number_word(n))} of {number_word(of)}"
    inside = listed([label(f.metric) for f in held.predicted if not f.why_not])
    chance = chance_to_pass(held.rate, n, shift_pct=SMALL_SHIFT_PCT, error=held.asked["error"])
    return [
        f"{who} fresh candles passed every safety check; {counted(least, 'candle')} "
        f"{'was' if least == 1 else 'were'} needed.",
        f"{capital(inside)} fell where the screening predicted.",
        "That holds for this pour: a new lot of wax or wicks, or another season, may burn "
        "differently.",
        _missed_words(chance, _noticing(held)),
    ]


def _noticing(held: Held) -> str:
    """What it takes to notice a change that matters little; empty where nothing does."""
    asked = {**held.asked, "shift_pct": SMALL_SHIFT_PCT}
    if needed := candles_needed(held.rate, **asked):
        return f"It takes {needed} fresh candles."
    if each := screening_needed(held.rate, **asked):
        return f"It takes {each} candles of it in a screening, and as many fresh ones."
    return ""


def _missed_words(chance: float, takes: str) -> str:
    """How well a change that matters little would have been noticed, and what would notice it."""
    change = f"a {SMALL_SHIFT_PCT:g} % change in burn rate"
    times = f"{max(round(100.0 * chance), 1)} in 100 such tests"
    if chance >= 0.5:
        if not takes:
            return (
                f"{capital(change)} would mostly go unnoticed, because candles or pours differ too "
                f"much: {times} would miss it."
            )
        return f"This test is too small to notice {change}: {times} would miss it. {takes}"
    few = "fewer than 1 in 100 such tests" if chance < 0.005 else times
    return f"This test would notice {change} more often than not: {few} would miss it."


def _outside(held: Held) -> list[str]:
    said, display = [], held.second.batch.settings.display
    for row in held.ranges[held.ranges["held"] == OUTSIDE].itertuples():
        own = held.fresh[held.fresh["metric"] == row.metric]
        what = label(row.metric)
        what = capital(what)
        for place in (BELOW, ABOVE):
            out = own.loc[own["fell"] == place, "candle"]
            if len(out):
                said.append(
                    f"{what} of {listed(out)} is {place} the range predicted, "
                    f"{span(row.metric, row.range_low, row.range_high, display)}."
                )
        if not row.n_outside:
            place = BELOW if row.fresh_mean < row.mean_low else ABOVE
            known = (
                "" if row.metric == POOL else f", {quantity(row.metric, row.fresh_mean, display)},"
            )
            said.append(
                f"{what} of its fresh candles: the mean{known} is {place} the range predicted for "
                f"it, {span(row.metric, row.mean_low, row.mean_high, display)}."
            )
    return said


def _wanting(
    held: Held, counts: dict[str, int], needed: int | None
) -> tuple[list[str], int | None]:
    """What keeps a candidate from standing, and how many more candles would settle it, if any."""
    said = []
    if not held.own:
        said.append("No candle of it was burned in the confirmation.")
    elif not counts["n_candles"]:
        said.append("None of its candles in the confirmation counts as fresh.")
    if needed is None:
        return [*said, _no_number(held)], None
    more = max(needed - counts["n_passed"], 0)
    if more and counts["n_candles"]:
        said.append(
            f"{counted(counts['n_passed'], 'fresh candle')} passed every safety check, and it "
            f"takes {needed} to notice a {held.asked['shift_pct']:g} % change in burn rate in "
            f"{100 * held.asked['power']:g} of 100 tests."
        )
    for row in held.ranges.itertuples():
        if row.middle == row.middle and row.n_measured < min(needed, counts["n_passed"]):
            what = label(row.metric)
            said.append(
                f"{capital(what)} was measured on {row.n_measured} of "
                f"{counted(counts['n_candles'], 'fresh candle')}."
            )
            more = max(more, needed - row.n_measured)
    return said, more


def _no_number(held: Held) -> str:
    rate = held.rate
    if rate.why_not:
        return f"Its burn rate cannot be predicted: {rate.why_not}."
    each = screening_needed(rate, **held.asked)
    if each:
        say = "says" if rate.n == 1 else "say"
        text = f"{counted(rate.n, 'candle')} of it in the screening {say} too little"
        return f"{text}. {each} in a new screening and as many fresh ones after it would."
    return (
        f"Neither more fresh candles nor a larger screening would show a "
        f"{held.asked['shift_pct']:g} % change in burn rate: candles or pours differ too much."
    )

"""What can be printed: a burn time that fresh candles carry, the wick as tested, when to test
again, what to caution of.

A burn time is a lower bound over candles: that of one further candle, or the one that a stated
share of all candles reaches (``tolerance``). Only candles burnt to their end on the wick they were
poured with count; a projected life is shown beside, marked, and never counts. Nothing is claimed
for a candidate that is not safe.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.claim.tables import (
    BUY,
    DECLARED_SOURCE,
    DECLARED_TOLERANCE,
    caution_table,
    conditions,
    triggers,
    wick_table,
)
from candlelab.compare.pooled import Pooled, pool
from candlelab.judge.safety import MET, NOT_MET
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.pages.page import Page, inputs_of
from candlelab.size.line import safety_of_sizes, with_group
from candlelab.stats.intervals import LowerBounds, lower_bounds
from candlelab.stats.proportions import claim_words
from candlelab.text import closest, listed

LEAST = 3  # candles for any printed time; common practice, no source
COVERAGE, CONFIDENCE, RELIABILITY = 0.90, 0.95, 0.90
LABEL, LIMITED, NONE = "carried by these candles", "with a limit", "no claim"


class CannotClaim(ValueError):
    """The candidate was not burnt, or stands for several recipes; the message names those there
    are.
    """


@dataclass(frozen=True, eq=False)
class Claims:
    """What one candidate's candles carry.

    ``outcome`` is LABEL, LIMITED or NONE, ``answer`` says why. ``bounds`` is None where nothing is
    claimed. ``declared``: one row per time that might be printed, with its +-10 % beside.
    ``lives``: one row per candle, ``counts`` where it is in the bound.
    """

    candidate: str
    outcome: str
    answer: tuple[str, ...]
    bounds: LowerBounds | None
    lives: pd.DataFrame
    declared: pd.DataFrame
    conditions: pd.DataFrame
    wick: pd.DataFrame
    triggers: pd.DataFrame
    cautions: pd.DataFrame
    safety: pd.DataFrame
    notes: tuple[str, ...]
    coverage: float
    confidence: float
    pooled: Pooled

    def tables(self) -> dict[str, tuple[str, pd.DataFrame]]:
        """Each table by its name, with what one row of it is."""
        return {
            name: table
            for name, table in {
                "declared": ("a time that might be printed", self.declared),
                "lives": ("a candle", self.lives),
                "conditions": ("a condition", self.conditions),
                "wick": ("a property of the wick", self.wick),
                "triggers": ("a change", self.triggers),
                "cautions": ("a topic", self.cautions),
                "safety": ("the candidate", self.safety),
            }.items()
            if len(table[1])
        }


def claim_label(
    batches: Iterable[Batch | WorkedBatch],
    candidate: str,
    *,
    coverage: float = COVERAGE,
    confidence: float = CONFIDENCE,
) -> Claims:
    """What the fresh candles of ``candidate`` ("square braid 2") in these batches let a label say.

    ``coverage`` is the share of all candles that reach the tolerance bound. Raises CannotClaim for
    a candidate that was not burnt, or that stands for several recipes, and ValueError for shares
    outside 0 to 1.
    """
    if not (0.0 < coverage < 1.0 and 0.5 <= confidence < 1.0):
        raise ValueError(
            "coverage lies between 0 and 1, confidence from 0.5 to below 1, such as 0.9 and 0.95"
        )
    pooled = pool(batches)
    fresh = with_group(pooled.fresh, pooled)
    own = _own(fresh, candidate)
    first = own.iloc[0]
    lives = _lives(pooled, own)
    sizes = safety_of_sizes(pooled)
    safety = sizes[
        (sizes["series"] == first["series"]) & (sizes["wick_size"] == first["wick_size"])
    ].reset_index(drop=True)
    ended = lives.loc[lives["counts"], "life_h"].to_numpy(dtype=float)
    bounds = (
        lower_bounds(ended, coverage=coverage, confidence=confidence) if len(ended) >= 2 else None
    )
    confirmed = any(
        b.settings.stage == "confirmation"
        for name, b in pooled.batches.items()
        if name in set(own["batch"])
    )
    whole = any(b.settings.stage == "screening" for b in pooled.batches.values())
    outcome, why = _outcome(safety.iloc[0], len(ended), bounds, confirmed, whole)
    declared = (
        _declared(bounds, ended) if bounds is not None and outcome != NONE else pd.DataFrame()
    )
    return Claims(
        candidate,
        outcome,
        answer=tuple(_answer(candidate, outcome, why, bounds, safety.iloc[0], lives, declared)),
        bounds=bounds if outcome != NONE else None,
        lives=lives,
        declared=declared,
        conditions=conditions(pooled, own),
        wick=wick_table(pooled, first),
        triggers=triggers(pooled, own),
        cautions=caution_table(),
        safety=safety.assign(candidate=candidate)[
            ["candidate", "verdict", "n_passed", "n_failed", "n_open", "not_met"]
        ],
        notes=tuple(_notes(pooled, own, lives)),
        coverage=coverage,
        confidence=confidence,
        pooled=pooled,
    )


def _own(fresh: pd.DataFrame, candidate: str) -> pd.DataFrame:
    """The fresh candles of the candidate, named by its wick or by its full name; of one recipe."""
    wanted = " ".join(candidate.split()).casefold()
    names = (
        fresh["wick"]
        + fresh["series"].str.partition(",")[1]
        + fresh["series"].str.partition(",")[2]
    )
    own = fresh[(fresh["wick"].str.casefold() == wanted) | (names.str.casefold() == wanted)]
    known = natural_order(names.unique())
    if own.empty:
        close = closest(candidate, known)
        hint = f"Did you mean {close!r}? " if close else ""
        raise CannotClaim(
            f"No fresh candle of {candidate!r} was burnt. {hint}There are: {'; '.join(known)}."
        )
    recipes = names[own.index].unique()
    if len(recipes) > 1:
        raise CannotClaim(
            f"{candidate!r} was burnt in several recipes, and a label speaks of one. Name one of: "
            f"{'; '.join(recipes)}."
        )
    return own


def _lives(pooled: Pooled, own: pd.DataFrame) -> pd.DataFrame:
    """One row per candle of the candidate: its life, or why it has none that counts, with the
    projected one beside.
    """
    whole = pd.concat(
        [worked.candles.assign(batch=name) for name, worked in pooled.worked.items()],
        ignore_index=True,
    )
    rows = own[["batch", "candle"]].merge(whole, on=["batch", "candle"], how="left")
    counts = rows["ended"].astype(bool) & ~rows["replaced"].astype(bool)
    projected = rows["life_projected_h"].where(
        ~rows["ended"].astype(bool) & ~rows["replaced"].astype(bool)
    )
    why = np.select(
        [counts, rows["replaced"].astype(bool), projected.notna()],
        ["burnt to its end", "its wick was changed", "projected: not burnt to its end"],
        "not burnt to its end",
    )
    return pd.DataFrame(
        {
            "batch": rows["batch"],
            "candle": rows["candle"],
            "fill_mass_g": rows["fill_mass_g"],
            "life_h": rows["life_h"].where(counts).astype(float),
            "life_projected_h": projected.astype(float),
            "life_low_h": rows["life_low_h"].where(projected.notna()).astype(float),
            "life_high_h": rows["life_high_h"].where(projected.notna()).astype(float),
            "counts": counts,
            "why": pd.Series(why, dtype="str"),
        }
    )


def _outcome(
    safety, n_ended: int, bounds: LowerBounds | None, confirmed: bool, whole: bool
) -> tuple[str, str]:
    if safety["verdict"] == NOT_MET:
        return (
            NONE,
            f"its candles did not meet: {safety['not_met']}. Nothing is claimed for a candle that "
            "broke a criterion",
        )
    if n_ended < LEAST:
        n = (
            "no candle was"
            if n_ended == 0
            else "1 candle was"
            if n_ended == 1
            else f"{n_ended} candles were"
        )
        return (
            NONE,
            (
                f"{n} burnt to the end on this wick, and it takes {LEAST} at least to say how much "
                "candles differ. Burn fresh candles to their end"
            ),
        )
    if bounds is not None and bounds.tolerance < 1.0:
        return (
            NONE,
            (
                f"{n_ended} candles differ so much (standard deviation {bounds.sd:.1f} h) that no "
                "time above zero can be promised. Burn more candles"
            ),
        )
    if safety["verdict"] != MET:
        return (
            LIMITED,
            (
                "what was required was not recorded at every check, so it is not known to be safe. "
                "Close the gaps with fresh candles before printing anything"
            ),
        )
    if bounds.tolerance < bounds.mean * (1.0 - DECLARED_TOLERANCE):
        return (
            LIMITED,
            (
                f"{n_ended} candles are so few, or so uneven, that the time to promise lies more "
                "than 10 % below their mean. More candles bring it up"
            ),
        )
    if not confirmed:
        return (
            LIMITED,
            "these are candles of a screening round. Confirm the pick on fresh candles before "
            "printing anything",
        )
    if not whole:
        return (
            LIMITED,
            "the screening that came before is not among the folders, and what failed there is not "
            "counted. Give both rounds",
        )
    return LABEL, ""


def _hours(value: float) -> int:
    """Whole hours, rounded down: a label must not promise the part that was rounded up."""
    return max(math.floor(value + 1e-9), 0)


def _declared(bounds: LowerBounds, lives: np.ndarray) -> pd.DataFrame:
    """Times that might be printed, and how the candles stand to each with 10 % either way."""
    ways = (
        (
            "tolerance bound",
            (
                f"with {100 * bounds.confidence:g} % confidence at least {100 * bounds.coverage:g} "
                "of 100 candles burn so long"
            ),
            bounds.tolerance,
        ),
        (
            "prediction bound",
            f"with {100 * bounds.confidence:g} % confidence the next candle burns so long",
            bounds.prediction,
        ),
        ("mean", "half of the candles burn shorter: not a time to promise", bounds.mean),
    )
    rows = []
    for way, words, value in ways:
        hours = _hours(value)
        low, high = hours * (1.0 - DECLARED_TOLERANCE), hours * (1.0 + DECLARED_TOLERANCE)
        rows.append(
            (
                way,
                words,
                value,
                float(hours),
                low,
                high,
                int((lives < low).sum()),
                int(((lives >= low) & (lives <= high)).sum()),
                int((lives > high).sum()),
            )
        )
    return pd.DataFrame(
        rows,
        columns=[
            "bound",
            "what_it_means",
            "bound_h",
            "declared_h",
            "band_low_h",
            "band_high_h",
            "n_below",
            "n_inside",
            "n_above",
        ],
    )


def _answer(
    candidate, outcome, why, bounds: LowerBounds | None, safety, lives, declared
) -> list[str]:
    lines = []
    if outcome == NONE:
        lines.append(f"No burn time can be printed for {candidate}: {why}.")
    else:
        lines.append(
            f"For {candidate} at most “{_hours(bounds.tolerance)} h” can be promised: with "
            f"{100 * bounds.confidence:g} % confidence at least {100 * bounds.coverage:g} of 100 "
            f"such candles burn {bounds.tolerance:.1f} h or longer ({bounds.n} candles, mean "
            f"{bounds.mean:.1f} h, shortest {bounds.smallest:.1f} h)."
        )
        lines.append(
            f"The next single candle burns {bounds.prediction:.1f} h or longer, with "
            f"{100 * bounds.confidence:g} % confidence."
        )
        lines.append(_band_words(declared.iloc[0], bounds.n))
        if outcome == LIMITED:
            lines.append(f"With a limit: {why}.")
    passed, failed = int(safety["n_passed"]), int(safety["n_failed"])
    if passed + failed:
        unsafe = f"{passed} of {passed + failed} passed."
        lines.append(
            "Safety: "
            + (unsafe if failed else claim_words(passed, failed, reliability=RELIABILITY))
        )
    else:
        lines.append(
            "Safety: no candle has both passed and been watched completely, so no share of passes "
            "is shown."
        )
    n_projected = int((lives["life_projected_h"].notna()).sum())
    if n_projected:
        lines.append(
            f"{n_projected} candle{' has' if n_projected == 1 else 's have'} a projected life "
            "only; it is listed and marked, and does not count."
        )
    lines.append(
        "This is screening evidence. What a label must say, the purchased standard and local law "
        "decide."
    )
    return lines


def _band_words(row, n: int) -> str:
    longer = f"; {row['n_above']} burn longer" if row["n_above"] else ""
    shorter = f"; {row['n_below']} burn shorter" if row["n_below"] else ""
    return (
        f"Declared as {row['declared_h']:.0f} h, {row['n_inside']} of {n} candles are within 10 % "
        f"of it ({row['band_low_h']:.1f} to {row['band_high_h']:.1f} h){longer}{shorter}."
    )


def _notes(pooled: Pooled, own: pd.DataFrame, lives: pd.DataFrame) -> list[str]:
    n = int(lives["counts"].sum())
    notes = [
        "The bounds take the lives of candles to be normally distributed; so few candles cannot "
        "show whether they are. "
        + (
            f"Without that, {n} candles show that {100 * (1 - CONFIDENCE) ** (1 / n):.0f} of 100 "
            "last as long as the shortest of them."
            if n
            else ""
        ),
        (
            f"Declared times with 10 % either way: {DECLARED_SOURCE}. It is shown beside the bound "
            "and does not replace it."
        ),
        (
            "Tolerance of the wick: half the way to the next size is common practice, no source; "
            "agree on it with the supplier in writing."
        ),
    ]
    found = own["batch"].nunique()
    if found == 1:
        notes.append(
            "All candles come from one batch: what another pouring, lot or season does is not in "
            "the bound."
        )
    else:
        means = lives[lives["counts"]].groupby("batch")["life_h"].mean()
        notes.append(
            f"Candles of {found} batches are taken together (means "
            f"{listed([f'{v:.1f} h in {name}' for name, v in means.items()])}); so few batches "
            "hardly show what another lot does."
        )
    return [*(note.strip() for note in notes), BUY]


def claim_page(found: Claims) -> Page:
    """The page of what can be printed."""
    batches = found.pooled.batches
    return Page(
        "claims",
        "What can be printed?",
        (
            f"{found.candidate}: {found.outcome}",
            "; ".join(batch.settings.title for batch in batches.values()),
        ),
        found.answer,
        found.tables(),
        inputs_of(batches),
        {"batch_folders": list(batches), "candidate": found.candidate},
        {"notes": list(found.notes), "outcome": found.outcome},
    )

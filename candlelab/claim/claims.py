"""What can be printed: a burn time that fresh candles carry, and what goes with it.

A burn time is a lower bound over candles: that of one further candle, or the one that a stated
share of all candles reaches (``tolerance``). Only candles burnt to their end on the wick they were
poured with count; a projected life is shown beside, marked, and never counts. Nothing is claimed
for a candidate that is not safe.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.claim.tables import (
    DECLARED_TOLERANCE,
    caution_table,
    conditions,
    triggers,
    wick_table,
)
from candlelab.claim.words import CONFIDENCE, answer, declared_times, notes
from candlelab.compare.pooled import UNIT, Pooled, pool
from candlelab.confirm.confirmation import confirm_pick
from candlelab.confirm.verdict import FALLS, STANDS
from candlelab.judge.words import RULED_OUT, SAFE
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.size.line import fates_of_sizes, with_group
from candlelab.stats.intervals import LowerBounds, lower_bounds
from candlelab.text import closest, counted

LEAST = 3  # candles for any printed time; common practice, no source
COVERAGE = 0.90
LABEL, LIMITED, NONE = "carried by these candles", "with a limit", "no claim"


class CannotClaim(ValueError):
    """The candidate was not burnt, or stands for several recipes; the message names those known."""


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
        found = {
            "declared": ("a time that might be printed", self.declared),
            "lives": ("a candle", self.lives),
            "conditions": ("a condition", self.conditions),
            "wick": ("a property of the wick", self.wick),
            "triggers": ("a change", self.triggers),
            "cautions": ("a topic", self.cautions),
            "safety": ("the candidate", self.safety),
        }
        return {name: table for name, table in found.items() if len(table[1])}


def claim_label(
    batches: Iterable[Batch | WorkedBatch],
    candidate: str,
    *,
    coverage: float = COVERAGE,
    confidence: float = CONFIDENCE,
) -> Claims:
    """What the fresh candles of a candidate let a label say: burn time, wick, cautions.

    Parameters
    ----------
    batches : iterable of Batch or WorkedBatch
        The batches in which it was burned; the screening as well as the confirmation.
    candidate : str
        Its wick, such as "square braid 2", or its full name where it was poured in several recipes.
    coverage : float
        Share of all candles that reach the tolerance bound.
    confidence : float
        Of the bounds.

    Returns
    -------
    Claims
        ``outcome`` is "carried by these candles", "with a limit" or "no claim"; ``answer`` says
        why; ``bounds`` [h] is None where nothing is claimed.

    Raises
    ------
    CannotClaim
        For a candidate that was not burned, or that stands for several recipes.
    ValueError
        For shares outside 0 to 1.

    References
    ----------
    One-sided tolerance limits: ISO 16269-6; NIST/SEMATECH e-Handbook of Statistical Methods,
    7.2.6.3.

    Examples
    --------
    >>> from candlelab import claim_label, demo_folder, read_batch
    >>> batches = [read_batch(demo_folder(name)) for name in ("screening", "confirmation")]
    >>> claims = claim_label(batches, "square braid 2")
    >>> claims.outcome, f"{claims.bounds.tolerance:.1f} h"
    ('carried by these candles', '32.5 h')
    """
    if not (0.0 < coverage < 1.0 and 0.5 <= confidence < 1.0):
        raise ValueError(
            "coverage lies between 0 and 1, confidence from 0.5 to below 1, such as 0.9 and 0.95"
        )
    pooled = pool(batches)
    fresh = with_group(pooled.fresh, pooled)
    return _claims(pooled, _own(fresh, candidate), candidate, coverage, confidence)


def _claims(pooled: Pooled, own: pd.DataFrame, candidate: str, coverage, confidence) -> Claims:
    """The claims that the candles in ``own`` carry."""
    first, lives = own.iloc[0], _lives(pooled, own)
    fates = fates_of_sizes(pooled)
    fates = fates[(fates["series"] == first["series"]) & (fates["wick_size"] == first["wick_size"])]
    safety = fates.reset_index(drop=True)
    ended = lives.loc[lives["counts"], "life_h"].to_numpy(dtype=float)
    enough = len(ended) >= 2
    bounds = lower_bounds(ended, coverage=coverage, confidence=confidence) if enough else None
    stages = {pooled.batches[name].settings.stage for name in own["batch"]}
    outcome, why = _outcome(safety.iloc[0], len(ended), bounds, stages)
    if outcome == LABEL:
        outcome, why = _confirmed(pooled, own)
    bounds = bounds if outcome != NONE else None
    declared = pd.DataFrame() if bounds is None else declared_times(bounds, ended)
    said = answer(candidate, outcome == LIMITED, why, bounds, safety.iloc[0], lives, declared)
    shown = ["candidate", "fate", "because", "n_passed", "n_failed"]
    return Claims(
        candidate=candidate,
        outcome=outcome,
        answer=said,
        bounds=bounds,
        lives=lives,
        declared=declared,
        conditions=conditions(pooled, own),
        wick=wick_table(pooled, first),
        triggers=triggers(pooled, own),
        cautions=caution_table(),
        safety=safety.assign(candidate=candidate)[shown],
        notes=notes(own, lives),
        coverage=coverage,
        confidence=confidence,
        pooled=pooled,
    )


def _own(fresh: pd.DataFrame, candidate: str) -> pd.DataFrame:
    """The fresh candles of the candidate, named by its wick or by its full name; of one recipe."""
    wanted = " ".join(candidate.split()).casefold()
    series = fresh["series"].str.partition(",")
    names = fresh["wick"] + series[1] + series[2]
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
    """One row per candle: its life, or why it has none that counts, the projected one beside."""
    tables = [worked.candles.assign(batch=name) for name, worked in pooled.worked.items()]
    rows = own[UNIT].merge(pd.concat(tables, ignore_index=True), on=UNIT, how="left")
    ended, replaced = rows["ended"].astype(bool), rows["replaced"].astype(bool)
    counts = ended & ~replaced
    projected = rows["life_projected_h"].where(~ended & ~replaced)
    why = np.select(
        [counts, replaced, projected.notna()],
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


def _outcome(safety, n_ended: int, bounds: LowerBounds | None, stages: set[str]) -> tuple[str, str]:
    """How far a claim goes, and why no further; ``stages`` are the rounds that hold its candles."""
    if safety["fate"] == RULED_OUT:
        return NONE, f"it was ruled out. {safety['because'].rstrip('.')}"
    if n_ended < LEAST:
        n = counted(n_ended, "candle") if n_ended else "no candle"
        return NONE, (
            f"{n} {'were' if n_ended > 1 else 'was'} burned to the end on this wick, and it takes "
            f"{LEAST} at least to say how much candles differ. Burn fresh candles to their end"
        )
    if bounds.tolerance < 1.0:
        return NONE, (
            f"{n_ended} candles differ so much (standard deviation {bounds.sd:.1f} h) that no time "
            "above zero can be promised. Burn more candles"
        )
    if safety["fate"] != SAFE:
        return LIMITED, (
            f"it is {safety['fate']}. {safety['because']} Close the gaps with fresh candles before "
            "printing anything"
        )
    if bounds.tolerance < bounds.mean * (1.0 - DECLARED_TOLERANCE):
        return LIMITED, (
            f"{n_ended} candles are so few, or so uneven, that the time to promise lies more than "
            "10 % below their mean. More candles bring it up"
        )
    if "confirmation" not in stages:
        return LIMITED, (
            "these are candles of a screening round. Confirm the pick on fresh candles before "
            "printing anything"
        )
    if "screening" not in stages:
        return LIMITED, (
            "no screening of this candidate is among the folders, and what failed there is not "
            "counted. Give both rounds"
        )
    return LABEL, ""


def _confirmed(pooled: Pooled, own: pd.DataFrame) -> tuple[str, str]:
    """Whether the candidate stands in every confirmation against the first screening."""
    rounds = {"screening": [], "confirmation": []}
    for name in dict.fromkeys(own["batch"]):
        rounds[pooled.batches[name].settings.stage].append(name)
    first = rounds["screening"][0]
    of = own.set_index("batch")["candidate"]
    for name in rounds["confirmation"]:
        asked = of[[name]].iloc[0]
        found = confirm_pick(pooled.batches[first], pooled.batches[name], candidates=[asked])
        for row in found.verdicts.itertuples():
            if row.verdict == FALLS:
                return NONE, f"it does not stand: {row.because}"
            if row.verdict != STANDS:
                return LIMITED, f"the confirmation is not settled yet: {row.because}"
    return LABEL, ""

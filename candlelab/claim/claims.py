"""What can be printed: a burn time that fresh candles support, and what goes with it.

A burn time is a lower bound over candles: that of one further candle, or the one that a stated
share of all candles reaches (``tolerance``). Only candles that burned to their end by themselves on
the wick they were poured with are in it. Nothing is claimed for a candidate of which anything
failed, and nothing without a condition before it was confirmed on fresh candles.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from candlelab.claim.evidence import Asked, Evidence, gather
from candlelab.claim.lives import LEAVE_MM
from candlelab.claim.outcome import NOT_YET, decide
from candlelab.claim.rounds import CannotClaim
from candlelab.claim.tables import caution_table, conditions, triggers, wick_table
from candlelab.claim.words import box, declared_times, notes
from candlelab.compare.pooled import Pooled
from candlelab.judge.decision import Decision
from candlelab.judge.predicted import BATCH_SD_PCT
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.stats.intervals import LowerBounds

__all__ = ["CannotClaim", "Claims", "claim_label"]

COVERAGE, CONFIDENCE = 0.90, 0.95


@dataclass(frozen=True, eq=False)
class Claims:
    """What one candidate's candles support.

    ``outcome`` is "supported", "supported with a condition" or "not yet", ``decision`` says why.
    ``bounds`` [h] are of the pours at hand, None where nothing is claimed. ``declared``: one row
    per time that might be printed, with its +-10 % beside. ``lives``: one row per candle,
    ``counts`` where it is in the bounds. ``evidence`` is all that this rests on.
    """

    candidate: str
    outcome: str
    decision: Decision
    bounds: LowerBounds | None
    lives: pd.DataFrame
    declared: pd.DataFrame
    conditions: pd.DataFrame
    wick: pd.DataFrame
    triggers: pd.DataFrame
    cautions: pd.DataFrame
    safety: pd.DataFrame
    notes: tuple[str, ...]
    evidence: Evidence

    @property
    def answer(self) -> tuple[str, ...]:
        """The box, line by line."""
        return self.decision.lines

    @property
    def pooled(self) -> Pooled:
        """The batches, all of them: what failed in any of them is judged."""
        return self.evidence.pooled

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
            "rounds_held": ("a confirmation", self.evidence.rounds.verdicts()),
        }
        return {name: table for name, table in found.items() if len(table[1])}


def claim_label(
    batches: Iterable[Batch | WorkedBatch],
    candidate: str,
    *,
    coverage: float = COVERAGE,
    confidence: float = CONFIDENCE,
    leave_mm: float = LEAVE_MM,
    batch_sd_pct: float = BATCH_SD_PCT,
) -> Claims:
    """What the fresh candles of a candidate let a label say: burn time, wick, cautions.

    Parameters
    ----------
    batches : iterable of Batch or WorkedBatch
        The batches in which it was burned; the screening as well as the confirmation. They are
        judged by the stricter of their limits, and a candle that two of them log counts once.
    candidate : str
        Its wick, such as "square braid 2", or its full name where it was poured in several recipes.
    coverage : float
        Share of all candles that reach the tolerance bound.
    confidence : float
        Of the bounds.
    leave_mm : float
        Depth of wax [mm] that the label says to leave; 0 for none.
    batch_sd_pct : float
        How much pours of one recipe differ: standard deviation from pour to pour, in percent.

    Returns
    -------
    Claims
        ``outcome`` is "supported", "supported with a condition" or "not yet".

    Raises
    ------
    CannotClaim
        For a candidate that was not burned, or that stands for several recipes.
    ValueError
        For a value out of its range.

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
    ('supported', '32.5 h')
    """
    if not (0.0 < coverage < 1.0 and 0.5 <= confidence < 1.0):
        raise ValueError(
            "coverage lies between 0 and 1, confidence from 0.5 to below 1, such as 0.9 and 0.95"
        )
    if not (0.0 <= leave_mm < 1000.0 and 0.0 <= batch_sd_pct < 30.0):
        raise ValueError("leave_mm is 0 or more, batch_sd_pct from 0 to below 30")
    evidence = gather(batches, candidate, Asked(coverage, confidence, leave_mm, batch_sd_pct))
    found = decide(evidence)
    nothing = found.outcome == NOT_YET
    declared = pd.DataFrame() if nothing else declared_times(evidence)
    pooled, own = evidence.pooled, evidence.own
    shown = ["candidate", "fate", "because", "n_passed", "n_failed"]
    return Claims(
        candidate=candidate,
        outcome=found.outcome,
        decision=box(evidence, found, declared),
        bounds=None if nothing else evidence.bounds,
        lives=evidence.lives,
        declared=declared,
        conditions=conditions(pooled, own),
        wick=wick_table(pooled, own.iloc[0]),
        triggers=triggers(pooled, own),
        cautions=caution_table(),
        safety=pd.DataFrame([evidence.fate.rename_axis(None).to_dict() | {"candidate": candidate}])[
            shown
        ],
        notes=notes(evidence, declared),
        evidence=evidence,
    )

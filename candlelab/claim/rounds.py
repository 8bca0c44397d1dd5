"""Which batches speak of a candidate, and what its confirmation says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import pandas as pd

from candlelab.burns.candidates import in_one_spelling, natural_order, recipe_words, wick_names
from candlelab.candle_formulas import load_on_basis
from candlelab.compare.pooled import Pooled
from candlelab.confirm.confirmation import Confirmation, confirm_rounds
from candlelab.confirm.matching import match_candidates
from candlelab.confirm.rounds import read_round
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.logs.names import bare
from candlelab.text import closest

SCREENING, CONFIRMATION = "screening", "confirmation"
Given = Batch | WorkedBatch


class CannotClaim(ValueError):
    """The candidate was not burned, or stands for several recipes; those known are named."""


def batch_of(one: Given) -> Batch:
    """The batch as it was read."""
    return one.batch if isinstance(one, WorkedBatch) else one


def find_batches(given: Sequence[Given], candidate: str) -> tuple[list[Given], tuple[int, str]]:
    """The batches, screenings first, and one of a candidate's candles.

    Parameters
    ----------
    given : sequence of Batch or WorkedBatch
        The batches as they were given.
    candidate : str
        A wick, or a wick with what tells its recipe from the others.

    Returns
    -------
    list of Batch or WorkedBatch, tuple of int and str
        The candle by the place of its batch in that list and by its name.

    Raises
    ------
    CannotClaim
        For a candidate that was not burned, and one that stands for several recipes.
    """
    batches = in_one_spelling([batch_of(one) for one in given])
    poured = _poured(batches)
    wanted = bare(candidate)
    own = poured[poured["wick"].map(bare).eq(wanted) | poured["name"].map(bare).eq(wanted)]
    if own.empty:
        known = natural_order(poured["name"].unique())
        close = closest(candidate, known)
        hint = f"Did you mean {close!r}? " if close else ""
        raise CannotClaim(
            f"No candle poured with {candidate!r} was burned. {hint}There are: {'; '.join(known)}."
        )
    if own["name"].nunique() > 1:
        raise CannotClaim(
            f"{candidate!r} was burned in several recipes, and a label speaks of one. Name one of: "
            f"{'; '.join(own['name'].unique())}."
        )
    first = own.iloc[0]
    order = sorted(range(len(given)), key=lambda n: batches[n].settings.stage != SCREENING)
    return [given[n] for n in order], (order.index(int(first["at"])), str(first["candle"]))


def _poured(batches: Sequence[Batch]) -> pd.DataFrame:
    """Every candle that was lit: its place, wick and name over all batches."""
    basis = batches[0].settings.load_basis
    tables = []
    for n, batch in enumerate(batches):
        candles = batch.candles[batch.candles["candle"].isin(batch.burns["candle"])]
        load = load_on_basis(candles["fragrance_load_pct"], batch.settings.load_basis, basis)
        tables.append(candles.assign(at=n, fragrance_load_pct=load))
    table = pd.concat(tables, ignore_index=True)
    wick = wick_names(table["wick_series"], table["wick_size"], table["wick_count"])
    return table.assign(wick=wick, name=wick + recipe_words(table))


@dataclass(frozen=True, eq=False)
class Confirmed:
    """The rounds of a candidate: folders that hold fresh candles of it, and each confirmation held
    against its screening."""

    screenings: tuple[str, ...]
    confirmations: tuple[str, ...]
    results: tuple[Confirmation, ...]

    def verdicts(self) -> pd.DataFrame:
        """One row per confirmation."""
        tables = [result.verdicts for result in self.results]
        return pd.concat(tables, ignore_index=True) if tables else pd.DataFrame()


def confirmed(pooled: Pooled, fresh: pd.DataFrame, batch_sd_pct: float) -> Confirmed:
    """Hold each confirmation of a candidate against the screening that it confirms.

    That is the one it names, or else the one with most fresh candles of it. ``fresh`` has its fresh
    candles that count, with ``batch`` and ``candidate`` as their own batch names them. All that
    both rounds have is held, as on the page of the confirmation, and its own verdict kept.
    """
    counts = fresh.groupby("batch", sort=False).size()
    stage = {name: pooled.batches[name].settings.stage for name in counts.index}
    screenings = [name for name in counts.index if stage[name] == SCREENING]
    others = [name for name in counts.index if stage[name] == CONFIRMATION]
    own = fresh.drop_duplicates("batch").set_index("batch")["candidate"]
    results = []
    for name in others if screenings else []:
        named = pooled.batches[name].settings.confirms
        first = named if named in screenings else max(screenings, key=lambda n: counts[n])
        rounds = [read_round(pooled.worked[one]) for one in (first, name)]
        matches = match_candidates(*(one.batch for one in rounds))
        every = dict.fromkeys([*(m.near for m in matches if m.same), own[first]])
        result = confirm_rounds(*rounds, candidates=every, batch_sd_pct=batch_sd_pct)
        kept = result.verdicts[result.verdicts["candidate"] == own[first]]
        results.append(replace(result, verdicts=kept.reset_index(drop=True)))
    return Confirmed(tuple(screenings), tuple(others), tuple(results))

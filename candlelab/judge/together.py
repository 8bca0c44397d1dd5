"""Several batches judged as one: what failed in any of them failed, passes add up.

A name is one however it is spelled, and a candle counts once however often its log is given.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property

import numpy as np
import pandas as pd

from candlelab.burns.candidates import in_one_spelling, recipe_words
from candlelab.burns.groups import as_rows
from candlelab.burns.repeats import repeats, set_aside_repeats
from candlelab.candle_formulas import load_on_basis
from candlelab.judge.limits import by_the_first_targets, by_the_stricter
from candlelab.judge.predicted import Needed
from candlelab.judge.worked import Decided, WorkedBatch, worked_batch
from candlelab.logs.batch import Batch
from candlelab.text import of_folder

_SUMS = ["n_candles", "n_part_used", "n_passed", "n_open"]
_RUN = ["batch", "candle", "run"]


class Together(Decided):
    """What a `WorkedBatch` says, over several of them.

    Candidates are named anew, by what differs over all batches, so that one recipe has one name and
    two recipes have two. ``names`` maps batch, candle and wick run to it.

    Parameters
    ----------
    worked : dict of str to WorkedBatch
        By their names, as `side_by_side` hands them out.
    """

    def __init__(self, worked: dict[str, WorkedBatch]) -> None:
        self.worked = worked

    @cached_property
    def burns(self) -> pd.DataFrame:
        """All burns under each other, each with its ``batch`` and its candidate."""
        basis = next(iter(self.worked.values())).batch.settings.load_basis
        burns = self._stack(
            lambda one: one.burns.assign(
                fragrance_load_pct=load_on_basis(
                    one.burns["fragrance_load_pct"], one.batch.settings.load_basis, basis
                )
            )
        )
        return burns.assign(candidate=burns["wick"] + recipe_words(burns))

    @cached_property
    def names(self) -> pd.Series:
        """The candidate of each batch, candle and wick run."""
        return self.burns.drop_duplicates(_RUN).set_index(_RUN)["candidate"]

    def _stack(self, table) -> pd.DataFrame:
        parts = [table(one).assign(batch=name) for name, one in self.worked.items()]
        return pd.concat([p for p in parts if len(p)] or parts[:1], ignore_index=True)

    def _named(self, table: pd.DataFrame) -> pd.DataFrame:
        """A table of candles with the candidates of all batches in place of its own."""
        if table.empty:
            return table
        table = table if "run" in table else table.assign(run=1)
        key = pd.MultiIndex.from_frame(table[_RUN])
        of_run = pd.Series(self.names.reindex(key).to_numpy(), index=table.index, dtype="str")
        where = " in " + table["batch"].map(of_folder)
        told = table["candle"].where(~table["candle"].isin(self._several), table["candle"] + where)
        return table.assign(
            candidate=of_run.where(of_run.notna(), table["candidate"]), candle=told.astype("str")
        )

    @cached_property
    def _several(self) -> set[str]:
        """Candles whose names more than one batch has: they are told with their batch."""
        names = self.burns.drop_duplicates(["batch", "candle"])["candle"]
        return set(names[names.duplicated()])

    @cached_property
    def failures(self) -> pd.DataFrame:
        """As in `WorkedBatch`, each once; a mean over candles belongs to each batch on its own."""
        found = self._stack(lambda one: one.failures)
        found = found.assign(whose=self._whose(found))
        alone = found["candle"] == ""
        means = self._renamed(found[alone])
        means = means.assign(mean_of=means["candidate"], words=self._means_told(means))
        table = pd.concat([means, self._named(found[~alone]).assign(mean_of="")])
        table = table.sort_index(kind="stable").sort_values("excluded", kind="stable")
        each = ["whose", "mean_of", "run", "burn", "criterion"]
        once = table.drop_duplicates(each).drop(columns="mean_of").sort_index()
        return once.sort_values("incident", ascending=False, kind="stable", ignore_index=True)

    def _means_told(self, means: pd.DataFrame) -> list[str]:
        """What happened to each mean, with its batch where its candles have names of several."""
        return [
            row.words + (f", in {row.batch}" if any(c in row.words for c in self._several) else "")
            for row in as_rows(means)
        ]

    def _whose(self, table: pd.DataFrame) -> list[tuple]:
        """Batch and candle of each row; for a candle that is logged twice those of one log."""
        names = list(self.worked)
        found = repeats([one.batch for one in self.worked.values()])
        owner = {
            (names[r.batch], r.candle): (names[r.of_batch], r.of_candle) for r in found.itertuples()
        }
        return [owner.get(key, key) for key in zip(table["batch"], table["candle"], strict=True)]

    @cached_property
    def tested(self) -> set[str]:
        """As in `WorkedBatch`."""
        stages = self.burns["batch"].map(lambda b: self.worked[b].batch.settings.stage)
        own = (stages == "confirmation") & (self.burns["run"] == 1)
        return set(self.burns.loc[own, "candidate"])

    def settled_by(self, picks: list[str]) -> dict[str, Needed]:
        """As in `WorkedBatch`, by the batch that burned most candles of each pick: a confirmation
        is held against one screening."""
        found: dict[str, Needed] = {}
        for pick in picks:
            there = {batch: old for (batch, old), new in self.new_names.items() if new == pick}
            batch = max(there, key=lambda b: (self.worked[b].fresh["candidate"] == there[b]).sum())
            found[pick] = self.worked[batch].settled_by([there[batch]])[there[batch]]
        return found

    @cached_property
    def set_aside(self) -> pd.DataFrame:
        """As in `WorkedBatch`; a candle that is logged twice has failed when it did in one log."""
        found, failed = self._stack(lambda one: one.set_aside), set(self.failures["whose"])
        calm = [whose not in failed for whose in self._whose(found)]
        return self._named(found[np.array(calm, dtype=bool)])

    @cached_property
    def gaps(self) -> pd.DataFrame:
        """As in `WorkedBatch`."""
        return self._named(self._stack(lambda one: one.gaps))

    @cached_property
    def remaining(self) -> pd.DataFrame:
        """As in `WorkedBatch`."""
        return self._named(self._stack(lambda one: one.remaining))

    def _renamed(self, table: pd.DataFrame) -> pd.DataFrame:
        """A table of candidates by the names that they have over all batches."""
        keys = zip(table["batch"], table["candidate"], strict=True)
        names = [self.new_names[key] for key in keys]
        return table.assign(candidate=pd.Series(names, table.index, dtype="str"))

    @cached_property
    def new_names(self) -> dict[tuple[str, str], str]:
        """By batch and candidate there, the name over all batches."""
        old = (name for one in self.worked.values() for name in one.burns["candidate"])
        burns = zip(self.burns["batch"], old, self.burns["candidate"], strict=True)
        return {(batch, name): new for batch, name, new in burns}

    @cached_property
    def verdicts(self):
        """Counts of candles added up, and of each criterion the value worst for its limit.

        A candle that failed in two logs failed once.
        """
        first = next(iter(self.worked.values())).verdicts
        table = self._renamed(self._stack(lambda one: one.verdicts.candidates))
        table = table.groupby("candidate", sort=False)[_SUMS].sum().reset_index()
        failed = self.failures[self.failures["candle"] != ""]
        failed = failed.groupby("candidate")["whose"].nunique()
        table["n_failed"] = table["candidate"].map(failed).fillna(0).astype(int)
        worst = self._renamed(self._stack(lambda one: one.verdicts.candidate_criteria))
        share = worst["value"] / worst["limit"].where(worst["limit"] > 0, 1.0)
        worst = worst.iloc[np.argsort(share.fillna(-np.inf).to_numpy(), kind="stable")]
        worst = worst.drop_duplicates(["candidate", "criterion"], keep="last")
        return replace(first, candidates=table, candidate_criteria=worst.sort_index())

    @cached_property
    def diagnosis(self):
        """Of each candidate the diagnosis of the batch that burned most of its candles."""
        first = next(iter(self.worked.values())).diagnosis
        table = self._renamed(self._stack(lambda one: one.diagnosis.candidates))
        table = table.sort_values("n_candles", ascending=False, kind="stable")
        return replace(first, candidates=table.drop_duplicates("candidate").reset_index(drop=True))

    @cached_property
    def targets(self) -> pd.DataFrame:
        """Targets hit and asked, over all candles."""
        return self._renamed(self._stack(lambda one: one.targets))

    @property
    def batches(self) -> list[Batch]:
        """As in `WorkedBatch`."""
        return [one.batch for one in self.worked.values()]

    @cached_property
    def batch(self) -> Batch:
        """The first batch, with the wicks and candles of all; a confirmation when any is one."""
        batches = self.batches
        stages = {b.settings.stage for b in batches}
        stage = "confirmation" if "confirmation" in stages else batches[0].settings.stage
        wicks = pd.concat([b.wicks for b in batches]).drop_duplicates(["wick_series", "wick_size"])
        return replace(
            batches[0],
            settings=replace(batches[0].settings, stage=stage),
            wicks=wicks.reset_index(drop=True),
            candles=pd.concat([b.candles for b in batches], ignore_index=True),
            burns=pd.concat([b.burns for b in batches], ignore_index=True),
        )


def side_by_side(batches: Iterable[Batch | WorkedBatch]) -> list[WorkedBatch]:
    """Batches that are to be taken together, each worked out.

    Parameters
    ----------
    batches : iterable of Batch or WorkedBatch
        In their order; none of them is changed.

    Returns
    -------
    list of WorkedBatch
        Names that look alike are one name in all of them, all are judged by the stricter of their
        limits and by the targets of the first, and a candle that two logs have is set aside in the
        later one. A batch that needs none of it is handed back as it is.
    """
    worked = [worked_batch(batch) for batch in batches]
    strict = in_one_spelling(by_the_stricter([one.batch for one in worked])[0])
    ready = set_aside_repeats(by_the_first_targets(strict)[0])
    pairs = zip(worked, ready, strict=True)
    return [one if batch is one.batch else WorkedBatch(batch) for one, batch in pairs]


def together(worked: dict[str, WorkedBatch] | Iterable[WorkedBatch]) -> WorkedBatch | Together:
    """Batches judged as one; a single one is itself."""
    if not isinstance(worked, dict):
        worked = {str(n): one for n, one in enumerate(worked)}
    return next(iter(worked.values())) if len(worked) == 1 else Together(worked)

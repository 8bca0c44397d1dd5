"""Several batches judged as one: what failed in any of them failed, passes add up."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cached_property

import pandas as pd

from candlelab.burns.candidates import recipe_words
from candlelab.judge.decision import Decision, decisions
from candlelab.judge.diagnosis import Diagnosis
from candlelab.judge.fates import decide
from candlelab.judge.ranking import rank_candidates
from candlelab.judge.safety import Verdicts
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch

_SUMS = ["n_candles", "n_part_used", "n_passed", "n_failed", "n_open"]
_RUN = ["batch", "candle", "run"]


class Together:
    """What a `WorkedBatch` says, over several of them.

    Candidates are named anew, by what differs over all batches, so that one recipe has one name and two
    recipes have two. ``names`` maps batch, candle and wick run to it.
    """

    def __init__(self, worked: dict[str, WorkedBatch]) -> None:
        self.worked = worked

    @cached_property
    def burns(self) -> pd.DataFrame:
        """All burns under each other, each with its ``batch`` and its candidate."""
        burns = self._stack(lambda one: one.burns)
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
        return table.assign(candidate=of_run.where(of_run.notna(), table["candidate"]))

    @cached_property
    def failures(self) -> pd.DataFrame:
        """As in `WorkedBatch`; a mean over candles belongs to each batch on its own."""
        found = self._stack(lambda one: one.failures)
        alone = found["candle"] == ""
        for n in found.index[alone]:
            own = self.worked[found.at[n, "batch"]].burns
            first = own[own["candidate"] == found.at[n, "candidate"]].iloc[0]
            found.loc[n, "candidate"] = self.names[
                found.at[n, "batch"], first["candle"], first["run"]
            ]
        return pd.concat([found[alone], self._named(found[~alone])]).sort_index(kind="stable")

    @cached_property
    def gaps(self) -> pd.DataFrame:
        """As in `WorkedBatch`."""
        return self._named(self._stack(lambda one: one.gaps))

    @cached_property
    def remaining(self) -> pd.DataFrame:
        """As in `WorkedBatch`."""
        return self._named(self._stack(lambda one: one.remaining))

    def _renamed(self, table) -> pd.DataFrame:
        """Tables of candidates under each other, each candidate by its name over all batches."""
        parts = []
        for name, one in self.worked.items():
            of = one.burns.drop_duplicates("candidate").assign(batch=name).set_index("candidate")
            named = {c: self.names[tuple(of.loc[c, _RUN])] for c in of.index}
            own = table(one)
            parts.append(own.assign(candidate=own["candidate"].map(named)))
        return pd.concat(parts, ignore_index=True)

    @cached_property
    def verdicts(self) -> Verdicts:
        """Counts of candles added up; of each criterion the worst value and the worst outcome."""
        first = next(iter(self.worked.values())).verdicts
        counts = self._renamed(lambda one: one.verdicts.candidates)
        counts = counts.groupby("candidate", sort=False)[_SUMS].sum().reset_index()
        table = self._renamed(lambda one: one.verdicts.candidate_criteria)
        worst = table.sort_values("value", kind="stable")
        worst = worst.drop_duplicates(["candidate", "criterion"], keep="last").sort_index()
        return replace(first, candidates=counts, candidate_criteria=worst.reset_index(drop=True))

    @cached_property
    def diagnosis(self) -> Diagnosis:
        """Of each candidate the diagnosis of the batch that burned most of its candles."""
        first = next(iter(self.worked.values())).diagnosis
        table = self._renamed(lambda one: one.diagnosis.candidates)
        table = table.sort_values("n_candles", ascending=False, kind="stable")
        return replace(first, candidates=table.drop_duplicates("candidate").reset_index(drop=True))

    @cached_property
    def targets(self) -> pd.DataFrame:
        """Targets hit and asked, over all candles."""
        return self._renamed(lambda one: one.targets)

    @cached_property
    def batch(self) -> Batch:
        """The first batch, with the wicks and candles of all; a confirmation when any is one."""
        batches = [one.batch for one in self.worked.values()]
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

    @cached_property
    def fates(self) -> pd.DataFrame:
        """As in `WorkedBatch`."""
        return decide(self)

    @cached_property
    def ranking(self) -> pd.DataFrame:
        """As in `WorkedBatch`."""
        return rank_candidates(self.verdicts, self.fates, self.targets)

    @cached_property
    def decisions(self) -> tuple[Decision, ...]:
        """As in `WorkedBatch`."""
        return decisions(self)


def together(worked: dict[str, WorkedBatch] | Iterable[WorkedBatch]) -> WorkedBatch | Together:
    """Batches judged as one; a single one is itself."""
    if not isinstance(worked, dict):
        worked = {str(n): one for n, one in enumerate(worked)}
    return next(iter(worked.values())) if len(worked) == 1 else Together(worked)

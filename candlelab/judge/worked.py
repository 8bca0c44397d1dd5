"""A batch and everything that is worked out of it: each table once, when it is first asked for."""

from __future__ import annotations

from functools import cached_property
from typing import Any

import pandas as pd

from candlelab.burns.burns import burn_cycles
from candlelab.burns.candidates import in_one_spelling
from candlelab.burns.candles import candle_summary, wick_runs
from candlelab.burns.groups import as_rows, rows_by
from candlelab.judge.decision import Decision, decisions
from candlelab.judge.diagnosis import Diagnosis, diagnose
from candlelab.judge.failures import failures, set_aside
from candlelab.judge.fates import TOLD, decide, standing
from candlelab.judge.gaps import gaps
from candlelab.judge.predicted import Needed, candles_to_settle, fresh_values
from candlelab.judge.ranking import first_wick_values, leading, rank_candidates
from candlelab.judge.remaining import remaining
from candlelab.judge.safety import Verdicts, judge_safety
from candlelab.judge.scent import Strength, candle_scents, strength_of
from candlelab.judge.steps import Steps
from candlelab.judge.targets import target_results
from candlelab.logs.batch import Batch


class Decided:
    """What follows from verdicts and targets, of one batch or of several side by side."""

    batch: Any
    verdicts: Any
    targets: Any
    scent: Strength | None = None
    settled_by: Any
    tested: Any

    @property
    def batches(self) -> list[Batch]:
        """The batches that were judged."""
        return [self.batch]

    def own(self, table: str, candidate: str) -> list[Any]:
        """The rows of one of the tables that are of one candidate."""
        if table not in self._by_candidate:
            self._by_candidate[table] = rows_by(as_rows(getattr(self, table)), "candidate")
        return self._by_candidate[table].get(candidate, [])

    @cached_property
    def _by_candidate(self) -> dict[str, dict[str, list[Any]]]:
        return {}

    @cached_property
    def standing(self) -> pd.DataFrame:
        """Fates and counts, before anything is said of what to do next."""
        return standing(self)

    @cached_property
    def steps(self) -> Steps:
        """What each candidate takes next, and on which side of the right size it burns."""
        return Steps(self, self.standing)

    @cached_property
    def picks(self) -> list[str]:
        """The pick of each vessel that has one."""
        each = rows_by(as_rows(self._ranked), "vessel")
        best = [leading(self.scent, own)[1] for own in each.values()]
        return [own[0].candidate for own in best if len(own) == 1]

    @cached_property
    def fresh_needed(self) -> dict[str, Needed]:
        """How many fresh candles settle each pick that was only screened."""
        picks = [pick for pick in self.picks if pick not in self.tested]
        return self.settled_by(picks) if picks else {}

    @cached_property
    def fates(self) -> pd.DataFrame:
        return decide(self)

    @cached_property
    def ranking(self) -> pd.DataFrame:
        ranked = self._ranked.copy()
        at = pd.Index(self.fates["candidate"]).get_indexer(ranked["candidate"])
        told = self.fates[TOLD].iloc[at]
        for place, name in enumerate(TOLD, ranked.columns.get_loc("because") + 1):
            ranked.insert(place, name, told[name].array)
        return ranked

    @cached_property
    def _ranked(self) -> pd.DataFrame:
        """The candidates in order, before anything is said of what to do next."""
        return rank_candidates(self.verdicts, self.standing, self.targets)

    @cached_property
    def decisions(self) -> tuple[Decision, ...]:
        return decisions(self)


class WorkedBatch(Decided):
    """The tables of one batch, worked out on first use and kept.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it, with one burn at least.

    Attributes
    ----------
    burns, runs, candles : pandas.DataFrame
        One row per burn, per wick run (a candle on one wick) and per candle; g, mm, degC and h.
    fresh : pandas.DataFrame
        One row per candle that counts, measured on the wick it was poured with.
    verdicts : Verdicts
        Each criterion on each check, burn, candle and candidate.
    targets, ranking : pandas.DataFrame
        One row per candidate and target; the candidates in order.
    failures, gaps : pandas.DataFrame
        Everything that failed, whoever set it aside; what keeps fresh candles from a pass.
    set_aside : pandas.DataFrame
        The candles that were set aside as a whole and have not failed.
    remaining : pandas.DataFrame
        The candles that still burn, with the burns that are left.
    fates : pandas.DataFrame
        One row per candidate: safe so far, still burning, not fully checked or ruled out, why, and
        what to do next.
    decisions : tuple of Decision
        One for each vessel, in words.
    scent : Strength or None
        How strong each candidate smells to the panel; None where nobody scored.
    diagnosis : Diagnosis
        Signs of a wick that is too small or too large.

    Raises
    ------
    BurnLogError
        On first use, when nothing has been burned yet.

    Examples
    --------
    >>> from candlelab import WorkedBatch, demo_folder, read_batch
    >>> worked = WorkedBatch(read_batch(demo_folder("confirmation")))
    >>> len(worked.burns), len(worked.candles)
    (79, 9)
    """

    def __init__(self, batch: Batch) -> None:
        self.batch = in_one_spelling([batch])[0]

    @cached_property
    def burns(self) -> pd.DataFrame:
        return burn_cycles(self.batch)

    @cached_property
    def runs(self) -> pd.DataFrame:
        return wick_runs(self.batch, self.burns)

    @cached_property
    def candles(self) -> pd.DataFrame:
        return candle_summary(self.batch, self.burns, self.runs)

    @cached_property
    def fresh(self) -> pd.DataFrame:
        values = first_wick_values(self.runs, self.candles)
        if any(target.quantity == "scent" for target in self.batch.settings.targets):
            values = values.assign(scent=values["candle"].map(candle_scents(self.scent)))
        return values

    @cached_property
    def tested(self) -> set[str]:
        """The candidates that candles of a confirmation were poured as."""
        own = self.burns["run"] == 1
        confirms = self.batch.settings.stage == "confirmation"
        return set(self.burns.loc[own, "candidate"]) if confirms else set()

    def settled_by(self, picks: list[str]) -> dict[str, Needed]:
        """How many fresh candles settle each of these candidates."""
        return candles_to_settle(fresh_values(self.burns, self.fresh), picks)

    @cached_property
    def verdicts(self) -> Verdicts:
        return judge_safety(self.batch, self.burns, self.runs)

    @cached_property
    def failures(self) -> pd.DataFrame:
        return failures(self.batch, self.burns, self.verdicts)

    @cached_property
    def set_aside(self) -> pd.DataFrame:
        return set_aside(self.burns, self.failures)

    @cached_property
    def remaining(self) -> pd.DataFrame:
        display = self.batch.settings.display
        return remaining(self.burns, self.candles, self.verdicts, display)

    @cached_property
    def gaps(self) -> pd.DataFrame:
        return gaps(self.batch, self.burns, self.remaining, self.verdicts)

    @cached_property
    def targets(self) -> pd.DataFrame:
        return target_results(self.batch, self.fresh, frozenset(self.remaining["candle"]))

    @cached_property
    def scent(self) -> Strength | None:  # type: ignore[override]
        return strength_of(self.batch, self.burns)

    @cached_property
    def diagnosis(self) -> Diagnosis:
        return diagnose(self.batch, self.burns, self.runs, self.candles)


def worked_batch(batch: Batch | WorkedBatch) -> WorkedBatch:
    """The worked batch of a batch; one that is worked already is handed back."""
    return batch if isinstance(batch, WorkedBatch) else WorkedBatch(batch)

"""How strong is each candidate, how sure, is it worth its oil: from a batch to tables and words."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from candlelab.burns.scents import HOT
from candlelab.judge.scent import LOAD, Strength, candle_scents, strength_of
from candlelab.judge.worked import WorkedBatch, worked_batch
from candlelab.logs.batch import Batch
from candlelab.scent.checks import chances, noses, pair_strengths, pairs_won, panel_checks
from candlelab.scent.worth import worth_table
from candlelab.stats.columns import CannotCompare
from candlelab.stats.panel import PanelComparison

EMPTY = pd.DataFrame()


@dataclass(frozen=True, eq=False)
class Scent:
    """What a panel says of a batch.

    Attributes
    ----------
    worked : WorkedBatch
    strength : Strength
        The scores, the comparisons and which load is enough.
    tables : dict of str to pandas.DataFrame
        ``strength, scent_differences, hot_and_cold, noses, panel_checks, chances, pairs_won,
        pair_strengths, blank_checks, not_counted, throw_and_burn, worth``.
    """

    worked: WorkedBatch
    strength: Strength
    tables: dict[str, pd.DataFrame]


def judge_scent(batch: Batch | WorkedBatch, *, margin: float | None = None) -> Scent:
    """What the panel says: which is stronger, which load is enough, can the panel be trusted?

    Parameters
    ----------
    batch : Batch or WorkedBatch
        With scores in ``throw.csv``.
    margin : float, optional
        The largest difference in steps that does not matter; that of ``[scent]`` when not given.

    Returns
    -------
    Scent
        Where the scores cannot tell, its tables are empty and ``strength.refused`` says why.

    Raises
    ------
    CannotCompare
        When nobody scored, or no score counts.

    Examples
    --------
    >>> from candlelab import demo_folder, judge_scent, read_batch
    >>> scent = judge_scent(read_batch(demo_folder("loads")))
    >>> scent.strength.enough.kind, f"{scent.strength.enough.level:g} %"
    ('flattens', '6 %')
    """
    worked = worked_batch(batch)
    if margin is None:
        strength = worked.scent
    else:
        strength = strength_of(worked.batch, worked.burns, margin=margin)
    if strength is None:
        raise CannotCompare(
            "No scent score counts here. Write throw.csv: candle (or its code), burn, assessor and "
            "score."
        )
    return Scent(worked, strength, _tables(worked, strength))


def _tables(worked: WorkedBatch, strength: Strength) -> dict[str, pd.DataFrame]:
    pairs = pairs_won(worked, strength)
    return {
        "strength": _named(strength, strength.hot, "estimates"),
        "scent_differences": _named(strength, strength.hot, "differences"),
        "hot_and_cold": _hot_and_cold(strength),
        "noses": noses(strength),
        "panel_checks": panel_checks(strength),
        "chances": chances(strength),
        "pairs_won": pairs,
        "pair_strengths": pair_strengths(pairs),
        "blank_checks": strength.blank_checks,
        "not_counted": _not_counted(strength),
        "throw_and_burn": _throw_and_burn(strength),
        "worth": worth_table(worked, strength),
    }


def _named(strength: Strength, found: PanelComparison | None, table: str) -> pd.DataFrame:
    """A table of the comparison with the names of candidates in place of loads."""
    if found is None:
        return EMPTY
    made = getattr(found, table).copy()
    for column in ("candidate", "reference"):
        if column in made:
            made[column] = [strength.name_of[level] for level in made[column]]
    return made


def _hot_and_cold(strength: Strength) -> pd.DataFrame:
    """Mean scores of each candidate, hot and cold: plain means of the noses' means."""
    scores = strength.scores
    means = scores.groupby([strength.by, "state", "assessor"])["score"].mean()
    means = means.groupby([strength.by, "state"]).mean().unstack()
    table = pd.DataFrame({"candidate": [strength.name_of[level] for level in means.index]})
    for state in ("hot", "cold"):
        table[state] = means[state].to_numpy() if state in means else float("nan")
    return table


def _not_counted(strength: Strength) -> pd.DataFrame:
    """The scores of noses that failed their blank checks, as they were written down."""
    table = strength.not_counted.rename(columns={"sitting": "session"})
    table = table.assign(lit=table["state"] == HOT)
    columns = ["assessor", "candidate", "candle", "burn", "lit", "session", "order", "score"]
    return table[columns].sort_values(["assessor", "lit"], kind="stable", ignore_index=True)


def _throw_and_burn(strength: Strength) -> pd.DataFrame:
    """One row per candle: its hot throw with levels of noses taken off, its rate, its oil."""
    hot = strength.scores[strength.scores["state"] == HOT]
    if hot.empty:
        return EMPTY
    table = hot.assign(scent=hot["candle"].map(candle_scents(strength))).groupby(
        ["candle", "candidate", LOAD], sort=False
    )
    columns = ["scent", "burn_rate_g_per_h", "fragrance_release_g_per_h"]
    return table[columns].mean().reset_index().sort_values([LOAD, "candle"], ignore_index=True)

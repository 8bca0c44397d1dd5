"""One round, screening or confirmation: what its fresh candles measured, how many passed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from candlelab.burns.candidates import candidate_names
from candlelab.candle_formulas import failure_rate_upper
from candlelab.judge.predicted import fresh_values
from candlelab.judge.safety import Verdicts
from candlelab.judge.worked import WorkedBatch, worked_batch
from candlelab.logs.batch import Batch

COUNTS = ("n_candles", "n_passed", "n_failed", "n_open")


@dataclass(frozen=True, eq=False)
class Round:
    """A batch seen as a round.

    ``values`` has a row per fresh candle that counts, as `fresh_values` gives them.
    """

    worked: WorkedBatch
    values: pd.DataFrame

    @property
    def batch(self) -> Batch:
        """The batch as it was read."""
        return self.worked.batch

    @property
    def burns(self) -> pd.DataFrame:
        """Its burns."""
        return self.worked.burns

    @property
    def verdicts(self) -> Verdicts:
        """Its verdicts."""
        return self.worked.verdicts

    @cached_property
    def poured(self) -> pd.Series:
        """The candidate that each of its candles was poured as."""
        return candidate_names(self.batch)

    @property
    def ranks(self) -> pd.Series:
        """The rank of each candidate."""
        return self.worked.ranking.set_index("candidate")["rank"]


def read_round(batch: Batch | WorkedBatch) -> Round:
    """A batch as a round."""
    worked = worked_batch(batch)
    return Round(worked, fresh_values(worked.burns, worked.fresh))


def pass_counts(one: Round, candidate: str) -> dict[str, int]:
    """Fresh candles of a candidate, and how many passed, failed (part-used as well), are open."""
    table = one.verdicts.candidates.set_index("candidate")
    known = candidate in table.index
    return {name: int(table.at[candidate, name]) if known else 0 for name in COUNTS}


def pass_row(counts: dict[str, int]) -> tuple[float, ...]:
    """The counts as a row of a table, with the failure rate that they cannot rule out [%]."""
    judged = counts["n_passed"] + counts["n_failed"]
    bound = 100.0 * float(failure_rate_upper(counts["n_failed"], judged))
    return (*(counts[name] for name in COUNTS), bound)


def round_facts(first: Round, second: Round) -> pd.DataFrame:
    """What is no part of a recipe and may still differ between the rounds.

    Parameters
    ----------
    first, second : Round
        ``screening`` and ``confirmation`` of what `confirm_pick` gives.

    Returns
    -------
    pandas.DataFrame
        ``part``: days, lots of wax, cure, room, length of a burn; ``in_screening`` and
        ``in_confirmation`` are words.

    Examples
    --------
    >>> from candlelab import confirm_pick, demo_folder, read_batch, round_facts
    >>> rounds = [read_batch(demo_folder(name)) for name in ("screening", "confirmation")]
    >>> result = confirm_pick(*rounds)
    >>> round_facts(result.screening, result.confirmation)["part"].tolist()[:3]
    ['burned', 'wax lots', 'cured (days)']
    """
    facts = [_facts(one) for one in (first, second)]
    rows = [(part, facts[0][part], facts[1][part]) for part in facts[0]]
    return pd.DataFrame(rows, columns=["part", "in_screening", "in_confirmation"])


def _facts(one: Round) -> dict[str, str]:
    burns, candles = one.burns[~one.burns["excluded"]], one.batch.candles
    show = one.batch.settings.display
    lit = burns.groupby("candle")["lit_at"].min().dt.tz_localize(None)
    cure = (lit - candles.set_index("candle")["poured_on"].reindex(lit.index)).dt.days.dropna()
    lots = ", ".join(dict.fromkeys(filter(None, candles["wax_lot"])))
    days = "nothing burned"
    if len(burns):
        days = f"{show.day(burns['lit_at'].min())} to {show.day(burns['out_at'].max())}"
    basis = {"wax": "the wax", "total": "the whole fill"}[one.batch.settings.load_basis]
    return {
        "burned": days,
        "wax lots": lots or "not written down",
        "cured (days)": _span(cure, 0),
        f"room ({show.symbol('°C')})": _span(show.value(burns["room_c"], "°C"), 1),
        "burn (h)": _span(burns["burn_time_h"], 1),
        "a check every (min)": f"{one.batch.settings.protocol.check_every_min:g}",
        "fragrance load is a share of": basis,
    }


def _span(values: pd.Series, digits: int) -> str:
    values = values.dropna()
    if values.empty:
        return "not written down"
    low, middle, high = (f"{v:.{digits}f}" for v in (values.min(), values.mean(), values.max()))
    return low if low == high else f"{middle} in the mean, {low} to {high}"


def not_counted(one: Round, name: str) -> pd.DataFrame:
    """Candles that are no fresh evidence, or measured no whole life, each with the reason."""
    whole = one.values.set_index("candle")["whole"]
    burns = one.burns.groupby("candle", sort=False)
    aside = burns["exclusion_reason"].first()[burns["excluded"].all()]
    rewicked = set(one.burns.loc[one.burns["run"] > 1, "candle"])
    rows = []
    for candle, candidate in one.poured.items():
        if candle not in burns.groups:
            because = "never lit in the log"
        elif candle in aside.index:
            because = f"set aside: {aside[candle]}"
        elif candle in rewicked:
            because = (
                "wick changed: its second wick burned a part-used candle, and its first left no "
                "whole life to measure"
            )
        elif not whole.get(candle, False):
            because = "not burned to its end: it counts for safety, but measured no whole life"
        else:
            continue
        rows.append((candle, name, candidate, because))
    return pd.DataFrame(rows, columns=["candle", "round", "candidate", "because"])

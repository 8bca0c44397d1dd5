"""One round, screening or confirmation: what its fresh candles measured, how many passed."""

from __future__ import annotations

from dataclasses import asdict, dataclass, replace

import numpy as np
import pandas as pd

from candlelab.burns.candidates import candidate_names
from candlelab.formulas import failure_rate_upper
from candlelab.judge.safety import NOT_MET, NOT_RECORDED, Verdicts
from candlelab.judge.worked import WorkedBatch, worked_batch
from candlelab.logs.batch import Batch

RATE, POOL, LEFT = "burn_rate_g_per_h", "full_pool_h", "wax_left_pct"
WALL, WALL_WARM = "wall_max_c", "wall_max_warm_room_c"
COUNTS = ("n_candles", "n_passed", "n_failed", "n_open")
LIMIT_WITHIN = 0.002  # rounding of a limit written in other units
ALSO_THERE = "burnt in the screening: the same name, poured on the same day"


@dataclass(frozen=True, eq=False)
class Round:
    """A batch seen as a round.

    ``values`` has a row per fresh candle that counts, with ``pool_low`` and ``pool_high`` in h:
    ``pool_high`` is infinite where the pool was watched and never full, both are empty where it was
    not watched. A candle is ``whole`` when it burnt to its end on the wick it was poured with; only
    then do its values stand for a life.
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

    @property
    def ranks(self) -> pd.Series:
        """The rank of each candidate."""
        return self.worked.ranking.set_index("candidate")["rank"]


def read_round(batch: Batch | WorkedBatch) -> Round:
    """A batch as a round."""
    worked = worked_batch(batch)
    return Round(worked, fresh_values(worked.burns, worked.fresh))


def fresh_values(burns: pd.DataFrame, values: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts, as `Round` says; ``values`` as `WorkedBatch.fresh`."""
    whole = values["wax_left_pct"].notna()
    kept = burns[~burns["excluded"] & (burns["run"] == 1) & burns["pool_watched_h"].notna()]
    kept = kept.assign(full_pool_by_h=kept["full_pool_by_h"].fillna(np.inf)).groupby("candle")
    low, high = (
        values["candle"].map(kept[name].median())
        for name in ("full_pool_after_h", "full_pool_by_h")
    )
    return values[["candle", "candidate", RATE, WALL, WALL_WARM, POOL, LEFT]].assign(
        whole=whole, pool_low=low, pool_high=high
    )


def only_fresh(screening: Batch, confirmation: Batch) -> Batch:
    """The confirmation with candles that were in the screening already marked as left out."""
    first, second = (
        b.candles.set_index("candle")["poured_on"].dropna() for b in (screening, confirmation)
    )
    both = [name for name in second.index.intersection(first.index) if first[name] == second[name]]
    if not both:
        return confirmation
    rows = pd.DataFrame({"candle": both, "burn": np.nan, "reason": ALSO_THERE})
    known = confirmation.exclusions
    exclusions = pd.concat([known, rows.astype(known.dtypes.to_dict())], ignore_index=True)
    return replace(confirmation, exclusions=exclusions)


def pass_counts(one: Round, candidate: str) -> dict[str, int]:
    """Fresh candles of a candidate, and how many passed, failed (part-used as well), are open."""
    table = one.verdicts.candidates.set_index("candidate")
    known = candidate in table.index
    return {name: int(table.at[candidate, name]) if known else 0 for name in COUNTS}


def pass_row(counts: dict[str, int]) -> tuple[int, int, int, int, float]:
    """The counts as a row of a table, with the failure rate that they cannot rule out [%]."""
    judged = counts["n_passed"] + counts["n_failed"]
    bound = 100.0 * float(failure_rate_upper(counts["n_failed"], judged))
    return (*(counts[name] for name in COUNTS), bound)


def not_met(one: Round, candidate: str) -> list[tuple[str, list[str]]]:
    """Deciding criteria that a candidate did not meet, each with its candles; a mean has none."""
    return _deciding(one, candidate, NOT_MET)


def not_recorded(one: Round, candidate: str) -> list[tuple[str, list[str]]]:
    """Deciding criteria with a gap on fresh candles of a candidate, each with its candles."""
    return _deciding(one, candidate, NOT_RECORDED)


def _deciding(one: Round, candidate: str, outcome: str) -> list[tuple[str, list[str]]]:
    by = one.verdicts.candidate_criteria
    by = by[(by["candidate"] == candidate) & by["decides"]]
    rows = one.verdicts.candles
    rows = rows[(rows["candidate"] == candidate) & ~rows["excluded"] & (rows["outcome"] == outcome)]
    rows = rows if outcome == NOT_MET else rows[rows["run"] == 1]
    found = []
    for criterion, of_all in by[["criterion", "outcome"]].itertuples(index=False):
        candles = list(dict.fromkeys(rows.loc[rows["criterion"] == criterion, "candle"]))
        if criterion == "aftersmoke":  # judged on the mean over a candidate's candles
            candles = candles if outcome == NOT_RECORDED else []
            if of_all == outcome:
                found.append((criterion, candles))
        elif candles:
            found.append((criterion, candles))
    return found


def only_left_out(one: Round, candidate: str, criterion: str) -> bool:
    """Whether a criterion was not met only in burns that are left out of the averages."""
    rows = one.verdicts.burns
    rows = rows[(rows["candidate"] == candidate) & (rows["criterion"] == criterion)]
    rows = rows[rows["outcome"] == NOT_MET]
    return len(rows) > 0 and bool(rows["excluded"].all())


def limit_changes(first: Batch, second: Batch) -> list[str]:
    """Limits and margins that the two rounds were judged by that are not the same, in words."""
    old, new = (_limits(batch) for batch in (first, second))
    said = []
    for name, a in old.items():
        b = new[name]
        if a != b and (None in (a, b) or abs(a - b) > LIMIT_WITHIN * abs(a)):
            a, b = ("none" if v is None else f"{v:.4g}" for v in (a, b))
            said.append(f"{name} is {a} in the screening and {b} in the confirmation")
    return said


def _limits(batch: Batch) -> dict[str, float | None]:
    protocol = batch.settings.protocol
    margins = ("check_every_min", "full_pool_margin_mm", "end_wax_left_pct")
    return asdict(batch.settings.limits) | {name: getattr(protocol, name) for name in margins}


def same_limits(first: Batch, second: Batch) -> bool:
    """Whether both rounds were judged by one set of limits, so that passes count together."""
    return not limit_changes(first, second)


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
    ['burnt', 'wax lots', 'cured (days)']
    """
    facts = [_facts(one) for one in (first, second)]
    rows = [(part, facts[0][part], facts[1][part]) for part in facts[0]]
    return pd.DataFrame(rows, columns=["part", "in_screening", "in_confirmation"])


def _facts(one: Round) -> dict[str, str]:
    burns, candles = one.burns[~one.burns["excluded"]], one.batch.candles
    lit = burns.groupby("candle")["lit_at"].min().dt.tz_localize(None)
    cure = (lit - candles.set_index("candle")["poured_on"].reindex(lit.index)).dt.days.dropna()
    lots = ", ".join(dict.fromkeys(filter(None, candles["wax_lot"])))
    days = "nothing burnt"
    if len(burns):
        days = f"{burns['lit_at'].min():%Y-%m-%d} to {burns['out_at'].max():%Y-%m-%d}"
    basis = {"wax": "the wax", "total": "the whole fill"}[one.batch.settings.load_basis]
    return {
        "burnt": days,
        "wax lots": lots or "not recorded",
        "cured (days)": _span(cure, 0),
        "room (°C)": _span(burns["room_c"], 1),
        "burn (h)": _span(burns["burn_time_h"], 1),
        "fragrance load is a share of": basis,
    }


def _span(values: pd.Series, digits: int) -> str:
    values = values.dropna()
    if values.empty:
        return "not recorded"
    low, middle, high = (f"{v:.{digits}f}" for v in (values.min(), values.mean(), values.max()))
    return low if low == high else f"{middle} in the mean, {low} to {high}"


def not_counted(one: Round, name: str) -> pd.DataFrame:
    """Candles that are no fresh evidence, or measured no whole life, each with the reason."""
    poured = candidate_names(one.batch)
    whole = one.values.set_index("candle")["whole"]
    burns = one.burns.groupby("candle", sort=False)
    left_out = burns["exclusion_reason"].first()[burns["excluded"].all()]
    rewicked = set(one.burns.loc[one.burns["run"] > 1, "candle"])
    rows = []
    for candle, candidate in poured.items():
        if candle not in burns.groups:
            because = "never lit in the log"
        elif candle in left_out.index:
            because = f"left out: {left_out[candle]}"
        elif candle in rewicked:
            because = (
                "wick changed: its second wick met a part-used candle, and its first left no whole "
                "life to measure"
            )
        elif not whole.get(candle, False):
            because = "not burnt to its end: it counts for safety, but measured no whole life"
        else:
            continue
        rows.append((candle, name, candidate, because))
    return pd.DataFrame(rows, columns=["candle", "round", "candidate", "because"])

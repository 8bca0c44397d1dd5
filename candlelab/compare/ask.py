"""Which wick, which wax, how much fragrance: from batches to an answer in words with its tables.

One metric at a time is compared; safety and the studio's targets are taken together for wicks.
Every refusal is a sentence in ``refused``, so that a page always has something true to say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial

import pandas as pd

from candlelab.burns.candidates import RECIPE
from candlelab.compare.choice import Choice, choose
from candlelab.compare.metrics import BURN_METRICS, METRICS, WAYS
from candlelab.compare.pooled import UNIT, Pooled, pool
from candlelab.compare.record import OUTCOMES, Asked
from candlelab.compare.words import answer_words
from candlelab.glossary import heading, in_words
from candlelab.judge.fates import SAFE
from candlelab.judge.targets import targets_of
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.stats.designs import CannotCompare
from candlelab.stats.factorial import compare_crossed, trend
from candlelab.stats.pairwise import compare_candidates, compare_with_reference, equivalence_test
from candlelab.stats.proportions import ProportionComparison, claim_words, compare_proportions
from candlelab.stats.survival import compare_times


def compare_batches(
    batches: Iterable[Batch | WorkedBatch],
    *,
    by: str,
    metric: str = "burn_rate_g_per_h",
    against: str = "",
    margin: float = 0.0,
    confidence: float = 0.95,
) -> Asked:
    """Which differ, by how much, by more than luck? The answer in words, with its tables.

    Parameters
    ----------
    batches : iterable of Batch or WorkedBatch
        The batches; candles of several are taken together, the batch as a block.
    by : {"wick", "wick_series", "wax", "fragrance_load_pct"}
        What is compared.
    metric : str
        One of `METRICS`, in the unit that its name ends in.
    against : str
        A candidate that all others are compared with (Dunnett 1955); all pairs when empty.
    margin : float
        The largest difference that does not matter: also says whether each pair is closer than that
        (two one-sided tests). Not asked when 0.
    confidence : float
        Of the intervals.

    Returns
    -------
    Asked
        What cannot be compared is told in ``refused``.

    Raises
    ------
    ValueError
        For another ``by`` or ``metric``.
    CannotCompare
        For ``against`` or ``margin`` where no candidates are compared, and an unknown ``against``.

    Examples
    --------
    >>> from candlelab import compare_batches, demo_folder, read_batch
    >>> asked = compare_batches([read_batch(demo_folder("waxes"))], by="wax")
    >>> asked.crossed.interaction["p_value"].iloc[0] > 0.05
    np.True_
    """
    for word, given, known in (("by", by, WAYS), ("metric", metric, METRICS)):
        if given not in known:
            raise ValueError(f"{word} must be one of {', '.join(known)}, not {given!r}")
    asked = _asked(pool(batches), by, metric, against, margin, confidence)
    return replace(asked, answer=answer_words(asked))


def _asked(pooled: Pooled, by: str, metric: str, against, margin, confidence) -> Asked:
    """Everything that is asked of the batches, without the answer in words."""
    table = pooled.burns if metric in BURN_METRICS else pooled.fresh
    refused: list[str] = []
    notes: list[str] = []
    given = {"metric": metric, "unit": UNIT, "confidence": confidence}
    given["covariates"] = _covariates(table, by, notes)
    tried = partial(_tried, refused)
    found = _compared(table, by, against, margin, given, tried)
    fresh = pooled.fresh.assign(**{by: _labels(pooled.fresh, by)})
    of_candles = {"by": by, "unit": UNIT, "confidence": confidence}
    outcomes = {
        outcome: tried(compare_proportions, fresh, outcome=outcome, **of_candles)
        for outcome in OUTCOMES
    }
    outcomes = {name: one for name, one in outcomes.items() if one is not None}
    pool_ends = {"after": "full_pool_after_h", "until": "full_pool_by_h"}
    times = tried(compare_times, fresh, **pool_ends, **of_candles)
    choice = _choice(pooled, refused) if by == "wick" else None
    rows = table[~table["excluded"] & table[metric].notna()]
    keys = list(dict.fromkeys([*UNIT, by, "wick"]))
    return Asked(
        by=by,
        metric=metric,
        pooled=pooled,
        answer=(),
        rows=rows,
        points=rows.groupby(keys, sort=False)[metric].mean().reset_index(),
        **found,
        outcomes=outcomes,
        times=times,
        choice=choice,
        claims=_claims(outcomes),
        refused=tuple(dict.fromkeys(in_words(r) for r in refused)),
        notes=tuple(notes),
    )


def _tried(refused: list[str], work: Callable, *args, **given):
    """What ``work`` gives; None, and its words in ``refused``, where it cannot compare."""
    try:
        return work(*args, **given)
    except CannotCompare as error:
        refused.append(str(error))
        return None


def _compared(table, by, against, margin, given, tried) -> dict:
    """The comparison that the question asks for: a line, two things at once, or candidates."""
    found = dict.fromkeys(("comparison", "crossed", "trend", "equivalence"))
    if by == "fragrance_load_pct":
        line = tried(trend, table, against=by, **given)
        return _no_pairs(found | {"trend": line}, against, margin)
    if by == "wax" and _is_crossed(table, "wax", "wick"):
        others = tuple(c for c in given["covariates"] if c != "wick")
        given = given | {"covariates": others}
        crossed = tried(compare_crossed, table, by=("wax", "wick"), **given)
        return _no_pairs(found | {"crossed": crossed}, against, margin)
    if against:
        found["comparison"] = compare_with_reference(table, by=by, reference=against, **given)
    else:
        found["comparison"] = tried(compare_candidates, table, by=by, **given)
    if margin:
        found["equivalence"] = equivalence_test(table, by=by, margin=margin, **given)
    return found


def _no_pairs(found: dict, against: str, margin: float) -> dict:
    """Refuse a reference or a margin where nothing is compared pair by pair."""
    if against or margin:
        what = "--against" if against else "--margin"
        raise CannotCompare(
            f"{what} compares candidates pair by pair. Here wax and wick, or loads, are compared "
            "as a whole: use --by wick."
        )
    return found


def _labels(table: pd.DataFrame, by: str) -> pd.Series:
    return table[by] if by != "fragrance_load_pct" else table[by].map(lambda load: f"{load:g} %")


def _covariates(table: pd.DataFrame, by: str, notes: list[str]) -> tuple[str, ...]:
    """What else varies, as blocks; depth where a candle met its wick part-used."""
    used = table[~table["excluded"]]
    found = [
        name for name in ("wick", *RECIPE) if name != by and used[name].nunique(dropna=False) > 1
    ]
    if by in ("wick", "wick_series") and "wick" in found:
        found.remove("wick")
    one_scent = used.loc[used["fragrance_load_pct"] != 0, "fragrance"].nunique() <= 1
    if "fragrance" in found and (one_scent or by == "fragrance_load_pct"):
        found.remove("fragrance")  # no fragrance is a load of 0
    if "depth_pct" in table and (used["run"] > 1).any():
        found.append("depth_pct")
        notes.append(
            "Some burns are on a second wick in a part-used candle, so the share of fill used is "
            "corrected for."
        )
    if by == "wick_series" and used.groupby(by)["wick"].nunique().max() > 1:
        notes.append(
            "A wick series stands for the sizes burnt here, taken together: other sizes of it may "
            "burn quite differently."
        )
    if used["batch"].nunique() > 1:
        if used.groupby(by)["batch"].nunique().max() > 1:
            found.append("batch")
        else:
            notes.append(
                f"Each {heading(by)} was burnt in one batch only: what differs between batches "
                "(days, room, lots) is in the difference."
            )
    return tuple(found)


def _is_crossed(table: pd.DataFrame, a: str, b: str) -> bool:
    used = table[~table["excluded"]]
    return (
        used[a].nunique() > 1
        and used[b].nunique() > 1
        and len(used[[a, b]].drop_duplicates()) == used[a].nunique() * used[b].nunique()
    )


def _choice(pooled: Pooled, refused: list[str]) -> Choice | None:
    """The choice by the first batch's targets, among candidates whose fresh candles all passed."""
    vessels = list(pooled.fresh["vessel"].unique())
    targets = targets_of(pooled.first.settings, vessels[0] if len(vessels) == 1 else "")
    if not targets:
        refused.append(
            "batch.toml names no target, so there is nothing to choose by: add [targets]."
        )
        return None
    values = pooled.fresh.drop(columns=["candidate"]).rename(columns={"wick": "candidate"})
    unsafe = _unsafe(pooled)
    safe = {name: unsafe.get(name, "") for name in values["candidate"].unique()}
    return choose(values, targets, safe, above=pooled.above, below=pooled.below)


def _unsafe(pooled: Pooled) -> dict[str, str]:
    """Why a wick may not be chosen, for each that is not safe so far in every recipe it was in."""
    fates = pooled.judged.fates
    out = fates[fates["fate"] != SAFE]
    return {
        wick: " ".join(f"{row.fate}: {row.because}" for row in own.itertuples())
        for wick, own in out.groupby("wick", sort=False)
    }


def _claims(outcomes: dict[str, ProportionComparison]) -> tuple[str, ...]:
    if "passed" not in outcomes:
        return ()
    counts = [
        (row.candidate, int(row.n_yes), int(row.n_candles - row.n_yes))
        for row in outcomes["passed"].estimates.itertuples()
    ]
    return tuple(f"{name}: {claim_words(yes, no, reliability=0.9)}" for name, yes, no in counts)

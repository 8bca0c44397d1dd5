"""Which wick, which wax, how much fragrance: from batches to an answer in words with its tables.

One metric at a time is compared; safety and the studio's targets are taken together for wicks.
Every refusal is a sentence in ``refused``, so that a page always has something true to say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial

import pandas as pd

from candlelab.compare.blocks import (
    Design,
    control_words,
    design_of,
    recipe_columns,
    skipped_words,
    tied_words,
    with_levels,
)
from candlelab.compare.choice import Choice, choose
from candlelab.compare.metrics import METRICS, SHARED, WAYS
from candlelab.compare.parts import blocks_of, compare_parts, rows_of
from candlelab.compare.pooled import UNIT, Pooled, pool
from candlelab.compare.record import OUTCOMES, Asked
from candlelab.compare.values import MEANS, candle_values, said_of
from candlelab.compare.words import answer_words
from candlelab.judge.fates import RULED_OUT, SAFE
from candlelab.judge.targets import targets_of
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.pages.glossary import GLOSSARY, in_words
from candlelab.stats.designs import POOLED, SEPARATE, CannotCompare
from candlelab.stats.factorial import compare_crossed, trend
from candlelab.stats.pairwise import compare_candidates, compare_with_reference, equivalence_test
from candlelab.stats.proportions import claim_words, compare_proportions
from candlelab.stats.survival import compare_times
from candlelab.stats.unequal import compare_as_they_vary
from candlelab.text import counted

SEVERAL_VESSELS = "Each vessel has a pick of its own, so their wicks are not put in one order."


def compare_batches(
    batches: Iterable[Batch | WorkedBatch],
    *,
    by: str,
    metric: str = "burn_rate_g_per_h",
    against: str = "",
    margin: float = 0.0,
    confidence: float = 0.95,
    alike: Iterable[str] = (),
    spread: str = "",
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
    alike : iterable of str
        What is known to make no difference, so that it is not leveled out and bars no answer: names
        of `SHARED`, such as ``batch`` and ``wax_lot``.
    spread : {"", "pooled", "separate"}
        One variation of candles for all candidates, or one for each. Without: one for all but those
        that stand apart in it (`compare_as_they_vary`).

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
    alike = tuple(alike)
    if unknown := [name for name in alike if name not in SHARED]:
        raise ValueError(f"alike must be of {', '.join(SHARED)}, not {unknown[0]!r}")
    if spread not in ("", POOLED, SEPARATE):
        raise ValueError(f"`spread` must be {POOLED} or {SEPARATE}, not {spread!r}")
    work = partial(compare_candidates, spread=spread) if spread else compare_as_they_vary
    asked = _asked(pool(batches), by, metric, against, margin, confidence, alike, work)
    return replace(asked, answer=(*answer_words(asked), *asked.pooled.settings_told))


def _asked(pooled: Pooled, by: str, metric: str, against, margin, confidence, alike, work) -> Asked:
    """Everything that is asked of the batches, without the answer in words."""
    table = _table(pooled, metric)
    refused: list[str] = []
    notes: list[str] = []
    given = {"metric": metric, "unit": UNIT, "confidence": confidence}
    tried = partial(_tried, refused)
    counts = table[table["counts"]]
    crossed = by == "wax" and _is_crossed(counts, "wax", "wick")
    design = _design(counts, by, crossed, alike)
    all_pairs = partial(compare_parts, work=work)
    found = _compared(table, design, crossed, against, margin, given, tried, all_pairs)
    notes += [*control_words(counts, by), *skipped_words(design)]
    notes += [*said_of(table, GLOSSARY[metric].label)]
    notes += _of_series(counts, by)
    fresh = pooled.fresh.assign(**{by: _labels(pooled.fresh, by)})
    of_candles = {"by": by, "unit": UNIT, "confidence": confidence}
    ended = pooled.outcomes.assign(**{by: _labels(pooled.outcomes, by)})
    outcomes = {
        outcome: tried(
            compare_proportions, ended if outcome == "passed" else fresh, outcome=outcome,
            **of_candles,
        )
        for outcome in OUTCOMES
    }  # fmt: skip
    outcomes = {name: one for name, one in outcomes.items() if one is not None}
    pool_ends = {"after": "full_pool_after_h", "until": "full_pool_by_h"}
    times = tried(compare_times, fresh, **pool_ends, **of_candles)
    choice = choice_of(pooled, refused, alike) if by == "wick" else None
    keys = list(dict.fromkeys([*UNIT, by, "wick", metric]))
    return Asked(
        by=by,
        metric=metric,
        pooled=pooled,
        answer=(),
        design=design,
        points=counts[keys].reset_index(drop=True),
        **found,
        outcomes=outcomes,
        times=times,
        choice=choice,
        claims=_claims(ended, by),
        refused=tuple(dict.fromkeys(in_words(r) for r in refused)),
        notes=(*notes, _looked_at(1 + len(outcomes) + (times is not None))),
    )


def _table(pooled: Pooled, metric: str) -> pd.DataFrame:
    """One row per fresh candle, with the metric where it counts."""
    table = with_levels(candle_values(pooled, metric))
    return table.assign(**{metric: table["value"].where(table["counts"])})


def _tried(refused: list[str], work: Callable, *args, **given):
    """What ``work`` gives; None, and its words in ``refused``, where it cannot compare."""
    try:
        return work(*args, **given)
    except CannotCompare as error:
        refused.append(str(error))
        return None


def _compared(table, design, crossed, against, margin, given, tried, all_pairs) -> dict:
    """The comparison that the question asks for: a line, two things at once, or candidates."""
    found = dict.fromkeys(("comparison", "crossed", "trend", "equivalence"))
    if design.by == "fragrance_load_pct" or crossed:
        rows = rows_of(table, design, design.parts[0]) if design.parts else table
        blocks = {"covariates": blocks_of(rows, design, given["metric"])}
        if crossed:
            found["crossed"] = tried(compare_crossed, rows, by=("wax", "wick"), **given, **blocks)
        else:
            found["trend"] = tried(trend, rows, against=design.by, **given, **blocks)
        return _no_pairs(found, against, margin)
    if against:
        rows = rows_of(table, design, design.part_of(against))
        blocks = {"covariates": blocks_of(rows, design, given["metric"])}
        found["comparison"] = compare_with_reference(
            rows, by=design.by, reference=against, **given, **blocks
        )
    else:
        found["comparison"] = tried(all_pairs, table, design, **given)
    if margin:
        work = partial(equivalence_test, margin=margin)
        found["equivalence"] = compare_parts(table, design, work, **given)
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


def _looked_at(n: int) -> str:
    """How many questions are put to the candles at once."""
    return (
        f"This page puts {counted(n, 'question')} to the same candles, one metric with all of its "
        f"pairs, and there are {len(METRICS)} metrics. Each allows for its own pairs and not for "
        "the others: over all metrics luck finds some difference in about 1 of 5 batches. Name the "
        "one that decides before you look."
    )


def _labels(table: pd.DataFrame, by: str) -> pd.Series:
    return table[by] if by != "fragrance_load_pct" else table[by].map(lambda load: f"{load:g} %")


def _design(counts: pd.DataFrame, by: str, crossed: bool, alike) -> Design:
    """What can be told apart, and what is leveled out: batches, lots, days, the rest of recipes."""
    others = [*SHARED, *recipe_columns(by)]
    if crossed or by == "wick_series":
        others.remove("wick")
    if by == "wax":
        others.remove("wax_lot")  # each wax has lots of its own
    scents = counts.loc[counts["fragrance_load_pct"] != 0, "fragrance"].nunique()
    if scents <= 1 or by == "fragrance_load_pct":
        others.remove("fragrance")  # no fragrance is a load of 0
    return design_of(counts, by, others, alike)


def _of_series(counts: pd.DataFrame, by: str) -> list[str]:
    if by != "wick_series" or counts.empty or counts.groupby(by)["wick"].nunique().max() < 2:
        return []
    return [
        "A wick series stands for the sizes burned here, taken together: other sizes of it may "
        "burn quite differently."
    ]


def _is_crossed(table: pd.DataFrame, a: str, b: str) -> bool:
    return (
        table[a].nunique() > 1
        and table[b].nunique() > 1
        and len(table[[a, b]].drop_duplicates()) == table[a].nunique() * table[b].nunique()
    )


def choice_of(pooled: Pooled, refused: list[str], alike: Iterable[str] = ()) -> Choice | None:
    """The choice by the first batch's targets, among candidates whose fresh candles all passed.

    What the comparison levels out is leveled out; where it cannot tell, nobody is called best. A
    vessel has targets and a pick of its own: wicks of several are not put in one order.
    """
    vessels = list(pooled.fresh["vessel"].unique())
    if len(vessels) > 1:
        refused.append(SEVERAL_VESSELS)
        return None
    targets = targets_of(pooled.first.settings, *(vessels or [""]))
    if not targets:
        refused.append(
            "batch.toml names no target, so there is nothing to choose by: add [targets]."
        )
        return None
    values = with_levels(pooled.fresh)
    rates = [t.quantity for t in targets if t.quantity in MEANS]
    values = values.assign(**{q: candle_values(pooled, q)["value"] for q in rates})
    unsafe = _unsafe(pooled)
    safe = {name: unsafe.get(name, "") for name in values["wick"].unique()}
    design = _design(values[values["wick"].map(safe) == ""], "wick", False, alike)
    values = values.drop(columns=["candidate"]).rename(columns={"wick": "candidate"})
    how = {"above": pooled.above, "below": pooled.below, "display": pooled.first.settings.display}
    apart = "" if design.whole else f"{tied_words(design)[0]}"
    return choose(values, targets, safe, **how, blocks=design.blocks, apart=apart)


def _unsafe(pooled: Pooled) -> dict[str, str]:
    """Why a wick may not be chosen, for each that is not safe so far in every recipe it was in.

    A recipe whose candles were all set aside, and in which nothing failed, says nothing.
    """
    fates = pooled.judged.fates
    counted = (fates[["n_passed", "n_failed", "n_gaps", "n_burning"]] > 0).any(axis=1)
    out = fates[(fates["fate"] != SAFE) & (counted | (fates["fate"] == RULED_OUT))]
    return {
        wick: " ".join(f"{row.fate}: {row.because}" for row in own.itertuples())
        for wick, own in out.groupby("wick", sort=False)
    }


def _claims(ended: pd.DataFrame, by: str) -> tuple[str, ...]:
    """What the candles of each show; one that was not fully checked shows nothing."""
    said = []
    for name, own in ended.groupby(by, sort=False):
        passed, failed = int(own["passed"].sum()), int(own["failed"].sum())
        if passed + failed:
            words = claim_words(passed, failed, reliability=0.9)
            gaps = len(own) - passed - failed
            open_ = f" Not counted: {counted(gaps, 'candle')}, not fully checked." if gaps else ""
            said.append(f"{name}: {words}{open_}")
    return tuple(said)

"""Which wick, which wax, how much fragrance: from batches to an answer in words with its tables.

One metric at a time is compared; safety and the studio's targets are taken together for wicks.
Every
refusal is a sentence in ``refused``, so that a page always has something true to say.
"""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from candlelab.compare.choice import Choice, choose
from candlelab.compare.pooled import BURN_METRICS, METRICS, UNIT, Pooled, batch_names, pool
from candlelab.compare.record import OUTCOMES, Asked
from candlelab.compare.words import answer_words
from candlelab.glossary import heading, in_words
from candlelab.judge.safety import NOT_MET, NOT_RECORDED, judge_safety
from candlelab.logs.batch import Batch
from candlelab.stats.designs import CannotCompare
from candlelab.stats.factorial import compare_crossed, trend
from candlelab.stats.pairwise import compare_candidates
from candlelab.stats.proportions import ProportionComparison, claim_words, compare_proportions
from candlelab.stats.survival import compare_times
from candlelab.text import listed

WAYS = ("wick", "wick_series", "wax", "fragrance_load_pct")
_RECIPE = ("vessel", "wax", "wick", "fragrance", "fragrance_load_pct", "dye")


def ask(
    batches: list[Batch], *, by: str, metric: str = "burn_rate_g_per_h", confidence: float = 0.95
) -> Asked:
    """Compare by ``wick``, ``wick_series``, ``wax`` or ``fragrance_load_pct`` in one of METRICS.

    Raises ValueError for another ``by`` or ``metric``. What cannot be compared is told in
    ``refused``.
    """
    for word, given, known in (("by", by, WAYS), ("metric", metric, METRICS)):
        if given not in known:
            raise ValueError(f"{word} must be one of {', '.join(known)}, not {given!r}")
    pooled = pool(batches)
    table = pooled.burns if metric in BURN_METRICS else pooled.fresh
    refused: list[str] = []
    notes: list[str] = []
    covariates = _covariates(table, by, notes)

    def tried(work: Callable):
        try:
            return work()
        except CannotCompare as error:
            refused.append(str(error))
            return None

    given = {"metric": metric, "unit": UNIT, "confidence": confidence}
    crossed = comparison = line = None
    if by == "fragrance_load_pct":
        line = tried(lambda: trend(table, against=by, covariates=covariates, **given))
    elif by == "wax" and _is_crossed(table, "wax", "wick"):
        others = tuple(c for c in covariates if c != "wick")
        crossed = tried(
            lambda: compare_crossed(table, by=("wax", "wick"), covariates=others, **given)
        )
    else:
        comparison = tried(lambda: compare_candidates(table, by=by, covariates=covariates, **given))
    fresh = pooled.fresh.assign(**{by: _labels(pooled.fresh, by)})
    outcomes = {}
    for outcome in OUTCOMES:
        found = tried(
            lambda: compare_proportions(
                fresh, outcome=outcome, by=by, unit=UNIT, confidence=confidence
            )
        )
        if found is not None:
            outcomes[outcome] = found
    times = tried(
        lambda: compare_times(
            fresh,
            after="full_pool_after_h",
            until="full_pool_by_h",
            by=by,
            unit=UNIT,
            confidence=confidence,
        )
    )
    choice = _choice(pooled, refused) if by == "wick" else None
    rows = table[~table["excluded"] & table[metric].notna()]
    keys = list(dict.fromkeys([*UNIT, by, "wick"]))
    points = rows.groupby(keys, sort=False)[metric].mean().reset_index()
    asked = Asked(
        by,
        metric,
        pooled,
        (),
        rows,
        points,
        comparison,
        crossed,
        line,
        outcomes,
        times,
        choice,
        _claims(outcomes),
        tuple(dict.fromkeys(in_words(r) for r in refused)),
        tuple(notes),
    )
    return Asked(**{**vars(asked), "answer": answer_words(asked)})


def _labels(table: pd.DataFrame, by: str) -> pd.Series:
    return table[by] if by != "fragrance_load_pct" else table[by].map(lambda load: f"{load:g} %")


def _covariates(table: pd.DataFrame, by: str, notes: list[str]) -> tuple[str, ...]:
    """What else varies, as blocks; depth where a candle met its wick part-used."""
    used = table[~table["excluded"]]
    found = [name for name in _RECIPE if name != by and used[name].nunique(dropna=False) > 1]
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
            "A wick series stands for the sizes burnt here, taken together: other sizes of it "
            "may burn quite differently."
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
    """Safety first: a candidate with a fresh candle that did not pass is out; then the targets of
    the first batch."""
    targets = pooled.batches[0].settings.targets
    if not targets:
        refused.append(
            "batch.toml names no target, so there is nothing to choose by: add [targets]."
        )
        return None
    values = pooled.fresh.drop(columns=["candidate"]).rename(columns={"wick": "candidate"})
    safe = {}
    for batch, name in zip(pooled.batches, batch_names(list(pooled.batches))):
        verdicts = judge_safety(batch)
        wick = verdicts.candle_verdicts.set_index("candidate")["wick"]
        for row in verdicts.candidates.itertuples():
            outcome = next(
                (
                    v
                    for v in (NOT_MET, NOT_RECORDED)
                    if v in (row.standard_verdict, row.studio_verdict)
                ),
                None,
            )
            if outcome:
                own = verdicts.candidate_criteria.query(
                    "candidate == @row.candidate and decides and outcome == @outcome"
                )["criterion"]
                what = f": {listed(own, 4)}" if len(own) else ""
                safe[
                    wick[row.candidate]
                    if isinstance(wick[row.candidate], str)
                    else wick[row.candidate].iloc[0]
                ] = f"{outcome}{what} ({name})"
    safe = {name: safe.get(name, "") for name in values["candidate"].unique()}
    return choose(values, targets, safe, above=pooled.above, below=pooled.below)


def _claims(outcomes: dict[str, ProportionComparison]) -> tuple[str, ...]:
    if "passed" not in outcomes:
        return ()
    rows = outcomes["passed"].estimates
    return tuple(
        f"{row.candidate}: "
        f"{claim_words(int(row.n_yes), int(row.n_candles - row.n_yes), reliability=0.9)}"
        for row in rows.itertuples()
    )

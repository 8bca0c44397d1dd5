"""Does the pick do it again? A confirmation is held against what its screening predicted.

A candidate stands when all its fresh candles met every deciding criterion, none of them (nor their
mean) fell outside of what the screening predicted, and they are enough to have noticed a change
that matters. It does not stand when a criterion was not met or a measurement fell outside. Else
there are not enough candles. Screening and confirmation count passes together only where the recipe
is the same; what was changed in between is new evidence with its own count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.confirm.matching import PARTS, Match, candidate_recipes, match_candidates
from candlelab.confirm.ranges import (
    CANDLE_COLUMNS,
    RANGE_COLUMNS,
    Predicted,
    candles_needed,
    error_each,
    hold,
    predict,
    screened_values,
    wall_metric,
)
from candlelab.confirm.rounds import (
    COUNTS,
    RATE,
    Round,
    not_counted,
    only_fresh,
    pass_counts,
    pass_row,
    read_round,
    same_limits,
)
from candlelab.confirm.verdict import VERDICT_COLUMNS, verdict
from candlelab.logs.batch import Batch
from candlelab.logs.names import bare
from candlelab.stats.designs import check_confidence
from candlelab.text import listed

SCREENING, CONFIRMATION, TOGETHER = "screening", "confirmation", "both together"
_COUNTS = [*COUNTS, "failure_rate_up_to_pct"]


class CannotConfirm(ValueError):
    """These batches, or these candidates, cannot be held against each other."""


@dataclass(frozen=True, eq=False)
class Confirmation:
    """Verdicts and what they rest on. Tables have one row per ...

    ``verdicts``: candidate carried forward; ``ranges``: candidate and measurement; ``candles``:
    fresh candle and measurement; ``screened``: whole screening candle of such a candidate and
    measurement; ``passes``: candidate and round, and both together; ``recipes``: candidate and part
    of the recipe; ``new_evidence``: candidate that is not the same as any of the screening;
    ``not_carried``: candidate of the screening that was not burnt again as it was; ``not_counted``:
    candle that is no fresh evidence or measured no whole life. ``error`` is the chance of a false
    alarm of one range, ``confidence`` that of none over all of them.
    """

    screening: Round
    confirmation: Round
    verdicts: pd.DataFrame
    ranges: pd.DataFrame
    candles: pd.DataFrame
    screened: pd.DataFrame
    passes: pd.DataFrame
    recipes: pd.DataFrame
    new_evidence: pd.DataFrame
    not_carried: pd.DataFrame
    not_counted: pd.DataFrame
    predicted: tuple[Predicted, ...]
    confidence: float
    error: float
    shift_pct: float
    power: float


def confirm_pick(
    screening: Batch,
    confirmation: Batch,
    *,
    candidates=(),
    confidence: float = 0.95,
    shift_pct: float = 20.0,
    power: float = 0.8,
) -> Confirmation:
    """Hold a confirmation against what its screening predicted.

    Parameters
    ----------
    screening, confirmation : Batch
        The two rounds; they may be logged in different units and formats.
    candidates : iterable of str
        Those to judge, as the pages name them; all that both rounds have, when empty.
    confidence : float
        Chance that no candidate whose truth is unchanged falls outside, over all candidates,
        measurements and candles.
    shift_pct, power : float
        There are enough candles when a change of the burn rate by so many percent would have been
        noticed with that chance.

    Returns
    -------
    Confirmation
        ``verdicts`` has one row per candidate: stands, does not stand, or not enough candles; its
        other tables are what that rests on.

    Raises
    ------
    CannotConfirm
        For an unknown candidate, and two rounds that are one batch.
    ValueError
        For a value out of its range.

    References
    ----------
    Intervals for all of several further values: G. J. Hahn, J. Am. Stat. Assoc. 65:1668, 1970.

    Examples
    --------
    >>> from candlelab import confirm_pick, demo_folder, read_batch
    >>> rounds = [read_batch(demo_folder(name)) for name in ("screening", "confirmation")]
    >>> confirm_pick(*rounds).verdicts[["candidate", "verdict"]].iloc[0].tolist()
    ['square braid 2', 'stands']
    """
    _check(screening, confirmation)
    first, second = read_round(screening), read_round(only_fresh(screening, confirmation))
    return confirm_rounds(
        first,
        second,
        candidates=candidates,
        confidence=confidence,
        shift_pct=shift_pct,
        power=power,
    )


def confirm_rounds(
    first: Round, second: Round, *, candidates=(), confidence=0.95, shift_pct=20.0, power=0.8
) -> Confirmation:
    """`confirm_pick` on rounds that are worked out already; ``second`` holds fresh candles only."""
    _check_numbers(confidence, shift_pct, power)
    screening = first.batch
    matches = match_candidates(screening, second.batch)
    names, matches = _chosen(matches, list(candidate_recipes(screening).index), first, candidates)
    same = {m.near: m.candidate for m in matches if m.same}
    values = second.values[second.values["candidate"].isin(list(same.values()))]
    wall = wall_metric(pd.concat([first.values[first.values["candidate"].isin(names)], values]))
    predicted = predict(first, names, wall)
    error = error_each(predicted, confidence)
    found = [hold(f, second, same.get(f.candidate, ""), error) for f in predicted]
    table = pd.DataFrame([row for row, _ in found], columns=RANGE_COLUMNS)
    fresh = pd.DataFrame([row for _, rows in found for row in rows], columns=CANDLE_COLUMNS)
    asked = {"shift_pct": shift_pct, "error": error, "power": power}
    verdicts = [
        verdict(name, same.get(name, ""), first, second, predicted, table, fresh, asked)
        for name in names
    ]
    others = [not_counted(first, SCREENING), not_counted(second, CONFIRMATION)]
    return Confirmation(
        screening=first,
        confirmation=second,
        verdicts=pd.DataFrame(verdicts, columns=VERDICT_COLUMNS),
        ranges=table,
        candles=fresh,
        screened=screened_values(first, predicted),
        passes=_passes(first, second, names, same),
        recipes=_recipes(matches),
        new_evidence=_new_evidence(second, matches),
        not_carried=_not_carried(first, screening, matches),
        not_counted=pd.concat(others, ignore_index=True),
        predicted=tuple(predicted),
        confidence=confidence,
        error=error,
        shift_pct=shift_pct,
        power=power,
    )


def candles_to_confirm(
    screening: Batch, candidates, *, confidence=0.95, shift_pct=20.0, power=0.8
) -> dict[str, int | None]:
    """How many fresh candles of each of these candidates would settle it, by the screening alone.

    Parameters
    ----------
    screening : Batch
        The screening batch.
    candidates : iterable of str
        Names as in the screening.
    confidence, shift_pct, power : float
        As in `confirm_pick`.

    Returns
    -------
    dict
        Candles by candidate; None where no number of candles would do.

    Raises
    ------
    CannotConfirm
        For an unknown candidate.

    Examples
    --------
    >>> from candlelab import candles_to_confirm, demo_folder, read_batch
    >>> candles_to_confirm(read_batch(demo_folder("screening")), ["square braid 2"])
    {'square braid 2': 3}
    """
    return candles_to_settle(
        read_round(screening), candidates, confidence=confidence, shift_pct=shift_pct, power=power
    )


def candles_to_settle(
    first: Round, candidates, *, confidence=0.95, shift_pct=20.0, power=0.8
) -> dict[str, int | None]:
    """`candles_to_confirm` on a round that is worked out already."""
    _check_numbers(confidence, shift_pct, power)
    known = list(candidate_recipes(first.batch).index)
    names = list(dict.fromkeys(_known(name, known) for name in candidates))
    wall = wall_metric(first.values[first.values["candidate"].isin(names)])
    predicted = predict(first, names, wall)
    error = error_each(predicted, confidence)
    return {
        f.candidate: candles_needed(f, shift_pct=shift_pct, error=error, power=power)
        for f in predicted
        if f.metric == RATE
    }


def _check_numbers(confidence, shift_pct, power) -> None:
    check_confidence(confidence)
    asked = (("shift_pct", shift_pct, 0.0, 100.0), ("power", power, 0.5, 1.0))
    for name, value, low, high in asked:
        if isinstance(value, bool) or not isinstance(value, int | float) or not low < value < high:
            raise ValueError(
                f"{name} must be a number above {low:g} and below {high:g}, not {value!r}."
            )


def _check(screening: Batch, confirmation: Batch) -> None:
    one, two = (sorted(b.files["sha256"]) for b in (screening, confirmation))
    if screening is confirmation or (len(one) and one == two):
        raise CannotConfirm(
            "Screening and confirmation are one and the same batch: candles cannot confirm "
            "themselves. Give the folder of fresh candles."
        )


def _known(name: str, known: list[str]) -> str:
    for one in known:
        if bare(str(name)) == bare(one):
            return one
    raise CannotConfirm(f"There is no candidate {name}. There are {listed(known, 12)}.")


def _chosen(
    matches: list[Match], screened: list[str], first: Round, wanted
) -> tuple[list[str], list[Match]]:
    """Names (of the screening) to judge, its best first, and the matches that are asked for."""
    if wanted:
        known = list(dict.fromkeys([*screened, *(m.candidate for m in matches)]))
        asked = {_known(name, known) for name in wanted}
        matches = [m for m in matches if m.candidate in asked or m.near in asked]
    again = {m.near for m in matches if m.same} | (asked if wanted else set())
    names = [name for name in screened if name in again]
    if not wanted:
        ranks = first.ranks.reindex(screened)
        names = names or list(ranks.index[ranks == ranks.min()])
    order = first.ranks.reindex(names).fillna(np.inf)
    return [
        name for _, name in sorted(zip(order, names, strict=True), key=lambda pair: pair[0])
    ], matches


# ---------------------------------------------------------------- tables


def _passes(first: Round, second: Round, names: list[str], same: dict[str, str]) -> pd.DataFrame:
    rows = []
    for name in names:
        old, new = pass_counts(first, name), pass_counts(second, same.get(name, ""))
        rows.append((name, SCREENING, *pass_row(old)))
        if name in same:
            rows.append((name, CONFIRMATION, *pass_row(new)))
        if name in same and same_limits(first.batch, second.batch):
            rows.append((name, TOGETHER, *pass_row({key: old[key] + new[key] for key in old})))
    return pd.DataFrame(rows, columns=["candidate", "round", *_COUNTS])


def _recipes(matches: list[Match]) -> pd.DataFrame:
    parts = [
        m.parts.assign(candidate=m.candidate, part=m.parts["part"].map(PARTS))
        for m in matches
        if m.near
    ]
    columns = ["candidate", "part", "in_screening", "in_confirmation", "sameness"]
    return pd.concat(parts, ignore_index=True)[columns] if parts else pd.DataFrame(columns=columns)


def _new_evidence(second: Round, matches: list[Match]) -> pd.DataFrame:
    rows = []
    for m in matches:
        if not m.same:
            near = m.near if len(m.changes) <= 3 else ""
            changes = "; ".join(m.changes) if near else "nothing like it in the screening"
            rows.append((m.candidate, near, changes, *pass_row(pass_counts(second, m.candidate))))
    return pd.DataFrame(rows, columns=["candidate", "near", "changed", *_COUNTS])


def _not_carried(first: Round, screening: Batch, matches: list[Match]) -> pd.DataFrame:
    carried = {m.near for m in matches if m.same}
    table = first.verdicts.candidates.set_index("candidate")
    names = [n for n in candidate_recipes(screening).index if n not in carried and n in table.index]
    found = table.loc[names, ["standard_verdict", "studio_verdict"]].reset_index()
    found.insert(1, "rank", first.ranks.reindex(names).astype("Int64").to_numpy())
    return found.sort_values("rank", kind="stable", ignore_index=True)

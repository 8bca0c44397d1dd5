"""Does the pick do it again? A confirmation is held against what its screening predicted.

A candidate does not stand when anything of it failed in either round, whoever set it aside, or when
a fresh candle (or their mean) fell outside of what the screening predicted. It stands when enough
fresh candles passed everything to have noticed a change that matters; a gap in one candle leaves
the others standing. Else it takes more candles.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candidates import other_spellings
from candlelab.burns.repeats import SAME_CANDLE
from candlelab.confirm.matching import Match, match_candidates
from candlelab.confirm.ranges import CANDLE_COLUMNS, RANGE_COLUMNS, hold, screened_values
from candlelab.confirm.rounds import Round, not_counted, read_round
from candlelab.confirm.tables import (
    CONFIRMATION,
    SCREENING,
    new_evidence,
    not_carried,
    passes,
    recipes,
)
from candlelab.confirm.verdict import VERDICT_COLUMNS, Held, verdict
from candlelab.judge.failures import named_alike
from candlelab.judge.limits import by_the_stricter
from candlelab.judge.predicted import (
    BATCH_SD_PCT,
    SHIFT_PCT,
    Predicted,
    candles_to_settle,
    error_each,
    predict,
    wall_metric,
)
from candlelab.judge.together import Together, side_by_side
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch
from candlelab.logs.names import bare
from candlelab.stats.designs import check_confidence
from candlelab.text import is_number, listed

_FIRST, _SECOND = "the screening", "the confirmation"


class CannotConfirm(ValueError):
    """These batches, or these candidates, cannot be held against each other."""


@dataclass(frozen=True, eq=False)
class Confirmation:
    """Verdicts and what they rest on. Tables have one row per ...

    ``verdicts``: candidate carried forward; ``ranges``: candidate and measurement; ``candles``:
    fresh candle and measurement; ``screened``: whole screening candle of such a candidate and
    measurement; ``passes``: candidate and round, and both together; ``recipes``: candidate and part
    of the recipe; ``new_evidence``: candidate that is not the same as any of the screening;
    ``not_carried``: candidate of the screening not burned again as it was; ``not_counted``:
    candle that is no fresh evidence or measured no whole life. ``reasons`` says what each verdict
    rests on. ``judged`` are both rounds judged as one, ``named`` the names of the screening's
    candidates there, ``others`` those of what else was burned in the confirmation, ``failed`` what
    failed in either. ``notes`` says where limits or spellings differed. ``error`` is the
    chance of a false alarm of one range, ``confidence`` that of none over all of them.
    """

    screening: Round
    confirmation: Round
    verdicts: pd.DataFrame
    reasons: dict[str, tuple[str, ...]]
    ranges: pd.DataFrame
    candles: pd.DataFrame
    screened: pd.DataFrame
    passes: pd.DataFrame
    recipes: pd.DataFrame
    new_evidence: pd.DataFrame
    not_carried: pd.DataFrame
    not_counted: pd.DataFrame
    predicted: tuple[Predicted, ...]
    judged: Together
    failed: pd.DataFrame
    named: dict[str, str]
    others: tuple[str, ...]
    notes: tuple[str, ...]
    confidence: float
    error: float
    shift_pct: float
    power: float
    batch_sd_pct: float

    @property
    def limits(self) -> dict[str, float]:
        """The stop limit of the wall, by the measurement of it that both rounds have [degC]."""
        stop = self.confirmation.batch.settings.limits.wall_stop_c
        return {f.metric: stop for f in self.predicted if f.metric.startswith("wall")}


def confirm_pick(
    screening: Batch | WorkedBatch,
    confirmation: Batch | WorkedBatch,
    *,
    candidates: Iterable[str] = (),
    confidence: float = 0.95,
    shift_pct: float = SHIFT_PCT,
    power: float = 0.8,
    batch_sd_pct: float = BATCH_SD_PCT,
) -> Confirmation:
    """Hold a confirmation against what its screening predicted.

    Parameters
    ----------
    screening, confirmation : Batch or WorkedBatch
        The two rounds; they may be logged in different units and formats. Both are judged by the
        stricter of their limits, and a candle that both have is no fresh one.
    candidates : iterable of str
        Those to judge, as the pages name them; all that both rounds have, when empty.
    confidence : float
        Chance that no candidate whose truth is unchanged falls outside, over all candidates,
        measurements and candles.
    shift_pct, power : float
        There are enough candles when a change of the burn rate by so many percent would have been
        noticed with that chance.
    batch_sd_pct : float
        How much pours of one recipe differ: standard deviation from pour to pour, in percent.

    Returns
    -------
    Confirmation
        ``verdicts`` has one row per candidate: stands, does not stand, or burn more candles; its
        other tables are what that rests on.

    Raises
    ------
    CannotConfirm
        For an unknown candidate, one that was not screened, and rounds without a fresh candle.
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
    both = [one.batch if isinstance(one, WorkedBatch) else one for one in (screening, confirmation)]
    notes = by_the_stricter(both)[1] + other_spellings(both)
    rounds = side_by_side((screening, confirmation))
    _refuse_no_fresh(rounds[1])
    first, second = (read_round(one) for one in rounds)
    return confirm_rounds(
        first,
        second,
        candidates=candidates,
        confidence=confidence,
        shift_pct=shift_pct,
        power=power,
        batch_sd_pct=batch_sd_pct,
        notes=tuple(notes),
    )


def confirm_rounds(
    first: Round,
    second: Round,
    *,
    candidates: Iterable[str] = (),
    confidence: float = 0.95,
    shift_pct: float = SHIFT_PCT,
    power: float = 0.8,
    batch_sd_pct: float = BATCH_SD_PCT,
    notes: tuple[str, ...] = (),
) -> Confirmation:
    """`confirm_pick` on rounds that are worked out side by side, by one set of limits."""
    _check_numbers(confidence, shift_pct, power, batch_sd_pct)
    matches = match_candidates(first.batch, second.batch)
    names, matches = _chosen(matches, first, list(candidates))
    same = {m.near: m.candidate for m in matches if m.same}
    predicted = predict(first.values, names, _wall(first, second, names, same), batch_sd_pct)
    error = error_each(predicted, confidence)
    found = [hold(f, second, same.get(f.candidate, ""), error) for f in predicted]
    table = pd.DataFrame([row for row, _ in found], columns=RANGE_COLUMNS)
    fresh = pd.DataFrame([row for _, rows in found for row in rows], columns=CANDLE_COLUMNS)
    judged = Together({_FIRST: first.worked, _SECOND: second.worked})
    named = _names_of(judged, _FIRST)
    failed, gaps = _of_rounds(judged.failures), _of_rounds(judged.gaps)
    asked = {"shift_pct": shift_pct, "error": error, "power": power}
    measured = (predicted, table, fresh)
    found_out = {
        name: _verdict(name, same.get(name, ""), second, measured, failed, gaps, known, asked)
        for name, known in ((name, named.get(name, name)) for name in names)
    }
    others = [not_counted(first, SCREENING), not_counted(second, CONFIRMATION)]
    rows = [row for row, _ in found_out.values()]
    return Confirmation(
        screening=first,
        confirmation=second,
        verdicts=pd.DataFrame(rows, columns=VERDICT_COLUMNS),
        reasons={name: tuple(said) for name, (_, said) in found_out.items()},
        ranges=table,
        candles=fresh,
        screened=screened_values(first, predicted),
        passes=passes(first, second, names, same),
        recipes=recipes(matches),
        new_evidence=new_evidence(second, matches),
        not_carried=not_carried(first, matches),
        not_counted=pd.concat(others, ignore_index=True),
        predicted=tuple(predicted),
        judged=judged,
        failed=failed,
        named=named,
        others=_others(judged, [named.get(name, name) for name in names]),
        notes=notes,
        confidence=confidence,
        error=error,
        shift_pct=shift_pct,
        power=power,
        batch_sd_pct=batch_sd_pct,
    )


def _wall(first: Round, second: Round, names: list[str], same: dict[str, str]) -> str:
    """The measurement of the wall that both rounds have."""
    values = second.values[second.values["candidate"].isin(list(same.values()))]
    return wall_metric(pd.concat([first.values[first.values["candidate"].isin(names)], values]))


def _verdict(name, own, second, measured, failed, gaps, known, asked):
    """The verdict on one candidate; ``known`` is its name over both rounds."""
    predicted, table, fresh = measured
    return verdict(
        Held(
            name=name,
            own=own,
            second=second,
            failed=_of(failed, known),
            gaps=_of(gaps, known),
            alike=named_alike(failed, known),
            predicted=[f for f in predicted if f.candidate == name],
            ranges=_of(table, name),
            fresh=_of(fresh, name),
            asked=asked,
        )
    )


def _of(table: pd.DataFrame, candidate: str) -> pd.DataFrame:
    return table[table["candidate"] == candidate]


def _names_of(judged: Together, batch: str) -> dict[str, str]:
    """The names over both rounds of the candidates of one."""
    return {own: name for (of, own), name in judged.new_names.items() if of == batch}


def _others(judged: Together, verdicts_on: list[str]) -> tuple[str, ...]:
    """The candidates of the confirmation that have no verdict, by their names over both rounds."""
    every = dict.fromkeys(_names_of(judged, _SECOND).values())
    return tuple(name for name in every if name not in verdicts_on)


def _of_rounds(table: pd.DataFrame) -> pd.DataFrame:
    """Candles of the screening, and means of them, told as such."""
    old, mean = table["batch"] == _FIRST, table["candle"] == ""
    told = old & ~mean & ~table["candle"].str.endswith(f" in {_FIRST}")
    table = table.assign(candle=table["candle"].mask(told, table["candle"] + f" in {_FIRST}"))
    if "words" not in table:
        return table
    told = old & mean & ~table["words"].str.endswith(f", in {_FIRST}")
    return table.assign(words=table["words"].mask(told, table["words"] + f", in {_FIRST}"))


def candles_to_confirm(
    screening: Batch | WorkedBatch,
    candidates: Iterable[str],
    *,
    confidence: float = 0.95,
    shift_pct: float = SHIFT_PCT,
    power: float = 0.8,
    batch_sd_pct: float = BATCH_SD_PCT,
) -> dict[str, int | None]:
    """How many fresh candles of each of these candidates would settle it, by the screening alone.

    Parameters
    ----------
    screening : Batch or WorkedBatch
        The screening batch.
    candidates : iterable of str
        Names as in the screening.
    confidence, shift_pct, power, batch_sd_pct : float
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
    asked = {"confidence": confidence, "shift_pct": shift_pct, "power": power}
    asked["batch_sd_pct"] = batch_sd_pct
    _check_numbers(**asked)
    first = read_round(screening)
    known = list(first.poured.unique())
    names = [_known(name, known) for name in candidates]
    return {n: one.fresh for n, one in candles_to_settle(first.values, names, **asked).items()}


def _check_numbers(confidence, shift_pct, power, batch_sd_pct) -> None:
    check_confidence(confidence)
    for name, value, low, high in (("shift_pct", shift_pct, 0, 100), ("power", power, 0.5, 1)):
        if not is_number(value) or not low < value < high:
            raise ValueError(
                f"{name} must be a number above {low:g} and below {high:g}, not {value!r}."
            )
    if not is_number(batch_sd_pct) or not 0 <= batch_sd_pct < 30:
        raise ValueError(f"batch_sd_pct must be a number from 0 to below 30, not {batch_sd_pct!r}.")


def _refuse_no_fresh(confirmation: WorkedBatch) -> None:
    """Raise CannotConfirm where every candle of the confirmation was in the screening."""
    aside = confirmation.burns.groupby("candle")["exclusion_reason"].first()
    if aside.str.contains(SAME_CANDLE, regex=False).all():
        raise CannotConfirm(
            "Every candle of the confirmation was in the screening: candles cannot confirm "
            "themselves. Give the folder of fresh candles."
        )


def _known(name: str, known: list[str]) -> str:
    for one in known:
        if bare(str(name)) == bare(one):
            return one
    raise CannotConfirm(f"There is no candidate {name}. There are {listed(known, 12)}.")


def _chosen(matches: list[Match], first: Round, wanted: list[str]) -> tuple[list[str], list[Match]]:
    """Names (of the screening) to judge, its best first, and the matches that are asked for."""
    screened = list(first.poured.unique())
    if wanted:
        known = list(dict.fromkeys([*screened, *(m.candidate for m in matches)]))
        asked = {_screened(_known(name, known), screened, matches) for name in wanted}
        matches = [m for m in matches if m.near in asked]
    again = {m.near for m in matches if m.same} | (asked if wanted else set())
    names = [name for name in screened if name in again]
    ranks = first.ranks.reindex(screened)
    if not wanted:
        names = names or list(ranks.index[ranks == ranks.min()])
    order = ranks.reindex(names).fillna(np.inf)
    return list(order.sort_values(kind="stable").index), matches


def _screened(name: str, screened: list[str], matches: list[Match]) -> str:
    """The candidate of the screening that a name stands for; CannotConfirm where there is none."""
    if name in screened:
        return name
    match = next(m for m in matches if m.candidate == name)
    if match.same:
        return match.near
    near = f" Nearest to it is {match.near}: {listed(match.changes)}." if match.near else ""
    raise CannotConfirm(
        f"{name} was not screened, so nothing predicts what it should do.{near} It is a screening "
        "of its own: confirm it on fresh candles after it."
    )

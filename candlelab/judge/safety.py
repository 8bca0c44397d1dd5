"""Whether each check, burn, candle and candidate passed each criterion.

Three outcomes: pass, fail, not checked; what was not checked is never a pass. What was set aside
stays out of averages and out of passes, and its failures count all the same: setting aside hides
nothing. A part-used candle (after a wick change) can show a failure, never a pass.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.groups import RUN, first_rows, reduced, set_aside_whole
from candlelab.candle_formulas import failure_rate_upper
from candlelab.judge.criteria import (
    AFTERSMOKE,
    CANDIDATE,
    CANDLE,
    CHECK,
    KEEPS_BURNING,
    STANDARD,
    STUDIO,
    Criterion,
    criteria_of,
)
from candlelab.logs.batch import Batch
from candlelab.logs.burn_log import burn_places, tells_of_a_burn, tells_of_wax
from candlelab.logs.groups import medians

PASS, FAIL, NOT_CHECKED = "pass", "fail", "not checked"
_ORDER = (PASS, NOT_CHECKED, FAIL)  # from good to bad
_NOISE = 1e-9  # what a change of units may add to a reading
_NO_ROWS = np.zeros(0, dtype=int)
_TOLD = {"criterion": "str", "kind": "str", "decides": "bool", "limit": "float64", "unit": "str"}


@dataclass(frozen=True, eq=False)
class Verdicts:
    """What ``judge_safety`` found, each table with one row per criterion and ...

    ``checks``: check; ``burns``: burn; ``candles``: candle and wick run; ``candidate_criteria``:
    candidate. ``candle_verdicts`` and ``candidates`` bring the criteria together, ``criteria``
    lists them with their sources; ``used`` are the criteria themselves.
    """

    criteria: pd.DataFrame
    checks: pd.DataFrame
    burns: pd.DataFrame
    candles: pd.DataFrame
    candle_verdicts: pd.DataFrame
    candidate_criteria: pd.DataFrame
    candidates: pd.DataFrame
    used: tuple[Criterion, ...]


def judge_safety(batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame) -> Verdicts:
    """Judge a batch against the criteria of standards and against the studio's own limits.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    burns, runs : pandas.DataFrame
        The tables of `burn_cycles` and `wick_runs` [g, mm, degC, h].

    Returns
    -------
    Verdicts
        A check that was due and not made leaves every check criterion of that burn not checked,
        unless it was seen to fail.
    """
    criteria = criteria_of(batch.settings)
    starts = first_rows(burns, RUN)
    runs = runs.assign(excluded=set_aside_whole(burns)[starts])
    at_check = [c for c in criteria if c.level == CHECK]
    readings = np.column_stack([_readings(batch, c) for c in at_check])
    check_table = _judge_checks(batch, at_check, readings)
    burn_table = _judge_burns(batch, burns, at_check, readings)
    candles = _judge_candles(batch, burns, burn_table, runs, criteria)
    verdicts = _candle_verdicts(candles, runs, criteria)
    by_criterion = _judge_candidates(candles, runs, criteria)
    return Verdicts(
        criteria=_criteria_table(criteria),
        checks=check_table,
        burns=burn_table,
        candles=candles,
        candle_verdicts=verdicts,
        candidate_criteria=by_criterion,
        candidates=_candidate_verdicts(verdicts, by_criterion, criteria),
        used=criteria,
    )


def _criteria_table(criteria: tuple[Criterion, ...]) -> pd.DataFrame:
    names = ["criterion", "statement", "limit", "unit", "kind", "decides", "source"]
    return pd.DataFrame({name: [getattr(c, name) for c in criteria] for name in names})


def _outcome(value, limit, complete) -> np.ndarray:
    """Fail above the limit; not checked where something is missing; else pass.

    A reading at the limit passes, also when a change of units added something in the last digit.
    """
    value = np.asarray(value, dtype=float)
    over = np.nan_to_num(value, nan=-np.inf) > np.asarray(limit) + _NOISE
    return np.where(over, FAIL, np.where(complete & np.isfinite(value), PASS, NOT_CHECKED))


def _readings(batch: Batch, criterion: Criterion) -> np.ndarray:
    """What the checks read; a reading in doubt that is no failure is none."""
    read = batch.checks[criterion.column].to_numpy(dtype=float, na_value=np.nan, copy=True)
    doubt = batch.doubts.get(criterion.column, _NO_ROWS)
    read[doubt[read[doubt] <= criterion.limit + _NOISE]] = np.nan
    return read


def _each(criteria, rows: pd.DataFrame) -> pd.DataFrame:
    """The rows once for each criterion, criterion by criterion."""
    at = np.tile(np.arange(len(rows)), len(criteria))
    columns = {name: rows[name].array.take(at) for name in rows}
    for name, kind in _TOLD.items():
        of = pd.array([getattr(c, name) for c in criteria], dtype=kind)
        columns[name] = of.repeat(len(rows))
    return pd.DataFrame(columns)


def _judge_checks(batch: Batch, criteria, readings: np.ndarray) -> pd.DataFrame:
    table = _each(criteria, batch.checks[["candle", "burn", "elapsed_min"]])
    value = readings.ravel(order="F")
    return table.assign(value=value, outcome=_outcome(value, table["limit"], True))


def _judge_burns(batch: Batch, burns: pd.DataFrame, criteria, readings: np.ndarray) -> pd.DataFrame:
    """The worst check of each burn. One that owed no check, and had none, takes no pass away."""
    table = _each(criteria, burns[["candle", "burn", "run", "candidate", "excluded"]])
    place = burn_places(burns, batch.checks)
    worst = reduced(place, readings, len(burns))
    blank = reduced(place, np.isnan(readings), len(burns), by=np.logical_or, blank=False)
    owed, nothing = burns["gap"].to_numpy(), (burns["n_checks"] == 0).to_numpy()
    complete = ~(blank | owed[:, None]).ravel(order="F")
    value = worst.ravel(order="F")
    spared = np.tile(nothing & ~owed, len(criteria))
    outcome = np.where(spared, PASS, _outcome(value, table["limit"], complete))
    return table.assign(value=value, outcome=outcome)


def unwatched(burns: pd.DataFrame) -> pd.DataFrame:
    """Candle and hours of each wick run, and of those the hours in burns that owed no check and
    had none.

    A candle that burned for more than half of its time in burns too short for a check was not
    watched, whatever it owed; common practice, no source.
    """
    starts = first_rows(burns, RUN)
    run = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(burns)))
    hours = burns["burn_time_h"].to_numpy()
    unseen = np.where((burns["n_checks"] == 0) & ~burns["gap"], hours, 0.0)
    sums = pd.DataFrame({"hours_h": hours, "unseen_h": unseen}).groupby(run).sum()
    candle = burns["candle"].array.take(starts)
    return sums.assign(candle=candle, unwatched=sums["unseen_h"] > 0.5 * sums["hours_h"])


def unlogged(burns: pd.DataFrame) -> np.ndarray:
    """Wax that went between a burn and the one before it [g], where it is about a burn's; else 0.

    Half of the wax of a usual burn of that candle, and 1.5 g, at least: a burn that is not in the
    log may have failed anything. Common practice, no source. A note that says where the wax went is
    believed, and one that a burn was not logged as well.
    """
    before, after = (burns[f"mass_{when}_g"].to_numpy() for when in ("before", "after"))
    lost = np.concatenate(([0.0], after[:-1] - before[1:]))[: len(burns)]
    lost[first_rows(burns, RUN)] = 0.0
    much = lost > 1.5
    if much.any():
        told = tells_of_wax(burns["note"]).to_numpy()
        candle = pd.factorize(burns["candle"])[0]
        usual = medians(burns["wax_used_g"].to_numpy(), candle)[candle]
        much &= (lost > 0.5 * usual) & ~told & ~np.concatenate(([False], told[:-1]))
    if (lost > 0).any():
        much |= tells_of_a_burn(burns["note"]).to_numpy() & (lost > 0)
    return np.where(much, lost, 0.0)


def _judge_candles(batch, burns, burn_table, runs, criteria) -> pd.DataFrame:
    """One row per wick run and criterion: the worst of its burns, its end, or its mean."""
    table = _each(criteria, runs[["candle", "run", "candidate", "wick", "excluded"]])
    starts, of_burns = first_rows(burns, RUN), (-1, len(burns))
    at_check = [n for n, c in enumerate(criteria) if c.level == CHECK]
    value = np.full((len(criteria), len(runs)), np.nan)
    read = burn_table["value"].to_numpy().reshape(of_burns)
    value[at_check] = np.fmax.reduceat(read, starts, axis=1)
    unseen = np.zeros(value.shape, dtype=bool)
    blank = (burn_table["outcome"] == NOT_CHECKED).to_numpy().reshape(of_burns)
    unseen[at_check] = np.logical_or.reduceat(blank, starts, axis=1)
    complete = ~(unseen | unwatched(burns)["unwatched"].to_numpy())
    complete &= ~np.logical_or.reduceat(unlogged(burns) > 0, starts)
    last = burns[["fill_used_pct", "ended_by", "gap"]].iloc[np.append(starts[1:], len(burns)) - 1]
    left = 100.0 - last["fill_used_pct"].to_numpy()
    over = (last["ended_by"] == "self").to_numpy()
    little = left <= batch.settings.protocol.end_wax_left_pct
    gone = last["gap"].to_numpy() | runs["replaced"].to_numpy()
    for n, c in enumerate(criteria):
        if c.level == CANDIDATE:
            value[n], complete[n] = _smoke(burns, in_doubt(batch, burns), starts)
        elif c.criterion == KEEPS_BURNING:  # the wax left where it went out too early
            value[n], complete[n] = np.where(over & ~little, left, 0.0), True
        elif c.level == CANDLE:
            value[n], seen = _end_damage(batch, burns, starts)
            complete[n] = over & little & seen & ~gone
    outcome = _outcome(value.ravel(), table["limit"], complete.ravel())
    return table.assign(value=value.ravel(), outcome=outcome)


def in_doubt(batch: Batch, burns: pd.DataFrame) -> np.ndarray:
    """Which burns have an aftersmoke in doubt."""
    doubt = batch.doubts.get("aftersmoke_s", _NO_ROWS)
    if not len(doubt):
        return np.zeros(len(burns), dtype=bool)
    return burn_places(batch.burns.iloc[doubt], burns) >= 0


def _smoke(burns: pd.DataFrame, doubt: np.ndarray, starts: np.ndarray):
    """Mean aftersmoke of each wick run, and whether it was timed whenever it was put out."""
    smoke = burns["aftersmoke_s"]
    run = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(burns)))
    owed = (smoke.isna() & (burns["ended_by"] != "self")).to_numpy() | doubt
    return smoke.groupby(run).mean().to_numpy(), ~np.logical_or.reduceat(owed, starts)


def _end_damage(batch: Batch, burns: pd.DataFrame, starts: np.ndarray):
    """Damage seen in the last checked burn of each wick run, and whether nothing is missing there.

    A wick run without a check was not seen.
    """
    flags = batch.checks[["vessel_damaged", "surface_damaged"]]
    flags = flags.to_numpy(dtype=float, na_value=np.nan)
    place, n = burn_places(burns, batch.checks), len(burns)
    whole = np.isfinite(flags).all(axis=1)
    seen = reduced(place, whole, n, by=np.logical_and, blank=False)
    damage = reduced(place, np.fmax(*flags.T), n)
    checked = np.where(burns["n_checks"] > 0, np.arange(n), -1)
    last = np.maximum.reduceat(checked, starts)
    return np.where(last >= 0, damage[last], np.nan), (last >= 0) & seen[last]


def _badness(outcome) -> np.ndarray:
    """Places in the order of outcomes."""
    return np.where(outcome == FAIL, 2, np.where(outcome == PASS, 0, 1))


def _worst(outcome: np.ndarray, criteria, kind: str) -> np.ndarray:
    """The worst outcome of each column over the criteria of a kind that decide, one per row."""
    own = [n for n, c in enumerate(criteria) if c.decides and c.kind == kind]
    return np.array(_ORDER, dtype=object)[_badness(outcome[own]).max(axis=0)]


def _candle_verdicts(candles: pd.DataFrame, runs: pd.DataFrame, criteria) -> pd.DataFrame:
    """One row per wick run: the standards' verdict and the studio's.

    Aftersmoke is a mean over a candidate, so a candle only has to have it recorded.
    """
    outcome = candles["outcome"].to_numpy().reshape(len(criteria), -1)
    mean = np.array([c.criterion == AFTERSMOKE for c in criteria])[:, None]
    outcome = np.where(mean & (outcome == FAIL), PASS, outcome)
    table = runs[["candle", "run", "candidate", "wick", "excluded", "replaced"]]
    kinds = (STANDARD, STUDIO)
    return table.assign(**{f"{kind}_verdict": _worst(outcome, criteria, kind) for kind in kinds})


def _judge_candidates(
    candles: pd.DataFrame, runs: pd.DataFrame, criteria: tuple[Criterion, ...]
) -> pd.DataFrame:
    """One row per candidate and criterion: passes of fresh candles that count, failures of all."""
    of, names = pd.factorize(runs["candidate"])
    shape = (len(criteria), len(runs))
    outcome = candles["outcome"].to_numpy().reshape(shape)
    worst = reduced(of, candles["value"].to_numpy().reshape(shape).T, len(names))
    means = np.array([c.level == CANDIDATE for c in criteria])
    alone = np.where(means[:, None] & (outcome == FAIL), "", outcome)
    counts = _counts(runs, alone, runs["run"] > 1)
    open_ = (counts["n_candles"] == 0) | (counts["n_not_recorded"] > 0)
    verdict = np.where(open_, NOT_CHECKED, PASS)
    verdict[counts["n_not_met"] > 0] = FAIL
    for n in np.flatnonzero(means):
        own, limit = candles.iloc[n * len(runs) : (n + 1) * len(runs)], criteria[n].limit
        worst[:, n] = _means(own, limit).reindex(names).to_numpy()
        verdict[n, worst[:, n] > limit + _NOISE] = FAIL
    order = np.arange(len(criteria) * len(names)).reshape(len(criteria), -1).T.ravel()
    table = _each(criteria, pd.DataFrame({"candidate": names})).iloc[order]
    table = table.reset_index(drop=True).assign(value=worst.ravel(), outcome=verdict.T.ravel())
    return table.assign(**{name: count.T.ravel() for name, count in counts.items()})


def smoke_groups(part: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The candles over which aftersmoke is averaged: any of the means can fail a candidate.

    Setting a candle aside takes it out of the first mean and not out of the second.
    """
    first, used = part[part["run"] == 1], part[part["run"] > 1]
    return {"": first[~first["excluded"]], "set aside": first, "part-used": used}


def _means(part: pd.DataFrame, limit: float) -> pd.Series:
    """The mean over candles, each its own mean: of the fresh ones, or the worst where one fails."""
    if ((part["run"] == 1) & ~part["excluded"]).all():
        return part.groupby("candidate")["value"].mean()
    of = {k: group.groupby("candidate")["value"].mean() for k, group in smoke_groups(part).items()}
    table = pd.DataFrame(of)
    worst = table.max(axis=1)
    takes = (worst > limit + _NOISE) | ~table.index.isin(of[""].index)
    return worst.where(takes, table[""])


def _counts(runs: pd.DataFrame, outcome: np.ndarray, part_used) -> dict[str, np.ndarray]:
    """How many candles passed, failed and were not checked, by criterion (rows) and candidate: each
    failed candle once, whatever it was, and of the others the fresh ones that count."""
    of = pd.factorize(runs["candidate"])[0]
    candle, names = pd.factorize(runs["candle"])
    pair = pd.factorize(of * len(names) + candle)[0]  # a candle on the wicks of one candidate
    n, owner = 1 + of.max(), of[np.unique(pair, return_index=True)[1]]
    fresh = ((runs["run"] == 1) & ~runs["excluded"]).to_numpy()
    failed = reduced(pair, (outcome == FAIL).T, len(owner), by=np.logical_or, blank=False).T
    used = np.broadcast_to(np.bincount(pair, part_used) > 0, failed.shape)
    open_ = fresh & ~failed[:, pair]

    def count(rows, of):
        return np.array([np.bincount(of[row], minlength=n) for row in rows])

    return {
        "n_candles": count(np.broadcast_to(fresh, outcome.shape), of),
        "n_part_used": count(used, owner),
        "n_met": count(open_ & (outcome == PASS), of),
        "n_not_met": count(failed, owner),
        "n_not_recorded": count(open_ & (outcome == NOT_CHECKED), of),
    }


def _candidate_verdicts(
    verdicts: pd.DataFrame, by_criterion: pd.DataFrame, criteria
) -> pd.DataFrame:
    """One row per candidate: both verdicts, how many candles passed, and what that many show."""
    kinds = (STANDARD, STUDIO)
    each = [_badness(verdicts[f"{kind}_verdict"].to_numpy()) for kind in kinds]
    both = np.array(_ORDER, dtype=object)[np.maximum(*each)][None, :]
    counts = _counts(verdicts, both, (verdicts["run"] > 1) & ~verdicts["excluded"])
    passed, failed = counts["n_met"][0], counts["n_not_met"][0]
    outcome = by_criterion["outcome"].to_numpy().reshape(-1, len(criteria)).T
    return pd.DataFrame({
        "candidate": verdicts["candidate"].unique(),
        **{f"{kind}_verdict": _worst(outcome, criteria, kind) for kind in kinds},
        "n_candles": counts["n_candles"][0],
        "n_part_used": counts["n_part_used"][0],
        "n_passed": passed,
        "n_failed": failed,
        "n_open": counts["n_not_recorded"][0],
        "failure_rate_up_to_pct": 100.0 * failure_rate_upper(failed, passed + failed),
    })  # fmt: skip

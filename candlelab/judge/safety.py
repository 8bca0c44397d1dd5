"""Whether each check, burn, candle and candidate passed each criterion.

Three outcomes: pass, fail, not checked; what was not checked is never a pass. What was set aside
stays out of averages and out of passes, and its failures count all the same: setting aside hides
nothing. A part-used candle (after a wick change) can show a failure, never a pass.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

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

MET, NOT_MET, NOT_RECORDED = "pass", "fail", "not checked"
_ORDER = (MET, NOT_RECORDED, NOT_MET)  # from good to bad
_NOISE = 1e-9  # what a change of units may add to a reading
_NO_ROWS = np.zeros(0, dtype=int)
_RUN = ["candle", "run"]
_COUNTS = ["n_candles", "n_part_used", "n_met", "n_not_met", "n_not_recorded"]


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
    aside = burns.groupby("candle")["excluded"].all()
    runs = runs.assign(excluded=runs["candle"].map(aside).astype(bool))
    at_check = [c for c in criteria if c.level == CHECK]
    readings = np.column_stack([_readings(batch, c) for c in at_check])
    check_table = _judge_checks(batch, at_check, readings)
    burn_table = _judge_burns(batch, burns, at_check, readings)
    candles = _judge_candles(batch, burns, burn_table, runs, criteria)
    verdicts = _candle_verdicts(candles, runs)
    by_criterion = _judge_candidates(candles, criteria)
    return Verdicts(
        criteria=_criteria_table(criteria),
        checks=check_table,
        burns=burn_table,
        candles=candles,
        candle_verdicts=verdicts,
        candidate_criteria=by_criterion,
        candidates=_candidate_verdicts(verdicts, by_criterion),
        used=criteria,
    )


def _criteria_table(criteria: tuple[Criterion, ...]) -> pd.DataFrame:
    names = ["criterion", "statement", "limit", "unit", "kind", "decides", "source"]
    return pd.DataFrame([{name: getattr(c, name) for name in names} for c in criteria])


def _outcome(value, limit, complete) -> np.ndarray:
    """Fail above the limit; not checked where something is missing; else pass.

    A reading at the limit passes, also when a change of units added something in the last digit.
    """
    value = np.asarray(value, dtype=float)
    over = np.nan_to_num(value, nan=-np.inf) > np.asarray(limit) + _NOISE
    return np.where(over, NOT_MET, np.where(complete & np.isfinite(value), MET, NOT_RECORDED))


def _readings(batch: Batch, criterion: Criterion) -> np.ndarray:
    """What the checks read; a reading in doubt that is no failure is none."""
    read = batch.checks[criterion.column].to_numpy(dtype=float, na_value=np.nan, copy=True)
    doubt = batch.doubts.get(criterion.column, _NO_ROWS)
    read[doubt[read[doubt] <= criterion.limit + _NOISE]] = np.nan
    return read


def _each(criteria, rows: pd.DataFrame) -> pd.DataFrame:
    """The rows once for each criterion, criterion by criterion."""
    of = pd.DataFrame(
        {
            "criterion": [c.criterion for c in criteria],
            "kind": [c.kind for c in criteria],
            "decides": [c.decides for c in criteria],
            "limit": [float(c.limit) for c in criteria],
            "unit": [c.unit for c in criteria],
        }
    )
    return of.merge(rows, how="cross")[[*rows, *of]]


def _judge_checks(batch: Batch, criteria, readings: np.ndarray) -> pd.DataFrame:
    table = _each(criteria, batch.checks[["candle", "burn", "elapsed_min"]])
    value = readings.ravel(order="F")
    return table.assign(value=value, outcome=_outcome(value, table["limit"], True))


def _judge_burns(batch: Batch, burns: pd.DataFrame, criteria, readings: np.ndarray) -> pd.DataFrame:
    """The worst check of each burn. One that owed no check, and had none, takes no pass away."""
    table = _each(criteria, burns[["candle", "burn", "run", "candidate", "excluded"]])
    place, every = burn_places(burns, batch.checks), range(len(burns))
    worst = pd.DataFrame(readings).groupby(place).max().reindex(every)
    blank = pd.DataFrame(np.isnan(readings)).groupby(place).any().reindex(every, fill_value=False)
    owed, nothing = burns["gap"].to_numpy(), (burns["n_checks"] == 0).to_numpy()
    complete = ~(blank.to_numpy(dtype=bool) | owed[:, None]).ravel(order="F")
    value = worst.to_numpy(dtype=float).ravel(order="F")
    spared = np.tile(nothing & ~owed, len(criteria))
    outcome = np.where(spared, MET, _outcome(value, table["limit"], complete))
    return table.assign(value=value, outcome=outcome)


def unwatched(burns: pd.DataFrame) -> pd.DataFrame:
    """Hours of each wick run, and of those the hours in burns that owed no check and had none.

    A candle that burned for more than half of its time in burns too short for a check was not
    watched, whatever it owed; common practice, no source.
    """
    hours = burns["burn_time_h"]
    unseen = hours.where((burns["n_checks"] == 0) & ~burns["gap"], 0.0)
    table = burns[_RUN].assign(hours_h=hours, unseen_h=unseen).groupby(_RUN).sum()
    return table.assign(unwatched=table["unseen_h"] > 0.5 * table["hours_h"])


def unlogged(burns: pd.DataFrame) -> pd.Series:
    """Wax that went between a burn and the one before it [g], where it is about a burn's; else 0.

    Half of the wax of a usual burn of that candle, and 1.5 g, at least: a burn that is not in the
    log may have failed anything. Common practice, no source. A note that says where the wax went is
    believed, and one that a burn was not logged as well.
    """
    same = (burns[_RUN] == burns[_RUN].shift()).all(axis=1)
    lost = (burns["mass_after_g"].shift() - burns["mass_before_g"]).where(same, 0.0)
    told = tells_of_wax(burns["note"]) | tells_of_wax(burns["note"]).shift(fill_value=False)
    usual = burns["wax_used_g"].groupby(burns["candle"]).transform("median")
    much = (lost > np.maximum(0.5 * usual, 1.5)) & ~told
    return lost.where(much | (tells_of_a_burn(burns["note"]) & (lost > 0)), 0.0)


def _judge_candles(batch, burns, burn_table, runs, criteria) -> pd.DataFrame:
    """One row per wick run and criterion: the worst of its burns, its end, or its mean."""
    table = _each(criteria, runs[["candle", "run", "candidate", "wick", "excluded"]])
    by = ["criterion", *_RUN]
    key = pd.MultiIndex.from_frame(table[by])
    value = burn_table.groupby(by)["value"].max().reindex(key).to_numpy(copy=True)
    missing = (burn_table["outcome"] == NOT_RECORDED).groupby([burn_table[c] for c in by]).any()
    complete = ~missing.reindex(key, fill_value=False).to_numpy(dtype=bool)
    own = pd.MultiIndex.from_frame(runs[_RUN])
    gone = (unlogged(burns) > 0).groupby([burns[c] for c in _RUN]).any()
    unseen = unwatched(burns)["unwatched"] | gone
    complete &= ~np.tile(unseen.reindex(own).to_numpy(), len(criteria))
    for n, c in enumerate(criteria):
        at = slice(n * len(runs), (n + 1) * len(runs))
        if c.level == CANDIDATE:
            value[at], complete[at] = _smoke(burns, in_doubt(batch, burns), own)
        elif c.criterion == KEEPS_BURNING:
            value[at], complete[at] = _early_out(batch, burns, own), True
        elif c.level == CANDLE:
            value[at], complete[at] = _end_of_life(batch, burns, own, runs)
    return table.assign(value=value, outcome=_outcome(value, table["limit"], complete))


def in_doubt(batch: Batch, burns: pd.DataFrame) -> np.ndarray:
    """Which burns have an aftersmoke in doubt."""
    doubted = batch.burns.iloc[batch.doubts.get("aftersmoke_s", _NO_ROWS)]
    return burn_places(doubted, burns) >= 0


def _smoke(
    burns: pd.DataFrame, doubt: np.ndarray, key: pd.MultiIndex
) -> tuple[np.ndarray, np.ndarray]:
    """Mean aftersmoke of each wick run, and whether it was timed whenever it was put out."""
    smoke, of_run = burns["aftersmoke_s"], [burns[c] for c in _RUN]
    owed = (smoke.isna() & (burns["ended_by"] != "self")) | doubt
    owed = owed.groupby(of_run).any().reindex(key)
    return smoke.groupby(of_run).mean().reindex(key).to_numpy(), ~owed.to_numpy(dtype=bool)


def _last_burns(burns: pd.DataFrame) -> pd.DataFrame:
    return burns.groupby(_RUN).tail(1)


def _early_out(batch: Batch, burns: pd.DataFrame, key: pd.MultiIndex) -> np.ndarray:
    """Wax left [%] where the last burn on a wick went out by itself too early; else 0."""
    last = _last_burns(burns)
    left = 100.0 - last["fill_used_pct"]
    late = (last["ended_by"] != "self") | (left <= batch.settings.protocol.end_wax_left_pct)
    at = pd.MultiIndex.from_frame(last[_RUN]).get_indexer(key)
    return left.mask(late, 0.0).to_numpy()[at]


def _end_of_life(
    batch: Batch, burns: pd.DataFrame, key: pd.MultiIndex, runs: pd.DataFrame
) -> tuple[np.ndarray, np.ndarray]:
    """Damage seen in the last checked burn of a wick run, and whether the candle got to its end on
    that wick with nothing missing."""
    last = _last_burns(burns)
    checked = _last_burns(burns[burns["n_checks"] > 0])
    flags = batch.checks[["vessel_damaged", "surface_damaged"]].astype("Float64")
    flags = flags.to_numpy(dtype=float, na_value=np.nan)
    place = burn_places(burns, batch.checks)
    seen = pd.Series(np.isfinite(flags).all(axis=1)).groupby(place).all().reindex(checked.index)
    damage = pd.Series(np.fmax(*flags.T)).groupby(place).max().reindex(checked.index)
    of_run = pd.MultiIndex.from_frame(checked[_RUN])
    own = pd.MultiIndex.from_frame(last[_RUN])
    seen = pd.Series(seen.to_numpy(), of_run).reindex(own).fillna(False).to_numpy(dtype=bool)
    damage = pd.Series(damage.to_numpy(), of_run).reindex(own).to_numpy()
    little_left = 100.0 - last["fill_used_pct"] <= batch.settings.protocol.end_wax_left_pct
    ended = (last["ended_by"] == "self") & little_left & seen & ~last["gap"]
    at = own.get_indexer(key)
    return damage[at], ended.to_numpy()[at] & ~runs["replaced"].to_numpy()


def _candle_verdicts(candles: pd.DataFrame, runs: pd.DataFrame) -> pd.DataFrame:
    """One row per wick run: the standards' verdict and the studio's.

    Aftersmoke is a mean over a candidate, so a candle only has to have it recorded.
    """
    decided = candles[candles["decides"]]
    mean = decided["criterion"] == AFTERSMOKE
    outcome = decided["outcome"].mask(mean & (decided["outcome"] == NOT_MET), MET)
    badness = outcome.map(_ORDER.index)
    table = runs[["candle", "run", "candidate", "wick", "excluded", "replaced"]]
    key = pd.MultiIndex.from_frame(table[_RUN])
    for kind in (STANDARD, STUDIO):
        own = decided["kind"] == kind
        worst = badness[own].groupby([decided[c][own] for c in _RUN]).max().reindex(key)
        table = table.assign(**{f"{kind}_verdict": np.array(_ORDER, dtype=object)[worst]})
    return table


def _judge_candidates(candles: pd.DataFrame, criteria: tuple[Criterion, ...]) -> pd.DataFrame:
    """One row per candidate and criterion: passes of fresh candles that count, failures of all."""
    by = ["candidate", "criterion"]
    of_mean = candles["criterion"].isin([c.criterion for c in criteria if c.level == CANDIDATE])
    alone = candles["outcome"].mask(of_mean & (candles["outcome"] == NOT_MET), "")
    names = pd.DataFrame({"candidate": candles["candidate"].unique()})
    table = _each(criteria, names.assign(at=range(len(names))))
    table = table.sort_values("at", kind="stable").drop(columns="at")
    counts = _counts(candles, alone, by).assign(value=candles.groupby(by)["value"].max())
    table = table.merge(counts.reset_index(), on=by)
    table["outcome"] = _from_counts(table)
    for c in criteria:
        if c.level == CANDIDATE:
            own = table["criterion"] == c.criterion
            means = _means(candles[candles["criterion"] == c.criterion], c.limit)
            table.loc[own, "value"] = means.reindex(table.loc[own, "candidate"]).to_numpy()
            over = own & (table["value"] > c.limit + _NOISE)
            table["outcome"] = table["outcome"].mask(over, NOT_MET)
    first = [name for name in table if name not in _COUNTS]
    return table[[*first, *_COUNTS]]


def smoke_groups(part: pd.DataFrame) -> dict[str, pd.DataFrame]:
    """The candles over which aftersmoke is averaged: any of the means can fail a candidate.

    Setting a candle aside takes it out of the first mean and not out of the second.
    """
    first, used = part[part["run"] == 1], part[part["run"] > 1]
    return {"": first[~first["excluded"]], "set aside": first, "part-used": used}


def _means(part: pd.DataFrame, limit: float) -> pd.Series:
    """The mean over candles, each its own mean: of the fresh ones, or the worst where one fails."""
    of = {k: group.groupby("candidate")["value"].mean() for k, group in smoke_groups(part).items()}
    table = pd.DataFrame(of)
    worst = table.max(axis=1)
    takes = (worst > limit + _NOISE) | ~table.index.isin(of[""].index)
    return worst.where(takes, table[""])


def _counts(rows: pd.DataFrame, outcome: pd.Series, by: list[str]) -> pd.DataFrame:
    """How many candles passed, failed and were not checked: each failed candle once, whatever it
    was, and of the others the fresh ones that count."""
    failed = outcome == NOT_MET
    lost = failed.groupby([rows[name] for name in (*by, "candle")]).transform("any")
    fresh = (rows["run"] == 1) & ~rows["excluded"]
    seen = rows[by].assign(
        n_candles=fresh,
        n_met=fresh & ~lost & (outcome == MET),
        n_not_recorded=fresh & ~lost & (outcome == NOT_RECORDED),
    )
    counts = seen.groupby(by).sum()
    keys = [*by, "candle"]
    for name, which in (("n_not_met", failed), ("n_part_used", rows["run"] > 1)):
        once = rows.loc[which, keys].drop_duplicates().groupby(by).size()
        counts[name] = once.reindex(counts.index, fill_value=0)
    return counts[_COUNTS]


def _from_counts(counts: pd.DataFrame) -> pd.Series:
    """Fail where a candle failed; pass where every fresh candle passed, and there is one."""
    open_ = (counts["n_candles"] == 0) | (counts["n_not_recorded"] > 0)
    outcome = pd.Series(MET, index=counts.index).mask(open_, NOT_RECORDED)
    return outcome.mask(counts["n_not_met"] > 0, NOT_MET)


def _candidate_verdicts(verdicts: pd.DataFrame, by_criterion: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate: both verdicts, how many candles passed, and what that many show."""
    kinds = [f"{kind}_verdict" for kind in (STANDARD, STUDIO)]
    both = np.array(_ORDER, dtype=object)[verdicts[kinds].map(_ORDER.index).max(axis=1)]
    used = verdicts.assign(run=verdicts["run"].mask(verdicts["excluded"], 1))
    counts = _counts(verdicts, pd.Series(both, index=verdicts.index), ["candidate"])
    counts["n_part_used"] = _counts(used, pd.Series(both, used.index), ["candidate"])["n_part_used"]
    names = {"n_met": "n_passed", "n_not_met": "n_failed", "n_not_recorded": "n_open"}
    table = counts.rename(columns=names).reindex(dict.fromkeys(verdicts["candidate"]))
    deciding = by_criterion[by_criterion["decides"]]
    for kind in (STUDIO, STANDARD):
        own = deciding[deciding["kind"] == kind]
        worst = own["outcome"].map(_ORDER.index).groupby(own["candidate"]).max()
        outcome = np.array(_ORDER, dtype=object)[worst.reindex(table.index)]
        table.insert(0, f"{kind}_verdict", outcome)
    passed, failed = table["n_passed"].to_numpy(), table["n_failed"].to_numpy()
    up_to = 100.0 * failure_rate_upper(failed, passed + failed)
    return table.assign(failure_rate_up_to_pct=up_to).rename_axis("candidate").reset_index()

"""Safety criteria as data, and whether each check, burn, candle and candidate met them.

Three outcomes: met, not met, not recorded; what was not recorded is never a pass. Burns that are
left out of the averages are judged all the same: an exclusion must not hide a failure. Only a
candle
left out as a whole is left out of the counts, and its failures are listed.

The limits are read second-hand, from pages that quote the standards; the purchased standard
decides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab import formulas
from candlelab.logs.batch import Batch
from candlelab.logs.burn_log import burn_places
from candlelab.logs.settings import Limits

MET, NOT_MET, NOT_RECORDED = "met", "not met", "not recorded"
STANDARD, STUDIO = "standard", "studio"
_PRACTICE = "the studio's own limit; common practice, no source"


@dataclass(frozen=True)
class Criterion:
    """One criterion. A reading of ``column`` above ``limit`` does not meet it.

    ``level`` says what it is judged on: every check, the end of a candle, or a candidate's mean.
    One that does not decide is shown and leaves the verdict alone.
    """

    criterion: str
    statement: str
    column: str
    limit: float
    unit: str
    source: str
    kind: str = STANDARD
    level: str = "check"
    decides: bool = True


STANDARDS = (
    Criterion("flame height", "the flame is at most 76.2 mm (3 in) tall", "flame_height_mm", 76.2, "mm",
              "ASTM F2417, read second-hand; EN 15493 has 75 mm, read second-hand"),
    Criterion("soot", "no steady black smoke", "soot", 2, "grade", "ASTM F2417, hourly record, read second-hand"),
    Criterion("secondary ignition", "nothing but the wick burns for longer than 10 s", "secondary_ignition_s", 10, "s",
              "EN 15493, read second-hand; ASTM F2417 the same, from memory"),
    Criterion("re-ignition", "it does not light again after it was put out", "reignited", 0, "times", "EN 15493, read second-hand"),
    Criterion("vessel", "the vessel does not crack or break", "vessel_damaged", 0, "times", "ASTM F2417, read second-hand"),
    Criterion("surface", "the surface under the candle is not damaged", "surface_damaged", 0, "times",
              "EN 15493 and ASTM F2417, read second-hand"),
    Criterion("stability", "the candle does not tip (the tilt test is a separate test)", "tipped", 0, "times",
              "EN 15493 and ASTM F2417, read second-hand"),
    Criterion("end of life", "it goes out by itself at its end and damages neither vessel nor surface", "end_damage", 0, "times",
              "EN 15493, read second-hand", level="candle"),
    Criterion("aftersmoke", "the wick smokes for at most 30 s on average after the flame is out", "aftersmoke_s", 30, "s",
              "EN 15493:2019, read second-hand (20 s in the 2007 edition)", level="candidate"),
)  # fmt: skip


def studio_criteria(limits: Limits) -> tuple[Criterion, ...]:
    """The studio's own limits as criteria; common practice, no source, whatever their numbers."""
    rows = [
        Criterion(
            "wall caution",
            f"the wall stays at or under {limits.wall_caution_c:g} °C",
            "wall_c",
            limits.wall_caution_c,
            "°C",
            _PRACTICE,
            STUDIO,
            decides=False,
        ),
        Criterion(
            "wall stop",
            f"the wall stays at or under {limits.wall_stop_c:g} °C",
            "wall_c",
            limits.wall_stop_c,
            "°C",
            _PRACTICE,
            STUDIO,
        ),
        Criterion(
            "flame on vessel",
            "the flame does not touch the vessel",
            "flame_on_vessel",
            0,
            "times",
            _PRACTICE,
            STUDIO,
        ),
    ]
    for name, column, limit in (
        ("own flame height", "flame_height_mm", limits.flame_mm),
        ("own pool depth", "pool_depth_mm", limits.pool_depth_mm),
    ):
        if limit is not None:
            what = "flame is" if column.startswith("flame") else "pool is"
            rows.append(
                Criterion(
                    name, f"the {what} at most {limit:g} mm", column, limit, "mm", _PRACTICE, STUDIO
                )
            )
    return tuple(rows)


@dataclass(frozen=True, eq=False)
class Verdicts:
    """What ``judge_safety`` found, each table with one row per criterion and ...

    ``checks``: check; ``burns``: burn; ``candles``: candle and wick run; ``candidate_criteria``:
    candidate. ``candle_verdicts`` and ``candidates`` bring the criteria together, ``criteria``
    lists
    them with their sources.
    """

    criteria: pd.DataFrame
    checks: pd.DataFrame
    burns: pd.DataFrame
    candles: pd.DataFrame
    candle_verdicts: pd.DataFrame
    candidate_criteria: pd.DataFrame
    candidates: pd.DataFrame


def judge_safety(batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame) -> Verdicts:
    """Judge a batch against the criteria of standards and against the studio's own limits.

    ``burns`` and ``runs`` are the tables of ``burn_cycles`` and ``wick_runs``, worked out anew
    when not given. A stretch without
    a check makes every check criterion of that burn not recorded, unless it was seen not met.
    """
    criteria = STANDARDS + studio_criteria(batch.settings.limits)
    left_out = burns.groupby("candle")["excluded"].all()
    runs = runs.assign(excluded=runs["candle"].map(left_out).astype(bool))
    at_check = [c for c in criteria if c.level == "check"]
    check_table = pd.concat([_judge_checks(batch, c) for c in at_check], ignore_index=True)
    burn_table = pd.concat([_judge_burns(batch, burns, c) for c in at_check], ignore_index=True)
    candles = pd.concat(
        [_judge_candles(batch, burns, burn_table, runs, c) for c in criteria], ignore_index=True
    )
    verdicts = _candle_verdicts(candles, runs)
    by_criterion = _judge_candidates(candles, verdicts, burns, criteria)
    return Verdicts(
        criteria=pd.DataFrame(
            [
                (c.criterion, c.statement, c.limit, c.unit, c.kind, c.decides, c.source)
                for c in criteria
            ],
            columns=["criterion", "statement", "limit", "unit", "kind", "decides", "source"],
        ),
        checks=check_table,
        burns=burn_table,
        candles=candles,
        candle_verdicts=verdicts,
        candidate_criteria=by_criterion,
        candidates=_candidate_verdicts(verdicts, by_criterion),
    )


def _outcome(value, limit, complete) -> np.ndarray:
    """Not met above the limit; not recorded where something is missing; else met.

    A reading at the limit meets it, also when a change of units added something in the last digit.
    """
    value = np.asarray(value, dtype=float)
    over = np.nan_to_num(value, nan=-np.inf) > limit + 1e-9
    return np.where(over, NOT_MET, np.where(complete & np.isfinite(value), MET, NOT_RECORDED))


def _criterion_columns(criterion: Criterion) -> dict[str, object]:
    return {
        "criterion": criterion.criterion,
        "kind": criterion.kind,
        "decides": criterion.decides,
        "limit": float(criterion.limit),
        "unit": criterion.unit,
    }


def _readings(batch: Batch, criterion: Criterion) -> np.ndarray:
    return batch.checks[criterion.column].to_numpy(dtype=float, na_value=np.nan)


def _judge_checks(batch: Batch, criterion: Criterion) -> pd.DataFrame:
    value = _readings(batch, criterion)
    table = batch.checks[["candle", "burn", "elapsed_min"]]
    return table.assign(
        **_criterion_columns(criterion), value=value, outcome=_outcome(value, criterion.limit, True)
    )


def _judge_burns(batch: Batch, burns: pd.DataFrame, criterion: Criterion) -> pd.DataFrame:
    value, place = _readings(batch, criterion), burn_places(burns, batch.checks)
    worst = pd.Series(value).groupby(place).max().reindex(range(len(burns))).to_numpy()
    missing = np.bincount(place, np.isnan(value), minlength=len(burns)) > 0
    complete = ~missing & ~burns["gap"].to_numpy() & (burns["n_checks"] > 0).to_numpy()
    return burns[["candle", "burn", "run", "candidate", "excluded"]].assign(
        **_criterion_columns(criterion),
        value=worst,
        outcome=_outcome(worst, criterion.limit, complete),
    )


def _judge_candles(batch, burns, burn_table, runs, criterion: Criterion) -> pd.DataFrame:
    """One row per wick run: the worst of its burns, its end, or its mean."""
    table = runs[["candle", "run", "candidate", "wick", "excluded"]]
    key = pd.MultiIndex.from_frame(table[["candle", "run"]])
    if criterion.level == "check":
        of_run = burn_table[burn_table["criterion"] == criterion.criterion].groupby(
            ["candle", "run"]
        )
        value = of_run["value"].max().reindex(key).to_numpy()
        complete = (
            of_run["outcome"]
            .agg(lambda o: (o != NOT_RECORDED).all())
            .reindex(key)
            .to_numpy(dtype=bool)
        )
    elif criterion.level == "candle":
        value, complete = _end_of_life(batch, burns, key, runs)
    else:
        smoke = burns["aftersmoke_s"]
        owed = smoke.isna() & (burns["ended_by"] != "self")
        value = smoke.groupby([burns["candle"], burns["run"]]).mean().reindex(key).to_numpy()
        complete = ~owed.groupby([burns["candle"], burns["run"]]).any().reindex(key).to_numpy(
            dtype=bool
        )
    return table.assign(
        **_criterion_columns(criterion),
        value=value,
        outcome=_outcome(value, criterion.limit, complete),
    )


def _end_of_life(
    batch: Batch, burns: pd.DataFrame, key: pd.MultiIndex, runs: pd.DataFrame
) -> tuple[np.ndarray, np.ndarray]:
    """Damage seen in the last burn of a wick run, and whether the candle got to its end on that
    wick."""
    last = burns.groupby(["candle", "run"]).tail(1)
    flags = (
        batch.checks[["vessel_damaged", "surface_damaged"]]
        .astype("Float64")
        .to_numpy(dtype=float, na_value=np.nan)
    )
    place = burn_places(burns, batch.checks)
    seen = (
        pd.Series(flags.max(axis=1))
        .groupby(place)
        .agg(lambda v: v.max(skipna=False))
        .reindex(last.index)
    )
    damage = pd.Series(np.fmax(*flags.T)).groupby(place).max().reindex(last.index).to_numpy()
    little_left = 100.0 - last["fill_used_pct"] <= batch.settings.protocol.end_wax_left_pct
    ended = (last["ended_by"] == "self") & little_left & seen.notna() & ~last["gap"]
    at = pd.MultiIndex.from_frame(last[["candle", "run"]]).get_indexer(key)
    return damage[at], ended.to_numpy()[at] & ~runs["replaced"].to_numpy()


def _worst(outcomes) -> str:
    found = set(outcomes)
    return next((o for o in (NOT_MET, NOT_RECORDED, MET) if o in found), NOT_RECORDED)


def _candle_verdicts(candles: pd.DataFrame, runs: pd.DataFrame) -> pd.DataFrame:
    """One row per wick run: the standards' verdict and the studio's.

    Aftersmoke is a mean over a candidate, so a candle only has to have it recorded.
    """
    decided = candles[candles["decides"]]
    outcome = decided["outcome"].mask(
        (decided["criterion"] == "aftersmoke") & (decided["outcome"] == NOT_MET), MET
    )
    table = runs[["candle", "run", "candidate", "wick", "excluded", "replaced"]]
    key = pd.MultiIndex.from_frame(table[["candle", "run"]])
    for kind in (STANDARD, STUDIO):
        rows = decided["kind"] == kind
        worst = outcome[rows].groupby([decided["candle"][rows], decided["run"][rows]]).agg(_worst)
        table = table.assign(**{f"{kind}_verdict": worst.reindex(key).to_numpy()})
    return table


def _judge_candidates(candles, verdicts, burns, criteria) -> pd.DataFrame:
    """One row per candidate and criterion: fresh candles counted, failures on part-used ones as
    well."""
    rows = []
    order = list(dict.fromkeys(verdicts["candidate"]))
    left_out = set(verdicts.loc[verdicts["excluded"], "candle"])
    counted = candles.loc[
        ~candles["excluded"], ["candidate", "criterion", "candle", "run", "value", "outcome"]
    ]
    parts = {}
    for candidate, criterion, *run in counted.itertuples(index=False, name=None):
        parts.setdefault((candidate, criterion), []).append(run)
    for candidate in order:
        own_burns = burns[(burns["candidate"] == candidate) & ~burns["candle"].isin(left_out)]
        for c in criteria:
            part = parts.get(
                (candidate, c.criterion), []
            )  # of each wick run: candle, run, value, outcome
            fresh = [(candle, outcome) for candle, run, _, outcome in part if run == 1]
            failing = {candle for candle, _, _, outcome in part if outcome == NOT_MET}
            met, open_ = (
                sum(candle not in failing and outcome == o for candle, outcome in fresh)
                for o in (MET, NOT_RECORDED)
            )
            value = max((value for _, _, value, _ in part if value == value), default=np.nan)
            outcome = _worst([row[-1] for row in (part if failing else fresh)])
            if c.level == "candidate":
                smoke = own_burns["aftersmoke_s"]
                owed = (smoke.isna() & (own_burns["ended_by"] != "self")).any()
                value = smoke.mean()
                outcome = str(_outcome(value, c.limit, not owed and len(fresh) > 0))
            again = len({candle for candle, run, *_ in part if run > 1})
            rows.append(
                (
                    candidate,
                    *_criterion_columns(c).values(),
                    value,
                    outcome,
                    len(fresh),
                    again,
                    met,
                    len(failing),
                    open_,
                )
            )
    return pd.DataFrame(
        rows,
        columns=[
            "candidate",
            "criterion",
            "kind",
            "decides",
            "limit",
            "unit",
            "value",
            "outcome",
            "n_candles",
            "n_part_used",
            "n_met",
            "n_not_met",
            "n_not_recorded",
        ],
    )


def _part_used(runs: pd.DataFrame) -> int:
    """Candles that met the wick after a wick change; one that met it twice is still one candle."""
    return runs.loc[runs["run"] > 1, "candle"].nunique()


def _candidate_verdicts(verdicts: pd.DataFrame, by_criterion: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate: both verdicts, how many candles passed, and what that many show."""
    rows = []
    for candidate in dict.fromkeys(verdicts["candidate"]):
        part = verdicts[(verdicts["candidate"] == candidate) & ~verdicts["excluded"]]
        fresh = part[part["run"] == 1]
        deciding = by_criterion[(by_criterion["candidate"] == candidate) & by_criterion["decides"]]
        both = (
            part[["standard_verdict", "studio_verdict"]].agg(_worst, axis=1)
            if len(part)
            else part["standard_verdict"]
        )
        passed = int((both[part["run"] == 1] == MET).sum())
        failing = part.loc[both == NOT_MET, "candle"].unique()
        failed = len(failing)
        open_ = int(
            ((both == NOT_RECORDED) & (part["run"] == 1) & ~part["candle"].isin(failing)).sum()
        )
        standard, studio = (
            _worst(deciding.loc[deciding["kind"] == kind, "outcome"]) for kind in (STANDARD, STUDIO)
        )
        bound = 100.0 * float(formulas.failure_rate_upper(failed, passed + failed))
        rows.append(
            (
                candidate,
                standard,
                studio,
                len(fresh),
                _part_used(part),
                passed,
                failed,
                open_,
                bound,
            )
        )
    return pd.DataFrame(
        rows,
        columns=[
            "candidate",
            "standard_verdict",
            "studio_verdict",
            "n_candles",
            "n_part_used",
            "n_passed",
            "n_failed",
            "n_open",
            "failure_rate_up_to_pct",
        ],
    )

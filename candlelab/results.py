"""Everything a report says about one batch: worked out once, and written out as plain data."""

from __future__ import annotations

import platform
from dataclasses import dataclass
from importlib import metadata

import numpy as np
import pandas as pd

from candlelab.columns import GLOSSARY
from candlelab.consistency import burn_places
from candlelab.cycles import burn_cycles
from candlelab.diagnosis import Diagnosis, diagnose
from candlelab.formulas import full_pool_width, pool_share
from candlelab.logs import Batch
from candlelab.problems import LOOK, PROTOCOL
from candlelab.ranking import answer, rank_candidates, target_results
from candlelab.runs import candle_summary, wick_change_effects, wick_runs
from candlelab.safety import NOT_MET, Verdicts, judge_safety

FORMAT = "candlelab results 1"
_PACKAGES = ("candlelab", "numpy", "pandas", "scipy", "matplotlib", "seaborn", "papermill", "nbconvert", "ipykernel")


@dataclass(frozen=True, eq=False)
class BatchResults:
    """All tables of a batch report. ``tables()`` names them; ``answer`` is three sentences."""

    batch: Batch
    burns: pd.DataFrame
    runs: pd.DataFrame
    candles: pd.DataFrame
    verdicts: Verdicts
    diagnosis: Diagnosis
    targets: pd.DataFrame
    ranking: pd.DataFrame
    changes: pd.DataFrame
    left_out: pd.DataFrame
    answer: tuple[str, str, str]

    @property
    def to_look_at(self) -> pd.DataFrame:
        """What the check of the log pointed out."""
        return self.batch.problems[self.batch.problems["level"] == LOOK].reset_index(drop=True)

    @property
    def deviations(self) -> pd.DataFrame:
        """Deviations from the protocol."""
        return self.batch.problems[self.batch.problems["level"] == PROTOCOL].reset_index(drop=True)

    @property
    def unfinished(self) -> pd.DataFrame:
        """Candles that were not burnt to their end."""
        return self.candles[~self.candles["ended"]].reset_index(drop=True)

    @property
    def pool_checks(self) -> pd.DataFrame:
        """Checks that measured the pool, with the candidate of their burn, hours and share of the width."""
        inner = {name: v.inner_diameter_mm for name, v in self.batch.settings.vessels.items()}
        place = burn_places(self.burns, self.batch.checks)
        table = self.batch.checks.assign(candidate=self.burns["candidate"].to_numpy()[place], vessel=self.burns["vessel"].to_numpy()[place])
        table = table.assign(elapsed_h=table["elapsed_min"] / 60.0, pool_share_pct=pool_share(table["pool_diameter_mm"], table["vessel"].map(inner)))
        rank = table["candidate"].map({name: n for n, name in enumerate(dict.fromkeys(self.burns["candidate"]))})
        order = table.assign(rank=rank).sort_values(["rank", "candle", "burn", "elapsed_min"])
        return order[["candidate", "candle", "burn", "elapsed_h", "pool_share_pct"]].dropna().reset_index(drop=True)

    @property
    def full_pool_pct(self) -> float:
        """Share of the width at which the narrowest vessel's pool counts as full."""
        margin = self.batch.settings.protocol.full_pool_margin_mm
        inner = [vessel.inner_diameter_mm for vessel in self.batch.settings.vessels.values()]
        return min(pool_share(full_pool_width(width, margin), width) for width in inner)

    def tables(self) -> dict[str, tuple[str, pd.DataFrame]]:
        """Each table by its name, with what one row of it is."""
        return {
            "ranking": ("a candidate", self.ranking),
            "targets": ("a candidate and a target", self.targets),
            "candidate_criteria": ("a candidate and a criterion", self.verdicts.candidate_criteria),
            "candle_criteria": ("a candle on one wick and a criterion", self.verdicts.candles),
            "candle_verdicts": ("a candle on one wick", self.verdicts.candle_verdicts),
            "advice": ("a candidate", self.diagnosis.candidates),
            "findings": ("a candle on one wick", self.diagnosis.runs),
            "candles": ("a candle", self.candles),
            "wick_runs": ("a candle on one wick", self.runs),
            "burns": ("a burn", self.burns),
            "wick_changes": ("a wick change", self.changes),
            "left_out": ("a candle or burn left out", self.left_out),
            "problems": ("something to look at, or a deviation from the protocol", self.batch.problems),
            "criteria": ("a criterion", self.verdicts.criteria),
            "rules": ("a rule of the diagnosis", self.diagnosis.rules),
        }


def batch_results(batch: Batch) -> BatchResults:
    """Work out everything for a batch."""
    burns = burn_cycles(batch)
    runs = wick_runs(batch, burns)
    candles = candle_summary(batch, burns, runs)
    verdicts = judge_safety(batch, burns, runs)
    targets = target_results(batch, runs, candles)
    ranking = rank_candidates(verdicts, targets)
    return BatchResults(
        batch=batch,
        burns=burns,
        runs=runs,
        candles=candles,
        verdicts=verdicts,
        diagnosis=diagnose(batch, burns, runs, candles),
        targets=targets,
        ranking=ranking,
        changes=wick_change_effects(runs),
        left_out=_left_out(burns, verdicts),
        answer=answer(batch, ranking, verdicts),
    )


def _left_out(burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """What was left out and why, and which criteria were not met in it: an exclusion hides nothing."""
    whole = burns.groupby("candle")["excluded"].transform("all")
    marked = burns.assign(burn=burns["burn"].astype("Int64").mask(whole))[burns["excluded"]]
    failed = verdicts.burns[verdicts.burns["outcome"] == NOT_MET].merge(burns.loc[burns["excluded"], ["candle", "burn"]], on=["candle", "burn"])
    rows = []
    for (candle, burn), part in marked.groupby(["candle", "burn"], dropna=False, sort=False):
        own = failed[(failed["candle"] == candle) & (True if pd.isna(burn) else failed["burn"] == burn)]
        rows.append((candle, burn, part["exclusion_reason"].iat[0], len(part), ", ".join(dict.fromkeys(own["criterion"]))))
    table = pd.DataFrame(rows, columns=["candle", "burn", "exclusion_reason", "n_burns", "not_met_in_it"])
    return table.astype({"burn": "Int64"})


def results_record(results: BatchResults, parameters: dict) -> dict:
    """Plain data for ``results.json``: every table with the unit and meaning of each column and its row
    count, the answer, versions, the inputs' SHA-256 and the parameters. Missing numbers are null."""
    batch, settings = results.batch, results.batch.settings
    left = results.candles["excluded"]
    return {
        "format": FORMAT,
        "batch": {
            "title": settings.title, "question": settings.question, "stage": settings.stage, "confirms": settings.confirms,
            "studio": settings.studio, "candles": len(results.candles), "candles_left_out": int(left.sum()),
            "burns": len(results.burns), "burns_left_out": int(results.burns["excluded"].sum()), "checks": len(batch.checks),
        },
        "answer": list(results.answer),
        "tables": {name: _table_record(row_is, table) for name, (row_is, table) in results.tables().items()},
        "inputs": batch.files.to_dict("records"),
        "parameters": parameters,
        "versions": versions(),
    }  # fmt: skip


def versions() -> dict[str, str]:
    """Versions of Python and of the packages that made the numbers and the page."""
    found = {"python": platform.python_version()}
    for name in _PACKAGES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            continue
    return found


def _table_record(row_is: str, table: pd.DataFrame) -> dict:
    columns = [{"name": n, "unit": GLOSSARY[n].unit, "meaning": GLOSSARY[n].meaning} for n in table.columns]
    return {"one_row_is": row_is, "rows": len(table), "columns": columns,
            "data": [[_plain(v) for v in row] for row in table.itertuples(index=False)]}  # fmt: skip


def _plain(value):
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    return str(value)

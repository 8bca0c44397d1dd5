"""Burns and fresh candles of several batches under each other, each row with its batch."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.burns import burn_cycles
from candlelab.burns.candles import candle_summary, wick_runs
from candlelab.judge.ranking import first_wick_values, open_ends
from candlelab.judge.safety import MET, judge_safety
from candlelab.logs.batch import Batch

BURN_METRICS = (
    "burn_rate_g_per_h", "wall_max_c", "wall_max_warm_room_c", "flame_max_mm", "pool_depth_max_mm", "pool_share_max_pct",
    "mushroom_max_mm", "heat_release_w", "fragrance_release_g_per_h",
)  # fmt: skip


CANDLE_METRICS = ("life_h", "wax_left_pct", "rate_drift_g_per_h", "aftersmoke_s")


METRICS = BURN_METRICS + CANDLE_METRICS


UNIT = ["batch", "candle"]


@dataclass(frozen=True, eq=False)
class Pooled:
    """Tables of several batches under each other, each row with its ``batch``; what is left out is
    marked.

    ``above`` and ``below`` have the rows of ``fresh``: what its missing numbers are known to be
    above and below.
    """

    batches: tuple[Batch, ...]
    burns: pd.DataFrame
    fresh: pd.DataFrame
    above: pd.DataFrame
    below: pd.DataFrame


def pool(batches: list[Batch]) -> Pooled:
    """Put the burns and the fresh candles of several batches under each other."""
    burns, fresh, ends = [], [], []
    for name, batch in zip(batch_names(batches), batches):
        own = burn_cycles(batch)
        runs = wick_runs(batch, own)
        values = first_wick_values(runs, candle_summary(batch, own, runs))
        verdicts = judge_safety(batch, own, runs)
        verdict = verdicts.candle_verdicts[verdicts.candle_verdicts["run"] == 1].set_index("candle")
        passed = (verdict[["standard_verdict", "studio_verdict"]] == MET).all(axis=1)
        seen = own[~own["excluded"] & (own["run"] == 1)].groupby("candle")
        bracket = pd.DataFrame(
            {
                "full_pool_after_h": seen["full_pool_after_h"].median(),
                "full_pool_by_h": seen["full_pool_by_h"].apply(
                    lambda by: by.fillna(np.inf).median()
                ),
            }
        )
        values = values.drop(columns=["full_pool_h"]).merge(
            bracket.replace(np.inf, np.nan), left_on="candle", right_index=True, how="left"
        )
        values = values.assign(
            batch=name,
            passed=values["candle"].map(passed),
            full_pool_h=runs.set_index(["candle", "run"])["full_pool_h"]
            .reindex(pd.MultiIndex.from_arrays([values["candle"], values["run"]]))
            .to_numpy(),
            sooted=values["soot_max"] >= 2,
            full_pool_by_burn_3=values["burns_to_full_pool"].fillna(np.inf) <= 3,
        )
        fresh.append(_with_load(values))
        ends.append(open_ends(values, own))
        burns.append(
            _with_load(
                own.assign(
                    batch=name, depth_pct=(own["fill_used_start_pct"] + own["fill_used_pct"]) / 2.0
                )
            )
        )
    return Pooled(
        tuple(batches),
        *(pd.concat(tables, ignore_index=True) for tables in (burns, fresh, *zip(*ends))),
    )


def _with_load(table: pd.DataFrame) -> pd.DataFrame:
    """A candle without a fragrance has a load of 0; what a recipe has not is called none."""
    none = (table["fragrance"] == "") & table["fragrance_load_pct"].isna()
    words = {name: table[name].mask(table[name] == "", "none") for name in ("fragrance", "dye")}
    return table.assign(fragrance_load_pct=table["fragrance_load_pct"].mask(none, 0.0), **words)


def batch_names(batches: list[Batch]) -> list[str]:
    names: list[str] = []
    for batch in batches:
        name, n = batch.folder.resolve().name, 2
        while name in names:
            name, n = f"{batch.folder.resolve().name} ({n})", n + 1
        names.append(name)
    return names

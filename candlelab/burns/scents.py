"""Scores of scent: one row for each that counts, with the candle and the sitting that it is of."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from candlelab.burns.candidates import candidate_names, wick_names
from candlelab.burns.side_by_side import blank_load
from candlelab.logs.batch import Batch

HOT, COLD = "hot", "cold"


def panel_scores(
    batch: Batch, burns: pd.DataFrame, failed: Collection[str] = ()
) -> tuple[pd.DataFrame, pd.DataFrame, dict[str, int]]:
    """One row per score that counts, those of noses that failed, and how many do not count.

    Set aside are a blocked nose, what the exclusions name, a second wick in a part-used candle,
    codes whose key is still closed, and who failed the blank checks. Ranks without scores become
    scores that are evenly far apart.

    Parameters
    ----------
    batch : Batch
    burns : pandas.DataFrame
        The table of `burn_cycles`.
    failed : collection of str
        Noses that failed their blank checks (`side_by_side.blank_checks`).

    Returns
    -------
    tuple of two pandas.DataFrame and a dict
        Scores that count, scores of the failed noses that would else count, and how many do not
        count, by the reason. Both tables: ``candle, candidate, wick, wax, fragrance,
        fragrance_load_pct, vessel, assessor, state`` (hot or cold), ``sitting``, ``block`` (the
        assessor's sitting), ``order``, ``burn``, ``since_lit_min``, ``score``,
        ``burn_rate_g_per_h`` and ``fragrance_release_g_per_h``.
    """
    throw = batch.throw
    cold = throw["lit"].eq(False).fillna(False) | (throw["lit"].isna() & throw["burn"].isna())
    table = throw.assign(state=np.where(cold.to_numpy(dtype=bool), COLD, HOT))
    own = burns[["candle", "burn", "run", "excluded", "burn_rate_g_per_h",
                 "fragrance_release_g_per_h"]]  # fmt: skip
    own = own.assign(burn=own["burn"].astype(float))
    table = table.merge(own, on=["candle", "burn"], how="left").merge(_candles(batch), how="left")
    whole = set(batch.exclusions.loc[batch.exclusions["burn"].isna(), "candle"])
    lost = {
        "key still closed": table["candle"] == "",
        "blocked nose": table["blocked_nose"].fillna(False).to_numpy(dtype=bool),
        "set aside": table["candle"].isin(whole) | table["excluded"].eq(True).fillna(False),
        "second wick": (table["run"] > 1).fillna(False),
    }
    counts: dict[str, int] = {}
    gone = np.zeros(len(table), dtype=bool)
    for reason, mask in lost.items():
        new = np.asarray(mask, dtype=bool) & ~gone
        counts |= {reason: int(new.sum())} if new.any() else {}
        gone |= new
    table = _named(table[~gone].reset_index(drop=True), batch)
    table = table[table["score"].notna()]
    of_failed = table["assessor"].isin(set(failed)).to_numpy(dtype=bool)
    counts |= {"failed blank checks": int(of_failed.sum())} if of_failed.any() else {}
    kept, listed = (
        table.loc[mask, _COLUMNS].reset_index(drop=True) for mask in (~of_failed, of_failed)
    )
    return kept, listed, counts


_COLUMNS = [
    "candle", "candidate", "wick", "wax", "fragrance", "fragrance_load_pct", "vessel", "assessor",
    "state", "sitting", "block", "order", "burn", "since_lit_min", "score", "burn_rate_g_per_h",
    "fragrance_release_g_per_h",
]  # fmt: skip


def _candles(batch: Batch) -> pd.DataFrame:
    candles = batch.candles
    names = wick_names(candles["wick_series"], candles["wick_size"], candles["wick_count"])
    recipe = candles[["candle", "vessel", "wax", "fragrance", "fragrance_load_pct"]]
    candidate = candidate_names(batch).to_numpy()
    return recipe.assign(fragrance_load_pct=blank_load(recipe), wick=names, candidate=candidate)


def _named(table: pd.DataFrame, batch: Batch) -> pd.DataFrame:
    """With the sitting and the assessor's block, and scores made of ranks where there are no
    others."""
    day = table["smelled_on"].dt.strftime("%Y-%m-%d").fillna("")
    burn = table["burn"].map(lambda n: "" if np.isnan(n) else f"burn {n:g}")
    sitting = table["session"].where(table["session"] != "", burn.where(burn != "", day))
    table = table.assign(sitting=sitting, block=table["assessor"] + "\n" + table["state"])
    table["block"] += "\n" + sitting
    ranked = table["score"].isna() & table["rank"].notna()
    if ranked.any():
        n = table[ranked].groupby("block")["rank"].transform("size")
        top = batch.settings.scent.top
        table.loc[ranked, "score"] = top * (n - table.loc[ranked, "rank"]) / (n - 1).clip(lower=1)
    return table

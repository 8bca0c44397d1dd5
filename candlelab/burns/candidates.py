"""What a candle is called: its wick, and what else of its recipe differs within the batch."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from candlelab.logs.batch import Batch

# What a candle is made of beside its wick: candidates differ in these.
RECIPE = ("vessel", "wax", "fragrance", "fragrance_load_pct", "dye")


def natural_order(names) -> list[str]:
    """Names sorted as people sort them: S2 before S10."""
    return sorted(names, key=lambda name: (re.sub(r"\d+", lambda d: d[0].zfill(20), name), name))


def wick_names(series, size, count=None) -> np.ndarray:
    """Series and size as one name each, with the count where there is more than one wick."""
    counts = np.ones(len(series)) if count is None else np.asarray(count, dtype=float)
    counts = np.nan_to_num(counts, nan=1.0).tolist()
    each = zip(series, size, counts, strict=True)
    names = [f"{a} {b}" + (f" x{c:g}" if c != 1 else "") for a, b, c in each]
    return np.array(names, dtype=object)


def wick_turn(run: int) -> str:
    """Which wick of its candle a run is on, in words."""
    return {1: "first", 2: "second", 3: "third"}.get(run, f"{run}th") + " wick"


def recipe_words(candles: pd.DataFrame) -> np.ndarray:
    """What differs of each candle's recipe within the batch, as words behind a wick's name."""
    varying = [name for name in RECIPE if candles[name].nunique(dropna=False) > 1]
    if not varying:
        return np.full(len(candles), "", dtype=object)
    words = []
    for row in candles[list(RECIPE)].itertuples():
        load = "" if np.isnan(row.fragrance_load_pct) else f" {row.fragrance_load_pct:g} %"
        parts = [row.vessel if "vessel" in varying else "", row.wax if "wax" in varying else ""]
        if "fragrance" in varying or "fragrance_load_pct" in varying:
            parts.append((row.fragrance or "no fragrance") + (load if row.fragrance else ""))
        parts.append((row.dye or "no dye") if "dye" in varying else "")
        words.append("".join(f", {part}" for part in parts if part))
    return np.array(words, dtype=object)


def candidate_names(batch: Batch) -> pd.Series:
    """The candidate that each candle was poured as, by candle; those never lit as well."""
    c = batch.candles
    names = wick_names(c["wick_series"], c["wick_size"], c["wick_count"]) + recipe_words(c)
    return pd.Series(names, index=c["candle"], dtype="str")

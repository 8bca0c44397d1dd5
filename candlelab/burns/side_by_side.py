"""Two candles smelled side by side, and what such pairs say of each nose.

A pair of a candle without fragrance and one of the highest load of its fragrance is a blank check:
it is about the nose, and stays out of what is said of the candles. With a weaker load it is a pair
like any other, as a good nose may miss 1 %.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.candidates import candidate_names
from candlelab.logs.batch import Batch
from candlelab.logs.names import bare
from candlelab.stats.discrimination import PAIR, fewest_right, smells_it


def blank_load(candles: pd.DataFrame) -> pd.Series:
    """Fragrance load of each candle; 0 where neither a load nor a fragrance is given."""
    load = candles["fragrance_load_pct"]
    return load.mask(load.isna() & (candles["fragrance"] == ""), 0.0)


def blank_and_strong(recipes: pd.DataFrame) -> tuple[pd.Series, pd.Series]:
    """Which recipes are without fragrance, and which are of the highest load of their fragrance:
    one of each makes a blank check."""
    load = blank_load(recipes)
    most = load.groupby(recipes["fragrance"].map(bare)).transform("max")
    return load == 0, (load == most) & (load != 0)


def pairs_that_count(batch: Batch) -> pd.DataFrame:
    """One row per pair, less those of a blocked nose, of candles or burns that were set aside, and
    of codes whose key is closed.

    Returns
    -------
    pandas.DataFrame
        ``assessor``, spelled as among the scores; ``first, second, stronger`` by candidate; and of
        a blank check ``right``, whether the candle with fragrance was called stronger.
    """
    candles = batch.candles.assign(candidate=candidate_names(batch).to_numpy())
    names = candles.set_index("candle")["candidate"]
    blank, strong = (set(candles.loc[mask, "candle"]) for mask in blank_and_strong(candles))
    pairs, spelled = batch.pairs, {bare(name): name for name in batch.throw["assessor"]}
    counts = ~pairs["blocked_nose"].fillna(False).to_numpy(dtype=bool)
    for side in ("first", "second"):
        counts &= pairs[side].isin(names.index).to_numpy() & ~_set_aside(batch, pairs, side)
    pairs = pairs[counts]
    sides = pairs[["first", "second"]]
    check = (sides.isin(blank).sum(axis=1) == 1) & (sides.isin(strong).sum(axis=1) == 1)
    right = ~pairs["stronger"].isin(blank)
    return pd.DataFrame(
        {
            "assessor": [spelled.get(bare(name), name) for name in pairs["assessor"]],
            **{side: pairs[side].map(names) for side in ("first", "second", "stronger")},
            "right": right.astype("boolean").where(check),
        }
    )


def _set_aside(batch: Batch, pairs: pd.DataFrame, side: str) -> np.ndarray:
    out = set(zip(batch.exclusions["candle"], batch.exclusions["burn"].fillna(0), strict=True))
    burns = pairs["burn"].fillna(0)
    return np.array(
        [(c, 0) in out or (c, b) in out for c, b in zip(pairs[side], burns, strict=True)],
        dtype=bool,
    )


def blank_checks(batch: Batch) -> pd.DataFrame:
    """One row per nose with blank checks: does it smell the difference?

    Returns
    -------
    pandas.DataFrame
        ``assessor, n_right, n_blank_checks, n_to_pass`` and ``smells``: empty where so few checks
        cannot tell.
    """
    rows = []
    if len(batch.pairs):
        checks = pairs_that_count(batch).dropna(subset="right")
        for name, own in checks.groupby("assessor", sort=True)["right"]:
            right, n = int(own.sum()), len(own)
            rows.append((name, right, n, fewest_right(n, chance=PAIR), smells_it(right, n)))
    names = ["assessor", "n_right", "n_blank_checks", "n_to_pass", "smells"]
    return pd.DataFrame(rows, columns=names).astype({"smells": "boolean"})

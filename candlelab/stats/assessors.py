"""What each nose of a panel does: level, use of the scale, who hears nothing, drift, carry-over.

The assessor is the unit: one slope for each, and a t test over them.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.stats.tails import t_above

_SHUFFLES = 999
HEARS_BELOW = 0.15  # a nose that scores at random is named in 85 of 100 panels


def assessor_table(table: pd.DataFrame, *, metric: str = "score", seed: int = 1) -> pd.DataFrame:
    """One row per assessor: how he scores, and whether his scores follow those of the others.

    Parameters
    ----------
    table : pandas.DataFrame
        One row per score with ``assessor``, ``block``, ``candle`` and the metric.
    metric : str
    seed : int
        Of the shuffles: his scores are dealt out again within his sessions.

    Returns
    -------
    pandas.DataFrame
        ``assessor, n_scores, level`` (mean, above that of the panel), ``spread`` (within his
        sessions), ``follows`` (correlation with the mean of the others), ``p_value`` (how often
        luck alone follows as well) and ``hears``.
    """
    rng = np.random.default_rng(seed)
    kept = table[table[metric].notna()]
    values = kept[metric].astype(float)
    off = values - values.groupby(kept["block"]).transform("mean")
    rows = []
    for name, own in kept.groupby("assessor", sort=True):
        others = kept.index.difference(own.index)
        means = off[others].groupby(kept.loc[others, "candle"]).mean()
        theirs = own["candle"].map(means).to_numpy(dtype=float)
        mine = off[own.index].to_numpy()
        known = np.isfinite(theirs)
        theirs = theirs[known] - _block_means(theirs[known], own["block"][known])
        follows, p = _followed(mine[known], theirs, pd.factorize(own["block"][known])[0], rng)
        spread = np.sqrt(np.square(mine).sum() / max(len(own) - own["block"].nunique(), 1))
        level = values[own.index].mean() - values.mean()
        rows.append((name, len(own), level, spread, follows, p, bool(p <= HEARS_BELOW)))
    names = ["assessor", "n_scores", "level", "spread", "follows", "p_value", "hears"]
    return pd.DataFrame(rows, columns=names)


def _block_means(values, blocks) -> np.ndarray:
    return pd.Series(values).groupby(np.asarray(blocks)).transform("mean").to_numpy()


def _followed(mine, theirs, block, rng) -> tuple[float, float]:
    """Correlation, and the share of shuffles within blocks that follow as well."""
    size = np.sqrt(np.square(mine).sum() * np.square(theirs).sum())
    if len(mine) < 3 or size == 0:
        return np.nan, 1.0
    seen = mine @ theirs
    order = np.argsort(block, kind="stable")
    luck = rng.random((_SHUFFLES, len(mine)))
    deals = np.lexsort((luck, np.broadcast_to(block[order], luck.shape)))
    hits = int((mine[order][deals] @ theirs[order] >= seen - 1e-12).sum())
    return float(seen / size), (hits + 1) / (_SHUFFLES + 1)


def slope_over_assessors(table: pd.DataFrame, against: str, *, metric: str = "score") -> dict:
    """Change of the score with ``against``, other things equal: mean over assessors and its p.

    Candle and block are taken off first. Missing where fewer than three assessors tell.
    """
    kept = table[table[metric].notna() & table[against].notna()]
    slopes = []
    if len(kept):
        left = _less(kept, kept[metric].to_numpy(dtype=float))
        moved = _less(kept, kept[against].to_numpy(dtype=float))
        for _, at in kept.reset_index(drop=True).groupby("assessor").indices.items():
            size = np.square(moved[at]).sum()
            if size > 1e-9:
                slopes.append(moved[at] @ left[at] / size)
    if len(slopes) < 3 or np.ptp(slopes) == 0:
        return {"estimate": np.nan, "std_error": np.nan, "p_value": np.nan, "n": len(slopes)}
    error = np.std(slopes, ddof=1) / np.sqrt(len(slopes))
    p = 2 * t_above(abs(np.mean(slopes)) / error, len(slopes) - 1)
    return {"estimate": float(np.mean(slopes)), "std_error": float(error), "p_value": float(p),
            "n": len(slopes)}  # fmt: skip


def _less(kept: pd.DataFrame, values: np.ndarray) -> np.ndarray:
    """Values less what block and candle explain."""
    parts = [pd.get_dummies(kept[name]).to_numpy(dtype=float) for name in ("block", "candle")]
    design = np.hstack(parts)
    return values - design @ np.linalg.lstsq(design, values, rcond=None)[0]


def repeat_table(table: pd.DataFrame, *, metric: str = "score") -> pd.DataFrame:
    """Hidden repeats: one row per assessor who smelled a candle twice in one block, with the usual
    difference of the two scores and how often they were the same."""
    kept, unit = table[table[metric].notna()], ["assessor", "block", "candle"]
    apart: dict[str, list[float]] = {}
    for (name, *_), twice in kept[kept.duplicated(unit, keep=False)].groupby(unit)[metric]:
        apart.setdefault(name, []).append(np.ptp(twice.to_numpy(dtype=float)[:2]))
    rows = [(name, len(d), float(np.mean(d)), d.count(0.0)) for name, d in apart.items()]
    return pd.DataFrame(rows, columns=["assessor", "n_repeats", "apart", "n_same"])

"""The studio's targets, vessel by vessel: which hold, and how many candles are inside."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs.batch import Batch
from candlelab.logs.settings import Settings, Target

COLUMNS = [
    "candidate", "target", "low", "high", "mean", "smallest", "largest", "n_inside", "n_candles",
]  # fmt: skip
# What only grows while a candle burns: one that still burns has not missed the lower end yet.
_GROWING = ("wall_max_c", "flame_max_mm", "pool_depth_max_mm", "mushroom_max_mm", "soot_max")


def targets_of(settings: Settings, vessel: str) -> tuple[Target, ...]:
    """The targets that hold for a vessel: its own, and the general ones that it has none for.

    Parameters
    ----------
    settings : Settings
        What ``batch.toml`` says.
    vessel : str
        The vessel's name; the general targets for any other name.
    """
    every = {t.quantity: t for t in settings.targets if not t.vessel}
    own = {t.quantity: t for t in settings.targets if t.vessel == vessel}
    return tuple((every | own).values())


def target_results(
    batch: Batch, values: pd.DataFrame, burning: frozenset[str] = frozenset()
) -> pd.DataFrame:
    """One row per candidate and target of ``batch.toml``: mean, range, and candles inside.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    values : pandas.DataFrame
        One row per fresh candle, as `first_wick_values` gives it.
    burning : frozenset of str
        Candles that still burn: they miss nothing only because they are not at their end yet.

    Notes
    -----
    A candle at its end without the number (never a full pool, not burned to its end) is not inside.
    """
    rows = []
    running = values["candle"].isin(burning).to_numpy()
    of, names = pd.factorize(values["candidate"])
    for n, candidate in enumerate(names):
        own = np.flatnonzero(of == n)
        for target in targets_of(batch.settings, values["vessel"].array[own[0]]):
            seen = values[target.quantity].to_numpy(dtype=float)[own]
            early = np.isnan(seen)
            if target.quantity in _GROWING:
                early |= seen < target.low
            seen = seen[~(running[own] & early)]
            low, high = (end if np.isfinite(end) else np.nan for end in (target.low, target.high))
            inside = int(((seen >= target.low) & (seen <= target.high)).sum())
            known = seen[~np.isnan(seen)]
            mean = np.nansum(seen) / len(known) if len(known) else np.nan
            ends = (known.min(), known.max()) if len(known) else (np.nan, np.nan)
            numbers = (low, high, mean, *ends, inside, len(seen))
            rows.append((candidate, target.quantity, *numbers))
    counts = {"n_inside": "int64", "n_candles": "int64"}
    return pd.DataFrame(rows, columns=COLUMNS).astype(counts)

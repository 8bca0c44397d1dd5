"""Everything that the batches say of one candidate, gathered before anything is claimed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candidates import other_spellings
from candlelab.claim.lives import lives_of
from candlelab.claim.rounds import Confirmed, Given, batch_of, confirmed, find_batches
from candlelab.compare.pooled import UNIT, Pooled, pool, with_load
from candlelab.judge.failures import named_alike
from candlelab.judge.warm_room import Wall, hottest_wall
from candlelab.size.line import with_group
from candlelab.stats.intervals import LowerBounds, lower_bounds, other_pours_bound
from candlelab.units import Display

LEAST = 3  # candles for any printed time; common practice, no source


@dataclass(frozen=True)
class Asked:
    """What is asked of a claim; see `candlelab.claim.claims.claim_label`."""

    coverage: float
    confidence: float
    leave_mm: float
    batch_sd_pct: float


@dataclass(frozen=True, eq=False)
class Evidence:
    """One candidate in all of its batches.

    ``name`` is the candidate over all batches, ``fate`` its row of `decide`. ``failed`` and
    ``gaps`` are those of all rounds. ``own`` has one row per candle that was poured as it and lit,
    set aside or not, ``lives`` how long each burned. ``bounds`` [h] are of the pours at hand,
    ``other_pours`` of others, ``depth`` to the wax that the label says to leave. ``walls`` are its
    hottest wall as read and in a 30 degC room, and the stop limit [degC]. ``alike`` are candidates
    that were ruled out and whose names are a letter off; ``notes`` says where limits and spellings
    differed.
    """

    name: str
    fate: pd.Series
    failed: pd.DataFrame
    gaps: pd.DataFrame
    own: pd.DataFrame
    lives: pd.DataFrame
    rounds: Confirmed
    bounds: LowerBounds | None
    other_pours: float
    depth: LowerBounds | None
    walls: Wall
    alike: tuple[str, ...]
    notes: tuple[str, ...]
    asked: Asked
    pooled: Pooled

    @property
    def to_print(self) -> float:
        """The time [h] that holds where other pours are sold under the same label."""
        return np.nan if self.bounds is None else min(self.bounds.tolerance, self.other_pours)

    @property
    def display(self) -> Display:
        """The reader's units, those of the first batch."""
        return self.pooled.first.settings.display


def gather(given: Iterable[Given], candidate: str, asked: Asked) -> Evidence:
    """The evidence on a candidate; CannotClaim where it was not burned or is not one recipe."""
    found, (at, candle) = find_batches(list(given), candidate)
    batches = [batch_of(one) for one in found]
    pooled = pool(found)
    notes = [*pooled.settings_told, *other_spellings(batches)]
    judged = pooled.judged
    burns = pooled.burns.assign(candidate=judged.burns["candidate"].to_numpy())
    batch = list(pooled.worked)[at]
    of_candle = burns[(burns["batch"] == batch) & (burns["candle"] == candle)]
    name = str(of_candle.loc[of_candle["run"] == 1, "candidate"].iat[0])
    burns = burns[burns["candidate"] == name]
    poured = burns.loc[burns["run"] == 1, UNIT].drop_duplicates()
    fresh = pooled.fresh.merge(poured, on=UNIT)
    lives = lives_of(pooled, poured, asked.leave_mm)
    bounds, other = _bounds(lives[lives["counts"]], "life_h", asked)
    return Evidence(
        name=name,
        fate=judged.fates.set_index("candidate").loc[name],
        failed=_of(judged.failures, name),
        gaps=_of(judged.gaps, name),
        own=_with_recipe(pooled, poured),
        lives=lives,
        rounds=confirmed(pooled, fresh, asked.batch_sd_pct),
        bounds=bounds,
        other_pours=other,
        depth=_bounds(lives[lives["depth_h"].notna()], "depth_h", asked)[0],
        walls=hottest_wall(judged, name),
        alike=tuple(named_alike(judged.failures, name)),
        notes=tuple(notes),
        asked=asked,
        pooled=pooled,
    )


def _of(table: pd.DataFrame, name: str) -> pd.DataFrame:
    return table[table["candidate"] == name]


def _with_recipe(pooled: Pooled, poured: pd.DataFrame) -> pd.DataFrame:
    """The first wick run of each candle, with its recipe as the sizes name it."""
    runs = [worked.runs.assign(batch=name) for name, worked in pooled.worked.items()]
    table = pd.concat(runs, ignore_index=True)
    table = poured.merge(table[table["run"] == 1], on=UNIT, how="left")
    return with_group(with_load(table), pooled)


def _bounds(rows: pd.DataFrame, column: str, asked: Asked) -> tuple[LowerBounds | None, float]:
    """Bounds of the pours at hand, and the tolerance bound of others."""
    values = rows[column].to_numpy(dtype=float)
    if len(values) < LEAST:
        return None, np.nan
    shares = {"coverage": asked.coverage, "confidence": asked.confidence}
    found = lower_bounds(values, **shares)
    pour_sd = asked.batch_sd_pct / 100.0 * found.mean
    other = other_pours_bound(values, rows["batch"], pour_sd=pour_sd, **shares)
    return found, min(other, found.tolerance)

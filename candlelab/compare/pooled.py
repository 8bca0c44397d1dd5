"""Burns and fresh candles of several batches under each other, each row with its batch."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from candlelab.burns.candidates import in_one_spelling
from candlelab.judge.limits import by_the_first_targets, by_the_stricter, widths_told
from candlelab.judge.ranking import open_ends
from candlelab.judge.safety import FAIL, PASS
from candlelab.judge.together import Together, side_by_side, together
from candlelab.judge.worked import WorkedBatch, worked_batch
from candlelab.logs.batch import Batch

UNIT = ["batch", "candle"]


@dataclass(frozen=True, eq=False)
class Pooled:
    """Tables of several batches under each other, each row with its ``batch``.

    What is left out is marked. ``above`` and ``below`` have the rows of ``fresh``: what its missing
    numbers are known to be above and below. ``settings_told`` says where limits,
    targets and vessels differed.
    """

    worked: dict[str, WorkedBatch]
    burns: pd.DataFrame
    fresh: pd.DataFrame
    above: pd.DataFrame
    below: pd.DataFrame
    settings_told: tuple[str, ...] = ()

    @property
    def batches(self) -> dict[str, Batch]:
        """The batches by their names."""
        return {name: worked.batch for name, worked in self.worked.items()}

    @cached_property
    def judged(self) -> WorkedBatch | Together:
        """The batches judged as one."""
        return together(self.worked)

    @cached_property
    def outcomes(self) -> pd.DataFrame:
        """The fresh candles, and those that failed though they were set aside: which ``passed`` and
        which ``failed``. One that was not fully checked did neither."""
        found, (first, *_) = self.judged.failures, self.worked
        found = found[found["run"] == 1]
        of_one = [(first, candle) for candle in found["candle"]]
        failed, fresh = set(found.get("whose", of_one)), self.fresh
        keys = list(zip(fresh["batch"], fresh["candle"], strict=True))
        fails = fresh["failed"].astype(bool) | np.array([key in failed for key in keys], dtype=bool)
        burns = self.burns[self.burns["run"] == 1].drop_duplicates(UNIT)
        own = zip(burns["batch"], burns["candle"], strict=True)
        lost = burns[np.array([key in failed.difference(keys) for key in own], dtype=bool)]
        lost = lost.assign(passed=False, failed=True, excluded=False)
        ended = fresh.assign(passed=fresh["passed"].astype(bool) & ~fails, failed=fails)
        return pd.concat([ended, lost], ignore_index=True)

    @property
    def first(self) -> Batch:
        """The first batch, whose settings stand for all where they have to agree."""
        return next(iter(self.batches.values()))


def pool(batches: Iterable[Batch | WorkedBatch]) -> Pooled:
    """Put the burns and the fresh candles of several batches under each other.

    All are judged by the stricter of their limits, and a candle that two of them log counts once;
    see `candlelab.judge.together.side_by_side`.
    """
    given = [worked_batch(batch) for batch in batches]
    found = [one.batch for one in given]
    alike = in_one_spelling(found)
    told = by_the_stricter(found)[1] + by_the_first_targets(alike)[1] + widths_told(alike)
    worked = side_by_side(given)
    named = dict(zip(_names([one.batch for one in worked]), worked, strict=True))
    parts = [_one_batch(name, one) for name, one in named.items()]
    burns, fresh, above, below = (
        pd.concat(part, ignore_index=True) for part in zip(*parts, strict=True)
    )
    return Pooled(named, burns, fresh, above, below, tuple(told))


def _one_batch(name: str, worked: WorkedBatch) -> tuple[pd.DataFrame, ...]:
    """Burns and fresh candles of one batch, and what their missing numbers lie above and below.

    Burns that share their wax have one burn rate between them: the first keeps it.
    """
    burns, verdicts = worked.burns, worked.verdicts.candle_verdicts
    verdict = verdicts[verdicts["run"] == 1].set_index("candle")
    both = verdict[["standard_verdict", "studio_verdict"]]
    passed, failed = (both == PASS).all(axis=1), (both == FAIL).any(axis=1)
    pools = burns[["candle", "full_pool_after_h"]]
    pools = pools.assign(full_pool_by_h=burns["full_pool_by_h"].fillna(np.inf))
    seen = pools[~burns["excluded"] & (burns["run"] == 1)].groupby("candle")
    by = seen["full_pool_by_h"].median()
    values = worked.fresh
    values = values.assign(
        batch=name,
        passed=values["candle"].map(passed),
        failed=values["candle"].map(failed),
        sooted=values["soot_max"] >= 2,
        full_pool_by_burn_3=values["burns_to_full_pool"].fillna(np.inf) <= 3,
        full_pool_after_h=values["candle"].map(seen["full_pool_after_h"].median()),
        full_pool_by_h=values["candle"].map(by.replace(np.inf, np.nan)),
    )
    values = _when_and_where(values, worked)
    depth = (burns["fill_used_start_pct"] + burns["fill_used_pct"]) / 2.0
    again = burns["wax_shared"] & (burns["burn_rate_g_per_h"] == burns["burn_rate_g_per_h"].shift())
    once = burns["burn_rate_g_per_h"].mask(again & (burns["candle"] == burns["candle"].shift()))
    of_burns = burns.assign(batch=name, depth_pct=depth, burn_rate_g_per_h=once)
    return with_load(of_burns), with_load(values), *open_ends(values, burns)


def _when_and_where(values: pd.DataFrame, worked: WorkedBatch) -> pd.DataFrame:
    """What candles share beside their recipe: lot of wax, pouring day, days of burning, room."""
    candles = worked.batch.candles.set_index("candle")[["wax_lot", "poured_on"]]
    by = worked.burns[worked.burns["run"] == 1].groupby("candle")
    burned = {
        "lit_first": by["lit_at"].min(), "out_last": by["out_at"].max(),
        "room_mean_c": by["room_c"].mean(),
    }  # fmt: skip
    of_candle = {name: candles[name] for name in candles} | burned
    return values.assign(**{c: values["candle"].map(own) for c, own in of_candle.items()})


def with_load(table: pd.DataFrame) -> pd.DataFrame:
    """A candle without a fragrance has a load of 0; what a recipe has not is called none."""
    none = (table["fragrance"] == "") & table["fragrance_load_pct"].isna()
    words = {name: table[name].mask(table[name] == "", "none") for name in ("fragrance", "dye")}
    return table.assign(fragrance_load_pct=table["fragrance_load_pct"].mask(none, 0.0), **words)


def _names(batches: list[Batch]) -> list[str]:
    names: list[str] = []
    for batch in batches:
        name, n = batch.folder.resolve().name, 2
        while name in names:
            name, n = f"{batch.folder.resolve().name} ({n})", n + 1
        names.append(name)
    return names

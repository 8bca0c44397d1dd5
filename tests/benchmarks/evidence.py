"""Do the numbers hold on candles that are not the demo's: false alarms, bounds, "comes first"?

    python tests/benchmarks/evidence.py [STUDIES] [ROW ...]

Each row burns STUDIES batches (1,000 by default) of a bench that is made here, with numpy alone:
the rate of a candle falls along a curve as it burns down, its burns hang together (each is half the
last one's luck), pours and lots differ, some candles drown, some are stopped, lives may be
lognormal. It prints what was to be held and what was: in %, with about +-1.5 points of luck at
1,000 studies.
"""

from __future__ import annotations

import sys
import time
import warnings

import numpy as np
import pandas as pd

from candlelab.compare.values import values_of
from candlelab.stats.pairwise import compare_candidates

RATE = "burn_rate_g_per_h"
UNIT = ["batch", "candle"]
FILL, BURN_H, CANDLE_SD, BURN_SD = 200.0, 4.0, 0.25, 0.20
WHOLE_AT = 90.0
ROWS = {}


def row(work):
    """A row of the table, by the name of its function."""
    ROWS[work.__name__.replace("_", " ")] = work
    return work


def burned(rng, wick, *, mean=5.5, fall=0.0, bend=0.0, hang=0.5, candle_sd=CANDLE_SD, until=0.95,
           batch="", shift=0.0, short_burns=0.0):  # fmt: skip
    """Fresh candles and burns of one bench, a candle for each entry of ``wick``.

    The rate falls by ``fall`` of itself from full to empty and bends down by ``bend``; ``hang`` is
    how far the luck of a burn follows that of the last one; ``until`` the share used at the end;
    ``shift`` is added to every rate [g/h]. All may be one of each candle.
    """
    n = len(wick)
    means, sds = np.broadcast_to(mean, n), np.broadcast_to(candle_sd, n)
    level = means + np.broadcast_to(shift, n) + rng.normal(0.0, 1.0, n) * sds
    until = np.broadcast_to(until, n)
    rows = []
    for i in range(n):
        gone, luck, burn = 0.0, rng.normal(0.0, BURN_SD), 1
        while gone < until[i] * FILL - 1e-9 and burn < 99:
            hours = BURN_H if rng.random() >= short_burns else 0.05
            shape = 1.0 + fall * (0.5 - gone / FILL) + bend * (1.0 / 3.0 - (gone / FILL) ** 2)
            rate = max(level[i] * shape + luck, 0.3)
            used = min(rate * hours, until[i] * FILL - gone)
            hours = used / rate
            # a scale of 0.1 g weighs a short burn poorly
            seen = round(used, 1) / hours
            rows.append((f"{batch}{i}", wick[i], burn, hours, gone, used, seen))
            gone += used
            luck = hang * luck + np.sqrt(1.0 - hang**2) * rng.normal(0.0, BURN_SD)
            burn += 1
    burns = pd.DataFrame(
        rows, columns=["candle", "wick", "burn", "burn_time_h", "at", "used", RATE]
    )
    burns["depth_pct"] = 100.0 * (burns["at"] + burns["used"] / 2.0) / FILL
    burns = burns.assign(batch=batch or "one", run=1, excluded=False)
    by = burns.groupby("candle", sort=False)
    fresh = by.agg(wick=("wick", "first"), batch=("batch", "first"), used=("used", "sum"),
                   life_h=("burn_time_h", "sum")).reset_index()  # fmt: skip
    fresh[RATE] = fresh["used"] / fresh["life_h"]
    fresh["fill_used_pct"] = 100.0 * fresh["used"] / FILL
    fresh["true"] = level
    return fresh, burns


def wicks(*counts):
    return np.repeat(np.array(list("ABCDEF")[: len(counts)]), counts)


def by_values(fresh, burns, **more):
    """The comparison as the pages make it: one value per candle."""
    table = values_of(fresh, burns, RATE, WHOLE_AT)
    table = table.assign(**{RATE: table["value"].where(table["counts"])})
    return compare_candidates(table, metric=RATE, by="wick", unit=UNIT, **more)


def by_burns(fresh, burns, **more):
    """The comparison as it was before: every burn a row, the candle a random level."""
    return compare_candidates(burns, metric=RATE, by="wick", unit=UNIT, **more)


def alarm(found):
    return float((found.differences["p_adjusted"] < 0.05).any())


def both(make):
    """False alarms (or differences found) in % by burns, and by one value per candle."""

    def study(rng):
        made = make(rng)
        return {"before": alarm(by_burns(*made)), "after": alarm(by_values(*made))}

    return study


@row
def nothing_planted(rng):
    return both(lambda r: burned(r, wicks(3, 3, 3)))(rng)


@row
def stopped_early_18_pct_decline(rng):
    until = np.array([0.95] * 3 + [0.5] * 3 + [0.95] * 3)
    return both(lambda r: burned(r, wicks(3, 3, 3), fall=0.18, until=until))(rng)


@row
def stopped_early_curved_30_pct(rng):
    until = np.array([0.95] * 3 + [0.6, 0.5, 0.4] + [0.95] * 3)
    return both(lambda r: burned(r, wicks(3, 3, 3), fall=0.1, bend=0.2, until=until))(rng)


@row
def found_0_8_g_with_55_pct_decline(rng):
    mean = np.repeat([5.1, 5.9], 3)
    return both(lambda r: burned(r, wicks(3, 3), mean=mean, fall=0.55))(rng)


@row
def burns_of_three_minutes(rng):
    return both(lambda r: burned(r, wicks(3, 3, 3), short_burns=0.2))(rng)


def main() -> None:
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    asked = sys.argv[2:] or list(ROWS)
    for name, work in ROWS.items():
        if not any(part in name for part in asked):
            continue
        began, seen = time.perf_counter(), []
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            for seed in range(studies):
                seen.append(work(np.random.default_rng([20261126, seed])))
        table = pd.DataFrame(seen)
        told = ", ".join(
            f"{what} {100 * table[what].mean():.1f} % of {table[what].notna().sum()}"
            for what in table
        )
        print(f"{name}: {told} ({time.perf_counter() - began:.0f} s)", flush=True)


if __name__ == "__main__":
    main()

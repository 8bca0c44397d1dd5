"""Is planned power delivered? The share of simulated batches in which the analysis finds the
difference, beside the plan.

    python tests/benchmarks/planned_power.py [BATCHES]

Three designs, BATCHES each (1,000 by default), seeded. The first two draw every burn of every
candle; the third pours, burns, weighs and logs the candles on the simulated bench, writes the batch
to CSV, reads it back and compares its candidates as a report does; its plan takes the spread from
an earlier batch. Each is analysed by compare_candidates with the candle as the unit. Ends with 1
when a share is more than 3 points from its plan. With 1,000 batches a share has a standard error of
1.3 points at 80 %.
"""

import sys
import tempfile
import time

import numpy as np
import pandas as pd

from candlelab.burns.burns import burn_cycles
from candlelab.logs.batch import read_batch
from candlelab.logs.writer import write_batch
from candlelab.plan.sample_size import DEFAULT_SPREAD, Wanted, plan_candles, spread_of
from candlelab.simulate.batch import simulate_batch
from candlelab.simulate.model import BatchPlan, Bench, WickTruth
from candlelab.stats.pairwise import compare_candidates
from candlelab.stats.power import Plan, difference_found

TOML = """title = "planned power"
time_zone = "UTC"
[vessels."stoneware tumbler"]
inner_diameter_mm = 74
[waxes."coconut and rapeseed"]
heat_of_combustion_kj_per_g = 40
[instruments]
scale_repeatability_g = 0.04
"""


def drawn(wanted, seed, batches):
    """Burns drawn with the default spread, for the number of candles that the plan asks for."""
    asked = plan_candles(wanted=wanted)
    plan = Plan(asked.needed["difference"], wanted.candidates, asked.burns)
    rng = np.random.default_rng(seed)
    n = plan.candidates * plan.candles
    candle = np.repeat(np.arange(n), plan.burns)
    table = pd.DataFrame({"candle": candle, "wick": candle // plan.candles})
    found = 0
    for _ in range(batches):
        rate = (
            5.0
            + wanted.difference * (table["wick"] == 0)
            + rng.normal(0, DEFAULT_SPREAD.candle_sd, n)[candle]
        )
        rate = rate + rng.normal(0, DEFAULT_SPREAD.burn_sd, len(table))
        pairs = compare_candidates(
            table.assign(rate=rate), metric="rate", by="wick", unit="candle"
        ).differences
        pair = pairs[(pairs["candidate"] == "1") & (pairs["reference"] == "0")].iloc[0]
        found += bool(pair["p_adjusted"] < 0.05)
    return plan, DEFAULT_SPREAD, wanted.difference, found / batches


def on_the_bench(candles, difference, seed, batches):
    """Two wicks in whole batches, from pouring to the comparison of a report; planned from an
    earlier batch of 600 candles each."""
    wicks = (
        WickTruth("flat braid", "1", 1, 5.4, 3.0),
        WickTruth("flat braid", "2", 2, 5.4 + difference, 3.0),
    )
    found = 0
    with tempfile.TemporaryDirectory() as folder:
        spread, burns = spread_of([_burnt(wicks, 600, folder, seed - 1)])
        for batch in range(batches):
            table = burn_cycles(_burnt(wicks, candles, folder, seed + batch))
            pair = compare_candidates(
                table, metric="burn_rate_g_per_h", by="candidate"
            ).differences.iloc[0]
            found += bool(pair["p_adjusted"] < 0.05)
    return Plan(candles, 2, burns), spread, difference, found / batches


def _burnt(wicks, candles, folder, seed):
    names = tuple(
        (f"{w.wick_size}-{n}", w.wick_series, w.wick_size) for w in wicks for n in range(candles)
    )
    write_batch(simulate_batch(BatchPlan(wicks, names, Bench()), seed=seed).tables, TOML, folder)
    return read_batch(folder)


def main(batches):
    """Print the table; True when every share is within 3 points of its plan."""
    started, rows = time.perf_counter(), []
    for name, (plan, spread, difference, share) in (
        ("2 candidates, 0.5 g/h, burns drawn", drawn(Wanted(difference=0.5), 1, batches)),
        (
            "6 candidates, 0.6 g/h, burns drawn",
            drawn(Wanted(difference=0.6, candidates=6), 2, batches),
        ),
        ("2 wicks, 0.6 g/h, whole batches on the bench", on_the_bench(4, 0.6, 7000, batches)),
    ):
        planned = difference_found(plan, spread, difference)
        rows.append(
            (name, plan.candles, plan.burns, 100 * planned, 100 * share, 100 * (share - planned))
        )
    table = pd.DataFrame(
        rows, columns=["design", "candles of each", "burns", "planned %", "found %", "difference"]
    )
    print(table.round(1).to_string(index=False))
    print(f"{batches} batches a design, {time.perf_counter() - started:.0f} s")
    return bool((table["difference"].abs() <= 3.0).all())


if __name__ == "__main__":
    sys.exit(0 if main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000) else 1)

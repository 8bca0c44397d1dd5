"""How often the intervals hold the truth, and how often luck is taken for a difference.

    python tests/benchmarks/coverage.py [BATCHES]

Each design is burned BATCHES times (2,000 by default) with seeded luck: 3 candles a candidate, 12
burns each, spread 0.25 g/h between candles and 0.20 g/h between burns, true differences known. In
the re-wicked designs every second candle carries the next candidate's wick from burn 7 on; ``run
sd`` is a further spread of each wick run that the candle does not share. What was tried for the
designs above 97 % is in coverage_tried.py. With 2,000 batches a figure near 95 % is good to about
+-1 point (two standard errors).
"""

import sys
import time

import numpy as np
import pandas as pd
from scipy import stats

from candlelab.stats.mixed_model import fit_mixed
from candlelab.stats.pairwise import compare_candidates

CANDLE_SD, BURN_SD, DRIFT = 0.25, 0.20, 0.004
MEANS = [5.0, 5.4, 5.1, 5.8, 5.2, 5.6]


def design(k, *, per=3, n=12, rewicked=False, lost=0.0):
    """One batch without its rates: a table, and the number of its wick runs."""
    candle = np.repeat(np.arange(k * per), n)
    burn = np.tile(np.arange(1, n + 1), k * per)
    changed = (candle % 2 == 1) & (burn > n // 2) & rewicked
    wick = (candle // per + changed) % k
    table = pd.DataFrame(
        {
            "candle": candle,
            "wick": wick,
            "burn": burn,
            "depth": 100.0 * (burn - 1) / n,
            "run": 2 * candle + changed,
        }
    )
    return table[np.random.default_rng(99).random(len(table)) >= lost].reset_index(drop=True)


def study(name, plan, means, batches, seed, *, run_sd=0.0, candle_sd=CANDLE_SD, **asked):
    """Burn the plan again and again; a row of percentages."""
    rng = np.random.default_rng(seed)
    means = np.asarray(means)
    one = all_at_once = alarm = half = 0.0
    for _ in range(batches):
        rate = (
            means[plan["wick"]]
            + rng.normal(0, candle_sd, 99)[plan["candle"]]
            + rng.normal(0, BURN_SD, len(plan))
        )
        rate += DRIFT * plan["depth"] + (rng.normal(0, run_sd, 199)[plan["run"]] if run_sd else 0.0)
        found = compare_candidates(
            plan.assign(rate=rate), metric="rate", by="wick", **asked
        ).differences
        truth = means[found["candidate"].astype(int)] - means[found["reference"].astype(int)]
        off = np.abs(found["estimate"] - truth)
        one += (off <= stats.t.ppf(0.975, found["df"]) * found["std_error"]).mean()
        all_at_once += ((found["conf_low"] <= truth) & (truth <= found["conf_high"])).all()
        alarm += (found["p_adjusted"] < 0.05).any()
        half += ((found["conf_high"] - found["conf_low"]) / 2).mean()
    return {
        "design": name,
        "candidates": len(means),
        "one pair %": 100 * one / batches,
        "all pairs %": 100 * all_at_once / batches,
        "false alarm %": 100 * alarm / batches if np.ptp(means) == 0 else np.nan,
        "half width": half / batches,
    }


def candle_level_only(name, plan, means, batches, seed, run_sd):
    """The same for a level per candle alone, which compare_candidates does not use for re-wicked
    candles."""
    rng, k, one = np.random.default_rng(seed), len(means), 0.0
    x = np.column_stack((plan["wick"].to_numpy()[:, None] == np.arange(k), plan["depth"])).astype(
        float
    )
    weights = np.array(
        [np.eye(k + 1)[b] - np.eye(k + 1)[a] for a in range(k) for b in range(a + 1, k)]
    )
    for _ in range(batches):
        rate = (
            np.asarray(means)[plan["wick"]]
            + rng.normal(0, CANDLE_SD, 99)[plan["candle"]]
            + rng.normal(0, BURN_SD, len(plan))
        )
        rate += DRIFT * plan["depth"] + rng.normal(0, run_sd, 199)[plan["run"]]
        estimate, error, df = fit_mixed(rate, x, plan["candle"]).contrasts(weights)
        one += (np.abs(estimate - weights[:, :k] @ means) <= stats.t.ppf(0.975, df) * error).mean()
    return {"design": name, "candidates": k, "one pair %": 100 * one / batches}


def main(batches):
    """Print the table."""
    started, even = time.perf_counter(), [5.0] * 6
    balanced, six = design(3), design(6)
    changed, changed_six = design(3, rewicked=True), design(6, rewicked=True)
    depth = {"covariates": ["depth"]}
    rows = [
        study("two candidates", design(2), MEANS[:2], batches, 1),
        study("balanced", balanced, MEANS[:3], batches, 2, **depth),
        study("balanced", six, MEANS, batches, 3, **depth),
        study("balanced, no difference", six, even, batches, 4, **depth),
        study("a fifth of the burns lost", design(6, lost=0.2), even, batches, 5, **depth),
        study("no candle spread", six, even, batches, 6, candle_sd=0.0, **depth),
        study("spread of its own each", six, even, batches, 7, spread="separate"),
        study("re-wicked, run sd 0", changed, MEANS[:3], batches, 8, **depth),
        study("re-wicked, run sd 0.1", changed, MEANS[:3], batches, 9, run_sd=0.1, **depth),
        study("re-wicked, run sd 0.2", changed, MEANS[:3], batches, 10, run_sd=0.2, **depth),
        study("re-wicked, no difference, run sd 0", changed_six, even, batches, 11, **depth),
        study(
            "re-wicked, no difference, run sd 0.2",
            changed_six,
            even,
            batches,
            12,
            run_sd=0.2,
            **depth,
        ),
        *(
            candle_level_only(
                f"re-wicked, a level per candle only, run sd {sd:g}",
                changed,
                MEANS[:3],
                batches,
                13,
                sd,
            )
            for sd in (0.0, 0.1, 0.2)
        ),
    ]
    print(pd.DataFrame(rows).round(2).to_string(index=False, na_rep=""))
    print(f"{batches} batches a row, {time.perf_counter() - started:.0f} s")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)

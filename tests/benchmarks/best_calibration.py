"""Is a probability of being the best worth its name? Over simulated batches with known truth: of those called p, how many were.

6 candidates x 3 candles and 4 x 3; burn rate, wall and wax left drawn around true means whose own spread is
small, middle or large beside that of candles. Command: python tests/benchmarks/best_calibration.py [batches]
"""

import sys

import numpy as np
import pandas as pd

from candlelab.choosing import choose, desirability, together
from candlelab.settings import Target

TARGETS = (Target("burn_rate_g_per_h", 4.0, 7.4, 5.7), Target("wall_max_c", high=70.0, best=45.0), Target("wax_left_pct", high=15.0, best=0.0))
CENTRE, SPREAD = np.array([5.7, 55.0, 4.0]), np.array([0.25, 1.5, 0.8])


def one(random, candidates: int, candles: int, ratio: float):
    true = CENTRE + random.standard_normal((candidates, 3)) * SPREAD * ratio
    measured = true[:, None] + random.standard_normal((candidates, candles, 3)) * SPREAD
    names = [f"wick {n}" for n in range(candidates)]
    values = pd.DataFrame(measured.reshape(-1, 3), columns=[t.quantity for t in TARGETS]).assign(candidate=np.repeat(names, candles))
    choice = choose(values, TARGETS, dict.fromkeys(names, ""), seed=int(random.integers(1 << 30)), draws=2000)
    really = together(np.column_stack([desirability(true[:, k], t) for k, t in enumerate(TARGETS)]), [1.0] * 3)
    best = names[int(np.argmax(really))]
    return [(row.probability_best, row.candidate == best) for row in choice.candidates.itertuples()]


def main(batches: int) -> None:
    random = np.random.default_rng(1)
    bins = np.array([0, 0.05, 0.2, 0.4, 0.6, 0.75, 0.85, 0.95, 1.0001])
    for candidates, candles, ratio in ((6, 3, 0.7), (6, 3, 1.5), (6, 3, 3.0), (4, 3, 1.5), (6, 6, 1.5)):
        called = pd.DataFrame([row for _ in range(batches) for row in one(random, candidates, candles, ratio)], columns=["called", "best"])
        table = called.groupby(pd.cut(called["called"], bins, right=False), observed=True).agg(n=("best", "size"), called=("called", "mean"), best=("best", "mean"))
        print(f"{candidates} candidates x {candles} candles, true means spread {ratio} times as far as candles")
        print((table * [1, 100, 100]).round(0).astype(int).to_string(), "\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)

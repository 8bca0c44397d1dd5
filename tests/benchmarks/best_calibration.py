"""Is a probability of being the best worth its name? Over simulated batches with known truth: of
those called p, how many were.

    python tests/benchmarks/best_calibration.py [BATCHES] [SEED]

Burn rate, wall and wax left are drawn around true means; how far those lie apart, beside the spread
of candles, is small, middle or large. The last lines: candles whose spread is not normal, differs
between candidates, or goes together over the three quantities; and candidates that are truly one
and the same, where nobody should be called.
"""

import sys
from itertools import pairwise

import numpy as np
import pandas as pd

from candlelab.compare.choice import choose
from candlelab.logs.settings import Target
from candlelab.stats.desirability import desirability, together

TARGETS = (
    Target("burn_rate_g_per_h", 4.0, 7.4, 5.7),
    Target("wall_max_c", high=70.0, best=45.0),
    Target("wax_left_pct", high=15.0, best=0.0),
)
CENTRE, SPREAD = np.array([5.7, 55.0, 4.0]), np.array([0.25, 1.5, 0.8])
BINS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.7, 0.9, 0.95, 1.0001)
# candidates, candles each (0: two to five), spread of true means beside that of candles, candles
DESIGNS = (
    (6, 3, 0.7, "normal"), (6, 3, 1.5, "normal"), (6, 3, 3.0, "normal"), (4, 3, 1.5, "normal"),
    (6, 6, 1.5, "normal"), (2, 3, 1.0, "normal"), (3, 2, 1.5, "normal"), (6, 0, 1.0, "normal"),
    (6, 3, 1.0, "long tails"), (6, 3, 1.0, "lopsided"), (6, 3, 1.0, "unequal spread"),
    (6, 3, 1.0, "together"),
)  # fmt: skip


def deviations(random, kind: str, code, candidates: int):
    """Deviations of the candles, in units of their spread."""
    shape = (len(code), 3)
    if kind == "long tails":
        return random.standard_t(4, shape) / np.sqrt(2.0)
    if kind == "lopsided":
        return (random.gamma(2.0, 1.0, shape) - 2.0) / np.sqrt(2.0)
    if kind == "unequal spread":
        return random.standard_normal(shape) * random.uniform(0.5, 1.5, candidates)[code, None]
    if kind == "together":
        return 0.6 * random.standard_normal(shape) + 0.8 * random.standard_normal((len(code), 1))
    return random.standard_normal(shape)


def one(random, candidates: int, candles: int, ratio: float, kind: str):
    """One batch: what each candidate was called, and whether it is the best."""
    true = CENTRE + random.standard_normal((candidates, 3)) * SPREAD * ratio
    code = np.repeat(np.arange(candidates), candles or random.integers(2, 6, candidates))
    measured = true[code] + deviations(random, kind, code, candidates) * SPREAD
    names = [f"wick {n}" for n in range(candidates)]
    values = pd.DataFrame(measured, columns=[t.quantity for t in TARGETS]).assign(
        candidate=[names[n] for n in code]
    )
    choice = choose(
        values, TARGETS, dict.fromkeys(names, ""), seed=int(random.integers(1 << 30)), draws=2000
    )
    really = together(
        np.column_stack(
            [desirability(true[:, k], t.low, t.high, t.best) for k, t in enumerate(TARGETS)]
        ),
        [1.0] * 3,
    )
    best = names[int(np.argmax(really))]
    return [(row.probability_best, row.candidate == best) for row in choice.candidates.itertuples()]


def main(batches: int, seed: int) -> None:
    """Print the table: in each bin how many were called, what they were called on average, and how
    many of them were the best [%]."""
    random, rows = np.random.default_rng(seed), []
    heads = [f"{100 * low:.0f}-{100 * high:.0f} %" for low, high in pairwise(BINS)]
    for candidates, candles, ratio, kind in DESIGNS:
        called = np.array(
            [row for _ in range(batches) for row in one(random, candidates, candles, ratio, kind)],
            dtype=float,
        )
        place = np.digitize(called[:, 0], BINS) - 1
        row = {"design": f"{candidates} x {candles or '2-5'}, {ratio:g}, {kind}"}
        for n, head in enumerate(heads):
            own = called[place == n]
            row[head] = (
                f"{100 * own[:, 0].mean():.0f} > {100 * own[:, 1].mean():.0f} ({len(own)})"
                if len(own) >= 20
                else f"({len(own)})"
            )
        rows.append(row)
    print("called on average > were the best [%] (how many)")
    print(pd.DataFrame(rows).to_string(index=False))
    top = [max(p for p, _ in one(random, 6, 3, 0.0, "normal")) for _ in range(batches)]
    print(
        "six candidates that are one and the same: one was called 80 % or more in "
        f"{100 * np.mean(np.array(top) >= 0.8):.1f} % of {batches} batches"
    )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 2000,
        int(sys.argv[2]) if len(sys.argv) > 2 else 1,
    )

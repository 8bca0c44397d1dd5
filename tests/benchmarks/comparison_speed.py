"""How long a comparison takes: 12 candidates with 84 candles each and 15 burns (15,120 rows),
beside R lme4 with emmeans; and 100,000 burns in blocks of 30 days, which is to take at most 2 s.

    python tests/benchmarks/comparison_speed.py

The best of five runs on both sides, after one run to warm up; the start of Python and of R is not
counted. R is asked for all pairs with Tukey intervals: as it comes (above 3,000 rows emmeans falls
back on normal theory, no degrees of freedom), and with Satterthwaite's degrees of freedom asked
for. Without Rscript only this side is timed.
"""

import shutil
import subprocess
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from candlelab.stats.pairwise import compare_candidates

R_CODE = """
suppressMessages({library(lme4); library(lmerTest); library(emmeans)})
d <- read.csv("rows.csv"); d$candle <- factor(d$candle); d$wick <- factor(d$wick)
once <- function(mode) { m <- lmerTest::lmer(rate ~ wick + (1 | candle), d)
  e <- if (mode == "default") suppressMessages(emmeans(m, "wick")) else
    emmeans(m, "wick", lmer.df = "satterthwaite", lmerTest.limit = 1e6)
  summary(pairs(e), infer = TRUE) }
for (mode in c("default", "satterthwaite")) { s <- once(mode)
  seconds <- min(sapply(1:5, function(i) system.time(once(mode))[["elapsed"]]))
  cat(mode, seconds, s$estimate[1], s$SE[1], "\\n") }
"""


def rows(candidates=12, candles=84, burns=15, seed=1):
    """The table."""
    rng = np.random.default_rng(seed)
    candle = np.repeat(np.arange(candidates * candles), burns)
    wick = candle // candles
    rate = (
        5
        + 0.05 * wick
        + rng.normal(0, 0.25, candidates * candles)[candle]
        + rng.normal(0, 0.2, len(candle))
    )
    return pd.DataFrame(
        {"candle": [f"c{c:04d}" for c in candle], "wick": [f"w{w:02d}" for w in wick], "rate": rate}
    )


def in_blocks(burns=100_000, candles=8_000, days=30, seed=1):
    """Burns of five wicks, each on one of 30 days."""
    rng = np.random.default_rng(seed)
    candle = rng.integers(0, candles, burns)
    rate = 5 + rng.normal(0, 0.25, candles)[candle] + rng.normal(0, 0.2, burns)
    table = pd.DataFrame({"candle": candle, "wick": [f"w{c % 5}" for c in candle], "rate": rate})
    return table.assign(day=rng.integers(0, days, burns).astype(str))


def timed(table, **more):
    """Best time of five, and the result."""
    times = []
    for _ in range(6):
        started = time.perf_counter()
        result = compare_candidates(table, metric="rate", by="wick", **more)
        times.append(time.perf_counter() - started)
    return min(times[1:]), result


def main():
    """Print the times."""
    blocks, _ = timed(in_blocks(), covariates="day")
    print(f"candlelab, 100,000 rows in blocks of 30 days: {blocks:.3f} s")
    table = rows()
    ours, result = timed(table)
    first = result.differences.iloc[0]
    print(
        f"candlelab, Kenward-Roger: {ours:.3f} s for {len(table)} rows; first pair "
        f"{-first['estimate']:.6f} ({first['std_error']:.6f})"
    )
    if not shutil.which("Rscript"):
        print("Rscript is not there: nothing to compare with")
        return
    with tempfile.TemporaryDirectory() as folder:
        table.to_csv(Path(folder, "rows.csv"), index=False)
        run = subprocess.run(
            ["Rscript", "-e", R_CODE], cwd=folder, capture_output=True, text=True, check=True
        )
    for line in run.stdout.splitlines():
        mode, seconds, estimate, error = line.split()
        ratio = float(seconds) / ours
        print(
            f"R lme4 and emmeans, {mode}: {float(seconds):.3f} s, {ratio:.1f} times ours; first "
            f"pair {float(estimate):.6f} ({float(error):.6f})"
        )


if __name__ == "__main__":
    main()

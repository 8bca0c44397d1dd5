"""A simulated year (2,000 candles, 26,000 burns, 130,000 checks): read, check, burns, runs, candles
against pandas.read_csv.

Each side in a new process; imports are not counted; the sides take turns. Command: python
tests/benchmarks/scale.py [pairs]
"""

import statistics
import sys
import tempfile
from pathlib import Path

from own_process import PEAK, run

OURS = (
    PEAK
    + """
import json, sys, time
from candlelab.burns.burns import burn_cycles
from candlelab.logs.batch import read_batch
from candlelab.burns.candles import candle_summary, wick_runs
t = [time.perf_counter()]
batch = read_batch(sys.argv[1]); t.append(time.perf_counter())
burns = burn_cycles(batch); t.append(time.perf_counter())
runs = wick_runs(batch, burns); t.append(time.perf_counter())
candles = candle_summary(batch, burns, runs); t.append(time.perf_counter())
names = ["read and check", "burns", "runs", "candles"]
parts = dict(zip(names, [b - a for a, b in zip(t, t[1:])]))
print(json.dumps({"total": t[-1] - t[0], "parts": parts,
                  "peak_mb": peak_mb(), "rows": [len(candles), len(burns), len(batch.checks)]}))
"""
)
THEIRS = """
import json, sys, time
from pathlib import Path
import pandas as pd
begun = time.perf_counter()
tables = [pd.read_csv(path) for path in sorted(Path(sys.argv[1]).glob("*.csv"))]
print(json.dumps({"total": time.perf_counter() - begun}))
"""


def main(pairs: int) -> None:
    from candlelab.logs.writer import write_batch
    from candlelab.simulate.batch import simulate_many
    from candlelab.simulate.demo import SCREENING_TOML

    with tempfile.TemporaryDirectory() as folder:
        write_batch(simulate_many(2000, seed=1).tables, SCREENING_TOML, Path(folder) / "year")
        results = [
            (run(OURS, Path(folder) / "year"), run(THEIRS, Path(folder) / "year"))
            for _ in range(pairs + 1)
        ][1:]
    ratios = sorted(ours["total"] / theirs["total"] for ours, theirs in results)
    parts = {
        name: statistics.median(ours["parts"][name] for ours, _ in results)
        for name in results[0][0]["parts"]
    }
    print("rows:", *results[0][0]["rows"])
    print(
        "candlelab",
        f"{statistics.median(o['total'] for o, _ in results):.2f} s:",
        ", ".join(f"{n} {s:.2f} s" for n, s in parts.items()),
    )
    print(
        "pandas.read_csv of the same files",
        f"{statistics.median(t['total'] for _, t in results):.2f} s",
    )
    print(
        f"median ratio {statistics.median(ratios):.1f} (from {ratios[0]:.1f} to {ratios[-1]:.1f}); "
        "the aim is at most 6, better 4"
    )
    print(
        f"peak memory of the process {max(o['peak_mb'] for o, _ in results):.0f} MB; the aim is "
        "under 500"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)

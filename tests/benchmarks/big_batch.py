"""Reports on 18, 200 and 2,000 simulated candles: time, memory, page, tables beside it.

Time is processor time of the command and of the kernel that it starts, as a ratio to reading the
same folder's tables with pandas.read_csv, measured in the same run; memory is the peak of the
larger of the two processes. A report on 2,000 candles (26,000 burns) may take 60 s of processor
time and 800 MB, and its page 5 MB. Command: python tests/benchmarks/big_batch.py [candles ...]
"""

import sys
import tempfile
from pathlib import Path

from own_process import PEAK, run

# What ru_maxrss of the kernel begins with is the peak of the command, and the larger one counts.
OURS = (
    PEAK
    + """
import json, os, resource, sys
from candlelab.report.make import make_report
make_report(sys.argv[1], sys.argv[2])
t = os.times()
peak = max(peak_mb(), resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)
print(json.dumps({"cpu_s": t.user + t.system + t.children_user + t.children_system,
                  "peak_mb": peak}))
"""
)
THEIRS = """
import json, os, sys
from pathlib import Path
import pandas as pd
before = os.times()
for _ in range(10):
    for path in sorted(Path(sys.argv[1]).glob("*.csv")):
        pd.read_csv(path)
t = os.times()
print(json.dumps({"cpu_s": (t.user + t.system - before.user - before.system) / 10}))
"""
MOST_S, MOST_MB, MOST_PAGE_MB = 60.0, 800.0, 5.0


def measured(candles: int, work: Path) -> dict:
    """One report: what it took, and how large its files are."""
    from candlelab.logs.writer import write_batch
    from candlelab.simulate.batch import simulate_many
    from candlelab.simulate.demo import SCREENING_TOML

    folder, out = work / f"of{candles}", work / f"report{candles}"
    write_batch(simulate_many(candles, seed=1).tables, SCREENING_TOML, folder)
    found = run(OURS, folder, out) | {"read_csv_s": run(THEIRS, folder)["cpu_s"]}
    size = {path.name: path.stat().st_size / 1e6 for path in out.iterdir()}
    tables = [mb for name, mb in size.items() if name.startswith("table_")]
    return found | {
        "page_mb": size["batch_report.html"],
        "results_mb": size["results.json"],
        "tables": len(tables),
        "tables_mb": sum(tables),
    }


def main(sizes: list[int]) -> int:
    print(
        "| candles | processor s | times read_csv | peak MB | page MB | results.json MB | tables |"
    )
    print("|---|---|---|---|---|---|---|")
    over = False
    for n in sizes:
        with tempfile.TemporaryDirectory() as work:
            m = measured(n, Path(work))
        print(
            f"| {n:,} | {m['cpu_s']:.1f} | {m['cpu_s'] / m['read_csv_s']:.0f} | "
            f"{m['peak_mb']:.0f} | {m['page_mb']:.1f} | {m['results_mb']:.1f} | "
            f"{m['tables']} ({m['tables_mb']:.1f} MB) |"
        )
        over |= m["cpu_s"] > MOST_S or m["peak_mb"] > MOST_MB or m["page_mb"] > MOST_PAGE_MB
    return int(over)


if __name__ == "__main__":
    raise SystemExit(main([int(n) for n in sys.argv[1:]] or [18, 200, 2000]))

"""Fifty batches in one claim and one comparison, and one large batch packed, as ratios.

Against reading the same files with pandas, and against hashing and zipping them.

Each part in a new process; imports are not counted. Ratios are against something measured in the
same run. Command: python tests/benchmarks/many_batches.py [batches] [candles of the large one]
"""

import json
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

FEW = """
import sys, time, json
from pathlib import Path
import pandas as pd
import candlelab.claim.claims, candlelab.compare.ask
import scipy.stats, statsmodels.stats.proportion, statsmodels.duration.survfunc
from candlelab import claim_label, claim_page, compare_batches, compare_page, read_batch
folders = sorted(Path(sys.argv[1]).iterdir())
def timed(work):
    begun = time.process_time()
    made = work()
    return made, time.process_time() - begun
_, plain = timed(lambda: [pd.read_csv(p) for f in folders for p in sorted(f.glob("*.csv"))])
batches, reading = timed(lambda: [read_batch(f) for f in folders])
_, claim = timed(lambda: claim_page(claim_label(batches, "square braid 2")).record())
batches = [read_batch(f) for f in folders]
_, compare = timed(lambda: compare_page(compare_batches(batches, by="wick")).record())
print(json.dumps({"pandas.read_csv": plain, "read": reading, "claim": claim, "compare": compare}))
"""
# Its peak is read from Linux, for ru_maxrss begins with the peak of the process that started it.
LARGE = """
import sys, time, json
from pathlib import Path
from candlelab.share import pack
from candlelab.share.pack import make_pack
def report(folder, out, progress=False):
    out.mkdir(parents=True)
    for name in ("batch_report.html", "batch_report.ipynb"):
        (out / name).write_bytes(b"{}")
    record = {"format": "candlelab results 1", "answer": [], "inputs": []}
    record |= {name: {} for name in ("tables", "batch", "versions", "parameters")}
    (out / "results.json").write_text(json.dumps(record))
pack.make_report = report
begun = time.process_time()
make_pack([Path(sys.argv[1])], Path(sys.argv[1]).parent / "large.zip")
peak = int(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]) / 1024
print(json.dumps({"pack": time.process_time() - begun, "peak_mb": peak}))
"""
PLAIN = """
import sys, time, json, hashlib, zipfile
from pathlib import Path
begun = time.process_time()
folder = Path(sys.argv[1])
with zipfile.ZipFile(folder.parent / "plain.zip", "w", zipfile.ZIP_DEFLATED) as made:
    for path in sorted(folder.iterdir()):
        hashlib.sha256(path.read_bytes())
        made.write(path, path.name)
print(json.dumps({"hash and zip": time.process_time() - begun}))
"""


def run(code: str, folder: Path) -> dict:
    """What a part prints."""
    command = [sys.executable, "-c", code, str(folder)]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def many(folder: Path, n: int) -> None:
    """Batches of nine candles: one screening, then fresh pours of the same recipe."""
    from candlelab.logs.writer import write_batch
    from candlelab.simulate.batch import simulate_batch
    from candlelab.simulate.demo import CONFIRMATION_TOML
    from candlelab.simulate.demo_batches import DEMO_WICKS
    from candlelab.simulate.model import BatchPlan, Bench

    picks = [("square braid", "2")] * 6 + [("paper-cored", "4")] * 3
    toml = CONFIRMATION_TOML
    for k in range(n):
        candles = tuple((f"B{k:02d}-{i + 1:02d}", *wick) for i, wick in enumerate(picks))
        day = date(2024, 3, 4) + timedelta(days=14 * k)
        bench = Bench(first_day=day.isoformat(), wall_stop_c=65.0, wax_lot="L09")
        made = simulate_batch(BatchPlan(DEMO_WICKS, candles, bench), seed=1000 + k)
        own = toml.replace('stage = "confirmation"', 'stage = "screening"') if k == 0 else toml
        write_batch(made.tables, own, folder / f"batch-{k:02d}")


def main(n: int, candles: int) -> None:
    from candlelab.logs.writer import write_batch
    from candlelab.simulate.batch import simulate_many
    from candlelab.simulate.demo import SCREENING_TOML

    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        many(place / "many", n)
        few = run(FEW, place / "many")
        for name in ("read", "claim", "compare"):
            ratio = few[name] / few["pandas.read_csv"]
            print(f"{n} batches, {name}: {few[name]:.1f} s, {ratio:.1f} times pandas.read_csv")
        write_batch(simulate_many(candles, seed=1).tables, SCREENING_TOML, place / "large")
        size = sum(p.stat().st_size for p in (place / "large").iterdir()) / 1e6
        plain, ours = run(PLAIN, place / "large"), run(LARGE, place / "large")
        ratio = ours["pack"] / plain["hash and zip"]
        print(
            f"{size:.0f} MB packed, without its report: {ours['pack']:.1f} s, {ratio:.1f} times "
            f"hashing and zipping; peak {ours['peak_mb']:.0f} MB"
        )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 50,
        int(sys.argv[2]) if len(sys.argv) > 2 else 20_000,
    )

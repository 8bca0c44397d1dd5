"""Fifty batches in one claim and one comparison, and two large batches packed, as ratios.

Against reading the same files with pandas, and against hashing and zipping them.

Each part in a new process; imports are not counted. Ratios are against something measured in the
same run. Batches of 20,000 and 31,200 candles are 89 and 138 MB; the larger one may take 600 MB and
25.3 s (1.2 times what it took when that was set). Command:
python tests/benchmarks/many_batches.py [batches, 0 for none] [candles of a large one ...]
"""

import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

from own_process import PEAK, run

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
LARGE = (
    PEAK
    + """
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
print(json.dumps({"pack": time.process_time() - begun, "peak_mb": peak_mb()}))
"""
)
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


def few(place: Path, n: int) -> None:
    """Read, claim and compare so many batches."""
    many(place / "many", n)
    took = run(FEW, place / "many")
    for name in ("read", "claim", "compare"):
        ratio = took[name] / took["pandas.read_csv"]
        print(f"{n} batches, {name}: {took[name]:.1f} s, {ratio:.1f} times pandas.read_csv")


def large(folder: Path, candles: int) -> None:
    """Pack one batch of so many candles."""
    from candlelab.logs.writer import write_batch
    from candlelab.simulate.batch import simulate_many
    from candlelab.simulate.demo import SCREENING_TOML

    write_batch(simulate_many(candles, seed=1).tables, SCREENING_TOML, folder)
    size = sum(p.stat().st_size for p in folder.iterdir()) / 1e6
    plain, ours = run(PLAIN, folder), run(LARGE, folder)
    ratio = ours["pack"] / plain["hash and zip"]
    print(
        f"{size:.0f} MB ({candles:,} candles) packed, without its report: {ours['pack']:.1f} s, "
        f"{ratio:.1f} times hashing and zipping; peak {ours['peak_mb']:.0f} MB"
    )


def main(n: int, candles: list[int]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        if n:
            few(Path(folder), n)
        for number in candles:
            large(Path(folder) / f"of{number}", number)


if __name__ == "__main__":
    numbers = [int(number) for number in sys.argv[1:]] or [50]
    main(numbers[0], numbers[1:] or [20_000, 31_200])

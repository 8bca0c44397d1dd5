"""kill -9 at random moments of a report: each time the folder holds a whole report, old or new, and
the inputs are untouched.

Command: python tests/benchmarks/kill_report.py [kills]
"""

import contextlib
import hashlib
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from candlelab.pages.run import OUTPUTS

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"


def marks(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


def main(kills: int) -> None:
    chance = random.Random(1)
    inputs = {name: marks(DEMO / name) for name in ("screening", "confirmation")}
    whole, old_kept, replaced, half = set(), 0, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "out"
        took = {}
        for name in inputs:  # what whole reports look like, and how long they take
            begun = time.monotonic()
            subprocess.run(
                [sys.executable, "-m", "candlelab", "report", DEMO / name, "--out", out],
                check=True,
                stdout=subprocess.DEVNULL,
            )
            took[name] = time.monotonic() - begun
            whole.add(tuple(marks(out).items()))
        for n in range(kills):
            name = ("screening", "confirmation")[n % 2]
            before = tuple(marks(out).items())
            run = subprocess.Popen(
                [sys.executable, "-m", "candlelab", "report", DEMO / name, "--out", out],
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
            # half of the kills anywhere in the run, half around its end, where the folder changes
            # place
            time.sleep(
                chance.uniform(0, took[name])
                if n % 4 < 2
                else took[name] * chance.uniform(0.9, 1.05)
            )
            with contextlib.suppress(ProcessLookupError):
                os.killpg(run.pid, signal.SIGKILL)
            run.wait()
            after = tuple(marks(out).items())
            half += after not in whole
            old_kept += after == before
            replaced += after in whole and after != before
    assert inputs == {name: marks(DEMO / name) for name in inputs}, "an input changed"
    print(
        f"{kills} kills: {old_kept} left the old report, {replaced} the new one, {half} something "
        f"else ({', '.join(OUTPUTS)}); inputs unchanged"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)

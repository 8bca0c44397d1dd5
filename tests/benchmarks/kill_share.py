"""kill -9 at random moments of share: each time the file is a whole pack, old or new, and the
inputs are untouched.

Command: python tests/benchmarks/kill_share.py [kills]
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

from candlelab.archive import read_zip, sha256_of
from candlelab.share.contents import MANIFEST, manifest

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"
BATCHES = ("screening", "confirmation")


def marks(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


def share(name: str, out: Path, work: Path) -> subprocess.Popen:
    command = [sys.executable, "-m", "candlelab", "share", str(DEMO / name), "--out", str(out)]
    return subprocess.Popen(
        command,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
        env={**os.environ, "TMPDIR": str(work)},
    )


def main(kills: int) -> None:
    chance = random.Random(1)
    inputs = {name: marks(DEMO / name) for name in BATCHES}
    whole, took, old_kept, replaced, half = set(), {}, 0, 0, 0
    with tempfile.TemporaryDirectory() as folder:
        out, work = Path(folder) / "pack.zip", Path(folder) / "work"
        work.mkdir()
        for name in BATCHES:  # what whole packs are, and how long they take
            begun = time.monotonic()
            assert share(name, out, work).wait() == 0
            took[name] = time.monotonic() - begun
            whole.add(sha256_of(out))
        for n in range(kills):
            name, before = BATCHES[n % 2], sha256_of(out)
            run = share(name, out, work)
            # half of the kills anywhere in the run, half around its end, where the file changes
            # place
            time.sleep(
                chance.uniform(0, took[name])
                if n % 4 < 2
                else took[name] * chance.uniform(0.85, 1.05)
            )
            with contextlib.suppress(ProcessLookupError):
                os.killpg(run.pid, signal.SIGKILL)
            run.wait()
            after, files = sha256_of(out), read_zip(out)
            good = after in whole and files[MANIFEST] == manifest(
                {n: d for n, d in files.items() if n != MANIFEST}
            )
            half += not good
            old_kept += good and after == before
            replaced += good and after != before
    assert inputs == {name: marks(DEMO / name) for name in inputs}, "an input changed"
    print(
        f"{kills} kills: {old_kept} left the old pack, {replaced} the new one, {half} something "
        "else; inputs unchanged"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)

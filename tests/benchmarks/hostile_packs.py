"""Packs with changes that hypothesis thinks of: each passes or is told why not, never a traceback.

Command: python tests/benchmarks/hostile_packs.py [examples] [seed]
"""

import collections
import sys
import tempfile
import time
import warnings
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from hostile import changed_pack, told_or_passed
from packs import contents_of

from candlelab.share.pack import make_pack

DEMO = Path(__file__).resolve().parents[2] / "data" / "demo"


def main(examples: int, number: int) -> None:
    warnings.simplefilter("error")
    ends = collections.Counter()
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        pack = make_pack([DEMO / "confirmation"], Path(folder) / "pack.zip").path
        files, raw = contents_of(pack), pack.read_bytes()

        @seed(number)
        @settings(
            max_examples=examples,
            deadline=None,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        @given(st.data())
        def run(data):
            ends[
                "passed"
                if told_or_passed(
                    Path(folder) / "changed.zip", data.draw(changed_pack(files, raw)), files, patch
                )
                else "told"
            ] += 1

        begun = time.monotonic()
        run()
    print(
        f"{examples} examples, seed {number}: {dict(ends)} in {time.monotonic() - begun:.0f} s, no "
        "unhandled error"
    )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 1000,
        int(sys.argv[2]) if len(sys.argv) > 2 else 1,
    )

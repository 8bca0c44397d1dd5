"""Batches with changes that hypothesis thinks of: each gives a result or a list of problems, never
a traceback.

Command: python tests/benchmarks/hostile_reading.py [examples] [seed]
"""

import collections
import sys
import time
import warnings
from pathlib import Path

from hypothesis import HealthCheck, given, seed, settings

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from hostile import changed_files, result_or_problems


def main(examples: int, number: int) -> None:
    warnings.simplefilter("error")
    ends = collections.Counter()

    @seed(number)
    @settings(
        max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck)
    )
    @given(changed_files())
    def run(files):
        ends[result_or_problems(files)] += 1

    begun = time.monotonic()
    run()
    print(
        f"{examples} examples, seed {number}: {dict(ends)} in {time.monotonic() - begun:.0f} s, no "
        "unhandled error"
    )


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 10_000,
        int(sys.argv[2]) if len(sys.argv) > 2 else 1,
    )

"""Whether report, comparison and sizes of one batch agree, over many simulated batches.

Never another wick as the fastest, nor two numbers for one mean. Stops at the first that differs.
Command: python tests/benchmarks/agreement.py [batches]
"""

import sys
from pathlib import Path

sys.path[:0] = [str(Path(__file__).resolve().parents[1] / name) for name in ("", "report")]

from test_agreement import agree, simulated  # noqa: E402


def main(batches: int) -> None:
    for seed in range(batches):
        agree(simulated(seed))
    print(f"{batches} batches: report, comparison and sizes agree in all of them")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)

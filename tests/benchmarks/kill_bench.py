"""What serves or shows the bench, killed with -9 at random moments while entries are sent.

Usage: kill_bench.py [kills] [seed] [server, browser or kernel]; the kernel is one of JupyterLab.
Prints how many entries were answered, and ends with 1 when one of them is missing, twice or torn,
or when the batch must be mended.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench_kills import kill_at_random, kill_browsers, kill_kernels, what_is_wrong

KILL = {"server": kill_at_random, "browser": kill_browsers, "kernel": kill_kernels}


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 20261126
    with tempfile.TemporaryDirectory() as own:
        what = sys.argv[3] if len(sys.argv) > 3 else "server"
        folder, maker = KILL[what](Path(own), kills, seed)
        wrong = what_is_wrong(folder, maker)
    again = sum(n - 1 for n in maker.tries.values())
    print(f"{kills} kills of the {what}: {len(maker.saved)} entries answered, {again} sent again")
    print("\n".join(wrong) or "every one of them is there once, none is torn")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

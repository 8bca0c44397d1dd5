"""The bench's server, or the browser, killed with -9 at random moments while entries are sent.

Usage: kill_bench.py [kills] [seed] [server or browser]. Prints how many entries were answered, and
ends with 1 when one of them is missing, twice or torn, or when the batch must be mended.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench_kills import kill_at_random, kill_browsers, what_is_wrong


def main() -> int:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 20261126
    with tempfile.TemporaryDirectory() as own:
        kill = kill_browsers if sys.argv[3:] == ["browser"] else kill_at_random
        folder, maker = kill(Path(own), kills, seed)
        wrong = what_is_wrong(folder, maker)
    again = sum(n - 1 for n in maker.tries.values())
    print(f"{kills} kills: {len(maker.saved)} entries answered, {again} sent again")
    print("\n".join(wrong) or "every one of them is there once, none is torn")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())

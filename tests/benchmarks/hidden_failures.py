"""How many failures stay hidden after honest-looking edits, and how many verdicts are lost.

Usage: hidden_failures.py [LOGS] [SEED] [LOGS WITHOUT A FAILURE] [FIRST LOG]. In every log one
candle breaks one criterion once; then one to three edits are made. For each kind of edit: logs
tried, refused, questioned, named, and silent, those apart in which the files hold neither the
failure nor a hole where it was. A silent log counts for the fewest of its edits that leave it
silent, and the first of each is shown. Ends with 1 when a failure is silent that the files hold,
when an error was not caught, or when a verdict is lost. An interrupt (Ctrl-C) ends one half and
shows what it found.
"""

import signal
import sys
import tempfile
from collections import Counter, defaultdict
from itertools import combinations
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
import hidden
import hidden_edits
import numpy as np

BAD, UNKNOWABLE = (hidden.SILENT, hidden.BROKEN), "not in files"


def main(n=5000, seed=20261126, n_whole=2000, first=0):
    signal.signal(signal.SIGINT, signal.default_int_handler)  # in the background as well
    with tempfile.TemporaryDirectory() as folder:
        bad = search(n, seed, Path(folder), first) + whole(n_whole, seed, Path(folder))
    return int(bad > 0)


def each_of(n, one, first=0):
    """Do it for ``n`` numbers from ``first`` on, until somebody interrupts; says how many were
    done."""
    i = first
    try:
        for i in range(first, first + n):
            one(i)
    except KeyboardInterrupt:
        n = i - first
    print(f"{n} logs")


def search(n, seed, folder, first=0):
    counts, shown = defaultdict(Counter), {}

    def one(i):
        kinds = hidden_edits.drawn(np.random.default_rng([seed, i, 0]))
        word, said, made, least = _tried(seed, i, kinds, folder)
        for kind in made:
            counts[kind]["tried"] += 1
            counts[kind][word] += word not in (*BAD, UNKNOWABLE)
        counts[least[0]][word] += word in (*BAD, UNKNOWABLE)
        if word in BAD:
            shown.setdefault((word, *least), f"log {i}: {said}")

    each_of(n, one, first)
    words = ["tried", hidden.REFUSED, hidden.QUESTIONED, hidden.NAMED, *BAD, UNKNOWABLE]
    print(f"{'edit':52s}" + "".join(f"{word:>11s}" for word in words))
    for kind in hidden_edits.EDITS:
        print(f"{kind:52s}" + "".join(f"{counts[kind][word]:11d}" for word in words))
    for (word, *least), said in shown.items():
        print(f"{word}: {' + '.join(least)}: {said}")
    return sum(count[word] for count in counts.values() for word in BAD)


def _tried(seed, i, kinds, folder):
    """What became of a log, the edits that could be made, the fewest that leave it silent."""
    log, made = hidden_edits.edited(seed, i, kinds)
    found = hidden.outcome(log, folder)
    if found.word not in BAD:
        return found.word, found.said, made, made
    if found.word == hidden.SILENT and not hidden.knowable(log):
        return UNKNOWABLE, "", made, made
    for size in range(1, len(made)):
        for fewer in combinations(made, size):
            log, left = hidden_edits.edited(seed, i, fewer)
            again = hidden.outcome(log, folder)
            if again.word == found.word and hidden.knowable(log):
                return again.word, again.said, made, left
    return found.word, found.said, made, made


def whole(n, seed, folder):
    """Logs without a failure and with every check that was due: verdicts lost, questions asked."""
    lost = []

    def one(i):
        rng = np.random.default_rng([seed, i, 1])
        log = hidden_edits.harmless(hidden.random_log(rng, failing=False), rng)
        if said := hidden.lost(log, folder):
            lost.append(f"lost, log {i}: {'; '.join(said)}")

    each_of(n, one)
    print(*lost, f"{len(lost)} of them, without a failure, with a verdict lost", sep="\n")
    return len(lost)


if __name__ == "__main__":
    sys.exit(main(*(int(number) for number in sys.argv[1:])))

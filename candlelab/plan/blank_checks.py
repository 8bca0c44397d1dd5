"""Blank checks planned: each nose smells a candle with fragrance beside one without.

They come before the first sitting, in sittings of their own that are no longer than a nose can
smell before it tires. Which of the two is smelled first is drawn by lot, and balanced.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle, islice

import numpy as np
import pandas as pd

from candlelab.burns.side_by_side import blank_and_strong
from candlelab.plan.planned import PlannedBatch, as_log
from candlelab.stats.discrimination import PAIR, fewest_right
from candlelab.text import counted

COLUMNS = ["sitting_number", "assessor", "order", "first", "second"]
SESSION = "blank checks"


def draw_checks(planned: PlannedBatch, codes: Iterator[int]) -> tuple[pd.DataFrame, dict[str, str]]:
    """Who smells which two codes in which place, and the candle of each code.

    Every pair has codes of its own, so that no code is known again. The candle with fragrance is of
    the highest load of its fragrance, so that who smells can tell.
    """
    scent = planned.plan.settings.scent
    rng = np.random.default_rng([planned.plan.layout.seed, 15])
    blanks, scented = _candles(planned, rng)
    key: dict[str, str] = {}
    if not blanks or not scented:
        return pd.DataFrame(columns=COLUMNS), key
    pairs: list[list[str]] = []
    for two in islice(zip(cycle(blanks), cycle(scented), strict=False), int(scent.blank_checks)):
        given = [str(next(codes)) for _ in two]
        key |= dict(zip(given, two, strict=True))
        pairs.append(given)
    each = max(int(scent.candles_a_session) // 2, 1)
    rows = []
    for nose in range(int(scent.noses)):
        # half of them begin with the blank; of an odd number one more with every other nose
        begins = rng.permutation(len(pairs)) < (len(pairs) + nose % 2) // 2
        for start in range(0, len(pairs), each):
            turn = rng.permutation(np.arange(start, min(start + each, len(pairs))))
            for place, at in enumerate(turn, 1):
                smelled = pairs[at] if begins[at] else pairs[at][::-1]
                rows.append((start // each + 1, f"P{nose + 1}", place, *smelled))
    table = pd.DataFrame(rows, columns=COLUMNS)
    return table.sort_values("sitting_number", kind="stable", ignore_index=True), key


def _candles(planned: PlannedBatch, rng) -> tuple[list[str], list[str]]:
    """Candles without fragrance, and those of the highest load of each fragrance, in turn."""
    own = planned.layout.groupby("candidate")["candle"]
    own = {name: [str(c) for c in rng.permutation(candles)] for name, candles in own}
    names = (planned.candidates.loc[m, "candidate"] for m in blank_and_strong(planned.candidates))
    blanks, scented = (
        [c for turn in zip(*(own[name] for name in some), strict=False) for c in turn]
        for some in names
    )
    return blanks, scented


def pair_rows(checks: pd.DataFrame) -> pd.DataFrame:
    """The rows of pairs.csv that are due: two codes, and not yet which was stronger."""
    session = SESSION + " " + checks["sitting_number"].astype(str)
    known = checks.assign(session=session, lit=False, burn=pd.array([pd.NA] * len(checks), "Int64"))
    return as_log("pairs", known)


def check_words(planned: PlannedBatch, checks: pd.DataFrame) -> list[str]:
    """What the blank checks are, what they cost, and what they decide."""
    n = int(planned.plan.settings.scent.blank_checks)
    if checks.empty:
        return []
    sittings = counted(checks["sitting_number"].nunique(), "sitting")
    said = [
        f"First each nose does {counted(n, 'blank check')}, cold, in {sittings}. A blank check is "
        "two candles side by side, one of them without fragrance: which smells stronger? That is "
        f"{counted(2 * len(checks), 'sniff')} in all, {2 * n} for each nose."
    ]
    need = fewest_right(n, chance=PAIR)
    if need > n:
        return [*said, "So few checks tell nothing: it takes five."]
    said.append(
        f"Whoever is right in fewer than {need} of {n} may be guessing. Their scores will be "
        "listed and not counted."
    )
    slip = ["With so few, one slip sets a good nose aside: plan 8."] if need == n else []
    return said + slip

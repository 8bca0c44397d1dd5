"""Where each candle stands: the places of the benches, and candidates dealt out to them by lot.

Randomised complete blocks (R. A. Fisher; NIST/SEMATECH e-Handbook 5.3.3.2): along a bench
candles stand in rounds in which every candidate comes once, in an order drawn by lot. So no
candidate has the warm corner, and neighbours differ by chance.
"""

from __future__ import annotations

import math
import string
from collections import Counter

import numpy as np
import pandas as pd

from candlelab.plan.settings import BenchTop, Layout


def bench_positions(benches: dict[str, BenchTop], layout: Layout, width_mm: float) -> pd.DataFrame:
    """Every place of the benches for candles of an outer diameter [mm], back and forth.

    Places are as many as fit with the clear distance of the layout between candles, spread over the
    bench; ``x_mm`` runs along it, ``y_mm`` away from the front.
    """
    rows = []
    for name, bench in benches.items():
        sides = bench.length_mm, bench.depth_mm
        along, across = (_centres(length, width_mm, layout) for length in sides)
        before = "" if len(benches) == 1 else f"{name} "
        for n, x in enumerate(along):
            there = list(enumerate(across))
            for row, y in there if n % 2 == 0 else reversed(there):
                rows.append((name, f"{before}{letters(row)}{n + 1}", x, y))
    return pd.DataFrame(rows, columns=["bench", "bench_position", "x_mm", "y_mm"])


def _centres(length_mm: float, width_mm: float, layout: Layout) -> list[float]:
    """Middles of as many candles as fit along a length with the clear distance, in equal steps."""
    room = length_mm - width_mm - 2.0 * layout.edge_mm
    if room < 0:
        return []
    n = 1 + math.floor(room / (width_mm + layout.spacing_mm) + 1e-9)
    step = room / (n - 1) if n > 1 else 0.0
    first = layout.edge_mm + width_mm / 2.0 if n > 1 else length_mm / 2.0
    return [round(first + step * i, 1) for i in range(n)]


def letters(row: int) -> str:
    """A, B ... Z, AA, AB ..."""
    head, last = divmod(row, 26)
    return (letters(head - 1) if head else "") + string.ascii_uppercase[last]


def nearest_gap(positions: pd.DataFrame, width_mm: float) -> float:
    """Smallest clear distance [mm] between two candles of one bench; infinite when none has two."""
    smallest = math.inf
    for _, own in positions.groupby("bench", sort=False):
        xy = own[["x_mm", "y_mm"]].to_numpy(dtype=float)
        itself = np.where(np.eye(len(xy)), np.inf, 0.0)
        apart = np.hypot(*(xy[:, None] - xy[None]).T) + itself
        smallest = min(smallest, float(apart.min(initial=math.inf)) - width_mm)
    return smallest


def lay_out(
    candidates: dict[str, int], positions: pd.DataFrame, *, groups: int, layout: Layout
) -> pd.DataFrame:
    """Give every candle a place, a group and a round, by lot with the layout's seed.

    ``candidates`` gives the candles of each. A group is candles that are lit together. First the
    groups, then the benches within a group, get as many candles of every candidate as of another,
    give or take one, as long as it has candles left. Places are spread over the benches, and groups
    take turns along a bench. Candles are numbered along the bench, so that a number tells nothing
    of the wick. Raises ValueError when there are more candles than places.
    """
    n, places = sum(candidates.values()), len(positions)
    if n > places:
        raise ValueError(f"{n} candles and {places} places")
    rng = np.random.default_rng(layout.seed)
    spread = [(2 * i + 1) * places // (2 * n) for i in range(n)]
    names = list(candidates)
    turns = [names[i] for i in rng.permutation(len(names)) for _ in range(candidates[names[i]])]
    benches = positions["bench"].iloc[spread].tolist()
    on_bench = {bench: dict.fromkeys(candidates, 0) for bench in benches}
    dealt = [("", 0)] * n
    for number in range(min(groups, n)):
        left = Counter(turns[number::groups])  # every candidate goes round the groups
        own = range(number, n, groups)
        for bench in dict.fromkeys(benches[i] for i in own):
            block = [i for i in own if benches[i] == bench]
            for i, given in zip(block, _deal(left, len(block), on_bench[bench], rng), strict=True):
                dealt[i] = given
    digits = max(2, len(str(n)))
    first = {
        "candle": [f"{layout.candle_prefix}{i + 1:0{digits}d}" for i in range(n)],
        "candidate": [name for name, _ in dealt],
        "day_group": np.arange(n) % groups + 1,
    }
    place = positions[["bench", "bench_position", "x_mm", "y_mm"]].iloc[spread]
    table = pd.DataFrame(first | {name: place[name].array for name in place})
    table["round"] = [number for _, number in dealt]
    return table


def _deal(
    left: Counter, size: int, here: dict[str, int], rng: np.random.Generator
) -> list[tuple[str, int]]:
    """Deal ``size`` candles in rounds of the candidates that have some left.

    Takes them out of ``left``, counts them ``here``. A candidate with fewer left than others
    joins as many rounds, drawn by lot. A round that does not fit takes those with the most
    left, then those with the fewest here, ties by lot.
    """
    dealt: list[tuple[str, int]] = []
    number = 1
    while len(dealt) < size:
        rounds = max(left.values())
        names = [name for name, n in left.items() if n and rng.random() * rounds < n]
        names = [names[i] for i in rng.permutation(len(names))]
        room = size - len(dealt)
        if len(names) > room:
            first = sorted(names, key=lambda name: (-left[name], here[name]))[:room]
            names = [name for name in names if name in first]
        for name in names:
            left[name] -= 1
            here[name] += 1
        dealt += [(name, number) for name in names]
        number += bool(names)
    return dealt

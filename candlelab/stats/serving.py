"""In which order a panel smells: balanced for place and for what was smelled before.

Williams (1949, Aust. J. Sci. Res. A2:149): each candle as often in each place, and after each other
one. Where noses tire, blocks of fewer candles by cyclic difference sets (Cochran and Cox 1957),
else by exchange with a seed.
"""

from __future__ import annotations

import numpy as np

# Difference sets: (candles, in a block) -> the first block; the others are shifted.
_CYCLIC = {
    (7, 3): (0, 1, 3), (13, 4): (0, 1, 3, 9), (21, 5): (0, 1, 4, 14, 16), (11, 5): (0, 1, 2, 4, 7),
    (7, 4): (0, 1, 2, 4), (5, 4): (0, 1, 2, 3), (4, 3): (0, 1, 2), (3, 2): (0, 1),
}  # fmt: skip


def williams(n: int) -> np.ndarray:
    """Orders of ``n`` things, one a row: n rows for an even number, else twice as many."""
    first = [0]
    for step in range(1, n):
        first.append((first[-1] + (step if step % 2 else n - step)) % n)
    square = (np.array(first)[None, :] + np.arange(n)[:, None]) % n
    return square if n % 2 == 0 else np.vstack([square, square[:, ::-1]])


def carry_over(orders: np.ndarray, n: int) -> np.ndarray:
    """How often each thing (row) was smelled right before each other one (column)."""
    counts = np.zeros((n, n), dtype=int)
    for order in orders:
        np.add.at(counts, (np.asarray(order)[:-1], np.asarray(order)[1:]), 1)
    return counts


def together(blocks: np.ndarray, n: int) -> np.ndarray:
    """How often each two things are in one block; on the diagonal how often each is used."""
    inside = np.zeros((len(blocks), n), dtype=int)
    for row, block in enumerate(blocks):
        inside[row, list(block)] = 1
    return inside.T @ inside


def incomplete_blocks(n: int, size: int, n_blocks: int, *, seed: int = 1) -> np.ndarray:
    """Blocks of ``size`` of ``n`` things, each two of them together about equally often.

    From a difference set where there is one of this size and the number of blocks is a multiple of
    ``n``; else the best that exchanges from seeded starts find.
    """
    if size >= n:
        return np.tile(np.arange(n), (n_blocks, 1))
    if (n, size) in _CYCLIC and n_blocks % n == 0:
        first = np.array(_CYCLIC[n, size])
        return np.vstack([(first + shift) % n for shift in range(n)] * (n_blocks // n))
    rng = np.random.default_rng(seed)
    tried = [_exchanged(n, size, n_blocks, rng) for _ in range(20)]
    return min(tried, key=lambda blocks: _unevenness(blocks, n))


def _unevenness(blocks, n: int) -> float:
    """Spread of how often things are used and meet; use counts most."""
    met = together(blocks, n)
    return 1000.0 * np.ptp(np.diag(met)) + np.square(met[np.triu_indices(n, 1)]).sum()


def _exchanged(n: int, size: int, n_blocks: int, rng) -> np.ndarray:
    """Blocks dealt out evenly, then two things of two blocks changed places while it helps."""
    used = np.zeros(n, dtype=int)
    blocks = np.zeros((n_blocks, size), dtype=int)
    for row in range(n_blocks):
        blocks[row] = np.lexsort((rng.random(n), used))[:size]
        used[blocks[row]] += 1
    best = _unevenness(blocks, n)
    for _ in range(30 * n_blocks):
        a, b = rng.integers(n_blocks, size=2)
        i, j = rng.integers(size, size=2)
        if blocks[a, i] in blocks[b] or blocks[b, j] in blocks[a]:
            continue
        blocks[a, i], blocks[b, j] = blocks[b, j], blocks[a, i]
        now = _unevenness(blocks, n)
        if now <= best:
            best = now
        else:
            blocks[a, i], blocks[b, j] = blocks[b, j], blocks[a, i]
    return blocks

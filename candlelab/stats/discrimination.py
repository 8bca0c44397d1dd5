"""Right answers in forced choices: how many are more than luck (ISO 4120, 5495, 10399)."""

from __future__ import annotations

import numpy as np
import scipy

PAIR, DUO_TRIO, TRIANGLE = 1 / 2, 1 / 2, 1 / 3  # right by luck alone


def fewest_right(n: int, *, chance: float, alpha: float = 0.05, two_sided: bool = False) -> int:
    """The fewest right answers of ``n`` that luck gives in at most ``alpha`` of such tests.

    More than ``n`` where so few answers can show nothing.
    """
    tail = alpha / 2 if two_sided else alpha
    by_luck = scipy.stats.binom.sf(np.arange(-1, n + 1), n, chance)
    return int(np.argmax(by_luck <= tail))


def smells_it(right: int, n: int) -> bool | None:
    """Whether an assessor who was right in ``right`` of ``n`` pairs smells the difference.

    Yes where luck alone gives as many in 5 of 100 at most (binomial, chance 1/2, one-sided). None
    below five pairs, of which luck gets all right more often. To screen assessors by such tests
    before they judge is common practice (ISO 8586, from memory).
    """
    fewest = fewest_right(n, chance=PAIR)
    return None if fewest > n else right >= fewest


def share_right(d_prime: float) -> float:
    """Share of pairs in which the stronger is named, for a difference in standard deviations of
    one sniff (Thurstone 1927)."""
    return float(scipy.stats.norm.cdf(d_prime / 2**0.5))


def chance_to_show(n: int, right: float, *, chance: float, alpha: float = 0.05) -> float:
    """Probability that ``n`` answers, each right with probability ``right``, show it."""
    return float(scipy.stats.binom.sf(fewest_right(n, chance=chance, alpha=alpha) - 1, n, right))

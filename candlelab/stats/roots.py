"""Where a curve of probabilities crosses a line: importing scipy.optimize takes longer than all
that is solved for a report."""

from __future__ import annotations

import numpy as np


def rising_root(beyond, low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """Where each of ``beyond``, which grow, is zero between these ends.

    By false position, and an end that stays twice counts half (Illinois). Probabilities are meant:
    it is done when none is further than 1e-13 from zero.
    """
    at_low, at_high, side = beyond(low), beyond(high), np.zeros(len(low))
    for _ in range(60):
        rise = np.maximum(at_high - at_low, np.finfo(float).tiny)
        middle = high - np.clip(at_high / rise, 0.0, 1.0) * (high - low)
        at = beyond(middle)
        now = np.sign(at)
        half = np.where(now == side, 0.5, 1.0)
        at_low, at_high = np.where(now > 0, (at_low * half, at), (at, at_high * half))
        low, high, side = np.where(now > 0, low, middle), np.where(now > 0, middle, high), now
        if np.abs(at).max() < 1e-13:
            break
    return middle

"""The other way round along a straight line: which x gives the y that is wanted, with its interval (Fieller 1954)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Inverse:
    """An x with its interval. ``std_error`` is the usual approximate one (delta method).

    The interval is exact for normal errors; it has no end (infinite) where the slope is not told from zero.
    ``g`` says how near that is: below 0.05 the interval is as good as symmetrical, from 1 on it is open.
    """

    estimate: float
    std_error: float
    conf_low: float
    conf_high: float
    g: float

    @property
    def bounded(self) -> bool:
        """Whether the interval has two ends."""
        return self.g < 1.0


def inverse_prediction(
    intercept: float, slope: float, cov, y: float, t: float, *, extra_variance: float = 0.0
) -> Inverse:
    """The x at which ``intercept + slope * x`` is ``y``.

    ``cov`` is the covariance of intercept and slope, ``t`` the t quantile of the interval. ``extra_variance`` is
    that of ``y`` itself: 0 when y is a number that is wanted of the mean, the residual variance divided by m when y
    is the mean of m new observations. Raises ZeroDivisionError for a slope of zero.
    """
    cov = np.asarray(cov, dtype=float)
    x = (y - intercept) / slope
    g = t**2 * cov[1, 1] / slope**2
    error = np.sqrt(cov[0, 0] + 2.0 * x * cov[0, 1] + x**2 * cov[1, 1] + extra_variance) / abs(slope)
    if g >= 1.0:
        return Inverse(float(x), float(error), -np.inf, np.inf, float(g))
    a = slope**2 - t**2 * cov[1, 1]
    b = slope * (intercept - y) - t**2 * cov[0, 1]
    c = (intercept - y) ** 2 - t**2 * (cov[0, 0] + extra_variance)
    root = np.sqrt(max(b**2 - a * c, 0.0))
    return Inverse(float(x), float(error), float((-b - root) / a), float((-b + root) / a), float(g))

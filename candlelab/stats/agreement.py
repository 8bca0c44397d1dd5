"""Does a panel agree: Kendall's W, Krippendorff's alpha and intraclass correlation.

All take a table of units (rows: candles) by assessors (columns), missing where nobody scored.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special


def kendall_w(scores) -> tuple[float, float]:
    """Kendall's coefficient of concordance with ties allowed for, and the p of Friedman's test.

    Rows with a gap are left out. Missing with fewer than three rows or two columns.
    """
    scores = np.asarray(scores, dtype=float)
    scores = scores[~np.isnan(scores).any(axis=1)]
    n, m = scores.shape
    if n < 3 or m < 2 or np.all(scores == scores[:1]):
        return np.nan, np.nan
    ranks = pd.DataFrame(scores).rank().to_numpy()
    tied = sum(np.sum(t**3 - t) for t in (np.unique(r, return_counts=True)[1] for r in ranks.T))
    spread = np.square(ranks.sum(axis=1) - m * (n + 1) / 2).sum()
    w = 12 * spread / (m**2 * (n**3 - n) - m * tied)
    return float(w), float(special.chdtrc(n - 1, m * (n - 1) * w))


def krippendorff_alpha(scores, level: str = "ordinal") -> float:
    """Krippendorff's alpha: 1 for full agreement, 0 for none beyond luck.

    Parameters
    ----------
    scores : array_like, shape (units, assessors)
        Missing as NaN; a unit with fewer than two scores does not count.
    level : {"nominal", "ordinal", "interval"}
        What counts as far apart (Krippendorff 2004, Content Analysis, 2nd ed., chapter 11).
    """
    scores = np.asarray(scores, dtype=float)
    values = np.unique(scores[~np.isnan(scores)])
    counts = (scores[:, :, None] == values).sum(axis=1).astype(float)
    counts = counts[counts.sum(axis=1) > 1]
    of_unit = counts.sum(axis=1)
    seen = (counts / (of_unit - 1)[:, None]).T @ counts
    seen -= np.diag((counts / (of_unit - 1)[:, None]).sum(axis=0))
    total = seen.sum(axis=1)
    apart = _distances(values, total, level)
    by_luck = np.outer(total, total) - np.diag(total)
    expected = (by_luck * apart).sum() / max(total.sum() - 1, 1)
    return float(1 - (seen * apart).sum() / expected) if expected > 0 else np.nan


def _distances(values, total, level: str) -> np.ndarray:
    if level == "nominal":
        return 1.0 - np.eye(len(values))
    if level == "interval":
        return np.square(values[:, None] - values[None, :])
    middle = np.cumsum(total) - total / 2
    return np.square(middle[:, None] - middle[None, :])


def intraclass(scores) -> tuple[float, float]:
    """ICC(2,1) and ICC(2,k) of Shrout and Fleiss (1979): one nose, and the mean of the panel.

    Rows with a gap are left out; missing with fewer than two rows or columns.
    """
    scores = np.asarray(scores, dtype=float)
    scores = scores[~np.isnan(scores).any(axis=1)]
    n, k = scores.shape
    if n < 2 or k < 2:
        return np.nan, np.nan
    rows = k * np.square(scores.mean(axis=1) - scores.mean()).sum()
    columns = n * np.square(scores.mean(axis=0) - scores.mean()).sum()
    rest = np.square(scores - scores.mean()).sum() - rows - columns
    between, judges, error = rows / (n - 1), columns / (k - 1), rest / ((n - 1) * (k - 1))
    one = between + (k - 1) * error + k * (judges - error) / n
    many = between + (judges - error) / n
    single = (between - error) / one if one > 0 else np.nan
    return float(single), float((between - error) / many) if many > 0 else np.nan

"""Tails of Student's t and of F, and how far out a tail begins.

The same as scipy.stats gives, whose import takes longer than most of what is asked of it here.
"""

from __future__ import annotations

import numpy as np
from scipy import special


def t_above(t, df):
    """Probability of a t value over ``t``."""
    return special.stdtr(df, -t)


def t_below_which(p, df):
    """The t value that others stay below with probability ``p``."""
    return special.stdtrit(df, p)


def t_above_which(p, df):
    """The t value that others exceed with probability ``p``."""
    return -special.stdtrit(df, p)


def f_above(f, df, rest_df):
    """Probability of an F value over ``f``; 1 where rounding left it under 0."""
    return special.fdtrc(df, rest_df, np.maximum(f, 0.0))

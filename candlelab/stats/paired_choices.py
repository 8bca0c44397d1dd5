"""Which of two is stronger, asked many times: Bradley and Terry (1952), Biometrika 39:324."""

from __future__ import annotations

import warnings

import numpy as np
import pandas as pd

from candlelab.stats.columns import CannotCompare


def strengths(pairs: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate: log strength beside the first, and its standard error.

    A binomial model without intercept, each candidate +1 where it is named first and -1 where it is
    named second. The errors hold for these candles and noses: trials are its units.

    Parameters
    ----------
    pairs : pandas.DataFrame
        ``first``, ``second`` and how often each was called stronger: ``n_first``, ``n_second``.

    Raises
    ------
    CannotCompare
        When a candidate, or a group of them, won or lost against all others.
    """
    from statsmodels.genmod.families import Binomial
    from statsmodels.genmod.generalized_linear_model import GLM

    names = list(dict.fromkeys([*pairs["first"], *pairs["second"]]))
    if not _comparable(pairs, names):
        raise CannotCompare(
            "Some candidates won every pair against the others, so how much stronger they are has "
            "no end. More pairs, or candidates that are closer, would tell."
        )
    sign = np.zeros((len(pairs), len(names)))
    for column, value in (("first", 1.0), ("second", -1.0)):
        sign[np.arange(len(pairs)), [names.index(name) for name in pairs[column]]] += value
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a fit of few pairs warns where it still converges
        fit = GLM(pairs[["n_first", "n_second"]].to_numpy(), sign[:, 1:], Binomial()).fit()
    table = {"candidate": names, "estimate": [0.0, *fit.params], "std_error": [0.0, *fit.bse]}
    return pd.DataFrame(table)


def _comparable(pairs: pd.DataFrame, names: list) -> bool:
    """Whether everybody beat everybody, straight or through others (Ford 1957)."""
    beats = np.eye(len(names), dtype=bool)
    for row in pairs.itertuples():
        i, j = names.index(row.first), names.index(row.second)
        beats[i, j] |= row.n_first > 0
        beats[j, i] |= row.n_second > 0
    for k in range(len(names)):
        beats |= np.outer(beats[:, k], beats[k])
    return bool(beats.all())

"""One vocabulary of answers: the columns in which every estimate and difference is given."""

from __future__ import annotations

import itertools

import numpy as np
import pandas as pd

from candlelab.stats.designs import Rows
from candlelab.stats.models import Model
from candlelab.stats.tails import t_below_which

ANSWER = [
    "estimate", "std_error", "df", "conf_low", "conf_high", "p_value", "p_adjusted", "n_candles",
]  # fmt: skip


def answer_table(estimate, error, df, far, p_value, p_adjusted, n_candles) -> pd.DataFrame:
    """The columns of ``ANSWER``; an interval reaches ``far`` standard errors to either side."""
    ends = estimate - far * error, estimate + far * error
    parts = estimate, error, df, *ends, p_value, p_adjusted, n_candles
    return pd.DataFrame(dict(zip(ANSWER, parts, strict=True)))


def estimates_table(rows: Rows, model: Model, confidence: float) -> pd.DataFrame:
    """One row per candidate with an interval that stands alone."""
    cells = range(len(rows.cells))
    estimate, error, df = model.contrasts(np.eye(len(cells)))
    far = t_below_which((1.0 + confidence) / 2.0, df)
    n_candles = [rows.candles_of(i) for i in cells]
    table = answer_table(estimate, error, df, far, np.nan, np.nan, n_candles)
    table.insert(0, "candidate", [rows.name(i) for i in cells])
    return table


def at_confidence(estimates: pd.DataFrame, confidence: float) -> pd.DataFrame:
    """The same estimates, with intervals of another confidence."""
    reach = t_below_which((1.0 + confidence) / 2.0, estimates["df"]) * estimates["std_error"]
    ends = {"conf_low": estimates["estimate"] - reach, "conf_high": estimates["estimate"] + reach}
    return estimates.assign(**ends)


def all_pairs(n: int) -> list[tuple[int, int]]:
    """Every pair of places as (candidate, reference), the reference being the earlier one."""
    return [(j, i) for i, j in itertools.combinations(range(n), 2)]

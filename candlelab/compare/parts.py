"""A comparison of the candidates that can be told apart, part by part."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pandas as pd

from candlelab.compare.blocks import Design
from candlelab.stats.answers import at_confidence
from candlelab.stats.unequal import compare_as_they_vary


def rows_of(table: pd.DataFrame, design: Design, part: tuple[str, ...]) -> pd.DataFrame:
    """The rows of the candidates of one part."""
    return table[table[design.by].astype(str).isin(part)]


def blocks_of(rows: pd.DataFrame, design: Design, metric: str) -> tuple[str, ...]:
    """The blocks that change within these rows."""
    seen = rows[metric].notna()
    return tuple(name for name in design.blocks if rows[name][seen].nunique() > 1)


def compare_parts(
    table: pd.DataFrame, design: Design, work: Callable[..., Any] = compare_as_they_vary, **asked
):
    """What ``work`` says of each part that has two candidates, under each other.

    Parameters
    ----------
    table : pandas.DataFrame
        One row per candle.
    design : Design
        What can be told apart in it.
    work : callable
        `compare_as_they_vary`, or another comparison with tables ``estimates`` and ``differences``.
    **asked
        As ``work`` takes them, without ``by`` and ``covariates``.

    Returns
    -------
    Comparison or Equivalence
        Pairs of one part only. Parts share the error (Bonferroni). Candidates that hang together
        with no other have an estimate.

    Raises
    ------
    CannotCompare
        As ``work`` does.
    """
    by, metric = design.by, asked["metric"]
    if design.whole:
        return work(table, by=by, covariates=blocks_of(table, design, metric), **asked)
    several = [part for part in design.parts if len(part) > 1]
    found = work(table, by=by, **asked)
    confidence = found.confidence
    strict = {**asked, "confidence": 1.0 - (1.0 - confidence) / max(len(several), 1)}
    estimates = getattr(found, "estimates", None)
    differences, notes = found.differences.iloc[:0], list(found.notes[:0])
    for part in several:
        rows = rows_of(table, design, part)
        own = work(rows, by=by, covariates=blocks_of(rows, design, metric), **strict)
        shared = own.differences["p_adjusted"] * len(several)
        pairs = own.differences.assign(p_adjusted=shared.clip(upper=1.0))
        differences = pd.concat([differences, pairs]) if len(differences) else pairs
        notes += own.notes
        if estimates is not None:
            loose = at_confidence(own.estimates, confidence)
            estimates = pd.concat([estimates[~estimates["candidate"].isin(part)], loose])
    more = {} if estimates is None else {"estimates": estimates.reset_index(drop=True)}
    return replace(
        found,
        differences=differences.reset_index(drop=True),
        notes=tuple(dict.fromkeys(notes)),
        **more,
    )

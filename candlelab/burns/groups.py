"""Rows in groups, as arrays: on the small tables of a batch a groupby costs more than its sum."""

from __future__ import annotations

from collections.abc import Iterable
from operator import attrgetter
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd

from candlelab.logs.groups import begins

RUN = ["candle", "run"]


def first_rows(table: pd.DataFrame, by: list[str]) -> np.ndarray:
    """Where each stretch of rows begins that are alike in these columns."""
    first = np.ones(len(table), dtype=bool)
    if len(table):
        columns = [table[name].to_numpy() for name in by]
        first[1:] = np.any([column[1:] != column[:-1] for column in columns], axis=0)
    return np.flatnonzero(first)


def reduced(group: np.ndarray, values: np.ndarray, n: int, *, by=np.fmax, blank=np.nan):
    """The rows of each of the groups 0 .. n-1 brought together, ``blank`` where there is none."""
    order = np.argsort(group, kind="stable")
    starts = begins(group[order])
    out = np.full((n, *values.shape[1:]), blank)
    if len(starts):
        out[group[order][starts]] = by.reduceat(values[order], starts, axis=0)
    return out


def as_rows(table: pd.DataFrame | list[Any]) -> list[Any]:
    """The rows of a table, each with its columns by name; rows are handed back as they are."""
    if isinstance(table, list):
        return table
    names, rows = list(table), table.to_numpy(dtype=object).tolist()
    return [SimpleNamespace(**dict(zip(names, row, strict=True))) for row in rows]


def rows_by(rows: Iterable[Any], *names: str) -> dict[Any, list[Any]]:
    """The rows by what stands in these columns, in the order in which it first stands there."""
    found: dict[Any, list[Any]] = {}
    key = attrgetter(*names)
    for row in rows:
        found.setdefault(key(row), []).append(row)
    return found


def table_of(rows: list[dict[str, Any]], kinds: dict[str, Any]) -> pd.DataFrame:
    """A table of these rows, with columns of these kinds in their order."""
    return pd.DataFrame(
        {name: pd.array([row[name] for row in rows], dtype=kind) for name, kind in kinds.items()}
    )


def set_aside_whole(burns: pd.DataFrame) -> np.ndarray:
    """True for the burns of candles that were set aside as a whole."""
    candle, names = pd.factorize(burns["candle"])
    counts = np.bincount(candle, ~burns["excluded"].to_numpy(), minlength=len(names))
    return counts[candle] == 0

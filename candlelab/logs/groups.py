"""Groups of rows by the number of their group, as arrays: what a table of ten rows can afford."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd


def numbered(values: np.ndarray) -> np.ndarray:
    """A number for each value, the same for the same, counted up as they appear."""
    steps = np.diff(values)
    if (steps >= 0).all():  # as in a log that is in order
        return np.append(0, np.cumsum(steps > 0)) if len(values) else values
    return pd.factorize(values)[0]


def asked_once(texts: Any, true_of: Callable[[str], object]) -> np.ndarray:
    """For each row whether ``true_of(text)`` is true; asked once for each distinct text."""
    rows = np.asarray(texts, dtype=object)
    wanted = {text for text in set(rows) if true_of(text)}
    if not wanted:
        return np.zeros(len(rows), dtype=bool)
    return np.fromiter((text in wanted for text in rows), dtype=bool, count=len(rows))


def any_of(mask: np.ndarray, code: np.ndarray) -> np.ndarray:
    """Rows in whose group the mask holds anywhere."""
    return np.isin(code, code[mask]) if mask.any() else mask


def running(mask: np.ndarray, code: np.ndarray) -> np.ndarray:
    """How many rows the mask holds from the start of a row's group to it; groups in one piece."""
    total, starts = np.cumsum(mask), begins(code)
    before = (total - mask)[starts]
    return total - np.repeat(before, np.diff(starts, append=len(code)))


def begins(code: np.ndarray) -> np.ndarray:
    """Where each group begins, groups in one piece."""
    return np.flatnonzero(np.diff(code, prepend=-2))


def beside(values: np.ndarray, code: np.ndarray, step: int) -> np.ndarray:
    """The value one row above (-1) or below (1) in the same group, missing where there is none."""
    there = np.full(len(values), np.nan)
    same = code[1:] == code[:-1]
    to, at = (there[1:], values[:-1]) if step < 0 else (there[:-1], values[1:])
    to[same] = at[same]
    return there


def medians(values: np.ndarray, code: np.ndarray) -> np.ndarray:
    """For each group, numbered from 0, the median of what is not missing."""
    count = np.bincount(code, weights=~np.isnan(values)).astype(int)
    values = values[np.lexsort((values, np.where(np.isnan(values), len(count), code)))]
    first = np.cumsum(count) - count
    low, high = (np.minimum(first + n // 2, len(values) - 1) for n in (count - 1, count))
    return np.where(count > 0, (values[low] + values[high]) / 2, np.nan)


def medians_of_others(values: np.ndarray, code: np.ndarray) -> np.ndarray:
    """For each group, numbered from 0, the median of the rows of all other groups; no value may be
    missing."""
    order = np.argsort(values)
    rank = np.argsort(code[order], kind="stable")  # group by group, each from its lowest value up
    code, size = code[order][rank], np.bincount(code)
    below = rank + (np.cumsum(size) - size)[code] - np.arange(len(code))  # in other groups
    left, found = len(code) - size, np.zeros(len(size))
    for middle in ((left - 1) // 2, left // 2):
        own = np.bincount(code, weights=below <= middle[code]).astype(int)
        found += values[order[np.minimum(middle + own, len(code) - 1)]] / 2
    return np.where(left > 0, found, np.nan)


def firsts(code: np.ndarray) -> list[tuple[int, int]]:
    """The place of the first row of each group, in their order, and how many rows it has."""
    _, first, count = np.unique(code, return_index=True, return_counts=True)
    return sorted(zip(first.tolist(), count.tolist(), strict=True))

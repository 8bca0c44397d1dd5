"""What a table must be before it is compared: each check with a sentence that names what is wrong
and what to do."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pandas as pd
from pandas.api import types

from candlelab.text import clip, closest, counted, listed, name_of

SMALLEST, LARGEST = 1e-50, 1e50  # sizes whose squares and products a float still holds


class CannotCompare(ValueError):
    """The table does not carry the comparison that was asked for; the message says why and what to
    do."""


def as_columns(names) -> tuple:
    """One name or several, as a tuple."""
    if isinstance(names, str) or not isinstance(names, Iterable):
        return (names,)
    return tuple(names)


def check_question(table, compared, by, unit, covariates=()) -> None:
    """All that must hold of the columns asked for before a row is read; raises CannotCompare.

    ``compared`` are the columns of what is compared, the others as in `compare_candidates`.
    """
    for word, names, what in (("by", by, "holds the candidates"), ("unit", unit, "names a candle")):
        if not names:
            raise CannotCompare(f"{word} names no column. Give the column that {what}.")
    check_columns(table, (*compared, *by, *unit, *covariates))
    asked = (*by, *covariates)
    twice = [c for c in asked if c in compared or asked.count(c) > 1]
    if twice:
        raise CannotCompare(
            f"{twice[0]} is asked for twice: as what is compared and as what it is compared by or "
            "corrected for."
        )
    _check_names(table, (*by, *unit, *covariates))


def check_columns(table, columns) -> None:
    """Raise CannotCompare when the table is none, is empty, or lacks a column or has it twice."""
    if not isinstance(table, pd.DataFrame):
        raise CannotCompare(
            f"The comparison needs a table (a pandas DataFrame), not {type(table).__name__}."
        )
    if isinstance(table.columns, pd.MultiIndex):
        raise CannotCompare(
            "The names of the table's columns have several levels. Give each column one name."
        )
    if not len(table.columns):
        raise CannotCompare("The table has no columns.")
    for column in columns:
        if not _is_hashable(column):
            raise CannotCompare(f"{clip(column)} is no name of a column.")
        if column not in table.columns:
            close = closest(str(column), table.columns)
            hint = f"Did you mean {close!r}?" if close else f"It has {listed(table.columns, 12)}."
            raise CannotCompare(f"The table has no column {column!r}. {hint}")
    names = list(table.columns)
    for column in (*columns, "excluded"):
        if (n := names.count(column)) > 1:
            raise CannotCompare(
                f"The table has {n} columns named {column!r}. Leave one of them, or rename the "
                "others."
            )
    if table.empty:
        raise CannotCompare("The table has no rows.")


def _check_names(table, columns) -> None:
    """Raise CannotCompare when a column that names things holds what is no name, such as a list."""
    for column in columns:
        if table[column].dtype == object:
            for value in table[column]:
                if not _is_hashable(value):
                    raise CannotCompare(
                        f"{column} holds {clip(value)}, a {type(value).__name__}. Give one name or "
                        "number in each row."
                    )


def _is_hashable(value) -> bool:
    try:
        hash(value)
    except TypeError:
        return False
    return True


def check_one_each(kept, unit, why) -> None:
    """Raise CannotCompare, saying why, when a candle has more than one row."""
    again = kept.duplicated(list(unit))
    if again.any():
        name = " ".join(map(name_of, kept.loc[again, list(unit)].iloc[0]))
        raise CannotCompare(f"{name} has more than one row. {why}")


def marked_rows(table) -> np.ndarray:
    """Rows marked in a column ``excluded``, where there is one. Raises CannotCompare when it is no
    yes and no."""
    if "excluded" not in table.columns:
        return np.zeros(len(table), dtype=bool)
    marks = table["excluded"]
    if marks.dtype == bool:
        return marks.to_numpy()
    if not marks.dropna().isin([True, False]).all():
        raise CannotCompare(
            "The column `excluded` must hold True and False only: it says which rows are set aside."
        )
    return marks.isin([True]).to_numpy(dtype=bool)


def check_number(table, column) -> np.ndarray:
    """The column as floats, missing as NaN. Raises CannotCompare for what is no number, for
    infinite ones, and for sizes that cannot be worked with."""
    values = table[column]
    if types.is_bool_dtype(values) or (
        values.dtype == object and len(seen := values.dropna()) and seen.isin([True, False]).all()
    ):
        raise CannotCompare(
            f"{column} holds yes and no. Use compare_proportions for outcomes that are yes or no."
        )
    if not types.is_numeric_dtype(values) and values.dtype != object:
        raise CannotCompare(f"{column} holds {_kind(values)}; a comparison needs numbers.")
    try:
        numbers = values.astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    except OverflowError:
        raise CannotCompare(_size_words(column, np.inf)) from None
    except (TypeError, ValueError):
        raise CannotCompare(
            f"{column} holds {_kind(values)}; a comparison needs numbers."
        ) from None
    _check_sizes(numbers, column, table.index)
    return numbers


def _kind(values) -> str:
    if types.is_complex_dtype(values):
        return "complex numbers"
    if isinstance(values.dtype, pd.CategoricalDtype):
        return "categories"
    timely = types.is_datetime64_any_dtype(values) or types.is_timedelta64_dtype(values)
    if timely or isinstance(values.dtype, pd.PeriodDtype):
        return "times"
    strange = (v for v in values.dropna() if not isinstance(v, str | int | float | np.number))
    wrong = next(strange, "") if values.dtype == object else ""
    return "text" if isinstance(wrong, str) else f"a {type(wrong).__name__}"


def _check_sizes(numbers, column, index) -> None:
    endless = np.isinf(numbers)
    if endless.any():
        n = int(endless.sum())
        them = "it" if n == 1 else "them"
        raise CannotCompare(
            f"{column} is infinite in {counted(n, 'row')}, the first at {index[endless][0]}. Fix "
            f"{them} or leave {them} out."
        )
    largest = np.nanmax(np.abs(numbers), initial=0.0)
    if largest > LARGEST or 0.0 < largest < SMALLEST:
        raise CannotCompare(_size_words(column, largest))


def _size_words(column, size) -> str:
    if size > LARGEST:
        return f"{column} holds numbers above {LARGEST:g}. Fix them, or give them in another unit."
    return f"{column} holds no number above {size:g}. Fix them, or give them in another unit."


def levels_of(values: pd.Series) -> list:
    """Levels in use: in the order of a categorical, by size for numbers, else as they first
    appear."""
    used = list(values.dropna().unique())
    if isinstance(values.dtype, pd.CategoricalDtype):
        return [c for c in values.cat.categories if c in set(used)]
    in_order = types.is_numeric_dtype(values) and not types.is_complex_dtype(values)
    return sorted(used) if in_order else used


def codes_of(values: pd.Series, levels: list) -> np.ndarray:
    """Place of each value among the levels."""
    return pd.Index(levels, dtype=object).get_indexer(values.astype(object))

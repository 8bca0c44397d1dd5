"""A typed table of a log, each row with its place in the file, in which problems are told."""

from __future__ import annotations

import string
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from candlelab.logs.column import Table
from candlelab.logs.faults import said
from candlelab.logs.header import Match
from candlelab.logs.problems import ProblemList
from candlelab.units import convert, split_unit, unit_symbol


@dataclass(frozen=True, eq=False)
class ReadTable:
    """A typed table with the place of each row.

    ``columns`` holds the typed values of each by its name. ``found`` holds those that the file has;
    another is all missing, and if a problem already explains why, its name is in ``excused``.
    ``muted`` marks rows already reported as broken, ``unsure`` rows whose key has a gap or is given
    twice, ``offsets`` rows in which no time lacks its offset from UTC. ``waiting`` holds candle and
    burn of the rows that a plan wrote and in which nothing has been filled in: they are in no other
    field.
    """

    spec: Table
    columns: dict[str, Any]
    lines: np.ndarray
    rows: np.ndarray
    found: dict[str, Match]
    excused: frozenset[str]
    muted: np.ndarray
    unsure: np.ndarray
    offsets: np.ndarray
    waiting: pd.DataFrame

    @cached_property
    def frame(self) -> pd.DataFrame:
        """The columns as one table."""
        return pd.DataFrame(self.columns, copy=False)

    def add(self, problems: ProblemList, n: int, *, column: str, **texts) -> None:
        """Note a problem in row place ``n``; ``texts`` as in ``ProblemList.add``."""
        candle = self.columns["candle"][n] if "candle" in self.columns else ""
        header = self.found[column].header if column in self.found else column
        place = {"line": int(self.lines[n]), "row": int(self.rows[n]), "candle": candle}
        problems.add(file=self.spec.file, column=header, **place, **texts)

    def tell(self, problems: ProblemList, problem: str, n: int, **values) -> None:
        """Note one of ``FAULTS`` in row place ``n``, its texts filled in with ``values``."""
        self.add(problems, n, **said(problem, _AsInTheFile(self), **values))

    def texts(self, column: str) -> list[str]:
        """The texts of a column."""
        return self.columns[column].tolist()

    def numbers(self, column: str) -> np.ndarray:
        """The numbers of a column."""
        return np.asarray(self.columns[column], dtype=float)

    def where(self, mask) -> np.ndarray:
        """Places of the rows that the mask holds, those already reported as broken left out."""
        return np.flatnonzero(np.asarray(mask, dtype=bool) & ~self.muted)

    def first_of_each(self, values, mask) -> list[tuple[int, str]]:
        """Place of the first row with each value in the mask; `` (3 rows)`` where it has more."""
        rows = self.where(mask)
        if not len(rows):
            return []
        texts = np.asarray(values, dtype=object)[rows].astype(str)
        _, first, count = np.unique(texts, return_index=True, return_counts=True)
        return [
            (int(rows[n]), f" ({times} rows)" if times > 1 else "")
            for n, times in sorted(zip(first, count, strict=True))
        ]

    def show(self, column: str, *values: float | None) -> str:
        """Canonical values in the unit of the file: ``17.8 oz``, or ``3 to 100 mm`` for two."""
        found = self.found.get(column)
        return in_unit(column, found.unit if found else split_unit(column)[1], *values)


class _AsInTheFile(string.Formatter):
    """Fills in texts: ``{x:mass_after_g}`` in that column's unit, ``{x}`` to the minute."""

    def __init__(self, table: ReadTable) -> None:
        self._table = table

    def format_field(self, value, format_spec: str) -> str:
        if isinstance(value, pd.Timestamp) and not format_spec:
            return f"{value:%Y-%m-%d %H:%M}"
        if format_spec in self._table.columns:
            return self._table.show(format_spec, value)
        return super().format_field(value, format_spec)


def in_unit(column: str, unit: str | None, *values: float | None) -> str:
    """Canonical values of a column as text, in a unit that they are converted to."""
    own = split_unit(column)[1]
    if own and unit:
        values = tuple(convert(value, own, unit) for value in values)
    text = " to ".join(f"{value:.4g}" if len(values) > 1 else f"{value:.6g}" for value in values)
    return f"{text} {unit_symbol('_' + unit)}" if unit else text

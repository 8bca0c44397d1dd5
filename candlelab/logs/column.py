"""What a column and a table are."""

from __future__ import annotations

from dataclasses import dataclass

from candlelab.units import unit_symbol


@dataclass(frozen=True)
class Column:
    """One column. ``kind`` is text, number, whole, time, date, flag or choice.

    A column that ``follows`` is in the unit of what its row, or its table, is about; a ``span`` is
    a difference of two values.
    """

    name: str
    kind: str
    label: str
    meaning: str
    required: bool = False
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    follows: bool = False
    span: bool = False
    may_lack: bool = False  # required, but a cell or its row's note may say that it was not taken

    @property
    def unit(self) -> str:
        """Unit symbol for people, or an empty string."""
        return unit_symbol(self.name)

    @property
    def heading(self) -> str:
        """Label with its unit, for axes and table heads."""
        return f"{self.label} ({self.unit})" if self.unit else self.label


@dataclass(frozen=True)
class Table:
    """One table of a batch folder."""

    name: str
    row_is: str
    key: tuple[str, ...]
    columns: tuple[Column, ...]
    required: bool = True

    @property
    def file(self) -> str:
        """File name inside the batch folder."""
        return f"{self.name}.csv"

    def column(self, name: str) -> Column:
        """The column of that name; KeyError when there is none."""
        return {c.name: c for c in self.columns}[name]


def text(name, label, meaning, required=False):
    return Column(name, "text", label, meaning, required)


def number(name, label, meaning, low=None, high=None, required=False, may_lack=False):
    return Column(name, "number", label, meaning, required, low, high, may_lack=may_lack)


def span(name, label, meaning):
    """A difference of two values in the unit of its name."""
    return Column(name, "number", label, meaning, span=True)


def follows(name, label, meaning, span=False):
    """A number in the unit of what its row, or its table, is about."""
    return Column(name, "number", label, meaning, follows=True, span=span)


def whole(name, label, meaning, low=None, high=None, required=False):
    return Column(name, "whole", label, meaning, required, low, high)


def flag(name, label, meaning):
    return Column(name, "flag", label, meaning)


def time(name, label, meaning, required=False):
    return Column(name, "time", label, meaning, required)


def date(name, label, meaning, required=False):
    return Column(name, "date", label, meaning, required)


def choice(name, label, meaning, choices, required=False):
    return Column(name, "choice", label, meaning, required, choices=choices)

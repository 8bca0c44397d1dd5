"""Cells of text into numbers, times, dates, flags and choices; each distinct text is read once."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd

from candlelab.logs.column import Column
from candlelab.logs.csv_text import Cells
from candlelab.logs.moments import day, in_zone, moments, with_order
from candlelab.logs.problems import Fault
from candlelab.logs.settings import Settings
from candlelab.text import listed, suggest
from candlelab.units import convert, normalise_header, split_unit


@dataclass(frozen=True)
class Style:
    """How the files of a batch write their cells; ``headings`` as ``[columns]`` has them."""

    decimal_comma: bool = False
    slash_dates: str = ""
    time_zone: str = ""
    words: tuple[str, ...] = ()  # of the scale of scores, from nothing up
    headings: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


def style_of(settings: Settings | None) -> Style:
    """How the files of a batch write their cells, as far as ``batch.toml`` says."""
    if settings is None:
        return Style()
    return Style(
        slash_dates=settings.slash_dates,
        time_zone=settings.time_zone,
        words=settings.scent.words if settings.scent else (),
        headings=settings.columns,
    )


_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_COMMA_NUMBER = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_GROUPED = re.compile(r"[+-]?\d{1,3}([.,'\u2019 \u00a0\u202f]\d{3})+([.,]\d+)?", re.ASCII)
_PERCENT = re.compile(r"(?<=\d)\s*%$", re.ASCII)
_WITH_UNIT = re.compile(r"(.*?\d[.,]?)\s*([^\d\s.,/]\D*)", re.ASCII)
_FRACTION = re.compile(r"(?:(\d+) )?(\d+)/(\d+)", re.ASCII)
_TWO = re.compile(
    r"(\d+(?:[.,]\d+)?)(?:\s*(?:[/;&\u2013\u2014-]|and|to|or|,\s)\s*|\s+)(\d+(?:[.,]\d+)?)",
    re.ASCII,
)
_TEXT = pd.api.types.pandas_dtype("str")  # looked up once
_OF_A_RULER = {2, 4, 8, 16, 32, 64}
# Readings of which the higher one is the one to be careful about.
_HIGHER = {
    "flame_height_mm", "wall_c", "pool_diameter_mm", "pool_depth_mm", "mushroom_mm",
    "secondary_ignition_s", "aftersmoke_s",
}  # fmt: skip
# In a cell, or in the note beside an empty one: the reading was not taken.
NOT_TAKEN = re.compile(r"\bnot (?:taken|weighed)\b", re.IGNORECASE)
_YES, _NO = {"yes", "y", "true", "1", "x"}, {"no", "n", "false", "0"}

# What a cell of a spreadsheet holds at most (from memory); a longer one
# is a quote gone wrong or no log at all.
MOST_CHARACTERS = 32_767
_TOO_LONG = Fault(
    "text too long for a cell",
    f"at most {MOST_CHARACTERS:,} characters",
    "Shorten the text, or look for a quote that is not closed.",
)
NO_NUMBER = Fault(
    "text where a number belongs",
    "a number, or an empty cell for no reading",
    "Write the number only; its unit stands in the column's name, remarks go to the note.",
)


def comma_or_dot(text: str) -> str:
    """The decimal mark that a number is written with: ``,`` or ``.``, or an empty string."""
    text = _PERCENT.sub("", text)
    if _COMMA_NUMBER.fullmatch(text):
        return ","
    return "." if "." in text and _NUMBER.fullmatch(text) else ""


def number(text: str, decimal_comma: bool) -> float | Fault:
    """A number from its text; ``decimal_comma`` says that the file's comma is a decimal mark."""
    if decimal_comma and _COMMA_NUMBER.fullmatch(text):
        return float(text.replace(",", "."))
    if _NUMBER.fullmatch(text) and not (decimal_comma and _GROUPED.fullmatch(text)):
        value = float(text)
        return value if math.isfinite(value) else NO_NUMBER
    if _COMMA_NUMBER.fullmatch(text):
        return Fault(
            "decimal comma among decimal dots",
            "a number with a dot, as in 12.5",
            "Write the number with a dot and no thousands mark. Decimal commas are read where "
            "semicolons part the cells and the whole file keeps to them.",
        )
    if _GROUPED.fullmatch(text):
        example = "1234,5" if decimal_comma else "1234.5"
        return Fault(
            "thousands mark in a number",
            f"a number without a thousands mark, as in {example}",
            "Take the thousands mark out; only the decimal mark stays.",
        )
    return NO_NUMBER


def _with_number(
    fault: Fault, text: str, column: str, unit: str | None, decimal_comma: bool
) -> Fault:
    """The fault with the number to write: the same reading, spelled as a number without its unit.

    The unit must be the column's own. Two readings in one cell stay two.
    """
    if fault is not NO_NUMBER:
        return fault
    m = _WITH_UNIT.fullmatch(text)
    own = unit and m and split_unit(normalise_header(f"x {m[2]}"))[1] == unit
    bare = m[1] if m and own else text
    if (fraction := _fraction(bare)) is not None:
        bare = f"{fraction:.6g}"
        bare = bare.replace(".", ",") if decimal_comma else bare
    elif (two := _TWO.fullmatch(bare)) and all(map(_size, two.groups())):
        return replace(fault, do=_of_two(two.groups(), column))
    if bare == text or isinstance(number(bare, decimal_comma), Fault):
        return fault
    stands = "; the unit stands in the column's name" if own else ""
    return replace(fault, do=f"Write {bare}{stands}.")


def _fraction(text: str) -> float | None:
    """A fraction as a ruler has it, ``5/8`` or ``1 1/4``; None for anything else."""
    m = _FRACTION.fullmatch(text)
    if not m:
        return None
    above, below = int(m[2]), int(m[3])
    if below not in _OF_A_RULER or not 0 < above < below or above % 2 == 0:
        return None
    return int(m[1] or 0) + above / below


def _of_two(readings: tuple[str, ...], column: str) -> str:
    """What to do about two readings in one cell."""
    if column not in _HIGHER:
        return "These are two readings: write one of them, and put the other in the note."
    higher = max(readings, key=_size)
    return f"These are two readings: write the higher one, {higher}, and put the other in the note."


def _size(reading: str) -> float:
    return float(reading.replace(",", "."))


def flag(text: str) -> bool | Fault:
    """Yes or no from its text."""
    if (folded := text.casefold()) in _YES | _NO:
        return folded in _YES
    do = "Write yes or no; leave the cell empty if nobody looked."
    return Fault("neither yes nor no", "yes or no", do)


def choice(text: str, choices: tuple[str, ...]) -> str | Fault:
    """One of the choices, in any case."""
    folded = text.casefold()
    if folded in choices:
        return folded
    if folded.endswith(".0") and folded[:-2] in choices:
        return folded[:-2]
    expected = listed(choices, at_most=len(choices), last="or")
    return Fault("not one of the choices", expected, suggest(text, choices, "use one of these."))


def whole(text: str, decimal_comma: bool) -> float | Fault:
    """A whole number from its text."""
    value = number(text, decimal_comma)
    if isinstance(value, float) and not value.is_integer():
        return Fault("not a whole number", "a whole number", "Write a whole number.")
    return value


def on_scale(text: str, words: tuple[str, ...], decimal_comma: bool) -> float | Fault:
    """A score from its text: the number of a step, or its word."""
    folded = [word.casefold() for word in words]
    if text.casefold() in folded:
        return float(folded.index(text.casefold()))
    value = number(text, decimal_comma)
    if not isinstance(value, Fault):
        return value
    expected = f"a word of the scale or its number: {listed(words, len(words), last='or')}"
    return Fault("no word of the scale", expected, suggest(text, words, "use one of these words."))


def read_column(
    cells: Cells, column: Column, unit: str | None, style: Style
) -> tuple[pd.Series, dict[int, Fault]]:
    """Typed values of one column, canonical unit, and the faults by row place.

    ``unit`` is the unit of the file's column, None where the column has none. A faulty or
    empty cell is missing; empty text stays empty text.
    """
    values, faults = read_values(cells, column, unit, style)
    return pd.Series(values), faults


def read_values(
    cells: Cells, column: Column, unit: str | None, style: Style
) -> tuple[Any, dict[int, Fault]]:
    """The array of values that `read_column` gives as a series."""
    codes, texts = cells.codes, cells.texts
    if column.kind == "text":
        long = {code: _TOO_LONG for code, text in enumerate(texts) if len(text) > MOST_CHARACTERS}
        return _taken(texts, codes), _by_row(long, codes)
    if column.kind == "time":
        times, wrong = in_zone(*moments(texts, style.slash_dates), style.time_zone)
        return times.take(codes), _by_row(with_order(wrong, texts), codes)
    values, wrong = _read_texts(texts, column, unit, style)
    return _values(values, codes, column, unit), _by_row(wrong, codes)


def _read_texts(
    texts: list[str], column: Column, unit: str | None, style: Style
) -> tuple[list, dict[int, Fault]]:
    """The value of each distinct text, None for a faulty or empty one, and the faults by place."""
    readers = {
        "number": lambda t: number(t, style.decimal_comma),
        "whole": lambda t: whole(t, style.decimal_comma),
        "date": lambda t: day(t, style.slash_dates),
        "flag": flag,
        "choice": lambda t: choice(t, column.choices),
    }
    if column.name == "score" and style.words:
        readers["number"] = lambda t: on_scale(t, style.words, style.decimal_comma)
    if unit == "pct":
        texts = [_PERCENT.sub("", text) for text in texts]
    if column.may_lack:
        texts = ["" if NOT_TAKEN.fullmatch(text) else text for text in texts]
    read = [readers[column.kind](text) if text else None for text in texts]
    wrong = {n: value for n, value in enumerate(read) if isinstance(value, Fault)}
    if column.kind == "date":
        wrong = with_order(wrong, texts)
    if column.kind == "number":
        comma = style.decimal_comma
        wrong = {
            n: _with_number(fault, texts[n], column.name, unit, comma) for n, fault in wrong.items()
        }
    return [None if isinstance(value, Fault) else value for value in read], wrong


def _values(values: list, codes: np.ndarray, column: Column, unit: str | None) -> Any:
    """One value for each row, typed as the kind of column asks."""
    if column.kind == "date":
        return np.array(values, dtype="datetime64[us]")[codes]
    if column.kind == "flag":
        missing = np.array([value is None for value in values], dtype=bool)[codes]
        return pd.arrays.BooleanArray(np.array(values, dtype=bool)[codes], missing)
    if column.kind == "choice" and not column.choices[0].isdigit():
        return _taken([value or "" for value in values], codes)
    numbers = np.array(values, dtype=float)
    canonical = split_unit(column.name)[1]
    if unit and canonical and unit != canonical:
        numbers = convert(numbers, unit, canonical)
    return numbers[codes]


def _by_row(wrong: dict[int, Fault], codes: np.ndarray) -> dict[int, Fault]:
    if not wrong:
        return {}
    return {int(n): wrong[codes[n]] for n in np.flatnonzero(np.isin(codes, list(wrong)))}


def _taken(texts: list[str], codes: np.ndarray) -> Any:
    return pd.array(np.array([*texts, ""], dtype=object)[codes], dtype=_TEXT)

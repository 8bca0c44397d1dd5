"""Rules on names: each is known where it should be, and none is spelt in two ways."""

from __future__ import annotations

import re
from itertools import combinations, takewhile

import numpy as np
import pandas as pd

from candlelab.logs.csv_table import ReadTable
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings import Settings
from candlelab.text import counted, suggest

MOST_HINTS = 50


def known_candles(table: ReadTable, candles: ReadTable, problems: ProblemList) -> None:
    """Rows of a candle that is not in candles.csv."""
    known = candles.frame["candle"]
    if candles.unsure.any():
        return  # a nameless candle, or one given twice, may be the one
    names = table.frame["candle"]
    for at, (n, times) in enumerate(table.first_of_each(names, ~names.isin(known) & (names != ""))):
        hints = known if at < MOST_HINTS else ()
        do = suggest(names.iat[n], hints, "add the candle to candles.csv.")
        table.tell(problems, "unknown candle", n, found=names.iat[n] + times, do=do)


def known_vessels(candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    """Vessels that batch.toml does not name."""
    add = 'add [vessels."{}"] to batch.toml.'
    _known(candles, "vessel", settings.vessels, "unknown vessel", add, problems)


def known_waxes(candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    """Waxes that batch.toml does not describe."""
    add = "describe it there; now it is taken for paraffin, 43.8 kJ/g."
    _known(candles, "wax", settings.waxes, "wax not described", add, problems)


def _known(
    candles: ReadTable, column: str, known: dict, problem: str, add: str, problems: ProblemList
) -> None:
    """Values of a column of candles.csv that are not among the ``known``."""
    values = candles.frame[column]
    for n, times in candles.first_of_each(values, ~values.isin(list(known)) & (values != "")):
        do = suggest(values.iat[n], known, add.format(values.iat[n]))
        names = {"found": values.iat[n] + times, "known": ", ".join(known), "do": do}
        candles.tell(problems, problem, n, **names)


def known_wicks(table: ReadTable, wicks: ReadTable, problems: ProblemList) -> None:
    """Wick series and sizes that are not in wicks.csv."""
    sizes: dict[str, list[str]] = {}
    for name, one in zip(wicks.frame["wick_series"], wicks.frame["wick_size"], strict=True):
        sizes.setdefault(name, []).append(one)
    unsure = set(wicks.frame["wick_series"][wicks.unsure | wicks.muted])
    if "" in unsure:
        return
    series, size = table.frame["wick_series"], table.frame["wick_size"]
    given = (series != "") & (size != "")
    for n, times in table.first_of_each(series, given & ~series.isin(list(sizes))):
        do = suggest(series.iat[n], sizes, "add the series to wicks.csv.")
        names = {"found": series.iat[n] + times, "known": ", ".join(sizes), "do": do}
        table.tell(problems, "unknown wick series", n, **names)
    listed = [
        name not in sizes or name in unsure or one in sizes[name]
        for name, one in zip(series, size, strict=True)
    ]
    for n, times in table.first_of_each(series + " " + size, given & ~np.array(listed, dtype=bool)):
        own = sizes[series.iat[n]]
        alike = next((one for one in own if bare(one) == bare(size.iat[n])), "")
        do = "Add the size to wicks.csv, or correct it."
        if alike:
            do = f"Did you mean {alike!r}? Else add the size to wicks.csv."
        found = f"{series.iat[n]} {size.iat[n]}{times}"
        names = {"series": series.iat[n], "known": ", ".join(own), "do": do}
        table.tell(problems, "unknown wick size", n, found=found, **names)


def one_spelling(candles: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """Pairs of values of a part of the recipe that may be one value; the rarer one is reported."""
    for column in ("wax", "fragrance", "dye"):
        values = candles.frame[column].iloc[candles.where(candles.frame[column] != "")]
        described = settings.waxes if settings and column == "wax" else ()
        counts = values.value_counts(sort=False).to_dict()
        likeliest = sorted(counts, key=lambda value: (value not in described, -counts[value]))
        for usual, odd in combinations(likeliest[:MOST_HINTS], 2):
            if bare(usual) == bare(odd) or one_letter_apart(usual, odd):
                _tell_two_ways(candles, values, usual, odd, problems)


def _tell_two_ways(
    candles: ReadTable, values: pd.Series, usual: str, odd: str, problems: ProblemList
) -> None:
    names = {
        what: f"{value} ({counted(int((values == value).sum()), 'candle')})"
        for what, value in (("found", odd), ("usual", usual))
    }
    n = values.index[values == odd][0]
    candles.tell(problems, "spelt in two ways", n, column=values.name, **names)


def bare(text: str) -> str:
    """A name without case, blanks and hyphens.

    A number as a number, so that ``03`` and ``3.0`` are ``3``.
    """
    text = re.sub(r"[\s_\-\u2010-\u2015]", "", text.casefold())
    return f"{float(text)}" if re.fullmatch(r"\d+(\.\d*)?", text, re.ASCII) else text


def one_letter_apart(first: str, second: str) -> bool:
    """Whether one letter more, less or other makes one of the other.

    Short names and versions (A, II) tell things apart.
    """
    words = [set(re.findall(r"\w+", name.casefold())) for name in (first, second)]
    a, b = bare(first), bare(second)
    versions = all(re.fullmatch(r"\w|[ivx]+", word) for word in words[0] ^ words[1])
    if min(len(a), len(b)) < 5 or versions:
        return False
    start = _shared(a, b)
    a, b = a[start:], b[start:]
    end = _shared(a[::-1], b[::-1])
    a, b = a[: len(a) - end], b[: len(b) - end]
    return max(len(a), len(b)) == 1 and (a + b).isalpha()


def _shared(a: str, b: str) -> int:
    """How many characters two texts have in common at their start."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(a, b, strict=False)))

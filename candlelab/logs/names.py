"""Rules on names: each is known where it should be, and none is spelt in two ways."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from itertools import combinations, pairwise, takewhile

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
    for column in ("wick_series", "wax", "fragrance", "dye"):
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
    names["count"] = "one" if bare(usual) == bare(odd) else "two"
    candles.tell(problems, "spelt in two ways", n, column=values.name, **names)


# Small letters of Cyrillic and Greek that look like Latin ones, as they are or as capitals, each
# beside its likeness (Unicode Technical Standard 39, from memory).
_LOOKS = "аaвbеeкkмmнhоoрpсcтtуyхxіiјjѕsһhԁdԛqԝwαaβbεeζzηhιiκkμmνnοoρpτtυyχxıi"
_LATIN = str.maketrans(dict(zip(_LOOKS[::2], _LOOKS[1::2], strict=True)))
_BETWEEN = r"[\s_\-\u2010-\u2015\u2212]+"


def bare(text: str) -> str:
    """What is left of a name when spellings that look alike are made one.

    Letters without case, composed in one way, Latin where they look it; no blanks and hyphens
    but between two numbers; numbers as numbers, so that ``03``, ``3.0`` and ``no. 3`` are ``3``.
    """
    text = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold())
    text = "".join(c for c in text.translate(_LATIN) if unicodedata.category(c) != "Cf")
    text = re.sub(r"^(?:no|nr|size|#)[\s.:]*(?=[0-9])", "", text.strip())
    text = re.sub(r"(?<=[0-9]),(?=[0-9])", ".", text)
    text = re.sub(r"[0-9]+(?:\.[0-9]*)?", lambda number: f"{float(number[0]):.12g}", text)
    parts = re.split(_BETWEEN, text.strip())
    joints = [
        "-" if before[-1:].isdigit() and after[:1].isdigit() else ""
        for before, after in pairwise(parts)
    ]
    return "".join(part + joint for part, joint in zip(parts, [*joints, ""], strict=True))


def one_name_each(names: Iterable[str]) -> dict[str, str]:
    """For each spelling the one that stands for all that look like it: the most frequent one.

    Of two as frequent the first.
    """
    counts = Counter(names)
    alike: dict[str, list[str]] = {}
    for name in counts:
        alike.setdefault(bare(name), []).append(name)
    return {name: max(of, key=lambda n: counts[n]) for of in alike.values() for name in of}


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

"""Rules on names: each is known where it should be, and none is spelt in two ways."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Iterable
from itertools import combinations, pairwise, takewhile

import numpy as np

from candlelab.logs.problems import ProblemList
from candlelab.logs.read_table import ReadTable
from candlelab.logs.settings import Settings
from candlelab.text import counted, suggest

MOST_HINTS = 50
_NO_CANDLE = "correct the name, or add the candle to candles.csv."


def known_candles(table: ReadTable, candles: ReadTable, problems: ProblemList) -> None:
    """Rows of a candle that is not in candles.csv."""
    if candles.unsure.any():
        return  # a nameless candle, or one given twice, may be the one
    known = candles.texts("candle")
    for at, (n, name, times) in enumerate(_unknown(table, "candle", known)):
        do = suggest(name, known if at < MOST_HINTS else (), _NO_CANDLE)
        table.tell(problems, "unknown candle", n, found=name + times, do=do)


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
    for n, name, times in _unknown(candles, column, known):
        do = suggest(name, known, add.format(name))
        names = {"found": name + times, "known": ", ".join(known), "do": do}
        candles.tell(problems, problem, n, **names)


def _unknown(table: ReadTable, column: str, known: Iterable[str]) -> list[tuple[int, str, str]]:
    """The rows with the first of each name that is not known: their place, it, and how often."""
    names = table.texts(column)
    strange = set(names) - {"", *known}
    if not strange:
        return []
    found = table.first_of_each(names, [name in strange for name in names])
    return [(n, names[n], times) for n, times in found]


def known_wicks(table: ReadTable, wicks: ReadTable, problems: ProblemList) -> None:
    """Wick series and sizes that are not in wicks.csv."""
    sizes: dict[str, list[str]] = {}
    for name, one in zip(wicks.texts("wick_series"), wicks.texts("wick_size"), strict=True):
        sizes.setdefault(name, []).append(one)
    unsure = set(wicks.columns["wick_series"][wicks.unsure | wicks.muted])
    if "" in unsure:
        return
    series, size = table.texts("wick_series"), table.texts("wick_size")
    pairs = list(zip(series, size, strict=True))
    strange = [bool(name and one) and name not in sizes for name, one in pairs]
    for n, times in table.first_of_each(series, strange):
        do = suggest(series[n], sizes, "add the series to wicks.csv.")
        names = {"found": series[n] + times, "known": ", ".join(sizes), "do": do}
        table.tell(problems, "unknown wick series", n, **names)
    strange = [
        bool(name and one) and name not in unsure and one not in sizes.get(name, [one])
        for name, one in pairs
    ]
    wicks_here = [f"{name} {one}" for name, one in pairs]
    for n, times in table.first_of_each(wicks_here, strange):
        own = sizes[series[n]]
        alike = next((one for one in own if bare(one) == bare(size[n])), "")
        do = "Add the size to wicks.csv, or correct it."
        if alike:
            do = f"Did you mean {alike!r}? Else add the size to wicks.csv."
        names = {"series": series[n], "known": ", ".join(own), "do": do}
        table.tell(problems, "unknown wick size", n, found=wicks_here[n] + times, **names)


def one_spelling(candles: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """Pairs of values of a part of the recipe that may be one value; the rarer one is reported."""
    for column in ("wick_series", "wax", "fragrance", "dye"):
        values = candles.texts(column)
        rows = [n for n in np.flatnonzero(~candles.muted).tolist() if values[n]]
        described = settings.waxes if settings and column == "wax" else ()
        counts = Counter(values[n] for n in rows)
        likeliest = sorted(counts, key=lambda value: (value not in described, -counts[value]))
        for usual, odd in combinations(likeliest[:MOST_HINTS], 2):
            if bare(usual) == bare(odd) or one_letter_apart(usual, odd):
                names = {
                    what: f"{value} ({counted(counts[value], 'candle')})"
                    for what, value in (("found", odd), ("usual", usual))
                }
                names["count"] = "one" if bare(usual) == bare(odd) else "two"
                n = next(n for n in rows if values[n] == odd)
                candles.tell(problems, "spelt in two ways", n, column=column, **names)


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

"""Rules on names: each is known where it should be, and none is spelt in two ways."""

from __future__ import annotations

import re
from itertools import combinations
from os.path import commonprefix

import numpy as np

from candlelab.logs.csv_table import ReadTable
from candlelab.logs.problems import LOOK, MUST_FIX, ProblemList
from candlelab.logs.settings import Settings
from candlelab.text import suggest

MOST_HINTS = 50


def known_candles(table: ReadTable, candles: ReadTable, problems: ProblemList) -> None:
    """Rows of a candle that is not in candles.csv."""
    known = candles.frame["candle"]
    if candles.unsure.any():
        return  # a nameless candle, or one given twice, may be the one
    names = table.frame["candle"]
    for at, (n, times) in enumerate(table.first_of_each(names, ~names.isin(known) & (names != ""))):
        do = suggest(
            names.iat[n], known if at < MOST_HINTS else (), "add the candle to candles.csv."
        )
        table.add(
            problems,
            MUST_FIX,
            "unknown candle",
            n,
            "candle",
            found=names.iat[n] + times,
            expected="a candle of candles.csv",
            do=do,
        )


def known_vessels(candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    """Vessels that batch.toml does not name."""
    vessel = candles.frame["vessel"]
    for n, times in candles.first_of_each(
        vessel, ~vessel.isin(list(settings.vessels)) & (vessel != "")
    ):
        candles.add(
            problems,
            MUST_FIX,
            "unknown vessel",
            n,
            "vessel",
            found=vessel.iat[n] + times,
            expected="a vessel of batch.toml: " + ", ".join(settings.vessels),
            do=suggest(
                vessel.iat[n], settings.vessels, f'add [vessels."{vessel.iat[n]}"] to batch.toml.'
            ),
        )


def known_waxes(candles: ReadTable, settings: Settings, problems: ProblemList) -> None:
    """Waxes that batch.toml does not describe."""
    wax = candles.frame["wax"]
    for n, times in candles.first_of_each(wax, ~wax.isin(list(settings.waxes)) & (wax != "")):
        candles.add(
            problems,
            LOOK,
            "wax not described",
            n,
            "wax",
            found=wax.iat[n] + times,
            expected="a wax of batch.toml: " + ", ".join(settings.waxes),
            do=suggest(
                wax.iat[n],
                settings.waxes,
                "describe it there; now it is taken for paraffin, 43.8 kJ/g.",
            ),
        )


def known_wicks(table: ReadTable, wicks: ReadTable, problems: ProblemList) -> None:
    """Wick series and sizes that are not in wicks.csv."""
    sizes: dict[str, list[str]] = {}
    for name, one in zip(wicks.frame["wick_series"], wicks.frame["wick_size"]):
        sizes.setdefault(name, []).append(one)
    unsure = set(wicks.frame["wick_series"][wicks.unsure | wicks.muted])
    if "" in unsure:
        return
    series, size = table.frame["wick_series"], table.frame["wick_size"]
    given = (series != "") & (size != "")
    for n, times in table.first_of_each(series, given & ~series.isin(list(sizes))):
        table.add(
            problems,
            MUST_FIX,
            "unknown wick series",
            n,
            "wick_series",
            found=series.iat[n] + times,
            expected="a series of wicks.csv: " + ", ".join(sizes),
            do=suggest(series.iat[n], sizes, "add the series to wicks.csv."),
        )
    fits = np.array(
        [
            name not in sizes or name in unsure or one in sizes[name]
            for name, one in zip(series, size)
        ],
        dtype=bool,
    )
    for n, times in table.first_of_each(series + " " + size, given & ~fits):
        alike = next((one for one in sizes[series.iat[n]] if bare(one) == bare(size.iat[n])), "")
        table.add(
            problems,
            MUST_FIX,
            "unknown wick size",
            n,
            "wick_size",
            found=f"{series.iat[n]} {size.iat[n]}{times}",
            expected=f"a size of {series.iat[n]} in wicks.csv: " + ", ".join(sizes[series.iat[n]]),
            do=f"Did you mean {alike!r}? Else add the size to wicks.csv."
            if alike
            else "Add the size to wicks.csv, or correct it.",
        )


def one_spelling(candles: ReadTable, settings: Settings | None, problems: ProblemList) -> None:
    """Pairs of values of a part of the recipe that may be one value; the rarer one is reported."""
    for column in ("wax", "fragrance", "dye"):
        values = candles.frame[column].iloc[candles.where(candles.frame[column] != "")]
        counts = values.value_counts(sort=False).to_dict()
        described = settings.waxes if settings and column == "wax" else ()
        likeliest = sorted(counts, key=lambda value: (value not in described, -counts[value]))[
            :MOST_HINTS
        ]
        for usual, odd in combinations(likeliest, 2):
            if bare(usual) != bare(odd) and not one_letter_apart(usual, odd):
                continue
            usual_n, odd_n = (
                f"{value} ({counts[value]} candle{'' if counts[value] == 1 else 's'})"
                for value in (usual, odd)
            )
            candles.add(
                problems,
                LOOK,
                "spelt in two ways",
                values.index[values == odd][0],
                column,
                found=odd_n,
                expected=f"one spelling; there is also {usual_n}",
                do="They count as two recipes. Write both alike, or keep them if they are two "
                "things.",
            )


def bare(text: str) -> str:
    """A name without case, blanks and hyphens; numbers as numbers,
    so that ``03`` and ``3.0`` are ``3``."""
    text = re.sub(r"[\s_\-\u2010-\u2015]", "", text.casefold())
    return f"{float(text)}" if re.fullmatch(r"\d+(\.\d*)?", text, re.ASCII) else text


def one_letter_apart(first: str, second: str) -> bool:
    """Whether one letter more, less or other makes one of the other.

    Short names and versions (A, II) tell things apart.
    """
    words = [set(re.findall(r"\w+", name.casefold())) for name in (first, second)]
    a, b = bare(first), bare(second)
    if min(len(a), len(b)) < 5 or all(
        re.fullmatch(r"\w|[ivx]+", word) for word in words[0] ^ words[1]
    ):
        return False
    start = len(commonprefix([a, b]))
    a, b = a[start:], b[start:]
    end = len(commonprefix([a[::-1], b[::-1]]))
    a, b = a[: len(a) - end], b[: len(b) - end]
    return max(len(a), len(b)) == 1 and (a + b).isalpha()

"""Words for numbers and names: one way to write "3 candles" and "a, b and c"."""

from __future__ import annotations

import difflib
import re

import numpy as np


def clip(value, width: int = 80) -> str:
    """One line of text for a found value, control characters shown, at most ``width``
    characters."""
    text = "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(value))
    return text if len(text) <= width else text[: width - 1] + "…"


def closest(word: str, known) -> str | None:
    """The known word that is written most like ``word``, in any case of letters; None when none
    is."""
    by_fold = {str(k).casefold(): str(k) for k in known}
    without_zeros = {
        re.sub(r"0+(?=\d)", "", name): name for name in by_fold
    }  # S1 is S01 before it is S18
    same = without_zeros.get(re.sub(r"0+(?=\d)", "", word.casefold()))
    if same:
        return by_fold[same]
    close = difflib.get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None


def suggest(word: str, known, otherwise: str) -> str:
    """``Did you mean ...? Else ...`` for the closest known word; without one what to do
    ``otherwise``."""
    close = closest(word, known)
    return (
        f"Did you mean {close!r}? Else {otherwise}"
        if close
        else otherwise[0].upper() + otherwise[1:]
    )


def name_of(value) -> str:
    """A level as text; numbers without idle digits."""
    return (
        format(value, "g")
        if isinstance(value, int | float | np.number) and not isinstance(value, bool | np.bool_)
        else str(value)
    )


def listed(names, at_most: int = 6) -> str:
    """Names in a row, the last joined with "and"."""
    names = [str(n) for n in names]
    if len(names) > at_most:
        names = [*names[: at_most - 1], f"{len(names) - at_most + 1} more"]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]


def counted(n: int, what: str) -> str:
    """A number with its noun."""
    return f"{n} {what}{'' if n == 1 else 's'}"

"""Words for numbers and names: one way to write "5.72 g/h", "3 candles" and "a, b and c"."""

from __future__ import annotations

import math
import re
from numbers import Real
from typing import TypeGuard

_NUDGE = 1e-9  # a half goes up, whichever side of it a converted number came to lie
NONE = "–"  # where there is no value
# Decimals that a measured value is worth, by the symbol of its unit.
_DIGITS = {
    "g/h": 2, "oz/h": 3, "oz": 2, "lb": 2, "in": 2, "W": 0, "min": 0, "s": 0, "days": 0,
}  # fmt: skip


def rounded(value: float, unit: str = "", digits: int | None = None) -> str:
    """A measured number with the decimals that its unit is worth; a dash for a missing one.

    Parameters
    ----------
    value : float
        The number; never written as "-0.0".
    unit : str
        Symbol of its unit ("g/h"), which decides the decimals; three significant digits without.
    digits : int, optional
        Decimals, where the unit shall not decide.
    """
    if math.isnan(value):
        return NONE
    value += value * _NUDGE
    if digits is None and not unit:
        return f"{value:z.3g}"
    return f"{value:z.{_DIGITS.get(unit, 1) if digits is None else digits}f}"


def amount(value: float, unit: str, digits: int | None = None) -> str:
    """A measured number with its unit ("5.72 g/h"); arguments as in `rounded`."""
    text = rounded(value, unit, digits)
    return text if text == NONE or not unit else f"{text} {unit}"


_UNIT = r"(?:[gk]g?|oz|lb|mm|cm|in|ft|h|min|s|days?|%|W|°[CF]|tex|ml|fl oz|kJ)(?![\w-])"
_NOUN = r"(?:more |fresh |test )?(?:candle|burn|check|nose|step|score|pour|batch|size)"
_PARTED = re.compile(rf"(?<=\d) (?={_UNIT}|{_NOUN})|(?<=\b[Bb]urn) (?=\d)")


def unbroken(value):
    """What a template shows: in a text the spaces between numbers and units do not break a line.

    Markup, and what is no text, stays as it is.
    """
    plain = isinstance(value, str) and " " in value and not hasattr(value, "__html__")
    return _PARTED.sub("\u00a0", value) if plain else value


def counted(n: int, what: str, many: str = "") -> str:
    """A number with its noun, in the plural where it is not one: "1 batch", "3 batches".

    ``many`` is the plural of a noun that goes by no rule, such as "people".
    """
    return f"{n} {what if n == 1 else many or plural(what)}"


def plural(what: str) -> str:
    """The plural of a noun that is spelled by the rules."""
    if re.search(r"(s|x|z|ch|sh)$", what):
        return what + "es"
    return what[:-1] + "ies" if re.search(r"[^aeiou]y$", what) else what + "s"


def listed(names, at_most: int = 6, last: str = "and") -> str:
    """Names in a row, the last one joined with ``last``; of more than ``at_most`` the first."""
    names = [str(n) for n in names]
    if len(names) > at_most:
        names = [*names[: at_most - 1], f"{len(names) - at_most + 1} more"]
    return f" {last} ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))


def name_of(value) -> str:
    """A level as text; numbers without idle digits."""
    if isinstance(value, bool) or not isinstance(value, Real):
        return str(value)
    return format(value, "g")


def clip(value, width: int = 80) -> str:
    """One line of text for a found value, control characters shown, at most ``width`` long."""
    text = "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(value))
    return text if len(text) <= width else text[: width - 1] + "…"


def closest(word: str, known) -> str | None:
    """The known word that is written most like ``word``, in any case of letters, or None."""
    by_fold = {str(k).casefold(): str(k) for k in known}
    # S1 is S01 before it is S18
    without_zeros = {re.sub(r"0+(?=\d)", "", name): name for name in by_fold}
    same = without_zeros.get(re.sub(r"0+(?=\d)", "", word.casefold()))
    if same:
        return by_fold[same]
    import difflib  # needed by few logs

    close = difflib.get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None


def suggest(word: str, known, otherwise: str) -> str:
    """``Did you mean ...? Else ...`` for the closest known word; else what to do ``otherwise``."""
    close = closest(word, known)
    if close:
        return f"Did you mean {close!r}? Else {otherwise}"
    return capital(otherwise)


def of_folder(name: str) -> str:
    """A folder's name within a sentence: in quotes, but for a round such as "the screening"."""
    return name if name.startswith("the ") else f"“{name}”"


def is_number(value: object) -> TypeGuard[float]:
    """Whether a value is a number; yes and no are none."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def capital(text: str) -> str:
    """A text with a capital first letter; the others stay as they are written."""
    return text[:1].upper() + text[1:]


def small(sentence: str) -> str:
    """A sentence with a small first letter, to go on after a colon; a candle's name stays.

    A first word with a digit in it, or of capitals alone, is taken for a name.
    """
    word = sentence.partition(" ")[0].rstrip(".,:;")
    named = any(sign.isdigit() for sign in word) or (len(word) > 1 and word.isupper())
    return sentence if named else sentence[:1].lower() + sentence[1:]

"""A line of a scale into a weight, or into a sentence that says why it is none.

Two kinds of scales send plain ASCII lines: some answer when asked (``S S      312.40 g``), some
talk by themselves (``ST,GS,+  312.40 g``, ``+  312.40 g``). Forms as operating manuals print them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from candlelab.text import clip
from candlelab.units import convert

_UNITS = {"g": "g", "kg": "kg", "oz": "oz", "lb": "lb", "lbs": "lb"}
_NUMBER = r"([+-]?) *(\d{1,7}(?:\.\d{0,5})?)"
_UNIT = r" *([A-Za-z%]{1,4})?"
_ANSWER = re.compile(rf"S ([SD]) +{_NUMBER}{_UNIT} *")
_STATUS = re.compile(rf"(ST|US)(?:,(?:GS|NT|G|N))?[, ] *{_NUMBER}{_UNIT} *")
_BARE = re.compile(rf"(?:[GN] *)?{_NUMBER}{_UNIT} *")
_OVER = re.compile(r"S \+|OL.*|[+-]? *(?:E{3,}|H{4,}|-{4,}|=+|E+R+O*R*.*)", re.IGNORECASE)
_UNDER = re.compile(r"S -|UL.*|[+-]? *L{4,}", re.IGNORECASE)

OVERLOAD = "The scale says that there is too much on it."
UNDERLOAD = "The scale says that there is too little on it: put the pan back and set it to zero."
UNSTEADY = "The scale is not steady yet. Keep the candle still and try again."
NO_WEIGHT = "What the scale sends is not a weight as this page knows them: {line}"
NEGATIVE = "The scale shows a weight below zero. Set it to zero with nothing on it."
GARBLED = "What the scale sends cannot be read. Check baud in batch.toml against the scale's menu."
UNKNOWN = 'The scale does not know the question: write kind = "talks" under [scale].'


@dataclass(frozen=True)
class Weight:
    """A weight as a line gives it.

    ``sure`` says that the line itself calls it steady, ``named`` that it names its unit.
    """

    text: str
    unit: str
    sure: bool
    named: bool
    line: str

    def in_unit(self, unit: str) -> str:
        """The weight in another unit, with as many decimals as the scale can tell apart."""
        if unit == self.unit:
            return self.text
        decimals = len(self.text.partition(".")[2])
        step = convert(10.0**-decimals, self.unit, unit)
        shown = next(n for n in range(8) if 10.0**-n <= step * 1.000001 or n == 7)
        return f"{convert(float(self.text), self.unit, unit):.{shown}f}"


def read_line(data: bytes, unit: str = "") -> Weight | str:
    """A weight, or a sentence. ``unit`` is taken where the line names none.

    Parameters
    ----------
    data : bytes
        One whole line, without its end.
    unit : str
        The unit of batch.toml.
    """
    if any(byte > 126 or byte < 32 for byte in data.strip(b"\0")):
        return GARBLED
    line = data.strip(b"\0").decode("ascii").strip()
    if _OVER.fullmatch(line):
        return OVERLOAD
    if _UNDER.fullmatch(line):
        return UNDERLOAD
    if line in ("ES", "EL", "ET"):
        return UNKNOWN
    if line == "S I":
        return UNSTEADY
    if m := _ANSWER.fullmatch(line):
        state, sign, number, named = m.groups()
        sure = state == "S"
    elif m := _STATUS.fullmatch(line):
        state, sign, number, named = m.groups()
        sure = state == "ST"
    elif m := _BARE.fullmatch(line):
        sign, number, named = m.groups()
        state, sure = "", False
    else:
        return NO_WEIGHT.format(line=clip(line, 40))
    if state in ("D", "US"):
        return UNSTEADY
    if named and named.lower() not in _UNITS:
        known = ", ".join(sorted(set(_UNITS.values())))
        return f"The scale shows {named}. Set it to one of {known}."
    own = _UNITS[named.lower()] if named else unit
    if not own:
        return 'The scale names no unit: write unit = "g", say, under [scale] in batch.toml.'
    if sign == "-" and float(number):
        return NEGATIVE
    return Weight(number.rstrip("."), own, sure, bool(named), line)

"""Text that a spreadsheet program would run as a formula when it opens a CSV file, and how to keep it from that.

A cell that begins with ``= + - @`` (or their full-width forms, or a tab or line break before them) is a
formula to most programs. So is what follows a comma, a semicolon or a tab inside a cell, for a program
that parts cells by another mark than the file does.
"""

from __future__ import annotations

import re

_STARTS = r"[=+\-@\uff1d\uff0b\uff0d\uff20]"
_RISKY = re.compile(rf"(^|[,;\t\r\n])([\s\u00a0]*)(?={_STARTS})")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)


def runs_as_formula(text: str) -> bool:
    """Whether a spreadsheet program may take the text, or a part of it, for a formula. A plain number is none."""
    return not _NUMBER.fullmatch(text.strip()) and _RISKY.search(text) is not None


def guarded(text: str) -> str:
    """The text with an apostrophe before whatever would be taken for a formula; every other text as it is."""
    return _RISKY.sub(r"\1\2'", text) if runs_as_formula(text) else text

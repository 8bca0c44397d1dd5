"""The one place where a command prints: what a terminal would obey is shown instead."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager

import click

# Signs that join letters stay: some scripts and emoji need them.
_FINE = "\n\t\u200c\u200d"
# Control codes, marks that do not show and may change how text runs, halves of signs, line ends.
_OBEYED = {"Cc", "Cf", "Cs", "Zl", "Zp"}


def visible(text: str) -> str:
    """Text with what a terminal may obey as it is written in JSON: ``\\u001b``."""
    return text if text.isprintable() else "".join(map(_shown, text))


def _shown(sign: str) -> str:
    if sign.isprintable() or sign in _FINE or unicodedata.category(sign) not in _OBEYED:
        return sign
    units = sign.encode("utf-16-be", "surrogatepass")
    return "".join(f"\\u{units[n : n + 2].hex()}" for n in range(0, len(units), 2))


def say(message: object, *, err: bool = False, bell: bool = False) -> None:
    """Print a line of an answer, or of what goes beside it (``err``); ring first, if asked."""
    click.echo(("\a" if bell else "") + visible(str(message)), err=err)


@contextmanager
def visible_errors() -> Iterator[None]:
    """Errors of usage, which click prints itself, repeat what was typed or read: visibly."""
    try:
        yield
    except click.exceptions.Exit:
        raise
    except click.ClickException as error:
        words = error.format_message()
        if visible(words) == words:
            raise
        raise click.UsageError(visible(words), getattr(error, "ctx", None)) from error

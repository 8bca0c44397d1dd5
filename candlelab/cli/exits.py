"""How a command ends: one map from what went wrong to an exit code.

0 fine, 1 problems to fix, 2 wrong usage, 3 the work itself failed, 4 the numbers of a pack follow
from its logs and its words are those of an earlier version, 130 stopped.
"""

from __future__ import annotations

from pathlib import Path

import click

from candlelab.cli.say import say

PROBLEMS, USAGE, FAILED, NUMBERS_ONLY, STOPPED = 1, 2, 3, 4, 130
PATH = click.Path(path_type=Path)
# By the names of errors, so that no command has to import what it does not use. The nearest class
# of an error decides.
EXIT_CODES = {
    "BurnLogError": PROBLEMS,
    "PlanError": PROBLEMS,
    "NotADirectoryError": USAGE,
    "FileNotFoundError": USAGE,
    "NotOurFolder": USAGE,
    "Refused": USAGE,
    "CannotAdd": USAGE,
    "CannotClaim": USAGE,
    "CannotCompare": USAGE,
    "CannotConfirm": USAGE,
    "CannotPlan": USAGE,
    "ReportFailed": FAILED,
    "ValueError": FAILED,
    "OSError": FAILED,
}


def exit_code(error: Exception) -> int | None:
    """The exit code that an error asks for; None for a fault of the program."""
    if isinstance(error, NotADirectoryError) and error.errno is not None:
        return FAILED  # the system's word on a place to write to, not ours on a batch folder
    names = (kind.__name__ for kind in type(error).__mro__)
    return next((EXIT_CODES[name] for name in names if name in EXIT_CODES), None)


def end(ctx: click.Context, error: Exception) -> None:
    """End a command by ``error``: its words on stderr, and the exit code that it asks for."""
    code = exit_code(error)
    if code is None:
        raise error
    if code == USAGE:
        raise click.UsageError(str(error), ctx) from error
    say(str(error) if code == PROBLEMS else f"Not done: {error}", err=True)
    ctx.exit(code)

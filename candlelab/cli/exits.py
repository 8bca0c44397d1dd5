"""How a command ends. Exit codes: 0 fine, 1 problems to fix, 2 wrong usage, 3 the work itself
failed, 130 stopped."""

from __future__ import annotations

import sys
from pathlib import Path

import click

PROBLEMS, USAGE, FAILED, STOPPED = 1, 2, 3, 130
PATH = click.Path(path_type=Path)


def made(make, what: str = "page"):
    """What ``make`` returns, or the end of the command with the exit code that its failure asks
    for."""
    from candlelab.logs.problems import BurnLogError
    from candlelab.pages.publish import NotOurFolder
    from candlelab.pages.run import ReportFailed

    try:
        return make()
    except BurnLogError as error:
        click.echo(str(error), err=True)
        sys.exit(PROBLEMS)
    except (NotADirectoryError, NotOurFolder, ValueError) as error:
        raise click.UsageError(str(error)) from error
    except (ReportFailed, OSError) as error:
        click.echo(f"The {what} was not made: {error}", err=True)
        sys.exit(FAILED)

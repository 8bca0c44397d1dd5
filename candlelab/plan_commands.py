"""The command plan. Exit codes: 0 fine, 1 problems to fix, 2 wrong usage, 3 the work itself failed."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from candlelab.command_ends import FAILED, PROBLEMS

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("plan_file", metavar="PLAN.toml", type=_PATH)
@click.option("--out", required=True, type=_PATH, help="The batch folder to make.")
def plan(plan_file: Path, out: Path) -> None:
    """Make a batch folder of PLAN.toml, ready to log into: recipe, places by lot, calendar, log sheets to print.

    PLAN.toml says what is poured, on which bench, and when; wicks.csv lies beside it. Every fault of the plan is told at
    once. A folder in which somebody has begun to log is never replaced.
    """
    from candlelab.batch_plan import PlanError
    from candlelab.planning import make_plan
    from candlelab.publish import NotOurFolder
    from candlelab.report import ReportFailed

    try:
        page = make_plan(plan_file, out, progress=sys.stderr.isatty())
    except PlanError as error:
        click.echo(str(error), err=True)
        sys.exit(PROBLEMS)
    except (FileNotFoundError, NotOurFolder) as error:
        raise click.UsageError(str(error)) from error
    except (ReportFailed, OSError, ValueError) as error:
        click.echo(f"The plan was not made: {error}", err=True)
        sys.exit(FAILED)
    click.echo(page)

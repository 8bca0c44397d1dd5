"""The commands candles, size and claim. Exit codes: 0 fine, 1 problems to fix, 2 wrong usage, 3 the work
itself failed."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from candlelab.command_ends import PROBLEMS, made

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("folders", type=_PATH, nargs=-1)
@click.option(
    "--difference", type=float, help="Difference between two candidates that matters, in the metric's unit (g/h)."
)
@click.option("--margin", type=float, help="Largest difference that does not matter: to show that two burn alike.")
@click.option("--reliability", type=float, help="Share of candles that should be shown to pass, such as 0.9.")
@click.option("--candidates", type=int, default=2, show_default=True, help="Candidates that are compared.")
@click.option(
    "--affordable", type=int, default=3, show_default=True, help="Candles of each candidate that you can burn."
)
@click.option("--burns", type=int, help="Burns of each candle; as in the earlier batches, else 10, when not given.")
@click.option("--power", type=float, default=0.8, show_default=True, help="How often the plan should succeed.")
@click.option("--confidence", type=float, default=0.95, show_default=True, help="Confidence of the analysis.")
@click.option("--metric", default="burn_rate_g_per_h", show_default=True, help="What is measured, by its column name.")
def candles(folders: tuple[Path, ...], metric: str, **wanted) -> None:
    """How many candles does it take? What do those that you can afford show?

    FOLDERS are earlier batches, from which the spread between candles is taken; without one an assumption stands in.
    Without --difference, --margin and --reliability the answer is for 0.5 g/h, ±0.5 g/h and 0.9.
    """
    from candlelab.designs import CannotCompare
    from candlelab.logs import read_batch
    from candlelab.problems import BurnLogError
    from candlelab.sample_size import CannotPlan, Wanted, plan_candles

    asked = ("difference", "margin", "reliability")
    if metric == "burn_rate_g_per_h" and all(wanted[name] is None for name in asked):
        wanted |= {"difference": 0.5, "margin": 0.5, "reliability": 0.9}
    try:
        plan = plan_candles([read_batch(folder) for folder in folders], wanted=Wanted(**wanted), metric=metric)
    except BurnLogError as error:
        click.echo(str(error), err=True)
        sys.exit(PROBLEMS)
    except (NotADirectoryError, CannotPlan, CannotCompare) as error:
        raise click.UsageError(str(error)) from error
    for line in (*plan.answer, *plan.cannot):
        click.echo(line)
    for row_is, table in plan.tables().values():
        click.echo(f"\nOne row is {row_is}:\n" + _as_text(table))
    click.echo("\n" + "\n".join(plan.method))


def _as_text(table) -> str:
    """A table in columns with the glossary's headings."""
    from candlelab.columns import heading
    from candlelab.page import format_value

    heads = [heading(name) for name in table.columns]
    rows = [
        [format_value(name, value) for name, value in zip(table.columns, row)] for row in table.itertuples(index=False)
    ]
    widths = [max(len(line[n]) for line in [heads, *rows]) for n in range(len(heads))]
    return "\n".join(
        "  ".join(text.rjust(width) for text, width in zip(line, widths)).rstrip() for line in [heads, *rows]
    )


@click.command()
@click.argument("folders", type=_PATH, nargs=-1, required=True)
@click.option(
    "--metric", default="burn_rate_g_per_h", show_default=True, help="What the target is for, by its column name."
)
@click.option("--out", type=_PATH, help="Folder for the page; out/size when not given.")
def size(folders: tuple[Path, ...], metric: str, out: Path | None) -> None:
    """Which size of each wick series meets the target, and what should be burnt next?

    The target stands in the first batch's batch.toml. Sizes are compared within one series and one recipe.
    """
    from candlelab.report import make_page
    from candlelab.sizing import SIZE_METRICS

    if metric not in SIZE_METRICS:
        raise click.UsageError(f"--metric must be one of {', '.join(SIZE_METRICS)}, not {metric!r}.")
    place = out or Path("out") / "size"
    click.echo(made(lambda: make_page("size_wick", list(folders), place, title="Which size", metric=metric, progress=sys.stderr.isatty())))


@click.command()
@click.argument("folders", type=_PATH, nargs=-1, required=True)
@click.option("--candidate", required=True, help='The wick that a label is for, such as "square braid 2".')
@click.option("--out", type=_PATH, help="Folder for the page; out/claim-CANDIDATE when not given.")
def claim(folders: tuple[Path, ...], candidate: str, out: Path | None) -> None:
    """What can a label say of a candidate: burn time, wick, when to test again, what to caution of?"""
    from candlelab.claims import CannotClaim
    from candlelab.claims import claim as work_out
    from candlelab.logs import read_batch
    from candlelab.report import make_page, slug

    def make() -> Path:
        try:
            found = work_out([read_batch(folder) for folder in folders], candidate)
        except CannotClaim as error:
            raise click.UsageError(str(error)) from error
        click.echo(f"{found.candidate}: {found.outcome}", err=True)
        place = out or Path("out") / slug(f"claim-{candidate}")
        return make_page(
            "label_claims",
            list(folders),
            place,
            title=f"What can be printed of {candidate}",
            candidate=candidate,
            progress=sys.stderr.isatty(),
        )

    click.echo(made(make))

"""The commands that make a page of batches: report, compare, size, confirm, claim."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from candlelab.cli.exits import PATH, made


@click.command()
@click.argument("folders", type=PATH, nargs=-1, required=True)
@click.option(
    "--metric",
    default="burn_rate_g_per_h",
    show_default=True,
    help="What the target is for, by its column name.",
)
@click.option("--out", type=PATH, help="Folder for the page; out/size when not given.")
def size(folders: tuple[Path, ...], metric: str, out: Path | None) -> None:
    """Which size of each wick series meets the target, and what should be burnt next?

    The target stands in the first batch's batch.toml. Sizes are compared within one series and one
    recipe.
    """
    from candlelab.report.make import make_page
    from candlelab.size.sizing import SIZE_METRICS

    if metric not in SIZE_METRICS:
        raise click.UsageError(
            f"--metric must be one of {', '.join(SIZE_METRICS)}, not {metric!r}."
        )
    place = out or Path("out") / "size"
    click.echo(
        made(
            lambda: make_page(
                "size_wick",
                list(folders),
                place,
                title="Which size",
                metric=metric,
                progress=sys.stderr.isatty(),
            )
        )
    )


@click.command()
@click.argument("folders", type=PATH, nargs=-1, required=True)
@click.option(
    "--candidate", required=True, help='The wick that a label is for, such as "square braid 2".'
)
@click.option("--out", type=PATH, help="Folder for the page; out/claim-CANDIDATE when not given.")
def claim(folders: tuple[Path, ...], candidate: str, out: Path | None) -> None:
    """What can a label say of a candidate: burn time, wick, when to test again, what to caution
    of?"""
    from candlelab.claim.claims import CannotClaim
    from candlelab.claim.claims import claim as work_out
    from candlelab.logs.batch import read_batch
    from candlelab.pages.run import slug
    from candlelab.report.make import make_page

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


PATH = click.Path(path_type=Path)


@click.command()
@click.argument("screening", type=PATH)
@click.argument("confirmation", type=PATH)
@click.option(
    "--candidate",
    "candidates",
    multiple=True,
    help="A candidate to judge, as the pages name it; may be given again. All that were burnt "
    "again when not given.",
)
@click.option(
    "--out",
    type=PATH,
    help="Folder for the page; out/confirm-NAME of the confirmation when not given.",
)
def confirm(
    screening: Path, confirmation: Path, candidates: tuple[str, ...], out: Path | None
) -> None:
    """Hold the fresh candles of CONFIRMATION against what SCREENING predicted: does the pick stand?

    Both are folders of batches; they may be logged in different units and formats. Prints the
    answer, and
    the place of a page with every number behind it.
    """
    from candlelab.pages.run import RESULTS, slug
    from candlelab.report.make import make_confirmation

    place = out or Path("out") / f"confirm-{slug(confirmation.resolve().name)}"
    page = made(
        lambda: make_confirmation(
            screening, confirmation, place, candidates=candidates, progress=sys.stderr.isatty()
        )
    )
    tables = json.loads((page.parent / RESULTS).read_text(encoding="utf-8"))["tables"]
    for row in _rows(tables["verdicts"]):
        click.echo(f"{row['candidate']}: {row['verdict']}", err=True)
    for row in _rows(tables["new_evidence"]):
        click.echo(
            f"{row['candidate']}: new evidence, {row['n_passed']} of {row['n_candles']} passed",
            err=True,
        )
    click.echo(page)


def _rows(table: dict) -> list[dict]:
    """A table of results.json as one dictionary per row."""
    names = [column["name"] for column in table["columns"]]
    return [dict(zip(names, row)) for row in table["data"]]


@click.command()
@click.argument("folder", type=PATH)
@click.option(
    "--out", type=PATH, help="Folder for the report; out/NAME of the batch when not given."
)
def report(folder: Path, out: Path | None) -> None:
    """Report on the batch in FOLDER: an HTML page, the notebook behind it, and results.json."""
    from candlelab.pages.run import slug

    print_report(folder, out or Path("out") / slug(folder.resolve().name))


@click.command()
@click.argument("folders", type=PATH, nargs=-1, required=True)
@click.option("--by", required=True, help="wick, wick_series, wax or fragrance_load_pct.")
@click.option(
    "--metric",
    default="burn_rate_g_per_h",
    show_default=True,
    help="What to compare, by its column name.",
)
@click.option("--out", type=PATH, help="Folder for the page; out/compare-BY when not given.")
def compare(folders: tuple[Path, ...], by: str, metric: str, out: Path | None) -> None:
    """Compare the candles of one or several batches in FOLDERS: which differ, by how much, by more
    than luck?"""
    from candlelab.report.make import make_comparison

    place = out or Path("out") / f"compare-{by}"
    click.echo(
        made(
            lambda: make_comparison(
                list(folders), place, by=by, metric=metric, progress=sys.stderr.isatty()
            ),
            "report",
        )
    )


def print_report(folder: Path, out: Path) -> None:
    """Report on a batch and print the place of the page."""
    from candlelab.report.make import make_report

    click.echo(made(lambda: make_report(folder, out, progress=sys.stderr.isatty()), "report"))

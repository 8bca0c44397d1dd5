"""The command confirm. Exit codes: 0 the page was made, whatever it says; 1 problems, 2 wrong usage, 3 the page failed."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from candlelab.command_ends import made

_PATH = click.Path(path_type=Path)


@click.command()
@click.argument("screening", type=_PATH)
@click.argument("confirmation", type=_PATH)
@click.option(
    "--candidate",
    "candidates",
    multiple=True,
    help="A candidate to judge, as the pages name it; may be given again. All that were burnt again when not given.",
)
@click.option("--out", type=_PATH, help="Folder for the page; out/confirm-NAME of the confirmation when not given.")
def confirm(screening: Path, confirmation: Path, candidates: tuple[str, ...], out: Path | None) -> None:
    """Hold the fresh candles of CONFIRMATION against what SCREENING predicted: does the pick stand?

    Both are folders of batches; they may be logged in different units and formats. Prints the answer, and
    the place of a page with every number behind it.
    """
    from candlelab.report import RESULTS, make_confirmation, slug

    place = out or Path("out") / f"confirm-{slug(confirmation.resolve().name)}"
    page = made(lambda: make_confirmation(screening, confirmation, place, candidates=candidates, progress=sys.stderr.isatty()))
    tables = json.loads((page.parent / RESULTS).read_text(encoding="utf-8"))["tables"]
    for row in _rows(tables["verdicts"]):
        click.echo(f"{row['candidate']}: {row['verdict']}", err=True)
    for row in _rows(tables["new_evidence"]):
        click.echo(f"{row['candidate']}: new evidence, {row['n_passed']} of {row['n_candles']} passed", err=True)
    click.echo(page)


def _rows(table: dict) -> list[dict]:
    """A table of results.json as one dictionary per row."""
    names = [column["name"] for column in table["columns"]]
    return [dict(zip(names, row)) for row in table["data"]]

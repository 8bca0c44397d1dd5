"""The commands that make a page of batches: report, compare, size, confirm, claim."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from candlelab.cli.answers import AS_JSON, tell
from candlelab.cli.exits import PATH
from candlelab.compare.metrics import METRICS
from candlelab.size.metrics import SIZE_METRICS

# What a maker would say, and the column that it is.
_BY = {"wick": "wick", "series": "wick_series", "wax": "wax", "load": "fragrance_load_pct"}
_FOLDERS = click.argument("folders", type=PATH, nargs=-1, required=True)


def _metric(names: tuple[str, ...]):
    return click.option(
        "--metric",
        default="burn_rate_g_per_h",
        show_default=True,
        help=f"What, by its column name. One of: {', '.join(names)}.",
    )


_BATCH_SD = click.option(
    "--batch-sd-pct",
    type=click.FloatRange(0, 30, max_open=True),
    default=3.0,
    show_default=True,
    help="How much pours of one recipe differ: standard deviation from pour to pour, in percent.",
)


def _out(place: str):
    return click.option(
        "--out", type=PATH, help=f"Folder for the page; out/{place} when not given."
    )


@click.command()
@click.argument("folder", type=PATH)
@_out("NAME of the batch")
@AS_JSON
def report(folder: Path, out: Path | None, as_json: bool) -> None:
    """Report on the batch in FOLDER: an HTML page, the notebook behind it, and results.json.

    Says which wick to pick, why not the others, and what to do next.
    """
    from candlelab.pages.run import slug

    print_report(folder, out or Path("out") / slug(folder.resolve().name), as_json=as_json)


def print_report(folder: Path, out: Path, *, as_json: bool = False) -> None:
    """Report on a batch, and print the answer and the place of the page."""
    from candlelab.report.make import make_report

    tell(make_report(folder, out, progress=_progress()), as_json=as_json)


@click.command()
@_FOLDERS
@click.option("--by", default="wick", show_default=True, help=f"What to compare: {', '.join(_BY)}.")
@_metric(METRICS)
@click.option("--against", default="", help='Compare all with this one, such as "flat braid 4".')
@click.option(
    "--margin",
    default=0.0,
    type=float,
    help="The largest difference that does not matter: which are alike within it?",
)
@click.option(
    "--alike",
    multiple=True,
    help="What you know to make no difference: batch, wax_lot, poured_on, season or room; may be "
    "given again.",
)
@click.option(
    "--spread",
    type=click.Choice(["pooled", "separate"]),
    help="Whether candles of all vary alike, or each for itself. Each as it needs it when not "
    "given.",
)
@_out("compare-BY")
@AS_JSON
def compare(
    folders, by, metric, against, margin, alike, spread, out: Path | None, as_json: bool
) -> None:
    """Compare the candles of one or several batches in FOLDERS: which differ, by how much, by more
    than luck?
    """
    from candlelab.report.make import make_comparison

    by = _BY.get(by, by)
    place = out or Path("out") / f"compare-{by}"
    asked: dict[str, Any] = {"by": by, "metric": metric, "against": against, "margin": margin}
    asked |= {"alike": alike, "spread": spread or ""}
    tell(make_comparison(folders, place, **asked, progress=_progress()), as_json=as_json)


@click.command()
@_FOLDERS
@_metric(SIZE_METRICS)
@_out("size")
@AS_JSON
def size(folders: tuple[Path, ...], metric: str, out: Path | None, as_json: bool) -> None:
    """Which size of each wick series meets the target, and what should be burned next?

    The target stands in the first batch's batch.toml. Sizes are compared within one series and one
    recipe.
    """
    from candlelab.report.make import make_sizing

    place = out or Path("out") / "size"
    tell(make_sizing(folders, place, metric=metric, progress=_progress()), as_json=as_json)


@click.command()
@click.argument("folder", type=PATH)
@click.option(
    "--margin",
    default=0.0,
    type=click.FloatRange(0, 100),
    help="The largest difference that does not matter, in steps of the scale; that of batch.toml "
    "when not given.",
)
@_out("scent-NAME of the batch")
@AS_JSON
def scent(folder: Path, margin: float, out: Path | None, as_json: bool) -> None:
    """Which smells strongest in FOLDER, which load is enough, and is it worth its oil?

    The scores stand in throw.csv, and prices in batch.toml.
    """
    from candlelab.pages.run import slug
    from candlelab.report.make import make_scent

    place = out or Path("out") / f"scent-{slug(folder.resolve().name)}"
    page = make_scent(folder, place, margin=margin, progress=_progress())
    tell(page, as_json=as_json)


@click.command()
@_FOLDERS
@click.option(
    "--candidate", required=True, help='The wick that a label is for, such as "square braid 2".'
)
@click.option(
    "--leave-mm",
    type=click.FloatRange(0, 1000),
    default=12.7,
    show_default=True,
    help="Depth of wax that the label says to leave; 0 for none.",
)
@_BATCH_SD
@_out("claim-CANDIDATE")
@AS_JSON
def claim(
    folders: tuple[Path, ...],
    candidate: str,
    leave_mm: float,
    batch_sd_pct: float,
    out: Path | None,
    as_json: bool,
) -> None:
    """What can a label say of a candidate: burn time, wick, when to test again, what to caution
    of?
    """
    from candlelab.pages.run import slug
    from candlelab.report.make import make_claim

    place = out or Path("out") / slug(f"claim-{candidate}")
    asked: dict[str, Any] = {
        "candidate": candidate,
        "leave_mm": leave_mm,
        "batch_sd_pct": batch_sd_pct,
    }
    page = make_claim(folders, place, **asked, progress=_progress())
    tell(page, as_json=as_json)


@click.command()
@click.argument("screening", type=PATH)
@click.argument("confirmation", type=PATH)
@click.option(
    "--candidate",
    "candidates",
    multiple=True,
    help="A candidate to judge, as the pages name it; may be given again. All that were burned "
    "again when not given.",
)
@_BATCH_SD
@_out("confirm-NAME of the confirmation")
@AS_JSON
def confirm(
    screening: Path,
    confirmation: Path,
    candidates: tuple[str, ...],
    batch_sd_pct: float,
    out: Path | None,
    as_json: bool,
) -> None:
    """Hold the fresh candles of CONFIRMATION against what SCREENING predicted: does the pick stand?

    Both are folders of batches; they may be logged in different units and formats. Prints the
    answer, and the place of a page with every number behind it.
    """
    from candlelab.pages.run import slug
    from candlelab.report.make import make_confirmation

    place = out or Path("out") / f"confirm-{slug(confirmation.resolve().name)}"
    asked: dict[str, Any] = {"candidates": candidates, "batch_sd_pct": batch_sd_pct}
    page = make_confirmation(screening, confirmation, place, **asked, progress=_progress())
    tell(page, as_json=as_json)


def _progress() -> bool:
    return sys.stderr.isatty()

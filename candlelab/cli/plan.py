"""The commands plan and candles: before anything is burned."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import click

from candlelab.cli.answers import AS_JSON, rows_of, tell, tell_json
from candlelab.cli.exits import PATH
from candlelab.cli.say import say
from candlelab.compare.metrics import METRICS


@click.command()
@click.argument("folders", type=PATH, nargs=-1)
@click.option(
    "--difference",
    type=float,
    help="Difference between two candidates that matters, in the metric's unit (g/h).",
)
@click.option(
    "--margin",
    type=float,
    help="Largest difference that does not matter: to show that two burn alike.",
)
@click.option(
    "--reliability", type=float, help="Share of candles that should be shown to pass, such as 0.9."
)
@click.option(
    "--candidates", type=int, default=2, show_default=True, help="Candidates that are compared."
)
@click.option(
    "--affordable",
    type=int,
    default=3,
    show_default=True,
    help="Candles of each candidate that you can burn.",
)
@click.option(
    "--burns",
    type=int,
    help="Burns of each candle; as in the earlier batches, else 10, when not given.",
)
@click.option(
    "--power", type=float, default=0.8, show_default=True, help="How often the plan should succeed."
)
@click.option(
    "--confidence", type=float, default=0.95, show_default=True, help="Confidence of the analysis."
)
@click.option(
    "--metric",
    default="burn_rate_g_per_h",
    show_default=True,
    help=f"What is measured, by its column name. One of: {', '.join(METRICS)}.",
)
@AS_JSON
def candles(folders: tuple[Path, ...], metric: str, as_json: bool, **wanted) -> None:
    """How many candles does it take? What do those that you can afford show?

    FOLDERS are earlier batches, from which the variation between candles is taken; without one an
    assumption stands in. Without --difference, --margin and --reliability the answer is for 0.5
    g/h, ±0.5 g/h and 0.9.
    """
    from candlelab.logs.batch import read_batch
    from candlelab.plan.sample_size import Wanted, plan_candles
    from candlelab.plan.sample_words import CAPTIONS
    from candlelab.units import SI

    asked = ("difference", "margin", "reliability")
    if metric == "burn_rate_g_per_h" and all(wanted[name] is None for name in asked):
        wanted |= {"difference": 0.5, "margin": 0.5, "reliability": 0.9}
    batches = [read_batch(folder) for folder in folders]
    plan = plan_candles(batches, wanted=Wanted(**wanted), metric=metric)
    if as_json:
        tables = {name: rows_of(table) for name, (_, table) in plan.tables().items()}
        said = {"answer": [*plan.answer, *plan.cannot], "methods": list(plan.method)}
        tell_json({**said, "tables": tables})
        return
    for line in (*plan.answer, *plan.cannot):
        say(line)
    shown = batches[0].settings.display if batches else SI
    for name, (_, table) in plan.tables().items():
        say(f"\n{CAPTIONS[name]}:\n" + _as_text(table, name, metric, shown))
    say("\n" + "\n".join(plan.method))


def _as_text(table, name: str, metric: str, display) -> str:
    """A table in columns with the glossary's headings."""
    from candlelab.pages.glossary import GLOSSARY, column
    from candlelab.pages.values import format_value

    how = {"display": display, "table": name, "unit": GLOSSARY[metric].unit}
    heads = [display.heading(column(own, name)) for own in table.columns]
    rows = [
        [format_value(own, value, **how) for own, value in zip(table.columns, row, strict=True)]
        for row in table.itertuples(index=False)
    ]
    widths = [max(len(line[n]) for line in [heads, *rows]) for n in range(len(heads))]
    return "\n".join(
        "  ".join(text.rjust(width) for text, width in zip(line, widths, strict=True)).rstrip()
        for line in [heads, *rows]
    )


@click.command()
@click.argument("plan_file", metavar="PLAN.toml", type=PATH, required=False)
@click.option("--out", type=PATH, help="The batch folder to make.")
@click.option(
    "--example",
    is_flag=True,
    help="Leave an example to change, plan.toml and wicks.csv, in --out or the current folder.",
)
@AS_JSON
def plan(plan_file: Path | None, out: Path | None, example: bool, as_json: bool) -> None:
    """Make a batch folder of PLAN.toml, ready to log into: recipe, places by lot, calendar, log
    sheets to print.

    PLAN.toml says what is poured, on which bench, and when; wicks.csv lies beside it. Every fault
    of the plan is told at once. A folder in which somebody has begun to log is never replaced.
    """
    from candlelab.plan.folder import make_plan

    if example:
        _leave_example(out or Path())
        return
    if plan_file is None or out is None:
        raise click.UsageError(
            "Give a plan and a folder to make: candlelab plan plan.toml --out next-batch. "
            "“candlelab plan --example” leaves a plan to change."
        )
    page = make_plan(plan_file, out, progress=sys.stderr.isatty())
    tell(page, as_json=as_json, record="plan.json")


def _leave_example(folder: Path) -> None:
    """The demo's plan, in a folder that has none yet."""
    from candlelab.pages.run import shipped

    files = [shipped("data/demo") / "plan" / name for name in ("plan.toml", "wicks.csv")]
    there = [file.name for file in files if (folder / file.name).exists()]
    if there:
        raise click.UsageError(f"{folder} has its own {' and '.join(there)}. Give another --out.")
    folder.mkdir(parents=True, exist_ok=True)
    for file in files:
        shutil.copy(file, folder / file.name)
    say(
        "An example to change: what is poured, on which bench, and when. Then make its folder:\n"
        f"  candlelab plan {folder / 'plan.toml'} --out next-batch",
        err=True,
    )
    say(folder / "plan.toml")

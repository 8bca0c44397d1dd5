"""The command line. Exit codes: 0 fine, 1 problems to fix, 2 wrong usage, 3 the report itself failed."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import click

PROBLEMS, USAGE, FAILED = 1, 2, 3


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="candlelab")
def main() -> None:
    """Find the wick that burns best, and show it.

    A batch is a folder with batch.toml and the tables candles.csv, burns.csv, checks.csv and wicks.csv;
    "candlelab demo" leaves one to look at. Exit codes: 0 fine, 1 problems to fix, 2 wrong usage, 3 the
    report itself failed.
    """


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="Print the table of problems as JSON.")
def check(folder: Path, as_json: bool) -> None:
    """List every problem in the burn logs of FOLDER.

    Ends with 1 when something must be fixed; what to look at and what left the protocol is listed too.
    """
    from candlelab.logs import check_batch
    from candlelab.problems import MUST_FIX, problem_lines

    problems = _folder_or_usage(check_batch, folder)
    if as_json:
        click.echo(problems.to_json(orient="records", force_ascii=False, indent=1))
    else:
        for line in problem_lines(problems, at_most=200):
            click.echo(line)
        counts = problems["level"].value_counts()
        click.echo(", ".join(f"{n} {level}" for level, n in counts.items()) or "No problem found.", err=True)
    sys.exit(PROBLEMS if (problems["level"] == MUST_FIX).any() else 0)


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), help="Folder for the report; out/NAME of the batch when not given.")
def report(folder: Path, out: Path | None) -> None:
    """Report on the batch in FOLDER: an HTML page, the notebook behind it, and results.json."""
    from candlelab.report import slug

    _report(folder, out or Path("out") / slug(folder.resolve().name))


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), default=Path("candlelab-demo"))
def demo(folder: Path) -> None:
    """Copy the demo batches to FOLDER (candlelab-demo when not given) and report on the screening batch."""
    from candlelab.resources import shipped

    for batch in ("screening", "confirmation"):
        if not (folder / batch).exists():
            shutil.copytree(shipped("data/demo") / batch, folder / batch)
    _report(folder / "screening", folder / "report")


@main.command()
@click.argument("folder", type=click.Path(path_type=Path), required=False)
def lab(folder: Path | None) -> None:
    """Open the tables of FOLDER (the demo batch when not given) in a notebook in JupyterLab.

    The notebook explore_wicks.ipynb is copied into the current folder; one that is there is left as it is.
    """
    from candlelab.resources import shipped

    if folder is not None and not folder.is_dir():
        raise click.UsageError(f"{folder} is not a folder.")
    batch = (folder or shipped("data/demo") / "screening").resolve()
    notebook = Path("explore_wicks.ipynb")
    if not notebook.exists():
        book = json.loads((shipped("notebooks") / notebook.name).read_text(encoding="utf-8"))
        cell = next(c for c in book["cells"] if "parameters" in c["metadata"].get("tags", []))
        cell["source"] = [f"batch_folder: str = {json.dumps(batch.as_posix())}  # folder with batch.toml and the tables"]
        notebook.write_text(json.dumps(book, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    options = ["--LabApp.news_url=None", "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
               "--KernelManager.transport_encryption=auto"]  # fmt: skip
    sys.exit(subprocess.run([sys.executable, "-m", "jupyterlab", *options, str(notebook)]).returncode)


def _folder_or_usage(action, folder: Path):
    try:
        return action(folder)
    except NotADirectoryError as error:
        raise click.UsageError(str(error)) from error


def _report(folder: Path, out: Path) -> None:
    from candlelab.problems import BurnLogError
    from candlelab.publish import NotOurFolder
    from candlelab.report import ReportFailed, make_report

    try:
        page = make_report(folder, out, progress=sys.stderr.isatty())
    except BurnLogError as error:
        click.echo(str(error), err=True)
        sys.exit(PROBLEMS)
    except (NotADirectoryError, NotOurFolder, ValueError) as error:
        raise click.UsageError(str(error)) from error
    except (ReportFailed, OSError) as error:
        click.echo(f"The report was not made: {error}", err=True)
        sys.exit(FAILED)
    click.echo(page)


if __name__ == "__main__":
    main()

"""The command line.

Exit codes: 0 fine, 1 problems to fix, 2 wrong usage, 3 the report itself failed, 4 only the
numbers of a pack are verified, 130 stopped.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from datetime import datetime
from pathlib import Path

import click

from candlelab.cli import bench, columns, new, pages, plan, share
from candlelab.cli.answers import AS_JSON
from candlelab.cli.examples import epilog
from candlelab.cli.exits import PATH, PROBLEMS, STOPPED, end
from candlelab.cli.say import say, visible_errors


class _Commands(click.Group):
    """The commands, ended in order by Ctrl-C, by a request to end, by a disk that refuses."""

    def make_context(self, *args, **kwargs):
        with visible_errors():
            return super().make_context(*args, **kwargs)

    def invoke(self, ctx: click.Context):
        with visible_errors():
            return self._ended_in_order(ctx)

    def _ended_in_order(self, ctx: click.Context):
        asked = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
        before = {
            one: signal.signal(one, signal.default_int_handler)
            for one in asked
            if threading.current_thread() is threading.main_thread()
        }
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            say("Stopped.", err=True)
            ctx.exit(STOPPED)
        except (click.exceptions.Exit, click.ClickException, BrokenPipeError):
            raise
        except Exception as error:
            end(ctx, error)
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="candlelab")
def main() -> None:
    """Find the wick that burns best, and show it.

    A batch is a folder with batch.toml and the tables candles.csv, burns.csv, checks.csv and
    wicks.csv; "candlelab demo" leaves one to look at. Exit codes: 0 fine, 1 problems to fix, 2
    wrong usage, 3 the report itself failed, 4 only the numbers of a pack are verified, 130 stopped
    by Ctrl-C.
    """
    _mend_time_zone()
    if hasattr(sys.stdout, "reconfigure"):
        # a name that is no text, or a letter that the terminal has not, is shown by its number
        sys.stdout.reconfigure(errors="backslashreplace")


def _mend_time_zone() -> None:
    """Go on in UTC where TZ names a zone that no clock can have (more than a day from UTC)."""
    try:
        datetime.now().astimezone()
    except ValueError:
        zone = os.environ.get("TZ")
        say(f"TZ={zone} is no time zone: times of this computer are taken as UTC.", err=True)
        os.environ["TZ"] = "UTC"
        time.tzset()


@main.command()
@click.argument("folder", type=PATH)
@click.option("--json", "as_json", is_flag=True, help="Print the table of problems as JSON.")
def check(folder: Path, as_json: bool) -> None:
    """List every problem in the burn logs of FOLDER.

    Ends with 1 when something must be fixed; what to look at and what is off plan is listed
    too.
    """
    from candlelab.logs.batch import read_batch
    from candlelab.logs.problems import BurnLogError, counts_of, problem_lines

    try:
        batch = read_batch(folder)
        problems = batch.problems
    except BurnLogError as error:
        batch, problems = None, error.problems
    if as_json:
        say(problems.to_json(orient="records", force_ascii=False, indent=1))
    else:
        for line in problem_lines(problems, at_most=200):
            say(line)
        for line in _headings_to_paste(folder, problems):
            say(line)
        if batch:
            for line in (*batch.how_read, _what_was_read(batch)):
                say(line, err=True)
        say(counts_of(problems), err=True)
    sys.exit(0 if batch else PROBLEMS)


@main.command()
@click.argument("folder", type=PATH, default=Path("candlelab-demo"))
@AS_JSON
def demo(folder: Path, as_json: bool) -> None:
    """Copy the five demo batches and a plan to FOLDER (candlelab-demo when not given) and report on
    the screening batch.
    """
    from candlelab.pages.run import shipped

    for batch in ("screening", "confirmation", "waxes", "loads", "kitchen", "plan"):
        if not (folder / batch).exists():
            shutil.copytree(shipped("data/demo") / batch, folder / batch)
    if not (folder / "README.md").exists():
        shutil.copy(shipped("data/demo") / "README.md", folder / "README.md")
    pages.print_report(folder / "screening", folder / "report", as_json=as_json)


@main.command()
@click.argument("folder", type=PATH, required=False)
def lab(folder: Path | None) -> None:
    """Open the tables of FOLDER (the demo batch when not given) in a notebook in JupyterLab.

    The notebooks explore_wicks.ipynb and bench.ipynb, in which burns are logged as they happen, are
    copied into the current folder, or into candlelab-notebooks at home where that cannot be written
    to. One that is there is left as it is. JupyterLab opens in their folder.
    """
    from candlelab.pages.run import shipped

    if folder is not None and not folder.is_dir():
        raise click.UsageError(f"{folder} is not a folder.")
    batch = (folder or shipped("data/demo") / "screening").resolve()
    place = Path.cwd() if os.access(".", os.W_OK) else Path.home() / "candlelab-notebooks"
    place.mkdir(exist_ok=True)
    for name in _NOTEBOOKS:
        _copy_notebook(shipped("notebooks") / name, place / name, batch)
    first = str(place / _NOTEBOOKS[0])
    command = [sys.executable, "-m", "jupyterlab", *_lab_options(place), first]
    sys.exit(subprocess.run(command, env=_lab_env()).returncode)


_NOTEBOOKS = ("explore_wicks.ipynb", "bench.ipynb")
_QUIET = Path(__file__).with_name("jupyter")  # JupyterLab's news and its question about building


def _copy_notebook(source: Path, place: Path, batch: Path) -> None:
    """Copy a notebook that is not there yet, with the folder of a batch in its parameters."""
    if place.exists():
        return
    book = json.loads(source.read_text(encoding="utf-8"))
    cell = next(c for c in book["cells"] if "parameters" in c["metadata"].get("tags", []))
    cell["source"] = [
        f"batch_folder: str = {json.dumps(batch.as_posix())}  # folder with batch.toml and the "
        "tables"
    ]
    place.write_text(json.dumps(book, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")


def _lab_env() -> dict[str, str]:
    """The environment of JupyterLab, in which it shows no prompt of its own."""
    paths = [str(_QUIET), *filter(None, [os.environ.get("JUPYTER_CONFIG_PATH")])]
    return {**os.environ, "JUPYTER_CONFIG_PATH": os.pathsep.join(paths)}


def _lab_options(folder: Path) -> list[str]:
    """JupyterLab with the bench, on a folder, for any account."""
    return [
        f"--ServerApp.root_dir={folder}",
        "--ServerApp.allow_root=True",
        "--ServerApp.jpserver_extensions={'candlelab.bench.extension': True}",
        "--LabApp.news_url=None",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.extension_manager=readonly",
        "--KernelManager.transport_encryption=auto",
    ]


def _headings_to_paste(folder: Path, problems) -> list[str]:
    """Lines for batch.toml by which a studio's own headings are read as they are."""
    from candlelab.logs.batch import read_logs
    from candlelab.logs.headings import to_paste

    if not problems["problem"].isin(["heading of your own", "unit missing"]).any():
        return []
    lines = to_paste(read_logs(folder).problems.headings)
    return ["", "To keep your own headings, paste this into batch.toml:", *lines] if lines else []


def _what_was_read(batch, at_most: int = 20) -> str:
    """Rows of each table, and the candidates with their candles: a slip of spelling shows here."""
    from collections import Counter

    from candlelab.burns.candidates import candidate_names, natural_order
    from candlelab.text import counted

    of_each = Counter(candidate_names(batch))
    tables = ("candle", "burn", "check")
    rows = ", ".join(counted(len(getattr(batch, f"{what}s")), what) for what in tables)
    names = [f"{name} ({counted(of_each[name], 'candle')})" for name in natural_order(of_each)]
    more = [f"and {len(names) - at_most} more"] if len(names) > at_most else []
    if not names:
        return f"{rows}."
    return f"{rows}; {counted(len(names), 'candidate')}: " + ", ".join(names[:at_most] + more)


for _command in (
    new.new,
    columns.columns,
    pages.report,
    pages.compare,
    plan.plan,
    plan.candles,
    bench.bench,
    bench.today,
    pages.size,
    pages.confirm,
    pages.claim,
    pages.scent,
    share.share,
    share.verify,
    share.diff,
):
    main.add_command(_command)
for _name, _command in main.commands.items():
    _command.epilog = epilog(_name)

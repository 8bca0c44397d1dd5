"""The commands share, verify and diff."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from candlelab.cli.answers import AS_JSON, rows_of, tell_json
from candlelab.cli.exits import FAILED, NUMBERS_ONLY, PATH, PROBLEMS
from candlelab.cli.say import say
from candlelab.text import counted


@click.command()
@click.argument("folders", metavar="BATCH...", nargs=-1, required=True, type=PATH)
@click.option("--out", required=True, type=PATH, help="The zip file to make.")
@click.option(
    "--without-notes",
    is_flag=True,
    help="Empty the notes in copies of the logs, and report on the copies.",
)
@click.option(
    "--hashes",
    type=PATH,
    help="A list of packages with --hash=sha256:..., to pin the environment's files too.",
)
@AS_JSON
def share(
    folders: tuple[Path, ...], out: Path, without_notes: bool, hashes: Path | None, as_json: bool
) -> None:
    """Pack batches with their reports into one zip file that others can read, check and work out
    again.

    BATCH is the folder of a batch, which is reported on anew, or of a report that lies near its
    batch, which is packed as it is. Names of users, computers and other folders stay out.
    """
    from candlelab.logs.problems import BurnLogError
    from candlelab.pages.run import ReportFailed
    from candlelab.share.environment import WrongList
    from candlelab.share.pack import CannotPack, make_pack
    from candlelab.share.redaction import NotesStay

    try:
        packed = make_pack(
            list(folders),
            out,
            without_notes=without_notes,
            hashes=hashes,
            progress=sys.stderr.isatty(),
        )
    except BurnLogError as error:
        say(str(error), err=True)
        sys.exit(PROBLEMS)
    except (CannotPack, WrongList, NotesStay) as error:
        raise click.UsageError(str(error)) from error
    except (ReportFailed, OSError, ValueError) as error:
        say(f"The pack was not made: {error}", err=True)
        sys.exit(FAILED)
    if as_json:
        said = {"pack": str(packed.path), "files": packed.files, "sha256": packed.sha256}
        tell_json({**said, "hints": list(packed.hints)})
        return
    say(packed.path)
    say(f"{packed.files} files; SHA-256 {packed.sha256}", err=True)
    say(
        "Send the SHA-256 separately, by phone say, so that your partner can see that the file is "
        "unchanged.",
        err=True,
    )
    for hint in packed.hints:
        say(f"look at this: {hint}", err=True)


@click.command()
@click.argument("pack", metavar="FILE.zip", type=PATH)
@click.option(
    "--every-number",
    is_flag=True,
    help="Print every number as found, expected and difference, not only those that differ.",
)
@click.option(
    "--page", type=PATH, help="Folder for the reports as they are made here from the pack's logs."
)
@click.option(
    "--run-packed-notebook",
    is_flag=True,
    help="Also run the notebook in the pack, after a question: that is running its sender's code.",
)
@AS_JSON
def verify(
    pack: Path, every_number: bool, page: Path | None, run_packed_notebook: bool, as_json: bool
) -> None:
    """Check a pack: nothing changed or added, and every number, word and picture the same when made
    again from its logs.

    Nothing in the pack is run: the report is made again by candlelab's own notebook. A number
    agrees when it differs by at most a millionth of its size, or by 0.000000001. Ends with 0 when
    all is well, 1 when something is not, 4 when the numbers follow from the logs and the words are
    those of an earlier candlelab that judged otherwise.
    """
    from candlelab.pages.publish import NotOurFolder
    from candlelab.pages.run import ReportFailed
    from candlelab.share.verify import verify_pack

    _file_or_usage(pack)
    refusal = _why_not_run(pack) if run_packed_notebook else ""
    if refusal:
        say(refusal, err=True)
    try:
        result = verify_pack(pack, page=page, progress=sys.stderr.isatty())
    except NotOurFolder:
        raise
    except (ReportFailed, OSError, ValueError) as error:
        say(f"The check was not finished: {error}", err=True)
        sys.exit(FAILED)
    if as_json:
        said = {"passed": result.passed, "numbers_only": result.numbers_only}
        tell_json({**said, "findings": rows_of(result.findings)})
    else:
        _tell_findings(result, every_number)
    say(_verdict(result, pack, page), err=True)
    if not (result.passed or result.numbers_only):
        sys.exit(PROBLEMS)
    if refusal:
        sys.exit(FAILED)
    if result.numbers_only:
        sys.exit(NUMBERS_ONLY)
    if run_packed_notebook:
        _run_packed(pack)


def _tell_findings(result, every_number: bool) -> None:
    if every_number:
        for batch, numbers in result.numbers.items():
            for row in numbers.itertuples():
                say(_number(batch, row))
    for row in result.findings.itertuples():
        say(f"{row.level}: {row.step}: {f'{row.where}: ' if row.where else ''}{row.what}")


def _verdict(result, pack: Path, page: Path | None) -> str:
    """The last words on a pack, and where its page as it is made here lies or can be had."""
    counts = result.findings["level"].value_counts()
    offer = ""
    if result.numbers:
        offer = f" The page as it is made here: “candlelab verify {pack} --page FOLDER”."
    if page is not None and result.numbers:
        offer = f" The page as it is made here is in {page}."
    if result.numbers_only:
        return (
            "The numbers follow from the logs. The words are not verified: this pack was made by "
            f"candlelab {result.version}, and what it says is not what is said today ("
            f"{counted(int(counts['differs']), 'difference')} above).{offer}"
        )
    if not result.passed:
        return f"Not verified: {counted(int(counts['problem']), 'problem')}.{offer}"
    words = "Verified: every number, word and picture follows from the logs."
    notes = int(counts.get("note", 0))
    if not notes:
        return words
    say = "says" if notes == 1 else "say"
    return f"{words} {counted(notes, 'note')} above {say} what was not the same or not compared."


def _number(batch: str, row) -> str:
    place = ", ".join(filter(None, (batch, row.table, row.row, row.column)))
    return (
        f"{place}: found {row.found:.10g}, expected {row.expected:.10g}, difference "
        f"{row.difference:.3g}"
    )


def _why_not_run(pack: Path) -> str:
    """Why the pack's notebook cannot be run here; empty where it can, or where the check of the
    pack says what is wrong."""
    from candlelab.share.packed_notebook import OtherCandlelab, check_packed_notebooks

    try:
        check_packed_notebooks(pack)
    except OtherCandlelab as error:
        return str(error)
    except (OSError, ValueError):
        return ""
    return ""


def _run_packed(pack: Path) -> None:
    """Run the pack's own notebooks, once the user has said yes."""
    from candlelab.pages.run import ReportFailed
    from candlelab.share.packed_notebook import run_packed_notebooks

    say(
        "The notebook in this pack is a program of its sender. It can do on this computer whatever "
        "you can: read, send and delete your files.",
        err=True,
    )
    if not click.confirm("Run it?", default=False, err=True):
        say("Not run.", err=True)
        return
    try:
        agreements = run_packed_notebooks(pack, progress=sys.stderr.isatty())
    except (ReportFailed, OSError, ValueError) as error:
        say(f"The pack's notebook failed: {error}", err=True)
        sys.exit(FAILED)
    differ = 0
    for name, agreement in agreements.items():
        differ += len(agreement.outside) + len(agreement.words)
        for row in agreement.outside.itertuples():
            say(f"problem: packed notebook: {_number(name, row)}")
        for words in agreement.words:
            say(f"problem: packed notebook: {name}: {words}")
        say(
            f"{'note' if differ else 'fine'}: packed notebook: {name}: {len(agreement.numbers):,} "
            f"numbers compared, {len(agreement.outside)} differ."
        )
    if differ:
        sys.exit(PROBLEMS)


@click.command()
@click.argument("one", metavar="A.zip", type=PATH)
@click.argument("other", metavar="B.zip", type=PATH)
@click.option(
    "--all",
    "everything",
    is_flag=True,
    help="Print every difference, not the first 20 of each kind.",
)
@AS_JSON
def diff(one: Path, other: Path, everything: bool, as_json: bool) -> None:
    """Say in what two packs differ: recipe, settings, data, parameters, versions, numbers.

    Ends with 0 when they do not differ, 1 when they do. Nothing in the packs is run.
    """
    from candlelab.archive import UnsafePack
    from candlelab.share.diff import SECTIONS, pack_differences

    for pack in (one, other):
        _file_or_usage(pack)
    try:
        table = pack_differences(one, other)
    except UnsafePack as error:
        say(f"Not compared: {error}. See “candlelab verify”.", err=True)
        sys.exit(PROBLEMS)
    except (OSError, ValueError) as error:
        say(f"Not compared: {error}", err=True)
        sys.exit(FAILED)
    if as_json:
        tell_json({"differences": rows_of(table)})
        sys.exit(PROBLEMS if len(table) else 0)
    for section in SECTIONS:
        part = table[table["section"] == section]
        shown = part if everything else part.head(20)
        for row in shown.itertuples():
            say(f"{section}: {f'{row.batch}: ' if row.batch else ''}{row.what}")
        if len(part) > len(shown):
            say(f"{section}: ... and {len(part) - len(shown)} more; --all prints them.")
    words = counted(len(table), "difference") if len(table) else "No difference"
    say(f"{words}.", err=True)
    sys.exit(PROBLEMS if len(table) else 0)


def _file_or_usage(path: Path) -> None:
    if not path.is_file():
        raise click.UsageError(
            f"{path} is not a file. Give the zip file that “candlelab share” made."
        )

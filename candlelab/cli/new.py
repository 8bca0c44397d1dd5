"""The command new: an empty batch folder."""

from __future__ import annotations

from pathlib import Path

import click

from candlelab.cli.answers import AS_JSON, tell_json
from candlelab.cli.exits import PATH
from candlelab.cli.say import say


@click.command()
@click.argument("folder", type=PATH)
@click.option("--us", is_flag=True, help="Columns in ounces, inches and °F.")
@AS_JSON
def new(folder: Path, us: bool, as_json: bool) -> None:
    """Make an empty batch folder to log into, with a comment in each file on what goes in."""
    from candlelab.logs.blank import new_batch

    try:
        files = new_batch(folder, us=us)
    except FileExistsError as error:
        raise click.UsageError(str(error)) from error
    if as_json:
        tell_json({"folder": str(folder), "files": [file.name for file in files]})
        return
    say("Name your vessel in batch.toml, then fill the tables in. Check them with", err=True)
    say(f"  candlelab check {folder}", err=True)
    say(folder)

"""What the commands say: the answer of a page in words, or all of its record as JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from candlelab.cli.say import say

AS_JSON = click.option(
    "--json", "as_json", is_flag=True, help="Print the whole answer as JSON instead."
)


def tell(page: Path, *, as_json: bool = False, record: str = "results.json") -> None:
    """Print the answer that stands beside a page, and the place of the page.

    The words go to stderr, the place alone to stdout, so that a script can use it.
    """
    found = record_of(page, record)
    if as_json:
        tell_json({"page": str(page), **found})
        return
    for line in found["answer"]:
        say(line, err=True)
    say(page)


def record_of(page: Path, name: str = "results.json") -> dict:
    """The record beside a page."""
    return json.loads((page.parent / name).read_text(encoding="utf-8"))


def tell_json(answer: Any) -> None:
    """Print plain data as JSON."""
    say(json.dumps(answer, ensure_ascii=False, indent=1))


def rows_of(table) -> list[dict]:
    """A DataFrame as plain data, one dictionary for each row."""
    return json.loads(table.to_json(orient="records", force_ascii=False))

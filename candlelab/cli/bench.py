"""The commands bench and today: while candles burn."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path

import click

from candlelab.cli.exits import PATH
from candlelab.cli.say import say


@click.command()
@click.argument("folder", type=PATH)
@click.option("--phone", is_flag=True, help="Let a phone or tablet in the same network in, too.")
@click.option("--port", type=int, default=0, help="The port, where the first free one will not do.")
def bench(folder: Path, phone: bool, port: int) -> None:
    """Serve a page on which the burns of FOLDER are logged as they happen.

    Open the address that it prints. Each entry goes to bench.jsonl first and, when a burn is whole,
    to the tables; rows are only added, none is ever changed. The address is a key: only who has it
    gets in, from this computer alone unless --phone is given.
    """
    from candlelab.bench.server import serve

    keep = Path(click.get_app_dir("candlelab")) / "bench_addresses.json"
    serve(folder, keep=keep, phone=phone, port=port, say=say, ring=partial(say, bell=True))


@click.command()
@click.argument("folder", type=PATH)
@click.option("--json", "as_json", is_flag=True, help="Print the day as JSON.")
def today(folder: Path, as_json: bool) -> None:
    """Say what to burn next in FOLDER, what was missed, and what is over."""
    from datetime import UTC, datetime

    from candlelab.bench.today import today as day_at_the_bench
    from candlelab.bench.today import words_of

    day = day_at_the_bench(folder, datetime.now(UTC))
    if as_json:
        say(json.dumps(day.as_json(), ensure_ascii=False, indent=1))
    else:
        for line in words_of(day):
            say(line)

"""The command columns: everything that can be written down."""

from __future__ import annotations

from dataclasses import MISSING, fields
from typing import Any

import click

from candlelab.cli.answers import AS_JSON, tell_json
from candlelab.cli.say import say


@click.command()
@AS_JSON
def columns(as_json: bool) -> None:
    """List everything that can be written down: the columns of every table, and the settings of
    batch.toml and plan.toml.
    """
    from candlelab.logs.columns import TABLES, TARGETS
    from candlelab.logs.settings import SECTIONS, TOP
    from candlelab.plan.settings import OF_A_PLAN

    batch, plan = ({name: _settings(kind) for name, kind in own.items()}
                   for own in (SECTIONS, OF_A_PLAN))  # fmt: skip
    if as_json:
        tables = {table.file: [_column(c) for c in table.columns] for table in TABLES.values()}
        settings = {"batch.toml": {"": list(TOP), **batch}, "plan.toml": plan}
        tell_json({"tables": tables, **settings, "targets": list(TARGETS)})
        return
    for table in TABLES.values():
        needed = "" if table.required else "if there is any, "
        say(f"{table.file}, {needed}one row for {table.row_is}")
        for column in table.columns:
            words = column.choices and column.choices[0].isalpha()
            choices = f" ({', '.join(column.choices)})" if words else ""
            star = " *" if column.required else ""
            say(f"  {column.name}{star}: {column.meaning}{choices}")
    say(f"batch.toml\n  {', '.join(TOP)}")
    _print_sections(batch)
    say(f"  [targets] QUANTITY = {{low = ..., high = ...}}, with one of {', '.join(TARGETS)}")
    say('  [columns.TABLE] "Your own heading" = "column", or "" for one that is not read')
    say("plan.toml has the settings of batch.toml, and")
    _print_sections(plan)
    say(
        "* must be there. Another unit at the end of a name is converted: mass_before_oz, wall_f, "
        "pool_diameter_in."
    )


def _column(column) -> dict[str, Any]:
    kept = {"name": column.name, "required": column.required, "meaning": column.meaning}
    return {**kept, "choices": list(column.choices)}


def _settings(kind) -> dict[str, Any]:
    """The settings of a section, each with its default."""
    return {f.name: None if f.default is MISSING else f.default for f in fields(kind)}


def _print_sections(sections: dict[str, dict[str, Any]]) -> None:
    for name, settings in sections.items():
        say(f"  [{name}] {', '.join(map(_said, settings, settings.values()))}")


def _said(name: str, default) -> str:
    if default in (None, "", ()):
        return name
    if isinstance(default, tuple):
        default = ", ".join(default)
    return f"{name} = {default if isinstance(default, str) else f'{default:g}'}"

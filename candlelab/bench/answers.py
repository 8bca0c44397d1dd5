"""The answers of the bench as plain data; what is wrong is an answer too."""

from __future__ import annotations

import dataclasses

from candlelab.bench.desk import NOT_WRITTEN, Desk
from candlelab.bench.scale_line import Weight
from candlelab.bench.state import state_of
from candlelab.bench.table_form import CannotAdd
from candlelab.logs.journal import column_of, moment_of


def state(desk: Desk) -> dict:
    """Everything that the page shows."""
    try:
        return state_of(desk)
    except (CannotAdd, OSError) as error:
        return {"why": str(error)}


def draft(desk: Desk, data: dict) -> dict:
    """What ``candlelab check`` would say of an entry that is being typed."""
    try:
        return {"problems": desk.draft(data["entry"])}
    except (CannotAdd, OSError) as error:
        return {"why": str(error)}


def record(desk: Desk, data: dict) -> dict:
    """Write an entry down; returned when the disk has it."""
    try:
        answer = desk.record(data["entry"], moment_of(data.get("device_at")))
    except (CannotAdd, OSError) as error:
        return {"status": NOT_WRITTEN, "why": f"Not written: {error}"}
    return dataclasses.asdict(answer)


def weight(desk: Desk, name: str) -> dict:
    """One steady weight of the scale, in the unit of a column."""
    meant = column_of("burns", name)
    if meant is None or meant[1] is None:
        return {"why": "This is no column for a weight."}
    try:
        found = desk.scale().read()
    except (CannotAdd, OSError) as error:
        return {"why": str(error)}
    if isinstance(found, Weight):
        return {"weight": found.in_unit(meant[1]), "line": found.line}
    return {"why": found}

"""Holds the descriptions and the first page of a pack against what candlelab writes for its logs
and results."""

from __future__ import annotations

from candlelab.share import contents
from candlelab.share.contents import PackedBatch
from candlelab.share.origin import Origin
from candlelab.share.read import Findings, described_tables
from candlelab.share.redaction import NotesStay, emptied_cells, without_notes
from candlelab.share.shown import unlike_texts
from candlelab.text import clip, counted, listed

_DESCRIPTIONS = (
    contents.DESCRIPTOR,
    contents.CRATE,
    contents.READ_PAGE,
    contents.READ_TEXT,
    contents.PARAMETERS,
)


def check_descriptions(
    files: dict[str, bytes],
    batches: list[PackedBatch],
    parameters: dict,
    origin: Origin,
    found: Findings,
) -> None:
    """The descriptions and the first page are those that candlelab makes of these logs and
    results; an earlier version may have written them otherwise."""
    _check_parameters(batches, parameters, found)
    made = contents.pack_contents(
        batches, parameters, files[contents.REQUIREMENTS], files[contents.ENVIRONMENT]
    )
    for name in _DESCRIPTIONS:
        if files[name] == made[name]:
            continue
        if origin.earlier and name != contents.PARAMETERS:
            words = f"It is that of candlelab {origin.version}, and cannot be made again here."
            found.differs("schema", name, words)
        else:
            texts = unlike_texts(files[name], made[name]) if name.endswith(".html") else ""
            words = f"It is not what candlelab writes for these logs and results.{texts}"
            found.problem("schema", name, words)
    described = {resource["path"]: resource for resource in described_tables(files)}
    for resource in described_tables(made):
        path = resource["path"]
        if faults := _unlike_description(resource, described.get(path)):
            words = f"{contents.DESCRIPTOR} describes it otherwise: {listed(faults)}."
            found.problem("schema", path, words)
    for path in sorted(described.keys() - files.keys()):
        words = f"{contents.DESCRIPTOR} describes it, and the pack does not hold it."
        found.problem("schema", path, words)
    if not found.fails("schema"):
        words = (
            f"{counted(len(described), 'table')} as described, none with anything that must be "
            "fixed."
        )
        found.fine("schema", contents.DESCRIPTOR, words)


_KEYS = {"format", "without_notes", "batches"}
_ENTRY_KEYS = {"name", "title", "report", "emptied"}


def _check_parameters(batches: list[PackedBatch], parameters: dict, found: Findings) -> None:
    """What ``parameters.json`` says of each batch is what its logs show."""
    said = ["It says more than candlelab writes there."] if parameters.keys() != _KEYS else []
    emptied = parameters["without_notes"]
    for packed, entry in zip(batches, parameters["batches"], strict=True):
        if entry.keys() != _ENTRY_KEYS or entry["title"] != packed.batch.settings.title:
            said.append(f"{packed.name}: its title is not that of the logs, or more is said.")
        if entry["report"] not in (contents.AS_IT_WAS, contents.MADE_FOR_IT):
            said.append(f"{packed.name}: it does not say how the report was made.")
        could = emptied_cells(packed.files) if emptied else set()
        if strange := [words for words in entry["emptied"] if words not in could]:
            said.append(f"{packed.name}: not emptied in these logs: {clip(listed(strange), 200)}.")
        if emptied and (left := _notes_left(packed)):
            said.append(f"{packed.name}: it says that notes are emptied. Not so: {left}.")
    for words in said:
        found.problem("schema", contents.PARAMETERS, words)


def _notes_left(packed: PackedBatch) -> str:
    """Which notes stand in the logs of a batch, in words; empty where there are none."""
    try:
        return listed(without_notes(packed.files)[1])
    except NotesStay as error:
        return clip(error, 200)


def _unlike_description(made: dict, given: dict | None) -> list[str]:
    """In which points a table differs from its description, whatever the wording of meanings."""
    if given is None:
        return ["not at all"]
    points = [
        name
        for name in ("hash", "bytes", "rows", "encoding", "dialect")
        if made[name] != given.get(name)
    ]
    schema = given.get("schema")
    fields = schema.get("fields") if isinstance(schema, dict) else None
    keys = ("name", "type", "format", "decimalChar", "unit")
    parts = [
        [{key: field.get(key) for key in keys} for field in side if isinstance(field, dict)]
        for side in (made["schema"]["fields"], fields if isinstance(fields, list) else [])
    ]
    return points + (["columns"] if parts[0] != parts[1] else [])

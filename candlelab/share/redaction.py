"""Takes the free remarks out of a batch's files and leaves every other byte as it is."""

from __future__ import annotations

import json
import re
import tomllib

from candlelab.logs.cells import Style, style_of
from candlelab.logs.column import Table
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_table import read_table
from candlelab.logs.csv_text import Records, read_records
from candlelab.logs.journal import JOURNAL, read_entries
from candlelab.logs.problems import SETTINGS_FILE, ProblemList
from candlelab.logs.settings_reader import read_settings
from candlelab.logs.workbook import SUFFIXES
from candlelab.share.descriptions import encoding_of

NOTE_COLUMNS = {"note"}
_OF_JOURNAL = {"note", "photo"}
_TOML = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|(#[^\r\n]*)',
    re.DOTALL,
)


class NotesStay(ValueError):
    """The remarks of a file cannot be taken out without touching something else."""


def without_notes(files: dict[str, bytes]) -> tuple[dict[str, bytes], list[str]]:
    """Files of a readable batch with their remarks emptied, and what was emptied, in words.

    Emptied are the cells of every column ``note``, the cells of columns that candlelab does not
    know (a misspelt ``Notes`` is one of those), the comments of ``batch.toml``, and the notes and
    photos of the bench's journal. Raises NotesStay.
    """
    emptied, said = {}, []
    style = style_of(
        read_settings(files.get(SETTINGS_FILE, b"").decode("utf-8-sig"), ProblemList())
    )
    specs = {spec.file: spec for spec in TABLES.values()}
    for name, data in files.items():
        emptied[name] = data
        if name in specs:
            emptied[name], heads = _table_without_notes(specs[name], data, style)
            said += [f"{name}: the cells of the column {head}" for head in heads]
        elif name.lower().endswith(SUFFIXES):
            raise NotesStay(
                f"{name}: notes are not taken out of a workbook; save its sheets as CSV files and "
                "pack those"
            )
        elif name.endswith(".toml"):
            emptied[name] = _settings_without_comments(name, data)
            if emptied[name] != data:
                said.append(f"{name}: the comments")
        elif name == JOURNAL:
            emptied[name] = _journal_without_notes(data)
            if emptied[name] != data:
                said.append(f"{name}: the notes and the names of photos")
    return emptied, said


def emptied_cells(files: dict[str, bytes]) -> set[str]:
    """What may have been emptied in these files, in the words of `without_notes`."""
    said = {f"{name}: the comments" for name in files if name.endswith(".toml")}
    said |= {f"{name}: the notes and the names of photos" for name in files if name == JOURNAL}
    for spec in TABLES.values():
        records = read_records(files.get(spec.file, b""), spec.file, ProblemList())
        if records is None:
            continue
        for n, column in enumerate(records.columns):
            if not any(column.texts):
                said.add(f"{spec.file}: the cells of the column {_head(records, n)}")
    return said


def _head(records: Records, n: int) -> str:
    return records.header[n].strip() or f"number {n + 1}, which has no name"


def _journal_without_notes(data: bytes) -> bytes:
    """The bench's journal with its remarks emptied; a line that is no entry may be one."""
    lines = []
    for line in data.split(b"\n"):
        entry = next(read_entries(line + b"\n"), None)
        if entry is None:
            line = b""
        elif _OF_JOURNAL & entry.values.keys():
            kept = json.loads(line)
            kept["values"] |= dict.fromkeys(_OF_JOURNAL & entry.values.keys(), "")
            line = json.dumps(kept, ensure_ascii=False, separators=(",", ":")).encode()
        lines.append(line)
    return b"\n".join(lines)


def _table_without_notes(spec: Table, data: bytes, style: Style) -> tuple[bytes, list[str]]:
    records = read_records(data, spec.file, ProblemList())
    table = read_table(spec, data, style, ProblemList())
    if records is None or table is None:
        return data, []
    known = {match.place for match in table.found.values() if match.column.name not in NOTE_COLUMNS}
    places = {n for n, column in enumerate(records.columns) if n not in known and any(column.texts)}
    if not places:
        return data, []
    encoding, mark = encoding_of(data)
    text = data.removeprefix(mark).decode(encoding)
    new = mark + _emptied(text, records, places, spec.file).encode(encoding)
    _compare(records, read_records(new, spec.file, ProblemList()), places, spec.file)
    return new, [_head(records, n) for n in sorted(places)]


def _emptied(text: str, records: Records, places: set[int], file: str) -> str:
    """The text with the cells at ``places`` emptied in every row below the header."""
    mark = re.escape(records.delimiter)
    cell = re.compile(rf'("(?:[^"]|"")*"|[^"{mark}\r\n][^{mark}\r\n]*|)({mark}|\r\n|\r|\n|\Z)')
    parts, at, row, place = [], 0, 1, 0
    if named := re.match(r'"?sep=(.)"?[^\S\r\n]*(\r\n|\r|\n)', text):
        parts.append(named[0])
        at, row = named.end(), 2
    while at < len(text):
        found = cell.match(text, at)
        if found is None:
            raise NotesStay(
                f"{file}: its quotes are such that the notes cannot be told from the rest; take "
                "them out by hand"
            )
        parts.append(found[2] if row > records.header_row and place in places else found[0])
        place = place + 1 if found[2] == records.delimiter else 0
        row += place == 0
        at = found.end()
    return "".join(parts)


def _same_but_for(places: set[int], before: Records, after: Records) -> bool:
    """Whether the columns at ``places`` are empty now, and all others are as they were."""
    if before.header != after.header or len(before.lines) != len(after.lines):
        return False
    return all(
        new.blank().all()
        if n in places
        else [old.texts[code] for code in old.codes] == [new.texts[code] for code in new.codes]
        for n, (old, new) in enumerate(zip(before.columns, after.columns, strict=True))
    )


def _compare(before: Records, after: Records | None, places: set[int], file: str) -> None:
    """Raise NotesStay unless the two differ in the emptied cells only."""
    if after is None or not _same_but_for(places, before, after):
        raise NotesStay(
            f"{file}: the notes cannot be taken out without touching something else; take them out "
            "by hand"
        )


def _settings_without_comments(name: str, data: bytes) -> bytes:
    text = data.decode("utf-8")
    new = _TOML.sub(lambda found: "" if found[1] else found[0], text)
    if tomllib.loads(new.removeprefix("\ufeff")) != tomllib.loads(text.removeprefix("\ufeff")):
        raise NotesStay(
            f"{name}: its comments cannot be taken out without touching something else; take them "
            "out by hand"
        )
    return new.encode("utf-8")

"""Opens a pack and reads what is in it, as text only; whatever is not as it should be is found and
named."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pandas as pd

from candlelab.archive import UnsafePack, write_files
from candlelab.logs.batch import read_batch
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_text import read_records
from candlelab.logs.journal import JOURNAL
from candlelab.logs.problems import BurnLogError, ProblemList, problem_lines
from candlelab.logs.workbook import SUFFIXES
from candlelab.pages.run import OUTPUTS, RESULTS
from candlelab.share import contents
from candlelab.share.agreement import NotResults, read_record, strict_json
from candlelab.share.contents import BATCHES, REPORTS, PackedBatch
from candlelab.share.pack import read_pack
from candlelab.text import clip

PROBLEM, DIFFERS, NOTE, FINE = "problem", "differs", "note", "fine"
MOST_LISTED = 20
_COLUMNS = {"level": "str", "step": "str", "where": "str", "what": "str"}
_LOGS = {"batch.toml", JOURNAL, *(spec.file for spec in TABLES.values())}
_LINE = re.compile(r"([0-9a-f]{64}) [ *](\S.*)")


class Findings:
    """Collects what is found, step by step."""

    def __init__(self) -> None:
        self.rows: list[tuple[str, str, str, str]] = []

    def problem(self, step: str, where: str, what: str) -> None:
        """Something is wrong with the pack."""
        self._add(PROBLEM, step, where, what)

    def differs(self, step: str, where: str, what: str) -> None:
        """Something is not what is made here, as the earlier candlelab that it names may make
        it."""
        self._add(DIFFERS, step, where, what)

    def note(self, step: str, where: str, what: str) -> None:
        """Something is not the same, or not compared, and need not be wrong."""
        self._add(NOTE, step, where, what)

    def fine(self, step: str, where: str, what: str) -> None:
        """Something is as it should be."""
        self._add(FINE, step, where, what)

    def _add(self, level: str, step: str, where: str, what: str) -> None:
        self.rows.append((level, step, clip(where, 240), clip(what, 1000)))

    def fails(self, *steps: str) -> bool:
        """Whether one of these steps has a problem."""
        return any(row[0] == PROBLEM and row[1] in steps for row in self.rows)

    def table(self) -> pd.DataFrame:
        """What was found, in order."""
        return pd.DataFrame(self.rows, columns=list(_COLUMNS)).astype(_COLUMNS)


def load_pack(path: str | Path, work: Path) -> tuple[list[PackedBatch], dict, dict[str, bytes]]:
    """The batches, parameters and files of a pack whose manifest holds; ``work`` is an empty folder
    of ours.

    Raises UnsafePack, with the first reason, for a pack that is not whole or was changed, and
    OSError.
    """
    files, found = read_pack(Path(path)), Findings()
    check_manifest(files, found)
    batches, parameters = (
        read_contents(files, work, found) if not found.fails("manifest") else ([], {})
    )
    wrong = [f"{where}: {what}" for level, _, where, what in found.rows if level == PROBLEM]
    if wrong or not batches:
        raise UnsafePack("; ".join(wrong[:3]).rstrip(".") or "it holds no batch")
    return batches, parameters, files


def check_manifest(files: dict[str, bytes], found: Findings) -> None:
    """Missing, changed and added files, each by its name."""
    listed, before = {}, len(found.rows)
    try:
        text = files[contents.MANIFEST].decode("utf-8")
    except UnicodeDecodeError:
        text = ""
    for n, line in enumerate(text.splitlines(), start=1):
        match = _LINE.fullmatch(line)
        if match is None or match[2] in listed:
            found.problem(
                "manifest",
                contents.MANIFEST,
                f"Line {n} is not a SHA-256 and the name of a file, or names one twice.",
            )
        else:
            listed[match[2]] = match[1]
    if not listed:
        found.problem("manifest", contents.MANIFEST, "It lists no file.")
    for name, digest in sorted(listed.items()):
        if name not in files:
            found.problem(
                "manifest", name, "Missing: the manifest lists it, and the pack does not hold it."
            )
        elif hashlib.sha256(files[name]).hexdigest() != digest:
            found.problem(
                "manifest",
                name,
                f"Changed: its SHA-256 is not that of the manifest.{_rows_lost(files, name)}",
            )
    for name in sorted(files.keys() - listed.keys() - {contents.MANIFEST}):
        found.problem("manifest", name, "Added: the manifest does not list it.")
    if len(found.rows) == before:
        found.fine(
            "manifest", contents.MANIFEST, f"{len(listed)} files, none missing, changed or added."
        )


def _rows_lost(files: dict[str, bytes], name: str) -> str:
    """How many rows a changed table has against its description, where that can be told."""
    described = {resource["path"]: resource for resource in described_tables(files)}
    then = described.get(name, {}).get("rows")
    if not (name.endswith(".csv") and isinstance(then, int)):
        return ""
    records = read_records(files[name], name, ProblemList())
    if records is None or len(records.lines) == then:
        return ""
    return f" It has {len(records.lines):,} rows where {contents.DESCRIPTOR} says {then:,}."


def _is_book(path: str, own: str) -> bool:
    """Whether a file is a workbook that lies in the folder of a batch itself."""
    inside = path.startswith(own) and "/" not in path.removeprefix(own)
    return inside and path.lower().endswith(SUFFIXES)


def described_tables(files: dict[str, bytes]) -> list[dict]:
    """The tables that ``datapackage.json`` describes; none where it cannot be read."""
    package = json_of(files.get(contents.DESCRIPTOR, b""))
    resources = package.get("resources") if isinstance(package, dict) else None
    if not isinstance(resources, list):
        return []
    return [r for r in resources if isinstance(r, dict) and isinstance(r.get("path"), str)]


def json_of(data: bytes):
    """What JSON text holds; None for what is no JSON text, or names a key twice."""
    try:
        return strict_json(data)
    except (ValueError, RecursionError):
        return None


def read_contents(
    files: dict[str, bytes], work: Path, found: Findings
) -> tuple[list[PackedBatch], dict]:
    """The batches of a pack, read; none when one of them cannot be. What no pack holds is a
    problem."""
    parameters = json_of(files.get(contents.PARAMETERS, b""))
    entries = batch_names(parameters)
    if entries is None:
        found.problem(
            "contents",
            contents.PARAMETERS,
            f"It is missing or is not what “{contents.FORMAT}” holds.",
        )
        return [], {}
    known = {contents.MANIFEST, *contents.MADE}
    for name in entries:
        own = f"{BATCHES}/{name}/"
        known |= {own + log for log in _LOGS}
        known |= {path for path in files if _is_book(path, own)}
        known |= {f"{REPORTS}/{name}/{output}" for output in OUTPUTS}
    for name in sorted(files.keys() - known):
        found.problem("contents", name, "A file that no pack of candlelab holds.")
    for name in sorted(known - files.keys()):
        if not name.startswith(f"{BATCHES}/"):
            found.problem("contents", name, "Missing: every pack holds it.")
    read = [_read_one(files, name, work, found) for name in entries]
    batches = [one for one in read if one is not None]
    if found.fails("contents") or not batches or len(batches) < len(read):
        found.note("numbers", "", "Not worked out again, since the pack is not whole.")
        return [], {}
    return batches, parameters


def batch_names(parameters) -> list[str] | None:
    """Names of the batches that ``parameters.json`` lists; None when it has another form."""
    if (
        not isinstance(parameters, dict)
        or parameters.get("format") != contents.FORMAT
        or not isinstance(parameters.get("without_notes"), bool)
    ):
        return None
    entries = parameters.get("batches")
    if not isinstance(entries, list) or not entries:
        return None
    for entry in entries:
        if not isinstance(entry, dict) or not all(
            isinstance(entry.get(key), str) and entry[key] for key in ("name", "report")
        ):
            return None
        if (
            "/" in entry["name"]
            or not isinstance(entry.get("emptied"), list)
            or not all(isinstance(words, str) for words in entry["emptied"])
        ):
            return None
    try:
        contents.json_bytes(parameters)
    except ValueError:  # half a character, or a number that is none
        return None
    names = [entry["name"] for entry in entries]
    return names if len(set(names)) == len(names) else None


def _files_in(files: dict[str, bytes], folder: str, names) -> dict[str, bytes]:
    """Those of these files that the pack holds in a folder, by their names there."""
    return {name: files[f"{folder}/{name}"] for name in names if f"{folder}/{name}" in files}


def _read_one(
    files: dict[str, bytes], name: str, work: Path, found: Findings
) -> PackedBatch | None:
    own = f"{BATCHES}/{name}/"
    books = {path.removeprefix(own) for path in files if _is_book(path, own)}
    logs = _files_in(files, f"{BATCHES}/{name}", sorted(_LOGS | books))
    report = _files_in(files, f"{REPORTS}/{name}", OUTPUTS)
    try:
        record = read_record(report.get(RESULTS, b""))
    except NotResults as error:
        found.problem("contents", f"{REPORTS}/{name}/{RESULTS}", f"Not read: {error}.")
        return None
    if not logs:
        found.problem(
            "contents", f"{BATCHES}/{name}", "Missing: the pack holds no log of this batch."
        )
        return None
    folder = work / "logs" / name
    try:
        write_files(folder, logs)
        batch = read_batch(folder)
    except BurnLogError as error:
        for line in problem_lines(error.problems, MOST_LISTED):
            found.problem("schema", f"{BATCHES}/{name}", line)
        return None
    read = {file: logs[file] for file in sorted(batch.files["file"])}
    then = {entry["file"]: entry["sha256"] for entry in record["inputs"]}
    now = dict(zip(batch.files["file"], batch.files["sha256"], strict=True))
    for file in sorted(then.keys() | now.keys()):
        if then.get(file) == now.get(file):
            continue
        why = f"it is only in the {'results' if file in then else 'logs'}."
        if file in then and file in now:
            why = "its SHA-256 is another."
        words = f"Not the file that {RESULTS} was made from: {why}"
        found.problem("schema", f"{BATCHES}/{name}/{file}", words)
    return PackedBatch(name, read, batch, report, record)

"""Opens a pack and reads what is in it, as text only; whatever is not as it should be is found and
named."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import pandas as pd

from candlelab.glossary import TABLES
from candlelab.logs.batch import read_batch
from candlelab.logs.csv_text import read_records
from candlelab.logs.problems import BurnLogError, ProblemList, problem_lines
from candlelab.pages.run import OUTPUTS, RESULTS
from candlelab.share import contents
from candlelab.share.agreement import NotResults, read_record
from candlelab.share.archive import UnsafePack, write_files
from candlelab.share.contents import BATCHES, REPORTS, PackedBatch
from candlelab.share.pack import read_pack
from candlelab.text import clip

PROBLEM, NOTE, FINE = "problem", "note", "fine"
MOST_LISTED = 20
_COLUMNS = {"level": "str", "step": "str", "where": "str", "what": "str"}
_LOGS = {"batch.toml", *(spec.file for spec in TABLES.values())}
_LINE = re.compile(r"([0-9a-f]{64}) [ *](\S.*)")


class Findings:
    """Collects what is found, step by step."""

    def __init__(self) -> None:
        self.rows: list[tuple[str, str, str, str]] = []

    def add(self, level: str, step: str, where: str, what: str) -> None:
        self.rows.append((level, step, clip(where, 240), clip(what, 1000)))

    def fails(self, *steps: str) -> bool:
        return any(row[0] == PROBLEM and row[1] in steps for row in self.rows)

    def table(self) -> pd.DataFrame:
        return pd.DataFrame(self.rows, columns=list(_COLUMNS)).astype(_COLUMNS)


def load_pack(path: str | Path, work: Path) -> tuple[list[PackedBatch], dict, dict[str, bytes]]:
    """The batches, parameters and files of a pack whose manifest holds; ``work`` is an empty
    folder of ours.

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
            found.add(
                PROBLEM,
                "manifest",
                contents.MANIFEST,
                f"Line {n} is not a SHA-256 and the name of a file, or names one twice.",
            )
        else:
            listed[match[2]] = match[1]
    if not listed:
        found.add(PROBLEM, "manifest", contents.MANIFEST, "It lists no file.")
    for name, digest in sorted(listed.items()):
        if name not in files:
            found.add(
                PROBLEM,
                "manifest",
                name,
                "Missing: the manifest lists it, and the pack does not hold it.",
            )
        elif hashlib.sha256(files[name]).hexdigest() != digest:
            found.add(
                PROBLEM,
                "manifest",
                name,
                f"Changed: its SHA-256 is not that of the manifest.{_rows_lost(files, name)}",
            )
    for name in sorted(files.keys() - listed.keys() - {contents.MANIFEST}):
        found.add(PROBLEM, "manifest", name, "Added: the manifest does not list it.")
    if len(found.rows) == before:
        found.add(
            FINE,
            "manifest",
            contents.MANIFEST,
            f"{len(listed)} files, none missing, changed or added.",
        )


def _rows_lost(files: dict[str, bytes], name: str) -> str:
    """How many rows a changed table has against its description, where that can be told."""
    described = {resource["path"]: resource for resource in described_tables(files)}
    then = described.get(name, {}).get("rows")
    records = (
        read_records(files[name], name, ProblemList())
        if name.endswith(".csv") and isinstance(then, int)
        else None
    )
    if records is None or len(records.lines) == then:
        return ""
    return f" It has {len(records.lines):,} rows where {contents.DESCRIPTOR} says {then:,}."


def described_tables(files: dict[str, bytes]) -> list[dict]:
    """The tables that ``datapackage.json`` describes; none where it cannot be read."""
    package = json_of(files.get(contents.DESCRIPTOR, b""))
    resources = package.get("resources") if isinstance(package, dict) else None
    return (
        [r for r in resources if isinstance(r, dict) and isinstance(r.get("path"), str)]
        if isinstance(resources, list)
        else []
    )


def json_of(data: bytes):
    try:
        return json.loads(data.decode("utf-8"))
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
        found.add(
            PROBLEM,
            "contents",
            contents.PARAMETERS,
            f"It is missing or is not what “{contents.FORMAT}” holds.",
        )
        return [], {}
    known = {contents.MANIFEST, *contents.MADE}
    for name in entries:
        known |= {f"{BATCHES}/{name}/{log}" for log in _LOGS} | {
            f"{REPORTS}/{name}/{output}" for output in OUTPUTS
        }
    for name in sorted(files.keys() - known):
        found.add(PROBLEM, "contents", name, "A file that no pack of candlelab holds.")
    for name in sorted(known - files.keys()):
        if not name.startswith(f"{BATCHES}/"):
            found.add(PROBLEM, "contents", name, "Missing: every pack holds it.")
    batches = [_read_one(files, name, work, found) for name in entries]
    if found.fails("contents") or not batches or None in batches:
        found.add(NOTE, "numbers", "", "Not worked out again, since the pack is not whole.")
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


def _read_one(
    files: dict[str, bytes], name: str, work: Path, found: Findings
) -> PackedBatch | None:
    logs = {
        log: files[f"{BATCHES}/{name}/{log}"]
        for log in sorted(_LOGS)
        if f"{BATCHES}/{name}/{log}" in files
    }
    report = {
        output: files[f"{REPORTS}/{name}/{output}"]
        for output in OUTPUTS
        if f"{REPORTS}/{name}/{output}" in files
    }
    try:
        record = read_record(report.get(RESULTS, b""))
    except NotResults as error:
        found.add(PROBLEM, "contents", f"{REPORTS}/{name}/{RESULTS}", f"Not read: {error}.")
        return None
    if not logs:
        found.add(
            PROBLEM,
            "contents",
            f"{BATCHES}/{name}",
            "Missing: the pack holds no log of this batch.",
        )
        return None
    folder = work / "logs" / name
    try:
        write_files(folder, logs)
        batch = read_batch(folder)
    except BurnLogError as error:
        for line in problem_lines(error.problems, MOST_LISTED):
            found.add(PROBLEM, "schema", f"{BATCHES}/{name}", line)
        return None
    read = {file: logs[file] for file in batch.files["file"]}
    then = {entry["file"]: entry["sha256"] for entry in record["inputs"]}
    now = dict(zip(batch.files["file"], batch.files["sha256"]))
    for file in sorted(then.keys() | now.keys()):
        if then.get(file) != now.get(file):
            found.add(
                PROBLEM,
                "schema",
                f"{BATCHES}/{name}/{file}",
                f"Not the file that {RESULTS} was made from: "
                + (
                    "its SHA-256 is another."
                    if file in then and file in now
                    else f"it is only in the {'results' if file in then else 'logs'}."
                ),
            )
    return PackedBatch(name, read, batch, report, record)

"""What a pack holds beside logs and reports: the page for whoever opens it first, the descriptions,
the manifest.

All of it follows from the logs, the results and the parameters; the same in, the same bytes out.
"""

from __future__ import annotations

import csv
import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import jinja2

from candlelab.logs.batch import Batch
from candlelab.logs.csv_rows import decode
from candlelab.logs.problems import ProblemList
from candlelab.logs.writer import may_run_as_formula, runs_as_formula
from candlelab.pages.run import NOTEBOOK, OUTPUTS, PAGE, RESULTS
from candlelab.share.agreement import ABSOLUTE, RELATIVE
from candlelab.share.descriptions import (
    Run,
    crate_metadata,
    data_package,
    describe_batch,
    first_and_last_day,
)
from candlelab.text import clip, listed

FORMAT = "candlelab pack 1"
BATCHES, REPORTS = "batches", "reports"
MANIFEST, PARAMETERS = "manifest-sha256.txt", "parameters.json"
DESCRIPTOR, CRATE = "datapackage.json", "ro-crate-metadata.json"
REQUIREMENTS, ENVIRONMENT = "environment/requirements.txt", "environment/environment.json"
READ_PAGE, READ_TEXT = "READ-ME-FIRST.html", "READ-ME-FIRST.txt"
AS_IT_WAS, MADE_FOR_IT = "as it was", "made for this pack"  # what a pack says of a report
MADE = (READ_PAGE, READ_TEXT, DESCRIPTOR, CRATE, PARAMETERS, REQUIREMENTS, ENVIRONMENT)
_WORDS = {
    READ_PAGE: "Read this first, as a page",
    READ_TEXT: "Read this first, as text",
    DESCRIPTOR: "Description of the tables (Data Package)",
    PARAMETERS: "What was packed, and how",
    REQUIREMENTS: "Packages at their exact versions",
    ENVIRONMENT: "Python and packages behind the reports",
    MANIFEST: "SHA-256 of every other file",
}
_OF_REPORT = {
    PAGE: "the report",
    NOTEBOOK: "the notebook behind the report",
    RESULTS: "every number of the report",
}


@dataclass(frozen=True, eq=False)
class PackedBatch:
    """One batch of a pack: its name there, its files, read, its report's files and their record."""

    name: str
    files: dict[str, bytes]
    batch: Batch
    report: dict[str, bytes]
    record: dict

    @property
    def paths(self) -> dict[str, bytes]:
        """Every file of this batch by its name in the pack."""
        logs = {f"{BATCHES}/{self.name}/{name}": data for name, data in self.files.items()}
        return logs | {f"{REPORTS}/{self.name}/{name}": data for name, data in self.report.items()}

    @property
    def version(self) -> str:
        """Version of candlelab that made the report."""
        return str(self.record["versions"].get("candlelab", "unknown"))


def json_bytes(data) -> bytes:
    """Data as JSON text, one key or item a line."""
    return (json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def pack_contents(
    batches: list[PackedBatch], parameters: dict, requirements: bytes, environment: bytes
) -> dict[str, bytes]:
    """Every file of a pack by its name. ``parameters`` is what ``parameters.json`` holds."""
    made = {
        PARAMETERS: json_bytes(parameters),
        REQUIREMENTS: requirements,
        ENVIRONMENT: environment,
    }
    made[DESCRIPTOR] = json_bytes(_descriptor(batches))
    title, parts = _first_words(batches, parameters, b"--hash=" in requirements)
    made[READ_PAGE] = _page(title, parts).encode("utf-8")
    made[READ_TEXT] = _text(title, parts).encode("utf-8")
    names = dict(_WORDS)
    for packed in batches:
        for path in packed.paths:
            last = path.rpartition("/")[2]
            names[path] = f"{packed.name}: {_OF_REPORT.get(last, f'burn log, {last}')}"
    made[CRATE] = json_bytes(_crate(batches, title, names))
    for packed in batches:
        made |= packed.paths
    return {**made, MANIFEST: manifest(made)}


def manifest(files: dict[str, bytes]) -> bytes:
    """``manifest-sha256.txt``, as ``sha256sum -c`` reads it."""
    lines = [f"{hashlib.sha256(files[name]).hexdigest()}  {name}\n" for name in sorted(files)]
    return "".join(lines).encode("utf-8")


def _descriptor(batches: list[PackedBatch]) -> dict:
    resources = []
    for n, packed in enumerate(batches, start=1):
        prefix = f"{BATCHES}/{packed.name}/"
        name = packed.name if len(batches) == 1 else f"{n}-{packed.name}"
        resources += describe_batch(packed.batch, packed.files, prefix=prefix, name=name)
    titles = "; ".join(packed.batch.settings.title for packed in batches)
    return data_package(
        "-and-".join(packed.name for packed in batches),
        titles,
        "Burn logs of test candles.",
        resources,
    )


def _crate(batches: list[PackedBatch], title: str, names: dict[str, str]) -> dict:
    runs = []
    for packed in batches:
        logs, report = f"{BATCHES}/{packed.name}", f"{REPORTS}/{packed.name}"
        runs.append(
            Run(
                name=packed.name,
                title=packed.batch.settings.title,
                studio=packed.batch.settings.studio,
                inputs=tuple(f"{logs}/{name}" for name in packed.files),
                notebook=f"{report}/{NOTEBOOK}",
                outputs=tuple(f"{report}/{name}" for name in OUTPUTS),
                parameters=(("batch_folder", f"../../{logs}"),),
                version=packed.version,
            )
        )
    first, last = first_and_last_day([packed.batch for packed in batches])
    return crate_metadata(
        title,
        f"Burn logs from {first} to {last}, the reports on them, and what is needed to check both.",
        last,
        runs,
        names,
    )


def formula_cells(files: dict[str, bytes]) -> list[str]:
    """Cells of the tables that a spreadsheet program may take for a formula, as ``burns.csv, row
    3``, at most one a row."""
    found = []
    for name, data in files.items():
        text = decode(data, name, ProblemList()) if name.endswith(".csv") else None
        if text is None or not may_run_as_formula(text):
            continue
        text = text.replace("\r\n", "\n").replace("\r", "\n")
        mark = max(",;\t", key=text.partition("\n")[0].count)
        try:
            lines = (line[0] for line in re.finditer(r"[^\n]*\n|[^\n]+", text))
            rows = _with_formulas(csv.reader(lines, delimiter=mark))
        except csv.Error:
            rows = _with_formulas(line.split(mark) for line in text.split("\n"))
        found += [f"{name}, row {n}" for n in rows]
    return found


def _with_formulas(rows: Iterable[list[str]]) -> list[int]:
    return [n for n, row in enumerate(rows, start=1) if any(map(runs_as_formula, row))]


def _first_words(
    batches: list[PackedBatch], parameters: dict, hashed: bool
) -> tuple[str, list[dict]]:
    named = dict.fromkeys(packed.batch.settings.studio for packed in batches)
    studios = [studio for studio in named if studio]
    title = f"Burn tests of {listed(studios)}" if studios else "Burn tests"
    what, each = ("one batch", "it") if len(batches) == 1 else (f"{len(batches)} batches", "each")
    parts: list[dict] = [
        {
            "head": "What this is",
            "lines": [
                f"The burn logs of {what} of test candles, the report on {each}, and all that is "
                "needed to check that nothing was changed and to work every number out again. To "
                "read it, unpack the zip file first.",
                "A report opens in any browser. Nothing is installed, and nothing is loaded from "
                "the network. Its first page stands alone: the decision, and a picture of how near "
                "each wick came to its limits. “Safe so far” means that nothing failed on these "
                "candles. A few candles are not proof.",
            ],
        }
    ]
    for packed in batches:
        settings = packed.batch.settings
        lines = [settings.question, *packed.record["answer"]]
        parts.append(
            {
                "head": settings.title,
                "lines": [line for line in lines if line],
                "link": f"{REPORTS}/{packed.name}/{PAGE}",
            }
        )
    emptied = parameters["without_notes"]
    state = "with the notes emptied" if emptied else "as the studio wrote them"
    parts.append(
        {
            "head": "What is where",
            "points": [
                f"{BATCHES}: the logs, {state}",
                f"{REPORTS}: {PAGE} is the report, {RESULTS} every number in it, {NOTEBOOK} the "
                "program that made it",
                f"{DESCRIPTOR}: every column with its unit and meaning, for other programs",
                f"{CRATE}: what was made from what, for archives",
                "environment: the programs behind the numbers, at their exact versions",
                f"{MANIFEST}: a fingerprint (SHA-256) of every file",
            ],
        }
    )
    parts.append(_left_out(parameters))
    parts.append(_checking(batches, hashed))
    parts.append(_cautions(batches))
    return title, parts


def _left_out(parameters: dict) -> dict:
    points = [
        "Names of users, of computers and of folders (but for the batch's own), and the hours at "
        "which the reports were made.",
        "Files of the batch's folder that candlelab does not read.",
    ]
    emptied = [
        f"{entry['name']}: {words}" for entry in parameters["batches"] for words in entry["emptied"]
    ]
    if parameters["without_notes"]:
        points.append(
            "The notes. The logs here are copies; every other byte is as it was, and the SHA-256 "
            "values are those of the copies. Emptied: "
            f"{'; '.join(emptied) or 'nothing, there were none'}."
        )
        points.append(
            "What stays, since the numbers need it: the reasons for wick changes and for what was "
            "set aside, and the names of candles."
        )
    else:
        points.append("Nothing of the logs: notes and remarks are in them as they were written.")
    return {"head": "What is not in it", "points": points}


def _checking(batches: list[PackedBatch], hashed: bool) -> dict:
    versions = listed(dict.fromkeys(packed.version for packed in batches))
    hashes = (
        "with the SHA-256 of their files"
        if hashed
        else "without the hashes of their files, which were not known where this was packed"
    )
    return {
        "head": "How to check it",
        "lines": [
            "Without any program of ours: unpack it, and in its folder type “sha256sum -c "
            f"{MANIFEST}” (Linux), “shasum -a 256 -c {MANIFEST}” (macOS), or in Windows PowerShell "
            "“Get-FileHash FILE” for a file and compare.",
            "That finds accidents. Whoever changes a file on purpose can write a new list as well: "
            "ask the sender separately, by phone say, for the SHA-256 of "
            "the zip file.",
            f"With candlelab (these reports were made with version {versions}): “candlelab verify "
            f"FILE.zip” works every number out again from the logs and compares it with {RESULTS}. "
            f"A number agrees within {RELATIVE:g} of its size, or {ABSOLUTE:g} where it is small. "
            "Nothing in this pack is run for that.",
            f"The same versions of all other packages: “pip install -r {REQUIREMENTS}”; the list "
            f"names them {hashes}.",
        ],
    }


def _cautions(batches: list[PackedBatch]) -> dict:
    cells = [f"{packed.name}/{cell}" for packed in batches for cell in formula_cells(packed.files)]
    risk = "No cell of the tables begins like a formula of a spreadsheet program."
    if cells:
        risk = (
            "A spreadsheet program may take cells in these places for formulas: "
            f"{listed(map(clip, cells), 11)}. Open the tables as text."
        )
    return {
        "head": "Take care",
        "points": [
            f"{NOTEBOOK} is a program. Running somebody's notebook is running their code, with all "
            "that you may do on your computer; read it without running it, or let “candlelab "
            "verify” work with its own copy.",
            risk,
            "The numbers are screening evidence. A certificate takes the purchased standard and an "
            "accredited laboratory.",
        ],
    }


@lru_cache
def _template() -> jinja2.Template:
    loader = jinja2.PackageLoader("candlelab", "pages/templates")
    templates = jinja2.Environment(loader=loader, autoescape=True, keep_trailing_newline=True)
    return templates.get_template("read_first.html.j2")


def _page(title: str, parts: list[dict]) -> str:
    return _template().render(title=title, parts=parts)


def _text(title: str, parts: list[dict]) -> str:
    blocks = [f"{clip(title, 300)}\n{'=' * min(len(title), 78)}"]
    for part in parts:
        blocks.append(f"{clip(part['head'], 300)}\n{'-' * min(len(part['head']), 78)}")
        blocks += [clip(line, 3000) for line in part.get("lines", [])]
        if part.get("link"):
            blocks.append(f"The report: {part['link']}")
        if part.get("points"):
            blocks.append("\n".join(f"- {clip(point, 3000)}" for point in part["points"]))
    return "\n\n".join(blocks) + "\n"

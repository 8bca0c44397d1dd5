"""Checks a pack: nothing changed, nothing added, tables as described, and every number the same
when worked out again.

Nothing that came in the pack is run: its notebooks are read as text, its numbers are worked out
again by
candlelab's own notebook from the logs. ``run_packed_notebooks`` is a step of its own, for whoever
trusts the sender.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from candlelab.pages.record import versions as versions_here
from candlelab.pages.run import NOTEBOOK, OUTPUTS, PAGE, RESULTS, record_of, run_notebook
from candlelab.report.make import make_report
from candlelab.share import contents
from candlelab.share.agreement import Agreement, compare_records, read_record
from candlelab.share.archive import UnsafePack, sha256_of, write_files, written_by_us
from candlelab.share.contents import BATCHES, REPORTS, PackedBatch
from candlelab.share.environment import (
    candlelab_version,
    code_digest,
    installed,
    not_pinned,
    pinned_versions,
)
from candlelab.share.pack import read_pack
from candlelab.share.read import (
    FINE,
    MOST_LISTED,
    NOTE,
    PROBLEM,
    Findings,
    batch_names,
    check_manifest,
    described_tables,
    json_of,
    read_contents,
)
from candlelab.text import clip

STEPS = ("file", "manifest", "contents", "schema", "versions", "numbers", "page")
_PICTURE = re.compile(rb"data:image/png;base64,[A-Za-z0-9+/=]*")


@dataclass(frozen=True, eq=False)
class Verification:
    """What a check of a pack found: ``findings`` (level, step, where, what), and ``numbers`` by
    batch.

    ``sha256`` is that of the whole file, None when it was not read.
    """

    findings: pd.DataFrame
    numbers: dict[str, pd.DataFrame]
    sha256: str | None

    @property
    def passed(self) -> bool:
        """Whether nothing was found that is a problem."""
        return not (self.findings["level"] == PROBLEM).any()


def verify_pack(path: str | Path, *, progress: bool = False) -> Verification:
    """Check a pack; see STEPS. A step whose ground is not sure is not taken, and that is said.

    Raises OSError when the file cannot be opened and ReportFailed when candlelab's own notebook
    fails.
    """
    path, found = Path(path), Findings()
    try:
        files = read_pack(path)
    except UnsafePack as error:
        found.add(PROBLEM, "file", path.name, f"Not opened: {error}.")
        return Verification(found.table(), {}, None)
    digest = sha256_of(path)
    if written_by_us(path, files):
        found.add(FINE, "file", path.name, f"SHA-256 {digest}.")
    else:
        found.add(
            NOTE,
            "file",
            path.name,
            "The zip file is not byte for byte as candlelab writes it here: it was zipped again, "
            "changed outside its "
            "contents, or written with another zip library. Its contents are judged below. "
            f"SHA-256 {digest}.",
        )
    check_manifest(files, found)
    numbers = {}
    with tempfile.TemporaryDirectory(prefix="candlelab-verify-") as work:
        batches, parameters = read_contents(files, Path(work).resolve(), found)
        if batches:
            same = _check_versions(files, batches, found)
            _check_descriptions(files, batches, parameters, same, found)
            if found.fails("manifest"):
                found.add(
                    NOTE,
                    "numbers",
                    "",
                    "Not worked out again, since files are not what the manifest says.",
                )
            else:
                for packed in batches:
                    numbers[packed.name] = _work_out_again(
                        packed, Path(work).resolve(), same, progress, found
                    )
    return Verification(found.table(), numbers, digest)


def _check_versions(files: dict[str, bytes], batches: list[PackedBatch], found: Findings) -> bool:
    """Whether the pack was made by this candlelab, unchanged, with these packages; what differs is
    noted."""
    own, same = candlelab_version(), True
    for packed in batches:
        if packed.version != own:
            same = False
            found.add(
                NOTE,
                "versions",
                packed.name,
                f"Another version: reported with candlelab {packed.version}, checked with {own}.",
            )
        then, now = packed.record["versions"], versions_here()
        changed = [
            f"{name} {then.get(name, 'none')} ({now.get(name, 'none')} here)"
            for name in then | now
            if then.get(name) != now.get(name) and name != "candlelab"
        ]
        if changed:
            same = False
            found.add(
                NOTE,
                "versions",
                packed.name,
                f"Reported with other versions: {', '.join(changed)}.",
            )
    for n, line in enumerate(not_pinned(files[contents.REQUIREMENTS]), start=1):
        if n <= MOST_LISTED:
            found.add(
                PROBLEM,
                "versions",
                contents.REQUIREMENTS,
                f"“{clip(line)}” is not a package at an exact version. Do not install from this "
                "list.",
            )
    environment = json_of(files[contents.ENVIRONMENT])
    packages = environment.get("packages") if isinstance(environment, dict) else None
    listed = pinned_versions(files[contents.REQUIREMENTS].decode("utf-8", "replace"))
    if not isinstance(packages, dict) or packages != listed:
        found.add(
            PROBLEM,
            "versions",
            contents.ENVIRONMENT,
            f"It does not name the packages of {contents.REQUIREMENTS}.",
        )
        return False
    if same and environment.get("candlelab_code_sha256") != code_digest():
        same = False
        found.add(
            NOTE,
            "versions",
            "candlelab",
            f"Another code under the same version {own}: one of the two was changed after its "
            "release.",
        )
    here = installed()
    if strange := [name for name in listed if name not in here]:
        same = False
        found.add(
            NOTE,
            "versions",
            contents.REQUIREMENTS,
            f"Packages that candlelab does not need here: {', '.join(strange[:MOST_LISTED])}.",
        )
    other = [
        f"{name} {listed[name]} ({here.get(name, 'none')} here)"
        for name in listed
        if here.get(name, listed[name]) != listed[name]
    ]
    if other:
        same = False
        more = f" and {len(other) - MOST_LISTED} more" if len(other) > MOST_LISTED else ""
        found.add(
            NOTE,
            "versions",
            contents.REQUIREMENTS,
            f"Other versions: {', '.join(other[:MOST_LISTED])}{more}.",
        )
    if same:
        found.add(
            FINE,
            "versions",
            "candlelab",
            f"candlelab {own} and {len(listed)} packages, the same here.",
        )
    return same


def _check_descriptions(
    files: dict[str, bytes],
    batches: list[PackedBatch],
    parameters: dict,
    same: bool,
    found: Findings,
) -> None:
    """The descriptions and the first page are those that candlelab makes of these logs and
    results."""
    made = contents.pack_contents(
        batches, parameters, files[contents.REQUIREMENTS], files[contents.ENVIRONMENT]
    )
    unlike = [
        name
        for name in (
            contents.DESCRIPTOR,
            contents.CRATE,
            contents.READ_PAGE,
            contents.READ_TEXT,
            contents.PARAMETERS,
        )
        if files[name] != made[name]
    ]
    for name in unlike:
        if same:
            found.add(
                PROBLEM,
                "schema",
                name,
                "It is not what candlelab writes for these logs and results.",
            )
        else:
            found.add(
                NOTE,
                "schema",
                name,
                "It is not what candlelab writes here, which may be due to the other version. "
                "Trust the logs and the numbers.",
            )
    described = {resource["path"]: resource for resource in described_tables(files)}
    for path, resource in {r["path"]: r for r in described_tables(made)}.items():
        if faults := _unlike_description(resource, described.get(path)):
            found.add(
                PROBLEM,
                "schema",
                path,
                f"{contents.DESCRIPTOR} describes it otherwise: {', '.join(faults)}.",
            )
    for path in sorted(described.keys() - files.keys()):
        found.add(
            PROBLEM,
            "schema",
            path,
            f"{contents.DESCRIPTOR} describes it, and the pack does not hold it.",
        )
    if not found.fails("schema"):
        found.add(
            FINE,
            "schema",
            contents.DESCRIPTOR,
            f"{len(described)} tables as described, none with anything that must be fixed.",
        )


def _unlike_description(made: dict, given: dict | None) -> list[str]:
    """In which points a table differs from its description, whatever the wording of meanings."""
    if given is None:
        return ["not at all"]
    points = [
        name
        for name in ("hash", "bytes", "rows", "encoding", "dialect")
        if made[name] != given.get(name)
    ]
    schema = given.get("schema") if isinstance(given.get("schema"), dict) else {}
    fields = schema.get("fields") if isinstance(schema.get("fields"), list) else []
    keys = ("name", "type", "format", "decimalChar", "unit")
    parts = [
        [{key: field.get(key) for key in keys} for field in side if isinstance(field, dict)]
        for side in (made["schema"]["fields"], fields)
    ]
    return points + (["columns"] if parts[0] != parts[1] else [])


def _work_out_again(
    packed: PackedBatch, work: Path, same: bool, progress: bool, found: Findings
) -> pd.DataFrame:
    """Report on the logs of a batch with candlelab's own notebook, and compare."""
    copy, report = work / BATCHES / packed.name, work / REPORTS / packed.name
    write_files(copy, packed.files)
    make_report(copy, report, progress=progress)
    made = {name: (report / name).read_bytes() for name in OUTPUTS}
    agreement = compare_records(packed.record, read_record(made[RESULTS]))
    _tell_numbers(packed, agreement, same, found)
    _check_page(packed, made, same, found)
    return agreement.numbers


def _tell_numbers(packed: PackedBatch, agreement: Agreement, same: bool, found: Findings) -> None:
    where, outside = f"{REPORTS}/{packed.name}/{RESULTS}", agreement.outside
    for row in outside.head(MOST_LISTED).itertuples():
        place = ", ".join(filter(None, (row.table, row.row, row.column)))
        found.add(
            PROBLEM,
            "numbers",
            where,
            f"{place}: found {_said(row.found)}, expected {_said(row.expected)}, difference "
            f"{_said(row.difference)}.",
        )
    if len(outside) > MOST_LISTED:
        found.add(
            PROBLEM,
            "numbers",
            where,
            f"... and {len(outside) - MOST_LISTED} more numbers that differ.",
        )
    for words in agreement.words[:MOST_LISTED]:
        found.add(PROBLEM if same or len(outside) else NOTE, "numbers", where, words)
    if len(agreement.words) > MOST_LISTED:
        found.add(
            PROBLEM if same or len(outside) else NOTE,
            "numbers",
            where,
            f"... and {len(agreement.words) - MOST_LISTED} more that is not a number.",
        )
    if not same and len(outside):
        found.add(
            NOTE,
            "numbers",
            where,
            "The versions differ (see above): check again with the pack's own before you judge.",
        )
    if not len(outside):
        largest = agreement.numbers["difference"].abs().max() if len(agreement.numbers) else 0.0
        found.add(
            FINE,
            "numbers",
            where,
            f"{len(agreement.numbers):,} numbers worked out again, all the same; largest "
            f"difference {largest:.3g}.",
        )


def _said(value: float) -> str:
    return "none" if pd.isna(value) else f"{value:.10g}"


def _check_page(packed: PackedBatch, made: dict[str, bytes], same: bool, found: Findings) -> None:
    """Page and notebook show what candlelab shows, pictures aside."""
    sides = [
        {PAGE: _PICTURE.sub(b"", files[PAGE]), NOTEBOOK: _book(files[NOTEBOOK])}
        for files in (packed.report, made)
    ]
    for name, words in ((PAGE, "The page"), (NOTEBOOK, "The notebook")):
        if sides[0][name] == sides[1][name]:
            continue
        where = f"{REPORTS}/{packed.name}/{name}"
        if same:
            found.add(
                PROBLEM,
                "page",
                where,
                f"{words} is not what candlelab makes of these logs. Do not "
                f"{'trust' if name == PAGE else 'run'} it.",
            )
        else:
            found.add(
                NOTE,
                "page",
                where,
                f"{words} is not what candlelab makes here, which may be due to the other "
                f"version. Trust {RESULTS}.",
            )
    if sides[0] == sides[1]:
        found.add(
            FINE,
            "page",
            f"{REPORTS}/{packed.name}",
            "Page and notebook show the same, pictures not compared.",
        )


def _book(data: bytes):
    """A notebook without what another machine may make otherwise: its pictures, and the place of
    the batch."""
    book = json_of(data)
    cells = book.get("cells") if isinstance(book, dict) else None
    if not isinstance(cells, list):
        return data
    for cell in cells:
        if not isinstance(cell, dict):
            return data
        for output in cell.get("outputs") if isinstance(cell.get("outputs"), list) else []:
            if isinstance(output, dict) and isinstance(output.get("data"), dict):
                output["data"].pop("image/png", None)
                if isinstance(output["data"].get("application/json"), dict):
                    output["data"]["application/json"].pop("parameters", None)
    if isinstance(book.get("metadata"), dict):
        book["metadata"].pop("language_info", None)
    return book


def run_packed_notebooks(path: str | Path, *, progress: bool = False) -> dict[str, Agreement]:
    """Run the notebooks that came in a pack and compare what they show with its results, batch by
    batch.

    This runs the code of whoever made the pack, with all that you may do on this computer. Call it
    for a
    pack that ``verify_pack`` passed, and whose sender you trust. Raises UnsafePack, NotResults,
    ReportFailed and OSError.
    """
    files = read_pack(Path(path))
    names = batch_names(json_of(files.get(contents.PARAMETERS, b"")))
    if names is None:
        raise UnsafePack(f"{contents.PARAMETERS} is not what a pack holds")
    agreements = {}
    with tempfile.TemporaryDirectory(prefix="candlelab-run-") as work:
        write_files(Path(work), files)
        for name in names:
            expected = read_record(files.get(f"{REPORTS}/{name}/{RESULTS}", b""))
            batch = (Path(work) / BATCHES / name).resolve()
            book = run_notebook(
                Path(work) / REPORTS / name / NOTEBOOK,
                {"batch_folder": str(batch)},
                progress=progress,
            )
            agreements[name] = compare_records(
                expected, read_record(contents.json_bytes(record_of(book)))
            )
    return agreements

"""Checks a pack: nothing changed, nothing added, tables as described, and every number the same
when worked out again.

Nothing that came in the pack is run: its notebooks are read as text, its numbers are worked out
again by candlelab's own notebook from the logs. ``packed_notebook`` is a step of its own, for
whoever trusts the sender.
"""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from candlelab.pages.record import versions as versions_here
from candlelab.pages.run import NOTEBOOK, OUTPUTS, PAGE, RESULTS
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
    MOST_LISTED,
    NOTE,
    PROBLEM,
    Findings,
    check_manifest,
    described_tables,
    json_of,
    read_contents,
)
from candlelab.text import clip, counted, listed

STEPS = ("file", "manifest", "contents", "schema", "versions", "numbers", "page")
_PICTURE = re.compile(rb"data:image/png;base64,[A-Za-z0-9+/=]*")
_DESCRIPTIONS = (
    contents.DESCRIPTOR,
    contents.CRATE,
    contents.READ_PAGE,
    contents.READ_TEXT,
    contents.PARAMETERS,
)


@dataclass(frozen=True, eq=False)
class Verification:
    """What a check of a pack found.

    Attributes
    ----------
    findings : pandas.DataFrame
        One row per finding, in the order of ``STEPS``: ``level`` (problem, note or fine), ``step``,
        ``where`` in the pack, and ``what`` in words.
    numbers : dict of str to pandas.DataFrame
        For each batch every number of its results: ``table``, ``row``, ``column``, ``expected`` as
        packed, ``found`` when worked out again, ``difference``, and whether it is ``inside`` the
        tolerance.
    sha256 : str or None
        SHA-256 of the whole file; None when it was not opened.
    """

    findings: pd.DataFrame
    numbers: dict[str, pd.DataFrame]
    sha256: str | None

    @property
    def passed(self) -> bool:
        """Whether nothing was found that is a problem."""
        return not (self.findings["level"] == PROBLEM).any()


def verify_pack(path: str | Path, *, progress: bool = False) -> Verification:
    """Check a pack: nothing changed or added, and every number the same when worked out again.

    A step whose ground is not sure is not taken, and that is said. Nothing in the pack is run.

    Parameters
    ----------
    path : str or Path
        The zip file that `make_pack` made.
    progress : bool
        Whether to show how far the notebooks are.

    Returns
    -------
    Verification
        What was found, and every number.

    Raises
    ------
    OSError
        When the file cannot be opened.
    ReportFailed
        When candlelab's own notebook fails.

    Examples
    --------
    >>> from candlelab import verify_pack
    >>> result = verify_pack("confirmation.zip")  # doctest: +SKIP
    >>> result.passed, len(result.numbers["confirmation"]) > 3000  # doctest: +SKIP
    (True, True)
    """
    path, found = Path(path), Findings()
    try:
        files = read_pack(path)
    except UnsafePack as error:
        found.problem("file", path.name, f"Not opened: {error}.")
        return Verification(found.table(), {}, None)
    digest = sha256_of(path)
    _check_file(path, files, digest, found)
    check_manifest(files, found)
    with tempfile.TemporaryDirectory(prefix="candlelab-verify-") as work:
        numbers = _check_contents(files, Path(work).resolve(), progress, found)
    return Verification(found.table(), numbers, digest)


def _check_file(path: Path, files: dict[str, bytes], digest: str, found: Findings) -> None:
    if written_by_us(path, files):
        found.fine("file", path.name, f"SHA-256 {digest}.")
        return
    found.note(
        "file",
        path.name,
        "The zip file is not byte for byte as candlelab writes it here: it was zipped again, "
        "changed outside its contents, or written with another zip library. Its contents are "
        f"judged below. SHA-256 {digest}.",
    )


def _check_contents(
    files: dict[str, bytes], work: Path, progress: bool, found: Findings
) -> dict[str, pd.DataFrame]:
    """Descriptions, versions, and every number of each batch, worked out again where files are what
    the manifest says."""
    batches, parameters = read_contents(files, work, found)
    if not batches:
        return {}
    same = _check_versions(files, batches, found)
    _check_descriptions(files, batches, parameters, same, found)
    if found.fails("manifest"):
        words = "Not worked out again, since files are not what the manifest says."
        found.note("numbers", "", words)
        return {}
    return {packed.name: _work_out_again(packed, work, same, progress, found) for packed in batches}


def _check_versions(files: dict[str, bytes], batches: list[PackedBatch], found: Findings) -> bool:
    """Whether the pack was made by this candlelab, unchanged, with these packages; what differs is
    noted."""
    own, before = candlelab_version(), len(found.rows)
    for packed in batches:
        _check_versions_of_report(packed, own, found)
    requirements = files[contents.REQUIREMENTS]
    for line in not_pinned(requirements)[:MOST_LISTED]:
        found.problem(
            "versions",
            contents.REQUIREMENTS,
            f"“{clip(line)}” is not a package at an exact version. Do not install from this list.",
        )
    environment = json_of(files[contents.ENVIRONMENT])
    packages = environment.get("packages") if isinstance(environment, dict) else None
    pinned = pinned_versions(requirements.decode("utf-8", "replace"))
    if not isinstance(packages, dict) or packages != pinned:
        words = f"It does not name the packages of {contents.REQUIREMENTS}."
        found.problem("versions", contents.ENVIRONMENT, words)
        return False
    same = not _noted(found, before)
    if same and environment.get("candlelab_code_sha256") != code_digest():
        found.note(
            "versions",
            "candlelab",
            f"Another code under the same version {own}: one of the two was changed after its "
            "release.",
        )
    _check_packages(pinned, found)
    if _noted(found, before):
        return False
    words = f"candlelab {own} and {counted(len(pinned), 'package')}, the same here."
    found.fine("versions", "candlelab", words)
    return True


def _noted(found: Findings, before: int) -> bool:
    return any(level == NOTE for level, *_ in found.rows[before:])


def _check_versions_of_report(packed: PackedBatch, own: str, found: Findings) -> None:
    if packed.version != own:
        found.note(
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
        words = f"Reported with other versions: {listed(changed, MOST_LISTED)}."
        found.note("versions", packed.name, words)


def _check_packages(pinned: dict[str, str], found: Findings) -> None:
    here = installed()
    if strange := [name for name in pinned if name not in here]:
        words = f"Packages that candlelab does not need here: {listed(strange, MOST_LISTED)}."
        found.note("versions", contents.REQUIREMENTS, words)
    other = [
        f"{name} {version} ({here[name]} here)"
        for name, version in pinned.items()
        if here.get(name, version) != version
    ]
    if other:
        words = f"Other versions: {listed(other, MOST_LISTED)}."
        found.note("versions", contents.REQUIREMENTS, words)


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
    for name in _DESCRIPTIONS:
        if files[name] == made[name]:
            continue
        if same:
            words = "It is not what candlelab writes for these logs and results."
            found.problem("schema", name, words)
        else:
            found.note(
                "schema",
                name,
                "It is not what candlelab writes here, which may be due to the other version. "
                "Trust the logs and the numbers.",
            )
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
        found.problem(
            "numbers",
            where,
            f"{place}: found {_said(row.found)}, expected {_said(row.expected)}, difference "
            f"{_said(row.difference)}.",
        )
    if (more := len(outside) - MOST_LISTED) > 0:
        differ = "differs" if more == 1 else "differ"
        words = f"... and {counted(more, 'more number')} that {differ}."
        found.problem("numbers", where, words)
    tell = found.problem if same or len(outside) else found.note
    for words in agreement.words[:MOST_LISTED]:
        tell("numbers", where, words)
    if (more := len(agreement.words) - MOST_LISTED) > 0:
        tell("numbers", where, f"... and {more} more that is not a number.")
    if len(outside):
        if not same:
            words = "The versions differ (see above): check again with the pack's own before you"
            found.note("numbers", where, f"{words} judge.")
        return
    numbers = agreement.numbers
    largest = numbers["difference"].abs().max() if len(numbers) else 0.0
    found.fine(
        "numbers",
        where,
        f"{len(numbers):,} numbers worked out again, all the same; largest difference "
        f"{largest:.3g}.",
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
            found.problem(
                "page",
                where,
                f"{words} is not what candlelab makes of these logs. Do not "
                f"{'trust' if name == PAGE else 'run'} it.",
            )
        else:
            found.note(
                "page",
                where,
                f"{words} is not what candlelab makes here, which may be due to the other version. "
                f"Trust {RESULTS}.",
            )
    if sides[0] == sides[1]:
        found.fine(
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
        outputs = cell.get("outputs")
        for output in outputs if isinstance(outputs, list) else ():
            if isinstance(output, dict) and isinstance(output.get("data"), dict):
                output["data"].pop("image/png", None)
                if isinstance(output["data"].get("application/json"), dict):
                    output["data"]["application/json"].pop("parameters", None)
    if isinstance(book.get("metadata"), dict):
        book["metadata"].pop("language_info", None)
    return book

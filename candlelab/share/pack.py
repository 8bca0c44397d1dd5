"""Packs batches with their reports into one file that a partner can read, check and work out
again."""

from __future__ import annotations

import hashlib
import json
import os
import re
import tempfile
import zipfile
from dataclasses import dataclass, replace
from pathlib import Path

from candlelab.archive import (
    MOST_BYTES,
    MOST_BYTES_OF_A_FILE,
    UnsafePack,
    read_zip,
    sha256_of,
    unsafe_name,
    write_files,
    write_zip,
)
from candlelab.logs.batch import Batch, read_batch, refuse_unburnt
from candlelab.logs.workbook import SUFFIXES
from candlelab.pages.leftovers import own_folder
from candlelab.pages.publish import whole_file
from candlelab.pages.run import NOTEBOOK, OUTPUTS, RESULTS, slug
from candlelab.report.make import make_report
from candlelab.share.agreement import NotResults, read_record
from candlelab.share.contents import (
    AS_IT_WAS,
    BATCHES,
    CRATE,
    FORMAT,
    MADE_FOR_IT,
    MANIFEST,
    REPORTS,
    PackedBatch,
    json_bytes,
    pack_contents,
)  # fmt: skip
from candlelab.share.environment import (
    candlelab_version,
    environment_record,
    hashes_from,
    installed,
    requirements_text,
)
from candlelab.share.redaction import without_notes as take_notes_out
from candlelab.text import clip, listed

_SETTINGS_FILE = "batch.toml"


class CannotPack(ValueError):
    """What was asked for cannot be packed; the message says why and what to do."""


@dataclass(frozen=True)
class Packed:
    """A pack that was made.

    Attributes
    ----------
    path : Path
        The zip file.
    sha256 : str
        Its SHA-256, to be sent to the receiver separately.
    files : int
        Number of files in it.
    hints : tuple of str
        What its sender may want to look at before sending it.
    """

    path: Path
    sha256: str
    files: int
    hints: tuple[str, ...]


@dataclass(frozen=True)
class _Source:
    """A batch to pack, and the folder of a report on it that was there already."""

    name: str
    folder: Path
    report: Path | None


def make_pack(
    folders: list[str | Path],
    out: str | Path,
    *,
    without_notes: bool = False,
    hashes: str | Path | None = None,
    progress: bool = False,
) -> Packed:
    """Pack batches with their reports into one zip file, whole or not at all; nothing else changes.

    Parameters
    ----------
    folders : list of str or Path
        Each is a batch, which is reported on anew, or a report that lies near its batch, which is
        packed as it is.
    out : str or Path
        The zip file to make.
    without_notes : bool
        Empty the notes in copies of the logs, and report on the copies.
    hashes : str or Path, optional
        A list of packages with the SHA-256 of their files, as pip takes it.
    progress : bool
        Whether to show how far the notebooks are.

    Returns
    -------
    Packed
        Where the pack is, and its SHA-256.

    Raises
    ------
    CannotPack, NotesStay, WrongList
        When what was asked for cannot be packed, notes cannot be taken out, or ``hashes`` does not
        fit what is installed.
    BurnLogError, ReportFailed, OSError
        When a batch has something to fix first, a report or a file cannot be made.

    Examples
    --------
    >>> from candlelab import demo_folder, make_pack
    >>> batches = [demo_folder("confirmation")]
    >>> packed = make_pack(batches, "confirmation.zip")  # doctest: +SKIP
    >>> packed.path.name, packed.files, len(packed.sha256)  # doctest: +SKIP
    ('confirmation.zip', 16, 64)
    """
    out = Path(os.path.abspath(out))
    sources = _sources([Path(folder).resolve() for folder in folders])
    _check_out(out, sources)
    versions = installed()
    known = hashes_from(Path(hashes).read_text(encoding="utf-8"), versions) if hashes else {}
    requirements = requirements_text(versions, known, candlelab_version()).encode("utf-8")
    environment = json_bytes(environment_record(versions))
    with own_folder("share") as work:
        made = [_pack_one(s, work, without_notes, progress) for s in sources]
        batches, entries = [packed for packed, _ in made], [entry for _, entry in made]
        parameters = {"format": FORMAT, "without_notes": without_notes, "batches": entries}
        files = pack_contents(batches, parameters, requirements, environment)
        _check_sizes(files)
        with whole_file(out) as new:
            write_zip(new, files)
            digest = sha256_of(new)
    return Packed(out, digest, len(files), tuple(_hints(files)))


def _sources(folders: list[Path]) -> list[_Source]:
    if not folders:
        raise CannotPack("No batch is given. Give the folder of a batch, or of a report.")
    sources: list[_Source] = []
    taken = set()
    for folder in folders:
        batch, report = _batch_and_report(folder)
        if any(batch == source.folder for source in sources):
            raise CannotPack(f"{batch} is given twice.")
        name = first = safe_slug(batch.name)
        n = 1
        while name.casefold() in taken:
            n += 1
            name = f"{first}-{n}"
        taken.add(name.casefold())
        sources.append(_Source(name, batch, report))
    return sources


def safe_slug(name: str) -> str:
    """A batch's name in the pack: safe on every system, at most 60 characters."""
    name = slug(name)[:60].strip("-.") or "batch"
    return f"batch-{name}" if unsafe_name(name) else name


def names_batch(folder, name: str) -> bool:
    """Whether a batch of that name in a pack may come from a folder of that name."""
    return isinstance(folder, str) and bool(
        re.fullmatch(rf"{re.escape(safe_slug(folder))}(-\d+)?", name)
    )


def _batch_and_report(folder: Path) -> tuple[Path, Path | None]:
    if not folder.is_dir():
        raise CannotPack(f"{folder} is not a folder. Give the folder of a batch, or of a report.")
    if (folder / _SETTINGS_FILE).is_file() or not (folder / RESULTS).is_file():
        return folder, None
    missing = [name for name in OUTPUTS if not (folder / name).is_file()]
    if missing:
        raise CannotPack(
            f"{folder} is not a whole report: {listed(missing)} is missing. Make it again with "
            "“candlelab report”."
        )
    way = _way_to_batch(folder / NOTEBOOK)
    batch = (folder / way).resolve() if way else None
    if batch is None or not (batch / _SETTINGS_FILE).is_file():
        raise CannotPack(
            f"{folder} does not lie near its batch. Give the folder of the batch itself."
        )
    return batch, folder


def _way_to_batch(notebook: Path) -> str | None:
    """What a report's notebook says of the place of its batch."""
    cell = _parameters_cell(_json_of(notebook))
    text = "".join(cell["source"]) if cell else ""
    try:
        value = json.loads(text.partition("batch_folder = ")[2].splitlines()[0])
    except (ValueError, IndexError):
        return None
    return value if isinstance(value, str) else None


def _json_of(path: Path):
    try:
        return json.loads(path.read_bytes())
    except (ValueError, RecursionError) as error:
        raise CannotPack(
            f"{path} cannot be read. Make the report again with “candlelab report”."
        ) from error


def _parameters_cell(book) -> dict | None:
    try:
        return next(
            (
                cell
                for cell in book["cells"]
                if "injected-parameters" in cell["metadata"].get("tags", [])
            ),
            None,
        )
    except (TypeError, KeyError, AttributeError):
        return None


def _check_out(out: Path, sources: list[_Source]) -> None:
    if out.suffix.lower() != ".zip":
        raise CannotPack(
            f"{out} does not end in .zip. Give a file such as {slug(sources[0].name)}.zip with "
            "--out."
        )
    if out.is_dir():
        raise CannotPack(f"{out} is a folder. Give the name of a file with --out.")
    place = out.parent.resolve()
    for source in sources:
        for folder in filter(None, (source.folder, source.report)):
            if place == folder or folder in place.parents:
                raise CannotPack(
                    f"{out} is inside {folder}, which is never written to. Give another place with "
                    "--out."
                )
    if (out.exists() or out.is_symlink()) and not _is_pack(out):
        raise CannotPack(
            f"{out} is there already and is no pack of candlelab. Give another name with --out."
        )


def _is_pack(path: Path) -> bool:
    try:
        with zipfile.ZipFile(path) as archive:
            return not path.is_symlink() and {MANIFEST, CRATE} <= set(archive.namelist())
    except (OSError, ValueError, zipfile.BadZipFile):
        return False


def _pack_one(
    source: _Source, work: Path, without_notes: bool, progress: bool
) -> tuple[PackedBatch, dict]:
    """One batch, copied, read and reported on in ``work``; and its entry in ``parameters.json``."""
    batch = _read(source.folder)  # tells of problems under the folder's own name
    files = {name: (source.folder / name).read_bytes() for name in sorted(batch.files["file"])}
    emptied: list[str] = []
    copy, report = work / BATCHES / source.name, work / REPORTS / source.name
    read = dict(zip(batch.files["file"], batch.files["sha256"], strict=True))
    if without_notes:
        files, emptied = take_notes_out(files)
    elif changed := [n for n, d in files.items() if hashlib.sha256(d).hexdigest() != read[n]]:
        raise CannotPack(f"{listed(changed)} changed while it was read. Pack again.")
    write_files(copy, files)
    if without_notes:
        batch = _read(copy)
    earlier = None if without_notes else source.report
    if earlier is not None:
        made = _report_as_it_is(source, earlier, batch)
    else:
        make_report(copy, report, progress=progress)
        made = {name: (report / name).read_bytes() for name in OUTPUTS}
    record = read_record(made[RESULTS])
    entry = {
        "name": source.name,
        "title": batch.settings.title,
        "report": AS_IT_WAS if earlier else MADE_FOR_IT,
        "emptied": emptied,
    }
    return PackedBatch(source.name, files, batch, made, record), entry


def _read(folder: Path) -> Batch:
    """A batch without its checks, of which a pack holds the file."""
    batch = read_batch(folder)
    refuse_unburnt(batch)
    return replace(batch, checks=batch.checks[:0].copy(), lines={}, doubts={})


def _report_as_it_is(source: _Source, report: Path, batch) -> dict[str, bytes]:
    """The files of a report that was there; its notebook looks for the batch in the pack."""
    made = {name: (report / name).read_bytes() for name in OUTPUTS}
    try:
        record = read_record(made[RESULTS])
    except NotResults as error:
        raise CannotPack(
            f"{report / RESULTS}: {error}. Make the report again with “candlelab report”."
        ) from error
    then = {entry["file"]: entry["sha256"] for entry in record["inputs"]}
    now = dict(zip(batch.files["file"], batch.files["sha256"], strict=True))
    changed = sorted(name for name in then.keys() | now.keys() if then.get(name) != now.get(name))
    if changed:
        raise CannotPack(
            f"{report} was made from another state of {source.folder} ({listed(changed)}). "
            "Make it again with “candlelab report”."
        )
    book = json.loads(made[NOTEBOOK])
    cell = _parameters_cell(book) or {}
    cell["source"] = f"# Parameters\nbatch_folder = {json.dumps(f'../../{BATCHES}/{source.name}')}"
    made[NOTEBOOK] = (json.dumps(book, indent=1, ensure_ascii=False, sort_keys=True) + "\n").encode(
        "utf-8"
    )
    return made


def _check_sizes(files: dict[str, bytes]) -> None:
    total = sum(map(len, files.values()))
    large = [name for name, data in files.items() if len(data) > MOST_BYTES_OF_A_FILE]
    if large or total > MOST_BYTES:
        what = f"{large[0]} has" if large else "the pack would have"
        raise CannotPack(
            f"{what} {len(files[large[0]]) if large else total:,} bytes unpacked, more than "
            "“candlelab verify” opens. Pack fewer batches."
        )


def _hints(files: dict[str, bytes]) -> list[str]:
    """Where a path or a name of this computer stands in a pack after all, because a log says it."""
    words = {str(Path.home()), tempfile.gettempdir() + os.sep + "candlelab-share-"}
    marks = [word.encode("utf-8", "surrogateescape") for word in words if len(word) > 4]
    hints = []
    for name, data in sorted(files.items()):
        if name.lower().endswith(SUFFIXES):
            hints.append(
                f"{clip(name)} is packed as it is, with whatever the program that saved it wrote "
                "into it: the name of its user, as a rule. Take it out there if it should stay out."
            )
        if any(mark in data for mark in marks):
            hints.append(
                f"{clip(name)} holds the name of a folder of this computer. Take it out of the "
                "log, or use --without-notes."
            )
    return hints


def read_pack(path: Path) -> dict[str, bytes]:
    """Every file of a pack. Raises UnsafePack for what is no pack or is not opened, and OSError."""
    files = read_zip(path)
    if MANIFEST not in files:
        raise UnsafePack(f"it holds no {MANIFEST}: it is not a pack of candlelab")
    return files

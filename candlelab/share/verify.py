"""Checks a pack: nothing changed, nothing added, tables as described, and every number, word and
picture the same when made again.

Nothing that came in the pack is run: its notebooks are read as text, its report is made again by
candlelab's own notebook from the logs. ``packed_notebook`` is a step of its own, for whoever trusts
the sender.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from candlelab.archive import UnsafePack, sha256_of, write_files, written_by_us
from candlelab.pages.leftovers import own_folder
from candlelab.pages.publish import whole_folder
from candlelab.pages.run import NOTEBOOK, OUTPUTS, PAGE, RESULTS
from candlelab.report.make import make_report
from candlelab.share import contents, earlier, shown
from candlelab.share.agreement import Agreement, compare_records, frame_differences, read_record
from candlelab.share.check_descriptions import check_descriptions
from candlelab.share.contents import BATCHES, REPORTS, PackedBatch
from candlelab.share.origin import Origin, check_origin, drawn_here
from candlelab.share.pack import names_batch, read_pack
from candlelab.share.read import (
    DIFFERS,
    MOST_LISTED,
    PROBLEM,
    Findings,
    check_manifest,
    read_contents,
)

STEPS = ("file", "manifest", "contents", "versions", "schema", "numbers", "words", "page")


@dataclass(frozen=True, eq=False)
class Verification:
    """What a check of a pack found.

    Attributes
    ----------
    findings : pandas.DataFrame
        One row per finding, in the order of ``STEPS``: ``level`` (problem, differs, note or fine),
        ``step``, ``where`` in the pack, and ``what`` in words.
    numbers : dict of str to pandas.DataFrame
        For each batch every number of its results: ``table``, ``row``, ``column``, ``expected`` as
        packed, ``found`` when worked out again, ``difference``, and whether it is ``inside`` the
        tolerance.
    sha256 : str or None
        SHA-256 of the whole file; None when it was not opened.
    version : str
        The version of candlelab that made the pack, as far as it says.
    """

    findings: pd.DataFrame
    numbers: dict[str, pd.DataFrame]
    sha256: str | None
    version: str = ""

    @property
    def passed(self) -> bool:
        """Whether every number, word and picture follows from the logs, and nothing was added."""
        return not self.findings["level"].isin((PROBLEM, DIFFERS)).any()

    @property
    def numbers_only(self) -> bool:
        """Whether the numbers follow from the logs, and the words are those of an earlier
        version."""
        return not self.passed and not (self.findings["level"] == PROBLEM).any()


def verify_pack(
    path: str | Path, *, page: str | Path | None = None, progress: bool = False
) -> Verification:
    """Check a pack: nothing changed or added, and everything the same when made again.

    A step whose ground is not sure is not taken, and that is said. Nothing in the pack is run.

    Parameters
    ----------
    path : str or Path
        The zip file that `make_pack` made.
    page : str or Path, optional
        Folder that gets the reports as they are made here, a folder for each batch.
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
    NotOurFolder
        When ``page`` holds something that is not an earlier output.
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
    with own_folder("verify") as work:
        batches, parameters = read_contents(files, work, found)
        if not batches:
            return Verification(found.table(), {}, digest)
        origin = check_origin(files, batches, parameters, found)
        check_descriptions(files, batches, parameters, origin, found)
        numbers = {}
        if found.fails("manifest"):
            words = "Not worked out again, since files are not what the manifest says."
            found.note("numbers", "", words)
        else:
            for packed in batches:
                made = _made_again(packed, work, Path(page) if page else None, progress)
                numbers[packed.name] = _compare(files, packed, made, origin, found)
    return Verification(found.table(), numbers, digest, batches[0].version)


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


def _made_again(
    packed: PackedBatch, work: Path, page: Path | None, progress: bool
) -> dict[str, bytes]:
    """The report on the logs of a batch by candlelab's own notebook; kept in ``page`` if given."""
    copy, report = work / BATCHES / packed.name, work / REPORTS / packed.name
    write_files(copy, packed.files)
    make_report(copy, report, progress=progress)
    made = {name: (report / name).read_bytes() for name in OUTPUTS}
    if page is not None:
        with whole_folder(page / packed.name, OUTPUTS) as new:
            write_files(new, made)
    return made


def _compare(
    files: dict[str, bytes],
    packed: PackedBatch,
    made: dict[str, bytes],
    origin: Origin,
    found: Findings,
) -> pd.DataFrame:
    """Hold the report of a batch against the one made here: numbers, words, page, pictures."""
    record = read_record(made[RESULTS])
    agreement = compare_records(packed.record, record)
    before = origin.earlier_report(packed)
    _tell_numbers(packed, agreement, before is not None, found)
    if before is None:
        frame = frame_differences(packed.record, record)
        _tell_words(packed, [*agreement.words, *frame], found)
        _check_page(packed, made, record["versions"], found)
    else:
        _tell_earlier(files, packed, record, before, found)
    return agreement.numbers


def _at_most(tell: Callable[[str, str, str], None], step: str, where: str, said: list[str]) -> None:
    """Tell the first sentences, and how many more there are."""
    for words in said[:MOST_LISTED]:
        tell(step, where, words)
    if (more := len(said) - MOST_LISTED) > 0:
        tell(step, where, f"... and {more} more.")


def _tell_numbers(packed: PackedBatch, agreement: Agreement, old: bool, found: Findings) -> None:
    where, outside = f"{REPORTS}/{packed.name}/{RESULTS}", agreement.outside
    judged = [
        old and earlier.is_judged(row.table, row.column) for row in outside.itertuples(index=False)
    ]
    said = []
    for row in outside[[not one for one in judged]].itertuples():
        place = ", ".join(filter(None, (row.table, row.row, row.column)))
        said.append(
            f"{place}: found {_said(row.found)}, expected {_said(row.expected)}, difference "
            f"{_said(row.difference)}."
        )
    _at_most(found.problem, "numbers", where, said)
    if said:
        return
    inside = agreement.numbers[agreement.numbers["inside"]]
    largest = inside["difference"].abs().max() if len(inside) else 0.0
    but = f", but for {sum(judged)} that come from judging" if sum(judged) else ""
    found.fine(
        "numbers",
        where,
        f"{len(inside):,} numbers worked out again, all the same{but}; largest difference "
        f"{largest:.3g}.",
    )


def _said(value: float) -> str:
    return "none" if pd.isna(value) else f"{value:.10g}"


def _tell_words(packed: PackedBatch, said: list[str], found: Findings) -> None:
    where = f"{REPORTS}/{packed.name}/{RESULTS}"
    own = packed.record["parameters"]
    if list(own) != ["batch_folder"] or not names_batch(own["batch_folder"], packed.name):
        said.append(f"Its parameters are {own}. They are not those of this batch.")
    _at_most(found.problem, "words", where, said)
    if not said:
        words = "Every answer, verdict, unit and meaning is what these logs give."
        found.fine("words", where, words)


def _check_page(
    packed: PackedBatch, report: dict[str, bytes], versions: dict, found: Findings
) -> None:
    """Page and notebook show what candlelab shows here, in the ``report`` of these versions."""
    folder, before = f"{REPORTS}/{packed.name}", len(found.rows)
    given = shown.Shown(packed.report, packed.record["versions"])
    made = shown.Shown(report, versions)
    if not shown.same_page(given, made):
        texts = shown.unlike_texts(given.page, made.page)
        words = f"The page is not what candlelab makes of these logs. Do not trust it.{texts}"
        found.problem("page", f"{folder}/{PAGE}", words)
    if not shown.same_notebook(given, made):
        words = "The notebook is not what candlelab makes of these logs. Do not run it."
        found.problem("page", f"{folder}/{NOTEBOOK}", words)
    elif given.records != [packed.record]:
        words = f"The notebook holds other results than {RESULTS}."
        found.problem("page", f"{folder}/{NOTEBOOK}", words)
    tell = found.problem if drawn_here(packed) else found.differs
    for name, words in shown.unlike_pictures(given.pictures, made.pictures):
        tell("page", f"{folder}/{name}", words)
    if len(found.rows) == before:
        found.fine("page", folder, "Page, notebook and pictures show the same.")


def _tell_earlier(
    files: dict[str, bytes],
    packed: PackedBatch,
    record: dict,
    before: earlier.Earlier,
    found: Findings,
) -> None:
    """What an earlier version judged and worded otherwise; what its own numbers contradict is
    wrong."""
    folder = f"{REPORTS}/{packed.name}"
    wrong = earlier.contradictions(packed.record, record, before)
    first = files[contents.READ_PAGE], files[contents.READ_TEXT]
    wrong += shown.own_contradictions(packed.report, packed.record, first)
    _at_most(found.problem, "words", folder, wrong)
    where = f"{folder}/{RESULTS}"
    _at_most(found.differs, "words", where, earlier.judged_otherwise(packed.record, record))
    found.differs(
        "page",
        f"{folder}/{PAGE}",
        f"The page is that of candlelab {before.version}. Its words and pictures cannot be made "
        "again here.",
    )

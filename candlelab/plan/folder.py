"""Makes a batch folder of a plan, ready to log into.

Whole or not at all, and never over a log that somebody has begun.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
import math
import os
import shutil
import tempfile
from pathlib import Path

from candlelab.logs.batch import check_batch
from candlelab.logs.book import PLAN_DIGESTS, PLAN_RECORD
from candlelab.logs.columns import TABLES
from candlelab.logs.problems import MUST_FIX, SETTINGS_FILE, problem_lines
from candlelab.logs.settings import Settings, Target, Vessel, Wax
from candlelab.logs.writer import WritingStyle, write_batch
from candlelab.pages.publish import NotOurFolder, whole_folder
from candlelab.pages.run import ReportFailed, notebook_texts, outputs, write_text
from candlelab.plan.log_sheets import PAPERS, sheets_html
from candlelab.plan.panel import panel_plan, smelled_rows, wants_panel
from candlelab.plan.planned import PLAN_FILE, WICKS_FILE, PlannedBatch, read_plan
from candlelab.plan.scent_sheets import scent_sheets_html
from candlelab.plan.workbook import BOOK, workbook_bytes
from candlelab.units import UNITS, Display, DisplayChoice, convert

NOTEBOOK = "plan_batch"
CALENDAR = "schedule.ics"
SHEETS = {paper: f"log_sheets_{paper}.html" for paper in PAPERS}
_TABLES = ("candles", "burns", "checks")
BATCH = (SETTINGS_FILE, *(TABLES[name].file for name in _TABLES), WICKS_FILE)
SCENT_SHEETS, KEY = "scent_sheets.html", TABLES["codes"].file
FILES = (*BATCH, BOOK, PLAN_FILE, *outputs(NOTEBOOK)[:2], PLAN_RECORD, CALENDAR, *SHEETS.values())
# Of a plan that asks for a panel, the last with blank checks.
SCENT_FILES = (SCENT_SHEETS, KEY, TABLES["throw"].file, TABLES["pairs"].file)
_HEAD = (
    "# Planned by candlelab from plan.toml; change it there and plan anew as long as nothing is "
    "logged."
)
_TARGETS_HEAD = "# In g, mm, degrees Celsius and hours, whatever the log is kept in."


class LoggedAlready(NotOurFolder):
    """The folder holds a batch that somebody has begun to fill in."""


def make_plan(plan_file: str | Path, out: str | Path, *, progress: bool = False) -> Path:
    """Make the batch folder of a plan, ready to log into.

    The folder gets all of its files or is not made. An earlier plan there is replaced when nobody
    has touched one of its files since. The plan and its ``wicks.csv`` are never written to.

    Parameters
    ----------
    plan_file : str or pathlib.Path
        The plan, as in ``plan.toml``; ``wicks.csv`` lies beside it.
    out : str or pathlib.Path
        The folder to make: ``batch.toml``, ``candles.csv`` with the planned fills, logs with every
        row that is due, the same as a workbook, log sheets to print, a calendar, and the page of
        the plan with its notebook and record.
    progress : bool, default False
        Whether to show how far the notebook has run.

    Returns
    -------
    pathlib.Path
        The page.

    Raises
    ------
    PlanError
        When something must be fixed in the plan first; it names every fault at once.
    LoggedAlready
        When a burn has been logged there, or a fill weighed.
    NotOurFolder
        When the folder holds files that are not a plan's.
    FileNotFoundError
        When there is no such plan.
    ReportFailed
        When the page cannot be made.

    Examples
    --------
    >>> from candlelab import demo_folder, make_plan
    >>> page = make_plan(demo_folder("plan") / "plan.toml", "next-batch")  # doctest: +SKIP
    """
    plan_file, out = Path(plan_file).resolve(), Path(os.path.abspath(out))
    planned = read_plan(plan_file)
    refuse_logged(out, planned.files)
    with whole_folder(out, (*FILES, *_scent_files(planned)), *SCENT_FILES) as new:
        _write_batch(planned, new)
        _write_panel(planned, new)
        for name, data in planned.files.items():
            (new / name).write_bytes(data)
        _refuse_unreadable(new)
        _write_workbook(planned, new)
        (new / CALENDAR).write_bytes(planned.calendar())
        for paper, name in SHEETS.items():
            write_text(new / name, sheets_html(planned, paper))
        book, page, record = notebook_texts(
            NOTEBOOK, {"plan_file": str(new / PLAN_FILE)}, {"plan_file": PLAN_FILE}, [], progress
        )
        for name, text in zip(outputs(NOTEBOOK)[:2], (book, page), strict=True):
            write_text(new / name, text)
        record = json.loads(record) | {PLAN_DIGESTS: _digests(new)}
        write_text(
            new / PLAN_RECORD, json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)
        )
        refuse_logged(out, planned.files)
    return out / outputs(NOTEBOOK)[1]


def refuse_logged(out: Path, again: dict[str, bytes]) -> None:
    """Raise LoggedAlready when a file of ``out`` is not as a plan left it.

    A burn was logged, a fill was weighed. A file that is to be written ``again`` with the bytes
    that it has may stand: a plan is changed in its own folder.
    """
    present = _digests(out)
    try:
        known = json.loads((out / PLAN_RECORD).read_text(encoding="utf-8"))[PLAN_DIGESTS]
    except (OSError, ValueError, KeyError, TypeError):
        known = {}
    same = {(name, hashlib.sha256(data).hexdigest()) for name, data in again.items()}
    if isinstance(known, dict) and all(isinstance(digest, str) for digest in known.values()):
        same |= set(known.items())
    touched = [name for name, digest in present.items() if (name, digest) not in same]
    if touched:
        raise LoggedAlready(
            f"{out} holds a batch that is not as a plan left it ({', '.join(touched)}). It stays "
            "as it is; give another folder with --out."
        )


def _scent_files(planned: PlannedBatch) -> tuple[str, ...]:
    if not wants_panel(planned.plan.settings):
        return ()
    return SCENT_FILES if len(panel_plan(planned).checks) else SCENT_FILES[:-1]


def _digests(folder: Path) -> dict[str, str]:
    """SHA-256 of every file of a plan that is there, its record left out."""
    return {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest()
        for name in (*FILES, *SCENT_FILES)
        if name != PLAN_RECORD and (folder / name).is_file()
    }


def _write_batch(planned: PlannedBatch, folder: Path) -> None:
    """``batch.toml``, ``candles.csv``, and the logs with all that the plan knows."""
    tables = {"candles": planned.candles, "burns": planned.burns, "checks": planned.checks}
    settings = planned.plan.settings
    tables |= smelled_rows(planned) if wants_panel(settings) else {}
    write_batch(tables, batch_toml(settings), folder, style=_style(settings))


def _style(settings: Settings) -> WritingStyle:
    """How the logs are written: in the reader's units, weights as the scale shows them."""
    units = {name: _written_in(settings.display, name) for name in ("g", "mm", "c", "m")}
    step = convert(settings.instruments.scale_resolution_g, "g", units["g"])
    return WritingStyle(units=units, decimals={units["g"]: _decimals(step)})


def _written_in(display: Display, unit: str) -> str:
    """The unit of the logs that the reader keeps."""
    symbol = display.symbol(UNITS[unit].symbol)
    return next(key for key, one in UNITS.items() if one.symbol == symbol)


def _write_panel(planned: PlannedBatch, folder: Path) -> None:
    """Score sheets and the key of their codes, where the plan asks for a panel."""
    if wants_panel(planned.plan.settings):
        write_text(folder / SCENT_SHEETS, scent_sheets_html(planned))
        lines = panel_plan(planned).key.to_csv(index=False, lineterminator="\n")
        write_text(folder / KEY, lines)


def _write_workbook(planned: PlannedBatch, folder: Path) -> None:
    """The workbook, once it reads by itself as a batch that is not burned yet."""
    style = dataclasses.replace(_style(planned.plan.settings), spoken_headers=True)
    data = workbook_bytes(planned, style=style)
    with tempfile.TemporaryDirectory(prefix="candlelab-") as alone:
        (Path(alone) / BOOK).write_bytes(data)
        shutil.copy(folder / SETTINGS_FILE, alone)
        _refuse_unreadable(Path(alone))
    (folder / BOOK).write_bytes(data)


def _decimals(step: float) -> int:
    """Decimals that a scale's step needs, from one to six."""
    return next((n for n in range(1, 6) if abs(round(step, n) - step) < 1e-9), 6)


def _refuse_unreadable(folder: Path) -> None:
    """A folder that candlelab itself would not read is not handed out."""
    problems = check_batch(folder)
    must_fix = problems[problems["level"] == MUST_FIX]
    if len(must_fix):
        lines = " ".join(problem_lines(must_fix, 5))
        raise ReportFailed(f"the planned batch does not read: {lines}")


def batch_toml(settings: Settings) -> str:
    """``batch.toml`` of the settings, without a line for what is at its default.

    Every number is in candlelab's own units.
    """
    names = [f.name for f in dataclasses.fields(Settings)]
    words = {name: getattr(settings, name) for name in names}
    words = {name: word for name, word in words.items() if isinstance(word, str)}
    lines = [_HEAD]
    lines += [f"{name} = {_toml(word)}" for name, word in words.items() if word or name == "title"]
    for name, kind in (("vessels", Vessel), ("waxes", Wax)):
        for key, record in getattr(settings, name).items():
            lines += ["", f"[{name}.{_toml(key)}]", *_fields(record, kind)]
    scale = ("scale",) if settings.scale.port else ()
    more = [name for name in ("scent", "prices") if _is_set(getattr(settings, name))]
    for name in ("protocol", "limits", "instruments", *scale, *more):
        record = getattr(settings, name)
        lines += ["", f"[{name}]", *_fields(record, type(record))]
    lines += ["", "[display]", *_fields(settings.display, DisplayChoice)]
    for table, headings in settings.columns.items():
        own = [f"{_toml(heading)} = {_toml(name)}" for heading, name in headings.items()]
        lines += ["", f"[columns.{table}]", *own]
    if settings.targets:
        lines += ["", _TARGETS_HEAD, "[targets]", *map(_target, settings.targets)]
    return "\n".join(lines) + "\n"


def _is_set(record) -> bool:
    """Whether anything of a section is not at its default."""
    return record != type(record)()


def _target(target: Target) -> str:
    """A line of the targets; ends that are open, and a weight of 1, are not written."""
    ends = {name: getattr(target, name) for name in ("low", "best", "high", "weight")}
    given = [
        f"{end} = {_toml(value)}"
        for end, value in ends.items()
        if value is not None and math.isfinite(value) and (end, value) != ("weight", 1.0)
    ]
    return f"{target.quantity} = {{{', '.join(given)}}}"


def _fields(record, kind: type) -> list[str]:
    """The fields of a kind of record that are set."""
    return [
        f"{f.name} = {_toml(getattr(record, f.name))}"
        for f in dataclasses.fields(kind)
        if getattr(record, f.name) not in (None, "", ())
    ]


def _toml(value) -> str:
    """A text or a number as TOML writes it: JSON's strings are TOML's, but for the sign DEL."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, tuple):
        return f"[{', '.join(map(_toml, value))}]"
    return repr(value)

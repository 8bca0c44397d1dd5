"""Makes a batch folder of a plan, ready to log into: whole or not at all,
and never over a log that somebody has begun."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
from pathlib import Path

import pandas as pd

from candlelab.glossary import TABLES
from candlelab.logs.batch import check_batch
from candlelab.logs.problems import MUST_FIX, SETTINGS_FILE, problem_lines
from candlelab.logs.settings import CHOICES, Settings, Vessel, Wax
from candlelab.logs.writer import WritingStyle, write_batch
from candlelab.pages.publish import NotOurFolder, whole_folder
from candlelab.pages.run import ReportFailed, notebook_texts, outputs, write_text
from candlelab.plan.log_sheets import PAPERS, sheets_html
from candlelab.plan.planned import PLAN_FILE, WICKS_FILE, PlannedBatch, read_plan

NOTEBOOK = "plan_batch"
RECORD, CALENDAR = "plan.json", "schedule.ics"
SHEETS = {paper: f"log_sheets_{paper}.html" for paper in PAPERS}
_TABLES = ("candles", "burns", "checks")
BATCH = (SETTINGS_FILE, *(TABLES[name].file for name in _TABLES), WICKS_FILE)
FILES = (*BATCH, PLAN_FILE, *outputs(NOTEBOOK)[:2], RECORD, CALENDAR, *SHEETS.values())
_DIGESTS = "files"  # in the record: SHA-256 of every other file, by which a later run knows what nobody has touched


class LoggedAlready(NotOurFolder):
    """The folder holds a batch that somebody has begun to fill in."""


def make_plan(plan_file: str | Path, out: str | Path, *, progress: bool = False) -> Path:
    """Make the batch folder ``out`` of a plan; returns the path of its page.

    ``out`` gets all of ``FILES`` whole or not at all. An earlier plan there is replaced when none
    of its files has been touched since. Raises PlanError with every fault of the plan,
    LoggedAlready, NotOurFolder when ``out`` holds other files, FileNotFoundError and ReportFailed.
    The plan and its ``wicks.csv`` are never written to.
    """
    plan_file, out = Path(plan_file).resolve(), Path(os.path.abspath(out))
    planned = read_plan(plan_file)
    refuse_logged(out, planned.files)
    with whole_folder(out, FILES) as new:
        _write_batch(planned, new)
        for name, data in planned.files.items():
            (new / name).write_bytes(data)
        _refuse_unreadable(new)
        (new / CALENDAR).write_bytes(planned.calendar())
        for paper, name in SHEETS.items():
            write_text(new / name, sheets_html(planned, paper))
        book, page, record = notebook_texts(
            NOTEBOOK, {"plan_file": str(new / PLAN_FILE)}, {"plan_file": PLAN_FILE}, [], progress
        )
        for name, text in zip(outputs(NOTEBOOK), (book, page)):
            write_text(new / name, text)
        record = json.loads(record) | {_DIGESTS: _digests(new)}
        write_text(new / RECORD, json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False))
        refuse_logged(out, planned.files)
    return out / outputs(NOTEBOOK)[1]


def refuse_logged(out: Path, again: dict[str, bytes]) -> None:
    """Raise LoggedAlready when a file of ``out`` is not as a plan left
    it: a burn was logged, a fill was weighed.

    A file that is to be written ``again`` with the bytes that it has may
    stand: a plan is changed in its own folder.
    """
    present = _digests(out)
    try:
        known = json.loads((out / RECORD).read_text(encoding="utf-8"))[_DIGESTS]
    except (OSError, ValueError, KeyError, TypeError):
        known = {}
    same = {(name, hashlib.sha256(data).hexdigest()) for name, data in again.items()}
    same |= (
        set(known.items())
        if isinstance(known, dict) and all(isinstance(digest, str) for digest in known.values())
        else set()
    )
    touched = [name for name, digest in present.items() if (name, digest) not in same]
    if touched:
        raise LoggedAlready(
            f"{out} holds a batch that is not as a plan left it ({', '.join(touched)}). It stays "
            "as it is; give another folder with --out."
        )


def _digests(folder: Path) -> dict[str, str]:
    """SHA-256 of every file of a plan that is there, its record left out."""
    return {
        name: hashlib.sha256((folder / name).read_bytes()).hexdigest()
        for name in FILES
        if name != RECORD and (folder / name).is_file()
    }


def _write_batch(planned: PlannedBatch, folder: Path) -> None:
    """``batch.toml``, ``candles.csv``, and the logs without a row."""
    step = planned.plan.settings.instruments.scale_resolution_g
    tables = {"candles": planned.candles} | {
        name: _no_rows(name) for name in _TABLES if name != "candles"
    }
    write_batch(
        tables,
        batch_toml(planned.plan.settings),
        folder,
        style=WritingStyle(decimals={"g": _decimals(step)}),
    )


def _no_rows(name: str) -> pd.DataFrame:
    types = {"time": "datetime64[us]", "number": "float"}
    return pd.DataFrame(
        {
            column.name: pd.Series(dtype=types.get(column.kind, "object"))
            for column in TABLES[name].columns
        }
    )


def _decimals(step: float) -> int:
    """Decimals that a scale's step needs, from one to six."""
    return next((n for n in range(1, 6) if abs(round(step, n) - step) < 1e-9), 6)


def _refuse_unreadable(folder: Path) -> None:
    """A folder that candlelab itself would not read is not handed out."""
    problems = check_batch(folder)
    if (problems["level"] == MUST_FIX).any():
        raise ReportFailed(
            "the planned batch does not read: "
            + " ".join(problem_lines(problems[problems["level"] == MUST_FIX], 5))
        )


def batch_toml(settings: Settings) -> str:
    """``batch.toml`` of the settings, with every number in candlelab's own
    units, and no line for what is at its default."""
    lines = [
        "# Planned by candlelab from plan.toml; change it there and plan anew as long as nothing "
        "is logged."
    ]
    words = {
        f.name: getattr(settings, f.name)
        for f in dataclasses.fields(Settings)
        if isinstance(getattr(settings, f.name), str)
    }
    lines += [
        f"{key} = {_toml(value)}"
        for key, value in words.items()
        if value or key == "title" or (key in CHOICES and value)
    ]
    for name, kind in (("vessels", Vessel), ("waxes", Wax)):
        for key, record in getattr(settings, name).items():
            lines += ["", f"[{name}.{_toml(key)}]", *_fields(record, kind)]
    for name in ("protocol", "limits", "instruments"):
        lines += ["", f"[{name}]", *_fields(getattr(settings, name), type(getattr(settings, name)))]
    if settings.targets:
        lines += [
            "",
            "# In g, mm, degrees Celsius and hours, whatever the log is kept in.",
            "[targets]",
        ]
    for target in settings.targets:
        ends = {
            "low": target.low,
            "best": target.best,
            "high": target.high,
            "weight": target.weight,
        }
        given = [
            f"{end} = {_toml(v)}"
            for end, v in ends.items()
            if v is not None and abs(v) != float("inf") and (end, v) != ("weight", 1.0)
        ]
        lines.append(f"{target.quantity} = {{{', '.join(given)}}}")
    return "\n".join(lines) + "\n"


def _fields(record, kind: type) -> list[str]:
    """The fields of a kind of record that are set."""
    return [
        f"{f.name} = {_toml(getattr(record, f.name))}"
        for f in dataclasses.fields(kind)
        if getattr(record, f.name) not in (None, "")
    ]


def _toml(value) -> str:
    """A text or a number as TOML writes it: JSON's strings are TOML's, but for the sign DEL."""
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    return repr(float(value))

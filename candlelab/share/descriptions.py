"""Describes a pack for other tools: its tables one by one, and the whole of it.

- ``datapackage.json``: a Data Package (version 2) with a Table Schema for each CSV. Names, units
  and meanings come from the glossary; header, delimiter, decimal mark, encoding, dates and
  spellings are those of each file, as the reader found them. What is plausible only (and warned
  about, never refused) stands as ``plausible``; what cannot be (below zero, over 100 %) as a
  constraint.
- ``ro-crate-metadata.json``: RO-Crate 1.1 with Process Run Crate 0.5, by the library rocrate. Ids
  are fixed and no moment of the clock is in it, so the same pack gives the same bytes. The crate's
  date is the last day on which a candle burned.
"""

from __future__ import annotations

import codecs
import hashlib
import re
from dataclasses import dataclass
from datetime import datetime

import pandas as pd

from candlelab.logs.batch import Batch
from candlelab.logs.cells import style_of
from candlelab.logs.column import Column, Table
from candlelab.logs.columns import TABLES
from candlelab.logs.csv_rows import undecoded
from candlelab.logs.csv_table import columns_of, uses_comma
from candlelab.logs.csv_text import Records, read_records
from candlelab.logs.header import Match
from candlelab.logs.problems import ProblemList
from candlelab.units import UNITS, convert, split_unit

PACKAGE_SCHEMA = "https://datapackage.org/profiles/2.0/datapackage.json"
PROCESS_RUN = "https://w3id.org/ro/wfrun/process/0.5"
_MEDIA_TYPES = {
    ".csv": "text/csv",
    ".jsonl": "application/jsonl",
    ".toml": "application/toml",
    ".json": "application/json",
    ".ipynb": "application/x-ipynb+json",
    ".html": "text/html",
    ".txt": "text/plain",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".xlsm": "application/vnd.ms-excel.sheet.macroEnabled.12",
    ".ods": "application/vnd.oasis.opendocument.spreadsheet",
}
_TRUE, _FALSE = ("yes", "y", "true", "1", "x"), ("no", "n", "false", "0")
_DAYS = ("%Y-%m-%d", "%d.%m.%Y")
_CLOCKS = ("%H:%M", "%H:%M:%S", "%H:%M%z", "%H:%M:%S%z")
_POINT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?(\d+[.,]?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_MANY_WAYS = "written in more than one way, or with its unit; candlelab reads each"
_MOMENT = re.compile(r"([^\sTt]+)((?:\s+|[Tt])\S+)")
_SLASHED = {"day/month/year": ("%d/%m/%Y",), "month/day/year": ("%m/%d/%Y",)}


def encoding_of(data: bytes) -> tuple[str, bytes]:
    """Encoding of a file that could be read, and its byte-order mark; the same choice as
    ``csv_text.decode``."""
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
    ):
        if data.startswith(mark):
            return name, mark
    return ("cp1252" if undecoded(data, "utf-8") else "utf-8"), b""


def describe_batch(
    batch: Batch, files: dict[str, bytes], *, prefix: str = "", name: str = ""
) -> list[dict]:
    """One resource for each table of a batch that was read; ``files`` are its bytes by file name.

    ``prefix`` goes before each path, ``name`` before each resource's name.
    """
    found = []
    for spec in TABLES.values():
        if spec.file in files:
            resource = _resource(
                spec, files[spec.file], batch, prefix, f"{name}-{spec.name}" if name else spec.name
            )
            if resource:
                found.append(resource)
    return found


def data_package(name: str, title: str, description: str, resources: list[dict]) -> dict:
    """The whole of ``datapackage.json``; ``name`` is brought to the letters that the standard
    allows."""
    return {
        "$schema": PACKAGE_SCHEMA,
        "name": package_name(name),
        "title": title,
        "description": description,
        "resources": resources,
    }


def package_name(text: str) -> str:
    """A name in small Latin letters, digits, dots and hyphens, as the standard asks."""
    return re.sub(r"[^a-z0-9._-]+", "-", text.lower()).strip("-.") or "batch"


def _resource(spec: Table, data: bytes, batch: Batch, prefix: str, name: str) -> dict | None:
    style = style_of(batch.settings)
    records = read_records(data, spec.file, ProblemList())
    found = None if records is None else columns_of(spec, records, style)
    if records is None or found is None:
        return None
    encoding, mark = encoding_of(data)
    fields, by_place = [], {match.place: match for match in found.values()}
    comma = uses_comma(records, found)
    for place, header in enumerate(records.header):
        fields.append(
            _field(records, place, header, by_place.get(place), comma, batch.settings.slash_dates)
        )
    key = [found[column].header for column in spec.key if column in found]
    schema = {"fields": fields, "missingValues": [""]}
    if len(key) == len(spec.key) and all(spec.column(column).required for column in spec.key):
        schema["primaryKey"] = key
    dialect = {
        "delimiter": records.delimiter,
        "quoteChar": '"',
        "doubleQuote": True,
        "header": True,
    }
    if records.header_row != 1:
        dialect["headerRows"] = [records.header_row]
    resource = {
        "name": package_name(name),
        "path": f"{prefix}{spec.file}",
        "type": "table",
        "title": spec.name.replace("_", " "),
        "description": f"One row is {spec.row_is}.",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-16" if encoding.startswith("utf-16") else encoding,
        "byteOrderMark": bool(mark),
        "bytes": len(data),
        "hash": f"sha256:{hashlib.sha256(data).hexdigest()}",
        "rows": len(records.lines),
        "dialect": dialect,
        "schema": schema,
    }
    if batch.settings.time_zone and any(column.kind == "time" for column in spec.columns):
        resource["timeZone"] = batch.settings.time_zone
    return resource


def _field(
    records: Records, place: int, header: str, match: Match | None, comma: bool, slash_dates: str
) -> dict:
    texts = [text for text in records.columns[place].texts if text]
    if match is None:
        return {"name": header, "type": "string", "description": "Not read by candlelab."}
    column = match.column
    kind = _kind(column, texts, comma, slash_dates)
    field = {
        "name": header,
        **kind,
        "title": column.label,
        "description": column.meaning,
        "candlelabName": column.name,
    }
    if match.unit:
        field["unit"] = UNITS[match.unit].symbol
    limits = _limits(column, match.unit, kind["type"])
    if column.required:
        limits["required"] = True
    if column.choices:
        limits["enum"] = sorted({*column.choices, *texts})
    if limits:
        field["constraints"] = limits
    if column.low is not None and column.high is not None and column.kind in ("number", "whole"):
        field["plausible"] = {
            "minimum": _converted(column, column.low, match.unit),
            "maximum": _converted(column, column.high, match.unit),
        }
    return field


def _kind(column: Column, texts: list[str], comma: bool, slash_dates: str) -> dict:
    """Type of a field and how its cells are written."""
    if column.kind == "whole" and all(re.fullmatch(r"[+-]?\d+", text, re.ASCII) for text in texts):
        return {"type": "integer"}
    if column.kind in ("number", "whole"):
        plain = _COMMA if comma else _POINT
        if all(plain.fullmatch(text) for text in texts):
            return {"type": "number", "decimalChar": "," if comma else "."}
        return {"type": "string", "comment": _MANY_WAYS}
    if column.kind == "flag":
        return {
            "type": "boolean",
            "trueValues": _spelled(texts, _TRUE),
            "falseValues": _spelled(texts, _FALSE),
        }
    if column.kind in ("time", "date"):
        pattern = _pattern(texts, column.kind, slash_dates)
        if pattern:
            return {"type": "datetime" if column.kind == "time" else "date", "format": pattern}
        return {"type": "string", "comment": _MANY_WAYS}
    return {"type": "string"}


def _spelled(texts: list[str], words: tuple[str, ...]) -> list[str]:
    return [
        *words,
        *sorted({text for text in texts if text.casefold() in words and text not in words}),
    ]


def _pattern(texts: list[str], kind: str, slash_dates: str) -> str | None:
    """The one pattern by which all the texts are dates, or dates and times; None where no one
    does."""
    texts = _to_be_tried(texts)
    days = (*_DAYS, *_SLASHED.get(slash_dates, ()))
    patterns = (
        days
        if kind == "date"
        else [f"{day}{mark}{clock}" for day in days for mark in (" ", "T") for clock in _CLOCKS]
    )
    for pattern in patterns:
        try:
            for text in texts:
                datetime.strptime(text, pattern)
        except ValueError:
            continue
        return pattern
    return None


def _to_be_tried(texts: list[str]) -> list[str]:
    """Texts of which one pattern holds where it holds of all: each day and each clock time once."""
    some: dict[tuple[int, str], str] = {}
    for text in texts:
        moment = _MOMENT.fullmatch(text)
        for place, part in enumerate(moment.groups() if moment else ("", "", text)):
            some.setdefault((place, part), text)
    return list(dict.fromkeys(some.values()))


def _limits(column: Column, unit: str | None, written: str) -> dict:
    """What cannot be: the reader refuses it, whatever the plausible range says."""
    if column.kind == "whole" and written != "string":
        low = column.low or 0
        return {"minimum": int(low) if written == "integer" else low}
    if column.kind != "number" or written != "number":
        return {}
    own = split_unit(column.name)[1]
    limits = {
        "minimum": _converted(
            column, -273.15 if own and UNITS[own].dimension == "temperature" else 0.0, unit
        )
    }
    if own == "pct":
        limits["maximum"] = 100.0
    return limits


def _converted(column: Column, value: float, unit: str | None) -> float:
    """A canonical value in the file's unit, to six digits."""
    own = split_unit(column.name)[1]
    return float(f"{convert(float(value), own, unit) if own and unit else float(value):.6g}")


def first_and_last_day(batches: list[Batch]) -> tuple[str, str]:
    """First and last day on which a candle burned, year first; the batches' own dates, never the
    clock's."""
    lit = pd.concat([batch.burns["lit_at"].dt.strftime("%Y-%m-%d") for batch in batches])
    out = pd.concat([batch.burns["out_at"].dt.strftime("%Y-%m-%d") for batch in batches])
    return (str(lit.min()), str(out.max())) if len(lit) else ("1980-01-01", "1980-01-01")


@dataclass(frozen=True)
class Run:
    """One report in the pack: what went in, what ran, what came out, all by their names in the
    pack."""

    name: str
    title: str
    studio: str
    inputs: tuple[str, ...]
    notebook: str
    outputs: tuple[str, ...]
    parameters: tuple[tuple[str, str], ...]
    version: str


def crate_metadata(
    title: str, description: str, day: str, runs: list[Run], names: dict[str, str]
) -> dict:
    """The crate as plain data. ``names`` gives every file of the pack with a few words on it."""
    from rocrate.rocrate import ROCrate

    crate = ROCrate(version="1.1")
    crate.name, crate.description, crate.datePublished = title, description, day
    crate.license = _add(
        crate,
        "#licence",
        "CreativeWork",
        name="No licence is named",
        description="Ask the studio before passing this on.",
    )
    crate.root_dataset["conformsTo"] = _add(
        crate, PROCESS_RUN, "CreativeWork", name="Process Run Crate", version="0.5"
    )
    named = dict.fromkeys(run.studio for run in runs if run.studio)
    studios = {
        name: _add(crate, f"#studio-{n}", "Organization", name=name)
        for n, name in enumerate(named, start=1)
    }
    if studios:
        crate.root_dataset["author"] = crate.publisher = _one(list(studios.values()))
    files = _add_files(crate, runs, names)
    programs = {
        v: _add(crate, f"#candlelab-{v}", "SoftwareApplication", name="candlelab", version=v)
        for v in dict.fromkeys(run.version for run in runs)
    }
    actions = [
        _add_run(crate, n, run, files, programs[run.version], studios.get(run.studio))
        for n, run in enumerate(runs, start=1)
    ]
    crate.root_dataset["mentions"] = _one(actions)
    return crate.metadata.generate()


def _add(crate, identifier: str, kind: str, **properties):
    """An entity of the crate; properties without a value are left out."""
    from rocrate.model.contextentity import ContextEntity

    entity = crate.add(ContextEntity(crate, identifier, properties={"@type": kind}))
    for key, value in properties.items():
        if value not in ("", [], None):
            entity[key] = value
    return entity


def _add_files(crate, runs: list[Run], names: dict[str, str]) -> dict:
    notebooks, files = {run.notebook: run.version for run in runs}, {}
    for path, words in sorted(names.items()):
        media_type = _MEDIA_TYPES["." + path.rpartition(".")[2].lower()]
        properties: dict[str, object] = {"name": words, "encodingFormat": media_type}
        if path in notebooks:
            properties |= {
                "@type": ["File", "SoftwareSourceCode"],
                "programmingLanguage": "Python",
                "version": notebooks[path],
            }
        files[path] = crate.add_file(dest_path=path, properties=properties)
    return files


def _add_run(crate, n: int, run: Run, files: dict, program, studio):
    values = [
        _add(crate, f"#run-{n}-parameter-{m}", "PropertyValue", name=key, value=value)
        for m, (key, value) in enumerate(run.parameters, start=1)
    ]
    return _add(
        crate,
        f"#run-{n}",
        "CreateAction",
        name=f"Report on {run.name}",
        instrument=program,
        agent=studio,
        description=f"candlelab {run.version} read the tables of “{run.title}”, worked out the "
        "numbers and made the page.",
        object=[*(files[name] for name in run.inputs), *values],
        result=[files[name] for name in run.outputs],
        actionStatus="http://schema.org/CompletedActionStatus",
    )


def _one(values: list):
    return values[0] if len(values) == 1 else values

"""Says in plain words in what two packs differ: recipe, settings, data, parameters, versions,
numbers."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import pandas as pd

from candlelab.logs.column import Column, Table
from candlelab.logs.columns import TABLES
from candlelab.logs.settings import Settings
from candlelab.pages.glossary import GLOSSARY
from candlelab.pages.leftovers import own_folder
from candlelab.share.agreement import compare_records
from candlelab.share.contents import ENVIRONMENT, REQUIREMENTS, PackedBatch
from candlelab.share.environment import pinned_versions
from candlelab.share.read import load_pack
from candlelab.text import capital, listed
from candlelab.units import unit_symbol

SECTIONS = ("recipe", "settings", "data", "parameters", "versions", "numbers")
_RECIPE = ("vessel", "wax", "fragrance", "fragrance_load_pct", "dye", "wick_count", "wax_lot")


def pack_differences(one: str | Path, other: str | Path) -> pd.DataFrame:
    """Say in what two packs differ: recipe, settings, data, parameters, versions, numbers.

    Batches are paired by their names; where each pack has one batch, the two are a pair. Nothing in
    the packs is run.

    Parameters
    ----------
    one, other : str or Path
        The zip files; the first is called A, the other B.

    Returns
    -------
    pandas.DataFrame
        One row per difference: ``section`` (see ``SECTIONS``), ``batch``, and ``what`` in words.

    Raises
    ------
    UnsafePack
        For a pack that is not whole or was changed.
    OSError
        When a file cannot be opened.

    Examples
    --------
    >>> from candlelab import pack_differences
    >>> len(pack_differences("confirmation.zip", "confirmation.zip"))  # doctest: +SKIP
    0
    """
    rows: list[tuple[str, str, str]] = []
    with own_folder("diff") as work:
        sides = []
        for name, path in (("A", one), ("B", other)):
            (work / name).mkdir()
            sides.append(load_pack(path, work / name))
    (batches_a, parameters_a, files_a), (batches_b, parameters_b, files_b) = sides
    for a, b in _pairs(batches_a, batches_b, rows):
        label = a.name if a.name == b.name else f"{a.name} and {b.name}"
        said = {
            "recipe": _recipe(a, b),
            "settings": _settings(a.batch.settings, b.batch.settings),
            "data": _data(a, b),
            "parameters": _parameters(a, b, parameters_a, parameters_b),
            "numbers": _numbers(a, b),
            "versions": _versions(a.record["versions"], b.record["versions"], "report made with "),
        }
        rows += [(section, label, words) for section, lines in said.items() for words in lines]
    rows += [("versions", "", words) for words in _packages(files_a, files_b)]
    if (
        not any(row[0] == "versions" for row in rows)
        and files_a[ENVIRONMENT] != files_b[ENVIRONMENT]
    ):
        words = "Packed by another code of candlelab under the same version, or on another kind of"
        rows.append(("versions", "", f"{words} computer."))
    rows.sort(key=lambda row: SECTIONS.index(row[0]))
    return pd.DataFrame(rows, columns=["section", "batch", "what"]).astype("str")


def _packages(one: dict[str, bytes], other: dict[str, bytes]) -> list[str]:
    a, b = (files[REQUIREMENTS].decode("utf-8", "replace") for files in (one, other))
    return _versions(pinned_versions(a), pinned_versions(b), "packed beside ")


def _pairs(
    batches_a: list[PackedBatch], batches_b: list[PackedBatch], rows: list
) -> list[tuple[PackedBatch, PackedBatch]]:
    if len(batches_a) == len(batches_b) == 1:
        return [(batches_a[0], batches_b[0])]
    by_name = {batch.name: batch for batch in batches_b}
    pairs = [(a, by_name.pop(a.name)) for a in batches_a if a.name in by_name]
    paired = {a.name for a, _ in pairs}
    rows += [
        ("data", batch.name, "This batch is only in A.")
        for batch in batches_a
        if batch.name not in paired
    ]
    rows += [("data", name, "This batch is only in B.") for name in by_name]
    return pairs


def _recipe(a: PackedBatch, b: PackedBatch) -> list[str]:
    """What was poured: distinct values over the candles, and the wicks."""
    said = []
    one, other = a.batch.candles, b.batch.candles
    for name in _RECIPE:
        values = [sorted({_shown(name, value) for value in table[name]}) for table in (one, other)]
        if values[0] != values[1]:
            said.append(
                f"{capital(GLOSSARY[name].label)}: {listed(values[0], 99)} in A, "
                f"{listed(values[1], 99)} in B."
            )
    wicks = [set(table["wick_series"] + " " + table["wick_size"]) for table in (one, other)]
    said += [
        f"The wick {wick} was tested only in {side}."
        for side, only in (("A", wicks[0] - wicks[1]), ("B", wicks[1] - wicks[0]))
        for wick in sorted(only)
    ]
    if len(one) != len(other):
        said.append(f"{len(one)} candles in A, {len(other)} in B.")
    return said


def _settings(a: Settings, b: Settings) -> list[str]:
    """What ``batch.toml`` says."""
    one, other = (_flat(dataclasses.asdict(settings)) for settings in (a, b))
    return [
        f"{name}: {_value(name, one.get(name))} in A, {_value(name, other.get(name))} in B."
        for name in dict.fromkeys([*one, *other])
        if one.get(name) != other.get(name)
    ]


def _flat(values: dict, before: str = "") -> dict:
    """Nested settings as ``limits.wall_stop_c``."""
    flat: dict = {}
    for key, value in values.items():
        if key == "targets":
            value = {
                target["quantity"]: {end: target[end] for end in ("low", "high")}
                for target in value
            }
        if isinstance(value, dict):
            flat |= _flat(value, f"{before}{key}.")
        else:
            flat[f"{before}{key}"] = value
    return flat


def _value(name: str, value) -> str:
    if value is None or value == "" or (isinstance(value, float) and math.isinf(value)):
        return "not given"
    unit = unit_symbol(
        name if name.rpartition(".")[2] not in ("low", "high") else name.rpartition(".")[0]
    )
    return f"{value:g} {unit}".strip() if isinstance(value, float) else f"“{value}”"


def _data(a: PackedBatch, b: PackedBatch) -> list[str]:
    """Rows and cells of the logs, in candlelab's own units, whatever the units of the files."""
    said = []
    for spec in TABLES.values():
        one, other = (_by_key(spec, getattr(packed.batch, spec.name)) for packed in (a, b))
        for key in [*one, *(key for key in other if key not in one)]:
            if key not in one or key not in other:
                said.append(f"{spec.file}: {key} is only in {'A' if key in one else 'B'}.")
                continue
            for column in spec.columns:
                left, right = one[key][column.name], other[key][column.name]
                if not _same(left, right):
                    said.append(
                        f"{spec.file}: {key}: {column.label} {_written(column, left)} in A, "
                        f"{_written(column, right)} in B."
                    )
    unread = [name for name in a.files.keys() & b.files.keys() if a.files[name] != b.files[name]]
    if unread and not said:
        said += [
            f"{name}: its bytes differ; what was read from it does not." for name in sorted(unread)
        ]
    return said


def _by_key(spec: Table, table: pd.DataFrame) -> dict[str, dict]:
    rows = {}
    for row in table.to_dict("records"):
        key = ", ".join(
            f"{GLOSSARY[name].label} {_shown(name, row[name])}"
            for name in spec.key
            if not _missing(row[name]) and row[name] != ""
        )
        while key in rows:
            key += " (again)"
        rows[key] = row
    return rows


def _missing(value) -> bool:
    return (
        value is None
        or value is pd.NaT
        or value is pd.NA
        or (isinstance(value, float) and math.isnan(value))
    )


def _same(left, right) -> bool:
    if _missing(left) or _missing(right):
        return _missing(left) and _missing(right)
    if isinstance(left, float) and isinstance(right, float):
        return math.isclose(left, right, rel_tol=1e-9, abs_tol=1e-9)
    return left == right


def _shown(name: str, value) -> str:
    if _missing(value) or value == "":
        return "none"
    if isinstance(value, pd.Timestamp):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:.6g} {unit_symbol(name)}".strip() if isinstance(value, float) else str(value)


def _written(column: Column, value) -> str:
    """A cell of a log; what somebody wrote in words of their own stands in quotes, on one line."""
    shown = _shown(column.name, value)
    return f"“{' '.join(shown.split())}”" if column.kind == "text" and shown != "none" else shown


def _parameters(a: PackedBatch, b: PackedBatch, one: dict, other: dict) -> list[str]:
    said = []
    if one["without_notes"] != other["without_notes"]:
        said.append(
            f"{'A' if one['without_notes'] else 'B'} was packed without its notes, "
            f"{'B' if one['without_notes'] else 'A'} with them."
        )
    made = [
        next(entry["report"] for entry in parameters["batches"] if entry["name"] == packed.name)
        for packed, parameters in ((a, one), (b, other))
    ]
    if made[0] != made[1]:
        said.append(f"The report in A is “{made[0]}”, in B “{made[1]}”.")
    left, right = a.record["parameters"], b.record["parameters"]
    return said + [
        f"{name}: “{left.get(name)}” in A, “{right.get(name)}” in B."
        for name in dict.fromkeys([*left, *right])
        if left.get(name) != right.get(name)
    ]


def _versions(one: dict, other: dict, words: str) -> list[str]:
    return [
        f"{words}{name} {one.get(name, 'none')} in A, {other.get(name, 'none')} in B."
        for name in dict.fromkeys([*one, *other])
        if one.get(name) != other.get(name)
    ]


def _numbers(a: PackedBatch, b: PackedBatch) -> list[str]:
    """Results that differ by more than the tolerance of ``agreement``, then what differs and is no
    number."""
    agreement = compare_records(a.record, b.record, sides=("A", "B"))
    said = []
    for row in agreement.outside.itertuples():
        place = ", ".join(filter(None, (row.table, row.row, row.column)))
        values = [
            "none" if pd.isna(value) else f"{value:.7g} {unit_symbol(row.column)}".strip()
            for value in (row.expected, row.found)
        ]
        difference = "" if pd.isna(row.difference) else f", difference {row.difference:.3g}"
        said.append(f"{place}: {values[0]} in A, {values[1]} in B{difference}.")
    return said + agreement.words

"""Compares two records of results (``results.json``): every number with a tolerance, every text as
it is."""

from __future__ import annotations

import json
import math
from dataclasses import dataclass

import pandas as pd

from candlelab.report.results import FORMAT
from candlelab.text import is_number

# A number agrees when |found - expected| <= max(1e-6 |larger of the two|, 1e-9). Common practice,
# no source: far below what any scale or clock resolves, far above what another processor or library
# rounds.
RELATIVE, ABSOLUTE = 1e-6, 1e-9
_COLUMNS = {
    "table": "str", "row": "str", "column": "str", "expected": "float64", "found": "float64",
    "difference": "float64", "inside": "bool",
}  # fmt: skip


class NotResults(ValueError):
    """Bytes that are no results of candlelab; the message says why."""


@dataclass(frozen=True, eq=False)
class Agreement:
    """``numbers`` has one row for each number that both records may hold; ``words`` says what
    differs otherwise.

    A number on one side only has a missing value on the other and is not inside.
    """

    numbers: pd.DataFrame
    words: list[str]

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return bool(self.numbers["inside"].all()) and not self.words

    @property
    def outside(self) -> pd.DataFrame:
        """The numbers that differ by more than the tolerance."""
        return self.numbers[~self.numbers["inside"]].reset_index(drop=True)


def read_record(data: bytes) -> dict:
    """A record from the bytes of ``results.json``. Raises NotResults for anything else."""
    try:
        record = strict_json(data)
        if b"\\u" in data:  # half a character, written as \ud800, is no text
            json.dumps(record, ensure_ascii=False).encode("utf-8")
    except DoubledKey as error:
        raise NotResults(f"it has {error}") from error
    except (ValueError, RecursionError) as error:
        raise NotResults("it is no JSON text in UTF-8") from error
    if not isinstance(record, dict) or record.get("format") != FORMAT:
        raise NotResults(f"its format is not “{FORMAT}”")
    if not _has_shape(record):
        raise NotResults("its tables do not have the form of results")
    return record


class DoubledKey(ValueError):
    """JSON text in which one object names a key twice: two programs may read two things."""


def strict_json(data: bytes):
    """What JSON text in UTF-8 holds. Raises ValueError or RecursionError, for a key twice, too."""
    return json.loads(data.decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_once)


def _once(pairs: list[tuple]) -> dict:
    found = dict(pairs)
    if len(found) != len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise DoubledKey(f"the key {_said(twice)} twice in one place")
    return found


def _no_constant(name: str):
    raise ValueError(f"{name} is no number")


def _has_shape(record: dict) -> bool:
    parts = ("tables", "batch", "versions", "parameters")
    return (
        all(isinstance(record.get(part), dict) for part in parts)
        and _is_list(record.get("answer"), lambda line: isinstance(line, str))
        and all(_plain(value) for part in parts[1:3] for value in record[part].values())
        and _is_list(record.get("inputs"), lambda one: _has_texts(one, "file", "sha256"))
        and all(map(_is_table, record["tables"].values()))
    )


def _is_list(value, fits) -> bool:
    return isinstance(value, list) and all(map(fits, value))


def _has_texts(value, *names: str) -> bool:
    return isinstance(value, dict) and all(isinstance(value.get(name), str) for name in names)


def _is_table(table) -> bool:
    if not isinstance(table, dict):
        return False
    columns, rows = table.get("columns", ()), table.get("data")
    return _is_list(columns, lambda column: _has_texts(column, "name")) and _is_list(
        rows, lambda row: _is_list(row, _plain) and len(row) == len(columns)
    )


def _plain(value) -> bool:
    if value is None or isinstance(value, str | bool):
        return True
    if isinstance(value, int):
        return abs(value) < 2**63
    return isinstance(value, float) and math.isfinite(value)


def compare_records(
    expected: dict,
    found: dict,
    *,
    sides: tuple[str, str] = ("the pack", "what was worked out here"),
) -> Agreement:
    """Compare two records as ``read_record`` gives them; ``sides`` are their names in words.

    Versions, parameters and inputs are left to the caller.
    """
    numbers: list[tuple] = []
    words: list[str] = []
    _compare_row("batch", "", expected["batch"], found["batch"], numbers, words)
    if expected["answer"] != found["answer"]:
        words.append("The answer reads otherwise.")
    for name in [*expected["tables"], *(n for n in found["tables"] if n not in expected["tables"])]:
        one, other = (_rows(record["tables"].get(name)) for record in (expected, found))
        if one is None or other is None:
            words.append(f"Table {name} is only in {sides[one is None]}.")
            continue
        for key in [*one, *(key for key in other if key not in one)]:
            if key not in one or key not in other:
                words.append(f"Table {name}: the row {key} is only in {sides[key not in one]}.")
                continue
            _compare_row(name, key, one[key], other[key], numbers, words)
    return Agreement(pd.DataFrame(numbers, columns=list(_COLUMNS)).astype(_COLUMNS), words)


_COMPARED = ("format", "batch", "answer", "tables", "inputs", "parameters", "versions")


def frame_differences(expected: dict, found: dict) -> list[str]:
    """What differs between two records beside their cells, batch and answer.

    Title and decisions, what a row is, names, units and meanings of columns, the order of rows and
    columns, the list of inputs, and keys that only one of the two has. Versions and parameters are
    left to the caller.
    """
    rest = [{k: v for k, v in r.items() if k not in _COMPARED} for r in (expected, found)]
    said = list(_unlike("", *rest))
    said += _unlike("inputs", expected["inputs"], found["inputs"])
    for name in [n for n in expected["tables"] if n in found["tables"]]:
        one, other = expected["tables"][name], found["tables"][name]
        said += _unlike(f"table {name}", _frame(one), _frame(other))
        keys = [list(_rows(table) or {}) for table in (one, other)]
        if keys[0] != keys[1] and sorted(keys[0]) == sorted(keys[1]):
            said.append(f"table {name}: its rows stand in another order.")
    return said


def _frame(table: dict) -> dict:
    """A table without its cells, its columns by their places."""
    columns = {f"column {n}": c for n, c in enumerate(table["columns"], start=1)}
    return {k: v for k, v in table.items() if k not in ("columns", "data")} | columns


def _unlike(where: str, one, other):
    """Sentences on where two pieces of plain data differ, each with both sides."""
    pairs = None
    if isinstance(one, dict) and isinstance(other, dict):
        pairs = [(k, one.get(k), other.get(k)) for k in dict.fromkeys([*one, *other])]
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = [(f"number {n}", *both) for n, both in enumerate(zip(one, other, strict=True), 1)]
    if pairs is None:
        if not _alike(one, other):
            yield f"{where} is {_both(one, other)}."
        return
    for key, a, b in pairs:
        yield from _unlike(f"{where}, {key}" if where else str(key), a, b)


def _alike(one, other) -> bool:
    if is_number(one) and is_number(other):
        return math.isclose(one, other, rel_tol=RELATIVE, abs_tol=ABSOLUTE)
    return type(one) is type(other) and one == other


def _rows(table: dict | None) -> dict[str, dict] | None:
    """Rows of a table by a name made of the first columns that tell them apart; by place where none
    do."""
    if table is None:
        return None
    names = [column["name"] for column in table["columns"]]
    rows = [dict(zip(names, row, strict=True)) for row in table["data"]]
    keys = [""] * len(rows)
    for name in names[:6]:
        values = [row[name] for row in rows]
        if any(isinstance(value, float) for value in values):
            break
        keys = [
            key if value is None else f"{key}, {name} {value}" if key else f"{name} {value}"
            for key, value in zip(keys, values, strict=True)
        ]
        if all(keys) and len(set(keys)) == len(keys):
            return dict(zip(keys, rows, strict=True))
    return {f"number {n}": row for n, row in enumerate(rows, start=1)}


def _compare_row(table: str, key: str, one: dict, other: dict, numbers: list, words: list) -> None:
    for name in [*one, *(n for n in other if n not in one)]:
        a, b = one.get(name), other.get(name)
        if is_number(a) or is_number(b):
            x, y = (float(v) if is_number(v) else math.nan for v in (a, b))
            inside = math.isclose(x, y, rel_tol=RELATIVE, abs_tol=ABSOLUTE)
            numbers.append((table, key, name, x, y, y - x, inside))
        if a != b and any(v is not None and not is_number(v) for v in (a, b)):
            where = f"{table}, {key}" if key else table
            words.append(f"{where}: {name} is {_both(a, b)}.")


def _both(one, other) -> str:
    """Two values; of long texts the piece in which they begin to differ."""
    if isinstance(one, str) and isinstance(other, str):
        pairs = enumerate(zip(one, other, strict=False))
        alike = next((n for n, (a, b) in pairs if a != b), min(len(one), len(other)))
        if alike > 40:
            one, other = (f"…{text[alike - 20 :]}" for text in (one, other))
    return f"{_said(one)} against {_said(other)}"


def _said(value) -> str:
    if value is None:
        return "empty"
    text = str(value)
    return f"“{text if len(text) <= 60 else text[:59] + '…'}”"

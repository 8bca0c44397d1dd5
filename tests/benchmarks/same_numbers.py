"""Did the numbers move? Every page of the demo batches, made by an earlier commit and by this one.

``python tests/benchmarks/same_numbers.py COMMIT`` checks COMMIT out beside this tree, makes every
page of the demo batches of COMMIT with both, and says in which tables of ``results.json`` (and
``plan.json``) they differ: rows, columns, values. Headings and meanings are told apart from values.
Ends with 1 when a value differs. ``--kept FOLDER`` keeps the pages of the earlier commit there and
takes them from there the next time.
"""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BATCHES = ("screening", "confirmation", "waxes", "loads")
PICK = "square braid 2"


def pages(demo: Path) -> dict[str, list[str]]:
    """Each page by its name, with the words of its command."""
    at = {name: str(demo / name) for name in BATCHES}
    made = {f"report-{name}": ["report", at[name]] for name in BATCHES}
    for by, name in (
        ("wick", "screening"), ("wick_series", "screening"), ("wick", "confirmation"),
        ("wax", "waxes"), ("wick", "waxes"), ("fragrance_load_pct", "loads"),
    ):  # fmt: skip
        made[f"compare-{name}-{by}"] = ["compare", at[name], "--by", by]
    made["compare-two-wick"] = ["compare", at["screening"], at["confirmation"], "--by", "wick"]
    made["compare-wall"] = ["compare", at["screening"], "--by", "wick", "--metric", "wall_max_c"]
    for name in BATCHES:
        made[f"size-{name}"] = ["size", at[name]]
    made["size-two"] = ["size", at["screening"], at["confirmation"]]
    made["confirm"] = ["confirm", at["screening"], at["confirmation"]]
    made["claim-two"] = ["claim", at["screening"], at["confirmation"], "--candidate", PICK]
    made["claim-one"] = ["claim", at["screening"], "--candidate", PICK]
    made["plan"] = ["plan", str(demo / "plan" / "plan.toml")]
    return made


def make(tree: Path, demo: Path, out: Path) -> None:
    """Make every page with the candlelab in ``tree``."""
    env = os.environ | {"PYTHONPATH": str(tree)}
    for name, words in pages(demo).items():
        if not (out / name).exists():
            command = [sys.executable, "-m", "candlelab", *words, "--out", str(out / name)]
            run = subprocess.run(command, cwd=tree, env=env, capture_output=True, text=True)
            if run.returncode:
                print(f"{name}: exit {run.returncode}: {run.stderr.strip()[-300:]}")


def record(page: Path) -> dict | None:
    """The numbers of a page."""
    found = [page / file for file in ("results.json", "plan.json") if (page / file).exists()]
    return json.loads(found[0].read_text(encoding="utf-8")) if found else None


def same(a, b) -> bool:
    """Equal values; numbers to a relative 1e-9."""
    if isinstance(a, float | int) and isinstance(b, float | int) and not isinstance(a, bool):
        return math.isclose(a, b, rel_tol=1e-9, abs_tol=1e-12)
    return a == b


def differences(old: dict | None, new: dict | None) -> tuple[int, int, list[str], list[str]]:
    """Tables and values compared; what differs in values; what differs in headings and meanings."""
    if old is None or new is None:
        return (
            0,
            0,
            [] if old is new else [f"made by {'the later' if old is None else 'the earlier'} only"],
            [],
        )
    values, headings, n = [], [], 0
    for name, table in old["tables"].items():
        if name not in new["tables"]:
            values.append(f"{name}: gone")
            continue
        other = new["tables"][name]
        columns, others = ([c["name"] for c in t["columns"]] for t in (table, other))
        if len(table["data"]) != len(other["data"]):
            values.append(f"{name}: {len(table['data'])} rows, now {len(other['data'])}")
            continue
        for column in columns:
            if column not in others:
                values.append(f"{name}.{column}: gone")
                continue
            i, j = columns.index(column), others.index(column)
            pairs = [(x[i], y[j]) for x, y in zip(table["data"], other["data"], strict=True)]
            n += len(pairs)
            moved = [(x, y) for x, y in pairs if not same(x, y)]
            if moved:
                values.append(
                    f"{name}.{column}: {len(moved)} of {len(pairs)}, {moved[0][0]!r} was, "
                    f"{moved[0][1]!r} is"
                )
            if table["columns"][i] != other["columns"][j]:
                headings.append(f"{name}.{column}")
        headings += [f"{name}.{column} is new" for column in others if column not in columns]
    headings += [f"table {name} is new" for name in new["tables"] if name not in old["tables"]]
    return len(old["tables"]), n, values, headings


def main() -> int:
    commit = sys.argv[1]
    with tempfile.TemporaryDirectory() as own:
        kept = (
            Path(sys.argv[sys.argv.index("--kept") + 1])
            if "--kept" in sys.argv
            else Path(own) / "old"
        )
        tree, new = Path(own) / "tree", Path(own) / "new"
        subprocess.run(["git", "clone", "-q", str(ROOT), str(tree)], check=True)
        subprocess.run(["git", "checkout", "-q", commit], cwd=tree, check=True)
        demo = tree / "data" / "demo"
        make(tree, demo, kept)
        make(ROOT, demo, new)
        tables = numbers = moved = 0
        for name in pages(demo):
            t, n, values, headings = differences(record(kept / name), record(new / name))
            tables, numbers, moved = tables + t, numbers + n, moved + len(values)
            for line in values:
                print(f"{name}: {line}")
            if headings:
                print(f"{name}: only headings or meanings, or new: {', '.join(headings)}")
        print(
            f"{tables} tables with {numbers} values compared; {moved} columns or tables differ "
            "in values."
        )
    return 1 if moved else 0


if __name__ == "__main__":
    sys.exit(main())

"""The notebooks that came in a pack: whether this candlelab can run them, and running them.

Running one is running its sender's code. To see whether it can be run it is read as text, like
everything else in a pack.
"""

from __future__ import annotations

import ast
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path

from packaging.version import InvalidVersion, Version

from candlelab.archive import UnsafePack, write_files
from candlelab.pages.leftovers import own_folder
from candlelab.pages.run import NOTEBOOK, RESULTS, record_of, run_notebook
from candlelab.share import contents
from candlelab.share.agreement import Agreement, compare_records, read_record
from candlelab.share.contents import BATCHES, REPORTS
from candlelab.share.environment import candlelab_version, code_digest
from candlelab.share.pack import read_pack
from candlelab.share.read import batch_names, json_of
from candlelab.text import clip, listed


class OtherCandlelab(ValueError):
    """The notebooks of a pack are those of another candlelab; the message names both."""


def check_packed_notebooks(path: str | Path) -> None:
    """Raise OtherCandlelab when a notebook of a pack asks for parts of candlelab that are not here.

    Nothing of the pack is run. Raises UnsafePack, NotResults and OSError as well.
    """
    _checked(read_pack(Path(path)))


def run_packed_notebooks(path: str | Path, *, progress: bool = False) -> dict[str, Agreement]:
    """Run the notebooks that came in a pack and compare what they show with its results, batch by
    batch.

    This runs the code of whoever made the pack, with all that you may do on this computer. Call it
    for a pack that ``verify_pack`` passed, and whose sender you trust. Raises OtherCandlelab before
    anything runs, UnsafePack, NotResults, ReportFailed and OSError.
    """
    files = read_pack(Path(path))
    records, agreements = _checked(files), {}
    with own_folder("run") as work:
        write_files(work, files)
        for name, expected in records.items():
            batch = work / BATCHES / name
            book = run_notebook(
                work / REPORTS / name / NOTEBOOK, {"batch_folder": str(batch)}, progress=progress
            )
            found = read_record(contents.json_bytes(record_of(book)))
            agreements[name] = compare_records(expected, found)
    return agreements


def _checked(files: dict[str, bytes]) -> dict[str, dict]:
    """The results of each batch, once it is sure that its notebook can be run."""
    names = batch_names(json_of(files.get(contents.PARAMETERS, b"")))
    if names is None:
        raise UnsafePack(f"{contents.PARAMETERS} is not what a pack holds")
    records = {n: read_record(files.get(f"{REPORTS}/{n}/{RESULTS}", b"")) for n in names}
    for name, record in records.items():
        if gone := _missing(files.get(f"{REPORTS}/{name}/{NOTEBOOK}", b"")):
            raise OtherCandlelab(_words(name, gone, record, files))
    return records


def _words(name: str, gone: list[str], record: dict, files: dict[str, bytes]) -> str:
    environment = json_of(files.get(contents.ENVIRONMENT, b""))
    digest = environment.get("candlelab_code_sha256") if isinstance(environment, dict) else None
    then, here = clip(record["versions"].get("candlelab", "unknown"), 40), candlelab_version()
    age = "a newer" if _is_newer(then, here) else "an older"
    return (
        f"The notebook of {clip(name)} belongs to {age} version of candlelab, {then} (code SHA-256 "
        f"{clip(digest or 'not given', 64)}). It asks for {clip(listed(gone), 400)}, which "
        f"candlelab {here} here (code SHA-256 {code_digest()}) does not have. It is not run. Its "
        "numbers are checked without it; to run it, install its version in a place of its own."
    )


def _is_newer(then: str, here: str) -> bool:
    try:
        return Version(then) > Version(here)
    except InvalidVersion:
        return False


def _missing(notebook: bytes) -> list[str]:
    """Parts of candlelab that a notebook imports and that are not here; it is only read."""
    book = json_of(notebook)
    asked: dict = {}
    cells = book.get("cells") if isinstance(book, dict) else None
    for cell in cells if isinstance(cells, list) else []:
        if isinstance(cell, dict) and cell.get("cell_type") == "code":
            source = cell.get("source")
            lines = source if isinstance(source, list) else [source]
            asked |= dict.fromkeys(_asked("".join(line for line in lines if isinstance(line, str))))
    return list(dict.fromkeys(name for module in asked if (name := _first_missing(*module))))


def _asked(source: str) -> list[tuple[str, str]]:
    """Modules of candlelab, and names from them, that a source imports."""
    try:
        nodes = list(ast.walk(ast.parse(source)))
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return []
    found = [(a.name, "") for node in nodes if isinstance(node, ast.Import) for a in node.names]
    found += [
        (node.module or "", alias.name)
        for node in nodes
        if isinstance(node, ast.ImportFrom) and not node.level
        for alias in node.names
    ]
    return [pair for pair in found if pair[0].partition(".")[0] == "candlelab"]


def _first_missing(module: str, name: str) -> str:
    """The module, or the name in it, that is not here; empty where both are."""
    if not _is_module(module):
        return module
    if name in ("", "*") or _is_module(f"{module}.{name}"):
        return ""
    return "" if name in dir(import_module(module)) else f"{module}.{name}"


def _is_module(name: str) -> bool:
    try:
        return find_spec(name) is not None
    except (ImportError, ValueError):
        return False

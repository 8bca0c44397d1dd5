"""Runs a notebook on a batch and leaves the executed notebook, one HTML page and results.json.

The only user of papermill and nbconvert. Imports of both wait until a report is made.
"""

from __future__ import annotations

import html
import json
import re
import sys
from collections.abc import Callable
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from candlelab.pages.kernel import NoKernel, executed

RESULTS = "results.json"
REPORT = "batch_report"


def outputs(name: str) -> tuple[str, str, str]:
    """The three files that the notebook of that name leaves."""
    return f"{name}.ipynb", f"{name}.html", RESULTS


OUTPUTS = NOTEBOOK, PAGE, _ = outputs(REPORT)


class ReportFailed(RuntimeError):
    """The notebook could not be run; the message says in which cell and why."""


class CellFailed(ReportFailed):
    """A cell of the notebook raised an error: its name and its message."""

    def __init__(self, message: str, ename: str, evalue: str) -> None:
        super().__init__(message)
        self.ename, self.evalue = ename, evalue


def slug(name: str) -> str:
    """A folder name that is safe everywhere, made of a batch folder's name."""
    return re.sub(r"[^\w.-]+", "-", name).strip("-.") or "batch"


def notebook_texts(
    name: str, parameters: dict, near: dict, batches: list[str], progress: bool = False
) -> tuple[str, str, str]:
    """Run a notebook of ours: the texts of its three files.

    The notebook is kept with the parameters ``near``; ``batches`` stand behind the page's title.
    """
    book = run_notebook(shipped("notebooks") / outputs(name)[0], parameters, progress=progress)
    record = record_of(book)
    _make_portable(book, near)
    kept = json.dumps(book, indent=1, ensure_ascii=False, sort_keys=True)
    page = page_of(book, " ".join([record["title"], ", ".join(batches)]).strip())
    return kept, page, json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)


def write_text(path: Path, text: str) -> None:
    """Text into a file, with a line end at its end, the same bytes on every system."""
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def _papermill():
    """papermill, imported without the slow grammar of jsonschema for a check Jupyter never uses."""
    sys.modules.setdefault("rfc3987_syntax", None)
    import papermill

    return papermill


def run_notebook(notebook: Path, parameters: dict, *, progress: bool = False):
    """The executed notebook, one of ours, with the parameters given; writes nothing.

    Raises ValueError for a parameter that the notebook has not or whose type differs, and
    ReportFailed when it cannot be run.
    """
    path = str(notebook).replace("{", "{{").replace("}", "}}")

    def papermill():
        found = _papermill()
        _refuse_unknown(notebook, found.inspect_notebook(path), parameters)
        return found

    try:
        return executed(papermill, path, parameters, progress, _exporter)
    except NoKernel as error:
        raise ReportFailed(f"{notebook.name}: {error}") from error
    except Exception as error:
        # by name: papermill may be what could not be imported
        if type(error).__name__ != "PapermillExecutionError":
            raise
        raise _cell_failed(notebook, error) from error


def _cell_failed(notebook: Path, error: Any) -> CellFailed:
    """What papermill's error says, in our words."""
    where = f"{notebook.name}, cell {error.cell_index + 1}"
    lines = [line.strip() for line in error.evalue.splitlines() if line.strip()]
    said = f"{error.ename}: {lines[-1] if lines else ''}"
    if not error.evalue and error.ename == "CellExecutionError":
        said = "it ended and did not say why. Is there enough memory?"
    return CellFailed(f"{where}: {said}", error.ename, error.evalue)


def _refuse_unknown(notebook: Path, known: dict, parameters: dict) -> None:
    """Raise ValueError for a parameter that the notebook has not, or whose type differs."""
    for name, value in parameters.items():
        if name not in known:
            raise ValueError(
                f"{notebook.name} has no parameter {name!r}; it has {', '.join(known)}."
            )
        wanted, given = known[name]["inferred_type_name"], type(value).__name__
        if wanted != given:
            raise ValueError(f"{notebook.name}: {name} is a {wanted}, not a {given}.")


def record_of(book) -> dict:
    """The record that the notebook's last cell showed."""
    for cell in reversed(book.cells):
        for output in cell.get("outputs", []):
            if "application/json" in output.get("data", {}):
                return output["data"]["application/json"]
    raise ReportFailed("the notebook ended without its results")


def _make_portable(book, parameters: dict) -> None:
    """Take times, paths and random names out of a run notebook: it is shared and compared.

    What libraries say on the side goes too ("building the font cache", a warning with its file).
    """
    book.metadata.pop("papermill", None)
    for cell in book.cells:
        cell.metadata.pop("papermill", None)
        cell.metadata.pop("execution", None)
        if "outputs" in cell:
            cell["outputs"] = [one for one in cell["outputs"] if one.get("name") != "stderr"]
        if "injected-parameters" in cell.metadata.get("tags", []):
            cell["id"] = "injected-parameters"
            given = [f"{name} = {json.dumps(value)}" for name, value in parameters.items()]
            cell["source"] = "\n".join(["# Parameters", *given])


def page_of(book, title: str) -> str:
    """One HTML page of an executed notebook: no script, nothing loaded from elsewhere."""
    return _exporter()(book, resources={"page_title": html.unescape(title)})[0]


@lru_cache
def _exporter() -> Callable:
    """What makes pages; it takes a while to import."""
    from nbconvert import HTMLExporter, TemplateExporter
    from nbformat.v4 import new_notebook

    exporter = HTMLExporter(
        extra_template_basedirs=[str(Path(__file__).resolve().parent / "templates")],
        template_name="candlelab",
        exclude_input=True,
        exclude_input_prompt=True,
        exclude_output_prompt=True,
        exclude_anchor_links=True,
    )
    # not HTMLExporter's own, which parses the finished page again for alt texts that ours has
    convert = partial(TemplateExporter.from_notebook_node, exporter)
    convert(new_notebook())  # reads the templates
    return convert


_PACKAGE = Path(__file__).resolve().parents[1]


def shipped(name: str) -> Path:
    """Path of ``notebooks`` or ``data/demo``, inside the installed package or in a checkout.

    Raises FileNotFoundError when it is in neither place.
    """
    for base in (_PACKAGE, _PACKAGE.parent):
        if (base / name).exists():
            return base / name
    raise FileNotFoundError(
        f"{name} is missing from this installation of candlelab: install it again."
    )


def demo_folder(name: str) -> Path:
    """Folder of a demo batch of an invented studio.

    Parameters
    ----------
    name : {"screening", "confirmation", "waxes", "loads"}
        Which of them.

    Returns
    -------
    pathlib.Path
        The folder; do not write to it.

    Raises
    ------
    FileNotFoundError
        When the data are missing from this installation.

    Examples
    --------
    >>> from candlelab import demo_folder, read_batch
    >>> len(read_batch(demo_folder("screening")).candles)
    18
    """
    return shipped("data/demo") / name

"""Runs a notebook on a batch and leaves the executed notebook, one HTML page and results.json.

The only user of papermill and nbconvert. Imports of both wait until a report is made.
"""

from __future__ import annotations

import html
import json
import os
import re
import sys
from pathlib import Path

from candlelab.logs import read_batch
from candlelab.publish import whole_folder
from candlelab.resources import shipped

NOTEBOOK = "batch_report.ipynb"
PAGE = "batch_report.html"
RESULTS = "results.json"
OUTPUTS = (NOTEBOOK, PAGE, RESULTS)


class ReportFailed(RuntimeError):
    """The notebook could not be run; the message says in which cell and why."""


def slug(name: str) -> str:
    """A folder name that is safe everywhere, made of a batch folder's name."""
    return re.sub(r"[^\w.-]+", "-", name).strip("-.") or "batch"


def make_report(folder: str | Path, out: str | Path, *, progress: bool = False) -> Path:
    """Report on a batch folder into ``out``; returns the path of the page.

    ``out`` gets its three files whole or not at all; an earlier report there stays until then.
    Raises BurnLogError when the batch has something to fix first, NotADirectoryError, NotOurFolder
    when ``out`` holds other files, and ReportFailed. The batch folder is never written to.
    """
    folder, out = Path(folder).resolve(), Path(os.path.abspath(out))
    if out == folder or folder in out.parents:
        raise ValueError(f"{out} is inside the batch folder, which is never written to. Give another place with --out.")
    title = read_batch(folder).settings.title
    with whole_folder(out, OUTPUTS) as new:
        book = run_notebook(shipped("notebooks") / NOTEBOOK, {"batch_folder": str(folder)}, progress=progress)
        record = _record(book)
        _make_portable(book, {"batch_folder": _from(folder, out)})
        _write(new / NOTEBOOK, json.dumps(book, indent=1, ensure_ascii=False, sort_keys=True))
        _write(new / RESULTS, json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False))
        _write(new / PAGE, page_of(book, title))
    return out / PAGE


def _from(folder: Path, out: Path) -> str:
    """The way from the report to its batch, if they lie near each other; else the batch's name.

    A long way up and down again would tell a reader how this machine's folders are named.
    """
    way = Path(os.path.relpath(folder, out))
    return way.as_posix() if way.parts.count("..") <= 2 else folder.name


def _write(path: Path, text: str) -> None:
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def _papermill():
    """papermill, imported without the slow grammar that jsonschema builds for a check Jupyter never uses."""
    sys.modules.setdefault("rfc3987_syntax", None)
    import papermill

    return papermill


def run_notebook(notebook: Path, parameters: dict[str, str], *, progress: bool = False):
    """Run a notebook of ours with the parameters given; returns the executed notebook, writes nothing.

    Raises ValueError for a parameter that the notebook has not or whose type differs, and ReportFailed
    when it cannot be run.
    """
    papermill = _papermill()
    from traitlets.config import Config

    path = str(notebook).replace("{", "{{").replace("}", "}}")
    known = papermill.inspect_notebook(path)
    for name, value in parameters.items():
        if name not in known:
            raise ValueError(f"{notebook.name} has no parameter {name!r}; it has {', '.join(known)}.")
        if known[name]["inferred_type_name"] != type(value).__name__:
            raise ValueError(f"{notebook.name}: {name} is a {known[name]['inferred_type_name']}, not a {type(value).__name__}.")
    config = Config({"KernelManager": {"transport_encryption": "auto"}})
    for attempt in range(3):
        try:
            return papermill.execute_notebook(
                path, None, parameters=parameters, progress_bar=progress, kernel_manager_class=_own_kernel(), config=config,
                shutdown_kernel="immediate", log_output=False,
            )  # fmt: skip
        except papermill.PapermillExecutionError as error:
            raise ReportFailed(f"{notebook.name}, cell {error.cell_index + 1}: {error.ename}: {error.evalue}") from error
        except RuntimeError as error:
            if attempt == 2:
                raise ReportFailed(f"{notebook.name}: the kernel did not start ({error})") from error


def _own_kernel() -> type:
    """A kernel manager that always starts this Python with this candlelab, whatever kernels the user has installed."""
    from ipykernel.kernelspec import get_kernel_dict
    from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager

    home = Path(__file__).resolve().parent.parent
    env = {} if home.name in ("site-packages", "dist-packages") else {"PYTHONPATH": os.pathsep.join([str(home), *filter(None, [os.environ.get("PYTHONPATH")])])}

    class ThisPython(KernelSpecManager):
        def get_kernel_spec(self, kernel_name):
            return KernelSpec(resource_dir="", env=env, **get_kernel_dict())

    class ThisKernel(AsyncKernelManager):
        def __init__(self, **kwargs):
            super().__init__(**kwargs)
            self.kernel_spec_manager = ThisPython(parent=self)

    return ThisKernel


def _record(book) -> dict:
    """The record that the notebook's last cell showed."""
    for cell in reversed(book.cells):
        for output in cell.get("outputs", []):
            if "application/json" in output.get("data", {}):
                return output["data"]["application/json"]
    raise ReportFailed("the notebook ended without its results")


def _make_portable(book, parameters: dict[str, str]) -> None:
    """Take times, paths and random names out of a run notebook, so that it can be shared and compared."""
    book.metadata.pop("papermill", None)
    for cell in book.cells:
        cell.metadata.pop("papermill", None)
        cell.metadata.pop("execution", None)
        if "injected-parameters" in cell.metadata.get("tags", []):
            cell["id"] = "injected-parameters"
            cell["source"] = "\n".join(["# Parameters", *(f"{name} = {json.dumps(value)}" for name, value in parameters.items())])


def page_of(book, title: str) -> str:
    """One self-contained HTML page of an executed notebook: no script, nothing loaded from elsewhere."""
    from nbconvert import HTMLExporter

    exporter = HTMLExporter(
        extra_template_basedirs=[str(Path(__file__).resolve().parent / "templates")], template_name="candlelab",
        exclude_input=True, exclude_input_prompt=True, exclude_output_prompt=True, exclude_anchor_links=True,
    )  # fmt: skip
    body, _ = exporter.from_notebook_node(book, resources={"page_title": html.unescape(title)})
    return body

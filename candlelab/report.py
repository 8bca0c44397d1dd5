"""Runs a notebook on a batch and leaves the executed notebook, one HTML page and results.json.

The only user of papermill and nbconvert. Imports of both wait until a report is made.
"""

from __future__ import annotations

import html
import json
import os
import re
import sys
import tempfile
from pathlib import Path

from candlelab.logs import read_batch, refuse_unburnt
from candlelab.publish import whole_folder
from candlelab.resources import shipped

RESULTS = "results.json"
REPORT = "batch_report"
CONFIRMATION = "confirm_pick"
COMPARISONS = {"wick": "compare_wicks", "wick_series": "compare_wicks", "wax": "compare_waxes", "fragrance_load_pct": "compare_fragrance_loads"}


def outputs(name: str) -> tuple[str, str, str]:
    """The three files that the notebook of that name leaves."""
    return f"{name}.ipynb", f"{name}.html", RESULTS


OUTPUTS = NOTEBOOK, PAGE, _ = outputs(REPORT)


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
    _refuse_inside(out, folder)
    batch = read_batch(folder)
    refuse_unburnt(batch)
    near = {"batch_folder": _from(folder, out)}
    return _make(REPORT, out, {"batch_folder": str(folder)}, near, batch.settings.title, progress)


def make_comparison(folders: list[str | Path], out: str | Path, *, by: str, metric: str, progress: bool = False) -> Path:
    """Compare the batches in ``folders`` by ``wick``, ``wick_series``, ``wax`` or ``fragrance_load_pct``; returns the path of the page.

    ``out`` and the errors are as in ``make_report``; ValueError for another ``by`` or ``metric``.
    """
    from candlelab.questions import METRICS

    for word, given, known in (("--by", by, COMPARISONS), ("--metric", metric, METRICS)):
        if given not in known:
            raise ValueError(f"{word} must be one of {', '.join(known)}, not {given!r}.")
    return make_page(COMPARISONS[by], folders, out, title=f"Compared by {by}", progress=progress, by=by, metric=metric)


def make_page(name: str, folders: list[str | Path], out: str | Path, *, title: str, progress: bool = False, **parameters) -> Path:
    """Run the notebook ``name`` on the batches in ``folders``, with further ``parameters``; returns the path of the page.

    ``title`` stands before the folders' names in the page's title. ``out`` and the errors are as in ``make_report``.
    """
    folders, out = [Path(folder).resolve() for folder in folders], Path(os.path.abspath(out))
    for folder in folders:
        _refuse_inside(out, folder)
        refuse_unburnt(read_batch(folder))
    given = {"batch_folders": [str(folder) for folder in folders], **parameters}
    near = given | {"batch_folders": [_from(folder, out) for folder in folders]}
    return _make(name, out, given, near, f"{title}: {', '.join(folder.name for folder in folders)}", progress)


def make_confirmation(screening: str | Path, confirmation: str | Path, out: str | Path, *, candidates=(), progress: bool = False) -> Path:
    """Hold a confirmation against its screening; returns the path of the page. ``out`` and the errors are as in ``make_report``.

    ``candidates`` are those to judge, all that both have when empty. ValueError for an unknown one and for one batch given twice.
    """
    from candlelab.confirming import confirm_pick

    folders, out = [Path(folder).resolve() for folder in (screening, confirmation)], Path(os.path.abspath(out))
    for folder in folders:
        _refuse_inside(out, folder)
    rounds = [read_batch(folder) for folder in folders]
    confirm_pick(*rounds, candidates=candidates)  # refuses what the notebook would stumble over
    given = {"screening_folder": str(folders[0]), "confirmation_folder": str(folders[1]), "candidates": list(candidates)}
    near = given | {"screening_folder": _from(folders[0], out), "confirmation_folder": _from(folders[1], out)}
    return _make(CONFIRMATION, out, given, near, rounds[1].settings.title, progress)


def _refuse_inside(out: Path, folder: Path) -> None:
    real = Path(os.path.realpath(out))  # a link may lead into the batch, and some systems know a folder by two spellings
    if folder.exists() and any(place.exists() and place.samefile(folder) for place in (real, *real.parents)):
        raise ValueError(f"{out} is inside the batch folder, which is never written to. Give another place with --out.")


def _make(name: str, out: Path, parameters: dict, near: dict, title: str, progress: bool) -> Path:
    """Run a notebook and put its three files in place; ``near`` are the parameters as the kept notebook shows them."""
    with whole_folder(out, outputs(name)) as new:
        for file, text in zip(outputs(name), notebook_texts(name, parameters, near, title, progress)):
            write_text(new / file, text)
    return out / outputs(name)[1]


def notebook_texts(name: str, parameters: dict, near: dict, title: str, progress: bool = False) -> tuple[str, str, str]:
    """Run a notebook of ours; its text as it is kept, with the parameters ``near``, its page and its results."""
    book = run_notebook(shipped("notebooks") / outputs(name)[0], parameters, progress=progress)
    record = record_of(book)
    _make_portable(book, near)
    kept = json.dumps(book, indent=1, ensure_ascii=False, sort_keys=True)
    return kept, page_of(book, title), json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)


def _from(folder: Path, out: Path) -> str:
    """The way from the report to its batch, if they lie near each other; else the batch's name.

    A long way up and down again would tell a reader how this machine's folders are named.
    """
    way = Path(os.path.relpath(folder, out))
    return way.as_posix() if way.parts.count("..") <= 2 else folder.name


def write_text(path: Path, text: str) -> None:
    """Text into a file, with a line end at its end, the same bytes on every system."""
    path.write_text(text + "\n", encoding="utf-8", newline="\n")


def _papermill():
    """papermill, imported without the slow grammar that jsonschema builds for a check Jupyter never uses."""
    sys.modules.setdefault("rfc3987_syntax", None)
    import papermill

    return papermill


def run_notebook(notebook: Path, parameters: dict, *, progress: bool = False):
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
    for attempt in range(3):
        try:
            with tempfile.TemporaryDirectory(prefix="candlelab-", ignore_cleanup_errors=True) as own:
                config = Config({"KernelManager": {"transport_encryption": "auto", "connection_file": os.path.join(own, "kernel.json")}})
                try:
                    return papermill.execute_notebook(
                        path, None, parameters=parameters, progress_bar=progress, kernel_manager_class=_own_kernel(own), config=config,
                        shutdown_kernel="immediate", log_output=False,
                    )  # fmt: skip
                except BaseException:
                    _end_kernel(own)
                    raise
        except papermill.PapermillExecutionError as error:
            raise ReportFailed(f"{notebook.name}, cell {error.cell_index + 1}: {error.ename}: {error.evalue}") from error
        except RuntimeError as error:
            if attempt == 2:
                raise ReportFailed(f"{notebook.name}: the kernel did not start ({error})") from error


def _own_kernel(own: str) -> type:
    """A kernel manager that always starts this Python with this candlelab, whatever kernels the user has installed.

    What the user's IPython runs at its start, and the session's plotting backend, stay out: the folder
    ``own`` takes the place of theirs, which may not be there to write to. A file numpy.py in the current
    folder, where it may have come with a batch, is not taken for a module.
    """
    from ipykernel.kernelspec import get_kernel_dict
    from jupyter_client.kernelspec import KernelSpec, KernelSpecManager
    from jupyter_client.manager import AsyncKernelManager

    home = Path(__file__).resolve().parent.parent
    env = {"IPYTHONDIR": own, "MPLBACKEND": "agg"}
    if home.name not in ("site-packages", "dist-packages"):
        # the kernel drops the first place when it is the current folder, as it is for who stands in a checkout
        env["PYTHONPATH"] = os.pathsep.join([own, str(home), *filter(None, [os.environ.get("PYTHONPATH")])])

    # not by -m ipykernel_launcher, which takes the current folder off the path even where PYTHONPATH names it
    start = "from ipykernel.kernelapp import launch_new_instance; launch_new_instance()"
    command = [sys.executable, "-P", "-c", start, "-f", "{connection_file}", "--IPKernelApp.ignore_cwd=True"]

    class ThisPython(KernelSpecManager):
        def get_kernel_spec(self, kernel_name):
            return KernelSpec(resource_dir="", env=env, **get_kernel_dict() | {"argv": command})

    class ThisKernel(AsyncKernelManager):
        def __init__(self, **kwargs):
            super().__init__(**kwargs)
            self.kernel_spec_manager = ThisPython(parent=self)

    return ThisKernel


def _end_kernel(own: str) -> None:
    """End the kernel that an interrupted run left running: the child that was told of a file in ``own``, even if nobody holds it yet."""
    import psutil

    for child in psutil.Process().children(recursive=True):
        try:
            if any(own in part for part in child.cmdline()):
                child.kill()
                child.wait(5)
        except (psutil.Error, OSError):
            continue


def record_of(book) -> dict:
    """The record that the notebook's last cell showed."""
    for cell in reversed(book.cells):
        for output in cell.get("outputs", []):
            if "application/json" in output.get("data", {}):
                return output["data"]["application/json"]
    raise ReportFailed("the notebook ended without its results")


def _make_portable(book, parameters: dict) -> None:
    """Take times, paths and random names out of a run notebook, so that it can be shared and compared.

    So does what libraries say on the side ("building the font cache", a warning with its file).
    """
    book.metadata.pop("papermill", None)
    for cell in book.cells:
        cell.metadata.pop("papermill", None)
        cell.metadata.pop("execution", None)
        if "outputs" in cell:
            cell["outputs"] = [output for output in cell["outputs"] if output.get("name") != "stderr"]
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

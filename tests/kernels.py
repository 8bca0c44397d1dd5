"""Notebooks of candlelab run in this process, where pandas and matplotlib are there already.

A kernel of its own takes two seconds to be there. That both give the same bytes is tested in
`pages/test_run.py`.
"""

import sys
from pathlib import Path
from unittest import mock

import batches

from candlelab.pages import run

in_kernel = run.executed
_LANGUAGE = {
    "codemirror_mode": {"name": "ipython", "version": 3},
    "file_extension": ".py",
    "mimetype": "text/x-python",
    "name": "python",
    "nbconvert_exporter": "python",
    "pygments_lexer": "ipython3",
    "version": sys.version.split()[0],
}


def executed(load, path, parameters, progress, meanwhile):
    """What `candlelab.pages.kernel.executed` gives; a notebook that is not ours has its kernel."""
    if Path(path).parent != run.shipped("notebooks"):
        return in_kernel(load, path, parameters, progress, meanwhile)
    papermill = load()
    from papermill.parameterize import parameterize_notebook

    book = parameterize_notebook(papermill.iorw.load_notebook_node(path), parameters)
    run_cells(book)
    book.metadata.language_info = _LANGUAGE
    return book


def run_cells(book):
    """Run the cells of a notebook; a batch of the same bytes is read and worked out once.

    A cell that fails is told as papermill tells of it.
    """
    import matplotlib
    from IPython.core.interactiveshell import InteractiveShell
    from IPython.utils.capture import capture_output
    from nbformat.v4 import new_output
    from papermill.exceptions import PapermillExecutionError
    from traitlets.config import Config

    matplotlib.use("agg")
    # without a shell, what is displayed is printed
    InteractiveShell.instance(config=Config({"HistoryManager": {"enabled": False}}))
    names, count = {}, 0
    for place, cell in enumerate(book.cells):
        if cell.cell_type != "code":
            continue
        cell.execution_count = count = count + 1
        with mock.patch("candlelab.logs.batch.read_batch", batches.read), capture_output() as shown:
            try:
                exec(cell.source, names)
            except Exception as error:
                name, said = type(error).__name__, str(error)
                raise PapermillExecutionError(place, count, cell.source, name, said, []) from error
        assert not shown.stdout
        cell.outputs = [
            new_output("display_data", one.data, metadata=one.metadata or {})
            for one in shown.outputs
        ]

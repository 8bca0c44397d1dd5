"""A plugin of pytest, loaded before all others: a short start for one file, all cores for a run of
everything."""

import gc
import os
import signal
import sys
import tempfile
from collections import Counter
from pathlib import Path

import pytest

# A grammar of 1.5 s that jsonschema builds, for nbval, for a check that notebooks never use.
sys.modules.setdefault("rfc3987_syntax", None)

# What a test starts in a process of its own is compiled once, whatever this machine usually does.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
# Workers share the cores already.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# A run in the background of a shell ignores Ctrl-C, and so would every program that a test starts.
signal.signal(signal.SIGINT, signal.default_int_handler)
# Batches are many small tables: looking for garbage among all that was ever imported takes longer.
gc.set_threshold(100_000, 50, 100)


def pytest_configure(config):
    """Kernels find an IPython folder of this run in place of the user's: they live for seconds, and
    look for garbage as rarely as those that make pages."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        folder = tempfile.TemporaryDirectory(prefix="ipython", ignore_cleanup_errors=True)
        config.add_cleanup(folder.cleanup)
        startup = Path(folder.name, "profile_default", "startup")
        startup.mkdir(parents=True)
        (startup / "gc.py").write_text("import gc; gc.set_threshold(50_000, 50, 50)")
        os.environ["IPYTHONDIR"] = folder.name


def pytest_collection_finish():
    """What is there before the first test stays: nobody has to look through it again."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish():
    """What is left is looked through once: pytest goes five times through all that is there."""
    gc.collect()
    gc.freeze()


@pytest.hookimpl(tryfirst=True)
def pytest_xdist_auto_num_workers(config):
    """What ``-n auto`` means: a worker for each core when no file or folder is asked for, and one
    more where slow tests wait for kernels, browsers and disks; no worker at all otherwise, because
    workers take longer to start than most files to run."""
    if config.args_source is not config.ArgsSource.TESTPATHS:
        return 0
    return os.cpu_count() + (config.option.markexpr != "not slow")


SLOW = {"browser", "pack", "pack_files", "pages"}


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Slow, without a mark of its own: a notebook, and what takes a pack, pages or a browser.

    Files with many slow tests are handed to the workers first, so that none is left for the end.
    """
    slow = Counter()
    for item in items:
        if item.path.suffix == ".ipynb" or SLOW & set(item.fixturenames):
            item.add_marker("slow")
        slow[item.path] += item.get_closest_marker("slow") is not None
    if "PYTEST_XDIST_WORKER" in os.environ:
        items.sort(key=lambda item: -slow[item.path])

"""A plugin of pytest, loaded before all others: a short start for one file, all cores for a run of
everything."""

import os
import sys

import pytest

# A grammar of 1.5 s that jsonschema builds, for nbval, for a check that notebooks never use.
sys.modules.setdefault("rfc3987_syntax", None)


@pytest.hookimpl(tryfirst=True)
def pytest_xdist_auto_num_workers(config):
    """What ``-n auto`` means: a worker for each core when no file or folder is asked for, and no
    worker at all otherwise, because workers take longer to start than most files to run."""
    return os.cpu_count() if config.args_source is config.ArgsSource.TESTPATHS else 0


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Slow, without a mark of its own: a notebook, and what takes a pack, pages or a browser."""
    for item in items:
        if item.path.suffix == ".ipynb" or {"browser", "pack", "pages"} & set(item.fixturenames):
            item.add_marker("slow")

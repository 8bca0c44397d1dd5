"""The examples in docstrings give what they show."""

import doctest
from importlib import import_module

import pytest
from batches import read
from places import ROOT

import candlelab

SOURCES = {
    path.relative_to(ROOT).with_suffix("").as_posix().replace("/", "."): path
    for path in sorted((ROOT / "candlelab").rglob("*.py"))
}
WITH_EXAMPLES = [
    name for name, path in SOURCES.items() if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.slow
@pytest.mark.parametrize("module", WITH_EXAMPLES)
def test_examples(module, monkeypatch):
    """A demo batch is read once for all modules but the one that reads."""
    if module != "candlelab.logs.batch":
        monkeypatch.setattr(candlelab, "read_batch", read, raising=False)
    found = doctest.testmod(import_module(module))
    assert found.failed == 0
    assert found.attempted > 0

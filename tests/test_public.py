"""What ``from candlelab import ...`` hands out: documented, and all that a notebook needs."""

import ast
import inspect
import json
import re
from itertools import pairwise

import pytest
from places import ROOT

import candlelab

PUBLIC = {name: getattr(candlelab, name) for name in candlelab.__all__ if name != "__version__"}
FUNCTIONS = sorted(name for name, one in PUBLIC.items() if inspect.isfunction(one))
CALLED = sorted(name for name, one in PUBLIC.items() if callable(one))
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def sections(docstring):
    """The headings of a docstring: lines that are underlined."""
    lines = inspect.cleandoc(docstring or "").splitlines()
    return [
        line
        for line, under in pairwise(lines)
        if under and set(under) == {"-"} and len(under) == len(line)
    ]


def test_headings_are_found():
    assert sections("What.\n\n    Parameters\n    ----------\n    a : int\n") == ["Parameters"]
    assert sections(None) == []


def test_every_name_is_there_and_says_what_it_is():
    assert candlelab.__version__
    assert sorted(PUBLIC) == sorted(set(dir(candlelab)) - {"__version__"})
    assert [name for name in CALLED if not inspect.getdoc(PUBLIC[name])] == []


def test_nothing_is_taken_for_a_test():
    """A test file may import everything: pytest collects test* functions and Test* classes."""
    assert [name for name in PUBLIC if name.lower().startswith("test")] == []


@pytest.mark.parametrize("name", FUNCTIONS)
def test_parameters_are_described(name):
    function = PUBLIC[name]
    given = [p for p in inspect.signature(function).parameters if p not in ("args", "kwargs")]
    described = sections(function.__doc__)
    assert not given or "Parameters" in described
    text = inspect.getdoc(function).partition("Parameters\n")[2]
    named = set(re.split(r"[\s,]+", " ".join(re.findall(r"^(\w[\w, ]*?)(?: : .*)?$", text, re.M))))
    assert [p for p in given if p not in named] == []


@pytest.mark.parametrize("notebook", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_uses_only_what_is_public(notebook):
    cells = json.loads(notebook.read_text(encoding="utf-8"))["cells"]
    code = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]
    used = set()
    for node in ast.walk(ast.parse("\n".join(code))):
        if isinstance(node, ast.Import):
            assert not [a.name for a in node.names if a.name.partition(".")[0] == "candlelab"]
        elif isinstance(node, ast.ImportFrom) and node.module.partition(".")[0] == "candlelab":
            assert node.module == "candlelab"
            used |= {alias.name for alias in node.names}
    assert used
    assert used <= set(candlelab.__all__)

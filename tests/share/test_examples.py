"""The examples in the docstrings of the public functions give what they show."""

import doctest
import inspect
import shutil

import pytest
from places import DEMO

from candlelab.share.diff import pack_differences
from candlelab.share.pack import make_pack
from candlelab.share.verify import verify_pack


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("function", [make_pack, verify_pack, pack_differences])
def test_examples(function, tmp_path, pack, monkeypatch):
    """In a folder with a batch and a pack of it."""
    shutil.copytree(DEMO / "confirmation", tmp_path / "confirmation")
    shutil.copy(pack, tmp_path)
    monkeypatch.chdir(tmp_path)
    (examples,) = doctest.DocTestFinder(recurse=False).find(
        function, globs={function.__name__: function}
    )
    ran = doctest.DocTestRunner().run(examples)
    assert ran.attempted
    assert not ran.failed
    for part in ("Parameters", "Returns", "Raises", "Examples"):
        assert f"\n{part}\n{'-' * len(part)}\n" in inspect.getdoc(function)

"""The notebook of a pack is run only when that is asked for and confirmed, and only where it can
be."""

import json
import re

import pytest
from click.testing import CliRunner
from packs import (
    BOOK,
    OLD_CODE,
    canary,
    contents_of,
    forged,
    of_version,
    with_code,
    with_new_manifest,
)
from places import ROOT

from candlelab.archive import UnsafePack
from candlelab.cli.main import main
from candlelab.share import origin, packed_notebook
from candlelab.share.environment import code_digest
from candlelab.share.packed_notebook import OtherCandlelab, run_packed_notebooks

RUN = "--run-packed-notebook"


def verified(pack, *args, answer=""):
    """``candlelab verify``, with an answer to its question."""
    return CliRunner().invoke(main, ["verify", str(pack), *args], input=answer)


@pytest.fixture
def ran(monkeypatch):
    """What was run; nothing is."""
    calls = []
    monkeypatch.setattr(packed_notebook, "run_notebook", lambda *args, **_: calls.append(args))
    return calls


@pytest.fixture
def old(tmp_path, pack, quick, monkeypatch):
    """A pack as candlelab 0.1.0 made it, and this candlelab as 0.2.0, whatever is installed."""
    assert quick == []
    for module in (origin, packed_notebook):
        monkeypatch.setattr(module, "candlelab_version", lambda: "0.2.0")
    code = f"{canary(tmp_path)}\n"
    files = of_version(contents_of(pack), "0.1.0")
    return forged(tmp_path, pack, {**files, BOOK: with_code(files, code)})


@pytest.mark.usefixtures("quick")
def test_it_runs_only_when_asked_for_and_confirmed(tmp_path, pack, ran):
    code = with_code(contents_of(pack), canary(tmp_path))
    path = forged(tmp_path, pack, {BOOK: code})
    for args, answer in (([], ""), ([], "y\n"), ([RUN], "y\n")):
        result = verified(path, *args, answer=answer)
        assert result.exit_code == 1
        assert not ran
        assert "Run it?" not in result.stderr  # it has other code: it is not even offered
    result = verified(pack, RUN, answer="n\n")
    assert result.exit_code == 0
    assert result.stderr.endswith("Not run.\n")
    assert not ran
    assert "It can do on this computer whatever you can" in result.stderr
    verified(pack, RUN)
    assert not ran
    assert not (tmp_path / "canary").exists()


@pytest.mark.usefixtures("quick")
def test_it_can_be_run(pack):
    """For real, after a yes."""
    result = verified(pack, RUN, answer="y\n")
    assert result.exit_code == 0, result.output
    assert re.search(
        r"fine: packed notebook: confirmation: \d,\d{3} numbers compared, 0 differ\.", result.stdout
    )


def test_a_pack_whose_notebooks_cannot_be_listed_is_not_run(tmp_path, pack):
    with pytest.raises(UnsafePack, match=r"parameters\.json is not what a pack holds"):
        run_packed_notebooks(forged(tmp_path, pack, {"parameters.json": b"{}"}))


# ---------------------------------------------------------------- packs of another candlelab


def test_the_numbers_of_an_old_pack_are_verified(old):
    """Its words are not, and that it is an older one is noted."""
    result = verified(old)
    assert result.exit_code == 4, result.output
    assert (
        "note: versions: confirmation: Another version: reported with candlelab 0.1.0, checked "
        "with 0.2.0.\n" in result.stdout
    )
    assert re.search(r"fine: numbers: .* numbers worked out again, all the same;", result.stdout)
    assert result.stderr.startswith(
        "The numbers follow from the logs. The words are not verified: this pack was made by "
        "candlelab 0.1.0, "
    )


def test_the_notebook_of_an_old_pack_is_refused_before_anything_runs(old, ran, tmp_path):
    result = verified(old, RUN, answer="y\n")
    assert result.exit_code == 3
    assert isinstance(result.exception, SystemExit)
    assert result.stderr.startswith(
        "The notebook of confirmation belongs to an older version of candlelab, 0.1.0 (code "
        f"SHA-256 {OLD_CODE}). It asks for candlelab.compared_figures, candlelab.figures, "
        "candlelab.page, candlelab.words, candlelab.columns and 2 more, which candlelab "
        f"0.2.0 here (code SHA-256 {code_digest()}) does not have. It is not run. Its numbers are "
        "checked without it; to run it, install its version in a place of its own.\n"
    )
    assert "fine: numbers: " in result.stdout
    assert "Run it?" not in result.stderr
    assert "Traceback" not in result.output
    with pytest.raises(OtherCandlelab, match="belongs to an older version of candlelab"):
        run_packed_notebooks(old)
    assert not ran
    assert not (tmp_path / "canary").exists()


def test_problems_come_before_a_notebook_that_cannot_run(old, ran):
    files = contents_of(old)
    name = "batches/confirmation/burns.csv"
    (old.parent / "x").mkdir()
    path = forged(old.parent / "x", old, {name: files[name] + b"\n"}, manifest=False)
    result = verified(path, RUN, answer="y\n")
    assert result.exit_code == 1
    assert "It is not run." in result.stderr
    assert not ran


@pytest.mark.parametrize(
    ("version", "imports", "words"),
    [
        ("9.9", "import candlelab.crystal\n", "a newer version of candlelab, 9.9 "),
        ("\x1b[31m" + "9" * 99, "import candlelab.crystal\n", "an older version of candlelab, "),
        (
            "0.1.0",
            "from candlelab import (\n    read_batch,\n    crystal,\n)\n",
            "an older version",
        ),
        ("0.1.0", "def f():\n    from candlelab.share.pack import crystal\n", "an older version"),
    ],
)
def test_whatever_it_asks_for_is_named(tmp_path, pack, version, imports, words):
    files = of_version(contents_of(pack), version, imports=imports)
    with pytest.raises(OtherCandlelab) as refusal:
        run_packed_notebooks(forged(tmp_path, pack, files))
    assert words in str(refusal.value)
    assert ".crystal, which candlelab" in str(refusal.value)
    assert "\x1b" not in str(refusal.value)


@pytest.mark.parametrize(
    "book",
    [
        b"", b"[]", b"{}", b'{"cells": 1}', b'{"cells": [1, {}, {"cell_type": "code"}]}',
        b'{"cells": [{"cell_type": "code", "source": [1, "import candlelab.crystal"]}]}',
        b'{"cells": [{"cell_type": "code", "source": "import ' + b"(" * 5000 + b'"}]}',
        b'{"cells": [{"cell_type": "code", "source": "\\u0000 \\ud800"}]}',
    ],
)  # fmt: skip
def test_any_notebook_can_be_looked_at(tmp_path, pack, book):
    files = with_new_manifest(contents_of(pack) | {BOOK: book})
    try:
        packed_notebook.check_packed_notebooks(forged(tmp_path, pack, files))
    except OtherCandlelab as refusal:
        told = str(refusal)
    else:
        told = ""
    assert ("candlelab.crystal" in told) == (b"crystal" in book)


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda p: p.stem)
def test_our_own_notebooks_ask_for_nothing_that_is_not_here(path):
    assert packed_notebook._missing(path.read_bytes()) == []
    sources = ["".join(cell["source"]) for cell in json.loads(path.read_bytes())["cells"]]
    assert any("import" in source for source in sources)

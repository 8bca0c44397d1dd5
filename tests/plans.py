"""Plans for tests, with lines changed as a user would change them; what a folder holds."""

import hashlib
from contextlib import contextmanager
from pathlib import Path

import pytest
from places import DEMO

from candlelab.plan import folder as planning

DEMO_PLAN = DEMO / "plan"


def plan_file(folder, *changes, text=None, wicks=None) -> Path:
    """The demo's plan in ``folder`` with texts replaced; each (old, new) must be found."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    text = (DEMO_PLAN / "plan.toml").read_text(encoding="utf-8") if text is None else text
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    listed = (DEMO_PLAN / "wicks.csv").read_text(encoding="utf-8") if wicks is None else wicks
    if listed:
        (folder / "wicks.csv").write_text(listed, encoding="utf-8")
    return folder / "plan.toml"


@contextmanager
def without_page():
    """Plans are made without their page, which a notebook takes seconds to make, and one workbook
    for the same plan."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning, "notebook_texts", lambda *_: ("{}", "<p>", '{"format": "quick"}'))
        patch.setattr(planning, "_write_workbook", _write_workbook_once)
        yield


_BOOKS: dict[tuple, bytes] = {}
_write_workbook = planning._write_workbook


def _write_workbook_once(planned, folder):
    """A workbook holds what the tables beside it hold, which are written first."""
    key = tuple(digests(folder).items())
    if key not in _BOOKS:
        _write_workbook(planned, folder)
        _BOOKS[key] = (folder / planning.BOOK).read_bytes()
    (folder / planning.BOOK).write_bytes(_BOOKS[key])


def digests(folder) -> dict[str, str]:
    """SHA-256 of every file of a folder, by its name."""
    files = sorted(Path(folder).iterdir())
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}

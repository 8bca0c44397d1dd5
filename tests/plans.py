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
    """Plans are made without their page, which a notebook takes seconds to make."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning, "notebook_texts", lambda *_: ("{}", "<p>", '{"format": "quick"}'))
        yield


def digests(folder) -> dict[str, str]:
    """SHA-256 of every file of a folder, by its name."""
    files = sorted(Path(folder).iterdir())
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}

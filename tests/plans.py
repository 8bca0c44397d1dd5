"""Plans for tests, with lines changed as a user would change them; what a folder holds."""

import hashlib
from pathlib import Path

from places import DEMO

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


def digests(folder) -> dict[str, str]:
    """SHA-256 of every file of a folder, by its name."""
    files = sorted(Path(folder).iterdir())
    return {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in files}

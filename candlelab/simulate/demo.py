"""Writes the demo batches of an invented studio, and their README.

``python -m candlelab.simulate.demo FOLDER`` writes them.
"""

from __future__ import annotations

import sys
from pathlib import Path

from candlelab.logs.writer import PLAIN, SPREADSHEET, write_batch
from candlelab.simulate.demo_batches import (
    CONFIRMATION_TOML,
    LOADS_TOML,
    SCREENING_TOML,
    WAXES_TOML,
    demo_confirmation,
    demo_loads,
    demo_screening,
    demo_waxes,
)
from candlelab.simulate.demo_readme import readme

DEMOS = {
    "screening": (demo_screening, SCREENING_TOML),
    "confirmation": (demo_confirmation, CONFIRMATION_TOML),
    "waxes": (demo_waxes, WAXES_TOML),
    "loads": (demo_loads, LOADS_TOML),
}


def write_demo(folder) -> None:
    """Write the four demo batches and their README into a folder; the same bytes every time."""
    folder = Path(folder)
    made = {name: make() for name, (make, _) in DEMOS.items()}
    for name, (_, toml) in DEMOS.items():
        style = SPREADSHEET if name == "confirmation" else PLAIN
        write_batch(made[name].tables, toml, folder / name, style=style)
    (folder / "README.md").write_text(readme(made), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    write_demo(sys.argv[1] if len(sys.argv) > 1 else "data/demo")

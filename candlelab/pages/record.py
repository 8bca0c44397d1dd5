"""Tables and versions as plain data for ``results.json``."""

from __future__ import annotations

import platform
from functools import cache
from importlib import metadata

import numpy as np
import pandas as pd

from candlelab.pages.glossary import column

_PACKAGES = (
    "candlelab", "numpy", "pandas", "scipy", "matplotlib", "seaborn", "papermill", "nbconvert",
    "ipykernel",
)  # fmt: skip


def versions() -> dict[str, str]:
    """Versions of Python and of the packages that made the numbers and the page."""
    return dict(_versions())


@cache  # of what this process has imported
def _versions() -> dict[str, str]:
    found = {"python": platform.python_version()}
    for name in _PACKAGES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            continue
    return found


def table_record(row_is: str, table: pd.DataFrame, name: str = "") -> dict:
    """Plain data of one table; ``name`` is its own, by which the glossary knows its columns."""
    values = [[_plain(value) for value in table[own]] for own in table.columns]
    columns = [
        {"name": c.name, "unit": c.unit, "meaning": c.meaning}
        for c in (column(own, name) for own in table.columns)
    ]
    return {
        "one_row_is": row_is,
        "rows": len(table),
        "columns": columns,
        "data": [list(row) for row in zip(*values, strict=True)],
    }


def _plain(value):
    if isinstance(value, str):
        return str(value)
    if isinstance(value, float | np.floating):
        return float(value) if np.isfinite(value) else None
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if isinstance(value, pd.Timestamp):
        return value.isoformat()
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    return str(value)

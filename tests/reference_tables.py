"""Reads the tables of ``tests/reference``: inputs, certified values and results made elsewhere."""

import numpy as np
import pandas as pd
from places import REFERENCE

FOLDER = REFERENCE


def table(name):
    """An input table made or kept beside its results."""
    return pd.read_csv(FOLDER / f"{name}.csv")


def made_with_r(case, what):
    """Rows of comparison_results.csv (R 4.2.2, see SOURCES.md)."""
    rows = pd.read_csv(
        FOLDER / "comparison_results.csv", dtype={"candidate": str, "reference": str}
    )
    found = rows[(rows["case"] == case) & (rows["what"] == what)].reset_index(drop=True)
    assert len(found)
    return found


def nist_anova(name):
    """Data lines of a NIST StRD analysis-of-variance file, ours by name or another by path, as a
    table of group, y and candle."""
    lines = (FOLDER / f"{name}.dat" if isinstance(name, str) else name).read_text().splitlines()
    start = max(i for i, line in enumerate(lines) if line.startswith("Data:")) + 1
    values = np.array([line.split() for line in lines[start:] if line.strip()], dtype=float)
    return pd.DataFrame(
        {"group": values[:, 0].astype(int), "y": values[:, 1], "candle": range(len(values))}
    )

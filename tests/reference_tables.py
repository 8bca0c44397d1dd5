"""Tables for the tests of statistics: those of ``tests/reference`` (inputs, certified values,
results made elsewhere), and small ones made here."""

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


def candles(*groups, names="ABCDEFGHIJ"):
    """One row per candle from lists of values."""
    rows = [(name, value) for name, group in zip(names, groups, strict=False) for value in group]
    data = pd.DataFrame(rows, columns=["wick", "rate"])
    return data.assign(candle=[f"c{i + 1}" for i in range(len(data))])


def burns(k=3, per=3, n=4, seed=1, candle_sd=0.25):
    """Burns of k wicks on as many candles each."""
    rng = np.random.default_rng(seed)
    candle = np.repeat(np.arange(k * per), n)
    rate = 5 + rng.normal(0, candle_sd, k * per)[candle] + rng.normal(0, 0.2, len(candle))
    names = [f"c{c + 1}" for c in candle]
    return pd.DataFrame(
        {
            "candle": names,
            "wick": [chr(65 + c // per) for c in candle],
            "burn": np.tile(np.arange(1, n + 1), k * per),
            "rate": rate,
        }
    )


def pair(result, candidate, reference):
    found = result.differences
    return found[(found["candidate"] == candidate) & (found["reference"] == reference)].iloc[0]

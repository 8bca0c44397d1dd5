"""Copies of demo batches with other settings, or logged in other units."""

import shutil

from batches import read
from places import DEMO

from candlelab.logs.writer import WritingStyle, write_batch

FINE = WritingStyle(decimals={"g": 12, "mm": 12, "c": 12})
IN_US = '[display]\nunits = "us"'


def copied_demo(folder, name, more="", style=None):
    """A demo batch with lines at the end of its batch.toml; its log written again in a style."""
    shutil.copytree(DEMO / name, folder / name)
    toml = folder / name / "batch.toml"
    text = f"{toml.read_text(encoding='utf-8')}\n{more}\n"
    toml.write_text(text, encoding="utf-8")
    if style is None:
        return folder / name
    batch = read(DEMO / name)
    names = ("candles", "burns", "wicks", "wick_changes", "exclusions")
    write_batch({n: getattr(batch, n) for n in names}, text, folder / name, style=style)
    # the writer keeps flames in whole mm, which is coarser than 0.01 in
    flags = batch.checks.select_dtypes("boolean")
    words = {name: flags[name].map({True: "yes", False: "no"}) for name in flags}
    checks = batch.checks.assign(soot=batch.checks["soot"].astype("Int64"), **words)
    checks.to_csv(folder / name / "checks.csv", index=False, float_format="%.12f")
    return folder / name

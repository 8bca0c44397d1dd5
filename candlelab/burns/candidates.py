"""What a candle is called: its wick, and what else of its recipe differs within the batch."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from candlelab.burns.groups import as_rows
from candlelab.logs.batch import Batch
from candlelab.logs.names import one_name_each
from candlelab.units import Display

# What a candle is made of beside its wick: candidates differ in these.
RECIPE = ("vessel", "wax", "fragrance", "fragrance_load_pct", "dye")
# How far two loads of one recipe may lie apart, by rounding and weighing [% of the fill or of the
# wax]; common practice, no source.
LOAD_WITHIN_PCT = 0.1
WIDTH_WITHIN = 0.01  # how far two measurements of one vessel may lie apart, as a share
_SPELLED = ("wick_series", "wick_size", "vessel", "wax", "fragrance", "dye")


def natural_order(names) -> list[str]:
    """Names sorted as people sort them: S2 before S10."""
    return sorted(names, key=lambda name: (re.sub(r"\d+", lambda d: d[0].zfill(20), name), name))


def wick_names(series, size, count=None) -> np.ndarray:
    """Series and size as one name each, with the count where there is more than one wick."""
    counts = np.ones(len(series)) if count is None else np.asarray(count, dtype=float)
    counts = np.nan_to_num(counts, nan=1.0).tolist()
    each = zip(series, size, counts, strict=True)
    names = [f"{a} {b}" + (f" x{c:g}" if c != 1 else "") for a, b, c in each]
    return np.array(names, dtype=object)


def wick_turn(run: int) -> str:
    """Which wick of its candle a run is on, in words."""
    return {1: "first", 2: "second", 3: "third"}.get(run, f"{run}th") + " wick"


def recipe_words(candles: pd.DataFrame) -> np.ndarray:
    """What differs of each candle's recipe within the batch, as words behind a wick's name."""
    table = candles[list(RECIPE)].assign(fragrance_load_pct=_one_load(candles))
    varying = [name for name in RECIPE if table[name].nunique(dropna=False) > 1]
    if not varying:
        return np.full(len(candles), "", dtype=object)
    words = []
    for row in as_rows(table):
        load = "" if np.isnan(row.fragrance_load_pct) else f" {row.fragrance_load_pct:g} %"
        parts = [row.vessel if "vessel" in varying else "", row.wax if "wax" in varying else ""]
        if "fragrance" in varying or "fragrance_load_pct" in varying:
            parts.append((row.fragrance or "no fragrance") + (load if row.fragrance else ""))
        parts.append((row.dye or "no dye") if "dye" in varying else "")
        words.append("".join(f", {part}" for part in parts if part))
    return np.array(words, dtype=object)


def _one_load(candles: pd.DataFrame) -> np.ndarray:
    """Loads of one fragrance that lie as near as rounding brings them, as the most frequent one."""
    loads = candles["fragrance_load_pct"].to_numpy(dtype=float)
    counts = pd.Series(loads[loads > 0]).value_counts().sort_index()
    group = (counts.index.to_series().diff() > LOAD_WITHIN_PCT + 1e-9).cumsum()
    usual = {load: own.idxmax() for _, own in counts.groupby(group) for load in own.index}
    return np.array([usual.get(load, load) for load in loads.tolist()], dtype=float)


def in_one_spelling(batches: Sequence[Batch]) -> list[Batch]:
    """Batches in which names that look alike are one name, shown in the units of the first.

    One that needs neither is handed back. Vessels are one only where they are as wide.
    """
    pairs = _one_for_another(batches)
    return [_shown_as(_spelled(batch, pairs), batches[0].settings.display) for batch in batches]


def _shown_as(batch: Batch, display: Display) -> Batch:
    if batch.settings.display == display:
        return batch
    return replace(batch, settings=replace(batch.settings, display=display))


def other_spellings(batches: Sequence[Batch]) -> list[str]:
    """A sentence for each name that `in_one_spelling` takes for another one."""
    return [
        f"“{a}” and “{b}” look alike and are taken for one {column.replace('_', ' ')}."
        for column, of in _one_for_another(batches).items()
        for a, b in of.items()
    ]


def _one_for_another(batches: Sequence[Batch]) -> dict[str, dict[str, str]]:
    """By column, each spelling that another one stands for."""
    pairs = {
        column: one_name_each(
            name
            for batch in batches
            for table in (batch.wicks, batch.candles, batch.wick_changes)
            if column in table
            for name in table[column]
        )
        for column in _SPELLED
    }
    pairs["vessel"] = _as_wide(pairs["vessel"], batches)
    return {c: {a: b for a, b in of.items() if a != b} for c, of in pairs.items()}


def _as_wide(pairs: dict[str, str], batches: Sequence[Batch]) -> dict[str, str]:
    widths: dict[str, set] = {}
    for batch in batches:
        for name, vessel in batch.settings.vessels.items():
            widths.setdefault(name, set()).add(vessel.inner_diameter_mm)
    return {a: b for a, b in pairs.items() if widths.get(a) == widths.get(b)}


def _spelled(batch: Batch, pairs: dict[str, dict[str, str]]) -> Batch:
    tables = {}
    for name in ("wicks", "candles", "wick_changes"):
        table = getattr(batch, name)
        new = {c: table[c].replace(of) for c, of in pairs.items() if c in table and of}
        new = {c: values for c, values in new.items() if not values.equals(table[c])}
        if new:
            tables[name] = table.assign(**new)
    if not tables:
        return batch
    if "wicks" in tables:
        wicks = tables["wicks"].drop_duplicates(["wick_series", "wick_size"], ignore_index=True)
        tables["wicks"] = wicks
    settings = batch.settings
    for section in ("vessels", "waxes"):
        of = pairs["vessel" if section == "vessels" else "wax"]
        known = getattr(settings, section)
        more = {of[name]: value for name, value in known.items() if of.get(name, name) not in known}
        settings = replace(settings, **{section: known | more})
    targets = tuple(
        replace(t, vessel=pairs["vessel"].get(t.vessel, t.vessel)) for t in settings.targets
    )
    return replace(batch, settings=replace(settings, targets=targets), **tables)


def candidate_names(batch: Batch) -> pd.Series:
    """The candidate that each candle was poured as, by candle; those never lit as well."""
    c = batch.candles
    names = wick_names(c["wick_series"], c["wick_size"], c["wick_count"]) + recipe_words(c)
    return pd.Series(names, index=c["candle"], dtype="str")

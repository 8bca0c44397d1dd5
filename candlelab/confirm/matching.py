"""Whether two candidates, of two batches that were logged in two ways, are one recipe, and what
changed if they are not.

Names are compared without case, blanks and hyphens (``names.bare``), loads as a share of the whole
fill, sizes and fills in mm and g. Lots and dates are no part of the recipe.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab import formulas
from candlelab.burns.candidates import candidate_names
from candlelab.logs.batch import Batch
from candlelab.logs.names import bare, one_letter_apart

SAME, SPELT, CHANGED, UNKNOWN = "same", "same, spelt otherwise", "changed", "not recorded"
# How far two logs of one recipe may lie apart, by rounding and by hand; common practice, no source.
DIAMETER_WITHIN, FILL_WITHIN, LOAD_WITHIN_PCT = 0.01, 0.03, 0.1
PARTS = {
    "vessel": "vessel", "inner_diameter_mm": "inner diameter (mm)", "wax": "wax", "fragrance": "fragrance",
    "load_of_fill_pct": "fragrance, share of the whole fill (%)", "dye": "dye", "wick_series": "wick series", "wick_size": "wick size",
    "wick_count": "wicks", "fill_mass_g": "fill, mean (g)",
}  # fmt: skip
_NAMES = ("vessel", "wax", "fragrance", "dye", "wick_series", "wick_size")
_WITHIN = {"inner_diameter_mm": DIAMETER_WITHIN, "fill_mass_g": FILL_WITHIN}


@dataclass(frozen=True, eq=False)
class Match:
    """A candidate of the second batch and the one of the first that it is, or that it is nearest
    to.

    ``parts`` has a row per part of the recipe; ``changes`` says in words what is not the same.
    ``near`` is empty when the first batch has no candidate.
    """

    candidate: str
    near: str
    same: bool
    parts: pd.DataFrame
    changes: tuple[str, ...]


def candidate_recipes(batch: Batch) -> pd.DataFrame:
    """One row per candidate, by its name: its parts, in mm, g and % of the whole fill; fill as the
    mean of its candles.
    """
    c = batch.candles
    inner = c["vessel"].map(
        {name: v.inner_diameter_mm for name, v in batch.settings.vessels.items()}
    )
    load = c["fragrance_load_pct"].mask(
        c["fragrance_load_pct"].isna() & (c["fragrance"] == ""), 0.0
    )
    table = c[[*_NAMES, "fill_mass_g"]].assign(
        inner_diameter_mm=inner.astype(float),
        wick_count=c["wick_count"].fillna(1.0),
        load_of_fill_pct=100.0
        * formulas.fragrance_fraction(load.to_numpy(), batch.settings.load_basis),
    )
    grouped = table.groupby(candidate_names(batch).to_numpy(), sort=False)
    first = grouped.first()
    return first.assign(
        fill_mass_g=grouped["fill_mass_g"].mean(),
        load_of_fill_pct=grouped["load_of_fill_pct"].first(),
    )[list(PARTS)]


def match_candidates(first: Batch, second: Batch) -> list[Match]:
    """Each candidate of the second batch beside the same, or else the nearest, of the first."""
    old, new = candidate_recipes(first), candidate_recipes(second)
    ranks = {
        (bare(w.wick_series), bare(w.wick_size)): w.size_rank
        for b in (first, second)
        for w in b.wicks.itertuples()
    }
    found = []
    for candidate, recipe in new.iterrows():
        compared = {name: _parts(old.loc[name], recipe) for name in old.index}
        near = min(
            compared,
            key=lambda name: _distance(compared[name], old.loc[name], recipe, ranks),
            default="",
        )
        parts = (
            compared[near]
            if near
            else pd.DataFrame(columns=["part", "in_screening", "in_confirmation", "sameness"])
        )
        differs = parts[parts["sameness"].isin([CHANGED, UNKNOWN])]
        changes = tuple(_change(row, old.loc[near], recipe, ranks) for row in differs.itertuples())
        again = any(
            m.same and m.near == near for m in found
        )  # two spellings in one batch count as two recipes there
        if again and differs.empty:
            changes = (
                "spelt in two ways in the confirmation: if they are one thing, write both alike",
            )
        found.append(
            Match(
                str(candidate),
                str(near),
                bool(near) and differs.empty and not again,
                parts,
                changes,
            )
        )
    return found


def _parts(old: pd.Series, new: pd.Series) -> pd.DataFrame:
    rows = [
        (
            part,
            _shown(part, old[part]),
            _shown(part, new[part]),
            _sameness(part, old[part], new[part]),
        )
        for part in PARTS
    ]
    return pd.DataFrame(rows, columns=["part", "in_screening", "in_confirmation", "sameness"])


def _sameness(part: str, old, new) -> str:
    if part in _NAMES:
        return SAME if old == new else SPELT if bare(old) == bare(new) else CHANGED
    if np.isnan(old) or np.isnan(new):
        return UNKNOWN
    within = (
        LOAD_WITHIN_PCT if part == "load_of_fill_pct" else max(old, new) * _WITHIN.get(part, 0.0)
    )
    return SAME if abs(old - new) <= within + 1e-9 else CHANGED


def _shown(part: str, value) -> str:
    if part in _NAMES:
        return value or "none"
    return "not recorded" if np.isnan(value) else f"{value:.4g}"


def _distance(parts: pd.DataFrame, old: pd.Series, new: pd.Series, ranks: dict) -> tuple:
    """Fewest changes first; another series is further than another size, which is further the more
    steps it is away.
    """
    differs = set(parts.loc[parts["sameness"].isin([CHANGED, UNKNOWN]), "part"])
    steps = _steps(old, new, ranks) if "wick_series" not in differs else None
    differs -= (
        {"wick_size"} if "wick_series" in differs else set()
    )  # sizes of two series are not to be compared
    spelt = int((parts["sameness"] == SPELT).sum())
    return len(differs), "wick_series" in differs, abs(steps) if steps is not None else 99, spelt


def _steps(old: pd.Series, new: pd.Series, ranks: dict) -> float | None:
    a, b = (ranks.get((bare(r["wick_series"]), bare(r["wick_size"]))) for r in (old, new))
    return None if a is None or b is None or np.isnan(a) or np.isnan(b) else b - a


def _change(row, old: pd.Series, new: pd.Series, ranks: dict) -> str:
    text = f"{PARTS[row.part]} {row.in_confirmation} in place of {row.in_screening}"
    if row.sameness == UNKNOWN:
        return (
            f"{PARTS[row.part]} not recorded in "
            f"{'both rounds' if row.in_screening == row.in_confirmation else 'one round'}"
        )
    if row.part == "wick_size" and bare(old["wick_series"]) == bare(new["wick_series"]):
        steps = _steps(old, new, ranks)
        if steps:
            many = {1: "one size", 2: "two sizes"}.get(int(abs(steps)), f"{abs(steps):g} sizes")
            text += f" ({many} {'up' if steps > 0 else 'down'})"
    elif row.part in _NAMES and one_letter_apart(old[row.part], new[row.part]):
        text += " (one letter apart: if they are one thing, write both alike)"
    return text

"""Whether two candidates of two batches are one recipe, and what changed if they are not.

Names are compared as they look (``names.bare``), loads as a share of the whole
fill, sizes and fills in mm and g. Lots and dates are no part of the recipe.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab import candle_formulas as formulas
from candlelab.burns.candidates import LOAD_WITHIN_PCT, RECIPE, WIDTH_WITHIN, candidate_names
from candlelab.logs.batch import Batch
from candlelab.logs.names import bare, one_letter_apart
from candlelab.units import Display, unit_symbol

SAME, CHANGED, UNKNOWN = "same", "changed", "not written down"
# How far two logs of one recipe may lie apart, by rounding and by hand; common practice, no source.
FILL_WITHIN = 0.03
PARTS = {
    "vessel": "vessel",
    "inner_diameter_mm": "inner diameter",
    "wax": "wax",
    "fragrance": "fragrance",
    "load_of_fill_pct": "fragrance, share of the whole fill (%)",
    "dye": "dye",
    "wick_series": "wick series",
    "wick_size": "wick size",
    "wick_count": "wicks",
    "fill_mass_g": "fill, mean",
}
# The parts that are names; the load is compared as a number, on one basis.
_NAMES = (*(name for name in RECIPE if name in PARTS), "wick_series", "wick_size")
_PART_COLUMNS = ["part", "in_screening", "in_confirmation", "sameness"]
_WITHIN = {"inner_diameter_mm": WIDTH_WITHIN, "fill_mass_g": FILL_WITHIN}


@dataclass(frozen=True, eq=False)
class Match:
    """A candidate of the second batch, and the one of the first that it is or is nearest to.

    ``parts`` has a row per part of the recipe; ``changes`` says in words what is not the same.
    ``near`` is empty when the first batch has no candidate.
    """

    candidate: str
    near: str
    same: bool
    parts: pd.DataFrame
    changes: tuple[str, ...]


def candidate_recipes(batch: Batch) -> pd.DataFrame:
    """One row per candidate, by its name: its parts in mm, g and % of the whole fill."""
    c = batch.candles
    widths = {name: v.inner_diameter_mm for name, v in batch.settings.vessels.items()}
    no_scent = c["fragrance_load_pct"].isna() & (c["fragrance"] == "")
    load = c["fragrance_load_pct"].mask(no_scent, 0.0).to_numpy()
    share = formulas.fragrance_fraction(load, batch.settings.load_basis)
    table = c[[*_NAMES, "fill_mass_g"]].assign(
        inner_diameter_mm=c["vessel"].map(widths).astype(float),
        wick_count=c["wick_count"].fillna(1.0),
        load_of_fill_pct=100.0 * share,
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
    display = first.settings.display
    ranks = {
        (bare(w.wick_series), bare(w.wick_size)): w.size_rank
        for b in (first, second)
        for w in b.wicks.itertuples()
    }
    found: list[Match] = []
    for candidate, recipe in new.iterrows():
        compared = {name: _parts(old.loc[name], recipe, display) for name in old.index}
        far = {
            name: _distance(parts, old.loc[name], recipe, ranks) for name, parts in compared.items()
        }
        near = min(far, key=far.__getitem__, default="")
        parts = pd.DataFrame(compared.get(near), columns=_PART_COLUMNS)
        differs = parts[parts["sameness"].isin([CHANGED, UNKNOWN])]
        changes = tuple(_change(row, old.loc[near], recipe, ranks) for row in differs.itertuples())
        # two spellings in one batch count as two recipes there
        again = any(m.same and m.near == near for m in found)
        if again and differs.empty:
            changes = (
                "spelt in two ways in the confirmation: if they are one thing, write both alike",
            )
        same = bool(near) and differs.empty and not again
        found.append(Match(str(candidate), str(near), same, parts, changes))
    return found


def _parts(old: pd.Series, new: pd.Series, display: Display) -> list[tuple]:
    rows = []
    for part in PARTS:
        a, b = old[part], new[part]
        shown = (_shown(part, value, display) for value in (a, b))
        rows.append((part, *shown, _sameness(part, a, b)))
    return rows


def _sameness(part: str, old, new) -> str:
    if part in _NAMES:
        return SAME if bare(old) == bare(new) else CHANGED
    if np.isnan(old) or np.isnan(new):
        return UNKNOWN
    within = (
        LOAD_WITHIN_PCT if part == "load_of_fill_pct" else max(old, new) * _WITHIN.get(part, 0.0)
    )
    return SAME if abs(old - new) <= within + 1e-9 else CHANGED


def _shown(part: str, value, display: Display) -> str:
    if part in _NAMES:
        return value or "none"
    if np.isnan(value):
        return "not written down"
    unit = unit_symbol(part)
    return display.written(value, unit) if unit in ("mm", "g") else f"{value:.4g}"


def _distance(parts: list[tuple], old: pd.Series, new: pd.Series, ranks: dict) -> tuple:
    """Fewest changes first; another series is further than another size, by its steps."""
    differs = {part for part, *_, sameness in parts if sameness in (CHANGED, UNKNOWN)}
    steps = _steps(old, new, ranks) if "wick_series" not in differs else None
    # sizes of two series are not to be compared
    differs -= {"wick_size"} if "wick_series" in differs else set()
    return len(differs), "wick_series" in differs, abs(steps) if steps is not None else 99


def _steps(old: pd.Series, new: pd.Series, ranks: dict) -> float | None:
    a, b = (ranks.get((bare(r["wick_series"]), bare(r["wick_size"]))) for r in (old, new))
    return None if a is None or b is None or np.isnan(a) or np.isnan(b) else b - a


def _change(row, old: pd.Series, new: pd.Series, ranks: dict) -> str:
    text = f"{PARTS[row.part]} {row.in_confirmation} in place of {row.in_screening}"
    if row.sameness == UNKNOWN:
        both = row.in_screening == row.in_confirmation
        return f"{PARTS[row.part]} not written down in {'both rounds' if both else 'one round'}"
    if row.part == "wick_size" and bare(old["wick_series"]) == bare(new["wick_series"]):
        steps = _steps(old, new, ranks)
        if steps:
            many = {1: "one size", 2: "two sizes"}.get(int(abs(steps)), f"{abs(steps):g} sizes")
            text += f" ({many} {'up' if steps > 0 else 'down'})"
    elif row.part in _NAMES and one_letter_apart(old[row.part], new[row.part]):
        text += " (one letter apart: if they are one thing, write both alike)"
    return text

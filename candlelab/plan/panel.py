"""A panel planned: sittings, codes that hide the recipe, balanced orders, what it can show.

A sitting holds candles of as many candidates as a nose can smell before it tires, one of them again
as a hidden repeat. Orders are rows of a Williams square, so that places and what comes before are
balanced over noses. The same seed gives the same plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from itertools import chain, count, pairwise
from typing import NamedTuple

import numpy as np
import pandas as pd

from candlelab.logs.settings import Scent, Settings
from candlelab.plan.blank_checks import check_words, draw_checks, pair_rows
from candlelab.plan.planned import PlannedBatch, as_log
from candlelab.stats.discrimination import PAIR, chance_to_show, fewest_right, share_right
from candlelab.stats.panel import simulated_power
from candlelab.stats.serving import incomplete_blocks, williams
from candlelab.text import counted, listed

# Variances on a scale of six words, in steps: candle, taste of a nose for a candidate, one sniff
# with the burn that it is of [assumed: no source; judge_scent measures them].
_SPREAD = (0.2**2, 0.25**2, 0.55**2)
_USE_SD = 0.3  # of the use of the scale, as a share: noses differ the more, the larger a step is
_WORDS_TOP = 5.0
_FIRST_HOT, _NOSES, _TIMES = 2, (3, 4, 5, 6, 8), (1, 2, 3)
COLUMNS = ["state", "sitting_number", "burn", "assessor", "order", "code"]


def wants_panel(settings: Settings) -> bool:
    """Whether the plan asks for a panel: it has a section ``[scent]``."""
    return settings.scent != Scent()


class PanelPlan(NamedTuple):
    """Who smells what in which place.

    Attributes
    ----------
    smelled : pandas.DataFrame
        ``state, sitting_number, burn, assessor, order, code``.
    key : pandas.DataFrame
        Which code is which candle: ``code, candle``.
    checks : pandas.DataFrame
        The blank checks: ``sitting_number, assessor, order, first, second``.
    """

    smelled: pd.DataFrame
    key: pd.DataFrame
    checks: pd.DataFrame


@lru_cache(maxsize=8)  # sheets, logs, key and words of a plan ask for the same
def panel_plan(planned: PlannedBatch) -> PanelPlan:
    """Who smells what in which place, the key of their codes, and the blank checks."""
    scent, seed = planned.plan.settings.scent, planned.plan.layout.seed
    rng = np.random.default_rng([seed, 14])
    codes = _codes(rng)
    turns: list[tuple[str, int]] = [("cold", 0)]
    turns += [("hot", _FIRST_HOT + n) for n in range(int(scent.sessions))]
    rows: list[tuple] = []
    key: dict[str, str] = {}
    for state, burn in turns:
        for number, candles in enumerate(_sittings(planned, rng), 1):
            again = list(rng.choice(candles, min(int(scent.repeats), len(candles)), replace=False))
            here = [*candles, *again]
            given = [str(next(codes)) for _ in here]
            key |= dict(zip(given, here, strict=True))
            for nose, order in enumerate(_orders(here, int(scent.noses), rng)):
                rows += [
                    (state, number, burn or np.nan, f"P{nose + 1}", place, given[at])
                    for place, at in enumerate(order, 1)
                ]
    table = pd.DataFrame(rows, columns=COLUMNS).astype({"burn": "Int64"})
    checks, more = draw_checks(planned, codes)
    opened = pd.DataFrame(list((key | more).items()), columns=["code", "candle"])
    return PanelPlan(table, opened, checks)


def _codes(rng) -> Iterator[int]:
    """Codes of three digits in an order drawn by lot, then longer ones."""
    first = rng.permutation(np.arange(101, 1000)).tolist()
    longer = (rng.permutation(np.arange(10**n, 10 ** (n + 1))).tolist() for n in count(3))
    return chain(first, chain.from_iterable(longer))


def smelled_rows(planned: PlannedBatch) -> dict[str, pd.DataFrame]:
    """The rows of throw.csv, and of pairs.csv with blank checks, that are due: who smells which
    code when. What the panel notes is empty."""
    smelled, _, checks = panel_plan(planned)
    when = smelled["burn"].map(lambda n: "cold" if pd.isna(n) else f"burn {n}")
    sitting = smelled["sitting_number"].astype(str)
    known = smelled.assign(lit=smelled["state"] == "hot", session=when + ", sitting " + sitting)
    pairs = {"pairs": pair_rows(checks)} if len(checks) else {}
    return {"throw": as_log("throw", known)} | pairs


def _sittings(planned: PlannedBatch, rng) -> list[list[str]]:
    """Candles parted into sittings, each with its share of every candidate."""
    scent, layout = planned.plan.settings.scent, planned.layout
    most = max(int(scent.candles_a_session) - int(scent.repeats), 2)
    own = {name: list(rng.permutation(c["candle"])) for name, c in layout.groupby("candidate")}
    names = list(own)
    if len(names) <= most:
        each = max(most // len(names), 1)
        n = max(-(-len(candles) // each) for candles in own.values())
        parts = [
            [c for name in names for c in own[name][i * each : (i + 1) * each]] for i in range(n)
        ]
        return [part for part in parts if len(part) > 1]
    blocks = incomplete_blocks(len(names), most, _blocks(own, most), seed=planned.plan.layout.seed)
    turn = dict.fromkeys(names, 0)
    parts = []
    for block in blocks:
        part = []
        for name in (names[int(at)] for at in block):
            part.append(own[name][turn[name] % len(own[name])])
            turn[name] += 1
        parts.append(part)
    return parts


def _blocks(own: dict, most: int) -> int:
    return max(-(-sum(len(candles) for candles in own.values()) // most), len(own))


def _orders(here: list[str], noses: int, rng) -> list[list[int]]:
    """An order for each nose: rows of a Williams square in which no repeat follows itself, those
    first that put a candle where it was least."""
    square = rng.permutation(len(here))[williams(len(here))]
    rows = [row for row in square.tolist() if not _beside_itself(row, here)]
    rows = [[int(at) for at in row] for row in rng.permutation(rows or square.tolist())]
    return min((_from(row, rows, noses) for row in rows), key=_crowded)


def _from(first: list[int], rows: list[list[int]], noses: int) -> list[list[int]]:
    """Orders that begin with one, each next one the one that repeats the fewest places."""
    chosen = [first]
    while len(chosen) < noses:
        chosen.append(min(rows, key=lambda row: _crowded([*chosen, row])))
    return chosen


def _crowded(orders: list[list[int]]) -> int:
    """How often two orders have a thing at one place."""
    at = np.array(orders)
    return int(sum((at[i] == at[:i]).sum() for i in range(1, len(at))))


def _beside_itself(row: list[int], here: list[str]) -> bool:
    return any(here[a] == here[b] for a, b in pairwise(row))


@lru_cache
def _shown(noses: int, times: int, candles: int, candidates: int, step: float) -> float:
    spread = (_SPREAD[0], _SPREAD[1] + (_USE_SD * step) ** 2, _SPREAD[2] / times)
    return 100 * simulated_power(
        spread, n_assessors=noses, n_candles=candles, n_candidates=candidates, step=step, panels=300
    )


def panel_power(planned: PlannedBatch) -> pd.DataFrame:
    """How often a difference of one step is shown, by noses and times that each candle is smelled.

    By drawing panels and analyzing each; the spread is assumed.
    """
    scent, table = planned.plan.settings.scent, planned.candidates
    candles, candidates = int(table["n_candles"].min()), len(table)
    if candles < 2 or candidates < 2:
        return pd.DataFrame(columns=["n_assessors", "n_times", "found_simulated_pct"])
    step = scent.step * _WORDS_TOP / scent.top
    pairs = sorted(
        {(n, t) for n in (*_NOSES, int(scent.noses)) for t in (*_TIMES, int(scent.sessions))}
    )
    rows = [(n, t, _shown(n, t, candles, candidates, step)) for n, t in pairs if n > 1]
    return pd.DataFrame(rows, columns=["n_assessors", "n_times", "found_simulated_pct"])


def _side_by_side(pairs: int = 24) -> str:
    """How many pairs show which of two is stronger, where that is all that is asked."""
    need = fewest_right(pairs, chance=PAIR)
    shown = 100 * chance_to_show(pairs, share_right(1.0), chance=PAIR)
    return (
        f"Is one of two stronger? Smell them side by side (pairs.csv): {need} of {pairs} pairs "
        f"have to name it, as they do in {shown:.0f} of 100 tests if it is stronger by as much as "
        "two sniffs of one candle usually differ."
    )


def panel_words(planned: PlannedBatch) -> list[str]:
    """What the page says of the panel: who smells what, how sure, what is missing."""
    settings = planned.plan.settings
    if not wants_panel(settings):
        return []
    scent, (table, _, checks) = settings.scent, panel_plan(planned)
    power = panel_power(planned)
    own = power[(power["n_assessors"] == scent.noses) & (power["n_times"] == scent.sessions)]
    sittings = table.groupby("state")["sitting_number"].nunique()
    size = table.groupby(["state", "sitting_number", "burn", "assessor"], dropna=False).size()
    said = [
        f"Scent: {counted(int(scent.noses), 'nose')} smell every candle cold, in "
        f"{counted(int(sittings['cold']), 'sitting')}, and burning, in burns "
        f"{listed([_FIRST_HOT + n for n in range(int(scent.sessions))])}. A sitting has "
        f"{int(size.max())} candles, {counted(int(scent.repeats), 'hidden repeat')} among them; "
        f"rest {scent.rest_min:g} min and air the room between two, and sit {scent.distance_m:g} m "
        f"away{f' ({scent.place})' if scent.place else ''}.",
        "Print scent_sheets.html, which has codes only. Keep codes.csv closed until all is scored.",
    ]
    said += check_words(planned, checks)
    if len(own):
        share = own["found_simulated_pct"].iloc[0]
        said.append(
            f"So many noses show a difference of {scent.step:g} between two candidates in "
            f"{share:.0f} of 100 panels, if they vary as is assumed."
        )
    said.append(_side_by_side())
    if not (planned.candidates["fragrance_load_pct"].fillna(0) == 0).any():
        said.append(
            "No candidate is without fragrance: add one as a blank, or nobody can tell scent from "
            "the room."
        )
    return said

"""What changes along with what is compared: what can be leveled out, and what cannot be told apart.

Candles of one batch, lot of wax, pouring day, season or room share a level of their own. Where
candidates have candles in several of them the level is taken off (a block). Candidates that share
none with the others cannot be told from it, however many candles there are: those that hang
together are compared, the rest is named.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candidates import RECIPE
from candlelab.compare.metrics import SHARED
from candlelab.judge.words import in_row
from candlelab.pages.glossary import heading
from candlelab.text import capital

# Rooms further apart than this are two rooms [degC]; common practice, no source.
ROOM_GAP_C = 2.0
_CALLED = {"batch": "batch", "wax_lot": "wax lot", "poured_on": "pouring day",
           "season": "days of burning", "room": "room temperature"}  # fmt: skip


@dataclass(frozen=True)
class Design:
    """What of a comparison can be answered.

    ``parts`` are the candidates that hang together, most candles first; ``blocks`` the columns that
    are leveled out; ``tied`` what cannot be told from the candidates where there are several parts;
    ``skipped`` what there are too few candles to level out as well.
    """

    by: str
    parts: tuple[tuple[str, ...], ...]
    blocks: tuple[str, ...]
    tied: tuple[str, ...]
    skipped: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether all candidates hang together."""
        return len(self.parts) < 2

    def part_of(self, name: str) -> tuple[str, ...]:
        """The candidates that hang together with one."""
        return next((part for part in self.parts if name in part), (name,))


def with_levels(fresh: pd.DataFrame) -> pd.DataFrame:
    """Add to fresh candles the ``season`` and the ``room`` that each was burned in, as levels."""
    lit = pd.to_datetime(fresh["lit_first"], utc=True).astype("int64").to_numpy(dtype=float)
    out = pd.to_datetime(fresh["out_last"], utc=True).astype("int64").to_numpy(dtype=float)
    room = fresh["room_mean_c"].to_numpy(dtype=float)
    rooms = pd.Series(_groups(room - ROOM_GAP_C / 2, room + ROOM_GAP_C / 2), index=fresh.index)
    season = _groups(lit, out).astype(object)  # levels, no straight line through their numbers
    table = fresh.assign(season=season, room=rooms.where(fresh["room_mean_c"].notna()))
    known = {name: table[name].mask(table[name].astype(str) == "") for name in ("wax_lot", "room")}
    known["poured_on"] = table["poured_on"]
    usual = {c: own.mode().iat[0] if own.notna().any() else "" for c, own in known.items()}
    # what was not recorded tells nothing apart
    return table.assign(
        **{c: own.astype(object).where(own.notna(), usual[c]) for c, own in known.items()}
    )


def _groups(low, high) -> np.ndarray:
    """Numbers of the groups that overlapping intervals form, from low to high."""
    order = np.argsort(np.where(np.isnan(low), np.inf, low), kind="stable")
    reach = np.fmax.accumulate(high[order])
    new = np.append(False, low[order][1:] > reach[:-1])
    out = np.empty(len(low), dtype=int)
    out[order] = np.cumsum(new)
    return out


def design_of(
    table: pd.DataFrame, by: str, others: Iterable[str], alike: Iterable[str] = ()
) -> Design:
    """What can be told apart in a table of candles.

    Parameters
    ----------
    table : pandas.DataFrame
        One row per candle that counts.
    by : str
        The column of candidates.
    others : iterable of str
        The columns of what else may differ.
    alike : iterable of str
        Those of them whose levels are taken to be alike: they are neither leveled out nor named.
        With ``batch`` its days, lots and rooms are alike as well.

    Returns
    -------
    Design
    """
    names, alike = table[by].astype(str), set(alike)
    alike |= set(SHARED) if "batch" in alike else set()
    found = {c: _codes(table[c]) for c in others if c in table and c not in alike}
    codes = {c: own for c, own in found.items() if own is not None}
    kept = {c: own for c, own in codes.items() if not _coarser(c, own, codes)}
    whose, candidates = pd.factorize(names, use_na_sentinel=False)
    of_each = {c: _parts(whose, own) for c, own in codes.items()}
    tied = tuple(c for c, part in of_each.items() if np.ptp(part) > 0)
    together = np.zeros(len(candidates), dtype=int)
    for part in of_each.values():
        together = pd.factorize(together * len(candidates) + part)[0]
    order = np.argsort(-np.bincount(together[whose]), kind="stable")
    parts = tuple(tuple(candidates[together == n]) for n in order)
    blocks, skipped = _independent(names, kept)
    return Design(by, parts, blocks, tied, skipped)


def _codes(values: pd.Series) -> np.ndarray | None:
    """The level of each row; None where there is one, and where each candle has one of its own."""
    codes = pd.factorize(values.astype(str))[0]
    if codes.max(initial=0) == 0 or np.bincount(codes).max() == 1:
        return None
    return codes


def _coarser(name: str, own: np.ndarray, codes: dict[str, np.ndarray]) -> bool:
    """Whether another column says the same and more; of two that say the same the first stays."""
    for other, fine in codes.items():
        pairs = len(set(zip(own.tolist(), fine.tolist(), strict=True)))
        if other == name or pairs > fine.max() + 1:
            continue
        earlier = list(codes).index(other) < list(codes).index(name)
        if fine.max() > own.max() or earlier:
            return True
    return False


def _parts(whose: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """The part of each candidate: those that share a level, or share one with one that does."""
    part = np.arange(whose.max() + 1)
    for level in range(codes.max() + 1):
        joined = part[whose[codes == level]]
        part[np.isin(part, joined)] = joined.min()
    return part


def _independent(names: pd.Series, codes: dict[str, np.ndarray]):
    """The columns that say something beside the candidates and those before them; those of them
    for which there are too few candles once the first is leveled out."""
    own = pd.factorize(names)[0]
    x = (own[:, None] == np.arange(own.max(initial=-1) + 1)).astype(float)
    kept: list[str] = []
    skipped: list[str] = []
    for name, levels in codes.items():
        more = np.column_stack((x, (levels[:, None] == np.arange(levels.max() + 1)).astype(float)))
        rank = np.linalg.matrix_rank(more)
        if rank > np.linalg.matrix_rank(x):
            if kept and rank >= len(names):
                skipped.append(name)
            else:
                x, kept = more, [*kept, name]
    return tuple(kept), tuple(skipped)


def compare_all_words(design: Design) -> str:
    """What would let all of them be compared."""
    cause = _CALLED.get(design.tied[0], heading(design.tied[0]))
    return f"To compare them all, put one recipe into every {cause} (a control candle)."


def tied_words(design: Design, name: str = "") -> list[str]:
    """What has to be said first where not all can be told apart; nothing where all can.

    ``name`` is what is compared, in the singular.
    """
    if design.whole:
        return []
    name, cause = name or heading(design.by), _CALLED.get(design.tied[0], heading(design.tied[0]))
    control = compare_all_words(design)
    several = [part for part in design.parts if len(part) > 1]
    why = "its days, lots or room" if cause == "batch" else f"the {cause}"
    if not several:
        return [
            f"No two of these {len(design.parts)} share a {cause}, so a difference may come from "
            f"{why} and not from the {name}. None is called more than luck. {control}"
        ]
    told = "; ".join(in_row(part) for part in several)
    alone = [part[0] for part in design.parts if len(part) == 1]
    rest = f" Not compared: {in_row(alone)}." if alone else ""
    return [
        f"A difference may come from {why} and not from the {name}. Only those that share a "
        f"{cause} are compared: {told}.{rest} {control}"
    ]


def skipped_words(design: Design) -> list[str]:
    """What is not leveled out for want of candles."""
    names = [_CALLED.get(name, heading(name)) for name in design.skipped]
    text = "There are too few candles to level out {} as well: it may be in the differences."
    return [text.format(name) for name in names]


def control_words(table: pd.DataFrame, by: str) -> list[str]:
    """Which candidates were burned in every batch, and so hold the batches together; what two
    batches cannot show."""
    batches = table["batch"].nunique()
    n = table.groupby(by, sort=False)["batch"].nunique()
    if batches < 2 or n.max() < 2:
        return []
    said = [more_batches_words(batches)]
    control = list(n.index[n == batches].astype(str))
    if control and len(control) < len(n):
        were, level = ("was", "levels") if len(control) == 1 else ("were", "level")
        text = f"{in_row(control)} {were} burned in every batch and {level} them out"
        said.insert(0, capital(f"{text} (control candles)."))
    return said


def more_batches_words(n: int) -> str:
    """What few batches cannot show."""
    return (
        f"A wick may burn faster than another in one batch and not in the next: {n} batches show "
        "that poorly. Burn one more before you believe a small difference."
    )


def shared_within(table: pd.DataFrame) -> tuple[str, ...]:
    """What candles of several recipes share: each wax has lots of its own, so lots tell waxes apart
    and not the other way."""
    return tuple(c for c in SHARED if c != "wax_lot" or table["wax"].nunique() < 2)


def recipe_columns(by: str) -> tuple[str, ...]:
    """What of a candle's recipe may differ beside what is compared."""
    return tuple(name for name in ("wick", *RECIPE) if name != by)

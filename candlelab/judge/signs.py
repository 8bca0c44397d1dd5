"""Signs of a wick that is too small or too large: rules as data, and what they look at.

Every threshold is common practice, no source, except where a rule says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candles import that_count
from candlelab.burns.groups import RUN, as_rows, first_rows, reduced, table_of
from candlelab.candle_formulas import grouped_line
from candlelab.judge.criteria import FLAME_LIMITS_MM
from candlelab.judge.targets import targets_of
from candlelab.logs.batch import Batch
from candlelab.logs.groups import begins
from candlelab.logs.settings import Target
from candlelab.units import SI, Display, unit_symbol

SMALL, LARGE, NEITHER = "too small", "too large", "neither"
_SET_BY_THE_STUDIO = {
    "hang_up_left_pct": "over hang_up_pct",
    "used_up_left_pct": "up to hang_up_pct",
    "full_pool_in_time_h": "inside the target full_pool_h",
    "wall_over_caution_c": "against wall_caution_c",
}
_KINDS = {
    "candle": "str", "run": "int64", "candidate": "str", "excluded": "bool", "rule": "str",
    "points_to": "str", "weak": "bool", "value": "float64", "words": "str",
}  # fmt: skip
# Where the studio names no target; common practice, no source.
_FULL_POOL = Target("full_pool_h", 1.5, 4.0)
_FLAME_LIMIT_MM = min(FLAME_LIMITS_MM.values())


@dataclass(frozen=True)
class Rule:
    """A sign: ``feature`` at or above (``at_least``) or at or below (``at_most``) its threshold.

    ``points_to`` is too small, too large, or neither for a sign that all is well. ``words`` says
    what was seen, with ``{}`` for the reading, shown to ``digits`` decimals. A ``weak`` sign proves
    nothing when it stands alone on half of the candles or fewer.
    """

    rule: str
    feature: str
    points_to: str
    words: str
    at_least: float = -np.inf
    at_most: float = np.inf
    source: str = "common practice, no source"
    weak: bool = False
    digits: int = 1

    def threshold(self, display: Display) -> str:
        """The ends between which the sign shows."""
        if self.feature in _SET_BY_THE_STUDIO:
            return f"{_SET_BY_THE_STUDIO[self.feature]} in batch.toml"
        ends = (("at least", self.at_least), ("at most", self.at_most))
        unit = unit_symbol(self.feature) if self.measured else ""
        known = [f"{w} {display.written(end, unit)}" for w, end in ends if np.isfinite(end)]
        return ", ".join(known) or "it was so"

    @property
    def measured(self) -> bool:
        """Whether its reading is a length or a temperature, which the words name with its unit."""
        return unit_symbol(self.feature) in ("mm", "°C")

    def say(self, values, display: Display = SI) -> str:
        """The sign in words, with one reading or the range of several."""
        unit = unit_symbol(self.feature)
        low, high = sorted(abs(v) for v in (min(values), max(values)))
        if self.measured:
            # a temperature here is always a distance from a limit
            ends = [display.number(v, unit, span=True) for v in (low, high)]
        else:
            ends = [f"{v:.{self.digits}f}" for v in (low, high)]
        said = ends[0] if ends[0] == ends[1] else " to ".join(ends)
        return self.words.format(f"{said} {display.symbol(unit)}" if self.measured else said)


RULES = (
    Rule("no full pool by the third burn", "widest_of_first_three_pct", SMALL,
         "no full pool in the first three long burns (widest {} % of the vessel)", digits=0),
    Rule("wax wall growing", "pool_trend_pct", SMALL,
         "the pool narrows from burn to burn, by {} % of the width a burn", at_most=-0.5),
    Rule("small flame", "flame_max_mm", SMALL, "the flame never rose above {}", at_most=13,
         digits=0),
    Rule("went out early", "self_out_early", SMALL,
         "it went out by itself long before the wax was used", at_least=1),
    Rule("wax left at the end", "hang_up_left_pct", SMALL,
         "{} % of the wax was left at the end, more than the studio calls hang-up", at_least=0,
         digits=0, weak=True),
    Rule("replaced", "replaced_with_wax", SMALL,
         "the wick was replaced and the rest burned on a new one", at_least=1),
    Rule("tall flame", "flame_max_mm", LARGE, "the flame rose to {}, near the limit or over it",
         at_least=0.8 * _FLAME_LIMIT_MM, digits=0,
         source="four fifths of the limit of EN 15493, read second-hand; the share is common "
                "practice"),
    Rule("soot", "soot_max", LARGE, "soot of grade {} was seen", at_least=2, digits=0),
    Rule("full pool in the first hour", "first_full_pool_by_h", LARGE,
         "the pool was full within the first hour of the first burn", at_most=1),
    Rule("deep pool", "pool_depth_max_mm", LARGE, "the pool was {} deep", at_least=13.01),
    Rule("hot wall", "wall_over_caution_c", LARGE,
         "the wall went {} over the studio's caution limit", at_least=0.01),
    Rule("mushroom returns", "mushroom_again_mm", LARGE,
         "a mushroom of {} came back after trimming", at_least=3, weak=True),
    Rule("full pool in time", "full_pool_in_time_h", NEITHER,
         "the pool was full after {} h in its typical burn (the median)", at_least=0),
    Rule("pool depth in range", "pool_depth_max_mm", NEITHER, "the deepest pool was {}",
         at_least=6, at_most=13),
    Rule("wall cool enough", "wall_over_caution_c", NEITHER,
         "the wall stayed {} from the caution limit", at_most=0),
    Rule("no soot", "soot_max", NEITHER, "no more soot than a wisp", at_most=1),
    Rule("wax used up", "used_up_left_pct", NEITHER, "{} % of the wax was left at the end",
         at_most=100, digits=0),
)  # fmt: skip


def features(
    batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame, candles: pd.DataFrame
) -> pd.DataFrame:
    """What the rules look at, one row per wick run."""
    n, keep = len(runs), that_count(burns).to_numpy()
    starts = first_rows(burns, RUN)
    run = np.repeat(np.arange(n), np.diff(starts, append=len(burns)))[keep]
    names = ["burn_time_h", "mushroom_max_mm", "full_pool_by_h", "pool_watched_h",
             "pool_share_max_pct"]  # fmt: skip
    seen = {name: burns[name].to_numpy(dtype=float)[keep] for name in names}
    turn, _ = _turns(run)
    long = seen["burn_time_h"] >= 0.75 * batch.settings.protocol.burn_h
    mushroom, first_burn = seen["mushroom_max_mm"], np.full(n, np.nan)
    before = np.concatenate(([np.nan], mushroom[:-1]))[: len(mushroom)]
    again = np.where(turn > 0, np.minimum(mushroom, before), np.nan)
    poured = (turn == 0) & (runs["run"].to_numpy() == 1)[run]
    first_burn[run[poured]] = seen["full_pool_by_h"][poured]
    long_run, of_long = run[long], {name: values[long] for name, values in seen.items()}
    at = pd.Index(candles["candle"]).get_indexer(runs["candle"])
    ended = candles["ended"].to_numpy()[at] & ~runs["replaced"]
    left = pd.Series(candles["wax_left_pct"].to_numpy()[at], runs.index).where(ended)
    hang_up, limits = batch.settings.protocol.hang_up_pct, batch.settings.limits
    return runs.assign(
        widest_of_first_three_pct=_widest_of_first_three(long_run, of_long, n),
        pool_trend_pct=_pool_trends(long_run, turn[long], of_long, n),
        hang_up_left_pct=left.where(left > hang_up),
        used_up_left_pct=left.where(left <= hang_up),
        full_pool_in_time_h=runs["full_pool_h"].where(_in_time(batch, runs)),
        replaced_with_wax=runs["replaced"].astype(float),
        first_full_pool_by_h=first_burn,
        wall_over_caution_c=runs["wall_max_c"] - limits.wall_caution_c,
        mushroom_again_mm=reduced(run, again, n),
        seen_enough=(runs["n_burns"] >= 3) & (runs["fill_used_pct"] >= 50),
    )


def _turns(group: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """How many rows of its group come before each row, and how many after; groups in order."""
    starts = begins(group)
    sizes = np.diff(starts, append=len(group))
    before = np.arange(len(group)) - np.repeat(starts, sizes)
    return before, np.repeat(sizes, sizes) - 1 - before


def _widest_of_first_three(run: np.ndarray, seen: dict[str, np.ndarray], n: int) -> np.ndarray:
    """Widest pool of the first three long burns, where all were watched and none was full [%]."""
    first = _turns(run)[0] < 3
    watched = first & np.isfinite(seen["pool_watched_h"])
    full = first & np.isfinite(seen["full_pool_by_h"])
    never = np.bincount(run[full], minlength=n) == 0
    widest = reduced(run[first], seen["pool_share_max_pct"][first], n)
    return np.where((np.bincount(run[watched], minlength=n) == 3) & never, widest, np.nan)


def _in_time(batch: Batch, runs: pd.DataFrame) -> pd.Series:
    """Whether the typical time to a full pool is inside the target of the vessel."""
    inside = {}
    for vessel in runs["vessel"].unique():
        own = [t for t in targets_of(batch.settings, vessel) if t.quantity == "full_pool_h"]
        inside[vessel] = (own or [_FULL_POOL])[0]
    of_run = [inside[vessel] for vessel in runs["vessel"]]
    hours = runs["full_pool_h"]
    return (hours >= [t.low for t in of_run]) & (hours <= [t.high for t in of_run])


def _pool_trends(
    run: np.ndarray, turn: np.ndarray, seen: dict[str, np.ndarray], n: int
) -> np.ndarray:
    """Straight-line change of the widest pool from one long burn to the next [% of the width].

    Missing with fewer than three burns or when one of the last two had a full pool.
    """
    full = np.isfinite(seen["full_pool_by_h"]) & (_turns(run)[1] < 2)
    width = seen["pool_share_max_pct"]
    unfit = np.bincount(run, full | np.isnan(width), minlength=n) > 0
    line = grouped_line(run, turn, width, n)
    return np.where(unfit | (line["n"] < 3), np.nan, line["slope"])


def signs_of(seen: pd.DataFrame, display: Display = SI) -> pd.DataFrame:
    """One row per wick run and rule whose sign shows, from the table of `features`."""
    about, rows = as_rows(seen[["candle", "run", "candidate", "excluded"]]), []
    for rule in RULES:
        value = seen[rule.feature].to_numpy(dtype=float)
        for at in np.flatnonzero((value >= rule.at_least) & (value <= rule.at_most)):
            sign = {"rule": rule.rule, "points_to": rule.points_to, "weak": rule.weak}
            sign |= {"value": value[at], "words": rule.say([value[at]], display)}
            rows.append(vars(about[at]) | sign)
    return table_of(rows, _KINDS)

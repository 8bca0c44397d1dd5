"""What becomes of each candidate, and what to do next: the one place that decides.

Safety decides before taste, evidence before order. Every page asks here, so that no two of them can
give a candidate two fates.
"""

from __future__ import annotations

import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.judge.diagnosis import LARGE, MIXED, SMALL, next_size
from candlelab.judge.failures import STILL_BURNING
from candlelab.text import counted, listed

SAFE, BURNING, UNCHECKED, RULED_OUT = (
    "safe so far", STILL_BURNING, "not fully checked", "ruled out"
)  # fmt: skip
FATES = (SAFE, BURNING, UNCHECKED, RULED_OUT)
FRESH = 3  # candles for a first look at a wick; common practice, no source
_POINTS = {"own pool depth": -1, "keeps burning": 1}
_WAYS = {SMALL: 1, LARGE: -1}
_COLUMNS = ["candidate", "vessel", "wick", "fate", "because", "next_step", "next_wick"]


def decide(worked) -> pd.DataFrame:
    """One row per candidate: its fate, why, what to do next and on which wick.

    Parameters
    ----------
    worked : WorkedBatch
        A batch, worked out.

    Returns
    -------
    pandas.DataFrame
        ``candidate, vessel, wick, fate, because, next_step, next_wick`` and the counts of candles:
        ``n_passed, n_failed, n_gaps`` (not fully checked), ``n_burning``. In natural order.
    """
    failed, gaps = worked.failures, worked.gaps
    counts = worked.verdicts.candidates.set_index("candidate")
    about = worked.burns.drop_duplicates("candidate").set_index("candidate")
    rows = []
    for name in natural_order(counts.index):
        own, open_ = failed[failed["candidate"] == name], gaps[gaps["candidate"] == name]
        burning = open_.loc[open_["why"] == STILL_BURNING, "candle"].nunique()
        of = counts.loc[name]
        fate = _fate(own, of, burning)
        rows.append({
            "candidate": name, "vessel": about.at[name, "vessel"], "wick": about.at[name, "wick"],
            "fate": fate, "because": _because(fate, own, open_, of), "n_passed": int(of["n_passed"]),
            "n_failed": int(of["n_failed"]), "n_gaps": int(of["n_open"]), "n_burning": burning,
        })  # fmt: skip
    table = pd.DataFrame(rows)
    steps = [_next_step(row, table, worked, about) for row in table.itertuples()]
    table = table.assign(next_step=[s for s, _ in steps], next_wick=[w for _, w in steps])
    return table[[*_COLUMNS, "n_passed", "n_failed", "n_gaps", "n_burning"]]


def _fate(failed: pd.DataFrame, counts, burning: int) -> str:
    if len(failed):
        return RULED_OUT
    if counts["n_passed"]:
        return SAFE
    return BURNING if burning else UNCHECKED


def _because(fate: str, failed: pd.DataFrame, gaps: pd.DataFrame, counts) -> str:
    """Why, in sentences: each failure once, or what is missing."""
    if fate == RULED_OUT:
        return " ".join(failure_words(failed))
    said = []
    if fate == SAFE:
        n = int(counts["n_passed"])
        of = f"All {n}" if n == counts["n_candles"] and n > 1 else str(n)
        said.append(f"{of} candle{'s' if n > 1 else ''} passed every safety check.")
    elif not counts["n_candles"]:
        said.append("Every candle of it was set aside, or met it part-used.")
    return " ".join([*said, *gap_words(gaps)])


def place_words(row) -> str:
    """Where it happened: candle, burn, and how long after lighting."""
    if not row.candle:
        return ""
    minutes = round(row.elapsed_min)
    hours = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
    return f"{row.candle}, burn {row.burn}, {hours} after lighting"


def failure_words(failed: pd.DataFrame, at_most: int = 3) -> list[str]:
    """A sentence for each kind of failure: what happened, where first, how often, set aside or not."""
    said = []
    for _, part in failed.groupby("criterion", sort=False):
        row = next(part.itertuples())
        place = place_words(row)
        others = [c for c in dict.fromkeys(part["candle"]) if c and c != row.candle]
        also = f"; also {listed(others, 4)}" if others else ""
        note = f" Note: “{row.note}”." if row.note else ""
        said.append(f"{row.words}{f' ({place}{also})' if place else ''}.{note}{_aside_words(part)}")
    more = [f"And {counted(len(said) - at_most, 'more failure')}."] if len(said) > at_most else []
    return [*said[:at_most], *more]


def _aside_words(part: pd.DataFrame) -> str:
    """That setting aside does not undo a failure."""
    aside = part[part["excluded"]]
    if aside.empty:
        return ""
    row = next(aside.itertuples())
    reason = f" ({row.exclusion_reason})" if row.exclusion_reason else ""
    what = row.candle if row.whole else f"burn {row.burn} of {row.candle}"
    return f" You set {what} aside{reason}; its failure counts all the same."


def gap_words(gaps: pd.DataFrame, at_most: int = 3) -> list[str]:
    """A sentence for each candle that is not fully checked."""
    said = []
    for candle, part in gaps.groupby("candle", sort=False):
        why = list(dict.fromkeys(part["why"]))
        if why == [STILL_BURNING]:
            said.append(f"{candle} is still burning.")
        else:
            said.append(f"{candle} is not fully checked: {listed(why, 3)}.")
    more = [f"And {counted(len(said) - at_most, 'more candle')}."] if len(said) > at_most else []
    return [*said[:at_most], *more]


def _next_step(row, table: pd.DataFrame, worked, about: pd.DataFrame) -> tuple[str, str]:
    own = worked.failures[worked.failures["candidate"] == row.candidate]
    if own["incident"].any():
        return (f"Stop testing {row.wick} in this vessel. Find out why before another is lit.", "")
    way = _way(row.candidate, own, worked)
    if row.fate == RULED_OUT:
        return _step(row, way, table, worked, about)
    if row.fate == BURNING:
        gaps = worked.gaps[worked.gaps["candidate"] == row.candidate]
        left = gaps[gaps["why"] == STILL_BURNING]
        return " ".join(f"{g.candle}: {g.to_settle}" for g in left.itertuples()), row.wick
    if row.fate == UNCHECKED:
        return f"Burn {FRESH} fresh candles of {row.wick} to the end, with every check.", row.wick
    confirm = worked.batch.settings.stage != "confirmation"
    first = f"Confirm {row.wick} on fresh candles." if confirm else f"Keep {row.wick}."
    if row.n_gaps:
        first += f" Burn {counted(row.n_gaps, 'more fresh candle')} with every check."
    if way:
        hint, _ = _step(row, way, table, worked, about)
        runs = "burns on the small side" if way > 0 else "burns on the hot side"
        return f"{first} It {runs}: {hint[0].lower()}{hint[1:]}", row.wick
    return first, row.wick


def _way(candidate: str, failed: pd.DataFrame, worked) -> int:
    """1 for a larger wick, -1 for a smaller one, 0 where the signs do not say or contradict."""
    ways = {_POINTS[c] for c in failed["criterion"] if c in _POINTS}
    found = worked.diagnosis.candidates.set_index("candidate")["finding"].get(candidate, "")
    if not ways or found == MIXED:
        ways |= {_WAYS[found]} if found in _WAYS else {1, -1} if found == MIXED else set()
    return ways.pop() if len(ways) == 1 else 0


def _step(row, way: int, table: pd.DataFrame, worked, about: pd.DataFrame) -> tuple[str, str]:
    """Where to go from a candidate that is too small or too large."""
    if not way:
        return "Try another series.", ""
    recipe = about.loc[row.candidate]
    series, size = recipe["wick_series"], recipe["wick_size"]
    beyond = next_size(worked.batch.wicks, series, size, way)
    larger = "larger" if way > 0 else "smaller"
    if beyond is None:
        return f"Try another series: wicks.csv has no {larger} size of {series}.", ""
    name = row.candidate.replace(
        row.wick, row.wick.replace(f"{series} {size}", f"{series} {beyond}"), 1
    )
    other = table[table["candidate"] == name]
    if other.empty:
        return (
            f"Pour {FRESH} candles of {series} {beyond}, one size {'up' if way > 0 else 'down'}.",
            f"{series} {beyond}",
        )
    other = next(other.itertuples())
    back = _way(name, worked.failures[worked.failures["candidate"] == name], worked)
    if other.fate == RULED_OUT:
        return f"Try another series: {name} was ruled out as well.", ""
    if back == -way:
        safe = next((r for r in (other, row) if r.fate == SAFE), None)
        rest = f", or use {safe.wick} with that reservation" if safe else ""
        return (
            f"The right size lies between {row.wick} and {other.wick}. Try another series{rest}.",
            "",
        )
    if other.fate == SAFE:
        return f"Use {other.wick} instead: it is safe so far.", other.wick
    return f"Finish the test of {other.wick} first.", other.wick

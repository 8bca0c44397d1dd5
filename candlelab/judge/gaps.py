"""What keeps a fresh candle from a pass: where, what it cost, and what would settle it."""

from __future__ import annotations

from operator import itemgetter
from typing import Any

import numpy as np
import pandas as pd

from candlelab.burns.candles import wax_left
from candlelab.burns.groups import as_rows, first_rows, table_of
from candlelab.judge.criteria import AFTERSMOKE, KEEPS_BURNING
from candlelab.judge.safety import FAIL, NOT_CHECKED, Verdicts, unlogged, unwatched
from candlelab.judge.words import BURNING, clock_words
from candlelab.logs.batch import Batch
from candlelab.logs.burn_log import burn_places
from candlelab.logs.columns import LOGGED
from candlelab.text import counted, listed, small
from candlelab.units import Display

_KINDS = {
    "candidate": "str", "candle": "str", "burn": "Int64", "elapsed_min": "float64",
    "criteria": "str", "why": "str", "cost": "str", "to_settle": "str", "burning": "bool",
}  # fmt: skip
_FRESH = "Burn a fresh candle with every check."
_OR_WRITE = f"Write it in if your sheet has it. Else: {small(_FRESH)}"
_OR_CORRECT = (
    f'Correct it as check says, or write "is right" in the note of its row. Else: {small(_FRESH)}'
)
_TO_END = "Burn a fresh candle to its end."
_SMOKE = "aftersmoke_s"
_EVERY = "everything that is looked at"


def gaps(
    batch: Batch, burns: pd.DataFrame, remaining: pd.DataFrame, verdicts: Verdicts
) -> pd.DataFrame:
    """One row per fresh candle that counts and reason why it is not fully checked.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    burns, remaining : pandas.DataFrame
        The tables of `burn_cycles` and `remaining`.
    verdicts : Verdicts
        What `judge_safety` found.

    Returns
    -------
    pandas.DataFrame
        ``criteria`` is what could not be judged, ``cost`` what that leaves of the candidate's
        candles; ``burning`` marks a candle that only has to burn on. A candle that has failed has
        no gap: nothing could settle it.
    """
    of = _open(verdicts)
    if not of:
        return table_of([], _KINDS)
    whose = {row.candle: row.candidate for row in of}
    own = burns[(burns["run"] == 1) & burns["candle"].isin(list(whose))]
    rows = [
        *_unchecked(own), *_blank(batch, own, verdicts), *_doubted(batch, own), *_unwatched(own),
        *_unlogged(own, batch.settings.display), *_smoke(own), *_no_end(batch, own, of, remaining),
    ]  # fmt: skip
    rows += _unexplained(of, {candle for candle, *_ in rows}, verdicts)
    counts = verdicts.candidates
    cost = {
        name: f"{passed} of {counted(n, 'fresh candle')} passed so far"
        for name, passed, n in zip(
            counts["candidate"], counts["n_passed"], counts["n_candles"], strict=True
        )
    }
    names = ["candle", "burn", "elapsed_min", "criteria", "why", "to_settle"]
    found = [dict(zip(names, row, strict=True)) for row in rows]
    place = {name: n for n, name in enumerate(whose)}
    for row in found:
        candidate, known = whose[row["candle"]], not pd.isna(row["burn"])
        row |= {"candidate": candidate, "cost": cost[candidate], "burning": row["why"] == BURNING}
        row["place"] = place[row["candle"]], row["burning"], row["burn"] if known else np.inf
    found.sort(key=itemgetter("place"))
    return table_of(found, _KINDS)


def _open(verdicts: Verdicts) -> list[Any]:
    """Fresh candles that count, have not failed and are not fully checked."""
    rows = as_rows(verdicts.candle_verdicts)
    each = [(row, {row.standard_verdict, row.studio_verdict}) for row in rows]
    failed = {(row.candidate, row.candle) for row, kinds in each if FAIL in kinds}
    fresh = [row for row, kinds in each if NOT_CHECKED in kinds and row.run == 1]
    fresh = [row for row in fresh if not row.excluded]
    return [row for row in fresh if (row.candidate, row.candle) not in failed]


def _unchecked(own: pd.DataFrame) -> list[tuple]:
    """Stretches in which a check was due and not made."""
    rows = []
    columns = ["candle", "burn", "gap_from_min", "gap_to_min", "burn_time_h", "ended_by"]
    for burn in as_rows(own.loc[own["gap"], columns]):
        start, end = round(burn.gap_from_min), round(burn.gap_to_min)
        to_the_end = end >= round(60 * burn.burn_time_h)
        why = f"no check from minute {start} to {end} of burn {burn.burn}"
        if start == 0:
            first = "hour" if end == 60 else clock_words(end)
            why = f"no check in the first {first} of burn {burn.burn}"
        if start == 0 and to_the_end:
            why = f"no check in burn {burn.burn} ({clock_words(end)})"
        if burn.ended_by == "stopped" and to_the_end:
            why += ", which was stopped without a reading"
        rows.append((burn.candle, burn.burn, burn.gap_to_min, _EVERY, why, _FRESH))
    return rows


def _blank(batch: Batch, own: pd.DataFrame, verdicts: Verdicts) -> list[tuple]:
    """Readings that were not written down at checks that were made, alike ones together."""
    checks = batch.checks
    needed = [c.column for c in verdicts.used if c.decides and c.column in checks]
    mine = burn_places(own, checks) >= 0
    found: dict = {}
    for name in dict.fromkeys(needed):
        missing = mine & checks[name].isna().to_numpy()
        for candle, n, part in _of_candles(checks, np.flatnonzero(missing)):
            key = (candle, part["burn"], part["elapsed_min"], n)
            found.setdefault(key, []).append(LOGGED[name].label)
    rows = []
    for (candle, burn, minute, n), labels in found.items():
        what = listed(labels, 4)
        more = f" and at {counted(n - 1, 'more check')}" if n > 1 else ""
        why = f"{what} not written down in burn {burn:.0f} at minute {minute:.0f}{more}"
        rows.append((candle, burn, minute, listed(labels, len(labels)), why, _OR_WRITE))
    return rows


def _of_candles(table: pd.DataFrame, rows) -> list[tuple[str, int, pd.Series]]:
    """Each candle of these rows, how many of them it has, and its first one."""
    places: dict[str, list[int]] = {}
    for candle, row in zip(table["candle"].array.take(rows), rows, strict=True):
        places.setdefault(candle, []).append(row)
    return [(candle, len(own), table.iloc[own[0]]) for candle, own in places.items()]


def _doubted(batch: Batch, own: pd.DataFrame) -> list[tuple]:
    """Readings that cannot be what they say, alike ones of a candle together."""
    rows = []
    for name, doubt in batch.doubts.items():
        table = batch.burns if name == _SMOKE else batch.checks
        mine = doubt[burn_places(own, table.iloc[doubt]) >= 0]
        for candle, n, part in _of_candles(table, mine):
            burn, n = part["burn"], n - 1
            minute = np.nan if name == _SMOKE else part["elapsed_min"]
            at = "" if name == _SMOKE else f" at minute {minute:.0f}"
            what = "more burn" if name == _SMOKE else "more check"
            more = f" and of {counted(n, what)}" if n else ""
            label = LOGGED[name].label
            why = f"{label} of burn {burn:.0f}{at}{more} cannot be what it says"
            rows.append((candle, burn, minute, label, why, _OR_CORRECT))
    return rows


def _unwatched(own: pd.DataFrame) -> list[tuple]:
    """Candles that burned for most of their time in burns too short for a check."""
    hours_of = unwatched(own)
    rows = []
    for hours in as_rows(hours_of[hours_of["unwatched"]]):
        why = (
            f"{hours.unseen_h:.1f} of its {hours.hours_h:.1f} h were in burns too short for a check"
        )
        rows.append((hours.candle, pd.NA, np.nan, _EVERY, why, _FRESH))
    return rows


def _unlogged(own: pd.DataFrame, display: Display) -> list[tuple]:
    """Burns before which about a burn's wax went that no row of the log tells of."""
    lost = unlogged(own)
    burns = zip(own["candle"], own["burn"], lost, strict=True)
    return [
        (
            candle, burn, np.nan, _EVERY,
            f"{display.amount(wax, 'g')} of wax went before burn {burn}, as much "
            "as in a burn that is not in the log",
            _OR_WRITE,
        )
        for candle, burn, wax in burns
        if wax > 0
    ]  # fmt: skip


def _smoke(own: pd.DataFrame) -> list[tuple]:
    """Burns that were put out without timing the smoke, and candles that never were."""
    rows = []
    put_out, untimed = own["ended_by"] != "self", own[_SMOKE].isna()
    for candle, burns in own[put_out & untimed].groupby("candle", sort=False)["burn"]:
        word = "burn" if len(burns) == 1 else "burns"
        why = f"{AFTERSMOKE} not written down in {word} {listed(burns, 5)}"
        rows.append((candle, burns.iat[0], np.nan, AFTERSMOKE, why, _OR_WRITE))
    told = set(own["candle"][put_out | ~untimed])
    for candle in own["candle"].unique():
        if candle not in told:
            settle = "Put out one burn of a fresh candle by hand and time its smoke."
            why = f"{AFTERSMOKE} never timed, because it always went out by itself"
            rows.append((candle, pd.NA, np.nan, AFTERSMOKE, why, settle))
    return rows


def _no_end(batch: Batch, own: pd.DataFrame, of: list[Any], remaining: pd.DataFrame) -> list[tuple]:
    """Candles that were not burned to their end on the wick that they were poured with."""
    replaced = {row.candle for row in of if row.replaced}
    left_of = dict(zip(remaining["candle"], remaining["burns_left"], strict=True))
    last = own.iloc[np.append(first_rows(own, ["candle"])[1:], len(own)) - 1]
    columns = (last[name] for name in ("candle", "burn", "ended_by", "fill_used_pct"))
    rows = []
    for candle, burn, ended_by, used in zip(*columns, strict=True):
        wax, what, settle = _wax(float(wax_left(used))), "end of life", _TO_END
        if candle in replaced:
            why = f"its wick was changed after burn {burn} with {wax}"
        elif candle in left_of:
            why, settle = BURNING, _on(left_of[candle])
        elif ended_by == "stopped":
            why = f"stopped in burn {burn} with {wax}"
        elif not 100.0 - used <= batch.settings.protocol.end_wax_left_pct:
            why, what = f"it went out by itself in burn {burn} with {wax}", KEEPS_BURNING
        else:
            continue
        rows.append((candle, burn, np.nan, what, why, settle))
    return rows


def _wax(left_pct: float) -> str:
    if not left_pct >= 0:  # never weighed, or weights that do not add up
        return "an unknown share of its wax left"
    return f"{left_pct:.0f} % of its wax left"


def _on(burns_left) -> str:
    if pd.isna(burns_left):
        return "Burn it to its end."
    return f"Burn it to its end: about {counted(int(burns_left), 'more burn')} at this rate."


def _unexplained(of: list[Any], found: set[str], verdicts: Verdicts) -> list[tuple]:
    """Open candles with no reason above, by what was not checked: nothing is open in silence."""
    silent = [row.candle for row in of if row.candle not in found]
    if not silent:
        return []
    rows = verdicts.candles
    rows = rows[(rows["run"] == 1) & rows["decides"] & (rows["outcome"] == NOT_CHECKED)]
    rows = rows[rows["candle"].isin(silent)].groupby("candle")["criterion"].agg(list)
    return [
        (candle, pd.NA, np.nan, listed(names, 20), f"{listed(names, 3)} not seen", _FRESH)
        for candle, names in rows.items()
    ]

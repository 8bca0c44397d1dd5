"""What keeps a fresh candle from a pass: where, what it cost, and what would settle it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.burns.candles import wax_left
from candlelab.judge.criteria import AFTERSMOKE, KEEPS_BURNING
from candlelab.judge.remaining import still_burning
from candlelab.judge.safety import NOT_MET, NOT_RECORDED, Verdicts, unlogged, unwatched
from candlelab.judge.words import BURNING, clock_words
from candlelab.logs.batch import Batch
from candlelab.logs.columns import LOGGED
from candlelab.text import counted, listed, small
from candlelab.units import Display

COLUMNS = [
    "candidate", "candle", "burn", "elapsed_min", "criteria", "why", "cost", "to_settle", "burning",
]  # fmt: skip
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
    own = burns[(burns["run"] == 1) & burns["candle"].isin(of["candle"])]
    checks = batch.checks.merge(own[["candle", "burn"]], on=["candle", "burn"])
    parts = [
        _unchecked(own), _blank(checks, verdicts), _doubted(batch, own), _unwatched(own),
        _unlogged(own, batch.settings.display), _smoke(own),
        _no_end(batch, own, of, still_burning(burns, verdicts), remaining),
    ]  # fmt: skip
    table = pd.concat([part for part in parts if len(part)] or [_rows([])], ignore_index=True)
    table = pd.concat([table, _unexplained(of, table, verdicts)], ignore_index=True)
    whose = of.set_index("candle")["candidate"]
    table = table.assign(candidate=table["candle"].map(whose))
    counts = verdicts.candidates.set_index("candidate")
    cost = {
        name: f"{row.n_passed} of {counted(row.n_candles, 'fresh candle')} passed so far"
        for name, row in zip(counts.index, counts.itertuples(), strict=True)
    }
    place = {name: n for n, name in enumerate(natural_order(of["candle"]))}
    table = table.assign(cost=table["candidate"].map(cost), at=table["candle"].map(place))
    table = table.sort_values(["at", "burning", "burn"], kind="stable")[COLUMNS]
    kinds = {"burn": "Int64", "elapsed_min": float, "burning": bool}
    return table.astype(kinds).reset_index(drop=True)


def _open(verdicts: Verdicts) -> pd.DataFrame:
    """Fresh candles that count, have not failed and are not fully checked."""
    both = verdicts.candle_verdicts
    kinds = both[["standard_verdict", "studio_verdict"]]
    failed = both[(kinds == NOT_MET).any(axis=1)]
    of_failed = pd.MultiIndex.from_frame(failed[["candidate", "candle"]])
    lost = pd.MultiIndex.from_frame(both[["candidate", "candle"]]).isin(of_failed)
    fresh = (both["run"] == 1) & ~both["excluded"] & ~lost
    return both[fresh & (kinds == NOT_RECORDED).any(axis=1)]


def _rows(rows: list[tuple]) -> pd.DataFrame:
    names = ["candle", "burn", "elapsed_min", "criteria", "why", "to_settle"]
    return pd.DataFrame(rows, columns=names).assign(burning=False)


def _unchecked(own: pd.DataFrame) -> pd.DataFrame:
    """Stretches in which a check was due and not made."""
    rows = []
    for burn in own[own["gap"]].itertuples():
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
    return _rows(rows)


def _blank(checks: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """Readings that were not written down at checks that were made, alike ones together."""
    needed = [c.column for c in verdicts.used if c.decides and c.column in checks]
    found: dict = {}
    for name in dict.fromkeys(needed):
        missing = checks.loc[checks[name].isna(), ["candle", "burn", "elapsed_min"]]
        for candle, part in missing.groupby("candle", sort=False):
            key = (candle, part["burn"].iat[0], part["elapsed_min"].iat[0], len(part))
            found.setdefault(key, []).append(LOGGED[name].label)
    rows = []
    for (candle, burn, minute, n), labels in found.items():
        what = listed(labels, 4)
        more = f" and at {counted(n - 1, 'more check')}" if n > 1 else ""
        why = f"{what} not written down in burn {burn:.0f} at minute {minute:.0f}{more}"
        rows.append((candle, burn, minute, listed(labels, len(labels)), why, _OR_WRITE))
    return _rows(rows)


def _doubted(batch: Batch, own: pd.DataFrame) -> pd.DataFrame:
    """Readings that cannot be what they say, alike ones of a candle together."""
    rows, mine = [], own[["candle", "burn"]]
    for name, doubt in batch.doubts.items():
        table = batch.burns if name == _SMOKE else batch.checks
        seen = table.iloc[doubt].merge(mine, on=["candle", "burn"])
        for candle, part in seen.groupby("candle", sort=False):
            burn, n = part["burn"].iat[0], len(part) - 1
            minute = np.nan if name == _SMOKE else part["elapsed_min"].iat[0]
            at = "" if name == _SMOKE else f" at minute {minute:.0f}"
            what = "more burn" if name == _SMOKE else "more check"
            more = f" and of {counted(n, what)}" if n else ""
            label = LOGGED[name].label
            why = f"{label} of burn {burn:.0f}{at}{more} cannot be what it says"
            rows.append((candle, burn, minute, label, why, _OR_CORRECT))
    return _rows(rows)


def _unwatched(own: pd.DataFrame) -> pd.DataFrame:
    """Candles that burned for most of their time in burns too short for a check."""
    rows = []
    hours_of = unwatched(own)
    for hours in hours_of[hours_of["unwatched"]].itertuples():
        why = (
            f"{hours.unseen_h:.1f} of its {hours.hours_h:.1f} h were in burns too short for a check"
        )
        rows.append((hours.candle, pd.NA, np.nan, _EVERY, why, _FRESH))
    return _rows(rows)


def _unlogged(own: pd.DataFrame, display: Display) -> pd.DataFrame:
    """Burns before which about a burn's wax went that no row of the log tells of."""
    lost = unlogged(own)
    rows = [
        (
            burn.candle, burn.burn, np.nan, _EVERY,
            f"{display.amount(wax, 'g')} of wax went before burn {burn.burn}, as much "
            "as in a burn that is not in the log",
            _OR_WRITE,
        )
        for burn, wax in zip(own[lost > 0].itertuples(), lost[lost > 0], strict=True)
    ]  # fmt: skip
    return _rows(rows)


def _smoke(own: pd.DataFrame) -> pd.DataFrame:
    """Burns that were put out without timing the smoke, and candles that never were."""
    rows = []
    put_out = own[own["ended_by"] != "self"]
    for candle, part in put_out[put_out["aftersmoke_s"].isna()].groupby("candle", sort=False):
        word = "burn" if len(part) == 1 else "burns"
        why = f"{AFTERSMOKE} not written down in {word} {listed(part['burn'], 5)}"
        rows.append((candle, part["burn"].iat[0], np.nan, AFTERSMOKE, why, _OR_WRITE))
    timed = own.groupby("candle")["aftersmoke_s"].count()
    for candle in timed.index[(timed == 0) & ~timed.index.isin(put_out["candle"])]:
        settle = "Put out one burn of a fresh candle by hand and time its smoke."
        why = f"{AFTERSMOKE} never timed, because it always went out by itself"
        rows.append((candle, pd.NA, np.nan, AFTERSMOKE, why, settle))
    return _rows(rows)


def _no_end(
    batch: Batch, own: pd.DataFrame, of: pd.DataFrame, alight: pd.DataFrame, remaining: pd.DataFrame
) -> pd.DataFrame:
    """Candles that were not burned to their end on the wick that they were poured with."""
    replaced = set(of.loc[of["replaced"], "candle"])
    burning, left_of = set(alight["candle"]), remaining.set_index("candle")["burns_left"]
    rows = []
    for last in own.groupby("candle").tail(1).itertuples():
        wax = float(wax_left(last.fill_used_pct))
        if last.candle in replaced:
            why = f"its wick was changed after burn {last.burn} with {_wax(wax)}"
            row = (last.candle, last.burn, np.nan, "end of life", why, _TO_END)
        elif last.candle in burning:
            row = (last.candle, last.burn, np.nan, "end of life", BURNING,
                   _on(left_of[last.candle]))  # fmt: skip
        elif last.ended_by == "stopped":
            why = f"stopped in burn {last.burn} with {_wax(wax)}"
            row = (last.candle, last.burn, np.nan, "end of life", why, _TO_END)
        elif not 100.0 - last.fill_used_pct <= batch.settings.protocol.end_wax_left_pct:
            why = f"it went out by itself in burn {last.burn} with {_wax(wax)}"
            row = (last.candle, last.burn, np.nan, KEEPS_BURNING, why, _TO_END)
        else:
            continue
        rows.append(row)
    table = _rows(rows)
    return table.assign(burning=table["why"] == BURNING)


def _wax(left_pct: float) -> str:
    if not left_pct >= 0:  # never weighed, or weights that do not add up
        return "an unknown share of its wax left"
    return f"{left_pct:.0f} % of its wax left"


def _on(burns_left) -> str:
    if pd.isna(burns_left):
        return "Burn it to its end."
    return f"Burn it to its end: about {counted(int(burns_left), 'more burn')} at this rate."


def _unexplained(of: pd.DataFrame, found: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """Open candles with no reason above, by what was not checked: nothing is open in silence."""
    silent = of.loc[~of["candle"].isin(found["candle"]), "candle"]
    rows = verdicts.candles
    rows = rows[(rows["run"] == 1) & rows["decides"] & (rows["outcome"] == NOT_RECORDED)]
    rows = rows[rows["candle"].isin(silent)].groupby("candle")["criterion"].agg(list)
    return _rows(
        [
            (candle, pd.NA, np.nan, listed(names, 20), f"{listed(names, 3)} not seen", _FRESH)
            for candle, names in rows.items()
        ]
    )

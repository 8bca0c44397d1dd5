"""What went wrong and what was not checked, each with candle, burn and minute, in words.

``failures`` has every failure of a deciding criterion, whoever set the candle or the burn aside and
why. ``gaps`` has everything that keeps a fresh candle from being fully checked.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.judge.criteria import Criterion
from candlelab.judge.safety import NOT_MET, NOT_RECORDED, Verdicts
from candlelab.logs.batch import Batch
from candlelab.text import amount

FAILURE_COLUMNS = [
    "candidate", "candle", "run", "burn", "elapsed_min", "criterion", "value", "limit", "unit",
    "incident", "words", "note", "excluded", "exclusion_reason", "whole",
]  # fmt: skip
GAP_COLUMNS = ["candidate", "candle", "burn", "elapsed_min", "criteria", "why", "to_settle"]
STILL_BURNING = "still burning"


def failures(batch: Batch, burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """One row per candle, criterion and burn that failed, the first and worst check of that burn;
    ``incident`` marks those that are a danger by themselves."""
    used = {c.criterion: c for c in verdicts.used if c.decides}
    burns = burns.assign(whole=burns.groupby("candle")["excluded"].transform("all"))
    at = burns.set_index(["candle", "burn"])
    checks = verdicts.checks.assign(note=np.tile(batch.checks["note"], _repeats(batch, verdicts)))
    failed = checks[(checks["outcome"] == NOT_MET) & checks["criterion"].isin(list(used))]
    rows = []
    for (candle, burn, criterion), part in failed.groupby(
        ["candle", "burn", "criterion"], sort=False
    ):
        worst = part.loc[part["value"].idxmax()]
        rows.append(
            _row(at.loc[(candle, burn)], used[criterion], candle, burn, worst, part["note"])
        )
    whole = verdicts.candles[
        (verdicts.candles["outcome"] == NOT_MET)
        & verdicts.candles["criterion"].isin(["keeps burning"])
    ]
    last = burns.groupby(["candle", "run"]).tail(1).set_index(["candle", "run"], drop=False)
    for one in whole.itertuples():
        burn = last.loc[(one.candle, one.run)]
        check = {"elapsed_min": 60.0 * burn["burn_time_h"], "value": one.value}
        row = _row(
            burn, used["keeps burning"], one.candle, burn["burn"], check, pd.Series([], dtype=str)
        )
        rows.append(row)
    rows += _of_means(verdicts)
    table = pd.DataFrame(rows, columns=FAILURE_COLUMNS)
    table = table.astype({"incident": bool, "excluded": bool, "whole": bool, "burn": "Int64"})
    order = {name: n for n, name in enumerate(dict.fromkeys(burns["candle"]))}
    place = table["candle"].map(order).fillna(len(order))
    table = table.assign(place=place, calm=~table["incident"].astype(bool))
    table = table.sort_values(["calm", "place", "burn", "elapsed_min"], kind="stable")
    return table[FAILURE_COLUMNS].reset_index(drop=True)


def _repeats(batch: Batch, verdicts: Verdicts) -> int:
    return verdicts.checks["criterion"].nunique() if len(batch.checks) else 0


def _row(burn, criterion: Criterion, candle: str, number, worst, notes: pd.Series) -> dict:
    said = [*dict.fromkeys(n for n in [*notes, burn["note"]] if n)]
    value = float(worst["value"])
    return {
        "candidate": burn["candidate"], "candle": candle, "run": int(burn["run"]), "burn": int(number),
        "elapsed_min": float(worst["elapsed_min"]), "criterion": criterion.criterion, "value": value,
        "limit": criterion.limit, "unit": criterion.unit, "incident": bool(criterion.incident),
        "words": _words(criterion, value), "note": "; ".join(said), "excluded": bool(burn["excluded"]),
        "exclusion_reason": burn["exclusion_reason"], "whole": bool(burn["whole"]),
    }  # fmt: skip


def _words(criterion: Criterion, value: float) -> str:
    """What happened, as a sentence without its stop."""
    if criterion.criterion == "keeps burning":
        return f"It went out by itself with {value:.0f} % of its wax left"
    if criterion.column == "pool_depth_mm":
        over = f"{amount(value, 'mm')} against {amount(criterion.limit, 'mm')}"
        return f"Its melt pool was deeper than your limit ({over})"
    if criterion.unit in ("mm", "°C"):
        over = f"{amount(value, criterion.unit)} against {amount(criterion.limit, criterion.unit)}"
        return f"{criterion.incident} ({over})"
    if criterion.unit == "s":
        return f"{criterion.incident} for {value:.0f} s"
    return criterion.incident


def _of_means(verdicts: Verdicts) -> list[dict]:
    """The mean of a candidate that is over its limit: no single candle or burn."""
    table = verdicts.candidate_criteria
    table = table[(table["criterion"] == "aftersmoke") & (table["outcome"] == NOT_MET)]
    return [
        {
            "candidate": row.candidate, "candle": "", "run": 1, "burn": pd.NA, "elapsed_min": np.nan,
            "criterion": row.criterion, "value": row.value, "limit": row.limit, "unit": row.unit,
            "incident": False, "note": "", "excluded": False, "exclusion_reason": "",
            "whole": False,
            "words": f"Its wicks smoked on for {row.value:.0f} s on average after the flame was out; "
                     f"{row.limit:g} s is the limit",
        }
        for row in table.itertuples()
    ]  # fmt: skip


def gaps(
    batch: Batch, burns: pd.DataFrame, candles: pd.DataFrame, verdicts: Verdicts
) -> pd.DataFrame:
    """One row per fresh candle that counts and reason why it is not fully checked."""
    both = verdicts.candle_verdicts
    open_ = both[
        (both["run"] == 1)
        & ~both["excluded"]
        & (both[["standard_verdict", "studio_verdict"]] == NOT_RECORDED).any(axis=1)
        & ~(both[["standard_verdict", "studio_verdict"]] == NOT_MET).any(axis=1)
    ]
    whole = candles.set_index("candle")
    first = burns[burns["run"] == 1]
    rows = []
    for one in open_.itertuples():
        own = first[first["candle"] == one.candle]
        found = [
            *_unchecked(own),
            *_blank(batch, own, verdicts),
            *_no_end(batch, own, whole.loc[one.candle], one),
        ]
        rows += [(one.candidate, one.candle, *row) for row in found]
    return pd.DataFrame(rows, columns=GAP_COLUMNS).astype({"burn": "Int64", "elapsed_min": float})


_FRESH = "Burn a fresh candle with every check."


def _unchecked(own: pd.DataFrame) -> list[tuple]:
    rows = []
    for burn in own[own["gap"]].itertuples():
        why = f"no check from minute {burn.gap_from_min:.0f} to {burn.gap_to_min:.0f} of burn {burn.burn}"
        if burn.ended_by == "stopped":
            why += ", which was stopped without a reading"
        rows.append((burn.burn, burn.gap_to_min, "every check", why, _FRESH))
    return rows


def _blank(batch: Batch, own: pd.DataFrame, verdicts: Verdicts) -> list[tuple]:
    """Readings that were not written down at checks that were made, and aftersmoke."""
    columns = {
        c.column: c.criterion for c in verdicts.used if c.decides and c.column in batch.checks
    }
    checks = batch.checks[
        (batch.checks["candle"] == own["candle"].iat[0]) & batch.checks["burn"].isin(own["burn"])
    ]
    rows = []
    for column, criterion in columns.items():
        missing = checks[checks[column].isna()]
        if len(missing):
            one = missing.iloc[0]
            more = f" and {len(missing) - 1} more times" if len(missing) > 1 else ""
            why = f"{criterion} not written down in burn {one['burn']:.0f} at minute {one['elapsed_min']:.0f}{more}"
            rows.append((one["burn"], one["elapsed_min"], criterion, why, _FRESH))
    smoke = own[own["aftersmoke_s"].isna() & (own["ended_by"] != "self")]
    if len(smoke):
        which = ", ".join(str(n) for n in smoke["burn"].head(4)) + (
            " ..." if len(smoke) > 4 else ""
        )
        why = f"aftersmoke not written down in burn {which}"
        rows.append((smoke["burn"].iat[0], np.nan, "aftersmoke", why, _FRESH))
    return rows


def _no_end(batch: Batch, own: pd.DataFrame, candle, verdict) -> list[tuple]:
    """A candle that was not burned to its end on the wick it was poured with."""
    last = own.iloc[-1]
    left = 100.0 - last["fill_used_pct"]
    if last["ended_by"] == "self" and left <= batch.settings.protocol.end_wax_left_pct:
        return []
    if verdict.replaced:
        why = f"its wick was changed after burn {last['burn']}, with {left:.0f} % of its wax left"
        return [(last["burn"], np.nan, "end of life", why, "Burn a fresh candle to its end.")]
    if last["ended_by"] == "stopped":
        why = f"stopped in burn {last['burn']} with {left:.0f} % of its wax left"
        return [(last["burn"], np.nan, "end of life", why, "Burn a fresh candle to its end.")]
    return [(last["burn"], np.nan, "end of life", STILL_BURNING, _burns_left(own, candle, batch))]


def _burns_left(own: pd.DataFrame, candle, batch: Batch) -> str:
    """How many burns are left at the rate so far."""
    wax = candle["wax_left_g"]
    used = own["wax_used_g"].mean()
    if not (wax > 0 and used > 0):
        return "Burn it to its end."
    n = int(np.ceil(wax / used))
    return f"Burn it to its end: about {n} more burn{'' if n == 1 else 's'} at this rate."

"""Every failure of a deciding criterion: candle, burn, minute and note, whoever set it aside."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.groups import RUN, as_rows, first_rows, rows_by, set_aside_whole, table_of
from candlelab.judge.criteria import AFTERSMOKE, KEEPS_BURNING, Criterion
from candlelab.judge.safety import FAIL, Verdicts, smoke_groups
from candlelab.judge.words import failed_words
from candlelab.logs.batch import Batch
from candlelab.logs.burn_log import burn_places
from candlelab.logs.names import one_letter_apart
from candlelab.text import listed

_KINDS = {
    "candidate": "str", "candle": "str", "run": "int64", "burn": "Int64", "elapsed_min": "float64",
    "criterion": "str", "value": "float64", "limit": "float64", "unit": "str", "incident": "bool",
    "words": "str", "note": "str", "excluded": "bool", "exclusion_reason": "str", "whole": "bool",
    "n_readings": "int64",
}  # fmt: skip
_OF_BURN = ["candidate", "candle", "burn", "run", "note", "excluded", "exclusion_reason"]


def failures(batch: Batch, burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """One row per candle, burn and criterion that failed, the first of the worst checks of it.

    Parameters
    ----------
    batch : Batch
        A batch as `read_batch` gives it.
    burns : pandas.DataFrame
        The table of `burn_cycles`.
    verdicts : Verdicts
        What `judge_safety` found.

    Returns
    -------
    pandas.DataFrame
        Incidents first, then in the order of candles and burns. ``incident`` marks a danger by
        itself, ``excluded`` a burn that was set aside, ``whole`` a candle that was. A mean of a
        candidate has no candle and no burn.
    """
    used = {c.criterion: c for c in verdicts.used if c.decides}
    rows = _at_checks(batch, burns, verdicts, used) + _at_the_end(burns, verdicts)
    rows.sort(
        key=lambda row: (not used[row["criterion"]].incident, row["place"], row["elapsed_min"])
    )
    rows = _with_burns(rows, burns) + _means(verdicts)
    for row in rows:
        c = used[row["criterion"]]
        said = failed_words(c, row["value"], batch.settings.display)
        row |= {"limit": c.limit, "unit": c.unit, "incident": c.incident}
        row["words"] = said + row.get("words", "")
    return table_of(rows, _KINDS)


def set_aside(burns: pd.DataFrame, failed: pd.DataFrame) -> pd.DataFrame:
    """The candles that were set aside as a whole and have not failed, with the reason, on the wick
    that they were poured with."""
    whole = burns[set_aside_whole(burns)].drop_duplicates("candle")
    calm = ~whole["candle"].isin(failed["candle"])
    return whole.loc[calm, [*RUN, "candidate", "exclusion_reason"]]


def _at_checks(
    batch: Batch, burns: pd.DataFrame, verdicts: Verdicts, used: dict[str, Criterion]
) -> list[dict]:
    """The first of the worst checks of each burn that failed a criterion, with all their notes."""
    checks = verdicts.checks
    over = (checks["outcome"] == FAIL).to_numpy()
    if not over.any():
        return []
    failed = checks[over]
    at = np.flatnonzero(over) % max(len(batch.checks), 1)  # its row in the log
    failed = failed.assign(
        note=batch.checks["note"].array.take(at), at=burn_places(burns, failed), order=failed.index
    )
    each = [row for row in as_rows(failed) if row.criterion in used]
    each.sort(key=lambda row: row.elapsed_min)
    rows = []
    for (place, criterion), own in rows_by(each, "at", "criterion").items():
        worst = max(own, key=lambda row: row.value)
        rows.append({
            "criterion": criterion, "value": worst.value, "elapsed_min": worst.elapsed_min,
            "note": [row.note for row in own], "n_readings": len(own), "place": place,
            "order": worst.order,
        })  # fmt: skip
    return sorted(rows, key=lambda row: row["order"])


def _at_the_end(burns: pd.DataFrame, verdicts: Verdicts) -> list[dict]:
    """Wick runs that went out for good with wax left, by their last burn."""
    ends = verdicts.candles[(verdicts.candles["criterion"] == KEEPS_BURNING).to_numpy()]
    last = np.append(first_rows(burns, RUN)[1:], len(burns)) - 1
    hours = burns["burn_time_h"].to_numpy()
    return [
        {"criterion": KEEPS_BURNING, "value": value, "elapsed_min": 60.0 * hours[place],
         "note": [], "n_readings": 1, "place": place}
        for place, value, outcome in zip(last, ends["value"], ends["outcome"], strict=True)
        if outcome == FAIL
    ]  # fmt: skip


def _with_burns(rows: list[dict], burns: pd.DataFrame) -> list[dict]:
    """The rows with what the table of burns says of the burn at their place."""
    if not rows:
        return []
    at = [row["place"] for row in rows]
    whole = set_aside_whole(burns)[at]
    of = burns[_OF_BURN].iloc[at].assign(whole=whole).to_dict("records")
    for row, burn in zip(rows, of, strict=True):
        note = "; ".join(dict.fromkeys(filter(None, [*row["note"], burn["note"]])))
        row |= burn | {"note": note}
    return rows


def _means(verdicts: Verdicts) -> list[dict]:
    """The means of candidates that are over their limit: no single candle, no burn."""
    table = verdicts.candidate_criteria
    over = (table["criterion"] == AFTERSMOKE) & (table["outcome"] == FAIL)
    if not over.any():
        return []
    failed = table[over]
    smoke = verdicts.candles[verdicts.candles["criterion"] == AFTERSMOKE]
    return [
        {
            "candidate": name, "criterion": AFTERSMOKE, "value": value,
            "words": _which(smoke, name, value), "candle": "", "run": 1, "burn": pd.NA,
            "elapsed_min": np.nan, "note": "", "excluded": False, "exclusion_reason": "",
            "whole": False, "n_readings": 0,
        }
        for name, value in zip(failed["candidate"], failed["value"], strict=True)
    ]  # fmt: skip


def _which(smoke: pd.DataFrame, candidate: str, value: float) -> str:
    """Which candles the mean that failed is of."""
    for kind, part in smoke_groups(smoke[smoke["candidate"] == candidate]).items():
        if len(part) and np.isclose(part["value"].mean(), value):
            candles = listed(dict.fromkeys(part.loc[part["value"].notna(), "candle"]), 12)
            if kind == "set aside":
                return f": {candles}, with what you set aside"
            return f": {candles}, part-used on this wick" if kind else f": {candles}"
    return ""


def named_alike(failed: pd.DataFrame, name: str) -> list[str]:
    """Candidates of a table whose names are a letter off: they may be the same one."""
    return [one for one in failed["candidate"].unique() if one_letter_apart(one, name)]

"""Every failure of a deciding criterion: candle, burn, minute and note, whoever set it aside."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.candidates import natural_order
from candlelab.judge.criteria import AFTERSMOKE, CHECK, KEEPS_BURNING, Criterion
from candlelab.judge.safety import NOT_MET, Verdicts, smoke_groups
from candlelab.judge.words import failed_words
from candlelab.logs.batch import Batch
from candlelab.logs.names import one_letter_apart
from candlelab.text import listed

COLUMNS = [
    "candidate", "candle", "run", "burn", "elapsed_min", "criterion", "value", "limit", "unit",
    "incident", "words", "note", "excluded", "exclusion_reason", "whole", "n_readings",
]  # fmt: skip
_OF_BURN = ["candidate", "run", "excluded", "exclusion_reason", "whole"]


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
    burns = burns.assign(whole=burns.groupby("candle")["excluded"].transform("all"))
    seen = pd.concat(
        [_at_checks(batch, burns, verdicts, used), _at_the_end(burns, verdicts), _means(verdicts)]
    )
    table = seen.assign(
        limit=seen["criterion"].map({name: c.limit for name, c in used.items()}),
        unit=seen["criterion"].map({name: c.unit for name, c in used.items()}),
        incident=seen["criterion"].map({name: c.incident for name, c in used.items()}),
        words=[
            failed_words(used[row.criterion], row.value, batch.settings.display) + row.words
            for row in seen.itertuples()
        ],
    )
    kinds = {"incident": bool, "excluded": bool, "whole": bool, "run": "int64", "burn": "Int64"}
    numbers = {"elapsed_min": float, "value": float, "limit": float, "n_readings": "int64"}
    texts = dict.fromkeys(("words", "note", "exclusion_reason"), "str")
    table = table.astype(kinds | numbers | texts)
    place = {name: n for n, name in enumerate(natural_order(burns["candle"].unique()))}
    at = table["candle"].map(place).fillna(len(place))
    table = table.assign(at=at, calm=~table["incident"])
    table = table.sort_values(["calm", "at", "burn", "elapsed_min"], kind="stable")
    return table[COLUMNS].reset_index(drop=True)


def _at_checks(
    batch: Batch, burns: pd.DataFrame, verdicts: Verdicts, used: dict[str, Criterion]
) -> pd.DataFrame:
    """The first of the worst checks of each burn that failed a criterion, with all their notes."""
    n_criteria = sum(c.level == CHECK for c in verdicts.used)
    checks = verdicts.checks.assign(note=np.tile(batch.checks["note"], n_criteria))
    failed = checks[(checks["outcome"] == NOT_MET) & checks["criterion"].isin(list(used))]
    by = ["candle", "burn", "criterion"]
    order = failed.sort_values(["value", "elapsed_min"], ascending=[False, True], kind="stable")
    worst = order.drop_duplicates(by).sort_index()
    notes = failed.sort_values("elapsed_min", kind="stable").groupby(by)["note"]
    told = notes.agg(lambda n: "; ".join(dict.fromkeys(filter(None, n)))).rename("note")
    worst = worst.drop(columns="note").merge(told.reset_index(), on=by)
    worst = worst.merge(notes.size().rename("n_readings").reset_index(), on=by)
    worst = worst.merge(burns[["candle", "burn", "note", *_OF_BURN]], on=["candle", "burn"])
    both = worst[["note_x", "note_y"]].itertuples(index=False, name=None)
    note = ["; ".join(dict.fromkeys(filter(None, pair))) for pair in both]
    return worst.assign(note=note, words="").drop(columns=["note_x", "note_y"])


def _at_the_end(burns: pd.DataFrame, verdicts: Verdicts) -> pd.DataFrame:
    """Wick runs that went out for good with wax left, by their last burn."""
    ends = verdicts.candles
    ends = ends[(ends["outcome"] == NOT_MET) & (ends["criterion"] == KEEPS_BURNING)]
    last = burns.groupby(["candle", "run"]).tail(1)
    last = last.assign(elapsed_min=60.0 * last["burn_time_h"])
    table = ends[["candle", "run", "criterion", "value"]].merge(last, on=["candle", "run"])
    return table.assign(words="", n_readings=1)


def _means(verdicts: Verdicts) -> pd.DataFrame:
    """The means of candidates that are over their limit: no single candle, no burn."""
    table = verdicts.candidate_criteria
    failed = table[(table["criterion"] == AFTERSMOKE) & (table["outcome"] == NOT_MET)]
    smoke = verdicts.candles[verdicts.candles["criterion"] == AFTERSMOKE]
    rows = [
        (row.candidate, row.criterion, row.value, _which(smoke, row.candidate, row.value))
        for row in failed.itertuples()
    ]
    table = pd.DataFrame(rows, columns=["candidate", "criterion", "value", "words"])
    return table.assign(
        candle="", run=1, burn=pd.NA, elapsed_min=np.nan, note="", excluded=False,
        exclusion_reason="", whole=False, n_readings=0,
    )  # fmt: skip


def _which(smoke: pd.DataFrame, candidate: str, value: float) -> str:
    """Which candles the mean that failed is of."""
    for kind, part in smoke_groups(smoke[smoke["candidate"] == candidate]).items():
        if len(part) and np.isclose(part["value"].mean(), value):
            candles = listed(dict.fromkeys(part.loc[part["value"].notna(), "candle"]), 12)
            if kind == "set aside":
                return f": {candles}, with what you set aside"
            return f": {candles}, part-used on this wick" if kind else f": {candles}"
    return ""


def failed_alike(failed: pd.DataFrame, name: str) -> list[str]:
    """Candidates that failed and whose names are a letter off: they may be the same one."""
    return [one for one in failed["candidate"].unique() if one_letter_apart(one, name)]

"""Candidates in order: safety first, then the studio's targets; and the answer in plain sentences.

No inference here: every number is a count of candles or a plain mean over candles.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.logs import Batch
from candlelab.safety import MET, NOT_MET, NOT_RECORDED, Verdicts

_ORDER = {MET: 0, NOT_RECORDED: 1, NOT_MET: 2}


def first_wick_values(runs: pd.DataFrame, candles: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts, measured on the wick it was poured with.

    Life and wax left belong to that wick only when the candle got to its end on it.
    """
    first = runs[(runs["run"] == 1) & ~runs["excluded"]].reset_index(drop=True)
    whole = candles.set_index("candle").loc[first["candle"]].reset_index(drop=True)
    own_end = whole["ended"] & ~whole["replaced"]
    return first.assign(life_h=whole["life_h"].where(own_end), wax_left_pct=whole["wax_left_pct"].where(own_end))


def target_results(batch: Batch, runs: pd.DataFrame, candles: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate and target of ``batch.toml``: mean, range, and how many candles are inside.

    A candle without the number (never a full pool, not burnt to its end) is not inside.
    """
    values = first_wick_values(runs, candles)
    rows = []
    for candidate, own in values.groupby("candidate", sort=False):
        for target in batch.settings.targets:
            seen = own[target.quantity].astype(float)
            inside = int(seen.between(target.low, target.high).sum())
            low, high = (end if np.isfinite(end) else np.nan for end in (target.low, target.high))
            rows.append((candidate, target.quantity, low, high, seen.mean(), seen.min(), seen.max(), inside, len(own)))
    columns = ["candidate", "target", "low", "high", "mean", "smallest", "largest", "n_inside", "n_candles"]
    return pd.DataFrame(rows, columns=columns)


def rank_candidates(verdicts: Verdicts, targets: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate, the best first: the standards' verdict, the studio's limits, the share of
    targets hit, and then how many fresh candles passed. Candidates equal in all four share a rank.
    """
    counts = targets.groupby("candidate")[["n_inside", "n_candles"]].sum().reindex(verdicts.candidates["candidate"], fill_value=0)
    table = verdicts.candidates.assign(targets_hit=counts["n_inside"].to_numpy(), targets_asked=counts["n_candles"].to_numpy())
    share = (table["targets_hit"] / table["targets_asked"].where(table["targets_asked"] > 0)).fillna(0.0)
    keys = list(zip(table["standard_verdict"].map(_ORDER), table["studio_verdict"].map(_ORDER), -share, -table["n_passed"]))
    ordered = sorted(keys)
    table.insert(0, "rank", [ordered.index(key) + 1 for key in keys])
    return table.sort_values("rank", kind="stable").reset_index(drop=True)


def answer(batch: Batch, ranking: pd.DataFrame, verdicts: Verdicts) -> tuple[str, str, str]:
    """The answer in three sentences: what comes first, what is out or open and why, how far to trust it."""
    best = ranking[(ranking["rank"] == 1) & (ranking["standard_verdict"] == MET) & (ranking["studio_verdict"] == MET)]
    first = _first(ranking, best)
    return first[0].upper() + first[1:], _rest(ranking, verdicts), _trust(batch, best)


def _candles(n: int) -> str:
    return f"{n} candle" + ("" if n == 1 else "s")


def _first(ranking: pd.DataFrame, best: pd.DataFrame) -> str:
    if ranking.empty:
        return "No candidate can be judged: every candle is left out."
    if best.empty:
        return "No candidate has met every criterion of safety on all of its fresh candles, so none can be put first."
    if len(best) > 1:
        return f"{_list(best['candidate'])} share the first place: every fresh candle met every criterion, and they hit equally many targets."
    row = best.iloc[0]
    every = "its one fresh candle" if row["n_candles"] == 1 else f"all {row['n_candles']} of its fresh candles"
    targets = f" and hit {row['targets_hit']} of {row['targets_asked']} targets" if row["targets_asked"] else ""
    text = f"{row['candidate']} comes first: {every} met every criterion of safety{targets}"
    runners = ranking[(ranking["rank"] > 1) & (ranking["standard_verdict"] == MET) & (ranking["studio_verdict"] == MET)]
    if len(runners):
        next_best = runners.iloc[0]
        hit = f" and {next_best['targets_hit']} of {next_best['targets_asked']} targets" if next_best["targets_asked"] else ""
        text += f"; {next_best['candidate']} comes next, with {_candles(next_best['n_passed'])} passed{hit}"
    return text + "."


def _rest(ranking: pd.DataFrame, verdicts: Verdicts) -> str:
    parts = []
    deciding = verdicts.candidate_criteria[verdicts.candidate_criteria["decides"]]
    for outcome, lead in ((NOT_MET, "Out"), (NOT_RECORDED, "Still open")):
        named = []
        for row in ranking.itertuples():
            worst = max((row.standard_verdict, row.studio_verdict), key=_ORDER.get)
            if worst == outcome:
                why = deciding[(deciding["candidate"] == row.candidate) & (deciding["outcome"] == outcome)]["criterion"]
                shown = ", ".join(why.head(3)) + (f" and {len(why) - 3} more" if len(why) > 3 else "")
                named.append(f"{row.candidate} ({shown or 'no fresh candle counted'})")
        if named:
            parts.append(f"{lead}: {_list(named)}")
    if not parts:
        return "No candidate failed a criterion, and nothing that was required is missing."
    return "; ".join(parts).replace("; Still", "; still") + "."


def _trust(batch: Batch, best: pd.DataFrame) -> str:
    tail = "this is screening evidence, not a certificate."
    if batch.settings.stage == "screening":
        tail = "confirm on fresh candles; " + tail
    if best.empty:
        return f"Nothing is proved by candles that were not fully watched or that failed: {tail}"
    n = int(best["n_passed"].min())
    bound = best["failure_rate_up_to_pct"].max()
    return (f"{_candles(n)} without a failure still {'leaves' if n == 1 else 'leave'} room for a failure rate of up to {bound:.0f} % "
            f"(one-sided, 95 % confidence): {tail}")  # fmt: skip


def _list(names) -> str:
    names = list(names)
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]

"""Candidates in order: safety first, then the studio's targets; and the answer in plain sentences.

No inference here: every number is a count of candles or a plain mean over candles.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.candles import that_count
from candlelab.glossary import GLOSSARY
from candlelab.judge.diagnosis import NEITHER
from candlelab.judge.safety import MET, NOT_MET, NOT_RECORDED, Verdicts
from candlelab.logs.batch import Batch

_ORDER = {MET: 0, NOT_RECORDED: 1, NOT_MET: 2}


def first_wick_values(runs: pd.DataFrame, candles: pd.DataFrame) -> pd.DataFrame:
    """One row per fresh candle that counts, measured on the wick it was poured with.

    Life and wax left belong to that wick only when the candle got to its end on it.
    """
    first = runs[(runs["run"] == 1) & ~runs["excluded"]].reset_index(drop=True)
    whole = candles.set_index("candle").loc[first["candle"]].reset_index(drop=True)
    own_end = whole["ended"] & ~whole["replaced"]
    return first.assign(
        life_h=whole["life_h"].where(own_end), wax_left_pct=whole["wax_left_pct"].where(own_end)
    )


def open_ends(values: pd.DataFrame, burns: pd.DataFrame) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What each missing number of the table of ``first_wick_values`` is known to be above, and
    below.

    A pool that was watched and never full takes longer than it was watched; a candle that was not
    burnt to its end on
    that wick lives longer than it was burnt, and leaves less than it holds. NaN where nothing is
    known.
    """
    used = burns[that_count(burns) & (burns["run"] == 1)]
    at_least = used["full_pool_h"].fillna(used["pool_watched_h"]).groupby(used["candle"]).median()
    unseen = used["pool_watched_h"].isna()
    turn = used.groupby("candle").cumcount()  # burns before this one
    without_a_gap = (
        turn.where(unseen).groupby(used["candle"]).min().fillna(used.groupby("candle").size())
    )
    above = pd.DataFrame(
        {
            "full_pool_h": values["candle"].map(at_least),
            "burns_to_full_pool": values["candle"].map(without_a_gap),
            "life_h": values["hours_h"],
        }
    )
    below = pd.DataFrame({"wax_left_pct": 100.0 - values["fill_used_pct"]})
    return tuple(ends.where(values[list(ends)].isna()).astype(float) for ends in (above, below))


def target_results(batch: Batch, values: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate and target of ``batch.toml``: mean, range, and how many candles are
    inside.

    A candle without the number (never a full pool, not burnt to its end) is not inside.
    """
    rows = []
    for candidate, own in values.groupby("candidate", sort=False):
        for target in batch.settings.targets:
            seen = own[target.quantity].astype(float)
            inside = int(seen.between(target.low, target.high).sum())
            low, high = (end if np.isfinite(end) else np.nan for end in (target.low, target.high))
            rows.append(
                (
                    candidate,
                    target.quantity,
                    low,
                    high,
                    seen.mean(),
                    seen.min(),
                    seen.max(),
                    inside,
                    len(own),
                )
            )
    columns = [
        "candidate",
        "target",
        "low",
        "high",
        "mean",
        "smallest",
        "largest",
        "n_inside",
        "n_candles",
    ]
    return pd.DataFrame(rows, columns=columns)


def rank_candidates(verdicts: Verdicts, targets: pd.DataFrame) -> pd.DataFrame:
    """One row per candidate, the best first: those that met everything, those still open, those
    that are out;
    in each by the standards' verdict, the share of targets hit, and how many fresh candles passed.
    Candidates equal in all of it share a rank.
    """
    counts = (
        targets.groupby("candidate")[["n_inside", "n_candles"]]
        .sum()
        .reindex(verdicts.candidates["candidate"], fill_value=0)
    )
    table = verdicts.candidates.assign(
        targets_hit=counts["n_inside"].to_numpy(), targets_asked=counts["n_candles"].to_numpy()
    )
    share = (
        table["targets_hit"] / table["targets_asked"].where(table["targets_asked"] > 0)
    ).fillna(0.0)
    standard, studio = (table[f"{kind}_verdict"].map(_ORDER) for kind in ("standard", "studio"))
    keys = list(zip(np.maximum(standard, studio), standard, -share, -table["n_passed"]))
    ordered = sorted(keys)
    table.insert(0, "rank", [ordered.index(key) + 1 for key in keys])
    return table.sort_values("rank", kind="stable").reset_index(drop=True)


def answer(batch: Batch, ranking: pd.DataFrame, verdicts: Verdicts) -> tuple[str, str, str]:
    """The answer in three sentences: what comes first, what is out or open and why, how far to
    trust it."""
    best = ranking[
        (ranking["rank"] == 1)
        & (ranking["standard_verdict"] == MET)
        & (ranking["studio_verdict"] == MET)
    ]
    first = _first(ranking, best)
    unburnt = batch.candles.loc[~batch.candles["candle"].isin(batch.burns["candle"]), "candle"]
    return first[0].upper() + first[1:], _rest(ranking, verdicts, unburnt), _trust(batch, best)


def _candles(n: int) -> str:
    return f"{n} candle" + ("" if n == 1 else "s")


def _first(ranking: pd.DataFrame, best: pd.DataFrame) -> str:
    if not ranking[["n_candles", "n_part_used"]].to_numpy().any():
        return "No candidate can be judged: every candle is left out."
    if best.empty:
        return (
            "No candidate has met every deciding criterion on all of its fresh candles, so none "
            "can be put first."
        )
    if len(best) > 1:
        targets = ", and they hit equally many targets" if best["targets_asked"].any() else ""
        return (
            f"{_list(best['candidate'])} share the first place: every fresh candle met every "
            f"deciding criterion{targets}."
        )
    row = best.iloc[0]
    every = (
        "its one fresh candle"
        if row["n_candles"] == 1
        else f"all {row['n_candles']} of its fresh candles"
    )
    targets = (
        f" and hit {row['targets_hit']} of {row['targets_asked']} targets ({_per_candle(row)})"
        if row["targets_asked"]
        else ""
    )
    text = f"{row['candidate']} comes first: {every} met every deciding criterion{targets}"
    runners = ranking[
        (ranking["rank"] > 1)
        & (ranking["standard_verdict"] == MET)
        & (ranking["studio_verdict"] == MET)
    ]
    if len(runners):
        next_best = runners.iloc[0]
        hit = (
            f" and {next_best['targets_hit']} of {next_best['targets_asked']} targets"
            if next_best["targets_asked"]
            else ""
        )
        text += (
            f"; {next_best['candidate']} comes next, with {_candles(next_best['n_passed'])} "
            f"passed{hit}"
        )
    return text + "."


def _per_candle(row) -> str:
    asked = row["targets_asked"] // row["n_candles"]
    return f"{asked} target{'' if asked == 1 else 's'} on each of {_candles(row['n_candles'])}"


def _rest(ranking: pd.DataFrame, verdicts: Verdicts, unburnt: pd.Series) -> str:
    parts = []
    deciding = verdicts.candidate_criteria[verdicts.candidate_criteria["decides"]]
    for outcome, lead in ((NOT_MET, "Out"), (NOT_RECORDED, "Still open")):
        named = []
        for row in ranking.itertuples():
            worst = max((row.standard_verdict, row.studio_verdict), key=_ORDER.get)
            if worst == outcome:
                why = deciding[
                    (deciding["candidate"] == row.candidate) & (deciding["outcome"] == outcome)
                ]["criterion"]
                why = pd.Series(
                    [name + _only_left_out(verdicts, row.candidate, name, outcome) for name in why],
                    dtype="str",
                )
                shown = ", ".join(why.head(3)) + (
                    f" and {len(why) - 3} more" if len(why) > 3 else ""
                )
                unseen = not shown or (outcome == NOT_RECORDED and not row.n_candles)
                named.append(f"{row.candidate} ({'no fresh candle counted' if unseen else shown})")
        if named:
            parts.append(f"{lead}: {_list(named)}")
    if len(unburnt):
        parts.append(f"No burn is logged of {_list(unburnt)}")
    if not parts:
        return "No candidate failed a criterion, and nothing that was required is missing."
    return "; ".join([parts[0], *(part[0].lower() + part[1:] for part in parts[1:])]) + "."


def _only_left_out(verdicts: Verdicts, candidate: str, criterion: str, outcome: str) -> str:
    """A remark when a criterion was not met only in burns that are left out of the averages."""
    rows = verdicts.burns
    rows = (
        rows[
            (rows["candidate"] == candidate)
            & (rows["criterion"] == criterion)
            & (rows["outcome"] == NOT_MET)
        ]
        if len(rows)
        else rows
    )
    if outcome != NOT_MET or rows.empty or not rows["excluded"].all():
        return ""
    return (
        f", only in burn {rows['burn'].iat[0]} of {rows['candle'].iat[0]}, left out of the averages"
        if len(rows) == 1
        else ", only in burns left out"
    )


def advise(advice: pd.DataFrame, ranking: pd.DataFrame, targets: pd.DataFrame) -> pd.DataFrame:
    """The diagnosis' advice, with the verdict and the targets minded: nothing is kept that is out
    or open."""
    verdict = ranking.set_index("candidate")
    rows = []
    for row in advice.to_dict("records"):
        own = targets[
            (targets["candidate"] == row["candidate"])
            & (targets["n_inside"] < targets["n_candles"])
        ]
        missed = [
            f"{GLOSSARY[t.target].label} ({t.n_candles - t.n_inside} of {t.n_candles})"
            for t in own.itertuples()
        ]
        missed = ["it misses its target for " + ", ".join(missed)] if missed else []
        worst = max(
            (verdict.at[row["candidate"], f"{kind}_verdict"] for kind in ("standard", "studio")),
            key=_ORDER.get,
        )
        if row["advice"].startswith("Keep it") and worst != MET:
            ends = (
                "a criterion is not met"
                if worst == NOT_MET
                else "what was required was not all recorded"
            )
            row["advice"] = (
                f"The size suits, but {ends}: burn fresh candles and judge again."
                + row["advice"].partition(".")[2]
            )
        named = [
            name
            for name in verdict.index
            if row["next_wick"]
            and (name == row["next_wick"] or name.startswith(row["next_wick"] + ","))
        ]
        if any(
            NOT_MET in (verdict.at[name, "standard_verdict"], verdict.at[name, "studio_verdict"])
            for name in named
        ):
            row["advice"] += (
                " But that size is out in this batch: look why first, or try another series."
            )
        place = "counter_evidence" if row["finding"] == NEITHER else "evidence"
        row[place] = "; ".join(filter(None, [row[place], *missed]))
        rows.append(row)
    return pd.DataFrame(rows, columns=advice.columns)


def _trust(batch: Batch, best: pd.DataFrame) -> str:
    tail = "this is screening evidence, not a certificate."
    if batch.settings.stage == "screening":
        tail = "confirm on fresh candles; " + tail
    else:
        tail = (
            "what the round before found is not counted here, so hold both together (candlelab "
            "confirm); " + tail
        )
    if best.empty:
        return f"Nothing is proved by candles that were not fully watched or that failed: {tail}"
    n = int(best["n_passed"].min())
    bound = best["failure_rate_up_to_pct"].max()
    return (
        f"{_candles(n)} without a failure still {'leaves' if n == 1 else 'leave'} room for a "
        f"failure rate of up to {bound:.0f} % "
        f"(one-sided, 95 % confidence): {tail}"
    )


def _list(names) -> str:
    """Names as a sentence lists them; of more than eight the first six and how many more."""
    names = list(names)
    if len(names) > 8:
        names = [*names[:6], f"{len(names) - 6} more"]
    return names[0] if len(names) == 1 else ", ".join(names[:-1]) + " and " + names[-1]

"""Checks of a panel: does it agree, who smells nothing, does it tire, does a blank smell?"""

from __future__ import annotations

import numpy as np
import pandas as pd
import scipy

from candlelab.burns.scents import HOT
from candlelab.burns.side_by_side import pairs_that_count
from candlelab.judge.scent import LOAD, Strength
from candlelab.stats.agreement import intraclass, kendall_w, krippendorff_alpha
from candlelab.stats.assessors import assessor_table, repeat_table, slope_over_assessors
from candlelab.stats.columns import CannotCompare
from candlelab.stats.cumulative_logit import fit_cumulative_logit
from candlelab.stats.discrimination import PAIR, fewest_right
from candlelab.stats.paired_choices import strengths

_SURE = 0.05


def noses(strength: Strength) -> pd.DataFrame:
    """One row per nose: level, use of the scale, whether it follows the others, its repeats."""
    table = assessor_table(strength.scores)
    repeats = repeat_table(strength.scores)[["assessor", "n_repeats", "apart"]]
    table = table.rename(columns={"spread": "use_of_scale", "level": "nose_level"}).merge(
        repeats, "left", "assessor"
    )
    return table.assign(n_repeats=table["n_repeats"].fillna(0).astype(int))


def panel_checks(strength: Strength) -> pd.DataFrame:
    """One row per check: ``check, seen, p_value, says``."""
    hot = strength.scores[strength.scores["state"] == HOT]
    if hot.empty:
        return pd.DataFrame(columns=["check", "seen", "p_value", "says"])
    rows = [*_agreement(strength, hot), *_blank(strength, hot), *_repeats(hot)]
    rows += _over_the_session(hot)
    return pd.DataFrame(rows, columns=["check", "seen", "p_value", "says"])


def _agreement(strength: Strength, hot: pd.DataFrame) -> list[tuple]:
    means = hot.pivot_table(index=strength.by, columns="assessor", values="score")
    w, p = kendall_w(means)
    rows = []
    if not np.isnan(w):
        said = "They agree on the order." if p < _SURE else "Their orders may agree by luck alone."
        rows.append(("Same order? Kendall's W, 1 for one order", w, p, said))
    candles = hot.pivot_table(index="candle", columns="assessor", values="score")
    alpha = krippendorff_alpha(candles.round())
    if not np.isnan(alpha):
        said = "Untrained noses rarely reach 0.67." if alpha < 0.67 else "They use the scale alike."
        rows.append(("Same scores? Krippendorff's alpha, 1 for the same", alpha, np.nan, said))
    one, many = intraclass(candles)
    if not np.isnan(one):
        said = f"One nose {one:.2f}, the mean of the panel {many:.2f} (ICC of Shrout and Fleiss)."
        rows.append(("One nose for another?", one, np.nan, said))
    if strength.by == LOAD and len(means) > 2 and means.notna().all(axis=None):
        trend = scipy.stats.page_trend_test(means.sort_index().T.to_numpy())
        rises = "More smells stronger." if trend.pvalue < _SURE else "Not shown to rise with load."
        rows.append(("Does more smell stronger? Page's L", trend.statistic, trend.pvalue, rises))
    return rows


def _blank(strength: Strength, hot: pd.DataFrame) -> list[tuple]:
    none = hot.loc[hot[LOAD] == 0, "score"]
    if none.empty:
        return []
    rows = []
    share = float((none > 0).mean())
    said = f"{100 * share:.0f} of 100 scores of a candle without fragrance are above nothing."
    rows.append(("Blank: mean score without fragrance", float(none.mean()), np.nan, said))
    if strength.blank is not None:
        row = strength.blank.differences.iloc[0]
        said = "Fragrance is smelled." if row["conf_low"] > 0 else "Not told from no fragrance."
        rows.append(("Fragrance above the blank", row["estimate"], row["p_value"], said))
    return rows


def _repeats(hot: pd.DataFrame) -> list[tuple]:
    table = repeat_table(hot)
    if table.empty:
        return []
    apart = float((table["apart"] * table["n_repeats"]).sum() / table["n_repeats"].sum())
    said = f"The same candle, smelled twice unknowing, {table['n_repeats'].sum()} times."
    return [("Hidden repeats: usual difference", apart, np.nan, said)]


def _over_the_session(hot: pd.DataFrame) -> list[tuple]:
    rows = []
    before = hot.sort_values(["block", "order"])
    before = before.assign(before=before.groupby("block")["score"].shift())
    for check, column, table, yes, no in (
        ("Drift: change for each place in the sitting", "order", hot,
         "Rest longer, or smell fewer: scores change over a sitting.", "No drift is shown."),
        ("Carry-over: change for each step of the score before", "before", before,
         "Air the room, rest the nose longer: the last candle lingers.", "No carry-over is shown."),
    ):  # fmt: skip
        found = slope_over_assessors(table, column)
        if not np.isnan(found["p_value"]):
            said = yes if found["p_value"] < _SURE else no
            rows.append((check, found["estimate"], found["p_value"], said))
    return rows


def chances(strength: Strength) -> pd.DataFrame:
    """How often one would be scored higher than another: ordinal, for a nose like these.

    By a cumulative logit with a random level for each nose and candle; for the picture only.
    """
    hot = strength.scores[(strength.scores["state"] == HOT) & (strength.scores["score"] % 1 == 0)]
    levels = [] if strength.hot is None else strength.hot.levels
    hot = hot[hot[strength.by].isin(levels)]
    values, category = np.unique(hot["score"], return_inverse=True)
    columns = ["candidate", "reference", "chance"]
    if len(levels) < 2 or len(values) < 3:
        return pd.DataFrame(columns=columns)
    effects = np.column_stack([hot[strength.by] == level for level in levels[1:]]).astype(float)
    codes = [pd.factorize(hot[name])[0] for name in ("assessor", "candle")]
    fit = fit_cumulative_logit(category, effects, codes)
    shift = np.r_[0.0, fit.effects]
    shares = [np.diff(_below(fit.thresholds - one)) for one in shift]
    rows = []
    for j in range(len(levels)):
        for i in range(j):
            table = np.outer(shares[j], shares[i])
            higher = np.tril(table, -1).sum() + np.trace(table) / 2
            rows.append((strength.name_of[levels[j]], strength.name_of[levels[i]], higher))
    return pd.DataFrame(rows, columns=columns)


def _below(cuts) -> np.ndarray:
    return np.r_[0.0, 1 / (1 + np.exp(-cuts)), 1.0]


def pairs_won(worked, strength: Strength) -> pd.DataFrame:
    """Side by side: one row per two candidates, with how often which was called stronger.

    ``p_value`` is of the binomial test, two-sided; it holds for these candles and noses. Blank
    checks stay out: the noses that count are those that got them right, so the candle without
    fragrance would always lose, and strengths out of such pairs would have no end.
    """
    columns = ["candidate", "reference", "n_stronger", "n_pairs", "n_to_show", "p_value"]
    pairs = worked.batch.pairs
    if len(pairs):
        pairs = pairs_that_count(worked.batch)
        pairs = pairs[pairs["right"].isna() & ~pairs["assessor"].isin(strength.failed)]
    if pairs.empty:
        return pd.DataFrame(columns=columns)
    sides = pairs[pairs["first"] != pairs["second"]]
    two = [tuple(sorted(pair)) for pair in zip(sides["first"], sides["second"], strict=True)]
    rows = []
    for (one, other), own in sides.groupby(pd.Series(two, sides.index), sort=True):
        won = int((own["stronger"] == other).sum())
        p = scipy.stats.binomtest(won, len(own)).pvalue
        best, than, n = (other, one, won) if 2 * won >= len(own) else (one, other, len(own) - won)
        need = fewest_right(len(own), chance=PAIR, two_sided=True)
        rows.append((best, than, n, len(own), need, p))
    return pd.DataFrame(rows, columns=columns)


def pair_strengths(table: pd.DataFrame) -> pd.DataFrame:
    """Bradley and Terry's strengths of three or more candidates smelled in pairs; else empty."""
    counts = pd.DataFrame(
        {
            "first": table["candidate"],
            "second": table["reference"],
            "n_first": table["n_stronger"],
            "n_second": table["n_pairs"] - table["n_stronger"],
        }
    )
    try:
        if len(set(counts["first"]) | set(counts["second"])) > 2:
            return strengths(counts)
    except CannotCompare:
        pass
    return pd.DataFrame(columns=["candidate", "estimate", "std_error"])

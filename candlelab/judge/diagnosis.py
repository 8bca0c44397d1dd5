"""Too small, too large, neither or mixed: rules as data, and advice that carries its evidence.

Advice, not a verdict. Every threshold is common practice, no source, except where a rule says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.burns.candles import that_count
from candlelab.judge.safety import STANDARDS
from candlelab.logs.batch import Batch
from candlelab.logs.settings import Limits, Target

SMALL, LARGE, MIXED, NEITHER, UNSEEN = (
    "too small",
    "too large",
    "mixed",
    "neither",
    "not enough seen",
)
_SET_BY_THE_STUDIO = {
    "hang_up_left_pct": "over hang_up_pct", "used_up_left_pct": "up to hang_up_pct", "full_pool_in_time_h": "inside the target full_pool_h",
    "wall_over_caution_c": "against wall_caution_c",
}  # fmt: skip
_FULL_POOL = Target(
    "full_pool_h", 1.5, 4.0
)  # where the studio names no target; common practice, no source
_FLAME_LIMIT_MM = next(c.limit for c in STANDARDS if c.criterion == "flame height")


@dataclass(frozen=True)
class Rule:
    """A sign: ``feature`` at or above (``at_least``) or at or below (``at_most``) its threshold.

    ``points_to`` is too small, too large, or neither for a sign that all is well. ``words`` says
    what
    was seen, with ``{}`` for the reading, shown to ``digits`` decimals. A ``weak`` sign proves
    nothing
    when it stands alone on half of the candles or fewer.
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

    @property
    def threshold(self) -> str:
        """The ends between which the sign shows, in the unit of its words."""
        if self.feature in _SET_BY_THE_STUDIO:
            return f"{_SET_BY_THE_STUDIO[self.feature]} in batch.toml"
        ends = (("at least", self.at_least), ("at most", self.at_most))
        return ", ".join(f"{word} {end:g}" for word, end in ends if np.isfinite(end)) or "it was so"

    def say(self, values) -> str:
        """The sign in words, with one reading or the range of several."""
        ends = [f"{abs(v):.{self.digits}f}" for v in (min(values), max(values))]
        ends.sort(key=float)
        return self.words.format(ends[0] if ends[0] == ends[1] else " to ".join(ends))


RULES = (
    Rule("no full pool by the third burn", "widest_of_first_three_pct", SMALL,
         "no full pool in the first three long burns (widest {} % of the vessel)", digits=0),
    Rule("wax wall growing", "pool_trend_pct", SMALL, "the pool narrows from burn to burn, by {} % of the width a burn", at_most=-0.5),
    Rule("small flame", "flame_max_mm", SMALL, "the flame never rose above {} mm", at_most=13, digits=0),
    Rule("went out early", "self_out_early", SMALL, "it went out by itself long before the wax was used", at_least=1),
    Rule("wax left at the end", "hang_up_left_pct", SMALL, "{} % of the wax was left at the end, more than the studio calls hang-up", at_least=0,
         digits=0, weak=True),
    Rule("replaced", "replaced_with_wax", SMALL, "the wick was replaced and the rest burned on a new one", at_least=1),
    Rule("tall flame", "flame_max_mm", LARGE, "the flame rose to {} mm, near the limit or over it",
         at_least=0.8 * _FLAME_LIMIT_MM, source="four fifths of the limit of ASTM F2417, read second-hand; the share is common "
             "practice", digits=0),
    Rule("soot", "soot_max", LARGE, "soot of grade {} was seen", at_least=2, digits=0),
    Rule("full pool in the first hour", "first_full_pool_by_h", LARGE, "the pool was full within the first hour of the first burn", at_most=1),
    Rule("deep pool", "pool_depth_max_mm", LARGE, "the pool was {} mm deep", at_least=13.01),
    Rule("hot wall", "wall_over_caution_c", LARGE, "the wall went {} °C over the studio's caution limit", at_least=0.01),
    Rule("mushroom returns", "mushroom_again_mm", LARGE, "a mushroom of {} mm came back after trimming", at_least=3, weak=True),
    Rule("full pool in time", "full_pool_in_time_h", NEITHER, "the pool was full after {} h in its typical burn (the median)", at_least=0),
    Rule("pool depth in range", "pool_depth_max_mm", NEITHER, "the deepest pool was {} mm", at_least=6, at_most=13),
    Rule("wall cool enough", "wall_over_caution_c", NEITHER, "the wall stayed {} °C from the caution limit", at_most=0),
    Rule("no soot", "soot_max", NEITHER, "no more soot than a wisp", at_most=1),
    Rule("wax used up", "used_up_left_pct", NEITHER, "{} % of the wax was left at the end", at_most=100, digits=0),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Diagnosis:
    """``signs``: one row per wick run and sign seen; ``runs``: a finding per wick run;
    ``candidates``: a finding and advice per candidate; ``rules``: the rules with their sources."""

    rules: pd.DataFrame
    signs: pd.DataFrame
    runs: pd.DataFrame
    candidates: pd.DataFrame


def diagnose(
    batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame, candles: pd.DataFrame
) -> Diagnosis:
    """Look for the signs of each rule, say what they mean together, and what to try next.

    ``burns``, ``runs`` and ``candles`` are the tables of ``burn_cycles``, ``wick_runs`` and
    ``candle_summary``, worked out anew when not given.
    """
    features = _features(batch, burns, runs, candles)
    signs = pd.concat([_signs(features, rule) for rule in RULES], ignore_index=True)
    found = _run_findings(features, signs)
    candidates = pd.DataFrame(
        [
            _candidate_finding(batch, found, signs, name)
            for name in dict.fromkeys(found["candidate"])
        ]
    )
    rules = pd.DataFrame(
        [(r.rule, r.points_to, r.threshold, r.source) for r in RULES],
        columns=["rule", "points_to", "threshold", "source"],
    )
    return Diagnosis(rules, signs, found, _with_hints(candidates, burns, batch.settings.limits))


def _features(
    batch: Batch, burns: pd.DataFrame, runs: pd.DataFrame, candles: pd.DataFrame
) -> pd.DataFrame:
    """What the rules look at, one row per wick run."""
    used = burns[that_count(burns)]
    of_run = [used["candle"], used["run"]]
    turn = used.groupby(of_run).cumcount()
    key = pd.MultiIndex.from_frame(runs[["candle", "run"]])
    long = used[used["burn_time_h"] >= 0.75 * batch.settings.protocol.burn_h].assign(turn=turn)
    first = (
        long[long.groupby(["candle", "run"]).cumcount() < 3]
        .groupby(["candle", "run"])
        .agg(
            n=("pool_watched_h", "count"),
            widest=("pool_share_max_pct", "max"),
            full=("full_pool_by_h", "count"),
        )
    )
    short = first[(first["n"] == 3) & (first["full"] == 0)]["widest"]
    trends = {of: _pool_trend(run) for of, run in long.groupby(["candle", "run"])}
    mushroom = used["mushroom_max_mm"]
    again = np.minimum(mushroom, mushroom.groupby(of_run).shift())
    first_burn = used[(turn == 0) & (used["run"] == 1)].set_index(["candle", "run"])[
        "full_pool_by_h"
    ]
    candles = candles.set_index("candle")
    last_run = ~runs["replaced"]
    ended = runs["candle"].map(candles["ended"]) & last_run
    left = runs["candle"].map(candles["wax_left_pct"]).where(ended)
    pool = next((t for t in batch.settings.targets if t.quantity == "full_pool_h"), _FULL_POOL)
    return runs.assign(
        widest_of_first_three_pct=short.reindex(key).to_numpy(),
        pool_trend_pct=np.array([trends.get(of, np.nan) for of in key], dtype=float),
        hang_up_left_pct=left.where(left > batch.settings.protocol.hang_up_pct),
        used_up_left_pct=left.where(left <= batch.settings.protocol.hang_up_pct),
        full_pool_in_time_h=runs["full_pool_h"].where(
            runs["full_pool_h"].between(pool.low, pool.high)
        ),
        replaced_with_wax=runs["replaced"].astype(float),
        first_full_pool_by_h=first_burn.reindex(key).to_numpy(),
        wall_over_caution_c=runs["wall_max_c"] - batch.settings.limits.wall_caution_c,
        mushroom_again_mm=again.groupby(of_run).max().reindex(key).to_numpy(),
        seen_enough=(runs["n_burns"] >= 3) & (runs["fill_used_pct"] >= 50),
    )


def _pool_trend(run: pd.DataFrame) -> float:
    """Straight-line change of the widest pool from one long burn to the next [% of the width].

    Missing with fewer than three burns or when one of the last two had a full pool.
    """
    if (
        len(run) < 3
        or run["full_pool_by_h"].tail(2).notna().any()
        or run["pool_share_max_pct"].isna().any()
    ):
        return np.nan
    return float(np.polyfit(run["turn"], run["pool_share_max_pct"], 1)[0])


def _signs(features: pd.DataFrame, rule: Rule) -> pd.DataFrame:
    value = features[rule.feature].to_numpy(dtype=float)
    seen = (value >= rule.at_least) & (value <= rule.at_most)
    return features.loc[seen, ["candle", "run", "candidate", "excluded"]].assign(
        rule=rule.rule,
        points_to=rule.points_to,
        weak=rule.weak,
        value=value[seen],
        words=[rule.say([v]) for v in value[seen]],
    )


def _finding(small: int, large: int, enough: bool) -> str:
    if small and large:
        return MIXED
    if small:
        return SMALL
    if large:
        return LARGE
    return NEITHER if enough else UNSEEN


def _run_findings(features: pd.DataFrame, signs: pd.DataFrame) -> pd.DataFrame:
    rows, of_run = [], {}
    for candle, run, *sign in signs[["candle", "run", "points_to", "words", "weak"]].itertuples(
        index=False, name=None
    ):
        of_run.setdefault((candle, run), []).append(sign)
    for run in features.itertuples():
        own = of_run.get((run.candle, run.run), [])
        by = {
            way: [words for points_to, words, _ in own if points_to == way]
            for way in (SMALL, LARGE, NEITHER)
        }
        strong = any(points_to == LARGE and not weak for points_to, _, weak in own)
        finding = _finding(len(by[SMALL]), len(by[LARGE]) if strong else 0, run.seen_enough)
        against = by[LARGE] if finding == NEITHER else by[NEITHER]
        evidence = (
            by[finding]
            if finding in by
            else [words for points_to, words, _ in own if points_to != NEITHER]
        )
        rows.append((finding, "; ".join(evidence), "; ".join(against)))
    names = features[
        ["candle", "run", "candidate", "wick", "wick_series", "wick_size", "excluded", "n_burns"]
    ]
    found = pd.DataFrame(
        rows, columns=["finding", "evidence", "counter_evidence"], index=names.index
    )
    return pd.concat([names, found], axis=1)


def _candidate_finding(
    batch: Batch, runs: pd.DataFrame, signs: pd.DataFrame, candidate: str
) -> dict:
    own = runs[(runs["candidate"] == candidate) & ~runs["excluded"]]
    seen = own.groupby("finding")["candle"].nunique()
    n, small, large = own["candle"].nunique(), int(seen.get(SMALL, 0)), int(seen.get(LARGE, 0))
    both = int(seen.get(MIXED, 0)) or (small and large)
    speaking = signs[
        (signs["candidate"] == candidate) & ~signs["excluded"] & (signs["points_to"] == SMALL)
    ]
    only_weak = bool(speaking["weak"].all())
    if both:
        finding = MIXED
    elif small and (2 * small > n if only_weak else 3 * small >= n):
        finding = SMALL
    elif large and 3 * large >= n:
        finding = LARGE
    else:
        finding = NEITHER if seen.get(NEITHER, 0) else UNSEEN
    if finding == NEITHER and (own["run"] == 1).any():
        own, n = (
            own[own["run"] == 1],
            own.loc[own["run"] == 1, "candle"].nunique(),
        )  # that all is well is shown by fresh candles only
    agree = own.loc[
        own["finding"].isin([SMALL, LARGE, MIXED] if finding == MIXED else [finding]), "candle"
    ].nunique()
    of_candidate = signs[(signs["candidate"] == candidate) & ~signs["excluded"]]
    of_candidate = of_candidate[
        pd.MultiIndex.from_frame(of_candidate[["candle", "run"]]).isin(
            list(zip(own["candle"], own["run"]))
        )
    ]
    ways = {
        SMALL: [SMALL],
        LARGE: [LARGE],
        MIXED: [SMALL, LARGE],
        NEITHER: [NEITHER],
        UNSEEN: [SMALL, LARGE],
    }[finding]
    evidence = of_candidate[of_candidate["points_to"].isin(ways)]
    against = of_candidate[~of_candidate["points_to"].isin(ways)]
    alone = 2 * agree <= n and evidence["rule"].nunique() == 1
    next_wick, advice = _advice(batch, own, finding, against, alone)
    return {
        "candidate": candidate,
        "n_candles": n,
        "finding": finding,
        "advice": advice,
        "next_wick": next_wick,
        "evidence": _together(evidence, own),
        "counter_evidence": _together(against, own),
        "how_sure": _how_sure(agree, n, finding, evidence),
    }


def _together(signs: pd.DataFrame, own: pd.DataFrame) -> str:
    """Each sign once, with the range of the readings and the candles that showed it."""
    parts, everybody, seen = [], set(own["candle"]), {}
    for rule, candle, value in zip(signs["rule"], signs["candle"], signs["value"]):
        seen.setdefault(rule, []).append((candle, value))
    for rule in RULES:
        if rule.rule in seen:
            candles = list(dict.fromkeys(candle for candle, _ in seen[rule.rule]))
            who = "all" if set(candles) == everybody and len(candles) > 1 else ", ".join(candles)
            parts.append(f"{rule.say([value for _, value in seen[rule.rule]])} ({who})")
    return "; ".join(parts)


def _how_sure(agree: int, n: int, finding: str, evidence: pd.DataFrame) -> str:
    if finding == UNSEEN:
        return "not at all: too few burns, or less than half of the wax"
    signs = evidence["rule"].nunique()
    word = (
        "good"
        if agree == n and n >= 3 and signs >= 2
        else "fair"
        if 2 * agree > n and n >= 2
        else "weak"
    )
    return f"{word}: seen on {agree} of {n}, by {signs} kind{'' if signs == 1 else 's'} of sign"


def _advice(
    batch: Batch, own: pd.DataFrame, finding: str, against: pd.DataFrame, alone: bool
) -> tuple[str, str]:
    """The next wick and what to do; ``alone`` says that one kind of sign was seen, on half of the
    candles at most."""
    if own.empty or finding == UNSEEN:
        return "", "Burn more candles, and to the end."
    if finding == MIXED:
        return "", "Signs in both directions: try another series."
    if finding == NEITHER:
        if (against["rule"] == "mushroom returns").any():
            return "", "Keep it; trim to 6 mm before every burn and judge the mushroom again."
        return (
            "",
            "Keep it."
            if batch.settings.stage == "confirmation"
            else "Keep it; confirm on fresh candles.",
        )
    step = 1 if finding == SMALL else -1
    way, end = ("up", "larger") if step > 0 else ("down", "smaller")
    series = own["wick_series"].iat[0]
    size = next_size(batch.wicks, series, own["wick_size"].iat[0], step)
    if size is None:
        return (
            "",
            f"One size {way}, but {series} has no {end} size in wicks.csv: try another series.",
        )
    if alone:
        return (
            f"{series} {size}",
            "One sign only: burn another candle before changing; if it comes again, one size "
            f"{way}: {series} {size}.",
        )
    return f"{series} {size}", f"Try one size {way}: {series} {size}."


def next_size(wicks: pd.DataFrame, series: str, size: str, step: int) -> str | None:
    """The size ``step`` places up or down its series by rank; None when the series ends there."""
    ranked = wicks[wicks["wick_series"] == series].sort_values("size_rank")["wick_size"].tolist()
    at = ranked.index(size) + step
    return ranked[at] if 0 <= at < len(ranked) else None


def _with_hints(candidates: pd.DataFrame, burns: pd.DataFrame, limits: Limits) -> pd.DataFrame:
    """Add to the advice what a warm room, notes and other fragrances suggest."""
    hints = {name: [] for name in candidates["candidate"]}
    notes = burns[~burns["excluded"]]
    for name, part in notes.groupby("candidate", sort=False):
        warm, limit = part["wall_max_warm_room_c"].max(), limits.wall_caution_c
        if part["wall_max_c"].max() <= limit < warm:
            hints[name].append(
                f"In a 30 °C room its wall may reach {warm:.1f} °C, over the caution limit of "
                f"{limit:g} °C: try it in a warm room."
            )
        flicker = part.loc[part["note"].str.contains("flicker", case=False), "candle"].unique()
        aside = part.loc[part["note"].str.contains("off.cent", case=False), "candle"].unique()
        if len(flicker):
            hints[name].append(
                f"Flicker was noted ({', '.join(flicker)}): look for a draught first."
            )
        if len(aside):
            hints[name].append(
                f"A wick off centre was noted ({', '.join(aside)}): consider leaving the candle "
                "out, with the reason."
            )
    recipe = burns.drop_duplicates("candidate").set_index("candidate")[
        ["wick", "vessel", "wax", "fragrance"]
    ]
    finding = candidates.set_index("candidate")["finding"]
    for name in finding.index[finding.isin([SMALL, LARGE, MIXED])]:
        own = recipe.loc[name]
        twins = recipe[
            (recipe[["wick", "vessel", "wax"]] == own[["wick", "vessel", "wax"]]).all(axis=1)
            & (recipe["fragrance"] != own["fragrance"])
        ]
        fine = [t for t in twins.index if finding[t] == NEITHER]
        if fine:
            scents = " or ".join(
                f"with {recipe.loc[t, 'fragrance']}"
                if recipe.loc[t, "fragrance"]
                else "without fragrance"
                for t in fine
            )
            hints[name].append(
                f"The same wick shows no such sign {scents}: the fragrance may be the cause, try "
                "another series."
            )
    advice = [
        " ".join([a, *hints[c]]) for c, a in zip(candidates["candidate"], candidates["advice"])
    ]
    return candidates.assign(advice=advice)

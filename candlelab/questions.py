"""Which wick, which wax, how much fragrance: from batches to an answer in words with its tables.

One metric at a time is compared; safety and the studio's targets are taken together for wicks. Every
refusal is a sentence in ``refused``, so that a page always has something true to say.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.choosing import Choice, choose
from candlelab.columns import GLOSSARY, heading, in_words
from candlelab.comparison import Comparison, compare_candidates
from candlelab.crossed import CrossedComparison, Trend, compare_crossed, trend
from candlelab.cycles import burn_cycles
from candlelab.designs import CannotCompare, listed
from candlelab.logs import Batch
from candlelab.proportions import ProportionComparison, claim_words, compare_proportions
from candlelab.ranking import first_wick_values, open_ends
from candlelab.results import table_record
from candlelab.runs import candle_summary, wick_runs
from candlelab.safety import MET, NOT_MET, NOT_RECORDED, judge_safety
from candlelab.survival import TimeComparison, compare_times
from candlelab.words import BEST, TERMS

BURN_METRICS = (
    "burn_rate_g_per_h", "wall_max_c", "wall_max_warm_room_c", "flame_max_mm", "pool_depth_max_mm", "pool_share_max_pct",
    "mushroom_max_mm", "heat_release_w", "fragrance_release_g_per_h",
)  # fmt: skip
CANDLE_METRICS = ("life_h", "wax_left_pct", "rate_drift_g_per_h", "aftersmoke_s")
METRICS = BURN_METRICS + CANDLE_METRICS
OUTCOMES = {
    "passed": "Passed: every deciding criterion met", "sooted": "Sooted: grade 2 or more at some check",
    "full_pool_by_burn_3": "Full pool by the third burn",
}  # fmt: skip
WAYS = ("wick", "wick_series", "wax", "fragrance_load_pct")
EXPLAINED = (
    "reference", "estimate", "std_error", "df", "conf_low", "conf_high", "p_value", "p_adjusted", "n_candles", "factor", "within", "within_reference",
    "statistic", "df_num", "n_yes", "n_seen", "median_low", "median_high", "earlier", "smallest_p", "satisfaction", "probability_best", "pareto",
    "shift", "shift_in_std_errors",
)  # fmt: skip
NO_CHOICE = "Candidates are put in order only when they are compared by wick and batch.toml names targets."
_RECIPE = ("vessel", "wax", "wick", "fragrance", "fragrance_load_pct", "dye")
_UNIT = ["batch", "candle"]


@dataclass(frozen=True, eq=False)
class Pooled:
    """Tables of several batches under each other, each row with its ``batch``; what is left out is marked.

    ``above`` and ``below`` have the rows of ``fresh``: what its missing numbers are known to be above and below.
    """

    batches: tuple[Batch, ...]
    burns: pd.DataFrame
    fresh: pd.DataFrame
    above: pd.DataFrame
    below: pd.DataFrame


@dataclass(frozen=True, eq=False)
class Asked:
    """A question and its answer. ``rows`` are the rows that were compared, ``points`` one per candle (and wick)."""

    by: str
    metric: str
    pooled: Pooled
    answer: tuple[str, ...]
    rows: pd.DataFrame
    points: pd.DataFrame
    comparison: Comparison | None
    crossed: CrossedComparison | None
    trend: Trend | None
    outcomes: dict[str, ProportionComparison]
    times: TimeComparison | None
    choice: Choice | None
    claims: tuple[str, ...]
    refused: tuple[str, ...]
    notes: tuple[str, ...]


def pool(batches: list[Batch]) -> Pooled:
    """Put the burns and the fresh candles of several batches under each other."""
    burns, fresh, ends = [], [], []
    for name, batch in zip(_names(batches), batches):
        own = burn_cycles(batch)
        runs = wick_runs(batch, own)
        values = first_wick_values(runs, candle_summary(batch, own, runs))
        verdicts = judge_safety(batch, own, runs)
        verdict = verdicts.candle_verdicts[verdicts.candle_verdicts["run"] == 1].set_index("candle")
        passed = (verdict[["standard_verdict", "studio_verdict"]] == MET).all(axis=1)
        seen = own[~own["excluded"] & (own["run"] == 1)].groupby("candle")
        bracket = pd.DataFrame({
            "full_pool_after_h": seen["full_pool_after_h"].median(),
            "full_pool_by_h": seen["full_pool_by_h"].apply(lambda by: by.fillna(np.inf).median()),
        })  # fmt: skip
        values = values.drop(columns=["full_pool_h"]).merge(bracket.replace(np.inf, np.nan), left_on="candle", right_index=True, how="left")
        values = values.assign(
            batch=name, passed=values["candle"].map(passed), full_pool_h=runs.set_index(["candle", "run"])["full_pool_h"].reindex(
                pd.MultiIndex.from_arrays([values["candle"], values["run"]])).to_numpy(),
            sooted=values["soot_max"] >= 2, full_pool_by_burn_3=values["burns_to_full_pool"].fillna(np.inf) <= 3,
        )  # fmt: skip
        fresh.append(_with_load(values))
        ends.append(open_ends(values, own))
        burns.append(_with_load(own.assign(batch=name, depth_pct=(own["fill_used_start_pct"] + own["fill_used_pct"]) / 2.0)))
    return Pooled(tuple(batches), *(pd.concat(tables, ignore_index=True) for tables in (burns, fresh, *zip(*ends))))


def _with_load(table: pd.DataFrame) -> pd.DataFrame:
    """A candle without a fragrance has a load of 0; what a recipe has not is called none."""
    none = (table["fragrance"] == "") & table["fragrance_load_pct"].isna()
    words = {name: table[name].mask(table[name] == "", "none") for name in ("fragrance", "dye")}
    return table.assign(fragrance_load_pct=table["fragrance_load_pct"].mask(none, 0.0), **words)


def _names(batches: list[Batch]) -> list[str]:
    names: list[str] = []
    for batch in batches:
        name, n = batch.folder.resolve().name, 2
        while name in names:
            name, n = f"{batch.folder.resolve().name} ({n})", n + 1
        names.append(name)
    return names


def ask(batches: list[Batch], *, by: str, metric: str = "burn_rate_g_per_h", confidence: float = 0.95) -> Asked:
    """Compare by ``wick``, ``wick_series``, ``wax`` or ``fragrance_load_pct`` in one of METRICS.

    Raises ValueError for another ``by`` or ``metric``. What cannot be compared is told in ``refused``.
    """
    for word, given, known in (("by", by, WAYS), ("metric", metric, METRICS)):
        if given not in known:
            raise ValueError(f"{word} must be one of {', '.join(known)}, not {given!r}")
    pooled = pool(batches)
    table = pooled.burns if metric in BURN_METRICS else pooled.fresh
    refused: list[str] = []
    notes: list[str] = []
    covariates = _covariates(table, by, notes)

    def tried(work: Callable):
        try:
            return work()
        except CannotCompare as error:
            refused.append(str(error))
            return None

    given = {"metric": metric, "unit": _UNIT, "confidence": confidence}
    crossed = comparison = line = None
    if by == "fragrance_load_pct":
        line = tried(lambda: trend(table, against=by, covariates=covariates, **given))
    elif by == "wax" and _is_crossed(table, "wax", "wick"):
        others = tuple(c for c in covariates if c != "wick")
        crossed = tried(lambda: compare_crossed(table, by=("wax", "wick"), covariates=others, **given))
    else:
        comparison = tried(lambda: compare_candidates(table, by=by, covariates=covariates, **given))
    fresh = pooled.fresh.assign(**{by: _labels(pooled.fresh, by)})
    outcomes = {}
    for outcome in OUTCOMES:
        found = tried(lambda: compare_proportions(fresh, outcome=outcome, by=by, unit=_UNIT, confidence=confidence))
        if found is not None:
            outcomes[outcome] = found
    times = tried(lambda: compare_times(fresh, after="full_pool_after_h", until="full_pool_by_h", by=by, unit=_UNIT, confidence=confidence))
    choice = _choice(pooled, refused) if by == "wick" else None
    rows = table[~table["excluded"] & table[metric].notna()]
    keys = list(dict.fromkeys([*_UNIT, by, "wick"]))
    points = rows.groupby(keys, sort=False)[metric].mean().reset_index()
    asked = Asked(by, metric, pooled, (), rows, points, comparison, crossed, line, outcomes, times, choice,
                  _claims(outcomes), tuple(dict.fromkeys(in_words(r) for r in refused)), tuple(notes))  # fmt: skip
    return Asked(**{**vars(asked), "answer": _answer(asked)})


def _labels(table: pd.DataFrame, by: str) -> pd.Series:
    return table[by] if by != "fragrance_load_pct" else table[by].map(lambda load: f"{load:g} %")


def _covariates(table: pd.DataFrame, by: str, notes: list[str]) -> tuple[str, ...]:
    """What else varies, as blocks; depth where a candle met its wick part-used."""
    used = table[~table["excluded"]]
    found = [name for name in _RECIPE if name != by and used[name].nunique(dropna=False) > 1]
    if by in ("wick", "wick_series") and "wick" in found:
        found.remove("wick")
    one_scent = used.loc[used["fragrance_load_pct"] != 0, "fragrance"].nunique() <= 1
    if "fragrance" in found and (one_scent or by == "fragrance_load_pct"):
        found.remove("fragrance")  # no fragrance is a load of 0
    if "depth_pct" in table and (used["run"] > 1).any():
        found.append("depth_pct")
        notes.append("Some burns are on a second wick in a part-used candle, so the share of fill used is corrected for.")
    if by == "wick_series" and used.groupby(by)["wick"].nunique().max() > 1:
        notes.append("A wick series stands for the sizes burnt here, taken together: other sizes of it may burn quite differently.")
    if used["batch"].nunique() > 1:
        if used.groupby(by)["batch"].nunique().max() > 1:
            found.append("batch")
        else:
            notes.append(f"Each {heading(by)} was burnt in one batch only: what differs between batches (days, room, lots) is in the difference.")
    return tuple(found)


def _is_crossed(table: pd.DataFrame, a: str, b: str) -> bool:
    used = table[~table["excluded"]]
    return used[a].nunique() > 1 and used[b].nunique() > 1 and len(used[[a, b]].drop_duplicates()) == used[a].nunique() * used[b].nunique()


def _choice(pooled: Pooled, refused: list[str]) -> Choice | None:
    """Safety first: a candidate with a fresh candle that did not pass is out; then the targets of the first batch."""
    targets = pooled.batches[0].settings.targets
    if not targets:
        refused.append("batch.toml names no target, so there is nothing to choose by: add [targets].")
        return None
    values = pooled.fresh.drop(columns=["candidate"]).rename(columns={"wick": "candidate"})
    safe = {}
    for batch, name in zip(pooled.batches, _names(list(pooled.batches))):
        verdicts = judge_safety(batch)
        wick = verdicts.candle_verdicts.set_index("candidate")["wick"]
        for row in verdicts.candidates.itertuples():
            outcome = next((v for v in (NOT_MET, NOT_RECORDED) if v in (row.standard_verdict, row.studio_verdict)), None)
            if outcome:
                own = verdicts.candidate_criteria.query("candidate == @row.candidate and decides and outcome == @outcome")["criterion"]
                what = f": {listed(own, 4)}" if len(own) else ""
                safe[wick[row.candidate] if isinstance(wick[row.candidate], str) else wick[row.candidate].iloc[0]] = f"{outcome}{what} ({name})"
    safe = {name: safe.get(name, "") for name in values["candidate"].unique()}
    return choose(values, targets, safe, above=pooled.above, below=pooled.below)


def _claims(outcomes: dict[str, ProportionComparison]) -> tuple[str, ...]:
    if "passed" not in outcomes:
        return ()
    rows = outcomes["passed"].estimates
    return tuple(f"{row.candidate}: {claim_words(int(row.n_yes), int(row.n_candles - row.n_yes), reliability=0.9)}" for row in rows.itertuples())


def _answer(asked: Asked) -> tuple[str, ...]:
    lines = {"fragrance_load_pct": _load_words, "wax": _wax_words}.get(asked.by, _wick_words)(asked)
    if not lines:
        lines = ["These candles cannot be compared: " + " ".join(asked.refused)]
    lines.append("A difference that is not shown may still be there; these are numbers of candles burnt here, and screening evidence, not a certificate.")
    return tuple(line[0].upper() + line[1:] for line in lines)


def _number(asked: Asked, value: float) -> str:
    unit = GLOSSARY[asked.metric].unit
    return f"{value:.2f} {unit}".strip() if unit in ("g/h", "h") else f"{value:.1f} {unit}".strip()


def _wick_words(asked: Asked) -> list[str]:
    if asked.comparison is None:
        return []
    means, pairs = asked.comparison.estimates.sort_values("estimate"), asked.comparison.differences
    low, high = means.iloc[0], means.iloc[-1]
    shown = int((pairs["p_adjusted"] < 1 - asked.comparison.confidence).sum())
    label = GLOSSARY[asked.metric].label
    if len(means) == 1:
        first = f"there is only one candidate, {low['candidate']}, with {_number(asked, low['estimate'])}: nothing to compare it with."
    elif not shown:
        first = (f"no two of the {len(means)} candidates are shown to differ in {label}: what was found, from {_number(asked, low['estimate'])} "
                 f"({low['candidate']}) to {_number(asked, high['estimate'])} ({high['candidate']}), may be luck.")  # fmt: skip
    else:
        first = (f"{label} is highest with {high['candidate']}, {_number(asked, high['estimate'])}, and lowest with {low['candidate']}, "
                 f"{_number(asked, low['estimate'])}; {shown} of {len(pairs)} pair{'s differ' if shown != 1 else ' differs'} by more than luck.")  # fmt: skip
    return [first, *_choice_words(asked)]


def _choice_words(asked: Asked) -> list[str]:
    if asked.choice is None:
        return []
    table, unknown = asked.choice.candidates, asked.choice.unknown
    gaps = " and are known well enough in every target" if unknown else ""
    if table.empty:
        return ["No candidate can be chosen: each has a criterion that is not met or not recorded, or a number that is not known well enough."]
    best = table.iloc[0]
    if best["satisfaction"] == 0:
        return [f"Each candidate that can be chosen misses at least one target altogether, so none is chosen{_and_unknown(unknown)}."]
    share, chance = f"{100 * best['satisfaction']:.0f} %", best["probability_best"]
    if len(table) == 1:
        only = f"Only {best['candidate']} met every criterion of safety{gaps.replace(' are ', ' is ')}"
        return [f"{only}; it satisfies the targets to {share}."]
    lead = f"Of the {len(table)} that met every criterion of safety{gaps} {best['candidate']} satisfies the targets most"
    if np.isnan(chance):
        return [f"{lead}, but how sure that is cannot be said."]
    sure = "" if chance >= 0.8 else ", which leaves the choice open"
    return [f"{lead} ({share}), and it is truly the best of them with a probability of {_percent(chance)}{sure}."]


def _percent(share: float) -> str:
    """A share of draws; it is never said to be everything."""
    return "over 99 %" if share >= 0.995 else f"{100 * share:.0f} %"


def _and_unknown(names: tuple[str, ...]) -> str:
    return f" ({listed(names)} cannot be judged by every target)" if names else ""


def _pair_words(asked: Asked, row) -> str:
    label = GLOSSARY[asked.metric].label
    if row["conf_low"] > 0 or row["conf_high"] < 0:
        ends = sorted(abs(row[end]) for end in ("conf_low", "conf_high"))
        return (f"{label} is {'higher' if row['estimate'] > 0 else 'lower'} with {row['candidate']} than with {row['reference']}, by "
                f"{_number(asked, abs(row['estimate']))} ({_number(asked, ends[0])} to {_number(asked, ends[1])})")  # fmt: skip
    return (f"no difference in {label} is shown between {row['candidate']} and {row['reference']}: it lies between "
            f"{_number(asked, row['conf_low'])} and {_number(asked, row['conf_high'])}")  # fmt: skip


def _wax_words(asked: Asked) -> list[str]:
    if asked.crossed is None:
        return [] if asked.comparison is None else ["; ".join(_pair_words(asked, r) for _, r in asked.comparison.differences.iterrows()) + "."]
    pairs = asked.crossed.differences
    main = pairs[(pairs["factor"] == "wax") & (pairs["within"] == "")]
    first = "averaged over the wicks, " + "; ".join(_pair_words(asked, row) for _, row in main.iterrows()) + "."
    p = float(asked.crossed.interaction["p_value"].iloc[0])
    same = p >= 1 - asked.crossed.confidence
    second = ("That the difference depends on the wick is not shown." if same
              else "The difference depends on the wick: read the wicks one by one in the table.")  # fmt: skip
    return [first, second]


def _load_words(asked: Asked) -> list[str]:
    if asked.trend is None:
        return []
    label, slope = GLOSSARY[asked.metric].label, asked.trend.slope.iloc[0]
    ends = sorted(abs(slope[end]) for end in ("conf_low", "conf_high"))
    if slope["conf_low"] > 0 or slope["conf_high"] < 0:
        lines = [f"{label} {'rises' if slope['estimate'] > 0 else 'falls'} by {_step(asked, abs(slope['estimate']))} for each % of fragrance load "
                 f"({_step(asked, ends[0])} to {_step(asked, ends[1])})."]  # fmt: skip
    else:
        lines = [f"that {label} rises or falls with fragrance load is not shown: for each % of load it changes by something between "
                 f"{_step(asked, slope['conf_low'])} and {_step(asked, slope['conf_high'])}."]  # fmt: skip
    if not len(asked.trend.ends):
        return lines
    bend, top = asked.trend.curvature.iloc[0], asked.trend.ends.iloc[-1]
    if bend["conf_low"] <= 0 <= bend["conf_high"]:
        return [*lines, "that the effect weakens or grows as the load rises is not shown: nothing speaks against a straight line."]
    at = f"near {top[asked.by]:g} % one % changes it by something between {_step(asked, top['conf_low'])} and {_step(asked, top['conf_high'])}"
    if not lines[0].startswith("that "):
        lines[0] = f"over all loads taken together {lines[0]}"
    return [*lines, f"the effect is not the same at every load: {at}."]


def _step(asked: Asked, value: float) -> str:
    return f"{value:.2g} {GLOSSARY[asked.metric].unit}".strip()


def asked_record(asked: Asked, parameters: dict, versions: dict) -> dict:
    """Plain data for ``results.json`` of a comparison: the answer, every table, methods, notes, inputs, versions."""
    return {
        "format": "candlelab comparison 1", "by": asked.by, "metric": asked.metric, "answer": list(asked.answer),
        "methods": methods(asked), "refused": list(asked.refused), "claims": list(asked.claims),
        "tables": {name: table_record(row_is, table) for name, (row_is, table) in tables(asked).items()},
        "inputs": [{"batch": name, **row} for name, batch in zip(_names(list(asked.pooled.batches)), asked.pooled.batches)
                   for row in batch.files.to_dict("records")],
        "parameters": parameters, "versions": versions,
    }  # fmt: skip


def under_title(asked: Asked) -> tuple[str, str]:
    """What stands under the title: the batches, and what was compared in how many candles."""
    points, n = asked.points, len(asked.points.drop_duplicates(_UNIT))
    wicks = f" ({len(points)} wicks in them)" if len(points) > n else ""
    burns = f", {len(asked.rows)} burns" if asked.metric in BURN_METRICS else ""
    candles = f"{n} candle{'' if n == 1 else 's'}"
    return "; ".join(b.settings.title for b in asked.pooled.batches), f"{heading(asked.metric)} of {candles}{wicks}{burns}"


def explained(asked: Asked) -> tuple[list[str], dict[str, str]]:
    """Columns and names of methods that the page uses, for its list of words."""
    used = {name for _, table in tables(asked).values() for name in table.columns}
    text = " ".join(methods(asked))
    return [name for name in EXPLAINED if name in used], {name: meaning for name, meaning in TERMS.items() if name in text}


def methods(asked: Asked) -> list[str]:
    """How each table was made and what it cannot show, in plain words."""
    parts = [asked.comparison, asked.crossed, asked.trend, *asked.outcomes.values(), asked.times]
    lines = [line for part in parts if part is not None for line in (part.method, *part.notes)]
    lines += asked.notes
    if asked.choice is not None:
        lines += [*([BEST] if asked.choice.candidates["probability_best"].notna().any() else []), *asked.choice.notes]
    return list(dict.fromkeys(in_words(line) for line in lines))


def tables(asked: Asked) -> dict[str, tuple[str, pd.DataFrame]]:
    """Each table by its name, with what one row of it is."""
    found = {"candles": ("a candle on one wick", asked.points)}
    if asked.comparison is not None:
        found |= {"estimates": ("a candidate", asked.comparison.estimates), "differences": ("a pair", asked.comparison.differences)}
    if asked.crossed is not None:
        found |= {"estimates": ("a wax on a wick", asked.crossed.estimates), "differences": ("a pair", asked.crossed.differences),
                  "interaction": ("the question whether the difference depends on the wick", asked.crossed.interaction)}  # fmt: skip
    if asked.trend is not None:
        found |= {"slope": ("the straight line", asked.trend.slope), "curvature": ("its bend", asked.trend.curvature),
                  "ends": ("an end of the loads tested", asked.trend.ends), "levels": ("a load", asked.trend.levels)}  # fmt: skip
    for name, outcome in asked.outcomes.items():
        found[name] = ("a candidate", outcome.estimates)
        found[f"{name}_differences"] = ("a pair", outcome.differences)
    if asked.times is not None:
        found |= {"time_to_full_pool": ("a candidate", asked.times.estimates), "time_differences": ("a pair", asked.times.differences)}
    if asked.choice is not None:
        found |= {"choice": ("a candidate", asked.choice.candidates), "satisfaction": ("a candidate and a target", asked.choice.by_target), "drivers": ("a target", asked.choice.drivers),
                  "not_chosen": ("a candidate", asked.choice.left_out)}  # fmt: skip
    return found

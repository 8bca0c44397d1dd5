"""What sizing works from: one value per candle on the wick it was poured with, the sizes of each series, what was safe.

A series is sized within one recipe: another vessel, wax or load is another question. A candle counts once, with the
wick that it was poured with: a second wick met a part-used candle, so what it measured there is no value of its size.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.columns import GLOSSARY
from candlelab.cycles import RECIPE
from candlelab.designs import listed
from candlelab.questions import BURN_METRICS, Pooled
from candlelab.runs import wick_runs
from candlelab.safety import MET, NOT_MET, NOT_RECORDED, STUDIO, judge_safety

# Means over the burns of a candle, and the largest reading of a candle: what a burn cut short leaves out differs.
_MEANS = ("burn_rate_g_per_h", "heat_release_w", "fragrance_release_g_per_h")
_LARGEST = (
    "wall_max_c",
    "wall_max_warm_room_c",
    "flame_max_mm",
    "pool_depth_max_mm",
    "pool_share_max_pct",
    "mushroom_max_mm",
    "soot_max",
)
GROUP = ["wick_series", "wick_count", *RECIPE]


def batch_names(pooled: Pooled) -> list[str]:
    """The names under which the batches stand in the pooled tables, in their order."""
    return list(dict.fromkeys(pooled.burns["batch"]))


def with_group(table: pd.DataFrame, pooled: Pooled) -> pd.DataFrame:
    """Add ``wick_count``, and ``series``: the series with whatever of the recipe differs between the batches'
    candles."""
    counts = pd.concat(
        [
            batch.candles.assign(batch=name)[["batch", "candle", "wick_count"]]
            for name, batch in zip(batch_names(pooled), pooled.batches)
        ]
    )
    key = pd.MultiIndex.from_frame(table[["batch", "candle"]])
    count = (
        counts.set_index(["batch", "candle"])["wick_count"]
        .reindex(key)
        .astype("Float64")
        .fillna(1.0)
        .to_numpy(dtype=float)
    )
    table = table.assign(wick_count=count)
    varying = [name for name in RECIPE if pooled.fresh[name].nunique(dropna=False) > 1]
    names = []
    for row in table[GROUP].itertuples(index=False):
        parts = [str(getattr(row, name)) for name in varying if not name.startswith("fragrance")]
        if any(name.startswith("fragrance") for name in varying):
            parts.append("no fragrance" if row.fragrance == "none" else f"{row.fragrance} {row.fragrance_load_pct:g} %")
        names.append(", ".join([row.wick_series + (f" x{row.wick_count:g}" if row.wick_count != 1 else ""), *parts]))
    return table.assign(series=pd.Series(names, index=table.index, dtype="str"))


def sizes_of(pooled: Pooled) -> tuple[pd.DataFrame, list[str]]:
    """Every size that the batches' wicks.csv name, smallest first, and what the files do not agree in."""
    columns = ["wick_series", "wick_size", "size_rank", "linear_density_tex", "width_mm"]
    every = pd.concat([batch.wicks.reindex(columns=columns) for batch in pooled.batches], ignore_index=True)
    every = every.astype({"size_rank": float, "linear_density_tex": float, "width_mm": float})
    faults = []
    for name in ("size_rank", "linear_density_tex"):
        differ = every.dropna(subset=[name]).groupby(["wick_series", "wick_size"])[name].nunique()
        wrong = [f"{series} {size}" for series, size in differ.index[differ > 1]]
        if wrong:
            faults.append(
                f"The batches' wicks.csv give different {GLOSSARY[name].label} for {listed(wrong)}: those of the first"
                " batch are used."
            )
    sizes = every.groupby(["wick_series", "wick_size"], sort=False).first().reset_index()
    return sizes.sort_values(["wick_series", "size_rank"], kind="stable", ignore_index=True), faults


def candle_values(pooled: Pooled, metric: str) -> pd.DataFrame:
    """One row per fresh candle: its value, whether it counts in the line, and if not, why.

    The mean of a candle that was cut short (its wick changed, or put out for good) stands at another depth: it is
    carried to the depth of the others along the pooled rate drift. A largest reading cannot be: that candle is kept
    out of the line, because it was not seen in its hottest burns.
    """
    table = with_group(pooled.fresh, pooled)
    end = table["batch"].map(
        {name: b.settings.protocol.end_wax_left_pct for name, b in zip(batch_names(pooled), pooled.batches)}
    )
    short = (table["fill_used_pct"] < 100.0 - end).to_numpy()
    value = table[metric].astype("Float64").to_numpy(dtype=float, na_value=np.nan)
    why = np.where(np.isnan(value), _no_value(metric), "").astype(object)
    moved = np.zeros(len(table), dtype=bool)
    if metric in _MEANS and short.any():
        middle = table["fill_used_pct"].to_numpy() / 2.0
        usual = float(np.median(middle[~short])) if (~short).any() else float(np.median(middle))
        slope = _drift(pooled.burns, metric)
        moved = short & (np.abs(middle - usual) > 5.0) & ~np.isnan(value)
        value = np.where(moved, value + slope * (usual - middle), value)
        why = np.where(
            moved,
            [
                f"cut short at {used:.0f} % of the fill: carried to the depth of the others"
                for used in table["fill_used_pct"]
            ],
            why,
        )
    elif metric in _LARGEST and short.any() and (~short).any():
        out = short & ~np.isnan(value)
        why = np.where(
            out,
            [
                f"cut short at {used:.0f} % of the fill, before its last burns: at least this"
                for used in table["fill_used_pct"]
            ],
            why,
        )
    in_line = ~np.isnan(value) & ((why == "") | moved)
    return table.assign(
        value=value, in_line=in_line, why=pd.Series(why, index=table.index, dtype="str"), excluded=False
    )


def _no_value(metric: str) -> str:
    if metric in ("full_pool_h", "burns_to_full_pool"):
        return "no value: the pool was not full in most burns"
    if metric in ("life_h", "wax_left_pct"):
        return "no value: not burnt to its end on this wick"
    return "no value: not recorded"


def _drift(burns: pd.DataFrame, metric: str) -> float:
    """Slope of the metric on depth [per %] within candles on their first wick, all candles together."""
    rows = burns[(burns["run"] == 1) & ~burns["excluded"] & burns[metric].notna()]
    if metric not in BURN_METRICS or rows.empty:
        return 0.0
    code = rows.groupby(["batch", "candle"]).ngroup().to_numpy()
    x, y = rows["depth_pct"].to_numpy(dtype=float), rows[metric].to_numpy(dtype=float)
    n = np.bincount(code)
    x, y = x - (np.bincount(code, x) / n)[code], y - (np.bincount(code, y) / n)[code]
    return float(x @ y / (x @ x)) if x @ x > 0 else 0.0


def safety_of_sizes(pooled: Pooled) -> pd.DataFrame:
    """One row per series and size that was burnt: verdict over all batches, candles that passed, criteria not met.

    Failures on part-used candles count; passes do not.
    """
    rows = []
    for name, batch in zip(batch_names(pooled), pooled.batches):
        verdicts = judge_safety(batch)
        of_label = (
            with_group(_recipe_words(wick_runs(batch)).assign(batch=name), pooled)
            .drop_duplicates("candidate")
            .set_index("candidate")
        )
        deciding = verdicts.candidate_criteria[verdicts.candidate_criteria["decides"]]
        for row in verdicts.candidates.itertuples():
            own = deciding[(deciding["candidate"] == row.candidate) & (deciding["outcome"] == NOT_MET)]
            words = own["criterion"] + own["kind"].map({STUDIO: ", the studio's own limit"}).fillna("")
            place = of_label.loc[row.candidate]
            rows.append(
                (
                    place["series"],
                    place["wick_size"],
                    _worst([row.standard_verdict, row.studio_verdict]),
                    row.n_passed,
                    row.n_failed,
                    row.n_open,
                    "; ".join(words),
                )
            )
    columns = ["series", "wick_size", "verdict", "n_passed", "n_failed", "n_open", "not_met"]
    table = pd.DataFrame(rows, columns=columns)
    together = {"verdict": _worst, "n_passed": "sum", "n_failed": "sum", "n_open": "sum", "not_met": _each_once}
    return table.groupby(["series", "wick_size"], sort=False).agg(together).reset_index()


def _recipe_words(runs: pd.DataFrame) -> pd.DataFrame:
    """The recipe as `questions.pool` names it."""
    none = (runs["fragrance"] == "") & runs["fragrance_load_pct"].isna()
    words = {name: runs[name].mask(runs[name] == "", "none") for name in ("fragrance", "dye")}
    return runs.assign(fragrance_load_pct=runs["fragrance_load_pct"].mask(none, 0.0), **words)


def _each_once(parts: pd.Series) -> str:
    return "; ".join(dict.fromkeys(word for part in parts for word in part.split("; ") if word))


def _worst(outcomes) -> str:
    return next((o for o in (NOT_MET, NOT_RECORDED, MET) if o in set(outcomes)), NOT_RECORDED)

"""Which size to advise, and the sentences about it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.glossary import GLOSSARY
from candlelab.judge.safety import NOT_RECORDED
from candlelab.logs.settings import Target
from candlelab.pages.quantity import quantity
from candlelab.stats.intervals import Inverse
from candlelab.stats.proportions import candles_needed, candles_still_needed
from candlelab.text import amount, counted
from candlelab.units import UNITS

FRESH = 3  # candles for a first look at a size; common practice, no source
CLAIM = 0.9


def aim_of(target: Target | None) -> float:
    """The value to read backwards: the best one, else the middle of the target or its only end."""
    if target is None:
        return np.nan
    if target.best is not None:
        return float(target.best)
    ends = [end for end in (target.low, target.high) if np.isfinite(end)]
    return float(np.mean(ends)) if ends else np.nan


def advise(
    table: pd.DataFrame,
    metric: str,
    target: Target | None,
    aim: float,
    slope: tuple[float, bool] | None,
    direction: int,
) -> tuple[str, str]:
    """The size advised (empty for none) and what to burn next.

    ``table`` is the table of sizes, ``slope`` the line's slope and whether it is shown,
    ``direction`` what a larger wick is expected to do to the metric.
    """
    if target is None or not np.isfinite(aim):
        return "", "Name a target first."
    trusted = slope is not None and slope[1] and direction in (0, np.sign(slope[0]))
    value = table["predicted"] if trusted else table["mean"]
    table = table.assign(
        value=value, away=(value - aim).abs(), fits=(value >= target.low) & (value <= target.high)
    )
    good = table[table["fits"] & (table["barred"] == "")]
    if len(good):
        pick = good.sort_values("away", kind="stable").iloc[0]
        return pick["wick_size"], _test_of(pick)
    seen = table[table["value"].notna()]
    if seen.empty:
        label = GLOSSARY[metric].label
        none = f"No candle of this series has a value for {label}"
        return "", f"{none}: burn {FRESH} candles of a size to the end."
    direction = int(np.sign(slope[0])) if trusted else direction
    return "", _step(table, seen, target, aim, direction, trusted)


def _test_of(pick) -> str:
    name = f"{pick['series']}, size {pick['wick_size']}"
    if not pick["safety"]:
        between = pick["where"] == "between"
        place = "between sizes that were" if between else "one size beyond what was"
        return (
            f"Pour {FRESH} candles of {name} and burn them to the end: it was not burnt yet "
            f"({place} burnt), and nothing is known of its safety."
        )
    if pick["safety"] == NOT_RECORDED:
        return (
            f"Burn {FRESH} fresh candles of {name} to the end with every check: what was required "
            "was not all recorded, so it is not known to be safe."
        )
    more = candles_still_needed(int(pick["n_passed"]), int(pick["n_failed"]), reliability=CLAIM)
    if not more:
        share = f"{100 * CLAIM:g} %"
        return f"{name} has carried a claim of {share}: no further test is needed for that."
    return (
        f"Confirm {name} on fresh candles: {pick['n_passed']} passed so far; a claim that "
        f"{100 * CLAIM:g} % pass, with 95 % confidence, takes {more} more, all of them passed "
        f"({candles_needed(CLAIM)} in all)."
    )


def _step(table, seen, target: Target, aim: float, direction: int, trusted: bool) -> str:
    """What to burn when no size can be advised."""
    fitting = seen[seen["fits"]]
    if len(fitting):
        why = "; ".join(f"{row.wick_size} ({row.barred})" for row in fitting.itertuples())
        return f"The sizes that would meet the target must not be used: {why}. Try another series."
    below, above = seen[seen["value"] < target.low], seen[seen["value"] > target.high]
    if len(below) and len(above):
        return (
            "The target falls between two sizes of this series: try another series, or another "
            "diameter of vessel, load or wax."
        )
    if not direction:
        return "Burn another size of this series: which way it changes this is not known."
    burnt = seen[seen["n_candles"] > 0]
    up = (burnt["value"].mean() < aim) == (direction > 0)
    edge = burnt.iloc[-1] if up else burnt.iloc[0]
    ranked = table.reset_index(drop=True)
    at = int(ranked.index[ranked["wick_size"] == edge["wick_size"]][0]) + (1 if up else -1)
    way = "larger" if up else "smaller"
    if not 0 <= at < len(ranked):
        return (
            f"No size of this series in wicks.csv meets the target: it would take a {way} one than "
            f"the {'largest' if up else 'smallest'}. Try another series."
        )
    step = ranked.iloc[at]
    if step["barred"]:
        return (
            f"The target would take a {way} size, but {step['wick_size']} must not be used "
            f"({step['barred']}). Try another series."
        )
    known = (
        "the line does not reach that far, so go one size at a time"
        if trusted
        else "what a size does is not known yet"
    )
    return (
        f"Pour {FRESH} candles of {step['series']}, size {step['wick_size']}: the target asks for "
        f"a {way} wick; {known}."
    )


def verdict(name, table, metric, target, shown, pick, next_test) -> str:
    """The sentence that opens the page for one series; empty without a target."""
    if target is None:
        return ""
    if not pick:
        return f"{name}: no size is advised. {next_test}"
    row = table[table["wick_size"] == pick].iloc[0]
    return f"{name}: size {pick} comes nearest to the target ({_value_words(row, metric, shown)})."


def details(
    name, table, metric, target, against, shown, slope, meets: Inverse | None, confidence, direction
) -> list[str]:
    """What size does in one series, and where its line meets the target."""
    lines = [f"{name}: {_what_size_does(table, metric, against, shown, slope, direction)}"]
    if meets is not None and shown:
        lines.append(f"{name}: {_meets_words(table, metric, target, against, meets, confidence)}")
    return lines


def _value_words(row, metric: str, shown: bool) -> str:
    if shown and np.isfinite(row["predicted"]):
        return (
            f"predicted mean {quantity(metric, row['predicted'])}; one fresh candle between "
            f"{quantity(metric, row['candle_low'])} and {quantity(metric, row['candle_high'])}"
        )
    n = counted(row["n_candles"], "candle")
    return f"mean of its {n} {quantity(metric, row['mean'])}"


def _axis(against: str) -> str:
    return "100 tex" if against == "linear_density_tex" else "size"


def _no_line(burnt: pd.DataFrame, metric: str) -> str:
    """Why there is no line through the sizes burnt."""
    label = GLOSSARY[metric].label
    if burnt.empty:
        return f"no candle has a value for {label} that can be used."
    if len(burnt) == 1:
        row = burnt.iloc[0]
        mean = f"{quantity(metric, row['mean'])} over {counted(row['n_candles'], 'candle')}"
        return (
            f"only size {row['wick_size']} has candles that count here, with a mean of {mean}: "
            "what another size does is not known."
        )
    if np.ptp(burnt["mean"]) < 1e-9:
        return (
            f"{label} is {quantity(metric, burnt['mean'].iloc[0])} in every candle of {len(burnt)} "
            "sizes: nothing to tell sizes apart by."
        )
    return (
        f"too few candles for a line through {len(burnt)} sizes: one more candle of a size shows "
        "how much candles differ."
    )


def _what_size_does(table, metric, against, shown, slope, direction) -> str:
    label, burnt = GLOSSARY[metric].label, table[table["n_candles"] > 0]
    if slope.empty:
        return _no_line(burnt, metric)
    row = slope.iloc[0]
    times = 100.0 if against == "linear_density_tex" else 1.0
    change, low, high = (times * row[c] for c in ("estimate", "conf_low", "conf_high"))
    n = f"{row['n_candles']} candles of {len(burnt)} sizes"
    if not shown:
        return (
            f"whether a larger wick changes {label} is not shown by {n}: between "
            f"{quantity(metric, low)} and {quantity(metric, high)} for each {_axis(against)}. Only "
            "sizes that were burnt can be advised, by their own candles."
        )
    ends = sorted((abs(low), abs(high)))
    text = (
        f"{label} {'rises' if change > 0 else 'falls'} by {quantity(metric, abs(change))} "
        f"({quantity(metric, ends[0])} to {quantity(metric, ends[1])}) for each {_axis(against)} "
        f"more, by {n}."
    )
    if direction and np.sign(change) != direction:
        text += (
            " That is the other way than wicks do: see whether candles or sizes were mixed up. "
            "Only sizes that were burnt can be advised."
        )
    return text


def _size_words(value: float, against: str) -> str:
    in_tex = against == "linear_density_tex"
    return amount(value, UNITS["tex"].symbol, 0) if in_tex else f"rank {value:.1f}"


def _meets_words(table, metric, target, against, meets: Inverse, confidence) -> str:
    text = f"{quantity(metric, aim_of(target))} is met at {_size_words(meets.estimate, against)}"
    if meets.bounded:
        low, high = (_size_words(end, against) for end in (meets.conf_low, meets.conf_high))
        text += f", {100 * confidence:g} % interval " + (
            f"{low} to {high}" if meets.conf_low > 0 else f"anything up to {high}"
        )
    if not table["x"].iloc[0] <= meets.estimate <= table["x"].iloc[-1]:
        beyond = "smaller" if meets.estimate < table["x"].iloc[0] else "larger"
        return f"{text}; that is {beyond} than any size of this series in wicks.csv."
    nearest = table.iloc[(table["x"] - meets.estimate).abs().argmin()]
    text += (
        f"; the nearest size that exists is {nearest['wick_size']} "
        f"({_size_words(nearest['x'], against)}), "
    )
    burnt = table.loc[table["n_candles"] > 0, "x"]
    if nearest["n_candles"]:
        text += "which was burnt"
    elif burnt.min() <= nearest["x"] <= burnt.max():
        text += "which was not burnt and lies between sizes that were"
    else:
        text += "which was not burnt: the line is carried beyond what was seen"
    return text + "."


def method(metric: str, columns: set[str], confidence: float) -> tuple[str, ...]:
    """How the sizes were worked out, for a candle maker; ``columns`` stand for the size."""
    share = f"{100 * confidence:g} %"
    ways = []
    if "linear_density_tex" in columns:
        ways.append("linear density (tex, g per km of wick) as wicks.csv gives it")
    if "size_rank" in columns:
        ways.append(
            "the rank of the size where wicks.csv lacks a density; ranks are taken to be equal "
            "steps, which sizes need not be"
        )
    return (
        (
            f"One value per candle, on the wick it was poured with: {GLOSSARY[metric].meaning}. A "
            "straight line is put through the candles of one series in one recipe, against "
            f"{' or '.join(ways)}; all of its candles are taken to spread equally about it."
        ),
        (
            "The line is read backwards for the size whose mean meets the target, with its "
            f"{share} interval (Fieller 1954), which is open when the candles do not show that "
            "size matters. The range for one fresh candle holds in the same share of cases what "
            "the next candle does."
        ),
        (
            "A candle whose wick was changed or that was put out for good counts with its first "
            "wick only. A mean is carried to the depth of the other candles along the usual rise "
            "of the rate from full to empty; a largest reading of such a candle is kept out of the "
            "line and drawn hollow."
        ),
        (
            "Advised is the size whose predicted mean comes nearest to the target among those that "
            "exist, were burnt or are at most one size beyond what was burnt, and whose candles "
            "broke no criterion. A size that was not burnt and is larger than one that broke a "
            "criterion is not advised either."
        ),
    )

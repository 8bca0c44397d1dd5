"""Which size to advise, and the sentences about it."""

from __future__ import annotations

from functools import partial

import numpy as np
import pandas as pd

from candlelab.judge.words import SAFE
from candlelab.logs.settings import Target
from candlelab.pages.glossary import GLOSSARY
from candlelab.pages.quantity import quantity
from candlelab.stats.intervals import Inverse
from candlelab.text import amount, counted
from candlelab.units import UNITS, Display

FRESH = 3  # candles for a first look at a size; common practice, no source
CLAIM = 0.9
NO_CANDLE = "Every candle was set aside, so no size can be told."


def aim_of(target: Target | None) -> float:
    """The value to read backwards: the best one, else the middle of the target or its only end."""
    if target is None:
        return np.nan
    if target.best is not None:
        return float(target.best)
    ends = [end for end in (target.low, target.high) if np.isfinite(end)]
    return float(np.mean(ends)) if ends else np.nan


def advise(table: pd.DataFrame, target: Target | None, aim: float) -> tuple[str, str]:
    """The size to use (empty for none) and what to do next, as the judge says it.

    ``table`` is the table of sizes. Of the sizes that are safe so far and on target by their own
    candles, the one nearest to the aim; else what the judge says of each size that was burned.
    """
    if target is None or not np.isfinite(aim):
        return "", "Name a target first."
    fits = (table["mean"] >= target.low) & (table["mean"] <= target.high)
    good = table[fits & (table["fate"] == SAFE)]
    if len(good):
        pick = good.loc[(good["mean"] - aim).abs().idxmin()]
        return pick["wick_size"], pick["next_step"]
    steps = dict.fromkeys(step for step in table["next_step"] if step)
    return "", " ".join(steps) or f"Burn {FRESH} candles of a size to the end."


def verdict(name, table, metric, target, pick, next_test, display) -> str:
    """The sentence that opens the page for one series; empty without a target."""
    if target is None:
        return ""
    if not pick:
        return f"{name}: no size can be picked yet. {next_test}"
    row = table[table["wick_size"] == pick].iloc[0]
    value = _value_words(row, metric, display)
    return f"{name}: size {pick} comes nearest to the target ({value})."


def details(
    name,
    table,
    metric,
    target,
    against,
    shown,
    slope,
    meets: Inverse | None,
    confidence,
    direction,
    display,
) -> list[str]:
    """What size does in one series, and where its line meets the target."""
    lines = [f"{name}: {_what_size_does(table, metric, against, shown, slope, direction, display)}"]
    if meets is not None and not meets.bounded:
        ends = " to ".join(_size_words(table["x"].iloc[at], against) for at in (0, -1))
        aim = quantity(metric, aim_of(target), display)
        lines.append(f"{name}: which size meets {aim} these candles do not tell: any from {ends}.")
    elif meets is not None and shown:
        lines.append(
            f"{name}: {_meets_words(table, metric, target, against, meets, confidence, display)}"
        )
    return lines


def _value_words(row, metric: str, display: Display) -> str:
    say = partial(quantity, metric, display=display)
    n = counted(row["n_candles"], "candle")
    said = f"mean of its {n} {say(row['mean'])}"
    if np.isfinite(row["candle_low"]):
        said += (
            f"; one fresh candle of this pour between {say(row['candle_low'])} and "
            f"{say(row['candle_high'])}"
        )
    return said


def _axis(against: str) -> str:
    return "100 tex" if against == "linear_density_tex" else "size"


def _no_line(burned: pd.DataFrame, metric: str, display: Display) -> str:
    """Why there is no line through the sizes burned."""
    say = partial(quantity, metric, display=display)
    label = GLOSSARY[metric].label
    if burned.empty:
        return f"no candle has a value for {label} that can be used."
    if len(burned) == 1:
        row = burned.iloc[0]
        mean = f"{say(row['mean'])} over {counted(row['n_candles'], 'candle')}"
        return (
            f"only size {row['wick_size']} has candles that count here, with a mean of {mean}: "
            "what another size does is not known."
        )
    if np.ptp(burned["mean"]) < 1e-9:
        return (
            f"{label} is {say(burned['mean'].iloc[0])} in every candle of {len(burned)} "
            "sizes: nothing to tell sizes apart by."
        )
    return (
        f"too few candles for a line through {len(burned)} sizes: one more candle of a size shows "
        "how much candles differ."
    )


def _what_size_does(table, metric, against, shown, slope, direction, display) -> str:
    say = partial(quantity, metric, display=display)
    label, burned = GLOSSARY[metric].label, table[table["n_candles"] > 0]
    if slope.empty:
        return _no_line(burned, metric, display)
    row = slope.iloc[0]
    times = 100.0 if against == "linear_density_tex" else 1.0
    change, low, high = (times * row[c] for c in ("estimate", "conf_low", "conf_high"))
    n = f"{row['n_candles']} candles of {len(burned)} sizes"
    if not shown:
        return (
            f"whether a larger wick changes {label} is not shown by {n}: between "
            f"{say(low, span=True)} and {say(high, span=True)} for each {_axis(against)}. Only "
            "sizes that were burned can be advised, by their own candles."
        )
    ends = sorted((abs(low), abs(high)))
    text = (
        f"{label} {'rises' if change > 0 else 'falls'} by {say(abs(change), span=True)} "
        f"({say(ends[0], span=True)} to {say(ends[1], span=True)}) for each {_axis(against)} "
        f"more, by {n}."
    )
    if direction and np.sign(change) != direction:
        text += (
            " That is the other way than wicks do: see whether candles or sizes were mixed up. "
            "Only sizes that were burned can be advised."
        )
    return text


def _size_words(value: float, against: str) -> str:
    in_tex = against == "linear_density_tex"
    return amount(value, UNITS["tex"].symbol, 0) if in_tex else f"rank {value:.1f}"


def _meets_words(table, metric, target, against, meets: Inverse, confidence, display) -> str:
    say = partial(quantity, metric, display=display)
    text = f"{say(aim_of(target))} is reached at {_size_words(meets.estimate, against)}"
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
    burned = table.loc[table["n_candles"] > 0, "x"]
    if nearest["n_candles"]:
        text += "which was burned"
    elif burned.min() <= nearest["x"] <= burned.max():
        text += "which was not burned and lies between sizes that were"
    else:
        text += "which was not burned: the line goes on beyond what was seen"
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
            f"{' or '.join(ways)}; all of its candles are taken to vary equally about it."
        ),
        (
            "The line is read backwards for the size whose mean meets the target, with its "
            f"{share} interval (Fieller 1954), which is open when the candles do not show that "
            "size matters. The range for one fresh candle holds in the same share of cases what "
            "the next candle does."
        ),
        (
            "A candle whose wick was changed or that was put out for good counts with its first "
            "wick only. A mean is moved to the depth of the other candles along the usual rise "
            "of the rate from full to empty; a largest reading of such a candle is kept out of the "
            "line and drawn hollow."
        ),
        (
            "Advised is the size whose predicted mean comes nearest to the target among those that "
            "exist, were burned or are at most one size beyond what was burned, and whose candles "
            "broke no criterion. A size that was not burned and is larger than one that broke a "
            "criterion is not advised either, unless that one only went out: it was too small."
        ),
    )

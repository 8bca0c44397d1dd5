"""A comparison as it was asked, with its answer, as tables and as plain data."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from candlelab.compare.blocks import Design
from candlelab.compare.choice import Choice
from candlelab.compare.pooled import Pooled
from candlelab.judge.words import BURNING, RULED_OUT, SAFE, UNCHECKED
from candlelab.pages.glossary import column, in_words
from candlelab.pages.words import BEST, TERMS
from candlelab.stats.factorial import CrossedComparison, Trend
from candlelab.stats.pairwise import Comparison, Equivalence
from candlelab.stats.proportions import ProportionComparison
from candlelab.stats.survival import TimeComparison
from candlelab.units import Display

OUTCOMES = {
    "passed": "Passed every deciding criterion",
    "sooted": "Sooted: grade 2 or more at some check",
    "full_pool_by_burn_3": "Full pool by the third burn",
}
DEPENDS = "the question whether the difference depends on the wick"
EXPLAINED = (
    "reference", "estimate", "std_error", "df", "conf_low", "conf_high", "p_value", "p_adjusted",
    "n_candles", "factor", "within", "within_reference", "statistic", "df_num", "n_yes", "n_seen",
    "median_low", "median_high", "earlier", "smallest_p", "satisfaction", "probability_best",
    "pareto", "shift", "shift_in_std_errors",
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class Asked:
    """A question and its answer.

    ``design`` says what could be told apart, ``points`` has a row per candle that counts.
    """

    by: str
    metric: str
    pooled: Pooled
    answer: tuple[str, ...]
    design: Design
    points: pd.DataFrame
    comparison: Comparison | None
    crossed: CrossedComparison | None
    trend: Trend | None
    equivalence: Equivalence | None
    outcomes: dict[str, ProportionComparison]
    times: TimeComparison | None
    choice: Choice | None
    claims: tuple[str, ...]
    refused: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def fates(self) -> dict[str, str]:
        """What the judge says of each wick; in several recipes, the worst of it."""
        table = self.pooled.judged.fates
        worst = {fate: n for n, fate in enumerate((SAFE, BURNING, UNCHECKED, RULED_OUT))}
        order = table.sort_values("fate", key=lambda fates: fates.map(worst), kind="stable")
        return dict(zip(order["wick"], order["fate"], strict=True)) if self.by == "wick" else {}

    @property
    def heading(self) -> str:
        """What was measured, with the reader's unit."""
        return self.display.heading(column(self.metric))

    @property
    def display(self) -> Display:
        """The reader's units, those of the first batch."""
        return self.pooled.first.settings.display


def explained(asked: Asked) -> tuple[list[str], dict[str, str]]:
    """The words that the page of a comparison uses and has to explain.

    Parameters
    ----------
    asked : Asked
        What `compare_batches` gives.

    Returns
    -------
    tuple of list and dict
        Names of columns, and names of methods with their meaning; as `show_glossary` takes them.
    """
    used = {name for _, table in tables(asked).values() for name in table.columns}
    text = " ".join(methods(asked))
    return [name for name in EXPLAINED if name in used], {
        name: meaning for name, meaning in TERMS.items() if name in text
    }


def methods(asked: Asked) -> list[str]:
    """How each table was made and what it cannot show, in plain words.

    Parameters
    ----------
    asked : Asked
        What `compare_batches` gives.

    Returns
    -------
    list of str
        Sentences, each once.

    Examples
    --------
    >>> from candlelab import compare_batches, demo_folder, methods, read_batch
    >>> asked = compare_batches([read_batch(demo_folder("confirmation"))], by="wick")
    >>> methods(asked)[0].startswith("One value per candle.")
    True
    """
    compared = (asked.comparison, asked.crossed, asked.trend, asked.equivalence)
    parts = [*compared, *asked.outcomes.values(), asked.times]
    lines = [line for part in parts if part is not None for line in (part.method, *part.notes)]
    lines += asked.notes
    if asked.choice is not None:
        sure = asked.choice.candidates["probability_best"].notna().any()
        lines += [*([BEST] if sure else []), *asked.choice.notes]
    return list(dict.fromkeys(in_words(line) for line in lines))


def tables(asked: Asked) -> dict[str, tuple[str, pd.DataFrame]]:
    """Each table by its name, with what one row of it is."""
    found = {"candles": ("a candle", asked.points)}
    if asked.comparison is not None:
        found |= {
            "estimates": ("a candidate", asked.comparison.estimates),
            "differences": ("a pair", asked.comparison.differences),
        }
    if asked.crossed is not None:
        found |= {
            "estimates": ("a wax on a wick", asked.crossed.estimates),
            "differences": ("a pair", asked.crossed.differences),
            "interaction": (DEPENDS, asked.crossed.interaction),
        }
    if asked.trend is not None:
        found |= {
            "slope": ("the straight line", asked.trend.slope),
            "curvature": ("its bend", asked.trend.curvature),
            "ends": ("an end of the loads tested", asked.trend.ends),
            "levels": ("a load", asked.trend.levels),
        }
    if asked.equivalence is not None:
        found["equivalence"] = ("a pair", asked.equivalence.differences)
    for name, outcome in asked.outcomes.items():
        found[name] = ("a candidate", outcome.estimates)
        found[f"{name}_differences"] = ("a pair", outcome.differences)
    if asked.times is not None:
        found |= {
            "time_to_full_pool": ("a candidate", asked.times.estimates),
            "time_differences": ("a pair", asked.times.differences),
        }
    if asked.choice is not None:
        found |= {
            "choice": ("a candidate", asked.choice.candidates),
            "satisfaction": ("a candidate and a target", asked.choice.by_target),
            "drivers": ("a target", asked.choice.drivers),
            "not_chosen": ("a candidate", asked.choice.left_out),
        }
    return found

"""Every sentence of a comparison, to the letter."""

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest
from asked import of_demo
from batches import read, simulated
from places import DEMO

from candlelab.compare.ask import compare_batches
from candlelab.compare.choice import choose
from candlelab.compare.record import EXPLAINED, OUTCOMES, explained, methods, tables
from candlelab.compare.words import NO_CHOICE, under_title
from candlelab.logs.settings import Target
from candlelab.pages.glossary import GLOSSARY
from candlelab.stats.pairwise import compare_candidates

LAST = "No difference found does not mean no difference: more candles may show one."


@pytest.mark.slow
@pytest.mark.parametrize("seed", [11, 12, 13])
def test_three_wicks_that_are_one_and_the_same_give_no_winner(tmp_path, seed):
    """Simulated: the same true burn rate and wax left for all three sizes."""
    batch = simulated(
        tmp_path / "b", [("1", 5.6, 3.0), ("2", 5.6, 3.0), ("3", 5.6, 3.0)], seed=seed
    )
    targets = (
        Target("burn_rate_g_per_h", 4.0, 7.2, 5.6),
        Target("wax_left_pct", high=10.0, best=0.0),
    )
    asked = compare_batches(
        [dataclasses.replace(batch, settings=dataclasses.replace(batch.settings, targets=targets))],
        by="wick",
    )
    assert asked.answer[0].startswith(
        "No two of the 3 candidates are shown to differ in burn rate: what was found, from "
    )
    assert asked.answer[0].endswith(" may be luck.")
    chance = asked.choice.candidates["probability_best"]
    assert chance.sum() == pytest.approx(1.0)
    assert chance.max() < 0.8
    assert " of 100 repeats would put it first." in asked.answer[1]


def again(asked, **changes):
    """The answer to the same question with other results."""
    from candlelab.compare.words import answer_words

    return answer_words(dataclasses.replace(asked, **changes))


def chosen(**groups):
    """A choice by one target from burn rates of candidates."""
    rows = [(name, rate) for name, rates in groups.items() for rate in rates]
    table = pd.DataFrame(rows, columns=["candidate", "burn_rate_g_per_h"]).astype(
        {"burn_rate_g_per_h": float}
    )
    return choose(table, (Target("burn_rate_g_per_h", 4.0, 7.0, 5.5),), dict.fromkeys(groups, ""))


@pytest.mark.slow
def test_the_choice_in_words():
    asked = of_demo("screening", "wick")

    def words(**groups):
        return again(asked, choice=chosen(**groups))[1:]

    best = "Of the 2 that are safe so far, a fits your targets best"
    told = "That speaks of targets, not of safety."
    unknown = "It is not known yet how {} does on every target."
    assert words(a=[5.5, 5.6], b=[4.1, 4.2]) == (
        f"{best}, and would most likely (99 in 100) do so again. {told}",
    )
    assert words(a=[5.5, 5.9], b=[5.2, 5.6])[0].startswith(
        "Of the 2 that are safe so far, b fits your targets best as measured. That may be luck: "
    )
    assert words(a=[5.5], b=[5.2]) == (
        f"{best}; how sure that is cannot be said from one candle of each.",
    )
    only = "Only a is safe so far and known in every target."
    assert words(a=[5.5, 5.6]) == (only,)
    assert words(a=[5.5, 5.6], b=[np.nan]) == (only, unknown.format("b"))
    assert words(a=[5.5, 5.6], b=[4.1, 4.2], c=[np.nan])[1:] == (unknown.format("c"),)
    missed = "Every wick that is safe so far misses a target altogether."
    assert words(a=[9.0, 9.1], b=[8.0, 8.1]) == (missed,)
    assert words(a=[9.0, 9.1], b=[np.nan]) == (missed, unknown.format("b"))
    assert words(a=[np.nan]) == (
        "No wick is safe so far and known in every target, so none is chosen.",
        unknown.format("a"),
    )
    far = words(a=np.linspace(5.49, 5.51, 9), b=np.linspace(4.19, 4.21, 9))[0]
    assert "most likely (over 99 in 100)" in far


@pytest.mark.slow
def test_wicks_in_words():
    asked = of_demo("confirmation", "wick")
    assert (
        asked.answer[0]
        # logged in ounces: 5.96 and 5.57 g/h
        == "Burn rate: paper-cored 4 is highest (0.210 oz/h). Square braid 2 is lowest (0.196 "
        "oz/h). "
        "That is more than luck."
    )
    low = dataclasses.replace(
        asked.comparison, differences=asked.comparison.differences.assign(p_adjusted=0.5)
    )
    assert again(asked, comparison=low)[0] == (
        "No two of the 2 candidates are shown to differ in burn rate: what was found, from 0.196 "
        "oz/h (square braid 2) to 0.210 oz/h (paper-cored 4), may be luck."
    )
    alone = of_demo("loads", "wick")
    assert (
        alone.answer[0]
        == "There is only one candidate, square braid 2, with 5.88 g/h: nothing to compare it with."
    )
    assert again(asked, comparison=None, choice=None, refused=("Because.",)) == (
        "These candles cannot be compared: Because.",
        LAST,
    )


@pytest.mark.slow
def test_wicks_of_several_vessels_are_not_put_in_one_order():
    """Targets are those of a vessel: one that suits the tin is not held to the tumbler's."""
    asked = of_demo("kitchen", "wick")
    assert asked.choice is None
    assert asked.refused == (
        "Each vessel has a pick of its own, so their wicks are not put in one order.",
    )
    assert not [line for line in asked.answer if "targets" in line]


@pytest.mark.slow
def test_a_wick_that_fits_better_and_is_not_the_pick_says_why(tmp_path):
    for path in (DEMO / "kitchen").iterdir():
        tin = re.compile(r"K0[1-8],")
        rows = [row for row in path.read_text("utf-8").splitlines(True) if not tin.match(row)]
        (tmp_path / path.name).write_text("".join(rows), "utf-8")
    answer = compare_batches([read(tmp_path)], by="wick").answer
    (said,) = (line for line in answer if "fits your targets best" in line)
    assert said.endswith(
        "Only one candle of wooden 13 passed every safety check, so the pick is square braid 1 x3."
    )


@pytest.mark.slow
def test_what_may_be_luck_is_said_of_each_end():
    asked = compare_batches([read(DEMO / "screening")], by="wick", metric="wall_max_c")
    assert asked.answer[0].startswith(
        "Highest wall temperature: paper-cored 5 is highest (64.7 °C), though perhaps by luck over "
        "square braid 3. Flat braid 4 is lowest (53.4 °C), though perhaps by luck under square "
        "braid 2 and paper-cored 4. In 6 of 10 pairs "
    )


@pytest.mark.slow
def test_a_candidate_with_fewer_candles_says_what_it_misses_all_the_same():
    asked = compare_batches([read(DEMO / name) for name in ("screening", "waxes")], by="wax")
    (box,) = asked.pooled.judged.decisions
    assert (
        "Also safe so far: “square braid 2, rapeseed and beeswax”. Fewer candles passed: only "
        "three. Off target: burn rate down to 4.83 g/h, target 5 to 6.5 g/h (2 of 3 candles)."
    ) in box.reasons


@pytest.mark.slow
def test_waxes_in_words():
    asked = of_demo("waxes", "wax")
    shown = dataclasses.replace(
        asked.crossed, interaction=asked.crossed.interaction.assign(p_value=0.01)
    )
    assert (
        again(asked, crossed=shown)[1]
        == "The difference depends on the wick: read the wicks one by one in the table."
    )
    wide = dataclasses.replace(
        asked.crossed, differences=asked.crossed.differences.assign(conf_low=-1.0, conf_high=0.5)
    )
    assert again(asked, crossed=wide)[0] == (
        "Averaged over the wicks, no difference in burn rate is shown between rapeseed and beeswax "
        "and coconut and rapeseed: it lies between -1.00 g/h and 0.50 g/h."
    )
    plain = compare_candidates(
        asked.pooled.burns,
        metric="burn_rate_g_per_h",
        by="wax",
        unit=["batch", "candle"],
        covariates=["wick"],
    )
    assert again(asked, crossed=None, comparison=plain)[0].startswith(
        "Burn rate is lower with rapeseed and beeswax than with coconut and rapeseed, by 0.7"
    )


def test_loads_in_words():
    asked = of_demo("loads", "fragrance_load_pct")

    def turned(**parts):
        return again(
            asked,
            trend=dataclasses.replace(
                asked.trend,
                **{name: getattr(asked.trend, name).assign(**ends) for name, ends in parts.items()},
            ),
        )

    assert turned(slope={"estimate": 0.06, "conf_low": 0.03, "conf_high": 0.09})[0] == (
        "Burn rate rises by 0.06 g/h for each % of fragrance load (95 in 100 sure: 0.03 g/h to "
        "0.09 g/h)."
    )
    assert turned(slope={"conf_low": -0.03, "conf_high": 0.09})[0] == (
        "That burn rate rises or falls with fragrance load is not shown: for each % of load it "
        "changes by something between -0.03 g/h and 0.09 g/h."
    )
    bent = turned(
        curvature={"conf_low": 0.01, "conf_high": 0.02}, ends={"conf_low": -0.01, "conf_high": 0.05}
    )
    assert bent[0].startswith(
        "Over all loads taken together burn rate falls by 0.062 g/h for each % of fragrance load"
    )
    assert (
        bent[1]
        == "The effect is not the same at every load: near 9 % one % changes it by something "
        "between -0.01 g/h and 0.05 g/h."
    )
    two = dataclasses.replace(asked.trend, ends=asked.trend.ends.iloc[:0])
    assert len(again(asked, trend=two)) == 1


@pytest.mark.slow
def test_notes_and_lines_under_the_title(batches):
    assert under_title(of_demo("screening", "wick")) == (
        "Stoneware tumbler, coconut and rapeseed wax: which wick?",
        "burn rate (g/h) of 17 candles",
    )
    series = of_demo("screening", "wick_series", metric="life_h")
    assert under_title(series)[1] == "life (h) of 11 candles"
    told = of_demo("screening", "wick_series").notes
    assert told[-1].startswith("This page puts 5 questions to the same candles, one metric with ")
    assert told[:-1] == (
        "Burn rate of 4 candles (S01, S02, S03 and S17): cut short: moved to the depth of the "
        "others.",
        "A wick series stands for the sizes burned here, taken together: other sizes of it may "
        "burn quite differently.",
    )
    bare = dataclasses.replace(
        batches["confirmation"],
        settings=dataclasses.replace(batches["confirmation"].settings, targets=()),
    )
    asked = compare_batches([bare], by="wick")
    assert asked.refused == (
        "batch.toml names no target, so there is nothing to choose by: add [targets].",
    )
    assert asked.choice is None
    assert (
        NO_CHOICE
        == "Wicks are put in order only when they are compared by wick, all in one vessel, and "
        "batch.toml names targets. Each vessel's pick stands in its box above."
    )
    from candlelab.pages.words import BEST

    assert BEST in methods(of_demo("screening", "wick"))
    assert BEST == (
        "The probability of being the best is a share of 20,000 repeats, each with resampled "
        "candles. In each of them every mean is moved toward the mean of all candidates, as far as "
        "luck could have set them apart, because the best of several is partly the luckiest. In "
        "simulated batches, of those called 75 % 66 to 85 were truly the best, of those called "
        "85 % 75 to 94: fewer where wicks are nearly alike, more where they lie far apart. So few "
        "candles cannot tell which of the two it is."
    )
    assert OUTCOMES == {
        "passed": "Passed every deciding criterion",
        "sooted": "Sooted: grade 2 or more at some check",
        "full_pool_by_burn_3": "Full pool by the third burn",
    }


PLAIN = {
    "candidate",
    "batch",
    "candle",
    "wick",
    "wick_series",
    "wax",
    "fragrance_load_pct",
    "burn_rate_g_per_h",
    "target",
    "reason",
    "mean",
    "score_low",
    "score_high",
    "counted_out",
}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "by"),
    [
        ("screening", "wick"),
        ("screening", "wick_series"),
        ("waxes", "wax"),
        ("loads", "fragrance_load_pct"),
    ],
)
def test_no_word_of_statistics_is_left_unexplained(name, by):
    """Every column of every table is plain or explained, and so is every name of a method: names
    begin with a capital within a sentence.
    """
    import re

    asked = of_demo(name, by)
    columns, terms = explained(asked)
    assert {c for _, table in tables(asked).values() for c in table.columns} <= PLAIN | set(
        EXPLAINED
    )
    assert columns
    assert all(GLOSSARY[c].meaning for c in columns)
    text = " ".join(methods(asked))
    names = {word for word in re.findall(r"(?<![.:] )(?<!^)\b[A-Z][A-Za-z]+", text)}
    assert names <= {part for term in terms for part in re.split(r"[ -]| and ", term)}, names
    for word in ("log-rank", "median", "resampled", "REML"):
        assert (word in text) <= any(word in term for term in terms)

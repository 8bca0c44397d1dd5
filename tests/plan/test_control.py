"""Control candles in a plan: what they are for, how far two batches can be compared with them."""

import numpy as np
import pandas as pd
import pytest
from plans import DEMO_PLAN, plan_file

from candlelab.compare.blocks import design_of
from candlelab.compare.metrics import SHARED
from candlelab.compare.parts import compare_parts
from candlelab.plan.control import across_batches, control_words
from candlelab.plan.planned import PlanError, read_plan
from candlelab.plan.sample_tables import Wanted, plan_of
from candlelab.stats.power import Spread, smallest_difference

CONTROL = "control = true   # poured in other batches too, so that they can be compared\n"
RATE = "burn_rate_g_per_h"


def test_the_plan_says_which_recipe_is_the_control_and_what_it_is_worth():
    assert control_words(read_plan(DEMO_PLAN / "plan.toml")) == [
        "4 control candles: square braid 2. Pour this recipe in every batch that you want to "
        "compare, as many candles each time: it shows what the batches differ by. Between a "
        "wick of one such batch and a wick of another, a difference in burn rate of about 1.03 g/h "
        "or more shows 80 times in 100; within one batch, 0.73 g/h."
    ]


def test_a_plan_without_one_says_how_to_plan_one(tmp_path):
    (said,) = control_words(read_plan(plan_file(tmp_path, (CONTROL, ""))))
    assert "No control candle is planned" in said
    assert "control = true" in said


def test_a_confirmation_needs_none(tmp_path):
    changes = ((CONTROL, ""), ('stage = "screening"', 'stage = "confirmation"'))
    assert control_words(read_plan(plan_file(tmp_path, *changes))) == []


@pytest.mark.parametrize("value", ['"yes"', "1", '"true"'])
def test_what_is_neither_true_nor_false_is_refused(tmp_path, value):
    with pytest.raises(PlanError, match=r"control: wrong type of value.*Write true or false"):
        read_plan(plan_file(tmp_path, (CONTROL, f"control = {value}\n")))


@pytest.mark.slow
def test_two_batches_with_control_candles_find_what_the_plan_says():
    """100 pairs of batches: a wick and four control candles in each, levels of batches far apart.
    80 in 100 are asked for; the tolerance is three standard errors of so many draws. Of three
    candidates, as those of two such batches are, all pairs are looked at."""
    n = 4
    plan = plan_of(Wanted(difference=0.5, candidates=3), 1, n)
    apart = across_batches(smallest_difference(plan, Spread(0.25, 0.0, ""), 0.8), n, n)
    names, batch = np.repeat(["A", "control", "control", "B"], n), np.repeat(["one", "two"], 2 * n)
    found = []
    for seed in range(100):
        rng = np.random.default_rng([7, seed])
        value = 5.5 + rng.normal(0.0, 0.25, 4 * n) + 0.8 * rng.normal() * (batch == "two")
        table = pd.DataFrame({"candidate": names, "batch": batch, RATE: value})
        table["candle"] = np.arange(4 * n).astype(str)
        table[RATE] += apart * (names == "B")
        compared = compare_parts(table, design_of(table, "candidate", SHARED), metric=RATE)
        told = compared.differences.set_index("candidate")["reference"]
        (pair,) = [n for n, c in enumerate(told.items()) if set(c) == {"A", "B"}]
        found.append(compared.differences["p_adjusted"].iloc[pair] < 0.05)
    assert np.mean(found) == pytest.approx(0.8, abs=0.12)

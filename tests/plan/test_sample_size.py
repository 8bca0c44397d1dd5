"""How many candles: the plan's number has the power asked for, the spread
comes from the batches, the words are true."""

import math

import numpy as np
import pytest
from batches import read, simulated
from places import DEMO

from candlelab.pages.glossary import GLOSSARY
from candlelab.plan.sample_size import DEFAULT_SPREAD, CannotPlan, Wanted, plan_candles, spread_of
from candlelab.simulate.model import Model
from candlelab.stats import power
from candlelab.stats.designs import CannotCompare
from candlelab.stats.power import Plan, Spread


@pytest.fixture(scope="module")
def usual():
    return plan_candles(wanted=Wanted(difference=0.5, margin=0.5, reliability=0.9, candidates=3))


@pytest.mark.slow
def test_the_number_needed_has_the_power_and_one_less_has_not(usual):
    for name, found, size in (
        ("difference", power.difference_found, 0.5),
        ("equivalence", power.equivalence_shown, 0.5),
    ):
        n = usual.needed[name]
        assert found(Plan(n, 3, 10), DEFAULT_SPREAD, size) >= 0.795
        assert found(Plan(n - 1, 3, 10), DEFAULT_SPREAD, size) < 0.795


def test_two_candidates_need_what_the_t_test_says():
    """One burn a candle: d = 0.5 takes 64 in each group (Cohen
    1988, from memory; G*Power 63.77)."""
    found = plan_candles(wanted=Wanted(difference=0.5, burns=1), spread=Spread(1.0, 0.0, "one"))
    assert found.needed["difference"] == pytest.approx(64, abs=1)  # the simulation's noise


def test_claims_take_the_success_run(usual):
    """29 without a failure for 90 % with 95 % confidence, then 46,
    61, 76 (reference-values; binomial)."""
    assert usual.needed["claim"] == 29
    assert usual.claim["n_each"].tolist() == [29, 46, 61, 76]


def test_simulated_and_by_formula_stand_beside_each_other(usual):
    for table in (usual.difference, usual.equivalence, usual.claim):
        own = table[table["n_each"] >= 3]
        np.testing.assert_allclose(own["found_simulated_pct"], own["found_formula_pct"], atol=2.0)
        assert (table["n_each"].diff().dropna() > 0).all()
        assert set(table.columns) <= set(GLOSSARY)
    assert usual.needed["difference"] in usual.difference["n_each"].tolist()


def test_what_three_candles_show_is_said(usual):
    text = " ".join(usual.cannot)
    assert (
        "With 3 candles of each, a true difference of 0.5 g/h is found in 32 % of such batches"
        in text
    )
    assert "No difference found does not mean no difference: it is known only to about" in text
    assert "at least 36.8 % of such candles would (95 in 100 sure). That does not support" in text
    assert "two that are truly alike are shown to be so, to within ±0.5 g/h, in" in text


def test_the_default_is_the_bench_and_says_so(usual):
    model = Model()
    assert DEFAULT_SPREAD.candle_sd == model.candle_sd_g_per_h
    assert DEFAULT_SPREAD.burn_sd == pytest.approx(
        math.hypot(model.burn_sd_g_per_h, model.drift_g_per_h / math.sqrt(12)), abs=0.006
    )
    assert "an assumption with no source" in " ".join(usual.method)


@pytest.mark.slow
def test_spread_of_earlier_batches_is_that_of_the_mixed_model(tmp_path):
    """Truth: 0.25 g/h between candles; between burns 0.27 g/h with
    drift and room. 24 candles: within 35 %."""
    batch = simulated(tmp_path / "one", [("1", 5.0, 3.0), ("2", 5.6, 3.0)], seed=5, each=12)
    spread, burns = spread_of([batch])
    assert spread.df == 22
    assert spread.candle_sd == pytest.approx(0.25, rel=0.35)
    assert spread.burn_sd == pytest.approx(0.27, rel=0.15)
    assert burns in (8, 9, 10)
    plan = plan_candles([batch], wanted=Wanted(difference=0.5))
    assert plan.burns == burns
    assert plan.spread.source == "24 candles of 2 candidates in one"
    assert "were it as large as its upper 80 % limit" in " ".join(plan.answer)


@pytest.mark.slow
def test_two_batches_are_not_mixed_up(tmp_path):
    """The same wick 1 g/h apart in two batches: the difference between
    batches is no spread between candles."""
    one = simulated(tmp_path / "one", [("1", 5.0, 3.0)], seed=6, each=8)
    other = simulated(tmp_path / "other", [("1", 6.5, 3.0)], seed=7, each=8)
    spread, _ = spread_of([one, other])
    assert spread.df == 14
    assert spread.candle_sd < 0.5


def test_a_metric_that_a_candle_has_once():
    spread, burns = spread_of([read(DEMO / "screening")], "life_h")
    assert spread.burn_sd == 0.0
    assert burns == 1
    lives = read(DEMO / "screening")
    plan = plan_candles([lives], wanted=Wanted(difference=2.0), metric="life_h")
    assert "between burns" not in " ".join(plan.method)


def test_no_spread_between_candles_is_not_trusted():
    plan = plan_candles([read(DEMO / "loads")], wanted=Wanted(difference=2.0), metric="wall_max_c")
    assert plan.spread.candle_sd == 0.0
    assert "often luck: count on more than is planned here" in " ".join(plan.cannot)


def test_one_candle_of_each_gives_no_spread(tmp_path):
    batch = simulated(tmp_path / "one", [("1", 5.0, 3.0), ("2", 5.6, 3.0)], seed=5, each=1)
    with pytest.raises(CannotCompare, match="one candle of each candidate"):
        plan_candles([batch], wanted=Wanted(difference=0.5))


def test_more_than_anyone_burns_is_no_number():
    plan = plan_candles(wanted=Wanted(difference=0.01))
    assert plan.needed["difference"] is None
    assert "more than 400 candles of each candidate" in plan.answer[0]


def test_every_fault_at_once():
    with pytest.raises(CannotPlan) as error:
        plan_candles(
            wanted=Wanted(
                difference=-1, margin=0, reliability=1.2, candidates=1, affordable=1, power=2.0
            ),
            metric="life_h",
        )
    text = str(error.value)
    assert "no assumption for the variation of life" in text[0].lower() + text[1:]
    for word in (
        "difference must be",
        "margin must be",
        "reliability must be",
        "candidates must be",
        "affordable must be",
        "power must be",
    ):
        assert word in text


def test_nothing_asked_for_and_an_unknown_metric():
    with pytest.raises(CannotPlan, match="Nothing is asked for"):
        plan_candles(wanted=Wanted())
    with pytest.raises(CannotPlan, match="metric must be one of"):
        plan_candles(wanted=Wanted(difference=1.0), metric="burn_rate")

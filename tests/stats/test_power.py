"""Planned power against R, statsmodels and published values; the quick simulation is the analysis
itself."""

import math

import numpy as np
import pandas as pd
import places
import pytest
from scipy import stats
from statsmodels.stats.power import FTestAnovaPower, TTestIndPower

from candlelab.stats import power
from candlelab.stats.pairwise import compare_candidates, equivalence_test
from candlelab.stats.power import Plan, Spread, draw_batches

REFERENCE = pd.read_csv(places.REFERENCE / "planning_results.csv")
ONE = Spread(1.0, 0.0, "one")


def rows(what):
    return list(REFERENCE[REFERENCE["what"] == what].itertuples())


def test_two_candidates_by_r():
    for row in rows("t"):
        plan = Plan(int(row.a), burns=1)
        assert power.difference_found_formula(plan, ONE, row.b) == pytest.approx(
            row.value, abs=1e-8
        )
        assert TTestIndPower().power(row.b, row.a, row.d) == pytest.approx(row.value, abs=1e-8)


def test_one_pair_among_several_by_r():
    for row in rows("tukey"):
        found = power.difference_found_formula(Plan(int(row.a), int(row.c), burns=1), ONE, row.b)
        assert found == pytest.approx(
            row.value, abs=2e-5
        )  # R's qtukey is good to about four digits


def test_cohen_1988():
    """Cohen 1988, chapter 2: d = 0.5 and 64 in each group give 0.80 at a two-sided 5 % (from
    memory; statsmodels agrees)."""
    assert power.difference_found_formula(Plan(64, burns=1), ONE, 0.5) == pytest.approx(
        0.80, abs=0.005
    )


def f_test_share(k, n, f, batches=40_000):
    """Share of drawn batches in which the F test of the candidates' means finds a difference."""
    means = np.linspace(-1.0, 1.0, k)
    means *= f / means.std()
    estimates, error = draw_batches(Plan(n, k, burns=1), ONE, means, batches=batches, seed=5)
    between = n * estimates.var(axis=1, ddof=1)
    within = error**2 * n / 2.0
    return (between / within > stats.f.ppf(0.95, k - 1, k * (n - 1))).mean()


def test_drawn_batches_have_the_power_of_the_f_test():
    """R's power.anova.test and statsmodels; and Cohen 1988, table 8.4: f = 0.25, four groups, 45 in
    each: 0.80 (from memory)."""
    for row in rows("anova"):
        assert f_test_share(int(row.c), int(row.a), row.b) == pytest.approx(row.value, abs=0.01)
        assert FTestAnovaPower().power(row.b, row.a * row.c, row.d, int(row.c)) == pytest.approx(
            row.value, abs=1e-6
        )
    assert f_test_share(4, 45, 0.25) == pytest.approx(0.80, abs=0.015)


def test_two_one_sided_tests_by_r():
    for row in rows("tost"):
        found = power.equivalence_shown_formula(Plan(int(row.a), burns=1), ONE, row.b, truth=row.c)
        assert found == pytest.approx(row.value, abs=1e-7)


def test_two_one_sided_tests_as_published():
    """Average bioequivalence, 2x2 crossover, CV 30 %, true ratio 0.95, 40 subjects: 0.815845
    (documentation of R's PowerTOST)."""
    error = math.sqrt(math.log(1.0 + 0.30**2)) * math.sqrt(2.0 / 40.0)
    found = power.tost_power(
        math.log(1.25) / error, math.log(0.95) / error, stats.t.isf(0.05, 38), 38
    )
    assert found == pytest.approx(0.815845, abs=1e-6)


@pytest.mark.slow
@pytest.mark.parametrize("candle_sd", [0.30, 0.05, 0.0])
@pytest.mark.parametrize(("candidates", "candles", "burns"), [(2, 3, 8), (4, 3, 8), (3, 5, 4)])
def test_a_drawn_batch_is_the_mixed_model_on_every_burn(candle_sd, candidates, candles, burns):
    """The two mean squares give the estimate, standard error and degrees of freedom of
    compare_candidates, at zero variance too."""
    rng = np.random.default_rng(11)
    plan = Plan(candles, candidates, burns)
    for _ in range(5):
        y = rng.normal(0, candle_sd, (candidates, candles, 1)) + rng.normal(
            0, 0.25, (candidates, candles, burns)
        )
        table = pd.DataFrame(
            {
                "y": y.ravel(),
                "wick": np.repeat(np.arange(candidates), candles * burns),
                "candle": np.repeat(np.arange(candidates * candles), burns),
            }
        )
        found = compare_candidates(table, metric="y", by="wick", unit="candle")
        mean = y.mean(axis=2)
        between = burns * ((mean - mean.mean(axis=1, keepdims=True)) ** 2).sum()
        within = ((y - mean[..., None]) ** 2).sum()
        error = power.difference_error(plan, between, within)
        np.testing.assert_allclose(found.differences["std_error"], error, rtol=1e-6)
        np.testing.assert_allclose(found.differences["df"], plan.df, rtol=1e-6)
        t = np.abs(found.differences["estimate"]) / error
        assert ((found.differences["p_adjusted"] < 0.05) == (t > plan.critical_t())).all()


@pytest.mark.slow
def test_simulation_is_the_analysis_of_whole_batches():
    """80 batches of burns, each analysed by compare_candidates and equivalence_test: within three
    standard errors of the plan."""
    spread, plan, n = Spread(0.25, 0.27, ""), Plan(4, 3, 6), 80
    rng = np.random.default_rng(3)
    table = pd.DataFrame(
        {"wick": np.repeat(np.arange(3), 24), "candle": np.repeat(np.arange(12), 6)}
    )
    found = alike = 0
    for _ in range(n):
        y = rng.normal(0, spread.candle_sd, 12)[table["candle"]] + rng.normal(
            0, spread.burn_sd, len(table)
        )
        one = compare_candidates(
            table.assign(y=y + 0.8 * (table["wick"] == 0)), metric="y", by="wick", unit="candle"
        ).differences
        found += bool(one["p_adjusted"].iloc[0] < 0.05)
        words = (
            equivalence_test(table.assign(y=y), metric="y", by="wick", unit="candle", margin=0.8)
            .differences["equivalence"]
            .iloc[0]
        )
        alike += not words.endswith("not shown")
    for share, planned in (
        (found / n, power.difference_found(plan, spread, 0.8)),
        (alike / n, power.equivalence_shown(plan, spread, 0.8)),
    ):
        assert 0.05 < planned < 0.95
        assert abs(share - planned) < 3.0 * math.sqrt(planned * (1.0 - planned) / n)


def test_simulation_and_formula_agree_where_candles_differ():
    spread = Spread(0.25, 0.27, "")
    for plan in (Plan(3, 2, 10), Plan(5, 6, 10), Plan(10, 3, 10)):
        assert power.difference_found(plan, spread, 0.6) == pytest.approx(
            power.difference_found_formula(plan, spread, 0.6), abs=0.015
        )
        assert power.equivalence_shown(plan, spread, 0.7) == pytest.approx(
            power.equivalence_shown_formula(plan, spread, 0.7), abs=0.015
        )


@pytest.mark.slow
def test_smallest_difference_and_margin_are_found_as_often_as_asked():
    spread, plan = Spread(0.25, 0.27, ""), Plan(4, 4, 8)
    for share in (0.5, 0.8, 0.95):
        assert power.difference_found_formula(
            plan, spread, power.smallest_difference(plan, spread, share)
        ) == pytest.approx(share, abs=1e-6)
        assert power.equivalence_shown_formula(
            plan, spread, power.smallest_margin(plan, spread, share)
        ) == pytest.approx(share, abs=1e-6)


def test_no_difference_is_found_in_one_of_twenty():
    spread = Spread(0.25, 0.0, "")
    assert power.difference_found(Plan(4, 2, 1), spread, 0.0) == pytest.approx(0.05, abs=0.006)


def test_a_difference_far_beyond_the_spread_is_always_found():
    assert power.difference_found_formula(Plan(3), Spread(0.001, 0.0, ""), 5.0) == 1.0
    assert power.difference_found_formula(Plan(3), Spread(0.0, 0.0, ""), 5.0) == 1.0


def test_claims_are_carried_as_often_as_the_binomial_says():
    """29 without a failure, 46 with one, 61 with two: candles_needed, held to the success-run table
    in test_proportions."""
    for n, failures in ((29, 0), (46, 1), (61, 2)):
        exact = stats.binom.cdf(failures, n, 0.01)
        assert power.claim_carried_formula(n, failures, truth=0.99) == pytest.approx(
            exact, abs=1e-12
        )
        assert power.claim_carried(n, 0.90, 0.95, truth=0.99) == pytest.approx(exact, abs=0.01)

"""Prediction intervals for fresh candles: against textbooks, R and ISO 5725-2; how often they hold
in simulation."""

import numpy as np
import pandas as pd
import pytest
from places import REFERENCE
from scipy import stats

from candlelab.stats.intervals import (
    MOST_CANDLES,
    Spread,
    candles_to_notice,
    chance_to_notice,
    each_reach,
    mean_reach,
    reaches,
    spreads,
)
from candlelab.stats.intervals import _any_outside as any_outside

# Made by prediction.R with R 4.2.2 and mvtnorm; see SOURCES.md.
FROM_R = pd.read_csv(REFERENCE / "prediction_results.csv")


def test_textbook_interval_for_the_next_observation():
    """Montgomery and Runger, Applied Statistics and Probability for Engineers, example 8-8: n 22,
    mean 13.71, s 3.55: 6.16 to 21.26."""
    reach = each_reach(22, 1, 21, 0.05) * 3.55
    assert 13.71 - reach == pytest.approx(6.16, abs=0.005)
    assert 13.71 + reach == pytest.approx(21.26, abs=0.005)


def test_factor_of_another_package():
    """R package EnvStats, help of predIntNormK: two-sided 95 % for the next observation, n = 20:
    2.144711."""
    assert each_reach(20, 1, 19, 0.05) == pytest.approx(2.144711, abs=5e-7)


def test_factor_for_ten_future_observations():
    """Hahn and Meeker, Statistical Intervals: n 5, mean 50.10, s 1.31: all of the next ten within
    factor 5.23 (from memory)."""
    assert each_reach(5, 10, 4, 0.05) == pytest.approx(5.23, abs=0.005)
    assert each_reach(5, 1, 4, 0.05) == pytest.approx(3.04, abs=0.005)


@pytest.mark.parametrize(
    "row",
    list(FROM_R[FROM_R["what"] == "reach"].itertuples()),
    ids=lambda r: f"n{r.n}-m{r.m}-df{r.df}-{r.error}",
)
def test_reach_agrees_with_the_multivariate_t_of_r(row):
    assert each_reach(row.n, row.m, float(row.df), row.error) == pytest.approx(
        row.value, rel=2e-3
    )  # R draws points


@pytest.mark.parametrize(
    "row",
    list(FROM_R[FROM_R["what"] == "chance outside"].itertuples()),
    ids=lambda r: f"n{r.n}-m{r.m}-{r.shift}",
)
def test_chance_of_a_shifted_value_outside_agrees_with_r(row):
    reach = 4.0 * np.sqrt(1.0 + 1.0 / row.n)  # the limit t = 4 in prediction.R
    assert any_outside(reach, row.shift, row.n, row.m, float(row.df)) == pytest.approx(
        row.value, abs=2e-4
    )


def test_pooled_interval_is_that_of_a_linear_model_in_r():
    """Three wicks, eight candles: predict(lm(values ~ wick), interval = "prediction"), with one
    spread for all."""
    found = spreads(
        {
            "a": np.array([5.64, 5.78, 5.74]),
            "b": np.array([6.00, 6.05, 6.10]),
            "c": np.array([5.03, 5.27]),
        }
    )
    for name, n, mean in (("a", 3, 5.72), ("c", 2, 5.15)):
        low, high = (
            FROM_R[(FROM_R["what"] == f"lm {end}") & (FROM_R["n"] == n)]["value"].item()
            for end in ("low", "high")
        )
        reach = each_reach(n, 1, found[name].df, 0.05) * found[name].sd
        assert (mean - reach, mean + reach) == (
            pytest.approx(low, abs=1e-9),
            pytest.approx(high, abs=1e-9),
        )


def test_mean_of_fresh_values():
    """By hand: t(0.975; 8) = 2.306004 (any table of Student's t), sqrt(1/6 + 1/3) = 0.7071068."""
    assert mean_reach(3, 6, 8, 0.05) == pytest.approx(2.306004 * 0.7071068, rel=1e-6)


@pytest.mark.parametrize(("k", "critical"), [(3, 0.942), (5, 0.788), (6, 0.722)])
def test_a_spread_stands_apart_at_cochrans_critical_value(k, critical):
    """Critical values of Cochran's test at 1 %, three results each: ISO 5725-2, table 4 (from
    memory)."""

    def groups(share):
        rest = np.sqrt((1.0 - share) / (k - 1))
        return {
            str(i): np.array([-1.0, 0.0, 1.0]) * (np.sqrt(share) if i == 0 else rest)
            for i in range(k)
        }

    assert spreads(groups(critical - 0.005))["0"].groups == tuple(groups(0.5))
    apart = spreads(groups(critical + 0.005))
    assert apart["0"].groups == ("0",) and apart["1"].groups == tuple(str(i) for i in range(1, k))


def test_spread_of_one_candle_is_that_of_the_others():
    found = spreads({"one": np.array([5.0]), "two": np.array([1.0, 2.0, 3.0])})
    assert found["one"] == found["two"] == Spread(1.0, 2, ("two",))
    assert spreads({"one": np.array([5.0]), "two": np.array([4.0])}) == {}
    assert spreads({}) == {}


def test_no_spread_at_all():
    assert spreads({"a": np.array([2.0, 2.0]), "b": np.array([3.0, 3.0])})["a"].sd == 0.0


def test_ranges_hold_as_often_as_they_say():
    """20,000 simulated rounds of three candles and six fresh ones: the values or their mean
    outside in at most 5 %."""
    rng = np.random.default_rng(7)
    old, new = rng.standard_normal((20_000, 3)), rng.standard_normal((20_000, 6))
    sd = np.sqrt(rng.chisquare(8, 20_000) / 8)
    each, mean = reaches(3, 6, 8, 0.05)
    middle = old.mean(axis=1)
    out_each = (np.abs(new - middle[:, None]).max(axis=1) > each * sd).mean()
    out_mean = (np.abs(new.mean(axis=1) - middle) > mean * sd).mean()
    either = (
        (np.abs(new - middle[:, None]).max(axis=1) > each * sd)
        | (np.abs(new.mean(axis=1) - middle) > mean * sd)
    ).mean()
    assert out_each == pytest.approx(0.025, abs=0.004) and out_mean == pytest.approx(
        0.025, abs=0.004
    )
    assert 0.03 < either < 0.05


def test_chance_to_notice_grows_and_the_number_follows_from_it():
    chances = [chance_to_notice(4.0, 3, m, 8.0, 0.0125) for m in (1, 2, 4, 8)]
    assert chances == sorted(chances)
    m = candles_to_notice(4.0, 3, 8.0, 0.0125, 0.8)
    assert (
        chance_to_notice(4.0, 3, m, 8.0, 0.0125)
        >= 0.8
        > chance_to_notice(4.0, 3, m - 1, 8.0, 0.0125)
    )


def test_three_candles_alone_cannot_be_confirmed_by_any_number():
    assert candles_to_notice(4.0, 3, 2.0, 0.0125, 0.8) is None
    assert chance_to_notice(4.0, 3, MOST_CANDLES, 2.0, 0.0125) < 0.8


def test_one_fresh_value_takes_the_whole_chance():
    assert reaches(3, 1, 8, 0.05) == (pytest.approx(stats.t.isf(0.025, 8) * np.sqrt(4 / 3)),) * 2

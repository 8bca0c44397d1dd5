"""Prediction, tolerance and inverse prediction: against textbooks, tables of standards, R and ISO
5725-2; how often the intervals hold in simulation."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from places import REFERENCE
from scipy import stats

from candlelab.stats.intervals import (
    MOST_CANDLES,
    Spread,
    _any_outside,
    candles_to_notice,
    chance_to_notice,
    each_reach,
    inverse_prediction,
    lower_bounds,
    mean_reach,
    prediction_factor,
    reaches,
    share_above_smallest,
    spreads,
    tolerance_factor,
)

# Made by prediction.R with R 4.2.2 and mvtnorm, and by planning.R; see SOURCES.md.
FROM_R = pd.read_csv(REFERENCE / "prediction_results.csv")
PLANNING = pd.read_csv(REFERENCE / "planning_results.csv")


# ---------------------------------------------------------------- fresh candles


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
    assert _any_outside(reach, row.shift, row.n, row.m, float(row.df)) == pytest.approx(
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
    assert apart["0"].groups == ("0",)
    assert apart["1"].groups == tuple(str(i) for i in range(1, k))


def test_spread_of_one_candle_is_that_of_the_others():
    found = spreads({"one": np.array([5.0]), "two": np.array([1.0, 2.0, 3.0])})
    assert found["one"] == found["two"] == Spread(1.0, 2, ("two",))
    assert spreads({"one": np.array([5.0]), "two": np.array([4.0])}) == {}
    assert spreads({}) == {}


def test_no_spread_at_all():
    assert spreads({"a": np.array([2.0, 2.0]), "b": np.array([3.0, 3.0])})["a"].sd == 0.0


def test_ranges_hold_as_often_as_they_say():
    """20,000 simulated rounds of three candles and six fresh ones: the values or their mean outside
    in at most 5 %."""
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
    assert out_each == pytest.approx(0.025, abs=0.004)
    assert out_mean == pytest.approx(0.025, abs=0.004)
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


# ---------------------------------------------------------------- nearly all candles, and the next


@pytest.mark.parametrize(
    ("n", "coverage", "confidence", "k"),
    [
        # ISO 16269-6, one-sided factors for unknown mean and standard deviation; the same stand in
        # MIL-HDBK-17 and Owen 1963 (from memory; R gives the same, see below)
        (3, 0.90, 0.95, 6.155),
        (5, 0.90, 0.95, 3.407),
        (6, 0.90, 0.95, 3.006),
        (10, 0.90, 0.95, 2.355),
        (20, 0.90, 0.95, 1.926),
        (3, 0.95, 0.95, 7.656),
        (5, 0.95, 0.95, 4.203),
        (10, 0.95, 0.95, 2.911),
        (20, 0.95, 0.95, 2.396),
        (3, 0.99, 0.95, 10.553),
        (5, 0.99, 0.95, 5.741),
        (10, 0.99, 0.95, 3.981),
        (2, 0.90, 0.95, 20.581),
    ],
)
def test_factors_of_the_tables(n, coverage, confidence, k):
    assert tolerance_factor(n, coverage, confidence) == pytest.approx(k, abs=0.0011)


def test_handbook_example():
    """NIST/SEMATECH e-Handbook 7.2.6.3: 43 wafers, 90 % coverage, 99 % confidence. The
    approximation there gives 1.8752 (read second-hand), the noncentral t 1.8740 (from memory); for
    a mean of 97.07 and sd 0.0268 the upper limit is 97.12.
    """
    k = tolerance_factor(43, 0.90, 0.99)
    assert k == pytest.approx(1.8740, abs=5e-5)
    assert k == pytest.approx(1.8752, abs=2e-3)
    assert 97.07 + k * 0.0268 == pytest.approx(97.12, abs=5e-4)


def test_factors_by_r():
    rows = PLANNING[PLANNING["what"] == "tolerance"]
    assert len(rows) == 72
    for row in rows.itertuples():
        assert tolerance_factor(int(row.a), row.b, row.c) == pytest.approx(row.value, rel=1e-6)


def test_prediction_factor_is_a_t_interval():
    """One further of n: t sqrt(1 + 1/n); for 3 at a one-sided 95 % 2.920 * 1.1547 (table of t:
    2.920 with 2 df)."""
    assert prediction_factor(3, 0.95) == pytest.approx(2.920 * 1.1547, abs=1e-3)


@pytest.mark.slow
def test_bounds_hold_as_often_as_they_say():
    rng = np.random.default_rng(8)
    reached = nexts = 0
    for _ in range(4000):
        found = lower_bounds(rng.normal(35.0, 1.5, 5))
        reached += stats.norm.sf(found.tolerance, 35.0, 1.5) >= 0.90
        nexts += rng.normal(35.0, 1.5) >= found.prediction
    assert reached / 4000 == pytest.approx(0.95, abs=0.011)
    assert nexts / 4000 == pytest.approx(0.95, abs=0.011)


def test_share_above_the_smallest():
    """Wilks 1941; the mirror of the success run: 29 candles, 90 % (reference-values: 9.8 % may
    fail)."""
    assert share_above_smallest(29, 0.95) == pytest.approx(0.9019, abs=1e-4)
    assert share_above_smallest(3, 0.95) == pytest.approx(0.368, abs=5e-4)


@pytest.mark.parametrize(
    ("n", "coverage", "confidence"), [(1, 0.9, 0.95), (3, 1.0, 0.95), (3, 0.9, 0.0)]
)
def test_refuses_what_is_no_bound(n, coverage, confidence):
    with pytest.raises(ValueError, match="two candles at least"):
        tolerance_factor(n, coverage, confidence)


# ---------------------------------------------------------------- a line read backwards


def line(x, y):
    return sm.OLS(np.asarray(y, float), sm.add_constant(np.asarray(x, float))).fit()


@pytest.mark.parametrize(
    ("y", "m", "x", "reach"),
    [(15, 1, 6.1, 4.9), (90, 1, 43.93983, 4.908053), (90, 5, 43.93983, 3.168489)],
)
def test_massart_example_7(y, m, x, reach):
    """Massart et al. 1997, Handbook of Chemometrics and Qualimetrics A, chapter 8, example 7 (book:
    6.1 +- 4.9, 43.9 +- 4.9, +- 3.2)."""
    fit = line([0, 10, 20, 30, 40, 50], [4, 21.2, 44.6, 61.8, 78, 105.2])
    t = stats.t.ppf(0.975, 4)
    found = inverse_prediction(*fit.params, fit.cov_params(), y, t, extra_variance=fit.scale / m)
    assert found.estimate == pytest.approx(x, abs=0.01)
    assert t * found.std_error == pytest.approx(reach, abs=0.01)
    assert found.bounded
    assert (found.conf_high - found.conf_low) / 2.0 == pytest.approx(
        reach, rel=0.02
    )  # g is 0.01: as good as symmetrical


def test_where_the_band_of_r_crosses():
    """R's predict.lm(interval = "confidence") and uniroot."""
    x = np.repeat([460.0, 560.0, 670.0], 3)
    fit = line(x, [3.92, 3.75, 4.03, 5.03, 5.27, 5.15, 6.21, 6.02, 6.44])
    rows = PLANNING[PLANNING["what"] == "inverse"]
    for y, own in rows.groupby("a"):
        found = inverse_prediction(*fit.params, fit.cov_params(), y, stats.t.ppf(0.975, 7))
        expected = own.sort_values("d")["value"].tolist()
        assert [found.conf_low, found.estimate, found.conf_high] == pytest.approx(
            expected, rel=1e-7
        )


def test_a_slope_that_may_be_zero_has_no_ends():
    fit = line([1, 1, 2, 2], [5.0, 5.6, 5.4, 5.3])
    found = inverse_prediction(*fit.params, fit.cov_params(), 5.5, stats.t.ppf(0.975, 2))
    assert not found.bounded
    assert found.g > 1.0
    assert (found.conf_low, found.conf_high) == (-np.inf, np.inf)


@pytest.mark.slow
@given(st.floats(-3, 3), st.floats(0.5, 5), st.floats(0.01, 0.2), st.floats(-5, 5))
def test_the_interval_is_where_the_band_holds_the_value(intercept, slope, error, y):
    cov = np.diag([error**2, (error / 2.0) ** 2])
    found = inverse_prediction(intercept, slope, cov, y, 2.0)
    assert found.conf_low <= found.estimate <= found.conf_high
    for end in (found.conf_low, found.conf_high):
        band = 2.0 * np.sqrt(cov[0, 0] + end**2 * cov[1, 1])
        assert abs(intercept + slope * end - y) == pytest.approx(band, rel=1e-6, abs=1e-9)


@pytest.mark.slow
def test_covers_the_true_size():
    rng = np.random.default_rng(4)
    x, inside = np.repeat([2.0, 3.0, 4.0], 3), 0
    for _ in range(2000):
        fit = line(x, 1.0 + 1.2 * x + rng.normal(0, 0.3, 9))
        found = inverse_prediction(
            *fit.params, fit.cov_params(), 1.0 + 1.2 * 3.4, stats.t.ppf(0.975, 7)
        )
        inside += found.conf_low <= 3.4 <= found.conf_high
    assert inside / 2000 == pytest.approx(0.95, abs=0.015)

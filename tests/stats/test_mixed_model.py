"""Random level per candle: against R, against published fits, and at zero candle variance."""

import numpy as np
import pandas as pd
import pytest
from reference_tables import made_with_r, table

from candlelab.stats import mixed_model
from candlelab.stats.mixed_model import NotConverged, fit_mixed

# Davies 1947, yield of dyestuff from six batches of five (grams of standard colour)
DYESTUFF = [
    1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445,
]  # fmt: skip
SIX_OF_FIVE = np.repeat(np.arange(6), 5)


def codes(column):
    return column.astype("category").cat.codes.to_numpy()


def one_hot(column):
    return (column.to_numpy()[:, None] == np.unique(column)).astype(float)


def test_dyestuff():
    fit = fit_mixed(DYESTUFF, np.ones((30, 1)), SIX_OF_FIVE)
    # exact: (MSB - MSW) / 5 = (11271.5 - 2451.25) / 5; criterion from R lme4
    np.testing.assert_allclose(fit.variances, [2451.25, 1764.05], rtol=1e-9)
    assert fit.criterion == pytest.approx(319.654277, abs=1e-6)
    for method in ("kenward-roger", "satterthwaite"):
        estimate, error, df = fit.contrasts([[1.0]], method)
        assert estimate[0] == pytest.approx(1527.5)
        assert error[0] == pytest.approx(
            np.sqrt(11271.5 / 30)
        )  # six batches decide, not thirty values
        assert df[0] == pytest.approx(5)


def test_sleepstudy_random_intercept():
    data = table("sleepstudy")  # Belenky et al. 2003
    fit = fit_mixed(
        data["Reaction"], np.column_stack((np.ones(180), data["Days"])), codes(data["Subject"])
    )
    # lme4: REML 1786.46509, variances 1378.1785 and 960.4566, SE 9.746716 and 0.804221
    assert fit.criterion == pytest.approx(1786.46508539, abs=1e-7)
    np.testing.assert_allclose(fit.variances, [960.45657856, 1378.17851381], rtol=1e-7)
    for method in ("kenward-roger", "satterthwaite"):
        r = made_with_r("sleepstudy", "fixed").query("reference == @method")
        estimate, error, df = fit.contrasts(np.eye(2), method)
        np.testing.assert_allclose(estimate, r["estimate"], rtol=1e-9)
        np.testing.assert_allclose(error, r["std_error"], rtol=1e-8)
        np.testing.assert_allclose(df, r["df"], rtol=1e-5)


def test_dietox_random_intercept():
    data = table("dietox")
    fit = fit_mixed(
        data["Weight"], np.column_stack((np.ones(len(data)), data["Time"])), codes(data["Pig"])
    )
    # R lme4, as shipped in statsmodels' own test results
    np.testing.assert_allclose(fit.coef, [15.723523, 6.942505], rtol=1e-6)
    np.testing.assert_allclose(np.sqrt(np.diag(fit.cov)), [0.78805, 0.033387], rtol=2e-5)
    np.testing.assert_allclose(fit.variances, [11.36692, 40.39395], rtol=1e-6)


def test_pastes_by_cask():
    # Means of two make a balanced plan: variances of lme4's nested fit are 1.657311 (batch),
    # 8.433666 (cask), 0.678
    data = table("pastes").groupby(["batch", "cask"], as_index=False)["strength"].mean()
    fit = fit_mixed(data["strength"], np.ones((len(data), 1)), codes(data["batch"]))
    np.testing.assert_allclose(fit.variances, [8.433666 + 0.678 / 2, 1.657311], rtol=5e-6)
    estimate, error, df = fit.contrasts([[1.0]])
    assert (estimate[0], error[0], df[0]) == pytest.approx((60.05333, 0.676870, 9), rel=1e-5)


@pytest.mark.parametrize("method", ["kenward-roger", "satterthwaite"])
def test_unbalanced_against_pbkrtest_and_lmertest(method):
    data = table("comparison_unbalanced")
    r = made_with_r(
        {"kenward-roger": "unbalanced", "satterthwaite": "satterthwaite"}[method], "difference"
    )
    x = np.column_stack((one_hot(data["wick"]), data["depth"]))
    fit = fit_mixed(data["rate"], x, codes(data["candle"]))
    np.testing.assert_allclose(
        np.sqrt(fit.variances[::-1]), made_with_r("unbalanced", "sd")["estimate"], rtol=1e-5
    )
    wicks = list(np.unique(data["wick"]))
    weights = np.zeros((len(r), 5))
    for row, pair in r.iterrows():
        (
            weights[row, wicks.index(pair["candidate"])],
            weights[row, wicks.index(pair["reference"])],
        ) = 1, -1
    estimate, error, df = fit.contrasts(weights, method)
    np.testing.assert_allclose(estimate, r["estimate"], rtol=1e-5)
    np.testing.assert_allclose(error, r["std_error"], rtol=1e-5)
    # lmerTest takes its second derivatives by differences: 0.2 % apart at most
    np.testing.assert_allclose(df, r["df"], rtol=2e-5 if method == "kenward-roger" else 2e-3)


def test_f_of_several_rows_against_pbkrtest():
    data, r = table("comparison_unbalanced"), made_with_r("unbalanced", "F").iloc[0]
    fit = fit_mixed(
        data["rate"], np.column_stack((one_hot(data["wick"]), data["depth"])), codes(data["candle"])
    )
    f, q, df, p = fit.f_test(np.column_stack((-np.ones(3), np.eye(3), np.zeros(3))))
    assert (f, q, df, p) == pytest.approx(
        (r["estimate"], r["conf_low"], r["df"], r["p_value"]), rel=1e-4
    )


def test_two_wicks_in_one_candle_with_a_level_per_candle_only():
    # what compare_candidates does not do: a level per candle alone counts the burns of a run as
    # wicks (99 df)
    data, r = table("comparison_rewicked"), made_with_r("rewicked_candle", "difference")
    fit = fit_mixed(
        data["rate"], np.column_stack((one_hot(data["wick"]), data["depth"])), codes(data["candle"])
    )
    estimate, error, df = fit.contrasts([[-1, 1, 0, 0], [-1, 0, 1, 0], [0, -1, 1, 0]])
    np.testing.assert_allclose(estimate, r["estimate"], rtol=1e-5)
    np.testing.assert_allclose(error, r["std_error"], rtol=1e-5)
    np.testing.assert_allclose(df, r["df"], rtol=1e-4)


@pytest.mark.parametrize("case", ["zero_variance", "zero_variance_unbalanced"])
def test_zero_candle_variance_keeps_the_df_of_the_candles(case):
    data, r = table(f"comparison_{case}"), made_with_r(case, "difference")
    fit = fit_mixed(data["rate"], one_hot(data["wick"]), codes(data["candle"]))
    assert fit.variances[1] == 0.0
    assert fit.variance_cov_observed is None
    weights = [
        [-1, 1, 0, 0],
        [-1, 0, 1, 0],
        [0, -1, 1, 0],
        [-1, 0, 0, 1],
        [0, -1, 0, 1],
        [0, 0, -1, 1],
    ]
    estimate, error, df = fit.contrasts(weights)
    np.testing.assert_allclose(estimate, r["estimate"], rtol=1e-8)
    np.testing.assert_allclose(error, r["std_error"], rtol=1e-8)
    np.testing.assert_allclose(df, r["df"], rtol=1e-8)
    assert df.max() < 9  # 12 candles less 4 wicks are 8; there are 85 to 96 burns
    np.testing.assert_array_equal(fit.contrasts(weights, "satterthwaite")[2], df)


def test_balanced_f_is_the_f_of_the_candle_means():
    from scipy import stats

    rng = np.random.default_rng(5)
    level = rng.normal(0, 0.4, 15)
    candle = np.repeat(np.arange(15), 9)
    y = level[candle] + rng.normal(0, 0.2, 135)
    x = (candle[:, None] // 3 == np.arange(5)).astype(float)
    f, q, df, p = fit_mixed(y, x, candle).f_test(np.column_stack((-np.ones(4), np.eye(4))))
    means = y.reshape(5, 3, 9).mean(axis=2)
    assert (f, q, df) == pytest.approx((stats.f_oneway(*means).statistic, 4, 10), rel=1e-7)
    assert p == pytest.approx(stats.f_oneway(*means).pvalue, rel=1e-7)


@pytest.mark.parametrize(
    "candles", [(2, 2, 1), (2, 1, 1), (2, 2, 1, 1, 1), (4, 1, 1), (2, 2, 2, 2)]
)
def test_f_of_few_candles_is_the_f_of_their_means(candles):
    """Also at one, two and four degrees of freedom, where Kenward and Roger's formulas divide by
    zero. Exact, since every candle has four burns."""
    from scipy import stats

    rng = np.random.default_rng(4)
    k, candle = len(candles), np.repeat(np.arange(sum(candles)), 4)
    wick = np.repeat(np.arange(k), candles)
    y = rng.normal(0, 1, len(wick))[candle] + rng.normal(0, 0.3, len(candle))
    contrasts = np.column_stack((-np.ones(k - 1), np.eye(k - 1)))
    f, q, df, p = fit_mixed(y, one_hot(pd.Series(wick[candle])), candle).f_test(contrasts)
    means = y.reshape(-1, 4).mean(axis=1)
    left = sum(((means[wick == i] - means[wick == i].mean()) ** 2).sum() for i in range(k))
    among = ((means - means.mean()) ** 2).sum() - left
    expected = among / (k - 1) / (left / (len(wick) - k))
    assert (f, q, df) == pytest.approx((expected, k - 1, len(wick) - k), rel=1e-6)
    assert p == pytest.approx(stats.f.sf(expected, k - 1, len(wick) - k), rel=1e-6)


def test_f_of_one_question_is_its_t_squared():
    """Kenward and Roger 1997: their F and its degrees of freedom come to those of t."""
    data = table("comparison_unbalanced")
    x = np.column_stack((one_hot(data["wick"]), data["depth"]))
    fit = fit_mixed(data["rate"], x, codes(data["candle"]))
    weights = np.array([[-1.0, 1.0, 0.0, 0.0, 0.0]])
    (estimate,), (error,), (df,) = fit.contrasts(weights)
    assert fit.f_test(weights)[:3] == pytest.approx(((estimate / error) ** 2, 1, df))


def test_the_order_and_the_scale_of_the_rows_do_not_matter():
    data = table("comparison_unbalanced")
    x = np.column_stack((one_hot(data["wick"]), data["depth"]))
    fit = fit_mixed(data["rate"], x, codes(data["candle"]))
    order = np.random.default_rng(1).permutation(len(data))
    again = fit_mixed(
        data["rate"].to_numpy()[order] * 1e-6, x[order], codes(data["candle"])[order] * 7 + 3
    )
    np.testing.assert_allclose(
        again.contrasts(np.eye(5))[2], fit.contrasts(np.eye(5))[2], rtol=1e-6
    )
    np.testing.assert_allclose(again.variances, fit.variances * 1e-12, rtol=1e-6)


def by_hand(y, candle, ratios):
    """Minus twice the restricted log-likelihood of a mean and random candles, at the best burn
    variance of each ratio of the two (Searle, Casella and McCulloch 1992, Variance Components,
    section 6.6, from memory): a column of ratios, sums over candles."""
    n = np.bincount(candle)
    means = np.bincount(candle, y) / n
    within = np.square(y - means[candle]).sum()
    weight = n / (1.0 + np.outer(ratios, n))
    middle = weight @ means / weight.sum(axis=1)
    left = within + (weight * np.square(means - middle[:, None])).sum(axis=1)
    df = len(y) - 1
    logs = np.log1p(np.outer(ratios, n)).sum(axis=1) + np.log(weight.sum(axis=1))
    return df * (np.log(2.0 * np.pi * left / df) + 1.0) + logs


@pytest.mark.slow
@pytest.mark.parametrize("candle_sd", [0.0, 0.01, 0.3, 30.0])
def test_the_optimum_is_found_whatever_the_ratio(candle_sd):
    rng = np.random.default_rng(3)
    ratios = np.concatenate(([0.0], np.logspace(-5, 6, 500)))
    for _ in range(50):
        candle = np.repeat(np.arange(6), rng.integers(1, 6, 6) + 1)
        y = rng.normal(0, candle_sd, 6)[candle] + rng.normal(0, 1, len(candle))
        fit = fit_mixed(y, np.ones((len(y), 1)), candle)
        found = by_hand(y, candle, [fit.variances[1] / fit.variances[0]])
        np.testing.assert_allclose(fit.criterion, found, rtol=0, atol=1e-9)
        assert fit.criterion <= by_hand(y, candle, ratios).min() + 1e-9


def test_no_resting_place_is_an_error(monkeypatch):
    monkeypatch.setattr(mixed_model._Sums, "criterion", lambda *_: 0.0)
    with pytest.raises(NotConverged):
        fit_mixed(DYESTUFF, np.ones((30, 1)), SIX_OF_FIVE)

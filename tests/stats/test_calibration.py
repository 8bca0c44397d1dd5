"""Inverse prediction against a handbook's worked example and against R."""

import numpy as np
import pandas as pd
import places
import pytest
import statsmodels.api as sm
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from candlelab.stats.intervals import inverse_prediction

REFERENCE = pd.read_csv(places.REFERENCE / "planning_results.csv")


def line(x, y):
    return sm.OLS(np.asarray(y, float), sm.add_constant(np.asarray(x, float))).fit()


@pytest.mark.parametrize(
    ("y", "m", "x", "reach"),
    [(15, 1, 6.1, 4.9), (90, 1, 43.93983, 4.908053), (90, 5, 43.93983, 3.168489)],
)
def test_massart_example_7(y, m, x, reach):
    """Massart et al. 1997, Handbook of Chemometrics and Qualimetrics A, chapter 8, example 7
    (book: 6.1 +-
    4.9, 43.9 +- 4.9, +- 3.2)."""
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
    rows = REFERENCE[REFERENCE["what"] == "inverse"]
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


@given(st.floats(-3, 3), st.floats(0.5, 5), st.floats(0.01, 0.2), st.floats(-5, 5))
def test_the_interval_is_where_the_band_holds_the_value(intercept, slope, error, y):
    cov = np.diag([error**2, (error / 2.0) ** 2])
    found = inverse_prediction(intercept, slope, cov, y, 2.0)
    assert found.conf_low <= found.estimate <= found.conf_high
    for end in (found.conf_low, found.conf_high):
        band = 2.0 * np.sqrt(cov[0, 0] + end**2 * cov[1, 1])
        assert abs(intercept + slope * end - y) == pytest.approx(band, rel=1e-6, abs=1e-9)


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

"""Tolerance and prediction bounds against the tables of standards and against R."""

import numpy as np
import pandas as pd
import places
import pytest
from scipy import stats

from candlelab.stats.intervals import (
    lower_bounds,
    prediction_factor,
    share_above_smallest,
    tolerance_factor,
)

REFERENCE = pd.read_csv(places.REFERENCE / "planning_results.csv")


@pytest.mark.parametrize(
    ("n", "coverage", "confidence", "k"),
    [
        # ISO 16269-6, one-sided factors for unknown mean and standard deviation; the same stand in
        # MIL-HDBK-17 and
        # Owen 1963 (from memory; R gives the same, see below)
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
    approximation there gives 1.8752
    (read second-hand), the noncentral t 1.8740 (from memory); for a mean of 97.07 and sd 0.0268 the
    upper limit is 97.12.
    """
    k = tolerance_factor(43, 0.90, 0.99)
    assert k == pytest.approx(1.8740, abs=5e-5)
    assert k == pytest.approx(1.8752, abs=2e-3)
    assert 97.07 + k * 0.0268 == pytest.approx(97.12, abs=5e-4)


def test_factors_by_r():
    rows = REFERENCE[REFERENCE["what"] == "tolerance"]
    assert len(rows) == 72
    for row in rows.itertuples():
        assert tolerance_factor(int(row.a), row.b, row.c) == pytest.approx(row.value, rel=1e-6)


def test_prediction_factor_is_a_t_interval():
    """One further of n: t sqrt(1 + 1/n); for 3 at a one-sided 95 % 2.920 * 1.1547 (table of t:
    2.920 with 2 df)."""
    assert prediction_factor(3, 0.95) == pytest.approx(2.920 * 1.1547, abs=1e-3)


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

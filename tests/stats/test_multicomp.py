"""Largest of several t values: against scipy, R and printed tables."""

import numpy as np
import pytest
from scipy import stats

from candlelab.stats import multicomp


@pytest.mark.parametrize(("k", "df", "q"), [(4, 16, 4.05), (5, 10, 4.65)])
def test_printed_studentized_range(k, df, q):  # NIST/SEMATECH e-Handbook 7.4.7.1
    assert multicomp.all_pairs_t(0.95, k, [df])[0] * np.sqrt(2) == pytest.approx(q, abs=0.005)


@pytest.mark.slow
@pytest.mark.parametrize("k", [2, 3, 6, 12])
@pytest.mark.parametrize("df", [1.0, 1.5, 3.3, 6.0, 16.0, 996.0])
def test_all_pairs_against_scipy(k, df):
    q = np.array([0.5, 2.0, 3.5, 5.0, 9.0])
    expected = stats.studentized_range.sf(q, k, df)
    np.testing.assert_allclose(multicomp.all_pairs_p(q / np.sqrt(2), k, df), expected, atol=3e-6)
    t = multicomp.all_pairs_t(0.9, k, [df])[0]
    assert t * np.sqrt(2) == pytest.approx(stats.studentized_range.ppf(0.9, k, df), rel=5e-5)


def test_reference_interval_against_scipy_dunnett():
    rng = np.random.default_rng(2)
    groups = [rng.normal(0, 1, n) for n in (5, 4, 7)]
    found = stats.dunnett(*groups[1:], control=groups[0], rng=np.random.default_rng(1))
    n = np.array([4, 7])
    correlation = np.sqrt(np.outer(n / (n + 5), n / (n + 5)))
    np.fill_diagonal(correlation, 1.0)
    np.testing.assert_allclose(
        multicomp.against_reference_p(found.statistic, correlation, [13, 13]),
        found.pvalue,
        atol=5e-4,
    )


@pytest.mark.slow
def test_the_same_digits_each_time():
    correlation = np.full((3, 3), 0.5) + 0.5 * np.eye(3)
    first, second = (
        multicomp.against_reference_t(0.95, correlation, [7.2, 9.1, 7.2]) for _ in range(2)
    )
    np.testing.assert_array_equal(first, second)
    assert first[0] == first[2] > first[1]

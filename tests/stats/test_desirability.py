"""Draws of true means against the published hierarchical example, numerical integration and
Student's t."""

import numpy as np
import pytest
from scipy import integrate, stats

from candlelab.stats.desirability import draw_means


def one(*groups):
    """Values and codes of one quantity."""
    return np.concatenate(groups)[:, None].astype(float), np.repeat(
        np.arange(len(groups)), [len(g) for g in groups]
    )


def test_coagulation_times():
    """Box, Hunter and Hunter 1978; quartiles of the four true means from Gelman et al., Bayesian
    Data Analysis, table 11.3 (from memory). Their prior is uniform on the spread of the means
    instead of on the share of luck, so to half a unit."""
    values, code = one(
        [62, 60, 63, 59],
        [63, 67, 71, 64, 65, 66],
        [68, 66, 71, 67, 68, 68],
        [56, 62, 60, 61, 63, 64, 63, 59],
    )
    drawn = draw_means(values, code, seed=1, draws=40_000)[..., 0]
    published = np.array(
        [[60.6, 61.3, 62.1], [65.3, 65.9, 66.6], [67.1, 67.8, 68.5], [60.6, 61.1, 61.7]]
    )
    assert pytest.approx(published, abs=0.5) == np.quantile(drawn, [0.25, 0.5, 0.75], axis=0).T


def test_share_of_luck_by_numerical_integration():
    """Balanced plan: the posterior of the share of luck is x^((k-1)/2 - 1/2) (within + x
    between)^(-(N-1)/2), here by quadrature."""
    groups = [
        np.array(g) for g in ([5.0, 5.3, 5.4], [5.2, 5.6, 5.3], [5.9, 5.5, 5.8], [5.1, 5.5, 5.4])
    ]
    values, code = one(*groups)
    m = np.array([g.mean() for g in groups])
    within, between = (
        sum(np.square(g - g.mean()).sum() for g in groups),
        3 * np.square(m - m.mean()).sum(),
    )
    mass = [
        integrate.quad(lambda x, e=e: x ** (1.0 + e) * (within + x * between) ** -5.5, 0, 1)[0]
        for e in (0, 1)
    ]
    kept = 1 - mass[1] / mass[0]
    drawn = draw_means(values, code, seed=2, draws=200_000)[..., 0]
    assert drawn.mean(axis=0) == pytest.approx(m.mean() + kept * (m - m.mean()), abs=0.002)
    # variance of a difference of two true means: within a share of luck, and of the share itself
    scale = (
        integrate.quad(
            lambda x: (
                x * (within + x * between) ** -5.5 * (1 - x) * (within + x * between) / 9 * 2 / 3
            ),
            0,
            1,
        )[0]
        / mass[0]
    )
    square = (
        integrate.quad(lambda x: x * (within + x * between) ** -5.5 * (1 - x) ** 2, 0, 1)[0]
        / mass[0]
    )
    assert np.var(drawn[:, 2] - drawn[:, 0]) == pytest.approx(
        scale + (square - kept**2) * (m[2] - m[0]) ** 2, rel=0.02
    )


def test_far_apart_each_mean_keeps_its_own_t_interval():
    """Candidates 1,000 spreads apart share only their spread. Integrating the share of luck out
    leaves Student's t with one degree of freedom fewer than the candles have (6 - 1): the prior is
    loose on shares, so it leans to a larger spread of candles."""
    rng = np.random.default_rng(3)
    groups = [centre + rng.standard_normal(3) for centre in (0.0, 1000.0, 2500.0)]
    values, code = one(*groups)
    drawn = draw_means(values, code, seed=3, draws=100_000)[..., 0]
    pooled = np.sqrt(sum(np.square(g - g.mean()).sum() for g in groups) / 5)
    for j, g in enumerate(groups):
        for share in (0.05, 0.25, 0.75, 0.95):
            at = g.mean() + stats.t.ppf(share, 5) * pooled / np.sqrt(3)
            assert (drawn[:, j] < at).mean() == pytest.approx(share, abs=0.015)


def test_what_goes_together_stays_together():
    rng = np.random.default_rng(4)
    first = rng.standard_normal(30)
    values = np.column_stack(
        [first + np.repeat([0, 50, 100], 10), -first + np.repeat([0, 50, 100], 10)]
    )
    drawn = draw_means(values, np.repeat(np.arange(3), 10), seed=4, draws=4000)
    left = drawn - drawn.mean(axis=0)
    assert np.corrcoef(left[:, 1, 0], left[:, 1, 1])[0, 1] < -0.9


def test_seeded_and_nothing_changed():
    values, code = one([5.0, 5.2, 5.4], [5.1, 5.6, 5.9])
    before = values.copy()
    assert np.array_equal(
        draw_means(values, code, seed=5, draws=50), draw_means(values, code, seed=5, draws=50)
    )
    assert not np.array_equal(
        draw_means(values, code, seed=5, draws=50), draw_means(values, code, seed=6, draws=50)
    )
    assert np.array_equal(values, before)


def test_missing_numbers_and_no_spread():
    gap = np.array(
        [[5.0, np.nan], [5.2, 1.0], [5.4, 1.1], [6.0, np.nan], [6.1, np.nan], [6.3, np.nan]]
    )
    drawn = draw_means(gap, np.repeat([0, 1], 3), seed=7, draws=100)
    assert np.isnan(drawn[:, 1, 1]).all()
    assert np.isfinite(drawn[:, 0, 1]).all()
    assert np.isfinite(drawn[..., 0]).all()
    assert draw_means(np.array([[5.0], [6.0]]), np.array([0, 1]), seed=7, draws=100) is None
    flat = draw_means(*one([5.0, 5.0], [6.0, 6.0]), seed=7, draws=100)[..., 0]
    assert np.array_equal(flat, np.tile([5.0, 6.0], (100, 1)))

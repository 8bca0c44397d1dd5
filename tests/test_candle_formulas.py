"""The formulas against numbers from outside, other software, and brute force."""

import numpy as np
import pytest
from places import REFERENCE
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from candlelab import candle_formulas as formulas

# ---------------------------------------------------------------- burn rate, heat, fragrance


def test_heat_release_of_a_measured_candle():
    # 0.105 g/min, 43.8 kJ/g, calorimeter 77 +- 9 W: Hamins, Bundy, Dillon, J. Fire Prot. Eng.
    # 15(4), 2005 (abstract; the mass rate read second-hand). 0.105 * 43800 / 60 = 76.65 W.
    watts = formulas.heat_release(0.105 * 60)
    assert watts == pytest.approx(76.65, abs=0.005)
    assert 77 - 9 <= watts <= 77 + 9
    assert formulas.heat_release(0.105 * 60, 43.8) == watts


def test_the_standard_candle_of_the_law():
    # 120 grains an hour, a sixth of a pound: New York General Business Law s. 321.
    # A grain is 64.79891 mg, a pound 453.59237 g, exactly (NIST SP 811).
    rate = 120 * 0.06479891
    assert rate == pytest.approx(7.7758692, abs=1e-7)
    hours = 453.59237 / 6 / rate
    assert hours == pytest.approx(9.7222, abs=5e-5)
    assert formulas.burn_rate(75.59873, hours) == pytest.approx(7.7758692, abs=1e-6)
    assert formulas.wax_used(453.59237 / 6, 0) == pytest.approx(75.59873, abs=5e-6)


@pytest.mark.parametrize("hours", [0.0, -1.0, np.nan])
def test_no_burn_rate_without_a_time(hours):
    assert np.isnan(formulas.burn_rate(10.0, hours))
    assert np.isnan(formulas.burn_rate_uncertainty(10.0, hours, 0.1, 0.01))


def test_a_rounded_display_and_a_repeatability():
    # JCGM 100:2008 (GUM), F.2.2.1: a display that rounds to 1 has u = 0.29.
    assert formulas.reading_uncertainty(1.0, 0.0) == pytest.approx(0.29, abs=0.002)
    assert formulas.reading_uncertainty(1.0, 0.0) == pytest.approx(1 / np.sqrt(12))
    assert formulas.reading_uncertainty(0.0, 0.3) == 0.3
    # By hand: sqrt(0.12 ** 2 / 12 + 0.04 ** 2) = sqrt(0.0012 + 0.0016).
    assert formulas.reading_uncertainty(0.12, 0.04) == pytest.approx(np.sqrt(0.0028))


def test_rate_uncertainty_is_the_gum_sum_over_four_readings():
    before, after, lit, out, u_mass, u_time = 497.5, 481.3, 9.0, 13.08, 0.05, 0.0049
    readings, u = np.array([before, after, lit, out]), np.array([u_mass, u_mass, u_time, u_time])

    def rate(r):
        return (r[0] - r[1]) / (r[3] - r[2])

    step = 1e-5 * np.eye(4)
    slopes = np.array([(rate(readings + s) - rate(readings - s)) / 2e-5 for s in step])
    ours = formulas.burn_rate_uncertainty(before - after, out - lit, u_mass, u_time)
    assert ours == pytest.approx(np.sqrt(np.sum((slopes * u) ** 2)), rel=1e-6)
    # The same with u_t for the whole burn time, sqrt(2) of that of one reading:
    # 2 u_m^2 / t^2 + (m u_t / t^2)^2.
    mass, time, u_burn_time = before - after, out - lit, np.sqrt(2) * u_time
    assert ours == pytest.approx(
        np.sqrt(2 * u_mass**2 / time**2 + (mass * u_burn_time / time**2) ** 2), rel=1e-12
    )


def test_rate_uncertainty_against_monte_carlo():
    rng, n = np.random.default_rng(3), 200_000
    resolution, repeatability, minutes = 0.1, 0.04, 1.0
    ends = np.array([[400.03], [380.87]]) + rng.normal(0, repeatability, (2, n))
    ends = np.round(ends / resolution) * resolution
    clock = rng.uniform(-0.5, 0.5, (2, n)) * minutes / 60
    rates = (ends[0] - ends[1]) / (4 + clock[1] - clock[0])
    u_mass = formulas.reading_uncertainty(resolution, repeatability)
    u_time = formulas.reading_uncertainty(minutes, 0) / 60
    ours = formulas.burn_rate_uncertainty(19.16, 4.0, u_mass, u_time)
    # A standard deviation of n values has the relative error 1 / sqrt(2 n) = 0.16 %; rounding is
    # not quite a rectangle.
    assert ours == pytest.approx(rates.std(), rel=0.03)


def test_fragrance_on_both_bases():
    # 8 g on 100 g of wax are 8 g in 108 g; that is 7.407 % of the fill.
    assert formulas.fragrance_fraction(8, "wax") == pytest.approx(8 / 108)
    assert formulas.fragrance_fraction(8, "total") == pytest.approx(0.08)
    loads = np.linspace(0, 15, 7)
    of_total = 100 * formulas.fragrance_fraction(loads, "wax")
    np.testing.assert_allclose(
        formulas.fragrance_fraction(of_total, "total"), formulas.fragrance_fraction(loads, "wax")
    )
    more = loads[1:]
    of_wax, of_total = (formulas.fragrance_fraction(more, basis) for basis in ("wax", "total"))
    assert (of_wax < of_total).all()
    assert formulas.fragrance_release(5.4, 8, "wax") == pytest.approx(0.4)
    with pytest.raises(ValueError, match="load basis must be wax or total, not 'oil'"):
        formulas.fragrance_fraction(8, "oil")


# ---------------------------------------------------------------- pool, wall, gaps


def test_pool_share_and_full_pool():
    assert formulas.pool_share(37, 74) == 50
    # A margin of 3 mm to the wall on either side: 68 mm in a vessel of 74 mm (common practice,
    # no source).
    assert formulas.full_pool_width(74) == 68
    assert formulas.full_pool_width(74, margin_mm=1.0) == 72


def test_wall_in_a_warm_room():
    # The test range ends at 30 °C (ASTM F2417, second-hand); the correction is our own
    # approximation.
    assert formulas.warm_room_wall(55.0, 22.5) == 62.5
    assert formulas.warm_room_wall(55.0, 30.0) == 55.0
    assert formulas.warm_room_wall(55.0, 32.0, warm_room_c=35.0) == 58.0
    assert np.isnan(formulas.warm_room_wall(55.0, np.nan))


@pytest.mark.parametrize(
    ("looks", "lasted", "longest"),
    [
        ([60, 120, 180, 240], 240, 60),
        ([60, 120, 180, 240], 252, 60),
        ([60, 180, 240], 240, 120),  # one missed in the middle
        ([120, 180, 240], 240, 120),  # the first missed
        ([60, 120], 240, 120),  # the end unseen
        ([240, 60, 180, 120], 240, 60),  # in any order
        ([], 240, 240),
    ],
)
def test_longest_gap_by_hand(looks, lasted, longest):
    burn = np.zeros(len(looks), dtype=int)
    assert formulas.longest_gap(burn, looks, [lasted]).tolist() == [longest]


def test_longest_gap_against_brute_force():
    rng = np.random.default_rng(8)
    for _ in range(50):
        lasted = rng.integers(1, 400, rng.integers(1, 9)).astype(float)
        burn = rng.integers(0, len(lasted), rng.integers(0, 30))
        elapsed = np.round(rng.uniform(0, 1, len(burn)) * lasted[burn])
        looks = [[0.0, *sorted(elapsed[burn == n]), end] for n, end in enumerate(lasted)]
        expected = [max(np.diff(times)) for times in looks]
        assert formulas.longest_gap(burn, elapsed, lasted).tolist() == expected


# ---------------------------------------------------------------- statistics


@pytest.mark.parametrize(
    ("candles", "bound_pct", "places"),
    [(3, 63.2, 1), (5, 45.1, 1), (6, 39.3, 1), (10, 25.9, 1), (29, 9.8, 1), (59, 4.95, 2)],
)
def test_no_failure_leaves_a_failure_rate(candles, bound_pct, places):
    # 1 - 0.05 ** (1 / n), the success-run formula, worked out with other software.
    ours = 100 * float(formulas.failure_rate_upper(0, candles))
    assert round(ours, places) == bound_pct
    assert ours == pytest.approx(100 * (1 - 0.05 ** (1 / candles)))


@pytest.mark.parametrize(
    ("n", "reliability", "confidence"),
    [(22, 0.9, 0.9), (29, 0.9, 0.95), (45, 0.95, 0.9), (59, 0.95, 0.95)],
)
def test_candles_needed_without_failure(n, reliability, confidence):
    # ceil(ln(1 - C) / ln R): 22, 29, 45, 59 candles; one candle fewer does not show it.
    assert formulas.failure_rate_upper(0, n, confidence) <= 1 - reliability
    assert formulas.failure_rate_upper(0, n - 1, confidence) > 1 - reliability


def test_failure_rate_against_scipy_and_statsmodels():
    k, n = (a.ravel() for a in np.meshgrid(np.arange(0, 12), np.arange(1, 40)))
    k, n = k[k < n], n[k < n]
    ours = formulas.failure_rate_upper(k, n)
    np.testing.assert_allclose(ours, stats.beta.ppf(0.95, k + 1, n - k), rtol=1e-10)
    np.testing.assert_allclose(
        ours, proportion_confint(k, n, alpha=0.10, method="beta")[1], rtol=1e-10
    )
    # Exact two-sided 90 % interval of 4 out of 20, upper end: 0.401029, NIST/SEMATECH e-Handbook
    # 7.2.4.1 (printed 9e-7 too high).
    assert formulas.failure_rate_upper(4, 20) == pytest.approx(0.401029, abs=2e-6)


def test_failure_rate_at_its_ends():
    assert np.isnan(formulas.failure_rate_upper(0, 0))
    assert formulas.failure_rate_upper(3, 3) == 1
    assert formulas.failure_rate_upper([0, 1], [3, 3]).shape == (2,)


def certified():
    """NIST's certified Norris regression and its data."""
    lines = (REFERENCE / "Norris.dat").read_text().splitlines()
    b0, b1 = (
        next(line for line in lines if line.split()[:1] == [name]).split()[1:]
        for name in ("B0", "B1")
    )
    sd = next(
        line for line in lines if line.strip().startswith("Standard Deviation   0.8")
    ).split()[-1]
    data = np.array([line.split() for line in lines[60:96]], dtype=float)
    return [float(v) for v in (*b0, *b1, sd)], data[:, 1], data[:, 0]


def test_line_against_the_certified_norris_values():
    # NIST StRD, Norris: file tests/reference/Norris.dat, see SOURCES.md there.
    (b0, _, b1, b1_sd, sd), x, y = certified()
    assert (b1, b1_sd, sd) == (1.00211681802045, 0.429796848199937e-03, 0.884796396144373)
    line = formulas.grouped_line(np.zeros(36, dtype=int), x, y, 1)
    assert line["slope"][0] == pytest.approx(b1, rel=1e-12)
    assert line["slope_u"][0] == pytest.approx(b1_sd, rel=1e-11)
    assert line["residual_sd"][0] == pytest.approx(sd, rel=1e-11)
    assert line["y_mean"][0] - line["slope"][0] * line["x_mean"][0] == pytest.approx(b0, rel=1e-9)


def test_lines_of_many_groups_against_scipy():
    rng = np.random.default_rng(5)
    group = rng.integers(0, 20, 300)
    x, y = rng.uniform(0, 1, 300), rng.normal(5, 1, 300)
    x[::11], y[::13] = np.nan, np.nan
    lines = formulas.grouped_line(group, x, y, 21)
    for n in range(20):
        keep = (group == n) & np.isfinite(x) & np.isfinite(y)
        other = stats.linregress(x[keep], y[keep])
        assert lines["n"][n] == keep.sum()
        assert lines["slope"][n] == pytest.approx(other.slope)
        assert lines["slope_u"][n] == pytest.approx(other.stderr)
        assert lines["y_mean"][n] == pytest.approx(other.intercept + other.slope * x[keep].mean())
    assert lines["n"][20] == 0
    assert np.isnan([lines[name][20] for name in ("slope", "slope_u", "residual_sd")]).all()


def test_a_line_needs_enough_points():
    group = [0, 1, 1, 2, 2, 2]
    lines = formulas.grouped_line(group, [0.1, 0.1, 0.3, 0.2, 0.2, 0.2], [5, 5, 6, 5, 6, 7], 3)
    np.testing.assert_allclose(lines["slope"], [np.nan, 5.0, np.nan])
    assert np.isnan(lines["slope_u"]).all()
    assert np.isnan(lines["residual_sd"]).all()


def test_t_quantile():
    # Two-sided 95 %, 2 and 10 degrees of freedom: 4.303 and 2.228, any table of Student's t.
    np.testing.assert_allclose(formulas.t_quantile(0.975, [2, 10]), [4.303, 2.228], atol=5e-4)
    df = np.array([1.0, 3.0, 7.5, 60.0])
    np.testing.assert_allclose(formulas.t_quantile(0.9, df), stats.t.ppf(0.9, df), rtol=1e-10)
    assert np.isnan(formulas.t_quantile(0.975, [0.0, -1.0, np.nan])).all()

"""Masses of wax and fragrance: worked by hand, and the identities that hold after rounding too."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from candlelab.plan.weighing import fill_density, pour_total, share_out, to_order, weigh


# By hand: 8 g on 100 g of wax make 108 g, so 200 g hold 200 * 8 /
# 108 = 14.81 g; 8 % of 200 g are 16 g.
@pytest.mark.parametrize(
    ("total", "load", "basis", "step", "expected"),
    [
        (200, 8, "wax", 0.1, (200.0, 185.2, 14.8)),
        (200, 8, "total", 0.1, (200.0, 184.0, 16.0)),
        (200, 8, "wax", 1, (200.0, 185.0, 15.0)),
        (108, 8, "wax", 0.01, (108.0, 100.0, 8.0)),
        (200.04, 0, "wax", 0.1, (200.0, 200.0, 0.0)),
        (150, 100, "wax", 0.1, (150.0, 75.0, 75.0)),
        (
            7.0555,
            10,
            "total",
            0.005 * 28.349523125,
            (7.087380781, 6.378642703, 0.708738078),
        ),  # a scale in steps of 0.005 oz
    ],
)
def test_worked_by_hand(total, load, basis, step, expected):
    w = weigh(total, load, basis, step)
    assert (w.total_g, w.wax_g, w.fragrance_g) == pytest.approx(expected, abs=1e-9)


def test_rounding_up_suffices_and_rounding_alone_may_not():
    assert weigh(200.01, 8, "wax", 0.1, up=True).total_g == 200.1
    assert weigh(200.01, 8, "wax", 0.1).total_g == 200.0
    assert (
        weigh(200.1, 8, "wax", 0.1, up=True).total_g == 200.1
    )  # no step more for the last binary digit


@given(
    st.floats(20, 5000),
    st.floats(0, 99),
    st.sampled_from(["wax", "total"]),
    st.sampled_from([0.001, 0.01, 0.05, 0.1, 0.5, 1.0, 0.141747615625]),
    st.booleans(),
)
def test_wax_and_fragrance_are_the_fill_and_whole_steps(total, load, basis, step, up):
    w = weigh(total, load, basis, step, up=up)
    assert w.wax_g + w.fragrance_g == pytest.approx(w.total_g, abs=1e-8)
    for grams in (w.total_g, w.wax_g, w.fragrance_g):
        assert grams >= 0
        assert grams / step == pytest.approx(round(grams / step), abs=1e-4)
    assert (
        -1e-6 * step <= w.total_g - total <= step * 1.000001
        if up
        else abs(w.total_g - total) <= step / 2 * 1.000001
    )
    share = load / (100 + load) if basis == "wax" else load / 100
    assert abs(w.fragrance_g - share * w.total_g) <= step / 2 * 1.000001
    if w.wax_g and step <= 0.1:
        assert w.load_pct(basis) == pytest.approx(
            load, abs=100 * step * (1 + load / 100) ** 2 / max(w.wax_g, 1e-9)
        )


@pytest.mark.parametrize(("load", "basis"), [(100, "total"), (120, "total"), (-101, "wax")])
def test_a_load_that_leaves_no_wax_is_refused(load, basis):
    with pytest.raises(ValueError, match="leaves no wax"):
        weigh(200, load, basis, 0.1)


def test_density_of_a_mix_by_hand():
    # 100 g of wax at 0.9 g/ml take 111.11 ml, 8 g of oil at 1.0 g/ml take 8 ml: 108 g in 119.11 ml
    assert fill_density(8, "wax", 0.9, 1.0) == pytest.approx(108 / (100 / 0.9 + 8))
    assert fill_density(8, "total", 0.9, 1.0) == pytest.approx(100 / (92 / 0.9 + 8))
    assert fill_density(8, "wax", 0.9) == pytest.approx(0.9)
    assert fill_density(0, "wax", 0.86, 1.1) == 0.86


def test_losses_are_a_share_of_what_is_weighed_out():
    assert pour_total([97.0], 3) == pytest.approx(100.0)
    assert pour_total([200.0, 200.0], 0) == 400.0
    with pytest.raises(ValueError, match="leave nothing to pour"):
        pour_total([100.0], 100)


def test_pours_are_few_equal_and_none_is_over_the_jug():
    assert share_out([200.0] * 16, 3, 1400) == [
        6,
        5,
        5,
    ]  # six candles and their loss are 1,237 g, seven 1,443 g
    assert share_out([200.0] * 16, 0, 3200) == [16]
    assert share_out([200.0] * 16, 0, 3199) == [8, 8]
    with pytest.raises(ValueError, match="does not hold one candle"):
        share_out([200.0], 3, 200)


@given(st.lists(st.floats(20, 900), min_size=1, max_size=40), st.floats(0, 20))
def test_every_jug_holds_its_pour(fills, losses):
    sizes = share_out(fills, losses, 1200)
    assert sum(sizes) == len(fills)
    assert max(sizes) - min(sizes) <= 1
    start = 0
    for size in sizes:
        assert math.fsum(fills[start : start + size]) / (1 - losses / 100) <= 1200 + 1e-6
        start += size


@pytest.mark.parametrize(
    ("needed", "reserve", "expected"),
    [(3051.6, 10, 3357), (16, 10, 18), (20, 10, 22), (10, 0, 10), (0, 10, 0)],
)
def test_what_to_order(needed, reserve, expected):
    assert to_order(needed, reserve) == expected

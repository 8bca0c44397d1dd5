"""Places on the bench, and candidates dealt out to them by lot: in
balance, apart, and the same for the same seed."""

import functools
import math
from collections import Counter

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from candlelab.plan.layout import bench_positions, lay_out, nearest_gap
from candlelab.plan.settings import BenchTop, Layout

ONE = {"window": BenchTop(1800.0, 700.0)}
TWO = ONE | {"wall": BenchTop(1500.0, 450.0)}


def test_places_counted_by_hand():
    # 1800 - 84 - 2 * 50 = 1616 mm for steps of at least 284 mm: 5 steps, 6
    # places; 700 - 184 = 516: 1 step, 2 rows
    places = bench_positions(ONE, Layout(), 84.0)
    assert len(places) == 12
    assert list(places["bench_position"][:4]) == ["A1", "B1", "B2", "A2"]
    assert nearest_gap(places, 84.0) == pytest.approx(1616 / 5 - 84)
    assert list(bench_positions(TWO, Layout(), 84.0)["bench_position"])[::11] == [
        "window A1",
        "window A6",
    ]


def test_a_bench_just_wide_enough_and_one_too_small():
    assert list(
        bench_positions({"b": BenchTop(184.0, 184.0)}, Layout(), 84.0)[["x_mm", "y_mm"]].iloc[0]
    ) == [92.0, 92.0]
    assert len(bench_positions({"b": BenchTop(183.0, 700.0)}, Layout(), 84.0)) == 0
    assert len(bench_positions({"b": BenchTop(184.0 + 284.0, 184.0)}, Layout(), 84.0)) == 2
    assert len(bench_positions({"b": BenchTop(183.9 + 284.0, 184.0)}, Layout(), 84.0)) == 1
    assert math.isinf(
        nearest_gap(bench_positions({"b": BenchTop(184.0, 184.0)}, Layout(), 84.0), 84.0)
    )


@pytest.mark.slow
@given(
    st.floats(100, 3000),
    st.floats(100, 2000),
    st.floats(40, 150),
    st.floats(0, 400),
    st.floats(0, 100),
)
def test_candles_never_stand_closer_than_the_setting_nor_over_the_edge(
    length, depth, width, spacing, edge
):
    layout = Layout(spacing_mm=spacing, edge_mm=edge)
    places = bench_positions({"b": BenchTop(length, depth)}, layout, width)
    assert nearest_gap(places, width) >= spacing - 0.11  # places are given to 0.1 mm
    for axis, size in (("x_mm", length), ("y_mm", depth)):
        assert (places[axis] - width / 2 >= edge - 0.06).all()
        assert (places[axis] + width / 2 <= size - edge + 0.06).all()
    assert places["bench_position"].is_unique


def laid_out(n_candidates, each, groups=1, benches=TWO, seed=1):
    layout = Layout(seed=seed, spacing_mm=60.0)
    names = {f"wick {i}": each for i in range(n_candidates)}
    return lay_out(names, places_of(len(benches)), groups=groups, layout=layout)


@functools.cache
def places_of(benches):
    """The places of one bench or of two, whatever the seed."""
    return bench_positions(TWO if benches == 2 else ONE, Layout(spacing_mm=60.0), 84.0)


@pytest.mark.slow
@settings(max_examples=40)
@given(st.integers(1, 8), st.integers(1, 5), st.integers(1, 4), st.integers(1, 10**6))
def test_groups_and_rounds_have_as_many_of_each_give_or_take_one(n_candidates, each, groups, seed):
    table = laid_out(n_candidates, each, groups, seed=seed)
    assert Counter(table["candidate"]) == {f"wick {i}": each for i in range(n_candidates)}
    assert table["candle"].is_unique
    assert table["bench_position"].is_unique
    per_group = pd.crosstab(table["candidate"], table["day_group"])
    assert (per_group.max() - per_group.min()).max() <= 1
    assert (per_group.max(axis=1) - per_group.min(axis=1)).max() <= 1
    assert table["day_group"].value_counts().max() - table["day_group"].value_counts().min() <= 1
    in_round = table.groupby(["day_group", "bench", "round"])["candidate"]
    assert (in_round.size() == in_round.nunique()).all()  # no candidate twice in a round
    for _, block in table.groupby(["day_group", "bench"]):
        assert block["round"].is_monotonic_increasing  # a round is a stretch of the bench


def test_candidates_with_other_numbers_all_get_their_candles():
    layout = Layout(seed=3)
    table = lay_out(
        {"a": 6, "b": 3, "c": 1}, bench_positions(TWO, layout, 84.0), groups=2, layout=layout
    )
    assert Counter(table["candidate"]) == {"a": 6, "b": 3, "c": 1}
    assert Counter(table.loc[table["candidate"] == "a", "day_group"]) == {1: 3, 2: 3}


@pytest.mark.slow
def test_a_candidate_with_one_candle_may_stand_anywhere():
    first = Counter()
    places = bench_positions(ONE, Layout(), 84.0)
    for seed in range(1, 401):
        table = lay_out({"a": 4, "b": 4, "c": 1}, places, groups=1, layout=Layout(seed=seed))
        first[int(table.index[table["candidate"] == "c"][0])] += 1
    # four rounds, a quarter of the draws each: places 0-2, 2-4, 4-6
    # and 6-8; every place has its chance
    assert set(first) == set(range(9))
    assert max(first.values()) < 0.25 * 400


def test_the_same_seed_gives_the_same_places_and_another_gives_others():
    pd.testing.assert_frame_equal(laid_out(6, 3), laid_out(6, 3))
    assert (laid_out(6, 3, seed=1)["candidate"] != laid_out(6, 3, seed=2)["candidate"]).any()


@pytest.mark.slow
def test_every_candidate_is_as_likely_at_every_place():
    """800 draws of four candidates on eight places: no chi-square of
    a place is beyond its 99.99 % point."""
    counts = np.zeros((8, 4))
    for seed in range(1, 801):
        table = laid_out(4, 2, benches=ONE, seed=seed)
        counts[np.arange(8), [int(name[-1]) for name in table["candidate"]]] += 1
    chi2 = ((counts - 200) ** 2 / 200).sum(axis=1)
    assert chi2.max() < stats.chi2.ppf(0.9999, 3)


def test_numbers_run_along_the_bench_and_tell_nothing_of_the_wick():
    table = laid_out(4, 3, groups=2)
    assert list(table["candle"]) == [f"C{n:02d}" for n in range(1, 13)]
    order = list(bench_positions(TWO, Layout(spacing_mm=60.0), 84.0)["bench_position"])
    at = [order.index(place) for place in table["bench_position"]]
    assert at == sorted(at)


def test_more_candles_than_places():
    with pytest.raises(ValueError, match="13 candles and 12 places"):
        lay_out({"a": 13}, bench_positions(ONE, Layout(), 84.0), groups=1, layout=Layout())

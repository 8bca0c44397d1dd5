"""Figures draw every row of their table, carry words, and take text as the text it is."""

import matplotlib
import numpy as np
import pandas as pd
import pytest

matplotlib.use("Agg")

from matplotlib import pyplot as plt
from places import DEMO

from candlelab.logs.batch import read_batch
from candlelab.report import figures, panels
from candlelab.report.results import batch_results


@pytest.fixture(scope="module")
def results():
    return batch_results(read_batch(DEMO / "screening"))


@pytest.fixture(autouse=True)
def close():
    yield
    plt.close("all")


def _points(ax):
    return sum(len(line.get_xdata()) for line in ax.lines)


def test_burn_rates_show_every_burn(results):
    figure = panels.draw_burn_rates(results.burns)
    assert sum(_points(ax) for ax in figure.axes) == len(results.burns)
    assert {ax.get_title(loc="left") for ax in figure.axes} == set(results.burns["candidate"])
    assert "square braid 2 5.7" in figure.get_label()


def test_walls_show_every_burn_and_both_limits(results):
    figure = figures.draw_wall_temperatures(results.burns, caution_c=60, stop_c=65)
    (ax,) = figure.axes
    assert [len(c.get_offsets()) for c in ax.collections] == [len(results.burns)] * 2
    assert [line.get_xdata()[0] for line in ax.lines] == [60, 65]
    assert "Candles over the stop limit: 1." in figure.get_label()


def test_pools_show_every_check(results):
    figure = panels.draw_pool_growth(results.pool_checks, full_pct=results.full_pool_pct)
    axes = [ax for ax in figure.axes if ax.get_title(loc="left")]
    later = sum(
        len(path.vertices) - 1
        for ax in axes
        for group in ax.collections
        for path in group.get_paths()
    )
    drawn = later + sum(
        len(line.get_xdata()) - 1 for ax in axes for line in ax.lines if line.get_marker() == "o"
    )
    assert drawn == len(results.pool_checks)
    assert results.full_pool_pct == pytest.approx(100 * 68 / 74)


def test_wax_left_shows_every_candle(results):
    figure = figures.draw_wax_left(results.candles, hang_up_pct=5)
    (ax,) = figure.axes
    assert sorted(p.get_width() for p in ax.patches) == sorted(results.candles["wax_left_pct"])
    assert len([p for p in ax.patches if p.get_hatch()]) == 4  # S03 drowned; S16, S17, S18 put out


def test_wick_changes_show_every_change(results):
    figure = figures.draw_wick_changes(results.changes)
    assert [len(ax.lines) for ax in figure.axes] == [2, 2, 2]
    assert "S01, flat braid 3 to flat braid 4: 3.8 to 5.2 g/h." in figure.get_label()


@pytest.mark.parametrize("name", ["$x_1$ & <b>", "50 % {braid}", "läng\u00adere_^Δ", "a" * 60])
def test_names_are_drawn_as_they_are(results, name):
    burns = results.burns.assign(candidate=name, candle="$" + results.burns["candle"])
    figure = panels.draw_burn_rates(burns)
    figure.canvas.draw()
    assert figure.axes[0].get_title(loc="left") == name


def test_one_burn_of_one_candle_and_missing_readings_can_be_drawn(results):
    one = results.burns.head(1).assign(wall_max_c=np.nan, wall_max_warm_room_c=np.nan)
    for figure in (
        panels.draw_burn_rates(one),
        figures.draw_wall_temperatures(one, caution_c=60, stop_c=65),
    ):
        figure.canvas.draw()
    pools = results.pool_checks.head(1)
    panels.draw_pool_growth(pools, full_pct=90).canvas.draw()


def test_tables_are_not_changed_and_the_style_stays_inside(results):
    before, style = results.burns.copy(), dict(matplotlib.rcParams)
    panels.draw_burn_rates(results.burns)
    pd.testing.assert_frame_equal(results.burns, before)
    assert dict(matplotlib.rcParams) == style


def test_long_names_are_shortened_in_the_middle_and_wrapped():
    assert panels.short("flat braid 2", 20) == "flat braid 2"
    assert panels.short("abcdefghij", 7) == "abc\u2026hij"
    assert len(panels.short("x" * 99, 20)) == 20


@pytest.mark.slow
@pytest.mark.parametrize("name", ["y " * 80, "z" * 150])
def test_long_names_leave_room_for_the_drawing(results, name):
    burns = results.burns.assign(
        candidate=name + results.burns["candidate"], candle=name + results.burns["candle"]
    )
    for figure in (
        panels.draw_burn_rates(burns),
        figures.draw_wall_temperatures(burns, caution_c=60, stop_c=65),
    ):
        figure.canvas.draw()
        assert all(ax.get_position().width > 0.25 for ax in figure.axes)


def test_the_key_of_many_candles_gives_way_to_their_number(results):
    one = results.burns[results.burns["candle"] == "S10"]
    burns = pd.concat([one.assign(candle=f"K{n}") for n in range(30)])
    (ax,) = panels.draw_burn_rates(burns).axes
    assert ax.get_legend() is None
    assert ax.texts[0].get_text() == "30 candles"


def test_bars_below_nothing_and_limits_with_a_fraction_are_shown(results):
    candles = results.candles.assign(wax_left_pct=-1.5)
    figure = figures.draw_wax_left(candles, hang_up_pct=5)
    assert figure.axes[0].get_xlim()[0] < -1.5
    figure = figures.draw_wall_temperatures(results.burns, caution_c=62.5, stop_c=65)
    assert "62.5 degrees" in figure.get_label()
    assert "caution 62.5 °C" in [t.get_text() for t in figure.axes[0].texts]

"""Figures draw every row of their table, carry words, and take text as the text it is."""

import itertools

import matplotlib
import numpy as np
import pandas as pd
import pytest

matplotlib.use("Agg")

from batches import read
from matplotlib import pyplot as plt
from places import DEMO

from candlelab.judge.margins import reading_limits
from candlelab.pages.figure_style import INK, SOFT, label_ends, short
from candlelab.pages.small_panels import Sheet
from candlelab.report import figures, life, panels
from candlelab.report.results import batch_results
from candlelab.units import Display


@pytest.fixture(scope="module")
def results():
    return batch_results(read(DEMO / "screening"))


@pytest.fixture(autouse=True)
def close():
    yield
    plt.close("all")


def _lines(figure, **look):
    """The lines of a figure of small panels that look so."""
    return [
        line
        for line in figure.axes[0].lines
        if all(getattr(line, f"get_{name}")() == value for name, value in look.items())
    ]


def _signs(figure, *, but=""):
    """Where signs stand, of whatever look: x and y in points."""
    marked = [
        line for line in figure.axes[0].lines if line.get_marker() not in ("", "None", None, but)
    ]
    points = np.concatenate([line.get_xydata() for line in marked])
    return points[np.isfinite(points).all(axis=1)]


def _texts(figure):
    return [text.get_text() for text in figure.axes[0].texts]


def test_burn_rates_show_every_burn(results):
    figure = panels.draw_burn_rates(results.burns)
    assert len(_signs(figure)) == len(results.burns)
    assert set(results.burns["candidate"]) <= set(_texts(figure))
    assert "square braid 2 5.7" in figure.get_label()


def test_a_small_panel_draws_a_burn_where_its_scales_say():
    sheet = Sheet((2.0, 1.0), 1, 2, left=0.5, right=0.0, bottom=0.5, top=0.0, beside=0.5,
                  between=0.0)  # fmt: skip
    panel = sheet.panel(0, 1, (0.0, 10.0), (0.0, 4.0))
    panel.line([0.0, 5.0, 10.0], [0.0, 1.0, 4.0], color="black")
    panel.line([2.0], [2.0], color="black")
    (line,) = sheet.drawn().axes[0].lines
    width = 72.0 * 1.5 / 2.5
    left = 36.0 + 1.5 * width
    at = [[left, 36.0], [left + width / 2.0, 45.0], [left + width, 72.0], [np.nan] * 2,
          [left + width / 5.0, 54.0]]  # fmt: skip
    np.testing.assert_allclose(line.get_xydata(), at)


def _life(results, burns=None):
    return life.draw_life(
        results.burns if burns is None else burns,
        limits=reading_limits(results.batch.settings),
        order=list(results.ranking["candidate"]),
    )


def test_lives_show_every_burn_against_the_strictest_limit(results):
    figure = _life(results)
    limits = {"wall_max_c": 65.0, "flame_max_mm": 75.0, "pool_depth_max_mm": 13.0}
    assert reading_limits(results.batch.settings) == limits
    burns = results.burns
    assert len(_signs(figure, but="X")) == burns[list(limits)].notna().to_numpy().sum()
    over = sum(burns.loc[burns[name] > limit, "candle"].nunique() for name, limit in limits.items())
    (crosses,) = _lines(figure, marker="X")
    assert np.isfinite(crosses.get_xdata()).sum() == over
    (dashed,) = _lines(figure, color=INK, linestyle="--")
    ends = dashed.get_xydata()[np.isfinite(dashed.get_xdata())]
    assert len(ends) == 2 * len(limits) * burns["candidate"].nunique()
    # the wall of one candle went over 65 degC
    assert "candles over it: 1." in figure.get_label().partition("Flame")[0]


@pytest.mark.parametrize("burn", [1, 3, 5, 8, 11])
def test_the_name_of_the_worst_covers_no_other_cross(results, burn):
    own = results.burns["candidate"] == "paper-cored 5"
    burns = results.burns.copy()
    lasts = burns[own].groupby("candle")["burn"].idxmax()
    # one candle over its limit in every quantity, at its side another that is less so
    burns.loc[lasts.iloc[:2], ["wall_max_c", "pool_depth_max_mm"]] = [[70.0, 16.0], [69.5, 15.9]]
    burns.loc[lasts.iloc[:2], "burn"] = [burn, burn + 1]
    figure = _life(results, burns)
    figure.canvas.draw()
    (crosses,) = _lines(figure, marker="X")
    at = crosses.get_transform().transform(crosses.get_xydata())
    names = [text for text in figure.axes[0].texts if text.get_text() in set(burns["candle"])]
    assert len(names) == 5
    for name in names:
        box = name.get_window_extent()
        assert not box.count_contains(at[np.isfinite(at).all(axis=1)])
        assert box.x1 < figure.bbox.x1


def test_pools_show_every_check(results):
    figure = panels.draw_pool_growth(results.pool_checks, full_pct=results.full_pool_pct)
    n, checks = results.pool_checks["candidate"].nunique(), results.pool_checks
    first = checks[checks["burn"] == 1]
    assert len(_signs(figure)) == len(first) + n  # with the dot of the key
    (between,) = _lines(figure, color=SOFT, linewidth=0.5)
    (last,) = _lines(figure, color=INK, linestyle="-", linewidth=1.4)
    drawn = sum(np.isfinite(line.get_xdata()).sum() for line in (between, last))
    lit = checks[checks["burn"] > 1].groupby(["candle", "burn"]).ngroups
    assert drawn == len(checks) - len(first) + lit + 2 * n  # with the line of the key
    assert results.full_pool_pct == pytest.approx(100 * 68 / 74)


def test_wax_left_shows_every_candle(results):
    figure = figures.draw_wax_left(results.candles, hang_up_pct=5)
    (ax,) = figure.axes
    drawn = np.concatenate([dots.get_offsets()[:, 0] for dots in ax.collections])
    assert sorted(drawn) == sorted(results.candles["wax_left_pct"])
    hollow = [d for d in ax.collections if len(d.get_facecolor()) and d.get_facecolor()[0][0] == 1]
    assert sum(len(dots.get_offsets()) for dots in hollow) == 4  # S03 drowned; three were put out


def test_wick_changes_show_every_change(results):
    figure = figures.draw_wick_changes(results.changes)
    assert [len(ax.lines) for ax in figure.axes] == [2, 2, 2]
    assert "S01, flat braid 3 to flat braid 4: 3.76 to 5.18 g/h." in figure.get_label()


@pytest.mark.parametrize("name", ["$x_1$ & <b>", "50 % {braid}", "läng\u00adere_^Δ", "a" * 60])
def test_names_are_drawn_as_they_are(results, name):
    burns = results.burns.assign(candidate=name, candle="$" + results.burns["candle"])
    figure = panels.draw_burn_rates(burns)
    figure.canvas.draw()
    assert name in _texts(figure)


def test_one_burn_of_one_candle_and_missing_readings_can_be_drawn(results):
    one = results.burns.head(1).assign(wall_max_c=np.nan, wall_max_warm_room_c=np.nan)
    one = one.assign(flame_max_mm=np.nan, pool_depth_max_mm=np.nan)
    for figure in (panels.draw_burn_rates(one), _life(results, one)):
        figure.canvas.draw()
    assert figure.get_label() == "No wall, flame or melt pool was measured."
    pools = results.pool_checks.head(1)
    panels.draw_pool_growth(pools, full_pct=90).canvas.draw()


def test_tables_are_not_changed_and_the_style_stays_inside(results):
    before, style = results.burns.copy(), dict(matplotlib.rcParams)
    panels.draw_burn_rates(results.burns)
    pd.testing.assert_frame_equal(results.burns, before)
    assert dict(matplotlib.rcParams) == style


def test_long_names_are_shortened_in_the_middle_and_wrapped():
    assert short("flat braid 2", 20) == "flat braid 2"
    assert short("abcdefghij", 7) == "abc\u2026hij"
    assert len(short("x" * 99, 20)) == 20


@pytest.mark.slow
@pytest.mark.parametrize("name", ["y " * 80, "z" * 150])
def test_long_names_leave_room_for_the_drawing(results, name):
    burns = results.burns.assign(
        candidate=name + results.burns["candidate"], candle=name + results.burns["candle"]
    )
    limits, order = {"wall_max_c": 65.0}, list(dict.fromkeys(burns["candidate"]))
    for figure in (
        panels.draw_burn_rates(burns),
        life.draw_life(burns, limits=limits, order=order),
        figures.draw_wax_left(results.candles.assign(candidate=name), hang_up_pct=5),
    ):
        figure.canvas.draw()
        assert all(ax.get_position().width > 0.2 for ax in figure.axes)


def test_many_candles_are_drawn_as_their_middle_and_range(results):
    one = results.burns[results.burns["candle"] == "S10"]
    burns = pd.concat([one.assign(candle=f"K{n}") for n in range(30)])
    figure = panels.draw_burn_rates(burns)
    assert len(_lines(figure, color=INK)) == len(figure.axes[0].collections) == 1
    assert "30 candles:\nmiddle and range" in _texts(figure)
    pools = results.pool_checks[results.pool_checks["candle"] == "S10"]
    pools = pd.concat([pools.assign(candle=f"K{n}") for n in range(30)])
    figure = panels.draw_pool_growth(pools, full_pct=90)
    assert len(figure.axes[0].collections) == 1
    (middle,) = _lines(figure, color=INK, linestyle="-", linewidth=1.4)
    assert np.isnan(middle.get_xdata()).sum() == 1  # one line, and that of the key


def test_of_many_candidates_the_first_are_drawn_and_the_others_counted(results):
    burns = pd.concat([results.burns.assign(candidate=f"wick {n}") for n in range(40)])
    figure = panels.draw_burn_rates(burns)
    named = [words for words in _texts(figure) if words.startswith("wick ")]
    assert named == [f"wick {n}" for n in range(panels.MOST_PANELS)]
    assert f"The first {panels.MOST_PANELS} of 40 candidates are drawn." in figure.get_label()


def test_dots_below_nothing_are_shown(results):
    candles = results.candles.assign(wax_left_pct=-1.5)
    figure = figures.draw_wax_left(candles, hang_up_pct=5)
    assert figure.axes[0].get_xlim()[0] < -1.5


def test_names_at_the_ends_of_lines_do_not_cover_each_other():
    figure, ax = plt.subplots()
    ax.set_ylim(0, 10)
    label_ends(ax, [(9.9, "a"), (9.8, "b"), (9.85, "c"), (1.0, "d")])
    heights = {text.get_text(): text.xy[1] for text in ax.texts}
    assert heights["b"] < heights["c"] < heights["a"] < 10
    pen = figure.canvas.get_renderer()
    boxes = sorted((t.get_window_extent(pen) for t in ax.texts), key=lambda box: box.y0)
    assert all(above.y0 >= below.y1 - 1 for below, above in itertools.pairwise(boxes))
    assert heights["d"] == 1.0


def test_figures_are_in_the_readers_units(results):
    us = Display(mass="oz", length="in", temperature="F")
    figure = panels.draw_burn_rates(results.burns, display=us)
    assert {"burn rate (oz/h)", "0.3"} <= set(_texts(figure))  # 8.2 g/h are 0.29 oz/h
    figure = life.draw_life(
        results.burns, limits={"wall_max_c": 65.0}, order=["square braid 2"], display=us
    )
    assert "wall (°F)\nlimit 149" in _texts(figure)
    assert "limit 149 °F (65 °C)" in figure.get_label()

"""Which size: a known line is found again, nothing unsafe is advised, nothing is carried further
than one size.
"""

import re

import numpy as np
import pandas as pd
import pytest
from batches import SIMULATED_TOML, TOML, batch, candle, life, read, simulated
from judged import Log
from matplotlib import pyplot as plt
from places import DEMO

from candlelab.compare.ask import compare_batches
from candlelab.compare.pooled import pool
from candlelab.logs.writer import write_batch
from candlelab.pages.glossary import GLOSSARY
from candlelab.simulate.batch import simulate_batch
from candlelab.simulate.model import BatchPlan, Bench, WickTruth
from candlelab.size import figures as sizing_figures
from candlelab.size.line import fit_line, in_series, size_means, size_values
from candlelab.size.page import size_page
from candlelab.size.series import INSIDE, OUTSIDE, series_line
from candlelab.size.sizing import size_wicks
from candlelab.units import Display

WICKS = [
    {"wick_series": "flat braid", "wick_size": size, "size_rank": rank, "linear_density_tex": tex}
    for rank, (size, tex) in enumerate(
        (("1", 300), ("2", 400), ("3", 500), ("4", 600), ("5", 700)), start=1
    )
]
RATE = TOML + "[targets]\nburn_rate_g_per_h = {low = 5.0, best = 5.7, high = 6.5}\n"


@pytest.fixture(scope="module")
def screening():
    return read(DEMO / "screening")


def made(folder, rates, *, toml=RATE, wicks=WICKS, seen=None, left=None, spread=(-0.1, 0.1)):
    """A batch of candles burned to their end: ``rates`` holds [g/h] by size; two candles of each,
    ``spread`` apart; ``left`` are the sizes that went out with so much wax [g].
    """
    candles, burns, checks = [], [], []
    for size, rate in rates.items():
        for n, off in enumerate(spread):
            name = f"{size}-{n}"
            used = (rate + off) * 4.0
            own = life(name, 4, used, **(seen or {}).get(size, {}))
            fill = round(4 * used + (left or {}).get(size, 1.0), 6)
            candles.append(candle(name, f"flat braid {size}", fill=fill))
            burns += own[0]
            checks += own[1]
    return batch(folder, candles, burns, checks, toml=toml, wicks=wicks)


@pytest.mark.slow
def test_a_candle_of_another_dye_that_was_set_aside_changes_names_and_no_answer(tmp_path):
    """Its candidate has no candle that counts: another recipe of one size, and no other fate."""
    log = Log(**{f"{letter}{n}": f"flat braid {n}" for n in (1, 2, 3) for letter in "AB"})
    log.toml += "[targets]\nburn_rate_g_per_h = {low = 4.5, best = 5.0, high = 5.2}\n"
    plain = log.worked(tmp_path / "plain")
    odd = log.add("D", "flat braid 2", dye="red").aside("D").worked(tmp_path / "odd")
    before, after = (size_wicks([worked]) for worked in (plain, odd))
    assert [one.series for one in after.series] == ["flat braid, no dye"]
    assert one(after).verdict == one(before).verdict.replace("flat braid", "flat braid, no dye")
    assert one(after).sizes["fate"].tolist() == one(before).sizes["fate"].tolist()
    choices = [compare_batches([worked], by="wick").choice for worked in (plain, odd)]
    assert [len(choice.left_out) for choice in choices] == [0, 0]
    assert choices[0].candidates.equals(choices[1].candidates)


def one(found):
    assert len(found.series) == 1
    return found.series[0]


@pytest.mark.slow
def test_the_answer_in_short_has_a_line_for_each_vessel():
    assert size_page(size_wicks([read(DEMO / "kitchen")])).lead.split("\n") == [
        "Tin, nearest to your target: the pick, size 2 of flat braid (another candle of this pour: "
        "0.121 to 0.212 oz/h); size 2 of paper-cored. No size yet: square braid.",
        "Stoneware tumbler, no burn rate target yet: add one under [targets] in batch.toml.",
    ]


@pytest.mark.slow
def test_a_line_made_by_hand_is_read_backwards(tmp_path):
    """Rates 4, 5, 6 at 300, 400, 500 tex: 5.7 g/h is met at 470 tex; the nearest size is 3. Slope 1
    g/h for each 100 tex.
    """
    line = one(size_wicks([made(tmp_path / "b", {"1": 4.0, "2": 5.0, "3": 6.0})]))
    assert line.meets.estimate == pytest.approx(470, abs=1e-6)
    assert line.meets.conf_low < 470 < line.meets.conf_high
    assert line.slope["estimate"].iloc[0] == pytest.approx(0.01)
    assert line.pick == "3"
    sizes = line.sizes.set_index("wick_size")
    assert sizes["predicted"].tolist()[:4] == pytest.approx([4, 5, 6, 7])
    assert sizes.loc["4", "where"] == "one size beyond"
    assert sizes.loc["5", "where"] == "further off"
    assert np.isnan(sizes.loc["5", "predicted"])


@pytest.mark.slow
def test_the_line_is_ordinary_least_squares(tmp_path):
    """numpy's polyfit on the candles' values, and statsmodels' interval for one further candle."""
    import statsmodels.api as sm

    line = one(size_wicks([made(tmp_path / "b", {"1": 4.1, "2": 4.9, "3": 6.2})]))
    own = line.points
    slope, intercept = np.polyfit(own["x"], own["value"], 1)
    assert line.slope["estimate"].iloc[0] == pytest.approx(slope)
    fit = sm.OLS(own["value"].to_numpy(), sm.add_constant(own["x"].to_numpy())).fit()
    frame = fit.get_prediction(np.array([[1.0, 600.0]])).summary_frame()
    row = line.sizes.set_index("wick_size").loc["4"]
    assert row["predicted"] == pytest.approx(intercept + 600 * slope)
    assert [row["candle_low"], row["candle_high"]] == pytest.approx(
        frame[["obs_ci_lower", "obs_ci_upper"]].iloc[0].tolist()
    )
    assert [row["conf_low"], row["conf_high"]] == pytest.approx(
        frame[["mean_ci_lower", "mean_ci_upper"]].iloc[0].tolist()
    )


@pytest.mark.slow
def test_the_demo_names_the_right_size(screening):
    """Truth (data/demo/README.md): square braid 2 is right, flat braid 4 a little small,
    paper-cored too deep or too hot.
    """
    found = size_wicks([screening, read(DEMO / "confirmation")])
    picks = found.picks.set_index("series")["pick"]
    assert picks.to_dict() == {"flat braid": "4", "square braid": "2", "paper-cored": ""}
    assert found.answer[0].endswith(
        "It would miss another target: wax left 6.0 %, target at most 5 %."
    )
    assert found.answer[2].startswith("paper-cored: no size can be picked yet. ")
    rows = found.sizes.set_index(["series", "wick_size"])["predicted"]
    for wick, truth in (
        (("flat braid", "4"), 5.15),
        (("square braid", "2"), 5.6),
        (("paper-cored", "4"), 6.0),
        (("square braid", "1"), 4.7),
    ):
        assert rows[wick] == pytest.approx(truth, abs=0.3)


@pytest.mark.slow
def test_a_size_whose_candles_broke_a_criterion_is_never_advised(tmp_path):
    tall = {"flame_height_mm": 80}
    line = one(size_wicks([made(tmp_path / "b", {"1": 4.4, "2": 5.1, "3": 5.7}, seen={"3": tall})]))
    assert line.pick == "2"  # 3 would be nearer
    sizes = line.sizes.set_index("wick_size")
    assert sizes.loc["3", "fate"] == "ruled out"
    assert sizes.loc["3", "barred"].startswith("ruled out: Its flame was too tall (80 mm")
    assert sizes.loc["4", "barred"] == (
        "larger than 3, which was ruled out: its flame was too tall"
    )


@pytest.mark.slow
def test_a_size_that_only_went_out_was_too_small_and_bars_no_larger_one(tmp_path):
    rates, drowned = {"1": 4.4, "2": 5.1}, {"1": 40}
    line = one(size_wicks([made(tmp_path / "b", rates, left=drowned)]))
    sizes = line.sizes.set_index("wick_size")
    assert sizes.loc["1", "barred"].startswith("ruled out: It went out by itself")
    assert sizes.loc["3", "barred"] == ""
    tipped = {"1": {"tipped": "yes"}}
    line = one(size_wicks([made(tmp_path / "c", rates, left=drowned, seen=tipped)]))
    assert line.sizes.set_index("wick_size").loc["3", "barred"] == (
        "larger than 1, which was ruled out: it tipped over"
    )


@pytest.mark.slow
def test_nor_one_larger_than_it_that_was_not_burnt(tmp_path):
    line = one(
        size_wicks(
            [made(tmp_path / "b", {"1": 3.0, "2": 3.9}, seen={"2": {"flame_height_mm": 80}})]
        )
    )
    assert line.pick == ""
    assert line.sizes.set_index("wick_size").loc["3", "barred"].startswith("larger than 2")
    assert "Stop testing flat braid 2 in the jar until" in line.next_test
    assert "flat braid 3" not in line.next_test
    other = one(size_wicks([made(tmp_path / "c", {"1": 3.0, "2": 3.9})]))
    assert other.next_test.endswith("try flat braid 3, one size up, as well.")


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_whatever_the_rates_no_unsafe_and_no_far_size_is_advised(tmp_path, seed):
    rng = np.random.default_rng(seed)
    burned = sorted(rng.choice(["1", "2", "3", "4", "5"], rng.integers(1, 4), replace=False))
    rates = dict(zip(burned, np.sort(rng.uniform(3, 8, len(burned))).round(2), strict=True))
    broken = {size: {"soot": 3} for size in burned if rng.random() < 0.4}
    line = one(size_wicks([made(tmp_path / "b", rates, seen=broken, spread=(-0.2, 0.1, 0.15))]))
    sizes = line.sizes.set_index("wick_size")
    if line.pick:
        assert sizes.loc[line.pick, "barred"] == ""
        assert line.pick not in broken
        assert sizes.loc[line.pick, "where"] != "further off"
        assert sizes.loc[line.pick, "in_target"] != OUTSIDE
    named = re.findall(r"Pour 3 candles of flat braid, size (\d)", line.next_test)
    assert all(
        (sizes.loc[size, "barred"] == "" and min(abs(int(size) - int(b)) for b in burned) <= 1)
        or int(burned[0]) < int(size) < int(burned[-1])
        for size in named
    )


@pytest.mark.slow
def test_a_target_that_nobody_in_the_series_meets(tmp_path):
    short = WICKS[:3]
    line = one(size_wicks([made(tmp_path / "b", {"2": 2.0, "3": 3.2}, wicks=short)]))
    assert line.pick == ""
    assert line.next_test.endswith("and wicks.csv has no larger size.")
    assert "larger than any size of this series in wicks.csv" in " ".join(line.details)


@pytest.mark.slow
def test_a_target_between_two_sizes(tmp_path):
    line = one(size_wicks([made(tmp_path / "b", {"2": 4.0, "3": 7.4}, wicks=WICKS[1:3])]))
    assert line.pick == ""
    assert "the right size lies between them" in line.next_test


@pytest.mark.slow
def test_one_size_only(tmp_path):
    line = one(size_wicks([made(tmp_path / "b", {"2": 4.0})]))
    assert line.slope.empty
    assert line.meets is None
    assert "what another size does is not known" in line.details[0]
    assert line.next_test == (
        "Confirm flat braid 2 on as many fresh candles as you can, at least three: "
        "its candles differ too much to show a 20 % change in burn rate. A new screening of 5 "
        "candles of it, and as many fresh ones, would. It burns on the small side: try flat "
        "braid 3, one size up, as well."
    )


@pytest.mark.slow
def test_one_candle_of_each_size(tmp_path):
    line = one(size_wicks([made(tmp_path / "b", {"2": 4.0, "3": 5.6}, spread=(0.0,))]))
    assert line.slope.empty
    assert line.details == (
        (
            "flat braid: too few candles for a line through 2 sizes: one more candle of a size "
            "shows how much candles differ."
        ),
    )
    assert line.pick == "3"
    assert "mean of its 1 candle 5.60 g/h" in line.verdict


@pytest.mark.slow
def test_a_size_that_may_not_matter_is_read_off_the_candles(tmp_path):
    line = one(size_wicks([made(tmp_path / "b", {"2": 5.2, "3": 5.3}, spread=(-0.6, 0.6))]))
    assert "whether a larger wick changes burn rate is not shown" in line.details[0]
    assert not line.meets.bounded
    assert line.sizes.set_index("wick_size").loc[line.pick, "where"] == "burned"


@pytest.mark.slow
def test_the_other_way_than_wicks_do(tmp_path):
    line = one(size_wicks([made(tmp_path / "b", {"1": 7.0, "2": 6.0, "3": 4.2})]))
    assert "That is the other way than wicks do" in line.details[0]
    assert line.sizes.set_index("wick_size").loc[line.pick, "where"] == "burned"


@pytest.mark.slow
def test_a_batch_whose_every_candle_was_set_aside_makes_a_page(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 2").check("A", 2, 60, tipped="yes")
    found = size_wicks([log.aside("A").aside("B").worked(tmp_path)])
    told = "Every candle was set aside, so no size can be told."
    page = size_page(found)
    assert told in " ".join(page.answer)
    assert sizing_figures.draw_sizing(found).get_label() == told
    assert found.sizes.empty
    assert any(line.startswith("Stop burning A ") for d in page.decisions for line in d.lines)


@pytest.mark.slow
def test_without_a_target_nothing_is_advised(tmp_path):
    found = size_wicks([made(tmp_path / "b", {"1": 4.0, "2": 5.0, "3": 6.0}, toml=TOML)])
    assert found.answer == (
        "batch.toml names no target for burn rate, so no size can be advised: add it under "
        "[targets].",
    )
    assert found.picks["pick"].tolist() == [""]
    assert len(found.slopes) == 1


@pytest.mark.slow
def test_each_vessel_has_its_own_targets():
    """Kitchen: a burn rate is wanted in the tin alone, and there a shorter life."""
    found = size_wicks([read(DEMO / "kitchen")])
    targets = {line.points["vessel"].iat[0]: line.target for line in found.series}
    assert targets["stoneware tumbler"] is None
    assert (targets["tin"].low, targets["tin"].high) == (4, 5.5)
    assert found.answer[-1] == (
        "batch.toml names no target for burn rate in the stoneware tumbler, so no size can be "
        "advised there: add it under [targets]."
    )
    lives = found.also[found.also["target"] == "life_h"]
    assert set(lives["low"]) == {24.0}
    assert not any("miss another target: life" in line for line in found.answer)


@pytest.mark.slow
def test_ranks_stand_in_where_a_density_is_missing(tmp_path):
    wicks = [
        row | {"linear_density_tex": None if row["wick_size"] == "5" else row["linear_density_tex"]}
        for row in WICKS
    ]
    found = size_wicks([made(tmp_path / "b", {"1": 4.0, "2": 5.0, "3": 6.0}, wicks=wicks)])
    assert one(found).column == "size_rank"
    assert one(found).meets.estimate == pytest.approx(2.7)
    assert any("so the rank stands in" in note for note in found.notes)


def test_a_rewicked_candle_counts_once_and_at_the_depth_of_the_others(screening):
    points = size_values(in_series(pool([screening])), "burn_rate_g_per_h").set_index("candle")
    assert points.index.is_unique
    assert points.loc["S01", "wick_size"] == "3"  # not the wick put in later
    assert points.loc["S01", "why"].startswith("cut short at 38 % of the fill: moved")
    raw = pool([screening]).fresh.set_index("candle")["burn_rate_g_per_h"]
    truth, mine, left = (
        4.1,
        points.loc[["S01", "S02", "S03"], "value"].mean(),
        raw[["S01", "S02", "S03"]].mean(),
    )
    assert abs(mine - truth) < abs(left - truth)
    walls = size_values(in_series(pool([screening])), "wall_max_c").set_index("candle")
    assert not walls.loc[["S01", "S02", "S03", "S17"], "in_line"].any()
    assert walls.loc["S17", "why"].endswith("at least this")


@pytest.mark.slow
def test_a_wick_change_does_not_bend_the_line(tmp_path):
    """Half the candles of the smaller size re-wicked half way, rates known: the size that meets the
    target is still found.
    """
    from candlelab.simulate.model import WickChange

    wicks = tuple(
        WickTruth("flat braid", size, n, rate, 3.0, tex)
        for n, (size, rate, tex) in enumerate(
            (("1", 4.5, 400), ("2", 5.5, 500), ("3", 6.5, 600)), start=1
        )
    )
    names = tuple(
        (f"{w.wick_size}-{n}", "flat braid", w.wick_size) for w in wicks for n in range(6)
    )
    changes = tuple(WickChange(f"1-{n}", 5, "flat braid", "2", "left wax") for n in range(3))
    write_batch(
        simulate_batch(BatchPlan(wicks, names, Bench(), changes), seed=3).tables,
        SIMULATED_TOML + "[targets]\nburn_rate_g_per_h = {low = 4, best = 5.0, high = 6}\n",
        tmp_path,
    )
    line = one(size_wicks([read(tmp_path)]))
    assert len(line.points) == 18
    assert line.meets.conf_low < 450 < line.meets.conf_high


@pytest.mark.slow
def test_another_recipe_is_another_question():
    found = size_wicks([read(DEMO / "waxes")])
    assert [line.series for line in found.series] == [
        "square braid, coconut and rapeseed",
        "paper-cored, coconut and rapeseed",
        "square braid, rapeseed and beeswax",
        "paper-cored, rapeseed and beeswax",
    ]
    loads = size_wicks([read(DEMO / "loads")])
    assert loads.series[0].series == "square braid, no fragrance"


@pytest.mark.slow
def test_sizes_burnt_in_different_batches_are_said(tmp_path):
    one_batch, other = (
        made(tmp_path / "one", {"1": 4.0}),
        made(tmp_path / "other", {"2": 5.0, "3": 6.0}),
    )
    told = size_wicks([one_batch, other]).answer[0]
    assert told.startswith("flat braid: a difference may come from its days, lots or room and not")
    assert "Only those that share a batch are compared: 2 and 3. Not compared: 1." in told
    third = made(tmp_path / "third", {"2": 5.0})
    found = size_wicks([one_batch, third])
    assert found.answer[0].startswith("flat braid: no two of these 2 share a batch")
    assert one(found).slope.empty
    bridged = size_wicks([made(tmp_path / "c", {"1": 4.0, "2": 5.1}), other])
    assert "cannot be told apart" not in " ".join(bridged.answer)
    assert one(bridged).sizes["candle_low"].isna().all()
    assert "a new batch has a level of its own" in " ".join(bridged.notes)


@pytest.mark.slow
def test_a_bend_is_said(tmp_path):
    notes = size_wicks(
        [made(tmp_path / "b", {"1": 4.0, "2": 6.0, "3": 6.3}, spread=(-0.02, 0.02))]
    ).notes
    assert any("the line is shown to be bent" in note for note in notes)


@pytest.mark.slow
@pytest.mark.parametrize(
    "metric",
    ["burn_rate_g_per_h", "wall_max_c", "life_h", "full_pool_h", "soot_max", "pool_share_max_pct"],
)
def test_metrics_of_every_kind_give_an_answer_and_a_figure(screening, metric):
    found = size_wicks([screening], metric=metric)
    assert found.details
    for _, table in found.tables().values():
        assert set(table.columns) <= set(GLOSSARY)
    figure = sizing_figures.draw_sizing(found)
    drawn = sum(
        len(part.get_offsets())
        for ax in figure.axes
        for part in ax.collections
        if part.get_label().startswith("a candle")
    )
    assert drawn == found.points["value"].notna().sum()
    assert figure.get_label().startswith(GLOSSARY[metric].label.capitalize())
    plt.close(figure)


def test_refuses_an_unknown_metric(screening):
    with pytest.raises(ValueError, match="metric must be one of"):
        size_wicks([screening], metric="burn_rate")


@pytest.mark.slow
def test_the_interval_holds_the_true_size():
    """Over 80 simulated series of three sizes with three candles each, 95 % of intervals hold the
    size that meets the target.
    """
    from candlelab.logs.settings import Target

    rng = np.random.default_rng(12)
    sizes = pd.DataFrame(WICKS)[["wick_series", "wick_size", "size_rank", "linear_density_tex"]]
    safety = pd.DataFrame(
        columns=[
            "series",
            "wick_size",
            "fate",
            "because",
            "next_step",
            "next_wick",
            "n_passed",
            "n_failed",
            "bars_larger",
        ]
    )
    burned = np.repeat(["2", "3", "4"], 3)
    tex = np.repeat([400.0, 500.0, 600.0], 3)
    table = pd.DataFrame(
        {
            "wick_series": "flat braid",
            "wick_size": burned,
            "batch": "b",
            "candle": [f"C{n}" for n in range(9)],
            "in_line": True,
            "why": "",
            "wax": "soy",
            "cell": [f"flat braid, size {size}" for size in burned],
        }
    )
    inside = 0
    for n in range(80):
        points = table.assign(value=4.0 + 0.01 * (tex - 400.0) + rng.normal(0, 0.3, 9))
        meets = fit_line(points.assign(x=tex), 0.95)[0].meets(5.2)
        if n % 20 == 0:  # a series has the interval of its line
            line = series_line(
                "flat braid",
                points,
                sizes,
                safety,
                size_means(points),
                "burn_rate_g_per_h",
                Target("burn_rate_g_per_h", best=5.2),
                0.95,
                Display(),
            )
            assert line.meets == meets
        inside += meets.conf_low <= 520.0 <= meets.conf_high
    assert inside / 80 == pytest.approx(0.95, abs=0.054)


@pytest.mark.slow
def test_inside_says_that_a_candle_is_inside(screening):
    sizes = size_wicks([screening]).sizes
    for row in sizes[sizes["in_target"] == INSIDE].itertuples():
        assert 5.0 <= row.candle_low < row.candle_high <= 6.5


@pytest.mark.slow
def test_larger_batches_of_the_bench_find_the_truth(tmp_path):
    found = size_wicks(
        [
            simulated(
                tmp_path / "b", [("1", 4.6, 5.0), ("2", 5.6, 3.0), ("3", 6.6, 2.0)], seed=8, each=6
            )
        ]
    )
    assert found.slopes["estimate"].iloc[0] == pytest.approx(1.0, abs=0.25)

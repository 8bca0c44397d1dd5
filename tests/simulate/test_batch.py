"""The simulated bench gives back the truth it was told."""

import numpy as np
import pandas as pd
import pytest

from candlelab.logs.columns import TABLES
from candlelab.simulate import batch as simulate
from candlelab.simulate.model import BatchPlan, Bench, Event, Model, Recipe, WickChange, WickTruth


@pytest.fixture(scope="module")
def many():
    return simulate.simulate_many(2000, seed=11)


def one_wick(n, rate=5.6, left_pct=3.0, bench=None, **more):
    wicks = (
        WickTruth("flat braid", "1", 1, rate, left_pct),
        WickTruth("flat braid", "2", 2, rate + 1, 3.0),
    )
    return BatchPlan(
        wicks, tuple((f"T{i:03d}", "flat braid", "1") for i in range(n)), bench or Bench(), **more
    )


def burn_rates(batch):
    burns = batch.tables["burns"].merge(
        batch.tables["candles"][["candle", "fill_mass_g"]], on="candle"
    )
    burns["used"] = burns["mass_before_g"] - burns["mass_after_g"]
    burns["hours"] = (burns["out_at"] - burns["lit_at"]).dt.total_seconds() / 3600
    burns["rate"] = burns["used"] / burns["hours"]
    burns["used_before"] = burns.groupby("candle")["used"].cumsum() - burns["used"]
    return burns


# ---------------------------------------------------------------- seeds and consistency


def test_same_seed_same_tables_other_seed_other_tables():
    plan = one_wick(4)
    a, b, c = (simulate.simulate_batch(plan, seed=s) for s in (1, 1, 2))
    for name, table in a.tables.items():
        pd.testing.assert_frame_equal(table, b.tables[name])
    assert not a.tables["burns"]["mass_after_g"].equals(c.tables["burns"]["mass_after_g"])


@pytest.mark.slow
@pytest.mark.parametrize("which", ["screening", "confirmation", "waxes", "loads", "many"])
def test_no_table_contradicts_itself(which, request):
    tables = request.getfixturevalue(which).tables
    burns, checks = tables["burns"], tables["checks"]
    same = burns["candle"].eq(burns["candle"].shift())
    assert (burns["mass_after_g"] < burns["mass_before_g"]).all()
    assert (burns["lit_at"] < burns["out_at"]).all()
    assert (burns["lit_at"] >= burns["out_at"].shift())[same].all()
    assert (burns["burn"] == burns.groupby("candle").cumcount() + 1).all()
    between = (burns["mass_before_g"] - burns["mass_after_g"].shift())[same]
    assert between.max() <= 0.3
    assert between.min() >= -1.3
    used = (burns["mass_before_g"] - burns["mass_after_g"]).groupby(burns["candle"]).sum()
    assert (used <= tables["candles"].set_index("candle")["fill_mass_g"].loc[used.index]).all()
    assert not burns.duplicated(["candle", "burn"]).any()
    assert not checks.duplicated(["candle", "burn", "elapsed_min"]).any()
    inside = checks.merge(burns, on=["candle", "burn"], how="left")
    assert (
        inside["elapsed_min"] <= (inside["out_at"] - inside["lit_at"]).dt.total_seconds() / 60
    ).all()
    known = set(zip(tables["wicks"]["wick_series"], tables["wicks"]["wick_size"], strict=True))
    assert (
        set(zip(tables["candles"]["wick_series"], tables["candles"]["wick_size"], strict=True))
        <= known
    )


@pytest.mark.parametrize("which", ["screening", "confirmation", "waxes", "loads", "many"])
def test_every_value_is_plausible_and_filled(which, request):
    tables = request.getfixturevalue(which).tables
    for name, table in tables.items():
        for column in (c for c in TABLES[name].columns if c.name in table and c.low is not None):
            values = table[column.name].dropna().astype(float)
            assert values.between(column.low, column.high).all(), f"{name}.{column.name}"
    seen = [c.name for c in TABLES["checks"].columns if c.name not in ("note", "due_at")]
    assert not tables["checks"][seen].isna().any().any()
    assert set(tables["checks"]["soot"]) <= {"0", "1", "2", "3"}
    assert set(tables["burns"]["ended_by"]) <= {"timer", "self", "stopped"}


def test_a_large_year_has_its_size(many):
    assert [len(many.tables[t]) for t in ("candles", "burns", "checks")] == [2000, 26_000, 130_000]
    assert many.tables["candles"].groupby(["wick_series", "wick_size"]).ngroups == 40
    assert sorted(many.tables["checks"]["elapsed_min"].unique()) == [15, 60, 120, 180, 235]


def test_a_plan_that_contradicts_itself_is_refused():
    with pytest.raises(
        ValueError, match="candle S99 is not in the plan; no event is called 'storm'"
    ):
        simulate.simulate_batch(one_wick(2, events=(Event("storm", "S99", 1),)), seed=1)
    change = WickChange("T000", 3, "flat braid", "7", "left wax standing")
    with pytest.raises(ValueError, match="wick flat braid 7 is not among the wicks"):
        simulate.simulate_batch(one_wick(2, changes=(change,)), seed=1)
    with pytest.raises(
        ValueError, match="candle T009 is not in the plan; candle T000 has two recipes"
    ):
        simulate.simulate_batch(
            one_wick(2, recipes=(Recipe(("T000", "T009")), Recipe(("T000",)))), seed=1
        )


# ---------------------------------------------------------------- truth


def test_mass_balance_fill_is_used_plus_left():
    batch = simulate.simulate_batch(one_wick(30), seed=5)
    used = burn_rates(batch).groupby("candle")["used"].sum()
    truth = batch.candle_truth.set_index("candle")
    fill = batch.tables["candles"].set_index("candle")["fill_mass_g"]
    np.testing.assert_allclose(truth["used_g"] + truth["left_g"], fill)
    # Each burn adds two readings: standard deviation sqrt(20 * (0.04^2
    # + 0.1^2 / 12)) = 0.22 g for ten burns.
    np.testing.assert_allclose(used, truth["used_g"], atol=5 * 0.22)
    assert (
        (truth["left_g"] / fill).between(0.015, 0.06).all()
    )  # 3 % out of reach, up to half an hour of wax more


@pytest.mark.parametrize("rate", [4.4, 5.6, 7.0])
def test_burn_rates_give_back_the_truth(rate):
    model, bench = Model(), Bench(max_burns=6)
    rows = burn_rates(
        simulate.simulate_batch(one_wick(120, rate=rate, bench=bench), seed=int(rate * 10))
    )
    rows = rows[rows["ended_by"] == "timer"]
    share = (rows["used_before"] + 0.5 * rate * 4) / rows["fill_mass_g"]
    room = model.room_effect_g_per_h * (rows["room_c"] - model.room_c)
    level = (
        (rows["rate"] - room - model.drift_g_per_h * (share - 0.5)).groupby(rows["candle"]).mean()
    )
    assert abs(level.mean() - rate) < 3 * level.std() / np.sqrt(len(level))
    # Candle means scatter by sqrt(0.25^2 + 0.20^2 / burns); a standard
    # deviation of n values has error sd / sqrt(2 n).
    expected = np.hypot(
        model.candle_sd_g_per_h,
        model.burn_sd_g_per_h / np.sqrt(rows.groupby("candle").size().mean()),
    )
    assert abs(level.std() - expected) < 3 * expected / np.sqrt(2 * len(level))
    x = share - share.groupby(rows["candle"]).transform("mean")
    y = rows["rate"] - room
    y = y - y.groupby(rows["candle"]).transform("mean")
    slope = (x * y).sum() / (x**2).sum()
    residual = np.sqrt(((y - slope * x) ** 2).sum() / (len(y) - len(level) - 1))
    assert abs(slope - model.drift_g_per_h) < 3 * residual / np.sqrt((x**2).sum())


def test_wall_follows_heat_and_room():
    checks = simulate.simulate_batch(one_wick(60, rate=5.59), seed=3).tables["checks"]
    late = checks[(checks["burn"] == 6) & (checks["elapsed_min"] == 240)]["wall_c"]
    # By hand: share used (5 * 22.6 + 11.2) / 200 = 0.62, rate 5.59 + 0.6 * 0.12 = 5.66 g/h, heat
    # 5.66 * 40 / 3.6 = 62.9 W, rise 0.49 * 62.9 * (0.85 + 0.15 * 0.62)
    # * (1 - exp(-4 / 0.7)) = 29.0 °C, room 22.5 °C.
    assert abs(late.mean() - 51.5) < 3 * late.std() / np.sqrt(len(late))


def test_larger_wicks_burn_wider_hotter_and_dirtier():
    means = []
    for rate in (4.1, 5.6, 7.8):
        tables = simulate.simulate_batch(
            one_wick(12, rate=rate, bench=Bench(max_burns=4)), seed=8
        ).tables
        means.append(tables["checks"].drop(columns=["candle", "note"]).astype(float).mean())
    for name in (
        "wall_c",
        "pool_diameter_mm",
        "pool_depth_mm",
        "flame_height_mm",
        "mushroom_mm",
        "soot",
    ):
        small, right, large = (m[name] for m in means)
        assert small <= right < large, name


def test_a_wall_over_the_stop_limit_ends_the_burn():
    tables = simulate.simulate_batch(
        one_wick(6, rate=7.8, bench=Bench(wall_stop_c=60)), seed=2
    ).tables
    merged = tables["checks"].merge(tables["burns"], on=["candle", "burn"])
    hot = merged[merged["wall_c"] > 60]
    assert len(hot)
    assert "stopped" in set(hot["ended_by"])
    minutes = (hot["out_at"] - hot["lit_at"]).dt.total_seconds() / 60
    assert (minutes - hot["elapsed_min"]).between(0, 2).all()


@pytest.mark.parametrize("stop", [60.0, 90.0])
def test_a_candle_put_out_at_a_dangerous_reading_is_not_lit_again(stop):
    """By a hot wall, or by steady black smoke where the wall may get hotter."""
    made = simulate.simulate_batch(one_wick(6, rate=8.2, bench=Bench(wall_stop_c=stop)), seed=2)
    checks, burns = made.tables["checks"], made.tables["burns"]
    danger = checks[(checks["wall_c"] > stop) | (checks["soot"] == "3")]
    first, last = danger.groupby("candle").first(), burns.groupby("candle").last()
    ended = last.loc[first.index]
    assert len(first)
    assert (ended["burn"] == first["burn"]).all()
    assert set(ended["ended_by"]) == {"stopped"}
    assert not danger.duplicated("candle").any()
    used = (burns["mass_before_g"] - burns["mass_after_g"]).groupby(burns["candle"]).sum()
    truth = made.candle_truth.set_index("candle")["used_g"]
    np.testing.assert_allclose(used, truth, atol=0.5)  # scale and trimming


def test_a_bench_that_nobody_watches_burns_on():
    made = simulate.simulate_batch(one_wick(6, rate=8.2), seed=2).tables
    assert (made["checks"]["soot"] == "3").any()
    assert set(made["burns"]["ended_by"]) == {"timer", "self"}


def test_a_wick_change_takes_wax_along_and_changes_the_rate():
    changes = (WickChange("T000", 4, "flat braid", "2", "left wax standing", rest_days=3),)
    burns = (
        simulate.simulate_batch(one_wick(1, changes=changes), seed=4)
        .tables["burns"]
        .set_index("burn")
    )
    assert 0.2 < burns.loc[3, "mass_after_g"] - burns.loc[4, "mass_before_g"] < 1.2
    assert burns.loc[4, "lit_at"].date() - burns.loc[3, "lit_at"].date() >= pd.Timedelta(days=3)
    rate = burn_rates(simulate.simulate_batch(one_wick(1, changes=changes), seed=4)).set_index(
        "burn"
    )["rate"]
    assert rate[4:6].mean() - rate[1:3].mean() > 0.4  # one size is 1 g/h, burns scatter by 0.2


def test_a_recipe_moves_its_own_candles_and_no_others():
    odd = tuple(f"T{i:03d}" for i in range(1, 80, 2))
    slow = Recipe(odd, -0.6, "rapeseed and beeswax", 41.0, "L9", 3.0)
    plain = simulate.simulate_batch(one_wick(80, bench=Bench(max_burns=4)), seed=6)
    made = simulate.simulate_batch(one_wick(80, bench=Bench(max_burns=4), recipes=(slow,)), seed=6)
    candles = made.tables["candles"].set_index("candle")
    assert candles.loc["T001", ["wax", "wax_lot", "fragrance_load_pct"]].tolist() == [
        "rapeseed and beeswax",
        "L9",
        3.0,
    ]
    pd.testing.assert_frame_equal(
        candles.drop(index=list(odd)),
        plain.tables["candles"].set_index("candle").drop(index=list(odd)),
    )
    rates = [burn_rates(batch).groupby("candle")["rate"].mean() for batch in (plain, made)]
    change = rates[1] - rates[0]
    # The same draws: only the recipe differs, with a drift of 0.6
    # g/h that follows the share of wax used.
    np.testing.assert_allclose(change[list(odd)], -0.6, atol=0.06)
    np.testing.assert_array_equal(change.drop(list(odd)), 0)
    late = [
        b.tables["checks"].query("burn == 3 and elapsed_min == 240").set_index("candle")["wall_c"]
        for b in (plain, made)
    ]
    # By hand, with 41 kJ/g. Plain: share used 0.28, rate 5.47 g/h, heat 60.8 W, pool full, rise
    # 0.49 * 60.8 * 0.892 * 0.997 = 26.5. Slow: share 0.25, rate 4.85 g/h, heat 55.2 W, pool 95 %
    # wide, rise 0.49 * 55.2 * 0.978 * 0.888 * 0.997 = 23.4 °C.
    assert abs((late[0] - late[1])[list(odd)].mean() - 3.1) < 0.2


def test_a_load_of_nothing_is_a_candle_without_fragrance():
    bare = Recipe(("T000",), fragrance_load_pct=0.0)
    candles = simulate.simulate_batch(one_wick(2, recipes=(bare,)), seed=1).tables["candles"]
    assert candles["fragrance"].tolist() == ["", "fig leaf"]
    assert candles["fragrance_load_pct"].tolist() == [0.0, 8.0]


@pytest.mark.slow
def test_scores_follow_the_fragrance_and_flatten_where_the_plan_says_so():
    loads = {"T000": 0.0, "T001": 3.0, "T002": 9.0}
    recipes = tuple(Recipe((name,), fragrance_load_pct=load) for name, load in loads.items())
    plan = one_wick(
        3, recipes=recipes, throw_burns=tuple(range(1, 8)), throw_slope=40.0, throw_half_g_per_h=0.2
    )
    scores = (
        pd.concat(simulate.simulate_batch(plan, seed=seed).tables["throw"] for seed in range(40))
        .groupby("candle")["score"]
        .mean()
    )
    # By hand at 5.6 g/h: 0, 5.6 * 3 / 103 = 0.163 and 5.6 * 9 /
    # 109 = 0.462 g/h give 1, 4.6 and 6.6.
    np.testing.assert_allclose(scores, [1.0, 4.6, 6.6], atol=0.15)

"""One row per wick run and per candle: worked by hand and checked with other software."""

import batches
import numpy as np
import pandas as pd
import pytest
from batches import burn, candle, checks, one_candle, read
from places import DEMO
from scipy import stats

from candlelab.burns.burns import burn_cycles
from candlelab.burns.candles import candle_summary, wick_change_effects, wick_runs
from candlelab.judge.worked import WorkedBatch
from candlelab.pages.glossary import GLOSSARY


@pytest.fixture(scope="module", params=["screening", "confirmation"])
def demo_batch(request):
    return read(DEMO / request.param)


# ---------------------------------------------------------------- by hand


def test_a_candle_burnt_to_its_end_worked_by_hand(tmp_path):
    seen = checks(
        "A", 1, wall_c=[40, 41, 42, 43], soot=[0, 1, 0, 0], pool_diameter_mm=[30, 40, 50, 60]
    )
    seen += checks("A", 2, wall_c=[40, 45, 50, 52], pool_diameter_mm=[30, 50, 64, 70]) + checks(
        "A", 3, mushroom_mm=2.5
    )
    batch = one_candle(
        tmp_path,
        [16, 20, 24, 25],
        [4, 4, 4, 5],
        ended_by="self",
        seen=seen,
        candle={"fragrance": "fig", "fragrance_load_pct": 8},
    )
    row = WorkedBatch(batch).candles.iloc[0]
    assert (row["n_burns"], row["hours_h"], row["n_runs"], row["fill_mass_g"]) == (4, 17, 1, 100)
    assert row["wax_used_g"] == pytest.approx(85)
    assert row["burn_rate_g_per_h"] == pytest.approx(85 / 17)
    u = burn_cycles(batch)["burn_rate_u_g_per_h"]
    assert row["burn_rate_u_g_per_h"] == pytest.approx(
        np.sqrt(((u * [4, 4, 4, 5]) ** 2).sum()) / 17
    )
    line = stats.linregress([0.08, 0.26, 0.48, 0.725], [4, 5, 6, 5])
    assert row["rate_drift_g_per_h"] == pytest.approx(line.slope)
    assert row["rate_drift_u_g_per_h"] == pytest.approx(line.stderr)
    assert row["heat_release_w"] == pytest.approx(5 * 36 / 3.6)
    assert row["fragrance_release_g_per_h"] == pytest.approx(5 * 8 / 108)
    assert (
        row["wall_max_c"],
        row["wall_max_warm_room_c"],
        row["soot_max"],
        row["mushroom_max_mm"],
    ) == (52, 60, 1, 2.5)
    assert row["pool_share_max_pct"] == pytest.approx(100)
    assert row["pool_share_last_pct"] == pytest.approx(100 * 66 / 70)
    assert row["burns_to_full_pool"] == 2
    assert row["full_pool_h"] == pytest.approx(3.0)
    assert row["aftersmoke_s"] == 5
    assert row["self_out_early"] == 0
    assert row["ended"]
    assert row["life_h"] == 17
    assert np.isnan(row["life_projected_h"])
    assert (row["wax_left_g"], row["wax_left_pct"]) == (pytest.approx(15), pytest.approx(15))
    assert row["hang_up"]
    assert not row["replaced"]
    assert not row["excluded"]
    assert row["between_burns_g"] == pytest.approx(0)


@pytest.mark.parametrize(
    ("left", "ended", "hang_up", "early"),
    [(5.0, True, False, 0), (5.1, True, True, 0), (25.0, True, True, 0), (25.1, False, False, 1)],
)
def test_the_end_and_the_hang_up_at_their_limits(tmp_path, left, ended, hang_up, early):
    # Ended: at most 25 % left; hang-up: more than 5 % (common practice, no source).
    row = WorkedBatch(one_candle(tmp_path, [30, 70 - left], ended_by="self")).candles.iloc[0]
    assert (row["ended"], row["hang_up"], row["self_out_early"]) == (ended, hang_up, early)
    assert np.isnan(row["life_h"]) != ended


def test_a_candle_put_out_by_hand_has_not_ended(tmp_path):
    row = WorkedBatch(one_candle(tmp_path, [48, 49], ended_by="stopped")).candles.iloc[0]
    assert not row["ended"]
    assert not row["hang_up"]
    assert np.isnan(row["life_h"])


def test_change_between_burns(tmp_path):
    burns = [
        burn("A", 1, 20),
        burn("A", 2, 20, mass_before_g=379.7),
        burn("A", 3, 20, mass_before_g=359.8),
    ]
    batch = batches.batch(tmp_path, [candle("A"), candle("B")], [*burns, burn("B", 1, 20)])
    assert WorkedBatch(batch).candles["between_burns_g"].tolist() == [pytest.approx(-0.3 + 0.1), 0]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("pools", "hours"),
    [
        ([64, 64, 64], 1.0),
        ([30, 64, 64], 1.0),  # two of three
        ([30, 30, 64], np.nan),  # most never got there
        ([30, 64], np.nan),  # half of them is not most
        ([None, None, 64], 1.0),  # a burn whose pool was not read says nothing
    ],
)
def test_typical_time_to_full_pool(tmp_path, pools, hours):
    seen = [
        row
        for n, pool in enumerate(pools, start=1)
        for row in checks("A", n, pool_diameter_mm=[pool] * 4)
    ]
    row = WorkedBatch(one_candle(tmp_path, [10] * len(pools), seen=seen)).runs.iloc[0]
    np.testing.assert_allclose(row["full_pool_h"], hours)
    assert row["burns_to_full_pool"] == 1 + pools.index(64)


# ---------------------------------------------------------------- wick runs


def test_runs_of_a_candle_with_three_wicks(tmp_path):
    burns = [burn("A", n, wax) for n, wax in enumerate([12, 12, 12, 16, 20, 22], start=1)] + [
        burn("B", 1, 16)
    ]
    changes = [
        {
            "candle": "A",
            "before_burn": 4,
            "wick_series": "flat braid",
            "wick_size": "2",
            "reason": "left wax",
        },
        {
            "candle": "A",
            "before_burn": 5,
            "wick_series": "flat braid",
            "wick_size": "3",
            "reason": "still small",
        },
    ]
    candles = [candle("A", "flat braid 1"), candle("B")]
    batch = batches.batch(tmp_path, candles, burns, wick_changes=changes)
    runs = WorkedBatch(batch).runs
    assert runs["candle"].tolist() == ["A", "A", "A", "B"]
    assert runs["run"].tolist() == [1, 2, 3, 1]
    assert runs["wick"].tolist() == ["flat braid 1", "flat braid 2", "flat braid 3", "flat braid 2"]
    assert runs["first_burn"].tolist() == [1, 4, 5, 1]
    assert runs["last_burn"].tolist() == [3, 4, 6, 1]
    assert runs["replaced"].tolist() == [True, True, False, False]
    assert runs["replaced_because"].tolist() == ["left wax", "still small", "", ""]
    assert runs["replaced_by"].tolist() == ["flat braid 2", "flat braid 3", "", ""]
    np.testing.assert_allclose(runs["burn_rate_g_per_h"], [3, 4, 5.25, 4])
    np.testing.assert_allclose(runs["fill_used_start_pct"], [0, 36, 52, 0])
    np.testing.assert_allclose(runs["fill_used_pct"], [36, 52, 94, 16])
    whole = WorkedBatch(batch).candles.iloc[0]
    assert (whole["n_runs"], whole["replaced"], whole["wick"]) == (3, True, "flat braid 1")
    assert whole["replaced_because"] == "left wax; still small"
    assert whole["replaced_by"] == "flat braid 2; flat braid 3"
    assert whole["hours_h"] == runs["hours_h"][:3].sum() == 24


def test_what_a_wick_change_did(tmp_path):
    burns = [burn("A", 1, 12), burn("A", 2, 16), burn("A", 3, 20), burn("B", 1, 16)]
    seen = (
        checks("A", 1, wall_c=40, pool_diameter_mm=35)
        + checks("A", 2, wall_c=45, pool_diameter_mm=49)
        + checks("A", 3)
    )
    changes = [
        {
            "candle": "A",
            "before_burn": 2,
            "wick_series": "flat braid",
            "wick_size": "2",
            "reason": "left wax",
        },
        {"candle": "A", "before_burn": 3, "wick_series": "flat braid", "wick_size": "3"},
    ]
    batch = batches.batch(
        tmp_path, [candle("A", "flat braid 1"), candle("B")], burns, seen, wick_changes=changes
    )
    first, second = wick_change_effects(WorkedBatch(batch).runs).to_dict("records")
    assert first == {
        "candle": "A",
        "before_burn": 2,
        "wick_before": "flat braid 1",
        "wick_after": "flat braid 2",
        "reason": "left wax",
        "burn_rate_before_g_per_h": pytest.approx(3),
        "burn_rate_after_g_per_h": pytest.approx(4),
        "burn_rate_change_g_per_h": pytest.approx(1),
        "pool_before_pct": pytest.approx(50),
        "pool_after_pct": pytest.approx(70),
        "wall_before_c": 40,
        "wall_after_c": 45,
        "fill_used_pct": pytest.approx(12),
    }
    assert (second["before_burn"], second["wick_before"], second["wick_after"]) == (
        3,
        "flat braid 2",
        "flat braid 3",
    )
    assert (second["reason"], second["fill_used_pct"]) == ("", pytest.approx(28))
    assert len(wick_change_effects(WorkedBatch(one_candle(tmp_path / "none", [20])).runs)) == 0


def test_drift_of_every_run_against_scipy(demo_batch):
    burns = burn_cycles(demo_batch)
    runs = wick_runs(demo_batch, burns).set_index(["candle", "run"])
    middle = (burns["fill_used_start_pct"] + burns["fill_used_pct"]) / 200
    candle_left_out = burns.groupby("candle")["excluded"].transform("all")
    table = burns.assign(middle=middle)[~burns["excluded"] | candle_left_out]
    for key, run in table.groupby(["candle", "run"]):
        line = stats.linregress(run["middle"], run["burn_rate_g_per_h"])
        assert runs.loc[key, "rate_drift_g_per_h"] == pytest.approx(line.slope)
        assert runs.loc[key, "rate_drift_u_g_per_h"] == pytest.approx(line.stderr)
        assert runs.loc[key, "burn_rate_g_per_h"] == pytest.approx(
            run["wax_used_g"].sum() / run["burn_time_h"].sum()
        )
    assert len(runs) == table.groupby(["candle", "run"]).ngroups


def test_a_burn_left_out_keeps_its_wax_and_hours(tmp_path):
    left_out = [{"candle": "A", "burn": 3, "reason": "draught"}]
    seen = checks("A", 2, wall_c=50) + checks("A", 3, wall_c=70)
    batch = one_candle(
        tmp_path, [16, 20, 24, 25], [4, 4, 4, 5], ended_by="self", exclusions=left_out, seen=seen
    )
    for table in (WorkedBatch(batch).runs, WorkedBatch(batch).candles):
        row = table.iloc[0]
        assert row["n_burns"] == 3
        assert row["hours_h"] == 17
        assert row["wax_used_g"] == pytest.approx(85)
        assert row["burn_rate_g_per_h"] == pytest.approx(61 / 13)
        assert row["wall_max_c"] == 50
        assert row["rate_drift_g_per_h"] == pytest.approx(
            stats.linregress([0.08, 0.26, 0.725], [4, 5, 5]).slope
        )
        assert not row["excluded"]
        assert row["exclusion_reason"] == ""
    assert WorkedBatch(batch).candles["life_h"].tolist() == [17]


def test_a_candle_left_out_keeps_its_row_and_numbers(tmp_path):
    left_out = [{"candle": "A", "reason": "wick off centre"}]
    batch = one_candle(tmp_path, [16, 20], exclusions=left_out)
    for table in (WorkedBatch(batch).runs, WorkedBatch(batch).candles):
        row = table.iloc[0]
        assert row["excluded"]
        assert row["exclusion_reason"] == "wick off centre"
        assert row["n_burns"] == 2
        assert row["burn_rate_g_per_h"] == pytest.approx(4.5)


def test_a_run_whose_only_burn_is_left_out(tmp_path):
    change = [{"candle": "A", "before_burn": 2, "wick_series": "flat braid", "wick_size": "3"}]
    left_out = [{"candle": "A", "burn": 1, "reason": "draught"}]
    batch = one_candle(tmp_path, [16, 20, 20], wick_changes=change, exclusions=left_out)
    first, second = WorkedBatch(batch).runs.to_dict("records")
    assert first["excluded"]
    assert first["n_burns"] == 0
    assert np.isnan(first["burn_rate_g_per_h"])
    assert first["hours_h"] == 4
    assert not second["excluded"]
    assert second["n_burns"] == 2
    assert second["burn_rate_g_per_h"] == pytest.approx(5)


# ---------------------------------------------------------------- tables


def test_every_column_is_in_the_glossary_and_nothing_is_changed(demo_batch):
    burns = burn_cycles(demo_batch)
    before = burns.copy(deep=True)
    runs = wick_runs(demo_batch, burns)
    whole = candle_summary(demo_batch, burns, runs)
    assert set(runs) | set(whole) | set(wick_change_effects(runs)) <= set(GLOSSARY)
    pd.testing.assert_frame_equal(burns, before)
    pd.testing.assert_frame_equal(runs, WorkedBatch(demo_batch).runs)
    pd.testing.assert_frame_equal(whole, WorkedBatch(demo_batch).candles)
    assert whole["candle"].is_unique
    assert set(whole["candle"]) == set(demo_batch.candles["candle"])
    np.testing.assert_allclose(
        runs.groupby("candle", sort=False)["wax_used_g"].sum(), whole["wax_used_g"]
    )


def test_mass_balance_with_the_change_between_burns(demo_batch):
    whole = WorkedBatch(demo_batch).candles.set_index("candle")
    raw = demo_batch.burns.sort_values(["candle", "burn"]).groupby("candle")
    first_to_last = raw["mass_before_g"].first() - raw["mass_after_g"].last()
    np.testing.assert_allclose(
        whole["wax_used_g"], (first_to_last + whole["between_burns_g"]).loc[whole.index], atol=1e-9
    )
    np.testing.assert_allclose(whole["wax_left_g"], whole["fill_mass_g"] - whole["wax_used_g"])

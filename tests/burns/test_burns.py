"""One row per burn: worked by hand, and the same in any order and any unit."""

import copy
import csv
import random

import batches
import numpy as np
import pandas as pd
import pytest
from batches import burn, candle, check, checks, read
from places import DEMO

from candlelab.burns.burns import burn_cycles
from candlelab.burns.candidates import natural_order
from candlelab.logs.writer import SPREADSHEET, write_batch
from candlelab.pages.glossary import GLOSSARY
from candlelab.simulate.demo import SCREENING_TOML, demo_screening


@pytest.fixture(scope="module", params=["screening", "confirmation"])
def demo_batch(request):
    return read(DEMO / request.param)


# ---------------------------------------------------------------- by hand


def two_burns(folder):
    burns = [
        burn("A2", 1, 20.0, wick_length_mm=6, note="calm"),
        burn(
            "A2",
            2,
            17.5,
            h=3.5,
            mass_before_g=379.8,
            room_c=None,
            aftersmoke_s=None,
            ended_by="stopped",
        ),
    ]
    seen = checks(
        "A2",
        1,
        pool_diameter_mm=[30, 50, 66, 68],
        wall_c=[40, 45, 48, 47],
        flame_height_mm=[30, 33, 31, 28],
        pool_depth_mm=[4, 6, 9, 8.5],
        soot=[0, 1, 0, 0],
        mushroom_mm=[1, 1, 2, 1.5],
    )
    seen += [
        check("A2", 2, 180, pool_diameter_mm=70, soot=None),
        check("A2", 2, 60, pool_diameter_mm=40, wall_c=None),
    ]
    return batches.batch(folder, [candle("A2", fragrance="fig", fragrance_load_pct=8)], burns, seen)


def test_every_column_of_two_burns_worked_by_hand(tmp_path):
    table = burn_cycles(two_burns(tmp_path))
    first, second = table.to_dict("records")
    same = {
        "candle": "A2",
        "run": 1,
        "candidate": "flat braid 2",
        "wick": "flat braid 2",
        "wick_series": "flat braid",
        "wick_size": "2",
        "vessel": "jar",
        "wax": "soy",
        "fragrance": "fig",
        "fragrance_load_pct": 8.0,
        "dye": "",
        "fill_mass_g": 100.0,
        "excluded": False,
        "exclusion_reason": "",
        "wax_shared": False,
    }
    # Scale: 0.1 g and 0.1 g, u_m^2 = 0.1^2 / 12 + 0.1^2 = 0.0108333 g^2; clock: 1 min, u_t^2 = (1
    # / 60)^2 / 12 h^2.
    u_mass2, u_time2 = 0.0108333333, 1 / 43200
    assert first == same | {
        "burn": 1,
        "lit_at": pd.Timestamp("2026-06-01 09:00", tz="UTC"),
        "out_at": pd.Timestamp("2026-06-01 13:00", tz="UTC"),
        "ended_by": "timer",
        "burn_time_h": 4.0,
        "rest_h": pytest.approx(np.nan, nan_ok=True),
        "mass_before_g": 400.0,
        "mass_after_g": 380.0,
        "wax_used_g": pytest.approx(20.0),
        "burn_rate_g_per_h": pytest.approx(5.0),
        "burn_rate_u_g_per_h": pytest.approx(
            np.sqrt(2 * u_mass2 / 16 + 2 * u_time2 * (20 / 16) ** 2)
        ),
        "heat_release_w": pytest.approx(5 * 36 / 3.6),
        "fragrance_release_g_per_h": pytest.approx(5 * 8 / 108),
        "fill_used_start_pct": pytest.approx(0.0),
        "fill_used_pct": pytest.approx(20.0),
        "room_c": 22.0,
        "wick_length_mm": 6.0,
        "aftersmoke_s": 5.0,
        "note": "calm",
        "n_checks": 4,
        "longest_gap_min": pytest.approx(60.0),
        "gap": False,
        "gap_from_min": pytest.approx(np.nan, nan_ok=True),
        "gap_to_min": pytest.approx(np.nan, nan_ok=True),
        "wall_max_c": 48.0,
        "wall_margin_c": 17.0,
        "wall_max_warm_room_c": 56.0,
        "wall_margin_warm_room_c": 9.0,
        "flame_max_mm": 33.0,
        "flame_last_mm": 28.0,
        "pool_share_max_pct": pytest.approx(6800 / 70),
        "pool_share_last_pct": pytest.approx(6800 / 70),
        "pool_depth_max_mm": 9.0,
        "full_pool_after_h": 2.0,
        "full_pool_by_h": 3.0,
        "full_pool_h": pytest.approx(2 + 14 / 16),
        "pool_watched_h": 4.0,
        "soot_max": 1.0,
        "mushroom_max_mm": 2.0,
    }
    nan = pytest.approx(np.nan, nan_ok=True)
    assert second == same | {
        "burn": 2,
        "lit_at": pd.Timestamp("2026-06-02 09:00", tz="UTC"),
        "out_at": pd.Timestamp("2026-06-02 12:30", tz="UTC"),
        "ended_by": "stopped",
        "burn_time_h": 3.5,
        "rest_h": 20.0,
        "mass_before_g": 379.8,
        "mass_after_g": 362.3,
        "wax_used_g": pytest.approx(17.5),
        "burn_rate_g_per_h": pytest.approx(5.0),
        "burn_rate_u_g_per_h": pytest.approx(
            np.sqrt(2 * u_mass2 / 12.25 + 2 * u_time2 * (17.5 / 12.25) ** 2)
        ),
        "heat_release_w": pytest.approx(50.0),
        "fragrance_release_g_per_h": pytest.approx(5 * 8 / 108),
        "fill_used_start_pct": pytest.approx(20.0),
        "fill_used_pct": pytest.approx(37.5),
        "room_c": nan,
        "wick_length_mm": nan,
        "aftersmoke_s": nan,
        "note": "",
        "n_checks": 2,
        "longest_gap_min": pytest.approx(120.0),
        "gap": True,
        "gap_from_min": 60.0,
        "gap_to_min": 180.0,
        "wall_max_c": 45.0,
        "wall_margin_c": 20.0,
        "wall_max_warm_room_c": nan,
        "wall_margin_warm_room_c": nan,
        "flame_max_mm": 30.0,
        "flame_last_mm": 30.0,
        "pool_share_max_pct": pytest.approx(100.0),
        "pool_share_last_pct": pytest.approx(100.0),
        "pool_depth_max_mm": 8.0,
        "full_pool_after_h": 1.0,
        "full_pool_by_h": 3.0,
        "full_pool_h": pytest.approx(1 + 2 * 24 / 30),
        "pool_watched_h": 3.0,
        "soot_max": 0.0,
        "mushroom_max_mm": 1.0,
    }


HOURS = (60, 120, 180, 240)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("minutes", "pools", "bracket"),
    [
        # full is 70 - 2 * 3 = 64 mm; after, by, interpolated, watched
        (HOURS, [66, 68, 70, 70], (0, 1, 64 / 66, 4)),  # full at the first check
        (HOURS, [30, 40, 50, 63.9], (4, None, None, 4)),  # never full
        (HOURS, [30, 40, 50, 64], (3, 4, 4, 4)),  # full at the last check
        ((60, 180, 240), [30, 66, 70], (1, 3, 1 + 2 * 34 / 36, 4)),  # a check missed in between
        (HOURS, [30, None, 66, 70], (1, 3, 1 + 2 * 34 / 36, 4)),  # the pool not read in between
        (HOURS, [None, 66, 70, 70], (0, 2, 2 * 64 / 66, 4)),  # the first not read
        (HOURS, [30, 66, 60, 66], (1, 2, 1 + 34 / 36, 4)),  # narrower again later
        (HOURS, [40, 38, 66, 66], (2, 3, 2 + 26 / 28, 4)),  # narrower first
        ((60, 120), [30, 50], (2, None, None, 2)),  # the burn's end unseen
        (HOURS, [30, 50, None, None], (2, None, None, 2)),  # not read to the end
        (HOURS, [None] * 4, (None, None, None, None)),  # never read
    ],
)
def test_bracket_of_the_full_pool(tmp_path, minutes, pools, bracket):
    seen = checks("A", 1, minutes, pool_diameter_mm=pools)
    row = burn_cycles(batches.batch(tmp_path, [candle("A")], [burn("A", 1, 20)], seen)).iloc[0]
    found = row[["full_pool_after_h", "full_pool_by_h", "full_pool_h", "pool_watched_h"]].to_numpy(
        dtype=float
    )
    np.testing.assert_allclose(found, np.array(bracket, dtype=float))


def test_margin_of_the_full_pool_is_a_setting(tmp_path):
    toml = batches.TOML + "[protocol]\nfull_pool_margin_mm = 10\n"
    batch = batches.batch(tmp_path, [candle("A")], [burn("A", 1, 20)], checks("A", 1), toml=toml)
    assert burn_cycles(batch)["full_pool_by_h"].tolist() == [2.0]  # 50 mm of 70 mm


def test_a_batch_without_a_check(tmp_path):
    row = burn_cycles(batches.batch(tmp_path, [candle("A")], [burn("A", 1, 20)])).iloc[0]
    assert (row["n_checks"], row["longest_gap_min"], row["gap"]) == (0, 240, True)
    unseen = [
        "wall_max_c",
        "wall_margin_c",
        "wall_max_warm_room_c",
        "flame_max_mm",
        "flame_last_mm",
        "pool_share_max_pct",
        "pool_share_last_pct",
        "pool_depth_max_mm",
        "full_pool_after_h",
        "full_pool_by_h",
        "full_pool_h",
        "pool_watched_h",
        "soot_max",
        "mushroom_max_mm",
    ]
    assert row[unseen].isna().all()
    assert row["burn_rate_g_per_h"] == pytest.approx(5.0)


def test_a_candle_without_a_burn(tmp_path):
    batch = batches.batch(tmp_path, [candle("A"), candle("B")], [burn("B", 1, 20)], checks("B", 1))
    assert burn_cycles(batch)["candle"].tolist() == ["B"]


def test_fragrance_none_unknown_and_on_the_total(tmp_path):
    candles = [
        candle("A"),
        candle("B", fragrance="fig"),
        candle("C", fragrance="fig", fragrance_load_pct=10),
    ]
    burns = [burn(name, 1, 20) for name in "ABC"]
    toml = 'load_basis = "total"\n' + batches.TOML
    table = burn_cycles(batches.batch(tmp_path, candles, burns, toml=toml))
    np.testing.assert_allclose(table["fragrance_release_g_per_h"], [0, np.nan, 0.5])


def test_a_wax_without_a_heat_of_combustion_counts_as_paraffin(tmp_path):
    table = burn_cycles(batches.batch(tmp_path, [candle("A", wax="beeswax")], [burn("A", 1, 20)]))
    assert table["heat_release_w"].iat[0] == pytest.approx(
        5 * 43.8 / 3.6
    )  # Hamins, Bundy, Dillon 2005


# ---------------------------------------------------------------- wicks, names, exclusions


def test_natural_order():
    assert natural_order(["S10", "S2", "S1b", "S1", "T1"]) == ["S1", "S1b", "S2", "S10", "T1"]


def test_wick_changes_start_runs(tmp_path):
    burns = [burn(name, n, 10) for name in ("A", "B", "C") for n in range(1, 6)]
    changes = [
        {"candle": "C", "before_burn": 5, "wick_series": "square braid", "wick_size": "1"},
        {"candle": "A", "before_burn": 4, "wick_series": "flat braid", "wick_size": "3"},
        {"candle": "C", "before_burn": 2, "wick_series": "flat braid", "wick_size": "1"},
    ]
    candles = [candle(name) for name in ("A", "B", "C")]
    table = burn_cycles(batches.batch(tmp_path, candles, burns, wick_changes=changes)).set_index(
        ["candle", "burn"]
    )
    assert table["run"].unstack().to_numpy().tolist() == [
        [1, 1, 1, 2, 2],
        [1, 1, 1, 1, 1],
        [1, 2, 2, 2, 3],
    ]
    assert table.loc["A", "wick"].tolist() == ["flat braid 2"] * 3 + ["flat braid 3"] * 2
    assert table.loc["B", "wick"].tolist() == ["flat braid 2"] * 5
    assert table.loc["C", "candidate"].tolist() == ["flat braid 2"] + ["flat braid 1"] * 3 + [
        "square braid 1"
    ]
    assert table.loc[("C", 5), "wick_series"] == "square braid"
    assert table.loc[("C", 5), "wick_size"] == "1"


_FIG = {"fragrance": "fig", "fragrance_load_pct": 8}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("one", "other", "names"),
    [
        ({}, {}, ["flat braid 2", "flat braid 2"]),
        ({"vessel": "tin"}, {}, ["flat braid 2, tin", "flat braid 2, jar"]),
        ({"wax": "rape"}, {}, ["flat braid 2, rape", "flat braid 2, soy"]),
        ({"dye": "blue"}, {}, ["flat braid 2, blue", "flat braid 2, no dye"]),
        ({"wick_count": 2}, {"wick_count": 1}, ["flat braid 2 x2", "flat braid 2"]),
        (_FIG, {}, ["flat braid 2, fig 8 %", "flat braid 2, no fragrance"]),
        (
            _FIG,
            {"fragrance": "fig", "fragrance_load_pct": 6.5},
            ["flat braid 2, fig 8 %", "flat braid 2, fig 6.5 %"],
        ),
        (_FIG, {"fragrance": "rose"}, ["flat braid 2, fig 8 %", "flat braid 2, rose"]),
        (
            {"vessel": "tin", "wax": "rape", "dye": "blue"} | _FIG,
            {},
            [
                "flat braid 2, tin, rape, fig 8 %, blue",
                "flat braid 2, jar, soy, no fragrance, no dye",
            ],
        ),
    ],
)  # fmt: skip
def test_candidates_name_what_differs(tmp_path, one, other, names):
    toml = batches.TOML + "[vessels.tin]\ninner_diameter_mm = 60\n"
    batch = batches.batch(
        tmp_path,
        [candle("A", **one), candle("B", **other)],
        [burn("A", 1, 9), burn("B", 1, 9)],
        toml=toml,
    )
    table = burn_cycles(batch)
    assert table["candidate"].tolist() == names
    assert table["wick"].tolist() == [name.split(",")[0] for name in names]


def test_exclusions_of_a_burn_a_candle_and_for_two_reasons(tmp_path):
    left_out = [
        {"candle": "A", "burn": 2, "reason": "draught"},
        {"candle": "B", "reason": "wick off centre"},
        {"candle": "B", "burn": 1, "reason": "lid left on"},
    ]
    burns = [burn(name, n, 10) for name in ("A", "B", "C") for n in (1, 2)]
    table = burn_cycles(
        batches.batch(tmp_path, [candle(c) for c in "ABC"], burns, exclusions=left_out)
    )
    assert table["excluded"].tolist() == [False, True, True, True, False, False]
    assert table["exclusion_reason"].tolist() == [
        "",
        "draught",
        "wick off centre; lid left on",
        "wick off centre",
        "",
        "",
    ]
    assert table["wax_used_g"].round(6).tolist() == [10.0] * 6  # marked, not deleted


# ---------------------------------------------------------------- what must not matter, and
# balances


def test_the_order_of_rows_does_not_matter(tmp_path):
    shuffled = tmp_path / "shuffled"
    shuffled.mkdir()
    (shuffled / "batch.toml").write_bytes((DEMO / "screening" / "batch.toml").read_bytes())
    for path in (DEMO / "screening").glob("*.csv"):
        with open(path, encoding="utf-8", newline="") as file:
            head, *rows = csv.reader(file)
        random.Random(path.name).shuffle(rows)
        with open(shuffled / path.name, "w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([head, *rows])
    assert (
        read(shuffled).burns["candle"].tolist() != read(DEMO / "screening").burns["candle"].tolist()
    )
    pd.testing.assert_frame_equal(
        burn_cycles(read(shuffled)), burn_cycles(read(DEMO / "screening"))
    )


def test_mass_balance_of_every_candle(demo_batch):
    table = burn_cycles(demo_batch)
    of_candle = table.groupby("candle")
    change = (table["mass_before_g"] - table["mass_after_g"].shift()).where(
        table["candle"] == table["candle"].shift()
    )
    change = change.groupby(table["candle"]).sum()
    raw = demo_batch.burns.sort_values(["candle", "burn"]).groupby("candle")
    whole = raw["mass_before_g"].first() - raw["mass_after_g"].last()
    np.testing.assert_allclose(of_candle["wax_used_g"].sum(), whole + change, atol=1e-9)
    assert change.between(
        -1.3, 0.4
    ).all()  # what is trimmed off, 0.3-1 g with an old wick, and the scale's grid
    np.testing.assert_allclose(
        of_candle["fill_used_pct"].last(),
        100 * of_candle["wax_used_g"].sum() / of_candle["fill_mass_g"].first(),
    )


def test_other_units_give_the_same_burns(tmp_path):
    write_batch(demo_screening().tables, SCREENING_TOML, tmp_path, style=SPREADSHEET)
    other, plain = burn_cycles(read(tmp_path)), burn_cycles(read(DEMO / "screening"))
    assert list(other) == list(plain)
    # Written to 0.001 oz, 0.01 in, 0.1 °F and 0.01 h; half of the last place (NIST SP 811 for the
    # units).
    ounce, inch, degree, hour = 0.0005 * 28.349523125, 0.005 * 25.4, 0.05 / 1.8, 0.005
    shortest = plain["burn_time_h"].min()
    room = {
        "mass_before_g": ounce,
        "mass_after_g": ounce,
        "fill_mass_g": ounce,
        "wax_used_g": 2 * ounce,
        "burn_rate_g_per_h": 2 * ounce / shortest,
        "burn_rate_u_g_per_h": 1e-4,
        "heat_release_w": 2 * ounce / shortest * 40 / 3.6,
        "fragrance_release_g_per_h": 2 * ounce / shortest * 8 / 108,
        "fill_used_start_pct": 0.2,
        "fill_used_pct": 0.2,
        "room_c": degree,
        "wall_max_c": degree,
        "wall_margin_c": degree,
        "wall_max_warm_room_c": 2 * degree,
        "wall_margin_warm_room_c": 2 * degree,
        "flame_max_mm": inch,
        "flame_last_mm": inch,
        "pool_depth_max_mm": inch,
        "mushroom_max_mm": inch,
        "wick_length_mm": inch,
        "pool_share_max_pct": 100 * inch / 74,
        "pool_share_last_pct": 100 * inch / 74,
        "full_pool_after_h": hour,
        "full_pool_by_h": hour,
        "pool_watched_h": hour,
        "full_pool_h": 0.05,
        "longest_gap_min": 60 * hour,
    }
    for name in plain:
        if name in room:
            np.testing.assert_allclose(
                other[name], plain[name], rtol=0, atol=room[name] + 1e-9, err_msg=name
            )
        else:
            pd.testing.assert_series_equal(other[name], plain[name])


def test_nothing_that_goes_in_is_changed(demo_batch):
    before = copy.deepcopy(
        {name: value for name, value in vars(demo_batch).items() if isinstance(value, pd.DataFrame)}
    )
    burn_cycles(demo_batch)
    assert set(before) >= {
        "candles",
        "burns",
        "checks",
        "wicks",
        "wick_changes",
        "exclusions",
        "throw",
    }
    for name, table in before.items():
        pd.testing.assert_frame_equal(getattr(demo_batch, name), table)


def test_every_column_is_in_the_glossary(demo_batch):
    table = burn_cycles(demo_batch)
    assert set(table) <= set(GLOSSARY)
    assert table.index.equals(pd.RangeIndex(len(table)))

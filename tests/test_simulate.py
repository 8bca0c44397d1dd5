"""The simulated bench gives back the truth it was told, and the demo is what its README says."""

import dataclasses
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from candlelab import simulate
from candlelab.columns import TABLES
from candlelab.logs import check_batch, read_batch
from candlelab.problems import MUST_FIX, PROTOCOL
from candlelab.simulate import BatchPlan, Bench, Event, Model, WickChange, WickTruth

DEMO = Path(__file__).parents[1] / "data" / "demo"


@pytest.fixture(scope="module")
def screening():
    return simulate.demo_screening()


@pytest.fixture(scope="module")
def confirmation():
    return simulate.demo_confirmation()


@pytest.fixture(scope="module")
def many():
    return simulate.simulate_many(2000, seed=11)


def one_wick(n, rate=5.6, left_pct=3.0, bench=None, **more):
    wicks = (WickTruth("flat braid", "1", 1, rate, left_pct), WickTruth("flat braid", "2", 2, rate + 1, 3.0))
    return BatchPlan(wicks, tuple((f"T{i:03d}", "flat braid", "1") for i in range(n)), bench or Bench(), **more)


def burn_rates(batch):
    burns = batch.tables["burns"].merge(batch.tables["candles"][["candle", "fill_mass_g"]], on="candle")
    burns["used"] = burns["mass_before_g"] - burns["mass_after_g"]
    burns["hours"] = (burns["out_at"] - burns["lit_at"]).dt.total_seconds() / 3600
    burns["rate"] = burns["used"] / burns["hours"]
    burns["used_before"] = burns.groupby("candle")["used"].cumsum() - burns["used"]
    return burns


# ---------------------------------------------------------------- the demo


def test_the_committed_demo_is_written_again_byte_for_byte(tmp_path):
    simulate.write_demo(tmp_path)
    written = {p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert len(written) == 14  # eight files of screening, five of confirmation, the README
    for name, content in written.items():
        assert content == (DEMO / name).read_bytes(), f"{name}: run python -m candlelab.simulate data/demo"


@pytest.mark.parametrize("name", ["screening", "confirmation"])
def test_nothing_in_the_demo_must_be_fixed_and_only_planted_deviations_are_listed(name):
    problems = check_batch(DEMO / name)
    assert not (problems["level"] == MUST_FIX).any()
    listed = set(zip(problems["candle"], problems["problem"], strict=True))
    planted = {
        ("S04", "wick longer than the trim length"), ("S05", "room outside the range"), ("S10", "rest too short"),
        ("S11", "burn of another length"), ("S13", "check missed"), ("S14", "check missed"), ("S15", "check missed"),
    }  # fmt: skip
    assert listed == (planted if name == "screening" else set())
    assert (problems["level"] == PROTOCOL).all()


def test_the_log_in_ounces_reads_to_the_same_numbers(confirmation):
    read, made = read_batch(DEMO / "confirmation"), confirmation.tables
    # Half of the last decimal written: 0.0005 oz on a grid of 0.005 oz, 0.005 in, 0.05 °F, 0.005 h.
    np.testing.assert_allclose(read.burns["mass_before_g"], made["burns"]["mass_before_g"], atol=1e-6)
    np.testing.assert_allclose(read.burns["mass_after_g"], made["burns"]["mass_after_g"], atol=1e-6)
    np.testing.assert_allclose(read.checks["wall_c"], made["checks"]["wall_c"], atol=0.05 / 1.8 + 1e-9)
    np.testing.assert_allclose(read.checks["pool_diameter_mm"], made["checks"]["pool_diameter_mm"], atol=0.127 + 1e-9)
    np.testing.assert_allclose(read.checks["elapsed_min"], made["checks"]["elapsed_min"], atol=0.3 + 1e-9)
    assert (read.burns["lit_at"].dt.tz_localize(None) == made["burns"]["lit_at"]).all()
    assert read.settings.confirms == "screening"


def test_the_confirmation_log_is_kept_another_way():
    raw = (DEMO / "confirmation" / "burns.csv").read_bytes()
    assert raw.startswith(b"\xef\xbb\xbfCandle;Burn;Lit at;Out at;Mass before [oz]")
    assert b"02.03.2026 09:10" in raw
    assert "Room [°F]".encode() in raw and b"Pool diameter [in]" in (DEMO / "confirmation/checks.csv").read_bytes()
    masses = [row.split(";")[4] for row in raw.decode("utf-8-sig").splitlines()[1:] if row.startswith("C")]
    assert all(len(m.split(",")[1]) == 3 and m[-1] in "05" for m in masses)


def test_sizes_and_stages_are_as_planned(screening, confirmation):
    candles = screening.tables["candles"]
    counts = candles.groupby(["wick_series", "wick_size"]).size()
    assert len(counts) == 6 and (counts == 3).all()
    fresh = confirmation.tables["candles"].groupby(["wick_series", "wick_size"]).size()
    assert fresh["square braid", "2"] == 6 and fresh["paper-cored", "4"] == 3
    cure = screening.tables["burns"].groupby("candle")["lit_at"].min().dt.normalize() - candles["poured_on"].iloc[0]
    assert cure.min() >= pd.Timedelta(days=14)
    last = confirmation.tables["burns"]["out_at"].max()
    assert last < pd.Timestamp("2026-03-29")  # the clocks change in Lisbon on that day (IANA tz database)


def test_planted_events_are_in_the_log(screening):
    burns = screening.tables["burns"].set_index(["candle", "burn"])
    checks = screening.tables["checks"].set_index(["candle", "burn", "elapsed_min"])
    minutes = (burns["out_at"] - burns["lit_at"]).dt.total_seconds() / 60
    assert burns.loc[("S03", 3), "ended_by"] == "self" and minutes["S03", 3] == 142 and ("S03", 4) not in burns.index
    assert burns.loc[("S04", 4), "wick_length_mm"] == 8.0
    assert burns.loc[("S05", 2), "room_c"] == 18.5
    assert burns.loc[("S10", 4), "lit_at"] - burns.loc[("S10", 3), "out_at"] == pd.Timedelta(hours=2)
    assert minutes["S11", 3] == 310
    for gap in (("S13", 3, 120), ("S13", 6, 180), ("S14", 2, 180), ("S15", 4, 120)):
        assert gap not in checks.index
    assert checks.loc[("S17", 4, 180), "flame_height_mm"] == 79
    assert burns.loc[("S17", 4), "ended_by"] == "stopped" and ("S17", 5) not in burns.index
    assert (screening.tables["checks"]["flame_height_mm"] > 76.2).sum() == 1
    assert burns.loc[("S07", 2), "note"] == '<b>soot?</b> $5 scale, "new" =SUM(A1)'
    assert "\n" in burns.loc[("S08", 5), "note"]
    left_out = screening.tables["exclusions"]
    assert left_out["candle"].tolist() == ["S06", "S14"] and left_out["burn"].tolist() == [pd.NA, 5]
    changes = screening.tables["wick_changes"]
    assert changes[["candle", "before_burn", "wick_size"]].to_numpy().tolist() == [["S01", 6, "4"], ["S02", 5, "4"]]


def test_each_candidate_shows_its_character(screening):
    checks = screening.tables["checks"].assign(soot=lambda t: t["soot"].astype(int))
    of = checks.groupby("candle").agg(
        wall=("wall_c", "max"), pool=("pool_diameter_mm", "max"), depth=("pool_depth_mm", "max"), soot=("soot", "max")
    )
    too_small = checks[checks["candle"].isin(["S01", "S02", "S03"]) & (checks["burn"] < 5)]
    assert too_small["pool_diameter_mm"].max() < 71 and too_small["wall_c"].max() < 45
    good = of.loc["S07":"S09"]
    assert good["wall"].between(50, 60).all() and (good["soot"] == 0).all() and (good["depth"] < 13).all()
    early = checks[checks["candle"].isin(["S07", "S08", "S09"]) & (checks["burn"] <= 2)]
    assert (early.groupby("candle")["pool_diameter_mm"].max() >= 71).all()
    large = of.loc["S16":"S18"]
    assert (large["wall"] > 65).sum() >= 2 and (large["soot"] >= 2).all() and (large["depth"] > 13).all()
    rates = burn_rates(screening)
    left = 1 - rates.groupby("candle")["used"].sum() / rates.groupby("candle")["fill_mass_g"].first()
    assert left["S07":"S09"].between(0.02, 0.05).all()
    assert left["S03"] > 0.40 and left["S17"] > 0.25


def test_the_readme_names_every_planted_event():
    text = (DEMO / "README.md").read_text(encoding="utf-8")
    for event in simulate.SCREENING_EVENTS + simulate.CONFIRMATION_EVENTS:
        assert f"| {event.candle} | {event.burn or 'all'} |" in text
    for name in (f.name for f in dataclasses.fields(Model)):
        assert f"| {name} |" in text


# ---------------------------------------------------------------- seeds and consistency


def test_same_seed_same_tables_other_seed_other_tables():
    plan = one_wick(4)
    a, b, c = (simulate.simulate_batch(plan, seed=s) for s in (1, 1, 2))
    for name, table in a.tables.items():
        pd.testing.assert_frame_equal(table, b.tables[name])
    assert not a.tables["burns"]["mass_after_g"].equals(c.tables["burns"]["mass_after_g"])


@pytest.mark.parametrize("which", ["screening", "confirmation", "many"])
def test_no_table_contradicts_itself(which, request):
    tables = request.getfixturevalue(which).tables
    burns, checks = tables["burns"], tables["checks"]
    same = burns["candle"].eq(burns["candle"].shift())
    assert (burns["mass_after_g"] < burns["mass_before_g"]).all()
    assert (burns["lit_at"] < burns["out_at"]).all()
    assert (burns["lit_at"] >= burns["out_at"].shift())[same].all()
    assert (burns["burn"] == burns.groupby("candle").cumcount() + 1).all()
    between = (burns["mass_before_g"] - burns["mass_after_g"].shift())[same]
    assert between.max() <= 0.3 and between.min() >= -1.3
    used = (burns["mass_before_g"] - burns["mass_after_g"]).groupby(burns["candle"]).sum()
    assert (used <= tables["candles"].set_index("candle")["fill_mass_g"].loc[used.index]).all()
    assert not burns.duplicated(["candle", "burn"]).any()
    assert not checks.duplicated(["candle", "burn", "elapsed_min"]).any()
    inside = checks.merge(burns, on=["candle", "burn"], how="left")
    assert (inside["elapsed_min"] <= (inside["out_at"] - inside["lit_at"]).dt.total_seconds() / 60).all()
    known = set(zip(tables["wicks"]["wick_series"], tables["wicks"]["wick_size"], strict=True))
    assert set(zip(tables["candles"]["wick_series"], tables["candles"]["wick_size"], strict=True)) <= known


@pytest.mark.parametrize("which", ["screening", "confirmation", "many"])
def test_every_value_is_plausible_and_filled(which, request):
    tables = request.getfixturevalue(which).tables
    for name, table in tables.items():
        for column in (c for c in TABLES[name].columns if c.name in table and c.low is not None):
            values = table[column.name].dropna().astype(float)
            assert values.between(column.low, column.high).all(), f"{name}.{column.name}"
    seen = [c.name for c in TABLES["checks"].columns if c.name != "note"]
    assert not tables["checks"][seen].isna().any().any()
    assert set(tables["checks"]["soot"]) <= {"0", "1", "2", "3"}
    assert set(tables["burns"]["ended_by"]) <= {"timer", "self", "stopped"}


def test_a_large_year_has_its_size(many):
    assert [len(many.tables[t]) for t in ("candles", "burns", "checks")] == [2000, 26_000, 130_000]
    assert many.tables["candles"].groupby(["wick_series", "wick_size"]).ngroups == 40
    assert sorted(many.tables["checks"]["elapsed_min"].unique()) == [15, 60, 120, 180, 235]


def test_a_plan_that_contradicts_itself_is_refused():
    with pytest.raises(ValueError, match="candle S99 is not in the plan; no event is called 'storm'"):
        simulate.simulate_batch(one_wick(2, events=(Event("storm", "S99", 1),)), seed=1)
    with pytest.raises(ValueError, match="wick flat braid 7 is not among the wicks"):
        change = WickChange("T000", 3, "flat braid", "7", "left wax standing")
        simulate.simulate_batch(one_wick(2, changes=(change,)), seed=1)


# ---------------------------------------------------------------- truth


def test_mass_balance_fill_is_used_plus_left():
    batch = simulate.simulate_batch(one_wick(30), seed=5)
    used = burn_rates(batch).groupby("candle")["used"].sum()
    truth = batch.candle_truth.set_index("candle")
    fill = batch.tables["candles"].set_index("candle")["fill_mass_g"]
    np.testing.assert_allclose(truth["used_g"] + truth["left_g"], fill)
    # Each burn adds two readings: standard deviation sqrt(20 * (0.04^2 + 0.1^2 / 12)) = 0.22 g for ten burns.
    np.testing.assert_allclose(used, truth["used_g"], atol=5 * 0.22)
    assert (truth["left_g"] / fill).between(0.015, 0.06).all()  # 3 % out of reach, up to half an hour of wax more


@pytest.mark.parametrize("rate", [4.4, 5.6, 7.0])
def test_burn_rates_give_back_the_truth(rate):
    model, bench = Model(), Bench(max_burns=6)
    rows = burn_rates(simulate.simulate_batch(one_wick(120, rate=rate, bench=bench), seed=int(rate * 10)))
    rows = rows[rows["ended_by"] == "timer"]
    share = (rows["used_before"] + 0.5 * rate * 4) / rows["fill_mass_g"]
    room = model.room_effect_g_per_h * (rows["room_c"] - model.room_c)
    level = (rows["rate"] - room - model.drift_g_per_h * (share - 0.5)).groupby(rows["candle"]).mean()
    assert abs(level.mean() - rate) < 3 * level.std() / np.sqrt(len(level))
    # Candle means scatter by sqrt(0.25^2 + 0.20^2 / burns); a standard deviation of n values has error sd / sqrt(2 n).
    expected = np.hypot(model.candle_sd_g_per_h, model.burn_sd_g_per_h / np.sqrt(rows.groupby("candle").size().mean()))
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
    # 5.66 * 40 / 3.6 = 62.9 W, rise 0.49 * 62.9 * (0.85 + 0.15 * 0.62) * (1 - exp(-4 / 0.7)) = 29.0 °C, room 22.5 °C.
    assert abs(late.mean() - 51.5) < 3 * late.std() / np.sqrt(len(late))


def test_larger_wicks_burn_wider_hotter_and_dirtier():
    means = []
    for rate in (4.1, 5.6, 7.8):
        tables = simulate.simulate_batch(one_wick(12, rate=rate, bench=Bench(max_burns=4)), seed=8).tables
        means.append(tables["checks"].drop(columns=["candle", "note"]).astype(float).mean())
    for name in ("wall_c", "pool_diameter_mm", "pool_depth_mm", "flame_height_mm", "mushroom_mm", "soot"):
        small, right, large = (m[name] for m in means)
        assert small <= right < large, name


def test_a_wall_over_the_stop_limit_ends_the_burn():
    tables = simulate.simulate_batch(one_wick(6, rate=7.8, bench=Bench(wall_stop_c=60)), seed=2).tables
    merged = tables["checks"].merge(tables["burns"], on=["candle", "burn"])
    hot = merged[merged["wall_c"] > 60]
    assert len(hot) and "stopped" in set(hot["ended_by"])
    minutes = (hot["out_at"] - hot["lit_at"]).dt.total_seconds() / 60
    assert (minutes - hot["elapsed_min"]).between(0, 2).all()


def test_a_wick_change_takes_wax_along_and_changes_the_rate():
    changes = (WickChange("T000", 4, "flat braid", "2", "left wax standing", rest_days=3),)
    burns = simulate.simulate_batch(one_wick(1, changes=changes), seed=4).tables["burns"].set_index("burn")
    assert 0.2 < burns.loc[3, "mass_after_g"] - burns.loc[4, "mass_before_g"] < 1.2
    assert burns.loc[4, "lit_at"].date() - burns.loc[3, "lit_at"].date() >= pd.Timedelta(days=3)
    rate = burn_rates(simulate.simulate_batch(one_wick(1, changes=changes), seed=4)).set_index("burn")["rate"]
    assert rate[4:6].mean() - rate[1:3].mean() > 0.4  # one size is 1 g/h, burns scatter by 0.2


# ---------------------------------------------------------------- writing


def test_styles_write_the_same_batch_another_way(tmp_path):
    tables = simulate.simulate_batch(one_wick(2), seed=6).tables
    simulate.write_batch(tables, 'title = "a"\n', tmp_path / "plain")
    simulate.write_batch(tables, 'title = "a"\n', tmp_path / "other", style=simulate.SPREADSHEET)
    plain = pd.read_csv(tmp_path / "plain" / "burns.csv")
    other = pd.read_csv(tmp_path / "other" / "burns.csv", sep=";", decimal=",", encoding="utf-8-sig")
    assert list(plain)[:6] == ["candle", "burn", "lit_at", "out_at", "mass_before_g", "mass_after_g"]
    # 28.349523125 g in an ounce (NIST SP 811); three decimals are 0.014 g at most.
    np.testing.assert_allclose(other["Mass before [oz]"] * 28.349523125, plain["mass_before_g"], atol=0.0143)
    np.testing.assert_allclose((other["Room [°F]"] - 32) / 1.8, plain["room_c"], atol=0.028)
    assert (tmp_path / "plain" / "burns.csv").read_bytes()[:3] == b"can"
    assert b"\r" not in (tmp_path / "other" / "checks.csv").read_bytes()


def test_writing_changes_no_table(tmp_path, confirmation):
    before = {name: table.copy() for name, table in confirmation.tables.items()}
    simulate.write_batch(confirmation.tables, "", tmp_path, style=simulate.SPREADSHEET)
    for name, table in before.items():
        pd.testing.assert_frame_equal(table, confirmation.tables[name])

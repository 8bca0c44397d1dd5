"""The demo is what its README says, and is written again byte for byte."""

import dataclasses
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from candlelab import demo
from candlelab.bench import Model
from candlelab.logs import check_batch, read_batch
from candlelab.problems import MUST_FIX, PROTOCOL

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "data" / "demo"


@pytest.fixture(scope="module")
def screening():
    return demo.demo_screening()


@pytest.fixture(scope="module")
def confirmation():
    return demo.demo_confirmation()


def test_the_committed_demo_is_written_again_byte_for_byte(tmp_path):
    subprocess.run([sys.executable, "-W", "error", "-m", "candlelab.demo", tmp_path], cwd=ROOT, check=True)
    written = {p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*") if p.is_file()}
    assert len(written) == 14  # eight files of screening, five of confirmation, the README
    for name, content in written.items():
        assert content == (DEMO / name).read_bytes(), f"{name}: run python -m candlelab.demo data/demo"


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
    of = checks.groupby("candle").agg(wall=("wall_c", "max"), pool=("pool_diameter_mm", "max"), depth=("pool_depth_mm", "max"), soot=("soot", "max"))
    too_small = checks[checks["candle"].isin(["S01", "S02", "S03"]) & (checks["burn"] < 5)]
    assert too_small["pool_diameter_mm"].max() < 71 and too_small["wall_c"].max() < 45
    good = of.loc["S07":"S09"]
    assert good["wall"].between(50, 60).all() and (good["soot"] == 0).all() and (good["depth"] < 13).all()
    early = checks[checks["candle"].isin(["S07", "S08", "S09"]) & (checks["burn"] <= 2)]
    assert (early.groupby("candle")["pool_diameter_mm"].max() >= 71).all()
    large = of.loc["S16":"S18"]
    assert (large["wall"] > 65).sum() >= 2 and (large["soot"] >= 2).all() and (large["depth"] > 13).all()
    burns = screening.tables["burns"]
    used = (burns["mass_before_g"] - burns["mass_after_g"]).groupby(burns["candle"]).sum()
    left = 1 - used / screening.tables["candles"].set_index("candle")["fill_mass_g"]
    assert left["S07":"S09"].between(0.02, 0.05).all()
    assert left["S03"] > 0.40 and left["S17"] > 0.25


def test_the_readme_names_every_planted_event():
    text = (DEMO / "README.md").read_text(encoding="utf-8")
    for event in demo.SCREENING_EVENTS + demo.CONFIRMATION_EVENTS:
        assert f"| {event.candle} | {event.burn or 'all'} |" in text
    for name in (f.name for f in dataclasses.fields(Model)):
        assert f"| {name} |" in text

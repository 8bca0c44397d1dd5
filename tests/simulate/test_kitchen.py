"""The kitchen demo: a log with the accidents of a real one, and what each of them comes to."""

import numpy as np
import pandas as pd
import pytest
from places import DEMO

from candlelab.judge.criteria import EN, FLAME_LIMITS_MM
from candlelab.judge.fates import BURNING, RULED_OUT, SAFE, UNCHECKED
from candlelab.judge.safety import FAIL, NOT_CHECKED, PASS
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.problems import LOOK, PROTOCOL
from candlelab.simulate import kitchen

FOLDER = DEMO / "kitchen"
TIN, TUMBLER = ", tin", ", stoneware tumbler"


@pytest.fixture(scope="module")
def worked():
    return WorkedBatch(read_batch(FOLDER))


@pytest.fixture(scope="module")
def made():
    return kitchen.demo_kitchen()


def fate(worked, candidate):
    return worked.fates.set_index("candidate").loc[candidate]


def verdicts(worked, candle):
    """Standards' verdict and studio's of a candle on its first wick."""
    table = worked.verdicts.candle_verdicts
    row = table[(table["candle"] == candle) & (table["run"] == 1)].iloc[0]
    return row["standard_verdict"], row["studio_verdict"]


def test_the_log_is_of_the_size_and_shape_that_was_meant(worked):
    batch = worked.batch
    assert (len(batch.candles), len(batch.burns), len(batch.checks)) == (18, 149, 414)
    assert batch.candles.groupby("vessel").size().to_dict() == {"stoneware tumbler": 10, "tin": 8}
    assert batch.candles.groupby("wick_count").size().to_dict() == {1: 11, 3: 7}
    of_wick = batch.candles.groupby(["vessel", "wick_series", "wick_size", "wick_count"]).size()
    assert sorted(of_wick) == [1, 1, 1, 1, 1, 1, 3, 3, 3, 3]


def test_it_is_written_in_ounces_inches_fahrenheit_and_the_dates_of_the_states():
    heads = {p.stem: p.read_text("utf-8").splitlines() for p in FOLDER.glob("*.csv")}
    assert heads["burns"][0].startswith(
        "candle,burn,lit_at,out_at,mass_before_oz,mass_after_oz,room_f"
    )
    assert "flame_height_in,wall_f,pool_diameter_in" in heads["checks"][0]
    assert ",9/21/2026 18:" in "\n".join(heads["burns"])  # no zero before month and day
    settings = (FOLDER / "batch.toml").read_text("utf-8")
    assert "wall_stop_f = 150" in settings
    assert 'slash_dates = "month/day/year"' in settings


def test_it_reads_to_what_was_made(made, worked):
    # Half of the last decimal written: 0.005 oz, 0.005 in, 0.5 °F.
    read, burns, checks = worked.batch, made.tables["burns"], made.tables["checks"]
    np.testing.assert_allclose(read.burns["mass_after_g"], burns["mass_after_g"], atol=1e-6)
    np.testing.assert_allclose(read.checks["wall_c"], checks["wall_c"], atol=0.5 / 1.8 + 1e-9)
    flame = read.checks["flame_height_mm"]
    np.testing.assert_allclose(flame, checks["flame_height_mm"], atol=0.127 + 1e-9)
    assert (read.burns["lit_at"].dt.tz_localize(None) == burns["lit_at"]).all()
    assert read.burns["out_at"].max() < pd.Timestamp("2026-11-01", tz="America/Chicago")
    # The clocks change in Chicago on that day (IANA tz database).


def test_check_finds_the_crack_set_aside_and_the_forgotten_check_and_nothing_else():
    problems = check_batch(FOLDER)
    found = problems[["level", "problem", "candle", "found"]].to_numpy().tolist()
    crack = "the vessel was damaged in burn 6 at 180 min"
    assert found == [
        [LOOK, "failure set aside", "K05", crack],
        [PROTOCOL, "check missed", "K13", "120 min without a check"],
    ]


@pytest.mark.parametrize("candle", ["K06", "K07", "K13"])
def test_a_last_burn_of_eleven_minutes_owes_no_check_and_costs_nothing(worked, candle):
    last = worked.burns[worked.burns["candle"] == candle].iloc[-1]
    assert round(60 * last["burn_time_h"]) == 11
    assert last["ended_by"] == "self"
    assert last["n_checks"] == 0
    assert not last["gap"]
    gaps = worked.gaps[worked.gaps["candle"] == candle]
    assert not (gaps["burn"] == last["burn"]).any()
    if candle != "K13":
        assert verdicts(worked, candle) == (PASS, PASS)


def test_a_cracked_tin_rules_its_wick_out_though_it_was_set_aside(worked):
    row = fate(worked, "square braid 1" + TIN)
    assert row["fate"] == RULED_OUT
    for said in ("vessel cracked", "K05, burn 6, 3 h", "You set aside K05 (vessel had a flaw)"):
        assert said in row["because"]
    assert row["next_step"].startswith("Stop testing")
    assert verdicts(worked, "K05")[0] == FAIL
    assert verdicts(worked, "K04") == verdicts(worked, "K06") == (PASS, PASS)
    said = next(d for d in worked.decisions if d.vessel == "tin").incidents
    assert len(said) == 1
    assert said[0].startswith("Stop burning K05")
    assert "thin crack under the rim" in said[0]


def test_a_wick_that_drowned_is_a_recorded_failure_to_burn(worked):
    row = fate(worked, "flat braid 1" + TIN)
    assert row["fate"] == RULED_OUT
    assert "It went out by itself with 86 % of its wax left" in row["because"]
    assert "K08, burn 2" in row["because"]
    assert "flat braid 2" in row["next_step"]  # the next size, safe so far


def test_one_forgotten_check_costs_that_candle_its_pass_and_no_other(worked):
    row = fate(worked, "flat braid 2 x3" + TUMBLER)
    assert (row["fate"], row["n_passed"], row["n_gaps"]) == (SAFE, 2, 1)
    assert "K13 is not fully checked: no check from minute 60 to 180 of burn 3" in row["because"]
    assert verdicts(worked, "K13")[0] == NOT_CHECKED


def test_a_blank_aftersmoke_costs_that_candle_its_pass_and_no_other(worked):
    row = fate(worked, "square braid 1 x3" + TUMBLER)
    assert (row["fate"], row["n_passed"], row["n_gaps"]) == (SAFE, 2, 1)
    assert "K16 is not fully checked: aftersmoke not written down in burn 2" in row["because"]


def test_a_flame_far_over_the_limit_rules_out_and_the_candle_is_not_lit_again(worked):
    row = fate(worked, "paper-cored 5" + TUMBLER)
    assert FLAME_LIMITS_MM[EN] == 75.0
    assert row["fate"] == RULED_OUT
    assert "flame" in row["because"]
    assert "K10, burn 8" in row["because"]
    own = worked.batch.burns[worked.batch.burns["candle"] == "K10"]
    assert own["ended_by"].iloc[-1] == "stopped"
    assert own["burn"].max() == 8


def test_a_wick_change_leaves_both_wicks_without_a_pass(worked):
    first, second = (fate(worked, f"flat braid {n}{TUMBLER}") for n in (4, 5))
    assert first["fate"] == second["fate"] == UNCHECKED
    assert "its wick was changed after burn 3" in first["because"]
    assert "K09" in first["because"]
    assert first["n_passed"] == second["n_passed"] == 0


def test_a_candle_that_still_burns_says_how_many_burns_are_left(worked, made):
    row = fate(worked, "paper-cored 2 x3" + TUMBLER)
    assert row["fate"] == BURNING
    # Truth: the wax left in reach, at 9.2 g/h and 4 h a burn, is for more than one burn, not two.
    truth = made.candle_truth.set_index("candle").loc["K18"]
    assert 1 < truth["left_g"] / (9.2 * 4) < 2
    assert "K18 (about 2 more burns)" in row["next_step"]


def test_what_goes_well_in_spite_of_it_all_is_safe_so_far(worked):
    counts = {"flat braid 2" + TIN: 3, "paper-cored 2" + TIN: 1, "wooden 13" + TUMBLER: 1}
    for candidate, n in counts.items():
        row = fate(worked, candidate)
        assert (row["fate"], row["n_passed"], row["n_failed"]) == (SAFE, n, 0), candidate


def test_each_vessel_has_a_pick_of_its_own(worked):
    picks = {d.vessel: d.pick for d in worked.decisions}
    assert picks == {
        "tin": "flat braid 2" + TIN,
        "stoneware tumbler": "square braid 1 x3" + TUMBLER,
    }


def test_notes_of_burns_and_checks_are_kept(worked):
    notes = set(worked.batch.checks["note"]) | set(worked.batch.burns["note"])
    assert {"flickering", "window open", "phone call", "not lit again"} <= notes

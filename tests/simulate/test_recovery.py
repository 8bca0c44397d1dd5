"""A seeded bench with known truth: the rates, the findings and
the planted failures must come back."""

import batches
import numpy as np
import pytest

from candlelab.judge.diagnosis import LARGE, NEITHER, SMALL
from candlelab.judge.safety import FAIL, PASS
from candlelab.judge.worked import WorkedBatch
from candlelab.simulate.model import Bench, Event, Model

pytestmark = pytest.mark.slow

SEEDS = range(20)
# Size, burn rate g/h, wax out of reach %: clearly too small, suited
# (5.6 g/h in this vessel), clearly too large.
WICKS = (("1", 4.0, 36.0), ("2", 5.6, 3.0), ("3", 8.0, 2.0))


@pytest.fixture(scope="module")
def seeded(tmp_path_factory):
    """Twenty batches of three candles a wick, each with what is worked out of it."""
    made = [batches.simulated(tmp_path_factory.mktemp("batch"), WICKS, seed=seed) for seed in SEEDS]
    return [WorkedBatch(batch) for batch in made]


def test_burn_rates_of_the_wicks_come_back(seeded):
    """Mean over candles of the run's rate, corrected for the known
    drift, against the wick's true rate."""
    model = Model()
    for size, truth, _ in WICKS:
        means = []
        for worked in seeded:
            runs = worked.runs[worked.runs["wick_size"] == size]
            middle = (runs["fill_used_start_pct"] + runs["fill_used_pct"]) / 200
            # Between two burns some hundredths of a gram are trimmed off; they are not in the rate.
            means.append((runs["burn_rate_g_per_h"] - model.drift_g_per_h * (middle - 0.5)).mean())
        error = np.std(means, ddof=1) / np.sqrt(len(means))
        assert abs(np.mean(means) - truth) < 3 * error
        # Candles scatter by 0.25 g/h and burns by 0.20 g/h: three
        # candles of about ten burns leave 0.15 g/h.
        assert error < 0.05


def test_candles_scatter_more_than_scale_and_clock_explain(seeded):
    for worked in seeded[:5]:
        runs = worked.runs
        between = runs.groupby("wick_size")["burn_rate_g_per_h"].std()
        assert (runs["burn_rate_u_g_per_h"] < 0.02).all()
        assert between.mean() > 0.05


def test_rate_drift_comes_back(tmp_path):
    batch = batches.simulated(tmp_path, (("1", 5.6, 3.0),), seed=12, each=200)
    drift = WorkedBatch(batch).runs["rate_drift_g_per_h"]
    assert abs(drift.mean() - Model().drift_g_per_h) < 3 * drift.std() / np.sqrt(len(drift))


def test_scatter_of_the_drift_is_as_it_says(tmp_path):
    batch = batches.simulated(tmp_path, (("1", 5.6, 3.0),), seed=13, each=200)
    runs = WorkedBatch(batch).runs
    score = (runs["rate_drift_g_per_h"] - Model().drift_g_per_h) / runs["rate_drift_u_g_per_h"]
    # Student's t with about 7 degrees of freedom has the standard deviation sqrt(7 / 5) = 1.18.
    assert 1.0 < score.std() < 1.45


def test_clearly_wrong_wicks_are_named(seeded):
    """Measured on these 20 batches, and on the next 20: every too small and too
    large wick named, every suited one left alone."""
    named = {"1": 0, "2": 0, "3": 0}
    for worked in seeded:
        found = worked.diagnosis.candidates.set_index("candidate")
        fates = worked.fates.set_index("candidate")
        next_wick = fates["next_wick"]
        for size, finding in (("1", SMALL), ("2", NEITHER), ("3", LARGE)):
            named[size] += found.loc[f"flat braid {size}", "finding"] == finding
        if found.loc["flat braid 1", "finding"] == SMALL:
            assert next_wick["flat braid 1"] == "flat braid 2"
        if found.loc["flat braid 3", "finding"] == LARGE:
            stop = fates.loc["flat braid 3", "next_step"].startswith("Stop testing flat braid 3 ")
            assert next_wick["flat braid 3"] == ("" if stop else "flat braid 2")
    assert min(named.values()) >= 0.9 * len(seeded), named


def test_no_suited_wick_fails_a_standard(seeded):
    """The suited wick's flame stays near 35 mm; nothing was planted, so
    whatever fails here would be invented."""
    verdicts = [worked.verdicts.candidates.set_index("candidate") for worked in seeded[:8]]
    assert {v.loc["flat braid 2", "standard_verdict"] for v in verdicts} == {PASS}


@pytest.mark.parametrize("seed", range(5))
def test_a_planted_flame_fails(tmp_path, seed):
    flame = Event("tall flame", "2-2", 3, 79, at_min=180)
    verdicts = WorkedBatch(batches.simulated(tmp_path, WICKS, seed=seed, events=(flame,))).verdicts
    failed = verdicts.checks[
        (verdicts.checks["criterion"] == "flame height") & (verdicts.checks["outcome"] == FAIL)
    ]
    assert failed[["candle", "burn", "elapsed_min", "value"]].to_numpy().tolist() == [
        ["2-2", 3, 180, 79]
    ]
    row = verdicts.candidates.set_index("candidate").loc["flat braid 2"]
    assert (row["standard_verdict"], row["n_failed"], row["n_passed"]) == (FAIL, 1, 2)


def test_a_planted_missed_check_is_never_a_pass(tmp_path):
    missed = Event("missed check", "2-1", 4, at_min=120)
    verdicts = WorkedBatch(batches.simulated(tmp_path, WICKS, seed=1, events=(missed,))).verdicts
    row = verdicts.candidates.set_index("candidate").loc["flat braid 2"]
    assert (row["standard_verdict"], row["n_passed"], row["n_open"]) == ("not checked", 2, 1)


def test_a_hot_wall_fails_the_studio_and_no_standard(tmp_path):
    model, bench = (
        Model(wall_per_w=0.75),
        Bench(wall_stop_c=65.0),
    )  # a vessel that passes more heat to its outside
    verdicts = WorkedBatch(
        batches.simulated(tmp_path, (("1", 5.6, 3.0),), seed=2, bench=bench, model=model)
    ).verdicts
    hot = verdicts.checks[
        (verdicts.checks["criterion"] == "wall stop") & (verdicts.checks["outcome"] == FAIL)
    ]
    assert len(hot)
    assert (hot["value"] > 65).all()
    row = verdicts.candidates.iloc[0]
    assert row["studio_verdict"] == FAIL
    assert row["standard_verdict"] != FAIL

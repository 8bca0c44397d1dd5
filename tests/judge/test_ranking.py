"""Order of the candidates: what failed last, then evidence, then targets, vessel by vessel."""

import batches as made
import numpy as np
import pandas as pd
import pytest
from batches import read
from judged import TWO_VESSELS, Log
from places import DEMO

from candlelab.burns.burns import burn_cycles
from candlelab.burns.candles import candle_summary, wick_runs
from candlelab.judge.ranking import first_wick_values, open_ends, rank_candidates
from candlelab.judge.safety import Verdicts
from candlelab.judge.targets import targets_of
from candlelab.judge.worked import WorkedBatch

TARGETS = "[targets]\nwall_max_c = {high = 50}\nlife_h = {low = 10}\n"


@pytest.fixture(scope="module")
def screening():
    return WorkedBatch(read(DEMO / "screening"))


def _ranked(rows, **hits):
    """Ranking of candidates a, b ...: fate, candles passed, candles failed, and targets hit of."""
    names = list(rows)
    fates = pd.DataFrame(
        [(name, "jar", name, *row) for name, row in rows.items()],
        columns=["candidate", "vessel", "wick", "fate", "n_passed", "n_failed"],
    )
    counts = pd.DataFrame({"candidate": names, "n_passed": 0, "n_failed": 0, "n_candles": 3})
    empty = pd.DataFrame()
    verdicts = Verdicts(empty, empty, empty, empty, empty, empty, counts, ())
    targets = pd.DataFrame(
        [(name, inside, asked) for name, (inside, asked) in hits.items()],
        columns=["candidate", "n_inside", "n_candles"],
    ).astype({"n_inside": int, "n_candles": int})
    return rank_candidates(verdicts, fates, targets)


def test_safety_comes_before_every_target():
    ranking = _ranked(
        {"a": ("ruled out", 2, 1), "b": ("safe so far", 3, 0), "c": ("not fully checked", 0, 0),
         "d": ("ruled out", 0, 3)},
        a=(9, 9), b=(0, 9), c=(9, 9), d=(9, 9),
    )  # fmt: skip
    assert ranking["candidate"].tolist() == ["b", "c", "a", "d"]
    assert ranking["rank"].tolist() == [1, 2, 3, 4]


def test_evidence_comes_before_targets():
    """Two candles that passed and one with a gap rank above one candle that passed."""
    ranking = _ranked(
        {"once": ("safe so far", 1, 0), "twice": ("safe so far", 2, 0)}, once=(5, 5), twice=(4, 15)
    )
    assert ranking["candidate"].tolist() == ["twice", "once"]


def test_equal_evidence_is_ordered_by_the_share_of_targets():
    ranking = _ranked(
        {name: ("safe so far", 2, 0) for name in ("few", "many", "best")},
        few=(4, 6), many=(8, 10), best=(9, 10),
    )  # fmt: skip
    assert ranking["candidate"].tolist() == ["best", "many", "few"]


def test_targets_order_nothing_that_was_ruled_out():
    ranking = _ranked({"a": ("ruled out", 1, 1), "b": ("ruled out", 1, 1)}, a=(0, 10), b=(10, 10))
    assert ranking["rank"].tolist() == [1, 1]


def test_a_mean_that_failed_counts_as_one_failure():
    ranking = _ranked({"candles": ("ruled out", 0, 2), "mean": ("ruled out", 0, 0)})
    assert ranking["candidate"].tolist() == ["mean", "candles"]


def test_what_burns_on_comes_before_what_is_not_fully_checked():
    ranking = _ranked({"a": ("not fully checked", 0, 0), "b": ("still burning", 0, 0)})
    assert ranking["candidate"].tolist() == ["b", "a"]


def test_equal_candidates_share_a_rank():
    ranking = _ranked(
        {"a": ("safe so far", 3, 0), "b": ("safe so far", 3, 0), "c": ("ruled out", 0, 3)}
    )
    assert ranking["rank"].tolist() == [1, 1, 3]
    assert ranking["targets_asked"].tolist() == [0, 0, 0]


def test_order_of_the_screening_batch(screening):
    ranking = screening.ranking
    assert ranking["candidate"].tolist()[:2] == ["square braid 2", "flat braid 4"]
    assert set(ranking["candidate"][2:]) == {
        "flat braid 3", "square braid 3", "paper-cored 4", "paper-cored 5"
    }  # fmt: skip
    assert ranking["fate"].tolist() == ["safe so far"] * 2 + ["ruled out"] * 4
    assert ranking["candidate"].iat[-1] == "paper-cored 5"


# ---------------------------------------------------------------- vessels apart


def in_two_vessels(targets=""):
    log = Log()
    log.toml = TWO_VESSELS + targets
    for name, vessel, wick in (
        ("J1", "jar", "flat braid 2"), ("J2", "jar", "flat braid 3"),
        ("T1", "tin", "flat braid 2"), ("T2", "tin", "flat braid 3"), ("T3", "tin", "flat braid 3"),
    ):  # fmt: skip
        log.add(name, wick, vessel=vessel)
    return log


@pytest.mark.slow
def test_each_vessel_has_a_first_place(tmp_path):
    ranking = in_two_vessels().check("J1", 1, 60, tipped="yes").worked(tmp_path).ranking
    first = ranking[ranking["rank"] == 1].set_index("vessel")["candidate"]
    assert first.to_dict() == {"jar": "flat braid 3, jar", "tin": "flat braid 3, tin"}
    assert ranking["vessel"].tolist() == ["jar", "jar", "tin", "tin"]


def test_a_vessel_has_its_own_targets_and_the_general_ones(tmp_path):
    own = '[targets."tin"]\nwall_max_c = {high = 40}\n'
    worked = in_two_vessels(TARGETS + own).worked(tmp_path)
    of = worked.targets.set_index(["candidate", "target"])
    # The wall read 45 °C on every candle; all lived for 20 h.
    assert of.loc[("flat braid 2, jar", "wall_max_c"), ["high", "n_inside"]].tolist() == [50, 1]
    assert of.loc[("flat braid 2, tin", "wall_max_c"), ["high", "n_inside"]].tolist() == [40, 0]
    assert of.loc[("flat braid 3, tin", "life_h"), ["low", "n_inside"]].tolist() == [10, 2]
    settings = worked.batch.settings
    assert [t.quantity for t in targets_of(settings, "jar")] == ["wall_max_c", "life_h"]
    assert [t.high for t in targets_of(settings, "tin")] == [40, np.inf]


@pytest.mark.slow
def test_targets_of_one_vessel_only(tmp_path):
    worked = in_two_vessels('[targets."jar"]\nlife_h = {low = 30}\n').worked(tmp_path)
    assert worked.targets["candidate"].unique().tolist() == [
        "flat braid 2, jar", "flat braid 3, jar"
    ]  # fmt: skip
    asked = worked.ranking.set_index("candidate")["targets_asked"]
    assert asked.to_dict() == {
        "flat braid 2, jar": 1, "flat braid 3, jar": 1,
        "flat braid 2, tin": 0, "flat braid 3, tin": 0,
    }  # fmt: skip


# ---------------------------------------------------------------- targets


def test_a_replaced_candle_lends_its_first_wick_no_life(screening):
    values = screening.fresh.set_index("candle")
    assert "S06" not in values.index  # set aside as a whole
    assert np.isnan(values.loc["S01", "life_h"])
    assert np.isnan(values.loc["S01", "wax_left_pct"])
    assert values.loc["S07", "life_h"] > 30


def test_a_missing_number_is_not_inside_its_target(screening):
    targets = screening.targets.set_index(["candidate", "target"])
    never = targets.loc[("flat braid 3", "full_pool_h")]
    assert np.isnan(never["mean"])
    assert (never["n_inside"], never["n_candles"]) == (0, 3)


WANTED = """[targets]
life_h = {low = 10}
wax_left_pct = {high = 5}
full_pool_h = {high = 4}
wall_max_c = {low = 46, high = 60}
burn_rate_g_per_h = {low = 4, high = 6}
"""


@pytest.mark.slow
@pytest.mark.parametrize("burns", [1, 3])
def test_a_candle_that_still_burns_misses_nothing_yet(tmp_path, burns):
    log = Log(A="flat braid 2", B="flat braid 2").until("B", burns).settings(WANTED)
    log.every_check("B", pool_diameter_mm=50)
    asked = log.worked(tmp_path).targets.set_index("target")["n_candles"].to_dict()
    # The wall of 45 °C may still reach 46 °C; the rate so far, 4.85 g/h, is a rate.
    assert asked == {
        "life_h": 1, "wax_left_pct": 1, "full_pool_h": 1, "wall_max_c": 1, "burn_rate_g_per_h": 2
    }  # fmt: skip


def test_a_candle_at_its_end_misses_what_it_has_not(tmp_path):
    log = Log(A="flat braid 2", B="flat braid 2").settings(WANTED)
    log.until("B", 3, ended_by="stopped").every_check("B", pool_diameter_mm=50)
    table = log.worked(tmp_path).targets.set_index("target")
    assert table["n_candles"].tolist() == [2, 2, 2, 2, 2]
    assert table["n_inside"].to_dict() == {
        "life_h": 1, "wax_left_pct": 1, "full_pool_h": 1, "wall_max_c": 0, "burn_rate_g_per_h": 2
    }  # fmt: skip


def test_a_running_candle_over_the_upper_end_has_missed_it(tmp_path):
    log = Log(A="flat braid 2").until("A", 2).settings("[targets]\nwall_max_c = {high = 44}\n")
    (row,) = log.worked(tmp_path).targets.itertuples()
    assert (row.n_inside, row.n_candles) == (0, 1)


def test_what_a_missing_number_is_known_to_be_above_or_below(tmp_path):
    """A: never a full pool in burns watched for 4, 3 and 4 h. B: burn 2 unwatched. C: full in the
    first burn, burned to its end."""
    narrow = {"pool_diameter_mm": [30, 40, 50, 50]}
    a = (
        [made.burn("A", n, 19.0) for n in (1, 2, 3)],
        [
            *made.checks("A", 1, **narrow),
            *made.checks("A", 2, (60, 120, 180), pool_diameter_mm=[30, 40, 50]),
            *made.checks("A", 3, **narrow),
        ],
    )
    b = (
        [made.burn("B", n, 10.0) for n in (1, 2, 3)],
        [*made.checks("B", 1, **narrow), *made.checks("B", 3, **narrow)],
    )
    c = made.life("C")
    batch = made.batch(
        tmp_path / "b",
        [made.candle(name) for name in "ABC"],
        [*a[0], *b[0], *c[0]],
        [*a[1], *b[1], *c[1]],
    )
    burns = burn_cycles(batch)
    runs = wick_runs(batch, burns)
    values = first_wick_values(runs, candle_summary(batch, burns, runs))
    above, below = open_ends(values, burns)
    assert values["candle"].tolist() == ["A", "B", "C"]
    assert values["full_pool_h"].isna().tolist() == [True, True, False]
    assert above["full_pool_h"].tolist()[:2] == [4.0, 4.0]
    assert above["burns_to_full_pool"].tolist()[:2] == [3.0, 1.0]
    assert above["life_h"].tolist()[:2] == [12.0, 12.0]
    assert below["wax_left_pct"].tolist()[:2] == pytest.approx([43.0, 70.0])
    assert above.iloc[2].isna().all()
    assert below.iloc[2].isna().all()

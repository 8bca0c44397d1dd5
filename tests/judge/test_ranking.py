"""Ranking and the three sentences: safety before targets, and every sentence to the letter."""

import batches as made
import numpy as np
import pandas as pd
import pytest
from places import DEMO

from candlelab.burns.burns import burn_cycles
from candlelab.burns.candles import candle_summary, wick_runs
from candlelab.judge.ranking import answer, first_wick_values, open_ends, rank_candidates
from candlelab.judge.safety import Verdicts
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import read_batch


@pytest.fixture(scope="module")
def screening():
    return read_batch(DEMO / "screening")


def _verdicts(rows, criteria=()):
    columns = [
        "candidate",
        "standard_verdict",
        "studio_verdict",
        "n_candles",
        "n_part_used",
        "n_passed",
        "n_failed",
        "n_open",
        "failure_rate_up_to_pct",
    ]
    by = pd.DataFrame(criteria, columns=["candidate", "criterion", "outcome", "decides"]).astype(
        {"decides": bool}
    )
    empty = pd.DataFrame()
    return Verdicts(empty, empty, empty, empty, empty, by, pd.DataFrame(rows, columns=columns))


def _targets(**hits):
    return pd.DataFrame(
        [(name, inside, asked) for name, (inside, asked) in hits.items()],
        columns=["candidate", "n_inside", "n_candles"],
    )


MET = ("met", "met", 3, 0, 3, 0, 0, 63.16)


def test_safety_comes_before_every_target():
    verdicts = _verdicts(
        [
            ("a", "not met", "met", 3, 0, 2, 1, 0, 86.5),
            ("b", *MET),
            ("c", "not recorded", "met", 3, 0, 2, 0, 1, 77.6),
            ("d", "met", "not met", 3, 0, 0, 3, 0, 100.0),
        ]
    )
    ranking = rank_candidates(verdicts, _targets(a=(9, 9), b=(0, 9), c=(9, 9), d=(9, 9)))
    assert ranking["candidate"].tolist() == ["b", "c", "d", "a"]
    assert ranking["rank"].tolist() == [1, 2, 3, 4]


def test_targets_are_compared_by_share_then_by_candles_passed():
    verdicts = _verdicts(
        [("few", "met", "met", 2, 0, 2, 0, 0, 77.6), ("many", *MET), ("best", *MET)]
    )
    ranking = rank_candidates(verdicts, _targets(few=(4, 5), many=(8, 10), best=(9, 10)))
    assert ranking["candidate"].tolist() == ["best", "many", "few"]


def test_equal_candidates_share_a_rank():
    ranking = rank_candidates(
        _verdicts([("a", *MET), ("b", *MET), ("c", "not met", "met", 3, 0, 0, 3, 0, 100.0)]),
        _targets(),
    )
    assert ranking["rank"].tolist() == [1, 1, 3]
    assert ranking["targets_asked"].tolist() == [0, 0, 0]


def test_sentences_of_the_screening_batch(screening):
    verdicts = WorkedBatch(screening).verdicts
    targets = WorkedBatch(screening).targets
    assert answer(screening, rank_candidates(verdicts, targets), verdicts) == (
        "Square braid 2 comes first: all 3 of its fresh candles met every deciding criterion and "
        "hit 15 of 15 targets (5 targets on "
        "each of 3 candles); "
        "flat braid 4 comes next, with 2 candles passed and 8 of 10 targets.",
        "Out: square braid 3 (own pool depth), paper-cored 4 (own pool depth, only in burn 5 of "
        "S14, left out of the averages) and paper-cored 5 (flame height, soot, wall stop and 1 "
        "more); "
        "still open: flat braid 3 (end of life).",
        "3 candles without a failure still leave room for a failure rate of up to 63 % "
        "(one-sided, 95 % confidence): "
        "confirm on fresh candles; this is screening evidence, not a certificate.",
    )


@pytest.mark.parametrize(
    ("rows", "criteria", "targets", "sentences"),
    [
        (
            [("a", "not recorded", "met", 3, 0, 2, 0, 1, 77.6)],
            [("a", "soot", "not recorded", True)],
            {},
            ("No candidate has met every deciding criterion on all of its fresh candles, so "
                "none can be put first.",
             "Still open: a (soot).",
             "Nothing is proved by candles that were not fully watched or that failed: confirm "
             "on fresh candles; this is screening evidence, "
             "not a certificate."),
        ),
        (
            [("a", *MET), ("b", *MET)],
            [],
            {},
            ("A and b share the first place: every fresh candle met every deciding criterion.",
             "No candidate failed a criterion, and nothing that was required is missing.",
             "3 candles without a failure still leave room for a failure rate of up to 63 % "
             "(one-sided, 95 % confidence): confirm on fresh "
             "candles; this is screening evidence, not a certificate."),
        ),
        (
            [("a", "met", "met", 1, 0, 1, 0, 0, 95.0), ("b", "not recorded", "met", 0, 0, 0, 0, 0, np.nan)],
            [],
            {"a": (1, 2)},
            ("A comes first: its one fresh candle met every deciding criterion and hit 1 of 2 "
                "targets (2 targets on each of 1 candle).",
             "Still open: b (no fresh candle counted).",
             "1 candle without a failure still leaves room for a failure rate of up to 95 % "
             "(one-sided, 95 % confidence): confirm on fresh "
             "candles; this is screening evidence, not a certificate."),
        ),
        ([], [], {}, ("No candidate can be judged: every candle is left out.",
                      "No candidate failed a criterion, and nothing that was required is missing.",
                      "Nothing is proved by candles that were not fully watched or that failed: "
                      "confirm on fresh candles; this is screening "
                      "evidence, not a certificate.")),
    ],
)  # fmt: skip
def test_every_sentence(screening, rows, criteria, targets, sentences):
    verdicts = _verdicts(rows, criteria)
    assert answer(screening, rank_candidates(verdicts, _targets(**targets)), verdicts) == sentences


def test_a_replaced_candle_lends_its_first_wick_no_life(screening):
    values = WorkedBatch(screening).fresh.set_index("candle")
    assert "S06" not in values.index  # left out as a whole
    assert np.isnan(values.loc["S01", "life_h"]) and np.isnan(values.loc["S01", "wax_left_pct"])
    assert values.loc["S07", "life_h"] > 30


def test_a_missing_number_is_not_inside_its_target(screening):
    targets = WorkedBatch(screening).targets.set_index(["candidate", "target"])
    never = targets.loc[("flat braid 3", "full_pool_h")]
    assert np.isnan(never["mean"]) and never["n_inside"] == 0 and never["n_candles"] == 3


def test_advice_minds_the_verdict_and_the_targets(screening):
    from candlelab.judge.ranking import advise

    verdicts, diagnosis = WorkedBatch(screening).verdicts, WorkedBatch(screening).diagnosis
    targets = WorkedBatch(screening).targets
    table = advise(diagnosis.candidates, rank_candidates(verdicts, targets), targets).set_index(
        "candidate"
    )
    assert table.at["paper-cored 4", "advice"].startswith(
        "The size suits, but a criterion is not met: burn fresh candles and judge again."
    )
    assert table.at["paper-cored 4", "counter_evidence"].endswith(
        "it misses its target for life (2 of 3)"
    )
    assert table.at["square braid 3", "evidence"].endswith(
        "time to full pool (3 of 3), life (3 of 3)"
    )
    assert table.at["square braid 2", "advice"] == (
        "Keep it; confirm on fresh candles. In a 30 °C room its wall may reach 61.6 °C, over the "
        "caution limit of 60 °C: try it in a warm room."
    )
    assert table.at["paper-cored 5", "advice"] == (
        "Try one size down: paper-cored 4. But that size is out in this batch: look why first, "
        "or try another series."
    )


def test_what_a_missing_number_is_known_to_be_above_or_below(tmp_path):
    """A: never a full pool in burns watched for 4, 3 and 4 h. B: burn 2 unwatched. C: full in the
    first burn, burnt to its end."""
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
    assert values["candle"].tolist() == ["A", "B", "C"] and values[
        "full_pool_h"
    ].isna().tolist() == [True, True, False]
    assert above["full_pool_h"].tolist()[:2] == [4.0, 4.0] and above["burns_to_full_pool"].tolist()[
        :2
    ] == [3.0, 1.0]
    assert above["life_h"].tolist()[:2] == [12.0, 12.0] and below["wax_left_pct"].tolist()[
        :2
    ] == pytest.approx([43.0, 70.0])
    assert above.iloc[2].isna().all() and below.iloc[2].isna().all()

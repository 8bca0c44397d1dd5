"""A confirmation against its screening: the demo's truth, and what is asked."""

import dataclasses

import batches
import numpy as np
import pandas as pd
import pytest
from confirmed import CONFIRMATION, FRESH, judged, made, verdict
from places import DEMO

from candlelab.confirm.confirmation import candles_to_confirm, confirm_pick
from candlelab.confirm.verdict import FALLS, STANDS, TOO_FEW
from candlelab.confirm.words import answer, confirm_page, trust
from candlelab.judge.safety import MET
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import read_batch
from candlelab.simulate.demo_batches import CONFIRMATION_TOML, DEMO_WICKS
from candlelab.simulate.model import BatchPlan, Bench
from candlelab.stats.designs import CannotCompare

# ---------------------------------------------------------------- the demo and its truth


def test_the_demo_pair_is_judged_as_it_truly_is(demo):
    """Truth: both rounds have the same wicks, and the pick passes on fresh candles (1 of 660
    simulated ones failed; of the runner-up 6 of 600 did).

    So the pick stands, and the runner-up, which failed once in the screening, is neither cleared
    nor refused by three candles.
    """
    candles = tuple((f"X{n}", "square braid", "2") for n in range(60))
    true = WorkedBatch(
        batches.in_memory(
            BatchPlan(DEMO_WICKS, candles, Bench(wall_stop_c=65.0)), seed=3, toml=CONFIRMATION_TOML
        )
    ).verdicts
    assert true.candidates.at[0, "n_passed"] >= 59
    assert true.candidates.at[0, "standard_verdict"] == MET
    assert demo.verdicts["verdict"].tolist() == [STANDS, TOO_FEW]
    assert (demo.ranges["held"] == "inside").all()
    assert (demo.ranges["n_measured"] == [6] * 4 + [3] * 4).all()


def test_answer_of_the_demo(demo):
    assert answer(demo) == (
        (
            "Square braid 2 stands. All 6 fresh candles met every deciding criterion, and burn "
            "rate, wall temperature (30 °C room), time to full pool and wax left fell where the "
            "screening predicted; 3 candles were needed."
        ),
        (
            "Paper-cored 4 is not settled: not enough candles. In the screening own pool depth was "
            "not met by S14, only in burns that are left out of the averages: 6 candles judged "
            "with one failure among them say as much as 3 without, and there are 4 so far. To "
            "settle it takes 2 more fresh candles, watched at every check to the end."
        ),
        (
            "9 candles of square braid 2, screening and confirmation together, without a failure "
            "still leave room for a failure rate of up to 28 % (one-sided, 95 % confidence): this "
            "is screening evidence, not a certificate."
        ),
    )


def test_true_rates_lie_in_the_ranges_predicted(demo):
    """Truth: data/demo/README.md, mean burn rates of 5.6 and 6.0 g/h."""
    rates = demo.ranges[demo.ranges["metric"] == "burn_rate_g_per_h"].set_index("candidate")
    for name, true in (("square braid 2", 5.6), ("paper-cored 4", 6.0)):
        assert rates.at[name, "range_low"] < true < rates.at[name, "range_high"]


def test_range_of_the_demo_by_hand(demo):
    """By hand: one spread of all wicks, Student's t at half of 0.05 / 8, for the mean of six fresh
    candles.
    """
    from scipy import stats

    values = demo.screening.values[demo.screening.values["whole"]]
    groups = [
        own["burn_rate_g_per_h"].to_numpy()
        for _, own in values.groupby("candidate")
        if len(own) > 1
    ]
    df = sum(len(g) - 1 for g in groups)
    sd = np.sqrt(sum(np.square(g - g.mean()).sum() for g in groups) / df)
    row = demo.ranges.iloc[0]
    reach = stats.t.isf(0.05 / 8 / 2 / 2, df) * sd * np.sqrt(1 / 6 + 1 / 3)
    assert (row["df"], row["candle_sd"]) == (df, pytest.approx(sd))
    assert (row["mean_low"], row["mean_high"]) == (
        pytest.approx(row["middle"] - reach),
        pytest.approx(row["middle"] + reach),
    )


def test_a_fifth_more_burn_rate_is_caught():
    """The demo's screening against fresh candles of a wick that truly burns 20 % faster, and 20 %
    slower.
    """
    first = read_batch(DEMO / "screening")
    candles = tuple(
        (f"C{n}", "square braid", "2")
        for n in range(candles_to_confirm(first, ["square braid 2"])["square braid 2"])
    )
    for factor in (0.8, 1.2):
        wicks = tuple(
            dataclasses.replace(w, rate_g_per_h=w.rate_g_per_h * factor) for w in DEMO_WICKS
        )
        second = batches.in_memory(
            BatchPlan(wicks, candles, Bench(wall_stop_c=65.0, first_day="2026-03-02")),
            seed=8,
            toml=CONFIRMATION_TOML,
        )
        result = confirm_pick(first, second)
        assert verdict(result, "square braid 2")["verdict"] == FALLS
        assert "burn rate of" in verdict(result, "square braid 2")["because"]


def test_a_batch_in_memory_is_the_batch_that_was_written(tmp_path):
    wicks = (("1", 4.0, 36.0), ("2", 5.6, 3.0))
    written = batches.simulated(tmp_path, wicks, seed=4)
    truth = tuple(
        dataclasses.replace(
            DEMO_WICKS[0],
            wick_series="flat braid",
            wick_size=s,
            size_rank=n,
            rate_g_per_h=r,
            left_pct=p,
        )
        for n, (s, r, p) in enumerate(wicks, 1)
    )
    candles = tuple(
        (f"{w.wick_size}-{n}", "flat braid", w.wick_size) for w in truth for n in range(1, 4)
    )
    direct = batches.in_memory(BatchPlan(truth, candles), seed=4)
    from candlelab.confirm.rounds import read_round

    one, two = read_round(written), read_round(direct)
    pd.testing.assert_frame_equal(one.values, two.values, rtol=1e-9)
    pd.testing.assert_frame_equal(
        one.verdicts.candidate_criteria, two.verdicts.candidate_criteria, rtol=1e-9
    )


# ---------------------------------------------------------------- what is asked, and odd pairs


def test_only_the_candidate_asked_for(demo):
    result = confirm_pick(
        read_batch(DEMO / "screening"),
        read_batch(DEMO / "confirmation"),
        candidates=["Square-braid 2"],
    )
    assert result.verdicts["candidate"].tolist() == ["square braid 2"]
    # half as many ranges share the chance of a false alarm
    assert result.error == pytest.approx(2 * demo.error)


def test_a_candidate_that_was_not_burnt_again():
    result = confirm_pick(
        read_batch(DEMO / "screening"),
        read_batch(DEMO / "confirmation"),
        candidates=["flat braid 4"],
    )
    row = verdict(result, "flat braid 4")
    assert row["verdict"] == TOO_FEW
    assert row["because"].startswith("no candle of it was burnt in the confirmation")


def test_wrong_questions_are_refused_in_plain_words(pair):
    first, second = map(read_batch, pair)
    with pytest.raises(
        ValueError,
        match=r"^There is no candidate cotton 9\. There are flat braid 2 and flat braid 1\.$",
    ):
        confirm_pick(first, second, candidates=["cotton 9"])
    with pytest.raises(
        ValueError,
        match=r"^Screening and confirmation are one and the same batch: candles cannot confirm "
        r"themselves\.",
    ):
        confirm_pick(first, read_batch(pair[0]))
    with pytest.raises(
        ValueError, match=r"^shift_pct must be a number above 0 and below 100, not 0\.$"
    ):
        confirm_pick(first, second, shift_pct=0)
    with pytest.raises(
        ValueError, match=r"^power must be a number above 0\.5 and below 1, not True\.$"
    ):
        confirm_pick(first, second, power=True)
    with pytest.raises(CannotCompare, match=r"^confidence must be a number from 0\.5 to below 1"):
        confirm_pick(first, second, confidence=5)


def test_rounds_the_wrong_way_round_are_noticed(pair):
    lines = trust(judged(pair[1], pair[0]))
    assert (
        "The confirmation was lit before the screening had ended: are the two folders the right "
        "way round?" in lines
    )
    assert 'batch.toml of the second folder says stage = "screening", not "confirmation".' in lines
    assert 'batch.toml of the first folder says stage = "confirmation", not "screening".' in lines


def test_a_confirmation_of_something_else_is_noticed(pair, tmp_path):
    second = made(
        tmp_path / "third",
        FRESH,
        toml=CONFIRMATION.replace("time_zone", 'confirms = "spring"\ntime_zone', 1),
        month=8,
    )
    assert 'The confirmation says that it confirms "spring"; it was held against "first".' in trust(
        judged(pair[0], second)
    )


def test_nothing_is_changed_and_the_record_is_plain_data(pair):
    import json

    first, second = map(read_batch, pair)
    names = ("candles", "burns", "checks", "exclusions")
    tables = [getattr(batch, name) for batch in (first, second) for name in names]
    before = [table.copy() for table in tables]
    record = confirm_page(confirm_pick(first, second)).record()
    for old, new in zip(before, tables, strict=True):
        pd.testing.assert_frame_equal(old, new)
    assert json.loads(json.dumps(record, allow_nan=False))["answer"][0].startswith(
        "Flat braid 2 stands."
    )
    assert record["false_alarm_of_all"] == 0.05
    assert record["false_alarm_of_one_range"] == pytest.approx(0.05 / 4)

"""compare_candidates and its sisters: the record that they give, and every word to the letter."""

import numpy as np
import pandas as pd
import pytest
from reference_tables import burns, candles, table

from candlelab.stats.answers import ANSWER
from candlelab.stats.pairwise import compare_candidates, compare_with_reference, equivalence_test

# ---------------------------------------------------------------- the record


def test_columns_and_frozen():
    result = compare_candidates(burns(), metric="rate", by="wick")
    assert list(result.estimates.columns) == ["candidate", *ANSWER]
    assert list(result.differences.columns) == ["candidate", "reference", *ANSWER]
    assert result.estimates[["p_value", "p_adjusted"]].isna().all(axis=None)
    with pytest.raises(AttributeError):
        result.method = ""
    assert (result.metric, result.by, result.confidence, result.n_left_out) == (
        "rate",
        "wick",
        0.95,
        0,
    )
    assert result.candle_sd > 0
    assert result.burn_sd > 0


def test_the_table_is_not_changed_and_its_order_does_not_matter():
    data = burns()
    before = data.copy()
    first = compare_candidates(data, metric="rate", by="wick", covariates=["burn"])
    pd.testing.assert_frame_equal(data, before)
    again = compare_candidates(
        data.sample(frac=1, random_state=1).assign(wick=lambda d: pd.Categorical(d["wick"])),
        metric="rate",
        by="wick",
        covariates=["burn"],
    )
    pd.testing.assert_frame_equal(first.differences, again.differences, rtol=1e-7)


def test_order_and_names_of_candidates():
    data = candles([1, 2], [2, 4], [3, 5])
    data["load"] = [9.0, 9.0, 0.0, 0.0, 4.5, 4.5]
    assert list(compare_candidates(data, metric="rate", by="load").estimates["candidate"]) == [
        "0",
        "4.5",
        "9",
    ]
    data["size"] = pd.Categorical(["m", "m", "l", "l", "s", "s"], categories=["s", "m", "l", "xl"])
    assert list(compare_candidates(data, metric="rate", by="size").estimates["candidate"]) == [
        "s",
        "m",
        "l",
    ]
    assert list(
        compare_candidates(data, metric="rate", by=("wick", "load")).estimates["candidate"]
    ) == ["A 9", "B 0", "C 4.5"]


def test_candles_of_two_batches_may_share_a_name():
    data = pd.concat([burns(seed=1).assign(batch="one"), burns(seed=2).assign(batch="two")])
    result = compare_candidates(data, metric="rate", by="wick", unit=("batch", "candle"))
    assert list(result.estimates["n_candles"]) == [6, 6, 6]


def test_pandas_types_of_all_kinds():
    data = burns()
    plain = compare_candidates(data, metric="rate", by="wick").differences
    nullable = data.astype({"rate": "Float64", "burn": "Int64", "wick": "string"})
    nullable.loc[len(nullable)] = ["c1", "A", 9, pd.NA]
    result = compare_candidates(nullable, metric="rate", by="wick")
    pd.testing.assert_frame_equal(result.differences, plain)
    assert result.n_left_out == 1
    as_objects = compare_candidates(data.astype(object), metric="rate", by="wick")
    pd.testing.assert_frame_equal(as_objects.differences, plain)


@pytest.mark.parametrize("missing", ["burn", "candle", "one wick"])
def test_missing_burns_change_little(missing):
    data = burns(3, 4, 8)
    keep = {
        "burn": data.index != 5,
        "candle": data["candle"] != "c2",
        "one wick": data["wick"] != "C",
    }[missing]
    result = compare_candidates(data[keep], metric="rate", by="wick")
    assert np.isfinite(result.differences[["estimate", "df", "p_adjusted"]].to_numpy()).all()
    assert len(result.estimates) == (2 if missing == "one wick" else 3)


def test_left_out_rows_are_counted_by_reason():
    data = burns()
    data["excluded"] = data["candle"] == "c9"
    data.loc[0, "rate"] = np.nan
    data.loc[5, "wick"] = None
    result = compare_candidates(data, metric="rate", by="wick")
    assert result.n_left_out == 6
    assert (
        result.notes[0]
        == "Set aside: 6 rows of 36 (4 marked to be set aside, 1 without rate, 1 without wick)."
    )
    assert list(result.estimates["n_candles"]) == [3, 3, 2]


# ---------------------------------------------------------------- method and limits in words


@pytest.mark.slow
def test_method_in_words():
    one = compare_candidates(candles([1, 2, 3], [2, 3, 5]), metric="rate", by="wick")
    assert (
        one.method
        == "One value per candle. Candles of all candidates are taken to differ equally much, and "
        "all of them tell how much."
    )
    many = compare_candidates(
        burns().assign(day=lambda d: d["burn"].map(str)),
        metric="rate",
        by="wick",
        covariates=["day"],
    )
    assert many.method == (
        "The candle is the unit: its burns tell about that candle and are not counted as candles "
        "(a level of its own for each candle, REML, degrees of freedom after Kenward and Roger). "
        "Candles of all candidates are taken to differ equally much. Compared within day; "
        "estimates give each the same weight. Intervals of the differences allow for looking at "
        "all 3 pairs (Tukey-Kramer)."
    )
    separate = compare_candidates(burns(), metric="rate", by="wick", spread="separate")
    assert separate.method == (
        "The mean of each candle's rows stands for the candle. Each candidate has a variation of "
        "its own (Welch). Intervals of the differences allow for looking at all 3 pairs "
        "(Games-Howell)."
    )
    depth = compare_with_reference(
        burns(), metric="rate", by="wick", reference="A", covariates="burn"
    )
    assert depth.method.endswith(
        "Corrected for burn as a straight line; estimates stand for the mean over all rows. "
        "Intervals allow for comparing 2 candidates with A (Dunnett)."
    )
    rewicked = compare_candidates(table("comparison_rewicked"), metric="rate", by="wick")
    assert rewicked.method == (
        "The candle is the unit: its burns tell about that candle and are not counted as candles "
        "(a level of its own for each candle, REML, degrees of freedom after Kenward and Roger). "
        "Candles of all candidates are taken to differ equally much. A new wick in a used candle "
        "is a unit of its own: the burns on one wick in one candle count once. Intervals of the "
        "differences allow for looking at all 3 pairs (Tukey-Kramer)."
    )
    two = compare_candidates(
        burns().assign(depth=lambda d: d["burn"] ** 2),
        metric="rate",
        by="wick",
        covariates=["burn", "depth"],
    )
    assert (
        " Corrected for burn and depth as straight lines; estimates stand for the mean over all "
        "rows. " in two.method
    )
    equal = equivalence_test(burns(), metric="rate", by="wick", margin=0.5)
    assert equal.method.endswith(
        "Equivalence is shown where the whole 96.67 % interval of the difference is within ±0.5 "
        "(two one-sided tests, 3 pairs allowed for (Bonferroni))."
    )


def test_no_difference_is_never_called_the_same():
    for result in (
        compare_candidates(burns(), metric="rate", by="wick"),
        equivalence_test(burns(), metric="rate", by="wick", margin=0.1),
    ):
        assert "the same" not in " ".join(result.notes)
    assert compare_candidates(candles([1, 2, 3], [2, 3, 5]), metric="rate", by="wick").notes == (
        "A difference in rate is known to ±2.9 with these candles; no difference found does not "
        "mean that there is none.",
    )
    assert result.notes == (
        "Not shown does not mean different: the candles may be too few to tell.",
    )
    assert set(result.differences["equivalence"]) == {"equivalent within ±0.1 not shown"}


def test_one_candidate_is_a_result():
    result = compare_candidates(candles([1, 2, 4]), metric="rate", by="wick")
    assert result.differences.empty
    assert list(result.differences.columns) == ["candidate", "reference", *ANSWER]
    assert result.estimates["estimate"][0] == pytest.approx(7 / 3)
    assert result.notes == ("A is the only candidate: there is nothing to compare it with.",)


def test_one_candle_of_a_candidate_borrows_the_spread():
    result = compare_candidates(candles([1, 2, 4], [3]), metric="rate", by="wick")
    assert (
        result.notes[0]
        == "One candle only of B: how much its candles differ is taken from the others."
    )
    assert result.differences["df"][0] == 2
    part_used = compare_candidates(
        burns(2, 3, 4).query("wick == 'A' or candle == 'c4'"), metric="rate", by="wick"
    )
    assert part_used.differences["df"][0] == pytest.approx(2)


def test_a_covariate_that_never_changes_is_named():
    result = compare_candidates(
        burns().assign(vessel="tin"), metric="rate", by="wick", covariates=["vessel"]
    )
    assert result.notes[0] == "vessel is the same in every row (tin) and changes nothing."


def test_unequal_spread_is_pointed_out_and_nothing_is_switched():
    rng = np.random.default_rng(1)
    data = candles(rng.normal(5, 0.05, 8), rng.normal(5, 1, 8))
    result = compare_candidates(data, metric="rate", by="wick")
    assert result.notes[0] == (
        "Candles of B vary more than those of the others by more than luck would do (Cochran's "
        "test at 5 %). Here all candidates are taken to vary alike. Compare again with "
        'spread="separate".'
    )
    assert result.differences["df"][0] == 14
    assert (
        compare_candidates(data, metric="rate", by="wick", spread="separate").differences["df"][0]
        < 8
    )


def test_candles_with_two_wicks_and_candles_without_a_spread():
    data = table("comparison_rewicked")
    shared = (
        "What two wicks in one candle have in common is not taken off, so intervals are rather too "
        "wide than too narrow."
    )
    assert (
        f"4 candles carry more than one candidate. {shared}"
        in compare_candidates(data, metric="rate", by="wick").notes
    )
    one = data[~data["candle"].isin(["c02", "c05", "c08"])]
    assert (
        f"One candle carries more than one candidate. {shared}"
        in compare_candidates(one, metric="rate", by="wick").notes
    )
    assert compare_candidates(table("comparison_zero_variance"), metric="rate", by="wick").notes[
        0
    ] == (
        "Candles differed no more than their burns did, so the variation between candles is "
        "estimated as zero. With few candles that is often luck; the certainty is still that of "
        "the number of candles, not of burns."
    )


def test_few_candles_with_a_spread_of_their_own():
    result = compare_candidates(burns(), metric="rate", by="wick", spread="separate")
    assert result.notes[0] == (
        "With fewer than five candles a variation of its own is poorly known: among six candidates "
        "of three candles luck passed for a difference in 6.4 % of simulated batches, in place "
        "of 5 %."
    )

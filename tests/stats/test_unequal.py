"""Candidates whose candles vary by different amounts."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from candlelab.stats.intervals import standing_apart
from candlelab.stats.pairwise import compare_candidates
from candlelab.stats.unequal import compare_as_they_vary


def candles(**groups):
    rows = [(name, value) for name, values in groups.items() for value in values]
    return pd.DataFrame(rows, columns=["wick", "rate"]).assign(candle=range(len(rows)))


def both(table):
    asked = {"metric": "rate", "by": "wick"}
    return compare_candidates(table, **asked), compare_as_they_vary(table, **asked)


@pytest.mark.parametrize(("k", "critical"), [(3, 0.871), (4, 0.768), (5, 0.684), (6, 0.616)])
def test_the_rule_rings_at_cochrans_critical_value(k, critical):
    """Critical values of Cochran's test at 5 %, three results each: ISO 5725-2, table 4 (from
    memory)."""

    def groups(share):
        rest = np.sqrt((1.0 - share) / (k - 1))
        return {n: np.array([-1.0, 0, 1]) * (np.sqrt(share) if n == 0 else rest) for n in range(k)}

    assert not standing_apart(groups(critical - 0.005), 0.05)[1]
    assert list(standing_apart(groups(critical + 0.005), 0.05)[1]) == [0]


def test_candles_that_vary_alike_are_compared_as_ever():
    plain, found = both(candles(a=[5.0, 5.2, 5.1], b=[5.6, 5.5, 5.9], c=[5.0, 5.3, 5.1]))
    pd.testing.assert_frame_equal(found.differences, plain.differences)
    assert found.method == plain.method


def test_two_of_different_numbers_get_the_wider_interval():
    """Welch's t test as scipy has it."""
    few, many = [5.0, 5.3], [5.9, 6.0, 6.15, 6.2, 5.85]
    plain, found = both(candles(few=few, many=many))
    welch = stats.ttest_ind(many, few, equal_var=False)
    assert found.differences["p_value"].iat[0] == pytest.approx(welch.pvalue)
    assert found.differences["df"].iat[0] == pytest.approx(welch.df)
    assert found.differences["p_value"].iat[0] > plain.differences["p_value"].iat[0]
    assert found.method.endswith("with one for each the wider one is shown.")


def test_one_of_several_stands_apart_and_the_others_stay_together():
    """By hand: the common variance of b, c and d from six degrees of freedom, and that of a alone;
    Satterthwaite's df for a pair of both."""
    steady = {"b": [5.0, 5.1, 5.2], "c": [5.5, 5.6, 5.7], "d": [6.0, 6.1, 6.2]}
    found = compare_as_they_vary(candles(a=[4.0, 5.5, 7.0], **steady), metric="rate", by="wick")
    assert "Candles of a vary more than those of the others" in found.method
    table = found.differences.set_index(["candidate", "reference"])
    pair = table.loc[("c", "b")]
    assert pair["std_error"] == pytest.approx(np.sqrt(0.01 * 2 / 3))
    assert pair["df"] == pytest.approx(6.0)
    own, rest = 2.25 / 3, 0.01 / 3
    mixed = table.loc[("b", "a")]
    assert mixed["std_error"] == pytest.approx(np.sqrt(own + rest))
    assert mixed["df"] == pytest.approx((own + rest) ** 2 / (own**2 / 2 + rest**2 / 6))

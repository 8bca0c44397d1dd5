"""Yes or no: against Newcombe's tables, NIST, R, and every message to the letter."""

import itertools

import numpy as np
import pandas as pd
import pytest
from reference_tables import made_with_r

from candlelab.stats import proportions
from candlelab.stats.designs import CannotCompare
from candlelab.stats.proportions import (
    candles_needed,
    candles_still_needed,
    claim_words,
    compare_proportions,
    reliability_shown,
)


def passed(*counts):
    """One row per candle from (yes, of) per candidate, named a, b, c ..."""
    rows = [(name, i < k) for name, (k, n) in zip("abcdef", counts, strict=False) for i in range(n)]
    data = pd.DataFrame(rows, columns=["wick", "passed"])
    return data.assign(candle=range(len(data)))


def compare(*counts, **more):
    return compare_proportions(passed(*counts), outcome="passed", by="wick", **more)


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_wilson_newcombe_1998a(k, n, low, high):  # Stat. Med. 17:857, Table I, method 3
    row = compare((k, n)).estimates.iloc[0]
    assert (row["score_low"], row["score_high"]) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(
    ("k", "n", "low", "high"),
    [
        (81, 263, 0.2527, 0.3676),
        (15, 148, 0.0578, 0.1617),
        (0, 20, 0, 0.1684),
        (1, 29, 0.0009, 0.1776),
    ],
)
def test_exact_newcombe_1998a(k, n, low, high):  # method 5; from memory
    row = compare((k, n)).estimates.iloc[0]
    assert (row["conf_low"], row["conf_high"]) == pytest.approx((low, high), abs=5e-5)


def test_nist_intervals():
    """NIST/SEMATECH e-Handbook 7.2.4.1; its upper end of the second is 9e-7 high."""
    assert compare((26, 200), confidence=0.9).estimates["score_low"][0] == pytest.approx(
        0.09577, abs=5e-6
    )
    row = compare((4, 20), confidence=0.9).estimates.iloc[0]
    assert (row["conf_low"], row["conf_high"]) == pytest.approx((0.071354, 0.401029), abs=2e-6)


@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((0, 10), (0, 10), -0.2775, 0.2775),
        ((10, 10), (0, 20), 0.6791, 1.0),
        ((10, 10), (0, 10), 0.6075, 1.0),
        ((7, 34), (1, 34), 0.019, 0.34),  # Fagerland, Lydersen, Laake 2015, rounded
    ],
)
def test_newcombe_1998b(first, second, low, high):  # Stat. Med. 17:873, Table II, method 10
    row = compare(second, first).differences.iloc[0]
    assert (row["candidate"], row["reference"]) == ("b", "a")
    assert (row["conf_low"], row["conf_high"]) == pytest.approx(
        (low, high), abs=5e-5 if low != 0.019 else 5e-3
    )


def test_binomial_made_with_r():
    for what, columns in (
        ("exact", ["conf_low", "conf_high"]),
        ("score", ["score_low", "score_high"]),
    ):
        for row in made_with_r("binomial", what).itertuples():
            ours = compare((int(row.candidate), int(row.reference))).estimates.iloc[0]
            np.testing.assert_allclose(
                ours[columns].astype(float), [row.conf_low, row.conf_high], atol=1e-10
            )


def test_newcombe_made_with_r():
    for row in made_with_r("newcombe", "difference").itertuples():
        first, second = ([int(n) for n in text.split()] for text in (row.candidate, row.reference))
        ours = compare(second, first).differences.iloc[0]
        np.testing.assert_allclose(
            ours[["estimate", "conf_low", "conf_high"]].astype(float),
            [row.estimate, row.conf_low, row.conf_high],
            atol=1e-9,
        )


@pytest.mark.parametrize(("reliability", "confidence", "n"), [
    (0.90, 0.90, (22, 38, 52, 65)), (0.90, 0.95, (29, 46, 61, 76)), (0.95, 0.90, (45,)), (0.95,
     0.95, (59, 93, 124, 153)),
    (0.80, 0.90, (11,)), (0.80, 0.95, (14,)), (0.90, 0.99, (44,)), (0.95, 0.99, (90,)), (0.99, 0.90,
     (230,)), (0.99, 0.95, (299,)),
    (0.99, 0.99, (459,)),
])  # fmt: skip
def test_success_run(
    reliability, confidence, n
):  # ceil(ln(1-C)/ln R), and binomial with failures; recomputed
    assert tuple(candles_needed(reliability, confidence, f) for f in range(len(n))) == n


@pytest.mark.parametrize(
    ("n", "fails"), [(3, 0.632), (5, 0.451), (6, 0.393), (10, 0.259), (29, 0.098), (59, 0.0495)]
)
def test_what_n_passes_show(n, fails):  # 1 - 0.05 ** (1 / n), recomputed
    assert 1 - reliability_shown(n, 0) == pytest.approx(fails, abs=5e-4)


@pytest.mark.parametrize("failed", [0, 1, 3])
def test_enough_candles_show_the_claim_and_one_less_does_not(failed):
    for reliability in (0.7, 0.9, 0.97):
        n = candles_needed(reliability, 0.95, failed)
        assert (
            reliability_shown(n - failed, failed)
            >= reliability
            > reliability_shown(n - failed - 1, failed)
        )
        assert candles_still_needed(n - failed, failed, reliability=reliability) == 0


def test_claims_in_words():
    assert claim_words(3, 0, reliability=0.9) == (
        "3 of 3 passed: with 95 % confidence at least 36.8 % of such candles would pass. A claim "
        "of 90 % needs 26 more candles, all passing."
    )
    assert claim_words(28, 0, reliability=0.9).endswith(
        "A claim of 90 % needs 1 more candle, all passing."
    )
    assert claim_words(29, 0, reliability=0.9).endswith(
        "at least 90.1 % of such candles would pass. That supports a claim of 90 %."
    )
    assert claim_words(0, 2, reliability=0.9) == "None of 2 passed: nothing can be claimed."
    for wrong in (
        {"reliability": 1.0},
        {"reliability": 0.9, "confidence": 0},
        {"reliability": 0.9, "failures": -1},
    ):
        with pytest.raises(
            ValueError,
            match=r"^reliability and confidence lie between 0 and 1, failures is 0, 1, 2 \.\.\.$",
        ):
            candles_needed(**wrong)


def test_exact_interval_covers_whatever_the_truth():
    for n in (3, 6, 10):
        estimates = [compare((k, n)).estimates.iloc[0] for k in range(n + 1)]
        for truth in np.linspace(0.02, 0.98, 25):
            from scipy import stats

            inside = sum(
                stats.binom.pmf(k, n, truth)
                for k, e in enumerate(estimates)
                if e["conf_low"] <= truth <= e["conf_high"]
            )
            assert inside >= 0.95


def test_boschloo():
    # scipy's documentation of barnard_exact (Barnard 1945): 7 of 15 against 12 of 15, one-sided
    # Barnard 0.0341, Fisher 0.0641
    p = compare((7, 15), (12, 15)).differences["p_value"][0]
    assert 0.0641 < p < 2 * 0.0641  # two-sided, and never above twice Fisher's one-sided
    assert compare((3, 3), (3, 3)).differences["p_value"][0] == 1.0
    assert compare((3, 3), (0, 3)).differences["p_value"][0] == pytest.approx(
        2 / 64, abs=1e-6
    )  # both extreme tables at share one half


def test_all_pairs_are_allowed_for():
    result = compare((3, 3), (2, 3), (0, 3))
    assert list(
        zip(result.differences["candidate"], result.differences["reference"], strict=True)
    ) == [(b, a) for a, b in itertools.combinations("abc", 2)]
    np.testing.assert_allclose(
        result.differences["p_adjusted"], np.minimum(3 * result.differences["p_value"], 1)
    )
    alone = compare((3, 3), (0, 3)).differences.iloc[0]
    assert (
        result.differences.query("candidate == 'c' and reference == 'a'")["conf_high"].iloc[0]
        > alone["conf_high"]
    )
    assert result.method == (
        "One yes or no per candle. Exact intervals per candidate (Clopper-Pearson), score "
        "intervals beside them (Wilson); differences with hybrid score intervals (Newcombe) and "
        "the exact test of Boschloo. Intervals and p allow for looking at all 3 pairs (Bonferroni)."
    )
    assert result.notes == (
        "With 3 candles of a candidate only very large differences show; no difference found does "
        "not mean that there is none.",
    )


def test_left_out_and_types():
    data = passed((3, 4), (1, 4)).astype({"passed": "boolean"})
    data.loc[0, "passed"] = pd.NA
    data["excluded"] = data["candle"] == 7
    result = compare_proportions(data, outcome="passed", by="wick")
    assert list(result.estimates["n_candles"]) == [3, 3]
    assert list(result.estimates["n_yes"]) == [2, 1]
    assert result.n_left_out == 2
    assert result.notes[0] == "Set aside: 2 of 8 rows (1 marked, 1 not known)."
    assert (
        compare((2, 4)).notes[0] == "a is the only candidate: there is nothing to compare it with."
    )


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (passed((1, 2)).assign(passed=["met", "not met"]),
         "passed must be yes or no (True and False, or 1 and 0); found met."),
        (passed((1, 2)).assign(passed=[1, 3]),
         "passed must be yes or no (True and False, or 1 and 0); found 3."),
        (passed((1, 2)).assign(candle="c1"),
         ("c1 has more than one row. A yes or no is counted once per candle: give one row per "
            "candle, for example "
         "whether it ever happened in any of its burns.")),
        (passed((1, 2)).assign(passed=None), "No row has passed, wick and candle all filled in."),
        (passed((1, 2)).rename(columns={"passed": "past"}),
         "The table has no column 'passed'. Did you mean 'past'?"),
    ],
)  # fmt: skip
def test_refusals(data, message):
    with pytest.raises(CannotCompare) as refusal:
        proportions.compare_proportions(data, outcome="passed", by="wick")
    assert str(refusal.value) == message

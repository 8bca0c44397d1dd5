"""Times seen by checks: against Freireich, Finkelstein, R, and every message to the letter."""

import itertools
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest
from reference_tables import made_with_r, table
from scipy import stats

from candlelab.stats.designs import CannotCompare
from candlelab.stats.survival import compare_times, logrank_scores, turnbull

OPEN = np.inf
# Freireich et al. 1963, weeks of remission, 6-MP (nine relapses, then the open ones) and placebo
SIX_MP = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
PLACEBO = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
# Finkelstein and Wolfe 1985, months to deterioration after radiotherapy alone (46 patients); from
# memory, held by the values below
RADIOTHERAPY = [
    (0, 7), (0, 8), (0, 5), (4, 11), (5, 12), (5, 11), (6, 10), (7, 16), (7, 14), (11, 15), (11,
     18), (15, OPEN), (17, OPEN), (17, 25), (17, 25),
    (18, OPEN), (19, 35), (18, 26), (22, OPEN), (24, OPEN), (24, OPEN), (25, 37), (26, 40), (27,
     34), (32, OPEN), (33, OPEN), (34, OPEN), (36, 44),
    (36, 48), (36, OPEN), (36, OPEN), (37, 44), (37, OPEN), (37, OPEN), (37, OPEN), (38, OPEN), (40,
     OPEN), (45, OPEN), *[(46, OPEN)] * 8,
]  # fmt: skip


def freireich():
    until = [*SIX_MP[:9], *[np.nan] * 12, *PLACEBO]
    return pd.DataFrame(
        {
            "after": SIX_MP + PLACEBO,
            "until": until,
            "wick": ["6-MP"] * 21 + ["placebo"] * 21,
            "candle": range(42),
        }
    )


def compare(data, **more):
    return compare_times(data, after="after", until="until", by="wick", **more)


def few(first, second):
    rows = [(name, *ends) for name, group in (("A", first), ("B", second)) for ends in group]
    return pd.DataFrame(rows, columns=["wick", "after", "until"]).assign(
        candle=lambda d: [f"c{i + 1}" for i in range(len(d))]
    )


def test_freireich():  # Gehan 1965 and any survival text
    result = compare(freireich())
    curve = result.curves.query("candidate == '6-MP'").set_index("until")["share"]
    printed = {
        6: 0.857143,
        7: 0.806723,
        10: 0.752941,
        13: 0.690196,
        16: 0.627451,
        22: 0.537815,
        23: 0.448179,
    }
    np.testing.assert_allclose(curve.loc[list(printed)], list(printed.values()), atol=5e-7)
    row = result.differences.iloc[0]
    assert stats.chi2.isf(row["p_value"], 1) == pytest.approx(16.792941, abs=5e-5)
    assert row["p_value"] == pytest.approx(4.17e-5, abs=5e-8)
    assert (row["earlier"], row["counted_out"], row["smallest_p"], row["n_candles"]) == (
        "placebo",
        False,
        0.0,
        42,
    )
    medians = result.estimates.set_index("candidate")
    assert list(medians["median_low"]) == [23, 8]
    assert list(medians["median_high"]) == [23, 8]
    assert list(medians["n_seen"]) == [9, 21]
    # observed minus expected of 6-MP is 9 - 19.2505
    assert logrank_scores(SIX_MP + PLACEBO, np.nan_to_num(freireich()["until"], nan=OPEN))[
        :21
    ].sum() == pytest.approx(-10.2505, abs=5e-5)


def test_radiotherapy():  # the same estimate from R survfit, type interval2, to four decimals
    _, high, share = turnbull(*np.array(RADIOTHERAPY, dtype=float).T)
    moved = share > 1e-6
    np.testing.assert_array_equal(high[moved], [5, 7, 8, 12, 25, 34, 40, 48])
    left = 1 - np.cumsum(share)[moved]
    np.testing.assert_allclose(
        left, [0.9537, 0.9203, 0.8316, 0.7609, 0.6682, 0.5864, 0.4656, 0], atol=1e-4
    )


def test_turnbull_made_with_r():
    result = compare(table("comparison_full_pool"))
    for wick in "AB":
        r = made_with_r("turnbull", "share").query("df < 4").set_index("candidate")["estimate"]
        ours = result.curves.set_index("candidate")["share"]
        np.testing.assert_allclose(ours[wick], r[wick], atol=1e-6)
    assert result.method.startswith(
        "Times lie between two checks; curves after Turnbull, which puts no time more exactly than "
        "the checks did."
    )


def test_kaplan_meier_and_logrank_made_with_r():
    data = table("comparison_failure")
    data["until"] = data["burns"].where(data["failed"] == 1)
    result = compare(data.rename(columns={"burns": "after"}))
    r = made_with_r("kaplan_meier", "share")
    for row in r.itertuples():
        ours = result.curves.query("candidate == @row.candidate and until == @row.df").iloc[0]
        np.testing.assert_allclose(
            ours[["share", "conf_low", "conf_high"]].astype(float),
            [row.estimate, row.conf_low, row.conf_high],
            rtol=1e-7,
        )
    scores = logrank_scores(data["burns"], data["until"].fillna(OPEN))
    assert scores[data["wick"] == "A"].sum() == pytest.approx(
        made_with_r("logrank", "observed minus expected")["estimate"][0]
    )
    # coin::logrank_test, distribution "exact": all 1716 ways of dealing out 13 candles
    assert result.differences["p_value"][0] == pytest.approx(
        made_with_r("logrank", "exact")["p_value"][0], rel=1e-9
    )
    assert result.differences["counted_out"][0]
    chi2 = made_with_r("logrank", "chi2").iloc[0]
    a, b = (
        stats.CensoredData.right_censored(g["burns"], g["failed"] == 0)
        for _, g in data.groupby("wick")
    )
    assert stats.logrank(a, b).statistic ** 2 == pytest.approx(chi2["estimate"])


def test_turnbull_is_kaplan_meier_without_brackets():
    data = freireich().query("wick == '6-MP'")
    low, high, share = turnbull(data["after"], data["until"].fillna(OPEN))
    np.testing.assert_array_equal(low[:-1], high[:-1])
    np.testing.assert_allclose(1 - np.cumsum(share)[:-1], compare(data).curves["share"], atol=1e-8)


@pytest.mark.parametrize("seed", range(40))
def test_no_other_shares_are_likelier(seed):
    """Shares are the likeliest ones where no bracket would gain by having more, and none that has
    a share by having less (Gentleman and Geyer 1994, Biometrika 81:618)."""
    chance = np.random.default_rng(seed)
    after = chance.integers(0, 8, chance.integers(2, 30)).astype(float)
    until = after + chance.integers(0, 4, len(after))
    until[chance.random(len(after)) < 0.2] = OPEN
    low, high, share = turnbull(after, until)
    begins = (after[:, None] < low) | ((after == until)[:, None] & (after[:, None] == low))
    begins |= (after[:, None] == low) & (low < high)
    holds = (begins & (high <= until[:, None])).astype(float)
    gain = (holds / (holds @ share)[:, None]).sum(axis=0)
    assert gain.max() <= len(after) + 1e-9
    np.testing.assert_allclose(gain[share > 1e-6], len(after), rtol=1e-9)
    assert share.min() >= 0.0
    assert share.sum() == pytest.approx(1.0, abs=1e-12)


def test_half_of_the_candles_by_the_second_check():
    """Shares 1/2, 0, 1/2 by hand: the likelihood p1 (1 - p3) (1 - p1) p3 has its top there. The
    one in the middle gains nothing and loses nothing: steps of Turnbull's stop at 1.5e-5."""
    times = [(3, 4), (1, 2), (1, 4), (0, 3), (1, 4), (2, 4)]
    _, high, share = turnbull(*np.array(times, dtype=float).T)
    np.testing.assert_array_equal(high, [2, 3, 4])
    np.testing.assert_allclose(share, [0.5, 0.0, 0.5], atol=1e-9)
    median = compare(few(times, [])).estimates.iloc[0]
    assert (median["median_low"], median["median_high"]) == (1, 2)


def test_times_that_are_alike_count_as_alike():
    """Shares 1/2, 0, 3/10, 2/10 by hand: each bracket with a share, and the empty one as well,
    adds 12 over the shares of the times that hold it. Five scores are 0.5, three are -0.1, one is
    -0.5, two are -1.1: 140 of 924 ways of dealing out are at least as far apart."""
    first = [(2, 3), (1, 2), (2, 3), (1, 2), (1, 2), (1, 2)]
    second = [(3, 4), (3, np.nan), (1, 2), (1, 2.5), (2.5, 3.5), (2, 3)]
    after, until = np.array(first + second, dtype=float).T
    until[np.isnan(until)] = OPEN
    np.testing.assert_allclose(turnbull(after, until)[2], [0.5, 0, 0.3, 0.2], atol=1e-12)
    scores = [-0.1, 0.5, -0.1, 0.5, 0.5, 0.5, -1.1, -1.1, 0.5, 0.5, -0.5, -0.1]
    np.testing.assert_allclose(logrank_scores(after, until), scores, atol=1e-12)
    sums = [Fraction(round(sum(dealt) * 10), 10) for dealt in itertools.combinations(scores, 6)]
    away = sum(abs(one) >= abs(Fraction(round(sum(scores[:6]) * 10), 10)) for one in sums)
    assert (away, len(sums)) == (140, 924)
    assert compare(few(first, second)).differences["p_value"][0] == pytest.approx(140 / 924)


def test_three_against_three_cannot_show_much():
    result = compare(few([(0, 1), (1, 2), (2, 3)], [(4, 5), (5, 6), (6, np.nan)]))
    row = result.differences.iloc[0]
    assert (row["p_value"], row["smallest_p"], row["earlier"]) == (
        0.1,
        0.1,
        "A",
    )  # 2 of 20 ways of dealing out
    assert (
        "So few candles, or times so much alike, cannot show a difference: the smallest p possible "
        "is 0.1." in result.notes
    )
    assert (
        "A median whose interval has no upper end: too few candles, or too few of them seen."
        in result.notes
    )
    assert result.method.endswith(
        "Candidates compared by the log-rank test, every way of dealing out the candles counted "
        "(exact)."
    )
    four = compare(
        few([(n, n + 1) for n in range(4)], [(n, n + 1) for n in range(4, 8)])
    ).differences.iloc[0]
    assert four["p_value"] == pytest.approx(2 / 70)  # 0.0286 with four against four


def test_methods_in_words():
    exact = compare(freireich())
    assert (
        exact.method
        == "Curves after Kaplan and Meier: times are exact or still open. Candidates compared by "
        "the log-rank test."
    )
    alone = compare(few([(1, 2), (2, 3)], []))
    assert (
        alone.method
        == "Times lie between two checks; curves after Turnbull, which puts no time more exactly "
        "than the checks did."
    )
    mixed = compare(pd.concat([freireich(), few([(1, 1), (2, 2)], []).assign(wick="C")]))
    assert mixed.method == (
        "Curves after Kaplan and Meier: times are exact or still open. Candidates compared by the "
        "log-rank test, every way of dealing out the candles counted where they are few (exact); "
        "p_adjusted allows for all 3 pairs (Bonferroni)."
    )


def test_pairs_that_could_not_show_a_difference_are_counted():
    data = pd.concat(
        [
            few([(n, n + 1) for n in range(6)], [(n, n + 1) for n in range(6, 12)]),
            few([(3, 4)], []).assign(wick="C", candle="c99"),
        ]
    )
    result = compare(data)
    assert (
        "2 of 3 pairs could not show a difference in time whatever had come out: too few candles, "
        "or times too much alike." in result.notes
    )


@pytest.mark.slow
def test_false_alarms_of_the_exact_test():
    rng = np.random.default_rng(8)
    alarms = 0
    for _ in range(400):
        time = rng.weibull(2, 8) * 3
        after = np.floor(time)
        until = np.where(after >= 4, np.nan, after + 1)
        data = pd.DataFrame(
            {
                "after": np.minimum(after, 4),
                "until": until,
                "wick": list("AAAABBBB"),
                "candle": range(8),
            }
        )
        alarms += compare(data).differences["p_value"][0] <= 0.05
    assert alarms <= 400 * 0.05 + 3 * np.sqrt(400 * 0.05 * 0.95)


def test_large_groups_with_brackets():
    rng = np.random.default_rng(9)
    time = np.concatenate((rng.weibull(2, 30) * 2, rng.weibull(2, 30) * 4))
    data = pd.DataFrame(
        {
            "after": np.floor(time),
            "until": np.floor(time) + 1,
            "wick": ["A"] * 30 + ["B"] * 30,
            "candle": range(60),
        }
    )
    row = compare(data).differences.iloc[0]
    score = logrank_scores(data["after"], data["until"])
    dealt = np.array([rng.permutation(score)[:30].sum() for _ in range(20_000)])
    share = (np.abs(dealt - score.mean() * 30) >= abs(score[:30].sum() - score.mean() * 30)).mean()
    assert not row["counted_out"]
    assert row["p_value"] == pytest.approx(share, abs=3 * np.sqrt(share / 20_000) + 0.003)


@pytest.mark.slow
def test_interval_of_the_median():
    # ranks: six candles give the smallest and the largest, 1 - 2 / 2^6 = 96.9 %; five give no
    # interval at 95 %
    result = compare(
        few([(n, n) for n in range(1, 7)], [(n, n) for n in range(1, 6)])
    ).estimates.set_index("candidate")
    assert tuple(result.loc["A", ["conf_low", "conf_high"]]) == (1, 6)
    assert tuple(result.loc["B", ["conf_low", "conf_high"]]) == (0, OPEN)
    brackets = compare(few([(n, n + 2) for n in range(1, 7)], [(1, 2)])).estimates.iloc[0]
    assert (brackets["conf_low"], brackets["conf_high"]) == (1, 8)


@pytest.mark.slow
def test_interval_of_the_curve_counts_only_what_is_certain():
    # at 2: one exact time and one bracket are past, the bracket from 2 and the open one are still
    # to come, one may be either
    curve = compare(few([(2, 2), (0, 1), (2, 4), (3, np.nan), (1, 3)], [])).curves.set_index(
        "until"
    )
    low, high = stats.beta.ppf(0.025, 2, 4), 1 - stats.beta.ppf(0.025, 2, 4)
    assert tuple(curve.loc[2, ["conf_low", "conf_high"]]) == pytest.approx((low, high))


def test_never_seen_and_all_alike():
    result = compare(few([(4, np.nan)] * 3, [(1, 2), (1, 2), (2, 3)]))
    never = result.estimates.iloc[0]
    assert never["n_seen"] == 0
    assert np.isnan(never["median_low"])
    assert "Half or more of the candles of A never got there: no median." in result.notes
    same = compare(few([(1, 2)] * 3, [(1, 2)] * 3)).differences.iloc[0]
    assert (same["p_value"], same["smallest_p"], same["earlier"]) == (1.0, 1.0, "")
    open_only = compare(few([(4, np.nan)] * 3, [(4, np.nan)] * 3))
    assert open_only.curves.empty
    assert open_only.differences["p_value"][0] == 1.0


def test_left_out_and_one_candidate():
    data = few([(1, 2), (np.nan, 3), (np.nan, np.nan)], [])
    result = compare(data)
    assert result.n_left_out == 1
    assert result.differences.empty
    assert result.notes[0] == "Set aside: 1 of 3 rows (0 marked, 1 never watched)."
    assert result.notes[-1] == "A is the only candidate: there is nothing to compare it with."


def test_pairs_are_allowed_for():
    data = pd.concat(
        [few([(1, 2), (2, 3)], [(3, 4), (4, 5)]), few([(5, 6)], []).assign(wick="C", candle="c9")]
    )
    result = compare(data)
    assert list(
        zip(result.differences["candidate"], result.differences["reference"], strict=True)
    ) == [(b, a) for a, b in itertools.combinations("ABC", 2)]
    np.testing.assert_allclose(
        result.differences["p_adjusted"], np.minimum(3 * result.differences["p_value"], 1)
    )


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (few([(3, 2)], []),
         "c1: after is 3 and until is 2. The first cannot be the later one, nor below zero."),
        (few([(-1, 2)], []),
         "c1: after is -1 and until is 2. The first cannot be the later one, nor below zero."),
        (few([(1, 2), (1, 3)], []).assign(candle="c1"),
         ("c1 has more than one row. A time is counted once per candle: keep one burn of each, "
            "for example "
         "the third.")),
        (few([(np.nan, np.nan)], []), "No row has wick and candle and a time in after or until."),
        (few([(1, 2)], []).assign(until="soon"), "until holds text; a comparison needs numbers."),
    ],
)  # fmt: skip
def test_refusals(data, message):
    with pytest.raises(CannotCompare) as refusal:
        compare(data)
    assert str(refusal.value) == message


@pytest.mark.slow
def test_every_column_of_the_results_is_in_the_glossary():
    from candlelab.pages.glossary import GLOSSARY
    from candlelab.stats.factorial import compare_crossed, trend
    from candlelab.stats.pairwise import equivalence_test as equivalence
    from candlelab.stats.proportions import compare_proportions

    times, candles, loads = (
        compare(freireich()),
        table("comparison_candles"),
        table("comparison_trend"),
    )
    yes = compare_proportions(
        candles.assign(passed=candles["rate"] > 5), outcome="passed", by="wick"
    )
    crossed = compare_crossed(table("comparison_crossed"), metric="rate", by=("wick", "wax"))
    line = trend(loads, metric="rate", against="load")
    tables = [
        times.estimates,
        times.curves,
        times.differences,
        yes.estimates,
        yes.differences,
        crossed.interaction,
        crossed.interaction_differences,
        crossed.differences,
        line.slope,
        line.curvature,
        equivalence(candles, metric="rate", by="wick", margin=1).differences,
    ]
    assert {name for found in tables for name in found.columns} <= GLOSSARY.keys()

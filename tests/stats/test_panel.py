"""Panels: agreement, forced choices, ordinal fits, orders, means: against outside numbers."""

import numpy as np
import pandas as pd
import pytest
from reference_tables import table
from scipy import stats

from candlelab.stats import both_random, panel
from candlelab.stats.agreement import intraclass, kendall_w, krippendorff_alpha
from candlelab.stats.assessors import assessor_table, repeat_table, slope_over_assessors
from candlelab.stats.columns import CannotCompare
from candlelab.stats.cumulative_logit import fit_cumulative_logit
from candlelab.stats.discrimination import (
    PAIR,
    TRIANGLE,
    chance_to_show,
    fewest_right,
    share_right,
    smells_it,
)
from candlelab.stats.paired_choices import strengths
from candlelab.stats.serving import carry_over, incomplete_blocks, together, williams

# Shrout and Fleiss 1979, Psychol. Bull. 86:420, table 2: six targets, four judges
SHROUT_FLEISS = np.array(
    [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]], float
)
# Krippendorff's canonical data (Content Analysis; "Computing Krippendorff's Alpha-Reliability",
# 2011, section D): 12 units, 4 observers, from memory; alphas of the same example
GAP = np.nan
KRIPPENDORFF = np.array(
    [
        [1, 2, 3, 3, 2, 1, 4, 1, 2, GAP, GAP, GAP],
        [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, GAP, 3],
        [GAP, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, GAP],
        [1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, GAP],
    ]
).T
# Davies and Goldsmith 1972, section 6.6: 24 plates (rows) x 6 samples of penicillin, as lme4 has
# them (data set Penicillin)
PENICILLIN = """
27 23 26 23 23 21  27 23 26 23 23 21  25 21 25 24 24 20  26 23 25 23 23 20  25 22 26 22 23 20
24 22 25 23 22 19  24 20 23 21 22 19  26 22 26 24 24 21  24 21 24 22 22 20  24 21 24 23 22 19
26 23 26 24 24 21  25 22 26 24 24 20  26 24 26 24 25 22  26 23 26 23 23 20  26 23 25 24 24 22
25 22 25 23 23 20  25 21 24 23 23 20  25 22 24 23 23 19  24 21 23 21 21 19  26 23 26 24 24 21
25 21 24 22 22 18  25 22 25 22 22 20  24 21 24 22 24 19  24 21 24 22 21 18
"""
# Houf and Berman 1988, Qual. Rel. Eng. Int. 4:19, as in Montgomery, Design and Analysis of
# Experiments: 10 parts (rows) x 3 operators x 3 readings of thermal impedance
IMPEDANCE = """
37 38 37 41 41 40 41 42 41  42 41 43 42 42 42 43 42 43  30 31 31 31 31 31 29 30 28
42 43 42 43 43 43 42 42 42  28 30 29 29 30 29 31 29 29  42 42 43 45 45 45 44 46 45
25 26 27 28 28 30 29 27 27  40 40 40 43 42 42 43 43 41  25 25 25 27 29 28 26 26 26
35 34 34 35 35 34 35 34 35
"""
# Hollander and Wolfe 1973, p. 140: times of rounding first base; R, help of friedman.test
ROUNDING = np.array([
    5.4, 5.5, 5.55, 5.85, 5.7, 5.75, 5.2, 5.6, 5.5, 5.55, 5.5, 5.4,
    5.9, 5.85, 5.7, 5.45, 5.55, 5.6, 5.4, 5.4, 5.35, 5.45, 5.5, 5.35,
    5.25, 5.15, 5, 5.85, 5.8, 5.7, 5.25, 5.2, 5.1, 5.65, 5.55, 5.45,
    5.6, 5.35, 5.45, 5.05, 5, 4.95, 5.5, 5.5, 5.4, 5.45, 5.55, 5.5,
    5.55, 5.55, 5.35, 5.45, 5.5, 5.55, 5.5, 5.45, 5.25, 5.65, 5.6, 5.4,
    5.7, 5.65, 5.55, 6.3, 6.3, 6.25,
]).reshape(22, 3)  # fmt: skip
# Stigler 1994, citations between four journals of statistics; R BradleyTerry2 (its vignette)
CITATIONS = pd.DataFrame(
    [
        ("Biometrika", "CommStat", 730, 33), ("Biometrika", "JASA", 498, 320),
        ("Biometrika", "JRSS-B", 221, 284), ("CommStat", "JASA", 68, 813),
        ("CommStat", "JRSS-B", 17, 276), ("JASA", "JRSS-B", 142, 325),
    ],
    columns=["first", "second", "n_first", "n_second"],
)  # fmt: skip


@pytest.mark.parametrize(
    ("chance", "alpha", "two_sided", "table"),
    [  # ISO 4120, 10399 and 5495 tabulate the binomial; numbers of their tables from memory
        (TRIANGLE, 0.05, False, {6: 5, 12: 8, 18: 10, 24: 13, 30: 15, 36: 18, 48: 22, 60: 27}),
        (TRIANGLE, 0.01, False, {24: 15, 30: 17}),
        (TRIANGLE, 0.001, False, {24: 16, 30: 19}),
        (PAIR, 0.05, False, {6: 6, 12: 10, 18: 13, 24: 17, 30: 20, 36: 24, 48: 31, 60: 37}),
        (PAIR, 0.05, True, {12: 10, 24: 18, 36: 25}),
    ],
)
def test_fewest_right_answers_are_those_of_the_tables(chance, alpha, two_sided, table):
    found = {n: fewest_right(n, chance=chance, alpha=alpha, two_sided=two_sided) for n in table}
    assert found == table


def test_too_few_pairs_can_show_nothing():
    assert fewest_right(4, chance=PAIR) == 5
    assert chance_to_show(4, 0.99, chance=PAIR) == 0.0


def test_who_smells_the_difference_is_right_more_often_than_luck():
    """Binomial by hand: of 2^n answers by luck 1 of 32 has all five right, 9 of 256 have seven or
    eight of eight, 7 + 1 of 128 have six or seven of seven (6.3 %, too many)."""
    assert [smells_it(n, n) for n in range(1, 5)] == [None] * 4
    fewest = {n: next(k for k in range(n + 1) if smells_it(k, n)) for n in (5, 6, 7, 8, 9, 10, 16)}
    assert fewest == {5: 5, 6: 6, 7: 7, 8: 7, 9: 8, 10: 9, 16: 12}
    assert smells_it(6, 8) is False


def test_pairs_at_one_standard_deviation():
    assert share_right(0) == 0.5
    assert share_right(1) == pytest.approx(0.7602, abs=5e-5)  # Ennis 1993, table of the 2-AFC
    # binomial by hand: 8 pairs need 7 right, 8 p^7 q + p^8
    p = share_right(1)
    assert chance_to_show(8, p, chance=PAIR) == pytest.approx(8 * p**7 * (1 - p) + p**8)


def test_agreement_of_ranks_is_friedmans():
    w, p = kendall_w(ROUNDING.T)  # three methods ranked by 22 players
    assert w * 22 * 2 == pytest.approx(11.1429, abs=5e-5)  # R, help of friedman.test
    assert p == pytest.approx(0.003805, abs=5e-7)


def test_two_noses_agree_by_the_same_formula():
    ranks = np.array([[1, 1], [2, 2], [3, 3], [4, 4]])
    assert kendall_w(ranks)[0] == 1.0
    assert kendall_w(ranks[:, [0, 0]] * [1, -1])[0] == pytest.approx(0.0)


def test_page_is_scipys_and_finds_the_order():
    # scipy.stats.page_trend_test, its example (Statistics How To): L 133.5, p .0018191161948127822
    data = [[3, 4, 3], [2, 2, 4], [3, 3, 5], [1, 3, 2], [2, 3, 2], [2, 4, 5], [1, 2, 4], [3, 4, 4],
            [2, 4, 5], [1, 3, 4]]  # fmt: skip
    found = stats.page_trend_test(data)
    assert (found.statistic, found.pvalue) == pytest.approx((133.5, 0.0018191161948127822))


@pytest.mark.parametrize(
    ("level", "alpha"), [("nominal", 0.743), ("ordinal", 0.815), ("interval", 0.849)]
)
def test_krippendorffs_own_example(level, alpha):
    assert krippendorff_alpha(KRIPPENDORFF, level) == pytest.approx(alpha, abs=5e-4)


def test_intraclass_correlations_of_shrout_and_fleiss():
    assert intraclass(SHROUT_FLEISS) == pytest.approx((0.29, 0.62), abs=5e-3)  # their table 4


def test_bradley_and_terry_as_r_has_it():
    found = strengths(CITATIONS).set_index("candidate")
    expected = {"CommStat": (-2.9490725, 0.1025453), "JASA": (-0.4795698, 0.0605887),
                "JRSS-B": (0.2689541, 0.0708300)}  # fmt: skip
    for name, (estimate, error) in expected.items():
        assert found.loc[name].tolist() == pytest.approx([estimate, error], abs=1e-6)


def test_pairs_that_one_always_wins_have_no_strength():
    pairs = pd.DataFrame([("A", "B", 5, 0)], columns=["first", "second", "n_first", "n_second"])
    with pytest.raises(CannotCompare, match="no end"):
        strengths(pairs)


def wine():
    """Bitterness of wine, Randall 1989, Biom. J. 7:781, as R ordinal carries it."""
    data = table("wine")
    effects = np.column_stack([data["temp"] == "warm", data["contact"] == "yes"]).astype(float)
    return data["rating"].to_numpy() - 1, effects, data["judge"].to_numpy() - 1


def test_cumulative_logit_of_wine():
    found = fit_cumulative_logit(*wine()[:2])
    # Christensen, "Cumulative link models for ordinal regression with the R package ordinal",
    # fm1 <- clm(rating ~ temp + contact)
    assert found.effects == pytest.approx([2.5031, 1.5278], abs=1e-4)
    assert found.thresholds == pytest.approx([-1.3444, 1.2508, 3.4669, 5.0064], abs=1e-4)
    assert found.log_likelihood == pytest.approx(-86.49192, abs=1e-4)


def test_statsmodels_has_the_same_without_judges():
    from statsmodels.miscmodels.ordinal_model import OrderedModel

    category, effects, _ = wine()
    fit = OrderedModel(category, effects, distr="logit").fit(method="bfgs", disp=False)
    found = fit_cumulative_logit(category, effects)
    assert found.effects == pytest.approx(fit.params[:2], abs=1e-3)
    assert found.log_likelihood == pytest.approx(fit.llf, abs=1e-5)


def test_cumulative_logit_with_judges_is_clmm():
    category, effects, judge = wine()
    found = fit_cumulative_logit(category, effects, [judge])
    # R ordinal::clmm(rating ~ temp + contact + (1 | judge)), Laplace
    assert found.effects == pytest.approx([3.063001, 1.834901], abs=1e-4)
    assert found.thresholds == pytest.approx([-1.6237, 1.5134, 4.2285, 6.0888], abs=1e-3)
    assert found.variances == pytest.approx([1.279477], abs=1e-3)
    assert found.log_likelihood == pytest.approx(-81.565409, abs=1e-4)


def test_a_level_that_does_not_spread_is_none():
    category, effects, judge = wine()
    found = fit_cumulative_logit(category, effects, [judge, np.arange(72) % 2])
    assert found.variances[1] == 0.0
    assert found.log_likelihood == pytest.approx(-81.565409, abs=1e-3)


@pytest.mark.parametrize("n", range(2, 11))
def test_orders_are_balanced_for_place_and_for_what_came_before(n):
    orders = williams(n)  # Williams 1949: counted
    times = len(orders) // n
    assert times == (1 if n % 2 == 0 else 2)
    for place in orders.T:
        assert np.bincount(place).tolist() == [times] * n
    follows = carry_over(orders, n)
    assert set(follows[~np.eye(n, dtype=bool)]) == {times}


@pytest.mark.parametrize(
    ("n", "size", "pairs"), [(7, 3, 1), (13, 4, 1), (21, 5, 1), (11, 5, 2), (7, 4, 2)]
)
def test_cyclic_blocks_are_balanced(n, size, pairs):
    met = together(incomplete_blocks(n, size, n), n)  # lambda, Cochran and Cox 1957, table 11.3
    assert set(np.diag(met)) == {size}
    assert set(met[~np.eye(n, dtype=bool)]) == {pairs}


@pytest.mark.slow
@pytest.mark.parametrize(("n", "size", "blocks"), [(8, 4, 6), (6, 4, 9), (9, 4, 5), (10, 5, 12)])
def test_other_blocks_are_nearly_balanced_and_the_same_each_time(n, size, blocks):
    made = incomplete_blocks(n, size, blocks, seed=4)
    met = together(made, n)
    assert np.ptp(np.diag(met)) <= 1
    assert np.ptp(met[np.triu_indices(n, 1)]) <= 2
    assert all(len(set(block)) == size for block in made)
    assert np.array_equal(made, incomplete_blocks(n, size, blocks, seed=4))


def test_mean_squares_are_those_of_shrout_and_fleiss():
    target, judge = np.divmod(np.arange(24), 4)
    fit = both_random.Panel(judge, judge, target, np.zeros(6, int)).fit(SHROUT_FLEISS.ravel())
    # their table 3: between targets 11.24 with 5, error 1.02 with 15 degrees of freedom
    assert fit.mean_squares[[0, 2]] == pytest.approx([11.24, 1.02], abs=5e-3)
    assert fit.degrees.tolist() == [5, 0, 15]


def crossed(text, *shape):
    """A table of one candidate whose noses and candles are both drawn by lot, fitted."""
    values = np.array(text.split(), float).reshape(shape)
    nose, candle = (axis.ravel() for axis in np.indices(shape)[:2])
    made = both_random.Panel(np.zeros(values.size, int), nose, candle, np.zeros(shape[1], int))
    return made.fit(values.ravel())


def test_plates_and_samples_drawn_by_lot_are_those_of_lmer():
    fit = crossed(PENICILLIN, 24, 6)
    # REML equals mean squares where all is balanced. MixedModels.jl (test/PLSTwo.jl, version 0.3),
    # ending at 1e-6: standard deviations of sample, plate and rest, standard error of the mean
    spread = [1.9315555733321477, 0.8467056820846379, 0.5499230109588108]
    assert np.sqrt(fit.variances) == pytest.approx(spread, rel=5e-6)
    estimate, error, df = fit.contrast([1.0])
    assert estimate == pytest.approx(22.972222222222218)
    assert error == pytest.approx(0.8085723219702367, rel=5e-6)
    # Satterthwaite by hand from those spreads: 5, 23 and 115 degrees of freedom
    sample, plate, rest = np.square(spread)
    squares = np.array([24 * sample + rest, 6 * plate + rest, rest])
    whole = squares @ [1, 1, -1]
    assert df == pytest.approx(whole**2 / (squares**2 @ [1 / 5, 1 / 23, 1 / 115]), rel=1e-5)
    assert df == pytest.approx(5.487, abs=5e-4)


def test_parts_and_operators_are_those_of_the_textbook():
    values = np.array(IMPEDANCE.split(), float).reshape(10, 3, 3)
    fit = crossed(" ".join(map(str, values.transpose(1, 0, 2).ravel())), 3, 10, 3)
    # Montgomery's analysis of variance: parts, operators, parts x operators; components of the
    # first two (numbers from memory, met by his data)
    assert fit.mean_squares == pytest.approx([437.33, 19.63, 2.695], abs=5e-3)
    assert fit.degrees.tolist() == [9, 2, 18]
    assert fit.variances[:2] == pytest.approx([48.29, 0.5646], abs=5e-3)
    # the exact test of the parts is against parts x operators
    assert fit.mean_squares[0] / fit.mean_squares[2] == pytest.approx(162.27, abs=5e-3)


def scores(n_assessors=4, n_candles=3, effects=(0.0, 1.0), *, seed=1, noise=1.0, repeats=2):
    rng = np.random.default_rng(seed)
    rows = []
    candles = [(f"C{i}{j}", i, e) for i, e in enumerate(effects) for j in range(n_candles)]
    own = {name: rng.normal(0, 0.3) for name, *_ in candles}
    for a in range(n_assessors):
        level, tastes = rng.normal(0, 1), rng.normal(0, 0.3, len(effects))
        for session in range(repeats):
            for place, at in enumerate(rng.permutation(len(candles))):
                name, i, effect = candles[at]
                value = 4 + level + effect + own[name] + tastes[i] + rng.normal(0, noise)
                rows.append((name, f"P{a + 1}", f"P{a + 1}/{session}", i, place + 1, value))
    names = ["candle", "assessor", "block", "load", "place", "score"]
    return pd.DataFrame(rows, columns=names)


def test_balanced_means_are_plain_means_and_the_variance_is_the_textbooks():
    data = scores()
    answer = panel.compare_panel(data, by="load", scale_use=0.0)
    means = data.groupby("load")["score"].mean()
    assert answer.estimates["estimate"].tolist() == pytest.approx(means.tolist())
    cells = data.groupby(["load", "candle", "assessor"])["score"].mean().reset_index()
    # crossed with nested, worked out by hand from the cell means (Winer 1971, chapter 5)
    of_candle = cells.groupby(["load", "candle"])["score"].mean()
    of_pair = cells.groupby(["load", "assessor"])["score"].mean()
    ms_candle = of_candle.groupby("load").var().mean() * 4
    both = of_pair.unstack()
    apart = both.sub(both.mean(axis=1), axis=0).sub(both.mean(), axis=1).add(both.to_numpy().mean())
    ms_pair = 3 * np.square(apart.to_numpy()).sum() / 3
    rest = cells.assign(
        left=cells["score"]
        - cells.groupby(["load", "candle"])["score"].transform("mean")
        - cells.groupby(["load", "assessor"])["score"].transform("mean")
        + cells.groupby("load")["score"].transform("mean")
    )
    ms_rest = np.square(rest["left"]).sum() / 12
    assert answer.means.mean_squares / 2 == pytest.approx([ms_candle, ms_pair, ms_rest])
    variance = 2 / 12 * max(ms_candle + ms_pair - ms_rest, ms_candle, ms_pair)
    assert answer.differences["std_error"][0] ** 2 == pytest.approx(variance)


def test_a_fifth_of_the_scores_missing_still_gives_an_answer():
    data = scores(5, 4, (0.0, 1.0, 2.0), seed=3).sample(frac=0.8, random_state=1)
    answer = panel.compare_panel(data, by="load")
    found = answer.differences.set_index(["candidate", "reference"]).loc[(2, 0)]
    assert found["conf_low"] < 2.0 < found["conf_high"]


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (lambda d: d[d["assessor"] == "P1"], "One nose"),
        (lambda d: d[d["load"] == 0], "nothing to compare"),
        (lambda d: d[d["candle"].isin(["C00", "C10"])], "One candle of each"),
        (lambda d: d[(d["assessor"] == "P1") == (d["load"] == 0)], "share no session"),
        (lambda d: d.assign(score=np.nan), "no score"),
    ],
)
def test_what_cannot_be_told_is_refused_in_words(change, why):
    with pytest.raises(CannotCompare, match=why):
        panel.compare_panel(change(scores()), by="load")


def test_enough_is_said_only_when_it_is_shown():
    def found(n, candles, effects, margin, noise=0.4, **more):
        data = scores(n, candles, effects, seed=2, noise=noise)
        answer = panel.compare_panel(data, by="load")
        return panel.enough(answer, margin=margin, **more)

    flat = found(8, 6, (2.0, 3.0, 3.0), 0.8)
    assert (flat.kind, flat.level, flat.top) == (panel.FLATTENS, 1, 2)
    assert 0 <= flat.short < 0.8
    assert found(3, 2, (2.0, 3.0, 3.0), 0.3, noise=2.0).kind == panel.UNCLEAR
    assert found(8, 6, (2.0, 4.0, 6.0), 0.8).kind == panel.RISES
    # nothing lower is shown to be weaker: that they are alike is not that they are enough
    assert found(8, 6, (3.0, 3.0, 3.0), 0.8).kind == panel.UNCLEAR
    assert found(8, 6, (3.0, 3.0, 3.0), 0.8, blank_weaker=True).kind == panel.ENOUGH_AT_FIRST


def test_power_by_formula_against_panels_drawn():
    variances = np.array([0.16, 0.25, 0.5])
    planned = panel.power_of(variances, n_assessors=6, n_candles=4, n_candidates=2, step=1.5)
    rng, (a, c) = np.random.default_rng(5), np.divmod(np.arange(48), 8)
    design, found = both_random.Panel(a, a, c, np.arange(8) // 4), 0
    for _ in range(400):
        cell = rng.normal(0, 0.5**0.5, 48) + rng.normal(0, 0.4, 8)[c]
        cell += rng.normal(0, 0.5, (6, 2))[a, c // 4] + 1.5 * (c // 4)
        estimate, error, df = design.fit(cell).contrast([-1, 1])
        found += abs(estimate) > stats.t.ppf(0.975, df) * error
    assert found / 400 == pytest.approx(planned, abs=0.06)
    assert panel.noses_needed(variances, n_candles=4, n_candidates=2, step=1.5) <= 8
    assert panel.noses_needed([9.0, 0.1, 0.1], n_candles=2, n_candidates=2, step=0.1) is None


def test_a_nose_that_smells_nothing_is_named():
    data = scores(5, 4, (0.0, 2.0, 3.0), seed=6)
    rng = np.random.default_rng(1)
    deaf = data["assessor"] == "P3"
    data.loc[deaf, "score"] = rng.integers(0, 8, deaf.sum())
    found = assessor_table(data).set_index("assessor")
    assert found.index[~found["hears"]].tolist() == ["P3"]
    assert found.loc["P1", "follows"] > 0.7


def test_drift_over_the_session_is_seen_and_none_is_not_made_up():
    data = scores(6, 4, (0.0, 2.0), seed=7, noise=0.5)
    assert slope_over_assessors(data, "place")["p_value"] > 0.05
    tired = data.assign(score=data["score"] - 0.3 * data["place"])
    found = slope_over_assessors(tired, "place")
    assert found["estimate"] == pytest.approx(-0.3, abs=0.1)
    assert found["p_value"] < 0.01


def test_hidden_repeats_tell_how_well_a_nose_repeats():
    rows = [("C1", "P1", "P1/1", 4.0), ("C1", "P1", "P1/1", 4.0), ("C2", "P1", "P1/1", 1.0),
            ("C1", "P2", "P2/1", 5.0), ("C1", "P2", "P2/1", 3.0)]  # fmt: skip
    found = repeat_table(pd.DataFrame(rows, columns=["candle", "assessor", "block", "score"]))
    assert found.to_dict("list") == {
        "assessor": ["P1", "P2"], "n_repeats": [1, 1], "apart": [0.0, 2.0], "n_same": [1, 0],
    }  # fmt: skip

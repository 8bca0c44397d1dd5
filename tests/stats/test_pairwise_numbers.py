"""compare_candidates and its sisters against NIST, SPSS, Dunnett, Lakens and R."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from reference_tables import FOLDER, burns, candles, made_with_r, nist_anova, pair, table

from candlelab.stats.pairwise import compare_candidates, compare_with_reference, equivalence_test

# Davies 1947, yield of dyestuff from six batches of five (grams of standard colour)
DYESTUFF = [
    1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445,
]  # fmt: skip


def agrees(
    result,
    r,
    rtol=1e-6,
    df_rtol=None,
    columns=("estimate", "std_error", "conf_low", "conf_high", "p_value", "p_adjusted"),
    atol=1e-6,
):
    """Hold differences to rows made with R."""
    for row in r.itertuples():
        ours = pair(result, row.candidate, row.reference)
        for column in columns:
            if np.isfinite(getattr(row, column)):
                assert ours[column] == pytest.approx(getattr(row, column), rel=rtol, abs=atol), (
                    row.candidate,
                    row.reference,
                    column,
                )
        assert ours["df"] == pytest.approx(row.df, rel=df_rtol or rtol)


# ---------------------------------------------------------------- published numbers


def test_nist_tukey():  # NIST/SEMATECH e-Handbook 7.4.7.1
    data = candles(
        [6.9, 5.4, 5.8, 4.6, 4.0],
        [8.3, 6.8, 7.8, 9.2, 6.5],
        [8.0, 10.5, 8.1, 6.9, 9.3],
        [5.8, 3.8, 6.1, 5.6, 6.2],
        names="1234",
    )
    result = compare_candidates(data, metric="rate", by="wick")
    printed = {
        ("2", "1"): (0.29, 4.47),
        ("3", "1"): (1.13, 5.31),
        ("3", "2"): (-1.25, 2.93),
        ("4", "2"): (-4.31, -0.13),
        ("4", "3"): (-5.15, -0.97),
        ("4", "1"): (-1.93, 2.25),
    }
    for (candidate, reference), interval in printed.items():
        ours = pair(result, candidate, reference)
        assert (ours["conf_low"], ours["conf_high"]) == pytest.approx(interval, abs=0.005)
    assert set(result.differences["df"]) == {16.0}
    assert set(result.differences["n_candles"]) == {10}


def test_games_howell_spss():  # SPSS, as in scipy's tests of tukey_hsd
    data = candles(
        [30, 23, 51], [-81, 71, -27, 63], [42, 11, 29, 19, 50], [23, 22, 20, 18, 9], names="0123"
    )
    result = compare_candidates(data, metric="rate", by="wick", spread="separate")
    for candidate, reference, estimate, low, high, p in [
        ("0", "1", 28.1667, -141.985416, 198.318750, 0.872754),
        ("0", "3", 16.2667, -35.093311, 67.626645, 0.426251),
        ("2", "3", 11.8, -16.289486, 39.889486, 0.475534),
    ]:
        ours = pair(result, reference, candidate)
        assert -ours["estimate"] == pytest.approx(estimate, abs=1e-4)
        assert (-ours["conf_high"], -ours["conf_low"]) == pytest.approx((low, high), abs=1e-5)
        assert ours["p_adjusted"] == pytest.approx(p, abs=2e-6)


@pytest.mark.parametrize(
    ("name", "f", "residual_sd", "digits"),
    [  # NIST StRD, certified
        ("SiRstv", 1.18046237440255, 0.104076068334656, 1e-10),
        ("AtmWtAg", 15.9467335677930, 1.51048314446410e-05, 1e-8),
        ("SmLs01", 21.0, 0.1, 1e-12),
        ("SmLs04", 21.0, 0.1, 1e-9),
        ("SmLs07", 21.0, 0.1, 2e-3),  # thirteen leading digits: the limit of double precision
    ],
)
def test_nist_anova(name, f, residual_sd, digits):
    result = compare_candidates(nist_anova(name), metric="y", by="group")
    assert result.candle_sd == pytest.approx(residual_sd, rel=digits)
    means, counts = result.estimates["estimate"], result.estimates["n_candles"]
    around = means - means.iloc[0]
    between = (counts * (around - np.average(around, weights=counts)) ** 2).sum() / (len(means) - 1)
    assert between / result.candle_sd**2 == pytest.approx(f, rel=10 * digits)
    if len(means) == 2:  # with two groups F is the square of t
        row = result.differences.iloc[0]
        assert (row["estimate"] / row["std_error"]) ** 2 == pytest.approx(f, rel=digits)


@pytest.mark.slow
def test_dunnett_1955():  # blood counts; intervals and p as in scipy's tests
    data = candles(
        [7.40, 8.50, 7.20, 8.24, 9.84, 8.32],
        [9.76, 8.80, 7.68, 9.36],
        [12.80, 9.68, 12.16, 9.20, 10.55],
        names=["control", "A", "B"],
    )
    result = compare_with_reference(data, metric="rate", by="wick", reference="control")
    assert list(result.differences["estimate"] / result.differences["std_error"]) == pytest.approx(
        [0.85703, 3.69375], abs=5e-6
    )
    assert list(result.differences["p_adjusted"]) == pytest.approx([0.6201, 0.0058], abs=5e-4)
    assert list(result.differences["conf_low"]) == pytest.approx([-1.2564, 0.8396], abs=5e-4)
    assert list(result.differences["conf_high"]) == pytest.approx([2.5564, 4.4164], abs=5e-4)


def test_tost_lakens_2017():
    rng = np.random.default_rng(1)

    def made(n, mean, sd):
        z = rng.normal(size=n)
        return mean + sd * (z - z.mean()) / z.std(ddof=1)

    data = candles(made(89, 5.22, 0.83), made(95, 5.25, 0.95))
    d = 0.43 * np.sqrt((0.95**2 + 0.83**2) / 2)
    result = equivalence_test(data, metric="rate", by="wick", margin=d, spread="separate")
    row = result.differences.iloc[0]
    assert (row["estimate"] - d) / row["std_error"] == pytest.approx(-2.69, abs=0.005)
    assert (row["df"], row["p_value"]) == pytest.approx((181.13, 0.0038755), abs=5e-3)
    assert row["p_value"] == pytest.approx(0.0038755, abs=5e-7)
    assert row["equivalence"] == "equivalent within ±0.383569 shown"


def test_three_wicks_three_candles_twelve_burns_have_six_df():  # R emmeans and pbkrtest
    result = compare_candidates(table("comparison_balanced"), metric="rate", by="wick")
    np.testing.assert_allclose(result.differences["df"], 6.0, rtol=1e-8)


def test_ten_burns_are_not_ten_candles():
    data = table("comparison_balanced")
    burnwise = compare_candidates(data.assign(candle=range(len(data))), metric="rate", by="wick")
    rightly = compare_candidates(data, metric="rate", by="wick")
    assert burnwise.differences["std_error"].iloc[0] < rightly.differences["std_error"].iloc[0] / 3
    assert burnwise.differences["df"].iloc[0] == 105


# ---------------------------------------------------------------- made with R


@pytest.mark.parametrize("case", ["balanced", "zero_variance"])
def test_balanced_burns(case):
    result = compare_candidates(table(f"comparison_{case}"), metric="rate", by="wick")
    agrees(result, made_with_r(case, "difference"))
    r = made_with_r(case, "estimate")
    for column in ("estimate", "std_error", "df", "conf_low", "conf_high"):
        np.testing.assert_allclose(result.estimates[column], r[column], rtol=1e-6)
    assert (result.candle_sd == 0) == (case == "zero_variance")


def test_zero_variance_unbalanced():
    result = compare_candidates(
        table("comparison_zero_variance_unbalanced"), metric="rate", by="wick"
    )
    agrees(result, made_with_r("zero_variance_unbalanced", "difference"))
    assert result.notes[0].startswith("Candles differed no more than their burns did")


def test_unbalanced_burns_with_depth():
    result = compare_candidates(
        table("comparison_unbalanced"), metric="rate", by="wick", covariates=["depth"]
    )
    agrees(result, made_with_r("unbalanced", "difference"), rtol=2e-5, atol=2e-5)
    r = made_with_r("unbalanced", "estimate")
    for column in ("estimate", "std_error", "df", "conf_low", "conf_high"):
        np.testing.assert_allclose(result.estimates[column], r[column], rtol=2e-5)


def test_rewicked_with_depth():
    data = table("comparison_rewicked")
    result = compare_candidates(data, metric="rate", by="wick", covariates="depth")
    agrees(result, made_with_r("rewicked", "difference"), rtol=5e-5, atol=5e-5)
    assert (
        9 < result.differences["df"].min() < result.differences["df"].max() < 11
    )  # thirteen wick runs, three wicks
    assert list(result.estimates["n_candles"]) == [4, 5, 4]
    assert set(result.differences["n_candles"]) == {7, 8}
    assert result.notes[0] == (
        "4 candles carry more than one candidate. What two wicks in one candle have in common is "
        "not taken off, so intervals are rather too wide than too narrow."
    )


def dietox():
    data = table("dietox")
    return data.assign(Cu="Cu" + data["Cu"].astype(str))


def two_of_balanced():
    return table("comparison_balanced").query("wick != 'C'")


def one_candle_of_c():
    return table("comparison_unbalanced").query("wick != 'C' or candle == 'c09'")


BURNS = "comparison_crossed_burns"


@pytest.mark.parametrize(
    ("case", "data", "asked"),
    [
        ("blocks", lambda: table("comparison_crossed"),
         {"by": "wick", "covariates": ["wax", "day"]}),
        ("blocks_wax", lambda: table("comparison_crossed"),
         {"by": "wax", "covariates": ["wick", "day"]}),
        ("block_of_burns", lambda: table(BURNS).astype({"load": str}),
         {"by": "wick", "covariates": ["load", "depth"]}),
        ("dietox", dietox, {"metric": "Weight", "by": "Cu", "unit": "Pig", "covariates": ["Time"]}),
        ("pastes", lambda: table("pastes"),
         {"metric": "strength", "by": "batch", "unit": "sample"}),
        ("two", two_of_balanced, {"by": "wick"}),
        ("single", one_candle_of_c, {"by": "wick"}),
    ],
)  # fmt: skip
def test_made_with_r(case, data, asked):
    """Blocks, depth, published data, two candidates, one with a single candle: R lm or lme4,
    pbkrtest, emmeans."""
    result = compare_candidates(data(), **({"metric": "rate"} | asked))
    for row in made_with_r(case, "difference").itertuples():
        found = result.differences
        there = (found["candidate"] == row.candidate) & (found["reference"] == row.reference)
        turned = (found["candidate"] == row.reference) & (found["reference"] == row.candidate)
        ours, sign = (found[there].iloc[0], 1.0) if there.any() else (found[turned].iloc[0], -1.0)
        low, high = sorted(sign * ours[end] for end in ("conf_low", "conf_high"))
        numbers = [sign * ours["estimate"], low, high]
        numbers += [ours[name] for name in ("std_error", "p_value", "p_adjusted")]
        expected = [row.estimate, row.conf_low, row.conf_high]
        expected += [row.std_error, row.p_value, row.p_adjusted]
        pair_of = row.candidate, row.reference
        assert numbers == pytest.approx(expected, rel=2e-5, abs=2e-5), pair_of
        assert ours["df"] == pytest.approx(row.df, rel=1e-4)
    r = pd.read_csv(FOLDER / "comparison_results.csv")
    r = r[(r["case"] == case) & (r["what"] == "estimate")]
    if len(r):
        means = result.estimates.set_index("candidate").loc[r["candidate"]]
        for column in ("estimate", "std_error", "df", "conf_low", "conf_high"):
            np.testing.assert_allclose(means[column], r[column], rtol=1e-4)


def test_dyestuff2_has_no_spread_of_batches():
    """lme4; Kenward-Roger with pbkrtest counts its six batches, not thirty values."""
    data = table("dyestuff2")
    result = compare_candidates(data, metric="Yield", by="all", unit="Batch")
    r = made_with_r("dyestuff2", "estimate").iloc[0]
    for column in ("estimate", "std_error", "df", "conf_low", "conf_high"):
        assert result.estimates[column][0] == pytest.approx(r[column], rel=1e-6), column
    assert (result.estimates["estimate"][0], result.burn_sd, result.candle_sd) == pytest.approx(
        (5.6656, 3.7157, 0.0), abs=5e-5
    )  # reference-values
    assert any(
        note.startswith("Candles differed no more than their burns did") for note in result.notes
    )


def test_dyestuff_of_davies_1947():
    """Exact: mean square of batches 11271.5 over 30 values, 5 degrees of freedom."""
    data = pd.DataFrame({"yield": DYESTUFF, "batch": np.repeat(list("ABCDEF"), 5), "dye": "one"})
    row = compare_candidates(data, metric="yield", by="dye", unit="batch").estimates.iloc[0]
    assert (row["estimate"], row["std_error"], row["df"]) == pytest.approx(
        (1527.5, np.sqrt(11271.5 / 30), 5.0)
    )


def test_published_fits_of_one_candidate():
    """The spreads of R lme4 through the public function: dietox (statsmodels' tests), sleepstudy
    (random intercept), Pastes by batch."""
    weights = compare_candidates(
        table("dietox").assign(all="all"),
        metric="Weight",
        by="all",
        unit="Pig",
        covariates=["Time"],
    )
    assert (weights.candle_sd**2, weights.burn_sd**2) == pytest.approx(
        (40.39395, 11.36692), rel=1e-6
    )
    assert weights.estimates["estimate"][0] == pytest.approx(
        15.723523 + 6.942505 * table("dietox")["Time"].mean(), rel=1e-6
    )
    sleep = compare_candidates(
        table("sleepstudy").assign(all="all"),
        metric="Reaction",
        by="all",
        unit="Subject",
        covariates=["Days"],
    )
    assert (sleep.candle_sd**2, sleep.burn_sd**2) == pytest.approx((1378.1785, 960.4566), rel=1e-6)
    assert sleep.estimates["estimate"][0] == pytest.approx(251.40510 + 4.5 * 10.46729, rel=1e-6)
    casks = (
        table("pastes")
        .groupby(["batch", "cask"], as_index=False)["strength"]
        .mean()
        .assign(all="all")
    )
    row = compare_candidates(casks, metric="strength", by="all", unit="batch").estimates.iloc[0]
    assert (row["estimate"], row["std_error"], row["df"]) == pytest.approx(
        (60.05333, 0.676870, 9), rel=1e-5
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "f", "digits"),
    [
        ("SmLs02", 201.0, 1e-11),
        ("SmLs03", 2001.0, 1e-10),
        ("SmLs05", 201.0, 1e-9),
        ("SmLs06", 2001.0, 1e-9),
        ("SmLs08", 201.0, 1e-3),
        ("SmLs09", 2001.0, 1e-3),
    ],
)
def test_nist_anova_of_the_scipy_wheel(name, f, digits):
    """The larger sets, which scipy carries, up to 18,009 values; the last two have thirteen leading
    digits."""
    import scipy

    path = Path(scipy.__file__).parent / "stats" / "tests" / "data" / "nist_anova" / f"{name}.dat"
    if not path.exists():
        pytest.skip("this scipy carries no test data")
    result = compare_candidates(nist_anova(path), metric="y", by="group")
    means, counts = result.estimates["estimate"], result.estimates["n_candles"]
    around = means - means.iloc[0]
    between = (counts * (around - np.average(around, weights=counts)) ** 2).sum() / (len(means) - 1)
    assert between / result.candle_sd**2 == pytest.approx(f, rel=10 * digits)


def test_games_howell():
    result = compare_candidates(
        table("comparison_candles"), metric="rate", by="wick", spread="separate"
    )
    # R's qtukey is right to four digits at two degrees of freedom; ours is held to scipy's in
    # test_simultaneous
    agrees(result, made_with_r("games_howell", "difference"), rtol=2e-4, df_rtol=1e-9)
    assert pair(result, "C", "A")["p_value"] == pytest.approx(
        made_with_r("games_howell", "welch")["p_value"][0], rel=1e-9
    )


def test_tukey_kramer_on_candles():
    result = compare_candidates(table("comparison_candles"), metric="rate", by="wick")
    agrees(result, made_with_r("tukey_kramer", "difference"))
    np.testing.assert_allclose(
        result.estimates["conf_low"], made_with_r("tukey_kramer", "estimate")["conf_low"], rtol=1e-9
    )


@pytest.mark.slow
def test_dunnett_on_candles_and_on_burns():
    result = compare_with_reference(
        table("comparison_candles"), metric="rate", by="wick", reference="A"
    )
    agrees(result, made_with_r("dunnett", "difference"), rtol=1e-4, atol=2e-4, df_rtol=1e-9)
    result = compare_with_reference(
        table("comparison_balanced"), metric="rate", by="wick", reference="A"
    )
    agrees(result, made_with_r("dunnett_burns", "difference"), rtol=1e-3, atol=5e-4, df_rtol=1e-6)


@pytest.mark.parametrize(
    ("spread", "case"), [("pooled", "tost_pooled"), ("separate", "tost_welch")]
)
def test_tost(spread, case):
    data = table("comparison_candles").query("wick in ['A', 'D']")
    result = equivalence_test(data, metric="rate", by="wick", margin=0.6, spread=spread)
    agrees(result, made_with_r(case, "difference"))
    assert result.differences["equivalence"].iloc[0] == "equivalent within ±0.6 shown"


@pytest.mark.slow
def test_the_interval_is_inside_the_margin_exactly_where_equivalence_is_shown():
    data = burns(4, 4, 5, seed=3)
    for margin in np.linspace(0.1, 2, 25):
        found = equivalence_test(data, metric="rate", by="wick", margin=float(margin)).differences
        inside = (found["conf_low"] >= -margin) & (found["conf_high"] <= margin)
        assert list(inside) == [
            text.endswith("±" + format(margin, "g") + " shown") for text in found["equivalence"]
        ]

"""Wick by wax, wick by load, and load as a number: against R and NIST, and every message to the
letter."""

import numpy as np
import pandas as pd
import pytest
from reference_tables import FOLDER, made_with_r, table

from candlelab.stats.answers import ANSWER
from candlelab.stats.designs import CannotCompare
from candlelab.stats.factorial import compare_crossed, trend


def crossed(**more):
    data = table("comparison_crossed")
    data["wax"] = pd.Categorical(data["wax"], categories=["soy", "rape", "mix"])
    return compare_crossed(data, metric="rate", by=("wick", "wax"), covariates=["day"], **more)


def test_crossed_with_a_block():
    result = crossed()
    f, r = result.interaction.iloc[0], made_with_r("crossed", "F").iloc[0]
    assert (f["statistic"], f["df_num"], f["df"], f["p_value"]) == pytest.approx(
        (r["estimate"], r["conf_low"], r["df"], r["p_value"])
    )
    means = result.estimates.set_index(result.estimates["wick"] + " " + result.estimates["wax"])
    for row in made_with_r("crossed", "estimate").itertuples():
        ours = means.loc[
            row.candidate, ["estimate", "std_error", "df", "conf_low", "conf_high"]
        ].astype(float)
        np.testing.assert_allclose(
            ours, [row.estimate, row.std_error, row.df, row.conf_low, row.conf_high], rtol=1e-9
        )
    over_all = result.differences[result.differences["within"] == ""]
    for factor in ("wick", "wax"):
        for row in made_with_r("crossed", factor).itertuples():
            ours = over_all.query(
                "factor == @factor and candidate == @row.candidate and reference == @row.reference"
            ).iloc[0]
            expected = [
                row.estimate,
                row.std_error,
                row.df,
                row.conf_low,
                row.conf_high,
                row.p_value,
                row.p_adjusted,
            ]
            np.testing.assert_allclose(ours[ANSWER[:-1]].astype(float), expected, rtol=1e-6)
    for row in made_with_r("crossed", "interaction").itertuples():
        found = result.interaction_differences
        ours = found[(found["within"] + " - " + found["within_reference"]) == row.candidate].iloc[0]
        expected = [
            row.estimate,
            row.std_error,
            row.df,
            row.conf_low,
            row.conf_high,
            row.p_adjusted,
        ]
        np.testing.assert_allclose(
            ours[["estimate", "std_error", "df", "conf_low", "conf_high", "p_adjusted"]].astype(
                float
            ),
            expected,
            rtol=1e-6,
        )


def test_crossed_on_burns():
    result = compare_crossed(table("comparison_crossed_burns"), metric="rate", by=("wick", "load"))
    f, r = result.interaction.iloc[0], made_with_r("crossed_burns", "F").iloc[0]
    assert (f["statistic"], f["df_num"], f["df"], f["p_value"]) == pytest.approx(
        (r["estimate"], r["conf_low"], r["df"], r["p_value"]), rel=1e-4
    )
    assert f["n_candles"] == 12
    assert set(result.estimates["n_candles"]) == {2}
    assert list(result.estimates.columns) == ["wick", "load", *ANSWER]


def test_differences_within_a_level():
    result = crossed()
    within = result.differences.query("factor == 'wick' and within == 'mix'").iloc[0]
    means = result.estimates.set_index(["wick", "wax"])["estimate"]
    assert within["estimate"] == pytest.approx(means["B", "mix"] - means["A", "mix"])
    assert within["p_adjusted"] == pytest.approx(3 * within["p_value"])  # three waxes looked at
    assert within["n_candles"] == 5
    assert result.method.endswith(
        "Compared within day; estimates give each the same weight. Differences averaged over wax "
        "give each wax the same weight, and the other way round. Within one level the intervals "
        "allow for looking at all its pairs (Tukey-Kramer), and for all levels (Bonferroni)."
    )


def test_empty_cells_are_named():
    data = table("comparison_crossed").query("not (wick == 'B' and wax != 'soy')")
    with pytest.raises(CannotCompare) as refusal:
        compare_crossed(data, metric="rate", by=("wick", "wax"))
    assert str(refusal.value) == (
        "No candle has B with rape and B with mix. Burn these combinations; or leave out a level "
        "so that every combination is there; or compare wick with wax as a covariate, which takes "
        "the differences in wick to be the same in every wax."
    )


def test_crossed_refusals():
    data = table("comparison_crossed")
    with pytest.raises(
        CannotCompare,
        match=r"^by must name two columns, such as \(\"wick\", \"wax\"\), not 'wick'\.$",
    ):
        compare_crossed(data, metric="rate", by="wick")
    with pytest.raises(
        CannotCompare,
        match=r"^wick is A in every row: compare by wax alone, with compare_candidates\.$",
    ):
        compare_crossed(data[data["wick"] == "A"], metric="rate", by=("wick", "wax"))
    with pytest.raises(CannotCompare) as refusal:
        compare_crossed(
            data.assign(shelf=data["wax"] + "!"),
            metric="rate",
            by=("wick", "wax"),
            covariates=["shelf"],
        )
    assert str(refusal.value) == (
        "Combinations and shelf cannot be told apart in this table: where one changes the other "
        "changes with it. Leave out shelf, or burn candles that break the tie."
    )


def test_a_candle_counts_once():
    data = pd.concat([table("comparison_crossed").assign(burn=burn) for burn in (1, 2)])
    data["rate"] += np.random.default_rng(1).normal(0, 0.1, len(data))
    with pytest.raises(CannotCompare) as refusal:
        compare_crossed(data, metric="rate", by=("wick", "burn"))
    assert str(refusal.value) == (
        "17 candles carry more than one combination of wick and burn. After a wick change keep the "
        "rows of the first wick only; what changes from burn to burn, such as the day, belongs "
        "among the covariates."
    )
    assert (
        compare_crossed(data, metric="rate", by=("wick", "wax"), covariates=["burn"]).interaction[
            "df"
        ][0]
        < 12
    )
    one = data[(data["burn"] == 1) | (data["candle"] == "c01")]
    with pytest.raises(
        CannotCompare,
        match=r"^One candle carries more than one combination of wick and burn\. After a wick ",
    ):
        compare_crossed(
            pd.concat(
                [
                    one,
                    one[one["candle"] != "c01"].assign(candle=lambda d: d["candle"] + "b", burn=2),
                ]
            ),
            metric="rate",
            by=("wick", "burn"),
        )


# ---------------------------------------------------------------- a number


def test_norris():  # NIST StRD, certified
    lines = (FOLDER / "Norris.dat").read_text().splitlines()
    values = np.array([line.split() for line in lines[60:96]], dtype=float)
    data = pd.DataFrame({"y": values[:, 0], "x": values[:, 1], "candle": range(len(values))})
    result = trend(data, metric="y", against="x")
    row = result.slope.iloc[0]
    assert (row["estimate"], row["std_error"]) == pytest.approx(
        (1.00211681802045, 0.429796848199937e-03), rel=1e-9
    )
    assert row["df"] == 34


def test_dietox_slope():  # R lme4, as shipped in statsmodels' own test results
    result = trend(table("dietox"), metric="Weight", against="Time", unit="Pig")
    assert result.slope["estimate"][0] == pytest.approx(6.942505, abs=5e-7)
    assert result.slope["std_error"][0] == pytest.approx(0.033387, abs=5e-7)
    assert (
        "Time changes within a candle: the slope is taken to be the same in every candle."
        in result.notes
    )


@pytest.mark.parametrize("what", ["slope", "curvature"])
def test_load_on_burns(what):
    result = trend(table("comparison_trend"), metric="rate", against="load", covariates=["depth"])
    ours, r = getattr(result, what).iloc[0], made_with_r("trend", what).iloc[0]
    for column in ("estimate", "std_error", "df", "conf_low", "conf_high", "p_value"):
        assert ours[column] == pytest.approx(r[column], rel=1e-4), column
    assert ours["n_candles"] == 12


def test_trend_words():
    def answer(*means, sd=0.05):
        rng = np.random.default_rng(4)
        rows = [
            (load, f"{load}{i}", mean + rng.normal(0, sd))
            for load, mean in zip((0, 3, 6, 9), means, strict=True)
            for i in range(4)
        ]
        return trend(
            pd.DataFrame(rows, columns=["load", "candle", "rate"]), metric="rate", against="load"
        )

    up = answer(5, 5.3, 5.6, 5.9)
    assert up.answer == (
        "rate rises with load: 0.1 (0.092 to 0.11) per unit of load. More is still more: at 9 one "
        "more unit changes it by 0.12 (0.083 to 0.15)."
    )
    assert answer(5, 5.6, 5.6, 5).answer == (
        "The data cannot tell whether rate rises or falls with load: 0.0012 (-0.048 to 0.051) per "
        "unit of load. More has become less: at 9 one more unit changes it by -0.28 (-0.32 to "
        "-0.25)."
    )
    assert answer(5, 5, 5, 5, sd=0.3).answer == (
        "The data cannot tell whether rate rises or falls with load: 0.0071 (-0.049 to 0.064) per "
        "unit of load. Whether more is still more at the top, the data cannot tell: at 9 one more "
        "unit changes it by 0.096 (-0.1 to 0.3)."
    )
    assert answer(6, 5.7, 5.4, 5.1).answer == (
        "rate falls with load: -0.099 (-0.11 to -0.089) per unit of load. More has become less: at "
        "9 one more unit changes it by -0.084 (-0.12 to -0.051)."
    )
    assert up.method == (
        "One value per candle. Candles of all candidates are taken to differ equally much, and all "
        "of them tell how much. A straight line through load as a number, and a curve (a square "
        "added) to see its shape."
    )
    assert up.notes == ("Nothing is said outside 0 to 9.",)
    assert list(up.levels["load"]) == [0, 3, 6, 9]
    assert list(up.ends["load"]) == [0, 9]
    assert (up.levels["n_candles"] == 4).all()


def test_slope_at_the_ends_is_that_of_the_curve():
    data = table("comparison_trend").groupby(["candle", "load"], as_index=False)["rate"].mean()
    result = trend(data, metric="rate", against="load")
    curve = np.polynomial.Polynomial.fit(data["load"], data["rate"], 2).convert()
    np.testing.assert_allclose(
        result.ends["estimate"], curve.deriv()(np.array([0.0, 9.0])), rtol=1e-9
    )
    assert result.curvature["estimate"][0] == pytest.approx(curve.coef[2])
    assert result.ends["df"][0] == 9
    line = np.polynomial.Polynomial.fit(data["load"], data["rate"], 1)
    np.testing.assert_allclose(
        result.levels["estimate"], line(np.array([0.0, 3.0, 6.0, 9.0])), rtol=1e-12
    )


def test_two_values_show_no_shape():
    data = table("comparison_trend").query("load in [0, 9]")
    result = trend(data, metric="rate", against="load")
    assert result.curvature.empty
    assert result.ends.empty
    assert (
        "Two values of load show no shape: whether more is still more takes three." in result.notes
    )


def test_trend_refusals():
    data = table("comparison_trend")
    with pytest.raises(
        CannotCompare,
        match=r"^load is 3 in every row: a trend needs two different values at least\.$",
    ):
        trend(data[data["load"] == 3], metric="rate", against="load")
    with pytest.raises(CannotCompare, match=r"^load holds text; a comparison needs numbers\.$"):
        trend(data.assign(load="3 %"), metric="rate", against="load")
    with pytest.raises(CannotCompare) as refusal:
        trend(data[data["candle"].isin(["c01", "c04"])], metric="rate", against="load")
    assert str(refusal.value) == (
        "2 candles cannot carry this comparison: the trend in load and covariates use up all of "
        "them, and nothing is left to show how much candles differ. Leave out a covariate, or burn "
        "more candles."
    )


def test_one_candle_for_each_of_three_loads_gives_a_line_and_no_shape():
    data = table("comparison_trend")
    result = trend(data[data["candle"].isin(["c01", "c04", "c07"])], metric="rate", against="load")
    assert 0 < result.slope["df"][0] < 1.1  # three candles, two used up by the line
    assert result.curvature.empty
    assert "Too few candles to show a shape: whether more is still more stays open." in result.notes

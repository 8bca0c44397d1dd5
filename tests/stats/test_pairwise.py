"""compare_candidates and its sisters: against NIST, SPSS, Dunnett, Lakens and R, and every message
to the letter."""

import itertools
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from reference_tables import FOLDER, made_with_r, nist_anova, table

from candlelab.stats import pairwise as comparison
from candlelab.stats.designs import CannotCompare
from candlelab.stats.pairwise import ANSWER, compare_candidates, compare_with_reference

# Davies 1947, yield of dyestuff from six batches of five (grams of standard colour)
DYESTUFF = [
    1545, 1440, 1440, 1520, 1580, 1540, 1555, 1490, 1560, 1495, 1595, 1550, 1605, 1510, 1560,
    1445, 1440, 1595, 1465, 1545, 1595, 1630, 1515, 1635, 1625, 1520, 1455, 1450, 1480, 1445,
]  # fmt: skip


def candles(*groups, names="ABCDEFGHIJ"):
    """One row per candle from lists of values."""
    rows = [(name, value) for name, group in zip(names, groups, strict=False) for value in group]
    data = pd.DataFrame(rows, columns=["wick", "rate"])
    return data.assign(candle=[f"c{i + 1}" for i in range(len(data))])


def burns(k=3, per=3, n=4, seed=1, candle_sd=0.25):
    """Burns of k wicks on as many candles each."""
    rng = np.random.default_rng(seed)
    candle = np.repeat(np.arange(k * per), n)
    rate = 5 + rng.normal(0, candle_sd, k * per)[candle] + rng.normal(0, 0.2, len(candle))
    names = [f"c{c + 1}" for c in candle]
    return pd.DataFrame(
        {
            "candle": names,
            "wick": [chr(65 + c // per) for c in candle],
            "burn": np.tile(np.arange(1, n + 1), k * per),
            "rate": rate,
        }
    )


def pair(result, candidate, reference):
    found = result.differences
    return found[(found["candidate"] == candidate) & (found["reference"] == reference)].iloc[0]


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
    assert set(result.differences["df"]) == {16.0} and set(result.differences["n_candles"]) == {10}


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
    result = comparison.equivalence_test(
        data, metric="rate", by="wick", margin=d, spread="separate"
    )
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
    assert list(result.estimates["n_candles"]) == [4, 5, 4] and set(
        result.differences["n_candles"]
    ) == {7, 8}
    assert result.notes[0] == (
        "4 candles carry more than one candidate. What two wicks in one candle have in common is "
        "not taken off, so intervals are rather too "
        "wide than too narrow."
    )


def dietox():
    data = table("dietox")
    return data.assign(Cu="Cu" + data["Cu"].astype(str))


def two_of_balanced():
    return table("comparison_balanced").query("wick != 'C'")


def one_candle_of_c():
    return table("comparison_unbalanced").query("wick != 'C' or candle == 'c09'")


@pytest.mark.parametrize(
    ("case", "data", "asked"),
    [
        (
            "blocks",
            lambda: table("comparison_crossed"),
            {"by": "wick", "covariates": ["wax", "day"]},
        ),
        (
            "blocks_wax",
            lambda: table("comparison_crossed"),
            {"by": "wax", "covariates": ["wick", "day"]},
        ),
        (
            "block_of_burns",
            lambda: table("comparison_crossed_burns").astype({"load": str}),
            {"by": "wick", "covariates": ["load", "depth"]},
        ),
        ("dietox", dietox, {"metric": "Weight", "by": "Cu", "unit": "Pig", "covariates": ["Time"]}),
        (
            "pastes",
            lambda: table("pastes"),
            {"metric": "strength", "by": "batch", "unit": "sample"},
        ),
        ("two", two_of_balanced, {"by": "wick"}),
        ("single", one_candle_of_c, {"by": "wick"}),
    ],
)
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
        numbers = [
            sign * ours["estimate"],
            ours["std_error"],
            low,
            high,
            ours["p_value"],
            ours["p_adjusted"],
        ]
        expected = [
            row.estimate,
            row.std_error,
            row.conf_low,
            row.conf_high,
            row.p_value,
            row.p_adjusted,
        ]
        assert numbers == pytest.approx(expected, rel=2e-5, abs=2e-5), (
            row.candidate,
            row.reference,
        )
        assert ours["df"] == pytest.approx(row.df, rel=1e-4)
    if len(
        r := pd.read_csv(FOLDER / "comparison_results.csv").query(
            "case == @case and what == 'estimate'"
        )
    ):
        means = result.estimates.set_index("candidate").loc[r["candidate"]]
        for column in ("estimate", "std_error", "df", "conf_low", "conf_high"):
            np.testing.assert_allclose(means[column], r[column], rtol=1e-4)


def test_dyestuff2_has_no_spread_of_batches():  # lme4; Kenward-Roger with pbkrtest counts its six batches, not thirty values
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


def test_dyestuff_of_davies_1947():  # exact: mean square of batches 11271.5 over 30 values, 5 degrees of freedom
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
    """The larger sets, which scipy carries, up to 18,009 values; the last two have thirteen
    leading digits."""
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
    result = comparison.equivalence_test(data, metric="rate", by="wick", margin=0.6, spread=spread)
    agrees(result, made_with_r(case, "difference"))
    assert result.differences["equivalence"].iloc[0] == "equivalent within ±0.6 shown"


def test_the_interval_is_inside_the_margin_exactly_where_equivalence_is_shown():
    data = burns(4, 4, 5, seed=3)
    for margin in np.linspace(0.1, 2, 25):
        found = comparison.equivalence_test(
            data, metric="rate", by="wick", margin=float(margin)
        ).differences
        inside = (found["conf_low"] >= -margin) & (found["conf_high"] <= margin)
        assert list(inside) == [
            text.endswith("±" + format(margin, "g") + " shown") for text in found["equivalence"]
        ]


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
    assert result.candle_sd > 0 and result.burn_sd > 0


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
        == "Left out: 6 rows of 36 (4 marked to be left out, 1 without rate, 1 without wick)."
    )
    assert list(result.estimates["n_candles"]) == [3, 3, 2]


# ---------------------------------------------------------------- method and limits in words


def test_method_in_words():
    one = compare_candidates(candles([1, 2, 3], [2, 3, 5]), metric="rate", by="wick")
    assert (
        one.method
        == "One value per candle. Candles of all candidates are taken to differ equally much, "
        "and all of them tell how much."
    )
    many = compare_candidates(
        burns().assign(day=lambda d: d["burn"].map(str)),
        metric="rate",
        by="wick",
        covariates=["day"],
    )
    assert many.method == (
        "The candle is the unit: its burns tell about that candle and are not counted as candles "
        "(a level of its own for each candle, REML, "
        "degrees of freedom after Kenward and Roger). Candles of all candidates are taken to "
        "differ equally much. Compared within day; "
        "estimates give each the same weight. Intervals of the differences allow for looking at "
        "all 3 pairs (Tukey-Kramer)."
    )
    separate = compare_candidates(burns(), metric="rate", by="wick", spread="separate")
    assert separate.method == (
        "The mean of each candle's rows stands for the candle. Each candidate has a spread of "
        "its own (Welch). Intervals of the differences "
        "allow for looking at all 3 pairs (Games-Howell)."
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
        "(a level of its own for each candle, REML, "
        "degrees of freedom after Kenward and Roger). Candles of all candidates are taken to "
        "differ equally much. A new wick in a used candle is a "
        "unit of its own: the burns on one wick in one candle count once. Intervals of the "
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
    equal = comparison.equivalence_test(burns(), metric="rate", by="wick", margin=0.5)
    assert equal.method.endswith(
        "Equivalence is shown where the whole 96.67 % interval of the difference is within ±0.5 "
        "(two one-sided tests, 3 pairs allowed for (Bonferroni))."
    )


def test_no_difference_is_never_called_the_same():
    for result in (
        compare_candidates(burns(), metric="rate", by="wick"),
        comparison.equivalence_test(burns(), metric="rate", by="wick", margin=0.1),
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
    assert result.differences.empty and list(result.differences.columns) == [
        "candidate",
        "reference",
        *ANSWER,
    ]
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
        "The spread differs between candidates by more than luck would do (Brown-Forsythe test, "
        'p = 0.0016). Compare again with spread="separate".'
    )
    assert result.differences["df"][0] == 14
    assert (
        compare_candidates(data, metric="rate", by="wick", spread="separate").differences["df"][0]
        < 8
    )


def test_candles_with_two_wicks_and_candles_without_a_spread():
    data = table("comparison_rewicked")
    shared = (
        "What two wicks in one candle have in common is not taken off, so intervals are rather "
        "too wide than too narrow."
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
        "Candles differed no more than their burns did, so the spread between candles is "
        "estimated as zero. With few candles that is often luck; the "
        "certainty is still that of the number of candles, not of burns."
    )


def test_columns_that_say_the_same_cannot_be_told_apart():
    from candlelab.stats.designs import fit, read_rows

    rows = read_rows(candles([1, 2], [3, 4]), metric="rate", by="wick", unit="candle")
    with pytest.raises(CannotCompare, match=r"^Candidates cannot be told apart in this table\.$"):
        fit(rows, np.ones((4, 2)), what="candidates")


def test_few_candles_with_a_spread_of_their_own():
    result = compare_candidates(burns(), metric="rate", by="wick", spread="separate")
    assert result.notes[0] == (
        "With fewer than five candles a spread of its own is poorly known: among six candidates "
        "of three candles luck passed for a difference in 6.4 % "
        "of simulated batches, in place of 5 %."
    )


# ---------------------------------------------------------------- refusals


ONE_EACH = (
    "There is one candle of each candidate: nothing shows how much candles of one candidate "
    "differ, so no difference between candidates can be "
    "judged. Burn a second candle of at least one of them."
)


@pytest.mark.parametrize(
    ("data", "changes", "message"),
    [
        ([1, 2], {}, "The comparison needs a table (a pandas DataFrame), not list."),
        (burns().iloc[:0], {}, "The table has no rows."),
        (burns(), {"metric": "ratee"}, "The table has no column 'ratee'. Did you mean 'rate'?"),
        (burns(), {"unit": "xyz"}, "The table has no column 'xyz'. It has candle, wick, burn and rate."),
        (burns(), {"metric": "wick", "by": "burn"}, "wick holds text; a comparison needs numbers."),
        (burns().assign(ok=True), {"metric": "ok"}, "ok holds yes and no. Use compare_proportions for outcomes that are yes or no."),
        (burns().assign(at=pd.Timestamp("2025-01-01")), {"metric": "at"}, "at holds times; a comparison needs numbers."),
        (burns().assign(rate=[np.inf, *[1.0] * 35]), {}, "rate is infinite in 1 row, the first at 0. Mend it or leave it out."),
        (burns().assign(rate=np.nan), {}, "No row has rate, wick and candle all filled in."),
        (burns().assign(excluded=True), {}, "Every row is marked as left out."),
        (burns().assign(excluded="no"), {}, "The column excluded must hold True and False only: it says which rows are left out."),
        (burns(), {"covariates": ["wick"]}, "wick is asked for twice: as what is compared and as what it is compared by or "
            "corrected for."),
        (burns(), {"confidence": 95}, "confidence must be a number from 0.5 to below 1, such as 0.95, not 95."),
        (burns(), {"spread": "equal"}, "spread must be \"pooled\" or \"separate\", not 'equal'."),
        (burns().assign(rate=5.0), {}, "Every value of rate is 5: without any spread no difference can be judged."),
        (
            candles([1.1, 1.1], [2.2, 2.2]), {},
            "rate does not differ between candles of one candidate: without any spread no "
            "difference can be judged.",
        ),
        (
            burns().assign(rate=lambda d: d["candle"].str[1:].astype(float)), {},
            "rate is the same in all rows of a candle: these rows repeat one number per candle. "
            "Give one row per candle.",
        ),
        (candles([1], [2], [4]), {}, ONE_EACH),
        (burns(3, 1, 12), {}, ONE_EACH),
        (
            candles([1]), {},
            ("One candle cannot carry this comparison: candidates and covariates use up all "
                "of them, and nothing is left to show how much candles "
            "differ. Leave out a covariate, or burn more candles."),
        ),
        (
            candles([1, 2], [3, 4]).assign(day=["mon", "tue", "mon", "wed"]), {"covariates": ["day"]},
            ("4 candles cannot carry this comparison: candidates and covariates use up all of "
                "them, and nothing is left to show how much candles "
            "differ. Leave out a covariate, or burn more candles."),
        ),
        (
            burns().assign(wax=lambda d: d["wick"].str.lower()), {"covariates": ["wax"]},
            ("Candidates and wax cannot be told apart in this table: where one changes the "
                "other changes with it. Leave out wax, or burn candles "
            "that break the tie."),
        ),
        (
            pd.concat([burns(2, 2, 1), burns(1, 1, 2).assign(candle="c1")]).reset_index(drop=True).drop(4), {"covariates": ["burn"]},
            ("Too few candles have more than one row to tell the spread between burns from "
                "the spread between candles. Give one row per candle: the "
            "mean of its rate."),
        ),
        (
            burns(), {"spread": "separate", "covariates": ["burn"]},
            'spread="separate" cannot be combined with covariates. Leave out the covariates, or '
            'use spread="pooled".',
        ),
        (
            table("comparison_rewicked"), {"spread": "separate"},
            ('spread="separate" needs candles that carry one candidate each; 4 carry more '
                'than one. Keep only the first wick of each candle, or use '
            'spread="pooled".'),
        ),
        (
            candles([1, 2], [3]), {"spread": "separate"},
            'spread="separate" needs two candles of each candidate at least; there is one of B. '
            'Use spread="pooled", or burn another candle.',
        ),
        (
            candles([1, 2], [3, 3]), {"spread": "separate"},
            "rate does not differ between the candles of B: a spread of its own cannot be taken "
            "from them. Use spread=\"pooled\".",
        ),
    ],
)  # fmt: skip
def test_refusals(data, changes, message):
    asked = {"metric": "rate", "by": "wick"} | changes
    with pytest.raises(CannotCompare) as refusal:
        compare_candidates(data, **asked)
    assert str(refusal.value) == message


def test_no_stable_answer(monkeypatch):
    from candlelab.stats import designs

    def fails(*_):
        raise designs.NotConverged

    monkeypatch.setattr(designs, "fit_mixed", fails)
    with pytest.raises(CannotCompare) as refusal:
        compare_candidates(burns(), metric="rate", by="wick")
    assert (
        str(refusal.value)
        == "No stable answer for rate with these rows. Give one row per candle, the mean of its "
        "rate, and compare again."
    )


@pytest.mark.parametrize("margin", [0, -1, np.nan, np.inf, "0.5", True])
def test_a_margin_must_be_named(margin):
    with pytest.raises(CannotCompare) as refusal:
        comparison.equivalence_test(burns(), metric="rate", by="wick", margin=margin)
    assert str(refusal.value) == (
        "margin must be a number above zero in the unit of rate: the largest difference that "
        f"does not matter, not {margin!r}."
    )


def test_reference_must_be_there():
    with pytest.raises(CannotCompare, match=r"^There is no candidate Z\. There are A, B and C\.$"):
        compare_with_reference(burns(), metric="rate", by="wick", reference="Z")
    for ask in (
        lambda d: compare_with_reference(d, metric="rate", by="wick", reference="A"),
        lambda d: comparison.equivalence_test(d, metric="rate", by="wick", margin=1),
    ):
        with pytest.raises(
            CannotCompare, match=r"^A is the only candidate: there is nothing to compare it with\.$"
        ):
            ask(burns(1, 3, 2))


def test_hardly_enough_candles_is_said():
    rng = np.random.default_rng(3)
    data = burns(2, 1, 9).query("candle == 'c1' or burn < 3")
    data = pd.concat([data, burns(1, 1, 1).assign(candle="c3")]).assign(
        rate=lambda d: 5 + rng.normal(0, 0.2, len(d))
    )
    result = compare_candidates(data, metric="rate", by="wick")
    assert result.candle_sd == 0 and result.differences["df"][0] < 1
    assert result.notes[-1] == (
        "There are hardly enough candles for this comparison: where degrees of freedom are below "
        "1 an interval says no more than that."
    )


def test_many_candidates_have_many_pairs():
    result = compare_candidates(burns(12, 2, 3), metric="rate", by="wick")
    assert len(result.differences) == 66
    assert [tuple(p) for p in result.differences[["reference", "candidate"]].to_numpy()] == list(
        itertools.combinations("ABCDEFGHIJKL", 2)
    )
    assert (result.differences["p_adjusted"] >= result.differences["p_value"] - 1e-12).all()

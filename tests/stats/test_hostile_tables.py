"""Tables that nobody would make on purpose: each gets an answer or a sentence, never a crash."""

import decimal
import warnings

import numpy as np
import pandas as pd
import pytest

from candlelab.stats.columns import CannotCompare
from candlelab.stats.factorial import compare_crossed, trend
from candlelab.stats.pairwise import compare_candidates, compare_with_reference, equivalence_test
from candlelab.stats.proportions import compare_proportions
from candlelab.stats.survival import compare_times


def plain(**columns):
    """Four wicks, three candles of each, three burns of each candle."""
    rng = np.random.default_rng(1)
    candle = np.repeat(np.arange(12), 3)
    made = {
        "candle": candle,
        "wick": np.array(list("ABCD"))[candle // 3],
        "wax": np.array(["soy", "coconut"])[candle % 2],
        "load": 4.0 + candle // 3,
        "depth": rng.random(36),
        "rate": 5 + rng.normal(0, 0.3, 12)[candle] + rng.normal(0, 0.2, 36),
    }
    return pd.DataFrame(made | {name: list(values) for name, values in columns.items()})


def each(value):
    return [value] * 36


def doubled(name):
    table = plain()
    return pd.concat([table, table[[name]]], axis=1)


def levels():
    table = plain()
    table.columns = pd.MultiIndex.from_product([["a"], table.columns])
    return table


def objects(first):
    return pd.Series([first, *[1.0] * 35], dtype=object)


def by_candle(**columns):
    table = plain().drop_duplicates("candle").reset_index(drop=True)
    table["ok"] = [True, False, True] * 4
    table["after"], table["until"] = np.arange(12.0), np.arange(12.0) + 1.0
    return table.assign(**columns)


NO_NAME = "is no name of a column."
TWICE = "is asked for twice: as what is compared and as what it is compared by or corrected for."
TEXT, UNIT = "a comparison needs numbers.", "Fix them, or give them in another unit."
# What is asked of `compare_candidates` where nothing else is said: the rate by the wick.
REFUSED = [
    # the table itself
    ("no table", None, {}, "The comparison needs a table (a pandas DataFrame), not NoneType."),
    ("a dict", {"rate": [1]}, {}, "The comparison needs a table (a pandas DataFrame), not dict."),
    ("one column", plain()["rate"], {},
     "The comparison needs a table (a pandas DataFrame), not Series."),
    ("nothing", pd.DataFrame(), {}, "The table has no columns."),
    ("no rows", plain().iloc[:0], {}, "The table has no rows."),
    ("rows without columns", pd.DataFrame(index=range(3)), {}, "The table has no columns."),
    ("names of two levels", levels(), {},
     "The names of the table's columns have several levels. Give each column one name."),
    ("metric twice", doubled("rate"), {},
     "The table has 2 columns named 'rate'. Leave one of them, or rename the others."),
    ("candidates twice", doubled("wick"), {}, "The table has 2 columns named 'wick'."),
    ("candles twice", doubled("candle"), {}, "The table has 2 columns named 'candle'."),
    ("covariate twice", doubled("depth"), {"covariates": "depth"},
     "The table has 2 columns named 'depth'."),
    ("marks twice", pd.concat([plain(excluded=each(False))] * 2, axis=1), {"metric": "excluded"},
     "The table has 2 columns named 'excluded'."),
    # the names asked for
    ("metric in a list", plain(), {"metric": ["rate"]}, f"['rate'] {NO_NAME}"),
    ("metric in a dict", plain(), {"metric": {}}, "{} " + NO_NAME),
    ("by in two lists", plain(), {"by": [["wick"]]}, f"['wick'] {NO_NAME}"),
    ("unit in a set", plain(), {"unit": [{"candle"}]}, "{'candle'} " + NO_NAME),
    ("covariate in a list", plain(), {"covariates": [["depth"]]}, f"['depth'] {NO_NAME}"),
    ("no metric", plain(), {"metric": None}, "The table has no column None."),
    ("no by", plain(), {"by": None}, "The table has no column None."),
    ("a number for a name", plain(), {"by": 3}, "The table has no column 3."),
    ("empty by", plain(), {"by": ()},
     "by names no column. Give the column that holds the candidates."),
    ("empty unit", plain(), {"unit": []},
     "unit names no column. Give the column that names a candle."),
    ("a pair as one name", plain(), {"metric": ("rate", "depth")},
     "The table has no column ('rate', 'depth')."),
    ("metric as by", plain(), {"by": "rate"}, f"rate {TWICE}"),
    ("metric as covariate", plain(), {"covariates": "rate"}, f"rate {TWICE}"),
    ("by twice", plain(), {"by": ("wick", "wick")}, f"wick {TWICE}"),
    ("unit as candidates", plain(), {"by": "candle"}, "There is one candle of each candidate:"),
    # what the columns hold
    ("lists for candidates", plain(wick=each(["A"])), {},
     "wick holds ['A'], a list. Give one name or number in each row."),
    ("arrays for candles", plain(candle=each(np.arange(2))), {}, "candle holds [0 1], a ndarray."),
    ("dicts for a covariate", plain(day=each({})), {"covariates": "day"}, "day holds {}, a dict."),
    ("lists for the metric", plain(rate=each([1.0])), {}, f"rate holds a list; {TEXT}"),
    ("complex numbers", plain(rate=each(1j)), {}, f"rate holds complex numbers; {TEXT}"),
    ("durations", plain(rate=pd.to_timedelta(np.arange(36), "h")), {}, f"rate holds times; {TEXT}"),
    ("years", plain(rate=pd.period_range("1990", periods=36, freq="Y")), {},
     f"rate holds times; {TEXT}"),
    ("categories", plain().assign(rate=lambda d: d["rate"].astype("category")), {},
     f"rate holds categories; {TEXT}"),
    ("text", plain(rate=each("5,2")), {}, f"rate holds text; {TEXT}"),
    ("text among numbers", plain().assign(rate=objects("a lot")), {}, f"rate holds text; {TEXT}"),
    ("a number of 400 digits", plain().assign(rate=objects(10**400)), {},
     f"rate holds numbers above 1e+50. {UNIT}"),
    ("no number at all", plain(rate=each(None)), {},
     "No row has rate, wick and candle all filled in."),
    ("no candidate at all", plain(wick=each(np.nan)), {},
     "No row has rate, wick and candle all filled in."),
    ("empty names", plain(candle=each("")), {}, "No row has rate, wick and candle all filled in."),
    ("marks that are words", plain(excluded=each("yes")), {},
     "The column `excluded` must hold True and False only:"),
    ("marks that are lists", plain(excluded=each([])), {},
     "The column `excluded` must hold True and False only:"),
    ("infinite", plain().assign(rate=objects(np.inf)), {},
     "rate is infinite in 1 row, the first at 0."),
    ("an infinite covariate", plain().assign(depth=lambda d: d["depth"].where(d.index > 0, np.inf)),
     {"covariates": "depth"},
     "depth is infinite in 1 row, the first at 0."),
    # sizes
    ("1e300", plain().assign(rate=lambda d: d["rate"] * 1e300), {},
     f"rate holds numbers above 1e+50. {UNIT}"),
    ("1e-300", plain().assign(rate=lambda d: d["rate"] * 1e-300), {}, "rate holds no number above"),
    ("covariate of 1e300", plain().assign(depth=lambda d: d["depth"] * 1e300),
     {"covariates": "depth"}, f"depth holds numbers above 1e+50. {UNIT}"),
    ("spread below the digits", plain().assign(rate=lambda d: 1e9 + d["rate"] * 1e-8), {},
     "Every value of rate is 1e+09:"),
    # what says the same
    ("a covariate twice over", plain().assign(half=lambda d: d["depth"] / 2),
     {"covariates": ["depth", "half"]},
     "depth and half cannot be told apart in this table: where one changes the other changes with "
     "it. Leave out half, or burn candles that break the tie."),
    ("nearly twice over", plain().assign(near=lambda d: d["depth"] + 1e-9 * d["rate"]),
     {"covariates": ["depth", "near"]},
     "depth and near cannot be told apart in this table:"),
    ("more covariates than candles",
     by_candle(**{f"x{i}": np.random.default_rng(i).random(12) for i in range(13)}),
     {"covariates": [f"x{i}" for i in range(13)]},
      "x0, x1, x2, x3, x4 and 3 more and x8 cannot be told apart in this table:"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "table", "asked", "sentence"), REFUSED, ids=[r[0] for r in REFUSED]
)
def test_refused(name, table, asked, sentence):
    with pytest.raises(CannotCompare) as refusal:
        compare_candidates(table, **{"metric": "rate", "by": "wick"} | asked)
    assert str(refusal.value).startswith(sentence), name


def test_there_are_more_than_forty():
    assert len(REFUSED) + len(ANSWERED) + len(OTHERS) >= 40


def in_the_index(name):
    """The table with its column as a level of the index as well."""
    table = plain()
    return table.set_index(table[name])


def both_levels():
    table = plain()
    return table.set_index([table["candle"], table["wick"]])


# The same rows in another dress: the answer must be that of the plain table.
ANSWERED = [
    ("candle in the index", in_the_index("candle"), {}),
    ("wick in the index", in_the_index("wick"), {}),
    ("both in the index", both_levels(), {}),
    ("one label for all rows", plain().set_index(pd.Index([7] * 36)), {}),
    ("other columns twice", pd.concat([plain(), plain()[["load", "load"]]], axis=1), {}),
    ("candle named twice", plain(), {"unit": ("candle", "candle")}),
    ("a generator of names", plain(), {"by": (name for name in ["wick"])}),
    ("numbers for names", plain().rename(columns={"wick": 1, "candle": 2}), {"by": 1, "unit": 2}),
    ("decimals", plain().assign(rate=lambda d: d["rate"].map(decimal.Decimal)), {}),
    ("sparse", plain().assign(rate=lambda d: pd.arrays.SparseArray(d["rate"])), {}),
    ("categories", plain().astype({"wick": "category", "candle": "category"}), {}),
    ("pairs for candles", plain().assign(candle=lambda d: [(c, "x") for c in d["candle"]]), {}),
    ("not marked", plain(excluded=[None, *[False] * 35]), {}),
]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "table", "asked"), ANSWERED, ids=[a[0] for a in ANSWERED])
def test_answered_as_the_plain_table(name, table, asked):
    expected = compare_candidates(plain(), metric="rate", by="wick")
    found = compare_candidates(table, **{"metric": "rate", "by": "wick"} | asked)
    pd.testing.assert_frame_equal(found.differences, expected.differences, obj=name)


OTHERS = [
    (compare_with_reference, plain(), {"metric": "rate", "by": "wick", "reference": ["A"]},
     "There is no candidate ['A']."),
    (equivalence_test, plain(), {"metric": "rate", "by": "wick", "margin": decimal.Decimal(1)},
     "margin must be a number above zero"),
    (compare_crossed, plain(), {"metric": "rate", "by": None}, "by must name two columns"),
    (compare_crossed, plain(), {"metric": "rate", "by": ("wick", "wick")}, f"wick {TWICE}"),
    (compare_crossed, plain(), {"metric": "rate", "by": ("wick", ["wax"])}, f"['wax'] {NO_NAME}"),
    (trend, plain(), {"metric": "rate", "against": ["load"]}, f"['load'] {NO_NAME}"),
    (trend, plain(), {"metric": "rate", "against": "wick"}, f"wick holds text; {TEXT}"),
    (trend, plain(load=each(3)), {"metric": "rate", "against": "load"}, "load is 3 in every row:"),
    (trend, plain().assign(load=lambda d: d["load"] * 1e200), {"metric": "rate", "against": "load"},
     "load holds numbers above 1e+50."),
    (compare_proportions, by_candle(ok=[[1]] * 12), {"outcome": "ok", "by": "wick"},
     "ok must be yes or no (True and False, or 1 and 0); found [1]."),
    (compare_proportions, by_candle(ok=1j), {"outcome": "ok", "by": "wick"},
     "ok must be yes or no (True and False, or 1 and 0); found 1j."),
    (compare_proportions, by_candle(), {"outcome": "ok", "by": ["wick"]}, f"['wick'] {NO_NAME}"),
    (compare_proportions, by_candle(), {"outcome": "ok", "by": "ok"}, f"ok {TWICE}"),
    (compare_proportions, by_candle(), {"outcome": "ok", "by": "wick", "unit": ()},
     "unit names no column."),
    (compare_proportions, by_candle(wick=[[1]] * 12), {"outcome": "ok", "by": "wick"},
     "wick holds [1], a list."),
    (compare_proportions, plain(ok=each(True)), {"outcome": "ok", "by": "wick"},
     "0 has more than one row."),
    (compare_times, by_candle(), {"after": ["after"], "until": "until", "by": "wick"},
     f"['after'] {NO_NAME}"),
    (compare_times, by_candle(), {"after": "after", "until": "until", "by": "until"},
     f"until {TWICE}"),
    (compare_times, by_candle(after=1e300), {"after": "after", "until": "until", "by": "wick"},
     "after holds numbers above 1e+50."),
    (compare_times, by_candle(after=99.0), {"after": "after", "until": "until", "by": "wick"},
     "0: after is 99 and until is 1."),
]  # fmt: skip


@pytest.mark.parametrize(("compare", "table", "asked", "sentence"), OTHERS)
def test_the_other_comparisons_refuse_as_well(compare, table, asked, sentence):
    with pytest.raises(CannotCompare) as refusal:
        compare(table, **asked)
    assert str(refusal.value).startswith(sentence)


@pytest.mark.parametrize("compare", [compare_proportions, compare_times])
def test_names_in_the_index_do_not_matter(compare):
    asked = (
        {"outcome": "ok"}
        if compare is compare_proportions
        else {"after": "after", "until": "until"}
    )
    table = by_candle()
    expected = compare(table, by="wick", **asked).differences
    found = compare(table.set_index([table["candle"], table["wick"]]), by="wick", **asked)
    pd.testing.assert_frame_equal(found.differences, expected)


QUESTIONS = [
    (compare_candidates, {"by": "wick"}),
    (compare_candidates, {"by": "wick", "covariates": "depth"}),
    (compare_candidates, {"by": "wick", "spread": "separate"}),
    (compare_crossed, {"by": ("wick", "wax")}),
    (trend, {"against": "load"}),
    (trend, {"against": "load", "covariates": "depth"}),
]


@pytest.mark.slow
@pytest.mark.parametrize("burns", [1, 3])
@pytest.mark.parametrize(("compare", "asked"), QUESTIONS)
def test_a_unit_of_any_size_gives_the_same_answer_or_a_refusal(compare, asked, burns):
    """From 1e-300 to 1e300, of the metric and of what it is compared against: closed form, since t
    and p have no unit."""
    table = plain().groupby("candle").head(burns)
    expected = answers(compare(table, metric="rate", **asked))
    for exponent in (-300, -60, -45, -9, 9, 45, 60, 300):
        for columns in (["rate"], ["load", "depth"], ["rate", "load", "depth"]):
            size = float(f"1e{exponent}")
            scaled = table.assign(**{name: table[name] * size for name in columns})
            used = {"rate", *asked.values()} & {*columns}
            if used and abs(exponent) > 50:
                with pytest.raises(CannotCompare, match=rf"{UNIT}$"):
                    compare(scaled, metric="rate", **asked)
            else:
                found = answers(compare(scaled, metric="rate", **asked))
                assert found == pytest.approx(expected, rel=1e-5)


def answers(result):
    """t, p and degrees of freedom of every answer, whatever its unit."""
    table = result.slope if hasattr(result, "slope") else result.differences
    return [*(table["estimate"] / table["std_error"]), *table["p_value"], *table["df"]]


@pytest.mark.slow
@pytest.mark.parametrize("burns", [1, 6])
@pytest.mark.parametrize("nearness", [1e-3, 1e-4, 1e-5, 1e-6, 1e-9])
def test_covariates_that_nearly_say_the_same(nearness, burns):
    """u and u (1 + nearness w) span what u and u w span, so every answer is the same: algebra."""
    for seed in range(8):
        rng = np.random.default_rng(seed)
        candle = np.repeat(np.arange(12), burns)
        u = [0, 50, 1000][seed % 3] + rng.random(len(candle)) * [1, 1, 100][seed % 3]
        u = u[candle * burns] if seed % 4 == 3 else u
        w = rng.random(len(candle))
        rate = rng.normal(0, 0.3, 12)[candle] + rng.normal(0, 0.2, len(candle)) + w / 2 + u / 10
        table = pd.DataFrame({"candle": candle, "wick": candle // 4, "u": u, "rate": rate})
        table["near"] = u * (1 + nearness * w)
        table["uw"] = (table["near"] - u) / nearness
        asked = {"metric": "rate", "by": "wick"}
        expected = compare_candidates(table, covariates=["u", "uw"], **asked)
        if nearness < 1e-8:
            with pytest.raises(CannotCompare, match=r"^u and near cannot be told apart"):
                compare_candidates(table, covariates=["u", "near"], **asked)
            continue
        found = compare_candidates(table, covariates=["u", "near"], **asked)
        for name in ("estimates", "differences"):
            for column in ("estimate", "std_error", "df"):
                np.testing.assert_allclose(
                    getattr(found, name)[column], getattr(expected, name)[column], rtol=1e-5
                )


def test_no_warning_on_a_block_of_many_levels():
    """30 days, 5 wicks, 400 candles: the answer is that of least squares where candles are alike in
    all but luck."""
    rng = np.random.default_rng(7)
    candle, day = rng.integers(0, 400, 6000), rng.integers(0, 30, 6000)
    table = pd.DataFrame({"candle": candle, "wick": candle % 5, "day": day.astype(str)})
    effect = rng.normal(0, 1, 30)[day]
    table["rate"] = 0.5 * (candle % 5) + effect + rng.normal(0, 0.05, len(candle))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = compare_candidates(table, metric="rate", by="wick", covariates="day").differences
    steps = found["candidate"].astype(int) - found["reference"].astype(int)
    np.testing.assert_allclose(found["estimate"], 0.5 * steps, atol=0.02)

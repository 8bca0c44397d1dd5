"""Tables that do not carry the comparison: every refusal to the letter."""

import itertools

import numpy as np
import pandas as pd
import pytest
from reference_tables import burns, candles, table

from candlelab.stats.columns import CannotCompare
from candlelab.stats.pairwise import compare_candidates, compare_with_reference, equivalence_test

ONE_EACH = (
    "There is one candle of each candidate: nothing shows how much candles of one candidate "
    "differ, so no difference between candidates can be judged. Burn a second candle of at least "
    "one of them."
)


@pytest.mark.parametrize(
    ("data", "changes", "message"),
    [
        ([1, 2], {}, "The comparison needs a table (a pandas DataFrame), not list."),
        (burns().iloc[:0], {}, "The table has no rows."),
        (burns(), {"metric": "ratee"}, "The table has no column 'ratee'. Did you mean 'rate'?"),
        (burns(), {"unit": "xyz"},
         "The table has no column 'xyz'. It has candle, wick, burn and rate."),
        (burns(), {"metric": "wick", "by": "burn"}, "wick holds text; a comparison needs numbers."),
        (burns().assign(ok=True), {"metric": "ok"},
         "ok holds yes and no. Use compare_proportions for outcomes that are yes or no."),
        (burns().assign(at=pd.Timestamp("2025-01-01")), {"metric": "at"},
         "at holds times; a comparison needs numbers."),
        (burns().assign(rate=[np.inf, *[1.0] * 35]), {},
         "rate is infinite in 1 row, the first at 0. Fix it or leave it out."),
        (burns().assign(rate=np.nan), {}, "No row has rate, wick and candle all filled in."),
        (burns().assign(excluded=True), {}, "Every row is marked as set aside."),
        (burns().assign(excluded="no"), {},
         "The column `excluded` must hold True and False only: it says which rows are set aside."),
        (burns(), {"covariates": ["wick"]},
         "wick is asked for twice: as what is compared and as what it is compared by or "
            "corrected for."),
        (burns(), {"confidence": 95},
         "confidence must be a number from 0.5 to below 1, such as 0.95, not 95."),
        (burns(), {"spread": "equal"},
         "spread=\"pooled\" or spread=\"separate\" is asked for, not 'equal'."),
        (burns().assign(rate=5.0), {},
         "Every value of rate is 5: without any variation no difference can be judged."),
        (
            candles([1.1, 1.1], [2.2, 2.2]), {},
            "rate does not differ between candles of one candidate: without any variation no "
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
            candles([1, 2], [3, 4]).assign(day=["mon", "tue", "mon", "wed"]),
            {"covariates": ["day"]},
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
            pd.concat([burns(2, 2, 1), burns(1, 1,
            2).assign(candle="c1")]).reset_index(drop=True).drop(4), {"covariates": ["burn"]},
            ("Too few candles have more than one row to tell the variation between burns from "
                "the variation between candles. Give one row per candle: the "
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
            "rate does not differ between the candles of B: a variation of its own cannot be taken "
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
    from candlelab.stats import models

    def fails(*_):
        raise models.NotConverged

    monkeypatch.setattr(models, "fit_mixed", fails)
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
        equivalence_test(burns(), metric="rate", by="wick", margin=margin)
    assert str(refusal.value) == (
        "margin must be a number above zero in the unit of rate: the largest difference that does "
        f"not matter, not {margin!r}."
    )


def test_reference_must_be_there():
    with pytest.raises(CannotCompare, match=r"^There is no candidate Z\. There are A, B and C\.$"):
        compare_with_reference(burns(), metric="rate", by="wick", reference="Z")
    for ask in (
        lambda d: compare_with_reference(d, metric="rate", by="wick", reference="A"),
        lambda d: equivalence_test(d, metric="rate", by="wick", margin=1),
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
    assert result.candle_sd == 0
    assert result.differences["df"][0] < 1
    assert result.notes[-1] == (
        "There are hardly enough candles for this comparison: where degrees of freedom are below 1 "
        "an interval says no more than that."
    )


def test_many_candidates_have_many_pairs():
    result = compare_candidates(burns(12, 2, 3), metric="rate", by="wick")
    assert len(result.differences) == 66
    assert [tuple(p) for p in result.differences[["reference", "candidate"]].to_numpy()] == list(
        itertools.combinations("ABCDEFGHIJKL", 2)
    )
    assert (result.differences["p_adjusted"] >= result.differences["p_value"] - 1e-12).all()


def test_columns_that_say_the_same_cannot_be_told_apart():
    from candlelab.stats.designs import read_rows
    from candlelab.stats.models import fit

    rows = read_rows(candles([1, 2], [3, 4]), metric="rate", by="wick", unit="candle")
    with pytest.raises(CannotCompare, match=r"^Candidates cannot be told apart in this table\.$"):
        fit(rows, np.ones((4, 2)), what="candidates")


def test_a_covariate_may_have_the_name_of_what_is_compared():
    named = burns().rename(columns={"burn": "candidates"})
    found = compare_candidates(named, metric="rate", by="wick", covariates="candidates")
    expected = compare_candidates(burns(), metric="rate", by="wick", covariates="burn")
    pd.testing.assert_frame_equal(found.differences, expected.differences)

"""Desirability against the paper's example, the probability of being the best against hand-worked
cases.
"""

import numpy as np
import pandas as pd
import pytest

from candlelab.compare.choice import choose
from candlelab.logs.settings import Target
from candlelab.stats.desirability import desirability, together

RATE = Target("burn_rate_g_per_h", 4.0, 7.0, 5.5)
WALL = Target("wall_max_c", high=65.0, best=45.0)


def values(**rows):
    table = [(name, *row) for name, own in rows.items() for row in own]
    return pd.DataFrame(table, columns=["candidate", "burn_rate_g_per_h", "wall_max_c"])


def fine(*names):
    return dict.fromkeys(names, "")


def test_desirabilities_of_the_paper():
    """Derringer and Suich 1980: d = (.189, 1, .656, .932), together .583."""
    targets = (
        Target("a", low=120, best=170),
        Target("b", low=1000, best=1300),
        Target("c", 400, 600, 500),
        Target("d", 60, 75, 67.5),
    )
    measured = (129.5, 1300, 465.7, 68.0)
    separate = [
        float(desirability(y, t.low, t.high, t.best))
        for y, t in zip(measured, targets, strict=True)
    ]
    # the paper rounds, and works on with rounded values
    assert separate == pytest.approx([0.189, 1, 0.656, 0.932], abs=0.0015)
    assert float(together(separate, [1] * 4)) == pytest.approx(0.583, abs=0.0015)


@pytest.mark.parametrize(
    ("value", "target", "expected"),
    [
        (4.0, RATE, 0), (4.75, RATE, 0.5), (5.5, RATE, 1), (6.25, RATE, 0.5), (7.5, RATE, 0),
        (np.nan, RATE, 0),
        (40, WALL, 1), (55, WALL, 0.5), (65, WALL, 0), (70, WALL, 0),
        (5, Target("x", 4, 7), 1), (4, Target("x", 4, 7), 1), (7.01, Target("x", 4, 7), 0),
        (1e9, Target("x", low=4), 1),
    ],
)  # fmt: skip
def test_satisfaction_by_hand(value, target, expected):
    assert float(desirability(value, target.low, target.high, target.best)) == pytest.approx(
        expected
    )


def test_one_miss_spoils_all_and_weights_count():
    assert float(together([1.0, 0.0, 1.0], [1, 1, 1])) == 0
    assert float(together([0.25, 1.0], [1, 1])) == pytest.approx(0.5)
    assert float(together([0.25, 1.0], [1, 3])) == pytest.approx(0.25**0.25)


def test_safety_comes_first_whatever_the_satisfaction():
    table = values(best=[(5.5, 45)] * 3, good=[(5.0, 50), (5.2, 51), (5.1, 50)])
    choice = choose(table, (RATE, WALL), {"best": "a criterion is not met", "good": ""})
    assert choice.candidates["candidate"].tolist() == ["good"]
    assert choice.left_out.to_dict("records") == [
        {"candidate": "best", "reason": "a criterion is not met"}
    ]
    assert choice.candidates["probability_best"].isna().all()
    assert choice.unknown == ()
    assert (
        "Only one candidate may be chosen, so there is nothing to compare it with." in choice.notes
    )


def test_a_candidate_that_was_never_judged_is_not_chosen():
    assert choose(values(a=[(5.5, 45)] * 2), (RATE,), {}).candidates.empty


def test_a_clear_winner_and_a_tie():
    clear = choose(
        values(a=[(5.5, 45), (5.45, 45), (5.55, 46)], b=[(4.5, 60), (4.4, 61), (4.6, 60)]),
        (RATE, WALL),
        fine("a", "b"),
    )
    assert clear.candidates["candidate"].tolist() == ["a", "b"]
    assert clear.candidates["probability_best"].iat[0] > 0.99
    same = [(5.2, 50), (5.4, 52), (5.3, 51)]
    tie = choose(values(a=same, b=same), (RATE, WALL), fine("a", "b"))
    assert tie.candidates["probability_best"].tolist() == pytest.approx([0.5, 0.5], abs=0.02)


def test_probability_of_two_by_numerical_integration():
    """One metric, larger is better, far from its ends: given the share of luck x, the true
    difference is Student's t with 4 + 1 degrees of freedom about (1 - x) times what was measured; x
    has the posterior of test_mean_draws.

    Integrated with scipy.
    """
    from scipy import integrate, stats

    target = Target("burn_rate_g_per_h", low=-100, best=100)
    a, b = np.array([5.0, 5.4, 5.8]), np.array([4.9, 5.1, 5.6])
    within = np.square(a - a.mean()).sum() + np.square(b - b.mean()).sum()
    between = 1.5 * (a.mean() - b.mean()) ** 2

    def integral(of):
        return integrate.quad(lambda x: x**0.5 * (within + x * between) ** -2.5 * of(x), 0, 1)[0]

    gap = a.mean() - b.mean()

    def chance(x):
        return stats.t.cdf(np.sqrt(1 - x) * gap / np.sqrt((within + x * between) / 5 * 2 / 3), 5)

    expected = integral(chance) / integral(np.ones_like)
    table = values(a=[(x, 50) for x in a], b=[(x, 50) for x in b])
    choice = choose(table, (target,), fine("a", "b"), draws=200_000)
    found = choice.candidates.set_index("candidate")["probability_best"]
    # resampled deviations of six candles are not quite normal
    assert found["a"] == pytest.approx(expected, abs=0.02)
    # less sure than without minding luck
    assert found["a"] < stats.t.cdf(gap / np.sqrt(within / 4 * 2 / 3), 4) - 0.05


def test_same_seed_same_answer():
    table = values(a=[(5.2, 50), (5.9, 52)], b=[(5.3, 51), (5.0, 50)])
    first, second = (
        choose(table, (RATE, WALL), fine("a", "b"), seed=3).candidates for _ in range(2)
    )
    pd.testing.assert_frame_equal(first, second)


def test_pareto_and_drivers():
    table = values(
        quick=[(5.5, 60), (5.5, 60.2)],
        cool=[(5.0, 46), (5.0, 46.2)],
        beaten=[(4.9, 61), (4.9, 61.4)],
    )
    choice = choose(table, (RATE, WALL), fine("quick", "cool", "beaten"))
    assert choice.candidates.set_index("candidate")["pareto"].to_dict() == {
        "cool": True,
        "quick": True,
        "beaten": False,
    }
    wide = values(a=[(5.2, 50), (5.6, 52), (5.4, 51)], b=[(5.0, 50), (5.4, 52), (5.2, 51)])
    drivers = choose(wide, (RATE, WALL), fine("a", "b")).drivers
    # a wins by its rate, 5.4 against 5.2 with 5.5 the best: it loses when its rate falls by 0.2,
    # or its wall rises
    rate = drivers.set_index("target").loc["burn_rate_g_per_h"]
    assert rate["shift"] == pytest.approx(0.2, abs=0.01)
    assert rate["shift_in_std_errors"] == pytest.approx(0.2 / (0.2 / np.sqrt(3)), abs=0.1)
    assert drivers["shift_in_std_errors"].is_monotonic_increasing


def test_what_cannot_be_said_is_said():
    with pytest.raises(
        ValueError,
        match=r"batch\.toml names no target, so there is nothing to choose by: add \[targets\]\.",
    ):
        choose(values(a=[(5, 50)]), (), fine("a"))
    single = choose(values(a=[(5.5, 50)], b=[(5.2, 51)]), (RATE, WALL), fine("a", "b"))
    assert single.candidates["probability_best"].isna().all()
    assert single.notes == (
        "One candle a candidate says nothing about the variation between candles, so how sure the "
        "order is cannot be said.",
    )
    missed = choose(values(a=[(9, 50), (9, 51)], b=[(8, 51), (8, 50)]), (RATE,), fine("a", "b"))
    assert missed.notes == (
        "Every candidate misses a target altogether, so none satisfies: widen a target or try "
        "other candidates.",
    )
    plain = choose(values(a=[(5, 50), (5, 51)]), (Target("burn_rate_g_per_h", 4, 7),), fine("a"))
    assert (
        plain.notes[0]
        == "A candidate is either inside or outside for burn rate: batch.toml names no best "
        "value there."
    )
    gap = choose(
        values(a=[(np.nan, 50), (np.nan, 51)], b=[(5, 50), (5.1, 51)]), (RATE, WALL), fine("a", "b")
    )
    assert gap.left_out["reason"].tolist() == ["no candle has a number for burn rate"]
    assert gap.unknown == ("a",)
    none = choose(
        values(a=[(np.nan, np.nan)], b=[(5, 50)]),
        (RATE, WALL),
        {"a": "", "b": "a criterion is not met"},
    )
    assert none.left_out["reason"].tolist() == [
        "a criterion is not met",
        "no candle has a number for burn rate; no candle has a number for highest wall temperature",
    ]
    assert none.notes == ("No candidate can be chosen.",)


TIME = Target("full_pool_h", low=1.0, high=4.0)


def pools(a, b, target, **ends):
    """Two candidates by one quantity; ``above`` and ``below`` are per candle of both."""
    values = pd.DataFrame(
        {"candidate": ["a"] * len(a) + ["b"] * len(b), target.quantity: [*a, *b]}, dtype=object
    ).astype({target.quantity: float})
    return choose(
        values,
        (target,),
        fine("a", "b"),
        **{end: pd.DataFrame({target.quantity: given}) for end, given in ends.items()},
    )


def test_candles_that_never_got_there_are_not_forgotten():
    """Two of three never had a full pool in 9 h: the mean is above (2 + 9 + 9) / 3 h, outside 1 to
    4 h, although the one number is inside.
    """
    nan = np.nan
    choice = pools([2.0, nan, nan], [3.0, 3.2, 3.1], TIME, above=[nan, 9.0, 9.0, nan, nan, nan])
    table = choice.candidates.set_index("candidate")
    assert table["satisfaction"].to_dict() == {"b": 1.0, "a": 0.0}
    assert table.loc["a", "probability_best"] < 0.01
    assert choice.by_target.set_index("candidate")["mean"].isna().to_dict() == {
        "b": False,
        "a": True,
    }
    assert (
        choice.notes[0]
        == "Time to full pool of 2 of 3 candles of a is known only to be above 9 h: the mean "
        "misses the target whatever it is."
    )
    assert choice.candidates["n_candles"].tolist() == [3, 3]


def test_a_bound_that_does_not_decide_leaves_the_candidate_out():
    nan = np.nan
    choice = pools([2.0, 2.2, nan], [3.0, 3.2, 3.1], TIME, above=[nan, nan, 4.0, nan, nan, nan])
    assert choice.candidates["candidate"].tolist() == ["b"]
    assert choice.unknown == ("a",)
    assert choice.left_out.to_dict("records") == [
        {
            "candidate": "a",
            "reason": "time to full pool of 1 of 3 candles is known only to be above 4 h, which "
            "leaves open what it satisfies",
        }
    ]
    # never within the 4 h of the target: above 4 is not 4
    choice = pools([nan, nan], [3.0, 3.2], TIME, above=[4.0, 4.0, nan, nan])
    assert choice.candidates.set_index("candidate").loc["a", "satisfaction"] == 0.0


def test_a_bound_may_also_decide_for_a_candidate_and_counts_as_itself():
    nan, life = np.nan, Target("life_h", low=30.0, best=40.0)
    choice = pools(
        [50.0, 51.0, nan], [33.0, 35.0, 34.0], life, above=[nan, nan, 45.0, nan, nan, nan]
    )
    row = choice.by_target.set_index("candidate").loc["a"]
    assert row["mean"] == pytest.approx((50 + 51 + 45) / 3)
    assert row["satisfaction"] == 1.0
    assert (
        choice.notes[0]
        == "Life of 1 of 3 candles of a is known only to be above 45 h: the mean is inside the "
        "target whatever it is, and counts as that."
    )
    left = Target("wax_left_pct", high=30.0)
    choice = pools([4.0, nan], [3.0, 5.0], left, below=[nan, 20.0, nan, nan])
    assert choice.candidates.set_index("candidate").loc["a", "satisfaction"] == 1.0
    assert (
        choice.notes[0]
        == "Wax left of 1 of 2 candles of a is known only to be below 20 %: the mean is inside the "
        "target whatever it is, and counts as that."
    )
    choice = pools([4.0, nan], [3.0, 5.0], left, below=[nan, 80.0, nan, nan])
    assert choice.left_out["reason"].tolist() == [
        "wax left of 1 of 2 candles is known only to be below 80 %, which leaves open what it "
        "satisfies"
    ]


def test_one_that_was_not_recorded_does_not_count_and_is_told():
    nan = np.nan
    choice = pools([50.0, 52.0, nan], [55.0, 56.0, 57.0], WALL)
    assert choice.by_target.set_index("candidate").loc["a", "mean"] == 51.0
    assert choice.notes == (
        "Highest wall temperature of 1 of 3 candles of a is not known: the mean is that of the "
        "others.",
    )
    every = pools([nan, nan], [nan, nan], TIME, above=[9.0, 9.0, 10.0, 9.0])
    assert every.candidates["satisfaction"].tolist() == [0.0, 0.0]
    assert every.candidates["probability_best"].tolist() == [0.5, 0.5]


@pytest.mark.slow
def test_calibration_in_small():
    """The long study is a benchmark; here, of 150 seeded batches with the leader called 70-100 %,
    at least 70 % are right.
    """
    random, called, right = np.random.default_rng(5), [], []
    for _ in range(150):
        true = 5.5 + 0.4 * random.standard_normal(4)
        table = values(
            **{
                f"w{k}": [(true[k] + 0.25 * random.standard_normal(), 50.0) for _ in range(3)]
                for k in range(4)
            }
        )
        row = choose(
            table,
            (Target("burn_rate_g_per_h", low=0, best=20),),
            fine("w0", "w1", "w2", "w3"),
            draws=2000,
        ).candidates.iloc[0]
        if row["probability_best"] >= 0.7:
            called.append(row["probability_best"])
            right.append(row["candidate"] == f"w{np.argmax(true)}")
    assert len(called) > 40
    assert np.mean(right) == pytest.approx(np.mean(called), abs=0.12)

"""Desirability against the paper's example, the probability of being the best against hand-worked cases."""

import numpy as np
import pandas as pd
import pytest

from candlelab.choosing import choose, desirability, together
from candlelab.settings import Target

RATE = Target("burn_rate_g_per_h", 4.0, 7.0, 5.5)
WALL = Target("wall_max_c", high=65.0, best=45.0)


def values(**rows):
    table = [(name, *row) for name, own in rows.items() for row in own]
    return pd.DataFrame(table, columns=["candidate", "burn_rate_g_per_h", "wall_max_c"])


def fine(*names):
    return dict.fromkeys(names, "")


def test_desirabilities_of_the_paper():
    """Derringer and Suich 1980, Y = (129.5, 1300, 465.7, 68.0): d = (.189, 1, .656, .932), together .583."""
    targets = (Target("a", low=120, best=170), Target("b", low=1000, best=1300), Target("c", 400, 600, 500), Target("d", 60, 75, 67.5))
    separate = [float(desirability(y, t)) for y, t in zip((129.5, 1300, 465.7, 68.0), targets)]
    assert separate == pytest.approx([0.189, 1, 0.656, 0.932], abs=0.0015)  # the paper rounds
    assert float(together(separate, [1] * 4)) == pytest.approx(0.583, abs=0.0015)  # from rounded values


@pytest.mark.parametrize(
    ("value", "target", "expected"),
    [
        (4.0, RATE, 0), (4.75, RATE, 0.5), (5.5, RATE, 1), (6.25, RATE, 0.5), (7.5, RATE, 0), (np.nan, RATE, 0),
        (40, WALL, 1), (55, WALL, 0.5), (65, WALL, 0), (70, WALL, 0),
        (5, Target("x", 4, 7), 1), (4, Target("x", 4, 7), 1), (7.01, Target("x", 4, 7), 0), (1e9, Target("x", low=4), 1),
    ],
)  # fmt: skip
def test_satisfaction_by_hand(value, target, expected):
    assert float(desirability(value, target)) == pytest.approx(expected)


def test_one_miss_spoils_all_and_weights_count():
    assert float(together([1.0, 0.0, 1.0], [1, 1, 1])) == 0
    assert float(together([0.25, 1.0], [1, 1])) == pytest.approx(0.5)
    assert float(together([0.25, 1.0], [1, 3])) == pytest.approx(0.25**0.25)


def test_safety_comes_first_whatever_the_satisfaction():
    table = values(best=[(5.5, 45)] * 3, good=[(5.0, 50), (5.2, 51), (5.1, 50)])
    choice = choose(table, (RATE, WALL), {"best": "a criterion is not met", "good": ""})
    assert choice.candidates["candidate"].tolist() == ["good"]
    assert choice.left_out.to_dict("records") == [{"candidate": "best", "reason": "a criterion is not met"}]
    assert choice.candidates["probability_best"].tolist() == [1.0]
    assert "Only one candidate may be chosen, so there is nothing to compare it with." in choice.notes


def test_a_candidate_that_was_never_judged_is_not_chosen():
    assert choose(values(a=[(5.5, 45)] * 2), (RATE,), {}).candidates.empty


def test_a_clear_winner_and_a_tie():
    clear = choose(values(a=[(5.5, 45), (5.45, 45), (5.55, 46)], b=[(4.5, 60), (4.4, 61), (4.6, 60)]), (RATE, WALL), fine("a", "b"))
    assert clear.candidates["candidate"].tolist() == ["a", "b"] and clear.candidates["probability_best"].iat[0] > 0.99
    same = [(5.2, 50), (5.4, 52), (5.3, 51)]
    tie = choose(values(a=same, b=same), (RATE, WALL), fine("a", "b"))
    assert tie.candidates["probability_best"].tolist() == pytest.approx([0.5, 0.5], abs=0.02)


def test_probability_of_two_against_the_t_distribution():
    """One metric, larger is better, far from its ends: P(a > b) is Student's t with 4 degrees of freedom."""
    from scipy import stats

    target = Target("burn_rate_g_per_h", low=-100, best=100)
    a, b = np.array([5.0, 5.4, 5.8]), np.array([4.9, 5.1, 5.6])
    table = values(a=[(x, 50) for x in a], b=[(x, 50) for x in b])
    pooled = np.sqrt((a.var(ddof=1) + b.var(ddof=1)) / 2 * 2 / 3)
    expected = stats.t.cdf((a.mean() - b.mean()) / pooled, 4)
    found = choose(table, (target,), fine("a", "b"), draws=200_000).candidates.set_index("candidate")["probability_best"]
    assert found["a"] == pytest.approx(expected, abs=0.005)


def test_same_seed_same_answer():
    table = values(a=[(5.2, 50), (5.9, 52)], b=[(5.3, 51), (5.0, 50)])
    first, second = (choose(table, (RATE, WALL), fine("a", "b"), seed=3).candidates for _ in range(2))
    pd.testing.assert_frame_equal(first, second)


def test_pareto_and_drivers():
    table = values(quick=[(5.5, 60), (5.5, 60.2)], cool=[(5.0, 46), (5.0, 46.2)], beaten=[(4.9, 61), (4.9, 61.4)])
    choice = choose(table, (RATE, WALL), fine("quick", "cool", "beaten"))
    assert choice.candidates.set_index("candidate")["pareto"].to_dict() == {"cool": True, "quick": True, "beaten": False}
    wide = values(a=[(5.2, 50), (5.6, 52), (5.4, 51)], b=[(5.0, 50), (5.4, 52), (5.2, 51)])
    drivers = choose(wide, (RATE, WALL), fine("a", "b")).drivers
    # a wins by its rate, 5.4 against 5.2 with 5.5 the best: it loses when its rate falls by 0.2, or its wall rises
    rate = drivers.set_index("target").loc["burn_rate_g_per_h"]
    assert rate["shift"] == pytest.approx(0.2, abs=0.01)
    assert rate["shift_in_std_errors"] == pytest.approx(0.2 / (0.2 / np.sqrt(3)), abs=0.1)
    assert drivers["shift_in_std_errors"].is_monotonic_increasing


def test_what_cannot_be_said_is_said():
    with pytest.raises(ValueError, match="batch.toml names no target, so there is nothing to choose by: add \\[targets\\]."):
        choose(values(a=[(5, 50)]), (), fine("a"))
    single = choose(values(a=[(5.5, 50)], b=[(5.2, 51)]), (RATE, WALL), fine("a", "b"))
    assert single.candidates["probability_best"].isna().all()
    assert single.notes == ("One candle a candidate says nothing about the spread between candles, so how sure the order is cannot be said.",)
    missed = choose(values(a=[(9, 50), (9, 51)], b=[(8, 51), (8, 50)]), (RATE,), fine("a", "b"))
    assert missed.notes == ("Every candidate misses a target altogether, so none satisfies: widen a target or try other candidates.",)
    plain = choose(values(a=[(5, 50), (5, 51)]), (Target("burn_rate_g_per_h", 4, 7),), fine("a"))
    assert plain.notes[0] == "A candidate is either inside or outside for burn rate (g/h): batch.toml names no best value there."
    gap = values(a=[(np.nan, 50), (np.nan, 51)], b=[(5, 50), (5.1, 51)])
    assert choose(gap, (RATE, WALL), fine("a", "b")).left_out["reason"].tolist() == ["no candle has a number for burn rate (g/h)"]


def test_calibration_in_small():
    """The long study is a benchmark; here, of 150 seeded batches with the leader called 70-100 %, at least 70 % are right."""
    random, called, right = np.random.default_rng(5), [], []
    for _ in range(150):
        true = 5.5 + 0.4 * random.standard_normal(4)
        table = values(**{f"w{k}": [(true[k] + 0.25 * random.standard_normal(), 50.0) for _ in range(3)] for k in range(4)})
        row = choose(table, (Target("burn_rate_g_per_h", low=0, best=20),), fine("w0", "w1", "w2", "w3"), draws=2000).candidates.iloc[0]
        if row["probability_best"] >= 0.7:
            called.append(row["probability_best"])
            right.append(row["candidate"] == f"w{np.argmax(true)}")
    assert len(called) > 40 and np.mean(right) == pytest.approx(np.mean(called), abs=0.12)

"""Projected life: worked by hand, and recovered from a simulation."""

import dataclasses

import batches
import numpy as np
import pytest
from batches import one_candle
from scipy import stats

from candlelab.judge.worked import WorkedBatch


def test_projected_life_worked_by_hand(tmp_path):
    # Four burns of 4 h from 200 g: rates 4, 5, 5, 5.5 g/h at 4, 13, 23 and 33.5 % used;
    # 78 g used, 122 g to go, of which 5 % of 200 g may stay.
    row = WorkedBatch(one_candle(tmp_path, [16, 20, 20, 22], fill=200)).candles.iloc[0]
    x, y = np.array([0.04, 0.13, 0.23, 0.335]), np.array([4, 5, 5, 5.5])
    line = stats.linregress(x, y)
    ahead = (0.39 + 1) / 2  # the middle of what is left
    rate = line.intercept + line.slope * ahead
    assert row["life_projected_h"] == pytest.approx(16 + 122 / rate)
    residual = np.sqrt(((y - line.intercept - line.slope * x) ** 2).sum() / 2)
    to_come = 122 / rate / 4  # burns of 4 h
    spread = residual * np.sqrt(
        1 / to_come + 1 / 4 + (ahead - x.mean()) ** 2 / ((x - x.mean()) ** 2).sum()
    )
    # burns that follow each other's luck: 1.4 times; a bend with a standard deviation of a quarter
    # of the rate: what the square of depth is ahead, beyond its own line through the burns
    square = stats.linregress(x, x**2)
    bent = ahead**2 + (1 - 0.39) ** 2 / 12 - square.intercept - square.slope * ahead
    # Student's t, 97.5 %, 2 degrees of freedom, and the normal one: any table
    reach = np.hypot(4.302653 * 1.4 * spread, 1.96 * 0.25 * rate * bent)
    assert row["life_low_h"] == pytest.approx(16 + 112 / (rate + reach), rel=1e-6)
    assert row["life_high_h"] == pytest.approx(16 + 122 / (rate - reach), rel=1e-6)
    assert not row["ended"]
    assert np.isnan(row["life_h"])


def test_a_steady_candle_has_a_narrow_projection(tmp_path):
    used = [20.0, 20.1, 20.0, 20.1, 20.0]
    row = WorkedBatch(one_candle(tmp_path, used, fill=200)).candles.iloc[0]
    assert row["life_low_h"] < row["life_projected_h"] < row["life_high_h"]
    assert row["life_projected_h"] == pytest.approx(40, abs=0.1)
    # 5 % of 200 g may stay, 2 h at 5 g/h; half a life ahead may bend
    assert row["life_high_h"] - row["life_low_h"] < 5.5 + 10 / 5


def test_an_unsteady_candle_has_no_upper_end(tmp_path):
    row = WorkedBatch(one_candle(tmp_path, [16, 26, 18], fill=200)).candles.iloc[0]
    assert row["life_low_h"] < row["life_projected_h"]
    assert np.isnan(row["life_high_h"])


def test_no_projection_from_two_burns_or_when_the_flame_would_starve(tmp_path):
    columns = ["life_projected_h", "life_low_h", "life_high_h"]
    assert WorkedBatch(one_candle(tmp_path / "a", [20, 21])).candles[columns].isna().all(axis=None)
    dying = one_candle(tmp_path / "b", [24, 16, 9], fill=200)
    assert WorkedBatch(dying).candles[columns].isna().all(axis=None)
    drowned = one_candle(tmp_path / "c", [20.0, 20.1, 20.0], fill=200, ended_by="self")
    assert WorkedBatch(drowned).candles[columns].isna().all(axis=None)


def test_projection_rests_on_the_last_wick(tmp_path):
    change = [{"candle": "A", "before_burn": 3, "wick_series": "flat braid", "wick_size": "3"}]
    batch = one_candle(tmp_path, [12, 12, 20, 20, 20], fill=200, wick_changes=change)
    row = WorkedBatch(batch).candles.iloc[0]
    assert row["life_projected_h"] == pytest.approx(20 + 116 / 5)


def cut_off(batch, share, but=()):
    """The batch when each candle had done this share of its burns; those in ``but`` did all."""
    done = np.where(batch.burns["candle"].isin(but), 1.0, share)
    last = np.floor(done * batch.burns.groupby("candle")["burn"].transform("max"))
    burns = batch.burns[batch.burns["burn"] <= last].reset_index(drop=True)
    kept = set(zip(burns["candle"], burns["burn"], strict=True))
    inside = [key in kept for key in zip(batch.checks["candle"], batch.checks["burn"], strict=True)]
    return dataclasses.replace(
        batch, burns=burns, checks=batch.checks[inside].reset_index(drop=True)
    )


def covered(whole, part):
    """Share of true lives in the interval, and the median error of the projection [h]."""
    true, table = (WorkedBatch(batch).candles.set_index("candle") for batch in (whole, part))
    assert true["ended"].all()
    assert table["life_projected_h"].notna().all()
    inside = (table["life_low_h"] <= true["life_h"]) & (
        true["life_h"] <= table["life_high_h"].fillna(np.inf)
    )
    return inside.mean(), (table["life_projected_h"] - true["life_h"]).median()


@pytest.mark.slow
@pytest.mark.parametrize(
    ("left_pct", "share", "error"),
    [(0.0, 0.5, 0.0), (3.0, 0.5, 1.1), (0.0, 0.7, 0.0), (3.0, 0.7, 1.1)],
)
def test_projection_covers_the_true_life_of_simulated_candles(tmp_path, left_pct, share, error):
    """400 candles of 5.6 g/h cut off at a share of their burns, each against its own true life.

    The interval is meant to be wide: up to 5 % of the wax may stay, and here no burn follows
    another's luck and no rate bends, which it allows for.
    """
    batch = batches.simulated(tmp_path, (("1", 5.6, left_pct),), seed=3, each=400)
    inside, off = covered(batch, cut_off(batch, share))
    assert inside > 0.95
    assert off == pytest.approx(error, abs=0.5)


@pytest.mark.slow
def test_candles_that_have_ended_say_how_much_wax_stays(tmp_path):
    """8 % out of reach is beyond what is allowed for; a tenth of the candles burned to the end."""
    batch = batches.simulated(tmp_path, (("1", 5.6, 8.0),), seed=3, each=200)
    ended = set(batch.candles["candle"][:20])
    part = cut_off(batch, 0.6, but=ended)
    true, table = (
        WorkedBatch(b).candles.set_index("candle").drop(index=ended) for b in (batch, part)
    )
    assert (table["life_projected_h"] - true["life_h"]).median() == pytest.approx(0.0, abs=0.5)
    inside = (table["life_low_h"] <= true["life_h"]) & (
        true["life_h"] <= table["life_high_h"].fillna(np.inf)
    )
    assert inside.mean() > 0.88

"""One value per candle: weighed by time, at one depth."""

import pandas as pd
import pytest

from candlelab.compare.values import values_of

RATE = "burn_rate_g_per_h"


def burned(candle, rates, hours, fill=100.0):
    """Burns of one candle, and its row as a fresh candle."""
    used = [r * h for r, h in zip(rates, hours, strict=True)]
    start = [sum(used[:n]) for n in range(len(used))]
    burns = pd.DataFrame({RATE: rates, "burn_time_h": hours}).assign(
        batch="b", candle=candle, run=1, excluded=False,
        depth_pct=[100.0 * (s + u / 2.0) / fill for s, u in zip(start, used, strict=True)],
    )  # fmt: skip
    total = sum(used)
    return burns, {"batch": "b", "candle": candle, RATE: total / sum(hours),
                   "fill_used_pct": 100.0 * total / fill, "wall_max_c": 50.0}  # fmt: skip


def made(*candles):
    burns, rows = zip(*candles, strict=True)
    return pd.DataFrame(rows), pd.concat(burns, ignore_index=True)


def test_a_burn_of_three_minutes_weighs_three_minutes():
    """By hand: 58.6 g in 20 h is 2.93 g/h; a burn of 0.05 h without a gram makes it 2.9227."""
    fresh, burns = made(burned("A", [2.93] * 5 + [0.0], [4.0] * 5 + [0.05], fill=60.0))
    value = values_of(fresh, burns, RATE, 90.0)["value"].iat[0]
    assert value == pytest.approx(58.6 / 20.05)


def test_a_candle_cut_short_is_moved_along_the_fall_of_the_others():
    """Rates fall from 6 to 4 g/h; one was stopped after its two fastest burns: it is like them."""
    falling = [6.0, 5.5, 5.0, 4.5, 4.0]
    whole = [burned(name, falling, [4.0] * 5) for name in "ABCDE"]
    fresh, burns = made(*whole, burned("F", falling[:2], [4.0] * 2))
    table = values_of(fresh, burns, RATE, 90.0).set_index("candle")
    assert table.loc["A", "value"] == pytest.approx(5.0)
    assert table.loc["F", "value"] == pytest.approx(5.0, abs=0.05)  # 5.75 as it was burned
    assert table["carried"].tolist() == [False] * 5 + [True]
    assert table["counts"].all()


def test_a_largest_reading_of_a_candle_cut_short_is_left_out():
    whole = [burned(name, [5.0] * 4, [4.75] * 4) for name in "AB"]
    fresh, burns = made(*whole, burned("C", [5.0], [4.0]))
    table = values_of(fresh, burns, "wall_max_c", 90.0)
    assert table["counts"].tolist() == [True, True, False]
    assert table["why"].iat[2].startswith("cut short at 20 % of the fill, before its last burns")
    none_whole = values_of(fresh.iloc[2:], burns[burns["candle"] == "C"], "wall_max_c", 90.0)
    assert none_whole["counts"].all()

"""What can be told apart, and what is leveled out."""

import numpy as np
import pandas as pd
import pytest

from candlelab.compare.blocks import control_words, design_of, tied_words, with_levels
from candlelab.compare.metrics import SHARED
from candlelab.compare.parts import compare_parts
from candlelab.stats.columns import CannotCompare

# Box, Hunter and Hunter 1978, Statistics for Experimenters, table 7.1 (from memory): five blends of
# corn steep liquor, four ways of making penicillin. Means 84, 85, 89, 86; residual sum of squares
# 226 with 12 degrees of freedom.
PENICILLIN = [
    [89, 88, 97, 94], [84, 77, 92, 79], [81, 87, 87, 85], [87, 92, 89, 84], [79, 81, 80, 88],
]  # fmt: skip


def candles(*rows):
    """A table of candles from ``wick batch`` words, a value for each."""
    words = [row.split() for row in rows]
    table = pd.DataFrame(words, columns=["wick", "batch"])
    values = np.random.default_rng(1).normal(5.0, 0.2, len(table))
    return table.assign(candle=range(len(table)), rate=values)


def test_a_block_design_from_a_textbook():
    blends = [
        (way, f"blend {n}", y)
        for n, row in enumerate(PENICILLIN)
        for way, y in zip("ABCD", row, strict=True)
    ]
    table = pd.DataFrame(blends, columns=["wick", "batch", "rate"]).assign(candle=range(20))
    design = design_of(table, "wick", SHARED)
    assert (design.whole, design.blocks) == (True, ("batch",))
    found = compare_parts(table, design, metric="rate")
    assert found.estimates["estimate"].tolist() == pytest.approx([84, 85, 89, 86])
    assert found.differences["df"].tolist() == pytest.approx([12] * 6)
    error = np.sqrt(2 * 226 / 12 / 5)
    assert found.differences["std_error"].tolist() == pytest.approx([error] * 6)


def test_each_wick_in_a_batch_of_its_own_is_no_comparison():
    table = candles(*["a one"] * 3, *["b two"] * 3)
    design = design_of(table, "wick", SHARED)
    assert design.parts == (("a",), ("b",))
    assert tied_words(design)[0].startswith(
        "No two of these 2 share a batch, so a difference may come from its days, lots or room and "
        "not from the wick. None is called more than luck."
    )
    found = compare_parts(table, design, metric="rate")
    assert found.differences.empty
    assert found.estimates["candidate"].tolist() == ["a", "b"]
    assert design_of(table, "wick", SHARED, alike=("batch",)).whole
    days = table.assign(poured_on=list("xxyyzz"))
    known = design_of(days, "wick", SHARED, alike=("batch",))
    assert (known.whole, known.blocks) == (True, ())
    assert not design_of(days, "wick", SHARED, alike=("poured_on",)).whole


def test_connected_parts_are_compared_and_the_rest_is_named():
    rows = [*["a one"] * 3, *["b one"] * 3, *["c two"] * 3, *["d two"] * 3, *["e three"] * 3]
    table = candles(*rows)
    design = design_of(table, "wick", SHARED)
    assert design.parts == (("a", "b"), ("c", "d"), ("e",))
    said = tied_words(design)[0]
    assert "Only those that share a batch are compared: a and b; c and d. Not compared: e." in said
    found = compare_parts(table, design, metric="rate")
    pairs = found.differences[["candidate", "reference"]].agg(" ".join, axis=1)
    assert pairs.tolist() == ["b a", "d c"]
    alone = compare_parts(
        table[table["batch"] == "one"], design_of(table[:6], "wick", SHARED), metric="rate"
    )
    twice = 2.0 * alone.differences["p_adjusted"].iat[0]
    assert found.differences["p_adjusted"].iat[0] == pytest.approx(min(twice, 1.0))


def test_a_wick_in_both_batches_holds_them_together():
    table = candles(*["a one"] * 3, *["b one"] * 3, *["b two"] * 3, *["c two"] * 3)
    table["rate"] += np.where(table["batch"] == "two", 100.0, 0.0)
    design = design_of(table, "wick", SHARED)
    assert design.whole
    assert control_words(table, "wick") == [
        "B was burned in every batch and levels them out (control candles).",
        "A wick may burn faster than another in one batch and not in the next: 2 batches show that "
        "poorly. Burn one more before you believe a small difference.",
    ]
    found = compare_parts(table, design, metric="rate").differences
    assert found["estimate"].abs().max() < 1.0


@pytest.mark.parametrize("name", ["wax_lot", "poured_on", "season", "room"])
def test_what_changes_inside_a_folder_is_seen(name):
    table = candles(*["a one"] * 3, *["b one"] * 3).assign(**{name: list("xxxyyy")})
    design = design_of(table, "wick", SHARED)
    assert design.tied == (name,)
    crossed = table.assign(**{name: list("xyxyxy")})
    assert design_of(crossed, "wick", SHARED).blocks == (name,)
    own = table.assign(**{name: list("uvwxyz")})  # each candle its own: luck between candles
    assert design_of(own, "wick", SHARED).whole


def test_days_of_burning_and_rooms_become_levels():
    """Candles that burned at the same time share a season; rooms 2 degC apart are two."""
    day = pd.to_datetime(["2026-01-01", "2026-01-05", "2026-07-01"])
    table = pd.DataFrame(
        {
            "lit_first": day,
            "out_last": day + pd.Timedelta(days=7),
            "room_mean_c": [20.0, 21.5, 26.0],
            "wax_lot": ["", "L1", "L1"],
            "poured_on": day,
        }
    )
    found = with_levels(table)
    assert found["season"].tolist() == [0, 0, 1]
    assert found["room"].tolist() == [0, 0, 1]
    assert found["wax_lot"].tolist() == ["L1", "L1", "L1"]


def test_three_seasons_are_levels_and_no_straight_line():
    """Summer adds 9 and winter nothing, before and after: b burns 2 faster in each."""
    seasons = np.array([0, 0, 1, 1, 1, 2, 0, 0, 0, 1, 2, 2])
    table = candles(*["a one"] * 6, *["b one"] * 6)
    summer, b = seasons == 1, (table["wick"] == "b").to_numpy()
    table["rate"] = 10.0 + 2.0 * b + 9.0 * summer + np.tile([0.01, -0.01], 6)
    lit = pd.Timestamp("2026-01-01") + pd.to_timedelta(180 * seasons, unit="D")
    days = {"lit_first": lit, "out_last": lit + pd.Timedelta(days=7), "poured_on": lit[0]}
    table = with_levels(table.assign(**days, room_mean_c=21.0, wax_lot=""))
    design = design_of(table, "wick", SHARED)
    assert design.blocks == ("season",)
    found = compare_parts(table, design, metric="rate").differences
    assert found["estimate"].abs().iat[0] == pytest.approx(2.0, abs=0.03)


def test_one_candle_of_each_in_blocks_is_refused_in_a_sentence():
    table = candles("a one", "b one", "b two", "c two")
    with pytest.raises(CannotCompare, match="cannot carry this comparison"):
        compare_parts(table, design_of(table, "wick", SHARED), metric="rate")

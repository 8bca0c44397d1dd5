"""How many fresh candles a pick takes, where that is more than a first look."""

from batches import read
from places import DEMO

from candlelab.confirm.confirmation import candles_to_confirm
from candlelab.report.results import batch_results


def test_the_report_says_the_number_that_a_confirmation_would_ask_for():
    found = batch_results(read(DEMO / "kitchen"))
    picks = [decision.pick for decision in found.decisions]
    needed = candles_to_confirm(found.batch, picks)
    assert needed[picks[0]] > 3
    assert needed[picks[1]] is None
    assert found.fresh_candles == (
        f"It takes {needed[picks[0]]} fresh candles to confirm “{picks[0]}”, because so few were "
        "tested or they vary so much.",
        f"Fresh candles of “{picks[1]}” can only show a large change, because so few were tested "
        "or they vary so much. The more you burn, the more they tell you.",
    )


def test_nothing_is_said_where_three_are_enough_or_it_is_a_confirmation():
    assert batch_results(read(DEMO / "screening")).fresh_candles == ()
    assert batch_results(read(DEMO / "confirmation")).fresh_candles == ()

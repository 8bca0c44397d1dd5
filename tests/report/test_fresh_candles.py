"""How many fresh candles a pick takes, where that is more than a first look."""

import pytest
from batches import read
from places import DEMO

from candlelab.confirm.confirmation import candles_to_confirm, confirm_pick
from candlelab.confirm.words import decisions
from candlelab.judge.predicted import Needed
from candlelab.report.results import BatchResults, batch_results


@pytest.mark.slow
def test_the_report_says_the_number_that_a_confirmation_would_ask_for():
    found = batch_results(read(DEMO / "kitchen"))
    picks = [decision.pick for decision in found.decisions]
    needed = candles_to_confirm(found.batch, picks)
    assert needed[picks[0]] > 3
    assert needed[picks[1]] is None
    n = needed[picks[0]]
    tumbler, tin = ([s for s in d.next_steps if s.startswith("Confirm")] for d in found.decisions)
    assert tumbler == [
        f"Confirm “{picks[0]}” on {n + 1} fresh candles: one in place of K16 (aftersmoke not "
        f"written down in burn 2), and {n} because fewer would miss a 20 % change in burn rate."
    ]
    assert tin[0].startswith(
        f"Confirm “{picks[1]}” on as many fresh candles as you can, at least three: its candles "
        "differ too much to show a 20 % change in burn rate. A new screening of 14 candles of it, "
        "and as many fresh ones, would."
    )
    held = decisions(confirm_pick(found.batch, read(DEMO / "confirmation")))
    (why,) = [line for one in held for line in one.reasons if "in a new screening" in line]
    assert "14 in a new screening and as many fresh ones after it would." in why
    steps = found.ranking.set_index("candidate")["next_step"]
    assert [steps[picks[0]]] == tumbler
    assert [steps[picks[1]]] == tin


class Seven(BatchResults):
    fresh_needed = {"square braid 2": Needed(7)}  # noqa: RUF012


@pytest.mark.slow
def test_without_a_gap_fewer_would_not_settle_it():
    found = Seven(read(DEMO / "screening"))
    assert (
        "Confirm square braid 2 on seven fresh candles: seven because fewer would miss a 20 % "
        "change in burn rate."
    ) in found.decisions[0].next_steps


def test_three_are_enough_or_it_is_a_confirmation():
    screening = batch_results(read(DEMO / "screening"))
    assert "Confirm square braid 2 on at least three fresh candles." in (
        screening.decisions[0].next_steps
    )
    assert batch_results(read(DEMO / "confirmation")).fresh_needed == {}

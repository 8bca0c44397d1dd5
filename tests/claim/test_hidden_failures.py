"""One candle failed once; then honest-looking edits. What confirm and claim say of each, word for
word in the first line. ``S`` are candles of the screening, ``C`` fresh ones.
"""

import pytest
import shapes
from batches import read
from shapes import Rounds

from candlelab.claim.claims import claim_label
from candlelab.claim.outcome import CONDITION, NOT_YET
from candlelab.confirm.confirmation import CannotConfirm, confirm_pick
from candlelab.confirm.words import decisions

CANDIDATE = "flat braid 2"
TALL = "its flame was too tall (80 mm, the EN 15493 limit is 75 mm)"
FALLS, NOTHING = (
    f"F{CANDIDATE[1:]} does not stand: ",
    f"No burn time can be printed for {CANDIDATE}: ",
)
BURN_ONE = (
    f"Burn 1 more candle of {CANDIDATE}: 2 fresh candles passed every safety check, and it takes 3 "
    "to notice a 20 % change in burn rate in 80 of 100 tests."
)
REFUSED = (
    "Every candle of the confirmation was in the screening: candles cannot confirm themselves. "
    "Give the folder of fresh candles."
)


def confirm_says(rounds: Rounds) -> tuple[str, str]:
    """The verdict in its first words, and the whole box; the refusal where there is none."""
    try:
        result = confirm_pick(read(rounds.first), read(rounds.second))
    except CannotConfirm as error:
        return str(error), str(error)
    (box,) = decisions(result)
    return box.headline, " ".join(box.lines)


def claim_says(rounds: Rounds):
    found = claim_label([read(folder) for folder in rounds.claimed], CANDIDATE)
    return found.decision.headline, " ".join(found.answer), found.outcome


def aside(what: str) -> str:
    return f" You set aside {what} (draught). That does not undo a safety failure."


AT = "burn 2, 3 h after lighting."
FAILED = {
    "candle_set_aside": (
        f"{TALL}: S1 in the screening, {AT}{aside('S1 in the screening')}",
        f"{TALL}: S1, {AT}{aside('S1')}",
    ),
    "burn_set_aside": (
        f"{TALL}: S1 in the screening, {AT}{aside('burn 2 of S1 in the screening')}",
        f"{TALL}: S1, {AT}{aside('burn 2 of S1')}",
    ),
    "burns_set_aside_one_by_one": (
        f"{TALL}: S1 in the screening, {AT}{aside('S1 in the screening')}",
        f"{TALL}: S1, {AT}{aside('S1')}",
    ),
    "fresh_candle_set_aside": (f"{TALL}: C1, {AT}{aside('C1')}", f"{TALL}: C1, {AT}{aside('C1')}"),
    "series_with_a_hyphen": (f"{TALL}: S1 in the screening, {AT}", f"{TALL}: S1, {AT}"),
    "size_written_02": (f"{TALL}: S1 in the screening, {AT}", f"{TALL}: S1, {AT}"),
    "wax_with_a_cyrillic_letter": (f"{TALL}: S1 in the screening, {AT}", f"{TALL}: S1, {AT}"),
    "load_moved_by_rounding": (f"{TALL}: S1 in the screening, {AT}", f"{TALL}: S1, {AT}"),
    "failed_in_a_part_used_candle": (
        f"{TALL}: D1 in the screening, {AT} D1 in the screening was part-used on this wick. A "
        "failure still counts.",
        f"{TALL}: D1, {AT} D1 was part-used on this wick. A failure still counts.",
    ),
    "other_wall_limits": (
        f"its wall got too hot (70 °C, your limit is 65 °C/149 °F): C1, {AT}",
        f"its wall got too hot (70 °C, your limit is 65 °C/149 °F): C1, {AT}",
    ),
    "went_out_early": (
        "it went out by itself with 60 % of its wax left: C1, burn 3, 4 h after lighting.",
        "it went out by itself with 60 % of its wax left: C1, burn 3, 4 h after lighting.",
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("shape", FAILED)
def test_what_failed_is_named_first_and_bars_both(tmp_path, shape):
    rounds = Rounds(tmp_path)
    getattr(shapes, shape)(rounds)
    said, _ = confirm_says(rounds)
    claimed, _, outcome = claim_says(rounds)
    assert said == FALLS + FAILED[shape][0]
    assert (claimed, outcome) == (NOTHING + FAILED[shape][1], NOT_YET)


@pytest.mark.slow
def test_a_part_used_candle_makes_no_mean_pass(tmp_path):
    rounds = Rounds(tmp_path)
    shapes.smoke_made_up_for_by_a_part_used_candle(rounds)
    said, _ = confirm_says(rounds)
    claimed, _, outcome = claim_says(rounds)
    why = "its wicks smoked too long after the flame was out ("
    assert said.startswith(FALLS + why)
    assert claimed.startswith(NOTHING + why)
    assert outcome == NOT_YET


@pytest.mark.slow
@pytest.mark.parametrize("shape", ["copied_without_a_pouring_day", "copied_a_day_later"])
def test_a_copy_confirms_nothing_and_its_mended_check_mends_nothing(tmp_path, shape):
    rounds = Rounds(tmp_path)
    getattr(shapes, shape)(rounds)
    claimed, _, outcome = claim_says(rounds)
    assert confirm_says(rounds)[0] == REFUSED
    assert (claimed, outcome) == (f"{NOTHING}{TALL}: S1, {AT}", NOT_YET)


GAPS = {
    "burn_taken_out_and_renumbered": "20.20 g of wax went before burn 2, as much as in a burn that "
    "is not in the log",
    "check_dropped": "no check from minute 120 to 240 of burn 2",
    "column_left_blank": "flame height not written down in burn 1 at minute 60 and at",
    "stopped_before_it_failed": "stopped in burn 2 with 74 % of its wax left",
}


@pytest.mark.slow
@pytest.mark.parametrize("shape", GAPS)
def test_what_was_not_seen_is_a_gap_that_is_named(tmp_path, shape):
    rounds = Rounds(tmp_path)
    getattr(shapes, shape)(rounds)
    said, whole = confirm_says(rounds)
    claimed, text, outcome = claim_says(rounds)
    assert said == BURN_ONE
    assert f"C1 is not fully checked: {GAPS[shape]}" in whole
    assert outcome == CONDITION
    assert claimed.startswith(
        f"Print nothing yet for flat braid 2. {BURN_ONE} By these candles alone: "
    )
    assert f"C1 is not fully checked: {GAPS[shape]}" in text


@pytest.mark.slow
@pytest.mark.parametrize("shape", GAPS)
def test_a_gap_that_fresh_candles_stand_in_for_is_named_all_the_same(tmp_path, shape):
    rounds = Rounds(tmp_path, fresh=(29.5, 29.8, 30.15, 29.9))
    getattr(shapes, shape)(rounds)
    said, whole = confirm_says(rounds)
    claimed, _, outcome = claim_says(rounds)
    assert said == "Flat braid 2 stands: its fresh candles burned as the screening said."
    assert f"C1 is not fully checked: {GAPS[shape]}" in whole
    assert outcome == CONDITION
    assert f"C1 is not fully checked: {GAPS[shape]}" in claimed


@pytest.mark.slow
def test_any_folder_called_a_screening_is_not_the_screening_of_it(tmp_path):
    rounds = Rounds(tmp_path)
    shapes.another_folder_called_a_screening(rounds)
    said, _ = confirm_says(rounds)
    claimed, _, outcome = claim_says(rounds)
    assert said.startswith("Burn 3 more candles of flat braid 3: no candle of it was burned in the")
    assert outcome == CONDITION
    assert claimed.startswith("Print nothing yet for ")
    assert " No screening of it is among the folders, and what failed there is not" in claimed


@pytest.mark.slow
def test_a_name_that_is_a_letter_off_is_asked_about(tmp_path):
    rounds = Rounds(tmp_path)
    shapes.a_letter_off(rounds)
    said, whole = confirm_says(rounds)
    _, text, outcome = claim_says(rounds)
    asked = "flat brayd 2 was ruled out, and the name is a letter off: if they are one wick"
    assert said.startswith(f"Fresh candles alone cannot settle flat braid 2: {asked}")
    assert "Next: Write flat braid 2 and flat brayd 2 alike in the logs, if they are one" in whole
    assert outcome == NOT_YET
    assert asked in text


@pytest.mark.slow
def test_nothing_wrong_is_nothing_said(tmp_path):
    """The same rounds without an edit: no verdict is lost."""
    rounds = Rounds(tmp_path)
    assert (
        confirm_says(rounds)[0]
        == "Flat braid 2 stands: its fresh candles burned as the screening said."
    )
    claimed, _, outcome = claim_says(rounds)
    assert outcome == "supported"
    assert claimed == "Print at most 27 h for flat braid 2. Nine test candles support it."

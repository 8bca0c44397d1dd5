"""Weights that were not taken, lids, wax taken out, burns that nobody logged: said, not guessed."""

import numpy as np
import pytest
from judged import Log, because, fates

from candlelab.confirm.confirmation import CannotConfirm, confirm_pick
from candlelab.judge.fates import SAFE, UNCHECKED
from candlelab.logs.problems import LOOK, MUST_FIX, PROTOCOL, BurnLogError

NOT_TAKEN = "not taken"


def log():
    """A weighs 400, 380.6, 361.2, 341.8, 322.4 and 303 g: five burns of 4 h."""
    return Log(A="flat braid 2", B="flat braid 3")


def of_a(made, *columns):
    rows = made.burns[made.burns["candle"] == "A"]
    return [rows[name].round(6).tolist() for name in columns]


def problems(made):
    found = made.batch.problems
    return list(found[["level", "problem", "line"]].itertuples(index=False, name=None))


@pytest.mark.slow
@pytest.mark.parametrize(
    "cells",
    [
        {"mass_after_g": NOT_TAKEN},
        {"mass_after_g": "NOT WEIGHED"},
        {"mass_after_g": "", "note": "in a hurry: not weighed"},
    ],
)
def test_one_weight_that_was_not_taken_is_that_of_the_next_lighting(cells):
    made = log().burn("A", 2, **cells).burn("A", 3, mass_before_g=361.2).worked()
    assert of_a(made, "wax_used_g", "wax_shared") == [[19.4] * 5, [False] * 5]
    assert problems(made) == [(PROTOCOL, "weight not taken", 3)]
    assert set(fates(made).values()) == {SAFE}


def test_burns_around_a_weight_share_their_wax_by_their_hours():
    made = log().burn("A", 2, mass_after_g=NOT_TAKEN, out_at="2026-06-02 12:00")
    made.missed("A", 2, 240).burn("A", 3, mass_before_g=NOT_TAKEN)
    made = made.worked()
    used, rate, shared = of_a(made, "wax_used_g", "burn_rate_g_per_h", "wax_shared")
    # by hand: 380.6 - 341.8 = 38.8 g in 3 + 4 h
    assert used == pytest.approx([19.4, 38.8 * 3 / 7, 38.8 * 4 / 7, 19.4, 19.4], abs=1e-6)
    assert rate == pytest.approx([4.85, 38.8 / 7, 38.8 / 7, 4.85, 4.85], abs=1e-6)
    assert shared == [False, True, True, False, False]
    raw = made.burns.loc[made.burns["candle"] == "A", "mass_after_g"]
    assert np.isnan(raw.iloc[1])
    assert raw.notna().sum() == 4
    candle = made.candles.set_index("candle").loc["A"]
    assert candle["burn_rate_g_per_h"] == pytest.approx(97 / 19)
    assert candle["life_h"] == 19
    assert set(fates(made).values()) == {SAFE}


def test_the_uncertainty_of_a_shared_rate_is_that_of_both_burns_together():
    made = log().burn("A", 2, mass_after_g=NOT_TAKEN).burn("A", 3, mass_before_g=NOT_TAKEN).worked()
    u = made.burns.loc[made.burns["candle"] == "A", "burn_rate_u_g_per_h"].tolist()
    # JCGM 100: sqrt(2) u_m / t where the weights dominate, so half of it in twice the time
    assert u[1] == u[2] == pytest.approx(u[0] / 2, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("burn", "column"), [(5, "mass_after_g"), (1, "mass_before_g"), (None, "mass_before_g")]
)
def test_what_no_weight_around_can_tell_stays_unknown(burn, column):
    made = log()
    for n in (burn,) if burn else range(1, 6):
        cells = (
            {column: NOT_TAKEN}
            if burn
            else dict.fromkeys(("mass_before_g", "mass_after_g"), NOT_TAKEN)
        )
        made.burn("A", n, **cells)
    made = made.worked()
    candle = made.candles.set_index("candle").loc["A"]
    assert np.isnan(candle["wax_left_pct"])
    assert np.isnan(candle["wax_used_g"])
    assert candle["hours_h"] == 20
    rate = candle["burn_rate_g_per_h"]
    assert rate == pytest.approx(4.85) if burn else np.isnan(rate)
    assert fates(made)["flat braid 2"] == UNCHECKED
    assert "with an unknown share of its wax left" in because(made, "flat braid 2")


def test_an_empty_cell_without_a_word_must_be_fixed():
    with pytest.raises(BurnLogError, match="If nobody weighed it, write: not taken") as raised:
        log().burn("A", 2, mass_after_g="").burn("A", 3, mass_before_g=361.2).worked()
    assert len(raised.value.problems) == 1


def test_a_candle_without_some_weights_is_known_again_in_a_copy(tmp_path):
    made = log().burn("A", 2, mass_after_g=NOT_TAKEN).burn("A", 3, mass_before_g=NOT_TAKEN)
    with pytest.raises(CannotConfirm, match="cannot confirm themselves"):
        confirm_pick(made.worked(tmp_path / "one").batch, made.worked(tmp_path / "two").batch)


def test_a_lid_is_no_wax():
    made = log().burn("A", 3, mass_before_g=401.2, mass_after_g=381.8, note="weighed with its lid")
    made = made.burn("A", 4, mass_before_g=341.8).worked()
    used, left = of_a(made, "wax_used_g", "fill_used_pct")
    assert used == [19.4] * 5
    assert left == pytest.approx([19.4, 38.8, 58.2, 77.6, 97])
    assert not problems(made)
    silent = log().burn("A", 3, mass_before_g=401.2, mass_after_g=381.8)
    silent = silent.burn("A", 4, mass_before_g=341.8).worked()
    assert problems(silent) == [
        (LOOK, "weight gained between burns", 4), (LOOK, "weight lost between burns", 5),
    ]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(
    "note", ["12 g of wax taken out", "scooped some out", "Leveled with a gun"]
)
def test_wax_that_was_taken_out_is_no_burn_that_is_missing(note):
    made = (
        log().burn("A", 3, mass_before_g=349.2, used=17, note=note).burn("A", 5, used=13).worked()
    )
    assert not problems(made)
    assert fates(made)["flat braid 2"] == SAFE
    candle = made.candles.set_index("candle").loc["A"]
    assert candle["between_burns_g"] == -12
    silent = log().burn("A", 3, mass_before_g=349.2, used=17).burn("A", 5, used=13).worked()
    assert problems(silent) == [(LOOK, "weight lost between burns", 4)]
    assert fates(silent)["flat braid 2"] == UNCHECKED


@pytest.mark.slow
def test_a_burn_that_nobody_logged_is_a_gap_whose_wax_is_in_the_balance():
    made = log().burn("A", 3, mass_before_g=356, note="an evening was not logged")
    made = made.burn("A", 5, used=14.2).worked()
    assert not problems(made)
    assert fates(made)["flat braid 2"] == UNCHECKED
    assert "5.2 g of wax went before burn 3" in because(made, "flat braid 2")
    assert made.candles.set_index("candle").at["A", "wax_left_pct"] == pytest.approx(3)


def test_a_wick_that_was_put_out_trimmed_and_relit_is_two_burns():
    made = log()
    made.burn("A", 2, out_at="2026-06-02 10:30", mass_after_g=NOT_TAKEN, note="trimmed, relit")
    made.missed("A", 2, 120, 180, 240)
    for table in (made.burns, made.checks):
        for row in table:
            row["burn"] += row["candle"] == "A" and row["burn"] > 2
    more = {"lit_at": "2026-06-02 10:40", "out_at": "2026-06-02 13:10", "mass_before_g": NOT_TAKEN}
    made.burns.append(made.burns[0] | {"burn": 3, "used": 19.4, "mass_after_g": 361.2} | more)
    made.burns.sort(key=lambda row: (row["candle"], row["burn"]))
    made.checks += [made.checks[0] | {"burn": 3, "elapsed_min": m} for m in (50, 110)]
    made = made.worked()
    used, shared = of_a(made, "wax_used_g", "wax_shared")
    assert used == pytest.approx([19.4, 19.4 * 1.5 / 4, 19.4 * 2.5 / 4, 19.4, 19.4, 19.4])
    assert shared == [False, True, True, False, False, False]
    assert set(fates(made).values()) == {SAFE}


@pytest.mark.parametrize(("last", "left"), [(22.5, 0), (26, None)])
def test_no_wax_left_is_less_than_none(last, left):
    made = (
        log().burn("A", 3, note="topped up", mass_before_g=361.2).burn("A", 5, used=last).worked()
    )
    candle = made.candles.set_index("candle").loc["A"]
    assert candle["ended"]
    assert candle["wax_left_pct"] == left if left is not None else np.isnan(candle["wax_left_pct"])


@pytest.mark.parametrize(
    ("burn", "cells", "line"),
    [
        (2, {"mass_before_g": 418, "mass_after_g": 361.2}, 3),  # a slip of 380.6
        (1, {"mass_after_g": 330.6}, 2),  # a slip of 380.6
        (5, {"used": 40}, 6),
    ],
)
def test_the_first_weight_that_went_wrong_is_named(burn, cells, line):
    made = log().burn("A", burn, **cells)
    for n in range(burn + 1, 6):
        made.burn("A", n, mass_before_g=400 - 19.4 * (n - 1), mass_after_g=400 - 19.4 * n)
    with pytest.raises(BurnLogError) as raised:
        made.worked()
    found = raised.value.problems
    assert found.loc[found["level"] == MUST_FIX, "line"].tolist() == [line]

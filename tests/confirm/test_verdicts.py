"""What each edge is told: a failure anywhere ends it, and nothing passes by a gap."""

import pandas as pd
import pytest
from confirmed import CONFIRMATION, FRESH, OTHERS, SCREENED, judged, made, verdict

from candlelab.burns.repeats import SAME_CANDLE
from candlelab.confirm.confirmation import CannotConfirm
from candlelab.confirm.rounds import pass_counts
from candlelab.confirm.verdict import BURN_MORE, FALLS, STANDS
from candlelab.confirm.words import decisions, trust

TALL = {"flame_height_mm": [30, 30, 80, 30]}
TOO_TALL = "Its flame was too tall (80 mm, the EN 15493 limit is 75 mm)"


def aside(folder, *rows):
    """The folder, with candles or burns of it set aside."""
    text = "candle,burn,reason\n" + "".join(f"{row}\n" for row in rows)
    (folder / "exclusions.csv").write_text(text, encoding="utf-8")
    return folder


def screened(folder, **more):
    """A screening of two wicks."""
    return made(folder, SCREENED, more=[(OTHERS, "flat braid 1")], **more)


def fresh(folder, used=FRESH, **more):
    """A confirmation of the first of them."""
    return made(folder, used, **{"toml": CONFIRMATION, "month": 8} | more)


@pytest.mark.slow
def test_stands(pair):
    result = judged(*pair)
    row = verdict(result)
    assert row["verdict"] == STANDS
    assert tuple(row[["n_fresh", "n_passed", "n_needed", "n_more"]]) == (3, 3, 3, 0)
    assert row["because"].startswith(
        "All three fresh candles passed every safety check; 3 candles were needed. Burn rate, wall "
        "temperature (warm room), time to full pool and wax left fell where the screening "
        "predicted. That holds for this pour: a new lot of wax or wicks, or another season, may "
        "burn differently. A 10 % change in burn rate would mostly go unnoticed, "
    )
    (box,) = decisions(result)
    assert (box.vessel, box.pick, box.headline) == (
        "jar",
        "flat braid 2",
        "Flat braid 2 stands: its fresh candles burned as the screening said.",
    )
    assert box.next_steps[0].startswith("Keep flat braid 2 as it was tested, and ")
    assert result.passes["round"].tolist() == ["screening", "confirmation", "both together"]
    assert result.passes["n_passed"].tolist() == [3, 3, 6]
    assert result.not_carried["candidate"].tolist() == ["flat braid 1"]


@pytest.mark.slow
def test_a_candle_outside_its_range_does_not_stand(pair, tmp_path):
    result = judged(pair[0], fresh(tmp_path / "third", FRESH | {"C3": 16.3}))
    row = verdict(result)
    assert (row["verdict"], row["n_more"]) == (FALLS, 0)
    assert row["because"].startswith("Burn rate of C3 is below the range predicted, 4.")
    assert "Wax left of C3 is above the range" in row["because"]
    (box,) = decisions(result)
    assert box.headline.startswith("Flat braid 2 does not stand: burn rate of C3 is below")
    assert "more candle" not in " ".join(box.lines)


# ---------------------------------------------------------------- failures anywhere


@pytest.mark.slow
def test_a_failure_does_not_stand_whatever_was_measured(pair, tmp_path):
    result = judged(pair[0], fresh(tmp_path / "third", seen={"C2": TALL}))
    row = verdict(result)
    assert (row["verdict"], row["n_more"]) == (FALLS, 0)
    assert row["because"] == f"{TOO_TALL}: C2, burn 1, 3 h after lighting."
    (box,) = decisions(result)
    assert box.incidents[0].startswith(f"Stop burning C2 (flat braid 2). {TOO_TALL} in burn 1, 3 h")
    assert box.headline == f"Flat braid 2 does not stand: i{row['because'][1:]}"
    assert box.next_steps == (
        "Stop testing flat braid 2 in the jar until you know what went wrong.",
    )


@pytest.mark.slow
def test_out_in_the_screening_stays_out(pair, tmp_path):
    row = verdict(judged(screened(tmp_path / "third", seen={"S2": TALL}), pair[1]))
    assert row["verdict"] == FALLS
    assert row["because"] == f"{TOO_TALL}: S2 in the screening, burn 1, 3 h after lighting."


@pytest.mark.slow
@pytest.mark.parametrize("rows", [["S2,,draught"], [f"S2,{n},draught" for n in range(1, 6)]])
def test_setting_aside_in_the_screening_hides_nothing(pair, tmp_path, rows):
    first = aside(screened(tmp_path / "third", seen={"S2": TALL}), *rows)
    row = verdict(judged(first, pair[1]))
    assert row["verdict"] == FALLS
    assert row["because"] == (
        f"{TOO_TALL}: S2 in the screening, burn 1, 3 h after lighting. You set aside S2 in the "
        "screening (draught). That does not undo a safety failure."
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("row", "what"), [("C2,,spilled", "C2 (spilled)"), ("C2,1,draught", "burn 1 of C2 (draught)")]
)
def test_setting_aside_in_the_confirmation_hides_nothing(pair, tmp_path, row, what):
    second = aside(fresh(tmp_path / "third", FRESH | {"C4": 19.33}, seen={"C2": TALL}), row)
    found = verdict(judged(pair[0], second))
    assert found["verdict"] == FALLS
    assert f"You set aside {what}. That does not undo a safety failure." in found["because"]


@pytest.mark.slow
def test_passes_do_not_outweigh_a_failure_however_many(pair, tmp_path):
    first = aside(screened(tmp_path / "third", seen={"S2": TALL}), "S2,1,draught")
    many = {f"C{n}": 19.23 + 0.01 * n for n in range(12)}
    row = verdict(judged(first, fresh(tmp_path / "fourth", many)))
    assert (row["verdict"], row["n_passed"], row["n_more"]) == (FALLS, 12, 0)


@pytest.mark.slow
def test_a_part_used_candle_that_fails_counts(pair, tmp_path):
    """S9 was poured with another wick, and got the one that is confirmed for its last burns."""
    first = made(
        tmp_path / "third",
        SCREENED,
        more=[(OTHERS, "flat braid 1"), ({"S9": 18.4}, "flat braid 1")],
        seen={"S9": TALL},
    )
    (first / "wick_changes.csv").write_text(
        "candle,before_burn,wick_series,wick_size\nS9,4,flat braid,2\n", encoding="utf-8"
    )
    row = verdict(judged(first, pair[1]))
    assert row["verdict"] == FALLS
    assert "S9 in the screening was part-used on this wick. A failure" in row["because"]


@pytest.mark.slow
def test_a_candle_that_went_out_early_is_a_failure_to_burn(pair, tmp_path):
    result = judged(pair[0], fresh(tmp_path / "third", burns=3))
    row = verdict(result)
    assert (row["verdict"], row["n_more"]) == (FALLS, 0)
    assert row["because"].startswith("It went out by itself with 42 % of its wax left: C1, burn 3")
    assert (result.ranges["n_measured"] == 0).all()
    assert result.not_counted["because"].str.startswith("not burned to its end").sum() == 3


@pytest.mark.slow
def test_nothing_advises_to_set_a_result_aside(pair, tmp_path):
    rounds = [
        fresh(tmp_path / "a", seen={"C2": TALL}),
        fresh(tmp_path / "b", seen={"C2": {"flame_height_mm": [30, "", 30, 30]}}),
        fresh(tmp_path / "c", {"C1": 19.3}),
        fresh(tmp_path / "d", FRESH | {"C3": 16.3}),
    ]
    for second in rounds:
        result = judged(pair[0], second)
        text = " ".join([*(line for box in decisions(result) for line in box.lines)]).lower()
        assert not any(word in text for word in ("leave out", "leave these", "set aside", "exclu"))


# ---------------------------------------------------------------- gaps


@pytest.mark.slow
def test_a_gap_is_never_a_pass(pair, tmp_path):
    second = fresh(tmp_path / "third", seen={"C2": {"flame_height_mm": [30, "", 30, 30]}})
    result = judged(pair[0], second)
    row = verdict(result)
    assert row["verdict"] == BURN_MORE
    assert tuple(row[["n_fresh", "n_passed", "n_needed", "n_more"]]) == (3, 2, 3, 1)
    (box,) = decisions(result)
    assert box.headline.startswith("Burn 1 more candle of flat braid 2: 2 fresh candles passed")
    assert box.reasons == (
        "C2 is not fully checked: flame height not written down in burn 1 at minute 120 and at 4 "
        "more checks.",
    )
    assert box.next_steps == ("Burn 1 fresh candle of flat braid 2 to the end, with every check.",)


@pytest.mark.slow
def test_a_fresh_candle_settles_a_gap_and_the_gap_is_named(pair, tmp_path):
    second = fresh(
        tmp_path / "third",
        FRESH | {"C4": 19.33},
        seen={"C2": {"flame_height_mm": [30, "", 30, 30]}},
    )
    row = verdict(judged(pair[0], second))
    assert (row["verdict"], row["n_passed"]) == (STANDS, 3)
    assert row["because"].startswith("Three of four fresh candles passed every safety check;")
    assert "C2 is not fully checked: flame height not written down" in row["because"]


@pytest.mark.slow
def test_a_gap_in_the_screening_is_named_and_takes_nothing_from_the_fresh_candles(pair, tmp_path):
    first = screened(tmp_path / "third", seen={"S2": {"tipped": ""}})
    row = verdict(judged(first, pair[1]))
    assert row["verdict"] == STANDS
    assert "S2 in the screening is not fully checked: tipped not written down" in row["because"]


@pytest.mark.slow
def test_a_check_that_was_not_made_is_a_gap(pair, tmp_path):
    second = fresh(tmp_path / "third", FRESH | {"C4": 19.33})
    looked = pd.read_csv(second / "checks.csv")
    looked = looked[~((looked["candle"] == "C2") & (looked["burn"] == 3))]
    looked.to_csv(second / "checks.csv", index=False)
    row = verdict(judged(pair[0], second))
    assert (row["verdict"], row["n_passed"]) == (STANDS, 3)
    assert "C2 is not fully checked: no check in burn 3 (4 h)." in row["because"]


@pytest.mark.slow
def test_a_short_last_burn_costs_nothing(pair, tmp_path):
    """A burn that ends before its first check is due owes none."""
    second = fresh(tmp_path / "third")
    burns = pd.read_csv(second / "burns.csv")
    last = burns[(burns["candle"] == "C1") & (burns["burn"] == 5)].iloc[0]
    burns.loc[last.name, "ended_by"] = "timer"
    more = last.to_dict() | {
        "burn": 6,
        "lit_at": "2026-08-06 09:00",
        "out_at": "2026-08-06 09:11",
        "mass_before_g": last["mass_after_g"],
        "mass_after_g": last["mass_after_g"] - 0.9,
    }
    pd.concat([burns, pd.DataFrame([more])]).to_csv(second / "burns.csv", index=False)
    row = verdict(judged(pair[0], second))
    assert (row["n_fresh"], row["n_passed"], row["n_more"]) == (3, 3, 0)


@pytest.mark.slow
def test_one_fresh_candle_is_not_enough(pair, tmp_path):
    result = judged(pair[0], fresh(tmp_path / "third", {"C1": 19.3}))
    row = verdict(result)
    assert row["verdict"] == BURN_MORE
    assert tuple(row[["n_fresh", "n_passed", "n_needed", "n_more"]]) == (1, 1, 3, 2)
    assert decisions(result)[0].headline == (
        "Burn 2 more candles of flat braid 2: 1 fresh candle passed every safety check, and it "
        "takes 3 to notice a 20 % change in burn rate in 80 of 100 tests."
    )


@pytest.mark.slow
def test_no_candidate_in_common(pair, tmp_path):
    result = judged(pair[0], fresh(tmp_path / "third", wick="square braid 1"))
    assert verdict(result)["because"].startswith("No candle of it was burned in the confirmation")
    assert (verdict(result)["verdict"], verdict(result)["n_more"]) == (BURN_MORE, 3)
    assert decisions(result)[0].headline == (
        "Burn 3 more candles of flat braid 2: no candle of it was burned in the confirmation."
    )
    assert result.new_evidence.iloc[0][["candidate", "near", "n_passed"]].tolist() == [
        "square braid 1",
        "flat braid 2",
        3,
    ]


@pytest.mark.slow
def test_only_one_candidate_of_three_candles_cannot_be_settled(tmp_path):
    first = made(tmp_path / "first", {"S1": 17.6, "S2": 19.37, "S3": 19.5})
    result = judged(first, fresh(tmp_path / "second"))
    row = verdict(result)
    assert row["verdict"] == BURN_MORE
    assert pd.isna(row["n_more"])
    assert pd.isna(row["n_needed"])
    assert row["because"].startswith("3 candles of it in the screening say too little. ")
    assert row["because"].endswith(" in a new screening and as many fresh ones after it would.")
    assert decisions(result)[0].headline == (
        "Fresh candles alone cannot settle flat braid 2: 3 candles of it in the screening say too "
        "little. 8 in a new screening and as many fresh ones after it would."
    )


@pytest.mark.slow
def test_pours_that_differ_more_than_what_is_looked_for_cannot_be_settled(pair):
    row = verdict(judged(*pair, batch_sd_pct=12.0))
    assert row["verdict"] == BURN_MORE
    assert row["because"] == (
        "Neither more fresh candles nor a larger screening would show a 20 % change in burn rate: "
        "candles or pours differ too much."
    )


@pytest.mark.slow
def test_one_candle_of_one_candidate_predicts_nothing(tmp_path):
    first = made(tmp_path / "first", {"S1": 19.37})
    result = judged(first, fresh(tmp_path / "second"))
    assert verdict(result)["because"] == (
        "Its burn rate cannot be predicted: no candidate of the screening has two whole candles "
        "with it, so nothing says how far candles differ."
    )
    assert result.ranges["range_low"].isna().all()
    assert (result.candles["fell"] == "no range").all()


@pytest.mark.slow
def test_candles_without_any_spread_predict_nothing(tmp_path):
    first = made(tmp_path / "first", dict.fromkeys(SCREENED, 19.37))
    row = verdict(judged(first, fresh(tmp_path / "second")))
    assert row["because"] == (
        "Its burn rate cannot be predicted: all candles of the screening are alike in it, and "
        "without any variation there is no range."
    )


@pytest.mark.slow
def test_one_screened_candle_takes_the_spread_of_the_others_and_says_so(tmp_path, pair):
    first = made(tmp_path / "third", {"S1": 19.37}, more=[(OTHERS, "flat braid 1")])
    result = judged(first, pair[1])
    assert result.ranges["n_screened"].tolist() == [1, 1, 1, 1]
    assert any(
        line.startswith("One candle only of flat braid 2 was screened to its end")
        for line in trust(result)
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("column", "metric"), [("pool_diameter_mm", "full_pool_h"), ("wall_c", "wall_max_warm_room_c")]
)
def test_what_the_screening_has_not_is_not_held(pair, tmp_path, column, metric):
    first = screened(tmp_path / "third", drop=(column,))
    result = judged(first, pair[1])
    held = result.ranges.set_index("metric")
    assert (
        held.at[metric if metric in held.index else "wall_max_c", "held"]
        == "not measured in the screening"
    )
    assert verdict(result)["verdict"] == STANDS
    assert any(
        "is not held against anything: not measured in the screening" in line
        for line in trust(result)
    )


@pytest.mark.slow
def test_what_the_confirmation_has_not_keeps_it_from_standing(pair, tmp_path):
    row = verdict(judged(pair[0], fresh(tmp_path / "third", drop=("pool_diameter_mm",))))
    assert (row["verdict"], row["because"], row["n_more"]) == (
        BURN_MORE,
        "Time to full pool was measured on 0 of 3 fresh candles.",
        3,
    )


# ---------------------------------------------------------------- what counts as fresh


@pytest.mark.slow
def test_candles_set_aside_do_not_count_and_are_named(pair):
    result = judged(pair[0], aside(pair[1], "C1,,spilled", "C2,,spilled"))
    assert (verdict(result)["n_fresh"], verdict(result)["verdict"]) == (1, BURN_MORE)
    assert result.not_counted[["candle", "because"]].to_numpy().tolist() == [
        ["C1", "set aside: spilled"],
        ["C2", "set aside: spilled"],
    ]


@pytest.mark.slow
def test_all_candles_set_aside(pair):
    row = verdict(judged(pair[0], aside(pair[1], *(f"{c},,spilled" for c in FRESH))))
    assert row["verdict"] == BURN_MORE
    assert row["because"].startswith("None of its candles in the confirmation counts as fresh.")


@pytest.mark.slow
def test_a_new_wick_in_a_screened_candle_is_no_fresh_evidence(pair):
    (pair[1] / "wick_changes.csv").write_text(
        "candle,before_burn,wick_series,wick_size\nC1,3,flat braid,2\n", encoding="utf-8"
    )
    result = judged(*pair)
    counts = pass_counts(result.confirmation, "flat braid 2")
    assert counts == {"n_candles": 3, "n_passed": 2, "n_failed": 0, "n_open": 1}
    assert verdict(result)["verdict"] == BURN_MORE
    assert result.not_counted.iloc[0]["because"].startswith("wick changed")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["S1", "X7"])
def test_a_candle_of_the_screening_again_is_not_fresh_whatever_it_is_called(pair, tmp_path, name):
    """Known by what was logged: lit and weighed as S1 was; the rest of its batch is not."""
    second = fresh(tmp_path / "third", {name: SCREENED["S1"]} | FRESH, month=6)
    result = judged(pair[0], second)
    assert verdict(result)["n_fresh"] == 3
    assert result.not_counted["because"].tolist() == [f"set aside: {SAME_CANDLE} S1 in “first”"]


@pytest.mark.parametrize("poured_on", ["", "2026-05-02", "2026-05-01"])
def test_a_copy_of_the_screening_confirms_nothing(pair, tmp_path, poured_on):
    """The same log with another pouring day, or none, and new names."""
    copy = made(tmp_path / "copy", SCREENED, toml=CONFIRMATION, month=6, poured_on=poured_on)
    for table in ("candles", "burns", "checks"):
        text = (copy / f"{table}.csv").read_text(encoding="utf-8")
        (copy / f"{table}.csv").write_text(text.replace("S", "C"), encoding="utf-8")
    with pytest.raises(CannotConfirm, match="Every candle of the confirmation was in the scr"):
        judged(pair[0], copy)


def test_a_copy_with_other_dates_confirms_nothing(pair, tmp_path):
    """Two months later to the minute, weighed and read as the screening was."""
    copy = made(tmp_path / "copy", SCREENED, toml=CONFIRMATION, month=8)
    with pytest.raises(CannotConfirm, match="candles cannot confirm themselves"):
        judged(pair[0], copy)


@pytest.mark.slow
def test_a_candle_of_its_own_that_was_lit_in_the_same_minutes_is_fresh(pair, tmp_path):
    """Two boxes burned side by side: the clock alone tells nothing."""
    second = fresh(tmp_path / "third", month=6)
    assert verdict(judged(pair[0], second))["n_fresh"] == 3

"""What each edge is told, and that nothing passes by a gap."""

import pandas as pd
import pytest
from confirmed import CONFIRMATION, FRESH, OTHERS, SCREENED, judged, made, verdict

from candlelab.confirm.rounds import ALSO_THERE, pass_counts
from candlelab.confirm.verdict import FALLS, STANDS, TOO_FEW
from candlelab.confirm.words import answer, trust


def test_stands(pair):
    result = judged(*pair)
    assert tuple(verdict(result)) == (
        STANDS,
        (
            "all 3 fresh candles met every deciding criterion, and burn rate, wall temperature (30 "
            "°C room), time to full pool and wax left fell where the screening predicted; 3 "
            "candles were needed"
        ),
        3,
        3,
        3,
        0,
    )
    assert result.passes["round"].tolist() == ["screening", "confirmation", "both together"]
    assert result.passes["n_passed"].tolist() == [3, 3, 6]
    assert result.not_carried["candidate"].tolist() == ["flat braid 1"]


def test_a_candle_outside_its_range_does_not_stand(pair, tmp_path):
    second = made(tmp_path / "third", FRESH | {"C3": 16.5}, toml=CONFIRMATION, month=8)
    row = verdict(judged(pair[0], second))
    assert row["verdict"] == FALLS
    assert row["n_more"] == 0
    assert row["because"].startswith("burn rate of C3 is below the range predicted, 4.")
    assert "wax left of C3 is above the range" in row["because"]


def test_a_criterion_not_met_does_not_stand_whatever_was_measured(pair, tmp_path):
    second = made(
        tmp_path / "third",
        FRESH,
        toml=CONFIRMATION,
        month=8,
        seen={"C2": {"flame_height_mm": [30, 30, 80, 30]}},
    )
    row = verdict(judged(pair[0], second))
    assert (row["verdict"], row["because"]) == (FALLS, "flame height was not met by C2")


def test_out_in_the_screening_stays_out(pair, tmp_path):
    first = made(
        tmp_path / "third",
        SCREENED,
        more=[(OTHERS, "flat braid 1")],
        seen={"S2": {"flame_height_mm": [30, 30, 80, 30]}},
    )
    row = verdict(judged(first, pair[1]))
    assert (
        row["because"]
        == "in the screening flame height was not met by S2, and passes afterwards do not undo that"
    )
    assert row["verdict"] == FALLS


def test_a_screening_failure_in_a_burn_left_out_must_be_outweighed(pair, tmp_path):
    """One failure of six leaves room for 58.2 %, none of three for 63.2 % (Clopper-Pearson): two
    screened, three fresh passes are just enough.
    """
    first = made(
        tmp_path / "third",
        SCREENED,
        more=[(OTHERS, "flat braid 1")],
        seen={"S2": {"flame_height_mm": [30, 30, 80, 30]}},
    )
    (first / "exclusions.csv").write_text(
        "candle,burn,reason\n" + "".join(f"S2,{n},draught\n" for n in range(1, 5)), encoding="utf-8"
    )
    looked = pd.read_csv(first / "checks.csv")
    looked.loc[looked["burn"] == 5, "flame_height_mm"] = 30
    looked.to_csv(first / "checks.csv", index=False)
    row = verdict(judged(first, pair[1]))
    assert row["verdict"] == STANDS
    assert row["because"].endswith(
        "in the screening flame height was not met by S2, only in burns that are left out of the "
        "averages, which is outweighed"
    )
    second = made(tmp_path / "fourth", FRESH, toml=CONFIRMATION.replace("= 60", "= 70"), month=8)
    row = verdict(judged(first, second))  # under other limits the screening's passes do not count
    assert (row["verdict"], row["n_more"]) == (TOO_FEW, 2)


def test_a_gap_is_never_a_pass(pair, tmp_path):
    second = made(
        tmp_path / "third",
        FRESH,
        toml=CONFIRMATION,
        month=8,
        seen={"C2": {"flame_height_mm": [30, "", 30, 30]}},
    )
    result = judged(pair[0], second)
    assert tuple(verdict(result)) == (
        TOO_FEW,
        (
            "1 of 3 fresh candles has a gap (flame height), and a gap is never a pass: burn others "
            "in their place, watched at every check, and leave these out with the reason"
        ),
        3,
        2,
        3,
        1,
    )
    assert (
        "To settle it takes 1 more fresh candle, watched at every check to the end."
        in answer(result)[0]
    )


def test_one_fresh_candle_is_not_enough(pair, tmp_path):
    second = made(tmp_path / "third", {"C1": 19.3}, toml=CONFIRMATION, month=8)
    row = verdict(judged(pair[0], second))
    assert tuple(row) == (
        TOO_FEW,
        "1 fresh candle of the 3 that are needed to notice a change of the burn rate by 20 % with "
        "a chance of 80 %",
        1,
        1,
        3,
        2,
    )


def test_no_candidate_in_common(pair, tmp_path):
    second = made(tmp_path / "third", FRESH, wick="square braid 1", toml=CONFIRMATION, month=8)
    result = judged(pair[0], second)
    assert verdict(result)["because"].startswith("no candle of it was burnt in the confirmation")
    assert (verdict(result)["verdict"], verdict(result)["n_more"]) == (TOO_FEW, 3)
    assert (
        answer(result)[0]
        == "No candidate of the screening was burnt again as it was, so nothing is confirmed."
    )
    assert result.new_evidence.iloc[0][["candidate", "near", "n_passed"]].tolist() == [
        "square braid 1",
        "flat braid 2",
        3,
    ]


def test_only_one_candidate_of_three_candles_cannot_be_settled(tmp_path):
    first = made(tmp_path / "first", {"S1": 17.6, "S2": 19.3, "S3": 19.5})
    second = made(tmp_path / "second", FRESH, toml=CONFIRMATION, month=8)
    row = verdict(judged(first, second))
    assert row["verdict"] == TOO_FEW
    assert pd.isna(row["n_more"])
    assert pd.isna(row["n_needed"])
    assert row["because"].startswith(
        "no number of fresh candles would settle it: 3 candles of it in the screening say too "
        "little; "
    )
    assert row["because"].endswith(" in a new screening and as many fresh ones after it would")


def test_one_candle_of_one_candidate_predicts_nothing(tmp_path):
    first = made(tmp_path / "first", {"S1": 19.3})
    second = made(tmp_path / "second", FRESH, toml=CONFIRMATION, month=8)
    result = judged(first, second)
    assert verdict(result)["because"] == (
        "its burn rate cannot be predicted: no candidate of the screening has two whole candles "
        "with it, so nothing says how far candles differ"
    )
    assert result.ranges["range_low"].isna().all()
    assert (result.candles["fell"] == "no range").all()


def test_candles_without_any_spread_predict_nothing(tmp_path):
    first = made(tmp_path / "first", dict.fromkeys(SCREENED, 19.3))
    second = made(tmp_path / "second", FRESH, toml=CONFIRMATION, month=8)
    row = verdict(judged(first, second))
    assert row["because"] == (
        "its burn rate cannot be predicted: all candles of the screening are alike in it, and "
        "without any spread there is no range"
    )


def test_one_screened_candle_takes_the_spread_of_the_others_and_says_so(tmp_path, pair):
    first = made(tmp_path / "third", {"S1": 19.3}, more=[(OTHERS, "flat braid 1")])
    result = judged(first, pair[1])
    assert result.ranges["n_screened"].tolist() == [1, 1, 1, 1]
    assert any(
        line.startswith("One candle only of flat braid 2 was screened to its end")
        for line in trust(result)
    )


@pytest.mark.parametrize(
    ("column", "metric"), [("pool_diameter_mm", "full_pool_h"), ("wall_c", "wall_max_warm_room_c")]
)
def test_what_the_screening_has_not_is_not_held(pair, tmp_path, column, metric):
    first = made(tmp_path / "third", SCREENED, more=[(OTHERS, "flat braid 1")], drop=(column,))
    result = judged(first, pair[1])
    held = result.ranges.set_index("metric")
    assert (
        held.at[metric if metric in held.index else "wall_max_c", "held"]
        == "not recorded in the screening"
    )
    assert verdict(result)["verdict"] == STANDS
    assert any(
        "is not held against anything: not recorded in the screening" in line
        for line in trust(result)
    )


def test_what_the_confirmation_has_not_keeps_it_from_standing(pair, tmp_path):
    second = made(tmp_path / "third", FRESH, toml=CONFIRMATION, month=8, drop=("pool_diameter_mm",))
    row = verdict(judged(pair[0], second))
    assert (row["verdict"], row["because"]) == (
        TOO_FEW,
        "time to full pool was measured on 0 of 3 fresh candles",
    )


def test_candles_not_burnt_to_their_end_measure_nothing(pair, tmp_path):
    second = made(tmp_path / "third", FRESH, toml=CONFIRMATION, month=8, burns=3)
    result = judged(pair[0], second)
    row = verdict(result)
    assert row["verdict"] == TOO_FEW
    assert "3 of 3 fresh candles have a gap (end of life)" in row["because"]
    assert (result.ranges["n_measured"] == 0).all()
    assert result.not_counted["because"].str.startswith("not burnt to its end").sum() == 3


def test_excluded_candles_do_not_count_and_are_named(pair):
    (pair[1] / "exclusions.csv").write_text(
        "candle,burn,reason\nC1,,spilt\nC2,,spilt\n", encoding="utf-8"
    )
    result = judged(*pair)
    assert (verdict(result)["n_fresh"], verdict(result)["verdict"]) == (1, TOO_FEW)
    assert result.not_counted[["candle", "because"]].to_numpy().tolist() == [
        ["C1", "left out: spilt"],
        ["C2", "left out: spilt"],
    ]


def test_all_candles_left_out(pair):
    (pair[1] / "exclusions.csv").write_text(
        "candle,burn,reason\n" + "".join(f"{c},,spilt\n" for c in FRESH), encoding="utf-8"
    )
    row = verdict(judged(*pair))
    assert row["verdict"] == TOO_FEW
    assert row["because"].startswith("none of its candles in the confirmation counts as fresh")


def test_a_new_wick_in_a_screened_candle_is_no_fresh_evidence(pair):
    (pair[1] / "wick_changes.csv").write_text(
        "candle,before_burn,wick_series,wick_size\nC1,3,flat braid,2\n", encoding="utf-8"
    )
    result = judged(*pair)
    counts = pass_counts(result.confirmation, "flat braid 2")
    assert counts == {"n_candles": 3, "n_passed": 2, "n_failed": 0, "n_open": 1}
    assert verdict(result)["verdict"] == TOO_FEW
    assert result.not_counted.iloc[0]["because"].startswith("wick changed")


def test_a_candle_of_the_screening_again_is_not_fresh(pair, tmp_path):
    second = made(tmp_path / "third", {"S1": 19.3} | FRESH, toml=CONFIRMATION, month=6)
    result = judged(pair[0], second)
    assert verdict(result)["n_fresh"] == 3
    assert result.not_counted["because"].tolist() == [f"left out: {ALSO_THERE}"]

"""What can be printed: bounds by hand and by table, what bars a claim, what is only a condition."""

import re

import numpy as np
import pytest
from batches import TOML, batch, burn, candle, checks, read
from claimed import CONFIRMED, claimed, made
from confirmed import CONFIRMATION, FRESH, OTHERS, SCREENED
from confirmed import made as rounds_made
from matplotlib import pyplot as plt
from places import DEMO

from candlelab.candle_formulas import wax_of_depth
from candlelab.claim import figures as claim_figures
from candlelab.claim.claims import CannotClaim, claim_label
from candlelab.claim.outcome import CONDITION, NOT_YET, SUPPORTED
from candlelab.claim.page import claim_page
from candlelab.claim.tables import CAUTIONARY_TOPICS
from candlelab.confirm.confirmation import confirm_pick
from candlelab.pages.glossary import GLOSSARY
from candlelab.pages.values import format_value


def said(found):
    """The whole box and its notes as one text."""
    return " ".join([*found.answer, *found.notes])


# ---------------------------------------------------------------- bounds


@pytest.mark.slow
def test_bounds_by_hand(tmp_path):
    """Lives 28, 29, 30, 31, 32 h: mean 30, sd 1.5811; k = 3.407 (ISO 16269-6, 5 candles, 90 %/95 %,
    from memory), t = 2.132.
    """
    found = claimed([made(tmp_path / "b", [28, 29, 30, 31, 32])], "flat braid 2")
    assert found.outcome == CONDITION  # 24.6 h is more than 10 % below the mean
    assert found.bounds.mean == pytest.approx(30.0)
    assert found.bounds.tolerance == pytest.approx(30.0 - 3.407 * 1.58114, abs=2e-3)
    assert found.bounds.prediction == pytest.approx(30.0 - 2.132 * 1.58114 * np.sqrt(1.2), abs=2e-3)
    assert found.decision.headline.startswith(
        "Print nothing yet for flat braid 2. No screening of it is among the folders, "
    )
    assert (
        "With 95 % confidence at least 90 of 100 candles of this pour burn 24.6 h or longer "
        "(5 candles, mean 30.0 h, shortest 28.0 h)."
    ) in found.notes
    assert (
        "Five candles burned 30.0 h on average and the shortest 28.0 h, yet only 24 h "
        "can be promised. So few candles, or such uneven ones, allow no more."
    ) in found.decision.reasons
    assert found.decision.next_steps[-1].startswith(
        "Then print the time that the new page gives. By these candles alone it is at most 24 h, "
        "for a candle that burns until it goes out"
    )


def test_a_printed_time_is_rounded_down_and_its_ten_percent_stands_beside(tmp_path):
    found = claimed([made(tmp_path / "b", [28, 29, 30, 31, 32])], "flat braid 2")
    declared = found.declared.set_index("bound")
    hours = declared["declared_h"].to_dict()
    names = ("candles of this pour", "the next candle", "the average candle")
    assert {name: hours[name] for name in names} == {
        "candles of this pour": 24.0,
        "the next candle": 26.0,
        "the average candle": 30.0,
    }
    assert (declared["declared_h"] <= declared["bound_h"]).all()
    row = declared.loc["the average candle"]
    assert (row["band_low_h"], row["band_high_h"]) == pytest.approx((27.0, 33.0))
    assert (row["n_below"], row["n_inside"], row["n_above"]) == (0, 5, 0)
    assert (declared.loc["candles of this pour", "n_above"]) == 5


@pytest.mark.slow
def test_both_rounds_support_a_time(rounds):
    found = claimed(rounds(), "flat braid 2")
    assert found.outcome == SUPPORTED
    assert found.decision.headline == (
        f"Print at most {int(found.evidence.other_pours)} h for flat braid 2. Nine test candles "
        "support it."
    )
    assert found.decision.pick == "flat braid 2"
    assert found.decision.next_steps[0].startswith("Print at most 2")
    assert found.decision.next_steps[0].endswith(
        "Where the label says to leave 12.7 mm of wax: at most 20 h."
    )


@pytest.mark.slow
def test_a_bound_says_of_which_pours_it_is(rounds):
    pair = rounds()
    assert "of these two pours burn" in said(claimed(pair, "flat braid 2"))
    assert "of this pour burn" in said(claimed(pair[1:], "flat braid 2"))
    for given in (pair, pair[1:]):
        assert "Candles of another pour: 2" in said(claimed(given, "flat braid 2"))


@pytest.mark.slow
def test_other_pours_are_promised_less_the_more_they_may_differ(rounds):
    pair, hours = rounds(), []
    for sd in (0.0, 3.0, 6.0):
        found = claimed(pair, "flat braid 2", batch_sd_pct=sd)
        declared = found.declared.set_index("bound")["bound_h"]
        hours.append(declared["candles of other pours"])
        assert declared["candles of other pours"] <= declared["candles of these two pours"]
    assert hours == sorted(hours, reverse=True)
    assert hours[0] > hours[2]


# ---------------------------------------------------------------- to the wax that is left


@pytest.mark.slow
def test_time_to_the_wax_that_is_left_by_hand(tmp_path):
    """A candle of 30 h in a jar of 70 mm: fill 153.5 g, 5.05 g/h. 12.7 mm of wax are 0.9 x pi/4 x
    49 x 1.27 = 43.99 g, so 153.5 - 43.99 = 109.51 g burn before, 21.69 h.
    """
    assert wax_of_depth(12.7, 70) == pytest.approx(43.987, abs=1e-3)
    found = claimed([made(tmp_path / "b", [29.9, 30.0, 30.1])], "flat braid 2")
    lives = found.lives.set_index("candle")
    assert lives.at["C1", "depth_h"] == pytest.approx((153.5 - 43.987) / 5.05, abs=1e-2)
    assert lives.at["C1", "depth_h"] < lives.at["C1", "life_h"]
    assert "To the last 12.7 mm (0.5 in) of wax, where a label says to stop: 2" in said(found)
    assert "0.9 g/ml" in said(found)


@pytest.mark.slow
@pytest.mark.parametrize(("leave_mm", "hours"), [(5.0, 26.97), (20.0, 16.68), (25.4, 12.98)])
def test_the_more_wax_is_left_the_shorter_the_time(tmp_path, leave_mm, hours):
    """By hand: (153.5 - 0.9 x pi/4 x 4.9 x mm) / 5.05."""
    found = claimed([made(tmp_path / "b", [29.9, 30.0, 30.1])], "flat braid 2", leave_mm=leave_mm)
    assert found.lives.set_index("candle").at["C1", "depth_h"] == pytest.approx(hours, abs=0.02)


def test_no_wax_to_leave_is_no_time_of_its_own(tmp_path):
    found = claimed([made(tmp_path / "b", [29.9, 30.0, 30.1])], "flat braid 2", leave_mm=0)
    assert found.lives["depth_h"].isna().all()
    assert "of wax" not in said(found).replace("lot of wax", "")
    assert len(found.declared) == 4


def test_more_wax_than_there_is_leaves_no_time(tmp_path):
    found = claimed([made(tmp_path / "b", [29.9, 30.0, 30.1])], "flat braid 2", leave_mm=60)
    assert "No time can be given to the last 60 mm" in said(found)


# ---------------------------------------------------------------- what bars a claim


@pytest.mark.slow
def test_unsafe_candles_carry_no_claim(tmp_path):
    found = claimed(
        [made(tmp_path / "b", [28, 29, 30, 31, 32], flame_height_mm=80)], "flat braid 2"
    )
    assert found.outcome == NOT_YET
    assert found.declared.empty
    assert found.bounds is None
    assert found.decision.incidents[0].startswith("Stop burning C0 (flat braid 2). Its flame was")
    assert found.decision.headline.startswith(
        "No burn time can be printed for flat braid 2: its flame was too tall (80 mm, the EN 15493 "
        "limit is 75 mm): C0, burn 1, "
    )
    assert "Print at most" not in said(found)


@pytest.mark.slow
def test_the_studios_own_limit_is_named_as_such(tmp_path):
    found = claimed([made(tmp_path / "b", [28, 29, 30], wall_c=70)], "flat braid 2")
    assert found.outcome == NOT_YET
    assert "its wall got too hot (70 °C, your limit is 65 °C/149 °F)" in found.decision.headline


@pytest.mark.slow
def test_a_candle_that_went_out_early_by_itself_bars_a_claim(rounds, tmp_path):
    """It is a short life; leaving it out would promise what it did not keep."""
    pair = rounds()
    rows = [burn("D1", n, 20.0, ended_by="self" if n == 3 else "timer") for n in range(1, 4)]
    looked = [row for n in range(1, 4) for row in checks("D1", n)]
    drowned = batch(tmp_path / "d", [candle("D1", fill=152.0)], rows, looked, toml=CONFIRMED)
    found = claimed([*pair, drowned], "flat braid 2")
    assert found.outcome == NOT_YET
    assert found.decision.headline == (
        "No burn time can be printed for flat braid 2: it went out by itself with 61 % of its wax "
        "left: D1, burn 3, 4 h after lighting."
    )
    row = found.lives.set_index("candle").loc["D1"]
    assert row["why"].startswith("went out by itself early in burn 3, after 12.0 h, with 61 %")
    assert not row["counts"]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("hours", "words"),
    [
        ([28, 30], "yet: only two candles that burned to their end count."),
        ([28], "yet: only one candle that burned to its end counts."),
    ],
)
def test_too_few_candles(tmp_path, hours, words):
    found = claimed([made(tmp_path / "b", hours)], "flat braid 2")
    assert found.outcome == NOT_YET
    assert found.decision.headline.endswith(words)
    assert found.decision.reasons[0] == "It takes at least three to say how much candles differ."
    assert found.declared.empty
    assert found.decision.next_steps == (
        f"Burn {'one fresh candle' if len(hours) == 2 else 'two fresh candles'} of flat braid 2 to "
        "the end, with every check.",
    )


@pytest.mark.slow
def test_uneven_candles(tmp_path):
    assert claimed([made(tmp_path / "b", [20, 30, 40])], "flat braid 2").outcome == NOT_YET
    found = claimed([made(tmp_path / "c", [26, 30, 31, 34])], "flat braid 2")
    assert found.outcome == CONDITION
    assert "yet only 16 h can be promised" in said(found)


@pytest.mark.slow
def test_a_confirmation_that_does_not_stand_bars_a_claim(rounds):
    """Fresh candles that burn half as fast again: nothing failed, and it is another wick."""
    found = claimed(rounds(second=(20.0, 20.2, 20.4), rate=7.5), "flat braid 2")
    assert found.evidence.rounds.verdicts()["verdict"].tolist() == ["does not stand"]
    assert found.outcome == NOT_YET
    assert found.decision.headline == (
        "No burn time can be printed for flat braid 2 yet: its fresh candles did not burn as the "
        "screening said."
    )
    assert found.decision.reasons[0].startswith(
        "Flat braid 2 does not stand: burn rate of C0, C1 and C2 is above the range predicted, "
    )
    assert not any("more candle" in step for step in found.decision.next_steps)


# ---------------------------------------------------------------- conditions


@pytest.mark.slow
def test_a_gap_in_every_candle_is_a_condition(tmp_path):
    found = claimed(
        [made(tmp_path / "b", [28, 28.5, 29, 29.5, 30, 30.5], tipped="")], "flat braid 2"
    )
    assert found.outcome == CONDITION
    assert "C0 is not fully checked: tipped not written down in burn 1" in said(found)
    assert any("in place of what was not fully checked" in s for s in found.decision.next_steps)


@pytest.mark.slow
def test_a_confirmation_without_its_screening_is_half_of_the_evidence():
    found = claimed([read(DEMO / "confirmation")], "square braid 2")
    assert found.outcome == CONDITION
    assert found.decision.headline == (
        "Print nothing yet for square braid 2. No screening of it is among the folders, and what "
        "failed there is not known. By these candles alone: at most 31 h."
    )
    both = [read(DEMO / name) for name in ("screening", "confirmation")]
    assert claimed(both, "paper-cored 4").outcome == NOT_YET


def test_a_screening_of_something_else_does_not_do(rounds, tmp_path):
    other = batch(
        tmp_path / "o",
        [candle("X1", "square braid 1", fill=100.0)],
        [burn("X1", 1, 20.0)],
        checks("X1", 1),
    )
    found = claimed([other, rounds()[1]], "flat braid 2")
    assert found.outcome == CONDITION
    assert "No screening of it is among the folders" in found.decision.headline


@pytest.mark.slow
def test_screening_candles_have_to_be_confirmed(tmp_path):
    found = claimed([made(tmp_path / "b", [29.75, 30, 30.25], toml=TOML)], "flat braid 2")
    assert found.outcome == CONDITION
    assert found.decision.headline == (
        "Print nothing yet for flat braid 2. It was screened, and not yet confirmed on fresh "
        "candles. By these candles alone: at most 27 h."
    )
    assert found.decision.next_steps[0] == "Confirm flat braid 2 on at least three fresh candles."
    assert found.decision.how_sure.startswith(
        "Burn time: if no candle goes out early, at least 9 in 10 candles, of these and other "
        "pours, burn 27 h (95 in 100 sure). "
        "Safety: three good candles are not proof: "
    )


@pytest.mark.slow
def test_too_few_fresh_candles_to_confirm_is_a_condition(rounds):
    found = claimed(rounds(second=(29.9,)), "flat braid 2")
    assert found.outcome == CONDITION
    assert "burn 2 more candles of flat braid 2" in found.decision.headline.lower()


@pytest.mark.slow
def test_a_wall_that_is_too_hot_in_a_warm_room_is_a_condition(tmp_path):
    """59 degC in a room of 22 degC is 67 degC in one of 30 degC; the limit is 65 degC."""
    found = claimed([made(tmp_path / "b", [29.75, 30, 30.25], wall_c=59)], "flat braid 2")
    assert found.outcome == CONDITION
    assert (
        "Too hot for a warm room of 30 °C (86 °F): its wall would be about 67 °C (153 °F), your "
        "stop limit is 65 °C (149 °F). You measured 59 °C (138 °F)."
    ) in found.answer
    cool = claimed([made(tmp_path / "c", [29.75, 30, 30.25], wall_c=50)], "flat braid 2")
    assert "Its hottest wall was 50 °C (122 °F) as read, about 58 °C (136 °F) in a room of" in said(
        cool
    )
    assert "Too hot" not in said(cool)


# ---------------------------------------------------------------- what is not in the bound


@pytest.mark.slow
def test_projected_lives_are_marked_and_never_count(tmp_path):
    hours = [29, 29.5, 30, 30.5]
    with_them = claimed([made(tmp_path / "b", hours, unfinished=("U1", "U2"))], "flat braid 2")
    without = claimed([made(tmp_path / "c", hours)], "flat braid 2")
    assert with_them.bounds.tolerance == without.bounds.tolerance
    rows = with_them.lives.set_index("candle")
    assert rows.loc[["U1", "U2"], "why"].str.startswith("still burning after 20.0 h").all()
    assert not rows.loc[["U1", "U2"], "counts"].any()
    assert rows["life_h"].isna().sum() == 2
    assert "U1 and U2: a projected life is listed, marked, and does not count." in with_them.answer
    assert "Wait for the end of U1 and U2." in with_them.decision.next_steps


@pytest.mark.slow
def test_a_candle_that_was_put_out_for_good_is_named_and_not_in_the_bound(tmp_path):
    hours = [29, 29.5, 30, 30.5]
    with_it = claimed([made(tmp_path / "b", hours, stopped=("U1",))], "flat braid 2")
    without = claimed([made(tmp_path / "c", hours)], "flat braid 2")
    assert with_it.bounds.tolerance == without.bounds.tolerance
    assert with_it.outcome == CONDITION
    assert (
        "U1 was put out for good in burn 5, after 20.0 h, with 33 % of its wax left. It does not "
        "count toward a burn time. Whether it would have reached that time is not known."
    ) in with_it.answer


@pytest.mark.slow
def test_a_candle_set_aside_is_listed_with_its_reason_and_its_hours(tmp_path):
    one = made(tmp_path / "b", [29, 29.5, 30, 30.5])
    (tmp_path / "b" / "exclusions.csv").write_text("candle,burn,reason\nC0,,spilled\n", "utf-8")
    found = claimed([read(one.folder)], "flat braid 2")
    assert found.bounds.n == 3
    said = "C0 was set aside (spilled); it burned 29.0 h. It does not count toward a burn time."
    assert said in found.answer
    assert found.lives["candle"].tolist() == ["C0", "C1", "C2", "C3"]


@pytest.mark.slow
def test_a_candle_that_changed_its_wick_does_not_count():
    found = claimed([read(DEMO / "screening")], "flat braid 3")
    rows = found.lives.set_index("candle")
    assert rows.loc["S01", "why"] == "its wick was changed"
    assert not rows["counts"].any()
    assert found.outcome == NOT_YET


@pytest.mark.slow
def test_a_batch_that_is_given_twice_counts_once(rounds):
    pair = rounds()
    once, twice = claimed(pair, "flat braid 2"), claimed([*pair, *pair], "flat braid 2")
    assert (once.outcome, twice.outcome) == (SUPPORTED, SUPPORTED)
    assert twice.bounds == once.bounds
    assert "counted once" in said(twice)
    assert twice.evidence.fate["n_passed"] == once.evidence.fate["n_passed"]


# ---------------------------------------------------------------- gaps


def with_a_gap(folder, second, candle="C0", column="tipped"):
    """The confirmation with a reading of one candle not written down."""
    text = (second.folder / "checks.csv").read_text("utf-8").splitlines()
    names = text[0].split(",")
    n = next(i for i, line in enumerate(text) if line.startswith(f"{candle},"))
    cells = text[n].split(",")
    cells[names.index(column)] = ""
    text[n] = ",".join(cells)
    (second.folder / "checks.csv").write_text("\n".join(text) + "\n", "utf-8")
    return read(second.folder)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("hours", "outcome"),
    [
        ((29.5, 29.8, 30.15), CONDITION),  # two passed, three are needed: not confirmed yet
        ((29.5, 29.8, 30.15, 29.9), CONDITION),  # three passed: it stands, the gap is open
        ((29.5, 29.8, 30.15, 29.9, 29.7), SUPPORTED),  # one more in its place
    ],
)
def test_a_gap_is_settled_by_one_more_fresh_candle(rounds, tmp_path, hours, outcome):
    first, second = rounds(second=hours)
    found = claimed([first, with_a_gap(tmp_path, second)], "flat braid 2")
    assert found.outcome == outcome
    assert "C0 is not fully checked: tipped not written down in burn 1 at minute 60" in said(found)
    verdict = found.evidence.rounds.verdicts()["verdict"].iat[0]
    assert verdict == ("burn more candles" if len(hours) == 3 else "stands")
    if outcome == SUPPORTED:
        assert "Fresh candles settled it: 4 passed every safety check since." in said(found)


# ---------------------------------------------------------------- tables


@pytest.mark.slow
def test_two_rounds_of_the_demo():
    found = claimed([read(DEMO / "screening"), read(DEMO / "confirmation")], "Square Braid 2")
    assert found.outcome == SUPPORTED
    assert found.bounds.n == 9
    assert "The bound is of these two pours, taken together (means " in " ".join(found.notes)
    assert found.evidence.rounds.verdicts()["verdict"].tolist() == ["stands"]
    tested = found.triggers.set_index("change")["tested"]
    assert tested["lot of wax"] == "L07 and L09"
    assert tested["vessel or its supplier"] == "stoneware tumbler"
    assert {
        "lot of wax",
        "fragrance",
        "vessel or its supplier",
        "wick size, series or its supplier",
    } <= set(tested.index)


@pytest.mark.slow
def test_the_table_of_times_promises_what_the_sentences_do():
    """A bound of 32.95 h is "32.9 h or longer" in a sentence, and never 33.0 h in the table."""
    found = claimed([read(DEMO / name) for name in ("screening", "confirmation")], "square braid 2")
    times = found.declared.set_index("bound")["bound_h"]
    assert 32.95 < times["the next candle"] < 33.0
    assert format_value("bound_h", times["the next candle"]).startswith("32.9")
    assert "The next single candle burns 32.9 h or longer" in " ".join(found.notes)


@pytest.mark.slow
@pytest.mark.parametrize("candidate", ["square braid 2", "paper-cored 4"])
def test_a_claim_holds_its_rounds_as_their_own_page_does(candidate):
    """Ranges allow for all that were burned again: one alone would be judged by another chance."""
    both = [read(DEMO / name) for name in ("screening", "confirmation")]
    theirs = confirm_pick(*both).verdicts.set_index("candidate").loc[candidate]
    (own,) = claimed(both, candidate).evidence.rounds.verdicts().itertuples()
    assert (own.candidate, own.verdict, own.because) == (candidate, theirs.verdict, theirs.because)


@pytest.mark.slow
def test_the_order_of_the_folders_does_not_matter():
    both = [read(DEMO / name) for name in ("screening", "confirmation")]
    one, other = (claimed(given, "square braid 2") for given in (both, both[::-1]))
    assert one.answer == other.answer


@pytest.mark.slow
def test_the_wick_and_its_tolerance(tmp_path):
    """Half the way to the nearer size: (400 - 300) / 2 = 50 tex, (2.2 - 2.0) / 2 = 0.1 mm."""
    rows = claimed([made(tmp_path / "b", [29, 30, 31])], "flat braid 2").wick.set_index("property")[
        "tolerance"
    ]
    assert rows["linear density"].startswith("±50 tex")
    assert rows["width"].startswith("±0.1 mm")
    worth = claimed([read(DEMO / "screening")], "square braid 2").wick.set_index("property")[
        "tolerance"
    ]["linear density"]
    assert re.fullmatch(
        r"±60 tex, half the way to the next size; by the line through its sizes that is worth "
        r"±0\.\d\d g/h",
        worth,
    )


def test_cautions_name_standards_and_hold_no_text_of_theirs(tmp_path):
    found = claimed([made(tmp_path / "b", [29, 30, 31])], "flat braid 2")
    text = " ".join(found.cautions["standard"])
    assert "ASTM F2058" in text
    assert "EN 15494" in text
    words = " ".join(found.cautions["topic"] + " " + found.cautions["to_settle"]).lower()
    # the trade's own sentence, as it is printed on many labels
    assert "burn within sight" not in words
    assert len(found.cautions) == len(CAUTIONARY_TOPICS)
    assert any("from memory and from pages that quote them" in note for note in found.notes)


@pytest.mark.slow
def test_every_column_is_in_the_glossary(tmp_path, rounds):
    found = claimed([made(tmp_path / "b", [29, 30, 31], unfinished=("U1",))], "flat braid 2")
    both = claimed(rounds(), "flat braid 2")
    for _, table in (*found.tables().values(), *both.tables().values()):
        assert set(table.columns) <= set(GLOSSARY)
    figure = claim_figures.draw_lives(found.lives, found.bounds, found.declared)
    assert "C0 29.0 h, C1 30.0 h, C2 31.0 h" in figure.get_label()
    plt.close(figure)


@pytest.mark.slow
def test_a_figure_without_a_life():
    found = claimed([read(DEMO / "screening")], "flat braid 3")
    figure = claim_figures.draw_lives(found.lives, found.bounds, found.declared)
    assert "none was burned to its end" in figure.get_label()
    plt.close(figure)


@pytest.mark.slow
def test_the_record_begins_with_the_box(rounds):
    found = claimed(rounds(), "flat braid 2")
    record = claim_page(found).record()
    assert record["answer"] == list(found.answer)
    assert record["outcome"] == SUPPORTED
    assert record["parameters"]["leave_mm"] == 12.7
    assert record["parameters"]["batch_sd_pct"] == 3.0


# ---------------------------------------------------------------- what is asked


@pytest.mark.slow
def test_unknown_and_ambiguous_candidates():
    with pytest.raises(CannotClaim, match="Did you mean 'square braid 2'"):
        claimed([read(DEMO / "screening")], "squared braid 2")
    with pytest.raises(
        CannotClaim,
        match="Name one of: square braid 2, no fragrance; square braid 2, fig leaf 3 %;",
    ):
        claimed([read(DEMO / "loads")], "square braid 2")
    assert claimed([read(DEMO / "loads")], "square braid 2, fig leaf 6 %").bounds.n == 4


@pytest.mark.slow
@pytest.mark.parametrize("name", ["Square-Braid 02", "square  braid 2.0", "squ\u0430re braid 2"])
def test_a_candidate_may_be_named_as_it_looks(name):
    found = claimed([read(DEMO / "confirmation")], name)
    assert found.evidence.name == "square braid 2"


@pytest.mark.parametrize(
    ("coverage", "confidence"), [(0.0, 0.95), (1.0, 0.95), (0.9, 1.0), (0.9, 0.2)]
)
def test_refuses_shares_that_are_none(coverage, confidence):
    with pytest.raises(ValueError, match="coverage lies between"):
        claimed(
            [read(DEMO / "screening")], "square braid 2", coverage=coverage, confidence=confidence
        )


@pytest.mark.parametrize("asked", [{"leave_mm": -1}, {"leave_mm": 2000}, {"batch_sd_pct": 50}])
def test_refuses_depths_and_pours_that_are_none(asked):
    with pytest.raises(ValueError, match="leave_mm is 0 or more"):
        claimed([read(DEMO / "screening")], "square braid 2", **asked)


@pytest.mark.slow
def test_a_claim_gives_each_candidate_the_verdict_of_the_page_of_the_confirmation(tmp_path):
    """That page holds two wicks; the chance of a false alarm is shared over both."""
    first = rounds_made(tmp_path / "first", SCREENED, more=[(OTHERS, "flat braid 1")])
    again = {"D1": 18.35, "D2": 18.45, "D3": 18.6}
    second = rounds_made(
        tmp_path / "second", FRESH, more=[(again, "flat braid 1")], toml=CONFIRMATION, month=8
    )
    both = [read(first), read(second)]
    told = confirm_pick(*both).verdicts.set_index("candidate")
    assert len(told) == 2
    for name, row in told.iterrows():
        (own,) = claim_label(both, name).evidence.rounds.verdicts().to_dict("records")
        assert own == {"candidate": name, **row.to_dict()}

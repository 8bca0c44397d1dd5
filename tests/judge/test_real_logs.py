"""Real logs: the fate of a wick, the words of the first box, what `check` is about, and plans."""

import pytest
from batches import read
from judged import Log
from logged import CASES
from places import DEMO
from plans import plan_file

from candlelab.claim.claims import claim_label
from candlelab.compare.ask import compare_batches
from candlelab.compare.page import compare_page
from candlelab.confirm.confirmation import CannotConfirm, confirm_pick
from candlelab.judge.safety import NOT_CHECKED
from candlelab.logs.problems import LOOK
from candlelab.pages.words import CAUTIONS
from candlelab.plan.planned import read_plan


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.point}: {case.name}")
def test_the_verdict_the_box_and_check(case, tmp_path):
    made = case.log().worked(tmp_path)
    fates = made.fates.set_index("candidate")["fate"]
    assert fates[fates.index.str.startswith("flat braid 2")].tolist() == [case.fate]
    assert case.says in "\n".join(line for d in made.decisions for line in d.lines)
    found = made.batch.problems["problem"].tolist()
    assert case.check in found if case.check else not found


PLANS = {
    "an edge at 120 mm": ("edge_mm = 300", "edge_mm = 120", "candles near an edge"),
    "a check in 30 s": (
        "minutes_per_check = 4",
        "minutes_per_check = 0.5",
        "no time for the check",
    ),
    "a stop at 76 °C": ("wall_stop_c = 65.0", "wall_stop_c = 76", "stop limit too hot"),
}


@pytest.mark.parametrize("case", PLANS)
def test_a_plan_is_asked_about(case, tmp_path):
    old, new, problem = PLANS[case]
    found = read_plan(plan_file(tmp_path, (old, new))).problems
    told = found[found["problem"].str.startswith(problem)]
    assert told["level"].tolist() == [LOOK]


@pytest.mark.parametrize(
    "words", ["metal lid", "Never", "water", "dry powder", "fire blanket", "sleeves", "curtains"]
)
def test_how_a_flame_is_put_out_and_what_stays_away_from_it(words):
    assert words.casefold() in " ".join(CAUTIONS).casefold()


def four(**more) -> Log:
    return Log(A="flat braid 2", B="flat braid 2", C="flat braid 2", D="flat braid 2")


def claimed(made, wick="flat braid 2"):
    found = claim_label([made.worked().batch], wick)
    return found.outcome, found.answer


@pytest.mark.slow
@pytest.mark.parametrize(
    ("seen", "why"),
    [
        ({"vessel_damaged": "yes"}, "Its vessel cracked or broke"),
        ({"tipped": "yes"}, "It tipped over"),
        ({"wall_c": 70}, "Its wall got too hot"),
    ],
)
def test_a_claim_is_refused_in_one_line_where_a_criterion_failed(seen, why):
    outcome, answer = claimed(four().check("B", 5, 240, **seen))
    assert outcome == "not yet"
    assert why.casefold() in answer[0].casefold()
    assert "B" in answer[0]


@pytest.mark.slow
def test_a_claim_says_the_hours_to_the_last_half_inch_and_the_wall_in_a_warm_room():
    made = four()
    for name, last in zip("ABCD", (225, 230, 235, 240), strict=True):
        made.burn(name, 5, out_at=f"2026-06-05 {9 + last // 60:02d}:{last % 60:02d}")
        made.missed(name, 5, 240)
    _, answer = claimed(made)
    said = " ".join(answer)
    assert "Where the label says to leave 12.7 mm of wax: at most " in said
    assert "in a room of 30 °C (86 °F)" in said


@pytest.mark.slow
def test_compare_begins_with_the_pick_and_counts_a_gap_as_a_gap():
    made = Log(A="flat braid 2", B="flat braid 2", C="flat braid 3", D="flat braid 3")
    made = made.missed("A", 2, 120).worked()
    page = compare_page(compare_batches([made.batch], by="wick"))
    assert page.decisions[0].lines[0].startswith("Pick flat braid 3.")
    counts = made.verdicts.candidates.set_index("candidate").loc["flat braid 2"]
    assert counts[["n_passed", "n_failed", "n_open"]].tolist() == [1, 0, 1]
    assert counts["standard_verdict"] == NOT_CHECKED


@pytest.mark.slow
@pytest.mark.parametrize("wick", ["flat braid 1", "wooden 9"])
def test_a_size_that_was_not_screened_cannot_be_confirmed(wick):
    both = (read(DEMO / name) for name in ("screening", "confirmation"))
    with pytest.raises((CannotConfirm, ValueError), match=wick):
        confirm_pick(*both, candidates=[wick])

"""Every page of every demo batch gives a candidate one fate and one next step."""

import re
from functools import cache

import pytest
from batches import read
from places import DEMO

from candlelab.claim.claims import CannotClaim, claim_label
from candlelab.claim.page import claim_page
from candlelab.compare.ask import compare_batches
from candlelab.compare.page import compare_page
from candlelab.confirm.confirmation import confirm_pick
from candlelab.confirm.page import confirm_page
from candlelab.judge.in_short import first_sentence
from candlelab.judge.together import side_by_side, together
from candlelab.judge.words import BURNING, RULED_OUT, SAFE, UNCHECKED, named
from candlelab.judge.worked import WorkedBatch
from candlelab.report.page import report_page
from candlelab.report.results import batch_results
from candlelab.size.page import size_page
from candlelab.size.sizing import size_wicks

BATCHES = {"screening": "wick", "confirmation": "wick", "kitchen": "wick",
           "loads": "fragrance_load_pct", "waxes": "wax"}  # fmt: skip
# What a line says of a candidate, in whose place {} stands.
SAYS = {
    "^Pick {}[., ]": SAFE, "^So far {} leads": SAFE, "^Runner-up: {}[. ]": SAFE,
    "^Also safe so far: .*{}": SAFE,
    "Use {} instead": SAFE, "{} stands[.:]": SAFE, "Next: Confirm {} on": SAFE,
    "^Ruled out: {}[.,]": RULED_OUT, "^Stop burning [^.]*[(]{}[)]": RULED_OUT,
    "Next: Stop testing {}[, ]": RULED_OUT, "^Not fully checked: {}[.]": UNCHECKED,
    "^Still burning: {}[.]": BURNING, "^{} does not stand": RULED_OUT,
}  # fmt: skip
# What a page adds of its own about a wick that stands or is printed.
OWN = (
    "Keep ",
    "Print ",
    "Then print ",
    "Confirm ",
    "Burn ",
    "Compare ",
    "To compare, run",
    "To sell ",
    "To confirm, burn",
    "Have ",
    "Keep burning ",
    "Light ",
    "Wick ",
)


@cache
def worked(name):
    return WorkedBatch(read(DEMO / name))


def pages_of_one(name):
    batch = worked(name).batch
    yield report_page(batch_results(batch))
    yield compare_page(compare_batches([batch], by=BATCHES[name]))
    yield size_page(size_wicks([batch]))


def pages_of_two():
    both = [worked("screening").batch, worked("confirmation").batch]
    yield confirm_page(confirm_pick(*both), [])
    wicks = dict.fromkeys(worked("screening").fates["wick"])
    for wick in wicks:
        yield claim_page(claim_label(both, wick))
    yield compare_page(compare_batches(both, by="wick"))
    yield size_page(size_wicks(both))


def lines(page):
    return [line for decision in page.decisions for line in decision.lines]


def heard(page, candidates):
    """Each fate that a line of the page gives a candidate, with the line."""
    for line in lines(page):
        for name in candidates:
            for pattern, fate in SAYS.items():
                if re.search(pattern.format(re.escape(named(name))), line, re.IGNORECASE):
                    yield name, fate, line


def steps(page):
    return [line.removeprefix("Next: ") for line in lines(page) if line.startswith("Next: ")]


def agree(judged, pages):
    """How often the pages speak of a fate; each time it is that of the judge, and each step too."""
    fates = judged.fates.set_index("candidate")["fate"].to_dict()
    known = set(judged.fates["next_step"])
    n = 0
    for page in pages:
        for name, fate, line in heard(page, fates):
            n += 1
            assert fate == fates[name], (page.title, name, line)
        strange = [s for s in steps(page) if s not in known and not s.startswith(OWN)]
        assert not strange, (page.title, strange)
    return n


@pytest.mark.slow
@pytest.mark.parametrize("name", BATCHES)
def test_report_compare_and_size_speak_with_the_judges_voice(name):
    judged = worked(name)
    pages = list(pages_of_one(name))
    told = [[d.lines for d in page.decisions] for page in pages]
    assert told == [[d.lines for d in judged.decisions]] * 3
    assert agree(judged, pages) >= 3 * len(judged.fates)


@pytest.mark.slow
def test_pages_of_both_rounds_speak_with_the_judges_voice():
    both = [worked("screening"), worked("confirmation")]
    assert agree(together(side_by_side(both)), list(pages_of_two())) >= 10


@pytest.mark.slow
@pytest.mark.parametrize("name", BATCHES)
def test_a_claim_promises_nothing_of_what_is_not_safe(name):
    judged = worked(name)
    for row in judged.fates.itertuples():
        try:
            found = claim_label([judged.batch], row.candidate)
        except CannotClaim:
            continue
        said = " ".join(lines(claim_page(found)))
        if row.fate != SAFE:
            assert found.outcome == "not yet", (row.candidate, said)
        if row.fate == RULED_OUT:
            candles = judged.failures.loc[judged.failures["candidate"] == row.candidate, "candle"]
            assert any(re.search(rf"\b{candle}\b", said) for candle in candles if candle), said
        assert not [v for v in heard(claim_page(found), [row.candidate]) if v[1] != row.fate]
        if judged.batch.settings.stage == "screening":
            first = found.decision.next_steps[0]
            assert first_sentence(first)[0] == first_sentence(row.next_step)[0], row.candidate


def test_the_patterns_hear_what_is_said():
    class Page:
        title = "a page"

        class Box:
            lines = ("Ruled out: flat braid 2.", "Runner-up: flat braid 3. All passed.")

        decisions = (Box,)

    names = ["flat braid 2", "flat braid 3", "flat braid 22"]
    assert [v[:2] for v in heard(Page, names)] == [
        ("flat braid 2", RULED_OUT),
        ("flat braid 3", SAFE),
    ]

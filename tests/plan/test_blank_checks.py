"""Blank checks of a plan: before the first sitting, by codes, balanced, in short sittings."""

import shutil
from itertools import islice

import numpy as np
import openpyxl
import pandas as pd
import pytest
from batches import read
from html_page import Page
from plans import plan_file, without_page

from candlelab.burns.side_by_side import blank_checks
from candlelab.plan.folder import make_plan
from candlelab.plan.panel import _codes, panel_plan, panel_words
from candlelab.plan.planned import PlanError, read_plan
from candlelab.plan.scent_sheets import scent_sheets_html

# The square braid 3 without fragrance, and a panel.
BLANK = ('wick_size = "3"\n', 'wick_size = "3"\nfragrance = ""\nfragrance_load_pct = 0.0\n')
SCENT = '[scent]\nwords = ["nothing", "faint", "clear", "strong"]\nnoses = 4\n'


def planned(folder, more="", *changes, blank=True):
    changes = ((BLANK,) if blank else ()) + changes
    file = plan_file(folder, *changes)
    file.write_text(file.read_text(encoding="utf-8") + "\n" + SCENT + more, encoding="utf-8")
    return read_plan(file)


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return planned(tmp_path_factory.mktemp("plan"))


def test_each_nose_has_eight_pairs_of_a_blank_and_the_strongest(plan):
    smelled, key, checks = panel_plan(plan)
    assert checks.groupby("assessor").size().to_dict() == dict.fromkeys(["P1", "P2", "P3", "P4"], 8)
    candle = key.set_index("code")["candle"]
    candidate = plan.layout.set_index("candle")["candidate"]
    load = plan.candidates.set_index("candidate")["fragrance_load_pct"].fillna(0)
    loads = checks[["first", "second"]].map(lambda code: load[candidate[candle[code]]])
    assert (loads.min(axis=1) == 0).all()
    assert (loads.max(axis=1) == load.max()).all()
    # no code is smelled twice, here or in a sitting
    used = [*checks.loc[checks["assessor"] == "P1", ["first", "second"]].to_numpy().ravel()]
    assert len(set(used)) == 16
    assert not set(used) & set(smelled["code"])
    assert key["code"].is_unique


def test_the_blank_comes_first_in_half_of_the_pairs(plan):
    _, key, checks = panel_plan(plan)
    blanks = set(plan.layout.loc[plan.layout["candidate"].isin(
        plan.candidates.loc[plan.candidates["fragrance_load_pct"].fillna(0) == 0, "candidate"]
    ), "candle"])  # fmt: skip
    first = checks["first"].map(key.set_index("code")["candle"]).isin(blanks)
    assert first.groupby(checks["assessor"]).sum().tolist() == [4, 4, 4, 4]
    orders = checks.assign(blank=first).groupby("assessor")["blank"].apply(tuple)
    assert orders.nunique() > 1  # drawn by lot for each nose


def test_odd_numbers_are_balanced_over_two_noses(tmp_path):
    made = planned(tmp_path, "blank_checks = 7\n")
    _, key, checks = panel_plan(made)
    without = made.candidates["fragrance_load_pct"].fillna(0) == 0
    blanks = made.layout["candidate"].isin(made.candidates.loc[without, "candidate"])
    candle = key.set_index("code")["candle"]
    first = checks["first"].map(candle).isin(set(made.layout.loc[blanks, "candle"]))
    assert first.groupby(checks["assessor"]).sum().tolist() == [3, 4, 3, 4]


def test_no_sitting_is_longer_than_a_nose_lasts(plan, tmp_path):
    counts = panel_plan(plan).checks.groupby(["assessor", "sitting_number"]).size()
    assert counts.loc["P1"].tolist() == [3, 3, 2]  # six candles a session
    short = panel_plan(planned(tmp_path, "candles_a_session = 20\n")).checks
    assert set(short["sitting_number"]) == {1}
    assert sorted(short.loc[short["assessor"] == "P2", "order"]) == list(range(1, 9))


def test_the_sittings_are_those_of_a_plan_without_checks(plan, tmp_path):
    without = panel_plan(planned(tmp_path, "blank_checks = 0\n"))
    assert without.checks.empty
    assert without.smelled.equals(panel_plan(plan).smelled)


@pytest.mark.slow
def test_the_answer_says_what_they_cost_and_decide(plan, tmp_path):
    said = " ".join(panel_words(plan))
    assert "First each nose does 8 blank checks, cold, in 3 sittings." in said
    assert "That is 64 sniffs in all, 16 for each nose." in said
    assert "Whoever is right in fewer than 7 of 8 may be guessing." in said
    assert "plan 8" not in said
    six = " ".join(panel_words(planned(tmp_path / "six", "blank_checks = 6\n")))
    assert "With so few, one slip sets a good nose aside: plan 8." in six
    few = " ".join(panel_words(planned(tmp_path / "few", "blank_checks = 4\n")))
    assert "So few checks tell nothing: it takes five." in few
    none = panel_words(planned(tmp_path / "none", "blank_checks = 0\n"))
    assert not any("blank check" in line for line in none)
    no_blank = planned(tmp_path / "no", blank=False)
    assert panel_plan(no_blank).checks.empty
    assert not any("blank check" in line for line in panel_words(no_blank))


def test_a_number_that_is_none_or_too_many_is_told(tmp_path):
    for wrong, told in (("-1", "or 0 for none"), ("1.5", "or 0 for none"), ("500", "at most 40")):
        with pytest.raises(PlanError, match="blank_checks") as raised:
            planned(tmp_path / wrong, f"blank_checks = {wrong}\n")
        assert told in str(raised.value.problems["expected"].tolist())


def test_a_sheet_has_both_codes_and_nothing_that_tells(plan):
    page = scent_sheets_html(plan)
    text = " ".join(Page(page).text)
    assert "P4, blank checks 3" in text
    assert text.index("P1, blank checks 1") < text.index("P1, cold, sitting 1")
    assert "Not sure? Guess one" in text
    for name in (*plan.layout["candle"], *plan.candidates["candidate"]):
        assert name not in text


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    there = tmp_path_factory.mktemp("checks")
    planned(there)
    with without_page():
        make_plan(there / "plan.toml", there / "batch")
    return there / "batch"


@pytest.mark.slow
def test_rows_of_pairs_wait_until_they_are_filled_in(folder, plan):
    rows = pd.read_csv(folder / "pairs.csv", dtype=str)
    assert len(rows) == 32
    assert rows["stronger"].isna().all()
    assert set(rows["lit"]) == {"no"}
    batch = read(folder)
    assert batch.pairs.empty
    assert not {"must fix", "look at this"} & set(batch.problems["level"])


@pytest.mark.slow
@pytest.mark.parametrize("where", ["pairs.csv", "log.xlsx"])
def test_what_is_filled_in_counts(folder, plan, tmp_path, where):
    there = tmp_path / "batch"
    shutil.copytree(folder, there)
    if where == "pairs.csv":
        rows = pd.read_csv(there / where, dtype=str, keep_default_na=False)
        rows["stronger"] = rows["first"].where(rows["assessor"] == "P1", "")
        rows.to_csv(there / where, index=False)
    else:
        book = openpyxl.load_workbook(there / where)
        sheet = book["pairs"]
        at = {cell.value.casefold(): cell.column for cell in sheet[1]}
        for row in range(2, 34):
            if sheet.cell(row, at["assessor"]).value == "P1":
                sheet.cell(row, at["stronger"]).value = sheet.cell(row, at["first"]).value
        book.save(there / where)
    (row,) = blank_checks(read(there)).to_dict("records")
    assert row == {
        "assessor": "P1", "n_right": 4, "n_blank_checks": 8, "n_to_pass": 7, "smells": False,
    }  # fmt: skip


def test_codes_go_on_where_three_digits_are_used_up():
    given = list(islice(_codes(np.random.default_rng(1)), 1200))
    assert len(set(given)) == 1200
    assert max(given[:899]) < 1000 <= min(given[899:])

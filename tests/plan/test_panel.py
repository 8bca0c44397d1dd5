"""A panel planned: codes, orders counted, sheets that tell nothing, what it can show."""

import shutil
from itertools import pairwise

import openpyxl
import pandas as pd
import pytest
from batches import read
from html_page import Page
from places import DEMO
from plans import without_page

from candlelab.plan.folder import make_plan
from candlelab.plan.panel import panel_plan, panel_power, panel_words
from candlelab.plan.planned import read_plan
from candlelab.plan.scent_sheets import scent_sheets_html

SCENT = """
[scent]
words = ["nothing", "faint", "clear", "strong", "very strong", "overpowering"]
noses = 4
sessions = 2
candles_a_session = 6
place = "test room"
"""


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plan")
    for name in ("plan.toml", "wicks.csv"):
        shutil.copy(DEMO / "plan" / name, folder / name)
    (folder / "plan.toml").write_text((folder / "plan.toml").read_text() + SCENT)
    return folder / "plan.toml"


@pytest.fixture(scope="module")
def planned(plan_file):
    return read_plan(plan_file)


def smelled(planned):
    table, key, _ = panel_plan(planned)
    table = table.merge(key).merge(planned.layout[["candle", "candidate"]])
    return table, key


def test_no_code_comes_twice_and_the_same_plan_has_the_same_codes(planned):
    table, key, _ = panel_plan(planned)
    assert key["code"].is_unique
    assert key["code"].str.fullmatch(r"[1-9]\d\d").all()
    assert panel_plan.__wrapped__(planned)[0].equals(table)  # drawn anew, not the one kept


def test_every_nose_smells_every_candle_cold_and_twice_hot(planned):
    table, _ = smelled(planned)
    turns = table.assign(burn=table["burn"].fillna(0).astype(int))
    for _, own in turns.groupby(["assessor", "burn"]):
        assert set(own["candle"]) == set(planned.layout["candle"])
    assert sorted(turns["burn"].unique()) == [0, 2, 3]


def test_sittings_are_short_with_a_hidden_repeat_that_is_not_smelled_twice_running(planned):
    table, _ = smelled(planned)
    keys = ["state", "burn", "sitting_number", "assessor"]
    for _, sitting in table.groupby(keys, dropna=False):
        order = sitting.sort_values("order")["candle"].tolist()
        assert 3 <= len(order) <= 6
        assert len(order) == len(set(order)) + 1
        assert all(a != b for a, b in pairwise(order))
        counts = sitting.drop_duplicates("candle")["candidate"].value_counts()
        assert counts.max() - counts.min() <= 1


def test_places_are_balanced_over_the_noses(planned):
    """Rows of Williams squares, those left out in which a repeat follows itself: counted, a code
    comes to one place with two of the four noses at the most, and seldom."""
    table, _ = smelled(planned)
    times = table.groupby(["state", "burn", "sitting_number", "order", "code"], dropna=False).size()
    assert times.max() <= 2
    assert (times == 2).mean() < 0.2  # one place in five


def test_a_sheet_tells_the_code_and_nothing_else(planned):
    page = scent_sheets_html(planned)
    text = " ".join(Page(page).text)
    for name in (*planned.layout["candle"], *planned.candidates["candidate"]):
        assert name not in text
    assert all(
        word in text for word in ("overpowering", "P4, cold, sitting 1", "my nose is blocked")
    )
    assert page.count("<section") == 4 * 3 * panel_plan(planned)[0]["sitting_number"].max()


@pytest.mark.slow
def test_more_noses_and_more_sniffs_show_more(planned):
    power = panel_power(planned).set_index(["n_assessors", "n_times"])["found_simulated_pct"]
    assert power[8, 3] > power[3, 1]
    said = " ".join(panel_words(planned))
    assert f"in {power[4, 2]:.0f} of 100 panels" in said
    assert "No candidate is without fragrance" in said


def test_a_plan_without_scent_says_nothing_of_it():
    assert panel_words(read_plan(DEMO / "plan" / "plan.toml")) == []


def test_the_settings_of_scent_pass_into_the_batch(planned, tmp_path):
    from candlelab.plan.folder import _write_batch, _write_panel

    _write_batch(planned, tmp_path)
    shutil.copy(DEMO / "plan" / "wicks.csv", tmp_path)
    _write_panel(planned, tmp_path)
    batch = read(tmp_path)
    assert batch.settings.scent == planned.plan.settings.scent
    assert len(batch.codes) == len(panel_plan(planned)[1])
    assert (tmp_path / "scent_sheets.html").is_file()


@pytest.fixture(scope="module")
def folder(plan_file, tmp_path_factory):
    """The batch folder of the plan, without its page."""
    with without_page():
        out = tmp_path_factory.mktemp("panel") / "batch"
        make_plan(plan_file, out)
    return out


@pytest.mark.slow
def test_rows_of_scores_are_written_and_wait(folder, planned):
    """Nothing is scored yet, in the table or in the workbook, and no problem is told."""
    rows = pd.read_csv(folder / "throw.csv", dtype=str)
    assert len(rows) == len(panel_plan(planned)[0])
    assert rows["score"].isna().all()
    assert rows["candle"].isna().all()  # the key stays closed
    assert read(folder).throw.empty
    assert not {"must fix", "look at this"} & set(read(folder).problems["level"])


@pytest.mark.slow
@pytest.mark.parametrize("where", ["throw.csv", "log.xlsx"])
def test_a_score_that_is_filled_in_counts(folder, tmp_path, where):
    there = tmp_path / "batch"
    shutil.copytree(folder, there)
    if where == "throw.csv":
        rows = pd.read_csv(there / where, dtype=str, keep_default_na=False)
        rows.loc[3, "score"] = "strong"
        rows.to_csv(there / where, index=False)
    else:
        book = openpyxl.load_workbook(there / where)
        sheet = book["throw"]
        heads = [cell.value.casefold() for cell in sheet[1]]
        sheet.cell(5, 1 + heads.index("score")).value = "strong"
        book.save(there / where)
    scores = read(there).throw
    assert scores["score"].tolist() == [3.0]
    smelled = panel_plan(read_plan(there / "plan.toml"))[0]
    assert scores["assessor"].tolist() == [smelled.at[3, "assessor"]]
    assert set(scores["candle"]) <= set(read(there).candles["candle"])

"""Blank checks: a nose that fails them is listed and not counted, whatever it scored."""

import shutil
from dataclasses import replace

import pandas as pd
import pytest
from batches import read
from places import DEMO

from candlelab.burns.side_by_side import blank_checks
from candlelab.scent.figures import draw_scent
from candlelab.scent.judged import judge_scent
from candlelab.scent.page import scent_page
from candlelab.scent.words import answer_words

pytestmark = pytest.mark.slow

BLANK, SCENTED = ("F01", "F05", "F09", "F13"), ("F04", "F08", "F12", "F16")
NOSES = ("P1", "P2", "P3", "P4", "P5", "P6")
HEAD = "assessor,first,second,stronger,session,order,blocked_nose,burn\n"
FAILED = (
    "P4 was right in 4 of 8 blank checks, no more than guessing may give: it takes 7. Their scores "
    "are listed and not counted."
)


def rows(right, n=8, nose="P4", *, start=0, blocked="no"):
    """Blank checks of one nose, of which the first ``right`` are right."""
    lines = []
    for at in range(n):
        blank, scented = BLANK[at % 4], SCENTED[(at + at // 4) % 4]
        two = (blank, scented) if at % 2 else (scented, blank)
        told = scented if at < right else blank
        lines.append(f"{nose},{two[0]},{two[1]},{told},blank checks,{start + at + 1},{blocked},\n")
    return "".join(lines)


def smelled(tmp_path, pairs, **files):
    """The demo's loads with other pairs."""
    folder = tmp_path / "loads"
    shutil.copytree(DEMO / "loads", folder)
    (folder / "pairs.csv").write_text(HEAD + pairs, encoding="utf-8")
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return read(folder)


def rows_of(record, name):
    table = record["tables"][name]
    names = [column["name"] for column in table["columns"]]
    return [dict(zip(names, row, strict=True)) for row in table["data"]]


@pytest.fixture(scope="module")
def failed(tmp_path_factory):
    folder = tmp_path_factory.mktemp("failed")
    return judge_scent(smelled(folder, rows(4) + rows(8, nose="P1") + rows(7, nose="P5")))


def test_the_page_says_first_whom_it_does_not_count_and_why(failed):
    said = answer_words(failed)
    assert said[0] == FAILED
    assert not any(line.startswith("The scores of P4") for line in said)
    assert "Set aside: 5 scores (blocked nose) and 60 scores (failed blank checks)." in said
    box = failed.worked.decisions[0]
    assert any(
        "Not counted: P4, no better than guessing in the blank checks." in line
        for line in box.lines
    )


def test_nothing_of_theirs_counts_in_any_table_or_figure(failed):
    assert set(failed.strength.scores["assessor"]) == set(NOSES) - {"P4"}
    assert failed.strength.hot.n_assessors == 5
    for name, table in failed.tables.items():
        if name not in ("blank_checks", "not_counted"):
            assert "P4" not in table.astype(str).to_numpy(), name
    labels = {text.get_text() for text in draw_scent(failed).axes[0].texts}
    assert "P5" in labels
    assert "P4" not in labels
    without = read(DEMO / "loads")
    without = replace(without, throw=without.throw[without.throw["assessor"] != "P4"])
    alone = judge_scent(without)
    pd.testing.assert_frame_equal(failed.tables["strength"], alone.tables["strength"])


def test_the_record_keeps_every_score(failed):
    record = scent_page(failed).record()
    kept = rows_of(record, "not_counted")
    throw = failed.worked.batch.throw
    own = throw[throw["assessor"] == "P4"]
    assert len(kept) == len(own)
    assert sorted(row["score"] for row in kept) == sorted(own["score"])
    checks = {row["assessor"]: row for row in rows_of(record, "blank_checks")}
    assert {name: row["smells"] for name, row in checks.items()} == {
        "P1": True, "P4": False, "P5": True,
    }  # fmt: skip
    assert [checks["P4"][name] for name in ("n_right", "n_blank_checks", "n_to_pass")] == [4, 8, 7]


def test_a_panel_that_passes_counts_as_before(tmp_path):
    scent = judge_scent(smelled(tmp_path, "".join(rows(8, nose=nose) for nose in NOSES)))
    assert scent.strength.failed == []
    assert answer_words(scent)[0].startswith("6 % smells as strong as 9 %")
    assert scent.strength.hot.n_assessors == 6
    assert scent.tables["not_counted"].empty


def test_four_checks_tell_nothing_and_five_tell(tmp_path):
    few = blank_checks(smelled(tmp_path / "a", rows(0, 4)))
    assert few["smells"].isna().all()
    assert judge_scent(smelled(tmp_path / "b", rows(0, 4))).strength.hot.n_assessors == 6
    five = blank_checks(smelled(tmp_path / "c", rows(4, 5) + rows(5, 5, nose="P1")))
    assert five["smells"].tolist() == [True, False]  # P1, P4


def test_scores_alone_set_nobody_aside(tmp_path):
    """P4 scores at random; its checks are right, and so its scores count."""
    scent = judge_scent(smelled(tmp_path, rows(8)))
    noses = scent.tables["noses"].set_index("assessor")
    assert not noses.loc["P4", "hears"]
    (again,) = (line for line in answer_words(scent) if line.startswith("The scores of P4"))
    assert "the ranges are wider than they need to be for these noses" in again
    assert scent.strength.hot.n_assessors == 6


def test_who_failed_and_scored_nothing_is_in_the_table_only(tmp_path):
    scent = judge_scent(smelled(tmp_path, rows(2, nose="P9")))
    assert scent.strength.failed == ["P9"]
    assert answer_words(scent)[0].startswith("6 % smells as strong as 9 %")


def test_pairs_that_tell_nothing_of_a_nose_are_no_checks(tmp_path):
    """Of two candles with fragrance, or two without; of a blocked nose; of what was set aside."""
    two = "P4,F04,F08,F08,a,1,no,\nP4,F01,F05,F05,a,2,no,\n"
    out = "candle,burn,reason\nF04,,dropped\n"
    batch = smelled(
        tmp_path, two + rows(0, 8, start=10, blocked="yes") + rows(3, 8, start=20), exclusions=out
    )
    # two of the eight have F04 (the first of them right), the blocked ones do not count
    (row,) = blank_checks(batch).to_dict("records")
    assert (row["assessor"], row["n_right"], row["n_blank_checks"]) == ("P4", 2, 6)


def test_another_spelling_is_the_same_nose(tmp_path):
    batch = smelled(tmp_path, rows(4, nose="p 4"))
    assert blank_checks(batch)["assessor"].tolist() == ["P4"]
    assert judge_scent(batch).strength.failed == ["P4"]


def test_codes_stand_for_their_candles(tmp_path):
    codes = (DEMO / "loads" / "codes.csv").read_text(encoding="utf-8")
    given = {name: f"{1000 + n}" for n, name in enumerate((*BLANK, *SCENTED))}
    hidden = rows(4)
    for name, code in given.items():
        hidden = hidden.replace(name, code)
        codes += f"{code},{name}\n"
    assert judge_scent(smelled(tmp_path, hidden, codes=codes)).strength.failed == ["P4"]


def test_blank_checks_stay_out_of_the_strengths_and_so_do_pairs_of_who_failed(tmp_path):
    own = "P1,F03,F04,F04,a,1,no,\nP4,F03,F04,F03,a,1,no,\n"
    scent = judge_scent(smelled(tmp_path, own + rows(4) + rows(8, nose="P1")))
    (pair,) = scent.tables["pairs_won"].to_dict("records")
    assert (pair["candidate"], pair["n_pairs"]) == ("square braid 2, fig leaf 9 %", 1)


def test_a_panel_in_which_all_fail_says_so(tmp_path):
    scent = judge_scent(smelled(tmp_path, "".join(rows(2, nose=nose) for nose in NOSES)))
    said = answer_words(scent)
    assert said[0].startswith("P1 was right in 2 of 8 blank checks")
    assert said[1] == "The panel cannot tell yet. No nose that scored passed its checks."
    page = scent_page(scent)
    assert len(rows_of(page.record(), "not_counted")) == len(scent.worked.batch.throw) - 5
    # safety and targets still say what they say; nothing decides between those that are level
    assert scent.worked.decisions[0].headline.startswith("No single pick")
    assert draw_scent(scent).get_label().startswith("No picture")


def test_a_weak_load_is_no_blank_check(tmp_path):
    """A good nose may miss 3 %: such a pair tells of the candles, not of the nose."""
    weak = rows(0).replace("F04", "F02").replace("F08", "F06")
    weak = weak.replace("F12", "F10").replace("F16", "F14")
    batch = smelled(tmp_path, weak)
    loads = batch.candles.set_index("candle")["fragrance_load_pct"]
    assert 0 < loads[["F02", "F06", "F10", "F14"]].max() < loads.max()
    assert blank_checks(batch).empty
    assert "P4" in set(judge_scent(batch).strength.scores["assessor"])

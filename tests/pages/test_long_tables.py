"""Tables that are too long for a page: cut on it, whole in a file beside it, packs none the worse.

How many rows a page may have is common practice, no source.
"""

import io
import re

import pandas as pd
import pytest

from candlelab.logs.writer import write_batch
from candlelab.pages import show as page
from candlelab.pages.long_tables import MOST_ROWS, beside, long_tables
from candlelab.pages.page import Page, Shown
from candlelab.pages.publish import NotOurFolder, whole_folder
from candlelab.pages.record import table_record

LONG = pd.DataFrame({"candle": [f"K{n}" for n in range(MOST_ROWS + 7)], "burn_time_h": 4.0})


@pytest.fixture
def shown(monkeypatch):
    out = []
    monkeypatch.setattr(page, "display", lambda item, **_: out.append(item.data))
    return out


def _page(table, shown=None):
    return Page("results", "t", (), (), {"burns": ("a burn", table)}, (), {}, shown=shown or {})


def test_a_long_table_is_cut_and_names_the_file_that_has_it_whole(shown):
    _page(LONG).table("burns", "Every burn")
    assert shown[0].count("<tr>") == MOST_ROWS + 1  # and its head
    assert f"The first {MOST_ROWS} of {len(LONG)}; table_burns.csv holds them all." in shown[0]
    shown.clear()
    _page(LONG.head(MOST_ROWS)).table("burns", "Every burn")
    assert "The first" not in shown[0]


def test_rows_that_are_no_table_of_the_record_are_told_from_those(shown):
    _page(LONG, {"burns": Shown("Notes", rows=LONG)}).table("burns")
    assert "results.json holds them all" in shown[0]
    assert "table_burns.csv" not in shown[0]


def test_the_file_beside_has_every_row_and_no_formula():
    table = LONG.assign(note="=1+1")
    record = {
        "tables": {
            "burns": table_record("a burn", table, "burns"),
            "few": table_record("a burn", table.head(3), "burns"),
        }
    }
    texts = long_tables(record, MOST_ROWS)
    assert list(texts) == [beside("burns")] == ["table_burns.csv"]
    back = pd.read_csv(io.StringIO(texts["table_burns.csv"]))
    assert back["candle"].tolist() == LONG["candle"].tolist()
    assert back["burn_time_h"].eq(4.0).all()
    assert back["note"].eq("'=1+1").all()


def test_tables_of_an_earlier_report_are_replaced_and_other_files_stay(tmp_path):
    old = tmp_path / "out"
    old.mkdir()
    (old / "table_burns.csv").write_text("old", encoding="utf-8")
    with whole_folder(old, ("page.html",), beside("*")) as new:
        (new / "page.html").write_text("new", encoding="utf-8")
    assert [path.name for path in old.iterdir()] == ["page.html"]
    (old / "burns.csv").write_text("mine", encoding="utf-8")
    with (
        pytest.raises(NotOurFolder, match=r"burns\.csv"),
        whole_folder(old, ("page.html",), beside("*")),
    ):
        pass


@pytest.mark.slow
def test_a_report_with_tables_beside_it_is_packed_and_verified(tmp_path):
    from candlelab.report.make import make_report
    from candlelab.share.pack import make_pack
    from candlelab.share.verify import verify_pack
    from candlelab.simulate.batch import simulate_many
    from candlelab.simulate.demo import SCREENING_TOML

    write_batch(
        simulate_many(80, seed=1, burns_per_candle=7).tables, SCREENING_TOML, tmp_path / "b"
    )
    html = make_report(tmp_path / "b", tmp_path / "report")
    rows = pd.read_csv(tmp_path / "report" / "table_burns.csv")
    assert len(rows) == 80 * 7
    text = html.read_text(encoding="utf-8")
    assert re.search(r"The first 500 of 560; table_burns\.csv holds them all\.", text)
    assert html.stat().st_size < 5e6
    packed = make_pack([tmp_path / "report"], tmp_path / "pack.zip")
    found = verify_pack(packed.path).findings
    level = dict(zip(found["step"], found["level"], strict=True))
    assert level["manifest"] == level["numbers"] == "fine"
    assert "problem" not in level.values(), found.to_string()

"""The workbook of a plan: what it offers, what it leaves open, and that it reads as CSV does."""

import io
import re
import shutil
import zipfile

import openpyxl
import pandas as pd
import pytest
from batches import read
from benches import Bench
from books import SOFFICE, by_libreoffice
from filled import book_style, burned, fill_in, three_by_three

from candlelab.logs.batch import check_batch
from candlelab.logs.columns import PLANNED, TABLES
from candlelab.logs.problems import MUST_FIX
from candlelab.logs.writer import write_batch
from candlelab.plan import folder as planning
from candlelab.plan.planned import read_plan
from candlelab.plan.workbook import BOOK, workbook_bytes

pytestmark = pytest.mark.slow
needs_libreoffice = pytest.mark.skipif(SOFFICE is None, reason="no LibreOffice")


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    return read_plan(three_by_three(tmp_path_factory.mktemp("plan")))


@pytest.fixture(scope="module")
def data(planned):
    return workbook_bytes(planned, style=book_style(planned))


@pytest.fixture(scope="module")
def book(data):
    """The workbook, opened; never changed."""
    return openpyxl.load_workbook(io.BytesIO(data))


@pytest.fixture(scope="module")
def filled(planned, data, tmp_path_factory):
    """A workbook that was filled in, the number of cells that were typed, and the same as CSV."""
    folder = tmp_path_factory.mktemp("filled")
    tables = burned(planned)
    (folder / BOOK).write_bytes(data)
    typed = fill_in(folder / BOOK, planned, tables)
    plain = folder / "csv"
    toml = planning.batch_toml(planned.plan.settings)
    write_batch(tables | {"candles": planned.candles, "wicks": planned.wicks}, toml, plain)
    assert check_batch(plain).empty
    return folder / BOOK, typed, plain


def test_the_same_plan_gives_the_same_bytes(planned, data):
    assert workbook_bytes(read_plan(planned_file(planned)), style=book_style(planned)) == data
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        core = archive.read("docProps/core.xml").decode()
    assert re.findall(r"\d{4}-\d\d-\d\dT", core) == ["2026-09-07T"] * 2  # the day of pouring
    assert "candlelab" in core


def planned_file(planned):
    import tempfile
    from pathlib import Path

    folder = Path(tempfile.mkdtemp())
    for name, content in planned.files.items():
        (folder / name).write_bytes(content)
    return folder / "plan.toml"


def test_a_sheet_for_each_table_and_todays_session_first(book, planned):
    assert book.sheetnames[0] == "sessions"
    assert book.active.title == "sessions"
    wanted = {"candles", "burns", "checks", "wicks", "wick_changes", "exclusions"}
    assert wanted <= set(book.sheetnames)
    sheet = book["sessions"]
    assert sheet.max_row == 4 + len(planned.sessions)
    marks = [rule.formula for rules in sheet.conditional_formatting for rule in rules.rules]
    assert marks == [["INT($D5)=TODAY()"]]
    assert sheet["A5"].value == '=IF(INT(D5)=TODAY(),"TODAY","")'  # and not by its color alone
    for row, session in enumerate(planned.sessions.itertuples(), start=5):
        for column, name in (("B", "burns"), ("C", "checks")):
            there = sheet[f"{column}{row}"].hyperlink.location
            assert there.startswith(f"{name}!A")
            place = int(there.removeprefix(f"{name}!A"))
            assert book[name].cell(place, 2).value == session.burn
            assert book[name].cell(place - 1, 2).value != session.burn  # its first row


def test_each_heading_says_what_belongs_there(book):
    for name, spec in TABLES.items():
        if name not in book.sheetnames:
            continue
        sheet = book[name]
        assert len(sheet[1]) == len(spec.columns)
        for cell, column in zip(sheet[1], spec.columns, strict=True):
            assert column.meaning[1:12] in cell.comment.text
            if column.unit:
                assert cell.value.endswith(f"[{column.unit}]")
        assert sheet.freeze_panes is not None
        frozen = sheet.freeze_panes
        assert frozen.endswith("2")
    wall = book["checks"]["F1"]
    assert wall.value == "Wall [°C]"
    assert "Usually 15 to 110 °C." in wall.comment.text
    assert "Marked above 60 °C." in wall.comment.text


def test_what_the_plan_knows_is_locked_and_every_reading_is_open(book):
    for sheet in book:
        assert sheet.protection.sheet
        assert sheet.protection.password is None
    for name in ("burns", "checks"):
        for cells in book[name].iter_rows(min_row=2, max_row=8):
            for cell, column in zip(cells, TABLES[name].columns, strict=True):
                known = column.name in PLANNED[name]
                assert cell.protection.locked == known, cell.coordinate
                assert bool(cell.value) == (known or str(cell.value).startswith("=IF("))
    below = book["burns"].max_row
    assert not book["burns"].cell(below, 1).protection.locked  # a burn that was not planned


def test_lists_for_choices_and_ranges_that_only_warn(book):
    rules = {str(rule.sqref): rule for rule in book["checks"].data_validations.dataValidation}
    of = {cells[0]: rule for cells, rule in rules.items()}
    assert of["I"].formula1 == '"0,1,2,3"'  # soot
    assert of["L"].formula1 == '"yes,no"'
    wall = of["F"]
    assert (wall.type, wall.formula1, wall.formula2) == ("decimal", "15", "110")
    assert wall.errorStyle == "warning"  # warned about, and never refused


def test_a_reading_over_its_limit_is_marked_by_a_sign_and_not_by_color_alone(book):
    found = {}
    for cells in book["checks"].conditional_formatting:
        for rule in cells.rules:
            found.setdefault(str(cells.sqref)[0], []).append((rule.formula[0], rule.dxf))
    assert set(found) == set("EFHIKLMNOP")  # flame, wall, pool depth, soot, what must not be
    (stop, look), (caution, _) = found["F"]
    assert sorted([stop[-4:], caution[-4:]]) == [">60)", ">65)"]
    for own in found.values():
        for _, dxf in own:
            assert dxf.font.b
            assert dxf.numFmt.formatCode.startswith('"!')
    assert look.fill is not None


def test_units_are_the_readers(tmp_path):
    """A plan in grams for a reader of ounces and inches: the workbook and the tables agree."""
    file = three_by_three(tmp_path / "plan")
    file.write_text(file.read_text("utf-8") + '\n[display]\nunits = "us"\n', "utf-8")
    planned = read_plan(file)
    data = workbook_bytes(planned, style=book_style(planned))
    book = openpyxl.load_workbook(io.BytesIO(data))
    heads = [cell.value for cell in book["checks"][1]]
    assert heads[4:7] == ["Flame height [in]", "Wall [°F]", "Pool diameter [in]"]
    assert "Marked above 140 °F." in book["checks"]["F1"].comment.text
    fill = book["candles"]["F2"].value * 28.349523125
    assert fill == pytest.approx(float(planned.candles["fill_mass_g"].iloc[0]), abs=0.1)
    folder = folder_of_plan(planned, data, tmp_path / "batch")
    (folder / planning.PLAN_RECORD).unlink()  # so that both are read, and must be the same
    assert check_batch(folder).empty


def test_a_workbook_that_nobody_filled_in_is_a_batch_that_was_not_burned(planned, data, tmp_path):
    (tmp_path / BOOK).write_bytes(data)
    (tmp_path / "batch.toml").write_text(planning.batch_toml(planned.plan.settings), "utf-8")
    assert check_batch(tmp_path).empty
    batch = read(tmp_path)
    assert (len(batch.candles), len(batch.burns), len(batch.checks)) == (9, 0, 0)


def test_a_maker_types_at_most_1300_of_6399_cells(planned, filled):
    """What the same batch takes as plain tables: 11 cells a candle, 10 a burn, 15 a check."""
    burns, checks = len(planned.burns), len(planned.checks)
    assert (burns, checks) == (90, 360)
    assert 9 * 11 + burns * 10 + checks * 15 == 6399
    _, typed, _ = filled
    assert typed["answers"] == 9 * len(planned.sessions)
    assert sum(typed.values()) <= 1300


@needs_libreoffice
@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_filled_in_and_saved_by_libreoffice_it_reads_as_the_same_batch_in_csv(
    filled, tmp_path, kind
):
    path, _, plain = filled
    folder = tmp_path / "batch"
    folder.mkdir()
    by_libreoffice(path, kind, folder, tmp_path / "home")
    shutil.copy(plain / "batch.toml", folder)
    assert check_batch(folder).to_dict("records") == []
    batch, same = read(folder), read(plain)
    for table in TABLES:
        pd.testing.assert_frame_equal(getattr(batch, table), getattr(same, table))


@needs_libreoffice
def test_a_workbook_that_libreoffice_saved_unfilled_is_still_not_burned(planned, data, tmp_path):
    (tmp_path / "made").mkdir()
    (tmp_path / "made" / BOOK).write_bytes(data)
    folder = tmp_path / "batch"
    folder.mkdir()
    by_libreoffice(tmp_path / "made" / BOOK, "xlsx", folder, tmp_path / "home")
    (folder / "batch.toml").write_text(planning.batch_toml(planned.plan.settings), "utf-8")
    assert check_batch(folder).empty
    assert len(read(folder).burns) == 0


@needs_libreoffice
def test_nothing_is_filled_in_for_a_candle_that_was_not_weighed_or_not_looked_at(
    planned, data, tmp_path
):
    """All answers are given, and only one candle has readings: the others have none."""
    tables = burned(planned)
    (tmp_path / BOOK).write_bytes(data)
    fill_in(tmp_path / BOOK, planned, tables)
    book = openpyxl.load_workbook(tmp_path / BOOK)
    for name, column in (("burns", "F"), ("checks", "E")):
        for row in range(2, book[name].max_row + 1):
            if (book[name].cell(row, 1).value, book[name].cell(row, 2).value) != ("C01", 1):
                for cell in book[name][row]:
                    typed = not cell.protection.locked and not str(cell.value).startswith("=")
                    cell.value = None if typed else cell.value
        assert book[name][f"{column}2"].value is not None
    book.save(tmp_path / BOOK)
    folder = tmp_path / "batch"
    folder.mkdir()
    by_libreoffice(tmp_path / BOOK, "xlsx", folder, tmp_path / "home")
    (folder / "batch.toml").write_text(planning.batch_toml(planned.plan.settings), "utf-8")
    problems = check_batch(folder)
    assert MUST_FIX not in set(problems["level"]), problems
    batch = read(folder)
    assert batch.burns[["candle", "burn"]].values.tolist() == [["C01", 1]]
    assert len(batch.checks) == 4


def folder_of_plan(planned, data, folder):
    """A plan's folder, without the pages that take a notebook to make."""
    import json

    folder.mkdir()
    planning._write_batch(planned, folder)
    (folder / "wicks.csv").write_bytes(planned.files["wicks.csv"])
    (folder / BOOK).write_bytes(data)
    record = {planning.PLAN_DIGESTS: planning._digests(folder)}
    (folder / planning.PLAN_RECORD).write_text(json.dumps(record), "utf-8")
    return folder


def test_whichever_was_filled_in_counts_the_tables_or_the_workbook(planned, data, filled, tmp_path):
    path, _, plain = filled
    untouched = folder_of_plan(planned, data, tmp_path / "untouched")
    assert check_batch(untouched).empty
    by_hand = folder_of_plan(planned, data, tmp_path / "tables")
    for name in ("burns.csv", "checks.csv"):
        shutil.copy(plain / name, by_hand)
    assert check_batch(by_hand).empty
    batch = read(by_hand)
    assert len(batch.burns) == 90
    assert BOOK not in set(batch.files["file"])
    if SOFFICE is None:
        return
    in_the_book = folder_of_plan(planned, data, tmp_path / "workbook")
    by_libreoffice(path, "xlsx", in_the_book, tmp_path / "home")
    assert check_batch(in_the_book).empty
    batch = read(in_the_book)
    assert len(batch.burns) == 90
    assert set(batch.files["file"]) == {"batch.toml", "candles.csv", "wicks.csv", BOOK}
    shutil.copy(plain / "burns.csv", in_the_book)  # the same in both: no matter
    assert check_batch(in_the_book).empty
    text = (plain / "burns.csv").read_text("utf-8").splitlines()
    (in_the_book / "burns.csv").write_text("\n".join(text[:-1]) + "\n", "utf-8")
    problems = check_batch(in_the_book)
    assert "table in two places" in set(problems["problem"])


@needs_libreoffice
def test_a_workbook_saved_without_a_reading_leaves_the_bench_its_tables(planned, data, tmp_path):
    """Somebody looked into the workbook and saved it; the burns are logged on the bench page."""
    folder = folder_of_plan(planned, data, tmp_path / "batch")
    by_libreoffice(folder / BOOK, "xlsx", tmp_path, tmp_path / "home")
    shutil.copy(tmp_path / BOOK, folder)
    day = planned.due["due_at"].iloc[0].to_pydatetime()
    bench = Bench(folder, day)
    bench.whole_burn("C01", 1, before=500.0)
    assert check_batch(folder).empty
    batch = read(folder)
    assert batch.burns[["candle", "burn"]].values.tolist() == [["C01", 1]]
    assert BOOK not in batch.problems["file"].tolist()


@needs_libreoffice
def test_fills_that_were_weighed_into_the_workbook_count(planned, data, tmp_path):
    folder = folder_of_plan(planned, data, tmp_path / "batch")
    book = openpyxl.load_workbook(folder / BOOK)
    book["candles"]["F2"] = 201.3
    book.save(folder / BOOK)
    assert check_batch(folder).empty
    assert read(folder).candles["fill_mass_g"].iloc[0] == 201.3
    text = (folder / "candles.csv").read_text("utf-8").replace("C02", "C02", 1)
    (folder / "candles.csv").write_text(text.replace(",0.0,", ",0.1,") + "\n", "utf-8")
    assert check_batch(folder)["problem"].tolist()[0] == "table in two places"

"""Workbooks in place of CSV tables: read alike, and every broken one with its sheet and cell."""

import functools
import io
import shutil
import time
import zipfile
from datetime import datetime, timedelta

import openpyxl
import pandas as pd
import pytest
from batches import burn, candle, checks, read, write
from books import book_of, in_book
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl.utils.datetime import CALENDAR_MAC_1904
from places import DEMO

from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.columns import TABLES
from candlelab.logs.problems import LOOK, MUST_FIX, problem_lines

CHANGE = {"candle": "A1", "before_burn": 2, "wick_series": "flat braid", "wick_size": "3"}


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    """A batch of two burns as CSV, without a problem; never written to."""
    seen = [*checks("A1", 1), *checks("A1", 2)]
    burns = [burn("A1", 1, 19), burn("A1", 2, 18.5)]
    folder = tmp_path_factory.mktemp("source")
    write(folder, [candle("A1")], burns, seen, wick_changes=[CHANGE])
    assert check_batch(folder).empty
    return folder


def rows_told(problems):
    return [tuple(p) for p in problems[["level", "problem", "cell"]].values]


def told(folder):
    return rows_told(check_batch(folder))


def put(sheet, **cells):
    """A change of a workbook: values by cell, which may be a value with a number format."""

    def change(book):
        for place, value in cells.items():
            value, shown = value if isinstance(value, tuple) else (value, None)
            book[sheet][place] = value
            if shown:
                book[sheet][place].number_format = shown

    return change


def merged(book):
    book["checks"].merge_cells("A2:A5")


def hidden(book):
    book["checks"].row_dimensions[3].hidden = True
    book["checks"].row_dimensions[4].hidden = True
    book["checks"].auto_filter.ref = "A1:P9"


def filtered(book):
    book["checks"].auto_filter.ref = "A1:P9"


def titles(book):
    """A title above, a comment between, a total below, as studios have them."""
    sheet = book["burns"]
    sheet.insert_rows(1, 3)
    sheet["A1"] = "Burn log of the tumbler"
    sheet.merge_cells("A1:F1")
    sheet.insert_rows(6)
    sheet["A6"] = "Second week: new draft screen"
    sheet["A8"], sheet["E8"], sheet["F8"] = "Total", 781, 743.5
    sheet["A9"] = "# checked by hand"


def elsewhere(book):
    book["burns"].insert_rows(1, 4)
    book["burns"].insert_cols(1, 2)
    book["burns"]["H7"] = "heavy"


def units_below(book):
    book["checks"].insert_rows(2)
    for place, unit in {"C2": "minutes", "D2": "mm", "E2": "Celsius"}.items():
        book["checks"][place] = unit


def renamed(old, new):
    def change(book):
        book[old].title = new

    return change


def twice(book):
    copy = book.copy_worksheet(book["wick_changes"])
    copy.title = "Wick changes"


def two_columns(book):
    book["burns"]["L1"], book["burns"]["L2"] = "Mass after [oz]", 13.4


def apart(book):
    """Day and clock in two columns."""
    sheet = book["burns"]
    sheet["C1"], sheet["D1"], sheet["L1"] = "Lit", "Out", "Date"
    for row in (2, 3):
        moments = sheet.cell(row, 3).value, sheet.cell(row, 4).value
        sheet.cell(row, 12, moments[0].date())
        for column, moment in zip((3, 4), moments, strict=True):
            sheet.cell(row, column, moment.time())


def mac(book):
    book.epoch = CALENDAR_MAC_1904


def as_flags(book):
    for row in book["checks"].iter_rows(min_row=2, min_col=11, max_col=15):
        for cell in row:
            cell.value = cell.value == "yes"


def as_texts(book):
    """Numbers and moments as text, as an import leaves them."""
    for name in ("burns", "checks"):
        for row in book[name].iter_rows(min_row=2):
            for cell in row:
                if isinstance(cell.value, float):
                    cell.value = f"{cell.value:g}"
                elif isinstance(cell.value, datetime):
                    cell.value = f"{cell.value:%Y-%m-%d %H:%M}"


def commas(book):
    book["burns"]["F2"], book["burns"]["F3"] = "381,0", "362,5"


def percent(book):
    book["candles"]["G2"] = "lemon"
    book["candles"]["H2"] = 0.08
    book["candles"]["H2"].number_format = "0.0%"


# What is changed in the workbook, and what check then says: level, problem, cell.
# fmt: off
CASES = {
    "nothing": (lambda book: None, []),
    "an error of a formula": (
        put("burns", F2="#DIV/0!"), [(MUST_FIX, "formula with an error", "burns!F2")]),
    "a missing reference in a note": (
        put("burns", K2="#REF!"), [(MUST_FIX, "formula with an error", "burns!K2")]),
    "a formula that was never worked out": (
        put("burns", F2="=E2-19"), [(MUST_FIX, "formula without a value", "burns!F2")]),
    "merged cells": (merged, [(MUST_FIX, "merged cells", f"checks!A{n}") for n in (3, 4, 5)]),
    "hidden rows": (hidden, [(LOOK, "hidden rows", "checks!A3")]),
    "a filter that hides nothing": (filtered, []),
    "numbers and moments as text": (as_texts, []),
    "decimal commas as text": (commas, []),
    "a thousands mark as text": (
        put("burns", F2="1,381"),
        [(MUST_FIX, "decimal comma among decimal dots", "burns!F2")]),
    "a unit in the cell": (
        put("burns", F2="381 g"), [(MUST_FIX, "text where a number belongs", "burns!F2")]),
    "a row of units": (units_below, [(MUST_FIX, "second heading row", "checks!A2")]),
    "a date as text in either order": (
        put("burns", C2="01/06/2026 09:00"),
        [(MUST_FIX, "ambiguous date", "burns!C2")]),
    "a day without its clock": (
        put("burns", C2=(datetime(2026, 6, 1), "yyyy-mm-dd")),
        [(MUST_FIX, "time of day missing", "burns!C2")]),
    "a clock without its day": (
        put("burns", C2=(datetime(2026, 6, 1, 9).time(), "hh:mm")),
        [(MUST_FIX, "not a date and time", "burns!C2")]),
    "a time over 24 h": (
        put("burns", D2=(timedelta(hours=28), "[h]:mm")),
        [(MUST_FIX, "not a date and time", "burns!D2")]),
    "a day number without its format": (
        put("burns", C2=(46174.375, "General")),
        [(MUST_FIX, "a spreadsheet's number for a date", "burns!C2")]),
    "a fraction that became a date": (
        put("checks", G2=(datetime(2026, 4, 3), "d-mmm")),
        [(MUST_FIX, "text where a number belongs", "checks!G2")]),
    "a percentage among weights": (
        put("burns", F2=(0.08, "0%")), [(MUST_FIX, "text where a number belongs", "burns!F2")]),
    "a load as a percentage": (percent, []),
    "day and clock apart": (apart, []),
    "day numbers from 1904": (mac, []),
    "yes and no as booleans": (as_flags, []),
    "words for a number": (
        put("checks", E4="n/a"), [(MUST_FIX, "text where a number belongs", "checks!E4")]),
    "a number that cannot be": (
        put("checks", E4=-300), [(MUST_FIX, "impossible value", "checks!E4")]),
    "an empty cell": (put("burns", D3=None), [(MUST_FIX, "empty cell", "burns!D3")]),
    "titles, comments and totals": (titles, []),
    "a table that begins elsewhere": (
        elsewhere, [(MUST_FIX, "text where a number belongs", "burns!H7")]),
    "a sheet of another name": (
        renamed("burns", "Week 1"), [(MUST_FIX, "sheet of another name", "")]),
    "a name in other letters": (renamed("wick_changes", "Wick Changes"), []),
    "a fault in a sheet with a blank in its name": (
        lambda book: (renamed("wick_changes", "Wick changes")(book),
                      put("Wick changes", D2="9")(book)),
        [(MUST_FIX, "unknown wick size", "'Wick changes'!D2")]),
    "two sheets for one table": (twice, [(MUST_FIX, "two sheets for one table", "")]),
    "two columns for one quantity": (
        two_columns, [(MUST_FIX, "two columns for one quantity", "burns!L1")]),
    "a column without a name": (
        put("burns", L2=3), [(LOOK, "column without a name", "burns!A1")]),
    "a heading of the studio's own": (
        put("burns", E1="Start wt (g)"), [(MUST_FIX, "heading of your own", "burns!E1")]),
    "a heading without its unit": (
        put("burns", E1="Mass before"), [(MUST_FIX, "unit missing", "burns!E1")]),
    "a heading with a line end": (put("burns", E1="Mass before\n(g)"), []),
    "an empty sheet": (
        lambda book: book["burns"].delete_rows(1, 9), [(MUST_FIX, "empty sheet", "burns")]),
    "headings alone": (
        lambda book: book["burns"].delete_rows(2, 9),
        [(LOOK, "table without rows", "burns!A1"),
         (MUST_FIX, "burn that does not exist", "checks!B2"),
         (MUST_FIX, "burn that does not exist", "checks!B6"),
         (MUST_FIX, "wick change before a burn that does not exist", "wick_changes!B2")]),
    "a row given twice": (
        lambda book: book["burns"].append([cell.value for cell in book["burns"][3]]),
        [(MUST_FIX, "row given twice", "burns!B4")]),
    "a cell far to the right": (
        put("burns", ZZ2="x"), [(MUST_FIX, "workbook too large", "")]),
    "a sheet of one's own": (lambda book: book.create_sheet("ideas").append(["try a tin"]), []),
    "a copy of a sheet": (
        lambda book: setattr(book.copy_worksheet(book["burns"]), "title", "burns old"),
        [(LOOK, "sheet of another name", "")]),
}
# fmt: on


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_a_workbook_is_read_or_told_of_with_its_cell(source, tmp_path, name):
    change, expected = CASES[name]
    folder = in_book(source, tmp_path, change=change)
    before = (folder / "log.xlsx").read_bytes()
    problems = check_batch(folder)
    assert sorted(rows_told(problems)) == sorted(expected)
    for line in problem_lines(problems):
        assert line.split(": ")[1].startswith("log.xlsx"), line
    if not expected or ({level for level, _, _ in expected} == {LOOK} and name != "headings alone"):
        batch, same = read_batch(folder), read(source)
        for table in ("burns", "checks", "wick_changes"):
            pd.testing.assert_frame_equal(getattr(batch, table), getattr(same, table))
        assert batch.files["file"].tolist() == ["batch.toml", "log.xlsx"]
    assert (folder / "log.xlsx").read_bytes() == before
    assert sorted(path.name for path in folder.iterdir()) == ["batch.toml", "log.xlsx"]


def zipped(files):
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return data.getvalue()


@functools.cache
def _parts(source):
    data = io.BytesIO()
    book_of(source).save(data)
    with zipfile.ZipFile(data) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def parts(source):
    """The parts of the workbook of a batch that nobody writes to."""
    return dict(_parts(source))


def sheet_xml(files, old, new):
    """The parts of a workbook with a text of the sheet of burns (the second) replaced."""
    name = "xl/worksheets/sheet2.xml"
    assert old in files[name]
    return files | {name: files[name].replace(old, new, 1)}


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504)
ENTITY = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;">]><worksheet '
FILES = {
    "a password": (
        lambda f: OLE + "EncryptedPackage".encode("utf-16-le"), "workbook with a password"),
    "the older kind": (lambda f: OLE + b"Workbook", "workbook of an older kind"),
    "the binary kind": (lambda f: zipped({"xl/workbook.bin": b"x"}), "workbook of an older kind"),
    "text": (lambda f: b"candle,burn\nA1,1\n", "no workbook"),
    "a web page": (lambda f: b"<html><table><tr><td>candle</td></tr></table>", "no workbook"),
    "an empty file": (lambda f: b"", "no workbook"),
    "another kind of zip": (lambda f: zipped({"word/document.xml": b"<w/>"}), "no workbook"),
    "a file cut short": (lambda f: zipped(f)[:-200], "workbook that is not opened"),
    "a bomb": (
        lambda f: zipped(f | {"xl/media/a.bin": bytes(55_000_000)}), "workbook that is not opened"),
    "a name that leads out": (lambda f: zipped(f | {"../x": b"x"}), "workbook that is not opened"),
    "entities": (
        lambda f: zipped(sheet_xml(f, b"<worksheet ", ENTITY)), "damaged workbook"),
    "broken XML": (lambda f: zipped(sheet_xml(f, b"</row>", b"</roww>")), "damaged workbook"),
    "a part that is missing": (
        lambda f: zipped({n: f[n] for n in f if n != "xl/workbook.xml"}), "damaged workbook"),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", FILES)
def test_a_file_that_is_no_workbook_is_told_once(source, tmp_path, name):
    make, problem = FILES[name]
    (tmp_path / "batch.toml").write_bytes((source / "batch.toml").read_bytes())
    (tmp_path / "log.xlsx").write_bytes(make(parts(source)))
    (row,) = check_batch(tmp_path).to_dict("records")
    assert (row["level"], row["problem"], row["file"]) == (MUST_FIX, problem, "log.xlsx")
    assert row["what_to_do"]


def test_nothing_of_a_workbook_is_run_and_links_are_not_followed(source, tmp_path):
    """Macros, links to other files, web queries: parts that nobody looks at."""
    canary = tmp_path / "canary"
    more = {
        "xl/vbaProject.bin": b"Sub Auto_Open()",
        "xl/externalLinks/externalLink1.xml": f"<externalLink>{canary.as_uri()}</externalLink>",
        "xl/connections.xml": f'<connections><connection odcFile="{canary}"/></connections>',
    }
    link = b"<f>'[1]Sheet'!$A$1</f><v>381</v>"
    files = parts(source)
    cell = next(
        c for c in files["xl/worksheets/sheet2.xml"].split(b"<c ") if c.startswith(b'r="F2"')
    )
    value = cell[cell.index(b"<v>") : cell.index(b"</v>") + 4]
    changed = cell.replace(value, link)
    folder = tmp_path / "batch"
    folder.mkdir()
    shutil.copy(source / "batch.toml", folder)
    (folder / "log.xlsm").write_bytes(zipped(sheet_xml(files, cell, changed) | more))
    assert told(folder) == []
    assert read_batch(folder).burns["mass_after_g"].tolist() == [381.0, 362.5]
    assert not canary.exists()


def test_ranges_over_the_whole_sheet_take_no_time(source, tmp_path):
    every = b'<mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells></worksheet>'
    far = b'<row r="1048576"><c r="A1048576"><v>1</v></c></row></sheetData>'
    files = sheet_xml(parts(source), b"</worksheet>", every)
    files = sheet_xml(files, b"</sheetData>", far)
    shutil.copy(source / "batch.toml", tmp_path)
    (tmp_path / "log.xlsx").write_bytes(zipped(files))
    begun = time.process_time()
    problems = check_batch(tmp_path)
    assert time.process_time() - begun < 10
    assert "merged cells" in set(problems["problem"])


def test_a_range_that_a_program_noted_too_small_hides_no_row(source, tmp_path):
    files = parts(source)
    xml = files["xl/worksheets/sheet2.xml"]
    noted = xml[xml.index(b"<dimension") : xml.index(b"/>", xml.index(b"<dimension")) + 2]
    shutil.copy(source / "batch.toml", tmp_path)
    data = zipped(sheet_xml(files, noted, b'<dimension ref="A1:B2"/>'))
    (tmp_path / "log.xlsx").write_bytes(data)
    assert told(tmp_path) == []
    assert len(read_batch(tmp_path).burns) == 2


OFFICE = (
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
)


_unchanged = functools.cache(book_of)  # of a batch that nobody writes to


def ods(source, **cells):
    """A small .ods of the batch, written as OASIS OpenDocument 1.3 has it; cells by sheet_A1."""
    tables = []
    for sheet in _unchanged(source):
        rows = []
        for row in sheet.iter_rows():
            made = [cells.get(f"{sheet.title}_{c.coordinate}") or ods_cell(c.value) for c in row]
            rows.append(f"<table:table-row>{''.join(made)}</table:table-row>")
        tables.append(f'<table:table table:name="{sheet.title}">{"".join(rows)}</table:table>')
    body = f"<office:body><office:spreadsheet>{''.join(tables)}</office:spreadsheet></office:body>"
    return {
        "mimetype": "application/vnd.oasis.opendocument.spreadsheet",
        "content.xml": f"<office:document-content {OFFICE}>{body}</office:document-content>",
        "META-INF/manifest.xml": "<manifest/>",
    }


def ods_cell(value):
    if value is None:
        return "<table:table-cell/>"
    if isinstance(value, float):
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'
    if isinstance(value, datetime):
        return (
            '<table:table-cell office:value-type="date" '
            f'office:date-value="{value:%Y-%m-%dT%H:%M:%S}"/>'
        )
    return (
        f'<table:table-cell office:value-type="string"><text:p>{value}</text:p></table:table-cell>'
    )


_CELL = "<table:table-cell {}><text:p>{}</text:p></table:table-cell>"
ODS = {
    "nothing": ({}, []),
    "an error": (
        {"burns_F2": _CELL.format('table:formula="of:=1/0" office:value-type="string" '
                                  'calcext:value-type="error"', "#DIV/0!")},
        [(MUST_FIX, "formula with an error", "burns!F2")]),
    "an error of another program": (
        {"burns_F2": _CELL.format('table:formula="of:=f()" office:value-type="string"', "Err:508")},
        [(MUST_FIX, "formula with an error", "burns!F2")]),
    "a formula with its value": (
        {"burns_F2": '<table:table-cell table:formula="of:=[.E2]-19" office:value-type="float" '
                     'office:value="381"/>'}, []),
    "a formula without its value": (
        {"burns_F2": '<table:table-cell table:formula="of:=[.E2]-19"/>'},
        [(MUST_FIX, "formula without a value", "burns!F2")]),
    "an empty text from a formula": (
        {"burns_H2": _CELL.format('table:formula="of:=&quot;&quot;"', "")}, []),
    "a percentage": (
        {"burns_F2": '<table:table-cell office:value-type="percentage" office:value="0.08"/>'},
        [(MUST_FIX, "text where a number belongs", "burns!F2")]),
    "an amount of money": (
        {"burns_F2": '<table:table-cell office:value-type="currency" office:value="381"/>'}, []),
    "a time over 24 h": (
        {"burns_D2": '<table:table-cell office:value-type="time" office:time-value="PT28H0M0S"/>'},
        [(MUST_FIX, "not a date and time", "burns!D2")]),
    "a comment on a cell": (
        {"burns_F2": '<table:table-cell office:value-type="float" office:value="381">'
                     "<office:annotation><text:p>scale was slow</text:p></office:annotation>"
                     "<text:p>381</text:p></table:table-cell>"}, []),
    "a cell over several rows": (
        {"checks_A2": '<table:table-cell table:number-rows-spanned="2" office:value-type="string">'
                      "<text:p>A1</text:p></table:table-cell>",
         "checks_A3": "<table:covered-table-cell/>"},
        [(MUST_FIX, "merged cells", "checks!A3")]),
    "a cell that stands for a billion": (
        {"burns_K2": '<table:table-cell table:number-columns-repeated="1000000" '
                     'office:value-type="string"><text:p>x</text:p></table:table-cell>'},
        [(MUST_FIX, "workbook too large", "")]),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", ODS)
def test_an_open_document_is_read_or_told_of_with_its_cell(source, tmp_path, name):
    cells, expected = ODS[name]
    shutil.copy(source / "batch.toml", tmp_path)
    (tmp_path / "log.ods").write_bytes(zipped(ods(source, **cells)))
    assert told(tmp_path) == expected
    if not expected:
        batch, same = read_batch(tmp_path), read(source)
        for table in TABLES:
            pd.testing.assert_frame_equal(getattr(batch, table), getattr(same, table))


def test_what_a_workbook_is_counts_and_not_its_name(source, tmp_path):
    shutil.copy(source / "batch.toml", tmp_path)
    (tmp_path / "log.xlsx").write_bytes(zipped(ods(source)))
    assert told(tmp_path) == []


def test_an_open_document_with_a_password(source, tmp_path):
    locked = {"META-INF/manifest.xml": "<manifest:encryption-data/>", "content.xml": "\x8f\x01"}
    shutil.copy(source / "batch.toml", tmp_path)
    (tmp_path / "log.ods").write_bytes(zipped(ods(source) | locked))
    assert told(tmp_path) == [(MUST_FIX, "workbook with a password", "")]


@pytest.mark.parametrize("name", ["log.xls", "log.numbers"])
def test_a_kind_of_workbook_that_is_not_read(source, tmp_path, name):
    shutil.copy(source / "batch.toml", tmp_path)
    (tmp_path / name).write_bytes(OLE)
    assert told(tmp_path) == [(MUST_FIX, "workbook of an older kind", "")]


def test_two_workbooks_are_one_too_many(source, tmp_path):
    in_book(source, tmp_path)
    in_book(source, tmp_path, "old.xlsx")
    assert told(tmp_path) == [(MUST_FIX, "more than one workbook", "")]


def test_the_lock_file_of_an_open_workbook_is_none(source, tmp_path):
    in_book(source, tmp_path)
    (tmp_path / "~$log.xlsx").write_bytes(b"x")
    (tmp_path / ".~lock.log.xlsx#").write_bytes(b"x")
    assert told(tmp_path) == []


def test_a_table_in_two_places_that_differ(source, tmp_path):
    shutil.copytree(source, tmp_path, dirs_exist_ok=True)
    in_book(source, tmp_path)
    assert told(tmp_path) == []  # the same twice
    in_book(source, tmp_path, change=put("burns", F2=380))
    (row,) = (
        p for p in check_batch(tmp_path).to_dict("records") if p["problem"] == "table in two places"
    )
    assert (row["level"], row["file"]) == (MUST_FIX, "log.xlsx")
    assert row["found"] == "the sheet burns and burns.csv"
    assert "Neither was read" in row["what_to_do"]


def test_one_table_named_by_its_file(source, tmp_path):
    """A folder of CSV tables in which one is a workbook of that name with one sheet."""
    shutil.copytree(source, tmp_path, dirs_exist_ok=True)
    book = openpyxl.Workbook()
    for row in book_of(source)["burns"].values:
        book.active.append(row)
    (tmp_path / "burns.csv").unlink()
    book.save(tmp_path / "burns.xlsx")
    assert told(tmp_path) == []
    assert len(read_batch(tmp_path).burns) == 2


def test_a_table_may_stand_in_a_csv_file_beside_the_workbook(source, tmp_path):
    def without_wicks(book):
        del book["wicks"]

    in_book(source, tmp_path, change=without_wicks)
    assert [row[1] for row in told(tmp_path)] == ["missing file"]
    shutil.copy(source / "wicks.csv", tmp_path)
    assert told(tmp_path) == []


def test_messages_speak_of_sheets_where_the_tables_are_sheets(source, tmp_path):
    folder = in_book(source, tmp_path, change=put("checks", A2="B7"))
    problems = check_batch(folder)
    problem, *_ = problems.to_dict("records")
    assert problem["problem"] == "unknown candle"
    assert problem["expected"] == "a candle of the sheet candles"
    line, *_ = problem_lines(problems)
    assert line.startswith("must fix: log.xlsx, checks!A2, candle B7, column candle: unknown ")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["screening", "waxes", "loads", "kitchen"])
def test_a_demo_batch_in_a_workbook_reads_as_its_csv_tables_do(tmp_path, name):
    folder = in_book(DEMO / name, tmp_path)
    batch, same = read_batch(folder), read(DEMO / name)
    for table in TABLES:
        pd.testing.assert_frame_equal(getattr(batch, table), getattr(same, table))
    texts = ["level", "problem", "row", "candle", "column", "found", "expected"]
    by = ["level", "problem", "row", "candle"]
    pd.testing.assert_frame_equal(
        batch.problems[texts].sort_values(by, ignore_index=True),
        same.problems[texts].sort_values(by, ignore_index=True),
    )


VALUES = st.one_of(
    st.text(max_size=12),
    st.integers(-5, 500).map(str),
    st.sampled_from(["12,5", "1,381", "381 g", "8%", "yes", "NO", "5/8", "2026-06-01 09:00",
                     "1/6/26 9:00 AM", "#N/A", "=1+1", "'=x", "total", "A1", " ", "0", "-1"]),
)  # fmt: skip


@pytest.mark.slow
@settings(max_examples=30)
@given(
    table=st.sampled_from(["burns", "checks", "candles"]),
    row=st.integers(2, 3), column=st.integers(1, 11), value=VALUES,
)  # fmt: skip
def test_a_text_in_a_cell_is_told_of_in_the_words_that_csv_has(
    tmp_path_factory, source, table, row, column, value
):
    """Any text in any cell, once in a CSV table and once as text in a sheet: the same is said."""
    import csv

    value = "".join(c for c in value if c.isprintable())
    folder = tmp_path_factory.mktemp("text")
    plain = shutil.copytree(source, folder / "csv")
    with open(plain / f"{table}.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    if row > len(rows) or column > len(rows[0]):
        return
    comma = "," in value and not any(c.isalpha() for c in value)
    if value.startswith("#") or value == "total" or (comma and value != "1,381"):
        return  # a comment or a total of a sheet; a comma that is a decimal mark there
    rows[row - 1][column - 1] = value
    with open(plain / f"{table}.csv", "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)

    def change(book):
        cell = book[table].cell(row, column)
        cell.value = value or None
        cell.data_type = "s" if value else "n"

    own = ["level", "problem", "row", "candle", "found"]
    lists = [
        sorted(map(tuple, check_batch(where)[own].astype("str").values))
        for where in (plain, in_book(source, folder / "book", change=change))
    ]
    assert lists[0] == lists[1]


@pytest.mark.slow
@settings(max_examples=25)
@given(cells=st.lists(
    st.tuples(
        st.sampled_from(["burns", "checks", "candles", "wicks"]),
        st.integers(1, 12), st.integers(1, 18),
        st.one_of(st.none(), st.booleans(), st.integers(), st.floats(allow_nan=False),
                  st.datetimes(datetime(1901, 1, 1), datetime(2200, 1, 1)), st.times(),
                  st.timedeltas(timedelta(0), timedelta(days=900)),
                  st.text(st.characters(codec="utf-8", categories=["L", "N", "P"]), max_size=9)),
    ), min_size=1, max_size=6))  # fmt: skip
def test_any_value_in_any_cell_gives_a_result_or_a_list(tmp_path_factory, source, cells):
    def change(book):
        for sheet, row, column, value in cells:
            book[sheet].cell(row, column, value)

    folder = in_book(source, tmp_path_factory.mktemp("any"), change=change)
    for row in check_batch(folder).itertuples():
        assert row.what_to_do
        assert row.cell or row.file == "batch.toml" or row.problem in (
            "sheet of another name", "damaged workbook", "workbook without a table"
        )  # fmt: skip


@pytest.mark.slow
@settings(max_examples=30)
@given(
    kind=st.sampled_from(["xlsx", "ods"]), part=st.integers(0, 40), at=st.floats(0, 1),
    how=st.sampled_from(["cut", "byte", "swap", "text"]), new=st.binary(min_size=1, max_size=6),
)  # fmt: skip
def test_any_bytes_in_any_part_give_a_result_or_a_list(
    tmp_path_factory, source, kind, part, at, how, new
):
    """A workbook of which one part is cut, changed or mixed up, in a zip that is whole."""
    files = parts(source) if kind == "xlsx" else ods(source)
    files = {n: d.encode() if isinstance(d, str) else d for n, d in files.items()}
    name = sorted(files)[part % len(files)]
    data = files[name]
    place = int(at * len(data))
    files[name] = {
        "cut": data[:place],
        "byte": data[:place] + new + data[place + len(new) :],
        "swap": data[place:] + data[:place],
        "text": data.replace(b"2", new),
    }[how]
    folder = tmp_path_factory.mktemp("bytes")
    shutil.copy(source / "batch.toml", folder)
    (folder / f"log.{kind}").write_bytes(zipped(files))
    for row in check_batch(folder).itertuples():
        assert row.problem
        assert row.level in (MUST_FIX, LOOK, "protocol")

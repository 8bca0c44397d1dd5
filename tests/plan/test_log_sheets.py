"""Log sheets: every required observation has its field, candles stand as
on the bench, and no sheet names the wick."""

import html.parser
import re

import pandas as pd
import pytest
from plans import DEMO_PLAN, plan_file

from candlelab.judge.criteria import STANDARDS, studio_criteria
from candlelab.logs.columns import TABLES
from candlelab.logs.settings import Limits
from candlelab.pages.words import CAUTIONS_LIT
from candlelab.plan.log_sheets import LETTERS, PAPERS, sheets_html
from candlelab.plan.planned import read_plan

KEYS = {"candle", "burn", "due_at"}  # printed, or not asked
VOID = {"meta", "link", "br", "img", "hr", "input"}


class Sheets(html.parser.HTMLParser):
    """Every sheet as its kind, title, text and tables; a table is its head
    (columns) and its rows, a cell its text and boxes."""

    def __init__(self, text):
        super().__init__()
        self.sheets, self.stack, self._row = [], [], None
        self.feed(text)
        self.close()
        assert self.stack == []

    def handle_starttag(self, tag, attrs):
        attrs = dict(attrs)
        if tag not in VOID:
            self.stack.append(tag)
        if tag == "section":
            self.sheets.append({"kind": attrs["class"].split()[1], "text": "", "tables": []})
        elif tag == "table":
            self.sheets[-1]["tables"].append({"columns": [], "rows": []})
        elif tag == "tr":
            self._row = []
        elif tag in ("th", "td"):
            self._row.append({"text": "", "boxes": 0, "column": attrs.get("data-column")})
        elif tag == "b" and "td" in self.stack:
            self._row[-1]["boxes"] += 1

    def handle_endtag(self, tag):
        assert self.stack.pop() == tag
        if tag == "tr":
            table = self.sheets[-1]["tables"][-1]
            if "thead" in self.stack:
                table["columns"] = [cell["column"] for cell in self._row]
                table["head"] = [cell["text"] for cell in self._row]
            else:
                table["rows"].append(self._row)

    def handle_data(self, data):
        if self.sheets:
            data = data.replace("\u00a0", " ")
            self.sheets[-1]["text"] += data
        if self._row and {"th", "td"} & set(self.stack):
            self._row[-1]["text"] += data


@pytest.fixture(scope="module")
def planned():
    return read_plan(DEMO_PLAN / "plan.toml")


@pytest.fixture(scope="module", params=PAPERS)
def sheets(request, planned):
    return Sheets(sheets_html(planned, request.param)).sheets


def of_session(sheets, kind, n):
    """The sheets of the day of a session."""
    return [
        sheet
        for sheet in sheets
        if sheet["kind"] == kind and re.search(rf"Session {n}, burn", sheet["text"])
    ]


def checks_of(sheets, n):
    """Tables of the checks of a session, in the order of the rounds."""
    tables = [table for sheet in of_session(sheets, "checks", n) for table in sheet["tables"]]
    return [table for table in tables if table["head"][0].startswith(f"session {n}candle")]


@pytest.mark.slow
def test_every_column_of_the_logs_has_its_field_in_every_session(planned, sheets):
    """Notes of checks stand on the sheet of the burns."""
    for session in planned.sessions["session"]:
        burns = [t for sheet in of_session(sheets, "burns", session) for t in sheet["tables"]]
        checks = checks_of(sheets, session)
        assert burns
        assert checks
        wanted = {column.name for column in TABLES["burns"].columns} - KEYS
        for table in burns:
            assert set(filter(None, table["columns"])) == wanted
        wanted = [c.name for c in TABLES["checks"].columns if c.name not in {*KEYS, "note"}]
        for table in checks:
            names = [name for names in table["columns"] if names for name in names.split()]
            assert sorted(names) == sorted(2 * wanted)
            assert all(len(row) == len(table["columns"]) for row in table["rows"])


def test_a_burn_is_written_down_in_the_order_of_the_work(sheets):
    (columns,) = {
        tuple(filter(None, table["columns"]))
        for sheet in sheets
        if sheet["kind"] == "burns"
        for table in sheet["tables"]
    }
    assert columns == (
        "wick_length_mm", "mass_before_g", "room_c", "lit_at",
        "out_at", "ended_by", "mass_after_g", "aftersmoke_s", "note",
    )  # fmt: skip


def test_every_criterion_can_be_recorded(sheets):
    """What a criterion looks at is a column of a sheet; the end of a candle is
    seen in ``ended_by`` and the two damage columns."""
    columns = {
        column
        for sheet in sheets
        for table in sheet["tables"]
        for columns in table["columns"]
        for column in (columns or "").split()
    }
    looked_at = {
        c.column for c in STANDARDS + studio_criteria(Limits(flame_mm=70, pool_depth_mm=13))
    } - {"end_damage", "early_out_pct"}
    assert looked_at | {"ended_by", "vessel_damaged", "surface_damaged"} <= columns


def test_what_is_a_choice_has_a_place_for_each_answer(sheets):
    """A box for what ended the burn; a grade of soot to circle; one box where none of five is
    seen, a letter to circle for each that is."""
    seen = set()
    for sheet in sheets:
        for table in sheet["tables"]:
            for row in table["rows"]:
                for names, cell in zip(table["columns"], row, strict=True):
                    if names == "ended_by":
                        assert (cell["boxes"], cell["text"]) == (3, "timerselfstopped")
                    elif names == "soot":
                        assert (cell["boxes"], cell["text"]) == (0, "0 1 2 3")
                    elif names and "tipped" in names:
                        assert names.split() == list(LETTERS)
                        assert (cell["boxes"], cell["text"]) == (1, "noneF V S T R")
                    else:
                        assert cell["boxes"] == 0
                        continue
                    seen.add(names)
    flags = [c.name for c in TABLES["checks"].columns if c.kind == "flag"]
    assert seen == {"ended_by", "soot", " ".join(flags)}
    for sheet in sheets:
        if sheet["kind"] == "checks":
            assert all(f"{LETTERS[c.name]} {c.label}" in sheet["text"]
                       for c in TABLES["checks"].columns if c.kind == "flag")  # fmt: skip


def test_candles_stand_as_on_the_bench_with_the_time_that_each_is_due(planned, sheets):
    """Only those whose planned burns are not over, and an empty row for six that are."""
    burns = planned.layout["candidate"].map(
        planned.candidates.set_index("candidate")["burns_planned"]
    )
    for s in planned.sessions.itertuples():
        group = planned.layout["day_group"] == s.day_group
        own = planned.layout[group].assign(n=range(group.sum()))[burns[group] >= s.burn]
        spare = -(-(group.sum() - len(own)) // 6)
        minutes = [60, 120, 180, 240]
        due = {
            minute: [f"{s.lit_from + pd.Timedelta(minutes=minute + 4 * n):%H:%M}" for n in own["n"]]
            + [""] * spare
            for minute in [0, *minutes]
        }
        rows = [
            row for sheet in of_session(sheets, "burns", s.session) for table in sheet["tables"]
            for row in table["rows"] if row[1]["text"] in {*own["candle"], ""}
        ]  # fmt: skip
        placed = list(zip(own["bench_position"], own["candle"], strict=True))
        assert [(r[0]["text"], r[1]["text"]) for r in rows if r[1]["text"]] == placed
        assert [row[2]["text"] for row in rows if row[1]["text"]] == due[0][: len(own)]
        assert sum(not row[1]["text"] for row in rows) >= spare
        tables = checks_of(sheets, s.session)
        assert len(tables) == 2
        for table, pair in zip(tables, (minutes[:2], minutes[2:]), strict=True):
            assert [row[0]["text"] for row in table["rows"]] == [
                f"{candle}{place}" for place, candle in [*placed, *[("", "")] * spare]
            ]
            places = [n for n, names in enumerate(table["columns"]) if names == "elapsed_min"]
            for at, minute in zip(places, pair, strict=True):
                assert [row[at]["text"] for row in table["rows"]] == due[minute]
                assert table["head"][at].startswith(f"{minute} min")


@pytest.mark.slow
def test_half_the_pages_that_there_were(planned):
    """34 for the demo's 16 candles, where a table for each round took 68."""
    for paper in PAPERS:
        assert len(Sheets(sheets_html(planned, paper)).sheets) <= 34


def test_no_session_sheet_names_a_wick_and_every_session_opens_with_the_cautions(planned, sheets):
    for sheet in sheets:
        if sheet["kind"] in ("burns", "checks"):
            assert not any(
                re.search(rf"\b{series}\b", sheet["text"])
                for series in planned.candidates["wick_series"]
            )
            assert (
                "Put out at once: flame over 75 mm (2.95 in), wall over 65 °C (149 °F)"
                in sheet["text"]
            )
        if sheet["kind"] == "burns":
            assert all(caution in sheet["text"] for caution in CAUTIONS_LIT)


def test_pour_sheets_have_every_pour_and_candle(planned, sheets):
    weighing, pouring = (
        [t for sheet in sheets if sheet["kind"] == kind for t in sheet["tables"]]
        for kind in ("weighing", "pouring")
    )
    assert [row[1]["text"] for table in weighing for row in table["rows"]] == [
        f"{p.wax_g:.1f} g {p.wax}" for p in planned.pours.itertuples()
    ]
    rows = [[cell["text"] for cell in row] for table in pouring for row in table["rows"]]
    names = planned.layout[["candle", "candidate"]].itertuples(index=False, name=None)
    assert [(row[0], row[1], row[5]) for row in rows] == [(*name, "199.8") for name in names]


MANY = [
    ("minutes_per_check = 4", "minutes_per_check = 2"),
    ("spacing_mm = 200", "spacing_mm = 100"),
    ("candles = 4\n", "candles = 5\n"),
    ('"09:00", "14:30"', '"09:00"'),
]
FEW = [("candles = 4\n", "candles = 1\n")]


@pytest.mark.slow
@pytest.mark.parametrize(("changes", "burns", "checks"), [(MANY, 2, 3), (FEW, 1, 1)])
def test_many_candles_are_parted_and_few_share_a_sheet(changes, burns, checks, tmp_path):
    """20 candles: two sheets before and after, one and a bit for two rounds of checks.

    Four candles: all four rounds on one sheet.
    """
    planned = read_plan(plan_file(tmp_path, *changes))
    assert planned.groups == 1
    for paper in PAPERS:
        sheets = Sheets(sheets_html(planned, paper)).sheets
        assert len(of_session(sheets, "burns", 1)) == burns
        assert len(of_session(sheets, "checks", 1)) == checks
        assert sum(
            len(t["rows"]) for sheet in of_session(sheets, "checks", 1) for t in sheet["tables"]
        ) == 2 * len(planned.layout)


def test_markup_in_names_stays_text(tmp_path):
    planned = read_plan(
        plan_file(
            tmp_path,
            ('title = "Stoneware tumbler, coconut', 'title = "<script>alert(1)</script> & coconut'),
            ("[benches.window]", '[benches."<b>&"]'),
        )
    )
    page = sheets_html(planned, "a4")
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert "&lt;b&gt;&amp; A1" in page

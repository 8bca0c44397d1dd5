"""A pack that candlelab 0.1.0 made: its numbers verify, what is judged otherwise today is named.

``confirmation_0.1.0.zip`` was made by that version of the demo's confirmation batch; each of its
pictures was replaced by a dot, so that it is small.
"""

import functools
import json
from pathlib import Path

import pytest
from batches import read
from commands import run
from forgeries import results
from packs import RECORD, contents_of, forged, read_once

from candlelab.report.page import report_page
from candlelab.report.results import batch_results
from candlelab.share import read as reading
from candlelab.share import verify
from candlelab.share.contents import json_bytes
from candlelab.share.earlier import EARLIER, earlier_version

OLD = Path(__file__).with_name("confirmation_0.1.0.zip")


pytestmark = pytest.mark.slow


@functools.cache
def record_of(batch):
    """What is worked out of logs, once for the same bytes."""
    return json_bytes(report_page(batch_results(batch)).record())


@pytest.fixture(autouse=True)
def worked_out(monkeypatch):
    """Its logs are worked out here, without a notebook: the page is not compared."""

    def report(folder, out, progress=False):
        assert not progress
        out.mkdir(parents=True)
        (out / "results.json").write_bytes(record_of(read(folder)))
        (out / "batch_report.html").write_text("<p>the page of today</p>")
        (out / "batch_report.ipynb").write_text("{}")

    monkeypatch.setattr(verify, "make_report", report)
    monkeypatch.setattr(reading, "read_batch", read)
    read_once(monkeypatch)


@pytest.fixture
def changed(tmp_path):
    """The old pack with its results changed, its notebook and manifest too."""

    def made(change):
        return forged(tmp_path, OLD, results(change)(contents_of(OLD)))

    return made


def row_of(record, table, **asked):
    """A row of a table as a list, and the places of its columns."""
    names = [column["name"] for column in record["tables"][table]["columns"]]
    for row in record["tables"][table]["data"]:
        if all(row[names.index(key)] == value for key, value in asked.items()):
            return row, names.index
    raise KeyError(asked)


def test_it_is_of_a_version_that_is_known():
    record = json.loads(contents_of(OLD)[RECORD])
    environment = json.loads(contents_of(OLD)["environment/environment.json"])
    known = earlier_version("0.1.0", environment["candlelab_code_sha256"])
    assert known is EARLIER[0]
    assert record["versions"]["candlelab"] == "0.1.0"
    assert "title" not in record  # the old layout
    assert OLD.stat().st_size < 150_000


def test_its_numbers_verify_and_what_is_judged_otherwise_is_named():
    result = run("verify", OLD)
    assert result.exit_code == 4, result.output
    assert result.stderr.startswith(
        "The numbers follow from the logs. The words are not verified: this pack was made by "
        "candlelab 0.1.0, and what it says is not what is said today ("
    )
    assert "--page FOLDER" in result.stderr
    assert "problem: " not in result.stdout
    assert "fine: numbers: " in result.stdout
    assert "note: versions: candlelab: Made with candlelab 0.1.0. It held flames to 76.2 mm" in (
        result.stdout
    )
    where = "differs: words: reports/confirmation/results.json: "
    for told in (
        "The answer in the pack: Square braid 2 comes first: all 6 of its fresh candles met every",
        "The answer today: Pick square braid 2.",
        "flame height: limit 76.2 in the pack, limit 75 today.",
        "Only in the pack, in candidate_criteria: 2, the first square braid 2 own pool depth.",
    ):
        assert where + told in result.stdout


def test_masses_rates_and_hours_are_among_the_numbers_that_verify():
    numbers = verify.verify_pack(OLD).numbers["confirmation"]
    for table, column, at_least in (
        ("burns", "wax_used_g", 79),
        ("burns", "burn_time_h", 79),
        ("burns", "burn_rate_g_per_h", 79),
        ("candles", "hours_h", 9),
        ("targets", "mean", 10),
    ):
        part = numbers[(numbers["table"] == table) & (numbers["column"] == column)]
        assert len(part) >= at_least
        assert part["inside"].all()


def test_the_page_made_anew_is_left_where_asked_and_nothing_is_overwritten(tmp_path):
    out = tmp_path / "pages"
    result = run("verify", OLD, "--page", out)
    assert result.exit_code == 4
    assert f"The page as it is made here is in {out}." in result.stderr
    assert sorted(p.name for p in (out / "confirmation").iterdir()) == [
        "batch_report.html", "batch_report.ipynb", "results.json",
    ]  # fmt: skip
    (out / "confirmation" / "mine.txt").write_text("x")
    assert run("verify", OLD, "--page", out).exit_code == 2
    assert (out / "confirmation" / "mine.txt").read_text() == "x"


def _set(table, column, value, **asked):
    def change(record):
        row, at = row_of(record, table, **asked)
        row[at(column)] = value

    return change


SQUARE = {"candidate": "square braid 2", "criterion": "flame height"}
C01 = {"candle": "C01", "criterion": "flame height"}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_set("burns", "wax_used_g", 99.5, candle="C01", burn=2), "wax_used_g: found "),
        (_set("candles", "hours_h", 99.5, candle="C02"), "hours_h: found "),
        (_set("targets", "mean", 1.5, candidate="square braid 2"), "mean: found "),
        (_set("candle_criteria", "value", 12.5, **C01), "value: found "),
        (_set("candle_criteria", "limit", 90.0, **C01),
         "C01, 1, flame height is held to 90. candlelab 0.1.0 held it to 76.2."),
        (_set("criteria", "limit", 90.0, criterion="flame height"),
         "flame height is held to 90. candlelab 0.1.0 held it to 76.2."),
        (_set("candidate_criteria", "outcome", "not met", **SQUARE),
         "flame height is “fail” with "),
        (_set("candle_criteria", "outcome", "not met", **C01), "flame height is “fail” with "),
        (_set("candle_criteria", "outcome", "not met", candle="C01", criterion="vessel"),
         "C01: standards' criteria “pass”, and it failed a criterion."),
    ],
)  # fmt: skip
def test_what_its_own_numbers_contradict_is_a_problem(changed, change, told):
    result = run("verify", changed(change))
    assert result.exit_code == 1
    assert told in result.stdout, result.stdout


def test_an_answer_that_it_never_gave_is_shown_beside_that_of_today(changed):
    """It cannot be told from an honest one, and is not called verified."""

    def change(record):
        record["answer"][0] = "Paper-cored 4 comes first."

    result = run("verify", changed(change))
    assert result.exit_code == 1  # page and READ-ME say another one
    assert "The answer in the pack: Paper-cored 4 comes first." in result.stdout
    assert "The answer today: Pick square braid 2." in result.stdout


def test_the_same_words_from_a_version_that_is_not_known_are_problems(tmp_path):
    files = contents_of(OLD)
    name = "environment/environment.json"
    code = files[name].replace(EARLIER[0].code.encode(), b"3" * 64)
    result = run("verify", forged(tmp_path, OLD, {name: code}))
    assert result.exit_code == 1
    assert "problem: words: " in result.stdout

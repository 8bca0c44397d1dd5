"""Whatever arrives gives a result or a listed problem, never a traceback;
nothing runs, nothing of the user's changes.

The examples are hypothesis's, the same in every run;
tests/benchmarks/hostile_reading.py and hostile_packs.py run many more.
"""

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from commands import run
from hostile import TOKENS, changed_files, changed_pack, result_or_problems, told_or_passed
from html_page import Page
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from made_pages import made_page
from packs import contents_of
from places import BROKEN, DEMO

from candlelab.logs import files
from candlelab.logs.batch import check_batch
from candlelab.logs.cells import MOST_CHARACTERS
from candlelab.logs.csv_text import read_records
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings_reader import read_settings
from candlelab.pages.run import slug

pytestmark = pytest.mark.slow

SMALL = BROKEN / "nothing_wrong" / "batch"
FEW = settings(max_examples=40, suppress_health_check=list(HealthCheck))
MANY = settings(max_examples=200, suppress_health_check=list(HealthCheck))


@FEW
@given(changed_files())
def test_a_changed_batch_gives_a_result_or_problems(files):
    assert result_or_problems(files) in ("result", "problems")


@MANY
@given(st.binary(max_size=300))
def test_any_bytes_are_rows_or_a_problem(data):
    problems = ProblemList()
    records = read_records(data, "burns.csv", problems)
    if records is None:
        assert len(problems.table())
    else:
        assert all(
            len(column.codes) == len(records.lines) == len(records.widths)
            for column in records.columns
        )


@MANY
@given(
    st.one_of(st.text(max_size=200), st.lists(st.sampled_from(TOKENS), max_size=8).map("\n".join))
)
def test_any_text_is_settings_or_a_problem(text):
    problems = ProblemList()
    if read_settings(text, problems) is None:
        assert len(problems.table())


@settings(FEW, max_examples=20)
@given(st.data())
def test_a_changed_pack_is_told_or_passes(tmp_path_factory, pack, data):
    files = contents_of(pack)
    path = tmp_path_factory.getbasetemp() / "hostile.zip"
    with pytest.MonkeyPatch.context() as patch:
        told_or_passed(path, data.draw(changed_pack(files, pack.read_bytes())), files, patch)


@MANY
@given(st.text())
def test_a_slug_is_a_folder_name_everywhere(text):
    name = slug(text)
    assert name
    assert not set(name) & set('/\\:*?"<>|{}\0\n')
    assert name not in (".", "..")
    assert name.encode("utf-8")


def small(tmp_path):
    return Path(shutil.copytree(SMALL, tmp_path / "batch"))


def test_a_file_that_is_too_large_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(files, "MOST_BYTES", 100)
    problems = check_batch(small(tmp_path))
    (row,) = [
        row
        for row in problems.to_dict("records")
        if row["file"] == "burns.csv" and row["problem"] == "file too large"
    ]
    assert row["level"] == "must fix"
    assert row["expected"] == "at most 100 bytes"
    assert row["found"].endswith(" bytes")
    assert (
        row["what_to_do"]
        == "Split the batch into several, or look whether it is another file. It was not read."
    )


def test_settings_that_are_too_large_are_refused(tmp_path):
    folder = small(tmp_path)
    with open(folder / "batch.toml", "ab") as file:
        file.write(b"#" * 1_000_000)
    (row,) = [
        row for row in check_batch(folder).to_dict("records") if row["problem"] == "file too large"
    ]
    assert (row["file"], row["expected"]) == ("batch.toml", "at most 1,000,000 bytes")


def test_a_cell_that_is_too_long_is_refused(tmp_path):
    folder = small(tmp_path)
    head, *rows = (folder / "candles.csv").read_text(encoding="utf-8").splitlines()
    place = head.split(",").index("wax")
    cells = rows[0].split(",")
    cells[place] = "x" * (MOST_CHARACTERS + 1)
    (folder / "candles.csv").write_text(
        "\n".join([head, ",".join(cells), *rows[1:]]) + "\n", encoding="utf-8"
    )
    row = next(
        row
        for row in check_batch(folder).to_dict("records")
        if row["problem"] == "text too long for a cell"
    )
    assert (row["level"], row["line"], row["column"], row["expected"]) == (
        "must fix",
        2,
        "wax",
        "at most 32,767 characters",
    )
    assert len(row["found"]) == 80


@pytest.mark.skipif(os.name != "posix", reason="links and bytes in names as POSIX has them")
def test_links_and_strange_names_in_a_folder(tmp_path):
    folder = small(tmp_path)
    (folder / "burns.csv").rename(tmp_path / "elsewhere.csv")
    (folder / "burns.csv").symlink_to(tmp_path / "elsewhere.csv")  # a link to a file is that file
    (folder / "throw.csv").symlink_to(folder / "nowhere")  # a link to nothing is no file
    (folder / "exclusions.csv").mkdir()
    os.mkfifo(folder / "wick_changes.csv")
    Path(os.fsdecode(os.fsencode(folder) + b"/\xff\xfe.csv")).write_text("x")
    (folder / "line\nbreak <b>.csv").write_text("x")
    problems = check_batch(folder)
    assert set(problems["level"]) == {"look at this"}
    of_folder = set(problems["problem"]) - {"never written down"}
    assert of_folder == {"table not known", "burns shorter than the standards'"}
    result = run("check", folder)
    assert result.exit_code == 0
    assert "Traceback" not in result.output
    json.loads(run("check", folder, "--json").stdout)


@pytest.mark.usefixtures("quick")
@pytest.mark.skipif(os.name != "posix", reason="a name that is no text")
def test_a_folder_whose_name_is_no_text(tmp_path):
    folder = os.fsdecode(os.fsencode(tmp_path) + b"/b\xff")
    shutil.copytree(DEMO / "confirmation", folder)
    for name in (folder, folder + "no"):
        code = "from candlelab.cli.main import main; import sys; main(['check', sys.argv[1]])"
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
        done = subprocess.run(
            [sys.executable, "-c", code, name], capture_output=True, check=False, env=environment
        )
        assert done.returncode in (0, 2)
        assert b"Traceback" not in done.stderr
    assert run("share", folder, "--out", tmp_path / "x.zip").exit_code == 0
    assert [name for name in contents_of(tmp_path / "x.zip") if name.startswith("batches/b/")]


EVIL = "<img src=x onerror=alert(1)> *b* _i_ [l](javascript:alert(1)) $x$ {{ 7*7 }} {x} =1+1 `id`"


def test_markup_in_every_text_field_shows_as_text(tmp_path):
    """Every text of every table and of batch.toml: on the page, and in what the notebook shows."""
    folder = Path(shutil.copytree(DEMO / "confirmation", tmp_path / "b <i> {y}"))
    text = (folder / "batch.toml").read_text(encoding="utf-8")
    for old in (
        'fresh candles"',
        "next choice?",
        "Saltmarsh Lane Candles",
        "glazed stoneware, straight wall",
        "invented blend of coconut and rapeseed wax",
    ):
        assert old in text
        text = text.replace(old, EVIL + ('"' if old.endswith('"') else ""), 1)
    text = text.replace("stoneware tumbler", f"vessel {EVIL}").replace(
        "coconut and rapeseed", f"wax {EVIL}"
    )
    (folder / "batch.toml").write_text(text, encoding="utf-8")
    words = {
        "stoneware tumbler": "vessel ",
        "coconut and rapeseed": "wax ",
        "fig leaf": "oil ",
        "square braid": "wick ",
        "C01": "candle ",
        "wisp when": "note ",
    }
    for path in folder.glob("*.csv"):
        text = path.read_text(encoding="utf-8-sig")
        for old, new in words.items():
            text = text.replace(old, new + EVIL)
        path.write_text(text, encoding="utf-8")
    book, text = made_page("batch_report", "a report", batch_folder=str(folder))
    page = Page(text)
    assert all(image["src"].startswith("data:image/png") for image in page.all("img"))
    assert not [name for _, attrs in page.tags for name in attrs if name.startswith("on")]
    assert not page.all("script")
    assert not [a for a in page.all("a") if "javascript" in a.get("href", "")]
    whole = "".join(page.text)
    for start in ("candle ", "wick ", "note "):
        assert start + EVIL in whole, start
    for cell in book["cells"]:
        for output in cell.get("outputs", []):
            shown = "".join(output.get("data", {}).get("text/html", ""))
            assert "<img src=x" not in shown

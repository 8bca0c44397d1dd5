"""The report: both demo batches, its numbers equal to direct calls, a page that loads nothing,
whole or not at all.
"""

import copy
import json
import os
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import nbformat
import pytest
from batches import read
from html_page import Page
from places import DEMO, ROOT

from candlelab.logs.problems import BurnLogError
from candlelab.pages import run as report_module
from candlelab.pages import words
from candlelab.pages.publish import NotOurFolder
from candlelab.pages.run import OUTPUTS, ReportFailed, page_of, run_notebook, shipped, slug
from candlelab.report.make import make_report
from candlelab.report.page import report_page
from candlelab.report.results import batch_results

ENV = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}


@pytest.fixture(scope="session", params=["screening", "confirmation"])
def report(request, tmp_path_factory):
    out = tmp_path_factory.mktemp("out") / request.param
    page = make_report(DEMO / request.param, out)
    assert page == out / "batch_report.html"
    return request.param, out


@pytest.mark.slow
def test_leaves_its_three_files_and_nothing_else(report):
    _, out = report
    assert sorted(p.name for p in out.iterdir()) == sorted(OUTPUTS)
    assert [p.name for p in out.parent.iterdir()] == [out.name]


@pytest.mark.slow
def test_results_are_those_of_direct_calls(report):
    name, out = report
    direct = report_page(batch_results(read(DEMO / name))).record()
    written = json.loads((out / "results.json").read_text(encoding="utf-8"))
    assert written == json.loads(json.dumps(direct, allow_nan=False))


def test_every_number_has_a_unit_and_a_count(report):
    _, out = report
    record = json.loads((out / "results.json").read_text(encoding="utf-8"))
    for table in record["tables"].values():
        assert table["rows"] == len(table["data"])
        assert table["one_row_is"]
        assert all(
            set(column) == {"name", "unit", "meaning"} and column["meaning"]
            for column in table["columns"]
        )
        assert all(len(row) == len(table["columns"]) for row in table["data"])
    assert all(len(f["sha256"]) == 64 for f in record["inputs"])
    assert len(record["inputs"]) >= 5
    assert {"python", "pandas", "numpy", "scipy"} <= set(record["versions"])


def test_the_page_loads_nothing_and_runs_nothing(report):
    _, out = report
    text = (out / "batch_report.html").read_text(encoding="utf-8")
    page = Page(text)
    assert not page.all("script")
    assert not page.all("link")
    assert not page.all("iframe")
    assert not page.all("object")
    assert "http://" not in text
    assert "https://" not in text
    assert all(image["src"].startswith("data:image/png;base64,") for image in page.all("img"))
    assert not [name for _, attrs in page.tags for name in attrs if name.startswith("on")]
    (policy,) = [
        m["content"] for m in page.all("meta") if m.get("http-equiv") == "Content-Security-Policy"
    ]
    assert policy.startswith("default-src 'none'; img-src data:")


def test_the_page_can_be_read_by_everybody(report):
    name, out = report
    page = Page((out / "batch_report.html").read_text(encoding="utf-8"))
    assert len(page.all("img")) == (7 if name == "screening" else 6)
    assert all(len(image["alt"]) > 80 for image in page.all("img"))
    assert len(page.all("caption")) == len(page.all("table")) >= 10
    assert all(head.get("scope") in ("col", "row") for head in page.all("th"))
    assert len(page.all("h1")) == 1
    assert len(page.all("main")) == 1
    assert page.all("html")[0]["lang"] == "en"
    ids = [attrs["id"] for _, attrs in page.tags if "id" in attrs]
    assert len(ids) == len(set(ids))


def test_the_page_opens_with_the_answer_and_shows_the_cautions(report):
    _name, out = report
    text = "".join(Page((out / "batch_report.html").read_text(encoding="utf-8")).text)
    parts = [
        "Pick square braid 2.",
        "not proof",
        words.CAUTION,
        "How fast did each candle burn?",
        words.CAUTIONS[-1],
        "How this was worked out",
    ]
    assert sorted(parts, key=text.index) == parts
    assert "screening evidence" in text
    assert "accredited laboratory" in text


def test_the_notebook_keeps_no_path_of_this_machine(report):
    name, out = report
    text = (out / "batch_report.ipynb").read_text(encoding="utf-8")
    assert str(DEMO.resolve()) not in text
    assert str(out) not in text
    assert str(Path.home()) + os.sep not in text
    book = nbformat.reads(text, as_version=4)
    nbformat.validate(book)
    assert _folder_of(book) == name


def _folder_of(book):
    (cell,) = [c for c in book.cells if "injected-parameters" in c.metadata.get("tags", [])]
    return json.loads(cell.source.split(" = ")[1])


@pytest.mark.slow
def test_a_notebook_near_its_batch_finds_it_again(tmp_path):
    folder, out = _copy(tmp_path), tmp_path / "reports" / "first"
    make_report(folder, out)
    book = nbformat.read(out / "batch_report.ipynb", as_version=4)
    assert (out / _folder_of(book)).resolve() == folder.resolve()


@pytest.mark.slow
@pytest.mark.usefixtures("in_kernel")
def test_the_same_batch_gives_the_same_bytes(report, tmp_path):
    name, out = report
    if name == "confirmation":
        again = tmp_path / "again" / name
        make_report(DEMO / name, again)
        for file in OUTPUTS:
            assert (again / file).read_bytes() == (out / file).read_bytes()


def _copy(tmp_path, **changes):
    folder = tmp_path / "a batch {x} 'q'"
    folder.mkdir()
    for path in (DEMO / "confirmation").iterdir():
        text = path.read_text(encoding="utf-8-sig")
        for old, new in changes.get(path.stem, ()):
            assert old in text
            text = text.replace(old, new, 1)
        (folder / path.name).write_text(text, encoding="utf-8")
    return folder


EVIL = (
    "<script>alert(1)</script> <img src=x onerror=alert(2)> $x$ =SUM(A1) "
    "[link](javascript:alert(3)) {{ 7*7 }}"
)


@pytest.mark.slow
def test_text_of_a_log_shows_as_the_text_it_is(tmp_path):
    _header, first, *_rest = (
        (DEMO / "confirmation" / "burns.csv")
        .read_text(encoding="utf-8-sig")
        .splitlines(keepends=True)
    )
    cells = first.rstrip("\r\n").split(";")
    cells[-1] = '"' + EVIL + '"'
    folder = _copy(
        tmp_path,
        burns=[(first, ";".join(cells) + "\n")],
        batch=[("Stoneware tumbler", "<u>$Tumbler$</u>")],
    )
    out = tmp_path / "out {y}"
    before = {p.name: p.read_bytes() for p in folder.iterdir()}
    page = Page(make_report(folder, out).read_text(encoding="utf-8"))
    assert not page.all("script")
    assert not page.all("u")
    assert len(page.all("img")) == 6
    assert EVIL in "".join(page.text)
    assert "<u>$Tumbler$</u>" in "".join(page.text)
    assert {p.name: p.read_bytes() for p in folder.iterdir()} == before


@pytest.mark.slow
def test_problems_stop_a_report_and_leave_the_old_one(tmp_path):
    folder = _copy(tmp_path)
    out = tmp_path / "out"
    out.mkdir()
    for name in OUTPUTS:
        (out / name).write_text("old")
    (folder / "burns.csv").write_text("candle;burn\n")
    with pytest.raises(BurnLogError):
        make_report(folder, out)
    assert {(out / name).read_text() for name in OUTPUTS} == {"old"}


def test_refuses_to_write_into_the_batch_or_over_other_files(tmp_path):
    folder = _copy(tmp_path)
    for out in (folder, folder / "report"):
        with pytest.raises(ValueError, match="inside the batch folder, which is never written to"):
            make_report(folder, out)
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("keep")
    with pytest.raises(NotOurFolder):
        make_report(folder, tmp_path / "letters")
    with pytest.raises(NotADirectoryError):
        make_report(tmp_path / "nowhere", tmp_path / "out")


def _book(tmp_path, *sources):
    cells = [
        nbformat.v4.new_code_cell('batch_folder: str = "x"', metadata={"tags": ["parameters"]}),
        *map(nbformat.v4.new_code_cell, sources),
    ]
    spec = {"kernelspec": {"name": "no-such-kernel", "display_name": "x", "language": "python"}}
    path = tmp_path / "book {x}.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=cells, metadata=spec), path)
    return path


def test_parameters_are_checked_by_name_and_type(tmp_path):
    path = _book(tmp_path, "1")
    with pytest.raises(
        ValueError, match=r"book {x}\.ipynb has no parameter 'batch_foldr'; it has batch_folder\."
    ):
        run_notebook(path, {"batch_foldr": "y"})
    with pytest.raises(ValueError, match=r"batch_folder is a str, not a int\."):
        run_notebook(path, {"batch_folder": 3})


@pytest.mark.slow
def test_a_failing_cell_is_told_in_one_line(tmp_path):
    with pytest.raises(ReportFailed) as caught:
        run_notebook(_book(tmp_path, "1 / 0"), {"batch_folder": "y"})
    assert str(caught.value) == "book {x}.ipynb, cell 3: ZeroDivisionError: division by zero"


@pytest.fixture(scope="module")
def printed(tmp_path_factory):
    """Three cells that print, run; each shows what it wrote."""
    cells = [
        "import sys; print(sys.executable)",
        f"print({EVIL!r})",
        "print('seen'); print('/a/path: warning', file=sys.stderr)",
    ]
    return run_notebook(_book(tmp_path_factory.mktemp("book"), *cells), {"batch_folder": "y"})


@pytest.mark.slow
def test_the_kernel_is_this_python_whatever_the_notebook_asks_for(printed):
    assert printed.cells[-3].outputs[0].text.strip() == sys.executable


@pytest.mark.slow
def test_the_page_escapes_what_a_cell_prints(printed):
    page = Page(page_of(printed, "</title><script>alert(1)</script>"))
    assert not page.all("script")
    assert EVIL in "".join(page.text)


@pytest.mark.slow
def test_what_libraries_say_on_the_side_is_not_kept(printed):
    book = copy.deepcopy(printed)
    assert {one.name for one in book.cells[-1].outputs} == {"stdout", "stderr"}
    report_module._make_portable(book, {"batch_folder": "y"})
    assert [o.text.strip() for o in book.cells[-1].outputs] == ["seen"]


def test_slug():
    assert [slug(name) for name in ("screening", "a batch {x} 'q'", "..", "Käfer/1")] == [
        "screening",
        "a-batch-x-q",
        "batch",
        "Käfer-1",
    ]


def test_templates_are_found():
    assert (shipped("notebooks") / "batch_report.ipynb").is_file()
    with pytest.raises(FileNotFoundError, match="nothing is missing from this installation"):
        shipped("nothing")


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="kill -9 is a POSIX signal")
def test_a_kill_at_any_moment_leaves_the_old_report(tmp_path):
    """The long run of kills is a benchmark; here four moments of one report, from start-up to the
    page.
    """
    out = tmp_path / "out"
    out.mkdir()
    for name in OUTPUTS:
        (out / name).write_text("old")
    for seconds in (0.4, 1.5, 3.0, 5.0):
        run = subprocess.Popen(
            [
                sys.executable,
                "-m",
                "candlelab",
                "report",
                str(DEMO / "confirmation"),
                "--out",
                str(out),
            ],
            env={**ENV, "TMPDIR": str(tmp_path)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        with suppress(subprocess.TimeoutExpired):
            run.wait(seconds)
        with suppress(ProcessLookupError):
            os.killpg(run.pid, signal.SIGKILL)
        run.wait()
        texts = [(out / name).read_text(encoding="utf-8") for name in OUTPUTS]
        assert texts == ["old"] * 3 or (
            texts[1].startswith("<!DOCTYPE") and '"format": "candlelab results 1"' in texts[2]
        )


def test_a_link_into_the_batch_is_inside_the_batch(tmp_path):
    folder = _copy(tmp_path)
    (tmp_path / "link").symlink_to(folder, target_is_directory=True)
    with pytest.raises(ValueError, match="inside the batch folder"):
        make_report(folder, tmp_path / "link" / "report")


@pytest.mark.slow
def test_the_session_stays_out_of_the_report(tmp_path, monkeypatch):
    """An odd plotting backend, no folder to write to, a start-up file of IPython, and the checkout
    as current folder.
    """
    (tmp_path / "profile_default" / "startup").mkdir(parents=True)
    (tmp_path / "profile_default" / "startup" / "mine.py").write_text("mine = 1")
    for name, value in {
        "MPLBACKEND": "silly",
        "HOME": os.devnull,
        "IPYTHONDIR": str(tmp_path),
    }.items():
        monkeypatch.setenv(name, value)
    monkeypatch.chdir(ROOT)
    book = run_notebook(
        _book(tmp_path, "import candlelab.text, matplotlib.pyplot; print('mine' in globals())"),
        {"batch_folder": "y"},
    )
    assert [o.text.strip() for o in book.cells[-1].outputs if o.name == "stdout"] == ["False"]

"""The command line: what it prints, where, and how it ends."""

import json
import os
import signal
import subprocess
import sys
import time
from functools import partial

import psutil
import pytest
from commands import run
from places import DEMO

from candlelab.cli import main as cli
from candlelab.logs.columns import TABLES


def test_check_of_a_good_batch_ends_with_0():
    result = run("check", DEMO / "confirmation")
    read = (
        "9 candles, 79 burns, 300 checks; 2 candidates: paper-cored 4 (3 candles), square braid 2 "
        "(6 candles)\n"
    )
    assert (result.exit_code, result.stdout, result.stderr) == (0, "", read + "No problem found.\n")


def test_check_lists_deviations_and_ends_with_0():
    result = run("check", DEMO / "screening")
    assert result.exit_code == 0
    counts = "1 look at this, 5 off plan (in 8 rows)"
    assert result.stderr.endswith(f" square braid 3 (3 candles)\n{counts}\n")
    assert (
        "off plan: burns.csv, line 30, candle S04, column wick_length_mm: wick longer than the "
        "trim length. Found 8 mm. " in result.stdout
    )


def test_check_of_a_broken_batch_ends_with_1(tmp_path):
    (tmp_path / "batch.toml").write_text('title = "x"\n')
    result = run("check", tmp_path)
    assert result.exit_code == 1
    assert "must fix: burns.csv: missing file. Expected a file burns.csv." in result.stdout
    assert result.stderr == "5 must fix\n"


def test_check_counts_what_must_be_fixed_first():
    result = run("check", DEMO.parents[1] / "tests" / "broken" / "toml_unknown_keys" / "batch")
    assert (result.exit_code, result.stderr) == (1, "3 must fix, 4 look at this\n")


def test_check_names_the_candidates_so_that_a_slip_shows():
    result = run(
        "check", DEMO.parents[1] / "tests" / "broken" / "two_spellings_of_a_recipe" / "batch"
    )
    assert result.exit_code == 0
    assert result.stderr.startswith(
        "7 candles, 4 burns, 8 checks; 7 candidates: flat braid 2, soft  wax, fig leaf 6 %, ochre "
        "A (1 candle), "
    )


def test_columns_lists_every_column_and_every_setting():
    lines = run("columns").output.splitlines()
    assert all(f"{table.file}, " in "\n".join(lines) for table in TABLES.values())
    said = [line.split(":")[0].strip(" *") for line in lines]
    assert {column.name for table in TABLES.values() for column in table.columns} <= set(said)
    assert "  burn *: number of the burn of this candle: 1, 2, 3 ..." in lines
    assert "  ended_by: what ended the burn (timer, self, stopped)" in lines
    assert "  [limits] wall_caution_c = 60, wall_stop_c = 65, flame_mm, pool_depth_mm" in lines
    top = "  title, question, stage, confirms, studio, time_zone, slash_dates, standard, load_basis"
    assert top in lines
    assert any(line.startswith("  [columns.TABLE] ") for line in lines)


def test_check_as_json(tmp_path):
    (row,) = json.loads(run("check", tmp_path, "--json").stdout)
    assert (row["level"], row["problem"], row["line"]) == (
        "must fix",
        "no batch in this folder",
        None,
    )


@pytest.mark.parametrize("command", ["check", "report", "lab"])
def test_no_such_folder_is_wrong_usage(command, tmp_path):
    result = run(command, tmp_path / "nowhere")
    assert result.exit_code == 2
    assert "nowhere is not a folder." in result.stderr


def test_unknown_command_is_wrong_usage():
    assert run("burn").exit_code == 2


@pytest.mark.slow
@pytest.mark.usefixtures("in_kernel")
def test_report_of_a_broken_batch_ends_with_1_and_writes_nothing(tmp_path):
    (tmp_path / "batch").mkdir()
    result = run("report", tmp_path / "batch", "--out", tmp_path / "out")
    assert result.exit_code == 1
    assert "1 problem to fix before the numbers can be trusted" in result.stderr
    assert not (tmp_path / "out").exists()


def test_report_that_fails_itself_ends_with_3(tmp_path, monkeypatch):
    from candlelab.pages.run import ReportFailed
    from candlelab.report import make

    def broken(*_, **__):
        raise ReportFailed("batch_report.ipynb, cell 3: MemoryError: ")

    monkeypatch.setattr(make, "make_report", broken)
    result = run("report", DEMO / "screening", "--out", tmp_path / "out")
    assert result.exit_code == 3
    assert result.stderr == "Not done: batch_report.ipynb, cell 3: MemoryError: \n"


def test_report_over_other_files_is_wrong_usage(tmp_path):
    (tmp_path / "dear.txt").write_text("keep")
    result = run("report", DEMO / "screening", "--out", tmp_path)
    assert result.exit_code == 2
    assert "holds other files (dear.txt)" in result.stderr


@pytest.mark.slow
@pytest.mark.usefixtures("in_kernel")
def test_demo_copies_the_batches_and_reports(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    result = run("demo")
    assert result.exit_code == 0
    assert result.stdout.strip().endswith("batch_report.html")
    assert (tmp_path / "candlelab-demo" / "report" / "results.json").is_file()
    assert (tmp_path / "candlelab-demo" / "README.md").read_bytes() == (
        DEMO / "README.md"
    ).read_bytes()
    for name in ("screening", "confirmation", "waxes", "loads", "plan"):
        for path in (DEMO / name).iterdir():
            assert (
                tmp_path / "candlelab-demo" / name / path.name
            ).read_bytes() == path.read_bytes()


def test_lab_copies_the_notebook_once_and_opens_it(tmp_path, monkeypatch):
    calls = []
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(
        cli.subprocess,
        "run",
        lambda args, env: calls.append(args) or subprocess.CompletedProcess(args, 0),
    )
    batch = tmp_path / 'my "batch"'
    batch.mkdir()
    assert run("lab", batch).exit_code == 0
    assert calls[0][:3] == [sys.executable, "-m", "jupyterlab"]
    assert calls[0][-1] == str(tmp_path / "explore_wicks.ipynb")
    assert f"--ServerApp.root_dir={tmp_path}" in calls[0]
    notebook = tmp_path / "explore_wicks.ipynb"
    book = json.loads(notebook.read_text(encoding="utf-8"))
    (cell,) = [c for c in book["cells"] if "parameters" in c["metadata"].get("tags", [])]
    assert (
        json.loads("".join(cell["source"]).split(" = ")[1].rsplit("  #", 1)[0]) == batch.as_posix()
    )
    notebook.write_text("mine")
    run("lab", batch)
    assert notebook.read_text() == "mine"


def test_help_is_light_and_names_the_exit_codes():
    code = (
        "import sys; from candlelab.cli.main import main\n"
        "try: main(['--help'])\n"
        "finally: print([m for m in ('pandas', 'papermill') if m in sys.modules])"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p)}
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, env=env)
    assert done.stdout.rstrip().endswith("[]")
    assert "0 fine, 1 problems to fix, 2 wrong usage, 3 the report" in " ".join(done.stdout.split())


def test_a_place_that_cannot_be_written_to_is_told_in_a_line(tmp_path):
    (tmp_path / "file").write_text("x")
    result = run("demo", tmp_path / "file")
    assert result.exit_code == 3
    assert result.stderr.startswith("Not done: ")


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="signals are POSIX")
@pytest.mark.parametrize("end", ["SIGINT", "SIGTERM"])
def test_an_end_in_the_middle_leaves_nothing(end, tmp_path):
    command = [
        sys.executable,
        "-m",
        "candlelab",
        "report",
        str(DEMO / "confirmation"),
        "--out",
        str(tmp_path / "out"),
    ]
    env = {
        **os.environ,
        "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
        "TMPDIR": str(tmp_path),
    }
    # tests in the background of a shell are started with it ignored
    heeds = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)
    work = subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=env,
        start_new_session=True,
        preexec_fn=heeds,
    )
    for _ in range(400):
        if list(tmp_path.glob("candlelab-*/kernel.json")):
            break
        time.sleep(0.05)
    os.kill(work.pid, getattr(signal, end))
    assert work.communicate(timeout=60)[1] == "Stopped.\n"
    assert work.returncode == 130
    assert list(tmp_path.iterdir()) == []
    assert not [
        work
        for work in psutil.process_iter(["cmdline"])
        if str(tmp_path) in " ".join(work.info["cmdline"] or [])
    ]


@pytest.mark.parametrize(
    ("said", "meant"),
    [([], "wick"), (["--by", "load"], "fragrance_load_pct"), (["--by", "series"], "wick_series")],
)
def test_what_is_compared_may_be_said_as_a_maker_would(monkeypatch, said, meant):
    from candlelab.report import make

    asked = {}

    def make_comparison(*_, **given):
        asked.update(given)
        raise ValueError("enough")

    monkeypatch.setattr(make, "make_comparison", make_comparison)
    run("compare", DEMO / "loads", *said)
    assert asked["by"] == meant

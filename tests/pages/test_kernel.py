"""A kernel that cannot start is told in one sentence, soon; and what surrounds it stays outside."""

import json
import os
import shutil
import subprocess
import sys
import time

import pytest
from commands import run
from places import ROOT

from candlelab.pages import kernel
from candlelab.pages.kernel import NoKernel
from candlelab.pages.run import OUTPUTS, ReportFailed, run_notebook
from candlelab.report.make import make_report

resource = pytest.importorskip("resource")
pytestmark = pytest.mark.slow
DEMO = ROOT / "data" / "demo"
START_S = 7.0
# A minute is a long time for a test: what holds for 7 s holds for 50.
START = f"from candlelab.pages import kernel as k; k._IDLE_S = k.START_S = {START_S}; k._AGAIN_S = "
MAIN = "from candlelab.cli.main import main; main()"


def ended(tmp_path, again_s=2.0, **how):
    """Exit code, lines on stderr and seconds of a report that runs under some limit; a kernel that
    dies within ``again_s`` is tried again."""
    begun = time.monotonic()
    env = {**os.environ, "PYTHONPATH": str(ROOT), **how.pop("env", {})}
    command = [sys.executable, "-c", f"{START}{again_s}; {MAIN}", "report"]
    command += [DEMO / "confirmation", "--out", tmp_path / "out"]
    done = subprocess.run(command, env=env, capture_output=True, text=True, **how)
    assert (tmp_path / "out").exists() == (done.returncode == 0)
    return done.returncode, done.stderr.splitlines(), time.monotonic() - begun


def limited(kind, amount):
    return lambda: resource.setrlimit(kind, (amount, amount))


@pytest.mark.parametrize(
    ("kind", "amount"),
    [("NOFILE", 12), ("NOFILE", 20), ("NOFILE", 40), ("AS", 300 << 20), ("AS", 800 << 20)],
)
def test_few_file_handles_or_little_memory_end_in_one_sentence(tmp_path, kind, amount):
    before = limited(getattr(resource, f"RLIMIT_{kind}"), amount)
    code, said, took = ended(tmp_path, again_s=0.0, preexec_fn=before)
    assert code == 3
    assert len(said) == 1, said
    assert said[0].startswith("Not done: batch_report.ipynb")
    assert took < 60


def test_no_connection_inside_the_computer_is_told_at_once(tmp_path, monkeypatch):
    def create(*_, **__):
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(kernel.socket, "create_connection", create)
    with pytest.raises(ReportFailed) as caught:
        run_notebook(book(tmp_path, "1"), {"batch_folder": "x"})
    assert str(caught.value) == (
        "book.ipynb: no connection inside this computer, to 127.0.0.1 ([Errno 101] Network is "
        "unreachable)"
    )


def book(tmp_path, source):
    cells = [
        {
            "cell_type": "code",
            "metadata": {"tags": ["parameters"]},
            "source": 'batch_folder: str = ""',
        },
        {"cell_type": "code", "metadata": {}, "source": source},
    ]
    for n, cell in enumerate(cells):
        cell |= {"cell_type": "code", "id": str(n), "outputs": [], "execution_count": None}
    spec = {"kernelspec": {"name": "python3", "display_name": "Python 3", "language": "python"}}
    text = json.dumps({"cells": cells, "metadata": spec, "nbformat": 4, "nbformat_minor": 5})
    (tmp_path / "book.ipynb").write_text(text)
    return tmp_path / "book.ipynb"


def test_one_that_never_answers_is_given_up_in_time(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel, "_START", "import time; time.sleep(600)")
    monkeypatch.setattr(kernel, "START_S", 3.0)
    monkeypatch.setattr(kernel, "_AGAIN_S", 1.0)
    begun = time.monotonic()
    with pytest.raises(ReportFailed, match=r"^book\.ipynb: the kernel did not start \(Kernel didn"):
        run_notebook(book(tmp_path, "1"), {"batch_folder": "x"})
    assert time.monotonic() - begun < 15


def test_one_that_starts_and_then_answers_nothing_is_ended(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel, "START_S", 5.0)
    monkeypatch.setattr(kernel, "_FIRST_CELL_S", 1.0)
    file = book(tmp_path, "1")
    text = json.loads(file.read_text())
    text["cells"][0]["source"] = 'batch_folder: str = ""\nimport time; time.sleep(600)'
    file.write_text(json.dumps(text))
    begun = time.monotonic()
    with pytest.raises(ReportFailed, match=r"^book\.ipynb: the kernel ended before"):
        run_notebook(file, {"batch_folder": "x"})
    assert time.monotonic() - begun < 45


def test_one_that_does_nothing_in_the_middle_is_ended(tmp_path, monkeypatch):
    """A part of it may be gone where memory was short: it lives on, and never answers."""
    monkeypatch.setattr(kernel, "_IDLE_S", 3.0)
    monkeypatch.setattr(kernel, "_LOOK_S", 0.5)
    begun = time.monotonic()
    with pytest.raises(ReportFailed, match=r"^book\.ipynb: the kernel ended before"):
        run_notebook(book(tmp_path, "import threading; threading.Event().wait()"), {})
    assert 3.0 < time.monotonic() - begun < 45


def test_one_that_works_for_longer_is_left_alone(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel, "_LOOK_S", 0.05)
    work = "import time; end = time.process_time() + 1.5\nwhile time.process_time() < end: pass"
    monkeypatch.setattr(kernel, "_IDLE_S", 0.5)
    run_notebook(book(tmp_path, f"{work}\n'done'"), {})


def test_one_that_dies_at_once_says_why(tmp_path, monkeypatch, capfd):
    monkeypatch.setattr(kernel, "_START", "raise OSError('no room')")
    monkeypatch.setattr(kernel, "_AGAIN_S", 2.0)
    with pytest.raises(ReportFailed, match=r"the kernel did not start \(OSError: no room\)$"):
        run_notebook(book(tmp_path, "1"), {"batch_folder": "x"})
    assert capfd.readouterr().err == ""


def test_one_that_was_told_to_stop_gives_no_reason_of_its_own(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel, "_START", "raise KeyboardInterrupt")
    monkeypatch.setattr(kernel, "_AGAIN_S", 2.0)
    with pytest.raises(ReportFailed, match=r"the kernel did not start \(Kernel died"):
        run_notebook(book(tmp_path, "1"), {"batch_folder": "x"})


def test_one_that_ends_in_the_middle_is_told(tmp_path):
    with pytest.raises(ReportFailed, match="ended"):
        run_notebook(book(tmp_path, "import os; os._exit(9)"), {"batch_folder": "x"})


def test_a_fault_of_starting_is_one_kind_of_error(tmp_path, monkeypatch):
    monkeypatch.setattr(kernel, "_execute", lambda *_: (_ for _ in ()).throw(MemoryError("full")))
    with pytest.raises(NoKernel, match=r"^the kernel did not start \(full\)$"):
        kernel.executed(lambda: None, str(tmp_path), {}, False, lambda: None)


def test_an_answer_of_another_kernel_at_its_port_is_no_start(tmp_path, monkeypatch):
    answers = [ValueError("Invalid Signature: b'0'"), None]
    tried = []

    def execute(*_):
        tried.append(1)
        if error := answers[len(tried) - 1]:
            raise error
        return "the notebook"

    monkeypatch.setattr(kernel, "_execute", execute)
    asked = (lambda: None, str(tmp_path), {}, False, lambda: None)
    assert kernel.executed(*asked) == "the notebook"
    answers[:] = [ValueError("another")] * 3
    with pytest.raises(ValueError, match="another"):
        kernel.executed(*asked)


# ---------------------------------------------------------------- what surrounds it

PICTURED = OUTPUTS[1:]  # the notebook names the way to its batch
SETTINGS = "axes.facecolor: red\nfigure.figsize: 2, 2\nsavefig.bbox: tight\nfont.size: 30\n"


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """The report's files, made where nothing is in the way."""
    out = tmp_path_factory.mktemp("plain") / "out"
    make_report(DEMO / "confirmation", out)
    return {name: (out / name).read_bytes() for name in PICTURED}


def _surroundings(here):
    """Environments and current folders in which reports were made otherwise, by a name."""
    (here / "set" / "profile_default" / "startup").mkdir(parents=True)
    (here / "tex").mkdir()
    (here / "set" / "matplotlibrc").write_text(SETTINGS)
    (here / "tex" / "matplotlibrc").write_text("text.usetex: True\ntext.parse_math: True\n")
    runs = f"open({str(here / 'ran')!r}, 'w')"
    profile = "profile_default/startup/00.py", "profile_default/ipython_kernel_config.py"
    for name in ("start.py", "ipython_kernel_config.py", "ipython_config.py", *profile):
        (here / "set" / name).write_text(runs)
    mine = str(here / "set")
    return {
        "files in the current folder, and variables": (
            {"MATPLOTLIBRC": mine, "PYTHONSTARTUP": f"{mine}/start.py", "IPYTHONDIR": mine},
            here / "set",
        ),
        "TeX in the current folder, folders, and no zone": (
            {"TZ": "UTC+25", "MPLCONFIGDIR": str(here / "tex"), "JUPYTER_CONFIG_DIR": mine},
            here / "tex",
        ),
    }  # fmt: skip


@pytest.mark.parametrize("n", range(2))
def test_a_page_does_not_depend_on_where_it_is_made(tmp_path, plain, n):
    (tmp_path / "here").mkdir()
    env, cwd = list(_surroundings(tmp_path / "here").values())[n]
    code, said, _ = ended(tmp_path, env=env, cwd=cwd)
    assert code == 0, said
    words = "TZ=UTC+25 is no time zone: times of this computer are taken as UTC."
    assert said[:1] == [words] if "TZ" in env else "TZ" not in said[0]
    assert not any("Warning" in line or "rror" in line for line in said)
    assert not (tmp_path / "here" / "ran").exists()
    assert {name: (tmp_path / "out" / name).read_bytes() for name in PICTURED} == plain


@pytest.mark.parametrize("zone", ["UTC+25", "QQQ-30", "ABC+24:30"])
@pytest.mark.parametrize("command", ["check", "today"])
def test_a_time_zone_that_no_clock_has_is_told_and_goes_on(zone, command, monkeypatch):
    """One zone in a Python that starts with it, the others in this one."""
    command = [command, str(DEMO / "confirmation")]
    if zone == "UTC+25":
        env = {**os.environ, "PYTHONPATH": str(ROOT), "TZ": zone}
        command = [sys.executable, "-m", "candlelab", *command]
        done = subprocess.run(command, env=env, capture_output=True, text=True)
        code, said = done.returncode, done.stderr
    else:
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        try:
            done = run(*command)
        finally:
            monkeypatch.undo()
            time.tzset()
        code, said = done.exit_code, done.stderr
    assert code == 0, said
    assert said.startswith(f"TZ={zone} is no time zone")


def test_nothing_is_left_in_the_current_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(DEMO / "confirmation", tmp_path / "batch")
    run_notebook(book(tmp_path, "1"), {"batch_folder": "x"})
    assert sorted(p.name for p in tmp_path.iterdir()) == ["batch", "book.ipynb"]

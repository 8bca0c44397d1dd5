"""The finished folder takes its place in one step, and nothing of the user's is lost."""

import os
import subprocess
import sys
import time

import pytest

from candlelab.pages import publish
from candlelab.pages.publish import NotOurFolder, whole_folder

NAMES = ("a.txt", "b.txt")


def _fill(folder, text):
    for name in NAMES:
        (folder / name).write_text(text)


def _read(folder):
    return {(folder / name).read_text() for name in NAMES}


def test_makes_a_new_folder_and_replaces_an_old_one(tmp_path):
    target = tmp_path / "deep" / "report"
    for text in ("one", "two"):
        with whole_folder(target, NAMES) as new:
            _fill(new, text)
        assert _read(target) == {text}
    assert [p.name for p in target.parent.iterdir()] == ["report"]


def test_without_an_exchange_in_the_system_the_result_is_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr(publish, "_exchange", lambda *_: False)
    test_makes_a_new_folder_and_replaces_an_old_one(tmp_path)


def test_the_old_folder_stays_when_the_work_fails(tmp_path):
    def fails(target):
        with whole_folder(target, NAMES) as new:
            _fill(new, "new")
            raise KeyError("in the middle")

    target = tmp_path / "report"
    with whole_folder(target, NAMES) as new:
        _fill(new, "old")
    with pytest.raises(KeyError, match="in the middle"):
        fails(target)
    assert _read(target) == {"old"}
    assert [p.name for p in tmp_path.iterdir()] == ["report"]


def test_a_folder_with_a_file_missing_is_not_put_in_place(tmp_path):
    with (
        pytest.raises(FileNotFoundError, match=r"^not made: b\.txt$"),
        whole_folder(tmp_path / "report", NAMES) as new,
    ):
        (new / "a.txt").write_text("x")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_with_other_files_is_refused_before_any_work(tmp_path):
    (tmp_path / "letters").mkdir()
    (tmp_path / "letters" / "dear.txt").write_text("keep me")
    with pytest.raises(NotOurFolder) as caught, whole_folder(tmp_path / "letters", NAMES):
        pytest.fail("the work began")
    assert str(caught.value) == (
        f"{tmp_path / 'letters'} holds other files (dear.txt). Give an empty or a new folder with "
        "--out."
    )
    assert (tmp_path / "letters" / "dear.txt").read_text() == "keep me"


def test_a_file_in_the_way_is_refused(tmp_path):
    (tmp_path / "report").write_text("a file")
    with (
        pytest.raises(NotOurFolder, match=r"is not a folder\. Give another place with --out\.$"),
        whole_folder(tmp_path / "report", NAMES),
    ):
        pytest.fail("the work began")


@pytest.mark.parametrize("name", ["report", "report [1]*", "r" * 250])
def test_what_an_interrupted_run_left_long_ago_is_swept(tmp_path, name):
    target = tmp_path / name
    stale, fresh = publish._beside(target), publish._beside(target)
    os.utime(stale, (0, 0))
    with whole_folder(target, NAMES) as new:
        _fill(new, "new")
    assert set(tmp_path.iterdir()) == {target, fresh}


def test_what_was_left_of_a_file_long_ago_is_swept(tmp_path):
    stale, fresh = tmp_path / ".x.json.1.unfinished", tmp_path / ".x.json.2.unfinished"
    for left in (stale, fresh):
        left.write_text("half")
    os.utime(stale, (0, 0))
    with publish.whole_file(tmp_path / "x.json") as new:
        new.write_text("whole")
    assert set(tmp_path.iterdir()) == {tmp_path / "x.json", fresh}
    assert (tmp_path / "x.json").read_text() == "whole"


@pytest.mark.slow
def test_two_runs_at_once_both_end_well(tmp_path):
    """Two writers of one folder, 200 times each, from empty places (common practice, no source)."""
    code = (
        "import sys, shutil; from pathlib import Path; from candlelab.pages.publish import "
        "whole_folder\n"
        "for n in range(200):\n"
        "    with whole_folder(Path(sys.argv[1]) / str(n // 4), ('a.txt', 'b.txt')) as new:\n"
        "        [(new / name).write_text(sys.argv[2]) for name in ('a.txt', 'b.txt')]\n"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(tmp_path), name], env=env, stderr=subprocess.PIPE
        )
        for name in "AB"
    ]
    assert [(writer.communicate()[1], writer.returncode) for writer in writers] == [(b"", 0)] * 2
    assert sorted(os.listdir(tmp_path)) == sorted(str(n) for n in range(50))
    assert all(len(_read(folder)) == 1 for folder in tmp_path.iterdir())


def test_a_run_that_comes_late_into_the_place_replaces_it(tmp_path, monkeypatch):
    rename = os.rename

    def late(new, target):
        monkeypatch.setattr(os, "rename", rename)
        with whole_folder(target, NAMES) as other:
            _fill(other, "quicker")
        rename(new, target)

    with whole_folder(tmp_path / "report", NAMES) as new:
        _fill(new, "later")
        monkeypatch.setattr(os, "rename", late)
    assert _read(tmp_path / "report") == {"later"}
    assert [p.name for p in tmp_path.iterdir()] == ["report"]


def test_a_clock_set_back_sweeps_nothing_and_harms_nothing(tmp_path, monkeypatch):
    beside = tmp_path / ".report.x.unfinished"
    beside.mkdir()
    for year in (-50, 50):
        now = time.time() + year * 365 * 86400
        with monkeypatch.context() as clock:
            clock.setattr(time, "time", lambda now=now: now)
            if year > 0:
                os.utime(beside, (now, now))
            with whole_folder(tmp_path / "report", NAMES) as new:
                _fill(new, str(year))
        assert _read(tmp_path / "report") == {str(year)}
        assert beside.exists()


@pytest.mark.slow
def test_a_reader_never_sees_half_a_folder_and_a_kill_leaves_a_whole_one(tmp_path):
    """A writer that replaces the folder as fast as it can is killed at 25 moments.

    Common practice, no source.
    """
    target = tmp_path / "report"
    code = (
        "import sys, itertools; from pathlib import Path; from candlelab.pages.publish import "
        "whole_folder\n"
        "for n in itertools.count():\n"
        "    with whole_folder(Path(sys.argv[1]), ('a.txt', 'b.txt')) as new:\n"
        "        [(new / name).write_text(str(n)) for name in ('a.txt', 'b.txt')]\n"
    )
    for n in range(25):
        writer = subprocess.Popen(
            [sys.executable, "-c", code, str(target)],
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        )
        begun = time.monotonic()
        while not target.exists() and time.monotonic() - begun < 20:
            time.sleep(0.005)
        time.sleep(0.01 + 0.003 * n)
        writer.kill()
        writer.wait()
        assert len(_read(target)) == 1, "files of two versions"


def test_a_file_in_the_way_of_a_parent_is_refused(tmp_path):
    (tmp_path / "a file").write_text("x")
    with (
        pytest.raises(NotOurFolder, match="a file is in the way"),
        whole_folder(tmp_path / "a file" / "deep" / "report", NAMES),
    ):
        pytest.fail("the work began")

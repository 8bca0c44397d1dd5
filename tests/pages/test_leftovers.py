"""What a killed run left is swept up by the next one; what is held, fresh, or not ours stays."""

import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time

import pytest

from candlelab.pages import leftovers, publish
from candlelab.pages.leftovers import held, own_folder, sweep

HOLDS = """
import sys, time
from pathlib import Path
from candlelab.pages.leftovers import own_folder
from candlelab.pages.publish import whole_folder
with own_folder("work") as own, whole_folder(Path(sys.argv[1]), ("a.txt",)) as new:
    (own / "half.txt").write_text("x"); (new / "a.txt").write_text("x")
    print(own, new, flush=True)
    time.sleep(60)
"""


def aged(path, seconds=60.0):
    """As if it had been made some time ago."""
    then = time.time() - seconds
    os.utime(path, (then, then))
    return path


@pytest.fixture
def temporary(tmp_path, monkeypatch):
    """A folder for temporary files of its own."""
    place = tmp_path / "tmp"
    place.mkdir()
    monkeypatch.setenv("TMPDIR", str(place))
    monkeypatch.setattr(tempfile, "tempdir", str(place))
    return place


@pytest.fixture
def other(tmp_path, temporary):
    """Another run, in the middle of its work; and its temporary and its unfinished folder."""
    assert temporary.is_dir()
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    command = [sys.executable, "-c", HOLDS, str(tmp_path / "out")]
    run = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True)
    folders = [tmp_path.__class__(word) for word in run.stdout.readline().split()]
    yield run, folders
    run.kill()
    run.wait()
    run.stdout.close()


def _run_again(tmp_path):
    with own_folder(), publish.whole_folder(tmp_path / "out", ("a.txt",)) as new:
        (new / "a.txt").write_text("y")


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="locks of the system are needed")
def test_what_a_killed_run_left_is_swept_by_the_next(tmp_path, temporary, other):
    run, folders = other
    run.send_signal(signal.SIGKILL)
    run.wait()
    for folder in folders:
        assert folder.is_dir()
        aged(folder, 2.0)
    _run_again(tmp_path)
    assert [p.name for p in tmp_path.iterdir() if p != temporary] == ["out"]
    assert list(temporary.iterdir()) == []


def test_what_a_living_run_holds_stays_however_old_it_is(tmp_path, other):
    _, folders = other
    for folder in folders:
        aged(folder, 3600.0)
    _run_again(tmp_path)
    assert all(folder.is_dir() for folder in folders)
    assert (folders[0] / "half.txt").read_text() == "x"


@pytest.mark.parametrize(
    "name",
    [
        "candlelab-demo", "candlelab-demo-mine", "candlelab-my-own-batches", "candlelab-x-12345678",
        "candlelab.tmp", "candlelab-work-1234567.tmp", "other-work-12345678.tmp",
    ],
)  # fmt: skip
def test_folders_of_the_user_stay(temporary, name):
    (temporary / name).mkdir()
    aged(temporary / name, 1e6)
    with own_folder():
        pass
    assert (temporary / name).is_dir()


@pytest.mark.parametrize(
    "name",
    [".out.mine", ".outer.12345678.unfinished", "out.12345678.unfinished", ".out.unfinished"],
)
def test_hidden_folders_of_others_stay(tmp_path, temporary, name):
    assert temporary.is_dir()
    (tmp_path / name).mkdir()
    aged(tmp_path / name, 1e6)
    _run_again(tmp_path)
    assert (tmp_path / name).is_dir()


def test_another_users_folder_stays(tmp_path, monkeypatch):
    left = tmp_path / "candlelab-work-12345678.tmp"
    left.mkdir()
    aged(left)
    monkeypatch.setattr(leftovers.os, "getuid", lambda: os.stat(left).st_uid + 1, raising=False)
    sweep([left])
    assert left.is_dir()


def test_a_link_stays_and_what_it_points_to(tmp_path):
    (tmp_path / "letters").mkdir()
    link = tmp_path / "candlelab-work-12345678.tmp"
    link.symlink_to(tmp_path / "letters")
    os.utime(link, (0, 0), follow_symlinks=False)
    sweep([link])
    assert link.is_symlink()
    assert (tmp_path / "letters").is_dir()


def test_what_was_just_made_stays_since_it_may_not_be_locked_yet(tmp_path):
    (tmp_path / "new").mkdir()
    sweep([tmp_path / "new"])
    assert (tmp_path / "new").is_dir()


@pytest.mark.parametrize(("age", "stays"), [(3600.0, True), (7 * 3600.0, False)])
def test_without_locks_in_the_system_only_what_is_old_goes(tmp_path, monkeypatch, age, stays):
    monkeypatch.setattr(leftovers, "_lock", lambda _: None)
    (tmp_path / "left").mkdir()
    sweep([aged(tmp_path / "left", age)])
    assert (tmp_path / "left").is_dir() == stays


def test_it_is_gone_afterwards_whatever_happens(temporary):
    def fails():
        with own_folder("x") as folder:
            assert folder.name.startswith("candlelab-x-")
            (folder / "a").mkdir()
            raise KeyError("in the middle")

    with pytest.raises(KeyError):
        fails()
    assert list(temporary.iterdir()) == []
    file = temporary / "file"
    file.write_text("x")
    with held(file):
        pass
    assert not file.exists()


def test_one_that_is_gone_already_is_no_fault(temporary):
    with own_folder() as folder:
        shutil.rmtree(folder)
    sweep([temporary / "nowhere"])

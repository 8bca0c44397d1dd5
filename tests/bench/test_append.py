"""Lines added to a file: whole, durable, in order, by several writers, and on a full disk."""

import errno
import os
import subprocess
import sys

import pytest
from benches import python_env

from candlelab.bench.append import append, contents, locked


def add(path, text, **more):
    with locked(path) as descriptor:
        append(descriptor, text, **more)


def test_a_new_file_is_made_and_added_to(tmp_path):
    path = tmp_path / "new"
    add(path, b"a\n")
    add(path, b"b\n")
    assert path.read_bytes() == b"a\nb\n"


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
def test_a_last_line_without_its_end_gets_one_first(tmp_path, end):
    path = tmp_path / "torn"
    path.write_bytes(b"whole" + end + b"torn")
    add(path, b"next" + end, line_end=end)
    assert path.read_bytes() == b"whole" + end + b"torn" + end + b"next" + end


def test_a_torn_row_can_be_carried_on(tmp_path):
    path = tmp_path / "torn"
    path.write_bytes(b"a,b\n1,")
    add(path, b"2\n", line_end=b"")
    assert path.read_bytes() == b"a,b\n1,2\n"


def test_one_write_then_the_disk_then_the_return(tmp_path, monkeypatch):
    calls = []
    for name in ("write", "fsync"):
        real = getattr(os, name)
        monkeypatch.setattr(
            os, name, lambda *args, real=real, name=name: (calls.append(name), real(*args))[1]
        )
    add(tmp_path / "new", b"a\nb\n")
    assert calls == ["fsync", "write", "fsync"]  # the folder knows the name of a new file first
    calls.clear()
    add(tmp_path / "new", b"c\n")
    assert calls == ["write", "fsync"]


@pytest.mark.parametrize("error", [errno.ENOSPC, errno.EIO])
def test_what_the_disk_did_not_take_is_taken_back(tmp_path, monkeypatch, error):
    path = tmp_path / "log"
    add(path, b"before\n")

    def refuse(descriptor):
        raise OSError(error, os.strerror(error))

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match=os.strerror(error)):
        add(path, b"lost\n")
    monkeypatch.undo()
    assert path.read_bytes() == b"before\n"


@pytest.mark.skipif(os.name != "posix", reason="limits of files are POSIX")
def test_a_disk_that_is_full_in_the_middle_of_a_write_keeps_no_part(tmp_path):
    code = """if True:
        import resource, signal, sys
        from pathlib import Path
        from candlelab.bench.append import append, locked
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (100, 100))
        path = Path(sys.argv[1])
        for n in range(20):
            try:
                with locked(path) as descriptor:
                    append(descriptor, b"%08d\\n" % n)
            except OSError as error:
                print(n, error)
                break
    """
    command = [sys.executable, "-c", code, str(tmp_path / "log")]
    run = subprocess.run(command, capture_output=True, text=True, env=python_env(), check=True)
    assert run.stdout.startswith("11 "), run.stderr  # 11 lines of 9 bytes fit into 100
    assert (tmp_path / "log").read_bytes() == b"".join(b"%08d\n" % n for n in range(11))


@pytest.mark.slow
def test_several_writers_at_once_tear_nothing(tmp_path):
    path = tmp_path / "log"
    code = """if True:
        import sys
        from pathlib import Path
        from candlelab.bench.append import append, locked
        for n in range(150):
            with locked(Path(sys.argv[1])) as descriptor:
                append(descriptor, (f"{sys.argv[2]} {n} " + "x" * 300 + "\\n").encode())
    """
    command = [sys.executable, "-c", code, str(path)]
    works = [subprocess.Popen([*command, name], env=python_env()) for name in "abc"]
    assert [work.wait(60) for work in works] == [0, 0, 0]
    lines = path.read_text().splitlines()
    assert sorted(lines) == sorted(f"{w} {n} {'x' * 300}" for w in "abc" for n in range(150))


def test_contents_are_all_of_it(tmp_path):
    path = tmp_path / "large"
    path.write_bytes(b"x" * 3_000_001)
    with locked(path) as descriptor:
        assert contents(descriptor) == path.read_bytes()

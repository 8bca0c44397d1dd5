"""Folders and files that a run needs for a while. What a run that was killed left of them is swept
up by the next one.

A running process holds a lock on each that it made; the system lets go of it when the process ends,
however it ends. What is locked, fresh, or another user's is left alone.
"""

from __future__ import annotations

import os
import shutil
import stat
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

_FRESH_S = 1.0  # between making a folder and locking it
_STALE_S = 6 * 3600.0  # where the system has no such locks
# candlelab-WORK-12345678.tmp: by its form no folder that somebody has named
_PREFIX, _SUFFIX = "candlelab-", ".tmp"


@contextmanager
def own_folder(what: str = "work") -> Iterator[Path]:
    """A temporary folder of ours, gone afterwards; ``what`` is put into its name."""
    sweep(Path(tempfile.gettempdir()).glob(f"{_PREFIX}*-????????{_SUFFIX}"))
    folder = Path(tempfile.mkdtemp(prefix=f"{_PREFIX}{what}-", suffix=_SUFFIX)).resolve()
    with held(folder):
        yield folder


@contextmanager
def held(path: Path) -> Iterator[None]:
    """Hold a folder or file that was just made, and remove what is there of it in the end."""
    lock = _lock(path)
    try:
        yield
    finally:
        _remove(path)
        if lock is not None:
            os.close(lock)


def sweep(left: Iterable[Path]) -> None:
    """Remove those of these folders and files that are ours and that no living run holds."""
    for path in left:
        with suppress(OSError):
            found = path.lstat()
            if stat.S_ISLNK(found.st_mode) or not _is_ours(found):
                continue
            age = time.time() - found.st_mtime
            if age < _FRESH_S:
                continue
            lock = _lock(path)
            if lock is None and age < _STALE_S:
                continue
            try:
                _remove(path)
            finally:
                if lock is not None:
                    os.close(lock)


def _is_ours(found: os.stat_result) -> bool:
    return not hasattr(os, "getuid") or found.st_uid == os.getuid()


def _lock(path: Path) -> int | None:
    """A file descriptor that locks this folder or file; None where another holds it, or where the
    system has no such locks."""
    try:
        import fcntl
    except ImportError:
        return None
    try:
        descriptor = os.open(path, os.O_RDONLY)
    except OSError:
        return None
    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        os.close(descriptor)
        return None
    return descriptor


def _remove(path: Path) -> None:
    if path.is_dir():
        shutil.rmtree(path, ignore_errors=True)
    else:
        path.unlink(missing_ok=True)

"""Adds whole lines to the end of a file, and says so only when the disk has them.

Nothing that was there before is touched. One writer at a time, whichever process it is in.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: not tried
    fcntl = None  # type: ignore[assignment]

_HOW = os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0)
_MODE = 0o666


@contextlib.contextmanager
def locked(path: Path) -> Iterator[int]:
    """The file opened to add to, made if it is not there, with no other writer until the end."""
    new = not path.exists()
    descriptor = os.open(path, _HOW, _MODE)
    try:
        _lock(descriptor)
        if new:
            _sync_folder(path.parent)
        yield descriptor
    finally:
        os.close(descriptor)  # gives the lock back


def append(descriptor: int, text: bytes, *, line_end: bytes = b"\n") -> None:
    """Add text in one write and wait for the disk; a last line without its end gets one first.

    With an empty ``line_end`` it gets none: the text carries on where the last line stopped. What
    the disk did not take whole is taken back.

    Raises
    ------
    OSError
        When not all of it is on the disk.
    """
    size = os.fstat(descriptor).st_size
    if size:
        os.lseek(descriptor, size - 1, os.SEEK_SET)
        if os.read(descriptor, 1) not in (b"\n", b"\r"):
            text = line_end + text
    try:
        if os.write(descriptor, text) != len(text):
            raise OSError("there was room for a part of it only")
        os.fsync(descriptor)
    except OSError:
        with contextlib.suppress(OSError):
            os.ftruncate(descriptor, size)
        raise


def contents(descriptor: int) -> bytes:
    """Everything in an open file."""
    os.lseek(descriptor, 0, os.SEEK_SET)
    parts = []
    while part := os.read(descriptor, 1 << 20):
        parts.append(part)
    return b"".join(parts)


def _sync_folder(folder: Path) -> None:
    """Wait until the disk knows a new file's name."""
    if os.name == "posix":
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _lock(descriptor: int) -> None:
    if fcntl:
        fcntl.flock(descriptor, fcntl.LOCK_EX)
        return
    import msvcrt

    os.lseek(descriptor, 2**30, os.SEEK_SET)  # far behind every byte: locks nobody's reading
    msvcrt.locking(descriptor, msvcrt.LK_LOCK, 1)  # type: ignore[attr-defined]

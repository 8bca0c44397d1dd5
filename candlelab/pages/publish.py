"""Puts a finished folder in its place in one step.

Whoever looks sees the old one or the new one, whole.
"""

from __future__ import annotations

import ctypes
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from fnmatch import fnmatchcase
from pathlib import Path

from candlelab.pages.leftovers import held, sweep


class NotOurFolder(ValueError):
    """The folder to replace holds something that is not an earlier output."""


@contextmanager
def whole_folder(target: Path, names: tuple[str, ...], *more: str) -> Iterator[Path]:
    """Give an empty folder to fill; on leaving without an error it takes the place of ``target``.

    Parameters
    ----------
    target : Path
        Where the finished folder shall stand.
    names : tuple of str
        The files that the finished folder holds.
    more : str
        Patterns of the names of other files that it may hold.

    Raises
    ------
    NotOurFolder
        Before anything is done when ``target`` holds other files, so that nothing of the user's
        can be lost.
    """
    _refuse_foreign(target, names, more)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except (FileExistsError, NotADirectoryError) as error:
        raise NotOurFolder(
            f"{target} cannot be made: a file is in the way. Give another place with --out."
        ) from error
    _sweep(target)
    new = _beside(target)
    with held(new):
        yield new
        missing = [name for name in names if not (new / name).is_file()]
        if missing:
            raise FileNotFoundError(f"not made: {', '.join(missing)}")
        new.chmod(0o755)
        _flush(new)
        _refuse_foreign(target, names, more)
        _swap_in(new, target)


def _beside(target: Path) -> Path:
    """A new empty folder beside the target."""
    prefix = f".{_plain(target.name)}."
    return Path(tempfile.mkdtemp(prefix=prefix, suffix=".unfinished", dir=target.parent))


def _refuse_foreign(target: Path, names: tuple[str, ...], more: tuple[str, ...]) -> None:
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise NotOurFolder(f"{target} is not a folder. Give another place with --out.")
    if target.is_dir():
        known = {*names, ".ipynb_checkpoints"}
        there = (p.name for p in target.iterdir())
        foreign = sorted(
            n for n in there if n not in known and not any(fnmatchcase(n, one) for one in more)
        )
        if foreign:
            raise NotOurFolder(
                f"{target} holds other files ({', '.join(foreign[:3])}). Give an empty or a new "
                "folder with --out."
            )


def _sweep(target: Path) -> None:
    """Remove what an interrupted run left beside the target."""
    sweep(target.parent.glob(f".{_plain(target.name)}.*.unfinished"))


def _flush(folder: Path) -> None:
    """Ask for the files to be on the disk before their names are."""
    for path in folder.iterdir():
        with open(path, "rb+") as file:
            os.fsync(file.fileno())


def _swap_in(new: Path, target: Path) -> None:
    """Rename ``new`` to ``target``; an old target is exchanged with it where the system can.

    Linux has renameat2 with RENAME_EXCHANGE, macOS renamex_np with RENAME_SWAP. Elsewhere the old
    folder is first renamed, and renamed back when the second step fails.
    """
    if not target.exists():
        try:
            os.rename(new, target)
            return
        except OSError:
            if not target.exists():  # else a run beside this one was quicker
                raise
    if not _exchange(new, target):
        old = _beside(target) / "old"
        with held(old.parent):
            os.rename(target, old)
            try:
                os.rename(new, target)
            except OSError:
                os.rename(old, target)
                raise


def _exchange(one: Path, other: Path) -> bool:
    """Exchange two folders in one step; False where the system or the file system cannot."""
    a, b = os.fsencode(one), os.fsencode(other)
    try:
        library = ctypes.CDLL(None, use_errno=True)
        if sys.platform.startswith("linux"):
            return library.renameat2(-100, a, -100, b, ctypes.c_uint(2)) == 0
        if sys.platform == "darwin":
            return library.renamex_np(a, b, ctypes.c_uint(2)) == 0
    except (AttributeError, OSError, TypeError):
        pass
    return False


@contextmanager
def whole_file(target: Path) -> Iterator[Path]:
    """Give the path of a new file to write; on leaving without an error it replaces ``target``."""
    target.parent.mkdir(parents=True, exist_ok=True)
    _sweep(target)
    handle, name = tempfile.mkstemp(
        prefix=f".{_plain(target.name)}.", suffix=".unfinished", dir=target.parent
    )
    os.close(handle)
    new = Path(name)
    with held(new):
        yield new
        new.chmod(0o644)
        with open(new, "rb+") as file:
            os.fsync(file.fileno())
        os.replace(new, target)


def _plain(name: str) -> str:
    """A name without what ``glob`` would read as a pattern, short enough to be put into another."""
    return "".join(c if c.isalnum() or c in ".-_" else "-" for c in name)[:60]

"""Zip files: written so that the same files give the same bytes, and opened so that no zip can do
harm.

A zip that arrives is refused as a whole, with the reason, before anything of it is written: names
that lead out of the folder, links, names that two systems read in two ways, bombs, encryption,
damage.
"""

from __future__ import annotations

import hashlib
import os
import stat
import struct
import tempfile
import unicodedata
import zipfile
import zlib
from pathlib import Path
from typing import IO, BinaryIO, cast

from candlelab.text import clip

# Common practice, no source. A year of a busy studio's batches is some 10 MB.
MOST_FILES = 2000
MOST_BYTES = 500_000_000
MOST_BYTES_OF_A_FILE = 250_000_000
MOST_RATIO = 200
LONGEST_NAME = 240
_RATIO_FROM_BYTES = 5_000_000
_EPOCH = (1980, 1, 1, 0, 0, 0)
_CHUNK = 1 << 20
_PORTS = {f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10)}
_DEVICES = {"con", "prn", "aux", "nul"} | _PORTS


class UnsafePack(ValueError):
    """A zip file that is not opened; the message says why."""


def write_zip(target: Path | BinaryIO, files: dict[str, bytes]) -> None:
    """Write files into a zip: sorted by name, one date (1980-01-01), plain permissions, nothing of
    the system."""
    with zipfile.ZipFile(target, "w") as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(name, _EPOCH)
            entry.compress_type, entry.create_system = zipfile.ZIP_DEFLATED, 3
            entry.external_attr = (stat.S_IFREG | 0o644) << 16
            archive.writestr(entry, files[name], compresslevel=6)


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes."""
    with open(path, "rb") as file:
        return _digest(file)


def _digest(file: IO[bytes]) -> str:
    return hashlib.file_digest(file, "sha256").hexdigest()  # type: ignore[arg-type]


def read_zip(path: Path) -> dict[str, bytes]:
    """Every file of a zip by its name, nothing written to the disk. Raises UnsafePack, or OSError
    when it cannot be opened."""
    if path.stat().st_size > MOST_BYTES:
        raise UnsafePack(
            f"the file has {path.stat().st_size:,} bytes; more than {MOST_BYTES:,} are not opened"
        )
    return unpacked(path)


def unpacked(file: Path | BinaryIO, *, most_bytes: int | None = None) -> dict[str, bytes]:
    """Every file of a zip that lies on the disk or is in memory; raises as ``read_zip`` does."""
    try:
        with zipfile.ZipFile(file) as archive:
            entries = archive.infolist()
            _check_names(entries)
            _check_sizes(entries, most_bytes or MOST_BYTES)
            _check_places(archive, entries)
            _check_other_names(archive, entries)
            return {
                entry.filename: _content(archive, entry) for entry in entries if not entry.is_dir()
            }
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        EOFError,
        ValueError,
        RuntimeError,
        IndexError,
    ) as error:
        if isinstance(error, UnsafePack):
            raise
        raise UnsafePack(f"it cannot be read as a zip file: {clip(error)}") from error


def written_by_us(path: Path, files: dict[str, bytes]) -> bool:
    """Whether a zip is byte for byte what ``write_zip`` makes of its files here."""
    with tempfile.TemporaryFile() as again:
        write_zip(again, files)
        again.seek(0)
        return _digest(again) == sha256_of(path)


def unsafe_name(name: str) -> str:
    """Why a name inside a zip is refused; an empty string for a safe one."""
    if not name or len(name.encode("utf-8", "surrogatepass")) > LONGEST_NAME:
        return f"a name that is empty or longer than {LONGEST_NAME} bytes"
    if name.startswith(("/", "\\")) or name[1:2] == ":":
        return "an absolute name"
    if "\\" in name or ":" in name:
        return "a name with a backslash or a colon, which is a path on some systems"
    if any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in name):
        return "a name with characters that do not show"
    for part in name.removesuffix("/").split("/"):
        if part in ("", ".", ".."):
            return "a name that leads out of its folder"
        if part != part.strip() or part.endswith("."):
            return "a name that ends in a dot or a space, which some systems drop"
        if part.split(".")[0].casefold() in _DEVICES or any(c in '<>"|?*' for c in part):
            return "a name that some systems keep for themselves"
    return ""


def _check_names(entries: list[zipfile.ZipInfo]) -> None:
    if len(entries) > MOST_FILES:
        raise UnsafePack(
            f"it holds {len(entries):,} files; more than {MOST_FILES:,} are not opened"
        )
    seen: dict[str, str] = {}
    for entry in entries:
        name, shown = entry.filename, clip(entry.orig_filename)
        if why := unsafe_name(entry.orig_filename):
            raise UnsafePack(f"{shown}: {why}")
        _check_other_name(entry, entry.extra)  # Python 3.13 takes it for the file's name
        if why := unsafe_name(name):
            raise UnsafePack(f"{shown}: {why}")
        kind = stat.S_IFMT(entry.external_attr >> 16)
        if kind and kind != (stat.S_IFDIR if entry.is_dir() else stat.S_IFREG):
            raise UnsafePack(f"{shown}: a link or something else that is not a file")
        if entry.flag_bits & 0x1:
            raise UnsafePack(f"{shown}: it is encrypted")
        if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise UnsafePack(f"{shown}: a way of packing that is not opened here")
        if entry.is_dir() and entry.file_size:
            raise UnsafePack(f"{shown}: a folder with a content of its own")
        key = _key(name)
        if key in seen:
            same = (
                "twice"
                if seen[key] == name
                else f"beside {clip(seen[key])}, the same name on some systems"
            )
            raise UnsafePack(f"{shown}: it is there {same}")
        seen[key] = name
    folders: dict[str, str] = {}
    for name in seen.values():
        for folder in _folders(name):
            if folders.setdefault(_key(folder), folder) != folder:
                raise UnsafePack(
                    f"{clip(name)}: its folder is there as {clip(folders[_key(folder)])} too, the "
                    "same name on some systems"
                )
    for key, name in seen.items():
        if key in folders and not name.endswith("/"):
            raise UnsafePack(f"{clip(name)}: a file and a folder of one name")


def _key(name: str) -> str:
    return unicodedata.normalize("NFKC", name).casefold().removesuffix("/")


def _folders(name: str) -> list[str]:
    parts = name.removesuffix("/").split("/")
    return ["/".join(parts[:n]) for n in range(1, len(parts))]


def _check_sizes(entries: list[zipfile.ZipInfo], most_bytes: int) -> None:
    for entry in entries:
        if entry.file_size > MOST_BYTES_OF_A_FILE:
            raise UnsafePack(
                f"{clip(entry.filename)}: {entry.file_size:,} bytes; more than "
                f"{MOST_BYTES_OF_A_FILE:,} are not opened"
            )
        if entry.file_size > _RATIO_FROM_BYTES and entry.file_size > MOST_RATIO * max(
            entry.compress_size, 1
        ):
            raise UnsafePack(
                f"{clip(entry.filename)}: it unpacks to more than {MOST_RATIO} times its size, as "
                "no log does"
            )
    total = sum(entry.file_size for entry in entries)
    if total > most_bytes:
        raise UnsafePack(f"it unpacks to {total:,} bytes; more than {most_bytes:,} are not opened")


def _check_places(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo]) -> None:
    """Files must lie one after the other from the first byte on: none over another, nothing in
    front."""
    end = 0
    for entry in sorted(entries, key=lambda e: e.header_offset):
        if not end and entry.header_offset:
            raise UnsafePack(
                "there are bytes before its first file: it is another kind of file as well"
            )
        if entry.header_offset < end:
            raise UnsafePack(f"{clip(entry.filename)}: it lies over another file, as in a zip bomb")
        end = entry.header_offset + 30 + len(entry.orig_filename) + entry.compress_size
    if end > archive.start_dir:
        raise UnsafePack("its files reach into its table of contents")


_UNICODE_PATH = 0x7075  # a field of Info-ZIP's, by which some programs give a file another name


def _check_other_names(archive: zipfile.ZipFile, entries: list[zipfile.ZipInfo]) -> None:
    """No file may have a second name in front of the file itself."""
    file = cast(IO[bytes], archive.fp)
    for entry in entries:
        file.seek(entry.header_offset + 26)
        name_length, extra_length = struct.unpack("<HH", file.read(4))
        file.seek(name_length, os.SEEK_CUR)
        _check_other_name(entry, file.read(extra_length))


def _check_other_name(entry: zipfile.ZipInfo, extra: bytes) -> None:
    if _other_name(extra) not in (None, entry.orig_filename):
        raise UnsafePack(f"{clip(entry.orig_filename)}: a field beside it may give it another name")


def _other_name(extra: bytes) -> str | None:
    """The name in an entry's extra fields, if any; an empty one for fields that cannot be read."""
    at, name = 0, None
    while at < len(extra):
        if at + 4 > len(extra):
            return ""
        kind, length = struct.unpack("<HH", extra[at : at + 4])
        if kind == _UNICODE_PATH:  # behind a version of one byte and a checksum of four
            name = extra[at + 9 : at + 4 + length].decode("utf-8", "replace")
        at += 4 + length
    return name if at == len(extra) else ""


def _content(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> bytes:
    parts, size = [], 0
    try:
        with archive.open(entry) as file:
            while part := file.read(_CHUNK):
                size += len(part)
                if size > entry.file_size:
                    raise UnsafePack(f"{clip(entry.filename)}: it unpacks to more than it says")
                parts.append(part)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, RuntimeError) as error:
        if isinstance(error, UnsafePack):
            raise
        raise UnsafePack(f"{clip(entry.filename)}: it is damaged ({clip(error)})") from error
    if size != entry.file_size:
        raise UnsafePack(f"{clip(entry.filename)}: it is cut short")
    return b"".join(parts)


def write_files(folder: Path, files: dict[str, bytes]) -> None:
    """Write files that ``read_zip`` gave into an empty folder of ours."""
    for name, content in files.items():
        path = folder.joinpath(*name.split("/"))
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(path, "xb") as file:
            file.write(content)

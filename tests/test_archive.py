"""A zip is written the same each time, and one that could do harm is refused whole, with its
reason."""

import io
import os
import stat
import struct
import sys
import zipfile
import zlib

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from packs import raw_zip

from candlelab import archive
from candlelab.archive import UnsafePack, read_zip, unsafe_name, write_zip, written_by_us
from candlelab.pages.publish import whole_file

FILES = {"b/two.txt": b"two", "a.txt": b"one" * 1000, "Kerzen/\u8721\u71ed.csv": "ä".encode()}


def saved(tmp_path, data):
    (tmp_path / "x.zip").write_bytes(data)
    return tmp_path / "x.zip"


def refusal(tmp_path, data):
    with pytest.raises(UnsafePack) as caught:
        read_zip(saved(tmp_path, data))
    return str(caught.value)


def test_the_same_files_give_the_same_bytes_in_any_order(tmp_path):
    write_zip(tmp_path / "one.zip", FILES)
    write_zip(tmp_path / "two.zip", dict(reversed(FILES.items())))
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    assert read_zip(tmp_path / "one.zip") == FILES
    with zipfile.ZipFile(tmp_path / "one.zip") as made:
        assert [e.filename for e in made.infolist()] == sorted(FILES)
        assert {
            (e.date_time, e.external_attr >> 16, e.create_system, e.extra, e.comment)
            for e in made.infolist()
        } == {((1980, 1, 1, 0, 0, 0), stat.S_IFREG | 0o644, 3, b"", b"")}


def test_a_zip_of_another_program_is_told_from_ours(tmp_path):
    write_zip(tmp_path / "one.zip", FILES)
    assert written_by_us(tmp_path / "one.zip", FILES)
    other = saved(tmp_path, raw_zip(("folder/", b""), *FILES.items()))
    assert read_zip(other) == FILES
    assert not written_by_us(other, FILES)


NAMES = {
    "../up.txt": "a name that leads out of its folder",
    "a/../../up.txt": "a name that leads out of its folder",
    "./a": "a name that leads out of its folder", "a//b": "a name that leads out of its folder",
    "/etc/passwd": "an absolute name", "\\\\host\\share": "an absolute name",
    "C:/x": "an absolute name", "c:x": "an absolute name",
    "a\\b": "a name with a backslash or a colon, which is a path on some systems",
    "a.txt:stream": "a name with a backslash or a colon, which is a path on some systems",
    "a\nb": "a name with characters that do not show",
    "a\u202eb": "a name with characters that do not show",
    "a\x7f": "a name with characters that do not show",
    "CON": "a name that some systems keep for themselves",
    "a/nul.txt": "a name that some systems keep for themselves",
    "com1.csv": "a name that some systems keep for themselves",
    "a?b": "a name that some systems keep for themselves",
    "a. ": "a name that ends in a dot or a space, which some systems drop",
    "a./b": "a name that ends in a dot or a space, which some systems drop",
    "": "a name that is empty or longer than 240 bytes",
    "x" * 241: "a name that is empty or longer than 240 bytes",
}  # fmt: skip


@pytest.mark.parametrize(("name", "reason"), NAMES.items())
def test_names_that_are_refused(tmp_path, name, reason):
    assert unsafe_name(name) == reason
    if name and sys.platform != "win32":
        entry = zipfile.ZipInfo("y")
        entry.filename = name
        assert refusal(tmp_path, raw_zip(("a.txt", b"1"), (entry, b"2"))).endswith(reason)


@pytest.mark.parametrize(
    "name",
    [
        "a.txt",
        "batches/Käfer-1/burns.csv",
        "蝋燭/b.csv",
        "a..b/c",
        ".hidden",
        "console.csv",
        "a b.csv",
    ],
)
def test_names_that_are_fine(name):
    assert unsafe_name(name) == ""


@given(st.text(max_size=40))
@example("a/\u2024./b")
def test_a_name_that_passes_stays_in_its_folder(name):
    if not unsafe_name(name):
        base = os.path.join(os.sep, "base")
        assert os.path.normpath(os.path.join(base, *name.split("/"))).startswith(base + os.sep)


@pytest.mark.filterwarnings("ignore:Duplicate name:UserWarning")
@pytest.mark.parametrize(
    ("entries", "reason"),
    [
        ((("a", b"1"), ("a", b"2")), "a: it is there twice"),
        (
            (("a/B.csv", b"1"), ("a/b.csv", b"2")),
            "a/b.csv: it is there beside a/B.csv, the same name on some systems",
        ),
        (
            (("\u00e4", b"1"), ("a\u0308", b"2")),
            "a\u0308: it is there beside \u00e4, the same name on some systems",
        ),
        (
            (("A/x", b"1"), ("a/y", b"2")),
            "a/y: its folder is there as A too, the same name on some systems",
        ),
        ((("a", b"1"), ("a/b", b"2")), "a: a file and a folder of one name"),
    ],
)
def test_names_that_meet_each_other(tmp_path, entries, reason):
    assert refusal(tmp_path, raw_zip(*entries)) == reason


@pytest.mark.parametrize(
    "kind", [stat.S_IFLNK, stat.S_IFIFO, stat.S_IFCHR, stat.S_IFSOCK, stat.S_IFDIR]
)
def test_links_and_devices_are_refused(tmp_path, kind):
    entry = zipfile.ZipInfo("link")
    entry.create_system, entry.external_attr = 3, (kind | 0o777) << 16
    assert (
        refusal(tmp_path, raw_zip((entry, b"/etc/passwd")))
        == "link: a link or something else that is not a file"
    )


def test_bombs_are_refused_by_what_they_say(tmp_path, monkeypatch):
    bomb = raw_zip(("zeros.csv", bytes(6_000_000)))
    assert (
        refusal(tmp_path, bomb)
        == "zeros.csv: it unpacks to more than 200 times its size, as no log does"
    )
    many = raw_zip(*((f"{n}", b"") for n in range(2001)))
    assert refusal(tmp_path, many) == "it holds 2,001 files; more than 2,000 are not opened"
    monkeypatch.setattr(archive, "MOST_BYTES_OF_A_FILE", 10)
    assert (
        refusal(tmp_path, raw_zip(("a", b"x" * 11))) == "a: 11 bytes; more than 10 are not opened"
    )
    monkeypatch.setattr(archive, "MOST_BYTES", 15)
    assert refusal(tmp_path, raw_zip(("a", b"x" * 8))).endswith(
        "bytes; more than 15 are not opened"
    )


def test_a_bomb_that_lies_about_its_size_is_refused(tmp_path):
    data = bytearray(raw_zip(("zeros.csv", bytes(6_000_000))))
    for at in (
        22,
        data.index(b"PK\x01\x02") + 24,
    ):  # the size unpacked, in the local header and in the table of contents
        assert struct.unpack_from("<I", data, at)[0] == 6_000_000
        struct.pack_into("<I", data, at, 100)
    assert refusal(tmp_path, bytes(data)).startswith("zeros.csv: it is damaged (Bad CRC-32")


def test_a_bomb_of_files_over_each_other_is_refused(tmp_path):
    data = bytearray(raw_zip(("a", b"1" * 50), ("b", b"2" * 50)))
    second = data.index(b"PK\x01\x02", data.index(b"PK\x01\x02") + 4)
    struct.pack_into("<I", data, second + 42, 0)
    assert refusal(tmp_path, bytes(data)) in (
        "b: it lies over another file, as in a zip bomb",
        "a: it lies over another file, as in a zip bomb",
    )


def _second_name(name, *, checked="a.txt"):
    """Info-ZIP's field for a name in UTF-8 (APPNOTE 4.6.9): version, checksum of the other name,
    name."""
    data = b"\x01" + struct.pack("<I", zlib.crc32(checked.encode())) + name.encode()
    return struct.pack("<HH", 0x7075, len(data)) + data


@pytest.mark.parametrize(
    ("inside", "local"),
    [
        (_second_name("b.txt"), None),
        (_second_name("../up.txt"), None),
        (_second_name("b.txt", checked="c.txt"), None),
        (b"UT\x05\x00\x03aaaa" + _second_name("b.txt"), None),
        (b"", _second_name("b.txt")),
        (b"", b"\x75\x70\xff"),
    ],
)
def test_a_field_that_gives_another_name_is_refused(tmp_path, inside, local):
    entry = zipfile.ZipInfo("a.txt")
    entry.extra = inside
    data = raw_zip((entry, b"one"))
    if local is not None:  # in front of the file only
        name = data.index(b"a.txt") + 5
        data = data[:28] + struct.pack("<H", len(local)) + data[30:name] + local + data[name:]
        end = data.rindex(b"PK\x05\x06") + 16
        place = struct.unpack("<I", data[end : end + 4])[0] + len(local)
        data = data[:end] + struct.pack("<I", place) + data[end + 4 :]
    assert "a.txt: a field beside it may give it another name" in refusal(tmp_path, data)


def test_a_field_that_gives_the_same_name_is_fine(tmp_path):
    entry = zipfile.ZipInfo("a.txt")
    entry.extra = b"UT\x05\x00\x03aaaa" + _second_name("a.txt")
    assert read_zip(saved(tmp_path, raw_zip((entry, b"one")))) == {"a.txt": b"one"}


def test_encrypted_and_unusual_packing_is_refused(tmp_path):
    data = bytearray(raw_zip(("a", b"1")))
    struct.pack_into("<H", data, data.index(b"PK\x01\x02") + 8, 1)
    assert refusal(tmp_path, bytes(data)) == "a: it is encrypted"
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_BZIP2) as made:
        made.writestr("a", b"1")
    assert refusal(tmp_path, file.getvalue()) == "a: a way of packing that is not opened here"


def test_what_is_no_zip_or_more_than_a_zip_is_refused(tmp_path):
    good = raw_zip(("a", b"1"))
    for data in (b"", b"hello", good[:-5], good[10:]):
        assert refusal(tmp_path, data).startswith(
            ("it cannot be read as a zip file: ", "there are bytes before", "its files")
        )
    assert (
        refusal(tmp_path, b"#!/bin/sh\n" + good)
        == "there are bytes before its first file: it is another kind of file as well"
    )


def test_damage_is_named(tmp_path):
    data = raw_zip(("a.csv", os.urandom(300)))
    at = data.index(b"a.csv") + 100
    assert refusal(tmp_path, data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]).startswith(
        "a.csv: it is damaged ("
    )


@pytest.mark.slow
@given(st.data())
def test_any_bytes_are_files_or_a_reason(tmp_path_factory, data):
    good = raw_zip(("a.csv", b"candle,burn\n" * 20), ("b/c.json", b"{}"))
    at = data.draw(st.integers(0, len(good)))
    changed = (
        good[:at] + data.draw(st.binary(max_size=6)) + good[at + data.draw(st.integers(0, 6)) :]
    )
    path = tmp_path_factory.getbasetemp() / "any.zip"
    path.write_bytes(data.draw(st.sampled_from([changed, data.draw(st.binary(max_size=60))])))
    refusal = None
    try:
        names = list(read_zip(path))
    except UnsafePack as error:
        names, refusal = [], str(error)
    assert refusal != ""
    assert not any(map(unsafe_name, names))


def test_a_file_takes_its_place_whole_or_not_at_all(tmp_path):
    target = tmp_path / "deep" / "x [1].zip"
    with whole_file(target) as new:
        new.write_bytes(b"old")

    def half():
        with whole_file(target) as new:
            new.write_bytes(b"ne")
            raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space left"):
        half()
    assert target.read_bytes() == b"old"
    assert [p.name for p in target.parent.iterdir()] == [target.name]
    assert stat.S_IMODE(target.stat().st_mode) == 0o644 or os.name != "posix"


def test_what_an_interrupted_run_left_long_ago_is_swept(tmp_path):
    stale, fresh = tmp_path / ".x.zip.1.unfinished", tmp_path / ".x.zip.2.unfinished"
    for path in (stale, fresh):
        path.write_bytes(b"")
    os.utime(stale, (0, 0))
    with whole_file(tmp_path / "x.zip") as new:
        new.write_bytes(b"new")
    assert not stale.exists()
    assert fresh.exists()

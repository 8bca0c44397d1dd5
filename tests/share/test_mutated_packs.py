"""A hundred packs, each changed in one way: the reason is told, and nothing runs."""

import json
import random
import re
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest
from packs import LOGS, RECORD, REPORT, rezipped, with_new_manifest

from candlelab.archive import write_zip
from candlelab.share.contents import json_bytes
from candlelab.share.verify import verify_pack

ADDED = [
    "batches/confirmation/numpy.py",
    "sitecustomize.py",
    "../up.txt",
    "/root.txt",
    "reports/confirmation/__init__.py",
    "BATCHES/confirmation/burns.csv",
    "con.txt",
]
EVIL = b"<script>alert(1)</script>"
TOML = f"{LOGS}/batch.toml"


@dataclass
class Pack:
    """What a mutation has to work with."""

    files: dict
    raw: bytes
    chance: random.Random

    def pick(self, start="", end=""):
        """A name of a file."""
        names = sorted(self.files)
        return self.chance.choice([n for n in names if n.startswith(start) and n.endswith(end)])

    def changed(self, change, *picked):
        """The files, one of them changed."""
        name = self.pick(*picked)
        return self.files | {name: change(self.files[name], self.chance)}

    def added(self):
        """The files and one more."""
        return self.files | {self.chance.choice(ADDED): b"x"}

    def without(self, *picked):
        """The files but one."""
        name = self.pick(*picked)
        return {n: d for n, d in self.files.items() if n != name}

    def careful(self, name, data):
        """One file written anew, and a manifest that fits."""
        return with_new_manifest(self.files | {name: data})

    def swapped(self):
        """Two files, each under the name of the other."""
        names = sorted(self.files.keys() - {"manifest-sha256.txt"})
        one, other = self.chance.sample(names, 2)
        return self.files | {one: self.files[other], other: self.files[one]}

    def renamed(self):
        """A file under another name."""
        name = self.pick()
        new = self.chance.choice(
            [name.upper(), name + ".bak", "../" + name, name.replace(".", "_")]
        )
        rest = {n: d for n, d in self.files.items() if n != name}
        return rest | {new: self.files[name]}


def flipped(data, chance):
    at = chance.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :]


def cut(data, chance):
    return data[: chance.randrange(len(data))]


def without_row(data, chance):
    lines = data.splitlines(keepends=True)
    del lines[chance.randrange(1, len(lines))]
    return b"".join(lines)


def scaled(data, chance):
    record = json.loads(data)
    rows = [
        (row, n)
        for table in record["tables"].values()
        for row in table["data"]
        for n, value in enumerate(row)
        if isinstance(value, float) and value
    ]
    row, n = chance.choice(rows)
    row[n] *= 1.001
    return json_bytes(record)


def zipped(path, made):
    if isinstance(made, bytes):
        path.write_bytes(made)
    elif isinstance(made, dict):
        try:
            write_zip(path, made)
        except ValueError:
            rezipped(path, made)
    else:
        kind, files = made
        rezipped(path, files)
        if kind != "again":
            with zipfile.ZipFile(path, "a") as archive:
                entry = zipfile.ZipInfo("batches/link" if kind == "link" else "parameters.json")
                entry.create_system, entry.external_attr = (
                    3,
                    ((0o120777 if kind == "link" else 0o100644) << 16),
                )
                archive.writestr(entry, b"/etc/passwd")
    return path


# What is done, and the reasons of which one must be told.
KINDS = {
    "flip a bit of a file": (lambda p: p.changed(flipped),
        r"manifest: .*(Changed: |is not a SHA-256|Missing|Added|lists no file)"),
    "flip a bit of the zip": (lambda p: flipped(p.raw, p.chance),
        r"file: .*(Not opened: |not byte for byte)"),
    "cut the zip": (lambda p: cut(p.raw, p.chance), r"file: .*Not opened: "),
    "cut a file": (lambda p: p.changed(cut),
        r"manifest: .*(Changed: |is not a SHA-256|Added|lists no file)|contents: parameters"),
    "put bytes before the zip": (lambda p: b"#!/bin/sh\n" + p.raw,
        r"file: .*Not opened: there are bytes before its first file"),
    "add a file": (lambda p: p.added(), r"manifest: .*Added: |file: .*Not opened: "),
    "add a file, with its line in the manifest": (lambda p: with_new_manifest(p.added()),
        r"contents: .*A file that no pack|file: .*Not opened: "),
    "take a file away": (lambda p: p.without(), r"manifest: .*Missing: |no manifest"),
    "take a file away, and its line": (lambda p: with_new_manifest(p.without("reports/")),
        r"contents: .*(Missing: |Not read)"),
    "swap two files": (lambda p: p.swapped(), r"manifest: .*Changed: "),
    "rename a file": (lambda p: p.renamed(),
        r"manifest: .*(Missing|Added): |file: .*Not opened: |no manifest"),
    "zip it again": (lambda p: ("again", p.files), r"file: .*not byte for byte"),
    "take a row away": (lambda p: p.changed(without_row, "batches/", ".csv"),
        r"manifest: .*Changed: .*rows where"),
    "write a false page": (lambda p: p.careful(f"{REPORT}/batch_report.html", EVIL),
        r"page: .*The page is not what"),
    "write a false READ-ME": (lambda p: p.careful("READ-ME-FIRST.html", EVIL),
        r"schema: READ-ME-FIRST.html: It is not what"),
    "change a setting": (lambda p: p.careful(TOML, p.files[TOML] + b"\n# x\n"),
        r"schema: .*Not the file that results.json was made from"),
    "change the results": (lambda p: p.careful(RECORD, scaled(p.files[RECORD], p.chance)),
        r"numbers: .*found .*, expected "),
    "a link": (lambda p: ("link", p.files), r"file: .*Not opened: .*a link"),
    "two of a name": (lambda p: ("twice", p.files), r"file: .*Not opened: .*twice"),
    "a bomb": (lambda p: p.files | {"bomb.csv": bytes(6_000_000)},
        r"file: .*Not opened: .*more than 200 times"),
}  # fmt: skip
CASES = [pytest.param(kind, n, id=f"{kind} {n}") for kind in KINDS for n in range(5)]


def test_there_are_a_hundred_mutations():
    assert len(CASES) == 100


@pytest.mark.filterwarnings("ignore:Duplicate name:UserWarning")
@pytest.mark.parametrize(("kind", "n"), CASES)
@pytest.mark.usefixtures("quick")
def test_a_mutated_pack_is_refused_or_reported_and_nothing_runs(
    kind, n, tmp_path, pack, pack_files
):
    given = Pack(pack_files, pack.read_bytes(), random.Random(f"{kind} {n}"))
    change, reason = KINDS[kind]
    path = zipped(tmp_path / "m.zip", change(given))
    result = verify_pack(path)
    told = [
        f"{r.step}: {r.where}: {r.what}" for r in result.findings.itertuples() if r.level != "fine"
    ]
    assert any(re.search(reason, line) for line in told), told
    if not any("not byte for byte" in line for line in told):
        assert not result.passed
    assert {p.name for p in tmp_path.iterdir()} == {"m.zip"}
    assert not (tmp_path.parent / "up.txt").exists()
    assert not Path("/root.txt").exists()

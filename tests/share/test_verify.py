"""What was changed in a pack is named; what was not agrees; nothing of a pack is run unless that
was asked for and confirmed."""

import hashlib
import json
import random
import re
import zipfile
from pathlib import Path

import pytest
from click.testing import CliRunner
from commands import run
from packs import contents_of, rezipped, with_new_manifest

from candlelab.cli import main as cli
from candlelab.pages.run import ReportFailed
from candlelab.share import verify as verifying
from candlelab.share.archive import UnsafePack, write_zip
from candlelab.share.contents import json_bytes
from candlelab.share.verify import verify_pack

LOGS, REPORT = "batches/confirmation", "reports/confirmation"


def found(path, level="problem"):
    table = verify_pack(path).findings
    return [f"{r.step}: {r.where}: {r.what}" for r in table.itertuples() if r.level == level]


def forged(tmp_path, pack, changes, *, manifest=True):
    """The pack with files changed, removed (None) or added, and with a manifest that fits or the
    old one."""
    files = {**contents_of(pack), **changes}
    files = {name: data for name, data in files.items() if data is not None}
    write_zip(tmp_path / "forged.zip", with_new_manifest(files) if manifest else files)
    return tmp_path / "forged.zip"


def test_a_pack_agrees_with_its_logs(pack):
    """With the notebook run for real: every number is worked out again."""
    result = verify_pack(pack)
    levels = dict(zip(result.findings["step"], result.findings["level"]))
    assert (
        result.passed
        and set(levels.values()) == {"fine"}
        and set(levels) == {"file", "manifest", "versions", "schema", "numbers", "page"}
    )
    assert result.sha256 == hashlib.sha256(pack.read_bytes()).hexdigest()
    numbers = result.numbers["confirmation"]
    assert (
        len(numbers) > 3000 and numbers["inside"].all() and numbers["difference"].abs().max() == 0
    )
    # the numbers compared are all the numbers there are
    record = json.loads(contents_of(pack)[f"{REPORT}/results.json"])
    cells = [v for t in record["tables"].values() for row in t["data"] for v in row] + list(
        record["batch"].values()
    )
    assert len(numbers) == sum(
        isinstance(v, int | float) and not isinstance(v, bool) for v in cells
    )


def test_a_changed_number_is_printed_as_found_expected_difference(tmp_path, pack, quick):
    """With a manifest that fits: only working it out again can tell."""
    name = f"{REPORT}/results.json"
    record = json.loads(contents_of(pack)[name])
    table = record["tables"]["burns"]
    place = [column["name"] for column in table["columns"]].index("wax_used_g")
    truth = table["data"][1][place]
    table["data"][1][place] = truth + 0.25
    result = run("verify", forged(tmp_path, pack, {name: json_bytes(record)}))
    assert result.exit_code == 1 and "Not verified: " in result.stderr
    line = next(line for line in result.stdout.splitlines() if "wax_used_g" in line)
    assert re.fullmatch(
        rf"problem: numbers: {name}: burns, .*{re.escape(str(table['data'][1][0]))}.*, wax_used_g: "
        rf"found {truth:.10g}, expected {truth + 0.25:.10g}, difference -0.25\.",
        line,
    ), line


def test_a_changed_byte_a_missing_and_an_added_file_are_named(tmp_path, pack, quick):
    files = contents_of(pack)
    changed = files[f"{LOGS}/burns.csv"].replace(b"17,560", b"17,561", 1)
    path = forged(
        tmp_path,
        pack,
        {f"{LOGS}/burns.csv": changed, f"{LOGS}/wicks.csv": None, "extra.txt": b"x"},
        manifest=False,
    )
    problems = found(path)
    assert (
        f"manifest: {LOGS}/burns.csv: Changed: its SHA-256 is not that of the manifest." in problems
    )
    assert (
        f"manifest: {LOGS}/wicks.csv: Missing: the manifest lists it, and the pack does not hold "
        "it." in problems
    )
    assert "manifest: extra.txt: Added: the manifest does not list it." in problems
    assert "contents: extra.txt: A file that no pack of candlelab holds." in problems
    assert quick == []


def test_a_removed_row_is_told(tmp_path, pack, quick):
    lines = contents_of(pack)[f"{LOGS}/burns.csv"].splitlines(keepends=True)
    short = b"".join(lines[:-1])
    path = forged(tmp_path, pack, {f"{LOGS}/burns.csv": short}, manifest=False)
    assert (
        found(path)[0]
        == f"manifest: {LOGS}/burns.csv: Changed: its SHA-256 is not that of the manifest. It "
        "has 78 rows where datapackage.json says 79."
    )
    assert any(
        note.startswith("numbers: : Not worked out again, since ") for note in found(path, "note")
    )
    assert quick == []


def test_another_version_is_a_note_of_its_own(tmp_path, pack, quick, monkeypatch):
    monkeypatch.setattr(verifying, "candlelab_version", lambda: "9.9")
    result = verify_pack(pack)
    assert result.passed
    notes = found(pack, "note")
    version = json.loads(contents_of(pack)[f"{REPORT}/results.json"])["versions"]["candlelab"]
    assert (
        notes[0] == f"versions: confirmation: Another version: reported with candlelab {version}, "
        "checked with 9.9."
    )
    monkeypatch.undo()


def test_other_code_and_other_packages_are_notes(pack, quick, monkeypatch):
    here = verifying.installed()
    monkeypatch.setattr(verifying, "installed", lambda: {**here, "numpy": "0.1"})
    (note,) = found(pack, "note")
    assert (
        note
        == f"versions: environment/requirements.txt: Other versions: numpy {here['numpy']} (0.1 "
        "here)."
    )
    monkeypatch.setattr(verifying, "installed", lambda: here)
    monkeypatch.setattr(verifying, "code_digest", lambda: "0" * 64)
    (note,) = found(pack, "note")
    assert note.startswith("versions: candlelab: Another code under the same version ")


def test_a_pack_zipped_again_is_told_and_passes(tmp_path, pack, quick):
    path = rezipped(tmp_path / "again.zip", contents_of(pack))
    assert verify_pack(path).passed
    assert found(path, "note")[0].startswith(
        "file: again.zip: The zip file is not byte for byte as candlelab writes it here: it was "
        "zipped again, "
    )


def test_a_page_that_shows_something_else_is_told(tmp_path, pack, quick):
    name = f"{REPORT}/batch_report.html"
    page = contents_of(pack)[name].replace(b"Pick square", b"Skip square", 1)
    assert found(forged(tmp_path, pack, {name: page})) == [
        f"page: {name}: The page is not what candlelab makes of these logs. Do not trust it."
    ]


def test_a_notebook_with_other_code_is_told(tmp_path, pack, quick):
    name = f"{REPORT}/batch_report.ipynb"
    book = json.loads(contents_of(pack)[name])
    book["cells"][1]["source"] = "import os"
    assert found(forged(tmp_path, pack, {name: json_bytes(book)})) == [
        f"page: {name}: The notebook is not what candlelab makes of these logs. Do not run it."
    ]


@pytest.mark.parametrize(
    "name",
    ["READ-ME-FIRST.html", "READ-ME-FIRST.txt", "ro-crate-metadata.json", "datapackage.json"],
)
def test_descriptions_that_say_something_else_are_told(tmp_path, pack, quick, name):
    path = forged(tmp_path, pack, {name: contents_of(pack)[name].replace(b"candle", b"kettle", 1)})
    assert f"schema: {name}: It is not what candlelab writes for these logs and results." in found(
        path
    )


def test_a_list_that_would_install_something_else_is_told(tmp_path, pack, quick):
    name = "environment/requirements.txt"
    path = forged(
        tmp_path,
        pack,
        {name: contents_of(pack)[name] + b"--extra-index-url https://example.org\nevil==1.0\n"},
    )
    problems = found(path)
    assert (
        f"versions: {name}: “--extra-index-url https://example.org” is not a package at an exact "
        "version. Do not install from this list." in problems
    )
    assert (
        "versions: environment/environment.json: It does not name the packages of "
        "environment/requirements.txt." in problems
    )


def test_logs_with_something_to_fix_are_told(tmp_path, pack, quick):
    name = f"{LOGS}/burns.csv"
    path = forged(tmp_path, pack, {name: contents_of(pack)[name].replace(b"17,560", b"heavy", 1)})
    assert any(
        p.startswith(f"schema: {LOGS}: must fix: burns.csv, line 2, ")
        and "text where a number belongs. Found heavy." in p
        for p in found(path)
    )


@pytest.mark.parametrize(
    "change",
    [
        b"", b"[]", b"{}", b"[" * 100_000, b'{"format": "candlelab pack 2"}', b'{"format": "candlelab pack 1", "without_notes": false, "batches": []}',
        b'{"format": "candlelab pack 1", "without_notes": false, "batches": [{"name": "../up", "report": "x", "emptied": []}]}',
        b'{"format": "candlelab pack 1", "without_notes": false, "batches": [{"name": "a", "report": "\\ud800", "emptied": []}]}',
        b'{"format": "candlelab pack 1", "without_notes": false, "x": NaN, "batches": [{"name": "a", "report": "x", "emptied": []}]}', None,
    ],
)  # fmt: skip
def test_parameters_of_another_form_are_told(tmp_path, pack, quick, change):
    problems = found(forged(tmp_path, pack, {"parameters.json": change}))
    assert (
        "contents: parameters.json: It is missing or is not what “candlelab pack 1” holds."
        in problems
    )


def test_what_is_no_pack_is_refused(tmp_path):
    (tmp_path / "x.zip").write_bytes(b"hello")
    result = run("verify", tmp_path / "x.zip")
    assert result.exit_code == 1
    assert (
        result.stdout
        == "problem: file: x.zip: Not opened: it cannot be read as a zip file: File is not a "
        "zip file.\n"
    )
    assert result.stderr == "Not verified: 1 problem.\n"
    rezipped(tmp_path / "y.zip", {"a.txt": b"1"})
    assert (
        "it holds no manifest-sha256.txt: it is not a pack of candlelab."
        in run("verify", tmp_path / "y.zip").stdout
    )
    assert run("verify", tmp_path / "nowhere.zip").exit_code == 2


def test_a_check_that_fails_itself_ends_with_3(pack, quick, monkeypatch):
    def broken(*args, **kwargs):
        raise ReportFailed("batch_report.ipynb, cell 3: MemoryError: ")

    monkeypatch.setattr(verifying, "make_report", broken)
    result = run("verify", pack)
    assert (
        result.exit_code == 3
        and result.stderr
        == "The check was not finished: batch_report.ipynb, cell 3: MemoryError: \n"
    )


def test_every_number_on_request(pack, quick):
    result = run("verify", pack, "--every-number")
    lines = [line for line in result.stdout.splitlines() if ": found " in line]
    assert result.exit_code == 0 and len(lines) > 3000
    assert lines[0] == "confirmation, batch, candles: found 9, expected 9, difference 0"
    assert result.stderr == "Verified: the numbers follow from the logs.\n"


def canary(tmp_path):
    """Code that leaves a file when it is run."""
    return f"open({str(tmp_path / 'canary')!r}, 'w')"


def with_canary(pack, code):
    """The pack's notebook with code in every place that some program might run."""
    book = json.loads(contents_of(pack)[f"{REPORT}/batch_report.ipynb"])
    for cell in book["cells"]:
        if cell["cell_type"] == "code" and "parameters" not in cell["metadata"].get("tags", []):
            cell["source"] = f"{code}\n{''.join(cell['source'])}"
    return json_bytes(book)


def test_the_packed_notebook_runs_only_when_asked_for_and_confirmed(
    tmp_path, pack, quick, monkeypatch
):
    path = forged(
        tmp_path, pack, {f"{REPORT}/batch_report.ipynb": with_canary(pack, canary(tmp_path))}
    )
    ran = []
    monkeypatch.setattr(
        verifying, "run_notebook", lambda *args, **kwargs: ran.append(args) or pytest.fail("it ran")
    )
    for args, answer in (([], ""), ([], "y\n"), (["--run-packed-notebook"], "y\n")):
        result = CliRunner().invoke(cli.main, ["verify", str(path), *args], input=answer)
        assert (
            result.exit_code == 1 and not ran and "Run it?" not in result.stderr
        )  # it has other code: it is not even offered
    result = CliRunner().invoke(
        cli.main, ["verify", str(pack), "--run-packed-notebook"], input="n\n"
    )
    assert result.exit_code == 0 and result.stderr.endswith("Not run.\n") and not ran
    assert "It can do on this computer whatever you can" in result.stderr
    result = CliRunner().invoke(cli.main, ["verify", str(pack), "--run-packed-notebook"], input="")
    assert not ran and not (tmp_path / "canary").exists()


def test_the_packed_notebook_can_be_run(pack, quick):
    """For real, after a yes."""
    result = CliRunner().invoke(
        cli.main, ["verify", str(pack), "--run-packed-notebook"], input="y\n"
    )
    assert result.exit_code == 0, result.output
    assert re.search(
        r"fine: packed notebook: confirmation: \d,\d{3} numbers compared, 0 differ\.", result.stdout
    )


# 100 packs, each changed in one way; the reason that must be told.
def flipped(data, chance):
    at = chance.randrange(len(data))
    return data[:at] + bytes([data[at] ^ (1 << chance.randrange(8))]) + data[at + 1 :]


def mutations():
    """Name, function of (files, raw bytes, chance) to new files or raw bytes, and the reasons of
    which one must be told."""
    kinds = {
        "flip a bit of a file": (
            lambda f, raw, c: f | {n: flipped(f[n], c) for n in [pick(f, c)]},
            r"manifest: .*(Changed: |is not a SHA-256|Missing|Added|lists no file)",
        ),
        "flip a bit of the zip": (
            lambda f, raw, c: flipped(raw, c),
            r"file: .*(Not opened: |not byte for byte)",
        ),
        "cut the zip": (lambda f, raw, c: raw[: c.randrange(len(raw))], r"file: .*Not opened: "),
        "cut a file": (
            lambda f, raw, c: f | {n: f[n][: c.randrange(len(f[n]))] for n in [pick(f, c)]},
            r"manifest: .*(Changed: |is not a SHA-256|Added|lists no file)|contents: parameters",
        ),
        "put bytes before the zip": (
            lambda f, raw, c: b"#!/bin/sh\n" + raw,
            r"file: .*Not opened: there are bytes before its first file",
        ),
        "add a file": (
            lambda f, raw, c: f | {c.choice(ADDED): b"x"},
            r"manifest: .*Added: |file: .*Not opened: ",
        ),
        "add a file, with its line in the manifest": (
            lambda f, raw, c: with_new_manifest(f | {c.choice(ADDED): b"x"}),
            r"contents: .*A file that no pack|file: .*Not opened: ",
        ),
        "take a file away": (
            lambda f, raw, c: without(f, pick(f, c)),
            r"manifest: .*Missing: |no manifest",
        ),
        "take a file away, and its line": (
            lambda f, raw, c: with_new_manifest(without(f, pick(f, c, "reports/"))),
            r"contents: .*(Missing: |Not read)",
        ),
        "swap two files": (lambda f, raw, c: swap(f, c), r"manifest: .*Changed: "),
        "rename a file": (
            lambda f, raw, c: rename(f, c),
            r"manifest: .*(Missing|Added): |file: .*Not opened: |no manifest",
        ),
        "zip it again": (lambda f, raw, c: ("again", f), r"file: .*not byte for byte"),
        "take a row away": (
            lambda f, raw, c: (
                f | {n: without_row(f[n], c) for n in [pick(f, c, "batches/", ".csv")]}
            ),
            r"manifest: .*Changed: .*rows where",
        ),
        "write a false page": (
            lambda f, raw, c: with_new_manifest(
                f | {f"{REPORT}/batch_report.html": b"<script>alert(1)</script>"}
            ),
            r"page: .*The page is not what",
        ),
        "write a false READ-ME": (
            lambda f, raw, c: with_new_manifest(
                f | {"READ-ME-FIRST.html": b"<script>alert(1)</script>"}
            ),
            r"schema: READ-ME-FIRST.html: It is not what",
        ),
        "change a setting": (
            lambda f, raw, c: with_new_manifest(
                f | {f"{LOGS}/batch.toml": f[f"{LOGS}/batch.toml"] + b"\n# x\n"}
            ),
            r"schema: .*Not the file that results.json was made from",
        ),
        "change the results": (
            lambda f, raw, c: with_new_manifest(
                f | {f"{REPORT}/results.json": scaled(f[f"{REPORT}/results.json"], c)}
            ),
            r"numbers: .*found .*, expected ",
        ),
        "a link": (lambda f, raw, c: ("link", f), r"file: .*Not opened: .*a link"),
        "two of a name": (lambda f, raw, c: ("twice", f), r"file: .*Not opened: .*twice"),
        "a bomb": (
            lambda f, raw, c: f | {"bomb.csv": bytes(6_000_000)},
            r"file: .*Not opened: .*more than 200 times",
        ),
    }
    return [pytest.param(kind, n, id=f"{kind} {n}") for kind in kinds for n in range(5)], kinds


ADDED = [
    "batches/confirmation/numpy.py",
    "sitecustomize.py",
    "../up.txt",
    "/root.txt",
    "reports/confirmation/__init__.py",
    "BATCHES/confirmation/burns.csv",
    "con.txt",
]


def pick(files, chance, start="", end=""):
    return chance.choice(
        [name for name in sorted(files) if name.startswith(start) and name.endswith(end)]
    )


def without(files, name):
    return {n: d for n, d in files.items() if n != name}


def swap(files, chance):
    one, other = chance.sample([name for name in sorted(files) if name != "manifest-sha256.txt"], 2)
    return files | {one: files[other], other: files[one]}


def rename(files, chance):
    name = pick(files, chance)
    return without(files, name) | {
        chance.choice([name.upper(), name + ".bak", "../" + name, name.replace(".", "_")]): files[
            name
        ]
    }


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


CASES, KINDS = mutations()


def test_there_are_a_hundred_mutations():
    assert len(CASES) == 100


@pytest.mark.filterwarnings("ignore:Duplicate name:UserWarning")
@pytest.mark.parametrize(("kind", "n"), CASES)
def test_a_mutated_pack_is_refused_or_reported_and_nothing_runs(kind, n, tmp_path, pack, quick):
    files = contents_of(pack)
    change, reason = KINDS[kind]
    path = zipped(
        tmp_path / "m.zip", change(files, pack.read_bytes(), random.Random(f"{kind} {n}"))
    )
    result = verify_pack(path)
    told = [
        f"{r.step}: {r.where}: {r.what}" for r in result.findings.itertuples() if r.level != "fine"
    ]
    assert any(re.search(reason, line) for line in told), told
    if not any("not byte for byte" in line for line in told):
        assert not result.passed
    assert (
        {p.name for p in tmp_path.iterdir()} == {"m.zip"}
        and not (tmp_path.parent / "up.txt").exists()
        and not Path("/root.txt").exists()
    )


def test_no_code_in_a_pack_runs_and_a_careful_forger_is_found(tmp_path, pack, monkeypatch):
    """For real, from within the unpacked folder: code in the notebook, in modules beside it, in
    names, cells and settings."""
    code = canary(tmp_path)
    files = contents_of(pack)
    changes = {
        f"{REPORT}/batch_report.ipynb": with_canary(pack, code),
        f"{LOGS}/batch.toml": files[f"{LOGS}/batch.toml"].replace(
            b"Saltmarsh Lane Candles", b"{{ ''.__class__ }} $(touch canary) `touch canary`"
        ),
        f"{LOGS}/burns.csv": files[f"{LOGS}/burns.csv"].replace(
            b"wisp when", f"=cmd|'/C touch canary'!A0 {code}".replace(";", ",").encode(), 1
        ),
        f"{LOGS}/checks.csv": b"".join(files[f"{LOGS}/checks.csv"].splitlines(keepends=True)[:-1]),
    }
    path = forged(tmp_path, pack, changes)
    here = tmp_path / "unpacked"
    here.mkdir()
    for module in (
        "numpy",
        "pandas",
        "candlelab",
        "sitecustomize",
        "usercustomize",
        "seaborn",
        "ipykernel_launcher",
        "IPython",
    ):
        (here / f"{module}.py").write_text(code)
    monkeypatch.chdir(here)
    result = verify_pack(path)
    assert (
        not result.passed and "confirmation" in result.numbers
    )  # it was worked out again, beside all of that
    problems = [
        f"{r.step}: {r.where}: {r.what}"
        for r in result.findings.itertuples()
        if r.level == "problem"
    ]
    for told in (
        f"schema: {LOGS}/checks.csv: Not the file that results.json was made from: its SHA-256 "
        "is another.",
        f"schema: {LOGS}/checks.csv: datapackage.json describes it otherwise: hash, bytes, rows.",
        f"numbers: {REPORT}/results.json: batch, checks: found 299, expected 300, difference -1.",
    ):
        assert told in problems
    assert (
        not (tmp_path / "canary").exists()
        and sorted(p.suffix for p in here.iterdir()) == [".py"] * 8
    )


def test_a_pack_whose_notebooks_cannot_be_listed_is_not_run(tmp_path, pack):
    with pytest.raises(UnsafePack, match="parameters.json is not what a pack holds"):
        verifying.run_packed_notebooks(forged(tmp_path, pack, {"parameters.json": b"{}"}))

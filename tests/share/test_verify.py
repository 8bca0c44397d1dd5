"""What was changed in a pack is named; what was not agrees; nothing of a pack is run."""

import hashlib
import json
import re

import pytest
from commands import run
from packs import LOGS, REPORT, canary, contents_of, forged, rezipped, with_code

from candlelab.pages.run import ReportFailed
from candlelab.share import origin
from candlelab.share import verify as verifying
from candlelab.share.contents import json_bytes
from candlelab.share.verify import verify_pack

FORM = b'{"format": "candlelab pack 1", "without_notes": false, '


def found(path, level="problem"):
    table = verify_pack(path).findings
    return [f"{r.step}: {r.where}: {r.what}" for r in table.itertuples() if r.level == level]


def test_a_pack_agrees_with_its_logs(pack):
    """With the notebook run for real: every number is worked out again."""
    result = verify_pack(pack)
    levels = dict(zip(result.findings["step"], result.findings["level"], strict=True))
    assert result.passed
    assert set(levels.values()) == {"fine"}
    assert set(levels) == {"file", "manifest", "versions", "schema", "numbers", "words", "page"}
    assert result.sha256 == hashlib.sha256(pack.read_bytes()).hexdigest()
    numbers = result.numbers["confirmation"]
    assert len(numbers) > 3000
    assert numbers["inside"].all()
    assert numbers["difference"].abs().max() == 0
    # the numbers compared are all the numbers there are
    record = json.loads(contents_of(pack)[f"{REPORT}/results.json"])
    cells = [v for t in record["tables"].values() for row in t["data"] for v in row] + list(
        record["batch"].values()
    )
    assert len(numbers) == sum(
        isinstance(v, int | float) and not isinstance(v, bool) for v in cells
    )


@pytest.mark.usefixtures("quick")
def test_a_changed_number_is_printed_as_found_expected_difference(tmp_path, pack):
    """With a manifest that fits: only working it out again can tell."""
    name = f"{REPORT}/results.json"
    record = json.loads(contents_of(pack)[name])
    table = record["tables"]["burns"]
    place = [column["name"] for column in table["columns"]].index("wax_used_g")
    truth = table["data"][1][place]
    table["data"][1][place] = truth + 0.25
    result = run("verify", forged(tmp_path, pack, {name: json_bytes(record)}))
    assert result.exit_code == 1
    assert "Not verified: " in result.stderr
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
        == f"manifest: {LOGS}/burns.csv: Changed: its SHA-256 is not that of the manifest. It has "
        "78 rows where datapackage.json says 79."
    )
    assert any(
        note.startswith("numbers: : Not worked out again, since ") for note in found(path, "note")
    )
    assert quick == []


@pytest.mark.usefixtures("quick")
def test_another_version_is_a_note_of_its_own(pack, monkeypatch):
    monkeypatch.setattr(origin, "candlelab_version", lambda: "9.9")
    result = verify_pack(pack)
    assert result.passed
    notes = found(pack, "note")
    version = json.loads(contents_of(pack)[f"{REPORT}/results.json"])["versions"]["candlelab"]
    assert (
        notes[0] == f"versions: confirmation: Another version: reported with candlelab {version}, "
        "checked with 9.9."
    )
    monkeypatch.undo()


@pytest.mark.usefixtures("quick")
def test_other_code_and_other_packages_are_notes(pack, monkeypatch):
    here = origin.installed()
    monkeypatch.setattr(origin, "installed", lambda: {**here, "numpy": "0.1"})
    (note,) = found(pack, "note")
    assert (
        note
        == f"versions: environment/requirements.txt: Other versions: numpy {here['numpy']} (0.1 "
        "here)."
    )
    monkeypatch.setattr(origin, "installed", lambda: here)
    monkeypatch.setattr(origin, "code_digest", lambda: "0" * 64)
    (note,) = found(pack, "note")
    assert note.startswith("versions: candlelab: Another code under the same version ")


@pytest.mark.usefixtures("quick")
def test_a_pack_zipped_again_is_told_and_passes(tmp_path, pack):
    path = rezipped(tmp_path / "again.zip", contents_of(pack))
    assert verify_pack(path).passed
    assert found(path, "note")[0].startswith(
        "file: again.zip: The zip file is not byte for byte as candlelab writes it here: it was "
        "zipped again, "
    )


@pytest.mark.usefixtures("quick")
def test_a_page_that_shows_something_else_is_told(tmp_path, pack):
    name = f"{REPORT}/batch_report.html"
    page = contents_of(pack)[name].replace(b"Pick square", b"Skip square", 1)
    (problem,) = found(forged(tmp_path, pack, {name: page}))
    assert problem.startswith(
        f"page: {name}: The page is not what candlelab makes of these logs. Do not trust it. It "
        "says “Skip square"
    )
    assert "; it does not say “Pick square" in problem


@pytest.mark.usefixtures("quick")
def test_a_notebook_with_other_code_is_told(tmp_path, pack):
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
@pytest.mark.usefixtures("quick")
def test_descriptions_that_say_something_else_are_told(tmp_path, pack, name):
    path = forged(tmp_path, pack, {name: contents_of(pack)[name].replace(b"candle", b"kettle", 1)})
    told = f"schema: {name}: It is not what candlelab writes for these logs and results."
    assert any(problem.startswith(told) for problem in found(path))


@pytest.mark.usefixtures("quick")
def test_a_list_that_would_install_something_else_is_told(tmp_path, pack):
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


@pytest.mark.usefixtures("quick")
def test_logs_with_something_to_fix_are_told(tmp_path, pack):
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
        b"", b"[]", b"{}", b"[" * 100_000, b'{"format": "candlelab pack 2"}',
        FORM + b'"batches": []}',
        FORM + b'"batches": [{"name": "../up", "report": "x", "emptied": []}]}',
        FORM + b'"batches": [{"name": "a", "report": "\\ud800", "emptied": []}]}',
        FORM + b'"x": NaN, "batches": [{"name": "a", "report": "x", "emptied": []}]}', None,
    ],
)  # fmt: skip
@pytest.mark.usefixtures("quick")
def test_parameters_of_another_form_are_told(tmp_path, pack, change):
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
        == "problem: file: x.zip: Not opened: it cannot be read as a zip file: File is not a zip "
        "file.\n"
    )
    assert result.stderr == "Not verified: 1 problem.\n"
    rezipped(tmp_path / "y.zip", {"a.txt": b"1"})
    assert (
        "it holds no manifest-sha256.txt: it is not a pack of candlelab."
        in run("verify", tmp_path / "y.zip").stdout
    )
    assert run("verify", tmp_path / "nowhere.zip").exit_code == 2


@pytest.mark.usefixtures("quick")
def test_a_check_that_fails_itself_ends_with_3(pack, monkeypatch):
    def broken(*_, **__):
        raise ReportFailed("batch_report.ipynb, cell 3: MemoryError: ")

    monkeypatch.setattr(verifying, "make_report", broken)
    result = run("verify", pack)
    assert result.exit_code == 3
    assert (
        result.stderr == "The check was not finished: batch_report.ipynb, cell 3: MemoryError: \n"
    )


@pytest.mark.usefixtures("quick")
def test_every_number_on_request(pack):
    result = run("verify", pack, "--every-number")
    lines = [line for line in result.stdout.splitlines() if ": found " in line]
    assert result.exit_code == 0
    assert len(lines) > 3000
    assert lines[0] == "confirmation, batch, candles: found 9, expected 9, difference 0"
    assert result.stderr == "Verified: every number, word and picture follows from the logs.\n"


def test_no_code_in_a_pack_runs_and_a_careful_forger_is_found(tmp_path, pack, monkeypatch):
    """For real, from within the unpacked folder: code in the notebook, in modules beside it, in
    names, cells and settings."""
    code = canary(tmp_path)
    files = contents_of(pack)
    changes = {
        f"{REPORT}/batch_report.ipynb": with_code(files, code),
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
    assert not result.passed
    assert "confirmation" in result.numbers  # it was worked out again, beside all of that
    problems = [
        f"{r.step}: {r.where}: {r.what}"
        for r in result.findings.itertuples()
        if r.level == "problem"
    ]
    for told in (
        f"schema: {LOGS}/checks.csv: Not the file that results.json was made from: its SHA-256 is "
        "another.",
        f"schema: {LOGS}/checks.csv: datapackage.json describes it otherwise: hash, bytes and "
        "rows.",
        f"numbers: {REPORT}/results.json: batch, checks: found 299, expected 300, difference -1.",
    ):
        assert told in problems
    assert not (tmp_path / "canary").exists()
    assert sorted(p.suffix for p in here.iterdir()) == [".py"] * 8

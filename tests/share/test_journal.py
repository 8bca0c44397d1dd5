"""The bench's journal in a pack: with the logs, and without its remarks where that is asked for."""

import json
import shutil

import pytest
from benches import LIT, SEEN, Bench, folder_of, journal_of
from commands import run
from packs import contents_of
from places import DEMO

from candlelab.share.redaction import without_notes


@pytest.fixture
def bench(tmp_path):
    made = Bench(folder_of(tmp_path / "batch"))
    made.saved("light", note="a secret", **LIT)
    made.clock.move(60)
    made.saved("check", photo="secret.jpg", **SEEN)
    return made


def test_remarks_are_emptied_and_every_other_byte_stays(bench):
    bench.saved("out", ended_by="timer")
    data = (bench.folder / "bench.jsonl").read_bytes()
    emptied, said = without_notes({"bench.jsonl": data})
    assert said == ["bench.jsonl: the notes and the names of photos"]
    assert b"secret" not in emptied["bench.jsonl"]
    before, after = data.splitlines(), emptied["bench.jsonl"].splitlines()
    assert after[2] == before[2]
    first = json.loads(before[0])
    first["values"]["note"] = ""
    assert json.loads(after[0]) == first


def test_a_line_that_is_no_entry_is_emptied(bench):
    emptied, _ = without_notes({"bench.jsonl": b'{"id": "a secret that was torn\n'})
    assert emptied["bench.jsonl"] == b"\n"


def test_nothing_to_empty_is_left_as_it_is(tmp_path):
    made = Bench(folder_of(tmp_path / "batch"))
    made.saved("light", **LIT)
    data = (made.folder / "bench.jsonl").read_bytes()
    assert without_notes({"bench.jsonl": data}) == ({"bench.jsonl": data}, [])


@pytest.mark.slow
def test_a_pack_with_an_open_burn_is_verified_and_its_report_says_so(tmp_path):
    folder = tmp_path / "batch"
    shutil.copytree(DEMO / "confirmation", folder)
    for table in ("burns", "checks"):
        path = folder / f"{table}.csv"
        head, *rows = path.read_bytes().splitlines(True)
        path.write_bytes(b"".join([head, *(row for row in rows if int(row.split(b";")[1]) <= 5)]))
    bench = Bench(folder, Bench(folder).clock().replace(month=3, day=9))
    light = {"mass_before_oz": "13.845", "room_f": "72", "note": "a secret"}
    bench.saved("light", "C01", 6, **light)
    assert run("share", folder, "--without-notes", "--out", tmp_path / "a.zip").exit_code == 0
    files = contents_of(tmp_path / "a.zip")
    assert b"a secret" not in b"".join(files.values())
    assert len(journal_of(folder)) == files["batches/batch/bench.jsonl"].count(b"\n")
    assert b"burn not finished" in files["reports/batch/batch_report.html"]
    assert run("verify", tmp_path / "a.zip").exit_code == 0

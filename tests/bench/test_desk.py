"""A burn from lighting to its rows: what is taken, what is refused, and what the folder holds."""

import csv
import json
import os

import pytest
from benches import LIT, SEEN, START, Bench, folder_of, journal_of

from candlelab.logs.batch import check_batch, read_batch


@pytest.fixture
def bench(tmp_path):
    return Bench(folder_of(tmp_path / "batch"))


def rows(folder, table):
    with open(folder / f"{table}.csv", encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def said(folder):
    return check_batch(folder)["problem"].tolist()


@pytest.mark.slow
def test_a_whole_burn_is_in_the_tables_as_it_was_entered(bench):
    bench.whole_burn()
    (burn,) = rows(bench.folder, "burns")
    assert burn | {"note": ""} == {
        "candle": "A1", "burn": "1", "lit_at": "2026-06-01 09:00", "out_at": "2026-06-01 13:00",
        "mass_before_g": "400.0", "mass_after_g": "380.0", "room_c": "22.0",
        "wick_length_mm": "5.0", "ended_by": "timer", "aftersmoke_s": "4", "note": "",
    }  # fmt: skip
    checks = rows(bench.folder, "checks")
    assert [row["elapsed_min"] for row in checks] == ["60", "120", "180", "240"]
    assert {name: checks[0][name] for name in SEEN} == SEEN
    batch = read_batch(bench.folder)
    assert (len(batch.burns), len(batch.checks)) == (1, 4)
    assert said(bench.folder) == ["candle without a burn"]  # A2 is still to be burned


def test_nothing_of_a_burn_is_in_a_table_before_it_is_weighed(bench):
    before = {table: bench.text(table) for table in ("burns", "checks")}
    bench.saved("light", **LIT)
    bench.clock.move(60)
    bench.saved("check", **SEEN)
    bench.saved("out", ended_by="stopped")
    assert {table: bench.text(table) for table in before} == before
    assert len(journal_of(bench.folder)) == 3


@pytest.mark.slow
def test_check_knows_an_open_burn_from_its_journal(bench):
    bench.whole_burn()
    bench.saved("light", "A2", **LIT)
    bench.clock.move(61)
    bench.saved("check", "A2", **SEEN | {"vessel_damaged": "yes"})
    (row,) = check_batch(bench.folder).to_dict("records")
    assert (row["level"], row["problem"], row["file"]) == (
        "look at this", "burn not finished", "bench.jsonl"
    )  # fmt: skip
    assert row["candle"] == "A2"
    assert row["found"] == "burn 1, lit 2026-06-01 16:00, still alight"
    assert row["what_to_do"] == (  # what went wrong does not wait unseen
        "Seen: vessel damaged. Put it out and weigh it on the bench page. Until then it is not in "
        "the tables and not judged (1 check so far)."
    )
    bench.saved("out", "A2", ended_by="self")
    assert "went out by itself after 1.02 h, not weighed" in check_batch(bench.folder)["found"][0]
    assert read_batch(bench.folder).problems["problem"].tolist() == ["burn not finished"]


def test_the_order_is_write_fsync_answer(bench, monkeypatch):
    calls = []
    for name in ("write", "fsync"):
        real = getattr(os, name)
        monkeypatch.setattr(
            os, name, lambda *args, real=real, name=name: (calls.append(name), real(*args))[1]
        )
    bench.saved("light", **LIT)
    calls.append("answer")
    assert calls == ["fsync", "write", "fsync", "answer"]


def test_a_repeated_id_is_harmless(bench):
    entry = bench.entry("light", **LIT)
    assert [bench.desk.record(entry).status for _ in range(3)] == ["saved"] * 3
    assert len(journal_of(bench.folder)) == 1


@pytest.mark.parametrize("name", ["write", "fsync"])
def test_a_full_disk_is_not_written_and_can_be_tried_again(bench, monkeypatch, name):
    entry = bench.entry("light", **LIT)

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patched:
        bench.desk.catch_up()
        (bench.folder / "bench.jsonl").touch()
        patched.setattr(os, name, full)
        answer = bench.desk.record(entry)
    assert (answer.status, answer.why) == ("not written", "Not written: No space left on device.")
    assert (bench.folder / "bench.jsonl").read_bytes() == b""
    assert bench.desk.record(entry).status == "saved"
    assert [line["id"] for line in journal_of(bench.folder)] == [entry["id"]]


def test_a_folder_that_cannot_be_written_to_is_told(bench, monkeypatch):
    def refuse(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "open", refuse)
    answer = bench.send("light", **LIT)
    assert (answer.status, answer.why) == ("not written", "Not written: Permission denied.")


@pytest.mark.slow
def test_a_crash_between_journal_and_tables_is_made_good_once(bench, monkeypatch):
    monkeypatch.setattr("candlelab.bench.desk.bring_up", lambda *_: iter(()))
    bench.whole_burn()
    assert rows(bench.folder, "burns") == []
    monkeypatch.undo()
    for _ in range(2):
        again = Bench(bench.folder, bench.clock())
        assert again.desk.catch_up() == []
        assert (len(rows(bench.folder, "burns")), len(rows(bench.folder, "checks"))) == (1, 4)


@pytest.mark.slow
def test_a_crash_between_a_table_and_its_mark_adds_no_row_twice(bench):
    bench.whole_burn()
    path = bench.folder / "bench.jsonl"
    kept = [line for line in path.read_bytes().splitlines(True) if b'"in_table"' not in line]
    path.write_bytes(b"".join(kept))
    before = {table: bench.text(table) for table in ("burns", "checks")}
    assert Bench(bench.folder, bench.clock()).desk.catch_up() == []
    assert {table: bench.text(table) for table in before} == before
    assert b'"in_table"' in path.read_bytes()


@pytest.mark.slow
def test_a_row_that_a_power_cut_tore_is_carried_on(bench, monkeypatch):
    monkeypatch.setattr("candlelab.bench.desk.bring_up", lambda *_: iter(()))
    bench.whole_burn()
    monkeypatch.undo()
    with open(bench.folder / "burns.csv", "ab") as file:
        file.write(b"A1,1,2026-06-01 09:00,2026-0")
    assert Bench(bench.folder, bench.clock()).desk.catch_up() == []
    assert len(read_batch(bench.folder).burns) == 1


@pytest.mark.slow
def test_a_row_that_was_taken_out_by_hand_does_not_come_back(bench):
    bench.whole_burn()
    for table in ("burns", "checks"):
        path = bench.folder / f"{table}.csv"
        path.write_bytes(path.read_bytes().splitlines(True)[0])
    Bench(bench.folder, bench.clock()).desk.catch_up()
    assert rows(bench.folder, "burns") == []
    found = check_batch(bench.folder)
    assert found.loc[found["problem"] == "row gone from its table", "found"].tolist() == [
        "burn 1: its row missing", "burn 1: 4 rows missing"
    ]  # fmt: skip


@pytest.mark.slow
def test_rows_that_an_older_file_overwrote_are_added_again_when_asked(bench):
    empty = bench.text("burns")
    bench.whole_burn()
    (bench.folder / "burns.csv").write_bytes(empty)
    light = journal_of(bench.folder)[0]["id"]
    bench.saved("again", "", 0, of=[light])
    assert [row["burn"] for row in rows(bench.folder, "burns")] == ["1"]
    assert "row gone from its table" not in said(bench.folder)


def test_a_burn_that_somebody_logged_by_hand_meanwhile_is_not_overwritten(bench):
    bench.saved("light", **LIT)
    with open(bench.folder / "burns.csv", "a", encoding="utf-8") as file:
        file.write("A1,1,2026-06-01 07:00,2026-06-01 08:00,400,395,22,5,timer,4,by hand\n")
    bench.clock.move(240)
    bench.saved("out", ended_by="timer")
    answer = bench.send("weigh", mass_after_g="380")
    assert answer.status == "refused"  # as check puts it: the row is given twice
    assert answer.problems[0]["problem"] == "row given twice"
    assert len(rows(bench.folder, "burns")) == 1


@pytest.mark.slow
def test_a_correction_before_the_row_is_written_is_in_the_row(bench):
    light = bench.saved("light", **LIT)
    bench.clock.move(60)
    check = bench.saved("check", **SEEN | {"wall_c": "541"})
    bench.saved("correct", of=[check], wall_c="54.1", at=bench.clock())
    bench.saved("correct", of=[light], mass_before_g="401.5")
    bench.clock.move(180)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    assert rows(bench.folder, "burns")[0]["mass_before_g"] == "401.5"
    assert rows(bench.folder, "checks")[0]["wall_c"] == "54.1"
    assert "corrected at the bench" not in said(bench.folder)


@pytest.mark.slow
def test_a_correction_of_a_written_row_changes_nothing_and_is_told_until_it_is_done(bench):
    bench.whole_burn()
    check = next(line["id"] for line in journal_of(bench.folder) if line["kind"] == "check")
    before = bench.text("checks")
    bench.saved("correct", of=[check], wall_c="46.5", vessel_damaged="yes", note="a hairline")
    assert bench.text("checks") == before
    found = check_batch(bench.folder)
    told = found[found["problem"] == "corrected at the bench"]
    assert told[["level", "file", "line", "column", "found", "expected"]].values.tolist() == [
        ["look at this", "checks.csv", 2, "note", "an empty cell",
         "a hairline, as corrected at the bench"],
        ["look at this", "checks.csv", 2, "vessel_damaged", "no",
         "yes, as corrected at the bench"],
        ["look at this", "checks.csv", 2, "wall_c", "45 °C",
         "46.5 °C, as corrected at the bench"],
    ]  # fmt: skip
    text = before.decode().splitlines(True)
    text[1] = "A1,1,60,30,46.5,50,8,0,1,0,no,yes,no,no,no,a hairline\n"
    (bench.folder / "checks.csv").write_text("".join(text))
    assert "corrected at the bench" not in said(bench.folder)


@pytest.mark.slow
def test_a_moment_can_be_corrected_too(bench):
    bench.whole_burn()
    out = next(line["id"] for line in journal_of(bench.folder) if line["kind"] == "out")
    values = {"at": START.replace(hour=12, minute=50).isoformat()}
    entry = bench.entry("correct", of=[out]) | {"values": values}
    assert bench.desk.record(entry).status == "saved"
    found = check_batch(bench.folder)
    (told,) = found[found["problem"] == "corrected at the bench"].to_dict("records")
    assert (told["column"], told["found"]) == ("out_at", "2026-06-01 13:00")
    assert told["expected"].startswith("2026-06-01 12:50")


def test_a_candle_lit_by_mistake_can_be_withdrawn_as_long_as_nothing_followed(bench):
    light = bench.saved("light", **LIT)
    bench.saved("withdraw", of=[light])
    assert bench.desk.reader.reading().standings(bench.desk.reader.book())["A1"].status == "ready"
    again = bench.saved("light", **LIT)
    bench.clock.move(60)
    bench.saved("check", **SEEN)
    answer = bench.send("withdraw", of=[again])
    assert answer.why == "This burn has gone on since. Withdraw its other entries first."


@pytest.mark.slow
def test_a_withdrawn_row_stays_in_its_table_and_is_told(bench):
    bench.whole_burn()
    check = next(line["id"] for line in journal_of(bench.folder) if line["kind"] == "check")
    bench.saved("withdraw", of=[check])
    found = check_batch(bench.folder)
    (told,) = found[found["problem"] == "withdrawn at the bench"].to_dict("records")
    assert (told["file"], told["line"]) == ("checks.csv", 2)


@pytest.mark.slow
def test_a_wick_change_and_a_set_aside_go_to_tables_that_were_not_there(bench):
    bench.whole_burn()
    for name in ("wick_changes.csv", "exclusions.csv"):
        assert not (bench.folder / name).exists()
    bench.clock.move(60)
    wick = {"wick_series": "square braid", "wick_size": "2", "reason": "tunnels"}
    bench.saved("wick_change", burn=2, **wick)
    assert not (bench.folder / "wick_changes.csv").exists()  # its burn is not there yet
    bench.saved("set_aside", burn=1, reason="a draft")
    bench.saved("set_aside", "A2", 0, reason="wick off center")
    bench.whole_burn(burn=2, before=380.0)
    batch = read_batch(bench.folder)
    changes = batch.wick_changes[["candle", "before_burn", "wick_series", "wick_size", "reason"]]
    assert changes.values.tolist() == [["A1", 2, "square braid", "2", "tunnels"]]
    assert rows(bench.folder, "exclusions") == [
        {"candle": "A1", "burn": "1", "reason": "a draft"},
        {"candle": "A2", "burn": "", "reason": "wick off center"},
    ]


@pytest.mark.slow
def test_notes_and_photos_of_a_burn_go_to_its_note(bench):
    bench.saved("light", note="trimmed twice", **LIT)
    bench.clock.move(75)
    bench.saved("note", note="flickers, door open")
    bench.saved("photo", photo="IMG_0031.jpg")
    bench.saved("check", photo="IMG_0032.jpg", note="full pool", **SEEN)
    bench.clock.move(170)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    assert rows(bench.folder, "burns")[0]["note"] == (
        "trimmed twice; after 1 h 15 min: flickers, door open; after 1 h 15 min: photo IMG_0031.jpg"
    )
    assert rows(bench.folder, "checks")[0]["note"] == "full pool; photo IMG_0032.jpg"


def test_no_note_becomes_a_formula(bench):
    bench.saved("light", note='=HYPERLINK("x"),+1', **LIT)
    bench.clock.move(240)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    assert rows(bench.folder, "burns")[0]["note"] == "'=HYPERLINK(\"x\"),'+1"
    assert journal_of(bench.folder)[0]["values"]["note"] == '=HYPERLINK("x"),+1'


@pytest.mark.slow
@pytest.mark.parametrize(
    ("do", "why"),
    [
        (("light", "A1", 1), "A1 is burning already, since 09:00."),
        (("light", "A2", 2), "A2 is at burn 1, not 2. Reload the page."),
        (("check", "A2", 1), "Burn 1 of A2 was not lit at the bench."),
        (("weigh", "A1", 1), "A1 has no burn that is out and not weighed."),
        (("light", "X9", 1), "There is no candle X9 in candles.csv."),
        (("wick_change", "A1", 2), "A1 has a burn that is not finished: put it out and weigh it "
         "first."),
        (("set_aside", "A1", 1), "Say why it is set aside."),
        (("set_aside", "A1", 7), "Say why it is set aside."),
        (("dance", "A1", 1), "This is no entry of the bench."),
        (("in_table", "A1", 1), "This is no entry of the bench."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_a_sentence(bench, do, why):
    bench.saved("light", **LIT)
    answer = bench.send(*do)
    assert (answer.status, answer.why) == ("refused", why)
    assert len(journal_of(bench.folder)) == 1


def test_a_moment_of_the_future_is_refused(bench):
    answer = bench.send("light", at=START.replace(hour=10), **LIT)
    assert answer.why == "Its time has not come yet: a clock is wrong."


@pytest.mark.parametrize(
    "data",
    [
        {}, {"id": 1}, {"id": "entry-1", "kind": "light"}, {"id": "x", "kind": "light", "at": "1"},
        {"id": "entry-1", "kind": "light", "at": START.isoformat(), "values": {"a": 1}},
        {"id": "entry-1", "kind": "light", "at": START.isoformat(), "burn": -1},
        {"id": "entry-1", "kind": "light", "at": "2026-06-01T09:00", "candle": "A1"},
        {"id": "entry-1", "kind": "light", "at": START.isoformat(), "candle": ["A1"]},
    ],
)  # fmt: skip
def test_what_is_no_entry_is_refused(bench, data):
    assert bench.desk.record(data).status == "refused"
    assert not (bench.folder / "bench.jsonl").exists()


def test_what_must_be_fixed_is_refused_with_the_words_of_check(bench):
    bench.saved("light", **LIT)
    bench.clock.move(240)
    bench.saved("out", ended_by="timer")
    answer = bench.send("weigh", mass_after_g="410")
    assert answer.status == "refused"
    first = answer.problems[0]
    assert (first["level"], first["problem"]) == ("must fix", "weight gained in a burn")
    assert bench.send("weigh", mass_after_g="").problems[0]["problem"] == "empty cell"


def test_a_flame_that_is_out_is_always_taken(bench):
    bench.saved("light", **LIT)
    bench.clock.move(60 * 26)  # forgotten over night: the row will need another time
    assert bench.send("out", ended_by="self").status == "saved"
    answer = bench.send("weigh", mass_after_g="380")
    assert [one["problem"] for one in answer.problems] == ["burn longer than a day"]
    out = journal_of(bench.folder)[-1]["id"]
    values = {"at": START.replace(hour=13).isoformat()}
    assert bench.desk.record(bench.entry("correct", of=[out]) | {"values": values})
    assert bench.send("weigh", mass_after_g="380").status == "saved"


@pytest.mark.slow
def test_two_checks_within_one_minute_are_two_rows(bench):
    bench.saved("light", **LIT)
    bench.clock.move(60)
    for _ in range(3):
        bench.saved("check", **SEEN)
        bench.clock.move(seconds=5)
    bench.clock.move(180)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    minutes = [row["elapsed_min"] for row in rows(bench.folder, "checks")]
    assert minutes == ["60", "60.1", "60.2"]
    assert len(read_batch(bench.folder).checks) == 3


def test_a_burn_of_seconds_keeps_its_length(bench):
    bench.saved("light", **LIT)
    bench.clock.move(seconds=40)
    bench.saved("out", ended_by="self")
    bench.saved("weigh", mass_after_g="399.9")
    burn = rows(bench.folder, "burns")[0]
    assert (burn["lit_at"], burn["out_at"]) == ("2026-06-01 09:00:00", "2026-06-01 09:00:40")


def test_what_failed_is_not_lit_again(bench):
    bench.saved("light", **LIT)
    bench.clock.move(30)
    bench.saved("check", **SEEN | {"vessel_damaged": "yes"})
    bench.saved("out", ended_by="stopped")
    bench.saved("weigh", mass_after_g="398")
    bench.clock.move(60 * 24)
    answer = bench.send("light", burn=2, **LIT)
    assert answer.why == (
        "A1: Do not light it again. The vessel is damaged. (Burn 1, 30 min after lighting.)"
    )
    assert "Do not light it again" in bench.send("wick_change", burn=2).why


def test_a_device_whose_clock_is_wrong_is_noted(bench):
    entry = bench.entry("light", **LIT)
    bench.desk.record(entry, START.replace(minute=7))
    assert journal_of(bench.folder)[0]["device_s"] == 420
    assert journal_of(bench.folder)[0]["written"] == START.isoformat()


def test_an_entry_is_kept_when_its_question_or_its_table_fails(bench, monkeypatch):
    def fail(*_):
        raise KeyError("a fault of ours")

    monkeypatch.setattr("candlelab.bench.desk.problems_of", fail)
    monkeypatch.setattr("candlelab.bench.desk.bring_up", fail)
    answer = bench.send("light", **LIT)
    assert (answer.status, answer.problems) == ("saved", [])
    assert answer.tables == ["The tables were not added to: 'a fault of ours'"]
    assert len(journal_of(bench.folder)) == 1


def test_a_table_that_cannot_be_written_to_waits(bench, monkeypatch):
    bench.saved("light", **LIT)
    bench.clock.move(240)
    bench.saved("out", ended_by="timer")
    real = os.open

    def refuse(path, *args, **more):
        if str(path).endswith("burns.csv"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, *args, **more)

    with monkeypatch.context() as patched:
        patched.setattr(os, "open", refuse)
        answer = bench.send("weigh", mass_after_g="380")
    assert answer.status == "saved"
    assert answer.tables == [
        "burns.csv cannot be added to: Permission denied. Close it in other programs."
    ]
    assert "put out after 4.00 h, not in burns.csv" in check_batch(bench.folder)["found"].iloc[0]
    assert bench.desk.catch_up() == []
    assert len(rows(bench.folder, "burns")) == 1


def test_the_line_of_the_scale_is_kept(bench):
    entry = bench.entry("light", **LIT) | {"scale": "S S      400.00 g"}
    assert bench.desk.record(entry).status == "saved"
    assert journal_of(bench.folder)[0]["scale"] == "S S      400.00 g"


def test_two_desks_on_one_folder_see_each_other(bench):
    other = Bench(bench.folder)
    bench.saved("light", **LIT)
    entry = other.entry("light", **LIT) | {"id": "of-the-other"}
    assert other.desk.record(entry).why.startswith("A1 is burning already")
    other.clock.move(60)
    bench.clock.move(60)
    entry = other.entry("check", **SEEN) | {"id": "from-the-other"}
    assert other.desk.record(entry).status == "saved"
    bench.clock.move(180)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    assert len(rows(bench.folder, "checks")) == 1


def test_the_journal_is_one_plain_object_a_line(bench):
    bench.saved("light", note="two\nlines, „quoted“", **LIT)
    (line,) = (bench.folder / "bench.jsonl").read_bytes().splitlines()
    assert json.loads(line)["values"]["note"] == "two\nlines, „quoted“"

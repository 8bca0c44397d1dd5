"""Rows written in the style of their folder; every byte that was there before stays."""

import shutil

import pytest
from batches import burn, read
from benches import LIT, SEEN, Bench, folder_of
from places import DEMO

from candlelab.bench.table_form import CannotAdd, form_of
from candlelab.logs.batch import check_batch
from candlelab.logs.cells import Style
from candlelab.logs.columns import TABLES

TABLES_OF = ("burns", "checks", "wick_changes", "exclusions")
US = {"mass_before_g": "14,11", "room_c": "71,6", "wick_length_mm": "0.2"}


def renamed(values, names):
    return {names.get(name, name): text for name, text in values.items()}


def bytes_of(folder):
    paths = {table: folder / f"{table}.csv" for table in TABLES_OF}
    return {table: path.read_bytes() for table, path in paths.items() if path.exists()}


@pytest.fixture
def ounces(tmp_path):
    """The demo's confirmation (semicolons, decimal commas, oz, in, °F, a byte-order mark) after
    three burns."""
    folder = tmp_path / "batch"
    shutil.copytree(DEMO / "confirmation", folder)
    for table in ("burns", "checks"):
        path = folder / f"{table}.csv"
        head, *rows = path.read_bytes().splitlines(True)
        path.write_bytes(b"".join([head, *(row for row in rows if int(row.split(b";")[1]) <= 3)]))
    return folder


@pytest.mark.slow
def test_a_spreadsheet_in_ounces_is_carried_on_in_its_style(ounces):
    before = bytes_of(ounces)
    bench = Bench(ounces, Bench(ounces).clock().replace(month=3, day=5))
    light = {"mass_before_oz": "15.355", "room_f": "72,1", "wick_length_in": "0,24"}
    bench.saved("light", "C01", 4, **light)
    seen = renamed(
        SEEN | {"flame_height_mm": "1,1", "wall_c": "120.5", "pool_diameter_mm": "2,1",
                "pool_depth_mm": "0,3", "mushroom_mm": "0,04"},
        {"flame_height_mm": "flame_height_in", "wall_c": "wall_f", "mushroom_mm": "mushroom_in",
         "pool_diameter_mm": "pool_diameter_in", "pool_depth_mm": "pool_depth_in"},
    )  # fmt: skip
    for minutes in (60, 61, 59, 60):
        bench.clock.move(minutes)
        bench.saved("check", "C01", 4, **seen)
    bench.saved("out", "C01", 4, ended_by="timer", aftersmoke_s="4", note="good; even pool")
    bench.saved("set_aside", "C01", 4, reason="draught")
    bench.saved("weigh", "C01", 4, mass_after_oz="14.655")
    after = bytes_of(ounces)
    for table in ("burns", "checks"):
        assert after[table].startswith(before[table])
    assert after["burns"][len(before["burns"]) :].decode() == (
        "C01;4;05.03.2026 09:00;05.03.2026 13:00;15,355;14,655;72,1;0,24;timer;4;"
        '"good; even pool"\n'
    )
    added = after["checks"][len(before["checks"]) :].decode().splitlines()
    assert added[0] == "C01;4;1,00;1,1;120,5;2,1;0,3;0;0,04;0;no;no;no;no;no;"
    assert [row.split(";")[2] for row in added] == ["1,00", "2,017", "3,00", "4,00"]
    assert after["exclusions"].decode("utf-8-sig") == "Candle;Burn;Reason\nC01;4;draught\n"
    assert after["exclusions"].startswith(b"\xef\xbb\xbf")
    assert b"\xef\xbb\xbf" not in after["burns"][3:]
    assert not (check_batch(ounces)["level"] == "must fix").any()
    last = read(ounces).burns.query("candle == 'C01'").iloc[-1]
    assert last["mass_after_g"] == pytest.approx(14.655 * 28.349523125)  # NIST SP 811: g in an oz


def styled(text, delimiter=",", comma=False, end="\n", encoding="utf-8"):
    """A table with another delimiter, decimal mark, line end and encoding."""
    text = text.replace(".", ",") if comma else text
    return text.replace("|", delimiter).replace("\n", end).encode(encoding)


HEAD = "candle|burn|lit_at|out_at|mass_before_g|mass_after_g|room_c|ended_by|note\n"
ROW = "A1|{n}|2026-06-0{n} 09:00|2026-06-0{n} 13:00|{before}|{after}|22.0|timer|{note}\n"


@pytest.mark.slow
@pytest.mark.parametrize(
    "style",
    [
        {}, {"delimiter": ";"}, {"delimiter": "\t"}, {"delimiter": ";", "comma": True},
        {"end": "\r\n"}, {"encoding": "utf-8-sig"}, {"encoding": "cp1252"},
        {"delimiter": ";", "comma": True, "end": "\r\n", "encoding": "cp1252"},
    ],
    ids=str,
)  # fmt: skip
@pytest.mark.parametrize("whole", [True, False], ids=["", "no last line end"])
def test_every_style_is_kept(tmp_path, style, whole):
    folder = folder_of(tmp_path / "batch")
    text = HEAD + ROW.format(n=1, before="400.5", after="380.5", note="glühte")
    old = styled(text, **style).rstrip(b"\r\n" if not whole else b"")
    (folder / "burns.csv").write_bytes(old)
    bench = Bench(folder, Bench(folder).clock().replace(day=2))
    bench.saved("light", burn=2, mass_before_g="380.5", room_c="22.0")
    bench.clock.move(240)
    bench.saved("out", burn=2, ended_by="timer", note="glühte")
    answer = bench.send("weigh", burn=2, mass_after_g="360.5")
    assert (answer.status, answer.tables) == ("saved", [])
    row = ROW.format(n=2, before="380.5", after="360.5", note="glühte")
    end = style.get("end", "\n").encode()
    expected = styled(row, **style | ({"encoding": "utf-8"} if "sig" in str(style) else {}))
    assert (folder / "burns.csv").read_bytes() == old + (b"" if whole else end) + expected
    assert len(read(folder).burns) == 2


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le"])
def test_utf_16_is_refused_and_said(tmp_path, encoding):
    folder = folder_of(tmp_path / "batch")
    path = folder / "burns.csv"
    path.write_text(path.read_text(), encoding=encoding)
    with pytest.raises(CannotAdd, match=r"burns\.csv is UTF-16 .* Save it once as CSV UTF-8"):
        Bench(folder).desk.reader.reading()


def test_a_letter_that_the_file_has_not_is_refused(tmp_path):
    folder = folder_of(tmp_path / "batch", burns=[burn("A1", 1, 20, note="glühte")])
    path = folder / "burns.csv"
    path.write_bytes(path.read_text(encoding="utf-8").encode("cp1252"))
    bench = Bench(folder, Bench(folder).clock().replace(day=2))
    answer = bench.send("light", burn=2, note="蝋燭", **LIT | {"mass_before_g": "380"})
    assert answer.status == "refused"
    assert answer.problems[0]["what_to_do"] == (
        "burns.csv is in the older Windows text, which has no '蝋'. Take it out, or save the table "
        "once as CSV UTF-8."
    )


@pytest.mark.parametrize(
    ("written", "again"),
    [
        ("2026-06-01 09:00", "2026-06-02 09:05"), ("2026-06-01T09:00", "2026-06-02T09:05"),
        ("2026-06-01 09:00:00", "2026-06-02 09:04:31"), ("01.06.2026 09:00", "02.06.2026 09:05"),
        ("06/01/2026 09:00", "06/02/2026 09:05"), ("06/01/2026 9:00 AM", "06/02/2026 09:05 AM"),
        ("2026-06-01 09:00+00:00", "2026-06-02 09:05+00:00"),
    ],
)  # fmt: skip
def test_moments_are_written_as_they_were(tmp_path, written, again):
    folder = folder_of(tmp_path / "batch", burns=[burn("A1", 1, 20, lit_at=written)])
    toml = (folder / "batch.toml").read_text()
    (folder / "batch.toml").write_text('slash_dates = "month/day/year"\n' + toml)
    form = form_of(
        TABLES["burns"],
        (folder / "burns.csv").read_bytes(),
        style=Style(slash_dates="month/day/year"),
    )
    bench = Bench(folder)
    at = bench.clock().replace(day=2, minute=4, second=31)
    assert form.moment(at, at.tzinfo, exact=False, offset=False) == again


@pytest.mark.parametrize(
    ("written", "pair"),
    [("no", ("yes", "no")), ("N", ("Y", "N")), ("FALSE", ("TRUE", "FALSE")), ("0", ("1", "0")),
     ("No", ("Yes", "No")), ("maybe", ("yes", "no")), ("", ("yes", "no"))],
)  # fmt: skip
def test_yes_and_no_are_written_as_they_were(written, pair):
    data = f"candle,burn,elapsed_min,tipped\nA1,1,60,{written}\n".encode()
    assert form_of(TABLES["checks"], data).yes_no == pair


def test_own_columns_and_another_order_are_kept(tmp_path):
    folder = folder_of(tmp_path / "batch")
    head = b"who,mass_after_g,burn,candle,lit_at,out_at,mass_before_g,ended_by\n"
    (folder / "burns.csv").write_bytes(head)
    bench = Bench(folder)
    bench.saved("light", mass_before_g="400")
    bench.clock.move(240)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    assert (folder / "burns.csv").read_bytes() == head + (
        b",380,1,A1,2026-06-01 09:00,2026-06-01 13:00,400,timer\n"
    )


def test_a_table_without_rows_takes_after_the_others(ounces):
    for table in ("burns", "checks"):
        path = ounces / f"{table}.csv"
        path.write_bytes(path.read_bytes().splitlines(True)[0])
    forms = Bench(ounces).desk.reader.reading().forms
    assert forms["burns"].comma
    assert forms["candles"].comma


def test_a_burn_over_a_change_of_the_clocks_has_its_offsets(tmp_path):
    folder = folder_of(tmp_path / "batch")
    toml = (folder / "batch.toml").read_text().replace('"UTC"', '"Europe/Lisbon"')
    (folder / "batch.toml").write_text(toml)
    # Portugal's clocks go from 01:00 to 02:00 on 29 March 2026 (European Union, directive 2000/84)
    bench = Bench(folder, Bench(folder).clock().replace(month=3, day=28, hour=23))
    bench.saved("light", **LIT)
    bench.clock.move(240)
    bench.saved("out", ended_by="timer")
    bench.saved("weigh", mass_after_g="380")
    row = (folder / "burns.csv").read_text().splitlines()[1]
    assert "2026-03-28 23:00+00:00,2026-03-29 04:00+01:00" in row
    assert read(folder).burns["out_at"].iloc[0].hour == 4

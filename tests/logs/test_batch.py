"""A batch folder into a Batch: the two demo batches, units, order, files, and nothing written."""

import csv
import shutil
from datetime import datetime

import numpy as np
import pandas as pd
import pytest
from places import DEMO
from plans import digests

from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.columns import TABLES
from candlelab.units import convert, split_unit


@pytest.fixture(scope="module")
def screening():
    return read_batch(DEMO / "screening")


@pytest.fixture(scope="module")
def confirmation():
    return read_batch(DEMO / "confirmation")


def test_two_ways_of_keeping_a_log_read_to_the_same_columns(screening, confirmation):
    for name, spec in TABLES.items():
        first, second = getattr(screening, name), getattr(confirmation, name)
        assert list(first.columns) == list(second.columns) == [c.name for c in spec.columns]
        kinds = {c.name: c.kind for c in spec.columns}
        for column in first.columns:
            if kinds[column] != "time":
                assert first[column].dtype == second[column].dtype, (name, column)
    assert (
        str(screening.burns["lit_at"].dtype)
        == str(confirmation.burns["lit_at"].dtype)
        == "datetime64[us, Europe/Lisbon]"
    )


def test_first_rows_as_written(screening, confirmation):
    with open(DEMO / "screening" / "burns.csv", encoding="utf-8", newline="") as file:
        written = next(csv.DictReader(file))
    first = screening.burns.iloc[0]
    assert (first["candle"], first["burn"]) == (written["candle"], int(written["burn"]))
    assert str(first["lit_at"]) == written["lit_at"] + ":00+00:00"  # Lisbon keeps UTC in winter
    assert (first["mass_before_g"], first["ended_by"]) == (
        float(written["mass_before_g"]),
        written["ended_by"],
    )
    assert screening.burns["note"].str.contains("\n").sum() == 1

    with open(DEMO / "confirmation" / "burns.csv", encoding="utf-8-sig", newline="") as file:
        written = next(csv.DictReader(file, delimiter=";"))
    first = confirmation.burns.iloc[0]
    out = datetime.strptime(written["Out at"], "%d.%m.%Y %H:%M")
    assert first["out_at"].tz_localize(None) == out
    ounces = float(written["Mass before [oz]"].replace(",", "."))
    assert first["mass_before_g"] == pytest.approx(ounces * 28.349523125, rel=1e-12)  # NIST SP 811
    fahrenheit = float(written["Room [°F]"].replace(",", "."))
    assert first["room_c"] == pytest.approx((fahrenheit - 32) / 1.8)  # definition of the scale
    assert confirmation.settings.limits.wall_caution_c == pytest.approx(60)  # 140 degF


def test_the_demo_needs_no_mending(screening, confirmation):
    assert set(screening.problems["level"]) == {"off plan", "look at this"}
    assert confirmation.problems.empty
    # After the two-line note in burns.csv the line runs ahead of the spreadsheet's row.
    text = (DEMO / "screening" / "burns.csv").read_text("utf-8").splitlines()
    broken_at = next(n for n, line in enumerate(text, start=1) if line.count('"') % 2)
    burns = screening.problems[screening.problems["file"] == "burns.csv"]
    assert ((burns["line"] - burns["row"]) == (burns["line"] > broken_at)).all()
    assert set(burns["line"] > broken_at) == {True, False}


def test_files_are_named_counted_and_hashed(screening):
    assert list(screening.files.columns) == ["file", "bytes", "sha256"]
    files = screening.files.set_index("file")
    assert files["sha256"].to_dict() == digests(DEMO / "screening")
    sizes = {path.name: path.stat().st_size for path in (DEMO / "screening").iterdir()}
    assert files["bytes"].to_dict() == sizes


def test_every_row_knows_its_line(screening, confirmation):
    for batch in (screening, confirmation):
        for name in TABLES:
            assert len(batch.lines[name]) == len(getattr(batch, name)), name
    # A two-line note stands in burns.csv; the rows below it keep their physical lines.
    text = (DEMO / "screening" / "burns.csv").read_text("utf-8").splitlines()
    burns = screening.burns
    for n, line in enumerate(screening.lines["burns"]):
        assert text[line - 1].startswith(f"{burns['candle'].iat[n]},{burns['burn'].iat[n]:g},")
    assert screening.lines["burns"][-1] > len(burns) + 1
    assert confirmation.lines["throw"].tolist() == []


def test_reading_writes_nothing():
    for folder in (DEMO / "screening", DEMO / "confirmation"):
        before = digests(folder)
        read_batch(folder)
        check_batch(str(folder))
        assert digests(folder) == before


def test_a_batch_says_what_it_is(confirmation):
    counts = [len(getattr(confirmation, name)) for name in ("candles", "burns", "checks")]
    assert repr(confirmation) == (
        "Batch('Stoneware tumbler, coconut and rapeseed wax: the pick on fresh candles': {} "
        "candles, {} burns, {} checks, 0 problems)".format(*counts)
    )


def test_tables_that_the_folder_has_not_are_empty(confirmation, screening):
    for name in ("wick_changes", "exclusions", "throw"):
        empty, full = getattr(confirmation, name), getattr(screening, name)
        assert len(empty) == 0
        assert len(full) > 0
        assert list(empty.dtypes) == list(full.dtypes)


def test_no_such_folder(tmp_path):
    for read in (read_batch, check_batch):
        with pytest.raises(NotADirectoryError) as raised:
            read(tmp_path / "nowhere")
        end = " is not a folder. Give the folder that holds batch.toml and burns.csv."
        assert str(raised.value).endswith(end)
        with pytest.raises(NotADirectoryError):
            read(DEMO / "README.md")


def rewrite(source, target, units):
    """The batch with its number columns in other units, as a spreadsheet would hold them."""
    shutil.copytree(source, target)
    for path in target.glob("*.csv"):
        table = pd.read_csv(path, dtype="str", keep_default_na=False)
        for name in list(table.columns):
            stem, unit = split_unit(name)
            if unit in units:
                numbers = pd.to_numeric(table[name].replace("", None))
                values = convert(numbers.astype(float), unit, units[unit])
                table[name] = [("" if np.isnan(v) else f"{v:.5f}") for v in values]
                table = table.rename(columns={name: f"{stem}_{units[unit]}"})
        table.to_csv(path, index=False)


def assert_same(first, second, at_most=1e-3):
    for name in TABLES:
        pd.testing.assert_frame_equal(
            getattr(first, name), getattr(second, name), check_exact=False, atol=at_most, rtol=0
        )


def test_another_unit_gives_the_same_batch(screening, tmp_path):
    rewrite(
        DEMO / "screening",
        tmp_path / "b",
        {"g": "oz", "mm": "in", "c": "f", "min": "h", "s": "min", "m": "ft", "days": "h"},
    )
    again = read_batch(tmp_path / "b")
    assert "mass_before_oz" in (tmp_path / "b" / "burns.csv").read_text("utf-8")
    assert_same(screening, again)
    same = ["level", "problem", "file", "row", "candle"]
    pd.testing.assert_frame_equal(screening.problems[same], again.problems[same])
    assert {"wick_length_in", "room_f"} <= set(again.problems["column"])


def test_the_order_of_rows_does_not_matter(screening, tmp_path):
    shutil.copytree(DEMO / "screening", tmp_path / "b")
    rng = np.random.default_rng(20260302)
    for path in (tmp_path / "b").glob("*.csv"):
        table = pd.read_csv(path, dtype="str", keep_default_na=False)
        table.iloc[rng.permutation(len(table))].to_csv(path, index=False)
    again = read_batch(tmp_path / "b")
    for name, spec in TABLES.items():
        key = list(spec.key)
        first, second = (
            getattr(b, name).sort_values(key, ignore_index=True) for b in (screening, again)
        )
        pd.testing.assert_frame_equal(first, second)
    same = ["level", "problem", "candle", "column", "found", "expected", "what_to_do"]
    first, second = (
        b.problems[same].sort_values(same, ignore_index=True) for b in (screening, again)
    )
    pd.testing.assert_frame_equal(first, second)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encoding_and_line_ends_do_not_matter(confirmation, tmp_path, encoding, end):
    shutil.copytree(DEMO / "confirmation", tmp_path / "b")
    for path in (tmp_path / "b").glob("*.csv"):
        text = path.read_bytes().decode("utf-8-sig")
        path.write_bytes(text.replace("\n", end).encode(encoding))
    assert_same(confirmation, read_batch(tmp_path / "b"), at_most=0)


def test_tables_in_hand_do_not_change_the_next_reading(screening):
    burns = read_batch(DEMO / "screening").burns
    burns["mass_before_g"] = 0.0
    assert_same(screening, read_batch(DEMO / "screening"), at_most=0)

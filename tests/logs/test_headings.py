"""A studio's own headings: guessed, told of, and read as they are once ``[columns]`` says so."""

import csv

import pytest
from batches import TOML, burn, candle, checks, life, write
from benches import Bench
from commands import run

from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.headings import guess
from candlelab.logs.problems import LOOK, MUST_FIX

BURNS = {
    "candle": "Jar no.", "burn": "Burn no.", "mass_before_g": "Start wt (g)",
    "mass_after_g": "Weight after (g)", "room_c": "Ambient (C)", "note": "Remarks",
}  # fmt: skip
CHECKS = {
    "elapsed_min": "Minutes", "flame_height_mm": "Flame (mm)", "wall_c": "Glass temp (C)",
    "pool_diameter_mm": "Melt pool (mm)", "vessel_damaged": "Cracked?", "reignited": "Relit",
}  # fmt: skip


def spelled(folder, table, names):
    """The table with other headings."""
    path = folder / f"{table}.csv"
    with open(path, encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    with open(path, "w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[names.get(name, name) for name in head], *rows])


def studio(folder, toml=TOML):
    write(folder, [candle("A1")], [burn("A1", 1, 19)], checks("A1", 1), toml=toml)
    spelled(folder, "burns", BURNS)
    spelled(folder, "checks", CHECKS)
    return folder


@pytest.mark.parametrize(
    ("heading", "table", "column"),
    [
        ("start_wt_oz", "burns", "mass_before_oz"), ("flame_in", "checks", "flame_height_in"),
        ("end_weight_g", "burns", "mass_after_g"), ("jar_temp_f", "checks", "wall_f"),
        ("melt_pool_in", "checks", "pool_diameter_in"), ("hours", "checks", "elapsed_min"),
        ("cracked", "checks", "vessel_damaged"), ("fo", "candles", "fragrance"),
        ("fo_load_pct", "candles", "fragrance_load_pct"), ("wick", "candles", "wick_series"),
        ("start_wt_in", "burns", None), ("initials", "burns", None), ("flame_f", "checks", None),
    ],
)  # fmt: skip
def test_the_trades_words(heading, table, column):
    from candlelab.logs.columns import TABLES

    assert guess(heading, table, [c.name for c in TABLES[table].columns]) == column


def test_every_word_means_one_column_of_its_table():
    from candlelab.logs.columns import TABLES
    from candlelab.logs.headings import _WORDS
    from candlelab.units import split_unit

    for table, columns in _WORDS.items():
        assert set(columns) <= {split_unit(c.name)[0] for c in TABLES[table].columns}
        unit = {split_unit(c.name)[0]: split_unit(c.name)[1] for c in TABLES[table].columns}
        words = [(word, bool(unit[c])) for c, own in columns.items() for word in own]
        assert len(words) == len(set(words)), table


def test_unknown_headings_are_told_with_what_they_most_likely_are(tmp_path):
    problems = check_batch(studio(tmp_path))
    told = {p.column: (p.level, p.problem, p.expected) for p in problems.itertuples()}
    assert told["Jar no."] == (MUST_FIX, "heading of your own", "candle")
    assert told["Start wt (g)"] == (MUST_FIX, "heading of your own", "mass_before_g")
    assert told["Flame (mm)"] == (LOOK, "heading of your own", "flame_height_mm")
    assert told["Cracked?"] == (LOOK, "heading of your own", "vessel_damaged")
    assert told["Minutes"][:2] == (MUST_FIX, "unit missing")


def test_check_prints_what_to_paste_and_with_it_the_log_reads(tmp_path):
    folder = studio(tmp_path / "own")
    printed = run("check", folder)
    lines = printed.stdout.splitlines()
    paste = lines[lines.index("To keep your own headings, paste this into batch.toml:") + 1 :]
    assert '"Start wt (g)" = "mass_before_g"' in paste
    unit = '"Minutes" = "elapsed_min"  # the unit that you used: _h, _min, _s, _days'
    assert unit in paste
    (folder / "batch.toml").write_text(TOML + "\n".join(paste) + "\n", "utf-8")
    assert check_batch(folder).empty
    write(tmp_path / "plain", [candle("A1")], [burn("A1", 1, 19)], checks("A1", 1))
    same = read_batch(tmp_path / "plain")
    batch = read_batch(folder)
    for table in ("burns", "checks"):
        assert getattr(batch, table).equals(getattr(same, table))
    again = run("check", folder)
    assert again.exit_code == 0
    assert "paste" not in again.stdout


def test_a_heading_may_be_left_unread_and_have_another_unit(tmp_path):
    mapping = '[columns.burns]\n"Who" = ""\n"Start" = "mass_before_oz"\n'
    one = burn("A1", 1, 19, mass_before_g=14.1, mass_after_g=381)
    write(tmp_path, [candle("A1")], [one], checks("A1", 1), toml=TOML + mapping)
    spelled(tmp_path, "burns", {"mass_before_g": "Start", "note": "Who"})
    assert "column not known" not in set(check_batch(tmp_path)["problem"])
    before = read_batch(tmp_path).burns["mass_before_g"]
    assert before.tolist() == [pytest.approx(14.1 * 28.349523125)]


@pytest.mark.parametrize(
    ("lines", "problem", "column"),
    [
        ('[columns.burned]\n"a" = "b"', "unknown table", "columns.burned"),
        ('[columns.burns]\n"a" = "mass"', "unknown column", "columns.burns.a"),
        ('[columns.burns]\n"a" = "mass_before_c"', "unknown column", "columns.burns.a"),
        ('[columns.burns]\n"a" = 3', "wrong type of value", "columns.burns.a"),
        ('[columns]\nburns = "a"', "wrong type of value", "columns.burns"),
        ('[columns.burns]\n"a" = "note"\n"b" = "note"', "two settings for one quantity",
         "columns.burns.b"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_the_mapping_is_told_with_its_line(tmp_path, lines, problem, column):
    write(tmp_path, [candle("A1")], [burn("A1", 1, 19)], checks("A1", 1), toml=TOML + lines + "\n")
    (row,) = check_batch(tmp_path).to_dict("records")
    assert (row["level"], row["problem"], row["column"]) == (MUST_FIX, problem, column)
    assert (tmp_path / "batch.toml").read_text("utf-8").splitlines()[row["line"] - 1] != ""


def test_day_and_clock_in_two_columns_of_a_csv_table(tmp_path):
    write(tmp_path, [candle("A1")], [burn("A1", 1, 19), burn("A1", 2, 18)],
          [*checks("A1", 1), *checks("A1", 2)])  # fmt: skip
    path = tmp_path / "burns.csv"
    text = path.read_text("utf-8").replace("lit_at,out_at", "date,lit time,out time")
    text = text.replace("2026-06-01 09:00,2026-06-01 13:00", "2026-06-01,21:00,01:00")
    text = text.replace("2026-06-02 09:00,2026-06-02 13:00", "2026-06-02,9:00 PM,1:00 AM")
    path.write_text(text, "utf-8")
    burns = read_batch(tmp_path).burns
    assert [f"{t:%d %H:%M}" for t in burns["out_at"]] == ["02 01:00", "03 01:00"]
    assert [f"{t:%d %H:%M}" for t in burns["lit_at"]] == ["01 21:00", "02 21:00"]


@pytest.mark.slow
def test_the_bench_adds_rows_under_a_studios_own_headings(tmp_path):
    mapping = ["[columns.burns]"]
    mapping += [f'"{own}" = "{name}"' for name, own in BURNS.items()]
    mapping += ["[columns.checks]", *(f'"{own}" = "{name}"' for name, own in CHECKS.items())]
    folder = studio(tmp_path, TOML + "\n".join(mapping) + "\n")
    bench = Bench(folder)
    bench.clock.move(60 * 24)
    bench.whole_burn("A1", 2, before=381.0)
    assert check_batch(folder).empty
    assert read_batch(folder).burns["mass_after_g"].tolist() == [381.0, 361.0]


def test_a_header_that_is_not_on_top_and_moments_in_two_columns_are_told(tmp_path):
    """They are no problems: check says them beside what it has read."""
    burns, seen = life("A")
    folder = write(tmp_path, [candle("A")], burns, seen)
    rows = [line.split(",") for line in (folder / "burns.csv").read_text().splitlines()]
    lit, out = rows[0].index("lit_at"), rows[0].index("out_at")
    for row in rows[1:]:
        day, row[lit] = row[lit].split()
        row[out] = row[out].split()[1]
        row.append(day)
    rows[0][lit], rows[0][out] = "Lit", "Out"
    text = "\n\n\n" + "\n".join(",".join(row) for row in [[*rows[0], "Date"], *rows[1:]])
    (folder / "burns.csv").write_text(text)
    batch = read_batch(folder)
    assert batch.how_read == (
        "burns.csv: headings found in line 4.",
        "burns.csv: lit_at put together of “Date” and “Lit”.",
        "burns.csv: out_at put together of “Date” and “Out”.",
    )
    assert batch.problems.empty

"""Two rounds in which one candle failed once, and honest-looking edits of their files."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
from batches import TOML
from claimed import CONFIRMED, made

SCREENED = (29.75, 30.0, 30.25, 29.85, 30.1, 29.95)
FRESH = (29.5, 29.8, 30.15)


class Rounds:
    """The folders ``first`` and ``second``: a screening and its confirmation, nothing wrong."""

    def __init__(self, place: Path, fresh=FRESH) -> None:
        self.place = place
        self.first, self.second = place / "first", place / "second"
        made(self.first, SCREENED, toml=TOML, name="S")
        made(self.second, fresh, toml=CONFIRMED, month=8)
        self.claimed = [self.first, self.second]

    def edit(self, folder: Path, table: str, change) -> None:
        """Change a table as text cells; ``change`` takes it and hands it back, or None."""
        path = folder / f"{table}.csv"
        rows = pd.read_csv(path, dtype=str, keep_default_na=False)
        changed = change(rows)
        (rows if changed is None else changed).to_csv(path, index=False)

    def put(self, folder: Path, table: str, column: str, value, **where) -> None:
        """Write a value into the cells of a column where others have these values."""

        def change(rows):
            at = pd.Series(True, rows.index)
            for name, wanted in where.items():
                at &= rows[name] == str(wanted)
            assert at.any(), (table, where)
            rows.loc[at, column] = str(value)

        self.edit(folder, table, change)

    def fail(self, folder: Path, candle: str, value=80, column="flame_height_mm") -> None:
        """One reading of one check of burn 2."""
        self.put(folder, "checks", column, value, candle=candle, burn=2, elapsed_min=180)

    def aside(self, folder: Path, *rows: str) -> None:
        text = "candle,burn,reason\n" + "".join(f"{row},draught\n" for row in rows)
        (folder / "exclusions.csv").write_text(text, encoding="utf-8")

    def wick(self, folder: Path, series: str, size: str) -> None:
        """Add a size to wicks.csv."""
        with open(folder / "wicks.csv", "a", encoding="utf-8") as file:
            file.write(f"{series},{size},2,400,2.0\n")

    def add_part_used(self, folder: Path, like: str, **burn) -> None:
        """D1: poured with another size, burned as ``like`` was, re-wicked before burn 2."""

        def copy(rows):
            own = rows[rows["candle"] == like].assign(candle="D1")
            if "wick_size" in rows:
                own = own.assign(wick_size="1")
            own = own.assign(**{c: str(v) for c, v in burn.items() if c in own})
            return pd.concat([rows, own])

        for table in ("candles", "burns", "checks"):
            self.edit(folder, table, copy)
        (folder / "wick_changes.csv").write_text(
            "candle,before_burn,wick_series,wick_size\nD1,2,flat braid,2\n", encoding="utf-8"
        )

    def copied(self, name: str, *, poured_on: str | None, days: int = 0) -> Path:
        """The screening under the name of a confirmation, with new names for its candles."""
        copy = self.place / name
        shutil.copytree(self.first, copy)
        (copy / "batch.toml").write_text(CONFIRMED, encoding="utf-8")
        for table in ("candles", "burns", "checks"):
            self.edit(copy, table, lambda t: t.assign(candle=t["candle"].str.replace("S", "C")))
        if poured_on is not None:
            self.edit(copy, "candles", lambda t: t.assign(poured_on=poured_on))
        if days:
            self.edit(copy, "burns", lambda t: t.assign(**{c: _later(t[c], days) for c in _TIMES}))
        return copy


_TIMES = ("lit_at", "out_at")


def _later(moments: pd.Series, days: int) -> pd.Series:
    later = pd.to_datetime(moments) + pd.Timedelta(days=days)
    return later.dt.strftime("%Y-%m-%d %H:%M")


# ---------------------------------------------------------------- the edits


def candle_set_aside(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.aside(r.first, "S1,")


def burn_set_aside(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.aside(r.first, "S1,2")


def burns_set_aside_one_by_one(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.aside(r.first, *(f"S1,{n}" for n in range(1, 9)))


def fresh_candle_set_aside(r: Rounds) -> None:
    r.fail(r.second, "C1")
    r.aside(r.second, "C1,")


def series_with_a_hyphen(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.put(r.first, "candles", "wick_series", "flat-braid", candle="S1")
    r.wick(r.first, "flat-braid", "2")


def size_written_02(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.put(r.first, "candles", "wick_size", "02", candle="S1")
    r.wick(r.first, "flat braid", "02")


def wax_with_a_cyrillic_letter(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.put(r.first, "candles", "wax", "s\u043ey", candle="S1")
    text = (r.first / "batch.toml").read_text(encoding="utf-8")
    more = '[waxes."s\u043ey"]\nheat_of_combustion_kj_per_g = 36\n'
    (r.first / "batch.toml").write_text(text + more, encoding="utf-8")


def load_moved_by_rounding(r: Rounds) -> None:
    r.fail(r.first, "S1")
    for folder in (r.first, r.second):
        r.edit(folder, "candles", lambda t: t.assign(fragrance="fig", fragrance_load_pct="8"))
    r.put(r.first, "candles", "fragrance_load_pct", "8.01", candle="S1")


def smoke_made_up_for_by_a_part_used_candle(r: Rounds) -> None:
    r.put(r.second, "burns", "aftersmoke_s", 38, ended_by="timer")
    r.add_part_used(r.second, "C1", aftersmoke_s=2)


def failed_in_a_part_used_candle(r: Rounds) -> None:
    r.add_part_used(r.first, "S1")
    r.fail(r.first, "D1")


def copied_without_a_pouring_day(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.second = r.copied("again", poured_on="")
    r.fail(r.second, "C1", value=30)
    r.claimed = [r.first, r.second]


def copied_a_day_later(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.second = r.copied("again", poured_on="2026-05-02", days=1)
    r.fail(r.second, "C1", value=30)
    r.claimed = [r.first, r.second]


def other_wall_limits(r: Rounds) -> None:
    r.fail(r.second, "C1", value=70, column="wall_c")
    text = (r.second / "batch.toml").read_text(encoding="utf-8")
    (r.second / "batch.toml").write_text(text + "[limits]\nwall_stop_c = 75\n", encoding="utf-8")


def burn_taken_out_and_renumbered(r: Rounds) -> None:
    r.fail(r.second, "C1")

    def without(rows):
        number = rows["burn"].astype(int)
        own = rows["candle"] == "C1"
        moved = number.where(~own | (number < 2), number - 1).astype(str)
        return rows.assign(burn=moved)[~(own & (number == 2))]

    for table in ("burns", "checks"):
        r.edit(r.second, table, without)


def check_dropped(r: Rounds) -> None:
    r.edit(
        r.second,
        "checks",
        lambda t: t[~((t["candle"] == "C1") & (t["burn"] == "2") & (t["elapsed_min"] == "180"))],
    )


def column_left_blank(r: Rounds) -> None:
    r.put(r.second, "checks", "flame_height_mm", "", candle="C1")


def stopped_before_it_failed(r: Rounds) -> None:
    for table in ("burns", "checks"):
        r.edit(r.second, table, lambda t: t[(t["candle"] != "C1") | (t["burn"].astype(int) <= 2)])
    r.put(r.second, "burns", "ended_by", "stopped", candle="C1", burn=2)


def went_out_early(r: Rounds) -> None:
    for table in ("burns", "checks"):
        r.edit(r.second, table, lambda t: t[(t["candle"] != "C1") | (t["burn"].astype(int) <= 3)])
    r.put(r.second, "burns", "ended_by", "self", candle="C1", burn=3)


def another_folder_called_a_screening(r: Rounds) -> None:
    """The screening that failed stays in the drawer."""
    other = r.place / "other"
    made(other, SCREENED, toml=TOML, name="T")
    r.edit(other, "candles", lambda t: t.assign(wick_size="3"))
    r.first, r.claimed = other, [other, r.second]


def a_letter_off(r: Rounds) -> None:
    r.fail(r.first, "S1")
    r.put(r.first, "candles", "wick_series", "flat brayd", candle="S1")
    r.wick(r.first, "flat brayd", "2")

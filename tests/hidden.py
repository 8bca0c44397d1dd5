"""Small random logs in which one candle fails once, and what becomes of it after edits.

`random_log` makes a log with a failure or without; `hidden_edits` changes it as honest makers do;
`outcome` reads and judges it and says whether the failure was refused, questioned, named or silent.
"""

from __future__ import annotations

import copy
import csv
import re
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import pandas as pd

from candlelab.judge.fates import SAFE
from candlelab.judge.safety import PASS
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.batch import Batch, read_batch
from candlelab.logs.columns import TABLES
from candlelab.logs.problems import LOOK, MUST_FIX, BurnLogError
from candlelab.units import UNITS, convert, split_unit

REFUSED, QUESTIONED, NAMED, SILENT = "refused", "questioned", "named", "silent"
BROKEN = "broken"  # an error that nobody catches
VESSEL_G, INNER_MM = 300.0, 70.0
STATES = {"g": "oz", "mm": "in", "c": "f"}
SERIES = ("flat braid", "square braid", "paper-cored", "wooden")
FLAGS = ("flame_on_vessel", "vessel_damaged", "surface_damaged", "tipped", "reignited")
# Column, and the readings between which it fails without being implausible.
READINGS = {
    "soot": (3, 3), "secondary_ignition_s": (12, 50), "flame_height_mm": (80, 98),
    "wall_c": (69, 95), "pool_depth_mm": (15, 30),
}  # fmt: skip


@dataclass(frozen=True)
class Failure:
    """Which candle breaks a criterion, in which column, in which burn (0 for all of them)."""

    candle: str
    series: str
    size: str
    column: str
    burn: int


@dataclass
class Log:
    """A batch folder in the making: rows under canonical names in g, mm, degC, min and s.

    ``units`` gives the unit in a column's heading and the unit that its numbers are in;
    ``heads`` the heading of ``table.column`` where it is another one; ``dropped`` columns are
    not written. ``touched`` holds the columns that edits changed, ``more`` a second batch given
    together.
    """

    name: str
    toml: list[str]
    candles: list[dict]
    burns: list[dict]
    checks: list[dict]
    wicks: list[dict]
    wick_changes: list[dict] = field(default_factory=list)
    exclusions: list[dict] = field(default_factory=list)
    units: dict[str, tuple[str, str]] = field(default_factory=dict)
    heads: dict[str, str] = field(default_factory=dict)
    dropped: set[str] = field(default_factory=set)
    touched: set[str] = field(default_factory=set)
    failure: Failure | None = None
    more: Log | None = None

    def of(self, table: str, candle: str, burn: int = 0) -> list[dict]:
        """The rows of a candle in a table, of one burn where it is named."""
        rows = [row for row in getattr(self, table) if row["candle"] == candle]
        return [row for row in rows if burn in (0, row["burn"])] if burn else rows


# ---------------------------------------------------------------- making logs


def random_log(rng, *, failing: bool = True, many: bool = False) -> Log:
    """A log of two wicks with two to four candles each burned to its end, all checks made; ``many``
    gives the first wick four candles."""
    series = rng.choice(SERIES, 2, replace=bool(rng.integers(2)))
    wicks = [(str(series[0]), "1"), (str(series[1]), "2")]
    log = Log("one", _toml(), [], [], [], _wick_rows(wicks))
    counts = (4, 1) if many else [(1, 1), (2, 1), (1, 2), (2, 2)][rng.integers(4)]
    for letter, wick, n in zip("AB", wicks, counts, strict=True):
        for k in range(1, n + 1):
            _light(log, rng, f"{letter}{k}", wick)
    if rng.random() < 0.4:
        log.units = {name: (unit, unit) for name, unit in _states().items()}
    if failing:
        _fail(log, rng)
    return log


def _toml() -> list[str]:
    return [
        'title = "a small log"', 'time_zone = "UTC"', "[vessels.jar]",
        f"inner_diameter_mm = {INNER_MM:g}", "[waxes.soy]", "heat_of_combustion_kj_per_g = 36",
        "[limits]", "wall_stop_c = 65", "pool_depth_mm = 13",
    ]  # fmt: skip


def _states() -> dict[str, str]:
    """The unit of the States for each column of g, mm and degC."""
    columns = [c.name for t in ("candles", "burns", "checks") for c in TABLES[t].columns]
    units = {name: split_unit(name)[1] for name in columns}
    return {name: STATES[unit] for name, unit in units.items() if unit in STATES}


def _wick_rows(wicks) -> list[dict]:
    sizes = {(series, size) for series, _ in wicks for size in "123"}
    return [
        {"wick_series": series, "wick_size": size, "size_rank": int(size)}
        for series, size in sorted(sizes)
    ]


def _light(log: Log, rng, name: str, wick: tuple[str, str]) -> None:
    """A candle burned to its end, in three or four burns and sometimes a last one of 11 minutes."""
    fill, n = float(rng.integers(95, 106)), int(rng.integers(3, 5))
    log.candles.append({
        "candle": name, "vessel": "jar", "wax": "soy", "wick_series": wick[0], "wick_size": wick[1],
        "fill_mass_g": fill, "fragrance": "fig", "fragrance_load_pct": 8, "wick_count": 1,
        "poured_on": "2026-05-01",
    })  # fmt: skip
    minutes = [int(rng.integers(236, 246)) for _ in range(n - 1)] + [int(rng.integers(200, 241))]
    minutes += [11] if rng.random() < 0.35 else []
    rate = fill * rng.uniform(0.88, 0.96) / sum(minutes)
    stands = VESSEL_G + fill
    for number, lasted in enumerate(minutes, start=1):
        before, stands = stands, round(stands - rate * lasted, 2)
        log.burns.append({
            "candle": name, "burn": number, "lit_at": _clock(number, 0),
            "out_at": _clock(number, lasted), "mass_before_g": before, "mass_after_g": stands,
            "room_c": round(rng.uniform(21, 24), 1), "wick_length_mm": 5,
            "ended_by": "self" if number == len(minutes) else "timer",
            "aftersmoke_s": int(rng.integers(2, 12)), "note": "",
        })  # fmt: skip
        _look(log, rng, name, number, lasted)


def _clock(day: int, minutes: int) -> str:
    return (
        f"{pd.Timestamp(f'2026-06-{day:02d} 09:00') + pd.Timedelta(minutes=minutes):%Y-%m-%d %H:%M}"
    )


def _look(log: Log, rng, name: str, number: int, lasted: int) -> None:
    """Checks of one burn, every hour within ten minutes; the last hour sometimes without one."""
    due = [60 * k + int(rng.integers(-5, 6)) for k in (1, 2, 3, 4)]
    due = due[: 3 + int(rng.integers(2))]
    for minute in (m for m in due if m <= lasted):
        hours = minute / 60
        log.checks.append({
            "candle": name, "burn": number, "elapsed_min": minute,
            "flame_height_mm": int(rng.integers(24, 42)),
            "wall_c": round(33 + 4 * hours + rng.normal(0, 1), 1),
            "pool_diameter_mm": int(min(20 + 14 * hours, 67)),
            "pool_depth_mm": round(2 + 2 * hours, 1), "soot": int(rng.random() < 0.15),
            "mushroom_mm": round(rng.uniform(0.5, 2.5), 1), "secondary_ignition_s": 0,
            **dict.fromkeys(FLAGS, "no"), "note": "",
        })  # fmt: skip


def _fail(log: Log, rng) -> None:
    """One candle breaks one deciding criterion once; the row where it stands is marked."""
    candle = log.candles[rng.integers(len(log.candles))]
    name = candle["candle"]
    kinds = [*READINGS, *FLAGS, "aftersmoke_s", "ended_by"]
    column = str(kinds[rng.integers(len(kinds))])
    burn = 0
    if column == "aftersmoke_s":
        same = [c for c in log.candles if c["wick_series"] == candle["wick_series"]]
        for row in log.of("burns", name):
            row |= {column: int(32 * len(same) + rng.integers(0, 20)), "fails": True}
            row[column] = min(row[column], 115) if len(same) < 4 else 130
    elif column == "ended_by":
        burn = int(rng.integers(1, 3))
        row = log.of("burns", name, burn)[0]
        row |= {column: "self", "fails": True, "note": rng.choice(["", "drowned"])}
        cut(log, name, after=burn)
    else:
        seen = log.of("checks", name)
        row = seen[rng.integers(len(seen))]
        burn = row["burn"]
        low, high = READINGS.get(column, (0, 0))
        row |= {column: int(rng.integers(low, high + 1)) if low else "yes", "fails": True}
        if rng.random() < 0.5:
            put_out(log, row)
    log.failure = Failure(name, candle["wick_series"], candle["wick_size"], column, burn)


def cut(log: Log, candle: str, *, after: int) -> None:
    """Take away the later burns of a candle and their checks."""
    for table in ("burns", "checks"):
        rows = getattr(log, table)
        rows[:] = [r for r in rows if r["candle"] != candle or r["burn"] <= after]


def put_out(log: Log, check: dict) -> None:
    """The maker saw it: the burn ends two minutes after the check, and no other follows."""
    name, burn, minute = check["candle"], check["burn"], check["elapsed_min"]
    cut(log, name, after=burn)
    log.checks[:] = [
        r
        for r in log.checks
        if (r["candle"], r["burn"]) != (name, burn) or r["elapsed_min"] <= minute
    ]
    row = log.of("burns", name, burn)[0]
    share = (minute + 2) / minutes(row)
    used = row["mass_before_g"] - row["mass_after_g"]
    row |= {"ended_by": "stopped", "out_at": _clock(burn, minute + 2), "note": "put out"}
    row["mass_after_g"] = round(row["mass_before_g"] - used * min(share, 1), 2)


def minutes(burn: dict) -> float:
    """How long a burn lasted."""
    return (pd.Timestamp(burn["out_at"]) - pd.Timestamp(burn["lit_at"])) / pd.Timedelta("1min")


# ---------------------------------------------------------------- writing


def write(log: Log, folder: Path) -> Path:
    """Write a log as a batch folder, in its units and under its headings."""
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    (folder / "batch.toml").write_text("\n".join(log.toml) + "\n", encoding="utf-8")
    for name, table in TABLES.items():
        rows = getattr(log, name, None)
        if not rows:
            continue
        columns = [c.name for c in table.columns if f"{name}.{c.name}" not in log.dropped]
        with open(folder / table.file, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([_heading(log, name, column) for column in columns])
            writer.writerows([[_cell(log, row.get(c, ""), c) for c in columns] for row in rows])
    return folder


def _heading(log: Log, table: str, column: str) -> str:
    if f"{table}.{column}" in log.heads:
        return log.heads[f"{table}.{column}"]
    if column in log.units:
        return f"{split_unit(column)[0]}_{log.units[column][0]}"
    return column


def _cell(log: Log, value, column: str) -> str:
    if value == "" or column not in log.units or isinstance(value, str):
        return str(value)
    own, unit = split_unit(column)[1], log.units[column][1]
    return f"{convert(float(value), own, unit):.5g}" if unit in UNITS else str(value)


# ---------------------------------------------------------------- judging


def knowable(log: Log) -> bool:
    """Whether the files still hold the failure, or a hole where it was."""
    return any(_holds(part, log.failure) for part in (log, log.more) if part is not None)


def _holds(log: Log, failure: Failure) -> bool:
    own = log.of("burns", failure.candle)
    if not own:
        return False
    table = "burns" if failure.column in ("aftersmoke_s", "ended_by") else "checks"
    if any(row.get("fails") for row in log.of(table, failure.candle)):
        return True  # written, or a blank cell, or a column that is missing
    own = sorted(own, key=lambda row: row["burn"])
    fill = next(c["fill_mass_g"] for c in log.candles if c["candle"] == failure.candle)
    left = fill - (own[0]["mass_before_g"] - own[-1]["mass_after_g"])
    if own[-1]["ended_by"] != "self" or left > 0.25 * fill:
        return True
    if any(abs(a["mass_after_g"] - b["mass_before_g"]) > 1.5 for a, b in pairwise(own)):
        return True
    return any(_hole(log, burn) for burn in own)


def _hole(log: Log, burn: dict, every: float = 60, tolerance: float = 15) -> bool:
    """Whether a check that was due is missing: an hour and a quarter without one."""
    seen = sorted(r["elapsed_min"] for r in log.of("checks", burn["candle"], burn["burn"]))
    lasted, marks = minutes(burn), [0, *seen]
    stretches = [b - a for a, b in zip(marks, [*seen, lasted], strict=True)]
    late = burn["ended_by"] == "stopped" and lasted - marks[-1] > tolerance
    return late or max(stretches) > every + tolerance or (lasted >= every and not seen)


@dataclass(frozen=True)
class Outcome:
    """What became of a failure: one of the four words, and the text that shows it."""

    word: str
    said: str = ""


def outcome(log: Log, folder: Path) -> Outcome:
    """Read and judge a log, the two batches together where there are two."""
    parts = [log] if log.more is None else [log, log.more]
    batches = []
    for part in parts:
        try:
            batches.append(read_batch(write(part, folder / part.name)))
        except BurnLogError as error:
            row = error.problems[error.problems["level"] == MUST_FIX].iloc[0]
            return Outcome(REFUSED, f"{row['problem']}: {row['found']}")
    for part, batch in zip(parts, batches, strict=True):
        if said := _question(batch, part, log.failure):
            return Outcome(QUESTIONED, said)
    try:
        return _judged([WorkedBatch(batch) for batch in batches], log.failure)
    except Exception as error:
        return Outcome(BROKEN, f"{type(error).__name__}: {error}")


def _judged(worked: list[WorkedBatch], failure: Failure) -> Outcome:
    if worked[1:]:
        from hidden_pages import safe_of_both  # pages of several batches, and only for them

        calls = safe_of_both(worked, failure)
    else:
        calls = safe_calls(worked[0], failure)
    return Outcome(SILENT, " // ".join(calls)) if calls else Outcome(NAMED)


def lost(log: Log, folder: Path) -> list[str]:
    """The verdicts that a log without a failure or a missing check does not get."""
    try:
        worked = WorkedBatch(read_batch(write(log, folder / log.name)))
    except BurnLogError as error:
        return [f"refused: {row.problem}, {row.found}" for row in error.problems.itertuples()]
    table, changed = worked.verdicts.candle_verdicts, {r["candle"] for r in log.wick_changes}
    own = table[(table["run"] == 1) & ~table["excluded"] & ~table["candle"].isin(changed)]
    said = [
        f"{row.candle}: {row.standard_verdict}, {row.studio_verdict}"
        for row in own.itertuples()
        if (row.standard_verdict, row.studio_verdict) != (PASS, PASS)
    ]
    gaps = worked.gaps[~worked.gaps["candle"].isin(changed)]
    said += [f"{row.candle}: {row.why}" for row in gaps.itertuples()]
    fates = worked.fates[worked.fates["candidate"].isin(own["candidate"])]
    said += [f"{row.candidate}: {row.fate}" for row in fates.itertuples() if row.fate != SAFE]
    return said + [f"{row.candle}: {row.words}" for row in worked.failures.itertuples()]


def _question(batch: Batch, log: Log, failure: Failure) -> str:
    """The first *look at this* that points to the candle or its wick, and to what is wrong."""
    wick = f"{failure.series} {failure.size}".casefold()
    suspects = log.touched | {failure.column}
    for row in batch.problems[batch.problems["level"] == LOOK].itertuples():
        text = f"{row.problem} {row.found} {row.expected} {row.what_to_do}".casefold()
        stem = split_unit(row.column)[0]
        at_it = stem in {split_unit(name)[0] for name in suspects}
        names = row.candle == failure.candle or wick in text or failure.candle.casefold() in text
        if at_it or (names and row.column == ""):
            return f"{row.problem} ({row.file}, {row.candle}, {row.column}): {row.found}"
    return ""


def safe_calls(worked: WorkedBatch, failure: Failure) -> list[str]:
    """What the decisions say of the wick when they call it safe and do not name the candle.

    The candle is named in a line about the wick, or among those that were set aside.
    """
    said = []
    for row in worked.fates.itertuples():
        if row.wick != f"{failure.series} {failure.size}" or row.fate != SAFE:
            continue
        about = re.compile(rf"{re.escape(row.candidate)}(?!\w|\.\d)|^You set aside")
        lines = [line for d in worked.decisions for line in d.lines if about.search(line)]
        if not any(failure.candle in words_of(line) for line in lines):
            said += lines or [row.because]
    return said


def words_of(text: str) -> set[str]:
    """The words of a text."""
    return set(re.findall(r"\w+", text))


def copied(log: Log) -> Log:
    """A log that can be changed without changing this one."""
    return copy.deepcopy(log)

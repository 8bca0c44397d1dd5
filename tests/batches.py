"""Small batches for tests: written as a user would write them, CSV and TOML, and read back."""

import csv
from dataclasses import replace
from pathlib import Path

import pandas as pd

from candlelab.logs.batch import Batch, _empty, read_batch
from candlelab.logs.columns import TABLES
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings_reader import read_settings
from candlelab.logs.writer import write_batch
from candlelab.simulate.batch import simulate_batch
from candlelab.simulate.model import BatchPlan, Bench, WickTruth

TOML = """title = "made by hand"
time_zone = "UTC"
[vessels.jar]
inner_diameter_mm = 70
[waxes.soy]
heat_of_combustion_kj_per_g = 36
"""
WICKS = [
    {"wick_series": series, "wick_size": size, "size_rank": rank}
    for series in ("flat braid", "square braid")
    for rank, size in enumerate(("1", "2", "3"), start=1)
]
SEEN = {
    "flame_height_mm": 30, "wall_c": 45, "pool_diameter_mm": 50, "pool_depth_mm": 8, "soot": 0,
    "mushroom_mm": 1, "secondary_ignition_s": 0, "flame_on_vessel": "no", "vessel_damaged": "no",
    "surface_damaged": "no", "tipped": "no", "reignited": "no",
}  # fmt: skip
VESSEL_G = 300.0


def candle(name, wick="flat braid 2", fill=100.0, **more):
    """A row of candles.csv: 100 g of soy wax without fragrance in a jar."""
    series, _, size = wick.rpartition(" ")
    row = {"candle": name, "vessel": "jar", "wax": "soy", "wick_series": series, "wick_size": size}
    return row | {"fill_mass_g": fill} | more


def burn(name, number, used, h=4.0, **more):
    """A row of burns.csv: lit at nine on a day of June; `batch` weighs off ``used`` [g]."""
    minutes = round(h * 60)
    row = {
        "candle": name,
        "burn": number,
        "lit_at": f"2026-06-{number:02d} 09:00",
        "out_at": f"2026-06-{number:02d} {9 + minutes // 60:02d}:{minutes % 60:02d}",
        "used": used,
        "room_c": 22,
        "ended_by": "timer",
        "aftersmoke_s": 5,
    }
    return row | more


def check(name, number, minute, **seen):
    """A row of checks.csv: everything was seen and nothing is wrong, but for what is given."""
    return {"candle": name, "burn": number, "elapsed_min": minute} | SEEN | seen


def checks(name, number, minutes=(60, 120, 180, 240), **seen):
    """The checks of one burn; a list gives one reading for each check.

    The pool of 70 mm is full, 64 mm, at 3 h.
    """
    if len(minutes) == 4:
        seen = {"pool_diameter_mm": [30, 50, 64, 66]} | seen
    rows = []
    for n, minute in enumerate(minutes):
        one = {key: value[n] if isinstance(value, list) else value for key, value in seen.items()}
        rows.append(check(name, number, minute, **one))
    return rows


def life(name, burns=5, used=19.4, **seen):
    """Burns and checks of a candle of 100 g burned to its end in equal burns, of which 3 g stay."""
    rows = [
        burn(name, n, used, ended_by="self" if n == burns else "timer") for n in range(1, burns + 1)
    ]
    return rows, [row for n in range(1, burns + 1) for row in checks(name, n, **seen)]


def weigh(candles, burns):
    """Weights in place of ``used``, each candle starting at its fill in a vessel of 300 g."""
    stands = {row["candle"]: VESSEL_G + row["fill_mass_g"] for row in candles}
    rows = []
    for row in burns:
        row = dict(row)
        used = row.pop("used")
        given = row.setdefault("mass_before_g", stands[row["candle"]])
        before = stands[row["candle"]] if isinstance(given, str) else given
        after = round(before - used, 6)
        given = row.setdefault("mass_after_g", after)
        stands[row["candle"]] = after if isinstance(given, str) else given
        rows.append(row)
    return rows


def write(folder, candles, burns, checks=(), toml=TOML, wicks=WICKS, **more) -> Path:
    """Write a batch folder from lists of rows; a missing key is an empty cell."""
    tables = {
        "candles": candles,
        "burns": weigh(candles, burns),
        "checks": list(checks),
        "wicks": wicks,
    } | more
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "batch.toml").write_text(toml, encoding="utf-8")
    for name, rows in tables.items():
        with open(folder / f"{name}.csv", "w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(
                file, [c.name for c in TABLES[name].columns if c.name != "due_at"]
            )
            writer.writeheader()
            writer.writerows(rows)
    return folder


_READ: dict[tuple, Batch] = {}


def read(folder) -> Batch:
    """`read_batch`, once for the same bytes: nobody changes what was read."""
    folder = Path(folder)
    files = sorted(path for path in folder.iterdir() if path.is_file())
    key = tuple((path.name, path.read_bytes()) for path in files)
    kept = _READ.pop(key, None)
    if kept is None:
        kept = read_batch(folder)
        if len(_READ) > 200:
            del _READ[next(iter(_READ))]  # the one that nobody asked for the longest time
    _READ[key] = kept
    # in which folder of that name it lay, no page tells
    return kept if kept.folder.name == folder.name else replace(kept, folder=folder)


def batch(folder, candles, burns, checks=(), **more) -> Batch:
    """A batch written and read."""
    return read(write(folder, candles, burns, checks, **more))


def one_candle(folder, used, hours=None, fill=100.0, ended_by="timer", seen=(), **more):
    """A batch of candle A, one burn for each amount of wax used."""
    hours = hours or [4.0] * len(used)
    burns = [
        burn("A", n, wax, h) for n, (wax, h) in enumerate(zip(used, hours, strict=True), start=1)
    ]
    burns[-1]["ended_by"] = ended_by
    return batch(folder, [candle("A", fill=fill, **more.pop("candle", {}))], burns, seen, **more)


SIMULATED_TOML = """title = "simulated"
time_zone = "UTC"
[vessels."stoneware tumbler"]
inner_diameter_mm = 74
[instruments]
scale_repeatability_g = 0.04
"""


def simulated(folder, wicks, *, seed, each=3, bench=None, **more) -> Batch:
    """A seeded batch of ``each`` candles per wick on the simulated bench, written and read.

    ``wicks`` holds (size, burn rate g/h, wax out of reach %) of one series, smallest first.
    """
    truth = tuple(
        WickTruth("flat braid", size, n, rate, left)
        for n, (size, rate, left) in enumerate(wicks, start=1)
    )
    names = tuple(
        (f"{w.wick_size}-{n}", "flat braid", w.wick_size) for w in truth for n in range(1, each + 1)
    )
    made = simulate_batch(BatchPlan(truth, names, bench or Bench(), **more), seed=seed)
    write_batch(made.tables, SIMULATED_TOML, folder)
    return read(folder)


def in_memory(plan, *, seed, toml=SIMULATED_TOML, folder="simulated") -> Batch:
    """A seeded batch of the simulated bench as it is after reading, without a file.

    Tested against a written one.
    """
    made = simulate_batch(plan, seed=seed).tables
    checks = made["checks"].assign(soot=made["checks"]["soot"].astype(float))
    tables = {name: made.get(name, _empty(name)) for name in TABLES} | {"checks": checks}
    problems = ProblemList()
    return Batch(
        folder=Path(folder),
        settings=read_settings(toml, problems),
        problems=problems.table(),
        lines={},
        files=pd.DataFrame(columns=["file", "bytes", "sha256"]),
        **tables,
    )

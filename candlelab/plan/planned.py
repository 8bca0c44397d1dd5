"""A plan worked out: recipe, pours, order, places, sessions, and what each of them rests on.

Writes nothing.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path

import pandas as pd

from candlelab.burns.candidates import RECIPE, recipe_words, wick_names
from candlelab.glossary import TABLES
from candlelab.logs.cells import Style
from candlelab.logs.csv_table import read_table
from candlelab.logs.problems import MUST_FIX, ProblemList, problem_lines
from candlelab.pages.record import table_record
from candlelab.plan import schedule
from candlelab.plan import weighing as recipe
from candlelab.plan.layout import bench_positions, lay_out, nearest_gap
from candlelab.plan.rules import check_plan, cure_days, fill_of, liquid_volume
from candlelab.plan.sample_size import CandlePlan, Wanted, plan_candles
from candlelab.plan.settings import Plan, PlannedCandidate, read_plan_text
from candlelab.stats.power import Spread

PLAN_FILE, WICKS_FILE = "plan.toml", TABLES["wicks"].file
_MOST_BYTES = 1_000_000


class PlanError(ValueError):
    """A plan cannot be used as it stands; ``problems`` is the table of everything found."""

    def __init__(self, file: str, problems: pd.DataFrame) -> None:
        self.problems = problems
        must_fix = problems[problems["level"] == MUST_FIX]
        count = f"{len(must_fix)} problem" + ("" if len(must_fix) == 1 else "s")
        super().__init__(
            "\n".join(
                [f"{file}: {count} to fix before anything is poured", *problem_lines(must_fix, 50)]
            )
        )


@dataclass(frozen=True, eq=False)
class PlannedBatch:
    """A plan and what follows from it, each as a table; ``files`` are the bytes
    that were read, by their name in the folder."""

    plan: Plan
    problems: pd.DataFrame
    files: dict[str, bytes]

    @cached_property
    def candidates(self) -> pd.DataFrame:
        """One row per candidate: its name, recipe, candles, expected burn rate and life."""
        plan, rows = self.plan, []
        for c in plan.candidates:
            fill = self.weighed(c).total_g
            life = schedule.planned_life(fill, c.burn_rate_g_per_h)
            burns = schedule.planned_burns(
                life, plan.settings.protocol.burn_h, plan.timetable.margin_pct
            )
            load = c.fragrance_load_pct if c.fragrance else math.nan
            rows.append(
                (
                    c.wick_series,
                    c.wick_size,
                    c.wick_count or 1,
                    c.vessel,
                    c.wax,
                    c.fragrance or "",
                    load,
                    c.dye or "",
                    c.wax_lot or "",
                    c.candles,
                    fill,
                    c.burn_rate_g_per_h,
                    life,
                    burns,
                )
            )
        table = pd.DataFrame(
            rows,
            columns=[
                "wick_series",
                "wick_size",
                "wick_count",
                "vessel",
                "wax",
                "fragrance",
                "fragrance_load_pct",
                "dye",
                "wax_lot",
                "n_candles",
                "fill_mass_g",
                "burn_rate_g_per_h",
                "life_planned_h",
                "burns_planned",
            ],
        )
        table["fragrance_load_pct"] = table["fragrance_load_pct"].astype(float)
        table.insert(
            0,
            "candidate",
            wick_names(table["wick_series"], table["wick_size"], table["wick_count"])
            + recipe_words(table),
        )
        return table

    @cached_property
    def showing(self) -> CandlePlan:
        """What the candles of this plan can show, and how many it would take for what is wanted."""
        aim, table = self.plan.aim, self.candidates
        wanted = Wanted(
            difference=aim.difference_g_per_h if len(table) > 1 else None,
            reliability=aim.reliability_pct / 100.0,
            candidates=max(len(table), 2),
            affordable=max(int(table["n_candles"].min()), 2),
            burns=int(table["burns_planned"].min()),
        )
        known = aim.candle_sd_g_per_h is not None
        return plan_candles(
            wanted=wanted,
            spread=Spread(aim.candle_sd_g_per_h, aim.burn_sd_g_per_h, "[aim] of the plan")
            if known
            else None,
        )

    def weighed(self, candidate: PlannedCandidate) -> recipe.Weighed:
        """Wax and fragrance of one candle, in steps of the scale."""
        settings = self.plan.settings
        fill = fill_of(self.plan.vessels[candidate.vessel], candidate, self.plan)
        return recipe.weigh(
            fill, _load(candidate), settings.load_basis, settings.instruments.scale_resolution_g
        )

    @cached_property
    def layout(self) -> pd.DataFrame:
        """One row per candle, in the order of the bench: its candidate, group, place and round."""
        counts = dict(zip(self.candidates["candidate"], self.candidates["n_candles"]))
        return lay_out(counts, self.places, groups=self.groups, layout=self.plan.layout)

    @cached_property
    def places(self) -> pd.DataFrame:
        """Every place of the benches."""
        return bench_positions(self.plan.benches, self.plan.layout, self.widest_mm)

    @property
    def widest_mm(self) -> float:
        """Outer diameter [mm] of the widest vessel that is poured."""
        return max(self.plan.vessels[c.vessel].width_mm for c in self.plan.candidates)

    @property
    def watched(self) -> int:
        """Candles that can be watched at once."""
        return schedule.watchable(self.plan.settings.protocol, self.plan.timetable)

    @property
    def groups(self) -> int:
        """Groups of candles that are lit together, as few as can be watched."""
        return math.ceil(self.candidates["n_candles"].sum() / self.watched)

    @cached_property
    def candles(self) -> pd.DataFrame:
        """The rows of ``candles.csv``; the fill is the planned one until it has been weighed."""
        of = (
            self.candidates.set_index("candidate")
            .loc[self.layout["candidate"]]
            .reset_index(drop=True)
        )
        table = of.assign(
            candle=self.layout["candle"],
            bench_position=self.layout["bench_position"],
            poured_on=pd.Timestamp(self.plan.pour.poured_on),
        )
        return table[[column.name for column in TABLES["candles"].columns]]

    @cached_property
    def recipes(self) -> pd.DataFrame:
        """One row per recipe: wax and fragrance of a candle, and how full its vessel is."""
        rows = {}
        for c in self.plan.candidates:
            weighed, basis = self.weighed(c), self.plan.settings.load_basis
            volume, brim = (
                liquid_volume(weighed.total_g, c, self.plan),
                self.plan.vessels[c.vessel].brim_ml,
            )
            key = (c.vessel, c.wax, c.fragrance or "", _load(c), c.dye or "")
            n = c.candles + (rows[key][-1] if key in rows else 0)
            rows[key] = (
                *key,
                weighed.total_g,
                weighed.wax_g,
                weighed.fragrance_g,
                weighed.load_pct(basis),
                volume,
                100 * volume / brim if brim else math.nan,
                n,
            )
        return pd.DataFrame(
            list(rows.values()),
            columns=[
                *RECIPE,
                "fill_mass_g",
                "wax_g",
                "fragrance_g",
                "load_weighed_pct",
                "room_ml",
                "brim_pct",
                "n_candles",
            ],
        )

    @cached_property
    def pours(self) -> pd.DataFrame:
        """One row per jug: what to weigh out and which candles it fills.

        Every jug has its share of every candidate.
        """
        pour, settings, rows = self.plan.pour, self.plan.settings, []
        turn = self.layout.groupby(
            "candidate", sort=False
        ).cumcount()  # the first candle of every candidate, then the second
        table = self.candles.assign(turn=turn).sort_values(
            ["turn", "wick_series", "wick_size"], kind="stable"
        )
        for (wax, fragrance, load, dye), mix in table.groupby(
            ["wax", "fragrance", "fragrance_load_pct", "dye"], sort=False, dropna=False
        ):
            load, start = 0.0 if math.isnan(load) else load, 0
            for size in recipe.share_out(list(mix["fill_mass_g"]), pour.losses_pct, pour.jug_g):
                part = mix.iloc[start : start + size]
                start += size
                poured = math.fsum(part["fill_mass_g"])
                weighed = recipe.weigh(
                    recipe.pour_total(list(part["fill_mass_g"]), pour.losses_pct),
                    load,
                    settings.load_basis,
                    settings.instruments.scale_resolution_g,
                    up=True,
                )
                rows.append(
                    (
                        len(rows) + 1,
                        wax,
                        fragrance,
                        load,
                        dye,
                        size,
                        poured,
                        round(weighed.total_g - poured, 9),
                        weighed.total_g,
                        weighed.wax_g,
                        weighed.fragrance_g,
                        ", ".join(sorted(part["candle"])),
                    )
                )
        return pd.DataFrame(
            rows,
            columns=[
                "pour",
                "wax",
                "fragrance",
                "fragrance_load_pct",
                "dye",
                "n_candles",
                "poured_g",
                "losses_g",
                "weighed_out_g",
                "wax_g",
                "fragrance_g",
                "candles",
            ],
        )

    @cached_property
    def materials(self) -> pd.DataFrame:
        """What to have in grams: every wax and fragrance, needed and with the reserve."""
        needed = [(name, own["wax_g"].sum()) for name, own in self.pours.groupby("wax", sort=False)]
        needed += [
            (name, own["fragrance_g"].sum())
            for name, own in self.pours.groupby("fragrance", sort=False)
            if name
        ]
        reserve = self.plan.pour.reserve_pct
        return pd.DataFrame(
            [(item, g, float(recipe.to_order(g, reserve))) for item, g in needed],
            columns=["item", "needed_g", "to_order_g"],
        )

    @cached_property
    def pieces(self) -> pd.DataFrame:
        """What to have in pieces: vessels and wicks, needed and with the reserve."""
        table = self.candidates.assign(
            wick=wick_names(self.candidates["wick_series"], self.candidates["wick_size"])
        )
        needed = [
            (name, own["n_candles"].sum()) for name, own in table.groupby("vessel", sort=False)
        ]
        needed += [
            (f"wick {name}", (own["n_candles"] * own["wick_count"]).sum())
            for name, own in table.groupby("wick", sort=False)
        ]
        return pd.DataFrame(
            [(item, int(n), recipe.to_order(n, self.plan.pour.reserve_pct)) for item, n in needed],
            columns=["item", "n_needed", "n_to_order"],
        )

    @cached_property
    def sessions(self) -> pd.DataFrame:
        """One row per burn session."""
        burns = dict(zip(self.candidates["candidate"], self.candidates["burns_planned"]))
        of_group = self.layout.groupby("day_group")["candidate"]
        groups = {int(group): len(own) for group, own in of_group}
        wanted = {int(group): int(own.map(burns).max()) for group, own in of_group}
        settings = self.plan.settings
        return schedule.burn_sessions(
            groups,
            wanted,
            self.first_day,
            settings.time_zone,
            settings.protocol,
            self.plan.timetable,
        )

    @cached_property
    def rounds(self) -> pd.DataFrame:
        """One row per round of checks."""
        return schedule.check_rounds(
            self.sessions, self.plan.settings.protocol, self.plan.timetable
        )

    @property
    def cured(self) -> date:
        """First day on which all candles are cured."""
        return schedule.cured_on(self.plan.pour.poured_on, cure_days(self.plan))

    @property
    def first_day(self) -> date:
        """First day on which candles may be lit."""
        return self.plan.timetable.first_burn_on or self.cured

    @property
    def clear_mm(self) -> float:
        """Smallest clear distance between candles that stand side by side."""
        return nearest_gap(self.layout, self.widest_mm)

    @cached_property
    def inputs(self) -> pd.DataFrame:
        """One row per file that was read, with its SHA-256."""
        rows = [
            (name, len(data), hashlib.sha256(data).hexdigest()) for name, data in self.files.items()
        ]
        return pd.DataFrame(rows, columns=["file", "bytes", "sha256"])

    def calendar(self) -> bytes:
        """The calendar file."""
        names = {
            int(group): ", ".join(own) for group, own in self.layout.groupby("day_group")["candle"]
        }
        return schedule.calendar(
            self.plan.settings.title,
            self.plan.pour.poured_on,
            self.cured,
            self.sessions,
            self.rounds,
            names,
        )


def _load(candidate: PlannedCandidate) -> float:
    return candidate.fragrance_load_pct or 0.0


def read_plan(file: str | Path) -> PlannedBatch:
    """Read a plan and the ``wicks.csv`` beside it.

    Raises PlanError, with every fault at once, when something must be fixed first,
    and FileNotFoundError when there is no such file.
    """
    file = Path(file)
    if not file.is_file():
        raise FileNotFoundError(
            f"{file} is not a file. Give the plan, as in plan.toml; the demo shows its form."
        )
    problems, files = ProblemList(), {PLAN_FILE: _bytes(file)}
    text = _text(files[PLAN_FILE], file.name, problems)
    plan, reader = read_plan_text(text, file.name, problems) if text is not None else (None, None)
    wicks, beside = None, file.parent / WICKS_FILE
    if beside.is_file():
        files[WICKS_FILE] = _bytes(beside)
        table = read_table(TABLES["wicks"], files[WICKS_FILE], Style(), problems)
        wicks = (
            None
            if table is None
            else set(zip(table.frame["wick_series"], table.frame["wick_size"]))
        )
    else:
        problems.add(
            MUST_FIX,
            "missing file",
            WICKS_FILE,
            expected=f"a file {WICKS_FILE} beside {file.name}",
            do="Put the list of wick sizes there; the demo shows its form.",
        )
    if plan is not None:
        check_plan(plan, wicks, reader)
    found = problems.table()
    if plan is None or (found["level"] == MUST_FIX).any():
        raise PlanError(str(file), found)
    return PlannedBatch(plan, found, files)


def _bytes(file: Path) -> bytes:
    """Bytes of a file that is no larger than a plan or a list of wicks can be."""
    if file.stat().st_size > _MOST_BYTES:
        raise OSError(f"{file} is larger than {_MOST_BYTES:,} bytes; is it another file?")
    return file.read_bytes()


def _text(data: bytes, file: str, problems: ProblemList) -> str | None:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        problems.add(
            MUST_FIX,
            "wrong encoding",
            file,
            line=line,
            row=line,
            found=f"byte {data[error.start]:#04x}",
            expected="UTF-8 text",
            do="Save the file again as UTF-8.",
        )
        return None


def tables(planned: PlannedBatch) -> dict[str, tuple[str, pd.DataFrame]]:
    """Each table of the plan by its name, with what one row of it is."""
    return {
        "candidates": ("a candidate", planned.candidates),
        "recipes": ("a recipe", planned.recipes),
        "pours": ("a pour", planned.pours),
        "materials": ("a wax or fragrance", planned.materials),
        "pieces": ("a vessel or wick", planned.pieces),
        "layout": ("a candle", planned.layout),
        "sessions": ("a burn session", planned.sessions),
        "rounds": ("a round of checks", planned.rounds),
        **planned.showing.tables(),
    }


def plan_record(planned: PlannedBatch, parameters: dict, versions: dict) -> dict:
    """Plain data for ``plan.json``: every table with units and row
    counts, inputs with their SHA-256, versions."""
    return {
        "format": "candlelab plan 1",
        "title": planned.plan.settings.title,
        "seed": planned.plan.layout.seed,
        "tables": {
            name: table_record(row_is, table) for name, (row_is, table) in tables(planned).items()
        },
        "inputs": planned.inputs.to_dict("records"),
        "parameters": parameters,
        "versions": versions,
    }

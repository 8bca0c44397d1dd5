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
from typing import cast

import pandas as pd

from candlelab.logs.cells import Style
from candlelab.logs.columns import PLANNED, TABLES
from candlelab.logs.csv_table import read_table
from candlelab.logs.faults import said
from candlelab.logs.problems import MUST_FIX, ProblemList, to_fix
from candlelab.logs.toml_text import decode_settings
from candlelab.plan import amounts, schedule
from candlelab.plan.layout import bench_positions, lay_out, nearest_gap
from candlelab.plan.rules import check_plan
from candlelab.plan.sample_size import CandlePlan, Wanted, plan_candles
from candlelab.plan.settings import Plan, read_plan_text
from candlelab.stats.power import Spread

PLAN_FILE, WICKS_FILE = "plan.toml", TABLES["wicks"].file
_MOST_BYTES = 1_000_000


class PlanError(ValueError):
    """A plan cannot be used as it stands; ``problems`` is the table of everything found."""

    def __init__(self, file: str, problems: pd.DataFrame) -> None:
        self.problems = problems
        super().__init__(to_fix(file, problems, "anything is poured", 50))


@dataclass(frozen=True, eq=False)
class PlannedBatch:
    """A plan and what follows from it, each worked out once.

    Attributes
    ----------
    plan : candlelab.plan.settings.Plan
        What ``plan.toml`` says.
    problems : pandas.DataFrame
        What to look at, as :func:`candlelab.check_batch` gives it.
    files : dict of str to bytes
        The files that were read, by their name in the folder.
    candidates, recipes, pours, materials, pieces : pandas.DataFrame
        What is poured: one row per candidate, recipe, jug, wax or fragrance, vessel or wick.
    layout, places : pandas.DataFrame
        Where candles stand: one row per candle, and per place of the benches.
    sessions, rounds : pandas.DataFrame
        When candles burn: one row per burn session, and per round of checks.
    """

    plan: Plan
    problems: pd.DataFrame
    files: dict[str, bytes]

    @cached_property
    def candidates(self) -> pd.DataFrame:
        """One row per candidate: its name, recipe, candles, expected burn rate and life."""
        return amounts.candidate_table(self.plan)

    @cached_property
    def recipes(self) -> pd.DataFrame:
        """One row per recipe: wax and fragrance of a candle, and how full its vessel is."""
        return amounts.recipe_table(self.plan)

    @cached_property
    def pours(self) -> pd.DataFrame:
        """One row per jug: what to weigh out and which candles it fills."""
        return amounts.pour_table(self.candles, self.layout, self.plan)

    @cached_property
    def materials(self) -> pd.DataFrame:
        """What to have in grams: every wax and fragrance, needed and with the reserve."""
        return amounts.material_table(self.pours, self.plan)

    @cached_property
    def pieces(self) -> pd.DataFrame:
        """What to have in pieces: vessels and wicks, needed and with the reserve."""
        return amounts.piece_table(self.candidates, self.plan)

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
        spread = None
        if aim.candle_sd_g_per_h is not None:
            spread = Spread(aim.candle_sd_g_per_h, aim.burn_sd_g_per_h or 0.0, "[aim] of the plan")
        return plan_candles(wanted=wanted, spread=spread, display=self.plan.settings.display)

    @cached_property
    def layout(self) -> pd.DataFrame:
        """One row per candle, in the order of the bench: its candidate, group, place and round."""
        counts = self.candidates.set_index("candidate")["n_candles"].to_dict()
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
        of = self.candidates.set_index("candidate").loc[self.layout["candidate"]]
        table = of.reset_index(drop=True).assign(
            candle=self.layout["candle"],
            bench_position=self.layout["bench_position"],
            poured_on=pd.Timestamp(self.plan.pour.poured_on),
        )
        return table[[column.name for column in TABLES["candles"].columns]]

    @cached_property
    def sessions(self) -> pd.DataFrame:
        """One row per burn session."""
        burns = self.candidates.set_index("candidate")["burns_planned"].to_dict()
        of_group = self.layout.groupby("day_group")["candidate"]
        candles = {int(group): len(own) for group, own in of_group}
        wanted = {int(group): int(own.map(burns).max()) for group, own in of_group}
        settings, when = self.plan.settings, self.plan.timetable
        start, zone, protocol = self.first_day, settings.time_zone, settings.protocol
        return schedule.burn_sessions(candles, wanted, start, zone, protocol, when)

    @cached_property
    def rounds(self) -> pd.DataFrame:
        """One row per round of checks."""
        protocol, timetable = self.plan.settings.protocol, self.plan.timetable
        return schedule.check_rounds(self.sessions, protocol, timetable)

    @cached_property
    def due(self) -> pd.DataFrame:
        """One row per burn of a candle, in the order of lighting: when it is to be lit."""
        step = pd.Timedelta(minutes=schedule.stagger_min(self.plan.timetable))
        own = self.layout[["day_group", "candle"]]
        own = own.assign(after=own.groupby("day_group").cumcount() * step)
        due = self.sessions.merge(own, on="day_group").sort_values(["session", "after"])
        return due.assign(due_at=due["lit_from"] + due["after"]).reset_index(drop=True)

    @cached_property
    def burns(self) -> pd.DataFrame:
        """The rows of ``burns.csv``: what is known before anything is burned."""
        return as_log("burns", _in_text(self.due))

    @cached_property
    def due_checks(self) -> pd.DataFrame:
        """One row per check, in the order of the rounds: when it is to be made."""
        rounds = self.rounds[["session", "elapsed_min"]]
        due = self.due.merge(rounds, on="session")
        due = due.sort_values(["session", "elapsed_min", "after"], kind="stable")
        due["due_at"] += pd.to_timedelta(due["elapsed_min"], unit="min")
        return due.reset_index(drop=True)

    @cached_property
    def checks(self) -> pd.DataFrame:
        """The rows of ``checks.csv``, in the order of the rounds."""
        return as_log("checks", _in_text(self.due_checks))

    @cached_property
    def wicks(self) -> pd.DataFrame:
        """The list of wick sizes beside the plan."""
        table = read_table(TABLES["wicks"], self.files[WICKS_FILE], Style(), ProblemList())
        return pd.DataFrame() if table is None else table.frame

    @property
    def _poured_on(self) -> date:
        return cast(date, self.plan.pour.poured_on)  # a plan without it is refused

    @property
    def cured(self) -> date:
        """First day on which all candles are cured."""
        return schedule.cured_on(self._poured_on, self.plan.cure_days)

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
        digests = {name: hashlib.sha256(data).hexdigest() for name, data in self.files.items()}
        rows = [(name, len(self.files[name]), digest) for name, digest in digests.items()]
        return pd.DataFrame(rows, columns=["file", "bytes", "sha256"])

    def calendar(self) -> bytes:
        """The calendar file."""
        of_group = self.layout.groupby("day_group")["candle"]
        names = {int(group): ", ".join(own) for group, own in of_group}
        title, poured = self.plan.settings.title, self._poured_on
        when = self.sessions, self.rounds
        return schedule.calendar(title, poured, self.cured, *when, names)


def read_plan(file: str | Path) -> PlannedBatch:
    """Read a plan and the ``wicks.csv`` beside it, and work it out. Nothing is written.

    Parameters
    ----------
    file : str or pathlib.Path
        The plan, as in ``plan.toml``.

    Returns
    -------
    PlannedBatch

    Raises
    ------
    PlanError
        When something must be fixed first; it names every fault at once.
    FileNotFoundError
        When there is no such file.

    Examples
    --------
    >>> from candlelab import demo_folder, read_plan
    >>> planned = read_plan(demo_folder("plan") / "plan.toml")
    >>> planned.candidates[["candidate", "n_candles", "burns_planned"]]
            candidate  n_candles  burns_planned
    0    flat braid 4          4             11
    1  square braid 2          4             10
    2  square braid 3          4              9
    3   paper-cored 4          4             10
    """
    file = Path(file)
    if not file.is_file():
        raise FileNotFoundError(
            f"{file} is not a file. Give the plan, as in plan.toml; the demo shows its form."
        )
    problems, files = ProblemList(), {PLAN_FILE: _bytes(file)}
    text = decode_settings(files[PLAN_FILE], file.name, problems)
    plan, reader = (None, None) if text is None else read_plan_text(text, file.name, problems)
    beside = file.parent / WICKS_FILE
    if beside.is_file():
        files[WICKS_FILE] = _bytes(beside)
    wicks = _wicks(files.get(WICKS_FILE), file.name, problems)
    if plan is not None and reader is not None:
        check_plan(plan, wicks, reader)
    found = problems.table()
    if plan is None or (found["level"] == MUST_FIX).any():
        raise PlanError(str(file), found)
    return PlannedBatch(plan, found, files)


def _wicks(data: bytes | None, plan: str, problems: ProblemList) -> set[tuple[str, str]] | None:
    """Series and size of every wick in the list beside a plan; None when it cannot be read."""
    if data is None:
        do = "Put the list of wick sizes there; the demo shows its form."
        name = f"{WICKS_FILE} beside {plan}"
        problems.add(file=WICKS_FILE, **said("missing file", found="", name=name, do=do))
        return None
    table = read_table(TABLES["wicks"], data, Style(), problems)
    if table is None or not {"wick_series", "wick_size"} <= table.found.keys():
        return None
    return set(zip(table.frame["wick_series"], table.frame["wick_size"], strict=True))


def _bytes(file: Path) -> bytes:
    """Bytes of a file that is no larger than a plan or a list of wicks can be."""
    if file.stat().st_size > _MOST_BYTES:
        raise OSError(f"{file} is larger than {_MOST_BYTES:,} bytes; is it another file?")
    return file.read_bytes()


def _in_text(due: pd.DataFrame) -> pd.DataFrame:
    return due.assign(due_at=due["due_at"].dt.strftime("%Y-%m-%d %H:%M"))


def as_log(name: str, known: pd.DataFrame) -> pd.DataFrame:
    """A log with all of its columns, and in them only what a plan knows."""
    types = {"time": "datetime64[us]", "date": "datetime64[us]", "number": "float"}
    rows = pd.RangeIndex(len(known))
    return pd.DataFrame(
        {
            c.name: known[c.name].array
            if c.name in PLANNED[name]
            else pd.Series(index=rows, dtype=types.get(c.kind, "object"))
            for c in TABLES[name].columns
        },
        index=rows,
    )


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

"""A plan's workbook filled in as a maker would, and the same burns as whole tables."""

import dataclasses

import numpy as np
import openpyxl
import pandas as pd
from plans import plan_file

from candlelab.logs.columns import TABLES
from candlelab.plan import folder as planning
from candlelab.plan.workbook import NOTHING_UNUSUAL
from candlelab.units import normalise_header

_HEAD, _FIRST_LIT = 4, 6
VESSEL_G = 300.0


def three_by_three(folder):
    """The plan of 3 wicks x 3 candles x 10 burns, each watched for 4 checks, in one group."""
    return plan_file(
        folder,
        ('[[candidates]]\nwick_series = "paper-cored"\nwick_size = "4"\n', ""),
        ("burn_rate_g_per_h = 6.0\n", ""),
        ("burn_rate_g_per_h = 5.2\n", ""), ("burn_rate_g_per_h = 6.4\n", ""),
        ("burn_rate_g_per_h = 5.6", "burn_rate_g_per_h = 5.7"), ("candles = 4", "candles = 3"),
    )  # fmt: skip


def book_style(planned):
    """How the workbook of a plan is written."""
    return dataclasses.replace(planning._style(planned.plan.settings), spoken_headers=True)


def burned(planned, seed=1) -> dict[str, pd.DataFrame]:
    """Tables of burns in which every planned row was burned and nothing unusual was seen."""
    rng = np.random.default_rng(seed)
    protocol = planned.plan.settings.protocol
    due = planned.due
    lit = due["due_at"].dt.tz_localize(None)
    rooms = rng.uniform(21, 24, len(planned.sessions)).round(1)
    room = dict(zip(planned.sessions["session"], rooms, strict=True))
    used = rng.uniform(17.5, 19.9, len(due)).round(1)
    fill = planned.candles.set_index("candle")["fill_mass_g"]
    gone = pd.Series(used).groupby(due["candle"]).cumsum().round(1)
    after = (VESSEL_G + due["candle"].map(fill).astype(float) - gone).round(1)
    burns = planned.burns.assign(
        lit_at=lit, out_at=lit + pd.Timedelta(hours=protocol.burn_h),
        mass_before_g=(after + used).round(1), mass_after_g=after,
        room_c=due["session"].map(room), wick_length_mm=5.0, ended_by="timer",
        aftersmoke_s=rng.integers(1, 9, len(due)).astype(float),
    )  # fmt: skip
    checks = planned.checks
    n = len(checks)
    width = np.minimum(74.0, 20 + 0.35 * checks["elapsed_min"].astype(float) + rng.uniform(0, 6, n))
    full = width >= 74.0 - protocol.full_pool_margin_mm
    before = checks.assign(full=full).groupby(["candle", "burn"])["full"].cumsum() - full
    checks = checks.assign(
        flame_height_mm=rng.uniform(18, 40, n).round(0),
        wall_c=rng.uniform(35, 52, n).round(1),
        pool_diameter_mm=np.where(before > 0, np.nan, width.round(0)),
        **{name: float(said) if said.isdigit() and name != "soot" else said
           for name, said in NOTHING_UNUSUAL.items()},
    )  # fmt: skip
    for name in ("flame_on_vessel", "vessel_damaged", "surface_damaged", "tipped", "reignited"):
        checks[name] = pd.array([False] * n, dtype="boolean")
    return {"burns": burns, "checks": checks}


def fill_in(path, planned, tables) -> dict[str, int]:
    """Type a whole batch into a plan's workbook; how many cells that took, by what they are."""
    book = openpyxl.load_workbook(path)
    typed = {"answers": 0, "burns": 0, "checks": 0, "candles": 0}

    def put(cell, value, what):
        assert not cell.protection.locked, f"{cell.coordinate} is locked"
        cell.value = value
        typed[what] += 1

    burns, checks = tables["burns"], tables["checks"]
    first = burns.groupby(planned.due["session"]).first()
    sessions = book["sessions"]
    for n, row in enumerate(first.itertuples(), start=_HEAD + 1):
        answers = [row.lit_at.to_pydatetime(), row.room_c, row.wick_length_mm, "yes", "yes"]
        answers += ["yes"] * (sessions.max_column - 10)
        for column, value in enumerate(answers, start=_FIRST_LIT):
            put(sessions.cell(n, column), value, "answers")
    letters = {
        table: {_column(table, cell.value): cell.column for cell in book[table][1]}
        for table in ("burns", "checks")
    }
    seen = set()
    for n, row in enumerate(burns.to_dict("records"), start=2):
        typed_here = ["mass_after_g", "aftersmoke_s"]
        typed_here += [] if row["candle"] in seen else ["mass_before_g"]
        seen.add(row["candle"])
        for name in typed_here:
            put(book["burns"].cell(n, letters["burns"][name]), row[name], "burns")
    for n, row in enumerate(checks.to_dict("records"), start=2):
        for name in ("flame_height_mm", "wall_c", "pool_diameter_mm"):
            if not np.isnan(row[name]):
                put(book["checks"].cell(n, letters["checks"][name]), row[name], "checks")
    for n, fill in enumerate(planned.candles["fill_mass_g"], start=2):
        put(book["candles"].cell(n, 6), fill, "candles")
    book.save(path)
    return typed


def _column(table, heading) -> str:
    name = normalise_header(heading)
    return next((c.name for c in TABLES[table].columns if c.name == name), name)

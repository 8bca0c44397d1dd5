"""What a plan says in sentences: its answer, its files, and what it takes for granted."""

from __future__ import annotations

import math

import pandas as pd

from candlelab.plan.control import control_words
from candlelab.plan.panel import panel_words
from candlelab.plan.planned import PlannedBatch
from candlelab.plan.schedule import stagger_min
from candlelab.text import counted


def answer(planned: PlannedBatch) -> list[str]:
    """The sentences that open the page."""
    plan, candles, sessions = planned.plan, planned.candles, planned.sessions
    show = plan.settings.display
    candidates, wick_burns = planned.candidates, planned.candidates["burns_planned"]
    poured = "is poured" if len(candles) == 1 else "are poured"
    clear = (
        f", at least {show.written(planned.clear_mm, 'mm')} apart"
        if math.isfinite(planned.clear_mm)
        else ""
    )
    groups = ""
    if planned.groups != 1:
        groups = f" They burn in {planned.groups} groups, since so many cannot be watched at once."
    first, last = sessions["lit_from"].iloc[0], sessions["lit_from"].iloc[-1]
    bring = "brings" if len(sessions) == 1 else "bring"
    wax = ", ".join(
        f"{show.amount(m.to_order_g, 'g')} of {m.item}" for m in planned.materials.itertuples()
    )
    return [
        f"{counted(len(candles), 'candle')} of {counted(len(candidates), 'candidate')} "
        f"({_span(candidates['n_candles'])} each) {poured} on {show.day(plan.pour.poured_on)} in "
        f"{counted(len(planned.pours), 'pour')}, and cured on {show.day(planned.cured)}.",
        f"{len(candles)} of {counted(len(planned.places), 'place')} on the bench are taken{clear}. "
        f"{counted(plan.timetable.people, 'person', 'people')} can watch {planned.watched} at "
        f"once, at {plan.timetable.minutes_per_check:g} min a check.{groups}",
        f"{counted(len(sessions), 'burn session')} from {show.day(first)} to {show.day(last)} "
        f"{bring} the candles to their expected end, after {_span(wick_burns)} burns of "
        f"{plan.settings.protocol.burn_h:g} h.",
        f"Have at hand, with the reserve: {wax}.",
        *control_words(planned),
        *panel_words(planned),
    ]


def _span(values: pd.Series) -> str:
    low, high = values.min(), values.max()
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def identities(planned: PlannedBatch) -> str:
    """Whether the masses of every row add up, in words.

    Wax and fragrance make the fill, and what is poured and lost is what was weighed out.

    Parameters
    ----------
    planned : PlannedBatch
        A plan that has been read.

    Returns
    -------
    str
        One sentence.
    """
    r, p = planned.recipes, planned.pours
    off = max(
        (r["wax_g"] + r["fragrance_g"] - r["fill_mass_g"]).abs().max(),
        (p["wax_g"] + p["fragrance_g"] - p["weighed_out_g"]).abs().max(),
        (p["poured_g"] + p["losses_g"] - p["weighed_out_g"]).abs().max(),
    )
    return (
        "Checked: wax + fragrance = fill, and poured + left in the jug = weighed out, in every "
        + ("row." if off < 1e-6 else f"row but for {off:.2g} g.")
    )


def assumptions(planned: PlannedBatch) -> list[str]:
    """What the plan takes for granted, with its numbers.

    Parameters
    ----------
    planned : PlannedBatch
        A plan that has been read.

    Returns
    -------
    list of str
        Sentences.
    """
    plan, protocol, time = planned.plan, planned.plan.settings.protocol, planned.plan.timetable
    show, tools = plan.settings.display, plan.settings.instruments
    of = "of wax" if plan.of_wax else "of wax and fragrance together"
    basis = f"100 {show.symbol('g')} {of}"
    return [
        f"The load is {show.symbol('g')} of fragrance for {basis}. Masses are rounded to the "
        f"scale's steps of {show.written(tools.scale_resolution_g, 'g')}.",
        "A fill given as a volume is turned into a mass by the densities in plan.toml, as if wax "
        "and fragrance mixed without a change of volume; 0.9 g/ml for a wax that names none is "
        "common practice, no source. A fill that was weighed is surer.",
        f"{plan.pour.losses_pct:g} % of what is weighed out stays in the jug; a jug holds "
        f"{show.written(plan.pour.jug_g, 'g')}.",
        f"Places are drawn by lot with the seed {plan.layout.seed}: the same plan gives the same "
        "places. Along each bench candles stand in rounds; in a round no candidate comes twice, "
        "and groups and pours have their share of every candidate. Numbers are given along the "
        "bench and tell nothing of the wick.",
        f"A check of one candle takes {time.minutes_per_check:g} min, and {time.spare_pct:g} % of "
        f"the {protocol.check_every_min:g} min between checks stays free: assumptions of this "
        f"plan, not a rule of a standard. Candles are lit {stagger_min(time)} min after one "
        "another, so that checks come in turn.",
        "The expected life is the fill divided by the expected burn rate, as if no wax were left, "
        f"and {time.margin_pct:g} % are added. A candle that still burns after its planned burns "
        "goes on to its end.",
        f"Between two burns lie at least {protocol.rest_h:g} h of rest and "
        f"{protocol.burn_tolerance_min:g} min for a burn that runs over. No session lies over a "
        "change of the clocks.",
        "candles.csv holds the planned fill until you write in what the scale said.",
    ]


FILE_WORDS = (
    ("candles.csv", "one row for each candle, with its place; put in the weighed fill"),
    ("burns.csv, checks.csv", "the logs, with a row for all that is due: fill in what you saw"),
    (
        "log.xlsx",
        "the same rows in a workbook that fills itself in from a few answers for each session: log "
        "in it or in the CSV tables",
    ),
    ("batch.toml, wicks.csv", "what no log holds: vessel, limits, targets; and the wick sizes"),
    (
        "log_sheets_a4.html, log_sheets_letter.html",
        "sheets to print, one set for each burn session, in two paper sizes",
    ),
    (
        "scent_sheets.html, throw.csv, pairs.csv",
        "score sheets for the noses, by code only, and their logs (with [scent])",
    ),
    (
        "codes.csv",
        "which code is which candle: keep it closed until all scores are in (with [scent])",
    ),
    (
        "schedule.ics",
        "pouring, cure, burn sessions and checks for a calendar program, with reminders",
    ),
    ("plan.toml", "the plan itself, to change and make again"),
    (
        "plan_batch.html, plan_batch.ipynb, plan.json",
        "this page, the notebook behind it, and every number in it",
    ),
)

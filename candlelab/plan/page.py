"""The page of a plan."""

from __future__ import annotations

from candlelab.pages.page import Page
from candlelab.plan.planned import PLAN_FILE, PlannedBatch, tables
from candlelab.plan.words import answer


def plan_page(planned: PlannedBatch) -> Page:
    """The page of a planned batch.

    Parameters
    ----------
    planned : PlannedBatch
        A plan that has been read.

    Returns
    -------
    Page
        What the notebook of a plan shows.
    """
    settings = planned.plan.settings
    of_studio = f" of {settings.studio}" if settings.studio else ""
    confirms = f", confirms {settings.confirms}" if settings.confirms else ""
    return Page(
        "plan",
        settings.title,
        (settings.question, f"Plan of a {settings.stage} batch{of_studio}{confirms}"),
        tuple(answer(planned)),
        tables(planned),
        tuple(planned.inputs.to_dict("records")),
        {"plan_file": PLAN_FILE},
        {"seed": planned.plan.layout.seed},
    )

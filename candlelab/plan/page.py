"""The page of a plan."""

from __future__ import annotations

from candlelab.pages.page import Page, Shown
from candlelab.plan.panel import panel_power, wants_panel
from candlelab.plan.planned import PLAN_FILE, PlannedBatch, tables
from candlelab.plan.sample_words import CAPTIONS
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
        tables(planned) | _of_panel(planned),
        tuple(planned.inputs.to_dict("records")),
        {"plan_file": PLAN_FILE},
        {"seed": planned.plan.layout.seed},
        (),
        shown(planned),
        tuple(planned.showing.method),
        display=settings.display,
    )


def _of_panel(planned: PlannedBatch) -> dict:
    """What so many noses can show, where the plan asks for a panel."""
    if not wants_panel(planned.plan.settings):
        return {}
    return {"panel_power": ("a number of noses and of times", panel_power(planned))}


def shown(planned: PlannedBatch) -> dict[str, Shown]:
    """How each table stands on the page."""
    zone = planned.plan.settings.time_zone
    return {
        "candidates": Shown(
            "Candidates",
            "candidate n_candles vessel wax fragrance fragrance_load_pct dye fill_mass_g "
            "burn_rate_g_per_h life_planned_h burns_planned",
            "The burn rate is what the plan expects, not a result.",
        ),
        "problems": Shown(
            "Worth a look in the plan",
            "file line problem column found expected what_to_do",
            nothing="Nothing in the plan asks for a second look.",
            rows=planned.problems,
        ),
        "recipes": Shown(
            "One candle",
            "vessel wax fragrance fragrance_load_pct dye wax_g fragrance_g fill_mass_g "
            "load_weighed_pct room_ml brim_pct n_candles",
        ),
        "pours": Shown(
            "Every pour",
            "pour wax wax_g fragrance fragrance_g weighed_out_g poured_g losses_g n_candles "
            "candles",
            "Every jug fills its share of every candidate, so that a bad jug cannot pass for a bad "
            "wick.",
        ),
        "materials": Shown("Shopping list by weight"),
        "pieces": Shown("Shopping list by piece"),
        "panel_power": Shown(
            "How often does a panel show a difference of one step?",
            note="Each number is a share of 300 drawn panels. How far noses and candles vary is "
            "assumed.",
            nothing="A panel is planned with a section [scent] in plan.toml.",
        ),
        "layout": Shown("Places, along the bench"),
        "sessions": Shown(
            "Burn sessions",
            note=f"Local times, {zone}. Rounds of checks are in schedule.ics and on the log "
            "sheets.",
        ),
        **{name: Shown(CAPTIONS[name]) for name in planned.showing.tables()},
    }

"""Score sheets for the noses: codes and boxes, nothing that tells a candle or its recipe."""

from __future__ import annotations

import jinja2

from candlelab.plan.blank_checks import SESSION
from candlelab.plan.panel import panel_plan
from candlelab.plan.planned import PlannedBatch
from candlelab.text import clip


def scent_sheets_html(planned: PlannedBatch) -> str:
    """One printed sheet for each nose and sitting, as an HTML page."""
    scent = planned.plan.settings.scent
    table, _, checks = panel_plan(planned)
    order = f"Smell in this order. Rest {scent.rest_min:g} min and air the room between two"
    quiet = "do not talk about it until all sheets are in."
    under = (
        f"{order}. Sit {scent.distance_m:g} m away{f', {scent.place}' if scent.place else ''}. "
        f"Score what you smell; {quiet}"
    )
    beside = f"{order} rows. Tick the code that smells stronger. Not sure? Guess one; {quiet}"
    sheets = []
    for (number, nose), own in checks.groupby(["sitting_number", "assessor"], sort=False):
        head = f"{nose}, {SESSION} {number}"
        sheets.append({"head": head, "under": beside, "pairs": own.to_dict("records")})
    keys = ["state", "burn", "sitting_number", "assessor"]
    for (state, burn, number, nose), own in table.groupby(keys, sort=False, dropna=False):
        when = "cold" if state == "cold" else f"burn {burn}"
        head = f"{nose}, {when}, sitting {number}"
        sheets.append({"head": head, "under": under, "rows": own.to_dict("records")})
    loader = jinja2.PackageLoader("candlelab", "pages/templates")
    page = jinja2.Environment(loader=loader, autoescape=True).get_template("scent_sheets.html.j2")
    title = clip(planned.plan.settings.title, 90)
    return page.render(title=title, sheets=sheets, steps=scent.words, top=f"{scent.highest:g}")

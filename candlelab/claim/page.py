"""The page of what can be printed."""

from __future__ import annotations

from candlelab.claim.claims import Claims
from candlelab.pages.page import Page, Shown, inputs_of, titles_of

SHOWN = {
    "declared": Shown(
        "Times, and how many candles reach them",
        "bound bound_h what_it_means declared_h n_inside n_above n_below band_low_h band_high_h",
        note="Printed as: rounded down to whole hours. Less and plus 10 %: RAL-GZ 041, read "
        "second-hand.",
        nothing="No time can be printed: see the decision above.",
    ),
    "lives": Shown(
        "Every candle poured with this wick",
        "candle batch fill_mass_g life_h depth_h life_projected_h life_low_h life_high_h counts "
        "why",
        "Set aside, put out for good or still burning: listed, and not counted.",
    ),
    "conditions": Shown("A label that says otherwise is not covered by these candles"),
    "wick": Shown("The wick"),
    "safety": Shown("Safety of the candidate"),
    "rounds_held": Shown(
        "Each confirmation against its screening",
        nothing="No confirmation and screening of it to hold against each other.",
    ),
    "triggers": Shown("Changes that ask for another test"),
    "cautions": Shown(
        "Topics, and the standard that holds the words",
        note="Not the text of any standard: topics in our own words.",
    ),
}


def claim_page(found: Claims) -> Page:
    """The page of what can be printed: title, answer, tables, notes.

    Parameters
    ----------
    found : Claims
        What `claim_label` gives.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import claim_label, claim_page, demo_folder, read_batch
    >>> claims = claim_label([read_batch(demo_folder("screening"))], "square braid 2")
    >>> claim_page(claims).title
    'What can be printed?'
    """
    batches, asked = found.pooled.batches, found.evidence.asked
    titles = titles_of(batches)
    parameters = {
        "batch_folders": list(batches),
        "candidate": found.candidate,
        "leave_mm": float(asked.leave_mm),
        "batch_sd_pct": float(asked.batch_sd_pct),
    }
    return Page(
        "claims",
        "What can be printed?",
        (found.candidate, titles),
        (),
        found.tables(),
        inputs_of(batches),
        parameters,
        {"notes": list(found.notes), "outcome": found.outcome},
        (found.decision,),
        SHOWN,
        tuple(found.notes),
        display=found.evidence.display,
    )

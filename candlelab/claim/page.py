"""The page of what can be printed."""

from __future__ import annotations

from candlelab.claim.claims import Claims
from candlelab.pages.page import Page, inputs_of


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
    titles = "; ".join(batch.settings.title for batch in batches.values())
    parameters = {
        "batch_folders": list(batches),
        "candidate": found.candidate,
        "leave_mm": float(asked.leave_mm),
        "batch_sd_pct": float(asked.batch_sd_pct),
    }
    return Page(
        "claims",
        "What can be printed?",
        (f"{found.candidate}: {found.outcome}", titles),
        (),
        found.tables(),
        inputs_of(batches),
        parameters,
        {"notes": list(found.notes), "outcome": found.outcome},
        (found.decision,),
    )

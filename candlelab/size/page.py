"""The page of a sizing."""

from __future__ import annotations

from candlelab.pages.page import Page, inputs_of
from candlelab.size.sizing import Sizing


def size_page(found: Sizing) -> Page:
    """The page of a sizing: title, answer, tables, methods.

    Parameters
    ----------
    found : Sizing
        What `size_wicks` gives.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import demo_folder, read_batch, size_page, size_wicks
    >>> size_page(size_wicks([read_batch(demo_folder("screening"))])).title
    'Which size of wick?'
    """
    batches = found.pooled.batches
    return Page(
        "sizing",
        "Which size of wick?",
        ("; ".join(batch.settings.title for batch in batches.values()), found.target_words),
        found.answer,
        found.tables(),
        inputs_of(batches),
        {"batch_folders": list(batches), "metric": found.metric},
        {"notes": list(found.notes), "details": list(found.details), "methods": list(found.method)},
    )

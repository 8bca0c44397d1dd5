"""The page of a comparison."""

from __future__ import annotations

from candlelab.compare.record import Asked, methods, tables
from candlelab.compare.words import under_title
from candlelab.pages.page import Page, inputs_of

TITLES = {
    "wick": "Which wick burns best?",
    "wick_series": "Which wick burns best?",
    "wax": "Which wax burns how?",
    "fragrance_load_pct": "How much fragrance?",
}


def compare_page(asked: Asked) -> Page:
    """The page of a comparison: title, answer, tables, methods.

    Parameters
    ----------
    asked : Asked
        What `compare_batches` gives.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import compare_batches, compare_page, demo_folder, read_batch
    >>> page = compare_page(compare_batches([read_batch(demo_folder("confirmation"))], by="wick"))
    >>> page.title
    'Which wick burns best?'
    """
    batches = asked.pooled.batches
    parameters = {"batch_folders": list(batches), "by": asked.by, "metric": asked.metric}
    more = {
        "by": asked.by,
        "metric": asked.metric,
        "methods": methods(asked),
        "refused": list(asked.refused),
        "claims": list(asked.claims),
    }
    return Page(
        "comparison",
        TITLES[asked.by],
        under_title(asked),
        asked.answer,
        tables(asked),
        inputs_of(batches),
        parameters,
        more,
    )

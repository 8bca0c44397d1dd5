"""The page of a batch's report."""

from __future__ import annotations

from candlelab.pages.page import Page
from candlelab.report.results import BatchResults
from candlelab.report.shown import WORDS, how, shown


def report_page(results: BatchResults) -> Page:
    """The page of a batch's report: title, answer, every table.

    Parameters
    ----------
    results : BatchResults
        What `batch_results` gives.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import batch_results, demo_folder, read_batch, report_page
    >>> page = report_page(batch_results(read_batch(demo_folder("confirmation"))))
    >>> page.kind, "ranking" in page.tables
    ('results', True)
    """
    settings = results.batch.settings
    names = ("title", "question", "stage", "confirms", "studio")
    about = {name: getattr(settings, name) for name in names}
    return Page(
        "results",
        settings.title,
        results.under_title,
        results.luck,
        results.tables(),
        tuple(results.batch.files.to_dict("records")),
        {"batch_folder": results.batch.folder.name},
        {"batch": {**about, **results.counts}},
        results.decisions,
        shown(results),
        how(results),
        WORDS,
        display=settings.display,
    )

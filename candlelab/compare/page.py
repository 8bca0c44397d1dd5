"""The page of a comparison."""

from __future__ import annotations

from dataclasses import replace

from candlelab.compare.record import OUTCOMES, Asked, explained, methods, tables
from candlelab.compare.words import lead, under_title
from candlelab.pages.glossary import GLOSSARY
from candlelab.pages.page import Page, Shown, inputs_of, not_checked
from candlelab.pages.words import HOW_TO_READ

TITLES = {
    "wick": "Which wick burns best?",
    "wick_series": "Which wick burns best?",
    "wax": "How do the waxes burn?",
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
    words, terms = explained(asked)
    return Page(
        "comparison",
        TITLES[asked.by],
        under_title(asked),
        asked.answer,
        tables(asked),
        inputs_of(batches),
        parameters,
        more,
        asked.pooled.judged.decisions,
        shown(asked),
        (*HOW_TO_READ, *methods(asked)),
        tuple(words),
        terms,
        lead=lead(asked),
        display=asked.display,
    )


def shown(asked: Asked) -> dict[str, Shown]:
    """How each table stands on the page."""
    found = tables(asked)
    pairs = "factor within candidate reference estimate conf_low conf_high p_adjusted n_candles"
    means = "wax wick candidate estimate conf_low conf_high n_candles std_error df"
    shares = Shown(
        "", "candidate n_yes n_candles estimate conf_low conf_high",
        "Share of candles with its exact 95 % interval.",
    )  # fmt: skip
    return {
        "gaps": not_checked(asked.pooled.judged.gaps),
        "estimates": Shown(f"Means, {asked.heading}", _known(found, "estimates", means)),
        "differences": Shown(
            f"Differences, {asked.heading}", _known(found, "differences", pairs),
            "Candidate minus reference. Intervals and p allow for looking at all pairs.",
        ),
        "interaction": Shown("Does the difference depend on the wick?"),
        "interaction_differences": Shown(
            "By how much it depends on the wick",
            rows=asked.crossed.interaction_differences if asked.crossed else None,
        ),
        **_alike(asked), **_choice(asked), **_loads(asked),
        **{name: replace(shares, caption=caption) for name, caption in OUTCOMES.items()},
        "time_to_full_pool": Shown("Time to full pool (h), as a bracket between checks"),
        "time_differences": Shown(
            "Is one earlier?", "candidate reference earlier p_value p_adjusted smallest_p",
            "Smallest p: so few candles cannot give a smaller one.", "There is no pair to compare.",
        ),
        "candles": Shown("Every candle on its wick"),
    }  # fmt: skip


def _known(found: dict, name: str, columns: str) -> str:
    """Those of the columns that a table has."""
    return " ".join(one for one in columns.split() if name in found and one in found[name][1])


def _alike(asked: Asked) -> dict[str, Shown]:
    if asked.equivalence is None:
        return {}
    margin, unit = asked.equivalence.margin, GLOSSARY[asked.metric].unit
    caption = f"Alike within {asked.display.written(margin, unit)}? {asked.heading}"
    columns = "candidate reference estimate conf_low conf_high p_adjusted equivalence"
    return {"equivalence": Shown(caption, columns, asked.equivalence.method)}


def _choice(asked: Asked) -> dict[str, Shown]:
    if asked.choice is None:
        return {}
    return {
        "choice": Shown(
            "How well each wick fits your targets",
            note="Only wicks that are safe so far. 1 is a full fit, 0 none.",
            nothing="No wick is safe so far and known in every target.",
        ),
        "satisfaction": Shown("Target by target", nothing=""),
        "drivers": Shown(
            "Which measurement would turn the answer?",
            note="Other targets: no change that is likely would put another wick first.",
            nothing="No single measurement is close enough to change this order.",
            rows=asked.choice.drivers.dropna(),
        ),
        "not_chosen": Shown("Not to be chosen", nothing="Every wick could be chosen."),
    }


def _loads(asked: Asked) -> dict[str, Shown]:
    none = "It takes three loads to see whether the effect levels off."
    return {
        "slope": Shown(f"Change of {asked.heading} for each percent of load"),
        "levels": Shown("The line at the loads tested"),
        "curvature": Shown("Does the effect level off?", nothing=none),
        "ends": Shown("Slope at the lowest and at the highest load", nothing=none),
    }

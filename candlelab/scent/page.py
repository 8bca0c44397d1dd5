"""The page of scent."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from candlelab.pages.glossary import column
from candlelab.pages.page import Page, Shown, inputs_of, not_checked
from candlelab.pages.words import HOW_TO_READ
from candlelab.scent.judged import Scent
from candlelab.scent.words import answer_words, boxes, by_load, method_words, unit_words
from candlelab.text import counted

ROWS = {
    "strength": "a candidate",
    "scent_differences": "a pair",
    "hot_and_cold": "a candidate",
    "noses": "a nose",
    "panel_checks": "a check of the panel",
    "chances": "a pair",
    "pairs_won": "two candidates smelled side by side",
    "pair_strengths": "a candidate smelled in pairs",
    "blank_checks": "a nose",
    "not_counted": "a score",
    "throw_and_burn": "a candle",
    "worth": "a candidate",
}


_EXPLAINED = (
    "std_error", "df", "conf_low", "conf_high", "p_value", "p_adjusted", "use_of_scale", "follows",
    "hears", "apart", "chance", "cost_step", "gain", "fragrance_release_g_per_h",
)  # fmt: skip


def scent_page(scent: Scent) -> Page:
    """The page of scent: title, decision, answer, tables, how it was worked out.

    Parameters
    ----------
    scent : Scent
        What `judge_scent` gives.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import demo_folder, judge_scent, read_batch, scent_page
    >>> page = scent_page(judge_scent(read_batch(demo_folder("loads"))))
    >>> page.title
    'How much fragrance is enough?'
    """
    batch, scores = scent.worked.batch, scent.strength.scores
    under = (
        batch.settings.title,
        f"{counted(len(scores), 'score')} by {counted(scores['assessor'].nunique(), 'nose')}. "
        + unit_words(scent),
    )
    tables = {name: (row, scent.tables[name]) for name, row in ROWS.items()}
    used = {name for _, table in tables.values() for name in table.columns}
    words = [name for name in _EXPLAINED if name in used]
    return Page(
        "scent",
        "How much fragrance is enough?" if by_load(scent) else "Which smells strongest?",
        under,
        answer_words(scent),
        tables,
        inputs_of({batch.folder.resolve().name: batch}),
        {"batch_folder": batch.folder.resolve().name, "margin": float(scent.strength.margin)},
        {"refused": scent.strength.refused, "set_aside": scent.strength.set_aside},
        boxes(scent),
        _shown(scent),
        (*HOW_TO_READ[:2], *method_words(scent)),
        tuple(column(name) for name in words),
        display=batch.settings.display,
    )


def _in_hundredths(table: pd.DataFrame) -> pd.DataFrame:
    """Scores and money as they are read: two decimals; chances stay as they are."""
    return table.round(2).assign(**{p: table[p] for p in table if p.startswith("p_")})


def _shown(scent: Scent) -> dict[str, Shown]:
    """How each table stands on the page."""
    currency = scent.worked.batch.settings.prices.currency
    pairs = "candidate reference estimate conf_low conf_high p_value p_adjusted n_candles"
    shown = {
        "gaps": not_checked(scent.worked.gaps),
        "strength": Shown(
            "Hot throw on the panel's scale",
            "candidate estimate conf_low conf_high n_candles n_assessors n_scores",
            "Candles with fragrance only; those without are a check of the panel.",
            "The scores cannot tell the candidates apart.",
        ),
        "scent_differences": Shown(
            "Is one stronger than another?", pairs, "Candidate minus reference, in steps.",
            "There is no pair to compare.",
        ),
        "hot_and_cold": Shown("Hot and cold throw, plain means of the noses"),
        "noses": Shown("Every nose", nothing="Nobody scored."),
        "panel_checks": Shown("Can the panel be trusted?", nothing="Too few scores to check."),
        "chances": Shown(
            "How often would one be scored higher?", nothing="Too few scores, or none in steps."
        ),
        "pairs_won": Shown(
            "Smelled side by side", nothing="No pair was smelled side by side.",
            note="p: by luck alone, either way. It holds for these candles and noses.",
        ),
        "pair_strengths": Shown(
            "Strengths out of the pairs", nothing="It takes pairs of three candidates.",
            note="Log of the odds beside the first (Bradley and Terry).",
        ),
        "blank_checks": Shown(
            "Blank checks: does a nose smell the difference?",
            note="A candle with fragrance beside one without: which smells stronger?",
            nothing="No nose smelled a candle beside one without fragrance.",
        ),
        "not_counted": Shown(
            "Scores that are listed and not counted", nothing="No nose failed its blank checks."
        ),
        "throw_and_burn": Shown("Every candle: throw, burn rate, oil"),
        "worth": Shown(
            f"What it costs{f' ({currency})' if currency else ''}",
            note="Wax, fragrance, wick, vessel and label, where priced. Your time is not in it.",
            nothing="Write [prices] into batch.toml to see what a candle and a step of scent cost.",
        ),
    }  # fmt: skip
    rows = {name: _in_hundredths(scent.tables[name]) for name in ROWS}
    return {name: replace(one, rows=rows.get(name, one.rows)) for name, one in shown.items()}

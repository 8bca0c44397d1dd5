"""The page of a confirmation: its tables, and how they stand on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import pandas as pd

from candlelab.confirm.confirmation import Confirmation
from candlelab.confirm.rounds import round_facts
from candlelab.confirm.words import answer, decisions, round_notes, trust
from candlelab.pages.page import Page, Shown, inputs_of

SHOWN = {
    "ranges": Shown(
        "Range predicted, and what came",
        "candidate quantity middle range_low range_high n_measured n_outside fresh_mean mean_low "
        "mean_high held",
        "Predicted by the screening for every fresh candle, and for their mean.",
    ),
    "verdicts": Shown("Verdicts", nothing="No candidate was judged."),
    "passes": Shown(
        "Candles that passed, by round",
        note="Both together only where the recipe is the same, judged by the stricter limits.",
        nothing="No candidate was judged.",
    ),
    "new_evidence": Shown(
        "Not what was screened",
        nothing="Nothing: every candidate burned here was screened as it is.",
    ),
    "not_carried": Shown(
        "Screened, and not burned again",
        nothing="Every candidate of the screening was burned again.",
    ),
    "recipes": Shown("Recipe, part by part", nothing="No recipe could be set beside another."),
    "rounds": Shown("What is no part of the recipe"),
    "fresh_candles": Shown(
        "Every fresh candle against its range",
        "candle candidate quantity value after until range_low range_high fell",
        nothing="No fresh candle was measured.",
    ),
    "rest_on": Shown(
        "What the ranges rest on",
        "candidate quantity n_screened candle_sd df spread_from",
        of="ranges",
    ),
    "not_counted": Shown(
        "Not counted, or not measured", nothing="Every candle of both rounds counts."
    ),
}


def tables(result: Confirmation) -> dict[str, tuple[str, pd.DataFrame]]:
    """Each table by its name, with what one row of it is."""
    facts = round_facts(result.screening, result.confirmation)
    not_again = "a candidate of the screening that was not burned again"
    no_life = "a candle that is no fresh evidence, or measured no whole life"
    return {
        "verdicts": ("a candidate", result.verdicts),
        "ranges": ("a candidate and a measurement", result.ranges),
        "fresh_candles": ("a fresh candle and a measurement", result.candles),
        "screened_candles": ("a screening candle and a measurement", result.screened),
        "passes": ("a candidate and a round", result.passes),
        "new_evidence": ("a candidate that is not what was screened", result.new_evidence),
        "recipes": ("a candidate and a part of its recipe", result.recipes),
        "rounds": ("something that may differ between the rounds", facts),
        "not_carried": (not_again, result.not_carried),
        "not_counted": (no_life, result.not_counted),
    }


def confirm_page(result: Confirmation, candidates: Iterable[str] = ()) -> Page:
    """The page of a confirmation: title, answer, tables, how far to trust it.

    Parameters
    ----------
    result : Confirmation
        What `confirm_pick` gives.
    candidates : iterable of str
        Those that were asked for.

    Returns
    -------
    Page
        Shown by its ``head``, ``table`` and ``end`` in a notebook.

    Examples
    --------
    >>> from candlelab import confirm_page, confirm_pick, demo_folder, read_batch
    >>> rounds = [read_batch(demo_folder(name)) for name in ("screening", "confirmation")]
    >>> confirm_page(confirm_pick(*rounds)).title
    'Does the pick stand?'
    """
    rounds = {"screening": result.screening.batch, "confirmation": result.confirmation.batch}
    folders = {f"{name}_folder": b.folder.resolve().name for name, b in rounds.items()}
    known = tuple(trust(result))
    more = {
        "trust": list(known),
        "round_notes": round_notes(result.screening, result.confirmation),
        "false_alarm_of_all": float(np.round(1.0 - result.confidence, 9)),
        "false_alarm_of_one_range": float(result.error),
    }
    return Page(
        "confirmation",
        "Does the pick stand?",
        (rounds["confirmation"].settings.title,),
        answer(result),
        tables(result),
        tuple(row for name, b in rounds.items() for row in inputs_of([b], round=name)),
        folders | {"candidates": list(candidates), "batch_sd_pct": float(result.batch_sd_pct)},
        more,
        decisions(result),
        SHOWN | {"rest_on": replace(SHOWN["rest_on"], rows=result.ranges)},
        known,
        display=result.screening.batch.settings.display,
    )

"""The page of a sizing."""

from __future__ import annotations

import numpy as np

from candlelab.judge.target_words import asked_words
from candlelab.pages.glossary import column
from candlelab.pages.page import Page, Shown, inputs_of, not_checked, titles_of
from candlelab.size.sizing import Sizing
from candlelab.text import listed


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
        (titles_of(batches), found.target_words),
        found.answer,
        found.tables(),
        inputs_of(batches),
        {"batch_folders": list(batches), "metric": found.metric},
        {"notes": list(found.notes), "details": list(found.details), "methods": list(found.method)},
        found.pooled.judged.decisions,
        shown(found),
        (*found.details, *found.method),
        lead=lead(found),
        display=found.display,
    )


def lead(found: Sizing) -> str:
    """The size of each series in one line, the pick first; empty where no series has one."""
    aimed = [line for line in found.series if line.target is not None]
    nearest = {_wick(line): line for line in aimed if line.pick}
    picks = [d.pick for d in found.pooled.judged.decisions if d.pick in nearest]
    told = [f"the pick, {_nearest(nearest.pop(pick), found)}" for pick in picks]
    told += [f"size {line.pick} of {line.series}" for line in nearest.values()]
    without = [line.series for line in aimed if not line.pick]
    said = [f"Nearest to your target: {'; '.join(told)}."] if told else []
    said += [f"No size yet: {'; '.join(without)}."] if without else []
    unasked = [line.points["vessel"].iat[0] for line in found.series if line.target is None]
    if said and unasked:
        missing = (
            f"No {column(found.metric).label} target yet for the {listed(dict.fromkeys(unasked))}"
        )
        said.append(f"{missing}: add one under [targets] in batch.toml.")
    return " ".join(said)


def _nearest(line, found: Sizing) -> str:
    """The size that a series advises, and where its next candle may fall."""
    row = line.sizes.set_index("wick_size").loc[line.pick]
    unit = column(found.metric).unit
    told = f"size {line.pick} of {line.series}"
    if np.isfinite(row["candle_low"]) and np.isfinite(row["candle_high"]):
        ends = asked_words(row["candle_low"], row["candle_high"], unit, found.display)
        return f"{told} (another candle of this pour: {ends})"
    return told


def _wick(line) -> str:
    """The candidate that a series advises."""
    series, comma, rest = line.series.partition(",")
    return f"{series} {line.pick}{comma}{rest}"


def shown(found: Sizing) -> dict[str, Shown]:
    """How each table stands on the page."""
    of_metric = found.display.heading(column(found.metric))
    return {
        "gaps": not_checked(found.pooled.judged.gaps),
        "picks": Shown(
            "Size that meets the target, and the next test",
            "series pick next_test aim against size_at size_low size_high",
            "On target at: where the line reaches the aim, with its 95 % interval; a dash and all "
            "sizes where the candles cannot tell.",
        ),
        "sizes": Shown(
            f"Every size of the series burned, {of_metric}",
            "series wick_size where n_candles mean predicted candle_low candle_high in_target fate "
            "barred",
            "A size that was burned is told by its own candles, one that was not by the line. The "
            "range is that of one fresh candle of the same pour. Mean inside: the range of a "
            "candle is not inside, or is not known. A size further off than one step is not "
            "predicted.",
        ),
        "other_targets": Shown(
            "Other targets of batch.toml",
            nothing="No size is advised, or batch.toml names no other target.",
        ),
        "candles": Shown(f"Candles on the wick they were poured with, {of_metric}"),
    }

"""The page of a sizing."""

from __future__ import annotations

import numpy as np

from candlelab.judge.target_words import asked_words
from candlelab.judge.words import without_vessel
from candlelab.pages.glossary import column
from candlelab.pages.page import Page, Shown, inputs_of, not_checked, titles_of
from candlelab.size.series import SeriesLine
from candlelab.size.sizing import Sizing
from candlelab.text import capital


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
    """The size of each series, a line for each vessel, the pick first; empty without a target."""
    of_vessel: dict[str, list[SeriesLine]] = {}
    for line in found.series:
        of_vessel.setdefault(str(line.points["vessel"].iat[0]), []).append(line)
    if all(line.target is None for line in found.series):
        return ""
    if len(of_vessel) == 1:
        return capital(_of_vessel(found.series, "", found))
    told = {vessel: _of_vessel(lines, vessel, found) for vessel, lines in of_vessel.items()}
    return "\n".join(f"{capital(vessel)}, {said}" for vessel, said in told.items())


def _of_vessel(lines, vessel: str, found: Sizing) -> str:
    """The sizes of a vessel's series; their names are without it where it is said before."""
    aimed = [line for line in lines if line.target is not None]
    if not aimed:
        what = column(found.metric).label
        return f"no {what} target yet: add one under [targets] in batch.toml."
    nearest = {_wick(line): line for line in aimed if line.pick}
    picks = [d.pick for d in found.pooled.judged.decisions if d.pick in nearest]
    told = [f"the pick, {_nearest(nearest.pop(pick), vessel, found)}" for pick in picks]
    told += [f"size {line.pick} of {_series(line, vessel)}" for line in nearest.values()]
    without = [_series(line, vessel) for line in aimed if not line.pick]
    said = [f"nearest to your target: {'; '.join(told)}."] if told else []
    said += [f"no size yet: {'; '.join(without)}."] if without else []
    return " ".join([said[0], *map(capital, said[1:])])


def _series(line: SeriesLine, vessel: str) -> str:
    return without_vessel(line.series, vessel)


def _nearest(line: SeriesLine, vessel: str, found: Sizing) -> str:
    """The size that a series advises, and where its next candle may fall."""
    row = line.sizes.set_index("wick_size").loc[line.pick]
    unit = column(found.metric).unit
    told = f"size {line.pick} of {_series(line, vessel)}"
    if np.isfinite(row["candle_low"]) and np.isfinite(row["candle_high"]):
        ends = asked_words(row["candle_low"], row["candle_high"], unit, found.display)
        return f"{told} (another candle of this pour: {ends})"
    return told


def _wick(line: SeriesLine) -> str:
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
            "A size that was burned goes by its own candles, one that was not by the line. The "
            "range is for one fresh candle of the same pour. Mean inside: on average on target, "
            "single candles may miss. A size further off than one step is not predicted.",
        ),
        "other_targets": Shown(
            "Other targets of batch.toml",
            nothing="No size is advised, or batch.toml names no other target.",
        ),
        "candles": Shown(f"Candles on the wick they were poured with, {of_metric}"),
    }

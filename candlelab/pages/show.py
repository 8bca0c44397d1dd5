"""Shows tables, figures and sentences in a notebook as safe HTML.

Whatever a log holds shows as the text it is.
"""

from __future__ import annotations

import base64
import re
import warnings
from collections.abc import Iterable
from functools import lru_cache
from typing import NamedTuple

import jinja2
import numpy as np
import pandas as pd
from IPython.display import HTML, display
from matplotlib import pyplot as plt

from candlelab.burns.candidates import wick_turn
from candlelab.candle_formulas import failure_rate_upper
from candlelab.judge.safety import FAIL, NOT_CHECKED, PASS
from candlelab.logs.column import Column
from candlelab.pages.figure_style import house_style
from candlelab.pages.glossary import column
from candlelab.pages.long_tables import MOST_ROWS
from candlelab.pages.picture import png_of
from candlelab.pages.values import format_value, units_of
from candlelab.text import amount, is_number, rounded, unbroken
from candlelab.units import SI, Display

_MARKS = {PASS: "✓", FAIL: "✗", NOT_CHECKED: "?"}
_KINDS = {FAIL: "bad", NOT_CHECKED: "open"}
_NAMES = {
    "candidate", "wick", "replaced_by", "wick_before", "wick_after", "lit_at", "poured_on",
    "criterion",
}  # fmt: skip


class _Head(NamedTuple):
    """A column's head, as the template takes it."""

    label: str
    meaning: str = ""
    number: bool = False
    centred: bool = False


class _Cell(NamedTuple):
    """A cell's text, its class, and a mark that stands for the text."""

    text: str
    kind: str = ""
    mark: str = ""


def _ignored(markup) -> str:
    """Markup in which JupyterLab takes no ``$`` for the sign of a formula."""
    return f'<div class="mathjax_ignore">{markup}</div>'


def show_markup(markup) -> None:
    """Markup of ours, as a part of the page."""
    display(HTML(_ignored(markup)))


@lru_cache
def templates():
    """The parts of a page, by their names."""
    loader = jinja2.PackageLoader("candlelab", "pages/templates")
    how = {"autoescape": True, "finalize": unbroken}
    return jinja2.Environment(loader=loader, **how).get_template("parts.html.j2").module


def show_table(
    table: pd.DataFrame,
    caption: str,
    *,
    name: str = "",
    columns: list[str] | None = None,
    note: str = "",
    nothing: str = "Nothing to show.",
    at_most: int = 0,
    beside: str = "results.json",
    cards: bool = False,
    display: Display = SI,
    metric: str = "",
) -> None:
    """A table with the glossary's headings, the first column as row heads.

    Parameters
    ----------
    table : DataFrame
        One row for each row shown.
    caption : str
        What stands over the table.
    name : str
        The table's own name (that of ``results.json``), by which the glossary knows its columns.
    columns : list of str, optional
        Columns to show, in this order; all of them when not given.
    note : str
        What stands under the table.
    nothing : str
        What is said instead of a table without a row.
    at_most : int
        Rows shown, `MOST_ROWS` when 0; the note says how many there are.
    beside : str
        The file beside the page that holds them all.
    cards : bool
        On a phone each row becomes a card.
    display : Display
        The reader's units, as a page has them.
    metric : str
        What the table is about, by its column, where its rows do not say.
    """
    if table.empty:
        show_sentences(nothing)
        return
    at_most = at_most or MOST_ROWS
    if at_most < len(table):
        said = f"The first {at_most:,} of {len(table):,}; {beside} holds them all."
        note, table = f"{said} {note}".strip(), table.head(at_most)
    shown = [column(own, name) for own in (table.columns if columns is None else columns)]
    heads = [_Head(display.heading(c), c.meaning, _is_number(table[c.name])) for c in shown]
    by_column = [
        [
            _cell(
                c.name,
                format_value(c.name, value, display=display, table=name, unit=unit),
                head.number,
            )
            for value, unit in zip(table[c.name].array, units_of(table, c, metric), strict=True)
        ]
        for c, head in zip(shown, heads, strict=True)
    ]
    _display_table(caption, heads, [list(row) for row in zip(*by_column, strict=True)], note, cards)


def _is_number(values: pd.Series) -> bool:
    return pd.api.types.is_numeric_dtype(values.dtype) and not pd.api.types.is_bool_dtype(
        values.dtype
    )


def show_glossary(
    columns: Iterable[str | Column], terms: dict[str, str] | None = None, *, display: Display = SI
) -> None:
    """What columns mean, one row for each heading and meaning, and other terms with their meaning.

    Parameters
    ----------
    columns : iterable of str or Column
        Names, or columns as their tables mean them (`candlelab.pages.glossary.column`).
    terms : dict of str to str, optional
        Words of the page that head no column, and their meanings.
    display : Display
        The reader's units.
    """
    known = (column(one) if isinstance(one, str) else one for one in columns)
    meanings = [*((display.heading(one), one.meaning) for one in known), *(terms or {}).items()]
    rows = [[_Cell(text) for text in row] for row in dict.fromkeys(meanings)]
    _display_table("Words of this page", [_Head("word"), _Head("meaning")], rows, "")


def _cell(name: str, text: str, number: bool) -> _Cell:
    return _Cell(text, "num" if number else _KINDS.get(text) or _breadth(name, text))


def _breadth(name: str, text: str) -> str:
    """How much room a text asks for, so that no column becomes a ribbon."""
    if len(text) <= 24:
        return "name" if name in _NAMES else ""
    return "long" if len(text) > 60 else "some"


def show_grid(criteria: pd.DataFrame, caption: str) -> None:
    """Candle by criterion: a row for each candle and wick, a mark and its word for each criterion.

    Parameters
    ----------
    criteria : DataFrame
        The table ``candle_criteria``: candle, run, wick, excluded, criterion and outcome.
    caption : str
        What stands over the table.
    """
    names = criteria["candle"] + np.where(criteria["excluded"], " (set aside)", "")
    wick = criteria["wick"] + ["" if run == 1 else f", {wick_turn(run)}" for run in criteria["run"]]
    cells = criteria.assign(
        row=names + ", " + wick, text=criteria["outcome"], mark=criteria["outcome"].map(_MARKS)
    )
    note = ", ".join(f"{mark} {outcome}" for outcome, mark in _MARKS.items())
    _show_matrix(cells, "candle and wick", "criterion", caption, note)


def show_criteria(by_candidate: pd.DataFrame, caption: str) -> None:
    """Candidate by criterion: how many fresh candles met it, and the failure rate still possible.

    Parameters
    ----------
    by_candidate : DataFrame
        The table ``candidate_criteria``: candidate, criterion, outcome and the counts of candles.
    caption : str
        What stands over the table.
    """
    t = by_candidate
    bound = 100.0 * failure_rate_upper(t["n_not_met"], t["n_met"] + t["n_not_met"])
    text = [
        f"{_MARKS[o]} {m}/{n}" + (f" ({amount(b, '%', 0)})" if np.isfinite(b) else "")
        for o, m, n, b in zip(t["outcome"], t["n_met"], t["n_candles"], bound, strict=True)
    ]
    cells = t.assign(row=t["candidate"], text=text, mark="")
    note = (
        "Fresh candles that passed it, of those that count; in brackets the failure rate that they "
        "cannot rule out (one-sided, 95 %)."
    )
    _show_matrix(cells, "candidate", "criterion", caption, note)


def show_targets(
    targets: pd.DataFrame, caption: str, *, nothing: str, display: Display = SI
) -> None:
    """Candidate by target: the mean over candles and how many candles are inside.

    Parameters
    ----------
    targets : DataFrame
        The table ``targets``: candidate, target, low, high, mean, n_inside and n_candles.
    caption : str
        What stands over the table.
    nothing : str
        What is said instead of a table without a row.
    display : Display
        The reader's units.
    """
    if targets.empty:
        show_sentences(nothing)
        return
    t, units = targets, [column(name).unit for name in targets["target"]]
    asked = [
        f"{display.heading(column(name))}: {_ends(column(name).unit, low, high, display)}"
        for name, low, high in zip(t["target"], t["low"], t["high"], strict=True)
    ]
    text = [
        f"{rounded(display.value(mean, unit), display.symbol(unit))} ({inside} of {n})"
        for unit, mean, inside, n in zip(
            units, t["mean"], t["n_inside"], t["n_candles"], strict=True
        )
    ]
    cells = t.assign(row=t["candidate"], asked=asked, text=text, mark="", outcome="")
    note = "Mean over fresh candles, and how many of them are inside the target."
    _show_matrix(cells, "candidate", "asked", caption, note)


def _ends(unit: str, low: float, high: float, display: Display) -> str:
    ends = [display.bare(end, unit) for end in (low, high) if np.isfinite(end)]
    if len(ends) == 2:
        return " to ".join(ends)
    return f"at {'least' if np.isfinite(low) else 'most'} {ends[0]}"


def _show_matrix(cells: pd.DataFrame, corner: str, across: str, caption: str, note: str) -> None:
    """A long table with ``row, text, mark, outcome`` as a matrix, in order of appearance."""
    names = list(dict.fromkeys(cells["row"]))
    if len(names) > MOST_ROWS:
        note = f"The first {MOST_ROWS:,} of {len(names):,}; results.json holds them all. {note}"
    columns = list(dict.fromkeys(cells[across]))
    heads = [_Head(corner), *(_Head(name, centred=True) for name in columns)]
    at = {
        (row, c): _Cell(text, f"mid {_KINDS.get(outcome, '')}".strip(), mark)
        for row, c, text, mark, outcome in zip(
            *(cells[name] for name in ("row", across, "text", "mark", "outcome")), strict=True
        )
    }
    rows = [
        [_Cell(row), *(at.get((row, c), _Cell("", "mid")) for c in columns)]
        for row in names[:MOST_ROWS]
    ]
    _display_table(caption, heads, rows, note)


def _display_table(
    caption: str, heads: list[_Head], rows: list[list[_Cell]], note: str, cards: bool = False
) -> None:
    label = "table-" + re.sub(r"[^a-z0-9]+", "-", caption.lower()).strip("-")
    show_markup(templates().table(caption, label, heads, rows, note, cards))


def show_heading(title: str, *lines: str, paper: str = "") -> None:
    """The page's title with lines under it.

    Parameters
    ----------
    title : str
        The title.
    lines : str
        Lines under it; empty ones are left away.
    paper : {'', 'A4', 'Letter'}
        What the page is printed on.
    """
    if paper in ("A4", "Letter"):
        display(HTML(f"<style>@page {{ size: {paper}; }}</style>"))
    show_markup(templates().heading(title, [line for line in lines if line]))


def show_answer(lines: Iterable[str]) -> None:
    """The sentences that open a page.

    Parameters
    ----------
    lines : iterable of str
        The first is the answer, the others explain it.
    """
    show_markup(templates().sentences(lines, "answer"))


def show_sentences(*lines: str) -> None:
    """Paragraphs.

    Parameters
    ----------
    lines : str
        One paragraph each.
    """
    show_markup(templates().sentences(lines, "plain"))


def show_list(lines: Iterable[str], kind: str = "plain") -> None:
    """A list.

    Parameters
    ----------
    lines : iterable of str
        Its points.
    kind : {'plain', 'cautions'}
        How it looks.
    """
    show_markup(templates().bullets(lines, kind))


def show_figure(figure, caption: str = "") -> None:
    """A figure with its words as alternative text.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        Its label (``figure.set_label()``) says what it shows. It is closed.
    caption : str
        What stands over it. On paper two figures with captions stand side by side.

    Raises
    ------
    ValueError
        When the figure has no words.
    """
    words = figure.get_label()
    if not words:
        raise ValueError(
            "the figure has no words: set_label() says what it shows to a reader who cannot see it"
        )
    with house_style(), warnings.catch_warnings():
        # A sign that no installed font has is drawn as a box; words and tables spell the name.
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        picture = png_of(figure)
    plt.close(figure)
    data = {"image/png": base64.b64encode(picture).decode(), "text/plain": words}
    told = {"alt": words} | ({"caption": caption} if caption else {})
    display(data, raw=True, metadata={"image/png": told})


def show_results(record: dict, file: str = "results.json") -> None:
    """The record of a page, kept in its notebook as JSON; the page says how much its file holds.

    Parameters
    ----------
    record : dict
        Plain data with ``tables``, as `candlelab.pages.record` makes it.
    file : str
        Name of the file that the record is written to.
    """
    numbers = sum(
        is_number(value)
        for table in record["tables"].values()
        for row in table["data"]
        for value in row
    )
    words = (
        f"{file} holds {numbers:,} numbers in {len(record['tables'])} tables, each with its unit "
        "and its count of rows."
    )
    html = _ignored(templates().sentences([words], "plain"))
    display({"application/json": record, "text/html": html, "text/plain": words}, raw=True)

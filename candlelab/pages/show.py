"""Shows tables, figures and sentences in a notebook as safe HTML: whatever a log holds shows as
the text it is."""

from __future__ import annotations

import base64
import io
import re
import warnings
from functools import lru_cache

import jinja2
import numpy as np
import pandas as pd
from IPython.display import HTML, display
from matplotlib import pyplot as plt

from candlelab.burns.candidates import wick_turn
from candlelab.formulas import failure_rate_upper
from candlelab.glossary import GLOSSARY, column
from candlelab.judge.safety import MET, NOT_MET, NOT_RECORDED

_DIGITS = {"g/h": 2, "°C": 1, "mm": 1, "%": 1, "h": 1, "W": 0, "g": 1, "min": 0, "s": 0, "days": 0}
_MARKS = {MET: "✓", NOT_MET: "✗", NOT_RECORDED: "?"}
_KINDS = {NOT_MET: "bad", NOT_RECORDED: "open"}
_NAMES = {
    "candidate",
    "wick",
    "replaced_by",
    "wick_before",
    "wick_after",
    "lit_at",
    "poured_on",
    "criterion",
}
_CHANCES = {"p_value", "p_adjusted", "smallest_p"}
_SHARES = {"satisfaction", "probability_best"}
_WEIGHINGS = {
    "wax_g",
    "fragrance_g",
    "weighed_out_g",
    "losses_g",
    "poured_g",
}  # shown to the last step of the scale
_EMPTY = "–"


@lru_cache
def _parts():
    loader = jinja2.PackageLoader("candlelab", "pages/templates")
    return jinja2.Environment(loader=loader, autoescape=True).get_template("parts.html.j2").module


def format_value(name: str, value) -> str:
    """One value of a column as text, rounded for its unit; a dash where there is none."""
    if (
        value is None
        or value is pd.NA
        or value is pd.NaT
        or (isinstance(value, float) and np.isnan(value))
        or value == ""
    ):
        return _EMPTY
    if isinstance(value, bool | np.bool_):
        return "yes" if value else "no"
    if isinstance(value, pd.Timestamp):
        return f"{value:%Y-%m-%d}" if name.endswith("_on") else f"{value:%Y-%m-%d %H:%M}"
    if name == "target":
        return GLOSSARY[value].heading
    if isinstance(value, float | np.floating):
        known = GLOSSARY.get(name)
        if name.endswith("_u_g_per_h"):
            return f"{value:z.3f}"
        if np.isinf(value):
            return "no end"
        if name in _WEIGHINGS:
            return f"{value:z.9g}"
        if name in _CHANCES:
            return "under 0.001" if value < 0.001 else f"{value:.3f}"
        if name == "probability_best" and not 0.005 <= value < 0.995:
            return "under 0.01" if value < 0.5 else "over 0.99"
        if name in _SHARES:
            return f"{value:.2f}"
        if known is None or known.kind == "whole" or not known.unit:
            return f"{value:z.4g}" if known is None or known.kind == "whole" else f"{value:z.3g}"
        return f"{value:z.{_DIGITS.get(known.unit, 1)}f}"
    return str(value)


def show_table(
    table: pd.DataFrame,
    caption: str,
    *,
    name: str = "",
    columns: list[str] | None = None,
    note: str = "",
    nothing: str = "Nothing to show.",
) -> None:
    """A table with the glossary's headings, the first column as row heads.

    ``name`` is the table's own, by which the glossary knows its columns; ``nothing`` is said when
    it has no row.
    """
    if table.empty:
        display(HTML(str(_parts().sentences([nothing], "plain"))))
        return
    names = list(table.columns) if columns is None else columns
    heads = [
        {"label": c.heading, "meaning": c.meaning, "number": _is_number(table[c.name])}
        for c in (column(own, name) for own in names)
    ]
    rows = [
        [_cell(own, value, head["number"]) for own, value, head in zip(names, values, heads)]
        for values in table[names].itertuples(index=False)
    ]
    _display_table(caption, heads, rows, note)


def _is_number(values: pd.Series) -> bool:
    return pd.api.types.is_numeric_dtype(values.dtype) and not pd.api.types.is_bool_dtype(
        values.dtype
    )


def show_glossary(names: list[str], terms: dict[str, str] | None = None) -> None:
    """What columns mean, one row each, and other terms with their meaning."""
    meanings = [(GLOSSARY[name].heading, GLOSSARY[name].meaning) for name in names] + list(
        (terms or {}).items()
    )
    rows = [
        [{"text": word, "kind": ""}, {"text": meaning, "kind": ""}] for word, meaning in meanings
    ]
    _display_table("Words of this page", [{"label": "word"}, {"label": "meaning"}], rows, "")


def _cell(name: str, value, number: bool) -> dict:
    text = format_value(name, value)
    if number:
        return {"text": text, "kind": "num"}
    return {"text": text, "kind": _KINDS.get(text) or _breadth(name, text)}


def _breadth(name: str, text: str) -> str:
    """How much room a text asks for, so that no column becomes a ribbon."""
    if len(text) <= 24:
        return "name" if name in _NAMES else ""
    return "long" if len(text) > 60 else "some"


def show_grid(criteria: pd.DataFrame, caption: str) -> None:
    """Candle by criterion: one row per candle and wick, a mark per criterion, its word for a
    screen reader."""
    names = criteria["candle"] + np.where(criteria["excluded"], " (left out)", "")
    wick = criteria["wick"] + ["" if run == 1 else f", {wick_turn(run)}" for run in criteria["run"]]
    cells = criteria.assign(
        row=names + ", " + wick, text=criteria["outcome"], mark=criteria["outcome"].map(_MARKS)
    )
    _show_matrix(
        cells,
        "candle and wick",
        "criterion",
        caption,
        ", ".join(f"{mark} {outcome}" for outcome, mark in _MARKS.items()),
    )


def show_criteria(by_candidate: pd.DataFrame, caption: str) -> None:
    """Candidate by criterion: how many fresh candles met it, and the failure rate that so many
    cannot rule out."""
    t = by_candidate
    bound = 100.0 * failure_rate_upper(t["n_not_met"], t["n_met"] + t["n_not_met"])
    text = [
        f"{_MARKS[o]} {m}/{n}" + (f" ({b:.0f} %)" if np.isfinite(b) else "")
        for o, m, n, b in zip(t["outcome"], t["n_met"], t["n_candles"], bound)
    ]
    note = (
        "Fresh candles that met it, of those that count; in brackets the failure rate that they "
        "cannot rule out (one-sided, 95 %)."
    )
    _show_matrix(
        t.assign(row=t["candidate"], text=text, mark=""), "candidate", "criterion", caption, note
    )


def show_targets(targets: pd.DataFrame, caption: str, *, nothing: str) -> None:
    """Candidate by target: the mean over candles and how many candles are inside."""
    if targets.empty:
        show_sentences(nothing)
        return
    t = targets
    ends = [
        f"{a:g} to {b:g}" if a <= b else f"at least {a:g}" if np.isfinite(a) else f"at most {b:g}"
        for a, b in zip(t["low"], t["high"])
    ]
    asked = [f"{GLOSSARY[name].heading}: {end}" for name, end in zip(t["target"], ends)]
    text = [
        f"{format_value(name, mean)} ({inside} of {n})"
        for name, mean, inside, n in zip(t["target"], t["mean"], t["n_inside"], t["n_candles"])
    ]
    cells = t.assign(row=t["candidate"], asked=asked, text=text, mark="", outcome="")
    _show_matrix(
        cells,
        "candidate",
        "asked",
        caption,
        "Mean over fresh candles, and how many of them are inside the target.",
    )


def _show_matrix(cells: pd.DataFrame, corner: str, across: str, caption: str, note: str) -> None:
    """A long table with ``row, text, mark, outcome`` as a matrix, rows and columns in order of
    appearance."""
    columns = list(dict.fromkeys(cells[across]))
    heads = [{"label": corner}, *({"label": name, "centred": True} for name in columns)]
    rows = []
    for row, part in cells.groupby("row", sort=False):
        by = {
            cell[0]: cell[1:]
            for cell in part[[across, "text", "mark", "outcome"]].itertuples(index=False)
        }
        marks = [
            {"text": by[c][0], "mark": by[c][1], "kind": f"mid {_KINDS.get(by[c][2], '')}".strip()}
            for c in columns
        ]
        rows.append([{"text": row}, *marks])
    _display_table(caption, heads, rows, note)


def _display_table(caption: str, heads: list[dict], rows: list[list[dict]], note: str) -> None:
    label = "table-" + re.sub(r"[^a-z0-9]+", "-", caption.lower()).strip("-")
    display(HTML(str(_parts().table(caption, label, heads, rows, note))))


def show_heading(title: str, *lines: str) -> None:
    """The page's title with lines under it."""
    display(HTML(str(_parts().heading(title, [line for line in lines if line]))))


def show_answer(lines) -> None:
    """The sentences that open a page."""
    display(HTML(str(_parts().sentences(lines, "answer"))))


def show_sentences(*lines: str) -> None:
    """Plain paragraphs."""
    display(HTML(str(_parts().sentences(lines, "plain"))))


def show_list(lines, kind: str = "plain") -> None:
    """A list; ``kind`` is plain or cautions."""
    display(HTML(str(_parts().bullets(lines, kind))))


def show_figure(figure) -> None:
    """A figure with its words as alternative text; raises ValueError when it has none."""
    words = figure.get_label()
    if not words:
        raise ValueError(
            "the figure has no words: set_label() says what it shows to a reader who cannot see it"
        )
    picture = io.BytesIO()
    with warnings.catch_warnings():
        # a sign that no installed font has is drawn as a box; the words and the tables spell the
        # name
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        figure.savefig(picture, format="png")
    plt.close(figure)
    data = {"image/png": base64.b64encode(picture.getvalue()).decode(), "text/plain": words}
    display(data, raw=True, metadata={"image/png": {"alt": words}})


def show_results(record: dict, file: str = "results.json") -> None:
    """The record of a report, kept in the notebook as JSON; the page says how many numbers its
    file holds."""
    numbers = sum(
        sum(isinstance(v, int | float) and not isinstance(v, bool) for v in row)
        for t in record["tables"].values()
        for row in t["data"]
    )
    words = (
        f"{file} holds {numbers:,} numbers in {len(record['tables'])} tables, each with its unit "
        "and its count of rows."
    )
    display(
        {
            "application/json": record,
            "text/html": str(_parts().sentences([words], "plain")),
            "text/plain": words,
        },
        raw=True,
    )

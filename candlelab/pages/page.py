"""One page: what stands on it, how it is shown, and what ``results.json`` keeps of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field

import pandas as pd

from candlelab.judge.decision import Decision, all_incidents, all_lines
from candlelab.judge.in_short import in_short
from candlelab.logs.batch import Batch
from candlelab.logs.column import Column
from candlelab.pages.long_tables import MOST_ROWS, beside
from candlelab.pages.record import table_record, versions
from candlelab.pages.words import CAUTION
from candlelab.text import listed
from candlelab.units import SI, Display


@dataclass(frozen=True, eq=False)
class Shown:
    """How one table stands on a page.

    Parameters
    ----------
    caption : str
        What stands over it.
    columns : str
        The columns shown, in this order, with spaces between them; all of them when empty.
    note : str
        What stands under it.
    nothing : str
        What is said instead of a table without a row.
    rows : pandas.DataFrame, optional
        The rows shown, where they are not those of the page's table of that name.
    of : str
        The table whose columns these are, where it has another name.
    at_most : int
        Rows shown, `MOST_ROWS` when 0; what is over that is counted.
    cards : bool
        On a phone each row becomes a card.
    """

    caption: str
    columns: str = ""
    note: str = ""
    nothing: str = "Nothing to show."
    rows: pd.DataFrame | None = None
    of: str = ""
    at_most: int = 0
    cards: bool = False


@dataclass(frozen=True, eq=False)
class Page:
    """A page: what a notebook shows of an answer, and what ``results.json`` keeps of it.

    Parameters
    ----------
    kind : str
        Names the format of the record.
    title : str
        The question.
    under : tuple of str
        The lines under the title.
    answer : tuple of str
        The sentences that open the page.
    tables : dict
        Each table by its name, with what one row of it is.
    inputs : tuple of dict
        The files that were read, with their SHA-256.
    parameters : dict
        What was asked.
    more : dict
        What the record keeps beside the tables.
    decisions : tuple of Decision
        A box for each vessel.
    shown : dict of str to Shown
        How each table stands on the page.
    how : tuple of str
        How it was worked out, in sentences.
    words, terms : tuple of str, dict
        Columns whose meaning the page tells; other words, with their meaning.
    lead : str
        A sentence of ``answer`` that stands above the boxes, or one that sums it up.
    display : Display
        The reader's units. The record is in g, mm, degC and h whatever they are.
    """

    kind: str
    title: str
    under: tuple[str, ...]
    answer: tuple[str, ...]
    tables: dict[str, tuple[str, pd.DataFrame]]
    inputs: tuple[dict, ...]
    parameters: dict
    more: dict = field(default_factory=dict)
    decisions: tuple[Decision, ...] = ()
    shown: dict[str, Shown] = field(default_factory=dict)
    how: tuple[str, ...] = ()
    words: tuple[str | Column, ...] = ()
    terms: dict[str, str] = field(default_factory=dict)
    lead: str = ""
    display: Display = SI

    def record(self) -> dict:
        """Plain data: answer, tables with the unit and meaning of each column, inputs, versions.

        Missing numbers are null.
        """
        tables = self.tables.items()
        return {
            "format": f"candlelab {self.kind} 1",
            "title": self.title,
            "decisions": [asdict(decision) for decision in self.decisions],
            "answer": [*all_lines(self.decisions), *self.answer],
            **self.more,
            "tables": {n: table_record(row_is, table, n) for n, (row_is, table) in tables},
            "inputs": list(self.inputs),
            "parameters": self.parameters,
            "versions": versions(),
        }

    def head(self, figure=None) -> None:
        """Show title, what failed, decision for each vessel, the picture of it, answer, a caution.

        Parameters
        ----------
        figure : matplotlib.figure.Figure, optional
            The picture that carries the decision; below the answer where nothing is decided.
        """
        from candlelab.pages.boxes import show_decision, show_in_short, show_incidents, show_lead
        from candlelab.pages.show import show_answer, show_figure, show_heading, show_sentences

        show_heading(self.title, *self.under, paper=self.display.paper)
        show_incidents(all_incidents(self.decisions))
        if self.lead:
            show_lead(self.lead)
        if cards := in_short(self.decisions):
            show_in_short(cards)
        several = len(self.decisions) > 1
        for decision in self.decisions:
            title = f"The decision: {decision.vessel}" if several else "The decision"
            show_decision(title, decision, whose=bool(cards), sure=not cards)
        if figure is not None and self.decisions:
            show_figure(figure)
        if rest := [line for line in self.answer if line != self.lead]:
            show_answer(rest)
        if figure is not None and not self.decisions:
            show_figure(figure)
        show_sentences(CAUTION)

    def table(self, name: str, caption: str = "", **how) -> None:
        """Show one of the tables as the page has it; ``caption`` and ``how`` as in `show_table`."""
        from candlelab.pages.show import show_table

        as_shown = self.shown.get(name, Shown(caption))
        rows = as_shown.rows
        if rows is None:
            rows = self.tables[name][1] if name in self.tables else pd.DataFrame()
        asked = {
            "name": as_shown.of or name,
            "columns": as_shown.columns.split() or None,
            "note": as_shown.note,
            "nothing": as_shown.nothing,
            "at_most": as_shown.at_most,
            "cards": as_shown.cards,
            "display": self.display,
            "metric": self.parameters.get("metric", ""),
        }
        if as_shown.rows is None and len(rows) > MOST_ROWS:
            asked["beside"] = beside(name)
        show_table(rows, caption or as_shown.caption, **asked | how)

    def end(self, file: str = "results.json") -> None:
        """Show how it was worked out, what words mean, the files read; keep the record."""
        from candlelab.pages.show import show_glossary, show_list, show_results, show_table

        if self.how:
            show_list(self.how)
        if self.words or self.terms:
            show_glossary(self.words, self.terms, display=self.display)
        files = pd.DataFrame(self.inputs)
        batches = files.groupby("batch", sort=False) if "batch" in files else [("", files)]
        for batch, own in batches:
            caption = f"Files read from {batch}" if batch else "Files read"
            columns = [name for name in own if name not in ("batch", "round")]
            show_table(own[columns], caption, name="inputs")
        record = self.record()
        show_list(f"{name} {version}" for name, version in record["versions"].items())
        show_results(record, file)


def not_checked(gaps: pd.DataFrame) -> Shown:
    """How the table of what was not checked stands on every page."""
    return Shown(
        "What keeps a candle from a pass",
        nothing="Nothing: every fresh candle that counts has passed or failed.",
        rows=gaps,
        of="gaps",
        at_most=8,
        cards=True,
    )


def titles_of(batches: dict[str, Batch]) -> str:
    """The titles of batches in a row, each in quotes where there are several."""
    titles = [batch.settings.title for batch in batches.values()]
    return titles[0] if len(titles) == 1 else listed(f"“{title}”" for title in titles)


def inputs_of(batches: dict[str, Batch] | Iterable[Batch], **more) -> tuple[dict, ...]:
    """The files of batches, each row with the name of its batch."""
    if not isinstance(batches, dict):
        batches = {batch.folder.resolve().name: batch for batch in batches}
    return tuple(
        {"batch": name, **more, **row}
        for name, batch in batches.items()
        for row in batch.files.to_dict("records")
    )

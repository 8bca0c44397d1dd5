"""One page: what stands on it, how it is shown, and what ``results.json`` keeps of it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass, field

import pandas as pd

from candlelab.judge.decision import Decision
from candlelab.logs.batch import Batch
from candlelab.pages.record import table_record, versions


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

    def record(self) -> dict:
        """Plain data: answer, tables with the unit and meaning of each column, inputs, versions.

        Missing numbers are null.
        """
        tables = self.tables.items()
        return {
            "format": f"candlelab {self.kind} 1",
            "title": self.title,
            "decisions": [asdict(decision) for decision in self.decisions],
            "answer": [line for d in self.decisions for line in d.lines] + list(self.answer),
            **self.more,
            "tables": {n: table_record(row_is, table, n) for n, (row_is, table) in tables},
            "inputs": list(self.inputs),
            "parameters": self.parameters,
            "versions": versions(),
        }

    def head(self) -> None:
        """Show the title, the decision for each vessel, and the answer."""
        from candlelab.pages.show import show_answer, show_decision, show_heading

        show_heading(self.title, *self.under)
        for decision in self.decisions:
            several = f": {decision.vessel}" if len(self.decisions) > 1 else ""
            show_decision(f"The decision{several}", decision)
        if self.answer:
            show_answer(self.answer)

    def table(self, name: str, caption: str, **how) -> None:
        """Show one of the tables, empty if the page has it not; ``how`` as in `show_table`."""
        from candlelab.pages.show import show_table

        table = self.tables[name][1] if name in self.tables else pd.DataFrame()
        show_table(table, caption, name=name, **how)

    def end(self, file: str = "results.json") -> None:
        """Show where the numbers come from, and keep the record in the notebook."""
        from candlelab.pages.show import show_list, show_results, show_table

        files = pd.DataFrame(self.inputs)
        batches = files.groupby("batch", sort=False) if "batch" in files else [("", files)]
        for batch, own in batches:
            caption = f"Files read from {batch}" if batch else "Files read"
            columns = [name for name in own if name not in ("batch", "round")]
            show_table(own[columns], caption, name="inputs")
        record = self.record()
        show_list(f"{name} {version}" for name, version in record["versions"].items())
        show_results(record, file)


def inputs_of(batches: dict[str, Batch] | Iterable[Batch], **more) -> tuple[dict, ...]:
    """The files of batches, each row with the name of its batch."""
    if not isinstance(batches, dict):
        batches = {batch.folder.resolve().name: batch for batch in batches}
    return tuple(
        {"batch": name, **more, **row}
        for name, batch in batches.items()
        for row in batch.files.to_dict("records")
    )

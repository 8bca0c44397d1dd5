"""A page's answer as plain data for ``results.json``: every table with its units, methods, inputs, versions."""

from __future__ import annotations

from candlelab.logs import Batch
from candlelab.results import table_record, versions


def page_record(kind: str, result, batches: list[Batch], parameters: dict, **more) -> dict:
    """Plain data of a result that has ``answer``, ``notes`` and ``tables()``; ``more`` is put beside them."""
    return {
        "format": f"candlelab {kind} 1",
        "answer": list(result.answer),
        "notes": list(result.notes),
        **more,
        "tables": {name: table_record(row_is, table) for name, (row_is, table) in result.tables().items()},
        "inputs": [
            {"batch": batch.folder.resolve().name, **row} for batch in batches for row in batch.files.to_dict("records")
        ],
        "parameters": parameters,
        "versions": versions(),
    }

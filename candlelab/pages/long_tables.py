"""Tables too long for a page: how many rows it shows, and the files that hold them all."""

from __future__ import annotations

from candlelab.logs.writer import guarded

MOST_ROWS = 500  # more make a page that scrolls and prints badly


def beside(name: str) -> str:
    """The file beside a page that holds a table too long for it."""
    return f"table_{name}.csv"


def long_tables(record: dict, at_least: int) -> dict[str, str]:
    """Tables of a record with more rows than that, as the texts of the files beside the page."""
    tables = {name: one for name, one in record["tables"].items() if one["rows"] > at_least}
    if not tables:
        return {}
    import pandas as pd  # slow, and needed for nothing else

    texts = {}
    for name, table in tables.items():
        rows = pd.DataFrame(table["data"], columns=[c["name"] for c in table["columns"]])
        words = [own for own in rows if not pd.api.types.is_numeric_dtype(rows[own].dtype)]
        safe = rows[words].map(lambda v: guarded(v) if isinstance(v, str) else v)
        rows = rows.assign(**{own: safe[own] for own in words})
        texts[beside(name)] = rows.to_csv(index=False, lineterminator="\n")
    return texts

"""Writes the tables of a batch as a studio keeps them: plain, or as a spreadsheet in its units."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass, field
from pathlib import Path

from candlelab.logs.columns import TABLES
from candlelab.text import capital
from candlelab.units import UNITS, convert, split_unit


@dataclass(frozen=True)
class WritingStyle:
    """How a log is written (how one is read: ``cells.Style``).

    ``units`` maps a canonical unit to the one written, ``decimals`` a unit to its decimals.
    """

    units: dict = field(default_factory=dict)
    decimals: dict = field(default_factory=dict)
    delimiter: str = ","
    decimal_mark: str = "."
    encoding: str = "utf-8"
    date_format: str = "%Y-%m-%d"
    spoken_headers: bool = False


PLAIN = WritingStyle()
SPREADSHEET = WritingStyle(
    units={"g": "oz", "mm": "in", "c": "f", "min": "h"},
    decimals={"oz": 3, "in": 2, "f": 1, "h": 2},
    delimiter=";",
    decimal_mark=",",
    encoding="utf-8-sig",
    date_format="%d.%m.%Y",
    spoken_headers=True,
)
_PLAIN_DECIMALS = {"g": 1, "mm": 1, "c": 1, "pct": 1, "m": 1}


def write_batch(tables: dict, batch_toml: str, folder, *, style: WritingStyle = PLAIN) -> None:
    """Write a batch folder: ``batch.toml`` as it is given, and one CSV for each table.

    Parameters
    ----------
    tables : dict of str to pandas.DataFrame
        Tables by their name in the glossary (``"candles"``, ``"burns"``, ...), with columns in
        candlelab's own units. A text that a spreadsheet would run as a formula gets an apostrophe
        in front.
    batch_toml : str
        The text of ``batch.toml``.
    folder : str or pathlib.Path
        Where to write; it is made when it is not there.
    style : WritingStyle, default PLAIN
        How the tables are kept: their units, decimals, delimiter, encoding and dates.

    Examples
    --------
    >>> import tempfile
    >>> from pathlib import Path
    >>> from candlelab import demo_folder, read_batch
    >>> from candlelab.logs.writer import SPREADSHEET, write_batch
    >>> burns = read_batch(demo_folder("screening")).burns.head(1)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_batch({"burns": burns}, "", folder, style=SPREADSHEET)
    ...     text = Path(folder, "burns.csv").read_text(encoding="utf-8-sig")
    >>> text.splitlines()[0].split(";")[:6]
    ['Candle', 'Burn', 'Due at', 'Lit at', 'Out at', 'Mass before [oz]']
    """
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "batch.toml").write_text(batch_toml, encoding="utf-8", newline="\n")
    for name, table in tables.items():
        columns = [c for c in TABLES[name].columns if c.name in table]
        cells = [cells_of(table[c.name], c, style) for c in columns]
        with open(folder / f"{name}.csv", "w", encoding=style.encoding, newline="") as file:
            writer = csv.writer(file, delimiter=style.delimiter, lineterminator="\n")
            writer.writerow([header_of(written_name(c, style), style) for c in columns])
            writer.writerows(zip(*cells, strict=True))


def written_name(column, style):
    """The name of a column with the unit in which a style writes it."""
    stem, unit = split_unit(column.name)
    return f"{stem}_{style.units[unit]}" if unit in style.units else column.name


def header_of(name, style):
    """A column's heading as a style has it."""
    if not style.spoken_headers:
        return name
    stem, unit = split_unit(name)
    words = capital(stem.replace("_", " "))
    return f"{words} [{UNITS[unit].symbol}]" if unit else words


def cells_of(values, column, style):
    """One column as text; an empty cell for a missing value."""
    if column.kind == "number":
        text = _numbers(values.astype(float), column, style)
    elif column.kind in ("time", "date"):
        text = values.dt.strftime(style.date_format + (" %H:%M" if column.kind == "time" else ""))
    elif column.kind == "flag":
        text = ["yes" if v else "no" for v in values.fillna(False)]
    else:  # csv leaves a lone CR without quotes
        text = [guarded(str(v).replace("\r\n", "\n").replace("\r", "\n")) for v in values]
    return ["" if empty else t for t, empty in zip(text, values.isna(), strict=True)]


def _numbers(values, column, style):
    """Numbers as text, in the unit and with the decimals and decimal mark of a style."""
    unit, written = split_unit(column.name)[1], split_unit(written_name(column, style))[1]
    if written != unit:
        values = convert(values, unit, written)
    places = style.decimals.get(written, _PLAIN_DECIMALS.get(written, 0))
    if column.name in ("pool_diameter_mm", "flame_height_mm") and written == "mm":
        places = 0
    return [f"{v:.{places}f}".replace(".", style.decimal_mark) for v in values]


_STARTS = r"[=+\-@\uff1d\uff0b\uff0d\uff20]"
_RISKY = re.compile(rf"(^|[,;\t\r\n])([\s\u00a0]*)(?={_STARTS})")
_BEGINS = re.compile(rf"(^|[,;\t\r\n])[\s\u00a0\"]*{_STARTS}")
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)


def runs_as_formula(text: str) -> bool:
    """Whether a spreadsheet program may take the text, or a part of it, for a formula.

    A plain number is none.
    """
    return not _NUMBER.fullmatch(text.strip()) and _RISKY.search(text) is not None


def may_run_as_formula(table: str) -> bool:
    """Whether any cell of a table's text begins as a formula does; a negative number may, too."""
    return _BEGINS.search(table) is not None


def guarded(text: str) -> str:
    """The text with an apostrophe before whatever would be taken for a formula.

    Every other text as it is.
    """
    return _RISKY.sub(r"\1\2'", text) if runs_as_formula(text) else text

"""Problems in a batch, collected into one table; nothing is raised until all have been found."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

import pandas as pd

from candlelab.text import clip, counted, plural

MUST_FIX = "must fix"
LOOK = "look at this"
PROTOCOL = "off plan"
LEVELS = (MUST_FIX, LOOK, PROTOCOL)

SETTINGS_FILE = "batch.toml"

PROBLEM_COLUMNS = {
    "level": "str", "problem": "str", "file": "str", "line": "Int64", "row": "Int64",
    "cell": "str", "candle": "str", "column": "str", "found": "str", "expected": "str",
    "what_to_do": "str",
}  # fmt: skip
_DTYPES = {name: pd.api.types.pandas_dtype(of) for name, of in PROBLEM_COLUMNS.items()}
_NO_WHY = "implausible value"
_SINGLY = 3  # rows with one and the same problem that are told one by one; more share a line


@dataclass(frozen=True)
class InWorkbook:
    """Where a table stands: the file, its sheet, and the letters of its columns by heading."""

    file: str
    sheet: str
    columns: dict[str, str]

    def cell(self, row: int | None, heading: str) -> str:
        """A place as spreadsheets write it, ``burns!F12``; the sheet alone without a row."""
        plain = re.fullmatch(r"[A-Za-z_]\w*", self.sheet)
        sheet = self.sheet if plain else "'" + self.sheet.replace("'", "''") + "'"
        first = next(iter(self.columns.values()), "A")
        return f"{sheet}!{self.columns.get(heading, first)}{row}" if row else sheet

    def holds(self, cell: str) -> bool:
        """Whether a place is in this sheet."""
        return f"{cell}!".startswith(f"{self.cell(None, '')}!")


@dataclass(frozen=True)
class Fault:
    """Why a cell could not be read."""

    problem: str
    expected: str
    do: str


class ProblemList:
    """Collects problems while a batch is read; ``table()`` gives them sorted.

    ``line`` is the line of the text file on which the row begins, the first
    line being 1; ``row`` is the row number that a spreadsheet shows. They
    differ only after a cell that holds a line break. ``cell`` is the place in
    a workbook. ``sheets`` says which tables stand in one, by the file that
    the table would be; ``headings`` keeps, by table, what headings of the
    studio's own most likely stand for; ``how_read`` are sentences on how
    tables were read, which are no problems.
    """

    def __init__(self) -> None:
        self._rows: list[tuple] = []
        self.sheets: dict[str, InWorkbook] = {}
        self.headings: dict[str, dict[str, tuple[str, str]]] = {}
        self.how_read: list[str] = []

    def add(
        self,
        level,
        problem,
        file,
        *,
        line=None,
        row=None,
        candle="",
        column="",
        found="",
        expected="",
        do="",
    ) -> None:
        """Note one problem. ``do`` tells the user what to do about it."""
        cell = ""
        if there := self.sheets.get(file):
            file, cell = there.file, there.cell(row, column)
        place = clip(file, 255), line, row, clip(cell), clip(candle), clip(column)
        texts = clip(found), clip(self._placed(expected), 1000), clip(self._placed(do), 1000)
        self._rows.append((level, problem, *place, *texts))

    def _placed(self, text: str) -> str:
        """A text that names a table as it stands in this batch: a file, or a sheet."""
        for file, there in self.sheets.items():
            text = text.replace(file, f"the sheet {there.sheet}")
        return text

    def tell_how(self, file: str, said: str) -> None:
        """Note how a table was read."""
        there = self.sheets.get(file)
        where = f"{there.file}, sheet {there.sheet}" if there else file
        self.how_read.append(f"{where}: {said}.")

    def lighten(self, problem: str, files: Collection[str]) -> None:
        """A problem that each of the files has is no fault of theirs: only to be looked at."""
        if {row[2] for row in self._rows if row[1] == problem} >= set(files):
            self._rows = [(LOOK, *r[1:]) if r[1] == problem else r for r in self._rows]

    def noted(self, file: str, column: str, levels=LEVELS) -> bool:
        """Whether a problem was noted for a column of a file, or a setting of its section."""
        here = (r[7] for r in self._of(file) if r[0] in levels)
        return any(f"{name}.".startswith(f"{column}.") for name in here)

    def begun(self, file: str, start: str) -> bool:
        """Whether a problem was noted for a column or setting whose name begins so."""
        return any(r[7].startswith(start) for r in self._of(file))

    def _of(self, file: str) -> list[tuple]:
        """What was noted of a file, or of the sheet that stands for it."""
        there = self.sheets.get(file)
        if there is None:
            return [r for r in self._rows if r[2] == file]
        return [r for r in self._rows if r[2] == there.file and there.holds(r[5])]

    def table(self) -> pd.DataFrame:
        """All problems so far, sorted by level, file, line and column.

        A cell is reported once, with the worst that was said of it, of two as bad the one that
        knows why: what follows from it goes away when it is mended.
        """
        order = {level: n for n, level in enumerate(LEVELS)}
        rows, seen = [], set()
        for row in sorted(self._rows, key=lambda r: (order[r[0]], r[1] == _NO_WHY)):
            cell = row[2], row[3], row[5].partition("!")[0], row[7]
            if row[3] is None or not row[7] or cell not in seen:
                rows.append(row)
            seen.add(cell)
        rows.sort(key=lambda r: (order[r[0]], r[2], r[5].partition("!")[0], r[3] or 0, r[7], r[1]))
        columns = zip(*rows, strict=True) if rows else [()] * len(PROBLEM_COLUMNS)
        typed = zip(_DTYPES.items(), columns, strict=True)
        return pd.DataFrame({name: pd.array(of, dtype=kind) for (name, kind), of in typed})


def problem_lines(problems: pd.DataFrame, at_most: int = 50) -> list[str]:
    """Problems as lines of text for a terminal, the worst first, at most ``at_most`` of them.

    A problem that more than three rows of one column have is one
    line, with the texts of the first row.
    """
    told = _told(problems)
    rest = len(told) - at_most
    return [_line(alike) for alike in told[:at_most]] + ([f"... and {rest} more."] * (rest > 0))


def _told(problems: pd.DataFrame) -> list[list[dict[str, Any]]]:
    """The problems, line by line: alone, or with all that share its line."""
    columns = (problems[name].tolist() for name in PROBLEM_COLUMNS)
    rows = [dict(zip(PROBLEM_COLUMNS, row, strict=True)) for row in zip(*columns, strict=True)]
    alike: dict[tuple, list[dict[str, Any]]] = {}
    for row in rows:
        alike.setdefault(_kind(row), []).append(row)
    lines = [same if len(same := alike[_kind(row)]) > _SINGLY else [row] for row in rows]
    return [line for line, row in zip(lines, rows, strict=True) if line[0] is row]


def _kind(row: dict[str, Any]) -> tuple:
    """Problems that are alike in this are one problem."""
    sheet = row["cell"].partition("!")[0]
    return row["level"], row["file"], sheet, row["column"], row["problem"]


def counts_of(problems: pd.DataFrame) -> str:
    """How many problems of each level, one that many rows have counted once."""
    told = Counter(alike[0]["level"] for alike in _told(problems))
    rows = Counter(problems["level"])
    said = []
    for level in [level for level in LEVELS if level in told]:
        more = f" (in {rows[level]} rows)" if rows[level] > told[level] else ""
        said.append(f"{told[level]} {level}{more}")
    return ", ".join(said) or "No problem found."


def _line(alike: list[dict[str, Any]]) -> str:
    """One line for problems that are alike."""
    first, last = alike[0], alike[-1]
    lines, rows = ([n for one in alike if not pd.isna(n := one[of])] for of in ("line", "row"))
    where = _span("line", lines)
    if first["cell"]:
        where = first["cell"] if len(alike) == 1 else f"{first['cell']} to {last['cell']}"
    elif rows != lines:
        where = f"{_span('row', rows)} in a spreadsheet ({where} of the text)"
    head, what = [first["file"]], first["problem"]
    if len(alike) > 1:
        what += f" in {len(alike)} rows" + (f", {where}" if where else "")
    elif where:
        head.append(where)
    if first["candle"] and len({one["candle"] for one in alike}) == 1:
        head.append(f"candle {first['candle']}")
    if first["column"]:
        kind = "setting" if first["file"].endswith(".toml") else "column"
        head.append(f"{kind} {first['column']}")
    found = f"{'Found' if len(alike) == 1 else 'The first has'} {first['found']}."
    facts = [found] if first["found"] else []
    facts += [f"Expected {first['expected']}."] if first["expected"] else []
    told = [f"{first['level']}: {', '.join(head)}: {what}.", *facts, first["what_to_do"]]
    return " ".join(told).strip()


def _span(word: str, numbers: list[int]) -> str:
    """``line 9``, ``lines 2 to 53``, or nothing."""
    if not numbers:
        return ""
    low, high = min(numbers), max(numbers)
    return f"{word} {low}" if low == high else f"{plural(word)} {low} to {high}"


def to_fix(name: str, problems: pd.DataFrame, before: str, at_most: int) -> str:
    """What must be fixed, as the text of an error: a head with ``before`` what, then the lines."""
    must_fix = problems[problems["level"] == MUST_FIX]
    head = f"{name}: {counted(len(_told(must_fix)), 'problem')} to fix before {before}"
    return "\n".join([head, *problem_lines(must_fix, at_most)])


class BurnLogError(ValueError):
    """A batch cannot be used as it stands.

    Its text names what must be fixed, the first 20 of it.

    Parameters
    ----------
    folder : str
        The folder of the batch.
    problems : pandas.DataFrame
        Everything found, also what only wants a look.

    Attributes
    ----------
    folder : str
    problems : pandas.DataFrame
        One row per problem, as :func:`candlelab.check_batch` gives them.

    Examples
    --------
    >>> from candlelab import BurnLogError, demo_folder, read_batch
    >>> try:
    ...     read_batch(demo_folder("plan"))  # the plan of a batch, not one
    ... except BurnLogError as error:
    ...     print(error.problems["file"].tolist())
    ['batch.toml', 'burns.csv', 'candles.csv', 'checks.csv']
    """

    def __init__(self, folder: str, problems: pd.DataFrame) -> None:
        self.folder, self.problems = folder, problems
        super().__init__(to_fix(folder, problems, "the numbers can be trusted", 20))

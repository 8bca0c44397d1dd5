"""Problems in a batch, collected into one table; nothing is raised until all have been found."""

from __future__ import annotations

import difflib

import pandas as pd

MUST_FIX = "must fix"
LOOK = "look at this"
PROTOCOL = "protocol"
LEVELS = (MUST_FIX, LOOK, PROTOCOL)

PROBLEM_COLUMNS = {
    "level": "str", "problem": "str", "file": "str", "line": "Int64", "row": "Int64", "candle": "str",
    "column": "str", "found": "str", "expected": "str", "what_to_do": "str",
}  # fmt: skip


class ProblemList:
    """Collects problems while a batch is read; ``table()`` gives them sorted.

    ``line`` is the line of the text file on which the row begins, the first line being 1; ``row`` is
    the row number that a spreadsheet shows. They differ only after a cell that holds a line break.
    """

    def __init__(self) -> None:
        self._rows: list[tuple] = []

    def add(self, level, problem, file, *, line=None, row=None, candle="", column="", found="", expected="", do="") -> None:
        """Note one problem. ``do`` tells the user what to do about it."""
        self._rows.append((level, problem, file, line, row, clip(candle), clip(column), clip(found), clip(expected, 1000), clip(do, 1000)))

    def noted(self, file: str, column: str) -> bool:
        """Whether a problem has been noted for a column of a file, or for a setting of a section of batch.toml."""
        return any(r[2] == file and f"{r[6]}.".startswith(f"{column}.") for r in self._rows)

    def table(self) -> pd.DataFrame:
        """All problems so far, sorted by level, file, line and column.

        A cell is reported once, with the worst that was said of it: what follows from it goes away
        when it is mended.
        """
        order = {level: n for n, level in enumerate(LEVELS)}
        rows, seen = [], set()
        for row in sorted(self._rows, key=lambda r: order[r[0]]):
            cell = row[2], row[3], row[6]
            if row[3] is None or not row[6] or cell not in seen:
                rows.append(row)
            seen.add(cell)
        rows.sort(key=lambda r: (order[r[0]], r[2], r[3] or 0, r[6], r[1]))
        return pd.DataFrame(rows, columns=list(PROBLEM_COLUMNS)).astype(PROBLEM_COLUMNS)


def clip(value, width: int = 80) -> str:
    """One line of text for a found value, control characters shown, at most ``width`` characters."""
    text = "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(value))
    return text if len(text) <= width else text[: width - 1] + "…"


def closest(word: str, known) -> str | None:
    """The known word that is written most like ``word``, in any case of letters; None when none is."""
    by_fold = {str(k).casefold(): str(k) for k in known}
    close = difflib.get_close_matches(word.casefold(), list(by_fold), n=1, cutoff=0.6)
    return by_fold[close[0]] if close else None


def suggest(word: str, known, otherwise: str) -> str:
    """``Did you mean ...? Else ...`` for the closest known word; without one what to do ``otherwise``."""
    close = closest(word, known)
    return f"Did you mean {close!r}? Else {otherwise}" if close else otherwise[0].upper() + otherwise[1:]


def problem_lines(problems: pd.DataFrame, at_most: int = 50) -> list[str]:
    """Problems as lines of text for a terminal, the worst first, at most ``at_most`` of them."""
    lines = []
    for p in problems.head(at_most).itertuples():
        place = p.file
        if not pd.isna(p.line):
            place += f", line {p.line}"
            if p.row != p.line:
                place += f" (row {p.row} in a spreadsheet)"
        subject = [f"candle {p.candle}"] if p.candle else []
        subject += [f"column {p.column}"] if p.column else []
        head = f"{p.level}: {place}" + (f", {', '.join(subject)}" if subject else "") + f": {p.problem}."
        facts = [f"Found {p.found}."] if p.found else []
        facts += [f"Expected {p.expected}."] if p.expected else []
        lines.append(" ".join([head, *facts, p.what_to_do]).strip())
    if len(problems) > at_most:
        lines.append(f"... and {len(problems) - at_most} more.")
    return lines


class BurnLogError(ValueError):
    """A batch cannot be used as it stands; ``problems`` is the table of everything found."""

    def __init__(self, folder: str, problems: pd.DataFrame) -> None:
        self.folder, self.problems = folder, problems
        must_fix = problems[problems["level"] == MUST_FIX]
        count = f"{len(must_fix)} problem" + ("" if len(must_fix) == 1 else "s")
        head = f"{folder}: {count} to fix before the numbers can be trusted"
        super().__init__("\n".join([head, *problem_lines(must_fix, 20)]))

"""The text and the plain data of a settings file."""

from __future__ import annotations

import re
import tomllib

from candlelab.logs.csv_rows import line_of_byte
from candlelab.logs.faults import SETTINGS_FAULTS
from candlelab.logs.problems import SETTINGS_FILE, ProblemList


def decode_settings(data: bytes, file: str, problems: ProblemList) -> str | None:
    """Text of a settings file; None, with a problem, when it is not UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line, found = line_of_byte(data, error.start), f"byte {error.object[error.start]:#04x}"
        _tell("wrong encoding", file, line, found, problems)
        return None


def parse_settings(text: str, problems: ProblemList, file: str = SETTINGS_FILE) -> dict | None:
    """The plain data of a settings file; None, with a problem, when it is not written as TOML."""
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # thousands of digits, thousands of brackets
        at = re.search(r"at line (\d+)", str(error))
        line = int(at[1]) if at else len(text.rstrip().splitlines())
        found = text.split("\n")[line - 1].strip() if at else str(error).split(" (at ")[0]
        _tell("line that cannot be read", file, line, found, problems)
        return None


def _tell(problem: str, file: str, line: int, found: str, problems: ProblemList) -> None:
    """Note a fault of a file that cannot be read at all."""
    level, expected, do = SETTINGS_FAULTS[problem]
    texts = {"found": found, "expected": expected, "do": do}
    problems.add(level, problem, file, line=line, row=line, **texts)

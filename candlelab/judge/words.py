"""Words of the decision: candidates, numbers, places and limits, each written in one way."""

from __future__ import annotations

from candlelab.burns.groups import as_rows, rows_by
from candlelab.judge.criteria import AFTERSMOKE, KEEPS_BURNING, Criterion
from candlelab.text import clip, listed, plural
from candlelab.units import SI, Display

SAFE, BURNING, UNCHECKED, RULED_OUT = (
    "safe so far", "still burning", "not fully checked", "ruled out"
)  # fmt: skip
_NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
_MOST_OF_A_NOTE = 160
_MOST_NAMED = 12  # candles in one sentence
MOST_IN_ROW = 20  # candles of which nothing is said but that they burn; tables name all


def named(candidate: str) -> str:
    """A candidate within a sentence: in quotes where its name has a comma."""
    return f"“{candidate}”" if "," in candidate else candidate


def without_vessel(candidate: str, vessel: str) -> str:
    """A candidate's name where its vessel is said beside it."""
    return candidate.replace(f", {vessel}", "", 1) if vessel else candidate


def in_row(names, at_most: int | None = None) -> str:
    """Candidates or candles in a row, all of them or the first."""
    names = [named(name) for name in names]
    return listed(names, at_most or max(len(names), 1))


def number_word(n: int) -> str:
    """A whole number in words where it is small: "three", "12"."""
    return _NUMBERS[n] if n < len(_NUMBERS) else str(n)


def number_of(n: int, what: str) -> str:
    """A number with its noun, in words where it is small: "one candle", "three candles"."""
    return f"{number_word(n)} {what if n == 1 else plural(what)}"


def clock_words(minutes: float) -> str:
    """A time after lighting: "50 min", "2 h", "3 h 10 min"."""
    hours, rest = divmod(round(minutes), 60)
    return " ".join([f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0 or hours == 0))


def note_words(notes) -> str:
    """What was written down, each once, with a space before it; nothing where nothing was."""
    told = "; ".join(dict.fromkeys(note for note in notes if note))
    return f" Note: “{clip(told, _MOST_OF_A_NOTE)}”." if told else ""


def against(value: float, limit: float, unit: str, whose: str, display: Display = SI) -> str:
    """A reading beside its limit, that of a wall in both systems: "14 mm, your limit is 13 mm"."""
    read, most = apart(value, limit, unit, display), display.written(limit, unit)
    if unit == "°C":
        most += f"/{display.elsewhere(limit, unit)}"
    return f"{read}, {whose} is {most}"


def apart(value: float, limit: float, unit: str, display: Display) -> str:
    """A reading with as many decimals as it takes to tell it from its limit."""
    shown, most = display.number(value, unit), display.bare(limit, unit)
    for digits in (2, 3, 6):
        if float(shown) != float(most) or value == limit:
            break
        shown = f"{display.value(value, unit):.{digits}f}"
    short = shown.rstrip("0").rstrip(".") if "." in shown else shown
    return f"{short} {display.symbol(unit)}".strip()


def failed_words(criterion: Criterion, value: float, display: Display = SI) -> str:
    """What happened, as a sentence without its stop."""
    if criterion.criterion == KEEPS_BURNING:
        return f"{criterion.failed} with {value:.0f} % of its wax left"
    if criterion.criterion == AFTERSMOKE:
        over = against(value, criterion.limit, "s on average", criterion.whose)
        return f"{criterion.failed} ({over.removesuffix(' on average')})"
    if criterion.whose:
        over = against(value, criterion.limit, criterion.unit, criterion.whose, display)
        return f"{criterion.failed} ({over})"
    if criterion.unit == "s":
        return f"{criterion.failed} for {value:.0f} s"
    return criterion.failed


def place_words(row) -> str:
    """Where a failure was seen: candle, burn, and how long after lighting; empty for a mean."""
    if not row.candle:
        return ""
    return f"{row.candle}, burn {row.burn}, {clock_words(row.elapsed_min)} after lighting"


def failure_words(failed) -> list[str]:
    """A sentence for each kind of failure: what happened, where first, in what else, set aside."""
    said = []
    for part in _kinds(as_rows(failed)):
        row = part[0]
        others = [c for c in _candles(part) if c != row.candle]
        also = f"; also {listed(others, _MOST_NAMED)}" if others else ""
        where = f": {place_words(row)}{also}" if row.candle else ""
        note = note_words(one.note for one in part if one.candle == row.candle)
        said.append(f"{row.words}{where}.{note}{_aside_words(part)}{_used_words(part)}")
    return said


def _kinds(failed: list) -> list[list]:
    """Failures by their criterion; each mean by itself, as each batch has its own."""
    found: dict[tuple[str, str], list] = {}
    for row in failed:
        found.setdefault((row.criterion, "" if row.candle else row.words), []).append(row)
    return list(found.values())


def _candles(part: list) -> list[str]:
    """The candles of some failures, each once."""
    return [c for c in dict.fromkeys(row.candle for row in part) if c]


def _aside_words(part: list) -> str:
    """That setting aside does not undo a failure."""
    row = next((row for row in part if row.excluded), None)
    if row is None:
        return ""
    reason = f" ({clip(row.exclusion_reason)})" if row.exclusion_reason else ""
    what = row.candle if row.whole else f"burn {row.burn} of {row.candle}"
    return f" You set aside {what}{reason}. That does not undo a safety failure."


def _used_words(part: list) -> str:
    """That only part-used candles failed."""
    candles = _candles(part)
    if not candles or any(row.run == 1 for row in part):
        return ""
    were = "was" if len(candles) == 1 else "were"
    return f" {in_row(candles, MOST_IN_ROW)} {were} part-used on this wick. A failure still counts."


def gap_words(gaps, at_most: int = 3) -> list[str]:
    """Which candles still burn, then a sentence for each one that is not fully checked."""
    gaps = as_rows(gaps)
    open_ = rows_by((gap for gap in gaps if not gap.burning), "candle")
    lost = list(open_)
    burning = [c for c in dict.fromkeys(gap.candle for gap in gaps) if c not in open_]
    told = in_row(burning, MOST_IN_ROW)
    said = [f"{told} {_is(burning)} still burning."] if burning else []
    for candle in lost[:at_most]:
        why = list(dict.fromkeys(gap.why for gap in open_[candle]))
        more = [f"and {len(why) - 3} more"] if len(why) > 3 else []
        said.append(f"{candle} is not fully checked: {'; '.join([*why[:3], *more])}.")
    rest = lost[at_most:]
    either = f"{listed(rest, _MOST_NAMED)} {_is(rest)} not fully checked either."
    return [*said, *([either] if rest else [])]


def _is(names: list[str]) -> str:
    return "is" if len(names) == 1 else "are"


def alike_words(others: list[str], candles=(), *, gap: bool = False) -> list[str]:
    """That something that was ruled out, or has a gap, may be the same wick, by its name, and which
    candles."""
    which = f" ({in_row(candles)})" if len(candles) else ""
    if not others:
        return []
    how, what = ("not fully checked", "gap") if gap else ("ruled out", "failure")
    is_ = ("is" if len(others) == 1 else "are") if gap else _was(others)
    return [
        f"{in_row(others)} {is_} {how}{which}, and the name is a letter off: if they are one wick, "
        f"that {what} counts. Write both alike."
    ]


def alike_step(name: str, others: list[str]) -> str:
    """What to do about a wick and others, ruled out, whose names are a letter off."""
    return (
        f"Write {named(name)} and {in_row(others)} alike in the logs, if they are one wick. If "
        "they are not, give them names that differ by more than a letter."
    )


def _was(names: list[str]) -> str:
    return "was" if len(names) == 1 else "were"

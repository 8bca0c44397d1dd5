"""The rows of tables that the entries of a burn make, in the units of those tables."""

from __future__ import annotations

import re
from datetime import datetime, timedelta, tzinfo

from candlelab.bench.table_form import TableForm, converted
from candlelab.logs.journal import SET_ASIDE, Entry, LoggedBurn, column_of

_SHORT = timedelta(minutes=2)  # a burn that needs its seconds
_PHOTO = "photo"


def burn_row(burn: LoggedBurn, form: TableForm, zone: tzinfo | None) -> dict[str, str]:
    """The row of a burn, by column; cells for what has not happened yet are empty."""
    light, out = burn.light, burn.out
    entries = [light, *([out] if out else []), *([burn.weigh] if burn.weigh else [])]
    row = {"candle": light.candle, "burn": str(light.burn)}
    for entry in entries:
        row |= _readings(entry, form)
    how = {
        "exact": out is not None and out.at - light.at < _SHORT,
        "offset": _needs_offset([light.at, *([out.at] if out else [])], zone),
    }
    row["lit_at"] = form.moment(light.at, zone, **how)
    row["out_at"] = form.moment(out.at, zone, **how) if out else ""
    notes = [_note(entry) for entry in entries] + [_later(entry, light.at) for entry in burn.notes]
    return row | {"note": "; ".join(note for note in notes if note)}


def check_rows(burn: LoggedBurn, form: TableForm) -> dict[str, dict[str, str]]:
    """The row of each check, by the id of its entry."""
    minutes = elapsed_minutes(burn)
    base = {"candle": burn.light.candle, "burn": str(burn.light.burn)}
    return {
        check.id: base
        | _readings(check, form)
        | {
            "elapsed_min": _elapsed(minutes[check.id], form.unit("elapsed_min")),
            "note": _note(check),
        }
        for check in burn.checks
    }


def elapsed_minutes(burn: LoggedBurn) -> dict[str, float]:
    """Minutes since lighting of each check: whole ones, and no two alike."""
    taken: dict[str, float] = {}
    for check in burn.checks:
        exact = (check.at - burn.light.at).total_seconds() / 60
        minutes = float(round(exact))
        while minutes in taken.values():
            minutes = max(round(exact, 1), round(max(taken.values()) + 0.1, 1))
        taken[check.id] = minutes
    return taken


def other_row(entry: Entry, form: TableForm) -> dict[str, str]:
    """The row of a wick change or of something set aside."""
    row = {"candle": entry.candle} | _readings(entry, form) | {"note": _note(entry)}
    number = "burn" if entry.kind == SET_ASIDE else "before_burn"
    return row | {number: str(entry.burn) if entry.burn else ""}


def plain_values(entry: Entry, form: TableForm) -> dict[str, str]:
    """The values of an entry as they were typed, numbers with a decimal point.

    A comma is a decimal mark, but for one that may part thousands in a file with decimal points:
    that one stays, and is told.
    """
    plain = {}
    for name, text in entry.values.items():
        meant, text = column_of(entry.table, name), text.strip()
        number = meant and meant[0].kind in ("number", "whole")
        if number and re.fullmatch(r"[+-]?\d+,\d+", text, re.ASCII):
            thousands = re.fullmatch(r"[+-]?\d{1,3},\d{3}", text, re.ASCII)
            text = text if thousands and not form.comma else text.replace(",", ".")
        plain[name] = text
    return {name: text for name, text in plain.items() if text}


def _readings(entry: Entry, form: TableForm) -> dict[str, str]:
    """The values of an entry by column, in the units of the table."""
    row = {}
    for name, text in entry.values.items():
        if meant := column_of(entry.table, name):
            column, unit = meant
            row[column.name] = converted(text, unit, form.unit(column.name))
    return row


def _note(entry: Entry) -> str:
    """What an entry says in words, with the name of its photo."""
    photo = entry.values.get(_PHOTO, "")
    parts = [entry.values.get("note", ""), f"photo {photo}" if photo else ""]
    return "; ".join(part for part in parts if part)


def _later(entry: Entry, lit: datetime) -> str:
    """A note between checks, with the time since lighting."""
    after = hours_words((entry.at - lit).total_seconds() / 60)
    return f"after {after}: {_note(entry)}"


def hours_words(minutes: float) -> str:
    """A time since lighting, in words: ``3 h 10 min``."""
    hours, rest = divmod(max(0, round(minutes)), 60)
    return " ".join([f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0 or not hours))


def _elapsed(minutes: float, unit: str | None) -> str:
    """Minutes in the unit of the file, to a tenth of a minute at least."""
    if unit == "h":
        hours = minutes / 60
        return f"{hours:.2f}" if abs(round(hours, 2) - hours) < 1e-4 else f"{hours:.3f}"
    return converted(f"{minutes:g}", "min", unit)


def _needs_offset(moments: list[datetime], zone: tzinfo | None) -> bool:
    """Whether the clock changed in between, or shows one of the moments twice."""
    if zone is None:
        return False
    local = [moment.astimezone(zone) for moment in moments]
    if len({one.utcoffset() for one in local}) > 1:
        return True
    return any(one.replace(fold=0).utcoffset() != one.replace(fold=1).utcoffset() for one in local)

"""What each form asks for: the folder's own columns, in its units, in the order of the work."""

from __future__ import annotations

from candlelab.bench.limits import STOP, Limit
from candlelab.bench.reading import Reading
from candlelab.bench.table_form import TableForm
from candlelab.logs.columns import PLANNED, TABLES
from candlelab.logs.journal import CHECK, LIGHT, OUT, SET_ASIDE, WEIGH, WICK_CHANGE
from candlelab.text import capital
from candlelab.units import UNITS, split_unit, unit_symbol

_ASKED_AT_CHECKS = tuple(
    c.name for c in TABLES["checks"].columns if c.name not in PLANNED["checks"]
)
_ASKED = {
    LIGHT: ("burns", ("wick_length_mm", "mass_before_g", "room_c", "note")),
    CHECK: ("checks", _ASKED_AT_CHECKS),
    OUT: ("burns", ("ended_by", "aftersmoke_s", "note")),
    WEIGH: ("burns", ("mass_after_g", "aftersmoke_s", "note")),
    WICK_CHANGE: ("wick_changes", ("wick_series", "wick_size", "reason", "rest_days", "note")),
    SET_ASIDE: ("exclusions", ("reason",)),
}
MASSES = ("mass_before_g", "mass_after_g")
ENDED_BY = {"timer": "Time is up", "self": "It went out by itself", "stopped": "Stopped early"}
_SOOT = {"0": "none", "1": "a wisp", "2": "repeated wisps", "3": "steady black smoke"}
# Without these a danger, or how a burn ended, would stand in the journal alone.
_SAFETY = {"burns": ("ended_by",), "checks": ("soot", "flame_on_vessel", "vessel_damaged")}


def fields_of(reading: Reading) -> dict[str, list[dict]]:
    """The fields of each form, as the page draws them."""
    return {
        kind: [
            _field(reading.form(table), name, reading.limits)
            for name in names
            if name in reading.form(table).found
        ]
        for kind, (table, names) in _ASKED.items()
    }


def _field(form: TableForm, name: str, limits: list[Limit]) -> dict:
    column, unit = form.spec.column(name), form.unit(name)
    field = {
        "name": form.column(name),
        "column": name,
        "header": form.found[name].header,
        "label": capital(column.label),
        "unit": unit_symbol(f"_{unit}") if unit else "",
        "kind": column.kind,
        "hint": capital(column.meaning) + ".",
        "required": column.required,
        "weight": name in MASSES,
    }
    if column.choices:
        words = ENDED_BY if name == "ended_by" else _SOOT
        field["choices"] = [{"value": c, "words": words.get(c, c)} for c in column.choices]
    own = [one for one in limits if one.column == name]
    if own:
        field["limits"] = [
            {"limit": one.limit, "level": one.level, "happened": one.happened, "do": one.do}
            for one in own
        ]
        field["stops"] = any(one.level == STOP for one in own)
        field |= _to_glossary(unit, split_unit(name)[1])
    return field


def _to_glossary(unit: str | None, own: str | None) -> dict[str, float]:
    """Factor and shift that bring a reading to the unit of its limit."""
    if not unit or not own:
        return {"factor": 1.0, "shift": 0.0}
    here, there = UNITS[unit], UNITS[own]
    factor = here.factor / there.factor
    return {"factor": factor, "shift": here.offset * factor - there.offset}


def lacking(reading: Reading) -> list[str]:
    """Sentences on columns that the tables lack and a burn needs."""
    return [
        f"{reading.form(table).spec.file} has no column {name}: what the page asks of it "
        "cannot be kept there. Add the column."
        for table, names in _SAFETY.items()
        for name in names
        if name not in reading.form(table).found
    ]

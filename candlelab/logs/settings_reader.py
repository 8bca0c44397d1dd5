"""Reads ``batch.toml``, and the sections that ``plan.toml`` shares with it, into their records."""

from __future__ import annotations

import dataclasses
import json
import math
import re
import string
from collections import Counter
from datetime import date, datetime
from zoneinfo import ZoneInfo

from candlelab.logs.columns import TARGETS
from candlelab.logs.columns_reader import read_columns
from candlelab.logs.faults import SETTINGS_FAULTS
from candlelab.logs.limits_reader import AT_MOST, PLAUSIBLE, check_length, check_limits, meant_limit
from candlelab.logs.problems import LOOK, MUST_FIX, SETTINGS_FILE, ProblemList
from candlelab.logs.settings import (
    ALL,
    CHOICES,
    NAMED_SECTIONS,
    PLAIN_SECTIONS,
    TOP,
    Settings,
    Target,
    Vessel,
)
from candlelab.logs.toml_text import parse_settings
from candlelab.text import listed, suggest
from candlelab.units import SI, UNITS, Display, convert, normalise_header, split_unit

# Types of a record's fields that are no number with a unit: what is expected, and what to do.
_TYPES = {
    "str": ("text in quotes", "Put the value in quotes."),
    "bool": ("true or false", "Write true or false, without quotes."),
    "int": ("a whole number from 1", "Write a whole number without quotes."),
    "Count": ("a whole number, or 0 for none", "Write a whole number without quotes."),
    "date | None": (
        "a day as in 2026-09-07, without quotes",
        "Write the year first, then month and day, without quotes.",
    ),
    "tuple[str, ...]": (
        'a list of texts as in ["09:00"]',
        "Put each text in quotes, and the list in square brackets.",
    ),
}
_MEASURED = {"grams": "g", "ml": "ml", "mm": "mm"}  # "g" is a format of numbers
_MOST_WHOLE = 2**63  # what a whole number stays below


class _InUnits(string.Formatter):
    """Fills in texts: ``{x:mm}`` with its unit, as the reader writes it."""

    def __init__(self, display: Display) -> None:
        self._display = display

    def format_field(self, value, format_spec: str) -> str:
        if format_spec in _MEASURED:
            return self._display.written(value, _MEASURED[format_spec])
        return super().format_field(value, format_spec)


class Reader:
    """Turns a parsed settings file into records and notes every fault with its line.

    ``file`` is its name in the messages, ``faults`` what is said of each fault. The n-th
    ``[[candidates]]`` is the section ``candidates n``. Faults speak in the units of ``display``.
    """

    display: Display = SI

    def __init__(
        self, text: str, problems: ProblemList, file: str = SETTINGS_FILE, faults=SETTINGS_FAULTS
    ) -> None:
        self._file, self._problems, self._faults = file, problems, faults
        demo = "the demo batch's batch.toml" if file == SETTINGS_FILE else "the demo's plan.toml"
        self.see_example = f"See {demo} for its form."
        self._lines = ["" if line.lstrip().startswith("#") else line for line in text.split("\n")]
        self._sections: list[str] = []
        section, times = "", Counter[str]()
        for line in self._lines:
            head = re.match(r"\s*(\[+)([^\]]*)\]", line)
            if head:
                section = re.sub(r"""["'\s]*\.["'\s]*""", ".", head[2].strip(" \t\"'"))
                times[section] += head[1] == "[["
                section += f" {times[section]}" if head[1] == "[[" else ""
            self._sections.append(section)

    def line_of(self, key: str, section: str = "") -> int | None:
        """Line of a key in its section, else of the section's heading; None when there is none."""
        there = re.compile(rf"""(^|[\s{{,."'])({re.escape(key)})["']?\s*[=.]""")
        named = [n for n, line in enumerate(self._lines) if key and there.search(line)]
        inside = [n for n in named if self._sections[n] == section]
        stem = section.split(".")[0]
        within = [n for n in named if section and self._lines[n].lstrip().startswith(stem)]
        wanted = _name(section, key)
        names = list(enumerate(self._sections))
        heads = [n for n, name in names if name == wanted or name.startswith(wanted + ".")]
        heads += [n for n, name in names if section and name == section]
        return next((n + 1 for n in [*inside, *within, *heads]), None)

    def has(self, key: str, section: str) -> bool:
        """Whether a section names a key."""
        named = re.compile(rf"""\s*["']?{re.escape(key)}["']?\s*=""")
        lines = zip(self._sections, self._lines, strict=True)
        return any(own == section and named.match(line) for own, line in lines)

    def noted(self, key: str, section: str = "") -> bool:
        """Whether a fault was noted at a key, or at one that begins so."""
        return self._problems.begun(self._file, _name(section, key))

    def fault(self, problem: str, key: str, section: str = "", *, found="", **values) -> None:
        """Note a fault at a key, or at a section when the key is empty.

        ``values`` fill in its usual texts, or are ``level``, ``expected`` or ``do`` in their place.
        """
        usual = zip(("level", "expected", "do"), self._faults[problem], strict=True)
        told = {"key": key, **values}
        said = _InUnits(self.display)
        texts = {name: values.get(name) or said.vformat(text, (), told) for name, text in usual}
        place = {"line": self.line_of(key, section), "column": _name(section, key)}
        place["row"] = place["line"]
        self._problems.add(problem=problem, file=self._file, found=found, **place, **texts)

    def unknown(self, problem, key, section, known, otherwise, level=MUST_FIX) -> None:
        """Note a key that a section does not have; one that means limits must be fixed."""
        if section and key in TOP:
            found = f"{key} under [{section}]"
            self.fault("setting in the wrong place", key, section, found=found)
        else:
            meant = "" if section else meant_limit(key)
            texts = {"known": ", ".join(known), "do": meant or suggest(key, known, otherwise)}
            level = MUST_FIX if meant else level
            self.fault(problem, key, section, found=key, level=level, **texts)

    def words(self, data: dict) -> dict:
        """The keys at the top of the file."""
        values: dict = {}
        for key, value in data.items():
            if key not in ALL:
                self.unknown("unknown setting", key, "", ALL, "take it out.", level=LOOK)
            elif isinstance(value, dict) != (key not in TOP):
                expected = "text in quotes" if isinstance(value, dict) else "a section"
                texts = {"expected": expected, "do": self.see_example}
                self.fault("wrong type of value", key, found=value, **texts)
            elif not isinstance(value, dict):
                values |= self._word(key, value)
        if not values.get("title") and not isinstance(data.get("title"), str):
            texts = {"expected": 'title = "..."', "do": "Give the batch a title."}
            self.fault("missing setting", "title", **texts)
        return values

    def _word(self, key: str, value) -> dict:
        if self._chosen(self._typed("str", key, "", value), key) is None:
            return {}
        if key == "time_zone" and value:
            try:
                ZoneInfo(value)
            except (KeyError, ValueError, OSError):
                self.fault("unknown time zone", key, found=value)
                return {}
        return {key: value}

    def section(self, kind: type, data: dict, section: str):
        """One section into its record; None when a required key is missing or wrong."""
        fields = {f.name: f for f in dataclasses.fields(kind)}
        values = {}
        for key, value in data.items():
            name, unit = _field(key, fields)
            if name not in fields:
                self.unknown("unknown setting", key, section, list(fields), "take it out.")
            elif name in values:
                self.fault("two settings for one quantity", key, section, found=key, name=name)
            elif name == "description":
                values[name] = str(value)
            else:
                if (typed := fields[name].type) in _TYPES:
                    read = self._chosen(self._typed(typed, key, section, value), key, section)
                else:
                    above = issubclass(kind, Vessel) or "bought" in name
                    read = self._number(name, unit, key, section, value, above_zero=above)
                values |= {} if read is None else {name: read}
        missing = [
            n for n, f in fields.items() if f.default is dataclasses.MISSING and n not in values
        ]
        given = {split_unit(normalise_header(key))[0] for key in data}
        for name in missing:
            if split_unit(name)[0] not in given:
                texts = {"expected": f"{name} = ...", "do": f"Add {name} to this section."}
                self.fault("missing setting", "", section, **texts)
        return None if missing else kind(**values)

    def _number(
        self, name: str, unit: str | None, key: str, section: str, value, *, above_zero: bool
    ) -> float | None:
        """A number in the field's own unit; None when it is none or cannot be."""
        if not _is_number(value) or not math.isfinite(value):
            self.fault("text where a number belongs", key, section, found=value)
            return None
        if (value < 0 and not name.endswith("_c")) or (value == 0 and above_zero):
            expected = "a positive number"
            self.fault("impossible value", key, section, found=value, expected=expected)
            return None
        own = split_unit(name)[1]
        number = float(convert(value, unit, own) if unit and own else value)
        low, high = PLAUSIBLE.get(name, (-math.inf, math.inf))
        if not low <= number <= high:
            ends = {"name": name, "low": low, "high": high}
            self.fault("implausible value", key, section, found=value, **ends)
        most, why = AT_MOST.get(name, (math.inf, ""))
        if number > most:
            self.fault("too loose", key, section, found=value, name=name, most=most, do=why)
        return number

    def _typed(self, kind: str, key: str, section: str, value):
        """A value that is no number with a unit, or None when it is not of its kind."""
        right = {
            "str": isinstance(value, str),
            "bool": isinstance(value, bool),
            "int": _is_whole(value, 1),
            "Count": _is_whole(value, 0),
            "date | None": isinstance(value, date) and not isinstance(value, datetime),
            "tuple[str, ...]": isinstance(value, list)
            and len(value) > 0
            and all(isinstance(one, str) for one in value),
        }[kind]
        if not right:
            texts = dict(zip(("expected", "do"), _TYPES[kind], strict=True))
            self.fault("wrong type of value", key, section, found=value, **texts)
            return None
        return tuple(value) if isinstance(value, list) else value

    def _chosen(self, value, key: str, section: str = ""):
        """The value, or None when there are choices and it is none of them."""
        choices = CHOICES.get(_name(section, key))
        if value is None or choices is None or value in choices:
            return value
        self.fault(
            "not one of the choices", key, section, found=value, choices=listed(choices, last="or")
        )
        return None

    def targets(self, data: dict, vessels=(), vessel: str = "") -> tuple[Target, ...]:
        """The targets, each as ``quantity = {low = ..., high = ...}``.

        A table under ``[targets]`` (``[targets."tin"]``) has those of the vessel that it names. A
        quantity may be named with another unit of its kind (``burn_rate_oz_per_h``).
        """
        read: list[Target] = []
        named = set()
        section = f"targets.{vessel}" if vessel else "targets"
        for key, value in data.items():
            if not vessel and _is_of_vessel(key, value, vessels):
                if key in vessels:
                    read += self.targets(value, vessels, key)
                else:
                    add = f"add [vessels.{json.dumps(key, ensure_ascii=False)}]."
                    self.unknown("unknown vessel", key, "targets", list(vessels), add)
            elif (quantity := _field(key, TARGETS)[0]) not in TARGETS:
                otherwise = "use one of these quantities."
                self.unknown("unknown target", key, section, TARGETS, otherwise)
            elif quantity in named:
                clash = {"found": key, "name": quantity}
                self.fault("two settings for one quantity", key, section, **clash)
            elif fault := _target_fault(value):
                self.fault(key=key, section=section, found=_written(value), **fault)
            else:
                named.add(quantity)
                read.append(_target(key, value, vessel))
        return tuple(read)


def _is_of_vessel(key: str, value, vessels) -> bool:
    """Whether an entry of ``[targets]`` is a table of targets and not a target."""
    if _field(key, TARGETS)[0] in TARGETS or not isinstance(value, dict):
        return False
    targets = (_field(k, TARGETS)[0] in TARGETS for k in value)
    names_one = any(targets) or any(isinstance(v, dict) for v in value.values())
    return key in vessels or names_one


def _name(section: str, key: str) -> str:
    """A key as it stands in the messages, behind the name of its section."""
    return ".".join(filter(None, (section, key)))


def _field(key: str, fields: dict) -> tuple[str, str | None]:
    """The field that a key means, and the key's unit where it is not the field's own."""
    name = normalise_header(key)
    if name in fields:
        return name, None
    stem, unit = split_unit(name)
    field = next((f for f in fields if split_unit(f)[0] == stem), name)
    own = split_unit(field)[1]
    same_kind = unit and own and UNITS[unit].dimension == UNITS[own].dimension
    return (field, unit) if same_kind else (name, None)


def _is_whole(value, least: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and least <= value < _MOST_WHOLE


def _is_number(value) -> bool:
    """Whether a value is a number that a float can hold."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        return False
    try:
        return not math.isnan(value)
    except OverflowError:
        return False


def _target_fault(value) -> dict[str, str]:
    """What is wrong with a target, as ``Reader.fault`` takes it; nothing when it can be used."""
    ends = value if isinstance(value, dict) else {}
    known = set(ends) <= {"low", "best", "high", "weight"} and {"low", "high"} & set(ends)
    if not known or not all(map(_is_number, ends.values())):
        return {"problem": "target of another form"}
    order = [ends[end] for end in ("low", "best", "high") if end in ends]
    if order != sorted(set(order)):
        return {"problem": "target turned round"}
    if ends.get("weight", 1) <= 0:
        expected = "a weight above 0"
        return {"problem": "impossible value", "expected": expected, "do": "Check the weight."}
    return {}


def _target(key: str, value: dict, vessel: str) -> Target:
    """A target in our own units, whatever unit its key names."""
    quantity, unit = _field(key, TARGETS)
    numbers = {end: float(number) for end, number in value.items()}
    own = split_unit(quantity)[1]
    if unit and own:
        ends = {end: float(convert(v, unit, own)) for end, v in numbers.items() if end != "weight"}
        numbers |= ends
    return Target(quantity, vessel=vessel, **numbers)


def _written(value) -> str:
    """A target as it stands in the file."""
    if not isinstance(value, dict):
        return value
    shown = ((end, json.dumps(v, ensure_ascii=False, default=str)) for end, v in value.items())
    return f"{{{', '.join(f'{end} = {text}' for end, text in shown)}}}"


def read_settings(text: str, problems: ProblemList) -> Settings | None:
    """Settings from the text of ``batch.toml``; None when it cannot be used.

    Faults go to ``problems``.
    """
    data = parse_settings(text, problems)
    if data is None:
        return None
    reader = Reader(text, problems)
    values = read_sections(data, reader, NAMED_SECTIONS)
    if values.get("limits"):
        check_limits(values["limits"], reader)
    if values.get("protocol"):
        check_length(values["protocol"], reader)
    values.setdefault("title", "untitled")
    return Settings(**values)


def read_sections(data: dict, reader: Reader, named: dict[str, type]) -> dict:
    """Every field of Settings that a parsed file has.

    ``named`` says which record a ``[vessels.NAME]`` and the like is.
    """
    values = reader.words(data)
    for name, kind in PLAIN_SECTIONS.items():
        if isinstance(data.get(name), dict):
            values[name] = reader.section(kind, data[name], name)
    if "display" in values:
        values["display"] = Display(**dataclasses.asdict(values["display"]))
    for name, kind in named.items():
        entries = data.get(name)
        values[name] = {}
        for key, entry in entries.items() if isinstance(entries, dict) else ():
            if isinstance(entry, dict):
                values[name][key] = reader.section(kind, entry, f"{name}.{key}")
            elif key in TOP:
                reader.unknown("unknown setting", key, name, (), "")
            else:
                texts = {"expected": f"a section [{name}.NAME]", "do": reader.see_example}
                reader.fault("wrong type of value", key, name, found=entry, **texts)
    if isinstance(data.get("targets"), dict):
        values["targets"] = reader.targets(data["targets"], values["vessels"])
    values["columns"] = read_columns(data.get("columns"), reader)
    if not values["vessels"]:
        expected = "[vessels.NAME] and inner_diameter_mm"
        do = "Name each vessel with its inner diameter."
        reader.fault("missing setting", "vessels", expected=expected, do=do)
    return values

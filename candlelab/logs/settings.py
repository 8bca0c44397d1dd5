"""What ``batch.toml`` says: the batch, its vessels, waxes,
limits, protocol, instruments and targets.

Each section is a frozen record whose fields carry their unit in the name and whose defaults stand
here. A file may use another unit of the same dimension (``inner_diameter_in``).
"""

from __future__ import annotations

import dataclasses
import json
import math
import re
import tomllib
from collections import Counter
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from candlelab.glossary import TARGET_QUANTITIES
from candlelab.logs.problems import LOOK, MUST_FIX, SETTINGS_FILE, ProblemList
from candlelab.text import suggest
from candlelab.units import UNITS, convert, normalise_header, split_unit


@dataclass(frozen=True)
class Vessel:
    """A vessel. ``inner_diameter_mm`` is measured at the height of the wax."""

    inner_diameter_mm: float
    inner_height_mm: float | None = None
    brimful_volume_ml: float | None = None
    description: str = ""


@dataclass(frozen=True)
class Wax:
    """A wax or blend. Heat of combustion defaults to paraffin, 43.8 kJ/g (Hamins et al. 2005)."""

    heat_of_combustion_kj_per_g: float = 43.8
    cure_days: float | None = None
    description: str = ""


@dataclass(frozen=True)
class Limits:
    """The studio's own limits; common practice, no source. An empty one is not judged."""

    wall_caution_c: float = 60.0
    wall_stop_c: float = 65.0
    flame_mm: float | None = None
    pool_depth_mm: float | None = None


@dataclass(frozen=True)
class Protocol:
    """How the burns are meant to be done.

    4 h burns, hourly checks, 20-30 degC, 3 h of rest and a wick of at most 1/4 in: ASTM F2417, read
    second-hand. Tolerances, cure, the pool margin and the two figures of wax left: common practice,
    no source. A candle has ended when its last burn went out by itself with at most
    ``end_wax_left_pct`` left; more than ``hang_up_pct`` then is hang-up.
    """

    burn_h: float = 4.0
    burn_tolerance_min: float = 15.0
    check_every_min: float = 60.0
    check_tolerance_min: float = 15.0
    room_low_c: float = 20.0
    room_high_c: float = 30.0
    rest_h: float = 3.0
    wick_length_max_mm: float = 6.35
    cure_days: float | None = None
    full_pool_margin_mm: float = 3.0
    end_wax_left_pct: float = 25.0
    hang_up_pct: float = 5.0


@dataclass(frozen=True)
class Instruments:
    """Resolution and repeatability of scale and clock, for the uncertainty of the burn rate."""

    scale_resolution_g: float = 0.1
    scale_repeatability_g: float = 0.1
    clock_resolution_min: float = 1.0
    clock_repeatability_min: float = 0.0


@dataclass(frozen=True)
class Target:
    """What the studio wants of one quantity; either end may be open.

    A candle is inside from ``low`` to ``high``. ``best`` is the value that satisfies fully;
    satisfaction falls to nothing at the ends. Without it everything inside satisfies. ``weight``
    says how much the quantity counts beside the others.
    """

    quantity: str
    low: float = -math.inf
    high: float = math.inf
    best: float | None = None
    weight: float = 1.0


@dataclass(frozen=True)
class Settings:
    """One ``batch.toml``, read."""

    title: str
    question: str = ""
    stage: str = "screening"
    confirms: str = ""
    studio: str = ""
    time_zone: str = ""
    slash_dates: str = ""
    load_basis: str = "wax"
    vessels: dict = field(default_factory=dict)
    waxes: dict = field(default_factory=dict)
    limits: Limits = Limits()
    protocol: Protocol = Protocol()
    instruments: Instruments = Instruments()
    targets: tuple = ()


CHOICES = {
    "stage": ("screening", "confirmation"),
    "load_basis": ("wax", "total"),
    "slash_dates": ("day/month/year", "month/day/year"),
}

# Settings that would loosen what a standard asks for: the highest value that is taken, and why.
_AT_MOST = {
    "check_every_min": (
        60.0,
        "Standards ask for an hourly record: write 60; a burn with fewer checks then shows as not "
        "recorded.",
    ),
    "check_tolerance_min": (30.0, "A longer delay would let a missed hourly check pass."),
    "end_wax_left_pct": (
        40.0,
        "A flame that dies with more wax left went out early; that is no end of life.",
    ),
}
# What a value of a studio most likely is; outside of it a digit or a unit
# may have slipped. Common practice, no source.
_PLAUSIBLE = {
    "wall_caution_c": (35.0, 90.0), "wall_stop_c": (35.0, 90.0), "pool_depth_mm": (3.0, 30.0), "flame_mm": (10.0, 76.2),
    "inner_diameter_mm": (20.0, 250.0), "burn_rate_g_per_h": (1.0, 20.0), "heat_of_combustion_kj_per_g": (30.0, 50.0),
}  # fmt: skip
_SECTIONS = {"limits": Limits, "protocol": Protocol, "instruments": Instruments}
_NAMED_SECTIONS = {"vessels": Vessel, "waxes": Wax}
SECTIONS = {f"{name}.NAME": kind for name, kind in _NAMED_SECTIONS.items()} | _SECTIONS
_ALL = [f.name for f in dataclasses.fields(Settings)]
TOP = [name for name in _ALL if name not in (*_SECTIONS, *_NAMED_SECTIONS, "targets")]

# Types of a record's fields that are no number with a unit: what is expected, and what to do.
_TYPES = {
    "str": ("text in quotes", "Put the value in quotes."),
    "int": ("a whole number from 1", "Write a whole number without quotes."),
    "date | None": (
        "a day as in 2026-09-07, without quotes",
        "Write the year first, then month and day, without quotes.",
    ),
    "tuple[str, ...]": (
        'a list of texts as in ["09:00"]',
        "Put each text in quotes, and the list in square brackets.",
    ),
}


class Reader:
    """Turns a parsed settings file into records and notes every fault with its line.

    ``file`` is its name in the messages. The n-th
    ``[[candidates]]`` is the section ``candidates n``.
    """

    def __init__(self, text: str, problems: ProblemList, file: str = SETTINGS_FILE) -> None:
        self._file = file
        self.example = (
            "the demo batch's batch.toml" if file == SETTINGS_FILE else "the demo's plan.toml"
        )
        self._lines = ["" if line.lstrip().startswith("#") else line for line in text.split("\n")]
        self._problems = problems
        self._sections, section, times = [], "", Counter()
        for line in self._lines:
            head = re.match(r"\s*(\[+)([^\]]*)\]", line)
            if head:
                section = re.sub(r"""["'\s]*\.["'\s]*""", ".", head[2].strip(" \t\"'"))
                times[section] += head[1] == "[["
                section += f" {times[section]}" if head[1] == "[[" else ""
            self._sections.append(section)

    def line_of(self, key: str, section: str = "") -> int | None:
        """Line of a key in its section, else of the section's
        heading; None when it cannot be found."""
        there = re.compile(rf"""(^|[\s{{,."'])({re.escape(key)})["']?\s*[=.]""")
        named = [n for n, line in enumerate(self._lines) if key and there.search(line)]
        inside = [n for n in named if self._sections[n] == section]
        within = [
            n
            for n in named
            if section and self._lines[n].lstrip().startswith(section.split(".")[0])
        ]
        wanted = ".".join(filter(None, (section, key)))
        heads = [
            n
            for n, name in enumerate(self._sections)
            if name == wanted or name.startswith(wanted + ".")
        ]
        heads += [n for n, name in enumerate(self._sections) if section and name == section]
        return next((n + 1 for n in [*inside, *within, *heads]), None)

    def has(self, key: str, section: str) -> bool:
        """Whether a section names a key."""
        return any(
            self._sections[n] == section
            and re.match(rf"""\s*["']?{re.escape(key)}["']?\s*=""", line)
            for n, line in enumerate(self._lines)
        )

    def noted(self, key: str, section: str = "") -> bool:
        """Whether a fault was noted at a key, or at one that begins so."""
        return self._problems.begun(self._file, ".".join(filter(None, (section, key))))

    def fault(
        self, problem, key, section="", *, found="", expected="", do="", level=MUST_FIX
    ) -> None:
        """Note a fault at a key, or at a section when the key is empty."""
        line = self.line_of(key, section)
        name = ".".join(filter(None, (section, key)))
        self._problems.add(
            level,
            problem,
            self._file,
            line=line,
            row=line,
            column=name,
            found=found,
            expected=expected,
            do=do,
        )

    def unknown(self, problem, key, section, known, otherwise, level=MUST_FIX) -> None:
        """Note a key that a section does not have: one of the top of the file, or a slip."""
        if section and key in TOP:
            self.fault(
                "setting in the wrong place",
                key,
                section,
                found=f"{key} under [{section}]",
                expected=f"{key} at the top",
                do="Move it above the first [section].",
            )
        else:
            self.fault(
                problem,
                key,
                section,
                found=key,
                expected="one of " + ", ".join(known),
                do=suggest(key, known, otherwise),
                level=level,
            )

    def words(self, data: dict) -> dict:
        """The keys at the top of the file."""
        values = {}
        for key, value in data.items():
            if key not in _ALL:
                self.unknown("unknown setting", key, "", _ALL, "take it out.", level=LOOK)
            elif isinstance(value, dict) != (key not in TOP):
                self.fault(
                    "wrong type of value",
                    key,
                    found=value,
                    do=f"See {self.example} for its form.",
                    expected="a section" if not isinstance(value, dict) else "text in quotes",
                )
            elif not isinstance(value, dict):
                values |= self._word(key, value)
        if not values.get("title") and not isinstance(data.get("title"), str):
            self.fault(
                "missing setting", "title", expected='title = "..."', do="Give the batch a title."
            )
        return values

    def _word(self, key: str, value) -> dict:
        if not isinstance(value, str):
            self.fault(
                "wrong type of value",
                key,
                found=value,
                expected="text in quotes",
                do="Put the value in quotes.",
            )
            return {}
        if key in CHOICES and value not in CHOICES[key]:
            self.fault(
                "not one of the choices",
                key,
                found=value,
                expected=" or ".join(CHOICES[key]),
                do="Use one of these words.",
            )
            return {}
        if key == "time_zone" and value:
            try:
                ZoneInfo(value)
            except (KeyError, ValueError, OSError):
                self.fault(
                    "unknown time zone",
                    key,
                    found=value,
                    expected="a name as in Europe/Lisbon",
                    do="Use the zone's name from the IANA list, a region and a city.",
                )
                return {}
        return {key: value}

    def section(self, kind: type, data: dict, section: str):
        """One section into its record; None when a required key is missing or wrong."""
        fields = {f.name: f for f in dataclasses.fields(kind)}
        by_stem = {split_unit(name)[0]: name for name in fields}
        values = {}
        for key, value in data.items():
            name, unit = normalise_header(key), None
            if name not in fields:
                stem, unit = split_unit(name)
                name = by_stem.get(stem, name)
                own = split_unit(name)[1]
                if (
                    name not in fields
                    or unit is None
                    or UNITS[unit].dimension != UNITS[own].dimension
                ):
                    self.unknown("unknown setting", key, section, list(fields), "take it out.")
                    continue
            if name in values:
                self.fault(
                    "two settings for one quantity",
                    key,
                    section,
                    found=key,
                    expected=f"{name} once",
                    do="Keep one of the two settings.",
                )
            elif name == "description":
                values[name] = str(value)
            elif fields[name].type in _TYPES:
                if (typed := self._typed(fields[name].type, key, section, value)) is not None:
                    values[name] = typed
            elif (
                isinstance(value, bool)
                or not isinstance(value, int | float)
                or not math.isfinite(value)
            ):
                self.fault(
                    "text where a number belongs",
                    key,
                    section,
                    found=value,
                    expected="a number without quotes",
                    do="Write the number only; its unit stands in the name.",
                )
            elif (value < 0 and not name.endswith("_c")) or (
                value == 0 and issubclass(kind, Vessel)
            ):
                self.fault(
                    "impossible value",
                    key,
                    section,
                    found=value,
                    expected="a positive number",
                    do="Check the number.",
                )
            else:
                values[name] = float(convert(value, unit, split_unit(name)[1]) if unit else value)
                most, why = _AT_MOST.get(name, (math.inf, ""))
                low, high = _PLAUSIBLE.get(name, (-math.inf, math.inf))
                if not low <= values[name] <= high:
                    self.fault(
                        "implausible value",
                        key,
                        section,
                        found=value,
                        expected=f"{name} from {low:g} to {high:g}",
                        do="Check the number and its unit; keep it if it is right.",
                        level=LOOK,
                    )
                if values[name] > most:
                    self.fault(
                        "too loose",
                        key,
                        section,
                        found=value,
                        expected=f"{name} at most {most:g}",
                        do=why,
                    )
        missing = [
            n for n, f in fields.items() if f.default is dataclasses.MISSING and n not in values
        ]
        for name in missing:
            if not any(split_unit(normalise_header(key))[0] == split_unit(name)[0] for key in data):
                self.fault(
                    "missing setting",
                    "",
                    section,
                    expected=f"{name} = ...",
                    do=f"Add {name} to this section.",
                )
        return None if missing else kind(**values)

    def _typed(self, kind: str, key: str, section: str, value):
        """A value that is no number with a unit: text, a whole number, a day, a
        list of texts; None when it is something else."""
        right = {
            "str": isinstance(value, str),
            "int": isinstance(value, int) and not isinstance(value, bool) and value >= 1,
            "date | None": isinstance(value, date) and not isinstance(value, datetime),
            "tuple[str, ...]": isinstance(value, list)
            and len(value) > 0
            and all(isinstance(one, str) for one in value),
        }[kind]
        if not right:
            self.fault(
                "wrong type of value",
                key,
                section,
                found=value,
                expected=_TYPES[kind][0],
                do=_TYPES[kind][1],
            )
            return None
        return tuple(value) if isinstance(value, list) else value

    def targets(self, data: dict) -> tuple[Target, ...]:
        """The targets, each as ``quantity = {low = ..., high = ...}``."""
        read = []
        for key, value in data.items():
            if key not in TARGET_QUANTITIES:
                self.unknown(
                    "unknown target",
                    key,
                    "targets",
                    TARGET_QUANTITIES,
                    "use one of these quantities.",
                )
                continue
            ends = value if isinstance(value, dict) else {}
            written = ", ".join(
                f"{end} = {json.dumps(v, ensure_ascii=False, default=str)}"
                for end, v in ends.items()
            )
            written = f"{{{written}}}" if isinstance(value, dict) else value
            numbers = all(
                isinstance(v, int | float) and not isinstance(v, bool) and not math.isnan(v)
                for v in ends.values()
            )
            order = [ends[end] for end in ("low", "best", "high") if end in ends]
            if (
                not {"low", "high"} & set(ends)
                or not set(ends) <= {"low", "best", "high", "weight"}
                or not numbers
            ):
                self.fault(
                    "target of another form",
                    key,
                    "targets",
                    found=written,
                    expected="{low = 5.0, high = 6.5}, or one of the two; best = 5.7 and weight = "
                    "2 may stand beside them",
                    do="Write the ends of the target as numbers.",
                )
            elif order != sorted(set(order)):
                self.fault(
                    "target turned round",
                    key,
                    "targets",
                    found=written,
                    expected="low below best below high",
                    do="Put the ends of the target in order.",
                )
            elif ends.get("weight", 1) <= 0:
                self.fault(
                    "impossible value",
                    key,
                    "targets",
                    found=written,
                    expected="a weight above 0",
                    do="Check the weight.",
                )
            else:
                read.append(Target(key, **{end: float(v) for end, v in ends.items()}))
        return tuple(read)


def parse_settings(text: str, problems: ProblemList, file: str = SETTINGS_FILE) -> dict | None:
    """The plain data of a settings file; None, with a problem, when it is not written as TOML."""
    try:
        return tomllib.loads(text)
    except (
        ValueError,
        RecursionError,
    ) as error:  # a number of thousands of digits, thousands of brackets
        at = re.search(r"at line (\d+)", str(error))
        line = int(at[1]) if at else len(text.rstrip().splitlines())
        said = text.split("\n")[line - 1].strip() if at else str(error).split(" (at ")[0]
        problems.add(
            MUST_FIX,
            "line that cannot be read",
            file,
            line=line,
            row=line,
            found=said,
            expected='lines such as key = "text" or key = 1.5',
            do="Mend the line: text stands in quotes, numbers have a dot and no unit, each name "
            "stands once.",
        )
        return None


def read_settings(text: str, problems: ProblemList) -> Settings | None:
    """Settings from the text of ``batch.toml``; None when it cannot be used.

    Faults go to ``problems``.
    """
    data = parse_settings(text, problems)
    if data is None:
        return None
    values = read_sections(data, Reader(text, problems), _NAMED_SECTIONS)
    values.setdefault("title", "untitled")
    return Settings(**values)


def read_sections(data: dict, reader: Reader, named: dict[str, type]) -> dict:
    """Every field of Settings that a parsed file has; ``named`` says which
    record a ``[vessels.NAME]`` and the like is."""
    values = reader.words(data)
    for name, kind in _SECTIONS.items():
        if isinstance(data.get(name), dict):
            values[name] = reader.section(kind, data[name], name)
    for name, kind in named.items():
        entries = data.get(name) if isinstance(data.get(name), dict) else {}
        records = {}
        for key, entry in entries.items():
            if isinstance(entry, dict):
                records[key] = reader.section(kind, entry, f"{name}.{key}")
            elif key in TOP:
                reader.unknown("unknown setting", key, name, (), "")
            else:
                reader.fault(
                    "wrong type of value",
                    key,
                    name,
                    found=entry,
                    expected=f"a section [{name}.NAME]",
                    do=f"See {reader.example} for its form.",
                )
        values[name] = records
    if isinstance(data.get("targets"), dict):
        values["targets"] = reader.targets(data["targets"])
    if not values["vessels"]:
        reader.fault(
            "missing setting",
            "vessels",
            expected="[vessels.NAME] and inner_diameter_mm",
            do="Name each vessel with its inner diameter.",
        )
    return values

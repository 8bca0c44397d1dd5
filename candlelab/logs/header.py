"""The header of a table: which column is which, in which unit, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from candlelab.logs.column import Column, Table
from candlelab.logs.csv_text import Records
from candlelab.logs.faults import said
from candlelab.logs.headings import guess
from candlelab.logs.problems import LOOK, MUST_FIX, ProblemList
from candlelab.text import closest
from candlelab.units import UNITS, normalise_header, split_unit

NOT_READ = ""  # what a heading stands for whose column is to be left alone


@dataclass(frozen=True)
class Match:
    """A column found in the file: its place, its header as it is spelt there, and its unit."""

    place: int
    header: str
    column: Column
    unit: str | None


class Header:
    """The header of one file, and where its faults are noted.

    ``headings`` has the column for each heading of the studio's own.
    """

    def __init__(
        self,
        spec: Table,
        records: Records,
        problems: ProblemList,
        headings: Mapping[str, str] = MappingProxyType({}),
    ) -> None:
        self.spec, self.records, self._problems = spec, records, problems
        self._headings = {heading_key(heading): name for heading, name in headings.items()}
        self._quantities = {split_unit(c.name)[0]: c for c in spec.columns if split_unit(c.name)[1]}

    def tell(self, problem: str, **values) -> None:
        """Note a fault on the line of the header."""
        line, row = self.records.header_line, self.records.header_row
        said_here = said(problem, **values)
        self._problems.add(file=self.spec.file, line=line, row=row, **said_here)

    def match(self) -> tuple[dict[str, Match], frozenset[str]]:
        """Columns found, and those whose absence another problem already explains.

        Both are empty when it is no header.
        """
        found: dict[str, Match] = {}
        excused: set[str] = set()
        unknown = []
        headers = [header.strip() for header in self.records.header]
        for place, header in enumerate(headers):
            if self._headings.get(heading_key(header)) == NOT_READ:
                continue
            column, unit = self.meaning(header)
            own = split_unit(column.name)[1] if column else None
            if column is None:
                unknown += [header] if normalise_header(header) else []
            elif own and unit and UNITS[unit].dimension != UNITS[own].dimension:
                values = {"dimension": UNITS[own].dimension, "column": column.name}
                self.tell("unit of another kind", header=header, **values)
                excused.add(column.name)
            elif column.name in found:
                values = {"other": found[column.name].header, "label": column.label}
                self.tell("two columns for one quantity", header=header, **values)
            else:
                found[column.name] = Match(place, header, column, unit if own else None)
        if not found and not excused:
            names = ", ".join(c.name for c in self.spec.columns if c.required)
            found_here = " ".join(self.records.header)
            self.tell("header line not recognised", found=found_here, names=names)
            return {}, frozenset()
        for place, header in enumerate(headers):
            if not normalise_header(header) and not self.records.columns[place].blank().all():
                self.tell("column without a name", place=self.records.first_column + place)
        for header in unknown:
            free = {c.name: c for c in self.spec.columns if c.name not in {*found, *excused}}
            excused |= self._tell_unknown(header, free)
        if self._must_name_burns and "burn" not in {*found, *excused}:
            self.tell("exclusions without burns", column="burn", found="no such column")
        return found, frozenset(excused)

    def _tell_guess(self, header: str, meant: str, free: dict[str, Column]) -> set[str]:
        """Note a heading of the studio's own, and the column that it most likely stands for."""
        stem = split_unit(meant)[0]
        column = free.get(meant) or self._quantities[stem]
        own, remark = split_unit(column.name)[1], ""
        if own and not split_unit(normalise_header(header))[1]:
            units = _units_like(own)
            remark = f"the unit that you used: {units}"
            self.tell("unit missing", header=header, column=meant, units=units)
        else:
            level, unread = (MUST_FIX, "") if column.required else (LOOK, " It was not read.")
            texts = {"header": header, "meant": meant, "table": self.spec.name}
            self.tell("heading of your own", level=level, unread=unread, **texts)
        self._problems.headings.setdefault(self.spec.name, {})[header] = meant, remark
        return {column.name}

    @property
    def _must_name_burns(self) -> bool:
        """Whether rows without the column would set whole candles aside, safety and all."""
        return self.spec.name == "exclusions" and len(self.records.lines) > 0

    def meaning(self, header: str) -> tuple[Column | None, str | None]:
        """The column that a header names, itself or in another unit, and the unit."""
        name = self._headings.get(heading_key(header)) or normalise_header(header)
        stem, unit = split_unit(name)
        by_name = {c.name: c for c in self.spec.columns}
        return by_name.get(name) or (self._quantities.get(stem) if unit else None), unit

    def _tell_unknown(self, header: str, free: dict[str, Column]) -> set[str]:
        """Note a header that names no column; the ``free`` column that was meant, if any."""
        name = normalise_header(header)
        for stem in sorted(self._quantities, key=len, reverse=True):
            column = self._quantities[stem]
            if column.name in free and stem in (name, name.rpartition("_")[0]):
                problem = "unit missing" if name == stem else "unknown unit"
                units = _units_like(split_unit(column.name)[1] or "")
                self.tell(problem, header=header, column=column.name, units=units)
                return {column.name}
        if meant := guess(name, self.spec.name, free):
            return self._tell_guess(header, meant, free)
        stems = {split_unit(n)[0]: n for n in free if split_unit(n)[1]}
        close = closest(name, free) or stems.get(closest(split_unit(name)[0], stems) or "")
        if close is None:
            self.tell("column not known", header=header)
            return set()
        if close == "burn" and self._must_name_burns:
            self.tell("exclusions without burns", column=header, found=header)
            return {close}
        (stem, own), unit = split_unit(close), split_unit(name)[1]
        in_its_unit = own and unit and UNITS[unit].dimension == UNITS[own].dimension
        needed = free[close].required
        self.tell(
            "misspelt column",
            header=header,
            meant=f"{stem}_{unit}" if in_its_unit else close,
            level=MUST_FIX if needed else LOOK,
            unread="" if needed else " It was not read.",
        )
        return {close}


def heading_key(header: str) -> str:
    """A heading as it is looked up: blanks, line ends and case of letters do not count."""
    return " ".join(header.split()).casefold()


def _units_like(unit: str) -> str:
    """The endings of columns of the same kind of quantity."""
    same = [name for name, spec in UNITS.items() if spec.dimension == UNITS[unit].dimension]
    return ", ".join(f"_{name}" for name in same)

"""Who made a pack, as far as it says: this candlelab, an earlier one that is known here, or another
one; and with which packages."""

from __future__ import annotations

import re
from dataclasses import dataclass

from candlelab.pages.record import versions as versions_here
from candlelab.share import contents
from candlelab.share.contents import PackedBatch
from candlelab.share.earlier import EARLIER, Earlier, earlier_version
from candlelab.share.environment import (
    candlelab_version,
    code_digest,
    environment_record,
    installed,
    not_pinned,
    pinned_hashes,
    pinned_versions,
    requirements_text,
)
from candlelab.share.read import MOST_LISTED, NOTE, Findings, json_of
from candlelab.text import clip, counted, listed

_WORD = re.compile(r"[\w.+!-]{1,64}", re.ASCII)


@dataclass(frozen=True)
class Origin:
    """What a pack says of the candlelab that made it.

    ``as_it_was`` has the batches whose reports were there before they were packed.
    """

    version: str
    code: str | None
    as_it_was: frozenset[str]

    @property
    def here(self) -> bool:
        """Whether it is this version with this code."""
        return (self.version, self.code) == (candlelab_version(), code_digest())

    @property
    def earlier(self) -> Earlier | None:
        """The earlier version that made the pack, where it is known."""
        return earlier_version(self.version, self.code)

    def earlier_report(self, packed: PackedBatch) -> Earlier | None:
        """The earlier version that made the report of a batch, where it is known."""
        if self.here and packed.name in self.as_it_was:
            return next((e for e in EARLIER if e.version == packed.version), None)
        return earlier_version(packed.version, self.code)


def drawn_here(packed: PackedBatch) -> bool:
    """Whether a report names the version of matplotlib that is here."""
    return packed.record["versions"].get("matplotlib") == versions_here().get("matplotlib")


def check_origin(
    files: dict[str, bytes], batches: list[PackedBatch], parameters: dict, found: Findings
) -> Origin:
    """What the pack says of its making; what differs from here is noted, what no pack says told."""
    before = len(found.rows)
    for packed in batches:
        _check_versions_of_report(packed, found)
    requirements = files[contents.REQUIREMENTS]
    for line in not_pinned(requirements)[:MOST_LISTED]:
        found.problem(
            "versions",
            contents.REQUIREMENTS,
            f"“{clip(line)}” is not a package at an exact version. Do not install from this list.",
        )
    environment = _environment(files, found)
    as_it_was = {e["name"] for e in parameters["batches"] if e["report"] == contents.AS_IT_WAS}
    origin = Origin(
        str(environment.get("candlelab")),
        environment.get("candlelab_code_sha256"),
        frozenset(as_it_was),
    )
    _note_other_code(origin, found)
    _check_packages(environment.get("packages", {}), found)
    if not found.fails("versions") and not any(row[0] == NOTE for row in found.rows[before:]):
        packages = counted(len(environment["packages"]), "package")
        words = f"candlelab {origin.version} and {packages}, the same here."
        found.fine("versions", "candlelab", words)
    return origin


def _environment(files: dict[str, bytes], found: Findings) -> dict:
    """What ``environment.json`` says, where it is what candlelab writes beside that list."""
    record = json_of(files[contents.ENVIRONMENT])
    text = files[contents.REQUIREMENTS].decode("utf-8", "replace")
    pinned, hashes = pinned_versions(text), pinned_hashes(text)
    where = contents.ENVIRONMENT
    if not isinstance(record, dict) or record.get("packages") != pinned:
        words = f"It does not name the packages of {contents.REQUIREMENTS}."
        found.problem("versions", where, words)
        return {"packages": {}}
    known = environment_record({}).keys()
    others = {k: v for k, v in record.items() if k != "packages"}
    if record.keys() != known or not all(map(_is_word, others.values())):
        found.problem("versions", where, "It says other things than candlelab writes there.")
    python = str(record.get("python"))
    written = requirements_text(pinned, hashes, str(record.get("candlelab")), python=python)
    if text != written:
        words = "It is not as candlelab writes the list of these packages."
        found.problem("versions", contents.REQUIREMENTS, words)
    return record


def _is_word(value) -> bool:
    return isinstance(value, str) and _WORD.fullmatch(value) is not None


def _note_other_code(origin: Origin, found: Findings) -> None:
    own = candlelab_version()
    if origin.earlier:
        words = f"Made with candlelab {origin.version}. {origin.earlier.said}"
        found.note("versions", "candlelab", words)
    elif origin.version == own and origin.code != code_digest():
        found.note(
            "versions",
            "candlelab",
            f"Another code under the same version {own}: one of the two was changed after its "
            "release.",
        )


def _check_versions_of_report(packed: PackedBatch, found: Findings) -> None:
    own, then, now = candlelab_version(), packed.record["versions"], versions_here()
    if packed.version != own:
        found.note(
            "versions",
            packed.name,
            f"Another version: reported with candlelab {clip(packed.version, 40)}, checked with "
            f"{own}.",
        )
    if strange := [f"{k} {v}" for k, v in then.items() if k not in now or not _is_word(v)]:
        words = f"No version that candlelab writes: {clip(listed(strange), 200)}."
        found.problem("versions", packed.name, words)
    changed = [
        f"{name} {then.get(name, 'none')} ({now.get(name, 'none')} here)"
        for name in then | now
        if then.get(name) != now.get(name) and name != "candlelab"
    ]
    if changed:
        words = f"Reported with other versions: {listed(changed, MOST_LISTED)}."
        found.note("versions", packed.name, words)


def _check_packages(pinned: dict[str, str], found: Findings) -> None:
    here = installed()
    if strange := [name for name in pinned if name not in here]:
        words = f"Packages that candlelab does not need here: {listed(strange, MOST_LISTED)}."
        found.note("versions", contents.REQUIREMENTS, words)
    other = [
        f"{name} {version} ({here[name]} here)"
        for name, version in pinned.items()
        if here.get(name, version) != version
    ]
    if other:
        words = f"Other versions: {listed(other, MOST_LISTED)}."
        found.note("versions", contents.REQUIREMENTS, words)

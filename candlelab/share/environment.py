"""The packages behind a report: name and exact version of each, as pip takes them. No host, no
path, no user.

What is installed does not know the hash of the file that it was installed from, and asking would
take the network. Hashes are therefore taken from a list that the user gives, and only when it has
one for every package at the version that is installed; else the list holds exact versions without
hashes.
"""

from __future__ import annotations

import hashlib
import platform
import re
from functools import cache
from importlib import metadata
from pathlib import Path

from candlelab.text import listed

_ROOTS = (
    "click", "ipykernel", "ipython", "jinja2", "jupyterlab", "matplotlib", "nbconvert", "numpy",
    "pandas", "papermill", "rocrate",
    "scipy", "seaborn", "statsmodels",
)  # fmt: skip
_HASH = re.compile(r"--hash=sha256:([0-9a-f]{64})")
_PINNED = re.compile(r"([A-Za-z0-9][A-Za-z0-9._-]*)==([A-Za-z0-9][A-Za-z0-9.!+_-]*)")


class WrongList(ValueError):
    """The list of hashes given does not fit what is installed."""


def installed() -> dict[str, str]:
    """Name and version of every package that candlelab needs here, needs of needs included, in
    order of name.

    candlelab itself is not among them. Nothing is imported and nothing is asked for over the
    network.
    """
    from packaging.requirements import Requirement

    try:
        waiting = list(metadata.requires("candlelab") or [])
    except metadata.PackageNotFoundError:
        waiting = list(_ROOTS)
    found: dict[str, str] = {}
    asked = set()
    while waiting:
        need = Requirement(waiting.pop())
        for extra in need.extras or {""}:
            key = canonical(need.name), extra
            if key in asked or (need.marker and not need.marker.evaluate({"extra": ""})):
                continue
            asked.add(key)
            try:
                distribution = metadata.distribution(need.name)
            except metadata.PackageNotFoundError:
                continue
            found[key[0]] = distribution.version
            for text in distribution.requires or []:
                inner = Requirement(text)
                if inner.marker is None or inner.marker.evaluate({"extra": extra}):
                    inner.marker = None
                    waiting.append(str(inner))
    return dict(sorted(found.items()))


def canonical(name: str) -> str:
    """A package's name as the registries compare it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def hashes_from(text: str, versions: dict[str, str]) -> dict[str, list[str]]:
    """SHA-256 of the distribution files of each package, from a list with ``name==version
    --hash=sha256:...``.

    Whatever else the list says (hosts, comments) is left out. Raises WrongList, naming the
    packages, when the list lacks one or has it at another version.
    """
    given: dict[str, tuple[str, list[str]]] = {}
    for line in text.replace("\\\n", " ").replace("\\\r\n", " ").splitlines():
        if pinned := _PINNED.match(line.strip()):
            given[canonical(pinned[1])] = pinned[2], sorted(set(_HASH.findall(line)))
    wrong = []
    for name, version in versions.items():
        there, hashes = given.get(name, ("", []))
        if there != version or not hashes:
            found = f"{there}, without a hash" if there == version else there or "none"
            wrong.append(f"{name} {version} (the list has {found})")
    if wrong:
        raise WrongList(f"the list of hashes does not fit what is installed: {listed(wrong)}")
    return {name: given[name][1] for name in versions}


def requirements_text(
    versions: dict[str, str], hashes: dict[str, list[str]], candlelab: str, *, python: str = ""
) -> str:
    """The list as pip reads it (``pip install -r``); ``python`` is the version here when empty."""
    lines = [
        f"# Beside candlelab {candlelab} itself, which is installed with --no-deps.",
        f"# Python {python or platform.python_version()}.",
    ]
    if not hashes:
        lines.append(
            "# Exact versions; the hashes of their files are not known where this list was made."
        )
    for name, version in versions.items():
        marks = "".join(f" \\\n    --hash=sha256:{value}" for value in hashes.get(name, []))
        lines.append(f"{name}=={version}{marks}")
    return "\n".join(lines) + "\n"


def pinned_versions(text: str) -> dict[str, str]:
    """Name and version of each package in a list that ``requirements_text`` wrote."""
    return {
        canonical(m[1]): m[2] for line in text.splitlines() if (m := _PINNED.match(line.strip()))
    }


def pinned_hashes(text: str) -> dict[str, list[str]]:
    """The hashes of each package in such a list; packages without one are left out."""
    lines = [line.strip() for line in text.replace("\\\n", " ").splitlines()]
    pairs = [(m, _HASH.findall(line)) for line in lines if (m := _PINNED.match(line))]
    return {canonical(m[1]): hashes for m, hashes in pairs if hashes}


def not_pinned(text: bytes) -> list[str]:
    """Lines of a list that pip would read and that are no package at an exact version: another
    index, an address, an option."""
    joined = text.decode("utf-8", "replace").replace("\\\n", " ")
    lines = [line.strip() for line in joined.splitlines()]
    return [
        line
        for line in lines
        if line and not line.startswith("#") and not _PINNED.fullmatch(_HASH.sub("", line).strip())
    ]


def environment_record(versions: dict[str, str]) -> dict:
    """Python, candlelab and packages. The digest of candlelab's code tells a changed copy of the
    same version."""
    return {
        "python": platform.python_version(),
        "implementation": platform.python_implementation(),
        "system": platform.system(),
        "machine": platform.machine(),
        "candlelab": candlelab_version(),
        "candlelab_code_sha256": code_digest(),
        "packages": versions,
    }


@cache  # the version and the code that this process runs
def candlelab_version() -> str:
    """Version of candlelab, or ``unknown`` where it runs without having been installed."""
    try:
        return metadata.version("candlelab")
    except metadata.PackageNotFoundError:
        return "unknown"


@cache
def code_digest() -> str:
    """One SHA-256 over candlelab's own modules, page templates and report notebook, line ends made
    equal."""
    from candlelab.pages.run import NOTEBOOK, shipped

    package = Path(__file__).resolve().parents[1]
    files = {
        path.relative_to(package).as_posix(): path
        for kind in ("*.py", "*.j2", "conf.json")
        for path in package.rglob(kind)
    }
    files[f"notebooks/{NOTEBOOK}"] = shipped("notebooks") / NOTEBOOK
    whole = hashlib.sha256()
    for name in sorted(files):
        content = files[name].read_bytes().replace(b"\r\n", b"\n")
        whole.update(f"{name} {hashlib.sha256(content).hexdigest()}\n".encode())
    return whole.hexdigest()

"""The rooms of the house, and which rooms each may use. Nothing heavy happens on import."""

import ast
import functools
import subprocess
import sys

import pytest
from places import ROOT

PACKAGE = ROOT / "candlelab"
# A room may use those before it; rooms on one line do not know each other.
FLOORS = [
    {"text", "days", "candle_formulas"},
    {"units"},
    {"archive"},
    {"logs", "stats"},
    {"burns"},
    {"judge"},
    {"pages"},
    {"compare", "confirm", "scent"},
    {"size"},
    {"plan", "report"},
    {"claim", "share", "bench"},
    {"cli"},
]
# These stand aside: statistics know no batch, and the simulator never sees what reads its logs.
ALLOWED = {
    "stats": {"text"},
    "simulate": {"units", "candle_formulas", "logs.columns", "logs.column", "logs.writer"},
}
USES_SIMULATE = {"plan", "cli"}
FACE = {"__init__", "__main__"}  # what is handed out, and the command; they may use everything
ONE_USER = {
    "papermill": "pages.run",
    "nbconvert": "pages.run",
    "rocrate": "share.descriptions",
    "icalendar": "plan.schedule",
    "serial": "bench.scale",
    "defusedxml": "logs.sheet_xml",
}


def imports(source):
    """Modules of candlelab, and top-level names of others, that a source imports, wherever in
    it."""
    own, others = set(), set()
    for node in ast.walk(ast.parse(source)):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level:
            names = [f"candlelab.{node.module or ''}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        for name in names:
            first, _, rest = name.partition(".")
            (own.add(rest or "__init__") if first == "candlelab" else others.add(first))
    return own, others


def room(module):
    return module.partition(".")[0]


SOURCES = {
    path.relative_to(PACKAGE)
    .with_suffix("")
    .as_posix()
    .replace("/", ".")
    .removesuffix(".__init__"): path
    for path in sorted(PACKAGE.rglob("*.py"))
}
ROOMS = sorted({room(module) for module in SOURCES} - FACE)


@functools.cache
def modules():
    """What each module imports; read when a test asks, not when tests are collected."""
    return {name: imports(path.read_text(encoding="utf-8")) for name, path in SOURCES.items()}


def floor(name):
    return next(n for n, names in enumerate(FLOORS) if name in names)


def allowed(name):
    below = set().union(*FLOORS[: floor(name)]) if name not in ALLOWED else set()
    return (
        below
        | ALLOWED.get(name, set())
        | ({"simulate"} if name in USES_SIMULATE else set())
        | {name}
    )


def test_imports_are_found_wherever_they_stand():
    source = (
        "import numpy as np\nfrom candlelab import candle_formulas\ndef f():\n    from "
        "candlelab.logs.batch import Batch\n"
    )
    assert imports(source + "import candlelab.stats\n") == (
        {"candle_formulas", "logs.batch.Batch", "stats"},
        {"numpy"},
    )


def test_every_room_has_its_floor():
    assert set(ROOMS) == set().union(*FLOORS) | {"simulate"}, (
        "give a new room its floor, and draw it in DEVELOPERS.md"
    )


@pytest.mark.parametrize("name", ROOMS)
def test_a_room_uses_only_rooms_below(name):
    may = allowed(name)
    used = {
        (module, one)
        for module, (own, _) in modules().items()
        if room(module) == name
        for one in own
    }
    astray = {
        (module, one)
        for module, one in used
        if room(one) not in may and not any(one.startswith(m) for m in may if "." in m)
    }
    assert not astray


@pytest.mark.parametrize("name", ROOMS)
def test_no_circle_within_a_room(name):
    own = {
        module: {m for m in SOURCES if any(one == m or one.startswith(m + ".") for one in used[0])}
        - {module}
        for module, used in modules().items()
        if room(module) == name
    }
    done = set()
    while ready := {
        module
        for module, used in own.items()
        if module not in done and not (used & set(own)) - done
    }:
        done |= ready
    assert set(own) == done


@pytest.mark.parametrize(("library", "user"), ONE_USER.items())
def test_a_library_has_one_user(library, user):
    assert {module for module, (_, others) in modules().items() if library in others} == {user}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("statement", "absent"),
    [
        (
            "import candlelab",
            "numpy pandas scipy matplotlib seaborn papermill statsmodels IPython nbconvert",
        ),
        (
            "import candlelab.report.results",
            "matplotlib seaborn papermill statsmodels IPython nbconvert",
        ),
        (
            "import candlelab.cli.main",
            "matplotlib seaborn papermill statsmodels IPython nbconvert pandas",
        ),
        (
            "import candlelab.simulate.demo",
            "matplotlib seaborn papermill statsmodels IPython nbconvert candlelab.logs.batch",
        ),
    ],
)
def test_nothing_heavy_on_import(statement, absent):
    code = (
        f"import sys; {statement}; print(*[name for name in {absent.split()} if name in "
        "sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-W", "error", "-c", code], cwd=ROOT, capture_output=True, text=True
    )
    assert (run.returncode, run.stdout.split(), run.stderr) == (0, [], "")

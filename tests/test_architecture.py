"""Imports only point down, and nothing heavy happens on import."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "candlelab"
# From low to high: a module may import those before it. The second line is statistics, which knows no batch.
ORDER = [
    "columns", "formulas", "spreadsheet", "problems",
    "mixed", "simultaneous", "prediction", "designs", "proportions", "survival", "power", "tolerance", "calibration", "comparison", "crossed",
    "settings", "mean_draws", "choosing", "csvtext", "cells", "csvtable", "names", "consistency", "logs", "cycles", "runs", "safety", "diagnosis", "ranking",
    "recipes", "rounds", "predicting", "holding", "settling", "confirming",
    "results", "words", "questions", "sample_tables", "sample_size", "size_values", "size_line", "size_words", "sizing", "claim_texts", "claim_tables",
    "claims", "records", "confirmed_words",
    "figure_style", "figures", "compared_figures", "sizing_figures", "confirmed_figures", "page", "resources", "publish", "report", "command_ends",
    "plan_settings", "recipe", "layout", "schedule", "plan_rules", "batch_plan", "plan_figures", "plan_words", "log_sheets", "planning", "plan_commands",
    "agreement", "archive", "descriptor", "environment", "crate", "notes", "contents", "packing", "opening", "verifying", "differing", "pack_commands",
    "sizing_commands", "confirm_commands",
    "cli", "__main__",
]  # fmt: skip
# The simulated bench stands aside: it knows the columns and the formulas, and makes batches for whoever is at the top.
BENCH = ["bench", "logwriter", "simulate", "demo_plans", "demo"]
USES_BENCH = ["report", "planning", "cli", "__main__"]
MODULES = sorted(path.stem for path in PACKAGE.glob("*.py"))


def imports(source):
    """Modules of candlelab, and top-level names of others, that a source imports, wherever in it."""
    own, others = set(), set()
    for node in ast.walk(ast.parse(source)):
        names = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level:
            names = [f"candlelab.{node.module or alias.name}" for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module == "candlelab":
            names = [f"candlelab.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module]
        for name in names:
            first, _, rest = name.partition(".")
            (own.add(rest.split(".")[0] or "__init__") if first == "candlelab" else others.add(first))
    return own, others


def imports_of(module):
    return imports((PACKAGE / f"{module}.py").read_text(encoding="utf-8"))


def test_imports_are_found_wherever_they_stand():
    source = "import numpy as np\nfrom candlelab import formulas\nfrom . import runs\ndef f():\n    from candlelab.logs import Batch\n"
    assert imports(source + "import candlelab.cells\n") == ({"formulas", "runs", "logs", "cells"}, {"numpy"})


def test_every_module_has_its_place():
    assert set(MODULES) - {"__init__"} <= set(ORDER + BENCH), "give a new module its place in ORDER"
    assert len(ORDER + BENCH) == len(set(ORDER + BENCH))


@pytest.mark.parametrize("module", [name for name in MODULES if name in ORDER])
def test_imports_only_point_down(module):
    allowed = set(ORDER[: ORDER.index(module)]) | (set(BENCH) if module in USES_BENCH else set())
    assert imports_of(module)[0] <= allowed


@pytest.mark.parametrize("module", BENCH)
def test_the_simulated_bench_stands_aside(module):
    assert imports_of(module)[0] <= {"columns", "formulas", "spreadsheet"} | set(BENCH) - {module}


@pytest.mark.parametrize(("library", "users"), [("papermill", {"report"}), ("seaborn", {"figures", "compared_figures", "plan_figures"}), ("rocrate", {"crate"}), ("icalendar", {"schedule"})])
def test_a_library_has_one_user(library, users):
    assert {name for name in MODULES if library in imports_of(name)[1]} <= users


@pytest.mark.parametrize(
    ("statement", "absent"),
    [
        ("import candlelab", "numpy pandas scipy matplotlib seaborn papermill statsmodels IPython nbconvert"),
        ("import candlelab.results, candlelab.logs", "matplotlib seaborn papermill statsmodels IPython nbconvert"),
        ("import candlelab.__main__", "matplotlib seaborn papermill statsmodels IPython nbconvert pandas"),
        ("import candlelab.demo", "matplotlib seaborn papermill statsmodels IPython nbconvert candlelab.logs"),
    ],
)
def test_nothing_heavy_on_import(statement, absent):
    code = f"import sys; {statement}; print(*[name for name in {absent.split()} if name in sys.modules])"
    run = subprocess.run([sys.executable, "-W", "error", "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert (run.returncode, run.stdout.split(), run.stderr) == (0, [], "")

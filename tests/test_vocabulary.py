"""One word for one thing: no text of ours uses a word that the vocabulary has replaced.

Looked at are the texts in the code (what is said, not what a docstring explains, but for those of
commands, which are their help), headings and meanings of columns, notebooks and READMEs.
"""

import ast
import json
import re

import pytest
from places import ROOT

from candlelab.logs.columns import TABLES
from candlelab.pages.glossary import GLOSSARY

# The word that was, and the one that is.
REPLACED = {
    r"\b(?:un|not )?met\b": "pass, fail",
    r"\bnot recorded\b": "not checked, not written down",
    r"\bhits?\b": "on target",
    r"\bleft out\b|\bexcluded?\b": "set aside",
    r"\bprotocol\b(?!_)": "off plan, test plan",
    r"\bcarried\b|\bstill wanting\b": "stands, supported, worked out for",
    r"\bspreads?\b|\bscatter(?:ed|s)?\b": "variation, vary",
    r"\bown (?:pool depth|wall|flame)\b": "your 13 mm melt pool limit",
    r"\bburnt\b": "burned",
    r"\banother (?:width|length)\b": "wrong number of cells, burn too long or too short",
    r"\b(?:carry|carries) (?:a|the) claim\b": "support",
    r"\b(?:tolerance|prediction) bound\b": "the candles that a time is for",
    r"\bmend(?:ed|s|ing)?\b": "fix",
}
METHODS = (
    "REML", "Kenward", "Satterthwaite", "Welch", "Tukey", "Games-Howell", "Bonferroni", "Brown-",
    "Clopper", "Wilson", "Newcombe", "Boschloo", "Turnbull", "Kaplan", "log-rank", "Fieller",
    "Cochran", "Student",
)  # fmt: skip
# Words that are names here: of a file, of a section of batch.toml, of a choice in a log.
NAMES = re.compile(
    r"\[protocol\]|[.{]protocol[.}]|\bspread=|exclusions\.csv|\bexclusions?\b|zip://|<[^>]*>|`[^`]*`|https?://\S+"
)
COMMANDS = ROOT / "candlelab" / "cli"


def wrong(text):
    """The words of a text that have been replaced."""
    plain = NAMES.sub(" ", text)
    return [found[0] for old in REPLACED if (found := re.search(old, plain, re.IGNORECASE))]


def _speaks(value):
    """Whether a constant is a text, and not a list of the names of columns."""
    if not isinstance(value, str) or " " not in value:
        return False
    return "_" not in value or not re.fullmatch(r"[a-z0-9_ ]+", value)


def texts(path):
    """The texts of a module, and the help of a command."""
    yield from texts_of(path.read_text(encoding="utf-8"), helps=path.parent == COMMANDS)


def texts_of(code, *, helps=False):
    tree = ast.parse(code)
    bare = [n.body[0] for n in ast.walk(tree) if hasattr(n, "body") and isinstance(n.body, list)
            and n.body and isinstance(n.body[0], ast.Expr)]  # fmt: skip
    said = {id(one.value) for one in bare}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or not _speaks(node.value):
            continue
        if id(node) not in said or (helps and node.col_offset):
            yield node.lineno, node.value


# It reads packs that were written in the words that were.
OLD_PACKS = ROOT / "candlelab" / "share" / "earlier.py"
SOURCES = sorted({*(ROOT / "candlelab").rglob("*.py")} - {OLD_PACKS})
PAPERS = [
    ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "data" / "demo" / "README.md",
    ROOT / "candlelab" / "simulate" / "demo_readme.md",
    *sorted((ROOT / "candlelab").rglob("*.j2")),
]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("path", SOURCES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_texts_of_the_code(path):
    found = [(line, words, text) for line, text in texts(path) if (words := wrong(text))]
    assert found == []


@pytest.mark.parametrize("path", PAPERS, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_papers(path):
    lines = path.read_text(encoding="utf-8").splitlines()
    assert [(n, wrong(line)) for n, line in enumerate(lines, 1) if wrong(line)] == []


def test_headings_and_meanings_of_columns():
    of_logs = [column for table in TABLES.values() for column in table.columns]
    every = [*GLOSSARY.values(), *of_logs]
    assert [c.name for c in every if wrong(f"{c.label}. {c.meaning}. {c.choices}")] == []


@pytest.mark.parametrize("path", sorted((ROOT / "notebooks").glob("*.ipynb")), ids=lambda p: p.stem)
def test_notebooks(path):
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    found = []
    for cell in cells:
        source = "".join(cell["source"])
        code = cell["cell_type"] == "code"
        found += [text for _, text in texts_of(source)] if code else [source]
    assert [text for text in found if wrong(text)] == []

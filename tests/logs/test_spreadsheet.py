"""Text that a spreadsheet program would run is found and guarded; everything else stays as it is.

Which first characters count: the list that web security guides give
for formula injection in CSV (from memory).
"""

import csv
import re

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from candlelab.logs.columns import TABLES
from candlelab.logs.writer import SPREADSHEET, guarded, runs_as_formula, write_batch

RISKY = [
    "=1+1",
    "+A1",
    "-A1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    " =1",
    "\uff1d1+1",
    "=cmd|' /C calc'!A0",
    "a;=1+1",
    "a,-b",
    "one\n=two",
    '=HYPERLINK("x")',
    "-",
    "+1-2",
]
PLAIN = [
    "",
    "S01",
    "-5",
    "+4,5",
    "-1.5e3",
    "flat braid",
    "2026-03-02 09:10",
    "a = b",
    "5-6",
    "mail@studio",
    "a - b",
    "--"[:0],
]


@pytest.mark.parametrize("text", RISKY)
def test_risky_text_gets_an_apostrophe(text):
    assert runs_as_formula(text)
    assert not runs_as_formula(guarded(text))
    assert guarded(text).replace("'", "") == text.replace("'", "")


@pytest.mark.parametrize("text", PLAIN)
def test_plain_text_stays(text):
    assert not runs_as_formula(text)
    assert guarded(text) == text


@given(st.text())
def test_nothing_guarded_begins_like_a_formula(text):
    assert not runs_as_formula(guarded(text))


@pytest.mark.parametrize("style", [None, SPREADSHEET])
def test_no_cell_that_we_write_is_a_formula(tmp_path, style):
    candles = pd.DataFrame(
        [{c.name: text for c in TABLES["candles"].columns if c.kind == "text"} for text in RISKY]
    ).assign(fill_mass_g=-1.0)
    write_batch({"candles": candles}, "", tmp_path, **({"style": style} if style else {}))
    with open(tmp_path / "candles.csv", encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file, delimiter=style.delimiter if style else ","))
    assert len(rows) == len(RISKY) + 1
    assert not [cell for row in rows for cell in row if runs_as_formula(cell)]
    # nor for a program that parts cells by another mark than the file does
    for line in (tmp_path / "candles.csv").read_text(encoding="utf-8-sig").splitlines():
        parts = re.split("[,;\t]", line.replace('"', ""))
        assert not [part for part in parts if runs_as_formula(part)], line

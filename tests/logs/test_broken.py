"""Broken batches, each with the whole table of problems that its user should see.

``broken/NAME/expected.csv`` was written from what is right for the user, not
from the program's output. Every batch is the same small one with a few faults
put in, so what is not faulty must stay silent.
"""

import pandas as pd
import pytest
from places import BROKEN
from plans import digests

from candlelab.logs.batch import check_batch, read_batch
from candlelab.logs.problems import MUST_FIX, BurnLogError

NAMES = sorted(path.parent.name for path in BROKEN.glob("*/expected.csv"))


def as_text(problems):
    """Problems as expected.csv holds them: everything text, an unknown line empty."""
    table = problems.drop(columns=["row", "cell"])
    return table.assign(line=table["line"].astype("string").fillna("")).astype("str")


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_every_problem_is_told_once_and_nothing_else(name):
    folder = BROKEN / name / "batch"
    before = digests(folder)
    expected = pd.read_csv(BROKEN / name / "expected.csv", dtype="str", keep_default_na=False)

    found = as_text(check_batch(folder))

    assert found.to_dict("records") == expected.to_dict("records")
    if MUST_FIX in set(expected["level"]):
        with pytest.raises(BurnLogError) as raised:
            read_batch(folder)
        assert as_text(raised.value.problems).to_dict("records") == expected.to_dict("records")
    else:
        assert as_text(read_batch(folder).problems).to_dict("records") == expected.to_dict(
            "records"
        )
    assert digests(folder) == before


def test_there_are_many_cases():
    assert len(NAMES) >= 83


def test_an_empty_folder_is_no_batch(tmp_path):  # git keeps no empty folder
    problems = as_text(check_batch(tmp_path))
    assert problems.to_dict("records") == [
        {
            "level": "must fix",
            "problem": "no batch in this folder",
            "file": "batch.toml",
            "line": "",
            "candle": "",
            "column": "",
            "found": "an empty folder",
            "expected": "batch.toml, candles.csv, burns.csv, checks.csv, wicks.csv",
            "what_to_do": "Give the folder that holds these files; the demo batch shows their "
            "form.",
        }
    ]
    with pytest.raises(BurnLogError):
        read_batch(tmp_path)


def test_a_folder_of_batches_names_them(tmp_path):
    for name in ("screening", "confirmation"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "batch.toml").touch()
    (tmp_path / "photos").mkdir()
    (row,) = check_batch(tmp_path).to_dict("records")
    assert row["found"] == "no table"
    assert (
        row["what_to_do"]
        == "Give the folder that holds these files; batches are in: confirmation, screening."
    )

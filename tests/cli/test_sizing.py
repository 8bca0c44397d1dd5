"""The commands candles, size and claim: what they print, leave and refuse; their pages in order and
without markup of a log.
"""

import json
import shutil

import pytest
from batches import read
from click.testing import CliRunner
from places import DEMO

from candlelab.claim.claims import claim_label
from candlelab.cli.main import main
from candlelab.size.sizing import size_wicks

BOTH = [str(DEMO / "screening"), str(DEMO / "confirmation")]


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    out = tmp_path_factory.mktemp("out")
    size = run("size", *BOTH, "--out", out / "size")
    label = run("claim", *BOTH, "--candidate", "square braid 2", "--out", out / "claim")
    return out, size, label


def test_pages_are_made_and_their_places_printed(pages):
    out, size, label = pages
    assert (size.exit_code, size.stdout.strip()) == (0, str(out / "size" / "size_wick.html"))
    assert (label.exit_code, label.stdout.strip()) == (0, str(out / "claim" / "label_claims.html"))
    assert label.stderr.startswith("Print at most 31 h for square braid 2.")
    for folder, name in (("size", "size_wick"), ("claim", "label_claims")):
        assert sorted(p.name for p in (out / folder).iterdir()) == sorted(
            [f"{name}.html", f"{name}.ipynb", "results.json"]
        )


def test_the_record_holds_what_direct_calls_give(pages):
    batches = [read(folder) for folder in BOTH]
    record = json.loads((pages[0] / "size" / "results.json").read_text())
    direct = size_wicks(batches)
    assert record["answer"][-len(direct.answer) :] == list(direct.answer)
    names = [column["name"] for column in record["tables"]["sizes"]["columns"]]
    found = [row[names.index("predicted")] for row in record["tables"]["sizes"]["data"]]
    assert found == pytest.approx(direct.sizes["predicted"].tolist(), rel=1e-9)
    record = json.loads((pages[0] / "claim" / "results.json").read_text())
    assert record["outcome"] == "supported"
    said = claim_label(batches, "square braid 2").answer
    assert record["answer"][-len(said) :] == list(said)
    assert record["parameters"] == {
        "batch_folders": ["screening", "confirmation"],
        "candidate": "square braid 2",
        "leave_mm": 12.7,
        "batch_sd_pct": 3.0,
    }


def test_pages_carry_their_cautions_and_no_path_of_this_machine(pages):
    for page in (pages[0] / "size" / "size_wick.html", pages[0] / "claim" / "label_claims.html"):
        text = page.read_text()
        assert "Stay with every flame." in text
        assert "screening evidence" in text
        assert "accredited laboratory" in text
        assert str(DEMO.parent.parent) not in text


def test_how_many_candles_is_printed():
    found = run("candles", "--difference", 0.6, "--candidates", 2, "--affordable", 4)
    assert found.exit_code == 0
    assert found.stdout.startswith(
        "To find a difference in burn rate of 0.6 g/h in 80 of 100 such batches, burn "
    )
    assert "an assumption with no source" in found.stdout
    assert "candles of each" in found.stdout
    assert "equivalence" not in found.stdout


@pytest.mark.slow
def test_how_many_candles_takes_the_spread_of_batches():
    found = run("candles", DEMO / "screening", "--difference", 0.6)
    assert "It comes from 17 candles of 6 candidates in screening." in found.stdout


@pytest.mark.slow
def test_nothing_given_answers_all_three():
    text = run("candles").stdout
    assert all(
        words in text
        for words in (
            "To find a difference",
            "To show that two burn alike, to within 0.5 g/h",
            "To claim that at least 90 % of such candles pass (95 in 100 sure), burn 29",
            "Candles needed to see a difference:",
        )
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    ("args", "words"),
    [
        (("size", DEMO / "screening", "--metric", "burn_rate"), "--metric must be one of"),
        (("size", DEMO / "nowhere"), "nowhere"),
        (
            ("claim", DEMO / "screening", "--candidate", "squared braid 2"),
            "Did you mean 'square braid 2'?",
        ),
        (("claim", DEMO / "loads", "--candidate", "square braid 2"), "a label speaks of one"),
        (("candles", "--difference", -1, "--power", 3), "Difference must be a number above zero"),
        (
            ("candles", "--metric", "life_h", "--difference", 2),
            "give an earlier batch that measured it",
        ),
        (("candles", DEMO / "nowhere", "--difference", 1), "nowhere"),
    ],
)
def test_wrong_usage_is_told(args, words, tmp_path):
    found = run(*args, *(("--out", tmp_path / "out") if args[0] != "candles" else ()))
    assert found.exit_code == 2
    assert words in found.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.slow
def test_a_batch_to_mend_first_ends_with_1(tmp_path):
    folder = shutil.copytree(DEMO / "screening", tmp_path / "batch")
    (folder / "burns.csv").write_text("candle,burn\n")
    for args in (
        ("size", folder, "--out", tmp_path / "o"),
        ("claim", folder, "--candidate", "x", "--out", tmp_path / "o"),
        ("candles", folder, "--difference", 1),
    ):
        found = run(*args)
        assert found.exit_code == 1
        assert "burns.csv" in found.stderr


def test_an_old_page_stays_when_a_new_one_cannot_be_made(pages):
    place = pages[0] / "size"
    before = (place / "size_wick.html").read_bytes()
    (place / "mine.txt").write_text("mine")
    try:
        found = run("size", *BOTH, "--out", place)
        assert found.exit_code == 2
        assert (place / "size_wick.html").read_bytes() == before
    finally:
        (place / "mine.txt").unlink()

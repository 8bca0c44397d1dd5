"""The command scent: what it prints, leaves and refuses."""

import json

import pytest
from batches import read
from click.testing import CliRunner
from places import DEMO

from candlelab.cli.main import main
from candlelab.scent.judged import judge_scent
from candlelab.scent.page import scent_page

pytestmark = pytest.mark.slow


def run(*args):
    return CliRunner().invoke(main, [str(a) for a in args])


def test_the_page_is_made_and_holds_what_a_direct_call_gives(tmp_path):
    out = tmp_path / "scent"
    done = run("scent", DEMO / "loads", "--out", out)
    assert (done.exit_code, done.stdout.strip()) == (0, str(out / "scent_throw.html"))
    assert "6 % smells as strong as 9 %" in done.stderr
    record = json.loads((out / "results.json").read_text(encoding="utf-8"))
    direct = scent_page(judge_scent(read(DEMO / "loads")))
    assert record["answer"][-len(direct.answer) :] == list(direct.answer)
    assert record["decisions"][0]["pick"] == "square braid 2, fig leaf 6 %"
    assert set(record["tables"]) == set(direct.tables)


def test_a_batch_that_nobody_smelled_is_refused_in_words(tmp_path):
    done = run("scent", DEMO / "waxes", "--out", tmp_path / "scent")
    assert done.exit_code == 2
    assert "Write throw.csv" in done.stderr
    assert not (tmp_path / "scent").exists()

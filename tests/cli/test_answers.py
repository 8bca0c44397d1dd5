"""Every command says its answer in words or as JSON and shows an example; an empty batch folder."""

import json
import re
import shlex

import pytest
from batches import read
from click.testing import CliRunner
from places import DEMO

from candlelab.cli.answers import tell
from candlelab.cli.examples import EXAMPLES
from candlelab.cli.main import main
from candlelab.compare.metrics import METRICS
from candlelab.logs.batch import check_batch

SERVES = {"bench", "lab"}  # run until they are stopped


def run(*arguments):
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.mark.parametrize("name", sorted(main.commands))
def test_help_has_an_example_that_can_be_typed(name):
    command, said = main.commands[name], run(name, "-h").output
    assert EXAMPLES[name] in said.replace("\n", " ").replace("  ", " ") or EXAMPLES[name] in said
    asked = shlex.split(EXAMPLES[name])[1:]
    assert asked[0] == name
    assert command.make_context(name, asked[1:], resilient_parsing=False).params
    assert ("--json" in said) == (name not in SERVES)


def test_what_can_be_measured_is_listed():
    for name in ("compare", "size", "candles"):
        said = re.sub(r"\s+", " ", run(name, "-h").output)
        assert all(metric in said for metric in METRICS), name


def test_an_answer_in_words_or_as_json(tmp_path, capsys):
    record = {"answer": ["Pick flat braid 3.", "Burn it again."], "tables": {}}
    (tmp_path / "results.json").write_text(json.dumps(record))
    tell(tmp_path / "page.html")
    said = capsys.readouterr()
    assert (said.out, said.err) == (
        f"{tmp_path / 'page.html'}\n", "Pick flat braid 3.\nBurn it again.\n"
    )  # fmt: skip
    tell(tmp_path / "page.html", as_json=True)
    found = json.loads(capsys.readouterr().out)
    assert found == {"page": str(tmp_path / "page.html"), **record}


@pytest.mark.parametrize("units", [(), ("--us",)])
def test_an_empty_batch_folder_is_empty_and_right(tmp_path, units):
    folder = tmp_path / "mine"
    assert run("new", folder, *units).exit_code == 0
    for name in ("candles", "burns", "checks", "wicks"):
        assert (folder / f"{name}.csv").read_text().startswith("# One row for each")
    checked = run("check", folder)
    assert checked.exit_code == 0
    assert "must fix" not in checked.output
    assert set(check_batch(folder)["problem"]) == {"table without rows"}
    again = run("new", folder)
    assert again.exit_code == 2
    assert "has its own batch.toml" in again.output


@pytest.mark.parametrize("comment", ["# One row", '"# One row"', "# One row,,,,"])
def test_rows_below_a_comment_are_read_with_their_own_lines(tmp_path, comment):
    import shutil

    shutil.copytree(DEMO / "screening", tmp_path / "batch")
    path = tmp_path / "batch" / "wicks.csv"
    if comment.startswith('"'):
        comment = comment.strip('"')
    path.write_text(f"{comment}\n{path.read_text(encoding='utf-8')}", encoding="utf-8")
    batch, plain = read(tmp_path / "batch"), read(DEMO / "screening")
    assert batch.wicks.equals(plain.wicks)
    assert (batch.lines["wicks"] == plain.lines["wicks"] + 1).all()


def test_an_example_of_a_plan_is_left_once(tmp_path):
    made = run("plan", "--example", "--out", tmp_path)
    assert made.exit_code == 0
    assert (tmp_path / "plan.toml").read_bytes() == (DEMO / "plan" / "plan.toml").read_bytes()
    assert run("plan", "--example", "--out", tmp_path).exit_code == 2
    assert "--example" in run("plan").output


def test_columns_has_the_settings_of_a_plan():
    said = run("columns").output
    assert "[schedule] first_burn_on, burn_days" in said
    found = json.loads(run("columns", "--json").output)
    assert "minutes_per_check" in found["plan.toml"]["schedule"]
    assert "burns.csv" in found["tables"]


def test_a_problem_of_many_rows_counts_once(tmp_path):
    """12 kinds of faults in 108 rows are not 108 things to do."""
    import shutil

    shutil.copytree(DEMO / "screening", tmp_path / "batch")
    path = tmp_path / "batch" / "burns.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("timer", "tmr"), encoding="utf-8")
    said = run("check", tmp_path / "batch").stderr
    assert re.search(r"^1 must fix \(in \d{2,} rows\)", said.splitlines()[-1])

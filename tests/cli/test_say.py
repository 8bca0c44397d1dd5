"""Whatever a log, a pack or a command line holds: no terminal obeys what a command prints."""

import ast
import json
import shutil
import unicodedata

import pytest
from commands import run
from forgeries import results, with_results
from packs import RECORD, contents_of, forged
from places import ROOT

from candlelab.cli import answers
from candlelab.cli.main import main
from candlelab.cli.say import visible

DEMO = ROOT / "data" / "demo"
EVIL = "\x1b[31mred\x07\x9b2J\u202eabc\rover\x00\u2066\x7f\u200b"
SHOWN = "\\u001b[31mred\\u0007\\u009b2J\\u202eabc\\u000dover\\u0000\\u2066\\u007f\\u200b"


def obeyed(text):
    """The characters of a text that a terminal may obey (categories of the Unicode standard)."""
    kinds = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    fine = "\n\t\u200c\u200d"
    return {c for c in text if unicodedata.category(c) in kinds and c not in fine}


@pytest.mark.slow
def test_every_such_character_is_shown_by_its_number():
    every = "".join(map(chr, range(0x110000)))
    assert not obeyed(visible(every))
    assert visible(EVIL) == SHOWN
    assert json.loads(f'"{visible(EVIL)}"') == EVIL


@pytest.mark.parametrize(
    "text", ["Käfer 蝋燭 \U0001f56f", "a\tb\nc", "\\u001b", "می\u200cخواهم", ""]
)
def test_other_text_stays_as_it_is(text):
    assert visible(text) == text


@pytest.mark.parametrize("module", sorted((ROOT / "candlelab" / "cli").glob("*.py")))
def test_no_command_prints_past_it(module):
    """Only ``say`` prints; nothing else calls ``click.echo`` or ``print``."""
    calls = [node for node in ast.walk(ast.parse(module.read_text())) if isinstance(node, ast.Call)]
    names = [ast.unparse(call.func) for call in calls]
    assert [name for name in names if name in ("click.echo", "click.secho", "print")] == (
        ["click.echo"] if module.stem == "say" else []
    )


ARGUMENTS = {
    "check": ["FOLDER"],
    "report": ["FOLDER"],
    "compare": ["FOLDER", "--by", EVIL],
    "size": ["FOLDER", "--metric", EVIL],
    "claim": ["FOLDER", "--candidate", EVIL],
    "confirm": ["FOLDER", "FOLDER"],
    "plan": ["FOLDER/plan.toml", "--out", "FOLDER/out"],
    "candles": ["FOLDER"],
    "share": ["FOLDER", "--out", "x.zip"],
    "verify": ["FOLDER"],
    "diff": ["FOLDER", "FOLDER"],
    "bench": ["FOLDER"],
    "today": ["FOLDER"],
    "lab": ["FOLDER"],
    "demo": ["--" + EVIL],
    "columns": [EVIL],
    "scent": ["FOLDER"],
    "new": ["FOLDER", EVIL],
}


def test_every_command_is_tried():
    assert set(ARGUMENTS) >= set(main.commands)


@pytest.mark.parametrize("command", sorted(ARGUMENTS))
def test_what_was_typed_is_shown(tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    name = EVIL.replace("\x00", "")
    words = [word.replace("FOLDER", f"nowhere{name}") for word in ARGUMENTS[command]]
    result = run(command, *[word.replace("\x00", "") for word in words])
    assert result.exit_code != 0
    assert not obeyed(result.output)
    assert "\\u001b[31mred" in result.output or "\\x1b[31mred" in result.output, result.output


def test_what_no_command_is_shown():
    result = run(EVIL)
    assert result.exit_code == 2
    assert not obeyed(result.output)
    assert "[31mred" in result.output


@pytest.fixture
def evil_batch(tmp_path):
    """The demo's confirmation with control codes in a name, a note, a number and a title."""
    shutil.copytree(DEMO / "confirmation", tmp_path / "batch")

    def change(file, old, new):
        path = tmp_path / "batch" / file
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    evil = EVIL.replace("\r", "").replace("\x00", "")
    change("burns.csv", "17,560", evil)
    change("checks.csv", "C01", f"C01{evil}")
    change("batch.toml", "Stoneware", "Stone\\u001b[31mware")
    return tmp_path / "batch"


@pytest.mark.parametrize("command", [["check"], ["check", "--json"], ["today"], ["candles"]])
def test_what_a_log_holds_is_shown(evil_batch, command):
    result = run(command[0], evil_batch, *command[1:])
    assert not obeyed(result.output)
    assert "[31m" in result.output
    if "--json" in command:
        assert "[31mred" in json.dumps(json.loads(result.stdout), ensure_ascii=False)


def _made(folder, record):
    def make(*_, **__):
        (folder / "results.json").write_text(json.dumps(record), encoding="utf-8")
        return folder / f"page{EVIL}.html"

    return make


def _table(**row):
    return {"columns": [{"name": name} for name in row], "data": [list(row.values())]}


@pytest.mark.parametrize("command", ["claim", "confirm", "report", "compare", "size"])
def test_what_a_page_answers_is_shown(tmp_path, monkeypatch, command):
    record = {
        "outcome": EVIL,
        "answer": [EVIL],
        "decisions": [{"headline": EVIL}],
        "tables": {
            "verdicts": _table(candidate=EVIL, verdict=EVIL),
            "new_evidence": _table(candidate=EVIL, n_passed=3, n_candles=3),
        },
    }
    from candlelab.report import make

    names = {
        "claim": "make_claim",
        "confirm": "make_confirmation",
        "report": "make_report",
        "compare": "make_comparison",
        "size": "make_sizing",
    }
    monkeypatch.setattr(make, names[command], _made(tmp_path, record))
    monkeypatch.setattr(answers, "record_of", lambda *_: record)
    more = {"claim": ["--candidate", "x"], "compare": ["--by", "wick"], "confirm": [tmp_path]}
    result = run(command, tmp_path, *more.get(command, []))
    assert result.exit_code == 0, result.output
    assert not obeyed(result.output)
    assert SHOWN in result.output


@pytest.mark.usefixtures("quick")
@pytest.mark.parametrize("command", ["verify", "diff"])
def test_what_a_pack_holds_is_shown(tmp_path, pack, command):
    def change(record):
        record["answer"][0] = record["title"] = EVIL
        record["tables"]["burns"]["columns"][3]["meaning"] = EVIL
        record["tables"]["burns"]["data"][0][0] = EVIL
        record["parameters"][EVIL] = EVIL
        record["versions"][EVIL] = EVIL

    files = results(change)(contents_of(pack))
    evil = forged(tmp_path, pack, with_results(files, json.loads(files[RECORD])))
    result = run(command, *([evil, pack] if command == "diff" else [evil]))
    assert result.exit_code == 1
    assert not obeyed(result.output)
    assert "[31mred" in result.output

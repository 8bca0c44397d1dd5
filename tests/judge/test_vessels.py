"""Targets and standards as batch.toml names them: per vessel, and which standard."""

import batches
import pytest

from candlelab.judge.targets import targets_of
from candlelab.logs.problems import ProblemList
from candlelab.logs.settings_reader import read_settings

TWO = (
    batches.TOML
    + """[vessels.tin]
inner_diameter_mm = 60
[vessels."blue tin"]
inner_diameter_mm = 70
"""
)


def read(text):
    """Settings and the problems of a batch.toml, as rows of problem, line, column and cure."""
    problems = ProblemList()
    settings = read_settings(TWO + text, problems)
    table = problems.table()
    columns = ["level", "problem", "line", "column", "found", "what_to_do"]
    return settings, [tuple(row) for row in table[columns].to_numpy().tolist()]


def line_of(text, start):
    return next(n for n, row in enumerate((TWO + text).split("\n"), 1) if row.startswith(start))


def told(targets):
    return {t.quantity: (t.low, t.high) for t in targets}


def test_targets_of_one_vessel_and_of_all():
    settings, problems = read(
        "[targets]\nburn_rate_g_per_h = {low = 4, high = 6}\nlife_h = {low = 20}\n"
        '[targets."tin"]\nburn_rate_g_per_h = {low = 3, high = 5}\n'
        '[targets."blue tin"]\nwax_left_pct = {high = 5}\n'
    )
    assert problems == []
    life = (20, float("inf"))
    assert told(targets_of(settings, "jar")) == {"burn_rate_g_per_h": (4, 6), "life_h": life}
    assert told(targets_of(settings, "tin")) == {"burn_rate_g_per_h": (3, 5), "life_h": life}
    assert told(targets_of(settings, "blue tin")) == {
        "burn_rate_g_per_h": (4, 6), "life_h": life, "wax_left_pct": (-float("inf"), 5)
    }  # fmt: skip


def test_targets_of_a_vessel_in_one_line():
    settings, problems = read("[targets]\ntin = {life_h = {low = 30}}\n")
    assert problems == []
    assert [(t.vessel, t.quantity, t.low) for t in settings.targets] == [("tin", "life_h", 30)]


@pytest.mark.parametrize("written", ['[targets."tinn"]', "[targets.Tin]"])
def test_an_unknown_vessel_must_be_fixed_with_a_suggestion(written):
    text = f"{written}\nburn_rate_g_per_h = {{low = 4}}\n"
    name = written.strip("[]").partition(".")[2].strip('"')
    _, problems = read(text)
    assert problems == [
        ("must fix", "unknown vessel", line_of(text, written), f"targets.{name}", name,
         f'Did you mean \'tin\'? Else add [vessels."{name}"].')
    ]  # fmt: skip


def test_an_unknown_vessel_that_is_like_no_other():
    text = '[targets."ashtray"]\nlife_h = 30\n'
    _, problems = read(text)
    assert [row[5] for row in problems] == ['Add [vessels."ashtray"].']


def test_faults_inside_the_targets_of_a_vessel_name_their_place():
    text = '[targets."tin"]\nburn_rate = {low = 4}\nlife_h = {low = 9, high = 3}\n'
    _, problems = read(text)
    assert [row[:4] for row in problems] == [
        ("must fix", "unknown target", line_of(text, "burn_rate"), "targets.tin.burn_rate"),
        ("must fix", "target turned round", line_of(text, "life_h"), "targets.tin.life_h"),
    ]


def test_a_vessel_without_a_target_has_none():
    settings, problems = read('[targets."tin"]\n')
    assert (settings.targets, problems) == ((), [])


@pytest.mark.parametrize("standard", ["EN 15493", "ASTM F2417"])
def test_the_standard_is_one_of_two(standard):
    problems = ProblemList()
    text = f'standard = "{standard}"\n{batches.TOML}'
    assert read_settings(text, problems).standard == standard
    assert problems.table().empty


@pytest.mark.parametrize("standard", ["EN15493", "ISO 9001", "en 15493"])
def test_another_standard_must_be_fixed(standard):
    problems = ProblemList()
    read_settings(f'standard = "{standard}"\n{batches.TOML}', problems)
    (row,) = problems.table().itertuples()
    assert (row.level, row.problem, row.found) == ("must fix", "not one of the choices", standard)
    assert row.expected == "EN 15493 or ASTM F2417"

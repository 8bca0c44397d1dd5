"""What a bench of lit candles asks for is pointed out; common practice, no source."""

import pytest
from plans import DEMO_PLAN, plan_file

from candlelab.logs.problems import LOOK, MUST_FIX
from candlelab.plan.planned import PlanError, read_plan

CASES = {
    "candles near an edge": [
        ("edge_mm = 300", "edge_mm = 120"),
        ("edge_mm = 300", "edge_mm = 299"),
        ("edge_mm = 300", "edge_mm = 0"),
    ],
    "reaching over a flame": [
        ("length_mm = 3000\ndepth_mm = 700", "length_mm = 3000\ndepth_mm = 1100"),
        ("length_mm = 2500\ndepth_mm = 700", "length_mm = 2500\ndepth_mm = 1400"),
    ],
    "many flames for one person": [
        ("minutes_per_check = 4\nspare_pct = 25", "minutes_per_check = 2\nspare_pct = 25"),
        ("minutes_per_check = 4\nspare_pct = 25", "minutes_per_check = 3\nspare_pct = 10"),
    ],
    "no time for the check itself": [
        ("minutes_per_check = 4", "minutes_per_check = 0.5"),
        ("spare_pct = 25", "spare_pct = 0"),
    ],
    "stop limit too hot": [
        ("wall_stop_c = 65.0", "wall_stop_c = 80"),
        ("wall_stop_c = 65.0", "wall_stop_c = 71"),
        ("wall_stop_c = 65.0", "wall_stop_f = 175"),
    ],
}


@pytest.mark.parametrize(
    ("problem", "old", "new"),
    [(problem, *change) for problem, changes in CASES.items() for change in changes],
)
def test_it_is_pointed_out_and_the_plan_is_made(tmp_path, problem, old, new):
    planned = read_plan(plan_file(tmp_path, (old, new)))
    found = planned.problems[planned.problems["problem"] == problem]
    assert len(found) == 1
    assert found["level"].tolist() == [LOOK]


def test_the_demo_plan_asks_for_no_second_look():
    assert read_plan(DEMO_PLAN / "plan.toml").problems.empty


@pytest.mark.parametrize("name", ["limit", "Limits", "limts", "wall_limits"])
def test_limits_of_a_plan_that_would_not_be_read_must_be_fixed(tmp_path, name):
    with pytest.raises(PlanError) as raised:
        read_plan(plan_file(tmp_path, ("[limits]", f"[{name}]")))
    (row,) = raised.value.problems.to_dict("records")
    assert (row["level"], row["problem"], row["found"]) == (MUST_FIX, "unknown setting", name)
    assert row["what_to_do"].startswith("Name the section [limits]: a limit that is not read")


def test_limits_of_a_plan_that_guard_nothing(tmp_path):
    planned = read_plan(plan_file(tmp_path, ("wall_stop_c = 65.0", "wall_stop_c = 55")))
    (row,) = planned.problems.to_dict("records")
    assert (row["level"], row["problem"]) == (LOOK, "caution above stop")
    with pytest.raises(PlanError, match="stop limit too hot"):
        read_plan(plan_file(tmp_path / "hot", ("wall_stop_c = 65.0", "wall_stop_c = 149")))

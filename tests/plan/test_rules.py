"""What cannot be planned is named: every fault at once, each with its line,
what was found, what was expected, what to do."""

import datetime
import random
import tomllib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plans import DEMO_PLAN, plan_file

from candlelab.logs.problems import LOOK, MUST_FIX, PROTOCOL, problem_lines
from candlelab.plan.planned import PlanError, read_plan, tables


def faults(tmp_path, *changes, **more):
    """Lines of what must be fixed, without their common head."""
    with pytest.raises(PlanError) as raised:
        read_plan(plan_file(tmp_path, *changes, **more))
    must_fix = raised.value.problems[raised.value.problems["level"] == MUST_FIX]
    return [line.removeprefix("must fix: plan.toml, ") for line in problem_lines(must_fix)]


def test_the_demo_plan_has_no_fault_and_asks_for_no_look():
    assert len(read_plan(DEMO_PLAN / "plan.toml").problems) == 0


def test_the_faults_of_the_issue_are_all_told_at_once(tmp_path):
    """A load over 100 %, more candles than places, a fill over
    the brim, a size not in wicks.csv."""
    found = faults(
        tmp_path,
        ("fragrance_load_pct = 8.0", "fragrance_load_pct = 108.0"),
        ("candles = 4\n", "candles = 9\n"),
        (
            "fill_volume_ml = 222.0   # up to the fill line; or fill_mass_g, as weighed",
            "fill_mass_g = 340.0",
        ),
        ('wick_size = "3"', 'wick_size = "7"'),
    )
    assert found == [
        "line 15, setting recipe.fragrance_load_pct: impossible load. Found 108 % of the wax. "
        "Expected at most 100 %. Write percent, as in 8; load_basis says of what.",
        "line 31, setting candidates 3.wick_size: unknown wick size. Found square braid 7. "
        "Expected a size of square braid in wicks.csv: 1, 2, 3, 4. Add the size to wicks.csv, or "
        "correct it.",
        "line 44, setting vessels.stoneware tumbler.fill_mass_g: fill over the brim. Found 340 g "
        "take 414.6 ml. Expected at most 325 ml, as measured. Fill less, or correct the volume or "
        "the density.",
        "line 60, setting benches: more candles than places. Found 36 candles. Expected at most 16 "
        "(window 9, wall 7) at 200 mm between vessels of 84 mm. Plan fewer candles, add a bench, "
        "or part the plan into two.",
    ]


_RECIPE, _SCHEDULE = "fragrance_load_pct = 8.0", "people = 1"
CASES = {
    "load of all that is filled": (
        [('load_basis = "wax"', 'load_basis = "total"'), (_RECIPE, "fragrance_load_pct = 100")],
        "setting recipe.fragrance_load_pct: impossible load. Found 100 % of the total. Expected "
        "less than 100 %, so that wax is left. Write percent, as in 8; load_basis says of what."),
    "load without a fragrance": ([('fragrance = "fig leaf"\n', "")],
        'setting recipe.fragrance_load_pct: load without a fragrance. Found 8 %. Expected '
        'fragrance = "..." beside it. Name the fragrance, or set the load to 0.'),
    "fragrance without a load": ([(_RECIPE + "\n", "")],
        "setting recipe.fragrance: fragrance without a load. Found fig leaf. Expected "
        "fragrance_load_pct beside it. Give the load in percent."),
    "unknown vessel": ([('vessel = "stoneware tumbler"', 'vessel = "stoneware tumblr"')],
        "setting recipe.vessel: unknown vessel. Found stoneware tumblr. Expected a vessel of this "
        "file: stoneware tumbler. Did you mean 'stoneware tumbler'? Else add [vessels.\"stoneware "
        "tumblr\"]."),
    "unknown wax of one candidate": (
        [('wick_series = "flat braid"', 'wick_series = "flat braid"\nwax = "beeswax"')],
        "setting candidates 1.wax: unknown wax. Found beeswax. Expected a wax of this file: "
        'coconut and rapeseed. Add [waxes."beeswax"].'),
    "unknown series": ([('wick_series = "flat braid"', 'wick_series = "Flat Braid"')],
        "setting candidates 1.wick_series: unknown wick series. Found Flat Braid. Expected a "
        "series of wicks.csv: flat braid, paper-cored, square braid, wooden. Did you mean 'flat "
        "braid'? Else add the series to wicks.csv."),
    "a candidate twice": ([('wick_size = "3"', 'wick_size = "2"')],
        "setting candidates 3: candidate given twice. Found square braid 2. Expected each "
        "candidate once; it is also candidates 2. Take one out, and give its number of candles."),
    "no fill": ([("fill_volume_ml = 222.0", "# fill_volume_ml = 222.0")],
        "setting vessels.stoneware tumbler: missing setting. Expected one of fill_mass_g and "
        "fill_volume_ml. Give the fill that was weighed, or the volume up to the fill line."),
    "two fills": ([("fill_volume_ml = 222.0", "fill_mass_g = 200\nfill_volume_ml = 222.0")],
        "setting vessels.stoneware tumbler.fill_mass_g: two settings for one quantity. Found "
        "fill_mass_g and fill_volume_ml. Expected one of fill_mass_g and fill_volume_ml. Give the "
        "fill that was weighed, or the volume up to the fill line."),
    "a fill line over a brim that was not measured": (
        [("brimful_volume_ml = 325.0\n", ""), ("fill_volume_ml = 222.0", "fill_volume_ml = 336.0"),
         ("liquid_density_g_per_ml = 0.82\n", "")],
        "setting vessels.stoneware tumbler.fill_volume_ml: fill over the brim. Found 302.4 g take "
        "336 ml. Expected at most 335.5 ml, as a cylinder of its inner diameter and height. Fill "
        "less, or correct the volume or the density."),
    "outer diameter": ([("outer_diameter_mm = 84.0", "outer_diameter_in = 2")],
        "setting vessels.stoneware tumbler.outer_diameter_mm: outer diameter below inner. Found "
        "50.8 mm. Expected more than 74 mm. Correct one of the two diameters."),
    "jug": ([("jug_g = 1400", "jug_g = 200")],
        "setting pour.jug_g: jug smaller than a candle. Found 200 g. Expected at least 206 g, one "
        "candle and what stays in the jug. Take a larger jug, or correct the fill."),
    "losses": ([("losses_pct = 3 ", "losses_pct = 100 ")],
        "setting pour.losses_pct: impossible value. Found 100. Expected less than 100. Check the "
        "number."),
    "cure": ([("[schedule]", "[schedule]\nfirst_burn_on = 2026-09-20")],
        "setting schedule.first_burn_on: cure too short. Found 2026-09-20. Expected 2026-09-21 or "
        "later: poured 2026-09-07, 14 days of cure. Burn later, or pour earlier."),
    "no day of pouring": ([("poured_on = 2026-09-07\n", "")],
        "setting pour.poured_on: missing setting. Expected poured_on = 2026-09-07. Give the day of "
        "pouring."),
    "a day in quotes": ([("poured_on = 2026-09-07", 'poured_on = "7 September"')],
        "setting pour.poured_on: wrong type of value. Found 7 September. Expected a day as in "
        "2026-09-07, without quotes. Write the year first, then month and day, without quotes."),
    "no time zone": ([('time_zone = "Europe/Lisbon"\n', "")],
        'setting time_zone: missing setting. Expected time_zone = "Europe/Lisbon", say. Name the '
        'zone of the bench, for the calendar.'),
    "sessions overlap": ([('"14:30"', '"13:00"')],
        "setting schedule.lit_at: sessions overlap. Found 13:00. Expected at least 272 min after "
        "the time before: lighting one candle every 4 min, a burn of 4 h and the last check. Light "
        "later, or burn one session a day."),
    "past midnight": ([('"14:30"', '"20:00"')],
        "setting schedule.lit_at: session past midnight. Found 20:00. Expected a time that leaves "
        "272 min of the day. Light earlier."),
    "nobody can watch": ([("minutes_per_check = 4", "minutes_per_check = 46")],
        "setting schedule.minutes_per_check: nobody can watch a candle. Found 46 min for a check. "
        "Expected at most 45 min, the time between checks less the spare time. Check faster, or "
        "keep less time spare."),
    "a day of the week": ([('"Fri"]', '"Friday"]')],
        "setting schedule.burn_days: not a day of the week. Found Friday. Expected Mon, Tue, Wed, "
        "Thu, Fri, Sat, Sun. Use these short names."),
    "a certain pass": ([("reliability_pct = 90", "reliability_pct = 100")],
        "setting aim.reliability_pct: impossible value. Found 100. Expected less than 100. Check "
        "the number."),
    "no difference": ([("difference_g_per_h = 0.8", "difference_g_per_h = 0")],
        "setting aim.difference_g_per_h: impossible value. Found 0. Expected a number above 0. "
        "Check the number."),
    "half of the spread": ([("burn_sd_g_per_h = 0.27\n", "")],
        "setting aim: half of a pair. Expected candle_sd_g_per_h and burn_sd_g_per_h. Give both, "
        "or neither."),
    "a number of people": ([(_SCHEDULE, "people = 1.5")],
        "setting schedule.people: wrong type of value. Found 1.5. Expected a whole number from 1. "
        "Write a whole number without quotes."),
    "a number that no float holds": ([(_SCHEDULE, f"people = {'9' * 400}")],
        f"setting schedule.people: wrong type of value. Found {'9' * 79}…. Expected a whole number "
        "from 1. Write a whole number without quotes."),
    "a unit where none belongs": ([(_SCHEDULE, "people_h = 1")],
        "setting schedule.people_h: unknown setting. Found people_h. Expected one of "
        "first_burn_on, burn_days, lit_at, people, minutes_per_check, spare_pct, margin_pct. Did "
        "you mean 'people'? Else take it out."),
    "zero": ([("minutes_per_check = 4", "minutes_per_check = 0")],
        "setting schedule.minutes_per_check: impossible value. Found 0. Expected a number above 0. "
        "Check the number."),
    "life": ([("burn_rate_g_per_h = 5.2", "burn_rate_g_per_h = 0.02")],
        "setting candidates 1.burn_rate_g_per_h: more burns than anybody logs. Found 0.02 g/h for "
        "199.8 g. Expected at most 200 burns of 4 h. Check the expected burn rate."),
    "no burn rate at all": (
        [("burn_rate_g_per_h = 5.6   # expected; it sets how many burns are planned\n", ""),
         ("burn_rate_g_per_h = 5.2\n", ""), ("burn_rate_g_per_h = 6.4\n", ""),
         ("burn_rate_g_per_h = 6.0\n", "")],
        "setting recipe.burn_rate_g_per_h: missing setting. Expected burn_rate_g_per_h = 5.5. Add "
        "burn_rate_g_per_h to [recipe], or to each candidate. Take it from an earlier batch; the "
        "first time guess, and plan anew after some burns."),
    "no number of candles of one": (
        [("candles = 4\n", ""), ('wick_size = "4"\n', 'wick_size = "4"\ncandles = 2\n'),
         ('wick_size = "3"\n', 'wick_size = "3"\ncandles = 2\n')],
        "setting candidates 2.candles: missing setting. Expected candles = 3. Add candles to this "
        "candidate, or to [recipe] for all of them."),
    "misspelt section": ([("[schedule]", "[shedule]")],
        "setting shedule: unknown setting. Found shedule. Expected one of title, question, stage, "
        "confirms, studio, time_zone, slash_dates, standard, load_basis, vessels, waxes, limits, "
        "protocol, instruments, scale, scent, prices, display, targets, columns, recipe, pour, "
        "layout, schedule, aim, candidates, benches. Did you mean 'schedule'? Else take it out."),
    "misspelt key": ([("spacing_mm", "spaceing_mm")],
        "setting layout.spaceing_mm: unknown setting. Found spaceing_mm. Expected one of seed, "
        "spacing_mm, edge_mm, candle_prefix. Did you mean 'spacing_mm'? Else take it out."),
    "scale": ([("scale_resolution_g = 0.1", "scale_resolution_g = 50")],
        "setting instruments.scale_resolution_g: scale too coarse. Found steps of 50 g for a fill "
        "of 199.8 g. Expected steps of a tenth of the fill at most. Check the scale's resolution "
        "and the fill."),
    "a formula": ([('wick_series = "flat braid"', 'wick_series = "flat braid"\ndye = "=A1"')],
        "setting candidates 1.dye: text that a spreadsheet runs as a formula. Found =A1. Expected "
        "a text that does not begin with = + - or @. Begin it with a letter or a digit."),
    "checks": ([("check_every_min = 60", "check_every_min = 0.01")],
        "setting protocol.check_every_min: checks too close together. Found 0.01 min. Expected at "
        "least 5 min. Check every hour, as the standard's record does."),
    "a long name": ([("[benches.window]", '[benches."the long bench by the north window"]')],
        "setting benches.the long bench by the north window: name too long for a log sheet. Found "
        "the long bench by the north window. Expected at most 24 characters. Shorten the name."),
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_one_fault_gives_one_message(case, tmp_path):
    changes, message = CASES[case]
    (found,) = faults(tmp_path, *changes)
    line, _, told = found.rpartition("setting ")
    told = found.removeprefix(line + "setting ")
    assert told == message.removeprefix("setting ")
    if line:  # the line has the setting, or is the head of its section
        key = told.partition(":")[0]
        lines = (tmp_path / "plan.toml").read_text(encoding="utf-8").splitlines()
        there = lines[int(line.removeprefix("line ").removesuffix(", ")) - 1]
        heads = (key, key.rpartition(".")[0], key.rpartition(" ")[0])
        head = there.strip("[]\"'").replace('"', "")
        assert key.rpartition(".")[2] in there or head in heads


def test_faults_of_both_files_and_no_candidate(tmp_path):
    found = faults(
        tmp_path,
        text='title = "x"\n[vessels.jar]\ninner_diameter_mm = 70\nfill_mass_g = 90\n',
        wicks="wick_series,wick_size\n",
    )
    assert [line.partition(". ")[0] for line in found] == [
        "setting benches: missing setting",
        "setting candidates: missing setting",
        "setting pour.poured_on: missing setting",
        "setting time_zone: missing setting",
        "must fix: wicks.csv, line 1: table without rows",
        "must fix: wicks.csv, line 1, column size_rank: missing column",
    ]


def test_a_list_of_wicks_without_sizes_is_one_fault(tmp_path):
    found = faults(tmp_path, wicks="wick_series,size_rank\nflat braid,1\n")
    assert [line.partition(". ")[0] for line in found] == [
        "must fix: wicks.csv, line 1, column wick_size: missing column"
    ]


def test_what_only_asks_for_a_look_stops_nothing(tmp_path):
    planned = read_plan(
        plan_file(
            tmp_path,
            ("spacing_mm = 200", "spacing_mm = 120"),
            (_RECIPE, "fragrance_load_pct = 18.0"),
        )
    )
    assert [(p.level, p.problem, p.line, p.found) for p in planned.problems.itertuples()] == [
        (LOOK, "implausible load", 15, "18 %"),
        (PROTOCOL, "candles close together", 70, "120 mm"),
    ]


def test_broken_toml_wrong_encoding_and_missing_files(tmp_path):
    found = faults(tmp_path, text='title = "x\n')
    assert found[0].startswith('line 1: line that cannot be read. Found title = "x. ')
    (tmp_path / "plan.toml").write_bytes(b'title = "\xff"\n')
    (tmp_path / "wicks.csv").unlink()
    with pytest.raises(PlanError) as raised:
        read_plan(tmp_path / "plan.toml")
    head, *lines = str(raised.value).splitlines()
    assert head.endswith("plan.toml: 2 problems to fix before anything is poured")
    assert lines == [
        "must fix: plan.toml, line 1: wrong encoding. Found byte 0xff. Expected UTF-8 text. Save "
        "the file again as UTF-8.",
        "must fix: wicks.csv: missing file. Expected a file wicks.csv beside plan.toml. Put the "
        "list of wick sizes there; the demo shows its form.",
    ]
    with pytest.raises(FileNotFoundError, match="is not a file"):
        read_plan(tmp_path / "nowhere.toml")


ODD = [
    0, -1, 0.0, 1e-300, 1e300, float("inf"), float("nan"), True, "", "x", "=1", [], [1], ["Mon"],
    {}, {"a": 1}, 10**30, 10**400, datetime.date(1, 1, 1), datetime.date(9999, 12, 31),
    datetime.datetime(2026, 9, 7), datetime.time(9),
]  # fmt: skip
_DEMO = tomllib.loads((DEMO_PLAN / "plan.toml").read_text(encoding="utf-8"))


def _places(data, path=()):
    """Every place of a parsed plan that holds something."""
    items = data.items() if isinstance(data, dict) else enumerate(data)
    for key, value in items:
        yield (*path, key)
        if isinstance(value, dict) or (
            isinstance(value, list) and value and isinstance(value[0], dict)
        ):
            yield from _places(value, (*path, key))


def _toml(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{k}" = {_toml(v)}' for k, v in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_toml, value)) + "]"
    if isinstance(value, datetime.date | datetime.time):
        return value.isoformat()
    return f'"{value}"' if isinstance(value, str) else repr(value)


def refusal(file):
    """Problems of a plan that is refused, else None."""
    try:
        read_plan(file)
    except PlanError as error:
        return error.problems
    return None


@pytest.mark.slow
@settings(max_examples=80, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.integers(0, 10**9), st.lists(st.sampled_from(ODD), min_size=1, max_size=3))
def test_odd_values_anywhere_give_a_plan_or_its_faults(tmp_path, seed, values):
    """Whatever stands in a plan: it is read and worked out, or refused with
    at least one thing to fix; never a crash."""
    data = tomllib.loads((DEMO_PLAN / "plan.toml").read_text(encoding="utf-8"))
    draw = random.Random(seed)
    for value in values:
        *way, last = draw.choice(list(_places(data)))
        here = data
        for key in way:
            here = here[key]
        here[last] = value
    text = "\n".join(f'"{key}" = {_toml(value)}' for key, value in data.items())
    file = plan_file(tmp_path, text=text)
    if (refused := refusal(file)) is not None:
        must_fix = refused[refused["level"] == MUST_FIX]
        assert len(must_fix)
        assert all(must_fix["what_to_do"])
        return
    for _, table in tables(read_plan(file)).values():
        assert len(table)

"""From a plan to a folder, through the simulated bench, to a report."""

import json
import shutil
import tomllib

import pandas as pd
import pytest
from batches import read
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import DEMO_PLAN, digests, plan_file

from candlelab.cli import main as cli
from candlelab.logs.batch import check_batch
from candlelab.logs.columns import PLANNED, TABLES
from candlelab.logs.problems import MUST_FIX, BurnLogError, ProblemList
from candlelab.logs.settings_reader import read_settings
from candlelab.logs.writer import write_batch
from candlelab.plan import folder as planning
from candlelab.plan.folder import FILES, SCENT_FILES
from candlelab.plan.planned import PlanError, read_plan
from candlelab.plan.words import FILE_WORDS
from candlelab.report.make import make_report
from candlelab.simulate.batch import simulate_batch
from candlelab.simulate.demo_batches import DEMO_WICKS
from candlelab.simulate.model import BatchPlan, Bench

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The demo's plan, made by the command; never written to."""
    out = tmp_path_factory.mktemp("plan") / "next-batch"
    before = digests(DEMO_PLAN)
    result = CliRunner().invoke(cli.main, ["plan", str(DEMO_PLAN / "plan.toml"), "--out", str(out)])
    assert (result.exit_code, result.stdout) == (0, f"{out / 'plan_batch.html'}\n")
    assert "22 burn sessions from 21 September 2026" in result.stderr
    assert digests(DEMO_PLAN) == before
    return out


def log(folder, seed):
    """Burn the planned batch on the simulated bench and fill in its logs, as its users would."""
    planned = read_plan(folder / "plan.toml")
    order = planned.layout.sort_values(["day_group", "candle"])
    wicks = planned.candles.set_index("candle")[["wick_series", "wick_size"]]
    candles = tuple((name, *wicks.loc[name]) for name in order["candle"])
    first = planned.sessions["lit_from"].iloc[0]
    bench = Bench(
        fill_g=199.8,
        first_day=f"{first:%Y-%m-%d}",
        first_lit=f"{first:%H:%M}",
        cure_days=14,
        group=8,
        group_gap_days=0,
        wall_stop_c=65.0,
    )
    made = simulate_batch(BatchPlan(DEMO_WICKS, candles, bench), seed=seed).tables
    fills = made["candles"].set_index("candle")["fill_mass_g"]
    weighed = planned.candles.assign(fill_mass_g=planned.candles["candle"].map(fills))
    write_batch(
        {"candles": weighed, "burns": made["burns"], "checks": made["checks"]},
        (folder / "batch.toml").read_text(encoding="utf-8"),
        folder,
    )


def test_the_page_names_every_file_of_the_folder():
    named = {name for names, _ in FILE_WORDS for name in names.split(", ")}
    assert named == {*FILES, *SCENT_FILES}


def test_the_folder_is_whole_and_reads(made):
    assert sorted(path.name for path in made.iterdir()) == sorted(FILES)
    batch = read(made)
    assert (len(batch.candles), len(batch.burns), len(batch.checks)) == (16, 0, 0)
    assert check_batch(made).to_dict("records") == []
    assert (made / "wicks.csv").read_bytes() == (DEMO_PLAN / "wicks.csv").read_bytes()
    assert (made / "plan.toml").read_bytes() == (DEMO_PLAN / "plan.toml").read_bytes()


def test_the_logs_hold_every_row_that_the_plan_knows_and_nothing_else(made):
    planned = read_plan(DEMO_PLAN / "plan.toml")
    tables = {
        name: pd.read_csv(made / f"{name}.csv", dtype="str", keep_default_na=False)
        for name in ("burns", "checks")
    }
    for name, table in tables.items():
        assert list(table.columns) == [c.name for c in TABLES[name].columns]
        assert (table.drop(columns=list(PLANNED[name])) == "").all(axis=None)
        assert not (table[list(PLANNED[name])] == "").any(axis=None)
        assert not table.duplicated(list(TABLES[name].key)).any()
    burns, checks = tables["burns"], tables["checks"]
    of = planned.layout.set_index("candle")["day_group"]
    first = burns[burns["burn"] == "1"]
    assert sorted(first["candle"]) == sorted(of.index)
    for session in planned.sessions.itertuples():
        own = burns[
            (burns["burn"] == str(session.burn)) & (burns["candle"].map(of) == session.day_group)
        ]
        assert len(own) == session.n_candles
        lit = pd.to_datetime(own["due_at"]).dt.tz_localize(session.lit_from.tz)
        assert lit.min() == session.lit_from  # then one after the other, as on the log sheets
        assert set(lit.diff().dropna()) == {pd.Timedelta(minutes=4)}
        rows = checks.merge(own[["candle", "burn", "due_at"]], on=["candle", "burn"])
        after = pd.to_datetime(rows["due_at_x"]) - pd.to_datetime(rows["due_at_y"])
        assert (after == pd.to_timedelta(rows["elapsed_min"].astype(int), unit="min")).all()
        assert len(rows) == 4 * session.n_candles


def test_nothing_can_be_said_of_it_before_the_first_burn(made, tmp_path):
    with pytest.raises(BurnLogError, match=r"burns\.csv: nothing burned yet"):
        make_report(made, tmp_path / "report")
    assert not (tmp_path / "report").exists()


def test_a_plan_filled_by_the_simulated_bench_reads_with_no_problem_and_reports(made, tmp_path):
    folder = tmp_path / "next-batch"
    shutil.copytree(made, folder)
    log(folder, seed=11)
    assert check_batch(folder).to_dict("records") == []
    batch = read(folder)
    planned = read_plan(folder / "plan.toml")
    assert len(batch.burns) > 100
    assert set(batch.burns["candle"]) == set(planned.layout["candle"])
    assert (batch.candles["bench_position"] == planned.layout["bench_position"]).all()
    page = make_report(folder, tmp_path / "report")
    record = json.loads((page.parent / "results.json").read_text(encoding="utf-8"))
    ranking = record["tables"]["ranking"]
    ranked = pd.DataFrame(
        ranking["data"], columns=[column["name"] for column in ranking["columns"]]
    )
    assert page.is_file()
    assert set(ranked["candidate"]) == set(planned.candidates["candidate"])
    assert set(ranked["n_candles"]) == {4}
    before = digests(folder)
    result = CliRunner().invoke(
        cli.main, ["plan", str(DEMO_PLAN / "plan.toml"), "--out", str(folder)]
    )
    assert result.exit_code == 2
    assert (
        "is not as a plan left it (candles.csv, burns.csv, checks.csv). It stays as it is"
        in " ".join(result.stderr.split())
    )
    assert digests(folder) == before


@pytest.mark.parametrize("seed", range(12, 15))
def test_other_simulated_batches_read_with_no_problem_too(made, tmp_path, seed):
    folder = tmp_path / "batch"
    shutil.copytree(made, folder)
    log(folder, seed)
    assert check_batch(folder).to_dict("records") == []


def test_the_settings_pass_into_the_batch(made):
    batch, plan = read(made).settings, read_plan(DEMO_PLAN / "plan.toml").plan.settings
    for name in (
        "title",
        "question",
        "stage",
        "studio",
        "time_zone",
        "load_basis",
        "limits",
        "protocol",
        "instruments",
        "targets",
    ):
        assert getattr(batch, name) == getattr(plan, name)
    (vessel,), (wax,) = batch.vessels.values(), batch.waxes.values()
    assert (vessel.inner_diameter_mm, vessel.brimful_volume_ml, wax.cure_days) == (
        74.0,
        325.0,
        14.0,
    )


@settings(max_examples=40)
@given(st.text(min_size=1), st.text(), st.text(min_size=1), st.floats(1e-6, 1e6), st.floats(0, 1e9))
def test_any_text_and_number_comes_back_from_batch_toml(title, studio, vessel, inner, caution):
    # lone halves of a surrogate pair are no text that a file can hold
    texts = [t.encode("utf-8", "ignore").decode() for t in (title, studio, vessel)]
    data = {"title": texts[0], "studio": texts[1]} | {
        "vessels": {texts[2]: {"inner_diameter_mm": inner}},
        "limits": {"wall_caution_c": caution},
    }
    problems = ProblemList()
    first = "\n".join(f"{key} = {planning._toml(data[key])}" for key in ("title", "studio"))
    first += (
        "\n"
        f"[vessels.{planning._toml(texts[2])}]\n"
        f"inner_diameter_mm = {inner!r}\n"
        "[limits]\n"
        f"wall_caution_c = {caution!r}\n"
    )
    read = read_settings(first, problems)
    text = planning.batch_toml(read)
    assert tomllib.loads(text)["title"] == texts[0]
    assert read_settings(text, ProblemList()) == read


def test_a_studios_own_headings_pass_into_the_batch(tmp_path):
    text = (DEMO_PLAN / "plan.toml").read_text("utf-8")
    text += '\n[columns.burns]\n"Start \\"wt\\" (oz)" = "mass_before_oz"\n"Who" = ""\n'
    planned = read_plan(plan_file(tmp_path, text=text))
    own = {"burns": {'Start "wt" (oz)': "mass_before_oz", "Who": ""}}
    assert planned.plan.settings.columns == own
    again = read_settings(planning.batch_toml(planned.plan.settings), ProblemList())
    assert again.columns == own


def test_numbers_of_the_record_are_those_of_the_tables(made):
    record = json.loads((made / "plan.json").read_text(encoding="utf-8"))
    planned = read_plan(DEMO_PLAN / "plan.toml")
    pours = record["tables"]["pours"]
    names = [column["name"] for column in pours["columns"]]
    wax = [row[names.index("wax_g")] for row in pours["data"]]
    assert wax == list(planned.pours["wax_g"])
    assert record["tables"]["layout"]["rows"] == 16
    assert record["seed"] == 20260907
    assert record["files"] == {
        name: digest for name, digest in digests(made).items() if name != "plan.json"
    }


def test_recipe_identities_of_the_plan(tmp_path):
    """Wax + fragrance = fill, poured + lost = weighed out, and totals are sums,
    for several recipes and a scale in ounces."""
    second = (
        '[[candidates]]\nwick_series = "wooden"\nwick_size = "10"\nfragrance_load_pct = '
        "3.5\ncandles = 2\n\n[vessels."
    )
    plain = (
        "[[candidates]]\n"
        'wick_series = "wooden"\n'
        'wick_size = "8"\n'
        'fragrance = ""\n'
        "fragrance_load_pct = 0\n"
        "candles = 3\n\n"
        "[vessels."
    )
    file = plan_file(
        tmp_path,
        ("[vessels.", second),
        ("[vessels.", plain),
        ("scale_resolution_g = 0.1", "scale_resolution_oz = 0.005"),
        ("candles = 4\n", "candles = 2\n"),
    )
    planned = read_plan(file)
    for table, parts, whole in (
        (planned.recipes, ("wax_g", "fragrance_g"), "fill_mass_g"),
        (planned.pours, ("wax_g", "fragrance_g"), "weighed_out_g"),
        (planned.pours, ("poured_g", "losses_g"), "weighed_out_g"),
    ):
        assert (table[parts[0]] + table[parts[1]] - table[whole]).abs().max() < 1e-8
    assert list(planned.recipes["fragrance_load_pct"]) == [8.0, 3.5, 0.0]
    assert planned.recipes["n_candles"].sum() == len(planned.candles) == 13
    assert planned.pours["n_candles"].sum() == 13
    assert planned.pours["poured_g"].sum() == pytest.approx(planned.candles["fill_mass_g"].sum())
    wax = planned.materials.set_index("item")["needed_g"]
    assert wax["coconut and rapeseed"] + wax["fig leaf"] == pytest.approx(
        planned.pours["weighed_out_g"].sum()
    )
    assert (planned.materials["to_order_g"] >= planned.materials["needed_g"]).all()
    assert (planned.pieces["n_to_order"] >= planned.pieces["n_needed"]).all()
    assert (planned.pours["losses_g"] >= 0.03 * planned.pours["weighed_out_g"] - 1e-6).all()


def test_pours_have_their_share_of_every_candidate():
    planned = read_plan(DEMO_PLAN / "plan.toml")
    of = planned.layout.set_index("candle")["candidate"]
    for candles in planned.pours["candles"]:
        counts = (
            of[candles.split(", ")]
            .value_counts()
            .reindex(planned.candidates["candidate"], fill_value=0)
        )
        assert counts.max() - counts.min() <= 1


def test_a_plan_with_faults_leaves_nothing_and_ends_with_1(tmp_path):
    file = plan_file(
        tmp_path / "plan",
        ("fragrance_load_pct = 8.0", "fragrance_load_pct = 108.0"),
        ('wick_size = "3"', 'wick_size = "7"'),
    )
    result = CliRunner().invoke(cli.main, ["plan", str(file), "--out", str(tmp_path / "out")])
    assert result.exit_code == 1
    assert result.stdout == ""
    assert result.stderr.splitlines()[0].endswith(
        "plan.toml: 2 problems to fix before anything is poured"
    )
    assert not (tmp_path / "out").exists()


def test_wrong_usage(tmp_path):
    result = CliRunner().invoke(
        cli.main, ["plan", str(tmp_path / "nowhere.toml"), "--out", str(tmp_path / "out")]
    )
    assert result.exit_code == 2
    assert "is not a file. Give the plan" in result.stderr
    assert CliRunner().invoke(cli.main, ["plan", str(DEMO_PLAN / "plan.toml")]).exit_code == 2


def test_the_page_names_no_folder_of_this_machine_and_loads_nothing(made):
    for name in ("plan_batch.html", "plan_batch.ipynb", "plan.json"):
        text = (made / name).read_text(encoding="utf-8")
        assert str(made.parent) not in text
        assert "unfinished" not in text
        assert str(DEMO_PLAN.parents[2]) not in text
    page = (made / "plan_batch.html").read_text(encoding="utf-8").replace("\u00a0", " ")
    assert "<script" not in page
    assert "http://" not in page
    assert "https://" not in page
    assert (
        "16 candles of 4 candidates (4 each) are poured on 7 September 2026 in 3 pours, and cured "
        "on 21 September 2026." in page
    )
    assert (
        "1 person can watch 11 at once, at 4 min a check. They burn in 2 groups, since so many "
        "cannot be watched at once." in page
    )
    assert "Never leave a test burn alone." in page
    assert "accredited laboratory" in page


def test_problems_of_a_plan_are_one_table(tmp_path):
    with pytest.raises(PlanError) as raised:
        read_plan(plan_file(tmp_path, ("jug_g = 1400", "jug_g = 14")))
    assert list(raised.value.problems["level"]) == [MUST_FIX]


def test_a_plan_says_what_its_candles_show(tmp_path):
    """The numbers themselves are held to R and to published tables in test_power."""
    shown = read_plan(DEMO_PLAN / "plan.toml").showing
    assert (shown.wanted.candidates, shown.wanted.affordable, shown.burns) == (4, 4, 9)
    assert shown.needed == {
        "difference": 4,
        "claim": 29,
    }  # 29 of 29: success run for 90 % with 95 % confidence
    assert (
        shown.answer[0]
        == "To find a difference in burn rate of 0.8 g/h in 80 of 100 such batches, burn 4 candles "
        "of each candidate (16 in all)."
    )
    assert shown.method[0].endswith("It comes from [aim] of the plan.")
    text = (DEMO_PLAN / "plan.toml").read_text(encoding="utf-8")
    start, end = text.index("[aim]"), text.index("[protocol]")
    assumed = read_plan(plan_file(tmp_path, (text[start:end], ""))).showing
    assert assumed.wanted.difference == 0.5
    assert "because no earlier batch was given" in assumed.method[0]


def test_a_plan_of_one_candidate_asks_for_no_difference(tmp_path):
    text = (DEMO_PLAN / "plan.toml").read_text(encoding="utf-8")
    start = text.index("[[candidates]]", text.index("[[candidates]]") + 1)
    planned = read_plan(plan_file(tmp_path, (text[start : text.index("[vessels.")], "")))
    assert planned.showing.needed == {"claim": 29}

"""A plan made again: never over what somebody has logged, and the same bytes for the same plan."""

import shutil

import plans
import pytest
from click.testing import CliRunner
from plans import DEMO_PLAN, digests, plan_file, without_page

from candlelab.cli import main as cli
from candlelab.pages.publish import NotOurFolder
from candlelab.pages.run import ReportFailed
from candlelab.plan import folder as planning
from candlelab.plan.folder import LoggedAlready, make_plan

pytestmark = pytest.mark.slow


@pytest.fixture
def quick():
    """Plans without a notebook run."""
    with without_page():
        yield


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    """The demo's plan with a quarter of its candles, which takes less time."""
    return plan_file(tmp_path_factory.mktemp("small"), ("candles = 4", "candles = 1"))


@pytest.fixture(scope="module")
def made(small, tmp_path_factory):
    """A folder that was planned; copied before anybody touches it."""
    with without_page():
        out = tmp_path_factory.mktemp("plan") / "batch"
        make_plan(small, out)
    return out


@pytest.mark.usefixtures("quick")
def test_the_same_plan_gives_the_same_folder(small, tmp_path, monkeypatch):
    monkeypatch.setattr(planning, "_write_workbook", plans._write_workbook)
    one, other = tmp_path / "one", tmp_path / "other"
    make_plan(small, one)
    make_plan(one / "plan.toml", other)
    assert digests(one) == digests(other)


@pytest.mark.usefixtures("quick")
def test_an_untouched_plan_is_replaced_and_may_be_changed_in_its_own_folder(small, tmp_path):
    out = tmp_path / "batch"
    make_plan(small, out)
    first = digests(out)
    make_plan(out / "plan.toml", out)
    assert digests(out) == first
    plan_file(out, ("seed = 20260907", "seed = 2"))
    make_plan(out / "plan.toml", out)
    assert "seed = 2\n" in (out / "plan.toml").read_text(encoding="utf-8")
    assert digests(out)["candles.csv"] != first["candles.csv"]


@pytest.mark.parametrize(
    "name", ["burns.csv", "checks.csv", "candles.csv", "batch.toml", "log_sheets_a4.html"]
)
@pytest.mark.usefixtures("quick")
def test_a_folder_that_was_touched_is_never_replaced(small, tmp_path, made, name):
    out = tmp_path / "batch"
    shutil.copytree(made, out)
    with open(out / name, "a", encoding="utf-8") as file:
        file.write("C01,1,2026-09-21 09:00\n")
    before = digests(out)
    with pytest.raises(LoggedAlready, match=rf"not as a plan left it \({name}\)"):
        make_plan(small, out)
    assert digests(out) == before
    assert [p.name for p in tmp_path.iterdir()] == ["batch"]


@pytest.mark.usefixtures("quick")
def test_a_batch_that_was_never_planned_and_other_files_are_never_replaced(small, tmp_path):
    demo = DEMO_PLAN.parent / "confirmation"
    shutil.copytree(demo, tmp_path / "batch")
    with pytest.raises(
        LoggedAlready, match=r"batch\.toml, candles\.csv, burns\.csv, checks\.csv, wicks\.csv"
    ):
        make_plan(small, tmp_path / "batch")
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "dear.txt").write_text("keep")
    with pytest.raises(NotOurFolder, match=r"dear\.txt"):
        make_plan(small, tmp_path / "mine")
    out = tmp_path / "with a throw table"
    make_plan(small, out)
    (out / "throw.csv").write_text("candle,burn,assessor,score\n")
    with pytest.raises(NotOurFolder, match=r"throw\.csv"):
        make_plan(small, out)
    assert digests(tmp_path / "batch") == digests(demo)


@pytest.mark.usefixtures("quick")
def test_what_is_logged_while_the_plan_is_made_again_is_not_lost(small, monkeypatch, tmp_path):
    out = tmp_path / "batch"

    def meanwhile(*_):
        if (out / "burns.csv").exists():
            with open(out / "burns.csv", "a") as file:
                file.write("C01,1\n")
        return "{}", "<p>", "{}"

    monkeypatch.setattr(planning, "notebook_texts", meanwhile)
    make_plan(small, out)
    with pytest.raises(LoggedAlready):
        make_plan(small, out)
    assert (out / "burns.csv").read_text().endswith("C01,1\n")
    assert [p.name for p in tmp_path.iterdir()] == ["batch"]


@pytest.mark.usefixtures("quick")
def test_a_plan_whose_page_fails_leaves_the_old_folder(small, monkeypatch, tmp_path):
    out = tmp_path / "batch"
    make_plan(small, out)
    before = digests(out)

    def broken(*_):
        raise ReportFailed("plan_batch.ipynb, cell 3: MemoryError: ")

    monkeypatch.setattr(planning, "notebook_texts", broken)
    result = CliRunner().invoke(cli.main, ["plan", str(small), "--out", str(out)])
    assert (result.exit_code, result.stderr) == (
        3,
        "Not done: plan_batch.ipynb, cell 3: MemoryError: \n",
    )
    assert digests(out) == before
    assert [p.name for p in tmp_path.iterdir()] == ["batch"]

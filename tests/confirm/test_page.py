"""The page of a confirmation: its files, words and figure; odd pairs must still make a page."""

import json
import re

import matplotlib
import pytest

matplotlib.use("Agg")

import numpy as np
from batches import read
from click.testing import CliRunner
from confirmed import CONFIRMATION, FRESH, OTHERS, SCREENED, made
from places import BROKEN, DEMO

from candlelab.cli.main import main
from candlelab.confirm.confirmation import confirm_pick
from candlelab.confirm.figures import draw_confirmation
from candlelab.confirm.words import answer, decisions
from candlelab.pages import show as page
from candlelab.pages.record import table_record
from candlelab.pages.run import outputs, shipped
from candlelab.report.make import make_confirmation
from candlelab.units import Display

pytestmark = pytest.mark.slow


def shown(monkeypatch, first, second, candidates=()):
    """All that the notebook shows, made in this process, and its record."""
    said, record, keep = [], {}, page.display
    page.display = lambda item, **_: (
        (said.append(item["text/plain"]), record.update(item.get("application/json", {})))
        if isinstance(item, dict)
        else said.append(item.data)
    )
    try:
        names = {}
        monkeypatch.setattr("candlelab.logs.batch.read_batch", read)
        for cell in json.loads(
            (shipped("notebooks") / "confirm_pick.ipynb").read_text(encoding="utf-8")
        )["cells"]:
            if "parameters" in cell["metadata"].get("tags", []):
                names |= {
                    "screening_folder": str(first),
                    "confirmation_folder": str(second),
                    "candidates": list(candidates),
                    "batch_sd_pct": 3.0,
                }
            elif cell["cell_type"] == "code":
                exec("".join(cell["source"]), names)
    finally:
        page.display = keep
    return record, "\n".join(said)


@pytest.fixture(scope="module")
def made_page(tmp_path_factory):
    out = tmp_path_factory.mktemp("page") / "out"
    run = CliRunner().invoke(
        main, ["confirm", str(DEMO / "screening"), str(DEMO / "confirmation"), "--out", str(out)]
    )
    return run, out


def test_the_command_prints_verdicts_and_the_place(made_page):
    run, out = made_page
    assert run.exit_code == 0, run.output
    assert run.stdout == f"{out / 'confirm_pick.html'}\n"
    assert run.stderr.startswith(
        "Square braid 2 stands: its fresh candles burned as the screening said.\n"
    )
    assert "Paper-cored 4 does not stand" in run.stderr
    assert sorted(p.name for p in out.iterdir()) == sorted(outputs("confirm_pick"))


def test_the_page_says_the_answer_first_then_what_it_rests_on(made_page):
    text = (made_page[1] / "confirm_pick.html").read_text(encoding="utf-8")
    places = [
        text.index(words)
        for words in (
            "Square braid 2 stands: its fresh candles burned as the screening said.",
            "<figure>",
            "How many candles passed?",
            "Is it the same recipe",
            ">Appendix<",
            "Stay with every flame.",
            "Verdicts</caption>",
            "How this was worked out",
            "SHA-256",
        )
    ]
    assert places == sorted(places)
    assert "This is your own test, not a certificate." in text
    assert "<script" not in text
    assert "nan" not in re.sub(r"base64,[^\"]*", "", text).lower().split()


def test_results_are_those_of_a_direct_call(made_page, demo):
    record = json.loads((made_page[1] / "results.json").read_text(encoding="utf-8"))
    lines = [line for box in decisions(demo) for line in box.lines]
    assert record["answer"] == [*lines, *answer(demo)]
    assert (
        record["answer"][0]
        == "Square braid 2 stands: its fresh candles burned as the screening said."
    )
    assert record["tables"]["ranges"] == json.loads(
        json.dumps(table_record("a candidate and a measurement", demo.ranges))
    )
    assert record["parameters"] == {
        "screening_folder": "screening",
        "confirmation_folder": "confirmation",
        "candidates": [],
        "batch_sd_pct": 3.0,
    }
    assert {row["round"] for row in record["inputs"]} == {"screening", "confirmation"}
    assert all(len(row["sha256"]) == 64 for row in record["inputs"])
    for table in record["tables"].values():
        assert table["rows"] == len(table["data"])
        assert all(column["meaning"] for column in table["columns"])


@pytest.mark.parametrize(
    ("folders", "more", "said"),
    [
        (("screening", "screening"), (), "candles cannot confirm themselves"),
        (("screening", "nowhere"), (), "is not a folder"),
        (
            ("screening", "confirmation"),
            ("--candidate", "wool 3"),
            "There is no candidate wool 3. There are",
        ),
        (("screening", "confirmation"), ("--batch-sd-pct", "40"), "is not in the range"),
        (
            ("screening", "confirmation"),
            ("--out", str(DEMO / "confirmation" / "page")),
            "is inside the batch folder",
        ),
    ],
)
def test_wrong_use_ends_with_2(tmp_path, folders, more, said):
    where = () if "--out" in more else ("--out", str(tmp_path / "out"))
    run = CliRunner().invoke(
        main, ["confirm", *(str(DEMO / name) for name in folders), *more, *where]
    )
    assert run.exit_code == 2
    assert said in run.stderr
    assert not (tmp_path / "out").exists()


def test_a_broken_batch_ends_with_1_and_writes_nothing(tmp_path):
    broken = BROKEN / "broken_quoting" / "batch"
    run = CliRunner().invoke(
        main, ["confirm", str(DEMO / "screening"), str(broken), "--out", str(tmp_path / "out")]
    )
    assert run.exit_code == 1
    assert "burns.csv" in run.stderr
    assert not (tmp_path / "out").exists()


def test_an_old_page_stays_when_the_new_one_cannot_be_made(made_page):
    with pytest.raises(ValueError, match="There is no candidate"):
        make_confirmation(
            DEMO / "screening", DEMO / "confirmation", made_page[1], candidates=["wool 3"]
        )
    assert sorted(p.name for p in made_page[1].iterdir()) == sorted(outputs("confirm_pick"))


PAIRS = {
    "nothing in common": ({}, {"wick": "square braid 3"}),
    "no check at all": ({}, {"drop": ("flame_height_mm", "wall_c", "pool_diameter_mm", "soot")}),
    "no spread": ({"used": dict.fromkeys(SCREENED, 19.37), "more": ()}, {}),
    "one screened candle": ({"used": {"S1": 19.37}, "more": ()}, {}),
    "one fresh candle": ({}, {"used": {"C1": 19.3}}),
    "unfinished": ({}, {"burns": 2}),
    "unfinished screening": ({"burns": 2}, {}),
    "far outside": ({}, {"used": FRESH | {"C3": 16.4}}),
    "never a full pool": ({"seen": {name: {"pool_diameter_mm": 40} for name in SCREENED}}, {}),
    "never a full pool again": ({}, {"seen": {name: {"pool_diameter_mm": 40} for name in FRESH}}),
    "a changed size beside it": ({}, {"more": [({"D1": 20.0}, "flat braid 3")]}),
    "names that look like markup": (
        {},
        {"wax": "<b>$x$</b>", "toml": CONFIRMATION.replace("waxes.soy", 'waxes."<b>$x$</b>"')},
    ),
}


@pytest.mark.parametrize("name", PAIRS)
def test_odd_pairs_make_a_page(tmp_path, monkeypatch, name):
    old, new = PAIRS[name]
    first = made(tmp_path / "first", **{"used": SCREENED, "more": [(OTHERS, "flat braid 1")]} | old)
    second = made(tmp_path / "second", **{"used": FRESH, "toml": CONFIRMATION, "month": 8} | new)
    record, text = shown(monkeypatch, first, second)
    json.dumps(record, allow_nan=False)
    assert record["answer"]
    assert any("your own test, not a certificate." in line for line in record["answer"])
    plain = re.sub(r"<[^>]+>", " ", text)
    assert not re.search(r"\b(nan|NaN|None|inf|<NA>)\b", plain), re.search(
        r".{60}\b(nan|NaN|None|inf)\b.{60}", plain
    )
    assert "<b>$x$</b>" not in text


def test_never_a_full_pool_is_above_the_range(tmp_path):
    first = made(tmp_path / "first", SCREENED, more=[(OTHERS, "flat braid 1")])
    second = made(
        tmp_path / "second",
        FRESH,
        toml=CONFIRMATION,
        month=8,
        seen={"C2": {"pool_diameter_mm": 40}},
    )
    result = confirm_pick(read(first), read(second))
    pools = result.candles[result.candles["metric"] == "full_pool_h"].set_index("candle")
    assert pools.loc["C1", ["after", "until"]].tolist() == [2.0, 3.0]
    assert pools.at["C2", "after"] == 4.0
    assert np.isnan(pools.at["C2", "until"])
    assert np.isnan(pools.at["C2", "value"])
    high = result.ranges.set_index("metric").at["full_pool_h", "range_high"]
    assert pools.at["C2", "fell"] == ("above" if high < 4.0 else "ends between two checks")


def test_the_figure_has_a_panel_for_each_measurement_and_words(demo):
    figure = draw_confirmation(demo.ranges, demo.candles, demo.screened)
    panels = [ax for ax in figure.axes if ax.axison]
    assert [ax.get_xlabel() for ax in panels] == list(dict.fromkeys(demo.ranges["quantity"]))
    bands = [p for p in panels[0].patches]
    assert [(p.get_x(), p.get_x() + p.get_width()) for p in bands] == [
        (pytest.approx(row.range_low), pytest.approx(row.range_high))
        for row in demo.ranges.itertuples()
        if row.metric == "burn_rate_g_per_h"
    ]
    assert (
        "square braid 2, burn rate (g/h): 4.57 to 6.87, 6 fresh candles, 0 outside"
        in figure.get_label()
    )


def test_the_panel_of_the_wall_shows_the_stop_limit(demo):
    """The batch's 65 degC, which is 149 degF, and no other panel has a line of it."""
    assert demo.limits == {"wall_max_warm_room_c": 65.0}
    drawn = demo.ranges, demo.candles, demo.screened
    figure = draw_confirmation(*drawn, limits=demo.limits, display=Display(temperature="F"))
    lines = {
        ax.get_xlabel(): [
            line.get_xdata()[0] for line in ax.lines if line.get_label() == "your stop limit"
        ]
        for ax in figure.axes
        if ax.axison
    }
    assert lines.pop("highest wall, warm room (°F)") == pytest.approx([149.0])
    assert lines
    assert figure.get_label().endswith("Your stop limit: 149 °F (65 °C).")
    assert not any(lines.values())


def test_a_figure_without_a_range_says_so(demo):
    figure = draw_confirmation(demo.ranges.assign(range_low=np.nan), demo.candles, demo.screened)
    assert figure.get_label() == "No range could be predicted, so there is nothing to draw."

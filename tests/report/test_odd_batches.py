"""Batches that read without a fault and are odd all the same: the whole report of each, made in
this process.
"""

import html
import json
import re

import matplotlib
import pytest

matplotlib.use("Agg")


from batches import TOML, WICKS, burn, candle, check, checks, life, read, write

from candlelab.judge.safety import PASS
from candlelab.pages import show as page
from candlelab.pages.run import shipped
from candlelab.report.results import batch_results

LIFE, SEEN = life("A")
ODD_NAMES = (
    '$a_{1}^2$ <i>{x}</i>, "q" \U0001f600',
    "\u05e9\u05dc\u05d5\u05dd",
    "x" * 150,
    "%s {0} \u6f22",
    "-",
)


def report(folder):
    """The results, their page, and all that the report's notebook shows, as HTML and words."""
    shown, keep = [], page.display
    page.display = lambda item, **_: shown.append(
        html.escape(item["text/plain"]) if isinstance(item, dict) else item.data
    )
    try:
        names = {}
        for cell in json.loads(
            (shipped("notebooks") / "batch_report.ipynb").read_text(encoding="utf-8")
        )["cells"]:
            if "parameters" in cell["metadata"].get("tags", []):
                names["batch_folder"] = str(folder)
            elif cell["cell_type"] == "code":
                exec("".join(cell["source"]), names)
    finally:
        page.display = keep
    return names["results"], names["page"], "\n".join(shown)


def without(rows, *columns):
    return [{name: value for name, value in row.items() if name not in columns} for row in rows]


def change(before, size, name="A"):
    return {"candle": name, "before_burn": before, "wick_series": "flat braid", "wick_size": size}


def odd_names():
    wicks = [{"wick_series": series, "wick_size": "$2_3", "size_rank": 1} for series in ODD_NAMES]
    rows = [
        candle(name[:40], "x $2_3", fragrance="", dye=name) | {"wick_series": name}
        for name in ODD_NAMES
    ]
    lives = [life(row["candle"]) for row in rows]
    return {
        "candles": rows,
        "burns": [row for burns, _ in lives for row in burns],
        "checks": [row for _, seen in lives for row in seen],
        "wicks": wicks,
        "toml": TOML.replace("made by hand", "<u>{{7*7}}</u> {x} \\n $x_1^2$"),
    }


A = [candle("A")]
BURNED = {"burns": LIFE, "checks": SEEN}
BATCHES = {
    "no check at all": {"burns": LIFE},
    "nothing but the time of each check": {
        "burns": LIFE,
        "checks": [{k: row[k] for k in ("candle", "burn", "elapsed_min")} for row in SEEN],
    },
    "no wax used": {"burns": [burn("A", 1, 0)], "checks": checks("A", 1)},
    "burns of ten minutes": {
        "burns": [burn("A", n, 1, h=1 / 6) for n in (1, 2, 3)],
        "checks": [check("A", n, 0) for n in (1, 2, 3)],
    },
    "no room, no end, no smoke": {
        "burns": without(LIFE, "room_c", "ended_by", "aftersmoke_s"),
        "checks": SEEN,
    },
    "left out as a whole": BURNED | {"exclusions": [{"candle": "A", "reason": "x"}]},
    "first wick left out": BURNED
    | {"wick_changes": [change(2, "3")], "exclusions": [{"candle": "A", "burn": 1, "reason": "x"}]},
    "changed and changed back": BURNED
    | {"wick_changes": [change(2, "3"), change(3, "3"), change(5, "2")]},
    "odd names": odd_names(),
}


@pytest.mark.slow
@pytest.mark.parametrize("name", BATCHES)
def test_the_report_says_nothing_odd(name, tmp_path):
    results, shown, text = report(write(tmp_path / "batch", **({"candles": A} | BATCHES[name])))
    json.dumps(shown.record(), allow_nan=False)
    assert not re.search(
        r"\b(nan|inf|None|NaT|<NA>)\b|[^\d]-0\.0+\b", re.sub(r"<[^>]*>", " ", text)
    )
    assert "<i>" not in text
    assert "<u>" not in text
    assert name == "odd names" or PASS not in set(results.ranking["standard_verdict"])


@pytest.mark.slow
def test_a_figure_without_readings_says_so(tmp_path):
    text = report(write(tmp_path / "batch", A, LIFE))[2]
    assert "No melt pool was measured." in text
    assert "No wall, flame or melt pool was measured." in text


@pytest.mark.slow
def test_a_row_for_each_wick_of_a_candle(tmp_path):
    """Two wicks of one size are two rows: the failure on one must not hide behind the other."""
    seen = life("A")[1]
    seen[10]["soot"] = 3  # burn 3
    folder = write(tmp_path / "batch", A, LIFE, seen, wick_changes=[change(3, "2"), change(4, "2")])
    text = report(folder)[2]
    for row in ("A, flat braid 2", "A, flat braid 2, second wick", "A, flat braid 2, third wick"):
        assert text.count(f'<th scope="row">{row}</th>') == 2
    assert '<span class="unseen">fail</span>' in text


@pytest.mark.slow
def test_many_changes_and_many_candles_keep_their_figures(tmp_path):
    names = [f"K{n:02d}" for n in range(20)]
    lives = [life(name, burns=2, used=48) for name in names]
    burns = [row for own, _ in lives for row in own]
    seen = [row for _, own in lives for row in own]
    folder = write(
        tmp_path / "batch",
        [candle(name) for name in names],
        burns,
        seen,
        wick_changes=[change(2, "3", name) for name in names],
    )
    report(folder)


def test_a_candle_without_a_burn_is_named(tmp_path):
    batch = read(write(tmp_path / "batch", [candle("A"), candle("B", "flat braid 3")], LIFE, SEEN))
    assert "Next: Light what is not burned yet: B." in batch_results(batch).answer


def test_nothing_can_be_judged_when_every_candle_is_left_out(tmp_path):
    batch = read(
        write(tmp_path / "batch", A, LIFE, SEEN, exclusions=[{"candle": "A", "reason": "x"}])
    )
    assert batch_results(batch).answer[:3] == (
        "No wick can be picked yet: no candle has passed every safety check.",
        "This is screening evidence, not a certificate.",
        "Not fully checked: flat braid 2. Every candle of it was set aside.",
    )


def test_wax_added_is_wax_to_burn(tmp_path):
    """100 g poured, 50 g put on top, 80 g used, out by itself: 70 g stand, so this is no end of
    life.
    """
    burns = [
        burn("A", 1, 40),
        burn("A", 2, 40, mass_before_g=410, note="topped up", ended_by="self"),
    ]
    results = batch_results(
        read(write(tmp_path / "batch", A, burns, checks("A", 1) + checks("A", 2)))
    )
    (row,) = results.candles.to_dict("records")
    assert (row["wax_left_g"], row["wax_left_pct"], row["ended"]) == (
        pytest.approx(70),
        pytest.approx(70),
        False,
    )
    assert results.burns["fill_used_start_pct"].tolist() == pytest.approx([0, -10])
    assert results.ranking["standard_verdict"].tolist() == ["not checked"]


def test_wax_taken_is_not_left(tmp_path):
    """100 g poured, 40 g used, 10 g levelled off, 48 g used: 2 g stand.

    Smaller steps are the scale's: 0.4 g lost counts as nothing.
    """
    burns = [
        burn("A", 1, 40),
        burn("A", 2, 48, mass_before_g=350, note="levelled", ended_by="self"),
        burn("B", 1, 40),
        burn("B", 2, 48, mass_before_g=359.6, ended_by="self"),
    ]
    results = batch_results(read(write(tmp_path / "batch", [candle("A"), candle("B")], burns)))
    assert results.candles["wax_left_g"].tolist() == pytest.approx([2, 12])


def test_a_candle_counts_once_however_often_it_meets_a_wick(tmp_path):
    changes = [change(2, "3"), change(3, "2"), change(4, "3"), change(5, "2")]
    results = batch_results(read(write(tmp_path / "batch", A, LIFE, SEEN, wick_changes=changes)))
    table = results.verdicts.candidates.set_index("candidate")
    assert table.loc["flat braid 2", ["n_candles", "n_part_used"]].tolist() == [1, 1]
    assert table.loc["flat braid 3", ["n_candles", "n_part_used"]].tolist() == [0, 1]
    advice = results.diagnosis.candidates.set_index("candidate")
    assert advice.loc["flat braid 2", "n_candles"] == 1
    assert "of 1" in advice.loc["flat braid 2", "how_sure"]


def test_a_candle_that_fails_on_its_second_meeting_is_one_failure(tmp_path):
    seen = life("A")[1]
    seen[-1]["soot"] = 3
    results = batch_results(
        read(
            write(tmp_path / "batch", A, LIFE, seen, wick_changes=[change(2, "3"), change(4, "2")])
        )
    )
    soot = results.verdicts.candidate_criteria.query(
        "candidate == 'flat braid 2' and criterion == 'soot'"
    )
    assert soot[["n_met", "n_not_met", "n_not_recorded"]].values.tolist() == [[0, 1, 0]]


def test_the_full_pool_line_is_of_a_vessel_in_use(tmp_path):
    folder = write(
        tmp_path / "batch",
        A,
        LIFE,
        SEEN,
        toml=TOML + "[vessels.spare]\ninner_diameter_mm = 10\n",
        wicks=WICKS,
    )
    assert batch_results(read(folder)).full_pool_pct == pytest.approx(100 * 64 / 70)

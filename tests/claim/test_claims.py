"""What can be printed: bounds by hand and by table, refusals for unsafe and for few, projected
lives that never count.
"""

import re

import numpy as np
import pytest
from batches import TOML, batch, burn, candle, checks, life
from matplotlib import pyplot as plt
from places import DEMO

from candlelab.claim import figures as claim_figures
from candlelab.claim.claims import LABEL, LIMITED, NONE, CannotClaim, claim_label
from candlelab.claim.tables import CAUTIONARY_TOPICS
from candlelab.glossary import GLOSSARY
from candlelab.logs.batch import read_batch

WICKS = [
    {
        "wick_series": "flat braid",
        "wick_size": size,
        "size_rank": rank,
        "linear_density_tex": tex,
        "width_mm": width,
    }
    for rank, (size, tex, width) in enumerate(
        (("1", 300, 1.6), ("2", 400, 2.0), ("3", 520, 2.2)), start=1
    )
]
CONFIRMED = 'stage = "confirmation"\n' + TOML


def made(folder, hours, *, toml=CONFIRMED, unfinished=(), **seen):
    """Candles of one wick, each burnt to its end in burns of 4 h and a last one, so that it lasts
    ``hours``.
    """
    candles, burns, seen_at = [], [], []
    for n, whole in enumerate(hours):
        name, last = f"C{n}", whole % 4.0 or 4.0
        count = round((whole - last) / 4.0)
        candles.append(candle(name, fill=round(5.0 * whole + 2.0, 6)))
        for number in range(1, count + 1):
            burns.append(burn(name, number, 20.0))
            seen_at += checks(name, number, **seen)
        burns.append(burn(name, count + 1, 5.0 * last, h=last, ended_by="self"))
        seen_at += checks(
            name,
            count + 1,
            [60 * hour for hour in range(1, int(last) + 1)] or [int(last * 60) - 1],
            **seen,
        )
    for name in unfinished:
        candles.append(candle(name, fill=150.0))
        own = life(name, 5, 20.0, **seen)
        burns += [row | {"ended_by": "timer"} for row in own[0]]
        seen_at += own[1]
    return batch(folder, candles, burns, seen_at, toml=toml, wicks=WICKS)


def test_bounds_by_hand(tmp_path):
    """Lives 28, 29, 30, 31, 32 h: mean 30, sd 1.5811; k = 3.407 (ISO 16269-6, 5 candles, 90 %/95 %,
    from memory), t = 2.132.
    """
    found = claim_label([made(tmp_path / "b", [28, 29, 30, 31, 32])], "flat braid 2")
    assert found.outcome == LIMITED  # 24.6 h is more than 10 % below the mean
    assert found.bounds.mean == pytest.approx(30.0)
    assert found.bounds.tolerance == pytest.approx(30.0 - 3.407 * 1.58114, abs=2e-3)
    assert found.bounds.prediction == pytest.approx(30.0 - 2.132 * 1.58114 * np.sqrt(1.2), abs=2e-3)
    assert found.answer[0].startswith(
        "For flat braid 2 at most “24 h” can be promised: with 95 % confidence at least 90 of 100 "
        "such candles burn 24.6 h"
    )


def test_a_printed_time_is_rounded_down_and_its_ten_percent_stands_beside(tmp_path):
    declared = claim_label(
        [made(tmp_path / "b", [28, 29, 30, 31, 32])], "flat braid 2"
    ).declared.set_index("bound")
    assert declared["declared_h"].to_dict() == {
        "tolerance bound": 24.0,
        "prediction bound": 26.0,
        "mean": 30.0,
    }
    assert (declared["declared_h"] <= declared["bound_h"]).all()
    row = declared.loc["mean"]
    assert (row["band_low_h"], row["band_high_h"]) == pytest.approx((27.0, 33.0))
    assert (row["n_below"], row["n_inside"], row["n_above"]) == (0, 5, 0)
    assert (declared.loc["tolerance bound", "n_above"]) == 5


def test_unsafe_candles_carry_no_claim(tmp_path):
    found = claim_label(
        [made(tmp_path / "b", [28, 29, 30, 31, 32], flame_height_mm=80)], "flat braid 2"
    )
    assert found.outcome == NONE
    assert found.declared.empty
    assert found.answer[0].startswith(
        "No burn time can be printed for flat braid 2: it was ruled out. Its flame was too tall "
        "(80 mm, the EN 15493 limit is 75 mm): "
    )


def test_the_studios_own_limit_is_named_as_such(tmp_path):
    found = claim_label([made(tmp_path / "b", [28, 29, 30], wall_c=70)], "flat braid 2")
    assert found.outcome == NONE
    assert "Its wall got too hot (70 °C, your limit is 65 °C)" in found.answer[0]


def test_gaps_limit_a_claim(tmp_path):
    found = claim_label(
        [made(tmp_path / "b", [28, 28.5, 29, 29.5, 30, 30.5], tipped="")], "flat braid 2"
    )
    assert found.outcome == LIMITED
    assert "it is not fully checked." in " ".join(found.answer)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("hours", "words"),
    [([28, 30], "2 candles were burned to the end"), ([28], "1 candle was burned to the end")],
)
def test_too_few_candles(tmp_path, hours, words):
    found = claim_label([made(tmp_path / "b", hours)], "flat braid 2")
    assert found.outcome == NONE
    assert words in found.answer[0]
    assert found.declared.empty


@pytest.mark.slow
def test_uneven_candles(tmp_path):
    assert claim_label([made(tmp_path / "b", [20, 30, 40])], "flat braid 2").outcome == NONE
    found = claim_label([made(tmp_path / "c", [26, 30, 31, 34])], "flat braid 2")
    assert found.outcome == LIMITED
    assert "more than 10 % below their mean" in " ".join(found.answer)


@pytest.mark.slow
def test_a_confirmation_without_its_screening_is_half_of_the_evidence():
    found = claim_label([read_batch(DEMO / "confirmation")], "square braid 2")
    why = (
        "no screening of this candidate is among the folders, and what failed there is not "
        "counted. Give both rounds"
    )
    assert found.outcome == LIMITED
    assert any(why in line for line in found.answer)
    assert (
        claim_label(
            [read_batch(DEMO / name) for name in ("screening", "confirmation")], "paper-cored 4"
        ).outcome
        == NONE
    )


def test_screening_candles_have_to_be_confirmed(tmp_path):
    found = claim_label([made(tmp_path / "b", [29.75, 30, 30.25], toml=TOML)], "flat braid 2")
    assert found.outcome == LIMITED
    assert "Confirm the pick on fresh candles before printing anything" in " ".join(found.answer)


@pytest.mark.slow
def test_projected_lives_are_marked_and_never_count(tmp_path):
    with_them = claim_label(
        [made(tmp_path / "b", [29, 29.5, 30, 30.5], unfinished=("U1", "U2"))], "flat braid 2"
    )
    without = claim_label([made(tmp_path / "c", [29, 29.5, 30, 30.5])], "flat braid 2")
    assert with_them.bounds.tolerance == without.bounds.tolerance
    rows = with_them.lives.set_index("candle")
    assert rows.loc[["U1", "U2"], "why"].tolist() == ["projected: not burnt to its end"] * 2
    assert not rows.loc[["U1", "U2"], "counts"].any()
    assert rows["life_h"].isna().sum() == 2
    assert (
        "2 candles have a projected life only; it is listed and marked, and does not count."
        in with_them.answer
    )


@pytest.mark.slow
def test_a_candle_that_changed_its_wick_does_not_count():
    found = claim_label([read_batch(DEMO / "screening")], "flat braid 3")
    rows = found.lives.set_index("candle")
    assert rows.loc["S01", "why"] == "its wick was changed"
    assert not rows["counts"].any()
    assert found.outcome == NONE


@pytest.mark.slow
def test_two_rounds_of_the_demo():
    found = claim_label(
        [read_batch(DEMO / "screening"), read_batch(DEMO / "confirmation")], "Square Braid 2"
    )
    assert found.outcome == LABEL
    assert found.bounds.n == 9
    assert "Candles of 2 batches are taken together" in " ".join(found.notes)
    tested = found.triggers.set_index("change")["tested"]
    assert tested["lot of wax"] == "L07 and L09"
    assert tested["vessel or its supplier"] == "stoneware tumbler"
    assert {
        "lot of wax",
        "fragrance",
        "vessel or its supplier",
        "wick size, series or its supplier",
    } <= set(tested.index)


@pytest.mark.slow
def test_the_wick_and_its_tolerance(tmp_path):
    """Half the way to the nearer size: (400 - 300) / 2 = 50 tex, (2.2 - 2.0) / 2 = 0.1 mm."""
    rows = claim_label([made(tmp_path / "b", [29, 30, 31])], "flat braid 2").wick.set_index(
        "property"
    )["tolerance"]
    assert rows["linear density"].startswith("±50 tex")
    assert rows["width"].startswith("±0.1 mm")
    worth = claim_label([read_batch(DEMO / "screening")], "square braid 2").wick.set_index(
        "property"
    )["tolerance"]["linear density"]
    assert re.fullmatch(
        r"±60 tex, half the way to the next size; by the line through its sizes that is worth "
        r"±0\.\d\d g/h",
        worth,
    )


def test_cautions_name_standards_and_hold_no_text_of_theirs(tmp_path):
    found = claim_label([made(tmp_path / "b", [29, 30, 31])], "flat braid 2")
    text = " ".join(found.cautions["standard"])
    assert "ASTM F2058" in text
    assert "EN 15494" in text
    words = " ".join(found.cautions["topic"] + " " + found.cautions["to_settle"]).lower()
    # the trade's own sentence, as it is printed on many labels
    assert "burn within sight" not in words
    assert len(found.cautions) == len(CAUTIONARY_TOPICS)
    assert any("from memory and from pages that quote them" in note for note in found.notes)


def test_every_column_is_in_the_glossary(tmp_path):
    found = claim_label([made(tmp_path / "b", [29, 30, 31], unfinished=("U1",))], "flat braid 2")
    for _, table in found.tables().values():
        assert set(table.columns) <= set(GLOSSARY)
    figure = claim_figures.draw_lives(found.lives, found.bounds, found.declared)
    assert "C0 29.0 h, C1 30.0 h, C2 31.0 h" in figure.get_label()
    plt.close(figure)


@pytest.mark.slow
def test_a_figure_without_a_life():
    found = claim_label([read_batch(DEMO / "screening")], "flat braid 3")
    figure = claim_figures.draw_lives(found.lives, found.bounds, found.declared)
    assert "none was burnt to its end" in figure.get_label()
    plt.close(figure)


@pytest.mark.slow
def test_unknown_and_ambiguous_candidates():
    with pytest.raises(CannotClaim, match="Did you mean 'square braid 2'"):
        claim_label([read_batch(DEMO / "screening")], "squared braid 2")
    with pytest.raises(
        CannotClaim,
        match="Name one of: square braid 2, no fragrance; square braid 2, fig leaf 3 %;",
    ):
        claim_label([read_batch(DEMO / "loads")], "square braid 2")
    assert claim_label([read_batch(DEMO / "loads")], "square braid 2, fig leaf 6 %").bounds.n == 4


@pytest.mark.parametrize(
    ("coverage", "confidence"), [(0.0, 0.95), (1.0, 0.95), (0.9, 1.0), (0.9, 0.2)]
)
def test_refuses_shares_that_are_none(coverage, confidence):
    with pytest.raises(ValueError, match="coverage lies between"):
        claim_label(
            [read_batch(DEMO / "screening")],
            "square braid 2",
            coverage=coverage,
            confidence=confidence,
        )

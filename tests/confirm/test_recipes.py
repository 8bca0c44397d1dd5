"""Which fresh candles are the recipe that was screened, and what is new evidence."""

import pytest
from confirmed import CONFIRMATION, FRESH, OTHERS, SCREENED, judged, made

from candlelab.confirm.verdict import STANDS
from candlelab.confirm.words import answer, trust


def test_one_size_up_is_new_evidence_with_its_own_count(pair, tmp_path):
    second = made(
        tmp_path / "third",
        FRESH,
        more=[({"D1": 20.0, "D2": 19.8}, "flat braid 3")],
        toml=CONFIRMATION,
        month=8,
    )
    result = judged(pair[0], second)
    row = result.new_evidence.iloc[0]
    assert row[["candidate", "near", "changed"]].tolist() == [
        "flat braid 3",
        "flat braid 2",
        "wick size 3 in place of 2 (one size up)",
    ]
    assert row[["n_candles", "n_passed"]].tolist() == [2, 2]
    assert result.passes.set_index("round").at["both together", "n_passed"] == 6
    assert answer(result)[1] == (
        "New evidence, counted on its own, because it is not what was screened: flat braid 3 (wick "
        "size 3 in place of 2 (one size up); nearest is flat braid 2): 2 of 2 fresh candles "
        "passed. It confirms nothing yet; it is a screening of its own."
    )


def test_another_load_is_new_evidence(pair, tmp_path):
    second = made(
        tmp_path / "third", FRESH, toml=CONFIRMATION, month=8, fragrance="fig", fragrance_load_pct=6
    )
    result = judged(pair[0], second)
    assert result.new_evidence["changed"].tolist() == [
        "fragrance fig in place of none; fragrance, share of the whole fill (%) 5.66 in place of 0"
    ]
    assert "both together" not in set(result.passes["round"])


def test_a_load_on_another_basis_is_the_same_load(tmp_path):
    """8 % of the wax is 8 / 108 = 7.407 % of the fill."""
    total = CONFIRMATION.replace("time_zone", 'load_basis = "total"\ntime_zone', 1)
    first = made(
        tmp_path / "a",
        SCREENED,
        more=[(OTHERS, "flat braid 1")],
        fragrance="fig",
        fragrance_load_pct=8,
    )
    same = made(
        tmp_path / "b", FRESH, toml=total, month=8, fragrance="Fig", fragrance_load_pct=7.407
    )
    other = made(tmp_path / "c", FRESH, toml=total, month=8, fragrance="fig", fragrance_load_pct=8)
    assert judged(first, same).verdicts["verdict"].tolist() == [STANDS]
    assert judged(first, other).new_evidence["changed"].tolist() == [
        "fragrance, share of the whole fill (%) 8 in place of 7.407"
    ]


def test_spellings_are_one_and_said_so(pair, tmp_path):
    toml = CONFIRMATION.replace("[vessels.jar]", "[vessels.JAR]").replace(
        "[waxes.soy]", "[waxes.Soy]"
    )
    second = made(tmp_path / "third", FRESH, toml=toml, month=8, vessel="JAR", wax="Soy")
    result = judged(pair[0], second)
    assert result.verdicts["verdict"].tolist() == [STANDS]
    assert result.recipes.set_index("part").loc[
        ["vessel", "wax", "wick size"], "sameness"
    ].tolist() == ["same, spelt otherwise"] * 2 + ["same"]


@pytest.mark.parametrize(
    ("toml", "recipe", "changed"),
    [
        (CONFIRMATION.replace("70", "80"), {}, "inner diameter (mm) 80 in place of 70"),
        (CONFIRMATION, {"fill": 120.0}, "fill, mean (g) 120 in place of 100"),
        (CONFIRMATION, {"wick_count": 2}, "wicks 2 in place of 1"),
        (CONFIRMATION, {"dye": "red"}, "dye red in place of none"),
    ],
)
def test_what_else_makes_another_recipe(pair, tmp_path, toml, recipe, changed):
    fill = recipe.get("fill", 100.0) / 100.0
    second = made(
        tmp_path / "third",
        {name: used * fill for name, used in FRESH.items()},
        toml=toml,
        month=8,
        **recipe,
    )
    assert judged(pair[0], second).new_evidence["changed"].tolist() == [changed]


def test_passes_under_other_limits_are_not_counted_together(pair, tmp_path):
    second = made(tmp_path / "third", FRESH, toml=CONFIRMATION.replace("= 60", "= 70"), month=8)
    result = judged(pair[0], second)
    assert result.passes["round"].tolist() == ["screening", "confirmation"]
    assert (
        "The two rounds were judged by limits that differ, so their passes are not counted "
        "together: wall_stop_c is 60 in the screening and 70 in the confirmation."
    ) in trust(result)

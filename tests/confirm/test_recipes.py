"""Which fresh candles are the recipe that was screened, and what is new evidence."""

import pandas as pd
import pytest
from batches import WICKS, read
from confirmed import CONFIRMATION, FRESH, LIMITS, OTHERS, SCREENED, judged, made
from judged import Log

from candlelab.confirm.confirmation import confirm_pick
from candlelab.confirm.page import confirm_page
from candlelab.confirm.verdict import FALLS, STANDS
from candlelab.confirm.words import answer
from candlelab.judge.decision import all_incidents


@pytest.mark.slow
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
    assert answer(result)[0] == (
        "New evidence, counted on its own, because it is not what was screened: flat braid 3 (wick "
        "size 3 in place of 2 (one size up); nearest is flat braid 2): 2 of 2 fresh candles "
        "passed. It confirms nothing yet; it is a screening of its own."
    )


@pytest.mark.slow
@pytest.mark.parametrize("vessel", ["jar", "tin"])
@pytest.mark.parametrize("scent", ["", "fig"])
def test_what_failed_of_the_new_evidence_is_told(tmp_path, vessel, scent):
    """Another size beside the pick, in its vessel or in one that was not screened, with another
    recipe or the same; one candle of it cracked its vessel."""
    toml = "[vessels.tin]\ninner_diameter_mm = 60\n"
    first = made(tmp_path / "first", SCREENED, more=[(OTHERS, "flat braid 1")], toml=LIMITS + toml)
    new = Log(D="flat braid 3", E="flat braid 3").check("D", 2, 120, vessel_damaged="yes")
    new.check("E", 3, 120, pool_depth_mm=14)
    second = Log(**dict.fromkeys(("C1", "C2", "C3"), "flat braid 2"))
    for row in new.candles:
        row |= {"vessel": vessel, "fragrance": scent, "fragrance_load_pct": 8 if scent else ""}
    for table in ("candles", "burns", "checks"):
        getattr(second, table).extend(getattr(new, table))
    second.toml = CONFIRMATION + "pool_depth_mm = 13\n" + toml
    worked = second.worked(tmp_path / "second")
    page = confirm_page(confirm_pick(read(first), worked))
    told = [*all_incidents(page.decisions), *page.answer]
    (stop,) = [line for line in told if line.startswith("Stop burning D ")]
    assert "cracked" in stop
    (out,) = [line for line in told if line.startswith("Ruled out: ")]
    assert "as told above. Its melt pool was too deep" in out
    assert "E, burn 3" in out


@pytest.mark.slow
def test_another_load_is_new_evidence(pair, tmp_path):
    second = made(
        tmp_path / "third", FRESH, toml=CONFIRMATION, month=8, fragrance="fig", fragrance_load_pct=6
    )
    result = judged(pair[0], second)
    assert result.new_evidence["changed"].tolist() == [
        "fragrance fig in place of none; fragrance, share of the whole fill (%) 5.66 in place of 0"
    ]
    assert "both together" not in set(result.passes["round"])


@pytest.mark.slow
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


@pytest.mark.slow
@pytest.mark.parametrize(
    ("recipe", "renamed", "said"),
    [
        ({"vessel": "JAR"}, ("[vessels.jar]", "[vessels.JAR]"), "“JAR” and “jar”"),
        ({"wax": "Soy"}, ("[waxes.soy]", "[waxes.Soy]"), "“Soy” and “soy”"),
        ({"wax": "s\u043ey"}, ("[waxes.soy]", '[waxes."s\u043ey"]'), "“s\u043ey” and “soy”"),
        ({"wick": "Flat-braid 2"}, None, "“Flat-braid” and “flat braid”"),
        ({"wick": "flat braid 02"}, None, "“02” and “2”"),
        ({"wick": "flat braid 2.0"}, None, "“2.0” and “2”"),
    ],
)
def test_spellings_are_one_and_said_so(pair, tmp_path, recipe, renamed, said):
    toml = CONFIRMATION.replace(*renamed) if renamed else CONFIRMATION
    wick = recipe.get("wick", "flat braid 2").rpartition(" ")
    more = [{"wick_series": wick[0], "wick_size": wick[2], "size_rank": 2}]
    wicks = [*WICKS, *(more if "wick" in recipe else [])]
    second = made(tmp_path / "third", FRESH, toml=toml, month=8, wicks=wicks, **recipe)
    result = judged(pair[0], second)
    assert result.verdicts["verdict"].tolist() == [STANDS]
    assert set(result.recipes["sameness"]) == {"same"}
    assert any(
        line.startswith(f"{said} look alike and are taken for one ") for line in answer(result)
    )


@pytest.mark.slow
@pytest.mark.parametrize(
    "recipe", [{"wick": "flat-braid 2"}, {"wick": "flat braid 02"}, {"wick": "fl\u0430t braid 2"}]
)
def test_another_spelling_hides_no_failure(pair, tmp_path, recipe):
    """One candle of the screening, written otherwise, was too tall."""
    wick = recipe["wick"].rpartition(" ")
    wicks = [*WICKS, {"wick_series": wick[0], "wick_size": wick[2], "size_rank": 2}]
    first = made(
        tmp_path / "third",
        SCREENED,
        more=[(OTHERS, "flat braid 1"), ({"S9": 19.6}, recipe["wick"])],
        seen={"S9": {"flame_height_mm": [30, 30, 80, 30]}},
        wicks=wicks,
    )
    result = judged(first, pair[1])
    assert result.verdicts["verdict"].tolist() == [FALLS]
    assert "S9 in the screening, burn 1, 3 h after lighting" in result.verdicts["because"].iat[0]


@pytest.mark.slow
def test_a_load_that_rounding_moved_hides_no_failure(tmp_path):
    scent = {"fragrance": "fig", "fragrance_load_pct": 8}
    first = made(
        tmp_path / "a", SCREENED, more=[(OTHERS, "flat braid 1"), ({"S9": 19.6}, "flat braid 2")],
        seen={"S9": {"flame_height_mm": [30, 30, 80, 30]}}, **scent,
    )  # fmt: skip
    candles = pd.read_csv(first / "candles.csv").astype({"fragrance_load_pct": float})
    candles.loc[candles["candle"] == "S9", "fragrance_load_pct"] = 8.01
    candles.to_csv(first / "candles.csv", index=False)
    second = made(tmp_path / "b", FRESH, toml=CONFIRMATION, month=8, **scent)
    result = judged(first, second)
    assert result.verdicts[["candidate", "verdict"]].to_numpy().tolist() == [
        ["flat braid 2", FALLS]
    ]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("toml", "recipe", "changed"),
    [
        (CONFIRMATION.replace("70", "80"), {}, "inner diameter 80 mm in place of 70 mm"),
        (CONFIRMATION, {"fill": 120.0}, "fill, mean 120 g in place of 100 g"),
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


STRICTER = "Your wall stop limit differs: “first” 60 °C (140 °F); “third” 70 °C (158 °F)"


@pytest.mark.slow
def test_rounds_under_other_limits_are_judged_by_the_stricter(pair, tmp_path):
    second = made(tmp_path / "third", FRESH, toml=CONFIRMATION.replace("= 60", "= 70"), month=8)
    result = judged(pair[0], second)
    assert result.passes["round"].tolist() == ["screening", "confirmation", "both together"]
    assert answer(result) == (f"{STRICTER}. All are judged by the stricter, 60 °C (140 °F).",)


@pytest.mark.slow
@pytest.mark.parametrize("lenient", ["first", "second"])
def test_a_wall_over_the_stricter_limit_fails_in_either_round(tmp_path, lenient):
    hot = {"wall_c": [40, 50, 63, 65]}
    toml = {"first": LIMITS, "second": CONFIRMATION}
    toml[lenient] = toml[lenient].replace("= 60", "= 70")
    seen = {"first": {"S2": hot}, "second": {"C2": hot}}[lenient]
    first = made(
        tmp_path / "first", SCREENED, more=[(OTHERS, "flat braid 1")], toml=toml["first"],
        seen=seen,
    )  # fmt: skip
    second = made(tmp_path / "third", FRESH, toml=toml["second"], month=8, seen=seen)
    result = judged(first, second)
    assert result.verdicts["verdict"].tolist() == [FALLS]
    assert (
        "Its wall got too hot (65 °C, your limit is 60 °C/140 °F)"
        in result.verdicts["because"].iat[0]
    )


@pytest.mark.slow
def test_a_flame_limit_that_only_one_round_has_is_told_as_yours_once(pair, tmp_path):
    second = made(tmp_path / "third", FRESH, toml=CONFIRMATION + "flame_mm = 40\n", month=8)
    assert answer(judged(pair[0], second))[0].startswith(
        "Your flame limit differs: “first” not set"
    )


@pytest.mark.slow
def test_a_limit_that_only_one_round_has_holds_in_both(tmp_path):
    deep = {"pool_depth_mm": [5, 8, 12, 14]}
    toml = CONFIRMATION + "pool_depth_mm = 13\n"
    first = made(tmp_path / "first", SCREENED, more=[(OTHERS, "flat braid 1")], seen={"S1": deep})
    result = judged(first, made(tmp_path / "third", FRESH, toml=toml, month=8))
    assert result.verdicts["verdict"].tolist() == [FALLS]
    assert answer(result)[0].startswith(
        "Your melt pool limit differs: “first” not set; “third” 13 mm. All are judged by the "
        "stricter, 13 mm."
    )

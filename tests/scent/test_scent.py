"""What a panel says of a batch: the answer, the checks of the panel, and what it costs."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from batches import read
from places import DEMO

from candlelab import BatchPlan, Bench, WickTruth, compare_batches, confirm_page, confirm_pick
from candlelab.judge.scent import decided_by_scent
from candlelab.judge.worked import WorkedBatch
from candlelab.logs.settings import Prices
from candlelab.logs.writer import write_batch
from candlelab.scent.judged import judge_scent
from candlelab.scent.page import scent_page
from candlelab.scent.words import answer_words, boxes, method_words
from candlelab.scent.worth import candle_cost
from candlelab.simulate.batch import simulate_batch
from candlelab.stats.columns import CannotCompare


@pytest.fixture(scope="module")
def loads():
    return judge_scent(read(DEMO / "loads"))


TOML = """title = "two wicks, which throws?"
time_zone = "UTC"
[vessels."stoneware tumbler"]
inner_diameter_mm = 74.0
[waxes."coconut and rapeseed"]
cure_days = 1
[targets]
burn_rate_g_per_h = {low = 1.0, high = 15.0}
"""
WICKS = tuple(WickTruth("flat braid", n, int(n), 5.6, left_pct=3.0) for n in ("1", "2"))


def smelled(tmp_path, score, *, noses=5, toml=TOML, each=4, **columns):
    """A batch of two wicks whose candles are smelled in burns 2 and 3; ``score`` of wick, nose."""
    candles = tuple((f"T{i + 1}", "flat braid", str(i % 2 + 1)) for i in range(2 * each))
    made = simulate_batch(BatchPlan(WICKS, candles, Bench()), seed=3).tables
    rng = np.random.default_rng(2)
    rows = [
        (name, burn, f"P{nose + 1}", float(np.clip(round(score(int(size), nose, rng)), 0, 10)))
        for burn in (2, 3)
        for name, _, size in candles
        for nose in range(noses)
    ]
    throw = pd.DataFrame(rows, columns=["candle", "burn", "assessor", "score"])
    folder = tmp_path / "batch"
    write_batch(made | {"throw": throw.assign(**columns)}, toml, folder)
    return judge_scent(read(folder))


def stronger(size, nose, rng):
    return 3 + 0.5 * nose + 2.5 * (size == 2) + rng.normal(0, 0.6)


def alike(size, nose, rng):
    return 3 + 0.5 * nose + rng.normal(0, 1.5)


@pytest.mark.slow
def test_a_maker_reads_which_load_what_more_buys_how_sure_and_what_it_costs(loads):
    said = answer_words(loads)
    assert said[:3] == (
        "P4 was right in 3 of 8 blank checks, no more than guessing may give: it takes 7. Their "
        "scores are listed and not counted.",
        "6 % smells as strong as 9 % (3.8 and 3.7 of 5). If it is weaker, then by 0.2 steps at "
        "most (95 in 100 sure).",
        "3 % smells weaker than 6 % (3.2 and 3.8 of 5).",
    )
    assert "Five noses smelled 4 candles of each." in said
    assert "Differences are known to within 0.3 steps." in method_words(loads)
    assert "A candle of “square braid 2, fig leaf 6 %” costs 4.59 EUR, 0.14 EUR an hour." in said
    assert any(
        line.startswith("“square braid 2, fig leaf 9 %” costs 0.22 EUR more") for line in said
    )
    assert boxes(loads)[0].next_steps[0] == (
        "P4 did no better than guessing in the blank checks: check again, or ask another nose."
    )
    box = loads.worked.decisions[0]
    assert box.pick == "square braid 2, fig leaf 6 %"
    assert box.headline.endswith(
        "as strong as 9 % of fragrance (3.8 and 3.7 of 5). If it is weaker, then by 0.2 steps at "
        "most (95 in 100 sure)."
    )
    assert box.others == (
        "“square braid 2, fig leaf 9 %” (smells no stronger); “square braid 2, fig leaf 3 %” (off "
        "target: life; smells weaker); “square braid 2, no fragrance” (off "
        "target: life; too hot for a warm room)."
    )


def test_the_nose_that_smells_nothing_is_the_one_of_the_simulator(loads):
    assert loads.strength.failed == ["P4"]
    noses = loads.tables["noses"].set_index("assessor")
    assert noses.index.tolist() == ["P1", "P2", "P3", "P5", "P6"]
    assert noses["hears"].astype(bool).all()
    assert noses["n_repeats"].tolist() == [12, 11, 12, 12, 12]


def test_cold_throw_stands_beside_hot(loads):
    table = loads.tables["hot_and_cold"].set_index("candidate")
    assert (table["cold"].iloc[1:] < table["hot"].iloc[1:]).all()  # 2.6 against 3.9 at the most
    assert table["cold"].is_monotonic_increasing


@pytest.mark.slow
def test_a_wick_that_throws_more_is_chosen_among_those_that_are_level(tmp_path):
    scent = smelled(tmp_path, stronger)
    assert (
        answer_words(scent)[1] == "More than luck: flat braid 2 smells stronger than flat braid 1."
    )
    assert scent.worked.decisions[0].pick == "flat braid 2"
    assert scent.worked.decisions[0].headline.endswith("It smells stronger than flat braid 1.")


@pytest.mark.slow
def test_luck_chooses_nobody_and_says_how_many_noses_would_do(tmp_path):
    scent = smelled(tmp_path, alike, noses=3, each=2)
    said = answer_words(scent)
    assert said[0].startswith("We cannot tell yet which smells strongest")
    assert any(line.startswith(("To see 1.0 step", "More candles of each")) for line in said)
    assert scent.worked.decisions[0].pick == ""
    assert decided_by_scent(scent.strength, ["flat braid 1", "flat braid 2"]) == ("", "")


@pytest.mark.slow
def test_scent_never_lifts_a_candidate_over_safety(tmp_path):
    """The stronger wick fails: it stays ruled out however it smells."""
    toml = TOML + "[limits]\npool_depth_mm = 3.0\n"
    scent = smelled(tmp_path, stronger, toml=toml)
    assert set(scent.worked.fates["fate"]) == {"ruled out"}
    assert scent.worked.decisions[0].pick == ""
    assert "can be picked" in scent.worked.decisions[0].headline


@pytest.mark.slow
@pytest.mark.parametrize(
    ("noses", "each", "why"), [(1, 2, "One nose scored"), (3, 1, "One candle of each was scored")]
)
def test_a_panel_too_small_is_told_so(tmp_path, noses, each, why):
    scent = smelled(tmp_path, stronger, noses=noses, each=each)
    assert scent.strength.hot is None
    assert why in answer_words(scent)[0]
    assert scent_page(scent).record()["answer"]


def test_nobody_scored(tmp_path):
    with pytest.raises(CannotCompare, match=r"Write throw\.csv"):
        judge_scent(read(DEMO / "waxes"))
    with pytest.raises(CannotCompare):
        smelled(tmp_path, stronger, blocked_nose=True)


@pytest.mark.slow
def test_ranks_stand_for_scores(tmp_path):
    scent = smelled(tmp_path, stronger)
    ranks = scent.strength.scores.assign(block=lambda t: t["assessor"] + t["burn"].astype(str))
    ranks["rank"] = ranks.groupby("block")["score"].rank(ascending=False)
    throw = ranks[["candle", "burn", "assessor", "rank"]].astype({"burn": "Int64"})
    (tmp_path / "batch" / "throw.csv").write_text(throw.to_csv(index=False))
    again = judge_scent(read(tmp_path / "batch"))
    assert again.strength.hot.differences["estimate"][0] > 0
    assert again.strength.hot.differences["p_value"][0] < 0.05


def test_costs_are_those_of_the_recipe():
    """By hand: 200 g at 6 % of the wax are 188.679 g of wax and 11.321 g of oil."""
    prices = Prices(wax_price=58, wax_bought_g=10_000, fragrance_price=47, fragrance_bought_g=1000,
                    wick_price=9.5, wicks_bought=50, vessel_price=31.2, vessels_bought=12,
                    label_price=18, labels_bought=100)  # fmt: skip
    wax, oil, whole = candle_cost(prices, fill_g=200, load_pct=6, basis="wax", wicks=2)
    assert wax == pytest.approx(200 / 1.06 * 58 / 10_000)
    assert oil == pytest.approx(200 * 6 / 106 * 47 / 1000)
    assert whole == pytest.approx(wax + oil + 2 * 0.19 + 2.6 + 0.18)
    assert candle_cost(prices, fill_g=200, load_pct=6, basis="total")[1] == pytest.approx(
        12 * 0.047
    )
    assert candle_cost(Prices(), fill_g=200, load_pct=6, basis="wax") == (0, 0, 0)


def test_worth_says_what_the_next_load_buys(loads):
    worth = loads.tables["worth"].set_index("candidate")
    assert worth["cost_candle"].is_monotonic_increasing
    row = worth.loc["square braid 2, fig leaf 9 %"]
    assert row["gain_low"] < 0 < row["gain_high"]
    assert row["kept"] == pytest.approx(24 - row["cost_candle"])
    # cheapest of all is the one without fragrance; it is not picked
    assert worth.index[0] == "square braid 2, no fragrance"
    assert loads.worked.decisions[0].pick != worth.index[0]


@pytest.mark.slow
def test_two_recipes_of_one_load_are_each_held_against_the_load_below(loads):
    """A dye makes candidates of one load two; no load is held against itself."""
    candles = loads.worked.batch.candles.copy()
    own = candles.index[candles["fragrance_load_pct"] == 6.0]
    candles.loc[own[0], "dye"] = "red"
    worth = judge_scent(replace(loads.worked.batch, candles=candles)).tables["worth"]
    six = worth[worth["candidate"].str.contains(" 6 %")]
    assert len(six) == 2
    gain = loads.tables["worth"].set_index("candidate").loc["square braid 2, fig leaf 6 %", "gain"]
    assert six["gain"].tolist() == pytest.approx([gain] * 2)


@pytest.mark.slow
def test_without_prices_the_page_asks_for_them(tmp_path):
    scent = smelled(tmp_path, stronger)
    assert scent.tables["worth"].empty
    assert not any("cost" in line for line in answer_words(scent))
    assert "[prices]" in scent_page(scent).shown["worth"].nothing


def test_pairs_side_by_side_are_counted(loads):
    pairs = loads.tables["pairs_won"]
    assert pairs["n_pairs"].tolist() == [10, 10]  # of five noses that count, two pairs each
    assert (2 * pairs["n_stronger"] >= pairs["n_pairs"]).all()


@pytest.mark.slow
def test_a_margin_may_be_asked_for(loads):
    wide = judge_scent(loads.worked, margin=1.0)
    assert (wide.strength.enough.level, wide.strength.margin) == (3.0, 1.0)
    narrow = judge_scent(WorkedBatch(loads.worked.batch), margin=0.05)
    assert narrow.strength.enough.kind == "unclear"


@pytest.mark.slow
def test_scent_may_be_a_target_and_orders_what_is_safe(tmp_path):
    toml = TOML + "scent = {low = 5.0, best = 8.0}\n"
    scent = smelled(tmp_path, stronger, toml=toml)
    targets = scent.worked.targets.set_index(["candidate", "target"])
    assert targets.loc[("flat braid 2", "scent"), "n_inside"] == 4
    assert targets.loc[("flat braid 1", "scent"), "n_inside"] == 0
    ranks = scent.worked.ranking.set_index("candidate")["rank"]
    assert ranks["flat braid 2"] < ranks["flat braid 1"]
    asked = compare_batches([scent.worked.batch], by="wick")
    assert asked.choice.candidates["candidate"][0] == "flat braid 2"
    assert set(asked.choice.by_target["target"]) == {"burn_rate_g_per_h", "scent"}


@pytest.mark.slow
def test_a_confirmation_says_how_it_smelled_in_both_rounds(tmp_path):
    first = smelled(tmp_path / "a", stronger).worked.batch
    toml = TOML.replace("time_zone", 'stage = "confirmation"\ntime_zone')
    tables = simulate_batch(
        BatchPlan(
            WICKS,
            tuple((f"N{i}", "flat braid", str(i % 2 + 1)) for i in range(6)),
            Bench(first_day="2026-06-01"),
        ),
        seed=8,
    ).tables
    rows = [(f"N{i}", 2, f"P{n + 1}", 4.0 + i % 2) for i in range(6) for n in range(2)]
    throw = pd.DataFrame(rows, columns=["candle", "burn", "assessor", "score"])
    write_batch(tables | {"throw": throw}, toml, tmp_path / "b")
    page = confirm_page(confirm_pick(first, read(tmp_path / "b")))
    told = [line for line in page.answer if line.startswith("Hot throw of flat braid 2")]
    assert len(told) == 1
    assert "5.0 on fresh candles, by 2 noses of both" in told[0]

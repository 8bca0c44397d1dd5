"""Report, comparison and sizes of the same folders say the same of the same candles."""

import functools

import numpy as np
import pytest
from batches import in_memory, read
from places import DEMO

from candlelab.compare.ask import compare_batches
from candlelab.report.results import BatchResults
from candlelab.simulate.model import BatchPlan, Bench, WickTruth
from candlelab.size.sizing import size_wicks

RATE = "burn_rate_g_per_h"


def by_wick(sizing) -> dict[str, float]:
    """The mean of each wick, as the table of sizes has it."""
    table = sizing.sizes[sizing.sizes["n_candles"] > 0]
    return {f"{row.series} {row.wick_size}": row.mean for row in table.itertuples(index=False)}


@functools.cache
def of_demo(*names) -> dict[str, float]:
    """The means of each wick in demo batches, as the table of sizes has them."""
    return by_wick(size_wicks([read(DEMO / name) for name in names]))


def agree(batch) -> None:
    """One recipe: the three pages have the same means, so the same wick is the fastest."""
    worked = BatchResults(batch)  # worked out once
    report = worked.comparison
    asked = compare_batches([worked], by="wick").comparison
    sizes = by_wick(size_wicks([worked]))
    for found in (report, asked):
        means = found.estimates.set_index("candidate")["estimate"]
        assert means.to_dict() == pytest.approx(sizes, rel=1e-9)
    np.testing.assert_allclose(report.differences["p_adjusted"], asked.differences["p_adjusted"])


@pytest.mark.slow
@pytest.mark.parametrize("name", ["screening", "confirmation"])
def test_demo_batches_of_one_recipe(name):
    agree(read(DEMO / name))


@pytest.mark.slow
@pytest.mark.parametrize("name", ["waxes", "loads", "kitchen"])
def test_demo_batches_of_several_recipes(name):
    """Report and sizes stand recipe by recipe."""
    batch = read(DEMO / name)
    means = BatchResults(batch).comparison.estimates["estimate"]
    assert sorted(means) == pytest.approx(sorted(of_demo(name).values()), rel=1e-9)


@pytest.mark.slow
def test_the_comparison_of_several_vessels_has_the_same_means():
    batch = read(DEMO / "kitchen")
    asked = compare_batches([batch], by="wick").comparison.estimates["estimate"]
    assert sorted(asked) == pytest.approx(sorted(of_demo("kitchen").values()), rel=1e-9)


@pytest.mark.slow
def test_two_demo_batches_together():
    batches = [read(DEMO / name) for name in ("screening", "confirmation")]
    asked = compare_batches(batches, by="wick").comparison.estimates
    means = asked.set_index("candidate")["estimate"].to_dict()
    assert means == pytest.approx(of_demo("screening", "confirmation"), rel=1e-9)


def simulated(seed):
    """Wicks of different rates; some candles stopped early, some burns set aside or lost."""
    rng = np.random.default_rng(seed)
    k = int(rng.integers(2, 4))
    wicks = tuple(
        WickTruth("flat braid", str(n), n, float(rng.uniform(4.5, 6.5)), 3.0)
        for n in range(1, k + 1)
    )
    each = rng.integers(2, 5, k)
    candles = tuple(
        (f"{w.wick_size}-{n}", w.wick_series, w.wick_size)
        for w, many in zip(wicks, each, strict=True)
        for n in range(many)
    )
    return in_memory(
        BatchPlan(wicks, candles, Bench(max_burns=int(rng.integers(4, 12)))), seed=seed
    )


@pytest.mark.slow
def test_simulated_batches():
    """The first fifteen of the three hundred in ``tests/benchmarks/agreement.py``."""
    for seed in range(15):
        agree(simulated(seed))

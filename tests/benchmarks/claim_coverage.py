"""Do the bounds of a claim hold as often as they say? Own draws, numpy only.

    python tests/benchmarks/claim_coverage.py [STUDIES]

Lives of candles with mean 30 h and a standard deviation of 1.2 h within a pour (4 %), pours that
differ by 0, half, one and one and a half of that. "These pours" is the bound that a claim prints:
at least 90 of 100 candles of the pours at hand reach it, 95 % sure. "Other pours" is the one beside
it, with 3 % from pour to pour allowed for: at least 90 of 100 candles of all pours. "As one sample"
is what the same bound would be worth for other pours. Lives that are no bell curve, candles put out
by the maker and candles that drown stand below: one that drowned bars a claim, so its row counts
the studies in which a time is still promised, and how often that one holds.
"""

import sys

import numpy as np
from scipy import optimize, stats

from candlelab.stats.intervals import lower_bounds, other_pours_bound

MEAN, SD, POUR_PCT = 30.0, 1.2, 3.0
LOW = stats.norm.ppf(0.1)
DESIGNS = ((3,), (6,), (3, 3), (3, 6), (6, 6), (3, 3, 3))
POURS = (0.0, 0.5, 1.0, 1.5)


def reached(means: np.ndarray, n: np.ndarray) -> float:
    """The life that 90 of 100 candles of these pours reach, each weighed by its candles."""

    def short(x: float) -> float:
        return float(np.sum(n / n.sum() * stats.norm.cdf((x - means) / SD)) - 0.1)

    return float(optimize.brentq(short, means.min() - 9 * SD, means.max() + 9 * SD))


def pours_row(design: tuple[int, ...], pour_sd: float, studies: int, rng) -> str:
    n, at = np.array(design), np.repeat(np.arange(len(design)), design)
    held = np.zeros(3)
    for _ in range(studies):
        means = rng.normal(MEAN, pour_sd * SD, len(n))
        lives = rng.normal(means[at], SD)
        own = lower_bounds(lives).tolerance
        other = other_pours_bound(lives, at, pour_sd=POUR_PCT / 100.0 * lives.mean())
        every = MEAN + LOW * np.hypot(SD, pour_sd * SD)
        held += (own <= reached(means, n), min(own, other) <= every, own <= every)
    share = 100.0 * held / studies
    return (
        f"{'+'.join(map(str, design)):>6} candles, pours {pour_sd:g} sd: these pours "
        f"{share[0]:5.1f} %, other pours {share[1]:5.1f} %, as one sample {share[2]:5.1f} %"
    )


def shape_row(name: str, n: int, studies: int, rng) -> str:
    """Lives of another shape, or candles that are not there; a candle that drowned bars a claim."""
    promised = held = 0
    sigma = SD / MEAN
    for _ in range(studies):
        lives = rng.normal(MEAN, SD, n)
        truth = MEAN + LOW * SD
        if name == "lognormal":
            lives, truth = np.exp(rng.normal(np.log(MEAN), sigma, n)), MEAN * np.exp(LOW * sigma)
        if name == "lognormal, 12 %":
            lives, truth = np.exp(rng.normal(np.log(MEAN), 0.12, n)), MEAN * np.exp(LOW * 0.12)
        if name == "1 in 5 put out at a random hour":
            lives = lives[rng.random(n) > 0.2]
        if name == "all put out at 31 h":
            lives = lives[lives < 31.0]
        if name.startswith("15 % drown"):  # at 2 to 15 h: 10 of 100 go out before 10.7 h
            drowned, truth = rng.random(n) < 0.15, 2.0 + 13.0 * 0.10 / 0.15
            barred = drowned.any() and not name.endswith("left out")
            lives = lives[~drowned][: 0 if barred else n]
        if len(lives) < 3:
            continue
        promised += 1
        held += lower_bounds(lives).tolerance <= truth
    share = f"{100.0 * held / promised:5.1f} %" if promised else "  none"
    return (
        f"{name:>32}, {n} candles: promised in {100 * promised / studies:5.1f} %, holds in {share}"
    )


def main(studies: int) -> None:
    rng = np.random.default_rng(20261126)
    for design in DESIGNS:
        for pour_sd in POURS:
            print(pours_row(design, pour_sd, studies, rng), flush=True)
    for name in ("normal", "lognormal", "lognormal, 12 %", "1 in 5 put out at a random hour",
                 "all put out at 31 h", "15 % drown", "15 % drown, left out"):  # fmt: skip
        for n in (3, 6, 9):
            print(shape_row(name, n, studies, rng), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)

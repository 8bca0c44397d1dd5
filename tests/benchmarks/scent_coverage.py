"""Do 95 % intervals of a scent panel hold 95 %, and does it cry wolf? Simulated panels.

Scores on a scale of six words (0 to 5), rounded and held to it. In steps: candles of one candidate
spread by 0.2 and differ by 0.15 from burn to burn, levels of noses by 0.6, their tastes for a
candidate by 0.25, one sniff by 0.5. Each nose smells every candle in two sittings, in an order
drawn by lot. Noses use the scale differently (log sd 0.3), what came before takes off 0.1 of its
strength, or one nose smells nothing and guesses. Where it does, panels are also judged after eight
blank checks of each nose: one that smells is right in 97 of 100, one that smells nothing in 50, and
who fails (`smells_it`) is set aside, before the use of the scale is taken off. What noses that
smell find is then the truth.

    python tests/benchmarks/scent_coverage.py [panels] [seed]
"""

import sys
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy import stats

from candlelab.stats.assessors import assessor_table
from candlelab.stats.both_random import Panel, with_scale_use
from candlelab.stats.discrimination import smells_it
from candlelab.stats.multicomp import all_pairs_p
from candlelab.stats.panel import simulated_power

DESIGNS = ((3, 2, 2), (3, 4, 2), (4, 2, 3), (4, 4, 2), (5, 2, 4), (6, 2, 4), (6, 4, 2))
_PLANS = ((8, 3, 4, 0.75), (6, 4, 2, 1.25), (5, 3, 3, 1.0), (5, 2, 4, 1.0))
CHECKS, RIGHT = 8, 0.97  # blank checks of a nose; how often one that smells is right
SITTINGS, TOP, MIDDLE = 2, 5, 2.3
LEVEL, CANDLE, BURN, TASTE, SNIFF = 0.6, 0.2, 0.15, 0.25, 0.5


@dataclass(frozen=True)
class Noses:
    """What is amiss with a panel."""

    name: str
    use_sd: float = 0.0
    carry: float = 0.0
    deaf: bool = False
    missing: float = 0.0


KINDS = (
    Noses("alike"),
    Noses("use the scale differently", use_sd=0.3),
    Noses("carry-over", carry=0.1),
    Noses("one smells nothing", deaf=True),
    Noses("all of it", use_sd=0.3, carry=0.1, deaf=True),
    Noses("a fifth of the scores missing", use_sd=0.3, missing=0.2),
)


class Sitting:
    """One design: who smells what, and a way to draw the scores."""

    def __init__(self, noses, candidates, each, kind, rng):
        grid = np.meshgrid(
            np.arange(noses), np.arange(candidates * each), np.arange(SITTINGS), indexing="ij"
        )
        kept = rng.random(grid[0].size) >= kind.missing
        self.nose, self.candle, self.sitting = (axis.ravel()[kept] for axis in grid)
        self.of = np.repeat(np.arange(candidates), each)
        self.block = np.unique(self.nose * SITTINGS + self.sitting, return_inverse=True)[1]
        self.panel = Panel(self.block, self.nose, self.candle, self.of)
        self.kind, self.noses, self.candidates = kind, noses, candidates
        self.deaf = np.arange(noses) == noses - 1 if kind.deaf else np.zeros(noses, dtype=bool)

    def scores(self, truth, rng):
        kind, n = self.kind, len(self.nose)
        use = np.exp(rng.normal(-(kind.use_sd**2) / 2, kind.use_sd, self.noses))
        use[self.deaf] = 0.0
        own = truth[self.of] + rng.normal(0, CANDLE, len(self.of))
        lit = own[:, None] + rng.normal(0, BURN, (len(own), SITTINGS))
        taste = rng.normal(0, TASTE, (self.noses, self.candidates))
        strength = lit[self.candle, self.sitting] + taste[self.nose, self.of[self.candle]]
        felt = MIDDLE + rng.normal(0, LEVEL, self.noses)[self.nose]
        felt = felt + use[self.nose] * (strength - kind.carry * self._before(strength, rng))
        return np.clip(np.round(felt + rng.normal(0, SNIFF, n)), 0, TOP)

    def _before(self, strength, rng):
        """What was smelled before, in an order drawn anew for each nose and sitting."""
        order = np.lexsort((rng.random(len(self.block)), self.block))
        before = np.zeros(len(order))
        same = self.block[order][1:] == self.block[order][:-1]
        before[order[1:]] = np.where(same, strength[order[:-1]], 0.0)
        return before


def coverage(noses, candidates, each, kind, panels, seed):
    """Shares of panels: the interval holds the truth; one pair, any pair called different where
    none is; every score taken for a replicate; a step found; and the usual half width."""
    rng = np.random.default_rng([seed, noses, candidates, each, KINDS.index(kind)])
    sitting = Sitting(noses, candidates, each, kind, rng)
    pair = np.zeros(candidates)
    pair[0], pair[-1] = -1, 1
    step = np.zeros(candidates)
    step[-1] = 1.0
    seen = step[-1] * ((noses - 1) / noses if kind.deaf else 1.0)
    counts = np.zeros(5)
    half = 0.0
    for _ in range(panels):
        null = _fitted(sitting, np.zeros(candidates), rng)
        estimate, error, df = null[0].contrast(pair)
        far = stats.t.ppf(0.975, df) * error
        alarm = abs(estimate) > far
        counts[1] += alarm
        counts[2] += alarm if candidates == 2 else _any_pair(null[0], candidates)
        counts[3] += _replicates(null[1], sitting)
        there = _fitted(sitting, step, rng)[0]
        estimate, error, df = there.contrast(pair)
        far = stats.t.ppf(0.975, df) * error
        counts[0] += abs(estimate - seen) <= far
        counts[4] += abs(estimate) > far
        half += far
    return 100 * counts / panels, half / panels


def of_those(sitting, stays, made):
    """The rows of the noses that stay, their noses and sittings numbered anew, and their panel,
    which ``made`` keeps by who stays."""
    rows = stays[sitting.nose]
    nose, block = (
        np.unique(x[rows], return_inverse=True)[1] for x in (sitting.nose, sitting.block)
    )
    if stays.tobytes() not in made:
        made[stays.tobytes()] = Panel(block, nose, sitting.candle[rows], sitting.of)
    return rows, nose, block, made[stays.tobytes()]


def checked(noses, candidates, each, kind, panels, seed):
    """Shares of panels after blank checks [%]: the interval holds what noses that smell find; a
    pair is called different where none is, for all and for one pair; a step is found; and the
    usual half width, the shares of noses that smell and that do not that are set aside [%], and
    how many panels are left without two noses."""
    rng = np.random.default_rng([seed, noses, candidates, each, KINDS.index(kind), CHECKS])
    sitting = Sitting(noses, candidates, each, kind, rng)
    pair, step = np.zeros(candidates), np.zeros(candidates)
    pair[0], pair[-1], step[-1] = -1, 1, 1.0
    counts, half, lost, few, made = np.zeros(4), 0.0, np.zeros(2), 0, {}
    drawn = left = 0
    while left < panels:
        right = rng.binomial(CHECKS, np.where(sitting.deaf, 0.5, RIGHT))
        stays = np.array([smells_it(int(n), CHECKS) for n in right], dtype=bool)
        drawn += 1
        lost += [np.mean(~stays[~sitting.deaf]), np.mean(~stays[sitting.deaf])]
        if stays.sum() < 2:
            few += 1
            continue
        left += 1
        rows, nose, block, panel = of_those(sitting, stays, made)
        for n, truth in enumerate((step, np.zeros(candidates))):
            scores = with_scale_use(sitting.scores(truth, rng)[rows], block, nose)
            means = panel.fit(scores)
            estimate, error, df = means.contrast(pair)
            far = stats.t.ppf(0.975, df) * error
            if n == 0:
                counts[[0, 3]] += abs(estimate - 1.0) <= far, abs(estimate) > far
                half += far
            else:
                alarm = abs(estimate) > far
                counts[1] += alarm
                counts[2] += alarm if candidates == 2 else _any_pair(means, candidates)
    return 100 * counts / panels, half / panels, 100 * lost / drawn, few


def _fitted(sitting, truth, rng):
    raw = sitting.scores(truth, rng)
    return sitting.panel.fit(with_scale_use(raw, sitting.block, sitting.nose)), raw


def _any_pair(means, k):
    rows = [np.eye(k)[j] - np.eye(k)[i] for i in range(k) for j in range(i + 1, k)]
    found = [means.contrast(row) for row in rows]
    t = [abs(e) / s if s > 0 else 0.0 for e, s, _ in found]
    return all_pairs_p(t, k, [df for *_, df in found]).min() < 0.05


def _replicates(raw, sitting):
    first = sitting.of[sitting.candle] == 0
    last = sitting.of[sitting.candle] == sitting.candidates - 1
    if np.ptp(raw[first | last]) == 0:
        return False
    return stats.ttest_ind(raw[first], raw[last]).pvalue < 0.05


def named(panels, seed, scores=12):
    """How often a nose that scores at random is named, and one that does not, of ``scores``."""
    rng, counts = np.random.default_rng([seed, 7]), np.zeros(2)
    kind = Noses("", use_sd=0.3, deaf=True)
    sitting = Sitting(5, 3, scores // 6, kind, rng)
    for _ in range(panels):
        raw = sitting.scores(np.array([0.0, 1.0, 2.0]), rng)
        data = {"candle": sitting.candle, "assessor": sitting.nose, "block": sitting.block}
        hears = assessor_table(pd.DataFrame(data | {"score": raw}))["hears"].to_numpy()
        counts += [not hears[-1], np.sum(~hears[:-1]) / 4]
    return 100 * counts / panels


def planned(panels, seed):
    """Planned and found shares in four designs, the spread taken from earlier panels like it."""
    rows = []
    for noses, candidates, each, step in _PLANS:
        rng = np.random.default_rng([seed, noses])
        small = Sitting(noses, candidates, each, KINDS[1], rng)
        truth = np.r_[np.zeros(candidates - 1), step]
        squares = [_fitted(small, truth, rng)[0].mean_squares for _ in range(500)]
        before = np.maximum(small.panel.solve @ np.mean(squares, axis=0), 0)
        plan = simulated_power(
            before, n_assessors=noses, n_candles=each, n_candidates=candidates, step=step
        )
        pair = np.r_[-1.0, np.zeros(candidates - 2), 1.0]
        found = 0
        for _ in range(panels):
            estimate, error, df = _fitted(small, truth, rng)[0].contrast(pair)
            found += abs(estimate) > stats.t.ppf(0.975, df) * error
        rows.append((noses, candidates, each, step, 100 * plan, 100 * found / panels))
    return rows


def main(panels=2000, seed=20261126):
    print("noses | candidates x candles | panel | holds | false | any pair | naive | finds 1 | ±")
    for design in DESIGNS:
        for kind in KINDS:
            shares, half = coverage(*design, kind, panels, seed)
            numbers = " | ".join(f"{share:.1f}" for share in shares)
            noses, candidates, each = design
            line = f"{noses} | {candidates} x {each} | {kind.name} | {numbers} | {half:.2f}"
            print(line, flush=True)
            if kind.deaf:
                shares, half, lost, few = checked(*design, kind, panels, seed)
                numbers = " | ".join(f"{share:.1f}" for share in shares)
                line = f"{noses} | {candidates} x {each} | {kind.name}, after checks | {numbers}"
                aside = f"set aside {lost[0]:.1f} of who smell, {lost[1]:.1f} of who do not"
                print(f"{line} | {half:.2f} | {aside}, {few} panels too small", flush=True)
    at_random, others = named(min(panels, 500), seed)
    print(f"named: {at_random:.1f} of those who score at random, {others:.1f} of the others")
    for noses, candidates, each, step, plan, found in planned(panels, seed):
        design = f"{noses} noses, {candidates} x {each}, {step:g} steps"
        print(f"{design}: planned {plan:.1f}, found {found:.1f}", flush=True)


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))

"""What was tried for intervals of a scent panel in which a nose smells nothing.

With one such nose in every panel, and the truth that of this very panel, intervals hold more than
95 %: candle and nose are both taken as drawn by lot, so the range allows for panels with none and
with two such noses as well. Where the noses that smell nothing are drawn by lot too (each with the
chance of one in the panel), that is what it has to hold. Each row: how often the interval of a
step holds the truth, in %, for panels with one of them and with those drawn by lot, and how often
two that are alike are called different. The last row of a design sets aside whoever fails a check
of his own that knows nothing of the candidates (as sure as `assessor_table`: 87.4 % of those who
smell nothing fail it, 2.6 % of the others), and is held to what noses that smell find.

    python tests/benchmarks/scent_tried.py [panels] [seed]
"""

import sys

import numpy as np
from scent_coverage import DESIGNS, KINDS, Noses, Sitting, of_those
from scipy import stats

from candlelab.stats.both_random import REST, Means, with_scale_use


def used(means: Means, row) -> tuple[float, float, float]:
    return means.contrast(row)


def without_floor(means: Means, row) -> tuple[float, float, float]:
    """The sum of mean squares as it is, also below what candles or noses alone would give."""
    parts = np.einsum("i,ijq,j->q", row, means.weights, row) * means.mean_squares
    known = means.degrees > 0
    df = parts.sum() ** 2 / (parts[known] ** 2 / means.degrees[known]).sum()
    return row @ means.estimate, np.sqrt(max(parts.sum(), 1e-12)), max(df, 1.0)


def on_candles(means: Means, row) -> tuple[float, float, float]:
    """Noses taken as given: the candles are all that is drawn by lot."""
    part = (np.einsum("i,ijq,j->q", row, means.weights, row) * means.mean_squares)[0]
    return row @ means.estimate, np.sqrt(part), means.degrees[0]


def freer(means: Means, row) -> tuple[float, float, float]:
    """Degrees of freedom of the two parts that count, without the rest."""
    estimate, error, _ = means.contrast(row)
    parts = (np.einsum("i,ijq,j->q", row, means.weights, row) * means.mean_squares)[:REST]
    df = parts.sum() ** 2 / (parts**2 / means.degrees[:REST]).sum()
    return estimate, error, df


TRIED = {  # the interval, and how much of the use of the scale is taken off
    "as used": (used, 1 / 3),
    "no floor": (without_floor, 1 / 3),
    "df of two parts": (freer, 1 / 3),
    "noses as given": (on_candles, 1 / 3),
    "use of the scale left": (used, 0.0),
    "all use of the scale off": (used, 1.0),
}


def held(design, kind: Noses, panels: int, seed: int, by_lot: bool) -> np.ndarray:
    """Shares that hold the truth, and that cry wolf, for each of what was tried [%]."""
    noses, candidates, each = design
    rng = np.random.default_rng([seed, *design, by_lot])
    sitting = Sitting(noses, candidates, each, kind, rng)
    pair, step = np.zeros(candidates), np.zeros(candidates)
    pair[0], pair[-1], step[-1] = -1, 1, 1.0
    seen, counts = (noses - 1) / noses, np.zeros((len(TRIED), 2))
    for _ in range(panels):
        if by_lot:
            sitting.deaf = rng.random(noses) < 1 / noses
        for n, truth in enumerate((step, np.zeros(candidates))):
            raw = sitting.scores(truth, rng)
            for at, (interval, share) in enumerate(TRIED.values()):
                scores = with_scale_use(raw, sitting.block, sitting.nose, share)
                estimate, error, df = interval(sitting.panel.fit(scores), pair)
                off = abs(estimate - (seen if n == 0 else 0.0))
                inside = off <= stats.t.ppf(0.975, df) * error
                counts[at, n] += inside if n == 0 else not inside
    return 100 * counts / panels


def set_aside(design, kind: Noses, panels: int, seed: int) -> np.ndarray:
    """The same shares where noses that fail a check of their own are set aside [%]."""
    noses, candidates, each = design
    rng = np.random.default_rng([seed, *design, 2])
    sitting = Sitting(noses, candidates, each, kind, rng)
    pair, step = np.zeros(candidates), np.zeros(candidates)
    pair[0], pair[-1], step[-1] = -1, 1, 1.0
    counts, made, kept_panels = np.zeros(2), {}, 0
    while kept_panels < panels:
        stays = rng.random(noses) >= np.where(sitting.deaf, 0.874, 0.026)
        if stays.sum() < 2:
            continue
        kept_panels += 1
        rows, nose, block, panel = of_those(sitting, stays, made)
        for n, truth in enumerate((step, np.zeros(candidates))):
            scores = with_scale_use(sitting.scores(truth, rng)[rows], block, nose)
            estimate, error, df = panel.fit(scores).contrast(pair)
            inside = abs(estimate - truth[-1]) <= stats.t.ppf(0.975, df) * error
            counts[n] += inside if n == 0 else not inside
    return 100 * counts / panels


def main(panels=1000, seed=20261126):
    print("noses | candidates x candles | tried | one: holds | false | by lot: holds | false")
    kind = next(kind for kind in KINDS if kind.deaf)
    for design in DESIGNS:
        rows = [held(design, kind, panels, seed, by_lot) for by_lot in (False, True)]
        for name, one, lot in zip(TRIED, *rows, strict=True):
            noses, candidates, each = design
            numbers = " | ".join(f"{share:.1f}" for share in (*one, *lot))
            print(f"{noses} | {candidates} x {each} | {name} | {numbers}", flush=True)
        holds, false = set_aside(design, kind, panels, seed)
        print(
            f"{noses} | {candidates} x {each} | set aside | {holds:.1f} | {false:.1f}", flush=True
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))

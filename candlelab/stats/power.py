"""How often a plan of so many candles finds what it looks for: by simulating the analysis, and by
formula.

The analysis is ``pairwise`` on burns, with the candle as the unit. In a balanced plan all that it
takes from the burns are the means of the candidates and two mean squares, of candles and of burns,
whose distributions are known; so a batch is simulated by drawing these. That is the same analysis,
not one like it: the tests hold estimate, standard error and degrees of freedom to
`compare_candidates` on every burn, also where the candle variance comes out as zero. The formulas
know candle means only (noncentral t; two one-sided tests by integration, Phillips 1990, J.
Pharmacokin. Biopharm. 18:137), and are exact for them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import scipy

from candlelab.stats import multicomp, proportions
from candlelab.stats.tails import t_above_which, t_below_which

BATCHES, SEED = 20_000, 20261125


@dataclass(frozen=True)
class Spread:
    """How much candles of one candidate differ, and burns of one candle, as standard deviations in
    the metric's unit.

    ``df`` is the number of independent looks at it, None for an assumption. ``burn_sd`` is 0 for a
    metric that a candle has once. ``source`` says in words where it comes from.
    """

    candle_sd: float
    burn_sd: float
    source: str
    df: int | None = None

    def of_candle_means(self, burns: int) -> float:
        """Standard deviation of the mean of so many burns of a candle."""
        return math.hypot(self.candle_sd, self.burn_sd / math.sqrt(burns))


@dataclass(frozen=True)
class Plan:
    """A balanced batch: ``candles`` of each of ``candidates``, each burned ``burns`` times;
    ``confidence`` of its analysis."""

    candles: int
    candidates: int = 2
    burns: int = 10
    confidence: float = 0.95

    @property
    def df(self) -> int:
        """Degrees of freedom of a difference: candles less candidates."""
        return self.candidates * (self.candles - 1)

    @property
    def pairs(self) -> int:
        """Number of pairs of candidates."""
        return self.candidates * (self.candidates - 1) // 2

    def std_error(self, spread: Spread) -> float:
        """True standard error of a difference between two candidates."""
        return spread.of_candle_means(self.burns) * math.sqrt(2.0 / self.candles)

    def critical_t(self) -> float:
        """The |t| from which a difference is found, all pairs looked at (Tukey)."""
        return _all_pairs_t(self.confidence, self.candidates, self.df)

    def equivalence_t(self) -> float:
        """The t that both one-sided tests of a pair have to pass, the error shared by all pairs
        (Bonferroni)."""
        return float(t_above_which((1.0 - self.confidence) / self.pairs, self.df))


@lru_cache(maxsize=256)
def _all_pairs_t(confidence: float, candidates: int, df: int) -> float:
    return float(multicomp.all_pairs_t(confidence, candidates, np.array([float(df)]))[0])


def draw_batches(
    plan: Plan, spread: Spread, means, *, batches: int = BATCHES, seed: int = SEED
) -> tuple[np.ndarray, np.ndarray]:
    """Estimates of the candidates (one row per batch) and the standard error of a difference, as
    REML would give them.

    ``means`` are the true means. Where candles differ less than burns lead one to expect, the
    candle variance is zero and candles and burns together tell the spread, as in ``mixed_model``.
    """
    rng = np.random.default_rng(seed)
    sd, n, b = spread.of_candle_means(plan.burns), plan.candles, plan.burns
    luck = rng.normal(0.0, sd / math.sqrt(n), (batches, plan.candidates))
    between = b * sd**2 * rng.chisquare(plan.df, batches)
    within, within_df = None, plan.candidates * n * (b - 1)
    if within_df and spread.burn_sd:
        within = spread.burn_sd**2 * rng.chisquare(within_df, batches)
    return np.asarray(means, dtype=float) + luck, difference_error(plan, between, within)


def difference_error(plan: Plan, between, within=None) -> np.ndarray:
    """Standard error of a difference by REML, from the sums of squares of a balanced plan.

    ``between`` is that of candle means about their candidate times the number of burns, ``within``
    that of burns about their candle (None where a candle has one value).
    """
    between = np.asarray(between, dtype=float)
    variance = between / plan.df
    if within is not None:
        within_df = plan.candidates * plan.candles * (plan.burns - 1)
        at_zero = variance < within / within_df
        variance = np.where(at_zero, (between + within) / (plan.df + within_df), variance)
    return np.sqrt(2.0 * variance / (plan.candles * plan.burns))


def difference_found(
    plan: Plan, spread: Spread, difference: float, *, batches: int = BATCHES, seed: int = SEED
) -> float:
    """Share of simulated batches in which a pair that truly differs by ``difference`` is found to
    differ."""
    means = np.zeros(plan.candidates)
    means[0] = difference
    estimates, error = draw_batches(plan, spread, means, batches=batches, seed=seed)
    return float((np.abs(estimates[:, 0] - estimates[:, 1]) > plan.critical_t() * error).mean())


def difference_found_formula(plan: Plan, spread: Spread, difference: float) -> float:
    """The same by the noncentral t distribution."""
    error, t = plan.std_error(spread), plan.critical_t()
    if error == 0.0:
        return 1.0 if difference else 0.0
    away = difference / error
    if away > 37.0:  # beyond what scipy's noncentral t carries; the chance to miss it is nil
        return 1.0
    tails = [scipy.stats.nct.sf(t, plan.df, away), scipy.stats.nct.cdf(-t, plan.df, away)]
    return float(np.clip(np.nan_to_num(tails).sum(), 0.0, 1.0))


def smallest_difference(plan: Plan, spread: Spread, power: float) -> float:
    """The difference that is found with probability ``power``, by the formula."""
    error = plan.std_error(spread)
    if not error:
        return 0.0

    def excess(away):
        return difference_found_formula(plan, spread, away * error) - power

    return error * scipy.optimize.brentq(excess, 0.0, 37.0)


def equivalence_shown(
    plan: Plan,
    spread: Spread,
    margin: float,
    *,
    truth: float = 0.0,
    batches: int = BATCHES,
    seed: int = SEED,
) -> float:
    """Share of simulated batches in which a pair that truly differs by ``truth`` is shown to differ
    by less than ``margin``."""
    means = np.zeros(plan.candidates)
    means[0] = truth
    estimates, error = draw_batches(plan, spread, means, batches=batches, seed=seed)
    away = np.abs(estimates[:, 0] - estimates[:, 1])
    return float((away < margin - plan.equivalence_t() * error).mean())


def equivalence_shown_formula(
    plan: Plan, spread: Spread, margin: float, *, truth: float = 0.0
) -> float:
    """The same by one integral over the estimated spread."""
    error = plan.std_error(spread)
    if not error:
        return float(abs(truth) < margin)
    return tost_power(margin / error, truth / error, plan.equivalence_t(), plan.df)


def t_power(away: float, df: float, confidence: float = 0.95) -> float:
    """Chance that a two-sided t test notices what is ``away`` standard errors from zero (the
    noncentral t)."""
    far = t_below_which((1.0 + confidence) / 2.0, df)
    return float(scipy.stats.nct.sf(far, df, away) + scipy.stats.nct.cdf(-far, df, away))


def tost_power(margin: float, truth: float, t: float, df: float) -> float:
    """Chance that two one-sided t tests both pass; ``margin`` and ``truth`` in true standard errors
    of the difference.

    Integral over the estimated spread as a share of the true one (Owen 1965; Phillips 1990).
    """
    top = margin / t
    below = scipy.special.ndtr

    def at(scale):
        room = margin - t * scale
        density = scipy.stats.chi2.pdf(df * scale**2, df) * 2.0 * df * scale
        return density * (below(room - truth) - below(-room - truth))

    middle = min(1.0, top / 2.0)
    parts = [
        scipy.integrate.quad(at, low, high, epsabs=1e-10, limit=200)[0]
        for low, high in ((0.0, middle), (middle, min(top, 1.0 + 12.0 / math.sqrt(df))))
        if high > low
    ]
    return float(np.clip(sum(parts), 0.0, 1.0))


def smallest_margin(plan: Plan, spread: Spread, power: float) -> float:
    """The margin within which two truly equal candidates are shown alike with probability
    ``power``, by the formula."""
    error = plan.std_error(spread)
    if not error:
        return 0.0

    def excess(away):
        return equivalence_shown_formula(plan, spread, away * error) - power

    return error * scipy.optimize.brentq(excess, 1e-6, 100.0 * plan.equivalence_t())


def claim_carried(
    candles: int,
    reliability: float,
    confidence: float,
    *,
    truth: float,
    batches: int = BATCHES,
    seed: int = SEED,
) -> float:
    """Share of simulated batches whose passes carry the claim, when a share ``truth`` of such
    candles would pass."""
    failed = np.random.default_rng(seed).binomial(candles, 1.0 - truth, batches)
    counts, times = np.unique(failed, return_counts=True)
    claim = {"reliability": reliability, "confidence": confidence}
    more = [proportions.candles_still_needed(candles - k, int(k), **claim) for k in counts]
    return float(times[np.array(more) == 0].sum() / batches)


def claim_carried_formula(candles: int, failures: int, *, truth: float) -> float:
    """The same by the binomial distribution, for a claim that allows so many failures."""
    return float(scipy.stats.binom.cdf(failures, candles, 1.0 - truth))

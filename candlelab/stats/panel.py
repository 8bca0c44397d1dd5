"""A table of scores to an answer: how strong is each candidate, how sure, and which is enough.

Candle and assessor are both random (`both_random`), so that an answer speaks of other candles made
alike and of other noses like these.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
import scipy

from candlelab.stats.answers import all_pairs
from candlelab.stats.both_random import Means, Panel, with_scale_use
from candlelab.stats.columns import CannotCompare, check_columns, check_number, codes_of, levels_of
from candlelab.stats.designs import check_confidence
from candlelab.stats.multicomp import all_pairs_p
from candlelab.stats.tails import t_above, t_below_which
from candlelab.text import counted, listed, name_of

FLATTENS, RISES, UNCLEAR, ENOUGH_AT_FIRST = "flattens", "rises", "unclear", "enough at the lowest"
_POWER, _MOST_NOSES = 0.8, 60
_SEEN = 0.97  # what taking off the use of the scale leaves of a difference, as measured


@dataclass(frozen=True, eq=False)
class PanelComparison:
    """How strong each candidate is to a panel, on its scale.

    Attributes
    ----------
    levels : list
        The candidates, in order.
    means : Means
        Their means and the mean squares behind them.
    estimates : pandas.DataFrame
        One row per candidate: ``candidate, estimate, std_error, df, conf_low, conf_high, n_candles,
        n_assessors, n_scores``.
    differences : pandas.DataFrame
        All pairs, ``candidate`` less ``reference``; intervals stand alone, ``p_adjusted`` allows
        for all pairs (Tukey-Kramer).
    confidence : float
    n_assessors : int
    """

    levels: list
    means: Means
    estimates: pd.DataFrame
    differences: pd.DataFrame
    confidence: float
    n_assessors: int

    def at_least(self, candidate, reference, confidence: float = 0.95) -> float:
        """One-sided lower bound of a candidate's mean less that of another."""
        row = np.zeros(len(self.levels))
        row[self.levels.index(candidate)], row[self.levels.index(reference)] = 1.0, -1.0
        estimate, error, df = self.means.contrast(row)
        return estimate - t_below_which(confidence, df) * error

    @property
    def half_width(self) -> float:
        """Half width of the interval of a difference, usual over all pairs."""
        return float((self.differences["conf_high"] - self.differences["conf_low"]).median() / 2)


def compare_panel(
    table: pd.DataFrame,
    *,
    by: str,
    metric: str = "score",
    confidence: float = 0.95,
    scale_use: float = 1 / 3,
) -> PanelComparison:
    """Compare candidates by the scores of a panel.

    Parameters
    ----------
    table : pandas.DataFrame
        One row per score, with ``candle``, ``assessor``, ``block`` (scores of one assessor within
        which level is taken off) and the columns named.
    by, metric : str
        What is compared, and in which scores.
    confidence : float
    scale_use : float
        How much of the difference in use of the scale is taken off, from 0 to 1.

    Raises
    ------
    CannotCompare
        With fewer than two noses, candidates or candles of one of them, or groups of candles that
        no nose has in common.
    """
    check_columns(table, (by, metric, "candle", "assessor", "block"))
    check_confidence(confidence)
    y = check_number(table, metric)
    kept, y = table[~np.isnan(y) & table[by].notna()], y[~np.isnan(y) & table[by].notna()]
    if not len(kept):
        raise CannotCompare("There is no score to compare.")
    levels, codes = _coded(kept, by)
    panel = Panel(codes["block"], codes["assessor"], codes["candle"], codes["candidate_of"])
    _refuse(panel, levels, codes)
    scores = with_scale_use(y, codes["block"], codes["assessor"], scale_use)
    means = panel.fit(scores)
    return PanelComparison(
        levels,
        means,
        _estimates(means, levels, codes, confidence),
        _differences(means, levels, codes, confidence),
        confidence,
        int(codes["assessor"].max()) + 1,
    )


def _coded(kept: pd.DataFrame, by: str) -> tuple[list, dict]:
    """Candidates in order, and block, assessor, candle and candidate numbered from 0."""
    levels = levels_of(kept[by])
    codes = {"candidate": codes_of(kept[by], levels)}
    for name in ("block", "assessor"):
        codes[name] = pd.factorize(kept[name])[0]
    both = kept["candle"].astype(str) + "\n" + codes["candidate"].astype(str)
    codes["candle"] = pd.factorize(both)[0]
    first = np.unique(codes["candle"], return_index=True)[1]
    codes["candidate_of"] = codes["candidate"][first]
    return levels, codes


def _refuse(panel: Panel, levels: list, codes: dict) -> None:
    """Raise CannotCompare where the scores cannot tell candidates from candles or noses."""
    if len(levels) < 2:
        raise CannotCompare(
            f"Only {name_of(levels[0])} was scored: there is nothing to compare it with."
        )
    if codes["assessor"].max() == 0:
        raise CannotCompare(
            "One nose scored. It tells what that nose smells and not what others would: let three "
            "or more score the same candles."
        )
    if panel.degrees[0] == 0:
        raise CannotCompare(
            "One candle of each was scored, so a stronger candle cannot be told from a stronger "
            "recipe: score two or more candles of each."
        )
    if not panel.connected:
        raise CannotCompare(
            "Some candidates share no session with the others, so their scores cannot be put on "
            "one scale: let each nose smell candles of several candidates in one session."
        )
    if panel.degrees[1] == 0:
        raise CannotCompare(
            "No two noses scored the same two candidates, so a difference may be one nose's own: "
            "let all of them smell all candidates."
        )


def _estimates(means: Means, levels: list, codes: dict, confidence: float) -> pd.DataFrame:
    rows = []
    for i, level in enumerate(levels):
        estimate, error, df = means.contrast(np.eye(len(levels))[i])
        far = t_below_which((1 + confidence) / 2, df) * error
        own = codes["candidate"] == i
        n = [len(np.unique(codes[name][own])) for name in ("candle", "assessor")]
        rows.append((level, estimate, error, df, estimate - far, estimate + far, *n, own.sum()))
    names = ["candidate", "estimate", "std_error", "df", "conf_low", "conf_high", "n_candles",
             "n_assessors", "n_scores"]  # fmt: skip
    return pd.DataFrame(rows, columns=names)


def _differences(means: Means, levels: list, codes: dict, confidence: float) -> pd.DataFrame:
    rows, k = [], len(levels)
    for j, i in all_pairs(k):
        estimate, error, df = means.contrast(np.eye(k)[j] - np.eye(k)[i])
        far = t_below_which((1 + confidence) / 2, df) * error
        t = abs(estimate) / error if error > 0 else np.inf * abs(estimate or np.nan)
        t = 0.0 if np.isnan(t) else t
        adjusted = float(all_pairs_p([t], k, [df])[0])
        n = int(np.isin(codes["candidate_of"], (i, j)).sum())
        ends = estimate - far, estimate + far
        p = 2 * t_above(t, df)
        rows.append((levels[j], levels[i], estimate, error, df, *ends, p, adjusted, n))
    names = ["candidate", "reference", "estimate", "std_error", "df", "conf_low", "conf_high",
             "p_value", "p_adjusted", "n_candles"]  # fmt: skip
    return pd.DataFrame(rows, columns=names)


@dataclass(frozen=True)
class Enough:
    """From which level on more no longer smells stronger by more than the margin.

    ``kind`` is one of ``FLATTENS, RISES, UNCLEAR, ENOUGH_AT_FIRST``; ``level`` the lowest that is
    enough, the top where none below is; ``short`` by how much it may at most fall short of the
    top (95 in 100).
    """

    kind: str
    level: float
    short: float
    top: float


def enough(answer: PanelComparison, *, margin: float, blank_weaker: bool = False) -> Enough:
    """The lowest level that smells as strong as the highest one, within a margin.

    Levels are tried from the top down, each with a one-sided 95 % bound, and the first that does
    not hold ends it, so that the chance of a wrong word stays at 5 % (a sequence fixed before). It
    is called flat only where something lower is shown to be weaker.

    Parameters
    ----------
    answer : PanelComparison
        Compared by numbers, such as loads, each above zero.
    margin : float
        The largest difference that does not matter, set before the scores are seen.
    blank_weaker : bool
        Whether a candle with nothing in it is shown to be weaker.
    """
    levels, top = answer.levels, answer.levels[-1]
    level, short = top, 0.0
    for candidate in reversed(levels[:-1]):
        bound = answer.at_least(candidate, top)
        if bound <= -margin:
            break
        level, short = candidate, max(-bound, 0.0)
    weaker = blank_weaker or any(answer.at_least(level, x) > 0 for x in levels if x < level)
    if level == top:
        rises = len(levels) > 1 and answer.at_least(top, levels[-2]) > 0
        return Enough(RISES if rises else UNCLEAR, top, 0.0, top)
    flat = ENOUGH_AT_FIRST if level == levels[0] else FLATTENS
    return Enough(flat if weaker else UNCLEAR, level, short, top)


def smooth_means(answer: PanelComparison) -> np.ndarray:
    """The means, made to rise or stay level: more is taken not to smell weaker."""
    known = 1 / np.maximum(answer.estimates["std_error"].to_numpy(), 1e-6) ** 2
    return scipy.optimize.isotonic_regression(answer.estimates["estimate"], weights=known).x


def power_of(
    variances, *, n_assessors: int, n_candles: int, n_candidates: int, step: float
) -> float:
    """Chance that a difference of ``step`` between two candidates is shown, two-sided at 5 %.

    By the noncentral t, for ``n_candles`` of each candidate that all noses smell as often as in the
    panel that the variances come from.
    """
    candle, pair, rest = variances
    a, c, k = n_assessors, n_candles, n_candidates
    squares = np.array([a * candle + rest, c * pair + rest, rest])
    degrees = np.array([k * (c - 1), (a - 1) * (k - 1), (a - 1) * k * (c - 1)], dtype=float)
    if (degrees <= 0).any() or squares.sum() <= 0:
        return 0.0
    signs = np.array([1.0, 1.0, -1.0])
    variance = 2 / (a * c) * (signs * squares).sum()
    df = max((signs * squares).sum() ** 2 / (squares**2 / degrees).sum(), 1.0)
    far, shift = t_below_which(0.975, df), step / np.sqrt(variance)
    return float(scipy.stats.nct.sf(far, df, shift) + scipy.stats.nct.cdf(-far, df, shift))


def simulated_power(
    variances,
    *,
    n_assessors: int,
    n_candles: int,
    n_candidates: int,
    step: float,
    panels: int = 1000,
    seed: int = 1,
) -> float:
    """The same chance, as the share of drawn panels in which the analysis shows the difference."""
    rng = np.random.default_rng(seed)
    n_all = n_candidates * n_candles
    nose, candle = np.divmod(np.arange(n_assessors * n_all), n_all)
    of = np.arange(n_all) // n_candles
    panel = Panel(nose, nose, candle, of)
    sd = np.sqrt(np.maximum(variances, 0.0))
    row = np.zeros(n_candidates)
    row[0], row[-1] = -1.0, 1.0
    truth, found = _SEEN * step * (of == n_candidates - 1), 0
    for _ in range(panels):
        own, tastes = rng.normal(0, sd[0], n_all), rng.normal(0, sd[1], (n_assessors, n_candidates))
        cell = (truth + own)[candle] + tastes[nose, of[candle]] + rng.normal(0, sd[2], len(nose))
        estimate, error, df = panel.fit(cell).contrast(row)
        found += abs(estimate) > t_below_which(0.975, df) * error
    return found / panels


def noses_needed(variances, *, n_candles: int, n_candidates: int, step: float) -> int | None:
    """The fewest noses that show a difference of ``step`` in 80 of 100 panels; None if too many."""
    found = (
        n
        for n in range(2, _MOST_NOSES + 1)
        if power_of(
            variances, n_assessors=n, n_candles=n_candles, n_candidates=n_candidates, step=step
        )
        >= _POWER
    )
    return next(found, None)


def panel_words(answer: PanelComparison) -> str:
    """What the comparison rests on, in words."""
    n = answer.estimates["n_candles"]
    return (
        f"{counted(answer.n_assessors, 'nose')} scored {listed(sorted(set(n)), last='to')} candles "
        "of each. Candle and nose are both taken as drawn by lot, so that the answer holds for "
        "other candles and other noses like these. Each nose's level is taken off within its "
        "session, and a third of what noses differ in their use of the scale."
    )

"""One answer out of many measurements: safety first, then the studio's targets taken together.

Each target becomes a satisfaction between 0 and 1 (the desirability of Derringer and Suich, J. Qual.
Technol. 12:214, 1980), and their weighted geometric mean is the candidate's. How sure the order is
comes from drawing the candidates' means again and again, as uncertain as so few candles make them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from candlelab.columns import heading
from candlelab.settings import Target


@dataclass(frozen=True, eq=False)
class Choice:
    """``candidates``: satisfaction by candidate, the probability of being the best, and whether no other is
    at least as good in everything (``pareto``). ``by_target``: mean and satisfaction of each candidate in
    each target. ``drivers``: for each target, how
    much the winner's mean would have to be off for the runner-up to win. ``left_out``: candidates that
    could not be chosen, with the reason. ``notes``: what this rests on, in words."""

    candidates: pd.DataFrame
    by_target: pd.DataFrame
    drivers: pd.DataFrame
    left_out: pd.DataFrame
    notes: tuple[str, ...]


def desirability(value, target: Target):
    """Satisfaction with a value or an array of values, from 0 to 1 (Derringer and Suich 1980, exponents 1).

    With ``best``: a straight line from 0 at an end to 1 at ``best``, and 1 beyond ``best`` on a side that
    has no end. Without: 1 inside, 0 outside. A missing value satisfies nobody.
    """
    value = np.asarray(value, dtype=float)
    inside = (value >= target.low) & (value <= target.high)
    if target.best is None:
        return inside.astype(float)
    up = np.ones_like(value) if np.isinf(target.low) else (value - target.low) / (target.best - target.low)
    down = np.ones_like(value) if np.isinf(target.high) else (target.high - value) / (target.high - target.best)
    return np.where(np.isnan(value), 0.0, np.clip(np.minimum(up, down), 0.0, 1.0))


def together(satisfactions, weights):
    """Weighted geometric mean over the last axis; 0 as soon as one of them is 0."""
    weights = np.asarray(weights, dtype=float)
    with np.errstate(divide="ignore"):
        return np.exp((np.log(np.asarray(satisfactions, dtype=float)) * weights).sum(axis=-1) / weights.sum())


def choose(values: pd.DataFrame, targets: tuple[Target, ...], safe: dict[str, str], *, seed: int = 1, draws: int = 20_000) -> Choice:
    """Put the safe candidates in order of satisfaction, and say how sure the order is.

    ``values`` has one row per fresh candle with ``candidate`` and a column per target; ``safe`` gives an
    empty reason for each candidate that may be chosen, and the reason for one that may not. The
    uncertainty of the means is that of candles within candidates, pooled over candidates (degrees of
    freedom: candles minus candidates). Raises ValueError without a target.
    """
    if not targets:
        raise ValueError("batch.toml names no target, so there is nothing to choose by: add [targets].")
    names = [t.quantity for t in targets]
    reasons = {name: reason for name, reason in safe.items() if reason}
    allowed = values[values["candidate"].map(lambda name: not safe.get(name, "no verdict"))]
    for name, own in allowed.groupby("candidate", sort=False):
        missing = [heading(q) for q in names if own[q].isna().all()]
        if missing:
            reasons[name] = f"no candle has a number for {', '.join(missing)}"
    kept = allowed[~allowed["candidate"].isin(list(reasons))]
    left_out = pd.DataFrame(list(reasons.items()), columns=["candidate", "reason"])
    if kept.empty:
        return Choice(_empty(), _by_target(pd.DataFrame(), np.zeros((0, len(names))), names), _no_drivers(), left_out, ("No candidate can be chosen.",))
    means = kept.groupby("candidate", sort=False)[names].mean()
    n = kept.groupby("candidate", sort=False).size().to_numpy()
    spread, df = _pooled_spread(kept, names)
    weights = [t.weight for t in targets]
    separate = np.column_stack([desirability(means[t.quantity], t) for t in targets])
    overall = together(separate, weights)
    chance = _chance_of_best(means.to_numpy(), n, spread, df, targets, seed, draws)
    table = pd.DataFrame({"candidate": means.index, "n_candles": n, "satisfaction": overall, "probability_best": chance,
                          "pareto": _pareto(separate)})  # fmt: skip
    order = np.lexsort((-np.nan_to_num(chance), -overall))
    return Choice(
        candidates=table.iloc[order].reset_index(drop=True),
        by_target=_by_target(means.iloc[order], separate[order], names),
        drivers=_drivers(means, n, spread, overall, targets),
        left_out=left_out,
        notes=_notes(n, df, targets, overall),
    )


def _by_target(means: pd.DataFrame, separate: np.ndarray, names: list[str]) -> pd.DataFrame:
    rows = [(candidate, name, means[name].iat[n], separate[n, k]) for n, candidate in enumerate(means.index) for k, name in enumerate(names)]
    return pd.DataFrame(rows, columns=["candidate", "target", "mean", "satisfaction"])


def _pooled_spread(kept: pd.DataFrame, names: list[str]) -> tuple[np.ndarray, int]:
    """Covariance of the candles within candidates, and its degrees of freedom; missing numbers count as the mean."""
    within = kept[names] - kept.groupby("candidate")[names].transform("mean")
    df = len(kept) - kept["candidate"].nunique()
    within = within.fillna(0.0).to_numpy()
    return (within.T @ within / df if df else np.full((len(names),) * 2, np.nan)), df


def _chance_of_best(means, n, spread, df, targets, seed, draws) -> np.ndarray:
    """Share of draws in which each candidate satisfies most; ties share a draw. Missing without degrees of freedom.

    Means are drawn from a multivariate t about what was measured: normal, with the pooled spread scaled
    by a chi-square of its degrees of freedom.
    """
    if len(means) == 1:
        return np.array([1.0])
    if df < 1:
        return np.full(len(means), np.nan)
    random = np.random.default_rng(seed)
    values, vectors = np.linalg.eigh(spread)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    scale = np.sqrt(df / random.chisquare(df, size=(draws, 1, 1)))
    noise = random.standard_normal((draws, len(means), len(targets))) @ root.T
    drawn = means + scale * noise / np.sqrt(n)[:, None]
    satisfied = together(np.stack([desirability(drawn[..., k], t) for k, t in enumerate(targets)], axis=-1), [t.weight for t in targets])
    best = satisfied == satisfied.max(axis=1, keepdims=True)
    return (best / best.sum(axis=1, keepdims=True)).mean(axis=0)


def _pareto(separate: np.ndarray) -> np.ndarray:
    """True for the candidates that no other one equals in everything and beats in something."""
    at_least = (separate[:, None] >= separate[None]).all(axis=2)
    better = (separate[:, None] > separate[None]).any(axis=2)
    return ~(at_least & better).any(axis=0)


def _drivers(means: pd.DataFrame, n, spread, overall, targets) -> pd.DataFrame:
    """For each target the smallest shift of the winner's mean at which the runner-up wins, also in standard errors."""
    if len(means) < 2:
        return _no_drivers()
    first, second = np.argsort(-overall, kind="stable")[:2]
    rows = []
    for place, target in enumerate(targets):
        error = float(np.sqrt(spread[place, place] / n[first]))
        reach = 6.0 * error if np.isfinite(error) and error > 0 else 0.0
        shifts = np.linspace(-reach, reach, 2401)
        moved = np.repeat(means.to_numpy()[first][None], len(shifts), axis=0)
        moved[:, place] += shifts
        satisfied = together(np.column_stack([desirability(moved[:, k], t) for k, t in enumerate(targets)]), [t.weight for t in targets])
        enough = np.abs(shifts[satisfied < overall[second]])
        shift = float(enough.min()) if len(enough) else np.nan
        rows.append((target.quantity, shift, shift / error if error > 0 else np.nan))
    table = pd.DataFrame(rows, columns=["target", "shift", "shift_in_std_errors"])
    return table.sort_values("shift_in_std_errors", kind="stable", na_position="last").reset_index(drop=True)


def _notes(n, df, targets, overall) -> tuple[str, ...]:
    notes = []
    if any(t.best is None for t in targets):
        plain = ", ".join(heading(t.quantity) for t in targets if t.best is None)
        notes.append(f"A candidate is either inside or outside for {plain}: batch.toml names no best value there.")
    if len(n) == 1:
        notes.append("Only one candidate may be chosen, so there is nothing to compare it with.")
    elif df < 1:
        notes.append("One candle a candidate says nothing about the spread between candles, so how sure the order is cannot be said.")
    if np.all(overall == 0):
        notes.append("Every candidate misses a target altogether, so none satisfies: widen a target or try other candidates.")
    return tuple(notes)


def _empty() -> pd.DataFrame:
    columns = ["candidate", "n_candles", "satisfaction", "probability_best", "pareto"]
    return pd.DataFrame({name: pd.Series(dtype="str" if name == "candidate" else float) for name in columns})


def _no_drivers() -> pd.DataFrame:
    return pd.DataFrame({"target": pd.Series(dtype="str"), "shift": pd.Series(dtype=float), "shift_in_std_errors": pd.Series(dtype=float)})

"""One answer out of many measurements: safety first, then the studio's targets taken together.

Each target becomes a satisfaction between 0 and 1 (the desirability of Derringer and Suich, J.
Qual. Technol. 12:214, 1980), and their weighted geometric mean is the candidate's. How sure the
order is comes from resampling the candles (`draw_means`). A candle that never got there (no full
pool while it was watched, not burned to its end) is known only to lie above or below something, and
counts at its worst.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import pandas as pd

from candlelab.logs.settings import Target
from candlelab.pages.glossary import GLOSSARY
from candlelab.stats.desirability import desirability, draw_means, leveled, together
from candlelab.text import capital
from candlelab.units import SI, Display


@dataclass(frozen=True, eq=False)
class Choice:
    """Who was chosen, and how sure that is.

    ``candidates``: satisfaction by candidate, the probability of being the best, and whether no
    other is at least as good in everything (``pareto``). ``by_target``: mean and satisfaction of
    each candidate in each target. ``drivers``: for each target, how much the winner's mean would
    have to be off for the runner-up to win. ``left_out``: candidates that could not be chosen, with
    the reason; ``unknown`` are those of them that are safe but not known well enough. ``notes``:
    what this rests on, in words. ``apart``: what cannot be told from the candidates, so that nobody
    is called best.
    """

    candidates: pd.DataFrame
    by_target: pd.DataFrame
    drivers: pd.DataFrame
    left_out: pd.DataFrame
    unknown: tuple[str, ...]
    notes: tuple[str, ...]
    apart: str = ""


def choose(
    values: pd.DataFrame,
    targets: tuple[Target, ...],
    safe: dict[str, str],
    *,
    above: pd.DataFrame | None = None,
    below: pd.DataFrame | None = None,
    blocks: tuple[str, ...] = (),
    apart: str = "",
    display: Display = SI,
    seed: int = 1,
    draws: int = 20_000,
) -> Choice:
    """Put the safe candidates in order of satisfaction, and say how sure the order is.

    A candidate is left out when what it satisfies hangs on a missing number. The rest is told in
    ``notes``: where it does not hang on it the number counts at its worst, and one that was not
    recorded does not count. The probability is that of being the best of them under the targets as
    they stand (`draw_means`): missing for a single candidate, and when nothing shows how much
    candles differ.

    Parameters
    ----------
    values : pandas.DataFrame
        One row per fresh candle, with ``candidate`` and a column per target.
    targets : tuple of Target
        One at least; else ValueError.
    safe : dict
        An empty reason for each candidate that may be chosen, the reason for one that may not.
    above, below : pandas.DataFrame, optional
        Of the same rows: for a missing number what it is known to be above or below (0 and more).
    blocks : tuple of str
        Columns of ``values`` whose levels are taken off, as the comparison does.
    apart : str
        What cannot be told from the candidates: then nobody is called best.
    display : Display
        The reader's units, for the words.
    seed, draws : int
        Of the resampling.
    """
    if not targets:
        raise ValueError(
            "batch.toml names no target, so there is nothing to choose by: add [targets]."
        )
    reasons = {name: reason for name, reason in safe.items() if reason}
    may = [not safe.get(name, "no verdict") for name in values["candidate"]]
    allowed = values[np.array(may, dtype=bool)]
    filled, missed, notes = _filled(allowed, targets, above, below, reasons, display)
    kept = filled[~filled["candidate"].isin(list(reasons))]
    out = {
        "left_out": pd.DataFrame(list(reasons.items()), columns=["candidate", "reason"]),
        "unknown": tuple(name for name in reasons if name in missed.index),
    }
    if kept.empty:
        return _nobody(targets, out)
    levels = [pd.factorize(kept[b].astype(str))[0] for b in blocks]
    drawing = partial(draw_means, seed=seed, draws=draws)
    return _ordered(kept, missed, targets, notes, out, levels, apart, drawing)


def _ordered(kept, missed, targets, notes, out, levels, apart, drawing) -> Choice:
    """The candidates in ``kept`` in order, ``missed`` where one misses a target for certain."""
    names, weights = [t.quantity for t in targets], [t.weight for t in targets]
    grouped = kept.groupby("candidate", sort=False)
    code = grouped.ngroup().to_numpy()
    levels, measured = np.column_stack(levels or [code * 0]), kept
    kept = kept.assign(**dict(zip(names, leveled(kept[names], code, levels).T, strict=True)))
    grouped = kept.groupby("candidate", sort=False)
    means, n = grouped[names].mean(), grouped.size().to_numpy()
    means = means.mask(missed.reindex(means.index)[names])
    separate = np.column_stack([_satisfied(means[t.quantity], t) for t in targets])
    overall = together(separate, weights)
    numbers = measured[names].mask(missed.loc[kept["candidate"], names].to_numpy())
    drawn = drawing(numbers, code, blocks=levels) if len(means) > 1 and not apart else None
    chance = _chance_of_best(drawn, targets)
    best = np.full(len(means), np.nan) if chance is None else chance
    table = pd.DataFrame(
        {
            "candidate": means.index,
            "n_candles": n,
            "satisfaction": overall,
            "probability_best": best,
            "pareto": _pareto(separate),
        }
    )
    order = np.lexsort((-table["probability_best"].fillna(0.0), -overall))
    told = [note for name, note in notes if name in means.index]
    return Choice(
        candidates=table.iloc[order].reset_index(drop=True),
        by_target=_by_target(means.iloc[order], separate[order], names),
        drivers=_drivers(means, _errors(kept, means, names), overall, targets),
        notes=(*told, *_notes(n, chance is not None, targets, overall, apart)),
        apart=apart,
        **out,
    )


def _nobody(targets, out) -> Choice:
    """The answer when no candidate can be chosen."""
    names = [t.quantity for t in targets]
    return Choice(
        candidates=_empty(),
        by_target=_by_target(pd.DataFrame(), np.zeros((0, len(names))), names),
        drivers=_no_drivers(),
        notes=("No candidate can be chosen.",),
        **out,
    )


def _satisfied(value, target: Target):
    return desirability(value, target.low, target.high, target.best)


def _filled(allowed, targets, above, below, reasons, display):
    """The values with what is known of missing ones in their place; who misses a target; notes.

    A candidate whose satisfaction hangs on a missing number gets a reason.
    """
    filled, notes = allowed.copy(), []
    missed = pd.DataFrame(
        False,
        index=list(dict.fromkeys(allowed["candidate"])),
        columns=[t.quantity for t in targets],
    )
    for target in targets:
        q = target.quantity
        number = allowed[q].astype(float)
        lacking = allowed.loc[number.isna(), "candidate"].unique()
        if not len(lacking):
            continue
        over, under = (
            (
                number * np.nan
                if ends is None or q not in ends
                else ends[q].reindex(allowed.index).astype(float)
            ).where(number.isna())
            for ends in (above, below)
        )
        filled[q] = number.fillna(over).fillna(under)
        for name in lacking:
            own = (allowed["candidate"] == name).to_numpy()
            reason, told, missed.loc[name, q] = _known(
                number[own], over[own], under[own], name, target, display
            )
            notes += [(name, note) for note in told]
            if reason:
                reasons[name] = "; ".join(filter(None, [reasons.get(name, ""), reason]))
    return filled, missed, notes


def _known(number, over, under, name, target, display):
    """Why a candidate cannot be chosen by a target, what must be told, whether it surely misses."""
    label, n = GLOSSARY[target.quantity].label, len(number)
    ended = number.isna() & (over.notna() | under.notna())
    lost = int((number.isna() & ~ended).sum())
    if lost == n:
        return f"no candle has a number for {label}", [], False
    subject = f"{capital(label)} of {{}} of {n} candles of {name}"
    others = "is not known: the mean is that of the others."
    told = [f"{subject.format(lost)} {others}"] if lost else []
    if not ended.any():
        return "", told, False
    words = _open_words(over, under, GLOSSARY[target.quantity].unit, display)
    low = number.fillna(over).fillna(under * 0.0).mean()
    high = number.where(over.isna(), np.inf).fillna(under).mean()
    low = np.nextafter(low, np.inf) if over.notna().any() else low
    satisfied = _satisfied_between(low, high, target)
    if satisfied is None:
        open_ = f"{label} of {ended.sum()} of {n} candles is known only to be {words}"
        return f"{open_}, which leaves open what it satisfies", [], False
    so = (
        "the mean misses the target whatever it is"
        if satisfied == 0.0
        else "the mean is inside the target whatever it is, and counts as that"
    )
    told.append(f"{subject.format(ended.sum())} is known only to be {words}: {so}.")
    return "", told, satisfied == 0.0


def _open_words(over: pd.Series, under: pd.Series, unit: str, display: Display) -> str:
    """Above or below what numbers are known to lie, the least telling end of each."""
    parts = [
        f"{word} {display.value(end, unit):.3g} {display.symbol(unit)}".strip()
        for word, end in (("above", over.min()), ("below", under.max()))
        if np.isfinite(end)
    ]
    return " or ".join(parts)


def _satisfied_between(low: float, high: float, target: Target) -> float | None:
    """Satisfaction with a mean somewhere from ``low`` to ``high``, None when it hangs on where."""
    bends = [b for b in (target.low, target.best, target.high) if b is not None and low < b < high]
    found = _satisfied([low, *bends, high], target)
    return float(found[0]) if np.ptp(found) == 0.0 else None


def _by_target(means: pd.DataFrame, separate: np.ndarray, names: list[str]) -> pd.DataFrame:
    rows = [
        (candidate, name, means[name].iat[n], separate[n, k])
        for n, candidate in enumerate(means.index)
        for k, name in enumerate(names)
    ]
    return pd.DataFrame(rows, columns=["candidate", "target", "mean", "satisfaction"])


def _errors(kept: pd.DataFrame, means: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """Standard error of each candidate's mean, from the spread within candidates, pooled."""
    count = kept.groupby("candidate", sort=False)[names].count().where(means.notna())
    within = kept.set_index("candidate")[names]
    within = within - means.loc[within.index]
    df = (count.sum() - (count > 0).sum()).astype(float)
    return np.sqrt(within.pow(2).sum() / df.where(df > 0)) / np.sqrt(count)


def _chance_of_best(drawn: np.ndarray | None, targets) -> np.ndarray | None:
    """Share of draws in which each candidate satisfies most; ties share a draw."""
    if drawn is None:
        return None
    each = np.stack([_satisfied(drawn[..., k], t) for k, t in enumerate(targets)], axis=-1)
    satisfied = together(each, [t.weight for t in targets])
    best = satisfied == satisfied.max(axis=1, keepdims=True)
    return (best / best.sum(axis=1, keepdims=True)).mean(axis=0)


def _pareto(separate: np.ndarray) -> np.ndarray:
    """True for the candidates that no other one equals in everything and beats in something."""
    at_least = (separate[:, None] >= separate[None]).all(axis=2)
    better = (separate[:, None] > separate[None]).any(axis=2)
    return np.logical_not((at_least & better).any(axis=0))


def _drivers(means: pd.DataFrame, errors: pd.DataFrame, overall, targets) -> pd.DataFrame:
    """For each target the smallest shift of the winner's mean at which the runner-up wins."""
    if len(means) < 2:
        return _no_drivers()
    first, second = np.argsort(-overall, kind="stable")[:2]
    rows = []
    for place, target in enumerate(targets):
        error = float(errors.iat[first, place])
        reach = 6.0 * error if np.isfinite(error) and error > 0 else 0.0
        shifts = np.linspace(-reach, reach, 2401)
        moved = np.repeat(means.to_numpy()[first][None], len(shifts), axis=0)
        moved[:, place] += shifts
        each = np.column_stack([_satisfied(moved[:, k], t) for k, t in enumerate(targets)])
        satisfied = together(each, [t.weight for t in targets])
        enough = np.abs(shifts[satisfied < overall[second]])
        shift = float(enough.min()) if len(enough) else np.nan
        rows.append((target.quantity, shift, shift / error if error > 0 else np.nan))
    table = pd.DataFrame(rows, columns=["target", "shift", "shift_in_std_errors"])
    return table.sort_values("shift_in_std_errors", kind="stable", ignore_index=True)


def _notes(n, known: bool, targets, overall, apart: str = "") -> tuple[str, ...]:
    notes = []
    if any(t.best is None for t in targets):
        plain = ", ".join(GLOSSARY[t.quantity].label for t in targets if t.best is None)
        notes.append(
            f"A candidate is either inside or outside for {plain}: batch.toml names no best value "
            "there."
        )
    if len(n) == 1:
        notes.append("Only one candidate may be chosen, so there is nothing to compare it with.")
    elif apart:
        notes.append(apart)
    elif not known:
        notes.append(
            "One candle a candidate says nothing about the variation between candles, so how sure "
            "the order is cannot be said."
        )
    if np.all(overall == 0):
        notes.append(
            "Every candidate misses a target altogether, so none satisfies: widen a target or try "
            "other candidates."
        )
    return tuple(notes)


def _empty() -> pd.DataFrame:
    columns = ["candidate", "n_candles", "satisfaction", "probability_best", "pareto"]
    return pd.DataFrame(
        {name: pd.Series(dtype="str" if name == "candidate" else float) for name in columns}
    )


def _no_drivers() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "target": pd.Series(dtype="str"),
            "shift": pd.Series(dtype=float),
            "shift_in_std_errors": pd.Series(dtype=float),
        }
    )

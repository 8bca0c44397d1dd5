"""What can be printed, in sentences: the answer, the times that might be declared, the notes."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from candlelab.claim.tables import BUY, DECLARED_SOURCE, DECLARED_TOLERANCE
from candlelab.stats.intervals import LowerBounds
from candlelab.stats.proportions import claim_words
from candlelab.text import amount, counted, listed

CONFIDENCE, RELIABILITY = 0.95, 0.90


def answer(
    candidate, limited: bool, why: str, bounds: LowerBounds | None, safety, lives, declared
) -> tuple[str, ...]:
    """What can be promised, or why nothing can; how safe it was; what does not count."""
    if bounds is None:
        lines = [f"No burn time can be printed for {candidate}: {why}."]
    else:
        lines = [*_bound_words(candidate, bounds), _band_words(declared.iloc[0], bounds.n)]
        lines += [f"With a limit: {why}."] if limited else []
    lines.append(_safety_words(int(safety["n_passed"]), int(safety["n_failed"])))
    ahead = int(lives["life_projected_h"].notna().sum())
    if ahead:
        lines.append(
            f"{counted(ahead, 'candle')} {'has' if ahead == 1 else 'have'} a projected life only; "
            "it is listed and marked, and does not count."
        )
    lines.append(
        "This is screening evidence. What a label must say, the purchased standard and local law "
        "decide."
    )
    return tuple(lines)


def _bound_words(candidate, bounds: LowerBounds) -> list[str]:
    sure = f"{100 * bounds.confidence:g} % confidence"
    return [
        f"For {candidate} at most “{whole_hours(bounds.tolerance)} h” can be promised: with {sure} "
        f"at least {100 * bounds.coverage:g} of 100 such candles burn {_h(bounds.tolerance)} or "
        f"longer ({bounds.n} candles, mean {_h(bounds.mean)}, shortest {_h(bounds.smallest)}).",
        f"The next single candle burns {_h(bounds.prediction)} or longer, with {sure}.",
    ]


def _h(value: float) -> str:
    return amount(value, "h")


def _safety_words(passed: int, failed: int) -> str:
    if failed:
        return f"Safety: {passed} of {passed + failed} passed."
    if passed:
        return f"Safety: {claim_words(passed, failed, reliability=RELIABILITY)}"
    return (
        "Safety: no candle has both passed and been watched completely, so no share of passes is "
        "shown."
    )


def _band_words(row, n: int) -> str:
    longer = f"; {row['n_above']} burn longer" if row["n_above"] else ""
    shorter = f"; {row['n_below']} burn shorter" if row["n_below"] else ""
    return (
        f"Declared as {row['declared_h']:.0f} h, {row['n_inside']} of {n} candles are within 10 % "
        f"of it ({row['band_low_h']:.1f} to {row['band_high_h']:.1f} h){longer}{shorter}."
    )


def whole_hours(value: float) -> int:
    """Whole hours, rounded down: a label must not promise the part that was rounded up."""
    return max(math.floor(value + 1e-9), 0)


def declared_times(bounds: LowerBounds, lives: np.ndarray) -> pd.DataFrame:
    """Times that might be printed, and how the candles stand to each with 10 % either way."""
    sure = f"with {100 * bounds.confidence:g} % confidence"
    many = f"at least {100 * bounds.coverage:g} of 100 candles burn so long"
    ways = (
        ("tolerance bound", f"{sure} {many}", bounds.tolerance),
        ("prediction bound", f"{sure} the next candle burns so long", bounds.prediction),
        ("mean", "half of the candles burn shorter: not a time to promise", bounds.mean),
    )
    rows = []
    for bound, meaning, value in ways:
        hours = whole_hours(value)
        low, high = hours * (1.0 - DECLARED_TOLERANCE), hours * (1.0 + DECLARED_TOLERANCE)
        below, above = int((lives < low).sum()), int((lives > high).sum())
        rows.append(
            {
                "bound": bound,
                "what_it_means": meaning,
                "bound_h": value,
                "declared_h": float(hours),
                "band_low_h": low,
                "band_high_h": high,
                "n_below": below,
                "n_inside": len(lives) - below - above,
                "n_above": above,
            }
        )
    return pd.DataFrame(rows)


def notes(own: pd.DataFrame, lives: pd.DataFrame) -> tuple[str, ...]:
    """What the numbers rest on, and where the words that count stand."""
    n = int(lives["counts"].sum())
    normal = (
        "The bounds take the lives of candles to be normally distributed; so few candles cannot "
        "show whether they are."
    )
    if n:
        share = f"{100 * (1 - CONFIDENCE) ** (1 / n):.0f} of 100"
        normal += (
            f" Without that, {n} candles show that {share} last as long as the shortest of them."
        )
    return (
        normal,
        f"Declared times with 10 % either way: {DECLARED_SOURCE}. It is shown beside the bound and "
        "does not replace it.",
        "Tolerance of the wick: half the way to the next size is common practice, no source; agree "
        "on it with the supplier in writing.",
        _batches_words(own, lives),
        BUY,
    )


def _batches_words(own: pd.DataFrame, lives: pd.DataFrame) -> str:
    found = own["batch"].nunique()
    if found == 1:
        return (
            "All candles come from one batch: what another pouring, lot or season does is not in "
            "the bound."
        )
    means = lives[lives["counts"]].groupby("batch")["life_h"].mean()
    named = listed([f"{_h(value)} in {name}" for name, value in means.items()])
    return (
        f"Candles of {found} batches are taken together (means {named}); so few batches hardly "
        "show what another lot does."
    )

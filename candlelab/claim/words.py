"""What can be printed, in sentences: the box, the times that might be declared, the notes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from candlelab.burns.repeats import SAME_CANDLE
from candlelab.candle_formulas import failure_rate_upper
from candlelab.claim.evidence import Evidence
from candlelab.claim.lives import ASIDE, BURNING, STOPPED, WAX_G_PER_ML
from candlelab.claim.outcome import CONDITION, NOT_YET, Outcome, settled
from candlelab.claim.tables import (
    BUY,
    DECLARED_SOURCE,
    DECLARED_TOLERANCE,
    hours_at_least,
    in_hours,
    printed,
    whole_hours,
)
from candlelab.judge.decision import Decision, incident_words, proof_words
from candlelab.judge.words import MOST_IN_ROW, gap_words, in_row, named, number_word
from candlelab.stats.intervals import LowerBounds
from candlelab.stats.proportions import claim_words
from candlelab.text import capital, listed, of_folder, small

RELIABILITY = 0.90
_NOT_COUNTED = "It does not count toward a burn time."
LAW = "Your safety standard and local law decide what a label must say."


def box(e: Evidence, found: Outcome, declared: pd.DataFrame) -> Decision:
    """What can be promised, or why nothing can; what it rests on; what to do next."""
    why = list(found.why)
    steps = list(found.steps)
    if len(declared) and e.bounds is not None:
        then = "Then print the time that the new page gives. By these candles alone it is"
        first = "Print" if found.print_now else then
        steps.append(_print_words(e, first))
    reasons = [*why[1:], *_wall_words(e)]
    return Decision(
        str(e.fate["vessel"]),
        "" if found.outcome == NOT_YET else e.name,
        tuple(incident_words(e.failed)),
        _headline(e, found),
        (*reasons, *_not_in_it(e), *_made_up_for(e, found), *e.notes),
        tuple(dict.fromkeys(step for step in steps if step)),
        _how_sure(e, found),
    )


def _how_sure(e: Evidence, found: Outcome) -> str:
    """How sure safety is and how sure the time, each for itself, and who decides on a label."""
    n = 0 if found.outcome == NOT_YET else int(e.fate["n_passed"])
    proof = proof_words(n, tested=True)
    safety = f"Safety: {small(proof)}" if n else proof
    if found.outcome == NOT_YET or e.bounds is None:
        return f"{safety} {LAW}"
    share = f"at least {10 * e.bounds.coverage:g} in 10 candles, of these and other pours,"
    sure = f"{100 * e.bounds.confidence:g} in 100 sure"
    reach = f"if no candle goes out early, {share} burn {whole_hours(e.to_print)} h ({sure})."
    return f"Burn time: {reach} {safety} {LAW}"


def _headline(e: Evidence, found: Outcome) -> str:
    name = named(e.name)
    first = found.why[0] if found.why else ""
    if found.outcome == NOT_YET or e.bounds is None:
        yet = "" if len(e.failed) else " yet"
        return f"No burn time can be printed for {name}{yet}: {small(first)}"
    hours = f"{whole_hours(e.to_print)} h"
    if not found.print_now:
        return f"Print nothing yet for {name}. {first} By these candles alone: at most {hours}."
    if found.outcome == CONDITION:
        return f"Up to {hours} is supported for {name}, with a condition: {small(first)}"
    many = capital(number_word(e.bounds.n))
    return f"Print at most {hours} for {name}. {many} test candles support it."


def _pours(e: Evidence) -> str:
    n = e.lives.loc[e.lives["counts"], "batch"].nunique()
    return "this pour" if n == 1 else f"these {number_word(n)} pours"


def _time_words(e: Evidence, b: LowerBounds) -> list[str]:
    """The bounds: of these pours, of others, of the next candle, and to the wax that is left."""
    asked = e.asked
    sure = f"{100 * b.confidence:g} % confidence"
    said = [
        f"With {sure} at least {100 * b.coverage:g} of 100 candles of {_pours(e)} burn "
        f"{hours_at_least(b.tolerance)} or longer ({b.n} candles, mean {in_hours(b.mean)}, "
        f"shortest {in_hours(b.smallest)}).",
        f"Candles of another pour: {hours_at_least(e.other_pours)} or longer, if pours differ by "
        f"{asked.batch_sd_pct:g} %. A new lot of wax or wicks may burn differently.",
        f"The next single candle burns {hours_at_least(b.prediction)} or longer, with {sure}.",
    ]
    return [*said[:2], *_depth_words(e), *said[2:]]


def _depth_words(e: Evidence) -> list[str]:
    depth = e.display.both(e.asked.leave_mm, "mm")
    if e.asked.leave_mm <= 0.0:
        return []
    if e.depth is None:
        return [f"No time can be given to the last {depth} of wax: too few candles show it."]
    return [
        f"To the last {depth} of wax, where a label says to stop: "
        f"{hours_at_least(e.depth.tolerance)} or longer, mean {in_hours(e.depth.mean)} (wax of "
        f"{WAX_G_PER_ML:g} g/ml, as if it lay level)."
    ]


def _print_words(e: Evidence, first: str) -> str:
    said = [
        f"{first} at most {whole_hours(e.to_print)} h, for a candle that burns until it goes out."
    ]
    if e.depth is not None and e.asked.leave_mm > 0.0:
        left = e.display.written(e.asked.leave_mm, "mm")
        hours = whole_hours(e.depth.tolerance)
        said.append(f"Where the label says to leave {left} of wax: at most {hours} h.")
    return " ".join(said)


def _wall_words(e: Evidence) -> list[str]:
    read, warm, limit = e.walls
    if pd.isna(read):
        return ["Its wall was never read."]
    said = f"Its hottest wall was {e.display.both(read, '°C')} as read"
    if not pd.isna(warm):
        said += f", about {e.display.both(warm, '°C')} in a room of {e.display.both(30.0, '°C')}"
    return [f"{said}; your stop limit is {e.display.both(limit, '°C')}."]


def _not_in_it(e: Evidence) -> list[str]:
    """The candles that were lit and do not count, and why."""
    aside = e.lives[e.lives["how"] == ASIDE]
    again = aside["why"].str.contains(SAME_CANDLE, regex=False)
    said = [f"{row.candle} was {row.why}. {_NOT_COUNTED}" for row in aside[~again].itertuples()]
    if twice := in_row(dict.fromkeys(aside.loc[again, "candle"])):
        said.append(f"{twice}: in more than one of the folders, and counted once.")
    stopped = e.lives[e.lives["how"] == STOPPED]
    for row in stopped.itertuples():
        short = e.bounds is not None and row.hours_h < e.bounds.tolerance
        more = " Whether it would have reached that time is not known." if short else ""
        said.append(f"{row.candle} was {row.why}. {_NOT_COUNTED}{more}")
    ahead = in_row(e.lives.loc[e.lives["how"] == BURNING, "candle"], MOST_IN_ROW)
    if ahead:
        said.append(f"{ahead}: a projected life is listed, marked, and does not count.")
    return said


def _made_up_for(e: Evidence, found: Outcome) -> list[str]:
    """Gaps that fresh candles settled, named all the same."""
    lost = e.gaps[~e.gaps["burning"]]
    if found.outcome == NOT_YET or lost.empty or not settled(e):
        return []
    n = int(e.rounds.verdicts()["n_passed"].sum())
    return [*gap_words(lost), f"Fresh candles settled it: {n} passed every safety check since."]


def _safety_words(e: Evidence) -> list[str]:
    passed = int(e.fate["n_passed"])
    if len(e.failed) or not passed:
        return []
    return [f"Safety: {claim_words(passed, 0, reliability=RELIABILITY)}"]


def _band_words(declared: pd.DataFrame, n: int) -> list[str]:
    row = printed(declared)
    longer = f"; {row['n_above']} burned longer" if row["n_above"] else ""
    shorter = f"; {row['n_below']} burned shorter" if row["n_below"] else ""
    return [
        f"{row['n_inside']} of {n} candles burned within 10 % of {row['declared_h']:.0f} h "
        f"({row['band_low_h']:.1f} to {row['band_high_h']:.1f} h){longer}{shorter}."
    ]


def declared_times(e: Evidence) -> pd.DataFrame:
    """Times that might be printed, and how the candles stand to each with 10 % either way."""
    b = e.bounds
    if b is None:
        return pd.DataFrame()
    sure = f"({100 * b.confidence:g} in 100 sure)"
    many, own = f"at least {10 * b.coverage:g} in 10 candles", _pours(e)
    lives = e.lives.loc[e.lives["counts"], "life_h"].to_numpy(dtype=float)
    ways = [
        (
            f"candles of {own}",
            f"{many} of {own} burn this long or longer {sure}",
            b.tolerance,
            lives,
        ),
        (
            "candles of other pours",
            f"{many} of other pours burn this long or longer, if pours differ by "
            f"{e.asked.batch_sd_pct:g} % {sure}",
            e.other_pours,
            lives,
        ),
        (
            "the next candle",
            f"the next candle burns this long or longer {sure}",
            b.prediction,
            lives,
        ),
        (
            "the average candle",
            "about half of the candles burn shorter: not a time to promise",
            b.mean,
            lives,
        ),
    ]
    if e.depth is not None:
        times = e.lives["depth_h"].dropna().to_numpy(dtype=float)
        left = f"{e.display.written(e.asked.leave_mm, 'mm')} of wax left"
        words = f"{many} of {own} burn this long or longer to {left} {sure}"
        ways.append((left, words, e.depth.tolerance, times))
    return pd.DataFrame([_declared(*way) for way in ways])


def _declared(bound: str, meaning: str, value: float, lives: np.ndarray) -> dict:
    hours = whole_hours(value)
    low, high = hours * (1.0 - DECLARED_TOLERANCE), hours * (1.0 + DECLARED_TOLERANCE)
    below, above = int((lives < low).sum()), int((lives > high).sum())
    return {
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


def notes(e: Evidence, declared: pd.DataFrame) -> tuple[str, ...]:
    """The times behind the one to print, what they rest on, where the words that count stand."""
    times: list[str] = []
    if len(declared) and e.bounds is not None:
        times = [*_time_words(e, e.bounds), *_band_words(declared, e.bounds.n)]
    n = int(e.lives["counts"].sum())
    early = ""
    if n:
        most = f"{100.0 * float(failure_rate_upper(0, n)):.0f} in 100"
        early = f" None of {n} did: as many as {most} could, and no bound speaks of those."
    normal = (
        "The bounds take the lives of candles to be normally distributed; so few candles cannot "
        "show whether they are."
    )
    if n:
        share = f"{100 * (1 - e.asked.confidence) ** (1 / n):.0f} of 100"
        normal += (
            f" Without that, {n} candles show that {share} last as long as the shortest of them."
        )
    return (
        *times,
        *_safety_words(e),
        normal,
        "A candle that the maker put out for good is not in a bound: its life is only known to be "
        f"longer. One that went out early by itself bars the claim.{early}",
        _batches_words(e),
        f"Wax that is left: {WAX_G_PER_ML:g} g/ml, common practice, no source, and as if it lay "
        "level in a straight vessel.",
        f"Declared times with 10 % either way: {DECLARED_SOURCE}. It is shown beside the bound and "
        "does not replace it.",
        "Tolerance of the wick: half the way to the next size is common practice, no source; agree "
        "on it with the supplier in writing.",
        BUY,
    )


def _batches_words(e: Evidence) -> str:
    counts = e.lives[e.lives["counts"]]
    rest = (
        f"For other pours {e.asked.batch_sd_pct:g} % from pour to pour is allowed for, an "
        "assumption with no source, or what these pours show where that is more."
    )
    if counts["batch"].nunique() < 2:
        return f"All candles come from one pour, and the bound is of that pour. {rest}"
    means = counts.groupby("batch")["life_h"].mean()
    told = listed([f"{in_hours(value)} in {of_folder(name)}" for name, value in means.items()])
    return f"The bound is of {_pours(e)}, taken together (means {told}). {rest}"

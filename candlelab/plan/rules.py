"""What cannot be in a plan: loads without wax, wicks that do not exist, candles without a place.

Every rule looks at what could be read and keeps away from what another problem already puts in
doubt, so that all faults are told at once and each of them once.
"""

from __future__ import annotations

from candlelab.burns.candidates import RECIPE
from candlelab.logs.limits_reader import check_limits
from candlelab.logs.settings_reader import Reader
from candlelab.logs.writer import runs_as_formula
from candlelab.plan.fill_rules import check_fills
from candlelab.plan.fills import fragrance_share
from candlelab.plan.limits import check_numbers
from candlelab.plan.settings import Plan, PlannedCandidate, where_stands
from candlelab.plan.time_rules import check_times, places_enough
from candlelab.text import suggest

_MOST_LOAD_PCT = 15.0  # common practice, no source
# What a candidate must have, with an example of it.
_NEEDED = {"vessel": '"tumbler"', "wax": '"rapeseed"', "burn_rate_g_per_h": "5.5", "candles": "3"}
_TEXTS = ("wick_series", "wick_size", "vessel", "wax", "fragrance", "dye", "wax_lot")
_GUESS = " Take it from an earlier batch; the first time guess, and plan anew after some burns."


def check_plan(plan: Plan, wicks: set[tuple[str, str]] | None, reader: Reader) -> None:
    """Apply every rule; faults go to the reader's problems.

    ``wicks`` is None when wicks.csv could not be read.
    """
    check_numbers(plan, reader)
    _complete(plan, reader)
    for n, candidate in enumerate(plan.candidates, start=1):
        _known(candidate, n, plan, reader)
        _known_wick(candidate, n, wicks, reader)
        _load(candidate, n, plan, reader)
    _twice(plan, reader)
    check_fills(plan, reader)
    places_enough(plan, reader)
    check_times(plan, reader)
    check_limits(plan.settings.limits, reader)


def _complete(plan: Plan, reader: Reader) -> None:
    """What a candidate must have, itself or from [recipe]; told once when none has it."""
    for key, example in _NEEDED.items():
        lacking = [
            n
            for n, c in enumerate(plan.candidates, start=1)
            if getattr(c, key) is None and not reader.noted(key, f"candidates {n}")
        ]
        if not lacking or reader.noted(key, "recipe"):
            continue
        advice = _GUESS if key == "burn_rate_g_per_h" else ""
        texts = {"expected": f"{key} = {example}"}
        if len(lacking) == len(plan.candidates):
            do = f"Add {key} to [recipe], or to each candidate.{advice}"
            reader.fault("missing setting", key, "recipe", do=do, **texts)
            continue
        do = f"Add {key} to this candidate, or to [recipe] for all of them.{advice}"
        for n in lacking:
            reader.fault("missing setting", key, f"candidates {n}", do=do, **texts)


def _known(candidate: PlannedCandidate, n: int, plan: Plan, reader: Reader) -> None:
    """Vessel and wax by name; texts that a spreadsheet would run."""
    for key, section in (("vessel", "vessels"), ("wax", "waxes")):
        name, known = getattr(candidate, key), getattr(plan.settings, section)
        if name is not None and name not in known:
            names = ", ".join(known) or "there is none"
            do = suggest(name, known, f'add [{section}."{name}"].')
            where = where_stands(n, key, reader)
            reader.fault(f"unknown {key}", key, where, found=name, known=names, do=do)
    for key in _TEXTS:
        text = getattr(candidate, key) or ""
        if runs_as_formula(text):
            problem = "text that a spreadsheet runs as a formula"
            do = "Begin it with a letter or a digit."
            reader.fault(problem, key, f"candidates {n}", found=text, do=do)


def _known_wick(
    candidate: PlannedCandidate, n: int, wicks: set[tuple[str, str]] | None, reader: Reader
) -> None:
    """The wick by its series and size."""
    section, series, size = f"candidates {n}", candidate.wick_series, candidate.wick_size
    if not wicks or not series or not size or (series, size) in wicks:
        return
    sizes = [b for a, b in sorted(wicks) if a == series]
    if sizes:
        values = {"found": f"{series} {size}", "series": series, "known": ", ".join(sizes)}
        reader.fault("unknown wick size", "wick_size", section, **values)
        return
    every = sorted({a for a, _ in wicks})
    do = suggest(series, every, "add the series to wicks.csv.")
    values = {"found": series, "known": ", ".join(every), "do": do}
    reader.fault("unknown wick series", "wick_series", section, **values)


def _load(candidate: PlannedCandidate, n: int, plan: Plan, reader: Reader) -> None:
    load, of_wax, key = candidate.fragrance_load_pct, plan.of_wax, "fragrance_load_pct"
    where = where_stands(n, key, reader)
    if reader.noted(key, where):
        return
    shown = f"{load:g} %" if load is not None else ""
    if load is not None and (load > 100.0 or fragrance_share(load, plan) >= 1.0):
        found = f"{shown} of {'the wax' if of_wax else 'the total'}"
        expected = "at most 100 %" if of_wax else "less than 100 %, so that wax is left"
        reader.fault("impossible load", key, where, found=found, expected=expected)
    elif load is not None and load > _MOST_LOAD_PCT:
        reader.fault("implausible load", key, where, found=shown, most=_MOST_LOAD_PCT)
    elif load and not candidate.fragrance:
        reader.fault("load without a fragrance", key, where, found=shown)
    elif candidate.fragrance and load is None:
        where = where_stands(n, "fragrance", reader)
        reader.fault("fragrance without a load", "fragrance", where, found=candidate.fragrance)


def _twice(plan: Plan, reader: Reader) -> None:
    """Candidates that are the same in all that a log tells apart."""
    seen: dict[tuple, int] = {}
    for n, c in enumerate(plan.candidates, start=1):
        wick = (c.wick_series, c.wick_size)
        of = (getattr(c, name) or None for name in RECIPE)
        first = seen.setdefault((*wick, c.wick_count or 1, *of), n)
        if first != n and all(wick):
            found = " ".join(wick)
            reader.fault("candidate given twice", "", f"candidates {n}", found=found, first=first)

"""Packs of earlier versions of candlelab, which judged and worded otherwise.

Their numbers are held to the logs like any other's. Their words cannot be made again here, so that
what differs is listed, and what their own numbers contradict is a problem. Add a row to ``EARLIER``
when a version is released after which judging or wording changed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from candlelab.judge.safety import FAIL, NOT_CHECKED, PASS
from candlelab.pages.glossary import heading
from candlelab.text import is_number


@dataclass(frozen=True)
class Earlier:
    """A version that others may still have packs of.

    ``code`` is the digest of its code, ``said`` what it did otherwise, ``limits`` the limits of
    criteria that have another number today.
    """

    version: str
    code: str
    said: str
    limits: dict[str, float] = field(default_factory=dict)


EARLIER = (
    Earlier(
        "0.1.0",
        "a0ca9d274a9748e198bd70513be9a81af4fc22b59c1884e65e488366b7b57046",
        "It held flames to 76.2 mm, counted a candle with a missing check as passed, compared burn "
        "rates by another analysis, and had other words.",
        {"flame height": 76.2},
    ),
)
# Tables and columns whose numbers come from judging (limits, ranks, counts of passes, gaps), or
# from an analysis that is another one today.
JUDGED = {
    "ranking", "candidate_criteria", "candle_criteria", "candle_verdicts", "advice", "findings",
    "criteria", "rules", "failures", "gaps", "traces", "left_out", "problems",
    "burn_rate_estimates", "burn_rate_differences",
}  # fmt: skip
JUDGED_COLUMNS = {"gap_from_min", "gap_to_min"}
_READING = {("candle_criteria", "value")}  # a reading of the log, in a table of verdicts
_VERDICTS = ("standard_verdict", "studio_verdict")
# What verdicts were called before 0.2.0.
_WERE = {"met": PASS, "not met": FAIL, "not recorded": NOT_CHECKED}
_OF_KIND = dict(zip(_VERDICTS, ("standard", "studio"), strict=True))
# What tells a row of a table from the others, and what is told where it differs.
_TOLD = {
    "ranking": (("candidate",), ("rank", *_VERDICTS, "n_passed", "n_failed")),
    "criteria": (("criterion",), ("limit",)),
    "candle_verdicts": (("candle", "run"), _VERDICTS),
    "candidate_criteria": (("candidate", "criterion"), ("outcome",)),
    "candle_criteria": (("candle", "run", "criterion"), ("outcome",)),
    "burn_rate_estimates": (("candidate",), ("estimate", "conf_low", "conf_high")),
    "burn_rate_differences": (("candidate", "reference"), ("estimate", "p_adjusted")),
}


def earlier_version(version: str, code) -> Earlier | None:
    """The earlier version of that name and code; None for one that is not known here."""
    return next((e for e in EARLIER if (e.version, e.code) == (version, code)), None)


def is_judged(table: str, column: str) -> bool:
    """Whether a number comes from judging and not from the logs alone."""
    if (table, column) in _READING:
        return False
    return table in JUDGED or column in JUDGED_COLUMNS


def contradictions(packed: dict, made: dict, earlier: Earlier) -> list[str]:
    """Sentences on verdicts of a record that do not follow from its own numbers and limits."""
    today = {row["criterion"]: row.get("limit") for row in rows_of(made, "criteria")}
    own = rows_of(packed, "candle_criteria")
    said = []
    for row in [*rows_of(packed, "criteria"), *own, *rows_of(packed, "candidate_criteria")]:
        name, limit = str(row.get("criterion")), row.get("limit")
        if name in today and limit not in (today[name], earlier.limits.get(name)):
            said.append(
                f"{_named(row)} is held to {_value(limit)}. candlelab {earlier.version} held it to "
                f"{_value(earlier.limits.get(name, today[name]))}."
            )
    for row in [*own, *rows_of(packed, "candidate_criteria")]:
        value, limit, outcome = row.get("value"), row.get("limit"), row.get("outcome")
        if not is_number(value) or not is_number(limit):
            continue
        if (value > limit and outcome == PASS) or (value <= limit and outcome == FAIL):
            said.append(
                f"{_named(row)} is “{outcome}” with {_value(value)} against a limit of "
                f"{_value(limit)}."
            )
    said += _unlike_own_burns(packed)
    return list(dict.fromkeys([*said, *_unlike_own_criteria(packed, own)]))


def _unlike_own_burns(packed: dict) -> list[str]:
    """Burn rates of candidates outside of all of their burns, whatever the analysis."""
    rates: dict[str, list[float]] = {}
    for row in rows_of(packed, "burns"):
        if is_number(rate := row.get("burn_rate_g_per_h")):
            rates.setdefault(str(row.get("candidate")), []).append(rate)
    said = []
    for row in rows_of(packed, "burn_rate_estimates"):
        name, mean = str(row.get("candidate")), row.get("estimate")
        own = rates.get(name, [])
        if not is_number(mean) or not own or not min(own) <= mean <= max(own):
            said.append(f"{name}: burn rate {_value(mean)}, and no burn of it says so.")
    return said


def _unlike_own_criteria(packed: dict, own: list[dict]) -> list[str]:
    """Candles and candidates that are said to pass although they failed a criterion."""
    failed = {
        (row.get("candle"), row.get("run"), row.get("kind"))
        for row in own
        if row.get("decides") is True and row.get("outcome") == FAIL
    }
    said, out = [], set()
    for row in rows_of(packed, "candle_verdicts"):
        for name, kind in _OF_KIND.items():
            if (row.get("candle"), row.get("run"), kind) not in failed:
                continue
            out.add((row.get("candidate"), name, bool(row.get("excluded"))))
            if row.get(name) == PASS:
                said.append(
                    f"{row.get('candle')}: {heading(name)} “{PASS}”, and it failed a criterion."
                )
    for row in rows_of(packed, "ranking"):
        for name in _VERDICTS:
            if row.get(name) == PASS and (row.get("candidate"), name, False) in out:
                said.append(
                    f"{row.get('candidate')}: {heading(name)} “{PASS}”, and a candle of it failed."
                )
    return said


def judged_otherwise(packed: dict, made: dict) -> list[str]:
    """Answers, ranks and verdicts that differ between a record and the one made here, in words."""
    said = []
    if packed["answer"] != made["answer"]:
        said += [f"The answer in the pack: {line}" for line in packed["answer"]]
        said += [f"The answer today: {line}" for line in made["answer"]]
    for table, (keys, told) in _TOLD.items():
        one, other = (_by(rows_of(record, table), keys) for record in (packed, made))
        for key in [k for k in one if k in other]:
            said += _row_otherwise(key, one[key], other[key], told)
        only = [[" ".join(map(str, k)) for k in a if k not in b] for a, b in _both_ways(one, other)]
        for names, where in zip(only, ("in the pack", "today"), strict=True):
            if names:
                said.append(f"Only {where}, in {table}: {len(names)}, the first {names[0]}.")
    return list(dict.fromkeys(said))


def _both_ways(one: dict, other: dict) -> tuple:
    return (one, other), (other, one)


def _row_otherwise(key: tuple, one: dict, other: dict, told: tuple[str, ...]) -> list[str]:
    unlike = [n for n in told if n in one and n in other and one[n] != other[n]]
    if not unlike:
        return []
    sides = ["; ".join(f"{heading(n)} {_value(row[n])}" for n in unlike) for row in (one, other)]
    return [f"{' '.join(map(str, key))}: {sides[0]} in the pack, {sides[1]} today."]


def rows_of(record: dict, table: str) -> list[dict]:
    """The rows of a table of a record, each by the names of its columns."""
    found = record["tables"].get(table)
    if found is None:
        return []
    names = [column["name"] for column in found["columns"]]
    rows = [dict(zip(names, row, strict=True)) for row in found["data"]]
    verdicts = [name for name in ("outcome", *_VERDICTS) if name in names]
    return [row | {name: _WERE.get(row[name], row[name]) for name in verdicts} for row in rows]


def _by(rows: list[dict], keys: tuple[str, ...]) -> dict[tuple, dict]:
    return {tuple(row.get(key) for key in keys): row for row in rows}


def _named(row: dict) -> str:
    return ", ".join(str(row[n]) for n in ("candidate", "candle", "run", "criterion") if n in row)


def _value(value) -> str:
    return "none" if value is None else f"{value:g}" if is_number(value) else f"“{value}”"

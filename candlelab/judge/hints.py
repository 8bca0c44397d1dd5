"""Hints beside a finding: a warm room, flicker, a wick off center, mushrooms, other fragrances."""

from __future__ import annotations

import re

import pandas as pd

from candlelab.burns.groups import as_rows, reduced, rows_by
from candlelab.judge.signs import LARGE, NEITHER, SMALL
from candlelab.logs.groups import asked_once
from candlelab.logs.settings import Settings
from candlelab.text import listed

_TRIM_MM = 6.0  # a quarter of an inch; common practice, no source
_SAME = ["wick", "vessel", "wax"]


def hints_of(found: pd.DataFrame, burns: pd.DataFrame, settings: Settings) -> pd.Series:
    """What each candidate's readings and notes suggest, in sentences; empty where nothing.

    Parameters
    ----------
    found : pandas.DataFrame
        One row per candidate with ``candidate``, ``finding`` and ``mushroom`` (it came back).
    burns : pandas.DataFrame
        The table of `burn_cycles`; what was set aside gives no hint.
    settings : Settings
        The studio's own limits [degC], and the reader's units.
    """
    columns = ["candidate", "candle", "note", "wall_max_c", "wall_max_warm_room_c"]
    counted, display = burns.loc[~burns["excluded"], columns], settings.display
    hints: dict[str, list[str]] = {name: [] for name in found["candidate"]}
    for name in found.loc[found["mushroom"], "candidate"]:
        trim = display.written(_TRIM_MM, "mm")
        hints[name].append(f"Trim to {trim} before every burn and look at the mushroom again.")
    of, names = pd.factorize(counted["candidate"])
    walls = counted[["wall_max_c", "wall_max_warm_room_c"]].to_numpy()
    for name, (wall, warm) in zip(names, reduced(of, walls, len(names)), strict=True):
        hints[name] += _warm_room(wall, warm, settings)
    flicker, aside = (_noted(counted, words) for words in ("flicker", "off.cent"))
    for name, candles in flicker.items():
        hints[name].append(f"Flicker was noted ({listed(candles)}): look for a draft first.")
    for name, candles in aside.items():
        hints[name].append(
            f"A wick off center was noted ({listed(candles)}): consider setting the candle aside, "
            "with the reason."
        )
    for name, sentence in _other_fragrances(found, burns):
        hints[name].append(sentence)
    return found["candidate"].map({name: " ".join(said) for name, said in hints.items()})


def _warm_room(wall: float, warm: float, settings: Settings) -> list[str]:
    limit, display = settings.limits.wall_caution_c, settings.display
    if not wall <= limit < warm:
        return []
    return [
        f"In a {display.both(30.0, '°C')} room its wall may reach {display.amount(warm, '°C')}; "
        f"your caution limit is {display.both(limit, '°C')}. "
        "Try it in a warm room."
    ]


def _noted(burns: pd.DataFrame, words: str) -> dict[str, list[str]]:
    """By candidate, the candles whose notes say so."""
    told = burns[asked_once(burns["note"], re.compile(words, re.IGNORECASE).search)]
    each = rows_by(as_rows(told), "candidate")
    return {name: list(dict.fromkeys(row.candle for row in own)) for name, own in each.items()}


def _other_fragrances(found: pd.DataFrame, burns: pd.DataFrame) -> list[tuple[str, str]]:
    """Candidates whose wick shows no such sign with another fragrance."""
    finding = dict(zip(found["candidate"], found["finding"], strict=True))
    ill = [name for name, what in finding.items() if what in (SMALL, LARGE, "mixed")]
    if not ill:
        return []
    recipes = burns[["candidate", *_SAME, "fragrance"]].drop_duplicates("candidate")
    recipe = {name: own for name, *own in recipes.itertuples(index=False, name=None)}
    said = []
    for name in ill:
        *same, fragrance = recipe[name]
        twins = [
            other
            for twin, (*as_well, other) in recipe.items()
            if finding[twin] == NEITHER and as_well == same and other != fragrance
        ]
        if twins:
            scents = [f"with {f}" if f else "without fragrance" for f in twins]
            said.append(
                (name, f"The same wick shows no such sign {listed(scents, last='or')}: the "
                       "fragrance may be the cause. Try another series.")
            )  # fmt: skip
    return said

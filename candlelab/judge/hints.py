"""Hints beside a finding: a warm room, flicker, a wick off center, mushrooms, other fragrances."""

from __future__ import annotations

import pandas as pd

from candlelab.judge.signs import LARGE, NEITHER, SMALL
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
    counted, display = burns[~burns["excluded"]], settings.display
    hints: dict[str, list[str]] = {name: [] for name in found["candidate"]}
    for name in found.loc[found["mushroom"], "candidate"]:
        trim = display.written(_TRIM_MM, "mm")
        hints[name].append(f"Trim to {trim} before every burn and look at the mushroom again.")
    for name, part in counted.groupby("candidate", sort=False):
        hints[name] += [*_warm_room(part, settings), *_notes(part)]
    for name, sentence in _other_fragrances(found, burns):
        hints[name].append(sentence)
    return found["candidate"].map({name: " ".join(said) for name, said in hints.items()})


def _warm_room(part: pd.DataFrame, settings: Settings) -> list[str]:
    limit, display = settings.limits.wall_caution_c, settings.display
    warm = part["wall_max_warm_room_c"].max()
    if not part["wall_max_c"].max() <= limit < warm:
        return []
    return [
        f"In a {display.both(30.0, '°C')} room its wall may reach {display.amount(warm, '°C')}; "
        f"your caution limit is {display.both(limit, '°C')}. "
        "Try it in a warm room."
    ]


def _notes(part: pd.DataFrame) -> list[str]:
    said = []
    flicker = part.loc[part["note"].str.contains("flicker", case=False), "candle"].unique()
    aside = part.loc[part["note"].str.contains("off.cent", case=False), "candle"].unique()
    if len(flicker):
        said.append(f"Flicker was noted ({listed(flicker)}): look for a draft first.")
    if len(aside):
        said.append(
            f"A wick off center was noted ({listed(aside)}): consider setting the candle aside, "
            "with the reason."
        )
    return said


def _other_fragrances(found: pd.DataFrame, burns: pd.DataFrame) -> list[tuple[str, str]]:
    """Candidates whose wick shows no such sign with another fragrance."""
    recipe = burns.drop_duplicates("candidate").set_index("candidate")[[*_SAME, "fragrance"]]
    finding = found.set_index("candidate")["finding"]
    fine = recipe[recipe.index.map(finding) == NEITHER].reset_index()
    said = []
    for name in finding.index[finding.isin([SMALL, LARGE, "mixed"])]:
        own = recipe.loc[name]
        twins = fine[(fine[_SAME] == own[_SAME]).all(axis=1)]
        twins = twins[twins["fragrance"] != own["fragrance"]]
        if len(twins):
            scents = [f"with {f}" if f else "without fragrance" for f in twins["fragrance"]]
            said.append(
                (name, f"The same wick shows no such sign {listed(scents, last='or')}: the "
                       "fragrance may be the cause. Try another series.")
            )  # fmt: skip
    return said

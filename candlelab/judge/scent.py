"""How strong each candidate smells to the panel, and which of those that are level it decides for.

Safety and targets come first: scent chooses only among candidates that these put level.
"""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from candlelab.burns.scents import COLD, HOT, panel_scores
from candlelab.burns.side_by_side import blank_checks
from candlelab.judge.words import in_row, named
from candlelab.stats.columns import CannotCompare
from candlelab.stats.panel import (
    ENOUGH_AT_FIRST,
    FLATTENS,
    RISES,
    Enough,
    PanelComparison,
    compare_panel,
    enough,
)
from candlelab.text import listed, rounded

LOAD = "fragrance_load_pct"


@dataclass(frozen=True, eq=False)
class Strength:
    """What the scores of one batch say.

    Attributes
    ----------
    scores : pandas.DataFrame
        One row per score that counts.
    set_aside : dict of str to int
        Scores that do not count, by the reason.
    by : str
        ``fragrance_load_pct`` where candidates differ in nothing else, else ``candidate``.
    hot, cold : PanelComparison or None
        The candidates with fragrance compared; None where the scores cannot tell, with why in
        ``refused``.
    blank : PanelComparison or None
        All of them (1) beside the candles without fragrance (0), hot; None where there is no blank.
    enough : Enough or None
        Which load is enough, of hot throw.
    margin : float
        The largest difference that does not matter.
    name_of : dict
        The candidate of each level of ``by``.
    top : float
        The highest score of the scale.
    blank_checks : pandas.DataFrame
        What each nose did in its blank checks.
    not_counted : pandas.DataFrame
        The scores of noses that failed them: listed, not counted.
    """

    scores: pd.DataFrame
    set_aside: dict[str, int]
    by: str
    hot: PanelComparison | None
    cold: PanelComparison | None
    blank: PanelComparison | None
    enough: Enough | None
    margin: float
    refused: dict[str, str]
    name_of: dict
    top: float
    blank_checks: pd.DataFrame
    not_counted: pd.DataFrame

    @property
    def failed(self) -> list[str]:
        """The noses that failed their blank checks: nothing of theirs counts."""
        return failed_noses(self.blank_checks)

    def score(self, *levels) -> str:
        """Mean hot throw of some levels, with the top of the scale: "3.5 and 3.4 of 5"."""
        assert self.hot is not None
        means = self.hot.estimates.set_index("candidate")["estimate"]
        told = listed([rounded(float(means[level]), digits=1) for level in levels])
        return f"{told} of {self.top:g}"


def strength_of(batch, burns: pd.DataFrame, *, margin: float | None = None) -> Strength | None:
    """What the panel says of a batch; None where nobody scored.

    Parameters
    ----------
    batch : Batch
    burns : pandas.DataFrame
        The table of `burn_cycles`.
    margin : float, optional
        In place of the batch's own.
    """
    if batch.throw.empty:
        return None
    checks = blank_checks(batch)
    scores, not_counted, set_aside = panel_scores(batch, burns, failed_noses(checks))
    if scores.empty and not_counted.empty:
        return None
    parts = ["wick", "wax", "vessel"]
    scented = scores.loc[scores["fragrance"] != "", "fragrance"]
    alone = all(scores[part].nunique() == 1 for part in parts) and scented.nunique() <= 1
    by = LOAD if alone and scores[LOAD].nunique() > 1 else "candidate"
    margin = batch.settings.scent.alike if margin is None else margin
    refused: dict[str, str] = {} if len(scores) else {HOT: "No nose that scored passed its checks."}
    hot, cold = (_compared(scores, state, by, refused) for state in (HOT, COLD))
    blank = _beside_blank(scores)
    loads = hot is not None and by == LOAD and 0.0 not in hot.levels
    level = None
    if hot is not None and loads and margin > 0:
        weaker = blank is not None and blank.at_least(1, 0) > 0
        level = enough(hot, margin=margin, blank_weaker=weaker)
    names = dict(zip(scores[by], scores["candidate"], strict=True))
    top = batch.settings.scent.top
    return Strength(
        scores, set_aside, by, hot, cold, blank, level, margin, refused, names, top, checks,
        not_counted,
    )  # fmt: skip


def failed_noses(checks: pd.DataFrame) -> list[str]:
    """The noses whose blank checks luck alone would give as well, of `blank_checks`."""
    return checks.loc[checks["smells"].eq(False).fillna(False).astype(bool), "assessor"].tolist()


def failed_words(strength: Strength) -> list[str]:
    """Whose scores do not count and why; nothing where all do."""
    checks = strength.blank_checks
    said = [
        f"{row.assessor} was right in {row.n_right} of {row.n_blank_checks} blank checks, no more "
        f"than guessing may give: it takes {row.n_to_pass}."
        for row in checks[checks["assessor"].isin(strength.not_counted["assessor"])].itertuples()
    ]
    return [" ".join([*said, "Their scores are listed and not counted."])] if said else []


def _compared(scores, state: str, by: str, refused: dict[str, str]) -> PanelComparison | None:
    """Candidates with fragrance compared; with the blank where there is but one of them.

    The blank is apart because noses differ most in how far above nothing they score.
    """
    own = scores[scores["state"] == state]
    scented = own[own[LOAD] != 0]
    if not len(own):
        return None
    try:
        return compare_panel(scented if scented[by].nunique() > 1 else own, by=by)
    except CannotCompare as error:
        refused[state] = str(error)
        return None


def _beside_blank(scores: pd.DataFrame) -> PanelComparison | None:
    hot = scores[scores["state"] == HOT]
    if not 0 < (hot[LOAD] == 0).sum() < len(hot):
        return None
    try:
        return compare_panel(hot.assign(scented=(hot[LOAD] != 0).astype(int)), by="scented")
    except CannotCompare:
        return None


def candle_scents(strength: Strength | None) -> pd.Series:
    """Mean hot throw of each candle, the levels of noses taken off within their sittings."""
    if strength is None:
        return pd.Series(dtype=float)
    hot = strength.scores[strength.scores["state"] == HOT]
    off = hot["score"] - hot.groupby("block")["score"].transform("mean") + hot["score"].mean()
    return off.groupby(hot["candle"]).mean()


def steps(value: float) -> str:
    """A difference in steps of the scale, in words."""
    if abs(value - 0.5) < 1e-9:
        return "half a step"
    return f"{rounded(value, digits=1)} step{'' if round(value, 1) == 1 else 's'}"


def decided_by_scent(strength: Strength | None, level: list[str]) -> tuple[str, str]:
    """Of candidates that are level, the one that the panel decides for, and why; empty if none.

    Of loads that smell alike the lowest; where more smells stronger, the strongest.
    """
    if strength is None or strength.hot is None:
        return "", ""
    if strength.enough is not None and strength.by == LOAD:
        return _load_decided(strength, level)
    inside = [name for name in strength.hot.levels if name in level]
    if len(inside) < len(level) or strength.by == LOAD:
        return "", ""
    for name in inside:
        others = [other for other in inside if other != name]
        if all(strength.hot.at_least(name, other) > 0 for other in others):
            return name, f" It smells stronger than {in_row(others)}."
    return "", ""


def _load_decided(strength: Strength, level: list[str]) -> tuple[str, str]:
    found = strength.enough
    loads = {load: name for load, name in strength.name_of.items() if name in level}
    if (
        found is None
        or strength.hot is None
        or len(loads) < len(level)
        or found.kind not in _DECIDES
    ):
        return "", ""
    if found.kind == RISES:
        best = max(loads)
        lower = sorted(load for load in loads if load < best)
        if lower and strength.hot.at_least(best, lower[-1]) > 0:
            scores = strength.score(best, lower[-1])
            return loads[best], f" It smells stronger than {lower[-1]:g} % ({scores})."
        return "", ""
    enough_of_it = sorted(load for load in loads if load >= found.level)
    if not enough_of_it:
        return "", ""
    load = enough_of_it[0]
    if load == found.top:
        return loads[load], ""
    why = f" It smells as strong as {found.top:g} % of fragrance"
    return loads[load], f"{why} ({strength.score(load, found.top)}). {weaker_words(found)}"


def weaker_words(found: Enough) -> str:
    """By how much the load that is enough may at most be weaker than the top, and how sure that
    is."""
    if found.short <= 0.05:
        return "It is no weaker (95 in 100 sure)."
    return f"If it is weaker, then by {steps(found.short)} at most (95 in 100 sure)."


_DECIDES = (FLATTENS, RISES, ENOUGH_AT_FIRST)


def beside_words(strength: Strength | None, chosen: str, other: str) -> str:
    """How one smells beside the candidate that was chosen; empty where the panel does not say."""
    if strength is None or strength.hot is None:
        return ""
    hot, found = strength.hot, strength.enough
    levels = {name: level for level, name in strength.name_of.items() if level in hot.levels}
    if chosen not in levels or other not in levels:
        return ""
    mine, its = levels[chosen], levels[other]
    flat = strength.by == LOAD and found is not None and found.kind != RISES
    if flat and found is not None and its > mine >= found.level:
        return " It smells no stronger."
    if hot.at_least(mine, its) > 0:
        return f" It smells weaker{f' ({strength.score(its, mine)})' if flat else ''}."
    return ""


def scent_line(strength: Strength, candidate: str) -> str:
    """One sentence on how strong a candidate smells, for a decision that scent did not make."""
    hot = strength.hot
    if hot is None:
        return ""
    row = hot.estimates[[strength.name_of[c] == candidate for c in hot.estimates["candidate"]]]
    if row.empty:
        return ""
    one = row.iloc[0]
    ends = f"{rounded(one['conf_low'], digits=1)} to {rounded(one['conf_high'], digits=1)}"
    score = strength.score(one["candidate"])
    lost = sorted(set(strength.not_counted["assessor"]))
    whose = (
        f" Not counted: {in_row(lost)}, no better than guessing in the blank checks."
        if lost
        else ""
    )
    said = f"Hot throw of {named(candidate)}: {score}."
    return f"{said} Other candles and other noses would give {ends}.{whose}"

"""Tables of a confirmation: passes by round, recipes part by part, what is new and what is left."""

from __future__ import annotations

import pandas as pd

from candlelab.confirm.matching import PARTS, Match
from candlelab.confirm.rounds import COUNTS, Round, pass_counts, pass_row

SCREENING, CONFIRMATION, TOGETHER = "screening", "confirmation", "both together"
_COUNTS = [*COUNTS, "failure_rate_up_to_pct"]


def passes(first: Round, second: Round, names: list[str], same: dict[str, str]) -> pd.DataFrame:
    """One row per candidate and round, and both together."""
    rows = []
    for name in names:
        old, new = pass_counts(first, name), pass_counts(second, same.get(name, ""))
        rows.append((name, SCREENING, *pass_row(old)))
        if name in same:
            rows.append((name, CONFIRMATION, *pass_row(new)))
            rows.append((name, TOGETHER, *pass_row({key: old[key] + new[key] for key in old})))
    return pd.DataFrame(rows, columns=["candidate", "round", *_COUNTS])


def recipes(matches: list[Match]) -> pd.DataFrame:
    """One row per candidate of the confirmation and part of its recipe."""
    parts = [
        m.parts.assign(candidate=m.candidate, part=m.parts["part"].map(PARTS))
        for m in matches
        if m.near
    ]
    columns = ["candidate", "part", "in_screening", "in_confirmation", "sameness"]
    return pd.concat(parts, ignore_index=True)[columns] if parts else pd.DataFrame(columns=columns)


def new_evidence(second: Round, matches: list[Match]) -> pd.DataFrame:
    """One row per candidate of the confirmation that is not the same as any of the screening."""
    rows = []
    for m in matches:
        if not m.same:
            near = m.near if len(m.changes) <= 3 else ""
            changes = "; ".join(m.changes) if near else "nothing like it in the screening"
            rows.append((m.candidate, near, changes, *pass_row(pass_counts(second, m.candidate))))
    return pd.DataFrame(rows, columns=["candidate", "near", "changed", *_COUNTS])


def not_carried(first: Round, matches: list[Match]) -> pd.DataFrame:
    """One row per candidate of the screening that was not burned again as it was."""
    carried = {m.near for m in matches if m.same}
    table = first.verdicts.candidates.set_index("candidate")
    names = [n for n in first.poured.unique() if n not in carried and n in table.index]
    found = table.loc[names, ["standard_verdict", "studio_verdict"]].reset_index()
    found.insert(1, "rank", first.ranks.reindex(names).astype("Int64").to_numpy())
    return found.sort_values("rank", kind="stable", ignore_index=True)

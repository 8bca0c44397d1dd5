"""What stands on top of a page: what failed, its own answer, each vessel in short, its decision."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial

from candlelab.judge.in_short import first_sentence, in_box
from candlelab.pages.show import show_markup, templates


def show_incidents(lines: Iterable[str]) -> None:
    """What must not burn on, in all vessels; nothing where nothing failed."""
    if lines := list(lines):
        show_markup(templates().incidents(lines))


def show_in_short(cards) -> None:
    """Each vessel in short: what to pick, what to do next, how sure."""
    show_markup(templates().in_short(cards))


def show_lead(line: str) -> None:
    """A page's own answer in one line, above the decision."""
    show_markup(templates().lead(line))


def show_decision(title: str, decision, *, whose: bool = False, sure: bool = True) -> None:
    """The box of one vessel; ``whose``: its title names the vessel, and candidates need not.

    Without ``sure``, next step and how sure were said above it: the reasons come first.
    """
    label = "decision-" + re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")
    told = partial(in_box, d=decision) if whose else str
    lead, rest = first_sentence(told(decision.headline))
    steps, why = (list(map(told, own)) for own in (decision.next_steps, decision.reasons))
    others = told(decision.others)
    parts = (label, title, lead, rest, others, decision.how_sure, steps, why, sure)
    show_markup(templates().decision(*parts))
